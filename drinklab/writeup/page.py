"""A trial as a page and as text, filled into the templates."""

from __future__ import annotations

import base64
import functools
import json
import re
from collections.abc import Callable, Sequence
from datetime import date as _date
from pathlib import Path

import jinja2
from markupsafe import Markup

from .. import logbook, texts
from ..display import Display
from ..files import write_new
from ..trial import Trial
from .facts import facts_of


def html(
    trial: Trial,
    *,
    title: str = "",
    question: str = "",
    method: str = "",
    notes: str = "",
    tasted: Sequence[str] = (),
    baseline: Trial | None = None,
    display: Display | None = None,
    country: str | None = None,
    date: _date | None = None,
    chart_html: str = "",
    chart_svg: str = "",
    chart_text: str = "",
) -> str:
    """One HTML page about a trial; nothing in it is fetched from anywhere.

    Parameters
    ----------
    trial : Trial
    title, question, method, notes : str
        In the developer's words, a line a paragraph or a step; by default the recipe's own.
    tasted : sequence of str
        What blind tastings of it found, a paragraph each.
    baseline : Trial, optional
        The drink that was pinned, to show the difference from.
    display : Display, optional
        mL or oz, °C or °F, if not as in the trial's setting.
    country : str, optional
        Whose standard drinks to count in, if not the setting's.
    date : datetime.date, optional
        Today by default.
    chart_html, chart_svg : str
        A live chart for the screen and a still one for print, as `workbook.charts` makes them. They
        are put in as they are: never pass a text that somebody typed.
    chart_text : str
        What the chart shows, in words; without a chart, why there is none.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For an unknown country, or a text that is too long.
    """
    facts = facts_of(trial, title, question, method, notes, tasted, baseline, display, country, date, chart_text)
    picture = base64.b64encode(chart_svg.encode()).decode() if chart_svg else ""
    # "<" would let a name end the script element.
    data = json.dumps(facts["data"], ensure_ascii=False, indent=1, allow_nan=False)
    for sign in "<>&":
        data = data.replace(sign, f"\\u{ord(sign):04x}")
    return template("writeup.html.j2", _unbroken).render(
        facts | {"data": Markup(data), "chart_html": Markup(chart_html), "picture": picture}
    )


def markdown(
    trial: Trial,
    *,
    title: str = "",
    question: str = "",
    method: str = "",
    notes: str = "",
    tasted: Sequence[str] = (),
    baseline: Trial | None = None,
    display: Display | None = None,
    country: str | None = None,
    date: _date | None = None,
    chart_text: str = "",
) -> str:
    """The same write-up as Markdown, without the chart. Arguments as for `html`."""
    facts = facts_of(trial, title, question, method, notes, tasted, baseline, display, country, date, chart_text)
    return template("writeup.md.j2", _for_markdown).render(facts)


def save(trial: Trial, folder: str | Path, *, chart_html: str = "", chart_svg: str = "", **about) -> tuple[Path, Path]:
    """Write both as new files under `folder`/writeups; nothing is ever overwritten.

    Parameters
    ----------
    trial : Trial
    folder : path
        The user's working folder; made if missing.
    chart_html, chart_svg, **about
        As for `html`.

    Returns
    -------
    (Path, Path)
        The page and the Markdown file, of one name.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    page = html(trial, chart_html=chart_html, chart_svg=chart_svg, **about)
    day = about.get("date") or _date.today()
    stem = f"{day.isoformat()}_{logbook.slug(about.get('title') or trial.recipe.name)}"
    paths = write_new(Path(folder) / "writeups", stem, {".html": page, ".md": markdown(trial, **about)})
    return paths[0], paths[1]


class _Inline(str):
    """Text that does not begin a line of Markdown."""


def _for_markdown(value: object) -> str:
    r"""Text that Markdown shows as it is; what is Markdown already passes.

    >>> print(_for_markdown("a_b *c* <d> | & &amp; 1. e"))
    a_b \*c\* \<d> \| & \&amp; 1. e
    >>> print(_for_markdown("1. e"), _for_markdown(_Inline("1. Frost & Fire #2")))
    1\. e 1. Frost & Fire #2
    """
    if isinstance(value, Markup):
        return value
    text = re.sub(r"([\\`*\[|~$<]|&(?=#?\w+;)|(?<![^\W_])_|_(?![^\W_])|#+$)", r"\\\1", texts.fit(str(value)))
    text = text.replace("://", "\\://")
    if isinstance(value, _Inline):
        return text
    # Not a list, a rule, a quotation or a heading at the start of a line.
    return re.sub(r"^(\d*)(?=[.)](?:\s|$)|[-+=](?:[\s=-]|$)|[#>])", r"\1\\", text)


def _unbroken(value: object) -> object:
    """Keeps a number and its unit on one line; what is HTML already passes as it is."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return re.sub(
        r"(?<=[\d⅓⅔½¼¾]) (?=[%±]|(?:mL|oz|g|kJ|kcal)\b)|(?<=±) (?=\d)|(?<=%) (?=vol\b)", "\u00a0", texts.fit(value)
    )


@functools.cache
def template(name: str, finalize: Callable[[object], object] | None = None) -> jinja2.Template:
    """A template of ours; a page of HTML is escaped. `finalize` has the last word on each text put in."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("drinklab"),
        autoescape=name.endswith(".html.j2"),
        finalize=finalize,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["inline"] = _Inline
    return environment.get_template(name)
