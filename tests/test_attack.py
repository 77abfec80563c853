"""Attacks on what is opened, typed and saved, and on what can hurt: each was found to be so, and is not any more."""

from __future__ import annotations

import copy
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest
from jupyter_client.session import Session

from drinklab import files, logbook, own, pantry
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill, Pour
from drinklab.dilution import OwnIce
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.measured import FilterLog, own_fits, own_logs, save_log
from drinklab.milk import MilkWash
from drinklab.recipe import Pour as Poured
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater, Rest, from_dict, to_dict
from drinklab.trial import run
from drinklab.workbook import launch
from drinklab.workbook.panels.balance import VersusPanel
from drinklab.workbook.panels.bench import Bench
from drinklab.workbook.panels.carbonation import BubblesPanel
from drinklab.workbook.panels.filtering import FilterPanel
from drinklab.workbook.panels.schedule import DayPanel

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
        logbook.opened(data, pantry=SHELF)


# --- what can hurt a guest --------------------------------------------------------------------------------------


def with_stranger(key: str, name: str) -> pantry.Pantry:
    """Our pantry after a trial was opened that brings an ingredient of this id and name, which warns of nothing."""
    data = plain(Setting(SOUR))
    mine = data["ingredients"].pop("gin")
    data["ingredients"][key] = copy.deepcopy(mine) | {"id": key, "name": name, "kind": "other"}
    data["setting"]["recipe"]["pours"][0]["ingredient"] = key
    return logbook.opened(data, pantry=SHELF).pantry


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
        logbook.opened(data, pantry=SHELF)


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
        logbook.save(logbook.revive(data, pantry=SHELF), tmp_path, title=title)
    page = VersusPanel(tmp_path)
    a, b = (next(key for label, key in page.choose.options if f"  {title} (" in label) for title in "AB")
    page.choose.value = a
    page.other.value = b
    assert "nuts (almond)" in page.cautions.value
    page.choose.value, page.other.value = b, a
    assert "nuts (almond)" in page.cautions.value or "the same in both" in page.problem.value


# --- a third attack: what is opened -----------------------------------------------------------------------------

ROW = "id,name,kind,abv_percent,sugar_g_l,citric_g_l\n"


@pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="no file here that is larger than it says")
def test_a_file_that_holds_more_than_it_says_is_refused(tmp_path):
    (tmp_path / "trials").mkdir()
    (tmp_path / "trials" / "a.json").symlink_to("/proc/self/pagemap")  # says 0 bytes, holds 256 GB
    (problem,) = logbook.entries(tmp_path)[1]
    assert "larger than it says" in problem


@pytest.mark.parametrize("name", ["my_ingredients.csv", "trials", "in_hand.json", "my_choices.json"])
@pytest.mark.parametrize("leads_to", ["x" * 300, "itself"])
def test_a_link_that_leads_nowhere_is_a_sentence(tmp_path, name, leads_to):
    (tmp_path / name).symlink_to(name if leads_to == "itself" else leads_to)
    page = Bench(tmp_path)
    said = page.said.value + page.own_file.said.value
    assert name in said.replace("My_", "my_").replace("In_", "in_")
    page.use(Setting(SOUR, draws=20))
    page.save()
    assert ("dl-problem" in page.said.value) == (name == "trials")
    assert len(logbook.entries(tmp_path)[1]) == (name == "trials")
    if name == "my_ingredients.csv":
        with pytest.raises(InputError, match=name):
            pantry.load(tmp_path)


@pytest.mark.parametrize("name", ["00_bench.ipynb", ".drinklab/copied.json"])
@pytest.mark.parametrize("content", ["[" * 200_000, "pipe", "folder", '{"cells": [1]}', '{"cells": {"a": 1}}'])
def test_no_file_in_place_of_a_notebook_keeps_the_workbook_from_starting(tmp_path, name, content):
    (tmp_path / ".drinklab").mkdir()
    source = tmp_path / "source"
    source.mkdir()
    (source / "00_bench.ipynb").write_text(json.dumps({"cells": []}))
    path = tmp_path / name
    if content == "pipe":
        os.mkfifo(path)
    elif content == "folder":
        path.mkdir()
    else:
        path.write_text(content)
    if content == "folder" and name != "00_bench.ipynb":
        with pytest.raises(InputError, match="Is a directory"):
            launch.copy_notebooks(tmp_path, source)
        return
    for _ in range(2):
        launch.copy_notebooks(tmp_path, source)
    if name == "00_bench.ipynb" and path.is_file():
        assert path.read_text() == content


def test_a_pipe_among_what_drinklab_keeps_is_refused(tmp_path):
    (tmp_path / ".drinklab").mkdir()
    os.mkfifo(tmp_path / ".drinklab" / "server.log")
    with pytest.raises(InputError, match=r"pipes and devices .*server\.log"):
        launch.working_folder(tmp_path)


@pytest.mark.parametrize("page", [Bench, FilterPanel, DayPanel])
def test_a_file_name_that_is_no_text_is_sent_to_the_page_as_text(tmp_path, page):
    """A name may hold bytes that are no UTF-8 (POSIX); a frame that is no UTF-8 ends the connection (RFC 6455, 8.1)."""
    save_log(tmp_path, LOG).rename(os.fsdecode(os.fsencode(tmp_path) + b"/my_filter_\xff_1.json"))
    (tmp_path / "trials").mkdir()
    for place in (b"/trials/\xff\xfe.json", b"/my_filter_\xfe_2.json"):
        Path(os.fsdecode(os.fsencode(tmp_path) + place)).write_text("{}")
    made, sent = [page(tmp_path)], ""
    while made:
        widget = made.pop()
        made += getattr(widget, "children", ())
        sent += Session().pack(widget.get_state()).decode("utf-8")
    assert "saved trial is " in sent


LOG = FilterLog((30.0, 60.0), (100.0, 160.0), drink="x")
WEIGHED = {"technique": "stirred", "pace": 1.2, "wetness": 0.1, "miss": 1.0, "seconds": [15, 30], "gained": [20, 30]}


@pytest.mark.parametrize(
    ("field", "wrong"),
    [("minutes", "12"), ("minutes", ["1", "2"]), ("minutes", [True, 2]), ("minutes", {"1": 0, "2": 0}),
     ("volumes", ["１", "2"]), ("total", "500"), ("total", "5_00"), ("returned", True), ("drink", None),
     ("drink", "x" * 400), ("drink", ["x"])],
)  # fmt: skip
def test_a_filter_log_holds_numbers_where_numbers_belong(tmp_path, field, wrong):
    path = save_log(tmp_path, LOG)
    assert own_logs(tmp_path)[1] == ()
    path.write_text(json.dumps(json.loads(path.read_text()) | {field: wrong}))
    logs, (problem,) = own_logs(tmp_path)
    assert not logs
    assert path.name in problem


@pytest.mark.parametrize(
    ("field", "wrong"),
    [("pace", "1.2"), ("pace", True), ("wetness", "0.1"), ("seconds", "12"), ("seconds", ["15", "30"]),
     ("gained", {"1": 2}), ("gained", [True, 2])],
)  # fmt: skip
def test_own_weighings_hold_numbers_where_numbers_belong(tmp_path, field, wrong):
    path = tmp_path / "my_ice_01.json"
    path.write_text(json.dumps(WEIGHED))
    assert own_fits(tmp_path)[1] == ()
    path.write_text(json.dumps(WEIGHED | {field: wrong}))
    fits, (problem,) = own_fits(tmp_path)
    assert not fits
    assert path.name in problem


@pytest.mark.parametrize("unit", ["fluid_ounce", "dash", "gram", "piece", "leaf"])
def test_a_file_does_not_say_how_much_an_ounce_is(unit):
    """45 mL of gin are 1½ oz, and never 4½ oz, whatever the file takes an ounce for."""
    data = plain(Setting(SOUR))
    for pour in data["setting"]["recipe"]["pours"]:
        pour["typed"] = {"unit": unit, "ml": 10.0}
    found = logbook.opened(data, pantry=SHELF)
    text = found.setting.recipe.text(found.pantry, Display("oz"))
    for read, meant in zip(Recipe.parse(text, found.pantry).pours, SOUR.pours, strict=True):
        assert read.amount == pytest.approx(meant.amount, rel=1e-3), text


# --- a third attack: what is typed ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["plum\n60 mL gin", "gin\n60 mL vodka", "plum\u202860 mL gin", "plum\u2029shrub", "(30 mL) plum", "(½ oz) x",
     "of gin", "of the house", "top plum", "oz plum", "plum leaves", "3 plums", "- 3 plums", "10% plum", "ice cube"],
)  # fmt: skip
@pytest.mark.parametrize("volume", ["mL", "oz"])
def test_a_recipe_written_out_reads_as_the_same_drink_whatever_its_bottles_are_called(tmp_path, name, volume):
    (tmp_path / pantry.OWN_FILE).write_text(f'{ROW}own_z,"{name}",liqueur,20,100,0\n', encoding="utf-8", newline="")
    shelf = pantry.load(tmp_path)
    drink = Recipe("x", (Poured("lemon_juice", 45.0), Poured("own_z", 1.5 * 29.5735295625)))
    again = Recipe.parse(drink.text(shelf, Display(volume)), shelf)
    assert [p.ingredient for p in again.pours] == [p.ingredient for p in drink.pours]
    assert again.amounts == pytest.approx(drink.amounts, rel=1e-3)


def test_so_is_one_that_came_with_a_trial():
    shelf = with_stranger("zz", "house gin\n60 mL vodka")
    drink = Recipe("x", (Poured("zz", 45.0),))
    assert [p.ingredient for p in Recipe.parse(drink.text(shelf), shelf).pours] == ["zz"]


def test_a_page_of_prose_in_the_recipe_is_refused_at_once():
    with pytest.raises(InputError, match="number of lines is 20000"):
        Recipe.parse("3 mL wozzle berry liqueur\n" * 20_000)


# --- a third attack: what is lost -------------------------------------------------------------------------------


def refuse(*_, **__):
    raise InputError("working folder", "full", "one that can be written to")


def test_what_could_not_be_set_aside_is_not_written_over_by_the_next_change(tmp_path, monkeypatch):
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF, title="an hour of work")
    page = Bench(tmp_path)
    monkeypatch.setattr(logbook.book, "write_new", refuse)
    page.use(Setting(SOUR.scaled(2), draws=20))
    assert "full" in page.said.value
    page.title.value = "still full"
    assert logbook.in_hand(tmp_path).setting.recipe == SOUR
    monkeypatch.undo()
    page.title.value = "room again"
    assert logbook.in_hand(tmp_path).title == "room again"
    (aside,) = logbook.entries(tmp_path)[0]
    assert logbook.open_saved(aside.path).setting.recipe == SOUR


def test_a_drink_in_hand_that_cannot_be_run_any_more_is_kept_too(tmp_path, monkeypatch):
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF, title="an hour of work")
    held = logbook.in_hand(tmp_path)
    monkeypatch.setattr(logbook.book, "run", refuse)
    aside = logbook.set_aside(tmp_path, held)
    monkeypatch.undo()
    aside.rename(tmp_path / logbook.IN_HAND)
    assert (logbook.in_hand(tmp_path).title, logbook.in_hand(tmp_path).setting) == ("an hour of work", Setting(SOUR))


def test_what_another_page_put_in_hand_while_the_own_ingredients_were_damaged_is_set_aside(tmp_path):
    page = Bench(tmp_path)
    page.title.value = "mine"
    (tmp_path / pantry.OWN_FILE).write_text("id,name\nbroken")
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF, title="theirs")
    page.hand.look()  # cannot be read, so it is not followed
    page.title.value = "mine, changed"
    assert logbook.in_hand(tmp_path, pantry=SHELF).title == "mine, changed"
    (aside,) = logbook.entries(tmp_path)[0]
    assert aside.title.startswith("theirs")


def test_a_file_is_read_without_waiting(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"x" * 100)
    assert files.read(path, "file", "a file") == b"x" * 100
    with pytest.raises(InputError, match="at most 0 MB"):
        files.read(path, "file", "a file", most=99)
