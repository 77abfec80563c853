"""What "Reach a target" is set by: wanted figures, and a row a bottle with its limits."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as w

from ... import profile
from ...display import Display
from ...errors import InputError
from ...pantry import Ingredient, Pantry
from ...reach import Limit
from ...recipe import Pour, amount_of
from ...units import BAR_MEASURES, split_amount
from ..charts.reach import AXES, OUNCES
from .dials import Dial
from .html import WIDE, Html, element

Key = tuple[str, "float | None"]  # a bottle: its id, and its strength where that is not the pantry's


class Wanted(w.VBox):
    """A figure of the target: wanted or free, how much, and give or take how much."""

    def __init__(self, axis: str, on_change: Callable) -> None:
        self.axis, self._show = axis, Display()
        name, (_, _, top, step, top_pm, step_pm) = profile.TITLES[axis], AXES[axis]
        unit = profile.KINDS[axis].label
        self.tick = w.Checkbox(value=True, description=f"{name} wanted", indent=False, layout=WIDE)
        self.dial = Dial(name, 0.4 * top, top, step, unit, on_change)
        self.pm = Dial("allowed either way (0: the usual)", 0, top_pm, step_pm, unit, on_change)
        self.tick.observe(lambda change: self._ticked(on_change), "value")
        super().__init__([self.tick, self.dial, self.pm])

    def _ticked(self, on_change: Callable) -> None:
        for dial in self.dials:
            dial.layout.display = None if self.tick.value else "none"
        on_change()

    @property
    def dials(self) -> tuple[Dial, Dial]:
        """The figure, and its ±."""
        return self.dial, self.pm

    @property
    def _unit(self) -> float:
        return self._show.ml if self.axis == "volume" else 1.0

    def use(self, value: float) -> None:
        """Want this value. [mL] for the volume, else the unit shown"""
        self._reach(value, self.value[1])

    def show_in(self, show: Display) -> None:
        """The same in another measure."""
        value, pm = self.value
        self._show = show
        self._reach(value, pm)

    def _reach(self, value: float, pm: float) -> None:
        ounces = self.axis == "volume" and self._show.volume == "oz"
        top, step, top_pm, step_pm = OUNCES if ounces else AXES[self.axis][2:]
        unit = self._show.volume if self.axis == "volume" else profile.KINDS[self.axis].label
        self.dial.reach(value / self._unit, top, step, unit)
        self.pm.reach(pm / self._unit, top_pm, step_pm, unit)

    @property
    def value(self) -> tuple[float, float]:
        """What is wanted, and the ±: volume in mL."""
        return self.dial.value * self._unit, self.pm.value * self._unit


class Amount(w.Text):
    """An amount typed in the shown measure or with its own unit; empty for none."""

    def __init__(
        self, field: str, bottle: Ingredient, shelf: Pantry, ml: float | None, measure: tuple[str, float]
    ) -> None:
        self._field, self._bottle, self._shelf, self._ml = field, bottle, shelf, ml
        self._shown = ""
        super().__init__(continuous_update=False, tooltip=field, layout=w.Layout(width="60px", margin="1px"))
        self._write(measure)

    def _write(self, measure: tuple[str, float]) -> None:
        self._measure = measure
        self.placeholder = measure[0]
        self._shown = self.value = "" if self._ml is None else f"{self._ml / measure[1]:.4g}"

    @property
    def ml(self) -> float | None:
        """[mL]"""
        if self.value == self._shown:  # exact, whatever was rounded on the page
            return self._ml
        text = self.value.strip()
        if not text:
            return None
        parts = split_amount(text)
        if parts and parts[1:] == ("", ""):
            text = f"{text} {self._measure[0]}"
        return amount_of(text, self._bottle, self._shelf, self._field)

    def show_in(self, measure: tuple[str, float]) -> None:
        """The same amount in another measure."""
        try:
            self._ml = self.ml
        except InputError:  # what cannot be read stays as it was typed
            self._measure = measure
        else:
            self._write(measure)


class BottleRow(w.HBox):
    """A bottle: at least, at most, whether it is on hand, whether it comes after the ice."""

    def __init__(self, pour: Pour, panel, fixed: float | None) -> None:
        self._pour = pour
        self.bottle = bottle = pour.bottle(panel.shelf)
        measure = pour.measure(panel.shelf, panel.display)
        self.least = Amount(f"at least of {bottle.name!r}", bottle, panel.shelf, fixed, measure)
        self.most = Amount(f"at most of {bottle.name!r}", bottle, panel.shelf, fixed, measure)
        tick = {"indent": False, "layout": {"width": "40px", "margin": "1px 1px 1px 8px"}}
        self.poured = w.Checkbox(value=bool(bottle.composition.any()), tooltip=f"{bottle.name}: on hand", **tick)
        self.after = w.Checkbox(value=pour.after, tooltip=f"{bottle.name}: after the ice", **tick)
        self.remove = w.Button(
            description="✕", tooltip=f"take {bottle.name} off the list",
            layout={"width": "30px", "padding": "0", "margin": "1px"},
        )  # fmt: skip
        name = Html(element("div", bottle.name, style="line-height:1.2"), layout={"width": "122px"})
        super().__init__(
            [name, self.least, self.most, self.poured, self.after, self.remove], layout={"align_items": "center"}
        )
        panel._answers_to(self.least, self.most, self.poured, self.after)
        self.remove.on_click(lambda _: panel._take_off(self))

    @property
    def key(self) -> Key:
        """Which bottle it is."""
        return self._pour.ingredient, self._pour.abv

    def show_in(self, shelf: Pantry, show: Display) -> None:
        """The same limits in another measure."""
        for amount in (self.least, self.most):
            amount.show_in(self._pour.measure(shelf, show))

    def limit(self, measure: str | None) -> Limit | None:
        """What was typed, for `reach`. Bitters are measured in dashes, and what is fixed as it is."""
        least, most = self.least.ml, self.most.ml
        own = None
        if measure and least and least == most:
            own = least
        elif measure and self.bottle.kind == "bitters":
            own = BAR_MEASURES["dash"]
        return None if least is None and most is None and own is None else Limit(least, most, own)
