"""Milk washing, filtering and the day's plan: dairy science, mass, honesty of the bands, and what a mistake says."""

from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from drinklab import facts, filtering, pantry, schedule, steps, tables, trial
from drinklab import milk as clear
from drinklab.errors import InputError
from drinklab.filtering import filter_forecast
from drinklab.learned import Learned
from drinklab.liquid import ACIDS, COMPONENTS, Liquid
from drinklab.milk import calibrate, milk_wash
from drinklab.physics import acids, filtration
from drinklab.recipe import Recipe, pour
from drinklab.schedule import plan
from drinklab.strength import spirit

SOUR = Liquid.of(water=70, ethanol=16, sucrose=9, citric=0.9)
WHOLE = "whole cow's milk"
BRANCH = Recipe.parse(
    "45 mL dark rum, 46 %\n15 mL amontillado sherry\n15 mL pineapple juice\n15 mL lemon juice\n15 mL honey syrup\n"
    "10 mL cold green tea"
)


def powder(grams):
    """Citric acid in as little water as there may be."""
    return Liquid.of(water=1.0, citric=grams)


# --- milk, against the outside ------------------------------------------------------------------------------

# FAO, Milk and Dairy Products in Human Nutrition (2013), table 3.1: ranges over several national tables, g/100 g.
FAO = {
    WHOLE: {"water": (87.3, 88.1), "protein": (3.2, 3.4), "fat": (3.1, 3.3), "lactose": (4.5, 5.1)},
    "goat's milk": {"water": (86.4, 89.0), "protein": (2.9, 3.8), "fat": (3.3, 4.5), "lactose": (4.2, 4.5)},
    "sheep's milk": {"water": (80.7, 83.0), "protein": (5.4, 6.0), "fat": (5.8, 7.0), "lactose": (4.5, 5.4)},
    "buffalo's milk": {"water": (82.3, 84.0), "protein": (2.7, 4.6), "fat": (5.3, 9.0)},
}


@pytest.mark.parametrize("name", FAO)
def test_milks_lie_in_published_ranges(name):
    """To 0.06, which is what rounding and the loss of vitamins from the sum may do."""
    hundred = (100 / clear.milks()[name].millilitre.mass) * clear.milks()[name].millilitre
    for part, (low, high) in FAO[name].items():
        assert low - 0.06 <= getattr(hundred, part) <= high + 0.06, part


@pytest.mark.parametrize("name", clear.milks())
def test_every_milk_adds_up(name):
    """All of 100 g is there; a litre weighs 1.02 to 1.04 kg (dairy textbooks, from memory); casein is 75 to 85 %."""
    row = next(r for r in tables.read("milks").rows() if r["milk"] == name)
    parts = ("water_g", "casein_g", "whey_protein_g", "fat_g", "lactose_g", "ash_g")
    assert sum(row[p] for p in parts) == pytest.approx(100, abs=0.011)
    assert row["calcium_mg"] + row["potassium_mg"] < 1000 * row["ash_g"]
    milk = clear.milks()[name]
    assert 1.02 < milk.millilitre.mass < 1.04
    assert 0.75 < milk.casein / milk.millilitre.protein < 0.85
    assert milk.allergens == ("milk",)


def test_casein_falls_out_at_its_isoelectric_point():
    """pH 4.6 (Zoller 1921; dairy textbooks)."""
    assert clear.completeness(4.6) == 1
    assert clear.completeness(6.6) == 0
    assert np.all(np.diff(clear.completeness(np.linspace(4.6, 5.2, 50))) < 0)


@pytest.mark.parametrize(
    ("what", "ph", "mmol"),
    [
        # US yoghurt practice: 0.9 % titratable acidity at pH 4.4, less the native 0.17 %: 68 mmol H+/L
        ("yoghurt", 4.4, 68),
        # direct-acid cheese: 1.6 g/L citric acid takes milk to pH 5.6 to 5.8: 18 mmol H+/L
        ("fresh cheese by acid", 5.7, 18),
    ],
)
def test_acid_demand_against_dairy_practice(what, ph, mmol):
    """Both published practices must lie in the band of the table's buffering, 45 to 75 mmol/L (science 5.4)."""
    milk = clear.milks()[WHOLE]
    assert abs(mmol / clear.bound(ph) - milk.buffering) <= milk.buffering_pm


def test_highest_buffer_index():
    """An online dairy course gives 0.0277 (whole) to 0.0333 (skimmed) for cow's milk; within a third of it."""
    ph = np.linspace(4.6, 6.7, 400)
    index = -np.gradient(clear.bound(ph), ph).min() * clear.milks()[WHOLE].buffering / 1000
    assert 0.0277 * 0.75 < index < 0.0333 * 1.33


def test_milk_goes_on_binding_as_it_sours():
    ph = np.linspace(2, 6.7, 200)
    assert np.all(np.diff(clear.bound(ph)) < 0)
    assert clear.bound(2.5) < 2


def test_citric_acid_for_a_litre_of_milk():
    """55 mmol/L over 1.62 H+ a mole (charge of citrate at pH 4.6 and I = 0.1): 6.5 g, or 136 mL of lemon juice if it
    were citric acid alone; its own potassium makes that about 147. (7.1 g while the buffering was 60, from memory.)"""
    washed = milk_wash(powder(0.01), amount=1000)
    assert washed.citric_short == pytest.approx(6.5, rel=0.03)
    assert 138 < washed.lemon_short < 156
    assert milk_wash(powder(0.01 + washed.citric_short), amount=1000).ph == pytest.approx(4.6, abs=0.02)


def test_what_runs_off_is_acid_whey():
    """USDA SR28 01112, fluid acid whey: protein 0.76, fat 0.09, carbohydrate 5.12, water 93.42 g/100 g."""
    washed = milk_wash(powder(7.4), "skimmed cow's milk", amount=1000)
    assert washed.ph < 4.6
    whey = (100 / (washed.liquid.mass - washed.liquid.citric)) * washed.liquid
    assert whey.protein == pytest.approx(0.76, abs=0.1)
    assert whey.fat < 0.09
    assert whey.lactose == pytest.approx(5.12, abs=0.1)
    assert whey.water == pytest.approx(93.42, abs=0.2)


# --- the wash ---------------------------------------------------------------------------------------------


def test_the_demo_drink_curdles_and_keeps_its_spirit():
    liquid = pour([BRANCH], pantry.load())[0][0]
    washed = milk_wash(liquid, share=0.25)
    assert washed.ph_high < 4.6
    assert washed.complete == 1
    assert washed.liquid.ethanol == pytest.approx((1 - washed.lost) * liquid.ethanol)
    assert washed.curd.ethanol + washed.liquid.ethanol == pytest.approx(liquid.ethanol, rel=1e-12)
    assert washed.volume_low < washed.volume < washed.volume_high
    assert washed.volume == pytest.approx(washed.liquid.volume(), rel=1e-6)
    assert washed.profile.abv < 100 * liquid.ethanol / 0.78924 / liquid.volume()
    assert 5 < washed.lactose < 15
    # casein and fat are with the curd, whey protein runs off
    milk = clear.milks()[WHOLE]
    assert washed.curd.protein > washed.amount * milk.casein
    assert washed.curd.fat >= washed.milk.fat


amounts = st.floats(0.1, 60)


@given(
    water=st.floats(20, 200), ethanol=amounts, sugar=amounts, citric=st.floats(0.01, 6), salt=st.floats(0, 0.3),
    protein=st.floats(0, 1), share=st.floats(0.01, 5), milk=st.sampled_from(list(clear.milks())),
)  # fmt: skip
def test_mass_closes_with_the_curd_counted(water, ethanol, sugar, citric, salt, protein, share, milk):
    drink = Liquid.of(water=water, ethanol=ethanol, fructose=sugar, citric=citric, potassium=salt, protein=protein)
    washed = milk_wash(drink, milk, share=share)
    assert drink.grams + washed.milk.grams == pytest.approx(washed.liquid.grams + washed.curd.grams, abs=1e-9)
    assert washed.milk.mass == pytest.approx(washed.amount * clear.milks()[milk].millilitre.mass)
    assert washed.liquid.grams.min() >= 0
    assert washed.ph_low <= washed.ph <= washed.ph_high
    assert 0 <= washed.complete_low <= washed.complete <= washed.complete_high <= 1
    # enough acid and all curdled are the same thing
    assert (washed.citric_short == 0) == (washed.most_milk >= washed.amount)
    if abs(washed.ph - 4.6) > 0.05:
        assert (washed.complete == 1) == (washed.citric_short == 0)
    assert not any(" nan" in said for said in map(str, washed.said()))


@pytest.mark.parametrize("drink", [SOUR, spirit(60, 20) + Liquid.of(malic=1.5, potassium=0.1)])
def test_most_milk_and_missing_acid_end_at_the_isoelectric_point(drink):
    few = milk_wash(drink, share=9)
    assert few.complete < 1
    assert milk_wash(drink, amount=few.most_milk).ph == pytest.approx(4.6, abs=0.05)
    assert milk_wash(drink + Liquid.of(citric=few.citric_short), amount=few.amount).ph == pytest.approx(4.6, abs=0.03)
    juice = Liquid.of(water=0.95 * few.lemon_short, citric=0.048 * few.lemon_short, potassium=0.00106 * few.lemon_short)
    assert milk_wash(drink + juice, amount=few.amount).ph == pytest.approx(4.6, abs=0.05)


def test_one_call_over_axes_equals_many():
    shares = np.linspace(0.05, 2, 7)
    drinks = np.array([0.8, 1.0, 1.3]) * SOUR
    together = milk_wash(drinks, share=shares[:, None])
    assert together.liquid.shape == (7, 3)
    assert np.all(np.diff(together.ph, axis=0) > 0)  # more milk, less sour
    for i, share in enumerate(shares):
        alone = milk_wash(drinks[1], share=share)
        for figure in ("ph", "ph_low", "complete", "citric_short", "most_milk", "volume", "volume_high", "lost"):
            assert np.broadcast_to(getattr(together, figure), (7, 3))[i, 1] == pytest.approx(
                getattr(alone, figure), rel=1e-6
            )
        assert together.liquid.grams[:, i, 1] == pytest.approx(alone.liquid.grams, abs=1e-6)


def test_the_washed_drink_keeps_the_ph_of_the_mix():
    """Milk's salts go with it as potassium: the plain charge balance must find the same pH, to 0.03."""
    for share in (0.1, 0.25, 0.6):
        washed = milk_wash(SOUR, share=share)
        litres = washed.volume / 1000
        held = {a: getattr(washed.liquid, a) / litres for a in ACIDS}
        again = acids.ph(held, potassium=washed.liquid.potassium / litres, abv=washed.profile.abv)
        assert again == pytest.approx(washed.ph, abs=0.03)


def test_a_measured_yield_replaces_and_refits_the_hold_up():
    guessed = milk_wash(SOUR, share=0.3)
    measured = milk_wash(SOUR, share=0.3, measured_yield=guessed.volume - 8)
    assert measured.volume == measured.volume_low == measured.volume_high == pytest.approx(guessed.volume - 8)
    assert measured.hold_up > guessed.hold_up
    assert milk_wash(2 * SOUR, share=0.3, hold_up=measured.hold_up).volume == pytest.approx(2 * measured.volume)


def test_a_hold_up_of_ones_own_holds_so_much_to_the_gram():
    """By hand: all curdled, the curd is the casein and fat of the milk, and each gram holds the 3 mL that were measured;
    19 in 20 from 2 to 4.5 mL where that is known to a factor of 1.5."""
    milk = clear.milks()[WHOLE]
    for factor in (None, 1.5):
        washed = milk_wash(SOUR, amount=30, hold_up=3.0, hold_up_factor=factor)
        runs, dry = washed.volume / (1 - washed.lost), 30 * (milk.casein + milk.millilitre.fat)
        assert runs - washed.volume == pytest.approx(3.0 * dry)
        assert runs - washed.volume_low == pytest.approx(3.0 * (factor or 1) * dry)
        assert runs - washed.volume_high == pytest.approx(3.0 / (factor or 1) * dry)


def test_hot_curd_takes_nine_tenths_of_the_protein():
    """De and Ray 1954 (abstract): of milk that was heated; from cold milk only the casein, four fifths, falls out. The
    curd's own liquid holds a little of what stays dissolved."""
    hot, cold = (milk_wash(SOUR, amount=30, way=way) for way in ("hot", "cold drip"))
    assert hot.complete == cold.complete == 1
    assert hot.curd.protein / hot.milk.protein == pytest.approx(0.9, abs=0.01)
    assert 0.75 < cold.curd.protein / cold.milk.protein < 0.85


def test_hot_milk_curdles_sooner_and_drains_drier():
    """Heated milk curdles at pH 5.4 and its curd holds 1.3 mL to a gram of protein and fat (De and Ray 1954, abstract),
    paneer 1.3, white cheese 1.2 (Chandan et al. 1979); all out at 5.3, nothing yet above 5.8, as `completeness` says."""
    assert clear.completeness(np.array([5.3, 5.4, 5.79, 5.81]), "hot") == pytest.approx([1, 0.9, 0, 0], abs=0.01)
    assert clear.completeness(5.79, "hot") > 0
    hot = milk_wash(SOUR, amount=30, way="hot")
    dry = 30 * clear.milks()[WHOLE].casein * 0.9 / 0.8 + hot.milk.fat  # nine tenths of the protein, of which 0.8 casein
    assert hot.volume * hot.lost / (1 - hot.lost) / dry == pytest.approx(np.mean([1.3, 1.3, 1.2]), abs=0.1)


def test_a_ph_within_more_than_a_whole_unit_is_hardly_known():
    """Salts that nobody stated widen the band: below a unit from end to end it is told without a word, above it not."""
    for salts, doubtful in ((0.05, False), (0.1, True)):
        washed = milk_wash(SOUR + Liquid.of(unsure_potassium=salts))
        assert (1.0 < washed.ph_high - washed.ph_low < 1.25) is doubtful
        assert ("pH hardly known" in {fact.code for fact in washed.said()}) is doubtful


def test_the_band_of_volume_is_what_the_draws_say():
    drawn = milk_wash(SOUR, share=0.3, draw=steps.draws(4000, 2))
    once = milk_wash(SOUR, share=0.3)
    assert drawn.volume[0] == pytest.approx(once.volume)
    assert np.quantile(drawn.volume[1:], [0.025, 0.975]) == pytest.approx([once.volume_low, once.volume_high], rel=0.02)
    assert np.quantile(drawn.ph[1:], [0.025, 0.975]) == pytest.approx([once.ph_low, once.ph_high], abs=0.03)


@pytest.mark.parametrize("milk", [WHOLE, "sheep's milk"])
@pytest.mark.parametrize("buffering", [30, 60, 100])
@pytest.mark.parametrize("parts", [0.5, 1.0])
def test_calibration_undoes_the_wash(milk, buffering, parts):
    test = Liquid.of(water=100, citric=0.9)
    shown = milk_wash(test, milk, share=parts, buffering=buffering).ph
    assert calibrate(test, shown, milk, share=parts) == pytest.approx(buffering, rel=0.01)


def test_plain_words():
    few = facts.say(milk_wash(SOUR, share=3).said())
    assert "Too little acid: pH 5." in few
    assert "g of citric acid or" in few
    assert "use at most" in few
    assert "Curdles in part" in milk_wash(SOUR, amount=1.25 * milk_wash(SOUR).most_milk).said()[0].text
    good = facts.say(milk_wash(SOUR).said())
    assert good.startswith("Curdles: pH 3.2")
    assert "lactose, whey protein and calcium stay" in good
    assert "no washed drink" in good
    strong = spirit(90, 60) + Liquid.of(citric=1)
    assert any(said.startswith("Too strong: 4") for said in map(str, milk_wash(strong).said()))
    sour = Liquid.of(water=90, citric=8)
    assert any(said.startswith("Very sour") for said in map(str, milk_wash(sour, share=0.1).said()))
    assert any("common practice is 1 part to 3 or 4" in said for said in map(str, milk_wash(sour, share=0.1).said()))
    assert any(
        "That is close" in said for said in map(str, milk_wash(SOUR, amount=0.93 * milk_wash(SOUR).most_milk).said())
    )


def test_the_lemon_juice_that_is_told_of_is_the_tables():
    """USDA SR28 09152 (read): 103 mg of potassium in 100 g, at 1.03 kg/L; Penniston et al. 2008: 48 g/L of citric acid."""
    juice = pantry.load()["lemon_juice"]
    assert 1000 * juice.composition[COMPONENTS.index("potassium")] == pytest.approx(1.03 * 1.03, rel=0.01)
    assert 1000 * juice.composition[COMPONENTS.index("potassium")] == clear.curd.LEMON_POTASSIUM
    assert clear.curd.LEMON_CITRIC == 1000 * juice.composition[COMPONENTS.index("citric")] == pytest.approx(48)


def test_polyphenol_figures_carry_their_source():
    """Per cent that protein took, of black and green tea's catechins (Food Research International, 2013) and of the
    tannins and all phenolics of pomegranate (Food Chemistry 184 (2015) 37); abstracts, read."""
    published = [(35, 35), (73, 73), (17, 60), (7, 17)]
    for (_, low, high, source), per_cent in zip(clear.POLYPHENOLS, published, strict=True):
        assert (100 * low, 100 * high) == pytest.approx(per_cent)
        assert source


# --- steps ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", [clear.MilkWash(milk="goat's milk", share=0.3), filtering.Filter(papers=2)])
def test_steps_are_saved_and_act_alike_again(step):
    again = steps.from_dict(steps.to_dict(step))
    assert again == step
    assert again.act(SOUR).liquid.grams == pytest.approx(step.act(SOUR).liquid.grams)


def test_a_wash_says_what_can_hurt_and_what_may_be_measured_of_it():
    """Spirit on hot milk gives off vapour that burns; what is given by hand needs no measuring."""
    codes = {way: {caution.code for caution in clear.MilkWash(way=way).cautions} for way in ("cold drip", "hot")}
    assert codes == {"cold drip": {"dairy"}, "hot": {"dairy", "hot spirit"}}
    milk, wash = ("milk", WHOLE), ("wash", "cold drip")
    assert clear.MilkWash().measures == (milk, wash)
    assert clear.MilkWash(buffering=50).measures == (wash,)
    assert clear.MilkWash(hold_up=3).measures == clear.MilkWash(measured_yield=80).measures == (milk,)


def test_a_wash_goes_by_what_was_measured():
    """By hand: 3.0 mL to a gram, known to a tenth (one standard deviation), lie between 3 / 1.22 and 3 x 1.22; a milk of
    60 mmol/L ± 3 lies within 6 of it 19 times in 20."""
    milk = clear.milks()[WHOLE]
    own = (Learned("milk", WHOLE, 60.0, 3.0, 55.0, 7.5), Learned("wash", "cold drip", 3.0, 0.3, 4.0, 1.4))
    washed = clear.MilkWash(amount=30, learned=own).wash(SOUR)
    runs, dry = washed.volume / (1 - washed.lost), 30 * (milk.casein + milk.millilitre.fat)
    assert runs - washed.volume == pytest.approx(3.0 * dry)
    assert runs - washed.volume_low == pytest.approx(3.0 * 1.2165 * dry, rel=1e-3)
    told = milk_wash(SOUR, amount=30, buffering=60, buffering_pm=6)
    assert (washed.ph_low, washed.ph, washed.ph_high) == pytest.approx((told.ph_low, told.ph, told.ph_high))


def test_a_trial_through_milk_and_paper():
    found = trial.run(BRANCH, melt=0.0, steps=(clear.MilkWash(), filtering.Filter()), draws=200)
    names = [stage.name for stage in found.stages]
    assert names[-2:] == ["milk-washed", "filtered"] or names[-3:-1] == ["milk-washed", "filtered"]
    assert "milk" in found.allergens
    assert any(c.code == "dairy" for c in found.cautions)
    assert any("stays declared" in note for note in found.notes)
    last = found.served
    assert last.low.volume < last.profile.volume < last.high.volume


def test_the_filter_keeps_what_it_says():
    done = filtering.Filter(papers=2, holds=12).act(2 * SOUR)
    assert done.left.volume() == pytest.approx(24)
    assert done.liquid.mass + done.left.mass == pytest.approx(2 * SOUR.mass)


# --- the forecast -----------------------------------------------------------------------------------------


def readings(volumes, a=0.2, b=0.0012):
    v = np.asarray(volumes, float)
    return v * (a + b * v), v


def test_before_any_reading_common_practice_speaks():
    """Half a day for about half a litre through one paper, with a wide band."""
    prior = filter_forecast()
    assert prior.end == pytest.approx(480, rel=0.05)
    assert prior.low == pytest.approx(480 / 2.5, rel=0.15)
    assert prior.high == pytest.approx(480 * 2.5, rel=0.15)
    assert prior.line is None
    assert "common practice alone" in prior.said()[0].text


def test_the_band_tightens_as_readings_come():
    # Not against no reading at all: common practice is of filters that get through, a log may be of one that closes.
    widths = []
    for n in (1, 3, 6, 12):
        forecast = filter_forecast(*readings(25.0 * np.arange(1, n + 1)), 500, kept_full=True)
        widths.append((forecast.high - forecast.low) / forecast.end)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.25 * widths[0]


def test_one_reading_speaks_together_with_practice():
    slow, fast = (filter_forecast([t], [100], 500) for t in (100, 10))
    prior = filter_forecast()
    assert fast.end < prior.end < slow.end
    assert "1 reading and common practice together" in slow.said()[0].text


@pytest.mark.parametrize("pace", [0.05, 1, 6])
def test_many_readings_give_least_squares(pace):
    t, v = readings(np.arange(20, 320, 10))
    forecast = filter_forecast(pace * t, v, 500, kept_full=True)
    assert forecast.end == pytest.approx(filtration.fit(v, pace * t).time(500), rel=0.03)
    assert forecast.line.r2 > 0.999


def test_forecast_of_the_textbook_run():
    """Geankoplis example 14.2-1: from the first six readings, the last, 107.3 s at 5.009 L, lies in the band, with the
    seconds taken as minutes. The middle, 5 % off by a cake alone, comes later as pores may close too."""
    seconds, litres = [4.4, 9.5, 16.3, 24.6, 34.7, 46.1], np.array([0.498, 1.000, 1.501, 2.000, 2.498, 3.002])
    forecast = filter_forecast(seconds, 1000 * litres, 5009, kept_full=True)
    assert forecast.low < 107.3 < forecast.high
    assert forecast.end == pytest.approx(107.3, rel=0.15)


def test_19_in_20_filters_end_in_the_band():
    """Filters that differ as common practice says, read with 5 % scatter and drifting as `DRIFT` says."""
    rng = np.random.default_rng(11)
    inside, tries = 0, 300
    for _ in range(tries):
        whole = 480 * np.exp(np.log(2.5) / 2.776 * rng.standard_t(4))
        paper = rng.beta(1.2, 4)
        a, b = paper * whole / 500, (1 - paper) * whole / 500**2
        v = np.linspace(40, 160, rng.integers(1, 6) + 1)[1:]
        t = np.sort(v * (a + b * v) * (1 + 0.05 * rng.standard_normal(v.size)))
        now = t[-1]
        end = now + (500 * (a + b * 500) - v[-1] * (a + b * v[-1])) * np.exp(0.15 * rng.standard_normal())
        forecast = filter_forecast(t, v, 500)
        inside += not forecast.made or forecast.low <= end <= forecast.high
    assert 0.92 <= inside / tries <= 0.985  # three standard errors


def test_filters_side_by_side():
    one = filter_forecast()
    two = filter_forecast(filters=2)
    assert 0.25 * one.end < two.end < 0.5 * one.end  # cake alone a quarter, paper alone a half
    t, v = readings(np.arange(20, 200, 20))
    assert filter_forecast(t, 3 * v, 1500, filters=3).end == pytest.approx(filter_forecast(t, v, 500).end, rel=0.001)


def test_new_paper_starts_a_new_cake():
    first, v1 = readings([50, 100, 150, 200])
    second, v2 = readings([50, 100, 150])
    t, v = np.concatenate([first, first[-1] + second]), np.concatenate([v1, 200 + v2])
    forecast = filter_forecast(t, v, 500, new_papers=[first[-1]])
    assert forecast.end == pytest.approx(first[-1] + readings([300])[0][0], rel=0.05)
    assert forecast.line.slope == pytest.approx(0.0012)
    stayed = filter_forecast(first, v1, 500)
    assert stayed.new_paper == pytest.approx(first[-1] + readings([300])[0][0], rel=0.15)
    assert "With new paper now" in stayed.said()[1].text
    often, v = readings(np.arange(10, 201, 10))  # by so many, and kept full, there is no doubt of the cake
    full = filter_forecast(often, v, 500, kept_full=True)
    assert full.new_paper - often[-1] == pytest.approx(readings([300])[0][0], rel=0.03)


def test_runnings_poured_back_run_twice():
    t, v = readings(np.arange(70, 250, 20))
    counted = filter_forecast(t, v - 50, 450, returned=50, kept_full=True)
    assert counted.end == pytest.approx(filter_forecast(t, v, 500, kept_full=True).end, rel=1e-9)


def test_the_curve_leads_from_the_last_reading_to_the_end():
    forecast = filter_forecast(*readings([40, 80, 120]), 500)
    volume, middle, low, high = forecast.curve
    assert (volume[0], volume[-1]) == (120, 500)
    assert middle[0] == low[0] == high[0] == forecast.minutes[-1]
    assert (middle[-1], low[-1], high[-1]) == (forecast.end, forecast.low, forecast.high)
    assert np.all(np.diff(low) > 0)


def test_a_forecast_that_cant_be_made_is_not_made():
    v = np.arange(30.0, 300, 30)
    clogging = filter_forecast(-300 * np.log(1 - v / 300), v, 500)  # the log of complete blocking, closed at 300 mL
    still = filter_forecast([30, 60, 90], [80, 110, 110], 500)
    leak = filter_forecast(v * (1.0 - 0.0015 * v), v, 500)
    for forecast, word in ((clogging, "clogging"), (still, "nothing has come through from 60 to 90"), (leak, "leak")):
        assert not forecast.made
        assert (forecast.low, forecast.high, forecast.curve) == (None, None, ())
        assert word in forecast.said()[0].text
        assert forecast.said()[0].text.startswith("No forecast: ")


def test_through_is_through():
    done = filter_forecast([100, 200], [300, 500], 500)
    assert (done.end, done.low, done.high) == (200, 200, 200)


def test_the_line_weighs_each_reading_by_its_share():
    """SciPy's least squares of t/V = a + b V, where each t/V is as unsure as it is large."""
    v = np.array([50.0, 100, 150, 200, 250])
    t = readings(v)[0] * np.array([1.05, 0.96, 1.02, 0.97, 1.03])
    line = filter_forecast(t, v, 500).line
    (a, b), _ = curve_fit(lambda x, a, b: a + b * x, v, t / v, sigma=t / v)
    assert (line.intercept, line.slope) == pytest.approx((a, b), rel=1e-4)


def test_own_logs_narrow_the_own_half_of_the_variance():
    """By hand: practice's ln 2.5 / 1.96 = 0.4675, of whose variance half stays from batch to batch, 0.3306; with a tenth
    of doubt about the bar's own time 0.3454, which is 0.739 of it."""
    own = filtering.usual_time({("filter", "paper"): Learned("filter", "paper", 360.0, 36.0, 480.0, 160.0)})
    assert own.time == 360
    assert own.spread / filtering.usual_time().spread == pytest.approx(0.739, abs=0.001)


def test_a_length_of_time_in_words():
    year = 365 * 1440
    assert filtering.hours(9.9 * year) == "3614 days"
    assert filtering.hours(10.1 * year) == filtering.hours(1e9) == "more than 10 years"


def test_other_ways_say_on_whose_word():
    """Losses in per cent: common practice, no published source."""
    lost = {way.name.split(",")[0]: tuple(round(100 * share, 6) for share in way.lost) for way in filtering.ways()}
    assert lost == {"paper": (10, 25), "cloth": (12, 30), "centrifuge": (5, 15), "gelatin": (15, 40), "agar": (10, 30)}
    for way in filtering.ways():
        assert way.minutes[0] < way.minutes[1]
        assert 0 < way.lost[0] < way.lost[1] < 1
        assert "common practice" in way.source


# --- the plan ---------------------------------------------------------------------------------------------

NOW = datetime(2026, 7, 1, 9)
SERVE = datetime(2026, 7, 3, 18)


def test_the_plan_runs_without_gaps_to_the_serve_time():
    day = plan(SERVE, now=NOW)
    assert [r.stage.key for r in day.rows] == ["juice", "mix", "milk", "rest", "filter", "chill", "gas", "set"]
    assert day.rows[-1].end == SERVE
    assert all(a.end == b.start for a, b in zip(day.rows, day.rows[1:], strict=False))
    assert day.rows[3].end - day.rows[3].start == timedelta(minutes=30)  # common practice: about 30 min
    assert not day.late


def test_the_filter_is_planned_at_the_late_end():
    forecast = filter_forecast(*readings([50, 100, 150]), 500)
    row = next(r for r in plan(SERVE, forecast=forecast, now=NOW).rows if r.stage.key == "filter")
    assert 0 <= (row.end - row.start).total_seconds() / 60 - forecast.high < 5
    assert plan(SERVE, filters=3, now=NOW).start > plan(SERVE, now=NOW).start


def test_a_start_in_the_past_says_what_is_possible():
    day = plan(SERVE, now=datetime(2026, 7, 3, 9))
    assert day.late
    assert day.earliest - datetime(2026, 7, 3, 9) == SERVE - day.start
    assert day.said()[0].text.startswith("This plan cannot be kept: its first stage lies in the past")
    assert any(said.startswith("This would have had to start at ") for said in map(str, day.said()))
    assert "at the earliest, or split over two days: after 'filter' it can wait overnight." in facts.say(day.said())


def test_over_midnight_and_overnight():
    day = plan("2026-07-03 01:00", ["milk", "rest"], now=NOW)
    assert day.start == datetime(2026, 7, 3, 0, 20)
    assert "starts at night, at 00:20 on Fri 3 Jul" in day.said()[0].text
    waited = plan(SERVE, wait={"filter": 14}, now=NOW)
    assert waited.rows[5].start - waited.rows[4].end == timedelta(hours=14)
    text = plan(SERVE, now=NOW).checklist()
    assert "## Thursday 2 July" in text
    assert "## Friday 3 July" in text
    assert text.count("- [ ] ") == 8
    assert "4 °C or below" in text
    assert "local food code" in text
    assert "common practice, no published source" in text


def test_the_hour_that_the_clock_loses():
    """Clocks went from 02:00 to 03:00 in Berlin on 29 March 2026: eight hours before 08:00 summer time is 23:00."""
    zone = ZoneInfo("Europe/Berlin")
    own = replace(schedule.STAGES["filter"], minutes=480)
    day = plan(datetime(2026, 3, 29, 8, tzinfo=zone), [own], now=datetime(2026, 3, 28, 8, tzinfo=zone))
    assert (day.start.day, day.start.hour) == (28, 23)


# --- what a mistake says ----------------------------------------------------------------------------------

STUCK = filter_forecast([30, 60], [80, 80], 500)
MISTAKES = {
    "no acid": (lambda: milk_wash(spirit(60, 40)), r"^acid of the drink is none; it must be some: without acid milk does not"),
    "no milk": (lambda: milk_wash(SOUR, share=0), r"^milk is 0 mL; it must be above 0 mL\.$"),
    "no milk in mL": (lambda: milk_wash(SOUR, amount="0 mL"), r"^milk is 0 mL"),
    "negative milk": (lambda: milk_wash(SOUR, share=-1), r"^share of milk is -1; it must be 0 to 10 mL to a mL of drink"),
    "both": (lambda: milk_wash(SOUR, share=0.2, amount=20), r"^share of milk is 0\.2; it must be left out when the amount"),
    "unknown milk": (lambda: milk_wash(SOUR, "goats milk"), r"^milk is 'goats milk'; .*did you mean goat's milk"),
    "soy": (lambda: milk_wash(SOUR, "soy milk"), r"^milk is 'soy milk'; it must be one with casein, .*: its protein does fall out near pH 4\.5"),
    "buffering": (lambda: milk_wash(SOUR, buffering=900), r"^buffering of the milk is 900; it must be 15 to 200 mmol/L"),
    "hold-up": (lambda: milk_wash(SOUR, hold_up=-1), r"^hold-up of the curd is -1"),
    "yield": (lambda: milk_wash(SOUR, measured_yield=500), r"^measured yield is 500; it must be above 0 and at most 1\d\d mL"),
    "meter": (lambda: calibrate(SOUR, 5.9), r"^measured pH is 5\.9; it must be nearer to 3\.2, as usual milk gives; check the meter"),
    "meter range": (lambda: calibrate(SOUR, 9), r"^measured pH is 9; it must be 3 to 6\.2"),
    "papers": (lambda: filtering.Filter(papers=0).act(SOUR), r"^papers is 0; it must be a whole number, 1 or more"),
    "paper that holds": (lambda: filtering.Filter(holds=1001).act(SOUR), r"^what a paper holds is 1001; it must be 0 to 1000 mL"),
    "times": (lambda: filter_forecast([30, 30], [50, 60]), r"^minutes is 30 after 30; it must be increasing from reading"),
    "falling": (lambda: filter_forecast([30, 60], [50, 40]), r"^volumes is 40 mL after 50 mL; it must be what has run through in"),
    "too much": (lambda: filter_forecast([30, 60], [50, 600], 500), r"^volumes is 600 mL; it must be at most the batch, 500 mL"),
    "at once": (lambda: filter_forecast([0, 60], [50, 60]), r"^volumes is 50 mL at 0 min; it must be 0 mL at the start"),
    "odd": (lambda: filter_forecast([0, 60], [50]), r"^readings is 2 minutes and 1 volumes; it must be one volume to each time"),
    "words": (lambda: filter_forecast(["soon"], [50]), r"^minutes is .*; it must be a number"),
    "zero filters": (lambda: filter_forecast(filters=0), r"^filters is 0; it must be a whole number, 1 or more"),
    "too many filters": (lambda: filter_forecast(filters=1001), r"^filters is 1001; it must be 1 to 1000\."),
    "half a filter": (lambda: filter_forecast(filters=1.5), r"^filters is 1\.5; it must be a whole number"),
    "no batch": (lambda: filter_forecast(total_volume=0), r"^total volume is 0; it must be above 0 mL"),
    "paper": (lambda: filter_forecast([30], [50], new_papers=[20]), r"^new paper is at 20 min; it must be at a reading"),
    "past": (lambda: plan(SERVE, now=SERVE), r"^serve time is 18:00 on Fri 3 Jul; it must be after the present time"),
    "no time": (lambda: plan("tonight", now=NOW), r"^serve time is 'tonight'; it must be a date and time such as"),
    "number": (lambda: plan(18, now=NOW), r"^serve time is 18; it must be a date and time"),
    "zone": (lambda: plan(SERVE.replace(tzinfo=ZoneInfo("UTC")), now=NOW), r"^serve time is .*with a time zone"),
    "stage": (lambda: plan(SERVE, ["squeeze"], now=NOW), r"^stage is 'squeeze'; it must be one of juice, mix"),
    "no stage": (lambda: plan(SERVE, [], now=NOW), r"^stages is none"),
    "long wait": (lambda: plan(SERVE, wait={"milk": 10}, now=NOW), r"^wait after 'milk' is 10; it must be 0 to 0\.5 h"),
    "wait where": (lambda: plan(SERVE, wait={"brew": 1}, now=NOW), r"^stage to wait after is 'brew'"),
    "stuck": (lambda: plan(SERVE, forecast=STUCK, now=NOW), r"^forecast of the filter is not made \(nothing has come through"),
}  # fmt: skip


@pytest.mark.parametrize(("make", "says"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_gets_one_clear_sentence(make, says):
    with pytest.raises(InputError, match=says) as caught:
        make()
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("plant", ["soy milk", "oat drink", "almond drink", "coconut milk", "rice drink"])
def test_every_plant_drink_is_refused_with_its_own_reason(plant):
    with pytest.raises(InputError) as caught:
        milk_wash(SOUR, plant)
    assert f"of {plant}: " in str(caught.value)
    assert plant not in clear.milks()


def test_components_are_never_counted_by_hand():
    assert len(milk_wash(SOUR).curd.grams) == len(COMPONENTS)


def test_a_start_in_the_past_is_said_and_whether_the_filter_alone_is_to_blame():
    """Only the filter's late end reaches back before now: its middle would still do. Worked from the plan's own rows."""
    stages = ["filter", "chill"]
    easy = plan("2026-07-03 18:00", stages, volume=1000, filters=2, now=datetime(2026, 7, 2))
    assert not easy.late
    between = easy.start + timedelta(minutes=easy.sooner / 2)
    tight = plan("2026-07-03 18:00", stages, volume=1000, filters=2, now=between)
    assert tight.late
    said = facts.say(tight.said())
    assert f"lies in the past (it is {between:%H:%M}" in said
    assert "Only the filter's late end makes it so" in said
    late = plan("2026-07-03 18:00", stages, volume=1000, filters=2, now=datetime(2026, 7, 3, 17, 55))
    assert "lies in the past" in facts.say(late.said())
    assert "Only the filter" not in facts.say(late.said())
    assert "lies in the past" in late.checklist()
