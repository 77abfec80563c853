"""Work that waits until a hand rests."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from ..comms import together
from .watch import running_loop

if TYPE_CHECKING:
    import ipywidgets as w

REST = 0.15  # a hand that has not moved for so long rests [s]


class Soon:
    """Something to do once nothing has been asked for `rest` seconds: each asking waits anew.

    Without a live page nothing waits.
    """

    def __init__(self, act: Callable[[], None], rest: float = REST) -> None:
        self._act, self._rest = act, rest
        self._timer: asyncio.TimerHandle | None = None

    @property
    def waiting(self) -> bool:
        """Whether it is still to be done."""
        return self._timer is not None

    def later(self) -> bool:
        """Do it when the hand rests; False where there is no live page to wait with."""
        self.stop()
        loop = running_loop()
        if loop is not None:
            self._timer = loop.call_later(self._rest, self.now)
        return self.waiting

    def stop(self) -> None:
        """Do not."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def now(self) -> None:
        """Do at once what waits."""
        if self.waiting:
            self.stop()
            with together():
                self._act()


class WhenRested:
    """A panel whose `refresh` takes long: a slider moves by `_moved`, and `answers` are pale until the hand rests."""

    answers: Sequence[w.Widget]
    _quiet: bool

    @functools.cached_property
    def _rest(self) -> Soon:
        return Soon(self.refresh)

    def _moved(self, _=None) -> None:
        """A slider is not kept waiting."""
        if self._quiet or not self._rest.later():
            self.refresh()
            return
        for part in self.answers:
            part.add_class("dl-soon")

    def refresh(self, _=None) -> None:
        """Recompute and repaint."""
        self._rest.stop()
        for part in self.answers:
            part.remove_class("dl-soon")
        super().refresh()  # type: ignore[misc]
