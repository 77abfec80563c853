"""Where a drink begins to freeze and how much of it is ice."""

from __future__ import annotations

import numpy as np

from .. import pantry as _pantry
from ..errors import require
from ..kinds import Celsius, GramsPerLitre, PercentVol
from ..liquid import Liquid
from ..pantry import Ingredient
from ..physics import freezing as _freezing
from ..units import door, number, plain_number

HEAT_PARTS = ("water", "ethanol", *_freezing.SOLUTES)


def heat_parts(liquid: Liquid) -> dict:
    """What counts for heat and freezing; protein, fat and other solids do not."""
    return {name: grams for name, grams in liquid.parts().items() if name in HEAT_PARTS}


def mixture(volume, abv, sugar) -> Liquid:
    """Plain mixtures of alcohol, cane sugar and water: volume [mL], strength [% vol], sugar [g/L]; with any axes.

    >>> round(mixture(100, 40, 50).volume(), 3), round(mixture(100, 40, 50).sugar, 2)
    (100.0, 5.0)
    """
    require("strength before ice", abv, 0, 100, "% vol")
    require("sugar before ice", sugar, 0, 1000, "g/L")
    abv, sugar = np.asarray(abv, float), np.asarray(sugar, float)
    most = float(sugar.max(initial=0.0))
    plain = Ingredient("mixture", "the plain mixture", "other", float(abv.max()), most, 0.0, solutes={"sucrose": most})
    return volume * Liquid(np.moveaxis(_pantry.composition_of(plain, abv, sugar, np.zeros(())), -1, 0))


def freezing_point(liquid: Liquid):
    """Where a drink begins to freeze, good to about 1 °C. [°C]

    >>> from drinklab.strength import spirit
    >>> round(freezing_point(spirit(60, 40)), 0)
    -23.0
    """
    return plain_number(_freezing.freezing_point_of(heat_parts(liquid)))


def frozen_share(liquid: Liquid, temperature):
    """How much of a drink's water is ice at a temperature: 0 is liquid, a third is slush. [g/g]

    Water freezes out until what is left freezes no more at that temperature.

    >>> from drinklab.strength import spirit
    >>> round(frozen_share(spirit(700, 20), -18), 2), frozen_share(spirit(700, 40), -18)
    (0.5, 0.0)
    """
    temperature = number(temperature, "temperature")
    require("temperature", temperature, -40, 40, "°C")
    parts = heat_parts(liquid)
    low = np.zeros(np.broadcast_shapes(liquid.shape, np.shape(temperature)))
    high = low + 1.0
    for _ in range(50):
        share = (low + high) / 2
        point = _freezing._freezing_point({**parts, "water": parts["water"] * np.maximum(1 - share, 1e-9)})
        low, high = np.where(point > temperature, share, low), np.where(point > temperature, high, share)
    liquid_still = _freezing._freezing_point(parts) <= temperature
    return plain_number(np.where(liquid_still, 0.0, (low + high) / 2))


@door
def weakest_liquid(temperature: Celsius, sugar: GramsPerLitre = 0.0) -> PercentVol:
    """Weakest drink that does not begin to freeze in a store: water, ethanol and sucrose.

    Parameters
    ----------
    temperature : float or array
        Of the store, -40 to 0. [°C]
    sugar : float or array
        [g/L]

    Returns
    -------
    float or array
        Good to about 1 % vol, since freezing points are good to 1 °C. [% vol]

    Raises
    ------
    InputError
        Outside these ranges.

    Examples
    --------
    >>> round(weakest_liquid(-18)), round(weakest_liquid(-18, 100))
    (34, 31)
    """
    require("temperature", temperature, -40, 0, "°C")
    require("sugar", sugar, 0, 400, "g/L")
    temperature, sugar = np.broadcast_arrays(temperature, sugar)
    low, high = np.zeros(temperature.shape), np.full(temperature.shape, 65.0)
    for _ in range(30):
        abv = (low + high) / 2
        freezes = freezing_point(mixture(1000.0, abv, sugar)) > temperature
        low, high = np.where(freezes, abv, low), np.where(freezes, high, abv)
    return high
