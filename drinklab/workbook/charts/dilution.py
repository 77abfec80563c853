"""The picture of a drink over ice: temperature and dilution against time."""

from __future__ import annotations

import math

from ... import dilution
from . import alt
from .look import (
    BLUE,
    INK,
    QUIET,
    RED,
    dot,
    named,
    room,
    unseen,
    with_rows,
    words_on,
)

# One panel in pixels; with axis and the words on the right, two of them are about 745 wide.
_WIDE, _HIGH = 258, 232
_ROWS = ("frame", "curve", "limit", "rule", "now")


def chill_chart(unit: str = "°C") -> alt.ConcatChart:
    """Temperature and dilution of a drink over ice against time, side by side.

    All that is drawn is named data, empty until `chill_rows` are put in: `"frame"` sets how far the axes reach.

    Parameters
    ----------
    unit : {"°C", "°F"}
        Of the temperatures in the rows.
    """
    left = _panel("t", f"Temperature [{unit}]", [])
    band = named("curve").mark_area(color=BLUE, opacity=0.14, aria=False)
    band = band.encode(x=_x("s"), y=_y("d_low", _DILUTION), y2="d_high:Q")
    point = named("rule").encode(x=_x("s"), y=_y("d", _DILUTION))
    # Open and wide: it shows around the dot of the chosen time.
    mark = point.mark_point(shape="diamond", size=330, color=RED, opacity=1, strokeWidth=2, fill="transparent")
    # Below the point is where the curve is not, unless the point lies above the curve.
    look = {"align": "left", "baseline": "top", "dx": 12, "lineBreak": "\n"}
    words = words_on(point, "label", color=RED, dy=alt.expr("datum.above ? -36 : 10"), **look)
    right = _panel("d", _DILUTION, [band], [mark.encode(tooltip=alt.Tooltip("told:N", title="Published")), *words])
    chart = alt.ConcatChart(concat=[left, right], spacing=14, description=_description(unit))
    return with_rows(chart, chart.description, _ROWS)


_DILUTION = "Dilution [% of the drink before ice]"


def _x(field: str) -> alt.X:
    scale = alt.Scale(nice=False, zero=False)
    return alt.X(f"{field}:Q", scale=scale, title="Time on the ice [s]")


def _y(field: str, title: str) -> alt.Y:
    # The words of the axis keep their place, however long its numbers are.
    return alt.Y(f"{field}:Q", scale=alt.Scale(nice=False, zero=False), title=title, axis=alt.Axis(minExtent=28))


def _panel(field: str, title: str, behind, before=()) -> alt.LayerChart:
    y = _y(field, title)
    # Unseen corners: the axes reach as far as they say, and do not move with the curve.
    frame = unseen("frame", x=_x("s"), y=y)
    # Unseen too: room for axes and for the words beside and above the panel, whatever rows come later.
    ground = room(-48, _WIDE + 50, -18, _HIGH + 40)
    limit = named("limit")
    dashes = limit.mark_rule(color=QUIET, strokeDash=[5, 4], strokeWidth=1.4).encode(
        y=y, description=alt.Description(f"{field}_told:N")
    )
    beside = limit.mark_text(align="left", baseline="middle", color=QUIET, lineBreak="\n", lineHeight=12, aria=False)
    beside = beside.encode(x=alt.value(_WIDE + 5), y=y, text=f"{field}_label:N")
    line = named("curve").mark_line(color=BLUE, strokeWidth=2.4, interpolate="monotone")
    line = line.encode(x=_x("s"), y=y)
    now = named("now").encode(x=_x("s"))
    upright = now.mark_rule(color=INK, strokeWidth=1, aria=False)
    tip = [alt.Tooltip("t_label:N", title="Temperature"), alt.Tooltip("d_label:N", title="Dilution")]
    spot = dot(now)
    spot = spot.encode(y=y, tooltip=tip, description=alt.Description(f"{field}_label:N"))
    # Above the panel, where no curve runs.
    above = now.mark_text(
        align=alt.expr("datum.place"), dx=alt.expr("datum.shift"), fontWeight="bold", fontSize=12, aria=False
    ).encode(y=alt.value(-9), text=f"{field}_label:N")
    layers = [ground, frame, *behind, dashes, beside, line, upright, spot, *before, above]
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def _description(unit: str) -> str:
    return (
        f"Two charts side by side against the time on the ice. Left: temperature of the drink in {unit}. Right: water "
        "taken up, in percent of the drink before ice, with a band that holds 19 drinks in 20. Dashed: the "
        "limit that physics allows. A dot marks the chosen time, a diamond the published figure at its usual time."
    )


def chill_rows(
    curve, now, rule: tuple[float, float] | None, degrees, unit: str, usual: float, miss: float | None = None
) -> dict[str, list]:
    """Rows of `chill_chart`.

    Parameters
    ----------
    curve, now : dilution.Chill
        Over the time of the chart, and at the chosen time.
    rule : (seconds, dilution) or None
        What the published rule says, and when.
    degrees : function
        °C into the unit shown.
    unit : {"°C", "°F"}
    usual : float
        The technique's usual time. [s]
    miss : float, optional
        By what own weighings are missed that the pace was fitted to. [g]
    """
    end, around = float(curve.seconds[-1]), 100 * dilution.melt_pm(curve, miss)
    limit_t, limit_d = degrees(now.limit_temperature), 100 * now.limit_dilution
    rows = [
        {"s": round(float(s), 2), "t": round(float(degrees(t)), 2), "d": round(100 * float(d), 2),
         "d_low": round(100 * float(d) - float(pm), 2), "d_high": round(100 * float(d) + float(pm), 2)}
        for s, t, d, pm in zip(curve.seconds, curve.temperature, curve.dilution, around, strict=True)
    ]  # fmt: skip
    # The axes move in steps, not with every touch.
    step = 10 if unit == "°C" else 20
    temperatures = [row["t"] for row in rows] + [limit_t]
    top_d = max([row["d_high"] for row in rows] + [limit_d] + ([100 * rule[1]] if rule else []))
    frame = [
        {"s": 0.0, "t": math.floor((min(temperatures) - step / 10) / (step / 2)) * step / 2, "d": 0.0},
        {
            "s": end,
            "t": math.ceil((max(temperatures) + step / 20) / step) * step,
            "d": math.ceil(1.04 * top_d / 20) * 20,
        },
    ]
    left, right = now.seconds < 0.3 * end, now.seconds > 0.75 * end
    t, d = float(degrees(now.temperature)), 100 * now.dilution
    place = {"place": "left" if left else "right" if right else "center", "shift": -4 if left else 4 if right else 0}
    said = f"{now.seconds:g} s: "
    point = {
        "s": float(now.seconds), "t": round(t, 2), "d": round(d, 2), "t_label": f"{said}{_whole(t)} {unit}",
        "d_label": f"{said}{d:.0f} ± {max(100 * dilution.melt_pm(now, miss), 1):.0f} %", **place,
    }  # fmt: skip
    limit = {
        "t": round(limit_t, 2), "d": round(limit_d, 2),
        "t_label": f"limit\n{_whole(limit_t)} {unit}", "d_label": f"limit\n{limit_d:.0f} %",
        "t_told": f"limit that physics allows, {_whole(limit_t)} {unit}",
        "d_told": f"limit that physics allows, {limit_d:.0f} % of the drink before ice",
    }  # fmt: skip
    published = []
    if rule:
        at, share = rule
        drawn = min(rows, key=lambda row: abs(row["s"] - at))
        label = f"published figure\n(from memory): {100 * share:.0f} %"
        published = [
            {"s": at, "d": round(100 * share, 2), "label": label, "above": 100 * share > drawn["d"] + 1,
             "told": f"{100 * share:.0f} % at the usual {usual:g} s, published figure from memory"}
        ]  # fmt: skip
    return {"frame": frame, "curve": rows, "limit": [limit], "rule": published, "now": [point]}


def _whole(value: float) -> str:
    return f"{round(value) + 0:.0f}".replace("-", "−")
