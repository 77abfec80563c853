"""The stages as a picture: three small panels of strength, sugar and acid, drawn by the template as plain SVG.

Its places are numbers of the picture; its words are the figures themselves, since names of stages may be long.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ..display import Display
from ..profile import AXES, KINDS, TITLES
from ..stage import Stage

WIDE, HIGH = 240.0, 120.0  # of the field of one panel
_LETTER = 6.4  # width of a figure's letter


def panels(stages: Sequence[Stage]) -> list[dict[str, Any]]:
    """One panel an axis: points with their ±, a line through them, and the figures that fit beside the points.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> one = panels(run(Recipe.parse("60 mL gin, 40 %\\n30 mL water", technique="none"), draws=0).stages)[0]
    >>> one["title"], [p["label"] for p in one["points"]]
    ('Strength [% vol]', ['26.7', '26.7'])
    """
    return [_panel(stages, axis) for axis in AXES]


def _panel(stages: Sequence[Stage], axis: str) -> dict[str, Any]:
    values = [getattr(stage.profile, axis) for stage in stages]
    spreads = [0.0 if math.isnan(s := stage.spread(axis)) else s for stage in stages]
    top = _top(max(v + s for v, s in zip(values, spreads, strict=True)))
    step = WIDE / len(values)
    points: list[dict[str, Any]] = []
    free = -math.inf
    last = Display().parts(KINDS[axis], values[-1])[0]
    for i, (value, spread) in enumerate(zip(values, spreads, strict=True)):
        x, label = step * (i + 0.5), Display().parts(KINDS[axis], value)[0]
        half = _LETTER * len(label) / 2
        end = i == len(values) - 1
        room = x - half > free and (end or x + half < step * (len(values) - 0.5) - _LETTER * len(last) / 2 - 4)
        same = 0 < i < len(values) - 1 and label == points[-1]["figure"]
        points.append({
            "x": round(x, 1), "y": _place(value, top), "low": _place(max(value - spread, 0.0), top),
            "high": _place(value + spread, top), "figure": label, "label": label if end or (room and not same) else "",
            "number": i + 1,
        })  # fmt: skip
        free = x + half + 4 if points[-1]["label"] else free
    unit = KINDS[axis].label
    return {"title": f"{TITLES[axis]} [{unit}]", "points": points, "top": f"{top:g}", "unit": unit}


def _place(value: float, top: float) -> float:
    return round(HIGH * (1 - value / top), 1)


def _top(most: float) -> float:
    """A round end of an axis above it."""
    if most <= 0:
        return 1.0
    size = 10.0 ** math.floor(math.log10(most))
    return next(size * step for step in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10) if size * step >= most)
