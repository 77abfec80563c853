"""Syrups, acid solutions, acid-adjusted juice and refractometer readings, against handbooks and work by hand."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from long_run import examples

from drinklab import balance, pantry, prep
from drinklab.errors import InputError
from drinklab.liquid import ACIDS, Liquid
from drinklab.physics import density
from drinklab.physics import refraction as optics

SHELF = pantry.load()


# --- syrups -------------------------------------------------------------------------------------------
# By weight: one to one is 50 °Brix, 1229.5 kg/m³ (CRC Handbook; read) so 614.8 g/L; two to one is 66.7 °Brix.
def test_one_to_one_by_weight():
    made = prep.syrup(50, "sugar", volume="1 L")
    assert made.sugar == pytest.approx(made.water)
    assert made.density == pytest.approx(1229.5, abs=0.4)
    assert made.sugar == pytest.approx(0.5 * 1229.5, abs=0.3)
    assert made.volume == pytest.approx(1000)


def test_two_to_one_by_weight():
    made = prep.syrup(200 / 3, from_sugar=500)
    assert (made.sugar, made.water) == (pytest.approx(500), pytest.approx(250))
    assert made.per_litre == pytest.approx(884.5, abs=0.5)  # 66.67 °Brix, 1326.75 kg/m³ (SPS-4)
    assert (
        "fridge it may crystallise: 65 % stays dissolved at 4 °C" in made.text()
    )  # 65 % at 4 °C (Bubnik and Kadlec; read)
    assert "fridge" not in prep.syrup(60, mass=100).text()


@pytest.mark.parametrize(("brix", "kg_m3"), [(10, 1038.1), (20, 1081.0), (30, 1127.0), (40, 1176.5), (60, 1286.4)])
def test_the_handbooks_solutions(brix, kg_m3):
    """CRC Handbook, 20 °C (read)."""
    made = prep.syrup(brix, mass=1000)
    assert (made.sugar, made.mass) == (pytest.approx(10 * brix), pytest.approx(1000))
    assert made.volume == pytest.approx(1e6 / kg_m3, abs=0.2)


def test_fructose_syrup_of_the_handbook():
    """10 % fructose: 1.0385 g/mL (CRC Handbook, 102nd edition; read)."""
    assert prep.syrup(10, "fructose", volume=100).density == pytest.approx(1038.5, abs=0.7)


def test_dextrose_counts_its_crystal_water():
    """198.17 g of the monohydrate hold 180.16 g of glucose."""
    made, dry = prep.syrup(40, "dextrose", mass=1000), prep.syrup(40, "glucose", mass=1000)
    assert made.sugar == pytest.approx(400 * 198.17 / 180.16, rel=1e-3)
    assert made.sugar + made.water == pytest.approx(1000)
    assert made.volume == pytest.approx(dry.volume, rel=1e-6)


def test_honey_by_hand():
    """Honey of 17.1 % water (USDA) to 60 °Brix: 100 g hold 82.9 g of dry matter, so 138.2 g of syrup, 38 g of water."""
    made = prep.syrup(60, "honey", from_sugar=100)
    assert made.water == pytest.approx(82.9 / 0.6 - 100, abs=0.5)
    assert made.name == "honey"


@settings(max_examples=examples(50))
@given(
    brix=st.floats(1, 66.6), amount=st.floats(1, 5000), what=st.sampled_from(["volume", "mass", "from_sugar"]),
    sugar=st.sampled_from(["white sugar", "fructose", "honey", "maple syrup"]),
)  # fmt: skip
def test_a_syrup_is_what_was_asked_for(brix, amount, what, sugar):
    assume(sugar != "maple syrup" or brix < 60)
    made = prep.syrup(brix, sugar, **{what: amount})
    assert {"volume": made.volume, "mass": made.mass, "from_sugar": made.sugar}[what] == pytest.approx(amount)
    assert made.sugar + made.water == pytest.approx(made.mass)
    assert 100 * (1 - made.liquid.water / made.mass) == pytest.approx(brix)
    assert made.density == pytest.approx(1000 * made.mass / made.volume)


# --- acid solutions -----------------------------------------------------------------------------------
@pytest.mark.parametrize(("percent", "g_ml"), [(1, 1.0022), (5, 1.0189), (10, 1.0402), (12, 1.0490), (14, 1.0580)])
def test_citric_acid_solution_of_the_handbook(percent, g_ml):
    """CRC Handbook, 102nd edition (read)."""
    made = prep.acid_solution(percent, volume=100)
    assert sum(made.acids.values()) == pytest.approx(percent * g_ml, rel=1e-3)
    assert sum(made.acids.values()) + made.water == pytest.approx(100 * g_ml, rel=1e-3)


@pytest.mark.parametrize(
    ("acid", "to_100_of_water"), [("citric", 146), ("malic", 126), ("tartaric", 139), ("lactic", np.inf)]
)
def test_what_dissolves_may_be_asked_for_and_no_more(acid, to_100_of_water):
    """Grams to 100 g of water at 20 °C (handbooks; from memory)."""
    most = prep.ACID_SOLUBILITY[acid]
    assert most == pytest.approx(100 * (1 - 1 / (1 + to_100_of_water / 100)), abs=1)
    assert prep.acid_solution(most, acid).acids[acid] > 0
    if most < 100:
        with pytest.raises(InputError, match=f"^{acid} acid is {most + 1:.0f} % .* at most {most:.0f} % to dissolve"):
            prep.acid_solution(most + 1, acid)


def test_a_millilitre_is_adjusted_like_a_litre():
    litre, drop = (prep.adjust("orange juice", "lemon juice", "citric", volume=ml).acids for ml in (1000, 1))
    assert 1000 * drop["citric"] == pytest.approx(litre["citric"])


def test_lime_acid_of_the_bar():
    """4 % citric and 2 % malic to make something as sour as lime: common practice, no published source."""
    made = prep.acid_solution(6, {"citric": 4, "malic": 2}, volume="1 L")
    assert made.acids["citric"] == pytest.approx(2 * made.acids["malic"])
    assert sum(made.acids.values()) / (sum(made.acids.values()) + made.water) == pytest.approx(0.06)
    assert made.text().startswith("Weigh 40.9 g of citric acid and 20.4 g of malic acid and 961.1 g of water")
    assert "eyes" in made.text()


# --- acid-adjusted juice --------------------------------------------------------------------------------
def test_orange_to_lemon_by_hand():
    """Acidity adds up, and the acid takes room: (42 + what fills its own volume) g to a litre.

    6.1 g/L have to become 48.1: x g in a litre swell it by 0.60 x mL, so 6.1 + x = 48.1 (1 + 0.0006 x), x = 43.2
    (anhydrous citric acid titrates as itself to 0.2 %).
    """
    orange, lemon = (balance.titratable(Liquid(SHELF[i].composition)) for i in ("orange_juice", "lemon_juice"))
    found = prep.adjust("orange juice", "lemon juice", "citric")
    assert found.acids["citric"] == pytest.approx((lemon - orange) / (1 - 0.0006 * lemon), rel=0.005)
    assert found.volume == pytest.approx(1000 + 0.60 * found.acids["citric"], abs=0.1)
    assert balance.titratable(found.after) == pytest.approx(lemon, rel=1e-6)
    assert 1000 * found.after.sugar / found.volume == pytest.approx(88 * 1000 / found.volume)


def test_bar_practice_of_sixty_grams():
    """Orange juice of 8 g/L against lemon of 60: about 52 g a litre in the bar's arithmetic (common practice)."""
    found = prep.adjust("orange juice", "lemon juice", "citric", citric=prep.LEMON_AT_THE_BAR)
    assert 52 < found.acids["citric"] < 58  # the salts of the juice hide 2 g, and a litre grows by 34 mL
    assert "citric acid 60" in found.text()
    assert "citric acid 48" in prep.adjust("orange juice").text()


@pytest.mark.parametrize("juice", ["orange juice", "pineapple juice", "grapefruit juice", "cranberry juice drink"])
@pytest.mark.parametrize(
    "to", ["lemon juice", "lime juice", {"citric": 40, "malic": 20}, {"citric": 30, "tartaric": 9}]
)
@pytest.mark.parametrize("strength", [None, 30.0])
def test_in_proportion(juice, to, strength):
    try:
        found = prep.adjust(juice, to, volume="700 mL", strength=strength)
    except InputError as refused:
        assert "proportions" in str(refused)  # noqa: PT017
        assert max(SHELF.find(juice).solutes.get(n, 0) for n in ("malic",)) > 1.2
        return
    aim = {n: SHELF.find(to).solutes.get(n, 0) for n in ACIDS} if isinstance(to, str) else to
    ends = {n: 1000 * getattr(found.after, n) / found.volume for n in aim if aim[n]}
    ratios = [ends[n] / aim[n] for n in ends]
    assert ratios == pytest.approx([ratios[0]] * len(ratios))
    assert 0.85 < ratios[0] < 1.15
    assert min(found.acids.values()) > 0
    for name, grams in found.acids.items():
        assert getattr(found.after, name) == pytest.approx(getattr(found.before, name) + grams)


@settings(max_examples=examples(25))
@given(
    aim=st.floats(15, 90), strength=st.none() | st.floats(20, 50), volume=st.floats(20, 3000),
    parts=st.fixed_dictionaries({"citric": st.floats(0.1, 5), "malic": st.floats(0, 5), "lactic": st.floats(0, 5)}),
)  # fmt: skip
def test_adjusted_juice_has_the_acidity_aimed_at(aim, strength, volume, parts):
    found = prep.adjust("pineapple juice", {"citric": aim}, parts, volume=volume, strength=strength)
    wanted = balance._acids.titratable({"citric": aim})
    assert balance.titratable(found.after) == pytest.approx(wanted, rel=1e-6)
    assert found.acids["citric"] / sum(found.acids.values()) == pytest.approx(parts["citric"] / sum(parts.values()))
    assert found.before.volume() == pytest.approx(volume)
    if strength is not None:
        total = sum(found.acids.values())
        assert found.solution.acids == pytest.approx(found.acids)
        assert total / (total + found.solution.water) == pytest.approx(strength / 100)
        assert found.after.water == pytest.approx(found.before.water + found.solution.water)
        # the strong solution and the juice fill the glass they are poured into
        assert found.volume == pytest.approx(volume + found.solution.volume, rel=0.002)


def test_cream_of_tartar_is_named():
    grape = prep.adjust("grape juice", "verjus", ["tartaric", "malic"])
    assert "cream of tartar" in grape.text()
    assert not prep.adjust("orange juice", "lemon juice", "citric").known
    # 3 g/L of it (188.2 g/mol) dissolve at 5 °C (from memory): potassium times tartaric acid is 2.5e-4 (mol/L)². By hand,
    # orange juice of 2.1 g/L of potassium, 0.054 mol/L, with 0.4 g/L of tartaric acid, 0.0027, stays below it; with 4.6
    # g/L, 0.031, it is above.
    assert not prep.adjust("orange juice", {"citric": 10}, {"citric": 9, "tartaric": 1}).known
    assert prep.adjust("orange juice", {"citric": 10}, "tartaric").known


# --- refractometer -----------------------------------------------------------------------------------------
def test_plain_syrup_and_plain_spirit():
    """Without alcohol it is the °Brix table; without sugar the ethanol table (CRC Handbook; read)."""
    for brix, kg_m3 in [(10, 1038.1), (20, 1081.0), (40, 1176.5), (50, 1229.5)]:
        assert prep.true_sugar(brix, 0).sugar == pytest.approx(brix / 100 * kg_m3, rel=2e-3)
    # 20 % mass ethanol has the index 1.3469, which lies between sucrose of 9 % (1.3463) and 10 % (1.3478)
    found = prep.true_sugar(9.4, 100 * density.abv_fraction(0.20))
    assert found.alcohol_reads == pytest.approx(9.4, abs=0.05)
    assert found.sugar == pytest.approx(0, abs=0.5)


@pytest.mark.parametrize(("abv", "read"), [(40, 14.0), (15, 7.0)])
def test_readings_that_were_reported(abv, read):
    """White rum of 40 % reads 14 °Brix; fino of 15 % with 2 % of extract 7 (a winemakers' forum; read)."""
    extract = 0.0 if abv == 40 else 2.0
    assert prep.true_sugar(30, abv).alcohol_reads + extract == pytest.approx(read, abs=1.0)


def refraction(n):
    """Lorentz and Lorenz's, by volume."""
    return (n * n - 1) / (n * n + 2)


def index(total):
    return np.sqrt((1 + 2 * total) / (1 - total))


def test_the_ethanol_table_against_added_refractions():
    """Of water, 1.3330, and ethanol, 1.3611 (CRC Handbook; from memory), by mass at the densities of OIML R 22: the table
    lies up to 0.0015 below them, and no row has a slip: from one to the next its step changes by two last digits at most."""
    p = np.linspace(0, 0.5, len(optics.ETHANOL_INDEX))
    water, ethanol = (refraction(n) / density.ethanol_water(x) for n, x in ((1.3330, 0.0), (1.3611, 1.0)))
    added = index((p * ethanol + (1 - p) * water) * density.ethanol_water(p))
    below = added - optics.ETHANOL_INDEX
    assert -1e-6 < below.min() < below.max() < 0.0015
    assert np.abs(np.diff(optics.ETHANOL_INDEX, 2)).max() < 0.00021


def lorentz_lorenz(abv, sugar):
    """Reading by adding specific refractions with the densities of the mixture: another way to mix."""
    p = np.linspace(0, 0.5, len(optics.ETHANOL_INDEX))
    of_ethanol_water = refraction(optics.ETHANOL_INDEX) / density.ethanol_water(p)
    w = optics.SUCROSE_AT[3:-2] / 100
    solution = refraction(optics.SUCROSE_INDEX[3:-2]) / density.sucrose_water(w)
    of_sucrose = np.mean((solution - (1 - w) * of_ethanol_water[0]) / w)
    item = pantry.Ingredient("x", "x", "other", abv, sugar, 0, solutes={"sucrose": sugar})
    held = Liquid(1000 * item.composition)
    both = held.ethanol + held.water
    total = both * np.interp(held.ethanol / both, p, of_ethanol_water) + held.sucrose * of_sucrose
    return float(np.interp(index(total), optics.SUCROSE_INDEX, optics.SUCROSE_AT))


@pytest.mark.parametrize(("abv", "sugar"), [(10, 50), (20, 100), (25, 200), (20, 350), (28, 400), (40, 100), (40, 250)])
def test_two_ways_to_mix_agree_within_what_is_stated(abv, sugar):
    found = prep.true_sugar(lorentz_lorenz(abv, sugar), abv)
    assert found.sugar == pytest.approx(sugar, abs=found.sugar_pm)
    assert found.sugar_pm < 0.03 * sugar + 3


def test_many_readings():
    found = prep.true_sugar(np.array([20.0, 30.0]), np.array([20.0, 0.0]))
    assert found.sugar.shape == (2,)
    assert found.sugar[1] == pytest.approx(prep.true_sugar("30", "0 %").sugar)


# --- words ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: prep.syrup(68, mass=300), ["sucrose in syrup of white sugar is 68.0 %", "at most 66.7 %", "20 °C"]),
        (lambda: prep.syrup(50, "glucose", mass=300), ["glucose in syrup of glucose", "at most 47.0 %"]),
        (lambda: prep.syrup(20, "lactose", mass=300), ["lactose in syrup of lactose", "at most 16.0 %"]),
        (lambda: prep.syrup(85, "honey", mass=300), ["brix is 85", "at most 82.9 °Brix", "honey holds itself"]),
        (lambda: prep.syrup(0, mass=300), ["brix is 0", "0.1 to 100 °Brix"]),
        (lambda: prep.syrup(50), ["amount of syrup is none", "exactly one of volume, mass and from_sugar"]),
        (lambda: prep.syrup(50, mass=1, volume=1), ["amount of syrup is volume, mass"]),
        (lambda: prep.syrup(50, volume=0), ["volume is 0", "mL"]),
        (lambda: prep.syrup(50, volume="a cup"), ["volume is 'a cup'"]),
        (lambda: prep.syrup(50, "gin", mass=1), ["sugar is 'gin'", "without alcohol"]),
        (lambda: prep.syrup(50, "lemon juice", mass=1), ["sugar is 'lemon juice, fresh'"]),
        (lambda: prep.syrup(50, "hony", mass=1), ["ingredient is 'hony'", "did you mean honey"]),
        (lambda: prep.acid_solution(70), ["citric acid is 70 % of the acid and its water", "at most 59 %"]),
        (lambda: prep.acid_solution(0), ["strength is 0", "0.1 to 100 % mass"]),
        (lambda: prep.acid_solution(10, "ascorbic"), ["acid to weigh is 'ascorbic'", "citric, malic, tartaric, lactic"]),
        (lambda: prep.acid_solution(10, {"citric": 0}), ["acids to weigh is none"]),
        (lambda: prep.acid_solution(10, {"citric": -1}), ["parts of citric acid is -1"]),
        (lambda: prep.adjust("lime juice", "orange juice"), ["titratable acidity of 'lime juice, fresh'", "below the 6.1"]),
        (lambda: prep.adjust("apple juice"), ["malic acid of 'apple juice, clear' is 5.00 g/L", "or name the acids"]),
        (lambda: prep.adjust("orange juice", "lemon juice", "citric", strength=4), ["strength of the acid solution is 4 %"]),
        (lambda: prep.adjust("orange juice", strength=4.9), ["strength of the acid solution is 4.9 %", "well above"]),
        (lambda: prep.adjust("orange juice", {"citric": 900}), ["citric acid aimed at is 900", "0 to 500 g/L"]),
        (lambda: prep.adjust("orange juice", {"ctric": 9}), ["acid aimed at is 'ctric'", "did you mean citric"]),
        (lambda: prep.adjust("orange juice", {"acetic": 50}), ["acid to weigh is 'acetic'"]),
        (lambda: prep.adjust("orange juce"), ["ingredient is 'orange juce'", "did you mean orange juice"]),
        (lambda: prep.true_sugar(14, 40), ["brix is 14", "at least 14.8 °Brix", "40 % vol"]),
        (lambda: prep.true_sugar(30, 60), ["abv is 60", "0 to 50 % vol"]),
        (lambda: prep.true_sugar(70, 10), ["brix is 70", "0 to 65 °Brix"]),
        (lambda: prep.true_sugar("sweet", 10), ["brix is 'sweet'"]),
    ],
)  # fmt: skip
def test_bad_input_gets_one_sentence(call, said):
    with pytest.raises(InputError) as caught:
        call()
    text = str(caught.value)
    assert text.endswith(".")
    assert "\n" not in text
    for words in said:
        assert words in text, text
