"""A freezer as a stage of a batch: how much of its water freezes, and what is said of that.

Water and ethanol of 20 % by mass begin to freeze at -10.9 °C, of 39.4 % at -30.0 °C (CRC Handbook, concentrative
properties of aqueous solutions, from memory; `tests/freezing_ethanol.csv` holds the same). From that a lever rule: all that
is not ice is a mixture that begins to freeze at the freezer's temperature.
"""

from contextlib import nullcontext
from datetime import datetime

import pytest

from drinklab import pantry, trial
from drinklab.batch import scale, work
from drinklab.carbonation import Carbonate
from drinklab.dilution import Freeze, freezing_point, frozen_share, mixture, swells, weakest_liquid
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.strength import spirit
from drinklab.workbook.panels import batch as batch_panel

SHELF = pantry.load()
SLUSH = Recipe.parse("45 mL aged rum\n25 mL lime juice\n25 mL honey syrup\n60 mL water", name="Snow", technique="none")


def test_the_lever_rule():
    """100 g of 10 % ethanol at -10.9 °C: 50 g of 20 % are left, so 50 of its 90 g of water are ice: 0.56 (by hand)."""
    assert frozen_share(Liquid.of(water=90, ethanol=10), -10.9) == pytest.approx(50 / 90, abs=0.04)
    assert freezing_point(Liquid.of(water=80, ethanol=20)) == pytest.approx(-10.9, abs=1)
    # 50 g of ice take up 50/0.9167 mL in place of 50/0.9982 (by hand): 4.45 mL of about 101.8.
    assert swells(Liquid.of(water=90, ethanol=10), -10.9) == pytest.approx(4.45 / 101.8, abs=0.004)
    said = dict(Freeze(-10.9).act(Liquid.of(water=90, ethanol=10)).said[1].numbers)
    assert said["share"] == pytest.approx(56, abs=4)  # in per cent, as is what it swells by
    assert said["more"] == pytest.approx(4.4, abs=0.4)


@pytest.mark.parametrize("volume", [1, 90, 5000])
def test_a_drink_that_is_as_good_as_still_is_frozen(volume):
    """Up to 0.2 g of gas in a litre, however much of it there is: common practice, no published source."""
    for grams, still in ((0.1999, True), (0.2001, False)):
        drink = spirit(volume, 15) + Liquid.of(co2=grams * volume / 1000)
        with nullcontext() if still else pytest.raises(InputError, match="gas"):
            assert Freeze(-12).act(drink).said[1].code == "freezes to slush"


@pytest.mark.parametrize(
    ("ask", "ends"),
    [
        (weakest_liquid, (-40, 0)),
        (lambda sugar: weakest_liquid(-18, sugar), (0, 400)),
        (lambda abv: mixture(100, abv, 0), (0, 100)),
        (lambda sugar: mixture(100, 0, sugar), (0, 1000)),
        (lambda celsius: frozen_share(Liquid.of(water=90, ethanol=10), celsius), (-40, 40)),
        (Freeze, (-30, 0)),
    ],
)
def test_the_ranges_are_those_of_the_docstrings(ask, ends):
    for end, beyond in zip(ends, (ends[0] - 0.01, ends[1] + 0.01), strict=True):
        ask(end)
        with pytest.raises(InputError, match="it must be"):
            ask(beyond)


def test_it_is_a_stage_of_the_drink_and_changes_none_of_it():
    made = trial.run(Setting(SLUSH, steps=(Freeze(-12),)), pantry=SHELF, draws=0)
    bare = trial.run(SLUSH, pantry=SHELF, draws=0)
    assert made.stages[-1].temperature == -12
    assert made.served.profile.abv == pytest.approx(bare.served.profile.abv)
    assert made.served.profile.volume == pytest.approx(bare.served.profile.volume)
    assert "what freezes bursts" in [c.code for c in made.cautions]
    assert Setting.from_dict(made.setting.to_dict()) == made.setting


@pytest.mark.parametrize(
    ("recipe", "at", "code"),
    [
        (SLUSH, -12, "freezes to slush"),
        (SLUSH, -25, "freezes hard"),
        (Recipe.parse("60 mL gin\n20 mL dry vermouth", technique="none"), -12, "stays liquid"),
        (Recipe.parse("90 mL apple juice", technique="none"), -18, "freezes hard"),
    ],
)
def test_what_becomes_of_it_is_said(recipe, at, code):
    made = scale(recipe, pantry=SHELF, serves=10, keep_at=at)
    assert [note.code for note in made.notes if "freez" in note.code or "liquid" in note.code] == [code]
    share = frozen_share(made.trial.stages[-2].liquid[0], at)
    assert (share < 0.05, share >= 0.6) == (code == "stays liquid", code == "freezes hard")
    day = work(made, "2027-01-30 19:00", now=datetime(2027, 1, 28))
    assert [row.stage.key for row in day.rows][-1] == "freeze"
    assert any(f"freezer of −{abs(at)} °C" in str(row.stage.do) for row in day.rows)


def test_the_same_profile_is_served_as_from_one_drink():
    one = trial.run(Setting(SLUSH, steps=(Freeze(-12),)), pantry=SHELF, draws=0).served.profile
    made = scale(SLUSH, pantry=SHELF, serves=60, keep_at=-12, tool="exact")
    for figure in ("abv", "sugar", "acid", "volume"):
        assert getattr(made.trial.served.profile, figure) == pytest.approx(getattr(one, figure), rel=1e-6)


def test_a_shaken_drink_takes_water_in_place_of_its_ice():
    sour = Recipe.parse("45 mL aged rum\n25 mL lime juice\n25 mL honey syrup", technique="shaken")
    made = scale(sour, pantry=SHELF, serves=12, keep_at=-12)
    assert made.water > 0
    assert made.trial.melt == 0


@pytest.mark.parametrize(
    ("recipe", "steps", "said"),
    [
        (Recipe.parse("45 mL gin\ntop 90 mL tonic water", technique="built"), (), "tonic water"),
        (Recipe.parse("45 mL gin\n20 mL egg white\n20 mL lemon juice", technique="shaken"), (), "egg white"),
        (Recipe.parse("45 mL gin\n90 mL water", technique="none"), (Carbonate(volumes=2.5),), "one with gas in it"),
    ],
)
def test_what_is_not_frozen_is_refused_by_name(recipe, steps, said):
    with pytest.raises(InputError, match=said):
        scale(Setting(recipe, steps=steps), pantry=SHELF, serves=10, keep_at=-12)
    with pytest.raises(InputError, match="freezer"):
        Freeze(-60)


def test_the_page_shows_it(tmp_path):
    page = batch_panel.panel(tmp_path, SLUSH)
    page.kept_in.value = True
    page.freezer.stand_at(-12)
    page.refresh()
    assert page.problem.value == ""
    assert "slush" in page.amounts.value
    assert "freezer of −12 °C" in page.work.value
    assert page.prediluted.layout.display == "none"
