"""From what is asked to recipes: `reach`, `swap`, and the answers measured anew by the forward code."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import dilution
from .. import pantry as _pantry
from ..declared import Declared, of_recipe
from ..errors import InputError, one_of, require
from ..facts import Fact, say
from ..kinds import Given
from ..learned import TOOLS, by_measure, melting, tool_of
from ..pantry import Pantry
from ..profile import Profile, melt_by_rule, profile, served
from ..recipe import Pour, Recipe
from ..recipe import pour as _pour
from ..units import number, single
from .asked import (
    COST,
    FIGURES,
    SMALLEST,
    PerMl,
    all_on_hand,
    amounts_of,
    bands_of,
    limits_of,
    listed,
    melt_share,
    on_hand,
    ratio_of,
    same,
    which,
)
from .reasons import melted, missed, reasons
from .search import few, solved_for
from .sums import HOLD_FIGURES, MET, Candidate, Task

_HOLD_AMOUNTS = 1e-4, 100.0  # the wish to stay near a recipe
# Of searches over own ice: the melt water to start from, the most of them, and when two agree. [mL/mL]
_START, _ROUNDS, _AGREED = 0.3, 8, 1e-7


@dataclass(frozen=True, slots=True)
class Answer:
    """Amounts found for a target, measured by the forward code.

    Attributes
    ----------
    recipe : Recipe
    figures : Profile
        As served, or before ice where the melt was set to 0.
    melt : float
        Melt water as a share of the volume before ice; with own ice, what that gives this answer. [mL/mL]
    met : dict
        For each wanted figure, whether it lies in its band.
    distance : float
        0 where all are met; 1 is the usual difference between two classics (see `reach`).
    said : tuple of Fact
        Why what is not met is not; `reasons` are the sentences, in mL.
    declared : Declared
        Cautions and allergens of its bottles.
    held : float or None
        The melt water that all amounts were searched with, where one share was held. [mL/mL]
    cost : float or None
        Of its pours, where prices were given. [money]
    """

    recipe: Recipe
    figures: Profile
    melt: float
    met: dict[str, bool]
    distance: float
    said: tuple[Fact, ...] = ()
    declared: Declared = field(kw_only=True)
    held: float | None = None
    cost: float | None = None

    def value(self, axis: str) -> float | None:
        """A figure that was wanted: one of `figures`, or the cost, None where none was asked for."""
        return self.cost if axis == COST else getattr(self.figures, axis)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why what is not met is not, in sentences."""
        return tuple(map(say, self.said))


def reach(
    target: Mapping[str, Any],
    ingredients: Sequence[Any],
    *,
    limits: Mapping[str, Any] | None = None,
    ratios: Iterable[Any] = (),
    measure: Given | None = None,
    tolerance: Mapping[str, Any] | None = None,
    technique: str = "stirred",
    serve: str = "up",
    melt: Given | None = None,
    ice: dilution.OwnIce | None = None,
    after: Iterable[Any] = (),
    near: Recipe | None = None,
    count: int = 5,
    name: str = "to the target",
    prices: PerMl | None = None,
    tool: str = "jigger",
    pantry: Pantry | None = None,
) -> tuple[Answer, ...]:
    """Amounts of the bottles on hand that come nearest to wanted figures.

    Parameters
    ----------
    target : mapping
        Any of "abv" [% vol], "sugar" [g/L], "acid" [g/L] and "volume" [mL], each a number or a band
        (low, high), and "cost" [money], the most that the pours may cost together, or a band. Without a
        volume the pours add up to a usual drink, `SIZE` (more where the limits ask for it); with one, to at most twice
        as much.
    ingredients : sequence of str, Ingredient or (either, strength)
        Names or ids in the pantry ("aged rum, 50 %"), at most 30.
    limits : mapping, optional
        By bottle, a `Limit` or (least, most); None for no limit. [mL]
    ratios : iterable of (bottle, other, times), optional
        Always so many times as much of the first as of the second. [mL/mL]
    measure : amount, optional
        Everything is poured in multiples of this ("0.25 oz", 5). [mL]
    tolerance : mapping, optional
        For figures wanted as a number, how far off still counts as met; `TOLERANCE` of the scale by default.
    technique, serve : str
        As for a `Recipe`; with the rule for its melt water.
    melt : float, optional
        Fixed melt water as a share of the volume before ice, in place of the rule; 0 makes the
        figures those of the drink before ice. [mL/mL]
    ice : dilution.OwnIce, optional
        Your own ice and time, in place of the rule. The search holds one share of melt water, which is set anew to
        that of the best answer until both agree; each answer is then judged by what the ice gives it.
    after : iterable, optional
        Those of the bottles that come after the ice: a top of soda water.
    near : Recipe, optional
        Of all amounts that meet the target, those nearest to this recipe's: of one's own, say. Its bottles
        must be among `ingredients`.
    count : int
        Most answers to give, 1 to 50.
    name : str
        Of the recipes.
    prices : PerMl, optional
        What the bottles cost; needed for a wanted cost, of each of them.
    tool : str
        A key of `setting.TOOLS`. Where the pantry knows that this bar's pours another share of its mark, amounts are
        those to pour by its marks, and figures those of what it then pours; limits, ratios and cost go by the marks.
    pantry : Pantry, optional

    Returns
    -------
    tuple of Answer
        Nearest first, then fewest bottles, then nearest to the middle of the bands (with `near`, nearest
        first, then nearest to that recipe); no two of the same bottles. The best of each smaller number of
        bottles is among them as far as `count` allows.

    Raises
    ------
    InputError
        For a target, bottles or limits that make no sense, or that contradict each other.

    Notes
    -----
    Figures are of the served drink at 20 °C, melt water included. Distance = root of the mean of
    ((what a figure lies outside its band) / scale)² over the wanted figures, with `scales`; of a cost, a tenth of the
    most that it may be.
    Freely poured amounts: for each set of bottles, Gauss-Newton steps on the forward code inside a
    logarithmic barrier, all sets at once. Measures: every combination while there are fewer than
    120 000 (so none is nearer), beyond that a search of neighbouring combinations and, where that leaves a
    figure unmet, an integer programme (HiGHS) over all of them, linearised where the search ended. Reasons: the
    unmet figure is driven as far as the limits and the other figures let it (linear programmes by HiGHS, linearised
    anew for contraction and melt until they agree), and the limit with the largest price is named.

    Examples
    --------
    >>> sour = {"abv": 18, "sugar": (70, 80), "acid": (7, 8), "volume": "4 oz"}
    >>> best = reach(sour, ["aged rum, 50 %", "lemon juice", "honey syrup", "water"], technique="shaken")[0]
    >>> best.distance, best.met["sugar"]
    (0.0, True)
    >>> dry = {"sugar": 40, "volume": 100}
    >>> best = reach(dry, ["honey syrup", "gin"], limits={"honey syrup": (20, None)}, melt=0)[0]
    >>> print(*best.reasons)
    Sugar can't fall below 113 g/L with the volume as wanted: at least 20 mL of honey syrup is asked for.
    """
    shelf = pantry if pantry is not None else _pantry.load()
    asked = single(number(count, "number of answers"), "number of answers")
    require("number of answers", asked, 1, 50)
    task = task_of(
        target, ingredients, limits=limits, ratios=ratios, measure=measure, tolerance=tolerance, technique=technique,
        serve=serve, ice=ice, after=after, near=near, prices=prices, tool=tool, pantry=shelf,
    )  # fmt: skip

    def solve(share: Given | None) -> tuple[Answer, ...]:
        found = task(share)
        return answers_of(found, few(found, solved_for(found), int(asked)), shelf, name)

    return _settled(solve, melt, ice)


def task_of(
    target: Mapping[str, Any],
    ingredients: Sequence[Any],
    *,
    limits: Mapping[str, Any] | None = None,
    ratios: Iterable[Any] = (),
    measure: Given | None = None,
    tolerance: Mapping[str, Any] | None = None,
    technique: str = "stirred",
    serve: str = "up",
    ice: dilution.OwnIce | None = None,
    after: Iterable[Any] = (),
    near: Recipe | None = None,
    prices: PerMl | None = None,
    tool: str = "jigger",
    pantry: Pantry,
) -> Callable[[Given | None], Task]:
    """What is asked of `reach`, checked: the task for a share of melt water that is set, or for the rule."""
    bottles = all_on_hand(ingredients, pantry)
    late = {which(bottles, item, pantry, "bottle after the ice") for item in listed(after)}
    given = (
        bottles,
        np.array([i in late for i in range(len(bottles))]),
        bands_of(target, tolerance or {}),
        limits_of(limits or {}, bottles, pantry, measure),
        [
            (which(bottles, a, pantry, "bottle of a ratio"), which(bottles, b, pantry, "bottle of a ratio"), times)
            for a, b, times in (ratio_of(ratio) for ratio in ratios)
        ],
        technique, serve,
    )  # fmt: skip
    mine = None if near is None else amounts_of(near, bottles, pantry)
    own = _pours(tool, pantry), melting(technique, pantry.learned).share
    return lambda share: Task(*given, share, mine, _HOLD_AMOUNTS, ice, prices, *own)


def _pours(tool: str, shelf: Pantry) -> float:
    """What share of its mark this bar's measure pours."""
    one_of("tool", tool, TOOLS)
    return tool_of(tool, shelf.learned).share


def _poured(recipe: Recipe, pours: float) -> Recipe:
    """What a measure that pours such a share of its mark makes of a recipe."""
    if pours == 1:
        return recipe
    made = (replace(p, amount=float(by_measure(p.amount, pours))) for p in recipe.pours)
    return replace(recipe, pours=tuple(made))


def swap(
    recipe: Recipe,
    old: Any,
    new: Any,
    *,
    add: Iterable[Any] = (),
    limits: Mapping[str, Any] | None = None,
    measure: Given | None = None,
    melt: Given | None = None,
    ice: dilution.OwnIce | None = None,
    tool: str = "jigger",
    pantry: Pantry | None = None,
) -> Answer:
    """One bottle for another, and all amounts set anew so that the drink stays what it was.

    Strength, sugar, acid and volume as served are held as well as the bottles allow; where many
    amounts would do, those nearest to the old ones are taken. Every other pour stays in.

    Parameters
    ----------
    recipe : Recipe
    old : str
        A bottle of the recipe.
    new : str, Ingredient or (either, strength)
        The one in its place.
    add : iterable, optional
        Bottles that may be added to make up the difference: water, sugar syrup.
    limits, measure, melt, ice, tool, pantry
        As for `reach`.

    Returns
    -------
    Answer

    Raises
    ------
    InputError
        If `old` is not in the recipe, and as `reach`.

    Examples
    --------
    >>> old = Recipe.parse("60 mL aged rum, 40 %\\n20 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
    >>> stronger = swap(old, "aged rum, 40 %", "aged rum, 50 %", add=["water"])
    >>> stronger.distance, [round(p.amount) for p in stronger.recipe.pours]
    (0.0, [48, 20, 20, 12])
    """
    shelf = pantry if pantry is not None else _pantry.load()
    there = list(recipe.bottles(shelf))
    gone = which(there, old, shelf, "bottle to swap")
    fresh = on_hand(new, shelf)
    bottles, near = [], recipe.amounts.copy()
    for i, item in enumerate(there):
        swapped = same(item, there[gone])
        bottles.append(fresh if swapped else item)
        if swapped and item.abv > 0 and fresh.abv > 0:
            near[i] *= item.abv / fresh.abv  # as much alcohol as before
    extra = [on_hand(item, shelf) for item in listed(add)]
    for item in extra:
        if any(same(item, b) for b in bottles):
            raise InputError("bottle to add", item.name, "one that is not in the recipe yet")
    late = np.array([*recipe.after, *(False for _ in extra)])
    pours = _pours(tool, shelf)
    made = _poured(recipe, pours)
    was = _over_ice(made, ice, shelf) if ice is not None and melt is None else melt
    held = profile(served([made], shelf, None if was is None else np.array([melt_share(was)])))[0]
    target = {axis: getattr(held, axis) for axis in FIGURES}
    bounds = limits_of(limits or {}, [*bottles, *extra], shelf, measure)
    for i, amount in enumerate(recipe.amounts):
        least, most, step = bounds[i]
        bounds[i] = (max(least, min(step or SMALLEST, amount, most)), most, step)
    near = np.append(near, np.zeros(len(extra)))

    def solve(share: Given | None) -> tuple[Answer, ...]:
        way = recipe.technique, recipe.serve
        every, bands = [*bottles, *extra], bands_of(target, {})
        task = Task(every, late, bands, bounds, [], *way, share, near, HOLD_FIGURES, ice, pours=pours)
        return answers_of(task, few(task, solved_for(task), 1), shelf, recipe.name, recipe)

    return _settled(solve, melt, ice)[0]


def _over_ice(recipe: Recipe, ice: dilution.OwnIce, shelf: Pantry) -> float:
    """Melt water of a recipe over own ice, as `trial.run` finds it, as a share of the volume before ice. [mL/mL]"""
    before, after = (part[0] for part in _pour([recipe], shelf))
    iced = dilution.iced(before, after if after.mass > 0 else None, recipe.technique)
    return float(ice.chill(iced, recipe.technique).dilution * iced.volume() / before.volume())


def _settled(
    solve: Callable[[Given | None], tuple[Answer, ...]], melt: Given | None, ice: dilution.OwnIce | None
) -> tuple[Answer, ...]:
    """The answers; over own ice, of searches with one share of melt water each, those of the nearest."""
    if ice is None:
        return solve(melt)
    if melt is not None:
        raise InputError("melt water", melt, "left out when your own ice is given")
    share, best = _START, tuple[Answer, ...]()
    for _ in range(_ROUNDS):
        found = solve(share)
        if not best or (found[0].distance, len(found[0].recipe.pours)) < (
            best[0].distance,
            len(best[0].recipe.pours),
        ):
            best = found
        # Measures come in steps, so that two shares can lead to each other: the nearer stands.
        own, share = share, found[0].melt
        if abs(own - share) < _AGREED:
            best = found if found[0].distance <= best[0].distance else best
            break
    return best


def answers_of(
    task: Task,
    candidates: list[Candidate],
    shelf: Pantry,
    name: str,
    like: Recipe | None = None,
    told: bool = True,
) -> tuple[Answer, ...]:
    """The candidates as recipes, measured anew by the code that any recipe goes through; `told` with its reasons."""
    recipes = []
    for c in candidates:
        pours = tuple(
            Pour(b.id, float(a), shelf.label(b)[1], bool(late))
            for b, a, late in zip(task.bottles, task.amounts(c.groups), task.late, strict=True)
            if a > 0
        )
        recipes.append(replace(like, pours=pours) if like else Recipe(name, pours, task.technique, task.serve))
    made = [_poured(recipe, task.pours) for recipe in recipes]
    melt: np.ndarray | None
    if task.ice is not None:
        melt = np.array([_over_ice(recipe, task.ice, shelf) for recipe in made])
    else:
        melt = None if task.fixed is None else np.full(len(made), task.fixed)
    shares = task.melts * melt_by_rule(made, *_pour(made, shelf)) if melt is None else melt
    figures = profile(served(made, shelf, shares))
    out = []
    for i, (c, recipe) in enumerate(zip(candidates, recipes, strict=True)):
        cost = None
        if COST in task.axes:
            cost = float(task.amounts(c.groups) @ task.per_ml)
        wanted = np.array([cost if a == COST else getattr(figures, a)[i] for a in task.axes])
        miss = (wanted - np.clip(wanted, task.low, task.high)) / task.scale
        miss[np.abs(miss) < MET] = 0.0
        distance = float(np.sqrt(np.mean(miss**2)))
        if task.ice is None and abs(distance - c.distance) > 1e-5:
            raise ArithmeticError("the forward code does not confirm the amounts found; please report them")
        why: tuple[Fact, ...] = ()
        if distance and task.ice is not None and c.distance == 0:
            why = (melted(task, miss, wanted, float(shares[i])),)
        elif distance and told:
            why = (missed(task, miss, wanted, c),) if i else reasons(task.at(c.groups), c, miss)
        met = dict(zip(task.axes, (miss == 0).tolist(), strict=True))
        said = of_recipe(recipe, shelf)
        held = None if task.ice is None else task.fixed
        out.append(
            Answer(recipe, figures[i], float(shares[i]), met, distance, why, declared=said, held=held, cost=cost)
        )
    if task.ice is not None:  # the first stays first, for the search to go on from
        out[1:] = sorted(out[1:], key=lambda answer: (answer.distance, len(answer.recipe.pours)))
    return tuple(out)
