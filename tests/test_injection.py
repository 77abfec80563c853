"""Nothing that is opened or typed becomes HTML: one class of widget escapes, and every page is built through it."""

import ast
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import hostile
import ipywidgets as w
import pytest
from all_panels import NO_DRINK, PANELS, charts, widgets, words
from long_run import some
from markupsafe import Markup

from drinklab import trial, writeup
from drinklab.pantry import load
from drinklab.teach import glossary
from drinklab.workbook.parts import html, panel
from drinklab.workbook.parts.lesson_words import LESSON_STYLE, say

WORKBOOK = Path(panel.__file__).parent
NASTY = "<img src=x onerror=alert(1)>"


def test_text_that_reaches_a_page_unmarked_shows_its_tags():
    place = html.Html(NASTY)
    assert place.value == "&lt;img src=x onerror=alert(1)&gt;"
    place.value = f"<b>{html.bold(NASTY)}</b>"  # an f-string forgets what was marked: it shows, and does not run
    assert "<" not in place.value
    place.value = html.bold("a < b")
    assert place.value == "<b>a &lt; b</b>"
    place.value += html.para(NASTY)
    assert place.value == "<b>a &lt; b</b><p>&lt;img src=x onerror=alert(1)&gt;</p>"


@pytest.mark.parametrize(
    "made",
    [
        html.para(NASTY), html.quiet(NASTY), html.heading(NASTY), html.bold(NASTY), html.join([NASTY]),
        html.join(["a", "b"], NASTY), html.element("p", "", style='"' + NASTY), html.problem_words(NASTY, NASTY),
        html.caution_words([NASTY]), html.done_words(NASTY), html.table([NASTY], [(NASTY, NASTY)]),
        html.tiles([(NASTY, NASTY, NASTY, NASTY, NASTY)], NASTY, above=NASTY),
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
    for file in WORKBOOK.rglob("*.py"):
        if file.name == "html.py":
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = {getattr(node, part, None) for part in ("attr", "id", "arg", "name")}
            assert not names & named, f"{file.name}:{node.lineno}"


# --- the whole battery against every panel ---------------------------------------------------------------

# What a page of ours is made of; all else came from a text. (A style sheet: our own, whole.)
ELEMENTS = {
    "p", "b", "i", "h4", "div", "span", "small", "table", "thead", "tbody", "tr", "th", "td", "ol", "ul", "li", "details",
    "summary", "dl", "dt", "dd",
}  # fmt: skip
# What each mark of ours may say, whole: a mark of a text is none of these.
MARKS = {
    "class": r"dl-[a-z0-9-]+( dl-[a-z0-9-]+)*",
    "role": "status|alert",
    "scope": "col|row",
    "style": r"display:block|(display:flex;)?line-height:1\.2|display:flex;flex-wrap:wrap;gap:0 40px|width:\d+px|white-space: pre-line"
    r"|white-space:normal;max-width:\d+ch(;text-align:left)?|margin: 2px 0 2px \d+px",
}
# A bar in a table, or the strip of shares: nothing but shapes, of these marks alone.
_NUMBER, _SHAPE = r"[\d.-]+", r"dl-(bar-[a-z-]+|part-\d)"
SHAPES = {
    "svg": {
        "viewbox": r"[\d. -]+", "preserveaspectratio": "none", "class": "dl-(mark|strip)", "aria-hidden": "true",
        "role": "img", "aria-label": r"Shares of the weight: [a-z\d ,%]+\.",
    },
    "rect": {"x": _NUMBER, "y": _NUMBER, "width": _NUMBER, "height": _NUMBER, "class": _SHAPE},
    "path": {"d": r"[MHVLZ\d., -]+", "class": _SHAPE},
}  # fmt: skip
SHEETS = (html.STYLE, LESSON_STYLE)
MEANINGS = {word.means for word in glossary.words().values()}


def _explains(tag: str, attrs: list) -> bool:
    """Whether it is a word of the lessons that opens, or what it means."""
    if tag == "span":
        return attrs == [("class", "dl-means"), ("aria-hidden", "true")]
    *ours, (name, means) = attrs or [("", "")]
    return (
        tag == "button" and ours == [("type", "button"), ("class", "dl-word")]
        and name == "aria-description" and means in MEANINGS
    )  # fmt: skip


class _Elements(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.strange, self.text = [], []

    def handle_starttag(self, tag, attrs):
        marks = MARKS if tag in ELEMENTS else SHAPES.get(tag)
        ours = marks is not None and all(re.fullmatch(marks.get(name, r"\b\B"), value or "") for name, value in attrs)
        if not (ours and (tag in ELEMENTS or "class" in dict(attrs))) and not _explains(tag, attrs):
            self.strange.append((tag, attrs))

    def handle_comment(self, data):
        self.strange.append(("comment", data))

    handle_decl = unknown_decl = handle_pi = handle_comment

    def handle_data(self, data):
        self.text.append(data)


def strange(panel) -> list:
    """Elements and handlers on a panel's page that we did not make, and other ways from text to HTML."""
    found = []
    for widget in widgets(panel):
        if isinstance(widget, w.HTML):
            assert isinstance(widget, html.Html), widget
            reader = _Elements()
            reader.feed("" if widget.value in SHEETS else widget.value)
            reader.close()
            found += reader.strange
        found += [widget] * bool(getattr(widget, "description_allow_html", False))
        # These are typeset as formulas, in which a link can stand.
        typeset = [getattr(widget, "description", ""), widget.value if isinstance(widget, w.Label) else ""]
        found += [text for text in typeset if any(sign in text for sign in ("$", "\\(", "\\["))]
    for chart in charts(panel):
        spec = json.dumps(chart.spec)
        found += [name for name in ("hit(", "<img", '"href"', '"image"') if name in spec]
    return found


@pytest.mark.parametrize("name", some(list(PANELS), 8))
def test_saved_things_of_a_stranger_stay_text(name, bar):
    panel = PANELS[name](bar)
    assert strange(panel) == []
    for control in widgets(panel):  # each saved trial, log and bottle that can be chosen
        if isinstance(control, w.Dropdown):
            hits = [value for label, value in control._options_full if "hit(" in label or "saved" in str(value)]
            for value in hits[:: max(1, len(hits) // 2)]:
                control.value = value
                assert strange(panel) == []
    if name not in NO_DRINK:
        panel.use(hostile.drink(bar))
    assert strange(panel) == []
    # The next glass shows scored trials alone: tests/test_next_glass_panel.py has a stranger's.
    assert name in ("day", "next glass") or "hit(" in words(panel), "nothing of it reached the page"


@pytest.mark.parametrize("name", some(list(PANELS), 8))
def test_what_is_wrong_with_a_stranger_s_files_is_text(name, damaged):
    panel = PANELS[name](damaged)
    assert strange(panel) == []
    assert "hit(" in words(panel), "nothing of it reached the page"


@pytest.mark.parametrize("name", some(list(PANELS), 8))
@pytest.mark.parametrize("text", [hostile.ALL, hostile.NAMES[0]])
def test_what_is_typed_stays_text(name, text, tmp_path):
    panel = PANELS[name](tmp_path)
    for control in [*widgets(panel)]:
        if isinstance(control, (w.Text, w.Textarea, w.Combobox)):
            control.value = text
    for control in [*widgets(panel)]:
        if isinstance(control, w.Button) and control.description not in ("✕", "Write up"):  # has its own tests
            control.click()
    assert strange(panel) == []


def test_the_check_sees_what_is_strange():
    for text in hostile.BATTERY:
        panel = w.VBox([html.Html(Markup(text))])
        if "<" in text.replace("<%", ""):
            assert strange(panel), text
        assert strange(w.VBox([html.Html(text)])) == []


@pytest.mark.parametrize(
    "made",
    [
        "<style>*{background:url(/seen)}</style>", html.STYLE + Markup("<style>b{}</style>"),
        '<p style="background:url(/seen)">', '<p style="display:block;background:url(/seen)">', '<p class="lm-Widget">',
        '<p role="button">', "<p hidden>", '<p aria-description="Proof.">', "<button>x</button>", "<svg></svg>",
        '<button type="button" class="dl-word" aria-description="hit(1)">proof</button>',
        '<svg class="dl-strip" aria-label="hit(1)"></svg>', '<p style="line-height:1.2;position:fixed">',
        '<svg class="dl-mark"><path class="dl-bar-of" d="url(/seen)"></path></svg>',
    ],
)  # fmt: skip
def test_the_check_takes_no_other_sheet_mark_or_button_for_ours(made):
    assert strange(w.VBox([html.Html(Markup(made))]))


def test_the_check_knows_our_sheets_and_words():
    explained = say("Marked in proof.")
    assert "<button" in explained
    assert strange(w.VBox([html.Html(sheet) for sheet in (*SHEETS, explained)])) == []


def test_tables_of_a_notebook_show_text(bar):
    """A frame of pandas, as a notebook shows it, and the write-up of a stranger's drink."""
    done = trial.run(hostile.drink(bar), pantry=load(bar))
    frame = done.frame().rename(index={"mixed": NASTY}, columns={"abv": NASTY})
    assert "<img" not in frame._repr_html_()
    assert "<img" not in load(bar)["own_0"].__repr__() or not hasattr(load(bar)["own_0"], "_repr_html_")
    again = writeup.rerun(writeup.html(done, title=hostile.NAMES[0], notes=hostile.ALL), pantry=load(bar))
    panel = PANELS["bench"](bar)
    panel.use(again.setting)
    assert strange(panel) == []
