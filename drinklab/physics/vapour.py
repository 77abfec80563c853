"""Vapour of alcohol and water: what boils first, when it boils, and what presses in a closed vessel.

>>> round(boiling_point(0.0), 1), round(boiling_point(0.1), 1)
(100.0, 91.6)
"""

from __future__ import annotations

import functools

import numpy as np

from ..kinds import Number

# Van Laar constants of ethanol (1) and water (2) at 101.3 kPa: Perry's Chemical Engineers' Handbook (read where it
# is quoted). Antoine: log10 of the vapour pressure in mmHg is A - B / (C + t); constants of a published column
# data sheet. Together within 0.011 in vapour mole fraction of Carey and Lewis, Ind. Eng. Chem. 24 (1932) 882.
VAN_LAAR = (1.6798, 0.9227)
ANTOINE = {"ethanol": (8.1122, 1592.864, 226.184), "water": (8.07131, 1730.63, 233.426)}
_MOLAR = {"ethanol": 46.069, "water": 18.015}
_MMHG = 101.325 / 760  # kPa


def _parts(mass_fraction: Number, celsius: Number) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Partial pressure over each mole of ethanol and of water in the mix [mmHg], and the mole fraction of ethanol."""
    mass = np.asarray(mass_fraction, float)
    x = mass / _MOLAR["ethanol"] / (mass / _MOLAR["ethanol"] + (1 - mass) / _MOLAR["water"])
    a, b = VAN_LAAR
    whole = a * x + b * (1 - x)
    pure = (10 ** (a_ - b_ / (c_ + celsius)) for a_, b_, c_ in (ANTOINE["ethanol"], ANTOINE["water"]))
    active = np.exp(a * (b * (1 - x) / whole) ** 2), np.exp(b * (a * x / whole) ** 2)
    ethanol, water = (gamma * p for gamma, p in zip(active, pure, strict=True))
    return ethanol, water, x


def pressure(mass_fraction: Number, celsius: Number) -> Number:
    """Vapour of alcohol and water over a drink. [kPa]

    Parameters
    ----------
    mass_fraction : float or array
        Ethanol in ethanol and water. [g/g]
    celsius : float or array
        0 to 100; the constants were fitted at the boiling point. [°C]

    >>> round(pressure(0.0, 55), 1), round(pressure(0.1, 55), 1)
    (15.7, 21.7)
    >>> round(pressure(0.1, boiling_point(0.1)), 1)  # what boils presses as much as the air
    101.3
    """
    ethanol, water, x = _parts(mass_fraction, celsius)
    found = _MMHG * (x * ethanol + (1 - x) * water)
    return found if np.ndim(found) else float(found)


@functools.cache
def table() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mass fraction of ethanol, how many times more readily than water it boils, and when the mix boils [°C]."""
    mass = np.linspace(0.0, 1.0, 1001)
    low, high = np.full_like(mass, 60.0), np.full_like(mass, 110.0)
    for _ in range(60):  # bubble point at 760 mmHg, by bisection
        t = (low + high) / 2
        ethanol, water, x = _parts(mass, t)
        boils = x * ethanol + (1 - x) * water > 760.0
        low, high = np.where(boils, low, t), np.where(boils, t, high)
    return mass, ethanol / water, t


def volatility(mass_fraction: Number) -> Number:
    """How many times more readily than water ethanol leaves a boiling mixture, at 101.3 kPa."""
    return np.interp(mass_fraction, *table()[:2])


def boiling_point(mass_fraction: Number) -> Number:
    """At 101.3 kPa, of alcohol and water alone: sugar raises it by a degree or two. [°C]"""
    mass, _, celsius = table()
    found = np.interp(mass_fraction, mass, celsius)
    return found if np.ndim(found) else float(found)
