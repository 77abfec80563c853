"""Grams of alcohol in a serve, beside the classics."""

from __future__ import annotations

import math

from ...facts import own
from ...kinds import MASS
from ...service import Beside, Serve
from . import alt
from .look import FAMILIES, INK, QUIET, named, room, unseen, with_rows, words_on

_WIDE, _STEP = 520, 26  # pixels of the axis, and of a family's line
_LEAST_TOP = 50.0  # how far the axis reaches at least [g]


def grams_chart() -> alt.LayerChart:
    """One mark a classic, one line a family; a rule for this serve; dashed rules at whole standard drinks.

    All that is drawn is named data, empty until `grams_rows` are put in.
    """
    x = alt.X("grams:Q", scale=alt.Scale(nice=False, zero=True), title="Alcohol in one serve [g]")
    families = list(FAMILIES)
    y = alt.Y("family:N", scale=alt.Scale(domain=families), title=None, axis=alt.Axis(domain=False, ticks=False))
    colours, shapes, _ = zip(*FAMILIES.values(), strict=True)
    high = len(families) * _STEP
    told = {"description": alt.Description("told:N"), "tooltip": alt.Tooltip("told:N", title="Classic")}
    classics = named("classics").mark_point(filled=True, size=44, opacity=0.55).encode(
        x=x, y=y, color=alt.Color("family:N", scale=alt.Scale(domain=families, range=list(colours)), legend=None),
        shape=alt.Shape("family:N", scale=alt.Scale(domain=families, range=list(shapes)), legend=None), **told,
    )  # fmt: skip
    ticks = named("drinks")
    lines = ticks.mark_rule(color=QUIET, strokeDash=[4, 3], aria=False).encode(x=x)
    counts = ticks.mark_text(color=QUIET, align="left", dx=-2, fontSize=11, aria=False).encode(
        x=x, y=alt.value(-7), text="label:N"
    )
    me = named("me")
    band = me.mark_rect(color=INK, opacity=0.12, aria=False).encode(x=alt.X("low:Q"), x2="high:Q")
    rule = me.mark_rule(color=INK, strokeWidth=2).encode(
        x=x, description="told:N", tooltip=alt.Tooltip("told:N", title="This serve")
    )
    side = {"align": alt.expr("datum.place"), "dx": alt.expr("datum.place == 'left' ? 5 : -5"), "fontWeight": "bold"}
    name = [layer.encode(x=x, y=alt.value(-22)) for layer in words_on(me, **side)]
    layers = [room(0, "width + 60", -32, high), unseen("frame", x=x), lines, classics, band, rule, counts, *name]
    return with_rows(
        alt.LayerChart(layer=layers, width=_WIDE, height=alt.Step(_STEP)),
        "Grams of alcohol in one serve of each classic, one mark each, a line a family. A rule marks this serve, a "
        "band its plus or minus; dashed rules stand at one, two and three standard drinks.",
        ("classics", "drinks", "me", "frame"),
    )


def grams_rows(one: Serve, beside: Beside) -> dict[str, list]:
    """Rows of `grams_chart`."""
    top = max(_LEAST_TOP, 1.05 * max(*beside.grams, one.alcohol.value), 1.1 * one.size)
    classics = [
        {"name": name, "family": family, "grams": round(grams, 2), "told": f"{name}, {grams:.0f} g"}
        for name, family, grams in zip(beside.names, beside.families, beside.grams, strict=True)
    ]
    count = min(math.floor(top / one.size), 3)
    drinks = [{"grams": n * one.size, "label": "1 std drink" if n == 1 else str(n)} for n in range(1, count + 1)]
    pm = one.alcohol.pm or 0.0
    me = {
        "grams": round(one.alcohol.value, 2), "low": round(max(one.alcohol.value - pm, 0.0), 2),
        "high": round(one.alcohol.value + pm, 2), "label": one.name,
        "told": f"{one.name}, {own(MASS(*one.alcohol), '.1')}",
        "place": "left" if one.alcohol.value < top / 2 else "right",
    }  # fmt: skip
    return {"classics": classics, "drinks": drinks, "me": [me], "frame": [{"grams": 0.0}, {"grams": round(top, 1)}]}
