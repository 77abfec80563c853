"""How strong: volume and mass strength, proof, dilution to a target, alcohol in a serve.

>>> abw_from_abv(40)
33.300
"""

from __future__ import annotations

import numpy as np

from . import tables
from .errors import InputError, one_of
from .kinds import Celsius, Grams, Millilitres, PercentMass, PercentVol, Proof
from .liquid import Liquid
from .physics import density as _density
from .units import door

# 27 CFR 30.11: United States proof is twice the strength by volume at 60 °F.
SIXTY_FAHRENHEIT = (60 - 32) / 1.8


@door
def abw_from_abv(abv: PercentVol, temperature: Celsius = 20.0) -> PercentMass:
    """Strength by mass from strength by volume.

    Parameters
    ----------
    abv : float or array
        Volume of ethanol in 100 volumes, both at `temperature`; labels speak of 20 °C. [% vol]
    temperature : float or array
        -20 to 40. [°C]

    Returns
    -------
    float or array
        [% mass]

    Raises
    ------
    InputError
        Outside 0 to 100 % vol, or outside the range of the alcohol tables.

    Notes
    -----
    OIML R 22 (1975).

    Examples
    --------
    >>> abw_from_abv(40), abw_from_abv("57 %")
    (33.300, 49.128)
    """
    return 100 * _density.abw_fraction(abv / 100, temperature)


@door
def abv_from_abw(abw: PercentMass, temperature: Celsius = 20.0) -> PercentVol:
    """Strength by volume from strength by mass; the inverse of `abw_from_abv`.

    Parameters
    ----------
    abw : float or array
        [% mass]
    temperature : float or array
        [°C]

    Returns
    -------
    float or array
        [% vol]

    Examples
    --------
    >>> abv_from_abw(33.3)
    40.00
    """
    return np.minimum(100 * _density.abv_fraction(abw / 100, temperature), 100.0)


@door
def us_proof(abv: PercentVol) -> Proof:
    """United States proof of a spirit labelled in % vol at 20 °C.

    Proof is twice the strength by volume at 60 °F (27 CFR 30.11), where the same spirit reads a
    little lower than at 20 °C.

    >>> us_proof(40.07)
    80.0
    """
    return 2 * 100 * _density.abv_fraction(_density.abw_fraction(abv / 100), SIXTY_FAHRENHEIT)


@door
def abv_from_us_proof(proof: Proof) -> PercentVol:
    """Strength at 20 °C of a spirit of a United States proof; the inverse of `us_proof`. [% vol]

    >>> abv_from_us_proof(100)
    50.06
    """
    abw = _density.abw_fraction(np.minimum(proof / 200, 1.0), SIXTY_FAHRENHEIT)
    return np.minimum(100 * _density.abv_fraction(abw), 100.0)


@door
def water_to_reach(volume: Millilitres, abv: PercentVol, target_abv: PercentVol) -> Millilitres:
    """Water that brings a spirit down to a wanted strength.

    Ethanol and water shrink on mixing, so the answer is found from masses and densities (OIML R 22),
    not by subtracting volumes.

    Parameters
    ----------
    volume : amount or array
        Spirit at 20 °C. [mL]
    abv : float or array
        Its strength. [% vol]
    target_abv : float or array
        Wanted strength, above 0 and at most `abv`. [% vol]

    Returns
    -------
    float or array
        Water to add, at 20 °C. [mL]

    Raises
    ------
    InputError
        If a strength is outside 0 to 100, or the target is above `abv`.

    Examples
    --------
    >>> round(water_to_reach("1 L", 63, 46), 1)
    382.7
    """
    if np.any(np.asarray(target_abv) < 1e-9):  # less would take more water than a number holds
        raise InputError("target_abv", float(np.min(target_abv)), "above 0 % vol")
    if np.any(np.asarray(target_abv) > abv):
        raise InputError(
            "target_abv", float(np.max(target_abv)), f"at most the strength at the start, {np.min(abv):g} % vol"
        )
    have, want = _density.abw_fraction(abv / 100), _density.abw_fraction(target_abv / 100)
    grams = volume * _density.ethanol_water(have) / 1000
    return np.maximum(grams * (have / want - 1), 0.0) / (_density.ethanol_water(0.0) / 1000)


@door
def contraction(volume_a: Millilitres, abv_a: PercentVol, volume_b: Millilitres, abv_b: PercentVol) -> Millilitres:
    """How much two mixtures of ethanol and water shrink when poured together, at 20 °C.

    Below zero where they swell: two mixtures weaker than about 20 % vol do, by up to 0.2 % (OIML R 22).

    Returns
    -------
    float or array
        Sum of the two volumes less the volume of the mix. [mL]

    Examples
    --------
    >>> contraction(50, 100, 50, 0)
    3.54
    """
    together = spirit(volume_a, abv_a) + spirit(volume_b, abv_b)
    return volume_a + volume_b - together.volume()


@door
def spirit(volume: Millilitres, abv: PercentVol) -> Liquid:
    """A `Liquid` of ethanol and water alone: a volume at 20 °C of a labelled strength.

    >>> spirit("1.5 oz", 40).ethanol
    14.00
    """
    abw = _density.abw_fraction(np.asarray(abv) / 100)
    grams = volume * _density.ethanol_water(abw) / 1000
    return Liquid.of(ethanol=grams * abw, water=grams * (1 - np.asarray(abw)))


def alcohol_grams(liquid: Liquid) -> Grams:
    """Grams of pure alcohol in a liquid. [g]

    >>> alcohol_grams(spirit(30, 40))
    9.471
    """
    return liquid.ethanol


def standard_drinks(liquid_or_grams: Liquid | Grams, country: str = "United States") -> Grams:
    """Alcohol counted in a country's standard drinks.

    Parameters
    ----------
    liquid_or_grams : Liquid, number or array
        A drink, or its grams of alcohol. [g]
    country : str
        A name from `countries()`. Where sources disagree the smallest is used: it counts the most drinks.

    Returns
    -------
    float or array
        Standard drinks: a way to compare serves. It says nothing about how a person is affected.

    Raises
    ------
    InputError
        For an unknown country, or grams below zero.

    Examples
    --------
    >>> standard_drinks(14, "United States"), standard_drinks(14, "United Kingdom")
    (1.0, 1.75)
    """
    sizes = countries()
    one_of("country", country, sizes)
    if isinstance(liquid_or_grams, Liquid):
        return alcohol_grams(liquid_or_grams) / sizes[country]
    return _per_drink(liquid_or_grams, sizes[country])


@door
def _per_drink(grams: Grams, size: Grams):
    return grams / size


def countries() -> dict[str, float]:
    """Grams of alcohol in a standard drink, by country; the smallest where a range is published.

    Sources in datasets/standard_drinks.csv.

    >>> countries()["Japan"]
    19.75
    """
    table = tables.read("standard_drinks")
    grams = np.fmin(table["grams"], table["grams_low"])  # blank where only one is printed
    return dict(zip(table["country"], grams.tolist(), strict=True))
