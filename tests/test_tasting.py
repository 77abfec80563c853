"""Tastings beside printed tables, worked examples and SciPy; orders and codes counted; files that do not fit refused."""

import csv
import itertools
import json
import math
import os
import subprocess
import sys
from collections import Counter
from dataclasses import asdict, replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from drinklab import demo, pantry, strength, tasting, trial
from drinklab.declared import Declared
from drinklab.errors import InputError
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import Caution
from drinklab.tasting import Sample, Serving, Taster, serving
from drinklab.trial import run

HERE = Path(__file__).parent
# tests/critical_values.csv: exact binomial sums; all 44 rows and 4 levels of FAO's printed triangle table
# (http://www.fao.org/docrep/v7180e/V7180E12.HTM, read) and all 40 rows and 5 levels of table A.1 of ISO 10399:2004 (as in
# GOST ISO 10399-2015, read) were found equal to it. ISO 4120 and ISO 5495 were not read: the same binomials.
COLUMNS = {
    "triangle_or_tetrad": ("triangle", "tetrad"),
    "duotrio_or_paired1sided": ("duo-trio", "paired, expected"),
    "paired_2sided": ("paired", "preference"),
}


def test_every_cell_of_the_tables():
    cells = 0
    for row in csv.DictReader((HERE / "critical_values.csv").open(encoding="utf-8")):
        n = int(row.pop("n"))
        for column, cell in row.items():
            kind, alpha = column.rsplit("_a", 1)
            for method in COLUMNS[kind]:
                assert tasting.critical_count(n, method, float(alpha)) == (int(cell) if cell else n + 1), (n, column)
                cells += 1
    assert cells == 96 * 10 * 2


@pytest.mark.parametrize(
    ("n", "method", "alpha", "printed"),
    [
        # FAO, appendix A (read).
        (24, "triangle", 0.05, 13), (24, "triangle", 0.01, 15), (48, "triangle", 0.05, 22), (48, "triangle", 0.01, 25),
        (96, "triangle", 0.05, 41), (96, "triangle", 0.01, 44),
        # ISO 10399:2004, table A.1 (read).
        (20, "duo-trio", 0.05, 15), (20, "duo-trio", 0.01, 16), (60, "duo-trio", 0.05, 37), (60, "duo-trio", 0.01, 40),
    ],
)  # fmt: skip
def test_printed_counts(n, method, alpha, printed):
    assert tasting.critical_count(n, method, alpha) == printed


@pytest.mark.parametrize("method", tasting.METHODS)
@pytest.mark.parametrize("alpha", [0.2, 0.1, 0.05, 0.01, 0.001])
def test_counts_and_p_are_those_of_scipy(method, alpha):
    way = tasting.METHODS[method]
    side = "two-sided" if way.sides == 2 else "greater"
    for n in (1, 2, 3, 5, 11, 24, 60, 301):
        p = [stats.binomtest(k, n, way.chance, alternative=side).pvalue for k in range(n + 1)]
        needed = tasting.critical_count(n, method, alpha)
        # Of two sides, the upper one.
        assert needed == next((k for k in range((n + 1) // 2 if way.sides == 2 else 0, n + 1) if p[k] <= alpha), n + 1)
        found = tasting.difference_test(n, np.arange(n + 1), method, alpha)
        assert found.p_value == pytest.approx(p, rel=1e-9)
        assert np.array_equal(found.shown, np.asarray(p) <= alpha)


# science.md, section 9: computed apart; the pairs that are published are named.
@pytest.mark.parametrize(
    ("n", "correct", "method", "p"),
    [
        (12, 8, "triangle", 0.018758), (24, 13, "triangle", 0.028441), (36, 18, "triangle", 0.028349),
        (50, 25, "triangle", 0.010827),  # 25 of 50: Byer and Abrams 1953 (read); p computed
        (20, 15, "duo-trio", 0.0207),  # 0.021 in a published vignette on discrimination tests (Christensen, 2020; read)
        (20, 14, "duo-trio", 0.0577), (15, 10, "duo-trio", 0.1509),  # the same (0.058) and its package's examples (read)
    ],
)  # fmt: skip
def test_worked_p_values(n, correct, method, p):
    assert tasting.difference_test(n, correct, method).p_value == pytest.approx(p, abs=6e-5)


def test_duo_trio_and_paired_by_hand():
    """Nine of ten right of two: (C(10,9) + C(10,10)) / 2**10 = 11/1024; and twice that where either side could win."""
    assert tasting.difference_test(10, 9, "duo-trio").p_value == pytest.approx(11 / 1024)
    assert tasting.difference_test(10, 9, "paired, expected").p_value == pytest.approx(11 / 1024)
    for x in (1, 9):
        assert tasting.difference_test(10, x, "preference").p_value == pytest.approx(22 / 1024)
    # A triangle of three: all right, 1/27 < 5 %.
    assert tasting.difference_test(3, 3).p_value == pytest.approx(1 / 27)
    assert tasting.critical_count(3) == 3
    assert tasting.critical_count(2) == 3  # 1/9: two cannot show it
    # Four glasses sort into pairs in three ways, one of them right.
    assert tasting.METHODS["tetrad"].chance == pytest.approx(1 / 3)


# Christensen, Statistical methodology for sensory discrimination tests (2020), and its package's printed examples (read).
def test_power_and_similarity_beside_a_published_vignette():
    assert tasting.power(20, 0.5, "duo-trio") == pytest.approx(0.617, abs=5e-4)
    assert tasting.similar_count(25, "triangle", 0.2) == 7
    assert tasting.similar_count(100, "duo-trio", 1 / 3) == 58
    assert tasting.similar_power(100, 0.2, "triangle", true=0.1) == pytest.approx(0.3068098, abs=1e-6)
    assert tasting.similar_power(100, 1 / 3, "duo-trio") == pytest.approx(0.956, abs=5e-4)
    assert tasting.similar_power(100, 1 / 3, "duo-trio", true=0.2) == pytest.approx(0.377, abs=5e-4)
    # 20 of 75 triangles against a fifth of discriminators: p = 0.0003061, so alike.
    assert stats.binom.cdf(20, 75, tasting.right(0.2)) == pytest.approx(0.0003061, abs=1e-7)
    assert (tasting.clopper_pearson(75, 20)[1] - 1 / 3) * 1.5 == pytest.approx(0.07206, abs=1e-5)
    assert tasting.similar_count(75, share=0.2) >= 20


def _triangle(d):
    """Share right at a distance of d standard deviations: Ura 1960 (from memory); 0.6048069 at 2 (Christensen, read)."""
    z = np.linspace(0, 12, 200_001)
    inside = stats.norm.cdf(-z * 3**0.5 + d * (2 / 3) ** 0.5) + stats.norm.cdf(-z * 3**0.5 - d * (2 / 3) ** 0.5)
    return float(2 * np.trapezoid(inside * stats.norm.pdf(z), z))


def test_size_where_power_dips():
    """Triangle at d' 0.9: 297 is the first with 0.80, after 318 it never falls below (the same vignette, read)."""
    assert _triangle(2) == pytest.approx(0.6048069, abs=1e-6)
    share = (_triangle(0.9) - 1 / 3) / (2 / 3)
    chances = tasting.power(np.arange(1, 401), share)
    assert int(np.argmax(chances >= 0.8)) + 1 == 297
    assert abs(tasting.size(share) - 318) <= 1
    assert tasting.power(300, share) == pytest.approx(0.774, abs=1e-3)


@pytest.mark.parametrize(
    ("share", "sizes"),
    [  # ISO 4120:2004, table A.3, alpha 0.05, beta 0.20, 0.10, 0.05, 0.01, 0.001 (from memory)
        (0.5, (16, 20, 23, 35, 48)), (0.4, (23, 30, 40, 57, 79)), (0.3, (40, 53, 66, 98, 136)),
        (0.2, (87, 117, 147, 213, 305)), (0.1, (325, 447, 572, 828)),
    ],
)  # fmt: skip
def test_first_sizes_of_iso_4120(share, sizes):
    n = np.arange(1, 1001)
    chances = tasting.power(n, share)
    betas = (0.20, 0.10, 0.05, 0.01, 0.001)
    assert tuple(int(n[np.argmax(chances >= 1 - beta)]) for beta, _ in zip(betas, sizes, strict=False)) == sizes
    for beta, first in zip(betas, sizes, strict=False):
        stable = tasting.size(share, wanted=1 - beta)
        assert stable is None or stable >= first
        if stable:
            assert chances[stable - 2] < 1 - beta <= chances[stable - 1 :].min()


def test_power_by_throwing_dice():
    rng = np.random.default_rng(7)
    p = tasting.right(1 / 3)
    hits = rng.binomial(24, p, 200_000)
    assert np.mean(hits >= 13) == pytest.approx(tasting.power(24, 1 / 3), abs=0.005)
    named = rng.binomial(30, 0.5 + 0.4 / 2, 200_000)
    counted = np.mean(np.maximum(named, 30 - named) >= tasting.critical_count(30, "preference"))
    assert counted == pytest.approx(tasting.power(30, 0.4, "preference"), abs=0.005)


def test_the_interval_is_scipys_and_agrees_with_the_verdict():
    for method, way in tasting.METHODS.items():
        for n in (5, 24, 61):
            found = tasting.difference_test(n, np.arange(n + 1), method)
            for x in range(n + 1):
                limits = stats.binomtest(x, n).proportion_ci(found.level, method="exact")
                low, high = ((p - way.chance) / (1 - way.chance) for p in limits)
                floor = 0 if way.sides == 1 else -1
                assert (found.low[x], found.high[x]) == pytest.approx((max(low, floor), max(high, floor)), abs=1e-9)
            apart = (found.low > 0) | ((found.high < 0) if way.sides == 2 else False)
            assert np.array_equal(apart, found.shown), method


def test_alike_where_the_upper_limit_is_below_the_share():
    """ISO 4120, annex: similarity by the upper one-sided limit; exact, it is the same as the count."""
    for n in (24, 60, 100):
        found = tasting.difference_test(n, np.arange(n + 1))
        for share in (0.2, 0.3, 0.5):
            alike = np.arange(n + 1) <= tasting.similar_count(n, share=share)
            clear = found.high > 0  # else the limit itself is cut at nothing
            assert np.array_equal((found.high <= share)[clear], alike[clear])


def test_everything_broadcasts():
    n = np.array([[12], [24]])
    x = np.array([4, 8, 12])
    found = tasting.difference_test(n, x)
    assert found.p_value.shape == found.low.shape == (2, 3)
    assert found.p_value[1, 1] == tasting.difference_test(24, 8).p_value
    assert tasting.power(n, np.array([0.2, 0.4, 0.6])).shape == (2, 3)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: tasting.difference_test(24, 25), "right answers is 25; it must be 0 to 24, who tasted."),
        (lambda: tasting.difference_test(0, 0), "tasters is 0"),
        (lambda: tasting.difference_test(24, -1), "right answers is -1"),
        (lambda: tasting.difference_test(24, 2.5), "right answers is 2.5"),
        (lambda: tasting.critical_count(24, "triangel"), "did you mean triangle?"),
        (lambda: tasting.critical_count(24, alpha=0), "alpha is 0"),
        (lambda: tasting.critical_count(24, alpha=float("nan")), "alpha is not a number"),
        (lambda: tasting.power(24, 1.5), "share is 1.5"),
        (lambda: tasting.size(0), "share is 0"),
        (lambda: tasting.plan(0), "tasters is 0"),
        (lambda: tasting.plan(-3), "tasters is -3"),
        (lambda: tasting.rated([1, 2], [1, 2, 3]), "ratings is 2 of A, 3 of B"),
        (lambda: tasting.rated([11], [1]), "ratings of A is 11"),
        (lambda: tasting.servings(tasting.numbered(200), "tetrad"), "no code comes twice"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert said in str(error.value)


# --- ratings ------------------------------------------------------------------------------------------


def test_every_swap_by_hand():
    """Differences 1, 2, 3, 4, 5, 6: of 64 ways to swap, two are as far out as 21, and four as 19."""
    assert tasting.rated([1, 2, 3, 4, 5, 6], [0] * 6).p_value == pytest.approx(2 / 64)
    assert tasting.rated([0, 2, 3, 4, 5, 6], [1, 0, 0, 0, 0, 0]).p_value == pytest.approx(4 / 64)


def test_darwins_maize_by_every_swap():
    """Fisher, The Design of Experiments (1935), section 21: 863 of 16 384 ways on one side, p = 0.0527 of both; 15 pairs,
    in eighths of an inch (from memory). Beyond 13 pairs ours is Student's t: 0.0497 (the same, section 20)."""
    eighths = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])
    signs = 1 - 2 * ((np.arange(2**15)[:, None] >> np.arange(15)) & 1)
    assert np.sum(signs @ eighths >= eighths.sum()) == 863
    found = tasting.rated(np.maximum(eighths, 0) / 10, np.maximum(-eighths, 0) / 10)
    assert not found.exact
    assert found.p_value == pytest.approx(0.0497, abs=5e-5)
    assert 0 < found.low < found.difference < found.high
    limits = stats.ttest_1samp(eighths / 10, 0).confidence_interval()
    assert (found.low, found.high) == pytest.approx((limits.low, limits.high))


def test_the_interval_is_the_test_turned_around():
    rng = np.random.default_rng(3)
    for n in (6, 8, 11, 13):
        d = np.round(rng.normal(1.0, 1.5, n), 2)
        a, b = 5 + np.clip(d, -5, 5) / 2, 5 - np.clip(d, -5, 5) / 2
        found = tasting.rated(a, b)
        assert found.exact
        for shift, inside in ((found.low + 0.01, True), (found.low - 0.01, False), (found.high - 0.01, True), (found.high + 0.01, False)):  # fmt: skip
            p = stats.permutation_test((a - b - shift,), np.mean, permutation_type="samples", n_resamples=10**5).pvalue
            assert (p > 0.05) == inside
        assert (found.p_value <= 0.05) == (not found.low <= 0 <= found.high)


def test_the_interval_holds_as_often_as_it_says():
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(400):
        a, b = 6 + rng.uniform(-2, 2, 9), 5 + rng.uniform(-2, 2, 9)
        found = tasting.rated(a, b)
        held += found.low <= 1 <= found.high
    assert held / 400 >= 0.93


def test_too_few_for_an_interval_say_so():
    five = tasting.rated([9, 9, 9, 9, 9], [1, 2, 3, 2, 1])
    assert (five.low, five.high) == (None, None)
    assert five.p_value == pytest.approx(2 / 32)  # the least there can be: never 5 %
    assert tasting.rated([5, 5, 5], [5, 5, 5]).p_value == 1
    assert tasting.rated([5] * 20, [5] * 20).p_value == 1


def test_several_scales_are_corrected():
    """Holm: p of 0.0156 twice and 1 of three scales: 3, then 2 times (never below the one before), then 1."""
    seven = [5] * 7, [3] * 7
    found = tasting.rated_all({"sweet": seven, "sour": seven, "liking": ([5] * 7, [5] * 7)})
    assert [one.p_value for one in found] == pytest.approx([2 / 128, 2 / 128, 1])
    assert [one.p_all for one in found] == pytest.approx([6 / 128, 6 / 128, 1])


# --- who, how much, in which order ----------------------------------------------------------------------------

DRY = Sample("Dry", 0.12, 0.004, Declared((Caution("raw egg"),), ("eggs",), ("nuts",)), ("gin", "verjus"))
SWEET = Sample("Sweet", 0.10, 0.003, Declared((), ("milk",)), ("gin", "elderflower cordial"))


@pytest.mark.parametrize(
    ("word", "code"),
    [
        ("eggs", "holds"), ("Egg", "holds"), ("milk", "holds"), ("dairy", "holds"), ("lactose", "holds"),
        ("tree nuts", "may hold"), ("hazelnut", "may hold"), ("elderflower", "holds"), ("alcohol", "holds"),
        ("raw egg", "holds"), ("strawberries", "not known"), ("shellfish", "not known"), ("?", "not known"),
        ("fish", None), ("peanuts", None), ("sulphites", None), ("sulfites", None), ("gluten", None), ("wheat", None),
        ("celery", None), ("sesame seeds", None), ("crustaceans", None), ("soya", None),
    ],
)  # fmt: skip
def test_who_cannot_have_one_is_left_out(word, code):
    made = tasting.plan([Taster("Ada", (word,)), Taster("Bo")], samples=(DRY, SWEET))
    assert [taster.name for taster in made.seated] == (["Bo"] if code else ["Ada", "Bo"])
    assert [reason.code for _, reasons in made.left_out for reason in reasons] == ([code] if code else [])


def test_what_nobody_has_stated_leaves_out_all_who_avoid_anything():
    unknown = replace(SWEET, said=Declared((), (), (), ("house orgeat",)))
    made = tasting.plan([Taster("Ada", ("fish",)), Taster("Bo")], samples=(DRY, unknown))
    assert made.left_out[0][1][0] == tasting.Reason("not stated", "fish", "house orgeat")
    with pytest.raises(InputError, match="left out, each of them"):
        tasting.plan([Taster("Ada", ("egg",))], samples=(DRY, SWEET))


def test_every_allergen_of_the_pantry_can_be_avoided():
    for item in load().values():
        for allergen in (*item.allergens, *item.may_contain):
            of = Sample("A", 0.1, said=Declared((), item.allergens, item.may_contain))
            for word in (allergen, allergen.rstrip("s")):
                assert tasting.unfit(Taster("Ada", (word,)), of)[0].code in ("holds", "may hold"), word


def test_typed_tasters():
    assert tasting.read_tasters("Ada: egg and milk; fish\n\n Bo \n") == (
        Taster("Ada", ("egg", "milk", "fish")),
        Taster("Bo"),
    )
    for text, said in (
        ("Ada\nada", "on one line only"),
        (": milk", "name of a taster is empty"),
        ("x" * 99, "letters"),
    ):
        with pytest.raises(InputError, match=said):
            tasting.read_tasters(text)


def test_alcohol_is_that_of_the_trials_as_served():
    shelf = pantry.load()
    drinks = demo.settings(shelf)
    signal, quiet = (run(drinks[name], pantry=shelf) for name in ("Slow Signal", "Quiet Carriage"))
    a, b = tasting.sample(signal), tasting.sample(quiet)
    ethanol = signal.served.liquid[0]
    assert a.alcohol == pytest.approx(float(ethanol.ethanol / ethanol.volume()), rel=1e-3)
    # A triangle of the stronger drink twice: 2 sips of it, 1 of the other; the mass of alcohol 0.789 g/mL (OIML R 22).
    found = tasting.portion(a, b, "triangle", "15 mL", "United Kingdom")
    assert found.grams == pytest.approx(30 * signal.served.profile.abv / 100 * 0.7893 + 15 * b.alcohol, rel=2e-3)
    assert found.drinks == pytest.approx(found.grams / strength.countries()["United Kingdom"])
    assert found.pm > 0
    assert tasting.portion(b, b, "triangle", 15).drinks < 0.02
    four = tasting.portion(a, b, "tetrad", 15)
    assert (four.glasses, four.volume) == (4, 60)
    assert tasting.portion(Sample("A", 0.0), Sample("B", 0.0)).rounds is None
    for sip in (0, 500, float("nan")):
        with pytest.raises(InputError, match="sip"):
            tasting.portion(a, b, sip=sip)


def test_a_tasting_beyond_the_stop_limit_is_not_prepared():
    made = tasting.plan(6, samples=(DRY, SWEET))
    given = tasting.portion(DRY, SWEET, sip=60, limit=1)
    assert given.rounds == 0
    with pytest.raises(InputError, match="alcohol for one taster"):
        tasting.prepare(made, DRY, SWEET, given)
    # 3.4 g of the 14 g of a standard drink, up to 3.51 g
    assert tasting.portion(DRY, SWEET, sip=10, limit=1).rounds == 3
    assert tasting.portion(replace(DRY, pm=None), replace(SWEET, pm=None), sip=10, limit=1).rounds == 4


@pytest.mark.parametrize("method", tasting.WAYS)
@pytest.mark.parametrize("n", [1, 2, 5, 6, 7, 12, 24, 25, 60])
def test_orders_are_balanced(method, n):
    made = tasting.servings(tasting.numbered(n), method, seed=5)
    orders = Counter(one.order for one in made)
    pairs = tasting.METHODS[method].pairs if method in tasting.METHODS else (("AB", "BA"),)
    all_orders = [order for pair in pairs for order in pair]
    assert set(orders) <= set(all_orders)
    assert max(orders.values()) - min(orders.get(order, 0) for order in all_orders) <= 1
    for place in range(len(all_orders[0])):  # A stands as often in each place as B, but for one taster
        letters = Counter(one.order[place] for one in made)
        assert abs(letters["A"] - letters["B"]) <= 1


@pytest.mark.parametrize("method", tasting.WAYS)
def test_codes_are_used_once_and_mean_nothing(method):
    for seed in range(20):
        made = tasting.servings(tasting.numbered(60), method, seed)
        codes = [code for one in made for code in one.codes if code != tasting.REFERENCE]
        assert len(set(codes)) == len(codes)
        assert set(codes) <= set(tasting.meaningless())
        assert [one.codes[0] == tasting.REFERENCE for one in made] == [method == "duo-trio"] * 60
    with_meaning = [
        "100",
        "110",
        "112",
        "117",
        "118",
        "123",
        "187",
        "247",
        "314",
        "321",
        "365",
        "404",
        "420",
        "555",
        "666",
        "737",
        "777",
        "789",
        "800",
        "888",
        "911",
        "987",
        "999",
    ]
    assert not set(with_meaning) & set(tasting.meaningless())
    for code in tasting.meaningless():
        assert len(set(code)) == 3
        assert "0" not in code


def test_codes_say_nothing_about_the_drink():
    """Mean codes of A and B over many seeds are the same, within what chance does."""
    means = []
    for seed in range(200):
        made = tasting.servings(tasting.numbered(24), "triangle", seed)
        of = {letter: [int(c) for one in made for c in one.codes if one.drink(c) == letter] for letter in "AB"}
        means.append(np.mean(of["A"]) - np.mean(of["B"]))
    assert stats.ttest_1samp(means, 0).pvalue > 0.001


def test_the_same_seed_the_same_sheets():
    everyone = tasting.numbered(24)
    assert tasting.servings(everyone, "triangle", 9) == tasting.servings(everyone, "triangle", 9)
    assert tasting.servings(everyone, "triangle", 9) != tasting.servings(everyone, "triangle", 10)


# --- answers, findings, files --------------------------------------------------------------------------------


def prepared(method="triangle", n=24, similar=False, **more):
    made = tasting.plan(n, method, similar=similar, samples=(DRY, SWEET))
    given = tasting.portion(DRY, SWEET, method, 10)
    more = {"asks": "sweeter", "scales": ("sweet", "liking"), "time": datetime(2027, 7, 1, 18)} | more
    return tasting.prepare(made, DRY, SWEET, given, **more)


def choose(one: Serving, method: str, right: bool) -> str:
    """An answer that is right or wrong, found by trying the rule of the method by hand."""
    for answer in tasting.choices(one, method):
        letters = [one.drink(code) for code in answer.split("+")]
        rule = {
            "triangle": one.order.count(letters[0]) == 1,
            "duo-trio": letters[0] == one.order[0],
            "tetrad": len(set(letters)) == 1,
        }.get(method, letters[0] == "A")
        if rule == right:
            return answer
    raise AssertionError


@pytest.mark.parametrize("method", tasting.METHODS)
def test_answers_are_counted(method):
    one = prepared(method)
    done = tasting.answered(one, {s.taster: choose(s, method, i < 11) for i, s in enumerate(one.servings)})
    found = tasting.findings(done)
    assert (found.n, found.result.correct) == (24, 11)
    assert found.result == tasting.difference_test(24, 11, method)
    assert found.power == tasting.power(24, 1 / 3, method)


def test_the_example_of_the_bar():
    """11 of 24 found the odd one: 13 were needed; a third of guests noticing would be found 6 times in 10."""
    one = prepared()
    done = tasting.answered(one, {s.taster: choose(s, "triangle", i < 11) for i, s in enumerate(one.servings)})
    found = tasting.findings(done)
    assert (found.result.correct, found.result.critical, found.result.shown) == (11, 13, False)
    assert round(10 * found.power) == 6


def test_alike():
    one = prepared(n=66, similar=True)
    few = tasting.answered(one, {s.taster: choose(s, "triangle", i < 20) for i, s in enumerate(one.servings)})
    found = tasting.findings(few)
    assert found.alike
    assert found.most == tasting.similar_count(66, share=1 / 3)


def test_absent_tasters_do_not_count_and_missing_ones_are_named():
    one = prepared()
    answers = {s.taster: choose(s, "triangle", True) for s in one.servings}
    answers["Taster 3"] = tasting.ABSENT
    assert tasting.findings(tasting.answered(one, answers)).n == 23
    answers["Taster 7"] = ""
    with pytest.raises(InputError, match="answer of Taster 7 is missing"):
        tasting.findings(tasting.answered(one, answers))
    with pytest.raises(InputError, match="at least one who has tasted"):
        tasting.findings(tasting.answered(one, dict.fromkeys(answers, tasting.ABSENT)))


def test_ratings_are_told_by_drink():
    one = prepared(tasting.SCALES, 8)
    answers = {s.taster: {code: (7, 5) if s.drink(code) == "A" else (4, 5) for code in s.codes} for s in one.servings}
    sweet, liking = tasting.findings(tasting.answered(one, answers)).rated
    assert (sweet.word, sweet.a, sweet.b, sweet.difference) == ("sweet", 7, 4, 3)
    assert liking.p_value == 1
    alone = dict.fromkeys(answers, tasting.ABSENT) | {"Taster 1": answers["Taster 1"]}
    sweet, _ = tasting.findings(tasting.answered(one, alone)).rated
    assert (sweet.n, sweet.difference, sweet.low) == (1, 3, None)
    assert sweet.p_value == 1, "of the two ways to swap one pair, both lie as far out (Fisher's test by hand)"


@pytest.mark.parametrize("method", tasting.WAYS)
def test_a_tasting_comes_back_from_its_file(method, tmp_path):
    one = prepared(method, 12)
    [path] = tasting.save(one, tmp_path)
    assert tasting.load(path) == one
    if method == tasting.SCALES:
        answers = {s.taster: dict.fromkeys(s.codes, (3.5, 5)) for s in one.servings}
    else:
        answers = {s.taster: choose(s, method, True) for s in one.servings}
    answers["Taster 2"] = tasting.ABSENT
    done = tasting.answered(one, answers)
    [second] = tasting.save(done, tmp_path)
    assert second != path, "never overwritten"
    assert tasting.load(second) == done
    assert tasting.findings(tasting.load(second)) == tasting.findings(done)
    (tmp_path / "answers.csv").write_text(tasting.answers_csv(done), encoding="utf-8")
    assert tasting.read_answers(one, tmp_path / "answers.csv") == done
    semicolons = "\ufeff" + tasting.answers_csv(done).replace(",", ";")
    if method not in ("paired, expected",):
        (tmp_path / "answers.csv").write_text(semicolons, encoding="utf-8")
        assert tasting.read_answers(one, tmp_path / "answers.csv") == done
    found, problems = tasting.entries(tmp_path)
    assert [p for p, _ in found] == [second, path]
    assert problems == ()


def _csv(one, tmp_path, change):
    done = tasting.answered(one, {s.taster: choose(s, "triangle", True) for s in one.servings})
    lines = tasting.answers_csv(done).splitlines()
    (tmp_path / "answers.csv").write_text("\n".join(change(lines)), encoding="utf-8")
    return tmp_path / "answers.csv"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda ls: ls[:5] + ls[6:], "answer of 'Taster 5' is missing"),
        (lambda ls: [*ls[:3], ls[3].rpartition(",")[0] + ",", *ls[4:]], "row 4: answer of 'Taster 3' is missing"),
        (lambda ls: [*ls, ls[1]], "row 26: taster is 'Taster 1'; it must be on one row only"),
        (lambda ls: [ls[0], *["t0badc0de" + line[9:] for line in ls[1:]]], "the row is of another tasting"),
        (lambda ls: [*ls[:2], ls[2].replace("Taster 2", "Zoe"), *ls[3:]], "taster is 'Zoe'"),
        (lambda ls: [*ls[:2], ls[2].rpartition(",")[0] + ",999", *ls[3:]], "answer of 'Taster 2' is '999'"),
        (lambda ls: ["a,b,c", *ls[1:]], "columns is 'a, b, c'"),
        (lambda ls: [*ls[:2], ls[2] + ",x", *ls[3:]], "4 cells wide"),
        (lambda ls: [""], "columns is empty"),
        (lambda ls: ['"a', *ls], "answers"),
    ],
)
def test_a_table_that_does_not_fit_is_refused(change, said, tmp_path):
    one = prepared()
    with pytest.raises(InputError) as error:
        tasting.read_answers(one, _csv(one, tmp_path, change))
    assert said in str(error.value)
    assert "answers.csv" in str(error.value)
    assert one.answers == {}


def test_a_table_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match="a file that is there"):
        tasting.read_answers(prepared(), tmp_path / "none.csv")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d["tasting"]["servings"][0].update(codes=["527", "527", "841"]), "code 527 is on the sheets of"),
        (lambda d: d["tasting"]["servings"][0].update(order="AAA"), "order of 'Taster 1'"),
        (lambda d: d["tasting"]["servings"][0].update(codes=["527", "648"]), "codes of 'Taster 1'"),
        (lambda d: d["tasting"]["servings"][0].update(codes=["527", "648", "84x"]), "three digits"),
        (lambda d: d["tasting"]["servings"].pop(), "key is another than the sheets'"),
        (lambda d: d["tasting"]["servings"].clear(), "tasters is 0"),
        (lambda d: d["tasting"]["answers"].update({"Taster 1": "999"}), "answer of 'Taster 1'"),
        (lambda d: d["tasting"].pop("seed"), "damaged"),
        (lambda d: d["tasting"].update(method="hexad"), "method is 'hexad'"),
        (lambda d: d["tasting"].update(extra=1), "damaged"),
        (lambda d: d.update(format=tasting.saved.FORMAT + 1), "a newer Drinklab wrote it"),
        (lambda d: d["tasting"]["portion"].update(sip="lots"), "sip"),
    ],
)
def test_a_key_that_does_not_fit_is_refused_and_the_rest_still_opens(change, said, tmp_path):
    [good] = tasting.save(prepared(), tmp_path)
    data = json.loads(good.read_text(encoding="utf-8"))
    change(data)
    (good.parent / "other.json").write_text(json.dumps(data), encoding="utf-8")
    found, problems = tasting.entries(tmp_path)
    assert [path for path, _ in found] == [good]
    assert len(problems) == 1
    assert said in problems[0]
    assert problems[0].startswith("other.json: ")


def test_two_drinks_of_one_name_and_no_question_are_refused():
    made, given = tasting.plan(6, "paired"), tasting.portion(DRY, SWEET, "paired", 10)
    with pytest.raises(InputError, match="name of B"):
        tasting.prepare(made, DRY, DRY, given, asks="sweeter")
    with pytest.raises(InputError, match="what is compared is empty"):
        tasting.prepare(made, DRY, SWEET, given)


def test_it_takes_how_much_of_each_drink():
    one = prepared(n=24)
    assert tasting.to_prepare(one.servings, 10) == {"A": 360, "B": 360}  # 24 of three glasses of 10 mL, shared alike


def test_scipy_waits_until_it_is_asked():
    code = "import sys, drinklab as dl; dl.tasting.servings(dl.tasting.numbered(6)); assert 'scipy' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=HERE.parent)


def test_a_formula_in_a_name_stays_text(tmp_path):
    a = prepared()
    evil = replace(a, servings=(replace(a.servings[0], taster="=1+1"), *a.servings[1:]))
    assert "'=1+1" in tasting.answers_csv(evil)
    done = tasting.answered(evil, {s.taster: choose(s, "triangle", True) for s in evil.servings})
    (tmp_path / "a.csv").write_text(tasting.answers_csv(done), encoding="utf-8")
    assert tasting.read_answers(evil, tmp_path / "a.csv") == done


def test_every_choice_of_four_is_understood():
    one = prepared("tetrad", 6)
    first = one.servings[0]
    for pair in itertools.permutations(first.codes, 2):
        kept = tasting.checked(one, first.taster, " ".join(pair))
        assert tasting.is_right(replace(one, answers={first.taster: kept}), first.taster) == (
            first.drink(pair[0]) == first.drink(pair[1])
        )
    assert math.comb(4, 2) / 2 == len(tasting.choices(first, "tetrad"))


def test_a_washed_drink_is_sampled_too():
    assert tasting.sample(run(Recipe.parse("45 mL gin\n45 mL water", technique="none"))).alcohol > 0.1


def test_what_a_killed_saver_left_of_the_sheets_is_swept(tmp_path):
    where = tmp_path / tasting.TASTINGS
    where.mkdir()
    left = [where / f".saving-{name}" for name in ("x_01.sheets.html", "x_01.answers.csv", "x_01.json")]
    for path in left:
        path.write_text("half", encoding="utf-8")
        os.utime(path, (0, 0))
    tasting.save(prepared(), tmp_path)
    assert not any(path.exists() for path in left)


def test_what_an_earlier_drinklab_saved_of_cautions_still_opens():
    """Format 1 kept them as sentences: they stay as they are, since nobody can tell their numbers any more."""
    data = tasting.to_dict(prepared("triangle", 12))
    data["format"] = 1
    data["tasting"]["cautions"] = ["Raw egg: keep it at 4 °C (39 °F)."]
    assert tasting.from_dict(data).cautions == ("Raw egg: keep it at 4 °C (39 °F).",)
    for odd in ({"code": "no such code", "numbers": {}}, {"code": "warm vessel", "numbers": {}}, {"code": 5}, 5):
        data["tasting"]["cautions"] = [odd]
        with pytest.raises(InputError):
            tasting.from_dict(data)


def test_steps_that_were_told_in_print():
    # Worked by hand: 12 % sugar is 120 g in a litre, of which 9.25 % (cola) are 11.1 and 33 % (with acid) 39.6;
    # 6 g/L of citric acid: 9.53 % are 0.57, 17.96 % are 1.08; wine: 1.03 to 1.32 % vol (sources in datasets/thresholds.csv).
    a = {"abv": 12.0, "sugar": 120.0, "acid": 6.0}
    found = tasting.steps(a, {"abv": 13.0, "sugar": 109.0, "acid": 6.5})
    assert [(round(s.low, 2), round(s.high, 2)) for s in found] == [(1.03, 1.32), (11.1, 39.6), (0.57, 1.08)]
    assert [s.told for s in found] == ["below"] * 3
    assert tasting.hopeless(found)
    found = tasting.steps(a, {"abv": 14.0, "sugar": 100.0, "acid": 6.0})
    assert [s.told for s in found] == ["above", "between", "below"]
    assert not tasting.hopeless(found)
    # What is not in A has no step by share: any of it counts.
    dry = tasting.steps(a | {"acid": 0.0}, a | {"acid": 0.1})
    assert [s.told for s in dry] == ["below", "below", "above"]


def test_what_goes_beside_the_drink_counts_in_the_sip_and_its_alcohol():
    """By hand: a glass of 90 mL of 10 g and a jelly of 30 mL of 5 g: each mL brings (10 + 5)/90 g and 30/90 mL more."""
    drink = Setting(Recipe.parse("60 mL gin\n60 mL water", name="Drink", technique="none"), draws=50)
    jelly = Setting(Recipe.parse("20 mL gin\n20 mL water", name="Jelly", technique="none"), draws=50)
    made = trial.run(replace(drink, beside=(jelly,)))
    one, bare = serving.sample(made), serving.sample(trial.run(drink))
    glass, beside = made.served.profile, made.beside[0].served.profile
    assert one.alcohol == pytest.approx((glass.alcohol + beside.alcohol) / glass.volume)
    assert one.alcohol == pytest.approx(bare.alcohol * 4 / 3, rel=1e-6)
    assert one.share == pytest.approx(1 / 3, rel=1e-6)
    assert one.pm > bare.pm
    given = tasting.portion(one, bare, "triangle", 15)
    assert given.volume == pytest.approx(15 * (2 * 4 / 3 + 1), rel=1e-6)
    assert given.grams == pytest.approx(15 * (2 * one.alcohol + bare.alcohol))
    assert given.beside == ("Jelly", "")
    kept = tasting.Portion(**json.loads(json.dumps(asdict(given))))
    assert kept == given
