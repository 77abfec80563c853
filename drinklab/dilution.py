"""What ice adds and takes: melt water and cold, by the published rules or from the energy balance.

The rules (`stirred`, `shaken`) give melt from strength alone, for a bar's usual ice and times.
`over_ice` asks about your own: its mass, temperature and surface water, the vessel, the time. It ends at
the balance that physics allows; how fast it gets there is anchored to the rules. Treat either as ± 20 %:
no measured data set was found to test them against, so weigh your own (`fitted`).

>>> stirred(25)
0.381
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Annotated

import numpy as np

from .errors import InputError, Told, one_of, require
from .kinds import Celsius, Fraction, Grams, GramsPerLitre, Kind, PercentVol
from .liquid import Liquid, water
from .pantry import Ingredient
from .physics import density as _density
from .physics import freezing as _freezing
from .recipe import SERVES
from .units import door, number

# Strength before ice for which the relations are used here: they fit bar drinks, not neat overproof spirit.
RULE_RANGE = Kind("% vol", "percent", 0, 60)
BeforeIce = Annotated[float | np.ndarray, RULE_RANGE]
# Half-width of a range that holds about 19 drinks in 20, as a share of the melt.
MELT_SPREAD = 0.20


@door
def stirred(abv: BeforeIce) -> Fraction:
    """Melt water of a drink stirred on ice, as a share of its volume before ice.

    Parameters
    ----------
    abv : float or array
        Strength before ice, 0 to 60. [% vol]

    Returns
    -------
    float or array
        Added water / starting volume. [mL/mL]

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    D = -1.21 A² + 1.246 A + 0.145, A the strength as a fraction (D. Arnold, Liquid Intelligence, 2014;
    from memory). Uncertain by ± 20 %.

    Examples
    --------
    >>> stirred(30)
    0.410
    """
    a = abv / 100
    return -1.21 * a**2 + 1.246 * a + 0.145


@door
def shaken(abv: BeforeIce) -> Fraction:
    """Melt water of a drink shaken with ice, as a share of its volume before ice.

    D = -1.567 A² + 1.742 A + 0.203; source, range and uncertainty as for `stirred`.

    >>> shaken(20)
    0.489
    """
    a = abv / 100
    return -1.567 * a**2 + 1.742 * a + 0.203


def _share(value: float):
    def fixed(abv):
        return np.full_like(abv, value, dtype=float) if np.ndim(abv) else value

    return fixed


_HANDBOOK = "class figure of a 2014 trade handbook, from memory"
# What each technique of a recipe adds, and on whose word.
RULES = {
    "stirred": (stirred, "relation to strength of a 2014 trade handbook, from memory"),
    "shaken": (shaken, "relation to strength of a 2014 trade handbook, from memory"),
    "built": (_share(0.24), _HANDBOOK),
    "blended": (_share(1.0), _HANDBOOK),
    "swizzled": (shaken, "taken as shaken; common practice, no published source"),
    "muddled": (_share(0.24), "taken as built; common practice, no published source"),
    "none": (_share(0.0), "no ice"),
}
# Built long drinks are mostly fridge-cold mixer, which melts little: 50 mL of spirit at 20 °C and 120 mL of
# mixer at 5 °C bring 3.9 kJ and 2.5 kJ down to 0 °C; over the 0.333 kJ/g that ice takes, 19 g in 170 mL.
BUILT_LONG = (_share(0.11), "estimate from the heat that warm spirit and cold mixer bring")


def melt_fraction(abv, technique: str, serve: str = "up"):
    """Melt water as a share of the volume before ice, for a technique and a way to serve.

    Parameters
    ----------
    abv : float or array
        Strength before ice. [% vol]
    technique : str
        One of `recipe.TECHNIQUES`.
    serve : {"up", "on ice", "long"}
        A drink built to be served up meets no ice; one built long is mostly cold mixer.

    Returns
    -------
    float or array
        [mL/mL]

    Raises
    ------
    InputError
        For an unknown technique or serve, or a strength that the rule does not cover.

    Examples
    --------
    >>> melt_fraction(28, "shaken"), melt_fraction(28, "built", "up")
    (0.568, 0.0)
    """
    rule, _ = _rule(technique, serve)
    abv = number(abv, "strength before ice")
    require("strength before ice", abv, 0, 100, "% vol")
    try:
        return rule(abv)
    except InputError as error:
        raise InputError(
            "strength before ice", error.value, f"0 to 60 % vol for the {technique} rule; set the melt water yourself"
        ) from None


def basis(technique: str, serve: str = "up") -> str:
    """On whose word `melt_fraction` gives what it gives.

    >>> basis("built", "long")
    'estimate from the heat that warm spirit and cold mixer bring'
    """
    return _rule(technique, serve)[1]


def _rule(technique: str, serve: str):
    one_of("technique", technique, RULES)
    one_of("serve", serve, SERVES)
    if technique in ("built", "muddled") and serve != "on ice":
        return BUILT_LONG if serve == "long" else RULES["none"]
    return RULES[technique]


def add_melt(liquid: Liquid, fraction) -> Liquid:
    """A liquid with melt water: `fraction` of its volume at 20 °C.

    >>> add_melt(Liquid.of(water=100), 0.25).mass
    125.0
    """
    require("melt water", fraction, 0, np.inf, "of the volume before ice")
    return liquid + water(np.asarray(fraction) * liquid.volume() * _density.ethanol_water(0.0) / 1000)


# --- ice by energy balance ------------------------------------------------------------------------------

# Surface water of ice, as a share of its mass. Common practice, no published source.
WETNESS = {"freezer-dry": 0.0, "drained": 0.02, "wet": 0.05}


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


# What the rates are anchored to: `ANCHOR` on 250 g of drained ice at 0 °C must melt in the usual time what the
# published rule says for it. Stirring 30 to 45 s and shaking 10 to 15 s are common practice; so is that a shaken
# drink carries chips. The other techniques have no rule to be anchored to: estimates, marked so.
USUAL_ICE = 250.0  # g for a drink of `USUAL_VOLUME`
USUAL_VOLUME = 90.0  # mL
MOTIONS = {
    "stirred": Motion(37.0, 0.0, 16.7),
    "shaken": Motion(12.0, 0.06, 2.4),
    "swizzled": Motion(15.0, 0.06, 3.5),
    "thrown": Motion(15.0, 0.0, 8.0),
    "built": Motion(15.0, 0.0, 20.0),
    "blended": Motion(15.0, 0.0, 1.5),
    "standing": Motion(60.0, 0.0, 120.0),
}
# Large ice has less surface, small ice more: time to half, against common 30 mm cubes (area over mass goes as
# one over the edge: 50 mm, 30 mm, crushed to about 10 mm).
ICE_SIZES = {"large": 50 / 30, "cubes": 1.0, "crushed": 10 / 30}


@dataclass(frozen=True, slots=True)
class Chill:
    """A drink over ice, at one time or at many. Every field has the shape of what was asked.

    `dilution` is all water taken up, over the volume before ice; `limit_*` is where it ends if left long
    enough, and `ice_left` what is then, or now, still solid.
    """

    seconds: float | np.ndarray
    temperature: float | np.ndarray
    dilution: float | np.ndarray
    abv: float | np.ndarray
    melt: float | np.ndarray
    ice_left: float | np.ndarray
    limit_temperature: float | np.ndarray
    limit_dilution: float | np.ndarray
    liquid: Liquid


_HEAT_PARTS = ("water", "ethanol", *_freezing.SOLUTES)


def _heat_parts(liquid: Liquid) -> dict:
    """What counts for heat and freezing; protein, fat and other solids do not."""
    return {name: grams for name, grams in liquid.parts().items() if name in _HEAT_PARTS}


def balance_with_ice(
    liquid: Liquid, temperature, ice, ice_temperature, wetness=0.0, vessel=0.0, vessel_temperature=20.0, heat=0.0
):
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

    Returns
    -------
    (melt, temperature, ice_left) : arrays
        Melted ice [g], [°C] and [g]. Melt is below zero where very cold ice freezes water out of the drink.

    Notes
    -----
    Ice colder than the drink's end warms to it; ice warmer than the end (0 °C ice in a drink at -6 °C)
    cools only as fast as its core conducts, which takes longer than a drink is stirred: its core is left out.

    Energy in = energy out by `physics.freezing.liquid_heat` and `ice_heat`, solved for the melt by the
    secant rule over whole arrays; the energy then closes to 1e-9 of the heat that moved, or better.
    """
    solid, film = ice * (1.0 - wetness), ice * wetness
    parts = _heat_parts(liquid)
    start = _freezing.liquid_heat(parts, temperature) + film * _freezing.liquid_heat({"water": 1.0}, 0.0) + heat
    start = start + solid * _freezing.ice_heat(ice_temperature) + vessel * vessel_temperature
    shape = np.broadcast_shapes(np.shape(start), np.shape(film), liquid.shape)

    def drink(melt):
        return {**parts, "water": parts["water"] + film + melt}

    def excess(melt):
        mixed = drink(melt)
        end = _freezing._freezing_point(mixed)
        core = np.maximum(ice_temperature, end)
        out = _freezing.liquid_heat(mixed, end) + (solid - melt) * _freezing.ice_heat(core) + vessel * end
        return out - start

    # As if there were ice without end; where the answer is more than there is, all of it melts.
    least = -0.5 * (parts["water"] + film)
    melt = np.broadcast_to(0.35 * liquid.volume(), shape)
    f = excess(melt)
    step = -f / 420.0  # about what a gram of ice takes up, in J
    for _ in range(40):
        previous, f_previous = melt, f
        melt = np.maximum(melt + step, least)
        if np.all(np.abs(melt - previous) <= 1e-7 * (np.abs(melt) + 1.0)):
            break
        f = excess(melt)
        change = f - f_previous
        step = np.divide(-f * (melt - previous), change, out=np.zeros(shape), where=change != 0)
    else:
        raise ArithmeticError("the ice balance was not found; please report the numbers you used")
    all_melted = melt >= solid
    melt = np.where(all_melted, solid, melt)
    end = np.where(all_melted, _temperature_of(drink(solid), start, vessel), _freezing._freezing_point(drink(melt)))
    return melt, end, solid - melt


def _temperature_of(parts: dict, heat, vessel=0.0):
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
    wetness: str | float | None = None,
    technique: str = "stirred",
    seconds=None,
    size: str = "cubes",
    vessel: float = 0.0,
    vessel_temperature: Celsius | None = None,
    room: Celsius = 20.0,
    gain: float = 0.0,
    pace: float = 1.0,
) -> Chill:
    """A drink over ice of your own, by the energy balance.

    The end is what physics allows: the drink at its own freezing point with ice left, or all the ice
    melted (`balance_with_ice`). On the way there, a share of 1 - 2^(-t / half) of it is done, where
    `half` belongs to the technique and the ice (`MOTIONS`, `ICE_SIZES`).

    Parameters
    ----------
    liquid : Liquid
        The drink before ice, with any axes.
    temperature, ice_temperature : float or array
        Before; ice at most 0. [°C]
    ice : float or array
        With the water on it. [g]
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
    Treat the dilution as ± 20 %. The rates are anchored to the published rules and to common practice, no
    measured data set having been found.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> chill = over_ice(spirit(90, 25) + Liquid.of(sucrose=8), technique="stirred", seconds=37)
    >>> round(chill.dilution, 2), round(chill.temperature, 0)
    (0.38, -3.0)
    """
    one_of("technique", technique, MOTIONS)
    one_of("ice size", size, ICE_SIZES)
    motion = MOTIONS[technique]
    _above_zero("ice", ice, "g")
    require("ice_temperature", ice_temperature, -60, 0, "°C")
    require("temperature", temperature, -40, 100, "°C")
    require("room", room, -20, 60, "°C")
    vessel_temperature = room if vessel_temperature is None else vessel_temperature
    require("vessel_temperature", vessel_temperature, -60, 150, "°C")
    wetness = _wetness_of(wetness, ice_temperature)
    seconds = number(motion.seconds if seconds is None else seconds, "seconds")
    require("seconds", seconds, 0, 86_400, "s")
    for name, value in (("vessel", vessel), ("gain", gain)):
        require(name, value, 0, np.inf, {"vessel": "J/K", "gain": "W/K"}[name])
    _above_zero("pace", pace, "")
    point = _freezing.freezing_point_of(_heat_parts(liquid))
    if np.any(np.asarray(temperature) < point):
        allowed = f"at least {np.max(point):.1f} °C, where it freezes"
        raise InputError("temperature of the drink", float(np.min(temperature)), allowed)

    share = 1.0 - 2.0 ** (-seconds / (motion.half * ICE_SIZES[size] * pace))
    heat = gain * np.maximum(room - point, 0.0) * seconds
    end_melt, end, _ = balance_with_ice(
        liquid, temperature, ice, ice_temperature, wetness, vessel, vessel_temperature, heat
    )
    if np.any(end_melt < -1.0):  # less than a gram is within what freezing points are good for
        told = Told(f"{np.max(ice):g} g at {np.min(ice_temperature):g} °C")
        raise InputError("ice", told, "less or warmer: it would freeze water out of a drink as cold as this")
    end_melt = np.maximum(end_melt, 0.0)
    volume, film, solid = liquid.volume(), ice * wetness, ice * (1.0 - wetness)
    melt = share * end_melt
    carried = np.minimum(motion.chips * volume * share, solid - melt)
    parts = _heat_parts(liquid)
    wet = {**parts, "water": parts["water"] + film + melt}
    # What the drink still holds: what came in, less what the ice and the vessel took up so far.
    core = np.maximum(ice_temperature, end)
    taken = melt * -_freezing.ice_heat(ice_temperature) + share * (solid - end_melt) * (
        _freezing.ice_heat(core) - _freezing.ice_heat(ice_temperature)
    )
    held = (
        _freezing.liquid_heat(parts, temperature) + film * _freezing.liquid_heat({"water": 1.0}, 0.0)
        + share * vessel * vessel_temperature + heat - taken
    )  # fmt: skip
    now = _temperature_of(wet, held, share * vessel)
    whole = liquid + water(film + melt + carried)
    gained, density = film + melt + carried, _density.ethanol_water(0.0) / 1000
    most_carried = np.minimum(motion.chips * volume, solid - end_melt)
    return Chill(
        seconds=seconds,
        temperature=_plain(now),
        dilution=_plain(gained / density / volume),
        abv=_plain(100 * whole.ethanol / (_density.ethanol() / 1000) / whole.volume()),
        melt=_plain(melt),
        ice_left=_plain(solid - melt - carried),
        limit_temperature=_plain(end),
        limit_dilution=_plain((film + end_melt + most_carried) / density / volume),
        liquid=whole,
    )


@dataclass(frozen=True, slots=True)
class OwnIce:
    """Your own ice and time, for `trial.run` in place of the rule; the fields are arguments of `over_ice`."""

    ice: float = USUAL_ICE
    ice_temperature: float = 0.0
    wetness: str | float | None = None
    size: str = "cubes"
    seconds: float | None = None
    temperature: float = 20.0
    vessel: float = 0.0
    room: float = 20.0
    pace: float = 1.0

    def chill(self, liquid: Liquid, technique: str) -> Chill:
        """The liquid over this ice; a muddled drink is taken as built.

        Raises
        ------
        InputError
            For a technique without ice, and as `over_ice`.
        """
        if technique == "none":
            raise InputError("technique", technique, "one that meets ice, when ice is given")
        given = {f.name: getattr(self, f.name) for f in fields(self)}
        return over_ice(liquid, technique="built" if technique == "muddled" else technique, **given)


def _wetness_of(wetness, ice_temperature):
    cold = np.asarray(ice_temperature) < -0.5
    if wetness is None:
        return np.where(cold, WETNESS["freezer-dry"], WETNESS["drained"])
    if isinstance(wetness, str):
        wetness = WETNESS[one_of("wetness", wetness, WETNESS)]
    require("wetness", wetness, 0, 0.5, "of the ice")
    if np.any(cold & (np.asarray(wetness) > 0)):
        raise InputError("wetness of ice below 0 °C", float(np.max(wetness)), "0: water on such ice is frozen")
    return wetness


def _plain(value):
    return float(value) if np.ndim(value) == 0 else value


def _above_zero(name: str, value, unit: str) -> None:
    require(name, value, 0, np.inf, unit)
    if np.any(np.asarray(value) <= 0):
        raise InputError(name, float(np.min(value)), f"above 0 {unit}".strip())


def freezing_point(liquid: Liquid):
    """Where a drink begins to freeze, good to about 1 °C. [°C]

    >>> from drinklab.strength import spirit
    >>> round(freezing_point(spirit(60, 40)), 0)
    -23.0
    """
    return _plain(_freezing.freezing_point_of(_heat_parts(liquid)))


def frozen_share(liquid: Liquid, temperature):
    """How much of a drink's water is ice at a temperature: 0 is liquid, a third is slush. [g/g]

    Water freezes out until what is left freezes no more at that temperature.

    >>> from drinklab.strength import spirit
    >>> round(frozen_share(spirit(700, 20), -18), 2), frozen_share(spirit(700, 40), -18)
    (0.5, 0.0)
    """
    require("temperature", temperature, -40, 40, "°C")
    parts = _heat_parts(liquid)
    low = np.zeros(np.broadcast_shapes(liquid.shape, np.shape(temperature)))
    high = low + 1.0
    for _ in range(50):
        share = (low + high) / 2
        point = _freezing._freezing_point({**parts, "water": parts["water"] * np.maximum(1 - share, 1e-9)})
        low, high = np.where(point > temperature, share, low), np.where(point > temperature, high, share)
    liquid_still = _freezing._freezing_point(parts) <= temperature
    return _plain(np.where(liquid_still, 0.0, (low + high) / 2))


@door
def weakest_liquid(temperature: Celsius, sugar: GramsPerLitre = 0.0) -> PercentVol:
    """Weakest drink that does not begin to freeze in a store: water, ethanol and sucrose.

    Parameters
    ----------
    temperature : float
        Of the store, -40 to 0. [°C]
    sugar : float
        [g/L]

    Returns
    -------
    float
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
    low, high = 0.0, 65.0
    for _ in range(30):
        abv = (low + high) / 2
        mixed = Ingredient("mix", "mix", "other", abv, sugar, 0.0, solutes={"sucrose": sugar}).composition
        if freezing_point(Liquid(mixed)) > temperature:
            low = abv
        else:
            high = abv
    return high


@dataclass(frozen=True, slots=True)
class Fit:
    """What own weighings say: `pace` and `wetness` for `over_ice`, and how far the fit misses them.

    `miss` is the root of the mean square of fitted less weighed water. [g]
    """

    pace: float
    wetness: float
    miss: float


def fitted(liquid: Liquid, seconds, gained, *, wetness: str | float | None = None, **ice) -> Fit:
    """Refit the rate of a technique to your own weighings.

    Weigh the drink before and after ice; the gain is melt, the water that was on the ice and fine ice.

    Parameters
    ----------
    liquid : Liquid
        The drink before ice.
    seconds, gained : arrays of one length
        Time on the ice and the gain in weight. [s], [g]
    wetness : str or float, optional
        As for `over_ice`. With two weighings or more at different times it is fitted too.
    **ice
        The other arguments of `over_ice`.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        Without weighings, for numbers below zero, or gains that no pace explains.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> fit = fitted(spirit(90, 25), [15, 30, 60], [20, 30, 37])
    >>> round(fit.pace, 1), fit.miss < 1
    (0.9, True)
    """
    seconds, gained = np.atleast_1d(number(seconds, "seconds")), np.atleast_1d(number(gained, "gain in weight"))
    if seconds.size != gained.size or not seconds.size:
        told = f"{seconds.size} times and {gained.size} weights"
        raise InputError("weighings", told, "as many times as weights, at least one")
    require("seconds", seconds, 1, 3600, "s")
    require("gain in weight", gained, 0.1, 1e5, "g")
    paces = np.geomspace(0.1, 10.0, 401)[:, None]
    free = (
        wetness is None and np.unique(seconds).size > 1 and np.all(np.asarray(ice.get("ice_temperature", 0.0)) >= -0.5)
    )
    films = np.linspace(0.0, 0.12, 25)[:, None, None] if free else wetness
    tried = over_ice(liquid, seconds=seconds, pace=paces, wetness=films, **ice)
    water_gained = (tried.liquid.water - liquid.water).reshape(-1, *paces.shape[:1], seconds.size)
    miss = np.sqrt(np.mean((water_gained - gained) ** 2, axis=-1))
    film, pace = np.unravel_index(np.argmin(miss), miss.shape)
    least = float(miss[film, pace])
    if least > 0.25 * float(np.mean(gained)):
        told = ", ".join(f"{g:g}" for g in gained) + " g"
        most = f"nearer to what this ice and drink allow, {float(np.max(water_gained)):.0f} g at most; check the scale"
        raise InputError("gains in weight", told, most)
    used = float(films[film, 0, 0]) if free else float(np.max(_wetness_of(wetness, ice.get("ice_temperature", 0.0))))
    return Fit(float(paces[pace, 0]), used, least)


@door
def after_serving(
    liquid: Liquid,
    temperature: Celsius,
    minutes,
    *,
    ice: float = 0.0,
    ice_temperature: float = 0.0,
    size: str = "cubes",
    glass: float = 150.0,
    glass_temperature: Celsius | None = None,
    room: Celsius = 22.0,
    gain: float = 0.2,
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
    minutes = number(minutes, "minutes")
    require("minutes", minutes, 0, 240, "min")
    require("ice", ice, 0, np.inf, "g")
    require("room", room, -20, 60, "°C")
    glass_temperature = room if glass_temperature is None else glass_temperature
    require("glass_temperature", glass_temperature, -60, 150, "°C")
    if ice > 0:
        return over_ice(
            liquid, temperature, ice, ice_temperature, wetness=0.0, technique="standing", seconds=60.0 * minutes,
            size=size, vessel=glass, vessel_temperature=glass_temperature, room=room, gain=gain,
        )  # fmt: skip
    own = _freezing.heat_capacity(_heat_parts(liquid), temperature)
    start = (own * temperature + glass * glass_temperature) / (own + glass)
    now = room + (start - room) * np.exp(-gain * 60.0 * minutes / (own + glass))
    abv = 100 * liquid.ethanol / (_density.ethanol() / 1000) / liquid.volume()
    nothing = np.zeros(np.broadcast_shapes(np.shape(now), liquid.shape))
    return Chill(
        seconds=60.0 * minutes, temperature=_plain(now), dilution=_plain(nothing), abv=_plain(abv + nothing),
        melt=_plain(nothing), ice_left=_plain(nothing), limit_temperature=_plain(room + nothing),
        limit_dilution=_plain(nothing), liquid=liquid * (1.0 + nothing),
    )  # fmt: skip
