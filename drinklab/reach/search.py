"""The search: amounts poured freely, combinations of measures, and an integer programme over them."""

from __future__ import annotations

from itertools import combinations
from math import comb
from typing import Any

import numpy as np

from .. import dilution
from ..errors import InputError, Told
from ..facts import Fact
from ..kinds import VOLUME
from ..learned import LEAST_MEASURED
from .asked import COST, SMALLEST
from .sums import PURE, RULE_TOP, WATER, Candidate, Task, lumped_volume

_ROWS = 120_000  # combinations of measures looked at one and all, before neighbourhoods are searched instead
_BLOCK = 250_000  # numbers in a matrix product, so few that it stays on one core and in its cache
_PROGRAMMES, _NODES = 4, 4_000  # of integer programmes, most and most nodes of each
_SETS = 8_000  # sets of bottles that are tried one and all
_STEPS, _FALL = 26, 0.3  # of the barrier: 0.1 x 0.3^26 is as good as none
_LEFT = 1e-9  # what rounding leaves of a total


def few(task: Task, found: list[Candidate], count: int) -> list[Candidate]:
    """The best first, then the best of each smaller number of bottles, then the next best; in order."""
    kept: list[Candidate] = []
    sets: list[frozenset[int]] = []
    for c in sorted(found, key=lambda c: c.rank):
        held = frozenset(np.flatnonzero(c.groups).tolist())
        if not any(held >= other for other in sets):  # bottles more, and no nearer: nobody wants it
            kept.append(c)
            sets.append(held)
    first = (next((c for c in kept if c.bottles == size), None) for size in range(kept[0].bottles, 0, -1))
    chosen = [c for c in first if c is not None][:count]
    chosen += [c for c in kept if not any(c is d for d in chosen)][: count - len(chosen)]
    return sorted(chosen, key=lambda c: c.rank)


def solved_for(task: Task) -> list[Candidate]:
    """Amounts that come nearest to the target: of each set of bottles, the best.

    Raises
    ------
    InputError
        If no amounts fit the limits.
    """
    found = _measured(task) if task.measured else _free(task)
    if not found:
        room = {"low": VOLUME(task.total[0]), "high": VOLUME(task.total[1])}
        allowed = Fact("pours by the rule" if task.ruled else "pours altogether", **room)
        raise InputError("limits", Told("such that no amounts fit them all"), allowed)
    return found


def _free(task: Task) -> list[Candidate]:
    """Best freely poured amounts for each set of bottles.

    As many groups as figures are enough unless limits bind; so those sets come first, all while they
    are few, then sets with one group more beside the best.
    """
    needed = np.flatnonzero(task.least > 0).tolist()
    free = np.flatnonzero((task.least <= 0) & (task.ceiling > 0)).tolist()
    sets = [frozenset(needed)] if needed else []
    if task.wish:  # the recipe's own bottles, one and all
        sets.append(frozenset((*needed, *(g for g in free if task.near[g] > 0))))
    for size in range(1, len(task.axes) + 1):
        if len(sets) + comb(len(free), size) <= _SETS:
            sets += [frozenset((*needed, *more)) for more in combinations(free, size)]
    found: list[Candidate] = []
    known: set[frozenset[int]] = set()
    nearest = np.inf
    for _ in range(4):
        known.update(sets)
        groups, poured_sets = _pour_freely(task, sets)
        if task.pours != 1:
            groups = _dashed(task, groups, poured_sets)
        found += task.best(groups)
        distance, off = task.judged(groups)
        best = [poured_sets[i] for i in np.lexsort((off, distance))[:30]] or sets[:300]
        sets = [s for s in dict.fromkeys(s | {g} for s in best for g in free) if s not in known]
        before, nearest = nearest, min((c.distance for c in found), default=np.inf)
        if not sets or nearest == 0 or nearest > before - 1e-4:
            break
    return found


def _dashed(task: Task, groups: np.ndarray, sets: list[frozenset[int]]) -> np.ndarray:
    """Amounts set anew where some are dashed, not measured: those stay too little to be measured, the others do not."""
    amounts = task.amounts(groups)
    dashed = (amounts > 0) & (amounts < LEAST_MEASURED)
    out = groups.copy()
    for which in np.unique(dashed[dashed.any(axis=1)], axis=0):
        rows = np.flatnonzero((dashed == which).all(axis=1))
        some = task.at(np.zeros(len(task.weight)))
        some.lump = task.lump_of(np.where(which, 1.0, task.pours))
        ends = np.where(which, LEAST_MEASURED * (1 - 1e-9), np.inf)
        with np.errstate(divide="ignore"):
            some.ceiling = np.minimum(task.ceiling, (ends / task.share).min(axis=1))
        again, kept = _pour_freely(some, [sets[row] for row in rows])
        where = {sets[row]: row for row in rows}
        for held, amount in zip(kept, again, strict=True):
            out[where[held]] = amount
    worse = task.judged(out)[0] > task.judged(groups)[0]
    out[worse] = groups[worse]
    return out


def _pour_freely(task: Task, sets: list[frozenset[int]]) -> tuple[np.ndarray, list[frozenset[int]]]:
    """Best amounts of the groups of every set, all sets at once, and the sets that the limits allow.

    Gauss-Newton inside a logarithmic barrier. Its weight falls step by step, and so does that of the
    pull to the middle of the bands, which at first makes the way smooth and at last decides among equals.
    """
    nothing = len(task.weight)  # sets are filled up with a group of nothing, so that they are one array
    index = np.full((len(sets), max(map(len, sets), default=1)), nothing)
    for row, held in zip(index, sets, strict=True):
        row[: len(held)] = sorted(held)
    unit = task.total[1]
    least = np.where(task.least > 0, task.least, np.minimum(SMALLEST, task.ceiling))
    low = np.append(least / unit, 0.0)[index]
    high = np.maximum(np.append(task.ceiling / unit, 1.0)[index], low + 1e-7)
    weight = np.append(task.weight, 0.0)[index]
    bottom = np.maximum(task.total[0] / unit, (weight * low).sum(1))
    top = np.minimum(1.0, (weight * high).sum(1))
    bottom = np.where(np.abs(top - bottom) < 1e-6, top - 1e-6, bottom)  # room to move where limits leave none
    ok = (top > bottom) & np.append(task.early, False)[index].any(axis=1)
    index, weight, low, high, bottom, top = (x[ok] for x in (index, weight, low, high, bottom, top))
    sets = [s for s, fits in zip(sets, ok, strict=True) if fits]
    count, size = index.shape
    if not count:
        return np.zeros((0, nothing)), sets
    lump = np.append(task.lump * unit, np.zeros((*task.lump.shape[:2], 1)), axis=2)[:, :, index]
    # the strength before ice that the melt rule covers is a wall
    rows, pull = [*task.rows, 4], np.append(task.centre * task.pulled, 0.0)
    lowest, highest = np.append(task.low, -np.inf), np.append(task.high, RULE_TOP if task.ruled else np.inf)
    middle, scale = np.append(task.middle, 0.0), np.append(task.scale, 1e-3)
    near, keep = np.append(task.near, 0.0)[index] / unit, task.keep

    def seen(at: np.ndarray) -> np.ndarray:
        before, after = np.einsum("ipsg,...sg->ip...s", lump, at)
        return np.moveaxis(task.mixed(before, after)[rows], 0, -1)

    def merit(at: np.ndarray, shown: np.ndarray, soft: float, wall: float) -> np.ndarray:
        miss = (shown - np.clip(shown, lowest, highest)) / scale
        total = (weight * at).sum(-1)
        with np.errstate(invalid="ignore", divide="ignore"):
            logs = np.log((at - low) * (high - at)).sum(-1) + np.log((total - bottom + _LEFT) * (top - total + _LEFT))
        value = (miss**2).sum(-1) + soft * (pull * ((shown - middle) / scale) ** 2).sum(-1) - wall * logs
        value = value + keep * soft * ((at - near) ** 2).sum(-1)
        return np.where(np.isfinite(value), value, np.inf)

    guess = task.middle[-1] / 1.25 / unit if task.axes[-1] == "volume" else 0.5 * (bottom + top)
    guess = np.clip(guess, bottom + 0.05 * (top - bottom), top - 0.05 * (top - bottom))
    floor, roof = (weight * low).sum(1), (weight * high).sum(1)
    x = low + (high - low) * np.clip((guess - floor) / (roof - floor), 1e-9, 1 - 1e-9)[:, None]
    shown = seen(x)
    unity, which = np.eye(size), np.arange(count)
    soft, wall = 1.0, 0.1
    for _ in range(_STEPS):
        slope = np.moveaxis((seen(x + 1e-6 * unity[:, None, :]) - shown) / 1e-6, 0, -1) / scale[:, None]
        miss = (shown - np.clip(shown, lowest, highest)) / scale
        lean = soft * pull * (shown - middle) / scale
        total = (weight * x).sum(1, keepdims=True)
        under, over = total - bottom[:, None] + _LEFT, top[:, None] - total + _LEFT
        downhill = (slope.mT @ (miss + lean)[..., None])[..., 0]
        downhill += 0.5 * wall * (1 / (high - x) - 1 / (x - low) + weight * (1 / over - 1 / under))
        curve = slope.mT @ (((miss != 0) + soft * pull)[..., None] * slope)
        curve += unity * (0.5 * wall * (1 / (high - x) ** 2 + 1 / (x - low) ** 2) + 1e-11)[:, None, :]
        curve += (0.5 * wall * (1 / over**2 + 1 / under**2))[..., None] * weight[:, :, None] * weight[:, None, :]
        downhill += keep * soft * (x - near)
        curve += keep * soft * unity
        # scaled to a diagonal of ones: a bottle against its wall is 1e20 times as stiff as one that nothing holds
        stiff = np.sqrt(np.diagonal(curve, axis1=1, axis2=2))
        curve = curve / (stiff[:, :, None] * stiff[:, None, :]) + 1e-13 * unity
        step = -np.linalg.solve(curve, (downhill / stiff)[..., None])[..., 0] / stiff
        change = (weight * step).sum(1, keepdims=True)
        # the longest step that leaves a twentieth of the way to each wall
        ahead = np.concatenate([-step / (x - low), step / (high - x), -change / under, change / over], axis=1)
        longest = 1 / np.maximum(1.0, ahead.max(axis=1) / 0.95)
        tried = x + longest[:, None] * np.array([1.0, 0.3, 0.05, 0.0])[:, None, None] * step
        figures = seen(tried)
        pick = np.argmin(merit(tried, figures, soft, wall), axis=0)
        x, shown = tried[pick, which], figures[pick, which]
        soft, wall = max(_FALL * soft, 1e-6), max(_FALL * wall, 1e-13)
    groups = np.zeros((count, nothing + 1))
    groups[which[:, None], index] = x * unit
    groups[:, :-1] = np.clip(groups[:, :-1], 0.0, task.ceiling)
    return groups[:, :-1], sets


def _measured(task: Task) -> list[Candidate]:
    """Best combinations of measures: every one while they are few, else what a search of neighbours finds."""
    table = Table(task)
    looked, last, grown = 0, 1, 0.0
    n = int(task.held.sum())
    for size in range(1, n + 1):
        # of n bottles and many measures; spares the start of a count that will be too long
        growth = grown * (size - 2) * max(n - size + 1, 0) / (n - size + 2) / size
        rows = table.every(size, _ROWS - looked) if looked + last * growth < _ROWS else None
        if rows is None:
            break
        grown, last, looked = len(rows) / last, max(len(rows), 1), looked + len(rows)
        table.keep(rows)
        if size == 2 and table.best[0] > 0:
            table.search()  # something good early narrows the window for the sizes to come
            grown = 0.0
        if table.best[0] == 0 and not task.wish:
            return table.candidates()
    else:
        return table.candidates()
    if table.best[0] > 0 or task.wish:
        table.search()
    if not table.found or size <= 2 or task.wish:
        for candidate in sorted(_free(task), key=lambda c: c.rank)[:40]:
            table.keep(table.rounded(candidate.groups))
        table.search()
    if table.best[0] > 0:
        table.programme()
    return table.candidates()


class Table:
    """Combinations of measures as rows of level numbers, and the best found for each set of bottles."""

    def __init__(self, task: Task) -> None:
        self.task = task
        # groups that must be in come first
        self.order = np.argsort(task.least <= 0, kind="stable")
        self.levels = [task.levels[g] for g in self.order]
        self.weight = task.weight[self.order]
        self.held, self.needed = task.held[self.order], int((task.least > 0).sum())
        self.count = np.array([len(levels) for levels in self.levels])
        self.found: dict[int, tuple[tuple[float, ...], np.ndarray]] = {}
        self.best: tuple[float, ...] = (np.inf, 0, np.inf)
        # what mixing does to the volume: of every two bottles and melt water, with room for three and more
        share = np.linspace(0.1, 0.9, 9)[:, None, None, None]
        poured = np.vstack([(task.lump.sum(axis=0) / task.weight).T, [WATER, 0, 0, 0, 0, 0]])
        mixed = lumped_volume(np.moveaxis(share * poured + (1 - share) * poured[:, None], -1, 0))
        dashed = 1 / task.pours  # what is not measured, beside what is
        self.mixing = (mixed.min() - 0.005) * min(dashed, 1.0), (mixed.max() + 0.005) * max(dashed, 1.0)

    def groups(self, rows: np.ndarray) -> np.ndarray:
        """Amounts of the task's groups. [mL]"""
        out = np.empty(rows.shape)
        for g, column in zip(self.order, range(len(self.levels)), strict=True):
            out[:, g] = self.levels[column][rows[:, column]]
        return out

    def window(self) -> tuple[float, float]:
        """Totals worth a look: served volumes not much further off than what was found already."""
        task = self.task
        low, high = task.total
        if task.axes[-1] == "volume" and np.isfinite(self.best[0]):
            off = (self.best[0] + 0.05) * np.sqrt(len(task.axes)) * task.scale
            start = np.linspace(0.0, dilution.RULE_RANGE.high if task.ruled else 100.0, 400)
            melt = np.broadcast_to(task.melt(start), start.shape)
            if task.axes[0] == "abv" and not task.late.any():
                # only the melt of strengths as near; mixing with it raises them by 0 to 5 %
                served = start / (1 + melt)
                melt = melt[(served * 1.06 > task.low[0] - off[0]) & (served * 0.97 - 0.5 < task.high[0] + off[0])]
            least = 0.0 if task.late.any() else melt.min(initial=10.0)
            low = max(low, (task.low[-1] - off[-1]) / self.mixing[1] / (1 + melt.max(initial=0.0)))
            high = min(high, (task.high[-1] + off[-1]) / self.mixing[0] / (1 + least))
        return low * (1 - _LEFT), high * (1 + _LEFT)

    def every(self, size: int, most: int) -> np.ndarray | None:
        """Every combination of exactly `size` bottles in the window, or None if they are too many."""
        low, high = self.window()
        rows, total, used = np.zeros((1, len(self.count)), np.int16), np.zeros(1), np.zeros(1, int)
        after = np.append(self.held[::-1].cumsum()[::-1], 0)[1:]
        done, many = [], 0
        for g, levels in enumerate(self.levels):
            pours = levels[levels > 0] * self.weight[g]
            held = used + self.held[g]
            full = (held == size) & (g >= self.needed - 1)
            first = np.where(full, np.searchsorted(pours, low - total), 0)
            last = np.searchsorted(pours, high - total, side="right")
            enough = (held <= size) & (held + after[g] >= size)
            times = np.where(enough, np.maximum(last - first, 0), 0)
            many += int(times.sum())
            if many > most:
                return None
            parent = np.repeat(np.arange(len(rows)), times)
            level = np.arange(len(parent)) - np.repeat(times.cumsum() - times, times) + first[parent]
            grown = rows[parent]
            grown[:, g] = level + (len(levels) - len(pours))
            ended = full[parent]
            done.append(grown[ended])
            stay = (used + after[g] >= size) if g >= self.needed else np.zeros(len(rows), bool)
            rows = np.concatenate([rows[stay], grown[~ended]])
            total = np.concatenate([total[stay], total[parent][~ended] + pours[level[~ended]]])
            used = np.concatenate([used[stay], held[parent][~ended]])
        return np.concatenate(done)

    def keep(self, rows: np.ndarray) -> None:
        """Judge combinations and remember the best for each set of bottles."""
        task = self.task
        groups = self.groups(rows)
        distance, off = np.empty(len(rows)), np.empty(len(rows))
        block = _BLOCK // (5 * groups.shape[1])
        for start in range(0, len(rows), block):
            some = slice(start, start + block)
            distance[some], off[some] = task.judged(groups[some])
        if task.late.any():
            distance[~groups[:, task.early].any(axis=1)] = np.inf
        near = np.partition(distance, 1500)[1500] if len(rows) > 1500 else np.inf
        good = np.flatnonzero((distance <= near) & np.isfinite(distance))
        there = groups[good] > 0
        bottles, sets = there @ task.held, there @ (1 << np.arange(groups.shape[1]))
        ranks = task.ranked(distance[good], bottles, off[good])
        order = np.lexsort(ranks[::-1])
        for key, i in zip(*np.unique(sets[order], return_index=True), strict=True):
            i = order[i]
            rank = tuple(float(r[i]) for r in ranks)
            if key not in self.found or rank < self.found[key][0]:
                self.found[key] = rank, rows[good[i]]
                self.best = min(self.best, rank)

    def search(self) -> None:
        """From the best combinations to their neighbours, until none is better."""
        groups = len(self.count)
        one = np.eye(groups, dtype=np.int16)
        single = [k * e for e in one for k in (1, -1, 2, -2, 5, -5)]
        two = [a * x + b * y for x, y in combinations(one, 2) for a in (1, -1) for b in (1, -1)]
        moves = np.array([*single, *two], np.int16)
        mark = np.random.default_rng(0).integers(1, 2**62, groups)
        seen = np.zeros(0, np.int64)
        for _ in range(30):
            before = self.best
            starts = sorted(self.found.values(), key=lambda f: f[0])[:24]
            if not starts:
                break
            rows = (np.array([row for _, row in starts])[:, None, :] + moves).reshape(-1, groups)
            rows = self.allowed(rows[((rows >= 0) & (rows < self.count)).all(axis=1)])
            codes, first = np.unique(rows.astype(np.int64) @ mark, return_index=True)
            new = ~np.isin(codes, seen, assume_unique=True)
            seen = np.concatenate([seen, codes[new]])
            self.keep(rows[first[new]])
            if self.best == before:
                break

    def programme(self) -> None:
        """The nearest of all combinations by an integer programme, set up anew where the last one ended.

        Exact for the figures as they run beside the best found: sums over the pours, divided by a volume that
        is nearly such a sum. What it gives is judged by the true figures, as all else.
        """
        from scipy.optimize import milp

        task, tried = self.task, set()
        for _ in range(_PROGRAMMES):
            if not self.found or self.best[0] == 0:
                return
            rank, start = min(self.found.values(), key=lambda f: f[0])
            if start.tobytes() in tried:
                return
            tried.add(start.tobytes())
            at = self.groups(start[None])[0]
            solved = milp(**_linear(task.at(at), at), options={"node_limit": _NODES})
            if solved.x is None:
                return
            row = np.zeros(len(self.count), np.int16)
            for column, g in enumerate(self.order):
                level = solved.x[g] * task.steps[g]
                row[column] = int(np.argmin(np.abs(self.levels[column] - level)))
            self.keep(self.allowed(row[None]))
            if min(f[0] for f in self.found.values()) < rank:
                self.search()

    def allowed(self, rows: np.ndarray) -> np.ndarray:
        """Those whose total is neither too little nor too much."""
        total = self.groups(rows) @ self.task.weight
        return rows[
            (total > 0) & (total >= self.task.total[0] * (1 - _LEFT)) & (total <= self.task.total[1] * (1 + _LEFT))
        ]

    def rounded(self, groups: np.ndarray) -> np.ndarray:
        """The combinations of measures just above and below free amounts."""
        rows = np.zeros((1, 0), np.int16)
        for levels, wanted in zip(self.levels, groups[self.order], strict=True):
            at = np.searchsorted(levels, wanted)
            near = np.unique(np.clip([at - 1, at] if wanted > 0 else [0], 0, len(levels) - 1)).astype(np.int16)
            rows = np.column_stack([np.repeat(rows, len(near), axis=0), np.tile(near, len(rows))])
        return self.allowed(rows)

    def candidates(self) -> list[Candidate]:
        """The best found, as `Task.best` gives them."""
        return self.task.best(self.groups(np.array([row for _, row in self.found.values()]))) if self.found else []


def _linear(task: Task, start: np.ndarray) -> dict[str, Any]:
    """The task beside `start` as an integer programme: multiples of each group's measure, then slacks to keep small.

    A slack is how far a figure lies outside its band, in its scale, times the volume; their sum is the goal.
    """
    from scipy.optimize import Bounds, LinearConstraint

    shown, volumes, early = task.partial_volumes(start)
    volume = shown[3]
    # by the partial volumes the volume here may be a little off: the rest stays with it, as a constant
    rest = volume - volumes @ start
    content = task.content()
    count, slacks = len(task.weight), len(task.axes)
    rows, low, high = [], [], []

    def held(coefficients: np.ndarray, least: float, most: float, slack: int | None = None) -> None:
        for sign in (1, -1) if slack is not None else (0,):
            row = np.zeros(count + slacks)
            row[:count] = coefficients * task.steps
            if slack is not None:
                row[count + slack] = -sign
            rows.append(row)
            low.append(-np.inf if sign == 1 else least)
            high.append(np.inf if sign == -1 else most)

    for k, axis in enumerate(task.axes):
        if axis == COST:
            held(content[COST] / task.scale[k] * volume, task.low[k] / task.scale[k] * volume,
                 task.high[k] / task.scale[k] * volume, k)  # fmt: skip
        elif axis == "volume":
            held(volumes / task.scale[k] * volume, (task.low[k] - rest) / task.scale[k] * volume,
                 (task.high[k] - rest) / task.scale[k] * volume, k)  # fmt: skip
        else:
            for edge, least, most in ((task.low[k], 0.0, np.inf), (task.high[k], -np.inf, 0.0)):
                sums = (content[axis] - edge * volumes) / task.scale[k]
                held(sums, least + edge * rest / task.scale[k], most + edge * rest / task.scale[k], k)
    held(task.weight, *task.total)
    if task.late.any():
        held(task.early.astype(float), min(task.steps[task.early].tolist(), default=0.0), np.inf)
    if task.ruled:
        held(task.lump[0, 1] / PURE - RULE_TOP * early, -np.inf, 0.0)
    fewest = np.array([max(np.ceil(a / s - 1e-9), 0) for a, s in zip(task.least, task.steps, strict=True)])
    most_steps = np.floor(task.ceiling / task.steps + 1e-9)
    return {
        "c": np.append(np.zeros(count), np.ones(slacks)),
        "integrality": np.append(np.ones(count), np.zeros(slacks)),
        "bounds": Bounds(np.append(fewest, np.zeros(slacks)), np.append(most_steps, np.full(slacks, np.inf))),
        "constraints": LinearConstraint(np.array(rows), low, high),
    }
