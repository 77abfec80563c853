"""Pictures for tuning a drink: what moves it most, a plane of two amounts."""

from __future__ import annotations

import math

import numpy as np

from ... import profile
from ...display import Display
from ...whatif import Effect, Sweep
from . import alt
from .look import (
    BLUE,
    DARK,
    INK,
    QUIET,
    axis_names,
    heading,
    named,
    room,
    unseen,
    with_rows,
    words_on,
)

MOST = 10  # things in the picture of what moves a drink most
_PALE, _BAND = "#b9d2f3", "#34a872"


# --- what moves it most ---------------------------------------------------------------------------------

_COLUMN = 128  # pixels of a figure's panel
_STEP = 30  # pixels of a line


def effects_chart() -> alt.HConcatChart:
    """What moves a drink most: one line a thing, largest first; one column a figure.

    A strong bar is the change by one step more, a faint one by one step less. All that is drawn is named data,
    empty until `effect_rows` are put in: `"effects"`, and `"frame"`, which sets how far the axes reach.
    """
    ranks = alt.Scale(type="band", domain=list(range(MOST)), paddingInner=0.3, paddingOuter=0.1)
    line = named("effects").encode(
        y=alt.Y("rank:O", axis=None, scale=ranks),
        description=alt.Description("told:N"),
        tooltip=[
            alt.Tooltip(f"{field}:N", title=title)
            for field, title in (
                ("name", "What"), ("how", "One step"), *((f"{a}_told", profile.TITLES[a]) for a in profile.AXES),
                ("distance_label", "Distance among the classics"),
            )
        ],
    )  # fmt: skip
    high = MOST * _STEP
    name = line.mark_text(align="left", aria=False, dy=-6, limit=230).encode(x=alt.value(0), text="name:N")
    how = line.mark_text(align="left", aria=False, color=QUIET, dy=8, limit=230).encode(x=alt.value(0), text="how:N")

    def heads(above: float) -> list[alt.Chart]:
        return [
            heading(text, at, above, color=ink, fontSize=12, fontWeight="bold")
            for text, ink, at in (("strong: one step more", DARK, 0), ("faint: one less", "#5b82b8", 140))
        ]

    left = alt.layer(room(0, 232, -26, high), name, how, *heads(-16)).properties(width=232, height=alt.Step(_STEP))

    def bars(wide: int, short: int, over: bool) -> list[alt.LayerChart]:
        """The distance on `short` pixels, then each figure on `wide`; `over` them there is room for words."""
        return [
            _bars(line, "distance", short, over, ("Moves it by",), [("distance", QUIET)], "distance"),
            *(_bars(line, axis, wide, over, (profile.TITLES[axis], f"[{profile.KINDS[axis].label}]"),
                    [(f"{axis}_less", _PALE), (f"{axis}_more", DARK)], f"{axis}_more")
              for axis in profile.AXES),
        ]  # fmt: skip

    chart = alt.HConcatChart(hconcat=[left, *bars(_COLUMN, 74, False)], spacing=8)
    first, *others = bars(82, 66, True)
    said = line.mark_text(align="left", aria=False, dy=-14, limit=350)
    said = said.encode(x=alt.value(0), text="name_and_how:N")
    first = alt.layer(*first.layer, said, *heads(-52)).properties(width=first.width, height=first.height)
    narrow = alt.HConcatChart(hconcat=[first, *others], spacing=12, bounds="flush")
    return with_rows(
        chart,
        "What moves the drink most, one line a thing, largest first. Bars to the right raise strength, sugar or acid, "
        "bars to the left lower it; strong for one step more, faint for one step less.",
        {"effects": [], "frame": []}, narrow,
    )  # fmt: skip


def _bars(line: alt.Chart, name: str, wide: int, over: bool, title: tuple[str, ...], bars, labelled: str):
    # No ticks: the figures stand beside the bars.
    axis = alt.Axis(
        orient="top", title=list(title) if over else " ".join(title), titleAnchor="start", labels=False, grid=False,
        domain=False, ticks=False,
    )  # fmt: skip
    step, share, down = (1.7 * _STEP, 0.36, 8) if over else (_STEP, 0.62, 0)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=alt.Scale(nice=False), axis=axis)

    frame = unseen("frame", x=x(f"{name}_to"))
    zero = line.mark_tick(orient="vertical", color=QUIET, thickness=1, size=step - 2.6 * down, yOffset=down, aria=False)
    zero = zero.encode(x=alt.datum(0))
    marks = [line.mark_bar(color=colour, height={"band": share}, yOffset=down).encode(x=x(field), x2=alt.datum(0))
             for field, colour in bars]  # fmt: skip
    right = f"datum.{labelled} >= 0"
    label = line.mark_text(
        aria=False, align=alt.expr(f"{right} ? 'left' : 'right'"), dx=alt.expr(f"{right} ? 4 : -4"), dy=down
    ).encode(x=x(labelled), text=f"{name}_label:N")
    return alt.layer(room(0, wide, -26, MOST * step), frame, *marks, zero, label).properties(
        width=wide, height=alt.Step(step)
    )


def nice_top(value: float) -> float:
    """A round number from `value` up, so that an axis moves in steps and not with every touch.

    >>> nice_top(0.6), nice_top(31)
    (0.7, 50.0)
    """
    power = 10.0 ** math.floor(math.log10(max(value, 1e-3)))
    return next(n * power for n in (1, 1.5, 2, 3, 5, 7, 10) if n * power >= 0.999 * value)


def effect_rows(effects: tuple[Effect, ...], show: Display) -> dict[str, list]:
    """Rows of `effects_chart`: the first `MOST` of what `whatif.sensitivity` found."""
    rows = []
    for rank, effect in enumerate(effects[:MOST]):
        row = {"rank": rank, **dict(zip(("name", "how"), effect_words(effect, show), strict=True))}
        row["name_and_how"] = f"{row['name']}: {row['how']}"
        row |= {"distance": round(effect.distance, 3), "distance_label": f"{effect.distance:.2f}"}
        for axis in profile.AXES:
            kind, more = profile.KINDS[axis], effect.more[axis]
            less = effect.less[axis] if effect.less else None
            said = show.parts(kind, more, signed=True)[0]
            row[f"{axis}_more"], row[f"{axis}_less"] = round(more, 3), None if less is None else round(less, 3)
            # Nothing is written where nothing to speak of happens.
            row[f"{axis}_label"] = said if said[0] in "+−" else ""
            row[f"{axis}_told"] = f"{show.text(kind, more, signed=True)} for one more"
            if less is not None:
                row[f"{axis}_told"] += f", {show.text(kind, less, signed=True)} for one less"
        row["told"] = f"{row['name']}, {row['how']}: " + "; ".join(
            f"{profile.WORDS[a]} {row[f'{a}_told']}" for a in profile.AXES
        )
        rows.append(row)
    # Room for the figures at the ends of the bars.
    ends = {f"{a}_to": 1.9 * nice_top(max(abs(r[f"{a}_{s}"] or 0) for r in rows for s in ("more", "less")))
            for a in profile.AXES}  # fmt: skip
    frame = [ends | {"distance_to": 1.6 * nice_top(max(r["distance"] for r in rows))},
             {name: -end for name, end in ends.items()} | {"distance_to": 0.0}]  # fmt: skip
    return {"effects": rows, "frame": frame}


def effect_words(effect: Effect, show: Display) -> tuple[str, str]:
    """What is moved, and by how much, in few words."""
    way = "±" if effect.less else "+"
    if effect.source == "pour":
        step = show.volume_text(effect.step) if effect.unit == "mL" else f"{effect.step:.1f} {effect.unit}"
        return _short(effect.name), f"{way} {step} poured"
    if effect.source == "melt water":
        return "melt water", f"{way} {100 * effect.step:.1f} % of the drink before ice"
    figure, _, name = effect.name.partition(" of ")
    return _short(name), f"its {figure} {way} {effect.step:.3g} {effect.unit}, as {_VARIES[effect.source]}"


_VARIES = {"bottle": "bottles differ", "fruit": "fruit differs"}


def _short(name: str) -> str:
    """Without what stands in brackets, where that is needed to fit."""
    return name.split(" (")[0] if len(name) > 40 else name


# --- a plane of two amounts --------------------------------------------------------------------------------

_WIDE, _HIGH = 560, 380
_EVERY = 3  # lines are followed on every third point of the grid
_LINES = 7  # about so many


def plane_chart() -> alt.LayerChart:
    """One figure of a drink over two of its amounts, as lines of equal value.

    Shaded is what lies inside a band, grey what cannot be made. All that is drawn is named data, empty until
    `plane_rows` are put in: `"frame"` sets how far the axes reach.
    """

    def at(name: str, **more) -> alt.Chart:
        return alt.Chart(alt.NamedData(name), **more).encode(x=_across("x"), y=_up("y"))

    frame = at("frame").mark_point(opacity=0, aria=False, tooltip=None)
    areas = [
        named(name)
        .mark_area(orient="horizontal", color=colour, opacity=opacity, aria=False)
        .encode(x=_across("x"), x2="x2:Q", y=_up("y"), detail="part:N")
        for name, colour, opacity in (("inside", _BAND, 0.22), ("solid", QUIET, 0.45))
    ]
    lines = at("lines").mark_rule(color=BLUE, strokeWidth=1.5, strokeCap="round", aria=False)
    lines = lines.encode(x2="x2:Q", y2="y2:Q")
    values = words_on(at("values"), "label", 7, color=DARK, fontWeight="bold")
    written = at("written").mark_point(size=150, color=INK, strokeWidth=1.4, opacity=1, fill="transparent")
    written = written.encode(tooltip=alt.Tooltip("told:N", title="As chosen"))
    now = at("now")
    dot = now.mark_point(filled=True, size=120, color=INK, opacity=1, stroke="white", strokeWidth=1.6)
    dot = dot.encode(tooltip=alt.Tooltip("told:N", title="As the dials stand"), description=alt.Description("told:N"))
    look = {"fontSize": 13, "fontWeight": "bold", "align": alt.expr("datum.right ? 'right' : 'left'")}
    look |= {"dx": alt.expr("datum.right ? -11 : 11"), "dy": alt.expr("datum.low ? -11 : 12")}
    said = words_on(now, "label", **look)
    titles = named("titles")
    around = [
        *axis_names(titles, _WIDE, _HIGH, 44),
        titles.mark_text(aria=False, align="left", color=DARK, fontWeight="bold", fontSize=12).encode(
            x=alt.value(0), y=alt.value(-12), text="lines:N"
        ),
        titles.mark_text(aria=False, align="right", color="#1f7a50", fontWeight="bold", fontSize=12).encode(
            x=alt.value(_WIDE), y=alt.value(-12), text="shaded:N"
        ),
    ]
    ground = room(-56, "width + 14", -22, _HIGH + 42)
    layers = [ground, frame, *areas, lines, *values, written, dot, *said, *around]
    return with_rows(
        alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH),
        "One figure of the drink over two of its amounts, drawn as lines of equal value. Shaded: inside the band in "
        "strength, sugar and acid. Grey: the sugar does not dissolve. A dot marks the drink as the dials stand, a ring "
        "the drink as chosen; the figures stand in words beside the picture.",
        {name: [] for name in ("frame", "inside", "solid", "lines", "values", "written", "now", "titles")},
    )


def _across(field: str) -> alt.X:
    return alt.X(f"{field}:Q", scale=alt.Scale(nice=False, zero=False), title=None)


def _up(field: str) -> alt.Y:
    return alt.Y(f"{field}:Q", scale=alt.Scale(nice=False, zero=False), title=None)


def plane_rows(grid: Sweep, figure: str, measures, now, written, value: float, band: str, show: Display) -> dict:
    """Rows of `plane_chart`.

    Parameters
    ----------
    grid : whatif.Sweep
    figure : {"abv", "sugar", "acid"}
        What the lines show.
    measures : two of (unit, mL in one)
        How the two pours are measured.
    now, written : (amount, amount)
        Of the drink as the dials stand and as it was chosen. [mL]
    value : float
        The figure of the drink as the dials stand.
    band : str
        What the limits of `grid` are called.
    """
    (x_unit, x_ml), (y_unit, y_ml) = measures
    x, y = grid.first_amounts / x_ml, grid.second_amounts / y_ml
    kind, table = profile.KINDS[figure], getattr(grid.profile, figure)
    thin = slice(None, None, _EVERY)
    size = np.array([x[-1] - x[0], y[-1] - y[0]])
    lines, values, taken = [], [], [(np.divide(at, (x_ml, y_ml)) - (x[0], y[0])) / size for at in (now, written)]
    words_right = taken[0][0] <= 0.75
    taken.append(taken[0] + (0.09 if words_right else -0.09, 0.03 if taken[0][1] < 0.12 else -0.04))
    for level in nice_levels(table):
        found = contour(x[thin], y[thin], table[thin, thin], level)
        lines += [dict(zip(("x", "y", "x2", "y2"), row, strict=True)) for row in np.round(found, 3).tolist()]
        middles = (found[:, :2] + found[:, 2:]) / 2
        place = _free((middles - (x[0], y[0])) / size, taken)
        if place is not None:
            taken.append((middles[place] - (x[0], y[0])) / size)
            values.append({"x": round(middles[place][0], 3), "y": round(middles[place][1], 3), "label": f"{level:g}"})

    def point(amounts) -> dict:
        at = amounts[0] / x_ml, amounts[1] / y_ml
        told = f"{at[0]:.3g} {x_unit} {grid.first}, {at[1]:.3g} {y_unit} {grid.second}"
        return {"x": round(at[0], 3), "y": round(at[1], 3), "told": told}

    across, up = taken[0]
    here = point(now) | {"label": show.text(kind, value), "right": bool(across > 0.75), "low": bool(up < 0.12)}
    here["told"] += f": {profile.WORDS[figure]} {here['label']}"
    titles = {
        "across": f"{grid.first} [{x_unit}]", "up": f"{grid.second} [{y_unit}]",
        "lines": f"Lines: {profile.WORDS[figure]} as served [{kind.label}]",
        "shaded": f"{'Shaded:' if grid.inside.any() else 'Nothing here is'} inside the band, {band}",
    }  # fmt: skip
    return {
        "frame": [{"x": float(x[0]), "y": float(y[0])}, {"x": float(x[-1]), "y": float(y[-1])}],
        "inside": region(x, y, _margin(grid)),
        "solid": region(x, y, np.where(grid.dissolved, -1.0, 1.0)),
        "lines": lines, "values": values, "written": [point(written)], "now": [here], "titles": [titles],
    }  # fmt: skip


def nice_levels(table: np.ndarray) -> list[float]:
    """Round values inside the range of a figure, about seven.

    >>> nice_levels(np.array([3.0, 61.0]))
    [10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    """
    low, high = float(table.min()), float(table.max())
    if high - low < 1e-6:  # less is rounding
        return []
    step = (high - low) / _LINES
    power = 10.0 ** math.floor(math.log10(step))
    step = min((n * power for n in (1, 2, 2.5, 5, 10)), key=lambda n: abs(math.log(n / step)))
    return [round(k * step, 6) for k in range(math.floor(low / step) + 1, math.ceil(high / step))]


def contour(x: np.ndarray, y: np.ndarray, table: np.ndarray, level: float) -> np.ndarray:
    """Pieces of the line on which a table has this value, by straight lines between its points.

    Parameters
    ----------
    x, y : array
        Of the columns and of the rows.
    table : array, shape (y, x)
    level : float

    Returns
    -------
    array, shape (pieces, 4)
        x and y of one end and of the other.

    Examples
    --------
    >>> contour(np.array([0.0, 1]), np.array([0.0, 1]), np.array([[0.0, 1], [0, 1]]), 0.25).tolist()
    [[0.25, 0.0, 0.25, 1.0]]
    """
    above, (wide, high) = table >= level, np.meshgrid(x, y)
    first, second = slice(None, -1), slice(1, None)
    corners = [(first, first), (first, second), (second, second), (second, first)]  # of each cell, round it
    crossed, points = [], []
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        crossed.append(above[a] != above[b])
        share = np.divide(level - table[a], table[b] - table[a], out=np.zeros(above[a].shape), where=crossed[-1])
        points.append([wide[a] + share * (wide[b] - wide[a]), high[a] + share * (high[b] - high[a])])
    crossed, points = np.array(crossed), np.array(points)  # (side, row, column), (side, x or y, row, column)
    # A line leaves a cell by another side than it came; by two and two where it meets itself.
    order = np.argsort(~crossed, axis=0, kind="stable")
    pieces = []
    for pair in (slice(0, 2), slice(2, 4)):
        both = np.take_along_axis(crossed, order[pair], axis=0).all(axis=0)
        ends = np.take_along_axis(points, order[pair, None], axis=0)[..., both]
        pieces.append(ends.reshape(4, -1).T)
    return np.concatenate(pieces)


def _margin(grid: Sweep) -> np.ndarray:
    """How far inside the band each point is, below 0 outside."""
    sides = [
        np.minimum(getattr(grid.profile, f) - low, high - getattr(grid.profile, f)) / (high - low)
        for f, (low, high) in grid.band.items()
    ]
    return np.min(sides, axis=0)


def region(x: np.ndarray, y: np.ndarray, margin: np.ndarray) -> list[dict]:
    """Where `margin` is 0 or more, row by row: rows x, x2, y, and the part that they make up together."""
    rows, parts, last, count = [], {}, {}, 0
    for r, line in enumerate(margin):
        turns = np.flatnonzero(np.diff(np.r_[False, line >= 0, False]))
        for k, (start, stop) in enumerate(zip(turns[::2], turns[1::2] - 1, strict=True)):
            if last.get(k) != r - 1:  # nothing in the row before to go on from
                parts[k], count = count, count + 1
            last[k] = r
            ends = _edge(x, line, start, start - 1), _edge(x, line, stop, stop + 1)
            rows.append({"x": round(ends[0], 3), "x2": round(ends[1], 3), "y": round(float(y[r]), 3), "part": parts[k]})
    return rows


def _edge(x: np.ndarray, line: np.ndarray, inside: int, outside: int) -> float:
    if not 0 <= outside < len(x):
        return float(x[inside])
    share = line[inside] / (line[inside] - line[outside])
    return float(x[inside] + share * (x[outside] - x[inside]))


def _free(points: np.ndarray, taken: list) -> int | None:
    """Which of the points is a good place for words: near the others' row of them, clear of what is there."""
    if not len(points):
        return None
    clear = np.min([np.hypot(*(points - t).T) for t in taken], axis=0)
    edge = np.minimum(points, 1 - points).min(axis=1)
    wanted = np.abs(points[:, 0] - points[:, 1])  # along the rising diagonal
    best = np.argmin(wanted + 10 * (clear < 0.09) + 10 * (edge < 0.05))
    return int(best) if clear[best] >= 0.06 and edge[best] >= 0.03 else None
