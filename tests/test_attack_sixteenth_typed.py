"""A sixteenth attack: what is typed is read rightly or refused, and what is refused never reads as what is allowed."""

from __future__ import annotations

import itertools
import re

import ipywidgets as widgets
import pytest

from drinklab import batch, cards, kinds, prep, reach, schedule, setting, trial
from drinklab.display import Display
from drinklab.errors import InputError, require
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE, read, read_row
from drinklab.workbook.panels import measured as measured_panel
from drinklab.workbook.panels import service as service_panel
from drinklab.workbook.parts import published

SHOWN = [Display(*units) for units in itertools.product(("mL", "oz"), ("°C", "°F"), ("", "bar", "psi"))]
_FIGURES = re.compile(r"[-−]?\d+(?:\.\d+)?")


def _figures(sentence):
    return [float(found.replace("−", "-")) for found in _FIGURES.findall(sentence)]


def test_a_million_and_one():
    """It said "is 1000000; it must be 0 to 1000000 mL": six digits were shown, of seven that were typed."""
    with pytest.raises(InputError, match=r"is 1000001; it must be 0 to 1000000 mL"):
        Recipe.parse("1000001 mL gin")


@pytest.mark.parametrize("display", SHOWN, ids=str)
@pytest.mark.parametrize("off", [1e-3, 1e-6, 1e-9, 1e-12])
@pytest.mark.parametrize(
    ("low", "high", "unit"),
    [(0.01, 1e6, "mL"), (10, 45, "mL"), (-273.15, 200, "°C"), (-18, 4, "°C"), (1, 2000, "kPa gauge"),
     (0, 100, "% vol"), (0, 1650, "g/L"), (1 / 3, 2 / 3, "of the whole"), (2, 1e9, "g")],
)  # fmt: skip
def test_a_refused_figure_never_reads_as_an_allowed_one(display, off, low, high, unit):
    """Shown in six digits, or in hundredths of an ounce, what is a little beyond an end read as that end."""
    for value, over in ((low - off * max(1, abs(low)), False), (high + off * high, True)):
        with pytest.raises(InputError) as told:
            require("figure", value, low, high, unit)
        for said in (str(told.value), display.say(told.value)):
            shown, least, *most = _figures(said.removeprefix("figure is").replace("1e", ""))
            assert shown > most[0] if over else shown < least, said
            assert len(said) < 120


@pytest.mark.parametrize("text", ["1.200 kPa", "1.200", "1.150 kPa gauge", "2.000"])
def test_thousands_of_a_gauge(text):
    """A kilopascal to some, twelve bar to others: it was read as 1.2 kPa."""
    with pytest.raises(InputError, match="it can be read either way"):
        read(text, kinds.GAUGE_PRESSURE, "gauge")
    assert read("1.25 bar", kinds.GAUGE_PRESSURE, "gauge") == read("1.250 bar", kinds.GAUGE_PRESSURE, "gauge") == 125


@pytest.mark.parametrize("text", ["1.050", "1.000", "1.050 g/L"])
def test_a_density_of_one_or_of_a_thousand(text):
    """A gravity of 1.050 was read as that many kilograms in a cubic metre."""
    with pytest.raises(InputError, match=r"1050 or 1.05: it can be read either way|1000 or 1: "):
        read(text, kinds.DENSITY, "density")
    assert read("1.050 g/mL", kinds.DENSITY, "density") == pytest.approx(1050)


def test_a_difference_in_fahrenheit():
    """9 °F warmer is 5 °C warmer; it was read as −12.8."""
    assert read("9 °F", kinds.WARMER, "warmer") == pytest.approx(5)
    assert read("41 °F", kinds.TEMPERATURE, "glass") == pytest.approx(5)


def test_a_part_without_spaces():
    """It was taken for an ingredient."""
    assert Recipe.parse("1 part=30ml\n1½ parts gin").volume == 45


@pytest.mark.parametrize(
    "text", ["1 1/2", "1 ½", "15 1 1/2", "1\u00a0½", "1 3⁄4", "1 000", "15 000 20 000", "1,234,567"]
)
def test_one_number_of_a_row_is_not_two(text):
    """ "1 1/2" was read as one and then a half, "1 000" as one and then nothing."""
    with pytest.raises(InputError, match="with a space or ; between two numbers"):
        read_row(text, "times", "seconds such as 15, 30")


def test_rows_that_are_sure():
    """Each of these has one reading."""
    for text, wanted in (("1 1/2; 2", [1.5, 2]), ("½ 1", [0.5, 1]), ("15 30 120", [15, 30, 120]), ("1, 1/2", [1, 0.5])):
        assert read_row(text, "times", "seconds") == wanted


@pytest.mark.parametrize("text", ["2026-07-03 06", "2026-07-03T06", "2026-07-03 midnight", "2026-07-03 6"])
def test_an_hour_that_may_be_another(text):
    """A bare hour was read as of the morning, and midnight as the night before the day that was named."""
    with pytest.raises(InputError, match="serve time is '2026"):
        schedule.moment(text)
    assert schedule.moment("2026-07-03 00:00").hour == 0


@pytest.mark.parametrize("text", ["18.30", "18:30", "1830", "6.30 pm", "18h30", "18:30:00"])
def test_half_past(text):
    """Of "18.30" it made six o'clock and three tenths of a second."""
    assert f"{schedule.moment(f'2027-07-03 {text}'):%H:%M:%S}" == "18:30:00"


def test_midnight_of_a_day():
    """It was the night before the service."""
    with pytest.raises(
        InputError, match=r"time to serve is 'Midnight'; it must be 0:00, with the day that begins then"
    ):
        schedule.clock("Midnight")
    assert schedule.clock("noon").hour == 12


SOUR = setting.Setting(Recipe.parse("60 mL gin\n25 mL lime juice\n20 mL sugar syrup", technique="shaken"))
BOTTLES = ["gin", "lime_juice", "sugar_syrup_1to1"]


def _melt(value):
    return setting.Setting(SOUR.recipe, melt=value)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda: batch.scale(SOUR, volume=[]), "volume wanted is 0 numbers; it must be one number"),
        (lambda: batch.scale(SOUR, volume=[1, 2]), "volume wanted is 2 numbers; it must be one number"),
        (lambda: batch.scale(SOUR, volume=2e7), "volume wanted is 20000000 mL; it must be above 0 and at most 10000000 mL"),
        (lambda: batch.scale(SOUR, vessel=[]), "volume of the vessel is 0 numbers; it must be one number"),
        (lambda: batch.scale(SOUR, vessel="5 L", headspace=[0.1, 0.2]), "headspace is 2 numbers; it must be one number"),
        (lambda: batch.scale(SOUR, serves=3, keep_at=[]), "freezer is 0 numbers; it must be one number"),
        (lambda: batch.scale(SOUR, serves=3, stays="two"), "what stays in the vessel is 'two'; it must be an amount"),
        (lambda: batch.scale(SOUR, serves=3, count="1,000"), "number of vessels is '1,000'; it must be a whole number"),
        (lambda: reach.reach({"abv": 20}, BOTTLES, count=[]), "number of answers is 0 numbers; it must be one number"),
        (lambda: _melt([]), "melt water is 0 numbers; it must be one number"),
        (lambda: _melt([1, 2]), "melt water is 2 numbers; it must be one number"),
        (lambda: _melt(3.004), "melt water is 300.4 %; it must be 0 to 300 % of the drink before ice"),
        (lambda: setting.Setting(SOUR.recipe, serve_volume=[]), "serve size is 0 numbers; it must be one number"),
        (lambda: cards.label(trial.run(SOUR, draws=0), until="03/04/2027"), "use by is '03/04/2027'; it must be a date"),
        (lambda: cards.label(trial.run(SOUR, draws=0), made=""), "made is empty; it must be a date"),
    ],
)  # fmt: skip
def test_what_is_no_number_is_refused_in_a_sentence(asked, said):
    """An IndexError, a TypeError or a ValueError before; or taken, and left out of the sum without a word."""
    with pytest.raises(InputError) as told:
        asked()
    assert str(told.value).startswith(said)


@pytest.mark.parametrize("count", ["1.000", "3", 3.0])
def test_so_many_answers(count):
    """Text that is read as a whole number is one: "1.000" ended in a ValueError."""
    assert len(reach.reach({"abv": 20}, BOTTLES, count=count)) == int(float(count))


@pytest.mark.parametrize("text", ["１.150 mL gin", "1.15０ mL gin", "١.١٥٠ mL gin", "१.१५० mL gin"])
def test_thousands_in_figures_of_another_script(text):
    """A litre and more was read as 1.15 mL, where the figures were not those of ASCII."""
    with pytest.raises(InputError, match="it can be read either way"):
        Recipe.parse(text)


@pytest.mark.parametrize(
    ("name", "typed", "pm", "wanted"),
    [
        ("volume", "45 mL", "5 mL", (45, 5)),
        ("volume", "1½", "½", (1.5 * FLUID_OUNCE, 0.5 * FLUID_OUNCE)),
        ("temperature", "4 °C", "1 °C", (4, 1)),
        ("temperature", "41", "9", (5, 5)),
        ("abv", "30 %", "", (30, None)),
        ("acid", "6 g/L", "0.5 g/L", (6, 0.5)),
    ],
)
def test_a_figure_beside_a_write_up_may_have_its_unit(name, typed, pm, wanted):
    """Only bare numbers were read there."""
    boxes = widgets.Text(typed), widgets.Text(pm)
    assert published._read(name, *boxes, Display("oz", "°F")) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("name", "typed"), [("mass", "1.150"), ("sugar", "1.200"), ("mass", "30 mL"), ("abv", "6 g/L")]
)
def test_a_figure_beside_a_write_up_is_refused(name, typed):
    """A kilogram and more was taken for a gram."""
    with pytest.raises(InputError, match=f"'{typed}'"):
        published._read(name, widgets.Text(typed), widgets.Text(""), Display())


def test_a_bottle_typed_in_ounces_is_not_one_of_millilitres(tmp_path):
    """Of a page in ounces "25" was printed on the labels as 25 mL."""
    page = service_panel.panel(tmp_path)
    page.volume_unit.value = "oz"
    page.bottle.value = "25"
    assert page._bottle() == "25 oz"
    page.volume_unit.value = "mL"
    assert page.bottle.value == "25 oz"
    page.bottle.value = "750"
    assert page._bottle() == "750 mL"


def test_a_measured_amount_keeps_its_unit(tmp_path):
    """30 mL became 30 oz as the page was turned to ounces."""
    page = measured_panel.panel(tmp_path)
    page.kind.value = "pour"
    page.of.value, page.with_milk.value = "30", "2 oz"
    page.volume_unit.value = "oz"
    assert (page.of.value, page.with_milk.value) == ("30 mL", "2 oz")
    assert page._with_unit(widgets.Text("1½")) == "1½ oz"


def test_a_figure_beside_a_write_up_keeps_its_unit(tmp_path):
    """ "45" that was typed under mL was held beside the author's as 45 oz."""
    shown = [Display()]
    box = published.Published(tmp_path, lambda: shown[0])
    box.made.selected_index = box.again.selected_index = 0
    for name, text in (("volume", "45"), ("temperature", "4"), ("abv", "30")):
        box.typed[name][0].value = text
    shown[0] = Display("oz", "°F")
    box.look()
    assert [box.typed[n][0].value for n in ("volume", "temperature", "abv")] == ["45 mL", "4 °C", "30"]


@pytest.mark.parametrize("volume", [1.15, 18.3, 30, 45, 100, 300, 1000])
@pytest.mark.parametrize("acids", ["malic", "citric", None])
def test_lemon_as_sour_as_lemon(volume, acids):
    """Apart by the rounding of a sum, it had nothing to add, and divided by that: ZeroDivisionError."""
    with pytest.raises(InputError, match="acidity of 'lemon juice, fresh' is what is aimed at already"):
        prep.adjust("lemon_juice", "lemon_juice", acids, volume=volume, strength=45)


@pytest.mark.parametrize("beyond", [0.001, 0.01, 0.02, 0.04, 0.06, 0.1])
def test_a_syrup_thicker_than_its_sugar(beyond):
    """The most was rounded up, above what was refused."""
    _, one, _ = prep._one_gram("honey", None)
    dry = 100 * (1 - one.water / one.mass)
    with pytest.raises(InputError) as told:
        prep.syrup(dry + beyond, "honey", mass=100)
    refused, most, *_ = _figures(str(told.value))
    assert refused > most
