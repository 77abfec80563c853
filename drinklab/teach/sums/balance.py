"""Sweet and sour, syrups and readings: solutions by `prep` and `pantry`, and what comes out by each known mistake."""

from __future__ import annotations

import functools

import numpy as np

from ... import dilution as _dilution
from ... import pantry as _pantry
from ... import prep as _prep
from ...kinds import ABW, CONCENTRATION, MASS, VOLUME, Amount, Kind
from ...liquid import Liquid
from ...physics.density import sucrose_water as _sucrose

WEIGHS = Kind("g/mL", "gram/milliliter")
BRIX = Kind("°Brix", "dimensionless")
ONE_TO_ONE, TWO_TO_ONE = 50.0, 200 / 3  # °Brix, by weight


@functools.cache
def _sugar_of(brix: float) -> float:
    """Sugar in a syrup. [g/L]"""
    return float(_prep.syrup(brix, volume=1000.0).sugar)


@functools.cache
def _acid_of(name: str) -> float:
    """Acid in a juice. [g/L]"""
    return float(_pantry.load().find(name).acid)


def _after(before: float, melt: float) -> float:
    return float(_dilution.add_melt(Liquid.of(water=before), melt / 100).mass)


def _in_glass(poured: float, held: float, before: float, melt: float, first: str, last: str) -> dict[str, Amount]:
    """What a pour of so many g/L brings to a litre of the finished drink, and the way there."""
    grams, after = poured * held / 1000, _after(before, melt)
    return {
        first: CONCENTRATION(held), "grams": MASS(grams), "melted": VOLUME(after - before), "after": VOLUME(after),
        last: CONCENTRATION(1000 * grams / after),
    }  # fmt: skip


# --- in the glass ---------------------------------------------------------------------------------------


def sugar_in_glass(syrup: float, before: float, melt: float) -> dict[str, Amount]:
    """Sugar in a litre of the finished drink, from a 1:1 syrup."""
    return _in_glass(syrup, _sugar_of(ONE_TO_ONE), before, melt, "in_syrup", "sugar")


def sugar_before_ice(syrup: float, before: float) -> float:
    """In a litre of the drink before the ice."""
    return syrup * _sugar_of(ONE_TO_ONE) / before


def sugar_by_parts(syrup: float, before: float, melt: float) -> float:
    """Half of the syrup's mL taken for grams of sugar."""
    return 1000 * syrup / 2 / _after(before, melt)


def sugar_per_cent(syrup: float, before: float, melt: float) -> float:
    """Grams in 100 mL."""
    return sugar_in_glass(syrup, before, melt)["sugar"].value / 10


def acid_in_glass(juice: float, before: float, melt: float) -> dict[str, Amount]:
    """Acid in a litre of the finished drink, from lemon juice."""
    return _in_glass(juice, _acid_of("lemon juice"), before, melt, "in_juice", "acid")


def acid_before_ice(juice: float, before: float) -> float:
    """In a litre of the drink before the ice."""
    return juice * _acid_of("lemon juice") / before


def acid_per_cent(juice: float, before: float, melt: float) -> float:
    """Grams in 100 mL."""
    return acid_in_glass(juice, before, melt)["acid"].value / 10


# --- syrups -----------------------------------------------------------------------------------------------


def swap_syrup(thin: float) -> dict[str, Amount]:
    """How much 2:1 syrup has the sugar of a 1:1 syrup."""
    weak, strong = _sugar_of(ONE_TO_ONE), _sugar_of(TWO_TO_ONE)
    return {
        "weak": CONCENTRATION(weak), "strong": CONCENTRATION(strong), "grams": MASS(thin * weak / 1000),
        "rich": VOLUME(thin * weak / strong),
    }  # fmt: skip


def syrup_half(thin: float) -> float:
    """A 2:1 syrup taken for twice as sweet."""
    return thin / 2


def syrup_same(thin: float) -> float:
    """As much of the one as of the other."""
    return thin


def syrup_turned(thin: float) -> float:
    """The ratio turned round."""
    return thin * _sugar_of(TWO_TO_ONE) / _sugar_of(ONE_TO_ONE)


def syrup_water(sugar: float, brix: float) -> dict[str, Amount]:
    """Water that makes a syrup of so many °Brix from sugar."""
    made = _prep.syrup(brix, from_sugar=sugar)
    return {"whole": MASS(sugar * 100 / brix), "water": MASS(float(made.water))}


def syrup_water_of_sugar(sugar: float, brix: float) -> float:
    """What is missing to a hundred, taken of the sugar."""
    return sugar * (100 - brix) / 100


def syrup_all_water(sugar: float, brix: float) -> float:
    """The whole syrup taken for water."""
    return sugar * 100 / brix


# --- acids ----------------------------------------------------------------------------------------------------


def acid_solution(mass: float, strength: float) -> dict[str, Amount]:
    """Dry citric acid in so many grams of a solution by weight."""
    made = _prep.acid_solution(strength, "citric")
    share = made.acids["citric"] / (made.acids["citric"] + made.water)
    return {"acid": MASS(mass * share), "water": MASS(mass * (1 - share))}


def acid_per_water(mass: float, strength: float) -> float:
    """Per cent taken of the water."""
    return mass * strength / (100 + strength)


def acid_tenth(mass: float, strength: float) -> float:
    """Per cent taken for parts in a thousand."""
    return mass * strength / 1000


# --- a refractometer in a drink -------------------------------------------------------------------------------


def brix_with_spirit(reading: float, strength: float) -> dict[str, Amount]:
    """Sugar behind a refractometer's reading in a drink with alcohol."""
    found = _prep.true_sugar(reading, strength)
    degrees = np.linspace(0, 60, 6001)
    left = float(np.interp(found.sugar, 10 * degrees * _sucrose(degrees / 100) / 1000, degrees))
    return {
        "reads": BRIX(float(found.alcohol_reads)), "left": BRIX(left), "weighs": WEIGHS(_weighs(left)),
        "weighs_reading": WEIGHS(_weighs(reading)), "hundred": MASS(left * _weighs(left)), "dry": ABW(left),
        "sugar": CONCENTRATION(float(found.sugar)),
    }  # fmt: skip


def _weighs(brix: float) -> float:
    return float(_sucrose(brix / 100)) / 1000


def brix_as_sugar(reading: float) -> float:
    """The reading taken for sugar alone."""
    return 10 * reading * _weighs(reading)


def brix_per_litre(reading: float, strength: float) -> float:
    """°Brix taken for grams in 100 mL."""
    return 10 * brix_with_spirit(reading, strength)["left"].value
