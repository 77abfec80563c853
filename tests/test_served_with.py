"""Glass, ice and garnish are kept with a drink, and said wherever it is served; a garnish's allergens are known or asked for.

Allergens by Regulation (EU) No 1169/2011, annex II, as the pantry has them; what is not in the pantry is not stated.
"""

import json
from dataclasses import replace

import pytest

from drinklab import cards, logbook, pantry, trial, writeup
from drinklab.declared import declared, garnished
from drinklab.errors import InputError
from drinklab.logbook import changes
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook.panels import bench, service

SHELF = pantry.load()
SOUR = Recipe.parse("45 mL gin\n22 mL lemon juice\n15 mL honey syrup", name="Sour", technique="shaken")
SERVED = replace(
    SOUR, glass="coupe, chilled", glass_ice="one large cube", garnish="a lemon twist and an almond biscuit"
)


def _run(recipe):
    return trial.run(recipe, pantry=SHELF, draws=0)


def test_it_is_saved_and_comes_back(tmp_path):
    path = logbook.save(_run(SERVED), tmp_path)
    assert logbook.open_saved(path, pantry=SHELF).setting.recipe == SERVED
    assert Setting.from_dict(json.loads(json.dumps(Setting(SERVED).to_dict()))).recipe == SERVED
    old = Setting(SOUR).to_dict()  # as trials were saved before there were such words
    assert not {"glass", "glass_ice", "garnish"} & set(old["recipe"])
    assert Setting.from_dict(old).recipe == SOUR
    assert {c.code for c in changes(Setting(SERVED), Setting(SOUR))} == {"glass", "glass_ice", "garnish"}


def test_it_stands_on_cards_and_in_the_write_up():
    made = _run(SERVED)
    spec = dict(cards.spec(made).serving)
    assert spec == {"Glass": SERVED.glass, "Ice": SERVED.glass_ice, "Garnish": SERVED.garnish}
    assert dict(cards.guest(made).facts)["Garnish"] == SERVED.garnish
    page = writeup.html(made)
    for word, text in spec.items():
        assert f"<strong>{word}:</strong> <bdi>{text}</bdi>" in page.replace("\u00a0", " ")
    assert "<strong>Garnish:</strong>" not in writeup.html(_run(SOUR))


def test_a_garnish_is_known_by_the_pantry_or_not_stated():
    made = _run(SERVED)
    assert made.unstated == ("garnish: an almond biscuit",)
    assert _run(SOUR).unstated == ()
    assert _run(replace(SOUR, garnish="2 lemon wheels, grapefruit peel")).unstated == ()
    # Egg white is one of ours, and holds eggs; a twist of grapefruit is of the fruit that some medicines forbid.
    assert _run(replace(SOUR, garnish="egg white")).allergens == ("eggs",)
    codes = {c.code for c in declared(*garnished(replace(SOUR, garnish="grapefruit twist"), SHELF)).cautions}
    assert "grapefruit" in codes
    assert "eggs" in declared(*Setting(replace(SOUR, garnish="egg white")).brings(SHELF)).allergens
    label = cards.label(_run(replace(SOUR, garnish="egg white")))
    assert not any("egg" in text for text in label.allergens)  # a bottle holds no garnish


def test_what_is_too_long_is_refused():
    with pytest.raises(InputError, match="garnish"):
        replace(SOUR, garnish="x" * 81)


def test_it_is_typed_on_the_page_and_kept(tmp_path):
    page = service.panel(tmp_path, SOUR)
    page.garnish.value = "a candied walnut"
    assert "candied walnut" in page.card.value
    assert "not stated" in page.cautions.value
    page.glass.value, page.ice.value = "coupe", "none"
    page.keep_button.click()
    held = logbook.in_hand(tmp_path, pantry=SHELF).setting.recipe
    assert (held.glass, held.glass_ice, held.garnish) == ("coupe", "none", "a candied walnut")
    again = service.panel(tmp_path)
    assert again.garnish.value == "a candied walnut"
    there = bench.panel(tmp_path)  # the bench keeps what it has no control for
    assert there.recipe().garnish == "a candied walnut"
    there.save()
    path = next((tmp_path / "trials").glob("*.json"))
    assert logbook.open_saved(path, pantry=SHELF).setting.recipe.glass == "coupe"
