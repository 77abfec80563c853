"""Boxes and sliders in a bar's words: fractions and commas are read, and what was told is what is shown."""

import pytest

from drinklab import logbook
from drinklab.display import Display
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.parts.dials import Dial, Pours
from drinklab.workbook.parts.number_box import NumberBox

TOLD = "2 oz rye\n⅞ oz lemon juice\n2 dashes aromatic bitters\n6 mint leaves\n1 egg white"


def typed(dial: Dial, text: str) -> None:
    """As the page sends it."""
    dial.number.set_state({"value": text})


@pytest.fixture
def bench(tmp_path):
    return bench_panel.panel(tmp_path)


def type_in(bench, text):
    bench.typed.value = text
    bench.typed_use.click()


@pytest.mark.parametrize(
    ("text", "value"), [("7/8", 0.875), ("⅞", 0.875), ("1½", 1.5), ("1 1/2", 1.5), ("0,75", 0.75), ("−3", -3), ("1e3", None)]
)  # fmt: skip
def test_a_box_reads_fractions_and_commas(text, value):
    heard = []
    dial = Dial("gin", 2, 10, 0.1, "oz", heard.append, bottom=-5)
    typed(dial, text)
    assert heard == ([] if value is None else [value])


@pytest.mark.parametrize("text", ["abc", "", "1,000", "11/2", "45 mL", "nan", "inf", "<b>"])
def test_what_is_no_number_is_refused_beside_the_box_and_the_value_stays(text):
    heard = []
    dial = Dial("gin", 45, 100, 0.5, "mL", heard.append)
    typed(dial, text)
    assert (heard, dial.value, dial.number.value) == ([], 45, 45)
    assert "it must be a number such as 1.5, 1,25 or 7/8" in dial.label.value
    assert "<b>" not in dial.label.value
    typed(dial, "50")
    assert (heard, "dl-problem" in dial.label.value) == ([50], False)


def test_a_box_shows_eighths_as_a_bar_writes_them():
    dial = Dial("gin", 0.875, 10, 0.125, "oz", lambda _: None)
    assert dial.number.get_state("value") == {"value": "⅞"}
    dial.set(1.5216)
    assert dial.number.get_state("value") == {"value": "1.52"}
    assert NumberBox(0.875).get_state("value") == {"value": "0.875"}


def test_the_unit_typed_becomes_the_unit_shown(bench):
    type_in(bench, TOLD)
    assert [(d.number.get_state("value")["value"], d.unit.value) for d in bench.pours.children] == [
        ("2", "oz"), ("⅞", "oz"), ("2", "dashes"), ("6", "leaves"), ("1", ""),
    ]  # fmt: skip
    assert logbook.choices(bench.folder)["volume"] == "oz"
    assert balance_panel.panel(bench.folder).volume_unit.value == "oz"  # and on every lesson
    bench.typing.selected_index = 0
    assert bench.typed.value.splitlines()[1:3] == ["⅞ oz lemon juice, fresh", "2 dashes aromatic bitters, 44.7 %"]


def test_what_was_told_is_shown_again_when_opened(bench):
    type_in(bench, TOLD)
    bench.save()
    again = bench_panel.panel(bench.folder)
    again.choose.value = next(value for label, value in again.choose.options if label.startswith("Saved:"))
    assert [d.unit.value for d in again.pours.children] == ["oz", "oz", "dashes", "leaves", ""]
    lesson = balance_panel.panel(bench.folder, again.recipe())
    dials = next(part for part in _all(lesson) if isinstance(part, Pours))
    assert [d.unit.value for d in dials.children] == ["oz", "oz", "dashes", "leaves", ""]


def _all(widget):
    yield widget
    for inner in getattr(widget, "children", ()):
        yield from _all(inner)


def test_a_dial_in_dashes_or_parts_pours_them(bench):
    type_in(bench, "1 part = 20 mL\n3 parts gin\n1 part lemon juice\n2 dashes orange bitters")
    gin, _, bitters = bench.pours.children
    typed(gin, "2½")
    typed(bitters, "3")
    assert bench.trial.recipe.amounts == pytest.approx([50, 20, 2.7])
    assert bench.recipe().text(bench.shelf).splitlines()[:2] == ["1 part = 20 mL", "2½ parts gin"]


def test_metric_words_leave_ounces_and_mixed_ones_leave_the_choice(bench):
    bench.volume_unit.value = "oz"
    type_in(bench, "2 oz gin\n20 mL lemon juice")
    assert bench.volume_unit.value == "oz"
    type_in(bench, "6 cl gin\n20 mL lemon juice")
    assert bench.volume_unit.value == "mL"
    assert [d.unit.value for d in bench.pours.children] == ["cl", "mL"]


def test_a_jigger_in_ounces_moves_by_eighths():
    dial = Pours(lambda: None)
    recipe = Recipe.parse("1½ oz gin")
    dial.use(recipe, bench_panel.classics.load().pantry, Display("oz"))
    assert dial.children[0].step == 0.125
    dial.children[0].slider.value = 1.625
    assert dial.recipe().volume == pytest.approx(1.625 * FLUID_OUNCE)


def test_all_errors_of_a_typed_recipe_stand_on_the_page(bench):
    type_in(bench, "45 mL ginn\nice")
    assert "Line 1: ingredient is" in bench.problem.value
    assert "Line 2: ingredient is" in bench.problem.value


def test_a_slip_of_a_typed_number_leaves_no_trail(bench):
    """450 typed for 45 and put right is no way that the drink came; a slider's way is."""
    bench.use(Recipe.parse("45 mL aged rum, 50 %\n20 mL lemon juice\n15 mL honey syrup", technique="shaken"))
    rum = bench.pours.children[0]
    rum.slider.value = 50
    typed(rum, "450")
    typed(rum, "50")
    assert len(bench.chart.rows["trail"]) == 1 + 1
    strongest = max(point["abv"] for point in bench.chart.rows["trail"])
    assert strongest == pytest.approx(bench.trial.served.profile.abv, abs=0.01)
    rum.slider.value = 60
    assert len(bench.chart.rows["trail"]) == 3


def test_a_problem_is_told_in_the_units_of_the_page(bench):
    bench.temperature_unit.value, bench.volume_unit.value = "°F", "oz"
    typed(bench.chilling.dials["ice_temperature"], "-600")
    assert "°F" in bench.problem.value
    assert "°C" not in bench.problem.value
    typed(bench.chilling.dials["ice_temperature"], "0")
    typed(bench.glass, "90")
    assert " oz" in bench.problem.value
    assert " mL" not in bench.problem.value
