"""What `hazards` knows is told wherever a drink is: of own bottles, of saved ones, of glass, ice, garnish and method."""

from html import unescape

import pytest
from all_panels import NO_DRINK, PANELS

from drinklab import cards, pantry, service, trial, writeup
from drinklab.declared import OF_BOTTLES, declared, of_recipe
from drinklab.display import Display
from drinklab.hazards import CODES
from drinklab.recipe import Recipe

SHELF = pantry.load()
ROWS = """id,name,kind,abv_percent,sugar_g_l,allergens
di,dry ice,other,0,0,none
cb,cinchona bark tincture,bitters,40,0,none
go,garlic oil,other,0,0,none
tp,tepache of the house,mixer,0,60,none
nm,"nutmeg, ground",other,0,0,none
cs,caustic soda,other,0,0,none
"""
BOTTLES = {
    "dry ice": "dry ice", "cinchona bark tincture": "quinine by weight", "garlic oil": "infused oil",
    "tepache of the house": "ferments", "nutmeg, ground": "nutmeg", "caustic soda": "corrosive",
}  # fmt: skip


@pytest.fixture
def bar(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(ROWS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(("name", "code"), BOTTLES.items())
def test_a_bottle_of_ones_own_is_warned_of_in_every_answer(bar, name, code):
    shelf = pantry.load(bar)
    drink = Recipe.parse(f"45 mL gin\n20 mL lemon juice\n10 mL {name}", shelf, name="D", technique="shaken")
    now = trial.run(drink, pantry=shelf, draws=0)
    for cautions in (now.cautions, of_recipe(drink, shelf).cautions, declared(shelf.find(name)).cautions):
        assert code in [caution.code for caution in cautions]
    assert Display().say(next(c for c in now.cautions if c.code == code)) in unescape(writeup.html(now))
    again = writeup.rerun(writeup.html(now))
    assert code in [caution.code for caution in again.cautions]


@pytest.mark.parametrize("name", [name for name in PANELS if name not in NO_DRINK])
def test_each_panel_says_it(name, tmp_path):
    panel = PANELS[name](tmp_path)
    mule = Recipe.parse(
        "45 mL vodka\n20 mL lime juice\n20 mL sugar syrup", name="M", technique="shaken", glass="copper mug",
        garnish="larkspur and edible glitter", method="Cook the vodka sous vide in a sealed bag.",
    )  # fmt: skip
    panel.use(mule)
    said = unescape(panel.cautions.value)
    for told in ("Copper: what is sour", "Ask first", "Glitter and dust", "Heated in a closed bag"):
        assert told in said, told


def test_a_guest_card_says_what_concerns_who_drinks(bar):
    shelf = pantry.load(bar)
    drink = Recipe.parse("45 mL gin\n10 mL nutmeg, ground", shelf, name="D", garnish="larkspur")
    notes = " ".join(service.notes(service.serve(trial.run(drink, pantry=shelf, draws=0)), Display()))
    assert "Nutmeg is poison in grams" in notes
    assert "Ask first" in notes


def test_a_bottle_that_ferments_stands_under_pressure(bar):
    shelf = pantry.load(bar)
    drink = Recipe.parse("45 mL gin\n90 mL tepache of the house", shelf, name="D", technique="built", serve="long")
    assert "Under pressure" in cards.label(trial.run(drink, pantry=shelf, draws=0)).warning


def test_codes_of_hazards_are_no_words_of_the_ingredient_table():
    assert not {code.replace(" ", "_") for code in CODES} & (OF_BOTTLES - {"ask_first"})
