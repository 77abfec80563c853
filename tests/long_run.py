"""How much of what could be tried is tried: DRINKLAB_LONG=1 tries all, every other day a share of it.

Of a long list a dozen is taken, another one each day; DRINKLAB_DAY=2027-01-31 takes that day's.
"""

import os
import random
from collections.abc import Sequence
from datetime import date

import pytest

LONG = bool(os.environ.get("DRINKLAB_LONG"))
# Set for the workers of pytest-xdist too: they must all find the same tests, also at midnight.
DAY = os.environ.setdefault("DRINKLAB_DAY", date.today().isoformat())


def dozen(items, count: int = 12) -> list:
    """The day's dozen of them, in their order; all of them in a long run."""
    items = list(items)
    if LONG or len(items) <= count:
        return items
    return [items[i] for i in sorted(random.Random(DAY).sample(range(len(items)), count))]


def some(items: Sequence, count: int = 12) -> list:
    """For `parametrize`: all of them, those that are not of the day's dozen marked `nightly`."""
    picked = set(dozen(range(len(items)), count))
    return [
        item
        if i in picked
        else pytest.param(*(item if isinstance(item, tuple) else (item,)), marks=pytest.mark.nightly)
        for i, item in enumerate(items)
    ]


def examples(many: int) -> int:
    """How many examples a law is tried with, of `many` in a long run."""
    return many if LONG else max(many // 4, 5)
