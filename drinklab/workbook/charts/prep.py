"""Acid of a juice before and after it is adjusted."""

from __future__ import annotations

import math

import numpy as np

from ... import balance
from ...liquid import Liquid
from ...prep import (
    Adjusted,
)
from . import alt
from .look import (
    BLUE,
    QUIET,
    dot,
    named,
    room,
    unseen,
    with_rows,
)

_POINTS = 25


def side_by_side(*liquids: Liquid) -> Liquid:
    """Side by side, so that one call answers for all."""
    return Liquid(np.column_stack([liquid.grams for liquid in liquids]))


def grams_text(grams: float) -> str:
    """To 0.1 g, and finer where that would be coarse."""
    return f"{grams:.{1 if grams >= 1 else 2}f}"


_WIDE, _HIGH = 250, 170


def acid_chart() -> alt.ConcatChart:
    """Acidity and pH of a juice against the acid added, side by side: named data, filled by `acid_rows`."""
    aim = named("aim")
    dashes = aim.mark_rule(color=QUIET, strokeDash=[5, 4], strokeWidth=1.4)
    dashes = dashes.encode(y="acidity:Q", description="told:N")
    beside = aim.mark_text(align="left", baseline="middle", color=QUIET, lineBreak="\n", lineHeight=12, aria=False)
    beside = beside.encode(x=alt.value(_WIDE + 5), y="acidity:Q", text="label:N")
    chart = alt.ConcatChart(
        concat=[_panel("acidity", "Acidity [g/L as citric acid]", dashes, beside), _panel("ph", "pH")], spacing=14,
        description="Two charts side by side against the grams of acid added to the juice. Left: titratable acidity, "
        "which rises almost straight to the dashed line that is aimed at. Right: pH, which falls fast, then slowly. "
        "A dot marks the amount to weigh.",
    )  # fmt: skip
    return with_rows(chart, chart.description, ("frame", "curve", "aim", "now"))


def _panel(field: str, title: str, *behind: alt.Chart) -> alt.LayerChart:
    scale = alt.Scale(nice=False, zero=False)
    x = alt.X("g:Q", scale=scale, title="Acid added [g]")
    y = alt.Y(f"{field}:Q", scale=scale, title=title, axis=alt.Axis(minExtent=28))
    # Unseen: how far the axes reach, and room for the words beside and above.
    frame = unseen("frame", x=x, y=y)
    ground = room(-48, _WIDE + 54, -18, _HIGH + 40)
    line = named("curve").mark_line(color=BLUE, strokeWidth=2.4, interpolate="monotone")
    line, now = (part.transform_filter(f"isValid(datum.{field})") for part in (line, named("now")))
    spot = dot(now)
    spot = spot.encode(x=x, y=y, tooltip=alt.Tooltip(f"{field}_label:N", title="After"), description=f"{field}_label:N")
    above = now.mark_text(fontWeight="bold", fontSize=12, aria=False)
    above = above.encode(x=x, y=alt.value(-9), text=f"{field}_label:N")
    layers = [ground, frame, *behind, line.encode(x=x, y=y), spot, above]
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def acid_rows(found: Adjusted) -> dict[str, list[dict]]:
    """Rows of `acid_chart`: the way from the juice to what it becomes, and on."""
    whole = sum(found.acids.values())
    top = _round_up(1.1 * whole)
    share = np.linspace(0, 1, _POINTS) ** 2 * top / whole  # pH bends where there is little acid
    water = found.solution.water if found.solution else 0.0
    way = side_by_side(found.before + share * Liquid.of(**found.acids, water=water), found.after)
    acidity, ph, known = balance.titratable(way), balance.ph(way), balance.ph_known(way)
    aim = float(acidity[-1])
    curve = [  # without a pH where it is not known
        {"g": round(float(g), 3), "acidity": round(float(a), 3)} | ({"ph": round(float(p), 3)} if sure else {})
        for g, a, p, sure in zip(share * whole, acidity, ph, known, strict=False)
    ]
    end = {"ph": round(float(ph[-1]), 3), "ph_label": f"{grams_text(whole)} g: pH {ph[-1]:.1f}"} if known[-1] else {}
    seen = ph[known] if known.any() else np.array([3.0])
    label = f"{grams_text(whole)} g: "
    return {
        "frame": [{"g": 0.0, "acidity": 0.0, "ph": min(1.5, math.floor(2 * seen.min()) / 2)},
                  {"g": top, "acidity": _round_up(float(acidity.max())), "ph": float(max(5, math.ceil(seen.max())))}],
        "curve": curve,
        "aim": [{"acidity": round(aim, 3), "label": f"aim\n{aim:.0f} g/L", "told": f"aimed at, {aim:.1f} g/L"}],
        "now": [{"g": round(whole, 3), "acidity": round(aim, 3), "acidity_label": f"{label}{aim:.1f} g/L"} | end],
    }  # fmt: skip


def _round_up(value: float) -> float:
    """The next of 1, 2, 3, 5, 7, 10 and their tens, so that the axes do not move with every touch."""
    size = 10.0 ** math.floor(math.log10(value))
    return next(step * size for step in (1, 2, 3, 5, 7, 10) if step * size >= value)
