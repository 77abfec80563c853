"""A twelfth attack: two persons who start at once, cards for guests, kept files, logs and photographs."""

from __future__ import annotations

import io
import socket
import struct
import subprocess
import sys
import threading
import zipfile
import zlib
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from drinklab import cards, files, logbook, menu, pantry, service, tasting, trial
from drinklab.carbonation import Carbonate
from drinklab.errors import InputError
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.share.serving import Sharing
from drinklab.workbook import launch
from drinklab.workbook.panels import filtering
from drinklab.workbook.parts import tasting_words, written

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
        (hot, "Served hot."), (replace(strong, beside=(hot,)), "What goes beside it is served hot."),
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


# --- what is saved ---------------------------------------------------------------------------------------------------


def _saved(bar: Path) -> logbook.Entry:
    return logbook.entry(logbook.save(trial.run(Recipe.parse(SOUR), pantry=SHELF, draws=0), bar))


def test_what_is_said_last_counts_where_another_clock_is_ahead(tmp_path):
    """A computer of a shared folder whose clock was a day ahead put a trial into the bin: it came out no more."""
    one = _saved(tmp_path)
    ahead = datetime.now().astimezone() + timedelta(days=1)
    logbook.records.write(one.path, one.time, in_bin=True, title="Theirs", time=ahead)
    assert logbook.entry(one.path).in_bin
    logbook.record(one.path, one.time, in_bin=False)
    logbook.record(one.path, one.time, title="Ours")
    assert not logbook.entry(one.path).in_bin
    assert [e.title for e in logbook.entries(tmp_path).entries] == ["Ours"]
    for number in range(20):  # also within a thousandth of a second
        logbook.record(one.path, one.time, title=f"Version {number}", in_bin=bool(number % 2))
        assert [e.title for e in logbook.entries(tmp_path, in_bin=bool(number % 2)).entries] == [f"Version {number}"]


def test_two_pages_that_choose_at_once_both_keep_their_choice(tmp_path, monkeypatch):
    """Own ingredients and prices were read and written by one at a time; standing choices were not."""
    met, real = threading.Barrier(2), files.write_over

    def late(*given, **how):
        with suppress(threading.BrokenBarrierError):
            met.wait(0.5)  # both have read by now, if both may
        return real(*given, **how)

    monkeypatch.setattr(files, "write_over", late)
    with ThreadPoolExecutor(2) as pool:
        asked = {"volume": "oz"}, {"tool": "scale"}
        [*pool.map(lambda choice: logbook.save_choices(tmp_path, **choice), asked)]
    assert {"volume": "oz", "tool": "scale"}.items() <= logbook.choices(tmp_path).items()


def test_no_half_notebook_stays_in_the_working_folder(tmp_path, monkeypatch):
    """After a full disk half of the start page stayed, and the whole one was put beside it as if that were theirs."""
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "data"))
    bar = tmp_path / "bar"
    code = (
        "import resource, signal, sys; from drinklab.workbook import launch\n"
        "bar = launch.working_folder(sys.argv[1])\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"  # a write beyond it fails, as on a full disk
        "launch.copy_notebooks(bar)"
    )
    assert (
        b"one that can be written to" in subprocess.run([sys.executable, "-c", code, bar], capture_output=True).stderr
    )
    assert list(bar.glob("*.ipynb")) == []
    launch.copy_notebooks(bar)
    assert [path.name for path in bar.glob("*newer*")] == []
    assert (bar / launch.START).read_bytes() == (launch.packaged_notebooks() / launch.START).read_bytes()


def _jpeg(side: int, comment: bytes = b"") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (side, side), "red").save(out, "JPEG", comment=comment)
    return out.getvalue()


@pytest.mark.parametrize("held", [b"\xff\xd8\xff" + bytes(100), _jpeg(900)[:-900], _jpeg(14_000)], ids=len)
def test_a_damaged_or_huge_photograph_in_the_folder_keeps_no_write_up_from_being_written(tmp_path, held):
    """Only its first three bytes were looked at: the decoder's error went past the page that asked."""
    one = _saved(tmp_path)
    kept = logbook.add_photo(one.path, _jpeg(300))
    kept.write_bytes(held)
    now = logbook.load(one.path, pantry=SHELF)
    written.photographs(now, tmp_path, one.path.name)


def test_a_photograph_of_another_hand_brings_nothing_into_a_page_but_its_picture(tmp_path):
    one = _saved(tmp_path)
    logbook.add_photo(one.path, _jpeg(300)).write_bytes(_jpeg(300, b"59.3293 N 18.0686 E"))
    ((held, _),) = written.photographs(logbook.load(one.path, pantry=SHELF), tmp_path, one.path.name)
    assert b"59.3293" not in held


def test_a_picture_of_one_long_row_is_refused_before_it_is_drawn():
    """A PNG of 80 bytes that says 1 × 100,000,000 took 13 s and 1.7 GB."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 100_000_000, 8, 0, 0, 0, 0))
    with pytest.raises(InputError, match="1 x 100000000 pixels"):
        logbook.photos.small(
            b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(2000))) + chunk(b"IEND", b"")
        )


def test_what_was_said_at_two_bars_of_trials_of_one_name_stays_with_each(tmp_path):
    """Both saved a sour on one day, noted and photographed it: of the one that came back beside, none of it was found,
    and its photograph was the other's."""
    pictures = {}
    for name, line in (("here", SOUR), ("there", SOUR.replace("gin", "aged rum"))):
        one = logbook.entry(
            logbook.save(trial.run(Recipe.parse(line, name="Sour"), pantry=SHELF, draws=0), tmp_path / name)
        )
        logbook.record(one.path, one.time, title=f"Sour {name}", note=f"tried {name}")
        pictures[name] = logbook.add_photo(one.path, _jpeg(200 if name == "here" else 300)).read_bytes()
    logbook.restore(logbook.back_up(tmp_path / "there"), tmp_path / "here")
    both, problems = logbook.entries(tmp_path / "here")
    assert not problems
    assert sorted(one.title for one in both) == ["Sour here", "Sour there"]
    for one in both:
        name = one.title.split()[1]
        for told in (one, logbook.entry(one.path)):
            assert (told.title, told.all_notes) == (one.title, f"tried {name}")
            assert [logbook.photo(one.path, photo) for photo in told.photos] == [pictures[name]]
    (theirs,) = (one for one in both if one.title == "Sour there")
    logbook.record(theirs.path, theirs.time, in_bin=True)
    assert [one.title for one in logbook.entries(tmp_path / "here").entries] == ["Sour here"]


def test_what_a_garnish_and_a_method_warn_of_is_not_lost_in_a_table(tmp_path):
    """A table held no garnish, glass, method or serves: brought back, a nut and fire were gone without a word."""
    drink = Recipe.parse(
        SOUR, name="Walnut", technique="shaken", glass="coupe", glass_ice="one cube", garnish="=a candied walnut",
        method="Shake.\nTorch the rim.",
    )  # fmt: skip
    was = trial.run(Setting(drink, serves=4), pantry=SHELF, draws=0)
    logbook.save(was, tmp_path / "here")
    _, table = logbook.export(logbook.entries(tmp_path / "here").entries, tmp_path / "here")
    (path,), problems = logbook.bring(table, tmp_path / "there")
    now = logbook.load(path, pantry=SHELF)
    assert not problems
    assert (now.recipe, now.setting.serves) == (was.recipe, 4)
    assert (now.cautions, now.unstated) == (was.cautions, was.unstated)
    for wrong in ("0", "two", "1.5", "-1"):
        table.write_text(table.read_text("utf-8").replace(",4,coupe", f",{wrong},coupe"), "utf-8")
        assert "serves is" in logbook.bring(table, tmp_path / "there").problems[0]
        table.write_text(table.read_text("utf-8").replace(f",{wrong},coupe", ",4,coupe"), "utf-8")


@pytest.mark.parametrize("host", ["[", "[::1", "localhost:x", "a@b"])
def test_an_odd_host_is_answered_in_a_line(tmp_path, host):
    """Nobody was answered anything where the host could not be taken apart."""
    with Sharing(tmp_path, [], port=0) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        with socket.create_connection(server.server_address) as asked:
            asked.sendall(f"GET / HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
            assert asked.recv(100).startswith(b"HTTP/1.1 421 ")
        server.shutdown()
