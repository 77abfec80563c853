"""A thirteenth attack: words that say what is in a drink, what a backup leaves out, two drinks of one name."""

from __future__ import annotations

import io
import zipfile

import pytest
from PIL import Image

from drinklab import cards, logbook, menu, own, pantry, service, tasting, trial, units
from drinklab.declared import declared
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook.panels import bench, filtering
from drinklab.workbook.panels import logbook as logbook_panel
from drinklab.workbook.parts.hand import Hand

SHELF = pantry.load()
SOUR = "45 mL gin\n20 mL lemon juice"


def _run(text=SOUR, **words):
    return trial.run(Recipe.parse(text, **words), pantry=SHELF, draws=0)


# --- what the words for a drink say is in it -------------------------------------------------------------------------
# Regulation (EU) No 1169/2011, annex II: what each of these foods holds.


@pytest.mark.parametrize(
    ("words", "allergens", "codes"),
    [
        ({"glass": "coupe, rim of crushed hazelnuts"}, ("nuts",), set()),
        ({"glass": "Collins with a celery salt rim"}, ("celery",), set()),
        ({"glass_ice": "milk ice cubes"}, ("milk",), {"dairy"}),
        ({"glass_ice": "coffee ice"}, (), {"caffeine"}),
        ({"glass_ice": "a ball of frozen tonic water"}, (), {"quinine"}),
        ({"method": "Fat-wash the gin with peanut butter."}, ("peanuts",), set()),
        ({"method": "Dry shake with an egg white."}, ("eggs",), {"raw egg"}),
        ({"method": "Express a grapefruit peel."}, (), {"grapefruit"}),
        ({"method": "Stir. Garnish with a prawn on a pick."}, ("crustaceans",), set()),
        ({"garnish": "blue cheese olive"}, ("milk",), set()),
        ({"method": "Pour almond milk on it, with a biscuit."}, ("cereals containing gluten", "nuts"), set()),
    ],
)
def test_what_glass_ice_and_making_name_is_told(words, allergens, codes):
    """A garnish was read; a rim in the words of the glass, ice of milk, and all of the method were not, though the
    pantry itself sends who types a garnish as a pour to the method."""
    now = _run(**words)
    one = service.serve(now)
    assert (set(one.allergens), {c.code for c in now.cautions}) == (set(allergens), codes)
    contains = dict(cards.guest(now).facts).get("Contains", "")
    assert all(word in contains for word in allergens)
    assert all(menu.held(one, word) == menu.CONTAINS for word in allergens)
    assert all(word in declared(*Setting(now.recipe).brings(SHELF)).allergens for word in allergens)


@pytest.mark.parametrize(
    "words",
    [
        {"method": "Strain through a coffee filter and a nut milk bag, without egg; serve in a tea cup."},
        {"glass": "champagne flute, chilled", "glass_ice": "one large clear cube"},
        {"glass": "egg cup", "garnish": "none", "method": "Shake with ice, no cream. Whip with a milk frother."},
        {"method": "Coconut milk ice goes in a beer mug.", "garnish": "-"},
        {"garnish": "a lemon twist", "method": "Stir for half a minute; strain."},
    ],
)
def test_tools_and_what_is_left_out_are_no_food(words):
    now = _run(**words)
    assert (now.allergens, now.cautions, now.unstated) == ((), (), ())


def test_a_garnish_that_the_method_tells_is_asked_about_as_one_in_its_own_field():
    assert _run(method="Stir. Garnish with a candied violet.").unstated == ("garnish: a candied violet",)
    assert _run(method="Stir.", garnish="a candied violet").unstated == ("garnish: a candied violet",)


def test_what_is_of_the_glass_alone_is_not_on_the_label_of_the_bottle():
    held = _run(glass="coupe, hazelnut rim", glass_ice="coffee ice", method="Stir. Garnish with a prawn.")
    assert cards.label(held).allergens == ()
    assert "Contains: peanuts" in cards.label(_run(method="Wash with peanut butter.")).allergens[0]


def test_a_spec_card_tells_what_the_garnish_typed_for_it_holds():
    """It printed the walnut, and "Contains: none of the fourteen" below it."""
    card = cards.spec(_run(), garnish="a candied walnut", ice="coffee ice")
    assert dict(card.serving)["Garnish"] == "a candied walnut"
    assert dict(card.figures)["Contains"] == "nuts"
    assert dict(card.figures)["Also in it"] == "caffeine"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ({"method": "Light the rum with a match."}, "flame at the glass"),
        ({"method": "Set light to it at the table."}, "flame at the glass"),
        ({"method": "Lit before the guest."}, "flame at the glass"),
        ({"garnish": "lime half, br\xfbl\xe9e"}, "flame at the glass"),
        ({"method": "Brown it with a blowlamp."}, "flame at the glass"),
        ({"method": "Heat it with a red-hot poker."}, "flame at the glass"),
        ({"method": "Flambieren."}, "flame at the glass"),
        ({"method": "Chill the glass with a little nitrogen."}, "dry ice"),
        ({"glass_ice": "CO2 pellets"}, "dry ice"),
        ({"method": "Drop in solid CO\u2082."}, "dry ice"),
        ({"glass_ice": "Trockeneis"}, "dry ice"),
    ],
)
def test_fire_and_cold_that_burns_are_warned_of_in_other_words_too(words, code):
    assert code in {c.code for c in _run(**words).cautions}


@pytest.mark.parametrize(
    "method", ["Charge with nitrogen gas.", "A light stir, to match the glass.", "Light rum first."]
)
def test_these_words_are_neither(method):
    assert _run(method=method).cautions == ()


# --- what somebody typed is kept -------------------------------------------------------------------------------------


def _notes(folder):
    return {one.all_notes for one in logbook.entries(folder).entries}


def test_notes_on_the_drink_in_hand_are_kept_when_the_saved_trial_that_it_is_is_put_in_hand(tmp_path):
    """The drink was the same, so nothing was set aside: an hour of notes, and a title, were gone."""
    path = logbook.save(_run(name="Sour"), tmp_path, note="first")
    held = logbook.open_saved(path, pantry=SHELF)
    logbook.put_in_hand(tmp_path, held.setting, SHELF, title="Gold", note="an hour of thoughts", came_from=path.name)
    page = logbook_panel.panel(tmp_path)
    for _ in range(3):  # and once is enough
        page.chosen.value = [str(path)]
        page.put_in_hand()
    assert logbook.in_hand(tmp_path).note == "first"
    kept = {one.title: one.all_notes for one in logbook.entries(tmp_path).entries}
    assert kept == {"Sour": "first", "Gold, set aside": "an hour of thoughts"}


def test_a_note_that_another_page_has_typed_on_the_same_drink_is_kept(tmp_path):
    """Both pages show one drink: what the one typed before the other had looked was written over."""
    one, other = (Hand(tmp_path, page) for page in ("bench", "target"))
    setting = Setting(Recipe.parse(SOUR, name="Sour"))
    one.put(setting, SHELF)
    other.read(SHELF, [])
    one.put(setting, SHELF, note="too sharp")
    other.put(setting, SHELF, title="Sour")
    assert _notes(tmp_path) == {"too sharp"}


def test_what_another_page_puts_in_hand_while_this_one_takes_it_is_kept(tmp_path):
    """It was looked at before the file was held: what came in between was written over without a word."""
    one, other = (Hand(tmp_path, page) for page in ("bench", "target"))
    before = one.now(SHELF)
    other.put(Setting(Recipe.parse(SOUR, name="Between")), SHELF, note="a moment ago")
    said = one.take(Setting(Recipe.parse("60 mL gin", name="Mine")), SHELF, before)
    assert "between" in said
    assert _notes(tmp_path) == {"a moment ago"}
    assert logbook.in_hand(tmp_path).setting.recipe.name == "Mine"


def test_a_note_on_a_drink_of_the_house_is_kept(tmp_path):
    """A demo as it comes was not set aside, whatever had been typed beside it."""
    page = bench.panel(tmp_path)
    page.choose.value = ("demo", "Slow Signal")
    page.note.value = "the sherry is too loud"
    page.choose.value = ("demo", "First Frost")
    page.note.value = "mine"
    assert _notes(tmp_path) == {"the sherry is too loud"}
    page.choose.value = ("demo", "Slow Signal")
    page.serves.exact = 2
    page.refresh()
    assert _notes(tmp_path) == {"the sherry is too loud", "mine"}


# --- what a backup leaves out, and what a page sends -----------------------------------------------------------------


def test_what_is_left_out_of_a_backup_is_told(tmp_path):
    """ "Everything is in", it said: own ingredients behind a link, which Drinklab writes through, and a trial with a
    long name, which the logbook lists, were not."""
    kept = logbook.save(_run(name="Sour"), tmp_path / "here")
    long = kept.with_name(f"{'y' * 220}.json")
    long.write_bytes(kept.read_bytes())
    kept.with_name("folder.json").mkdir()
    (tmp_path / "elsewhere.csv").write_text("id,name,kind,abv_percent,sugar_g_l\n")
    (tmp_path / "here" / pantry.OWN_FILE).symlink_to(tmp_path / "elsewhere.csv")
    problems: list[str] = []
    packed = zipfile.ZipFile(logbook.back_up(tmp_path / "here", problems))
    assert packed.namelist() == [f"trials/{kept.name}"]
    assert len(problems) == 3
    assert all(any(name in told for told in problems) for name in ("yyy", "folder.json", pantry.OWN_FILE))
    with pytest.raises(InputError, match="file to back up"):
        logbook.back_up(tmp_path / "here")
    page = logbook_panel.panel(tmp_path / "here")
    page.back_up()
    assert "All that can be read" in page.said.value


def test_a_large_photograph_is_small_on_the_logbook_s_page(tmp_path):
    """One of another hand was sent as it lay: 20 MB each, into the page and its layout."""
    path = logbook.save(_run(name="Sour"), tmp_path)
    noise = Image.effect_noise((1500, 1500), 90)
    held = io.BytesIO()
    noise.convert("RGB").save(held, "JPEG", quality=98)
    kept = logbook.add_photo(path, held.getvalue())
    kept.write_bytes(held.getvalue())
    assert kept.stat().st_size > 1_500_000
    page = logbook_panel.panel(tmp_path)
    page.chosen.value = [str(path)]
    assert "data:image/jpeg" in page.detail.value
    assert len(page.detail.value) < 150_000
    assert kept.read_bytes() == held.getvalue()
    kept.write_bytes(b"\xff\xd8\xff no picture")
    page.refresh()
    assert "photograph is not readable" in page.detail.value


# --- what is typed ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["30 1.000\n60 1.500", "30; 1.250", "1.000, 200"])
def test_thousands_in_a_filter_s_log_are_asked_about(text):
    """A litre was one millilitre."""
    with pytest.raises(InputError, match=r"1000 or 1:|1250 or 1\.25:"):
        filtering.read_log(text)
    assert filtering.read_log("30 0.500\n60 1.255\n90 2.5")[1] == [0.5, 1.255, 2.5]
    assert units.read_row("15, 30, 60", "times", "seconds") == [15, 30, 60]


@pytest.mark.parametrize(
    "line", ["Ada strawberry", "Ada strawberries", "Bo King kiwi", "Ada Mango", "Ada seafood", "Ada beer"]
)
def test_a_food_behind_a_name_is_asked_about(line):
    with pytest.raises(InputError, match="behind a colon"):
        tasting.read_tasters(line)


@pytest.mark.parametrize("name", ["Cherry", "Basil Wright", "Ginger", "Ada Berry", "Peaches Geldern", "Ada Rose"])
def test_such_a_name_is_a_name(name):
    assert tasting.read_tasters(f"{name}\nAda Cherry:")[0] == tasting.Taster(name)


@pytest.mark.parametrize("kind", ["spirit", "liqueur", "bitters"])
def test_a_share_is_no_strength_of_a_spirit(tmp_path, kind):
    """0.4 for 40 % (a spreadsheet's): the card of a drink of it would say alcohol-free.

    No spirit drink has under 15 % vol: Regulation (EU) 2019/787, article 2."""
    with pytest.raises(InputError, match=r"strength of 'house gin' is 0\.4"):
        own.write(tmp_path, own.row("house gin", kind, "0.4", "0", acid="0", allergens="none"))
    table = f"id,name,kind,abv_percent,sugar_g_l\nown_gin,house gin,{kind},0.43,0\n"
    (tmp_path / pantry.OWN_FILE).write_text(table)
    with pytest.raises(InputError, match=r"line 2.*strength of 'house gin'"):
        pantry.load(tmp_path)
    (tmp_path / pantry.OWN_FILE).write_text(table.replace(kind, "mixer"))
    assert pantry.load(tmp_path).find("house gin").abv == 0.43
