"""Units at the door: bar measures, typed amounts, and how amounts are shown.

Inside the package a number is a float (or an array) in the unit that the docstring names. Anything
else, a string such as "1.5 oz" or a pint Quantity, is turned into that number here and nowhere else.

>>> to_ml("1 1/2 oz")
44.36
>>> to_ml(60)
60.0
"""

from __future__ import annotations

import functools
import inspect
import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import get_args, get_type_hints

import numpy as np

from . import kinds
from .errors import InputError, one_of, require

# Millilitres in each measure. The US fluid ounce is 231 in³ / 128 (NIST Handbook 44, appendix C).
# Metric spoons: common practice. Barspoon, dash and drop: common practice, no published source; makers
# differ by a factor of two, and the reference set uses the same values.
FLUID_OUNCE = 29.5735295625
BAR_MEASURES = {
    "milliliter": 1.0,
    "centiliter": 10.0,
    "deciliter": 100.0,
    "liter": 1000.0,
    "fluid_ounce": FLUID_OUNCE,
    "pint": 16 * FLUID_OUNCE,
    "quart": 32 * FLUID_OUNCE,
    "gallon": 128 * FLUID_OUNCE,
    "pony": FLUID_OUNCE,
    "jigger": 1.5 * FLUID_OUNCE,
    "teaspoon": 5.0,
    "tablespoon": 15.0,
    "barspoon": 5.0,
    "dash": 0.9,
    "drop": 0.05,
}
GRAMS = {"gram": 1.0, "kilogram": 1000.0}

# How people write them. A bare "oz" at a bar is a fluid ounce.
_SPELLINGS = {
    "milliliter": "ml mls millilitre millilitres milliliter milliliters cc",
    "centiliter": "cl centilitre centilitres centiliter centiliters",
    "deciliter": "dl decilitre decilitres deciliter deciliters",
    "liter": "l lt litre litres liter liters",
    "fluid_ounce": "oz floz fl.oz ounce ounces fluidounce fluidounces fluid_ounce fluid_ounces",
    "pint": "pint pints pt",
    "quart": "quart quarts qt",
    "gallon": "gallon gallons gal",
    "pony": "pony ponies",
    "jigger": "jigger jiggers",
    "teaspoon": "tsp teaspoon teaspoons",
    "tablespoon": "tbsp tablespoon tablespoons",
    "barspoon": "barspoon barspoons bsp",
    "dash": "dash dashes",
    "drop": "drop drops",
    "gram": "g gr gram grams gramme grammes",
    "kilogram": "kg kilo kilos kilogram kilograms",
}
_UNIT_OF = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}
_TWO_WORDS = re.compile(r"^(fl\.?|fluid|bar)\s+(oz\.?|ounces?|spoons?)(?=\s|$)", re.IGNORECASE)
_THOUSANDS = re.compile(r"^\s*-?\d{1,3}(,\d{3})+(?!\d)")
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = re.compile(r"^\s*(-?\d+\s+\d+/\d+|-?\d+/\d+|-?\d+(?:[.,]\d+)?|-?[.,]\d+)\s*(.*)$", re.DOTALL)
AMOUNT_HELP = "an amount such as 45, '45 mL', '1.5 oz', '1 1/2 oz', '2 dash' or '8 g'"


def split_amount(text: str) -> tuple[float, str, str] | None:
    """Read a leading number and bar measure from `text`; "1,5" is one and a half, "1,000" is refused.

    Returns
    -------
    (value, unit, rest) or None
        The number, the name of the measure ("" when none was written) and the remaining text;
        None when the text does not begin with a number.

    Examples
    --------
    >>> split_amount("1½ oz aged rum")
    (1.5, 'fluid_ounce', 'aged rum')
    >>> split_amount("2 bar spoons sugar syrup")
    (2.0, 'barspoon', 'sugar syrup')
    """
    text = text.replace("−", "-")
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, f" {plain}")
    match = _NUMBER.match(text)
    # "1,000" is a thousand to some and one to others.
    if not match or _THOUSANDS.match(text):
        return None
    digits, rest = match[1], match[2].strip()
    try:
        value = float(sum(Fraction(part) for part in digits.replace(",", ".").split()))
    except ZeroDivisionError:
        return None
    rest = _TWO_WORDS.sub(lambda m: m[1].rstrip(".") + m[2], rest)
    word, _, tail = rest.partition(" ")
    unit = _UNIT_OF.get(word.lower().rstrip(",."), "")
    return value, unit, tail.strip() if unit else rest


def to_ml(amount, density: float | None = None, field: str = "amount") -> float | np.ndarray:
    """An amount as millilitres.

    Parameters
    ----------
    amount : number, array, str or pint Quantity
        A plain number is millilitres already.
    density : float, optional
        Turns grams into millilitres. [g/mL]
    field : str
        What to call the amount if it can't be read.

    Returns
    -------
    float or array
        Volume. [mL]

    Raises
    ------
    InputError
        If it is no amount, negative, or a mass when no `density` is given.

    Examples
    --------
    >>> to_ml("0,75 oz"), to_ml("2 dash"), to_ml("8.4 g", density=1.613)
    (22.18, 1.8, 5.208)
    """
    value, unit = _number_and_unit(amount, field)
    if unit in GRAMS:
        if density is None:
            raise InputError(field, amount, "a volume (mL, cl, oz, barspoon, dash ...), not a weight")
        value = value * GRAMS[unit] / density
    else:
        value = value * BAR_MEASURES[unit or "milliliter"]
    if isinstance(amount, str) and value < 0:
        raise InputError(field, amount, "zero or more")
    require(field, value, 0, np.inf, "mL")
    return value


def _number_and_unit(amount, field: str):
    """(number or array, unit name): the one reader of everything that can stand for an amount."""
    if isinstance(amount, str):
        parts = split_amount(amount)
        if parts is None or parts[2]:
            raise InputError(field, amount, AMOUNT_HELP)
        return parts[0], parts[1]
    if hasattr(amount, "m_as"):
        for unit in ("milliliter", "gram"):
            if amount.is_compatible_with(unit):
                return amount.m_as(unit), unit
        raise InputError(field, f"{amount}", AMOUNT_HELP)
    return number(amount, field), ""


def number(value, field: str) -> float | np.ndarray:
    """`value` as a float, or as an array if it has axes; anything else is refused by name.

    Examples
    --------
    >>> number("lots", "abv")
    Traceback (most recent call last):
    drinklab.errors.InputError: abv is 'lots'; it must be a number.
    """
    if type(value) is float:
        return value
    try:
        array = np.asarray(value)
        if array.dtype.kind not in "fiu":
            raise TypeError
        array = array.astype(float)
    except (TypeError, ValueError):
        raise InputError(field, value, "a number") from None
    return float(array) if array.ndim == 0 else array


_TEMPERATURE = re.compile(r"^\s*(-?\d+(?:[.,]\d+)?)\s*(?:°|deg|degrees?)?\s*([CFcf])?\s*$")


def to_celsius(temperature, field: str = "temperature") -> float | np.ndarray:
    """A temperature as degrees Celsius: a number is °C already, text may say "39 °F".

    Examples
    --------
    >>> to_celsius("39.2 °F"), to_celsius("-18")
    (4.0, -18.0)
    """
    if isinstance(temperature, str):
        match = _TEMPERATURE.match(temperature.replace("−", "-"))
        if not match:
            raise InputError(field, temperature, "a temperature such as 4, '4 °C' or '39 °F'")
        degrees = float(match[1].replace(",", "."))
        celsius = (degrees - 32) / 1.8 if (match[2] or "C").upper() == "F" else degrees
    elif hasattr(temperature, "m_as"):
        if not temperature.is_compatible_with("degC"):
            raise InputError(field, f"{temperature}", "a temperature such as 4, '4 °C' or '39 °F'")
        celsius = temperature.m_as("degC")
    else:
        celsius = number(temperature, field)
    require(field, celsius, kinds.TEMPERATURE.low, kinds.TEMPERATURE.high, "°C")
    return celsius


# Kilopascals in each; the pound by definition, 4.4482216152605 N on 0.0254 m squared. The gauge is meant, whatever
# is written: nobody at a bar reads absolute pressure, and "psia" is refused.
PRESSURES = {"kpa": 1.0, "bar": 100.0, "psi": 6.894757293168, "psig": 6.894757293168}
_PRESSURE = re.compile(r"^\s*(-?\d+(?:[.,]\d+)?)\s*(kpa|bar|psig?)?(?:\s+gauge)?\s*$", re.IGNORECASE)


def to_kpa(pressure, field: str = "pressure") -> float | np.ndarray:
    """A gauge pressure as kilopascals: a number is kPa already, text may say "12 psi" or "0.8 bar".

    Raises
    ------
    InputError
        If it is no pressure, or below zero.

    Examples
    --------
    >>> to_kpa("12 psi"), to_kpa("0,8 bar"), to_kpa(80)
    (82.74, 80.0, 80.0)
    """
    allowed = "a gauge pressure such as 80, '80 kPa', '12 psi' or '0.8 bar'"
    if isinstance(pressure, str):
        match = _PRESSURE.match(pressure.replace("−", "-"))
        if not match or _THOUSANDS.match(pressure):  # "1,000 kPa" is 1 kPa to some
            raise InputError(field, pressure, allowed)
        kpa = float(match[1].replace(",", ".")) * PRESSURES[(match[2] or "kpa").lower()]
    elif hasattr(pressure, "m_as"):
        if not pressure.is_compatible_with("kilopascal"):
            raise InputError(field, f"{pressure}", allowed)
        kpa = pressure.m_as("kilopascal")
    else:
        kpa = number(pressure, field)
    kind = kinds.GAUGE_PRESSURE
    require(field, kpa, kind.low, kind.high, kind.label)
    return kpa


def pressure_text(kpa: float) -> str:
    """A gauge pressure in the three units that gauges carry.

    >>> pressure_text(82.74)
    '83 kPa (12 psi, 0.8 bar)'
    """
    return f"{kpa:.0f} kPa ({kpa / PRESSURES['psi']:.0f} psi, {kpa / 100:.1f} bar)".replace("-", "−")


def _to_number(value, kind: kinds.Kind, field: str):
    if kind is kinds.VOLUME:
        return to_ml(value, field=field)
    if kind is kinds.GAUGE_PRESSURE:
        return to_kpa(value, field)
    if kind is kinds.TEMPERATURE:
        return to_celsius(value, field)
    if hasattr(value, "m_as"):
        if not value.is_compatible_with(kind.unit):
            raise InputError(field, f"{value}", f"in {kind.label}")
        return value.m_as(kind.unit)
    if isinstance(value, str):
        text = re.sub(rf"\s*({re.escape(kind.label)}|%\s*(vol\.?|abv)?)\s*$", "", value, flags=re.IGNORECASE)
        try:
            return float(text.strip().replace(",", "."))
        except ValueError:
            raise InputError(field, value, f"a number in {kind.label}") from None
    return number(value, field)


def door(function):
    """Let a public function take text and Quantities, and check every argument by its kind.

    Arguments whose annotation carries a `Kind` become floats or arrays in that kind's unit and must
    lie in its range. Everything else passes untouched; the result stays a plain number.
    """
    signature = inspect.signature(function)
    found: dict[str, kinds.Kind] = {}

    @functools.wraps(function)
    def checked(*args, **kwargs):
        if not found:
            found.update(_kinds_of(function))
        call = signature.bind(*args, **kwargs)
        for name, value in call.arguments.items():
            kind = found.get(name)
            if kind is None or (value is None and signature.parameters[name].default is None):
                continue
            value = _to_number(value, kind, name)
            require(name, value, kind.low, kind.high, kind.label)
            call.arguments[name] = value
        result = function(*call.args, **call.kwargs)
        return float(result) if isinstance(result, (np.generic, np.ndarray)) and not result.ndim else result

    return checked


def _kinds_of(function) -> dict[str, kinds.Kind]:
    """Parameter name -> kind, for the parameters that have one ("X | None" included)."""
    out = {"": kinds.RATIO}  # never empty, so that the look-up happens once
    for name, hint in get_type_hints(function, include_extras=True).items():
        for part in (hint, *get_args(hint)):
            out |= {name: mark for mark in getattr(part, "__metadata__", ()) if isinstance(mark, kinds.Kind)}  # noqa: B035
    return out


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
        elif kind is kinds.CONCENTRATION:
            digits = int(abs(value) < 20)
        shown = f"{value / scale:{'+' if signed else ''}.{digits}f}"
        if float(shown) == 0:
            shown = f"{0:.{digits}f}"  # no "-0.0", no "+0.0"
        around = ""
        if spread is not None and np.isfinite(spread):
            around = f"± {max(spread / scale, 10.0**-digits):.{digits}f}"
        return shown.replace("-", "−"), around, label

    def degrees(self, celsius: float) -> float:
        """A temperature in the chosen degrees; `to_celsius` turns it back.

        >>> Display(temperature="°F").degrees(-18)
        -0.4
        """
        return celsius if self.temperature == "°C" else celsius * 1.8 + 32

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


@functools.cache
def _registry():
    import pint

    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, on_redefinition="ignore")
    for name, ml in BAR_MEASURES.items():
        if name not in ("milliliter", "centiliter", "deciliter", "liter"):
            registry.define(f"{name} = {ml!r} * milliliter")
    # At a bar "oz" is a fluid ounce; pint's own "oz" is a mass.
    registry.define("oz = fluid_ounce")
    return registry


def __getattr__(name: str):
    # The registry takes a fifth of a second to build, so it is made when first asked for.
    if name == "ureg":
        return _registry()
    raise AttributeError(name)
