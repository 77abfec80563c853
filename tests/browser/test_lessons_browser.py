"""Every lesson as a bar person meets it: it opens by itself, nothing is cut off, each panel answers a key."""

from __future__ import annotations

import pytest

# Notebook -> for each of its panels a dial that can be moved, or None, and whether it has a chart. A panel with a chart
# and no dial of its own goes on from the one before it, and answers that one's.
LESSONS = {
    "03_balance.ipynb": [
        ("pisco", True), ("Strength", True), ("pisco", True), ("Juice to adjust", True), (None, False),
    ],
    "04_clarification.ipynb": [("Milk, to 1 of drink", True), (None, True), ("Rest in the fridge", True)],
    "05_carbonation.ipynb": [("Level", True)],
    "06_gels.ipynb": [("Room or terrace", True)],
    "08_tasting.ipynb": [("Guests to notice", True)],
    "09_to_the_bar.ipynb": [("Serves", False), (None, False)],
    "10_logbook.ipynb": [(None, False)],
}  # fmt: skip

# Words that do not fit their place: a label or unit of a dial, a caption, a button.
CUT = """() => [...document.querySelectorAll(".dl-bench .widget-label, .dl-bench button, .dl-tile, .dl-bench label")]
  .filter(e => e.offsetParent && e.innerText.trim() && e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"""


@pytest.fixture(params=LESSONS)
def lesson(page, lab, request):
    said = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.set_viewport_size({"width": 1280, "height": 9000})  # so that every cell is drawn
    page.goto(lab.address(request.param))
    panels = LESSONS[request.param]
    charts = sum(chart for _, chart in panels)
    page.wait_for_function(
        f"document.querySelectorAll('.dl-bench').length === {len(panels)} && "
        f"document.querySelectorAll('.drinklab-chart[data-drawn] svg').length >= {charts}",
        timeout=120_000,
    )
    page.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)
    yield page, panels
    assert not said, said


def test_a_lesson_opens_whole_and_answers(lesson, press):
    page, panels = lesson
    text = page.inner_text(".jp-Notebook")
    assert "Traceback" not in text
    assert " nan " not in text.lower()
    assert page.locator(".dl-problem").count() == 0
    assert page.evaluate(CUT) == []
    assert page.evaluate(CUT.replace("e.scrollWidth > e.clientWidth + 1", "true")), "the check sees no words at all"
    before = page.locator(".dl-bench").all_inner_texts()
    for number, (dial, chart) in enumerate(panels):
        if dial:
            press(page, dial, 11, number)
        elif chart:
            shown = f"document.querySelectorAll('.dl-bench')[{number}].innerText"
            page.wait_for_function(f"before => {shown} !== before", arg=before[number])
    assert page.locator(".dl-problem").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
