"""The share of a drink's random pours that lie inside wanted bands, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .. import reach, trial
from ..errors import InputError, one_of
from ..pantry import Pantry
from ..profile import AXES, profile
from ..reach.sums import MET, Bands
from ..recipe import Recipe
from ..setting import Setting, as_setting

_NORMAL_95 = 1.959963984540054  # of a normal distribution, 19 in 20 lie within so many standard deviations


@dataclass(frozen=True, slots=True)
class Share:
    """How many of so many random pours lie inside.

    >>> half = Share(500, 1000)
    >>> half.value, round(half.pm, 3)
    (0.5, 0.031)
    """

    inside: int
    pours: int

    @property
    def value(self) -> float:
        """0 to 1."""
        return self.inside / self.pours

    @property
    def ends(self) -> tuple[float, float]:
        """Between which the share of endless pours lies, in 19 of 20 such counts: Wilson's interval (1927)."""
        n, z = self.pours, _NORMAL_95
        middle = (self.value + z * z / (2 * n)) / (1 + z * z / n)
        half = z * np.sqrt(self.value * (1 - self.value) / n + z * z / (4 * n * n)) / (1 + z * z / n)
        return max(float(middle - half), 0.0), min(float(middle + half), 1.0)

    @property
    def pm(self) -> float:
        """Half the width of `ends`."""
        low, high = self.ends
        return (high - low) / 2


def paired_pm(before: np.ndarray, after: np.ndarray) -> float:
    """Half-width that holds 19 in 20 of a difference of two shares of the same pours: only those that changed count."""
    changed = after.astype(float) - before
    return float(_NORMAL_95 * changed.std() / np.sqrt(len(changed)))


def pours_inside(drink: Recipe | Setting, bands: Bands, *, pantry: Pantry | None = None, **changes: Any) -> np.ndarray:
    """Which of a drink's random pours lie inside all bands, as iced and topped, all of it in one glass.

    Parameters
    ----------
    drink : Recipe or Setting
        Its `draws` and `seed` say which pours; the same that its trial has.
    bands : mapping of figure to (low, high)
        Of "abv" [% vol], "sugar" and "acid" [g/L], and "volume" [mL].
    **changes
        Fields of `Setting` that are other than the drink's.

    Returns
    -------
    array of bool, shape (draws,)

    Raises
    ------
    InputError
        Without draws, and as `trial.run`.

    Examples
    --------
    >>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
    >>> int(pours_inside(sour, {"abv": (0, 100)}).sum()), int(pours_inside(sour, {"abv": (17, 19)}).sum()) < 1000
    (1000, True)
    """
    setting, bands = as_setting(drink, **changes), reach.bands_of(bands, {})
    one_of("figure of the pours", next(iter({*bands} - {*AXES, "volume"}), "volume"), (*AXES, "volume"))
    if setting.draws < 1:
        raise InputError("draws", setting.draws, "at least 1, to count a share of them")
    alone = replace(setting, steps=(), beside=(), serves=1, serve_volume=None)
    figures = profile(trial.run(alone, pantry=pantry).served.liquid[1:])
    scales = reach.scales()
    inside = np.ones(setting.draws, bool)
    for axis, (low, high) in bands.items():
        room = MET * scales[axis] * (high if axis == "volume" else 1)
        value = getattr(figures, axis)
        inside &= (value >= low - room) & (value <= high + room)
    return inside
