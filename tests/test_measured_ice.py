"""Ice that was weighed, papers and filter logs, joined with the rule and with common practice, and used everywhere.

Sources. Normal with normal: A. Gelman and others, Bayesian Data Analysis, 3rd edition (2013), 2.5, equations 2.9 to 2.12
(precisions add up, means are weighted by them). Coverage: bars are simulated by the very shares that `learned` and
`filtering` state (judgements), so that it is the joining that is tested, not the judgements.
"""

import datetime
import json
import math

import numpy as np
import pytest

from drinklab import dilution, filtering, logbook, measured, pantry, trial, whatif, writeup
from drinklab.batch.solve import through
from drinklab.errors import InputError
from drinklab.forgiving import most_pours
from drinklab.learned import MELT_SPREAD, Learned, known, melting
from drinklab.measured import FilterLog, OwnFit, add, answer, checked, join, save_fit, save_log
from drinklab.measured.figures import reading, target
from drinklab.next_glass.pours import _served
from drinklab.reach import reach
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.writeup.live.data import _melt

TABLE = pantry.load()
TODAY = datetime.date(2027, 1, 20)
SOUR = Recipe.parse("45 mL gin, 40 %\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken")
# Of the rule's variance three quarters are the bar's own: half-widths of 19 in 20 are about two standard deviations.
OWN, HAND = 0.1 * math.sqrt(0.75), 0.05


def at(kind, what, value, **more):
    return checked(kind, what, value, when=more.pop("when", "2027-01-20"), today=TODAY, **more)


def shelf(*entries):
    return join(entries, TABLE, TODAY).shelf


def weighed(share=0.8, technique="shaken", pm=0.01):
    found = TABLE.with_items([])
    found.learned = known((Learned("ice", technique, share, pm, 1.0, OWN),))
    return found


# --- joined as the textbook has it -----------------------------------------------------------------------------------


@pytest.mark.parametrize("times", [1, 4])
@pytest.mark.parametrize("grams", [30.0, 36.0, 41.0])
def test_weighings_and_the_rule_are_normal_with_normal(grams, times):
    entry = at("ice", "shaken", f"{grams} g", of="40 g", times=times)
    share = grams / 40
    sd = math.hypot(0.35 / 40, HAND * share / math.sqrt(times))  # a scale good to 0.7 g, 19 in 20
    precision = 1 / OWN**2 + 1 / sd**2
    found = shelf(entry).learned["ice", "shaken"]
    assert found.value == pytest.approx((1 / OWN**2 + share / sd**2) / precision, rel=1e-9)
    assert found.pm == pytest.approx(precision**-0.5, rel=1e-9)
    assert (found.prior, found.prior_pm) == (1.0, pytest.approx(OWN))


def test_filter_logs_and_papers_are_normal_with_normal_in_logarithms():
    found = shelf(at("filter", "paper", "240 min", of="500 mL", pm="4.8 min")).learned["filter", "paper"]
    half = math.log(2.5) / 1.96 * math.sqrt(0.5)  # of common practice, the bar's own and from batch to batch
    sd = math.hypot(0.01, half)
    middle = (math.log(480) / half**2 + math.log(240) / sd**2) / (1 / half**2 + 1 / sd**2)
    assert found.value == pytest.approx(math.exp(middle), rel=1e-9)
    assert found.pm / found.value == pytest.approx((1 / half**2 + 1 / sd**2) ** -0.5, rel=1e-9)
    kept = shelf(at("paper", "paper", "16 mL", times=4)).learned["paper", "paper"]
    own = math.log(2) / 1.96 * math.sqrt(0.5)
    sd = math.hypot(0.5 / 16, own / 2)
    middle = (math.log(10) / own**2 + math.log(16) / sd**2) / (1 / own**2 + 1 / sd**2)
    assert kept.value == pytest.approx(math.exp(middle), rel=1e-9)


def test_less_than_half_a_litre_says_less_of_it():
    """In proportion to what is through or to its square: the power is 1.5 ± 0.5 (19 in 20)."""
    there, short = (shelf(at("filter", "paper", t, of=v)).learned["filter", "paper"]
                    for t, v in (("300 min", "500 mL"), ("37.5 min", "125 mL")))  # fmt: skip
    assert short.pm / short.value > there.pm / there.value
    assert abs(math.log(short.value / 480)) < abs(math.log(there.value / 480))


def test_old_weighings_count_less():
    shares = [
        shelf(at("ice", "stirred", "32 g", of="40 g", when=when)).learned["ice", "stirred"].value
        for when in ("2027-01-20", "2026-07-24", "2025-01-20")
    ]
    assert shares == sorted(shares)
    assert shares[0] < 0.87
    assert shares[2] > 0.95


def test_bands_of_simulated_bars_hold_19_drinks_in_20():
    """Two thousand bars: own ice, tins and hands; one to six drinks weighed on a scale; then one more is made."""
    random, inside, plain, bars = np.random.default_rng(11), 0, 0, 2000
    goal = target("ice", "stirred", TABLE)
    for _ in range(bars):
        bar, rule = 1 + OWN * random.standard_normal(), 38.0
        off = 0.35 * math.sqrt(0.5) * random.standard_normal()
        read = []
        for _ in range(random.integers(1, 7)):
            drink = rule * bar * (1 + HAND * random.standard_normal())
            grams = drink + off + 0.35 * math.sqrt(0.5) * random.standard_normal()
            entry = at("ice", "stirred", f"{grams:.6f} g", of=f"{rule} g")
            read.append(reading(entry, goal, TODAY)[1])
        found = measured.joined(goal.prior, goal.prior_pm, read, goal.half_life)
        melts = melting("stirred", known((Learned("ice", "stirred", found.value, found.pm, 1.0, OWN),)))
        after = bar * (1 + HAND * random.standard_normal())
        inside += abs(after - melts.share) < 0.98 * melts.spread * melts.share
        plain += abs(after - 1) < 0.98 * MELT_SPREAD
    assert 0.93 < inside / bars < 0.97, inside
    assert 0.93 < plain / bars < 0.97, plain


def test_bands_of_simulated_filters_hold_19_in_20():
    """A thousand bars, each with its own pace; logs of one to five batches; then one more batch of half a litre."""
    random, inside, bars = np.random.default_rng(12), 0, 1000
    goal, half = target("filter", "paper", TABLE), math.log(2.5) / 1.96 * math.sqrt(0.5)
    for _ in range(bars):
        own = math.log(480) + half * random.standard_normal()
        read = []
        for _ in range(random.integers(1, 6)):
            minutes = math.exp(own + half * random.standard_normal())
            read.append(reading(at("filter", "paper", f"{minutes:.6f} min", of="500 mL"), goal, TODAY)[1])
        found = measured.joined(goal.prior, goal.prior_pm, read)
        after = own + half * random.standard_normal()
        inside += abs(after - found.value) < 1.96 * math.hypot(found.pm, half)
    assert 0.93 < inside / bars < 0.97, inside


# --- every figure ------------------------------------------------------------------------------------------------------


def test_a_trial_takes_the_bar_s_melt_and_its_narrower_plus_minus():
    plain, own = trial.run(SOUR, pantry=TABLE), trial.run(SOUR, pantry=weighed(0.8))
    assert own.melt == pytest.approx(0.8 * plain.melt)
    assert own.served.profile.abv > plain.served.profile.abv
    assert own.melt_pm / own.melt == pytest.approx(math.hypot(0.025, 0.1))
    assert own.served.spread("abv") < 0.8 * plain.served.spread("abv")
    assert any(note.startswith("Measured here: a drink that is shaken takes up 80 ± 2 %") for note in own.notes)
    assert "52 % of the rule's ± is left" in " ".join(own.notes)
    assert (plain.melt_pm_words, own.melt_pm_words) == ("± 20 %", "± 10 %")
    assert "measured here" in own.melt_basis
    for other in ({"melt": 0.4}, {"ice": dilution.OwnIce()}):  # which are no rule's
        assert trial.run(SOUR, pantry=weighed(), **other).melt == trial.run(SOUR, pantry=TABLE, **other).melt
        assert not any("melt water that the rule" in note for note in trial.run(SOUR, pantry=weighed(), **other).notes)
    stirred = Recipe.parse("60 mL gin, 40 %\n30 mL dry vermouth", technique="stirred")
    assert trial.run(stirred, pantry=weighed()).melt == trial.run(stirred, pantry=TABLE).melt


def _of_reach(own):
    wanted = {"abv": (15, 17), "volume": (110, 130)}
    found = reach(wanted, ["gin, 40 %", "lemon juice", "sugar syrup"], technique="shaken", pantry=own)[0]
    return found.melt / dilution.melt_fraction(100 * _before(found.recipe, own), "shaken")


def _before(recipe, own):
    return trial.run(recipe, pantry=own, draws=0).stages[0].profile.abv / 100


def _of_most_pours(own):
    wanted = {"abv": (14, 18), "sugar": (60, 110), "acid": (6, 10)}
    found = most_pours(wanted, ["gin, 40 %", "lemon juice", "sugar syrup"], technique="shaken", pantry=own)
    return found.plain.answer.melt / dilution.melt_fraction(100 * _before(found.plain.answer.recipe, own), "shaken")


def _of_next_glass(own):
    figures, _ = _served(Setting(SOUR), SOUR, SOUR.amounts[None], own)
    return figures[0, 3]


def _of_missing(own):
    washed = Setting(Recipe.parse("60 mL gin\n30 mL lime juice\n30 mL sugar syrup", technique="none"),
                     steps=[dilution_free_wash()])  # fmt: skip
    return trial.water_missing(trial.run(washed, pantry=own))


def dilution_free_wash():
    from drinklab.milk import MilkWash

    return MilkWash()


FIGURES = {
    "variation": (lambda own: whatif.variation(SOUR, pantry=own, draws=100).estimate.abv, "shaken"),
    "plane": (lambda own: float(np.mean(whatif.sweep(SOUR, 0, 1, points=5, pantry=own).profile.abv)), "shaken"),
    "batch": (lambda own: float(through(Setting(SOUR), own).made.volume()), "shaken"),
    "next glass": (_of_next_glass, "shaken"),
    "reach": (_of_reach, "shaken"),
    "inside for most pours": (_of_most_pours, "shaken"),
    "water that a washed drink lacks": (_of_missing, "stirred"),
    "page for readers": (lambda own: _melt(trial.run(SOUR, pantry=own))["rule"]["powers"][0], "shaken"),
}
SHARES = ("reach", "inside for most pours", "water that a washed drink lacks", "page for readers")


@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_goes_by_the_bar_s_melt(name):
    of, technique = FIGURES[name]
    plain, own = of(TABLE), of(weighed(0.8, technique))
    if name in SHARES:
        assert own == pytest.approx(0.8 * plain, rel=1e-6)
    else:
        assert own != pytest.approx(plain, rel=1e-4)


def test_what_reach_finds_is_what_a_trial_of_it_gives():
    own, wanted = weighed(0.8), {"abv": (15, 17), "sugar": (60, 90), "acid": (6, 9), "volume": (110, 130)}
    found = reach(wanted, ["gin, 40 %", "lemon juice", "sugar syrup"], technique="shaken", pantry=own)[0]
    made = trial.run(Setting(found.recipe, draws=0), pantry=own).made
    for axis in wanted:
        assert getattr(found.figures, axis) == pytest.approx(getattr(made, axis), rel=1e-9)


def test_papers_that_were_weighed_keep_what_they_kept():
    drink = Setting(SOUR, steps=[filtering.Filter(2)])
    own = shelf(at("paper", "paper", "20 mL", times=6))
    before, after = trial.run(drink, pantry=TABLE), trial.run(drink, pantry=own)
    kept = own.learned["paper", "paper"].value
    lost = [float(t.stages[1].profile.volume - t.served.profile.volume) for t in (before, after)]
    assert lost == [pytest.approx(20, rel=1e-6), pytest.approx(2 * kept, rel=1e-6)]
    assert after.setting == drink, "what is kept is what was asked"
    assert any(note.startswith("Measured here: one paper keeps") for note in after.notes)
    typed = Setting(SOUR, steps=[filtering.Filter(2, holds=12)])
    assert trial.run(typed, pantry=own).served.profile.volume == trial.run(typed, pantry=TABLE).served.profile.volume


def test_a_forecast_goes_by_the_bar_s_own_filters():
    logs = [at("filter", "paper", "200 min", of="500 mL", when=f"2027-01-1{day}") for day in range(5)]
    own = shelf(*logs).learned
    plain, found = filtering.filter_forecast(), filtering.filter_forecast(known=own)
    assert found.end < 0.7 * plain.end
    assert math.log(found.high / found.low) < 0.9 * math.log(plain.high / plain.low)
    read = ([30, 60, 90, 120], [100, 160, 207, 246], 500)
    assert filtering.filter_forecast(*read, known=own).end < filtering.filter_forecast(*read).end
    assert filtering.filter_forecast(*read, known={}).end == filtering.filter_forecast(*read).end


# --- asked, kept, saved ---------------------------------------------------------------------------------------------


def test_ice_far_off_the_rule_is_asked_about_and_counts_once_confirmed(tmp_path):
    kept = add(tmp_path, checked("ice", "stirred", "12 g", of="40 g"))
    assert kept.asks is not None
    assert "far off what was known of what is stirred" in kept.asks.text
    assert measured.shelf(tmp_path).learned == {}
    answer(tmp_path, kept.entry.id, right=True)
    assert measured.shelf(tmp_path).learned["ice", "stirred"].value == pytest.approx(0.3, abs=0.01)


FIT = OwnFit("stirred", 1.2, 0.02, 0.6, (15.0, 30.0, 60.0), (16.0, 26.0, 37.0), rule=35.0, usual=30.0)


def test_a_file_of_weighings_counts_and_what_is_said_of_it_stays(tmp_path):
    path = save_fit(tmp_path, FIT, drink="a sour", setting={"ice_temperature": 0.0})
    found = measured.of_folder(tmp_path)
    (one,) = found.entries
    assert (one.counts, one.entry.id, one.entry.times) == (True, "my_ice_01", 3)
    assert (one.entry.note, measured.fit_files(tmp_path)[0]["my_ice_01"].ice) == ("my_ice_01.json", 0.0)
    assert 0.84 < found.shelf.learned["ice", "stirred"].value < 0.9
    answer(tmp_path, "my_ice_01", right=False)
    assert measured.shelf(tmp_path).learned == {}
    assert path.exists()
    answer(tmp_path, "my_ice_01", right=True)
    assert len(measured.of_folder(tmp_path).entries) == 1
    assert ("ice", "stirred") in measured.shelf(tmp_path).learned


def test_a_file_of_weighings_far_off_is_asked_about(tmp_path):
    save_fit(tmp_path, OwnFit("stirred", 5, 0.0, 0.5, (30.0,), (9.0,), rule=35.0, usual=10.0), drink="x", setting={})
    found = measured.of_folder(tmp_path)
    assert found.shelf.learned == {}
    assert "far off" in found.asked[0].asks.text
    answer(tmp_path, "my_ice_01", right=True)
    assert measured.shelf(tmp_path).learned["ice", "stirred"].value < 0.4


def test_a_file_that_says_too_little_is_no_entry(tmp_path):
    old = OwnFit("stirred", 1.2, 0.02, 0.6, (15.0, 30.0), (16.0, 26.0))
    save_fit(tmp_path, old, drink="x", setting={})
    assert measured.kept_entries(tmp_path) == ()
    bad = json.loads((tmp_path / "my_ice_01.json").read_text()) | {"rule": -3, "usual": 20}
    (tmp_path / "my_ice_02.json").write_text(json.dumps(bad))
    fits, (problem,) = measured.fit_files(tmp_path)
    assert list(fits) == ["my_ice_01"]
    assert "my_ice_02.json" in problem


def test_filter_logs_count_and_their_own_forecast_does_without_them(tmp_path):
    log = FilterLog((60.0, 120.0, 200.0), (230.0, 350.0, 480.0), 500.0, drink="x")
    save_log(tmp_path, log)
    (one,) = measured.of_folder(tmp_path).entries
    assert (one.counts, one.entry.value, one.entry.of, one.entry.id) == (True, 200.0, 480.0, "my_filter_01")
    assert measured.shelf(tmp_path).learned["filter", "paper"].value < 400
    assert measured.shelf(tmp_path, without="my_filter_01").learned == {}


def test_a_log_that_was_saved_as_it_went_on_counts_once(tmp_path):
    whole = ((60.0, 120.0, 200.0), (230.0, 350.0, 480.0))
    save_log(tmp_path, FilterLog(*(row[:2] for row in whole), 500.0))
    save_log(tmp_path, FilterLog(*whole, 500.0))
    save_log(tmp_path, FilterLog(*whole, 500.0))
    save_log(tmp_path, FilterLog((45.0, 150.0), (230.0, 470.0), 500.0))
    assert [entry.id for entry in measured.kept_entries(tmp_path)] == ["my_filter_03", "my_filter_04"]
    assert [entry.id for entry in measured.gathered(tmp_path, without="my_filter_01")] == ["my_filter_04"]
    for _ in range(2):
        save_fit(tmp_path, FIT, drink="x", setting={})
    assert measured.kept_entries(tmp_path)[0].id == "my_ice_02"


def test_what_was_saved_with_own_ice_keeps_its_figures(tmp_path):
    add(tmp_path, checked("ice", "shaken", "34 g", of="40 g", times=5))
    add(tmp_path, checked("paper", "paper", "18 mL", times=5))
    made = trial.run(Setting(SOUR, steps=[filtering.Filter()]), pantry=measured.shelf(tmp_path))
    path, page = logbook.save(made, tmp_path), writeup.html(made)
    (tmp_path / measured.OWN_FILE).unlink()
    assert logbook.load(path).served == made.served
    assert writeup.rerun(page).served == made.served
    assert logbook.load(path).served != trial.run(Setting(SOUR, steps=[filtering.Filter()]), pantry=TABLE).served


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("ice", "thrown", "30 g"), "technique"),
        (("ice", "shaken", "30"), "a number with its unit, g"),
        (("ice", "none", "30 g"), "technique"),
        (("paper", "cloth", "30 mL"), "filter"),
        (("filter", "paper", "30 mL"), "min"),
    ],
)
def test_a_bad_one_is_asked_about_by_name(given, said, tmp_path):
    with pytest.raises(InputError, match=said):
        add(tmp_path, checked(*given, of="40 g" if given[0] == "ice" else "400 mL"))


def test_ice_and_paper_are_among_what_to_measure_next():
    drink = Setting(SOUR, steps=[filtering.Filter(2)], tool="exact")
    found = {one.kind: one for one in measured.next_to_measure(drink, TABLE)}
    assert {"ice", "paper"} <= set(found)
    assert "before and after its ice" in found["ice"].said().text
    after = trial.run(drink, pantry=shelf(at("ice", "shaken", "40 g", of="40 g"))).served.spread("abv")
    before = trial.run(drink, pantry=TABLE).served.spread("abv")
    assert found["ice"].figure != "abv" or found["ice"].after == pytest.approx(after, rel=0.02)
    assert after < before
