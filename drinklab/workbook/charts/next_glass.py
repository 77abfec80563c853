"""What is known of a panel's liking over two figures, and what is not."""

from __future__ import annotations

import numpy as np

from ... import profile
from ...display import Display
from ...kinds import LIKING
from ...next_glass import NAMES, OWN, Next
from . import alt
from .look import BOLD, DARK, INK, LINE, axis_names, named, room, with_rows, words_on

_WIDE, _HIGH, _CELLS = 290, 270, 18
_NEAR = 17  # glasses nearer than this share one ring [pixels]
_PALE = {"mean": ("#eef4fd", "#7fb0f5"), "pm": ("#fdf3ea", "#d98a4e")}  # dark words read on either end
TITLES = {"mean": "Expected liking [points of 10]", "pm": "Its ± [points]"}


def next_chart() -> alt.ConcatChart:
    """Expected liking over two figures, and beside it its ±.

    Numbered rings are the glasses tasted, diamonds those proposed. All that is drawn is named data, empty until
    `next_rows` are put in.
    """
    chart = alt.ConcatChart(
        concat=[_panel("mean"), _panel("pm")], spacing=26, resolve=alt.Resolve(scale={"color": "independent"})
    )
    return with_rows(
        chart,
        "Two maps over the same two figures of the drink. Left: the liking expected, darker is better. Right: its plus "
        "or minus, darker is less known. Numbered rings are the glasses tasted, diamonds the three proposed; what each "
        "stands for is in the tables beside the picture.",
        ("cells", "glasses", "next", "titles"),
    )


def _panel(field: str) -> alt.LayerChart:
    def x(name: str) -> alt.X:
        return alt.X(f"{name}:Q", scale=alt.Scale(nice=False, zero=False), title=None, axis=alt.Axis(grid=False))

    def y(name: str) -> alt.Y:
        return alt.Y(f"{name}:Q", scale=alt.Scale(nice=False, zero=False), title=None, axis=alt.Axis(grid=False))

    legend = alt.Legend(
        orient="top", title=TITLES[field], titleFontWeight="normal", titleFontSize=12, titleColor=INK,
        gradientLength=_WIDE - 90, gradientThickness=9, tickCount=4, format=".1f",
    )  # fmt: skip
    colour = alt.Color(f"{field}:Q", scale=alt.Scale(range=list(_PALE[field]), nice=False), legend=legend)
    cells = named("cells").mark_rect(aria=False, tooltip=None, strokeWidth=0)
    cells = cells.encode(x=x("x"), x2="x2:Q", y=y("y"), y2="y2:Q", color=colour)
    glasses = named("glasses")
    ring = glasses.mark_point(filled=True, color="white", stroke=INK, strokeWidth=1.2, size=250, opacity=1)
    ring = ring.encode(x=x("x"), y=y("y"), tooltip=alt.Tooltip("told:N", title="Tasted"), description="told:N")
    number = glasses.mark_text(aria=False, fontSize=11, fontWeight="bold").encode(x=x("x"), y=y("y"), text="label:N")
    coming = named("next")
    mark = coming.mark_point(
        filled=True, shape="diamond", color=INK, size=130, stroke="white", strokeWidth=1.4, opacity=1
    )
    mark = mark.encode(x=x("x"), y=y("y"), tooltip=alt.Tooltip("told:N", title="Proposed"), description="told:N")
    at = coming.encode(x=x("x"), y=y("y"))
    look = {"fontSize": 12, "fontWeight": "bold", "align": alt.expr("datum.right ? 'right' : 'left'")}
    look |= {"dx": alt.expr("datum.right ? -10 : 10"), "dy": alt.expr("datum.down"), "color": DARK}
    titles = named("titles")
    around = axis_names(titles, _WIDE, _HIGH, 42)
    ground = room(-54, _WIDE + 10, -4, _HIGH + 42)
    layers = [ground, cells, ring, number, mark, *words_on(at, "label", 4, **look), *around]
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def axis_words(found: Next, axis: int) -> tuple[str, str]:
    """What an axis is called, and its unit."""
    name = found.family.axes[axis]
    if name != OWN:
        return profile.TITLES[name], profile.KINDS[name].label
    called = found.called(axis)
    return called[:1].upper() + called[1:], "% of the glass" if found.axis.share else "own number"


def next_rows(found: Next, across: int, up: int, show: Display) -> dict[str, list]:
    """Rows of `next_chart`; the axes that are not shown stand as in the first proposal.

    Parameters
    ----------
    found : Next
    across, up : int
        Places in `found.family.axes`.
    show : Display
    """
    family, pair = found.family, [across, up]
    tasted = found.palate.told.at
    coming = np.array([one.at for one in found.proposals])
    ends = []
    for axis in pair:
        here = np.r_[tasted[:, axis], coming[:, axis], np.percentile(found.pours.at[:, axis], [5, 95])]
        low, high = here.min(), here.max()
        edge = 0.08 * max(high - low, 0.5)
        least = -family.middle[axis] / family.spread[axis]  # nothing is below 0
        ends.append(np.linspace(max(low - edge, least), high + edge, _CELLS + 1))
    middles = [(end[1:] + end[:-1]) / 2 for end in ends]
    at = np.tile(coming[0], (_CELLS**2, 1))
    at[:, across], at[:, up] = np.tile(middles[0], _CELLS), np.repeat(middles[1], _CELLS)
    mean, sd = found.palate.at(at)
    x, y = (family.middle[axis] + family.spread[axis] * end for axis, end in zip(pair, ends, strict=True))
    cells = [
        {"x": round(float(x[i % _CELLS]), 3), "x2": round(float(x[i % _CELLS + 1]), 3),
         "y": round(float(y[i // _CELLS]), 3), "y2": round(float(y[i // _CELLS + 1]), 3),
         "mean": round(float(mean[i]), 2), "pm": round(float(2 * sd[i]), 2)}
        for i in range(_CELLS**2)
    ]  # fmt: skip

    def place(where: np.ndarray) -> np.ndarray:
        share = [(where[:, axis] - end[0]) / (end[-1] - end[0]) for axis, end in zip(pair, ends, strict=True)]
        return np.column_stack([share[0] * _WIDE, (1 - share[1]) * _HIGH])

    def figures(where: np.ndarray) -> dict[str, float]:
        values = family.middle[pair] + family.spread[pair] * where[pair]
        return {"x": round(float(values[0]), 3), "y": round(float(values[1]), 3)}

    titles = [f"{word} [{unit}]" for word, unit in (axis_words(found, axis) for axis in pair)]
    return {
        "cells": cells,
        "glasses": [
            figures(tasted[group].mean(axis=0))
            | {"label": _numbers(group), "told": "; ".join(glass_told(found, i, show) for i in group)}
            for group in _groups(place(tasted))
        ],
        "next": _next(found, place(coming), place(tasted), figures, show),
        "titles": [{"across": titles[0], "up": titles[1]}],
    }


def glass_told(found: Next, i: int, show: Display) -> str:
    """A tasted glass in words: its number, its name and what was said of it."""
    glass = found.tasted.glasses[i]
    said = f"mean liking {glass.mean:.1f} of {len(glass.scores)} ratings" if glass.scores else "chosen, not rated"
    return f"{i + 1}: {glass.name}, {said}"


def _numbers(group: list[int]) -> str:
    """Of glasses in one place, the first two numbers have room."""
    return str(group[0] + 1) if len(group) == 1 else f"{group[0] + 1}+"


def _groups(places: np.ndarray) -> list[list[int]]:
    """Glasses that would lie on one another, together."""
    groups: list[list[int]] = []
    for i, place in enumerate(places):
        near = next((g for g in groups if np.hypot(*(places[g].mean(axis=0) - place)) < _NEAR), None)
        if near is None:
            groups.append([i])
        else:
            near.append(i)
    return groups


def _next(found: Next, places: np.ndarray, tasted: np.ndarray, figures, show: Display) -> list[dict]:
    """The proposals, each word where it lies on no other mark or word."""
    rows, taken = [], [(*(p - 9), *(p + 9)) for p in (*places, *tasted)]
    for one, (x, y) in zip(found.proposals, places, strict=True):
        label = NAMES[one.kind]
        wide = BOLD * len(label)
        options = [(right, down) for down in (0, -14, 14, -26, 26) for right in (x > 0.6 * _WIDE, x <= 0.6 * _WIDE)]
        boxes = {}
        for right, down in options:
            left = x - 10 - wide if right else x + 10
            if left < 0 or left + wide > _WIDE + 4 or not LINE / 2 < y + down < _HIGH - LINE / 2:
                continue
            boxes[right, down] = left, y + down - LINE / 2, left + wide, y + down + LINE / 2
        free = [key for key, box in boxes.items() if not any(_cross(box, other) for other in taken)]
        right, down = free[0] if free else next(iter(boxes), (x > _WIDE / 2, 0))
        taken.append(boxes.get((right, down), (x, y, x, y)))
        told = f"{label}, expected liking {show.text(LIKING, one.liking, one.pm)}"
        rows.append(figures(one.at) | {"label": label, "told": told, "right": bool(right), "down": int(down)})
    return rows


def _cross(a, b) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
