"""Why a wanted figure is not met: the limit, the bottle or the rule that binds, as facts."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Literal

import numpy as np

from .. import dilution
from ..facts import Fact
from ..kinds import ABV, VOLUME, Amount
from .asked import COST, SMALLEST, called, kind_of
from .sums import PURE, RULE_TOP, Candidate, Task

_MOST = {"abv": "strongest", "sugar": "sweetest", "acid": "sourest", COST: "dearest"}
_LEAST = {"abv": "weakest", "sugar": "least sweet", "acid": "least sour", COST: "cheapest"}


def reasons(task: Task, candidate: Candidate, miss: np.ndarray) -> tuple[Fact, ...]:
    """What binds: for each unmet figure by itself, else for the worst beside the others."""
    worst_first = [int(k) for k in np.argsort(-np.abs(miss)) if miss[k]]
    worst = worst_first[0]
    others = [k for k in range(len(miss)) if k != worst]
    together = _stuck(task, worst, np.sign(miss[worst]), others, candidate.groups)
    if together == _FREE:  # poured freely it can be met
        if task.measured:
            return (Fact("no nearer in steps", step=VOLUME(max(step for *_, step in task.given))),)
        return (Fact("less than a dash", dash=VOLUME(SMALLEST)),)
    alone = []
    for k in worst_first:
        size = [task.axes.index("volume")] if "volume" in task.axes and task.axes[k] != "volume" else []
        alone.append(_stuck(task, k, np.sign(miss[k]), size, candidate.groups))
    if any(alone):
        return tuple(fact for fact in alone if fact)
    for many in range(len(others) - 1, 0, -1):
        for beside in combinations(others, many):
            together = together or _stuck(task, worst, np.sign(miss[worst]), beside, candidate.groups)
    return (together or Fact("too far apart"),)


def _figure(task: Task, k: int, value: float) -> Amount:
    return kind_of(task.axes[k], task.prices)(value)


def _content(task: Task, axis: str) -> np.ndarray:
    """What each bottle brings of a figure."""
    if axis in (COST, "volume"):
        return task.per_ml if axis == COST else np.ones(len(task.bottles))
    return np.array([getattr(bottle, axis) for bottle in task.bottles])


def melted(task: Task, miss: np.ndarray, wanted: np.ndarray, share: float) -> Fact:
    """Of what the search met with the share that it held, and its own ice does not."""
    k = int(np.argmax(np.abs(miss)))
    what, value = called(task.axes[k]), _figure(task, k, wanted[k])
    return Fact(
        "own ice melts otherwise", share=100 * share, searched=100 * (task.fixed or 0.0), what=what, value=value
    )


def missed(task: Task, miss: np.ndarray, wanted: np.ndarray, candidate: Candidate) -> Fact:
    """Of an answer that is not the first: the figure that lies furthest off, and by how much."""
    k = int(np.argmax(np.abs(miss)))
    low = miss[k] < 0
    bottles = Fact("of these bottles", count=candidate.bottles) if candidate.bottles > 1 else Fact("of this bottle")
    found = {"bottles": bottles, "what": called(task.axes[k])}
    value, edge = _figure(task, k, wanted[k]), _figure(task, k, (task.low if low else task.high)[k])
    return Fact("below the wanted" if low else "above the wanted", value=value, edge=edge, **found)


Price = dict[tuple[str, int], float]  # what a limit that binds is worth, by its kind and group
_FREE: Literal[""] = ""  # nothing is in the way


def _stuck(task: Task, k: int, side: float, beside: Sequence[int], start: np.ndarray) -> Fact | Literal[""] | None:
    """Why figure `k` can't come into its band beside the others; `_FREE` if it can, None if those can't be."""
    found = _furthest(task, k, -side, beside, start)
    if found is None:
        return None
    value, groups, price = found
    edge = task.high[k] if side > 0 else task.low[k]
    if side * (value - edge) <= 1e-6 * task.scale[k]:
        return _FREE
    axis = task.axes[k]
    if price:
        cause = _binding(task, price)
    elif COST in [task.axes[b] for b in beside]:
        at = task.axes.index(COST)
        cause = Fact("so much may be spent", most=_figure(task, at, task.high[at]))
    elif [b for b in beside if task.axes[b] != "volume"]:
        cause = _room_taken(task, axis, side, task.amounts(groups))
    else:
        cause = _end_of_list(task, axis, side)
    what, end, held = called(axis).capitalize(), _figure(task, k, value), tuple(called(task.axes[b]) for b in beside)
    if held:
        fact = {"what": what, "beside": held, "cause": cause}
        return Fact("can't fall beside" if side > 0 else "can't rise beside", end=end, **fact)
    return Fact("can't fall" if side > 0 else "can't rise", what=what, end=end, cause=cause)


def _so_much(task: Task, i: int, ml: float) -> Fact:
    return Fact("so much of", amount=VOLUME(ml), bottle=task.called(i))


def _binding(task: Task, price: Price) -> Fact:
    """The limit with the largest price."""
    kind, g = max(price, key=lambda key: price[key])
    if kind == "total most":
        return Fact("pours up to", most=VOLUME(task.total[1]))
    if kind == "total least":
        return Fact("pours from", least=VOLUME(task.total[0]))
    if kind == "rule":
        return Fact("melt rule ends", most=ABV(dilution.RULE_RANGE.high))
    members = np.flatnonzero(task.share[g])
    end = 0 if kind == "least" else 1
    ends = [task.given[i][end] / task.share[g, i] for i in members]
    i = int(members[int(np.argmax(ends) if end == 0 else np.argmin(ends))])
    amount, tied = _so_much(task, i, task.given[i][end]), len(members) > 1
    if end:
        return Fact("no more allowed, tied" if tied else "no more allowed", amount=amount)
    return Fact("so much asked for, tied" if tied else "so much asked for", amount=amount)


def _room_taken(task: Task, axis: str, side: float, amounts: np.ndarray) -> Fact:
    """Where other figures stand in the way: the bottle that brings too much, or those that take up the room."""
    content = _content(task, axis)
    if side > 0:
        i = int(np.argmax(amounts * content))
        partners = tuple(task.called(p) for row in task.share if row[i] for p in np.flatnonzero(row).tolist() if p != i)
        if partners:
            return Fact("brings it, tied", amount=_so_much(task, i, amounts[i]), partners=partners)
        return Fact("brings it", amount=_so_much(task, i, amounts[i]))
    poured = np.flatnonzero(amounts > 0.01 * amounts.sum()).tolist()
    others = [i for i in poured if content[i] < content[poured].max()]
    if not others:
        return _end_of_list(task, axis, side)
    named = tuple(_so_much(task, i, amounts[i]) for i in sorted(others, key=lambda i: -amounts[i])[:3])
    return Fact("takes the room" if len(named) == 1 else "take the room", bottles=named)


def _end_of_list(task: Task, axis: str, side: float) -> Fact:
    content = _content(task, axis)
    if not content.any():
        return Fact("no bottle brings any")
    i = int(np.argmin(content) if side > 0 else np.argmax(content))
    if np.isclose(content, content[i]).all():
        return Fact("bottles do not differ")
    thinned = side < 0 and axis != COST and np.any(task.melt(0.0))
    most = (_LEAST if side > 0 else _MOST)[axis]
    return Fact("end of the list, thinned" if thinned else "end of the list", bottle=task.called(i), most=most)


def _furthest(
    task: Task, k: int, way: float, beside: Sequence[int], start: np.ndarray
) -> tuple[float, np.ndarray, Price] | None:
    """How far figure `k` goes up (way 1) or down (-1) within the limits, with others held in their bands.

    A figure is a sum over the pours, linear, divided by the volume, which is nearly so: the linear
    programme is set up anew with the partial volumes where the last one ended, until figure and end agree.

    Returns
    -------
    (value, groups, price) or None
        None if the others can't be in their bands. `price` holds what a limit that binds is worth.
    """
    from scipy.optimize import linprog

    axis, scale = task.axes[k], task.scale[k]
    content = task.content()
    x, result = start, None
    shown, volumes, early = task.partial_volumes(x)
    for _ in range(15):
        value = float(shown[task.rows[k]])
        limits = [(task.weight, task.total[1], "total most"), (-task.weight, -task.total[0], "total least")]
        for b in beside:
            low, high = task.low[b], task.high[b]
            if task.axes[b] == "volume":
                limits += [(volumes, high, ""), (-volumes, -low, "")]
            elif task.axes[b] == COST:
                limits += [(content[COST], high, ""), (-content[COST], -low, "")]
            else:
                held = content[task.axes[b]]
                limits += [(held - high * volumes, 0.0, ""), (low * volumes - held, 0.0, "")]
        if task.ruled:
            limits.append((task.lump[0, 1] / PURE - RULE_TOP * early, 0.0, "rule"))
        rows, ends, labels = zip(*limits, strict=True)
        goal = volumes if axis == "volume" else content[axis] - (axis != COST) * value * volumes
        solved = linprog(-way * goal, A_ub=np.array(rows), b_ub=ends, bounds=np.column_stack([task.least, task.most]))
        if solved.status != 0:
            break
        result, x = solved, solved.x
        shown, volumes, early = task.partial_volumes(x)
        wanted = shown[task.rows]
        inside = np.abs(wanted - np.clip(wanted, task.low, task.high)) <= 1e-6 * task.scale
        if inside.all() or abs(float(wanted[k]) - value) < 1e-7 * scale:
            break
    if result is None:
        return None
    price = {("least", g): abs(p) for g, p in enumerate(result.lower.marginals * task.least)}
    price |= {("most", g): abs(p) for g, p in enumerate(result.upper.marginals * np.minimum(task.most, 1e9))}
    price |= {
        (label, -1): abs(p * (end or 1.0))
        for label, p, end in zip(labels, result.ineqlin.marginals, ends, strict=True)
        if label
    }
    worth = 1e-3 * scale * (1.0 if axis in ("volume", COST) else shown[3])
    return float(shown[task.rows[k]]), x, {key: p for key, p in price.items() if p > worth}
