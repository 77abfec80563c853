"""Before and after: what one change does to a drink, by the same random versions on both sides.

Two questions, and their answers are seldom alike. "Same hand, same ice": the same pours, fruit and ice with the one
thing changed, so that what is uncertain in both falls out of the difference. "This glass against that one": two glasses
made apart, each with pours, fruit and ice of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .. import dilution, stage, steps, trial
from ..facts import Fact
from ..kinds import CONCENTRATION, GAS_VOLUMES, PRESSURE, TEMPERATURE, WARMER, Amount, Kind
from ..liquid import Liquid
from ..physics.solubility import grams_from_volumes
from ..profile import KINDS, LEAST_ACID, WORDS, profile

TOLD = ("abv", "sugar", "acid", "volume", "alcohol")  # the figures of a drink that a change is told in
_SURER = 0.75  # of the ± before: from here down it is worth a word


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One figure in many random versions of the same drink, shape (1 + draws,): the first is the estimate.

    `name` is what it is called, `kind` what it is. Without draws its ± is not known, or it has none.
    """

    name: str
    kind: Kind
    values: np.ndarray

    @property
    def spread(self) -> float:
        """Half the width that holds 19 in 20; not a number where nothing was drawn."""
        low, high = _ends(self.values)
        return (high - low) / 2


@dataclass(frozen=True, slots=True)
class Change:
    """One figure before and after.

    Attributes
    ----------
    name, kind
        As of `Sample`.
    before, after, change : float
        Estimates; `change` is after less before.
    before_pm, after_pm : float
        Half-widths that hold 19 in 20 of each by itself.
    low, high : float
        19 in 20 of the changes lie between: same hand, same ice.
    apart_low, apart_high : float
        The same of two glasses made apart: this glass against that one.
    """

    name: str
    kind: Kind
    before: float
    after: float
    change: float
    before_pm: float
    after_pm: float
    low: float
    high: float
    apart_low: float
    apart_high: float

    @property
    def pm(self) -> float:
        """Half-width of the paired change."""
        return _half(self.low, self.high)

    @property
    def apart_pm(self) -> float:
        """Half-width of the difference between two glasses."""
        return _half(self.apart_low, self.apart_high)

    @property
    def moves(self) -> bool:
        """Whether the change is there beyond its ±, and is as much as the last decimal that it is shown with."""
        return self._worth(self.change) and (not np.isfinite(self.low) or self.low > 0 or self.high < 0)

    @property
    def shows(self) -> bool:
        """Whether two glasses made apart would differ beyond their ±."""
        return self._worth(self.change) and (not np.isfinite(self.low) or self.apart_low > 0 or self.apart_high < 0)

    @property
    def surer(self) -> bool:
        """Whether the figure is known clearly better after than before."""
        return self._worth(self.before_pm) and self.after_pm < _SURER * self.before_pm

    def _worth(self, figure: float) -> bool:
        return abs(figure) >= 0.5 * 10.0 ** -difference_of(self.kind).decimals(figure)

    @property
    def by(self) -> Amount:
        """The change with its ±; of degrees, by how many."""
        return difference_of(self.kind)(self.change, self.pm)

    @property
    def by_apart(self) -> Amount:
        """The difference between two glasses with its ±."""
        return difference_of(self.kind)(self.change, self.apart_pm)


def _half(low: float, high: float) -> float:
    """Half of what lies between; what is only rounding is none."""
    return (high - low) / 2 if not high - low < 1e-9 * max(abs(low), abs(high), 1.0) else 0.0


def difference_of(kind: Kind) -> Kind:
    """The kind of a difference: of two temperatures, by how many degrees."""
    return WARMER if kind is TEMPERATURE else kind


def paired(before: Mapping[str, Sample], after: Mapping[str, Sample]) -> tuple[Change, ...]:
    """Each figure that both have, before and after.

    Parameters
    ----------
    before, after : mapping of a key to Sample
        With the same draws behind them: version i of one has the hand, fruit and ice of version i of the other.

    Returns
    -------
    tuple of Change

    Examples
    --------
    >>> from drinklab.kinds import ABV
    >>> ice = np.array([0.0, 1.0, -1.0, 0.5, -0.5])
    >>> was, now = ({"abv": Sample("strength", ABV, x + ice)} for x in (15.0, 15.5))
    >>> change, = paired(was, now)
    >>> change.change, round(change.pm, 9), change.moves, change.shows
    (0.5, 0.0, True, False)
    """
    found = []
    for key, old in before.items():
        new = after.get(key)
        if new is None:
            continue
        one, two = _alike(old.values, new.values)
        low, high = _ends(two - one)
        # Moved on by one version, the two have nothing in common.
        apart_low, apart_high = _ends(two - np.r_[one[:1], np.roll(one[1:], 1)])
        found.append(
            Change(
                new.name, new.kind, float(one[0]), float(two[0]), float(two[0] - one[0]), old.spread, new.spread,
                low, high, apart_low, apart_high,
            )
        )  # fmt: skip
    return tuple(found)


def _alike(one: np.ndarray, two: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """As many versions of both."""
    count = min(one.size, two.size)
    return one[:count], two[:count]


def _ends(values: np.ndarray) -> tuple[float, float]:
    if values.size < 3:
        return float("nan"), float("nan")
    low, high = stage.ends(values[None, 1:])
    return float(low[0]), float(high[0])


def sample(name: str, kind: Kind, value: float, pm: float | None = None, source: str = "") -> Sample:
    """A figure that is known by its estimate and a half-width that holds 19 in 20; without one, it has no ±.

    What goes by the same `source` is off by the same share on both sides of a change.

    >>> from drinklab.kinds import CONCENTRATION
    >>> round(sample("gas", CONCENTRATION, 6.0, 0.5, "gas").spread, 1)
    0.5
    """
    if pm is None or not np.isfinite(pm):
        return Sample(name, kind, np.atleast_1d(float(value)))
    return Sample(name, kind, value + pm / 2 * np.asarray(steps.draws(_DRAWS, 1)(source or name)))


def skewed(name: str, kind: Kind, value: float, low: float, high: float, source: str = "") -> Sample:
    """A figure above 0 that is known by a factor: the ends that hold 19 in 20 need not lie alike around it.

    >>> from drinklab.kinds import MINUTES
    >>> 40 < skewed("through after", MINUTES, 60, 30, 120, "filter").spread < 50
    True
    """
    if not 0 < low < high:
        return sample(name, kind, value)
    return Sample(name, kind, value * np.exp(np.log(high / low) / 4 * steps.draws(_DRAWS, 1)(source or name)))


def samples(now: trial.Trial) -> dict[str, Sample]:
    """The figures of one glass as served, in every version that `trial.run` drew, and how cold it comes off own ice.

    >>> from drinklab.recipe import Recipe
    >>> list(samples(trial.run(Recipe.parse("60 mL gin\\n30 mL lime juice"), draws=10)))
    ['abv', 'sugar', 'acid', 'volume', 'alcohol']
    """
    figures = profile(now.served.liquid)
    found = {f: Sample(WORDS[f], KINDS[f], getattr(figures, f)) for f in TOLD}
    if found["acid"].values[0] < LEAST_ACID:
        del found["acid"]
    if now.chill is not None and now.ice is not None:
        draw = steps.draws(now.setting.draws, now.setting.seed)
        chance = np.atleast_1d(trial.melt_chance(now.melt, now.melt_pm, draw))
        found["temperature"] = _coldness(now.ice.temperature, float(now.chill.temperature), chance)
    return found


def over_ice_samples(
    liquid: Liquid, chill: dilution.Chill, start: float, miss: float | None = None
) -> dict[str, Sample]:
    """The figures of a drink over its own ice: temperature, melt water, strength and volume off the ice.

    Parameters
    ----------
    liquid : Liquid
        Before ice, one drink.
    chill : Chill
        At one time.
    start : float
        Temperature before ice. [°C]
    miss : float, optional
        As of `dilution.melt_pm`. [g]
    """
    melt = float(chill.dilution)
    draw = steps.draws(_DRAWS, 1)
    chance = np.atleast_1d(trial.melt_chance(melt, float(dilution.melt_pm(chill, miss)), draw))
    off = profile(dilution.add_melt(liquid, melt * chance))
    return {
        "temperature": _coldness(start, float(chill.temperature), chance),
        "abv": Sample(WORDS["abv"], KINDS["abv"], np.atleast_1d(off.abv)),
        "sugar": Sample(WORDS["sugar"], KINDS["sugar"], np.atleast_1d(off.sugar)),
        "volume": Sample(WORDS["volume"], KINDS["volume"], np.atleast_1d(off.volume)),
        "water": Sample("water from the ice", KINDS["volume"], melt * chance * float(liquid.volume())),
    }


def gassed_samples(
    volumes: float, pressure: tuple[float, float, float], warm: float, spread: float | None = None
) -> dict[str, Sample]:
    """What a gassed drink has: gauge pressure with low and high, its gas, and the most when it has warmed. [kPa]

    `spread` is the share that the gas is good to where the pressure was set; without it the gas was, and the pressure
    is what is not sure. Both are off by the same share on both sides of a change.
    """
    (likely, low, high), grams = pressure, float(grams_from_volumes(volumes))
    gauge_pm, share = ((high - low) / 2, None) if spread is None else (None, spread)

    def of(figure: float) -> float | None:  # the ± of the gas in another unit
        return None if share is None else share * figure

    return {
        "pressure": sample("gauge pressure", PRESSURE, likely, gauge_pm, "gas held"),
        "gas": sample("fizz", GAS_VOLUMES, volumes, of(volumes), "gas held"),
        "held": sample("gas in the drink", CONCENTRATION, grams, of(grams), "gas held"),
        "warm": sample("pressure warmed, at most", PRESSURE, warm),
    }


_DRAWS = 400


def _coldness(start: float, end: float, chance: np.ndarray) -> Sample:
    """How cold it comes off the ice: what melts is what chills, so that both are off by the same share."""
    return Sample("temperature off the ice", TEMPERATURE, start - (start - end) * chance)


def told(changes: tuple[Change, ...]) -> Fact:
    """What a change does, in one sentence, the two questions apart."""
    moved = [c for c in changes if c.moves]
    surer = tuple(
        Fact("what if surer of one", what=c.name, after=difference_of(c.kind)(c.after_pm),
             before=difference_of(c.kind)(c.before_pm))
        for c in changes if c.surer
    )  # fmt: skip
    exact = bool(changes) and not any(np.isfinite(c.low) for c in changes)
    if exact and moved:
        return Fact("what if exact", each=tuple(Fact("what if one", what=c.name, by=c.by) for c in moved))
    if not moved:
        return Fact("what if surer", each=surer) if surer else Fact("what if nothing")
    each = tuple(Fact("what if one", what=c.name, by=c.by) for c in moved)
    shown = tuple(c.name for c in moved if c.shows)
    if len(shown) == len(moved):
        return Fact("what if all", each=each)
    if shown:
        return Fact("what if some", each=each, shown=shown)
    return Fact("what if none", each=each)
