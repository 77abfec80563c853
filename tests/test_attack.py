"""A second attack on what is opened, what is saved, and what can hurt: each was found to be so, and is not any more."""

from __future__ import annotations

import copy
import json
from dataclasses import replace

import pytest

from drinklab import logbook, own, pantry
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill, Pour
from drinklab.dilution import OwnIce
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater, Rest, from_dict, to_dict
from drinklab.trial import run
from drinklab.workbook.panels.balance import VersusPanel
from drinklab.workbook.panels.carbonation import BubblesPanel

SHELF = pantry.load()
SOUR = Recipe.parse("45 mL gin\n20 mL lemon juice", name="Clear Line")


def plain(setting: Setting) -> dict:
    return json.loads(json.dumps(logbook.saved.as_asked(setting, SHELF)))


# --- what is opened ---------------------------------------------------------------------------------------------

NO_NUMBERS = ([], [1, 2], [0.1] * 51, [[1]], {"a": 1}, True)
STEPS = (AddWater(), Rest(), MilkWash(), Filter(), Chill(), Carbonate(volumes=2.0), Pour(), Boil(), Set())
FIELDS = [(step, field) for step in STEPS for field, value in to_dict(step).items() if type(value) in (int, float)]


@pytest.mark.parametrize("wrong", NO_NUMBERS, ids=repr)
@pytest.mark.parametrize(("step", "field"), [f for f in FIELDS if f[1] != "papers"], ids=str)
def test_a_saved_step_holds_one_number_in_each_field(step, field, wrong):
    with pytest.raises(InputError):
        from_dict(json.loads(json.dumps(to_dict(step))) | {field: wrong})


@pytest.mark.parametrize("wrong", NO_NUMBERS, ids=repr)
@pytest.mark.parametrize(
    "field", ["ice", "ice_temperature", "wetness", "seconds", "temperature", "vessel", "room", "pace"]
)
def test_a_saved_ice_holds_one_number_in_each_field(field, wrong):
    data = plain(Setting(SOUR, ice=OwnIce(150)))
    data["setting"]["ice"][field] = wrong
    with pytest.raises(InputError):
        logbook.opened(data, SHELF)


# --- what can hurt a guest --------------------------------------------------------------------------------------


def with_stranger(key: str, name: str) -> pantry.Pantry:
    """Our pantry after a trial was opened that brings an ingredient of this id and name, which warns of nothing."""
    data = plain(Setting(SOUR))
    mine = data["ingredients"].pop("gin")
    data["ingredients"][key] = copy.deepcopy(mine) | {"id": key, "name": name, "kind": "other"}
    data["setting"]["recipe"]["pours"][0]["ingredient"] = key
    return logbook.opened(data, SHELF).pantry


@pytest.mark.parametrize("word", ["milk", "egg whites", "tonic", "rye", "coffee", "cold black tea"])
@pytest.mark.parametrize("as_name", [True, False])
def test_what_came_with_a_trial_takes_no_word_of_the_trade(word, as_name):
    shelf = with_stranger("zz" if as_name else word, word if as_name else "zz")
    assert shelf.find(word) == SHELF.find(word)


@pytest.mark.parametrize("word", ["double cream", "amaro", "ice"])
@pytest.mark.parametrize("as_name", [True, False])
def test_nor_one_that_is_to_be_told_apart(word, as_name):
    with pytest.raises(InputError, match=r"told apart|row of your own|left out"):
        with_stranger("zz" if as_name else word, word if as_name else "zz").find(word)


def test_it_still_answers_to_its_id_and_goes_through_text():
    shelf = with_stranger("zz_9", "double cream")
    assert shelf.find("zz_9").id == "zz_9"
    assert shelf.find(shelf["zz_9"].name).id == "zz_9"


def test_an_own_row_whose_id_is_a_word_of_the_trade_warns_as_what_the_word_means(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text("id,name,kind,abv_percent,sugar_g_l\nmilk,barista blend,other,0,40\n")
    assert pantry.load(tmp_path).find("milk").allergens == ("milk",)


# --- what is saved ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ['{"format": 4, "setting": {"precious": 1}}', '{"format": 3, "sett', "my shopping list", "[]"]
)
def test_what_cannot_be_read_is_kept_when_another_drink_is_put_in_hand(tmp_path, text):
    (tmp_path / logbook.IN_HAND).write_text(text)
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF)
    assert logbook.in_hand(tmp_path).setting == Setting(SOUR)
    assert [p.read_text() for p in tmp_path.glob("in_hand.*.json")] == [text]
    logbook.put_in_hand(tmp_path, Setting(SOUR, serves=2), SHELF)
    assert len(list(tmp_path.iterdir())) == 2


def test_a_drink_in_hand_is_set_aside_once(tmp_path):
    held = logbook.Opened(Setting(SOUR, steps=(Rest(), Filter()), draws=20), SHELF, note="still sharp")
    assert logbook.set_aside(tmp_path, held) is not None
    assert logbook.set_aside(tmp_path, held) is None
    assert logbook.set_aside(tmp_path, replace(held, note="sharper")) is not None


def test_a_lesson_sets_aside_another_drink_of_the_same_name(tmp_path):
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF, title="an hour of work", note="mine")
    page = BubblesPanel(tmp_path)
    page.use(Setting(SOUR.scaled(2)))
    page.put_in_hand(replace(page.setting, steps=(Rest(),)), "Rested.")
    (aside,) = (tmp_path / logbook.TRIALS).iterdir()
    assert logbook.open_saved(aside).setting.recipe == SOUR
    assert logbook.in_hand(tmp_path).title == ""
    assert page.said.value.count("the bench shows it.") == 1
    page.put_in_hand(
        replace(page.setting, steps=(Rest(6),)), "Rested."
    )  # it goes on with its own: nothing to set aside
    assert len(list((tmp_path / logbook.TRIALS).iterdir())) == 1


def test_a_page_that_is_not_the_newest_still_does_what_its_button_says(tmp_path):
    older, _ = BubblesPanel(tmp_path), BubblesPanel(tmp_path)
    older.put_in_hand(Setting(SOUR), "Put.")
    assert logbook.in_hand(tmp_path).setting == Setting(SOUR)
    assert "dl-done" in older.said.value


OWN = """id,name,kind,abv_percent,sugar_g_l,citric_g_l,caution,may_contain,allergens,note
old_id,cold brew liqueur,liqueur,20,200,1,caffeine,milk,sulphites,keep me
x_y,other thing,syrup,0,300,0,grapefruit,none,,mine
"""


def own_row(name: str, **more) -> dict:
    return own.row(name, "liqueur", "22", "180", acid="1", allergens="none", **more)


def test_a_row_put_in_place_of_another_keeps_its_warnings_id_and_notes(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(OWN)
    own.write(tmp_path, own_row("Cold brew liqueur", cautions=["quinine"]), replace=True)
    item = pantry.load(tmp_path).find("cold brew liqueur")
    assert (item.id, item.abv, item.cautions, item.may_contain) == ("old_id", 22.0, ("caffeine", "quinine"), ("milk",))
    assert "keep me" in (tmp_path / pantry.OWN_FILE).read_text()
    assert pantry.load(tmp_path).find("other thing").cautions == ("grapefruit",)


def test_names_in_letters_that_ids_do_not_have_are_ingredients_of_their_own(tmp_path):
    for name in ("梅酒", "柚子", "plum shrub", "plüm shrub"):
        own.write(tmp_path, own_row(name), replace=True)
    assert [pantry.load(tmp_path).find(name).name for name in ("梅酒", "柚子", "plüm shrub")] == [
        "梅酒",
        "柚子",
        "plüm shrub",
    ]
    assert len(pantry.load(tmp_path)) == len(SHELF) + 4


@pytest.mark.parametrize("name", ["=1+1", "+1", "-2+3", "@SUM(A1)", "\t=1", "＝1+1", '=HYPERLINK("x")'])
def test_a_name_is_no_formula_of_a_spreadsheet(name):
    with pytest.raises(InputError, match="spreadsheet"):
        own_row(name)


# --- what can hurt a bartender ----------------------------------------------------------------------------------

LONG = Recipe.parse("20 mL gin\n100 mL water\n20 mL lemon juice", technique="none")


def test_what_freezes_at_rest_is_told():
    # Freezes near -1.9 °C by the rule of Ross (physics.freezing), which Chill refuses.
    codes = [c.code for c in run(LONG, steps=[Rest(24, -5)], draws=0).cautions]
    assert "freezes" in codes
    assert "freezes" not in [c.code for c in run(LONG, steps=[Rest(24, 4)], draws=0).cautions]
    strong = Recipe.parse("60 mL gin\n10 mL water", technique="none")
    assert "freezes" not in [c.code for c in run(strong, steps=[Rest(24, -5)], draws=0).cautions]


def test_a_gassed_drink_does_not_rest_warmer_than_its_vessel_bears():
    gas = Carbonate(volumes=4.5, vessel="siphon, 1 L")
    assert run(LONG, steps=[gas, Rest(2, 4)], draws=0).stages
    with pytest.raises(InputError, match="pressure in the siphon, 1 L"):
        run(LONG, steps=[gas, Rest(2, 40)], draws=0)
    assert run(LONG, steps=[gas, Pour(), Rest(2, 40)], draws=0).stages


def test_no_file_asks_for_more_draws_than_memory_holds():
    data = plain(Setting(SOUR, steps=[AddWater()] * 50))
    data["setting"]["draws"] = 100_000
    with pytest.raises(InputError, match="draws"):
        logbook.opened(data, SHELF)


def test_two_drinks_side_by_side_share_no_ingredient_that_warns_of_less_in_one(tmp_path):
    for title, holds in (("A", ["nuts (almond)"]), ("B", [])):
        data = plain(Setting(SOUR, draws=20))
        mine = data["ingredients"].pop("gin") | {
            "id": "house_x",
            "name": "house x",
            "kind": "other",
            "allergens": holds,
        }
        data["ingredients"]["house_x"] = mine
        data["setting"]["recipe"]["pours"][0]["ingredient"] = "house_x"
        logbook.save(logbook.revive(data, SHELF), tmp_path, title=title)
    page = VersusPanel(tmp_path)
    a, b = (next(key for label, key in page.choose.options if f"  {title} (" in label) for title in "AB")
    page.choose.value = a
    page.other.value = b
    assert "nuts (almond)" in page.cautions.value
    page.choose.value, page.other.value = b, a
    assert "nuts (almond)" in page.cautions.value or "the same in both" in page.problem.value
