"""Each lesson shows the drink in hand whole: its figures are the trial's up to that lesson's step, its allergens all.

The other side is `trial.run` alone, which the published and measured values of the other tests hold in place.
"""

import math
import re
from dataclasses import replace
from html import unescape

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from settings import SHELF, drawn_settings, made, washed_settings

from drinklab import logbook, trial, writeup
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill
from drinklab.carbonation import Pour as PourGas
from drinklab.dilution import OwnIce
from drinklab.display import Display
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.panels import carbonation as carbonation_panel
from drinklab.workbook.panels import dilution as dilution_panel
from drinklab.workbook.panels import filtering as filtering_panel
from drinklab.workbook.panels import gels as gels_panel
from drinklab.workbook.panels import milk as milk_panel
from drinklab.workbook.panels import reach as reach_panel
from drinklab.workbook.panels import schedule as schedule_panel

CLEAR = Recipe.parse(
    "900 mL gin, 45 %\n500 mL cold green tea\n300 mL lime juice\n300 mL honey syrup",
    name="Clear Line",
    technique="none",
)
WASHED = Setting(CLEAR, steps=(AddWater(0.2), MilkWash(share=0.25), Filter(2)), serves=12, serve_volume=120)
SOUR = Recipe.parse("45 mL gin\n25 mL lime juice\n20 mL honey syrup", name="First Frost", technique="shaken")
whole = st.one_of(drawn_settings(), washed_settings())


def few(examples):
    return settings(
        max_examples=examples,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )


def _text(place):
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value)))


def _held(tmp_path_factory, setting):
    folder = tmp_path_factory.mktemp("bar")
    logbook.put_in_hand(folder, setting, SHELF)
    return folder


def _declared(panel, setting):
    said = _text(panel.cautions)
    for word in trial.run(setting, pantry=SHELF, draws=0).allergens:
        assert word in said.partition("Contains:")[2]


def _before(setting, step):
    """The trial's last stage before this kind of step: until its first one, or where it is usually done."""
    until = setting.until(type(step)) if setting.step(type(step)) else setting.with_step(step).until(type(step))
    return trial.run(until, pantry=SHELF, draws=0).served


@pytest.mark.filterwarnings("error::RuntimeWarning")
@few(12)
@given(setting=whole.map(lambda setting: replace(setting, draws=0)))
def test_every_lesson_shows_it_whole(setting, tmp_path_factory):
    _shown_whole(setting, tmp_path_factory)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@few(3)
@given(setting=whole.map(lambda setting: replace(setting, draws=50)))
def test_every_lesson_shows_it_whole_with_its_chance(setting, tmp_path_factory):
    _shown_whole(setting, tmp_path_factory)


def _shown_whole(setting, tmp_path_factory):
    if made(setting) is None:
        return
    folder = _held(tmp_path_factory, setting)
    gas = carbonation_panel.panel(folder)
    expected = _before(setting, Carbonate(2.0)).profile
    assert gas._drink().figures.abv == pytest.approx(expected.abv, rel=1e-9)
    assert gas._drink().figures.sugar == pytest.approx(expected.sugar, rel=1e-9)
    assert gas.problem.value or f"{expected.abv:.1f} % vol" in gas.headline.value
    _declared(gas, setting)
    gel = gels_panel.panel(folder)
    expected = _before(setting, Set()).liquid[0]
    assert gel.liquid().grams == pytest.approx(expected.grams, rel=1e-9, abs=1e-9)
    _declared(gel, setting)
    for panel in (balance_panel.panel(folder),):
        assert panel.drink() == setting
        _declared(panel, setting)
    washed = milk_panel.panel(folder)
    if not washed.problem.value:
        first = _before(setting, MilkWash())
        mixed = washed.made.stages[len(washed.made.stages) - 2 - len(washed.made.steps) + [
            isinstance(step, milk_panel._Seen) for step in washed.made.steps].index(True)].profile  # fmt: skip
        assert (mixed.abv, mixed.sugar) == pytest.approx((first.profile.abv, first.profile.sugar), rel=1e-6)
        if setting.step(MilkWash):
            assert not washed.problem.value
            assert washed.washed.volume == pytest.approx(trial.run(setting.until(Filter), pantry=SHELF, draws=0).made.volume
                                                         if setting.step(Filter) else washed.washed.volume)  # fmt: skip
    _declared(washed, setting)


def test_a_washed_drink_is_gassed_and_set_as_washed(tmp_path_factory):
    folder = _held(tmp_path_factory, WASHED)
    after = trial.run(WASHED, draws=0).made
    gas, gel = carbonation_panel.panel(folder), gels_panel.panel(folder)
    for panel, words in ((gas, _text(gas.headline)), (gel, _text(gel.headline))):
        assert "In hand: Clear Line" in _text(panel.head)
        assert "milk" in _text(panel.cautions).partition("Contains:")[2]
        assert "of lactose" in words
        assert "of protein" in words
    assert f"{after.abv:.1f} % vol" in gas.headline.value
    assert "vegan" not in _text(gel.words).partition("Where the figures")[0]
    assert "The whole is of animals too: honey, milk" in _text(gel.words)


def test_melt_water_is_in_the_jelly_unless_it_is_left_out(tmp_path_factory):
    folder = _held(tmp_path_factory, Setting(SOUR, melt=0.4))
    gel = gels_panel.panel(folder)
    wet = gel.liquid().volume()
    assert "Taken: the drink as it stands, with 40 % of ice water" in _text(gel.headline)
    gel.dry.value = True
    assert wet - gel.liquid().volume() == pytest.approx(0.4 * gel.liquid().volume(), rel=0.02)
    assert "without the water of its ice" in _text(gel.headline)


# --- into the drink -----------------------------------------------------------------------------------------


def _again(folder):
    return logbook.in_hand(folder).setting


def test_gas_is_put_and_comes_back(tmp_path_factory):
    folder = _held(tmp_path_factory, WASHED)
    panel = carbonation_panel.panel(folder)
    panel.vessel.value, panel.limit.value, panel.level.number.value = "keg, 9.5 L", "5 bar", 2.4
    panel.temperature.number.value = 2
    panel.pour_button.click()
    chill, gas, pour = _again(folder).steps[-3:]
    assert (chill, gas, pour) == (Chill(2), Carbonate(2.4, temperature=2, vessel="keg, 9.5 L", limit=500), PourGas(2))
    assert "“Clear Line” is in hand with it" in panel.said.value
    other = carbonation_panel.panel(folder)
    assert (other.level.value, other.vessel.value, other.temperature.celsius) == (2.4, "keg, 9.5 L", 2)
    assert other.gas_step() == gas
    other.mode.value, other.gauge.number.value = "level", 1.5
    other.put_button.click()
    assert [type(step) for step in _again(folder).steps].count(Carbonate) == 1
    assert _again(folder).step(Carbonate).pressure == pytest.approx(150)
    assert not list((folder / "trials").glob("*"))  # the same drink: nothing to set aside


def test_wash_and_filter_are_put_as_a_batch_and_come_back(tmp_path_factory):
    folder = _held(tmp_path_factory, Setting(SOUR, ice=OwnIce(ice=150, seconds=10)))
    panel = milk_panel.panel(folder)
    panel.batch.number.value, panel.share.number.value, panel.lemon.number.value = 1500, 0.2, 40
    panel.papers.value = 3
    panel.put_button.click()
    assert panel.said.value.startswith('<p class="dl-done"')
    kept = _again(folder)
    run = trial.run(kept, draws=0)
    names = [stage.name for stage in run.stages]
    assert run.stages[names.index("milk-washed") - 1].profile.volume == pytest.approx(1540, rel=0.005)
    assert (kept.step(MilkWash).share, kept.step(Filter).papers) == (0.2, 3)
    assert kept.serves == int(run.made.volume // 150)
    assert kept.ice.ice == pytest.approx(150 * kept.recipe.pours[0].amount / 45)
    again = milk_panel.panel(folder)
    assert again.batch.ml == pytest.approx(run.stages[names.index("milk-washed") - 1].profile.volume)
    assert again.washed.volume == pytest.approx(panel.washed.volume)
    assert again.to_keep() == kept


def test_one_head_for_milk_filter_and_day(tmp_path_factory):
    folder = _held(tmp_path_factory, WASHED)
    head = milk_panel.panel(folder)
    through, day = filtering_panel.panel(wash=head), schedule_panel.panel(wash=head)
    run_off = trial.run(WASHED.until(Filter), draws=0).made.volume
    assert head.batch.ml == pytest.approx(trial.run(WASHED.until(MilkWash), draws=0).made.volume)
    shown = head.display.volume_text(run_off)
    assert f"{run_off:.0f} mL run off" in _text(head.words)
    assert shown.split()[0] in _text(head.headline)
    for panel in (through, day):
        assert shown in _text(panel.head)
        assert panel.to_filter() == pytest.approx(run_off)
        assert "Contains: " in _text(panel.cautions)
        assert "milk" in _text(panel.cautions).partition("Contains: ")[2]
    assert through.logged().total == pytest.approx(run_off)
    assert through.logged().filters == day.papers.value == 2
    assert {row.stage.key for row in day.plan.rows} == {"juice", "mix", "milk", "rest", "filter"}
    head.share.number.value, head.volume_unit.value = 0.3, "oz"
    assert through.logged().total == pytest.approx(head.washed.volume)
    assert " oz to be filtered" in _text(day.head)
    through.text.value = "30, 4"
    through.put_button.click()
    assert "The log is saved as my_filter_01.json" in through.said.value
    assert _again(folder).step(MilkWash).share == 0.3


def test_own_ice_is_put_and_comes_back(tmp_path_factory):
    folder = _held(tmp_path_factory, Setting(SOUR, melt=0.3))
    panel = dilution_panel.panel(folder)
    panel.seconds.number.value, panel.ice.number.value, panel.ice_temperature.number.value = 9, 180, -8
    share = panel.chill.dilution
    panel.put_button.click()
    assert "Iced: 9 s shaken on 180 g" in panel.said.value
    kept = _again(folder)
    assert (kept.melt, kept.ice.seconds, kept.ice.ice, kept.ice.ice_temperature) == (None, 9, 180, -8)
    assert trial.run(kept, draws=0).melt == pytest.approx(share)
    again = dilution_panel.panel(folder)
    assert again.chill.dilution == pytest.approx(share)
    assert (again.seconds.value, again.ice.value) == (9, 180)
    paced = replace(kept, ice=replace(kept.ice, pace=1.7, miss=1.2, wetness=0.031))
    logbook.put_in_hand(folder, paced, SHELF)
    again = dilution_panel.panel(folder)
    again.put_button.click()
    assert _again(folder).ice == paced.ice


def test_a_jelly_is_set_boiled_or_put_beside(tmp_path_factory):
    folder = _held(tmp_path_factory, WASHED)
    panel = gels_panel.panel(folder)
    panel.choose.value = panel.choose.options[-1][1]
    panel.mould.value, panel.volume.number.value = "shot cup", 300
    name = panel._recipe.name
    panel.beside_button.click()
    (beside,) = _again(folder).beside
    assert (beside.recipe.name, beside.serves, beside.serve_volume) == (
        name,
        panel.made.pieces,
        panel.made.piece_volume,
    )
    assert trial.run(beside, draws=0).made.volume == pytest.approx(300, rel=1e-6)
    assert panel.choose.value == ("beside", "0")
    assert "Beside the drink in hand" in _text(panel.head)
    assert replace(_again(folder), beside=()) == WASHED
    panel.choose.value = ("hand", "")
    panel.set_button.click()
    assert isinstance(_again(folder).steps[-1], Set)
    again = gels_panel.panel(folder)
    assert again.made.volume == pytest.approx(trial.run(_again(folder), draws=0).made.volume)
    assert again.made.grams == pytest.approx(panel.made.grams)
    again.more.selected_index = 0
    again.share.number.value = 12
    again.boil_button.click()
    assert _again(folder).step(Boil).share == pytest.approx(0.12)


def test_putting_refuses_in_words(tmp_path):
    panel = gels_panel.panel(tmp_path)
    panel.beside_button.click()
    assert "Drink in hand is none; it must be one" in _text(panel.said)
    panel.choose.value = ("plain", "")
    panel.set_button.click()
    assert "it must be one with a recipe" in _text(panel.said)
    assert logbook.in_hand(tmp_path) is None


def test_another_drink_in_hand_is_set_aside(tmp_path_factory):
    folder = _held(tmp_path_factory, Setting(SOUR))
    panel = carbonation_panel.panel(folder)
    panel.use(WASHED)
    panel.put_button.click()
    assert "What was in hand is kept as trials/" in panel.said.value
    assert _again(folder).recipe.name == "Clear Line"


def test_a_target_is_met_as_iced_and_both_are_shown(tmp_path_factory):
    iced = Setting(SOUR, ice=OwnIce(ice=150, seconds=8), steps=(AddWater(0.5),))
    panel = reach_panel.panel(_held(tmp_path_factory, iced))
    before = trial.run(replace(iced, steps=()), draws=0)
    assert panel.wanted["abv"].value[0] == pytest.approx(before.made.abv)
    assert panel.found[0].melt == pytest.approx(before.melt)
    assert "met as the drink is iced, before it is water added" in _text(panel.best)
    assert "by your own ice" in _text(panel.best)
    for answer in panel.found:  # each by its own run over this ice
        assert trial.run(replace(iced, recipe=answer.recipe, steps=()), draws=0).melt == pytest.approx(answer.melt)
    assert f"All were searched with {100 * panel.found[0].held:.1f} % of melt water" in _text(panel.others)
    whole = trial.run(replace(iced, recipe=panel.found[0].recipe), draws=0)
    row = re.search(r'<th scope="row">Strength</th>(.*?)</tr>', panel.best.value)[1]
    assert f"{whole.made.abv:.1f}" in re.findall(r"<td[^>]*>(.*?)</td>", row)[2]


def test_boiling_before_it_is_washed():
    drink = WASHED.with_step(Boil(0.1))
    assert [type(step).__name__ for step in drink.steps] == ["AddWater", "Boil", "MilkWash", "Filter"]


# Beside the rule as published (Arnold, Liquid Intelligence, 2014): stirred, -1.21 a^2 + 1.246 a + 0.145.
@pytest.mark.parametrize(
    ("strength", "steps", "lacks"),
    [(30, (), True), (6, (), True), (75, (), True), (30, (Boil(0.2),), True), (30, (AddWater(0.3),), False),
     (30, ("wash", AddWater(0.3)), True)],
)  # fmt: skip
def test_bench_and_lesson_agree_on_the_water_that_a_wash_lacks(strength, steps, lacks, tmp_path_factory):
    pours = f"900 mL gin, {strength} %\n100 mL lime juice"
    wash = MilkWash(share=0.25)
    steps = (wash, *steps[1:]) if steps[:1] == ("wash",) else (*steps, wash)
    drink = Setting(Recipe.parse(pours, name="unwatered", technique="none"), steps=steps)
    panel = milk_panel.panel(_held(tmp_path_factory, drink))
    assert panel.problem.value == ""
    before = trial.run(drink.until(MilkWash), draws=0).served.profile
    share = trial.water_missing(trial.run(drink, draws=0))
    assert panel._missing == pytest.approx((share or 0) * before.volume)
    assert (share is not None) == lacks
    if lacks and strength == 30:
        a = before.abv / 100
        assert share == pytest.approx(-1.21 * a**2 + 1.246 * a + 0.145, rel=1e-3)


def test_a_refused_drink_that_is_opened_is_said(tmp_path_factory):
    """The sentence of the answer was taken away by the one that had opened it."""
    folder = _held(tmp_path_factory, Setting(Recipe.parse("60 mL gin\n60 mL cold green tea", technique="none")))
    panel = milk_panel.panel(folder)
    assert "Acid of the drink is none; it must be some" in _text(panel.problem)
    panel.choose.value = ("demo", "Clear Line")
    assert panel.problem.value == ""
    panel.choose.value = ("hand", "")
    assert "Acid of the drink is none; it must be some" in _text(panel.problem)


def test_one_drink_washed_whole_opens_with_its_glass(tmp_path_factory):
    sour = Recipe.parse("10 mL gin\n20 mL lemon juice\n10 mL honey syrup")
    panel = milk_panel.panel(_held(tmp_path_factory, Setting(sour, steps=(MilkWash(share=0.1),), draws=0)))
    assert panel.problem.value == ""
    assert panel.serve.ml == pytest.approx(panel.made.served.profile.volume, rel=1e-3)


def test_what_nothing_was_drawn_for_has_no_plus_or_minus(tmp_path_factory):
    gassed = Setting(SOUR, steps=(Chill(3), Carbonate(volumes=2.0, temperature=3)), draws=0)
    now = trial.run(gassed)
    assert now.made.volume > 0
    assert math.isnan(now.stages[-1].gas[1])
    (row,) = [row for row in writeup.facts._stage_table(now, Display()) if row["word"] == "Carbon dioxide"]
    assert row["cells"][-1] == f"{now.stages[-1].gas[0]:.1f}"
    panel = balance_panel.panel(_held(tmp_path_factory, gassed))
    sour = _text(panel.figures).partition("Sour and sweet")[2]
    assert "± is not known, as no random drinks are drawn" in sour
    assert "±" not in sour.partition("Sourness")[2].partition("As served")[0]
