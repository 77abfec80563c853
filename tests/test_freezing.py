"""Freezing points and heat against handbook tables and a general reference library."""

import csv
from pathlib import Path

import fluids as CP
import numpy as np
import pytest

from drinklab.errors import InputError
from drinklab.physics import freezing

# Lange's Handbook, table 5.13 (read; the minus signs that the page had lost are restored): % mass, °C.
LANGE = [(2.5, -1.0), (4.8, -2.0), (6.8, -3.0), (11.3, -5.0), (13.8, -6.1), (16.4, -7.5), (20.3, -10.6), (22.1, -12.2),
         (26.7, -16.0), (29.9, -18.9), (33.8, -23.6), (39.0, -28.7)]  # fmt: skip


@pytest.mark.parametrize(("mass", "published"), LANGE)
def test_ethanol_against_the_handbook(mass, published):
    """The two published sources differ by up to 1.1 °C (at 16 to 30 % mass): that is the tolerance there."""
    tolerance = 1.2 if 13 < mass < 31 else 0.35
    assert freezing.freezing_point(mass / 100) == pytest.approx(published, abs=tolerance)


def test_ethanol_against_the_reference_library():
    """CoolProp INCOMP::MEA gives its freezing point where it refuses to go below: our table is that curve."""
    for mass in np.arange(0.05, 0.56, 0.05):
        point = freezing.freezing_point(mass)
        CP.PropsSI("D", "T", 273.15 + point + 0.1, "P", 101325, f"INCOMP::MEA[{mass:.4f}]")
        with pytest.raises(ValueError, match="below the freezing point"):
            CP.PropsSI("D", "T", 273.15 + point - 0.1, "P", 101325, f"INCOMP::MEA[{mass:.4f}]")


def test_water_freezes_at_zero():
    assert freezing.freezing_point(0) == 0


def test_sucrose():
    """12 % sucrose freezes at -0.77 °C (Clarke, The Science of Ice Cream; read). The rest: CRC, from memory."""
    assert freezing.freezing_point(0, 0.12) == pytest.approx(-0.77, abs=0.02)
    for share, point in [(0.10, -0.63), (0.20, -1.47), (0.40, -4.45)]:
        assert freezing.freezing_point(0, share) == pytest.approx(point, abs=0.15)


def test_lactose_share_of_milk():
    """Of milk's -0.55 °C its lactose makes 0.306 °C (Leighton 1927; read): 4.9 g in 87.11 g of water."""
    found = freezing.freezing_point_of({"water": 87.11, "lactose": 4.9})
    assert found == pytest.approx(-0.306, abs=0.01)


def test_dilute_limit():
    """1.86 °C for a mole of anything in a kilogram of water."""
    for name, (molar, _) in freezing.SOLUTES.items():
        grams = {"water": 1000.0, name: 0.05 * molar}
        assert freezing.freezing_point_of(grams) == pytest.approx(-0.05 * 1.86, abs=0.006), name


def test_molar_masses_by_their_formulas():
    """Atoms of C, H, O, P and K; atomic weights of the IUPAC."""
    sugar, milk_sugar, potassium = (6, 12, 6, 0, 0), (12, 22, 11, 0, 0), (0, 0, 0, 0, 1)
    formulas = {
        "sucrose": milk_sugar, "glucose": sugar, "fructose": sugar, "lactose": milk_sugar, "citric": (6, 8, 7, 0, 0),
        "malic": (4, 6, 5, 0, 0), "tartaric": (4, 6, 6, 0, 0), "lactic": (3, 6, 3, 0, 0), "acetic": (2, 4, 2, 0, 0),
        "phosphoric": (0, 3, 4, 1, 0), "potassium": potassium, "unsure_potassium": potassium,
    }  # fmt: skip
    for name, (molar, _) in freezing.SOLUTES.items():
        assert molar == pytest.approx(np.dot(formulas[name], (12.011, 1.008, 15.999, 30.974, 39.098)), rel=1e-4), name


def test_mixture_by_the_rule_of_ross():
    """16 g ethanol, 10 g sucrose, 74 g water: -10.14 °C, worked from the two curves in the science notes."""
    assert freezing.freezing_point(0.16, 0.10) == pytest.approx(-10.14, abs=0.03)


def test_heat_capacity_of_ethanol_water_to_two_per_cent():
    for mass in (0.05, 0.1, 0.15, 0.25, 0.333, 0.45):
        for t in (-3 if mass > 0.1 else 2, 5, 15, 25):
            reference = CP.PropsSI("C", "T", 273.15 + t, "P", 101325, f"INCOMP::MEA[{mass}]") / 1000
            found = freezing.heat_capacity({"water": 1 - mass, "ethanol": mass}, t)
            assert found == pytest.approx(reference, rel=0.02), (mass, t)


@pytest.mark.parametrize(("brix", "published"), [(10, 3.948), (30, 3.476), (50, 3.004), (60, 2.767)])
def test_heat_capacity_of_syrup_to_two_per_cent(brix, published):
    """Llano 2005 as read in public code, 20 °C: 4184 - 2511 w + 7.5 w t."""
    found = freezing.heat_capacity({"water": 1 - brix / 100, "sucrose": brix / 100}, 20.0)
    assert found == pytest.approx(published, rel=0.02)


def test_ice_and_latent_heat():
    """IAPWS-06 and IAPWS-95 at 1 atm: 333.42 kJ/kg to melt; 36.5 to warm ice from -18 to 0 °C; 84.0 from 0 to 20."""
    water = {"water": 1.0}
    assert freezing.liquid_heat(water, 0.0) - freezing.ice_heat(0.0) == pytest.approx(333.42, abs=0.01)
    assert freezing.ice_heat(0.0) - freezing.ice_heat(-18.0) == pytest.approx(36.5, abs=0.1)
    assert freezing.liquid_heat(water, 20.0) - freezing.liquid_heat(water, 0.0) == pytest.approx(84.0, abs=0.1)
    for t in (2, 10, 20, 30):
        reference = (
            CP.PropsSI("H", "T", 273.15 + t, "P", 101325, "Water") - CP.PropsSI("H", "T", 273.16, "P", 101325, "Water")
        ) / 1000
        assert freezing.liquid_heat(water, float(t)) - freezing.liquid_heat(water, 0.01) == pytest.approx(
            reference, rel=0.002
        )


@pytest.mark.parametrize(
    ("x", "published"),
    [(0.05, -572), (0.10, -768), (0.15, -810), (0.20, -783), (0.30, -666), (0.50, -463), (0.90, -164)],
)
def test_heat_of_mixing(x, published):
    """Larkin 1975 at 298.15 K; the values recomputed from the coefficients that were read. [J/mol]"""
    grams = x * freezing.ETHANOL_MOLAR, (1 - x) * freezing.WATER_MOLAR
    found = freezing.heat_of_mixing(grams[0] / sum(grams)) * sum(grams)
    assert found == pytest.approx(published, abs=1.5)


def test_water_and_strong_spirit_warm_when_mixed():
    """50 mL of water and 50 mL of 95 % vol: a class experiment reports 6.5 °C (read), the balance gives 7.3."""
    spirit = {"water": 1 - 0.92408, "ethanol": 0.92408}
    mass = 50 * 0.8114
    parts = {k: v * mass for k, v in spirit.items()}
    together = {"water": parts["water"] + 49.91, "ethanol": parts["ethanol"]}
    before = freezing.liquid_heat(parts, 20.0) + freezing.liquid_heat({"water": 49.91}, 20.0)
    rise = (before - freezing.liquid_heat(together, 20.0)) / freezing.heat_capacity(together, 20.0)
    assert rise == pytest.approx(6.9, abs=0.7)


def test_stronger_or_sweeter_never_freezes_higher():
    ethanol, sucrose = np.meshgrid(np.linspace(0, 0.35, 36), np.linspace(0, 0.4, 41), indexing="ij")
    points = freezing.freezing_point(ethanol, sucrose)
    assert np.all(np.diff(points, axis=0) < 0)
    assert np.all(np.diff(points, axis=1) < 0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: freezing.freezing_point(1.2), "ethanol mass fraction is 1.2; it must be 0 to 1"),
        (lambda: freezing.freezing_point(0.7), "ethanol in the ethanol and water is 0.7; it must be 0 to 0.6"),
        (lambda: freezing.freezing_point(0.2, 0.9), "sucrose mass fraction is 0.9; it must be 0 to 0.85"),
        (lambda: freezing.freezing_point(0.5, 0.5), "water is 0; it must be above 0 g"),
        (lambda: freezing.freezing_point(float("nan")), "ethanol mass fraction is not a number"),
    ],
)
def test_out_of_range_is_said(call, said):
    with pytest.raises(InputError) as problem:
        call()
    assert str(problem.value).startswith(said)


def test_the_table_is_the_published_one():
    path = Path(__file__).with_name("freezing_ethanol.csv")
    with open(path, encoding="utf-8") as file:
        for row in csv.DictReader(file):
            mass = float(row["ethanol_mass_pct"]) / 100
            assert freezing.freezing_point(mass) == pytest.approx(
                float(row["T_freeze_C_Melinder_CoolProp_MEA"]), abs=0.03
            )
