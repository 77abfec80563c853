"""Every glass that the bottles could pour: many mixes of what was tasted, with their figures as served."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .. import dilution, reach, trial
from ..errors import InputError, Told
from ..facts import Fact
from ..kinds import ABV, Given
from ..learned import by_measure, tool_of
from ..pantry import Ingredient, Pantry
from ..profile import AXES, profile
from ..recipe import Pour, Recipe
from ..setting import Setting
from ..units import to_ml
from ..whatif.versions import dissolves
from .prior import Family, OwnAxis

MIXES = 3000
DASHES = 3.0  # a pour below this is for aroma, and is kept as it is [mL]
_FARTHEST = 3.0  # no glass lies further from the middle of the family than this, or than what was tasted [spreads]
_SHAKE = 0.35  # how far a mix of what was tasted is varied, as the spread of a pour's logarithm
_ROOM = 2.5  # how far amounts of the own axis may move to fit the other figures [mL]

Key = tuple[str, float | None, bool]


@dataclass(frozen=True, slots=True)
class Pourable:
    """Mixes of the bottles: their pours, amounts, shape (mixes, pours) [mL], and place [spreads]."""

    base: Setting
    keys: tuple[Key, ...]
    amounts: np.ndarray
    at: np.ndarray

    def recipe(self, mix: int) -> Recipe:
        """One mix as it was drawn, not yet in measures."""
        pours = (
            Pour(key, float(ml), abv, after)
            for (key, abv, after), ml in zip(self.keys, self.amounts[mix], strict=True)
            if ml > 0
        )
        return replace(self.base.recipe, pours=tuple(pours))


def _amounts(recipe: Recipe) -> dict[Key, float]:
    found: dict[Key, float] = {}
    for pour in recipe.pours:
        key = pour.ingredient, pour.abv, pour.after
        found[key] = found.get(key, 0.0) + pour.amount
    return {key: ml for key, ml in found.items() if ml > 0}


def bottles_of(settings: Sequence[Setting], shelf: Pantry) -> tuple[Ingredient, ...]:
    """Every bottle that is in one of these drinks, once."""
    keys = dict.fromkeys((key, abv) for drink in settings for key, abv, _ in _amounts(drink.recipe))
    return tuple(shelf.bottle(*key) for key in keys)


def pourable(
    base: Setting,
    tasted: Sequence[Setting],
    family: Family,
    shelf: Pantry,
    *,
    own: OwnAxis | None = None,
    bottles: Sequence[Ingredient] | None = None,
    strongest: float | None = None,
    seen: np.ndarray,
    seed: int = 1,
) -> Pourable:
    """Mixes of what was tasted, varied, of the size of `base`, made as that is; never beyond bottles and limit.

    Parameters
    ----------
    base : Setting
        What it is made like: technique, ice, steps.
    tasted : sequence of Setting
        Whose mixes are tried.
    family : Family
    shelf : Pantry
    own : OwnAxis, optional
    bottles : sequence of Ingredient, optional
        On hand; all that were tasted by default.
    strongest : float, optional
        As served. [% vol]
    seen : array
        Where the tasted glasses stand. [spreads]
    seed : int

    Raises
    ------
    InputError
        If nothing can be poured within all of that.
    """
    poured = [_amounts(drink.recipe) for drink in tasted]
    allowed = None if bottles is None else {(one.id, one.abv) for one in bottles}
    keys = tuple(
        key for key in dict.fromkeys(key for drink in (_amounts(base.recipe), *poured) for key in drink)
        if allowed is None or (key[0], shelf.bottle(*key[:2]).abv) in allowed
    )  # fmt: skip
    table = np.array([[drink.get(key, 0.0) for key in keys] for drink in poured]).reshape(len(poured), -1)
    table = table[table.sum(axis=1) > 0]
    first = ~np.array([key[2] for key in keys], bool)
    if not table.size or not table[:, first].any():
        raise InputError("bottles", Told("none of those that were tasted"), "some that were in the glasses")
    size = base.recipe.amounts.sum()
    amounts = _mixes(table, size, seed)
    first_mix = zip(keys, amounts[0], strict=True)
    pours = tuple(Pour(key, float(max(ml, 1e-3)), abv, after) for (key, abv, after), ml in first_mix)
    recipe = replace(base.recipe, pours=pours)
    figures, good = _served(base, recipe, amounts, shelf)
    if own is not None:
        poured_of = by_measure(amounts, tool_of(base.tool, shelf.learned).share)
        figures = np.column_stack([figures[:, :3], own.of([key[0] for key in keys], poured_of, figures[:, 3])])
    else:
        figures = figures[:, :3]
    at = family.place(figures)
    low, high = np.minimum(seen.min(axis=0), -_FARTHEST), np.maximum(seen.max(axis=0), _FARTHEST)
    good &= ((at >= low) & (at <= high)).all(axis=1)
    if not good.any():
        raise InputError("bottles", Told("too few"), "such as pour a drink near those tasted")
    if strongest is not None:
        within = good & (figures[:, 0] <= strongest)
        if not within.any():
            weakest = ABV(float(figures[good, 0].min()))
            raise InputError("strength limit", ABV(strongest), Fact("from the weakest", weakest=weakest))
        good = within
    return Pourable(base, keys, amounts[good], at[good])


def _mixes(table: np.ndarray, size: float, seed: int) -> np.ndarray:
    """Mixes of the drinks tasted, each pour varied, all of one size; the drinks themselves come first."""
    rng = np.random.default_rng(seed)
    mixed = rng.dirichlet(np.full(len(table), 0.7), MIXES - len(table)) @ table
    mixed *= np.exp(_SHAKE * rng.standard_normal(mixed.shape))
    amounts = np.vstack([table, mixed])
    aroma = (table.max(axis=0) < DASHES) & (table.max(axis=0) > 0)
    middle = np.array([np.median(column[column > 0]) if (column > 0).any() else 0.0 for column in table.T])
    amounts[:, aroma] = middle[aroma]
    amounts[amounts < reach.SMALLEST * ~aroma] = 0.0
    total = amounts[:, ~aroma].sum(axis=1, keepdims=True)
    amounts = amounts[total[:, 0] > 0]
    amounts[:, ~aroma] *= (size - amounts[:, aroma].sum(axis=1, keepdims=True)) / total[total[:, 0] > 0]
    return amounts


def _served(base: Setting, recipe: Recipe, amounts: np.ndarray, shelf: Pantry) -> tuple[np.ndarray, np.ndarray]:
    """Strength, sugar and acid of one glass, and the volume as iced, of each mix; and which can be made at all."""
    setting = replace(base, recipe=recipe, beside=(), serves=1, serve_volume=None)
    composition = np.array([bottle.composition for bottle in recipe.bottles(shelf)])
    good = amounts[:, ~recipe.after].sum(axis=1) > 0
    amounts = by_measure(amounts, tool_of(base.tool, shelf.learned).share)
    amounts = np.where(good[:, None], amounts, amounts[0])
    before, top = trial.poured(recipe, amounts, composition)
    good &= dissolves(before)
    if base.ice is None and base.melt is None:
        iced = dilution.iced(before, top, recipe.technique)
        good &= profile(iced).abv <= dilution.RULE_RANGE.high
    melts, _, _ = trial.melted(setting, before, top, known=shelf.learned)
    iced = dilution.add_melt(before, melts)
    volume = (iced if top is None else iced + top).volume()
    made = profile(trial.served(setting, before, top, melts))
    return np.column_stack([*(getattr(made, axis) for axis in AXES), volume]), good


def poured_again(made: trial.Trial, shelf: Pantry, own: OwnAxis | None, times: int, seed: int) -> np.ndarray:
    """Figures of a glass poured again and again by its tool, from the same bottles, shape (times, axes)."""
    recipe = made.recipe
    amounts, _ = trial.drawn(recipe, recipe.bottles(shelf), made.tool, times, seed, shelf.learned)
    poured = replace(made.setting, tool="exact")  # it is measured already
    figures, _ = _served(poured, recipe, amounts, shelf)
    if own is None:
        return figures[1:, :3]
    values = own.of([pour.ingredient for pour in recipe.pours], amounts, figures[:, 3])
    return np.column_stack([figures[:, :3], values])[1:]


def in_measures(
    pours: Pourable, mix: int, shelf: Pantry, *, measure: Given | None = None, strongest: float | None = None,
    own: OwnAxis | None = None, name: str = "",
) -> Recipe:  # fmt: skip
    """A mix as a recipe that a bar pours: through `reach`, of the same bottles, near the same figures and amounts."""
    wanted = pours.recipe(mix)
    base = replace(pours.base, recipe=wanted, steps=(), beside=(), serves=1, serve_volume=None)
    iced = trial.run(base, pantry=shelf, draws=0).made
    room = {axis: reach.TOLERANCE * reach.scales()[axis] for axis in AXES}
    target = {axis: (max(getattr(iced, axis) - room[axis], 0.0), getattr(iced, axis) + room[axis]) for axis in AXES}
    if strongest is not None and not pours.base.steps:
        low, high = target["abv"]
        target["abv"] = min(low, strongest), min(high, strongest)
    target["volume"] = (0.95 * iced.volume, 1.05 * iced.volume)
    step = 0.0 if measure is None else float(to_ml(measure, field="measure"))
    limits: dict[Any, reach.Limit] = {}
    bottles: list[Ingredient] = []
    for pour in wanted.pours:
        bottle = shelf.bottle(pour.ingredient, pour.abv)
        bottles.append(bottle)
        if pour.amount < DASHES:
            limits[bottle] = reach.Limit(pour.amount, pour.amount, pour.amount if step else None)
        elif own is not None and own.weights.get(pour.ingredient):
            near = max(_ROOM, step)
            limits[bottle] = reach.Limit(max(pour.amount - near, 0.0), pour.amount + near)
    late = [bottle for bottle, pour in zip(bottles, wanted.pours, strict=True) if pour.after]
    found = reach.reach(
        target, bottles, limits=limits, measure=measure, technique=wanted.technique, serve=wanted.serve,
        melt=pours.base.melt, ice=pours.base.ice, after=late, near=wanted, count=1, name=name, tool=pours.base.tool,
        pantry=shelf,
    )  # fmt: skip
    return replace(wanted, pours=found[0].recipe.pours, name=name or wanted.name)
