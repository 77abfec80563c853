"""Recipes, pantry, trials and placement: laws, cautions, and what a mistake says."""

import csv
from dataclasses import replace

import numpy as np
import pytest

from drinklab import balance, carbonation, classics, dilution, filtering, logbook, milk, pantry, profile, steps, trial
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.liquid import COMPONENTS, Liquid
from drinklab.pantry import Ingredient
from drinklab.recipe import TECHNIQUES, Pour, Recipe
from drinklab.units import ureg

SOUR = """45 mL dark rum, 46 %
15 mL amontillado sherry
15 mL pineapple juice
15 mL lemon juice
15 mL honey syrup
10 mL cold green tea"""


@pytest.fixture(scope="module")
def sour() -> Recipe:
    return Recipe.parse(SOUR, name="Branch Line, first sour", technique="shaken", family="sour")


# --- recipe text ------------------------------------------------------------------------------------


def test_a_recipe_reads_back_as_written(sour):
    again = Recipe.parse(sour.text(), name=sour.name, technique="shaken", family="sour")
    assert again == sour


@pytest.mark.parametrize("volume", ["mL", "oz"])
def test_every_classic_reads_back_in_either_measure(volume):
    for recipe in classics.load():
        again = Recipe.parse(recipe.text(display=Display(volume=volume)))
        assert np.allclose(again.amounts, recipe.amounts, rtol=1e-3)
        assert [p.ingredient for p in again.pours] == [p.ingredient for p in recipe.pours]


def test_the_unit_of_a_pour_changes_no_result():
    one = trial.run(Recipe.parse("1.5 oz gin\n3/4 oz lemon juice\n0.75 oz sugar syrup"), draws=0)
    two = trial.run(
        Recipe.parse("44.36029434375 mL gin\n22.180147171875 mL lemon juice\n2.2180147171875 cl sugar syrup"), draws=0
    )
    for figure in profile.FIGURES:
        assert getattr(one.served.profile, figure) == pytest.approx(getattr(two.served.profile, figure), rel=1e-9)


def test_dry_solids_are_weighed():
    recipe = Recipe.parse("60 mL white rum\n20 mL lime juice\n8.4 g white sugar")
    assert trial.run(recipe, draws=0).stages[0].profile.sugar == pytest.approx(1000 * (8.4 + 0.34) / 84.6, rel=0.02)
    assert "8.4 g white sugar" in recipe.text()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "recipe is empty; it must be at least one line such as '45 mL aged rum'."),
        ("45 mL ginn", "line 1: ingredient is 'ginn'; it must be one of the 166 known (did you mean gin?)."),
        ("45 mL gin\n2 parsecs gin", "line 2: unit is 'parsecs'; it must be a bar measure"),
        ("45 °C gin", "line 1: unit is '°C'; it must be a bar measure"),
        ("-5 mL gin", "line 1: amount of 'gin' is '-5 mL'; it must be zero or more."),
        ("gin", "line 1: pour is 'gin'; it must be an amount such as"),
        ("45 mL", "line 1: pour is '45 mL'; it must be an amount such as"),
        ("1/0 oz gin", "line 1: pour is '1/0 oz gin'; it must be an amount such as"),
        ("45 mL gin, 140 %", "line 1: strength of 'gin' is 140; it must be 0 to 100 % vol."),
        ("0 mL gin", "total of the pours is 0; it must be above 0 mL."),
        ("top 60 mL soda water", "total before the top is 0; it must be above 0 mL"),
        ("45 mL orange liqueur, 95 %", "line 1: alcohol and sugar of 'orange liqueur (triple sec), 95 %'"),
    ],
)
def test_a_mistake_in_a_recipe_is_one_sentence(text, said):
    with pytest.raises(InputError) as problem:
        Recipe.parse(text)
    assert str(problem.value).startswith(said)
    assert "\n" not in str(problem.value)


def test_sugar_that_cannot_dissolve_is_refused():
    # Bubnik and Kadlec 1995: 66.72 % by mass at 20 °C, so 20 g of water hold 40 g.
    with pytest.raises(InputError, match=r"sugar of 'untitled' before ice is 300 g in 20 g of water"):
        trial.run(Recipe.parse("20 mL water\n300 g white sugar"))


def test_quantities_are_taken_at_the_door():
    from drinklab import strength

    assert strength.water_to_reach(ureg("1 liter"), 63, 46) == pytest.approx(382.66, abs=0.01)


# --- pantry -----------------------------------------------------------------------------------------


def test_every_ingredient_fills_its_millilitre():
    shelf = pantry.load()
    for item in shelf.values():
        if item.state == "liquid":
            assert Liquid(item.composition).volume() == pytest.approx(1, abs=1e-9), item.id
        grams = dict(zip(COMPONENTS, item.composition, strict=True))
        assert grams["ethanol"] == pytest.approx(item.abv / 100 * 0.78924, rel=1e-5)
        assert min(grams.values()) >= 0


def test_published_densities_agree_with_the_model():
    """Ingredients whose density a table prints: the model is within 2 %, most within 0.5 %.

    Dry sugar is left out (not a solution); sauces, eggs and cream hold more than the model knows.
    """
    shelf = pantry.load()
    table = {row["id"]: row for row in _rows("ingredients")}
    off = {
        item.id: item.density / item.published_density - 1
        for item in shelf.values()
        if table[item.id]["density_basis"] == "table value" and item.state == "liquid" and item.published_density
    }
    thick = {k for k, v in off.items() if abs(v) > 0.02}
    assert thick <= {"worcestershire_sauce", "egg_yolk", "coconut_cream_sweet", "saline_20"}, off
    assert np.median(np.abs(list(off.values()))) < 0.006


def _rows(name):
    from drinklab import tables

    return tables.read(name).rows()


def _own(tmp_path, *rows, header="id,name,kind,abv_percent,sugar_g_l"):
    (tmp_path / pantry.OWN_FILE).write_text("\n".join((header, *rows)), encoding="utf-8")
    return tmp_path


def test_own_ingredients_win(tmp_path):
    shelf = pantry.load(_own(tmp_path, "gin,house gin,spirit,46,0", "shrub_plum,plum shrub,syrup,0,400"))
    assert shelf["gin"].abv == 46
    assert shelf.find("plum shrub").sugar == 400
    assert pantry.load()["gin"].abv == 40


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["gin,house gin,spirit,146,0"], "my_ingredients.csv, line 2: abv_percent is"),
        (["gin,house gin,spirit,strong,0"], "my_ingredients.csv, line 2: abv_percent is 'strong'"),
        (["a,a,spirit,40,0", "a,b,spirit,40,0"], "my_ingredients.csv, line 3: id is 'a'"),
        (["s,heavy syrup,syrup,0,1100"], "my_ingredients.csv, line 2: sucrose of 'heavy syrup'"),
        (["s,mad liqueur,liqueur,80,900"], "my_ingredients.csv, line 2: alcohol and sugar of 'mad liqueur'"),
    ],
)
def test_a_mistake_in_own_ingredients_names_file_and_line(tmp_path, rows, said):
    with pytest.raises(InputError) as problem:
        pantry.load(_own(tmp_path, *rows))
    assert str(problem.value).startswith(said), problem.value


def test_a_missing_column_is_named(tmp_path):
    with pytest.raises(InputError, match=r"my_ingredients.csv, line 1: column abv_percent is missing"):
        pantry.load(_own(tmp_path, "gin,gin,spirit,0", header="id,name,kind,sugar_g_l"))


# --- trial ------------------------------------------------------------------------------------------


def test_steps_conserve_mass(sour):
    before, _ = _poured(sour)
    for step, gained in [
        (trial.Ice(0.5), 0.5 * before.volume() * 0.99820123),  # water at 20 °C, OIML R 22
        (trial.Top(Liquid.of(water=60)), 60.0),
    ]:
        outcome = step.act(before)
        left = outcome.left.mass if outcome.left else 0.0
        assert outcome.liquid.mass + left == pytest.approx(before.mass + gained, rel=1e-9)


def _poured(recipe):
    from drinklab import recipe as recipes

    before, after = recipes.pour([recipe], pantry.load())
    return before[0], after[0]


def test_a_classic_and_a_typed_recipe_take_the_same_way():
    known = classics.load()
    figures = profile.reference(known)
    for name in ("Daiquiri", "Negroni", "French 75", "Mojito", "Kir", "Cream Gin Fizz"):
        i, served = known.names.index(name), trial.run(known[name], draws=0).served.profile
        for figure in profile.FIGURES:
            assert getattr(served, figure) == pytest.approx(float(getattr(figures, figure)[i]), rel=1e-12), name


def test_order_of_pours_and_scale_change_nothing(sour):
    one = trial.run(sour, tool="exact")
    two = trial.run(replace(sour, pours=sour.pours[::-1]), tool="exact")
    big = trial.run(sour.scaled(20), tool="exact")
    for figure in ("abv", "sugar", "acid", "sugar_to_acid", "density"):
        best = getattr(one.served.profile, figure)
        assert getattr(two.served.profile, figure) == pytest.approx(best, rel=1e-12)
        assert getattr(big.served.profile, figure) == pytest.approx(best, rel=1e-12)
        assert getattr(two.served.high, figure) == pytest.approx(getattr(one.served.high, figure), rel=1e-9)


def test_uncertainty_of_a_spirit_is_that_of_its_strength_and_jigger():
    """Against the spread worked out by hand: 60 mL of 40 ± 2.5 % vol (one standard deviation), no ice."""
    gin = Recipe("x", (Pour("gin", 60.0),), technique="none")
    exact = trial.run(gin, tool="exact", draws=20_000).served
    assert exact.spread("abv") == pytest.approx(1.96 * 2.5, rel=0.03)
    jigger = trial.run(gin, tool="jigger", draws=20_000).served
    # The jigger's half-width is 1 mL + 3 %, two standard deviations: volume ± 1.96/2 of it.
    assert jigger.spread("volume") == pytest.approx(0.98 * 2.8, rel=0.03)
    assert jigger.spread("abv") == pytest.approx(exact.spread("abv"), rel=0.03)


def test_low_best_high_are_in_order_and_repeat(sour):
    one, two = trial.run(sour), trial.run(sour)
    for stage, again in zip(one.stages, two.stages, strict=True):
        assert stage == again
        for figure in profile.FIGURES:
            low, best, high = (getattr(p, figure) for p in (stage.low, stage.profile, stage.high))
            assert low < best < high
    none = trial.run(sour, draws=0).served
    assert none.low == none.profile == none.high


def test_a_part_of_the_drink_can_be_served(sour):
    whole, part = trial.run(sour), trial.run(sour, serve_volume=90)
    assert part.served.profile.volume == pytest.approx(90)
    assert part.served.profile.abv == pytest.approx(whole.served.profile.abv)
    with pytest.raises(InputError, match=r"serve size is 400 mL; it must be above 0 and at most what the drink makes"):
        trial.run(sour, serve_volume=400)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"tool": "thumb"}, "tool is 'thumb'; it must be one of jigger, scale, free pour, exact."),
        ({"melt": -0.1}, "melt water is -10 %; it must be 0 to 300 % of the drink before ice."),
        ({"melt": float("nan")}, "melt water is not a number"),
        ({"country": "Atlantis"}, "country is 'Atlantis'; it must be one of the"),
    ],
)
def test_a_mistake_in_a_trial_is_one_sentence(sour, asked, said):
    with pytest.raises(InputError) as problem:
        trial.run(sour, **asked)
    assert str(problem.value).startswith(said)


def test_overproof_spirit_alone_has_no_ice_rule():
    neat = Recipe.parse("30 mL overproof white rum, 63 %", technique="stirred")
    with pytest.raises(InputError, match="strength before ice is 63; it must be 0 to 60 % vol for the stirred rule"):
        trial.run(neat)
    assert trial.run(neat, melt=0.3).served.profile.abv == pytest.approx(63 / 1.3, rel=0.03)


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("60 mL gin", set()),
        ("90 mL gin", {"strong serve"}),
        ("45 mL gin\n20 mL egg white", {"raw egg"}),
        ("45 mL gin\n20 mL grapefruit juice\n60 mL tonic water", {"grapefruit", "quinine", "sparkling, closed"}),
        ("45 mL gin\n20 mL grapefruit juice\ntop 60 mL tonic water", {"grapefruit", "quinine"}),
        ("40 mL vodka\n60 mL filter coffee, hot", {"caffeine", "hot liquid"}),
        ("40 mL vodka\n60 mL bottle-fermented sparkling wine, brut", {"sparkling, closed"}),
        ("30 mL overproof white rum\n60 mL water", {"overproof"}),
        ("30 mL gin, 60 %\n60 mL water", {"overproof"}),
        ("30 mL gin\n60 mL whole milk", {"dairy"}),
    ],
)
def test_cautions_stand_where_the_danger_is(text, codes):
    result = trial.run(
        Recipe.parse(text, technique="shaken") if "rum" not in text else Recipe.parse(text, technique="built")
    )
    assert {c.code for c in result.cautions} == codes
    for caution in result.cautions:
        assert caution.text.endswith(".")
        assert "drive" not in caution.text


def test_allergens_are_gathered_once_from_what_is_poured():
    found = trial.run(
        Recipe.parse("30 mL gin\n30 mL dry vermouth\n10 mL sweet red vermouth\n20 mL egg white\n0 mL whole milk")
    )
    assert set(found.allergens) == {"sulphites", "eggs"}


def test_a_spoon_of_sugar_weighs_what_a_spoon_holds():
    # a level teaspoon 4.2 g, a cup 200 g (USDA SR28 19335)
    shelf = pantry.load()
    spoon = Recipe.parse("1 barspoon white sugar\n60 mL water")
    assert spoon.pours[0].amount * shelf["sugar_white"].density == pytest.approx(4.2)
    assert Recipe.parse("4.2 g white sugar\n60 mL water").pours[0].amount == pytest.approx(spoon.pours[0].amount)


def test_every_later_step_can_be_saved():
    settings = {"Carbonate": {"volumes": 2.5}}
    for kind in trial.LATER_STEPS:
        step = kind(**settings.get(kind.__name__, {}))
        assert steps.from_dict(steps.to_dict(step)) == step


@pytest.mark.parametrize(
    ("technique", "told"), [("shaken", True), ("blended", True), ("built", False), ("none", False)]
)
def test_sparkling_is_told_of_where_it_is_shut_in(technique, told):
    recipe = Recipe.parse("45 mL gin\n60 mL soda water", technique=technique)
    said = trial.recipe_cautions(recipe, trial.run(recipe).pantry)
    assert ("sparkling, closed" in {c.code for c in said}) == told


@pytest.mark.parametrize(
    ("text", "told"), [("60 mL tonic water", True), ("top 60 mL tonic water", True), ("60 mL water", False)]
)
def test_sparkling_is_told_of_where_it_is_gassed_with_cartridges(text, told):
    """As a top too: the whole drink is in the vessel."""
    recipe = Recipe.parse(f"45 mL gin\n{text}", technique="built")
    for vessel, closed in (("siphon, 1 L", told), ("soda vessel, 1 L", told), ("keg, 19 L", False)):
        made = trial.run(recipe, steps=[carbonation.Carbonate(2.5, vessel=vessel)])
        assert ("sparkling, closed" in {c.code for c in made.cautions}) == closed


def test_a_drink_served_hot_is_told_of():
    hot = Recipe.parse("45 mL aged rum\n120 mL water", technique="none", family="hot")
    assert "hot liquid" in {c.code for c in trial.run(hot).cautions}


def test_a_difference_is_signed():
    weak, strong = (trial.run(Recipe.parse(f"{ml} mL gin\n60 mL tonic water", technique="none")) for ml in (30, 60))
    change = trial.difference(strong, weak)
    assert change["abv"] > 0 > change["sugar"]
    assert trial.difference(weak, strong)["abv"] == -change["abv"]


def test_a_step_of_ones_own_is_a_stage(sour):
    class Strain:
        name = "strained"

        def act(self, liquid, draw):
            return steps.Outcome(0.97 * liquid, 0.03 * liquid, (steps.Caution("ice", text="Mind the ice."),))

    done = trial.run(sour, steps=[Strain()])
    assert [s.name for s in done.stages] == ["mixed", "with ice", "strained", "served"]
    assert done.stages[2].profile.volume == pytest.approx(0.97 * done.stages[1].profile.volume)
    assert done.cautions[-1].code == "ice"


def test_a_step_that_loses_some_on_the_way_is_refused(sour):
    class Leak:
        name = "leaked"

        def act(self, liquid, draw):
            return steps.Outcome(0.97 * liquid)

    with pytest.raises(InputError, match=r"mass of the step 'leaked' is .* g off; it must be the same"):
        trial.run(sour, steps=[Leak()])


def test_what_a_step_brings_is_told(sour):
    class Pinch:
        name = "salted"

        def act(self, liquid, draw):
            salt = Liquid.of(solids=10 + 2 * np.maximum(draw("pinch"), -5))
            said = steps.Caution("salt", text="Salty."), steps.Caution("salt", text="Salty again.")
            return steps.Outcome(liquid + salt, None, said, salt, ("salt",), ("One pinch.",), 4.0)

    done = trial.run(sour, steps=[Pinch()])
    assert done.allergens[-1] == "salt"
    assert done.notes == ("One pinch.",)
    assert done.served.temperature == 4.0
    assert [c.text for c in done.cautions if c.code == "salt"] == ["Salty."]
    assert done.stages[-2].spread("mass") > done.stages[-3].spread("mass")


def test_ph_of_a_stage_is_that_of_its_liquid(sour):
    done = trial.run(sour)
    for stage in done.stages:
        assert stage.ph[0] == pytest.approx(balance.ph(stage.liquid[0]))
    # Fruit that differs makes it less sure than the sums alone.
    assert done.served.ph[1] > 2 * balance.ph_pm(done.served.liquid[0])
    assert done.served.gas == (0.0, 0.0)
    # Of a spirit with nothing sour in it, none is claimed.
    assert trial.run(Recipe.parse("60 mL vodka", technique="stirred")).served.ph is None


def test_the_drink_goes_through_the_steps_of_a_milk_punch_and_comes_back(sour, tmp_path):
    wash, chill = milk.MilkWash(share=0.3), carbonation.Chill(4)
    gas = carbonation.Carbonate(volumes=2.5, temperature=4)
    done = trial.run(sour, melt=0, steps=[wash, filtering.Filter(), chill, gas])
    assert [s.name for s in done.stages] == ["mixed", wash.name, "filtered", chill.name, gas.name, "served"]
    assert "milk" in done.allergens
    # 1 volume is 1.96 g/L (ideal gas, 0 °C and 1 atm); the level holds at 4 °C and the figure is told at 20 °C.
    assert done.served.gas[0] == pytest.approx(2.5 * 1.96, rel=0.02)
    assert done.served.temperature == 4
    assert done.stages[0].ph[0] < done.stages[1].ph[0] < 4.6
    assert logbook.load(logbook.save(done, tmp_path)).stages == done.stages


# --- ice rules and placement ------------------------------------------------------------------------


def test_every_technique_has_a_rule():
    assert set(dilution.RULES) == set(TECHNIQUES)


def test_a_classic_is_its_own_nearest():
    known = classics.load()
    figures = profile.reference(known)
    for i, name in enumerate(known.names):
        place = profile.place(figures[i], known)
        assert place.nearest[0][2] == 0
        assert name in [n for n, _, d in place.nearest if d == 0]


def test_distance_and_rank_against_a_direct_count():
    known = classics.load()
    figures, scale = profile.reference(known), profile.scales(known)
    me = figures[known.names.index("Margarita")]
    place = profile.place(me, known, family="punch", count=9)
    rows = np.array([getattr(figures, a) for a in profile.AXES]).T
    mine = np.array([getattr(me, a) for a in profile.AXES])
    direct = {
        n: np.sqrt(np.mean(((r - mine) / list(scale.values())) ** 2)) for n, r in zip(known.names, rows, strict=True)
    }
    assert [n for n, _, _ in place.nearest] == sorted(direct, key=direct.get)[:9]
    assert [n for n, _, _ in place.nearest_in_family] == sorted(
        (n for n, f in zip(known.names, known.families, strict=True) if f == "punch"), key=direct.get
    )
    assert place.percentile["abv"] == pytest.approx(100 * (np.sum(rows[:, 0] < mine[0]) + 0.5) / 105)


def test_placing_refuses_what_it_cannot_place():
    known = classics.load()
    with pytest.raises(InputError, match="profile is 105 drinks; it must be one drink at a time"):
        profile.place(profile.reference(known), known)
    with pytest.raises(InputError, match=r"family is 'sours'.*did you mean sour"):
        profile.place(profile.reference(known)[0], known, family="sours")


def test_no_drink_at_all_has_no_profile():
    with pytest.raises(InputError, match="total of the drink is 0; it must be above 0 g"):
        profile.profile(Liquid.of(water=0))


def test_without_acid_the_ratio_is_no_number_but_words():
    figures = trial.run(Recipe.parse("60 mL gin\n20 mL sugar syrup"), draws=0).served.profile
    assert figures.sugar_to_acid == np.inf
    assert Display().text(profile.KINDS["sugar_to_acid"], figures.sugar_to_acid) == "no acid"


def test_the_published_csv_is_the_one_that_is_loaded():
    from drinklab import tables

    with open(tables.folder() / "classics.csv", encoding="utf-8", newline="") as file:
        names = [row["drink"] for row in csv.DictReader(file)]
    assert tuple(names) == classics.load().names


def test_pure_spirit_is_an_ingredient():
    pure = Ingredient("e", "ethanol", "spirit", 100.0, 0.0, 0.0)
    assert Liquid(pure.composition).volume() == pytest.approx(1, abs=1e-4)


# --- found by a newcomer ----------------------------------------------------------------------------------


def test_a_bare_number_in_a_typed_recipe_is_refused():
    with pytest.raises(InputError, match=r"line 1: amount of 'lemon juice' is '1'; it must be with its unit: mL, oz"):
        Recipe.parse("1 lemon juice")


def test_own_ingredients_win_by_name_too(tmp_path):
    shelf = pantry.load(_own(tmp_path, "my_gin,gin,spirit,47,0"))
    assert shelf.find("gin").abv == 47
    assert shelf["gin"].abv == 40


@pytest.mark.parametrize("factor", [0.01, 1, 300, 12_345.678])
def test_recipe_text_survives_any_size(factor):
    big = Recipe.parse("45 mL gin\n22.5 mL lemon juice").scaled(factor)
    assert Recipe.parse(big.text()).amounts == pytest.approx(big.amounts, rel=1e-4)


def test_a_measured_glass_is_as_full_as_it_was_measured(sour):
    part = trial.run(sour, serve_volume="3 oz").served
    assert part.spread("volume") == pytest.approx(0, abs=1e-9)
    # then alcohol is as uncertain as strength
    assert part.spread("alcohol") / part.profile.alcohol == pytest.approx(
        part.spread("abv") / part.profile.abv, rel=0.01
    )


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Pour("gin", "lots"), "amount of 'gin' is 'lots'"),
        (lambda: Recipe("x", (Pour("gin", 45, abv="strong"),)), "strength of 'gin' is 'strong'"),
        (lambda: trial.run(Recipe.parse("45 mL gin"), draws=-3), "draws is -3; it must be a whole number"),
        (lambda: trial.run(Recipe.parse("45 mL gin"), melt="half"), "melt water is 'half'"),
        (lambda: -1 * Liquid.of(water=1), "factor is -1; it must be a number of at least 0"),
        (
            lambda: trial.run(Recipe("x", (Pour("gin", 1e8),))),
            "amount of 'gin' is 100000000; it must be 0 to 1000000 mL",
        ),
    ],
)
def test_odd_input_is_one_sentence(make, said):
    with pytest.raises(InputError) as problem:
        make()
    assert str(problem.value).startswith(said)


def test_containers_do_what_containers_do():
    assert "Mojito" in classics.load()
    assert pantry.load().get("no_such_thing") is None
    assert sum([Liquid.of(water=1), Liquid.of(water=2)]).mass == 3
