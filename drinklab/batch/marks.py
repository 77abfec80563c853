"""What a bar can measure: amounts at the marks of its measures. All marks are common practice, no published source."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..display import Display
from ..units import FLUID_OUNCE

# Up to so much is measured by marks so far apart: a small measure, a jug, a large jug, a bucket.
_ML = ((25.0, 0.5), (100.0, 1.0), (250.0, 5.0), (1000.0, 10.0), (10_000.0, 50.0), (float("inf"), 100.0))
_OZ = tuple(
    (most * FLUID_OUNCE, mark * FLUID_OUNCE)
    for most, mark in ((4, 0.125), (8, 0.25), (32, 0.5), (320, 2.0), (float("inf"), 4.0))
)
_GRAMS = ((10.0, 0.1), (5000.0, 1.0), (float("inf"), 5.0))


def _at_a_mark(amount: float, marks: Sequence[tuple[float, float]]) -> float:
    mark = next(mark for most, mark in marks if amount <= most)
    # What is too little for the measure at hand is measured by a finer one: nothing is rounded away.
    while amount > 0 and round(amount / mark) < 4 and mark > 0.01:
        mark /= 2
    return round(amount / mark) * mark


def measured(ml: float, tool: str, show: Display, density: float = 1.0, dry: bool = False) -> float:
    """An amount as it can be measured. [mL]

    Parameters
    ----------
    ml : float
        [mL]
    tool : str
        A key of `setting.TOOLS`: a scale weighs it, "exact" leaves it as it is, the others pour it by marks.
    show : Display
        Marks in mL or in ounces.
    density : float
        [g/mL]
    dry : bool
        What is weighed whatever the tool.

    Examples
    --------
    >>> measured(2713.2, "jigger", Display()), measured(2713.2, "scale", Display(), 0.95)
    (2700.0, 2713.7)
    >>> measured(2713.2, "jigger", Display("oz")) / FLUID_OUNCE, measured(3.3, "jigger", Display())
    (92.0, 3.5)
    """
    if tool == "exact":
        return float(ml)
    marks, one = _marks(tool, show, density, dry)
    return _at_a_mark(ml / one, marks) * one


def _marks(tool: str, show: Display, density: float, dry: bool) -> tuple[tuple[tuple[float, float], ...], float]:
    """Marks of what an amount is measured with, and one of their unit [mL]."""
    if tool == "scale" or dry:
        return _GRAMS, 1 / density
    return (_OZ if show.volume == "oz" else _ML), 1.0


def marked(most: float, tool: str, show: Display, density: float = 1.0, dry: bool = False) -> np.ndarray:
    """Every amount up to `most` that has a mark of its own, from the smallest; arguments as for `measured`. [mL]

    An exact tool has none, and is taken to pour to the tenth of a millilitre.

    >>> marked(3, "jigger", Display()), len(marked(60, "scale", Display()))
    (array([0.5  , 0.625, 0.75 , 1.   , 1.25 , 1.5  , 2.   , 2.5  , 3.   ]), 153)
    """
    if tool == "exact":
        return np.arange(1, int(most / 0.1 + 1e-9) + 1) * 0.1
    marks, one = _marks(tool, show, density, dry)
    finest = marks[0][1]
    found = [finest * np.arange(4, 7) / 4, finest * np.arange(4, 7) / 2]  # below four marks, halves and quarters of one
    low = 4 * finest
    for high, mark in marks:
        end = min(high, most / one)
        found.append(mark * np.arange(np.ceil(low / mark - 1e-9), np.floor(end / mark + 1e-9) + 1))
        if high >= most / one:
            break
        low = high + mark / 2
    ml = np.concatenate(found) * one
    return ml[ml <= most * (1 + 1e-9)]
