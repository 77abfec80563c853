"""What ice adds: melt water against strength, by technique.

The relations here are published rules of thumb for a bar's usual ice and times. Treat a result as
± 20 %: no measured data set was found to test them against.

>>> stirred(25)
0.381
"""

from __future__ import annotations

from typing import Annotated

import numpy as np

from .errors import InputError, one_of, require
from .kinds import Fraction, Kind
from .liquid import Liquid, water
from .physics import density as _density
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
