"""Filtering: what paper keeps, when the filter will be through, and other ways to clear a drink.

A forecast carries the classical laws of blocking, with a funnel that is kept full or filled once, and weighs them
by the readings.

>>> forecast = filter_forecast([30, 60, 90, 120], [100, 160, 207, 246], 500, kept_full=True)
>>> hours(forecast.end), max(forecast.laws, key=forecast.laws.get)
('7.4 h', 'cake')
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence, Sized
from dataclasses import dataclass, field
from typing import Annotated, Any, NamedTuple

import numpy as np

from . import kinds
from .errors import InputError, Told, require
from .facts import Fact, kind_of
from .kinds import SINGLE, VOLUME, Given, Number
from .learned import Known, Learned
from .liquid import Liquid
from .physics import blocking as _blocking
from .physics import filtration as _filtration
from .physics.blocking import USUAL_VOLUME
from .steps import Draw, Outcome, as_measured, estimate, savable
from .units import door, number

MOST_KEPT = 0.95  # of a drink, by however many papers
# What a paper keeps, and the factor that holds 19 in 20; common practice, no published source. [mL]
PAPER_HOLDS, PAPER_FACTOR = 10.0, 2.0
# Of that variance half is the bar's own kind of paper and curd, which weighing narrows, half from paper to paper: a
# judgement. One standard deviation of the logarithm of each.
PAPER_OWN = math.log(PAPER_FACTOR) / 1.96 * math.sqrt(0.5)
# One standard deviation of the logarithm of the time for half a litre, by common practice; and from batch to batch.
OF_PRACTICE = math.log(_blocking.USUAL_TIME_FACTOR) / 1.96
FROM_BATCH_TO_BATCH = OF_PRACTICE * math.sqrt(0.5)


@savable("filter", Fact("basis of a filter"))
@dataclass(frozen=True, slots=True)
class Filter:
    """Run through paper, which keeps some of it: about 10 mL each, half to twice (common practice, no source)."""

    papers: int = 1
    holds: float = PAPER_HOLDS
    name: str = "filtered"
    learned: tuple[Learned, ...] = as_measured()

    @property
    def measures(self) -> tuple[tuple[str, str], ...]:
        """What a bar may have measured of it, unless it is given here."""
        return (("paper", "paper"),) * (self.holds == PAPER_HOLDS)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """What comes through, and what the papers keep."""
        _whole_number("papers", self.papers)
        require("what a paper holds", self.holds, 0, 1000, "mL")
        holds, sd = self.holds, math.log(PAPER_FACTOR) / 1.96
        for found in self.learned:
            holds, sd = found.value, math.hypot(found.pm / found.value, PAPER_OWN)
        kept = np.minimum(self.papers * holds * np.exp(sd * draw("filter paper")) / liquid.volume(), MOST_KEPT)
        through = Fact("filter by papers", papers=self.papers) if self.papers > 1 else Fact("filter by a paper")
        return Outcome((1 - kept) * liquid, kept * liquid, said=(through,))


def _whole_number(field: str, value: object) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < 1:
        raise InputError(field, value, "a whole number, 1 or more")


# --- how long the filter takes --------------------------------------------------------------------------

# Nothing through for so long is a filter that stands still. [min]
STALLED = 10.0
_POINTS = 40  # of the curve
# Far beyond what is read off a clock and a measure: longer and smaller figures are slips of the hand, and would not fit
# the sums. [min, mL]
LONGEST, LEAST_MINUTES, LEAST_VOLUME = 1e7, 1e-9, 1e-3
_MOST_FILTERS = 1000


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """When the filter will be through.

    Attributes
    ----------
    end, low, high : float or None
        Minutes from the start: as likely sooner as later, and what holds 19 in 20, if it gets through. None if not
        made.
    reason : Fact or None
        Why it is not made; None if it is.
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
    reason: Fact | None
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
        best = max(self.laws, key=self.laws.__getitem__)
        return best if self.laws[best] >= 0.5 else None

    def said(self) -> tuple[Fact, ...]:
        """When it will be through, by what, and what may help."""
        if self.reason is not None or self.end is None or self.low is None or self.high is None:
            return (Fact("no forecast", reason=self.reason),)
        if self.low == self.high:
            return (Fact("filter through", after=hours(self.end)),)
        n = len(self.minutes)
        by = Fact("by practice alone") if not n else Fact("by readings" if n > 1 else "by a reading", readings=n)
        said = [Fact("filter forecast", after=hours(self.end), low=hours(self.low), high=hours(self.high), by=by)]
        if n and self.clogs >= 0.1:
            said.append(Fact("filter may close", tenths=10 * self.clogs))
        if self.new_paper is not None and self.new_paper < 0.8 * self.end:
            said.append(Fact("filter with new paper", after=hours(self.new_paper)))
        return tuple(said)


def hours(minutes: float) -> str:
    """A length of time in words.

    >>> hours(42), hours(150), hours(2000), hours(10080)
    ('40 min', '2.5 h', '33 h', '7 days')
    """
    if minutes >= 10 * 365 * 1440:
        return "more than 10 years"
    if minutes >= 72 * 60:
        return f"{minutes / 1440:.0f} days"
    if minutes < 60:
        return f"{5 * max(round(minutes / 5), 1)} min"
    return f"{minutes / 60:.{int(minutes < 600)}f} h"


@door
def filter_forecast(
    minutes: Given = (),
    volumes: Given = (),
    total_volume: Annotated[float, VOLUME, SINGLE] = USUAL_VOLUME,
    *,
    filters: int = 1,
    new_papers: Sequence[float] = (),
    returned: Annotated[float, VOLUME, SINGLE] = 0.0,
    kept_full: bool | None = None,
    known: Known | None = None,
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
    known : mapping, optional
        What this bar has measured (`Pantry.learned`): its own filters' time for half a litre stands in the place of
        common practice.

    Returns
    -------
    Forecast
        From one reading on, reading and common practice together; none if the filter stands still, runs ever faster,
        or will more likely close than get through.

    Raises
    ------
    InputError
        For minutes that don't increase or are beyond `LONGEST`, volumes that fall or exceed the total, no filter or
        more than a thousand.

    Notes
    -----
    Each of `filtration.LAWS`, with each head, rate of blocking and first pace, is weighed by common practice and by the
    readings (`physics.blocking`); where the readings disagree the band widens. Half-way, pores that close just before
    all is through look like a cake: such ends lie near the late end of the band.

    Examples
    --------
    >>> forecast = filter_forecast([30, 60, 90, 120], [100, 160, 207, 246], 500)
    >>> hours(forecast.low), hours(forecast.end), hours(forecast.high)
    ('5.9 h', '8.7 h', '21 h')
    """
    t, v, starts = checked_log(minutes, volumes, total_volume, filters, new_papers, kept_full)
    log = _blocking.Log.of(t, v, float(total_volume), filters, starts, returned)
    now, done = (t[-1], v[-1]) if t.size else (0.0, 0.0)
    x, y = _blocking.by_paper(t, v, filters, starts, returned)[-1][1:]
    line = _filtration.fit(x, y, (x / y) ** 2) if x.size > 1 and np.ptp(x) > 0 else None

    def answer(
        end: float | None = None,
        low: float | None = None,
        high: float | None = None,
        reason: Fact | None = None,
        new_paper: float | None = None,
        curve: tuple[np.ndarray, ...] = (),
        **found: Any,
    ) -> Forecast:
        middle, early, late = (None if e is None else float(e) for e in (end, low, high))
        told = (reason, new_paper, line, curve, kept_full)
        return Forecast(t, v, float(total_volume), filters, middle, early, late, *told, **found)

    if t.size and done >= total_volume:
        return answer(now, now, now)
    if t.size > 1 and v[-1] == v[-2] and t[-1] - t[-2] >= STALLED and max([0.0, *new_papers]) < now:
        return answer(reason=Fact("filter stands still", since=t[-2], now=now))
    if line is not None and line.points >= 5 and line.slope < -3 * np.sqrt(line.covariance[0, 0]):
        return answer(reason=Fact("filter does not slow"))

    heads: _blocking.Heads = _blocking.KEPT if kept_full else _blocking.FALLING
    if kept_full is None:
        heads = tuple((a, b, chance / 2) for a, b, chance in (*_blocking.KEPT, *_blocking.FALLING))
    versions = _blocking.weighed(log, heads, usual_time(known))
    towards = np.linspace(done, total_volume, _POINTS + 1)
    ends = now + versions.minutes(towards)
    through = np.isfinite(ends[-1])
    found: dict[str, Any] = {"laws": versions.laws, "clogs": float(1 - through.mean())}
    fresh = None
    if log.passed > 0:
        fresh = float(np.median(now + versions.with_new_paper(towards)[-1]))
        fresh = fresh if np.isfinite(fresh) else None
    if t.size and through.mean() < 0.5:
        return answer(reason=Fact("filter is clogging"), new_paper=fresh, **found)
    # Those that close count as later than all that get through; common practice is of filters that do.
    tops = np.array([0.5, 0.025, 0.975])
    tops = np.minimum(tops / through.mean(), 0.99) if t.size else tops
    middle, low, high = np.quantile(ends[:, through], tops, axis=1)
    return answer(middle[-1], low[-1], high[-1], None, fresh, (towards, middle, low, high), **found)


class Readings(NamedTuple):
    """A log that can be: minutes, what had run through [mL], and when each paper went in [min]."""

    minutes: np.ndarray
    volumes: np.ndarray
    starts: np.ndarray


def checked_log(
    minutes: Given,
    volumes: Given,
    total: float,
    filters: int = 1,
    new_papers: Sequence[float] = (),
    kept_full: object = None,
) -> Readings:
    """The readings of a log that can be; arguments and errors as for `filter_forecast`.

    >>> checked_log([30, 60], [100, 160], 500).starts.tolist()
    [0.0]
    """
    t, v = _readings(minutes, volumes, total)
    _whole_number("filters", filters)
    require("filters", filters, 1, _MOST_FILTERS)
    if not np.ndim(total) == 0 or total < 1e-6:  # next to nothing is nothing
        raise InputError("total volume", total, Fact("above, one batch", low=VOLUME(0)))
    if kept_full is not None and not isinstance(kept_full, (bool, np.bool_)):
        raise InputError("kept full", kept_full, "True, False, or None if it is not known")
    return Readings(t, v, _papers(t, new_papers))


def usual_time(known: Known | None = None) -> _blocking.Usual:
    """Minutes in which half a litre is through one paper, by common practice or as this bar's own logs have it.

    Of the variance of common practice half is the bar's own (milk, papers, funnels), which its logs narrow; the rest is
    from batch to batch: a judgement.

    >>> usual_time().time
    480.0
    """
    found = (known or {}).get(("filter", "paper"))
    if found is None:
        return _blocking.USUAL
    left = math.hypot(found.pm / found.value, FROM_BATCH_TO_BATCH)
    return _blocking.Usual(found.value, _blocking.USUAL.spread * left / OF_PRACTICE)


def _readings(minutes: Given, volumes: Given, total: Number) -> tuple[np.ndarray, np.ndarray]:
    t, v = (
        np.empty(0) if isinstance(x, Sized) and not len(x) else np.atleast_1d(number(x, f))
        for x, f in ((minutes, "minutes"), (volumes, "volumes"))
    )
    if t.ndim > 1 or t.shape != v.shape:
        raise InputError("readings", Told(f"{t.size} minutes and {v.size} volumes"), "one volume to each time")
    for name, found, least, most, unit in (
        ("minutes", t, LEAST_MINUTES, LONGEST, "min"), ("volumes", v, LEAST_VOLUME, kinds.VOLUME.high, "mL"),
    ):  # fmt: skip
        require(name, found, 0, most, unit)
        small = found[(found > 0) & (found < least)]
        if small.size:
            from_ = VOLUME(least) if unit == "mL" else f"{least:g} {unit}"
            raise InputError(name, kind_of(unit)(small[0]), Fact("nothing, or from", least=from_))
    for (a, b), (c, d) in zip(itertools.pairwise(t), itertools.pairwise(v), strict=True):
        if b <= a:
            raise InputError("minutes", Told(f"{b:g} after {a:g}"), "increasing from reading to reading")
        if d < c:
            fell = Fact("so much after so much", now=VOLUME(d), before=VOLUME(c))
            raise InputError("volumes", fell, "what has run through in all, which can't fall")
    if v.size and v[-1] > total:
        raise InputError("volumes", Fact("so much", amount=VOLUME(v[-1])), Fact("up to the batch", most=VOLUME(total)))
    if v.size and v[0] > 0 and t[0] <= 0:
        raise InputError("volumes", Fact("so much at once", amount=VOLUME(v[0])), Fact("nothing at the start"))
    return t, v


def _papers(t: np.ndarray, new_papers: Sequence[float]) -> np.ndarray:
    """When each paper went in, the first at 0."""
    for minute in new_papers:
        if minute not in t:
            raise InputError("new paper", Told(f"at {minute:g} min"), "at a reading: log the volume as you change it")
    return np.array([0.0, *sorted(set(new_papers))])


# --- other ways -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Way:
    """A way to clear half a litre: minutes and share lost, each lowest and highest."""

    name: str
    minutes: tuple[float, float]
    lost: tuple[float, float]
    told: Fact
    source: str


_PRACTICE = "common practice, no published source"
_TRADE = "method from a culinary school's technical notes, 2009 and 2010 (read); times and losses common practice"
WAYS = (
    Way("paper", (180, 1200), (0.10, 0.25), Fact("clear by paper"), _PRACTICE),
    Way("cloth, then paper", (60, 480), (0.12, 0.30), Fact("clear by cloth"), _PRACTICE),
    Way("centrifuge", (10, 40), (0.05, 0.15), Fact("clear by centrifuge"), _PRACTICE),
    Way("gelatin, frozen and thawed", (1440, 4320), (0.15, 0.40), Fact("clear by gelatin"), _TRADE),
    Way("agar", (30, 120), (0.10, 0.30), Fact("clear by agar"), _TRADE),
)


def ways() -> tuple[Way, ...]:
    """Ways to clear half a litre, side by side; losses and times are rough.

    >>> [way.name for way in ways()][:2]
    ['paper', 'cloth, then paper']
    """
    return WAYS
