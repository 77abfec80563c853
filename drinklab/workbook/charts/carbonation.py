"""The picture of a gassed drink: lines of equal level over temperature and pressure, and how gas goes in with time."""

from __future__ import annotations

import numpy as np

from ... import carbonation, dilution
from ...display import Display
from ...kinds import GAS_VOLUMES
from ...liquid import Liquid
from ...physics.solubility import TEMPERATURES
from ...units import GAUGES
from . import alt
from .look import (
    BLUE,
    INK,
    QUIET,
    RED,
    dot,
    heading,
    named,
    room,
    unseen,
    with_rows,
    words_on,
)

# How far the axes reach: the usual, and wider when the settings ask for it. [°C], [kPa gauge], [volumes]
COLD, WARM = (-4.0, TEMPERATURES[0]), (24.0, TEMPERATURES[1])
TOPS = {300.0: (1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6), 600.0: (1, 2, 3, 4, 5, 6, 8, 10), 1000.0: (2, 4, 6, 8, 10),
        2000.0: (2, 4, 6, 8, 10)}  # fmt: skip
LEVELS = (4, 6, 8, 12)
# Method: what its time is counted in, the minutes in one, and how far the axis reaches.
CLOCKS = {"rest": ("days", 1440.0, 21), "shaken": ("minutes", 1.0, 15)}

# Panels in pixels; with axes and the words on the right the two are about 745 wide.
_WIDE, _HIGH, _NARROW = 330, 290, 196
_FAINT = "#8fa1b5"
_ROWS = ("frame", "lines", "ends", "band", "level", "limit", "ice", "now", "clock", "uptake", "end", "done")
_POINTS = 29


def bubbles_chart(temperature: str = "°C", pressure: str = "bar", method: str = "rest") -> alt.ConcatChart:
    """Lines of equal level, and the level against time, side by side.

    All that is drawn is named data, empty until `level_rows` and `uptake_rows` are put in.

    Parameters
    ----------
    temperature : {"°C", "°F"}
    pressure : {"psi", "bar", "kPa"}
    method : {"rest", "shaken"}
    """
    level = _level_panel(f"Temperature [{temperature}]", f"Gauge pressure [{pressure}]")
    time = _time_panel(f"Time, {'at rest' if method == 'rest' else 'shaken cold'} [{CLOCKS[method][0]}]")
    chart = alt.ConcatChart(concat=[level, time], spacing=10)
    chart.description = (
        f"Two charts side by side. Left: lines of equal level of gas in volumes, over the temperature in {temperature} "
        f"and the gauge pressure in {pressure}; a dot marks the settings, a band how sure their level is. Right: level "
        f"of gas in volumes against the time in {CLOCKS[method][0]} at the pressure set, with a wide band from the "
        "quick to the slow end; a dot marks when it is done."
    )
    return with_rows(chart, chart.description, _ROWS)


def _on(channel, field: str, title: str, **axis):
    return channel(f"{field}:Q", scale=alt.Scale(nice=False, zero=False), title=title, axis=alt.Axis(**axis))


def _level_panel(across: str, up: str) -> alt.LayerChart:
    x, y = _on(alt.X, "t", across), _on(alt.Y, "p", up, minExtent=32)
    line = named("lines").mark_line(color=_FAINT, strokeWidth=1.2, interpolate="monotone", aria=False)
    ends = named("ends").encode(x=x, y=y)
    place = {"align": alt.expr("datum.beside ? 'left' : 'center'"), "dx": alt.expr("datum.beside ? 5 : 0"),
             "dy": alt.expr("datum.beside ? 0 : -8"), "baseline": "middle", "color": QUIET}  # fmt: skip
    band = named("band").mark_area(color=BLUE, opacity=0.16, clip=True, aria=False)
    level = named("level").mark_line(color=BLUE, strokeWidth=2.6, interpolate="monotone", aria=False)
    limit = named("limit").encode(y=y)
    dashes = limit.mark_rule(color=RED, strokeDash=[5, 4], strokeWidth=1.6).encode(description="label:N")
    told = limit.encode(x=alt.value(_WIDE - 4))
    ice = named("ice").encode(x=x)
    edge = ice.mark_rule(color=QUIET, strokeDash=[2, 3]).encode(description="label:N")
    iced = ice.encode(y=alt.value(_HIGH / 2))
    now = named("now").encode(x=x, y=y)
    sure = now.mark_rule(color=INK, strokeWidth=1.6, clip=True, aria=False).encode(y="low:Q", y2="high:Q")
    tip = [alt.Tooltip(f"{field}:N", title=title) for field, title in
           (("t_told", "Temperature"), ("p_told", "Gauge pressure"), ("v_told", "Fizz"))]  # fmt: skip
    spot = dot(now)
    beside = {"align": alt.expr("datum.left ? 'right' : 'left'"), "dx": alt.expr("datum.left ? -11 : 11"),
              "dy": alt.expr("datum.below ? 9 : datum.left ? -19 : -42"), "baseline": "middle", "fontWeight": "bold",
              "fontSize": 12, "lineBreak": "\n"}  # fmt: skip
    layers = [
        room(-52, _WIDE + 44, -34, _HIGH + 40), unseen("frame", x=x, y=y),
        heading("Lines of equal fizz [volumes]", 0, -28, fontSize=12, fontWeight="bold"),
        band.encode(x=x, y=_on(alt.Y, "low", up), y2="high:Q"), line.encode(x=x, y=y, detail="v:N"),
        level.encode(x=x, y=y), dashes, edge,
        *words_on(iced, "label", angle=270, baseline="bottom", dy=-2, color=QUIET),
        *words_on(told, "label", align="right", baseline="middle", dy=alt.expr("datum.under ? 9 : -8"), color=RED),
        *words_on(ends, "label", **place), sure, spot.encode(tooltip=tip, description="told:N"),
        *words_on(now, "label", **beside),
    ]  # fmt: skip
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def _time_panel(across: str) -> alt.LayerChart:
    x, y = _on(alt.X, "s", across, tickCount=5), _on(alt.Y, "v", "Fizz [volumes of gas]", minExtent=20)
    run = named("uptake")
    band = run.mark_area(color=BLUE, opacity=0.16, aria=False).encode(
        x=x, y=_on(alt.Y, "low", "Fizz [volumes of gas]"), y2="high:Q"
    )
    line = run.mark_line(color=BLUE, strokeWidth=2.4, interpolate="monotone").encode(x=x, y=y)
    end = named("end").encode(y=y)
    dashes = end.mark_rule(color=QUIET, strokeDash=[5, 4], strokeWidth=1.4).encode(description="told:N")
    beside = end.mark_text(align="left", baseline="middle", color=QUIET, lineBreak="\n", lineHeight=12, aria=False)
    done = named("done").encode(x=x, y=y)
    spot = dot(done, 90)
    words = {"baseline": "top", "dy": 9, "dx": -4, "align": "left", "fontWeight": "bold", "lineBreak": "\n"}
    layers = [
        room(-52, _NARROW + 44, -34, _HIGH + 40), unseen("clock", x=x, y=y),
        heading("How long it takes", 0, -28, fontSize=12, fontWeight="bold"), band, dashes,
        beside.encode(x=alt.value(_NARROW + 5), text="label:N"), line,
        spot.encode(description="told:N", tooltip=alt.Tooltip("told:N", title="Done")),
        *words_on(done, "label", **words),
    ]  # fmt: skip
    return alt.LayerChart(layer=layers, width=_NARROW, height=_HIGH)


def level_rows(
    liquid: Liquid,
    volumes: float,
    temperature: float,
    pressure: tuple[float, float, float],
    limit: float,
    show: Display,
    unit: str,
) -> dict[str, list]:
    """Rows of the left panel.

    Parameters
    ----------
    liquid : Liquid
    volumes : float
        Level of the settings. [volumes]
    temperature : float
        [°C]
    pressure : (estimate, low, high)
        That gives the level. [kPa gauge]
    limit : float
        Of the vessel. [kPa gauge]
    show : Display
    unit : {"psi", "bar", "kPa"}
    """
    estimate, low, high = pressure
    cold = COLD[temperature < COLD[0]]
    warm = WARM[temperature > WARM[0]]
    top = next(t for t in TOPS if high <= t or t == max(TOPS))
    degrees = np.linspace(cold, warm, _POINTS)
    point = dilution.freezing_point(liquid)
    degrees = np.append(max(cold, point), degrees[degrees > point])
    least = carbonation.volumes_held(liquid, 0.0, degrees)
    spread = carbonation.spread(liquid)

    # All lines in one go; each begins where the drink keeps that level without pressure.
    drawn = [(float(v), _start(v, degrees, least)) for v in (*TOPS[top], volumes)]
    starts = [at for _, at in drawn]
    wanted = [np.full(len(at), v) for v, at in drawn]
    band = [np.clip(volumes * (1 + sign * spread), least, GAS_VOLUMES.high) for sign in (-1, 1)]
    found = carbonation.pressure_for(
        liquid, np.concatenate([*wanted, *band]), np.concatenate([*starts, degrees, degrees])
    )
    *lines, below, above = np.split(found, np.cumsum([*map(len, starts), len(degrees)]))

    def row(t, p, **more):
        return {"t": round(float(show.degrees(t)), 2), "p": round(float(p) / GAUGES[unit], 4), **more}

    rows = {"frame": [row(cold, 0), row(warm, top)], "lines": [], "ends": [], "level": []}
    for (v, at), p in zip(drawn[:-1], lines[:-1], strict=True):
        at, p = _below(top, at, p)
        if len(at) < 2:
            continue
        rows["lines"] += [row(t, q, v=v) for t, q in zip(at, p, strict=True)]
        rows["ends"].append(row(at[-1], p[-1], label=f"{v:g}", beside=bool(p[-1] < top)))
    rows["level"] = [row(t, q) for t, q in zip(*_below(top, drawn[-1][1], lines[-1]), strict=True)]
    # With the points where the band leaves the picture, so that it is cut level.
    cut = np.sort([*degrees, *(np.interp(top, edge, degrees) for edge in (below, above) if edge[0] < top < edge[-1])])
    rows["band"] = [
        {"t": row(t, 0)["t"], "low": row(0, min(q, top))["p"], "high": row(0, min(r, top))["p"]}
        for t, q, r in zip(cut, np.interp(cut, degrees, below), np.interp(cut, degrees, above), strict=True)
        if q <= top
    ]
    told = pressure_words(estimate, unit, (high - low) / 2)
    along, low_down = (temperature - cold) / (warm - cold), estimate < 0.12 * top
    left = along > (0.3 if low_down else 0.6)
    rows["now"] = [
        row(temperature, estimate, low=row(0, min(low, top))["p"], high=row(0, min(high, top))["p"],
            left=bool(left), below=bool(not (low_down or left)), p_told=told,
            label=f"{volumes:.1f} volumes\n{pressure_words(estimate, unit)}",
            told=f"{volumes:.1f} volumes at {show.temperature_text(temperature)} and {told}",
            t_told=show.temperature_text(temperature), v_told=f"{volumes:.1f} ± {spread * volumes:.1f} volumes")
    ]  # fmt: skip
    limited = [
        {
            "p": limit / GAUGES[unit],
            "under": limit > 0.9 * top,
            "label": f"limit of the vessel, {pressure_words(limit, unit)}",
        }
    ]
    rows["limit"] = limited if limit <= top else []
    rows["ice"] = (
        [{"t": row(point, 0)["t"], "label": f"freezes, {show.temperature_text(point)}"}] if point > cold else []
    )
    return rows


def _below(top: float, at: np.ndarray, p: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The part of a line below the top of the picture, and where it leaves it."""
    inside = p <= top
    if inside.all() or not inside.any():
        return at[inside], p[inside]
    return np.append(at[inside], np.interp(top, p, at)), np.append(p[inside], top)


def _start(v: float, degrees: np.ndarray, least: np.ndarray) -> np.ndarray:
    """Temperatures of a line: from where the drink keeps `v` without pressure, or the coldest."""
    if v < least[-1]:
        return degrees[:0]
    above = degrees[least < v]
    if len(above) == len(degrees):
        return above
    return np.append(np.interp(-v, -least, degrees), above)


def uptake_rows(run: carbonation.Uptake, done: tuple[float, float, float], method: str) -> dict[str, list]:
    """Rows of the right panel.

    Parameters
    ----------
    run : carbonation.Uptake
        Over the time of the axis, see `clock`.
    done : (estimate, quick, slow)
        When it is done. [min]
    method : {"rest", "shaken"}
    """
    _, minutes, end = CLOCKS[method]
    top = next(t for t in LEVELS if 1.05 * run.end <= t or t == LEVELS[-1])
    columns = np.round([run.minutes / minutes, run.volumes, run.low, run.high], 3)
    rows = [dict(zip(("s", "v", "low", "high"), row, strict=True)) for row in columns.T.tolist()]
    at = done[0]
    level = float(np.interp(at, run.minutes, run.volumes))
    usual = time_words(at)
    return {
        "clock": [{"s": 0, "v": 0}, {"s": end, "v": top}],
        "uptake": rows,
        "end": [{"v": round(run.end, 3), "label": f"ends at\n{run.end:.1f}", "told": f"ends at {run.end:.1f} volumes"}],
        "done": [{"s": round(at / minutes, 3), "v": round(level, 3), "label": f"{usual}\n({span_words(done[1:])})",
                  "told": f"after {usual}, or {span_words(done[1:])}"}],
    }  # fmt: skip


def clock(method: str) -> np.ndarray:
    """Times of the right panel, closer together at first. [min]"""
    _, minutes, end = CLOCKS[method]
    return minutes * end * np.linspace(0, 1, 22) ** 1.5


def pressure_parts(kpa: float, unit: str, around: float | None = None) -> tuple[str, str, str]:
    """A gauge pressure in pieces: number, "± spread" (or "") and unit, rounded alike.

    >>> pressure_parts(82.7, "psi", 15)
    ('12', '± 2', 'psi')
    """
    digits = 1 if unit == "bar" else 0
    spread = "" if around is None else f"± {max(around / GAUGES[unit], 10.0**-digits):.{digits}f}"
    return f"{kpa / GAUGES[unit] + 0:.{digits}f}", spread, unit


def pressure_words(kpa: float, unit: str, around: float | None = None) -> str:
    """The same in one piece.

    >>> pressure_words(82.7, "psi", 15), pressure_words(82.7, "bar")
    ('12 ± 2 psi', '0.8 bar')
    """
    return " ".join(part for part in pressure_parts(kpa, unit, around) if part)


def cartridge_words(count: int) -> str:
    """So many cartridges.

    >>> cartridge_words(1), cartridge_words(2)
    ('1 cartridge', '2 cartridges')
    """
    return "1 cartridge" if count == 1 else f"{count} cartridges"


def vessel_words(ml: float, show: Display) -> str:
    """A volume that may be a kegful.

    >>> vessel_words(19000, Display()), vessel_words(500, Display("oz"))
    ('19 L', '17 oz')
    """
    if show.volume == "oz":
        return f"{ml / show.ml:.0f} oz"
    return f"{ml / 1000:.3g} L" if ml >= 2000 else show.volume_text(ml)


def _counted(minutes: float) -> tuple[float, str]:
    for most, size, word in ((100, 1, "min"), (2880, 60, "hours")):
        if minutes < most:
            return minutes / size, word
    return minutes / 1440, "days"


def time_words(minutes: float) -> str:
    """A time in the unit that suits it.

    >>> time_words(4.3), time_words(300), time_words(12447)
    ('4.3 min', '5 hours', '9 days')
    """
    number, word = _counted(minutes)
    return f"{number:.{int(number < 5 and number != round(number))}f} {word}"


def span_words(ends: tuple[float, float]) -> str:
    """From the quick to the slow end, in one unit where they share it.

    >>> span_words((6220, 24890)), span_words((40, 400))
    ('4.3 to 17 days', '40 min to 7 hours')
    """
    quick, slow = map(time_words, ends)
    return f"{quick.removesuffix(' ' + slow.split(' ')[1])} to {slow}"
