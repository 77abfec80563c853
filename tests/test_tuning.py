"""The lesson on balance without a browser: what stands on the page is what the modules say."""

import math
import re
import statistics
from dataclasses import replace
from time import process_time

import numpy as np
import pytest
from long_run import dozen
from own_drink import SIGNAL

from drinklab import balance, logbook, profile, trial, whatif
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.kinds import CONCENTRATION
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE
from drinklab.workbook.charts import balance as balance_charts
from drinklab.workbook.charts import pictures
from drinklab.workbook.panels import balance as balance_panel

SHOW = Display()
STIRRED = ("demo", "Slow Signal")


@pytest.fixture
def drink(tmp_path):
    return balance_panel.panel(tmp_path, SIGNAL)


@pytest.fixture
def sweep(tmp_path):
    return balance_panel.sweep(tmp_path, SIGNAL)


@pytest.fixture
def versus(tmp_path):
    return balance_panel.versus(tmp_path)


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value))


def _cells(place, name):
    return re.findall(
        r"<td[^>]*>(.*?)</td>", re.search(rf'<th scope="row">{re.escape(name)}</th>(.*?)</tr>', place.value)[1]
    )


def _page(panel):
    return [a.value for a in panel.answers], getattr(panel, "chart", None) and panel.chart.rows


def _move(panel, pour, value):
    panel.pours.children[pour].number.value = value


# --- one drink -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tool", ["jigger", "free pour"])
def test_the_tiles_are_the_trial_and_the_estimates_of_the_modules(drink, tool):
    drink.tool.value = tool
    stage = trial.run(drink.recipe(), pantry=drink.shelf, tool=tool).served
    said = _text(drink.figures)
    for figure in ("abv", "sugar", "acid", "volume"):
        expected = SHOW.text(profile.KINDS[figure], getattr(stage.profile, figure), stage.spread(figure))
        assert f"{profile.TITLES[figure]} {expected}" in said
    assert f"pH {SHOW.ph_text(stage.ph)}" in said
    # `taste` puts the same estimates together another way
    taste = balance.taste(stage.liquid[0])
    for word, value in (
        ("Sourness: titratable, as citric", taste.sourness),
        ("Sweetness at 5 °C, as sucrose", taste.sweet_cold),
        ("Sweetness at 20 °C, as sucrose", taste.sweet_warm),
    ):
        number = SHOW.parts(CONCENTRATION, value)[0]
        assert f"{word} {number} ±" in said
    # what the first 100 draws say and what is known of sweetness
    around = float(re.search(r"Sweetness at 5 °C, as sucrose \S+ ± (\S+) g/L", said)[1])
    poured = 2 * statistics.pstdev(balance.sweetness(stage.liquid[1:101], 5).tolist())
    assert around == pytest.approx(math.hypot(poured, 2 * taste.sweet_cold_pm), abs=0.51)
    assert "estimates" in said


@pytest.mark.parametrize("measure", balance_panel.MEASURES)
def test_the_bars_are_what_one_measure_more_and_less_really_does(drink, measure):
    drink.measure.value = measure
    ml = {"¼": FLUID_OUNCE / 4, "½": FLUID_OUNCE / 2, "5": 5, "1": 10, "a": 0.9}[measure[0]]
    recipe, rows = drink.recipe(), drink.chart.rows["effects"]
    here = trial.run(recipe, pantry=drink.shelf, draws=0).served.profile
    pours = [row for row in rows if row["how"].endswith("poured")]
    assert pours or ml < 1
    for row in pours:
        k = next(k for k, p in enumerate(recipe.pours) if p.bottle(drink.shelf).name == row["name"])
        for side, sign in (("more", 1), ("less", -1)):
            amounts = recipe.amounts
            amounts[k] += sign * ml
            if amounts[k] < 0:
                assert row["sugar_less"] is None
                continue
            there = trial.run(recipe.with_amounts(amounts), pantry=drink.shelf, draws=0).served.profile
            for axis in profile.AXES:
                assert row[f"{axis}_{side}"] == pytest.approx(getattr(there, axis) - getattr(here, axis), abs=6e-4)
    distances = [row["distance"] for row in rows]
    assert distances == sorted(distances, reverse=True)
    top = {name: max(row[f"{name}_to"] for row in drink.chart.rows["frame"]) for name in profile.AXES}
    for row in rows:
        assert all(abs(row[f"{a}_{side}"] or 0) < top[a] for a in profile.AXES for side in ("more", "less"))


def test_what_is_not_in_the_picture_is_said(drink):
    found = whatif.sensitivity(drink.recipe(), pantry=drink.shelf)
    assert len(drink.chart.rows["effects"]) == balance_charts.MOST < len(found)
    assert f"{len(found) - balance_charts.MOST} more move it less" in _text(drink.moved)


def test_a_step_that_cannot_be_taken_away_is_not_drawn(drink):
    _move(drink, 4, 3)  # honey syrup: less than a quarter ounce
    row = next(r for r in drink.chart.rows["effects"] if r["name"].startswith("honey") and "poured" in r["how"])
    assert row["sugar_less"] is None
    assert row["how"] == "+ 7.4 mL poured"
    assert (
        "honey syrup, 1:1 by volume: no more than one step of 7.4 mL is there, so only more was tried."
        in drink.moved.value
    )


def test_chance_is_the_variation_and_agrees_with_the_tiles(drink):
    made = whatif.variation(drink.recipe(), trial.DRAWS, "jigger", pantry=drink.shelf)  # its own family by default
    assert f"{100 * made.all_inside:.0f} in 100" in _text(drink.made)
    for figure in profile.AXES:
        between, inside, *shares = _cells(drink.made, profile.TITLES[figure])
        low, high = (float(n) for n in re.findall(r"[\d.]+", between))
        kind = profile.KINDS[figure]
        assert (low, high) == tuple(float(SHOW.parts(kind, getattr(end, figure))[0]) for end in (made.low, made.high))
        around = float(re.search(rf"{profile.TITLES[figure]} \S+ ± (\S+) ", _text(drink.figures))[1])
        assert (high - low) / 2 == pytest.approx(around, abs=1 if around >= 10 else 0.1)
        assert inside == f"{100 * made.inside[figure]:.0f} %"
        assert sum(float(s.split()[0]) for s in shares) == pytest.approx(100, abs=2)
    before = drink.made.value
    drink.tool.value = "free pour"
    assert drink.made.value != before
    drink.chance.value = False
    assert drink.made.value == ""


def test_the_band_is_that_of_the_family_and_can_be_another(drink):
    assert drink.band.value == "sour"
    assert drink.limits() == whatif.band("sour", classics=drink.known)
    drink.band.value = balance_panel.ALL
    made = whatif.variation(
        drink.recipe(), trial.DRAWS, "jigger", pantry=drink.shelf, limits=whatif.band(classics=drink.known)
    )
    assert _cells(drink.made, "Acid")[1] == f"{100 * made.inside['acid']:.0f} %"
    drink.choose.value = ("classic", "Irish Coffee")  # hot: a family of one
    assert drink.band.value == balance_panel.ALL


def test_technique_and_dials_move_all_of_it(drink):
    before = _page(drink)
    drink.technique.value = "blended"
    after = _page(drink)
    assert [a != b for a, b in zip(before[0], after[0], strict=True)] == [True, False, True, True]
    assert before[1]["effects"] != after[1]["effects"]
    _move(drink, 0, 60)
    assert _page(drink) != after
    assert drink.recipe().technique == "blended"
    assert drink.recipe().pours[0].amount == pytest.approx(60)


def test_a_drink_without_acid_has_no_ratio_and_its_ph_is_not_known(tmp_path):
    panel = balance_panel.panel(tmp_path, Recipe.parse("50 mL gin\n10 mL sugar syrup", name="Sweet"))
    assert panel.problem.value == ""
    assert "pH not known" in _text(panel.figures)
    assert "no acid" in _text(panel.figures)
    assert "nan" not in _text(panel.figures) + _text(panel.made)


# --- two amounts at once ------------------------------------------------------------------------------------


def test_a_contour_lies_where_a_formula_says():
    # x² + y² = r²: straight pieces between the points of a grid of step h miss it by about h²/8r
    x = np.linspace(-2, 2, 41)
    for r in (0.55, 1.03, 1.71):
        found = balance_charts.contour(x, x, x**2 + x[:, None] ** 2, r**2)
        ends = np.concatenate([found[:, :2], found[:, 2:]])
        assert np.abs(np.hypot(*ends.T) - r).max() < 0.1**2 / 8 / r * 1.01
        length = np.hypot(found[:, 2] - found[:, 0], found[:, 3] - found[:, 1]).sum()
        assert length == pytest.approx(2 * math.pi * r, rel=0.005)
        # closed: each end is the end of one other piece
        assert all(np.isclose(ends, end, atol=1e-9).all(axis=1).sum() == 2 for end in ends)
    saddle = np.array([[0.0, 1.0], [1.0, 0.0]])
    assert len(balance_charts.contour(np.array([0.0, 1]), np.array([0.0, 1]), saddle, 0.5)) == 2
    assert len(balance_charts.contour(x, x, x**2 + x[:, None] ** 2, 99.0)) == 0


def test_a_region_is_where_a_formula_says():
    x = np.linspace(-2, 2, 41)
    disc = balance_charts.region(x, x, 1.5**2 - x**2 - x[:, None] ** 2)
    assert {row["part"] for row in disc} == {0}
    for row in disc:
        assert row["x2"] == pytest.approx(math.sqrt(max(1.5**2 - row["y"] ** 2, 0)), abs=0.02)
        assert row["x"] == pytest.approx(-row["x2"])
    two = balance_charts.region(x, x, np.abs(x) - 1 + 0 * x[:, None])
    assert {row["part"] for row in two} == {0, 1}
    # apart along y: not drawn as one
    assert len({row["part"] for row in balance_charts.region(x, x, np.abs(x[:, None]) - 1 + 0 * x)}) == 2


def _as_poured(panel, x, y):
    """The drink with the two amounts at a point of the picture."""
    recipe = panel.recipe()
    amounts = recipe.amounts
    for k, value in ((panel.across.value, x), (panel.up.value, y)):
        amounts[k] = value * recipe.pours[k].measure(panel.shelf, panel.display)[1]
    return trial.run(recipe.with_amounts(amounts), pantry=panel.shelf, draws=0).served.profile


@pytest.mark.parametrize("figure", profile.AXES)
@pytest.mark.parametrize("unit", ["mL", "oz"])
def test_each_line_is_where_the_drink_has_its_value(sweep, figure, unit):
    sweep.figure.value, sweep.volume_unit.value = figure, unit
    rows = sweep.chart.rows
    assert rows["values"]
    for mark in rows["values"]:
        value = getattr(_as_poured(sweep, mark["x"], mark["y"]), figure)
        assert value == pytest.approx(float(mark["label"]), rel=0.01)
    assert f"[{unit}]" in rows["titles"][0]["across"]
    assert sum(len(row) for name in rows for row in rows[name]) < 3000


def test_the_shaded_region_is_the_band(sweep):
    limits = whatif.band("sour", classics=sweep.known)
    rows, grid = sweep.chart.rows["inside"], sweep.grid
    assert grid.band == limits
    assert rows
    step = grid.first_amounts[1] - grid.first_amounts[0]
    for r, y in enumerate(grid.second_amounts):
        row = next((row for row in rows if row["y"] == round(y, 3)), None)
        inside = grid.first_amounts[grid.inside[r]]
        assert (row is None) == (inside.size == 0)
        if row:
            assert row["x"] <= inside.min() + 1e-3
            assert row["x2"] >= inside.max() - 1e-3
            assert inside.min() - row["x"] < step
            assert row["x2"] - inside.max() < step
    row = rows[len(rows) // 2]
    figures = _as_poured(sweep, (row["x"] + row["x2"]) / 2, row["y"])
    assert all(low <= getattr(figures, f) <= high for f, (low, high) in limits.items())


def test_a_slider_moves_the_dot_and_the_axes_stand_still(sweep):
    frame, lines = sweep.chart.rows["frame"], sweep.chart.rows["lines"]
    _move(sweep, sweep.across.value, 20)
    now = sweep.chart.rows["now"][0]
    assert now["x"] == 20
    assert sweep.chart.rows["written"][0]["x"] == 15
    assert (sweep.chart.rows["frame"], sweep.chart.rows["lines"]) == (frame, lines)
    served = trial.run(sweep.recipe(), pantry=sweep.shelf).served
    assert now["label"] == SHOW.text(CONCENTRATION, served.profile.sugar)
    assert f"Sugar {SHOW.text(CONCENTRATION, served.profile.sugar, served.spread('sugar'))}" in _text(sweep.figures)
    _move(sweep, 0, 60)  # a pour that is on neither axis
    assert sweep.chart.rows["frame"] == frame
    assert sweep.chart.rows["lines"] != lines
    _move(sweep, sweep.across.value, 90)  # past the end
    assert sweep.chart.rows["frame"][1]["x"] >= 90


def test_where_the_dot_lies_is_said(sweep):
    assert "is inside the band in strength, sugar and acid" in _text(sweep.where)
    _move(sweep, sweep.up.value, 0)
    assert "outside the band in sugar" in _text(sweep.where)


def test_every_pair_of_pours_can_be_swept(sweep):
    for key in (STIRRED, ("demo", "Long Platform, first glass"), ("classic", "Daiquiri"), ("classic", "Negroni")):
        sweep.choose.value = key
        count = len(sweep.recipe().pours)
        for i in range(count):
            for j in range(count):
                sweep.across.value, sweep.up.value = i, j
                assert ("another pour" in sweep.problem.value) == (i == j), (key, i, j, sweep.problem.value)


def test_sugar_that_does_not_dissolve_is_grey_and_said(sweep):
    sweep.choose.value = ("classic", "Daiquiri")
    assert sweep.chart.rows["solid"] == []
    _move(sweep, 0, 0)  # no spirit: next to nothing left to dissolve sugar in
    assert not sweep.grid.dissolved.all()
    assert sweep.chart.rows["solid"]
    assert "does not dissolve" in sweep.where.value


# --- A against B ----------------------------------------------------------------------------------------------


def test_the_table_is_the_comparison(versus):
    a, b = (versus._demo[name].recipe for name in list(versus._demo)[:2])
    assert (versus.choose.value, versus.other.value) == (("demo", a.name), ("demo", b.name))
    a, b = SIGNAL, versus._demo["Late Stove"].recipe  # nothing of the two is alike
    versus.use(a)
    versus.other.value = ("demo", b.name)
    served = [trial.run(r, pantry=versus.shelf, draws=0).served.profile for r in (a, b)]
    found = {d.figure: d for d in whatif.compare(a, b, pantry=versus.shelf)}
    for figure in ("abv", "sugar", "acid", "volume", "alcohol"):
        kind = profile.KINDS[figure]
        values = [getattr(p, figure) for p in served]
        one, two, apart, between, verdict = _cells(versus.differences, profile.TITLES[figure])
        assert [one, two] == [SHOW.text(kind, v) for v in values]
        assert apart == SHOW.text(kind, values[0] - values[1], signed=True)
        assert between.startswith(SHOW.parts(kind, found[figure].low, signed=True)[0])
        assert between.endswith(SHOW.text(kind, found[figure].high, signed=True))
        assert verdict == f"<b>{whatif.DIFFERS}</b>"


def test_a_drink_against_itself_differs_in_nothing(versus):
    versus.other.value = versus.choose.value
    assert {d.verdict for d in versus.found} == {whatif.CANNOT_TELL}
    assert "none of these differences" in _text(versus.differences)
    versus.tool.value = "exact"
    _, _, apart, *_ = _cells(versus.differences, "Strength")
    assert apart == "0.0 % vol"


def test_a_ratio_to_hardly_any_acid_is_left_out(versus):
    assert "Sweet–sour ratio" in versus.differences.value
    versus.choose.value = ("classic", "Old Fashioned")
    assert versus.problem.value == ""
    assert trial.run(versus._recipe, pantry=versus.shelf).served.profile.acid < profile.LEAST_ACID
    assert "Sweet–sour ratio" not in versus.differences.value


def test_two_drinks_handed_in_are_compared(tmp_path):
    a = Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup", name="A <b>", technique="shaken")
    b = a.with_amounts([45, 20, 30])
    panel = balance_panel.versus(tmp_path, a, Recipe("B", b.pours, b.technique))
    assert panel.problem.value == ""
    verdicts = {d.figure: d.verdict for d in panel.found}
    assert (verdicts["sugar"], verdicts["alcohol"]) == (whatif.DIFFERS, whatif.CANNOT_TELL)
    assert "A &lt;b&gt;" in panel.differences.value
    panel.other.value = STIRRED
    assert f"against B: {STIRRED[1]}" in _text(panel.differences)


# --- all of them ------------------------------------------------------------------------------------------------

MAKERS = (balance_panel.panel, balance_panel.sweep, balance_panel.versus)


@pytest.mark.parametrize("make", MAKERS)
def test_every_drink_can_be_chosen(make, tmp_path):
    panel = make(tmp_path)
    for _, key in dozen(panel.choose.options):
        panel.choose.value = key
        assert panel.problem.value == "", key
        page = " ".join(_text(a) for a in panel.answers)
        assert not re.search(r"\bnan\b|\binf\b", page), key


@pytest.mark.parametrize("make", MAKERS)
def test_units_change_what_is_shown_and_nothing_else(make, tmp_path):
    panel = make(tmp_path, SIGNAL)
    before = _page(panel)
    panel.volume_unit.value = "oz"
    page = " ".join(_text(a) for a in panel.answers)
    assert "oz" in page
    assert not re.search(r"\d mL", page.replace("(7.4 mL)", ""))
    panel.temperature_unit.value = "°F"
    assert "°C" not in " ".join(a.value for a in panel.answers)
    if make is balance_panel.panel:
        assert "at 41 °F" in panel.figures.value
        assert any("0.25 oz poured" in r["how"] for r in panel.chart.rows["effects"])
    assert logbook.choices(panel.folder)["volume"] == "oz"
    panel.volume_unit.value, panel.temperature_unit.value = "mL", "°C"
    assert _page(panel) == before


@pytest.mark.parametrize("make", [balance_panel.panel, balance_panel.sweep])
def test_a_mistake_is_one_sentence_and_the_page_stays(make, tmp_path):
    panel = make(tmp_path, SIGNAL)
    good = _page(panel)
    usual = panel.pours.children[0].value
    _move(panel, 0, -5)
    assert "it must be" in panel.problem.value
    assert panel.problem.value.count("<p ") == 1
    assert "rum aged" in panel.problem.value
    assert _page(panel) == good
    assert all("dl-stale" in a._dom_classes for a in panel.answers)
    _move(panel, 0, usual)
    assert panel.problem.value == ""
    assert _page(panel) == good
    assert not any("dl-stale" in a._dom_classes for a in panel.answers)


def test_one_pour_twice_is_refused_in_words(sweep):
    good = _page(sweep)
    sweep.up.value = sweep.across.value
    assert "another pour than the first axis" in sweep.problem.value
    assert _page(sweep) == good


def test_a_measure_larger_than_the_drink_is_refused_in_words(tmp_path):
    panel = balance_panel.panel(tmp_path, Recipe.parse("10 mL gin", name="A drop"))
    good = _page(panel)
    panel.measure.value = "½ oz (14.8 mL)"
    assert "at most the whole drink, 10 mL" in panel.problem.value
    assert _page(panel) == good


def test_a_drink_too_strong_for_the_rule_is_refused_in_words(sweep):
    sweep.choose.value = STIRRED
    with pytest.raises(InputError) as told:
        whatif.sweep(
            Recipe.parse("50 mL aged rum, 75 %\n30 mL fino sherry"),
            0,
            1,
            (1, 100),
            (0, 60),
            pantry=sweep.shelf,
            points=5,
        )
    sweep.use(Recipe.parse("50 mL aged rum, 75 %\n30 mL fino sherry", name="Too strong"))
    assert str(told.value)[:20].lower() in sweep.problem.value.lower()


@pytest.mark.parametrize(("make", "name"), [(balance_panel.panel, "drink"), (balance_panel.sweep, "sweep")])
def test_the_charts_can_be_drawn_and_fit(make, name, tmp_path):
    """What the page is sent, drawn by the same engine; as wide as `charts` has it."""
    panel = make(tmp_path)
    chart = {**panel.chart.spec, "datasets": {**panel.chart.spec.get("datasets", {}), **panel.chart.rows}}
    picture = pictures.static_svg(chart)
    assert float(re.search(r'width="([\d.]+)"', picture)[1]) <= 760
    for row in panel.chart.rows.get("effects", []):
        assert row["distance_label"] in picture
    assert panel.chart.spec["description"]


@pytest.mark.parametrize("make", [balance_panel.panel, balance_panel.sweep])
def test_a_move_costs_a_few_trials(make, tmp_path):
    """Against one trial of its drink in the same run: a page that solved all of it anew would show."""
    panel = make(tmp_path, SIGNAL)

    def spent(work):
        took = []
        for ml in range(40, 55):
            start = process_time()
            work(ml)
            took.append(process_time() - start)
        return min(took)

    one = spent(lambda ml: trial.run(replace(panel.setting, recipe=panel.setting.recipe.scaled(ml / 45))))
    move = spent(lambda ml: setattr(panel.pours.children[0].slider, "value", ml))
    assert move < 25 * one  # 6 to 10 when it was written
    assert panel.problem.value == ""
