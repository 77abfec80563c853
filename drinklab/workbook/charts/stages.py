"""A drink from stage to stage: strength, volume and what dissolves."""

from __future__ import annotations

import math

import altair as alt

from ...errors import InputError, require
from .live import plain_rows
from .look import INK, QUIET, _said
from .place import _Measure, _side_by_side


def stage_chart(stages, abv_top: float | None = None, volume_top: float | None = None) -> alt.HConcatChart:
    """A drink stage by stage, top to bottom: strength falls while volume grows.

    One line a stage: a dot for strength with its uncertainty, a bar for volume whose dark
    part is the alcohol in it, and the sugar and acid in figures. The rows are named data,
    `"stages"`; there may be more or fewer of them later.

    Parameters
    ----------
    stages : list of dicts or DataFrame
        In order: `stage` (its name), `abv` [% vol], `volume` [mL], `sugar` [g/L],
        `acid` [g/L], and if known `abv_low`, `abv_high` [% vol].
    abv_top, volume_top : float, optional
        How far the axes reach [% vol], [mL]; by default with room above the rows given.
        What lies beyond is held at the edge, and its figure is written out.

    Returns
    -------
    altair.HConcatChart

    Raises
    ------
    InputError
        If a stage has no name, or a figure is missing or out of range.
    """
    rows = plain_rows("stages", stages)
    for number, row in enumerate(rows, 1):
        if not isinstance(row.get("stage"), str) or not row["stage"].strip():
            raise InputError("stage", row.get("stage"), "a name", f"stage {number}")
        for name, high, unit in (
            ("abv", 100, "% vol"), ("volume", math.inf, "mL"), ("sugar", 1000, "g/L"), ("acid", 200, "g/L"),
        ):  # fmt: skip
            value = row.get(name)
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise InputError(name, value, f"a number of {unit}", row["stage"])
            require(name, value, 0, high, unit, row["stage"])
    highest = max((max(row["abv"], row.get("abv_high") or 0) for row in rows), default=0)
    largest = max((row["volume"] for row in rows), default=0)
    round_to = 10 ** math.floor(math.log10(largest)) / 2 if largest > 0 else 50
    abv_top = abv_top or max(20, math.ceil(highest / 10) * 10)
    volume_top = volume_top or max(50, math.ceil(1.05 * largest / round_to) * round_to)
    abv = _Measure("abv", *_said("abv"), abv_top, ".1f")
    volume = _Measure("volume", *_said("volume"), volume_top, ",.0f")
    sugar, acid = _Measure("sugar", *_said("sugar"), 1000, ",.0f"), _Measure("acid", *_said("acid"), 200, ".1f")

    held = {
        "abv_at": abv.held("abv"),
        "low": f"isNumber(datum.abv_low) ? {abv.held('abv_low')} : datum.abv_at",
        "high": f"isNumber(datum.abv_high) ? {abv.held('abv_high')} : datum.abv_at",
        "volume_at": volume.held("volume"),
        "alcohol": "datum.volume * datum.abv / 100",
        "alcohol_at": f"min(datum.alcohol, {volume.top:g})",
        "alcohol_shown": "format(datum.alcohol, ',.1f') + ' mL'",
        "range_shown": "isNumber(datum.abv_low) && isNumber(datum.abv_high)"
        " ? format(datum.abv_low, '.1f') + ' to ' + format(datum.abv_high, '.1f') + ' % vol' : 'not known'",
    } | {f"{m.field}_shown": m.shown() for m in (abv, volume, sugar, acid)}
    held["told"] = "datum.stage" + "".join(
        f" + ', {m.word.lower()} ' + datum.{m.field}_shown" for m in (abv, volume, sugar, acid)
    )
    held["abv_said"] = f"datum.abv_shown + ({abv.beyond('abv')} ? ' ▸' : '')"
    held["volume_said"] = f"datum.volume_shown + ({volume.beyond('volume')} ? ' ▸' : '')"
    line = (
        alt.Chart(alt.NamedData("stages"))
        .transform_window(order="row_number()")
        .transform_calculate(**held)
        .encode(
            description=alt.Description("told:N"),
            y=alt.Y("order:O", axis=None, scale=alt.Scale(type="band", paddingInner=0.25, paddingOuter=0.2)),
            tooltip=[
                alt.Tooltip(f"{field}:N", title=title)
                for field, title in (
                    ("stage", "Stage"), ("abv_shown", "Strength"), ("range_shown", "Likely between"),
                    ("volume_shown", "Volume"), ("alcohol_shown", "Alcohol in it"),
                    ("sugar_shown", "Sugar"), ("acid_shown", "Acid"),
                )
            ],
        )
    )  # fmt: skip
    # Each measure is drawn over `reach` pixels; the rest of its column is room for the figure.
    reach, column_wide = 140, 208

    def scale(measure: _Measure, field: str) -> alt.X:
        axis = alt.Axis(orient="top", tickCount=4, title=measure.title, titleAnchor="start", domain=False,
                        ticks=False)  # fmt: skip
        spread = alt.Scale(domain=[0, measure.top], nice=False, range=[0, reach])
        return alt.X(f"{field}:Q", scale=spread, axis=axis)

    def words(text: str, title: str, wide: int, align: str, **mark) -> alt.LayerChart:
        spot = alt.value(0 if align == "left" else wide)
        heading = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_text(
            align=align, aria=False, fontSize=12, text=title
        )
        return alt.layer(
            line.mark_text(align=align, aria=False, limit=wide, **mark).encode(x=spot, text=f"{text}:N"),
            heading.encode(x=spot, y=alt.value(-27)),
        ).properties(width=wide, height=step)

    step, pale, dark = alt.Step(30), "#c9d6e2", "#4f7396"
    strength = alt.layer(
        line.mark_line(color=QUIET, strokeWidth=1, strokeDash=[2, 3], aria=False).encode(
            x=scale(abv, "abv_at"), order="order:Q"
        ),
        line.mark_rule(color=QUIET, strokeWidth=11, strokeOpacity=0.35, aria=False).encode(
            x=scale(abv, "low"), x2="high:Q"
        ),
        line.mark_point(filled=True, color=INK, size=30, opacity=1).encode(x=scale(abv, "abv_at")),
        line.mark_text(align="left", aria=False, dx=7, fontWeight="bold").encode(
            x=scale(abv, "high"), text="abv_said:N"
        ),
    ).properties(width=column_wide, height=step)
    amount = alt.layer(
        line.mark_bar(color=pale, aria=False).encode(x=scale(volume, "volume_at")),
        line.mark_bar(color=dark, aria=False).encode(x=scale(volume, "alcohol_at")),
        line.mark_text(align="left", aria=False, dx=6, fontWeight="bold").encode(
            x=scale(volume, "volume_at"), text="volume_said:N"
        ),
        alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_text(
            align="left", color=dark, fontWeight="bold", text="dark: the alcohol in it"
        ).encode(x=alt.value(86), y=alt.value(-27)),
    ).properties(width=column_wide, height=step)  # fmt: skip
    columns = [
        words("stage", "Stage", 150, "left", fontSize=12),
        strength,
        amount,
        words("sugar_shown", "Sugar", 52, "right"),
        words("acid_shown", "Acid", 60, "right"),
    ]
    return _side_by_side(columns, 10, _stage_description(rows), {"stages": rows})


def _stage_description(rows) -> str:
    said = "; ".join(
        f"{row['stage']}, {row['abv']:.1f} % vol, {row['volume']:,.0f} mL, sugar {row['sugar']:.0f} g/L,"
        f" acid {row['acid']:.1f} g/L"
        for row in rows
    )
    return f"The drink stage by stage, strength, volume, sugar and acid: {said or 'no stage yet'}."
