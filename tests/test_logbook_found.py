"""The logbook of many trials: found again, told apart, taken elsewhere and back, and never written over."""

from __future__ import annotations

import itertools
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
import zipfile
from dataclasses import replace
from datetime import date, timedelta

import pytest

from drinklab import dilution, filtering, logbook, milk, trial
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from tests.long_run import LONG

STOVE = Setting(
    Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup", name="Late Stove", technique="shaken")
)


def _with(amount, **more):
    pours = [replace(p, amount=amount) if p.ingredient == "lemon_juice" else p for p in STOVE.recipe.pours]
    return replace(STOVE, recipe=replace(STOVE.recipe, pours=tuple(pours)), **more)


@pytest.fixture(scope="module")
def runs():
    """Two versions and another drink, run once."""
    other = Recipe.parse(
        "50 mL gin\n20 mL fino sherry", name="Été clair", technique="stirred", family="stirred spirit-forward"
    )
    return trial.run(STOVE), trial.run(_with(15.0)), trial.run(other)


@pytest.fixture
def log(tmp_path, runs):
    first = logbook.save(runs[0], tmp_path, title="First of May", note="too sharp")
    second = logbook.save(runs[1], tmp_path, title="Second of May", came_from=first.name)
    third = logbook.save(runs[2], tmp_path, note="for the terrace")
    return tmp_path, first, second, third


def _titles(found):
    return [one.title for one in found]


# --- found again ---------------------------------------------------------------------------------------------


def test_a_trial_is_found_by_words_family_day_and_figures(log):
    folder, *_ = log
    all_of_them = logbook.entries(folder)[0]
    find = lambda *words, **more: _titles(logbook.find(all_of_them, *words, **more))  # noqa: E731
    assert find("sharp") == ["First of May"]
    assert find("ete CLAIR") == find("fino") == find("terrace") == ["Été clair"]
    assert find("honey may") == ["Second of May", "First of May"]
    assert find("honey fino") == []
    assert find(family="stirred spirit-forward") == ["Été clair"]
    today = date.today()
    assert len(find(since=today, until=today)) == 3
    assert find(until=today - timedelta(days=2)) == find(since=today + timedelta(days=2)) == []
    by_name = {one.title: one.figures for one in all_of_them}
    assert find(near={"acid": by_name["First of May"]["acid"]})[0] == "First of May"
    assert find(near={"abv": 40.0})[0] == "Été clair"
    with pytest.raises(InputError, match="figure is 'ph'"):
        logbook.find(all_of_them, near={"ph": 3})


def test_what_a_line_shows_is_what_the_trial_gave(log, runs):
    folder, first, *_ = log
    (line,) = logbook.find(logbook.entries(folder)[0], "sharp")
    served = runs[0].served
    assert line.figures["abv"] == served.profile.abv
    assert (line.low["acid"], line.high["acid"]) == (served.low.acid, served.high.acid)
    assert line.ingredients == tuple(runs[0].pantry[p.ingredient].name for p in STOVE.recipe.pours)
    assert line == logbook.entry(first)


def test_a_changed_file_is_read_anew_and_an_unchanged_one_is_not(log, monkeypatch):
    folder, first, *_ = log
    logbook.entries(folder)
    read = []
    monkeypatch.setattr(logbook.listing, "read_json", lambda path, what: read.append(path) or {})
    logbook.entries(folder)
    assert not read
    monkeypatch.undo()
    first.write_text(first.read_text().replace("First of May", "First of Mai"))
    assert "First of Mai" in _titles(logbook.entries(folder)[0])


# --- said later ------------------------------------------------------------------------------------------------


def test_what_is_said_later_is_a_new_file_and_the_trial_stays(log):
    _, first, *_ = log
    before, saved = first.read_bytes(), logbook.entry(first).time
    logbook.record(first, saved, title="The one we poured")
    logbook.record(first, saved, note="still too sharp for two of us")
    line = logbook.entry(first)
    assert first.read_bytes() == before
    assert (line.title, line.all_notes) == ("The one we poured", "too sharp\nstill too sharp for two of us")
    opened = logbook.open_saved(first)
    assert (opened.title, opened.note, opened.came_from) == (line.title, line.all_notes, first.name)
    with pytest.raises(InputError, match="a title or a note"):
        logbook.record(first, saved, title="  ")


def test_the_bin_hides_and_gives_back(log):
    folder, first, *_ = log
    saved = logbook.entry(first).time
    logbook.record(first, saved, in_bin=True)
    assert "First of May" not in _titles(logbook.entries(folder)[0])
    assert _titles(logbook.entries(folder, in_bin=True)[0]) == ["First of May"]
    assert first.exists()
    logbook.record(first, saved, in_bin=False)
    assert "First of May" in _titles(logbook.entries(folder)[0])
    assert logbook.entries(folder, in_bin=True)[0] == ()


def test_what_was_said_of_a_trial_is_not_said_of_the_next_of_its_name(log, runs):
    folder, *_, third = log
    logbook.record(third, logbook.entry(third).time, title="Gone", in_bin=True)
    third.unlink()
    again = logbook.save(runs[2], folder)
    assert again == third
    assert logbook.entry(again).title == "Été clair"
    assert again in [one.path for one in logbook.entries(folder)[0]]


@pytest.mark.parametrize(
    "damage",
    ["{", '{"format": 9, "of": "x"}', '{"format": 1}', '{"format": 1, "of": 3, "saved": "now", "time": "now"}', "[]"],
)
def test_a_damaged_record_is_one_sentence_and_the_trials_stay(log, damage):
    folder, first, *_ = log
    path = logbook.record(first, logbook.entry(first).time, note="fine")
    path.write_text(damage)
    found, problems = logbook.entries(folder)
    assert len(found) == 3
    (said,) = problems
    assert path.name in said


# --- versions ----------------------------------------------------------------------------------------------------


def test_versions_of_one_drink_are_told_apart_by_what_changed():
    washed = _with(20.0, steps=(milk.MilkWash(), filtering.Filter()), serves=4)
    assert logbook.changes(STOVE, STOVE) == ()
    assert logbook.changes(replace(STOVE, draws=10, country="Ireland"), STOVE) == ()
    (one,) = logbook.changes(_with(25.0), STOVE)
    assert (one.code, one.what, one.was, one.now) == ("poured", "lemon_juice", 20.0, 25.0)
    assert [(c.code, c.what) for c in logbook.changes(washed, STOVE)] == [
        ("step added", "milk-washed"), ("step added", "filtered"), ("serves", ""),
    ]  # fmt: skip
    assert [c.code for c in logbook.changes(STOVE, washed)][:2] == ["step left out"] * 2
    weaker = replace(washed, steps=(milk.MilkWash(milk=0.5), filtering.Filter()))
    assert [(c.code, c.what) for c in logbook.changes(weaker, washed)] == [("step changed", "milk-washed")]
    iced = replace(STOVE, ice=dilution.OwnIce(150))
    assert [c.code for c in logbook.changes(iced, STOVE)] == ["ice"]
    beside = replace(STOVE, beside=(_with(15.0),))
    assert [(c.code, c.what) for c in logbook.changes(beside, STOVE)] == [("beside added", "Late Stove")]
    strong = Setting(Recipe.parse("45 mL aged rum, 40 %\n20 mL lemon juice\n20 mL honey syrup", technique="shaken"))
    (one,) = logbook.changes(strong, STOVE)
    assert (one.code, one.what, one.was, one.now) == ("strength", "rum_aged", 50.0, 40.0)


def test_the_line_of_a_drink(log, runs):
    folder, first, second, third = log
    fourth = logbook.save(runs[0], folder, title="back to 20", came_from=second.name)
    logbook.save(runs[0], folder, title="another way", came_from=first.name)
    among = logbook.entries(folder)[0]
    told = [(depth, one.title) for depth, one in logbook.line_of(among, fourth)]
    assert told == [(0, "First of May"), (1, "Second of May"), (2, "back to 20"), (1, "another way")]
    assert [one.title for _, one in logbook.line_of(among, third)] == ["Été clair"]
    without = [one for one in among if one.path != first]
    assert [(d, one.title) for d, one in logbook.line_of(without, fourth)] == [(0, "Second of May"), (1, "back to 20")]


def test_a_line_that_bites_its_tail_ends(log):
    folder, first, second, _ = log
    data = json.loads(first.read_text())
    first.write_text(json.dumps(data | {"came_from": second.name}))
    assert len(logbook.line_of(logbook.entries(folder)[0], first)) == 2


def test_where_a_drink_came_from_goes_through_the_hand(log):
    folder, first, *_ = log
    opened = logbook.open_saved(first)
    logbook.put_in_hand(folder, _with(18.0), opened.pantry, title="third", came_from=opened.came_from)
    held = logbook.in_hand(folder)
    assert held.came_from == first.name
    assert logbook.entry(logbook.set_aside(folder, held)).came_from == first.name


# --- elsewhere and back ----------------------------------------------------------------------------------------


def test_a_backup_brings_all_of_it_back(log, tmp_path_factory):
    folder, first, *_ = log
    logbook.record(first, logbook.entry(first).time, title="Poured")
    logbook.save_choices(folder, volume="oz")
    (folder / "00_bench.ipynb").write_text("{}")
    os.symlink("/etc/hostname", folder / "trials" / "elsewhere.json")
    left_out: list[str] = []
    packed, empty = logbook.back_up(folder, left_out), tmp_path_factory.mktemp("empty")
    assert ["elsewhere.json" in said for said in left_out] == [True]
    with zipfile.ZipFile(packed) as kept:
        assert not [n for n in kept.namelist() if "elsewhere" in n or "ipynb" in n]
        assert len(kept.namelist()) == 3 + 1 + 1
    told = logbook.restore(packed, empty)
    assert (len(told.new), told.same, told.beside, told.problems) == (5, 0, (), ())
    assert _titles(logbook.entries(empty)[0]) == _titles(logbook.entries(folder)[0])
    assert logbook.choices(empty)["volume"] == "oz"
    again = logbook.restore(packed, empty)
    assert (again.new, again.same, again.beside) == ((), 5, ())
    with pytest.raises(InputError, match="something saved"):
        logbook.back_up(tmp_path_factory.mktemp("bare"))


def test_a_restore_writes_over_nothing(log):
    folder, *_ = log
    logbook.save_choices(folder, volume="oz")
    packed = logbook.back_up(folder, [])
    logbook.save_choices(folder, volume="mL")
    told = logbook.restore(packed, folder)
    assert told.beside == ("my_choices.restored-1.json",)
    assert logbook.choices(folder)["volume"] == "mL"


def test_a_strangers_backup_leads_nowhere_else(tmp_path):
    packed, home = tmp_path / "theirs.zip", tmp_path / "home"
    names = ["../out.json", "/tmp/out.json", "trials/../../out.json", "drinklab.py", "trials/x.py", "00_bench.ipynb",
             "trials\\..\\out.json", "trials/.hidden.json", "deep/trials/x.json", "trials/a\x0bb.json", "./x.json"]  # fmt: skip
    with zipfile.ZipFile(packed, "w") as made:
        for name in names:
            made.writestr(name, "{}")
        made.writestr("trials/fine.json", "{}")
    told = logbook.restore(packed, home)
    assert told.new == ("fine.json",)
    assert len(told.problems) == len(names)
    assert sorted(p.name for p in tmp_path.rglob("*.*")) == ["fine.json", "theirs.zip"]
    for held in (b"", b"PK\x03\x04 nothing", packed.read_bytes()[:-30]):
        packed.write_bytes(held)
        with pytest.raises(InputError, match=r"theirs\.zip: backup is damaged"):
            logbook.restore(packed, home)


def test_a_backup_that_would_fill_the_disk_is_refused(tmp_path, monkeypatch):
    packed = tmp_path / "large.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made:
        for number in range(3):
            made.writestr(f"trials/{number}.json", b"0" * 1_000_000)
    monkeypatch.setattr(logbook.moving, "_MOST_BYTES", 2_000_000)
    with pytest.raises(InputError, match="backup is of 3 files"):
        logbook.restore(packed, tmp_path)


def test_trials_go_out_and_come_in_whole(log, tmp_path_factory):
    folder, first, *_ = log
    logbook.record(first, logbook.entry(first).time, title="Poured", note="again")
    whole, table = logbook.export(logbook.entries(folder)[0], folder)
    there = tmp_path_factory.mktemp("there")
    made, problems = logbook.bring(whole, there)
    assert (len(made), problems) == (3, ())
    here, back = ({one.title: one for one in logbook.entries(f)[0]} for f in (folder, there))
    assert here.keys() == back.keys()
    for title, one in here.items():
        assert one.figures == back[title].figures
        assert one.all_notes == back[title].all_notes
        assert logbook.load(one.path) == logbook.load(back[title].path)
    assert back["Second of May"].came_from == back["Poured"].path.name
    made, problems = logbook.bring(table, tmp_path_factory.mktemp("table"))
    assert (len(made), problems) == (3, ())
    assert logbook.load(made[-1]).served.profile.abv == pytest.approx(here["Poured"].figures["abv"], rel=1e-9)


def test_a_table_of_recipes_is_read_or_refused_by_row(tmp_path):
    table = tmp_path / "recipes.csv"
    table.write_text(
        'drink;technique;served;recipe;notes\nNight Fare;stirred;up;"50 mL gin\n20 mL fino sherry";"\'=cold"\n'
        'Oil;shaken;up;"20 mL engine oil";\nFast;flown;up;50 mL gin;\n',
        encoding="utf-8-sig",
    )
    made, problems = logbook.bring(table, tmp_path)
    assert [logbook.entry(p).title for p in made] == ["Night Fare"]
    assert logbook.entry(made[0]).note == "=cold"
    assert len(problems) == 2
    assert all("recipes.csv, row" in said for said in problems)
    table.write_text("name,how\nx,y\n")
    with pytest.raises(InputError, match="columns is 'name, how'"):
        logbook.bring(table, tmp_path)


@pytest.mark.parametrize("held", [b"", b"\xff\xfe", b"[]", b'{"trials": 3}', b'{"trials": [{"trial": {}}]}', b"{}"])
def test_a_file_of_no_trials_is_one_sentence(tmp_path, held):
    path = tmp_path / "given.json"
    path.write_bytes(held)
    try:
        said = logbook.bring(path, tmp_path)[1]
    except InputError as error:
        said = (str(error),)
    assert len(said) == 1
    assert said[0].startswith("given.json")
    assert not (tmp_path / "trials").exists()


# --- many, and several at once --------------------------------------------------------------------------------

SAVER = """
import sys
from drinklab import logbook, trial
from drinklab.recipe import Recipe
one = trial.run(Recipe.parse("45 mL gin\\n20 mL fino sherry", name=sys.argv[2]), draws=0)
for number in range(int(sys.argv[3])):
    path = logbook.save(one, sys.argv[1], title=f"{sys.argv[2]} {number}")
    if number % 2:
        logbook.record(path, logbook.entry(path).time, note=f"{sys.argv[2]} note {number}")
    print(path.name, flush=True)
"""


def _saver(folder, name, count):
    return subprocess.Popen(
        [sys.executable, "-c", SAVER, str(folder), name, str(count)], stdout=subprocess.PIPE, text=True
    )


def test_two_savers_and_a_reader_lose_and_mix_nothing(tmp_path):
    count = 500 if LONG else 40
    savers = [_saver(tmp_path, name, count) for name in ("Late Stove", "Night Fare")]
    seen, done = [], threading.Event()

    def read():
        while not done.is_set():
            seen.append(logbook.entries(tmp_path))

    reader = threading.Thread(target=read)
    reader.start()
    told = [saver.communicate(timeout=600)[0].split() for saver in savers]
    done.set()
    reader.join()
    assert not [problem for _, problems in seen for problem in problems]
    found, problems = logbook.entries(tmp_path)
    assert problems == ()
    assert len(found) == 2 * count
    assert sorted(itertools.chain(*told)) == sorted(one.path.name for one in found)
    for one in found:
        assert one.title.startswith(one.drink)
        assert all(note.startswith(one.drink) for _, note in one.notes)
        assert len(one.notes) == int(one.title.split()[-1]) % 2


def test_what_was_acknowledged_before_a_kill_opens(tmp_path):
    chance = random.Random(5)
    acknowledged = []
    for number in range(200 if LONG else 4):
        saver = _saver(tmp_path, f"Slow Signal {number}", 10_000)
        acknowledged.append(saver.stdout.readline().strip())
        time.sleep(chance.random() * 0.2)
        saver.send_signal(signal.SIGKILL)
        acknowledged += saver.communicate()[0].split("\n")[:-1]
    found, problems = logbook.entries(tmp_path)
    assert problems == ()
    assert {one.path.name for one in found} >= {name for name in acknowledged if name}


@pytest.mark.skipif(not LONG, reason="ten thousand files")
def test_ten_thousand_trials_are_listed(tmp_path, runs):
    path = logbook.save(runs[0], tmp_path)
    text = path.read_text()
    for number in range(2, 10_001):
        (path.parent / f"2026-01-01_x_{number:05d}.json").write_text(text)
    assert len(logbook.entries(tmp_path)[0]) == 10_000
    assert len(logbook.find(logbook.entries(tmp_path)[0], "honey", near={"abv": 20})) == 10_000
