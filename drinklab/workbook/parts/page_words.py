"""The words of the glossary that a page of controls uses, each with what it means: a line that opens. No maths here."""

from __future__ import annotations

import re
from collections.abc import Iterator

import ipywidgets as w

from ...teach import glossary
from .html import Html, bold, element, join

_MARKS = re.compile(r"<style>.*?</style>|<[^>]+>", re.DOTALL)
MOST_OPTIONS = 12  # a longer list holds names, not words of the trade


class PageWords(Html):
    """Under a page: its words of the glossary. `look` reads the page once it stands.

    A line of its own kind of HTML that opens, so that keys reach it and it is read out as what it is.
    """

    def look(self, page: w.Widget) -> None:
        """List the words of a page's labels, choices and texts."""
        self.value = words_of(" · ".join(labels(page)))


def words_of(text: str) -> str:
    """The words of the glossary in a text, as a line that opens; "" where there is none.

    >>> str(words_of("Strength, % vol"))
    '<details class="dl-words"><summary>Words on this page (2)</summary>...
    """
    found = {word.word: word for _, word in glossary.split(text) if word}
    if not found:
        return join([])
    listed = [found[word] for word in sorted(found, key=str.casefold)]
    rows = (element("dt", bold(one.word)) + element("dd", one.means) for one in listed)
    head = element("summary", f"Words on this page ({len(listed)})")
    return element("details", head, element("dl", *rows), class_="dl-words")


def labels(widget: w.Widget) -> Iterator[str]:
    """What stands on a page beside its figures: names of controls, choices, headings, texts."""
    if isinstance(widget, Html):
        yield _MARKS.sub(" ", widget.value)
    yield from (text for text in (getattr(widget, "description", ""), *getattr(widget, "titles", ())) if text)
    options = getattr(widget, "_options_labels", ())
    if len(options) <= MOST_OPTIONS:
        yield from options
    for inner in getattr(widget, "children", ()):
        yield from labels(inner)
