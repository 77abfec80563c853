"""The lesson on gas without a browser: every control is moved once, its answer read, and what could hurt refused."""

import re

import numpy as np
import pytest
from long_run import dozen
from own_drink import CUP

from drinklab import carbonation as gas
from drinklab import dilution, logbook, strength, trial
from drinklab import recipe as recipes
from drinklab.carbonation import VESSELS
from drinklab.gels import Set
from drinklab.liquid import Liquid
from drinklab.physics.solubility import ATMOSPHERE
from drinklab.profile import profile, served
from drinklab.recipe import Recipe
from drinklab.workbook.charts import carbonation as carbonation_charts
from drinklab.workbook.charts import pictures
from drinklab.workbook.panels import carbonation as carbonation_panel

PSI = 6.894757293168
PLACES = ("headline", "levels", "in_vessel", "times", "losses", "glass")
# Of every row that is drawn: what stands on the axes of its panel.
LEFT, RIGHT = ("lines", "ends", "level", "band", "now", "limit", "ice"), ("uptake", "end", "done")
LONG = Recipe.parse(
    "35 mL apple brandy, 42 %\n20 mL amontillado sherry\n15 mL verjus\n10 mL honey syrup\ntop 100 mL soda water",
    name="Test highball", technique="built", serve="long", family="highball",
)  # fmt: skip


@pytest.fixture
def panel(tmp_path):
    return carbonation_panel.panel(tmp_path, CUP)


def _words(panel):
    return {name: getattr(panel, name).value for name in PLACES} | {"chart": panel.chart.rows}


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value)).strip()


def _row(place, name):
    return re.findall(
        r"<td[^>]*>(?:<svg.*?</svg>)?([^<]*)</td>", re.search(rf'<th scope="row">{name}</th>(.*?)</tr>', place.value)[1]
    )


def _tile(place, name):
    found = re.search(rf"<small>{re.escape(name)}</small><b>([^<]*)</b>([^<]*)</div>", place.value)
    return found[1], re.sub(r"\s+", " ", found[2]).strip()


def _drink(panel, text, **rest):
    panel.use(Recipe.parse(text, panel.shelf, **({"technique": "none"} | rest)))


def _batch(panel):
    """The drink in the vessel, made without the panel."""
    melt = None if panel.melt.value else [0.0]
    liquid = served([panel._recipe], panel.shelf, melt)[0]
    return liquid * (panel.amount.value * panel.display.ml / profile(liquid).volume)


# --- against the outside world ------------------------------------------------------------------------------


def test_a_lager_at_38_degrees_and_12_psi_is_on_the_printed_chart(panel):
    """2.57 volumes: brewers' printed chart (BrewingTechniques 2.1; two other copies are equal)."""
    _drink(panel, "355 mL lager beer")
    panel.temperature_unit.value, panel.pressure_unit.value, panel.mode.value = "°F", "psi", "level"
    panel.temperature.number.value, panel.gauge.number.value = 38, 12
    assert panel.found.volumes == pytest.approx(2.57, rel=0.02)
    assert _tile(panel.headline, "Fizz")[0] == "2.6"
    # other cells of the same chart, as the table shows them
    for degrees, printed in ((32, (2.15, 2.70, 3.21)), (36, (1.98, 2.47, 2.96)), (44, (1.69, 2.13, 2.56))):
        shown = _row(panel.levels, f"{degrees} °F")[:3]
        assert [float(v) for v in shown] == pytest.approx(printed, abs=0.11)


def test_one_cartridge_in_a_litre_siphon(panel):
    """8 g into 0.95 L of water and 0.15 L above at 4 °C: 7.62 g/L (Weiss 1974), less 5 % at the pin."""
    _drink(panel, "950 mL water")
    panel.vessel.value = "siphon, 1 L"
    assert panel.found.cartridges.count == 1
    assert panel.found.held.volumes == pytest.approx(0.95 * 7.62 / 1.96, rel=0.005)
    assert _tile(panel.headline, "From 1 cartridge") == ("3.7", "volumes")
    assert "57 bar" in panel.cautions.value


def test_champagne_poured(panel):
    """From 11.4 g/L lost at 4, 12 and 18 °C, tilted and upright (Liger-Belair et al. 2010, J. Agric. Food Chem. 58, 8768)."""
    _drink(panel, "100 mL bottle-fermented sparkling wine, brut")
    panel.level.number.value = 11.4 / 1.96
    for degrees, tilted, upright in ((4, 1.6, 3.0), (12, 2.0, 3.3), (18, 3.7, 4.0)):
        cells = _row(panel.losses, f"at {degrees} °C")
        assert [float(cells[i].split()[0]) for i in (0, 2)] == pytest.approx([tilted, upright], abs=0.15)
        assert float(cells[1].split()[0]) == pytest.approx((11.4 - tilted) / 1.96, abs=0.1)


def test_a_keg_at_rest_takes_a_week_or_two(panel):
    """7 to 14 days (common practice)."""
    usual, quick, slow = _row(panel.times, "under 1.3 bar")
    assert 7 <= float(usual.split()[0]) <= 14
    assert usual.endswith("days")
    assert float(quick.split()[0]) < 7
    assert float(slow.split()[0]) > 14
    panel.method.value = "shaken"
    assert _row(panel.times, "under 1.3 bar")[0].endswith("min")


# --- what is on the page ------------------------------------------------------------------------------------


def test_what_stands_in_the_vessel_is_what_the_drink_makes(tmp_path):
    """Long Platform: 2 + 4.2 + 0.9 + 1.7 L poured, before its gas."""
    panel = carbonation_panel.panel(tmp_path)
    made = trial.run(panel.setting.until(gas.Carbonate), draws=0).made.volume
    assert made == pytest.approx(8800, rel=0.002)
    assert panel.amount.value == pytest.approx(made)
    litres = f"{made / 1000:.3g} L"
    assert f"In the keg, 9.5 L, with {litres}" in _text(panel.in_vessel)
    panel.vessel.value = "keg, 19 L"
    assert panel.amount.value == pytest.approx(made)
    panel.vessel.value = "siphon, 1 L"  # in several fillings
    assert panel.amount.value == VESSELS["siphon, 1 L"].fill
    _drink(panel, "60 mL gin\n30 mL lime juice")  # a single drink is tried as a vesselful
    assert panel.amount.value == VESSELS["siphon, 1 L"].fill


def test_it_opens_on_the_demos_drink_as_that_is_gassed(tmp_path):
    panel = carbonation_panel.panel(tmp_path)
    assert panel.problem.value == panel.said.value == ""
    assert panel.choose.value == ("demo", "Long Platform")
    step, poured = panel.setting.step(gas.Carbonate), panel.setting.step(gas.Pour)
    assert panel.gas_step() == step
    assert panel.vessel.value == step.vessel
    assert (panel.pour.value, panel.glass_temperature.celsius) == (poured.pour, poured.temperature)
    batch = _batch(panel)
    held = gas.in_vessel(batch, step.volumes, step.temperature, gas.vessel_of(step.vessel))
    for name in ("pressure", "high", "warm", "head"):
        assert getattr(panel.found.held, name) == pytest.approx(getattr(held, name)), name
    assert panel.found.pressure[0] == pytest.approx(gas.pressure_for(batch, step.volumes, step.temperature))


def test_a_drink_handed_in_is_shown_with_all_its_figures(panel):
    assert panel.problem.value == panel.said.value == ""
    assert panel.choose.value == ("own", "Test cup")
    batch = _batch(panel)
    assert panel.found.pressure[0] == pytest.approx(gas.pressure_for(batch, 2.8, 4))
    held = gas.in_vessel(batch, 2.8, 4)
    assert panel.found.held == held
    number, around = _tile(panel.headline, "Gauge pressure")
    assert number == f"{held.pressure / 100:.1f}"
    assert around == f"± {gas.spread(batch) * (held.pressure + ATMOSPHERE) / 100:.1f} bar"
    assert _tile(panel.headline, "Gas in the drink") == ("5.5", "g/L")  # 2.8 x 1.96
    assert _tile(panel.headline, "Warmed to 25 °C: up to") == (f"{held.warm / 100:.1f}", "bar")
    assert _row(panel.in_vessel, "warmed to 25 °C")[1:3] == [f"{held.warm / 100:.1f} bar", "9.0 bar"]
    need = gas.gas_needed(batch, 2.8, 19_000, 4)
    assert f"<b>{need.total:.0f} g</b>" in panel.in_vessel.value


def test_both_ways_round_agree(panel):
    panel.level.number.value = 3.1
    pressure = panel.found.pressure[0]
    assert panel.gauge.layout.display == "none"
    panel.mode.value = "level"
    assert panel.level.layout.display == "none"
    assert panel.gauge.kpa == pytest.approx(pressure)
    assert panel.found.volumes == pytest.approx(3.1)
    # the ± goes with what was asked for
    assert _tile(panel.headline, "Gauge pressure")[1] == "bar"
    assert _tile(panel.headline, "Fizz")[1].startswith("± ")
    panel.gauge.slider.value = 2
    assert panel.found.volumes == pytest.approx(gas.volumes_held(_batch(panel), 200, 4))
    panel.mode.value = "pressure"
    assert panel.level.value == pytest.approx(panel.found.volumes)
    assert panel.found.pressure[0] == pytest.approx(200)


@pytest.mark.parametrize(
    ("control", "value", "unmoved"),
    [
        ("level", 3.4, {"levels", "glass"}),
        ("temperature", 9.0, {"levels", "glass"}),
        ("amount", 12_000.0, {"levels", "times", "glass", "chart"}),
        ("still", 90.0, {"headline", "levels", "in_vessel", "times", "losses", "chart"}),
        ("mixer", 90.0, {"headline", "levels", "in_vessel", "times", "losses", "chart"}),
        ("mixer_gas", 2.5, {"headline", "levels", "in_vessel", "times", "losses", "chart"}),
        ("glass_temperature", 12.0, {"headline", "levels", "in_vessel", "times", "losses", "chart"}),
    ],
)
def test_a_slider_moves_what_depends_on_it_and_no_more(panel, control, value, unmoved):
    before = _words(panel)
    getattr(panel, control).slider.value = value
    assert {name for name, words in _words(panel).items() if words == before[name]} == unmoved
    assert panel.problem.value == ""


@pytest.mark.parametrize(
    ("control", "value", "place"),
    [
        ("vessel", "keg, 9.5 L", "in_vessel"),
        ("vessel", "soda vessel, 0.5 L", "headline"),
        ("limit", "60 psi", "in_vessel"),
        ("method", "shaken", "times"),
        ("pour", "upright", "glass"),
        ("choose", ("classic", "Negroni"), "headline"),
    ],
)
def test_other_controls_answer(panel, control, value, place):
    before = _words(panel)
    getattr(panel, control).value = value
    assert panel.problem.value == ""
    assert _words(panel)[place] != before[place]


def test_melt_water_counts_when_ticked_and_only_for_what_meets_ice(panel):
    assert "as it is: it meets no ice" in panel.headline.value
    panel.choose.value = ("demo", "First Frost")
    before = profile(recipes.pour([panel._recipe], panel.shelf)[0][0])
    melt = dilution.melt_fraction(before.abv, "shaken")
    assert f"with {100 * melt:.0f} ± {20 * melt:.0f} % of melt water" in panel.headline.value
    watered, wet = profile(_batch(panel)).abv, panel.found.pressure[0]
    assert f"{watered:.1f} % vol" in panel.headline.value
    panel.melt.value = False
    assert f"{before.abv:.1f} % vol" in panel.headline.value
    assert "without melt water" in panel.headline.value
    assert before.abv > watered
    assert panel.found.pressure[0] != pytest.approx(wet, abs=0.5)


def test_a_top_goes_in_flat(panel):
    assert "top" not in panel.headline.value
    panel.choose.value = ("demo", "Long Platform, first glass")
    assert "Its top goes in with the rest, flat." in panel.headline.value
    assert f"{profile(_batch(panel)).abv:.1f} % vol" in panel.headline.value


def test_a_highball_of_its_recipe(panel):
    panel.use(LONG)
    before, top = (part[0] for part in recipes.pour([panel._recipe], panel.shelf))
    share = 0.11 * (before + top).volume() / before.volume()  # built long: 0.11 of everything in the glass
    still = dilution.add_melt(before, share)
    made = gas.topped(still, gas.with_gas(top, 3.5), 4)
    assert _tile(panel.glass, "Gas left")[0] == f"{made.volumes:.1f}"
    assert "it sparkles" in panel.glass.value
    assert "soda water" in panel.glass.value
    panel.mixer_gas.slider.value = 2.5
    assert "may just sparkle" in panel.glass.value or "it is flat" in panel.glass.value
    panel.mixer.slider.value = 30
    assert "it is flat" in panel.glass.value


def test_a_highball_that_cannot_be_is_said_in_its_place(panel):
    panel.choose.value = ("demo", "Long Platform, first glass")
    good = panel.headline.value
    for dial, value, said in (
        (panel.mixer_gas, 0, "Gas of the mixer is 0; it must be above 0 volumes"),
        (panel.mixer, 0, "Carbonated mixer is 0 mL; it must be above 0 mL."),
        (panel.still, -5, "Still part is -5 mL; it must be above 0 mL."),
        (panel.glass_temperature, -40, "Drink in the glass is -40; it must be -5 to 25 °C."),
    ):
        usual = dial.value
        dial.number.value = value
        assert said in _text(panel.glass)
        assert panel.problem.value == ""
        assert panel.headline.value == good
        dial.number.value = usual
        assert 'role="alert"' not in panel.glass.value


# --- safety -------------------------------------------------------------------------------------------------


def _refused(panel, said, good):
    """One sentence, no new number, and the cautions stay."""
    assert said in _text(panel.problem)
    assert panel.problem.value.count("it must be") == 1
    assert _words(panel) == good
    assert all("dl-stale" in place._dom_classes for place in panel.answers)
    assert "dl-stale" not in panel.cautions._dom_classes
    assert "stamped for pressure" in panel.cautions.value


def test_ordinary_glass_is_refused(panel):
    good = _words(panel)
    panel.vessel.value = "ordinary glass bottle, 0.75 L"
    _refused(panel, "it must be one that is made and stamped for pressure: other glass bursts.", good)
    assert panel.limit.placeholder == "not made for pressure"
    panel.limit.value = "6 bar"  # a stamp that somebody made up does not help
    _refused(panel, "other glass bursts.", good)
    panel.vessel.value = "keg, 19 L"
    assert panel.problem.value == ""
    assert _words(panel) == good


def test_nitrous_is_refused(panel):
    for vessel in ("keg, 19 L", "siphon, 1 L"):
        panel.vessel.value = vessel
        good = _words(panel)
        panel.gas.value = "N2O"
        _refused(panel, "nitrous oxide (N2O) whips and infuses, it does not carbonate.", good)
        panel.gas.value = "CO2"
        assert panel.problem.value == ""


def test_an_overfilled_vessel_is_refused(panel):
    good = _words(panel)
    panel.amount.slider.value = 18_500
    _refused(panel, "Volume of the drink is 18500 mL; it must be at most 18000 mL in the keg, 19 L", good)


def test_a_bottle_that_is_carried_must_stand_a_car_in_the_sun(panel):
    panel.vessel.value = "sparkling-wine bottle, 0.75 L"
    good = _words(panel)
    panel.level.slider.value = 5
    _refused(panel, "once it warms to 55 °C, in a closed car in the sun is up to", good)
    panel.temperature.slider.value = 0  # chilling does not help a bottle that will warm
    assert "once it warms to 55 °C" in panel.problem.value


def test_a_bottle_near_its_limit_is_told_to_be_kept_cold(panel):
    panel.vessel.value, panel.level.number.value = "soft-drink PET bottle, 1 L", 2.1
    assert panel.problem.value == ""
    assert "Keep cold, out of the sun" in panel.cautions.value
    assert _row(panel.in_vessel, "warmed to 55 °C")[2] == "6.0 bar"
    assert 'role="alert"' not in panel.headline.value


def test_hot_coffee_is_not_gassed_in_silence(panel):
    _drink(panel, "40 mL gin\n60 mL filter coffee, hot")
    assert "Hot liquid: never close it in a shaker" in panel.cautions.value


def test_a_sparkling_drink_in_a_siphon_is_cautioned(panel):
    _drink(panel, "45 mL gin\ntop 90 mL tonic water", technique="built")
    for vessel, said in (("keg, 19 L", False), ("siphon, 1 L", True), ("keg, 19 L", False)):
        panel.vessel.value = vessel
        assert ("Sparkling liquid in a closed shaker" in panel.cautions.value) == said


def test_a_keg_above_its_limit_when_warm_is_cautioned(panel):
    panel.limit.value = "3.0"
    assert panel.problem.value == ""
    assert _row(panel.in_vessel, "warmed to 25 °C")[2] == "3.0 bar"
    assert float(_row(panel.in_vessel, "warmed to 25 °C")[3].split()[0]) > 100
    assert panel.cautions.value.index("Keep it cold") < panel.cautions.value.index("Gas pressure")
    # as loud as a refusal, and before the figures
    assert re.match(r'<p class="dl-problem" role="alert">Keep it cold, out of the sun', panel.headline.value)


def test_too_many_cartridges_are_refused(panel):
    panel.vessel.value = "siphon, 1 L"
    good = _words(panel)
    panel.level.slider.value = 5
    _refused(panel, "what 1 x 8 g gives: the siphon, 1 L is made for no more", good)
    panel.vessel.value = "soda vessel, 1 L"
    assert panel.problem.value == ""
    assert panel.found.cartridges.count == 2


def test_a_limit_of_your_own(panel):
    assert "9.0 bar" in panel.limit.placeholder
    assert "verify on the vessel" in panel.in_vessel.value
    for typed, kpa in (("4", 400), ("4,5", 450), ("60 psi", 60 * PSI), ("500 kPa", 500)):
        panel.limit.value = typed
        assert panel.problem.value == ""
        assert panel.found.held.vessel.limit == pytest.approx(kpa)
        assert "your own limit" in panel.in_vessel.value
    panel.limit.value = "1"
    assert "it must be at most 1.0 bar, its limit" in panel.problem.value
    for wrong in ("lots", "-3", "nan"):
        panel.limit.value = wrong
        assert _text(panel.problem).startswith("Limit is ")
    panel.limit.value = ""
    assert panel.found.held.vessel.limit == VESSELS["keg, 19 L"].limit
    for beyond in ("12", "0"):  # a stamp above what is listed is not taken on anybody's word
        panel.limit.value = beyond
        assert "it must be above 0 and at most 9.0 bar" in panel.problem.value


def test_a_limit_keeps_the_unit_it_was_typed_in_and_leaves_with_its_vessel(panel):
    panel.limit.value = "4"
    panel.pressure_unit.value = "psi"
    assert panel.limit.value == "4 bar"
    assert panel.found.held.vessel.limit == pytest.approx(400)
    panel.vessel.value = "keg, 9.5 L"
    assert panel.limit.value == ""
    assert panel.amount.value == VESSELS["keg, 9.5 L"].fill
    assert "130 psi" in panel.limit.placeholder


def test_cautions_are_there_before_anything_and_follow_the_drink(tmp_path):
    too_strong = Recipe.parse("60 mL overproof rum, 63 %", technique="none", name="neat")
    panel = carbonation_panel.panel(tmp_path, too_strong)
    assert "Strength is 63; it must be 0 to 40 % vol" in panel.problem.value
    assert "stamped for pressure" in panel.cautions.value
    assert "5000 ppm" in panel.cautions.value
    assert panel.headline.value == ""
    panel.use(CUP)
    assert "Protein" in panel.cautions.value
    _drink(panel, "100 mL water")
    assert "Protein" not in panel.cautions.value


# --- problems -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mode", "control", "value", "said"),
    [
        ("pressure", "level", 0.5, "Volumes is 0.5; it must be at least 1.25, what this drink keeps there"),
        ("pressure", "level", 12, "Volumes is 12; it must be 0 to 10 volumes."),
        ("pressure", "temperature", 60, "Drink, chilled to is 60; it must be -10 to 40 °C."),
        ("pressure", "temperature", -9, "Drink, chilled to is −9 °C; it must be at least −6 °C, where this drink"),
        ("pressure", "amount", 0, "Drink in it is 0 mL; it must be above 0 mL."),
        ("level", "gauge", -1, "Gauge pressure is -1; it must be 0 to 20 bar."),
        ("level", "gauge", 9, "Gauge pressure is 9.0 bar; it must be at most what gives 10 volumes"),
    ],
)
def test_problems_are_one_sentence_and_the_last_result_stays(panel, mode, control, value, said):
    panel.mode.value = mode
    good, dial = _words(panel), getattr(panel, control)
    usual = dial.value
    dial.number.value = value
    assert said in _text(panel.problem)
    assert _words(panel) == good
    dial.number.value = usual
    assert panel.problem.value == ""
    assert _words(panel).keys() == good.keys()


def test_a_drink_too_strong_for_the_melt_rule(panel):
    good = _words(panel)
    _drink(panel, "60 mL overproof rum, 63 %", technique="stirred")
    assert "Strength before ice is 63; it must be 0 to 60 % vol" in panel.problem.value
    assert _words(panel) == good
    panel.choose.value = ("demo", "First Frost")
    assert panel.problem.value == ""


def test_every_drink_can_be_gassed_with_and_without_its_melt_water(panel):
    for melt in (True, False):
        panel.melt.value = melt
        for _, key in dozen(panel.choose.options):
            panel.choose.value = key
            assert panel.problem.value == "", (key, melt)
            assert not re.search(r"\bnan\b", " ".join(_text(getattr(panel, name)) for name in PLACES))


# --- the picture --------------------------------------------------------------------------------------------


def _inside(rows):
    (low, high), (start, end) = rows["frame"], rows["clock"]
    for names, (first, last), fields in (
        (LEFT, (low, high), {"t": "t", "p": "p", "low": "p", "high": "p"}),
        (RIGHT, (start, end), {"s": "s", "v": "v", "low": "v", "high": "v"}),
    ):
        for name in names:
            for row in rows[name]:
                for field, axis in fields.items():
                    if field in row:
                        assert first[axis] - 1e-6 <= row[field] <= last[axis] + 1e-6, (name, row)


@pytest.mark.parametrize("drink", ["100 mL water", "60 mL gin\n60 mL water", "100 mL lager beer"])
@pytest.mark.parametrize(("level", "celsius"), [(1.8, 0.5), (2.8, 4), (5, 18), (8, 10), (1.2, 20), (2, 33)])
def test_nothing_leaves_the_picture(panel, drink, level, celsius):
    _drink(panel, drink)
    panel.temperature.number.value, panel.level.number.value = celsius, level
    assert panel.problem.value == ""
    _inside(panel.chart.rows)
    assert sum(len(row) for rows in panel.chart.rows.values() for row in rows) < 3000


def test_the_lines_are_of_equal_level(panel):
    batch, rows = _batch(panel), panel.chart.rows
    assert {row["label"] for row in rows["ends"]} >= {"1", "2", "3", "4"}
    for row in rows["lines"]:
        held = gas.volumes_held(batch, 100 * row["p"], row["t"])
        assert held == pytest.approx(row["v"], abs=0.02)
    for row in rows["level"]:
        assert gas.volumes_held(batch, 100 * row["p"], row["t"]) == pytest.approx(2.8, abs=0.02)
    (dot,), sure = rows["now"], gas.spread(batch)
    assert (dot["t"], 100 * dot["p"]) == pytest.approx((4, gas.pressure_for(batch, 2.8, 4)), abs=0.1)
    for end, share in (("low", 1 - sure), ("high", 1 + sure)):
        assert 100 * dot[end] == pytest.approx(gas.pressure_for(batch, 2.8 * share, 4), abs=0.1)
        band = np.interp(4, [row["t"] for row in rows["band"]], [row[end] for row in rows["band"]])
        assert band == pytest.approx(dot[end], abs=0.02)
    assert rows["limit"] == []  # far above the picture


def test_the_vessels_limit_and_the_edge_of_ice_are_drawn_when_near(panel):
    panel.limit.value = "2.5"
    (limit,) = panel.chart.rows["limit"]
    assert (limit["p"], limit["label"]) == (2.5, "limit of the vessel, 2.5 bar")
    assert panel.chart.rows["ice"] == []
    _drink(panel, "100 mL lager beer")
    (ice,) = panel.chart.rows["ice"]
    assert ice["t"] == pytest.approx(dilution.freezing_point(_batch(panel)), abs=0.01)
    assert min(row["t"] for row in panel.chart.rows["lines"]) >= ice["t"] - 0.01


def test_the_axes_stand_still_under_the_hand(panel):
    frames = []
    for level in np.arange(1.4, 3.6, 0.1):
        panel.level.slider.value = level
        frames.append((panel.chart.rows["frame"], panel.chart.rows["clock"]))
    assert all(frame == frames[0] for frame in frames)
    for celsius in range(-3, 20):
        panel.temperature.slider.value = celsius
        assert panel.chart.rows["clock"] == frames[0][1]


def test_the_dot_of_the_time_is_on_its_curve(panel):
    for method in ("rest", "shaken"):
        panel.method.value = method
        rows, (done,) = panel.chart.rows, panel.chart.rows["done"]
        assert done["v"] == pytest.approx(gas.DONE * 2.8, abs=0.02)
        usual = gas.time_to(_batch(panel), 2.8, panel.found.pressure[0], 4, method)[0]
        assert done["s"] == pytest.approx(usual / carbonation_charts.CLOCKS[method][1], abs=0.01)
        assert rows["end"][0]["v"] == pytest.approx(2.8, abs=0.01)
        for row in rows["uptake"]:
            assert row["low"] <= row["v"] <= row["high"]


def test_it_is_drawn_for_each_unit_and_fits_a_page(panel):
    for unit, temperature in (("psi", "°F"), ("bar", "°C"), ("kPa", "°C")):
        panel.pressure_unit.value, panel.temperature_unit.value = unit, temperature
        drawn = pictures.static_svg(panel.chart.spec, **panel.chart.rows)
        assert f"Gauge pressure [{unit}]" in drawn
        assert f"Temperature [{temperature}]" in drawn
        assert float(re.search(r'width="([\d.]+)"', drawn)[1]) <= 760
        assert unit in panel.chart.spec["description"]


# --- units --------------------------------------------------------------------------------------------------


def test_units_change_what_is_shown_and_nothing_else(panel):
    before = panel.found
    panel.volume_unit.value, panel.temperature_unit.value, panel.pressure_unit.value = "oz", "°F", "psi"
    assert panel.found.pressure == pytest.approx(before.pressure)
    assert panel.found.held.warm == pytest.approx(before.held.warm)
    assert panel.temperature.number.value == pytest.approx(39.2, abs=0.05)
    assert _tile(panel.headline, "Gauge pressure")[0] == f"{before.pressure[0] / PSI:.0f}"
    shown = "".join(_text(getattr(panel, name)) for name in PLACES)
    assert "°C" not in shown
    assert " bar" not in shown
    assert " mL" not in shown
    (dot,) = panel.chart.rows["now"]
    assert (dot["t"], dot["p"]) == pytest.approx((39.2, before.pressure[0] / PSI), abs=0.01)
    panel.mode.value = "level"
    panel.pressure_unit.value = "kPa"
    assert panel.gauge.number.value == pytest.approx(before.pressure[0], abs=0.1)
    assert panel.found.volumes == pytest.approx(before.volumes)
    assert logbook.choices(panel.folder)["temperature"] == "°F"
    assert carbonation_panel.panel(panel.folder).pressure_unit.value == "psi"  # goes with °F


def test_a_saved_drink_and_one_handed_in_are_used(tmp_path):
    from drinklab import trial

    own = Recipe.parse("50 mL gin\n100 mL water", name="Gin, thinned", technique="none")
    logbook.save(trial.run(own, draws=0), tmp_path)
    panel = carbonation_panel.panel(tmp_path, own)
    assert f"{profile(_batch(panel)).abv:.1f} % vol" in panel.headline.value
    (saved,) = (key for _, key in panel.choose.options if key[0] == "saved")
    panel.choose.value = ("classic", "Negroni")
    panel.choose.value = saved
    assert panel.problem.value == ""
    assert "Gin, thinned" in panel.glass.value


@pytest.mark.parametrize("name", ["sucrose", "citric", "solids"])
def test_what_a_jelly_keeps_goes_by_its_litres_and_by_what_is_dissolved(name):
    """What is dissolved lowers it by 0.7 % for each 10 g/L (from memory, as in `physics.solubility`): 50 g in 1.03 L by
    3.4 %; that it thins 10 % vol to 9.7 gives 0.3 % back."""

    def kept(ml, dissolved=0.0):
        drink = strength.spirit(ml, 10) + Liquid.of(**{name: dissolved * ml / 1000})
        made = Set("agar", ph=5.0).act(drink + Liquid.of(co2=0.005 * ml))
        return made.liquid.co2 / drink.volume()

    assert kept(5000) == pytest.approx(kept(50))
    assert kept(100, 50) / kept(100) == pytest.approx(0.969, abs=0.003)
