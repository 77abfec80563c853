"""Where a drink begins to freeze, how much of it is ice, and a freezer as a step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import InputError, Told, require
from ..facts import Fact
from ..ingredient import composition_of
from ..kinds import TEMPERATURE, Celsius, Given, GramsPerLitre, Number, PercentVol
from ..liquid import Liquid
from ..pantry import Ingredient
from ..physics import freezing as _freezing
from ..steps import Caution, Draw, Outcome, estimate, first, savable
from ..units import door, number, plain_number, to_celsius

HEAT_PARTS = ("water", "ethanol", *_freezing.SOLUTES)


def heat_parts(liquid: Liquid) -> dict[str, Any]:
    """What counts for heat and freezing; protein, fat and other solids do not."""
    return {name: grams for name, grams in liquid.parts().items() if name in HEAT_PARTS}


def mixture(volume: Number, abv: Number, sugar: Number) -> Liquid:
    """Plain mixtures of alcohol, cane sugar and water, with any axes.

    Volume [mL], strength 0 to 100 [% vol], sugar 0 to 1000 [g/L].

    >>> round(mixture(100, 40, 50).volume(), 3), round(mixture(100, 40, 50).sugar, 2)
    (100.0, 5.0)
    """
    require("strength before ice", abv, 0, 100, "% vol")
    require("sugar before ice", sugar, 0, 1000, "g/L")
    abv, sugar = np.asarray(abv, float), np.asarray(sugar, float)
    most = float(sugar.max(initial=0.0))
    plain = Ingredient("mixture", "the plain mixture", "other", float(abv.max()), most, 0.0, solutes={"sucrose": most})
    return volume * Liquid(np.moveaxis(composition_of(plain, abv, sugar, np.zeros(())), -1, 0))


def freezing_point(liquid: Liquid) -> Number:
    """Where a drink begins to freeze, good to about 1 °C. [°C]

    >>> from drinklab.strength import spirit
    >>> round(freezing_point(spirit(60, 40)), 0)
    -23.0
    """
    return plain_number(_freezing.freezing_point_of(heat_parts(liquid)))


def frozen_share(liquid: Liquid, temperature: Given) -> Number:
    """How much of a drink's water is ice at a temperature, -40 to 40 °C: 0 is liquid, a third is slush. [g/g]

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
        0 to 400. [g/L]

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


# Ice in the water of what pours, of slush, and from where it is hard. Common practice, no published source. [g/g]
SLUSH, HARD = 0.05, 0.6
# Density of water at 20 °C over that of ice at 0 °C: 0.9982 and 0.9167 g/mL (CRC Handbook, 102nd edition; from memory).
_WATER, _ICE = 0.9982, 0.9167
_GAS = 0.2  # of a drink that is as good as still [g/L]


def swells(liquid: Liquid, celsius: float) -> float:
    """What freezing adds to a drink's volume, as a share. [mL/mL]

    >>> from drinklab.strength import spirit
    >>> round(swells(spirit(700, 20), -18), 3)
    0.036
    """
    share = frozen_share(liquid, celsius)
    return float(share * liquid.water * (1 / _ICE - 1 / _WATER) / liquid.volume())


@savable("freeze", Fact("basis of freezing"))
@dataclass(frozen=True, slots=True)
class Freeze:
    """Stand a still drink in a freezer, without ice: nothing of it changes but how much of its water is ice.

    Parameters
    ----------
    temperature : float or str
        Of the freezer, -30 to 0. [°C]

    >>> from drinklab.strength import spirit
    >>> print(Freeze(-12).act(spirit(700, 15)).said[1].code)
    freezes to slush
    """

    temperature: float = -12.0
    name: str = "frozen"

    def __post_init__(self) -> None:
        object.__setattr__(self, "temperature", to_celsius(self.temperature))
        require("temperature of the freezer", self.temperature, -30, 0, "°C")

    def warns(self, abv: float) -> tuple[Caution, ...]:
        """Whether it stays liquid is known only when it is run."""
        return (BURSTS,) * (self.temperature < 0)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Refuses gas; says whether it stays liquid, or becomes slush, or hard."""
        drink = first(liquid)
        if drink.co2 > _GAS * drink.volume() / 1000:
            allowed = "a still one: ice drives the gas out, and what is closed bursts"
            raise InputError("drink to freeze", Told("one with gas in it"), allowed)
        share, at = frozen_share(drink, self.temperature), TEMPERATURE(self.temperature)
        do = Fact("freeze", at=at)
        if share < SLUSH:
            return Outcome(liquid, said=(do, Fact("stays liquid", temperature=at)), temperature=self.temperature)
        told = {"temperature": at, "share": 100 * share, "more": 100 * swells(drink, self.temperature)}
        said = Fact("freezes to slush" if share < HARD else "freezes hard", **told)
        return Outcome(liquid, said=(do, said), cautions=(BURSTS,), temperature=self.temperature)


BURSTS = Caution("what freezes bursts")
