"""Vessels with gas in them: what pressure they stand under, cold and warm, and how much gas it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..declared import HOT_LIQUID
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import (
    GAUGE_PRESSURE,
    PRESSURE,
    TEMPERATURE,
    VOLUME,
    Celsius,
    Fraction,
    GasVolumes,
    GaugeKilopascals,
    Given,
    Grams,
    Millilitres,
    Number,
)
from ..liquid import Liquid
from ..physics import solubility as _solubility
from ..physics import vapour as _vapour
from ..physics.solubility import ATMOSPHERE, grams_from_volumes, volumes_from_grams
from ..steps import Caution
from ..units import door, number, to_kpa
from .gas import CAUTIONS, foaming, henry_of, pressure_for, require_one, spread, strength_and_sugar, with_co2

# What a closed vessel may warm to [°C]: one that stays, a room; one that is carried off, a closed car in the sun. The
# air in one stood at 48 to 56 °C after an hour, 22 to 31 °C outside (Null 2003, table 1; read), and US rules check
# carried gas containers at 54 °C (49 CFR 178.65; read). Later it is hotter still: on clear summer days 68 °C on the
# mean, at most 76 °C (Grundstein and others, Int. J. Biometeorol. 53 (2009), abstract; read).
WARM, CAR = 25.0, 55.0

# From this share of its limit a carried bottle is told to be kept cold: at 76 °C pressure is about a third higher.
NEAR = 0.75

# The fill rule is that of US rules for small gas containers (49 CFR part 173: what is liquid "may not completely fill
# the container at 54 °C"; read), here at what the vessel may warm to, with the drink swollen by heat and by its gas.
HOT = 40.0  # a drink that is hot rather than warm; common practice, no published source [°C]

CARTRIDGE = Caution("cartridge")


@dataclass(frozen=True, slots=True)
class Vessel:
    """What a drink is gassed in. The figures are of a usual one of its kind: read the stamp on yours.

    Parameters
    ----------
    name : str
    volume : float
        Full to the brim. [mL]
    fill : float
        Most drink in it. [mL]
    limit : float
        Most pressure, up to 2000; 0 for what must never hold any. [kPa gauge]
    charges : int
        Most 8 g cartridges for one filling; 0 when it takes none.
    carried : bool
        Closed and carried off, so that it must stand a closed car in the sun as well; False only for what stays.
    source : Fact or str

    Raises
    ------
    InputError
        For a volume, fill or limit that is no number or out of range.
    """

    name: str
    volume: float
    fill: float
    limit: float
    charges: int = 0
    carried: bool = True
    source: Fact | str = Fact("limit by practice")  # noqa: RUF009 (a fact is frozen)

    def __post_init__(self) -> None:
        for name, most in (("volume", 1e6), ("fill", self.volume), ("limit", GAUGE_PRESSURE.high), ("charges", 100)):
            value, field = getattr(self, name), f"{name} of the {self.name}"
            if np.ndim(value):
                raise InputError(field, Told(f"{np.size(value)} values"), "one value")
            unit = {"limit": GAUGE_PRESSURE.label, "charges": "cartridges"}.get(name, "mL")
            require(field, number(value, field), 0, most, unit)


# Sizes: common practice. The keg's stamp is the usual one of a soda keg (encyclopaedia, read). PET and sparkling-wine
# bottle are from memory, with something to spare: PET bottles are tested for 28 days at 38 °C with 4.3 volumes, 7 bar
# by our figures (a test laboratory's page), and both burst from about 12 and 16 bar (a food research association).
SODA_KEG = Fact("limit of a soda keg")

VESSELS = {
    v.name: v
    for v in (
        Vessel("siphon, 0.5 L", 650, 500, 600, 1, carried=False),
        Vessel("siphon, 1 L", 1100, 950, 600, 1, carried=False),
        Vessel("soda vessel, 0.5 L", 650, 500, 700, 1, carried=False),
        Vessel("soda vessel, 1 L", 1150, 1000, 700, 2, carried=False),
        Vessel("keg, 9.5 L", 9_500, 9_000, 896, carried=False, source=SODA_KEG),
        Vessel("keg, 19 L", 19_000, 18_000, 896, carried=False, source=SODA_KEG),
        Vessel("soft-drink PET bottle, 0.5 L", 530, 480, 600,
               source=Fact("limit of PET")),
        Vessel("soft-drink PET bottle, 1 L", 1050, 950, 600,
               source=Fact("limit of PET")),
        Vessel("sparkling-wine bottle, 0.75 L", 775, 750, 600,
               source=Fact("limit of thick glass")),
        Vessel("ordinary glass bottle, 0.75 L", 775, 750, 0, source=Fact("not for pressure")),
    )
}  # fmt: skip


def vessel_of(vessel: str | Vessel, limit: Given | None = None) -> Vessel:
    """The vessel of a name, with your own stamped `limit` if you give one. [kPa gauge]

    Raises
    ------
    InputError
        For an unknown one, and for one that is not made for pressure.

    >>> vessel_of("keg, 19 L", limit="60 psi").limit
    413.7
    """
    found = vessel if isinstance(vessel, Vessel) else VESSELS[one_of("vessel", vessel, VESSELS)]
    if found.limit <= 0:
        raise InputError("vessel", found.name, "one that is made and stamped for pressure: other glass bursts")
    if limit is None:
        return found
    own = float(to_kpa(limit, "limit"))
    if not 0 < own <= found.limit:
        allowed = Fact("up to the listed limit", most=PRESSURE(found.limit), vessel=found.name)
        raise InputError("limit", Fact("so much pressure", pressure=PRESSURE(own)), allowed)
    return replace(found, limit=own)


def require_gas(gas: str) -> None:
    """Refuse another gas than carbon dioxide."""
    if "nitrous" in gas.lower() or gas.upper() == "N2O":
        raise InputError("gas", gas, "CO2: nitrous oxide (N2O) whips and infuses, it does not carbonate")
    one_of("gas", gas, ["CO2"])


def _require_fill(litres: Number, vessel: Vessel) -> None:
    if np.any(1000 * np.asarray(litres) > vessel.fill * (1 + 1e-9)):
        told = Fact("rounded", amount=VOLUME(1000 * np.max(litres)))
        raise InputError(
            "volume of the drink", told, Fact("room for gas", most=VOLUME(vessel.fill), vessel=vessel.name)
        )


def _taken(liquid: Liquid, gas: Number, temperature: Number) -> Number:
    """What a drink takes up at a temperature with so many grams of gas dissolved in it. [mL]"""
    return with_co2(liquid, gas).volume(temperature)


def _warm_at(vessel: Vessel, temperature: Number) -> float:
    return max(CAR if vessel.carried else WARM, float(temperature))


def _require_room(liquid: Liquid, gas: Number, vessel: Vessel, temperature: Number) -> None:
    """The fill rule: warm, the drink with its gas must not fill the vessel."""
    ml, warm_at = 1000 * float(strength_and_sugar(liquid)[0]), _warm_at(vessel, temperature)
    full = float(_taken(liquid, gas, warm_at))
    if full >= vessel.volume:
        raise InputError(
            f"volume of the drink in the {vessel.name}",
            Fact("full when warm", drink=VOLUME(ml), full=VOLUME(full), at=TEMPERATURE(warm_at)),
            Fact(
                "not full when warm", most=VOLUME(math.ceil(ml * vessel.volume / full) - 1), brim=VOLUME(vessel.volume)
            ),
        )


def _held_already(liquid: Liquid, volumes: Number) -> None:
    """Refuse fewer volumes than a drink holds: in a closed vessel they stay."""
    has = np.max(volumes_from_grams(liquid.co2 / strength_and_sugar(liquid)[0]))
    if np.any(np.asarray(volumes) < has * (1 - 1e-9)):
        raise InputError(
            "volumes", float(np.min(volumes)), f"at least the {has:.2f} volumes that the drink holds already"
        )


@dataclass(frozen=True, slots=True)
class Held:
    """A gassed drink in its closed vessel. Pressures are as a gauge reads. [kPa]

    `high` is the upper end of `pressure`, `warm` that end again after the vessel has warmed to `warm_at` [°C]: a
    room, or a closed car in the sun for what is carried off. `head` is the gas above the drink [g].
    """

    vessel: Vessel
    volumes: float
    temperature: float
    pressure: float
    high: float
    warm: float
    warm_at: float
    head: float
    cautions: tuple[Caution, ...]


@door
def in_vessel(
    liquid: Liquid,
    volumes: GasVolumes,
    temperature: Celsius,
    vessel: str | Vessel = "keg, 19 L",
    *,
    limit: GaugeKilopascals | None = None,
    air: bool = False,
) -> Held:
    """Pressure of a gassed drink in a vessel, cold and after it has warmed, against what the vessel bears.

    Parameters
    ----------
    liquid : Liquid
        All that is in the vessel; one drink.
    volumes : float
        Gas in it, with what the drink held before. [volumes]
    temperature : float
        [°C]
    vessel : str or Vessel
        A key of `VESSELS`, or your own.
    limit : float, optional
        The limit stamped on yours, in place of the table's. [kPa gauge]
    air : bool
        The air was not pushed out of it first: an atmosphere more.

    Returns
    -------
    Held

    Raises
    ------
    InputError
        For an ordinary bottle, an overfilled vessel, a drink that holds more gas already, or a pressure above the
        vessel's limit at the upper end of what is likely; for bottles that are carried off also when that is so at
        55 °C, in a closed car in the sun. For what is then full of liquid: it must not be, at 55 °C (25 °C for what
        stays), with the drink swollen by heat and by its gas.

    Notes
    -----
    Warmed, the drink swells and gas leaves it for the space above until both are in balance
    (`physics.solubility.shared`); the vapour of water and alcohol comes on top.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> held = in_vessel(spirit(700, 10), 2.5, 4, "sparkling-wine bottle, 0.75 L")
    >>> round(held.pressure), round(held.warm), held.warm_at
    (83, 583, 55.0)
    """
    require_one(liquid, volumes=volumes, temperature=temperature, limit=limit)
    vessel = vessel_of(vessel, limit)
    litres, _, _ = strength_and_sugar(liquid)
    _require_fill(litres, vessel)
    _held_already(liquid, volumes)
    absolute = pressure_for(liquid, volumes, temperature) + ATMOSPHERE
    return _held(liquid, litres, absolute, temperature, vessel, air)


def _held(liquid: Liquid, litres: Number, absolute: Number, temperature: Number, vessel: Vessel, air: bool) -> Held:
    absolute, temperature = float(absolute), float(temperature)
    dissolved = float(henry_of(liquid, temperature) * _solubility.fugacity(absolute, temperature) * litres)
    _require_room(liquid, dissolved, vessel, temperature)
    space = vessel.volume - _taken(liquid, dissolved, temperature)
    head = float(_solubility.gas_grams(absolute, space, temperature))
    trapped = ATMOSPHERE if air else 0.0
    warm_at = _warm_at(vessel, temperature)
    held = Held(
        vessel=vessel,
        volumes=float(volumes_from_grams(dissolved / litres)),
        temperature=temperature,
        pressure=absolute + trapped - ATMOSPHERE,
        high=absolute * (1 + float(spread(liquid))) + trapped - ATMOSPHERE,
        warm=float(_warmed(liquid, dissolved, head, vessel, temperature, warm_at, trapped)),
        warm_at=warm_at,
        head=head,
        cautions=(*CAUTIONS, *foaming(liquid), *((HOT_LIQUID,) if temperature >= HOT else ())),
    )
    if held.high > vessel.limit:
        _refuse_pressure(f"pressure in the {vessel.name}", held.high, vessel.limit)
    if held.warm > vessel.limit and vessel.carried:
        _refuse_warm(liquid, litres, held, trapped)
    told = _warm_caution(held)
    return replace(held, cautions=(*told, *held.cautions)) if told else held


def _warmed(
    liquid: Liquid,
    dissolved: Number,
    head: Number,
    vessel: Vessel,
    temperature: Number,
    warm_at: Number,
    trapped: Number,
) -> Number:
    """Upper end of the pressure of a closed vessel that has warmed. [kPa gauge]"""
    _, abv, solids = strength_and_sugar(liquid)
    litres = _taken(liquid, 0.0, warm_at) / 1000
    cold, space = (vessel.volume - _taken(liquid, dissolved, t) for t in (temperature, warm_at))
    gas = _solubility.shared(dissolved + head, litres, space, warm_at, abv, solids)
    wet = liquid.ethanol / np.maximum(liquid.ethanol + liquid.water, 1e-300)
    vapour = _vapour.pressure(wet, warm_at) - _vapour.pressure(wet, temperature)
    air = trapped * cold / space * (warm_at + 273.15) / (temperature + 273.15)
    return gas * (1 + spread(liquid)) + air + vapour - ATMOSPHERE


def _refuse_warm(liquid: Liquid, litres: Number, held: Held, trapped: float) -> None:
    """Say how many volumes would do: found by halving, since this is asked only where it is refused."""
    vessel, low, high = held.vessel, 0.0, held.volumes
    henry = henry_of(liquid, held.temperature)
    for _ in range(20):
        level = (low + high) / 2
        absolute = _solubility.pressure_of(grams_from_volumes(level) / henry, held.temperature)
        dissolved = grams_from_volumes(level) * litres
        space = vessel.volume - _taken(liquid, dissolved, held.temperature)
        head = _solubility.gas_grams(absolute, space, held.temperature)
        warm = _warmed(liquid, dissolved, head, vessel, held.temperature, held.warm_at, trapped)
        low, high = (level, high) if warm <= vessel.limit else (low, level)
    raise InputError(
        Fact("pressure in a hot car", vessel=vessel.name, at=TEMPERATURE(held.warm_at)),
        Fact("up to so much pressure", pressure=PRESSURE(held.warm)),
        Fact("so little gas", most=PRESSURE(vessel.limit), volumes=math.floor(10 * low) / 10),
    )


def _warm_caution(held: Held) -> tuple[Caution, ...]:
    """What a vessel comes to when it warms, where that is near its limit or above it."""
    found = {"at": TEMPERATURE(held.warm_at), "pressure": PRESSURE(held.warm), "limit": PRESSURE(held.vessel.limit)}
    if held.warm > held.vessel.limit:
        return (Caution("warm vessel", how=Fact("warmed above the limit", **found)),)
    if held.vessel.carried and held.warm > NEAR * held.vessel.limit:
        return (Caution("warm vessel", how=Fact("warmed near the limit", **found)),)
    return ()


def _refuse_pressure(field: str, found: float, limit: float) -> None:
    allowed = Fact("up to its limit", most=PRESSURE(limit))
    raise InputError(field, Fact("up to so much pressure", pressure=PRESSURE(found)), allowed)


@dataclass(frozen=True, slots=True)
class GasNeeded:
    """Gas for one filling [g]: into the drink, above it, lost to venting and joints; and the pressure. [kPa gauge]"""

    dissolved: Grams
    head: Grams
    lost: Grams
    pressure: GaugeKilopascals

    @property
    def total(self) -> Grams:
        """What leaves the cylinder. [g]"""
        return self.dissolved + self.head + self.lost


@door
def gas_needed(
    liquid: Liquid, volumes: GasVolumes, vessel_volume: Millilitres, temperature: Celsius, loss: Fraction = 0.2
) -> GasNeeded:
    """Gas that a filling takes from the cylinder.

    Parameters
    ----------
    liquid : Liquid
        All that is in the vessel; the gas that it holds already counts.
    volumes : float or array
        Wanted in the drink. [volumes]
    vessel_volume : amount
        Full to the brim. [mL]
    temperature : float or array
        [°C]
    loss : float
        Share of the whole that pushes the air out and is vented, 0 to 0.9. An estimate; no published source. [g/g]

    Raises
    ------
    InputError
        As `pressure_for`, for a vessel that is too small, and for a drink that holds more gas already.

    Notes
    -----
    The space above the drink holds pure gas at the balance pressure (`physics.solubility.gas_grams`). No vessel is
    checked here: `in_vessel` does.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> batch = gas_needed(spirit("9 L", 10), 2.5, "9.5 L", 4)
    >>> round(batch.dissolved, 1), round(batch.head, 1), round(batch.total, 1)
    (44.1, 1.7, 57.3)
    """
    require("loss", loss, 0, 0.9, "of the whole")
    litres, _, _ = strength_and_sugar(liquid)
    pressure = pressure_for(liquid, volumes, temperature)
    _held_already(liquid, volumes)
    dissolved = grams_from_volumes(volumes) * litres
    full = _taken(liquid, dissolved, temperature)
    space = vessel_volume - full
    if np.any(space < -1e-6):
        allowed = Fact("room above the drink", least=VOLUME(math.ceil(np.max(full))))
        raise InputError("vessel_volume", VOLUME(np.min(vessel_volume)), allowed)
    dissolved = np.maximum(dissolved - liquid.co2, 0.0)
    dissolved = dissolved if np.ndim(dissolved) else float(dissolved)
    head = _solubility.gas_grams(pressure + ATMOSPHERE, space, temperature)
    return GasNeeded(dissolved, head, (dissolved + head) * loss / (1 - loss), pressure)


@dataclass(frozen=True, slots=True)
class Cartridges:
    """Cartridges for one filling, their gas [g], and the drink as they leave it in its vessel."""

    count: int
    gas: float
    held: Held

    @property
    def volumes(self) -> float:
        """What the drink comes to hold. [volumes]"""
        return self.held.volumes


@door
def cartridges(
    liquid: Liquid,
    volumes: GasVolumes,
    temperature: Celsius,
    vessel: str | Vessel = "siphon, 1 L",
    *,
    gas: str = "CO2",
    size: Grams = 8.0,
    loss: Fraction = 0.05,
    air: bool = True,
    limit: GaugeKilopascals | None = None,
) -> Cartridges:
    """Cartridges that bring a drink to so many volumes at least, in a vessel made for them.

    Parameters
    ----------
    liquid : Liquid
        All that is in the vessel; one drink. The gas that it holds already counts.
    volumes : float
        Wanted. [volumes]
    temperature : float
        Of the drink, chilled. [°C]
    vessel : str or Vessel
    gas : str
        Only "CO2": nitrous oxide does not carbonate.
    size : float
        In each cartridge; 8 g is the usual one. [g]
    loss : float
        Share that escapes at the pin, 0 to 0.9. An estimate; no published source. [g/g]
    air : bool
        The air stays in, as in a siphon; False if it was pushed out first.
    limit : float, optional
        The limit stamped on your vessel. [kPa gauge]

    Raises
    ------
    InputError
        If it takes more cartridges than the vessel is made for (chill the drink more), for an overfilled
        vessel, one without cartridges, an ordinary bottle, a drink that holds more gas already, and a pressure
        above the limit.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> made = cartridges(spirit(500, 10), 2.8, 4, "siphon, 0.5 L")
    >>> made.count, round(made.volumes, 1), round(made.held.pressure)
    (1, 6.3, 479)
    """
    require_gas(gas)
    require_one(liquid, volumes=volumes, temperature=temperature, size=size, loss=loss, limit=limit)
    vessel = vessel_of(vessel, limit)
    if not vessel.charges:
        raise InputError("vessel", vessel.name, "one that takes cartridges, such as a siphon")
    require("size", size, 1, 8 * vessel.charges, f"g, all that the {vessel.name} is made for")
    require("loss", loss, 0, 0.9, "of the whole")
    litres, _, _ = strength_and_sugar(liquid)
    _require_fill(litres, vessel)
    _held_already(liquid, volumes)
    henry = henry_of(liquid, temperature)
    _, abv, solids = strength_and_sugar(liquid)
    asked = grams_from_volumes(volumes) * litres
    _require_room(liquid, asked, vessel, temperature)

    def above(grams: Number) -> Number:
        """Room above the drink with so much gas in it. [mL]"""
        return vessel.volume - _taken(liquid, grams, temperature)

    first = liquid.co2 + (0.0 if air else _solubility.gas_grams(ATMOSPHERE, above(liquid.co2), temperature))

    def pressure(count: int) -> Number:
        """In balance with the drink. [kPa absolute]"""
        grams = first + count * size * (1 - loss)
        _require_room(liquid, grams, vessel, temperature)
        dissolved = grams
        for _ in range(3):  # the drink swells by the gas in it, which is nearly all
            found = _solubility.shared(grams, litres, above(dissolved), temperature, abv, solids)
            dissolved = henry * _solubility.fugacity(found, temperature) * litres
        return found

    absolute = _solubility.pressure_of(grams_from_volumes(volumes) / henry, temperature)
    wanted = asked + _solubility.gas_grams(absolute, above(asked), temperature) - first
    count = max(1, math.ceil(wanted / (size * (1 - loss)) - 1e-9))
    allowed = int(8 * vessel.charges / size)  # a bigger cartridge counts for more
    if count > allowed:
        most = volumes_from_grams(henry * _solubility.fugacity(pressure(allowed), temperature))
        raise InputError(
            "volumes", volumes,
            Fact("what cartridges give", most=math.floor(10 * most) / 10, at=TEMPERATURE(temperature),
                 count=allowed, size=size, vessel=vessel.name),
        )  # fmt: skip
    held = _held(liquid, litres, pressure(count), temperature, vessel, air)
    return Cartridges(count, count * float(size), replace(held, cautions=(CARTRIDGE, *held.cautions)))
