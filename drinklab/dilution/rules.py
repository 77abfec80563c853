"""What ice adds and takes: melt water and cold, by the published rules or from the energy balance.

The rules (`stirred`, `shaken`) give melt from strength alone, for a bar's usual ice and times; below
`LEAST_RULED` they fail and `melt_fraction` takes the energy balance. `over_ice` asks about your own ice: its
mass, temperature and surface water, the vessel, the time. It ends at the balance that physics allows; how
fast it gets there is anchored to the rules. Treat either as ± 20 %.

No series of measured drinks was found in print, only single drinks weighed or measured once by their makers
(`tests/iced_drinks.csv`). Of two spirits on ice from a freezer `over_ice` meets the water of the shaken one and
misses the stirred one (25 g against 16 g weighed, as if it had been stirred for 20 s); it has both 7 to 8 °C too
cold. On ice at 0 °C it meets a sour's -6 °C within 1 °C, and the 40 s that stirring takes to 0 °C. So weigh your
own (`fitted`).

>>> stirred(25)
0.381
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from typing import Annotated, Any

import numpy as np

from ..errors import InputError, one_of, require
from ..kinds import Fraction, Given, Kind, Number
from ..learned import MELT_SPREAD
from ..liquid import Liquid, water
from ..physics import freezing as _freezing
from ..physics.density import abv_of
from ..recipe import SERVES
from ..strength import spirit
from ..units import door, number, plain_number
from .frozen import heat_parts
from .ice import USUAL_VOLUME, WATER, over_ice

# Strength before ice for which the relations are used here: they fit bar drinks, not neat overproof spirit.
RULE_RANGE = Kind("% vol", "percent", 0, 60)
BeforeIce = Annotated[Number, RULE_RANGE]
Rule = Callable[[Number], Number]  # of the strength before ice [% vol]
# The relations miss what physics asks for below this: at 0 % they melt less than cooling water to 0 °C takes. [% vol]
LEAST_RULED = 15.0
# The relations of the two, in powers of the strength as a fraction; sources at `stirred` and `shaken`.
STIRRED, SHAKEN = (0.145, 1.246, -1.21), (0.203, 1.742, -1.567)


def agrees(melt: float, rule: float) -> bool:
    """Whether a melt is within what a rule for it is good for, `MELT_SPREAD`: the one test on every page.

    >>> agrees(0.40, 0.45), agrees(0.35, 0.45)
    (True, False)
    """
    return bool(abs(melt - rule) <= MELT_SPREAD * rule)


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
    from memory). Uncertain by ± 20 %; too low below `LEAST_RULED`, where `melt_fraction` does not use it.

    Examples
    --------
    >>> stirred(30)
    0.410
    """
    return _relation(STIRRED, abv)


@door
def shaken(abv: BeforeIce) -> Fraction:
    """Melt water of a drink shaken with ice, as a share of its volume before ice.

    D = -1.567 A² + 1.742 A + 0.203; source, range and uncertainty as for `stirred`.

    >>> shaken(20)
    0.489
    """
    return _relation(SHAKEN, abv)


def _relation(powers: Sequence[float], abv: Number) -> Number:
    a = abv / 100
    return powers[2] * a**2 + powers[1] * a + powers[0]


def _share(value: float) -> Rule:
    def fixed(abv: Number) -> Number:
        return np.full_like(abv, value, dtype=float) if np.ndim(abv) else value

    return fixed


_BOOK = "class figure of D. Arnold, Liquid Intelligence (2014), from memory"
_RELATION = (
    "relation to strength of D. Arnold, Liquid Intelligence (2014), from memory; below 15 % vol the energy balance of "
    "the usual ice"
)
# What each technique of a recipe adds, and on whose word.
RULES = {
    "stirred": (stirred, _RELATION),
    "shaken": (shaken, _RELATION),
    "built": (_share(0.24), _BOOK),
    "blended": (_share(1.0), _BOOK),
    "swizzled": (shaken, f"taken as shaken; common practice, no published source: {_RELATION}"),
    "muddled": (_share(0.24), "taken as built; common practice, no published source"),
    "none": (_share(0.0), "no ice"),
}
# These stay on their ice in the glass, so that what tops them melts ice as what came before does.
IN_GLASS = ("built", "muddled", "swizzled")
# Built long drinks are mostly fridge-cold mixer, which melts little: 50 mL of spirit at 20 °C and 120 mL of
# mixer at 5 °C bring 3.9 kJ and 2.5 kJ down to 0 °C; over the 0.333 kJ/g that ice takes, 19 g in 170 mL.
BUILT_LONG = (_share(0.11), "estimate from the heat that warm spirit and cold mixer bring")


def melt_fraction(abv: Given, technique: str, serve: str = "up") -> Number:
    """Melt water as a share of the volume before ice, for a technique and a way to serve.

    Parameters
    ----------
    abv : float or array
        Strength before ice. [% vol]
    technique : str
        One of `recipe.TECHNIQUES`.
    serve : {"up", "on ice", "long", "hot"}
        A drink built to be served up meets no ice, nor does a hot one; one built long is mostly cold mixer.

    Returns
    -------
    float or array
        [mL/mL]

    Notes
    -----
    Stirred, shaken and swizzled drinks go by strength. Below `LEAST_RULED` the relation gives way to the energy
    balance: what `over_ice` finds for plain alcohol and water on the usual ice in the usual time, and at least the
    ice that it takes to come from 20 to 0 °C (0.252 for water). It is brought to meet the relation at
    `LEAST_RULED`, which takes less than 0.01. Up to 250 g/L of sugar change it by less than 8 %.

    Raises
    ------
    InputError
        For an unknown technique or serve, or a strength that the rule does not cover.

    Examples
    --------
    >>> melt_fraction(28, "shaken"), melt_fraction(28, "built", "up")
    (0.568, 0.0)
    >>> melt_fraction(28, "muddled", "on ice") == melt_fraction(28, "built", "on ice")  # taken as built
    True
    """
    rule, _ = _rule(technique, serve)
    abv = number(abv, "strength before ice")
    require("strength before ice", abv, 0, 100, "% vol")
    try:
        share = rule(abv)
    except InputError as error:
        raise InputError(
            "strength before ice", error.value, f"0 to 60 % vol for the {technique} rule; set the melt water yourself"
        ) from None
    if rule not in (stirred, shaken) or not np.any(weak := np.asarray(abv) < LEAST_RULED):
        return share
    share, of = np.array(share), _weak_melt("stirred" if rule is stirred else "shaken")
    share[weak] = np.interp(np.asarray(abv)[weak], *of)
    return plain_number(share)


@functools.cache
def _weak_melt(technique: str) -> tuple[np.ndarray, np.ndarray]:
    """Strengths up to `LEAST_RULED`, and the melt of such drinks by the energy balance."""
    strengths = np.linspace(0.0, LEAST_RULED, 31)
    drinks = spirit(USUAL_VOLUME, strengths)
    usual = over_ice(drinks, technique=technique).dilution
    usual = np.asarray(usual) + RULES[technique][0](LEAST_RULED) - np.asarray(usual)[-1]
    return strengths, np.maximum(usual, _to_zero(drinks) / WATER / USUAL_VOLUME)


def _to_zero(drinks: Liquid) -> Number:
    """Ice at 0 °C that brings a drink from 20 to 0 °C. [g]"""
    parts = heat_parts(drinks)
    melt: Number = 0.0
    for _ in range(5):  # the heat of mixing moves it by a few per cent
        mixed = _freezing.liquid_heat({**parts, "water": parts["water"] + melt}, 0.0)
        given = _freezing.liquid_heat(parts, 20.0) - mixed + melt * _freezing.liquid_heat({"water": 1.0}, 0.0)
        melt = given / _freezing.LATENT
    return melt


def published(abv: float, technique: str, serve: str = "on ice") -> float | None:
    """What a published relation or class figure says of a drink; None where none covers it. [mL/mL]

    >>> round(published(30, "stirred"), 2), published(5, "stirred"), published(5, "built"), published(30, "thrown")
    (0.41, None, 0.24, None)
    """
    if technique not in RULES:
        return None
    share, _ = _rule(technique, serve)
    if share in (stirred, shaken) and not LEAST_RULED <= abv <= RULE_RANGE.high:
        return None
    return float(share(float(abv)))


def iced(before: Liquid, after: Liquid | None, technique: str) -> Liquid:
    """All that melts ice: what meets it, and its top where the drink stays on its ice (`IN_GLASS`)."""
    return before + after if after is not None and technique in IN_GLASS else before


def melt_by_rule(
    before: Liquid, after: Liquid | None, technique: str, serve: str = "up", *, held: bool = False
) -> Number:
    """Melt water by the rule for a drink and what tops it, as a share of the volume before ice. [mL/mL]

    What stays on its ice in the glass (`IN_GLASS`) melts ice with all that is in it, whether poured first or as a
    top; what is strained off its ice only with what was there.

    Parameters
    ----------
    before, after : Liquid
        What meets the ice, and what comes after it, if anything; with any axes.
    technique, serve : str
        As for `melt_fraction`.
    held : bool
        Hold the relations at the end of their range in place of an error: for chance versions of a drink.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> gin, soda = spirit(50, 40), Liquid.of(water=120)
    >>> topped, typed = (gin, soda), (gin + soda, None)
    >>> [round(made[0].volume() * melt_by_rule(*made, "built", "long"), 1) for made in (topped, typed)]
    [18.7, 18.7]
    """
    drink = iced(before, after, technique)
    volume = drink.volume()
    abv = abv_of(drink.ethanol, volume)
    share = melt_fraction(np.minimum(abv, RULE_RANGE.high) if held else abv, technique, serve)
    return share if drink is before else share * volume / before.volume()


def basis(technique: str, serve: str = "up") -> str:
    """On whose word `melt_fraction` gives what it gives.

    >>> basis("built", "long")
    'estimate from the heat that warm spirit and cold mixer bring'
    """
    return _rule(technique, serve)[1]


def meets_ice(technique: str, serve: str = "up") -> bool:
    """Whether a drink that is made and served so takes up melt water.

    >>> meets_ice("stirred"), meets_ice("built", "up")
    (True, False)
    """
    return _rule(technique, serve) is not RULES["none"]


def rule_data(technique: str, serve: str = "up", share: float = 1.0) -> dict[str, Any]:
    """What `melt_fraction` goes by, as plain data for a program that works it out again.

    `fixed` is the share, whatever the strength; or `powers` of the strength as a fraction, below `least` [% vol]
    in place of it `shares` at `strengths`, straight between them, and nothing beyond `most`. `with_top` says whether
    what tops the drink melts ice too. `share` is what of the rule's melt this bar has (`learned.melting`).

    >>> rule_data("built", "on ice")
    {'fixed': 0.24, 'with_top': True}
    >>> rule_data("stirred")["powers"], rule_data("stirred")["most"]
    ((0.145, 1.246, -1.21), 60)
    """
    rule, _ = _rule(technique, serve)
    with_top = technique in IN_GLASS
    if rule not in (stirred, shaken):
        return {"fixed": share * float(rule(0.0)), "with_top": with_top}
    strengths, shares = _weak_melt("stirred" if rule is stirred else "shaken")
    return {
        "powers": tuple(share * power for power in (STIRRED if rule is stirred else SHAKEN)),
        "least": LEAST_RULED, "most": RULE_RANGE.high,
        "strengths": strengths.tolist(), "shares": (share * shares).tolist(), "with_top": with_top,
    }  # fmt: skip


def _rule(technique: str, serve: str) -> tuple[Rule, str]:
    one_of("technique", technique, RULES)
    one_of("serve", serve, SERVES)
    if serve == "hot":
        return RULES["none"]
    if technique in ("built", "muddled") and serve != "on ice":
        return BUILT_LONG if serve == "long" else RULES["none"]
    return RULES[technique]


def add_melt(liquid: Liquid, fraction: Given) -> Liquid:
    """A liquid with melt water: `fraction` of its volume at 20 °C.

    >>> add_melt(Liquid.of(water=100), 0.25).mass
    125.0
    """
    fraction = number(fraction, "melt water")
    require("melt water", fraction, 0, np.inf, "of the drink before ice")
    return liquid + water(np.asarray(fraction) * liquid.volume() * WATER)


# --- ice by energy balance ------------------------------------------------------------------------------
