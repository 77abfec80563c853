"""What if: against hand-worked derivatives, the uncertainty guide's formula and one-by-one runs."""

import itertools
from dataclasses import fields, replace

import numpy as np
import pytest
from long_run import some

from drinklab import classics, dilution, pantry, profile, trial, whatif
from drinklab.errors import InputError
from drinklab.facts import say
from drinklab.pantry import Ingredient
from drinklab.recipe import Pour, Recipe
from drinklab.setting import Setting
from drinklab.units import FLUID_OUNCE

MOVED = ("abv", "sugar", "acid", "volume")
SHELF = pantry.load()
KNOWN = classics.load()
BRANCH = Recipe.parse(
    "40 mL dark rum, 46 %\n25 mL amontillado sherry\n20 mL pineapple juice\n15 mL lemon juice\n15 mL honey syrup\n"
    "30 mL cold green tea",
    name="Branch Line", technique="shaken", family="sour",
)  # fmt: skip
HIGHBALL = Recipe.parse(
    "45 mL gin\n15 mL lemon juice\n2 dash aromatic bitters\ntop 90 mL tonic water", technique="built", serve="long"
)
# No strength is typed: a bottle "of 45 %" has the label's small ± and its own name.
STIRRED = Recipe.parse("60 mL rye whiskey\n30 mL sweet red vermouth", technique="stirred")


def as_served(recipe, melt=None, shelf=SHELF):
    """The figures by the older path: one recipe, all of `profile.served`."""
    figures = profile.profile(profile.served([recipe], shelf, None if melt is None else [melt]))
    return {f: float(getattr(figures, f)[0]) for f in profile.FIGURES}


def with_amount(recipe, at, amount):
    return recipe.with_amounts([amount if i == at else a for i, a in enumerate(recipe.amounts)])


def stage_one(recipe, **given):
    return trial.run(recipe, pantry=SHELF, draws=0, **given).stages


# --- what moves it most ----------------------------------------------------------------------------------


def test_watering_down_by_hand():
    """c = n / V, so a little water changes each concentration by dc = -c dV / V; juice and water hardly shrink."""
    juice = Recipe.parse("60 mL grapefruit juice\n40 mL water", technique="none")
    start = as_served(juice)
    water = next(e for e in whatif.sensitivity(juice, measure="0.5 mL") if e.name == "water")
    for sign, change in ((1, water.more), (-1, water.less)):
        assert change["volume"] == pytest.approx(sign * 0.5, rel=1e-3)
        for figure in ("sugar", "acid"):
            assert change[figure] == pytest.approx(-sign * start[figure] * 0.5 / 100, rel=0.01)


def test_more_of_the_same_changes_only_the_volume():
    neat = Recipe.parse("60 mL gin", technique="none")
    effect = next(e for e in whatif.sensitivity(neat) if e.source == "pour")
    assert effect.more == pytest.approx({"abv": 0, "sugar": 0, "acid": 0, "volume": FLUID_OUNCE / 4}, abs=1e-9)
    assert effect.distance == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("recipe", [BRANCH, HIGHBALL, STIRRED], ids=["shaken", "topped", "stirred"])
@pytest.mark.parametrize("melt", [None, 0.3])
def test_all_at_once_is_one_at_a_time(recipe, melt):
    """Each pour, by the older path: a recipe of its own, with the melt water of its own strength."""
    start, pours = as_served(recipe, melt), recipe.bottles(SHELF)
    found = {e.name: e for e in whatif.sensitivity(recipe, measure="1 barspoon", melt=melt) if e.source == "pour"}
    assert set(found) == {b.name for b in pours}
    for i, bottle in enumerate(pours):
        effect = found[bottle.name]
        for sign, change in ((1, effect.more), (-1, effect.less)):
            if change is not None:
                step = min(5, recipe.amounts[i]) if recipe.amounts[i] < 3 else 5  # dashes move by all of themselves
                moved = as_served(with_amount(recipe, i, recipe.amounts[i] + step * sign), melt)
                assert change == pytest.approx({f: moved[f] - start[f] for f in MOVED}, abs=1e-9)


def test_a_bottle_of_another_strength_and_a_sharper_fruit():
    start, found = as_served(BRANCH), {e.name: e for e in whatif.sensitivity(BRANCH)}
    sherry, lemon = SHELF.find("amontillado sherry"), SHELF.find("lemon juice")
    strength, acid = found[f"strength of {sherry.name}"], found[f"acid of {lemon.name}"]
    assert (strength.source, strength.step, strength.unit) == ("bottle", sherry.abv_pm, "% vol")
    assert (acid.source, acid.step, acid.unit) == ("fruit", lemon.acid_pm, "g/L")

    stronger = replace(BRANCH, pours=(BRANCH.pours[0], Pour(sherry.id, 25, sherry.abv + sherry.abv_pm), *BRANCH.pours[2:]))  # fmt: skip
    assert strength.more == pytest.approx({f: as_served(stronger)[f] - start[f] for f in MOVED}, abs=1e-9)
    # 15 mL of juice with 7 g/L more acid, spread over the drink; by hand
    for change, sign in ((acid.more, 1), (acid.less, -1)):
        assert change["acid"] == pytest.approx(sign * 15 * lemon.acid_pm / start["volume"], rel=0.002)


def test_the_melt_water_moves_it_by_hand():
    """Half of ± 20 % of 0.381 more at 25 % vol (the printed rule): the ethanol stays, the water comes."""
    spirit = Recipe("spirit", (Pour("gin", 100, 25.0),), technique="stirred")
    melt = next(e for e in whatif.sensitivity(spirit) if e.name == "melt water")
    assert melt.step == pytest.approx(0.1 * (-1.21 * 0.25**2 + 1.246 * 0.25 + 0.145))
    assert melt.more["volume"] == pytest.approx(100 * melt.step, rel=0.02)
    assert melt.more["abv"] == pytest.approx(25 / (1.381 + melt.step) - 25 / 1.381, rel=0.02)
    assert not [e for e in whatif.sensitivity(replace(spirit, technique="none")) if e.source == "melt water"]


def test_largest_first_by_the_distance_among_the_classics():
    effects, scale = whatif.sensitivity(BRANCH), profile.scales(KNOWN)
    assert [e.distance for e in effects] == sorted((e.distance for e in effects), reverse=True)
    for effect in effects:
        sides = [c for c in (effect.more, effect.less) if c]
        by_hand = max(np.sqrt(np.mean([(c[a] / s) ** 2 for a, s in scale.items()])) for c in sides)
        assert effect.distance == pytest.approx(by_hand)


def test_nothing_is_taken_below_zero_and_it_says_so():
    effects = {e.name: e for e in whatif.sensitivity(HIGHBALL)}
    bitters = effects[SHELF.find("aromatic bitters").name]  # two dashes: they move by themselves
    assert (bitters.step, bitters.unit) == (pytest.approx(HIGHBALL.amounts[2]), "mL")
    assert bitters.less is not None
    short = Recipe.parse("45 mL gin\n5 mL lemon juice", technique="shaken")  # less than a quarter ounce
    lemon = next(e for e in whatif.sensitivity(short) if e.name == SHELF["lemon_juice"].name)
    assert lemon.less is None
    assert "no more than one step of 7.4 mL is there, so only more was tried" in say(lemon.notes)
    assert effects[SHELF["gin"].name].less is not None
    assert effects[SHELF["gin"].name].notes == ()
    # the only thing on the ice cannot be taken away whole
    topped = Recipe.parse("5 mL gin\ntop 90 mL tonic water", technique="built", serve="long")
    assert next(e for e in whatif.sensitivity(topped, measure=5) if e.name == SHELF["gin"].name).less is None


def test_a_dry_solid_is_told_in_grams_and_may_not_dissolve():
    sweet = Recipe.parse("20 mL water\n38 g white sugar", technique="none")
    sugar = next(e for e in whatif.sensitivity(sweet, measure="1 barspoon") if e.unit == "g")
    assert sugar.step == pytest.approx(4.2)  # a level teaspoon of 5 mL (USDA SR28 19335)
    assert "does not dissolve" in say(sugar.notes)  # Bubnik and Kadlec 1995: 40 g in 20 g of water at 20 °C
    assert not [e for e in whatif.sensitivity(BRANCH) if "dissolve" in say(e.notes)]


def test_measures_in_any_unit():
    quarter = whatif.sensitivity(BRANCH)
    assert whatif.sensitivity(BRANCH, measure=FLUID_OUNCE / 4) == quarter
    assert whatif.sensitivity(BRANCH, measure="1 barspoon") == whatif.sensitivity(BRANCH, measure="5 mL")


UNSURE = [i for i in SHELF.values() if i.state == "liquid" and (i.abv_pm or i.sugar_pm or i.acid_pm)]


@pytest.mark.parametrize("item", some(UNSURE), ids=lambda item: item.id)
def test_a_bottle_alone_is_off_by_its_own_give_or_take(item):
    """By hand: undiluted, a step of a bottle is that step of the drink, up and down, and moves no other figure.

    Within 3 %: the sugars of limes, printed one by one, add up to 17.4 g/L, their total is printed as 17.
    """
    neat = Recipe("neat", (Pour(item.id, 100.0),), technique="none")
    effects = {e.name: e for e in whatif.sensitivity(neat)}
    for figure in profile.AXES:
        pm, value = getattr(item, f"{figure}_pm"), getattr(item, figure)
        name = f"{profile.WORDS[figure]} of {item.name}"
        assert (name in effects) == (pm > 0)
        if pm > 0:
            more, less = effects[name].more, effects[name].less
            assert more[figure] == pytest.approx(pm, rel=0.03)
            assert (less is None) == (value < pm)
            assert less is None or less[figure] == pytest.approx(-pm, rel=0.03)
            assert all(abs(more[other]) < 2e-3 * pm for other in set(profile.AXES) - {figure})


# --- two amounts at once --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("recipe", "first", "second"),
    [(BRANCH, "lemon juice", "honey syrup"), (HIGHBALL, "gin", "tonic water"), (STIRRED, 1, 0)],
    ids=["shaken", "topped", "stirred"],
)
def test_a_point_of_the_grid_is_a_single_run(recipe, first, second):
    grid = whatif.sweep(recipe, first, second, points=7)
    names = [b.name for b in recipe.bottles(SHELF)]
    i, j = names.index(grid.first), names.index(grid.second)
    assert grid.first_amounts[[0, -1]].tolist() == pytest.approx([0.5 * recipe.amounts[i], 1.5 * recipe.amounts[i]])
    for row, column in [*itertools.product((0, -1), repeat=2), (2, 4), (3, 3)]:
        one = with_amount(with_amount(recipe, i, grid.first_amounts[column]), j, grid.second_amounts[row])
        served = stage_one(one)[-1].profile
        for figure in profile.FIGURES:
            assert getattr(grid.profile, figure)[row, column] == pytest.approx(getattr(served, figure), rel=1e-9)


def test_each_point_has_the_melt_water_of_its_own_strength():
    """Water that came, over the volume mixed, against the printed relation for shaking at the strength mixed."""
    grid = whatif.sweep(shaken := replace(STIRRED, technique="shaken"), 0, 1, (20, 80), (0, 60), points=5)
    seen = set()
    for row, column in itertools.product(range(5), repeat=2):
        mixed = stage_one(shaken.with_amounts([grid.first_amounts[column], grid.second_amounts[row]]))[0].profile
        a = mixed.abv / 100
        came = (grid.profile.mass[row, column] - mixed.mass) / 0.99820 / mixed.volume
        assert came == pytest.approx(-1.567 * a**2 + 1.742 * a + 0.203, rel=1e-4)
        seen.add(round(came, 3))
    assert len(seen) > 10
    by_hand = whatif.sweep(shaken, 0, 1, points=3, melt=0.25).profile
    assert by_hand.abv[1, 1] == pytest.approx(stage_one(shaken, melt=0.25)[-1].profile.abv)


def test_rows_go_with_the_second_amount_and_blocks_leave_no_seam():
    grid = whatif.sweep(BRANCH, "lemon juice", "honey syrup", (5, 30), (0, "1 oz"))
    assert grid.profile.acid.shape == (200, 200)
    assert (np.diff(grid.profile.acid, axis=1) > 0).all()  # more lemon, along a row
    assert (np.diff(grid.profile.sugar, axis=0) > 0).all()  # more syrup, down a column
    assert grid.second_amounts[-1] == pytest.approx(FLUID_OUNCE)
    # smooth: no step at a block's edge stands out among its neighbours
    for axis in (0, 1):
        assert np.abs(np.diff(grid.profile.sugar, 2, axis=axis)).max() < 0.05


def test_inside_the_band_is_what_place_calls_the_family_range():
    sour = Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken", family="sour")
    family = profile.place(stage_one(sour)[-1].profile, KNOWN, "sour").family_range
    grid = whatif.sweep(sour, "aged rum", "honey syrup", (10, 90), (0, 60), points=40)
    assert grid.band == whatif.band(family="sour") == family
    by_hand = [
        [all(low <= getattr(grid.profile, a)[y, x] <= high for a, (low, high) in family.items()) for x in range(40)]
        for y in range(40)
    ]
    assert grid.inside.tolist() == by_hand
    assert 0 < grid.inside.sum() < grid.inside.size


def test_the_band_holds_eight_in_ten_and_small_families_use_all():
    figures = profile.reference(KNOWN)
    for axis, (low, high) in whatif.band().items():
        held = np.mean((getattr(figures, axis) >= low) & (getattr(figures, axis) <= high))
        assert held == pytest.approx(0.8, abs=0.02)
    for family in (None, "hot", "other"):  # none, one drink, what is left over
        assert whatif.sweep(replace(BRANCH, family=family), 0, 1, points=2).band == whatif.band()
    own = {"abv": (10, 12), "volume": (150, 250)}
    assert whatif.sweep(BRANCH, 0, 1, points=2, limits=own).band == own


def test_sugar_that_does_not_dissolve_is_marked_where_a_run_refuses_it():
    old = Recipe.parse("60 mL rye whiskey, 45 %\n8 g white sugar\n2 dash aromatic bitters")
    grid = whatif.sweep(old, "rye whiskey", "white sugar", (1, 60), ("0 g", "60 g"), points=6)
    assert 0 < grid.dissolved.sum() < 36
    for row, column in itertools.product(range(6), repeat=2):
        amounts = [grid.first_amounts[column], grid.second_amounts[row], old.amounts[2]]
        if grid.dissolved[row, column]:
            stage_one(old.with_amounts(amounts))
        else:
            with pytest.raises(InputError, match="to dissolve"):
                stage_one(old.with_amounts(amounts))


# --- how sure -------------------------------------------------------------------------------------------

# Invented bottles far from every limit, so that no draw is cut off and the first-order formula applies.
BOTTLES = {
    "spirit": Ingredient("spirit", "spirit", "spirit", 45.0, 0.0, 0.0, abv_pm=1.0),
    "syrup": Ingredient("syrup", "syrup", "syrup", 0.0, 600.0, 0.0, sugar_pm=20.0, solutes={"sucrose": 600.0}),
    "fruit": Ingredient("fruit", "fruit", "juice", 0.0, 60.0, 50.0, sugar_pm=6.0, acid_pm=5.0,
                        solutes={"sucrose": 60.0, "citric": 50.0}),
}  # fmt: skip
LAB = pantry.Pantry(list(BOTTLES.values()))
SOUR = Recipe("sour", (Pour("spirit", 50), Pour("fruit", 25), Pour("syrup", 20)), technique="shaken")


def by_first_order(recipe, tool):
    """JCGM 100 (2008), equation 10: the variance is the sum of (slope times standard uncertainty)², by source.

    Slopes by central differences through the older path, with pantries and recipes that differ by one input; each
    has the melt water of its own strength.
    """
    absolute, relative = trial.TOOLS[tool]
    melt = float(dilution.melt_fraction(stage(recipe)["abv"], recipe.technique, recipe.serve))
    variance = {source: dict.fromkeys(MOVED, 0.0) for source in whatif.SOURCES[:-1]}

    def add(source, more, less):
        for figure in MOVED:
            variance[source][figure] += ((more[figure] - less[figure]) / 2) ** 2

    for i, pour in enumerate(recipe.pours):
        u = (absolute + relative * pour.amount) / 2  # the tool's half-width is two standard uncertainties
        ends = (as_served(with_amount(recipe, i, pour.amount + s * u), None, LAB) for s in (1, -1))
        add("measuring tool", *ends)
    for item in BOTTLES.values():
        source = "fruit" if item.kind == "juice" else "bottles"
        for figure in ("abv", "sugar", "acid"):
            shelves = (LAB.with_items([changed(item, figure, s)]) for s in (1, -1))
            add(source, *(as_served(recipe, None, shelf) for shelf in shelves))
    add("melt water", *(as_served(recipe, melt * (1 + s * dilution.MELT_SPREAD / 2), LAB) for s in (1, -1)))
    return variance


def stage(recipe):
    return as_served(replace(recipe, technique="none"), shelf=LAB)


def changed(item, figure, sign):
    """The bottle with one figure a standard uncertainty off, and its dissolved grams with it."""
    value = getattr(item, figure)
    to = value + sign * getattr(item, f"{figure}_pm")
    names = {"sugar": ("sucrose",), "acid": ("citric",)}.get(figure, ())
    solutes = {n: g * (to / value if n in names else 1) for n, g in item.solutes.items()}
    return replace(item, **{figure: to}, solutes=solutes)


@pytest.mark.parametrize("tool", ["jigger", "free pour"])
def test_spread_and_shares_by_the_uncertainty_guide(tool):
    expected = by_first_order(SOUR, tool)
    made = whatif.variation(SOUR, 40_000, tool, pantry=LAB)
    for figure in MOVED:
        total = sum(v[figure] for v in expected.values())
        # 40 000 draws know a standard deviation to 0.35 %; the formula is of first order
        assert made.sd[figure] == pytest.approx(np.sqrt(total), rel=0.03), figure
        assert whatif.SOURCES[-1] not in made.shares[figure]  # there are no later steps
        for source in whatif.SOURCES[:-1]:
            assert made.shares[figure][source] == pytest.approx(expected[source][figure] / total, abs=0.02)
        assert sum(made.shares[figure].values()) == pytest.approx(1)


def test_fruit_alone_by_hand():
    """All else exact: sd of the acid is v / V times that of the juice, and 68.3 % lie within one of it (normal law)."""
    still, exact = (
        replace(SOUR, technique="none"),
        {n: replace(b, abv_pm=0.0, sugar_pm=0.0) for n, b in BOTTLES.items()},
    )
    lab, start = pantry.Pantry(list(exact.values())), stage(SOUR)
    sd = 25 * 5 / start["volume"]
    limits = {"acid": (start["acid"] - sd, start["acid"] + sd), "abv": (0, 100)}
    made = whatif.variation(still, 40_000, "exact", pantry=lab, limits=limits)
    assert made.sd["acid"] == pytest.approx(sd, rel=0.02)
    assert made.inside["acid"] == pytest.approx(0.6827, abs=0.01)
    assert made.all_inside == made.inside["acid"]
    assert made.inside["abv"] == 1
    assert made.high.acid - made.low.acid == pytest.approx(2 * 1.95996 * sd, rel=0.03)
    assert made.median.acid == pytest.approx(start["acid"], rel=0.002)
    assert made.shares["acid"] == pytest.approx({"fruit": 1, "bottles": 0, "measuring tool": 0, "melt water": 0})


@pytest.mark.parametrize(
    ("source", "recipe", "tool"),
    [
        ("measuring tool", SOUR, "exact"),
        ("melt water", replace(SOUR, technique="none"), "jigger"),
        ("fruit", Recipe("two", (Pour("spirit", 50), Pour("syrup", 20))), "jigger"),
        ("bottles", Recipe("one", (Pour("fruit", 50),)), "jigger"),
    ],
)
def test_a_source_that_is_not_there_has_no_share(source, recipe, tool):
    shares = whatif.variation(recipe, 500, tool, pantry=LAB).shares
    assert all(share[source] == pytest.approx(0, abs=1e-12) for share in shares.values())
    assert sum(shares["volume"].values()) == pytest.approx(1)


@pytest.mark.parametrize("recipe", [BRANCH, HIGHBALL], ids=["shaken", "topped"])
def test_one_answer_with_a_trial(recipe):
    made, run = whatif.variation(recipe, 1000, seed=3), trial.run(recipe, draws=1000, seed=3).served
    for ours, theirs in ((made.estimate, run.profile), (made.low, run.low), (made.high, run.high)):
        for figure in profile.FIGURES:
            assert getattr(ours, figure) == pytest.approx(getattr(theirs, figure), rel=1e-9)


def test_seeds():
    one, again, other = (whatif.variation(SOUR, 5000, seed=s, pantry=LAB) for s in (1, 1, 2))
    assert one == again
    assert other.high.abv != one.high.abv
    assert other.sd["abv"] == pytest.approx(one.sd["abv"], rel=0.05)


def test_a_drink_without_acid_has_no_number_that_is_none():
    made = whatif.variation(STIRRED.with_amounts([60, 0]), 500)
    for each in (made.estimate, made.low, made.median, made.high):
        assert not any(np.isnan(getattr(each, f.name)) for f in fields(each))
    assert all(sum(s.values()) in (0, pytest.approx(1)) for s in made.shares.values())


# --- A against B -------------------------------------------------------------------------------------------


def test_a_drink_against_itself_differs_by_pouring_and_ice_alone():
    """Independent errors add as squares (JCGM 100, 5.1.2): the difference has √2 of one drink's pouring and ice."""
    expected = by_first_order(SOUR, "jigger")
    for said in whatif.compare(SOUR, SOUR, pantry=LAB, draws=40_000):
        assert said.difference == 0
        assert said.verdict == whatif.CANNOT_TELL
        if said.figure in MOVED:
            one = sum(expected[s][said.figure] for s in ("measuring tool", "melt water"))
            assert said.high - said.low == pytest.approx(2 * 1.95996 * np.sqrt(2 * one), rel=0.04), said.figure


def test_shared_bottles_cancel():
    still = replace(SOUR, technique="none")
    for said in whatif.compare(still, still, pantry=LAB, tool="exact", draws=500):
        assert (said.low, said.high, said.verdict) == (0, 0, whatif.SAME)
    for said in whatif.compare(still, replace(still, pours=still.pours[::-1]), pantry=LAB, tool="exact", draws=500):
        assert said.verdict == whatif.SAME  # the order of the pours is no difference, nor is rounding
    # other bottles do not: two spirits of the same label, each ± 1 % vol
    other = replace(BOTTLES["spirit"], id="another", name="another")
    lab = LAB.with_items([other])
    swapped = replace(still, pours=(Pour("another", 50), *still.pours[1:]))
    said = {d.figure: d for d in whatif.compare(still, swapped, pantry=lab, tool="exact", draws=40_000)}
    by_hand = 2 * 1.95996 * np.sqrt(2) * 1.0 * 50 / stage(SOUR)["volume"]
    assert said["abv"].high - said["abv"].low == pytest.approx(by_hand, rel=0.04)
    assert said["abv"].verdict == whatif.CANNOT_TELL


def test_verdicts_and_signs():
    sweeter = SOUR.with_amounts([50, 25, 35])
    one = {d.figure: d for d in whatif.compare(SOUR, sweeter, pantry=LAB)}
    back = {d.figure: d for d in whatif.compare(sweeter, SOUR, pantry=LAB)}
    assert tuple(one) == whatif.COMPARED
    assert one["sugar"].verdict == whatif.DIFFERS
    assert one["alcohol"].verdict == whatif.CANNOT_TELL
    for figure, said in one.items():
        assert said.a == pytest.approx(as_served(SOUR, shelf=LAB)[figure])
        assert said.b == pytest.approx(as_served(sweeter, shelf=LAB)[figure])
        assert said.difference == pytest.approx(said.a - said.b)
        assert back[figure].difference == pytest.approx(-said.difference)
        assert said.unit == profile.KINDS[figure].label
        assert (said.verdict == whatif.DIFFERS) == (said.low > 0 or said.high < 0)
    assert one["sugar"].high < 0 < back["sugar"].low


def test_the_same_verdict_is_wrong_for_about_one_pair_in_twenty():
    """A pair poured alike is called different when it falls outside low to high: 5 % by definition, ± 1 %."""
    amounts, compositions = trial.drawn(SOUR, SOUR.bottles(LAB), "jigger", 20_000, 77)
    still = replace(SOUR, technique="none")
    served = whatif.versions.served_figures(Setting(still), *trial.poured(still, amounts, compositions[0]), 0.0)[:, 1:]
    sugar = next(d for d in whatif.compare(still, still, pantry=LAB, draws=20_000) if d.figure == "sugar")
    apart = served[profile.FIGURES.index("sugar"), ::2] - served[profile.FIGURES.index("sugar"), 1::2]
    assert np.mean((apart < sugar.low) | (apart > sugar.high)) == pytest.approx(0.05, abs=0.01)


def test_melt_of_each_and_no_acid():
    said = {d.figure: d for d in whatif.compare(STIRRED, Setting(STIRRED, melt=0.9))}
    assert said["abv"].verdict == whatif.DIFFERS
    assert said["abv"].b == pytest.approx(as_served(STIRRED, 0.9)["abv"])
    spirit = Recipe.parse("60 mL gin\n10 mL sugar syrup")
    assert "sugar_to_acid" not in {d.figure for d in whatif.compare(spirit, STIRRED)}


# --- what a mistake says ------------------------------------------------------------------------------------

ONE = Recipe.parse("60 mL gin")
TWICE = Recipe.parse("60 mL gin\n10 mL lemon juice\n10 mL lemon juice")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda: whatif.sensitivity([BRANCH, STIRRED]), "recipe is 2 things; it must be one recipe at a time."),
        (lambda: whatif.sensitivity("Clear Line"), "recipe is a str; it must be one recipe at a time."),
        (lambda: whatif.sensitivity(ONE, measure=0), "measure is 0 mL; it must be one amount above 0 and at most the whole drink, 60 mL."),
        (lambda: whatif.sensitivity(ONE, measure="1 L"), "measure is 1000 mL; it must be one amount above 0 and"),
        (lambda: whatif.sensitivity(ONE, measure="-1 oz"), "measure is '-1 oz'; it must be zero or more."),
        (lambda: whatif.sensitivity(ONE, measure=[5, 7]), "measure is 7 mL; it must be one amount"),
        (lambda: whatif.sensitivity(ONE, measure="1 pinch"), "measure is '1 pinch'; it must be an amount such as"),
        (lambda: whatif.sensitivity(ONE, melt=4), "melt water is 400 %; it must be 0 to 300 %"),
        (lambda: whatif.sensitivity(ONE, melt="much"), "melt water is 'much'; it must be a number."),
        (lambda: whatif.sensitivity(Recipe.parse("20 mL water\n300 g white sugar")), "sugar of 'untitled' before ice is"),
        (lambda: whatif.sensitivity(Recipe("neat", (Pour("gin", 60, 70.0),))), "strength before ice is 70"),
        (lambda: whatif.sweep([BRANCH, BRANCH], 0, 1), "recipe is 2 things; it must be one recipe at a time."),
        (lambda: whatif.sweep(STIRRED, "rye whiskey", "ginn"), "second axis is 'ginn'; it must be one of the pours: rye whiskey, sweet red vermouth."),
        (lambda: whatif.sweep(STIRRED, "lemon juice", 0), "first axis is 'lemon juice'; it must be one of the pours: rye"),
        (lambda: whatif.sweep(STIRRED, 2, 0), "first axis is 2; it must be 0 to 1, a place among rye whiskey"),
        (lambda: whatif.sweep(STIRRED, 0, "rye whiskey"), "second axis is 'rye whiskey'; it must be another pour than the first axis."),
        (lambda: whatif.sweep(TWICE, "gin", "lemon juice"), "second axis is 'lemon juice'; it must be its place in the recipe, since it is poured more than once: [1, 2]."),
        (lambda: whatif.sweep(STIRRED, 0, 1, (-5, 30)), "range of 'rye whiskey' is -5; it must be a number of at least 0 mL."),
        (lambda: whatif.sweep(STIRRED, 0, 1, (30, 10)), "range of 'rye whiskey' is 30 to 10; it must be two numbers, the second larger than the first."),
        (lambda: whatif.sweep(STIRRED, 0, 1, ("1 oz", "1 oz")), "range of 'rye whiskey' is 1 oz to 1 oz; it must be two"),
        (lambda: whatif.sweep(STIRRED, 0, 1, 30), "range of 'rye whiskey' is 30; it must be two numbers"),
        (lambda: whatif.sweep(STIRRED, 0, 1, (1, float("nan"))), "range of 'rye whiskey' is not a number; it must be"),
        (lambda: whatif.sweep(STIRRED, 0, 1, ([1, 2], 3)), "range of 'rye whiskey' is [1, 2] to 3; it must be two"),
        (lambda: whatif.sweep(STIRRED.with_amounts([60, 0]), 0, 1), "range of 'sweet red vermouth' is 0.0 to 0.0; it must"),
        (lambda: whatif.sweep(STIRRED, 0, 1, (0, 60), (0, 60)), "total before the top, in a corner of the grid is 0; it must be above 0 mL; let a range start higher."),
        (lambda: whatif.sweep(STIRRED, 0, 1, points=1), "points is 1; it must be a whole number, 2 to 1000."),
        (lambda: whatif.sweep(STIRRED, 0, 1, points=2.5), "points is 2.5; it must be a whole number, 2 to 1000."),
        (lambda: whatif.sweep(STIRRED, 0, 1, limits={}), "band is empty; it must be limits for at least one figure."),
        (lambda: whatif.sweep(STIRRED, 0, 1, limits={"taste": (1, 2)}), "figure of the band is 'taste'; it must be one of"),
        (lambda: whatif.sweep(STIRRED, 0, 1, limits={"abv": (9, 2)}), "band of abv is 9 to 2; it must be two numbers, the second larger"),
        (lambda: whatif.sweep(STIRRED, 0, 1, limits={"abv": (float("nan"), 2)}), "band of abv is not a number; it must be a number of at least 0 % vol."),
        (lambda: whatif.band(family="sours"), "family is 'sours'; it must be one of"),
        (lambda: whatif.variation(ONE, 0), "draws is 0; it must be a whole number, 100 to 1000000."),
        (lambda: whatif.variation(ONE, 99), "draws is 99; it must be a whole number"),
        (lambda: whatif.variation(ONE, 1e4), "draws is 10000; it must be a whole number"),
        (lambda: whatif.variation(ONE, True), "draws is True; it must be a whole number"),
        (lambda: whatif.variation(ONE, seed=-1), "seed is -1; it must be a whole number, 0 to"),
        (lambda: whatif.variation(ONE, tool="spoon"), "tool is 'spoon'; it must be one of jigger, scale"),
        (lambda: whatif.variation((ONE, ONE)), "recipe is 2 things; it must be one recipe at a time."),
        (lambda: whatif.compare(ONE, [ONE, ONE]), "recipe is 2 things; it must be one recipe at a time."),
        (lambda: whatif.compare(ONE, ONE, tool="spoon"), "tool is 'spoon'; it must be one of jigger"),
        (lambda: whatif.compare(ONE, ONE, draws=0), "draws is 0; it must be a whole number"),
    ],
)  # fmt: skip
def test_a_mistake_is_one_sentence(asked, said):
    with pytest.raises(InputError) as problem:
        asked()
    assert str(problem.value).startswith(said)
    assert str(problem.value).endswith(".")
    assert "\n" not in str(problem.value)


@pytest.mark.parametrize(
    "asked",
    [
        lambda drink: whatif.sensitivity(drink),
        lambda drink: whatif.variation(drink, 100),
        lambda drink: whatif.sweep(drink, 0, 1, points=3),
        lambda drink: whatif.compare(drink, drink, draws=100),
    ],
)
@pytest.mark.parametrize("serves", [1, 2])
def test_a_serve_larger_than_the_drink_is_refused_as_a_run_refuses_it(asked, serves):
    drink = Setting(Recipe.parse("60 mL gin\n30 mL dry vermouth"), serve_volume=500, serves=serves)
    with pytest.raises(InputError) as run:
        trial.run(drink)
    with pytest.raises(InputError) as found:
        asked(drink)
    assert str(found.value) == str(run.value)
