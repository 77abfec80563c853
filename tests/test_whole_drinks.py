"""Drinks of the demo carried whole, from the bottles to the page: a reader of its first page could make the drink."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from drinklab import demo, making, writeup
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater
from drinklab.trial import run
from drinklab.units import FLUID_OUNCE

NOTEBOOK = Path(__file__).parents[1] / "notebooks" / "07_whole_drinks.ipynb"
SHELF = load()
DRINKS = demo.settings(SHELF)
WHOLE = ("Clear Line", "Long Platform")


@pytest.fixture(scope="module")
def made():
    return {name: run(DRINKS[name], draws=200) for name in WHOLE}


def first_page(text):
    """What stands before the stages: enough to make the drink."""
    return text.split("## Stage by stage")[0]


def table_rows(text, heading):
    """Cells of the first table behind a heading of the Markdown, by the ingredient's name."""
    part = text.split(f"## {heading}", 1)[1]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in part.splitlines() if line[:1] == "|"]
    end = next((i for i, row in enumerate(rows) if row[0] == "all that goes in"), len(rows))
    return {row[0]: dict(zip(rows[0][1:], row[1:], strict=True)) for row in rows[2 : end + 1]}


# --- the demo ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DRINKS)
def test_every_drink_of_the_demo_runs_and_comes_back_whole(name):
    assert Setting.from_dict(DRINKS[name].to_dict()) == DRINKS[name]
    trial = run(DRINKS[name], draws=50)
    assert trial.made.volume >= DRINKS[name].serves * trial.served.profile.volume * (1 - 1e-9)
    assert writeup.rerun(writeup.html(trial)).stages == trial.stages


def test_clear_line_loses_milk_solids_and_little_spirit(made):
    stages = made["Clear Line"].stages
    assert [s.name for s in stages] == ["mixed", "milk-washed", "rested", "filtered", "chilled", "served"]
    mixed, washed = stages[0].liquid[0], stages[1].liquid[0]
    assert 0.95 * mixed.ethanol < washed.ethanol < mixed.ethanol
    # A fifth of milk's protein is whey, and stays; casein leaves. 399 mL of skimmed milk bring 13.9 g (USDA SR28
    # 01085, 3.37 g/100 g).
    assert washed.protein < mixed.protein + 0.25 * 13.9
    assert washed.lactose > 15  # 5 g/100 g of it (USDA SR28 01085)
    assert stages[1].ph[0] < 4.6  # casein's isoelectric point: Zoller 1921


def test_long_platform_keeps_its_gas_to_the_glass(made):
    gas = {s.name: s.gas[0] for s in made["Long Platform"].stages}
    assert gas["carbonated"] == pytest.approx(2.8 * 1.96, rel=0.01)  # 1 volume is 1.96 g/L (ideal gas at 0 °C, 1 atm)
    assert gas["poured"] == pytest.approx(gas["served"])
    assert gas["carbonated"] > gas["poured"] > 0.5 * gas["carbonated"]


# --- the page ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", WHOLE)
def test_the_page_runs_again_to_the_same_figures(made, name, tmp_path):
    page, _ = writeup.save(made[name], tmp_path)
    again = writeup.rerun(page)
    assert again.stages == made[name].stages
    assert [other.stages for other in again.beside] == [other.stages for other in made[name].beside]
    assert again.alcohol == made[name].alcohol


def test_the_first_page_names_all_that_is_needed(made):
    text = first_page(writeup.markdown(made["Clear Line"]))
    for words in (
        "skimmed cow's milk", "gelatin, 200 Bloom", "water (for the gelatin)", "Contains:** milk, sulphites",
        "Makes 20 serves of 110 mL", "Makes 20 pieces of 8.0 mL", "With it: Amontillado and tea jelly",
    ):  # fmt: skip
        assert words in text
    order = ["Mix gin", "cold skimmed cow's milk", "Rest it covered for 12 h", "Filter through 2 papers", "Chill to",
             "Fill 20 glasses with 110 mL", "one large cube", "Strew 3.2 g of gelatin", "Cut 20 pieces"]  # fmt: skip
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    text = first_page(writeup.markdown(made["Long Platform"]))
    for words in ("carbon dioxide", "2.8 volumes", "on the gauge", "Fill 60 glasses with 145 mL", "keg of 9.5 L"):
        assert words in text


@pytest.mark.parametrize("name", WHOLE)
def test_a_readers_amounts_add_up_to_the_batch(made, name):
    trial = made[name]
    text = writeup.markdown(trial)
    rows = table_rows(text, "Recipe")
    told = {key: float(row["g"]) for key, row in rows.items()}
    whole = told.pop("all that goes in")
    assert sum(told.values()) == pytest.approx(whole, abs=0.5 * len(told) + 0.5)
    # By volume too, with the densities of the pantry; and all of it is in the drink, or was left behind.
    poured = trial.stages[0].liquid[0].mass
    assert sum(
        float(rows[p.bottle(SHELF).name]["mL"]) * p.bottle(SHELF).density for p in trial.recipe.pours
    ) == pytest.approx(poured, rel=0.002)
    outcomes = [outcome for _, _, outcome in trial.worked]
    left = sum(float(o.left.grams.reshape(len(o.left.grams), -1)[:, 0].sum()) for o in outcomes if o.left is not None)
    assert whole == pytest.approx(trial.stages[-2].liquid[0].mass + left, rel=0.001)
    glass = sum(float(row["in one glass"].split()[0]) for row in rows.values() if row["in one glass"].endswith(" mL"))
    assert glass == pytest.approx(sum(float(row["mL"] or 0) for row in rows.values()) * making.share(trial), rel=0.04)


def test_a_jelly_adds_up_and_one_goes_with_each_glass(made):
    text, (jelly,) = writeup.markdown(made["Clear Line"]), made["Clear Line"].beside
    rows = table_rows(text, "With it: Amontillado and tea jelly")
    assert float(rows["all that goes in"]["g"]) == pytest.approx(jelly.stages[-2].liquid[0].mass, abs=0.6)
    # Gelatin for a sliceable jelly: 15 to 20 g/L of 200 Bloom (common practice, datasets/gels.csv).
    assert 15 <= 1000 * float(rows["gelatin, 200 Bloom"]["g"]) / jelly.made.volume <= 20
    assert "One goes with each glass." in text
    half = run(replace(DRINKS["Clear Line"], serves=10), draws=0)
    assert "make it 0.5 times" in writeup.markdown(half)


def test_alcohol_of_both_together(made):
    trial = made["Clear Line"]
    glass, cube = trial.served.profile.alcohol, trial.beside[0].served.profile.alcohol
    text = writeup.markdown(trial)
    assert f"{glass:.1f} g in the glass and {cube:.1f} g in what goes beside it" in text
    assert f"{glass + cube:.1f} g of alcohol" in text


def test_fish_gelatin_and_milk_are_declared():
    jelly = DRINKS["Amontillado and tea jelly"]
    fish = replace(jelly, steps=(replace(jelly.steps[0], fish=True),))
    trial = run(replace(DRINKS["Clear Line"], beside=(fish,)), draws=0)
    for text in (writeup.html(trial), first_page(writeup.markdown(trial))):
        assert "milk, sulphites, fish" in text or "milk, fish, sulphites" in text
        assert "gelatin of fish" in text
    gellan = run(replace(DRINKS["Clear Line"], beside=(DRINKS["Amontillado and tea jelly, gellan"],)), draws=0)
    text = writeup.markdown(gellan)
    assert "| gellan |" in text
    assert "gelatin" not in text.lower().replace("gelatin maker", "")
    assert "vegan" not in text.lower()  # there is milk in the drink


def test_yield_of_a_batch_for_other_programs(made):
    def told(trial):
        return json.loads(re.search(r"ld\+json\">(.*?)</script", writeup.html(trial), re.DOTALL)[1])

    data = told(made["Clear Line"])
    assert data["recipeYield"] == "20 serves of 110 mL"
    assert "399 mL skimmed cow's milk" in data["recipeIngredient"]
    assert "3.2 g gelatin, 200 Bloom" in data["recipeIngredient"]
    assert told(made["Long Platform"])["recipeYield"] == "60 serves of 145 mL"
    # One serve size given, of a batch: as many as it fills.
    batch = Recipe.parse("400 mL gin\n400 mL water", technique="none")
    assert told(run(batch, serve_volume=150, draws=0))["recipeYield"] == "5 serves of 150 mL"
    assert told(run(batch, draws=0))["recipeYield"] == "1 drink, 800 mL"


def test_the_chosen_units(made):
    text = first_page(writeup.markdown(made["Clear Line"], display=Display("oz", "°F")))
    assert f"{110 / FLUID_OUNCE:.2f} oz" in text
    assert not re.search(r"\d mL\b|\d °C", text)
    assert "into 13.50 oz of cold skimmed cow's milk" in text  # 399.25 mL
    assert "at 39 °F" in text


# --- batches and glasses ----------------------------------------------------------------------------------------


def test_a_punch_for_twenty_is_no_serve():
    recipe = Recipe.parse("1400 mL aged rum, 44 %\n1400 mL cold black tea\n500 mL lemon juice", technique="none")
    whole = run(recipe, draws=0)
    assert [c.code for c in whole.cautions if c.code in ("batch", "strong serve")] == ["batch"]
    text = writeup.markdown(whole)
    assert "Strong serve" not in text
    assert "## All of it" in text
    assert "set the number of serves" in text
    each = run(recipe, serves=20, draws=0)
    grams = whole.served.profile.alcohol / 20
    assert f"{grams:.1f} g of alcohol, {grams / 14:.1f} standard drinks" in writeup.markdown(each)
    assert "## One serve" in writeup.markdown(each)


# --- the typed method -----------------------------------------------------------------------------------------------


SHAKEN = "Shake with ice for 12 seconds; strain into a chilled stem glass.\nGarnish with a leaf."


def test_what_the_setting_contradicts_is_not_said():
    line = DRINKS["Clear Line"]
    washed = replace(line, recipe=replace(line.recipe, technique="shaken", method=SHAKEN), melt=0.0)
    text = first_page(writeup.markdown(run(washed, draws=0)))
    assert "12 seconds" not in text
    assert "strain" not in text.lower()
    assert "Garnish with a leaf." in text
    assert "Mix gin" in text
    # It is somebody's text: it comes back with the page.
    assert writeup.read(writeup.html(run(washed, draws=0))).method == SHAKEN


def test_a_typed_method_stays_where_nothing_contradicts_it():
    sour = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken", method=SHAKEN)
    items = [item.do for item in making.method(run(sour, draws=0), Display())]
    assert items == SHAKEN.splitlines()
    plain = replace(sour, method="")
    assert [item.do for item in making.method(run(plain, draws=0), Display())] == [
        "Shake gin, lemon juice and sugar syrup with ice."
    ]


def test_steps_are_told_by_the_setting_not_by_the_text():
    thinned = Setting(Recipe.parse("60 mL gin\n30 mL lime juice", technique="none"), steps=(AddWater(amount=30),))
    assert [item.do for item in making.method(run(thinned, draws=0), Display())] == [
        "Mix gin and lime juice, without ice.", "Add 30 mL of plain water.",
    ]  # fmt: skip


# --- Markdown ----------------------------------------------------------------------------------------------------------


def test_titles_in_markdown_are_plain():
    sour = Recipe.parse("45 mL gin\n20 mL lemon juice", name="No. 3 & more", technique="shaken")
    text = writeup.markdown(run(sour, draws=0), title="1. Frost & Fire #2 (v1.2) - a-b_c")
    assert text.startswith("# 1. Frost & Fire #2 (v1.2) - a-b_c\n\nNo. 3 & more, ")
    assert "\\." not in text
    assert "&amp;" not in text


def test_a_damaged_step_is_one_sentence(made):
    text = writeup.html(made["Clear Line"])
    damaged = text.replace('"milk wash"', '"moon wash"')
    assert damaged != text
    with pytest.raises(InputError, match="step is 'moon wash'"):
        writeup.rerun(damaged)


# --- the notebook ----------------------------------------------------------------------------------------------------


def test_the_notebook_runs_in_an_empty_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    names = {}
    for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    first, second = names["pages"]
    assert writeup.rerun(first).stages == names["clear_line"].stages
    assert writeup.rerun(second).stages == names["long_platform"].stages
