"""Amounts as a person reads them, in the units chosen once."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from . import facts, kinds
from .errors import one_of
from .units import FLUID_OUNCE

# Units that a person chooses among: which of the choices a kind goes by, and decimals in what is no kind's own unit.
_CHOICE = {
    "milliliter": "volume",
    "liter": "volume",
    "degC": "temperature",
    "delta_degC": "temperature",
    "kilopascal": "pressure",
}
_DECIMALS = {"oz": 2, "psi": 0, "bar": 1}
_OWN_UNIT = re.compile(r"^(mL|L|°C|kPa)")


@dataclass(frozen=True, slots=True)
class Display:
    """How amounts are shown: chosen once, used everywhere.

    Parameters
    ----------
    volume : {"mL", "oz"}
    temperature : {"°C", "°F"}
    gauge : {"", "kPa", "psi", "bar"}
        Of pressures; by default psi to who measures in ounces, else kPa.

    Examples
    --------
    >>> Display().volume_text(44.36), Display(volume="oz").volume_text(44.36)
    ('44 mL', '1.50 oz')
    >>> Display(temperature="°F").temperature_text(4)
    '39 °F'
    """

    volume: str = "mL"
    temperature: str = "°C"
    gauge: str = ""

    def __post_init__(self) -> None:
        one_of("volume unit", self.volume, ["mL", "oz"])
        one_of("temperature unit", self.temperature, ["°C", "°F"])
        one_of("unit of pressure", self.gauge, ["", *kinds.KILOPASCALS])

    @property
    def ml(self) -> float:
        """Millilitres in one unit of the chosen measure."""
        return FLUID_OUNCE if self.volume == "oz" else 1.0

    def volume_text(self, ml: kinds.Number, spread: float | None = None, signed: bool = False) -> str:
        """Volume with its unit: whole mL from 10 mL up, hundredths of an ounce."""
        return self.text(kinds.VOLUME, ml, spread, signed)

    def text(self, kind: kinds.Kind, value: kinds.Number, spread: float | None = None, signed: bool = False) -> str:
        """A figure with its unit, rounded to what it is worth, with "±" its spread if given.

        >>> Display().text(kinds.ABV, 17.42, 0.83), Display().text(kinds.CONCENTRATION, -12.3, signed=True)
        ('17.4 ± 0.8 % vol', '−12.3 g/L')
        >>> Display().text(kinds.RATIO, float("inf"))
        'no acid'
        """
        number, around, label = self.parts(kind, value, spread, signed)
        return " ".join(part for part in (number, around, label) if part)

    def parts(
        self, kind: kinds.Kind, value: kinds.Number, spread: float | None = None, signed: bool = False
    ) -> tuple[str, str, str]:
        """The pieces of `text`: number, "± spread" (or "") and unit, rounded alike."""
        if kind is kinds.RATIO and not np.isfinite(value):
            return "no acid", "", ""
        value = float(value)
        scale, label, digits = 1.0, kind.label, kind.decimals(value)
        if kind is kinds.VOLUME and self.volume == "oz":
            scale, label, digits = self.ml, "oz", 2
        number, digits = facts.figure(kind, value / scale, digits, "+" if signed else "")
        around = "" if spread is None else facts.spread_text(spread / scale, digits)
        return number, around, label

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
        """The unit of gauges: who measures in ounces reads psi, unless it was chosen apart."""
        return self.gauge or ("psi" if self.volume == "oz" else "kPa")

    def say(self, what: object) -> str:
        """The sentence of a fact, of an `InputError` or of several facts, in the chosen units.

        >>> rest = facts.Fact("rest", hours=2, temperature=kinds.TEMPERATURE(4))
        >>> Display(temperature="°F").say(rest)
        'Rest it covered for 2 h at 39 °F.'
        """
        return facts.say(what, self.amount)

    def amount(self, amount: kinds.Amount, spec: str = "") -> str:
        """An amount in the chosen unit, by the spec of a template (see `facts`).

        >>> Display("oz", "°F").amount(kinds.TEMPERATURE(-3.2), ".1"), Display(gauge="bar").amount(kinds.PRESSURE(583))
        ('26.2 °F', '5.8 bar')
        """
        kind = amount.kind
        unit = getattr(self, _CHOICE[kind.unit]) if kind.unit in _CHOICE else ""
        if unit in ("", "mL", "°C", "kPa"):
            return facts.own(amount, spec)
        sign, digits, letters = facts.written_by(spec)
        given = facts.plain(amount.value)
        if not given[-1].isdigit():  # "a number without end"
            return given
        per = {"oz": FLUID_OUNCE, "°F": 1 / 1.8}.get(unit) or kinds.KILOPASCALS[unit]
        per = per / 1000 if kind is kinds.LITRES else per
        value = amount.value / per + (32.0 if kind.unit == "degC" else 0.0)
        least, digits = (digits, None) if "m" in letters else (None, digits)
        if value == 0 and letters.strip("nm"):
            digits = 0
        elif unit in _DECIMALS:
            digits = 0 if kind is kinds.LITRES else _DECIMALS[unit] if abs(value) >= 1 or unit == "oz" else 2
            digits = 0 if unit == "bar" and abs(value) >= 20 else digits
        elif letters.strip("nm"):  # no more decimals than were given
            digits = min(len(x.partition(".")[2]) for x in (given, facts.plain(round(value, 2))))
        elif digits is None:
            digits = kind.decimals(amount.value)
        if least is not None and least > digits:
            digits = len(np.format_float_positional(value, least, unique=True, trim="-").partition(".")[2])
        around = "" if amount.spread is None else facts.spread_text(amount.spread / per, digits)
        text = " ".join(filter(None, (facts.rounded(value, digits, sign), around)))
        return text if "n" in letters else f"{text} {unit}{_OWN_UNIT.sub('', kind.label)}"

    @staticmethod
    def ph_text(ph: tuple[float, float] | None) -> str:
        """A pH with its ±; "" where it is not known.

        >>> Display.ph_text((2.642, 0.138))
        '2.6 ± 0.2'
        """
        return "" if ph is None else f"{ph[0]:.1f} ± {math.ceil(10 * ph[1]) / 10:.1f}"

    def temperature_text(self, celsius: kinds.Number) -> str:
        """Temperature in whole degrees with its unit."""
        return f"{round(self.degrees(float(celsius))) + 0:.0f} {self.temperature}".replace("-", "−")
