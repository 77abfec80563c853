"""One drink in many versions: served, kept inside a band, worked on in blocks that fit the processor's cache."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from .. import classics as _classics
from .. import pantry as _pantry
from .. import steps, trial
from ..classics import Classics
from ..errors import InputError, Told, one_of, require
from ..kinds import Ends, Number
from ..liquid import Liquid
from ..pantry import Ingredient, Pantry
from ..profile import AXES, FIGURES, KINDS, profile, reference
from ..recipe import Recipe
from ..setting import Setting
from ..steps import Draw
from ..units import number

MOVED = ("abv", "sugar", "acid", "volume")  # the figures that a change is told in
FRUIT = "juice"  # the kind of ingredient that varies from fruit to fruit, not from maker to maker
LEAST_DRAWS, MOST_DRAWS = 100, 1_000_000  # with fewer, an end of 19 in 20 would rest on one or two drinks
NO_FAMILY = "other"  # what is left over is no family
LEAST_FAMILY = 5  # drinks; percentiles of fewer say nothing
_BLOCK = 4096  # versions worked on at once: small enough to stay in the processor's cache
ROW = {figure: row for row, figure in enumerate(FIGURES)}


def counted(draws: Any, seed: Any) -> int:
    """How many draws, checked."""
    for name, value, low, high in (("draws", draws, LEAST_DRAWS, MOST_DRAWS), ("seed", seed, 0, 2**63 - 1)):
        if not isinstance(value, (int, np.integer)) or isinstance(value, bool) or not low <= value <= high:
            raise InputError(name, value, f"a whole number, {low} to {high}")
    return int(draws)


def served_figures(
    setting: Setting, before: Liquid, top: Liquid | None, melts: np.ndarray, draw: Draw = steps.estimate
) -> np.ndarray:
    """The figures of one glass as served, shape (len(FIGURES), versions)."""
    figures = profile(trial.served(setting, before, top, melts, draw))
    return np.array([getattr(figures, f) for f in FIGURES])


def dissolves(before: Liquid) -> np.ndarray:
    """Whether the sugar dissolves before the ice: the limit that `trial.run` refuses beyond."""
    return np.asarray(before.sucrose <= _pantry.MOST_SUCROSE * (before.sucrose + before.water))


def blocks(count: int) -> Iterator[tuple[slice, np.ndarray]]:
    """Where a block's answers go, and its versions: the drink as written, which the steps go by, before each."""
    for start in range(0, count, _BLOCK):
        part = slice(start, min(start + _BLOCK, count))
        yield part, np.r_[0, part]


def band(family: str | None = None, *, classics: Classics | None = None) -> dict[str, tuple[float, float]]:
    """The 10th and 90th percentile of strength, sugar and acid, of a family or of all the classics.

    Raises
    ------
    InputError
        For a family that the classics do not have.

    Examples
    --------
    >>> band(family="sour")["abv"]
    (13.1, 20.5)
    """
    known = classics if classics is not None else _classics.load()
    chosen = np.ones(len(known), bool)
    if family is not None:
        chosen = np.array(known.families) == one_of("family", family, sorted(set(known.families)))
    figures = reference(known)
    return {a: tuple(np.percentile(getattr(figures, a)[chosen], [10, 90]).tolist()) for a in AXES}


def limits_of(
    limits: Mapping[str, Any] | None, recipe: Recipe, classics: Classics | None
) -> dict[str, tuple[float, float]]:
    """What counts as in order: as given, or the band of the recipe's family, or of all the classics."""
    if limits is None:
        known = classics if classics is not None else _classics.load()
        of_use = recipe.family != NO_FAMILY and known.families.count(recipe.family) >= LEAST_FAMILY
        return band(recipe.family if of_use else None, classics=known)
    out: dict[str, tuple[float, float]] = {}
    for figure, ends in limits.items():
        name = f"band of {one_of('figure of the band', figure, FIGURES)}"
        require(name, low_high := rising(name, ends), 0, np.inf, KINDS[figure].label)
        out[figure] = low_high
    if not out:
        raise InputError("band", "", "limits for at least one figure")
    return out


def rising(name: str, ends: object, read: Callable[[Any, str], Number] = number) -> Ends[float]:
    """A pair that rises."""
    pair = tuple(ends) if isinstance(ends, (tuple, list, np.ndarray)) else ()
    if len(pair) != 2:
        raise InputError(name, ends, "two numbers, low and high")
    low, high = (read(end, name) for end in pair)
    if not isinstance(low, float) or not isinstance(high, float) or low >= high:
        raise InputError(name, Told(f"{pair[0]} to {pair[1]}"), "two numbers, the second larger than the first")
    return Ends(low, high)


def inside_of(table: np.ndarray, limits: Mapping[str, tuple[float, float]]) -> np.ndarray:
    """Which versions are inside each of the limits, shape (limits, *axes)."""
    return np.array([(table[ROW[f]] >= low) & (table[ROW[f]] <= high) for f, (low, high) in limits.items()])


def shelf_of(pantry: Pantry | None) -> Pantry:
    """The pantry given, or the usual one."""
    return pantry if pantry is not None else _pantry.load()


def compositions_of(bottles: Sequence[Ingredient]) -> np.ndarray:
    """Grams of each component in a millilitre, shape (bottles, components)."""
    return np.array([bottle.composition for bottle in bottles])
