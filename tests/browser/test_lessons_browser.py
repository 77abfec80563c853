"""Every lesson as a bar person meets it: it opens by itself, nothing is cut off, each panel answers a key."""

from __future__ import annotations

import json
import os
import shutil

import pytest
from in_browser import barriers
from long_run import some

from drinklab.teach import bank, progress

# Notebook -> for each of its panels a dial that can be moved, or None, and whether it has a chart. Where a lesson has
# several, its strip opens them one at a time, by these titles.
LESSONS = {
    "01_strength.ipynb": {
        "Letting down": ("Its strength", True), "What a label says": ("Strength", False),
        "Several bottles": ("Of bottle 1", False), "In the glass": ("Poured", False),
    },
    "03_balance.ipynb": {
        "One drink": ("pisco", True), "From a wish to amounts": ("Strength", True),
        "Two amounts at once": ("pisco", True), "Made ahead": ("Juice to adjust", True),
        "One against another": (None, False),
    },
    "04_clarification.ipynb": {
        "Milk wash": ("Milk, to 1 of drink", True), "The filter": (None, True), "The day": ("Rest in the fridge", True),
    },
    "05_carbonation.ipynb": [("Fizz", True)],
    "06_gels.ipynb": [("Room or terrace", True)],
    "08_tasting.ipynb": [("Guests to notice", True)],
    "09_to_the_bar.ipynb": [("Serves", False), (None, False)],
    "10_logbook.ipynb": [(None, False)],
}  # fmt: skip
PANEL = ".dl-bench:not(.dl-lesson)"  # the parts of a lesson that are no panel have both

# Words that do not fit their place: a label or unit of a dial, a caption, a button.
CUT = """() => [...document.querySelectorAll(".dl-bench .widget-label, .dl-bench button, .dl-tile, .dl-bench label")]
  .filter(e => e.offsetParent && e.innerText.trim() && e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"""


@pytest.fixture
def opened(lasting_page, lab):
    """A notebook on a page high enough for every cell; nothing may be said in the console."""
    page, said = lasting_page, []

    def note(message) -> None:
        if message.type == "error":
            said.append(message.text)

    page.goto("about:blank")  # what the notebook before says as it goes is not of this one
    page.on("console", note)
    page.set_viewport_size({"width": 1280, "height": 9000})

    def at(notebook: str):
        page.goto(lab.address(notebook))
        page.wait_for_selector(".dl-bench", timeout=120_000)
        return page

    yield at
    page.remove_listener("console", note)
    assert not said, said


def _drawn(page, panels: int, charts: int) -> None:
    page.wait_for_function(
        f"document.querySelectorAll('{PANEL}').length === {panels} && "
        f"document.querySelectorAll('.drinklab-chart[data-drawn] svg').length >= {charts}",
        timeout=120_000,
    )
    page.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)


def _sound(page) -> None:
    text = page.inner_text(".jp-Notebook")
    assert "Traceback" not in text
    assert " nan " not in text.lower()
    assert page.locator(".dl-problem").count() == 0


@pytest.fixture
def log_of_a_filter(lab, notebook):
    """One whose name holds bytes that are no UTF-8 (POSIX): a page that sends them as they are loses its kernel."""
    if notebook != "04_clarification.ipynb":
        yield
        return
    log = {"minutes": [30, 60], "volumes": [100, 160], "new_papers": [], "total": 500, "filters": 1, "returned": 0,
           "drink": "x", "kept_full": None}  # fmt: skip
    file = os.path.join(os.fsencode(lab.folder), b"my_filter_\xff_1.json")
    with open(file, "w") as writing:
        writing.write(json.dumps(log))
    yield
    os.unlink(file)


@pytest.mark.usefixtures("log_of_a_filter")
@pytest.mark.parametrize("notebook", some(list(LESSONS), 2))
def test_a_lesson_opens_whole_and_answers(notebook, opened, press):
    page, panels = opened(notebook), LESSONS[notebook]
    if isinstance(panels, dict):
        for number, (title, (dial, chart)) in enumerate(panels.items()):
            button = page.get_by_role("button", name=title, exact=True)
            button.wait_for(timeout=120_000)
            old = page.wait_for_selector(PANEL)
            button.click()
            if number:  # the first one is open
                page.wait_for_function("old => !old.isConnected", arg=old, timeout=120_000)
            _drawn(page, 1, int(chart))
            _sound(page)
            assert page.evaluate(CUT) == []
            if dial:
                press(page, dial, 4)
            if title == "The filter":
                page.get_by_text("my_filter_").first.wait_for(state="attached")
    else:
        _drawn(page, len(panels), sum(chart for _, chart in panels))
        _sound(page)
        assert page.evaluate(CUT) == []
        assert page.evaluate(CUT.replace("e.scrollWidth > e.clientWidth + 1", "true")), "the check sees no words at all"
        for number, (dial, _) in enumerate(panels):
            if dial:
                press(page, dial, 4, number)
    _sound(page)
    assert barriers(page) == []


@pytest.fixture
def nothing_guessed(lab):
    """Nobody has guessed anything yet."""
    shutil.rmtree(lab.folder / "learners")
    yield
    lab.guess()


@pytest.mark.usefixtures("nothing_guessed")
def test_a_guess_opens_the_panel_and_words_stay_in_their_line(opened):
    page = opened("01_strength.ipynb")
    page.get_by_role("heading", name="Next", exact=True).wait_for()
    assert page.locator(PANEL).count() == 0
    # A word that opens stands in the line of those around it.
    word = page.locator(".dl-word", has_text="cask").first
    line = word.evaluate("e => e.parentElement.getBoundingClientRect().height / e.getBoundingClientRect().height")
    assert line < 3, "a question of two lines"
    box = page.get_by_label("Answer", exact=True).first.bounding_box()
    button = page.get_by_role("button", name="This is my guess").bounding_box()
    assert abs(box["y"] - button["y"]) < box["height"], "the answer's box, its unit and its button stand in one line"
    page.get_by_label("Answer", exact=True).first.fill("0,37 L")
    page.get_by_label("Answer", exact=True).first.press("Enter")
    _drawn(page, 1, 1)
    assert "You guessed 370 mL. It is 383 mL. Your guess is 3 % too low." in page.inner_text(".jp-Notebook")
    colour = "e => getComputedStyle(e).backgroundColor"
    strip = [page.get_by_role("button", name=title, exact=True) for title in ("Letting down", "In the glass")]
    assert strip[0].evaluate(colour) != strip[1].evaluate(colour), "it shows which panel is open"
    chart = page.locator(".drinklab-chart svg").first.bounding_box()
    assert chart["width"] > 600, "as wide as on a page of its own"
    _sound(page)
    _one_way_through(page)


def _one_way_through(page) -> None:
    """A mistake, its hint, the right answer, why, and the summary: as a learner goes down the page."""
    problem = bank.exercise("proof_label").drawn(bank.seed_of(progress.USUAL, "proof_label", 0))
    page.get_by_role("button", name="2. A label in proof").click()
    form = page.locator(".dl-lesson:not(:has(.dl-lesson))", has=page.get_by_role("heading", name="A label in proof"))
    form.wait_for()
    box = form.get_by_label("Answer", exact=True)
    for typed, told in (
        ("about two", "written in figures"),
        (f"{problem.wrong['proof_as_percent']:.4g}", "You used the proof as if it were % vol"),
        (f"{problem.answer.value / 1000:.5g}", "right in litres"),
        (f"{problem.answer.value:.4g}", "Right:"),
    ):
        box.fill(typed)
        box.press("Enter")
        form.get_by_text(told).wait_for()
    page.locator(
        "[aria-label='2. A label in proof'] .fa-check, button:has-text('2. A label in proof') .fa-check"
    ).wait_for()
    assert form.get_by_text("Right:").is_visible(), "the tick leaves the exercise open"
    page.get_by_text("Alcohol and water take up less room together than apart.", exact=True).click()
    page.get_by_text("Grams add up, mL do not.").wait_for()
    assert page.get_by_role("heading", name="Strength: summary").count() == 1
    _sound(page)
