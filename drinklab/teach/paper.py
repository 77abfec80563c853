"""A lesson on paper: a sheet for each learner, the key apart, a plan for a trainer, a summary card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as _date
from pathlib import Path

from .. import __version__, files
from ..display import Display
from ..errors import InputError, Told, one_of
from ..units import number, whole_number
from ..writeup.filling import template
from ..writeup.pdf import pdf
from . import bank, glossary, progress
from .bank import Problem
from .chosen import OWN
from .lessons import Lesson

FOLDER = "paper"
PAPERS = ("A4", "Letter")
MOST_LEARNERS = 60


@dataclass(frozen=True, slots=True)
class Sheet:
    """What one learner gets."""

    code: str
    half: tuple[Problem, ...]
    problems: tuple[Problem, ...]


def codes(learners: int | Sequence[str]) -> list[str]:
    """Codes of so many learners, or those given.

    >>> codes(3), codes(["A7", "Bo"])
    (['L1', 'L2', 'L3'], ['A7', 'Bo'])
    """
    if isinstance(learners, (str, int, float)):
        count = counted(learners, "learners", MOST_LEARNERS)
        return [f"L{i + 1}" for i in range(count)]
    found = {code.casefold(): code for code in reversed([progress.checked_code(code) for code in learners])}
    if len(found) > MOST_LEARNERS:
        raise InputError("learners", Told(f"{len(found)} codes"), f"at most {MOST_LEARNERS}")
    return list(reversed(found.values()))


def counted(value: object, field: str, most: int) -> int:
    """How many, also as it is typed: from 1 to `most`.

    >>> counted("8", "learners", 60)
    8
    """
    found = number(value, field)
    return whole_number(int(found) if float(found).is_integer() else value, field, 1, most)


def sheets(lesson: Lesson, learners: int | Sequence[str], seed: int = 1, show: Display = OWN) -> list[Sheet]:
    """Sheets of a lesson, each learner's numbers by code and seed, round in the units chosen."""
    half = lesson.worked.exercise
    return [
        Sheet(
            code,
            tuple(half.drawn(bank.seed_of(code, f"paper {half.id}", 10 * seed + i), show) for i in range(2)),
            tuple(bank.problem(name, bank.seed_of(code, f"paper {name}", seed), show) for name in lesson.yours),
        )
        for code in codes(learners)
    ]


def shown_worked(lesson: Lesson, show: Display = OWN) -> Problem:
    """The worked example for paper: at other numbers than the guess, whose answer would stand under it."""
    return lesson.worked.exercise.drawn(bank.seed_of("paper", f"{lesson.id} worked"), show)


def pages(
    lesson: Lesson, learners: int | Sequence[str], paper: str = "A4", seed: int = 1, date: _date | None = None,
    show: Display = OWN,
) -> dict[str, str]:  # fmt: skip
    """The pages of a lesson, each by its suffix: sheets, key, plan, card; in the units of `show`, as the lesson is.

    Raises
    ------
    InputError
        For another paper, or no number of learners.
    """
    one_of("paper", paper, PAPERS)
    drawn = sheets(lesson, learners, seed, show)
    said = " ".join([*lesson.goal, *lesson.summary])
    used = {word.word: word for _, word in glossary.split(said) if word}
    shared = {
        "version": __version__, "lesson": lesson, "paper": paper, "date": f"{date or _date.today():%d %B %Y}",
        "seed": seed, "sheets": drawn, "worked": shown_worked(lesson, show),
        "mistakes": bank.mistakes(), "words": [used[word] for word in sorted(used, key=str.casefold)],
    }  # fmt: skip
    return {
        f".{name}.html": template(f"lesson_{name}.html.j2").render(**shared)
        for name in ("sheets", "key", "plan", "card")
    }


def save(
    lesson: Lesson, folder: str | Path, learners: int | Sequence[str], paper: str = "A4", seed: int = 1,
    date: _date | None = None, show: Display = OWN,
) -> list[Path]:  # fmt: skip
    """Write the pages as new files under `folder`/paper; nothing is overwritten."""
    made = pages(lesson, learners, paper, seed, date, show)
    return files.write_new(Path(folder) / FOLDER, lesson.id, made)


def as_pdf(made: Sequence[Path]) -> list[Path]:
    """The pages as PDF files beside them, printed by a browser of this computer.

    Raises
    ------
    InputError
        If there is no browser that can; the pages stay, to be printed by hand.
    """
    return [pdf(path) for path in made]
