"""Facts: what is to be said, as a code and its numbers. The sentences themselves are in `words/`, in no unit yet.

A fact is made where something is known, and said where it is read, in the units chosen there (`Display.say`).

>>> from drinklab.kinds import VOLUME
>>> water = Fact("add water", water=VOLUME(90))
>>> print(water)
Add 90 mL of plain water.
>>> from drinklab.display import Display
>>> Display("oz").say(water)
'Add 3.04 oz of plain water.'

A template of `words/*.toml` names the fact's numbers in braces, and how each is written, behind a colon: nothing is the
kind's own rounding, `.1` so many decimals in the kind's own unit, `+` with its sign, `n` the number without its unit,
`g` as it was given, `v` as it was given, with its unit only if that is another than the kind's own, and `m` at least
the decimals before it. A word, or a fact, is put in as it is; a list of words with commas (`and`, `or`: with that word
before the last), a list of facts with spaces (`commas`; `lines`: each on a line of its own). A figure of the sentence's
own stands in it, as `{4 °C}` or `{23 to 28 °C}`.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from string import Formatter
from typing import Any, NamedTuple

import numpy as np

from . import kinds
from .kinds import Amount, Kind

WORDS = Path(__file__).with_name("words")


@dataclass(frozen=True, init=False, repr=False, slots=True)
class Fact:
    """Something to say.

    Parameters
    ----------
    code : str
        Of its template. One that `words/` does not have (of somebody's own step) brings its sentence as `text`.
    **numbers
        Amounts (`kinds.VOLUME(90)`), words, other facts, or tuples of these.
    """

    code: str
    numbers: tuple[tuple[str, object], ...]

    def __init__(self, code: str, /, **numbers: object) -> None:
        object.__setattr__(self, "code", code)
        object.__setattr__(self, "numbers", tuple(numbers.items()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join([repr(self.code), *(f'{k}={v!r}' for k, v in self.numbers)])})"

    def __str__(self) -> str:
        return say(self)

    @property
    def text(self) -> str:
        """The sentence in the kinds' own units."""
        return say(self)


Write = Callable[[Amount, str], str]


def say(what: Any, write: Write | None = None) -> str:
    """The sentence of a fact, an `InputError`, several of them, or of what is text already; by default in own units."""
    if isinstance(what, str):
        return what
    if isinstance(what, (tuple, list)):
        return " ".join(say(part, write) for part in what)
    fact = getattr(what, "fact", what)
    given = dict(fact.numbers)
    template = templates().get(fact.code)
    if template is None:
        return str(given["text"])
    return (_refused if fact.code in _REFUSALS else _filled)(template, given, write or own)


_REFUSALS = ("refused", "refused at")
_MOST_DECIMALS = 17  # of a float


def _refused(template: Iterable[tuple[str | None, str]], given: Mapping[str, Any], write: Write) -> str:
    """What is refused and what is allowed, in as many decimals as they need for the one not to read as the other."""
    for decimals in range(_MOST_DECIMALS + 1):
        seen: list[tuple[Amount, str]] = []

        def noted(amount: Amount, spec: str, decimals: int = decimals, seen: list[tuple[Amount, str]] = seen) -> str:
            seen.append((amount, write(amount, _finer(spec, decimals))))
            return seen[-1][1]

        text = _filled(template, given, noted)
        if _in_order(seen):
            break
    return text


def _finer(spec: str, decimals: int) -> str:
    """A spec that asks for at least so many decimals."""
    sign, digits, letters = written_by(spec)
    if digits is not None:
        return f"{sign}.{max(digits, decimals)}{letters}"
    return f"{sign}.{decimals}{letters}m" if decimals else spec


def _in_order(seen: list[tuple[Amount, str]]) -> bool:
    """Whether each figure that is below another reads as below it."""
    figures = [(a, float(n[0].replace("−", "-"))) for a, text in seen if (n := _FIGURE.match(text))]
    return all(
        shown < other_shown
        for a, shown in figures
        for b, other_shown in figures
        if a.kind.unit == b.kind.unit and a.value < b.value
    )


_FIGURE = re.compile(r"[-−+]?\d[\d.]*")


def fill(template: str, given: Mapping[str, object], write: Write | None = None) -> str:
    """A template that is no fact's (the text of an exercise), filled as those of `words/` are.

    >>> fill("Pour {gin:g} of gin.", {"gin": kinds.VOLUME(45)})
    'Pour 45 mL of gin.'
    """
    return _filled(pieces(template), given, write or own)


def _filled(template: Iterable[tuple[str | None, str]], given: Mapping[str, Any], write: Write) -> str:
    return "".join([text if name is None else _put(given, name, text, write) for name, text in template])


def _put(given: Mapping[str, Any], name: str, spec: str, write: Write) -> str:
    value = given[name] if name in given else _stated(name)
    if isinstance(value, Amount):
        return write(value, spec)
    if isinstance(value, (Fact, str)):
        return say(value, write)
    if isinstance(value, tuple):
        if not value:
            return ""
        parts = [say(part, write) if isinstance(part, (Fact, str)) else write(part, "") for part in value]
        if spec in ("and", "or") and len(parts) > 1:
            return f"{', '.join(parts[:-1])} {spec} {parts[-1]}"
        return {"lines": "\n", "commas": ", "}.get(spec, " " if isinstance(value[0], Fact) else ", ").join(parts)
    return format(value, spec)


@functools.cache
def templates() -> dict[str, tuple[tuple[str | None, str], ...]]:
    """Each code's template: (None, text) and (name, how it is written) in turn."""
    return {code: tuple(pieces(text)) for file in sorted(WORDS.glob("*.toml")) for code, text in read(file).items()}


def read(file: Path) -> dict[str, str]:
    """The templates of one file, as they are written."""
    return tomllib.loads(file.read_text(encoding="utf-8"))


def pieces(template: str) -> Iterator[tuple[str | None, str]]:
    """A template as text and numbers in turn."""
    for text, name, spec, _ in Formatter().parse(template):
        if text:
            yield None, text
        if name is not None:
            yield name, spec or ""


# --- kept in a file -------------------------------------------------------------------------------------------

_NAMES = {kind: name for name, kind in vars(kinds).items() if isinstance(kind, Kind)}


def to_data(what: Any) -> Any:
    """A fact, or a part of one, as plain data for JSON.

    >>> data = to_data(Fact("add water", water=kinds.VOLUME(90)))
    >>> data
    {'code': 'add water', 'numbers': {'water': {'value': 90.0, 'kind': 'VOLUME', 'spread': None}}}
    >>> from_data(data)
    Fact('add water', water=Amount(value=90.0, kind=Kind(label='mL', ...), spread=None))
    """
    if isinstance(what, Fact):
        return {"code": what.code, "numbers": {name: to_data(value) for name, value in what.numbers}}
    if isinstance(what, Amount):
        return {"value": what.value, "kind": _NAMES[what.kind], "spread": what.spread}
    return [to_data(part) for part in what] if isinstance(what, tuple) else what


def from_data(data: Any) -> Any:
    """What `to_data` kept, once it is sure that it can be said; `LookupError`, `TypeError` or `ValueError` if not."""
    if isinstance(data, Mapping) and "code" in data:
        fact = Fact(str(data["code"]), **{name: from_data(value) for name, value in data["numbers"].items()})
        say(fact)
        return fact
    if isinstance(data, Mapping):
        spread = None if data["spread"] is None else float(data["spread"])
        return Amount(float(data["value"]), {name: kind for kind, name in _NAMES.items()}[data["kind"]], spread)
    return tuple(map(from_data, data)) if isinstance(data, list) else data


# --- how a number is written ----------------------------------------------------------------------------------

_STATED = re.compile(r"(?P<low>[-\d.]+)(?: to (?P<high>[-\d.]+))? (?P<unit>mL|°C|kPa|bar|psi)$")
_OF_UNIT = {"mL": kinds.VOLUME, "°C": kinds.TEMPERATURE, "kPa": kinds.PRESSURE}


def is_stated(figure: str) -> bool:
    """Whether braces hold a figure of the sentence's own."""
    return _STATED.match(figure) is not None


@functools.cache
def _stated(figure: Any) -> Any:
    """A figure of the sentence's own: an amount, or a fact of two."""
    found = _STATED.match(figure)
    if found is None:
        raise KeyError(figure)
    low, high, unit = found.group("low", "high", "unit")
    kind, one = _OF_UNIT.get(unit, kinds.PRESSURE), kinds.KILOPASCALS.get(unit, 1.0)
    if high is None:
        return kind(float(low) * one)
    return Fact("from to", low=kind(float(low) * one), high=kind(float(high) * one))


@functools.cache
def written_by(spec: str) -> tuple[str, int | None, str]:
    """A spec as its sign, its decimals and its letters."""
    found = re.fullmatch(r"(\+?)(?:\.(\d+))?([gvnm]*)", spec)
    if found is None:
        raise ValueError(f"{spec!r} is no way to write a number")
    sign, digits, letters = found.groups()
    return sign, None if digits is None else int(digits), letters


def own(amount: Amount, spec: str) -> str:
    """An amount in its kind's own unit, by a template's spec.

    >>> own(kinds.VOLUME(44.36), ""), own(kinds.TEMPERATURE(-3.24), ".1"), own(kinds.VOLUME(40.126), "gn")
    ('44 mL', '−3.2 °C', '40.126')
    """
    sign, digits, letters = written_by(spec)
    kind, value = amount.kind, amount.value
    if "g" in letters or "v" in letters:
        text = plain(value)
        if digits is not None and len(text.partition(".")[2]) < digits and _FIGURE.fullmatch(text):
            text = np.format_float_positional(value, precision=digits, unique=True, trim="-")
    else:
        usual = kind.decimals(value)
        digits = usual if digits is None else max(digits, usual) if "m" in letters else digits
        number, digits = figure(kind, value, digits, sign)
        text = " ".join(filter(None, (number, spread_text(amount.spread, digits))))
    return text if "n" in letters or "v" in letters or not kind.label else f"{text} {kind.label}"


# Decimals of a small strength, and what is said of one that is smaller still.
FINEST, UNDER = 2, "under"


class Written(NamedTuple):
    """A figure as it is written, and to how many decimals."""

    text: str
    digits: int


def figure(kind: Kind, value: float, digits: int, sign: str = "") -> Written:
    """A figure to so many decimals, or to more: a strength above 0 is never written as 0.

    >>> [figure(kinds.ABV, value, 1).text for value in (0.6, 0.04, 0.004, 0)]
    ['0.6', '0.04', 'under 0.01', '0.0']
    """
    if kind is kinds.ABV and not sign and value > 0:
        digits = next((n for n in range(digits, FINEST) if round(value, n) > 0), max(digits, FINEST))
        if round(value, digits) <= 0:
            return Written(f"{UNDER} {10.0**-digits:.{digits}f}", digits)
    return Written(rounded(value, digits, sign), digits)


def rounded(value: float, digits: int, sign: str = "") -> str:
    """A figure to so many decimals: no "-0.0", no "+0.0"."""
    text = f"{value:{sign}.{digits}f}"
    return (f"{0:.{digits}f}" if float(text) == 0 else text).replace("-", "−")


def spread_text(spread: float | None, digits: int) -> str:
    """The ± of a figure, at least one of its last decimal; "" where there is none."""
    if spread is None or not np.isfinite(spread) or spread <= 0:
        return ""
    return f"± {max(spread, 10.0**-digits):.{digits}f}"


def plain(value: float) -> str:
    """Six digits at most, and never as a power of ten."""
    try:
        value = float(value)
    except OverflowError:
        return "a number beyond all measure"
    if np.isnan(value):
        return "not a number"
    if np.isinf(value):
        return "a number without end"
    if 1e50 < abs(value) < np.inf:
        return f"a number of {len(f'{abs(value):.0f}')} digits"
    if 0 < abs(value) < 1e-50:
        return "next to nothing"
    return np.format_float_positional(value, precision=6, unique=True, fractional=False, trim="-")


# Units that another can stand for, as they are written in a range's words.
_CONVERTED = {"mL": "milliliter", "°C": "degC", **dict.fromkeys(("kPa", "kPa gauge", "kPa absolute"), "kilopascal")}


def kind_of(unit: str | Kind) -> Kind:
    """The kind whose unit a range is given in ("mL", "kPa: more no vessel bears"); other words stay as they are."""
    return unit if isinstance(unit, Kind) else Kind(unit, _CONVERTED.get(unit.partition(":")[0], ""))
