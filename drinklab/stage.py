"""A drink at one point of its making, measured: what its trial is made of."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field

import numpy as np

from . import balance
from .kinds import Ends
from .liquid import Liquid
from .profile import FIGURES, Profile, profile

_PH_DRAWS = 200


@dataclass(frozen=True)
class Stage:
    """A drink at one point of its making.

    `profile` is the best estimate; `low` and `high` hold 19 results in 20, figure by figure. `temperature`
    is what a step has brought it to, if one has. [°C]
    """

    name: str
    profile: Profile
    low: Profile
    high: Profile
    liquid: Liquid = field(repr=False, compare=False)
    temperature: float | None = None
    # The stage whose salts the sums are not sure of: a milk's, which a step brings, vary in the draws already.
    salts: Stage | None = field(default=None, repr=False, compare=False)
    # An earlier stage of the same drink, be it more or less of it: what is slow to solve is solved once for both.
    same: Stage | None = field(default=None, repr=False, compare=False)

    def spread(self, figure: str) -> float:
        """Half the width between low and high, for a "±"; not a number where nothing was drawn."""
        if self.liquid.grams[0].size == 1:
            return float("nan")
        return float(getattr(self.high, figure) - getattr(self.low, figure)) / 2

    @functools.cached_property
    def ph(self) -> tuple[float, float] | None:
        """pH, and the half-width that holds 19 results in 20: the draws' (the first 200 will do) and the
        calculation's own. None where next to nothing sour is in it, and the pH is not known."""
        if self.same is not None:
            return self.same.ph
        found = np.asarray(balance.ph(self.liquid[: _PH_DRAWS + 1]))
        own = (self.salts or self)._ph_own
        spread = float(np.hypot(2 * found[1:].std(), own)) if found.size > 1 else own
        return (float(found[0]), spread) if spread < 2 * balance.MOST_PM else None

    @functools.cached_property
    def _ph_own(self) -> float:
        """Of its pH, what the calculation itself is not sure of: the half-width that holds 19 results in 20."""
        return 2 * float(balance.ph_pm(self.liquid[0]))

    @property
    def holds(self) -> dict[str, tuple[float, float]]:
        """Grams of what it is made of, which add up to its mass: each with the half-width that holds 19 in 20."""
        of = self.liquid
        parts = {"water": of.water, "alcohol": of.ethanol, "sugar": of.sugar, "acid": of.acid, "gas": of.co2}
        parts["the rest"] = np.maximum(of.mass - sum(parts.values()), 0.0)
        table = np.array([np.ravel(part) for part in parts.values()])
        low, high = ends(table[:, 1:]) if table.shape[1] > 1 else (np.full(len(table), np.nan),) * 2
        return {
            word: (float(row[0]), float(h - x) / 2) for word, row, x, h in zip(parts, table, low, high, strict=True)
        }

    @property
    def gas(self) -> tuple[float, float]:
        """Carbon dioxide: best estimate, and the half-width that holds 19 results in 20, as of `spread`. [g/L]"""
        held = np.asarray(1000 * self.liquid.co2 / self.liquid.volume())
        if held.size == 1:
            return float(held[0]), float("nan")
        low, high = ends(held[None, 1:])
        return float(held[0]), float(high[0] - low[0]) / 2


def stage_of(
    liquid: Liquid, name: str, temperature: float | None = None, salts: Stage | None = None, before: Stage | None = None
) -> Stage:
    """A drink, measured: the first of its versions is the best estimate, the others its spread.

    >>> from drinklab.strength import spirit
    >>> stage_of(spirit([60, 58, 62], [40, 40, 40]), "mixed").profile.volume
    60.0
    """
    figures = profile(liquid)
    table = np.array([getattr(figures, f) for f in FIGURES])
    low, high = ends(table[:, 1:]) if table.shape[1] > 1 else (table[:, 0], table[:, 0])
    best, least, most = (Profile(*map(float, column)) for column in (table[:, 0], low, high))
    same = before if before is not None and liquid.is_so_many(before.liquid) else None
    return Stage(name, best, least, most, liquid, temperature, salts, same)


def ends(table: np.ndarray) -> Ends[np.ndarray]:
    """2.5th and 97.5th percentile of each row, by rank: percentiles proper are slower and no truer here."""
    n = table.shape[1]
    low, high = int(0.025 * (n - 1)), int(np.ceil(0.975 * (n - 1)))
    ranked = np.partition(table, [low, high], axis=1)
    return Ends(ranked[:, low], ranked[:, high])
