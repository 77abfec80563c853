"""The what-if card and the eight questions: against the uncertainty guide's formulas, sums by hand, and the pages."""

import importlib
import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from drinklab import demo, dilution, pantry, trial, whatif
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.kinds import ABV, TEMPERATURE
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.whatif import Sample, paired
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import prep as prep_panel
from drinklab.workbook.parts import bars

SHELF = pantry.load()
SOUR = Setting(
    Recipe.parse("50 mL gin, 40 %\n25 mL lemon juice\n20 mL sugar syrup, 2:1 by mass", name="S", technique="shaken")
)


def change_of(code, drink=SOUR, value=None, figure=None):
    found = {c.name: c for c in whatif.ask(code, drink, value, pantry=SHELF).changes}
    return found if figure is None else found[figure]


# --- the two questions --------------------------------------------------------------------------------------


def test_the_two_questions_have_the_guides_two_answers():
    """JCGM 100 (2008), 5.2.2: of a difference, u² = u1² + u2² - 2 r u1 u2. All in common, r = 1: |u1 - u2|; nothing in
    common, r = 0: the root of the sum of squares. 1.96 u holds 19 in 20 of a normal figure."""
    z = np.r_[0.0, np.random.default_rng(7).standard_normal(40_000)]
    was, now = ({"x": Sample("x", ABV, at + u * z)} for at, u in ((15.0, 0.5), (16.0, 0.8)))
    (change,) = paired(was, now)
    assert change.change == pytest.approx(1.0)
    assert change.pm == pytest.approx(1.96 * 0.3, rel=0.02)
    assert change.apart_pm == pytest.approx(1.96 * np.hypot(0.5, 0.8), rel=0.02)
    assert (change.before_pm, change.after_pm) == pytest.approx((1.96 * 0.5, 1.96 * 0.8), rel=0.02)
    assert change.moves
    assert not change.shows
    assert paired(was, was)[0].pm == 0
    assert not paired(was, was)[0].moves


def test_what_is_exact_has_no_spread_and_what_rounds_away_is_no_change():
    one, two = ({"x": Sample("x", ABV, np.array([at]))} for at in (40.0, 41.0))
    assert paired(one, two)[0].moves
    assert str(whatif.told(paired(one, two))).startswith("It changes by the sums alone: x +1.0 % vol.")
    (small,) = paired(one, {"x": Sample("x", ABV, np.array([40.04]))})
    assert not small.moves


def test_the_same_pours_on_both_sides():
    """A pour's change is told far closer than two glasses are: the hand and the fruit fall out."""
    was = trial.run(SOUR)
    now = trial.run(SOUR, recipe=SOUR.recipe.with_amounts([50, 22, 20]))
    found = {c.name: c for c in paired(whatif.samples(was), whatif.samples(now))}
    acid = found["acid"]
    assert acid.change == pytest.approx(trial.difference(now, was)["acid"])
    assert acid.before_pm == pytest.approx(was.served.spread("acid"), rel=1e-9)
    assert acid.pm < acid.apart_pm / 5
    assert acid.moves
    assert not acid.shows
    assert found["alcohol"].change == pytest.approx(0, abs=1e-9)


# --- the eight questions, by hand ---------------------------------------------------------------------------


def test_a_stronger_spirit():
    """Alcohol is by volume of the bottle: 57/40 times as much."""
    alcohol = change_of("spirit", value=57.0, figure="alcohol")
    assert alcohol.after / alcohol.before == pytest.approx(57 / 40)
    assert alcohol.shows


def test_a_milder_lemon():
    acid = change_of("fruit", value=-10.0, figure="acid")
    assert acid.after / acid.before == pytest.approx(0.9, abs=1e-5)  # the volume moves by a trace
    assert change_of("fruit", value=-10.0, figure="strength").change == pytest.approx(0, abs=1e-3)


def test_honey_syrup_for_two_to_one_sugar():
    """The syrups' own sugar: 2:1 by mass is 66.7 °Brix, 885 g/L by its density at 20 °C (ICUMSA SPS-4); honey syrup as
    the pantry has it, with its source."""
    sugar = change_of("swap", value="honey_syrup", figure="sugar")
    brought = 20 * (SHELF["honey_syrup"].sugar - SHELF["sugar_syrup_2to1"].sugar) / 1000
    now = whatif.ask("swap", SOUR, "honey_syrup", pantry=SHELF)
    moved = sugar.after * now.now.served.profile.volume / 1000 - sugar.before * now.was.served.profile.volume / 1000
    assert moved == pytest.approx(brought, rel=1e-6)
    assert SHELF["sugar_syrup_2to1"].sugar == pytest.approx(885, abs=5)


def test_wet_ice():
    """Water on the ice comes with it, melted already: about its own weight more, less what it does not melt for
    chilling; so between half of it and all of it."""
    volume = change_of("wet ice", value=5.0, figure="volume")
    more = 0.03 * dilution.USUAL_ICE
    assert 0.5 * more < volume.change < 1.2 * more
    assert change_of("wet ice", value=5.0, figure="strength").change < 0


def test_a_bar_at_thirty_degrees():
    """Ten degrees more are taken out of the drink by melting: its heat capacity x 10 K over 334 J/g, before it is less
    cold in the end too. Water's 4.18 J/(g K) for most of it, alcohol 2.4."""
    answer = whatif.ask("warm bar", SOUR, 30.0, pantry=SHELF)
    volume = next(c for c in answer.changes if c.name == "volume")
    poured = answer.was.stages[0].profile.mass
    most = poured * 4.18 * 10 / 334
    assert 0.6 * most < volume.change < 1.1 * most


def test_longer_on_the_ice():
    changes = change_of("seconds", value=20.0)
    assert changes["temperature off the ice"].change < 0 < changes["volume"].change
    assert change_of("seconds", value=12.0)["volume"].change == pytest.approx(0, abs=1e-6)


def test_a_warm_glass():
    """Mixing two bodies: (m c T + G t) / (m c + G), with the drink's heat capacity by its parts (water 4.19, ethanol
    2.4, sugar 1.24 J/(g K); handbook figures, from memory)."""
    poured = change_of("warm glass", value=22.0, figure="temperature once poured")
    now = trial.run(whatif.ask("warm glass", SOUR, 22.0, pantry=SHELF).was.setting).served.liquid[0]
    own = 4.19 * float(now.water) + 2.4 * float(now.ethanol) + 1.24 * float(now.sugar)
    share = 150.0 / (own + 150.0)
    assert poured.change == pytest.approx(share * (22 - poured.before), rel=0.1)
    assert poured.kind is TEMPERATURE


def test_water_in_the_batch_is_surer_than_ice():
    answer = whatif.ask("pre-diluted", SOUR, pantry=SHELF)
    strong = next(c for c in answer.changes if c.name == "strength")
    assert strong.change == pytest.approx(0, abs=0.05)
    assert strong.after_pm < 0.75 * strong.before_pm
    assert "how sure it is: strength" in str(answer.said)
    more = change_of("pre-diluted", value=80.0, figure="strength")
    assert more.moves
    assert more.change < 0


@pytest.mark.parametrize("code", whatif.QUESTIONS)
def test_each_question_is_answered_or_says_why_not(code):
    refused = []
    for drink in demo.settings(SHELF).values():
        try:
            answer = whatif.ask(code, drink, pantry=SHELF)
        except InputError as problem:
            refused.append(str(problem))
            continue
        for show in (Display(), Display("oz", "°F")):
            assert show.say(answer.what)
            assert show.say(answer.said).startswith("Same hand, same ice: ")
        if answer.setting is not None:
            trial.run(answer.setting, pantry=SHELF)
    assert all("asked of a drink" in said or "jelly" in said for said in refused), refused
    assert len(refused) < len(demo.settings(SHELF)), "of some demo at least it can be asked"


def test_a_number_out_of_range_is_refused():
    with pytest.raises(InputError, match="Water on the ice is 30; it must be 0 to 20 %"):
        whatif.ask("wet ice", SOUR, 30.0)
    with pytest.raises(InputError, match="sour juice is not in this drink"):
        whatif.ask("fruit", Setting(Recipe.parse("60 mL gin\n30 mL dry vermouth")), pantry=SHELF)


# --- on the bench -------------------------------------------------------------------------------------------


@pytest.fixture
def bench(tmp_path):
    return bench_panel.panel(tmp_path)


def test_the_card_comes_with_the_first_change_and_goes_with_it(bench):
    assert bench.card.layout.display == "none"
    dial = bench.pours.children[1]
    dial.number.value = 24.0
    assert bench.card.layout.display is None
    said = bench.card.words.value
    assert "same hand, same ice" in said
    assert "this glass against that one" in said
    assert "as it was opened" in said
    bench.pin.click()
    assert bench.card.layout.display == "none", "held as it stands, nothing has changed"
    dial.number.value = 20.0
    assert "held to compare" in bench.card.words.value
    dial.number.value = 24.0
    assert bench.card.layout.display == "none"
    bench.unpin.click()
    assert "as it was opened" in bench.card.words.value
    bench.use(SOUR)
    assert bench.card.layout.display == "none", "another drink is no change"


def test_a_question_is_one_choice_and_can_be_taken_up(bench):
    bench.use(SOUR)
    bench.asked.which.value = "spirit"
    assert "57 % in place of gin, 40 %" in bench.asked.words.value
    assert "alcohol +6.7" in bench.asked.words.value
    (dial,) = bench.asked.place.children
    dial.number.value = 50.0
    assert "50 % in place of" in bench.asked.words.value
    bench.asked.take_button.click()
    assert bench.trial.recipe.pours[0].abv == 50
    assert "What changed, from the drink as it was opened" in bench.card.words.value
    assert bench.asked.words.value == ""
    assert not bench.problem.value
    bench.asked.which.value = "fruit"
    assert bench.asked.take_button.layout.display == "none", "no recipe can say that a lemon is milder"


def test_a_question_follows_the_drink_and_its_units(bench):
    bench.use(SOUR)
    bench.asked.which.value = "warm bar"
    before = bench.asked.words.value
    assert "30 °C in place of 20 °C" in before
    bench.pours.children[0].number.value = 60.0
    assert bench.asked.words.value != before
    bench.temperature_unit.value = "°F"
    assert "86 °F in place of 68 °F" in bench.asked.words.value
    bench.technique.value = "none"
    assert "asked of a drink that meets ice" in bench.asked.words.value


def test_a_clear_strong_serve_has_no_answer_about_fruit_but_stays_whole(bench):
    bench.use(Recipe.parse("60 mL gin\n30 mL dry vermouth", technique="stirred"))
    for code in itertools.chain(whatif.QUESTIONS):
        bench.asked.which.value = code
        assert bench.asked.words.value
        assert not bench.problem.value


# --- on the lessons' panels ---------------------------------------------------------------------------------

# A dial of each panel that has sliders, what it moves by, and a figure that must then be told.
MOVED = {
    "dilution": (lambda p: p.seconds, 12, "water from the ice +"),
    "balance": (lambda p: p.pours.children[0], 6, "strength +"),
    "milk": (lambda p: p.share, 0.1, "strength −"),
    "filtering": (lambda p: p.total, 300, "through after +"),
    "schedule": (lambda p: p.wait, 4, "all of it takes +240 min"),
    "carbonation": (lambda p: p.level, 0.5, "gas in the drink +"),
    "gels": (lambda p: p.volume, 50, "gelatin to weigh +"),
}


@pytest.mark.parametrize("name", MOVED)
def test_every_panel_with_sliders_has_the_card(name, tmp_path):
    page = importlib.import_module(f"drinklab.workbook.panels.{name}").panel(tmp_path)
    find, by, told = MOVED[name]
    card, dial = page.what_if, find(page)
    assert card.layout.display == "none"
    before = float(dial.number.value)
    dial.number.value = before + by
    assert not page.problem.value
    assert card.layout.display is None
    assert told in card.words.value
    card.hold_button.click()
    assert card.words.value == "", "held from here, nothing has changed"
    dial.number.value = before
    assert "held to compare" in card.words.value
    card.hold_button.click()
    assert card.words.value == "", "as it was opened"


def test_a_juice_and_a_syrup_tell_what_changed(tmp_path):
    juice, acid, syrup, reading = prep_panel.panel(tmp_path).sections
    for section, dial, told in (
        (juice, juice.volume, "citric acid to weigh +"), (acid, acid.strength, "water to weigh −"),
        (syrup, syrup.brix, "sugar in it +"), (reading, reading.brix, "sugar +"),
    ):  # fmt: skip
        dial.number.value = float(dial.number.value) + 10
        assert told in section.what_if.words.value, section
    assert "±" in juice.what_if.words.value
    assert "±" in reading.what_if.words.value
    assert "No ± is known" in syrup.what_if.words.value


# --- small pictures -----------------------------------------------------------------------------------------


def test_a_bar_is_as_long_as_its_figure_and_never_leaves_its_place():
    drawn = bars.bar(3.0, 12.0, 1.5)
    assert 'width="25.0"' in drawn
    assert 'd="M12.5 6H37.5"' in drawn
    assert 'aria-hidden="true"' in drawn, "the figure beside it is what is read out"
    assert 'width="100.0"' in bars.bar(20, 12)
    assert "dl-bar-pm" not in bars.bar(3, 12, float("nan"))
    assert 'd="M25.0 6H75.0"' in bars.change(0.0, 0.1, 1.0, 2.0)


def test_tables_that_should_be_pictures_have_them(tmp_path, bench):
    pages = {name: importlib.import_module(f"drinklab.workbook.panels.{name}").panel(tmp_path) for name in
             ("dilution", "carbonation")}  # fmt: skip
    assert pages["dilution"].compared.value.count('class="dl-mark"') == 4, "the four techniques"
    assert pages["dilution"].glass_table.value.count('class="dl-mark"') == 4, "the ice left in the glass"
    assert pages["carbonation"].losses.value.count('class="dl-mark"') >= 4, "the gas left"
    assert bench.stages.value.count('class="dl-mark"') == 2 * len(bench.trial.stages), "strength and volume"
    bench.pours.children[1].number.value = 24.0
    assert 'class="dl-bar-own"' in bench.card.words.value, "what changed"


# --- eight questions, counted -------------------------------------------------------------------------------

EIGHT = {  # the actions on the bench: a choice under "What if …", then a number or a choice of the question's own
    "wet ice": ("wet ice", None, "volume +"),
    "57 % spirit for 40 %": ("spirit", 57.0, "strength +"),
    "lemon a tenth less sour": ("fruit", -10.0, "acid −"),
    "batch pre-diluted": ("pre-diluted", None, "strength ± "),
    "honey syrup for 2:1 sugar": ("swap", "honey_syrup", "sugar −"),
    "a bar at 30 °C": ("warm bar", 30.0, "volume +"),
    "20 s shake for 12": ("seconds", 20.0, "volume +"),
    "a warm glass": ("warm glass", None, "temperature once poured +"),
}


def test_eight_questions_on_one_open_bench(bench):
    bench.use(SOUR)
    for question, (code, value, change) in EIGHT.items():
        actions = 1
        bench.asked.which.value = code
        (control,) = bench.asked.place.children
        if value is not None:
            actions += 1
            if isinstance(value, str):
                control.value = value
            else:
                control.number.value = value
        said = bench.asked.words.value
        assert actions <= 3, question
        assert change in said, (question, said)
        assert "±" in said, question
        assert "this glass against that one" in said, question


def test_lessons_take_type_and_colour_from_the_one_design_sheet():
    sheet = (Path(bars.__file__).parent / "lesson.css").read_text(encoding="utf-8")
    assert not re.findall(r"#[0-9a-fA-F]{3,6}\b|rgba?\(|font-size: *\d", sheet)
