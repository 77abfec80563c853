"""What a typed answer is worth: right, right in another unit, a known mistake, too much or too little, or not readable.

>>> from drinklab.teach import bank
>>> one = bank.exercise("let_down").at({"spirit": 1000, "strength": 63, "target": 46})
>>> check(one, "383").word, check(one, "369,6").route, check(one, "0.383").word
('right', 'forgot_contraction', 'other unit')
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from .. import units
from ..display import Display
from ..errors import InputError
from ..facts import Fact, say
from ..kinds import Amount, Kind
from . import chosen
from .bank import Problem
from .chosen import OWN

_DEGREES = re.compile(r"\s*(?:[°º]|deg(?:ree)?s?)\.?\s*$", re.IGNORECASE)

# A bare number that would be right in one of these: what the unit is called, and how many of the kind's own it is.
SIBLINGS = {
    "mL": {"litres": 1000.0, "cl": 10.0, "fluid ounces": units.FLUID_OUNCE},
    "g": {"kilograms": 1000.0, "milligrams": 0.001, "ounces of weight": 28.349523125},
    "% vol": {"US proof": 0.5, "a share of one": 100.0},
    "% mass": {"a share of one": 100.0},
    "%": {"a share of one": 100.0},
    "g/L": {"g/mL": 1000.0, "per cent": 10.0, "milligrams in a litre": 0.001},
    "kPa gauge": dict(units.GAUGES),
    "L": {"millilitres": 0.001},
    "min": {"hours": 60.0, "seconds": 1 / 60},
    "h": {"minutes": 1 / 60},
}
for _unit in ("mL", "kPa gauge"):  # right in the own unit, where another was chosen
    SIBLINGS[_unit][_unit.removesuffix(" gauge")] = 1.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """What an answer is worth, and what to say of it."""

    word: str  # "right", "other unit", "mistake", "too much", "too little", "unread"
    said: str
    route: str = ""
    smaller: str = ""
    value: float | None = None

    @property
    def right(self) -> bool:
        """Whether the answer counts as right."""
        return self.word == "right"


def read(text: str, kind: Kind, field: str = "your answer", show: Display = OWN) -> float:
    """A typed answer in the kind's own unit: points, commas, fractions and units as everywhere.

    A bare number is in the unit chosen.

    >>> from drinklab import kinds
    >>> read("1½ oz", kinds.VOLUME), read("12,5 %", kinds.ABV), read("1,5", kinds.VOLUME, show=Display("oz"))
    (44.36, 12.5, 44.36)
    >>> read("", kinds.VOLUME)
    Traceback (most recent call last):
    drinklab.errors.InputError: your answer is empty; it must be a number of mL, such as 12.5.
    """
    unit = chosen.kind_in(kind, show).label
    if not str(text).strip():
        raise InputError(field, "", f"a number{f' of {unit}' if unit else ''}, such as 12.5")
    if not any(letter.isnumeric() for letter in str(text)):
        raise InputError(field, text, f"written in figures, such as 12.5{f' {unit}' if unit else ''}")
    if kind.label == "°C":  # "39°" is in the degrees that are shown
        text = _DEGREES.sub("", str(text))
    try:
        if units.is_bare(str(text)):
            return float(chosen.turned_back(float(units.number(str(text), field)), kind, show))
        return float(units.read(str(text), kind, field))
    except InputError as problem:
        if problem.allowed != units.AMOUNT_HELP:
            raise
        raise InputError(field, text, f"one number, with its unit if you like, such as 12.5 {unit}") from None


def check(problem: Problem, text: str) -> Verdict:
    """What an answer to a problem is worth."""

    def mistake(value: float) -> Verdict | None:
        for one in problem.exercise.wrong:
            if abs(value - problem.wrong[one.route]) <= problem.near / 2:
                said, smaller = problem.filled(one.hint), problem.filled(one.smaller)
                return Verdict("mistake", said, one.route, smaller, value)
        return None

    found = _judged(problem.answer, problem.near, text, mistake, problem.show)
    if (
        found.value is not None
        and found.word in ("too much", "too little")
        and abs(found.value - problem.answer.value) <= 2.5 * problem.near
    ):
        return replace(found, said=say(Fact("answer a little off", off=found.word)))
    return found


def check_value(value: Amount, text: str, show: Display = OWN) -> Verdict:
    """What an answer to one step of a sum is worth.

    >>> from drinklab import kinds
    >>> check_value(kinds.MASS(902.31), "902").right
    True
    """
    least = 0.06 if chosen.kind_in(value.kind, show) is value.kind else 0.006 * chosen.own_size(chosen.OUNCES)
    return _judged(value, max(0.01 * abs(value.value), least), text, lambda _: None, show)


def _judged(
    answer: Amount, near: float, text: str, mistake: Callable[[float], Verdict | None], show: Display
) -> Verdict:
    """Right, a known mistake, right in another unit, too much or too little; in this order."""
    unit = chosen.kind_in(answer.kind, show)
    try:
        value = read(text, answer.kind, show=show)
    except InputError as wrong:
        return _unread(text, chosen.turned(answer, show), near / chosen.own_size(unit), wrong)
    if abs(value - answer.value) <= near:
        return Verdict("right", say(Fact("answer right")), value=value)
    if known := mistake(value):
        return known
    if units.is_bare(text) and (other := _other_unit(float(units.number(text, "")), answer, near, unit)):
        return Verdict("other unit", say(Fact("answer in another", other=other, asked=unit.label)), value=value)
    if value > answer.value:
        return Verdict("too much", say(Fact("answer too much")), value=value)
    return Verdict("too little", say(Fact("answer too little")), value=value)


def _unread(text: str, answer: Amount, near: float, problem: InputError) -> Verdict:
    """An answer that is no number of this kind: is its number right, with another unit behind it?"""
    said, word = str(problem), "unread"
    try:
        parts = units.split_amount(str(text), "your answer")
    except InputError:
        parts = None
    if parts and abs(parts[0] - answer.value) <= near:
        word = "other unit"
        said = say(Fact("answer of no such unit", asked=answer.kind.label))
    return Verdict(word, said[:1].upper() + said[1:])


def _other_unit(typed: float, answer: Amount, near: float, asked: Kind) -> str:
    """The unit in which a bare number would be right; "" for none."""
    for name, size in SIBLINGS.get(answer.kind.label, {}).items():
        if abs(typed * size - answer.value) <= near and size != chosen.own_size(asked):
            return name
    return ""
