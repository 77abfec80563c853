"""What moves a drink most, one thing at a time."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np

from .. import classics as _classics
from .. import trial
from ..classics import Classics
from ..errors import InputError
from ..facts import Fact
from ..ingredient import composition_of
from ..kinds import MASS, VOLUME, Given, Kind
from ..learned import tool_of
from ..pantry import Ingredient, Pantry
from ..profile import AXES, KINDS, WORDS, scales
from ..recipe import SPOONED, Pour, Recipe
from ..setting import Setting, as_setting
from ..units import to_ml
from .versions import FRUIT, MOVED, ROW, compositions_of, dissolves, served_figures, shelf_of

BY_THE_DASH = 3.0  # what goes in by less is dashed or dropped, not measured [mL]
OF_THE_DRINK = Kind("of the drink before ice", "dimensionless")


@dataclass(frozen=True, slots=True)
class Effect:
    """What one step of one thing does to the drink as served.

    Attributes
    ----------
    source : {"pour", "bottle", "fruit", "melt water"}
    name : str
        The ingredient, "acid of lemon juice", or "melt water".
    step : float
        How much more and less, in `unit`.
    unit : str
    more, less : dict
        Change of strength [% vol], sugar and acid [g/L] and volume [mL]; `less` is None where there is
        less than one step to take away, and `notes` say so.
    distance : float
        How far the drink moves among the classics, the larger of the two ways; 1 is the usual difference
        between two classics (`profile.scales`).
    notes : tuple of Fact
        What to know of it, if anything.
    """

    source: str
    name: str
    step: float
    unit: str
    more: dict[str, float]
    less: dict[str, float] | None
    distance: float
    notes: tuple[Fact, ...] = ()


def sensitivity(
    drink: Recipe | Setting,
    measure: Given = "0.25 oz",
    *,
    pantry: Pantry | None = None,
    classics: Classics | None = None,
    **changes: Any,
) -> tuple[Effect, ...]:
    """What moves the drink most, one thing at a time, largest first.

    Each pour by one measure more and less; the strength, sugar and acid of each bottle, and of the fruit,
    by one standard deviation (the pantry's ±); the melt water by one of its own (half of
    `dilution.MELT_SPREAD`, or of what a scale is good for where it is set by hand). The rule, or the setting's own
    ice, gives each version the melt water of its own strength.

    Parameters
    ----------
    drink : Recipe or Setting
    pantry : Pantry, optional
    measure : amount
        One bar measure: "0.25 oz", 5, "1 barspoon"; of a dry solid, as it lies in the spoon. Above 0, at most the
        whole drink. Below `BY_THE_DASH` a pour moves by all of itself. [mL]
    classics : Classics, optional
        Whose spread the distance is counted in.
    **changes
        Fields of `Setting` that are other than the drink's, such as melt.

    Returns
    -------
    tuple of Effect

    Raises
    ------
    InputError
        For a measure out of range, and as `trial.run`.

    Notes
    -----
    Distance = root of the mean of ((change / scale)²) over strength, sugar and acid, as in `profile.place`.

    Examples
    --------
    >>> stirred = Recipe.parse("60 mL rye whiskey\\n30 mL sweet red vermouth\\n2 dash aromatic bitters")
    >>> [(e.name, round(e.distance, 2)) for e in sensitivity(stirred, measure="1 barspoon")[:2]]
    [('strength of rye whiskey', 0.29), ('sugar of sweet red vermouth', 0.27)]
    """
    shelf, known = shelf_of(pantry), classics if classics is not None else _classics.load()
    setting = trial.knowing(as_setting(drink, **changes), shelf)
    recipe = setting.recipe
    bottles = recipe.bottles(shelf)
    one = to_ml(measure, field="measure")
    if not (isinstance(one, float) and 0 < one <= recipe.volume):
        told = Fact("so much", amount=VOLUME(np.max(one)))
        raise InputError("measure", told, Fact("up to the whole drink", most=VOLUME(recipe.volume)))

    # (source, name, step, its kind, room to take one away, what it changes)
    before_ice = recipe.amounts[~recipe.after].sum()
    steps_of = [_one_step(one, p.amount, b) for p, b in zip(recipe.pours, bottles, strict=True)]
    tried: list[tuple[str, str, float, Kind, bool, Any]] = [
        ("pour", bottle.name, *_in_its_unit(step, bottle), _can_lose(pour, step, before_ice), i)
        for i, (pour, bottle, step) in enumerate(zip(recipe.pours, bottles, steps_of, strict=True))
    ]
    for bottle in dict.fromkeys(bottles):
        same = [b is bottle for b in bottles]
        source = "fruit" if bottle.kind == FRUIT else "bottle"
        for figure, step, room, held in _stepped(bottle):
            tried.append((source, f"{WORDS[figure]} of {bottle.name}", step, KINDS[figure], room, (same, held)))
    # the drink as it is, then two sides of each, then of the melt water
    count = len(tried)
    amounts = np.tile(recipe.amounts, (2, count + 2, 1))
    compositions = np.tile(compositions_of(bottles), (2, count + 2, 1, 1))
    for k, (*_, room, change) in enumerate(tried, start=1):
        if isinstance(change, int):
            amounts[:, k, change] += [steps_of[change], -steps_of[change] if room else 0.0]
        else:
            same, held = change
            compositions[:, k, same] = held[:, None]
    amounts, sides = trial.by_measure(amounts, tool_of(setting.tool, shelf.learned)[0]), (2, count + 2)
    before, top = trial.poured(recipe, *(a.reshape(-1, *a.shape[2:]) for a in (amounts, compositions)))
    trial.check_dissolved(before[0], recipe)
    melts, pm, _ = trial.melted(setting, before, top, exact=True, known=shelf.learned)
    melts = np.array(melts).reshape(sides)
    here = melts[0, 0]
    if here > 0:
        melts[:, -1] += [pm / 2, -pm / 2]
        tried.append(("melt water", "melt water", pm / 2, OF_THE_DRINK, True, None))
    table = served_figures(setting, before, top, melts.ravel()).reshape(-1, *sides)
    moves = {f: table[ROW[f]] - table[ROW[f]][0, 0] for f in MOVED}
    dissolved = dissolves(before).reshape(sides)[0]
    moved = np.sqrt(sum((moves[a] / s) ** 2 for a, s in scales(known).items()) / len(AXES)).max(axis=0)

    effects = []
    for k, (source, name, step, kind, room, _) in enumerate(tried, start=1):
        more, less = ({f: float(c[side, k]) for f, c in moves.items()} for side in (0, 1))
        notes: tuple[Fact, ...] = () if room else (Fact("only more was tried", name=name, step=kind(step)),)
        if not dissolved[k]:
            notes += (Fact("one step more stays solid", name=name),)
        down = less if room else None
        effects.append(Effect(source, name, float(step), kind.label, more, down, float(moved[k]), notes))
    return tuple(sorted(effects, key=lambda e: -e.distance))


def _one_step(measure: float, amount: float, bottle: Ingredient) -> float:
    """One measure of this bottle, or all of it where it goes in by the dash. [mL], of a solid as dissolved"""
    step = measure * SPOONED / bottle.density if bottle.state == "solid" else measure
    return amount if 0 < amount < min(step, BY_THE_DASH) else step


def _in_its_unit(step: float, bottle: Ingredient) -> tuple[float, Kind]:
    return (step * bottle.density, MASS) if bottle.state == "solid" else (step, VOLUME)


def _can_lose(pour: Pour, measure: float, before_ice: float) -> bool:
    """Whether a measure less leaves the pour at zero or more, and something to put on the ice."""
    return pour.amount >= measure and (pour.after or before_ice > measure)


@functools.lru_cache(maxsize=256)
def _stepped(bottle: Ingredient) -> list[tuple[str, float, bool, np.ndarray]]:
    """(figure, step, room for less, compositions more and less) of what is uncertain in a bottle."""
    out = []
    for figure in AXES:
        value, step = getattr(bottle, figure), getattr(bottle, f"{figure}_pm")
        if step > 0:
            each = {f: np.full(2, getattr(bottle, f)) for f in AXES}
            each[figure] = np.array([value + step, max(value - step, 0.0)])
            out.append((figure, step, value >= step, composition_of(bottle, *each.values())))
    return out
