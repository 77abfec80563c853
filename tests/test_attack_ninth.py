"""A ninth attack: letters that nobody sees, names that say more, what spoils, a long logbook, and what is asked of the
server.

Each test failed before it was mended.
"""

import json
import re

import pytest

from drinklab import kinds, logbook, trial
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.teach import checking, lessons, paper
from drinklab.workbook.panels import logbook as logbook_panel

# --- what a page asks of the server ------------------------------------------------------------------------------------

ODD_BODIES = (b"[1]", b'"kernel"', b"7", b"[]", b"null", b"true", b'{"kernel": []}', b'[{"kernel": 1}]')
ODD_NOTEBOOKS = {
    "a": {"kernelspec": "python3"}, "b": {"kernelspec": ["python3"], "drinklab": {"run_on_open": True}},
    "c": {"kernelspec": {"name": "python3"}, "drinklab": [1]}, "d": {"kernelspec": {"name": "python3"}, "drinklab": "x"},
}  # fmt: skip


def test_what_is_asked_of_the_server_in_another_shape_is_no_failure_of_it(start, environment, home):
    """A list was a page that answers 500, and so was a stranger's notebook whose kernel is no table (RFC 9110, 15.5.1)."""
    folder = home / "bar"
    folder.mkdir()
    body = {"cells": [], "nbformat": 4, "nbformat_minor": 5}
    for name, about in ODD_NOTEBOOKS.items():
        (folder / f"{name}.ipynb").write_text(json.dumps(body | {"metadata": about}), encoding="utf-8")
    kernel = json.dumps({"kernel": "11111111-aaaa-bbbb-cccc-111111111111"}).encode()
    with start(folder, "--no-browser", env=environment(home)) as started:
        codes = {body: started.ask("drinklab/begin/00_bench.ipynb", body).status for body in ODD_BODIES}
        assert set(codes.values()) == {400}, codes
        for name in ODD_NOTEBOOKS:
            answer = started.ask(f"drinklab/begin/{name}.ipynb", kernel)
            assert (answer.status, json.loads(answer.body)) == (200, {"runs": False}), name


# --- a logbook of many years -------------------------------------------------------------------------------------------


def test_one_of_many_versions_is_looked_at_without_opening_all(tmp_path, monkeypatch):
    """Of 3,000 versions of a drink each was opened, which took a minute."""
    drink = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL honey syrup", technique="shaken", name="Sour")
    first = logbook.save(trial.run(drink, draws=0), tmp_path)
    data, where = json.loads(first.read_text(encoding="utf-8")), first.parent
    first.unlink()
    for number in range(300):
        about = {"title": f"trial {number}", "time": f"2026-11-{1 + number // 20:02}T10:{number % 60:02}:00+00:00",
                 "came_from": f"{number - 1}.json"}  # fmt: skip
        (where / f"{number}.json").write_text(json.dumps(data | about), encoding="utf-8")
    opened = []
    read = logbook.open_saved
    monkeypatch.setattr(logbook, "open_saved", lambda path, **about: opened.append(path) or read(path, **about))
    panel = logbook_panel.panel(tmp_path)
    panel.words.value = "150"
    assert len(panel.found) == 1
    panel.chosen.value = [str(where / "150.json")]
    assert 0 < len(opened) <= 2 * logbook_panel.MOST_TOLD + 1
    said = panel.detail.value
    assert "300 versions belong with it; the 40 around it are told." in said
    assert all(f"trial {number}" in said for number in range(135, 165))


# --- what a learner types ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["39", "39°", "39 º", "39 deg", "39 degrees", "39 °F"])
def test_degrees_without_a_letter_are_those_that_are_shown(typed):
    """“39°” on a page in °F was 39 °C, so that a right answer counted as a mistake; 39.2 °F are 4 °C."""
    found = checking.read(typed, kinds.TEMPERATURE, show=Display("oz", "°F"))
    assert found == pytest.approx((39 - 32) / 1.8)
    assert checking.read("39°", kinds.TEMPERATURE, show=Display()) == checking.read("39 °C", kinds.TEMPERATURE) == 39


def test_a_learner_has_one_sheet_and_nobody_is_left_out_unsaid(tmp_path):
    one = lessons.lesson("01_strength")
    sheets = paper.save(one, tmp_path, ["A7", "a7", "B2"], "A4", 1)[0].read_text(encoding="utf-8")
    assert "A7" in sheets
    assert "a7" not in re.sub(r"<style>.*?</style>", "", sheets, flags=re.DOTALL).replace("#", "")
    with pytest.raises(InputError, match="learners is 61 codes; it must be at most 60"):
        paper.save(one, tmp_path, [f"L{n}" for n in range(61)], "A4", 1)
