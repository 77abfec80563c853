"""A table's figure and a bar's own readings of it, joined: normal with normal, which is exact; old readings count less.

>>> found = joined(50, 7, [Reading(53, 1)])
>>> f"{found.value:.2f} ± {found.pm:.2f}"
'52.94 ± 0.99'
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..errors import InputError, Told, require

# Of an instrument's variance, what is its own and stays however often it is read: a judgement.
OWN_SHARE = 0.5
# Beyond so many standard deviations of table and instrument together a value is asked about: once in 370 good ones.
ASKED = 3.0


# The work grows with the cube of the number of readings joined. A 21st of one instrument takes about 0.1 % off the ±,
# since half of the instrument's variance is its own and stays; beyond these, newer readings take the place of older.
MOST_OF_ONE, MOST_JOINED = 20, 60


class Reading(NamedTuple):
    """One reading: its value, about one standard deviation, how long ago [days], and by which instrument.

    `of_instrument` is the part of `sd` that the instrument can answer for, where the thing itself differs from one time
    to the next (pours, fruit, drinks on ice); all of it by default.
    """

    value: float
    sd: float
    age: float = 0.0
    instrument: str = ""
    of_instrument: float | None = None


@dataclass(frozen=True, slots=True)
class Joined:
    """What is held of a figure, and about one standard deviation; by how much readings were found to be less sure than
    their instruments say, as they contradict each other (1: not at all)."""

    value: float
    pm: float
    stretched: float = 1.0


def joined(
    prior: float,
    prior_pm: float,
    readings: Sequence[Reading],
    half_life: float = math.inf,
    own_share: float = OWN_SHARE,
) -> Joined:
    """A table's figure joined with own readings.

    The figure now and at each reading are normal round the table's, with its spread; two days of a seasonal fruit go
    together by a half for each `half_life` between them, so that an old reading counts less and in the end not at all.
    What does not drift is the plain normal-normal rule: precisions add up.

    Parameters
    ----------
    prior, prior_pm : float
        The table's, and about one standard deviation, above 0.
    readings : sequence of Reading
        None of them: the table's comes back.
    half_life : float
        After which two days have half as much in common. [days]
    own_share : float
        Of an instrument's variance, what all its readings have in common, 0 to 1.

    Returns
    -------
    Joined

    Raises
    ------
    InputError
        For a spread that is not above 0, or a share beyond 0 to 1.

    Notes
    -----
    Exact for normal errors: Gelman and others, Bayesian Data Analysis, 3rd edition (2013), 2.5; with drift, an
    Ornstein-Uhlenbeck process seen at some times (a Gaussian process of exponential kernel). Readings that lie further
    apart than their ± and the drift allow have all their ± stretched by the root of chi square over its degrees of
    freedom, as the Particle Data Group does (Review of Particle Physics, introduction, 5.2.2; from memory).

    Examples
    --------
    >>> [round(joined(50, 7, [Reading(57, 1, age)], half_life=30).value, 1) for age in (0, 30, 300)]
    [56.9, 53.4, 50.0]
    """
    require("the table's figure", prior, -1e12, 1e12)
    require("spread of the table's figure", prior_pm, 1e-12, 1e12)
    require("share of an instrument's own", own_share, 0, 1)
    if not readings:
        return Joined(float(prior), float(prior_pm))
    value, sd, age = (
        np.array(row, dtype=float) for row in zip(*((r.value, r.sd, r.age) for r in readings), strict=True)
    )
    if not (np.isfinite(value).all() and (sd > 0).all()):
        raise InputError("reading", Told("without a value or a ±"), "one with both")
    common = prior_pm**2 * _common(age[:, None] - age[None, :], half_life)
    now = prior_pm**2 * _common(age, half_life)
    by = np.unique([r.instrument for r in readings], return_inverse=True)[1]
    shared = np.array([r.sd if r.of_instrument is None else r.of_instrument for r in readings])
    noise = (by[:, None] == by[None, :]) * own_share * np.outer(shared, shared)
    np.fill_diagonal(noise, sd**2)
    stretched = _stretched(value, common + noise)
    solved = np.linalg.solve(common + stretched**2 * noise, np.column_stack([value - prior, now]))
    best, left = prior + now @ solved[:, 0], prior_pm**2 - now @ solved[:, 1]
    return Joined(float(best), float(math.sqrt(max(float(left), 0.0))), stretched)


def _common(days: np.ndarray, half_life: float) -> np.ndarray:
    return np.ones_like(days) if math.isinf(half_life) else 0.5 ** (np.abs(days) / half_life)


def _stretched(value: np.ndarray, covariance: np.ndarray) -> float:
    """The root of chi square over its degrees of freedom, at least 1, of readings about what they have in common."""
    if value.size < 2:
        return 1.0
    weight = np.linalg.solve(covariance, np.ones(value.size))
    off = value - weight @ value / weight.sum()
    return float(max(1.0, np.sqrt(off @ np.linalg.solve(covariance, off) / (value.size - 1))))


def off_by(
    prior: float, prior_pm: float, earlier: Sequence[Reading], new: Reading, half_life: float = math.inf
) -> float:
    """How far a new reading lies from what was to be expected, in standard deviations of both together.

    `earlier` are older or of the same day; their ages, and the new one's, are counted from any day after.

    >>> round(off_by(50, 7, [], Reading(85, 1)), 2)
    4.95
    """
    then = [r._replace(age=r.age - new.age) for r in earlier]
    known = joined(prior, prior_pm, then, half_life)
    return float((new.value - known.value) / math.hypot(known.pm, new.sd))


def shrunk(
    values: Sequence[float] | np.ndarray, sds: Sequence[float] | np.ndarray, spread: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Several of one kind (the lemons of several suppliers), each drawn to what they have in common.

    Parameters
    ----------
    values, sds : arrays
        What was measured of each, and about one standard deviation.
    spread : float
        Standard deviation between them, 0 or more; infinite for nothing in common.

    Returns
    -------
    (best, pm, middle)
        Of each, and what they have in common, with a flat prior on that.

    Notes
    -----
    Gelman and others, Bayesian Data Analysis, 3rd edition (2013), 5.4: with spread 0 all are the pooled mean, with none
    in common each stays as it was measured.

    Examples
    --------
    >>> best, _, middle = shrunk([10, 20], [5, 5], 5)
    >>> best.tolist(), middle
    ([12.5, 17.5], 15.0)
    """
    value, variance = np.asarray(values, dtype=float), np.asarray(sds, dtype=float) ** 2
    if not spread >= 0:
        raise InputError("spread between them", spread, "0 or more")
    weight = np.ones_like(value) if np.isinf(spread) else 1 / (variance + spread**2)
    middle, of_middle = float(weight @ value / weight.sum()), 1 / weight.sum()
    if np.isinf(spread):
        return value, np.sqrt(variance), middle
    kept = spread**2 / (variance + spread**2)  # how much of a measured value stays
    left = kept * variance + (1 - kept) ** 2 * of_middle
    return kept * value + (1 - kept) * middle, np.sqrt(left), middle
