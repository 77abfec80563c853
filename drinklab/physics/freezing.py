"""Freezing points, heat content of drinks and ice, and the heat of mixing: what an ice balance needs.

Freezing point of a drink: each dissolved thing lowers the activity of water as if it were alone in all
the water, and the activities multiply (the rule of Ross). Ethanol follows its published freezing curve,
sugars, acids and potassium the equation of Norrish. All take floats and arrays alone.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..errors import InputError, require
from ..kinds import Number

ZERO = 273.15  # K
GAS = 8.314462618  # J/(mol K)
WATER_MOLAR, ETHANOL_MOLAR = 18.01528, 46.06844  # g/mol

# --- ethanol-water: freezing point [°C] at mass fractions of 0, 0.02, ... 0.60 -------------------------
# Melinder's fit, as the general reference library CoolProp gives it (INCOMP::MEA). Lange's Handbook of
# Chemistry, table 5.13, lies up to 1.1 °C higher between 16 and 30 % mass and agrees to 0.3 °C elsewhere.
MOST_ETHANOL = 0.60
ETHANOL_FREEZES = np.array([
    0.00, -0.83, -1.62, -2.46, -3.37, -4.38, -5.50, -6.73, -8.08, -9.55, -11.12, -12.79, -14.54, -16.36, -18.24,
    -20.14, -22.06, -23.97, -25.87, -27.73, -29.53, -31.28, -32.96, -34.58, -36.12, -37.61, -39.05, -40.47, -41.90,
    -43.36, -44.91,
])  # fmt: skip

ETHANOL_AT = np.linspace(0.0, MOST_ETHANOL, len(ETHANOL_FREEZES))

# --- sugars, acids, potassium: molar mass [g/mol] and Norrish's K ----------------------------------
#   ln a_w = ln x_w - K x_s²   (form: Baeza et al. 2010; the constants from memory, after Norrish 1966)
SOLUTES = {
    "sucrose": (342.30, 6.47), "glucose": (180.16, 2.25), "fructose": (180.16, 2.25), "lactose": (342.30, 10.2),
    "citric": (192.12, 6.17), "malic": (134.09, 1.82), "tartaric": (150.09, 4.68), "lactic": (90.08, 1.59),
    "acetic": (60.05, 0.0), "phosphoric": (97.99, 0.0), "potassium": (39.10, 0.0), "unsure_potassium": (39.10, 0.0),
}  # fmt: skip
# About one standard deviation of a drink's freezing point, from the spread of the two ethanol tables. [°C]
ERROR = 1.0

# --- ice -------------------------------------------------------------------------------------------------
# IAPWS-95 and IAPWS-06 at 1 atm: latent heat at 0 °C, and heat capacity of ice, straight in temperature
# (2.0967 at 0 °C, 1.9645 at -18 °C).
LATENT = 333.42  # J/g
ICE_CP = (2.0967, 0.00735)  # J/(g K), per °C
# Thermal diffusivity of ice at 0 °C (table of the properties of water and ice: 11.7e-7 m²/s, k = 2.24 W/(m K); read).
ICE_DIFFUSIVITY = 1.17  # mm²/s
# Water activity over ice: ln a_w = (dH - dC T0)/R (1/T0 - 1/T) + dC/R ln(T/T0)
_FUSION, _FUSION_CP = 6007.0, 38.2  # J/mol, J/(mol K), from the same values

# --- heat capacity of ethanol-water [J/(g K)] at 0 and 20 °C, straight between and beyond ------------------
# CoolProp INCOMP::MEA (Melinder); the row without ethanol is water by IAPWS-95. Good to 1 to 2 %.
_CP_AT = np.array([0.0, 0.05, 0.10, 0.20, 0.30, 0.333, 0.40, 0.50])
_CP_0 = np.array([4.2194, 4.334, 4.402, 4.369, 4.163, 4.076, 3.893, 3.634])
_CP_20 = np.array([4.1841, 4.241, 4.303, 4.329, 4.216, 4.159, 4.029, 3.824])
# Dissolved sugar, so that a sucrose solution has 4.184 - 2.511 w + 0.0075 w t (Llano 2005); acids and the
# rest are taken the same.
_SUGAR_CP = (1.673, 0.0075)

# --- excess enthalpy of ethanol-water at 25 °C: Larkin 1975, H = x(1-x) sum a_i x^n_i [J/mol] --------------
_LARKIN_POWERS = (0.0, 0.5, 1.5, 2.5, 4.5)
LARKIN = np.array([
    [-3.63868e5, 1.83829e3, -2.32763], [9.25982e5, -4.83586e3, 6.37228], [-14.04894e5, 7.51661e3, -10.11280],
    [10.91318e5, -5.89498e3, 7.98868], [-2.79986e5, 1.50557e3, -2.03127],
])  # fmt: skip


def log_water_activity(temperature: Number) -> Number:
    """ln of the activity of water that is in balance with ice at a temperature. [°C]

    >>> round(log_water_activity(-10.0), 4)
    -0.0973
    """
    kelvin = np.asarray(temperature, float) + ZERO
    found = (_FUSION - _FUSION_CP * ZERO) / GAS * (1 / ZERO - 1 / kelvin) + _FUSION_CP / GAS * np.log(kelvin / ZERO)
    return found if found.ndim else float(found)


_GRID = np.linspace(-60.0, 0.0, 601)
_GRID_ACTIVITY = log_water_activity(_GRID)
_ETHANOL_ACTIVITY = log_water_activity(ETHANOL_FREEZES)


def freezing_point(ethanol_mass_fraction: Number, sucrose_mass_fraction: Number = 0.0) -> Number:
    """Where a mixture of water, ethanol and sucrose begins to freeze.

    Parameters
    ----------
    ethanol_mass_fraction, sucrose_mass_fraction : float or array
        Of the whole, at most 0.60 of ethanol in ethanol and water. [g/g]

    Returns
    -------
    float or array
        [°C]

    Raises
    ------
    InputError
        Outside the range.

    Notes
    -----
    Good to about 1 °C: the two published ethanol tables differ by that much between 16 and 30 % mass.

    Examples
    --------
    >>> round(freezing_point(0.113), 1), round(freezing_point(0.16, 0.10), 1)
    (-5.1, -10.1)
    """
    require("ethanol mass fraction", ethanol_mass_fraction, 0, 1)
    require("sucrose mass fraction", sucrose_mass_fraction, 0, 0.85)
    ethanol, sucrose = np.asarray(ethanol_mass_fraction, float), np.asarray(sucrose_mass_fraction, float)
    found = freezing_point_of({"water": 1.0 - ethanol - sucrose, "ethanol": ethanol, "sucrose": sucrose})
    return float(found) if np.ndim(found) == 0 else found


def freezing_point_of(grams: Mapping[str, Number]) -> Number:
    """Freezing point of a drink from the grams it holds, by the rule of Ross. [°C]

    Parameters
    ----------
    grams : mapping of str to float or array
        "water", "ethanol" and the keys of `SOLUTES`; anything else (protein, fat, solids) counts as nothing.

    Raises
    ------
    InputError
        Without water, or with more ethanol than the tables cover.
    """
    water, ethanol = grams["water"], grams.get("ethanol", 0.0)
    if np.any(np.asarray(water) <= 0):
        raise InputError("water", float(np.min(water)), "above 0 g, or there is nothing to freeze")
    share = ethanol / (water + ethanol)
    require("ethanol in the ethanol and water", share, 0, MOST_ETHANOL, "of the mass (68 % vol)")
    return _freezing_point(grams)


def _freezing_point(grams: Mapping[str, Number]) -> Number:
    water, ethanol = grams["water"], grams.get("ethanol", 0.0)
    activity = np.interp(ethanol / (water + ethanol), ETHANOL_AT, _ETHANOL_ACTIVITY)
    moles = water / WATER_MOLAR
    for name, (molar, k) in SOLUTES.items():
        if name in grams:
            share = grams[name] / molar
            share = share / (share + moles)
            activity = activity + np.log1p(-share) - k * share * share
    return np.interp(activity, _GRID_ACTIVITY, _GRID)


def ice_heat(temperature: Number) -> Number:
    """Heat content of ice above that of water at 25 °C. [J/g]

    >>> round(float(ice_heat(0.0)), 1)
    -438.4
    """
    t = temperature
    return _ICE_AT_0 + ICE_CP[0] * t + ICE_CP[1] / 2 * t * t


def core_share(seconds: Number, edge: Number) -> Number:
    """How much of the heat that a cube of ice can take up or give is exchanged, its surface held at one temperature.

    Parameters
    ----------
    seconds : float or array
    edge : float or array
        [mm]

    Returns
    -------
    float or array
        0 to 1; a half after 6.4 s for 30 mm, since it goes with the square of the edge.

    Notes
    -----
    Conduction in a slab, and for a cube the product of three of them (Carslaw and Jaeger, Conduction of Heat in
    Solids, 1959, 1.15 and 3.4; from memory): the series for short times to a Fourier number of 0.2, that for long
    times from there, within 3e-4. Ice that is washed less well than that is slower, so this is the most.

    Examples
    --------
    >>> round(float(core_share(6.4, 30)), 2), round(float(core_share(60, 30)), 2)
    (0.5, 1.0)
    """
    fourier = ICE_DIFFUSIVITY * np.asarray(seconds, float) / (np.asarray(edge, float) / 2) ** 2
    short = 1.0 - 2.0 * np.sqrt(np.minimum(fourier, 0.2) / np.pi)
    late = np.pi**2 / 4 * np.maximum(fourier, 0.2)
    long = 8 / np.pi**2 * (np.exp(-late) + np.exp(-9 * late) / 9)
    return 1.0 - np.where(fourier < 0.2, short, long) ** 3


def liquid_heat(grams: Mapping[str, Number], temperature: Number) -> Number:
    """Heat content of a drink above that of its water, ethanol and sugar, apart, at 25 °C. [J]

    The heat of mixing at 25 °C (Larkin 1975), then the heat capacity of the mixture down or up to the
    temperature: so the heat of mixing at other temperatures follows without stretching Larkin's range
    (25 to 110 °C). Good to 2 % of the heat moved.

    Parameters
    ----------
    grams : mapping of str to float or array
        As for `freezing_point_of`.
    temperature : float or array
        [°C]
    """
    water, ethanol = grams["water"], grams.get("ethanol", 0.0)
    both = water + ethanol
    p = ethanol / both
    a, b = _capacity(p)
    sugar = sum(grams[n] for n in SOLUTES if n in grams)
    t = temperature
    return both * (np.interp(p, _MIX_AT, _MIX_HEAT) + a * (t - 25.0) + b / 2 * (t * t - 625.0)) + sugar * (
        _SUGAR_CP[0] * (t - 25.0) + _SUGAR_CP[1] / 2 * (t * t - 625.0)
    )


def heat_capacity(grams: Mapping[str, Number], temperature: Number) -> Number:
    """Heat capacity of a drink. [J/K]

    >>> round(float(heat_capacity({"water": 90.0, "ethanol": 10.0}, 20.0)) / 100, 3)
    4.303
    """
    water, ethanol = grams["water"], grams.get("ethanol", 0.0)
    a, b = _capacity(ethanol / (water + ethanol))
    sugar = sum(grams[n] for n in SOLUTES if n in grams)
    return (water + ethanol) * (a + b * temperature) + sugar * (_SUGAR_CP[0] + _SUGAR_CP[1] * temperature)


def _capacity(p: Number) -> tuple[Number, Number]:
    """Heat capacity at 0 °C and its slope, per gram of ethanol and water."""
    return np.interp(p, _CP_AT, _CP_0), np.interp(p, _CP_AT, _CP_SLOPE)


def heat_of_mixing(ethanol_mass_fraction: Number) -> Number:
    """Heat taken up when ethanol and water mix at 25 °C; below zero, since they warm. [J/g]

    Larkin 1975; -37 J/g at its lowest, near 22 % mass.

    >>> round(heat_of_mixing(0.22), 0)
    -37.0
    """
    p = np.asarray(ethanol_mass_fraction, float)
    moles = p / ETHANOL_MOLAR + (1 - p) / WATER_MOLAR
    x = p / ETHANOL_MOLAR / moles
    kelvin = ZERO + 25.0
    a = LARKIN @ np.array([1.0, kelvin, kelvin**2])
    per_mole = x * (1 - x) * sum(ai * x**n for ai, n in zip(a, _LARKIN_POWERS, strict=True))
    found = per_mole * moles
    return found if found.ndim else float(found)


_CP_SLOPE = (_CP_20 - _CP_0) / 20.0
_MIX_AT = np.linspace(0.0, 1.0, 401)
_MIX_HEAT = heat_of_mixing(_MIX_AT)
# Water from 25 to 0 °C, then frozen.
_ICE_AT_0 = -25.0 * _CP_0[0] - 312.5 * _CP_SLOPE[0] - LATENT
