"""Density of ethanol-water, sucrose-water and of whole drinks.

Ethanol-water: OIML R 22 (1975), International Alcoholometric Tables. Sucrose-water: ICUMSA SPS-4
(Bubnik et al., Sugar Technologists' Manual, 1995, p. 164). A drink: the volume of its ethanol and water
plus an apparent volume for everything dissolved in them (`solution`).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..errors import InputError, require
from ..facts import Fact
from ..kinds import TEMPERATURE, Number
from .freezing import ETHANOL_AT, ETHANOL_FREEZES

# --- OIML R 22, the general formula -------------------------------------------------------------
#   rho(p, t) = sum_k A_k p^(k-1) + sum_k B_k (t-20)^k + sum_i sum_k C_ik p^k (t-20)^i
# Coefficients as printed in the Recommendation; row i of C holds C_i1, C_i2, ...
A = np.array([
    9.982012300e2, -1.929769495e2, 3.891238958e2, -1.668103923e3, 1.352215441e4, -8.829278388e4,
    3.062874042e5, -6.138381234e5, 7.470172998e5, -5.478461354e5, 2.234460334e5, -3.903285426e4,
])  # fmt: skip
B = np.array([-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11])
C = (
    np.array([
        1.693443461530087e-1, -1.046914743455169e1, 7.196353469546523e1, -7.047478054272792e2,
        3.924090430035045e3, -1.210164659068747e4, 2.248646550400788e4, -2.605562982188164e4,
        1.852373922069467e4, -7.420201433430137e3, 1.285617841998974e3,
    ]),
    np.array([
        -1.193013005057010e-2, 2.517399633803461e-1, -2.170575700536993, 1.353034988843029e1,
        -5.029988758547014e1, 1.096355666577570e2, -1.422753946421155e2, 1.080435942856230e2,
        -4.414153236817392e1, 7.442971530188783,
    ]),
    np.array([
        -6.802995733503803e-4, 1.876837790289664e-2, -2.002561813734156e-1, 1.022992966719220,
        -2.895696483903638, 4.810060584300675, -4.672147440794683, 2.458043105903461,
        -5.411227621436812e-1,
    ]),
    np.array([4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6]),
    np.array([-2.788074354782409e-8, 1.345612883493354e-8]),
)  # fmt: skip
TEMPERATURE_RANGE = (-20.0, 40.0)
# For the volume of a drink alone the formula is stretched to 60 °C, what a closed bottle meets. There water lies within
# 0.04 kg/m3 and ethanol within 1.1 of CoolProp (0.6 at 55 °C), and the shrinking at 0.082 mol/mol is 0.419 cm3/mol,
# where 0.420 was measured from 5 to 65 °C (Marsh and Richards 1980, Aust. J. Chem. 33, 2121, abstract; read).
WARMEST = 60.0

# --- ICUMSA SPS-4 --------------------------------------------------------------------------------
#   rho(w, t) = rho_w(t) + sum_j x^j sum_i S_ij w^i,  x = (t-20)/100; row j of S holds i = 1, 2, ...
SUCROSE = (
    np.array([385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890]),
    np.array([-46.2720, -7.1720, 1.1597, 5.1126, 17.5254]),
    np.array([59.7712, 7.2491, 12.3630, -35.4791]),
    np.array([-47.2207, -21.6977, 27.6301]),
    np.array([18.3184, 12.3081]),
)
WATER_NUMERATOR = np.array([999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12])
WATER_DENOMINATOR = 16.887236e-3

# --- what else a drink holds ---------------------------------------------------------------------
# Apparent specific volumes at 20 °C [mL/g]. Sucrose follows its own curve (`sucrose_volume`); another
# sugar keeps a constant distance from it. All from memory (apparent molar volumes at infinite
# dilution over molar mass); an error of 0.02 mL/g in 50 g/L of acid moves a density by 1 kg/m³. Potassium
# adds no volume: it takes the place of an acid's hydrogen, and what the ion takes up (9 mL/mol) the acid
# loses as it comes apart (5 to 15 mL/mol; from memory). With 2 g/L that is good to 0.2 kg/m³.
SUGAR_OFFSET = {"glucose": 0.006, "fructose": -0.002, "lactose": -0.007}
SOLUTE_VOLUME = {
    "citric": 0.60, "malic": 0.62, "tartaric": 0.56, "lactic": 0.76, "acetic": 0.86, "phosphoric": 0.49,
    "potassium": 0.0, "unsure_potassium": 0.0, "protein": 0.73, "fat": 1.08, "solids": 0.62, "co2": 0.75,
}  # fmt: skip


def _horner(coefficients: np.ndarray, x: Number) -> Number:
    if not isinstance(x, np.ndarray):
        value = float(coefficients[-1])
        for c in coefficients[-2::-1].tolist():
            value = value * x + c
        return value
    y = np.full_like(x, coefficients[-1])
    for c in coefficients[-2::-1]:
        y *= x
        y += c
    return y


def _column(temperature: float) -> np.ndarray:
    """OIML coefficients in powers of p at one temperature."""
    tau = temperature - 20.0
    total = A.copy()
    total[0] += tau * _horner(B, tau)
    for i, row in enumerate(C, start=1):
        total[1 : 1 + len(row)] += row * tau**i
    return total


def ethanol_water(abw: Number, temperature: Number = 20.0) -> Number:
    """Density of a mixture of ethanol and water.

    Parameters
    ----------
    abw : float or array
        Mass fraction of ethanol, 0 to 1. [g/g]
    temperature : float or array
        -20 to 40; below 0 °C only mixtures that are liquid there. [°C]

    Returns
    -------
    float or array
        Density. [kg/m³]

    Raises
    ------
    InputError
        Outside the range of the standard.

    Notes
    -----
    OIML R 22 (1975): the general formula, which its tables are computed from. The printed tables agree
    to their last digit, 0.005 kg/m³.

    Examples
    --------
    >>> ethanol_water(0.333, 20)
    948.04
    """
    require("ethanol mass fraction", abw, 0, 1)
    require("temperature", temperature, *TEMPERATURE_RANGE, "°C")
    if np.any(np.asarray(temperature) < 0):
        edge = lowest_abw(temperature)
        below = np.asarray(abw) < edge
        if np.any(below):
            p, t, e = (a[below].flat[0] for a in np.broadcast_arrays(abw, temperature, edge))
            raise InputError(
                Fact("mass fraction at", at=TEMPERATURE(t)), p, f"at least {e:.3f}: weaker mixtures freeze"
            )
    return _ethanol_water(abw, temperature)


def lowest_abw(temperature: Number) -> Number:
    """Ethanol mass fraction that just freezes at a temperature: where the alcohol tables begin. [g/g]

    Zero at and above 0 °C. Uncertain by about 0.01 (two published sources differ by up to 1 °C).

    >>> round(lowest_abw(-10), 2)
    0.19
    """
    found = np.interp(temperature, ETHANOL_FREEZES[::-1], ETHANOL_AT[::-1])
    return float(found) if np.ndim(temperature) == 0 else found


def _ethanol_water(p: Number, t: Number = 20.0) -> Number:
    """`ethanol_water` without the checks, for callers that have made them."""
    p = np.asarray(p, dtype=float) if not isinstance(p, float) else p
    p = float(p) if np.ndim(p) == 0 else p
    if np.ndim(t) == 0:
        return _horner(ETHANOL_WATER_20 if t == 20.0 else _column(float(t)), p)
    p, tau = np.broadcast_arrays(np.asarray(p, float), np.asarray(t, float) - 20.0)
    rho = _horner(A, p) + tau * _horner(B, tau)
    for i, row in enumerate(C, start=1):
        rho += tau**i * p * _horner(row, p)
    return rho


def ethanol(temperature: Number = 20.0) -> Number:
    """Density of pure ethanol; 789.24 kg/m³ at 20 °C (OIML R 22). [kg/m³]

    >>> ethanol(20)
    789.24
    """
    return ethanol_water(1.0, temperature)


def abv_of(ethanol: Number, volume: Number) -> Number:
    """Strength of so many grams of ethanol in so many millilitres, at 20 °C. [% vol]

    >>> round(abv_of(31.57, 100.0), 2)
    40.0
    """
    return ethanol / volume * (100_000 / _ethanol_water(1.0))


def water(temperature: Number = 20.0) -> Number:
    """Density of air-free water at 1 atm, 0 to 100 °C (the equation that SPS-4 rests on). [kg/m³]

    >>> water(4), water(60)
    (999.97, 983.19)
    """
    require("temperature", temperature, 0, 100, "°C")
    return _horner(WATER_NUMERATOR, temperature) / (1 + WATER_DENOMINATOR * temperature)


def abv_fraction(abw: Number, temperature: Number = 20.0) -> Number:
    """Volume fraction of ethanol from its mass fraction, both volumes at `temperature`.

    OIML R 22 defines strength at 20 °C; United States proof uses 60 °F (27 CFR 30.11).

    Parameters
    ----------
    abw : float or array
        Mass fraction, 0 to 1. [g/g]
    temperature : float or array
        [°C]

    Returns
    -------
    float or array
        Volume of pure ethanol over the volume of the mixture. [mL/mL]

    Examples
    --------
    >>> abv_fraction(0.333)
    0.40001
    """
    return abw * (ethanol_water(abw, temperature) / ethanol(temperature))


def abw_fraction(abv: Number, temperature: Number = 20.0) -> Number:
    """Mass fraction of ethanol from its volume fraction: the inverse of `abv_fraction`.

    Newton's method inside a bracket that shrinks with each step, over whole arrays; stops when the
    volume fraction is met to 1e-12 (so the mass fraction is good to better than 1e-9).

    Parameters
    ----------
    abv : float or array
        Volume fraction, 0 to 1. [mL/mL]
    temperature : float or array
        0 to 40 for every strength; below 0 °C only what is liquid there. [°C]

    Returns
    -------
    float or array
        Mass fraction. [g/g]

    Raises
    ------
    InputError
        Outside the range of the standard.

    Examples
    --------
    >>> abw_fraction(0.40)
    0.33300
    """
    require("ethanol volume fraction", abv, 0, 1)
    require("temperature", temperature, *TEMPERATURE_RANGE, "°C")
    q, t = np.broadcast_arrays(np.asarray(abv, float), np.asarray(temperature, float))
    at = float(temperature) if np.ndim(temperature) == 0 else t
    pure = _ethanol_water(1.0, at)
    if np.ndim(at) == 0:
        known = np.linspace(0.0, 1.0, 513)
        p = np.interp(q, known * _ethanol_water(known, at) / pure, known)
    else:
        p = q * (0.79 + 0.21 * q)
    low, high = np.zeros(()), np.ones(())
    for _ in range(60):
        rho = _ethanol_water(p, at)
        f = p * rho / pure - q
        if np.abs(f).max(initial=0.0) <= 1e-12:
            break
        low, high = np.where(f < 0, p, low), np.where(f < 0, high, p)
        h = np.where(p < 0.5, 1e-6, -1e-6)
        slope = (rho + (p + h) * (_ethanol_water(p + h, at) - rho) / h) / pure
        step = p - f / slope
        p = np.where((step >= low) & (step <= high), step, (low + high) / 2)
    else:
        raise ArithmeticError("strength by mass was not found; please report the numbers you used")
    edge = lowest_abw(t)
    if np.any(p < edge - 1e-12):
        bad = p < edge - 1e-12
        raise InputError(
            Fact("volume fraction at", at=TEMPERATURE(t[bad].flat[0])), q[bad].flat[0], "stronger: this mixture freezes"
        )
    return float(p) if p.ndim == 0 else p


def sucrose_water(mass_fraction: Number, temperature: Number = 20.0) -> Number:
    """Density of a sucrose solution.

    Parameters
    ----------
    mass_fraction : float or array
        Sucrose by mass, 0 to 0.85 (°Brix / 100). [g/g]
    temperature : float or array
        0 to 100. [°C]

    Returns
    -------
    float or array
        Density. [kg/m³]

    Raises
    ------
    InputError
        Outside these ranges.

    Notes
    -----
    ICUMSA SPS-4. The older Plato/NBS tables differ by 0.05 kg/m³ to 50 °Brix and 0.3 at 70.

    Examples
    --------
    >>> sucrose_water(0.50)
    1229.65
    """
    require("sucrose mass fraction", mass_fraction, 0, 0.85)
    w = np.asarray(mass_fraction, float)
    rho = water(temperature) + w * _sugar_slope(w, (np.asarray(temperature, float) - 20) / 100)
    return float(rho) if np.ndim(rho) == 0 else rho


def _sugar_slope(w: Number, x: Number) -> Number:
    """(rho - rho_w) / w of SPS-4."""
    slope = _horner(SUCROSE[0], w)
    if np.any(x):
        for j, row in enumerate(SUCROSE[1:], start=1):
            slope = slope + x**j * _horner(row, w)
    return slope


def sucrose_volume(mass_fraction: Number, temperature: Number = 20.0) -> Number:
    """Apparent specific volume of sucrose in water at a mass fraction. [mL/g]

    What a gram of sugar adds to the volume of the water it is dissolved in.

    >>> sucrose_volume(0.10), sucrose_volume([0.10, 0.50])
    (0.6166, array([0.6166, 0.6247]))
    """
    w = np.asarray(mass_fraction, float)
    v = _sucrose_volume(w if w.ndim else float(w), temperature)
    return float(v) if np.ndim(v) == 0 else v


def _sucrose_volume(w: Number, temperature: Number = 20.0) -> Number:
    rho_w = WATER_20 if np.ndim(temperature) == 0 and temperature == 20.0 else water(np.maximum(temperature, 0.0))
    slope = _sugar_slope(w, (temperature - 20.0) / 100)
    # (1/rho - (1-w)/rho_w) / w, written so that it holds at w = 0
    return 1000.0 * (rho_w - (1.0 - w) * slope) / ((rho_w + w * slope) * rho_w)


def sucrose_solubility(temperature: Number = 20.0) -> Number:
    """Most sucrose that dissolves in water, as a mass fraction of the solution.

    Bubnik and Kadlec (in Mathlouthi and Reiser, Sucrose, 1995), 0 to 100 °C; the older table of 1958
    lies up to 0.005 higher. Spirit lowers it; by how much is not covered here.

    >>> sucrose_solubility(20)
    0.6672
    """
    require("temperature", temperature, 0, 100, "°C")
    t = temperature
    return (64.447 + 0.08222 * t + 0.0016169 * t**2 - 1.558e-6 * t**3 - 4.63e-8 * t**4) / 100


def solution_volume(grams: Mapping[str, Number], temperature: Number = 20.0) -> Number:
    """Volume of a drink from the grams it holds.

    V = V(ethanol + water, OIML R 22) + sugars x v(sugars in the water, SPS-4) + sum of grams x
    apparent volume for acids, protein, fat, other solids and dissolved gas.

    Parameters
    ----------
    grams : mapping of str to float or array
        Grams of "water", "ethanol", "sucrose", "glucose", "fructose", "lactose" and of the keys of
        `SOLUTE_VOLUME`. What is missing counts as zero. [g]
    temperature : float or array
        -20 to 60; above 40 a stretch of the standard (`WARMEST`), good to 0.1 %. [°C]

    Returns
    -------
    float or array
        Volume. [mL]

    Notes
    -----
    The rule is exact for ethanol-water and for sucrose-water. With both together the density is off by about 0.5 kg/m³
    at 25 % vol with 200 g/L of sugar, 1 at 40 % vol with 100 g/L, 3 at 40 % vol with 250 g/L (one standard deviation):
    an estimate, since no open table of measured three-part densities was found. It is the spread between this rule, the
    Tabarie rule (OIV-MA-AS2-03B) and the obscuration that 27 CFR 30.32 states.

    Examples
    --------
    >>> solution_volume({"water": 60, "ethanol": 20, "sucrose": 10, "citric": 1})
    89.96
    """
    require("temperature", temperature, TEMPERATURE_RANGE[0], WARMEST, "°C")
    return _solution_volume(grams, temperature)


def _solution_volume(grams: Mapping[str, Number], temperature: Number = 20.0) -> Number:
    water_, ethanol_ = grams.get("water", 0.0), grams.get("ethanol", 0.0)
    base = water_ + ethanol_
    p = _divide(ethanol_, base)
    volume = base * 1000.0 / _ethanol_water(p, temperature)
    sugar = grams.get("sucrose", 0.0)
    offset: Number = 0.0
    for name, delta in SUGAR_OFFSET.items():
        if name in grams:
            sugar = sugar + grams[name]
            offset = offset + delta * grams[name]
    if np.any(sugar):
        volume = volume + (sugar * _sucrose_volume(_divide(sugar, sugar + water_), temperature) + offset)
    for name, v in SOLUTE_VOLUME.items():
        if name in grams:
            volume = volume + v * grams[name]
    return volume


def _divide(part: Number, whole: Number) -> Number:
    """part / whole, and 0 where there is nothing at all."""
    if np.ndim(whole) == 0:
        return part / whole if whole else 0.0
    return np.divide(part, whole, out=np.zeros(np.broadcast_shapes(np.shape(part), np.shape(whole))), where=whole > 0)


def solution(grams: Mapping[str, Number], temperature: Number = 20.0) -> Number:
    """Density of a drink from the grams it holds; arguments as for `solution_volume`. [kg/m³]

    >>> solution({"water": 66.7, "ethanol": 33.3})
    948.1
    """
    total = sum(grams.values())
    if np.any(np.asarray(total) <= 0):
        raise InputError("total mass", float(np.min(total)), "above 0 g")
    return total / solution_volume(grams, temperature) * 1000.0


ETHANOL_WATER_20 = _column(20.0)
WATER_20 = float(water(20.0))
