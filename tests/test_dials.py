"""A dial shows the figure that is used, also where it is out of range and the unit changes."""

import math

import pytest

from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import carbonation as carbonation_panel
from drinklab.workbook.panels import dilution as dilution_panel
from drinklab.workbook.panels import filtering as filtering_panel
from drinklab.workbook.panels import gels as gels_panel
from drinklab.workbook.panels import milk as milk_panel
from drinklab.workbook.panels import prep as prep_panel
from drinklab.workbook.panels import reach as reach_panel
from drinklab.workbook.panels import schedule as schedule_panel
from drinklab.workbook.panels import strength as strength_panel
from drinklab.workbook.parts.dials import DegreeDial, Dial


def dials(widget):
    """Every dial under a widget."""
    if isinstance(widget, Dial):
        yield widget
        return
    for child in getattr(widget, "children", ()):
        yield from dials(child)


def test_an_ice_temperature_out_of_range_is_the_same_in_other_degrees(tmp_path):
    bench = bench_panel.Bench(tmp_path)
    bench.own_ice.value = True
    bench.chilling.dials["ice_temperature"].number.value = -300.0
    assert "ce temperature is -300" in bench.problem.value
    bench.temperature_unit.value = "°F"
    assert bench.chilling.dials["ice_temperature"].value == pytest.approx(-508)
    assert bench.chilling.dials["ice_temperature"].number.value == pytest.approx(-508)
    assert bench.chilling.dials["ice_temperature"].unit.value == "°F"
    assert "ce temperature is −508 °F; it must be a number of at least −459.67 °F" in bench.problem.value
    bench.temperature_unit.value = "°C"
    assert bench.chilling.dials["ice_temperature"].number.value == pytest.approx(-300)
    bench.chilling.dials["ice_temperature"].number.value = -10.0
    assert not bench.problem.value


@pytest.mark.parametrize("typed", [-300.0, -1e300, 1e300, 99999.0])
def test_a_degree_dial_keeps_what_was_typed(typed):
    dial = DegreeDial("ice", -18, -25, 0, Display(), lambda _: None)
    dial.number.value = typed
    dial.show_in(Display(temperature="°F"))
    dial.show_in(Display())
    assert dial.value == pytest.approx(typed)
    assert dial.number.value == pytest.approx(typed)
    assert dial.slider.min <= dial.slider.value <= dial.slider.max < 1e3


@pytest.mark.parametrize("typed", [1.7e308, -1.7e308])
def test_what_overflows_in_other_degrees_is_still_a_number_and_refused(typed):
    dial = DegreeDial("ice", -18, -25, 0, Display(), lambda _: None)
    dial.number.value = typed
    for show in (Display(temperature="°F"), Display()):
        dial.show_in(show)
        assert math.isfinite(dial.value)
        assert math.isfinite(dial.number.value)
        with pytest.raises(InputError, match="ice is "):
            _ = dial.celsius
    assert dial.value == pytest.approx(math.copysign(1e308, typed), rel=0.01)


PANELS = [
    bench_panel.Bench, dilution_panel.IcePanel, carbonation_panel.BubblesPanel, milk_panel.WashPanel, filtering_panel.FilterPanel, schedule_panel.DayPanel, gels_panel.JellyPanel,
    prep_panel.PrepPanel, reach_panel.TargetPanel, balance_panel.DrinkPanel, balance_panel.SweepPanel, strength_panel.StrengthPanel,
]  # fmt: skip


@pytest.mark.parametrize("make", PANELS, ids=lambda p: p.__name__)
def test_units_change_while_dials_are_out_of_range(make, tmp_path):
    panel = make(tmp_path)
    units = [(name, getattr(panel, name)) for name in ("temperature_unit", "volume_unit") if hasattr(panel, name)]
    assert units
    for typed in (-1e6, 1e12):
        for dial in list(dials(panel)):
            dial.number.value = typed
        for _, unit in units:
            first, second = unit.options
            for choice in (second, first):
                unit.value = choice
                for dial in dials(panel):
                    assert dial.number.value == pytest.approx(dial.value, rel=1e-6, abs=0.06)


@pytest.mark.parametrize("typed", [float("nan"), float("inf"), float("-inf"), 1e308])
@pytest.mark.parametrize("make", [bench_panel.panel, balance_panel.panel])
def test_a_pour_that_is_no_amount_is_one_sentence_in_any_measure(make, typed, tmp_path):
    """Found by random moves: with such a pour on the page, a change of units ended in a traceback."""
    panel = make(tmp_path)
    panel.pours.children[0].number.value = typed
    for unit in ("oz", "mL"):
        panel.volume_unit.value = unit
        assert "Amount of &#39;pisco&#39; is a number" in panel.problem.value.replace("not a", "a")
    panel.pours.children[0].number.value = 45.0
    assert panel.problem.value == ""


@pytest.mark.parametrize("typed", [float("nan"), float("-inf")])
def test_a_batch_without_end_is_said_in_words(typed, tmp_path):
    panel = carbonation_panel.panel(tmp_path)
    panel.amount.number.value = typed
    assert "; it must be above 0 mL" in panel.problem.value
    assert "nan" not in panel.problem.value
    assert "inf" not in panel.problem.value


def test_one_more_dial_is_six_things_more_to_a_page():
    from ipywidgets.widgets.widget import _instances

    def dial():
        before = set(_instances)
        made = DegreeDial("Drink", 4.0, -20.0, 90.0, Display(), print)
        for part in (made, *made.children):
            part.get_state()  # which makes the looks that it has not been given
        return made, len(set(_instances) - before)

    first, _ = dial()
    second, things = dial()
    assert things == 6  # the box and its layout, name, slider, number and unit
    second.layout.display = "none"
    assert first.layout.display is None
