"""Nothing that is opened or typed becomes HTML: one class of widget escapes, and every page is built through it."""

import ast
from pathlib import Path

import pytest
from markupsafe import Markup

from drinklab.workbook import lesson

WORKBOOK = Path(lesson.__file__).parent
NASTY = "<img src=x onerror=alert(1)>"


def test_text_that_reaches_a_page_unmarked_shows_its_tags():
    place = lesson.Html(NASTY)
    assert place.value == "&lt;img src=x onerror=alert(1)&gt;"
    place.value = f"<b>{lesson.bold(NASTY)}</b>"  # an f-string forgets what was marked: it shows, and does not run
    assert "<" not in place.value
    place.value = lesson.bold("a < b")
    assert place.value == "<b>a &lt; b</b>"
    place.value += lesson.para(NASTY)
    assert place.value == "<b>a &lt; b</b><p>&lt;img src=x onerror=alert(1)&gt;</p>"


@pytest.mark.parametrize(
    "made",
    [
        lesson.para(NASTY), lesson.quiet(NASTY), lesson.heading(NASTY), lesson.bold(NASTY), lesson.join([NASTY]),
        lesson.join(["a", "b"], NASTY), lesson.element("p", "", style='"' + NASTY), lesson.problem_words(NASTY, NASTY),
        lesson.caution_words([NASTY]), lesson.done_words(NASTY), lesson.table([NASTY], [(NASTY, NASTY)]),
        lesson.tiles([(NASTY, NASTY, NASTY, NASTY, NASTY)], NASTY, above=NASTY),
    ],
)  # fmt: skip
def test_each_piece_of_a_page_escapes_what_it_is_given(made):
    assert isinstance(made, Markup)
    assert "<img" not in made
    assert '""<' not in made
    assert "&lt;img" in made


def test_only_the_lesson_makes_html():
    """Elsewhere no widget that takes HTML as it is, and nothing declared safe by hand."""
    named = {"HTML", "HTMLMath", "Markup", "description_allow_html", "set_title_html"}
    for file in WORKBOOK.glob("*.py"):
        if file.name == "lesson.py":
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = {getattr(node, part, None) for part in ("attr", "id", "arg", "name")}
            assert not names & named, f"{file.name}:{node.lineno}"
