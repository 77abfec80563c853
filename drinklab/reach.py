"""From a wanted strength, sugar, acid and volume to amounts of the bottles on hand; one bottle for another.

>>> answers = reach({"abv": 20, "volume": 120}, ["aged rum, 40 %", "water"], melt=0)
>>> print(answers[0].recipe.text())
60 mL aged rum, 40 %
60.055 mL water
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import comb

import numpy as np

from . import classics, dilution
from . import pantry as _pantry
from .declared import Declared, of_recipe
from .display import Display
from .errors import InputError, Told, one_of, require
from .kinds import RATIO
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .physics import density as _density
from .profile import KINDS, WORDS, Profile, melt_by_rule, profile, reference, served
from .profile import scales as _scales
from .recipe import Pour, Recipe
from .recipe import pour as _pour
from .units import BAR_MEASURES, number, read, to_ml

FIGURES = ("abv", "sugar", "acid", "volume")
# A wanted figure without a tolerance is met within this share of its scale: nearer than a jigger pours.
TOLERANCE = 0.1
# Without a wanted volume the pours add up to a usual drink: the median of the classics is 90 mL. [mL]
SIZE = (60.0, 120.0)
SMALLEST = BAR_MEASURES["dash"]  # what is poured freely is poured at least so much, or not at all [mL]
FINE = 0.1  # steps of a bottle poured freely beside others that are measured [mL]
_ROWS = 120_000  # combinations of measures looked at one and all, before neighbourhoods are searched instead
_BLOCK = 250_000  # numbers in a matrix product, so few that it stays on one core and in its cache
# Among amounts that meet the bands: weight of the bands' middles, and of amounts to stay near to, if any.
_HOLD_FIGURES = 1.0, 1e-3  # a swap: the drink stays what it was
_HOLD_AMOUNTS = 1e-4, 100.0  # the wish to stay near a recipe
_PROGRAMMES, _NODES = 4, 4_000  # of integer programmes, most and most nodes of each
_SETS = 8_000  # sets of bottles that are tried one and all
_STEPS, _FALL = 26, 0.3  # of the barrier: 0.1 x 0.3^26 is as good as none
_LEFT = 1e-9  # what rounding leaves of a total
_MET = 1e-6  # figures so little outside their bands, in their scales, count as inside
# Of searches over own ice: the melt water to start from, the most of them, and when two agree. [mL/mL]
_START, _ROUNDS, _AGREED = 0.3, 8, 1e-7
_PURE = float(_density.ethanol()) / 100_000  # grams of ethanol in 1 % vol of a millilitre
_WATER = float(_density.ethanol_water(0.0)) / 1000  # g/mL
_RULE_TOP = dilution.RULE_RANGE.high - 0.001
_MOST = {"abv": "strongest", "sugar": "sweetest", "acid": "sourest"}
_LEAST = {"abv": "weakest", "sugar": "least sweet", "acid": "least sour"}


@dataclass(frozen=True, slots=True)
class Limit:
    """How much of a bottle there may be. Amounts, also as text ("0.25 oz").

    Parameters
    ----------
    least, most : amount, optional
        With a `least` above 0 the bottle is always in. [mL]
    measure : amount, optional
        The bottle is poured in multiples of this, whatever the measure of the others. [mL]
    """

    least: float | str | None = 0.0
    most: float | str | None = None
    measure: float | str | None = None


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
    reasons : tuple of str
        Why what is not met is not, in sentences.
    declared : Declared
        Cautions and allergens of its bottles.
    held : float or None
        The melt water that all amounts were searched with, where one share was held. [mL/mL]
    """

    recipe: Recipe
    figures: Profile
    melt: float
    met: dict[str, bool]
    distance: float
    reasons: tuple[str, ...] = ()
    declared: Declared = field(kw_only=True)
    held: float | None = None


@functools.cache
def scales() -> dict[str, float]:
    """What counts as one unit: of strength, sugar and acid [% vol], [g/L], and of volume as a share of it.

    Those of `profile.scales`; for volume, likewise half the width of the middle half of the classics,
    over their median, so that a batch is judged as one drink is.

    >>> round(scales()["volume"], 1)
    0.2
    """
    known = classics.load()
    low, middle, high = np.percentile(reference(known).volume, [25, 50, 75])
    return {**_scales(known), "volume": float((high - low) / 2 / middle)}


def reach(
    target: Mapping,
    ingredients: Sequence,
    *,
    limits: Mapping | None = None,
    ratios: Iterable = (),
    measure=None,
    tolerance: Mapping | None = None,
    technique: str = "stirred",
    serve: str = "up",
    melt=None,
    ice: dilution.OwnIce | None = None,
    after: Iterable = (),
    near: Recipe | None = None,
    count: int = 5,
    name: str = "to the target",
    pantry: Pantry | None = None,
    display: Display | None = None,
) -> tuple[Answer, ...]:
    """Amounts of the bottles on hand that come nearest to wanted figures.

    Parameters
    ----------
    target : mapping
        Any of "abv" [% vol], "sugar" [g/L], "acid" [g/L] and "volume" [mL], each a number or a band
        (low, high). Without a volume the pours add up to a usual drink, `SIZE` (more where the limits
        ask for it); with one, to at most twice as much.
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
    pantry : Pantry, optional
    display : Display, optional
        Units of the sentences.

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
    ((what a figure lies outside its band) / scale)² over the wanted figures, with `scales`.
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
    show = display or Display()
    shelf = pantry if pantry is not None else _pantry.load()
    bottles = _bottles(ingredients, shelf)
    late = {_which(bottles, item, shelf, "bottle after the ice") for item in _listed(after)}
    require("number of answers", number(count, "number of answers"), 1, 50)
    given = (
        bottles,
        np.array([i in late for i in range(len(bottles))]),
        bands_of(target, tolerance or {}),
        _limits(limits or {}, bottles, shelf, measure),
        [
            (_which(bottles, a, shelf, "bottle of a ratio"), _which(bottles, b, shelf, "bottle of a ratio"), times)
            for a, b, times in (_three(ratio) for ratio in ratios)
        ],
        technique, serve,
    )  # fmt: skip
    near = None if near is None else _amounts_of(near, bottles, shelf)

    def solve(share) -> tuple[Answer, ...]:
        task = _Task(*given, share, show, near, _HOLD_AMOUNTS, ice)
        return task.answers(_few(task, _solved(task), int(count)), shelf, name)

    return _settled(solve, melt, ice)


def swap(
    recipe: Recipe,
    old,
    new,
    *,
    add: Iterable = (),
    limits: Mapping | None = None,
    measure=None,
    melt=None,
    ice: dilution.OwnIce | None = None,
    pantry: Pantry | None = None,
    display: Display | None = None,
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
    limits, measure, melt, ice, pantry, display
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
    show = display or Display()
    shelf = pantry if pantry is not None else _pantry.load()
    there = list(recipe.bottles(shelf))
    gone = _which(there, old, shelf, "bottle to swap")
    fresh = _bottle(new, shelf)
    bottles, near = [], recipe.amounts.copy()
    for i, item in enumerate(there):
        swapped = _same(item, there[gone])
        bottles.append(fresh if swapped else item)
        if swapped and item.abv > 0 and fresh.abv > 0:
            near[i] *= item.abv / fresh.abv  # as much alcohol as before
    extra = [_bottle(item, shelf) for item in _listed(add)]
    for item in extra:
        if any(_same(item, b) for b in bottles):
            raise InputError("bottle to add", item.name, "one that is not in the recipe yet")
    late = np.array([*recipe.after, *(False for _ in extra)])
    was = _over_ice(recipe, ice, shelf) if ice is not None and melt is None else melt
    held = profile(served([recipe], shelf, None if was is None else [_melt(was)]))[0]
    target = {axis: getattr(held, axis) for axis in FIGURES}
    bounds = _limits(limits or {}, [*bottles, *extra], shelf, measure)
    for i, amount in enumerate(recipe.amounts):
        least, most, step = bounds[i]
        bounds[i] = (max(least, min(step or SMALLEST, amount, most)), most, step)
    near = np.append(near, np.zeros(len(extra)))

    def solve(share) -> tuple[Answer, ...]:
        way = recipe.technique, recipe.serve
        task = _Task(
            [*bottles, *extra], late, bands_of(target, {}), bounds, [], *way, share, show, near, _HOLD_FIGURES, ice
        )
        return task.answers(_few(task, _solved(task), 1), shelf, recipe.name, recipe)

    return _settled(solve, melt, ice)[0]


def _over_ice(recipe: Recipe, ice: dilution.OwnIce, shelf: Pantry) -> float:
    """Melt water of a recipe over own ice, as `trial.run` finds it, as a share of the volume before ice. [mL/mL]"""
    before, after = (part[0] for part in _pour([recipe], shelf))
    iced = dilution.iced(before, after if after.mass > 0 else None, recipe.technique)
    return float(ice.chill(iced, recipe.technique).dilution * iced.volume() / before.volume())


def _settled(solve: Callable[[float | None], tuple[Answer, ...]], melt, ice) -> tuple[Answer, ...]:
    """The answers; over own ice, of searches with one share of melt water each, those of the nearest."""
    if ice is None:
        return solve(melt)
    if melt is not None:
        raise InputError("melt water", melt, "left out when your own ice is given")
    share, best = _START, None
    for _ in range(_ROUNDS):
        found = solve(share)
        if best is None or (found[0].distance, len(found[0].recipe.pours)) < (
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


# --- what was asked for ---------------------------------------------------------------------------------


def _same(a: Ingredient, b: Ingredient) -> bool:
    return a.id == b.id and a.abv == b.abv


def _bottle(item, shelf: Pantry) -> Ingredient:
    """The pantry's bottle, at its strength."""
    if isinstance(item, (tuple, list)) and len(item) == 2:
        item = _bottle(item[0], shelf).labelled(item[1])
    elif isinstance(item, str):
        item = shelf.find(item)
    elif not isinstance(item, Ingredient):
        raise InputError("bottle", item, "a name, an ingredient of the pantry, or either with a strength")
    if item.id not in shelf:
        raise InputError("bottle", item.name, "one of the pantry; add it with Pantry.with_items")
    return shelf.bottle(*shelf.label(item))


def _listed(items) -> list:
    """One bottle is a list of one."""
    return [items] if isinstance(items, (str, Ingredient)) else list(items)


def _bottles(items, shelf: Pantry) -> list[Ingredient]:
    items = _listed(items)
    if not items:
        raise InputError("bottles", "", "at least one bottle on hand")
    if not len(shelf):
        raise InputError("pantry", "", "at least one ingredient")
    if len(items) > 30:
        raise InputError("bottles", Told(f"{len(items)} bottles"), "at most 30")
    found = []
    for item in items:
        bottle = _bottle(item, shelf)
        if any(_same(bottle, b) for b in found):
            raise InputError("bottles", Told(f"a list with {bottle.name} twice"), "a list with each bottle once")
        if not bottle.composition.any():
            raise InputError("bottle", bottle.name, "one whose contents are known, to count with")
        found.append(bottle)
    return found


def _which(bottles: list[Ingredient], item, shelf: Pantry, field: str) -> int:
    """Place of a bottle in the list, by its id and strength; by its name alone where that is enough."""
    wanted = _bottle(item, shelf)
    exact = [i for i, b in enumerate(bottles) if _same(b, wanted)]
    alike = exact or [i for i, b in enumerate(bottles) if b.id == wanted.id and wanted.abv == shelf[b.id].abv]
    if not exact and len(alike) != 1:
        raise InputError(field, wanted.name, f"one of the bottles on the list: {'; '.join(b.name for b in bottles)}")
    return alike[0]


def _amounts_of(recipe: Recipe, bottles: list[Ingredient], shelf: Pantry) -> np.ndarray:
    """How much of each bottle a recipe has. [mL]"""
    if not isinstance(recipe, Recipe):
        raise InputError("recipe to stay near", Told(f"a {type(recipe).__name__}"), "a recipe")
    out = np.zeros(len(bottles))
    for item, amount in zip(recipe.bottles(shelf), recipe.amounts, strict=True):
        out[_which(bottles, item, shelf, "bottle of the recipe to stay near")] += amount
    return out


def _three(ratio):
    try:
        first, second, times = ratio
    except (TypeError, ValueError):
        raise InputError("ratio", Told(repr(ratio)), "a bottle, another bottle and a number") from None
    times = number(times, "ratio")
    require("ratio", times, 1e-3, 1e3, "to 1")
    return first, second, times


def bands_of(target: Mapping, tolerance: Mapping) -> dict[str, tuple[float, float]]:
    """Each wanted figure as a band (low, high), a number widened by its tolerance; arguments as for `reach`."""
    if not target:
        raise InputError("target", "", f"at least one of {', '.join(FIGURES)}")
    for axis in (*target, *tolerance):
        one_of("figure of the target", axis, FIGURES)
    bands = {}
    for axis in (a for a in FIGURES if a in target):
        field, kind, value = f"wanted {WORDS[axis]}", KINDS[axis], target[axis]
        band = isinstance(value, (tuple, list))
        if band and len(value) != 2:
            raise InputError(field, Told(f"{len(value)} numbers"), "one number, or a band of two")
        low, high = (read(v, kind, field) for v in (value if band else (value, value)))
        for end in (low, high):
            if np.ndim(end):
                raise InputError(field, Told("several numbers"), "one number, or a band of two")
            require(field, end, kind.low, kind.high, kind.label)
        if low > high:
            raise InputError(
                field, Told(f"a band from {low:g} to {high:g} {kind.label}"), "a band with the low end first"
            )
        if axis == "volume" and low <= 0:
            raise InputError(field, low, "above 0 mL")
        if not band:
            room = scales()[axis] * TOLERANCE * (low if axis == "volume" else 1)
            if axis in tolerance:
                room = read(tolerance[axis], kind, f"tolerance of {WORDS[axis]}")
                most = low / 2 if axis == "volume" else np.inf  # with more, no drink at all would do
                require(f"tolerance of {WORDS[axis]}", room, 0, most, kind.label)
            low, high = max(low - room, kind.low), min(high + room, kind.high)
        elif axis in tolerance:
            raise InputError(f"tolerance of {WORDS[axis]}", tolerance[axis], "left out where a band is wanted")
        bands[axis] = (low, high)
    for axis in tolerance:
        if axis not in bands:
            raise InputError(f"tolerance of {WORDS[axis]}", tolerance[axis], "left out where that figure is not wanted")
    return bands


def _limits(limits: Mapping, bottles, shelf: Pantry, measure) -> list[tuple[float, float, float]]:
    """(least, most, measure) of each bottle; a measure of 0 pours freely. [mL]"""
    step = _step(measure, "measure")
    out = [(0.0, np.inf, step)] * len(bottles)
    for key, given in limits.items():
        i = _which(bottles, key, shelf, "limit of a bottle")
        called, density = bottles[i].name, bottles[i].density
        if not isinstance(given, Limit):
            if not isinstance(given, (tuple, list)) or len(given) != 2:
                raise InputError(f"limit of {called!r}", Told(repr(given)), "least and most, or a Limit")
            given = Limit(*given)
        least = 0.0 if given.least is None else to_ml(given.least, density, f"least of {called!r}")
        most = np.inf if given.most is None else to_ml(given.most, density, f"most of {called!r}")
        if least > most:
            raise InputError(f"least of {called!r}", least, f"at most the most allowed of it, {most:g} mL")
        own = step if given.measure is None else _step(given.measure, f"measure of {called!r}", density)
        out[i] = (least, most, own)
    return out


def _step(measure, field: str, density: float | None = None) -> float:
    if measure is None:
        return 0.0
    step = to_ml(measure, density, field)
    if np.ndim(step) or step < 0.01:
        raise InputError(field, measure, "one amount of at least 0.01 mL")
    return step


def _melt(melt) -> float:
    melt = read(melt, RATIO, "melt water")
    require("melt water", melt, 0, 3, "of the volume before ice")
    return melt


# --- the sums -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Candidate:
    groups: np.ndarray  # [mL]
    distance: float
    bottles: int
    rank: tuple[float, float, float]  # the lower the better; see `_Task.ranked`


class _Task:
    """Bottles, bands and limits as arrays. Bottles in a fixed ratio move as one: a group."""

    def __init__(
        self, bottles, late, bands, limits, ratios, technique, serve, melt, display, near=None, weights=_HOLD_FIGURES,
        ice=None,
    ):  # fmt: skip
        self.ice = ice
        self.bottles, self.late, self.display = bottles, late, display
        self.axes = tuple(bands)
        self.rows = [FIGURES.index(a) for a in self.axes]
        self.low, self.high = np.array([bands[a] for a in self.axes]).T
        self.middle = (self.low + self.high) / 2
        size = dict(scales())
        if "volume" in bands:
            size["volume"] *= sum(bands["volume"]) / 2
        self.scale = np.array([size[a] for a in self.axes])
        self.technique, self.serve = technique, serve
        self.fixed = None if melt is None else _melt(melt)
        dilution.melt_fraction(0.0, technique, serve)  # knows the technique, or says so
        self.given = limits
        self._group(ratios)
        self._room(bands)
        # what decides among amounts that are as near to the target
        self.centre, self.keep = weights if near is not None else (1.0, 0.0)
        # of a group the first bottle: as near as the ratio lets all of it come
        self.near = np.zeros(len(self.share)) if near is None else self.share @ near / (self.share**2).sum(axis=1)

    def _group(self, ratios) -> None:
        """`share`: bottles [mL] in a millilitre of each group's first; `least`, `most`, `steps` of groups."""
        n = len(self.bottles)
        share = np.eye(n)
        alive, led_by = list(range(n)), list(range(n))
        for a, b, times in ratios:
            if led_by[a] == led_by[b]:
                told = Told(f"{self.bottles[a].name} to {self.bottles[b].name}")
                raise InputError("ratio", told, "between two bottles that no other ratio ties together already")
            keep, gone = led_by[b], led_by[a]
            share[keep] += share[gone] * (times * share[keep, b] / share[gone, a])
            led_by = [keep if x == gone else x for x in led_by]
            alive.remove(gone)
        self.share = share[alive]
        self.early = self.share[:, ~self.late].any(axis=1)  # brings something before the ice
        self.weight = self.share.sum(axis=1)  # mL poured for each mL of the group's first
        self.held = (self.share > 0).sum(axis=1)
        self.least, self.most, self.steps = [], [], []
        measured = any(step for *_, step in self.given)
        for row in self.share:
            members = np.flatnonzero(row)
            self.least.append(max(self.given[i][0] / row[i] for i in members))
            self.most.append(min(self.given[i][1] / row[i] for i in members))
            names = " and ".join(self.bottles[i].name for i in members)
            if self.least[-1] > self.most[-1] * (1 + 1e-9):
                raise InputError("limits", Told(f"too far apart for the ratio of {names}"), "such as the ratio allows")
            steps = [(self.given[i][2] or FINE * measured) / row[i] for i in members]
            self.steps.append(_common(steps, names))
        self.least, self.most, self.steps = map(np.array, (self.least, self.most, self.steps))
        self.measured = measured

    def _room(self, bands) -> None:
        """How much may be poured altogether, `total`, and that limits, measures and volume agree."""
        sum_least = float(self.least @ self.weight)
        sum_most = float(self.most @ self.weight)
        if not sum_most > 0:
            raise InputError("limits", Told("0 mL at most of every bottle"), "more than 0 mL for one at least")
        if "volume" in bands:
            low, high = bands["volume"]
            if sum_least > 0:
                least = self.figures(self.least)[3]
                if least > high * (1 + 1e-9):
                    told = Told(
                        f"{sum_least:g} mL" + (f", {least:.0f} mL with melt water" if least > sum_least * 1.01 else "")
                    )
                    raise InputError("sum of the least amounts", told, f"at most the wanted volume, {high:.4g} mL")
            largest = max(step for *_, step in self.given)
            if largest > high:
                raise InputError("measure", largest, f"at most the wanted volume, {high:.4g} mL")
            self.total = (min(0.05 * low, 0.5 * sum_most), 2.0 * high)
        else:
            self.total = (min(SIZE[0], 0.95 * sum_most), max(SIZE[1], 1.5 * sum_least))
        self.ceiling = np.minimum(self.most, self.total[1] / self.weight)
        if self.measured:
            self.levels = [self._levels(g) for g in range(len(self.weight))]
        elif self.late.all():
            raise InputError("bottles after the ice", Told("all of them"), "fewer: something must come before")

    def _levels(self, g: int) -> np.ndarray:
        """Amounts that the measure allows of a group, 0 among them unless it must be in."""
        step = self.steps[g]
        first = max(int(np.ceil(self.least[g] / step - 1e-9)), 1)
        last = int(np.floor(self.ceiling[g] / step + 1e-9))
        levels = step * np.arange(first, last + 1)
        if self.least[g] <= 0:
            return np.append(0.0, levels)
        if not levels.size:
            names = " and ".join(self.bottles[i].name for i in np.flatnonzero(self.share[g]))
            told = Told(f"{self.least[g]:g} to {self.most[g]:g} mL")
            raise InputError(f"limits of {names!r}", told, f"such that a multiple of {step:.4g} mL lies between them")
        return levels

    def amounts(self, groups):
        """Of each bottle. [mL]"""
        return groups @ self.share

    def melt(self, abv):
        """Share of melt water for a strength before ice, the rule held at the end of its range."""
        if self.fixed is not None or not np.size(abv):
            return self.fixed or 0.0
        return dilution.melt_fraction(np.minimum(abv, dilution.RULE_RANGE.high), self.technique, self.serve)

    @functools.cached_property
    def ruled(self) -> bool:
        """Whether the melt is by a rule that some of these bottles are too strong for."""
        if self.fixed is not None or max(b.abv for b in self.bottles) <= _RULE_TOP:
            return False
        try:
            return dilution.melt_fraction(100.0, self.technique, self.serve) is None
        except InputError:
            return True

    @functools.cached_property
    def lump(self) -> np.ndarray:
        """What a mL of each group brings before (0) and after the ice (1): shape (2, 5, groups).

        Water, ethanol, sugar and acid [g], and the volume of the rest [mL]. The volume rule of
        `physics.density.solution_volume` is a part for spirit, a part for sugar and a sum over the rest;
        the last is what the whole leaves over, so that nothing here depends on what the rest may be.
        """
        each = Liquid(np.array([b.composition for b in self.bottles]).T)
        parts = np.array([each.water, each.ethanol, each.sugar, each.acid, np.zeros(len(self.bottles))])
        parts[4] = each.volume() - _volume(parts)
        return np.array([parts * ~self.late @ self.share.T, parts * self.late @ self.share.T])

    def figures(self, groups):
        """Figures of any number of drinks, the groups last; see `mixed`."""
        return self.mixed(*(self.lump @ groups.reshape(-1, groups.shape[-1]).T)).reshape(5, *groups.shape[:-1])

    def mixed(self, before, after):
        """Strength, sugar, acid, volume as served, and the strength before ice, from lumped parts.

        The sums of the forward code without its checks and names, since the search asks for thousands;
        what is found goes through the forward code itself at the end.
        """
        whole = before + after
        iced = whole if self.technique in dilution.IN_GLASS else before
        volume = _volume(iced)
        start = iced[1] / _PURE / volume
        # A share that was set is one of the volume before ice.
        base = volume if self.fixed is None else _volume(before)
        whole = whole + 0.0
        whole[0] += self.melt(start) * base * _WATER
        volume = _volume(whole)
        return np.array([whole[1] / _PURE / volume, 1000 * whole[2] / volume, 1000 * whole[3] / volume, volume, start])

    def judged(self, groups):
        """(distance, off): how far from the bands, and from their middle; far where no rule gives the melt."""
        shown = self.figures(groups)
        wanted = shown[self.rows].T
        miss = (wanted - np.clip(wanted, self.low, self.high)) / self.scale
        distance = np.sqrt(np.mean(miss**2, axis=-1))
        distance[distance < _MET] = 0.0
        if self.ruled:
            distance[shown[4] > dilution.RULE_RANGE.high] = np.inf
        off = self.centre * np.mean(((wanted - self.middle) / self.scale) ** 2, axis=-1)
        if self.keep:
            off += self.keep * np.mean(((groups - self.near) / self.total[1]) ** 2, axis=-1)
        return distance, off

    @property
    def wish(self) -> bool:
        """Whether amounts near a recipe's are wanted."""
        return self.keep > self.centre

    def ranked(self, distance, bottles, off) -> tuple:
        """What comes first: the nearest to the target; then the fewest bottles, or the nearest to a recipe."""
        return (distance, off, bottles) if self.wish else (distance, bottles, off)

    def best(self, groups) -> list[_Candidate]:
        """The best of many, with the best of each number of bottles."""
        distance, off = self.judged(groups)
        bottles = (groups > 0) @ self.held
        rank = self.ranked(distance, bottles, off)
        order = np.lexsort(rank[::-1])
        order = order[np.isfinite(distance[order])]
        _, first = np.unique(bottles[order], return_index=True)
        chosen = [order[i] for i in sorted({*range(min(100, len(order))), *first.tolist()})]
        return [
            _Candidate(groups[i], float(distance[i]), int(bottles[i]), tuple(float(r[i]) for r in rank)) for i in chosen
        ]

    def answers(self, candidates: list[_Candidate], shelf: Pantry, name: str, like: Recipe | None = None):
        """The candidates as recipes, measured anew by the code that any recipe goes through."""
        recipes = []
        for c in candidates:
            pours = [
                Pour(b.id, float(a), shelf.label(b)[1], bool(late))
                for b, a, late in zip(self.bottles, self.amounts(c.groups), self.late, strict=True)
                if a > 0
            ]
            recipes.append(replace(like, pours=pours) if like else Recipe(name, pours, self.technique, self.serve))
        if self.ice is not None:
            melt = [_over_ice(recipe, self.ice, shelf) for recipe in recipes]
        else:
            melt = None if self.fixed is None else [self.fixed] * len(recipes)
        figures = profile(served(recipes, shelf, melt))
        shares = melt or melt_by_rule(recipes, *_pour(recipes, shelf))
        out = []
        for i, (c, recipe) in enumerate(zip(candidates, recipes, strict=True)):
            wanted = np.array([getattr(figures, a)[i] for a in self.axes])
            miss = (wanted - np.clip(wanted, self.low, self.high)) / self.scale
            miss[np.abs(miss) < _MET] = 0.0
            distance = float(np.sqrt(np.mean(miss**2)))
            if self.ice is None and abs(distance - c.distance) > 1e-5:
                raise ArithmeticError("the forward code does not confirm the amounts found; please report them")
            reasons = ()
            if distance and self.ice is not None and c.distance == 0:
                reasons = (self._melted(miss, wanted, float(shares[i])),)
            elif distance:
                reasons = (self._miss(miss, wanted, c),) if i else _reasons(self, c, miss)
            met = dict(zip(self.axes, (miss == 0).tolist(), strict=True))
            said = of_recipe(recipe, shelf)
            held = None if self.ice is None else self.fixed
            out.append(Answer(recipe, figures[i], float(shares[i]), met, distance, reasons, declared=said, held=held))
        if self.ice is not None:  # the first stays first, for the search to go on from
            out[1:] = sorted(out[1:], key=lambda answer: (answer.distance, len(answer.recipe.pours)))
        return tuple(out)

    def _melted(self, miss, wanted, share: float) -> str:
        """Of what the search met with the share that it held, and its own ice does not."""
        k = int(np.argmax(np.abs(miss)))
        return (
            f"Its own ice gives it {100 * share:.1f} % of melt water, where {100 * self.fixed:.1f} % was searched with"
            f": {WORDS[self.axes[k]]} is then {self.text(self.axes[k], wanted[k])}."
        )

    def text(self, axis: str, value: float) -> str:
        return self.display.text(KINDS[axis], value)

    def called(self, i: int) -> str:
        """A bottle's name, short where that is clear."""
        short = [b.name.split(",")[0] for b in self.bottles]
        return short[i] if short.count(short[i]) == 1 else self.bottles[i].name

    def _miss(self, miss, wanted, candidate) -> str:
        k = int(np.argmax(np.abs(miss)))
        axis, edge = self.axes[k], (self.low if miss[k] < 0 else self.high)[k]
        side = "below" if miss[k] < 0 else "above"
        bottles = "this bottle" if candidate.bottles == 1 else f"these {candidate.bottles} bottles"
        return (
            f"With {bottles} {WORDS[axis]} is {self.text(axis, wanted[k])}, {side} the {self.text(axis, edge)} wanted."
        )


def _volume(parts: np.ndarray) -> np.ndarray:
    """Volume of lumped parts, by the rule of `physics.density.solution_volume`. [mL]"""
    water, ethanol, sugar, _, rest = parts
    base = water + ethanol + 1e-12  # dry sugar alone holds neither
    spirit = base * 1000.0 / _density._ethanol_water(ethanol / base)
    return spirit + sugar * _density._sucrose_volume(sugar / (sugar + water + 1e-12)) + rest


def _common(steps: list[float], names: str) -> float:
    """Least amount of a group's first bottle that is a multiple of every step."""
    if not all(steps):
        return max(steps)
    for k in range(1, 1001):
        if all(abs(k * steps[0] / s - round(k * steps[0] / s)) < 1e-6 for s in steps):
            return k * steps[0]
    raise InputError(
        "ratio", Told(f"one that no multiples of the measure give for {names}"), "one that measures can give"
    )


# --- the search -----------------------------------------------------------------------------------------


def _few(task: _Task, found: list[_Candidate], count: int) -> list[_Candidate]:
    """The best first, then the best of each smaller number of bottles, then the next best; in order."""
    kept, sets = [], []
    for c in sorted(found, key=lambda c: c.rank):
        held = frozenset(np.flatnonzero(c.groups).tolist())
        if not any(held >= other for other in sets):  # bottles more, and no nearer: nobody wants it
            kept.append(c)
            sets.append(held)
    chosen = [next((c for c in kept if c.bottles == size), None) for size in range(kept[0].bottles, 0, -1)]
    chosen = [c for c in chosen if c is not None][:count]
    chosen += [c for c in kept if not any(c is d for d in chosen)][: count - len(chosen)]
    return sorted(chosen, key=lambda c: c.rank)


def _solved(task: _Task) -> list[_Candidate]:
    found = _measured(task) if task.measured else _free(task)
    if not found:
        raise InputError(
            "limits", Told("such that no amounts fit them all"),
            f"wide enough for pours of {task.total[0]:.0f} to {task.total[1]:.0f} mL altogether"
            + (", no stronger before ice than the melt rule covers" if task.ruled else ""),
        )  # fmt: skip
    return found


def _free(task: _Task) -> list[_Candidate]:
    """Best freely poured amounts for each set of bottles.

    As many groups as figures are enough unless limits bind; so those sets come first, all while they
    are few, then sets with one group more beside the best.
    """
    needed = np.flatnonzero(task.least > 0).tolist()
    free = np.flatnonzero((task.least <= 0) & (task.ceiling > 0)).tolist()
    sets = [frozenset(needed)] if needed else []
    if task.wish:  # the recipe's own bottles, one and all
        sets.append(frozenset((*needed, *(g for g in free if task.near[g] > 0))))
    for size in range(1, len(task.axes) + 1):
        if len(sets) + comb(len(free), size) <= _SETS:
            sets += [frozenset((*needed, *more)) for more in combinations(free, size)]
    found: list[_Candidate] = []
    known: set[frozenset] = set()
    nearest = np.inf
    for _ in range(4):
        known.update(sets)
        groups, poured_sets = _pour_freely(task, sets)
        found += task.best(groups)
        distance, off = task.judged(groups)
        best = [poured_sets[i] for i in np.lexsort((off, distance))[:30]] or sets[:300]
        sets = [s for s in dict.fromkeys(s | {g} for s in best for g in free) if s not in known]
        before, nearest = nearest, min((c.distance for c in found), default=np.inf)
        if not sets or nearest == 0 or nearest > before - 1e-4:
            break
    return found


def _pour_freely(task: _Task, sets: list[frozenset]) -> tuple[np.ndarray, list[frozenset]]:
    """Best amounts of the groups of every set, all sets at once, and the sets that the limits allow.

    Gauss-Newton inside a logarithmic barrier. Its weight falls step by step, and so does that of the
    pull to the middle of the bands, which at first makes the way smooth and at last decides among equals.
    """
    nothing = len(task.weight)  # sets are filled up with a group of nothing, so that they are one array
    index = np.full((len(sets), max(map(len, sets), default=1)), nothing)
    for row, held in zip(index, sets, strict=True):
        row[: len(held)] = sorted(held)
    unit = task.total[1]
    least = np.where(task.least > 0, task.least, np.minimum(SMALLEST, task.ceiling))
    low = np.append(least / unit, 0.0)[index]
    high = np.maximum(np.append(task.ceiling / unit, 1.0)[index], low + 1e-7)
    weight = np.append(task.weight, 0.0)[index]
    bottom = np.maximum(task.total[0] / unit, (weight * low).sum(1))
    top = np.minimum(1.0, (weight * high).sum(1))
    bottom = np.where(np.abs(top - bottom) < 1e-6, top - 1e-6, bottom)  # room to move where limits leave none
    ok = (top > bottom) & np.append(task.early, False)[index].any(axis=1)
    index, weight, low, high, bottom, top = (x[ok] for x in (index, weight, low, high, bottom, top))
    sets = [s for s, fits in zip(sets, ok, strict=True) if fits]
    count, size = index.shape
    if not count:
        return np.zeros((0, nothing)), sets
    lump = np.append(task.lump * unit, np.zeros((2, 5, 1)), axis=2)[:, :, index]
    # the strength before ice that the melt rule covers is a wall
    rows, pull = [*task.rows, 4], np.append(np.full(len(task.axes), task.centre), 0.0)
    lowest, highest = np.append(task.low, -np.inf), np.append(task.high, _RULE_TOP if task.ruled else np.inf)
    middle, scale = np.append(task.middle, 0.0), np.append(task.scale, 1e-3)
    near, keep = np.append(task.near, 0.0)[index] / unit, task.keep

    def seen(at):
        before, after = np.einsum("ipsg,...sg->ip...s", lump, at)
        return np.moveaxis(task.mixed(before, after)[rows], 0, -1)

    def merit(at, shown, soft, wall):
        miss = (shown - np.clip(shown, lowest, highest)) / scale
        total = (weight * at).sum(-1)
        with np.errstate(invalid="ignore", divide="ignore"):
            logs = np.log((at - low) * (high - at)).sum(-1) + np.log((total - bottom + _LEFT) * (top - total + _LEFT))
        value = (miss**2).sum(-1) + soft * (pull * ((shown - middle) / scale) ** 2).sum(-1) - wall * logs
        value = value + keep * soft * ((at - near) ** 2).sum(-1)
        return np.where(np.isfinite(value), value, np.inf)

    guess = task.middle[-1] / 1.25 / unit if task.axes[-1] == "volume" else 0.5 * (bottom + top)
    guess = np.clip(guess, bottom + 0.05 * (top - bottom), top - 0.05 * (top - bottom))
    floor, roof = (weight * low).sum(1), (weight * high).sum(1)
    x = low + (high - low) * np.clip((guess - floor) / (roof - floor), 1e-9, 1 - 1e-9)[:, None]
    shown = seen(x)
    unity, which = np.eye(size), np.arange(count)
    soft, wall = 1.0, 0.1
    for _ in range(_STEPS):
        slope = np.moveaxis((seen(x + 1e-6 * unity[:, None, :]) - shown) / 1e-6, 0, -1) / scale[:, None]
        miss = (shown - np.clip(shown, lowest, highest)) / scale
        lean = soft * pull * (shown - middle) / scale
        total = (weight * x).sum(1, keepdims=True)
        under, over = total - bottom[:, None] + _LEFT, top[:, None] - total + _LEFT
        downhill = (slope.mT @ (miss + lean)[..., None])[..., 0]
        downhill += 0.5 * wall * (1 / (high - x) - 1 / (x - low) + weight * (1 / over - 1 / under))
        curve = slope.mT @ (((miss != 0) + soft * pull)[..., None] * slope)
        curve += unity * (0.5 * wall * (1 / (high - x) ** 2 + 1 / (x - low) ** 2) + 1e-11)[:, None, :]
        curve += (0.5 * wall * (1 / over**2 + 1 / under**2))[..., None] * weight[:, :, None] * weight[:, None, :]
        downhill += keep * soft * (x - near)
        curve += keep * soft * unity
        # scaled to a diagonal of ones: a bottle against its wall is 1e20 times as stiff as one that nothing holds
        stiff = np.sqrt(np.diagonal(curve, axis1=1, axis2=2))
        curve = curve / (stiff[:, :, None] * stiff[:, None, :]) + 1e-13 * unity
        step = -np.linalg.solve(curve, (downhill / stiff)[..., None])[..., 0] / stiff
        change = (weight * step).sum(1, keepdims=True)
        # the longest step that leaves a twentieth of the way to each wall
        ahead = np.concatenate([-step / (x - low), step / (high - x), -change / under, change / over], axis=1)
        longest = 1 / np.maximum(1.0, ahead.max(axis=1) / 0.95)
        tried = x + longest[:, None] * np.array([1.0, 0.3, 0.05, 0.0])[:, None, None] * step
        figures = seen(tried)
        pick = np.argmin(merit(tried, figures, soft, wall), axis=0)
        x, shown = tried[pick, which], figures[pick, which]
        soft, wall = max(_FALL * soft, 1e-6), max(_FALL * wall, 1e-13)
    groups = np.zeros((count, nothing + 1))
    groups[which[:, None], index] = x * unit
    groups[:, :-1] = np.clip(groups[:, :-1], 0.0, task.ceiling)
    return groups[:, :-1], sets


def _measured(task: _Task) -> list[_Candidate]:
    """Best combinations of measures: every one while they are few, else what a search of neighbours finds."""
    table = _Table(task)
    looked, last, grown = 0, 1, 0.0
    n = int(task.held.sum())
    for size in range(1, n + 1):
        # of n bottles and many measures; spares the start of a count that will be too long
        growth = grown * (size - 2) * max(n - size + 1, 0) / (n - size + 2) / size
        rows = table.every(size, _ROWS - looked) if looked + last * growth < _ROWS else None
        if rows is None:
            break
        grown, last, looked = len(rows) / last, max(len(rows), 1), looked + len(rows)
        table.keep(rows)
        if size == 2 and table.best[0] > 0:
            table.search()  # something good early narrows the window for the sizes to come
            grown = 0.0
        if table.best[0] == 0 and not task.wish:
            return table.candidates()
    else:
        return table.candidates()
    if table.best[0] > 0 or task.wish:
        table.search()
    if not table.found or size <= 2 or task.wish:
        for candidate in sorted(_free(task), key=lambda c: c.rank)[:40]:
            table.keep(table.rounded(candidate.groups))
        table.search()
    if table.best[0] > 0:
        table.programme()
    return table.candidates()


class _Table:
    """Combinations of measures as rows of level numbers, and the best found for each set of bottles."""

    def __init__(self, task: _Task) -> None:
        self.task = task
        # groups that must be in come first
        self.order = np.argsort(task.least <= 0, kind="stable")
        self.levels = [task.levels[g] for g in self.order]
        self.weight = task.weight[self.order]
        self.held, self.needed = task.held[self.order], int((task.least > 0).sum())
        self.count = np.array([len(levels) for levels in self.levels])
        self.found: dict[int, tuple[tuple, np.ndarray]] = {}
        self.best: tuple = (np.inf, 0, np.inf)
        # what mixing does to the volume: of every two bottles and melt water, with room for three and more
        share = np.linspace(0.1, 0.9, 9)[:, None, None, None]
        poured = np.vstack([(task.lump.sum(axis=0) / task.weight).T, [_WATER, 0, 0, 0, 0]])
        mixed = _volume(np.moveaxis(share * poured + (1 - share) * poured[:, None], -1, 0))
        self.mixing = mixed.min() - 0.005, mixed.max() + 0.005

    def groups(self, rows: np.ndarray) -> np.ndarray:
        """Amounts of the task's groups. [mL]"""
        out = np.empty(rows.shape)
        for g, column in zip(self.order, range(len(self.levels)), strict=True):
            out[:, g] = self.levels[column][rows[:, column]]
        return out

    def window(self) -> tuple[float, float]:
        """Totals worth a look: served volumes not much further off than what was found already."""
        task = self.task
        low, high = task.total
        if task.axes[-1] == "volume" and np.isfinite(self.best[0]):
            off = (self.best[0] + 0.05) * np.sqrt(len(task.axes)) * task.scale
            start = np.linspace(0.0, dilution.RULE_RANGE.high if task.ruled else 100.0, 400)
            melt = np.broadcast_to(task.melt(start), start.shape)
            if task.axes[0] == "abv" and not task.late.any():
                # only the melt of strengths as near; mixing with it raises them by 0 to 5 %
                served = start / (1 + melt)
                melt = melt[(served * 1.06 > task.low[0] - off[0]) & (served * 0.97 - 0.5 < task.high[0] + off[0])]
            least = 0.0 if task.late.any() else melt.min(initial=10.0)
            low = max(low, (task.low[-1] - off[-1]) / self.mixing[1] / (1 + melt.max(initial=0.0)))
            high = min(high, (task.high[-1] + off[-1]) / self.mixing[0] / (1 + least))
        return low * (1 - _LEFT), high * (1 + _LEFT)

    def every(self, size: int, most: int) -> np.ndarray | None:
        """Every combination of exactly `size` bottles in the window, or None if they are too many."""
        low, high = self.window()
        rows, total, used = np.zeros((1, len(self.count)), np.int16), np.zeros(1), np.zeros(1, int)
        after = np.append(self.held[::-1].cumsum()[::-1], 0)[1:]
        done, many = [], 0
        for g, levels in enumerate(self.levels):
            pours = levels[levels > 0] * self.weight[g]
            held = used + self.held[g]
            full = (held == size) & (g >= self.needed - 1)
            first = np.where(full, np.searchsorted(pours, low - total), 0)
            last = np.searchsorted(pours, high - total, side="right")
            enough = (held <= size) & (held + after[g] >= size)
            times = np.where(enough, np.maximum(last - first, 0), 0)
            many += int(times.sum())
            if many > most:
                return None
            parent = np.repeat(np.arange(len(rows)), times)
            level = np.arange(len(parent)) - np.repeat(times.cumsum() - times, times) + first[parent]
            grown = rows[parent]
            grown[:, g] = level + (len(levels) - len(pours))
            ended = full[parent]
            done.append(grown[ended])
            stay = (used + after[g] >= size) if g >= self.needed else np.zeros(len(rows), bool)
            rows = np.concatenate([rows[stay], grown[~ended]])
            total = np.concatenate([total[stay], total[parent][~ended] + pours[level[~ended]]])
            used = np.concatenate([used[stay], held[parent][~ended]])
        return np.concatenate(done)

    def keep(self, rows: np.ndarray) -> None:
        """Judge combinations and remember the best for each set of bottles."""
        task = self.task
        groups = self.groups(rows)
        distance, off = np.empty(len(rows)), np.empty(len(rows))
        block = _BLOCK // (5 * groups.shape[1])
        for start in range(0, len(rows), block):
            some = slice(start, start + block)
            distance[some], off[some] = task.judged(groups[some])
        if task.late.any():
            distance[~groups[:, task.early].any(axis=1)] = np.inf
        near = np.partition(distance, 1500)[1500] if len(rows) > 1500 else np.inf
        good = np.flatnonzero((distance <= near) & np.isfinite(distance))
        there = groups[good] > 0
        bottles, sets = there @ task.held, there @ (1 << np.arange(groups.shape[1]))
        ranks = task.ranked(distance[good], bottles, off[good])
        order = np.lexsort(ranks[::-1])
        for key, i in zip(*np.unique(sets[order], return_index=True), strict=True):
            i = order[i]
            rank = tuple(float(r[i]) for r in ranks)
            if key not in self.found or rank < self.found[key][0]:
                self.found[key] = rank, rows[good[i]]
                self.best = min(self.best, rank)

    def search(self) -> None:
        """From the best combinations to their neighbours, until none is better."""
        groups = len(self.count)
        one = np.eye(groups, dtype=np.int16)
        single = [k * e for e in one for k in (1, -1, 2, -2, 5, -5)]
        two = [a * x + b * y for x, y in combinations(one, 2) for a in (1, -1) for b in (1, -1)]
        moves = np.array([*single, *two], np.int16)
        mark = np.random.default_rng(0).integers(1, 2**62, groups)
        seen = np.zeros(0, np.int64)
        for _ in range(30):
            before = self.best
            starts = sorted(self.found.values(), key=lambda f: f[0])[:24]
            if not starts:
                break
            rows = (np.array([row for _, row in starts])[:, None, :] + moves).reshape(-1, groups)
            rows = self.allowed(rows[((rows >= 0) & (rows < self.count)).all(axis=1)])
            codes, first = np.unique(rows.astype(np.int64) @ mark, return_index=True)
            new = ~np.isin(codes, seen)
            seen = np.concatenate([seen, codes])
            self.keep(rows[first[new]])
            if self.best == before:
                break

    def programme(self) -> None:
        """The nearest of all combinations by an integer programme, set up anew where the last one ended.

        Exact for the figures as they run beside the best found: sums over the pours, divided by a volume that
        is nearly such a sum. What it gives is judged by the true figures, as all else.
        """
        from scipy.optimize import milp

        task, tried = self.task, set()
        for _ in range(_PROGRAMMES):
            if not self.found or self.best[0] == 0:
                return
            rank, start = min(self.found.values(), key=lambda f: f[0])
            if start.tobytes() in tried:
                return
            tried.add(start.tobytes())
            solved = milp(**_linear(task, self.groups(start[None])[0]), options={"node_limit": _NODES})
            if solved.x is None:
                return
            row = np.zeros(len(self.count), np.int16)
            for column, g in enumerate(self.order):
                level = solved.x[g] * task.steps[g]
                row[column] = int(np.argmin(np.abs(self.levels[column] - level)))
            self.keep(self.allowed(row[None]))
            if min(f[0] for f in self.found.values()) < rank:
                self.search()

    def allowed(self, rows: np.ndarray) -> np.ndarray:
        total = self.groups(rows) @ self.task.weight
        return rows[
            (total > 0) & (total >= self.task.total[0] * (1 - _LEFT)) & (total <= self.task.total[1] * (1 + _LEFT))
        ]

    def rounded(self, groups: np.ndarray) -> np.ndarray:
        """The combinations of measures just above and below free amounts."""
        rows = np.zeros((1, 0), np.int16)
        for levels, wanted in zip(self.levels, groups[self.order], strict=True):
            at = np.searchsorted(levels, wanted)
            near = np.unique(np.clip([at - 1, at] if wanted > 0 else [0], 0, len(levels) - 1)).astype(np.int16)
            rows = np.column_stack([np.repeat(rows, len(near), axis=0), np.tile(near, len(rows))])
        return self.allowed(rows)

    def candidates(self) -> list[_Candidate]:
        """The best found, as `_Task.best` gives them."""
        return self.task.best(self.groups(np.array([row for _, row in self.found.values()]))) if self.found else []


def _linear(task: _Task, start: np.ndarray) -> dict:
    """The task beside `start` as an integer programme: multiples of each group's measure, then slacks to keep small.

    A slack is how far a figure lies outside its band, in its scale, times the volume; their sum is the goal.
    """
    from scipy.optimize import Bounds, LinearConstraint

    shown, volumes, early = _partial_volumes(task, start)
    volume = shown[3]
    # by the partial volumes the volume here may be a little off: the rest stays with it, as a constant
    rest = volume - volumes @ start
    content = _content(task)
    count, slacks = len(task.weight), len(task.axes)
    rows, low, high = [], [], []

    def held(coefficients, least, most, slack=None):
        for sign in (1, -1) if slack is not None else (0,):
            row = np.zeros(count + slacks)
            row[:count] = coefficients * task.steps
            if slack is not None:
                row[count + slack] = -sign
            rows.append(row)
            low.append(-np.inf if sign == 1 else least)
            high.append(np.inf if sign == -1 else most)

    for k, axis in enumerate(task.axes):
        if axis == "volume":
            held(volumes / task.scale[k] * volume, (task.low[k] - rest) / task.scale[k] * volume,
                 (task.high[k] - rest) / task.scale[k] * volume, k)  # fmt: skip
        else:
            for edge, least, most in ((task.low[k], 0.0, np.inf), (task.high[k], -np.inf, 0.0)):
                sums = (content[axis] - edge * volumes) / task.scale[k]
                held(sums, least + edge * rest / task.scale[k], most + edge * rest / task.scale[k], k)
    held(task.weight, *task.total)
    if task.late.any():
        held(task.early.astype(float), min(task.steps[task.early], default=0.0), np.inf)
    if task.ruled:
        held(task.lump[0, 1] / _PURE - _RULE_TOP * early, -np.inf, 0.0)
    least = np.array([max(np.ceil(a / s - 1e-9), 0) for a, s in zip(task.least, task.steps, strict=True)])
    most = np.floor(task.ceiling / task.steps + 1e-9)
    return {
        "c": np.append(np.zeros(count), np.ones(slacks)),
        "integrality": np.append(np.ones(count), np.zeros(slacks)),
        "bounds": Bounds(np.append(least, np.zeros(slacks)), np.append(most, np.full(slacks, np.inf))),
        "constraints": LinearConstraint(np.array(rows), low, high),
    }


# --- why not --------------------------------------------------------------------------------------------


def _reasons(task: _Task, candidate: _Candidate, miss: np.ndarray) -> tuple[str, ...]:
    """What binds: for each unmet figure by itself, else for the worst beside the others."""
    worst_first = [int(k) for k in np.argsort(-np.abs(miss)) if miss[k]]
    worst = worst_first[0]
    others = [k for k in range(len(miss)) if k != worst]
    together = _stuck(task, worst, np.sign(miss[worst]), others, candidate.groups)
    if together == "":  # poured freely it can be met
        if task.measured:
            step = task.display.volume_text(max(step for *_, step in task.given))
            return (f"Measured in steps of {step} nothing nearer was found; poured freely it can be met.",)
        return (f"It would take less than a dash ({task.display.volume_text(SMALLEST)}) of something.",)
    alone = []
    for k in worst_first:
        size = [task.axes.index("volume")] if "volume" in task.axes and task.axes[k] != "volume" else []
        alone.append(_stuck(task, k, np.sign(miss[k]), size, candidate.groups))
    if any(alone):
        return tuple(sentence for sentence in alone if sentence)
    for many in range(len(others) - 1, 0, -1):
        for beside in combinations(others, many):
            together = together or _stuck(task, worst, np.sign(miss[worst]), beside, candidate.groups)
    return (together or "The wanted figures are too far apart for these bottles.",)


def _stuck(task: _Task, k: int, side: float, beside: Sequence[int], start: np.ndarray) -> str | None:
    """Why figure `k` can't come into its band beside the others; "" if it can, None if those can't be."""
    end = _furthest(task, k, -side, beside, start)
    if end is None:
        return None
    value, groups, price = end
    edge = task.high[k] if side > 0 else task.low[k]
    if side * (value - edge) <= 1e-6 * task.scale[k]:
        return ""
    axis = task.axes[k]
    head = f"{WORDS[axis].capitalize()} can't {'fall below' if side > 0 else 'rise above'} {task.text(axis, value)}"
    if beside:
        head += f" with the {_and([WORDS[task.axes[b]] for b in beside])} as wanted"
    if price:
        cause = _binding(task, price)
    elif [b for b in beside if task.axes[b] != "volume"]:
        cause = _room_taken(task, axis, side, task.amounts(groups))
    else:
        cause = _end_of_list(task, axis, side)
    return f"{head}: {cause}."


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _binding(task: _Task, price: dict) -> str:
    """The limit with the largest price, in words."""
    kind, g = max(price, key=lambda key: price[key])
    if kind == "total most":
        return f"the pours may add up to no more than {task.display.volume_text(task.total[1])}"
    if kind == "total least":
        return f"the pours add up to at least {task.display.volume_text(task.total[0])}"
    if kind == "rule":
        return f"the melt rule covers no more than {dilution.RULE_RANGE.high:g} % vol before ice"
    members = np.flatnonzero(task.share[g])
    end = 0 if kind == "least" else 1
    ends = [task.given[i][end] / task.share[g, i] for i in members]
    i = members[int(np.argmax(ends) if end == 0 else np.argmin(ends))]
    amount = f"{task.display.volume_text(task.given[i][end])} of {task.called(i)}"
    tied = " and its ratio" if len(members) > 1 else ""
    return f"no more than {amount} is allowed{tied}" if end else f"at least {amount} is asked for{tied}"


def _room_taken(task: _Task, axis: str, side: float, amounts: np.ndarray) -> str:
    """Where other figures stand in the way: the bottle that brings too much, or those that take up the room."""
    content = np.array([getattr(b, axis) for b in task.bottles])
    if side > 0:
        i = int(np.argmax(amounts * content))
        partners = [task.called(p) for row in task.share if row[i] for p in np.flatnonzero(row) if p != i]
        tied = f", tied to {_and(partners)} by their ratio" if partners else ""
        return f"{task.display.volume_text(amounts[i])} of {task.called(i)} brings it{tied}"
    poured = np.flatnonzero(amounts > 0.01 * amounts.sum())
    others = [i for i in poured if content[i] < content[poured].max()]
    if not others:
        return _end_of_list(task, axis, side)
    named = [
        f"{task.display.volume_text(amounts[i])} of {task.called(i)}" for i in sorted(others, key=lambda i: -amounts[i])
    ]
    return f"{_and(named[:3])} take{'s' if len(named) == 1 else ''} up the room"


def _end_of_list(task: _Task, axis: str, side: float) -> str:
    content = np.array([getattr(b, axis) for b in task.bottles])
    if not content.any():
        return "no bottle on the list brings any"
    i = int(np.argmin(content) if side > 0 else np.argmax(content))
    if np.isclose(content, content[i]).all():
        return "the bottles do not differ in it"
    thin = ", and melt water thins it" if side < 0 and np.any(task.melt(0.0)) else ""
    return f"{task.called(i)} is the {(_LEAST if side > 0 else _MOST)[axis]} on the list{thin}"


def _furthest(task: _Task, k: int, way: float, beside: Sequence[int], start: np.ndarray):
    """How far figure `k` goes up (way 1) or down (-1) within the limits, with others held in their bands.

    A figure is a sum over the pours, linear, divided by the volume, which is nearly so: the linear
    programme is set up anew with the partial volumes where the last one ended, until figure and end agree.

    Returns
    -------
    (value, groups, price) or None
        None if the others can't be in their bands. `price` holds what a limit that binds is worth.
    """
    from scipy.optimize import linprog

    axis, scale = task.axes[k], task.scale[k]
    content = _content(task)
    x, result = start, None
    shown, volumes, early = _partial_volumes(task, x)
    for _ in range(15):
        value = float(shown[task.rows[k]])
        limits = [(task.weight, task.total[1], "total most"), (-task.weight, -task.total[0], "total least")]
        for b in beside:
            low, high = task.low[b], task.high[b]
            if task.axes[b] == "volume":
                limits += [(volumes, high, ""), (-volumes, -low, "")]
            else:
                held = content[task.axes[b]]
                limits += [(held - high * volumes, 0.0, ""), (low * volumes - held, 0.0, "")]
        if task.ruled:
            limits.append((task.lump[0, 1] / _PURE - _RULE_TOP * early, 0.0, "rule"))
        rows, ends, labels = zip(*limits, strict=True)
        goal = volumes if axis == "volume" else content[axis] - value * volumes
        solved = linprog(-way * goal, A_ub=np.array(rows), b_ub=ends, bounds=np.column_stack([task.least, task.most]))
        if solved.status != 0:
            break
        result, x = solved, solved.x
        shown, volumes, early = _partial_volumes(task, x)
        wanted = shown[task.rows]
        inside = np.abs(wanted - np.clip(wanted, task.low, task.high)) <= 1e-6 * task.scale
        if inside.all() or abs(float(wanted[k]) - value) < 1e-7 * scale:
            break
    if result is None:
        return None
    price = {("least", g): abs(p) for g, p in enumerate(result.lower.marginals * task.least)}
    price |= {("most", g): abs(p) for g, p in enumerate(result.upper.marginals * np.minimum(task.most, 1e9))}
    price |= {
        (label, -1): abs(p * (end or 1.0))
        for label, p, end in zip(labels, result.ineqlin.marginals, ends, strict=True)
        if label
    }
    worth = 1e-3 * scale * (1.0 if axis == "volume" else shown[3])
    return float(shown[task.rows[k]]), x, {key: p for key, p in price.items() if p > worth}


def _content(task: _Task) -> dict[str, np.ndarray]:
    """What a mL of each group brings to a figure, in the figure's unit times mL."""
    parts = task.lump.sum(axis=0)[1:4] * [[1 / _PURE], [1000], [1000]]
    return dict(zip(("abv", "sugar", "acid"), parts, strict=True))


def _partial_volumes(task: _Task, groups: np.ndarray):
    """Figures, and what one mL more of each group adds to the volume: served, and before ice."""
    step = 1e-5 * float(groups @ task.weight)
    more = np.vstack([groups, groups + step * np.eye(len(groups))])
    shown, early = task.figures(more), _volume(task.lump[0] @ more.T)
    return shown[:, 0], (shown[3, 1:] - shown[3, 0]) / step, (early[1:] - early[0]) / step
