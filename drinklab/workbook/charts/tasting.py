"""What a panel of so many can show: the chance to find what is there, against the number of tasters."""

from __future__ import annotations

import numpy as np

from ... import tasting
from ...tasting import Plan
from . import alt
from .look import INK, LOOK, QUIET

_CURVE = "#0f57bd"
FEWEST, LEAST_TOP = 3, 60  # ends of the axis, unless more taste


def power_chart() -> alt.LayerChart:
    """Chance to find it against tasters; empty until `power_rows` are put in."""
    x = alt.X("tasters:Q", scale=alt.Scale(nice=False, zero=False), title="Tasters")
    y = alt.Y("chance:Q", scale=alt.Scale(domain=[0, 100]), title="Found [% of such tastings]")
    curve, now, aim = (alt.Chart(alt.NamedData(name)) for name in ("curve", "now", "aim"))
    told = alt.Description("told:N")
    layers = [
        aim.mark_rule(color=QUIET, strokeDash=[4, 3], aria=False).encode(y=y),
        aim.mark_text(align="left", dx=4, dy=-6, color=QUIET, aria=False).encode(x=alt.value(0), y=y, text="told:N"),
        curve.mark_line(color=_CURVE, strokeWidth=1.8, interpolate="linear").encode(x=x, y=y),
        now.mark_rule(color=INK, strokeWidth=1, aria=False).encode(x=x),
        now.mark_point(filled=True, color=INK, size=110, opacity=1, stroke="white", strokeWidth=1.6).encode(
            x=x, y=y, tooltip=alt.Tooltip("told:N", title="This panel"), description=told
        ),
        now.mark_text(
            align=alt.expr("datum.right ? 'right' : 'left'"), dx=alt.expr("datum.right ? -9 : 9"), dy=13,
            fontWeight="bold", fontSize=12, aria=False,
        ).encode(x=x, y=y, text="told:N"),
    ]  # fmt: skip
    chart = alt.LayerChart(
        layer=layers, width=560, height=230,
        description="A line: the chance that a tasting finds the difference, in percent, against the number of "
        "tasters. It goes up in teeth, since one taster more may raise the count that is needed. A dot marks this "
        "panel, a dashed line the wanted chance.",
    )  # fmt: skip
    chart.config, chart.datasets = LOOK, {name: [] for name in ("curve", "now", "aim")}
    return chart


def power_rows(made: Plan) -> dict[str, list]:
    """Rows of `power_chart` for a plan that asks for right answers."""
    n = len(made.seated)
    top = min(max(LEAST_TOP, 2 * n, 1 + (made.needed or 0)), tasting.MOST_TASTERS)
    every = np.unique(np.linspace(FEWEST, top, min(top - FEWEST + 1, 240)).astype(int))
    if made.similar:
        chances = tasting.similar_power(every, made.share, made.method, made.alpha)
    else:
        chances = tasting.power(every, made.share, made.method, made.alpha)
    rows = [{"tasters": int(k), "chance": round(100 * float(c), 1)} for k, c in zip(every, chances, strict=True)]
    told = f"{n} tasters: {100 * made.power:.0f} %"
    now = {"tasters": n, "chance": round(100 * made.power, 1), "told": told, "right": n > top / 2}
    aim = {"chance": round(100 * made.wanted, 1), "told": f"wanted: {100 * made.wanted:.0f} %"}
    return {"curve": rows, "now": [now], "aim": [aim]}
