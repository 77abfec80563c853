"""Own ingredients and measurements, as an open page sees them: what is written on another page counts here too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import measured, pantry
from ...errors import InputError
from ...facts import Fact, say
from ...files import numbered
from .html import Html, problem_words
from .watch import Watched, stamp_of


class OwnFile(Watched):
    """Own ingredients and measurements of a folder: `shelf`, the pantry with them, and `said`, that they are left out.

    `changed` is called with the pantry when a file has changed and can be read.
    """

    def __init__(self, folder: Path, page: str, changed: Callable[[pantry.Pantry], None]) -> None:
        super().__init__(Path(folder) / pantry.OWN_FILE, page)
        self._changed, self._seen = changed, self.stamp()
        self.said = Html()
        try:
            self.shelf = measured.shelf(folder)
            self._tell()
        except InputError as problem:
            self.shelf = pantry.load()
            self._tell(say(Fact("own left out", problem=str(problem))))
        self.begin()

    def _tell(self, problem: str = "") -> None:
        self.said.value = problem_words(problem) if problem else ""
        self.said.layout.display = None if problem else "none"

    def stamp(self) -> tuple:
        """Of both files, and of weighings and logs."""
        others = (path for name in measured.KEPT for path in numbered(self.path.parent, name, ".json"))
        return super().stamp(), stamp_of(self.path.with_name(measured.OWN_FILE)), *map(stamp_of, others)

    def look(self) -> bool:
        """Read them again if they have changed; whether `changed` was called."""
        if (stamp := self.stamp()) != self._seen:
            self._seen = stamp
            try:
                mine = measured.shelf(self.path.parent)
            except InputError as problem:
                if not self.said.value:
                    self._tell(say(Fact("own as before", problem=str(problem))))
                return False
            self._tell()
            self.shelf = mine
            self._changed(mine)
            return True
        return False


def with_own(shelf: pantry.Pantry, mine: pantry.Pantry) -> pantry.Pantry:
    """The pantry as it is now, and what else is on a page's shelf: what came with saved trials."""
    return mine.with_items([item for key, item in shelf.items() if key not in mine])


def offer(choice, options: list) -> None:
    """New options of a choice, (words, value) each, which stays at what is chosen if that is still there."""
    chosen = choice.value
    choice.options = options
    if chosen in [value for _, value in options]:
        choice.value = chosen
