"""Filtering: a cake that grows under a constant pressure (the straight line of Ruth), the classical laws of
blocking, and a head that falls.

Time over volume rises in a straight line with volume: t/V = slope V + intercept. The slope is the
cake's, the intercept the paper's. A compressible cake (milk curd) may bend the line or blind the paper, so
`fit` comes with a test for a bend. Units are those of what is given: seconds and cubic metres, or minutes
and millilitres.

Ruth's equation as in Geankoplis, Transport Processes and Unit Operations, section 14.2. The laws of blocking as
in Hermia, Trans. Inst. Chem. Eng. 60 (1982) 183: at a constant pressure d²t/dV² = k (dt/dV)ⁿ.

>>> line = fit([100, 200, 300, 400], [15, 50, 105, 180])
>>> line.slope, line.intercept, line.time(500)
(0.001, 0.05, 275.0)
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from ..kinds import Number

# --- the laws -------------------------------------------------------------------------------------------


class Law(NamedTuple):
    """How a filter's resistance rises with what has passed, as multiples of the first resistance.

    `k` is an inverse volume: resistance is 1 + k V at first, with all laws.

    Attributes
    ----------
    exponent : float
        Hermia's n.
    resistance : function of (k, volume)
        Over that of the clean filter.
    passed : function of (k, volume)
        Its integral over volume: the time at a constant head, over that of a mL through the clean filter.
    ends : float
        k V where nothing passes any more.
    """

    exponent: float
    resistance: Callable[[Number, Number], Number]
    passed: Callable[[Number, Number], Number]
    ends: float


LAWS = {
    "cake": Law(0.0, lambda k, v: 1 + k * v, lambda k, v: v * (1 + k * v / 2), np.inf),
    "intermediate": Law(1.0, lambda k, v: np.exp(k * v), lambda k, v: np.expm1(k * v) / k, np.inf),
    "standard": Law(1.5, lambda k, v: (1 - k * v / 2) ** -2.0, lambda k, v: v / (1 - k * v / 2), 2.0),
    "complete": Law(2.0, lambda k, v: 1 / (1 - k * v), lambda k, v: -np.log1p(-k * v) / k, 1.0),
}


def slowed(share: Number, depth: float, power: float) -> Number:
    """Volume that a constant head would have driven, where the head falls as (1 - depth share)^power.

    Parameters
    ----------
    share : float or array
        Of the batch that has passed, 0 to 1; the answer is in the same measure.
    depth : float
        Share of the head that is gone at the end, 0 to 1; 1 only with a power below 1.
    power : float
        1 for straight sides, 1/3 for a cone that drains at its tip.

    Examples
    --------
    >>> slowed(np.array([0.5, 1.0]), 0.9, 1.0).round(3)
    array([0.664, 2.558])
    """
    if depth == 0:
        return share
    left = 1 - depth * np.asarray(share, float)
    if power == 1:
        return -np.log(left) / depth
    return (1 - left ** (1 - power)) / (depth * (1 - power))


# --- the straight line of a cake ------------------------------------------------------------------------


class Line(NamedTuple):
    """t/V = slope V + intercept by least squares, with what a band needs; arrays over sets of readings.

    The line is kept about the mean volume `middle`, where its height and slope do not depend on each
    other: far from zero volume the usual form would lose digits.

    Attributes
    ----------
    noise : float or array
        Standard deviation of a t/V of weight 1; infinite with only two readings.
    weight, spread : float or array
        Sum of the weights, and of the weights times (V - middle)².
    r2 : float or array
        Share of the scatter of t/V that the line explains.
    bend : float or array
        What a parabola would add to the line's t at the last reading, as a share of it; 0 below 4 readings.
    bend_odds : float or array
        Chance of at least such a bend if the line is straight (t test); 1 below 4 readings.
    """

    slope: np.ndarray
    intercept: np.ndarray
    noise: np.ndarray
    weight: np.ndarray
    middle: np.ndarray
    spread: np.ndarray
    points: int
    r2: np.ndarray
    bend: np.ndarray
    bend_odds: np.ndarray

    @property
    def covariance(self) -> np.ndarray:
        """Of slope and intercept, shape (..., 2, 2)."""
        scale = self.noise**2
        slope = scale / self.spread
        both = -slope * self.middle
        rows = [[slope, both], [both, scale / self.weight + slope * self.middle**2]]
        return np.moveaxis(np.array(rows, float), (0, 1), (-2, -1))

    def time(self, volume: Number) -> Number:
        """Time in which this volume has passed."""
        return volume * (self.intercept + self.slope * volume)

    def volume(self, time: Number) -> Number:
        """Volume that has passed in this time."""
        return 2 * time / (self.intercept + np.sqrt(self.intercept**2 + 4 * self.slope * time))

    def band(self, volume: Number, level: float = 0.95) -> tuple[np.ndarray, np.ndarray]:
        """Lowest and highest time at this volume that a new reading may show (Student's t)."""
        from scipy.special import stdtrit

        reading = 1.0 + 1.0 / self.weight + (volume - self.middle) ** 2 / self.spread
        wide = stdtrit(max(self.points - 2, 1), 0.5 + level / 2) * self.noise * np.sqrt(reading) * volume
        return self.time(volume) - wide, self.time(volume) + wide


def fit(volumes: Number, times: Number, weights: Number | None = None) -> Line:
    """Slope and intercept of t/V against V.

    Parameters
    ----------
    volumes, times : array, shape (..., n)
        What has passed, above 0, and since when; n along the last axis, not all at one volume.
    weights : array, optional
        One over the variance of each t/V, up to a factor; all alike by default.

    Returns
    -------
    Line
        Floats for one set of readings.
    """
    v, t = np.broadcast_arrays(np.asarray(volumes, float), np.asarray(times, float))
    n, y = v.shape[-1], t / v
    w = np.broadcast_to(1.0 if weights is None else np.asarray(weights, float), v.shape)

    def total(values: Number) -> np.ndarray:
        return (w * values).sum(axis=-1)

    def centred(values: np.ndarray, *against: np.ndarray) -> np.ndarray:
        """Less its mean, and less what it shares with each of `against`."""
        values = values - (total(values) / weight)[..., None]
        for other in against:
            values = values - (total(values * other) / total(other * other))[..., None] * other
        return values

    weight = total(1.0)
    middle, height = total(v) / weight, total(y) / weight
    x = centred(v)
    spread = total(x * x)
    slope = total(x * y) / spread
    rest = centred(y, x)
    left, scatter = total(rest**2), total(centred(y) ** 2)
    flat = scatter <= 1e-24 * total(y * y)
    r2 = np.where(flat, 1.0, 1.0 - left / np.where(flat, 1.0, scatter))
    noise = np.sqrt(left / (n - 2)) if n > 2 else np.full(np.shape(left), np.inf)
    bend, odds = np.zeros(np.shape(left)), np.ones(np.shape(left))
    if n > 3:
        curve = centred(x * x, x)
        square = total(curve * curve)
        c = total(curve * rest) / square
        error = np.maximum(left - c * c * square, 1e-24 * total(y * y)) / (n - 3)
        bend, odds = c * curve[..., -1] / y[..., -1], _chance(np.abs(c) * np.sqrt(square / error), n - 3)
    found = (slope, height - slope * middle, noise, weight, middle, spread, r2, bend, odds)
    first: list[Any] = [float(f) if np.ndim(f) == 0 else f for f in found]
    return Line._make([*first[:6], n, *first[6:]])


def _chance(t: np.ndarray, freedom: int) -> np.ndarray:
    """Two-sided chance of a Student's t this large."""
    from scipy.special import stdtr

    return 2 * stdtr(freedom, -t)
