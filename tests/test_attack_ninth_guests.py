"""A ninth attack, on what a guest and a taster are told: letters that nobody sees, names that say more, what spoils.

Each test failed before it was mended.
"""

from datetime import datetime

import numpy as np
import pytest

from drinklab import batch, cards, dilution, logbook, pantry, service, tasting, texts, trial
from drinklab.batch import storage
from drinklab.carbonation import VESSELS, Chill
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.milk import MilkWash
from drinklab.recipe import Pour, Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater

TABLE = pantry.load()
# Shown as nothing, or as a blank: soft hyphen, space of no width, word joiner, mark of an order of bytes, joiners and
# marks of direction, a filler, a tag, a selector (Unicode 15, general category Cf, and default ignorable code points).
UNSEEN = [
    "\xad",
    "\u200b",
    "\u2060",
    "\ufeff",
    "\u200d",
    "\u200c",
    "\u200f",
    "\u061c",
    "ㅤ",
    "\U000e0041",
    "️",
    "͏",
    "\u2063",
]


@pytest.mark.parametrize("sign", UNSEEN)
def test_what_nobody_sees_hides_no_word(sign):
    assert texts.fit(f"{sign}grape{sign}fruit{sign}") == "grapefruit"
    assert Recipe(f"Eg{sign}gs", (Pour("gin", 45.0),)).name == "Eggs"


@pytest.mark.parametrize("text", ["👩\u200d👩\u200d👧 gin", "می\u200cخواهم", "❤\ufe0f gin", "Zoë", "ﬁne"])
def test_what_joins_the_letters_of_other_scripts_and_pictures_stays(text):
    assert texts.fit(text) == text


@pytest.mark.parametrize("name", ["pink grape\u00adfruit cordial", "gr\u200bapefruit cordial", "ｇｒａｐｅｆｒｕｉｔ cordial",
                                  "grape-fruit cordial", "crème de pamplemousse", "pomelo cordial"])  # fmt: skip
def test_a_name_that_reads_as_grapefruit_warns_of_it(tmp_path, name):
    """Pomelos as grapefruit: US FDA, consumer update on grapefruit juice (from memory)."""
    own = tmp_path / pantry.OWN_FILE
    own.write_text(f"id,name,kind,abv_percent,sugar_g_l\nzz,{name},syrup,0,400\n", encoding="utf-8")
    shelf = pantry.load(tmp_path)
    assert "grapefruit" in shelf["zz"].cautions
    drink = Recipe("Line", (Pour("gin", 45.0), Pour("zz", 20.0), Pour("lemon_juice", 20.0)), technique="shaken")
    now = trial.run(Setting(drink, steps=(MilkWash(),), draws=0), pantry=shelf)
    assert any("grapefruit" in text for text in cards.label(now).allergens)
    data = logbook.snapshot(now)
    data["ingredients"]["zz"] |= {"cautions": []}
    assert "grapefruit" in {caution.code for caution in logbook.revive(data, pantry=TABLE).cautions}


@pytest.mark.parametrize("name", ["house soda water", "cava of the house", "Champagne", "crémant rosé", "yuzu soda",
                                  "kombucha", "rhubarb tonic water"])  # fmt: skip
def test_what_sparkles_by_its_name_is_not_shaken_closed(tmp_path, name):
    own = tmp_path / pantry.OWN_FILE
    own.write_text(f"id,name,kind,abv_percent,sugar_g_l\nzz,{name},mixer,0,40\n", encoding="utf-8")
    drink = Recipe("Fizz", (Pour("gin", 45.0), Pour("zz", 60.0)), technique="shaken")
    now = trial.run(drink, pantry=pantry.load(tmp_path), draws=0)
    assert "sparkling, closed" in {caution.code for caution in now.cautions}
    assert cards.label(now).warning.startswith("Under pressure")


@pytest.mark.parametrize(
    ("name", "kind"),
    [("champagne vinegar", "other"), ("baking soda", "other"), ("Cavalier", "wine"), ("ginger beer syrup", "syrup"),
     ("grande champagne cognac", "spirit"), ("prosecco reduction", "other")],
)  # fmt: skip
def test_what_is_only_called_after_it_does_not(name, kind):
    assert "sparkling" not in pantry.name_warns(name, kind)


# --- who tastes -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("names", ["Ada\nAda\u200b", "Ada\n\u2060ada", "Zo\u00eb\nZoe\u0308", "Ada\nＡda"])
def test_nobody_is_seated_twice_under_two_spellings_of_a_name(names):
    """They would drink twice what the sheet says; an accent has two spellings (Unicode Standard Annex 15)."""
    with pytest.raises(InputError, match="on one line only"):
        tasting.read_tasters(names)
    with pytest.raises(InputError, match="of one taster only"):
        tasting.plan([tasting.Taster(name) for name in names.split("\n")])


@pytest.mark.parametrize("line", ["Ada eg\u00adgs", "Ada\u200b mi\u200blk", "Ada ＥＧＧＳ"])
def test_what_a_taster_cannot_have_is_no_part_of_a_name_by_letters_nobody_sees(line):
    with pytest.raises(InputError, match="a name, and behind a colon"):
        tasting.read_tasters(line)


@pytest.mark.parametrize("name", ["\u200b", "\u3164\u2800", " "])
def test_a_taster_has_a_name(name):
    with pytest.raises(InputError, match="name of a taster is empty"):
        tasting.Taster(name)


@pytest.mark.parametrize("bottle", ["hazelnut liqueur", "toasted almonds, fat-washed", "pistachio syrup"])
def test_who_says_nuts_means_each_of_them(bottle):
    """The eight nuts of Regulation (EU) 1169/2011, annex II, 8, in a bottle of which only the name tells it."""
    one = tasting.Sample("Drink", 0.1, bottles=("gin", bottle))
    assert [why.code for why in tasting.unfit(tasting.Taster("Ada", ("nuts",)), one)] == ["holds"]
    assert not tasting.unfit(tasting.Taster("Ada", ("milk",)), one)


# --- what a guest reads ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cereal", "said"),
    [
        ("semolina", "wheat (semolina: may be one)"), ("kamut", "wheat (kamut: may be one)"), ("durum wheat", "wheat"),
        ("Weizen", "wheat (Weizen: may be one)"), ("triticale", "wheat (triticale: may be one)"),
        ("barley, triticale", "wheat (barley, triticale: may be one)"),
    ],
)  # fmt: skip
def test_a_cereal_that_may_be_wheat_is_said_in_the_words_of_the_united_states(cereal, said):
    """Wheat is any of the genus Triticum (21 USC 321(qq), FDA guidance; from memory): semolina and kamut are."""
    assert service.us_words([f"cereals containing gluten ({cereal})"]) == (said,)


@pytest.mark.parametrize("cereal", ["barley", "rye and oats", "malted barley", "barley; rye"])
def test_no_other_cereal_is_called_wheat(cereal):
    assert service.us_words([f"cereals containing gluten ({cereal})"]) == ()


# --- what waits in a bottle -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", ["20 mL aquafaba", "40 mL coconut cream, unsweetened", "2 g mint, fresh",
                                  "5 g ginger root, fresh", "40 mL oat drink"])  # fmt: skip
def test_a_plant_drink_and_herbs_in_a_bottle_are_kept_cold_and_not_for_a_week(tmp_path, line):
    """Cooked and cut plants need the cold to be safe (FDA Food Code 1-201.10, of what needs time and temperature
    control; from memory)."""
    own = tmp_path / pantry.OWN_FILE
    own.write_text("id,name,kind,abv_percent,sugar_g_l\noat_drink,oat drink,other,0,40\n", encoding="utf-8")
    shelf = pantry.load(tmp_path)
    drink = Recipe.parse(f"45 mL gin\n{line}\n20 mL sugar syrup", shelf, technique="none")
    made = batch.scale(Setting(drink, steps=(Chill(3),)), pantry=shelf, serves=10)
    assert batch.FRESH in made.notes
    rows = batch.work(made, "2030-07-03 19:00", now=datetime(2030, 7, 1, 9)).rows
    assert [row.stage.keeps for row in rows if row.stage.key == "mix"] == [24.0]


@pytest.mark.parametrize("key", ["saline_20", "vinegar_cider", "citric_acid_solution", "vanilla_extract", "salt",
                                 "orange_flower_water", "worcestershire_sauce", "clove"])  # fmt: skip
def test_what_stands_on_a_shelf_does_not(key):
    assert not storage.spoils(TABLE[key])


def test_the_stop_limit_is_kept_at_the_upper_end():
    """As on a guest card and a menu: 0.99 ± 0.25 standard drinks were “after this one tasting, at 1 standard drink”."""
    a, b = tasting.Sample("A", 0.2, 0.05), tasting.Sample("B", 0.2, 0.05)
    near = tasting.portion(a, b, "triangle", 23.2)
    assert near.drinks < near.limit < near.drinks * (1 + near.pm / near.grams)
    with pytest.raises(InputError, match=r"up to 1\.25 standard drinks; it must be at most the stop limit, 1"):
        tasting.prepare(tasting.plan(6), a, b, near)
    assert tasting.portion(a, b, "triangle", 9.0).rounds == 2
    exact = tasting.portion(tasting.Sample("A", 0.2), tasting.Sample("B", 0.2), "triangle", 23.2)
    assert exact.rounds == 1


@pytest.mark.parametrize("vessel", ["ordinary glass bottle, 0.75 L", "siphon, 0.5 L", "keg, 9.5 L"])
@pytest.mark.parametrize("celsius", [-12, -18, -30])
def test_a_bottle_in_a_freezer_keeps_its_room_when_it_is_ice(vessel, celsius):
    """It was filled so that the ice came to the brim, by freezing points that are good to a degree; ice is 0.917 g/mL
    (CRC Handbook, 102nd edition; from memory)."""
    drink = Recipe.parse("20 mL gin\n100 mL apple juice", technique="stirred")
    made = batch.scale(drink, vessel=vessel, keep_at=celsius)
    held = made.trial.stages[-2].liquid  # all of it
    frozen = float(np.ravel(dilution.frozen_share(held, celsius) * held.water)[0])
    grown = made.bottled + frozen * (1 / 0.917 - 1 / 0.9982)
    assert frozen > 100
    assert grown <= VESSELS[vessel].fill * 1.001


def test_no_measure_rounds_a_vessel_over_its_fill():
    """A mark of the measure was never left, however often a millionth less was taken."""
    drink = Setting(Recipe.parse("0.001 mL gin\n0.001 mL water", technique="none"), steps=(AddWater(0.5),))
    made = batch.scale(drink, vessel=700, headspace=0.9, keep_at="0 °F", display=Display("oz"))
    assert made.bottled <= made.fillings * made.stand.fill * (1 + 1e-9)
