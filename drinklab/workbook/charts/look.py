"""Colours, letters, lines and parts that all charts share."""

from __future__ import annotations

from ... import profile
from . import alt

INK, QUIET, FAINT = "#1f2933", "#5f6b76", "#e4e7eb"
# What is reckoned and, darker, words of it; what warns, or comes from elsewhere: a rule, a limit.
BLUE, DARK, RED = "#136cea", "#0f57bd", "#963f0c"
# Words beside a mark, where the rows say they fit: `place` is their alignment, `shift` the pixels aside.
ASIDE = {"align": {"expr": "datum.place"}, "dx": {"expr": "datum.shift"}}

# Fixed order: colour and shape of the marks, and a darker shade of the colour for words.
# The colours were searched so that any two stay apart with normal sight and with each kind of colour
# blindness (CIELAB distance of 21 or more in all four), each 3:1 against white; shapes say it once more.
FAMILIES = {
    "stirred spirit-forward": ("#963f0c", "square", "#843709"),
    "sour": ("#a89519", "circle", "#6e6110"),
    "highball": ("#136cea", "triangle-up", "#0f57bd"),
    "spritz": ("#61251a", "triangle-down", "#61251a"),
    "punch": ("#e657c5", "diamond", "#a8298b"),
    "creamy": ("#92178d", "cross", "#7d1379"),
    "other": ("#6e7580", "triangle-right", "#545b65"),
    "hot": ("#34a872", "triangle-left", "#1f7a50"),
}

LOOK = {
    "background": "white",
    # Known widths everywhere (Linux has a twin of it), so that what fits here fits there.
    "font": "Arial, Helvetica, sans-serif",
    "padding": 6,
    "view": {"stroke": None},
    "axis": {
        "labelColor": QUIET,
        "titleColor": INK,
        "labelFontSize": 11,
        "titleFontSize": 12,
        "titleFontWeight": "normal",
        "titlePadding": 8,
        "gridColor": FAINT,
        "domainColor": QUIET,
        "tickColor": QUIET,
        "tickSize": 4,
        "tickCount": 6,
    },
    "legend": {"labelColor": INK, "labelFontSize": 11, "title": None, "columns": 0},
    "text": {"color": INK, "fontSize": 11},
    "title": {"color": INK, "fontSize": 13, "fontWeight": "bold", "anchor": "start"},
    "range": {"category": [colour for colour, _, _ in FAMILIES.values()]},
}

# Height of a line of labels, and the usual width of a letter in 11 px and in bold 13 px.
LINE, LETTER, BOLD = 13, 5.9, 7.4


def figure_said(figure: str) -> tuple[str, str]:
    """Word and unit of a figure."""
    return profile.TITLES[figure], profile.KINDS[figure].label


def with_rows(chart, description: str, rows, narrow=None) -> alt.TopLevelMixin:
    """A whole chart: its description for readers of the page, the common look, and its named rows (names: empty).

    `narrow` draws the same rows where there is no room for panels beside each other, at most 350 pixels wide.
    """
    if narrow is not None:
        narrow.description, narrow.config = description, LOOK
        chart.usermeta = {"narrow": narrow.to_dict(validate=False)}
    # Set directly: Altair's own ways of adding them copy the whole chart each time.
    chart.description, chart.config = description, LOOK
    chart.datasets = rows if isinstance(rows, dict) else {name: [] for name in rows}
    return chart


def _one() -> alt.Chart:
    return alt.Chart(alt.InlineData(values=[{"one": 1}]))


def named(name: str) -> alt.Chart:
    """Marks of the rows of this name."""
    return alt.Chart(alt.NamedData(name))


def words_on(chart: alt.Chart, field: str = "label", around: float = 3.5, **mark) -> list[alt.Chart]:
    """Text on a white halo, so that it reads over lines."""
    halo = {"stroke": "white", "strokeWidth": around, "strokeJoin": "round"}
    return [chart.mark_text(aria=False, **mark | look).encode(text=f"{field}:N") for look in (halo, {})]


def room(left: float, right: float | str, above: float, below: float) -> alt.Chart:
    """Unseen: room for axes and words beside a panel, whatever rows come later, so that it stays put. [pixels]

    A panel that is drawn alone may be made narrower on a phone: its `right` is said of it, such as "width + 14".
    """
    right = alt.expr(right) if isinstance(right, str) else right
    unseen = _one().mark_rect(opacity=0, aria=False, tooltip=None)
    return unseen.encode(x=alt.value(left), x2=alt.value(right), y=alt.value(above), y2=alt.value(below))


def unseen(name: str, **place) -> alt.Chart:
    """Unseen corners: the axes reach as far as these rows say, and do not move with the lines."""
    return named(name).mark_point(opacity=0, aria=False, tooltip=None).encode(**place)


def axis_names(titles: alt.Chart, wide: float, high: float, left: float) -> list[alt.Chart]:
    """Names of both axes that go by the rows of `titles`: across under the chart, up beside it."""
    across = titles.mark_text(aria=False, fontSize=12)
    up = titles.mark_text(aria=False, fontSize=12, angle=270)
    return [
        across.encode(x=alt.value(wide / 2), y=alt.value(high + 34), text="across:N"),
        up.encode(x=alt.value(-left), y=alt.value(high / 2), text="up:N"),
    ]


def heading(text: str, left: float, above: float, **mark) -> alt.Chart:
    """Words at a fixed place over a panel. [pixels]"""
    words = _one().mark_text(**{"align": "left", "aria": False} | mark, text=text)
    return words.encode(x=alt.value(left), y=alt.value(above))


def dot(chart: alt.Chart, size: float = 110) -> alt.Chart:
    """Where the drink stands."""
    return chart.mark_point(filled=True, color=INK, size=size, opacity=1, stroke="white", strokeWidth=1.6)
