"""The bench with a whole setting: what is loaded is what is run, steps and what goes with it by hand, the drink in hand."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from long_run import examples
from settings import drawn_settings, made

from drinklab import classics, gels, logbook, pantry, trial
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill
from drinklab.carbonation import Pour as PourGas
from drinklab.dilution import OwnIce, melt_fraction
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe, usual_way
from drinklab.setting import LATER_STEPS, Setting
from drinklab.steps import AddWater, Rest
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.parts import next_steps

SHELF = pantry.load()
SAVED = sorted((Path(__file__).parent / "saved_0_1_0" / "trials").glob("*.json"))
SOUR = Recipe.parse("45 mL pisco\n25 mL lime juice\n20 mL honey syrup", name="First Frost", technique="shaken")
LINE = Recipe.parse("900 mL gin, 45 %\n450 mL lemon juice\n300 mL honey syrup", name="Clear Line", technique="none")


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    return bench_panel.panel(tmp_path_factory.mktemp("bench"))


@pytest.fixture
def bench(tmp_path):
    return bench_panel.panel(tmp_path)


def type_in(bench, text, name="new"):
    bench.typed.value, bench.typed_name.value = text, name
    bench.typed_use.click()


def add(bench, kind):
    bench.next.which.value = kind
    bench.next.add_button.click()


# --- whole ------------------------------------------------------------------------------------------------


@settings(max_examples=examples(25), suppress_health_check=list(HealthCheck))
@given(drawn_settings())
def test_a_setting_is_the_same_on_the_bench(shared, setting):
    """To the last digit, whatever units it is shown in."""
    if (now := made(setting)) is None:
        return
    shared.use(setting)
    assert shared.problem.value == ""
    assert shared.setting() == setting
    assert shared.trial.stages == now.stages
    assert shared.trial.cautions == now.cautions
    shared.temperature_unit.value = {"°C": "°F", "°F": "°C"}[setting.display.temperature]
    shared.volume_unit.value = {"mL": "oz", "oz": "mL"}[setting.display.volume]
    assert replace(shared.setting(), display=setting.display) == setting


def test_what_has_no_control_is_kept(bench):
    ice = OwnIce(ice=150, wetness="wet", seconds=None, vessel=300, room=24.0, pace=1.2, miss=2.0)
    steps = (
        MilkWash(amount=30.0, hold_up=5.0), Filter(2, 12.5), Carbonate(pressure="22 psi", temperature=3, limit=600),
        PourGas(3), Set("gelatin", bloom=180, water=None, ph=3.1),
    )  # fmt: skip
    bench.use(Setting(SOUR, ice=ice, steps=steps[:1], serve_volume="3 oz", seed=7, draws=50))
    assert bench.trial.ice == replace(ice, seconds=12.0)  # the usual, settled by the run
    bench.chilling.dials["ice"].number.value = 200
    assert bench.setting().ice == replace(ice, ice=200)
    assert (bench.setting().seed, bench.setting().draws) == (7, 50)
    bench.next.use(steps, bench.display)
    assert bench.next.steps() == steps
    bench.next.rows[1].controls["papers"].number.value = 3
    assert bench.next.steps()[1] == Filter(3, 12.5)


@pytest.mark.parametrize("path", SAVED, ids=[path.stem for path in SAVED])
def test_old_saved_trials_open_whole_and_run_once(tmp_path, path, monkeypatch):
    (tmp_path / "trials").mkdir()
    copy = tmp_path / "trials" / path.name
    copy.write_bytes(path.read_bytes())
    bench = bench_panel.panel(tmp_path)
    found, runs, run = logbook.open_saved(copy), [], trial.run
    monkeypatch.setattr(trial, "run", lambda *a, **k: runs.append(1) or run(*a, **k))
    bench.choose.value = ("saved", str(copy))
    assert len(runs) == 1 + len(found.setting.beside)
    assert bench.problem.value == ""
    assert bench.trial.stages == run(found.setting, pantry=found.pantry).stages
    assert found.notes
    for note in found.notes:
        assert note in unescape(bench.said.value)


# --- what is done next --------------------------------------------------------------------------------------


def test_every_later_step_can_be_added():
    assert set(next_steps.KINDS) == set(LATER_STEPS)


def test_steps_by_hand(bench):
    bench.use(LINE)
    for kind in (AddWater, MilkWash, Filter):
        add(bench, kind)
    assert [s.name for s in bench.trial.stages][-4:-1] == ["water added", "milk-washed", "filtered"]
    assert "Contains: milk" in bench.cautions.value
    milk = bench.next.rows[1]
    milk.controls["share"].number.value = 30
    milk.controls["milk"].value = "skimmed cow's milk"
    assert bench.setting().steps[1] == MilkWash("skimmed cow's milk", share=0.3)
    bench.next.rows[2].earlier.click()
    assert [type(s) for s in bench.setting().steps] == [AddWater, Filter, MilkWash]
    bench.next.rows[1].remove.click()
    same = trial.run(Setting(LINE, steps=(AddWater(), MilkWash("skimmed cow's milk", share=0.3))))
    assert bench.trial.stages == same.stages


def test_a_step_that_cannot_be_done_is_told_of_and_can_be_mended(bench):
    bench.use(SOUR)
    add(bench, Chill)
    bench.temperature_unit.value = "°F"
    good = bench.stages.value
    dial = bench.next.rows[0].controls["temperature"]
    assert (dial.number.value, dial.unit.value) == (39.2, "°F")
    dial.number.value = 16
    assert "freez" in bench.problem.value
    assert (len(bench.next.rows), bench.stages.value) == (1, good)
    dial.number.value = 30
    assert bench.problem.value == ""
    assert bench.setting().steps[0].temperature == pytest.approx(-1.11, abs=0.01)
    add(bench, PourGas)
    assert "carbonate it before you pour it" in bench.problem.value
    bench.next.rows[1].remove.click()
    assert bench.problem.value == ""


def test_gas_follows_the_cold_before_it(bench):
    bench.use(SOUR)
    add(bench, Chill)
    bench.next.rows[0].controls["temperature"].number.value = 2
    add(bench, Carbonate)
    assert bench.setting().steps[1] == Carbonate(volumes=2.5, temperature=2)
    bench.next.rows[1].controls["vessel"].value = "siphon, 1 L"
    bench.next.rows[1].controls["volumes"].number.value = 2
    assert bench.trial.stages[-2].gas[0] == pytest.approx(
        2 * 44.01 / 22.414, rel=0.01
    )  # g/L in a volume: molar mass over volume
    assert "Gas" in bench.stages.value


def test_a_jelly_takes_the_water_it_needs_until_told_otherwise(bench):
    weak = Recipe.parse("60 mL amontillado sherry\n100 mL apple juice", name="Cubes", technique="none")
    bench.use(weak)
    add(bench, Set)
    step = bench.setting().steps[0]
    assert step.water is None
    mixed = bench.trial.stages[0]
    water, grams = step.needs(mixed.liquid), bench.trial.stages[1].liquid.solids[0] - mixed.liquid.solids[0]
    assert water == pytest.approx(grams * gels.agents()["agar"].water_ml_per_g, rel=0.01)
    row = bench.next.rows[0]
    row.controls["water"].tick.value = False
    row.controls["water"].dial.number.value = 80
    assert bench.setting().steps[0].water == 80
    row.controls["agent"].value = "gelatin"
    row.controls["fish"].value = True
    assert "Contains: sulphites, fish" in bench.cautions.value
    row.controls["agent"].value = "agar"
    assert bench.problem.value == ""
    assert bench.setting().steps[0] == Set("agar", water=80)


def test_a_wash_without_water_says_so_and_adds_it(bench):
    """The share is the stirred rule's for the strength of the mix."""
    bench.use(LINE)
    assert bench.next.add_water.layout.display == "none"
    add(bench, MilkWash)
    assert bench.next.add_water.layout.display is None
    share = melt_fraction(bench.trial.stages[0].profile.abv, "stirred")
    assert f"{100 * share:.0f} %" in bench.next.missing.value
    bench.next.add_water.click()
    assert bench.setting().steps == (AddWater(round(float(share), 2)), MilkWash(share=0.25))
    assert bench.next.add_water.layout.display == "none"
    bench.use(replace(LINE, technique="stirred"))
    add(bench, MilkWash)
    assert bench.next.add_water.layout.display == "none"  # the ice has brought it


# --- what goes with it, and glasses --------------------------------------------------------------------------


def test_a_jelly_goes_with_the_drink(bench):
    bench.use(SOUR)
    alone = bench.trial.alcohol
    bench.beside.which.value = ("beside", "Amontillado and tea jelly")
    bench.beside.add_button.click()
    (jelly,) = bench.trial.beside
    assert bench.trial.alcohol == pytest.approx(alone + jelly.served.profile.alcohol)
    assert f"{bench.trial.alcohol / 14:.1f} standard drinks" in bench.headline.value  # 14 g, United States
    bench.beside.dials[0].number.value = 9  # a cube of 2 cm is 8 mL
    assert bench.trial.beside[0].served.profile.alcohol == pytest.approx(9 / 8 * jelly.served.profile.alcohol)
    bench.save()
    _, key = next(o for o in bench.choose.options if o[1] and o[1][0] == "saved")
    again = logbook.load(key[1])
    assert again.setting == bench.trial.setting
    bench.beside._drop(0)
    assert bench.trial.beside == ()


def test_a_batch_is_shared_out(bench):
    bench.use(LINE)
    bench.serves.number.value = 12
    assert "Figures of one glass of 12" in bench.headline.value
    assert bench.trial.served.profile.volume == pytest.approx(bench.trial.made.volume / 12)
    bench.glass.number.value = 120
    assert f"{bench.trial.made.volume - 1440:.0f} mL is left over" in bench.headline.value
    bench.glass.number.value = 200
    assert "Serve size is 200 mL" in bench.problem.value
    bench.serves.number.value = 2.5
    assert "Serves is 2.5; it must be a whole number" in bench.problem.value


# --- how a typed recipe is made ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("60 mL gin\n25 mL lime juice\n20 mL sugar syrup", ("shaken", "up", "sour")),
        ("60 mL rye\n30 mL sweet red vermouth\n2 dashes aromatic bitters", ("stirred", "up", "stirred spirit-forward")),
        ("45 mL gin\ntop 120 mL tonic water", ("built", "long", "highball")),
        ("45 mL vodka\n120 mL orange juice", ("built", "long", "highball")),
        ("45 mL aged rum\n120 mL hot water\n15 mL honey", ("none", "hot", "hot")),
        ("45 mL cognac\n30 mL cream\n20 mL sugar syrup", ("shaken", "up", "creamy")),
        ("45 mL pisco\n25 mL lime juice\n20 mL sugar syrup\n1 egg white", ("shaken", "up", "sour")),
        ("900 mL gin\n400 mL lemon juice\n300 mL honey syrup", ("none", "up", "punch")),
    ],
)
def test_the_usual_way(text, way):
    found = usual_way(Recipe.parse(text), SHELF)
    assert (found.technique, found.serve, found.family) == way
    assert found.why
    assert found.batch == ("900" in text)


def test_the_usual_way_of_the_classics():
    """Beside the published techniques of datasets/classics.csv; shaken spirit and swizzles cannot be told by bottles."""
    known = classics.load()
    same = [recipe.technique == usual_way(recipe, SHELF, recipe.name).technique for recipe in known]
    print(f"usual way: {sum(same)} of {len(same)} classics")
    assert sum(same) / len(same) > 0.7


def test_a_typed_recipe_takes_its_way_and_says_so(bench):
    type_in(bench, "45 mL gin\ntop 120 mL tonic water", "Long")
    assert (bench.technique.value, bench.serve.value, bench.family.value) == ("built", "long", "highball")
    assert "Taken from the recipe: built, served long, highball" in bench.way.value
    bench.technique.value = "shaken"
    bench.typing.selected_index = 0
    bench.typed.value = bench.typed.value.replace("120", "100")
    bench.typed_use.click()
    assert bench.technique.value == "shaken"  # the same drink, changed: what the person chose stays
    type_in(bench, "45 mL aged rum\n120 mL hot water", "Grog")
    assert (bench.trial.melt, bench.trial.served.temperature) == (0, 65)
    assert "Hot liquid" in bench.cautions.value
    assert "65 °C: common practice" in bench.stages.value
    bench.own_ice.value = True
    assert "left out of a drink that is served hot" in bench.problem.value
    bench.own_ice.value = False
    bench.serve.value = "up"
    assert "Hot" not in bench.family.value
    type_in(bench, "900 mL gin\n400 mL lemon juice\n300 mL honey syrup", "Batch")
    assert "Say how many glasses it makes" in bench.way.value


def test_a_refused_recipe_is_told_of_until_another_is_used(bench):
    type_in(bench, "45 mL ginn")
    bench.pours.children[0].slider.value = 50
    assert "did you mean gin?" in bench.problem.value
    type_in(bench, "45 mL gin\n20 mL lime juice")
    assert bench.problem.value == ""
    type_in(bench, "45 mL ginn")
    bench.choose.value = ("classic", "Daiquiri")
    assert bench.problem.value == ""


def test_a_version_without_acid_is_compared_in_numbers(bench):
    """The ratio to no acid, which has no difference, is no figure in view: the five that are have one each."""
    type_in(bench, "45 mL gin\n10 mL sugar syrup")
    bench.pin_baseline()
    assert bench.headline.value.count("<i>") == 5
    assert "<i>0.0 g/L</i>" in bench.headline.value
    type_in(bench, "45 mL gin\n20 mL lime juice")
    assert not re.search("nan|inf|no acid", bench.headline.value)
    bench.take_pin_off()
    assert "<i>" not in bench.headline.value


# --- the drink in hand -----------------------------------------------------------------------------------------


def test_nothing_is_in_hand_before_a_hand_moves(bench):
    assert not (bench.folder / logbook.IN_HAND).exists()
    bench.pours.children[0].slider.value = 50
    assert logbook.in_hand(bench.folder).setting == bench.setting()


def test_a_draft_opens_again_whole(bench):
    bench.use(Setting(SOUR, ice=OwnIce(ice_temperature=-9.0), steps=(Rest(3),), display=Display("oz", "°F")))
    add(bench, Filter)
    bench.note.value = "clearer"
    again = bench_panel.panel(bench.folder)
    assert again.trial.stages == bench.trial.stages
    assert again.setting() == bench.trial.setting
    assert (again.note.value, again.display) == ("clearer", Display("oz", "°F"))
    assert not list(bench.folder.glob("trials/*.json"))


def test_another_drink_sets_the_old_one_aside_once(bench):
    bench.pours.children[0].slider.value = 50
    mine = bench.trial
    bench.choose.value = ("classic", "Daiquiri")
    (entry,), _ = logbook.entries(bench.folder)
    assert logbook.load(entry.path).stages == mine.stages
    assert "is kept as trials" in bench.said.value
    bench.choose.value = ("classic", "Negroni")  # the one before was a classic as it comes
    assert len(logbook.entries(bench.folder)[0]) == 1
    bench.choose.value = next(value for _, value in bench.choose.options if value and value[0] == "saved")
    assert bench.trial.stages == mine.stages
    bench.choose.value = ("classic", "Negroni")  # the one before is a saved trial
    assert len(logbook.entries(bench.folder)[0]) == 1
    assert logbook.in_hand(bench.folder).setting.recipe.name == "Negroni"


def test_a_bench_on_a_drink_of_its_own_keeps_what_was_in_hand(tmp_path):
    logbook.put_in_hand(tmp_path, Setting(SOUR, steps=(Rest(2),)), SHELF)
    bench = bench_panel.panel(tmp_path, LINE)
    assert logbook.in_hand(tmp_path).setting.recipe == SOUR
    bench.pours.children[0].slider.value = 800
    assert logbook.in_hand(tmp_path).setting.recipe.name == "Clear Line"
    (entry,), _ = logbook.entries(tmp_path)
    assert logbook.load(entry.path).setting == Setting(SOUR, steps=(Rest(2),))


def test_a_lesson_that_puts_in_hand_is_followed(bench):
    bench.pours.children[0].slider.value = 50
    logbook.put_in_hand(bench.folder, Setting(SOUR, steps=(Rest(2), Boil(0.05))), SHELF, note="from a lesson")
    bench.hand.look()
    assert bench.trial.setting == Setting(SOUR, steps=(Rest(2), Boil(0.05)))
    assert bench.note.value == "from a lesson"
    bench.next.rows[1].remove.click()
    assert logbook.in_hand(bench.folder).setting.steps == (Rest(2),)


def test_a_damaged_draft_is_said_and_the_bench_opens(tmp_path):
    (tmp_path / logbook.IN_HAND).write_text("{", encoding="utf-8")
    bench = bench_panel.panel(tmp_path)
    assert "n_hand.json" in bench.said.value
    assert bench.trial is not None
    with pytest.raises(InputError):
        logbook.in_hand(tmp_path)


def test_the_serve_size_shows_the_equal_share_while_all_of_it_is_served(tmp_path):
    bench = bench_panel.panel(tmp_path, Recipe.parse("600 mL gin\n300 mL lime juice", technique="none"))
    share = bench.trial.served.profile.volume
    assert bench.glass.number.value == pytest.approx(share, abs=0.1)
    assert bench.glass.slider.disabled
    assert bench.glass.number.disabled
    bench.serves.number.value = 10
    assert bench.glass.number.value == pytest.approx(share / 10, abs=0.1)
    bench.volume_unit.value = "oz"
    assert bench.glass.number.value == pytest.approx(share / 10 / 29.5735, abs=0.01)
    assert bench.glass.slider.disabled
    bench.serve_all.value = False  # goes on from there
    assert not bench.glass.slider.disabled
    assert not bench.glass.number.disabled
    assert bench.trial.served.profile.volume == pytest.approx(share / 10)
    bench.glass.number.value = 2
    bench.serve_all.value = True
    assert bench.glass.number.value == pytest.approx(share / 10 / 29.5735, abs=0.01)
