"""Amounts in bar measures from many bottles, near to a recipe of one's own, and requests that once ended badly.

Outside check: drinks that were put together first, in whole measures, from ten bottles. Their figures are then asked
for within a narrow band, so that there is an answer and everybody knows it.
"""

import numpy as np
import pytest
from long_run import dozen

from drinklab import dilution, pantry, reach
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.profile import profile, served
from drinklab.reach import FIGURES
from drinklab.recipe import Pour, Recipe
from drinklab.units import FLUID_OUNCE

SHELF = pantry.load()
TEN = [
    "pisco, 43 %", "gin, 45 %", "verjus", "lemon juice", "elderflower cordial", "chamomile cordial", "apple juice",
    "amontillado sherry", "pineapple juice", "water",
]  # fmt: skip
BOTTLES = [SHELF.find(name) for name in TEN]
NARROW = {"abv": 0.02, "sugar": 0.2, "acid": 0.02, "volume": 0.5}
QUARTER = FLUID_OUNCE / 4


def pour(item, amount):
    return Pour(item.id, float(amount), item.abv if item.abv != SHELF[item.id].abv else None)


def hidden(seed):
    """A drink in quarter ounces, and its figures."""
    random = np.random.default_rng(seed)
    while True:
        measures = random.integers(0, 7, len(TEN)) * (random.random(len(TEN)) < 0.6)
        if 8 <= measures.sum() <= 24:
            break
    pours = [pour(item, n * QUARTER) for item, n in zip(BOTTLES, measures, strict=True) if n]
    recipe = Recipe("hidden", pours, technique="shaken")
    figures = profile(served([recipe], SHELF))[0]
    return recipe, {figure: getattr(figures, figure) for figure in FIGURES}


def found(seed, **more):
    _, target = hidden(seed)
    return reach.reach(target, TEN, tolerance=NARROW, measure="0.25 oz", technique="shaken", **more)[0]


@pytest.mark.parametrize("seed", range(16))
def test_a_drink_in_measures_that_is_there_is_found(seed):
    best = found(seed)
    assert best.distance == 0, best.reasons
    assert all(best.met.values())
    for p in best.recipe.pours:
        assert p.amount / QUARTER == pytest.approx(round(p.amount / QUARTER), abs=1e-6)


def test_neighbours_alone_miss_some_of_them(monkeypatch):
    """So that the test above can fail: the search without its last, exact step."""
    monkeypatch.setattr(reach.search.Table, "programme", lambda table: None)
    assert any(found(seed).distance > 0 for seed in range(6))


def test_what_no_measure_gives_is_still_no_answer():
    """An integer programme must not claim what the true figures deny: 0.3 g/L of sugar from whole ounces of cordial."""
    best = reach.reach(
        {"sugar": (30, 30.3), "abv": (20, 20.1), "volume": (90, 91)}, TEN, measure="1 oz", technique="shaken"
    )[0]
    assert best.distance > 0
    assert best.reasons


# --- near to a recipe ---------------------------------------------------------------------------------------
MINE = Recipe(
    "mine", [pour(SHELF.find(n), a) for n, a in (
        ("pisco, 43 %", 45), ("verjus", 25), ("lemon juice", 5), ("elderflower cordial", 20), ("water", 10))],
    technique="shaken",
)  # fmt: skip
BAND = {"abv": (14.5, 16), "sugar": (50, 70), "acid": (5, 7), "volume": (140, 170)}


def off(answer):
    """How far the amounts lie from mine. [mL]"""
    there = {p.ingredient: p.amount for p in answer.recipe.pours}
    mine = {p.ingredient: p.amount for p in MINE.pours}
    return np.sqrt(sum((there.get(k, 0) - mine.get(k, 0)) ** 2 for k in {*there, *mine}))


@pytest.mark.parametrize("measure", [None, "5 mL"])
def test_of_many_that_meet_the_target_the_one_near_mine_is_taken(measure):
    plain = reach.reach(BAND, TEN, measure=measure, technique="shaken")[0]
    near = reach.reach(BAND, TEN, measure=measure, technique="shaken", near=MINE)[0]
    assert near.distance == plain.distance == 0
    assert off(near) < off(plain)


def test_none_of_a_hundred_thousand_that_meet_it_is_nearer():
    bottles = [b for b in BOTTLES if b.id in {p.ingredient for p in MINE.pours}]
    near = reach.reach(BAND, bottles, technique="shaken", near=MINE)[0]
    random = np.random.default_rng(7)
    mine = np.array([next(p.amount for p in MINE.pours if p.ingredient == b.id) for b in bottles])
    tried = np.maximum(mine + random.normal(0, 1, (100_000, len(mine))) * random.uniform(0, 15, (100_000, 1)), 0.9)
    before = Liquid.poured(tried, np.array([b.composition for b in bottles]))
    figures = profile(dilution.add_melt(before, dilution.melt_fraction(profile(before).abv, "shaken")))
    meets = np.all([(getattr(figures, f) >= low) & (getattr(figures, f) <= high) for f, (low, high) in BAND.items()], 0)
    assert meets.sum() > 300
    assert off(near) <= np.sqrt(((tried[meets] - mine) ** 2).sum(axis=1)).min() + 0.5


def test_a_recipe_that_meets_the_target_stays_as_it_is():
    figures = profile(served([MINE], SHELF))[0]
    target = {f: (0.9 * getattr(figures, f), 1.1 * getattr(figures, f)) for f in FIGURES}
    assert off(reach.reach(target, TEN, measure="5 mL", technique="shaken", near=MINE)[0]) < 1e-6
    assert off(reach.reach(target, TEN, technique="shaken", near=MINE)[0]) < 0.5


def test_a_bottle_of_mine_that_is_not_on_hand_is_named():
    with pytest.raises(InputError, match=r"^bottle of the recipe to stay near is 'pisco, 43 %'.*on the list"):
        reach.reach(BAND, TEN[1:], near=MINE)
    with pytest.raises(InputError, match=r"^recipe to stay near is a str; it must be a recipe\.$"):
        reach.reach(BAND, TEN, near="mine")


# --- ordinary requests that ended in a traceback ----------------------------------------------------------------
@pytest.mark.parametrize(
    ("target", "bottles", "how"),
    [
        ({"sugar": 88.1, "acid": 3.74}, ["lemon juice", "amontillado sherry", "white sugar", "honey syrup", "water", "gin"],
         {"technique": "none", "limits": {"white sugar": (12.7, 45.2)}}),
        ({"sugar": 192.9, "acid": 11.9}, ["white sugar", "egg white", "apple juice", "aged rum, 50 %"],
         {"technique": "shaken", "limits": {"apple juice": (13.07, 49.26)}}),
        ({"sugar": 184.3, "acid": (14.15, 16.65)}, ["sugar syrup, 2:1 by mass", "water", "honey syrup", "white sugar", "verjus"],
         {"technique": "none", "limits": {"white sugar": (17.795, 18.465)}, "tolerance": {"sugar": 0.93}}),
        ({"abv": 27.5, "sugar": 12.4}, ["honey syrup", "egg white", "soda water", "water"],
         {"technique": "built", "limits": {"honey syrup": (6.49, None)}}),
    ],
)  # fmt: skip
def test_limits_with_few_bottles_end_in_an_answer(target, bottles, how):
    answers = reach.reach(target, bottles, **how)
    assert np.isfinite(answers[0].distance)


@pytest.mark.parametrize("tolerance", [60.0, 120.0, 1e6])
def test_a_tolerance_as_large_as_the_volume_is_refused(tolerance):
    with pytest.raises(InputError, match=r"^tolerance of volume is .*; it must be 0 to 50 mL\.$"):
        reach.reach({"abv": 20, "volume": 100}, ["gin", "water"], tolerance={"volume": tolerance})


def test_ordinary_requests_end_in_an_answer_or_in_one_sentence():
    random = np.random.default_rng(5)
    names = [*TEN, "white sugar", "egg white", "soda water", "sugar syrup, 2:1 by mass"]
    answered, refused, today = 0, [], dozen(range(120), 40)
    for asked in range(120):
        bottles = [str(b) for b in random.choice(names, random.integers(1, 7), replace=False)]
        ends = {"abv": (0, 45), "sugar": (0, 200), "acid": (0, 15), "volume": (20, 400)}
        target = {f: random.uniform(*e) for f, e in ends.items() if random.random() < 0.6} or {"abv": 20.0}
        target = {f: (v, v * random.uniform(1, 1.3)) if random.random() < 0.4 else v for f, v in target.items()}
        how = {"technique": str(random.choice(["stirred", "shaken", "built", "none"]))}
        if random.random() < 0.5:
            how["measure"] = str(random.choice(["0.25 oz", "5 mL", "0.5 oz"]))
        least = {b: random.uniform(0, 40) for b in bottles if random.random() < 0.35}
        how["limits"] = {b: (low, low + random.uniform(0, 40)) for b, low in least.items()}
        how["tolerance"] = {
            f: random.uniform(0, 2) * (v if random.random() < 0.3 else 1)
            for f, v in target.items() if not isinstance(v, tuple) and random.random() < 0.3
        }  # fmt: skip
        if asked not in today:
            continue
        try:
            answers = reach.reach(target, bottles, **how)
        except InputError as problem:
            refused.append(str(problem))
        else:
            answered += 1
            assert all(np.isfinite(a.distance) for a in answers)
    assert answered > len(today) / 3
    assert all(sentence.count("; it must be ") == 1 for sentence in refused)


def test_bottles_that_a_ratio_ties_count_as_so_many():
    """Gin of 40 % with as much water comes as near to 20 % vol as one bottle of 20 % does: fewest bottles first, by the
    docstring of `reach`."""
    target = {"abv": (19, 21), "volume": (110, 130)}
    tied = [("gin, 40 %", "water", 1)]
    answers = reach.reach(target, ["gin, 40 %", "water", ("white rum", 20)], melt=0, ratios=tied)
    assert [(a.distance, len(a.recipe.pours)) for a in answers[:2]] == [(0, 1), (0, 2)]
