"""Amounts and temperatures as people write them, refusals that name what is wrong, and the door."""

import inspect
import math
from typing import get_args, get_type_hints

import numpy as np
import pint
import pytest

from drinklab import boiling, carbonation, dilution, filtering, gels, kinds, milk, strength, units
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE, split_amount, to_celsius, to_kpa, to_ml, ureg

foreign = pint.UnitRegistry()  # somebody else's: pint refuses to mix it with ours

# --- amounts ----------------------------------------------------------------------------------------
AMOUNTS = {
    "45": 45, "45 mL": 45, "45ml": 45, " 45  ML ": 45, "4.5 cl": 45, "1,5 cl": 15, "0,75 cl": 7.5, ",5 cl": 5,
    ".5 dl": 50, "1 dl": 100, "1 L": 1000, "1.5 litres": 1500, "0": 0,
    "1 oz": FLUID_OUNCE, "1.5 oz": 1.5 * FLUID_OUNCE, "1,5 oz": 1.5 * FLUID_OUNCE, "1 1/2 oz": 1.5 * FLUID_OUNCE,
    "3/4 oz": 0.75 * FLUID_OUNCE, "½ oz": FLUID_OUNCE / 2, "1½ oz": 1.5 * FLUID_OUNCE, "1½oz": 1.5 * FLUID_OUNCE,
    "⅓ oz": FLUID_OUNCE / 3, "2 fl oz": 2 * FLUID_OUNCE, "2 fl. oz": 2 * FLUID_OUNCE, "2 floz": 2 * FLUID_OUNCE,
    "2 FL OZ": 2 * FLUID_OUNCE, "2 fluid ounces": 2 * FLUID_OUNCE, "1 ounce": FLUID_OUNCE,
    "1 jigger": 1.5 * FLUID_OUNCE, "1 pony": FLUID_OUNCE, "1 US pint": 16 * FLUID_OUNCE, "1 US gal": 128 * FLUID_OUNCE,
    "2 dash": 1.8, "3 dashes": 2.7, "10 drops": 0.5, "1 barspoon": 5, "3 bar spoons": 15, "1 tsp": 5, "2 tbsp": 30,
}  # fmt: skip


@pytest.mark.parametrize(("text", "ml"), AMOUNTS.items())
def test_written_amount(text, ml):
    assert to_ml(text) == pytest.approx(ml, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("45 mL aged rum, 50 %", (45.0, "milliliter", "aged rum, 50 %")),
        ("1½ oz fino sherry", (1.5, "fluid_ounce", "fino sherry")),
        ("2 fl oz grapefruit juice", (2.0, "fluid_ounce", "grapefruit juice")),
        ("2 lemons", (2.0, "", "lemons")),
        ("cold black tea", None),
        ("1/0 oz", None),
    ],
)
def test_split_amount(text, parts):
    assert split_amount(text) == parts


def test_us_fluid_ounce_is_231_cubic_inches_over_128():
    assert pytest.approx(2.54**3 * 231 / 128, rel=1e-12) == FLUID_OUNCE


@pytest.mark.parametrize(
    ("value", "unit", "ml"),
    [
        (45, "milliliter", 45), (1.5, "fluid_ounce", 1.5 * FLUID_OUNCE), (1, "liter", 1000), (2, "teaspoon", None),
        (3, "cm**3", 3),
    ],
)  # fmt: skip
@pytest.mark.parametrize("registry", ["ours", "foreign"])
def test_quantity(registry, value, unit, ml):
    if ml is None:  # a US teaspoon in another's registry, a metric one in ours
        ml = value * (5 if registry == "ours" else FLUID_OUNCE / 6)
    quantity = {"ours": ureg, "foreign": foreign}[registry].Quantity(value, unit)
    assert to_ml(quantity) == pytest.approx(ml)
    assert to_ml(np.array([1, 2]) * quantity).tolist() == pytest.approx([ml, 2 * ml])


@pytest.mark.parametrize("measure", units.BAR_MEASURES)
def test_registry_and_typed_text_agree(measure):
    assert ureg.Quantity(1, measure).m_as("milliliter") == pytest.approx(units.BAR_MEASURES[measure], rel=1e-8)


def test_an_oz_is_a_volume_at_a_bar():
    assert ureg.Quantity(1, "oz").is_compatible_with("milliliter")
    assert to_ml(ureg("2 oz")) == pytest.approx(2 * FLUID_OUNCE)
    # in another's registry "oz" is a weight, and is refused rather than guessed
    with pytest.raises(InputError, match="not a weight"):
        to_ml(foreign.Quantity(1, "oz"))


def test_numbers_and_arrays_are_millilitres():
    assert to_ml(60) == 60.0
    assert to_ml([30, 60]).tolist() == [30, 60]
    assert isinstance(to_ml(np.int64(3)), float)


def test_weight_needs_a_density():
    assert to_ml("8 g", density=1.6) == pytest.approx(5)
    assert to_ml("0.5 kg", density=1.25) == pytest.approx(400)
    assert to_ml(foreign.Quantity(8, "gram"), density=1.6) == pytest.approx(5)


# --- refusals: field, value, allowed ------------------------------------------------------------------
REFUSED = [
    "", "oz", "lots", "nan", "inf mL", "2 oz gin", "30 furlongs", "1e3 mL", "1/0 oz", "1.234,5 mL", "-1 oz", "8 g", -1,
    math.nan, math.inf, -math.inf, [30, -2], [30, math.nan], None, True, {}, 1j, object,
    ureg.Quantity(3, "second"), foreign.Quantity(3, "second"), ureg.Quantity(-3, "milliliter"),
    ureg.Quantity(math.nan, "milliliter"),
]  # fmt: skip


@pytest.mark.filterwarnings("ignore:invalid value encountered:RuntimeWarning")
@pytest.mark.parametrize("amount", REFUSED, ids=str)
def test_refused_amount(amount):
    with pytest.raises(InputError) as caught:
        to_ml(amount, field="amount of 'lemon juice'")
    says_what(caught.value, "amount of 'lemon juice'")


def says_what(error, field):
    """One sentence: field is value; it must be allowed."""
    text = str(error)
    assert error.field == field
    assert text.startswith(f"{field} is ")
    assert "; it must be " in text
    assert text.endswith(".")
    assert "\n" not in text
    assert " nan" not in text
    assert error.allowed in text


def test_the_message_shows_value_and_allowed():
    with pytest.raises(InputError, match=r"^pour is '2 oz gin'; it must be an amount such as 45, '45 mL'"):
        to_ml("2 oz gin", field="pour")
    with pytest.raises(InputError, match=r"^pour is not a number; it must be a number of at least 0 mL\.$"):
        to_ml(math.nan, field="pour")
    with pytest.raises(InputError, match=r"^pour is -2; it must be a number of at least 0 mL\.$"):
        to_ml([30, -2], field="pour")
    with pytest.raises(InputError, match=r"^abv is 140; it must be 0 to 100 % vol\.$"):
        strength.abw_from_abv("140 % vol")
    with pytest.raises(InputError, match=r"^temperature is 'warm'; it must be a temperature such as 4,"):
        strength.abw_from_abv(40, "warm")


# --- temperatures ------------------------------------------------------------------------------------
TEMPERATURES = {
    "4": 4, "4 °C": 4, "4°C": 4, "-18": -18, "−18 °C": -18, "1,5 °C": 1.5, "20 degC": 20, "39.2 °F": 4, "68F": 20,
    "68 deg F": 20, "0 °F": -160 / 9, 4: 4, -18.0: -18,
}  # fmt: skip


@pytest.mark.parametrize(("written", "celsius"), TEMPERATURES.items())
def test_temperature(written, celsius):
    assert to_celsius(written) == pytest.approx(celsius)


@pytest.mark.parametrize("registry", ["ours", "foreign"])
def test_temperature_quantity(registry):
    Q = {"ours": ureg, "foreign": foreign}[registry].Quantity
    assert to_celsius(Q(4, "degC")) == pytest.approx(4)
    assert to_celsius(Q(39.2, "degF")) == pytest.approx(4)
    assert to_celsius(Q(277.15, "kelvin")) == pytest.approx(4)


@pytest.mark.parametrize(
    "written", ["", "warm", "4 K", "4 °C or so", "12 mL", None, True, ureg.Quantity(1, "gram")], ids=str
)
def test_refused_temperature(written):
    with pytest.raises(InputError) as caught:
        to_celsius(written, "fridge")
    says_what(caught.value, "fridge")


# --- pressures ---------------------------------------------------------------------------------------
PRESSURES = {
    "12 psi": 82.7371, "12 psig": 82.7371, "12psi": 82.7371, "0,8 bar": 80, "1 Bar gauge": 100, "80 kPa": 80, "80": 80,
    80: 80, 0: 0,
}  # fmt: skip


@pytest.mark.parametrize(("written", "kpa"), PRESSURES.items())
def test_pressure(written, kpa):
    assert to_kpa(written) == pytest.approx(kpa, rel=1e-5)


@pytest.mark.parametrize("registry", ["ours", "foreign"])
def test_pressure_quantity(registry):
    Q = {"ours": ureg, "foreign": foreign}[registry].Quantity
    assert to_kpa(Q(12, "psi")) == pytest.approx(82.7371, rel=1e-5)
    assert to_kpa(Q(1, "atm")) == pytest.approx(101.325)


@pytest.mark.parametrize(
    "written",
    [
        "",
        "lots",
        "30 psia",
        "1,000 kPa",
        "2 bar abs",
        "-1 psi",
        -1,
        math.nan,
        1e6,
        None,
        True,
        ureg.Quantity(1, "gram"),
    ],
    ids=str,
)
def test_refused_pressure(written):
    with pytest.raises(InputError) as caught:
        to_kpa(written, "regulator")
    says_what(caught.value, "regulator")


# --- display -----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (Display().volume_text(44.36), "44 mL"),
        (Display().volume_text(7.5), "7.5 mL"),
        (Display().volume_text(5), "5.0 mL"),
        (Display().volume_text(0.9), "0.9 mL"),
        (Display().volume_text(120, spread=3.2), "120 ± 3 mL"),
        (Display().volume_text(120, spread=0.1), "120 ± 1 mL"),
        (Display().volume_text(4, signed=True), "+4.0 mL"),
        (Display().volume_text(-4.4, signed=True), "−4.4 mL"),
        (Display().volume_text(-0.04, signed=True), "0.0 mL"),
        (Display(volume="oz").volume_text(44.36), "1.50 oz"),
        (Display(volume="oz").volume_text(0.9), "0.03 oz"),
        (Display(volume="oz").volume_text(120, spread=3.2), "4.06 ± 0.11 oz"),
        (Display().text(kinds.ABV, 17.42, 0.83), "17.4 ± 0.8 % vol"),
        (Display().text(kinds.CONCENTRATION, -12.3, signed=True), "−12.3 g/L"),
        (Display().text(kinds.CONCENTRATION, 85.4, 4.4), "85 ± 4 g/L"),
        (Display(volume="oz").text(kinds.MASS, 14.0), "14.0 g"),
        (Display().text(kinds.RATIO, math.inf), "no acid"),
        (Display().temperature_text(4), "4 °C"),
        (Display().temperature_text(-18), "−18 °C"),
        (Display(temperature="°F").temperature_text(4), "39 °F"),
        (Display(temperature="°F").temperature_text(-20), "−4 °F"),
    ],
)
def test_display_text(shown, text):
    assert shown == text


def test_display_refuses_other_units():
    with pytest.raises(InputError, match="volume unit is 'cl'; it must be one of mL, oz"):
        Display(volume="cl")
    with pytest.raises(InputError, match="temperature unit is 'K'"):
        Display(temperature="K")


# --- a choice of unit changes no result --------------------------------------------------------------
@pytest.mark.parametrize(
    "volume",
    [
        "1.5 oz", "1 1/2 oz", "4.436029434375 cl", "44.36029434375 mL", 1.5 * FLUID_OUNCE, ureg.Quantity(1.5, "oz"),
        foreign.Quantity(1.5, "fluid_ounce"), 1.5 * Display(volume="oz").ml,
    ],
    ids=str,
)  # fmt: skip
@pytest.mark.parametrize(
    "abv", [50, "50", "50 %", "50 % vol", ureg.Quantity(50, "percent"), foreign.Quantity(0.5)], ids=str
)
def test_amount_in_any_unit_gives_one_answer(volume, abv):
    assert strength.water_to_reach(volume, abv, 40) == pytest.approx(
        strength.water_to_reach(44.36029434375, 50, 40), rel=1e-8
    )


@pytest.mark.parametrize("temperature", [4, "4", "4 °C", "39.2 °F", ureg.Quantity(277.15, "kelvin")], ids=str)
def test_temperature_in_any_unit_gives_one_answer(temperature):
    assert strength.abw_from_abv(40, temperature) == pytest.approx(strength.abw_from_abv(40, 4), rel=1e-12)


def test_recipe_shown_in_ounces_is_the_same_recipe():
    sour = Recipe.parse("45 mL aged rum, 50 %\n22.5 mL lemon juice\n20 mL honey syrup", technique="shaken")
    for display in (Display(), Display(volume="oz")):
        again = Recipe.parse(sour.text(display=display), technique="shaken")
        assert again.amounts == pytest.approx(sour.amounts, rel=1e-3)  # four figures are shown
        assert [p.ingredient for p in again.pours] == [p.ingredient for p in sour.pours]
        assert [p.abv for p in again.pours] == [p.abv for p in sour.pours]


# --- the door ----------------------------------------------------------------------------------------
def kind_of(hint):
    """The Kind in an annotation, also inside a union."""
    found = [m for part in (hint, *get_args(hint)) for m in getattr(part, "__metadata__", ())]
    return next((k for k in found if isinstance(k, kinds.Kind)), None)


GOOD = {
    kinds.VOLUME: 50.0, kinds.MASS: 8.0, kinds.TEMPERATURE: 20.0, kinds.ABV: 40.0, kinds.ABW: 40.0, kinds.PROOF: 80.0,
    kinds.UK_PROOF: 70.0,
    kinds.CONCENTRATION: 100.0, kinds.DENSITY: 1000.0, kinds.FRACTION: 0.5, kinds.RATIO: 2.0, dilution.RULE_RANGE: 25.0,
    kinds.GAUGE_PRESSURE: 500.0, kinds.GAS_VOLUMES: 2.5, gels.BLOOM: 200.0, boiling.FLASH_RANGE: 40.0,
}  # fmt: skip
SECONDS = ureg.Quantity(3, "second")


def public_functions():
    for module in (strength, dilution, carbonation, milk, filtering, boiling, gels):
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if f"{function.__module__}.".startswith(f"{module.__name__}.") and not name.startswith("_"):
                yield f"{module.__name__.split('.')[-1]}.{name}", function


def arguments():
    """(label, function, argument, kind) for every argument that has a kind."""
    for label, function in public_functions():
        hints = get_type_hints(function, include_extras=True)
        for name in inspect.signature(function).parameters:
            if (kind := kind_of(hints.get(name))) is not None:
                yield label, function, name, kind


def call(function, **changed):
    hints = get_type_hints(function, include_extras=True)
    given = {
        name: GOOD[kind_of(hints[name])]
        for name in inspect.signature(function).parameters
        if kind_of(hints.get(name)) is not None
    }
    taken = inspect.signature(function).parameters
    others = {"liquid": strength.spirit(90, 20), "minutes": 5.0, "ice_temperature": 0.0}
    others |= {"still": strength.spirit(50, 40), "mixer": carbonation.with_gas(strength.spirit(150, 0), 4)}
    others |= {"vessel_volume": 500.0, "loss": 0.05}
    if function is dilution.weakest_liquid:
        others["temperature"] = -18.0
    if function.__module__.startswith(milk.__name__):
        others |= {"liquid": strength.spirit(90, 20) + Liquid.of(citric=1.0), "measured_ph": 3.8}
    if function.__module__ == filtering.__name__:
        others["minutes"] = ()
    others = {name: value for name, value in others.items() if name in taken}
    return function(**given | others | changed)


def bad_values():
    for label, function, name, kind in arguments():
        bad = [kind.low - 1, np.array([GOOD[kind], kind.low - 1]), math.nan, "lots", SECONDS]
        if math.isfinite(kind.high):
            bad += [kind.high + 1, math.inf, f"{kind.high + 1:g}"]
        if kind is kinds.TEMPERATURE:
            bad += [-300, 1e6, "500 °F"]  # beyond the alcohol tables
        for value in bad:
            yield pytest.param(function, name, value, id=f"{label}({name}={value})")


@pytest.mark.filterwarnings("ignore:invalid value encountered:RuntimeWarning")
@pytest.mark.parametrize(("function", "name", "value"), list(bad_values()))
def test_the_door_names_the_argument(function, name, value):
    call(function)  # the other arguments are fine
    with pytest.raises(InputError) as caught:
        call(function, **{name: value})
    # "liquid_or_grams" is called "grams" once it is known to be that
    assert caught.value.field == name or (caught.value.field in name.split("_") and "_or_" in name)
    says_what(caught.value, caught.value.field)


def test_the_door_test_finds_the_arguments():
    found = {f"{label}({name})" for label, _, name, _ in arguments()}
    assert {
        "strength.abw_from_abv(abv)", "strength.abw_from_abv(temperature)", "strength.abv_from_us_proof(proof)",
        "strength.contraction(volume_b)", "strength.standard_drinks(liquid_or_grams)", "dilution.stirred(abv)",
        "dilution.weakest_liquid(temperature)", "carbonation.pressure_for(volumes)", "boiling.boil(share)",
    } <= found  # fmt: skip


def test_the_door_keeps_name_and_help():
    assert strength.abw_from_abv.__name__ == "abw_from_abv"
    assert "Strength by mass" in strength.abw_from_abv.__doc__
    assert list(inspect.signature(strength.abw_from_abv).parameters) == ["abv", "temperature"]


def test_the_door_leaves_none_and_other_arguments_alone():
    @units.door
    def pour(volume: kinds.Millilitres | None = None, name: str = "", share: kinds.Fraction = 1.0):
        return volume, name, share

    assert pour(None, "rum") == (None, "rum", 1.0)
    assert pour("1 cl", "rum", share="0,5") == (10.0, "rum", 0.5)
    with pytest.raises(InputError, match=r"^share is 1\.5; it must be 0 to 1"):
        pour(1, "rum", 1.5)


def test_results_are_plain_numbers():
    assert type(strength.abw_from_abv(ureg.Quantity(40, "percent"))) is float
    assert isinstance(strength.abw_from_abv([40, 50]), np.ndarray)


def test_targets_that_water_cannot_reach():
    with pytest.raises(InputError, match=r"^target_abv is 50; it must be at most .*40 % vol"):
        strength.water_to_reach(700, 40, 50)
    with pytest.raises(InputError, match=r"^target_abv is 0; it must be above 0 % vol"):
        strength.water_to_reach(700, 40, 0)


@pytest.mark.parametrize(
    ("abv", "allowed"), [(61, "0 to 60 % vol for the shaken rule"), (-1, "0 to"), (math.nan, "0 to")]
)
def test_melt_of_a_drink_that_the_rule_does_not_cover(abv, allowed):
    with pytest.raises(InputError, match=rf"^strength before ice is .*; it must be {allowed}"):
        dilution.melt_fraction(abv, "shaken")


def test_melt_names_an_unknown_technique_and_serve():
    with pytest.raises(InputError, match=r"^technique is 'stired'; it must be one of .*did you mean stirred"):
        dilution.melt_fraction(25, "stired")
    with pytest.raises(InputError, match=r"^serve is 'tall'"):
        dilution.melt_fraction(25, "stirred", "tall")


# --- corners -----------------------------------------------------------------------------------------
WARM = Display(temperature="°F")


@pytest.mark.parametrize(
    "check",
    [
        pytest.param(lambda: WARM.temperature_text(-18) == "0 °F", id="no minus zero degrees"),
        pytest.param(lambda: to_ml("2 fl. oz.") == to_ml("2 fl oz"), id="fl. oz. with both points"),
        pytest.param(lambda: refused(lambda: to_ml("1,000 mL")), id="1,000 mL is 1 mL or 1 L: must be refused"),
        pytest.param(lambda: refused(lambda: to_celsius(math.nan)), id="NaN degrees"),
        pytest.param(lambda: refused(lambda: to_celsius("-500 °C")), id="below absolute zero"),
        pytest.param(lambda: refused(lambda: dilution.melt_fraction("lots", "built", "long")), id="text as strength"),
        pytest.param(lambda: refused(lambda: dilution.melt_fraction(math.nan, "built", "on ice")), id="NaN strength"),
        pytest.param(lambda: refused(lambda: dilution.melt_fraction(140, "blended")), id="140 % vol blended"),
    ],
)
def test_corner(check):
    assert check()


def refused(function):
    with pytest.raises(InputError):
        function()
    return True


@pytest.mark.filterwarnings("error")
def test_infinity_is_refused_without_a_warning():
    with pytest.raises(InputError):
        to_ml(math.inf)
