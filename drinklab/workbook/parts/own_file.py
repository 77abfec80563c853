"""A person's own ingredients, as an open page sees them: what is written down on another page is offered here too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import pantry
from ...errors import InputError
from .hand import LOOK, running_loop

# The newest page of each kind in a folder: one whose cell was run again no longer looks.
_NEWEST: dict[tuple[str, str], OwnFile] = {}


class OwnFile:
    """Own ingredients of a folder. `changed` is called with the pantry when the file has changed and can be read."""

    def __init__(self, folder: Path, page: str, changed: Callable[[pantry.Pantry], None]) -> None:
        self._path, self._changed = Path(folder) / pantry.OWN_FILE, changed
        self._key, self._seen = (str(self._path.parent.resolve()), page), self._stamp()
        _NEWEST[self._key] = self
        if loop := running_loop():
            loop.call_later(LOOK, self._look)

    def look(self) -> None:
        """Whether it has changed."""
        if (stamp := self._stamp()) != self._seen:
            self._seen = stamp
            try:
                mine = pantry.load(self._path.parent)
            except InputError:  # told of where it is written, and when the page opens again
                return
            self._changed(mine)

    def _look(self) -> None:
        if _NEWEST.get(self._key) is self:
            running_loop().call_later(LOOK, self._look)  # first, so that nothing in a file ends it
            self.look()

    def _stamp(self) -> tuple[int, int, int] | None:
        try:
            stat = self._path.stat()
        except OSError:
            return None
        return stat.st_mtime_ns, stat.st_size, stat.st_ino


def with_own(shelf: pantry.Pantry, mine: pantry.Pantry) -> pantry.Pantry:
    """The pantry as it is now, and what else is on a page's shelf: what came with saved trials."""
    return mine.with_items([item for key, item in shelf.items() if key not in mine])


def offer(choice, options: list) -> None:
    """New options of a choice, (words, value) each, which stays at what is chosen if that is still there."""
    chosen = choice.value
    choice.options = options
    if chosen in [value for _, value in options]:
        choice.value = chosen
