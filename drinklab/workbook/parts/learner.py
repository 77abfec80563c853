"""Who learns at this page: a code, one for all cells of a notebook, and what is kept under it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

import traitlets

from ... import logbook
from ...display import Display
from ...errors import InputError
from ...teach import chosen, progress
from ...teach.progress import Learner
from .watch import Watched


class Who(traitlets.HasTraits):
    """The learner of a working folder; `problem` says why nothing is kept, if so. `show`: the units chosen there."""

    code = traitlets.Unicode()
    problem = traitlets.Unicode()
    show = traitlets.Instance(Display)

    def __init__(self, folder: str | Path) -> None:
        super().__init__()
        self.folder = Path(folder)
        self.code = progress.last(folder)
        self.now: Learner = self._read()
        self.look_at_units()
        self._units = _Units(self)

    def look_at_units(self) -> None:
        """Take over the units that a page of the folder has chosen."""
        self.show = chosen.of_folder(self.folder)

    def _read(self) -> Learner:
        try:
            self.problem = ""
            return progress.open_file(self.folder, self.code)
        except InputError as problem:
            self.problem = str(problem)
            return Learner(self.code)

    def become(self, code: str) -> None:
        """Take another code; `InputError` for one that can be no file's name."""
        code = progress.checked_code(code)
        if progress.path_of(self.folder, code) != progress.path_of(self.folder, self.code):
            self.now = Learner(code)
            with self.hold_trait_notifications():
                self.code = code
                self.now = self._read()

    def keep(self, write: Callable[..., Learner], *args, **more) -> None:
        """Write something down by a function of `progress`; what cannot be written stands in `problem`."""
        try:
            self.now = write(self.folder, self.code, *args, **more)
            self.problem = ""
        except InputError as problem:
            self.problem = str(problem)


class _Units(Watched):
    """Sees it when other units are chosen, on whichever page."""

    def __init__(self, learner: Who) -> None:
        super().__init__(learner.folder / logbook.CHOICES, "lesson")
        self._learner, self._seen = learner, self.stamp()
        self.begin()

    def look(self) -> None:
        if (stamp := self.stamp()) != self._seen:
            self._seen = stamp
            self._learner.look_at_units()


@functools.cache
def _of(folder: Path) -> Who:
    return Who(folder)


def who(folder: str | Path) -> Who:
    """The learner of a working folder, the same for all cells of this process."""
    return _of(Path(folder).resolve())
