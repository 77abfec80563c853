"""An eighth attack, on the pages of what was measured, tasted and learnt: a stranger's words stay text there too.

The folder of `hostile` holds such files as well by now, so that every panel, here and in Chromium
(`tests/browser/test_injection_browser.py`), opens with all of them at once.
"""

import re

import hostile
import ipywidgets as w
import pytest
from all_panels import PANELS, widgets, words
from long_run import some
from test_injection import strange

from drinklab import measured, next_glass
from drinklab.errors import InputError
from drinklab.teach import lessons, paper, progress
from drinklab.workbook.panels import lesson, trainer


def test_the_folder_holds_what_is_to_be_tried(bar):
    joint, tasted = measured.of_folder(bar), next_glass.from_logbook(bar)
    assert joint.asked
    assert sum("hit(" in one.entry.batch for one in joint.entries) > 10
    assert sum("hit(" in who for glass in tasted.glasses for who, _ in glass.scores) > 10
    assert len(progress.everyone(bar).learners) == len(hostile.NAMES)


@pytest.mark.parametrize("name", some(["measured", "next glass", "tasting", "service"], 2))
def test_what_a_stranger_measured_and_tasted_stays_text(name, bar):
    panel = PANELS[name](bar)
    seen = words(panel)
    assert strange(panel) == []
    for control in widgets(panel):
        if isinstance(control, (w.Dropdown, w.Select)) and control.options:
            hits = [index for index, (label, _) in enumerate(control._options_full) if "hit(" in label]
            for index in {0, len(control.options) // 2, len(control.options) - 1, *hits[:: max(1, len(hits) // 2)]}:
                control.index = index
                seen += words(panel)  # a drink of ours may be chosen last
                assert strange(panel) == []
    assert "hit(" in seen, "nothing of it reached the page"


def test_what_a_strangers_learners_did_stays_text(bar):
    page = trainer.panel(bar)
    assert strange(page) == []
    assert "x0" in words(page)


@pytest.mark.parametrize("part", ["goal", "guess", "half_worked", "yours", "why", "summary", "next_lesson"])
def test_a_lesson_of_such_a_learner_stays_text(part, bar):
    page = getattr(lesson, part)(lessons.ids()[1], folder=bar)
    assert strange(page) == []
    boxes, seen = 0, ""
    for control in [*widgets(page)]:
        if isinstance(control, w.Text):
            control.value, boxes = hostile.NAMES[0], boxes + 1
            seen += words(page)
            assert strange(page) == []
    for control in [*widgets(page)]:
        if isinstance(control, w.Button):
            control.click()
            seen += words(page)
            assert strange(page) == []
    assert ("hit(" in seen) == bool(boxes), "what is typed is told, where there is a box"


def test_what_is_wrong_with_such_learners_is_text(damaged):
    for page in (trainer.panel(damaged), lesson.goal(lessons.ids()[1], folder=damaged)):
        assert strange(page) == []
        assert re.search(r"hit\(|/seen", words(page))


@pytest.mark.parametrize("name", ["measured", "next glass"])
def test_what_is_wrong_with_such_files_is_text(name, damaged):
    (damaged / measured.OWN_FILE).write_text((damaged / measured.OWN_FILE).read_text().replace("% vol", hostile.NASTY))
    panel = PANELS[name](damaged)
    assert strange(panel) == []
    assert "hit(" in words(panel)


@pytest.mark.parametrize(
    "typed", ["\u00b2", "\u0662\u0661", "1e3", "-1", "0", "9" * 5000, "", " ", "A7,,", "A7, A7", "con"]
)
def test_learners_of_a_sheet_are_read_or_refused_in_a_sentence(typed, tmp_path):
    page = trainer.panel(tmp_path)
    page.learners.value = typed
    page.write()
    said = re.sub("<style.*?</style>|<[^>]+>", "", page.said.value, flags=re.DOTALL)
    assert "must be" in said or paper.FOLDER in said


@pytest.mark.parametrize("code", ["../a", "a/b", "", "a" * 25, "a.b", "a\nb", "\u202ea", "con"])
def test_no_code_leads_out_of_the_folder(code, tmp_path):
    with pytest.raises(InputError):
        progress.attempted(tmp_path, code, "let_down", seed=1, typed="3", word="right")
    assert not list(tmp_path.rglob("*.json"))
