"""Densities against CoolProp, a library of fluid properties that rests on other sources than ours."""

import fluids
import numpy as np
import pytest

from drinklab.errors import InputError
from drinklab.physics import density

# INCOMP::MEA is Melinder's fit (2010). It reaches a mass fraction of 0.60 and stops where ice begins.
MASS_FRACTIONS = np.arange(0, 0.601, 0.05)
TEMPERATURES = np.arange(-20, 40.1, 5)


def melinder(x, t):
    """Density [kg/m³], or NaN where the mixture is frozen."""
    try:
        return fluids.PropsSI("D", "T", t + 273.15, "P", 101325, f"INCOMP::MEA[{x}]")
    except ValueError:
        return np.nan


def deviations():
    theirs = np.array([[melinder(round(float(x), 2), float(t)) for t in TEMPERATURES] for x in MASS_FRACTIONS])
    return density._ethanol_water(MASS_FRACTIONS[:, None], TEMPERATURES[None, :]) - theirs


def test_ethanol_water_against_melinder():
    off = deviations()
    liquid = np.isfinite(off)
    assert liquid.sum() > 120
    assert liquid[:, TEMPERATURES > 0].all()
    assert np.abs(off[liquid]).max() < 2.0  # at the freezing edge
    assert np.sqrt(np.mean(off[liquid] ** 2)) < 0.5
    assert np.nanmax(np.abs(off[:, TEMPERATURES >= 0])) < 0.6


def test_water_against_the_iapws_equation():
    t = np.linspace(0.01, 40, 81)
    theirs = fluids.PropsSI("D", "T", t + 273.15, "P", 101325, "Water")
    np.testing.assert_allclose(density.water(t), theirs, atol=0.02)
    np.testing.assert_allclose(density.ethanol_water(0.0, t), theirs, atol=0.02)
    hot = np.append(np.linspace(40, 99, 60), 20.0)
    theirs = fluids.PropsSI("D", "T", hot + 273.15, "P", 101325, "Water")
    np.testing.assert_allclose(density.water(hot), theirs, atol=0.02)
    assert density.water() == pytest.approx(theirs[-1], abs=0.01)
    assert density.water(100.0) < theirs[-2]
    with pytest.raises(InputError, match=r"temperature is 100\.01; it must be 0 to 100 °C"):
        density.water(100.01)


def test_a_drink_swells_to_60_degrees():
    """The alcohol formula beyond its 40 °C, for volumes alone: water and ethanol by CoolProp; between them the shrinking at
    0.082 mol/mol, measured as -0.420 cm3/mol at all of 5 to 65 °C (Marsh and Richards 1980, abstract; read)."""
    for celsius in (45.0, 50.0, 55.0, 60.0):
        kelvin = celsius + 273.15
        pure = {name: fluids.PropsSI("D", "T", kelvin, "P", 101325, name) for name in ("Water", "Ethanol")}
        assert 1e6 / density.solution_volume({"water": 1000}, celsius) == pytest.approx(pure["Water"], rel=5e-5)
        assert 1e6 / density.solution_volume({"ethanol": 1000}, celsius) == pytest.approx(pure["Ethanol"], rel=1.5e-3)
        grams = {"ethanol": 0.082 * 46.0684, "water": 0.918 * 18.01528}
        apart = 1e3 * (grams["ethanol"] / pure["Ethanol"] + grams["water"] / pure["Water"])
        assert density.solution_volume(grams, celsius) - apart == pytest.approx(-0.420, abs=0.006)
    with pytest.raises(InputError, match="temperature is 61"):
        density.solution_volume({"water": 1.0}, 61.0)
