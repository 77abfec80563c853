"""An eighth attack: files of many years, names that other systems have not, and what reads in two ways.

Each test failed before it was mended.
"""

import json
import re
import zipfile

import numpy as np
import pytest
from growth import grows_less

from drinklab import files, forgiving, logbook, measured, next_glass, pantry, tables, tasting, trial, units
from drinklab.errors import InputError
from drinklab.measured import entries, figures, joining
from drinklab.recipe import Recipe
from drinklab.teach import progress
from drinklab.workbook import launch

TABLE = pantry.load()


# --- what is typed --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "said",
    [
        "Ada 10 of 10", "Ada 7 out of 10", "Ada 10 von 10", "Ada 7 of 10, Bo 8 of 10", "Ada 7,5; Bo 3", "Ada 7 or 8",
        "Ada 7 and Bo 3", "Ada 7 Bo 3", "Ada (7) 8", "Ada 3 4", "Ada ½ 7", "Ada: 10 of 10", "Ada 7, Ada 9", "Ada 7, ada 9",
    ],
)  # fmt: skip
def test_no_second_number_is_taken_into_a_tasters_name(said):
    """“Ada 10 of 10” was 10 points of somebody called “Ada 10 of”."""
    with pytest.raises(InputError, match=r"Bo 6\.5|there twice"):
        next_glass.read_note(f"Liking: {said}")


def test_a_name_with_a_number_in_it_is_told_apart_by_a_colon():
    assert next_glass.read_note("Liking: Ada 2: 8, Bo = 7, Taster 3 6.5, Cy2 5") == (
        ("Ada 2", 8), ("Bo", 7), ("Taster 3", 6.5), ("Cy2", 5),
    )  # fmt: skip


@pytest.mark.parametrize("amount", ["1.500 mL", "1.000 g", "12.250 ml", "2.000 grams", "+1.000 mL"])
def test_thousands_with_a_point_are_asked_about(amount):
    """A litre and a half where a point stands between thousands, 1.5 mL where it stands before decimals."""
    with pytest.raises(InputError, match="can be read either way"):
        Recipe.parse(f"{amount} gin\n20 mL lemon juice")


@pytest.mark.parametrize(
    ("amount", "ml"),
    [("1.50 mL", 1.5), ("0.500 mL", 0.5), ("1.125 oz", 33.27), ("1.500 L", 1500), ("19.558 mL", 19.558)],
)
def test_what_has_three_decimals_and_one_reading_is_read(amount, ml):
    """An ounce is 29.5735 mL (NIST Handbook 44, appendix C)."""
    assert units.to_ml(amount) == pytest.approx(ml, rel=1e-4)


@pytest.mark.parametrize("drawn", np.random.default_rng(8).uniform(0.1, 999, 40).round(3).tolist())
def test_what_we_write_ourselves_is_read_again(drawn):
    recipe = Recipe.parse(f"{drawn:.3f}1 mL gin\n{drawn:.3f}1 g white sugar")
    again = Recipe.parse(recipe.text())
    assert [p.amount for p in again.pours] == pytest.approx([p.amount for p in recipe.pours], rel=1e-4)


@pytest.mark.parametrize("given", [[], [15.0, 20.0], np.array([15.0])])
@pytest.mark.parametrize("name", ["strongest", "measure", "sip", "limit"])
def test_of_several_numbers_where_one_belongs_is_one_sentence(name, given):
    one = tasting.Sample("Ash", 0.1)
    if name in ("sip", "limit"):
        with pytest.raises(InputError, match="one number"):
            tasting.portion(one, one, "triangle", **{name: given})
    else:
        with pytest.raises(InputError, match="one number"):
            next_glass.propose(next_glass.example(), **{name: given})


@pytest.mark.parametrize("seed", [-1, 0.5, "1", None, float("nan"), True])
def test_a_seed_that_is_none_is_one_sentence(seed):
    with pytest.raises(InputError, match=r"seed .* whole number"):
        next_glass.propose(next_glass.example(), seed=seed)
    with pytest.raises(InputError, match=r"seed .* whole number"):
        forgiving.most_pours({"abv": 20}, ["gin", "water"], seed=seed)


# --- what is saved: many years of it ----------------------------------------------------------------------------------


def test_a_learners_file_is_never_written_larger_than_it_is_read(tmp_path):
    """One answer more, and what years of practice had put into it could not be opened any more."""
    one = progress.attempted(tmp_path, "a7", "let_down", seed=1, typed="383", word="right")
    path = progress.path_of(tmp_path, "a7")
    data = json.loads(path.read_text())
    data["note"] = "x" * (files.MOST - len(path.read_text()) - 100)
    path.write_text(json.dumps(data))
    held = path.read_bytes()
    with pytest.raises(InputError, match=r"file is 20.0 MB large; it must be at most 20 MB"):
        progress.attempted(tmp_path, "a7", "let_down", seed=2, typed="9" * 60, word="too much")
    assert path.read_bytes() == held
    assert progress.open_file(tmp_path, "a7").attempts == one.attempts


def _rows(count: int) -> str:
    made = [entries.COLUMNS]
    for i in range(count):
        kind = ("acid", "53", "g/L", "2.1", "titration") if i % 2 else ("ph", "2.3", "pH", "0.05", "pH meter")
        day = f"2026-0{1 + i % 9}-1{i % 9}"
        name, value, unit, pm, by = kind
        made.append((f"m_{i}", name, "lemon juice", value, unit, pm, by, day, "", "", "", "1", "counts", "", ""))
    return tables.written(made)


def test_a_thousand_readings_of_one_juice_take_no_more_each_than_a_few(tmp_path):
    """They took minutes, on every page: each was held against all before it, and its curve was halved 48 times."""

    def read(rows: int) -> measured.Joint:
        (tmp_path / entries.OWN_FILE).write_text(_rows(rows))
        return measured.of_folder(tmp_path)

    grows_less(8, read, 250, 1000)  # a thousand were more than sixteen times as long
    joint = read(1000)
    assert sum(one.counts for one in joint.entries) <= 2 * joining.MOST_OF_ONE
    assert {one.older for one in joint.entries if not one.counts} == {True}


def test_newer_readings_take_the_place_of_older_ones_of_the_same_instrument(tmp_path):
    """A few good ones by another instrument stay, however many come after."""
    good = measured.checked("strength", "gin", "41 %", when="2026-01-01", instrument="density meter", pm="0.05 %")
    more = [measured.checked("strength", "gin", "41.4 %", when=f"2026-02-{1 + i % 28:02}") for i in range(90)]
    joint = measured.join([good, *more], TABLE)
    assert joint.entries[0].counts
    assert [one.counts for one in joint.entries].count(True) == 1 + joining.MOST_OF_ONE
    few = measured.join([good, *more[:20]], TABLE)
    assert all(one.counts for one in few.entries)
    assert joint.shelf["gin"].abv == pytest.approx(few.shelf["gin"].abv, abs=0.01)
    assert joint.shelf["gin"].abv_pm == pytest.approx(few.shelf["gin"].abv_pm, rel=0.05)


@pytest.mark.parametrize("name", ["lemon juice", "lime juice", "cola", "vermouth_dry", "falernum"])
def test_a_reading_turns_into_its_figure_by_the_curve_as_by_halving(name):
    """The curve is looked up between 1025 points; halving goes on until the figure is found."""
    item = TABLE[TABLE.find(name).id]
    of = figures._Sour.of(item)
    for share in (0.7, 1.0, 1.4):
        litre = figures._litre(of, share * item.acid, item.solutes.get("potassium", 0.0))
        alkali = float(figures.balance.titratable(litre))
        entry = measured.checked("acid", name, f"{alkali:.9f} g/L", when="2026-01-01")
        found = figures.reading(entry, figures.target("acid", name, TABLE), entry.day)[1]
        assert found.value == pytest.approx(share * item.acid, abs=1e-3)


def test_measurements_beyond_what_a_page_can_open_are_refused_before_they_are_written(tmp_path, monkeypatch):
    monkeypatch.setattr(entries, "MOST", 3)
    for _ in range(3):
        measured.add(tmp_path, measured.checked("strength", "gin", "41.6 %", when="2026-01-01"))
    held = (tmp_path / entries.OWN_FILE).read_text()
    with pytest.raises(InputError, match="measurements is 4; it must be at most 3"):
        measured.add(tmp_path, measured.checked("strength", "gin", "41.6 %", when="2026-01-01"))
    assert (tmp_path / entries.OWN_FILE).read_text() == held
    (tmp_path / entries.OWN_FILE).write_text(_rows(4))
    with pytest.raises(InputError, match=r"my_measurements.csv: measurements is 4"):
        measured.shelf(tmp_path)


# --- what is opened: names of other systems ---------------------------------------------------------------------------

# "Naming Files, Paths, and Namespaces", Microsoft: reserved names, with any suffix, and characters in no name.
_NOT_ON_WINDOWS = ["con", "NUL", "Aux", "com1", "lpt9", "prn", "COM\u00b9"]


@pytest.mark.parametrize("code", _NOT_ON_WINDOWS)
def test_no_learner_has_a_code_that_another_computer_has_no_file_for(tmp_path, code):
    """What was typed under such a code went to a device, and was in no file."""
    with pytest.raises(InputError, match="another one"):
        progress.attempted(tmp_path, code, "let_down", seed=1, typed="3", word="right")
    assert not (tmp_path / progress.FOLDER).exists()


def test_one_who_has_such_a_file_keeps_it(tmp_path):
    there = tmp_path / progress.FOLDER / "con.json"
    there.parent.mkdir()
    there.write_text(progress.to_text(progress.Learner("con")))
    progress.attempted(tmp_path, "con", "let_down", seed=1, typed="3", word="right")
    assert len(progress.open_file(tmp_path, "CON").attempts) == 1


@pytest.mark.parametrize(
    "name",
    [*(f"{code}.json" for code in _NOT_ON_WINDOWS), "con .json", "a:b.json", "a?.csv", 'a".csv', "a.json ", "a."],
)
def test_what_windows_has_no_name_for_is_told(name):
    assert not files.can_be_named(name, windows=True)
    assert files.can_be_named(name, windows=False)


@pytest.mark.parametrize("name", ["console.json", "a7.json", "com10.json", "Größe 3.csv", ".saving-x", "nul_01.json"])
def test_other_names_are_fine_everywhere(name):
    assert files.can_be_named(name, windows=True)


def _zip(path, held):
    with zipfile.ZipFile(path, "w") as made:
        for name, data in held.items():
            made.writestr(name, data)
    return path


def test_a_place_that_cannot_be_written_to_does_not_keep_the_rest_of_a_backup_away(tmp_path):
    """The first such file ended it, with what came before written, and nobody told which."""
    backup = _zip(tmp_path / "b.zip", {"learners/a7.json": "{}", "my_ingredients.csv": "x", "cards/menu.html": "y"})
    bar = tmp_path / "bar"
    bar.mkdir()
    (bar / "learners").write_text("a file where the folder of learners would be")
    brought = logbook.restore(backup, bar)
    assert brought.new == ("my_ingredients.csv", "menu.html")
    (problem,) = brought.problems
    assert re.search(r"a7.json.*left out", problem)


def test_a_backup_of_which_nothing_can_be_written_is_refused(tmp_path):
    backup = _zip(tmp_path / "b.zip", {"learners/a7.json": "{}"})
    bar = tmp_path / "bar"
    bar.mkdir()
    (bar / "learners").write_text("")
    with pytest.raises(InputError, match="working folder"):
        logbook.restore(backup, bar)


def test_two_names_that_differ_by_capitals_are_both_kept(tmp_path, monkeypatch):
    """On a disk that tells no capitals apart, as most of Windows and macOS do not."""
    bar = tmp_path / "bar"
    bar.mkdir()
    named = files.write_named

    def without_capitals(path, held, **how):
        return named(path.with_name(path.name.casefold()), held)

    read = files.read
    monkeypatch.setattr(files, "write_named", without_capitals)
    monkeypatch.setattr(files, "read", lambda p, *a: read(p if p.exists() else p.with_name(p.name.casefold()), *a))
    backup = _zip(tmp_path / "b.zip", {"tastings/Sour.json": "1", "tastings/sour.json": "2"})
    brought = logbook.restore(backup, bar)
    assert (len(brought.new), len(brought.beside)) == (1, 1)
    assert sorted(path.read_text() for path in (bar / "tastings").iterdir()) == ["1", "2"]


@pytest.mark.parametrize("prefix", ["/%2f", "/x%2F..", "/a%5C..", "/%00", "/a%0d%0ab", "/%2f%2fevil.example", "/a%7f"])
def test_a_prefix_that_a_proxy_takes_apart_is_refused(prefix):
    """Some hand on /a%2f.. as /a/.., which is another's address (RFC 3986, 6.2.2.2: %2F is not the same as /)."""
    with pytest.raises(InputError, match="names with / between them"):
        launch.url_prefix(prefix)


def test_a_prefix_with_other_letters_and_spaces_in_it_stays():
    assert launch.url_prefix("/user/ada%20b%C3%BC") == "/user/ada%20b%C3%BC/"


# What begins so is a formula to some spreadsheet (OWASP, CSV injection: also behind a tab, and in wide letters).
_FORMULAS = ["=1+1", "\t=1", " =1", "\uff1d1+1", "\uff20x", "'=1", "''=1", "'\t@x", "-1", "+1"]


@pytest.mark.parametrize("text", [*_FORMULAS, "'", "''", "'quoted'", "plain", "", "5 mL = 1"])
def test_a_cell_is_no_formula_and_comes_back_as_it_was(text):
    cell = tables.no_formula(text)
    assert tables.with_formula(cell) == text
    assert (cell[:1] == "'" and cell != text) == (text in _FORMULAS)


@pytest.mark.parametrize("name", _FORMULAS)
def test_a_trial_in_a_table_comes_back_with_its_note(tmp_path, name):
    recipe = Recipe.parse("45 mL gin\n20 mL lemon juice", TABLE, name="Ash", technique="shaken")
    logbook.save(trial.run(recipe, pantry=TABLE, draws=0), tmp_path / "a", title=f"x{name}", note=name)
    (kept,), _ = logbook.entries(tmp_path / "a")
    _, table = logbook.export([kept], tmp_path / "a")
    assert not logbook.bring(table, tmp_path / "b").problems
    (again,), _ = logbook.entries(tmp_path / "b")
    assert (again.title, again.all_notes, again.figures) == (kept.title, kept.all_notes, kept.figures)
