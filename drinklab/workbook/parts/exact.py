"""A dial that keeps a figure exactly as it was given, whatever units it is shown in, until a hand moves it."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from ...display import Display
from ...units import PRESSURES
from .dials import Dial


class Quantity(NamedTuple):
    """How a figure is shown: its unit, the number on the page, the figure from that number, and the slider's step."""

    unit: Callable[[Display], str]
    shown: Callable[[Display, float], float]
    exact: Callable[[Display, float], float]
    step: Callable[[Display], float]


def _psi(show: Display) -> float:
    return PRESSURES["psi"] if show.volume == "oz" else 1.0


def plain(unit: str, step: float) -> Quantity:
    """A figure that every display shows alike."""
    return Quantity(lambda _: unit, lambda _, x: x, lambda _, x: x, lambda _: step)


DEGREES = Quantity(lambda s: s.temperature, Display.degrees, Display.celsius, lambda _: 1.0)
VOLUME = Quantity(
    lambda s: s.volume, lambda s, ml: ml / s.ml, lambda s, x: x * s.ml, lambda s: 0.25 if s.volume == "oz" else 5.0
)
PERCENT = Quantity(lambda _: "%", lambda _, x: 100 * x, lambda _, x: x / 100, lambda _: 1.0)
# Who measures in ounces reads a gauge in psi.
PRESSURE = Quantity(
    lambda s: "psi" if s.volume == "oz" else "kPa", lambda s, kpa: kpa / _psi(s), lambda s, x: x * _psi(s),
    lambda s: 1.0 if s.volume == "oz" else 10.0,
)  # fmt: skip


class ExactDial(Dial):
    """A dial for `exact`, a figure in the package's own unit; `low` and `high` are ends of the slider in that unit.

    `on_change` is called with the exact figure that a hand has set.
    """

    def __init__(
        self, name: str, exact: float, low: float, high: float, of: Quantity, show: Display,
        on_change: Callable[[float], None],
    ) -> None:  # fmt: skip
        self.exact, self._ends, self._of, self._show, self._told_of = exact, (low, high), of, show, on_change
        super().__init__(name, *self._reach_of(), self._by_hand, of.shown(show, low))

    def _reach_of(self) -> tuple[float, float, float, str]:
        of, show = self._of, self._show
        return of.shown(show, self.exact), of.shown(show, self._ends[1]), of.step(show), of.unit(show)

    def _by_hand(self, new: float) -> None:
        self.exact = self._of.exact(self._show, new)
        self._told_of(self.exact)

    def show_in(self, show: Display) -> None:
        """The same figure in other units."""
        self._show = show
        self.reach(*self._reach_of(), self._of.shown(show, self._ends[0]))

    def stand_at(self, exact: float) -> None:
        """Stand at this figure, by the program's hand."""
        self.exact = exact
        self.set(self._of.shown(self._show, exact))
