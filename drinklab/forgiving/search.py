"""The search: random pours of any amounts, and from the answers of `reach` to amounts of which more lie inside."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .. import dilution, trial
from ..batch.marks import marked
from ..display import Display
from ..kinds import Given
from ..learned import by_measure, melting, tool_of
from ..liquid import Liquid
from ..pantry import Ingredient, Pantry
from ..profile import profile
from ..reach.answers import Answer, task_of
from ..reach.asked import COST, SMALLEST
from ..reach.sums import MET, PLACE, WATER, MeltWater, Task, lumped_volume
from ..setting import Setting
from ..steps import normal

# Of the search: answers of `reach` that it starts from, times that it is centred anew, steps of a climb, how many of
# the pours a guess is made with, and how many of the amounts guessed best are poured in full.
_STARTS, _ROUNDS, _CLIMB, _FEW, _FINALISTS = 2, 3, 8, 200, 4
_BEHIND = 0.01  # what guesses are out by: amounts that are guessed to be behind by more are not poured in full
_AT_ONCE = 48  # guesses that are looked at together, those that may be best first
_MARKS = (1, 2, 4, 8)  # how many marks an amount is moved by at once


@dataclass(frozen=True, slots=True)
class Asked:
    """All that was asked, so that one thing can be changed."""

    target: Mapping[str, Any]
    ingredients: Sequence[Any]
    wishes: Mapping[str, Any]  # as for `reach`, but how the drink gets its melt water and its name
    way: Mapping[str, Any]  # melt and ice, as of a setting
    tool: str
    display: Display
    draws: int
    seed: int
    shelf: Pantry
    name: str

    def task(self, share: Given | None, **changes: Any) -> Task:
        """The sums for a share of melt water that is held, or for the rule."""
        ice = self.way["ice"]
        wishes = {**self.wishes, **changes}
        return task_of(self.target, self.ingredients, **wishes, ice=ice, tool=self.tool, pantry=self.shelf)(share)

    def drink(self, answer: Answer) -> Setting:
        """An answer as a trial takes it."""
        return Setting(answer.recipe, tool=self.tool, draws=self.draws, seed=self.seed, **self.way)


def levels_of(task: Task, tool: str, show: Display) -> list[np.ndarray]:
    """Amounts of each group that the bar's measures have a mark for. [mL]"""
    if task.measured:
        return task.levels
    levels = []
    for g, row in enumerate(task.share):
        first = task.bottles[int(np.flatnonzero(row)[0])]
        low, high = task.least[g], task.ceiling[g]
        marks = marked(high, tool, show, first.density, first.state == "solid")
        marks = marks[marks >= max(low, SMALLEST)]
        ends = [low if low > 0 else 0.0, *([high] if np.isfinite(task.most[g]) else [])]
        levels.append(np.unique(np.concatenate([ends, marks])))
    return levels


class Pours:
    """Random pours of any amounts of a task's bottles: those of a trial, as lumped sums.

    `known` is a bottle whose contents are taken as the pantry has them, without their ±.
    """

    def __init__(self, task: Task, asked: Asked, like: Answer, tool: str | None = None, known: int | None = None):
        self.task, self.tool, self.learned = task, tool or asked.tool, asked.shelf.learned
        self.looked = 0  # drinks that were worked out
        parts = _parts(tuple(task.bottles), asked.draws, asked.seed)
        if known is not None:
            parts = parts.copy()
            parts[:, known] = parts[:, known, :1]
        self.parts, self.brings = parts, np.asarray(parts.any(axis=2))
        ids = [bottle.id for bottle in task.bottles]
        again = [ids[:i].count(key) for i, key in enumerate(ids)]
        self.noise = np.array(
            [normal(key, asked.draws, asked.seed, k) for key, k in zip(ids, again, strict=True)]
        )  # fmt: skip
        self.melt = normal("melt water", asked.draws, asked.seed)
        self.line = None if task.ice is None else _ice_line(asked, like)

    def figures(self, groups: np.ndarray) -> np.ndarray:
        """Of each wanted axis, amounts and pour (the best estimate first): shape (axes, len(groups), 1 + draws)."""
        task = self.task
        self.looked += len(groups) * self.noise.shape[1]
        amounts = task.amounts(groups)
        used = amounts.any(axis=0)
        poured = np.asarray(by_measure(amounts, tool_of(self.tool, self.learned)[0]))
        sd = np.asarray(trial.pour_sd(poured, self.tool, self.learned))
        before, after = (self._mixed(poured, sd, used & side) for side in (~task.late, task.late))
        shown = task.mixed(before, after, self._melt_water(before))
        out = shown[task.rows]
        if COST in task.axes:  # as written
            out[task.axes.index(COST)] = (amounts @ task.per_ml)[:, None]
        return out

    def _mixed(self, amounts: np.ndarray, sd: np.ndarray, which: np.ndarray) -> np.ndarray:
        """Lumped parts of what is poured of some bottles."""
        mixed = np.zeros((6, len(amounts), self.noise.shape[1]))
        poured, brought = np.empty(mixed.shape[1:]), np.empty(mixed.shape[1:])
        for i in np.flatnonzero(which):
            np.multiply(sd[:, i, None], self.noise[i], out=poured)
            poured += amounts[:, i, None]
            np.maximum(poured, 0.0, out=poured)
            for part, each, some in zip(mixed, self.parts[:, i], self.brings[:, i], strict=False):
                if some:
                    part += np.multiply(poured, each, out=brought)
        return mixed

    def _melt_water(self, before: np.ndarray) -> MeltWater:
        """Grams of it by the strength and volume over the ice, of each pour by the chance that a trial has."""
        task = self.task
        if self.line is not None:
            at, by_strength, spread = self.line
            chance = np.maximum(1 + spread / 2 * self.melt, 0.0)
            return lambda start, volume: np.interp(start, at, by_strength) * volume * WATER * chance
        if task.fixed is None:
            chance = np.maximum(1 + melting(task.technique, self.learned).spread / 2 * self.melt, 0.0)
            return lambda start, volume: task.melt(start) * volume * WATER * chance
        base = lumped_volume(before)
        first = base[:, :1]
        share = task.fixed
        pm = dilution.weighed_pm(share * first) / first
        weighed = np.maximum(1 + pm / share / 2 * self.melt, 0.0) if share > 0 else 1.0
        return lambda start, volume: share * base * WATER * weighed


# Draws depend on the bottles alone: kept, so that a moved slider pays nothing.
@functools.lru_cache(maxsize=8)
def _parts(bottles: tuple[Ingredient, ...], draws: int, seed: int) -> np.ndarray:
    """What a mL of each bottle brings in each pour, as `Task.lump` has it but for money: (5, bottles, 1 + draws)."""
    drawn = Liquid(np.moveaxis(trial.shelf_draws(bottles, draws, seed), (2, 1, 0), (0, 1, 2)))
    parts = np.array([drawn.water, drawn.ethanol, drawn.sugar, drawn.acid, np.zeros(drawn.shape)])
    parts[4] = drawn.volume() - lumped_volume(parts)
    return parts


def _ice_line(asked: Asked, like: Answer) -> tuple[np.ndarray, np.ndarray, float]:
    """Melt water by own ice as a share of what meets it, by strength, and its relative ±, as a trial of `like` has."""
    drink = asked.drink(like)
    recipe = drink.recipe
    drawn = trial.drawn(recipe, recipe.bottles(asked.shelf), drink.tool, drink.draws, drink.seed, asked.shelf.learned)
    before, top = trial.poured(recipe, *drawn)
    melts, pm, _ = trial.melted(drink, before, top, known=asked.shelf.learned)
    iced = dilution.iced(before, top, recipe.technique)
    abv, share = np.asarray(profile(iced).abv), melts * before.volume() / iced.volume()
    order = np.argsort(abv)
    return abv[order], share[order], pm / float(melts[0]) if melts[0] else 0.0


class _Place:
    """Amounts that were poured in full, and where a climb by guesses has come from there."""

    def __init__(self, groups: np.ndarray, count: int, figures: np.ndarray) -> None:
        self.groups, self.count, self.figures = groups, count, figures
        self.here, self.best, self.own = groups, -np.inf, 0.0
        self.seen: dict[bytes, tuple[float, np.ndarray]] = {}

    def centre(self, middle: np.ndarray) -> None:
        """Take the scatter of these pours around their best estimate."""
        self.scatter = self.figures[:, 1 : 1 + _FEW] - middle[:, None]
        self.ranked = np.sort(self.scatter, axis=1)

    def shares(self, least: np.ndarray, most: np.ndarray, tie: np.ndarray) -> np.ndarray:
        """Share of pours whose scatter lies between, less `tie`, of the best `_FINALISTS` of many; -1 of all others.

        `least` and `most` have shape (axes, many). No share is above the smallest of its axes alone, which a sorted
        scatter tells at once: where that is too little to be among the best, the pours are not looked at.
        """
        few = self.ranked.shape[1]
        alone = np.min(
            [r.searchsorted(b, "right") - r.searchsorted(a, "left")
             for r, a, b in zip(self.ranked, least, most, strict=True)], axis=0,
        )  # fmt: skip
        top, found = alone / few - tie, np.full(len(tie), -1.0)
        order, enough = np.argsort(-top, kind="stable"), -1.0
        for start in range(0, len(order), _AT_ONCE):
            some = order[start : start + _AT_ONCE]
            some = some[top[some] >= enough]
            if not len(some):
                break
            inside = np.ones((len(some), few), bool)
            for value, a, b in zip(self.scatter, least[:, some], most[:, some], strict=True):
                inside &= (value >= a[:, None]) & (value <= b[:, None])
            found[some] = np.count_nonzero(inside, axis=1) / few - tie[some]
            if len(order) > _FINALISTS:
                enough = max(enough, -np.partition(-found, _FINALISTS - 1)[_FINALISTS - 1])
        return found

    def step(self, beside: np.ndarray, guess: np.ndarray) -> bool:
        """Remember the best guesses, and go to the first of them if it is better."""
        order = np.argsort(-guess, kind="stable")[:_FINALISTS]
        self.seen |= {beside[i].tobytes(): (float(guess[i]), beside[i]) for i in order}
        if guess[order[0]] <= self.best:
            return False
        self.here, self.best = beside[order[0]], guess[order[0]]
        return True


class Search:
    """From the answers of `reach` to amounts of which more pours lie inside."""

    def __init__(self, task: Task, pours: Pours, levels: list[np.ndarray]) -> None:
        self.task, self.pours, self.levels = task, pours, levels
        self.counted: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}  # amounts, and which of their pours lie inside
        self._beside_of: dict[tuple[int, float], np.ndarray] = {}
        room = MET * task.scale
        self.low, self.high = task.low - room, task.high + room

    def run(self, starts: np.ndarray) -> np.ndarray:
        """All amounts that were poured in full, the best first."""
        marked = self._allowed(np.array([self._marked(groups) for groups in starts]))
        both = np.unique(np.concatenate([starts, marked]), axis=0)
        counts, figures = self.count(both)
        order = [i for i in np.argsort(-counts, kind="stable") if self._on_marks(both)[i]][:_STARTS]
        self._climb([_Place(both[i], int(counts[i]), figures[:, i]) for i in order])
        groups, within = map(np.array, zip(*self.counted.values(), strict=True))
        return groups[self._order(groups, within.sum(axis=1))]

    def _order(self, groups: np.ndarray, counts: np.ndarray) -> np.ndarray:
        """What comes first: most pours inside, then fewest bottles, then what has marks, then the nearest."""
        distance, off = self.task.judged(groups)
        return np.lexsort((off, distance, ~self._on_marks(groups), (groups > 0) @ self.task.held, -counts))

    def _on_marks(self, groups: np.ndarray) -> np.ndarray:
        """Which have marks for all that is poured."""
        off = [np.abs(level - x[:, None]).min(axis=1) for level, x in zip(self.levels, groups.T, strict=True)]
        return np.max(off, axis=0) < 1e-6

    def within(self, groups: np.ndarray) -> np.ndarray:
        """Which of the pours of amounts that `run` has poured in full lie inside."""
        return self.counted[groups.tobytes()][1]

    def _marked(self, groups: np.ndarray) -> np.ndarray:
        """What is poured of each group, at its nearest mark."""
        out = groups.copy()
        for g in np.flatnonzero(groups):
            level = self.levels[g][self.levels[g] > 0]
            out[g] = level[np.argmin(np.abs(level - groups[g]))]
        return out

    def count(self, groups: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """How many of the pours of each lie inside, and their figures."""
        figures = self.pours.figures(groups)
        inside = self.inside(figures[..., 1:])
        self.counted |= {one.tobytes(): (one, which) for one, which in zip(groups, inside, strict=True)}
        return inside.sum(axis=-1), figures

    def inside(self, figures: np.ndarray) -> np.ndarray:
        """Which of these lie in all bands, shape of a single figure."""
        inside = np.ones(figures.shape[1:], bool)
        for value, low, high in zip(figures, self.low, self.high, strict=True):
            inside &= (value >= low) & (value <= high)
        return inside

    def _climb(self, places: list[_Place]) -> None:
        """From each of some amounts to better ones beside, all at once, until none is."""
        for _ in range(_ROUNDS if places else 0):
            middle = self.task.figures(np.array([place.groups for place in places]))[self.task.rows]
            for place, estimate in zip(places, middle.T, strict=True):
                place.centre(estimate)
                place.own = float(self.inside(place.figures[:, 1 : 1 + _FEW]).mean())
            going = places
            for _ in range(_CLIMB):
                going = self._stepped(going)
                if not going:
                    break
            tried: dict[bytes, tuple[np.ndarray, _Place]] = {}
            for place in places:
                # a guess is of the same pours as the place's own share: what is behind it there is behind in all
                fresh = [
                    (key, s) for key, s in place.seen.items()
                    if s[0] >= place.own - _BEHIND and key not in self.counted and key not in tried
                ]  # fmt: skip
                for key, (_, groups) in sorted(fresh, key=lambda one: -one[1][0])[:_FINALISTS]:
                    tried[key] = groups, place
            if not tried:
                return
            counts, figures = self.count(np.array([groups for groups, _ in tried.values()]))
            better: dict[int, _Place] = {}
            for i, (groups, place) in enumerate(tried.values()):
                if counts[i] > max(place.count, better[id(place)].count if id(place) in better else 0):
                    better[id(place)] = _Place(groups, int(counts[i]), figures[:, i])
            places = list(better.values())
            if not places:
                return

    def _stepped(self, places: list[_Place]) -> list[_Place]:
        """Each place a step on, to the best guess beside it; those that found nothing better are left out."""
        beside = [self._allowed(self._beside(place.here)) for place in places]
        every = np.concatenate(beside)
        if not len(every):
            return []
        middle = self.task.figures(every)[self.task.rows]
        self.pours.looked += len(every)
        off = np.mean(((middle.T - self.task.middle) / self.task.scale) ** 2 * self.task.pulled, axis=1)
        going, start = [], 0
        for place, groups in zip(places, beside, strict=True):
            of = slice(start, start + len(groups))
            start += len(groups)
            # the pours lie around each best estimate as they did around another; middles break ties
            least, most = self.low[:, None] - middle[:, of], self.high[:, None] - middle[:, of]
            if len(groups) and place.step(groups, place.shares(least, most, 1e-4 * off[of] / (1 + off[of]))):
                going.append(place)
        return going

    def _moved(self, g: int, amount: float) -> np.ndarray:
        """An amount by each of `_MARKS` up and down, shape (marks, 2); not a number where there is no such mark."""
        known = self._beside_of.get((g, amount))
        if known is None:
            levels = self.levels[g]
            above = np.searchsorted(levels, amount * (1 + 1e-9), "right") + np.array(_MARKS) - 1
            below = np.searchsorted(levels, amount * (1 - 1e-9), "left") - np.array(_MARKS)
            at = np.stack([above, below], axis=1)
            known = np.where((at >= 0) & (at < len(levels)), levels[np.clip(at, 0, len(levels) - 1)], np.nan)
            self._beside_of[g, amount] = known
        return known

    def _beside(self, at: np.ndarray) -> np.ndarray:
        """One amount moved by some marks, or two of which one at least is poured already."""
        moved = np.array([self._moved(g, float(amount)) for g, amount in enumerate(at)])
        ways = moved.shape[1] * 2
        up, down = moved[:, :, 0], moved[:, :, 1]
        same, other = np.concatenate([up, down], axis=1), np.concatenate([down, up], axis=1)
        poured = at > 0
        pairs = [(g, h) for g in range(len(at)) for h in range(g) if poured[g] or poured[h]]
        beside = np.repeat(at[None], (len(at) + 2 * len(pairs)) * ways, axis=0).reshape(-1, ways, len(at))
        for g in range(len(at)):
            beside[g, :, g] = same[g]
        for k, (g, h) in enumerate(pairs):  # both the same way, and one against the other
            both = beside[len(at) + 2 * k : len(at) + 2 * k + 2]
            both[:, :, g] = same[g]
            both[0, :, h], both[1, :, h] = same[h], other[h]
        rows = beside.reshape(-1, len(at))
        return rows[np.isfinite(rows).all(axis=1)]

    def _allowed(self, groups: np.ndarray) -> np.ndarray:
        """Those that keep to the limits, and that the melt rule covers."""
        task = self.task
        total = groups @ task.weight
        fits = (total > 0) & (total >= task.total[0] * (1 - 1e-9)) & (total <= task.total[1] * (1 + 1e-9))
        fits &= groups[:, task.early].any(axis=1)
        groups = groups[fits]
        if task.ruled:
            groups = groups[task.figures(groups)[PLACE["before ice"]] <= dilution.RULE_RANGE.high]
        if COST in task.axes:
            most = task.high[task.axes.index(COST)]
            groups = groups[task.amounts(groups) @ task.per_ml <= most * (1 + 1e-9)]
        return groups
