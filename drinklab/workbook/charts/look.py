"""Colours, letters and lines that all charts share."""

from __future__ import annotations

from ... import balance

INK, QUIET, FAINT = "#1f2933", "#5f6b76", "#e4e7eb"

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
    "legend": {"labelColor": INK, "labelFontSize": 11, "title": None},
    "text": {"color": INK, "fontSize": 11},
    "title": {"color": INK, "fontSize": 13, "fontWeight": "bold", "anchor": "start"},
    "range": {"category": [colour for colour, _, _ in FAMILIES.values()]},
}

# Height of a line of labels, and the usual width of a letter in 11 px and in bold 13 px.
_LINE, _LETTER, _BOLD = 13, 5.9, 7.4


def _said(figure: str) -> tuple[str, str]:
    """Word and unit of a figure."""
    return balance.TITLES[figure], balance.KINDS[figure].label
