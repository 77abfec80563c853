"""The whole setting of a trial: one way forward for every page, and back from whatever it was saved as."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from long_run import examples
from settings import SHELF, drawn_settings, made

from drinklab import balance, logbook, trial, whatif, writeup
from drinklab.dilution import OwnIce
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater, Rest


@settings(max_examples=examples(60), suppress_health_check=list(HealthCheck))
@given(drawn_settings())
def test_what_is_saved_comes_back_whole(setting):
    """As plain JSON, as a saved trial, as the drink in hand, and from a write-up, figure by figure."""
    assert Setting.from_dict(json.loads(json.dumps(setting.to_dict()))) == setting
    now = made(setting)
    if now is None:
        return
    for again in (
        logbook.revive(json.loads(json.dumps(logbook.snapshot(now)))), writeup.rerun(writeup.html(now)),
    ):  # fmt: skip
        assert again.setting == now.setting
        assert again.stages == now.stages
        assert [b.stages for b in again.beside] == [b.stages for b in now.beside]
        assert (again.cautions, again.allergens, again.may_contain) == (now.cautions, now.allergens, now.may_contain)


def test_the_drink_in_hand_survives(tmp_path):
    recipe = Recipe.parse("45 mL pisco\n25 mL verjus\n20 mL honey syrup", name="First Frost", technique="shaken")
    setting = Setting(recipe, ice=OwnIce(ice=150, seconds=12), steps=(Rest(2),), serves=1, display=Display("oz"))
    assert logbook.in_hand(tmp_path) is None
    logbook.put_in_hand(tmp_path, setting, SHELF, title="First Frost, colder", note="still sharp")
    found = logbook.in_hand(tmp_path)
    assert (found.setting, found.title, found.note, found.notes) == (setting, "First Frost, colder", "still sharp", ())
    (tmp_path / logbook.IN_HAND).write_text("{", encoding="utf-8")
    with pytest.raises(InputError, match=r"in_hand\.json"):
        logbook.in_hand(tmp_path)


@settings(max_examples=examples(30), suppress_health_check=list(HealthCheck))
@given(drawn_settings(beside=False))
def test_one_way_forward(setting):
    """What if, two amounts at once and the spread start from the same glass as `trial.run`."""
    setting = replace(setting, draws=200)
    now = made(setting)
    if now is None:
        return
    served, figures = now.served.profile, ("abv", "sugar", "acid", "volume")
    spread = whatif.variation(setting, 200, seed=setting.seed, pantry=SHELF)
    for figure in figures:
        here = getattr(served, figure)
        assert getattr(spread.estimate, figure) == pytest.approx(here, rel=1e-9, abs=1e-9)
        if setting.ice is None:  # own ice is worked out for each block of versions
            assert getattr(spread.low, figure) == pytest.approx(getattr(now.served.low, figure), rel=1e-9, abs=1e-9)
    try:
        grid = whatif.sweep(setting, 0, 1, pantry=SHELF, points=3)
    except InputError:  # a corner is beyond the rule
        return
    for figure in figures:
        assert getattr(grid.profile, figure)[1, 1] == pytest.approx(getattr(served, figure), rel=1e-6, abs=1e-9)


def test_own_ice_and_steps_are_what_moves():
    """A later wash or water of one's own must show in what moves a drink: by hand from two runs."""
    recipe = Recipe.parse("45 mL gin, 45 %\n25 mL lime juice\n20 mL honey syrup", technique="shaken")

    def of_gin(drink):
        return next(e for e in whatif.sensitivity(drink, measure="5 mL") if e.source == "pour" and "gin" in e.name)

    watered = Setting(recipe, steps=(AddWater(0.5),))
    more = replace(watered, recipe=recipe.with_amounts([50, 25, 20]))
    by_hand = trial.run(more).served.profile.abv - trial.run(watered).served.profile.abv
    assert of_gin(watered).more["abv"] == pytest.approx(by_hand, rel=1e-6)
    assert of_gin(watered).more["abv"] < 0.8 * of_gin(recipe).more["abv"]
    cold = Setting(recipe, ice=OwnIce(ice=200, ice_temperature=-15, seconds=8))
    more = replace(cold, recipe=recipe.with_amounts([50, 25, 20]))
    by_hand = trial.run(more).served.profile.abv - trial.run(cold).served.profile.abv
    assert of_gin(cold).more["abv"] == pytest.approx(by_hand, rel=1e-3)


def test_a_batch_is_shared_out():
    recipe = Recipe.parse(
        "900 mL gin, 45 %\n500 mL cold green tea\n300 mL lime juice\n300 mL honey syrup", technique="none"
    )
    whole, shared = trial.run(recipe), trial.run(recipe, serves=20)
    assert shared.served.profile.volume == pytest.approx(whole.made.volume / 20)
    assert shared.served.profile.abv == pytest.approx(whole.served.profile.abv)
    assert shared.left_over == pytest.approx(0, abs=1e-6)
    poured = trial.run(recipe, serves=20, serve_volume=80)
    assert poured.left_over == pytest.approx(whole.made.volume - 1600)
    with pytest.raises(InputError, match="serve size is 80 mL 30 times; it must be above 0 and at most"):
        trial.run(recipe, serves=30, serve_volume=80)
    # the caution is of one glass
    assert "batch" in {c.code for c in whole.cautions}  # two litres are nobody's serve: how many glasses is asked
    assert "strong serve" not in {c.code for c in shared.cautions}


def test_what_goes_beside_counts():
    drink = Recipe.parse("45 mL gin, 45 %\n25 mL lime juice\n20 mL honey syrup", technique="shaken")
    jelly = Recipe.parse("200 mL gin, 45 %\n200 mL cream", name="cubes", technique="none")
    cubes = Setting(jelly, steps=(Set("gelatin", water=60.0, fish=True),), serves=10)
    alone, both = trial.run(drink), trial.run(drink, beside=[cubes])
    assert both.served == alone.served
    assert both.alcohol == pytest.approx(alone.alcohol + trial.run(cubes).served.profile.alcohol)
    assert {"milk", "fish"} <= set(both.allergens)
    assert not {"milk", "fish"} & set(alone.allergens)
    assert "strong serve" in {c.code for c in trial.run(drink, beside=[replace(cubes, serves=4)]).cautions}


@pytest.mark.parametrize(("fields", "said"), [
    ({"serves": 0}, "serves is 0; it must be a whole number, 1 to"),
    ({"serves": 2.5}, "serves is 2.5; it must be a whole number"),
    ({"melt": 0.2, "ice": OwnIce()}, "melt water is 0.2; it must be left out when your own ice is given"),
    ({"beside": (Recipe.parse("40 mL gin"),)}, "what goes with the drink is a Recipe; it must be a setting"),
    ({"country": "Atlantis"}, "country is 'Atlantis'; it must be one of"),
    ({"display": "oz"}, "display is a str; it must be a Display"),
    ({"steps": [Filter] }, "steps is a type; it must be a list of steps"),
    ({"serve_volume": 0}, "serve size is 0 mL; it must be one amount above 0 mL"),
], ids=str)  # fmt: skip
def test_a_mistake_is_one_sentence(fields, said):
    with pytest.raises(InputError) as caught:
        Setting(Recipe.parse("40 mL gin"), **fields)
    assert str(caught.value).startswith(said)


def test_water_and_rest():
    recipe = Recipe.parse("100 mL gin, 40 %", technique="none")
    half = trial.run(recipe, steps=[AddWater(1.0)], draws=0)
    assert half.served.profile.abv == pytest.approx(20, abs=0.5)  # about half; the volumes shrink together
    by_weight = trial.run(recipe, steps=[AddWater(amount="100 mL")], draws=0)
    assert by_weight.served.profile.abv == pytest.approx(half.served.profile.abv, rel=1e-3)
    rested = trial.run(recipe, steps=[Rest(12, "39 °F")], draws=0)
    assert rested.stages[-1].temperature == pytest.approx(3.9, abs=0.05)
    assert "keep cold" in {c.code for c in rested.cautions}
    assert np.allclose(rested.served.liquid.grams, rested.stages[0].liquid.grams)


def test_ph_is_solved_once_a_stage(monkeypatch):
    asked = []
    monkeypatch.setattr(balance, "ph", lambda liquid, ph=balance.ph: asked.append(1) or ph(liquid))
    now = trial.run(Recipe.parse("45 mL gin\n20 mL lemon juice", technique="shaken"), draws=20)
    for _ in range(3):
        assert [stage.ph for stage in now.stages][-1] == now.stages[-2].ph
    assert len(asked) == len(now.stages) - 1  # "served" is the stage before it
