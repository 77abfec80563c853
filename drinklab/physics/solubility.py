"""How much carbon dioxide a drink holds: in water, and with alcohol and sugar.

Carbon dioxide is a real gas: it takes up less room than an ideal one (`gas_grams`), and dissolves by its
fugacity, not by its pressure (`fugacity`), which Henry's law then multiplies. At 8 bar the first is 4 to 5 %
and the second 4 to 6 %, both so that a closed vessel stands under more pressure than ideal laws say. The
vapour of water and alcohol above a cold drink (1 to 3 kPa) is left out. Pressures here are absolute; a gauge
shows an atmosphere less.

>>> volumes_from_grams(co2(4.0, pressure=2 * ATMOSPHERE))
2.943
"""

from __future__ import annotations

import numpy as np

from ..errors import require
from ..kinds import Number

ATMOSPHERE = 101.325  # kPa
GAS = 8.314462618  # J/(mol K)
CO2_MOLAR = 44.0095  # g/mol
# One volume is a litre of gas at 0 °C and 1 atm in a litre of drink: 44.0095 / 22.414 = 1.9635 g/L as an
# ideal gas, 1.977 as a real one; the trade rounds to 1.96 or 1.98. This workbook takes 1.96 throughout.
VOLUME = 1.96  # g/L

# Weiss 1974, Marine Chemistry 2, 203: ln K0 [mol/(L atm)] = a + b (100/T) + c ln(T/100), in atm of fugacity; and
# what a mole takes up once dissolved, which the same paper takes as 32.3 mL.
WEISS = (-58.0931, 90.5069, 22.2940)
DISSOLVED = 32.3  # cm³/mol
TEMPERATURES = (-10.0, 40.0)  # °C, at which drinks are gassed
WARMEST = 60.0  # °C, for what a closed vessel meets
# Second virial coefficient, B = a - b exp(c/T) [cm³/mol], 220 to 1100 K: tables of Kaye and Laby, as printed in a
# reference table of second virial coefficients (read).
VIRIAL = (137.6, 87.7, 325.7)

# What alcohol does to it, against water: at % vol, the factor, and the half-width that holds 19 drinks in 20.
# Read: champagne, 12.5 % vol and about 10 g/L of sugar, 2.1 g/(L bar) at 10 °C, where water takes 2.32; lager
# 2.4 at 6 °C, water 2.67 (ACS Omega 2021, 6, 9672, table 1): 0.90 of water each. The beer chart, 5.4 % vol and
# 58 g/L of extract, lies at 0.92 to 0.95 of water. A former EU method for wine at 20 °C (Regulation 2676/90,
# chapter 37) takes off 1.16 % for each % vol: 0.86 at 12.5 % vol. From 13 % vol up no figure was read, only that
# it falls a little more to 20 % (Am. J. Enol. Vitic. 11 (1960) 35, abstract), that there is a lowest point (Postigo
# and Katz 1987, abstract) and that pure ethanol takes 2.4 times (0 °C) to 3.3 times (20 °C) as much as water: an
# estimate. Water itself: measured values lie up to 3.4 % from Weiss (tests/co2_measured.csv).
ALCOHOL_AT = np.array([0.0, 5.0, 13.0, 20.0, 30.0, 40.0])
ALCOHOL_FACTOR = np.array([1.0, 0.975, 0.906, 0.89, 0.90, 0.97])
ALCOHOL_SPREAD = np.array([0.035, 0.07, 0.10, 0.15, 0.22, 0.30])
READ_TO = 13.0  # % vol
MOST_ALCOHOL = 40.0  # % vol
# Sugar and other dissolved solids lower it by 0.7 % for each 10 g/L (from memory); the EU method has 1.44 %, and
# the half-width reaches it.
SUGAR_SLOPE, SUGAR_SLOPE_SPREAD = 0.0007, 0.0011  # per g/L
MOST_SUGAR = 400.0  # g/L


def co2_water(temperature: Number) -> Number:
    """Carbon dioxide that water holds at a fugacity of 1 atm: 0.5 to 0.7 % more than under a pressure of 1 atm.

    Parameters
    ----------
    temperature : float or array
        -10 to 60. [°C]

    Returns
    -------
    float or array
        [g/L]

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    Weiss 1974, good to 0.3 % from -1 to 40 °C; below and above, a stretch of it, good to about 3 %. Carroll et
    al. 1991 (0 to 160 °C) lie 0 to 3 % apart from it up to 60 °C; the two-parameter form of Sander's compilation
    is 10 % low at 0 °C.

    Examples
    --------
    >>> co2_water(0), co2_water(20)
    (3.414, 1.721)
    """
    require("temperature", temperature, TEMPERATURES[0], WARMEST, "°C")
    t = (np.asarray(temperature, float) + 273.15) / 100
    a, b, c = WEISS
    found = CO2_MOLAR * np.exp(a + b / t + c * np.log(t))
    return found if found.ndim else float(found)


def _virial(temperature: Number) -> tuple[np.ndarray, np.ndarray]:
    """Second virial coefficient [L/mol], and RT [kPa L/mol]."""
    kelvin = np.asarray(temperature, float) + 273.15
    a, b, c = VIRIAL
    return (a - b * np.exp(c / kelvin)) / 1000, GAS * kelvin


def fugacity(pressure: Number, temperature: Number) -> Number:
    """What of a pressure of carbon dioxide counts in Henry's law.

    Parameters
    ----------
    pressure : float or array
        Absolute. [kPa]
    temperature : float or array
        [°C]

    Returns
    -------
    float or array
        Of the gas by its second virial coefficient, within 0.15 % of Span and Wagner 1996 to 10 bar; less what
        pressing on the dissolved gas takes (Weiss 1974). [kPa]

    Examples
    --------
    >>> fugacity(800, 20) / 800
    0.950
    """
    pressure = np.asarray(pressure, float)
    return _plain(pressure * np.exp(_bent(temperature) * pressure + _held_at(temperature)))


def _bent(temperature: Number) -> Number:
    """Change of ln(fugacity/pressure) with pressure. [1/kPa]"""
    b, rt = _virial(temperature)
    return (b - DISSOLVED / 1000) / rt


def _held_at(temperature: Number) -> Number:
    """Weiss's constant is that of water under 1 atm."""
    return DISSOLVED / 1000 * ATMOSPHERE / _virial(temperature)[1]


def pressure_of(fugacity: Number, temperature: Number) -> Number:
    """Pressure of carbon dioxide that has a fugacity: the other turned round. [kPa absolute]

    Parameters
    ----------
    fugacity : float or array
        0 to 4000; more no gas at a bar has. [kPa]
    temperature : float or array
        [°C]

    >>> pressure_of(fugacity(800, 20), 20)
    800.0
    """
    require("fugacity", fugacity, 0, 4000, "kPa: more no vessel at a bar bears")
    bent = _bent(temperature)
    wanted = np.asarray(fugacity, float) * np.exp(-_held_at(temperature))
    found = wanted
    for _ in range(5):  # Newton; one digit becomes two, four, eight, all
        found = found - (found - wanted * np.exp(-bent * found)) / (1 + bent * found)
    return _plain(found)


def co2(temperature: Number, pressure: Number = ATMOSPHERE, abv: Number = 0.0, sugar: Number = 0.0) -> Number:
    """Carbon dioxide that a drink holds under a pressure of it.

    Parameters
    ----------
    temperature : float or array
        -10 to 60. [°C]
    pressure : float or array
        Of carbon dioxide, absolute. [kPa]
    abv : float or array
        0 to 40; above 13 an estimate. [% vol]
    sugar : float or array
        Sugar and other dissolved solids, 0 to 400. [g/L]

    Returns
    -------
    float or array
        [g/L]

    Raises
    ------
    InputError
        Outside these ranges: nothing was read on stronger drinks.

    Notes
    -----
    For how sure it is see `co2_spread`; the sources stand beside the figures at the top of the module.

    Examples
    --------
    >>> co2(10, 100, abv=12.5, sugar=10)
    2.094
    """
    require("pressure", pressure, 0, np.inf, "kPa absolute")
    return _plain(henry(temperature, abv, sugar) * fugacity(pressure, temperature))


def henry(temperature: Number, abv: Number = 0.0, sugar: Number = 0.0) -> Number:
    """Carbon dioxide that a drink holds for each kPa of fugacity. [g/L]

    >>> henry(10) * ATMOSPHERE
    2.362
    """
    _require_drink(abv, sugar)
    alcohol = np.interp(abv, ALCOHOL_AT, ALCOHOL_FACTOR)
    return _plain(co2_water(temperature) / ATMOSPHERE * alcohol * np.exp(-SUGAR_SLOPE * np.asarray(sugar, float)))


def _plain(found: Number) -> Number:
    return found if np.ndim(found) else float(found)


def co2_spread(abv: Number, sugar: Number = 0.0) -> Number:
    """Half-width that holds about 19 drinks in 20, as a share of `co2`.

    Small for what was read, to 13 % vol, and wide above, where `co2` is an estimate.

    >>> co2_spread(0), co2_spread(12.5, 10), co2_spread(30)
    (0.035, 0.0987, 0.22)
    """
    _require_drink(abv, sugar)
    found = np.hypot(np.interp(abv, ALCOHOL_AT, ALCOHOL_SPREAD), SUGAR_SLOPE_SPREAD * np.asarray(sugar, float))
    return found if np.ndim(found) else float(found)


def _require_drink(abv: Number, sugar: Number) -> None:
    require("strength", abv, 0, MOST_ALCOHOL, "% vol: how much gas a stronger drink holds is not known")
    require("sugar and other dissolved solids", sugar, 0, MOST_SUGAR, "g/L")


def volumes_from_grams(grams: Number) -> Number:
    """Volumes of gas from [g/L], at 1.96 g/L for one volume.

    >>> volumes_from_grams(4.9)
    2.5
    """
    return grams / VOLUME


def grams_from_volumes(volumes: Number) -> Number:
    """[g/L] from volumes of gas, at 1.96 g/L for one volume.

    >>> grams_from_volumes(2.5)
    4.9
    """
    return volumes * VOLUME


def gas_grams(pressure: Number, volume: Number, temperature: Number) -> Number:
    """Carbon dioxide in a space above a drink, by its second virial coefficient. [g]

    Within 0.4 % of Span and Wagner 1996 from 0 to 60 °C and to 10 bar, where an ideal gas is 3 to 7 % off.

    Parameters
    ----------
    pressure : float or array
        Of carbon dioxide, absolute. [kPa]
    volume : float or array
        Of the space. [mL]
    temperature : float or array
        [°C]

    Examples
    --------
    >>> gas_grams(101.325, 1000, 0)
    1.977
    """
    b, rt = _virial(temperature)
    return _plain(pressure * volume / 1000 * CO2_MOLAR / (rt + b * np.asarray(pressure, float)))


def shared(
    grams: Number,
    litres: Number,
    space: Number,
    temperature: Number,
    abv: Number = 0.0,
    sugar: Number = 0.0,
) -> Number:
    """Pressure at which a drink and the space above it share so much gas between them.

    Parameters
    ----------
    grams : float or array
        Of carbon dioxide in both. [g]
    litres : float or array
        Of the drink. [L]
    space : float or array
        Above it. [mL]
    temperature : float or array
        -10 to 60. [°C]
    abv, sugar : float or array
        As for `co2`. [% vol, g/L]

    Returns
    -------
    float or array
        Of carbon dioxide alone. [kPa absolute]

    Examples
    --------
    >>> warm = shared(4.0, 0.7, 75, 25, abv=10)
    >>> warm, 0.7 * co2(25, warm, abv=10) + gas_grams(warm, 75, 25)
    (371.4, 4.0)
    """
    k = litres * henry(temperature, abv, sugar)
    b, rt = _virial(temperature)
    bent, at = _bent(temperature), np.exp(_held_at(temperature))
    m = np.asarray(space, float) / 1000 * CO2_MOLAR
    found = grams / (k + m / rt)
    for _ in range(6):  # Newton; the ideal gas is within a tenth
        dissolved, above = k * at * np.exp(bent * found), m / (rt + b * found)
        slope = dissolved * (1 + bent * found) + above * rt / (rt + b * found)
        found = found - (found * (dissolved + above) - grams) / slope
    return _plain(found)
