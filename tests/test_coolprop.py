"""Densities against CoolProp, a library of fluid properties that rests on other sources than ours."""

import numpy as np
from CoolProp.CoolProp import PropsSI

from drinklab.physics import density

# INCOMP::MEA is Melinder's fit (2010). It reaches a mass fraction of 0.60 and stops where ice begins.
MASS_FRACTIONS = np.arange(0, 0.601, 0.05)
TEMPERATURES = np.arange(-20, 40.1, 5)


def melinder(x, t):
    """Density [kg/m³], or NaN where the mixture is frozen."""
    try:
        return PropsSI("D", "T", t + 273.15, "P", 101325, f"INCOMP::MEA[{x}]")
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
    theirs = PropsSI("D", "T", t + 273.15, "P", 101325, "Water")
    np.testing.assert_allclose(density.water(t), theirs, atol=0.02)
    np.testing.assert_allclose(density.ethanol_water(0.0, t), theirs, atol=0.02)
