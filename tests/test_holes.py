"""What random changes of the package (tests/mutate.py) were not caught by: each figure beside a second way to it.

Sources: OIML R 22 (1975); Python's `statistics.quantiles` for percentiles (method "inclusive": Hyndman and Fan, The
American Statistician 50 (1996) 361, type 7, from memory); Regulation (EU) 1169/2011, annex XII (strength to one decimal
at most, from memory). What else is from memory says so beside its figure.
"""

import statistics
from dataclasses import replace

import numpy as np
import pytest

from drinklab import classics, kinds, pantry, profile, reach, trial, whatif
from drinklab.batch.solve import factor_for
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.physics import density
from drinklab.recipe import Recipe, usual_way
from drinklab.setting import Setting
from drinklab.units import FLUID_OUNCE

KNOWN = classics.load()
FIGURES = profile.reference(KNOWN)


def of(axis: str, family: str | None = None) -> list[float]:
    values = getattr(FIGURES, axis).tolist()
    return [v for v, f in zip(values, KNOWN.families, strict=True) if family in (None, f)]


# --- sugar in warm water -------------------------------------------------------------------------------------
# The formula is the package's own, ICUMSA SPS-4 (Bubnik et al., Sugar Technologists' Manual, 1995, p. 164), as another
# public program writes it: this finds a wrong term, not a wrong formula. Beside it stands what was printed at 20 °C;
# no measured density of a warm syrup was found.
def sps4(s: float, celsius: float) -> float:
    """What the sugar adds to the density of water, a term at a time. [kg/m³]"""
    t = (celsius - 20) / 100
    return (
        385.1761 * s + 135.3705 * s**2 + 40.9299 * s**3 - 3.9643 * s**4 + 13.4853 * s**5 - 17.2890 * s**6
        + (-46.2720 * s - 7.1720 * s**2 + 1.1597 * s**3 + 5.1126 * s**4 + 17.5254 * s**5) * t
        + (59.7712 * s + 7.2491 * s**2 + 12.3630 * s**3 - 35.4791 * s**4) * t**2
        + (-47.2207 * s - 21.6977 * s**2 + 27.6301 * s**3) * t**3
        + (18.3184 * s + 12.3081 * s**2) * t**4
    )  # fmt: skip


# Water: IAPWS-95, density of ordinary water at 0.101325 MPa; from memory.
WATER = {5: 999.97, 20: 998.21, 40: 992.22, 60: 983.20, 80: 971.79}


@pytest.mark.parametrize(("share", "printed"), [(0.0, 998.2), (0.5, 1229.5), (0.6, 1286.4)])
def test_a_syrup_as_printed(share, printed):
    """CRC Handbook of Chemistry and Physics, density of sucrose solutions at 20 °C, by an older formula than SPS-4."""
    assert density.sucrose_water(share, 20) == pytest.approx(printed, abs=0.3)


@pytest.mark.parametrize("celsius", WATER)
@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.65])
def test_a_syrup_warm_and_cold(share, celsius):
    wanted = WATER[celsius] + sps4(share, celsius)
    assert density.sucrose_water(share, celsius) == pytest.approx(wanted, abs=0.1)
    if celsius <= 60:  # what stands in a glass takes the same way: 100 g of the syrup, by its volume
        syrup = Liquid.of(water=100 * (1 - share), sucrose=100 * share)
        assert syrup.volume(celsius) == pytest.approx(100_000 / wanted, rel=1.5e-4)
    own = (100_000 / wanted - 100_000 * (1 - share) / WATER[celsius]) / (100 * share)
    assert density.sucrose_volume(share, celsius) == pytest.approx(own, abs=1.5e-3)


# --- strength ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("grams", "millilitres", "percent"), [(78.924, 1000, 10), (31.5696, 100, 40), (789.24, 1000, 100)]
)
def test_strength_of_grams_in_millilitres(grams, millilitres, percent):
    """OIML R 22 (1975): a millilitre of pure ethanol at 20 °C is 0.78924 g."""
    assert density.abv_of(grams, millilitres) == pytest.approx(percent, abs=2e-3)
    assert profile.profile(Liquid.of(ethanol=78.924)).volume == pytest.approx(100, abs=0.01)


def test_a_profile_gives_back_what_was_poured():
    """Pure ethanol is 100 % vol; grams to the litre times the litres are the grams, of sugar, acid and all together."""
    assert profile.profile(Liquid.of(ethanol=50.0)).abv == pytest.approx(100, rel=1e-7)
    found = profile.profile(Liquid.of(water=80.0, ethanol=20.0, sucrose=9.0, malic=0.04, citric=0.02))
    litres = found.volume / 1000
    assert (found.sugar * litres, found.acid * litres, found.density * litres / 1000) == pytest.approx(
        (9, 0.06, 0.10906)
    )
    assert found.sugar_to_acid == pytest.approx(9 / 0.06)


def test_a_ratio_that_says_nothing_is_a_word():
    """Below half a gram of acid in the litre: no published source; of 0 a ratio is not defined."""
    for acid, said in ((0.0, "no acid"), (0.02, "hardly any acid"), (0.6, "20")):
        drink = profile.profile(Liquid.of(water=95.0, sucrose=12.0, citric=acid))
        assert profile.shown(drink, "sugar_to_acid", Display())[0] == said
    assert profile.shown(drink, "sugar_to_acid", Display(), 3.0)[:2] == ("20", "± 3")
    assert profile.shown(drink, "sugar_to_acid", Display(), 25.0)[0] == "not known well enough"
    assert profile.profile(Liquid.of(water=95.0)).sugar_to_acid == 0
    assert profile.profile(Liquid.of(water=95.0, sucrose=1.0)).sugar_to_acid == float("inf")


# --- bands and distances -------------------------------------------------------------------------------------
@pytest.mark.parametrize("family", [None, *sorted(f for f in set(KNOWN.families) if KNOWN.families.count(f) >= 2)])
def test_the_band_of_a_family_holds_eight_in_ten(family):
    band = whatif.band(family, classics=KNOWN)
    for axis in profile.AXES:
        tenths = statistics.quantiles(of(axis, family), n=10, method="inclusive")
        assert band[axis] == pytest.approx((tenths[0], tenths[-1]), rel=1e-9), axis
    if family:
        found = profile.place(FIGURES[KNOWN.families.index(family)], KNOWN, family).family_range
        assert all(found[axis] == pytest.approx(band[axis]) for axis in profile.AXES)


def test_a_distance_of_one_is_half_the_middle_half():
    scales = profile.scales(KNOWN)
    for axis in profile.AXES:
        quarters = statistics.quantiles(of(axis), n=4, method="inclusive")
        assert scales[axis] == pytest.approx((quarters[2] - quarters[0]) / 2, rel=1e-9)
    # By hand: 3 and 4 units apart on two of three figures are the root of (9 + 16 + 0) / 3.
    here = {axis: statistics.median(of(axis)) for axis in profile.AXES}
    there = here | {"abv": here["abv"] + 3 * scales["abv"], "acid": here["acid"] - 4 * scales["acid"]}
    assert profile.distance(here, there, KNOWN) == pytest.approx((25 / 3) ** 0.5)
    assert profile.distance(here, {"acid": there["acid"]}, KNOWN) == pytest.approx(4)


def test_the_rank_among_the_classics_counts_ties_half():
    for name in ("Daiquiri", "Negroni"):
        at = KNOWN.names.index(name)
        ranks = profile.place(FIGURES[at], KNOWN).percentile
        for axis in profile.AXES:
            mine, all_of_them = of(axis)[at], of(axis)
            below = sum(v < mine for v in all_of_them) + sum(v == mine for v in all_of_them) / 2
            assert ranks[axis] == pytest.approx(100 * below / len(all_of_them))


def test_a_classic_is_held_against_its_own_family():
    """Nothing is nearer to it than itself; where two are alike to the last digit, either will do."""
    for at in range(0, len(KNOWN.names), 7):
        found = profile.place(FIGURES[at], KNOWN)
        assert found.nearest[0][2] == 0
        assert found.family == found.nearest[0][1]
        assert KNOWN.families[at] in {family for _, family, far in found.nearest if far == 0}


# --- the ± of a jigger ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(("tool", "halves"), [
    ("jigger", {2: 1.0, 10: 1.3, 45: 2.35, 200: 7.0}), ("scale", {0.6: 0.3, 10: 0.5, 200: 0.5}),
    ("free pour", {2: 1.0, 10: 3.0, 60: 8.0}), ("exact", {45: 0.0}),
])  # fmt: skip
def test_nineteen_pours_in_twenty_lie_within_the_half_width(tool, halves):
    """Absolute and relative part together, half the pour at most: common practice, no published source.

    95 in 100 lie within two standard deviations (95.45, the normal distribution).
    """
    shelf, draws = pantry.load(), 20_000
    for amount, half in halves.items():
        recipe = Recipe.parse(f"{amount} mL gin")
        amounts, _ = trial.drawn(recipe, recipe.bottles(shelf), tool, draws, seed=3)
        assert amounts[0, 0] == amount
        inside = np.mean(np.abs(amounts[1:, 0] - amount) <= half + 1e-12)
        wanted = 1.0 if half == 0 else 0.9545
        assert inside == pytest.approx(wanted, abs=4 * (0.9545 * 0.0455 / draws) ** 0.5), (tool, amount)
        assert amounts.min() >= 0


# --- what is shown -------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("kind", "value", "spread", "metric", "us"), [
    (kinds.ABV, 17.449, 0.849, "17.4 ± 0.8 % vol", "17.4 ± 0.8 % vol"),
    (kinds.ABV, 0.04, None, "0.04 % vol", "0.04 % vol"),  # a strength above 0 is never written as 0
    (kinds.ABV, -0.04, 0.001, "0.0 ± 0.1 % vol", "0.0 ± 0.1 % vol"),
    (kinds.VOLUME, 9.96, 0.26, "10.0 ± 0.3 mL", "0.34 ± 0.01 oz"),
    (kinds.VOLUME, 10.4, 0.2, "10 ± 1 mL", "0.35 ± 0.01 oz"),
    (kinds.VOLUME, 88.72, 3.0, "89 ± 3 mL", "3.00 ± 0.10 oz"),
])  # fmt: skip
def test_a_figure_is_shown_as_far_as_it_is_worth(kind, value, spread, metric, us):
    """Strength to one decimal, as the label of a bottle has it (EU 1169/2011); 29.5735 mL to the fluid ounce (NIST
    Handbook 44, appendix C, from memory); the ± as far as its figure and never 0 (GUM, JCGM 100:2008, 7.2.6); from memory."""
    assert Display().text(kind, value, spread) == metric
    assert Display("oz", "°F").text(kind, value, spread) == us
    assert abs(FLUID_OUNCE - 29.5735) < 1e-4


def test_a_pressure_is_shown_as_far_as_a_gauge_is_read():
    """30 psi are 206.84 kPa (NIST Handbook 44, appendix C: 6.894 757 kPa; from memory), 2.0684 bar."""
    shown = {unit: Display(gauge=unit).amount(kinds.PRESSURE(206.84)) for unit in ("kPa", "psi", "bar")}
    assert shown == {"kPa": "207 kPa", "psi": "30 psi", "bar": "2.1 bar"}


# --- amounts that a measure can pour -------------------------------------------------------------------------
@pytest.mark.parametrize(("measure", "step"), [("5 mL", 5.0), ("0.25 oz", 7.39338), ("0.5 oz", 14.78676)])
def test_amounts_come_in_the_steps_of_the_measure(measure, step):
    """NIST Handbook 44, appendix C: a fluid ounce is 29.573 53 mL (from memory). Each amount is a whole number of measures."""
    bottles = ["gin", "lemon juice", "sugar syrup, 1:1 by mass"]
    answer = reach.reach({"abv": 16, "sugar": 70, "acid": 8}, bottles, technique="shaken", measure=measure)[0]
    counts = answer.recipe.amounts / step
    assert counts == pytest.approx(np.round(counts), abs=2e-4)
    assert np.round(counts).max() >= 1
    # An own measure of one bottle holds for that bottle alone.
    own = {"gin": reach.Limit(10, 100, "10 mL")}
    amounts = reach.reach(
        {"abv": 16, "sugar": 70, "acid": 8}, bottles, technique="shaken", measure=measure, limits=own
    )[0].recipe.amounts
    assert amounts[0] % 10 == pytest.approx(0, abs=1e-6)
    assert np.array(amounts[1:]) / step == pytest.approx(np.round(np.array(amounts[1:]) / step), abs=2e-4)


def test_a_jigger_widens_a_drink_more_than_a_scale():
    recipe = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL sugar syrup, 1:1 by mass")
    wide = [
        trial.run(Setting(recipe, tool=tool)).served.spread("abv") for tool in ("free pour", "jigger", "scale", "exact")
    ]
    assert wide[0] > wide[1] > wide[2] > wide[3]


# --- a recipe's own limits: what it says of them, each at its very end ---------------------------------------
def test_a_recipe_takes_what_it_says_and_not_one_more():
    """The limits are this package's own (`recipe.MOST_POURS`, the sentence of a part's size): no published source."""
    line = "1 mL gin"
    assert len(Recipe.parse("\n".join([line] * 200)).pours) == 200
    with pytest.raises(InputError, match="number of pours is 201; it must be at most 200"):
        Recipe.parse("\n".join([line] * 201))
    assert len(Recipe.parse("\n".join([line, ""] * 200)).pours) == 200  # empty lines are lines
    with pytest.raises(InputError, match="number of lines is 401; it must be at most 400"):
        Recipe.parse("\n".join([line, ""] * 200 + ["\n"]))
    assert Recipe.parse("1 part = 0.1 mL\n2 parts gin").volume == pytest.approx(0.2)
    with pytest.raises(InputError, match=r"size of a part is 0\.099; it must be 0\.1 to 100000 mL"):
        Recipe.parse("1 part = 0.099 mL\n2 parts gin")
    for field, called in (("glass", "glass"), ("glass_ice", "ice in the glass"), ("garnish", "garnish")):
        assert Recipe.parse(line, **{field: "x" * 80})
        with pytest.raises(InputError, match=f"^{called} is 81 letters long; it must be at most 80 letters"):
            Recipe.parse(line, **{field: "x" * 81})
    assert Recipe.parse("1000 L gin").volume == pytest.approx(1e6)
    with pytest.raises(InputError, match="amount of 'gin' is 1000010; it must be 0 to 1000000 mL"):
        Recipe.parse("1000010 mL gin")
    # A pour of less than a millilitre before the top is something before the top.
    assert Recipe.parse("0.5 mL orange bitters\ntop 90 mL tonic water").pours[1].after
    with pytest.raises(InputError, match=r"^total before the top is "):
        Recipe.parse("top 90 mL tonic water")


def test_parts_need_a_size_only_beside_other_measures():
    """Three parts of 20 mL and one are 60 and 20 mL (by hand); all in parts, a part is 30 mL."""
    assert Recipe.parse("1 part = 20 mL\n3 parts gin\n1 part lemon juice\n5 mL honey syrup").volume == pytest.approx(85)
    assert Recipe.parse("2 parts gin\n1 part lemon juice").volume == pytest.approx(90)
    with pytest.raises(InputError, match="since other lines are not in parts"):
        Recipe.parse("2 parts gin\n20 mL lemon juice")


# --- how a drink is made, where nobody says; how a batch's size is found -------------------------------------
def test_a_little_juice_is_shaken_and_a_little_water_is_not():
    """Common practice, no published source: juice is shaken, spirit with water alone is stirred."""
    with_juice = usual_way(Recipe.parse("45 mL gin\n20 mL sweet vermouth\n5 mL orange juice"), pantry.load())
    with_water = usual_way(Recipe.parse("45 mL gin\n20 mL sweet vermouth\n5 mL water"), pantry.load())
    assert (with_juice.technique, with_water.technique) == ("shaken", "stirred")


@pytest.mark.parametrize(
    ("text", "technique", "serve"),
    [
        ("45 mL gin\ntop 120 mL apple juice", "built", "long"),
        ("60 mL rye\n25 mL lemon juice\n20 mL sugar syrup\ntop 15 mL red wine", "shaken", "up"),
        ("45 mL aged rum\n60 mL pineapple flesh, blended\n20 mL lime juice", "blended", "on ice"),
        ("60 mL blended Scotch whisky\n30 mL sweet red vermouth", "stirred", "up"),
    ],
)
def test_a_top_makes_it_long_and_a_float_does_not(text, technique, serve):
    """Common practice, no published source: a long top is built, a float goes on what was shaken; fruit that is blended
    means a blender, a blended whisky does not."""
    way = usual_way(Recipe.parse(text), pantry.load())
    assert (way.technique, way.serve) == (technique, serve)


def test_a_hot_drink_is_of_the_family_hot_unless_another_is_given():
    hot = Recipe.parse("45 mL aged rum\n120 mL hot water", serve="hot")
    assert (hot.family, replace(hot, family="punch").family) == ("hot", "punch")
    assert Recipe.parse("45 mL aged rum\n120 mL water").family is None


@pytest.mark.parametrize(("slope", "less"), [(0.5, 20.0), (110.0, 20.0), (0.02, 0.0), (1.0, 5.0)])
def test_the_size_of_a_batch_is_found_on_a_steep_line_and_a_flat_one(slope, less):
    """slope * factor - less = 10 at factor = (10 + less) / slope, by hand."""
    tried = []
    found = factor_for(10.0, lambda factor: tried.append(factor) or slope * factor - less, 3.0, "serves")
    assert found == pytest.approx((10 + less) / slope, rel=1e-8)
    assert len(tried) <= 12  # of 60: a straight line takes few
