"""A first answer while a slider moves: the last answer a step on, before `reach` has looked at all others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from .. import dilution
from ..errors import InputError
from ..facts import Fact
from ..kinds import ABV, Given
from ..pantry import Pantry
from .answers import Answer, answers_of, task_of
from .asked import SMALLEST, amounts_of
from .sums import PLACE, Candidate, Task

_STEPS = 3  # of Gauss and Newton


def nearby(
    last: Answer,
    target: Mapping[str, Any],
    ingredients: Sequence[Any],
    *,
    pantry: Pantry,
    melt: Given | None = None,
    name: str = "",
    **asked: Any,
) -> Answer:
    """The bottles of an answer, their amounts moved towards other wanted figures; arguments as for `reach`.

    It keeps to limits, measures and ratios, and is measured by the forward code as any answer is; only that no other
    bottles come nearer is not known. Its figures over own ice are those of its own ice.

    Raises
    ------
    InputError
        As `reach`, and where a bottle of the answer is no longer on the list.

    Examples
    --------
    >>> from drinklab import pantry
    >>> from drinklab.reach import reach
    >>> bottles, shelf = ["aged rum, 50 %", "water"], pantry.load()
    >>> last = reach({"abv": 20, "volume": 120}, bottles, melt=0, pantry=shelf)[0]
    >>> moved = nearby(last, {"abv": 22, "volume": 120}, bottles, melt=0, pantry=shelf)
    >>> moved.met, round(moved.figures.abv)
    ({'abv': True, 'volume': True}, 22)
    """
    held = last.held if asked.get("ice") is not None else melt
    task = task_of(target, ingredients, pantry=pantry, **asked)(held)
    groups = task.share @ amounts_of(last.recipe, task.bottles, pantry) / (task.share**2).sum(axis=1)
    groups = _stepped(task, np.maximum(groups, task.least))
    distance, off = task.judged(groups[None])
    if not np.isfinite(distance[0]):
        told = Fact("with this before ice", abv=ABV(float(task.figures(groups)[PLACE["before ice"]])))
        raise InputError("limits", told, Fact("melt rule ends", most=ABV(dilution.RULE_RANGE.high)))
    bottles = int((groups > 0) @ task.held)
    candidate = Candidate(groups, float(distance[0]), bottles, (float(distance[0]), float(bottles), float(off[0])))
    return answers_of(task, [candidate], pantry, name or last.recipe.name, told=False)[0]


def _stepped(task: Task, groups: np.ndarray) -> np.ndarray:
    """Amounts of the same groups nearer to the middles, within limits, at the measure's marks."""
    poured = np.flatnonzero(groups > 0)
    low = np.maximum(task.least, np.minimum(SMALLEST, task.ceiling))[poured]
    high = np.maximum(task.ceiling[poured], low)
    pulled = task.pulled  # the less it costs the better: no middle draws it
    for _ in range(_STEPS):
        size = 1e-4 * task.total[1]
        more = np.repeat(groups[None], 1 + len(poured), axis=0)
        more[np.arange(1, len(more)), poured] += size
        shown = task.figures(more)[task.rows] / task.scale[:, None]
        slope = (shown[:, 1:] - shown[:, :1]) / size
        miss = np.clip(task.middle / task.scale - shown[:, 0], -50, 50)
        step = np.linalg.lstsq(slope[pulled], miss[pulled], rcond=1e-6)[0] if pulled.any() else 0.0
        groups = groups.copy()
        groups[poured] = np.clip(groups[poured] + step, low, high)
        total = float(groups @ task.weight)
        groups *= np.clip(total, *task.total) / total
        groups[poured] = np.clip(groups[poured], low, high)
    if task.measured:
        for g in poured:
            levels = task.levels[g][task.levels[g] > 0]
            groups[g] = levels[np.argmin(np.abs(levels - groups[g]))]
    return groups
