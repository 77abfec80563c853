"""Amounts by the marks of a measure that pours more or less than its mark: what a trial of them gives is the target."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from drinklab import pantry, trial
from drinklab.dilution import OwnIce
from drinklab.forgiving import most_pours
from drinklab.forgiving.shares import pours_inside
from drinklab.learned import Learned, by_measure, known
from drinklab.next_glass.pours import _served
from drinklab.reach import FIGURES, Limit, nearby, reach, scales, swap
from drinklab.reach.answers import task_of
from drinklab.recipe import Recipe
from drinklab.setting import Setting

TABLE = pantry.load()
SOUR = {"abv": (17.5, 19.5), "sugar": (65, 80), "acid": (6.5, 8), "volume": (95, 110)}
BOTTLES = ["aged rum, 50 %", "lemon juice", "honey syrup", "water"]
# A few mL of lemon are all that this can have: they are dashed, and not measured.
SMALL = {"abv": (24, 26), "sugar": (30, 40), "acid": (1.8, 2.6), "volume": (95, 110)}


def weighed(share: float, tool: str = "jigger"):
    shelf = TABLE.with_items([])
    shelf.learned = known((Learned("pour", tool, share, 0.01, 1.0, 0.02),))
    return shelf


def run_of(answer, shelf, **changes):
    return trial.run(Setting(answer.recipe, draws=0, **changes), pantry=shelf).made


def agrees(answer, shelf, **changes):
    """The trial works the figures out for itself, from the marks and what was weighed (setting.by_measure)."""
    made = run_of(answer, shelf, **changes)
    for axis in FIGURES:
        assert getattr(answer.figures, axis) == pytest.approx(getattr(made, axis), rel=1e-9), axis


@pytest.mark.parametrize("share", [0.93, 0.95, 1.05])
@pytest.mark.parametrize("target", [SOUR, SMALL])
@pytest.mark.parametrize("measure", [None, 2.5])
def test_marks_reach_the_target(share, target, measure):
    shelf = weighed(share)
    answers = reach(target, BOTTLES, measure=measure, technique="shaken", pantry=shelf)
    assert answers[0].distance == 0
    for answer in answers:
        agrees(answer, shelf)
    made = run_of(answers[0], shelf)
    for axis, (low, high) in target.items():
        assert low - 1e-5 <= getattr(made, axis) <= high + 1e-5
    if measure:
        steps = np.array([pour.amount for pour in answers[0].recipe.pours]) / measure
        np.testing.assert_allclose(steps, np.round(steps))


def test_only_the_measure_that_was_weighed_counts():
    shelf = weighed(0.9)
    plain = reach(SOUR, BOTTLES, technique="shaken", pantry=TABLE)[0]
    by_scale = reach(SOUR, BOTTLES, technique="shaken", tool="scale", pantry=shelf)[0]
    assert by_scale.recipe == plain.recipe
    by_jigger = reach(SOUR, BOTTLES, technique="shaken", pantry=shelf)[0]
    ratio = by_jigger.recipe.amounts.sum() / plain.recipe.amounts.sum()
    assert ratio == pytest.approx(1 / 0.9, abs=0.01)


@pytest.mark.parametrize("share", [0.9, 1.08])
def test_no_combination_of_marks_is_nearer(share):
    """Brute force by the trial itself: every combination of 5 mL marks of three bottles."""
    shelf, target = weighed(share), {"abv": 17.0, "sugar": 70.0, "acid": 7.0, "volume": (80, 120)}
    bottles = BOTTLES[:3]
    best = reach(target, bottles, measure=5, technique="shaken", tolerance={"abv": 0, "sugar": 0, "acid": 0},
                 pantry=shelf)[0]  # fmt: skip
    size, nearest = scales(), np.inf
    like = Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken")
    for amounts in itertools.product(range(25, 61, 5), range(5, 36, 5), range(5, 41, 5)):
        recipe = replace(like, pours=[replace(p, amount=a) for p, a in zip(like.pours, amounts, strict=True)])
        made = trial.run(Setting(recipe, draws=0), pantry=shelf).made
        off = [(getattr(made, axis) - target[axis]) / size[axis] for axis in ("abv", "sugar", "acid")]
        off.append(max(80 - made.volume, made.volume - 120, 0) / size["volume"] / 100)
        nearest = min(nearest, float(np.sqrt(np.mean(np.square(off)))))
    assert best.distance == pytest.approx(nearest, abs=1e-6)


def test_limits_are_marks():
    shelf = weighed(0.95)
    limits = {"aged rum, 50 %": Limit(45, 45)}
    answer = reach({"abv": (16, 20), "volume": (90, 110)}, BOTTLES, limits=limits, technique="shaken", pantry=shelf)[0]
    assert answer.recipe.pours[0].amount == pytest.approx(45)
    agrees(answer, shelf)


def test_over_own_ice_and_while_a_slider_moves():
    shelf, ice = weighed(0.95), OwnIce(ice=150)
    answer = reach(SOUR, BOTTLES, ice=ice, technique="shaken", pantry=shelf)[0]
    assert answer.distance == 0
    agrees(answer, shelf, ice=ice)
    last = reach(SOUR, BOTTLES, technique="shaken", pantry=shelf)[0]
    moved = nearby(last, {**SOUR, "abv": (18.5, 20)}, BOTTLES, technique="shaken", pantry=shelf)
    agrees(moved, shelf)
    assert moved.met["abv"]


def test_why_not_has_the_figure_that_the_measure_gives():
    shelf = weighed(0.9)
    answer = reach({"sugar": 40, "volume": 100}, ["honey syrup", "gin"], limits={"honey syrup": (20, None)}, melt=0,
                   pantry=shelf)[0]  # fmt: skip
    agrees(answer, shelf, melt=0)
    assert any("Sugar can't fall below" in reason for reason in answer.reasons)


def test_a_swap_keeps_what_the_measure_poured():
    shelf = weighed(0.95)
    old = Recipe.parse("60 mL aged rum, 40 %\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken")
    was = trial.run(Setting(old, draws=0), pantry=shelf).made
    answer = swap(old, "aged rum, 40 %", "aged rum, 50 %", add=["water"], pantry=shelf)
    assert answer.distance == 0
    for axis in FIGURES:
        assert getattr(run_of(answer, shelf), axis) == pytest.approx(getattr(was, axis), rel=0.02)
    agrees(answer, shelf)


def test_most_pours_starts_from_the_marks():
    """Its shares are those of a trial's own pours, by the same jigger."""
    shelf = weighed(0.93)
    found = most_pours(SOUR, BOTTLES, measure=2.5, technique="shaken", pantry=shelf)
    assert found.best.share.inside >= found.plain.share.inside
    for one in (found.plain, found.best):
        agrees(one.answer, shelf)
    assert int(pours_inside(Setting(found.best.answer.recipe), SOUR, pantry=shelf).sum()) == found.best.share.inside


def test_what_is_dashed_stays():
    """Pours below 7.5 mL are dropped, not measured: common practice, no published source."""
    np.testing.assert_allclose(by_measure(np.array([5.0, 7.5, 30.0]), 0.9), [5.0, 6.75, 27.0])


def test_beside_some_amounts_each_bottle_is_measured_or_dashed_as_there():
    """A jigger that pours 0.9 of its mark, by hand: of 45 mL of rum 40.5 mL, all of 5 mL of lemon, which is dashed; a
    bottle that is not in yet is poured by the jigger too."""
    beside = task_of(SOUR, BOTTLES, technique="shaken", pantry=weighed(0.9))(0).at(np.array([45.0, 5, 0, 0]))
    abv, sugar, acid, volume, *_ = beside.figures(np.array([45.0, 5, 20, 0]))
    rum, lemon, honey = (TABLE.find(name) for name in BOTTLES[:3])
    assert abv * volume == pytest.approx(40.5 * 50, rel=1e-4)
    assert acid * volume == pytest.approx(5 * lemon.acid + 18 * honey.acid, rel=1e-4)
    assert sugar * volume == pytest.approx(40.5 * rum.sugar + 5 * lemon.sugar + 18 * honey.sugar, rel=1e-4)


def test_the_next_glass_is_what_a_trial_of_the_mix_would_be():
    shelf = weighed(0.95)
    recipe = Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken")
    base = Setting(recipe, draws=0)
    figures, _ = _served(base, recipe, recipe.amounts[None], shelf)
    made = trial.run(base, pantry=shelf).served.profile
    assert figures[0, :3] == pytest.approx([made.abv, made.sugar, made.acid], rel=1e-9)
    assert figures[0, 3] == pytest.approx(made.volume, rel=1e-9)
