"""A person's own ingredients, as an open page sees them: what is written down on another page is offered here too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import pantry
from ...errors import InputError
from .watch import Watched


class OwnFile(Watched):
    """Own ingredients of a folder. `changed` is called with the pantry when the file has changed and can be read."""

    def __init__(self, folder: Path, page: str, changed: Callable[[pantry.Pantry], None]) -> None:
        super().__init__(Path(folder) / pantry.OWN_FILE, page)
        self._changed, self._seen = changed, self.stamp()
        self.begin()

    def look(self) -> None:
        """Whether it has changed."""
        if (stamp := self.stamp()) != self._seen:
            self._seen = stamp
            try:
                mine = pantry.load(self.path.parent)
            except InputError:  # told of where it is written, and when the page opens again
                return
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
