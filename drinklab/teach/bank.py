"""The bank of exercises: data in `exercises/`, numbers by seed, every answer worked out by the package.

>>> one = problem("let_down", seed=3)
>>> one.answer.kind.label, len(one.wrong) >= 2
('mL', True)
"""

from __future__ import annotations

import functools
import math
import re
import tomllib
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from .. import facts, kinds
from ..display import Display
from ..errors import InputError, one_of, require
from ..kinds import Amount, Kind
from . import chosen, sums
from .chosen import OWN

HERE = Path(__file__).parent
TRIES = 200  # draws for numbers whose wrong answers stand apart
APART = 2.0  # tolerances between the answer and each wrong one; between two wrong ones, one
WEIGHED = ("gram", "joule", "centimeter", "kilopascal")  # what sums hold that do not go by ounces

# Units that only exercises ask for.
OWN_KINDS = {
    "COUNT": Kind("", "dimensionless"),
    "DRINKS": Kind("standard drinks", "dimensionless"),
    "PRICE": Kind("€", "dimensionless"),
    "PERCENT": Kind("%", "percent"),
    "MINUTES": Kind("min", "minute"),
    "HOURS": Kind("h", "hour"),
    "LENGTH": Kind("cm", "centimeter"),
    "BLOOM": Kind("Bloom", "dimensionless"),
    "BRIX": Kind("°Brix", "dimensionless"),
    "GLASSES": Kind("glasses", "dimensionless"),
    "BOTTLES": Kind("bottles", "dimensionless"),
    "DAYS": Kind("days", "day"),
}


def kind_named(name: str) -> Kind:
    """A kind by the name that data has for it.

    >>> kind_named("VOLUME").label
    'mL'
    """
    known = {n: k for n, k in vars(kinds).items() if isinstance(k, Kind)} | OWN_KINDS
    return known[one_of("kind of a number", name, known)]


@dataclass(frozen=True, slots=True)
class Given:
    """A number of an exercise: its kind, and from where to where by which step it is drawn."""

    kind: Kind
    low: float
    high: float
    step: float

    def draw(self, chance: np.random.Generator, show: Display = OWN) -> Amount:
        """One of the numbers, round in the unit chosen."""
        low, step, count = chosen.grid(self.kind, self.low, self.high, self.step, show)
        found = round(low + step * int(chance.integers(0, count + 1)), 6)
        return self.kind(chosen.turned_back(found, self.kind, show))


@dataclass(frozen=True, slots=True)
class Step:
    """A step of the worked solution: a sentence, and a sum with its units, which ends in one of the values."""

    say: str
    sum: str = ""

    @property
    def value(self) -> str:
        """The name of what the sum comes to."""
        names = [name for name, _ in ((n, s) for n, s in facts.pieces(self.sum) if n is not None)]
        return names[-1] if names else ""

    @property
    def left(self) -> str:
        """The sum without what it comes to."""
        return self.sum.rpartition("=")[0].strip()


@dataclass(frozen=True, slots=True)
class Wrong:
    """A known mistake: its name in `MISTAKES`, the naive sum, a hint that names it, and a smaller step."""

    route: str
    sum: str
    hint: str
    smaller: str


@dataclass(frozen=True, slots=True)
class Exercise:
    """An exercise as it stands in the bank."""

    id: str
    topic: str
    title: str
    text: str
    table: str  # what a learner may look up: of the values between, never the answer
    given: Mapping[str, Given]
    solution: str
    answer: str
    tolerance: float  # share of the answer
    steps: tuple[Step, ...]
    wrong: tuple[Wrong, ...]
    in_ml: bool = False  # whether its sums stand in mL, whatever was chosen

    def at(self, numbers: Mapping[str, float], show: Display = OWN) -> Problem:
        """The exercise at given numbers, in the kinds' own units; or next to them, round in the units chosen."""
        if set(numbers) != set(self.given):
            raise InputError(f"numbers of {self.id}", ", ".join(numbers), f"those of {', '.join(self.given)}")
        given = {name: chosen.nearest(self.given[name].kind(numbers[name]), show) for name in self.given}
        return _problem(self, given, show)

    def drawn(self, seed: int, show: Display = OWN) -> Problem:
        """The exercise at numbers by a seed, such that each known mistake gives a clearly different answer."""
        chance = np.random.default_rng([zlib.crc32(self.id.encode()), seed])
        for _ in range(TRIES):
            made = _problem(self, {name: one.draw(chance, show) for name, one in self.given.items()}, show)
            if made.stands_apart():
                return made
        raise InputError(
            f"exercise {self.id!r}", seed, "one whose wrong answers stand apart; its ranges are too narrow"
        )


@dataclass(frozen=True, slots=True)
class Problem:
    """An exercise at numbers, with its answer and what each known mistake gives."""

    exercise: Exercise
    given: Mapping[str, Amount]
    values: Mapping[str, Amount]
    wrong: Mapping[str, float]  # by route, in the answer's own unit
    show: Display = OWN  # the units chosen

    @property
    def answer(self) -> Amount:
        """The right answer."""
        return self.values[self.exercise.answer]

    @property
    def near(self) -> float:
        """How far from the answer is still right, in its own unit."""
        return self.exercise.tolerance * abs(self.answer.value)

    def stands_apart(self) -> bool:
        """Whether no mistake comes near the answer or another mistake, and each gives an amount one could mean."""
        found = list(self.wrong.values())
        if any(value <= 0 or abs(value - self.answer.value) < APART * self.near for value in found):
            return False
        return all(abs(a - b) >= self.near for i, a in enumerate(found) for b in found[:i])

    @property
    def unit(self) -> Kind:
        """What the answer is asked in."""
        return chosen.kind_in(self.answer.kind, self.show)

    @property
    def by_ml(self) -> bool:
        """Whether other units were chosen than its sums stand in, so that numbers have to be turned first."""
        if self.show == OWN or all(chosen.kind_in(one.kind, self.show) is one.kind for one in self._all.values()):
            return False
        units = {one.kind.unit.partition("/")[0] for one in self._all.values()}
        return self.exercise.in_ml or not units.isdisjoint(WEIGHED)

    @property
    def _all(self) -> dict[str, Amount]:
        return {**self.given, **self.values}

    @property
    def _words(self) -> dict[str, str]:
        """Units as sentences name them: of the answer, of volumes, of gauges."""
        short = [one.label.removesuffix(" gauge") for one in (
            self.unit, *(chosen.kind_in(kind, self.show) for kind in (kinds.VOLUME, kinds.GAUGE_PRESSURE))
        )]  # fmt: skip
        return dict(zip(("unit", "measure", "press"), short, strict=True))

    @property
    def in_sums(self) -> dict[str, Amount]:
        """Every number as sums have it; with `_asked` behind its name as the question has it."""
        if not self.by_ml:
            return {name: chosen.turned(one, self.show) for name, one in self._all.items()}
        turned = [name for name, one in self._all.items() if chosen.kind_in(one.kind, self.show) is not one.kind]
        asked = {f"{name}_asked": chosen.turned(self._all[name], self.show) for name in turned}
        return self._all | {name: chosen.four_digits(one) for name, one in self.given.items() if name in turned} | asked

    @property
    def way(self) -> tuple[Step, ...]:
        """The steps of the exercise, and those that turn units before and after."""
        steps = self.exercise.steps
        if not self.by_ml:
            return steps
        used = {name for step in steps for name in names_in(step.sum)}
        before = [
            Step(*chosen.way_back(name, one, self.show)) for name, one in self.given.items()
            if name in used and chosen.kind_in(one.kind, self.show) is not one.kind
        ]  # fmt: skip
        spec = list(facts.pieces(steps[-1].sum))[-1][1]
        after = [Step(*chosen.way_there(self.exercise.answer, spec, self.answer, self.show))]
        return (*before, *steps, *(after if self.unit is not self.answer.kind else []))

    def filled(self, template: str) -> str:
        """A template of the exercise with its numbers, as its sums have them."""
        return facts.fill(template, {**self._words, **self.in_sums}, chosen.say)

    def told(self, template: str) -> str:
        """A template with what is given, and how warm anything is, in the units chosen."""
        given = {name: chosen.turned(one, self.show) for name, one in self._all.items()
                 if name in self.given or one.kind is kinds.TEMPERATURE}  # fmt: skip
        return facts.fill(template, {**self._words, **self.in_sums, **given}, chosen.say)

    def text(self) -> str:
        """The question."""
        return self.told(self.exercise.text)

    def table(self) -> str:
        """What may be looked up for it; "" where nothing is needed."""
        return self.told(self.exercise.table)

    def steps(self) -> list[tuple[str, str]]:
        """Each step of the worked solution: its sentence and its sum."""
        return [(self.filled(s.say), self.filled(s.sum)) for s in self.way]

    def asked(self, step: int) -> str:
        """The sentence of a step that is left out, without any sentence that holds what is asked from here on."""
        hidden = {one.value for one in self.way[step:]}
        sentences = re.split(r"(?<=[.?!]) ", self.way[step].say)
        return " ".join(self.filled(text) for text in sentences if not hidden & set(names_in(text)))

    def step_value(self, step: int) -> tuple[Amount, Display]:
        """What a step of `way` comes to, in the kind's own unit, and the units in which it is asked."""
        name = self.way[step].value
        known = self._all[name.removesuffix("_asked")]
        return known, OWN if self.by_ml and not name.endswith("_asked") else self.show

    def says(self, value: float, as_given: bool = False) -> str:
        """An answer, right or wrong, in the unit asked for; it comes in the kind's own."""
        return written(chosen.turned(self.answer.kind(value), self.show), as_given)


def _problem(exercise: Exercise, given: dict[str, Amount], show: Display = OWN) -> Problem:
    values = sums.solve(exercise.solution, given)
    if exercise.answer not in values:
        raise InputError(f"answer of {exercise.id}", exercise.answer, f"one of {', '.join(values)}")
    wrong = {one.route: sums.mistaken(one.sum, given) for one in exercise.wrong}
    return Problem(exercise, given, values, wrong, show)


def written(amount: Amount, as_given: bool = False) -> str:
    """An amount as lessons show it: three digits, or those that it was given with.

    >>> written(kinds.VOLUME(18.4255)), written(kinds.VOLUME(382.66)), written(kinds.VOLUME(382.66), as_given=True)
    ('18.4 mL', '383 mL', '382.66 mL')
    """
    if as_given:
        return facts.own(amount, "g")
    digits = 2 - math.floor(math.log10(abs(amount.value))) if amount.value else 0
    return facts.own(amount, f".{min(max(digits, 0), 4)}")


# --- reading the bank -------------------------------------------------------------------------------------------


@functools.cache
def exercises() -> dict[str, Exercise]:
    """All of them, by name, in the order of the files.

    >>> exercises()["let_down"].topic
    'strength'
    """
    found = {}
    for file in sorted((HERE / "exercises").glob("*.toml")):
        for row in tomllib.loads(file.read_text(encoding="utf-8")).get("exercise", []):
            one = read(row, f"{file.name}, {row.get('id', 'no id')}")
            if one.id in found:
                raise InputError("id of an exercise", one.id, "used once", file.name)
            found[one.id] = one
    return found


@functools.cache
def mistakes() -> dict[str, str]:
    """What each known mistake is called on a trainer's page.

    >>> mistakes()["forgot_contraction"]
    'Added volumes up: forgot that they shrink'
    """
    return tomllib.loads((HERE / "mistakes.toml").read_text(encoding="utf-8"))


def read(row: Mapping[str, Any], where: str, at_numbers: bool = False) -> Exercise:
    """An exercise from its data; with `at_numbers`, one of fixed numbers that needs no ranges (a lesson's guess)."""
    try:
        given = {name: _given(one, at_numbers) for name, one in row["given"].items()}
        return Exercise(
            row["id"], row["topic"], row.get("title", ""), row["text"], row.get("table", ""), given, row["solution"],
            row["answer"], float(row["tolerance"]), tuple(Step(**step) for step in row.get("steps", ())),
            tuple(Wrong(**wrong) for wrong in row.get("wrong", ())), bool(row.get("in_ml", False)),
        )  # fmt: skip
    except KeyError as missing:
        raise InputError("exercise", f"without {missing.args[0]}", "whole", where) from None
    except TypeError as error:
        raise InputError("exercise", str(error), "of the fields that the guide names", where) from None


def _given(row: Mapping[str, Any], at_numbers: bool) -> Given:
    kind = kind_named(row["kind"])
    if at_numbers:
        return Given(kind, row["value"], row["value"], 1.0)
    require("step of a range", row["step"], 1e-9, 1e9)
    return Given(kind, float(row["low"]), float(row["high"]), float(row["step"]))


def exercise(name: str) -> Exercise:
    """One exercise by its name.

    >>> exercise("let_dwn")
    Traceback (most recent call last):
    drinklab.errors.InputError: exercise is 'let_dwn'; it must be one of ... (did you mean let_down?).
    """
    known = exercises()
    return known[one_of("exercise", name, known)]


def problem(name: str, seed: int, show: Display = OWN) -> Problem:
    """An exercise at the numbers of a seed."""
    return exercise(name).drawn(seed, show)


def seed_of(learner: str, name: str, count: int = 0) -> int:
    """The seed of a learner's numbers for an exercise, another one each time.

    >>> seed_of("A7", "let_down") != seed_of("A8", "let_down")
    True
    """
    return zlib.crc32(f"{learner.casefold()}/{name}/{count}".encode())


def by_topic() -> dict[str, list[Exercise]]:
    """The exercises of each topic."""
    found: dict[str, list[Exercise]] = {}
    for one in exercises().values():
        found.setdefault(one.topic, []).append(one)
    return found


def names_in(template: str) -> Iterator[str]:
    """The values that a template speaks of."""
    return (name for name, _ in facts.pieces(template) if name is not None)
