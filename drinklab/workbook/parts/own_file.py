"""A person's own ingredients, as an open page sees them: what is written down on another page is offered here too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import pantry
from ...errors import InputError
from .html import Html, problem_words
from .watch import Watched


class OwnFile(Watched):
    """Own ingredients of a folder: `shelf`, the pantry with them, and `said`, that they are left out while they are.

    `changed` is called with the pantry when the file has changed and can be read.
    """

    def __init__(self, folder: Path, page: str, changed: Callable[[pantry.Pantry], None]) -> None:
        super().__init__(Path(folder) / pantry.OWN_FILE, page)
        self._changed, self._seen = changed, self.stamp()
        self.said = Html()
        try:
            self.shelf = pantry.load(folder)
            self._tell()
        except InputError as problem:
            self.shelf = pantry.load()
            self._tell(f"Your own ingredients are left out until this is mended: {problem}")
        self.begin()

    def _tell(self, problem: str = "") -> None:
        self.said.value = problem_words(problem) if problem else ""
        self.said.layout.display = None if problem else "none"

    def look(self) -> None:
        """Whether it has changed."""
        if (stamp := self.stamp()) != self._seen:
            self._seen = stamp
            try:
                mine = pantry.load(self.path.parent)
            except InputError as problem:
                if not self.said.value:
                    self._tell(f"Your own ingredients are as they were before this, until it is mended: {problem}")
                return
            self._tell()
            self.shelf = mine
            self._changed(mine)


def with_own(shelf: pantry.Pantry, mine: pantry.Pantry) -> pantry.Pantry:
    """The pantry as it is now, and what else is on a page's shelf: what came with saved trials."""
    return mine.with_items([item for key, item in shelf.items() if key not in mine])


def offer(choice, options: list) -> None:
    """New options of a choice, (words, value) each, which stays at what is chosen if that is still there."""
    chosen = choice.value
    choice.options = options
    if chosen in [value for _, value in options]:
        choice.value = chosen
