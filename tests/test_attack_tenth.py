"""A tenth attack: letters that look like ours, names in other words, one taster under two spellings, long folders.

Each test failed before it was mended.
"""

import json
import os
import random
import unicodedata
from pathlib import Path

import numpy as np
import pytest

from drinklab import files, forgiving, logbook, measured, next_glass, pantry, tables, tasting, texts, trial, whatif
from drinklab.batch import storage
from drinklab.declared import of_animals
from drinklab.errors import InputError
from drinklab.gels.words import raw_fruit
from drinklab.logbook import saved
from drinklab.measured import joint
from drinklab.recipe import Recipe
from drinklab.setting import Setting

SHELF = pantry.load()
HEAD = "id,name,kind,abv_percent,sugar_g_l,citric_g_l,allergens\n"

# --- letters that look like ours --------------------------------------------------------------------------------------

# A letter of Cyrillic, Greek, Armenian, Cherokee, or an odd one of ours, in place of one that looks the same (Unicode
# Technical Standard 39, "confusables.txt", from memory); marks that stand on a letter; letters of mathematics.
ALIKE = {
    "gr\u0430pefruit cordial": "grapefruit", "grap\u0435fru\u0456t cordial": "grapefruit",
    "\u0262\u0280apefru\u0131t cordial": "grapefruit", "\u0261rapefruit cordial": "grapefruit",
    "\u0435gg foam": "raw_egg", "\u0395GG foam": "raw_egg", "e\u0332g\u0332g\u0332 foam": "raw_egg",
    "\u13ac\u13c0\u13c0 foam": "raw_egg", "egg_white foam": "raw_egg", "eggs2 foam": "raw_egg",
    "c\u043effee cordial": "caffeine", "\u0441\u043e\u200d\u04cf\u0430": "caffeine", "\u0441\u043el\u0430": "caffeine", "t\u03bfnic": "quinine",
}  # fmt: skip


def _own(folder, *rows):
    (folder / pantry.OWN_FILE).write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return pantry.load(folder)


@pytest.mark.parametrize("name", ALIKE)
def test_a_letter_that_looks_like_ours_hides_no_caution(tmp_path, name):
    """What a guest is not told: grapefruit with medicines, raw egg, caffeine, quinine."""
    assert ALIKE[name] in _own(tmp_path, f"zz,{name},mixer,0,40,0,none")["zz"].cautions
    data = logbook.snapshot(trial.run(Recipe.parse("60 mL gin\n30 mL lime juice"), pantry=SHELF, draws=0))
    held = data["ingredients"].pop("lime_juice") | {"id": "zz", "name": name}
    data["ingredients"]["zz"], data["setting"]["recipe"]["pours"][1]["ingredient"] = held, "zz"
    assert ALIKE[name].replace("_", " ") in {caution.code for caution in logbook.revive(data, pantry=SHELF).cautions}


def test_a_letter_that_looks_like_ours_makes_no_other_bottle(tmp_path):
    """Its own egg white, without egg's warnings, would stand beside ours."""
    assert SHELF.find("\u0435gg whit\u0435").id == "egg_white"
    with pytest.raises(InputError, match="used only once; line 2 has it already"):
        _own(tmp_path, "a,plum shrub,syrup,0,400,5,none",
             "c,pl\u03c5m shr\u03c5b,syrup,0,400,5,none")  # fmt: skip


@pytest.mark.parametrize("word", ["\u0435ggs", "n\u03c5ts", "m\u0456lk", "\u0261luten"])
def test_what_a_taster_cannot_have_is_met_in_letters_that_look_like_ours(word):
    bottle = {"\u0435ggs": "egg liqueur", "n\u03c5ts": "almond milk", "m\u0456lk": "milk punch", "\u0261luten": "rye"}[
        word
    ]
    one = tasting.Sample("Drink", 0.1, bottles=("gin", bottle))
    assert [why.code for why in tasting.unfit(tasting.Taster("Ada", (word,)), one)] == ["holds"]
    here = tasting.Sample("Drink", 0.1, bottles=("gin", word))
    plain = texts.as_read(word)
    assert [why.code for why in tasting.unfit(tasting.Taster("Ada", (plain,)), here)] == ["holds"]
    with pytest.raises(InputError, match="a name, and behind a colon"):
        tasting.read_tasters(f"Ada {word}")


def test_words_are_found_in_names_with_marks_and_letters_that_look_like_ours():
    honey, kiwi, lime, mint = (
        pantry.Ingredient(id="zz", name=name, kind=kind, abv=0.0, sugar=1.0, acid=1.0, state=state, allergens=())
        for name, kind, state in (("honey, local", "syrup", "liquid"), ("k\u0456wi juice", "juice", "liquid"),
                                  ("l\u0456me juice", "juice", "liquid"), ("m\u0456nt", "other", "solid"))
    )  # fmt: skip
    assert of_animals(honey) == ("honey",)
    assert raw_fruit("gelatin", [kiwi])[0].code == "raw fruit in it"
    assert storage.is_citrus(lime)
    assert storage.spoils(mint)


@pytest.mark.parametrize("name", ["Zo\u00eb", "plum shrub", "\u0448\u0430\u043c\u043f\u0430\u043d\u0441\u043a\u043e\u0435",
                                  "\u03bf\u03af\u03bd\u03bf\u03c2", "\u68c5\u9152", "rak\u0131"])  # fmt: skip
def test_a_name_stays_as_it_was_typed(tmp_path, name):
    """Names are read in our letters only where they are compared."""
    assert _own(tmp_path, f"zz,{name},syrup,0,400,5,none")["zz"].name == name
    assert texts.fit(name) == name


def test_each_letter_of_the_table_goes_to_one_of_ours():
    """Small capitals are named by Unicode after the letter that they are."""
    for sign, ours in texts._LIKE.items():
        base, name = unicodedata.normalize("NFD", chr(ours))[0], unicodedata.name(chr(sign))
        assert base.isascii()
        assert base.isalpha()
        assert not chr(sign).isascii()
        assert "SMALL CAPITAL" not in name or name[-1] == base.upper()


def test_what_is_compared_and_read_is_so_once_and_for_all():
    """Reading again what was read changes nothing, whatever letters, marks and joiners it is made of."""
    chance = random.Random(10)
    signs = [
        *map(chr, texts._LIKE),
        *"aeEgG \u0301\u0308\u0332\u200d\xad,-_(45\xbd\u0130\xdf\u0153\u5375\U0001f95a\ud800",
    ]
    for _ in range(3000):
        text = "".join(chance.choices(signs, k=chance.randint(0, 12)))
        for read in (texts.called, texts.as_read, texts.fit):
            once = read(text)
            assert read(once) == once, ascii(text)
        assert texts.as_read(texts.called(text)) == texts.as_read(text), ascii(text)


# --- names in other words ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "code"),
    [("eggwhite foam", "raw_egg"), ("eggwhites", "raw_egg"), ("albumen", "raw_egg"), ("blanc d'\u0153uf", "raw_egg"),
     ("clara de huevo", "raw_egg"), ("Eiwei\xdf", "raw_egg"), ("coffees", "caffeine"), ("double espressos", "caffeine"),
     ("Darjeeling", "caffeine"), ("energy drink", "caffeine"), ("matcha", "caffeine"), ("tonics", "quinine"),
     ("bitter lemon", "quinine"), ("toronja", "grapefruit"), ("pummelo", "grapefruit"), ("sour orange", "grapefruit"),
     ("ginger ale", "sparkling"), ("house cola", "sparkling"), ("p\xe9t-nat", "sparkling"), ("Sekt", "sparkling")],
)  # fmt: skip
def test_a_name_in_other_words_warns_too(name, code):
    """Seville oranges: US FDA, consumer update on grapefruit juice; bitter lemon holds quinine (both from memory)."""
    assert code in pantry.name_warns(name, "mixer")


@pytest.mark.parametrize(
    "name", ["eggplant", "tonic syrup", "cola syrup", "rooibos", "bitter orange", "veggie", "lemon"]
)
def test_and_others_do_not(name):
    assert not set(pantry.name_warns(name, "mixer")) & {"raw_egg", "sparkling", "grapefruit"}


# --- one taster, two spellings ----------------------------------------------------------------------------------------


def test_one_taster_under_two_spellings_is_one(tmp_path):
    """An accent has two codings (Unicode Standard Annex 15): two tasters of one mind made a level of each."""
    for ml, said in ((45, "Zo\xeb 7, Bo 5"), (46, "Zoe\u0308 6, bo 4"), (47, "ZO\xcb 3")):
        recipe = Recipe.parse(f"{ml} mL gin\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken")
        logbook.save(trial.run(recipe, draws=0), tmp_path, note=f"Liking: {said}")
    found = next_glass.from_logbook(tmp_path)
    assert found.tasters == ("Zo\xeb", "Bo")
    assert sorted(glass.scores for glass in found.glasses) == [
        (("Zo\xeb", 3.0),), (("Zo\xeb", 6.0), ("Bo", 4.0)), (("Zo\xeb", 7.0), ("Bo", 5.0))
    ]  # fmt: skip
    with pytest.raises(InputError, match="there twice"):
        next_glass.read_note("Liking: Zo\xeb 7, Zoe\u0308 6")
    with pytest.raises(InputError, match="there twice"):
        next_glass.glass(found.glasses[0].drink, SHELF, scores=[("Zo\xeb", 7), ("Zoe\u0308", 6)])


# --- long folders -----------------------------------------------------------------------------------------------------


def _counted(monkeypatch, place, name):
    """Calls of a function, each with the length of what it gave, where that has one."""
    seen, real = [], getattr(place, name)

    def counting(*args, **kwargs):
        found = real(*args, **kwargs)
        seen.append(len(found) if isinstance(found, list) else 1)
        return found

    monkeypatch.setattr(place, name, counting)
    return seen


def _exported(folder, count):
    """A file of so many trials, each with something said of it since."""
    data = logbook.snapshot(trial.run(Recipe.parse("60 mL gin\n30 mL lime juice", name="Punch"), draws=0))
    data |= {"note": "", "time": "2026-11-02T10:00:00+00:00", "came_from": ""}
    each = [{"file": f"{n}.json", "trial": data | {"title": f"T{n}"}, "said": [{"note": "x"}]} for n in range(count)]
    path = folder / f"{count}.json"
    path.write_text(json.dumps({"trials": each}), encoding="utf-8")
    return path


def test_bringing_trials_in_looks_at_no_name_again_for_each(tmp_path, monkeypatch):
    """Of 3,000 trials a folder of them was listed for each, and the bottles read: two minutes."""
    names, bottles = _counted(monkeypatch, os, "listdir"), _counted(monkeypatch, tables, "read_file")
    (tmp_path / "bar").mkdir()
    _own(tmp_path / "bar", "zz,plum shrub,syrup,0,400,5,none")
    monkeypatch.setattr(Path, "iterdir", None)  # other ways to list a folder
    monkeypatch.setattr(Path, "glob", None)
    bottles.clear()
    made, problems = logbook.bring(_exported(tmp_path, 30), tmp_path / "bar")
    assert (len(made), problems, len({path.name for path in made})) == (30, (), 30)
    assert sum(names) <= 30
    assert len(bottles) <= 1
    monkeypatch.undo()
    found = logbook.entries(tmp_path / "bar")[0]
    assert {one.title for one in found} == {f"T{n}" for n in range(30)}
    assert all(one.all_notes == "x" for one in found)


def test_the_same_bottle_of_many_trials_is_checked_once(tmp_path, monkeypatch):
    logbook.bring(_exported(tmp_path, 20), tmp_path)
    found = logbook.entries(tmp_path)[0]
    saved._checked_once.cache_clear()
    logbook.export(found, tmp_path)
    assert saved._checked_once.cache_info().misses == 2


@pytest.mark.parametrize("name", ["day_07.json", "day_03.json", "day_02.html"])
def test_a_number_that_another_takes_meanwhile_is_left_to_them(tmp_path, name):
    """What was last in a folder is remembered only as long as nobody else writes there."""
    assert files.write_new(tmp_path, "day", {".json": "1"})[0].name == "day_01.json"
    (tmp_path / name).write_text("theirs")
    made = files.write_new(tmp_path, "day", {".json": "2", ".html": "2"})
    assert (tmp_path / name).read_text() == "theirs"
    assert made[0].stem > name.partition(".")[0]
    files._SEEN[tmp_path] = files._stamp(tmp_path), {"day": 0}, []  # as where theirs came within a tick of the clock
    again = files.write_new(tmp_path, "day", {".json": "3"})[0]
    assert again.stem > made[0].stem
    assert (tmp_path / name).read_text() == "theirs"


def test_own_ingredients_are_read_once_as_long_as_they_are_the_same(tmp_path, monkeypatch):
    """50,000 of them took 15 s at each answer of a page."""
    path = tmp_path / pantry.OWN_FILE
    path.write_text(HEAD + "zz,plum shrub,syrup,0,400,5,none\n", encoding="utf-8")
    os.utime(path, (1_700_000_000, 1_700_000_000))
    read = _counted(monkeypatch, tables, "read_file")
    assert [pantry.load(tmp_path)["zz"].sugar for _ in range(5)] == [400] * 5
    assert len(read) == 1
    for grams in (401, 402, 403):  # written again at once, of the same length: read again each time
        path.write_text(HEAD + f"zz,plum shrub,syrup,0,{grams},5,none\n", encoding="utf-8")
        assert pantry.load(tmp_path)["zz"].sugar == grams
    path.unlink()
    assert "zz" not in pantry.load(tmp_path)


@pytest.mark.parametrize("name", ["Punch [old].json", "Punch *.json", "Punch?.json", "Punch_2.json"])
def test_what_is_said_of_a_trial_of_any_name_is_found(tmp_path, name):
    """A name that a person gave a file was taken for a pattern: title and notes were not those said last."""
    first = logbook.save(trial.run(Recipe.parse("60 mL gin\n30 mL lime juice"), draws=0), tmp_path)
    path = first.rename(first.with_name(name))
    logbook.record(path, logbook.entry(path).time, title="Late", note="more salt")
    for one in (logbook.entry(path), logbook.entries(tmp_path)[0][0]):
        assert (one.title, one.all_notes) == ("Late", "more salt")
    assert logbook.open_saved(path).note == "more salt"


# --- what is typed ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", ["lime syrup", "sugar water", "pink grapefruit", "vanilla liqueur", "herb liqueur",
                                  "fruit syrup", "fruit liqueur", "spiced syrup", "anise liqueur"])  # fmt: skip
def test_half_a_name_is_asked_about(said):
    """Lime syrup was falernum with its alcohol, sugar water tonic water, a vanilla liqueur one of 42 % with anise."""
    with pytest.raises(InputError, match=f"ingredient is '{said}'"):
        Recipe.parse(f"45 mL gin\n30 mL {said}")


@pytest.mark.parametrize(
    ("said", "key"),
    [("cold black tea", "tea_black"), ("dry gin", "gin_london_dry"), ("red wine", "red_wine_dry"),
     ("hot coffee", "coffee_hot"), ("cream sherry", "sherry_sweet"), ("apple brandy", "calvados"),
     ("passion syrup", "passion_fruit_syrup"), ("agave tequila", "tequila"), ("almond liqueur", "amaretto"),
     ("vanilla and anise liqueur", "vanilla_anise_liqueur"), ("Jamaican dark rum", "rum_dark_jamaican")],
)  # fmt: skip
def test_and_words_that_say_the_thing_are_read(said, key):
    assert SHELF.find(said).id == key


def test_a_garnish_of_another_strength_brings_its_allergens():
    """A strength that milk cannot have refused all of the drink."""
    drink = Recipe.parse("45 mL gin\n20 mL lemon juice", garnish="whole milk, 2 %")
    assert trial.run(drink, draws=0).allergens == ("milk",)


@pytest.mark.parametrize("said", ["Ada - 7", "Ada – 7", "Ada — 7", "Ada: 7", "Ada 7"])
def test_a_dash_is_no_part_of_a_tasters_name(said):
    """“Ada -” was another taster than “Ada”."""
    assert next_glass.read_note(f"Liking: {said}") == (("Ada", 7.0),)


@pytest.mark.parametrize("said", ["\u2212 3", "— !7", "? 7, Bo 6"])
def test_a_sign_is_no_taster(said):
    with pytest.raises(InputError, match="liking is"):
        next_glass.read_note(f"Liking: {said}")


ODD = ([], [1, 2], (1,), True, "x", "nan", "1_0", b"5", {}, 1j, float("nan"), float("inf"), np.array([1.0, 2.0]))


@pytest.mark.parametrize("value", ODD, ids=repr)
@pytest.mark.parametrize("code", [code for code, question in whatif.QUESTIONS.items() if question.choices is None])
def test_a_question_takes_one_number(code, value):
    """What is no number was a traceback, or was read as one."""
    sour = Setting(Recipe.parse("45 mL gin, 40 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken"), draws=0)
    with pytest.raises(InputError):
        whatif.ask(code, sour, value)


def test_a_question_reads_units_as_all_else_does():
    sour = Setting(Recipe.parse("45 mL gin, 40 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken"), draws=0)
    assert str(whatif.ask("spirit", sour, "114 proof").what) == "gin, 57 % in place of gin, 40 %"
    assert str(whatif.ask("warm bar", sour, "86 °F").what).startswith("Bottles and room at 30 °C")


@pytest.mark.parametrize("times", ["1_0", "1e1", "", "two", True, 1.5, "1" * 5000])
def test_times_are_a_plain_whole_number(times):
    with pytest.raises(InputError, match="times it was read"):
        measured.checked("strength", "gin", "40 % vol", times=times)


@pytest.mark.parametrize("prior", [float("nan"), float("inf"), None, "x"])
def test_no_figure_is_joined_with_none(prior):
    with pytest.raises(InputError, match="the table's figure"):
        measured.joined(prior, 7, [measured.Reading(53, 1)])


def test_measurements_are_joined_once_as_long_as_they_are_the_same(tmp_path, monkeypatch):
    """Of 20,000 readings each answer of a page took ten seconds; and two folders never stand for each other."""
    for folder, said in (("a", "40.2 % vol"), ("b", "40.6 % vol")):
        measured.add(tmp_path / folder, measured.checked("strength", "gin, 40 %", said, instrument="density meter"))
        os.utime(tmp_path / folder / measured.OWN_FILE, (1_700_000_000, 1_700_000_000))
    joined = _counted(monkeypatch, joint, "join")
    found = [measured.shelf(tmp_path / "a").find("gin, 40 %").abv for _ in range(5)]
    assert len(joined) <= 1
    assert len(set(found)) == 1
    assert measured.shelf(tmp_path / "b").find("gin, 40 %").abv > found[0]
    assert measured.shelf(tmp_path / "a").find("gin, 40 %").abv == found[0]
    measured.add(tmp_path / "a", measured.checked("strength", "gin, 40 %", "40.3 % vol", instrument="density meter"))
    assert measured.shelf(tmp_path / "a").find("gin, 40 %").abv > found[0]
    (tmp_path / "a" / measured.OWN_FILE).unlink()
    assert measured.shelf(tmp_path / "a").find("gin, 40 %").measured == ()


# --- what is brought in, and who tastes -------------------------------------------------------------------------------


@pytest.mark.parametrize("odd", [5, None, "x", [], {}, {"trial": 5}, {"trial": {"time": 3}, "file": "y"}])
def test_one_odd_trial_of_a_file_does_not_keep_the_rest_away(tmp_path, odd):
    path = _exported(tmp_path, 3)
    held = json.loads(path.read_text(encoding="utf-8"))["trials"]
    path.write_text(json.dumps({"trials": [held[0], odd, held[1], held[2] | {"file": None}]}), encoding="utf-8")
    made, (said,) = logbook.bring(path, tmp_path / "bar")
    assert len(made) == len(list((tmp_path / "bar" / logbook.TRIALS).glob("*.json"))) == 3
    assert said.startswith("3.json, trial ")


def test_all_that_was_brought_in_is_told(tmp_path):
    """Two trials of one name in a file: both were written, and one of them told."""
    path = _exported(tmp_path, 2)
    held = json.loads(path.read_text(encoding="utf-8"))["trials"]
    del held[0]["file"]
    path.write_text(json.dumps({"trials": [held[0], held[1], held[1]]}), encoding="utf-8")
    made, problems = logbook.bring(path, tmp_path)
    assert (len(set(made)), problems) == (3, ())


@pytest.mark.parametrize("line", ["Ada vegan", "Ada, vegetarian", "Ada shellfish", "Ada coeliac", "Bo pregnant"])
def test_what_keeps_somebody_from_a_drink_is_no_name(line):
    with pytest.raises(InputError, match="behind a colon"):
        tasting.read_tasters(line)
    name, word = line.replace(",", "").split()
    taster = tasting.read_tasters(f"{name}: {word}")[0]
    assert tasting.unfit(taster, tasting.Sample("Drink", 0.1))[0].code == "not known"


@pytest.mark.parametrize("bands", [None, {}, 5, "abv", {"abv": 5j}, {"abv": (float("nan"), 5)}, {"abv": ("x", 5)},
                                   {"abv": (5, 1)}, {"cost": (0, 5)}, {"gin": (0, 5)}])  # fmt: skip
def test_pours_are_held_against_bands_that_are_some(bands):
    """Against what is no number no pour lay inside, as though all of them missed."""
    drink = Recipe.parse("45 mL gin\n20 mL lemon juice", technique="shaken")
    with pytest.raises(InputError):
        forgiving.pours_inside(drink, bands)
    assert forgiving.pours_inside(drink, {"abv": ("0 %", "100 %"), "volume": ("1 oz", "9 oz")}).all()


def test_what_was_said_of_a_trial_keeps_its_day(tmp_path):
    """A logbook that was taken along as JSON had said all of it today."""
    path = _exported(tmp_path, 1)
    held = json.loads(path.read_text(encoding="utf-8"))["trials"]
    held[0]["said"] = [{"note": "thin", "time": "2026-11-03T10:00:00.123456+00:00"}, {"title": "Late"}]
    path.write_text(json.dumps({"trials": held}), encoding="utf-8")
    logbook.bring(path, tmp_path / "bar")
    first = logbook.entries(tmp_path / "bar")[0]
    logbook.bring(logbook.export(first, tmp_path / "bar")[0], tmp_path / "other")
    for one in (first[0], logbook.entries(tmp_path / "other")[0][0]):
        assert [(when.isoformat()[:10], note) for when, note in one.notes] == [("2026-11-03", "thin")]
        assert one.title == "Late"
    held[0]["said"][0]["time"] = "soon"
    path.write_text(json.dumps({"trials": held}), encoding="utf-8")
    made, (said,) = logbook.bring(path, tmp_path / "bad")
    assert made == []
    assert "trial 1" in said
