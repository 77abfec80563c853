"""How a filter runs on: litres through by the clock."""

from __future__ import annotations

import math

from ... import filtering
from ...display import Display
from . import alt
from .look import (
    ASIDE,
    BLUE,
    DARK,
    INK,
    QUIET,
    RED,
    named,
    room,
    unseen,
    with_rows,
    words_on,
)

# Minutes in one, most of them, and what tops the axis may have.
CLOCKS = {
    "min": (1, 120, (10, 20, 30, 45, 60, 90, 120)),
    "h": (60, 4320, (3, 4, 6, 8, 10, 12, 16, 20, 24, 36, 48, 72)),
    "days": (1440, math.inf, (4, 5, 6, 8, 10, 15, 20, 30)),
}

FILTER_ROWS = ("frame", "total", "paper", "band", "line", "points", "end")

_FILTER = (560, 270)


def clock_of(forecast: filtering.Forecast) -> str:
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

    frame = unseen("frame", x=x, y=y("v"))
    total = named("total").encode(y=y("v"))
    rule = total.mark_rule(color=QUIET, strokeDash=[5, 4]).encode(description=alt.Description("label:N"))
    paper = named("paper").encode(x=x)
    band = named("band").mark_area(orient="horizontal", color=BLUE, opacity=0.16, aria=False)
    band = band.encode(y=y("v"), x=x, x2="t2:Q")
    line = named("line").mark_line(color=BLUE, strokeWidth=2.4).encode(x=x, y=y("v"), order="v:Q")
    read = named("points").encode(x=x, y=y("v"))
    joined = read.mark_line(color=INK, strokeWidth=1, opacity=0.5, aria=False).encode(order="t:Q")
    dots = read.mark_point(filled=True, color=INK, size=60, opacity=1).encode(
        tooltip=alt.Tooltip("told:N", title="Reading"), description=alt.Description("told:N")
    )
    end = named("end").encode(x=x, y=y("v"))
    whisker = end.mark_rule(color=DARK, strokeWidth=3, aria=False).encode(
        x=alt.X("t_low:Q", scale=free, title=f"Time since the start [{clock}]"), x2="t_high:Q"
    )
    spot = end.mark_point(shape="diamond", filled=True, color=DARK, size=150, opacity=1, stroke="white")
    spot = spot.encode(tooltip=alt.Tooltip("told:N", title="Through"), description=alt.Description("told:N"))
    layers = [
        room(-52, wide + 14, -22, high + 40), frame, rule,
        paper.mark_rule(color=RED, strokeDash=[3, 3]).encode(description=alt.Description("label:N")),
        *words_on(paper.encode(y=alt.value(high - 8)), "label", align="left", dx=4, color=RED),
        band, line, joined, dots, whisker, spot,
        *words_on(total.encode(x=x), "label", dy=-8, color=QUIET, **ASIDE),
        *words_on(end, "label", dy=-13, color=DARK, fontWeight="bold", **ASIDE),
    ]  # fmt: skip
    described = (
        f"What has run through the filter, in {show.volume}, against the time since the start, in {clock}. Dots are "
        "your readings, the line is the forecast, its band holds 19 filters in 20, a diamond marks the end."
    )
    return with_rows(alt.LayerChart(layer=layers, width=wide, height=high), described, FILTER_ROWS)


def filter_rows(forecast: filtering.Forecast, new_papers: list[float], show: Display, clock: str) -> dict[str, list]:
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
    words = f"through after {filtering.hours(forecast.end)}"
    if forecast.low < forecast.high:
        words += f" ({filtering.hours(forecast.low)} to {filtering.hours(forecast.high)})"
    place = "left" if along < 0.3 else "right" if along > 0.7 else "center"
    rows["end"] = [{"t": t(forecast.end), "t_low": t(forecast.low), "t_high": t(forecast.high), "v": whole,
                    "label": words, "told": words, "place": place, "shift": 0}]  # fmt: skip
    return rows
