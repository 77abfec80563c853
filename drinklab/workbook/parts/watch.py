"""A file of the working folder, as an open page watches it: each page looks now and then, the newest of its kind."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import ClassVar

from ..comms import together

LOOK = 1.5  # how often a page looks [s]


class Watched:
    """A file of a folder. `look` is for a subclass: it compares `stamp` with what it has seen.

    Of pages of one kind in one folder only the newest looks: one whose cell was run again no longer does.
    """

    _newest_of: ClassVar[dict[tuple[type, str, str], Watched]] = {}

    def __init__(self, path: Path, page: str) -> None:
        self.path = path
        self._key = type(self), str(path.parent.resolve()), page
        self._newest_of[self._key] = self

    @property
    def newest(self) -> bool:
        """Whether this page is the newest of its kind in its folder."""
        return self._newest_of.get(self._key) is self

    def begin(self) -> None:
        """Look from now on, where a live page has a loop."""
        if loop := running_loop():
            loop.call_later(LOOK, self._again)

    def look(self) -> None:
        """What is done now and then."""
        raise NotImplementedError

    def stamp(self) -> tuple[int, int, int] | None:
        """What changes when the file does; None where there is none to be seen."""
        return stamp_of(self.path)

    def _again(self) -> None:
        if self.newest:
            self.begin()  # first, so that nothing in a file ends it
            with together():
                self.look()


def stamp_of(path: Path) -> tuple[int, int, int] | None:
    """What changes when a file does; None where there is none to be seen."""
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_mtime_ns, stat.st_size, stat.st_ino


def running_loop() -> asyncio.AbstractEventLoop | None:
    """The loop of a live page, if there is one."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None
