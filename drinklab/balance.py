"""Balance: sour and sweet against each other, by pH, titratable acid and sweetness.

Sweetness and sourness stand side by side here and are never made one figure: they hide each other in the
mouth, and no published formula was found that deserves use for by how much.

>>> from drinklab.pantry import load
>>> ph(Liquid(load()["lemon_juice"].composition))
2.2
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .errors import InputError, require
from .kinds import Celsius, GramsPerLitre, Number, Ratio
from .liquid import ACIDS, Liquid
from .physics import acids as _acids
from .physics.density import abv_of
from .profile import LEAST_ACID
from .units import door, plain_number

# --- sour -------------------------------------------------------------------------------------------
# One standard deviation each, and all judgements: of the potassium (fruit differs; sodium, calcium and chloride are
# taken to cancel), of potassium that no source states or whose own acids are not counted, and of what no table counts
# [mol/L, as little as a hard tap water holds].
SALT_PM, UNSURE_PM, UNCOUNTED_PM = 0.20, 0.5, 0.0005
MOST_PM = 0.5  # beyond, pH counts as not known: a whole unit either way


def ph(liquid: Liquid, other: _acids.Held | None = None) -> Number:
    """pH of a drink by its acids, their salts, its alcohol and its dissolved gas; `ph_pm` says how surely.

    Parameters
    ----------
    liquid : Liquid
        One drink or any number of them.
    other : function, optional
        What else takes up acid, such as milk's proteins: as for `physics.acids.solve`.

    Returns
    -------
    float or array
        As a meter reads at 25 °C.

    Notes
    -----
    A drink without acids comes out near 7 or above with a `ph_pm` of some units: nothing is known of its pH, and
    `ph_known` says so.

    Examples
    --------
    >>> from drinklab.pantry import load
    >>> juice = load()["lemon_juice"].composition
    >>> f"{ph(Liquid(juice)):.2f} ± {ph_pm(Liquid(juice)):.2f}"
    '2.23 ± 0.07'
    """
    held = charges(liquid)
    acids, cations = held.salted()
    return plain_number(_acids.solve(acids, cations, held.abv, other).ph[()])


def ph_pm(liquid: Liquid) -> Number:
    """About one standard deviation of `ph`: half of the longer side of the band of `ph_reading`."""
    return plain_number(ph_reading(liquid).pm)


def ph_known(liquid: Liquid) -> bool | np.ndarray:
    """Whether pH is known to a unit either way: without counted acids it is not.

    >>> ph_known(Liquid.of(water=60, ethanol=30)), ph_known(Liquid.of(water=60, ethanol=30, citric=1))
    (False, True)
    """
    known = ph_reading(liquid).known
    return known if np.ndim(known) else bool(known)


class PhReading(NamedTuple):
    """What one solving of the charges tells: pH, and the ends of its band."""

    usual: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @property
    def pm(self) -> np.ndarray:
        """About one standard deviation."""
        return np.maximum(self.usual - self.low, self.high - self.usual) / 2

    @property
    def known(self) -> np.ndarray:
        """Whether it is known to a unit either way."""
        return self.pm < MOST_PM

    @property
    def or_sourest(self) -> Number:
        """For what acid spoils, such as a gel: where it is not known, the low end of its band, at most 7."""
        return plain_number(np.where(self.known, self.usual, np.minimum(self.low, 7.0))[()])


def ph_reading(liquid: Liquid) -> PhReading:
    """pH of a drink with the band that holds 19 drinks in 20 when the amounts of the acids are right: solved once.

    The band is from the constants and the alcohol (`physics.acids.ph_error`), from the salts (20 % of the potassium),
    from those of ingredients whose salts are not known (from none to twice the guess) and from what the tables do not
    count (0.5 mmol/L): all but the first are judgements. How much the acids of fruit differ comes on top.

    >>> from drinklab.pantry import load
    >>> [round(float(end), 1) for end in ph_reading(Liquid(load()["verjus"].composition))[1:]]
    [2.5, 2.9]
    >>> ph_reading(Liquid.of(water=90, citric=[1, 0.1], unsure_potassium=[0, 0.1])).or_sourest.round(1)
    array([2.2, 2.8])
    """
    held = charges(liquid)
    sides = np.array([[0, 0], [-2, 0], [2, 0], [0, -2], [0, 2]] if held.unsure.any() else [[0, 0], [-2, 0], [2, 0]])
    known, unsure = sides.T.reshape(2, -1, *(1,) * len(liquid.shape))
    acids, cations = held.salted(known, unsure)
    found = _acids.solve(acids, cations, held.abv)
    usual, low, high = found.ph[0], found.ph[1::2], found.ph[2::2]
    error = (2 * _acids.ph_error(held.abv, found.ions[0])) ** 2
    return PhReading(
        usual,
        usual - np.sqrt(((usual - low) ** 2).sum(axis=0) + error),
        usual + np.sqrt(((high - usual) ** 2).sum(axis=0) + error),
    )


class Charges(NamedTuple):
    """What holds charge in a drink: moles of each acid in all its forms, and of potassium, to a litre of it.

    Salts of unknown amount come with a weak acid of their own that no table counts (acetic stands for it): they
    bind another acid's hydrogen, and alone they are no alkali.
    """

    acids: dict[str, np.ndarray]
    known: np.ndarray
    unsure: np.ndarray
    abv: Number

    def salted(self, known: Number = 0.0, unsure: Number = 0.0) -> tuple[dict[str, np.ndarray], np.ndarray]:
        """Acids and cations with so many standard deviations more of the known and of the unsure salts."""
        spread = np.hypot(SALT_PM * self.known, UNCOUNTED_PM)
        more = self.unsure * np.maximum(1 + UNSURE_PM * np.asarray(unsure), 0.0)
        cations = np.maximum(self.known + known * spread, 0.0) + more
        return self.acids | {"acetic": self.acids["acetic"] + more}, cations


def charges(liquid: Liquid, litres: Number | None = None, abv: Number | None = None) -> Charges:
    """The charges of a drink, or of what it becomes when it is thinned to so many litres of a strength."""
    litres = np.asarray(liquid.volume()) / 1000 if litres is None else litres
    if not np.all(litres > 0):
        raise InputError("total of the drink", float(np.min(liquid.mass)), "above 0 g")
    acids = {name: np.asarray(getattr(liquid, name)) / _acids.ACIDS[name].molar / litres for name in ACIDS}
    acids["carbonic"] = np.asarray(liquid.co2) / _acids.ACIDS["carbonic"].molar / litres
    known, unsure = (
        np.asarray(part) / _acids.POTASSIUM / litres for part in (liquid.potassium, liquid.unsure_potassium)
    )
    abv = np.minimum(abv_of(liquid.ethanol, 1000 * litres), 100.0) if abv is None else abv
    return Charges(acids, known, unsure, abv)


def titratable(liquid: Liquid) -> GramsPerLitre:
    """Titratable acidity: alkali to pH 8.2, told as anhydrous citric acid, without dissolved gas. [g/L]

    Salts of unknown amount are left out: with their own acids they take no alkali.

    >>> titratable(Liquid.of(water=960, citric=48))
    48.4
    """
    litres = np.asarray(liquid.volume()) / 1000
    if not np.all(litres > 0):
        raise InputError("total of the drink", float(np.min(liquid.mass)), "above 0 g")
    acids = {name: getattr(liquid, name) / litres for name in ACIDS}  # laboratories shake or boil the gas out first
    return _acids.titratable(acids, potassium=liquid.potassium / litres)


# --- sweet ------------------------------------------------------------------------------------------
# Gram for gram against sucrose, and about one standard deviation: the spread of the published sets (Biester and
# Wood; Sale and Skinner; Paul; Gaman and Sherrington; read).
RELATIVE_SWEETNESS = {"sucrose": 1.0, "glucose": 0.70, "lactose": 0.25}
RELATIVE_SWEETNESS_PM = {"glucose": 0.10, "fructose": 0.20, "lactose": 0.08}
# Fructose is the one that changes: 5 % solutions (Tsuzuki and Yamazaki, second hand; read). Below 5 °C as at 5 °C.
FRUCTOSE_AT = np.array([5.0, 18.0, 40.0, 60.0])  # °C
FRUCTOSE_SWEET = np.array([1.47, 1.285, 1.00, 0.795])
COLD, WARM = 5.0, 20.0  # a served drink, and a bottle on the shelf [°C]


@door
def sweetness(liquid: Liquid, temperature: Celsius = WARM) -> GramsPerLitre:
    """Sweetness as the sucrose that would taste as sweet in water; an estimate, see `sweetness_pm`.

    Each sugar counts by its relative sweetness; glucose and fructose together (invert sugar, honey) half and
    half. What acid, alcohol, bubbles and cold themselves do to sweetness is left out.

    Parameters
    ----------
    liquid : Liquid
    temperature : float or array
        At which it is drunk, -20 to 60. [°C]

    Returns
    -------
    float or array
        Sucrose. [g/L]

    Examples
    --------
    >>> syrup = Liquid.of(water=950, glucose=50, fructose=50)  # invert sugar
    >>> sweetness(syrup, 5) / sweetness(syrup, 40)
    1.276
    """
    return _sweet(liquid, _sweet_factors(temperature))


@door
def sweetness_pm(liquid: Liquid, temperature: Celsius = WARM) -> GramsPerLitre:
    """About one standard deviation of `sweetness`: how far the published figures for each sugar lie apart. [g/L]

    >>> round(sweetness_pm(Liquid.of(water=950, fructose=100)))
    20
    """
    _sweet_factors(temperature)  # the temperature is in range
    return _sweet(liquid, RELATIVE_SWEETNESS_PM, np.hypot)


def _sweet_factors(temperature: Number) -> dict[str, Number]:
    require("temperature", temperature, -20, FRUCTOSE_AT[-1], "°C")
    return RELATIVE_SWEETNESS | {"fructose": np.interp(temperature, FRUCTOSE_AT, FRUCTOSE_SWEET)}


def _sweet(liquid: Liquid, factors: Mapping[str, Number], add: Callable[[Number, Number], Number] = np.add) -> Number:
    litres = np.asarray(liquid.volume()) / 1000
    found = functools.reduce(add, (getattr(liquid, name) * factor for name, factor in factors.items())) / litres
    return found if np.ndim(found) else float(found)


@dataclass(frozen=True, slots=True)
class Taste:
    """Sour and sweet side by side, cold (5 °C) and warm (20 °C): estimates, with about one standard deviation.

    `sourness` is titratable acidity as citric acid, as near to sourness as one figure comes; pH stands beside
    it because of two drinks of the same acidity the one of lower pH tastes sourer. `sweet_to_sour` is the
    juice trade's ratio, of sweetness in place of °Brix (orange juice: 13 to 18, Kimball 1991); infinite
    without acid. How one hides the other is not in any of them.
    """

    ph: Number
    ph_pm: Number
    sourness: GramsPerLitre
    sweet_cold: GramsPerLitre
    sweet_cold_pm: GramsPerLitre
    sweet_warm: GramsPerLitre
    sweet_warm_pm: GramsPerLitre
    sweet_to_sour_cold: Ratio
    sweet_to_sour_warm: Ratio


def taste(liquid: Liquid) -> Taste:
    """Sour and sweet side by side, cold and warm.

    >>> from drinklab.pantry import load
    >>> found = taste(Liquid(load()["honey_syrup"].composition))
    >>> found.sweet_cold > found.sweet_warm
    True
    """
    sour, cold, warm = titratable(liquid), sweetness(liquid, COLD), sweetness(liquid, WARM)

    def over(sweet: Number) -> Number:
        ratio = np.divide(sweet, sour, out=np.full(np.shape(sweet), np.inf), where=np.asarray(sour) >= LEAST_ACID)
        return ratio if np.ndim(ratio) else float(ratio)

    return Taste(
        ph=ph(liquid), ph_pm=ph_pm(liquid), sourness=sour, sweet_cold=cold, sweet_cold_pm=sweetness_pm(liquid, COLD),
        sweet_warm=warm, sweet_warm_pm=sweetness_pm(liquid, WARM), sweet_to_sour_cold=over(cold),
        sweet_to_sour_warm=over(warm),
    )  # fmt: skip
