"""Charts outside the workbook: still pictures, and pages that stand alone."""

from __future__ import annotations

import functools
import html
import itertools
import json
from collections.abc import Mapping

from ... import texts
from ...errors import InputError, Told, one_of
from ..engine import vega_bundle
from .live import STYLE, parted, plain_rows
from .painter import Painter, StoppedError

_painter = Painter()


def _filled(chart, rows: Mapping) -> dict:
    """Specification with named rows put in, and its description telling of them."""
    spec, known = parted(chart)
    ready = {one_of("name of rows", name, known): plain_rows(name, new) for name, new in rows.items()}
    spec["datasets"] = spec.get("datasets", {}) | known | ready
    for row in ready.get("me", []):
        if all(isinstance(row.get(name), (int, float)) for name in ("abv", "sugar", "acid")):
            spec["description"] = (
                f"{spec.get('description', '')} {row.get('label', 'The drink')}: {row['abv']:.1f} % vol,"
                f" sugar {row['sugar']:.0f} g/L, acid {row['acid']:.1f} g/L."
            ).strip()
    names = [str(row["name"]) for row in ready.get("near", []) if row.get("name")]
    if names:
        spec["description"] = f"{spec.get('description', '')} Nearest classics: {', '.join(names)}.".strip()
    return spec


@functools.lru_cache(maxsize=4)
def _drawn(spec: str) -> str:
    """A picture of a specification in JSON; kept, since a page shows the same one on the screen and in print."""
    try:
        return _painter.draw(spec)
    except StoppedError:
        raise InputError("chart", Told("more than the drawing engine can take"), "one that can be drawn") from None
    except ValueError as problem:
        # The first line says what was being done, the second what was wrong; then come the engine's own places.
        reason = " ".join(str(problem).splitlines()[:2]).strip() or "unreadable"
        raise InputError("chart", Told(reason.rstrip(".")), "one that can be drawn") from problem


def _text(spec: dict) -> str:
    """A specification as JSON, with nothing in it that would end the engine."""
    try:
        return json.dumps(texts.fit_all(spec), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError) as problem:
        raise InputError("chart", str(problem), "one that can be drawn") from None


def static_svg(chart, **rows) -> str:
    """The chart as an SVG picture, with named rows filled in.

    Parameters
    ----------
    chart : altair chart or dict
        From `place_chart` or of your own.
    **rows : list of dicts or DataFrame
        As for `LiveChart.put`; `static_svg(chart, **live.rows)` prints what the screen shows.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If the chart has no data of a name, a value is not finite, or it cannot be drawn.
    """
    return _picture(_filled(chart, rows))


def _picture(spec: dict) -> str:
    svg = _drawn(_text(spec))
    # The engine writes the description on the page's element, which a picture alone does not have.
    said = html.escape(str(spec.get("description", "Chart")), quote=True)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{said}" ', 1)


_numbers = itertools.count(1)


def interactive_html(chart, *, engine: bool = True, **rows) -> str:
    """The chart for a web page that needs no internet: hover works, nothing is fetched.

    Parameters
    ----------
    chart : altair chart or dict
    engine : bool
        Whether to bring the drawing engine (0.9 MB of script). Give False for the second
        and later charts of one page.
    **rows
        As for `static_svg`.

    Returns
    -------
    str
        HTML for the body of a page. The picture itself is in it, for print and for
        browsers without scripts; the script puts the living chart in its place.

    Raises
    ------
    InputError
        As `static_svg`.
    """
    spec = _filled(chart, rows)
    picture = _picture(spec)
    # "<" would let a name end the script element.
    text = _text(spec).replace("<", "\\u003c")
    place = f"drinklab-chart-{next(_numbers)}"
    parts = []
    if engine:
        parts += [f"<style>{STYLE}</style>", f"<script>{vega_bundle()}</script>"]
    parts += [
        f'<div class="drinklab-chart" id="{place}">{picture}</div>',
        f'<script>(() => {{ const place = document.getElementById("{place}"), picture = place.innerHTML;'
        f" place.replaceChildren(); drinklabVega(place, {text},"
        ' {mode: "vega-lite", actions: false, renderer: "svg"})'
        ".catch(() => { place.innerHTML = picture; }); })();</script>",
    ]
    return "\n".join(parts)


def on_page(chart, **rows) -> dict[str, str]:
    """The chart as `writeup.html` takes it; where it cannot be drawn, a sentence in its place.

    Parameters
    ----------
    chart : altair chart or dict
    **rows
        As for `static_svg`.

    Returns
    -------
    dict
        The arguments `chart_html` and `chart_svg`, or `chart_text` alone.

    Examples
    --------
    >>> on_page({"mark": "no such mark", "data": {"values": []}})["chart_text"][:31]
    'This page is without its chart:'
    """
    try:
        # Altair takes a second to write a chart out: once is enough.
        spec = _filled(chart, rows)
        return {"chart_html": interactive_html(spec), "chart_svg": static_svg(spec)}
    except InputError as problem:
        return {"chart_text": f"This page is without its chart: {problem}"}
