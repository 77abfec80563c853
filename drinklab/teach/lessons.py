"""Lessons: data in `lessons/`, each of one shape: goal, guess, panel, worked, half worked, yours, why, summary, next.

>>> one = lesson("01_strength")
>>> one.minutes, one.guess.answer.kind.label
(25, 'mL')
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..display import Display
from ..errors import InputError, one_of
from . import bank
from .bank import Problem
from .chosen import OWN

HERE = Path(__file__).with_name("lessons")


@dataclass(frozen=True, slots=True)
class Option:
    """An answer to choose under "why", whether it is right, and a sentence on it."""

    text: str
    say: str
    right: bool = False


@dataclass(frozen=True, slots=True)
class Why:
    """Which principle was it? A question with options, one of them right."""

    ask: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson as its file has it; `guess`, `worked` and `half` are problems at numbers."""

    id: str
    title: str
    minutes: int
    needs: str
    goal: tuple[str, ...]
    guess: Problem
    after_guess: str  # what stands under guess and answer
    opens: str  # the panel that shows the guess's case, by its title; "" for the first
    worked: Problem
    half: tuple[Problem, ...]  # one a round; each leaves out one step more
    yours: tuple[str, ...]  # exercises
    why: Why
    summary: tuple[str, ...]
    next: str
    next_say: str
    plan: tuple[tuple[int, str], ...]  # minutes and what a trainer does

    def sections(self) -> dict[str, str]:
        """The text of each section, in the order that a learner reads it."""
        return {
            "goal": " ".join([*self.goal, self.needs]),
            "guess": f"{self.guess.text()} {self.guess.told(self.after_guess)}",
            "worked": " ".join([self.worked.text(), *(say for say, _ in self.worked.steps())]),
            "half": " ".join(one.text() for one in self.half),
            "yours": " ".join(bank.exercise(name).drawn(0).text() for name in self.yours),
            "why": " ".join([self.why.ask, *(f"{o.text} {o.say}" for o in self.why.options)]),
            "summary": " ".join(self.summary),
            "next": self.next_say,
        }


def ids() -> tuple[str, ...]:
    """The lessons there are, in order.

    >>> ids()[:2]
    ('01_strength', '02_dilution')
    """
    return tuple(sorted(path.stem for path in HERE.glob("*.toml")))


def find(name: str) -> str:
    """A lesson by its id, its number or its topic.

    >>> find("02"), find("dilution"), find("2")
    ('02_dilution', '02_dilution', '02_dilution')
    """
    known = ids()
    short = str(name).strip().removesuffix(".ipynb")
    found = [one for one in known if short == one or short.zfill(2) == one[:2] or short == one[3:]]
    return found[0] if found else one_of("lesson", str(name), known)


@functools.cache
def lesson(name: str, show: Display = OWN) -> Lesson:
    """A lesson by its id, with the numbers of its problems round in the units chosen.

    >>> lesson("1_strength")
    Traceback (most recent call last):
    drinklab.errors.InputError: lesson is '1_strength'; it must be one of ... (did you mean 01_strength...
    """
    one_of("lesson", name, ids())
    file = HERE / f"{name}.toml"
    try:
        return read(tomllib.loads(file.read_text(encoding="utf-8")), name, show)
    except KeyError as missing:
        raise InputError("lesson", f"without {missing.args[0]}", "whole", file.name) from None


def read(data: Mapping[str, Any], name: str, show: Display = OWN) -> Lesson:
    """A lesson from its data."""
    guess = data["guess"]
    asked = bank.read(
        {"id": f"{name}, guess", "topic": name, "tolerance": 0.05, **{k: v for k, v in guess.items() if k != "after"}},
        name,
        at_numbers=True,
    )
    worked, half, why = data["worked"], data["half"], data["why"]
    one = bank.exercise(worked["exercise"])
    options = tuple(Option(**option) for option in why["options"])
    if sum(option.right for option in options) != 1:
        raise InputError("options of why", f"{sum(o.right for o in options)} right ones", "with one right", name)
    return Lesson(
        name, data["title"], int(data["minutes"]), data["needs"], tuple(data["goal"]),
        asked.at({n: g.low for n, g in asked.given.items()}, show), guess["after"],
        guess.get("opens", ""), one.at(worked["numbers"], show),
        tuple(bank.exercise(half.get("exercise", one.id)).at(numbers, show) for numbers in half["numbers"]),
        tuple(data["yours"]["exercises"]), Why(why["ask"], options), tuple(data["summary"]["lines"]),
        data["next"]["lesson"], data["next"]["say"],
        tuple((int(row["minutes"]), row["say"]) for row in data.get("plan", ())),
    )  # fmt: skip
