"""Your own ice, fitted to what you weighed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import InputError, require
from ..kinds import Given, Number
from ..liquid import Liquid
from ..units import number
from .ice import DRY_BELOW, over_ice, wetness_of


@dataclass(frozen=True, slots=True)
class Fit:
    """What own weighings say: `pace` and `wetness` for `over_ice`, and how far the fit misses them.

    `miss` is the root of the mean square of fitted less weighed water. [g]
    """

    pace: float
    wetness: float
    miss: float


def fitted(liquid: Liquid, seconds: Given, gained: Given, *, wetness: str | Number | None = None, **ice: Any) -> Fit:
    """Refit the rate of a technique to your own weighings.

    Weigh the drink before and after ice; the gain is melt, the water that was on the ice and fine ice. A pace of 0.1
    to 10 and ice with up to 12 % of water on it are looked for.

    Parameters
    ----------
    liquid : Liquid
        The drink before ice.
    seconds, gained : arrays of one length
        Time on the ice, 1 to 3600, and the gain in weight, 0.1 to 100,000. [s], [g]
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
        Without weighings, for numbers outside these ranges, or gains that the nearest pace misses by more than a
        quarter.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> fit = fitted(spirit(90, 25), [15, 30, 60], [18, 28, 40])
    >>> round(fit.pace, 1), fit.miss < 1
    (1.0, True)
    """
    seconds, gained = np.atleast_1d(number(seconds, "seconds")), np.atleast_1d(number(gained, "gain in weight"))
    if seconds.size != gained.size or not seconds.size:
        told = f"{seconds.size} times and {gained.size} weights"
        raise InputError("weighings", told, "as many times as weights, at least one")
    require("seconds", seconds, 1, 3600, "s")
    require("gain in weight", gained, 0.1, 1e5, "g")
    paces = np.geomspace(0.1, 10.0, 401)[:, None]
    wet = np.all(np.asarray(ice.get("ice_temperature", 0.0)) >= DRY_BELOW)
    free = wetness is None and np.unique(seconds).size > 1 and wet
    films = np.linspace(0.0, 0.12, 25)[:, None, None]
    tried = over_ice(liquid, seconds=seconds, pace=paces, wetness=films if free else wetness, **ice)
    water_gained = np.asarray(tried.liquid.water - liquid.water).reshape(-1, *paces.shape[:1], seconds.size)
    miss = np.sqrt(np.mean((water_gained - gained) ** 2, axis=-1))
    film, pace = np.unravel_index(np.argmin(miss), miss.shape)
    least = float(miss[film, pace])
    if least > 0.25 * float(np.mean(gained)):
        told = ", ".join(f"{g:g}" for g in gained) + " g"
        most = f"nearer to what this ice and drink allow, {float(np.max(water_gained)):.0f} g at most; check the scale"
        raise InputError("gains in weight", told, most)
    used = float(films[film, 0, 0]) if free else float(np.max(wetness_of(wetness, ice.get("ice_temperature", 0.0))))
    return Fit(float(paces[pace, 0]), used, least)
