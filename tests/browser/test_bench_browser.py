"""The bench as a bar person meets it: live sliders, numbers and chart that answer a key, words that are kept."""

from __future__ import annotations

import json
import os
import re

import pytest
from in_browser import barriers, becomes

from drinklab import demo, logbook, pantry, trial
from drinklab.units import FLUID_OUNCE

FIRST = next(iter(demo.settings(pantry.load()).values())).recipe  # what an untouched bench opens on
HANDLES = ".dl-bench .noUi-handle"


@pytest.fixture(scope="module")
def opened(lasting_page, lab):
    lab.open_bench(lasting_page)
    return lasting_page


@pytest.fixture
def bench(opened, lab):
    lab.again(opened)
    return opened


def _strength(page) -> float:
    return float(re.search(r"Strength\s+([\d.]+)", page.inner_text(".dl-tiles"))[1])


def test_a_key_on_a_slider_moves_number_and_chart(bench):
    before, drawn = _strength(bench), bench.inner_html(".drinklab-chart svg")
    assert before == pytest.approx(trial.run(FIRST).served.profile.abv, abs=0.051)
    handle = bench.locator(HANDLES).first
    handle.focus()
    for _ in range(10):  # the first pour, in steps of half a millilitre
        handle.press("ArrowRight")
    amounts = FIRST.amounts
    amounts[0] += 5
    bench.wait_for_function(f"document.querySelector('.dl-bench .dl-number input').value === '{amounts[0]:g}'")
    bench.wait_for_function(f"!document.querySelector('.dl-tiles').innerText.includes('{before}')")
    wanted = pytest.approx(trial.run(FIRST.with_amounts(amounts)).served.profile.abv, abs=0.051)
    becomes(bench, lambda: _strength(bench), wanted)
    assert bench.inner_html(".drinklab-chart svg") != drawn
    # the rule for the melt water is still in charge: nobody moved its slider
    assert bench.get_by_label("usual dilution for this method").is_checked()


def test_the_answer_stays_in_view_and_nothing_bars_the_way(bench):
    """Wherever the page stands, wide and on a phone; every slider is spoken; axe finds nothing grave."""
    pane = bench.locator(".jp-WindowedPanel-outer").first
    for wide in (1280, 390):
        bench.set_viewport_size({"width": wide, "height": 800})
        pane.evaluate("e => { e.scrollTop = 600; }")
        bench.wait_for_timeout(300)
        top = pane.bounding_box()["y"]
        assert bench.locator(".dl-bar").bounding_box()["y"] == pytest.approx(top, abs=2), wide
        assert bench.get_by_role("button", name="Compare from here").is_visible()
        assert pane.evaluate("e => e.scrollWidth <= e.clientWidth"), f"cut off at {wide}"
        pane.evaluate("e => { e.scrollTop = 0; }")
    handle = bench.locator(HANDLES).first
    assert handle.get_attribute("aria-label") == FIRST.pours[0].bottle(pantry.load()).name
    assert handle.get_attribute("aria-valuetext") == f"{FIRST.amounts[0]:g} mL"
    assert "First Frost" in bench.locator(".drinklab-chart").first.get_attribute("aria-label")
    assert barriers(bench) == []


def test_speed_of_a_key(bench, press):
    press(bench, FIRST.pours[0].bottle(pantry.load()).name)


def test_a_mistake_is_one_sentence_and_the_last_result_stays(bench):
    before = bench.inner_text(".dl-tiles")
    bench.get_by_text("Type or change the recipe").click()
    area = bench.locator(".dl-bench textarea").first
    area.fill("45 mL ginn")
    bench.get_by_text("Use this recipe").click()
    bench.wait_for_selector(".dl-problem")
    said = bench.inner_text(".dl-problem")
    assert said == "Line 1: ingredient is 'ginn'; it must be one of the 166 known (did you mean gin?)."
    assert bench.inner_text(".dl-tiles") == before
    assert "Traceback" not in bench.inner_text(".jp-Notebook")


def test_save_and_write_up(bench, lab):
    bench.get_by_role("button", name="Save", exact=True).click()
    bench.wait_for_function("document.querySelector('.dl-bench').innerText.includes('Saved as')")
    bench.get_by_role("button", name="Write up").click()
    bench.wait_for_function("document.querySelector('.dl-bench').innerText.includes('Written:')", timeout=60_000)
    assert len(list((lab.folder / "trials").glob("*.json"))) == 1
    (page_file,) = (lab.folder / "writeups").glob("*.html")
    text = page_file.read_text(encoding="utf-8")
    assert "First Frost" in text
    assert "<svg" in text or "data:image/svg" in text


def test_changing_the_measure_changes_no_drink(bench):
    """A page cuts old values to new ends and sends them back: nothing of the recipe may follow."""
    before = bench.inner_text(".dl-tiles")
    bench.get_by_text("Shown in mL, °C").click()
    measure = bench.locator(".dl-bench select").filter(has_text="oz").first
    measure.select_option("oz")
    bench.wait_for_function("document.querySelector('.dl-tiles').innerText.includes(' oz')")
    bench.wait_for_timeout(1500)
    shown = re.search(r"Volume\s+([\d.]+)", bench.inner_text(".dl-tiles"))[1]
    assert float(shown) == pytest.approx(trial.run(FIRST).served.profile.volume / FLUID_OUNCE, abs=0.006)
    measure.select_option("mL")
    bench.wait_for_function("document.querySelector('.dl-tiles').innerText.includes(' mL')")
    bench.wait_for_timeout(1200)  # for what the page might send back
    becomes(bench, lambda: bench.inner_text(".dl-tiles"), before)


def test_bar_words_by_keyboard(bench, tmp_path):
    """A recipe in ounces and dashes, a fraction in a box, a search, and an ingredient of one's own."""
    bench.get_by_text("Type or change the recipe").click()
    area = bench.locator(".dl-bench textarea").first
    area.fill("2 oz rye, 92 proof\n⅞ oz lemon juice\n2 dashes aromatic bitters\n6 mint leaves\n1 egg white")
    bench.get_by_text("Use this recipe").click()
    boxes = bench.locator(".dl-bench .dl-number input")
    bench.wait_for_function("document.querySelectorAll('.dl-bench .dl-number input')[1].value === '⅞'")
    assert [boxes.nth(i).input_value() for i in range(5)] == ["2", "⅞", "2", "6", "1"]
    whole = _strength(bench)
    boxes.nth(0).fill("1 3/4")
    boxes.nth(0).press("Tab")
    bench.wait_for_function("document.querySelector('.dl-bench .dl-number input').value === '1¾'")
    bench.wait_for_function(f"!document.querySelector('.dl-tiles').innerText.includes('{whole}')")
    before = _strength(bench)
    boxes.nth(0).fill("a lot")
    boxes.nth(0).press("Tab")
    bench.wait_for_selector(".dl-problem")
    assert "a number such as 1.5, 1,25 or 7/8" in bench.inner_text(".dl-problem")
    assert (boxes.nth(0).input_value(), _strength(bench)) == ("1¾", before)
    boxes.nth(0).fill("0,5")
    boxes.nth(0).press("Tab")
    bench.wait_for_function("document.querySelector('.dl-bench .dl-number input').value === '½'")
    bench.wait_for_function("!document.querySelector('.dl-bench .dl-problem')")

    bench.get_by_text("Find an ingredient, or write one down").click()
    form = bench.locator(".dl-bench")
    form.get_by_role("textbox", name="Search").fill("syrup simple")
    bench.get_by_text("sugar syrup, 2:1 by mass").last.wait_for()
    assert form.get_by_label("Found").input_value() == "sugar syrup, 1:1 by mass"
    bench.get_by_text("Write down one of your own").click()
    form.get_by_placeholder("plum shrub").wait_for()
    for label, text in (("Name", "yuzu juice"), ("Strength", "0"), ("Sugar", "12,5")):
        form.get_by_label(label, exact=True).last.fill(text)
    form.get_by_label("Kind").select_option("juice")
    form.get_by_label("none", exact=True).check()
    form.get_by_label("none of these").check()
    form.get_by_role("button", name="Write it down").click()
    bench.get_by_text("Acid of 'yuzu juice' is empty").wait_for()
    bench.set_viewport_size({"width": 1280, "height": 2400})
    form.get_by_role("textbox", name="Search").scroll_into_view_if_needed()
    bench.screenshot(path=tmp_path / "words.png")
    form.get_by_label("pH", exact=True).fill("2,4")
    form.get_by_role("button", name="Write it down").click()
    bench.get_by_text("Written to my_ingredients.csv").wait_for()


# What a bar asks, the actions that answer it here (each a click, a choice or a number typed), and the change it must state.
QUESTIONS = {
    "wet ice": ([("choose", "the ice is wet")], r"5 % of water on it in place of 2 %", r"volume \+\d"),
    "57 % spirit for 40 %": (
        [("choose", "the spirit is of another strength"), ("type", "Its strength", "57")],
        r"57 % in place of", r"strength \+\d",
    ),
    "lemon a tenth less sour": (
        [("choose", "the fruit is more or less sour")], r"Lemon juice, fresh with 10 % less acid", r"acid −\d",
    ),
    "batch pre-diluted": (
        [("choose", "water goes into the batch in place of ice")], r"Water measured into the batch",
        r"strength ± [\d.]+ % vol in place of ± [\d.]+ % vol",
    ),
    "honey syrup for 2:1 sugar": (
        [("choose", "another syrup is poured"), ("choose in", "In its place", "honey syrup, 1:1 by volume")],
        r"Honey syrup, 1:1 by volume in place of as much sugar syrup, 2:1", r"sugar −\d",
    ),
    "a bar at 30 °C": ([("choose", "the bar is warm")], r"30 °C in place of 20 °C", r"volume \+\d"),
    "20 s shake for 12": (
        [("choose", "it stays longer on the ice"), ("type", "Time on the ice", "20")],
        r"20 s on the ice in place of 12 s", r"volume \+\d",
    ),
    "a warm glass": ([("choose", "the glass is warm")], r"A glass at 22 °C", r"temperature once poured \+\d"),
}  # fmt: skip


def _act(page, part, action) -> None:
    what, *told = action
    if what == "choose":
        part.get_by_label("What if …").select_option(label=told[0])
    elif what == "choose in":
        part.get_by_label(told[0], exact=True).select_option(label=told[1])
    else:
        box = part.locator(".dl-dial", has_text=told[0]).locator(".dl-number input")
        box.fill(told[1])
        box.press("Enter")


def test_eight_questions_in_three_actions_or_fewer(bench):
    """Each on the open page, one after another, with a change that is stated: before, after, ± and one sentence.

    No slider that a question brings is drawn without the name that is spoken.
    """
    bench.evaluate("""() => {
      window.unnamed = 0;
      const look = () => {
        window.unnamed += document.querySelectorAll(".dl-asked .noUi-handle:not([aria-label])").length;
        requestAnimationFrame(look);
      };
      look();
    }""")
    bench.get_by_text("Type or change the recipe").click()
    bench.locator(".dl-bench textarea").first.fill("50 mL gin, 40 %\n25 mL lemon juice\n20 mL sugar syrup, 2:1 by mass")
    bench.get_by_text("Use this recipe").click()
    bench.wait_for_function("document.querySelector('.dl-left').innerText.includes('gin, 40 %')")
    part = bench.locator(".dl-asked")
    for question, (actions, what, change) in QUESTIONS.items():
        assert len(actions) <= 3, question
        for action in actions:
            _act(bench, part, action)
        card = part.locator(".dl-table")
        bench.wait_for_function(
            "what => new RegExp(what).test(document.querySelector('.dl-asked').innerText)", arg=what, timeout=20_000
        )
        said = part.inner_text()
        assert re.search(change, said), (question, said)
        assert "Same hand, same ice:" in said
        assert [card.locator("th").nth(i).inner_text() for i in (1, 2, 3, 4)] == [
            "before", "after", "same hand, same ice", "this glass against that one"
        ], question  # fmt: skip
        assert "±" in card.inner_text()
    assert bench.evaluate("window.unnamed") == 0
    assert barriers(bench) == []


@pytest.fixture
def names_that_are_no_text(lab):
    """A file's name may hold bytes that are no UTF-8 (POSIX)."""
    odd = os.path.join(os.fsencode(lab.folder), b"trials", b"\xff\xfe.json")
    os.makedirs(os.path.dirname(odd), exist_ok=True)
    with open(odd, "w") as file:
        file.write(json.dumps({"minutes": [30, 60], "volumes": [100, 160], "total": 500, "filters": 1, "drink": "x"}))
    yield
    os.unlink(odd)


def test_file_names_that_are_no_text_do_not_end_the_page(names_that_are_no_text, bench, lab):
    """A page that sends them as they are loses its kernel."""
    assert "saved trial" in bench.inner_text(".dl-bench")
    title = bench.get_by_role("textbox", name="Title")
    title.fill("still here")
    title.press("Tab")
    bench.get_by_role("button", name="Save", exact=True).click()
    bench.get_by_text("Saved as trials").wait_for()
    assert [entry.title for entry in logbook.entries(lab.folder)[0]] == ["still here"]
