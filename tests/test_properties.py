"""What must hold for any drink: grams are kept, water weakens, size changes nothing but size."""

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from long_run import examples

from drinklab import dilution, steps, strength, trial
from drinklab.errors import InputError
from drinklab.liquid import ACIDS, COMPONENTS, SUGARS, Liquid
from drinklab.physics import density
from drinklab.profile import FIGURES, profile

settings.register_profile("drinks", max_examples=examples(100))
settings.load_profile("drinks")

EXTENSIVE = {"volume", "mass", "alcohol"}
INTENSIVE = set(FIGURES) - EXTENSIVE


def grams(low, high):
    return st.floats(low, high, allow_subnormal=False)


# Water is always there, and sugar never beyond what the sugar density covers (85 % of sugar and water).
MOST = {"water": (40, 500), "ethanol": (0, 500)} | dict.fromkeys(SUGARS, (0, 50))
MOST |= dict.fromkeys(ACIDS, (0, 20)) | {"protein": (0, 10), "fat": (0, 10), "solids": (0, 20)}
MOST |= dict.fromkeys(("potassium", "unsure_potassium", "co2"), (0, 3))
liquids = st.builds(Liquid.of, **{name: grams(*MOST[name]) for name in COMPONENTS})
spirits_abv = st.floats(0, 100)
liquid_temperatures = st.floats(0, 40)  # every mixture is liquid


def stacks(shape):
    n = int(np.prod(shape))
    return st.lists(liquids, min_size=n, max_size=n).map(
        lambda many: Liquid(np.stack([x.grams for x in many], axis=-1).reshape(len(COMPONENTS), *shape))
    )


def same(a, b, rel=1e-12, off=1e-12):
    np.testing.assert_allclose(a, b, rtol=rel, atol=off)


# --- grams are kept -----------------------------------------------------------------------------------
@given(liquids, liquids, st.floats(0, 100))
def test_pouring_together_keeps_every_gram(a, b, k):
    same((a + b).grams, a.grams + b.grams)
    same((a + b).mass, a.mass + b.mass)
    same((k * a).grams, k * a.grams)
    same((k * a).mass, k * a.mass)


def test_parts_are_what_is_there_and_what_every_drink_is_made_of():
    assert set(Liquid.of(water=50).parts()) == {"water", "ethanol"}
    assert {name: float(g) for name, g in Liquid.of(sucrose=9).parts().items()} == {
        "water": 0,
        "ethanol": 0,
        "sucrose": 9,
    }


@given(liquids)
def test_mass_sugar_and_acid_are_the_sums_of_their_parts(a):
    same(a.mass, sum(getattr(a, n) for n in COMPONENTS))
    same(a.sugar, sum(getattr(a, n) for n in SUGARS))
    same(a.acid, sum(getattr(a, n) for n in ACIDS))


compositions = st.integers(1, 6).flatmap(
    lambda pours: st.tuples(
        st.lists(liquids, min_size=pours, max_size=pours),
        st.lists(st.floats(0, 200), min_size=pours, max_size=pours),
        st.permutations(range(pours)),
    )
)


def per_ml(bottles):
    return np.array([b.grams / b.volume() for b in bottles])


@given(compositions)
def test_poured_is_the_sum_of_the_pours_in_any_order(case):
    bottles, amounts, order = case
    glass = Liquid.poured(amounts, per_ml(bottles))
    one_by_one = sum((ml / b.volume() * b for b, ml in zip(bottles, amounts, strict=True)), Liquid.of())
    same(glass.grams, one_by_one.grams, rel=1e-10)
    other = Liquid.poured([amounts[i] for i in order], per_ml([bottles[i] for i in order]))
    same(glass.grams, other.grams, rel=1e-10)


@given(liquids, liquids, liquids)
def test_the_order_of_pours_does_not_matter(a, b, c):
    first, second = a + b + c, c + (b + a)
    same(first.grams, second.grams)
    same(first.volume(), second.volume())
    same(profile(first).abv, profile(second).abv)


@given(compositions, st.integers(1, 4))
def test_poured_with_bottles_that_vary(case, draws):
    bottles, amounts, _ = case
    nominal = per_ml(bottles)
    varied = nominal * np.linspace(0.9, 1.1, draws)[:, None, None]
    amounts = np.array(amounts) * np.linspace(1, 1.2, draws)[:, None]
    together = Liquid.poured(amounts, varied)
    assert together.shape == (draws,)
    for i in range(draws):
        same(together[i].grams, Liquid.poured(amounts[i], varied[i]).grams, rel=1e-10)


@given(liquids, liquids, st.floats(0, 2), st.floats(0, 2))
def test_each_step_of_a_trial_keeps_the_grams(drink, top, melt, share):
    chilled = trial.Ice(melt).act(drink)
    added = chilled.liquid.grams - drink.grams
    assert not added[1:].any()  # ice brings water alone
    same(added[0], melt * drink.volume() * density.ethanol_water(0.0) / 1000, rel=1e-9)
    same(trial.Top(top).act(drink).liquid.grams, drink.grams + top.grams)
    watered = steps.AddWater(share).act(drink)
    same(watered.liquid.grams, drink.grams + watered.added.grams)
    same(steps.Rest().act(drink).liquid.grams, drink.grams)


@given(liquids)
def test_a_liquid_cannot_be_changed(a):
    with pytest.raises(dataclasses.FrozenInstanceError):
        a.grams = a.grams * 2
    before = a.grams.copy()
    _ = (a + a, 3 * a, profile(a), a.volume(5), dilution.add_melt(a, 0.3))
    assert (a.grams == before).all()


# --- water weakens -------------------------------------------------------------------------------------
@given(liquids, grams(0.01, 1000))
def test_water_never_makes_a_drink_stronger_or_sweeter(drink, water):
    before, after = profile(drink), profile(drink + Liquid.of(water=water))
    assert after.abv <= before.abv * (1 + 1e-12)
    assert after.sugar <= before.sugar * (1 + 1e-12)
    assert after.acid <= before.acid * (1 + 1e-12)
    assert after.volume > before.volume
    same(after.alcohol, before.alcohol)
    same(after.sugar_to_acid, before.sugar_to_acid, rel=1e-9)


@given(st.floats(1, 2000), st.floats(1, 100), st.floats(0.01, 1))
def test_water_to_reach_reaches(volume, abv, share):
    target = abv * share
    assume(target > 0.5)
    water = strength.water_to_reach(volume, abv, target)
    mixed = profile(strength.spirit(volume, abv) + strength.spirit(water, 0))
    same(mixed.abv, target, rel=1e-8)
    assert strength.water_to_reach(volume, abv, target * 0.9) > water


@given(st.floats(0, 60), st.floats(0, 60))
def test_melt_is_a_share_of_the_drink(a, b):
    for technique in dilution.RULES:
        for serve in ("up", "on ice", "long"):
            assert 0 <= dilution.melt_fraction(a, technique, serve) <= 1
    # stirring adds less than shaking, whatever the strength
    assert dilution.stirred(a) < dilution.shaken(a)


# --- size changes nothing but size -----------------------------------------------------------------------
@given(liquids, st.floats(1e-3, 1e4))
def test_scaling(drink, k):
    once, many = profile(drink), profile(k * drink)
    for figure in INTENSIVE:
        same(getattr(many, figure), getattr(once, figure), rel=1e-10)
    for figure in EXTENSIVE:
        same(getattr(many, figure), k * getattr(once, figure), rel=1e-10)
    same((k * drink).density(5.0), drink.density(5.0), rel=1e-10)


# --- one drink or many: the same numbers -------------------------------------------------------------------
@settings(max_examples=examples(25))
@given(stacks((2, 3)), liquid_temperatures)
def test_a_stack_equals_one_by_one(stack, temperature):
    assert stack.shape == (2, 3)
    figures = profile(stack)
    for i, j in np.ndindex(2, 3):
        one = stack[i, j]
        assert one.shape == ()
        for figure in FIGURES:
            same(getattr(figures, figure)[i, j], getattr(profile(one), figure), rel=1e-10)
        same(stack.volume(temperature)[i, j], one.volume(temperature), rel=1e-10)
        same(stack.mass[i, j], one.mass)
        same(stack.ethanol[i, j], one.ethanol)


@given(liquids, stacks((3,)))
def test_arrays_and_liquids_broadcast(one, three):
    factors = np.array([0.0, 0.5, 2.0])
    assert isinstance(factors * one, Liquid)
    assert (factors * one).shape == (3,)
    same((factors * one).grams, one.grams[:, None] * factors)
    same((factors * one).grams, (one * factors).grams)
    same((factors * three).grams, three.grams * factors)
    grid = factors[:, None] * three
    assert grid.shape == (3, 3)
    same(grid[2, 1].grams, 2 * three[1].grams)
    assert (one + three).shape == (3,)
    same((one + three)[1].grams, one.grams + three[1].grams)
    same((three + one).grams, (one + three).grams)
    assert (np.float64(2) * one).shape == ()


@given(st.lists(st.floats(0, 60), min_size=1, max_size=5))
def test_lessons_take_arrays(abvs):
    many = np.array(abvs)
    for function in (strength.abw_from_abv, strength.us_proof, dilution.stirred, dilution.shaken):
        same(function(many), [function(a) for a in abvs], off=1e-9)
    same(strength.contraction(50, many, 30, 0), [strength.contraction(50, a, 30, 0) for a in abvs], off=1e-9)
    same(strength.spirit(60, many).grams[1], [strength.spirit(60, a).ethanol for a in abvs], off=1e-9)


# --- there and back ------------------------------------------------------------------------------------------
@given(spirits_abv, liquid_temperatures)
def test_strength_by_volume_and_by_mass_are_inverses(x, temperature):
    assert abs(strength.abv_from_abw(strength.abw_from_abv(x, temperature), temperature) - x) < 1e-9
    assert abs(strength.abw_from_abv(strength.abv_from_abw(x, temperature), temperature) - x) < 1e-9
    # one drink weighs the same however its temperature is counted
    many = strength.abw_from_abv(np.array([x, x]), np.array([temperature, 20.0]))
    assert abs(many[0] - strength.abw_from_abv(x, temperature)) < 1e-9


@given(st.floats(-20, 0), st.floats(1e-6, 1))
def test_inverses_below_freezing(temperature, share):
    low = 100 * density.lowest_abw(temperature)
    abw = low + (100 - low) * share
    assert abs(strength.abw_from_abv(strength.abv_from_abw(abw, temperature), temperature) - abw) < 1e-9


@given(spirits_abv)
def test_proof_and_strength_are_inverses(abv):
    assert abs(strength.abv_from_us_proof(strength.us_proof(abv)) - abv) < 1e-8


@given(spirits_abv, spirits_abv, liquid_temperatures)
def test_more_by_volume_is_more_by_mass(a, b, temperature):
    assume(a + 1e-6 < b)
    assert strength.abw_from_abv(a, temperature) < strength.abw_from_abv(b, temperature)


@given(st.floats(1, 1000), spirits_abv)
def test_a_spirit_is_what_its_label_says(volume, abv):
    read = profile(strength.spirit(volume, abv))
    same(read.volume, volume, rel=1e-9)
    assert abs(read.abv - abv) < 1e-9
    same(read.alcohol, volume * abv / 100 * 0.7892391, rel=1e-6, off=1e-9 * volume)


# --- volume ----------------------------------------------------------------------------------------------------
@given(liquids, liquid_temperatures)
def test_volume_and_density_are_positive(drink, temperature):
    assert 0 < drink.volume(temperature) < np.inf
    assert 700 < drink.density(temperature) < 1700
    same(profile(drink).volume, drink.volume(), rel=1e-10)
    assert 0 <= profile(drink).abv <= 100


def test_nothing_takes_no_volume():
    assert Liquid.of().volume() == 0


@given(st.floats(0, 500), spirits_abv, st.floats(0, 500))
def test_pure_ethanol_shrinks_with_anything(volume, abv, ethanol):
    assert strength.contraction(ethanol, 100, volume, abv) >= -1e-9


# Mixtures of ethanol and water above this strength always shrink when they meet. Below it the volume of
# a gram falls faster than in proportion, and they swell a little: a consequence of OIML R 22.
SHRINKS_FROM = 19.5  # % vol


@given(st.floats(0, 500), st.floats(SHRINKS_FROM, 100), st.floats(0, 500), st.floats(SHRINKS_FROM, 100))
def test_spirits_shrink_together(volume_a, abv_a, volume_b, abv_b):
    assert strength.contraction(volume_a, abv_a, volume_b, abv_b) >= -1e-9


@given(st.floats(0, 500), spirits_abv, st.floats(0, 500), spirits_abv)
def test_contraction_lies_between_its_limits(volume_a, abv_a, volume_b, abv_b):
    shrunk = strength.contraction(volume_a, abv_a, volume_b, abv_b)
    total = volume_a + volume_b
    assert -0.0016 * total - 1e-9 <= shrunk <= 0.0355 * total + 1e-9


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_two_drops_mix_as_two_barrels_do(size):
    made = strength.mixed(strength.spirit(size, 63), strength.spirit(0.4 * size, 0))
    assert made.shrinks / size == pytest.approx(float(strength.contraction(1, 63, 0.4, 0)))
    assert made.by_volumes == pytest.approx(63 / 1.4)  # by hand
    with pytest.raises(InputError, match="volume of the mix is 0; it must be above 0 mL"):
        strength.mixed(strength.spirit(0, 40))


def test_weak_mixtures_swell_a_little_with_water():
    """So the sign in the test above is no slack in the code."""
    assert strength.contraction(36, 28.25, 64, 0) == pytest.approx(-0.151, abs=0.001)
    swell = strength.contraction(50, np.array([5, 10, 20, 30]), 50, 0)
    assert (swell < 0).all()
