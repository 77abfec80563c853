"""What is done next and what goes with it, by mouse: a washed, filtered drink with a jelly, and again from another kernel."""

from __future__ import annotations

import json

import pytest
from in_browser import becomes

from drinklab import logbook

HANDLES = ".dl-bench .noUi-handle"


@pytest.fixture
def bench(page, lab):
    lab.open_bench(page, height=900)
    return page


def _says(page, text):
    page.wait_for_function(f"document.querySelector('.dl-bench').innerText.includes({json.dumps(text)})")


def test_steps_and_a_jelly_by_mouse(bench, lab, tmp_path):
    bench.get_by_text("Type or change the recipe").click()
    texts = bench.locator(".dl-bench textarea")
    bench.get_by_placeholder("what to call it").fill("Clear Line")
    texts.first.fill("900 mL gin, 45 %\n450 mL lemon juice\n300 mL honey syrup")
    bench.get_by_role("button", name="Use this recipe").click()
    _says(bench, "Say how many glasses it makes")
    following = bench.get_by_label("Next", exact=True)
    for word, stage in (("Wash with milk", "milk-washed"), ("Filter", "filtered"), ("Chill, without ice", "chilled")):
        following.select_option(word)
        bench.get_by_role("button", name="Add", exact=True).first.click()
        _says(bench, stage)
    bench.get_by_role("button", name="of water before the milk").click()
    _says(bench, "water added")
    bench.get_by_role("button", name="What goes with it").press("Enter")  # a fold opens by a key
    bench.get_by_label("With it").select_option("Demo: Amontillado and tea jelly")
    bench.get_by_role("button", name="Add", exact=True).last.click()
    _says(bench, "One serve with what goes with it")
    bench.get_by_role("combobox", name="Milk", exact=True).select_option("skimmed cow's milk")
    _says(bench, "cold skimmed cow's milk")
    bench.locator(".dl-bench").first.screenshot(path=tmp_path / "steps.png")
    figures = bench.inner_text(".dl-tiles")
    in_order = ["water added", "milk-washed", "filtered", "chilled"]
    becomes(
        bench, lambda: [s.name for held in [logbook.in_hand(lab.folder)] if held for s in held.setting.steps], in_order
    )
    assert len(logbook.in_hand(lab.folder).setting.beside) == 1
    # another kernel: what is in hand is read from the folder (another page: test_whole_drink_browser.py)
    old = bench.wait_for_selector(".dl-bench")
    bench.get_by_text("Run", exact=True).first.click()
    bench.get_by_text("Restart Kernel and Run All Cells").click()
    bench.locator(".jp-Dialog .jp-mod-accept").click()
    bench.wait_for_function("old => !old.isConnected", arg=old)
    bench.wait_for_selector(HANDLES, timeout=120_000)
    _says(bench, "milk-washed")
    becomes(bench, lambda: bench.inner_text(".dl-tiles"), figures)
