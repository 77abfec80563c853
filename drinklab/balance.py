"""Balance: strong, sour and sweet against each other: profile, pH and sweetness, and amounts for a wanted balance.

Sweetness and sourness stand side by side here and are never made one figure: they hide each other in the
mouth, and no published formula was found that deserves use for by how much.

>>> from drinklab.pantry import load
>>> ph(Liquid(load()["lemon_juice"].composition))
2.2
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from .errors import InputError, require
from .kinds import Celsius, GramsPerLitre, Ratio
from .liquid import ACIDS, Liquid
from .physics import acids as _acids
from .profile import AXES, FIGURES, KINDS, LEAST_ACID, Place, Profile, abv_of, place, profile, reference, scales, served
from .reach import Answer, Limit, reach, swap
from .units import door

__all__ = [
    "AXES", "FIGURES", "KINDS", "LEAST_ACID", "Answer", "Limit", "Place", "Profile", "Taste", "ph", "ph_pm", "place",
    "profile", "reach", "reference", "scales", "served", "swap", "sweetness", "sweetness_pm", "taste", "titratable",
]  # fmt: skip

# --- sour -------------------------------------------------------------------------------------------
# What the tables leave out of a drink's acids and salts, and by how much its potassium may be wrong (fruit
# differs, and sodium, calcium and chloride are taken to cancel): judgements.
SALT_PM, UNCOUNTED_PM = 0.20, 0.0005  # of the potassium; mol/L, as little as a hard tap water holds


def ph(liquid: Liquid, other=None):
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
    A drink without acids comes out near 7 with a `ph_pm` of some units: nothing is known of its pH.

    Examples
    --------
    >>> from drinklab.pantry import load
    >>> juice = load()["lemon_juice"].composition
    >>> f"{ph(Liquid(juice)):.2f} ± {ph_pm(Liquid(juice)):.2f}"
    '2.23 ± 0.06'
    """
    acids, potassium, abv = _sour(liquid)
    return _acids.ph(acids, potassium=potassium, abv=abv, other=other)


def ph_pm(liquid: Liquid):
    """About one standard deviation of `ph` when the amounts of the acids are right.

    From the constants and the alcohol (`physics.acids.ph_error`), from the salts (20 % of the potassium) and
    from acids and salts that the tables do not count (0.5 mmol/L): the last two are judgements. How much the
    acids of fruit differ comes on top.
    """
    acids, potassium, abv = _sour(liquid)
    moles = {name: np.asarray(grams) / _acids.ACIDS[name].molar for name, grams in acids.items()}
    salt = np.asarray(potassium) / _acids.POTASSIUM
    usual = _acids.solve(moles, salt, abv)
    more = _acids.solve(moles, salt + np.hypot(SALT_PM * salt, UNCOUNTED_PM), abv)
    found = np.hypot(more.ph - usual.ph, _acids.ph_error(abv, usual.ions))
    return found if np.ndim(found) else float(found)


def titratable(liquid: Liquid) -> GramsPerLitre:
    """Titratable acidity: alkali to pH 8.2, told as anhydrous citric acid, without dissolved gas. [g/L]

    >>> titratable(Liquid.of(water=960, citric=48))
    48.4
    """
    acids, potassium, _ = _sour(liquid)
    del acids["carbonic"]  # laboratories shake or boil it out first
    return _acids.titratable(acids, potassium=potassium)


def _sour(liquid: Liquid):
    """Acids by name and potassium [g/L], and strength [% vol]."""
    litres = np.asarray(liquid.volume()) / 1000
    if not np.all(litres > 0):
        raise InputError("total of the drink", float(np.min(liquid.mass)), "above 0 g")
    held = {name: getattr(liquid, name) / litres for name in ACIDS} | {"carbonic": liquid.co2 / litres}
    abv = np.minimum(abv_of(liquid.ethanol, 1000 * litres), 100.0)
    return held, liquid.potassium / litres, abv


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


def _sweet_factors(temperature) -> dict:
    require("temperature", temperature, -20, FRUCTOSE_AT[-1], "°C")
    return RELATIVE_SWEETNESS | {"fructose": np.interp(temperature, FRUCTOSE_AT, FRUCTOSE_SWEET)}


def _sweet(liquid, factors, add=np.add):
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

    ph: float
    ph_pm: float
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

    def over(sweet):
        ratio = np.divide(sweet, sour, out=np.full(np.shape(sweet), np.inf), where=np.asarray(sour) >= LEAST_ACID)
        return ratio if np.ndim(ratio) else float(ratio)

    return Taste(
        ph=ph(liquid), ph_pm=ph_pm(liquid), sourness=sour, sweet_cold=cold, sweet_cold_pm=sweetness_pm(liquid, COLD),
        sweet_warm=warm, sweet_warm_pm=sweetness_pm(liquid, WARM), sweet_to_sour_cold=over(cold),
        sweet_to_sour_warm=over(warm),
    )  # fmt: skip
