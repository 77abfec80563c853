"""The lesson on ice without a browser: every control is moved once and its answer read."""

import asyncio
import json
import re

import numpy as np
import pytest
from long_run import dozen

from drinklab import dilution, logbook
from drinklab.profile import profile
from drinklab.recipe import Recipe
from drinklab.workbook.panels import dilution as dilution_panel
from drinklab.workbook.parts.soon import REST

PLACES = ("headline", "compared", "sizes", "glass_table", "freezer")


@pytest.fixture
def panel(tmp_path):
    return dilution_panel.panel(tmp_path)


def _words(panel):
    return {name: getattr(panel, name).value for name in PLACES} | {"chart": panel.chart.rows}


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value))


def _row(place, name):
    return re.findall(
        r"<td[^>]*>(?:<svg.*?</svg>)?([^<]*)</td>", re.search(rf'<th scope="row">{name}</th>(.*?)</tr>', place.value)[1]
    )


def _plain(panel, abv=30.0, volume=90.0, sugar=50.0):
    panel.choose.value = ("plain", "")
    panel.strength.number.value, panel.volume.number.value, panel.sugar.number.value = abv, volume, sugar


def test_it_opens_on_the_demo_drink_at_its_usual_time(panel):
    assert panel.problem.value == panel.said.value == ""
    assert (panel.technique.value, panel.seconds.value) == ("shaken", 12)
    expected = dilution.over_ice(panel.liquid(), technique="shaken", room=22)
    assert panel.chill.dilution == pytest.approx(expected.dilution)
    assert f"<b>{100 * expected.dilution:.0f}</b> ± {20 * expected.dilution:.0f} %" in panel.headline.value
    assert f"<b>{expected.abv:.1f}</b>" in panel.headline.value
    assert panel.plain_dials.layout.display == "none"


@pytest.mark.parametrize(
    ("control", "value", "unmoved"),
    [
        ("start", 4.0, set()),
        ("ice", 120.0, set()),
        ("ice_temperature", -18.0, {"freezer"}),
        ("seconds", 20.0, {"compared", "freezer"}),
    ],
)
def test_a_slider_moves_numbers_tables_and_chart(panel, control, value, unmoved):
    before = _words(panel)
    getattr(panel, control).slider.value = value
    same = {name for name, words in _words(panel).items() if words == before[name]}
    assert same <= unmoved | {"freezer"}
    assert panel.problem.value == ""


@pytest.mark.parametrize(
    ("control", "value"),
    [
        ("wetness", "wet"),
        ("size", "crushed"),
        ("vessel", 150.0),
        ("technique", "stirred"),
        ("technique", "swizzled"),
        ("technique", "thrown"),
        ("technique", "built"),
        ("technique", "blended"),
        ("choose", ("demo", "Slow Signal")),
    ],
)
def test_other_controls_answer(panel, control, value):
    before = _words(panel)
    getattr(panel, control).value = value
    after = _words(panel)
    assert after["headline"] != before["headline"]
    assert after["chart"]["curve"] != before["chart"]["curve"]
    assert panel.problem.value == ""


def test_a_technique_brings_its_usual_time(panel):
    for technique in dilution_panel.ICED:
        panel.technique.value = technique
        assert panel.seconds.value == dilution.MOTIONS[technique].seconds
        assert panel.chart.rows["frame"][1]["s"] == 3 * panel.seconds.value


def test_a_plain_mixture_holds_what_its_dials_say(panel):
    _plain(panel, 35, 100, 120)
    assert panel.plain_dials.layout.display is None
    made = profile(panel.liquid())
    assert (made.abv, made.volume, made.sugar) == pytest.approx((35, 100, 120), abs=1e-6)
    before = panel.headline.value
    panel.strength.slider.value = 20
    assert panel.headline.value != before
    assert panel.problem.value == ""


def test_the_chart_shows_limit_band_rule_and_the_chosen_time(panel):
    _plain(panel, 25)
    panel.technique.value = "stirred"
    rows = panel.chart.rows
    assert rows["rule"][0]["d"] == pytest.approx(100 * dilution.stirred(25), abs=0.1)
    assert rows["rule"][0]["s"] == 37
    assert "(from memory): 38 %" in rows["rule"][0]["label"]
    assert rows["limit"][0]["t"] == pytest.approx(panel.chill.limit_temperature, abs=0.01)
    assert rows["now"][0]["d"] == pytest.approx(100 * panel.chill.dilution, abs=0.01)
    assert len(rows["curve"]) == dilution_panel._POINTS
    for row in rows["curve"]:
        assert row["d_high"] == pytest.approx(1.2 * row["d"], abs=0.02)
        assert row["d_low"] == pytest.approx(0.8 * row["d"], abs=0.02)
    low, high = rows["frame"]
    for field in ("s", "t", "d"):
        values = [row[field] for name in ("curve", "limit", "rule", "now") for row in rows[name] if field in row]
        assert low[field] <= min(values)
        assert max(values) <= high[field]


def test_the_axes_stand_still_under_the_hand(panel):
    _plain(panel)
    panel.technique.value = "stirred"
    frames = []
    for seconds in range(5, 111, 5):
        panel.seconds.slider.value = seconds
        frames.append(panel.chart.rows["frame"])
    assert all(frame == frames[0] for frame in frames)
    panel.ice.slider.value = 260
    assert panel.chart.rows["frame"] == frames[0]


def test_there_is_no_rule_for_other_techniques_or_overproof_drinks(panel):
    panel.technique.value = "thrown"
    assert panel.chart.rows["rule"] == []
    panel.technique.value = "stirred"
    _plain(panel, 63, sugar=0)
    assert panel.chart.rows["rule"] == []
    assert panel.problem.value == ""
    assert "no figure at this strength" in panel.compared.value
    assert "0 to 60 % vol" in panel.freezer.value


def test_the_techniques_side_by_side(panel):
    abv = profile(panel.liquid()).abv
    for technique in dilution_panel.COMPARED:
        time, dilutes, _, strength, rule = _row(panel.compared, technique)
        found = dilution.over_ice(panel.liquid(), technique=technique, room=22)
        assert time == f"{dilution.MOTIONS[technique].seconds:.0f} s"
        assert dilutes.startswith(f"{100 * found.dilution:.0f} ± ")
        assert strength == f"{found.abv:.1f} % vol"
        published = dilution.melt_fraction(abv, technique, "on ice")
        far = abs(published - found.dilution) > 0.2 * found.dilution
        assert rule == f"{100 * published:.0f} %, {'disagree' if far else 'agree'}"
    assert "disagree for blended" in panel.compared.value


def test_bigger_ice_is_tested_at_one_time_and_at_one_temperature(panel):
    panel.technique.value = "stirred"
    rows = {size: _row(panel.sizes, size) for size in dilution.ICE_SIZES}
    dilutions = [float(row[0].split()[0]) for row in rows.values()]
    assert dilutions == sorted(dilutions)  # same time: large least
    assert len({row[3] for row in rows.values()}) == 1  # same temperature
    melts = [int(row[4].split()[0]) for row in rows.values()]
    assert max(melts) - min(melts) <= 1  # and so nearly the same melt water, in whole percent
    assert float(rows["large"][2].split()[0]) > float(rows["crushed"][2].split()[0])
    # and by search: the time to a temperature goes nearly as the size says; the core of the ice follows a bit slower
    drink = panel.liquid()
    grid = np.linspace(1, 110, 2000)
    for size, over in dilution.ICE_SIZES.items():
        way = dilution.over_ice(drink, technique="stirred", seconds=grid, size=size, room=22)
        reached = np.interp(-panel.chill.temperature, -way.temperature, grid)
        assert reached == pytest.approx(37 * over / 30, abs=0.3)


def test_when_all_is_done_the_size_no_longer_matters(panel):
    panel.seconds.number.value = 600
    assert "After 600 s the size no longer matters" in panel.sizes.value
    assert panel.chart.rows["frame"][1]["s"] == 600


def test_in_the_glass_up_warms_and_the_rocks_weaken(panel):
    first, last = _row(panel.glass_table, "0 min"), _row(panel.glass_table, "20 min")
    assert last[1] == first[1]  # up: same strength
    assert float(last[3].split()[0]) < float(first[3].split()[0])
    for move in (
        lambda: setattr(panel.glass_ice.slider, "value", 60),
        lambda: setattr(panel.glass_size, "value", "crushed"),
        lambda: setattr(panel.glass, "value", False),
        lambda: setattr(panel.room.slider, "value", 35),
    ):
        before = panel.glass_table.value
        move()
        assert panel.glass_table.value != before
    assert panel.problem.value == ""


def test_a_weak_batch_is_said_to_freeze_and_a_strong_one_is_not(panel):
    _plain(panel, 30)
    assert "of its water turns to ice" in panel.freezer.value
    assert "can burst" in panel.freezer.value
    _plain(panel, 58)
    assert "it stays liquid" in panel.freezer.value
    assert "burst" not in panel.freezer.value
    assert f"add <b>{1000 * dilution.stirred(58):.0f} ± {200 * dilution.stirred(58):.0f} mL" in panel.freezer.value


def test_the_weakest_mixture_of_that_sugar_is_named(panel):
    _plain(panel, 30, sugar=136)
    sugar = round(float(profile(dilution.add_melt(panel.liquid(), dilution.stirred(30))).sugar))
    assert f"stays liquid at −18 °C has {dilution.weakest_liquid(-18, sugar):.0f} % vol" in panel.freezer.value


def test_units_change_what_is_shown_and_nothing_else(panel):
    before = panel.chill
    panel.volume_unit.value, panel.temperature_unit.value = "oz", "°F"
    assert panel.chill.dilution == pytest.approx(before.dilution)
    assert "oz" in panel.headline.value
    assert "each quart (32 oz)" in panel.freezer.value
    assert "°C" not in "".join(_text(getattr(panel, name)) for name in PLACES)
    assert panel.ice_temperature.number.value == 32
    assert panel.chart.rows["now"][0]["t"] == pytest.approx(1.8 * before.temperature + 32, abs=0.02)
    panel.ice_temperature.slider.value = 5
    assert panel.ice_temperature.celsius == pytest.approx(-15, abs=0.01)
    panel.volume_unit.value, panel.temperature_unit.value = "mL", "°C"
    assert panel.ice_temperature.number.value == pytest.approx(-15)
    panel.temperature_unit.value = "°F"
    assert logbook.choices(panel.folder)["temperature"] == "°F"
    assert dilution_panel.panel(panel.folder).temperature_unit.value == "°F"


@pytest.mark.parametrize(
    ("control", "value", "said"),
    [
        ("ice", 0, "Ice is 0; it must be above 0 g."),
        ("ice_temperature", -80, "Ice temperature is -80; it must be -30 to 0 °C."),
        ("ice_temperature", 5, "Ice temperature is 5; it must be -30 to 0 °C."),
        ("start", 140, "Drink before ice is 140; it must be -15 to 90 °C."),
        ("room", -3, "Room is -3; it must be 0 to 45 °C."),
    ],
)
def test_problems_are_one_sentence_and_the_last_result_stays(panel, control, value, said):
    good = _words(panel)
    dial = getattr(panel, control)
    usual = dial.value
    dial.number.value = value
    assert said in panel.problem.value
    assert _words(panel) == good
    dial.number.value = usual
    assert panel.problem.value == ""
    assert _words(panel) == good


def test_water_on_frozen_ice_is_refused_in_words(panel):
    panel.wetness.value = "wet"
    panel.ice_temperature.slider.value = -10
    assert "water on such ice is frozen" in panel.problem.value
    panel.wetness.value = "by its temperature"
    assert panel.problem.value == ""


def test_what_cannot_be_mixed_is_refused_in_words(panel):
    _plain(panel, 30)
    panel.strength.number.value = 140
    assert "Strength before ice is 140; it must be 0 to 100 % vol." in panel.problem.value
    panel.strength.number.value = 75
    assert "68 % vol" in panel.problem.value
    panel.strength.number.value = 30
    panel.volume.number.value = 0
    assert "above 0 mL" in panel.problem.value


def test_every_drink_can_be_put_over_ice_and_for_as_long_as_its_slider_goes(panel):
    for _, key in dozen(panel.choose.options):
        panel.choose.value = key
        assert panel.problem.value == "", key
        panel.seconds.slider.value = panel.seconds.slider.max
        assert panel.problem.value == "", key


def test_a_recipe_handed_in_is_used(tmp_path):
    own = Recipe.parse("60 mL gin\n30 mL dry vermouth", name="Drier")
    panel = dilution_panel.panel(tmp_path, own)
    assert panel.technique.value == "stirred"
    assert panel.choose.value == ("own", "Drier")
    panel.choose.value = ("demo", "Long Platform, first glass")
    panel.choose.value = ("own", "Drier")
    assert profile(panel.liquid()).abv == pytest.approx(33, abs=2)


# --- own weighings ------------------------------------------------------------------------------------


def _weigh(panel, seconds="15, 30, 60", gained="25, 37, 44"):
    panel.weighed_seconds.value, panel.weighed_grams.value = seconds, gained
    panel.fit_button.click()


@pytest.fixture
def stirred(panel):
    _plain(panel, 25)
    panel.technique.value = "stirred"
    return panel


def test_own_weighings_are_fitted_charted_saved_and_found_again(stirred):
    usual = stirred.chart.rows["curve"]
    _weigh(stirred, gained="27, 38, 46")
    (path,) = stirred.folder.glob("my_ice_*.json")
    assert "Saved as my_ice_01.json." in stirred.said.value
    assert "your ice chills faster than usual" in stirred.said.value
    assert stirred.own.value
    assert stirred.chart.rows["curve"] != usual
    assert "pace of your own weighings" in stirred.headline.value
    assert "± 20 %" not in stirred.headline.value  # but the scale's and the fit's
    here, curve = stirred.chart.rows["now"][0], stirred.chart.rows["curve"]
    miss, volume = stirred.fits["stirred"].miss, stirred.liquid().volume()
    assert curve[-1]["d_high"] - curve[-1]["d"] == pytest.approx(100 * np.hypot(0.7, 2 * miss) / volume, abs=0.02)
    assert here["d"] > 0
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert kept["seconds"] == [15, 30, 60]
    assert kept["pace"] == stirred.fits["stirred"].pace
    stirred.own.value = False
    assert stirred.chart.rows["curve"] == usual

    again = dilution_panel.panel(stirred.folder)
    assert again.fits == stirred.fits
    assert again.own.disabled  # the demo drink is shaken; only stirring was weighed
    again.technique.value = "stirred"
    assert not again.own.disabled
    before = again.headline.value
    again.own.value = True
    assert again.headline.value != before


def test_a_second_fit_is_a_second_file_and_the_newest_counts(stirred):
    _weigh(stirred, gained="27, 38, 46")
    first = (stirred.folder / "my_ice_01.json").read_bytes()
    _weigh(stirred, gained="20, 28, 36")
    assert (stirred.folder / "my_ice_01.json").read_bytes() == first
    found, problems = dilution_panel.own_fits(stirred.folder)
    assert found["stirred"].gained == (20, 28, 36)
    assert problems == ()


@pytest.mark.parametrize(
    ("seconds", "gained", "said"),
    [
        ("", "20", "Times is empty; it must be numbers with commas between them, such as 15, 30, 60."),
        ("15, soon", "20, 30", "Times is &#39;15, soon&#39;; it must be numbers"),
        ("15, 30", "20", "Weighings is &#39;2 times and 1 weights&#39;; it must be as many times as weights"),
        ("15, 30", "20, 3000", "Gains in weight is"),
        ("15, 30", "nan, 20", "Gains is &#39;nan, 20&#39;; it must be numbers"),
    ],
)
def test_bad_weighings_are_one_sentence_and_nothing_is_saved(stirred, seconds, gained, said):
    before = _words(stirred)
    _weigh(stirred, seconds, gained)
    assert said in stirred.said.value
    assert _words(stirred) == before
    assert list(stirred.folder.glob("my_ice*")) == []


def test_a_damaged_file_is_said_kept_and_the_rest_is_used(stirred):
    _weigh(stirred, gained="27, 38, 46")
    bad = stirred.folder / "my_ice_02.json"
    bad.write_text('{"technique": "stirred", "pace": "quick"', encoding="utf-8")
    worse = stirred.folder / "my_ice_03.json"
    worse.write_text('{"technique": "stirred", "pace": -1, "wetness": 0, "miss": 0}', encoding="utf-8")
    odd = stirred.folder / "my_ice_04.json"
    odd.write_text('{"technique": "stirred", "pace": "quick", "wetness": 0, "miss": 0}', encoding="utf-8")
    again = dilution_panel.panel(stirred.folder)
    for path in (bad, worse, odd):
        assert path.name in again.said.value
        assert path.exists()
    assert again.fits["stirred"].gained == (27, 38, 46)
    again.technique.value = "stirred"
    _weigh(again, gained="25, 35, 44")
    assert "my_ice_05.json" in again.said.value


def test_what_stands_in_a_file_is_escaped_on_the_page(tmp_path):
    (tmp_path / "my_ice_01.json").write_text('{"technique": "<script>"}', encoding="utf-8")
    assert "<script>" not in dilution_panel.panel(tmp_path).said.value


def test_tables_under_the_answer_wait_until_the_hand_rests(tmp_path, monkeypatch):
    """On a live page the figures and the chart answer at once; what waits is pale, and then is of the last move."""
    worked = []
    sizes = dilution_panel._sizes
    monkeypatch.setattr(dilution_panel, "_sizes", lambda *given: worked.append(1) or sizes(*given))

    async def page():
        panel = dilution_panel.panel(tmp_path)
        await asyncio.sleep(3 * REST)
        worked.clear()
        first, headline = panel.sizes.value, panel.headline.value
        for seconds in (10.0, 9.0, 8.0):
            panel.seconds.slider.value = seconds
            assert panel.headline.value != headline
            assert "dl-stale" in panel.sizes._dom_classes
            assert "dl-stale" not in panel.headline._dom_classes
        assert (worked, panel.sizes.value) == ([], first)
        await asyncio.sleep(3 * REST)
        assert len(worked) == 1
        assert "dl-stale" not in panel.sizes._dom_classes
        return panel.sizes.value, first

    then, first = asyncio.run(page())
    assert then != first
    assert "in 8 s" in then
