"""Pictures of a drink among the classics, in one plain look.

Layers that move are named data: give the chart to `LiveChart` and `put` new rows,
or fill them in once with `static_svg` or `interactive_html`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ...errors import InputError, one_of, require
from . import alt
from .live import plain_rows
from .look import BOLD, FAMILIES, INK, LETTER, LINE, QUIET, figure_said, with_rows

# Size of one panel, in pixels: two of them, with axes, are 760 wide.
_WIDE, _HIGH = 306, 252
# Over each panel stand two lines of words, and over these so many of names; where the first of each stands.
_LINES, _KEY, _WORDS = 3, -22 - 3 * LINE, -9 - LINE
_BEYOND = "datum.beyond_x || datum.beyond_y"


@dataclass(frozen=True)
class _Measure:
    """One axis: its column, its words, its unit, and how its figures are written. It ends where `frame` says."""

    field: str
    word: str
    unit: str
    digits: str

    @property
    def top(self) -> str:
        """Expression: the end of the axis."""
        return f"top_{self.field}"

    def param(self) -> alt.VariableParameter:
        return alt.VariableParameter(name=self.top, expr=f"data('frame')[0].{self.field}")

    @property
    def title(self) -> str:
        return f"{self.word} [{self.unit}]"

    def axis(self, channel, field: str, **options):
        scale = alt.Scale(domain=[0, alt.expr(self.top)], nice=False)
        return channel(f"{field}:Q", scale=scale, title=self.title, **options)

    def scale(self, length: float) -> str:
        """Expression: pixels for each unit on an axis of this length."""
        return f"({length} / {self.top})"

    def held(self, field: str) -> str:
        """Expression: the value, held at the edge of the picture."""
        return f"clamp(datum.{field}, 0, {self.top})"

    def beyond(self, field: str) -> str:
        return f"(isNumber(datum.{field}) && (datum.{field} > {self.top} || datum.{field} < 0))"

    def shown(self, row: str = "datum") -> str:
        """Expression: the real figure in words, whatever the picture's edge."""
        value = f"{row}.{self.field}"
        return f"(isNumber({value}) ? format({value}, '{self.digits}') + ' {self.unit}' : 'not known')"


def _top(values, step: float, least: float) -> float:
    """Round top of an axis with room above all but the few highest values."""
    high = float(np.quantile(values, 0.975)) if len(values) else 0.0
    return max(least, math.ceil(1.08 * high / step) * step)


# Where an axis may end: a drink that is moved meets few of these.
_ENDS = {
    "abv": (10, 15, 20, 25, 30, 40, 60, 80, 100),
    "sugar": (40, 60, 80, 100, 120, 160, 200, 300, 400, 600, 800, 1000),
    "acid": (4, 6, 8, 10, 12, 16, 24, 40, 60, 100, 200),
}


def ends(*shown: dict, was: Mapping[str, float] | None = None) -> dict[str, float]:
    """Row of `"frame"` of a place chart: axes from 0 to a round number just beyond the drink and what stands beside it.

    Parameters
    ----------
    *shown : dict
        Rows of the chart with `abv`, `sugar` and `acid`, or their `..._high`.
    was : mapping, optional
        Where the axes end now. An end goes up when it must, and down only when a tenth below the next one is enough.

    Examples
    --------
    >>> ends({"abv": 19, "sugar": 60, "acid": 7})
    {'abv': 20, 'sugar': 80, 'acid': 8}
    >>> ends({"abv": 14.8, "sugar": 60, "acid": 7}, was={"abv": 20, "sugar": 120, "acid": 8})
    {'abv': 20, 'sugar': 80, 'acid': 8}
    """
    found = {}
    for field, steps in _ENDS.items():
        need = 1.02 * max((row.get(f"{field}_high", row.get(field, 0.0)) for row in shown), default=0.0)
        need, now = min(need, steps[-1]), (was or {}).get(field)
        found[field] = min(step for step in steps if step >= need)
        if now is not None and need <= now and found[field] < now and need > 0.9 * max(s for s in steps if s < now):
            found[field] = now
    return found


# --- the drink among the classics ---------------------------------------------------------------------


def place_chart(classics, family: str | None = None, names: bool = True) -> alt.ConcatChart:
    """Where a drink lies among the classics: sweetness against strength, and against acid.

    Two panels, 760 px wide together. Every classic is a small mark in its family's colour
    and shape, named on hover. What moves is named data, empty until filled in:

    - `"me"`: one row `label, abv, sugar, acid` and, if known, `abv_low, abv_high, sugar_low,
      sugar_high, acid_low, acid_high`: the drink and its uncertainty.
    - `"near"`: rows `n, name, abv, sugar, acid` of the nearest classics, at most six: numbered rings, and with
      `names` their names over the panels, so that no name lies on a mark.
    - `"trail"`: rows `order, age, abv, sugar, acid`: the way the drink came. `age` runs from
      0 (now) to 1 (gone).
    - `"base"`: none or one row `abv, sugar, acid`: the version to compare with.
    - `"family"` and `"picked"`: see `family_rows`.

    - `"frame"`: one row `abv, sugar, acid`, where the axes end (see `ends`); at first, where nearly all classics are.

    A drink beyond the axes is held at the edge with an arrow; its real figures are in the tooltip. Classics beyond them
    are counted, and not drawn.

    Parameters
    ----------
    classics : list of dicts or DataFrame
        `name`, `family`, `technique`, `abv` [% vol], `sugar` [g/L], `acid` [g/L], as served.
    family : str, optional
        Family to emphasise at first, one of `FAMILIES`.
    names : bool
        False where a list of them stands beside the chart.

    Returns
    -------
    altair.ConcatChart

    Raises
    ------
    InputError
        If a classic's figure is missing or out of range, or a family is unknown.
    """
    rows = _classic_rows(classics)
    column = {name: [row[name] for row in rows] for name in ("abv", "sugar", "acid")}
    usual = {"abv": (10, 40), "sugar": (20, 100), "acid": (2, 10)}
    frame = {name: _top(column[name], *steps) for name, steps in usual.items()}
    moving = {name: [] for name in ("me", "near", "trail", "base")} | {"frame": [frame]} | family_rows(rows, family)
    digits = {"abv": ".1f", "sugar": ",.0f", "acid": ".1f"}
    measures = abv, sugar, acid = [_Measure(name, *figure_said(name), written) for name, written in digits.items()]
    left, right = (_Panel(sugar, up, measures, names).chart() for up in (abv, acid))
    chart = alt.ConcatChart(concat=[left, right], spacing=22, params=[measure.param() for measure in measures])
    return with_rows(chart, _place_description(rows, moving["family"]), {"classics": rows} | moving)


def family_rows(classics, family: str | None) -> dict[str, list[dict]]:
    """Rows of a place chart that emphasise one family: `put(**family_rows(classics, "sour"))`.

    Parameters
    ----------
    classics : list of dicts or DataFrame
        As for `place_chart`.
    family : str or None
        None emphasises nothing.

    Returns
    -------
    dict
        `"picked"`, the family's classics, and `"family"`, one row with the range that holds
        the middle 80 % of them (10th to 90th percentile) on each measure.
    """
    if family is None:
        return {"family": [], "picked": []}
    one_of("family", family, FAMILIES)
    picked = [row for row in _classic_rows(classics) if row["family"] == family]
    if not picked:
        return {"family": [], "picked": []}
    # A range of the middle 80 % means little for a handful; then it spans them all.
    few = len(picked) < 5
    low, high = (0, 1) if few else (0.1, 0.9)
    what = f"all {len(picked)} classics" if few else f"middle 80 % of {len(picked)} classics"
    reach: dict = {"family": family, "label": f"{family}: {'1 classic' if len(picked) == 1 else what}"}
    for name in ("abv", "sugar", "acid"):
        ends = np.quantile([row[name] for row in picked], [low, high])
        reach[f"{name}_low"], reach[f"{name}_high"] = (round(float(end), 2) for end in ends)
    return {"family": [reach], "picked": picked}


def _classic_rows(classics) -> list[dict]:
    rows = plain_rows("classics", classics)
    for row in rows:
        where = str(row.get("name") or "a classic without a name")
        one_of("family", row.get("family"), FAMILIES, where)
        for name, high, unit in (("abv", 100, "% vol"), ("sugar", 1000, "g/L"), ("acid", 200, "g/L")):
            value = row.get(name)
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise InputError(name, value, f"a number from 0 to {high} {unit}", where)
            require(name, value, 0, high, unit, where)
    return rows


class _Panel:
    """One panel of the place chart: what is common to its layers, and the layers."""

    def __init__(self, across: _Measure, up: _Measure, measures, names: bool) -> None:
        self.across, self.up, self.measures, self.names = across, up, measures, names
        families = list(FAMILIES)
        colours, shapes, _ = zip(*FAMILIES.values(), strict=True)
        key = alt.Legend(
            orient="bottom",
            title=None,
            symbolOpacity=1,
            symbolSize=60,
            symbolStrokeWidth=0,
            columnPadding=9,
            offset=6,
        )
        colour, shape = (alt.Scale(domain=families, range=list(marks)) for marks in (colours, shapes))
        self.colour = alt.Color("family:N", scale=colour, legend=key)
        self.shape = alt.Shape("family:N", scale=shape, legend=key)

    def chart(self) -> alt.LayerChart:
        """All layers, from the back to the front."""
        # Unseen, but keeps room for what stands out of the panel: else the axes would shift when it comes.
        top = (_KEY if self.names else _WORDS) - 7
        room = (
            alt.Chart(alt.NamedData("frame"))
            .mark_rect(opacity=0, aria=False, tooltip=None)
            .encode(x=alt.value(0), x2=alt.value(_WIDE + 18), y=alt.value(top), y2=alt.value(_HIGH))
        )
        parts = (
            self.zone(),
            self.classics(),
            self.beyond(),
            self.picked(),
            self.base(),
            self.trail(),
            self.near(),
            *[self.key()] * self.names,
            self.me(),
        )
        return alt.LayerChart(layer=[room, *parts], width=_WIDE, height=_HIGH)

    # What layers are made of.

    def rows(self, name: str) -> alt.Chart:
        """Rows of one name, held inside the panel as `x` and `y`, with the words of the tooltip."""
        across, up = self.across, self.up
        return (
            alt.Chart(alt.NamedData(name))
            .transform_filter(f"isNumber(datum.{across.field}) && isNumber(datum.{up.field})")
            .transform_calculate(
                x=across.held(across.field),
                y=up.held(up.field),
                beyond_x=across.beyond(across.field),
                beyond_y=up.beyond(up.field),
                **{f"{m.field}_shown": m.shown() for m in self.measures},
            )
            .transform_calculate(
                told="(datum.name || datum.label || 'before')"
                + "".join(f" + ', {m.word.lower()} ' + datum.{m.field}_shown" for m in self.measures)
            )
        )

    @staticmethod
    def together(rows: alt.Chart, *layers) -> alt.LayerChart:
        """Layers that share rows: worked out once, and a smaller specification."""
        group = alt.layer(*layers)
        group.data, group.transform = rows.data, rows.transform
        return group

    def at(self, mark: alt.Chart, x: str = "x", y: str = "y", **more) -> alt.Chart:
        if "tooltip" in more:
            # For screen readers; a mark's place on the page may not be its figure.
            more["description"] = alt.Description("told:N")
        return mark.encode(x=self.across.axis(alt.X, x), y=self.up.axis(alt.Y, y), **more)

    def words(self, text: str, x: str = "x", y: str = "y", **mark) -> list[alt.Chart]:
        """Text on a white halo, so that it reads over marks."""
        halo = {"stroke": "white", "strokeWidth": 3.5, "strokeJoin": "round"}
        return [
            self.at(alt.Chart().mark_text(aria=False, **mark | look), x, y, text=f"{text}:N") for look in (halo, {})
        ]

    def arrows(self, tooltip, **mark) -> alt.Chart:
        """Just outside the panel, pointing to where the real figure lies."""
        look = {"shape": "triangle", "filled": True, "size": 40} | mark
        turn = alt.expr("datum.beyond_x ? (datum.beyond_y ? 45 : 90) : 0")
        return self.at(
            alt.Chart()
            .transform_filter(_BEYOND)
            .transform_calculate(
                out_x=f"datum.x + (datum.beyond_x ? 8 / {self.across.scale(_WIDE)} : 0)",
                out_y=f"datum.y + (datum.beyond_y ? 8 / {self.up.scale(_HIGH)} : 0)",
            )
            .mark_point(angle=turn, **look),
            "out_x",
            "out_y",
            tooltip=tooltip,
        )

    def tip(self, field: str) -> list[alt.Tooltip]:
        lines = [alt.Tooltip(f"{field}:N", title="Drink")]
        if field == "name":
            lines.append(alt.Tooltip("family:N", title="Family"))
        return lines + [alt.Tooltip(f"{m.field}_shown:N", title=m.word) for m in self.measures]

    def px(self, value: str) -> str:
        """Expression: where a value lies, in pixels from the left."""
        return f"(clamp({value}, 0, {self.across.top}) * {self.across.scale(_WIDE)})"

    def py(self, value: str) -> str:
        """Expression: where a value lies, in pixels from the top."""
        return f"({_HIGH} - clamp({value}, 0, {self.up.top}) * {self.up.scale(_HIGH)})"

    # The layers.

    def zone(self) -> alt.LayerChart:
        across, up = self.across, self.up
        rows = alt.Chart(alt.NamedData("family")).transform_calculate(
            left=across.held(f"{across.field}_low"),
            right=across.held(f"{across.field}_high"),
            low=up.held(f"{up.field}_low"),
            high=up.held(f"{up.field}_high"),
            # The words stand above the panel, over the shaded range: inside it, names would cover them.
            start=f"max(0, min({self.px(f'datum.{across.field}_low')}, {_WIDE} - length(datum.label) * {LETTER}))",
        )
        inks = json.dumps({name: ink for name, (_, _, ink) in FAMILIES.items()})
        return self.together(
            rows,
            self.at(alt.Chart().mark_rect(opacity=0.13, aria=False), "left", "low", color=self.colour).encode(
                x2="right:Q", y2="high:Q"
            ),
            alt.Chart()
            .mark_text(align="left", fontWeight="bold", aria=False, color=alt.expr(f"({inks})[datum.family]"))
            .encode(x=alt.X("start:Q", scale=None), y=alt.value(-9), text="label:N"),
        )

    def classics(self) -> alt.LayerChart:
        points = self.at(
            alt.Chart().mark_point(filled=True, size=24, opacity=0.2),
            shape=self.shape,
            tooltip=self.tip("name"),
        )
        shown = self.rows("classics").transform_filter(f"!({_BEYOND})")
        points.data, points.transform = shown.data, shown.transform
        return points.encode(color=self.colour)

    def beyond(self) -> alt.Chart:
        """How many of the classics are not drawn, since the axes end before them."""
        counted = self.rows("classics").transform_filter(_BEYOND).transform_aggregate(count="count()")
        return (
            counted.transform_calculate(
                said="datum.count + (datum.count > 1 ? ' classics lie' : ' classic lies') + ' beyond the edges'"
            )
            .transform_filter("datum.count > 0")
            .mark_text(align="right", aria=False, color=QUIET, fontSize=10)
            .encode(x=alt.value(_WIDE), y=alt.value(_WORDS), text="said:N")
        )

    def picked(self) -> alt.Chart:
        points = (
            self.rows("picked")
            .transform_filter(f"!({_BEYOND})")
            .mark_point(filled=True, size=58, opacity=1, stroke="white", strokeWidth=0.7)
        )
        return self.at(points, color=self.colour, shape=self.shape, tooltip=self.tip("name"))

    def trail(self) -> alt.Chart:
        steps = (
            self.rows("trail")
            .transform_window(x_next="lead(x)", y_next="lead(y)", sort=[{"field": "order"}])
            .transform_filter("isNumber(datum.x_next)")
            .mark_rule(color=INK, strokeWidth=2.2, strokeCap="round", aria=False)
        )
        fading = alt.Opacity("age:Q", scale=alt.Scale(domain=[0, 1], range=[0.6, 0.03]), legend=None)
        return self.at(steps, opacity=fading).encode(x2="x_next:Q", y2="y_next:Q")

    def base(self) -> alt.LayerChart:
        across, up = self.across, self.up
        rows = self.rows("base").transform_calculate(
            before="'before'",
            title="datum.label || 'before'",
            me_x=f"length(data('me')) ? clamp(data('me')[0].{across.field}, 0, {across.top}) : datum.x",
            me_y=f"length(data('me')) ? clamp(data('me')[0].{up.field}, 0, {up.top}) : datum.y",
            # The word goes to the side away from the drink.
            below="datum.me_y > datum.y",
        )
        line = alt.Chart().mark_rule(color=INK, strokeWidth=1, strokeDash=[4, 3], aria=False)
        ring = alt.Chart().mark_point(filled=True, fill="white", size=95, opacity=1, stroke=INK, strokeWidth=1.8)
        return self.together(
            rows,
            self.at(line).encode(x2="me_x:Q", y2="me_y:Q"),
            self.at(ring, tooltip=self.tip("title")),
            self.arrows(self.tip("title"), color=INK),
            *self.words("before", fontStyle="italic", dy=alt.expr("datum.below ? 14 : -13")),
        )

    def near(self) -> alt.LayerChart:
        rings = alt.Chart().mark_point(size=120, color=INK, strokeWidth=1.3, opacity=1, fill="transparent")
        line = alt.Chart().mark_rule(color=QUIET, strokeWidth=0.7, aria=False)
        return self.together(
            self.named(self.rows("near")),
            self.at(line).encode(x2="line_x:Q", y2="text_y:Q"),
            self.at(rings, tooltip=[t for t in self.tip("name") if t["title"] != "Family"]),
            *self.words("n", "text_x", "text_y", align=alt.expr("datum.right ? 'left' : 'right'")),
        )

    def key(self) -> alt.Chart:
        """Whose numbers the rings have: the first three over the left panel, the rest over the right one."""
        first = 0 if self.up is self.measures[0] else _LINES
        return (
            alt.Chart(alt.NamedData("near"))
            .transform_filter(f"datum.n > {first} && datum.n <= {first + _LINES}")
            .transform_calculate(said="datum.n + '  ' + datum.name", line=f"{_KEY} + {LINE} * (datum.n - {first + 1})")
            .mark_text(align="left", aria=False, color=INK, limit=_WIDE + 10)
            .encode(x=alt.value(0), y=alt.Y("line:Q", scale=None), text="said:N")
        )

    def me(self) -> alt.LayerChart:
        across, up = self.across, self.up
        ends = {}
        for side_low, side_high, spot, measure in (("left", "right", "x", across), ("low", "high", "y", up)):
            for side, end in ((side_low, "low"), (side_high, "high")):
                field = f"{measure.field}_{end}"
                ends[side] = f"isNumber(datum.{field}) ? {measure.held(field)} : datum.{spot}"
        said = "datum.label" + "".join(
            f" + (datum.beyond_{spot} ? ', {m.word.lower()} ' + {m.shown()} : '')"
            for spot, m in (("x", across), ("y", up))
        )
        rows = (
            self.rows("me")
            .transform_calculate(said=said, me_px=self.px("datum.x"), me_py=self.py("datum.y"), **ends)
            .transform_calculate(half=f"length(datum.said) * {BOLD / 2}")
            .transform_calculate(name_px=f"min(max(datum.me_px, datum.half - 20), {_WIDE + 8} - datum.half)")
            .transform_calculate(
                over=self.crowd(self.py("datum.high") + " - {}"),
                under=self.crowd("{} - " + self.py("datum.low")),
            )
            .transform_calculate(
                # The name goes above the drink, unless there is less in the way below it.
                below=f"{self.py('datum.high')} < 28 || (datum.me_py < {_HIGH - 32} && datum.under < datum.over)",
                name_x=f"datum.name_px / {across.scale(_WIDE)}",
            )
            .transform_calculate(name_y="datum.below ? datum.low : datum.high")
        )
        arm = alt.Chart().mark_rule(color=INK, strokeWidth=1.6, aria=False)
        mark = alt.Chart().mark_point(filled=True, color=INK, size=190, opacity=1, stroke="white", strokeWidth=2)
        return self.together(
            rows,
            self.at(arm, "left").encode(x2="right:Q"),
            self.at(arm, y="low").encode(y2="high:Q"),
            self.at(mark, tooltip=self.tip("label")),
            self.arrows(self.tip("label"), color=INK, size=90, opacity=1),
            *self.words("said", "name_x", "name_y", fontSize=13, fontWeight="bold",
                        dy=alt.expr("datum.below ? 18 : -17")),
        )  # fmt: skip

    def crowd(self, height: str) -> str:
        """Expression: how many marks lie where the drink's name would, given how far up they are."""
        counted = []
        for name, number, weight in [("near", number, 1) for number in range(6)] + [("base", 0, 2)]:
            mark = f"data('{name}')[{number}]"
            aside = self.px(f"{mark}.{self.across.field}")
            away = height.format(self.py(f"{mark}.{self.up.field}"))
            counted.append(
                f"(length(data('{name}')) > {number} && abs({aside} - datum.name_px) < datum.half + 8"
                f" && inrange({away}, [2, 33]) ? {weight} : 0)"
            )
        return " + ".join(counted)

    def named(self, near: alt.Chart) -> alt.Chart:
        """Places for the numbers of the nearest classics: two columns beside them, lines spread apart.

        Done in the chart's own language, so that pushing plain rows is enough. In pixels: the left
        half of the classics is numbered in a column on the left, the right half on the right (all on one
        side if the other has no room). Down each column, a number goes at its classic's height or a line
        below the one before (running maximum), then the column moves up by the mean shift.
        """
        half = f"(6 + length(data('me')[0].label) * {BOLD / 2})"
        me_px = self.px(f"data('me')[0].{self.across.field}")
        me_px = f"min(max({me_px}, {half} - 26), {_WIDE + 14} - {half})"  # where the name stands, as in `me`

        def running(rows: alt.Chart, **found) -> alt.Chart:
            # "right" too: the engine sorts anew when a field it sorts by changes, not one it groups by.
            order = [{"field": "right"}, {"field": "px_y"}, {"field": "name"}]
            return rows.transform_window(**found, sort=order, groupby=["right"], frame=[None, 0], ignorePeers=True)

        rows = (
            near.transform_calculate(px_x=self.px("datum.x"), px_y=self.py("datum.y"), letters="1")
            .transform_joinaggregate(first="min(px_x)", last="max(px_x)", middle="median(px_x)", longest="max(letters)")
            .transform_calculate(
                # Clear of the rings, and of the drink's own name.
                left_edge=f"min(datum.first - 16, length(data('me')) ? {me_px} - {half} : {_WIDE})",
                right_edge=f"max(datum.last + 16, length(data('me')) ? {me_px} + {half} : 0)",
                room=f"datum.longest * {LETTER}",
            )
            .transform_calculate(
                right=f"datum.right_edge + datum.room > {_WIDE} ? datum.left_edge - datum.room < 0"
                " : datum.left_edge - datum.room < 0 || datum.px_x > datum.middle",
            )
        )
        rows = running(rows, line="row_number()")
        rows = running(rows.transform_calculate(start=f"datum.px_y - datum.line * {LINE}"), pushed="max(start)")
        return (
            rows.transform_calculate(spot=f"datum.pushed + datum.line * {LINE}")
            .transform_joinaggregate(
                wanted="mean(px_y)", got="mean(spot)", top="min(spot)", foot="max(spot)", groupby=["right"]
            )
            .transform_calculate(
                move=f"clamp(datum.wanted - datum.got, {LINE / 2} - datum.top, {_HIGH - LINE / 2} - datum.foot)",
                px_text=f"datum.right ? min(datum.right_edge, {_WIDE} - datum.room) : max(datum.left_edge, datum.room)",
            )
            .transform_calculate(
                text_x=f"datum.px_text / {self.across.scale(_WIDE)}",
                line_x=f"(datum.px_text + (datum.right ? -2 : 2)) / {self.across.scale(_WIDE)}",
                text_y=f"({_HIGH} - datum.spot - datum.move) / {self.up.scale(_HIGH)}",
            )
        )


def _place_description(rows, family) -> str:
    text = (
        f"Two charts side by side of {len(rows)} classic drinks as served. Left: strength in % vol against sugar in "
        "g/L. Right: acid in g/L against sugar. The axes begin at 0 and end beyond the drink and its neighbours."
    )
    for reach in family:
        text += (
            f" Emphasised: {reach['label']},"
            f" strength {reach['abv_low']:.1f} to {reach['abv_high']:.1f} % vol,"
            f" sugar {reach['sugar_low']:.0f} to {reach['sugar_high']:.0f} g/L,"
            f" acid {reach['acid_low']:.1f} to {reach['acid_high']:.1f} g/L."
        )
    return text
