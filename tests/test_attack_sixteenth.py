"""What an attack on all that is opened and saved has found, made afresh with the issue's page alone in hand."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
import sys
import threading
import time

import pytest

from drinklab import logbook, measured, next_glass, own, pantry, tables, tasting, trial
from drinklab.cost import prices
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.workbook import way_in
from drinklab.workbook.parts.own_ingredient import Ingredients

SHELF = pantry.load()
LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere no command line shows the address")
URL = "http://127.0.0.1:8790/lab/tree/00_bench.ipynb?reset&token=5ec7e7"


def _run(text: str, name: str) -> trial.Trial:
    return trial.run(Recipe.parse(text, SHELF, name=name, technique="shaken"), pantry=SHELF)


# --- the workbook's address and its token -----------------------------------------------------------------------------


@pytest.fixture
def lone(tmp_path, monkeypatch):
    """A home of its own on a Linux computer that others share."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(way_in, "_others_see", lambda: True)
    monkeypatch.delenv("BROWSER", raising=False)
    kept = tmp_path / "bar/.drinklab"
    kept.mkdir(parents=True)
    return kept.parent, kept


@LINUX
def test_no_command_line_tells_the_token(tmp_path, start, environment):
    """`ps` shows what a program was started with, to every user of a shared computer."""
    recorder, told = tmp_path / "browser.sh", tmp_path / "told"
    recorder.write_text(f'#!/bin/sh\nfor one in "$@"; do echo "$one"; done >> {told}\n')
    recorder.chmod(0o755)
    env = environment(tmp_path, JUPYTER_DATA_DIR=tmp_path / "data", BROWSER=recorder)
    folder = tmp_path / "bar"

    def opened(count: int) -> list[str]:
        until = time.monotonic() + 30
        while time.monotonic() < until:
            if told.exists() and len(lines := told.read_text().splitlines()) >= count:
                return lines
            time.sleep(0.1)
        raise AssertionError("no browser was opened")

    with start(folder, env=env) as first:
        token = first.address.rpartition("token=")[2]
        page = folder / ".drinklab/open.htm"
        assert opened(1) == [page.as_uri()]
        assert stat.S_IMODE(page.stat().st_mode) == 0o600
        assert first.address.replace("&", "&amp;") in page.read_text()
        page.unlink()
        with start(folder, "--notebook", "01_strength", env=env) as second:  # it shows the page of the first
            assert "already running" in second.said
            assert second.process.wait(30) == 0
        assert opened(2) == [page.as_uri()] * 2
        assert stat.S_IMODE(page.stat().st_mode) == 0o600
        assert "01_strength" in page.read_text()
        assert token in page.read_text()
        assert token not in told.read_text()
    assert not page.exists()


def test_the_page_that_leads_in_lies_where_a_browser_of_a_snap_can_read_it(lone, tmp_path):
    """Those see nothing hidden at the top of a home, nor /tmp: what is elsewhere has its page in the home itself."""
    folder, kept = lone
    assert way_in.address(URL, folder, kept) == (kept / "open.htm").as_uri()
    for place in (tmp_path / ".hidden/bar", tmp_path, tmp_path.parent / f"{tmp_path.name} elsewhere"):
        (place / ".drinklab").mkdir(parents=True, exist_ok=True)
        told = way_in.address(URL, place, place / ".drinklab")
        (page,) = tmp_path.glob("drinklab-*-open.htm")
        assert told == page.as_uri()
        assert stat.S_IMODE(page.stat().st_mode) == 0o600
        way_in.forget(place, place / ".drinklab")
        assert not page.exists()


def test_a_disk_that_keeps_nothing_from_others_gets_no_page(lone, monkeypatch, capsys):
    """As a memory stick, on which every file is for all: the address is printed, and no browser is opened."""
    folder, kept = lone
    opened = []
    monkeypatch.setattr(way_in.webbrowser, "open", opened.append)
    monkeypatch.setattr(way_in.stat, "S_IMODE", lambda mode: 0o755)
    assert way_in.open_page(URL, folder, kept) is None
    assert opened == []
    assert capsys.readouterr().out.startswith("Open it in your browser yourself")
    assert [*kept.iterdir(), *folder.parent.glob("*.html"), *folder.parent.glob("*.part")] == []


def test_who_has_no_home_has_the_page_in_the_working_folder(lone, monkeypatch):
    """As in a container that runs under a number without a name."""

    def nobody():
        raise RuntimeError("Could not determine home directory.")

    folder, kept = lone
    monkeypatch.setattr(way_in.Path, "home", nobody)
    assert way_in.address(URL, folder, kept) == (kept / "open.htm").as_uri()
    way_in.forget(folder, kept)
    assert not [*kept.iterdir()]


def test_a_browser_on_another_computer_is_handed_nothing(lone, monkeypatch):
    folder, kept = lone
    monkeypatch.setenv("BROWSER", str(folder / ".vscode-server/bin/0ee08df/bin/helpers/browser.sh"))
    assert way_in.address(URL, folder, kept) is None


@pytest.mark.parametrize("around", ["windows", "mac", "chromebook"])
def test_where_the_browser_runs_outside_it_gets_the_address(tmp_path, monkeypatch, around):
    if around == "windows":
        monkeypatch.setattr(way_in.platform, "release", lambda: "5.15.153.1-microsoft-standard-WSL2")
    elif around == "mac":
        monkeypatch.setattr(way_in.sys, "platform", "darwin")
    else:
        monkeypatch.setattr(way_in.sys, "platform", "linux")
        monkeypatch.setattr(way_in.Path, "exists", lambda path: str(path) == "/dev/.cros_milestone")
    assert way_in.address(URL, tmp_path, tmp_path / ".drinklab") == URL


def test_an_address_is_no_part_of_the_page_that_leads_to_it(lone):
    folder, kept = lone
    way_in.address('http://127.0.0.1:1/"><script>x</script>', folder, kept)
    assert "<script>" not in (kept / "open.htm").read_text()


# --- two folders that come together -----------------------------------------------------------------------------------


def _tasting(folder, titles: str, spirit: str, liked: int, *, answered: bool = True):
    pair = [
        logbook.save(_run(f"{ml} mL {spirit}\n20 mL lemon juice", drink), folder, title=f"{drink} {titles}")
        for ml, drink in ((45, "Sour"), (60, "Stronger"))
    ]
    a, b = (
        tasting.sample(logbook.load(path), path.stem, path.name, logbook.entry(path).time.isoformat()) for path in pair
    )
    plan = tasting.plan([tasting.Taster("Ada")], tasting.SCALES, samples=(a, b))
    one = tasting.prepare(plan, a, b, tasting.portion(a, b, tasting.SCALES), scales=["liking"])
    given = {s.taster: {c: (liked if s.drink(c) == "A" else 5,) for c in s.codes} for s in one.servings}
    return (tasting.answered(one, given) if answered else one), given


def test_answers_that_come_after_two_folders_joined_go_to_the_trial_that_was_tasted(tmp_path):
    """They were said of whatever had the file's name here: the other bar's sour, which nobody there has tasted."""
    here, there = tmp_path / "here", tmp_path / "there"
    for text in ("45 mL gin\n20 mL lemon juice", "60 mL gin\n20 mL lemon juice"):
        logbook.save(_run(text, "Sour" if text.startswith("45") else "Stronger"), here, title="here")
    one, given = _tasting(there, "there", "aged rum", 9, answered=False)
    tasting.save(one, there)
    logbook.restore(logbook.back_up(there), here)
    ((_, waiting),), problems = tasting.entries(here)
    assert problems == ()
    done = tasting.answered(waiting, given)
    file = tasting.save(done, here)[0]
    said = tasting.keep_with_trials(done, here, file.name)
    assert all(".restored-" in name for name in said)
    tasted = {one.title: bool(one.tastings) for one in logbook.entries(here).entries}
    assert tasted == {"here": False, "Sour there": True, "Stronger there": True}
    found = next_glass.from_logbook(here)
    assert {glass.name: dict(glass.scores) for glass in found.glasses if glass.scores} == {
        "Sour there": {"Ada": 9}, "Stronger there": {"Ada": 5},
    }  # fmt: skip


def test_a_tasting_of_a_trial_that_is_gone_is_of_no_other_of_its_name(tmp_path):
    one, _ = _tasting(tmp_path, "first", "gin", 3)
    for path in logbook.entries(tmp_path).entries:
        path.path.unlink()
    for drink in ("Sour", "Stronger"):
        logbook.save(_run("45 mL gin\n20 mL lemon juice", drink), tmp_path)
    file = tasting.save(one, tmp_path)[0]
    assert tasting.keep_with_trials(one, tmp_path, file.name) == ()
    assert not any(glass.scores for glass in next_glass.from_logbook(tmp_path).glasses)


def test_a_tasting_of_an_earlier_drinklab_still_opens_and_finds_its_trials(tmp_path):
    one, _ = _tasting(tmp_path, "first", "gin", 3)
    file = tasting.save(one, tmp_path)[0]
    data = json.loads(file.read_text())
    data["format"] = 2
    del data["tasting"]["trials_saved"]
    file.write_text(json.dumps(data))
    old = tasting.load(file)
    assert (old.trials, old.trials_saved) == (one.trials, ("", ""))
    assert tasting.keep_with_trials(old, tmp_path, file.name) == one.trials
    assert {glass.name: dict(glass.scores) for glass in next_glass.from_logbook(tmp_path).glasses} == {
        "Sour first": {"Ada": 3}, "Stronger first": {"Ada": 5},
    }  # fmt: skip


@pytest.mark.parametrize("told", [[], 0, None, "x", 5, "0001-01-01T00:00:00+14:00", "2026-01-01", ["2026-01-01"]])
def test_a_time_that_no_trial_has_in_a_tasting_is_a_sentence_or_finds_none(tmp_path, told):
    one, _ = _tasting(tmp_path, "first", "gin", 3)
    file = tasting.save(one, tmp_path)[0]
    data = json.loads(file.read_text())
    data["tasting"]["trials_saved"] = [told, told]
    file.write_text(json.dumps(data))
    found, problems = tasting.entries(tmp_path)
    assert len(found) + len(problems) == 1
    assert [tasting.keep_with_trials(one, tmp_path, path.name) for path, one in found] in ([], [()])
    assert not any(glass.scores for glass in next_glass.from_logbook(tmp_path).glasses)


# --- a first line that names what stands between cells ----------------------------------------------------------------


@pytest.mark.parametrize("first", ["sep=;\r\n", "\ufeffsep=;\r\n", '"sep=;"\n', "SEP=;\n", "sep=;;;;;\n"])
def test_a_table_that_names_its_delimiter_is_read_and_written_again_as_it_was(tmp_path, first):
    """As a spreadsheet writes it: it was refused as an unknown column."""
    path = tmp_path / pantry.OWN_FILE
    text = f"{first}id;name;kind;abv_percent;sugar_g_l\nhouse_gin;our gin;spirit;47,5;0\n"
    path.write_bytes(text.encode())
    assert pantry.load(tmp_path).find("our gin").abv == 47.5
    own.write(tmp_path, own.row("plum shrub", "syrup", "0", "400.5", acid="12", allergens="none"))
    assert path.read_bytes().decode().startswith(first.replace("\r\n", "\n"))
    assert "400,5" in path.read_text()
    assert pantry.load(tmp_path).find("our gin").abv == 47.5
    path.write_bytes(f"{first}id;name;kind;abv_percent;sugar_g_l\nhouse_gin;our gin;spirit;480;0\n".encode())
    with pytest.raises(InputError, match=r"my_ingredients\.csv, line 3: abv_percent is 480"):
        pantry.load(tmp_path)


def test_a_named_delimiter_counts_whatever_the_header_looks_like():
    assert tables.cells("sep=,\na;b;c,d\n1,2\n", "x.csv") == (",", [(2, ["a;b;c", "d"]), (3, ["1", "2"])])
    assert tables.cells("sep=\t\na\tb\n", "x.csv").delimiter == "\t"
    with pytest.raises(InputError, match=r"^x\.csv, line 1: sep is '\|'; it must be a comma, a semicolon or a tab\.$"):
        tables.cells("sep=|\na|b\n", "x.csv")


def test_prices_and_weighings_of_a_table_that_names_its_delimiter(tmp_path):
    first = "sep=;\n"
    (tmp_path / prices.OWN_FILE).write_text(f"{first}ingredient;price;currency;pack;pack_unit\ngin;16,50;EUR;700;mL\n")
    prices.write(
        tmp_path, {"ingredient": "lemon juice", "price": "3", "currency": "EUR", "pack": "1", "pack_unit": "L"}
    )
    assert (tmp_path / prices.OWN_FILE).read_text().startswith(first)
    assert float(prices.load(tmp_path).of("gin").each) == 16.5
    for value in ("41.6 % vol", "41.2 % vol"):
        measured.add(tmp_path, measured.checked("strength", "gin", value))
        path = tmp_path / measured.OWN_FILE
        if not path.read_text().startswith("sep"):
            rows = csv.reader(io.StringIO(path.read_text()))
            path.write_text(first + tables.written(rows, ";"))
    assert path.read_text().startswith(first)
    assert [one.value for one in measured.load(tmp_path)] == [41.6, 41.2]
    assert not list(tmp_path.glob("*.damaged*"))


# --- what a maker has said --------------------------------------------------------------------------------------------


def test_who_asked_the_maker_can_say_that_it_may_contain_nothing(tmp_path):
    """The name lets fear it, and the form had no way to say otherwise; only the file's column had."""
    form = Ingredients(tmp_path, lambda: pantry.load(tmp_path), lambda _: None, lambda: None)
    form.form.fill()

    def write(asked: bool, instead: bool = False) -> tuple[str, ...]:
        form.name.value, form.kind.value = "house nougat syrup", "syrup"
        form.strength.value, form.sugar.value, form.acid.value = "0", "500", "0"
        form.allergens["none"].value = form.cautions["none"].value = True
        form.asked.value, form.instead.value = asked, instead
        form.write()
        return pantry.load(tmp_path).find("house nougat syrup").may_contain

    feared = write(asked=False)
    assert feared
    assert write(asked=True, instead=True) == ()
    assert form.asked.value is False
    assert write(asked=False, instead=True) == ()  # as it was said once


def test_a_maker_is_asked_in_place_of_what_a_row_let_fear(tmp_path):
    said = {"acid": "0", "allergens": "none"}
    own.write(tmp_path, own.row("orgeat of ours", "syrup", "0", "500", may_contain=["nuts (almond)"], **said))
    assert pantry.load(tmp_path).find("orgeat of ours").may_contain[0] == "nuts (almond)"
    own.write(tmp_path, own.row("orgeat of ours", "syrup", "0", "500", may_contain=["none"], **said), replace=True)
    assert pantry.load(tmp_path).find("orgeat of ours").may_contain == ()
    with pytest.raises(InputError, match="may contain of 'x' is 'none; milk'; it must be none alone"):
        own.row("x", "syrup", "0", "500", may_contain=["none", "milk"], **said)
    with pytest.raises(InputError, match="may contain of 'x'"):
        own.row("x", "syrup", "0", "500", may_contain=["love"], **said)


# --- what a folder holds in place of our files ------------------------------------------------------------------------


@pytest.fixture
def theirs(tmp_path):
    """A person's own file, and a folder in which it can be linked to."""
    (tmp_path / "bar").mkdir()
    (tmp_path / "theirs").write_text('{"key": "of something else"}\n')
    yield tmp_path / "theirs", tmp_path / "bar"
    assert (tmp_path / "theirs").read_text() == '{"key": "of something else"}\n'
    assert [one.name for one in tmp_path.iterdir() if "damaged" in one.name] == []


def test_a_choice_is_not_written_through_a_link_that_somebody_led_elsewhere(theirs):
    """One that unpacked a stranger's folder and chose a unit had another file of theirs moved aside, or added to."""
    held, folder = theirs
    (folder / logbook.CHOICES).symlink_to(held)
    logbook.save_choices(folder, volume="oz")
    assert not (folder / logbook.CHOICES).is_symlink()
    assert json.loads((folder / logbook.CHOICES).read_text()).keys() == set(logbook.choices(folder))
    assert logbook.choices(folder)["volume"] == "oz"


def test_a_choice_is_written_through_a_link_to_choices(tmp_path):
    real = logbook.save_choices(tmp_path / "shared", volume="oz")
    (tmp_path / "bar").mkdir()
    (tmp_path / "bar" / logbook.CHOICES).symlink_to(real)
    logbook.save_choices(tmp_path / "bar", temperature="°F")
    assert (tmp_path / "bar" / logbook.CHOICES).is_symlink()
    assert (logbook.choices(tmp_path / "shared")["volume"], logbook.choices(tmp_path / "shared")["temperature"]) == (
        "oz", "°F",
    )  # fmt: skip


def test_a_weighing_is_not_written_through_a_link_that_somebody_led_elsewhere(theirs):
    held, folder = theirs
    (folder / measured.OWN_FILE).symlink_to(held)
    measured.add(folder, measured.checked("strength", "gin", "41.6 % vol"))
    assert not (folder / measured.OWN_FILE).is_symlink()
    assert [one.value for one in measured.load(folder)] == [41.6]


def test_a_weighing_is_written_through_a_link_to_measurements(tmp_path):
    measured.add(tmp_path / "shared", measured.checked("strength", "gin", "41.6 % vol"))
    (tmp_path / "bar").mkdir()
    (tmp_path / "bar" / measured.OWN_FILE).symlink_to(tmp_path / "shared" / measured.OWN_FILE)
    measured.add(tmp_path / "bar", measured.checked("strength", "gin", "41.2 % vol"))
    assert [one.value for one in measured.load(tmp_path / "shared")] == [41.6, 41.2]


@LINUX
def test_a_backup_comes_back_where_a_pipe_has_the_name_of_a_folder(tmp_path):
    """It waited for ever for somebody to write into the pipe."""
    logbook.save(_run("60 mL gin", "Dry"), tmp_path / "there")
    logbook.save_choices(tmp_path / "there", volume="oz")
    backup = logbook.back_up(tmp_path / "there")
    (tmp_path / "here").mkdir()
    os.mkfifo(tmp_path / "here/trials")
    late = threading.Timer(20, lambda: os.close(os.open(tmp_path / "here/trials", os.O_RDWR | os.O_NONBLOCK)))
    late.start()
    since = time.monotonic()
    restored = logbook.restore(backup, tmp_path / "here")
    late.cancel()
    assert time.monotonic() - since < 10
    assert restored.new == (logbook.CHOICES,)
    assert any("trials" in problem for problem in restored.problems)


def test_what_cannot_be_read_of_what_was_weighed_is_one_sentence(tmp_path):
    (tmp_path / "my_filter_01.json").symlink_to(tmp_path / "nowhere")
    with pytest.raises(
        InputError, match=r"^my_filter_01\.json: own weighings is No such file or directory; it must be"
    ):
        measured.export(measured.of_folder(tmp_path), tmp_path)


def test_a_backup_that_is_gone_is_one_sentence(tmp_path):
    with pytest.raises(
        InputError, match=r"^gone\.zip: backup is 'No such file or directory'; it must be a file that can"
    ):
        logbook.restore(tmp_path / "gone.zip", tmp_path)


@pytest.mark.parametrize("name", ["a" * 300, "shut"])
def test_a_drink_is_put_in_hand_where_nobody_may_look_with_a_sentence(tmp_path, name):
    """Of a folder that may not be looked into, or of a name that no disk has, each page ended in a traceback."""
    folder = tmp_path / name
    if name == "shut":
        if not hasattr(os, "geteuid") or os.geteuid() == 0:
            pytest.skip("a superuser looks everywhere")
        folder.mkdir(mode=0o000)
    with pytest.raises(InputError, match=r"working folder is .* that can be written to"):
        logbook.put_in_hand(folder, _run("60 mL gin", "Dry").setting, SHELF)
