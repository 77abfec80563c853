"""An eighth attack, on what is told of a drink with a jelly, a milk wash and a filter, opened at another bar.

The words of allergens: Regulation (EU) 1169/2011, annex II; milk and fish stay declared though what made the drink is
filtered out (annex II names what is made of them).
"""

from dataclasses import replace

import pytest

from drinklab import cards, logbook, pantry, tasting, writeup
from drinklab.display import Display
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.trial import run
from drinklab.workbook.parts import tasting_words

HEAD = "id,name,kind,abv_percent,sugar_g_l,allergens,may_contain\n"
HERE = "own_a,house lupin syrup,syrup,0,400,lupin,mustard\nown_b,house bitter,syrup,0,300,,\n"
BARS = {  # what another bar has under the same ids
    "no own bottles": "",
    "the same, of which nobody said anything": "own_a,house lupin syrup,syrup,0,400,,\nown_b,house bitter,syrup,0,300,,\n",
    "the same, said to hold none": "own_a,house lupin syrup,syrup,0,400,none,none\nown_b,house bitter,syrup,0,300,,\n",
    "the two the other way round": "own_b,house lupin syrup,syrup,0,400,none,none\nown_a,house bitter,syrup,0,300,none,\n",
    "others": "own_a,plain syrup,syrup,0,400,none,none\nown_b,dry syrup,syrup,0,300,none,none\n",
}
IN_DRINK, BESIDE = {"lupin", "nuts (almond)", "milk"}, {"sulphites", "eggs", "fish"}
CODES = {"caffeine", "grapefruit", "dairy", "choking", "flame", "strong jelly", "gelatin"}


def _bar(folder, rows):
    folder.mkdir()
    (folder / pantry.OWN_FILE).write_text(HEAD + rows, encoding="utf-8")
    return pantry.load(folder)


def _drinks(shelf):
    text = (
        "45 mL gin\n30 mL lemon juice\n20 mL house lupin syrup\n10 mL house bitter\n20 mL orgeat\n30 mL cold black tea\n"
        "20 mL grapefruit juice"
    )
    line = Recipe.parse(text, shelf, name="Line", technique="none")
    text = "60 mL house lupin syrup\n60 mL fino sherry\n20 mL egg white\n30 mL water"
    cubes = Recipe.parse(text, shelf, name="Cubes", technique="none")
    jelly, clear = Set("gelatin", fish=True, water=None), (MilkWash(), Filter())
    return {
        "set": Setting(line, steps=(*clear, jelly), draws=0),
        "beside": Setting(line, steps=clear, beside=(Setting(cubes, steps=(jelly,), draws=0),), draws=0),
    }


@pytest.fixture(scope="module", params=["set", "beside"])
def made(request, tmp_path_factory):
    shelf = _bar(tmp_path_factory.mktemp("bars") / "here", HERE)
    return request.param, run(_drinks(shelf)[request.param], pantry=shelf)


@pytest.mark.parametrize("bar", BARS)
def test_nothing_is_lost_at_another_bar(made, bar, tmp_path):
    which, first = made
    contains = IN_DRINK | ({"fish"} if which == "set" else BESIDE)
    shelf = _bar(tmp_path / "there", BARS[bar]) if BARS[bar] else pantry.load()
    there = writeup.rerun(writeup.html(first), pantry=shelf)
    for one in (first, there, logbook.load(logbook.save(first, tmp_path), pantry=shelf),
                writeup.rerun(writeup.html(there))):  # fmt: skip
        unstated = {one.pantry["own_b"].name}
        assert contains <= set(one.allergens)
        assert one.may_contain == ("mustard",)
        assert unstated <= set(one.unstated)
        assert {caution.code for caution in one.cautions} >= CODES | ({"raw egg"} if which == "beside" else set())
        _told_on_cards(one, contains, unstated, which)
        _told_to_tasters(one, contains, unstated)


def _told_on_cards(one, contains, unstated, which):
    spec, guest, label = cards.spec(one), cards.guest(one), cards.label(one)
    for card in (dict(spec.figures), dict(guest.facts)):
        assert contains <= set(card["Contains"].split(", "))
        assert card["May contain"] == "mustard"
    page = cards.spec_html(spec) + cards.spec_html(spec, phone=True)
    assert all(page.count(caution.text[:40]) == 2 for caution in one.cautions)
    assert all(name in dict(spec.figures)["Not stated"] for name in unstated)
    assert any("not stated" in note and name in note for note in guest.notes for name in unstated)
    bottled = IN_DRINK | ({"fish"} if which == "set" else set())  # what goes beside a drink is in no bottle of it
    assert bottled <= set(label.allergens[0].removeprefix("Contains: ").rstrip(".").split(", "))
    assert not {"eggs", "sulphites"} & set(label.allergens[0].replace(".", ",").replace(" ", "").split(","))
    assert "May contain: mustard." in label.allergens
    assert any(
        text.startswith("Allergens not stated: ") and name in text for text in label.allergens for name in unstated
    )
    assert "With caffeine, grapefruit." in label.allergens


def _told_to_tasters(one, contains, unstated):
    a = tasting.sample(one)
    b = tasting.sample(run(Recipe.parse("45 mL gin\n30 mL water", name="Plain", technique="none"), draws=0))
    plan = tasting.plan(12, "triangle", samples=(a, b))
    done = tasting.from_dict(tasting.to_dict(tasting.prepare(plan, a, b, tasting.portion(a, b, "triangle", 5))))
    first = "\n".join(tasting_words.first_words(done, Display()))
    sheets = tasting_words.sheets_html(done, Display())
    for word in (*contains, "mustard", *unstated, "Choking", "Gelatin is made of fish", "Caffeine", "Grapefruit"):
        assert word in first
        assert sheets.count(word) >= 12  # on each taster's own
    for word in ("lupin", "milk", "fish", "nuts", "mustard", "celery"):  # celery: nobody stated that it is not there
        assert tasting.unfit(tasting.Taster("Ada", (word,)), a)


def test_one_id_with_two_names_is_said_and_nothing_is_taken_for_stated(made, tmp_path):
    _, first = made
    there = writeup.rerun(writeup.html(first), pantry=_bar(tmp_path / "there", BARS["others"]))
    assert (
        "own_b was 'house bitter' where it was saved; here it is 'dry syrup', which is what is poured." in there.notes
    )
    assert there.unstated == ("dry syrup",)
    same = replace(first.pantry["own_b"], name="House  Bitter", stated=True)
    shelf, told = pantry.load().with_items([same]).with_saved([first.pantry["own_b"]])
    assert told == ()
    assert shelf["own_b"].stated
