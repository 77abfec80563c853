"""Own measurements: joined with the table's as textbooks have it, asked about where far off, and used everywhere.

Sources. Eight schools: A. Gelman, J. Carlin, H. Stern, D. Dunson, A. Vehtari, D. Rubin, Bayesian Data Analysis, 3rd
edition (2013), section 5.5: estimates 28, 8, -3, 7, -1, 1, 18, 12 with standard errors 15, 10, 16, 11, 9, 11, 10, 18
(Rubin 1981), pooled 7.7 with standard error 4.1; read in copies of the data, the pooled figures from memory. Eighteen batters: B. Efron and C. Morris, Data analysis
using Stein's estimator and its generalizations, JASA 70 (1975) 311, table 1 (from memory). Normal with normal: the same
book, 2.5, equations 2.9 to 2.12. Scale factor: Particle Data Group, Review of Particle Physics, introduction, 5.2.2 (from
memory).
"""

import csv
import datetime
import io
import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from drinklab import demo, logbook, measured, milk, pantry, steps, trial, writeup
from drinklab.batch import fruit
from drinklab.carbonation import Pour
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.learned import Learned, known
from drinklab.measured import Reading, add, answer, checked, joined, shrunk
from drinklab.recipe import Recipe
from drinklab.setting import Setting

TABLE = pantry.load()
TODAY = datetime.date(2027, 1, 20)
SOUR = Recipe.parse("45 mL gin, 40 %\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken")

# --- joining ----------------------------------------------------------------------------------------------------

SCHOOLS = np.array([28, 8, -3, 7, -1, 1, 18, 12]), np.array([15, 10, 16, 11, 9, 11, 10, 18])


def test_pooled_schools():
    best, _, middle = shrunk(*SCHOOLS, 0)
    assert middle == pytest.approx(7.7, abs=0.05)
    assert best.tolist() == pytest.approx([middle] * 8)
    _, pm, _ = shrunk(*SCHOOLS, 0)
    assert pm.tolist() == pytest.approx([4.1] * 8, abs=0.05)


def test_schools_with_nothing_in_common_stay_as_they_were():
    best, pm, _ = shrunk(*SCHOOLS, np.inf)
    assert best.tolist() == SCHOOLS[0].tolist()
    assert pm.tolist() == pytest.approx(SCHOOLS[1].tolist())


@pytest.mark.parametrize("spread", [3.0, 10.0, 25.0])
def test_schools_at_a_given_spread_are_the_formulas_of_the_book(spread):
    """Equations 5.17 and 5.20, and their variances, by another path: the joint normal of all of them, solved at once."""
    y, s = SCHOOLS
    best, pm, middle = shrunk(y, s, spread)
    # unknowns: the eight and their middle; flat on the middle
    precision = np.diag(np.append(1 / s**2 + 1 / spread**2, 8 / spread**2))
    precision[:8, 8] = precision[8, :8] = -1 / spread**2
    covariance = np.linalg.inv(precision)
    solved = covariance @ np.append(y / s**2, 0)
    assert np.append(best, middle) == pytest.approx(solved)
    assert pm == pytest.approx(np.sqrt(np.diag(covariance)[:8]))


def test_suppliers_side_by_side_are_drawn_together_as_the_book_has_it():
    """Equations 5.17 and 5.20 at the table's spread, worked by hand; what counts for nothing is in none of them."""
    lots = [
        checked("acid", "verjus", f"{g} g/L", pm="1 g/L", batch=lot, when="2027-01-10", today=TODAY)
        for g, lot in ((26.0, "north"), (31.0, "south"), (32.0, "south"))
    ]
    (found,) = measured.side_by_side([*lots, replace(lots[0], state="taken back"), replace(lots[0], batch="")], TABLE)
    assert [(lot.lot, lot.readings) for lot in found.lots] == [("north", 1), ("south", 2)]
    plain, sds = (np.array([getattr(lot, name) for lot in found.lots]) for name in ("value", "pm"))
    spread = measured.target("acid", "verjus", TABLE).prior_pm
    weight = 1 / (sds**2 + spread**2)
    middle = weight @ plain / weight.sum()
    drawn = (plain / sds**2 + middle / spread**2) / (1 / sds**2 + 1 / spread**2)
    assert [lot.best for lot in found.lots] == pytest.approx(drawn.tolist())
    assert found.middle == pytest.approx(middle)
    assert plain[0] < drawn[0] < drawn[1] < plain[1]
    assert measured.side_by_side(lots[:1], TABLE) == ()


def test_batters_shrink_as_printed():
    """Averages of the first 45 at bats, .400 to .156: c = .212, and .294 for the first and .242 for the last, as printed
    by the same authors in Scientific American 236 (1977) 119 (from memory)."""
    hits = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])
    y = hits / 45
    middle = y.mean()
    variance = middle * (1 - middle) / 45
    kept = 1 - (len(y) - 3) * variance / ((y - middle) ** 2).sum()
    assert middle == pytest.approx(0.265, abs=5e-4)
    assert kept == pytest.approx(0.212, abs=5e-3)
    spread = np.sqrt(variance * kept / (1 - kept))  # the spread for which that share stays
    best, _, _ = shrunk(y, np.full(18, np.sqrt(variance)), spread)
    assert best[[0, -1]] == pytest.approx([0.294, 0.242], abs=2e-3)


def test_normal_with_normal():
    """Precisions add up, and the mean is weighted by them (equations 2.11 and 2.12), for one reading and for many."""
    prior, tau, sd, y = 180.0, 40.0, 20.0, 150.0
    for n in (1, 10, 100):
        found = joined(prior, tau, [Reading(y, sd)] * n, own_share=0)
        precision = 1 / tau**2 + n / sd**2
        assert found.value == pytest.approx((prior / tau**2 + n * y / sd**2) / precision)
        assert found.pm == pytest.approx(precision**-0.5)
    # Exercise 2.8 of the book: n students of mean weight 150 lb, prior N(180, 40²), known sd 20; for n = 10 its
    # solution prints N(150.7, 6.2²) (the authors' solutions, from memory)
    ten = joined(prior, tau, [Reading(y, sd)] * 10, own_share=0)
    assert (round(ten.value, 1), round(ten.pm, 1)) == (150.7, 6.2)
    hundred = joined(prior, tau, [Reading(y, sd)] * 100, own_share=0)
    assert (round(hundred.value, 1), round(hundred.pm, 1)) == (150.1, 2.0)


def test_an_instrument_keeps_its_own_part_however_often_it_is_read():
    many = joined(50, 1000, [Reading(53, 2, instrument="titration")] * 200)
    assert many.pm == pytest.approx(2 * np.sqrt(0.5 + 0.5 / 200), rel=1e-3)
    two = joined(50, 1000, [Reading(53, 2, instrument=name) for name in "ab"])
    assert two.pm == pytest.approx(2 / np.sqrt(2), rel=1e-3)


def test_old_readings_of_what_drifts_count_less():
    at = [joined(50, 7, [Reading(57, 0.01, age)], half_life=30) for age in (0, 30, 60, 600)]
    assert [one.value for one in at] == pytest.approx([57, 53.5, 51.75, 50], abs=0.01)
    # an Ornstein-Uhlenbeck process: var 1 - r² is left (Rasmussen and Williams, Gaussian Processes, 2006, B.2.1)
    assert [one.pm for one in at] == pytest.approx([0.01, 7 * np.sqrt(0.75), 7 * np.sqrt(1 - 1 / 16), 7], abs=0.01)
    assert joined(50, 7, [Reading(57, 0.01, 600)]).value == pytest.approx(57, abs=0.01)


def test_contradicting_readings_are_less_sure_than_their_instruments_say():
    """Two of 1 ± 0.1 and 2 ± 0.1: chi square 50 on one degree of freedom, scale 7.07."""
    found = joined(0, 1e4, [Reading(1, 0.1), Reading(2, 0.1)], own_share=0)
    assert found.stretched == pytest.approx(np.sqrt(50), rel=1e-3)
    assert found.pm == pytest.approx(0.1 / np.sqrt(2) * np.sqrt(50), rel=1e-3)
    assert joined(0, 1e4, [Reading(1, 0.1), Reading(1.05, 0.1)], own_share=0).stretched == 1


def test_bands_of_simulated_bars_hold_19_in_20():
    """A thousand bars: a lemon that drifts from the table's, read one to four times by an instrument with an own error."""
    random, inside = np.random.default_rng(7), 0
    prior, tau, sd, half, bars = 50.0, 7.0, 1.5, 30.0, 1000
    for _ in range(bars):
        ages = random.uniform(0, 60, random.integers(1, 5))
        days = np.append(0.0, ages)
        common = tau**2 * 0.5 ** (np.abs(days[:, None] - days) / half)
        true = prior + np.linalg.cholesky(common + 1e-9 * np.eye(days.size)) @ random.standard_normal(days.size)
        own = sd * np.sqrt(0.5) * random.standard_normal()
        read = true[1:] + own + sd * np.sqrt(0.5) * random.standard_normal(ages.size)
        found = joined(prior, tau, [Reading(y, sd, a, "t") for y, a in zip(read, ages, strict=True)], half)
        inside += abs(found.value - true[0]) < 1.96 * found.pm
    assert 0.93 < inside / bars < 0.97, inside


# --- bad input -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("acid", "lemon juice", "53"), "a number with its unit, g/L"),
        (("acid", "lemon juice", 53), "a number with its unit"),
        (("sugar", "sugar syrup", "50"), "°Brix"),
        (("strength", "gin", "41.6 g/L"), "strength of 'gin'"),
        (("ph", "lemon juice", "pH 0.2"), "1.8 to 9"),
        (("sugar", "sugar syrup", "97 °Brix"), "0.1 to 85"),
        (("strength", "gin", "120 %"), "0.5 to 97.2"),
        (("acid", "lemon juice", "530 g/L"), "100"),
        (("length", "lemon juice", "5 g/L"), "kind of measurement"),
        (("acid", "", "5 g/L"), "what it is of"),
        (("pour", "jigger", "28.9 mL"), "given in mL"),
    ],
)
def test_a_bad_one_is_asked_about_by_name(given, said):
    with pytest.raises(InputError) as problem:
        checked(*given, today=TODAY)
    assert said in str(problem.value)


@pytest.mark.parametrize("when", ["2027-01-21", "tomorrow", "20/1/2027", "1066-10-14", "2027-02-30"])
def test_a_day_that_cannot_be(when):
    with pytest.raises(InputError, match="day of the measurement"):
        checked("acid", "lemon juice", "53 g/L", when=when, today=TODAY)


def test_an_unusual_instrument_needs_its_plus_minus():
    with pytest.raises(InputError, match=r"± of 'tongue'.*titration, test kit"):
        checked("acid", "lemon juice", "53 g/L", instrument="tongue")
    assert checked("acid", "lemon juice", "53 g/L", instrument="tongue", pm="20 g/L").pm == 20


@pytest.mark.parametrize("what", ["unicorn juice", "water"])
def test_what_there_is_not_or_holds_nothing_of_it(what, tmp_path):
    with pytest.raises(InputError):
        add(tmp_path, checked("acid", what, "53 g/L"))
    assert not (tmp_path / measured.OWN_FILE).exists()


# --- asked about ---------------------------------------------------------------------------------------------------


def test_a_far_value_is_kept_and_asked_about_and_counts_once_confirmed(tmp_path):
    """92 g/L is 6 standard deviations from the table's 50 ± 7 g/L."""
    kept = add(tmp_path, checked("acid", "lemon juice", "92 g/L", when=TODAY, today=TODAY), TODAY)
    assert not kept.counts
    assert "6.1 times the spread that is usual" in Display().say(kept.asks)
    assert measured.shelf(tmp_path, TODAY)["lemon_juice"].acid == TABLE["lemon_juice"].acid
    (there,) = measured.load(tmp_path)
    assert (there.state, there.why, there.value) == ("to confirm", "off the table", 92)
    answer(tmp_path, there.id, right=True)
    lemon = measured.shelf(tmp_path, TODAY)["lemon_juice"]
    assert lemon.acid > 90
    assert lemon.acid_pm < 3
    answer(tmp_path, there.id, right=False)
    assert measured.shelf(tmp_path, TODAY)["lemon_juice"].acid == TABLE["lemon_juice"].acid
    assert measured.load(tmp_path)[0].state == "taken back", "it stays in the file"


def test_a_row_written_by_hand_is_asked_about_too(tmp_path):
    entry = replace(checked("acid", "lemon juice", "92 g/L", when=TODAY, today=TODAY), id="mine")
    text = io.StringIO()
    out = csv.DictWriter(text, list(entry.cells()))
    out.writeheader()
    out.writerow(entry.cells())
    (tmp_path / measured.OWN_FILE).write_text(text.getvalue(), encoding="utf-8")
    found = measured.of_folder(tmp_path, TODAY)
    assert [one.asks.code for one in found.asked] == ["asked: off the table"]
    assert found.shelf["lemon_juice"].acid == TABLE["lemon_juice"].acid


def test_two_of_one_name_that_contradict(tmp_path):
    first = add(tmp_path, checked("strength", "gin, 40 %", "40.1 %", instrument="density meter", when="2027-01-10",
                                  today=TODAY), TODAY)  # fmt: skip
    second = add(tmp_path, checked("strength", "gin, 40 %", "39.4 %", instrument="density meter", when="2027-01-12",
                                   today=TODAY), TODAY)  # fmt: skip
    assert first.counts
    assert second.asks.code == "asked: contradicts"
    assert "2027-01-10" in Display().say(second.asks)
    before = measured.shelf(tmp_path, TODAY).find("gin, 40 %")
    answer(tmp_path, second.entry.id, right=True)
    after = measured.shelf(tmp_path, TODAY).find("gin, 40 %")
    assert 39.4 < after.abv < before.abv
    assert after.abv_pm > before.abv_pm, "two that contradict are less sure than one"


def test_a_hydrometer_in_what_is_sweet(tmp_path):
    kept = add(tmp_path, checked("strength", "triple sec", "38 %", instrument="hydrometer"))
    assert kept.asks.code == "asked: sweet"


def test_a_day_ahead_in_the_file_counts_from_then_on():
    entry = checked("acid", "lemon juice", "53 g/L", when="2027-01-20", today=TODAY)
    early = measured.join([entry], TABLE, datetime.date(2027, 1, 19))
    assert early.asked[0].asks.code == "asked: dated ahead"
    assert measured.join([entry], TABLE, TODAY).shelf["lemon_juice"].acid > 52


def test_a_damaged_file_is_kept_whole_and_what_can_be_read_is_carried_over(tmp_path):
    add(tmp_path, checked("acid", "lemon juice", "53 g/L"))
    path = tmp_path / measured.OWN_FILE
    damaged = path.read_text(encoding="utf-8") + "x,acid,lemon juice,much,g/L,,titration,2026-01-01,,,,1,counts,,\n"
    path.write_text(damaged, encoding="utf-8")
    with pytest.raises(InputError, match="line 3"):
        measured.load(tmp_path)
    add(tmp_path, checked("acid", "lime juice", "50 g/L"))
    assert [entry.what for entry in measured.load(tmp_path)] == ["lemon juice", "lime juice"]
    (aside,) = tmp_path.glob("my_measurements.damaged-*")
    assert aside.read_text(encoding="utf-8") == damaged


def test_a_sheet_with_semicolons_and_own_notes_stays(tmp_path):
    path = tmp_path / measured.OWN_FILE
    columns = "\ufeffid;kind;what;value;unit;instrument;when;state;note of mine"
    mine = "a;acid;lemon juice;53,5;g/L;titration;2026-05-01;counts;sharp"
    path.write_text(f"{columns}\n{mine}\n", encoding="utf-8")
    add(tmp_path, checked("acid", "lime juice", "50.25 g/L"))
    assert [entry.value for entry in measured.load(tmp_path)] == [53.5, 50.25]
    header, first, second = path.read_text(encoding="utf-8").splitlines()  # in its own marks, as its program opens it
    assert header.startswith(columns)
    assert first.startswith(mine)
    assert ";50,25;g/L;" in second
    assert not list(tmp_path.glob("*.damaged-*"))


@pytest.mark.parametrize("typed", ["g/L;titration;2026-05-01;counts;b;acid", "g/L;titration;2026-05-01;counts;;;7"])
def test_two_lines_run_together_are_kept_beside(tmp_path, typed):
    path = tmp_path / measured.OWN_FILE
    whole = f"id;kind;what;value;unit;instrument;when;state\na;acid;lemon juice;53,5;{typed}\n"
    path.write_text(whole, encoding="utf-8")
    add(tmp_path, checked("acid", "lime juice", "50.25 g/L"))
    (aside,) = tmp_path.glob("my_measurements.damaged-*")
    assert aside.read_text(encoding="utf-8") == whole
    assert [entry.value for entry in measured.load(tmp_path)] == [53.5, 50.25]


def test_what_was_measured_of_a_step_is_not_saved_with_it():
    paper, pour = Learned("paper", "paper", 6.0, 0.5, 10.0, 3.0), Learned("gas", "tilted", 0.8, 0.1, 1.0, 0.25)
    for step, found in ((Filter(2), paper), (Pour(), pour)):
        knows = steps.knowing(step, known((found,)))
        assert knows != step
        assert steps.to_dict(knows) == steps.to_dict(step)
        assert steps.from_dict(steps.to_dict(knows)) == step
        with pytest.raises(InputError, match="learned"):
            steps.from_dict(steps.to_dict(step) | {"learned": []})


# --- used everywhere -------------------------------------------------------------------------------------------------


def shelf(*entries):
    return measured.join(entries, TABLE, TODAY).shelf


def at(*given, **more):
    return checked(*given, when=TODAY, today=TODAY, **more)


def test_a_titration_takes_most_of_the_plus_minus_of_acid():
    before, after = trial.run(SOUR), trial.run(SOUR, pantry=shelf(at("acid", "lemon juice", "53 g/L")))
    assert after.served.profile.acid > before.served.profile.acid
    assert after.served.spread("acid") < 0.5 * before.served.spread("acid")
    said = [Display().say(fact) for fact in after.said]
    assert any("Measured here: acid of lemon juice" in text and "15 % of the ±" in text for text in said), said


def test_titration_is_read_as_alkali_by_the_citric_acid_that_it_stands_for():
    """A juice of citric acid and its potassium: who titrates what our own sum says of it gets the table's acid back."""
    from drinklab import balance
    from drinklab.liquid import Liquid

    lemon = TABLE["lemon_juice"]
    found = balance.titratable(Liquid(lemon.composition))
    joint = measured.join([at("acid", "lemon juice", f"{found:.3f} g/L", pm="0.01 g/L")], TABLE, TODAY)
    assert joint.shelf["lemon_juice"].acid == pytest.approx(lemon.acid, rel=0.01)


def test_brix_of_a_syrup_is_its_sugar():
    """50 °Brix at 1.2296 kg/L (ICUMSA SPS-4, 20 °C): 614.8 g/L."""
    syrup = shelf(at("sugar", "simple syrup", "50 °Brix", pm="0.01 °Brix"))["sugar_syrup_1to1"]
    assert syrup.sugar == pytest.approx(614.8, abs=0.5)
    assert syrup.solutes["sucrose"] == pytest.approx(syrup.sugar)


def test_a_bottle_is_the_one_of_its_label_alone():
    found = shelf(at("strength", "gin, 40 %", "40.3 %", instrument="density meter"))
    assert found.find("gin, 40 %").abv == pytest.approx(40.29, abs=0.01)
    assert found.find("gin, 40 %").name == "gin, 40 %"
    assert found.find("gin, 45 %").abv == 45
    assert found["gin"].abv == TABLE["gin"].abv
    assert found.label(found.find("gin, 40 %")) == ("gin", 40.0)


def test_ph_tells_the_salts():
    from drinklab import balance
    from drinklab.liquid import Liquid

    now = balance.ph(Liquid(TABLE["verjus"].composition))
    joint = shelf(at("ph", "verjus", f"pH {now + 0.25:.2f}"))["verjus"]
    assert balance.ph(Liquid(joint.composition)) == pytest.approx(now + 0.2, abs=0.1)
    assert joint.solutes["potassium"] > TABLE["verjus"].solutes["potassium"]


def test_a_short_jigger_pours_less_and_surer():
    setting = Setting(SOUR, tool="jigger")
    known = shelf(at("pour", "jigger", "28.5 mL", of="30 mL", times=5))
    share = known.learned["pour", "jigger"].value
    assert 0.95 < share < 0.97
    before, after = trial.run(setting), trial.run(setting, pantry=known)
    assert after.stages[0].profile.volume == pytest.approx(share * before.stages[0].profile.volume, rel=1e-3)
    assert after.stages[0].spread("volume") < 0.9 * before.stages[0].spread("volume")
    assert trial.run(setting, pantry=known, tool="scale").served == trial.run(setting, tool="scale").served


def test_fruit_gives_what_yours_gave():
    lemon = shelf(at("fruit", "lemon juice", "32 mL", times=20))["lemon_juice"]
    (one,) = lemon.measured
    assert 32 < one.value < 36
    assert fruit(lemon, 1000).count > fruit(TABLE["lemon_juice"], 1000).count


WASHED = Recipe.parse("60 mL gin, 45 %\n30 mL lime juice\n30 mL chamomile cordial", technique="none")


def test_a_wash_a_milk_and_a_pour_enter_their_steps():
    from drinklab import carbonation

    wash = Setting(WASHED, steps=[milk.MilkWash(amount=30)], tool="scale")
    known = shelf(at("wash", "whole cow's milk", "141 mL", of="150 mL", milk="30 mL", pm="1 mL"))
    assert known.learned["wash", milk.COLD].left < 0.5
    before, after = trial.run(wash), trial.run(wash, pantry=known)
    assert after.served.spread("volume") < before.served.spread("volume")
    assert after.setting == wash, "what is kept is what was asked"
    buffered = trial.run(wash, pantry=shelf(at("milk", "whole cow's milk", "66 mmol/L")))
    assert buffered.served.ph[0] > before.served.ph[0]
    gassed = Setting(WASHED, steps=[carbonation.Carbonate(2.0), carbonation.Pour()])
    flat = trial.run(gassed, pantry=shelf(at("gas", "tilted", "0.3 g", of="0.2 g")))
    assert flat.served.gas[0] < trial.run(gassed).served.gas[0]


def test_what_is_saved_keeps_what_it_meant(tmp_path):
    """A saved trial and a write-up hold the measured figures: who has none of their own runs it as it was made."""
    add(tmp_path, checked("acid", "lemon juice", "55 g/L"))
    add(tmp_path, checked("pour", "jigger", "28.5 mL", of="30 mL", times=5))
    made = trial.run(SOUR, pantry=measured.shelf(tmp_path))
    path = logbook.save(made, tmp_path)
    page = writeup.html(made)
    assert writeup.rerun(page).served == made.served
    assert writeup.rerun(page, pantry=TABLE).served.profile.acid == made.served.profile.acid
    assert logbook.load(path).served == made.served
    (tmp_path / measured.OWN_FILE).unlink()
    assert logbook.load(path).served == made.served
    opened = logbook.open_saved(path)
    assert opened.pantry["lemon_juice"].acid == TABLE["lemon_juice"].acid
    assert any("was measured where this was saved" in note for note in opened.notes)


def test_a_saved_measured_figure_is_checked(tmp_path):
    add(tmp_path, checked("acid", "lemon juice", "55 g/L"))
    data = json.loads(json.dumps(logbook.snapshot(trial.run(SOUR, pantry=measured.shelf(tmp_path)))))
    for bad in ({"value": "x"}, {"kind": "spell"}, {"pm": -1}, {"when": 7}, {"count": None}):
        item = json.loads(json.dumps(data))
        item["ingredients"]["lemon_juice"]["measured"][0] |= bad
        with pytest.raises(InputError):
            logbook.revive(item)


def test_no_door_to_a_folder_s_bottles_but_one():
    """Else a page would show the table's figure where another shows the measured one."""
    import re
    from pathlib import Path

    package = Path(measured.__file__).parents[1]
    for file in package.rglob("*.py"):
        if file.parent.name != "measured":
            for call in re.findall(
                r"pantry\.load\(([^)\n]*)\)", re.sub(r">>>.*", "", file.read_text(encoding="utf-8"))
            ):
                assert not call, f"{file.relative_to(package)}: measured.shelf({call})"


# --- what next, and out again ----------------------------------------------------------------------------------------


def test_what_is_worth_measuring_next_does_what_it_says():
    """Titrate the lemon: the ± that is promised is the ± that comes, within a tenth."""
    first = next(one for one in measured.next_to_measure(SOUR, TABLE) if one.kind == "acid")
    assert first.what == "lemon_juice"
    then = trial.run(SOUR, pantry=shelf(at("acid", "lemon juice", "48.4 g/L")))
    assert then.served.spread("acid") == pytest.approx(first.after, rel=0.1)
    assert first.after < 0.5 * first.before
    still = Setting(Recipe.parse("50 mL water\n10 mL water", technique="none"), tool="exact")
    assert not measured.next_to_measure(still, TABLE)


@pytest.mark.parametrize("name", list(demo.settings(TABLE)))
def test_each_demo_has_something_to_measure(name):
    found = measured.next_to_measure(demo.settings(TABLE)[name], TABLE)
    assert found
    assert all(0 < one.after < one.before for one in found)
    assert [one.narrows for one in found] == sorted((one.narrows for one in found), reverse=True)
    assert all(Display().say(one.said()) for one in found)


def test_all_of_it_for_other_programs(tmp_path):
    for entry in measured.example():
        add(tmp_path, replace(entry, id="", when="2026-01-14"))
    joint = measured.of_folder(tmp_path)
    path = measured.export(joint, tmp_path)
    with zipfile.ZipFile(path) as file:
        rows = list(csv.DictReader(io.StringIO(file.read("measurements.csv").decode())))
        told = json.loads(file.read("datapackage.json"))
    assert [row["kind"] for row in rows] == ["strength", "sugar", "acid", "pour", "fruit"]
    assert list(rows[0]) == [field["name"] for field in told["resources"][0]["schema"]["fields"]]
    assert all(row["counts"] == "yes" for row in rows), rows
    with pytest.raises(InputError, match="at least one"):
        measured.export(measured.Joint(TABLE, ()), tmp_path)


@pytest.mark.parametrize(("drink", "kind", "figure"), [
    ("Slow Signal", "ph", "ph"), ("Clear Line", "milk", "ph"), ("Long Platform", "gas", "gas"),
])  # fmt: skip
def test_what_to_measure_next_has_ph_milk_and_gas(drink, kind, figure):
    """The ± that is narrowed is the one that the trial itself has of pH or gas."""
    setting = demo.settings(TABLE)[drink]
    one = next(one for one in measured.next_to_measure(setting, TABLE) if one.kind == kind)
    served = trial.run(setting, pantry=TABLE).served
    had = served.ph[1] if figure == "ph" else served.gas[1]
    assert one.figure == figure
    assert one.before == pytest.approx(had, rel=1e-9)
    assert 0.05 <= one.narrows < 1
    said = Display().say(one.said())
    assert f"{one.before:.2f}" in said
    assert f"{one.after:.2f}" in said


def test_a_fruit_is_never_next_and_why_is_told():
    """What a fruit yields tells how many to buy; no figure of a glass depends on it."""
    for setting in list(demo.settings(TABLE).values())[:3]:
        assert all(one.kind != "fruit" for one in measured.next_to_measure(setting, TABLE))
    assert "fruit" in measured.next_to_measure.__doc__
