"""Which filters may have made a log: the laws of blocking and the heads of `filtration`, weighed by what was read.

Each law, with each head, each rate of blocking and each first pace on a grid, is weighed by Bayes' rule: by what common
practice says of the time for half a litre (with long tails), and by how well it meets the readings. About each,
readings scatter and the pace wanders, as much as the readings themselves show. Minutes and millilitres.

>>> log = Log.of(np.array([30.0, 60, 90, 120]), np.array([100.0, 160, 207, 246]), 500.0)
>>> versions = weighed(log, KEPT)
>>> round(float(np.median(versions.minutes(np.array([246.0, 500.0]))[-1])), -2)
300.0
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ..kinds import Number
from .filtration import LAWS, Law, slowed

Paper = tuple[float, np.ndarray, np.ndarray]  # as in `Log.papers`
Heads = Sequence[tuple[float, float, float]]  # as in `KEPT`

# Before any reading: half a litre through one paper takes about half a day. Common practice, no published
# source; the factor holds 19 filters in 20: 3 to 20 hours. [min], [mL]
USUAL_TIME, USUAL_TIME_FACTOR, USUAL_VOLUME = 480.0, 2.5, 500.0
# By how much a filter slows: its time for the batch (or half a litre, if that is more) at a constant head, beyond a
# clean filter's and over it. What is usual, and a factor about it (a Student's t of 4 degrees). A judgement: a cake's
# paper is a quarter of the whole; pores that narrow or close slow less, until they are all but closed.
USUAL_SLOWING = {"cake": (3.0, 2.7), "intermediate": (2.5, 2.5), "standard": (0.8, 2.0), "complete": (0.6, 2.0)}
# Law, whether it closes before as much is through, and how likely that is before any reading. A judgement: no law is
# favoured, and most filters get through.
SHEETS = (
    ("cake", False, 0.25), ("intermediate", False, 0.25), ("standard", False, 0.22), ("complete", False, 0.22),
    ("standard", True, 0.03), ("complete", True, 0.03),
)  # fmt: skip
# How a head falls in a funnel that is filled once: share of it gone at the end, power (`filtration.slowed`), how
# likely. A cone drains at its tip (1/3) or its wall (up to 1), straight sides at the bottom (1); what curd and paper
# keep leaves some head at the end. A judgement.
KEPT = ((0.0, 1.0, 1.0),)
FALLING = (
    (1.0, 1 / 3, 0.2), (1.0, 2 / 3, 0.1), (0.6, 1.0, 0.1), (0.8, 1.0, 0.1), (0.9, 1.0, 0.15), (0.96, 1.0, 0.15),
    (0.99, 1.0, 0.1), (0.999, 1.0, 0.1),
)  # fmt: skip
# What readings scatter by, and a filter wanders: of the time so far, and of the pace over an e-fold of volume; three
# mixtures, alike likely before any reading; how large they are is worth `WORTH` readings. A judgement.
NOISES, WORTH = ((0.05, 0.07), (0.03, 0.15), (0.015, 0.3)), 4
# Of two papers' resistance: seating and wetting make a coffee paper up to twice another (400 mL of dirty water in 63,
# 120 and 69 s; a student's course log, 2018).
PAPER_SPREAD = 0.3
# Beyond all that, of the time that is left. A judgement.
DRIFT = 0.05
# A reading may be off by this share of the batch; and below this share a filter is still finding its pace.
SMALL, FIRST = 0.02, 0.1
# Versions of the filter that the band is read from, and points of the grid over paces.
_VERSIONS, _PACES = 1200, 29
_MOST_READINGS = 24  # evenly chosen from a longer log


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """A log, of one filter and paper by paper; a reading at a change belongs to the old paper.

    Attributes
    ----------
    papers : tuple of (begun, x, y)
        For each paper what had passed before it [mL], then what had passed it [mL] and how long it had been in [min].
    batch, returned : float
        What is to pass this filter, what was poured back among it. [mL]
    passed : float
        Through the present paper. [mL]
    scatter, wander, seating : arrays, (n, n)
        Covariances of log y: of readings, of the pace (to be scaled by `NOISES`) and between papers.
    towards : array, (n,)
        Covariance of log y with the pace of now, which wanders by `since`.
    """

    papers: tuple[Paper, ...]
    batch: float
    returned: float
    filters: int
    passed: float
    scatter: np.ndarray
    wander: np.ndarray
    seating: np.ndarray
    towards: np.ndarray
    since: float

    @classmethod
    def of(
        cls,
        t: np.ndarray,
        v: np.ndarray,
        total: float,
        filters: int = 1,
        starts: Sequence[float] | np.ndarray = (0.0,),
        returned: float = 0.0,
    ) -> Log:
        """From minutes and what has run through all filters, which began, or got new paper, at `starts`."""
        each = (v + returned) / filters
        papers = _thinned(by_paper(t, v, filters, starts, returned))
        passed = max(float(each[-1]) - papers[-1][0], 0.0) if t.size and v[-1] > 0 else 0.0
        x = np.concatenate([paper[1] for paper in papers])
        own = [np.full(paper[1].size, i) for i, paper in enumerate(papers)]
        same = np.equal.outer(np.concatenate(own), np.concatenate(own))
        batch = (total + returned) / filters
        # The pace of a stretch wanders as a random walk along `s`; the time so far is a mean of the stretches' paces.
        s = [_walked(np.append(0.0, paper[1]), batch) for paper in papers]
        middle = np.concatenate([(a[1:] + a[:-1]) / 2 for a in s])
        means = np.zeros((x.size, x.size))
        means[same] = np.concatenate([(np.diff(y, prepend=0.0) / y[:, None]).ravel() for _, _, y in papers])
        means = np.tril(means)
        last = same[-1] if x.size and papers[-1][1].size else np.zeros(x.size, bool)
        since = float(_walked(passed, batch))
        return cls(
            tuple(papers), batch, returned / filters, filters, passed,
            np.diag(1 + (SMALL * batch / x) ** 2),
            means @ (same * np.minimum.outer(middle, middle)) @ means.T,
            1.0 * (same & ~np.logical_and.outer(last, last)),
            means @ (last * np.minimum(middle, since)), since,
        )  # fmt: skip

    def share(self, x: np.ndarray, begun: float) -> np.ndarray:
        """Of the batch, gone from the funnel when this paper has passed `x`."""
        return np.clip((begun + x - self.returned) / (self.batch - self.returned), 0.0, 1.0)


def by_paper(
    t: np.ndarray, v: np.ndarray, filters: int = 1, starts: Sequence[float] | np.ndarray = (0.0,), returned: float = 0.0
) -> list[Paper]:
    """For each paper of one filter: what had passed before it, what had passed it at each reading, and its minutes."""
    each = (v + returned) / filters
    papers: list[Paper] = []
    for start, end in itertools.pairwise([*starts, np.inf]):
        begun = float(np.interp(start, t, each)) if start > 0 else 0.0
        used = (t > start) & (t <= end) & (each > begun) & (v > 0)
        papers.append((begun, each[used] - begun, t[used] - start))
    return papers


def _thinned(papers: list[Paper]) -> list[Paper]:
    """At most `_MOST_READINGS`, evenly chosen, the last of each paper among them."""
    every = -(-sum(paper[1].size for paper in papers) // _MOST_READINGS)
    return [(b, x[::-1][::every][::-1], y[::-1][::every][::-1]) for b, x, y in papers] if every > 1 else papers


def _walked(x: Number, batch: float) -> np.ndarray:
    return np.log1p(np.asarray(x) / (FIRST * batch))


def _driven(law: Law, k: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Time from point to point of x, at a constant head, over that of a mL through the clean filter."""
    ends = law.ends / k
    with np.errstate(over="ignore"):
        passed = np.where(x[:, None] < ends, law.passed(k, np.minimum(x[:, None], 0.999999 * ends)), np.inf)
    return np.where(np.isfinite(passed[1:]), passed[1:] - np.minimum(passed[:-1], 1e300), np.inf)


def _held_back(shares: np.ndarray, heads: Heads) -> np.ndarray:
    """What a head that falls stretches the time from point to point by; heads in front, points along the first axis."""
    moved = np.diff(shares, axis=0)
    still, found = moved <= 0, []
    for depth, power, _ in heads:
        here = (1 - depth * np.minimum(shares[:-1], 0.999)) ** -power
        stretched = np.diff(slowed(shares, depth, power), axis=0)
        found.append(np.where(still, here, stretched / np.where(still, 1.0, moved)))
    return np.array(found)


@functools.cache
def _slowing(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Logs of a law's slowing over one batch, increasing, and of the rate that brings it."""
    law = LAWS[name]
    k = np.geomspace(1e-7, 1e6, 800)
    k = np.minimum(k, 60.0) if name == "intermediate" else k
    k = np.unique(law.ends * -np.expm1(-k[k < 36]) if np.isfinite(law.ends) else k)
    slowing = np.asarray(law.passed(k, 1.0)) - 1
    kept = np.isfinite(slowing) & (slowing > 0)
    return np.log(slowing[kept]), np.log(k[kept])


def _rate(name: str, slowing: np.ndarray) -> np.ndarray:
    """Rate over one batch that brings this slowing; logs in, plain out."""
    return np.exp(np.interp(slowing, *_slowing(name)))


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """A grid over rates of blocking, for each of `SHEETS` and each head; arrays (sheets, heads, grid) unless said.

    Attributes
    ----------
    steps : array, (sheets, grid)
        What the grid is even in: log of the slowing (`USUAL_SLOWING`), or of the share of as much where it closes.
    rates : array
        k [1/mL]
    prior : array
        Log odds before any reading.
    usual : array
        Log of the time for half a litre, over that of a mL through the clean filter.
    pace : array, (n, sheets, heads, grid)
        Log of each reading's time, over that of a mL through the clean filter.
    """

    steps: np.ndarray
    rates: np.ndarray
    prior: np.ndarray
    usual: np.ndarray
    pace: np.ndarray

    @classmethod
    @np.errstate(over="ignore", invalid="ignore")  # a filter that closes takes for ever
    def of(cls, log: Log, heads: Heads, ranges: Sequence[tuple[float, float]], grid: int) -> _Cells:
        y = np.log(np.concatenate([paper[2] for paper in log.papers]))
        points = [np.interp(np.arange(4 * x.size + 1) / 4, np.arange(x.size + 1), np.append(0.0, x))
                  for _, x, _ in log.papers]  # fmt: skip
        held = [_held_back(log.share(p, begun)[:, None], heads)
                for p, (begun, *_) in zip(points, log.papers, strict=True)]  # fmt: skip
        fine, parts = np.linspace(0, 1, 21), []
        scale = max(log.batch, USUAL_VOLUME)
        falls = _held_back(fine[:, None], heads)
        for (name, closes, chance), span in zip(SHEETS, ranges, strict=True):
            law, step = LAWS[name], np.linspace(*span, grid)
            prior = np.log(chance * (step[1] - step[0]))
            if closes:  # as likely anywhere on the way
                k = law.ends / (np.exp(step) * scale)
                prior = prior + step
            else:  # far from common practice is rare, not impossible
                k = _rate(name, step) / scale
                usual, factor = np.log(USUAL_SLOWING[name])
                prior = prior + np.log(0.375 / factor) - 2.5 * np.log1p(((step - usual) / factor) ** 2 / 4)
            prior = prior + np.log([head[2] for head in heads])[:, None]
            # Of a filter that closes before half a litre, the time nearly to there, and in proportion between V and V²
            half = np.where(k * USUAL_VOLUME < law.ends, USUAL_VOLUME, 0.9 * law.ends / k)
            took = np.diff(law.passed(k, fine[:, None] * half), axis=0)
            took = (took * falls).sum(axis=1) * (USUAL_VOLUME / half) ** 1.5
            times = [np.zeros((len(heads), 0, grid))]
            for p, h in zip(points, held, strict=True):
                quarters = (_driven(law, k, p) * h).reshape(len(heads), -1, 4, grid)
                times.append(quarters.sum(axis=2).cumsum(axis=1))
            passed = np.concatenate(times, axis=1)
            gone = ~(np.isfinite(passed).all(axis=1) & np.isfinite(took))
            prior, took = np.where(gone, -np.inf, prior), np.where(gone, 1.0, took)
            passed = np.log(np.where(gone[:, None], 1.0, passed))
            parts.append((step, np.broadcast_to(k, prior.shape), prior, np.log(took), y[:, None] - passed))
        steps, rates, prior, usual, pace = map(np.stack, zip(*parts, strict=True))
        return cls(steps, rates, prior, usual, np.moveaxis(pace, 2, 0))

    def only(self, some: np.ndarray) -> _Cells:
        """Those of a mask, in a row."""
        return replace(
            self, rates=self.rates[some], prior=self.prior[some], usual=self.usual[some], pace=self.pace[:, some]
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Noise:
    """How the readings of a log scatter about a law, and how well each cell of a grid then meets them."""

    wander: float
    inverse: np.ndarray
    half_log: float  # of the covariance's determinant
    worth: float  # of all readings together, for the first pace
    readings: int
    usual: Usual

    @classmethod
    def of(cls, log: Log, scatter: float, wander: float, usual: Usual) -> _Noise:
        whole = scatter**2 * log.scatter + wander**2 * log.wander + PAPER_SPREAD**2 * log.seating
        inverse = np.linalg.inv(whole)
        return cls(wander, inverse, np.linalg.slogdet(whole)[1] / 2, inverse.sum(), len(whole), usual)

    def misfit(self, off: np.ndarray) -> np.ndarray:
        """Squared distance of log times (n, ...) from a law."""
        # Not by matrix product: its threads cost more than they save on so little
        return np.einsum("i...,i...", np.einsum("ij,j...->i...", self.inverse, off), off)

    def fit(self, cells: _Cells) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Of each cell, the first pace that meets the readings best, its misfit, and its width; logs."""
        if not self.readings:
            return (
                np.log(self.usual.time) - cells.usual,
                np.zeros_like(cells.usual),
                np.full_like(cells.usual, self.usual.spread),
            )
        pace = cells.pace
        mean = np.einsum("i,i...", self.inverse.sum(axis=0), pace) / self.worth
        # About the mean in each cell, where the plain sum of squares would lose digits.
        misfit = self.misfit(pace - mean)
        return mean, misfit, np.sqrt((WORTH + misfit) / (WORTH + self.readings) / self.worth)

    def odds(self, cells: _Cells, first: np.ndarray, mean: np.ndarray, misfit: np.ndarray) -> np.ndarray:
        """Log odds of first paces; the size of the noise is integrated out."""
        far = (first + cells.usual - np.log(self.usual.time)) / self.usual.spread
        odds = cells.prior - 2.5 * np.log1p(far * far / 4)
        if self.readings:
            missed = WORTH + misfit + self.worth * (first - mean) ** 2
            odds = odds - (WORTH + self.readings) / 2 * np.log(missed) - self.half_log
        return odds


class Usual(NamedTuple):
    """Time for half a litre through one paper [min]; of its log, the scale of a Student's t of 4 degrees."""

    time: float
    spread: float


USUAL = Usual(USUAL_TIME, math.log(USUAL_TIME_FACTOR) / 2.776)  # which holds 19 filters in 20
_Z = 20 * np.sinh(np.linspace(-4, 4, _PACES)) / np.sinh(4)  # first paces, in widths from the best: dense about it


def weighed(log: Log, heads: Heads, usual: Usual = USUAL) -> Versions:
    """Equally likely filters, after the readings; `heads` as in `KEPT` and `FALLING`."""
    noises = [_Noise.of(log, *noise, usual) for noise in NOISES]
    x = np.concatenate([paper[1] for paper in log.papers])
    ranges = [(math.log(0.02), 0.0) if closes else (-5.0, 9.0) for _, closes, _ in SHEETS]
    grid = 48 if 0 < x.size < 8 else 32  # finer where few readings leave the rate open
    for finer in (True, False) if x.size else (False,):
        cells = _Cells.of(log, heads, ranges, grid)
        fits = [noise.fit(cells) for noise in noises]
        best = np.max([n.odds(cells, m, m, q) + np.log(w) for n, (m, q, w) in zip(noises, fits, strict=True)], axis=0)
        near = best > best.max() - 9
        if finer:  # once more, where the odds are
            for i, (steps, some) in enumerate(zip(cells.steps, near.any(axis=1), strict=True)):
                step, held = steps[1] - steps[0], steps[some] if some.any() else steps
                top = 0.0 if SHEETS[i][1] else np.inf
                ranges[i] = held.min() - step, min(held.max() + step, top)
    where = np.nonzero(near)
    cells, fits = cells.only(near), [tuple(part[near] for part in fit) for fit in fits]
    first = np.array([mean + _Z[:, None] * width for mean, _, width in fits])  # noise, pace, cell
    odds = np.array([n.odds(cells, f, *fit[:2]) for n, f, fit in zip(noises, first, fits, strict=True)])
    odds += np.log(np.gradient(_Z))[:, None] + np.log([fit[2] for fit in fits])[:, None]
    chance = np.exp(odds - odds.max())
    summed = np.cumsum(chance)
    picked = np.searchsorted(summed, (np.arange(_VERSIONS) + 0.5) / _VERSIONS * summed[-1])
    noise, _, cell = at = np.unravel_index(picked, chance.shape)
    laws = np.array([list(LAWS).index(name) for name, *_ in SHEETS])[where[0]]
    of_law = np.bincount(laws, chance.sum(axis=(0, 1)), len(LAWS)) / summed[-1]
    between = np.arange(_VERSIONS) * 0.618034 % 1 - 0.5  # evenly within a step of the grid
    first = first[at] + np.gradient(_Z)[at[1]] * np.array([fit[2] for fit in fits])[noise, cell] * between
    wander, pace = _state(log, noises, noise, cells.pace[:, cell] - first)
    return Versions(
        log, heads, dict(zip(LAWS, map(float, of_law), strict=True)), laws[cell], where[1][cell],
        cells.rates[cell], first, pace, wander, len(x) > 0,
    )  # fmt: skip


def _state(log: Log, noises: list[_Noise], of: np.ndarray, off: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far the pace of each version wanders over an e-fold, and where it stands now, by what it misses."""
    n = len(off)
    sure, pace = _normal(0, _VERSIONS), np.zeros(_VERSIONS)
    wander = np.zeros(_VERSIONS)
    if not n:
        return wander, pace
    spread = _chi2(WORTH + n)
    for i, noise in enumerate(noises):
        mine = of == i
        size = np.sqrt((WORTH + noise.misfit(off[:, mine])) / spread[mine])
        pull = noise.wander**2 * log.towards @ noise.inverse
        left = noise.wander**2 * log.since - noise.wander**2 * pull @ log.towards
        wander[mine] = size * noise.wander
        pace[mine] = pull @ off[:, mine] + size * np.sqrt(max(left, 0.0)) * sure[mine]
    return wander, pace


@functools.cache
def _normal(seed: int, *shape: int) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(shape)


@functools.cache
def _chi2(freedom: int) -> np.ndarray:
    return np.random.default_rng(2).chisquare(freedom, _VERSIONS)


@dataclass(frozen=True, slots=True, eq=False)
class Versions:
    """Equally likely filters. Arrays (versions,).

    Attributes
    ----------
    laws : mapping
        How likely each law is.
    law, head : array
        Numbers of the law and the head.
    rate, first, pace : array
        k [1/mL]; logs of the clean filter's pace [min/mL] and of what the pace of now is over the law's.
    wander : array
        What the log of the pace may wander over an e-fold of volume.
    read : bool
        Whether there are readings: common practice alone has its drift within.
    """

    log: Log
    heads: Heads
    laws: Mapping[str, float]
    law: np.ndarray
    head: np.ndarray
    rate: np.ndarray
    first: np.ndarray
    pace: np.ndarray
    wander: np.ndarray
    read: bool

    def minutes(self, volumes: np.ndarray) -> np.ndarray:
        """From now to each volume in all, (volumes, versions); infinite where the paper closes."""
        log = self.log
        return self._minutes(volumes, log.papers[-1][0], log.passed, self.pace)

    def with_new_paper(self, volumes: np.ndarray) -> np.ndarray:
        """The same with a new paper, put in now; every third version, enough for the middle."""
        log, some = self.log, {f: getattr(self, f)[::3] for f in ("law", "head", "rate", "first", "wander")}
        return replace(self, **some)._minutes(volumes, log.papers[-1][0] + log.passed, 0.0, 0.0)

    @np.errstate(over="ignore", invalid="ignore")  # a filter that closes takes for ever
    def _minutes(self, volumes: np.ndarray, begun: float, passed: float, pace: Number) -> np.ndarray:
        x = passed + (volumes - volumes[0]) / self.log.filters
        shares = self.log.share(x, begun)
        steps = np.empty((len(x) - 1, self.rate.size))
        for i, law in enumerate(LAWS.values()):
            mine = self.law == i
            steps[:, mine] = _driven(law, self.rate[mine], x)
        steps *= _held_back(shares[:, None], self.heads)[self.head, :, 0].T
        apart = np.sqrt(np.diff(_walked(x, self.log.batch)))[:, None]
        walk = np.cumsum(_normal(1, len(x) - 1, self.rate.size) * apart, axis=0)
        paces = self.first + pace + self.wander * walk
        drift = DRIFT * self.read * _normal(3, self.rate.size)
        minutes = np.cumsum(steps * np.exp(paces + drift), axis=0)
        return np.concatenate([np.zeros((1, self.rate.size)), minutes])
