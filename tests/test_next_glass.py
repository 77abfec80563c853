"""The next glass: the surface of liking against published and independent sums, the palates it finds, what it never pours."""

import itertools
from dataclasses import replace

import bench_next_glass as bench
import numpy as np
import pytest
from scipy import stats

from drinklab import logbook, next_glass, pantry, tasting, trial, writeup
from drinklab.errors import InputError
from drinklab.learned import Learned, known
from drinklab.next_glass import choosing, palate, pours, prior, proposals
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.tasting import Taster

SHELF = pantry.load()

# --- published: a mixture experiment -----------------------------------------------------------------------

# Elongation of yarn from three fibres (polyethylene, polystyrene, polypropylene), a {3, 2} simplex lattice: J. A.
# Cornell, Experiments with Mixtures (3rd edition 2002, section 2.6); the data were read in the examples of the R package
# mixexp. The coefficients are those of NIST/SEMATECH e-Handbook of Statistical Methods, 5.5.4 (from memory).
YARN = {
    (1, 0, 0): (11.0, 12.4), (0.5, 0.5, 0): (15.0, 14.8, 16.1), (0, 1, 0): (8.8, 10.0),
    (0, 0.5, 0.5): (10.0, 9.7, 11.8), (0, 0, 1): (16.8, 16.0), (0.5, 0, 0.5): (17.7, 16.4, 16.6),
}  # fmt: skip
PRINTED = {(0,): 11.7, (1,): 9.4, (2,): 16.4, (0, 1): 19.0, (0, 2): 11.4, (1, 2): -9.6}
PRINTED_ERRORS = {(0,): 0.60, (0, 1): 2.61}


def test_a_published_mixture_experiment_comes_out_to_its_printed_digits():
    mixes = np.array(list(YARN), float)
    told = palate.Told.of(mixes[:, :2], [(i, 0, y) for i, of in enumerate(YARN.values()) for y in of])
    # no prior to speak of: the quadratic alone, with the residual spread that is printed with it, 0.85
    grid = {"height": (100.0,), "length": (1.0,), "noise": (0.8537,), "levels": (1e-6,)}
    fitted = palate.fit(told, palate.quadratic, before=lambda at: np.zeros(len(at)), grid=grid)
    pure = np.eye(3)
    pairs = list(itertools.combinations(range(3), 2))
    at = np.vstack([pure, [(pure[i] + pure[j]) / 2 for i, j in pairs]])[:, :2]
    mean, cov = fitted.joint(at)
    # Scheffé's coefficients out of the liking of pure and half-and-half mixes
    rows = np.zeros((6, 6))
    rows[:3, :3] = np.eye(3)
    for k, (i, j) in enumerate(pairs, 3):
        rows[k, k], rows[k, i], rows[k, j] = 4, -2, -2
    found = dict(zip([(0,), (1,), (2,), *pairs], rows @ mean, strict=True))
    errors = dict(zip(found, np.sqrt(np.diag(rows @ cov @ rows.T)), strict=True))
    assert {key: round(value, 1) for key, value in found.items()} == PRINTED
    assert {key: round(errors[key], 2) for key in PRINTED_ERRORS} == PRINTED_ERRORS


# --- independent sums ----------------------------------------------------------------------------------------


def _some(seed=3, glasses=5, people=3):
    rng = np.random.default_rng(seed)
    at = rng.normal(0, 1, (glasses, 3))
    scores = [(g, t, rng.uniform(2, 9)) for g in range(glasses) for t in range(people) if rng.random() < 0.8]
    return palate.Told.of(at, scores), rng.normal(0, 1, (4, 3))


def test_ratings_agree_with_the_plain_conditioning_of_a_normal_distribution():
    """The dense formula of a conditioned normal (Rasmussen and Williams 2006, eq. A.6), and SciPy's own density."""
    told, at = _some()
    height, length, noise, levels = 1.3, 2.0, 0.8, 0.9
    grid = {"height": (height,), "length": (length,), "noise": (noise,), "levels": (levels,)}
    found = palate.fit(told, grid=grid)
    everywhere = np.vstack([told.at[told.glass], at])
    apart = ((everywhere[:, None] - everywhere) ** 2).sum(axis=-1)
    cov = palate.LEVEL_SD**2 + height**2 * np.exp(-apart / (2 * length**2))
    n = len(told.score)
    of_ratings = cov[:n, :n] + levels**2 * (told.taster[:, None] == told.taster) + noise**2 * np.eye(n)
    off = told.score - palate.hump(told.at)[told.glass]
    across = cov[n:, :n] @ np.linalg.inv(of_ratings)
    mean, own = found.joint(at)
    assert mean == pytest.approx(palate.hump(at) + across @ off, abs=1e-5)
    assert own == pytest.approx(cov[n:, n:] - across @ cov[:n, n:], abs=1e-5)
    assert found.at(at)[1] == pytest.approx(np.sqrt(np.diag(own)), abs=1e-8)
    density = stats.multivariate_normal(np.zeros(n), of_ratings).logpdf(off) + n / 2 * np.log(2 * np.pi)
    assert found.ways[0].evidence == pytest.approx(density, abs=1e-5)


def test_choices_agree_with_a_brute_sum_over_all_surfaces():
    """Three glasses, choices alone: Laplace's mean beside 400 000 surfaces weighed by the chance of what was chosen."""
    at = np.array([[-1.0, 0, 0], [0.2, 0, 0], [1.2, 0, 0]])
    told = palate.Told.of(at, choices=[(1, 0), (1, 0), (1, 2), (2, 0)])
    grid = {"height": (1.6,), "length": (1.5,), "noise": (1.0,), "levels": (0.3,)}
    mean, sd = palate.fit(told, grid=grid).at(at)
    apart = ((at[:, None] - at) ** 2).sum(axis=-1)
    cov = palate.LEVEL_SD**2 + 1.6**2 * np.exp(-apart / (2 * 1.5**2))
    draws = palate.hump(at) + np.random.default_rng(1).multivariate_normal(np.zeros(3), cov, 400_000)
    weight = np.prod(
        [
            stats.norm.cdf((draws[:, a] - draws[:, b]) / np.sqrt(2))
            for a, b in zip(told.better, told.worse, strict=True)
        ],
        axis=0,
    )
    brute = weight @ draws / weight.sum()
    # a difference between two glasses is what choices tell; Laplace is within a tenth of the spread
    assert mean[1] - mean[0] == pytest.approx(brute[1] - brute[0], abs=0.15)
    assert mean[1] - mean[2] == pytest.approx(brute[1] - brute[2], abs=0.15)
    assert sd == pytest.approx(np.sqrt(weight @ (draws - brute) ** 2 / weight.sum()), rel=0.05)


def test_tasters_have_levels_of_their_own():
    """Who rates all a point higher moves no glass."""
    told, at = _some()
    higher = replace(told, score=told.score + np.where(told.taster == 0, 1.0, 0.0))
    a, b = palate.fit(told), palate.fit(higher)
    mean_a, mean_b = a.at(at)[0], b.at(at)[0]
    assert np.ptp(mean_b - mean_a) < 0.35
    assert b.persons[0] - b.persons[1] > a.persons[0] - a.persons[1] + 0.5


def test_the_gain_of_a_tasting_agrees_with_drawing_it():
    """The knowledge gradient beside its own definition, simulated: taste, work the means out anew, take the best."""
    rng = np.random.default_rng(5)
    mean, root = rng.normal(6, 0.5, 6), rng.normal(0, 0.6, (6, 6))
    cov, noise = root @ root.T, 0.7
    moves = cov / np.sqrt(np.diag(cov) + noise**2)
    found = choosing._gains(mean, moves)
    j = 2
    truth = rng.multivariate_normal(mean, cov, 40_000)
    said = truth[:, j] + rng.normal(0, noise, len(truth))
    after = mean + np.outer((said - mean[j]) / (cov[j, j] + noise**2), cov[j])
    assert found[j] == pytest.approx(after.max(axis=1).mean() - mean.max(), rel=0.06)


def test_the_slopes_test_is_that_of_two_nested_fits():
    """One slope for all against one for each, beside sums of squares worked out by projections."""
    rng = np.random.default_rng(2)
    at = rng.normal(0, 1, (6, 1))
    glass, taster = np.repeat(np.arange(6), 4), np.tile(np.arange(4), 6)
    slope = np.array([2.0, 1.5, -1.5, -2.0])
    score = 5 + slope[taster] * at[glass, 0] + rng.normal(0, 0.5, 24)
    found = prior.splits(at, glass, taster, score)[0]
    x1 = np.hstack([np.eye(6)[glass], np.eye(4)[taster]])
    x2 = np.hstack([x1, np.eye(4)[taster] * at[glass]])
    left = [score @ (np.eye(24) - x @ np.linalg.pinv(x)) @ score for x in (x1, x2)]
    more, free = np.linalg.matrix_rank(x2) - np.linalg.matrix_rank(x1), 24 - np.linalg.matrix_rank(x2)
    assert found.f == pytest.approx((left[0] - left[1]) / more / (left[1] / free))
    assert found.shown
    assert list(np.sign(found.slopes)) == [1, 1, -1, -1]
    same = prior.splits(at, glass, taster, 5 + at[glass, 0] + rng.normal(0, 0.5, 24))[0]
    assert not same.shown
    assert prior.splits(at[:1], glass[:4], taster[:4], score[:4]) == ()  # one glass: nothing to tell by


# --- simulated palates ---------------------------------------------------------------------------------------


def test_it_beats_pouring_at_random():
    """Ten hidden palates, fixed seeds, four tasters with the middle noise: after 8 and after 12 glasses."""
    ours = bench.scores(lambda h, n, r: bench.ours(h, n, r, most=12), 1.0, 10)
    random = bench.scores(bench.at_random, 1.0, 10)[:, :2]
    assert (ours.mean(axis=0) > random.mean(axis=0) + 0.3).all()


# --- what is proposed ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def found():
    return next_glass.propose(next_glass.example(SHELF), strongest=16, measure=2.5)


def test_three_glasses_each_poured_in_the_measure_within_the_limit(found):
    assert [one.kind for one in found.proposals] == ["safe", "teach", "wild"]
    bottles = {pour.ingredient for glass in found.tasted.glasses for pour in glass.setting.recipe.pours}
    for one in found.proposals:
        assert one.made.served.profile.abv <= 16
        assert {pour.ingredient for pour in one.made.recipe.pours} <= bottles
        assert [pour.amount % 2.5 for pour in one.made.recipe.pours] == pytest.approx([0] * len(one.made.recipe.pours))
        assert one.pm > 0
    safe, teach, wild = found.proposals
    assert safe.liking >= max(teach.liking, wild.liking) - 0.1
    assert teach.gain >= safe.gain
    assert min(np.sqrt(((found.palate.told.at - wild.at) ** 2).sum(axis=1))) > 0.5 * choosing.FAR


def test_the_likings_are_those_of_the_glass_as_poured(found):
    for one in found.proposals:
        again = trial.run(one.made.setting, pantry=SHELF)
        figures = [getattr(again.served.profile, axis) for axis in found.family.axes]
        mean, sd = found.palate.at(found.family.place(np.array(figures))[None])
        assert (one.liking, one.pm) == pytest.approx((mean[0], 2 * sd[0]))


def test_the_alcohol_of_all_tastings_is_said(found):
    """Six sips of 15 mL: of each proposal, and three times of the glass liked best so far."""
    best = trial.run(found.tasted.glasses[found.best].setting, pantry=SHELF, draws=0)
    sips = [*(one.made for one in found.proposals), best, best, best]
    grams = sum(15 * run.alcohol / run.served.profile.volume for run in sips)
    said = " ".join(map(str, found.said()))
    assert f"6 sips of 15 mL for each taster, with {grams:.1f} g of alcohol" in said
    assert "14 g each" in said
    assert "as if all is swallowed" in said
    assert "stop limit" in " ".join(map(str, next_glass.propose(found.tasted, limit=0.2, seed=1).said()))


def test_nobody_is_poured_what_they_cannot_have():
    made = next_glass.propose(next_glass.example(SHELF), tasters=[Taster("Ada", ("eggs",)), Taster("Bo")])
    poured = {pour.ingredient for one in made.proposals for pour in one.made.recipe.pours}
    assert not any("eggs" in SHELF[key].allergens for key in poured)
    assert "is not poured: Ada can't have it (eggs)" in " ".join(map(str, made.said()))
    with pytest.raises(InputError, match=r"what 'Ada' can't have is 'kiwi'"):
        next_glass.propose(next_glass.example(SHELF), tasters=[Taster("Ada", ("kiwi",))])
    with pytest.raises(InputError, match=r"bottles is none that Ada can have|how the drink is made"):
        next_glass.propose(
            next_glass.example(SHELF), tasters=[Taster("Ada", ("sulphites", "eggs", "pisco", "verjus", "elderflower"))]
        )


def test_a_limit_that_leaves_nothing_is_one_sentence():
    with pytest.raises(InputError, match="strength limit is 1; it must be at least"):
        next_glass.propose(next_glass.example(SHELF), strongest=1)
    with pytest.raises(InputError, match="strength limit"):
        next_glass.propose(next_glass.example(SHELF), strongest=140)
    with pytest.raises(InputError, match="bottles"):
        next_glass.propose(next_glass.example(SHELF), bottles=[SHELF["gin"]])
    with pytest.raises(InputError, match="measure"):
        next_glass.propose(next_glass.example(SHELF), measure="a splash")
    with pytest.raises(InputError, match="country"):
        next_glass.propose(next_glass.example(SHELF), country="Atlantis")


def test_choices_alone_say_that_they_are_alone():
    """Which is liked better is known, how much is not: the ± stays as wide as before."""
    one = next_glass.example(SHELF)
    glasses = tuple(replace(g, scores=()) for g in one.glasses[:3])
    made = next_glass.propose(replace(one, glasses=glasses, choices=(("Ada", 1, 0), ("Ada", 1, 2), ("Bo", 1, 2))))
    assert made.best == 1
    said = " ".join(map(str, made.said()))
    assert "Choices alone" in said
    assert "scatters" not in said
    assert "Too few ratings to tell whether the tasters agree" in said
    assert made.proposals[0].pm > 4


@pytest.mark.parametrize(("n", "more"), [(0, "3 more have"), (1, "2 more have"), (2, "1 more has")])
def test_fewer_than_three_scored_glasses_say_how_many_more(n, more):
    few = replace(next_glass.example(SHELF), glasses=next_glass.example(SHELF).glasses[:n])
    with pytest.raises(InputError, match=f"{more} to be tasted and scored"):
        next_glass.propose(few)


def test_a_panel_that_disagrees_is_reported_as_such():
    """Half of it likes more cordial, half less."""
    one = next_glass.example(SHELF)
    cordial = [g.setting.recipe.pours[2].amount for g in one.glasses]
    way = {"Ada": 1, "Bo": 1, "Cy": -1, "Dee": -1}
    sugar = np.array([g.figures[1] for g in one.glasses])
    off = (sugar - sugar.mean()) / np.ptp(sugar)
    wiggle = np.array([0.1, -0.1, 0.05, -0.05])
    glasses = tuple(
        replace(
            g, scores=tuple((who, float(5 + 6 * way[who] * off[i] + wiggle[(i + k) % 4])) for k, who in enumerate(way))
        )
        for i, g in enumerate(one.glasses)
    )
    assert len(set(cordial)) > 1
    said = " ".join(map(str, next_glass.propose(replace(one, glasses=glasses)).said()))
    assert "The tasters disagree on sugar" in said
    assert "with more of it by Ada and Bo, with less of it by Cy and Dee" in said


def test_what_is_left_to_find_agrees_with_the_closed_form_of_two_glasses():
    """E[max(0, d)] of a normal difference d = s φ(m/s) + m Φ(m/s), as in any textbook of decisions (Raiffa 1968)."""
    mean, cov = np.array([6.0, 5.7]), np.array([[0.3, 0.1], [0.1, 0.9]])
    chosen = choosing.Chosen(0, 1, None, mean, np.sqrt(np.diag(cov)), np.zeros(2), np.zeros(2), cov)
    m, s = mean[1] - mean[0], np.sqrt(cov[0, 0] + cov[1, 1] - 2 * cov[0, 1])
    exact = s * stats.norm.pdf(m / s) + m * stats.norm.cdf(m / s)
    assert choosing.left_to_find(chosen) == pytest.approx(exact, rel=0.06)


def test_it_says_when_to_stop(found):
    """Hardly anything is known of three glasses; with forty of a hidden palate about all is, as far as pouring matters."""
    rng, hidden = np.random.default_rng(3), bench.Hidden.drawn(np.random.default_rng([1, 2]))
    every, left = bench.pourable(rng), {}
    for n in (3, 40):
        at = rng.uniform(-bench.EDGE, bench.EDGE, (n, 3))
        known = palate.fit(bench.told(at, hidden.rated(at, 0.5, rng)))
        left[n] = choosing.left_to_find(choosing.choose(known, every, bench.TASTERS))
    assert left[40] < 0.35 < 0.8 < left[3]
    stop, go_on = (replace(found, left=amount, pouring=0.35) for amount in (left[40], left[3]))
    assert stop.stop
    assert "You can stop" in " ".join(map(str, stop.said()))
    assert not go_on.stop
    assert "Go on" in " ".join(map(str, go_on.said()))


def test_pouring_alone_counts_the_tool_and_not_the_fruit(found):
    """Poured free it differs more than by the jigger, and with exact pours not at all."""
    safe = found.proposals[0]
    by = {}
    for tool in ("exact", "jigger", "free pour"):
        made = trial.run(replace(safe.made.setting, tool=tool), pantry=SHELF)
        around = found.family.place(pours.poured_again(made, SHELF, None, 100, 1))
        by[tool] = choosing.by_pouring(found.palate, safe.at, around)
    assert by["exact"] < 0.01 < by["jigger"] < by["free pour"]


def test_an_own_axis_of_a_pour_and_of_a_persons_number():
    one = next_glass.example(SHELF)
    pour = next_glass.OwnAxis("egg white", {"egg_white": 1.0})
    assert pour.share
    made = next_glass.propose(one, own=pour)
    assert made.family.axes[-1] == next_glass.OWN
    glass = one.glasses[0]
    amount = next(p.amount for p in glass.setting.recipe.pours if p.ingredient == "egg_white")
    assert one.own(pour)[0] == pytest.approx(100 * amount / trial.run(glass.setting, pantry=SHELF, draws=0).made.volume)
    bitter = next_glass.OwnAxis("bitterness", {"verjus": 2.0, "pisco": 4.0})
    assert not bitter.share
    by_hand = sum(bitter.weights.get(p.ingredient, 0) * p.amount for p in glass.setting.recipe.pours)
    assert one.own(bitter)[0] == pytest.approx(by_hand / glass.volume)
    with pytest.raises(InputError, match="0 to 100 for each bottle"):
        next_glass.OwnAxis("bitterness", {})


def test_an_own_axis_goes_by_what_the_measure_pours_everywhere():
    """A jigger that pours nine tenths of its mark: tasted, proposed and poured again are told by the same amounts."""
    shelf = SHELF.with_items([])
    shelf.learned = known((Learned("pour", "jigger", 0.9, 0.001, 1.0, 0.02),))
    one = replace(next_glass.example(SHELF), shelf=shelf)
    axis = next_glass.OwnAxis("verjus", {"verjus": 1.0})
    drink = one.glasses[0].drink
    made = trial.run(drink, pantry=shelf)
    at = next_glass.glass(drink, shelf, scores=[("Ada", 5)])
    amount = next(p.amount for p in drink.recipe.pours if p.ingredient == "verjus")
    by_hand = 100 * 0.9 * amount / float(made.made.volume)
    tasted = next_glass.Tasted((at,), (), shelf).own(axis)[0]
    again = pours.poured_again(made, shelf, axis, 400, 1)[:, 3].mean()
    kin = next_glass.family("", np.array([5.0, 25.0]))
    stands = proposals._stands(made, kin, axis)[3] * kin.spread[3] + kin.middle[3]
    assert (tasted, stands) == (pytest.approx(by_hand), pytest.approx(by_hand))
    assert again == pytest.approx(by_hand, rel=0.02)
    seen = np.zeros((1, 4))
    mixes = pours.pourable(drink, [drink], kin, shelf, own=axis, seen=seen)
    first = int(np.argmin(np.abs(mixes.amounts - drink.recipe.amounts).sum(axis=1)))
    assert mixes.at[first, 3] * kin.spread[3] + kin.middle[3] == pytest.approx(by_hand, rel=0.15)


def test_an_own_axis_of_numbers_for_whole_glasses():
    """A linear mixture (NIST/SEMATECH e-Handbook 5.5.4.3), made up: what blends in proportion is found again."""
    one = next_glass.example(SHELF).scored()
    true = next_glass.OwnAxis("bitterness", {"verjus": 20.0, "pisco": 4.0})
    given = one.own(true)
    axis = next_glass.scored_axis("bitterness", one, given)
    assert one.own(axis) == pytest.approx(given, abs=0.25)
    assert axis.miss < 0.25
    jumbled = next_glass.scored_axis("bitterness", one, [9 - 9 * (k % 2) for k in range(len(given))])
    assert jumbled.miss > 1, "what bottles do not explain is told"
    found = next_glass.propose(one, own=axis)
    assert found.called(3) == "bitterness"
    for bad, why in ((given[:-1], "one number for each of the"), ([11.0, *given[1:]], "0 to 10")):
        with pytest.raises(InputError, match=why):
            next_glass.scored_axis("bitterness", one, bad)


# --- out of the logbook --------------------------------------------------------------------------------------


def _saved(folder, amounts=((45, 20, 15), (40, 20, 20), (40, 25, 20))):
    paths = []
    for k, (rum, lemon, honey) in enumerate(amounts):
        recipe = Recipe.parse(
            f"{rum} mL aged rum, 50 %\n{lemon} mL lemon juice\n{honey} mL honey syrup", SHELF, name=f"Siding {k}",
            technique="shaken", family="sour",
        )  # fmt: skip
        paths.append(logbook.save(trial.run(Setting(recipe), pantry=SHELF), folder))
    return paths


def _tasted(folder, a, b, method, answer, people=("Ada", "Bo", "Cy")):
    samples = [tasting.sample(logbook.load(p), p.stem, p.name) for p in (a, b)]
    plan = tasting.plan([Taster(name) for name in people], method)
    one = tasting.prepare(plan, *samples, tasting.portion(*samples, method), scales=["sweet, liking"])
    one = tasting.answered(one, {s.taster: answer(s) for s in one.servings})
    tasting.save(one, folder)
    return one


def test_scales_preferences_and_notes_join_their_trials(tmp_path):
    a, b, c = _saved(tmp_path)
    _tasted(tmp_path, a, b, tasting.SCALES, lambda s: {k: (5, 7 if s.drink(k) == "A" else 4) for k in s.codes})
    _tasted(tmp_path, b, c, "preference", lambda s: s.codes[s.order.index("B")])
    logbook.record(c, logbook.entry(c).time, note="Bright.\nLiking: Dee 8, Ada 6.5")
    found = next_glass.from_logbook(tmp_path)
    by = {glass.file: glass for glass in found.glasses}
    assert dict(by[a.name].scores) == {"Ada": 7, "Bo": 7, "Cy": 7}
    assert dict(by[b.name].scores) == {"Ada": 4, "Bo": 4, "Cy": 4}
    assert dict(by[c.name].scores) == {"Dee": 8, "Ada": 6.5}
    names = [glass.file for glass in found.glasses]
    assert {(names[x], names[y]) for _, x, y in found.choices} == {(c.name, b.name)}
    assert len(found.choices) == 3
    made = next_glass.propose(found)
    assert made.proposals[0].made.recipe.family == "sour"
    assert "Glasses: 3; tasters: 4; ratings: 8; choices between two: 3" in str(made.said()[0])


def test_answers_count_once_all_are_in_and_tasters_without_a_name_are_of_their_tasting(tmp_path):
    a, b, _ = _saved(tmp_path)
    one = _tasted(tmp_path, a, b, tasting.SCALES, lambda s: dict.fromkeys(s.codes, (5, 6)), ("Taster 1", "Bo"))
    open_ = replace(one, answers={"Bo": one.answers["Bo"]}, time="2026-11-01T10:00:00.000+00:00")
    tasting.save(open_, tmp_path)
    found = next_glass.from_logbook(tmp_path)
    people = [who for who, _ in next(g for g in found.glasses if g.file == a.name).scores]
    assert "Bo" in people
    assert any(who.startswith("Taster 1 of ") for who in people)
    assert len(people) == 2


@pytest.mark.parametrize(
    "note", ["Liking: 11", "Liking: Ada 7/10", "Liking: Ada 7, 6", "Liking: Ada good", "Liking: -1"]
)
def test_a_liking_in_a_note_that_cannot_be_read_is_one_sentence(note):
    with pytest.raises(InputError, match="liking of 'Siding'"):
        next_glass.read_note(note, "Siding")


def test_a_note_that_cannot_be_read_keeps_no_other_trial_from_counting(tmp_path):
    a, b, _ = _saved(tmp_path)
    for path, note in ((a, "Liking: Ada 7"), (b, "Liking: I do like it")):
        logbook.record(path, logbook.entry(path).time, note=note)
    found = next_glass.from_logbook(tmp_path)
    assert {one.file for one in found.glasses if one.scores} == {a.name}
    assert ["liking of" in str(problem) for problem in found.unread] == [True]
    with pytest.raises(InputError, match="liking of"):
        next_glass.from_logbook(tmp_path, [b.name])


def test_a_trial_that_is_not_there_is_named(tmp_path):
    _saved(tmp_path)
    with pytest.raises(InputError, match=r"trial is 'none\.json'"):
        next_glass.from_logbook(tmp_path, ["none.json"])


def test_a_rating_twice_or_beyond_the_scale_is_refused():
    drink = Setting(Recipe.parse("60 mL gin\n30 mL dry vermouth", SHELF))
    with pytest.raises(InputError, match="there twice"):
        next_glass.glass(drink, SHELF, scores=[("Ada", 5), ("Ada", 6)])
    with pytest.raises(InputError, match="liking of"):
        next_glass.glass(drink, SHELF, scores=[("Ada", 12)])


def test_the_record_of_a_proposal_says_why(found):
    for one in found.proposals:
        said = str(next_glass.record(found, one))
        assert said.startswith(proposals.WHY)
        assert f"{one.liking:.1f} ± {one.pm:.1f} points" in said


def test_a_write_up_says_why_this_version(found, tmp_path):
    """The line that was kept with the trial, in a section of its own; the other notes stay notes."""
    one = found.proposals[0]
    why = str(next_glass.record(found, one))
    page, plain = writeup.save(one.made, tmp_path, notes=f"Bright.\n{why}\nNext time colder.")
    said = why.partition(": ")[2]
    for text, heading in (
        (page.read_text(), '<h2 id="why">Why this version</h2>'),
        (plain.read_text(), "## Why this version"),
    ):
        assert heading in text
        assert text.count("the safe bet after 5 glasses (tasters: 4)") == 1
        assert text.index(heading) < text.index(said[:20]) < text.index("Bright.")
        assert "Next time colder." in text
    assert "Why this version" not in writeup.html(one.made, notes="Bright.")
    both = writeup.html(one.made, notes=why, why=["It comes from “First Frost”."])
    assert both.count("Why this version") == 1
    assert both.index(said[:20]) < both.index("It comes from “First Frost”.")
