"""How strong: volume and mass strength, proof, dilution to a target, alcohol in a serve.

>>> abw_from_abv(40)
33.300
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import tables
from .errors import InputError, one_of, require
from .facts import Fact
from .kinds import (
    ABV,
    TEMPERATURE,
    VOLUME,
    Celsius,
    Grams,
    Millilitres,
    Number,
    PercentMass,
    PercentVol,
    Proof,
    UKProof,
)
from .liquid import Liquid
from .physics import density as _density
from .units import door

# 27 CFR 30.11: United States proof is twice the strength by volume at 60 °F.
SIXTY_FAHRENHEIT = (60 - 32) / 1.8
# UK proof spirit weighs 12/13 of as much water, both at 51 °F (Alcoholic Liquor Duties Act 1979, s. 2): by OIML R 22 it
# has so much at 20 °C. [% vol]
UK_PROOF_SPIRIT = 57.145
# An alcoholmeter's glass swells by so much of its volume for each degree (soda glass; from memory). [1/°C]
GLASS_SWELLS = 25e-6


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
    abw = _density.abw_fraction(proof / 200, SIXTY_FAHRENHEIT)
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
def uk_proof(abv: PercentVol) -> UKProof:
    """Degrees of proof as British labels had them until 1980: 100 is proof spirit, pure alcohol 175.

    How much proof spirit 100 volumes would make: in proportion to the strength by volume. The strength of proof
    spirit is of the Alcoholic Liquor Duties Act 1979, s. 2; the year in which labels changed is from memory.

    >>> uk_proof(40), uk_proof(57.145)
    (70.0, 100.0)
    """
    return 100 * abv / UK_PROOF_SPIRIT


@door
def abv_from_uk_proof(proof: UKProof) -> PercentVol:
    """Strength of a spirit of so many British degrees of proof; the inverse of `uk_proof`. [% vol]

    >>> abv_from_uk_proof(70)
    40.00
    """
    return np.minimum(proof * UK_PROOF_SPIRIT / 100, 100.0)


@door
def alcoholmeter_reading(abv: PercentVol, temperature: Celsius, made_for: Celsius = 20.0) -> PercentVol:
    """What a floating alcoholmeter shows in a spirit that is not at the temperature of its scale.

    Parameters
    ----------
    abv : float or array
        True strength at `made_for`. [% vol]
    temperature : float or array
        Of spirit and instrument. [°C]
    made_for : float or array
        Temperature of its scale: 20, or 15.56 (60 °F) in the United States. [°C]

    Returns
    -------
    float or array
        [% vol]

    Raises
    ------
    InputError
        Where it would sink, or float above its scale.

    Notes
    -----
    Densities of OIML R 22, and glass that swells (`GLASS_SWELLS`). Spirit and water alone: sugar makes it read less.

    Examples
    --------
    >>> alcoholmeter_reading(40, 25), alcoholmeter_reading(40, 10)
    (42.0, 35.9)
    """
    require("made_for", made_for, *_density.TEMPERATURE_RANGE, TEMPERATURE)
    abw = _density.abw_fraction(abv / 100, made_for)
    shown = _density.ethanol_water(abw, temperature) * (1 + GLASS_SWELLS * (temperature - made_for))
    return 100 * _density.abv_fraction(_floats_in(shown, made_for, "strength", abv), made_for)


@door
def true_abv(reading: PercentVol, temperature: Celsius, made_for: Celsius = 20.0) -> PercentVol:
    """True strength behind the reading of an alcoholmeter; the inverse of `alcoholmeter_reading`. [% vol]

    >>> true_abv(40, 25), true_abv(40, 20)
    (38.0, 40.0)
    """
    require("made_for", made_for, *_density.TEMPERATURE_RANGE, TEMPERATURE)
    read = _density.ethanol_water(_density.abw_fraction(reading / 100, made_for), made_for)
    density = read / (1 + GLASS_SWELLS * (temperature - made_for))
    return 100 * _density.abv_fraction(_floats_in(density, temperature, "reading", reading), made_for)


def _floats_in(density: Number, temperature: Number, field: str, given: Number) -> Number:
    """Mass fraction of the mixture of this density, halved in on; refused where there is none."""
    density, t = np.broadcast_arrays(np.asarray(density, float), np.asarray(temperature, float))
    heaviest, lightest = (_density.ethanol_water(np.full(t.shape, p), t) for p in (_density.lowest_abw(t), 1.0))
    bad = (density > heaviest + 1e-9) | (density < lightest - 1e-9)
    if np.any(bad):
        at = Fact("strength at", of=field, at=TEMPERATURE(t[bad].flat[0]))
        one = np.broadcast_to(given, density.shape)[bad].flat[0]
        raise InputError(at, ABV(one), "one that such a mixture of alcohol and water can have")
    low, high = np.broadcast_to(_density.lowest_abw(t), t.shape), np.ones(t.shape)
    for _ in range(45):  # to 3e-14
        middle = (low + high) / 2
        heavier = _density.ethanol_water(middle, t) > density
        low, high = np.where(heavier, middle, low), np.where(heavier, high, middle)
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class Mixed:
    """Several liquids poured together, and what one would expect who adds volumes.

    Attributes
    ----------
    volume, poured : float or array
        Of the mix; of what was poured, added up. [mL]
    abv, by_volumes : float or array
        Strength of the mix; and by adding up volumes. [% vol]
    alcohol : float or array
        [g]
    """

    volume: Number
    poured: Number
    abv: Number
    by_volumes: Number
    alcohol: Number

    @property
    def shrinks(self) -> Number:
        """What is missing of the sum; below zero where it swells. [mL]"""
        return self.poured - self.volume


def mixed(*liquids: Liquid) -> Mixed:
    """Pour liquids together at 20 °C.

    >>> made = mixed(spirit(1000, 63), spirit(400, 0))
    >>> made.volume, made.poured, made.abv, made.by_volumes
    (1386.5, 1400.0, 45.44, 45.00)
    """
    if not liquids:
        raise InputError("liquids", None, "one or more")
    whole = sum(liquids[1:], liquids[0])
    volume, poured = whole.volume(), sum(liquid.volume() for liquid in liquids)
    pure = whole.ethanol / _density.ethanol(20.0) * 1000
    if np.any(np.asarray(volume) <= 0):
        raise InputError("volume of the mix", VOLUME(0), Fact("above", low=VOLUME(0)))
    return Mixed(volume, poured, 100 * pure / volume, 100 * pure / poured, whole.ethanol)


@dataclass(frozen=True, slots=True)
class LetDown:
    """A spirit let down with water.

    Attributes
    ----------
    water, water_grams : float or array
        To add. [mL], [g]
    makes, shrinks : float or array
        Volume of what is made, and what is missing of spirit and water added up. [mL]
    water_by_volumes, abv_by_volumes : float or array
        The water that adding up volumes asks for, and the strength that this really gives. [mL], [% vol]
    """

    water: Number
    water_grams: Number
    makes: Number
    shrinks: Number
    water_by_volumes: Number
    abv_by_volumes: Number


@door
def let_down(volume: Millilitres, abv: PercentVol, target_abv: PercentVol) -> LetDown:
    """Let a spirit down, beside what adding up volumes would have said.

    Arguments as for `water_to_reach`.

    >>> found = let_down("1 L", 63, 46)
    >>> found.water, found.makes, found.shrinks
    (382.7, 1369.6, 13.1)
    >>> found.water_by_volumes, found.abv_by_volumes
    (369.6, 46.43)
    """
    water = water_to_reach(volume, abv, target_abv)
    made = mixed(spirit(volume, abv), spirit(water, 0))
    naive = volume * (abv / target_abv - 1)
    by_volumes = mixed(spirit(volume, abv), spirit(naive, 0))
    grams = water * _density.ethanol_water(0.0) / 1000
    return LetDown(water, grams, made.volume, made.shrinks, naive, by_volumes.abv)


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
def _per_drink(grams: Grams, size: Grams) -> Number:
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
