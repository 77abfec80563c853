"""How much of a gelling agent, against firmness."""

from __future__ import annotations

import math

from ... import gels
from ...display import Display
from . import alt
from .look import (
    BLUE,
    DARK,
    INK,
    QUIET,
    RED,
    heading,
    named,
    room,
    unseen,
    with_rows,
)

# In the mouth: body temperature, from memory. The fridge is the one of the order of work. [°C]
FRIDGE, MOUTH = gels.FRIDGE, 37.0


def stands(about: gels.Agent, place: float) -> tuple[str, str]:
    """What a jelly does at a temperature, in a word and in a sentence."""
    if math.isnan(about.melt_low_c):
        return "stays set", f"{about.agent} stays set; it does not melt again."
    if place < about.melt_low_c:
        return "stays set", f"{about.agent} stays set."
    if place < about.melt_high_c:
        return "softens", f"{about.agent} softens and may run: keep it cold until it is eaten."
    return "melts", f"{about.agent} melts."


# Two panels side by side, with names left and words right about 740 pixels wide; the second narrower under the first.
_DOSE, _DEGREES, _UNDER, _ROW = 196, 290, 150, 42
_NAMES = 124  # pixels to the left, for names


def gel_chart(show: Display) -> alt.HConcatChart:
    """Doses and temperatures of what sets a drink; empty until `gel_rows` are put in."""
    low, high = show.degrees(0), show.degrees(100)
    high_ = _ROW * len(gels.agents())
    agents = named("agents")
    y = alt.Y("agent:N", axis=None, scale=alt.Scale(domain=list(gels.agents())))
    pale = {"opacity": alt.expr("datum.chosen ? 1 : 0.45")}
    bold = {"fontWeight": alt.expr("datum.chosen ? 'bold' : 'normal'"), "fontSize": 12, "aria": False}

    def x(field: str) -> alt.X:
        scale = alt.Scale(nice=False, zero=True)
        return alt.X(f"{field}:Q", scale=scale, title="Dose [g in 100 mL]", axis=alt.Axis(tickCount=5))

    frame = unseen("frame", x=x("top"))
    names = agents.mark_text(align="right", **bold).encode(x=alt.value(-10), y=y, text="agent:N")
    tip = alt.Tooltip("told:N", title="Dose")
    dose = [
        room(-_NAMES, _DOSE + 32, 0, 10),
        frame,
        agents.mark_bar(height=5, color=BLUE, **pale).encode(x=x("soft"), x2="very:Q", y=y, tooltip=tip,
                                                            description=alt.Description("told:N")),
        *(agents.mark_tick(height=15, thickness=2, color=BLUE, aria=False, **pale).encode(x=x(f), y=y)
          for f in ("soft", "firm", "very")),
        agents.transform_filter("datum.chosen").mark_point(
            filled=True, color=INK, size=120, opacity=1, stroke="white", strokeWidth=1.6, aria=False
        ).encode(x=x("dose"), y=y, tooltip=tip),
        agents.mark_text(align="left", dx=8, **bold).encode(x=x("very"), y=y, text="said:N"),
        names,
        heading("Ticks: soft, firm, very firm.", 0, -22, color=DARK),
        heading("Dot, figures: as firm as chosen.", 0, -8),
    ]  # fmt: skip

    def t(field: str) -> alt.X:
        scale = alt.Scale(domain=[low, high], nice=False)
        return alt.X(f"{field}:Q", scale=scale, title=f"Temperature [{show.temperature}]")

    marks = named("marks")
    tip = alt.Tooltip("kept:N", title="Temperatures")

    def degrees(wide: int, left: int, *beside: alt.Chart) -> alt.LayerChart:
        """Where each sets and melts, on so many pixels, its head from `left` on."""
        aside = alt.expr(f"datum.t < {show.degrees(20)} ? 'right' : 'left'") if left else "center"
        layers = [
            room(min(left, -20), wide + 66, 0, 10),
            *beside,
            agents.mark_bar(height=11, color=BLUE, **pale).encode(x=t("low"), x2="stays:Q", y=y, tooltip=tip,
                                                                 description=alt.Description("kept:N")),
            agents.transform_filter("isNumber(datum.melts)").mark_bar(height=11, color=RED, aria=False, **pale).encode(
                x=t("stays"), x2="melts:Q", y=y, tooltip=tip),
            agents.mark_bar(height=3, yOffset=13, color=INK, aria=False, **pale).encode(
                x=t("set_low"), x2="set_high:Q", y=y, tooltip=tip),
            *(agents.mark_tick(height=9, thickness=2, yOffset=13, color=INK, aria=False, **pale).encode(x=t(f), y=y)
              for f in ("set_low", "set_high")),
            marks.mark_rule(strokeDash=[4, 3], color=QUIET, aria=False).encode(x=t("t")),
            marks.mark_text(align=aside, color=QUIET, aria=False).encode(
                x=t("t"), y=alt.value(-8), text="label:N"),
            named("place").mark_rule(color=INK, strokeWidth=1.5, aria=False).encode(x=t("t")),
            named("place").mark_text(align="left", dx=-14, fontWeight="bold", aria=False).encode(
                x=t("t"), y=alt.value(-23), text="label:N"),
            agents.mark_text(align="left", **bold).encode(x=alt.value(wide + 8), y=y, text="verdict:N"),
            heading("■ stays set", left, -40, color=DARK, fontWeight="bold"),
            heading("■ softens, then melts", left + 74, -40, color=RED, fontWeight="bold"),
            heading("▬ sets as it cools", left + 212, -40, fontWeight="bold"),
        ]  # fmt: skip
        return alt.LayerChart(layer=layers, width=wide, height=high_)

    doses = alt.LayerChart(layer=dose, width=_DOSE, height=high_)
    narrow = alt.VConcatChart(vconcat=[doses, degrees(_UNDER, -_NAMES, names)], spacing=16)
    chart = alt.HConcatChart(
        hconcat=[doses, degrees(_DEGREES, 0)],
        spacing=16,
        description="For each of five setting agents, left: the dose in grams for 100 mL from soft to very firm, with "
        f"a dot for the chosen jelly. Right, in {show.temperature}: where it sets as it cools, up to where it stays "
        "set, and where it melts, with lines for the fridge, the mouth and the room or terrace.",
    )
    return with_rows(chart, chart.description, ("frame", "agents", "marks", "place"), narrow)


def gel_rows(made: gels.Jelly, doses: dict[str, list[float]], place: float, show: Display) -> dict[str, list]:
    """Rows of `gel_chart`.

    Parameters
    ----------
    made : Jelly
        The chosen one.
    doses : dict
        Of each agent, in the order of `FIRMNESS`. [g in 100 mL]
    place : float
        Of the room or terrace. [°C]
    show : Display
    """

    def degrees(celsius: float) -> float | None:
        return None if math.isnan(celsius) else round(show.degrees(celsius), 1)

    rows, at = [], gels.FIRMNESS.index(made.firmness)
    for name, about in gels.agents().items():
        grams, stays = doses[name], about.melt_low_c
        ends = [show.temperature_text(c) for c in (about.set_low_c, about.set_high_c)]
        melting = "does not melt again"
        if not math.isnan(stays):
            melting = f"melts from {show.temperature_text(stays)} to {show.temperature_text(about.melt_high_c)}"
        rows.append({
            "agent": name, "chosen": name == made.about.agent,
            **{f: round(g, 3) for f, g in zip(("soft", "firm", "very"), grams, strict=True)},
            "dose": round(grams[at], 3),
            "said": f"{grams[at]:.2f} g" if made.abv <= about.abv_most else "too strong",
            "told": f"{name}, {made.firmness}: {grams[at]:.2f} g in 100 mL; "
                    f"{grams[0]:.2f} g soft to {grams[2]:.2f} g very firm",
            "low": show.degrees(0), "stays": degrees(100.0 if math.isnan(stays) else stays),
            "melts": degrees(about.melt_high_c), "set_low": degrees(about.set_low_c),
            "set_high": degrees(about.set_high_c), "verdict": stands(about, place)[0],
            "kept": f"{name} sets at {ends[0]} to {ends[1]}, {melting}",
        })  # fmt: skip
    most = max(row["very"] for row in rows)
    return {
        # The axis moves only for gelatin that is weak and very firm.
        "frame": [{"top": 3.5 if most <= 3.3 else 4.5 if most <= 4.3 else 7.0}],
        "agents": rows,
        "marks": [
            {"t": degrees(c), "label": f"{word} {show.temperature_text(c)}"}
            for word, c in (("fridge", FRIDGE), ("mouth", MOUTH))
        ],
        "place": [{"t": degrees(place), "label": f"room or terrace {show.temperature_text(place)}"}],
    }
