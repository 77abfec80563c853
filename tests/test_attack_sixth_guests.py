"""A sixth attack, on what a guest is told: every output of a drink says the same of it, whatever it is made of."""

import csv
import html
import random
from dataclasses import replace
from datetime import datetime

import pytest
from long_run import LONG

from drinklab import batch, cards, logbook, menu, pantry, service, share, tasting, texts, trial, writeup
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill
from drinklab.carbonation import Pour as PourGas
from drinklab.declared import declared
from drinklab.dilution import Freeze
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Pour, Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater, Rest
from drinklab.workbook.parts import batch_words

SHELF = pantry.load()
WARNS = [key for key, item in SHELF.items() if item.allergens or item.may_contain or item.cautions]
PLAIN = [key for key in SHELF if key not in WARNS]
STEPS = (
    AddWater(0.5), Boil(0.1), MilkWash(share=0.25), Rest(6), Filter(1), Chill(3), Carbonate(volumes=2, temperature=3),
    PourGas(3), Freeze(-12), Set("agar", water=40.0), Set("gelatin", water=40.0),
)  # fmt: skip


def _drawn(seed: int) -> Setting:
    """A drink of what warns of something, made in any way, its steps in any order, half the time with a jelly beside."""
    chance = random.Random(seed)
    keys = chance.sample(WARNS, chance.randint(1, 3)) + chance.sample(PLAIN, chance.randint(1, 3))
    pours = [
        Pour(key, round(chance.uniform(5, 60), 1), after=i > 0 and chance.random() < 0.15) for i, key in enumerate(keys)
    ]
    technique = chance.choice(["stirred", "shaken", "built", "none", "none", "blended"])
    serve = chance.choice(["up", "on ice", "long", *["hot"] * (technique == "none")])
    garnish = chance.choice(["", "", "a lemon twist", "grated egg yolk and almond", "cream"])
    drink = Recipe(f"Drink {seed}", pours, technique=technique, serve=serve, garnish=garnish)
    steps = [chance.choice(STEPS) for _ in range(chance.randint(0, 4))]
    if chance.random() < 0.6:
        steps.sort(key=STEPS.index)
    beside = ()
    if chance.random() < 0.5:
        cubes = Recipe("cubes", (Pour(chance.choice(WARNS), 40.0), Pour("tea_green", 150.0)), technique="none")
        beside = (Setting(cubes, steps=(Set("gelatin", water=40.0, fish=chance.random() < 0.5),), serves=3),)
    return Setting(drink, steps=tuple(steps), beside=beside, serves=chance.randint(1, 4), draws=chance.choice([0, 50]))


def _there(make):
    """What is made, or nothing where it is refused in a sentence."""
    try:
        return make()
    except InputError:
        return None


def _outputs(drink: Setting, now: trial.Trial):
    """Each output of a drink by its name, as plain text."""
    one = service.serve(now)
    yield "menu line", service.menu_line(one).text
    yield "guest card", (card := _there(lambda: cards.guest(now))) and cards.guest_html(card)
    yield "spec card", (card := _there(lambda: cards.spec(now))) and cards.spec_html(card)
    yield "page to try", share.try_page(now)
    yield "write-up", (page := writeup.html(now))
    yield "Markdown", writeup.markdown(now).replace("\\", "")
    yield "site", share.index_html([share.Page("a.html", "write-up", "T", page)])
    made = _there(lambda: batch.scale(drink, pantry=SHELF, serves=8))
    plan = made and _there(lambda: batch.work(made, "2030-07-03 19:00", now=datetime(2030, 6, 28, 9)))
    if plan:
        text = batch_words.sheet(made, plan, batch.shopping_list(made), None, drink.display, drink.country)
        yield "batch sheet", text.replace("\\", "")


@pytest.mark.parametrize("seed", range(400 if LONG else 14))
def test_every_output_says_the_same_of_a_drink(seed):
    drink = _drawn(seed)
    now = _there(lambda: trial.run(drink, pantry=SHELF))
    if now is None:
        pytest.skip("refused in a sentence")
    held, asked = declared(now), declared(*drink.brings(SHELF))
    assert set(held.allergens) == set(asked.allergens)
    assert {c.code for c in asked.cautions} - {c.code for c in now.cautions} <= {
        "strong jelly"
    }  # boiled off, it may be
    one = service.serve(now)
    for name, text in _outputs(drink, now):
        for word in (*held.allergens, *held.may_contain, *map(texts.line, held.unstated)):
            assert text is None or word in html.unescape(text), (name, word)
        if name in ("page to try", "write-up", "site"):
            for caution in now.cautions:
                assert drink.display.say(caution) in html.unescape(text), (name, caution.code)
        if name in ("menu line", "guest card"):
            assert text is None or all(word in html.unescape(text) for word in one.asked_for)
    # The same alcohol by each way to it.
    sample = tasting.sample(now)
    grams = sum(part.served.profile.alcohol for part in (now, *now.beside))
    assert one.alcohol.value == pytest.approx(grams, abs=1e-9)
    assert sample.alcohol * now.served.profile.volume == pytest.approx(grams, rel=1e-9, abs=1e-9)
    assert sample.said.allergens == held.allergens
    listed = menu.menu([now])
    row = dict(zip(service.ALLERGENS, listed.matrix()[0][1], strict=True))
    assert all(row[service.listed(word)] == menu.CONTAINS for word in held.allergens)
    bare = trial.run(replace(drink, recipe=replace(drink.recipe, garnish=""), beside=(), draws=0), pantry=SHELF)
    label = _there(lambda: cards.label(now, stock="4 × 2 in, 10 on Letter"))
    assert label is None or all(word in " ".join(label.allergens) for word in (*bare.allergens, *bare.may_contain))
    again = writeup.rerun(writeup.html(now), pantry=SHELF)
    assert (again.served, again.allergens, again.cautions) == (now.served, now.allergens, now.cautions)


# --- a name that says more than the table has -----------------------------------------------------------------------

SAYS = [
    ("pink grapefruit juice", "juice", "grapefruit"), ("tonic water, house", "mixer", "quinine"),
    ("cold brew of the house", "mixer", "caffeine"), ("smoked egg foam", "other", "raw egg"),
    ("Grapefruit cordial", "syrup", "grapefruit"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "kind", "code"), SAYS)
def test_a_strangers_bottle_warns_of_what_its_name_says(name, kind, code):
    """Its file says that there is nothing to warn of, and no bottle here goes by just that name."""
    data = logbook.snapshot(trial.run(Recipe.parse("60 mL gin\n30 mL lime juice"), pantry=SHELF, draws=0))
    bottle = data["ingredients"]["lime_juice"] | {"id": "zz", "name": name, "kind": kind, "cautions": []}
    data["ingredients"]["zz"] = bottle
    data["setting"]["recipe"]["pours"][1]["ingredient"] = "zz"
    assert code in {caution.code for caution in logbook.revive(data, pantry=SHELF).cautions}


@pytest.mark.parametrize(("name", "kind", "code"), SAYS)
def test_so_does_an_own_one_unless_the_person_says_otherwise(tmp_path, name, kind, code):
    for cell, told in (("", True), ("none", False)):
        row = {"id": "zz", "name": name, "kind": kind, "abv_percent": 0, "sugar_g_l": 20, "allergens": "none",
               "caution": cell, "source": "label", "source_class": "label"}  # fmt: skip
        with (tmp_path / pantry.OWN_FILE).open("w", encoding="utf-8", newline="") as file:
            table = csv.DictWriter(file, list(row))
            table.writeheader()
            table.writerow(row)
        assert (code.replace(" ", "_") in pantry.load(tmp_path)["zz"].cautions) is told


def test_each_of_ours_whose_name_says_so_warns_of_it():
    assert all(code in item.cautions for item in SHELF.values() for code in pantry.name_warns(item.name, item.kind))
