"""The day as bars on a clock."""

from __future__ import annotations

import itertools
import math
from datetime import datetime, timedelta

from ... import filtering, schedule
from ...display import Display
from . import alt
from .look import (
    ASIDE,
    BLUE,
    FAINT,
    LETTER,
    QUIET,
    RED,
    named,
    room,
    unseen,
    with_rows,
    words_on,
)

_DAY, _ROW, _ROWS_OF_DAY = 596, 27, 8

DAY_ROWS = ("frame", "hours", "days", "bars", "waits", "marks")

_STEPS = (1, 2, 3, 6, 12, 24, 48)  # hours between the figures of the clock


def day_chart() -> alt.LayerChart:
    """The day as bars, a row a stage, under a clock; the rows are those of `day_rows`."""
    high = _ROW * _ROWS_OF_DAY
    free = alt.Scale(nice=False, zero=False)
    x = alt.X("t:Q", scale=free, axis=None)
    y = alt.Y("row:Q", scale=alt.Scale(domain=[_ROWS_OF_DAY - 0.5, -0.5], nice=False), axis=None)
    frame = unseen("frame", x=x)
    hours, days = named("hours").encode(x=x), named("days").encode(x=x)
    bars, waits, marks = named("bars").encode(y=y), named("waits").encode(y=y, x=x), named("marks").encode(x=x)
    tips = [alt.Tooltip("told:N", title="Stage"), alt.Tooltip("note:N", title="Note")]
    label = bars.encode(x=alt.X("at:Q", scale=free, axis=None))
    layers = [
        room(-58, "width + 26", -22, high + 40), frame,
        hours.mark_rule(color=FAINT, aria=False),
        days.transform_filter("datum.midnight").mark_rule(color=QUIET, strokeDash=[2, 3], aria=False),
        hours.mark_text(color=QUIET, aria=False).encode(y=alt.value(high + 10), text="label:N"),
        days.mark_text(align="left", fontWeight="bold", dx=2, aria=False).encode(
            y=alt.value(high + 28), text="label:N"
        ),
        waits.mark_rule(color=BLUE, strokeDash=[2, 3], strokeWidth=1.6, aria=False).encode(x2="t2:Q"),
        # The outline keeps a bar of ten minutes in sight.
        bars.mark_bar(height=15, color=BLUE, stroke=BLUE, strokeWidth=2, strokeJoin="round").encode(
            x=x, x2="t2:Q", tooltip=tips, description=alt.Description("told:N")
        ),
        bars.mark_text(align="right", fontSize=12, aria=False).encode(x=alt.value(-6), text="key:N"),
        *words_on(label.transform_filter("!datum.inside"), "label", **ASIDE),
        label.transform_filter("datum.inside").mark_text(color="white", aria=False, **ASIDE).encode(text="label:N"),
        marks.mark_rule(color=RED, strokeWidth=1.6).encode(description=alt.Description("label:N")),
        marks.mark_text(
            color=RED, fontWeight="bold", align=alt.expr("datum.place"), aria=False
        ).encode(y=alt.value(-9), text="label:N"),
    ]  # fmt: skip
    described = (
        "The day as horizontal bars, one row for each stage, under a clock with the days below it. Each bar is "
        "labelled with its times and with how long its result keeps; a dotted line is waiting. Upright lines mark the "
        "hour of serving and the present time."
    )
    return with_rows(alt.LayerChart(layer=layers, width=_DAY, height=high), described, DAY_ROWS)


def day_rows(plan: schedule.Plan, now: datetime, show: Display) -> dict[str, list]:
    """Rows of `day_chart`: times in hours from the midnight before the first stage."""
    zero = plan.start.replace(hour=0, minute=0, second=0, microsecond=0)

    def t(moment):
        return round((moment - zero) / timedelta(hours=1), 3)

    first, last = t(plan.start), t(plan.serve_at)
    step = next((s for s in _STEPS if (last - first) / s <= 10), _STEPS[-1])
    left, right = step * math.floor(first / step), step * math.ceil(last / step)
    px = _DAY / (right - left)
    rows = {"frame": [{"t": left}, {"t": right}]}
    ticks = [left + step * i for i in range((right - left) // step + 1)]
    rows["hours"] = [{"t": h, "label": f"{h % 24:02}:00"} for h in ticks]
    days = [max(left, 24 * d) for d in range(left // 24, math.ceil(right / 24))]
    days = [d for d, after in itertools.pairwise([*days, right]) if px * (after - d) > 72]  # room for its name
    rows["days"] = [{"t": d, "label": _day(zero + timedelta(hours=d)), "midnight": d % 24 == 0} for d in days]
    rows["bars"], rows["waits"] = [], []
    for i, (row, after) in enumerate(zip(plan.rows, [*plan.rows[1:], None], strict=True)):
        start, end = t(row.start), t(row.end)
        keeps = "can wait overnight" if row.stage.overnight else f"keeps {filtering.hours(60 * row.stage.keeps)}"
        label = f"{row.start:%H:%M} – {row.end:%H:%M}, {filtering.hours(row.stage.minutes)}"
        label += f"; {keeps}" if after else ""
        until = t(after.start if after else plan.serve_at)
        wide = len(label) * LETTER + 12
        inside, before = px * (end - start) > wide, px * (start - left) > wide
        # On the bar if it is long; else beside it, clear of waiting that follows, where there is room.
        beyond = not inside and px * (right - end) + 26 > wide and not (before and until > end)
        side = (end, "left", 7) if beyond else (start, "right", -7) if before and not inside else (start, "left", 6)
        rows["bars"].append(
            {"row": i, "t": start, "t2": end, "key": row.stage.key, "label": label,
             "inside": bool(inside), **dict(zip(("at", "place", "shift"), side, strict=True)),
             "told": f"{row.stage.key}: {label}", "note": show.say((row.stage.do, row.stage.note))}
        )  # fmt: skip
        if until > end:
            rows["waits"].append({"row": i, "t": end, "t2": until})
    rows["marks"] = [{"t": last, "label": f"serve {plan.serve_at:%H:%M}", "place": "right"}]
    if left <= t(now) <= right:
        rows["marks"].append({"t": t(now), "label": f"now {now:%H:%M}", "place": "left"})
    return rows


def _day(moment: datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}"
