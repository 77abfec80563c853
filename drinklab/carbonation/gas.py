"""Gas in a drink: how much it holds, what pressure and how much gas that takes, and what pouring leaves of it.

Every pressure is as a gauge reads it (0 is open to the air at sea level), every gas is carbon dioxide, and one
volume of gas is 1.96 g/L. `spread` says how sure a drink's figures are; anything that could hurt is refused, or
said as a `Caution`, before a number is given. A vessel's stamped limit is always obeyed.

>>> from drinklab.strength import spirit
>>> highball = spirit(200, 10)
>>> pressure_for(highball, 3.0, "4 °C"), volumes_held(highball, "25 psi", 4)
(120.6, 3.685)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .. import dilution
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import TEMPERATURE, VOLUME, Celsius, GasVolumes, GaugeKilopascals, Given, Grams, Number
from ..liquid import COMPONENTS, Liquid
from ..physics import solubility as _solubility
from ..physics.density import abv_of
from ..physics.solubility import ATMOSPHERE, grams_from_volumes, volumes_from_grams
from ..steps import Caution
from ..units import door, number

if TYPE_CHECKING:
    import pandas as pd

_CO2 = COMPONENTS.index("co2")

# --- what can hurt ----------------------------------------------------------------------------------------

# Limit of gas in a room: OSHA, 29 CFR 1910.1000, table Z-1 (read in pages that quote it); HSE, EH40/2005 (from memory).
CAUTIONS = Caution("gas pressure"), Caution("gas in the room")
FOAMY_PROTEIN, FOAMY_SUGAR = 1.0, 100.0  # g/L; common practice, no published source


def foaming(liquid: Liquid) -> tuple[Caution, ...]:
    """What will make a drink foam: protein (whey of a milk wash, egg, juice) and much sugar.

    From 1 g/L of protein and 100 g/L of sugar; common practice, no published source.

    >>> [c.code for c in foaming(Liquid.of(water=90, protein=0.5, sucrose=12))]
    ['foam of protein', 'foam of sugar']
    """
    litres, _, _ = strength_and_sugar(liquid)
    found = []
    if np.any(liquid.protein / litres >= FOAMY_PROTEIN):
        found.append(Caution("foam of protein"))
    if np.any(liquid.sugar / litres >= FOAMY_SUGAR):
        found.append(Caution("foam of sugar"))
    return tuple(found)


# --- how much gas a drink holds ---------------------------------------------------------------------------


class Still(NamedTuple):
    """A drink without its gas: litres, strength [% vol] and dissolved solids [g/L]."""

    litres: Number
    abv: Number
    solids: Number


def strength_and_sugar(liquid: Liquid) -> Still:
    """Litres, % vol and dissolved solids in g/L of a drink without its gas."""
    grams = liquid.grams.copy()
    grams[_CO2] = 0.0
    still = Liquid(grams)
    if not np.all(np.asarray(still.mass) > 0):
        raise InputError("volume of the drink", VOLUME(0), Fact("above", low=VOLUME(0)))
    ml = still.volume()
    abv = abv_of(still.ethanol, ml)
    return Still(ml / 1000, abv, 1000 * (still.sugar + still.acid + still.solids) / ml)


def require_one(liquid: Liquid, **values: Number | None) -> None:
    """Refuse more than one drink, and more than one of each value."""
    if liquid.shape:
        raise InputError("liquid", Told(f"{math.prod(liquid.shape)} drinks"), "one drink")
    for name, value in values.items():
        if value is not None and np.ndim(value):
            raise InputError(name, Told(f"{np.size(value)} values"), "one value")


def henry_of(liquid: Liquid, temperature: Number) -> Number:
    """g/L for each kPa of fugacity; refuses a drink that freezes there."""
    require("temperature", temperature, *_solubility.TEMPERATURES, "°C")
    _, abv, solids = strength_and_sugar(liquid)
    found = _solubility.henry(temperature, abv, solids)
    require_liquid(liquid, temperature)
    return found


def _keeps(liquid: Liquid, temperature: Number) -> Number:
    """g/L under 1 atm of gas."""
    return henry_of(liquid, temperature) * _solubility.fugacity(ATMOSPHERE, temperature)


def require_liquid(liquid: Liquid, temperature: Number, field: str = "temperature") -> None:
    """Refuse a drink that freezes at this temperature. [°C]"""
    point = np.asarray(dilution.freezing_point(liquid))
    frozen = np.asarray(temperature) < point - 1e-9
    if np.any(frozen):
        bad, least = (float(np.broadcast_to(a, frozen.shape)[frozen].flat[0]) for a in (temperature, point))
        allowed = Fact("not beginning to freeze", point=TEMPERATURE(math.ceil(10 * least) / 10))
        raise InputError(field, TEMPERATURE(bad), allowed)


@door
def dissolved_co2(liquid: Liquid, pressure: GaugeKilopascals, temperature: Celsius) -> Number:
    """Gas that a drink holds once it has come to rest under a pressure, in g/L; `volumes_held` gives volumes.

    Parameters
    ----------
    liquid : Liquid
        Up to 40 % vol; above 13 an estimate (`spread`). Gas that it holds already does not count.
    pressure : float, array or str
        Of pure carbon dioxide, as the gauge reads: 100, "15 psi", "1 bar". [kPa gauge]
    temperature : float or array
        From where the drink freezes to 40. [°C]

    Returns
    -------
    float or array
        [g/L]

    Raises
    ------
    InputError
        Outside the ranges, or for a drink that freezes at the temperature.

    Notes
    -----
    Henry's law for a real gas (`physics.solubility`). Counted from sea level: at 1500 m the air presses 17 kPa
    less, and a gauge must show that much more for the same gas.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> dissolved_co2(spirit(100, 10), 100, 4)
    5.342
    """
    return henry_of(liquid, temperature) * _solubility.fugacity(pressure + ATMOSPHERE, temperature)


@door
def volumes_held(liquid: Liquid, pressure: GaugeKilopascals, temperature: Celsius) -> GasVolumes:
    """Gas that a drink holds under a pressure, as `dissolved_co2`, in volumes of gas to one of drink. [volumes]

    >>> from drinklab.strength import spirit
    >>> volumes_held(spirit(100, 10), [80, 160], 4).round(2)
    array([2.46, 3.52])
    """
    return volumes_from_grams(dissolved_co2(liquid, pressure, temperature))


@door
def pressure_for(liquid: Liquid, volumes: GasVolumes, temperature: Celsius) -> GaugeKilopascals:
    """Pressure under which a drink comes to hold so many volumes of gas: `dissolved_co2` turned round.

    Raises
    ------
    InputError
        As `dissolved_co2`, and for fewer volumes than the drink keeps without any pressure.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> pressure_for(spirit(100, 10), 2.5, 4)
    83.09
    """
    held = henry_of(liquid, temperature)
    found = _solubility.pressure_of(grams_from_volumes(volumes) / held, temperature) - ATMOSPHERE
    least = volumes_from_grams(held * _solubility.fugacity(ATMOSPHERE, temperature))
    if np.any(found < -1e-9):
        low = np.argmin(found)
        asked, least = (np.broadcast_to(a, np.shape(found)).flat[low] for a in (volumes, least))
        raise InputError(
            "volumes",
            float(asked),
            f"at least {math.ceil(100 * least) / 100:.2f}, what this drink keeps there without pressure",
        )
    return np.maximum(found, 0.0)


def spread(liquid: Liquid) -> Number:
    """How sure the gas of a drink is: half-width that holds 19 drinks in 20, as a share.

    It holds for g/L at a pressure, and as well for the absolute pressure that some volumes take.

    >>> from drinklab.strength import spirit
    >>> spread(spirit(100, 10)), spread(spirit(100, 30))
    (0.0887, 0.22)
    """
    _, abv, solids = strength_and_sugar(liquid)
    return _solubility.co2_spread(abv, solids)


@dataclass(frozen=True, slots=True)
class Chart:
    """Gas at temperatures [°C] and gauge pressures [kPa]: `volumes` has a row for each temperature.

    `spread` is the half-width as a share of each figure.
    """

    temperatures: np.ndarray
    pressures: np.ndarray
    volumes: np.ndarray
    spread: float

    def frame(self) -> pd.DataFrame:
        """As a pandas DataFrame: a row for each temperature, a column for each pressure."""
        import pandas as pd

        rows, columns = pd.Index(self.temperatures, name="°C"), pd.Index(self.pressures, name="kPa gauge")
        return pd.DataFrame(self.volumes, rows, columns)


@door
def chart(liquid: Liquid, temperatures: Celsius, pressures: GaugeKilopascals) -> Chart:
    """A cooler's chart for the drink in hand: volumes over temperatures and pressures.

    Raises
    ------
    InputError
        As `dissolved_co2`, and for more than one drink.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> chart(spirit(100, 10), [2, 6], [60, 120]).volumes.round(2).tolist()
    [[2.36, 3.23], [2.04, 2.78]]
    """
    require_one(liquid)
    temperatures, pressures = np.atleast_1d(temperatures), np.atleast_1d(pressures)
    require("temperatures", temperatures, *_solubility.TEMPERATURES, "°C")
    found = volumes_held(liquid, pressures[None, :], temperatures[:, None])
    return Chart(temperatures, pressures, np.asarray(found), float(spread(liquid)))


# --- vessels ----------------------------------------------------------------------------------------------


# --- how much gas it takes ----------------------------------------------------------------------------------


# --- how long it takes --------------------------------------------------------------------------------------

# Time in which half of what is missing goes in [min]: estimate, and the quick and slow end of common practice
# (a keg at rest under its pressure is done in 7 to 14 days; shaken cold, in a few minutes). No published source.
HALF_TIMES = {"rest": (2880.0, 1440.0, 5760.0), "shaken": (1.0, 0.3, 3.0)}
DONE = 0.95  # of the way is called done


@dataclass(frozen=True, slots=True)
class Uptake:
    """Volumes over time: the estimate, the slow and the quick end, and what it ends at."""

    minutes: np.ndarray
    volumes: np.ndarray
    low: np.ndarray
    high: np.ndarray
    end: float


@door
def uptake(
    liquid: Liquid, pressure: GaugeKilopascals, temperature: Celsius, minutes: Given, method: str = "rest"
) -> Uptake:
    """Gas in a drink under a steady pressure as time goes by.

    Parameters
    ----------
    liquid : Liquid
        One drink; the gas that it holds already counts.
    pressure : float
        [kPa gauge]
    temperature : float
        [°C]
    minutes : float or array
        [min]
    method : {"rest", "shaken"}

    Returns
    -------
    Uptake

    Raises
    ------
    InputError
        As `dissolved_co2`, for a time below zero and an unknown method.

    Notes
    -----
    What is missing halves in equal times: `HALF_TIMES`, common practice and wide. A high pressure for a short
    time overshoots easily: taste in between.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> uptake(spirit(9000, 10), "12 psi", 4, 60 * 24 * np.array([1, 4, 10])).volumes.round(1).tolist()
    [0.7, 1.9, 2.4]
    """
    require_one(liquid, pressure=pressure, temperature=temperature)
    one_of("method", method, HALF_TIMES)
    minutes = number(minutes, "minutes")
    require("minutes", minutes, 0, np.inf, "min")
    end = float(volumes_held(liquid, pressure, temperature))
    litres, _, _ = strength_and_sugar(liquid)
    start = volumes_from_grams(liquid.co2 / litres)
    usual, quick, slow = (end + (start - end) * 0.5 ** (np.asarray(minutes) / half) for half in HALF_TIMES[method])
    return Uptake(np.asarray(minutes), usual, np.minimum(slow, quick), np.maximum(slow, quick), end)


class HowLong(NamedTuple):
    """The estimate, and the quick and the slow end. [min]"""

    usual: float
    quick: float
    slow: float


@door
def time_to(
    liquid: Liquid, volumes: GasVolumes, pressure: GaugeKilopascals, temperature: Celsius, method: str = "rest"
) -> HowLong:
    """Minutes until a drink holds so many volumes under a pressure: estimate, quick and slow end.

    What ends at just these volumes is called done at 95 % of the way.

    Raises
    ------
    InputError
        If the pressure never gives so much at that temperature.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> [round(t / 1440, 1) for t in time_to(spirit(9000, 10), 2.5, "30 psi", 4)]  # days
    [2.7, 1.3, 5.3]
    """
    require_one(liquid, volumes=volumes)
    run = uptake(liquid, pressure, temperature, 0.0, method)
    if volumes > run.end * (1 + 1e-6):
        most = math.floor(100 * run.end) / 100
        raise InputError(
            "volumes", volumes, Fact("up to what the pressure gives", most=most, at=TEMPERATURE(temperature))
        )
    start = float(run.volumes)
    missing = (volumes - start) / (run.end - start) if run.end > start else 0.0
    halvings = -math.log2(1 - min(max(missing, 0.0), DONE))
    usual, quick, slow = (half * halvings for half in HALF_TIMES[method])
    return HowLong(usual, quick, slow)


# --- what opening, pouring and mixing leave -----------------------------------------------------------------

# Champagne of 11.4 g/L poured into a flute lost, in g/L, at these temperatures (Liger-Belair et al. 2010, J. Agric.
# Food Chem. 58, 8768, doi 10.1021/jf101239w; the temperatures and the 11.4 read in its abstract, the losses in a
# newspaper's account of it). Here as a share of what is above balance at 1 atm, since only that is driven out.
POURED_AT = np.array([4.0, 12.0, 18.0])  # °C
POURED_FROM = 11.4  # g/L
POURED_LOSS = {"tilted": np.array([1.6, 2.0, 3.7]), "upright": np.array([3.0, 3.3, 4.0])}  # g/L
_CHAMPAGNE_KEEPS = _solubility.co2(POURED_AT, ATMOSPHERE, 12.5, 10.0)
# Half-width that holds 19 pours in 20, as a share of the loss: a lager at 6 °C lost half of this rule (5.49 to
# 5.19 g/L; ACS Omega 2021, 6, 9672, table 1). The glass, its dust and the height count as much as the drink.
POURED_SPREAD = 0.5


@door
def lost_by_pouring(liquid: Liquid, temperature: Celsius, pour: str = "tilted") -> Grams:
    """Gas that a drink loses on its way into the glass.

    Parameters
    ----------
    liquid : Liquid
        With its gas.
    temperature : float or array
        Of the drink; measured at 4 to 18, held level outside, so that a warmer drink loses at least that. [°C]
    pour : {"tilted", "upright"}
        Along the wall of a tilted glass, or down into an upright one.

    Returns
    -------
    float or array
        Within a half of it, 19 times in 20. [g]

    Raises
    ------
    InputError
        As `dissolved_co2`, and for an unknown way to pour.

    Notes
    -----
    The opening itself lets out the gas above the drink, not what is dissolved; wait until a shaken vessel is calm.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> wine = with_gas(spirit(1000, 12.5), 5.8)
    >>> lost_by_pouring(wine, 4), lost_by_pouring(wine, 18, "upright")
    (1.59, 3.99)
    """
    one_of("pour", pour, POURED_LOSS)
    litres, _, _ = strength_and_sugar(liquid)
    above = np.maximum(liquid.co2 - _keeps(liquid, temperature) * litres, 0.0)
    return np.interp(temperature, POURED_AT, POURED_LOSS[pour] / (POURED_FROM - _CHAMPAGNE_KEEPS)) * above


@door
def with_gas(liquid: Liquid, volumes: GasVolumes) -> Liquid:
    """A drink that holds so many volumes of gas, whatever it held before.

    >>> with_gas(Liquid.of(water=998.2), 4.0)
    <Liquid: water 998.2 g, co2 7.84 g>
    """
    litres, _, _ = strength_and_sugar(liquid)
    return with_co2(liquid, grams_from_volumes(volumes) * litres)


def with_co2(liquid: Liquid, grams: Number) -> Liquid:
    """A drink with so much gas in it. [g]"""
    grams = np.asarray(grams, float)
    base = (np.ones(np.broadcast_shapes(liquid.shape, grams.shape)) * liquid).grams
    base[_CO2] = grams
    return Liquid(base)


@dataclass(frozen=True, slots=True)
class Mixed:
    """A still drink topped with a carbonated mixer.

    Attributes
    ----------
    liquid : Liquid
        With the gas that is left.
    lost : float or array
        [g]
    volumes, low, high : float or array
        Gas that is left, and the ends that hold 19 drinks in 20. [volumes]
    keeps : float or array
        What it would keep at rest under 1 atm of gas; above that it sparkles. [volumes]
    """

    liquid: Liquid
    lost: Grams
    volumes: GasVolumes
    low: GasVolumes
    high: GasVolumes
    keeps: GasVolumes

    @property
    def sparkles(self) -> Number:
        """Gas over what it keeps at rest: above 1 it bubbles, at 1 or less it is flat."""
        return self.volumes / self.keeps


@door
def topped(still: Liquid, mixer: Liquid, temperature: Celsius, pour: str = "tilted") -> Mixed:
    """Gas of a highball: the mixer's gas spread over the whole drink, less what pouring drives out.

    Parameters
    ----------
    still : Liquid
        Spirit, syrup, juice and melt water.
    mixer : Liquid
        With its gas (`with_gas`).
    temperature : float or array
        Of the finished drink. [°C]
    pour : {"tilted", "upright"}
        Along the wall or the ice, or straight in.

    Raises
    ------
    InputError
        As `lost_by_pouring`, and for a mixer without gas.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> drink = topped(spirit(50, 45), with_gas(spirit(150, 0), 4.0), 4)
    >>> round(drink.volumes, 1), round(drink.sparkles, 1)
    (2.7, 2.0)
    """
    if np.any(np.asarray(mixer.co2) <= 0):
        raise InputError("gas of the mixer", 0, "above 0 volumes: give the mixer its gas with `with_gas`")
    both = still + mixer
    litres, _, _ = strength_and_sugar(both)
    lost = lost_by_pouring(both, temperature, pour)
    left = both.co2 - lost
    return Mixed(
        liquid=with_co2(both, left),
        lost=lost,
        volumes=volumes_from_grams(left / litres),
        low=volumes_from_grams((left - POURED_SPREAD * lost) / litres),
        high=volumes_from_grams((left + POURED_SPREAD * lost) / litres),
        keeps=volumes_from_grams(_keeps(both, temperature)),
    )


# --- steps --------------------------------------------------------------------------------------------------
