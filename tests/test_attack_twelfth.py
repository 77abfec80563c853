"""A twelfth attack: two persons who start at once, cards for guests, kept files, logs and photographs."""

from __future__ import annotations

import threading
import zipfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import replace

import pytest

from drinklab import cards, files, logbook, menu, pantry, service, tasting, trial
from drinklab.carbonation import Carbonate
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook.panels import filtering
from drinklab.workbook.parts import tasting_words

SHELF = pantry.load()

# --- two persons of one computer -------------------------------------------------------------------------------------


def test_two_persons_who_start_in_the_same_second_both_have_their_page(tmp_path, start, environment):
    """Each has a home, and so a lock, of their own; both found the same port free before one listened there."""
    homes = [tmp_path / name for name in ("ada", "bo")]
    for home in homes:
        home.mkdir()
    with ExitStack() as opened, ThreadPoolExecutor(2) as pool:
        managers = [start(home / "bar", "--no-browser", env=environment(home)) for home in homes]
        started = list(pool.map(lambda manager: manager.__enter__(), managers))
        for manager in managers:
            opened.push(manager.__exit__)
        assert all(one.address for one in started), [one.said for one in started]
        assert len({one.page for one in started}) == 2
        assert [one.ask("api/contents").status for one in started] == [200, 200]


# --- what is kept ----------------------------------------------------------------------------------------------------


def test_a_backup_of_many_files_asks_the_disk_once_a_folder_and_waits_for_several_at_once(tmp_path, monkeypatch):
    """60,000 files took 100 s, nearly all of it in waiting for the disk: for each file twice, one after the other."""
    with zipfile.ZipFile(tmp_path / "kept.zip", "w") as kept:
        for number in range(200):
            kept.writestr(f"trials/records/2026-01-01_sour_{number:02d}_01.json", f'{{"a": {number}}}')
            kept.writestr(f"tastings/2026-01-01_sour_{number:02d}.json", "{}")
    folders, threads, real = [], set(), files._fill
    monkeypatch.setattr(files, "settled", folders.append)
    monkeypatch.setattr(files, "_fill", lambda file, held: (threads.add(threading.get_ident()), real(file, held)))
    found = logbook.restore(tmp_path / "kept.zip", tmp_path / "bar")
    assert len(found.new) == 400
    assert sorted(folders) == [tmp_path / "bar/tastings", tmp_path / "bar/trials/records"]
    assert len(threads) > 1
    assert logbook.restore(tmp_path / "kept.zip", tmp_path / "bar") == logbook.Restored((), 400, ())


# --- what is typed ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "told"), [("thirty, a hundred", True), ("minutes, mL", True), ("10, 40", False)])
def test_a_line_of_words_alone_in_a_filters_log_is_told_of(tmp_path, first, told):
    """It was left out in silence, whether a heading or a reading in words."""
    page = filtering.panel(tmp_path)
    page.text.value = f"\n{first}\n20, 110\n30, 140"
    assert (f"Line 2 of the log, “{first}”, holds no figure and is not read." in page.words.value) == told
    assert page.problem.value == ""
    page.text.value = "10, 40\nforty, ninety\n50, 140"
    assert "line 2 of the log" in page.problem.value.casefold()


# --- what a guest is told --------------------------------------------------------------------------------------------


def _pages(drink: Setting) -> dict[str, str]:
    """What a guest or a taster reads of a drink."""
    now = trial.run(drink, pantry=SHELF)
    one = service.serve(now)
    (item,) = cards.menu_page(menu.menu([now])).pages[0]
    a, b = tasting.sample(now), replace(tasting.sample(now), name="another")
    sheet = tasting.prepare(tasting.plan(6), a, b, tasting.portion(a, b))
    return {
        "guest card": " ".join(cards.guest(now).notes), "menu line": service.menu_line(one).text, "menu": item.text,
        "tasting sheet": " ".join(tasting_words.first_words(sheet, drink.display)),
    }  # fmt: skip


SOUR = "45 mL gin\n25 mL lime juice\n15 mL sugar syrup"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"garnish": "a flamed orange zest"}, ("Made with fire",)),
        ({"method": "Shake with dry ice."}, ("Made with dry ice",)),
        ({"method": "Torch the rim, pour over liquid nitrogen."}, ("Made with fire", "Made with dry ice")),
        ({"garnish": "a lime wheel"}, ()),
    ],
)
def test_fire_and_dry_ice_are_told_to_who_drinks(words, said):
    for name, text in _pages(Setting(Recipe.parse(SOUR, technique="shaken", **words))).items():
        for sentence in ("Made with fire", "Made with dry ice"):
            assert (sentence in text) == (sentence in said), (name, sentence)


def test_a_menu_says_what_its_cautions_say_to_say_on_a_menu():
    """Their cautions ask for a strong serve and gelatin to be said on the menu. Of gin at 40 % vol 150 mL are 47.3 g."""
    strong = Setting(Recipe.parse("150 mL gin\n10 mL dry vermouth", technique="stirred"))
    jelly = Setting(Recipe.parse(SOUR, technique="none"), steps=(Set("gelatin", water=40.0),))
    hot = Setting(Recipe.parse("45 mL aged rum\n120 mL water", technique="none", serve="hot"))
    for drink, words in (
        (strong, "A strong serve, of 3.5 standard drinks"), (jelly, "not vegetarian"), (jelly, "chew it well"),
        (hot, "Served hot"),
    ):  # fmt: skip
        told = {name: text for name, text in _pages(drink).items() if name.startswith("menu")}
        assert all(words in text for text in told.values()), (words, told)


@pytest.mark.parametrize(
    ("lines", "steps", "said"),
    [
        ("60 mL gin\n20 mL sugar syrup", (), ""),
        ("60 mL gin\n20 mL lemon juice\n20 mL sugar syrup", (), "Keep cold."),
        ("60 mL gin\n20 mL egg white\n20 mL sugar syrup", (), ""),  # that goes into the glass
        ("60 mL gin\n20 mL lemon juice\n20 mL sugar syrup", (MilkWash(share=0.25),), "Keep cold."),
        ("60 mL gin\n60 mL water", (Carbonate(volumes=3, temperature=3),), "Under pressure: keep cold, open slowly."),
        ("60 mL overproof white rum", (), "Burns easily: keep flames away."),
    ],
)
def test_a_label_says_what_its_bottle_needs(lines, steps, said):
    """Cold was told of gas alone, and of no bottle that it burns."""
    drink = Setting(Recipe.parse(lines, technique="none"), steps=steps)
    assert cards.label(trial.run(drink, pantry=SHELF, draws=0)).warning == said
