"""The lesson on ice as a bar person meets it: a key on a slider moves number and chart."""

from __future__ import annotations

import re

import pytest
from in_browser import becomes, unfold

from drinklab import logbook

HANDLES = ".dl-bench .noUi-handle"


@pytest.fixture(scope="module")
def opened(lasting_page, lab):
    page = lasting_page
    page.goto(lab.address("02_dilution.ipynb"))
    page.wait_for_selector(f"{HANDLES} >> visible=true", timeout=60_000)
    page.wait_for_selector(".drinklab-chart[data-drawn] svg", timeout=60_000)
    page.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)
    return page


@pytest.fixture
def lesson(opened, lab):
    page = opened
    lab.again(page)
    page.wait_for_function("document.querySelector('.drinklab-chart svg').textContent.includes('12 s')")
    return page


def _dial(page, name: str):
    return page.locator(".dl-bench .widget-hbox", has_text=re.compile(rf"^\s*{name}")).last


def _dilution(page) -> int:
    return int(re.search(r"Dilution \(of the drink before ice\)\s+(\d+)", page.inner_text(".dl-tiles"))[1])


def test_a_key_on_a_slider_moves_number_and_chart(lesson):
    before, drawn = _dilution(lesson), lesson.inner_html(".drinklab-chart svg")
    assert before == pytest.approx(46, abs=1)
    handle = _dial(lesson, "Time on the ice").locator(".noUi-handle")
    handle.focus()
    for _ in range(12):  # half a second each: from 12 s to 6 s
        handle.press("ArrowLeft")
    lesson.wait_for_function("document.querySelector('.drinklab-chart svg').textContent.match(/(^|[^.\\d])6 s: /)")
    becomes(lesson, lambda: _dilution(lesson) < before, True)
    assert lesson.inner_html(".drinklab-chart svg") != drawn
    assert "published figure" in lesson.text_content(".drinklab-chart svg")
    assert "limit" in lesson.text_content(".drinklab-chart svg")


def test_other_degrees_bring_another_picture(lesson, lab):
    unfold(lesson, "Shown in")
    lesson.get_by_label("Degrees in").select_option("°F")

    def drawn(*words):  # all in one look: a picture that is being changed is no picture
        lesson.wait_for_function(
            "words => words.every(word => document.querySelector('.drinklab-chart svg')?.textContent.includes(word))",
            arg=words,
        )

    drawn("Temperature [°F]", "12 s: 26 °F")
    becomes(lesson, lesson.locator(".drinklab-chart").count, 1)
    assert "26 °F" in re.sub(r"\s+", " ", lesson.inner_text(".dl-tiles"))
    # the dials stand at the same temperatures in other degrees
    for name, degrees in (("Drink before ice", "68"), ("Ice temperature", "32"), ("Room", "71.6")):
        assert _dial(lesson, name).locator(".dl-number input").input_value() == degrees
    lesson.get_by_label("Degrees in").select_option("°C")
    drawn("Temperature [°C]")
    becomes(lesson, lambda: logbook.choices(lab.folder)["temperature"], "°C")  # as the next page will open


def test_another_technique_brings_its_own_time(lesson):
    for technique, seconds in (("stirred", "37"), ("shaken", "12"), ("built", "15")):
        lesson.get_by_label("Technique").select_option(technique)
        lesson.wait_for_function(f"document.querySelector('.drinklab-chart svg').textContent.includes('{seconds} s: ')")
        becomes(lesson, _dial(lesson, "Time on the ice").locator(".dl-number input").input_value, seconds)


def test_a_time_beyond_the_slider_can_be_typed(lesson):
    box = _dial(lesson, "Time on the ice").locator(".dl-number input")
    box.fill("60")
    box.press("Enter")
    lesson.wait_for_function("document.querySelector('.drinklab-chart svg').textContent.includes('60 s: ')")
    lesson.wait_for_timeout(1500)
    assert box.input_value() == "60"
    assert "60 s: " in lesson.text_content(".drinklab-chart svg")


def test_a_mistake_is_one_sentence_and_the_last_result_stays(lesson):
    before = lesson.inner_text(".dl-tiles")
    box = _dial(lesson, "Ice temperature").locator(".dl-number input")
    box.fill("500")
    box.press("Enter")
    lesson.wait_for_selector(".dl-problem")
    assert lesson.inner_text(".dl-problem").startswith("Ice temperature is 500; it must be -30 to 0 °C.")
    assert lesson.inner_text(".dl-tiles") == before
    assert "Traceback" not in lesson.inner_text(".jp-Notebook")


def test_speed_of_a_key(lesson, press):
    press(lesson, "Time on the ice")


def test_own_weighings_are_fitted_and_saved(lesson, lab):
    lesson.get_by_label("Technique").select_option("stirred")
    unfold(lesson, "Weigh your own")
    lesson.get_by_label("Times [s]").fill("15, 30, 60")
    lesson.get_by_label("Gains [g]").fill("28, 40, 50")
    lesson.get_by_role("button", name="Fit", exact=True).click()
    lesson.wait_for_function("document.querySelector('.jp-Notebook').innerText.includes('Saved as my_ice_')")
    assert len(list(lab.folder.glob("my_ice_*.json"))) == 1
    assert lesson.get_by_label("use my own weighings").is_checked()
