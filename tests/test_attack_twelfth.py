"""A twelfth attack: two persons who start at once, cards for guests, kept files, logs and photographs."""

from __future__ import annotations

import threading
import zipfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack

import pytest

from drinklab import files, logbook
from drinklab.workbook.panels import filtering

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
