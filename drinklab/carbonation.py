"""Gas in a drink: how much it holds, what pressure and how much gas that takes, and what pouring leaves of it.

Every pressure is as a gauge reads it (0 is open to the air at sea level), every gas is carbon dioxide, and one
volume of gas is 1.96 g/L. `spread` says how sure a drink's figures are; anything that could hurt is refused, or
said as a `Caution`, before a number is given. A vessel's stamped limit is always obeyed.

>>> from drinklab.strength import spirit
>>> highball = spirit(200, 10)
>>> pressure_for(highball, 3.0, "4 °C"), dissolved_co2(highball, "25 psi", 4, volumes=True)
(120.6, 3.685)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from . import dilution
from .declared import HOT_LIQUID
from .errors import InputError, Told, one_of, require
from .kinds import GAS_VOLUMES, GAUGE_PRESSURE, Celsius, Fraction, GasVolumes, GaugeKilopascals, Grams, Millilitres
from .liquid import COMPONENTS, Liquid
from .physics import freezing as _freezing
from .physics import solubility as _solubility
from .physics import vapour as _vapour
from .physics.solubility import ATMOSPHERE, grams_from_volumes, volumes_from_grams
from .profile import abv_of
from .steps import Brought, Caution, Draw, Outcome, estimate, savable
from .steps import first as _estimate
from .units import door, number, pressure_text, to_celsius, to_kpa

_CO2 = COMPONENTS.index("co2")
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

# --- what can hurt ----------------------------------------------------------------------------------------

CAUTIONS = (
    Caution(
        "gas pressure",
        "Gas pressure: use only a vessel that is made and stamped for pressure, never glass or plastic that is not. "
        "Never use more gas than its maker allows, whatever is worked out here. Chill the drink first, vent the vessel "
        "before you open it, open slowly and keep your face away. Follow your local codes for pressure vessels.",
    ),
    # Limits: OSHA, 29 CFR 1910.1000, table Z-1 (read in pages that quote it); HSE, EH40/2005 (from memory).
    Caution(
        "gas in the room",
        "Carbon dioxide pushes the air out of closed and low rooms, and you cannot smell it: air the room, and fit an "
        "alarm where cylinders stand. The workplace limit is 5000 ppm over 8 hours (OSHA; HSE EH40). Follow your local "
        "codes.",
    ),
)
CARTRIDGE = Caution(
    "cartridge",
    "Cartridges: the liquid gas in one stands at 57 bar at 20 °C and far more when it is hot. Keep them cool, out of "
    "the sun and off the stove, and use them only in a vessel made for them. Until the gas has dissolved the pressure "
    "in the vessel is many times the figure given here: the maker's count of cartridges is the limit.",
)
FOAMY_PROTEIN, FOAMY_SUGAR = 1.0, 100.0  # g/L; common practice, no published source


def foaming(liquid: Liquid) -> tuple[Caution, ...]:
    """What will make a drink foam: protein (whey of a milk wash, egg, juice) and much sugar.

    From 1 g/L of protein and 100 g/L of sugar; common practice, no published source.

    >>> [c.code for c in foaming(Liquid.of(water=90, protein=0.5, sucrose=12))]
    ['foam of protein', 'foam of sugar']
    """
    litres, _, _ = _read(liquid)
    found = []
    if np.any(liquid.protein / litres >= FOAMY_PROTEIN):
        found.append(
            Caution(
                "foam of protein",
                "Protein (whey of a milk wash, egg, juice) foams as gas goes in and as the vessel opens: fill half, "
                "gas it cold in small steps, let it rest, and vent slowly; foam can block a valve.",
            )
        )
    if np.any(liquid.sugar / litres >= FOAMY_SUGAR):
        found.append(
            Caution("foam of sugar", "Much sugar holds foam: fill less, gas it cold, let it rest and vent slowly.")
        )
    return tuple(found)


# --- how much gas a drink holds ---------------------------------------------------------------------------


def _read(liquid: Liquid):
    """Litres, % vol and dissolved solids in g/L of a drink without its gas."""
    grams = liquid.grams.copy()
    grams[_CO2] = 0.0
    still = Liquid(grams)
    if not np.all(np.asarray(still.mass) > 0):
        raise InputError("volume of the drink", 0, "above 0 mL")
    ml = still.volume()
    abv = abv_of(still.ethanol, ml)
    return ml / 1000, abv, 1000 * (still.sugar + still.acid + still.solids) / ml


def _one(liquid: Liquid, **values) -> None:
    if liquid.shape:
        raise InputError("liquid", Told(f"{math.prod(liquid.shape)} drinks"), "one drink")
    for name, value in values.items():
        if np.ndim(value):
            raise InputError(name, Told(f"{np.size(value)} values"), "one value")


def _henry(liquid: Liquid, temperature):
    """g/L for each kPa of fugacity; refuses a drink that freezes there."""
    require("temperature", temperature, *_solubility.TEMPERATURES, "°C")
    _, abv, solids = _read(liquid)
    found = _solubility.henry(temperature, abv, solids)
    _require_liquid(liquid, temperature)
    return found


def _keeps(liquid: Liquid, temperature):
    """g/L under 1 atm of gas."""
    return _henry(liquid, temperature) * _solubility.fugacity(ATMOSPHERE, temperature)


def _require_liquid(liquid: Liquid, temperature, field: str = "temperature") -> None:
    point = np.asarray(dilution.freezing_point(liquid))
    frozen = np.asarray(temperature) < point - 1e-9
    if np.any(frozen):
        bad, point = (np.broadcast_to(a, frozen.shape)[frozen].flat[0] for a in (temperature, point))
        raise InputError(
            field, float(bad), f"at least {math.ceil(10 * point) / 10:.1f} °C, where this drink begins to freeze"
        )


@door
def dissolved_co2(liquid: Liquid, pressure: GaugeKilopascals, temperature: Celsius, volumes: bool = False):
    """Gas that a drink holds once it has come to rest under a pressure.

    Parameters
    ----------
    liquid : Liquid
        Up to 40 % vol; above 13 an estimate (`spread`). Gas that it holds already does not count.
    pressure : float, array or str
        Of pure carbon dioxide, as the gauge reads: 100, "15 psi", "1 bar". [kPa gauge]
    temperature : float or array
        From where the drink freezes to 40. [°C]
    volumes : bool
        Give volumes of gas, not [g/L].

    Returns
    -------
    float or array
        [g/L], or volumes.

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
    >>> dissolved_co2(spirit(100, 10), 100, 4), dissolved_co2(spirit(100, 10), [80, 160], 4, volumes=True).round(2)
    (5.342, array([2.46, 3.52]))
    """
    found = _henry(liquid, temperature) * _solubility.fugacity(pressure + ATMOSPHERE, temperature)
    return volumes_from_grams(found) if volumes else found


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
    held = _henry(liquid, temperature)
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


def spread(liquid: Liquid):
    """How sure the gas of a drink is: half-width that holds 19 drinks in 20, as a share.

    It holds for g/L at a pressure, and as well for the absolute pressure that some volumes take.

    >>> from drinklab.strength import spirit
    >>> spread(spirit(100, 10)), spread(spirit(100, 30))
    (0.0887, 0.22)
    """
    _, abv, solids = _read(liquid)
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

    def frame(self):
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
    _one(liquid)
    temperatures, pressures = np.atleast_1d(temperatures), np.atleast_1d(pressures)
    require("temperatures", temperatures, *_solubility.TEMPERATURES, "°C")
    found = dissolved_co2(liquid, pressures[None, :], temperatures[:, None], volumes=True)
    return Chart(temperatures, pressures, found, spread(liquid))


# --- vessels ----------------------------------------------------------------------------------------------


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
    source : str

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
    source: str = "common practice, no published source: verify on the vessel"

    def __post_init__(self):
        for name, most in (("volume", 1e6), ("fill", self.volume), ("limit", GAUGE_PRESSURE.high), ("charges", 100)):
            value, field = getattr(self, name), f"{name} of the {self.name}"
            if np.ndim(value):
                raise InputError(field, Told(f"{np.size(value)} values"), "one value")
            unit = {"limit": GAUGE_PRESSURE.label, "charges": "cartridges"}.get(name, "mL")
            require(field, number(value, field), 0, most, unit)


# Sizes: common practice. The keg's stamp is the usual one of a soda keg (encyclopaedia, read). PET and sparkling-wine
# bottle are from memory, with something to spare: PET bottles are tested for 28 days at 38 °C with 4.3 volumes, 7 bar
# by our figures (a test laboratory's page), and both burst from about 12 and 16 bar (a food research association).
SODA_KEG = (
    "130 psi, usual on a soda keg (encyclopaedia); a beer keg by DIN 6647-1 bears a third of it: verify on the vessel"
)
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
               source="8 bar at 38 °C, from memory, less a quarter: verify on the bottle"),
        Vessel("soft-drink PET bottle, 1 L", 1050, 950, 600,
               source="8 bar at 38 °C, from memory, less a quarter: verify on the bottle"),
        Vessel("sparkling-wine bottle, 0.75 L", 775, 750, 600,
               source="6 bar at 20 °C, from memory: verify with its maker; never a used or scratched one"),
        Vessel("ordinary glass bottle, 0.75 L", 775, 750, 0, source="not made for pressure"),
    )
}  # fmt: skip


def vessel_of(vessel: str | Vessel, limit=None) -> Vessel:
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
    own = to_kpa(limit, "limit")
    if not 0 < own <= found.limit:
        most = f"above 0 and at most {pressure_text(found.limit)}, what is listed for the {found.name}"
        raise InputError("limit", Told(pressure_text(own)), f"{most}; a lower stamp counts, a higher one does not")
    return replace(found, limit=own)


def _require_gas(gas: str) -> None:
    if "nitrous" in gas.lower() or gas.upper() == "N2O":
        raise InputError("gas", gas, "CO2: nitrous oxide (N2O) whips and infuses, it does not carbonate")
    one_of("gas", gas, ["CO2"])


def _require_fill(litres, vessel: Vessel) -> None:
    if np.any(1000 * np.asarray(litres) > vessel.fill * (1 + 1e-9)):
        allowed = f"at most {vessel.fill:.0f} mL in the {vessel.name}: gas needs room above the drink"
        raise InputError("volume of the drink", Told(f"{1000 * np.max(litres):.0f} mL"), allowed)


def _taken(liquid: Liquid, gas, temperature):
    """What a drink takes up at a temperature with so many grams of gas dissolved in it. [mL]"""
    return _with_co2(liquid, gas).volume(temperature)


def _warm_at(vessel: Vessel, temperature: float) -> float:
    return max(CAR if vessel.carried else WARM, temperature)


def _require_room(liquid: Liquid, gas: float, vessel: Vessel, temperature: float) -> None:
    """The fill rule: warm, the drink with its gas must not fill the vessel."""
    ml, warm_at = 1000 * _read(liquid)[0], _warm_at(vessel, temperature)
    full = _taken(liquid, gas, warm_at)
    if full >= vessel.volume:
        raise InputError(
            f"volume of the drink in the {vessel.name}",
            Told(f"{ml:.1f} mL, with its gas {full:.1f} mL once it warms to {warm_at:.0f} °C"),
            f"at most {math.ceil(ml * vessel.volume / full) - 1} mL, less than the {vessel.volume:g} mL to the brim "
            "when warm: a vessel full of liquid bursts",
        )


def _held_already(liquid: Liquid, volumes) -> None:
    """Refuse fewer volumes than a drink holds: in a closed vessel they stay."""
    has = np.max(volumes_from_grams(liquid.co2 / _read(liquid)[0]))
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
    _one(liquid, volumes=volumes, temperature=temperature, limit=limit)
    vessel = vessel_of(vessel, limit)
    litres, _, _ = _read(liquid)
    _require_fill(litres, vessel)
    _held_already(liquid, volumes)
    absolute = pressure_for(liquid, volumes, temperature) + ATMOSPHERE
    return _held(liquid, litres, absolute, temperature, vessel, air)


def _held(liquid, litres, absolute, temperature, vessel: Vessel, air: bool) -> Held:
    dissolved = _henry(liquid, temperature) * _solubility.fugacity(absolute, temperature) * litres
    _require_room(liquid, dissolved, vessel, temperature)
    space = vessel.volume - _taken(liquid, dissolved, temperature)
    head = _solubility.gas_grams(absolute, space, temperature)
    trapped = ATMOSPHERE if air else 0.0
    warm_at = _warm_at(vessel, temperature)
    held = Held(
        vessel=vessel,
        volumes=volumes_from_grams(dissolved / litres),
        temperature=temperature,
        pressure=absolute + trapped - ATMOSPHERE,
        high=absolute * (1 + spread(liquid)) + trapped - ATMOSPHERE,
        warm=_warmed(liquid, dissolved, head, vessel, temperature, warm_at, trapped),
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


def _warmed(liquid, dissolved, head, vessel: Vessel, temperature, warm_at, trapped):
    """Upper end of the pressure of a closed vessel that has warmed. [kPa gauge]"""
    _, abv, solids = _read(liquid)
    litres = _taken(liquid, 0.0, warm_at) / 1000
    cold, space = (vessel.volume - _taken(liquid, dissolved, t) for t in (temperature, warm_at))
    gas = _solubility.shared(dissolved + head, litres, space, warm_at, abv, solids)
    wet = liquid.ethanol / np.maximum(liquid.ethanol + liquid.water, 1e-300)
    vapour = _vapour.pressure(wet, warm_at) - _vapour.pressure(wet, temperature)
    air = trapped * cold / space * (warm_at + 273.15) / (temperature + 273.15)
    return gas * (1 + spread(liquid)) + air + vapour - ATMOSPHERE


def _refuse_warm(liquid, litres, held: Held, trapped: float) -> None:
    """Say how many volumes would do: found by halving, since this is asked only where it is refused."""
    vessel, low, high = held.vessel, 0.0, held.volumes
    henry = _henry(liquid, held.temperature)
    for _ in range(20):
        level = (low + high) / 2
        absolute = _solubility.pressure_of(grams_from_volumes(level) / henry, held.temperature)
        dissolved = grams_from_volumes(level) * litres
        space = vessel.volume - _taken(liquid, dissolved, held.temperature)
        head = _solubility.gas_grams(absolute, space, held.temperature)
        warm = _warmed(liquid, dissolved, head, vessel, held.temperature, held.warm_at, trapped)
        low, high = (level, high) if warm <= vessel.limit else (low, level)
    raise InputError(
        f"pressure in the {vessel.name} once it warms to {held.warm_at:.0f} °C, in a closed car in the sun",
        Told(f"up to {pressure_text(held.warm)}"),
        f"at most {pressure_text(vessel.limit)}, its limit: ask for less gas, here at most "
        f"{math.floor(10 * low) / 10:.1f} volumes",
    )


def _warm_caution(held: Held) -> tuple[Caution, ...]:
    """What a vessel comes to when it warms, where that is near its limit or above it."""
    limit, degrees = held.vessel.limit, f"{held.warm_at:.0f} °C ({held.warm_at * 1.8 + 32:.0f} °F)"
    may = f"the pressure may rise to {pressure_text(held.warm)}"
    if held.warm > limit:
        text = f"Keep it cold, out of the sun: closed and warmed to {degrees}, {may}, above the limit of "
        text += f"{pressure_text(limit)}: it can burst. Do not leave it out; chill and vent it before it stands warm."
    elif held.vessel.carried and held.warm > NEAR * limit:
        text = f"Keep cold, out of the sun, and never in a closed car: at {degrees} {may}, near the limit of "
        text += f"{pressure_text(limit)}, and a car grows hotter than that. Say so on the label."
    else:
        return ()
    return (Caution("warm vessel", text),)


def _refuse_pressure(field: str, found: float, limit: float) -> None:
    allowed = f"at most {pressure_text(limit)}, its limit: chill the drink or ask for less gas"
    raise InputError(field, Told(f"up to {pressure_text(found)}"), allowed)


# --- how much gas it takes ----------------------------------------------------------------------------------


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
    litres, _, _ = _read(liquid)
    pressure = pressure_for(liquid, volumes, temperature)
    _held_already(liquid, volumes)
    dissolved = grams_from_volumes(volumes) * litres
    full = _taken(liquid, dissolved, temperature)
    space = vessel_volume - full
    if np.any(space < -1e-6):
        allowed = f"at least the drink in it with its gas, {math.ceil(np.max(full))} mL, with room above"
        raise InputError("vessel_volume", float(np.min(vessel_volume)), allowed)
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
    _require_gas(gas)
    _one(liquid, volumes=volumes, temperature=temperature, size=size, loss=loss, limit=limit)
    vessel = vessel_of(vessel, limit)
    if not vessel.charges:
        raise InputError("vessel", vessel.name, "one that takes cartridges, such as a siphon")
    require("size", size, 1, 8 * vessel.charges, f"g, all that the {vessel.name} is made for")
    require("loss", loss, 0, 0.9, "of the whole")
    litres, _, _ = _read(liquid)
    _require_fill(litres, vessel)
    _held_already(liquid, volumes)
    henry = _henry(liquid, temperature)
    _, abv, solids = _read(liquid)
    asked = grams_from_volumes(volumes) * litres
    _require_room(liquid, asked, vessel, temperature)

    def above(grams: float) -> float:
        """Room above the drink with so much gas in it. [mL]"""
        return vessel.volume - _taken(liquid, grams, temperature)

    first = liquid.co2 + (0.0 if air else _solubility.gas_grams(ATMOSPHERE, above(liquid.co2), temperature))

    def pressure(count: int) -> float:
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
            f"at most {math.floor(10 * most) / 10:.1f} at {temperature:.0f} °C, what {allowed} x {size:g} g gives: the "
            f"{vessel.name} is made for no more; chill the drink further or fill less",
        )  # fmt: skip
    held = _held(liquid, litres, pressure(count), temperature, vessel, air)
    return Cartridges(count, count * size, replace(held, cautions=(CARTRIDGE, *held.cautions)))


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
def uptake(liquid: Liquid, pressure: GaugeKilopascals, temperature: Celsius, minutes, method: str = "rest") -> Uptake:
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
    _one(liquid, pressure=pressure, temperature=temperature)
    one_of("method", method, HALF_TIMES)
    minutes = number(minutes, "minutes")
    require("minutes", minutes, 0, np.inf, "min")
    end = dissolved_co2(liquid, pressure, temperature, volumes=True)
    litres, _, _ = _read(liquid)
    start = volumes_from_grams(liquid.co2 / litres)
    usual, quick, slow = (end + (start - end) * 0.5 ** (np.asarray(minutes) / half) for half in HALF_TIMES[method])
    return Uptake(np.asarray(minutes), usual, np.minimum(slow, quick), np.maximum(slow, quick), end)


@door
def time_to(
    liquid: Liquid, volumes: GasVolumes, pressure: GaugeKilopascals, temperature: Celsius, method: str = "rest"
) -> tuple[float, float, float]:
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
    _one(liquid, volumes=volumes)
    run = uptake(liquid, pressure, temperature, 0.0, method)
    if volumes > run.end * (1 + 1e-6):
        most = math.floor(100 * run.end) / 100
        raise InputError(
            "volumes", volumes, f"at most {most:.2f}, all that this pressure gives at {temperature:.0f} °C"
        )
    start = float(run.volumes)
    missing = (volumes - start) / (run.end - start) if run.end > start else 0.0
    halvings = -math.log2(1 - min(max(missing, 0.0), DONE))
    return tuple(half * halvings for half in HALF_TIMES[method])


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
    litres, _, _ = _read(liquid)
    above = np.maximum(liquid.co2 - _keeps(liquid, temperature) * litres, 0.0)
    return np.interp(temperature, POURED_AT, POURED_LOSS[pour] / (POURED_FROM - _CHAMPAGNE_KEEPS)) * above


@door
def with_gas(liquid: Liquid, volumes: GasVolumes) -> Liquid:
    """A drink that holds so many volumes of gas, whatever it held before.

    >>> with_gas(Liquid.of(water=998.2), 4.0)
    <Liquid: water 998.2 g, co2 7.84 g>
    """
    litres, _, _ = _read(liquid)
    return _with_co2(liquid, grams_from_volumes(volumes) * litres)


def _with_co2(liquid: Liquid, grams) -> Liquid:
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
    def sparkles(self):
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
    litres, _, _ = _read(both)
    lost = lost_by_pouring(both, temperature, pour)
    left = both.co2 - lost
    return Mixed(
        liquid=_with_co2(both, left),
        lost=lost,
        volumes=volumes_from_grams(left / litres),
        low=volumes_from_grams((left - POURED_SPREAD * lost) / litres),
        high=volumes_from_grams((left + POURED_SPREAD * lost) / litres),
        keeps=volumes_from_grams(_keeps(both, temperature)),
    )


# --- steps --------------------------------------------------------------------------------------------------


def _set(step, **fields) -> None:
    for name, value in fields.items():
        object.__setattr__(step, name, value)


@savable("chill")
@dataclass(frozen=True, slots=True)
class Chill:
    """Cool a drink, closed and without ice: nothing of it changes.

    Parameters
    ----------
    temperature : float or str
        [°C]
    """

    temperature: float = 4.0
    name: str = "chilled"

    def __post_init__(self):
        _set(self, temperature=to_celsius(self.temperature))
        require("temperature", self.temperature, *_solubility.TEMPERATURES, "°C")

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Refuses what would freeze; says so when it is near."""
        drink = _estimate(liquid)
        _require_liquid(drink, self.temperature)
        point = dilution.freezing_point(drink)
        near = self.temperature - point < 2 * _freezing.ERROR
        note = f"It begins to freeze near {point:.0f} °C: leave it no longer than it takes to chill.".replace("-", "−")
        chill = f"Chill to {self.temperature:.0f} °C ({self.temperature * 1.8 + 32:.0f} °F).".replace("-", "−")
        return Outcome(liquid, notes=(chill, note) if near else (chill,), temperature=self.temperature)


@savable(
    "carbonate",
    "Gas: carbon dioxide in water by Weiss (1974), less for alcohol and sugar (few figures are published; the ± says "
    "how few). 1 volume is 1.96 g/L. Figures hold in the closed vessel; on opening and pouring some is lost.",
)
@dataclass(frozen=True, slots=True)
class Carbonate:
    """Gas a drink until it is in balance: to so many volumes, or at a pressure.

    The vessel is taken as filled to its limit, whatever share of that batch the drink at hand is.

    Parameters
    ----------
    volumes : float, optional
        Wanted. [volumes]
    pressure : float or str, optional
        In place of volumes. [kPa gauge]
    temperature : float or str
        [°C]
    vessel : str
        A key of `VESSELS`.
    limit : float or str, optional
        The limit stamped on yours. [kPa gauge]
    gas : str
        Only "CO2".
    """

    volumes: float | None = None
    pressure: float | None = None
    temperature: float = 4.0
    vessel: str = "keg, 19 L"
    limit: float | None = None
    gas: str = "CO2"
    name: str = "carbonated"
    cautions: ClassVar[tuple[Caution, ...]] = CAUTIONS

    def __post_init__(self):
        _require_gas(self.gas)
        if (self.volumes is None) == (self.pressure is None):
            given = "neither" if self.volumes is None else "both"
            raise InputError("volumes or pressure", Told(given), "one of the two")
        _set(self, temperature=to_celsius(self.temperature))
        if self.pressure is not None:
            _set(self, pressure=to_kpa(self.pressure))
        else:
            _set(self, volumes=number(self.volumes, "volumes"))
            require("volumes", self.volumes, GAS_VOLUMES.low, GAS_VOLUMES.high, GAS_VOLUMES.label)
        if self.limit is not None:
            _set(self, limit=to_kpa(self.limit, "limit"))
        vessel_of(self.vessel, self.limit)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Add the gas; what the drink held above that leaves again."""
        drink = _estimate(liquid)
        volumes = self.volumes
        if volumes is None:
            volumes = dissolved_co2(drink, self.pressure, self.temperature, volumes=True)
        vessel = vessel_of(self.vessel, self.limit)
        batch = drink * (vessel.fill / (1000 * _read(drink)[0]))
        held = in_vessel(_with_co2(batch, 0.0), volumes, self.temperature, vessel)  # too much is vented
        litres, _, _ = _read(liquid)
        sure = spread(drink)
        level = np.maximum(1 + sure / 2 * draw("gas that the drink holds"), 0.0)
        gained = grams_from_volumes(volumes) * litres * level - liquid.co2
        note = (
            f"{volumes:.1f} volumes ({grams_from_volumes(volumes):.1f} g/L) of gas at {self.temperature:.0f} °C and "
            f"{pressure_text(held.pressure)} on the gauge, good to ± {100 * sure:.0f} %."
        ).replace("-", "−")
        notes = (note,)
        if _read(drink)[1] > _solubility.READ_TO:
            notes += ("Above 13 % vol how much gas a drink holds is an estimate: taste, and adjust the pressure.",)
        return Outcome(
            liquid=_with_co2(liquid, liquid.co2 + gained),
            left=_gas(np.maximum(-gained, 0.0)),
            cautions=held.cautions,
            added=_gas(np.maximum(gained, 0.0)),
            notes=notes,
            temperature=self.temperature,
        )

    def require_stands(self, liquid: Liquid, temperature: float) -> None:
        """Refuse to let the vessel stand warmer than it bears with this gassed drink in it."""
        drink, vessel = _estimate(liquid), vessel_of(self.vessel, self.limit)
        if drink.co2 > 0 and temperature > max(WARM, self.temperature):
            litres = _read(drink)[0]
            batch = _with_co2(drink * (vessel.fill / (1000 * litres)), 0.0)
            in_vessel(batch, volumes_from_grams(drink.co2 / litres), temperature, vessel)

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[str, ...]:
        """In which vessel, in how many fillings, and to what."""
        vessel = vessel_of(self.vessel, self.limit)
        fillings = math.ceil(_estimate(liquid).volume() / vessel.fill - 1e-9)
        name = vessel.name.replace(", ", " of ")
        several = f", in {fillings} fillings of at most {vessel.fill:.0f} mL," if fillings > 1 else ""
        return (f"Gas it in a {name}{several} until it holds {outcome.notes[0]}",)

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """The gas that goes into the drink; what fills the vessel's head comes on top."""
        return (Brought("carbon dioxide (in the drink)", _estimate(outcome.added).mass),)


def _gas(grams) -> Liquid:
    return Liquid.of(co2=grams)


@savable("pour", "Gas lost in pouring: measured on champagne (Liger-Belair and others, 2010; second hand), ± 50 %.")
@dataclass(frozen=True, slots=True)
class Pour:
    """Pour a gassed drink: what leaves is gas alone.

    Parameters
    ----------
    temperature : float or str
        Of the drink. [°C]
    pour : {"tilted", "upright"}
    """

    temperature: float = 4.0
    pour: str = "tilted"
    name: str = "poured"

    def __post_init__(self):
        one_of("pour", self.pour, POURED_LOSS)
        _set(self, temperature=to_celsius(self.temperature))

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """The gas that is driven out, as `lost_by_pouring`."""
        drink = _estimate(liquid)
        if not drink.co2 > 0:
            raise InputError("gas of the drink", 0, "above 0 volumes: carbonate it before you pour it")
        share = lost_by_pouring(drink, self.temperature, self.pour) / drink.co2
        lost = np.clip(share * (1 + POURED_SPREAD / 2 * draw("gas lost by pouring")), 0.0, 1.0) * liquid.co2
        left = volumes_from_grams((1 - share) * drink.co2 / _read(drink)[0])
        note = f"About {left:.1f} volumes of gas are left in the glass; the loss is good to a half of it."
        return Outcome(_with_co2(liquid, liquid.co2 - lost), _gas(lost), notes=(note,), temperature=self.temperature)

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[str, ...]:
        """How it is poured."""
        how = "down the side of a tilted glass" if self.pour == "tilted" else "into the middle of an upright glass"
        return (
            f"Pour it at {self.temperature:.0f} °C ({self.temperature * 1.8 + 32:.0f} °F) {how}.".replace("-", "−"),
        )
