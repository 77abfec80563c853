"""Carbon dioxide in water and drinks against other people's equations and tables."""

import CoolProp.CoolProp as CP
import numpy as np
import pytest

from drinklab.errors import InputError
from drinklab.physics import density, solubility
from drinklab.physics.solubility import ATMOSPHERE, co2, co2_spread, co2_water

SIX = (0.0, 5.0, 10.0, 20.0, 30.0, 40.0)


@pytest.mark.parametrize("temperature", SIX)
def test_water_against_carroll(temperature):
    """Carroll, Slupsky and Mather 1991, J. Phys. Chem. Ref. Data 20, 1201 (read): Henry's constant by mole fraction,
    273 to 433 K, from about a hundred sets of measurements. The two differ by up to 3 % below 10 °C."""
    kelvin = temperature + 273.15
    henry = np.exp(-6.8346 + 1.2817e4 / kelvin - 3.7668e6 / kelvin**2 + 2.997e8 / kelvin**3)  # MPa
    share = ATMOSPHERE / 1000 / henry
    moles = share / (1 - share) * density.water(temperature) / 18.01528  # mol/L
    assert co2_water(temperature) == pytest.approx(44.0095 * moles, rel=0.03)


@pytest.mark.parametrize("temperature", [15.0, 20.0, 25.0, 30.0])
def test_water_against_sander(temperature):
    """Sander 2023, Atmos. Chem. Phys. 23, 10901 (read): 3.4e-4 mol/(m³ Pa) at 25 °C, 2300 K; two figures given."""
    henry = 3.4e-4 * np.exp(2300 * (1 / (temperature + 273.15) - 1 / 298.15))
    assert co2_water(temperature) == pytest.approx(henry * 101325 * 44.0095 / 1000, rel=0.02)


@pytest.mark.parametrize(("temperature", "bunsen"), [(0, 1.7967), (4, 1.5126), (10, 1.1847), (20, 0.9014)])
def test_water_against_bunsen(temperature, bunsen):
    """Bunsen's own volumes of the 1850s, as a brewing text gives them (read); they lie 1 to 5 % high."""
    assert co2_water(temperature) / 1.9768 == pytest.approx(bunsen, rel=0.05)


@pytest.mark.parametrize(
    ("temperature", "abv", "sugar", "henry"),
    [(10, 12.5, 10, 2.1), (6, 5.0, 38, 2.4)],
    ids=["champagne", "lager"],
)
def test_henry_constants_of_drinks(temperature, abv, sugar, henry):
    """ACS Omega 2021, 6, 9672, table 1 (read), in g/(L bar), to two figures. The lager's strength and extract are not
    in the table: taken as usual ones."""
    found = co2(temperature, 100.0, abv, sugar)
    assert found == pytest.approx(henry, abs=0.05 + co2_spread(abv, sugar) * henry)
    if abv == 12.5:
        assert found == pytest.approx(henry, abs=0.05)


@pytest.mark.parametrize(("abv", "sugar"), [(0, 0), (9, 0), (12, 5), (12, 30)])
def test_the_eu_formula_for_wine_lies_within_the_spread(abv, sugar):
    """Regulation (EEC) 2676/90, chapter 37 (read second hand): at 20 °C, for each 100 kPa of absolute pressure,
    1.951 (0.86 - 0.01 A)(1 - 0.00144 S) g/L."""
    eu = 1.951 * (0.86 - 0.01 * abv) * (1 - 0.00144 * sugar)
    found = co2(20.0, 100.0, abv, sugar)
    assert eu == pytest.approx(found, rel=co2_spread(abv, sugar))


def test_stronger_is_less_sure():
    around = co2_spread(np.arange(0.0, 41.0))
    assert (np.diff(around) > 0).all()
    assert around[40] > 2 * around[13] > 4 * around[0]
    # that there is a lowest point is published (Postigo and Katz 1987)
    factor = co2(20.0, abv=np.arange(0.0, 41.0)) / co2(20.0)
    assert 0 < factor.argmin() < 40


def test_one_volume():
    """1 L of gas at 0 °C and 1 atm: 44.0095 / 22.414 L, which the trade rounds to 1.96 g/L."""
    assert pytest.approx(44.0095 / 22.414, abs=0.005) == solubility.VOLUME
    assert solubility.gas_grams(ATMOSPHERE, 1000.0, 0.0) == pytest.approx(44.0095 / 22.414, rel=1e-4)
    assert solubility.volumes_from_grams(solubility.grams_from_volumes(2.6)) == pytest.approx(2.6)


def test_gas_above_a_drink_against_the_real_gas():
    """CoolProp (Span and Wagner): an ideal gas weighs 4 % less at most, up to 6 bar."""
    for bar in (1.0, 3.0, 6.0):
        real = CP.PropsSI("D", "T", 277.15, "P", bar * 1e5, "CO2")  # g/L
        assert solubility.gas_grams(100 * bar, 1000.0, 4.0) == pytest.approx(real, rel=0.042)


@pytest.mark.parametrize("temperature", [-20.0, 0.0, 5.0, 10.0, 20.0, 25.0, 30.0])
def test_cartridge_pressure(temperature):
    real = CP.PropsSI("P", "T", temperature + 273.15, "Q", 0, "CO2") / 1000
    assert solubility.cartridge_pressure(temperature) == pytest.approx(real, rel=2e-4)
    if temperature == 20.0:
        assert solubility.cartridge_pressure(20.0) == pytest.approx(5729, abs=1)  # 57.29 bar


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: co2_water(41), "temperature is 41; it must be -10 to 40 °C."),
        (lambda: co2(4, abv=45), "strength is 45; it must be 0 to 40 % vol: how much gas a stronger drink holds is"),
        (lambda: co2_spread(41), "strength is 41; it must be 0 to 40 % vol: how much gas a stronger drink holds is"),
        (lambda: co2(4, sugar=500), "sugar and other dissolved solids is 500; it must be 0 to 400 g/L."),
        (lambda: co2(4, pressure=-1), "pressure is -1; it must be a number of at least 0 kPa absolute."),
        (
            lambda: solubility.cartridge_pressure(40),
            "temperature is 40; it must be -56 to 30.9 °C: keep cartridges cool",
        ),
    ],
)
def test_refusals(call, said):
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value).startswith(said)
