"""The logbook's page: what it lists, what it says of one and of several, and what its buttons do."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

from drinklab import demo, logbook, pantry, trial
from drinklab.workbook.panels import bench as bench_page
from drinklab.workbook.panels import dilution
from drinklab.workbook.panels import logbook as page

SHELF = pantry.load()


@pytest.fixture(scope="module")
def drinks():
    """Of the demo: a drink, one with more of its first bottle, and one washed with milk."""
    named = demo.settings(SHELF)
    first = named["First Frost"]
    more = replace(first.recipe.pours[0], amount=first.recipe.pours[0].amount + 5)
    second = replace(first, recipe=replace(first.recipe, pours=(more, *first.recipe.pours[1:])))
    return [trial.run(one, pantry=SHELF) for one in (first, second, named["Clear Line"])]


@pytest.fixture
def log(tmp_path, drinks):
    first = logbook.save(drinks[0], tmp_path, note="the guests <b>frown</b>")
    logbook.save(drinks[1], tmp_path, title="First Frost, stronger", came_from=first.name)
    logbook.save(drinks[2], tmp_path)
    return tmp_path


def _choose(shown, *titles):
    by = {label.split("  ", 1)[1].split(": ")[0].split(" (")[0]: path for label, path in shown.chosen.options}
    shown.chosen.value = [by[title] for title in titles]


def test_it_lists_what_fits(log):
    shown = page.panel(log)
    assert "3 of 3 saved trials" in shown.count.value
    shown.words.value = "frown"
    assert "1 of 3" in shown.count.value
    assert shown.chosen.options[0][0].split("  ")[1].startswith("First Frost: ")
    shown.words.value = ""
    shown.until.value = date.today() - timedelta(days=3)
    assert "0 of 3" in shown.count.value
    shown.until.value = None
    shown.order.value = "hand"
    assert "Drink in hand is none" in shown.said.value
    logbook.put_in_hand(log, demo.settings(SHELF)["Clear Line"], SHELF)
    shown.look_again.click()
    assert "Clear Line" in shown.chosen.options[0][0]


def test_an_empty_folder_says_where_trials_come_from(tmp_path):
    shown = page.panel(tmp_path)
    assert "0 of 0" in shown.count.value
    assert "00_bench" in shown.count.value
    for button in (
        shown.backup_button,
        shown.export_button,
        shown.restore_button,
        shown.bring_button,
        shown.back_button,
    ):
        shown.said.value = ""
        button.click()
        assert "dl-problem" in shown.said.value
    assert not any(tmp_path.iterdir())


def test_of_one_it_says_figures_cautions_notes_and_where_it_came_from(log):
    shown = page.panel(log)
    _choose(shown, "First Frost")
    told = shown.detail.value
    assert "&lt;b&gt;frown&lt;/b&gt;" in told
    assert "Strength" in told
    assert "First Frost, stronger" in told
    assert "+5.0 mL pisco" in told
    _choose(shown, "Clear Line")
    assert "milk" in shown.detail.value.lower()
    assert "Contains" in shown.detail.value
    shown.volume_unit.value = "oz"
    assert " oz" in shown.detail.value
    assert " mL" not in shown.detail.value
    assert logbook.choices(log)["volume"] == "oz"


def test_several_go_side_by_side_with_their_differences(log, drinks):
    shown = page.panel(log)
    _choose(shown, "First Frost, stronger", "First Frost")
    told = shown.detail.value
    by = drinks[1].served.profile.abv - drinks[0].served.profile.abv  # from the older to the newer
    assert f"({by:+.1f} % vol)".replace("-", "−") in told
    assert "+5.0 mL pisco" in told
    assert shown.one.layout.display == "none"


def test_title_note_and_bin(log):
    shown = page.panel(log)
    _choose(shown, "Clear Line")
    shown.title.value = "Clear Line for June"
    shown.title_button.click()
    shown.note.value = "cleared in nine hours"
    shown.note_button.click()
    assert "cleared in nine hours" in shown.detail.value
    assert "Clear Line for June" in shown.detail.value
    shown.bin_button.click()
    assert "2 of 2" in shown.count.value
    shown.binned.value = shown.binned.options[1][1]
    shown.back_button.click()
    assert "3 of 3" in shown.count.value
    _choose(shown, "First Frost")
    shown.note.value = " "
    shown.note_button.click()
    assert "dl-problem" in shown.said.value


def test_put_in_hand_keeps_what_was_there(log):
    other = demo.settings(SHELF)["Long Platform"]
    logbook.put_in_hand(log, other, SHELF, title="Long Platform, mine")
    shown = page.panel(log)
    _choose(shown, "First Frost, stronger")
    shown.open_button.click()
    held = logbook.in_hand(log)
    assert held.title == "First Frost, stronger"
    assert logbook.entry(log / "trials" / held.came_from).title == held.title
    assert "Long Platform, mine, set aside" in [one.title for one in logbook.entries(log)[0]]


def test_backup_export_and_back(log):
    shown = page.panel(log)
    shown.backup_button.click()
    shown.export_button.click()
    assert "3 trials are in exports" in shown.said.value
    shown.backup.value = shown.backup.options[1][1]
    shown.restore_button.click()
    assert "0 files came back, 3 were here already" in shown.said.value
    shown.given.value = next(path for _, path in shown.given.options if path.endswith("trials_01.json"))
    shown.bring_button.click()
    assert "6 of 6" in shown.count.value


def test_a_damaged_trial_is_said_and_the_rest_works(log):
    (log / "trials" / "broken.json").write_text("{")
    shown = page.panel(log)
    assert "broken.json" in shown.said.value
    assert "3 of 3" in shown.count.value


def test_the_bench_keeps_where_a_drink_came_from(log):
    bench = bench_page.panel(log)
    path = next((log / "trials").glob("*first-frost_01.json"))
    bench.choose.value = ("saved", str(path))
    bench.pours.children[0].slider.value += 4
    bench.save()
    first = logbook.entries(log)[0][0]
    assert first.came_from == path.name
    (change,) = logbook.changes(logbook.load(first.path).setting, logbook.load(path).setting)
    assert change.now == change.was + 4
    bench.pours.children[0].slider.value += 2
    bench.save()
    second = logbook.entries(log)[0][0]
    assert second.came_from == first.path.name  # a version of the one just saved
    assert logbook.in_hand(log).came_from == second.path.name
    bench.choose.value = ("demo", "Clear Line")
    bench.save()
    assert logbook.entries(log)[0][0].came_from == ""


def test_a_lesson_keeps_where_a_saved_drink_came_from(log):
    lesson = dilution.panel(log)
    path = next((log / "trials").glob("*first-frost_01.json"))
    lesson.choose.value = ("saved", str(path))
    lesson.put_in_hand(lesson.setting, "It is kept.")
    assert logbook.in_hand(log).came_from == path.name


def test_nothing_of_a_strangers_log_is_taken_as_html(log):
    bad = "<img src=x onerror=alert(1)>"
    for path in (log / "trials").glob("*first-frost*.json"):
        data = json.loads(path.read_text())
        data["title"] = data["note"] = data["came_from"] = data["setting"]["recipe"]["name"] = bad
        data["ingredients"]["pisco"]["name"] = bad
        path.write_text(json.dumps(data))
        logbook.record(path, logbook.entry(path).time, title=bad, note=bad, tasting=f"{bad}.json", photo=f"{bad}.jpg")
    shown = page.panel(log)
    paths = [path for label, path in shown.chosen.options if bad in label]
    assert len(paths) == 2
    for chosen in (*([path] for path in paths), paths):
        shown.chosen.value = chosen
        assert "onerror" in shown.detail.value
        assert "<img" not in shown.detail.value
    shown.chosen.value = paths[:1]
    shown.bin_button.click()
    assert "<img" not in shown.said.value
