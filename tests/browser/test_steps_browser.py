"""What is done next and what goes with it, by mouse: a washed, filtered drink with a jelly, closed and opened again."""

from __future__ import annotations

import json

import pytest

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
    bench.wait_for_timeout(1500)
    held = logbook.in_hand(lab.folder).setting
    assert [step.name for step in held.steps] == ["water added", "milk-washed", "filtered", "chilled"]
    assert len(held.beside) == 1
    bench.goto("about:blank")
    lab.open_bench(bench, height=900)
    again = bench
    again.get_by_text("Run", exact=True).first.click()
    again.get_by_text("Restart Kernel and Run All Cells").click()
    again.locator(".jp-Dialog .jp-mod-accept").click()
    again.wait_for_timeout(3000)
    again.wait_for_selector(HANDLES, timeout=120_000)
    _says(again, "milk-washed")
    assert again.inner_text(".dl-tiles") == figures
