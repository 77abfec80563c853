"""What boiling takes away: alcohol and water, by open pan; and from which temperature a spirit's vapour can be lit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, NamedTuple

import numpy as np

from . import strength
from .errors import require
from .facts import Fact
from .kinds import TEMPERATURE, Celsius, Fraction, Kind, Number
from .liquid import Liquid
from .physics import vapour as _vapour
from .profile import profile
from .steps import Caution, Draw, Outcome, estimate, savable
from .units import door, plain_number

FLAME = Caution("flame")


@savable("boil", Fact("basis of boiling"))
@dataclass(frozen=True, slots=True)
class Boil:
    """Boil a share of the drink away, by weight: see `boil`."""

    share: float = 0.1
    name: str = "boiled"

    def warns(self, abv: float) -> tuple[Caution, ...]:
        """With alcohol in it."""
        return (FLAME,) * (abv > 0)

    def __post_init__(self) -> None:
        require("share boiled away", self.share, 0, 1, "of the weight")

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """What stays in the pan, and the vapour as `left`."""
        factor = np.maximum(1 + VOLATILITY_SPREAD / 2 * draw("what boils first"), 0.1)
        left, vapour = _boiled(liquid, self.share, factor)
        had, gone = (float(np.ravel(part.ethanol)[0]) for part in (liquid, vapour))
        hot = _boiling(left)
        said: tuple[Fact, ...] = (Fact("off the boil", at=TEMPERATURE(hot)),)
        if np.any(liquid.co2 > 0):
            said += (Fact("boiled flat"),)
        if not had:
            return Outcome(left, vapour, said=said, temperature=hot)
        lost = Fact("alcohol boiled away", share=100 * self.share, lost=100 * gone / had)
        return Outcome(left, vapour, (FLAME,), said=(lost, *said), temperature=hot)

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[Fact, ...]:
        """How long: by weight."""
        return (Fact("boil away", share=100 * self.share),)


def _boiling(liquid: Liquid) -> float:
    """Where the first of a drink's versions boils, by its alcohol and water. [°C]"""
    ethanol, water = (float(np.ravel(part)[0]) for part in (liquid.ethanol, liquid.water))
    return float(_vapour.boiling_point(ethanol / max(ethanol + water, 1e-300)))


class Flat(NamedTuple):
    """A drink gone flat, and the gas that left it."""

    liquid: Liquid
    gas: Liquid


def without_gas(liquid: Liquid) -> Flat:
    """A drink gone flat, and the gas that leaves it."""
    gas = Liquid.of(co2=liquid.co2)
    return Flat(Liquid(liquid.grams - gas.grams), gas)


# Half-width that holds 19 pans in 20. The equilibrium is good to 5 %; a lid, a cold rim or a draught shift more.
# A judgement.
VOLATILITY_SPREAD = 0.25


def volatility(mass_fraction: Number) -> Number:
    """How many times more readily than water ethanol leaves a boiling mixture, at 101.3 kPa.

    Parameters
    ----------
    mass_fraction : float or array
        Ethanol in ethanol and water. [g/g]

    Returns
    -------
    float or array
        (vapour ethanol / vapour water) / (liquid ethanol / liquid water); 1 at the azeotrope.

    Examples
    --------
    >>> volatility(0.0), volatility(0.333)
    (11.95, 5.34)
    """
    require("mass fraction", mass_fraction, 0, 1, "g/g")
    return plain_number(_vapour.volatility(mass_fraction))


_STEPS = 60  # of a boil


def _rayleigh(start: Number, kept: Number, volatility: Callable[[Number], Number]) -> Number:
    """Mass fraction left when `kept` of ethanol and water is left: dx / d ln m = y - x, by Runge and Kutta."""
    x, h = np.asarray(start, float), np.log(kept) / _STEPS

    def slope(x: Number) -> Number:
        rich = volatility(x) * x
        return rich / (1 - x + rich) - x

    for _ in range(_STEPS):
        k1 = slope(x)
        k2 = slope(x + h * k1 / 2)
        k3 = slope(x + h * k2 / 2)
        x = np.clip(x + h * (k1 + 2 * k2 + 2 * k3 + slope(x + h * k3)) / 6, 0.0, 1.0)
    return x


def _boiled(liquid: Liquid, share: Number, factor: Number = 1.0) -> tuple[Liquid, Liquid]:
    """The liquid left and the vapour, when `share` of the mass has boiled away; gas goes before anything boils."""
    liquid, gas = without_gas(liquid)
    volatile = liquid.ethanol + liquid.water
    require("water and alcohol of the drink", volatile, 1e-9, np.inf, "g")
    most = float(np.floor(99 * np.min(volatile / liquid.mass))) / 100  # the rest does not boil
    require("share boiled away", share, 0, most, "of the weight")
    kept = 1 - share * liquid.mass / volatile
    liquid = np.ones(np.shape(kept)) * liquid
    start = np.divide(liquid.ethanol, volatile)
    left = _rayleigh(start, kept, lambda x: factor * _vapour.volatility(x))
    # never more of either than there was: rounding of the steps where one of the two is missing
    ethanol = np.minimum(left * kept * volatile, liquid.ethanol)
    water = kept * volatile - ethanol
    vapour = Liquid.of(ethanol=liquid.ethanol - ethanol, water=np.maximum(liquid.water - water, 0.0))
    return Liquid(liquid.grams - vapour.grams), vapour + gas


@dataclass(frozen=True, slots=True)
class Boiled:
    """What boiling left: the liquid, the vapour, the strength and the share of alcohol kept, with their bands."""

    liquid: Liquid
    vapour: Liquid
    abv: Number
    abv_low: Number
    abv_high: Number
    kept: Number
    kept_low: Number
    kept_high: Number


@door
def boil(liquid: Liquid, share: Fraction) -> Boiled:
    """What is lost when a drink with spirit is boiled: weigh the pan before and after.

    Parameters
    ----------
    liquid : Liquid
        Before, with any axes.
    share : float or array
        Of its weight, boiled away. [g/g]

    Returns
    -------
    Boiled
        Low and high hold about 19 pans in 20 (`VOLATILITY_SPREAD`).

    Raises
    ------
    InputError
        If more is to boil away than the water and alcohol in it.

    Notes
    -----
    An open pan: what has turned to vapour is gone (Rayleigh), and leaves in equilibrium with the liquid at
    101.3 kPa (van Laar, `volatility`). Only ethanol and water leave. Sugar drives off a little more alcohol
    and is left out. For measured dishes, whose losses depend on pan and time, 85 % of the alcohol was kept
    when added to boiling liquid and taken off the heat, 40 % after 15 minutes' simmer (Augustin et al., J. Am.
    Diet. Assoc. 92 (1992) 486, as quoted by USDA).

    Examples
    --------
    >>> pan = boil(strength.spirit(500, 12), 0.05)
    >>> round(pan.abv, 1), round(pan.kept, 2)
    (9.5, 0.75)
    """
    left, vapour = _boiled(liquid, share)
    slow, fast = (_boiled(liquid, share, 1 + sign * VOLATILITY_SPREAD)[0] for sign in (-1, 1))
    had = np.maximum(liquid.ethanol, 1e-300)  # 0 of 0 is kept: said as none
    strengths = (plain_number(profile(part).abv) for part in (left, fast, slow))
    return Boiled(left, vapour, *strengths, *(plain_number(part.ethanol / had) for part in (left, fast, slow)))


# Flash points of ethanol in water by mass, from an engineering data page; encyclopaedias print the same figures as
# % vol. Pure: 12 °C, closed cup. [% mass, °C]
_FLASH = np.array([
    (5, 62), (10, 49), (20, 36), (30, 29), (40, 26), (50, 24), (60, 22), (70, 21), (80, 20), (90, 17), (96, 17),
    (100, 12),
])  # fmt: skip

# How much lower it may be: vapour pressures and a lower limit of 3.3 % in air give up to 5 °C less from 20 % mass up,
# and 9 °C less below; read as % vol, the printed figures are 1 to 7 °C lower. [% mass, °C]
_FLASH_LESS = np.array([(5, 9), (18, 9), (20, 5), (100, 5)])

FLASH_RANGE = Kind("% vol", "percent", 6.3, 100)


@door
def flash_point(abv: Annotated[Number, FLASH_RANGE]) -> Celsius:
    """Temperature from which the vapour over a spirit can be lit, as printed; see `flash_least`. [°C]

    >>> flash_point(40), flash_point(57)
    (28.0, 24.2)
    """
    return np.interp(strength.abw_from_abv(abv), *_FLASH.T)


@door
def flash_least(abv: Annotated[Number, FLASH_RANGE]) -> Celsius:
    """The lowest that `flash_point` may be: 5 °C less from 25 % vol up, 9 °C less below about 22 % vol. [°C]

    >>> flash_least(40), flash_least(12)
    (23.0, 40.9)
    """
    mass = strength.abw_from_abv(abv)
    return np.interp(mass, *_FLASH.T) - np.interp(mass, *_FLASH_LESS.T)
