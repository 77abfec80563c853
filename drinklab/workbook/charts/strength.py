"""A spirit let down with water: what adding up volumes says, and what one gets."""

from __future__ import annotations

import math

import numpy as np

from ... import strength
from ...display import Display
from ...facts import rounded
from . import alt
from .look import BLUE, QUIET, RED, dot, named, room, unseen, with_rows, words_on

_WIDE, _HIGH, _POINTS = 250, 200, 41


def let_down_chart(unit: str = "mL") -> alt.ConcatChart:
    """Strength near the mark, and volume that goes missing, against water added: named data, filled by `let_down_rows`.

    Parameters
    ----------
    unit : {"mL", "oz"}
        Of the volumes in the rows.
    """
    chart = alt.ConcatChart(
        concat=[_near_the_mark(unit), _missing(unit)],
        spacing=18,
        description=f"Two charts side by side against the water added in {unit}. Left: the strength near the one "
        "wanted, once as adding up volumes says and once as it is; the lines meet the wanted strength at different "
        "amounts of water. Right: the volume that is missing when spirit and water are poured together; a dot marks "
        "the water to add.",
    )
    return with_rows(chart, chart.description, ("near", "lines", "mark", "ends", "frame", "curve", "now"))


def _x(unit: str) -> alt.X:
    return alt.X("water:Q", scale=alt.Scale(nice=False, zero=False), title=f"Water added [{unit}]",
                 axis=alt.Axis(tickCount=4))  # fmt: skip


def _near_the_mark(unit: str) -> alt.LayerChart:
    x = _x(unit)
    y = alt.Y("abv:Q", scale=alt.Scale(nice=False, zero=False), title="Strength [% vol]", axis=alt.Axis(minExtent=28))
    colour = alt.Color("of:N", scale=alt.Scale(domain=["real", "sum"], range=[BLUE, RED]), legend=None)
    dash = alt.StrokeDash("of:N", scale=alt.Scale(domain=["real", "sum"], range=[[1, 0], [5, 4]]), legend=None)
    lines = named("lines").mark_line(strokeWidth=2.2, clip=True, aria=False).encode(
        x=x, y=y, color=colour, strokeDash=dash, detail="of:N"
    )  # fmt: skip
    mark = named("mark").mark_rule(color=QUIET, strokeDash=[2, 3]).encode(y=y, description="told:N")
    above = named("mark").mark_text(align="right", color=QUIET, aria=False)
    above = above.encode(x=alt.value(_WIDE), y=alt.value(-9), text="label:N")
    ends = named("ends")
    spots = ends.mark_point(filled=True, size=90, opacity=1, stroke="white", strokeWidth=1.5).encode(
        x=x, y=y, color=colour, description="told:N", tooltip=alt.Tooltip("told:N", title="Water")
    )  # fmt: skip
    # The one to the left has its words above it on the left side, the other below on the right.
    names = words_on(ends, align=alt.expr("datum.place"), dx=alt.expr("datum.place == 'left' ? 8 : -8"),
                     dy=alt.expr("datum.up ? -14 : 15"))  # fmt: skip
    words = [layer.encode(x=x, y=y, color=colour) if at else layer.encode(x=x, y=y) for at, layer in enumerate(names)]
    ground = room(-48, _WIDE + 8, -18, _HIGH + 40)
    layers = [ground, unseen("near", x=x, y=y), mark, above, lines, spots, *words]
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def _missing(unit: str) -> alt.LayerChart:
    x = _x(unit)
    y = alt.Y("missing:Q", scale=alt.Scale(nice=False), title=f"Missing of the sum [{unit}]",
              axis=alt.Axis(minExtent=28))  # fmt: skip
    line = named("curve").mark_line(color=BLUE, strokeWidth=2.4, interpolate="monotone").encode(x=x, y=y)
    now = named("now")
    spot = dot(now).encode(x=x, y=y, tooltip=alt.Tooltip("told:N", title="Here"), description="told:N")
    above = now.mark_text(fontWeight="bold", align=alt.expr("datum.place"), aria=False)
    above = above.encode(x=x, y=alt.value(-9), text="label:N")
    ground = room(-48, _WIDE + 30, -18, _HIGH + 40)
    layers = [ground, unseen("frame", x=x, y=y), line, spot, above]
    return alt.LayerChart(layer=layers, width=_WIDE, height=_HIGH)


def let_down_rows(volume: float, abv: float, target: float, found: strength.LetDown, show: Display) -> dict[str, list]:
    """Rows of `let_down_chart` for a spirit of so many mL and % vol, let down to `target`."""
    unit, shown = show.volume, lambda ml: round(float(ml) / show.ml, 4)
    start = strength.spirit(volume, abv)
    # Left: so far around both amounts that they stand apart, whole steps wide.
    apart = max(abs(found.water - found.water_by_volumes), 0.002 * volume)
    step = _tidy(2.5 * apart / show.ml) * show.ml
    middle = round((found.water + found.water_by_volumes) / 2 / (step / 4)) * step / 4
    low, high = max(middle - 2 * step, 0.0), middle + 2 * step
    near = np.linspace(low, high, _POINTS)
    real, added = (_strengths(start, near, of) for of in (False, True))
    lines = [
        {"water": shown(ml), "abv": round(float(a), 4), "of": of}
        for of, way in (("real", real), ("sum", added)) for ml, a in zip(near, way, strict=True)
    ]  # fmt: skip
    less = found.water_by_volumes <= found.water
    ends = [
        _end("sum", found.water_by_volumes, target, "by volumes", less, show),
        _end("real", found.water, target, "really", not less, show),
    ]
    lowest, highest = (float(edge([*real, *added])) for edge in (min, max))
    top = _tidy(1.25 * max(found.water, 0.2 * volume) / show.ml) * show.ml
    way = np.linspace(0, top, _POINTS)
    gone = strength.mixed(start, strength.spirit(1, 0) * way).shrinks
    most = max(_tidy(1.1 * float(np.max(np.abs(gone))) / show.ml), 1e-3)
    missing = shown(found.shrinks)
    gone_or_more = "missing" if found.shrinks >= 0 else "more"
    said = f"{show.volume_text(found.water)} of water: {_volume(abs(found.shrinks), show)} {gone_or_more}"
    return {
        "near": [{"water": shown(low), "abv": round(lowest, 2)}, {"water": shown(high), "abv": round(highest, 2)}],
        "lines": lines,
        "mark": [{"abv": target, "label": f"wanted {target:.4g} % vol", "told": f"wanted, {target:.4g} % vol"}],
        "ends": ends,
        "frame": [{"water": 0.0, "missing": round(-most if gone.min() < 0 else 0.0, 4)},
                  {"water": shown(top), "missing": round(most, 4)}],
        "curve": [{"water": shown(ml), "missing": shown(m)} for ml, m in zip(way, gone, strict=True)],
        "now": [{"water": shown(found.water), "missing": missing, "label": said, "told": f"{said} ({unit})",
                 "place": "left" if found.water < top / 3 else "right" if found.water > top * 2 / 3 else "center"}],
    }  # fmt: skip


def _end(of: str, water: float, target: float, word: str, left: bool, show: Display) -> dict:
    text = f"{word} {show.volume_text(water)}"
    return {"water": round(float(water) / show.ml, 4), "abv": target, "of": of, "label": text, "told": text,
            "place": "right" if left else "left", "up": not left}  # fmt: skip


def _strengths(start, water: np.ndarray, added: bool) -> np.ndarray:
    made = strength.mixed(start, strength.spirit(1, 0) * water)
    return made.by_volumes if added else made.abv


def _volume(ml: float, show: Display) -> str:
    """Small volumes to their first decimal."""
    return f"{rounded(ml / show.ml, 1 if show.volume == 'mL' else 2)} {show.volume}"


def _tidy(value: float) -> float:
    """The next of 1, 2, 5 and their tens, so that the axes do not move with every touch."""
    size = 10.0 ** math.floor(math.log10(value))
    return next(step * size for step in (1, 2, 5, 10) if step * size >= value * (1 - 1e-9))
