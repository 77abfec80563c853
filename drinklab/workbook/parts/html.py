"""The words of a panel as HTML, escaped at one place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import ipywidgets as w
import traitlets
from markupsafe import Markup, escape

from ... import texts
from ...declared import LABELS, Declared
from ...display import Display
from ...facts import Fact
from ...kinds import CONCENTRATION
from ...liquid import Liquid
from .alike import alike

WIDE = {"width": "calc(100% - 4px)"}  # a dict: each widget makes a layout of its own


def style(name: str) -> Markup:
    """A style sheet beside this file, as a page takes it in."""
    return Markup("<style>{}</style>").format(Markup(Path(__file__).with_name(name).read_text(encoding="utf-8")))


STYLE = style("panel.css")


_FILE = r"\.(?:json|csv|html|md|zip|ipynb)"
_OF_FILE = re.compile(rf"\S+{_FILE}\b|[^:]*{_FILE}[,:]")
_FIGURE = re.compile(r"[−+]?[\d.,]+( ± [\d.,]+)? [^\d\s]{1,3}( vol)?")  # with its unit, and no words


class Html(w.HTML):
    """A piece of a page. Only what `element` and its kin made is taken as HTML; any other text shows as it is."""

    def __init__(self, value: str = "", **more) -> None:
        super().__init__(value, style=alike(w.HTML.style), **more)

    @traitlets.validate("value")
    def _escaped(self, proposal) -> Markup:
        escaped = escape(proposal["value"])
        # A file's name may hold bytes that are no text: sent as they are, they end the page's talk with the kernel.
        return Markup(texts.fit(str(escaped)))


def element(name: str, *inside: str, **attributes: str) -> Markup:
    """An element of a page. Text in it is escaped; elements stay what they are.

    Examples
    --------
    >>> element("p", "acid < 1 ", element("b", "g/L"), class_="dl-quiet")
    Markup('<p class="dl-quiet">acid &lt; 1 <b>g/L</b></p>')
    """
    marks = "".join(f' {key.rstrip("_")}="{escape(value)}"' for key, value in attributes.items())
    return Markup(f"<{name}{marks}>{join(inside)}</{name}>")


def join(parts: Iterable[str], between: str = "") -> Markup:
    """Text and elements, one after another."""
    return escape(between).join(parts)


def para(*inside: str, **attributes: str) -> Markup:
    """A paragraph."""
    return element("p", *inside, **attributes)


def quiet(*inside: str) -> Markup:
    """A paragraph of what stands behind the figures."""
    return para(*inside, class_="dl-quiet")


def heading(*inside: str) -> Markup:
    """The heading of a part of a panel."""
    return element("h4", *inside)


def bold(*inside: str) -> Markup:
    """What counts most in a sentence."""
    return element("b", *inside)


def marked(text: str) -> Markup:
    """A sentence of `words/`, where ** stands around what counts most in it.

    >>> marked("Add **90 mL** of water.")
    Markup('Add <b>90 mL</b> of water.')
    """
    return join(bold(part) if i % 2 else part for i, part in enumerate(text.split("**")))


def sentence(text: str) -> str:
    """A problem with a capital at its head, unless that is the name of a file."""
    return text if text.startswith("pH") or _OF_FILE.match(text) else text[:1].upper() + text[1:]


def problem_words(problem: str, more: str = "") -> Markup:
    """A problem, as it is said, as a paragraph, several a line each, and a quieter sentence behind."""
    behind = [" ", element("span", more, class_="dl-quiet")] if more else []
    *before, last = (sentence(line) for line in problem.splitlines() or [""])
    return para(
        *(element("span", line, style="display:block") for line in before),
        last,
        *behind,
        class_="dl-problem",
        role="alert",
    )


def caution_words(cautions: Iterable[str]) -> Markup:
    """Cautions, one paragraph each."""
    return join(para(text, class_="dl-caution") for text in cautions)


def declaration(said: Declared, say: Callable[[Fact], str], drink: str = "", labels: bool = True) -> Markup:
    """Cautions and allergens of a drink, the same on every panel, by `say` in the chosen units.

    One line names each, and unfolds to all of them in full, with a word on labels where bottles are in it.
    """
    words = [say(fact) for fact in said.said()]
    told = [*words, *[LABELS] * labels]
    if not words:  # nothing to unfold
        return caution_words(f"{drink}: {text}" if drink else text for text in told)
    lead = " · ".join(map(_lead, words))
    head = element("summary", bold(f"Cautions: {drink}" if drink else "Cautions"), f" {lead}")
    return element("details", head, caution_words(told), class_="dl-care")


def _lead(caution: str) -> str:
    """What a caution is about; allergens in full."""
    if caution.startswith(("Contains", "May contain", "Allergens")):
        return caution.rstrip(".")
    return re.split(r"[:.,;]\s", caution, maxsplit=1)[0].rstrip(".")


def of_milk(liquid: Liquid, show: Display) -> str:
    """What stays in a drink of the milk that is or was in it, as a sentence; "" if there was none."""
    if not liquid.lactose > 0:
        return ""
    lactose, protein = (CONCENTRATION(1000 * part / liquid.volume()) for part in (liquid.lactose, liquid.protein))
    return show.say(Fact("holds of milk", lactose=lactose, protein=protein))


def done_words(*inside: str) -> Markup:
    """What was done, for screen readers too."""
    return para(*inside, class_="dl-done", role="status")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Markup:
    """A table whose first column names its rows; one wider than its place is moved sideways by itself.

    A figure and its unit are kept on one line.
    """
    top = element("tr", *(element("th", word, scope="col") for word in head))
    body = (element("tr", element("th", first, scope="row"), *map(_cell, rest)) for first, *rest in rows)
    made = element("table", element("thead", top), element("tbody", *body), class_="dl-table")
    return element("div", made, class_="dl-wide")


def _cell(inside: str) -> Markup:
    return element("td", inside, **({"class_": "dl-figure"} if _FIGURE.fullmatch(inside.rpartition(">")[2]) else {}))


def tiles(figures: Iterable[Sequence[str]], *below: str, above: str = "") -> Markup:
    """Figures in large print: (word, number, "± spread" or "", unit) each, and a line under it if there is a fifth."""
    cells = (
        element("div", element("small", word), bold(number), f" {around} {unit}", *(element("i", m) for m in more),
                class_="dl-tile")
        for word, number, around, unit, *more in figures
    )  # fmt: skip
    return element("div", above, element("div", *cells, class_="dl-tiles"), *below, role="status")
