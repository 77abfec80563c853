"""Filtering: what paper keeps, when the filter will be through, and other ways to clear a drink.

A forecast carries the classical laws of blocking, with a funnel that is kept full or filled once, and weighs them
by the readings.

>>> forecast = filter_forecast([30, 60, 90, 120], [100, 160, 207, 246], 500, kept_full=True)
>>> hours(forecast.end), max(forecast.laws, key=forecast.laws.get)
('6.9 h', 'cake')
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .errors import InputError, Told, require
from .kinds import Millilitres
from .liquid import Liquid
from .physics import filtration as _filtration
from .steps import Draw, Outcome, estimate, savable
from .units import door, number


@savable("filter", "Filter: about 10 mL kept by each paper, half to twice; common practice, no published source.")
@dataclass(frozen=True, slots=True)
class Filter:
    """Run through paper, which keeps some of it: about 10 mL each, half to twice (common practice, no source)."""

    papers: int = 1
    holds: float = 10.0
    name: str = "filtered"

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """What comes through, and what the papers keep."""
        _whole_number("papers", self.papers)
        require("what a paper holds", self.holds, 0, 1000, "mL")
        kept = np.minimum(
            self.papers * self.holds * np.exp(np.log(2) / 1.96 * draw("filter paper")) / liquid.volume(), 0.95
        )
        through = (
            f"Filter through {self.papers} paper{'s' * (self.papers > 1)}, and pour the first cloudy runnings back."
        )
        return Outcome((1 - kept) * liquid, kept * liquid, notes=(through,))


def _whole_number(field: str, value) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < 1:
        raise InputError(field, value, "a whole number, 1 or more")


# --- how long the filter takes --------------------------------------------------------------------------

# Before any reading: half a litre through one paper takes about half a day. Common practice, no published
# source; the factor holds 19 filters in 20: 3 to 20 hours. [min], [mL]
USUAL_TIME, USUAL_TIME_FACTOR, USUAL_VOLUME = 480.0, 2.5, 500.0
# For each law how likely it is before any reading, and the volume at which one paper's resistance is usually
# fourfold [mL], give or take a factor of e. A judgement: curd makes a cake, and most filters get half a litre through.
USUAL_LAWS = {"cake": (0.4, 200.0), "intermediate": (0.2, 300.0), "standard": (0.2, 600.0), "complete": (0.2, 700.0)}
# How a head falls in a funnel that is filled once: share of it gone at the end, power (`filtration.slowed`), how
# likely. A cone drains at its tip (1/3) or its wall (up to 1), straight sides at the bottom (1); what curd and paper
# keep leaves some head at the end. A judgement.
KEPT = ((0.0, 1.0, 1.0),)
FALLING = (
    (1.0, 1 / 3, 0.2), (1.0, 2 / 3, 0.15), (0.6, 1.0, 0.1), (0.8, 1.0, 0.15), (0.9, 1.0, 0.15), (0.96, 1.0, 0.15),
    (0.99, 1.0, 0.1),
)  # fmt: skip
# What readings scatter by, and a filter wanders: of the time so far, and of the pace over an e-fold of volume; three
# mixtures, alike likely before any reading, whose size the readings rule from `WORTH` readings on. A judgement.
NOISES, WORTH = ((0.06, 0.10), (0.04, 0.22), (0.02, 0.4)), 4
# Of two papers' resistance: seating and wetting make a coffee paper up to twice another (400 mL of dirty water in 63,
# 120 and 69 s; a student's course log, 2018).
PAPER_SPREAD = 0.3
# Beyond all that, of the time that is left. A judgement.
DRIFT = 0.08
# A reading may be off by this share of the batch; and below this share a filter is still finding its pace.
SMALL, FIRST = 0.02, 0.1
# Nothing through for so long is a filter that stands still. [min]
STALLED = 10.0
# Versions of the filter that the band is read from, points of its curve, of the grid of each law, and of the pace.
_VERSIONS, _POINTS, _GRID, _PACES = 1200, 40, 40, 33
_MOST_READINGS = 24  # evenly chosen from a longer log


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """When the filter will be through.

    Attributes
    ----------
    end, low, high : float or None
        Minutes from the start: as likely sooner as later, and what holds 19 in 20, if it gets through. None if not
        made.
    reason : str
        Why it is not made; "" if it is.
    new_paper : float or None
        The end if the paper is changed at the last reading. [min]
    line : filtration.Line or None
        t/V against V of this paper, for its R² and the chart, from two readings up; of one filter.
    curve : tuple of arrays
        From the last reading on: volume [mL], then minutes: middle, low and high. Empty if not made.
    kept_full : bool or None
        As it was told.
    laws : mapping
        How likely each of `filtration.LAWS` is, by the readings; adds up to 1.
    clogs : float
        How likely it is that the paper closes before all is through, 0 to 1.
    """

    minutes: np.ndarray
    volumes: np.ndarray
    total: float
    filters: int
    end: float | None
    low: float | None
    high: float | None
    reason: str
    new_paper: float | None
    line: _filtration.Line | None
    curve: tuple[np.ndarray, ...]
    kept_full: bool | None = None
    laws: Mapping[str, float] = field(default_factory=dict)
    clogs: float = 0.0

    @property
    def made(self) -> bool:
        """Whether there is a forecast."""
        return self.end is not None

    @property
    def law(self) -> str | None:
        """The law that the log follows: as likely as all others together, from three readings on; else None."""
        if len(self.minutes) < 3 or not self.laws:
            return None
        best = max(self.laws, key=self.laws.get)
        return best if self.laws[best] >= 0.5 else None

    def words(self) -> tuple[str, ...]:
        """Plain sentences."""
        if not self.made:
            return (f"No forecast: {self.reason}.",)
        if self.low == self.high:
            return (f"Through after {hours(self.end)}.",)
        n = len(self.minutes)
        basis = (
            f"your {n} reading{'s' if n > 1 else ''} and common practice together" if n
            else "common practice alone, no published source: log minutes and millilitres to narrow it"
        )  # fmt: skip
        said = [f"Through after about {hours(self.end)} ({hours(self.low)} to {hours(self.high)}), by {basis}."]
        if n and self.clogs >= 0.1:
            said.append(f"About {10 * self.clogs:.0f} in 10 that the paper closes before: have a new one ready.")
        if self.new_paper is not None and self.new_paper < 0.8 * self.end:
            said.append(f"With new paper now, after about {hours(self.new_paper)}.")
        return tuple(said)


def hours(minutes: float) -> str:
    """A length of time in words.

    >>> hours(42), hours(150), hours(2000), hours(10080)
    ('40 min', '2.5 h', '33 h', '7 days')
    """
    if minutes >= 72 * 60:
        return f"{minutes / 1440:.0f} days"
    if minutes < 60:
        return f"{5 * max(round(minutes / 5), 1)} min"
    return f"{minutes / 60:.{int(minutes < 600)}f} h"


@door
def filter_forecast(
    minutes=(),
    volumes=(),
    total_volume: Millilitres = USUAL_VOLUME,
    *,
    filters: int = 1,
    new_papers: Sequence[float] = (),
    returned: Millilitres = 0.0,
    kept_full: bool | None = None,
) -> Forecast:
    """When the filter will be through, from what has been logged so far.

    Parameters
    ----------
    minutes : array
        Since the start, at each reading. [min]
    volumes : array
        What had run through in all by then. [mL]
    total_volume : float
        What is to run through. [mL]
    filters : int
        Alike, side by side; volumes are those of all together.
    new_papers : sequence of float
        Minutes at which the paper was changed, each at a reading. [min]
    returned : float
        First cloudy runnings that were poured back, so ran twice; not counted in `volumes`. [mL]
    kept_full : bool or None
        True if the funnel is topped up all along, False if it is filled once and its head falls, None if that is not
        known or in between: both are then weighed, and the band is wider.

    Returns
    -------
    Forecast
        From one reading on, reading and common practice together; none if the filter stands still, runs ever faster,
        or will more likely close than get through.

    Raises
    ------
    InputError
        For minutes that don't increase, volumes that fall or exceed the total, no filter.

    Notes
    -----
    Each of `filtration.LAWS`, with each head, each rate of blocking and each first pace on a grid is weighed by Bayes'
    rule: by what common practice says of the time for half a litre (with long tails), and by how well it meets the
    readings. About each, readings scatter and the pace wanders (`NOISES`), as much as the readings themselves show:
    where they disagree the band widens. It is read from the versions so weighed.

    Examples
    --------
    >>> forecast = filter_forecast([30, 60, 90, 120], [100, 160, 207, 246], 500)
    >>> hours(forecast.low), hours(forecast.end), hours(forecast.high)
    ('5.3 h', '7.7 h', '17 h')
    """
    t, v = _readings(minutes, volumes, total_volume)
    _whole_number("filters", filters)
    if not np.ndim(total_volume) == 0 or total_volume <= 0:
        raise InputError("total volume", total_volume, "above 0 mL, one batch at a time")
    if kept_full is not None and not isinstance(kept_full, (bool, np.bool_)):
        raise InputError("kept full", kept_full, "True, False, or None if it is not known")
    log = _Log.of(t, v, float(total_volume), filters, _papers(t, new_papers), returned)
    now, done = (t[-1], v[-1]) if t.size else (0.0, 0.0)
    x, y = log.papers[-1][1:]
    line = _filtration.fit(x, y, (x / y) ** 2) if x.size > 1 and np.ptp(x) > 0 else None

    def answer(end=None, low=None, high=None, reason="", new_paper=None, curve=(), **found):
        ends = (None if e is None else float(e) for e in (end, low, high))
        return Forecast(
            t, v, float(total_volume), filters, *ends, reason, new_paper, line, curve, kept_full, **found
        )  # fmt: skip

    if t.size and done >= total_volume:
        return answer(now, now, now)
    if t.size > 1 and v[-1] == v[-2] and t[-1] - t[-2] >= STALLED and max([0.0, *new_papers]) < now:
        return answer(reason=f"nothing has come through from {t[-2]:g} to {now:g} min; change the paper")
    if line is not None and line.points >= 5 and line.slope < -3 * np.sqrt(line.covariance[0, 0]):
        return answer(reason="it does not slow down as a filter should; look for a leak or a torn paper")

    heads = KEPT if kept_full else FALLING
    if kept_full is None:
        heads = tuple((*head, chance / 2) for *head, chance in (*KEPT, *FALLING))
    versions = _weighed(log, heads)
    towards = np.linspace(done, total_volume, _POINTS + 1)
    ends = now + versions.minutes(towards)
    through = np.isfinite(ends[-1])
    found = {"laws": versions.laws, "clogs": float(1 - through.mean())}
    fresh = None
    if log.passed > 0:
        fresh = float(np.median(now + versions.with_new_paper(towards)[-1]))
        fresh = fresh if np.isfinite(fresh) else None
    if t.size and through.mean() < 0.5:
        reason = "the paper is clogging and will more likely close than let all through; change it"
        return answer(reason=reason, new_paper=fresh, **found)
    middle, low, high = np.quantile(ends[:, through], [0.5, 0.025, 0.975], axis=1)
    return answer(middle[-1], low[-1], high[-1], "", fresh, (towards, middle, low, high), **found)


def _readings(minutes, volumes, total) -> tuple[np.ndarray, np.ndarray]:
    t, v = (
        np.atleast_1d(number(x, f)) if np.size(x) else np.empty(0)
        for x, f in ((minutes, "minutes"), (volumes, "volumes"))
    )
    if t.ndim > 1 or t.shape != v.shape:
        raise InputError("readings", Told(f"{t.size} minutes and {v.size} volumes"), "one volume to each time")
    require("minutes", t, 0, np.inf, "min")
    require("volumes", v, 0, np.inf, "mL")
    for (a, b), (c, d) in zip(itertools.pairwise(t), itertools.pairwise(v), strict=True):
        if b <= a:
            raise InputError("minutes", Told(f"{b:g} after {a:g}"), "increasing from reading to reading")
        if d < c:
            raise InputError(
                "volumes", Told(f"{d:g} mL after {c:g} mL"), "what has run through in all, which can't fall"
            )
    if v.size and v[-1] > total:
        raise InputError("volumes", Told(f"{v[-1]:g} mL"), f"at most the batch, {total:g} mL")
    if v.size and v[0] > 0 and t[0] <= 0:
        raise InputError("volumes", Told(f"{v[0]:g} mL at 0 min"), "0 mL at the start")
    return t, v


def _papers(t: np.ndarray, new_papers) -> np.ndarray:
    """When each paper went in, the first at 0."""
    for minute in new_papers:
        if minute not in t:
            raise InputError("new paper", Told(f"at {minute:g} min"), "at a reading: log the volume as you change it")
    return np.array([0.0, *sorted(set(new_papers))])


# --- the log, the grid of filters that may have made it, and where they lead -------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Log:
    """A log, of one filter and paper by paper; a reading at a change belongs to the old paper.

    Attributes
    ----------
    papers : tuple of (begun, x, y)
        For each paper what had passed before it [mL], then what had passed it [mL] and how long it had been in [min].
    passed : float
        Through the present paper. [mL]
    scatter, wander, seating : arrays, (n, n)
        Covariances of log y: of readings, of the pace (to be scaled by `NOISES`) and between papers.
    towards : array, (n,)
        Covariance of log y with the pace of now, which wanders by `since`.
    """

    papers: tuple
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
    def of(cls, t, v, total: float, filters: int, starts: np.ndarray, returned: float) -> _Log:
        each = (v + returned) / filters
        papers = []
        for start, end in itertools.pairwise([*starts, np.inf]):
            begun = float(np.interp(start, t, each)) if start > 0 else 0.0
            used = (t > start) & (t <= end) & (each > begun) & (v > 0)
            papers.append((begun, each[used] - begun, t[used] - start))
        papers = _thinned(papers)
        passed = max(float(each[-1]) - papers[-1][0], 0.0) if t.size and v[-1] > 0 else 0.0
        x = np.concatenate([paper[1] for paper in papers])
        own = [np.full(paper[1].size, i) for i, paper in enumerate(papers)]
        same = np.equal.outer(np.concatenate(own), np.concatenate(own))
        batch = total / filters
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
            1.0 * (same & ~np.logical_and.outer(last, last)) if len(papers) > 1 else np.zeros(same.shape),
            means @ (last * np.minimum(middle, since)), since,
        )  # fmt: skip

    def share(self, x, begun):
        """Of the batch, gone from the funnel when this paper has passed `x`."""
        return np.clip((begun + x - self.returned) / self.batch, 0.0, 1.0)


def _thinned(papers: list) -> list:
    """At most `_MOST_READINGS`, evenly chosen, the last of each paper among them."""
    every = -(-sum(paper[1].size for paper in papers) // _MOST_READINGS)
    return [(b, x[::-1][::every][::-1], y[::-1][::every][::-1]) for b, x, y in papers] if every > 1 else papers


def _walked(x, batch: float):
    return np.log1p(np.asarray(x) / (FIRST * batch))


def _driven(law, k, x) -> np.ndarray:
    """Time from point to point of x, at a constant head, over that of a mL through the clean filter."""
    ends = law.ends / k
    with np.errstate(over="ignore"):
        passed = np.where(x[:, None] < ends, law.passed(k, np.minimum(x[:, None], 0.999999 * ends)), np.inf)
    return np.where(np.isfinite(passed[1:]), passed[1:] - np.minimum(passed[:-1], 1e300), np.inf)


def _held_back(shares, heads) -> np.ndarray:
    """What a head that falls stretches the time from point to point by; heads in front, points along the first axis."""
    moved = np.diff(shares, axis=0)
    still, found = moved <= 0, []
    for depth, power, _ in heads:
        here = (1 - depth * np.minimum(shares[:-1], 0.999)) ** -power
        slowed = np.diff(_filtration.slowed(shares, depth, power), axis=0)
        found.append(np.where(still, here, slowed / np.where(still, 1.0, moved)))
    return np.array(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """A grid over rates of blocking, for each law and head; arrays (laws, heads, grid) unless said.

    Attributes
    ----------
    sizes : array, (laws, grid)
        Log of the volume at which the resistance is fourfold.
    rates : array
        k [1/mL]
    prior : array
        Log odds before any reading.
    usual : array
        Log of the time for half a litre, over that of a mL through the clean filter.
    pace : array, (n, laws, heads, grid)
        Log of each reading's time, over that of a mL through the clean filter.
    """

    sizes: np.ndarray
    rates: np.ndarray
    prior: np.ndarray
    usual: np.ndarray
    pace: np.ndarray

    @classmethod
    @np.errstate(over="ignore", invalid="ignore")  # a filter that closes takes for ever
    def of(cls, log: _Log, heads, ranges: Mapping) -> _Cells:
        y = np.log(np.concatenate([paper[2] for paper in log.papers]))
        points = [np.interp(np.arange(4 * x.size + 1) / 4, np.arange(x.size + 1), np.append(0.0, x))
                  for _, x, _ in log.papers]  # fmt: skip
        held = [_held_back(log.share(p, begun)[:, None], heads)
                for p, (begun, *_) in zip(points, log.papers, strict=True)]  # fmt: skip
        fine, parts = np.linspace(0, 1, 21), []
        falls = _held_back(fine[:, None], heads)
        for name, law in _filtration.LAWS.items():
            chance, usual = USUAL_LAWS[name]
            sizes = np.linspace(*ranges[name], _GRID)
            k = law.fourfold / np.exp(sizes)
            # Student's t of 4 degrees: a filter far from common practice is rare, not impossible
            prior = np.log(chance * (sizes[1] - sizes[0])) - 2.5 * np.log1p((sizes - np.log(usual)) ** 2 / 4)
            prior = prior + np.log([head[2] for head in heads])[:, None]
            # A filter that closes before half a litre: its time nearly to there
            half = np.minimum(USUAL_VOLUME, 0.9 * law.ends / k)
            took = np.diff(law.passed(k, fine[:, None] * half), axis=0)
            took = (took * falls).sum(axis=1)
            passed = [np.zeros((len(heads), 0, _GRID))]
            for p, h in zip(points, held, strict=True):
                steps = (_driven(law, k, p) * h).reshape(len(heads), -1, 4, _GRID)
                passed.append(steps.sum(axis=2).cumsum(axis=1))
            passed = np.concatenate(passed, axis=1)
            gone = ~(np.isfinite(passed).all(axis=1) & np.isfinite(took))
            prior, took = np.where(gone, -np.inf, prior), np.where(gone, 1.0, took)
            passed = np.log(np.where(gone[:, None], 1.0, passed))
            parts.append((sizes, np.broadcast_to(k, prior.shape), prior, np.log(took), y[:, None] - passed))
        sizes, rates, prior, usual, pace = map(np.stack, zip(*parts, strict=True))
        return cls(sizes, rates, prior, usual, np.moveaxis(pace, 2, 0))

    def only(self, some) -> _Cells:
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

    @classmethod
    def of(cls, log: _Log, scatter: float, wander: float) -> _Noise:
        whole = scatter**2 * log.scatter + wander**2 * log.wander + PAPER_SPREAD**2 * log.seating
        inverse = np.linalg.inv(whole)
        return cls(wander, inverse, np.linalg.slogdet(whole)[1] / 2, inverse.sum(), len(whole))

    def misfit(self, off):
        """Squared distance of log times (n, ...) from a law."""
        # Not by matrix product: its threads cost more than they save on so little
        return np.einsum("i...,i...", np.einsum("ij,j...->i...", self.inverse, off), off)

    def fit(self, cells: _Cells):
        """Of each cell, the first pace that meets the readings best, its misfit, and its width; logs."""
        if not self.readings:
            return np.log(USUAL_TIME) - cells.usual, np.zeros_like(cells.usual), np.full_like(cells.usual, _SPREAD)
        pace = cells.pace
        mean = np.einsum("i,i...", self.inverse.sum(axis=0), pace) / self.worth
        # About the mean in each cell, where the plain sum of squares would lose digits.
        misfit = self.misfit(pace - mean)
        return mean, misfit, np.sqrt((WORTH + misfit) / (WORTH + self.readings) / self.worth)

    def odds(self, cells: _Cells, first, mean, misfit):
        """Log odds of first paces; the size of the noise is integrated out."""
        far = (first + cells.usual - np.log(USUAL_TIME)) / _SPREAD
        odds = cells.prior - 2.5 * np.log1p(far * far / 4)
        if self.readings:
            missed = WORTH + misfit + self.worth * (first - mean) ** 2
            odds = odds - (WORTH + self.readings) / 2 * np.log(missed) - self.half_log
        return odds


_SPREAD = np.log(USUAL_TIME_FACTOR) / 2.776  # of the log of the usual time: 19 in 20 of a Student's t of 4 degrees
_Z = 20 * np.sinh(np.linspace(-4, 4, _PACES)) / np.sinh(4)  # first paces, in widths from the best: dense about it


def _weighed(log: _Log, heads) -> _Versions:
    """Equally likely filters, after the readings."""
    noises = [_Noise.of(log, *noise) for noise in NOISES]
    x = np.concatenate([paper[1] for paper in log.papers])
    span = np.log(0.01 * x.min(initial=USUAL_VOLUME)), np.log(100 * x.max(initial=USUAL_VOLUME))
    ranges = dict.fromkeys(_filtration.LAWS, span)
    for finer in (bool(x.size), False):
        cells = _Cells.of(log, heads, ranges)
        fits = [noise.fit(cells) for noise in noises]
        best = np.max([n.odds(cells, m, m, q) + np.log(w) for n, (m, q, w) in zip(noises, fits, strict=True)], axis=0)
        near = best > best.max() - 9
        if finer:  # once more, where the odds are
            for name, sizes, row in zip(ranges, cells.sizes, near.any(axis=1), strict=True):
                step, held = sizes[1] - sizes[0], sizes[row] if row.any() else sizes
                ranges[name] = held.min() - step, held.max() + step
    where = np.nonzero(near)
    cells, fits = cells.only(near), [tuple(part[near] for part in fit) for fit in fits]
    first = np.array([mean + _Z[:, None] * width for mean, _, width in fits])  # noise, pace, cell
    odds = np.array([n.odds(cells, f, *fit[:2]) for n, f, fit in zip(noises, first, fits, strict=True)])
    odds += np.log(np.gradient(_Z))[:, None] + np.log([fit[2] for fit in fits])[:, None]
    chance = np.exp(odds - odds.max())
    summed = np.cumsum(chance)
    picked = np.searchsorted(summed, (np.arange(_VERSIONS) + 0.5) / _VERSIONS * summed[-1])
    noise, _, cell = at = np.unravel_index(picked, chance.shape)
    of_law = np.bincount(where[0], chance.sum(axis=(0, 1)), len(ranges)) / summed[-1]
    first = first[at] + np.gradient(_Z)[at[1]] * np.array([fit[2] for fit in fits])[noise, cell] * _uniform()
    wander, pace = _state(log, noises, noise, cells.pace[:, cell] - first)
    return _Versions(
        log, heads, dict(zip(ranges, map(float, of_law), strict=True)), where[0][cell], where[1][cell],
        cells.rates[cell], first, pace, wander, len(x) > 0,
    )  # fmt: skip


def _state(log: _Log, noises, of, off):
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
def _uniform() -> np.ndarray:
    return np.random.default_rng(4).uniform(-0.5, 0.5, _VERSIONS)


@functools.cache
def _chi2(freedom: int) -> np.ndarray:
    return np.random.default_rng(2).chisquare(freedom, _VERSIONS)


@dataclass(frozen=True, slots=True, eq=False)
class _Versions:
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
    """

    log: _Log
    heads: tuple
    laws: Mapping[str, float]
    law: np.ndarray
    head: np.ndarray
    rate: np.ndarray
    first: np.ndarray
    pace: np.ndarray
    wander: np.ndarray
    read: bool

    def minutes(self, volumes) -> np.ndarray:
        """From now to each volume in all, (volumes, versions); infinite where the paper closes."""
        log = self.log
        return self._minutes(volumes, log.papers[-1][0], log.passed, self.pace)

    def with_new_paper(self, volumes) -> np.ndarray:
        """The same with a new paper, put in now."""
        log = self.log
        return self._minutes(volumes, log.papers[-1][0] + log.passed, 0.0, 0.0)

    @np.errstate(over="ignore")
    def _minutes(self, volumes, begun: float, x: float, pace) -> np.ndarray:
        x = x + (volumes - volumes[0]) / self.log.filters
        shares = self.log.share(x, begun)
        steps = np.empty((len(x) - 1, self.rate.size))
        for i, law in enumerate(_filtration.LAWS.values()):
            mine = self.law == i
            steps[:, mine] = _driven(law, self.rate[mine], x)
        steps *= _held_back(shares[:, None], self.heads)[self.head, :, 0].T
        apart = np.sqrt(np.diff(_walked(x, self.log.batch)))[:, None]
        walk = np.cumsum(_normal(1, len(x) - 1, self.rate.size) * apart, axis=0)
        pace = self.first + pace + self.wander * walk
        drift = DRIFT * self.read * _normal(3, self.rate.size)
        passed = np.cumsum(steps * np.exp(pace + drift), axis=0)
        return np.concatenate([np.zeros((1, self.rate.size)), passed])


# --- other ways -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Way:
    """A way to clear half a litre: minutes and share lost, each lowest and highest."""

    name: str
    minutes: tuple[float, float]
    lost: tuple[float, float]
    what: str
    source: str


_PRACTICE = "common practice, no published source"
_TRADE = "method from a culinary school's technical notes, 2009 and 2010 (read); times and losses common practice"
WAYS = (
    Way("paper", (180, 1200), (0.10, 0.25), "Clearest after milk; needs no tool; cold and unattended.", _PRACTICE),
    Way("cloth, then paper", (60, 480), (0.12, 0.30), "Cloth takes the coarse curd, so paper lasts longer; pour the "
        "first runnings back over the curd.", _PRACTICE),
    Way("centrifuge", (10, 40), (0.05, 0.15), "Fast and least loss; balance the bottles and follow the maker's "
        "instructions: a rotor can hurt.", _PRACTICE),
    Way("gelatin, frozen and thawed", (1440, 4320), (0.15, 0.40), "About 5 g of gelatin to a kilogram; thaw on cloth "
        "in the fridge. For juices: alcohol keeps it from freezing hard. Not vegetarian.", _TRADE),
    Way("agar", (30, 120), (0.10, 0.30), "About 2 g of agar to a kilogram, boiled in a quarter of it; break the set "
        "gel and drain. For juices; a little haze stays.", _TRADE),
)  # fmt: skip


def ways() -> tuple[Way, ...]:
    """Ways to clear half a litre, side by side; losses and times are rough.

    >>> [way.name for way in ways()][:2]
    ['paper', 'cloth, then paper']
    """
    return WAYS
