"""Amounts as a person reads them, in the units chosen once."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from . import kinds
from .errors import one_of
from .units import FLUID_OUNCE, PRESSURES


def pressure_text(kpa: float) -> str:
    """A gauge pressure in the three units that gauges carry.

    >>> pressure_text(82.74)
    '83 kPa (12 psi, 0.8 bar)'
    """
    return f"{kpa:.0f} kPa ({kpa / PRESSURES['psi']:.0f} psi, {kpa / 100:.1f} bar)".replace("-", "−")


# What takes another's place in a sentence: units of one thing, and what one of each is in the first of its row.
_KINDRED = (
    {"°C": 1.0, "°F": 1 / 1.8},
    {"mL": 1.0, "oz": FLUID_OUNCE},
    {u: PRESSURES[u.lower()] for u in ("kPa", "psi", "bar")},
)

_DECIMALS = {"mL": 0, "oz": 2, "kPa": 0, "psi": 0, "bar": 1}  # of a figure that comes from another unit

_ONE = r"[-−]?\d+(?:\.\d+)?"


def _figures(units: Collection[str]) -> re.Pattern:
    """A figure, a range or one with its ±, and behind it in brackets the same in the other units; no concentration."""
    unit = "|".join(units)
    span = rf"(?:{_ONE}(?: to | and |-|–))?{_ONE}"
    return re.compile(
        rf"(?<!g in )(?<!each )(?<![\w.,/-])(?P<by>± |by )?"
        rf"(?:(?P<first>{_ONE})(?P<between> to | and | ± |-|–))?(?P<last>{_ONE}) (?P<unit>{unit})(?![\w/])"
        rf"(?P<twins> \({span} (?:{unit})(?:, {span} (?:{unit}))*\))?"
    )


_FIGURES = [_figures(units) for units in _KINDRED]

# The value that a sentence on a range refuses has no unit of its own.
_BARE = [
    re.compile(rf"( is {_ONE})(; it must be (?:{_ONE} to|a number of at least) {_ONE} ({'|'.join(units)}))")
    for units in _KINDRED
]


def _in_unit(figure: str, unit: str, chosen: str, units: Mapping[str, float], by: bool) -> str:
    """A written figure in the chosen unit; `by` for a difference, which knows no zero of its own."""
    value = float(figure.replace("−", "-"))
    fahrenheit = 0.0 if by else 32.0
    value = (value - fahrenheit * (unit == "°F")) * units[unit] / units[chosen] + fahrenheit * (chosen == "°F")
    written = len(figure.partition(".")[2])
    if chosen in _DECIMALS:
        text = f"{value:.{_DECIMALS[chosen] if abs(value) >= 1 or chosen == 'oz' else 2}f}"
    else:
        text = f"{round(value, min(written, 2)) + 0:.10g}"
    return text.replace("-", "−")


def _told_in(match: re.Match, chosen: str, units: Mapping[str, float]) -> str:
    """A figure of a sentence in the chosen unit, without the same in others behind it."""
    by, first, between, last, unit, twins = match.group("by", "first", "between", "last", "unit", "twins")
    if unit == chosen:
        return match[0].removesuffix(twins or "")
    start = ""
    if first:
        start = _in_unit(first, unit, chosen, units, bool(by)) + (" to " if between in ("-", "–") else between)
    return f"{by or ''}{start}{_in_unit(last, unit, chosen, units, bool(by) or between == ' ± ')} {chosen}"


@dataclass(frozen=True, slots=True)
class Display:
    """How amounts are shown: chosen once, used everywhere.

    Parameters
    ----------
    volume : {"mL", "oz"}
    temperature : {"°C", "°F"}

    Examples
    --------
    >>> Display().volume_text(44.36), Display(volume="oz").volume_text(44.36)
    ('44 mL', '1.50 oz')
    >>> Display(temperature="°F").temperature_text(4)
    '39 °F'
    """

    volume: str = "mL"
    temperature: str = "°C"

    def __post_init__(self):
        one_of("volume unit", self.volume, ["mL", "oz"])
        one_of("temperature unit", self.temperature, ["°C", "°F"])

    @property
    def ml(self) -> float:
        """Millilitres in one unit of the chosen measure."""
        return FLUID_OUNCE if self.volume == "oz" else 1.0

    def volume_text(self, ml: float, spread: float | None = None, signed: bool = False) -> str:
        """Volume with its unit: whole mL from 10 mL up, hundredths of an ounce."""
        return self.text(kinds.VOLUME, ml, spread, signed)

    def text(self, kind: kinds.Kind, value: float, spread: float | None = None, signed: bool = False) -> str:
        """A figure with its unit, rounded to what it is worth, with "±" its spread if given.

        >>> Display().text(kinds.ABV, 17.42, 0.83), Display().text(kinds.CONCENTRATION, -12.3, signed=True)
        ('17.4 ± 0.8 % vol', '−12.3 g/L')
        >>> Display().text(kinds.RATIO, float("inf"))
        'no acid'
        """
        number, around, label = self.parts(kind, value, spread, signed)
        return " ".join(part for part in (number, around, label) if part)

    def parts(
        self, kind: kinds.Kind, value: float, spread: float | None = None, signed: bool = False
    ) -> tuple[str, str, str]:
        """The pieces of `text`: number, "± spread" (or "") and unit, rounded alike."""
        if kind is kinds.RATIO and not np.isfinite(value):
            return "no acid", "", ""
        scale, label, digits = 1.0, kind.label, 1
        if kind is kinds.VOLUME:
            scale, label = self.ml, self.volume
            digits = 2 if label == "oz" else int(abs(value) < 10)
        elif kind in (kinds.CONCENTRATION, kinds.RATIO):
            digits = int(abs(value) < 20)
        shown = f"{value / scale:{'+' if signed else ''}.{digits}f}"
        if float(shown) == 0:
            shown = f"{0:.{digits}f}"  # no "-0.0", no "+0.0"
        around = ""
        if spread is not None and np.isfinite(spread) and spread > 0:
            around = f"± {max(spread / scale, 10.0**-digits):.{digits}f}"
        return shown.replace("-", "−"), around, label

    def degrees(self, celsius: float) -> float:
        """A temperature in the chosen degrees; `celsius` turns it back.

        >>> Display(temperature="°F").degrees(-18)
        -0.4
        """
        return celsius if self.temperature == "°C" else celsius * 1.8 + 32

    def celsius(self, degrees: float) -> float:
        """A temperature in the chosen degrees as °C, whatever it is: `to_celsius` checks it.

        >>> Display(temperature="°F").celsius(-0.4)
        -18.0
        """
        return degrees if self.temperature == "°C" else (degrees - 32) / 1.8

    @property
    def pressure(self) -> str:
        """Who measures in ounces reads a gauge in psi."""
        return "psi" if self.volume == "oz" else "kPa"

    def told(self, sentence: str, pressure: str | None = None) -> str:
        """A finished sentence with its temperatures, volumes and pressures in the chosen units alone.

        A concentration ("g in 100 mL") stays. `pressure` is the unit of gauges, if it was chosen apart.

        >>> Display("oz", "°F").told("Pour 90 mL; it freezes at -3.2 °C, 8 to 10 °C is best.")
        'Pour 3.04 oz; it freezes at 26.2 °F, 46 to 50 °F is best.'
        >>> Display("oz").told("volume is 30; it must be 40 to 60 mL.")
        'volume is 1.01 oz; it must be 1.35 to 2.03 oz.'
        >>> Display().told("Keep 399 mL (13.5 oz) at 4 °C (39 °F), within ± 2 °F, under 106 kPa (15 psi, 1.1 bar).")
        'Keep 399 mL at 4 °C, within ± 1 °C, under 106 kPa.'
        """
        chosen = self.temperature, self.volume, pressure or self.pressure
        for units, figures, bare, unit in zip(_KINDRED, _FIGURES, _BARE, chosen, strict=True):
            sentence = bare.sub(lambda m, unit=unit: m[0] if m[3] == unit else f"{m[1]} {m[3]}{m[2]}", sentence)
            sentence = figures.sub(lambda m, unit=unit, units=units: _told_in(m, unit, units), sentence)
        return sentence

    @staticmethod
    def ph_text(ph: tuple[float, float] | None) -> str:
        """A pH with its ±; "" where it is not known.

        >>> Display.ph_text((2.642, 0.138))
        '2.6 ± 0.2'
        """
        return "" if ph is None else f"{ph[0]:.1f} ± {math.ceil(10 * ph[1]) / 10:.1f}"

    def temperature_text(self, celsius: float) -> str:
        """Temperature in whole degrees with its unit."""
        return f"{round(self.degrees(celsius)) + 0:.0f} {self.temperature}".replace("-", "−")
