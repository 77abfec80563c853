"""A second attack on what is opened and what is saved: each test failed before, or holds on to what held."""

import csv
import io
import json
import os
import subprocess
import sys
from datetime import datetime

import pytest

from drinklab import logbook, measured, own
from drinklab.errors import InputError
from drinklab.measured import FilterLog, fit_files, own_fits, own_logs, save_fit, save_log
from drinklab.measured.kept import OwnFit
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.teach import progress
from drinklab.trial import run
from drinklab.workbook import launch, way_in

URL = "http://127.0.0.1:8790/lab?token=secret"


def bar(folder, strength, sugar, allergens="none"):
    """A folder with an own bottle that another bar has under the same name."""
    folder.mkdir(exist_ok=True)
    cells = own.row("plum cordial", "liqueur", strength, sugar, acid=2, allergens=allergens)
    own.write(folder, cells, replace=(folder / "my_ingredients.csv").exists())
    return folder


def drink(folder, name="Plum"):
    shelf = measured.shelf(folder)
    return run(Recipe.parse("50 mL gin\n30 mL plum cordial", shelf, name=name, technique="stirred"), pantry=shelf)


# --- figures that are others now are told ------------------------------------------------------------------------


def test_a_bottle_of_other_figures_is_told_of_when_a_saved_trial_is_opened(tmp_path):
    here = bar(tmp_path / "a", 20, 300)
    path = logbook.save(drink(here), here)
    assert logbook.open_saved(path).notes == ()
    bar(here, 40, 100)
    notes = logbook.open_saved(path).notes
    assert "'plum cordial' had strength 20 % vol when saved and has 40 % vol now." in notes
    assert "'plum cordial' had sugar 300 g/L when saved and has 100 g/L now." in notes
    assert set(notes) <= set(logbook.load(path).said)


def test_a_bottle_of_other_figures_is_told_of_for_the_drink_in_hand(tmp_path):
    here = bar(tmp_path / "a", 20, 300)
    made = drink(here)
    logbook.put_in_hand(here, made.setting, made.pantry)
    assert logbook.in_hand(here).notes == ()
    bar(here, 20, 100)
    (note,) = logbook.in_hand(here).notes
    assert note == "'plum cordial' had sugar 300 g/L when saved and has 100 g/L now."


def test_every_panel_that_shows_a_saved_trial_says_what_is_other_now(tmp_path):
    from drinklab.workbook.panels.bench import Bench
    from drinklab.workbook.panels.dilution import IcePanel
    from drinklab.workbook.panels.logbook import LogbookPanel

    here = bar(tmp_path / "a", 20, 300)
    path = logbook.save(drink(here), here)
    bar(here, 40, 100)
    for panel in (Bench(folder=here), IcePanel(folder=here)):
        assert "when saved" not in panel.said.value
        panel.choose.value = ("saved", str(path))
        assert "had sugar 300 g/L when saved and has 100 g/L now" in panel.said.value
        assert "Served strength [% vol] was 22.88 when saved and is 27.64 now" in panel.said.value
    book = LogbookPanel(folder=here)
    book.chosen.value = [str(path)]
    book.put_in_hand()
    assert "had sugar 300 g/L when saved and has 100 g/L now" in book.said.value
    assert "Served strength [% vol] was 22.88 when saved" in book.said.value


def test_a_drink_held_against_another_and_one_that_was_liked_are_told_of_too(tmp_path):
    from drinklab import next_glass
    from drinklab.workbook.panels.balance import VersusPanel
    from drinklab.workbook.panels.tasting import TastingPanel

    here = bar(tmp_path / "a", 20, 300)
    path = logbook.save(drink(here), here, note="Liking: Ada 7")
    assert next_glass.from_logbook(here).news == ()
    bar(here, 40, 300)
    for panel in (VersusPanel(folder=here), TastingPanel(folder=here)):
        panel.other.value = ("saved", str(path))
        assert "had strength 20 % vol when saved and has 40 % vol now" in panel.said.value
    (news,) = next_glass.from_logbook(here).news
    assert news == "Plum: 'plum cordial' had strength 20 % vol when saved and has 40 % vol now."


def test_what_a_newer_drinklab_says_of_a_bottle_or_a_trial_is_not_dropped_in_silence(tmp_path):
    path = logbook.save(run(Recipe.parse("50 mL gin", name="A", technique="none")), tmp_path)
    data = json.loads(path.read_text("utf-8"))
    assert logbook.open_saved(path).notes == ()
    data["drinklab"], data["hazards_found"] = "9.0", ["methanol"]
    data["ingredients"]["gin"]["poison"] = "methanol"
    path.write_text(json.dumps(data), "utf-8")
    assert logbook.open_saved(path).notes == (
        "Drinklab 9.0 saved more than this one reads, and that is left out: hazards_found.",
        "Drinklab 9.0 saved more of 'gin' than this one reads, and that is left out: poison.",
    )
    assert json.loads(path.read_text("utf-8")) == data


# --- two folders that come together -------------------------------------------------------------------------------


def test_weighings_and_logs_that_came_back_beside_others_are_read_and_ours_stay_the_last_word(tmp_path):
    ours, theirs = tmp_path / "a", tmp_path / "b"
    for folder, more in ((ours, 0.0), (theirs, 5.0)):
        gained = (10.0 + more, 15.0 + more, 19.0 + more)
        fit = OwnFit("stirred", 10, 0.02, 1, (10.0, 20.0, 30.0), gained, 20.0, 22.0, "2026-01-01")
        save_fit(folder, fit, drink="x", setting={})
        save_log(folder, FilterLog((1.0, 2.0, 3.0), (50.0, 90.0 + more, 120.0 + more)))
    logbook.restore(logbook.back_up(theirs), ours)
    assert [fit.gained[0] for fit in fit_files(ours)[0].values()] == [15.0, 10.0]
    assert own_fits(ours)[0]["stirred"].gained[0] == 10.0
    assert [log.volumes[1] for log in own_logs(ours)[0].values()] == [95.0, 90.0]
    assert save_fit(ours, fit, drink="x", setting={}).name == "my_ice_02.json"


def test_a_drink_in_hand_that_came_back_beside_another_can_be_opened(tmp_path):
    ours, theirs = tmp_path / "a", tmp_path / "b"
    for folder, gin in ((ours, 50), (theirs, 40)):
        asked = Setting(Recipe.parse(f"{gin} mL gin\n30 mL lime juice", name="Held"))
        logbook.put_in_hand(folder, asked, run(asked).pantry, title=f"{gin}", note="mine")
    logbook.restore(logbook.back_up(theirs), ours)
    (path,), problems = logbook.bring(ours / "in_hand.restored-1.json", ours)
    found = logbook.open_saved(path)
    assert not problems
    assert (found.title, found.note, found.setting.recipe.pours[0].amount) == ("40", "mine", 40.0)


def test_what_a_learner_did_at_another_bar_counts_where_it_came_back(tmp_path):
    ours, theirs = tmp_path / "a", tmp_path / "b"
    progress.attempted(theirs, "a7", "let_down", seed=1, typed="1", word="right", time=datetime(2026, 1, 1))
    progress.attempted(ours, "A7", "let_down", seed=2, typed="2", word="right", time=datetime(2026, 1, 2))
    progress.guessed(theirs, "a7", "01_strength", 3.0)
    progress.guessed(ours, "A7", "01_strength", 4.0)
    progress.finished(theirs, "a7", "02_dilution")
    assert logbook.restore(logbook.back_up(theirs), ours).beside == ("a7.restored-1.json",)
    for _ in range(2):
        one = progress.open_file(ours, "A7")
        assert ([a.seed for a in one.attempts], one.guesses, one.done) == (
            [1, 2],
            {"01_strength": 4.0},
            ("02_dilution",),
        )
        assert progress.everyone(ours) == ([one], [])
        progress.finished(ours, "A7", "02_dilution")  # now hers has all of it, and nothing counts twice


def test_a_table_brought_to_another_bar_says_what_is_other_there_and_loses_no_allergen(tmp_path):
    here = bar(tmp_path / "a", 20, 300, allergens="milk")
    logbook.save(drink(here), here)
    _, table = logbook.export(logbook.entries(here).entries, here)
    assert logbook.bring(table, here).problems == ()
    there = bar(tmp_path / "b", 40, 100)
    paths, (problem,) = logbook.bring(table, there)
    assert not paths
    assert "row 2: contains is 'milk'" in problem
    also = bar(tmp_path / "c", 40, 100, allergens="milk")
    paths, problems = logbook.bring(table, also)
    assert len(paths) == 1
    assert any("Served strength [% vol] is 22.88 in the table and 27.64 here." in one for one in problems)


def test_a_table_that_somebody_has_written_in_stays_readable(tmp_path):
    here = bar(tmp_path / "a", 20, 300)
    logbook.save(drink(here), here)
    _, table = logbook.export(logbook.entries(here).entries, here)
    rows = list(csv.DictReader(io.StringIO(table.read_text("utf-8-sig"))))
    figure = next(name for name in rows[0] if name.startswith("abv ["))
    for typed, said in (("", 0), ("about 20", 0), ("22.88", 0), ("25", 1)):
        rows[0][figure] = typed
        held = io.StringIO()
        made = csv.DictWriter(held, list(rows[0]))
        made.writeheader()
        made.writerows(rows)
        (here / "t.csv").write_text(held.getvalue(), "utf-8")
        paths, problems = logbook.bring(here / "t.csv", here)
        assert (len(paths), len(problems)) == (1, said)


def test_a_page_made_of_a_saved_trial_says_what_is_other_now(tmp_path, capsys):
    here = bar(tmp_path / "a", 20, 300)
    path = logbook.save(drink(here), here)
    assert launch.main(["share", str(here), "--try", path.name]) == 0
    assert "when saved" not in capsys.readouterr().out
    bar(here, 40, 300)
    assert launch.main(["share", str(here), "--try", path.name]) == 0
    assert "had strength 20 % vol when saved and has 40 % vol now" in capsys.readouterr().out


def test_a_backup_of_what_cannot_be_read_does_not_say_that_there_is_nothing(tmp_path):
    (tmp_path / "my_ingredients.csv").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InputError, match="a link"):
        logbook.back_up(tmp_path, [])


def test_own_bottles_whose_names_differ_by_a_dot_are_refused(tmp_path):
    own.write(tmp_path, own.row("plum shrub", "syrup", 0, 300, acid=9, allergens="milk"))
    before = (tmp_path / "my_ingredients.csv").read_bytes()
    for name in ("plum shrub.", "Plum  Shrub …", "plum shrub!"):
        for replace in (False, True):
            with pytest.raises(InputError, match="'plum shrub' is there"):
                own.write(tmp_path, own.row(name, "syrup", 0, 300, acid=9, allergens="none"), replace=replace)
    assert (tmp_path / "my_ingredients.csv").read_bytes() == before
    own.write(tmp_path, own.row("plum shrub no. 2", "syrup", 0, 300, acid=9, allergens="none"))


def test_an_own_bottle_answers_without_its_accents(tmp_path):
    own.write(tmp_path, own.row("crème de cacao", "liqueur", 20, 300, acid=1, allergens="milk"))
    shelf = measured.shelf(tmp_path)
    for name in ("crème de cacao", "creme de cacao", "Creme de Cacao, 24 %"):
        assert shelf.find(name).allergens == ("milk",)  # the trade's word of this name brings none
    assert shelf.find("creme de cacao, white").id == "creme_de_cacao_white"
    own.write(tmp_path, own.row("creme de cacao", "liqueur", 20, 200, acid=1, allergens="none"))
    own.write(tmp_path, own.row("crème 7", "liqueur", 20, 200, acid=1, allergens="none"))
    shelf = measured.shelf(tmp_path)
    assert (shelf.find("creme de cacao").sugar, shelf.find("crème de cacao").sugar) == (200, 300)
    assert shelf.find("creme 7").name == "crème 7"


# --- the command ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "given",
    [
        ["share", "~no-such-user-here"],
        ["share", ".", "--try", "~no-such-user-here"],
        ["share", ""],
        ["share", " "],
        [""],
        ["--folder", ""],
    ],
)
def test_a_place_that_means_nothing_is_one_sentence(given, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert launch.main([*given, *["--no-browser"] * (given[0] != "share")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("drinklab: ")
    assert said.count("\n") == 1
    assert not os.listdir(tmp_path)


def test_python_without_texts_is_one_sentence(tmp_path):
    asked = [sys.executable, "-OO", "-m", "drinklab.workbook.launch", str(tmp_path / "bench"), "--no-browser"]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert (
        done.stderr
        == "drinklab: PYTHONOPTIMIZE is 2; it must be at most 1: JupyterLab does not start without its texts.\n"
    )
    assert not (tmp_path / "bench").exists()


# --- the page that leads into the workbook --------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt", reason="who may write is told by other means there")
def test_no_page_is_opened_from_where_others_could_put_another_in_its_place(tmp_path, monkeypatch):
    monkeypatch.setattr(way_in, "_others_see", lambda: True)
    monkeypatch.delenv("BROWSER", raising=False)
    home = tmp_path / "home"
    bench = home / "bar" / "bench"
    kept = bench / ".drinklab"
    kept.mkdir(parents=True)
    monkeypatch.setattr(way_in.Path, "home", lambda: home)
    for folder in (home, home / "bar", bench, kept):
        folder.chmod(0o755)
    assert way_in.address(URL, bench, kept) == (kept / "open.htm").as_uri()
    for shared in (kept, bench, home / "bar"):  # whoever may write in one of them renames what is below
        for mode in (0o775, 0o777):
            shared.chmod(mode)
            told = way_in.address(URL, bench, kept)
            assert told.startswith((home / "drinklab-").as_uri())
        shared.chmod(0o755)
    home.chmod(0o777)
    assert way_in.address(URL, bench, kept) is None
    home.chmod(0o1777)  # as /tmp: nobody renames what is another's there
    assert way_in.address(URL, bench, kept) == (kept / "open.htm").as_uri()
