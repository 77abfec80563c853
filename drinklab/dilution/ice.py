"""Your own ice: what it melts and how cold it gets a drink, from the balance of energy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np

from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import MASS, TEMPERATURE, Celsius, Given, Grams, Number
from ..learned import MELT_SPREAD
from ..liquid import Liquid, water
from ..physics import density as _density
from ..physics import freezing as _freezing
from ..steps import one_number_each
from ..units import door, number, plain_number
from .frozen import freezing_point, heat_parts

# The same of a gain in weight: two weighings, each good to ± 0.5 g. Common practice, no published source. [g]
WEIGHED = 0.7
WATER = _density.ethanol_water(0.0) / 1000  # g/mL


MOST_ICE, MOST_VESSEL = 1e6, 1e6  # a ton, for any batch; J/K
# Surface water of ice, as a share of its mass. Common practice, no published source.
WETNESS = {"freezer-dry": 0.0, "drained": 0.02, "wet": 0.05}
DRY_BELOW = -0.5  # no water stands on colder ice: it is frozen [°C]


@dataclass(frozen=True, slots=True)
class Motion:
    """How a technique moves the drink over the ice.

    Parameters
    ----------
    seconds : float
        Its usual time. Common practice, no published source. [s]
    chips : float
        Ice that breaks off and goes with the drink through the strainer, of the volume before ice. [g/mL]
    half : float
        Time in which half of what physics allows is done. [s]
    """

    seconds: float
    chips: float
    half: float


# What the rates are anchored to: 15 to 40 % vol on 250 g of drained 30 mm cubes at 0 °C must melt in the usual time
# what the published rule says, within 10 %. Stirring 30 to 45 s and shaking 10 to 15 s are common practice; so is
# that a shaken drink carries chips. The other techniques have no rule to be anchored to: estimates.
USUAL_ICE = 250.0  # g for a drink of `USUAL_VOLUME`
USUAL_VOLUME = 90.0  # mL
MOTIONS = {
    "stirred": Motion(37.0, 0.0, 25.0),
    "shaken": Motion(12.0, 0.06, 4.0),
    "swizzled": Motion(15.0, 0.06, 5.0),
    "thrown": Motion(15.0, 0.0, 11.0),
    "built": Motion(15.0, 0.0, 20.0),
    "blended": Motion(15.0, 0.0, 1.5),
    "standing": Motion(60.0, 0.0, 120.0),
}
# Edge of a piece [mm]. The time to half goes with it, since area over mass goes as one over the edge; the time in
# which the core follows goes with its square (`physics.freezing.core_share`).
ICE_SIZES = {"large": 50.0, "cubes": 30.0, "crushed": 10.0}


@dataclass(frozen=True, slots=True)
class Chill:
    """A drink over ice, at one time or at many. Every field has the shape of what was asked.

    `dilution` is all water taken up, over the volume `before` ice [mL]; `limit_*` is where it ends if left long
    enough, and `ice_left` what is then, or now, still solid.
    """

    seconds: Number
    temperature: Number
    dilution: Number
    abv: Number
    melt: Number
    ice_left: Number
    limit_temperature: Number
    limit_dilution: Number
    before: Number
    liquid: Liquid


class AtRest(NamedTuple):
    """Melted ice [g], temperature [°C] and ice that is left [g]."""

    melt: np.ndarray
    temperature: np.ndarray
    ice_left: np.ndarray


def balance_with_ice(
    liquid: Liquid,
    temperature: Number,
    ice: Number,
    ice_temperature: Number,
    wetness: Number = 0.0,
    vessel: Number = 0.0,
    vessel_temperature: Number = 20.0,
    heat: Number = 0.0,
    core: Number = 1.0,
) -> AtRest:
    """Where a drink and ice come to rest: the drink at its own freezing point, or all the ice melted.

    Parameters
    ----------
    liquid : Liquid
    temperature, ice_temperature, vessel_temperature : float or array
        Before. [°C]
    ice : float or array
        Ice and the water on its surface. [g]
    wetness : float or array
        Of it, water on the surface, at 0 °C. [g/g]
    vessel : float or array
        Heat capacity of what shares the cold (tin, glass, spoon). [J/K]
    heat : float or array
        Gained from the room meanwhile. [J]
    core : float or array
        How much of its way to the drink's temperature the ice that is left has come: 1, all of it, is true rest;
        in less time `physics.freezing.core_share`. Ice at 0 °C in a drink at -6 °C is cooled by the drink, which
        melts more of it; ice at -18 °C cools the drink. [K/K]

    Returns
    -------
    (melt, temperature, ice_left) : arrays
        Melted ice [g], [°C] and [g]. Melt is below zero where very cold ice freezes water out of the drink; half of
        the drink's water is the most that is looked for.

    Notes
    -----
    Energy in = energy out by `physics.freezing.liquid_heat` and `ice_heat`, solved for the melt over whole arrays;
    the energy then closes to 1e-9 of the heat that moved, or better.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> drink = spirit(90, 25) + Liquid.of(sucrose=8)
    >>> melt, end, left = balance_with_ice(drink, 20.0, 250.0, 0.0, wetness=0.02)
    >>> round((float(melt) + 5) / 0.9982 / drink.volume(), 2), round(float(end), 1)
    (0.55, -6.3)
    """
    solid, film = ice * (1.0 - wetness), ice * wetness
    parts = heat_parts(liquid)
    start = _freezing.liquid_heat(parts, temperature) + film * _freezing.liquid_heat({"water": 1.0}, 0.0) + heat
    start = start + solid * _freezing.ice_heat(ice_temperature) + vessel * vessel_temperature

    def drink(melt: Number) -> dict[str, Any]:
        return {**parts, "water": parts["water"] + film + melt}

    def excess(melt: np.ndarray) -> np.ndarray:
        mixed = drink(melt)
        end = _freezing._freezing_point(mixed)
        left = (solid - melt) * _core_heat(ice_temperature, end, core)
        return _freezing.liquid_heat(mixed, end) + left + vessel * end - start

    shape = np.broadcast_shapes(np.shape(start), np.shape(film), np.shape(core), liquid.shape)
    melt = _rising_root(
        excess,
        np.broadcast_to(-0.5 * (parts["water"] + film), shape),
        np.broadcast_to(solid, shape),
        np.broadcast_to(0.35 * liquid.volume(), shape),
        step=1 / 420.0,  # about what a joule melts, in g
    )
    all_melted = melt >= solid
    end = np.where(all_melted, _temperature_of(drink(solid), start, vessel), _freezing._freezing_point(drink(melt)))
    return AtRest(melt, end, solid - melt)


def _core_heat(start: Number, end: Number, core: Number) -> Number:
    """Heat content of ice whose core has come so much of the way from `start` to `end`. [J/g]"""
    before = _freezing.ice_heat(start)
    return before + core * (_freezing.ice_heat(end) - before)


def _rising_root(
    f: Callable[[np.ndarray], np.ndarray], low: np.ndarray, high: np.ndarray, guess: np.ndarray, step: float
) -> np.ndarray:
    """Where a rising function is zero between two ends, or the end that is nearer to it; over whole arrays.

    Secant steps, the first one by `step` for each unit of `f`; one that leaves the ends goes to the end, and where that
    has been tried, or after twelve, halves what is left.
    """
    least, most = low, high
    last = np.clip(guess, low, high)
    y_last = f(last)
    x = np.clip(last - step * y_last, low, high)
    for turn in range(100):
        y = f(x)
        low, high = np.where(y < 0, x, low), np.where(y > 0, x, high)
        rise = y - y_last
        new = x - np.divide(y * (x - last), rise, out=np.zeros(x.shape), where=rise != 0)
        near = 1e-9 * (np.abs(x) + 1.0)
        # One that has come to rest may step over an end that lies a rounding off: it is not halved away again.
        there = (y == 0) | ((np.abs(new - x) <= near) & ((rise != 0) | (np.abs(x - last) <= near)))
        at_end = ((x <= least) & (y >= 0)) | ((x >= most) & (y <= 0))
        tried = ((new >= high) & (high < most)) | ((new <= low) & (low > least))
        half = np.where(tried | (turn >= 12), (low + high) / 2, np.clip(new, low, high))
        new = np.where(at_end, x, np.where(there, new, half))
        last, y_last, x = x, y, new
        if np.all(at_end | there | (np.abs(x - last) <= near)):
            break
    return np.clip(x, least, most)


def _temperature_of(parts: dict[str, Any], heat: Number, vessel: Number = 0.0) -> Number:
    """Temperature at which a drink and its vessel hold this much heat: `liquid_heat` is a quadratic in it."""
    at_0 = _freezing.liquid_heat(parts, 0.0)
    b = _freezing.heat_capacity(parts, 0.0) + vessel
    c = (_freezing.heat_capacity(parts, 20.0) + vessel - b) / 40.0
    rest = heat - at_0
    return 2 * rest / (b + np.sqrt(b * b + 4 * c * rest))


@door
def over_ice(
    liquid: Liquid,
    temperature: Celsius = 20.0,
    ice: Grams = USUAL_ICE,
    ice_temperature: Celsius = 0.0,
    *,
    wetness: str | Number | None = None,
    technique: str = "stirred",
    seconds: Given | None = None,
    size: str = "cubes",
    vessel: Given = 0.0,
    vessel_temperature: Celsius | None = None,
    room: Celsius = 20.0,
    gain: Given = 0.0,
    pace: Given = 1.0,
) -> Chill:
    """A drink over ice of your own, by the energy balance.

    The end is what physics allows: drink and ice at the drink's own freezing point, or all the ice melted
    (`balance_with_ice`). On the way there, a share of 1 - 2^(-t / half) of it is done, where `half` belongs to
    the technique and the ice (`MOTIONS`, `ICE_SIZES`); the ice's own cold counts as far as it has come out of
    pieces of that size by then (`physics.freezing.core_share`).

    Parameters
    ----------
    liquid : Liquid
        The drink before ice, with any axes.
    temperature, ice_temperature : float or array
        Before; ice at most 0. [°C]
    ice : float or array
        With the water on it, up to a ton. [g]
    wetness : str or float, optional
        A key of `WETNESS`, or the share of the ice that is water on its surface. By default "drained" for
        ice at 0 °C and "freezer-dry" for colder ice. [g/g]
    technique : str
        A key of `MOTIONS`.
    seconds : float or array, optional
        Time on the ice, its usual time by default. [s]
    size : str
        A key of `ICE_SIZES`.
    vessel : float
        Heat capacity of tin, glass and spoon: steel 0.5 and glass 0.8 J/K for each gram. [J/K]
    vessel_temperature : float, optional
        That of the room by default. [°C]
    room : float
        [°C]
    gain : float
        Heat that comes in from the room for each degree of difference. [W/K]
    pace : float
        Your own time to half over the usual one; from `fitted`.

    Returns
    -------
    Chill
        Dilution counts the water on the ice, what has melted, and the fine ice that passes a strainer.

    Raises
    ------
    InputError
        Without ice, for ice above 0 °C, water on ice below 0 °C, a drink that is below its own freezing
        point already, or a time below zero.

    Notes
    -----
    Treat the dilution as ± 20 %. The rates are anchored to the published rules and to common practice; single
    drinks measured by their makers are all that was found to hold it against: some are met, some missed (see the
    head of this module, and `tests/iced_drinks.csv`). Very cold ice melts first and, as its core takes up heat,
    freezes some of that on again: then longer is a little less water.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> chill = over_ice(spirit(90, 25) + Liquid.of(sucrose=8), technique="stirred", seconds=37)
    >>> round(chill.dilution, 2), round(chill.limit_dilution, 2), round(chill.limit_temperature, 0)
    (0.37, 0.55, -6.0)
    """
    one_of("technique", technique, MOTIONS)
    one_of("ice size", size, ICE_SIZES)
    motion, edge = MOTIONS[technique], ICE_SIZES[size]
    require("ice_temperature", ice_temperature, -60, 0, "°C")
    require("temperature", temperature, -40, 100, "°C")
    require("room", room, -20, 60, "°C")
    vessel_temperature = room if vessel_temperature is None else vessel_temperature
    require("vessel_temperature", vessel_temperature, -60, 150, "°C")
    film_share = wetness_of(wetness, ice_temperature)
    seconds = given("seconds", motion.seconds if seconds is None else seconds, 86_400, "s")
    vessel, gain = given("vessel", vessel, MOST_VESSEL, "J/K"), given("gain", gain, 1000, "W/K")
    ice, pace = given("ice", ice, MOST_ICE, "g", above=True), given("pace", pace, 1000, above=True)
    point = _freezing.freezing_point_of(heat_parts(liquid))
    asked = (temperature, ice, ice_temperature, film_share, vessel, vessel_temperature, room, gain, seconds, point)
    shape = _common_shape(asked, pace)
    _require_liquid(temperature, point)

    share = 1.0 - 2.0 ** (-seconds / (motion.half * edge / ICE_SIZES["cubes"] * pace))
    core = _freezing.core_share(seconds, edge)
    heat = gain * np.maximum(room - point, 0.0) * seconds
    both = np.stack([np.ones(shape), np.broadcast_to(core, shape)])  # in the end, and by now
    melts, ends, _ = balance_with_ice(
        liquid, temperature, ice, ice_temperature, film_share, vessel, vessel_temperature, heat, both
    )
    (limit_melt, end_melt), (limit, end) = melts, ends
    if np.any(limit_melt < -0.01 * liquid.mass):  # less is within what freezing points are good for
        told = Fact("so much ice", ice=MASS(np.max(ice)), at=TEMPERATURE(np.min(ice_temperature)))
        raise InputError("ice", told, "less or warmer: it would freeze water out of a drink as cold as this")
    limit_melt, end_melt = np.maximum(limit_melt, 0.0), np.maximum(end_melt, 0.0)
    volume, film, solid = liquid.volume(), ice * film_share, ice * (1.0 - film_share)
    melt = share * end_melt
    carried = np.minimum(motion.chips * volume * share, solid - melt)
    parts = heat_parts(liquid)
    wet = {**parts, "water": parts["water"] + film + melt}
    # What the drink still holds: what came in, less what the ice and the vessel took up so far.
    before = _freezing.ice_heat(ice_temperature)
    taken = -melt * before + share * (solid - end_melt) * (_core_heat(ice_temperature, end, core) - before)
    held = (
        _freezing.liquid_heat(parts, temperature) + film * _freezing.liquid_heat({"water": 1.0}, 0.0)
        + share * vessel * vessel_temperature + heat - taken
    )  # fmt: skip
    gained = film + melt + carried
    whole = liquid + water(gained)
    most = film + limit_melt + np.minimum(motion.chips * volume, solid - limit_melt)
    # Fine ice is counted as melted, so the drink leaves no colder than where the whole of it begins to freeze.
    limit = np.maximum(limit, _freezing._freezing_point({**parts, "water": parts["water"] + most}))
    least = np.maximum(limit, _freezing._freezing_point({**parts, "water": parts["water"] + gained}))
    now = np.maximum(_temperature_of(wet, held, share * vessel), least)
    return Chill(
        seconds=seconds,
        temperature=plain_number(now),
        dilution=plain_number(gained / WATER / volume),
        abv=plain_number(_density.abv_of(whole.ethanol, whole.volume())),
        melt=plain_number(melt),
        ice_left=plain_number(solid - melt - carried),
        limit_temperature=plain_number(limit),
        limit_dilution=plain_number(most / WATER / volume),
        before=plain_number(volume),
        liquid=whole,
    )


def _common_shape(asked: Iterable[Number], pace: Number) -> tuple[int, ...]:
    """The shape of all that is asked for; pace goes with it and adds none."""
    try:
        shape = np.broadcast_shapes(*map(np.shape, asked))
        np.broadcast_shapes(shape, np.shape(pace))
    except ValueError:
        raise InputError("numbers over ice", Told("of different counts"), "as many of each, or one") from None
    return shape


def _require_liquid(temperature: Number, point: Number) -> None:
    """Refuse a drink colder than where it freezes. [°C]"""
    if np.any(np.asarray(temperature) < point):
        allowed = Fact("not freezing", point=TEMPERATURE(round(float(np.max(point)), 1)))
        raise InputError("temperature of the drink", TEMPERATURE(np.min(temperature)), allowed)


@one_number_each
@dataclass(frozen=True, slots=True)
class OwnIce:
    """Your own ice and time, for `trial.run` in place of the rule; the fields are arguments of `over_ice`.

    `miss` is that of the own weighings that `pace` was fitted to, if it was: their ± then stands in place of the
    model's. [g]
    """

    ice: float = USUAL_ICE
    ice_temperature: float = 0.0
    wetness: str | float | None = None
    size: str = "cubes"
    seconds: float | None = None
    temperature: float = 20.0
    vessel: float = 0.0
    room: float = 20.0
    pace: float = 1.0
    miss: float | None = None

    def chill(self, liquid: Liquid, technique: str) -> Chill:
        """The liquid over this ice; a muddled drink is taken as built.

        Raises
        ------
        InputError
            For a technique without ice, and as `over_ice`.
        """
        if technique == "none":
            raise InputError("technique", technique, "one that meets ice, when ice is given")
        given = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "miss"}
        return over_ice(liquid, technique="built" if technique == "muddled" else technique, **given)


def melt_pm(chill: Chill, miss: float | None = None) -> Number:
    """Half-width that holds 19 drinks in 20 of the water over ice, of the volume before ice. [mL/mL]

    The model's ± 20 %, or that of own weighings that `over_ice` was fitted to and that the fit misses by `miss`. [g]
    """
    if miss is None:
        return MELT_SPREAD * chill.dilution
    return weighed_pm(chill.dilution * chill.before, given("miss", miss, 1e5, "g")) / chill.before


def weighed_pm(gained: Number, miss: Number = 0.0) -> Number:
    """Half-width that holds 19 in 20 of a weighed gain: the scale's, and the fit's where it is from a fit. [g]

    >>> weighed_pm(30), round(weighed_pm(30, 1.0), 1), weighed_pm(0)
    (0.7, 2.1, 0.0)
    """
    return plain_number(np.minimum(np.hypot(WEIGHED, 2 * miss), gained))


def wetness_of(wetness: Number | str | None, ice_temperature: Number) -> Number:
    """Water on ice as a share of its mass, as named or as is usual at its temperature. [g/g]"""
    cold = np.asarray(ice_temperature) < DRY_BELOW
    if wetness is None:
        return np.where(cold, WETNESS["freezer-dry"], WETNESS["drained"])
    if isinstance(wetness, str):
        wetness = WETNESS[one_of("wetness", wetness, WETNESS)]
    require("wetness", wetness, 0, 0.5, "of the ice")
    if np.any(cold & (np.asarray(wetness) > 0)):
        raise InputError(Fact("wetness of cold ice"), float(np.max(wetness)), "0: water on such ice is frozen")
    return wetness


def given(name: str, value: Given, most: float, unit: str = "", *, above: bool = False) -> Number:
    """A number or an array of them from a person: 0 to `most`, or `above` 0."""
    value = number(value, name)
    require(name, value, 0, most, unit)
    if above and np.any(np.asarray(value) <= 0):
        raise InputError(name, float(np.min(value)), f"above 0 {unit}".strip())
    return value


@door
def after_serving(
    liquid: Liquid,
    temperature: Celsius,
    minutes: Given,
    *,
    ice: Given = 0.0,
    ice_temperature: Celsius = 0.0,
    size: str = "cubes",
    glass: Given = 150.0,
    glass_temperature: Celsius | None = None,
    room: Celsius = 22.0,
    gain: Given = 0.2,
) -> Chill:
    """A drink in its glass, over the minutes: up it warms; on the rocks it weakens.

    Parameters
    ----------
    liquid : Liquid
        As it was strained.
    temperature : float
        Of the drink. [°C]
    minutes : float or array
        Since it was poured. [min]
    ice : float
        Ice in the glass; 0 when served up. [g]
    size : str
        A key of `ICE_SIZES`.
    glass : float
        Heat capacity of the glass: 0.8 J/K for each gram. [J/K]
    glass_temperature : float, optional
        That of the room by default. [°C]
    gain : float
        Heat that comes in for each degree: about 0.2 W/K for a stemmed glass in still air, half to twice that
        (an estimate from a warming of about 1 °C a minute; no published source). [W/K]

    Returns
    -------
    Chill
        Its `seconds` run with the minutes.

    Raises
    ------
    InputError
        For a time below zero, and as `over_ice`.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> served = after_serving(spirit(120, 20), -5, [0, 10, 20], glass_temperature=-5)
    >>> served.temperature.round(0).tolist(), served.abv.round(0).tolist()
    ([-5.0, -1.0, 3.0], [20.0, 20.0, 20.0])
    """
    require("temperature", temperature, -40, 100, "°C")
    minutes = given("minutes", minutes, 240, "min")
    ice, glass, gain = (
        given("ice", ice, MOST_ICE, "g"),
        given("glass", glass, MOST_VESSEL, "J/K"),
        given("gain", gain, 1000, "W/K"),
    )
    require("room", room, -20, 60, "°C")
    glass_temperature = room if glass_temperature is None else glass_temperature
    require("glass_temperature", glass_temperature, -60, 150, "°C")
    require("ice_temperature", ice_temperature, -60, 0, "°C")
    if np.ndim(ice):
        raise InputError("ice", Told(f"{np.size(ice)} amounts"), "one amount at a time")
    if ice > 0:
        return over_ice(
            liquid, temperature, ice, ice_temperature, wetness=0.0, technique="standing", seconds=60.0 * minutes,
            size=size, vessel=glass, vessel_temperature=glass_temperature, room=room, gain=gain,
        )  # fmt: skip
    own = _freezing.heat_capacity(heat_parts(liquid), temperature)
    # A glass colder than that freezes a little of the drink on: what is liquid is then where it freezes.
    start = np.maximum((own * temperature + glass * glass_temperature) / (own + glass), freezing_point(liquid))
    now = room + (start - room) * np.exp(-gain * 60.0 * minutes / (own + glass))
    abv = _density.abv_of(liquid.ethanol, liquid.volume())
    nothing = np.zeros(np.broadcast_shapes(np.shape(now), liquid.shape))
    figures = {
        "temperature": now, "dilution": nothing, "abv": abv + nothing, "melt": nothing, "ice_left": nothing,
        "limit_temperature": room + nothing, "limit_dilution": nothing, "before": liquid.volume(),
    }  # fmt: skip
    plain = {name: plain_number(figure) for name, figure in figures.items()}
    return Chill(seconds=60.0 * minutes, liquid=liquid * (1.0 + nothing), **plain)
