"""A sixth attack, on what came since the fifth: pages printed, made into notebooks, taken along and handed on."""

import json
import os
import stat
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from drinklab import cards, cost, files, logbook, pantry, service, share, tables, trial, writeup
from drinklab.errors import InputError
from drinklab.measured import entries
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.teach import lessons, paper, progress
from drinklab.workbook.panels import bench, trainer
from drinklab.workbook.panels import logbook as logbook_panel
from drinklab.writeup.facts import WHY
from drinklab.writeup.pdf import browser

# --- a stranger's write-up -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["{title}", "{file}{title}", "a'{title}\"b", "{{title}}"])
def test_no_name_of_a_page_makes_the_drinks_name_code(tmp_path, name):
    """In a page called {title}.html the drink's name was put into a string of the notebook's code."""
    odd = "';raise SystemError('ran')#{file}{title}\n# {title}"
    page = tmp_path / f"{name}.html"
    page.write_text(writeup.html(trial.run(Recipe.parse("60 mL gin, 40 %", name=odd), draws=0)), encoding="utf-8")
    cells = json.loads(writeup.notebook(page).read_text(encoding="utf-8"))["cells"]
    code = next(cell["source"] for cell in cells if cell["cell_type"] == "code")
    line = next(line for line in code.splitlines() if line.startswith("page = "))
    names = {}
    exec(line, names)
    assert names["page"] == page.name


def test_a_drinks_name_is_plain_text_in_a_notebook(tmp_path):
    odd = "!\\[seen](http\u200b://x) <img src=x> $\\href{javascript:alert(1)}{x}$ `a` http://x.example"
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name=odd), draws=0), tmp_path)
    title = json.loads(writeup.notebook(page).read_text(encoding="utf-8"))["cells"][0]["source"].splitlines()[0]
    for words in ("\\$\\\\href", "\\<img", "\\`a\\`", "!\\\\\\[seen]", "http\\://x.example"):
        assert words in title


def _prints(tmp_path, monkeypatch):
    """A browser that gives back the page which it was to print."""
    if sys.platform == "win32":
        pytest.skip("a shell's script")
    program = tmp_path / "browser"
    program.write_text(
        '#!/bin/sh\nfor a; do case "$a" in --print-to-pdf=*) out="${a#--print-to-pdf=}";; file://*) page="${a#file://}";; '
        'esac; done\n{ printf "%%PDF"; cat "$page"; printf "%%%%EOF"; } > "$out"\n'
    )
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(sys.modules["drinklab.writeup.pdf"], "browser", lambda: str(program))


def test_a_page_is_printed_under_a_policy_of_ours(tmp_path, monkeypatch):
    """Printed from disk, a stranger's page could take any file of the person's into the PDF."""
    _prints(tmp_path, monkeypatch)
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name="<meta> http-equiv"), draws=0), tmp_path)
    held = writeup.pdf(page).read_bytes()
    begin = b'%PDF\xef\xbb\xbf<!doctype html><meta http-equiv="Content-Security-Policy" content="default-src \'none\';'
    assert held.startswith(begin)
    assert b"script-src" not in held[:300]


@pytest.mark.parametrize(
    "more",
    [
        '<meta http-equiv="refresh" content="0;url=file:///etc/passwd">',
        '<META/http-equiv=refresh content="0;url=file:///etc/passwd">',
        '<meta name="x" http-equiv="refresh" content="0;url=file:///etc/passwd">',
        '<meta name="a <meta charset="utf-8">',
        '<meta charset="iso-2022-jp">',
    ],
)
def test_a_page_that_goes_on_to_another_is_not_printed(tmp_path, monkeypatch, more):
    _prints(tmp_path, monkeypatch)
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %"), draws=0), tmp_path)
    text = page.read_text(encoding="utf-8")
    page.write_text(text.replace("<title>", f"{more}<title>", 1), encoding="utf-8")
    with pytest.raises(InputError, match="page to print is another's, or damaged"):
        writeup.pdf(page)
    page.write_text("any text", encoding="utf-8")
    with pytest.raises(InputError, match="page to print is another's, or damaged"):
        writeup.pdf(page)


@pytest.mark.skipif(browser() is None, reason="no browser of the Chromium family")
def test_no_file_of_the_persons_comes_into_a_strangers_pdf(tmp_path):
    import pypdf

    secret = tmp_path / "letter.txt"
    secret.write_text("HIDDENLETTER")
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name="Salt"), draws=0), tmp_path)
    text = page.read_text(encoding="utf-8")
    policy = text.index('<meta http-equiv="Content-Security-Policy"')
    text = text[:policy] + text[text.index(">", policy) + 1 :]
    address = secret.as_uri()
    text = text.replace(
        "<body>",
        f'<body><iframe src="{address}"></iframe><object data="{address}"></object><embed src="{address}">'
        f'<script>document.body.prepend("SCRIPTRAN");location="{address}"</script>',
        1,
    )
    page.write_text(text, encoding="utf-8")
    said = " ".join(one.extract_text() for one in pypdf.PdfReader(writeup.pdf(page)).pages)
    assert ("Salt" in said, "HIDDENLETTER" in said, "SCRIPTRAN" in said) == (True, False, False)


# --- odd things in a working folder -----------------------------------------------------------------------------------


def test_a_write_up_that_leads_nowhere_does_not_keep_the_bench_from_opening(tmp_path):
    (tmp_path / "writeups").mkdir()
    (tmp_path / "writeups" / "gone.html").symlink_to(tmp_path / "nothing.html")
    (tmp_path / "writeups" / "folder.html").mkdir()
    published = bench.panel(tmp_path).published
    published.made.selected_index = 0
    assert published.page.options == ()


def test_nor_does_a_file_in_place_of_their_folder(tmp_path):
    (tmp_path / "writeups").write_text("mine")
    published = bench.panel(tmp_path).published
    published.made.selected_index = 0
    assert "folder of write-ups is" in published.said.value
    assert (tmp_path / "writeups").read_text() == "mine"


def test_no_odd_name_of_a_file_is_taken_for_a_learner(tmp_path):
    """Nothing would be kept under it, and the file of the learner who was here would not be opened."""
    progress.attempted(tmp_path, "A7", "let_down", seed=1, typed="1", word="too much")
    os.utime(tmp_path / "learners" / "a7.json", (1, 1))
    for name in ("a b.json", "<b>.json", "x" * 60 + ".json"):
        (tmp_path / "learners" / name).write_text("{}")
    (tmp_path / "learners" / "z9.json").mkdir()
    assert progress.last(tmp_path) == "a7"


@pytest.mark.parametrize("held", ["My own notes.\n", '{"notes": "mine"}', "", b"\xff\xfe"])
def test_a_drink_in_hand_never_writes_over_what_a_link_leads_to_and_is_none(tmp_path, held):
    home, bar = tmp_path / "home", tmp_path / "bar"
    home.mkdir()
    bar.mkdir()
    held = held if isinstance(held, bytes) else held.encode()
    (home / "notes.json").write_bytes(held)
    (bar / "in_hand.json").symlink_to(home / "notes.json")
    drink = Setting(Recipe.parse("60 mL gin, 40 %"))
    logbook.put_in_hand(bar, drink, pantry.load())
    assert os.listdir(home) == ["notes.json"]
    assert (home / "notes.json").read_bytes() == held
    assert logbook.in_hand(bar).setting.recipe == drink.recipe
    assert os.readlink(bar / "in_hand.damaged-1.json") == str(home / "notes.json")


# --- what is taken along ----------------------------------------------------------------------------------------------


def test_a_backup_holds_what_learners_did(tmp_path):
    here, there = tmp_path / "here", tmp_path / "there"
    progress.attempted(here, "A7", "let_down", seed=1, typed="1", word="too much")
    logbook.restore(logbook.back_up(here), there)
    assert progress.open_file(there, "A7") == progress.open_file(here, "A7")


def test_one_place_that_cannot_be_read_does_not_keep_the_rest_from_a_backup(tmp_path, monkeypatch):
    here, there = tmp_path / "here", tmp_path / "there"
    logbook.save(trial.run(Recipe.parse("60 mL gin, 40 %"), draws=0), here)
    (here / "tastings").write_text("mine")
    (here / "large.csv").write_text("12345")
    monkeypatch.setattr("drinklab.files.MOST", 20_000)
    page = logbook_panel.panel(here)
    page.backup_button.click()
    assert "All that can be read is in" in page.said.value
    assert "folder to back up" in page.said.value
    (packed,) = (here / "backups").glob("*.zip")
    assert len(logbook.restore(packed, there).new) >= 1
    assert [p.name for p in (there / "trials").glob("*.json")] == [p.name for p in (here / "trials").glob("*.json")]


# --- what is typed --------------------------------------------------------------------------------------------------

PRICE = {"ingredient": "gin", "price": "16.50", "currency": "EUR", "pack": "700", "pack_unit": "mL"}


@pytest.mark.parametrize(
    ("column", "typed", "said"),
    [
        ("yield_percent", "0.8", "above 1 %: write 80 for a share of 0.8"),
        ("yield_percent", "1", "above 1 %: write 100 for a share of 1"),
        ("tax_percent", "0.19", "at least 1 %: write 19 for a share of 0.19"),
        ("pack", "0.7", "at least 2 mL: of litres write 0.7 and L"),
        ("pack", "1.000", "1000 or 1.00: it can be read either way"),
    ],
)
def test_a_share_is_no_per_cent_and_a_litre_no_millilitre_in_a_price(tmp_path, column, typed, said):
    """Each was read as it stands: a cost a hundred or a thousand times too high, or a tax that is not there."""
    with pytest.raises(InputError, match=said):
        cost.write(tmp_path, PRICE | {column: typed})
    assert not (tmp_path / cost.OWN_FILE).exists()
    if typed != "1.000":  # which is a plain number in a table
        table = PRICE | {column: typed}
        with pytest.raises(InputError, match=f"line 2: {column}.*{said}"):
            cost.read_text(",".join(table) + "\n" + ",".join(table.values()) + "\n")


def test_a_pack_of_litres_may_have_three_decimals(tmp_path):
    cost.write(tmp_path, PRICE | {"pack": "1.136", "pack_unit": "L"})  # an imperial quart
    assert cost.load(tmp_path).of("gin").pack == pytest.approx(1136)


# --- what a guest is told -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("draws", [0, 1, 20, 1000])
def test_a_guest_card_says_alcohol_free_by_the_upper_end_however_little_was_drawn(draws):
    # 1.2 mL of 40 % in 101 mL: 0.47 % vol; a jigger may pour half as much again. Germany: 0.5 % vol (datasets).
    near = Setting(Recipe.parse("1.2 mL gin\n100 mL apple juice", technique="none"), draws=draws, country="Germany")
    card = cards.guest(trial.run(near))
    assert any("may not be called alcohol-free" in note for note in card.notes)
    cubes = Setting(Recipe.parse("100 mL apple juice", technique="none"), beside=(near,), country="Germany")
    assert not service.serve(trial.run(cubes)).free
    far = Setting(Recipe.parse("0.4 mL gin\n100 mL apple juice", technique="none"), draws=draws, country="Germany")
    assert service.serve(trial.run(far)).free


# --- a stranger's answers -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "odd",
    [
        {"route": ["forgot_contraction"]},
        {"route": {"a": 1}},
        {"exercise": "of a later version"},
        {"time": "9999-12-31T23:59:59", "word": "right"},
        {"time": "0001-01-01T00:00:00"},
    ],
)
def test_one_learners_odd_file_does_not_keep_the_trainers_page_shut(tmp_path, odd):
    progress.attempted(tmp_path, "B2", "let_down", seed=1, typed="1", word="mistake", route="forgot_contraction")
    progress.attempted(tmp_path, "A7", "let_down", seed=1, typed="1", word="mistake", route="forgot_contraction")
    path = tmp_path / "learners" / "a7.json"
    data = json.loads(path.read_text())
    data["attempts"][0] |= odd
    path.write_text(json.dumps(data))
    page = trainer.panel(tmp_path)
    assert "B2" in page.standing.value
    assert ("a7.json" in page.problems.value) == ("exercise" not in odd)


# --- what is saved ----------------------------------------------------------------------------------------------------


def test_two_that_take_one_name_on_a_disk_without_links_do_not_both_get_it(tmp_path, monkeypatch):
    """A file of a backup that came back, or a PDF, was written over by the other's."""

    def no_link(*_):
        raise PermissionError("no links here")

    looked = os.path.lexists

    def slowly(path):
        found = looked(path)
        time.sleep(0.2)
        return found

    monkeypatch.setattr(os, "link", no_link)
    monkeypatch.setattr(os.path, "lexists", slowly)
    with ThreadPoolExecutor(2) as pool:
        held = [b"one", b"two"]
        got = list(pool.map(lambda data: files.write_named(tmp_path / "x.json", data), held))
    assert sorted(got) == [False, True]
    assert (tmp_path / "x.json").read_bytes() == held[got.index(True)]
    assert os.listdir(tmp_path) == ["x.json"]


WRITERS = {
    "a learner's answer": lambda bar: progress.attempted(bar, "A7", "let_down", seed=2, typed="2", word="right"),
    "a price": lambda bar: cost.write(bar, PRICE | {"price": "17"}),
    "the list of pages": share.write_site,
    "a page to try": lambda bar: share.save_try_page(Recipe.parse("60 mL gin, 40 %"), bar),
    "labels": lambda bar: cards.save("x", {".html": cards.labels_html(cards.label(_GIN, count=30))}, bar),
    "a lesson on paper": lambda bar: paper.save(lessons.lesson("02_dilution"), bar, 2),
    "a notebook": lambda bar: writeup.notebook(next((bar / "writeups").glob("*.html"))),
    "a PDF": lambda bar: writeup.pdf(next((bar / "writeups").glob("*.html"))),
    "a backup": logbook.back_up,
}
_GIN = trial.run(Recipe.parse("60 mL gin, 40 %", name="Gin"), draws=0)


@pytest.fixture(scope="module")
def bar(tmp_path_factory):
    made = tmp_path_factory.mktemp("bar")
    progress.attempted(made, "A7", "let_down", seed=1, typed="1", word="right")
    cost.write(made, PRICE)
    logbook.save(_GIN, made)
    writeup.save(_GIN, made)
    share.write_site(made)
    return made


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process")
@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_takes_nothing_and_leaves_no_half_file(bar, name):
    import resource

    there = {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()}
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    for most in (0, 40, 90):  # bytes
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
        try:
            with pytest.raises(InputError):
                WRITERS[name](bar)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
        assert {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()} == there


def test_two_lines_of_measurements_run_together_are_kept_as_they_were(tmp_path):
    """The second of them was in no file any more once another measurement was put down."""
    path = tmp_path / entries.OWN_FILE
    there = (tables.folder() / "measurements.csv").read_text(encoding="utf-8")
    lines = there.splitlines()
    path.write_text("\n".join([*lines[:2], lines[2] + lines[3], *lines[4:]]) + "\n", encoding="utf-8")
    held = path.read_bytes()
    entries.put(tmp_path, replace(entries.example()[0], id=""))
    assert (tmp_path / "my_measurements.damaged-1.csv").read_bytes() == held
    assert [entry.id for entry in entries.load(tmp_path)][:3] == ["m1", "m2", "m4"]


def test_why_a_version_is_there_is_told_from_its_note_and_from_what_is_given():
    """What was in the note was taken out of it, and stood nowhere."""
    text = writeup.markdown(_GIN, notes=f"Stirred.\n{WHY}: the last was too sweet.", why=["A reader asked."])
    assert all(words in text for words in ("Stirred.", "the last was too sweet.", "A reader asked."))
