"""A thirteenth attack: words that say what is in a drink, what a backup leaves out, two drinks of one name."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime

import pytest
from PIL import Image

from drinklab import cards, files, logbook, menu, next_glass, own, pantry, service, tasting, trial, units, whatif
from drinklab.declared import declared
from drinklab.dilution import Freeze
from drinklab.errors import InputError
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.teach import progress
from drinklab.workbook.panels import bench, filtering
from drinklab.workbook.panels import logbook as logbook_panel
from drinklab.workbook.parts.hand import Hand
from drinklab.writeup.live import data as live_data

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
        ({"method": "Mit Eiweiss trocken schutteln, Sahne darauf."}, ("eggs", "milk"), {"raw egg", "dairy"}),
        ({"glass": "hazelnut glass rim"}, ("nuts",), set()),
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


def test_the_logbook_says_that_a_frozen_drink_bursts_glass(tmp_path):
    """Its page runs no drink, and of a freezer it said nothing."""
    made = _run("45 mL gin\n60 mL water", name="Slush", technique="none")
    path = logbook.save(trial.run(made.setting.with_step(Freeze(-18)), pantry=SHELF, draws=0), tmp_path)
    page = logbook_panel.panel(tmp_path)
    page.chosen.value = [str(path)]
    assert "never freeze it in a glass" in page.detail.value


def test_who_drinks_is_told_that_a_drink_of_a_hot_bottle_is_hot():
    """Only who had chosen "served hot" was."""
    told = {"technique": "none", "serve": "long"}
    assert "Served hot." in str(service.menu_line(service.serve(_run("45 mL aged rum\n120 mL hot water", **told))))
    assert "hot" not in str(service.menu_line(service.serve(_run("45 mL aged rum\n120 mL water", **told))))
    iced = _run("45 mL aged rum\n120 mL hot water", technique="stirred")
    assert iced.melt > 0
    assert "Served hot." not in str(service.menu_line(service.serve(iced)))


def test_a_grid_and_a_drink_by_chance_say_all_that_the_drink_brings():
    """A grid knew the allergens of its bottles alone, a drink by chance no step: of milk and fire neither said a word."""
    sour = Recipe.parse(
        f"{SOUR}\n20 mL sugar syrup\n0 mL soda water",
        technique="shaken",
        garnish="egg white foam",
        method="Set it alight.",
    )
    drink = Setting(sour, steps=(MilkWash(),))
    made = trial.run(drink, pantry=SHELF, draws=0)
    for said in (
        whatif.sweep(drink, "lemon juice", "sugar syrup", points=3).declared,
        whatif.variation(drink, draws=100).declared,
    ):
        assert {"milk", "eggs"} <= set(said.allergens)
        assert {c.code for c in made.cautions} <= {c.code for c in said.cautions}
        assert made.unstated == said.unstated


@pytest.mark.parametrize(
    "name",
    ["tobacco tincture", "activated coconut charcoal", "tonka bean syrup", "apricot kernels", "St John's wort", "CBD oil",
     "elderberry (raw)", "licorice root", "essential oil of orange", "lily of the valley", "denatured alcohol"],
)  # fmt: skip
def test_what_a_food_code_limits_or_forbids_is_to_be_asked_about(tmp_path, name):
    """Of none of these anything was said. Tonka: 21 CFR 189.130; liquorice: Regulation (EU) No 1169/2011, annex III."""
    own.write(tmp_path, own.row(name, "other", "0", "0", acid="0", allergens="none", cautions=["none"]))
    shelf = pantry.load(tmp_path)
    now = trial.run(Recipe.parse(f"45 mL gin\n5 mL {name}", shelf), pantry=shelf, draws=0)
    said = [c.text for c in now.cautions if c.code == "ask first"]
    assert len(said) == 1
    one = service.serve(now)
    assert any(said[0] == note for note in cards.guest(now).notes)
    assert "ask us before" in str(service.menu_line(one))
    assert any("ask us before" in line for line in cards.label(now).allergens)
    a, b = tasting.sample(now, "A"), tasting.sample(_run(), "B")
    prepared = tasting.prepare(tasting.plan(6), a, b, tasting.portion(a, b))
    assert said[0] in {told.text for told in prepared.cautions}
    assert {c.code for c in _run(garnish=f"a {name}").cautions} >= {"ask first"}


def test_none_of_ours_is_and_neither_is_what_only_sounds_so():
    assert not [item.name for item in SHELF.values() if "ask_first" in pantry.name_warns(item.name)]
    for name in (
        "elderflower cordial",
        "rye",
        "almond syrup",
        "charcoal-filtered vodka",
        "lily gin",
        "cherry",
        "peach",
    ):
        assert "ask_first" not in pantry.name_warns(name)


def test_a_reader_of_a_page_pours_nothing_of_which_it_says_no_allergen():
    """ "0 mL cream" had a slider; with cream in it the page went on to say that it contains none."""
    now = _run(f"{SOUR}\n0 mL cream\n0 mL egg white", name="Zero", technique="shaken")
    assert now.allergens == ()
    assert [pour["name"] for pour in live_data(now)["pours"]] == ["gin", "lemon juice, fresh"]


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


def test_a_trial_with_more_notes_than_one_may_be_long_is_put_in_hand(tmp_path):
    """Two long notes were joined to one that was refused with every change."""
    path = logbook.save(_run(name="Sour"), tmp_path, note="a" * 60_000)
    logbook.record(path, logbook.entry(path).time, note="b" * 60_000)
    held = logbook.open_saved(path, pantry=SHELF)
    logbook.put_in_hand(tmp_path, held.setting, SHELF, title=held.title, note=held.note, came_from=held.came_from)
    again = logbook.in_hand(tmp_path)
    assert again.note.endswith("b" * 60_000)
    assert logbook.set_aside(tmp_path, again) is None
    assert len(logbook.entry(path).all_notes) == 120_001


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
    with pytest.warns(UserWarning, match="It is left out") as warned:
        logbook.back_up(tmp_path / "here")
    assert [str(one.message) for one in warned] == problems
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


@pytest.mark.parametrize("year", [1970, 1999, 2200])
def test_a_clock_out_of_order_does_not_make_a_learner_s_file_unreadable(tmp_path, year):
    """One answer of 1970 (a flat battery) was written, and with it no answer before it could be read any more."""
    progress.attempted(tmp_path, "ada", "let_down", seed=1, typed="5", word="right")
    with pytest.raises(InputError, match=rf"clock of this computer is '{year}-01-01'"):
        progress.attempted(tmp_path, "ada", "let_down", seed=2, typed="5", word="right", time=datetime(year, 1, 1))
    with pytest.raises(InputError):
        progress.attempted(tmp_path, "ada", "let_down", seed=10**400, typed="5", word="right")
    assert [one.seed for one in progress.open_file(tmp_path, "ada").attempts] == [1]


# --- two folders that come together ----------------------------------------------------------------------------------


def test_a_version_came_from_the_trial_of_its_own_bar(tmp_path):
    """Both bars saved a sour on one day. After one's backup came back at the other, its versions were told to have
    come from the other's sour, and each page said what they had changed in that."""
    for name, first in (("here", SOUR), ("there", SOUR.replace("gin", "aged rum"))):
        one = logbook.save(_run(first, name="Sour"), tmp_path / name, title=f"{name} first")
        logbook.save(_run(f"{first}\n5 mL honey syrup", name=f"{name} two"), tmp_path / name, came_from=one.name)
    logbook.restore(logbook.back_up(tmp_path / "there"), tmp_path / "here")
    among, problems = logbook.entries(tmp_path / "here")
    assert (len(among), problems) == (4, ())
    for name in ("here", "there"):
        (two,) = (one for one in among if one.drink == f"{name} two")
        line = [one.title for _, one in logbook.line_of(among, two.path)]
        assert line == [f"{name} first", f"{name} two"]
        assert logbook.entry(two.path).came_from == two.came_from
        assert logbook.entry(two.path.parent / two.came_from).title == f"{name} first"
    exported, _ = logbook.export(among, tmp_path / "here")
    logbook.bring(exported, tmp_path / "third")
    brought = logbook.entries(tmp_path / "third").entries
    for name in ("here", "there"):
        (two,) = (one for one in brought if one.drink == f"{name} two")
        assert [one.title for _, one in logbook.line_of(brought, two.path)] == [f"{name} first", f"{name} two"]


def test_no_other_of_its_name_stands_for_a_trial_that_is_gone(tmp_path):
    one = logbook.save(_run(name="Sour"), tmp_path)
    two = logbook.save(_run("60 mL gin", name="Two"), tmp_path, came_from=one.name)
    one.unlink()
    assert logbook.entry(two).came_from == ""
    again = logbook.save(_run(name="Sour"), tmp_path)
    assert again.name == one.name
    assert logbook.entry(two).came_from == ""
    assert [entry.came_from for entry in logbook.entries(tmp_path).entries] == ["", ""]


def test_a_liking_goes_to_the_trial_of_its_own_bar(tmp_path):
    """What one bar's tasters said of their sour was read of the other's, by the name of its file."""
    for name, spirit, liked in (("here", "gin", 2), ("there", "aged rum", 9)):
        pair = [
            logbook.save(
                _run(f"{ml} mL {spirit}\n20 mL lemon juice", name=drink), tmp_path / name, title=f"{drink} {name}"
            )
            for ml, drink in ((45, "Sour"), (60, "Stronger"))
        ]
        a, b = (tasting.sample(logbook.load(path, pantry=SHELF), path.stem, path.name) for path in pair)
        plan = tasting.plan([tasting.Taster("Ada")], tasting.SCALES, samples=(a, b))
        one = tasting.prepare(plan, a, b, tasting.portion(a, b, tasting.SCALES), scales=["liking"])
        given = {s.taster: {c: (liked if s.drink(c) == "A" else 5,) for c in s.codes} for s in one.servings}
        one = tasting.answered(one, given)
        (file, *_) = tasting.save(one, tmp_path / name)
        tasting.keep_with_trials(one, tmp_path / name, file.name)
    logbook.restore(logbook.back_up(tmp_path / "there"), tmp_path / "here")
    found = next_glass.from_logbook(tmp_path / "here")
    assert {glass.name: dict(glass.scores) for glass in found.glasses} == {
        "Sour here": {"Ada": 2}, "Stronger here": {"Ada": 5}, "Sour there": {"Ada": 9}, "Stronger there": {"Ada": 5},
    }  # fmt: skip


def test_a_drink_is_set_aside_with_one_look_through_the_folder(tmp_path, monkeypatch):
    made = _run(name="Aside")
    first = logbook.save(made, tmp_path)

    def looks() -> int:
        count = []
        listed = files.listed
        with monkeypatch.context() as patch:
            patch.setattr(files, "listed", lambda *a: (count.append(1), listed(*a))[1])
            held = logbook.Opened(made.setting, SHELF, title="another", note=f"of {len(logbook.entries(tmp_path)[0])}")
            count.clear()
            logbook.set_aside(tmp_path, held)
        return len(count)

    few = looks()
    for _ in range(5):
        logbook.save(made, tmp_path, came_from=first.name)
    assert looks() == few
