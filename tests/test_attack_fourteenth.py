"""A fourteenth attack: what a notebook of another hand brings with it, and what a folder of one's own goes through.

Each test failed before it was mended.
"""

from __future__ import annotations

import json
import os
import urllib.request
import zipfile

import nbformat
import pytest
from nbformat import v4

from drinklab import logbook, trial
from drinklab.recipe import Recipe
from drinklab.workbook import server

WIDGETS = "application/vnd.jupyter.widget-state+json"


def _asked(started, method, path, data=None):
    request = urllib.request.Request(
        started.page + path,
        None if data is None else json.dumps(data).encode(),
        {"Authorization": f"token {started.token}"},
        method=method,
    )
    with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=30) as answer:
        return json.loads(answer.read())


def test_widgets_of_a_stranger_do_not_reach_the_page_and_stay_in_the_file(start, environment, home):
    bar = home / "bar"
    bar.mkdir()
    held = {WIDGETS: {"version_major": 2, "version_minor": 0, "state": {}}, "other": {}}
    for name, cells in {"code": [v4.new_code_cell("1")], "words": [v4.new_markdown_cell("Hello")]}.items():
        nbformat.write(v4.new_notebook(metadata={"widgets": held}, cells=cells), bar / f"{name}.ipynb")
    with start(bar, "--no-browser", env=environment(home)) as started:
        for name in ("code", "words"):
            for _ in range(2):  # a save of what nobody has run makes it no more ours
                model = _asked(started, "GET", f"api/contents/{name}.ipynb?type=notebook")
                assert WIDGETS not in model["content"]["metadata"]["widgets"]
                sent = {"type": "notebook", "format": "json", "content": model["content"]}
                _asked(started, "PUT", f"api/contents/{name}.ipynb", sent)
                assert nbformat.read(bar / f"{name}.ipynb", 4).metadata.widgets == held
        # Run by the person, in every cell, it is theirs.
        book = _asked(started, "GET", "api/contents/code.ipynb")["content"]
        book["cells"][0]["metadata"]["trusted"] = True
        _asked(started, "PUT", "api/contents/code.ipynb", {"type": "notebook", "format": "json", "content": book})
        model = _asked(started, "GET", "api/contents/code.ipynb")
        assert WIDGETS in model["content"]["metadata"]["widgets"]


def test_widgets_of_an_odd_shape_are_no_failure():
    for odd in (None, [], "x", {}):
        book = v4.new_notebook(cells=[v4.new_code_cell("1")])
        book.metadata["widgets"] = odd
        server.Notary().mark_cells(book, False)
        assert book.metadata["widgets"] == odd


def test_a_page_asks_no_other_computer_for_anything(start, environment, home):
    (home / "bar").mkdir()
    (home / "bar/sent.html").write_text("<img src='https://elsewhere.example/'>")
    with start(home / "bar", "--no-browser", env=environment(home)) as started:
        policies = {}
        for path in ("lab", "files/sent.html", "api/contents"):
            policies[path] = started.ask(path).headers["Content-Security-Policy"].split(", ")
            # CSP3 3.1: each policy of the list counts; 2.2.1: of one name in a policy the first counts.
            first = dict(part.strip().partition(" ")[::2] for part in reversed(policies[path][0].split(";")))
            assert first["default-src"] == "'self' 'unsafe-inline' 'unsafe-eval' data: blob:"
            assert "http" not in policies[path][0]
        assert policies["files/sent.html"][1].endswith("; sandbox allow-scripts")
        assert policies["api/contents"][1].endswith("; default-src 'none'")
        assert all(one[1].startswith("frame-ancestors 'self'") for one in policies.values())


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such bits")
def test_nobody_else_on_this_computer_reads_the_token(start, environment, home):
    """Jupyter left a page with it that anybody could read, in a folder that we had made for all to look into."""
    old = os.umask(0o022)
    try:
        with start(home / "bar", "--no-browser", env=environment(home)) as started:
            assert started.ask("lab").status == 200
            held = [path for path in home.rglob("*") if path.is_file() and started.token.encode() in path.read_bytes()]
            assert held  # the note by which a second start finds this one
            assert [path.name for path in held if path.stat().st_mode & 0o077] == []
            (runtime,) = home.rglob("runtime")
            assert runtime.stat().st_mode & 0o077 == 0
    finally:
        os.umask(old)


# --- backups that go back and forth ------------------------------------------------------------------------------


def _sour(folder, ml):
    drink = Recipe.parse(f"{ml} mL gin, 40 %\n30 mL water", name="Sour", technique="none")
    return logbook.save(trial.run(drink, draws=0), folder)


def _known(folder):
    return sorted((one.title, one.all_notes, one.in_bin) for one in logbook.entries(folder, in_bin=None).entries)


def test_two_bars_that_swap_backups_have_each_trial_once_with_all_that_was_said_of_it(tmp_path):
    """Each came back once more under the name of there, and what the other bar had said stood with that copy alone."""
    here, there = tmp_path / "here", tmp_path / "there"
    _sour(here, 50)
    theirs = _sour(there, 60)
    assert theirs.name == next((here / "trials").glob("*.json")).name
    logbook.record(theirs, logbook.entry(theirs).time, title="Theirs")
    logbook.restore(logbook.back_up(there), here)
    copy = next(one for one in logbook.entries(here).entries if one.title == "Theirs")
    logbook.record(copy.path, copy.time, note="too thin", in_bin=True)
    for giver, taker in ((here, there), (there, here), (here, there)):
        told = logbook.restore(logbook.back_up(giver), taker)
        assert _known(taker) == [("Sour", "", False), ("Theirs", "too thin", True)]
    assert (told.new, told.beside) == ((), ())
    assert logbook.entry(theirs).all_notes == "too thin"
    third = tmp_path / "third"  # which has another of the name, and the trial that is theirs under a third one
    _sour(third, 70)
    logbook.restore(logbook.back_up(here), third)
    logbook.restore(logbook.back_up(there), third)
    assert [one[0] for one in _known(third)] == ["Sour", "Sour", "Theirs"]


def test_a_backup_into_an_empty_folder_keeps_every_name(tmp_path):
    here = tmp_path / "here"
    kept = _sour(here, 50)
    kept.with_name(f"{kept.stem}.restored-2.json").write_bytes(_sour(here, 60).read_bytes())
    logbook.restore(logbook.back_up(here), tmp_path / "there")
    for path in (here / "trials").glob("*.json"):
        assert (tmp_path / "there/trials" / path.name).read_bytes() == path.read_bytes()


@pytest.mark.parametrize("seconds", [0.0, 6e9])  # 1970, as a computer without a battery has it; 2160
def test_a_clock_far_off_keeps_no_backup_from_being_made(tmp_path, monkeypatch, seconds):
    """A zip knows no year before 1980, nor after 2107 (APPNOTE 4.4.6, MS-DOS time; from memory)."""
    _sour(tmp_path / "here", 50)
    monkeypatch.setattr("time.time", lambda: seconds)
    made = logbook.back_up(tmp_path / "here")
    monkeypatch.undo()
    with zipfile.ZipFile(made) as held:  # the upper half is the mode of POSIX (APPNOTE 4.4.15; from memory)
        assert {about.external_attr >> 16 for about in held.infolist()} == {0o600}
    assert len(logbook.restore(made, tmp_path / "there").new) == 1


def test_a_link_does_not_keep_a_backup_from_being_made(tmp_path):
    _sour(tmp_path / "here", 50)
    (tmp_path / "here/my_prices.csv").symlink_to(tmp_path / "elsewhere.csv")
    with pytest.warns(UserWarning, match="my_prices.csv: file to back up is a link.* It is left out"):
        made = logbook.back_up(tmp_path / "here")
    assert len(logbook.restore(made, tmp_path / "there").new) == 1


# --- files that are renamed by hand ------------------------------------------------------------------------------


def test_a_trial_that_was_renamed_by_hand_keeps_what_was_said_of_it(tmp_path):
    """JupyterLab's list of files renames at a key; title, notes, photographs and the bin were gone with the name."""
    path, other = _sour(tmp_path, 50), _sour(tmp_path, 60)
    for one, note in ((path, "too thin"), (other, "fine")):
        logbook.record(one, logbook.entry(one).time, title=note.title(), note=note, in_bin=one == path)
    mine = path.rename(path.with_name("my best sour.json"))
    logbook.record(mine, logbook.entry(mine).time, note="again")
    seen = {one.path.name: one for one in logbook.entries(tmp_path, in_bin=None).entries}
    for one in (seen[mine.name], logbook.entry(mine)):
        assert (one.title, one.all_notes, one.in_bin) == ("Too Thin", "too thin\nagain", True)
    assert (seen[other.name].title, seen[other.name].all_notes) == ("Fine", "fine")
    # A copy is no other name: what is said of the first, which is there, is of the first alone.
    copy = other.with_name("copy.json")
    copy.write_bytes(other.read_bytes())
    assert logbook.entry(copy).title == "Sour"
    assert logbook.entry(other).title == "Fine"


def test_what_an_editor_saved_with_a_mark_of_its_letters_is_read(tmp_path):
    """RFC 8259, section 8.1: a parser may ignore it. Nobody sees it, so what was refused looked as it should."""
    path = _sour(tmp_path, 50)
    chosen = logbook.save_choices(tmp_path, volume="oz")
    for file in (path, chosen):
        file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    assert logbook.choices(tmp_path)["volume"] == "oz"
    assert logbook.entries(tmp_path).problems == ()
    logbook.save_choices(tmp_path, tool="jigger")
    assert logbook.choices(tmp_path)["volume"] == "oz"
    assert list(tmp_path.glob("my_choices.damaged*")) == []
