"""The task as arrays: bottles, bands and limits, and what any amounts of them give."""

from __future__ import annotations

import copy
import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .. import dilution
from ..errors import InputError, Told
from ..facts import Fact
from ..kinds import VOLUME, Given, Number
from ..learned import by_measure
from ..liquid import Liquid
from ..pantry import Ingredient
from ..physics import density as _density
from .asked import COST, COST_SCALE, FIGURES, SIZE, PerMl, melt_share, scales

FINE = 0.1  # steps of a bottle poured freely beside others that are measured [mL]
# Among amounts that meet the bands: weight of the bands' middles, and of amounts to stay near to, if any.
HOLD_FIGURES = 1.0, 1e-3  # a swap: the drink stays what it was
MET = 1e-6  # figures so little outside their bands, in their scales, count as inside
PURE = float(_density.ethanol()) / 100_000  # grams of ethanol in 1 % vol of a millilitre
PLACE = {axis: row for row, axis in enumerate((*FIGURES, "before ice", COST))}  # of what `Task.mixed` gives
WATER = float(_density.ethanol_water(0.0)) / 1000  # g/mL
Bands = Mapping[str, tuple[float, float]]
MeltWater = Callable[[np.ndarray, np.ndarray], np.ndarray]  # grams, by strength and volume over the ice
RULE_TOP = dilution.RULE_RANGE.high - 0.001


@dataclass(frozen=True, slots=True)
class Candidate:
    """Amounts of the groups, and how they rank."""

    groups: np.ndarray  # [mL]
    distance: float
    bottles: int
    rank: tuple[float, ...]  # the lower the better; see `Task.ranked`


class Task:
    """Bottles, bands and limits as arrays. Bottles in a fixed ratio move as one: a group."""

    def __init__(
        self,
        bottles: list[Ingredient],
        late: np.ndarray,
        bands: Bands,
        limits: list[tuple[float, float, float]],
        ratios: Sequence[tuple[int, int, float]],
        technique: str,
        serve: str,
        melt: Given | None,
        near: np.ndarray | None = None,
        weights: tuple[float, float] = HOLD_FIGURES,
        ice: dilution.OwnIce | None = None,
        prices: PerMl | None = None,
        pours: float = 1.0,
        melts: float = 1.0,
    ) -> None:
        self.ice, self.prices, self.pours = ice, prices, pours  # the last: what share of its mark the measure pours
        self.melts = melts  # what share of the rule's melt this bar has
        self.per_ml = np.zeros(len(bottles))
        if COST in bands:
            if prices is None:
                raise InputError("wanted cost", Told("asked for"), "left out until prices are given")
            self.per_ml = prices.of(bottles)
        self.bottles, self.late = bottles, late
        self.axes = tuple(bands)
        self.rows = [PLACE[a] for a in self.axes]
        self.pulled = np.array([a != COST for a in self.axes])  # the less it costs the better: no middle draws it
        self.low, self.high = np.array([bands[a] for a in self.axes]).T
        self.middle = (self.low + self.high) / 2
        size = dict(scales())
        if "volume" in bands:
            size["volume"] *= sum(bands["volume"]) / 2
        if COST in bands:
            size[COST] = COST_SCALE * bands[COST][1]
        self.scale = np.array([size[a] for a in self.axes])
        self.technique, self.serve = technique, serve
        self.fixed = None if melt is None else melt_share(melt)
        dilution.melt_fraction(0.0, technique, serve)  # knows the technique, or says so
        self.given = limits
        self._group(ratios)
        self._room(bands)
        # what decides among amounts that are as near to the target
        self.centre: float
        self.keep: float
        self.centre, self.keep = weights if near is not None else (1.0, 0.0)
        # of a group the first bottle: as near as the ratio lets all of it come
        self.near = np.zeros(len(self.share)) if near is None else self.share @ near / (self.share**2).sum(axis=1)

    def _group(self, ratios: Sequence[tuple[int, int, float]]) -> None:
        """`share`: bottles [mL] in a millilitre of each group's first; `least`, `most`, `steps` of groups."""
        n = len(self.bottles)
        share = np.eye(n)
        alive, led_by = list(range(n)), list(range(n))
        for a, b, times in ratios:
            if led_by[a] == led_by[b]:
                told = Told(f"{self.bottles[a].name} to {self.bottles[b].name}")
                raise InputError("ratio", told, "between two bottles that no other ratio ties together already")
            keep, gone = led_by[b], led_by[a]
            share[keep] += share[gone] * (times * share[keep, b] / share[gone, a])
            led_by = [keep if x == gone else x for x in led_by]
            alive.remove(gone)
        self.share = share[alive]
        self.early = self.share[:, ~self.late].any(axis=1)  # brings something before the ice
        self.weight = self.share.sum(axis=1)  # mL poured for each mL of the group's first
        self.held = (self.share > 0).sum(axis=1)
        room: list[tuple[float, float, float]] = []
        measured = any(step for *_, step in self.given)
        for row in self.share:
            members = np.flatnonzero(row)
            least = max(self.given[i][0] / row[i] for i in members)
            most = min(self.given[i][1] / row[i] for i in members)
            names = " and ".join(self.bottles[i].name for i in members)
            if least > most * (1 + 1e-9):
                raise InputError("limits", Told(f"too far apart for the ratio of {names}"), "such as the ratio allows")
            steps = [(self.given[i][2] or FINE * measured) / row[i] for i in members]
            room.append((least, most, _common(steps, names)))
        self.least, self.most, self.steps = np.array(room).T
        self.measured = measured

    def _room(self, bands: Bands) -> None:
        """How much may be poured altogether, `total`, and that limits, measures and volume agree."""
        sum_least = float(self.least @ self.weight)
        sum_most = float(self.most @ self.weight)
        if not sum_most > 0:
            raise InputError("limits", Fact("nothing of any bottle"), Fact("something of one"))
        if "volume" in bands:
            low, high = bands["volume"]
            if sum_least > 0:
                least = self.figures(self.least)[3]
                if least > high * (1 + 1e-9):
                    told = Fact("so much", amount=VOLUME(sum_least))
                    if least > sum_least * 1.01:
                        told = Fact("so much with melt", amount=VOLUME(sum_least), least=VOLUME(least))
                    raise InputError("sum of the least amounts", told, Fact("up to the wanted", most=VOLUME(high)))
            largest = max(step for *_, step in self.given)
            if largest > high:
                raise InputError("measure", VOLUME(largest), Fact("up to the wanted", most=VOLUME(high)))
            self.total = (min(0.05 * low, 0.5 * sum_most), 2.0 * high)
        else:
            self.total = (min(SIZE[0], 0.95 * sum_most), max(SIZE[1], 1.5 * sum_least))
        self.ceiling = np.minimum(self.most, self.total[1] / self.weight)
        if self.measured:
            self.levels = [self._levels(g) for g in range(len(self.weight))]
        elif self.late.all():
            raise InputError("bottles after the ice", Told("all of them"), "fewer: something must come before")

    def _levels(self, g: int) -> np.ndarray:
        """Amounts that the measure allows of a group, 0 among them unless it must be in."""
        step = self.steps[g]
        first = max(int(np.ceil(self.least[g] / step - 1e-9)), 1)
        last = int(np.floor(self.ceiling[g] / step + 1e-9))
        levels = step * np.arange(first, last + 1)
        if self.least[g] <= 0:
            return np.append(0.0, levels)
        if not levels.size:
            names = " and ".join(self.bottles[i].name for i in np.flatnonzero(self.share[g]))
            told = Fact("allowed from to", low=VOLUME(self.least[g]), high=VOLUME(self.most[g]))
            raise InputError(f"limits of {names!r}", told, Fact("a multiple between", step=VOLUME(step)))
        return levels

    def amounts(self, groups: np.ndarray) -> np.ndarray:
        """Of each bottle. [mL]"""
        return groups @ self.share

    def poured(self, groups: np.ndarray) -> np.ndarray:
        """What the measure makes of what is to be poured by its marks, of each bottle. [mL]"""
        amounts = self.amounts(groups)
        return amounts if self.pours == 1 else by_measure(amounts, self.pours)

    def at(self, groups: np.ndarray) -> Task:
        """The task beside some amounts, where each bottle is measured, or dashed, as it is there: it is linear."""
        if self.pours == 1:
            return self
        amounts, beside = self.amounts(groups), copy.copy(self)
        share = np.where(amounts > 0, by_measure(amounts, self.pours) / np.maximum(amounts, 1e-12), self.pours)
        beside.lump, beside.pours = self.lump_of(share), 1.0
        return beside

    def melt(self, abv: Number) -> Number:
        """Share of melt water for a strength before ice, the rule held at the end of its range."""
        if self.fixed is not None or not np.size(abv):
            return self.fixed or 0.0
        return self.melts * dilution.melt_fraction(
            np.minimum(abv, dilution.RULE_RANGE.high), self.technique, self.serve
        )

    @functools.cached_property
    def ruled(self) -> bool:
        """Whether the melt is by a rule that some of these bottles are too strong for."""
        if self.fixed is not None or max(b.abv for b in self.bottles) <= RULE_TOP:
            return False
        try:
            return dilution.melt_fraction(100.0, self.technique, self.serve) is None
        except InputError:
            return True

    @functools.cached_property
    def lump(self) -> np.ndarray:
        """What a mL of each group brings before (0) and after the ice (1): shape (2, 6, groups).

        Water, ethanol, sugar and acid [g], the volume of the rest [mL], and money. The volume rule of
        `physics.density.solution_volume` is a part for spirit, a part for sugar and a sum over the rest;
        the last is what the whole leaves over, so that nothing here depends on what the rest may be.
        All of it is measured: what the measure makes of less, `figures` and `at` know.
        """
        return self.lump_of(self.pours)

    def lump_of(self, pours: np.ndarray | float) -> np.ndarray:
        """`lump` where so much of a mark is poured of each bottle; the cost is of what is written."""
        parts = np.concatenate([self._parts[:5] * pours, self._parts[5:]])
        return np.array([parts * ~self.late @ self.share.T, parts * self.late @ self.share.T])

    @functools.cached_property
    def _parts(self) -> np.ndarray:
        """What a mL of each bottle brings, rows as of `lump`."""
        each = Liquid(np.array([b.composition for b in self.bottles]).T)
        none = np.zeros(len(self.bottles))
        parts = np.array([each.water, each.ethanol, each.sugar, each.acid, none, self.per_ml])
        parts[4] = each.volume() - lumped_volume(parts)
        return parts

    def figures(self, groups: np.ndarray) -> np.ndarray:
        """Figures of any number of drinks, the groups last; see `mixed`."""
        rows = groups.reshape(-1, groups.shape[-1])
        both = self.lump @ rows.T
        if self.pours != 1:  # what is dashed is not measured
            less = (self.poured(rows) - self.amounts(rows) * self.pours).T
            both[:, :5] += [self._parts[:5] * ~self.late @ less, self._parts[:5] * self.late @ less]
        return self.mixed(*both).reshape(len(PLACE), *groups.shape[:-1])

    def mixed(self, before: np.ndarray, after: np.ndarray, melt_water: MeltWater | None = None) -> np.ndarray:
        """Strength, sugar, acid, volume as served, the strength before ice, and the cost, from lumped parts.

        The sums of the forward code without its checks and names, since the search asks for thousands;
        what is found goes through the forward code itself at the end. `melt_water` gives the grams of it, from the
        strength and the volume over the ice, where it is other than expected.
        """
        whole = before + after
        iced = whole if self.technique in dilution.IN_GLASS else before
        volume = lumped_volume(iced)
        start = iced[1] / PURE / volume
        whole = whole + 0.0
        if melt_water is None:
            # A share that was set is one of the volume before ice.
            base = volume if self.fixed is None else lumped_volume(before)
            whole[0] += self.melt(start) * base * WATER
        else:
            whole[0] += melt_water(start, volume)
        volume = lumped_volume(whole)
        per_litre = 1000 / volume
        return np.array([whole[1] / PURE / volume, whole[2] * per_litre, whole[3] * per_litre, volume, start, whole[5]])

    def content(self) -> dict[str, np.ndarray]:
        """What a mL of each group brings to a figure, in the figure's unit times mL."""
        parts = self.lump.sum(axis=0)[1:4] * [[1 / PURE], [1000], [1000]]
        return dict(zip(("abv", "sugar", "acid"), parts, strict=True)) | {COST: self.lump.sum(axis=0)[5]}

    def partial_volumes(self, groups: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Figures, and what one mL more of each group adds to the volume: served, and before ice."""
        step = 1e-5 * float(groups @ self.weight)
        more = np.vstack([groups, groups + step * np.eye(len(groups))])
        shown, early = self.figures(more), lumped_volume(self.lump[0] @ more.T)
        return shown[:, 0], (shown[3, 1:] - shown[3, 0]) / step, (early[1:] - early[0]) / step

    def judged(self, groups: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(distance, off): how far from the bands, and from their middle; far where no rule gives the melt."""
        shown = self.figures(groups)
        wanted = shown[self.rows].T
        miss = (wanted - np.clip(wanted, self.low, self.high)) / self.scale
        distance = np.sqrt(np.mean(miss**2, axis=-1))
        distance[distance < MET] = 0.0
        if self.ruled:
            distance[shown[4] > dilution.RULE_RANGE.high] = np.inf
        off = self.centre * np.mean(self.pulled * ((wanted - self.middle) / self.scale) ** 2, axis=-1)
        if self.keep:
            off += self.keep * np.mean(((groups - self.near) / self.total[1]) ** 2, axis=-1)
        return distance, off

    @property
    def wish(self) -> bool:
        """Whether amounts near a recipe's are wanted."""
        return self.keep > self.centre

    def ranked(self, distance: np.ndarray, bottles: np.ndarray, off: np.ndarray) -> tuple[np.ndarray, ...]:
        """What comes first: the nearest to the target; then the fewest bottles, or the nearest to a recipe."""
        return (distance, off, bottles) if self.wish else (distance, bottles, off)

    def best(self, groups: np.ndarray) -> list[Candidate]:
        """The best of many, with the best of each number of bottles."""
        distance, off = self.judged(groups)
        bottles = (groups > 0) @ self.held
        rank = self.ranked(distance, bottles, off)
        order = np.lexsort(rank[::-1])
        order = order[np.isfinite(distance[order])]
        _, first = np.unique(bottles[order], return_index=True)
        chosen = [order[i] for i in sorted({*range(min(100, len(order))), *first.tolist()})]
        return [
            Candidate(groups[i], float(distance[i]), int(bottles[i]), tuple(float(r[i]) for r in rank)) for i in chosen
        ]

    def called(self, i: int) -> str:
        """A bottle's name, short where that is clear."""
        short = [b.name.split(",")[0] for b in self.bottles]
        return short[i] if short.count(short[i]) == 1 else self.bottles[i].name


def lumped_volume(parts: np.ndarray) -> np.ndarray:
    """Volume of lumped parts (what they cost takes no room), by the rule of `physics.density.solution_volume`. [mL]"""
    water, ethanol, sugar, _, rest, *_ = parts
    base = water + ethanol + 1e-12  # dry sugar alone holds neither
    spirit = base * 1000.0 / _density._ethanol_water(ethanol / base)
    return spirit + sugar * _density._sucrose_volume(sugar / (sugar + water + 1e-12)) + rest


def _common(steps: list[float], names: str) -> float:
    """Least amount of a group's first bottle that is a multiple of every step."""
    if not all(steps):
        return max(steps)
    for k in range(1, 1001):
        if all(abs(k * steps[0] / s - round(k * steps[0] / s)) < 1e-6 for s in steps):
            return k * steps[0]
    raise InputError(
        "ratio", Told(f"one that no multiples of the measure give for {names}"), "one that measures can give"
    )
