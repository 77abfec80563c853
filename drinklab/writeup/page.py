"""A trial as a page and as text, filled into the templates."""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import Any, NamedTuple

from markupsafe import Markup

from .. import plain_data, texts
from ..display import Display
from ..files import write_new
from ..trial import Trial
from . import data, live
from .facts import About, facts_of, told_as
from .filling import Inline, template

WRITEUPS = "writeups"


def html(
    trial: Trial,
    *,
    chart_html: str = "",
    chart_svg: str = "",
    file: str = "",
    whole: bool = False,
    **about: Any,
) -> str:
    """One HTML page about a trial; nothing in it is fetched from anywhere.

    Parameters
    ----------
    trial : Trial
    chart_html, chart_svg : str
        A live chart for the screen and a still one for print, as `workbook.charts` makes them. They
        are put in as they are: never pass a text that somebody typed.
    file : str
        The name under which the page is kept; by default that of its first version.
    whole : bool
        Whether what is folded stands open, and so is printed too.
    **about
        The fields of `About`: title, author, finding, notes, display ...

    Returns
    -------
    str

    Raises
    ------
    InputError
        For an unknown country, or a text that is too long.
    """
    told = About(**about)
    trial = told_as(trial, told)
    return _page(trial, facts_of(trial, told), chart_html, chart_svg, file, whole)


def _page(trial: Trial, facts: dict[str, Any], chart_html: str, chart_svg: str, file: str, whole: bool) -> str:
    picture = base64.b64encode(chart_svg.encode()).decode() if chart_svg else ""
    # "<" would let a name end the script element.
    linked = json.dumps(facts["data"], ensure_ascii=False, indent=1, allow_nan=False)
    for sign in "<>&":
        linked = linked.replace(sign, f"\\u{ord(sign):04x}")
    more = {"data": Markup(linked), "chart_html": Markup(chart_html), "picture_svg": picture, "whole": whole}
    package = base64.b64encode(data.package(trial, facts)).decode()
    more |= {"tried": _tried(trial, facts["show"], bool(chart_html)), "package": package}
    return template("writeup.html.j2", _unbroken).render(facts | _named(facts, file) | more)


def _tried(trial: Trial, show: Display, other_scripts: bool) -> dict[str, Any]:
    """What lets a reader try the drink: a section, and the script at the end of the page; no other script may run."""
    script = live.script()
    scripts = "'unsafe-inline' 'unsafe-eval'" if other_scripts else live.policy(script)
    return {
        "section": live.section(trial, display=show),
        "style": live.style(),
        "script": script,
        "policy": Markup(scripts),
    }


def _named(facts: dict[str, Any], file: str) -> dict[str, Any]:
    """What the templates say of their own file."""
    file = file or f"{stem_of(facts['drink'], facts['title'])}_01.html"
    stem = file.removesuffix(".html")
    return {"file": file, "stem": stem, "bibtex": data.bibtex(facts, stem)}


def stem_of(drink: str, title: str = "") -> str:
    """The name of a write-up's files, less the number of its version: the drink, and its title where that is another.

    >>> stem_of("Clear Line"), stem_of("Clear Line", "Clear Line, third trial"), stem_of("Clear Line", "Tuesday")
    ('clear-line_version', 'clear-line-third-trial_version', 'clear-line-tuesday_version')
    """
    name = title if drink.casefold() in title.casefold() else f"{drink} {title}".strip()
    return f"{plain_data.slug(name)}_version"


def markdown(trial: Trial, *, file: str = "", **about: Any) -> str:
    """The same write-up as Markdown, without the chart. Arguments as for `html`."""
    told = About(**about)
    facts = facts_of(told_as(trial, told), told)
    return _plain(facts, file)


def _plain(facts: dict[str, Any], file: str) -> str:
    return template("writeup.md.j2", for_markdown).render(facts | _named(facts, file))


class Saved(NamedTuple):
    """The page and the Markdown file."""

    page: Path
    text: Path


def save(trial: Trial, folder: str | Path, *, chart_html: str = "", chart_svg: str = "", **about: Any) -> Saved:
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
        The page and the Markdown file, of one name: the drink's, and the number of its version.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    told = About(**about)
    trial = told_as(trial, told)
    facts = facts_of(trial, told)
    made = {
        ".html": lambda stem: _page(trial, facts, chart_html, chart_svg, f"{stem}.html", False),
        ".md": lambda stem: _plain(facts, f"{stem}.html"),
    }
    page, text = write_new(Path(folder) / WRITEUPS, stem_of(facts["drink"], facts["title"]), made)
    return Saved(page, text)


def for_markdown(value: object) -> str:
    r"""Text that Markdown shows as it is; what is Markdown already passes.

    >>> print(for_markdown("a_b *c* <d> | & &amp; 1. e"))
    a_b \*c\* \<d> \| & \&amp; 1. e
    >>> print(for_markdown("1. e"), for_markdown(Inline("1. Frost & Fire #2")))
    1\. e 1. Frost & Fire #2
    """
    if isinstance(value, Markup):
        return value
    text = re.sub(r"([\\`*\[|~$<]|&(?=#?\w+;)|(?<![^\W_])_|_(?![^\W_])|#+$)", r"\\\1", texts.fit(str(value)))
    text = text.replace("://", "\\://")
    if isinstance(value, Inline):
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
