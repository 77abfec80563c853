"""Amounts that forgive: the share of random pours inside the wanted bands, beside every combination of small cases."""

import itertools

import numpy as np
import pytest
from long_run import LONG
from scipy.stats import binomtest

from drinklab import batch, forgiving, pantry, reach, trial
from drinklab.dilution import OwnIce
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.forgiving import search
from drinklab.recipe import Pour, Recipe
from drinklab.setting import Setting

SHELF = pantry.load()
SOUR = ("aged rum, 50 %", "lemon juice", "honey syrup", "water")
WIDE = {"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)}
WAY = {"technique": "shaken"}


@pytest.mark.parametrize(
    ("inside", "pours", "low", "high"),
    # Newcombe, Statistics in Medicine 17, 857 (1998), table I, method 3: from memory
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_ends_of_a_share_are_wilsons(inside, pours, low, high):
    assert forgiving.Share(inside, pours).ends == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize("inside", [0, 1, 37, 500, 999, 1000])
def test_the_ends_of_a_share_are_those_of_another_library(inside):
    ours, theirs = forgiving.Share(inside, 1000), binomtest(inside, 1000).proportion_ci(method="wilson")
    assert ours.ends == pytest.approx((theirs.low, theirs.high), abs=1e-12)


# --- every combination of small cases ----------------------------------------------------------------------------


def every_share(target, names, measure, limits, tool, draws, **way):
    """The largest share of all combinations of measures, each poured by `trial.run`: another path than the search's."""
    bands = reach.bands_of(target, {})
    best, looked = 0, 0
    for amounts in itertools.product(*(np.arange(*limits[name], measure) for name in names)):
        pours = [Pour(SHELF.find(n).id, a, SHELF.label(SHELF.find(n))[1]) for n, a in zip(names, amounts, strict=True)]
        drink = Setting(Recipe("one of all", [p for p in pours if p.amount > 0], **way), tool=tool, draws=draws)
        looked += 1
        best = max(best, int(forgiving.pours_inside(drink, bands, pantry=SHELF).sum()))
    return best, looked


SMALL = [
    # wanted, how many bottles, tool
    (WIDE, 3, "jigger"),
    ({"abv": (18, 21), "sugar": (70, 95), "acid": (6, 8.5)}, 3, "free pour"),
    ({"abv": (14, 17), "sugar": (50, 70), "volume": (100, 120)}, 3, "scale"),
    ({"abv": (15, 18), "sugar": (55, 75), "acid": (5, 7), "volume": (95, 125)}, 4, "jigger"),
]


@pytest.mark.parametrize(("target", "count", "tool"), SMALL)
def test_no_combination_of_a_small_case_has_a_larger_share(target, count, tool):
    names = SOUR[:count]
    ends = dict(zip(SOUR, ((35, 56), (10, 26), (10, 26), (0, 11)), strict=True))
    step = 5.0
    largest, looked = every_share(target, names, step, ends, tool, 150, **WAY)
    limits = {name: (ends[name][0], ends[name][1] - 1) for name in names}
    found = forgiving.most_pours(
        target, names, measure=step, limits=limits, tool=tool, draws=150, pantry=SHELF, **WAY
    )  # fmt: skip
    assert looked >= 80
    assert largest > 0
    assert found.best.share.inside == largest


# --- never less than the plain answer's ----------------------------------------------------------------------------


def _cases():
    random = np.random.default_rng(4)
    for _ in range(60 if LONG else 6):
        wide = random.uniform(0.5, 3)
        middle, half = random.uniform((14, 45, 4, 80), (22, 95, 9, 140)), wide * np.array((0.8, 8, 0.8, 8))
        target = {a: (m - h, m + h) for a, m, h in zip(reach.FIGURES, middle, half, strict=True)}
        yield target, random.choice(["jigger", "free pour", "scale", "exact"]), random.choice([None, "0.25 oz", 5.0])


@pytest.mark.parametrize(("target", "tool", "measure"), list(_cases()))
def test_a_share_is_never_smaller_than_the_plain_answers_and_is_the_trials(target, tool, measure):
    names = (*SOUR, "fino sherry")
    found = forgiving.most_pours(target, names, tool=tool, measure=measure, pantry=SHELF, **WAY)
    assert found.plain.answer == reach.reach(target, names, measure=measure, pantry=SHELF, **WAY)[0]
    assert found.gain >= 0
    for made in (found.plain, found.best):
        # the draws that the trial has anyway, counted without any code of the search
        served = trial.run(made.answer.recipe, pantry=SHELF, tool=tool).served.liquid
        figures = trial.profile(served[1:])
        within = np.all(
            [(getattr(figures, a) >= low) & (getattr(figures, a) <= high) for a, (low, high) in target.items()], axis=0
        )
        assert made.share.pours == 1000
        assert abs(made.share.inside - within.sum()) <= 1  # one that lies on an edge


def test_amounts_have_marks_that_the_bar_measures_have():
    for tool, show in (("jigger", Display()), ("jigger", Display("oz")), ("scale", Display())):
        found = forgiving.most_pours(WIDE, SOUR[:3], tool=tool, display=show, pantry=SHELF, **WAY)
        if found.same:  # marks so coarse that none has a larger share
            assert show.volume == "oz"
            continue
        for pour in found.best.answer.recipe.pours:
            density = pour.bottle(SHELF).density
            assert batch.measured(pour.amount, tool, show, density) == pytest.approx(pour.amount)


@pytest.mark.parametrize(("tool", "show"), [("jigger", Display()), ("jigger", Display("oz")), ("scale", Display())])
def test_the_list_of_marks_is_that_of_the_measures(tool, show):
    from drinklab.batch.marks import marked

    marks = marked(1200, tool, show)
    assert np.all(np.diff(marks) > 0)
    assert [batch.measured(mark, tool, show) for mark in marks] == pytest.approx(marks.tolist())
    # what is measured between any two of them goes to one of the two
    between = (marks[1:] + marks[:-1]) / 2
    assert all(np.abs(marks - batch.measured(ml * 1.0001, tool, show)).min() < 1e-6 for ml in between)


def test_measures_and_limits_and_ratios_are_kept():
    limits, ratios = {"lemon juice": (20, 22.5)}, [("honey syrup", "lemon juice", 0.5)]
    found = forgiving.most_pours(WIDE, SOUR, measure=2.5, limits=limits, ratios=ratios, pantry=SHELF, **WAY)
    amounts = {p.ingredient: p.amount for p in found.best.answer.recipe.pours}
    assert 20 <= amounts["lemon_juice"] <= 22.5
    assert amounts["honey_syrup"] == pytest.approx(amounts["lemon_juice"] / 2)
    assert all(amount % 2.5 == pytest.approx(0, abs=1e-9) for amount in (amounts["rum_aged"], amounts["honey_syrup"]))


def test_other_pours_give_nearly_the_same_share():
    """The same pours choose and count: the share is a little flattering, by no more than is said of it."""
    found = forgiving.most_pours(WIDE, SOUR, pantry=SHELF, **WAY)
    fresh = Setting(found.best.answer.recipe, draws=20_000, seed=77)
    assert (
        found.best.share.value - forgiving.pours_inside(fresh, WIDE, pantry=SHELF).mean() < 0.015 + found.best.share.pm
    )


@pytest.mark.parametrize(
    "way",
    [{"melt": 0}, {"melt": 0.5}, {"technique": "stirred"}, {"after": ["water"]}, {"technique": "built", "serve": "up"}],
)
def test_the_search_pours_what_the_trial_pours_whatever_brings_the_water(way):
    way = WAY | way
    found = forgiving.most_pours(WIDE, SOUR, pantry=SHELF, **way)
    for made in (found.plain, found.best):
        drink = Setting(made.answer.recipe, melt=way.get("melt"))
        assert np.array_equal(forgiving.pours_inside(drink, WIDE, pantry=SHELF), made.within)


def test_own_ice_is_poured_by_the_trial():
    ice = OwnIce(200.0, -5.0, seconds=12)
    found = forgiving.most_pours(WIDE, SOUR, ice=ice, pantry=SHELF, **WAY)
    assert found.gain >= 0
    drink = Setting(found.best.answer.recipe, ice=ice)
    assert np.array_equal(forgiving.pours_inside(drink, WIDE, pantry=SHELF), found.best.within)


def test_a_cost_is_that_of_the_amounts_as_written():
    prices = reach.PerMl("EUR", {SHELF.find(n).id: p for n, p in zip(SOUR, (0.03, 0.01, 0.01, 0.0), strict=True)})
    wish = WIDE | {"cost": 1.4}
    found = forgiving.most_pours(wish, SOUR, measure=2.5, prices=prices, pantry=SHELF, **WAY)
    assert found.best.answer.cost <= 1.4 + 1e-9
    assert set(found.bands) == set(WIDE)


@pytest.mark.parametrize(
    ("change", "field"),
    [({"tool": "thimble"}, "tool"), ({"draws": 0}, "draws"), ({"target": {"cost": 1.0}}, "target")],
)
def test_what_makes_no_sense_is_named(change, field):
    prices = reach.PerMl("EUR", {SHELF.find(n).id: 0.01 for n in SOUR})
    given = {"target": WIDE, "prices": prices} | change
    with pytest.raises(InputError) as told:
        forgiving.most_pours(given.pop("target"), SOUR, pantry=SHELF, **WAY, **given)
    assert told.value.field == field


# --- what would raise it ---------------------------------------------------------------------------------------------


def test_what_raises_it_is_counted_by_pouring_again():
    """Each is held beside a trial that has that one thing otherwise."""
    found = forgiving.most_pours(WIDE, SOUR[:3], measure=5, tool="free pour", pantry=SHELF, **WAY)
    recipe, melt = found.best.answer.recipe, found.best.answer.melt
    raised = {str(r.what): r for r in forgiving.what_raises(found)}
    sure = SHELF.find("lemon juice")
    drink = Setting(recipe, tool="free pour")
    for told, changes in (
        ("a jigger in place of pouring freely", {"tool": "jigger"}),
        ("a scale in place of pouring freely", {"tool": "scale"}),
        ("melt water that is weighed", {"melt": melt}),
    ):
        within = forgiving.pours_inside(drink, WIDE, pantry=SHELF, **changes)
        assert raised[told].share.inside == within.sum()
        both = within.astype(int) - found.best.within
        assert raised[told].gain == pytest.approx(both.mean())
    # a bottle with nothing left of its ±: drawn without it
    amounts, drawn = trial.drawn(recipe, recipe.bottles(SHELF), "free pour", 1000, 1)
    drawn = drawn.copy()
    which = [p.ingredient for p in recipe.pours].index(sure.id)
    drawn[:, which] = drawn[0, which]
    before, top = trial.poured(recipe, amounts, drawn)
    melts, pm, _ = trial.melted(drink, before, top, known={})
    draw = trial._draws_of(1000, 1)
    figures = trial.profile(
        trial.served(drink, before, top, melts * trial.melt_chance(float(melts[0]), pm, draw), draw)
    )
    within = np.all(
        [(getattr(figures, a) >= low) & (getattr(figures, a) <= high) for a, (low, high) in WIDE.items()], 0
    )
    assert raised["lemon juice measured"].share.inside == within[1:].sum()
    gains = [r.gain for r in forgiving.what_raises(found)]
    assert gains == sorted(gains, reverse=True)
    # half the measure has the old amounts among its own
    assert raised["steps of 2.5 mL in place of 5 mL"].gain >= 0


def test_a_scale_does_not_propose_a_jigger():
    told = {r.what.code for r in forgiving.what_raises(forgiving.most_pours(WIDE, SOUR, tool="scale", **WAY))}
    assert not told & {"raised by tool", "raised by step"}


# --- work ---------------------------------------------------------------------------------------------------------


def test_it_takes_no_more_work_than_is_set(monkeypatch):
    """Counted, not timed: drinks worked out. `tests/bench.py` prints the ratio of its time to that of `reach`."""
    worked = {"reach": 0, "pours": 0}
    mixed = reach.sums.Task.mixed

    def counted(self, before, after, melt_water=None):
        shown = mixed(self, before, after, melt_water)
        worked["reach" if melt_water is None else "pours"] += shown[0].size
        return shown

    monkeypatch.setattr(reach.sums.Task, "mixed", counted)
    ten = (*SOUR, "fino sherry", "white rum", "lime juice", "sugar syrup", "orange juice", "pineapple juice")
    for names, measure in ((SOUR, 2.5), (SOUR, None), (ten, 2.5), (ten, None)):
        worked.update(reach=0, pours=0)
        answers = reach.reach(WIDE, names, measure=measure, pantry=SHELF, **WAY)
        plain = worked["reach"]
        forgiving.most_pours(WIDE, names, measure=measure, found=answers, pantry=SHELF, **WAY)
        rounds = search._ROUNDS * search._STARTS * search._FINALISTS
        assert worked["pours"] <= (2 * len(answers) + rounds) * 1001
        assert worked["reach"] - plain <= 25_000, (names, measure)


def test_found_answers_are_not_worked_out_again(monkeypatch):
    answers = reach.reach(WIDE, SOUR, pantry=SHELF, **WAY)
    once = forgiving.most_pours(WIDE, SOUR, pantry=SHELF, **WAY)
    monkeypatch.setattr(reach, "reach", lambda *_, **__: pytest.fail("worked out again"))
    again = forgiving.most_pours(WIDE, SOUR, found=answers, pantry=SHELF, **WAY)
    assert again.best.answer == once.best.answer
