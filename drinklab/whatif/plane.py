"""A drink over a plane of two of its amounts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import trial
from ..classics import Classics
from ..declared import Declared, brought, declared
from ..errors import InputError
from ..facts import Fact
from ..kinds import VOLUME, Given
from ..learned import tool_of
from ..pantry import Ingredient, Pantry
from ..profile import FIGURES, Profile
from ..recipe import Recipe
from ..setting import Setting, as_setting
from ..units import to_ml
from .versions import blocks, compositions_of, dissolves, inside_of, limits_of, rising, served_figures, shelf_of


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """A drink over a grid of two amounts.

    Attributes
    ----------
    first, second : str
        Names of the two ingredients.
    first_amounts, second_amounts : array
        The axes. [mL]
    profile : Profile
        As served; each figure an array of shape (second, first), rows going with `second`.
    band : dict
        The limits that `inside` is held against.
    inside : array of bool
        Inside all of them.
    dissolved : array of bool
        Whether the sugar dissolves before the ice; where it does not, the drink cannot be made.
    declared : Declared
        Cautions and allergens of the whole drink, with all its bottles in it.
    """

    first: str
    second: str
    first_amounts: np.ndarray
    second_amounts: np.ndarray
    profile: Profile = field(repr=False)
    band: dict[str, tuple[float, float]]
    inside: np.ndarray = field(repr=False)
    dissolved: np.ndarray = field(repr=False)
    declared: Declared = field(repr=False)


Range = tuple[Given, Given]  # from and to


def sweep(
    drink: Recipe | Setting,
    first: str | int,
    second: str | int,
    first_range: Range | None = None,
    second_range: Range | None = None,
    *,
    pantry: Pantry | None = None,
    points: int = 200,
    limits: Mapping[str, tuple[float, float]] | None = None,
    classics: Classics | None = None,
    **changes: Any,
) -> Sweep:
    """The drink as served over a grid of two of its amounts, each version with the melt water of its strength.

    Parameters
    ----------
    drink : Recipe or Setting
    first, second : str or int
        Two pours, by name or by place in `recipe.pours` (from 0).
    first_range, second_range : (amount, amount), optional
        From and to; by default half to one and a half times the recipe's. [mL]
    points : int
        On each axis, 2 to 1000.
    limits : mapping of figure to (low, high), optional
        What `inside` is held against, in the figures' own units; by default `band` of the recipe's family, or of
        all the classics if it names none or one of fewer than five drinks.
    **changes
        Fields of `Setting` that are other than the drink's, such as melt.

    Returns
    -------
    Sweep

    Raises
    ------
    InputError
        For a pour that the recipe does not have, the same pour twice, a range that does not rise, an amount
        below zero, a corner of the grid that holds nothing or is too strong for the melt rule.

    Examples
    --------
    >>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
    >>> grid = sweep(sour, "lemon juice", "honey syrup", points=5)
    >>> grid.first_amounts.tolist(), grid.profile.acid[2].round(1).tolist()
    ([10.0, 15.0, 20.0, 25.0, 30.0], [4.2, 6.0, 7.6, 9.0, 10.4])
    """
    shelf = shelf_of(pantry)
    setting = trial.knowing(as_setting(drink, **changes), shelf)
    recipe = setting.recipe
    bottles, limits = recipe.bottles(shelf), limits_of(limits, recipe, classics)
    if not isinstance(points, (int, np.integer)) or not 2 <= points <= 1000:
        raise InputError("points", points, "a whole number, 2 to 1000")
    i, j = (
        _find(recipe, bottles, shelf, name, f"{axis} axis") for axis, name in (("first", first), ("second", second))
    )
    if i == j:
        raise InputError("second axis", bottles[j].name, "another pour than the first axis")
    x, y = (_ticks(recipe, bottles, *axis, points) for axis in ((i, first_range), (j, second_range)))

    amounts = np.empty((points, points, len(bottles)))
    amounts[:] = recipe.amounts
    amounts[..., i] = x
    amounts[..., j] = y[:, None]
    versions = amounts.reshape(points**2, -1)
    if versions[0, ~recipe.after].sum() <= 0:
        allowed = Fact("above, let a range start higher", low=VOLUME(0))
        raise InputError("total before the top, in a corner of the grid", VOLUME(0), allowed)
    share = tool_of(setting.tool, shelf.learned)[0]
    versions = trial.by_measure(np.concatenate([recipe.amounts[None], versions]), share)
    table, dissolved = np.empty((len(FIGURES), 1 + points**2)), np.empty(1 + points**2, bool)
    composition = compositions_of(bottles)
    for part, of in blocks(1 + points**2):
        before, top = trial.poured(recipe, versions[of], composition)
        melts, _, _ = trial.melted(setting, before, top, exact=True, known=shelf.learned)
        table[:, part] = served_figures(setting, before, top, melts)[:, 1:]
        dissolved[part] = dissolves(before)[1:]
    table, dissolved = table[:, 1:], dissolved[1:]
    grid = (points, points)
    all_in = [(bottle, pour.after) for bottle, pour in zip(bottles, recipe.pours, strict=True)]
    return Sweep(
        first=bottles[i].name,
        second=bottles[j].name,
        first_amounts=x,
        second_amounts=y,
        profile=Profile(*table.reshape(-1, *grid)),
        band=limits,
        inside=inside_of(table, limits).all(axis=0).reshape(grid),
        dissolved=dissolved.reshape(grid),
        declared=declared(*setting.brings(shelf), *brought(recipe, shelf, all_in)),
    )


def _find(recipe: Recipe, bottles: Sequence[Ingredient], shelf: Pantry, name: str | int, axis: str) -> int:
    """Which pour is meant."""
    listed = ", ".join(b.name for b in bottles)
    if isinstance(name, (int, np.integer)) and not isinstance(name, bool):
        if not 0 <= name < len(bottles):
            raise InputError(axis, name, f"0 to {len(bottles) - 1}, a place among {listed}")
        return int(name)
    try:
        wanted = shelf.find(str(name)).id
    except InputError:
        wanted = None
    found = [k for k, b in enumerate(bottles) if b.name == name or b.id == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError(axis, name, f"its place in the recipe, since it is poured more than once: {found}")
    raise InputError(axis, name, f"one of the pours: {listed}")


def _ticks(recipe: Recipe, bottles: Sequence[Ingredient], at: int, ends: Range | None, points: int) -> np.ndarray:
    pour, density = recipe.pours[at], bottles[at].density
    if ends is None:
        ends = (0.5 * pour.amount, 1.5 * pour.amount)
    low, high = rising(f"range of {bottles[at].name!r}", ends, lambda end, name: to_ml(end, density, name))
    return np.linspace(low, high, points)
