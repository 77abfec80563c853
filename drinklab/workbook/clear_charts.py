"""Pictures of a drink being cleared: pH and yield against milk, a filter against time, and the day."""

from __future__ import annotations

import itertools
import math
from datetime import datetime, timedelta

import altair as alt
import numpy as np

from .. import clarification
from ..units import Display
from .charts import INK, LOOK, QUIET

_BLUE, _DARK, _RED = "#136cea", "#0f57bd", "#963f0c"
_ASIDE = {"align": alt.expr("datum.place"), "dx": alt.expr("datum.shift")}
_LETTER = 5.9  # pixels, the usual width of a letter of 11 px


def _chart(what, rows, description: str, **more):
    made = what(**more, description=description)
    made.config, made.datasets = LOOK, {name: [] for name in rows}
    return made


def _layers(*layers, width: int, height: int) -> dict:
    return {"layer": list(layers), "width": width, "height": height}


def _words(chart: alt.Chart, text: str, **mark) -> list[alt.Chart]:
    """Text on a white halo, so that it reads over lines."""
    halo = {"stroke": "white", "strokeWidth": 3.5, "strokeJoin": "round"}
    return [chart.mark_text(aria=False, **mark | look).encode(text=f"{text}:N") for look in (halo, {})]


def _room(left: float, right: float, above: float, below: float) -> alt.Chart:
    """Unseen: room for axes and for words beside the panel, so that it stays where it is. [pixels]"""
    chart = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_rect(opacity=0, aria=False, tooltip=None)
    return chart.encode(x=alt.value(left), x2=alt.value(right), y=alt.value(above), y2=alt.value(below))


def _rows(name: str) -> alt.Chart:
    return alt.Chart(alt.NamedData(name))


def _dot(chart: alt.Chart) -> alt.Chart:
    return chart.mark_point(filled=True, color=INK, size=110, opacity=1, stroke="white", strokeWidth=1.6)


# --- milk -----------------------------------------------------------------------------------------------

_WIDE, _HIGH = 282, 236
_PH = (2.0, 7.0)
_MILK = "Milk, parts to 1 part of drink [mL/mL]"
WASH_ROWS = ("curve", "clear", "milky", "most", "limits", "zone", "now")


def per(show: Display) -> tuple[float, str]:
    """What the yield is told to: mL of drink, and in words.

    >>> per(Display())
    (1000, 'mL per litre of drink')
    """
    return (1000, "mL per litre of drink") if show.volume == "mL" else (32, "oz per quart (32 oz) of drink")


def wash_chart(show: Display) -> alt.HConcatChart:
    """pH of the mix, and what runs off the curd, against the milk; the rows are those of `wash_rows`."""
    milk = alt.X("s:Q", scale=alt.Scale(domain=[0, 1], nice=False), title=_MILK)
    size, unit = per(show)

    def y(field, domain, title):
        scale = alt.Scale(domain=domain, nice=False)
        return alt.Y(f"{field}:Q", scale=scale, title=title, axis=alt.Axis(minExtent=30))

    def panel(field, up, behind, lines, label):
        band = _rows("curve").mark_area(color=_BLUE, opacity=0.14, aria=False)
        band = band.encode(x=milk, y=up(f"{field}_low"), y2=f"{field}_high:Q")
        curves = [
            _rows(name).mark_line(color=_BLUE, strokeWidth=2.4, interpolate="monotone", **look).encode(
                x=milk, y=up(field)
            )
            for name, look in lines.items()
        ]  # fmt: skip
        now = _rows("now").encode(x=milk)
        tips = [alt.Tooltip(f"{f}:N", title=t) for f, t in
                (("s_told", "Milk"), ("ph_told", "pH of the mix"), ("v_told", "Runs off"))]  # fmt: skip
        bar = now.mark_rule(color=INK, strokeWidth=1.6, aria=False).encode(y=up(f"{field}_low"), y2=f"{field}_high:Q")
        dot = _dot(now).encode(y=up(field), tooltip=tips, description=alt.Description(f"{field}_told:N"))
        above = now.mark_text(
            fontWeight="bold", fontSize=12, aria=False, **_ASIDE
        ).encode(y=alt.value(-9), text=f"{label}:N")  # fmt: skip
        room = _room(-50, _WIDE + 10, -18, _HIGH + 40)
        return alt.LayerChart(**_layers(room, *behind, band, *curves, bar, dot, above, width=_WIDE, height=_HIGH))

    def ph_axis(field):
        return y(field, _PH, "pH of drink and milk together")

    zone = _rows("zone").mark_rect(color=QUIET, opacity=0.1)
    zone = zone.encode(y=ph_axis("low"), y2="high:Q")
    limit = _rows("limits").encode(y=ph_axis("p"))
    rules = limit.mark_rule(color=QUIET, strokeDash=[5, 4], strokeWidth=1.4).encode(
        description=alt.Description("label:N")
    )
    named = _words(limit.encode(x=milk), "label", dy=alt.expr("datum.dy"), color=QUIET, **_ASIDE)
    left = panel("ph", ph_axis, [zone, rules, *named], {"curve": {}}, "ph_label")

    def volume_axis(field):
        return y(field, (0, 2.2 * size), f"Runs off the curd [{unit}]")

    same = alt.Chart(alt.InlineData(values=[{"v": size, "label": "as much as the drink was"}])).encode(
        y=volume_axis("v")
    )
    behind = [same.mark_rule(color=QUIET, strokeDash=[2, 3]).encode(description=alt.Description("label:N"))]
    most = _rows("most").encode(x=milk)
    edge = most.mark_rule(color=_RED, strokeDash=[5, 4], strokeWidth=1.4).encode(description=alt.Description("label:N"))
    dashed = {"strokeDash": [5, 4], "stroke": _RED}
    right = panel("v", volume_axis, [*behind, edge], {"clear": {}, "milky": dashed}, "v_label")
    right.layer += _words(same.encode(x=alt.value(_WIDE - 4)), "label", align="right", dy=9, color=QUIET)
    right.layer += _words(
        most.encode(y=alt.value(_HIGH - 34)), "label", color=_RED, lineBreak="\n", baseline="middle", **_ASIDE
    )  # fmt: skip
    described = (
        "Two charts side by side against the milk, in parts to one part of drink. Left: pH of drink and milk together "
        "with its band, and two lines: below the lower one milk curdles whole, above the upper one it does "
        f"not. Right: {unit} that run off the curd, with their band; dashed where it stays milky. A dot marks the "
        "chosen amount of milk."
    )
    return _chart(alt.HConcatChart, WASH_ROWS, described, hconcat=[left, right], spacing=16)


def wash_rows(curve: clarification.Washed, now: clarification.Washed, batch: float, show: Display) -> dict[str, list]:
    """Rows of `wash_chart`.

    Parameters
    ----------
    curve, now : clarification.Washed
        Over the shares of the axis, and as chosen; both `best()`.
    batch : float
        The drink that is washed. [mL]
    """
    size, unit = per(show)

    def row(s, ph, volume):
        held = {f"ph{end}": float(np.clip(p, *_PH)) for end, p in zip(_ENDS, ph, strict=True)}
        held |= {f"v{end}": float(v) * size / batch for end, v in zip(_ENDS, volume, strict=True)}
        return {"s": round(float(s), 4)} | {name: round(value, 3) for name, value in held.items()}

    def figures(washed):
        return [[getattr(washed, f"{name}{end}") for end in _ENDS] for name in ("ph", "volume")]

    rows = [
        row(s, ph, v)
        for s, ph, v in zip(curve.share, *(np.transpose(f) for f in figures(curve)), strict=True)
    ]  # fmt: skip
    (ph, low, high), volume = figures(now)
    point = row(now.share, (ph, low, high), volume)
    at = f"{now.share:.2f}: "
    place, shift = _beside(float(now.share), 0.3, 0.7)
    out, least, most_out = (f"{point[f'v{end}']:.{int(size < 1000)}f}" for end in _ENDS)
    point |= {
        "place": place, "shift": shift, "s_told": f"{now.share:.2f} to 1 of drink",
        "ph_label": f"{at}pH {ph:.1f} ({low:.1f} to {high:.1f})", "ph_told": f"{ph:.1f} ({low:.1f} to {high:.1f})",
        "v_label": f"{at}{out} ({least} to {most_out})", "v_told": f"{out} ({least} to {most_out}) {unit}",
    }  # fmt: skip
    # Beyond the milk that its acid can curdle whole.
    edge = float(now.most_milk) / batch
    clear, milky, most = [r for r in rows if r["s"] <= edge], [r for r in rows if r["s"] > edge], []
    if clear and milky:
        meet = {n: round(float(np.interp(edge, curve.share, [r[n] for r in rows])), 4) for n in rows[0]}
        clear, milky = [*clear, meet], [meet, *milky]
        place, shift = _beside(edge, 0.5, 0.5)
        most = [{"s": round(edge, 4), "label": f"acid for {edge:.2f}\nbeyond: milky", "place": place, "shift": shift}]
    limits, whole, none = [], now.way.curdles, now.way.begins
    for p, label, dy, low, high in (
        (whole, f"below {whole}: curdles whole", 11, whole - 0.45, whole),
        (none, f"above {none}: does not curdle", -7, none, none + 0.4),
    ):
        # On the side where the curve is not.
        at = float(any(r["s"] < 0.5 and low < r["ph"] < high for r in rows))
        place, shift = _beside(at, 0.5, 0.5)
        limits.append({"p": p, "label": label, "dy": dy, "s": at, "place": place, "shift": shift})
    zone = [{"low": whole, "high": none}]
    return {
        "curve": rows, "clear": clear, "milky": milky, "most": most, "limits": limits, "zone": zone, "now": [point]
    }  # fmt: skip


_ENDS = ("", "_low", "_high")


def _beside(x: float, left: float, right: float) -> tuple[str, int]:
    """Where words to a mark at `x` (0 to 1) fit: alignment, and pixels aside."""
    return ("left", 5) if x < left else ("right", -5) if x > right else ("center", 0)


# --- the filter -----------------------------------------------------------------------------------------

# Minutes in one, most of them, and what tops the axis may have.
CLOCKS = {
    "min": (1, 120, (10, 20, 30, 45, 60, 90, 120)),
    "h": (60, 4320, (3, 4, 6, 8, 10, 12, 16, 20, 24, 36, 48, 72)),
    "days": (1440, math.inf, (4, 5, 6, 8, 10, 15, 20, 30)),
}
FILTER_ROWS = ("frame", "total", "paper", "band", "line", "points", "end")
_FILTER = (560, 270)


def clock_of(forecast: clarification.Forecast) -> str:
    """Key of `CLOCKS` that suits how long it takes."""
    longest = max([forecast.high or 0.0, *forecast.minutes])
    return next(name for name, (_, most, _) in CLOCKS.items() if longest <= most)


def filter_chart(show: Display, clock: str) -> alt.LayerChart:
    """What has run through a filter against time, and the forecast; the rows are those of `filter_rows`."""
    wide, high = _FILTER
    free = alt.Scale(nice=False, zero=False)
    x = alt.X("t:Q", scale=free, title=f"Time since the start [{clock}]")

    def y(field):
        title = f"Run through, in all [{show.volume}]"
        return alt.Y(f"{field}:Q", scale=free, title=title, axis=alt.Axis(minExtent=34))

    frame = _rows("frame").mark_point(opacity=0, aria=False, tooltip=None).encode(x=x, y=y("v"))
    total = _rows("total").encode(y=y("v"))
    rule = total.mark_rule(color=QUIET, strokeDash=[5, 4]).encode(description=alt.Description("label:N"))
    paper = _rows("paper").encode(x=x)
    band = _rows("band").mark_area(orient="horizontal", color=_BLUE, opacity=0.16, aria=False)
    band = band.encode(y=y("v"), x=x, x2="t2:Q")
    line = _rows("line").mark_line(color=_BLUE, strokeWidth=2.4).encode(x=x, y=y("v"), order="v:Q")
    read = _rows("points").encode(x=x, y=y("v"))
    joined = read.mark_line(color=INK, strokeWidth=1, opacity=0.5, aria=False).encode(order="t:Q")
    dots = read.mark_point(filled=True, color=INK, size=60, opacity=1).encode(
        tooltip=alt.Tooltip("told:N", title="Reading"), description=alt.Description("told:N")
    )
    end = _rows("end").encode(x=x, y=y("v"))
    whisker = end.mark_rule(color=_DARK, strokeWidth=3, aria=False).encode(
        x=alt.X("t_low:Q", scale=free, title=f"Time since the start [{clock}]"), x2="t_high:Q"
    )
    dot = end.mark_point(shape="diamond", filled=True, color=_DARK, size=150, opacity=1, stroke="white")
    dot = dot.encode(tooltip=alt.Tooltip("told:N", title="Through"), description=alt.Description("told:N"))
    layers = [
        _room(-52, wide + 14, -22, high + 40), frame, rule,
        paper.mark_rule(color=_RED, strokeDash=[3, 3]).encode(description=alt.Description("label:N")),
        *_words(paper.encode(y=alt.value(high - 8)), "label", align="left", dx=4, color=_RED),
        band, line, joined, dots, whisker, dot,
        *_words(total.encode(x=x), "label", dy=-8, color=QUIET, **_ASIDE),
        *_words(end, "label", dy=-13, color=_DARK, fontWeight="bold", **_ASIDE),
    ]  # fmt: skip
    described = (
        f"What has run through the filter, in {show.volume}, against the time since the start, in {clock}. Dots are "
        "your readings, the line is the forecast, its band holds 19 filters in 20, a diamond marks the end."
    )
    return _chart(alt.LayerChart, FILTER_ROWS, described, **_layers(*layers, width=wide, height=high))


def filter_rows(
    forecast: clarification.Forecast, new_papers: list[float], show: Display, clock: str
) -> dict[str, list]:
    """Rows of `filter_chart`."""
    size, _, tops = CLOCKS[clock]
    longest = 1.03 * max([forecast.high or 0.0, *forecast.minutes]) / size
    top = next((t for t in tops if t >= longest), 10 * math.ceil(longest / 10))

    def t(minutes):
        return round(float(minutes) / size, 4)

    def v(ml):
        return round(float(ml) / show.ml, 3)

    rows = {name: [] for name in FILTER_ROWS}
    whole = v(forecast.total)
    rows["frame"] = [{"t": 0, "v": 0}, {"t": top, "v": 1.1 * whole}]
    along = t(forecast.end) / top if forecast.made else 1.0
    at = {"t": top, "place": "right", "shift": -4} if along < 0.5 else {"t": 0, "place": "left", "shift": 4}
    rows["total"] = [{"v": whole, "label": f"all of it, {show.volume_text(forecast.total)}"} | at]
    rows["paper"] = [{"t": t(m), "label": "new paper"} for m in sorted(new_papers)]
    readings = list(zip(forecast.minutes, forecast.volumes, strict=True))
    rows["points"] = [
        {"t": t(m), "v": v(ml), "told": f"{m:g} min, {show.volume_text(ml)}"} for m, ml in [(0, 0)] * bool(readings) +
        [r for r in readings if r[0] > 0]
    ]  # fmt: skip
    if not forecast.made:
        return rows
    if forecast.curve:
        volume, middle, low, high = forecast.curve
        rows["line"] = [{"t": t(m), "v": v(ml)} for m, ml in zip(middle, volume, strict=True)]
        rows["band"] = [{"t": t(a), "t2": t(b), "v": v(ml)} for a, b, ml in zip(low, high, volume, strict=True)]
    words = f"through after {clarification.hours(forecast.end)}"
    if forecast.low < forecast.high:
        words += f" ({clarification.hours(forecast.low)} to {clarification.hours(forecast.high)})"
    place = "left" if along < 0.3 else "right" if along > 0.7 else "center"
    rows["end"] = [{"t": t(forecast.end), "t_low": t(forecast.low), "t_high": t(forecast.high), "v": whole,
                    "label": words, "told": words, "place": place, "shift": 0}]  # fmt: skip
    return rows


# --- the day --------------------------------------------------------------------------------------------

_DAY, _ROW, _ROWS_OF_DAY = 596, 27, 8
DAY_ROWS = ("frame", "hours", "days", "bars", "waits", "marks")
_STEPS = (1, 2, 3, 6, 12, 24, 48)  # hours between the figures of the clock


def day_chart() -> alt.LayerChart:
    """The day as bars, a row a stage, under a clock; the rows are those of `day_rows`."""
    high = _ROW * _ROWS_OF_DAY
    free = alt.Scale(nice=False, zero=False)
    x = alt.X("t:Q", scale=free, axis=None)
    y = alt.Y("row:Q", scale=alt.Scale(domain=[_ROWS_OF_DAY - 0.5, -0.5], nice=False), axis=None)
    frame = _rows("frame").mark_point(opacity=0, aria=False, tooltip=None).encode(x=x)
    hours, days = _rows("hours").encode(x=x), _rows("days").encode(x=x)
    bars, waits, marks = _rows("bars").encode(y=y), _rows("waits").encode(y=y, x=x), _rows("marks").encode(x=x)
    tips = [alt.Tooltip("told:N", title="Stage"), alt.Tooltip("note:N", title="Note")]
    label = bars.encode(x=alt.X("at:Q", scale=free, axis=None))
    layers = [
        _room(-58, _DAY + 26, -22, high + 40), frame,
        hours.mark_rule(color="#e4e7eb", aria=False),
        days.transform_filter("datum.midnight").mark_rule(color=QUIET, strokeDash=[2, 3], aria=False),
        hours.mark_text(color=QUIET, aria=False).encode(y=alt.value(high + 10), text="label:N"),
        days.mark_text(align="left", fontWeight="bold", dx=2, aria=False).encode(
            y=alt.value(high + 28), text="label:N"
        ),
        waits.mark_rule(color=_BLUE, strokeDash=[2, 3], strokeWidth=1.6, aria=False).encode(x2="t2:Q"),
        # The outline keeps a bar of ten minutes in sight.
        bars.mark_bar(height=15, color=_BLUE, stroke=_BLUE, strokeWidth=2, strokeJoin="round").encode(
            x=x, x2="t2:Q", tooltip=tips, description=alt.Description("told:N")
        ),
        bars.mark_text(align="right", fontSize=12, aria=False).encode(x=alt.value(-6), text="key:N"),
        *_words(label.transform_filter("!datum.inside"), "label", **_ASIDE),
        label.transform_filter("datum.inside").mark_text(color="white", aria=False, **_ASIDE).encode(text="label:N"),
        marks.mark_rule(color=_RED, strokeWidth=1.6).encode(description=alt.Description("label:N")),
        marks.mark_text(
            color=_RED, fontWeight="bold", align=alt.expr("datum.place"), aria=False
        ).encode(y=alt.value(-9), text="label:N"),
    ]  # fmt: skip
    described = (
        "The day as horizontal bars, one row for each stage, under a clock with the days below it. Each bar is "
        "labelled with its times and with how long its result keeps; a dotted line is waiting. Upright lines mark the "
        "hour of serving and the present time."
    )
    return _chart(alt.LayerChart, DAY_ROWS, described, **_layers(*layers, width=_DAY, height=high))


def day_rows(plan: clarification.Plan, now: datetime) -> dict[str, list]:
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
    days = [d for d, after in itertools.pairwise([*days, right]) if px * (after - d) > 60]  # room for its name
    rows["days"] = [{"t": d, "label": _day(zero + timedelta(hours=d)), "midnight": d % 24 == 0} for d in days]
    rows["bars"], rows["waits"] = [], []
    for i, (row, after) in enumerate(zip(plan.rows, [*plan.rows[1:], None], strict=True)):
        start, end = t(row.start), t(row.end)
        keeps = "can wait overnight" if row.stage.overnight else f"keeps {clarification.hours(60 * row.stage.keeps)}"
        label = f"{row.start:%H:%M} – {row.end:%H:%M}, {clarification.hours(row.stage.minutes)}"
        label += f"; {keeps}" if after else ""
        until = t(after.start if after else plan.serve_at)
        wide = len(label) * _LETTER + 12
        inside, before = px * (end - start) > wide, px * (start - left) > wide
        # On the bar if it is long; else beside it, clear of waiting that follows, where there is room.
        beyond = not inside and px * (right - end) + 26 > wide and not (before and until > end)
        side = (end, "left", 7) if beyond else (start, "right", -7) if before and not inside else (start, "left", 6)
        rows["bars"].append(
            {"row": i, "t": start, "t2": end, "key": row.stage.key, "label": label,
             "inside": bool(inside), **dict(zip(("at", "place", "shift"), side, strict=True)),
             "told": f"{row.stage.key}: {label}", "note": f"{row.stage.do} {row.stage.note}"}
        )  # fmt: skip
        if until > end:
            rows["waits"].append({"row": i, "t": end, "t2": until})
    rows["marks"] = [{"t": last, "label": f"serve {plan.serve_at:%H:%M}", "place": "right"}]
    if left <= t(now) <= right:
        rows["marks"].append({"t": t(now), "label": f"now {now:%H:%M}", "place": "left"})
    return rows


def _day(moment: datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}"
