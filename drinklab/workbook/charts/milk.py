"""Pictures of a milk wash: pH and yield against milk."""

from __future__ import annotations

import numpy as np

from ... import milk as dairy
from ...display import Display
from . import alt
from .look import (
    ASIDE,
    BLUE,
    INK,
    QUIET,
    RED,
    dot,
    named,
    room,
    with_rows,
    words_on,
)

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


def wash_chart(show: Display) -> alt.ConcatChart:
    """pH of the mix, and what runs off the curd, against the milk; the rows are those of `wash_rows`."""
    milk = alt.X("s:Q", scale=alt.Scale(domain=[0, 1], nice=False), title=_MILK)
    size, unit = per(show)

    def y(field, domain, title):
        scale = alt.Scale(domain=domain, nice=False)
        return alt.Y(f"{field}:Q", scale=scale, title=title, axis=alt.Axis(minExtent=30))

    def panel(field, up, behind, lines, label):
        band = named("curve").mark_area(color=BLUE, opacity=0.14, aria=False)
        band = band.encode(x=milk, y=up(f"{field}_low"), y2=f"{field}_high:Q")
        curves = [
            named(name).mark_line(color=BLUE, strokeWidth=2.4, interpolate="monotone", **look).encode(
                x=milk, y=up(field)
            )
            for name, look in lines.items()
        ]  # fmt: skip
        now = named("now").encode(x=milk)
        tips = [alt.Tooltip(f"{f}:N", title=t) for f, t in
                (("s_told", "Milk"), ("ph_told", "pH of the mix"), ("v_told", "Runs off"))]  # fmt: skip
        bar = now.mark_rule(color=INK, strokeWidth=1.6, aria=False).encode(y=up(f"{field}_low"), y2=f"{field}_high:Q")
        spot = dot(now).encode(y=up(field), tooltip=tips, description=alt.Description(f"{field}_told:N"))
        above = now.mark_text(
            fontWeight="bold", fontSize=12, aria=False, **ASIDE
        ).encode(y=alt.value(-9), text=f"{label}:N")  # fmt: skip
        ground = room(-50, _WIDE + 10, -18, _HIGH + 40)
        return alt.LayerChart(layer=[ground, *behind, band, *curves, bar, spot, above], width=_WIDE, height=_HIGH)

    def ph_axis(field):
        return y(field, _PH, "pH of drink and milk together")

    zone = named("zone").mark_rect(color=QUIET, opacity=0.1)
    zone = zone.encode(y=ph_axis("low"), y2="high:Q")
    limit = named("limits").encode(y=ph_axis("p"))
    rules = limit.mark_rule(color=QUIET, strokeDash=[5, 4], strokeWidth=1.4).encode(
        description=alt.Description("label:N")
    )
    limits = words_on(limit.encode(x=milk), "label", dy=alt.expr("datum.dy"), color=QUIET, **ASIDE)
    left = panel("ph", ph_axis, [zone, rules, *limits], {"curve": {}}, "ph_label")

    def volume_axis(field):
        return y(field, (0, 2.2 * size), f"Clear drink collected [{unit}]")

    same = alt.Chart(alt.InlineData(values=[{"v": size, "label": "as much as the drink was"}])).encode(
        y=volume_axis("v")
    )
    behind = [same.mark_rule(color=QUIET, strokeDash=[2, 3]).encode(description=alt.Description("label:N"))]
    most = named("most").encode(x=milk)
    edge = most.mark_rule(color=RED, strokeDash=[5, 4], strokeWidth=1.4).encode(description=alt.Description("label:N"))
    dashed = {"strokeDash": [5, 4], "stroke": RED}
    right = panel("v", volume_axis, [*behind, edge], {"clear": {}, "milky": dashed}, "v_label")
    right.layer += words_on(same.encode(x=alt.value(_WIDE - 4)), "label", align="right", dy=9, color=QUIET)
    right.layer += words_on(
        most.encode(y=alt.value(_HIGH - 34)), "label", color=RED, lineBreak="\n", baseline="middle", **ASIDE
    )  # fmt: skip
    described = (
        "Two charts side by side against the milk, in parts to one part of drink. Left: pH of drink and milk together "
        "with its band, and two lines: below the lower one milk curdles whole, above the upper one it does "
        f"not. Right: {unit} that run off the curd, with their band; dashed where it stays milky. A dot marks the "
        "chosen amount of milk."
    )
    return with_rows(alt.ConcatChart(concat=[left, right], spacing=16), described, WASH_ROWS)


def wash_rows(curve: dairy.Washed, now: dairy.Washed, batch: float, show: Display) -> dict[str, list]:
    """Rows of `wash_chart`.

    Parameters
    ----------
    curve, now : dairy.Washed
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
    place, shift = _beside(float(now.share), 0.3, 0.7)
    out, least, most_out = (f"{point[f'v{end}']:.{int(size < 1000)}f}" for end in _ENDS)
    point |= {
        "place": place, "shift": shift, "s_told": f"{now.share:.2f} to 1 of drink",
        "ph_label": f"pH {ph:.1f} ({low:.1f} to {high:.1f})", "ph_told": f"{ph:.1f} ({low:.1f} to {high:.1f})",
        "v_label": f"{out} {_SHORT[size]} ({least} to {most_out})", "v_told": f"{out} ({least} to {most_out}) {unit}",
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
_SHORT = {1000: "mL/L", 32: "oz/qt"}  # of `per`


def _beside(x: float, left: float, right: float) -> tuple[str, int]:
    """Where words to a mark at `x` (0 to 1) fit: alignment, and pixels aside."""
    return ("left", 5) if x < left else ("right", -5) if x > right else ("center", 0)
