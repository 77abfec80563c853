"""Batches: amounts by hand, what is left at the end, what is bought and what is done when."""

from dataclasses import replace
from datetime import datetime

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings
from long_run import examples
from settings import drawn_settings

from drinklab import batch, demo, gels, milk, pantry, schedule, tables, trial
from drinklab.batch import scale, shopping_list
from drinklab.batch.marks import measured
from drinklab.batch.shopping import juice_of
from drinklab.batch.work import each_glass
from drinklab.carbonation import VESSELS
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.physics import acids
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater, Rest
from drinklab.units import FLUID_OUNCE

SHELF = pantry.load()
DRINKS = demo.settings(SHELF)
NOW = datetime(2027, 7, 1, 9)
SOUR = Recipe.parse(
    "60 mL gin\n25 mL lemon juice\n20 mL sugar syrup\n15 mL egg white", name="Test sour", technique="shaken"
)
FIGURES = ("volume", "mass", "abv", "sugar", "acid", "alcohol")


def same(a, b, rel=1e-8):
    for figure in FIGURES:
        assert getattr(a, figure) == pytest.approx(getattr(b, figure), rel=rel, abs=1e-9), figure


def row(made, name):
    return next(r for r in made.rows if r.name.startswith(name))


# --- by hand ------------------------------------------------------------------------------------------------------


def test_a_plain_batch_by_hand_to_the_gram():
    """12 times 60, 25, 20 and 15 mL; 720 mL of 40 % vol at 0.94805 kg/L (OIML R 22, table) are 682.6 g."""
    made = scale(SOUR, pantry=SHELF, serves=12, tool="exact")
    assert [r.ml for r in made.rows] == pytest.approx([720, 300, 240, 180], abs=1e-6)
    assert row(made, "gin").grams == pytest.approx(682.6, abs=0.05)
    assert made.left_over == pytest.approx(0, abs=1e-6)


def test_what_papers_keep_is_worked_backwards_by_hand():
    """Two papers keep 20 mL of 120; a glass is 100 mL. 60 of them are 6000 mL, and 20 mL stay: 6020 of 120 a drink,
    50.1667 times 60 mL of water and 60 of soda-free tea."""
    plain = Setting(Recipe.parse("120 mL water", technique="none"), steps=(Filter(2),), tool="exact")
    made = scale(plain, pantry=SHELF, serves=60)
    assert made.rows[0].ml == pytest.approx(6020, abs=0.1)
    assert made.losses == (("filtered", pytest.approx(20)),)
    assert made.trial.made.volume == pytest.approx(6000, abs=0.1)


def test_water_after_a_filter_follows_what_comes_through():
    """100 mL, 20 stay in the paper, 20 mL of water: four to one. A thousand of them must stay four to one: 80 of 100
    parts of the glass, though the paper still keeps 20 mL in all."""
    drink = Setting(Recipe.parse("100 mL gin", technique="none"), steps=(Filter(2), AddWater(amount=20)), tool="exact")
    made = scale(drink, pantry=SHELF, serves=1000)
    same(made.trial.served.profile, trial.run(drink, pantry=SHELF, draws=0).served.profile)
    gin, water = made.rows[0].ml, made.setting.steps[1].amount
    assert (gin - 20) / water == pytest.approx(4, abs=1e-6)


def test_what_stays_in_the_keg_by_hand():
    """A still drink of 145 mL a glass: 60 are 8700 mL; 150 mL stay in the tube: 8850 mL go in."""
    still = Setting(Recipe.parse("145 mL water", technique="none"), steps=(Rest(1),), tool="exact")
    made = scale(still, pantry=SHELF, serves=60, vessel="keg, 9.5 L", stays="150 mL")
    assert made.bottled == pytest.approx(8850, abs=0.1)
    assert made.stays == pytest.approx(150, abs=0.1)
    assert made.left_over == pytest.approx(0, abs=0.1)
    assert made.fillings == 1
    two = scale(still, pantry=SHELF, serves=90, vessel="keg, 9.5 L", stays=100)
    assert two.fillings == 2  # 13,050 mL and 200 into kegs of 9000
    assert two.bottled == pytest.approx(13_250, abs=0.1)
    assert "2 fillings of the keg, 9.5 L" in " ".join(map(str, two.notes))


def test_a_keg_with_gas_leaves_its_share():
    made = scale(DRINKS["Long Platform"], pantry=SHELF, serves=60, vessel="keg, 9.5 L", stays=150, tool="exact")
    assert made.trial.made.volume * (1 - 150 / made.bottled) == pytest.approx(60 * 145, abs=0.1)
    assert made.left_over == pytest.approx(0, abs=0.1)


# --- through the same path forward ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DRINKS)
def test_a_batch_is_the_same_drink(name):
    drink = DRINKS[name]
    made = scale(drink, pantry=SHELF, serves=37, tool="exact")
    same(
        trial.run(made.setting, pantry=SHELF, draws=0).served.profile,
        trial.run(drink, pantry=SHELF, draws=0).served.profile,
    )
    assert made.serves * made.serve + made.stays + made.left_over == pytest.approx(made.trial.made.volume, abs=0.1)
    assert Setting.from_dict(made.setting.to_dict()) == made.setting


@settings(max_examples=examples(25), suppress_health_check=list(HealthCheck))
@given(drawn_settings(), st.integers(1, 300))
def test_any_drink_is_the_same_in_a_batch(drink, serves):
    drink = replace(drink, tool="exact", draws=0)
    try:
        one = trial.run(drink, pantry=SHELF)
    except InputError:
        return
    made = scale(drink, pantry=SHELF, serves=serves)
    same(made.trial.served.profile, one.served.profile, rel=1e-6)
    assert made.trial.made.volume >= serves * one.served.profile.volume - 0.1


@pytest.mark.parametrize("drink", [SOUR, DRINKS["Slow Signal"].recipe, DRINKS["Long Platform, first glass"].recipe])
def test_water_takes_the_place_of_the_melt(drink):
    made = scale(drink, pantry=SHELF, serves=20, prediluted=True, tool="exact")
    one = trial.run(drink, pantry=SHELF, draws=0)
    same(made.trial.served.profile, one.served.profile)
    assert made.trial.melt == 0
    assert made.water == pytest.approx(20 * one.melt * one.stages[0].profile.volume, rel=1e-3)


def test_own_ice_and_melt_by_hand_are_replaced_too():
    drink = Setting(DRINKS["Slow Signal"].recipe, melt=0.5, tool="exact", draws=0)
    same(
        scale(drink, pantry=SHELF, serves=9, prediluted=True).trial.served.profile,
        trial.run(drink, pantry=SHELF).served.profile,
    )


def test_all_of_two_bottles():
    made = scale(SOUR, pantry=SHELF, bottles=("gin", 2, "700 mL"), tool="exact")
    assert row(made, "gin").ml == pytest.approx(1400)
    assert made.serves == 23  # 1400 by 60 is 23.3
    with pytest.raises(InputError, match="one of gin"):
        scale(SOUR, pantry=SHELF, bottles=("vodka", 2, 700))


@pytest.mark.parametrize("vessel", ["keg, 9.5 L", "keg, 19 L", "siphon, 1 L"])
@pytest.mark.parametrize("unit", ["mL", "oz"])
def test_a_vessel_is_filled_and_never_over_its_mark(vessel, unit):
    made = scale(DRINKS["Long Platform"], pantry=SHELF, vessel=vessel, display=Display(unit))
    assert 0.97 * VESSELS[vessel].fill <= made.bottled <= VESSELS[vessel].fill * (1 + 1e-9)


def test_a_bottle_of_ones_own_keeps_its_headspace():
    made = scale(DRINKS["Slow Signal"], pantry=SHELF, vessel="1 L", headspace=0.1, prediluted=True, tool="exact")
    assert made.bottled == pytest.approx(900, abs=0.1)


def test_what_freezes_needs_more_room():
    """Ice takes up 9 % more than water (0.9167 and 0.9982 g/mL, CRC Handbook): a drink of 22 % vol at -18 °C."""
    plain, cold = (
        scale(DRINKS["Slow Signal"], pantry=SHELF, vessel="1 L", headspace=0, prediluted=True, tool="exact", keep_at=at)
        for at in (None, -18)
    )
    assert plain.bottled == pytest.approx(1000, abs=0.1)
    assert 960 < cold.bottled < 985
    assert any("slush" in str(note) for note in cold.notes)


# --- measured ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ml", "unit", "expected"), [(2713.2, "mL", 2700), (847, "mL", 850), (41.4, "mL", 41), (7.3, "mL", 7.5)]
)
def test_marks(ml, unit, expected):
    assert measured(ml, "jigger", Display(unit)) == pytest.approx(expected)


@given(st.floats(0.01, 1e5), st.sampled_from(["mL", "oz"]), st.sampled_from(["jigger", "scale", "free pour"]))
def test_nothing_is_rounded_away(ml, unit, tool):
    # Halfway between the marks at ⅜ and ½ oz, which of all lie farthest apart, is a seventh off.
    assert abs(measured(ml, tool, Display(unit)) / ml - 1) < 1 / 7 + 0.005 / ml


def test_what_measuring_does_is_told():
    drink = DRINKS["Clear Line"]
    right = scale(drink, pantry=SHELF, serves=60, tool="exact")
    made = scale(drink, pantry=SHELF, serves=60)
    for figure in ("abv", "sugar", "acid"):
        off = getattr(made.trial.served.profile, figure) - getattr(right.trial.served.profile, figure)
        assert made.error[figure] == pytest.approx(off, abs=1e-6)
    assert set(right.error.values()) == {0}
    assert all(r.ml % 10 == 0 for r in made.rows if r.ml)
    grams = scale(drink, pantry=SHELF, serves=60, tool="scale").rows[0].grams
    assert grams == pytest.approx(round(grams), abs=1e-6)


def test_ounces_are_measured_in_ounces():
    made = scale(SOUR, pantry=SHELF, serves=12, display=Display("oz"))
    assert row(made, "gin").ml / FLUID_OUNCE == pytest.approx(24.5)  # 720 mL are 24.35 oz; a jug has half ounces


# --- what waits and what does not ---------------------------------------------------------------------------------------


def test_egg_citrus_cream_herbs_and_gas_do_not_wait():
    drink = Recipe.parse(
        "45 mL gin\n20 mL lime juice\n15 mL cream\n10 mL egg white\n5 g mint\n20 mL sugar syrup\n20 mL bottled lime juice\n"
        "top 60 mL soda water", technique="built",
    )  # fmt: skip
    when = {r.key: r.when for r in scale(drink, pantry=SHELF, serves=10).rows}
    assert when == {
        "gin": "batch", "lime_juice": "day", "cream_heavy": "glass", "egg_white": "glass", "mint": "glass",
        "sugar_syrup_1to1": "batch", "lime_juice_bottled": "batch", "soda_water": "glass",
    }  # fmt: skip


def test_a_washed_drink_is_made_whole_and_dated_by_a_code():
    made = scale(DRINKS["Clear Line"], pantry=SHELF, serves=60)
    assert {r.when for r in made.rows} == {"batch", "step"}
    assert "within 7 days" in str(made.notes[0])
    assert "4626.0400" in str(made.notes[0])
    assert "Your own code decides" in str(made.notes[0])


def test_each_glass_adds_up():
    made = scale(SOUR, pantry=SHELF, serves=12, tool="exact")
    assert str(each_glass(made)) == "For each glass: 105 mL of the batch and 15 mL of egg white, raw; shaken with ice."


# --- what is bought ---------------------------------------------------------------------------------------------------


def test_fruit_by_published_yields():
    """Independent of the rows: lemons, 137 g each, give at least the 20 % of the UNECE standard, and 40.5 to 50 % after
    months in store (USDA Marketing Research Report 292, 1958; second hand); the juiciest of 70 acid limes held 57.13 %
    (elite strains of acid lime, Jammu, abstract), of a fruit of 54 g."""
    usual, poor, good = juice_of(SHELF["lemon_juice"])
    assert 0.20 * 137 / 1.03 < poor < usual < 0.405 * 137 / 1.03 < good < 0.51 * 137 / 1.02
    usual, poor, good = juice_of(SHELF["lime_juice"])
    assert poor < usual < 0.5713 * 54.3 / 1.02 < good
    assert poor < schedule.LEMON_YIELD < juice_of(SHELF["lemon_juice"])[0]
    for item in tables.read("fruit").rows():
        assert item["juice_low_g"] < item["juice_g"] < item["juice_high_g"]


def test_lemons_by_hand():
    """1200 mL of juice at 1.031 g/mL are 1237 g: 26 lemons of 48 g (USDA SR28 09152), 40 poor ones of 31 g."""
    found = batch.fruit(SHELF["lemon_juice"], 1200)
    assert (found.count, found.high) == (26, 40)


def test_one_list_over_several_drinks():
    many = [scale(SOUR, pantry=SHELF, serves=30), scale(DRINKS["First Frost"], pantry=SHELF, serves=20)]
    listed = shopping_list(many, {"pisco": "1 L"}, size=750)
    by = {bought.key: bought for bought in listed}
    assert (by["gin"].count, by["gin"].size, by["gin"].left) == (3, 750, pytest.approx(450))  # 1800 mL
    assert (by["pisco"].count, by["pisco"].left) == (2, pytest.approx(900))  # 1100 mL
    # 30 times 15 and 20 times 15 mL are 772.5 g: 24 whites of 33 g (USDA SR28 01124: a large egg's white)
    assert by["egg_white"].pieces == "24 eggs"
    assert by["egg_white"].drinks == ("Test sour", "First Frost")
    assert "water" not in by
    assert by["lemon_juice"].fruit.high == 25


def test_what_goes_beside_is_bought_too():
    made = scale(DRINKS["Clear Line"], pantry=SHELF, serves=60)
    by = {bought.name: bought for bought in shopping_list(made)}
    assert by["cold green tea, unsweetened"].drinks == ("Clear Line", "Amontillado and tea jelly")
    assert by["cold green tea, unsweetened"].ml == pytest.approx(1300)
    assert "gelatin, 200 Bloom" in by
    assert by["skimmed cow's milk"].count == 2


# --- the day --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["19:00", "7 pm", "7pm", "7:00 PM", "19.00", "7 p.m."])
def test_either_clock(text):
    assert f"{schedule.clock(text):%H:%M}" == "19:00"
    assert schedule.moment(f"2027-07-03 {text}") == datetime(2027, 7, 3, 19)


@pytest.mark.parametrize(
    "text", ["7", "25:00", "13 pm", "0 pm", "seven", "", "7:75", "19:00 pm", "７:00", "7:00:00:00"]
)
def test_no_time_is_refused(text):
    if text == "７:00":  # a full-width seven is a digit to Unicode, and reads as one
        assert schedule.clock(text).hour == 7
        return
    with pytest.raises(InputError, match="such as 18:00 or 6 pm"):
        schedule.clock(text)


def test_the_order_of_work_has_amounts_and_name_and_nothing_else():
    platform = batch.work(
        scale(DRINKS["Long Platform"], pantry=SHELF, serves=60), "2027-07-03 7 pm", now=NOW
    ).checklist()
    assert platform.startswith("# Long Platform, 60 serves, to serve at 19:00 on Sat 3 Jul")
    assert "4150 mL of apple juice" in platform
    for word in ("milk", "Milk", "Dairy", "lemon", "jelly", "filter", "Filter", "Clear", "Squeeze", "squeeze"):
        assert word not in platform
    line = batch.work(
        scale(DRINKS["Clear Line"], pantry=SHELF, serves=60, papers=6), "2027-07-03 19:00", now=NOW
    ).checklist()
    for word in (
        "mL of lime juice: about 25 limes (17 to 34)",
        "1150 mL of cold skimmed",
        "6 papers",
        "gelatin",
        "Milk stays",
    ):
        assert word in line
    assert "lemon" not in line


def test_a_drink_on_ice_has_no_steps_that_it_lacks():
    keys = [s.key for s in batch.stages(scale(SOUR, pantry=SHELF, serves=12))]
    assert keys == ["mix", "juice", "add"]
    keys = [s.key for s in batch.stages(scale(DRINKS["Slow Signal"], pantry=SHELF, serves=12, prediluted=True))]
    assert keys == ["mix", "chill"]
    twice = Setting(Recipe.parse("60 mL gin", technique="none"), steps=(Rest(2), Filter(1), Rest(3)))
    assert [s.key for s in batch.stages(scale(twice, pantry=SHELF, serves=50))] == ["mix", "rest", "filter", "rest 2"]


# --- bad input ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"serves": 0}, "serves is 0"), ({"serves": -3}, "serves is -3"), ({"serves": 2.5}, "serves is 2.5"),
        ({"serves": True}, "serves"), ({"serves": 1_000_000}, "serves"),
        ({}, "what is wanted is nothing"), ({"serves": 3, "volume": 500}, "serves and volume"),
        ({"volume": 0}, "volume wanted is 0 mL"), ({"volume": "-1 L"}, "volume wanted"), ({"volume": "lots"}, "volume wanted"),
        ({"volume": float("nan")}, "volume wanted"), ({"volume": 20}, "at least one serve"),
        ({"bottles": ("gin", 1, 0)}, "size of the bottle is 0 mL"), ({"bottles": ("gin", 0, 700)}, "number of bottles"),
        ({"bottles": ("gin", 1, 10)}, "at least one serve"),
        ({"vessel": "20 mL"}, "at least one serve"), ({"vessel": "kegg, 19 L"}, "vessel"), ({"vessel": 0}, "volume of the vessel"),
        ({"vessel": 1000, "count": 0}, "number of vessels"), ({"vessel": 1000, "headspace": 1}, "headspace"),
        ({"serves": 3, "vessel": 1000, "stays": 900}, "what stays"), ({"serves": 3, "vessel": 1000, "stays": -1}, "what stays"),
        ({"serves": 3, "papers": 0}, "papers"),
    ],
)  # fmt: skip
def test_what_makes_no_batch_is_refused_in_a_sentence(wish, words):
    with pytest.raises(InputError, match=words):
        scale(DRINKS["Slow Signal"] if "bottles" not in wish else SOUR, pantry=SHELF, **wish)


def test_a_gassed_drink_goes_into_what_is_made_for_pressure():
    for vessel in ("ordinary glass bottle, 0.75 L", "5 L", 5000):
        with pytest.raises(InputError, match="vessel"):
            scale(DRINKS["Long Platform"], pantry=SHELF, vessel=vessel)


def test_bottles_of_no_volume_are_refused():
    made = scale(SOUR, pantry=SHELF, serves=3)
    for wrong in (0, -700, "none"):
        with pytest.raises(InputError, match="size of a bottle"):
            shopping_list(made, {"gin": wrong})
    with pytest.raises(InputError):
        shopping_list(made, {"no such thing": 700})


@pytest.mark.parametrize(
    "wish",
    [{"vessel": "keg, 9.5 L"}, {"volume": "7 L"}, {"bottles": ("apple juice", 3, 1000)}, {"vessel": "siphon, 1 L"}],
)
@pytest.mark.parametrize("unit", ["mL", "oz"])
def test_less_than_a_glass_is_left_over(wish, unit):
    made = scale(DRINKS["Long Platform"], pantry=SHELF, display=Display(unit), **wish)
    assert 0 <= made.left_over < made.serve
    assert made.serves * made.trial.served.profile.volume + made.left_over == pytest.approx(made.trial.made.volume)


def test_a_batch_solves_one_balance_a_run_of_a_step(monkeypatch):
    """A wash or a jelly is solved once each time it is taken forward: for its ±, its order of work and its list too."""
    solved = []
    solve = acids._solve
    monkeypatch.setattr(acids, "_solve", lambda *given: solved.append(1) or solve(*given))
    runs = []
    for step in (milk.MilkWash, gels.Set):
        monkeypatch.setattr(step, "act", lambda *given, act=step.act: runs.append(1) or act(*given))
    made = scale(DRINKS["Clear Line"], pantry=SHELF, serves=47)
    assert len(solved) == len(runs) > 3, (len(solved), len(runs))
    solved.clear()
    read = {stage.name: stage.ph for stage in made.trial.stages}
    # Rested, filtered, chilled and shared out it has the pH that it had: the ± of the mix and two pH are solved.
    assert (len(read), len(solved), len(set(read.values()))) == (6, 3, 2)
