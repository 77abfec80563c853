"""Why a wanted figure is not met: the limit, the bottle or the rule that binds, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from .. import dilution
from ..profile import WORDS
from .asked import SMALLEST
from .sums import PURE, RULE_TOP, Candidate, Task

_MOST = {"abv": "strongest", "sugar": "sweetest", "acid": "sourest"}
_LEAST = {"abv": "weakest", "sugar": "least sweet", "acid": "least sour"}


def reasons(task: Task, candidate: Candidate, miss: np.ndarray) -> tuple[str, ...]:
    """What binds: for each unmet figure by itself, else for the worst beside the others."""
    worst_first = [int(k) for k in np.argsort(-np.abs(miss)) if miss[k]]
    worst = worst_first[0]
    others = [k for k in range(len(miss)) if k != worst]
    together = _stuck(task, worst, np.sign(miss[worst]), others, candidate.groups)
    if together == "":  # poured freely it can be met
        if task.measured:
            step = task.display.volume_text(max(step for *_, step in task.given))
            return (f"Measured in steps of {step} nothing nearer was found; poured freely it can be met.",)
        return (f"It would take less than a dash ({task.display.volume_text(SMALLEST)}) of something.",)
    alone = []
    for k in worst_first:
        size = [task.axes.index("volume")] if "volume" in task.axes and task.axes[k] != "volume" else []
        alone.append(_stuck(task, k, np.sign(miss[k]), size, candidate.groups))
    if any(alone):
        return tuple(sentence for sentence in alone if sentence)
    for many in range(len(others) - 1, 0, -1):
        for beside in combinations(others, many):
            together = together or _stuck(task, worst, np.sign(miss[worst]), beside, candidate.groups)
    return (together or "The wanted figures are too far apart for these bottles.",)


def melted(task: Task, miss: np.ndarray, wanted: np.ndarray, share: float) -> str:
    """Of what the search met with the share that it held, and its own ice does not."""
    k = int(np.argmax(np.abs(miss)))
    return (
        f"Its own ice gives it {100 * share:.1f} % of melt water, where {100 * task.fixed:.1f} % was searched with"
        f": {WORDS[task.axes[k]]} is then {task.text(task.axes[k], wanted[k])}."
    )


def missed(task: Task, miss: np.ndarray, wanted: np.ndarray, candidate: Candidate) -> str:
    """Of an answer that is not the first: the figure that lies furthest off, and by how much."""
    k = int(np.argmax(np.abs(miss)))
    axis, edge = task.axes[k], (task.low if miss[k] < 0 else task.high)[k]
    side = "below" if miss[k] < 0 else "above"
    bottles = "this bottle" if candidate.bottles == 1 else f"these {candidate.bottles} bottles"
    return f"With {bottles} {WORDS[axis]} is {task.text(axis, wanted[k])}, {side} the {task.text(axis, edge)} wanted."


def _stuck(task: Task, k: int, side: float, beside: Sequence[int], start: np.ndarray) -> str | None:
    """Why figure `k` can't come into its band beside the others; "" if it can, None if those can't be."""
    end = _furthest(task, k, -side, beside, start)
    if end is None:
        return None
    value, groups, price = end
    edge = task.high[k] if side > 0 else task.low[k]
    if side * (value - edge) <= 1e-6 * task.scale[k]:
        return ""
    axis = task.axes[k]
    head = f"{WORDS[axis].capitalize()} can't {'fall below' if side > 0 else 'rise above'} {task.text(axis, value)}"
    if beside:
        head += f" with the {_and([WORDS[task.axes[b]] for b in beside])} as wanted"
    if price:
        cause = _binding(task, price)
    elif [b for b in beside if task.axes[b] != "volume"]:
        cause = _room_taken(task, axis, side, task.amounts(groups))
    else:
        cause = _end_of_list(task, axis, side)
    return f"{head}: {cause}."


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _binding(task: Task, price: dict) -> str:
    """The limit with the largest price, in words."""
    kind, g = max(price, key=lambda key: price[key])
    if kind == "total most":
        return f"the pours may add up to no more than {task.display.volume_text(task.total[1])}"
    if kind == "total least":
        return f"the pours add up to at least {task.display.volume_text(task.total[0])}"
    if kind == "rule":
        return f"the melt rule covers no more than {dilution.RULE_RANGE.high:g} % vol before ice"
    members = np.flatnonzero(task.share[g])
    end = 0 if kind == "least" else 1
    ends = [task.given[i][end] / task.share[g, i] for i in members]
    i = members[int(np.argmax(ends) if end == 0 else np.argmin(ends))]
    amount = f"{task.display.volume_text(task.given[i][end])} of {task.called(i)}"
    tied = " and its ratio" if len(members) > 1 else ""
    return f"no more than {amount} is allowed{tied}" if end else f"at least {amount} is asked for{tied}"


def _room_taken(task: Task, axis: str, side: float, amounts: np.ndarray) -> str:
    """Where other figures stand in the way: the bottle that brings too much, or those that take up the room."""
    content = np.array([getattr(b, axis) for b in task.bottles])
    if side > 0:
        i = int(np.argmax(amounts * content))
        partners = [task.called(p) for row in task.share if row[i] for p in np.flatnonzero(row) if p != i]
        tied = f", tied to {_and(partners)} by their ratio" if partners else ""
        return f"{task.display.volume_text(amounts[i])} of {task.called(i)} brings it{tied}"
    poured = np.flatnonzero(amounts > 0.01 * amounts.sum())
    others = [i for i in poured if content[i] < content[poured].max()]
    if not others:
        return _end_of_list(task, axis, side)
    named = [
        f"{task.display.volume_text(amounts[i])} of {task.called(i)}" for i in sorted(others, key=lambda i: -amounts[i])
    ]
    return f"{_and(named[:3])} take{'s' if len(named) == 1 else ''} up the room"


def _end_of_list(task: Task, axis: str, side: float) -> str:
    content = np.array([getattr(b, axis) for b in task.bottles])
    if not content.any():
        return "no bottle on the list brings any"
    i = int(np.argmin(content) if side > 0 else np.argmax(content))
    if np.isclose(content, content[i]).all():
        return "the bottles do not differ in it"
    thin = ", and melt water thins it" if side < 0 and np.any(task.melt(0.0)) else ""
    return f"{task.called(i)} is the {(_LEAST if side > 0 else _MOST)[axis]} on the list{thin}"


def _furthest(task: Task, k: int, way: float, beside: Sequence[int], start: np.ndarray):
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
            else:
                held = content[task.axes[b]]
                limits += [(held - high * volumes, 0.0, ""), (low * volumes - held, 0.0, "")]
        if task.ruled:
            limits.append((task.lump[0, 1] / PURE - RULE_TOP * early, 0.0, "rule"))
        rows, ends, labels = zip(*limits, strict=True)
        goal = volumes if axis == "volume" else content[axis] - value * volumes
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
    worth = 1e-3 * scale * (1.0 if axis == "volume" else shown[3])
    return float(shown[task.rows[k]]), x, {key: p for key, p in price.items() if p > worth}
