"""What a learner can do, and when to practise it again.

An exercise climbs one box each time that it is solved at the first go, without help, when it is due; a miss sends it
back to the first box (boxes: S. Leitner, *So lernt man lernen*, 1972). It is due again after 1, 2, 4, 8 and 16 days
(C. A. Mace, *The Psychology of Study*, 1932); both as later accounts tell them. Waits that grow kept more words in mind
over four weeks than equal ones, and as many eight weeks later (Kang, Lindsey, Mozer and Pashler, *Psychonomic Bulletin
& Review* 21, 2014).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from . import bank, lessons
from .progress import Attempt, Learner

DAYS = (0, 1, 2, 4, 8, 16)  # to wait in each box; box 0 is what was missed last
MISSED = ("mistake", "too much", "too little", "worked shown")
_NEXT = 3  # exercises that a trainer is told of each learner


@dataclass(frozen=True, slots=True)
class Standing:
    """How a learner stands with an exercise."""

    exercise: str
    box: int  # 0: missed last time
    due: datetime
    times: int  # numbers that were tried

    @property
    def can(self) -> bool:
        """Whether it was solved at the first go, last time."""
        return self.box > 0


def standing(attempts: Iterable[Attempt]) -> Standing | None:
    """How a learner stands with one exercise, from all attempts at it; None where none counts.

    >>> def at(day, word, seed):
    ...     return Attempt("let_down", seed, f"2027-03-{day:02}T18:00:00", "", word)
    >>> one = standing([at(1, "right", 1), at(2, "right", 2), at(2, "right", 3)])
    >>> one.box, one.due.day
    (2, 4)
    >>> standing([at(1, "right", 1), at(2, "mistake", 2), at(2, "right", 2)]).box
    0
    """
    by_seed: dict[int, list[Attempt]] = {}
    for one in attempts:
        if one.word == "right" or one.word in MISSED:
            by_seed.setdefault(one.seed, []).append(one)
    found: Standing | None = None
    for tried in by_seed.values():
        first, times = tried[0], found.times if found else 0
        on_time = found is None or first.at.date() >= found.due.date()
        if first.word != "right" or first.hints:
            box = 0
        elif found is None or on_time:
            box = min((found.box if found else 0) + 1, len(DAYS) - 1)
        else:  # before its day it proves nothing new
            found = Standing(first.exercise, found.box, found.due, times + 1)
            continue
        found = Standing(first.exercise, box, first.at + timedelta(days=DAYS[box]), times + 1)
    return found


def standings(learner: Learner) -> dict[str, Standing]:
    """How a learner stands with each exercise that was tried and that there still is."""
    known = bank.exercises()
    names = dict.fromkeys(one.exercise for one in learner.attempts if one.exercise in known)
    found = {name: standing(learner.tries(name)) for name in names}
    return {name: one for name, one in found.items() if one is not None}


def due(learner: Learner, now: datetime) -> list[str]:
    """Exercises that are due again, the longest overdue first."""
    waiting = (one for one in standings(learner).values() if one.due <= now)
    return [one.exercise for one in sorted(waiting, key=lambda one: (one.due, one.box))]


def next_to_practise(learner: Learner, now: datetime) -> list[str]:
    """Exercises to take next: what is due, the longest overdue first, then the first that were never tried."""
    stands = standings(learner)
    new = [name for lesson in lessons.ids() for name in lessons.lesson(lesson).yours if name not in stands]
    new += [name for name in bank.exercises() if name not in stands and name not in new]
    return [*due(learner, now), *new][:_NEXT]


def common_mistakes(learners: Iterable[Learner]) -> list[tuple[str, int, int, list[str]]]:
    """Each known mistake that was made: its name, how many learners and how many times, and in which exercises.

    The one that most learners made comes first. What a file says of an exercise that there is not does not count.
    """
    known = bank.exercises()
    times: Counter[str] = Counter()
    who: dict[str, set[str]] = {}
    where: dict[str, Counter[str]] = {}
    for learner in learners:
        for one in learner.attempts:
            if one.word == "mistake" and one.route in bank.mistakes() and one.exercise in known:
                times[one.route] += 1
                who.setdefault(one.route, set()).add(learner.code)
                where.setdefault(one.route, Counter())[one.exercise] += 1
    rows = [
        (route, len(who[route]), n, [name for name, _ in where[route].most_common(3)]) for route, n in times.items()
    ]
    return sorted(rows, key=lambda row: (-row[1], -row[2], row[0]))
