"""The target panel on a live page: a first answer at once, the exact one when the hand rests. No browser."""

import asyncio
import re

import numpy as np
import pytest

from drinklab import logbook, pantry, reach
from drinklab.recipe import Recipe
from drinklab.workbook.panels import reach as reach_panel
from drinklab.workbook.parts.soon import REST

SHELF = pantry.load()
SOUR = Recipe.parse(
    "45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup\n5 mL water", name="Test sour", technique="shaken"
)
NAMES = ["aged rum, 50 %", "lemon juice", "honey syrup", "water"]
WANT = {"abv": 18, "sugar": 75, "acid": 7, "volume": 110}


@pytest.mark.parametrize("move", [{"abv": 19}, {"sugar": 82}, {"acid": 6.4}, {"volume": 130}, {"abv": 17, "acid": 7.5}])
@pytest.mark.parametrize("measure", [None, 2.5])
def test_a_step_comes_about_as_near_as_the_exact_answer(move, measure):
    way = {"measure": measure, "technique": "shaken", "pantry": SHELF}
    last = reach.reach(WANT, NAMES, **way)[0]
    step, exact = reach.nearby(last, WANT | move, NAMES, **way), reach.reach(WANT | move, NAMES, **way)[0]
    assert exact.distance <= step.distance + 1e-9
    assert step.distance < exact.distance + (0.35 if measure else 0.1)
    if measure:
        assert all(a % 2.5 == pytest.approx(0, abs=1e-9) for a in step.recipe.amounts)


def test_limits_and_ratios_are_kept():
    way = {"technique": "shaken", "pantry": SHELF, "limits": {"lemon juice": (15, 16)}}
    way["ratios"] = [("honey syrup", "lemon juice", 1.0)]
    last = reach.reach(WANT, NAMES, **way)[0]
    step = reach.nearby(last, WANT | {"acid": 12}, NAMES, **way)
    amounts = {p.ingredient: p.amount for p in step.recipe.pours}
    assert 15 - 1e-9 <= amounts["lemon_juice"] <= 16 + 1e-9
    assert amounts["honey_syrup"] == pytest.approx(amounts["lemon_juice"])


def test_a_step_works_out_far_fewer_drinks_than_the_search(monkeypatch):
    worked = []
    mixed = reach.sums.Task.mixed
    monkeypatch.setattr(
        reach.sums.Task, "mixed", lambda *given, **more: worked.append(np.shape(given[1])[1:]) or mixed(*given, **more)
    )
    way = {"technique": "shaken", "pantry": SHELF}
    last = reach.reach(WANT, NAMES, **way)[0]
    count = lambda: sum(int(np.prod(shape)) for shape in worked)  # noqa: E731
    whole = count()
    worked.clear()
    reach.nearby(last, WANT | {"abv": 19}, NAMES, **way)
    assert count() < whole / 50


def test_a_first_answer_is_marked_and_the_exact_one_follows(tmp_path, monkeypatch):
    async def page():
        panel = reach_panel.panel(tmp_path, SOUR)
        exact, looked = panel.found, []
        assert not panel.soon.waiting
        assert "first answer" not in panel.best.value
        search = reach_panel.reach
        monkeypatch.setattr(reach_panel, "reach", lambda *g, **k: looked.append(1) or search(*g, **k))
        # `_once` knows what was asked last by its name
        reach_panel.reach.__name__ = "reach"
        for value in (17.0, 17.5, 18.0):
            panel.wanted["abv"].dial.number.value = value
            assert panel.problem.value == ""
            assert panel.soon.waiting
            assert "first answer" in panel.best.value
            assert "dl-soon" in panel.others._dom_classes
        assert not looked
        assert panel.found != exact
        assert panel.found[0].figures.abv == pytest.approx(18, abs=0.5)
        await asyncio.sleep(2 * REST + 0.2)
        assert looked == [1]  # once, after the last move
        assert not panel.soon.waiting
        assert "first answer" not in panel.best.value
        assert "dl-soon" not in panel.others._dom_classes
        assert panel.found == search(*panel._asked["reach"][0], **panel._asked["reach"][1])
        return panel

    asyncio.run(page())


def test_what_is_saved_is_the_exact_answer(tmp_path):
    async def page():
        panel = reach_panel.panel(tmp_path, SOUR)
        panel.wanted["sugar"].dial.number.value = 80
        assert panel.soon.waiting
        panel.use_button.click()
        assert not panel.soon.waiting
        assert re.search("Saved as a new trial", panel.use_said.value)
        saved, _ = logbook.entries(tmp_path)
        kept = logbook.open_saved(saved[0].path, pantry=panel.shelf).setting.recipe
        exact = reach.reach(*panel._asked["reach"][0], **panel._asked["reach"][1])[0]
        assert kept.amounts == pytest.approx(exact.recipe.amounts)

    asyncio.run(page())


def test_what_is_wrong_is_said_at_once(tmp_path):
    async def page():
        panel = reach_panel.panel(tmp_path, SOUR)
        panel.wanted["abv"].dial.number.value = 140
        assert "% vol" in panel.problem.value
        assert not panel.soon.waiting

    asyncio.run(page())
