"""Cautions and allergens stand on every panel that handles the drink, and in what functions return.

The words of allergens: Regulation (EU) 1169/2011, annex II. Which style holds what: the source beside each row of
datasets/ingredients.csv.
"""

import pytest
from all_panels import PANELS, words

from drinklab import gels, prep, reach, whatif
from drinklab.declared import LABELS, Declared, declared, of_recipe
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.workbook import tuning

# What it brings, the bottle, and what the page must say of it.
KINDS = {
    "grapefruit": ("grapefruit juice", "Grapefruit can change how some medicines work"),
    "caffeine": ("cold black tea", "Caffeine: name it on the menu"),
    "quinine": ("tonic water", "Quinine: name it on the menu"),
    "nuts": ("orgeat", "nuts (almond)"),
    "milk": ("light cream", "milk"),
    "egg": ("egg white", "eggs"),
    "sulphites": ("fino sherry", "sulphites"),
    "overproof": ("rum_overproof_white", "Overproof spirit burns easily"),
    "traces": ("falernum", "May contain: nuts (almond)"),
}
NO_DRINK = {"prep", "day"}  # of these neither takes a whole drink


def _drink(kind: str) -> Recipe:
    text = f"45 mL gin\n20 mL lemon juice\n15 mL sugar syrup\n30 mL {KINDS[kind][0]}"
    return Recipe.parse(text, name="one of each", technique="shaken")


@pytest.fixture(scope="module", params=[name for name in PANELS if name not in NO_DRINK])
def panel(request, tmp_path_factory):
    return PANELS[request.param](tmp_path_factory.mktemp("bar"))


@pytest.mark.parametrize("kind", KINDS)
def test_each_panel_says_what_the_drink_brings(panel, kind):
    panel.use(_drink(kind))
    said = panel.cautions.value
    assert KINDS[kind][1] in said
    assert LABELS in said
    assert KINDS[kind][1] in words(panel)
    assert "dl-stale" not in panel.cautions._dom_classes
    for other, (_, sentence) in KINDS.items():
        if (
            other in {"grapefruit", "quinine", "caffeine", "nuts"} - {kind}
            and kind != "traces"
            and not hasattr(panel, "other")
        ):
            assert sentence not in said, f"{other} of an earlier drink"


def test_it_is_said_also_where_there_is_no_answer(panel):
    strong = Recipe.parse("60 mL rum_overproof_white\n10 mL egg white", name="too strong", technique="shaken")
    panel.use(strong)  # the rule for melt water ends below it, on most panels
    assert "eggs" in panel.cautions.value
    assert "Overproof" in panel.cautions.value


def test_both_of_a_pair_are_told_apart(tmp_path):
    a = Recipe.parse("60 mL gin\n30 mL orgeat", name="A one")
    b = Recipe.parse("60 mL gin\n30 mL lemon juice\n30 mL egg white\n20 mL sugar syrup", name="B one")
    said = tuning.versus(tmp_path, a, b).cautions.value
    first, second = said.split("B, B one")
    assert "nuts (almond)" in first
    assert "nuts" not in second
    assert "eggs" in second
    assert "eggs" not in first


def test_a_bottle_on_hand_counts_for_a_target(tmp_path):
    panel = PANELS["target"](tmp_path)
    assert "hazelnut" not in panel.cautions.value
    panel.new_name.value = "hazelnut liqueur"
    panel.add_button.click()
    assert "nuts (hazelnut)" in panel.cautions.value


def test_a_pour_of_nothing_brings_nothing(tmp_path):
    panel = PANELS["drink"](tmp_path)
    panel.use(_drink("nuts"))
    panel.pours.children[3].slider.value = 0
    assert "nuts" not in panel.cautions.value
    panel.pours.children[3].number.value = 1
    assert "nuts (almond)" in panel.cautions.value


def test_what_is_made_ahead(tmp_path):
    panel = PANELS["prep"](tmp_path)
    panel.juice.juice.value = "grapefruit_juice"
    assert "Grapefruit can change" in panel.juice.cautions.value
    panel.juice.volume.number.value = 0  # no answer
    assert "Grapefruit can change" in panel.juice.cautions.value
    panel.syrup.sugar.value = "orgeat"
    assert "nuts (almond)" in panel.syrup.cautions.value
    panel.syrup.sugar.value = "lactose"
    assert "Contains: milk." in panel.syrup.cautions.value
    panel.syrup.sugar.value = "white sugar"
    assert panel.syrup.cautions.value == ""


# --- what functions return -----------------------------------------------------------------------------


def test_functions_return_it():
    shelf = load()
    nutty = _drink("nuts")
    nuts = ("nuts (almond)",)
    assert of_recipe(nutty, shelf).allergens == nuts
    assert whatif.variation(nutty, 200).declared.allergens == nuts
    assert whatif.sweep(nutty, 0, 1, (30, 60), (10, 30), points=3).declared.allergens == nuts
    found = reach.reach({"abv": 18, "sugar": 80}, ["gin", "orgeat", "lemon juice"], technique="shaken")
    assert all(("nuts (almond)" in a.declared.allergens) == ("orgeat" in str(a.recipe.pours)) for a in found)
    assert [c.code for c in prep.adjust("grapefruit juice", "lemon juice").declared.cautions] == ["grapefruit"]
    assert prep.syrup(50, "orgeat", mass=100).declared.allergens == nuts
    assert prep.syrup(15, "lactose", mass=100).declared.allergens == ("milk",)
    assert prep.syrup(50, "sugar", mass=100).declared == Declared()
    jelly = gels.grapefruit_jelly()
    assert "grapefruit" in [c.code for c in jelly.cautions]
    made = gels.measured(gels.jelly("500 mL", "agar", abv=5), _drink("sulphites"), shelf)
    assert made.allergens == ("sulphites",)
    traces = gels.measured(gels.jelly("500 mL", "agar", abv=5), _drink("traces"), shelf)
    assert traces.may_contain == nuts


def test_each_thing_is_said_once():
    shelf = load()
    said = declared(shelf["orgeat"], shelf["falernum"], shelf["milk_whole"], shelf["cream_heavy"])
    assert said.allergens == ("nuts (almond)", "milk")
    assert said.may_contain == ()
    assert [c.code for c in said.cautions] == ["dairy"]


def test_gas_in_a_closed_tin_is_said_of_the_drink_that_has_it(tmp_path):
    tin = Recipe.parse("45 mL gin\n60 mL soda water", name="tin", technique="shaken")
    still = Recipe.parse("45 mL gin\n15 mL lemon juice", name="still", technique="shaken")
    first, second = tuning.versus(tmp_path, still, tin).cautions.value.split("B, tin")
    code = next(c for c in of_recipe(tin, load()).cautions if c.code == "sparkling, closed")
    assert code.text[:30] in second
    assert code.text[:30] not in first
