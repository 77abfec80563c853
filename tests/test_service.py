"""What leaves the bar, beside public-health sources, the factors of the regulation and the lists of the law."""

import re
from dataclasses import replace

import hypothesis.strategies as st
import numpy as np
import pytest
import settings as drawn
from hypothesis import given
from hypothesis import settings as rules
from long_run import examples

from drinklab import classics, demo, facts, pantry, profile, service, strength, tables, trial
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.liquid import Liquid
from drinklab.recipe import Recipe
from drinklab.setting import Setting

SHELF = pantry.load()
DEMO = demo.settings(SHELF)


def neat(text, **more):
    return trial.run(Recipe.parse(text, technique="none"), draws=0, **more)


# --- alcohol ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "country", "drinks", "off"),
    [
        # National Institute on Alcohol Abuse and Alcoholism, What is a standard drink: each about 14 g, one drink.
        ("12 oz lager beer", "United States", 1.0, 0.02),
        ("5 oz dry white wine, 12 %", "United States", 1.0, 0.02),
        ("1.5 oz vodka, 40 %", "United States", 1.0, 0.02),
        # National Health Service, alcohol units: 25 mL of 40 % is one unit, 8 g or 10 mL of alcohol (from memory).
        ("25 mL gin, 40 %", "United Kingdom", 1.0, 0.02),
        # Australia New Zealand Food Standards Code 2.7.1: 10 g of ethanol at 20 °C, 12.67 mL of it.
        ("12.67 mL vodka, 96 %", "Australia", 0.96, 0.005),
    ],
)
def test_standard_drinks_of_public_health(text, country, drinks, off):
    one = service.serve(neat(text), country)
    assert one.drinks.value == pytest.approx(drinks, abs=off)
    assert one.drinks.value * one.size == pytest.approx(one.alcohol.value)


def test_energy_by_hand():
    """Factors of Regulation (EU) No 1169/2011, annex XIV: 29, 17, 13, 17, 37 kJ and 7, 4, 3, 4, 9 kcal in a gram. 100 mL
    of wine of 12 % vol with 3 g/L of sugar and 6 g/L of acid: 9.47 × 29 + 0.3 × 17 + 0.6 × 13 = 287.5 kJ, and 69.3 kcal."""
    kj, kcal, grams = service.energy([Liquid.of(ethanol=12 * 0.7892, fructose=0.3, tartaric=0.6, water=89)])
    assert kj == pytest.approx(287.5, abs=0.3)
    assert kcal == pytest.approx(69.3, abs=0.2)
    assert grams["acid"] == 0.6
    kj, kcal, _ = service.energy([Liquid.of(protein=2, fat=3), Liquid.of(lactose=5)])
    assert (kj, kcal) == (2 * 17 + 3 * 37 + 5 * 17, 2 * 4 + 3 * 9 + 5 * 4)


def test_a_sour_by_hand():
    """45 mL of 40 % holds 14.2 g of ethanol (OIML R 22: 789.24 kg/m³), 412 kJ; 20 mL of syrup its sugar, at 17 kJ."""
    one = service.serve(neat("45 mL gin, 40 %\n20 mL sugar syrup"))
    sugar = 0.02 * SHELF.find("sugar syrup").sugar
    assert one.alcohol.value == pytest.approx(45 * 0.4 * 0.78924, rel=1e-3)
    assert one.sugar.value == pytest.approx(sugar, rel=1e-6)
    assert one.kj.value == pytest.approx(45 * 0.4 * 0.78924 * 29 + 17 * sugar, rel=1e-3)
    assert one.abv == service.Figure(pytest.approx(27.7, abs=0.3), None)  # nothing was drawn: no ± is made up


def test_its_spread_is_the_trial_s_own():
    done = trial.run(DEMO["Slow Signal"], pantry=SHELF)
    one = service.serve(done)
    assert one.alcohol.pm == pytest.approx(done.served.spread("alcohol"))
    assert one.before.value > one.abv.value
    assert one.drinks.pm == pytest.approx(one.alcohol.pm / 14)


def test_what_goes_beside_counts():
    done = trial.run(DEMO["Clear Line"], pantry=SHELF)
    one = service.serve(done)
    assert one.alcohol.value == pytest.approx(done.alcohol)
    assert one.alcohol.value > done.served.profile.alcohol
    assert one.beside == ("Amontillado and tea jelly",)
    assert "with Amontillado and tea jelly beside it" in dict(service.facts(one, Display()))["In the glass"]
    assert one.before is None  # it meets no ice


def test_a_batch_without_serves_says_so():
    one = service.serve(neat("2 L gin"))
    assert one.whole
    assert any("set the number of serves" in line for line in service.notes(one, Display()))


# --- allergens -----------------------------------------------------------------------------------------------


def test_the_lists_of_the_law():
    """Fourteen of annex II; nine of FALCPA (2004, eight) and the FASTER Act (2021, sesame)."""
    assert len(service.ALLERGENS) == 14
    assert len(set(service.US_ALLERGENS)) == 9
    assert set(service.US_ALLERGENS) == {
        "milk", "eggs", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans", "sesame",
    }  # fmt: skip
    column = tables.fields("ingredients")["allergens"]["itemEnum"]
    assert {*column} == {*service.ALLERGENS, "none"}
    assert all(service.listed(word) for row in SHELF.values() for word in (*row.allergens, *row.may_contain))


@pytest.mark.parametrize(
    ("word", "us"),
    [
        ("cereals containing gluten (barley)", ()), ("cereals containing gluten (wheat)", ("wheat",)),
        ("cereals containing gluten (spelt wheat)", ("wheat",)), ("sulphites", ()), ("lupin", ()),
        ("cereals containing gluten (buckwheat honey, oats)", ()), ("sesame seeds", ("sesame",)),
        ("crustaceans", ("crustacean shellfish",)), ("molluscs", ()), ("nuts (hazelnut)", ("tree nuts (hazelnut)",)),
    ],
)  # fmt: skip
def test_the_words_of_the_united_states(word, us):
    assert service.us_words([word]) == us


def test_milk_and_egg_stay_however_they_were_filtered_out():
    assert "milk" in service.serve(trial.run(DEMO["Clear Line"], pantry=SHELF, draws=0)).allergens
    fizz = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL egg white\n15 mL honey syrup", technique="shaken")
    one = service.serve(trial.run(fizz, steps=[Filter(3)], draws=0))
    assert one.allergens == one.us_allergens == ("eggs",)
    assert "raw egg" in one.asked_for


@pytest.mark.parametrize(
    ("text", "word"),
    [("90 mL tonic water", "quinine"), ("60 mL grapefruit juice", "grapefruit"), ("90 mL cold green tea", "caffeine")],
)
def test_what_a_guest_may_ask_for_is_named(text, word):
    one = service.serve(trial.run(Recipe.parse(f"45 mL gin\n{text}", technique="built"), draws=0))
    assert word in dict(service.facts(one, Display()))["Also in it"]
    assert word in service.menu_line(one).text


def test_unknown_is_not_none(tmp_path):
    """An ingredient whose allergens nobody has stated is named, on the card and in the menu line."""
    (tmp_path / pantry.OWN_FILE).write_text(
        "id,name,kind,abv_percent,sugar_g_l\nhouse_cordial,house cordial,syrup,0,300\n", encoding="utf-8"
    )
    shelf = pantry.load(tmp_path)
    one = service.serve(trial.run(Recipe.parse("45 mL gin\n20 mL house cordial", shelf), pantry=shelf, draws=0))
    assert one.said.unstated == ("house cordial",)
    assert "house cordial" in " ".join(service.notes(one, Display()))
    assert "house cordial" in service.menu_line(one).text
    assert "No allergen of the EU" not in " ".join(service.notes(one, Display()))


def test_energy_names_what_it_leaves_out():
    (cream,) = (service.serve(neat("45 mL gin\n30 mL heavy cream")),)
    assert not cream.uncounted or "protein" not in cream.uncounted[0].text
    lean = replace(SHELF["cream_heavy"], id="oat_cream", name="oat cream", solutes={"lactose": 40.0})
    shelf = SHELF.with_items([lean])
    done = trial.run(Recipe.parse("45 mL gin\n30 mL oat cream", shelf, technique="none"), pantry=shelf, draws=0)
    assert "oat cream" in facts.say(service.serve(done).uncounted)
    assert dict(service.facts(service.serve(done), Display()))["Energy"].startswith("at least ")


# --- alcohol-free --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ml", "countries"),
    [
        # % vol of so many mL of 40 % in 1000 mL: 0.04, 0.3, 0.9, 1.1. Limits: United Kingdom 0.05 (descriptors as the
        # consultation of 2018 quotes them), Germany and Denmark 0.5, Netherlands 0.1, Spain 1.0, France 1.2 % vol; of
        # the United States none at all (27 CFR 7.26).
        (1.0, {"United Kingdom", "Netherlands", "Germany", "Denmark", "Spain", "France", "Italy"}),
        (7.5, {"Germany", "Denmark", "Spain", "France", "Italy"}),
        (22.5, {"Spain", "France", "Italy"}),
        (27.5, {"France", "Italy"}),
        (32.5, set()),
    ],
)
def test_alcohol_free_only_below_the_limit(ml, countries):
    # Poured exactly: the upper end decides, also where nothing was drawn, and a jigger may pour half as much again.
    done = neat(f"{ml} mL vodka, 40 %\n{1000 - ml} mL water", serves=5, tool="exact")
    found = {country: service.serve(done, country).free for country in service.limits()}
    assert {country for country, free in found.items() if free} == countries
    for country in ("Australia", "Japan"):  # no limit is known: neither yes nor no
        one = service.serve(done, country)
        assert one.free is None
        assert one.abv.value > 1.2 or "say the strength" in facts.say(service.free_words(one))


def test_the_upper_end_counts():
    """A glass that holds 0.048 % vol as poured, and more in some of twenty, is not called alcohol-free."""
    recipe = Recipe.parse("2 mL orange bitters\n1400 mL soda water", technique="none")
    undrawn, unsure = (service.serve(trial.run(recipe, serves=7, draws=n), "United Kingdom") for n in (0, 1000))
    assert undrawn.abv.value == pytest.approx(unsure.abv.value, rel=1e-6)
    assert undrawn.abv.value < 0.05
    assert not undrawn.free  # that no ± was asked for is no reason to call it so
    assert not unsure.free
    assert "may not be called alcohol-free" in facts.say(service.free_words(unsure))


def test_a_jelly_beside_it_is_not_forgotten():
    quiet = replace(DEMO["Quiet Carriage"], beside=(DEMO["Amontillado and tea jelly"],))
    assert service.serve(trial.run(DEMO["Quiet Carriage"], pantry=SHELF, draws=0), "Germany").free
    assert not service.serve(trial.run(quiet, pantry=SHELF, draws=0), "Germany").free


def test_every_country_with_a_limit_can_be_chosen():
    assert set(service.limits()) <= set(strength.countries())


# --- the classics, and words -----------------------------------------------------------------------------------


def test_beside_the_classics():
    one = service.serve(trial.run(DEMO["First Frost"], pantry=SHELF, draws=0))
    found = service.beside_classics(one)
    assert len(found.grams) == 105
    assert list(found.grams) == sorted(found.grams)
    assert found.less == sum(grams < one.alcohol.value for grams in found.grams)
    known = classics.load()
    alcohol = profile.reference(known).alcohol[known.names.index("Negroni")]
    assert found.grams[found.names.index("Negroni")] == pytest.approx(float(alcohol))


def said(one, show):
    lines = [f"{word} {text}" for word, text in service.facts(one, show)]
    return "\n".join(
        [*lines, *service.notes(one, show), service.menu_line(one).text, service.beside_classics(one).words]
    )


NEVER = re.compile(r"\bblood|\bdriv|\bBAC\b|\bsober|\blegal limit|\bfit to\b", re.IGNORECASE)


@pytest.mark.parametrize("name", DEMO)
@pytest.mark.parametrize("show", [Display(), Display("oz", "°F")], ids=["mL", "oz"])
def test_never_of_blood_nor_of_driving(name, show):
    for country in ("United States", "Japan", "United Kingdom"):
        text = said(service.serve(trial.run(DEMO[name], pantry=SHELF, draws=0), country), show)
        assert not NEVER.search(text), text


@rules(max_examples=examples(40))
@given(drink=drawn.drawn_settings(), country=st.sampled_from(["United States", "Iceland", "Germany"]))
def test_any_drink_can_be_told(drink, country):
    done = drawn.made(drink)
    if done is None:
        return
    one = service.serve(done, country)
    text = said(one, done.setting.display)
    assert not re.search(r"\bnan\b|\bNone\b(?! of)|\binf\b|[^\w]-\d", text), text
    assert one.kj.value >= 29 * one.alcohol.value - 1e-9
    assert set(one.us_allergens) <= {w for a in one.allergens for w in service.us_words([a])}
    assert np.isclose(one.drinks.value * one.size, one.alcohol.value)


def test_an_unknown_country_is_refused():
    with pytest.raises(InputError, match="country is 'Ruritania'; it must be one of"):
        service.serve(neat("45 mL gin"), "Ruritania")


def test_an_empty_drink_is_refused_before_it_comes_here():
    with pytest.raises(InputError, match="total of the pours"):
        Setting(Recipe.parse("0 mL gin"))
