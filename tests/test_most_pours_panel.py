"""The wish "inside for most pours" on the panel "Reach a target", without a browser."""

import re

import pytest

from drinklab import forgiving, logbook, reach, trial
from drinklab.recipe import Recipe
from drinklab.workbook.panels import reach as reach_panel
from drinklab.workbook.parts import most_pours

SOUR = Recipe.parse(
    "45 mL aged rum, 50 %\n20 mL lemon juice\n20 mL honey syrup\n5 mL water", name="Test sour", technique="shaken"
)


@pytest.fixture
def panel(tmp_path):
    panel = reach_panel.panel(tmp_path, SOUR)
    for axis, room in (("abv", 1.5), ("sugar", 12), ("acid", 1.5), ("volume", 10)):
        panel.wanted[axis].pm.number.value = room
    return panel


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value))


def test_it_is_not_worked_out_until_it_is_wished(panel, monkeypatch):
    monkeypatch.setattr(reach_panel, "most_pours", lambda *_, **__: pytest.fail("nobody asked"))
    panel.wanted["abv"].dial.number.value = 17
    assert panel.problem.value == ""
    assert panel.pours.layout.display == "none"


def test_both_answers_stand_side_by_side_with_their_shares(panel):
    panel.pours.wish.value = True
    assert panel.problem.value == ""
    found = panel.pours.found
    assert panel.pours.layout.display is None
    assert found.plain.answer == panel.found[0]
    assert found.best.share.inside > found.plain.share.inside
    shown = _text(panel.pours.words)
    for one in (found.plain, found.best):
        assert f"{100 * one.share.value:.0f} ± {100 * one.share.pm:.0f} %" in shown
    assert "the nearest for most pours" in shown
    # the share is that of the trial which the page shows
    bands = reach.bands_of(*panel._target())
    within = forgiving.pours_inside(panel._iced(found.best.answer.recipe), bands, pantry=panel.shelf)
    assert within.sum() == found.best.share.inside


def test_the_units_of_the_person_are_kept(panel):
    panel.pours.wish.value = True
    panel.volume_unit.value = "oz"
    shown = _text(panel.pours.words)
    assert " oz" in shown
    assert " mL" not in shown


def test_what_would_raise_it_is_worked_out_when_opened(panel, monkeypatch):
    asked = []
    monkeypatch.setattr(most_pours, "what_raises", lambda found: asked.append(1) or forgiving.what_raises(found))
    panel.pours.wish.value = True
    assert (asked, panel.pours.raises.value) == ([], "")
    panel.pours.opened.selected_index = 0
    raised = forgiving.what_raises(panel.pours.found)
    assert str(forgiving.raised_most(raised)) in _text(panel.pours.raises)
    for one in raised:
        assert str(one.what) in _text(panel.pours.raises)
    panel.refresh()
    assert asked == [1]


def test_its_amounts_are_saved_as_a_trial(panel, tmp_path):
    panel.pours.wish.value = True
    panel.pours.button.click()
    assert "Saved as a new trial" in panel.use_said.value
    saved, _ = logbook.entries(tmp_path)
    kept = logbook.open_saved(saved[0].path, pantry=panel.shelf).setting
    assert kept.recipe.amounts.tolist() == panel.pours.found.best.answer.recipe.amounts.tolist()
    assert trial.run(kept, pantry=panel.shelf).served.profile.abv == pytest.approx(
        panel.pours.found.best.answer.figures.abv
    )


def test_a_problem_leaves_it_pale_as_it_was(panel):
    panel.pours.wish.value = True
    before = panel.pours.words.value
    panel.wanted["abv"].dial.number.value = 140
    assert "% vol" in panel.problem.value
    assert panel.pours.words.value == before
    assert "dl-stale" in panel.pours.words._dom_classes


def test_bands_too_narrow_for_any_pour_are_said(panel):
    panel.pours.wish.value = True
    for axis, room in (("abv", 0.1), ("sugar", 0.1), ("acid", 0.01), ("volume", 0.5)):
        panel.wanted[axis].pm.number.value = room
    assert panel.problem.value == ""
    assert "0 ± " in _text(panel.pours.words) or "not one of" in _text(panel.pours.words)


def test_a_gain_of_nothing_has_no_sign():
    from types import SimpleNamespace

    from drinklab.workbook.parts.most_pours import _gain_text

    told = [
        _gain_text(SimpleNamespace(gain=g, gain_pm=pm)) for g, pm in ((-0.001, 0.0), (0.0401, 0.02), (-0.02, 0.004))
    ]
    assert told == ["0 ± 1", "+4 ± 2", "−2 ± 1"]
