"""The words of a lesson as HTML: text with its words explained at first use, sums, hints. No maths here."""

from __future__ import annotations

from collections.abc import Iterable

from ...teach import glossary
from ...teach.bank import Problem
from .html import STYLE, element, heading, join, quiet, style

LESSON_STYLE = STYLE + style("lesson.css")


def explained(text: str, known: Iterable[str] = ()) -> str:
    """A text whose words of the glossary say what they mean at their first use: under a pointer, a tap or a key.

    >>> explained("Marked in proof.")
    Markup('Marked in <button type="button" class="dl-word" aria-description="An older way ...
    """
    return join(piece if word is None else _word(piece, word) for piece, word in glossary.split(text, known))


def _word(piece: str, word: glossary.Word) -> str:
    button = element("button", piece, type="button", class_="dl-word", **{"aria-description": word.means})
    return button + element("span", word.means, class_="dl-means", **{"aria-hidden": "true"})


def say(text: str, known: Iterable[str] = ()) -> str:
    """A paragraph of a lesson; not a `p`, since a word that opens may not stand in one."""
    return element("div", explained(text, known), class_="dl-say")


def plain(text: str, kind: str = "") -> str:
    """A paragraph without explanations."""
    return element("div", text, class_=f"dl-say {kind}".strip())


def sum_line(text: str) -> str:
    """A sum in a line of its own."""
    return element("div", element("span", text, class_="dl-sum")) if text else join([])


def blank_line(left: str) -> str:
    """A sum whose end is left out."""
    return element("div", element("span", f"{left} = ", element("span", " ", class_="dl-blank"), class_="dl-sum"))


def bullets(lines: Iterable[str], known: Iterable[str] = ()) -> str:
    """A list, each word explained once."""
    seen, items = set(known), []
    for line in lines:
        items.append(element("li", explained(line, seen)))
        seen |= {word.word for _, word in glossary.split(line) if word}
    return element("ul", *items)


def question_words(title: str, problem: Problem, known: Iterable[str] = ()) -> str:
    """A question under its heading, and what may be looked up for it."""
    table = problem.table()
    return join([heading(title), say(problem.text(), known), quiet(table) if table else ""])


def worked_lines(problem: Problem, known: Iterable[str] = ()) -> str:
    """Each step with its sum."""
    seen, lines = set(known), []
    for words, done in problem.steps():
        lines.append(element("li", explained(words, seen), sum_line(done)))
        seen |= {word.word for _, word in glossary.split(words) if word}
    return element("ol", *lines)


def right_words(text: str) -> str:
    """That it is right, for screen readers too."""
    return element("div", text, class_="dl-say dl-right-answer", role="status")


def hint_words(*lines: str) -> str:
    """A hint, for screen readers too."""
    return element("div", *(element("div", line) for line in lines if line), class_="dl-say dl-hint", role="status")
