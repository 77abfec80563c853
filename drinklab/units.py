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
import unicodedata
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, get_args, get_type_hints

import numpy as np

from . import kinds
from .errors import InputError, Told, require, unfitting
from .kinds import Number

T = TypeVar("T")

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
    # The UK gallon is 4.54609 L (Weights and Measures Act 1985, schedule 1), in 4 quarts or 8 pints.
    "imperial_pint": 4546.09 / 8,
    "imperial_quart": 4546.09 / 4,
    "imperial_gallon": 4546.09,
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
    "pint": "uspint uspints uspt",
    "quart": "usquart usquarts usqt",
    "gallon": "usgallon usgallons usgal",
    "imperial_pint": "ukpint ukpints ukpt imperialpint imperialpints",
    "imperial_quart": "ukquart ukquarts ukqt imperialquart imperialquarts",
    "imperial_gallon": "ukgallon ukgallons ukgal imperialgallon imperialgallons",
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
# What is counted and not measured: how much one is, the recipe or `datasets/pieces.csv` says.
COUNTS = {
    "part": "part parts", "leaf": "leaf leaves", "sprig": "sprig sprigs", "cube": "cube cubes", "slice": "slice slices",
    "piece": "piece pieces",
}  # fmt: skip
# A bare one of these is 20 % more in the UK than in the US: refused, with both.
_TWO_SIZES = {
    word: unit
    for unit, words in {"pint": "pint pints pt", "quart": "quart quarts qt", "gallon": "gallon gallons gal"}.items()
    for word in words.split()
}
_UNIT_OF = {word: unit for unit, words in (_SPELLINGS | COUNTS).items() for word in words.split()}
# How a page writes them, one and several; the others have no sign of their own.
_SIGNS = {
    "milliliter": "mL", "centiliter": "cl", "deciliter": "dl", "liter": "L", "fluid_ounce": "oz", "teaspoon": "tsp",
    "tablespoon": "tbsp", "gram": "g", "kilogram": "kg", "piece": "",
}  # fmt: skip
_SEVERAL = {"dash": "dashes", "leaf": "leaves", "pony": "ponies"}
_ONE = {
    unit: unit.replace("imperial_", "UK ") if "_" in unit else f"US {unit}"
    for unit in ("pint", "quart", "gallon", "imperial_pint", "imperial_quart", "imperial_gallon")
}
# What may take another's place on a page: the measure that somebody chose to see volumes in.
METRIC = ("milliliter", "centiliter", "deciliter", "liter")
US = ("fluid_ounce", "pint", "quart", "gallon", "pony", "jigger")
_TWO_WORDS = re.compile(
    r"^(?:(fl\.?|fluid|bar) (oz\.?|ounces?|spoons?)"
    r"|(US|U\.S\.|UK|U\.K\.|imperial) (pints?|pt\.?|quarts?|qt\.?|gallons?|gal\.?))(?= |$)",
    re.IGNORECASE,
)
AMOUNT_HELP = "an amount such as 45, '45 mL', '1.5 oz', '1 1/2 oz', '2 dash' or '8 g'"

# Kilopascals in each; the pound by definition, 4.4482216152605 N on 0.0254 m squared. The gauge is meant, whatever
# is written: nobody at a bar reads absolute pressure, and "psia" is refused.
GAUGES = kinds.KILOPASCALS  # what a gauge is read in
PRESSURES = {unit.lower(): kpa for unit, kpa in GAUGES.items()} | {f"{u}g": GAUGES[u] for u in ("psi", "bar")}

# What may stand behind a number of each kind, by the kind's label, in small letters without spaces; and what one of
# it is in the kind's own unit. Without a unit the number is in the kind's own.
_WRITTEN = {
    "mL": {word: BAR_MEASURES[unit] for word, unit in _UNIT_OF.items() if unit in BAR_MEASURES},
    "g": {word: GRAMS[unit] for word, unit in _UNIT_OF.items() if unit in GRAMS} | {"mg": 0.001},
    "kPa gauge": PRESSURES | {f"{unit}gauge": kpa for unit, kpa in PRESSURES.items()},
    # Proof at a bar is US proof, twice the % vol: "48 degrees of proof (24 percent alcohol by volume)" (27 CFR 5.1).
    "% vol": dict.fromkeys(("%", "%vol", "%abv", "%v/v", "%byvolume", "vol%"), 1.0) | {"proof": 0.5, "usproof": 0.5},
    "% mass": dict.fromkeys(("%", "%mass", "%m/m", "%w/w", "%bymass", "°brix", "brix"), 1.0),
    "US proof": {"proof": 1.0, "usproof": 1.0},
    "g/L": {"g/l": 1.0, "kg/m3": 1.0, "mg/l": 0.001, "kg/l": 1000.0, "g/ml": 1000.0},
    "kg/m³": {"kg/m3": 1.0, "g/l": 1.0, "kg/l": 1000.0, "g/ml": 1000.0, "g/cm3": 1000.0},
    "of the whole": {"ofthewhole": 1.0, "%": 0.01, "%ofthewhole": 0.01},
    "to 1": {"to1": 1.0, "%": 0.01},
    "volumes": dict.fromkeys(("volumes", "volume", "vol", "vols"), 1.0),
    "°C": dict.fromkeys(("c", "°c", "degc", "degreec", "degreesc", "°", "deg", "degree", "degrees"), 1.0),
}
_FAHRENHEIT = ("f", "°f", "degf", "degreef", "degreesf")
_HELP = {
    "mL": AMOUNT_HELP,
    "°C": "a temperature such as 4, '4 °C' or '39 °F'",
    "kPa gauge": "a gauge pressure such as 80, '80 kPa', '12 psi' or '0.8 bar'",
    "": "a number",
}


# --- the one reader of typed numbers ---------------------------------------------------------------------

_VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_NUMBER = re.compile(
    rf"(?P<sign>[+-]?)(?:"
    rf"(?:(?P<whole>[0-9]+)(?:[ -]?(?=[{_VULGAR}])|[ -](?=[0-9]+/)))?"
    rf"(?:(?P<vulgar>[{_VULGAR}])|(?P<top>[0-9]+)/(?P<bottom>[0-9]+))"
    rf"|(?P<decimal>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+))(?P<rest>.*)"
)
_RUNS_ON = re.compile(rf" ?[0-9{_VULGAR}]|[/.,]")  # the number does not end where it seemed to
_MAY_BE_ONE = re.compile(rf"\d\s+(\d+[/⁄]|[{_VULGAR}]|0\d\d(?!\d))|^\s*[1-9]\d{{0,2}}(,\d{{3}})+\s*$")  # "1 ½"
_MOST_DIGITS = 30
# A litre and a half to some, 1.5 mL to others: nobody measures a thousandth of a mL, and we write none that ends in 0.
THOUSANDS = re.compile(r"\s*\+?(?!0)\d{1,3}\.\d\d[0٠۰०０](?!\d)")
EITHER_WAY = "{:g} or {:g}: it can be read either way"


def _leading_number(text: str, field: str) -> tuple[float, str] | None:
    """The number that `text` begins with and what follows it; None where it begins with none.

    Raises
    ------
    InputError
        For what two people read in two ways: "1,000", "1 000", "11/2", "1.000,5".
    """
    plain = " ".join(text.split())  # a tab, a no-break or a thin space is a space
    plain = "".join(str(unicodedata.decimal(c, c)) for c in plain).replace("⁄", "/").replace("∕", "/")
    if plain[:1] in ("−", "–"):
        plain = f"-{plain[1:]}"
    match = _NUMBER.match(plain)
    if not match:
        return None
    whole, top, bottom, decimal, rest = match.group("whole", "top", "bottom", "decimal", "rest")
    if max(len(digits or "") for digits in (whole, top, bottom, decimal)) > _MOST_DIGITS:
        raise InputError(field, text, f"a number of at most {_MOST_DIGITS} digits")
    rest = "" if rest == "." and decimal and "." not in decimal else rest
    if _RUNS_ON.match(rest) or re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", decimal or ""):
        raise InputError(field, text, "one number, without a mark between thousands: 1000, 1.5, 1,25 or 1 1/2")
    if decimal:
        value = float(decimal.replace(",", "."))
    else:
        if bottom and not int(bottom):
            return None
        part = unicodedata.numeric(match["vulgar"]) if match["vulgar"] else int(top) / int(bottom)
        if part >= 1 and (whole or len(top) > 1):
            # "11/2" is one and a half to one, five and a half to another
            raise InputError(field, text, "written 1 1/2, with a space and a part below one, or 5.5")
        if bottom and len(top) > 1 < len(bottom) and int(bottom) & (int(bottom) - 1):  # 45/50, and not 15/16
            raise InputError(field, text, "one amount, or a decimal number: it may be one of two")
        value = int(whole or 0) + part
    return (-value if match["sign"] == "-" else value) + 0.0, rest.strip()  # never -0.0


def _squeezed(unit: str) -> str:
    """A unit without spaces or a full stop, in small letters and one spelling of each sign."""
    return re.sub(r"\s|\.$", "", unicodedata.normalize("NFKC", unit)).casefold()


def _written(text: str, kind: kinds.Kind | None, field: str) -> float:
    """A typed number of a kind, in the kind's own unit."""
    label = kind.label if kind else ""
    allowed = _HELP.get(label, f"a number in {label}")
    if (found := _leading_number(text, field)) is None:
        raise InputError(field, text, allowed)
    value, unit = found[0], _squeezed(found[1].replace("º", "°"))
    most = {"g": math.inf, "g/L": 1.65, "kPa gauge": 2, "kg/m³": 2}.get(label, 0)  # no syrup holds more than 1650 g/L
    if value <= most and unit in ("", "g", "g/l", "kpa", "kpagauge") and THOUSANDS.match(text):
        raise InputError(field, text, EITHER_WAY.format(1000 * value, value))
    if not unit or (label == "°C" and unit in _FAHRENHEIT):
        freezing = 0 if kind and kind.low == -math.inf else 32  # of a difference there is none
        return (value - freezing) / 1.8 + 0.0 if unit else value
    words = _WRITTEN.get(label, {_squeezed(label): 1.0})
    if unit not in words:
        raise InputError(field, text, allowed)
    return value * words[unit]


def read(value: Any, kind: kinds.Kind, field: str) -> float | np.ndarray:
    """Whatever stands for a number of a kind, as a float or array in the kind's own unit; its range is not checked.

    Parameters
    ----------
    value : number, array, str or pint Quantity
        A plain number is in the kind's own unit; text may name another: "39 °F", "12 psi", "2 %" of a share.
    kind : Kind
    field : str
        What to call it if it can't be read.

    Raises
    ------
    InputError
        For what is no number of this kind, and for what two people read in two ways ("1,000", "11/2").

    Examples
    --------
    >>> read("0.5 %", kinds.FRACTION, "share"), read("1½ oz", kinds.VOLUME, "pour")
    (0.005, 44.36)
    >>> read("40 % vol", kinds.ABW, "abw")
    Traceback (most recent call last):
    drinklab.errors.InputError: abw is '40 % vol'; it must be a number in % mass.
    """
    if type(value) is float:
        return value + 0.0  # never -0.0
    if kind.label == "mL":
        return to_ml(value, field=field)
    if isinstance(value, str):
        return _written(value, kind, field)
    if hasattr(value, "m_as"):
        if not value.is_compatible_with(kind.unit):
            raise InputError(field, f"{value}", _HELP.get(kind.label, f"in {kind.label}"))
        return value.m_as(kind.unit)
    return number(value, field) + 0.0


def is_bare(text: str) -> bool:
    """Whether text is a number that names no unit, so that it is in the one shown beside it.

    >>> is_bare("½"), is_bare("12 psi")
    (True, False)
    """
    try:
        found = _leading_number(text, "")
    except InputError:
        return False
    return found is not None and not found[1]


def read_row(text: str, field: str, allowed: str) -> list[float]:
    """Plain numbers typed in a row: with ";" or tabs between them, or else with spaces or commas.

    A comma without a space may be either ("1,5 2"), as "1 1/2" may, and is refused; ";" makes it a decimal comma.

    Raises
    ------
    InputError
        For no numbers, and for what two people read in two ways.

    Examples
    --------
    >>> read_row("15, 30, 60", "times", "seconds"), read_row("1,5; 2", "times", "seconds")
    ([15.0, 30.0, 60.0], [1.5, 2.0])
    """
    if re.search(r"[;\t\n]", text):
        parts = [part.strip() for part in re.split(r"[;\t\n]", text)]
    else:
        parts = [part.removesuffix(",") for part in text.replace(" ,", ", ").split()]
        if len(parts) == 1 and parts[0].count(",") > 1:  # no one number has two commas
            parts = parts[0].split(",")
        if any("," in part for part in parts) or _MAY_BE_ONE.search(text):
            raise InputError(field, text, f"{allowed}, with a space or ; between two numbers")
    if two := next(filter(THOUSANDS.fullmatch, parts), ""):
        raise InputError(field, two, EITHER_WAY.format(1000 * float(two), float(two)))
    found = [_leading_number(part, field) or (0.0, part) for part in parts if part]
    if not found or any(rest for _, rest in found):
        raise InputError(field, text, allowed)
    return [value for value, _ in found]


class Amounts(NamedTuple):
    """A number, its unit as a registry has it, and the rest of the text."""

    value: float
    unit: str
    rest: str


def split_amount(text: str, field: str = "amount") -> Amounts | None:
    """Read a leading number and bar measure from `text`; "1,5" is one and a half.

    Returns
    -------
    (value, unit, rest) or None
        The number, the name of the measure ("" when none was written) and the remaining text;
        None when the text does not begin with a number.

    Raises
    ------
    InputError
        For a number or a measure that two people read in two ways ("1,000", "11/2", "1 pint").

    Examples
    --------
    >>> split_amount("1½ oz aged rum")
    Amounts(value=1.5, unit='fluid_ounce', rest='aged rum')
    >>> split_amount("2 bar spoons sugar syrup")
    Amounts(value=2.0, unit='barspoon', rest='sugar syrup')
    """
    if (found := _leading_number(text, field)) is None:
        return None
    value, rest = found
    rest = _TWO_WORDS.sub(lambda m: (m[1] or m[3]).replace(".", "") + (m[2] or m[4]), rest)
    word, _, tail = rest.partition(" ")
    plain = unicodedata.normalize("NFKC", word).lower().rstrip(",.")
    if two := _TWO_SIZES.get(plain):
        sizes = " or ".join(f"{_ONE[u]} ({BAR_MEASURES[u]:.0f} mL)" for u in (two, f"imperial_{two}"))
        raise InputError(field, text, f"written {sizes}")
    unit = _UNIT_OF.get(plain, "")
    if unit in ("milliliter", "gram", "") and THOUSANDS.match(text):
        raise InputError(field, text, EITHER_WAY.format(1000 * value, value))
    return Amounts(value, unit, tail.strip() if unit else rest)


class Counted(NamedTuple):
    """A count word, and what is left of the name."""

    unit: str
    name: str


def count_at_end(name: str) -> Counted:
    """The count word that a name ends in, and what is left: "mint leaves" are leaves of mint.

    >>> count_at_end("mint leaves"), count_at_end("lemon juice")
    (Counted(unit='leaf', name='mint'), Counted(unit='', name='lemon juice'))
    """
    rest, _, word = name.rpartition(" ")
    unit = _UNIT_OF.get(word.lower(), "")
    return Counted(unit, rest) if rest and unit in COUNTS and unit != "part" else Counted("", name)


def sign(unit: str, several: bool = True) -> str:
    """How a page writes a measure.

    >>> sign("fluid_ounce"), sign("dash"), sign("dash", several=False)
    ('oz', 'dashes', 'dash')
    """
    one = _ONE.get(unit, unit)
    return _SIGNS.get(unit, _SEVERAL.get(unit, f"{one}s") if several else one)


def fraction_text(value: float) -> str:
    """A number as a bar writes it, if it is one in eighths or thirds; else "".

    >>> fraction_text(0.875), fraction_text(1.5), fraction_text(2), fraction_text(1.52)
    ('⅞', '1½', '2', '')
    """
    if not 0 <= value < 1e6:
        return ""
    for parts, signs in ((8, ",⅛,¼,⅜,½,⅝,¾,⅞"), (3, ",⅓,⅔")):
        pieces = round(value * parts)
        if abs(pieces / parts - value) <= 1e-6 * max(value, 1e-3):
            whole, rest = divmod(pieces, parts)
            part = signs.split(",")[rest]
            return f"{whole}{part}" if whole or not part else part
    return ""


def ounces_text(ml: float) -> str:
    """A volume in eighths of an ounce, as a jigger has them, and what that rounding does to it.

    >>> ounces_text(45), ounces_text(22.18), ounces_text(5), ounces_text(0.9)
    ('1½ oz (−1 %)', '¾ oz', '⅛ oz (−26 %)', 'under ⅛ oz')
    """
    eighths = round(8 * ml / FLUID_OUNCE)
    if not eighths:
        return "under ⅛ oz" if ml > 0 else "0 oz"
    off = round(100 * (eighths * FLUID_OUNCE / 8 / ml - 1))
    return f"{fraction_text(eighths / 8) or f'{eighths / 8:.0f}'} oz" + (
        f" ({off:+d} %)".replace("-", "−") if off else ""
    )


def to_ml(amount: Any, density: float | None = None, field: str = "amount") -> float | np.ndarray:
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
    require(field, value, kinds.VOLUME.low, kinds.VOLUME.high, "mL")
    return value


def _number_and_unit(amount: Any, field: str) -> tuple[Number, str]:
    """(number or array, unit name): the one reader of everything that can stand for an amount."""
    if isinstance(amount, str):
        parts = split_amount(amount, field)
        if parts is None or parts[2] or parts[1] in COUNTS:
            raise InputError(field, amount, AMOUNT_HELP)
        return parts[0], parts[1]
    if hasattr(amount, "m_as"):
        for unit in ("milliliter", "gram"):
            if amount.is_compatible_with(unit):
                return amount.m_as(unit), unit
        raise InputError(field, f"{amount}", AMOUNT_HELP)
    return number(amount, field), ""


def number(value: Any, field: str, kind: kinds.Kind | None = None) -> float | np.ndarray:
    """`value` as a float, or as an array if it has axes; anything else is refused by name.

    Text is a plain number, with a unit only where its `kind` is told.

    Examples
    --------
    >>> number("lots", "abv")
    Traceback (most recent call last):
    drinklab.errors.InputError: abv is 'lots'; it must be a number.
    """
    if type(value) is float:
        return value
    if isinstance(value, str):
        return _written(value, kind, field)
    try:
        array = np.asarray(value)
        if array.dtype.kind not in "fiu":
            raise TypeError
        array = array.astype(float)
    except (TypeError, ValueError):
        raise InputError(field, value, "a number") from None
    return float(array) if array.ndim == 0 else array


def whole_number(value: object, field: str, low: int = 0, high: float = math.inf) -> int:
    """`value` as a whole number from `low` to `high`; True, 2.5 and text are refused.

    >>> whole_number(True, "draws")
    Traceback (most recent call last):
    drinklab.errors.InputError: draws is True; it must be a whole number, 0 or more.
    """
    if isinstance(value, (int, np.integer)) and not isinstance(value, (bool, np.bool_)) and low <= value <= high:
        return int(value)
    raise InputError(field, value, f"a whole number, {low} {'or more' if high == math.inf else f'to {high}'}")


def to_celsius(temperature: Any, field: str = "temperature") -> float | np.ndarray:
    """A temperature as degrees Celsius: a number is °C already, text may say "39 °F".

    Examples
    --------
    >>> to_celsius("39.2 °F"), to_celsius("-18")
    (4.0, -18.0)
    """
    kind = kinds.TEMPERATURE
    celsius = read(temperature, kind, field)
    require(field, celsius, kind.low, kind.high, kind.label)
    return celsius + 0.0  # never -0.0


def to_kpa(pressure: Any, field: str = "pressure") -> float | np.ndarray:
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
    kind = kinds.GAUGE_PRESSURE
    kpa = read(pressure, kind, field)
    require(field, kpa, kind.low, kind.high, kind.label)
    return kpa


def door(function: Callable[..., T]) -> Callable[..., T]:
    """Let a public function take text and Quantities, and check every argument by its kind.

    Arguments whose annotation carries a `Kind` become floats or arrays in that kind's unit and must
    lie in its range. Everything else passes untouched; the result stays a plain number.
    """
    signature = inspect.signature(function)
    marks: dict[str, tuple[kinds.Kind | None, bool]] = {}

    @functools.wraps(function)
    def checked(*args: Any, **kwargs: Any) -> Any:
        if not marks:
            marks.update(_marks_of(function))
        call = signature.bind(*args, **kwargs)
        for name, value in call.arguments.items():
            kind, single = marks.get(name, (None, False))
            if kind is None or (value is None and signature.parameters[name].default is None):
                continue
            value = read(value, kind, name)
            if type(value) is not float and (np.size(value) == 0 or (single and np.ndim(value))):
                raise InputError(name, Told(f"{np.size(value)} numbers"), "one number" if single else "one or more")
            require(name, value, kind.low, kind.high, kind.label)
            call.arguments[name] = value
        try:
            result = function(*call.args, **call.kwargs)
        except ValueError as error:
            raise unfitting(error, call.arguments) from None
        return float(result) if isinstance(result, (np.generic, np.ndarray)) and not result.ndim else result

    return checked


def _marks_of(function: Callable[..., Any]) -> dict[str, tuple[kinds.Kind | None, bool]]:
    """Parameter name -> its kind ("X | None" included), and whether it must be one number."""
    out: dict[str, tuple[kinds.Kind | None, bool]] = {"": (None, False)}  # never empty: it is looked up once
    for name, hint in get_type_hints(function, include_extras=True).items():
        found = [mark for part in (hint, *get_args(hint)) for mark in getattr(part, "__metadata__", ())]
        kind = next((mark for mark in found if isinstance(mark, kinds.Kind)), None)
        out[name] = kind, kinds.SINGLE in found
    return out


@functools.cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, on_redefinition="ignore")
    for name, ml in BAR_MEASURES.items():
        if name not in ("milliliter", "centiliter", "deciliter", "liter"):
            registry.define(f"{name} = {ml!r} * milliliter")
    registry.define("oz = fluid_ounce")  # at a bar; pint's own "oz" is a mass
    return registry


def __getattr__(name: str) -> Any:
    # The registry takes a fifth of a second to build, so it is made when first asked for.
    if name == "ureg":
        return _registry()
    raise AttributeError(name)


def single(figure: Number, field: str) -> float:
    """A figure that was read, as one float; an array is refused by name."""
    if np.ndim(figure):
        raise InputError(field, Told(f"{np.size(figure)} numbers"), "one number")
    return float(figure)


def plain_number(figure: Any) -> Number:
    """A figure as a plain float; an array stays one."""
    return figure if np.ndim(figure) else float(figure)
