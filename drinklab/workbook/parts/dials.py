"""Dials: a slider, its number and its unit."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from time import monotonic

import ipywidgets as w

from ... import pantry
from ...display import Display
from ...errors import InputError, require
from ...facts import Fact, say
from ...kinds import GAUGE_PRESSURE
from ...recipe import Pour, Recipe
from ...units import EITHER_WAY, GAUGES, THOUSANDS, fraction_text
from .alike import alike
from .html import Html, element, join, problem_words
from .number_box import NumberBox

_FARTHEST = sys.float_info.max
_GAUGE_STEPS = {"psi": 0.5, "bar": 0.05, "kPa": 5.0}

# Measures that a bar divides into halves, thirds, quarters and eighths, and the steps of their sliders.
_FRACTIONS = {"oz": 0.125, "tsp": 0.25, "tbsp": 0.25, "barspoons": 0.25, "dashes": 0.5, "parts": 0.25, "": 0.5}


class Dial(w.HBox):
    """A slider and a typed number for one value, with its name and unit beside them.

    `value` is exact; the slider stands at the nearest of its steps. `on_change` is called with a new
    value when a person sets one, and not when the program does; `typing` tells whether it came from the box. What is
    no number is refused beside the box, and the value stays.
    """

    typing, _disabled = False, False

    def __init__(
        self, name: str, value: float, top: float, step: float, unit: str, on_change, bottom: float = 0.0
    ) -> None:
        self._on_change, self._quiet = on_change, False
        self._name = element("div", name, class_="dl-said")
        self.label = Html(self._name, layout=alike(Html.layout))
        self.unit = w.Label(layout=alike(w.Label.layout), style=alike(w.Label.style))
        self.label.add_class("dl-dial-name")
        self.unit.add_class("dl-unit")
        super().__init__()
        self.add_class("dl-dial")
        self.reach(value, top, step, unit, bottom)

    def reach(self, value: float, top: float, step: float, unit: str, bottom: float = 0.0) -> None:
        """Another unit, and with it other steps.

        With new widgets: a page that is told of a new end first would send its old value back, cut to it.
        """
        # What overflows in the other unit stays as far out of range as a number can be, and is refused as that.
        value = min(max(value, -_FARTHEST), _FARTHEST)
        self.step, self.unit.value, self.value = step, unit, value
        self._told: dict[float, float] = {}  # steps lately set by the program, and when
        self.label.value, self._fractions = self._name, unit in _FRACTIONS
        self.number = NumberBox(self._rounded(value), self._fractions, layout=alike(NumberBox.layout))
        self.number.observe(lambda change: self._typed(change["new"]), "value")
        self._new_slider(bottom, max(round(top / step) * step, value if value < 10 * top else 0))

    def _new_slider(self, bottom: float, top: float) -> None:
        self.slider = w.FloatSlider(
            value=self._nearest_step(self.value), min=bottom, max=top, step=self.step, readout=False,
            layout=alike(w.FloatSlider.layout), style=alike(w.FloatSlider.style),
        )  # fmt: skip
        # A slider that was replaced may still be heard for a moment: it no longer counts.
        self.slider.observe(lambda change: change["owner"] is self.slider and self._slid(change["new"]), "value")
        self.children = [self.label, self.slider, self.number, self.unit]
        self.disable(self._disabled)

    def disable(self, disabled: bool) -> None:
        """Stand still for a hand, or move again."""
        self._disabled = disabled
        for part in (self.slider, self.number):
            part.disabled = disabled

    def set(self, value: float) -> None:
        """Stand at `value`, by the program's hand."""
        now = monotonic()
        self._told = {step: at for step, at in self._told.items() if now - at < 1.0}
        self._told[self._nearest_step(value)] = now
        self.value = value
        self._show_slider()
        self._show_number()

    def _show_slider(self) -> None:
        self._quiet = True
        if self.slider.max < self.value < 10 * self.slider.max:
            self._new_slider(self.slider.min, self.value)
        self.slider.value = self._nearest_step(self.value)
        self._quiet = False

    def _show_number(self) -> None:
        self._quiet = True
        self.number.value = self._rounded(self.value)
        self._quiet = False

    def _nearest_step(self, value: float) -> float:
        steps = value / self.step
        return round(round(steps) * self.step, 4) if abs(steps) < 1e15 else value

    def _rounded(self, value: float) -> float:
        if self._fractions and fraction_text(value):
            return value
        return round(value, 2 if self.step < 1 else 1)

    def _slid(self, new: float) -> None:
        # The page echoes what the program has set, late and rounded to a step: nobody moved that.
        new = self._nearest_step(new)
        echo = monotonic() - self._told.get(new, -1.0) < 1.0
        if self._quiet or echo or new == self._nearest_step(self.value):
            return
        self._told.clear()
        self.value = new
        self._show_number()
        # The slider itself is left alone: by now the hand may have moved it on.
        self._on_change(new)

    def _typed(self, new: float | str) -> None:
        if self._quiet:
            return
        self.label.value = self._name
        if isinstance(new, str):
            two = THOUSANDS.fullmatch(new.strip())
            allowed = EITHER_WAY.format(1000 * float(new), float(new)) if two else "a number such as 1.5, 1,25 or 7/8"
            problem = InputError("it", new, allowed)
            self.label.value = join([self._name, problem_words(str(problem), say(Fact("number as it was")))])
            self._show_number()
        elif new != self._rounded(self.value):
            self._told.clear()
            self.value = new
            self._show_slider()
            self._told[self.slider.value] = monotonic()
            self.typing = True
            try:
                self._on_change(new)
            finally:
                self.typing = False


def volume_reach(ml: float, show: Display, top: float = 300.0) -> tuple[float, float, float, str]:
    """Of a dial in the unit shown: value, end, step and the unit. [mL]"""
    return ml / show.ml, top / show.ml, {"mL": 5.0, "oz": 0.25}[show.volume], show.volume


class DegreeDial(Dial):
    """A dial for a temperature, in the degrees shown."""

    def __init__(self, name: str, celsius: float, low: float, high: float, show: Display, on_change) -> None:
        self.name, self._ends, self._show = name, (low, high), show
        value, bottom, top = map(show.degrees, (celsius, low, high))
        super().__init__(name, value, top, 1.0, show.temperature, on_change, bottom)

    def stand_at(self, celsius: float) -> None:
        """Stand at this temperature, by the program's hand. [°C]"""
        self.set(self._show.degrees(celsius))

    def show_in(self, show: Display) -> None:
        """The same temperature in other degrees."""
        value, bottom, top = map(show.degrees, (self._celsius, *self._ends))
        self._show = show
        self.reach(value, top, 1.0, show.temperature, bottom)

    @property
    def _celsius(self) -> float:
        return self._show.celsius(self.value)  # also of what is out of range

    @property
    def celsius(self) -> float:
        """[°C]

        Raises
        ------
        InputError
            Beyond the ends of the slider.
        """
        low, high = (self._show.degrees(end) for end in self._ends)
        require(self.name, self.value, low, high, self._show.temperature)
        return self._celsius


class VolumeDial(Dial):
    """A dial for a volume, in the measure shown."""

    def __init__(self, name: str, ml: float, top: float, step: float, show: Display, on_change, least=0.0) -> None:
        self.name, self._top, self._step, self._least, self._show = name, top, step, least, show
        super().__init__(name, *self._reach_of(ml), on_change)

    def _reach_of(self, ml: float) -> tuple[float, float, float, str]:
        step = self._step if self._show.volume == "mL" else self._step / 20
        return ml / self._show.ml, self._top / self._show.ml, step, self._show.volume

    def show_in(self, show: Display) -> None:
        """The same volume in another measure."""
        ml, self._show = self.value * self._show.ml, show
        self.reach(*self._reach_of(ml))

    def stand_at(self, ml: float) -> None:
        """Stand at this volume, by the program's hand."""
        self.set(ml / self._show.ml)

    def reach_to(self, ml: float) -> None:
        """Stand at this volume, exactly, with a slider that holds it."""
        value, top, step, unit = self._reach_of(ml)
        self.reach(value, max(top, 1.5 * value), step, unit)

    @property
    def ml(self) -> float:
        """[mL]

        Raises
        ------
        InputError
            Below the least, or more than any bar makes.
        """
        least = math.ceil(round(100 * self._least / self._show.ml, 6)) / 100
        require(self.name, self.value, least, round(1e6 / self._show.ml), self._show.volume)
        return self.value * self._show.ml


class GaugeDial(Dial):
    """A dial for a gauge pressure, in the unit shown."""

    def __init__(self, name: str, kpa: float, unit: str, on_change) -> None:
        self.name, self._in = name, unit
        super().__init__(name, kpa / GAUGES[unit], 400 / GAUGES[unit], _GAUGE_STEPS[unit], unit, on_change)

    def show_in(self, unit: str) -> None:
        """The same pressure in another unit."""
        kpa, self._in = self.value * GAUGES[self._in], unit
        self.reach(kpa / GAUGES[unit], 400 / GAUGES[unit], _GAUGE_STEPS[unit], unit)

    def stand_at(self, kpa: float) -> None:
        """Stand at this pressure, by the program's hand."""
        self.set(kpa / GAUGES[self._in])

    @property
    def kpa(self) -> float:
        """[kPa gauge]

        Raises
        ------
        InputError
            Below 0, or beyond what a regulator gives.
        """
        require(self.name, self.value, 0, math.floor(GAUGE_PRESSURE.high / GAUGES[self._in]), self._in)
        return self.value * GAUGES[self._in]


class Pours(w.VBox):
    """One dial a pour. `on_change` is called when a hand moves one."""

    def __init__(self, on_change: Callable[[], None]) -> None:
        self._on_change = on_change
        super().__init__()

    def use(self, recipe: Recipe, shelf: pantry.Pantry, show: Display) -> None:
        """Dials for this recipe."""
        self._recipe, self._amounts, self._shelf = recipe, recipe.amounts.tolist(), shelf
        self.show_in(show)

    def show_in(self, show: Display) -> None:
        """The same amounts in another measure."""
        self._show = show
        self.children = [
            Dial(
                ("top: " if pour.after else "") + pour.bottle(self._shelf).name,
                *self._reach_of(pour, amount),
                on_change=lambda _, i=i: self._moved(i),
            )
            for i, (pour, amount) in enumerate(zip(self._recipe.pours, self._amounts, strict=True))
        ]

    def _reach_of(self, pour: Pour, amount: float) -> tuple[float, float, float, str]:
        """Value, top, step and unit of a pour's dial."""
        unit, ml = pour.measure(self._shelf, self._show)
        usual = amount if 0 <= amount < 1e6 else 0.0  # what is typed may be no number at all: refused elsewhere
        fine, value = usual < 8, amount / ml
        if unit in ("mL", "g", "oz"):
            step = _FRACTIONS[unit] / (4 if fine else 1) if unit in _FRACTIONS else 0.1 if fine else 0.5
            return value, max(2.2 * usual, 10 if fine else 60) / ml, step, unit
        step = _FRACTIONS.get(unit, 1.0 if value >= 1 and value == round(value) else 0.05)
        return value, max(2.2 * usual / ml, 6 * step), step, unit

    def _moved(self, index: int) -> None:
        _, ml = self._recipe.pours[index].measure(self._shelf, self._show)
        self._amounts[index] = self.children[index].value * ml
        self._on_change()

    def recipe(self) -> Recipe:
        """The recipe as the dials stand."""
        return self._recipe.with_amounts(self._amounts)
