"""Ratings of both drinks by the same people: the difference, its interval, and how easily chance would do it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError, Told, require
from .counts import MOST_TASTERS

WORDS = ("sweet", "sour", "strong", "smooth", "fizzy", "liking")
LOW, HIGH = 0.0, 10.0
EXACT = 13  # tasters up to whom every way to swap A and B is counted: 2**13 of them


@dataclass(frozen=True, slots=True)
class Rated:
    """How A was rated beside B on one scale.

    Attributes
    ----------
    difference : float
        Mean of A less B.
    low, high : float or None
        Its interval at `level`; None where so few people cannot give one.
    p_value : float
        Chance of a mean difference as large, either way, if A and B were the same.
    p_all : float
        The same, if several scales were asked at once (Holm 1979).
    exact : bool
        Whether all ways to swap A and B were counted; else Student's t.
    """

    word: str
    n: int
    a: float
    b: float
    difference: float
    low: float | None
    high: float | None
    level: float
    p_value: float
    p_all: float
    exact: bool


def rated(a: Sequence[float], b: Sequence[float], word: str = "rating", level: float = 0.95) -> Rated:
    """Ratings of A and B by the same people, in the same order.

    Up to 13 people the interval and p come from every way to swap A and B within a person (Fisher's permutation
    test), which asks for no bell curve; with more from Student's paired t.

    Parameters
    ----------
    a, b : sequence of float
        0 to 10, one a person.
    word : str
        What was rated.
    level : float

    Returns
    -------
    Rated

    Raises
    ------
    InputError
        For ratings that are not 0 to 10, or not of the same people.

    Examples
    --------
    >>> found = rated([6, 7, 5, 8, 6, 7, 9], [4, 6, 5, 5, 5, 4, 6], "sour")
    >>> round(found.difference, 2), round(found.low, 2), round(found.high, 2), round(found.p_value, 4)
    (1.86, 0.5, 3.0, 0.0312)
    """
    for name, values in (("A", a), ("B", b)):
        require(f"ratings of {name}", values, LOW, HIGH)
    of_a, of_b = np.asarray(a, float), np.asarray(b, float)
    if of_a.ndim != 1 or of_a.shape != of_b.shape:
        raise InputError("ratings", Told(f"{of_a.size} of A, {of_b.size} of B"), "one of each by every taster")
    require("tasters", of_a.size, 1, MOST_TASTERS)
    require("level", level, 0.5, 0.999)
    d = of_a - of_b
    exact = d.size <= EXACT
    p_value = _swapped(d) if exact else _student(of_a, of_b)[0]
    low, high = _turned(d, 1 - level) if exact else _student(of_a, of_b, level)[1:]
    return Rated(
        word, d.size, float(of_a.mean()), float(of_b.mean()), float(d.mean()), low, high, level, p_value, p_value, exact
    )


def rated_all(ratings: Mapping[str, tuple[Sequence[float], Sequence[float]]], level: float = 0.95) -> tuple[Rated, ...]:
    """Several scales at once, each p also as it counts among so many (Holm, Scand. J. Statist. 6 (1979), p. 65).

    >>> found = rated_all({"sweet": ([5] * 7, [3] * 7), "sour": ([4, 5, 6, 5, 4, 6, 5], [5, 4, 6, 5, 5, 5, 5])})
    >>> [(one.word, round(one.p_value, 4), round(one.p_all, 4)) for one in found]
    [('sweet', 0.0156, 0.0312), ('sour', 1.0, 1.0)]
    """
    found = [rated(a, b, word, level) for word, (a, b) in ratings.items()]
    worst = 0.0
    for rank, i in enumerate(sorted(range(len(found)), key=lambda i: found[i].p_value)):
        worst = max(worst, min(1.0, (len(found) - rank) * found[i].p_value))
        found[i] = replace(found[i], p_all=worst)
    return tuple(found)


def least_tasters(alpha: float = 0.05) -> int:
    """The fewest tasters whose ratings can show a difference: all of one mind are 2 ways of 2**n.

    >>> least_tasters(0.05), least_tasters(0.01)
    (6, 8)
    """
    return next(n for n in range(1, 99) if 2.0 ** (1 - n) <= alpha)


def _signs(n: int) -> np.ndarray:
    """Every way to swap: 2**n rows of ±1."""
    return 1 - 2 * ((np.arange(2**n)[:, None] >> np.arange(n)) & 1)


def _swapped(d: np.ndarray) -> float:
    from scipy.stats import permutation_test

    if d.size < 2 or not np.any(d):
        return 1.0  # of one taster both ways are as far apart
    found = permutation_test(
        (d,), lambda x, axis: np.mean(x, axis=axis), permutation_type="samples", n_resamples=2**EXACT, vectorized=True
    )
    return float(min(found.pvalue, 1.0))


def _turned(d: np.ndarray, tail: float) -> tuple[float | None, float | None]:
    """Differences that the swaps do not rule out: the test turned around, to a thousandth of the scale."""
    if 2 / 2**d.size > tail:
        return None, None
    signs = _signs(d.size)
    slack = 1e-9 * (1 + np.abs(d).max())

    def kept(shift: float) -> bool:
        means = signs @ (d - shift)
        return 2 * np.mean(means >= abs(means[0]) - slack) > tail

    def end(outside: float) -> float:
        inside = d.mean()
        while abs(outside - inside) > 1e-3:
            middle = (inside + outside) / 2
            inside, outside = (middle, outside) if kept(middle) else (inside, middle)
        return float(inside)

    return end(d.min() - 1.0), end(d.max() + 1.0)


def _student(a: np.ndarray, b: np.ndarray, level: float = 0.95) -> tuple[float, float, float]:
    from scipy.stats import ttest_rel

    d = a - b
    if np.ptp(d) == 0:  # no spread to go by: all of one mind
        return (1.0 if d[0] == 0 else 2.0 ** (1 - d.size)), float(d[0]), float(d[0])
    found = ttest_rel(a, b)
    limits = found.confidence_interval(level)
    return float(found.pvalue), float(limits.low), float(limits.high)
