"""Wanted figures, and where each proposal stands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ... import profile
from ...display import Display
from ...kinds import VOLUME
from ...reach import FIGURES, Answer
from ...stage import Stage
from . import alt
from .look import (
    INK,
    QUIET,
    named,
    room,
    with_rows,
)

# What to say below and above the band; then top and step of the dial, and of the one for the ±.
AXES = {
    "abv": ("too weak", "too strong", 50, 0.5, 5, 0.1),
    "sugar": ("not sweet enough", "too sweet", 200, 1, 40, 1),
    "acid": ("not sour enough", "too sour", 15, 0.1, 3, 0.1),
    "volume": ("too little", "too much", 300, 5, 30, 1),
}

OUNCES = (10, 0.25, 1, 0.05)  # the same of the volume

SIGN = {True: "✓", False: "✗", None: ""}


def verdict_on(answer: Answer, axis: str, bands: Mapping, show: Display, good: str = "as wanted") -> str:
    """Whether a figure is as wanted, and how far off, in words."""
    if axis not in answer.met:
        return "free"
    if answer.met[axis]:
        return good
    value, (low, high) = getattr(answer.figures, axis), bands[axis]
    number, _, unit = show.parts(profile.KINDS[axis], max(low - value, value - high))
    return f"{AXES[axis][0 if value < low else 1]} by {f'{number} {unit}' if number.strip('0.') else 'a trace'}"


_WIDE, _ROOM = 370, 262  # pixels of an axis, and of the words to its right
_NARROW = 330  # pixels of an axis that stands under its words

_BAND, _MISSED = "#c9d6e2", "#963f0c"


def target_chart() -> alt.VConcatChart:
    """Figures against their bands: one line a figure, each with an axis of its own unit.

    All that is drawn is named data, empty until `target_rows` are put in.
    """
    chart, narrow = (alt.VConcatChart(
        vconcat=[_line(axis, below) for axis in FIGURES], spacing=2,
        description="Strength, sugar, acid and volume of the best answer, each a dot with its plus or minus on an "
        "axis; a pale band shows where it is wanted. Small rings are the other answers.",
        title=alt.TitleParams(
            ["Pale band: wanted. Dot: the best answer, line: its ±.", "Rings: the other answers."] if below else
            "Pale band: wanted. Dot: the best answer, line: its ±. Rings: the other answers.", anchor="start",
            fontSize=11, fontWeight="normal", color=QUIET, dx=0,
        ),
    ) for below in (False, True))  # fmt: skip
    return with_rows(chart, chart.description, ("frame", "band", "dot", "ring"), narrow)


def _line(axis: str, below: bool) -> alt.LayerChart:
    """A figure's axis, `below` its words, or between them."""
    wide, high = (_NARROW, 56) if below else (_WIDE, 22)
    middle = alt.value(44 if below else 11)

    def rows(name: str) -> alt.Chart:
        return named(name).transform_filter(f"datum.axis === '{axis}'")

    scale = alt.Scale(nice=False, zero=False, range=[0, wide])
    x = alt.X("x:Q", scale=scale, title=None, axis=alt.Axis(tickCount=5, domain=False, labelPadding=1, grid=not below))
    seen = room(0, wide, 0, high) if below else room(-112, wide + _ROOM, 0, high)
    frame = rows("frame").mark_point(opacity=0, aria=False, tooltip=None).encode(x=x)
    band = rows("band").mark_rect(color=_BAND, stroke="#4f7396", strokeWidth=1, aria=False)
    band = band.encode(x=x, x2="x2:Q", y=alt.value(high - 22), y2=alt.value(high))
    ring = rows("ring").mark_point(color=QUIET, size=34, strokeWidth=1.2, opacity=0.8)
    ring = ring.encode(x=x, y=middle, tooltip=alt.Tooltip("told:N", title="Other answer"), description="told:N")
    dot = rows("dot")
    colour = alt.condition("datum.missed", alt.value(_MISSED), alt.value(INK))
    around = dot.mark_rule(strokeWidth=2, aria=False).encode(
        x=alt.X("low:Q", scale=scale), x2="high:Q", y=middle, color=colour
    )
    point = dot.mark_point(filled=True, opacity=1, size=120, stroke="white", strokeWidth=1.2).encode(
        x=x, y=middle, color=colour, description="told:N", tooltip=alt.Tooltip("told:N", title="Best answer"),
        shape=alt.condition("datum.missed", alt.value("diamond"), alt.value("circle")),
    )  # fmt: skip
    word = {"aria": False, "baseline": "middle", "fontSize": 12}
    name = dot.mark_text(align="left" if below else "right", **word).encode(
        x=alt.value(0 if below else -10), y=alt.value(6 if below else 11), text="name:N"
    )
    said = dot.mark_text(align="left", fontWeight="bold", **word).encode(
        x=alt.value(0 if below else wide + 12), y=alt.value(22 if below else 11), text="said:N", color=colour
    )
    layers = [seen, frame, band, around, ring, point, name, said]
    return alt.LayerChart(layer=layers, width=wide if below else wide + _ROOM, height=high)


def target_rows(found: Sequence[Answer], stage: Stage, bands: Mapping, show: Display) -> dict[str, list]:
    """Rows of `target_chart`.

    Parameters
    ----------
    found : sequence of Answer
        The best first.
    stage : Stage
        The best once more, with its uncertainty.
    bands : mapping
        Figure -> (low, high) where it is wanted; volume in mL.
    show : Display
    """
    rows: dict[str, list] = {name: [] for name in ("frame", "band", "dot", "ring")}
    for axis in FIGURES:
        kind = profile.KINDS[axis]
        unit = show.ml if kind is VOLUME else 1.0
        ends = [getattr(part, axis) / unit for part in (stage.low, stage.high)]
        values = [getattr(answer.figures, axis) / unit for answer in found]
        band = [end / unit for end in bands.get(axis, ())]
        # The axis moves in steps, not with every touch; a far ring is held at its end.
        far = 1.02 * max(values[0], ends[1], *band)
        size = 10 ** math.floor(math.log10(far)) if far else 1
        step, least = {"abv": (20, 40), "sugar": (50, 150), "acid": (5, 10)}.get(axis, (size / 2, size))
        top = max(least, math.ceil(far / step) * step)
        rows["frame"] += [{"axis": axis, "x": 0.0}, {"axis": axis, "x": float(top)}]
        if band:
            rows["band"].append({"axis": axis, "x": round(band[0], 3), "x2": round(band[1], 3)})
        told = [show.text(kind, getattr(answer.figures, axis)) for answer in found]
        said = verdict_on(found[0], axis, bands, show)
        title = f"{profile.TITLES[axis]} [{show.volume if kind is VOLUME else kind.label}]"
        rows["dot"].append({
            "axis": axis, "x": round(values[0], 3), "low": round(ends[0], 3), "high": round(ends[1], 3),
            "missed": found[0].met.get(axis) is False, "name": title,
            "said": f"{told[0]}, {said}", "told": f"{profile.TITLES[axis]} {told[0]}, {said}",
        })  # fmt: skip
        rows["ring"] += [
            {"axis": axis, "x": round(min(value, top), 3), "told": f"{profile.TITLES[axis]} {text}"}
            for value, text in zip(values[1:], told[1:], strict=True)
        ]
    return rows
