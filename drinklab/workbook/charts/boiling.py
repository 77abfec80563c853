"""What boiling leaves of the alcohol."""

from __future__ import annotations

import math

import numpy as np

from ... import boiling
from . import alt
from .look import (
    BLUE,
    INK,
    dot,
    named,
    with_rows,
)

MOST_BOILED = 50.0  # how far the chart of boiling goes [% of the weight]

SHARES = np.linspace(0, MOST_BOILED, 21)

TOLD = (5, 10, 20, 30, 50)  # lines of its table


def left_text(found: boiling.Boiled, i: int) -> tuple[str, str]:
    """Strength left and alcohol kept, each with its band."""

    def words(mid: float, low: float, high: float, digits: int, unit: str) -> str:
        if round(mid, digits) == 0:
            return f"{max(high, 10.0**-digits):.{digits}f} {unit} or less"
        return f"{mid:.{digits}f} ({low:.{digits}f} to {high:.{digits}f}) {unit}"

    strengths, kept = (found.abv, found.abv_low, found.abv_high), (found.kept, found.kept_low, found.kept_high)
    return words(*(s[i] for s in strengths), 1, "% vol"), words(*(100 * k[i] for k in kept), 0, "%")


def boil_chart() -> alt.ConcatChart:
    """Alcohol kept and strength left against the share boiled off; empty until `boil_rows` are put in."""
    panels = []
    for field, title in (("kept", "Alcohol kept [% of it]"), ("abv", "Strength left [% vol]")):
        curve, now = named("curve"), named("now")
        x = alt.X("share:Q", scale=alt.Scale(domain=[0, MOST_BOILED]), title="Boiled off [% of the weight]")

        def y(field: str, title: str = title) -> alt.Y:
            return alt.Y(f"{field}:Q", scale=alt.Scale(nice=False), title=title, axis=alt.Axis(minExtent=26))

        frame = named("frame").mark_point(opacity=0, aria=False, tooltip=None)
        spot = dot(now)
        told = alt.Description(f"{field}_told:N")
        layers = [
            frame.encode(y=y(field)),
            curve.mark_area(color=BLUE, opacity=0.16, aria=False).encode(
                x=x, y=y(f"{field}_low"), y2=f"{field}_high:Q"),
            curve.mark_line(color=BLUE, strokeWidth=2.4).encode(x=x, y=y(field)),
            now.mark_rule(color=INK, strokeWidth=1, aria=False).encode(x=x),
            spot.encode(x=x, y=y(field), tooltip=alt.Tooltip(f"{field}_told:N", title=title), description=told),
            now.mark_text(
                align=alt.expr(f"datum.share > {MOST_BOILED / 2:g} ? 'right' : 'left'"), fontWeight="bold", fontSize=12,
                aria=False,
            ).encode(x=x, y=alt.value(-9), text=f"{field}_told:N"),
        ]  # fmt: skip
        panels.append(alt.LayerChart(layer=layers, width=270, height=190))
    chart = alt.ConcatChart(
        concat=panels, spacing=24,
        description="Two charts against the share of the weight boiled off, 0 to 50 %. Left: alcohol kept, in percent. "
        "Right: strength of what is left in the pan. Bands hold 19 pans in 20; a dot marks the chosen share.",
    )  # fmt: skip
    return with_rows(chart, chart.description, ("frame", "curve", "now"))


def boil_rows(found: boiling.Boiled, share: float) -> dict[str, list]:
    """Rows of `boil_chart`: `found` over `SHARES` and, last, at the chosen share [% of the weight]."""
    names = ("abv", "abv_low", "abv_high", "kept", "kept_low", "kept_high")
    rows = [
        {"share": round(float(at), 2)}
        | {n: round(float(getattr(found, n)[i]) * (100 if n[0] == "k" else 1), 2) for n in names}
        for i, at in enumerate([*SHARES, share])
    ]
    now = rows.pop()
    now["abv_told"], now["kept_told"] = left_text(found, -1)
    top = max(5, 10 * math.ceil(rows[0]["abv"] / 10))
    return {"frame": [{"kept": 0, "abv": 0}, {"kept": 100, "abv": top}], "curve": rows, "now": [now]}
