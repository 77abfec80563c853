"""What if: what moves a drink most, how sure its figures are, and whether two drinks really differ.

Everything here is one glass as served, by the same way forward as `trial.run`: mixed, iced by the rule or by the
setting's own ice, topped, and taken through its steps.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
>>> sensitivity(sour)[0].name
'honey syrup, 1:1 by volume'
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from . import classics as _classics
from . import pantry as _pantry
from . import steps, trial
from .balance import AXES, FIGURES, KINDS, WORDS, Profile, profile, reference, scales
from .classics import Classics
from .declared import Declared, declared, of_recipe
from .errors import InputError, Told, one_of, require
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .recipe import SPOONED, Recipe
from .setting import Setting, as_setting
from .steps import Draw
from .units import number, to_ml

MOVED = ("abv", "sugar", "acid", "volume")  # the figures that a change is told in
FRUIT = "juice"  # the kind of ingredient that varies from fruit to fruit, not from maker to maker
SOURCES = ("fruit", "bottles", "measuring tool", "melt water", "later steps")  # the last where there are some
LEAST_DRAWS, MOST_DRAWS = 100, 1_000_000  # with fewer, an end of 19 in 20 would rest on one or two drinks
BY_THE_DASH = 3.0  # what goes in by less is dashed or dropped, not measured [mL]
NO_FAMILY = "other"  # what is left over is no family
LEAST_FAMILY = 5  # drinks; percentiles of fewer say nothing
_BLOCK = 4096  # versions worked on at once: small enough to stay in the processor's cache
_ROW = {figure: row for row, figure in enumerate(FIGURES)}


# --- one drink, many versions ---------------------------------------------------------------------------


def _counted(draws, seed) -> int:
    for name, value, low, high in (("draws", draws, LEAST_DRAWS, MOST_DRAWS), ("seed", seed, 0, 2**63 - 1)):
        if not isinstance(value, (int, np.integer)) or isinstance(value, bool) or not low <= value <= high:
            raise InputError(name, value, f"a whole number, {low} to {high}")
    return int(draws)


def _served(setting: Setting, before: Liquid, top: Liquid | None, melts, draw: Draw = steps.estimate) -> np.ndarray:
    """The figures of one glass as served, shape (len(FIGURES), versions)."""
    figures = profile(trial.served(setting, before, top, melts, draw))
    return np.array([getattr(figures, f) for f in FIGURES])


def _dissolved(before: Liquid) -> np.ndarray:
    """Whether the sugar dissolves before the ice: the limit that `trial.run` refuses beyond."""
    return before.sucrose <= _pantry.MOST_SUCROSE * (before.sucrose + before.water)


def _blocks(count: int) -> Iterator[tuple[slice, np.ndarray]]:
    """Where a block's answers go, and its versions: the drink as written, which the steps go by, before each."""
    for start in range(0, count, _BLOCK):
        part = slice(start, min(start + _BLOCK, count))
        yield part, np.r_[0, part]


def band(known: Classics | None = None, family: str | None = None) -> dict[str, tuple[float, float]]:
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
    known = known if known is not None else _classics.load()
    chosen = np.ones(len(known), bool)
    if family is not None:
        chosen = np.array(known.families) == one_of("family", family, sorted(set(known.families)))
    figures = reference(known)
    return {a: tuple(np.percentile(getattr(figures, a)[chosen], [10, 90]).tolist()) for a in AXES}


def _limits(limits: Mapping | None, recipe: Recipe, known: Classics | None) -> dict[str, tuple[float, float]]:
    """What counts as in order: as given, or the band of the recipe's family, or of all the classics."""
    if limits is None:
        known = known if known is not None else _classics.load()
        of_use = recipe.family != NO_FAMILY and known.families.count(recipe.family) >= LEAST_FAMILY
        return band(known, recipe.family if of_use else None)
    out = {}
    for figure, ends in limits.items():
        name = f"band of {one_of('figure of the band', figure, FIGURES)}"
        require(name, low_high := _two(name, ends), 0, np.inf, KINDS[figure].label)
        out[figure] = low_high
    if not out:
        raise InputError("band", "", "limits for at least one figure")
    return out


def _two(name: str, ends, read=number) -> tuple[float, float]:
    """A pair that rises."""
    pair = tuple(ends) if isinstance(ends, (tuple, list, np.ndarray)) else ()
    if len(pair) != 2:
        raise InputError(name, ends, "two numbers, low and high")
    low, high = (read(end, name) for end in pair)
    if np.ndim(low) or np.ndim(high) or low >= high:
        raise InputError(name, Told(f"{pair[0]} to {pair[1]}"), "two numbers, the second larger than the first")
    return low, high


def _inside(table: np.ndarray, limits: Mapping[str, tuple[float, float]]) -> np.ndarray:
    """Which versions are inside each of the limits, shape (limits, *axes)."""
    return np.array([(table[_ROW[f]] >= low) & (table[_ROW[f]] <= high) for f, (low, high) in limits.items()])


# --- what moves it most -----------------------------------------------------------------------------------


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
        less than one step to take away, and `note` says so.
    distance : float
        How far the drink moves among the classics, the larger of the two ways; 1 is the usual difference
        between two classics (`balance.scales`).
    note : str
        What to know of it, if anything.
    """

    source: str
    name: str
    step: float
    unit: str
    more: dict[str, float]
    less: dict[str, float] | None
    distance: float
    note: str = ""


def sensitivity(
    drink: Recipe | Setting,
    pantry: Pantry | None = None,
    measure="0.25 oz",
    *,
    known: Classics | None = None,
    **changes,
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
    known : Classics, optional
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
    Distance = root of the mean of ((change / scale)²) over strength, sugar and acid, as in `balance.place`.

    Examples
    --------
    >>> stirred = Recipe.parse("60 mL rye whiskey\\n30 mL sweet red vermouth\\n2 dash aromatic bitters")
    >>> [(e.name, round(e.distance, 2)) for e in sensitivity(stirred, measure="1 barspoon")[:2]]
    [('strength of rye whiskey', 0.29), ('sugar of sweet red vermouth', 0.27)]
    """
    shelf, known = _shelf(pantry), known if known is not None else _classics.load()
    setting = as_setting(drink, **changes)
    recipe = setting.recipe
    bottles = recipe.bottles(shelf)
    measure = to_ml(measure, field="measure")
    if not (np.ndim(measure) == 0 and 0 < measure <= recipe.volume):
        told = Told(f"{np.max(measure):g} mL")
        raise InputError("measure", told, f"one amount above 0 and at most the whole drink, {recipe.volume:.0f} mL")

    # (source, name, step, unit, room to take one away, what it changes)
    before_ice = recipe.amounts[~recipe.after].sum()
    steps_of = [_one_step(measure, p.amount, b) for p, b in zip(recipe.pours, bottles, strict=True)]
    tried = [
        ("pour", bottle.name, *_in_its_unit(step, bottle), _can_lose(pour, step, before_ice), i)
        for i, (pour, bottle, step) in enumerate(zip(recipe.pours, bottles, steps_of, strict=True))
    ]
    for bottle in dict.fromkeys(bottles):
        same = [b is bottle for b in bottles]
        source = "fruit" if bottle.kind == FRUIT else "bottle"
        for figure, step, room, held in _stepped(bottle):
            tried.append((source, f"{WORDS[figure]} of {bottle.name}", step, KINDS[figure].label, room, (same, held)))
    # the drink as it is, then two sides of each, then of the melt water
    count = len(tried)
    amounts = np.tile(recipe.amounts, (2, count + 2, 1))
    compositions = np.tile(_compositions(bottles), (2, count + 2, 1, 1))
    for k, (*_, room, change) in enumerate(tried, start=1):
        if isinstance(change, int):
            amounts[:, k, change] += [steps_of[change], -steps_of[change] if room else 0.0]
        else:
            same, held = change
            compositions[:, k, same] = held[:, None]
    sides = (2, count + 2)
    before, top = trial.poured(recipe, *(a.reshape(-1, *a.shape[2:]) for a in (amounts, compositions)))
    trial.check_dissolved(before[0], recipe)
    melts, pm, _ = trial.melted(setting, before, top, exact=True)
    melts = np.array(melts).reshape(sides)
    here = melts[0, 0]
    if here > 0:
        melts[:, -1] += [pm / 2, -pm / 2]
        tried.append(("melt water", "melt water", pm / 2, "of the volume before ice", True, None))
    table = _served(setting, before, top, melts.ravel()).reshape(-1, *sides)
    change = {f: table[_ROW[f]] - table[_ROW[f]][0, 0] for f in MOVED}
    dissolved = _dissolved(before).reshape(sides)[0]
    moved = np.sqrt(sum((change[a] / s) ** 2 for a, s in scales(known).items()) / len(AXES)).max(axis=0)

    effects = []
    for k, (source, name, step, unit, room, _) in enumerate(tried, start=1):
        more, less = ({f: float(c[side, k]) for f, c in change.items()} for side in (0, 1))
        note = "" if room else f"{name}: no more than one step of {step:.3g} {unit} is there, so only more was tried."
        if not dissolved[k]:
            note += f" {name}: the sugar of one step more does not dissolve before the ice."
        effects.append(
            Effect(source, name, float(step), unit, more, less if room else None, float(moved[k]), note.strip())
        )
    return tuple(sorted(effects, key=lambda e: -e.distance))


def _shelf(pantry: Pantry | None) -> Pantry:
    return pantry if pantry is not None else _pantry.load()


def _compositions(bottles: Sequence[Ingredient]) -> np.ndarray:
    return np.array([bottle.composition for bottle in bottles])


def _one_step(measure: float, amount: float, bottle: Ingredient) -> float:
    """One measure of this bottle, or all of it where it goes in by the dash. [mL], of a solid as dissolved"""
    step = measure * SPOONED / bottle.density if bottle.state == "solid" else measure
    return amount if 0 < amount < min(step, BY_THE_DASH) else step


def _in_its_unit(step: float, bottle: Ingredient) -> tuple[float, str]:
    return (step * bottle.density, "g") if bottle.state == "solid" else (step, "mL")


def _can_lose(pour, measure: float, before_ice: float) -> bool:
    """Whether a measure less leaves the pour at zero or more, and something to put on the ice."""
    return pour.amount >= measure and (pour.after or before_ice > measure)


@functools.lru_cache(maxsize=256)
def _stepped(bottle: Ingredient) -> list:
    """(figure, step, room for less, compositions more and less) of what is uncertain in a bottle."""
    out = []
    for figure in AXES:
        value, step = getattr(bottle, figure), getattr(bottle, f"{figure}_pm")
        if step > 0:
            each = {f: np.full(2, getattr(bottle, f)) for f in AXES}
            each[figure] = np.array([value + step, max(value - step, 0.0)])
            out.append((figure, step, value >= step, _pantry._composition(bottle, *each.values())))
    return out


# --- two amounts at once ------------------------------------------------------------------------------------


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
        Cautions and allergens of all its bottles.
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


def sweep(
    drink: Recipe | Setting,
    first: str | int,
    second: str | int,
    first_range: tuple | None = None,
    second_range: tuple | None = None,
    *,
    pantry: Pantry | None = None,
    points: int = 200,
    limits: Mapping[str, tuple[float, float]] | None = None,
    known: Classics | None = None,
    **changes,
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
    shelf = _shelf(pantry)
    setting = as_setting(drink, **changes)
    recipe = setting.recipe
    bottles, limits = recipe.bottles(shelf), _limits(limits, recipe, known)
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
    amounts = amounts.reshape(points**2, -1)
    if amounts[0, ~recipe.after].sum() <= 0:
        raise InputError("total before the top, in a corner of the grid", 0, "above 0 mL; let a range start higher")
    amounts = np.concatenate([recipe.amounts[None], amounts])
    table, dissolved = np.empty((len(FIGURES), 1 + points**2)), np.empty(1 + points**2, bool)
    composition = _compositions(bottles)
    for part, of in _blocks(1 + points**2):
        before, top = trial.poured(recipe, amounts[of], composition)
        melts, _, _ = trial.melted(setting, before, top, exact=True)
        table[:, part] = _served(setting, before, top, melts)[:, 1:]
        dissolved[part] = _dissolved(before)[1:]
    table, dissolved = table[:, 1:], dissolved[1:]
    grid = (points, points)
    return Sweep(
        first=bottles[i].name,
        second=bottles[j].name,
        first_amounts=x,
        second_amounts=y,
        profile=Profile(*table.reshape(-1, *grid)),
        band=limits,
        inside=_inside(table, limits).all(axis=0).reshape(grid),
        dissolved=dissolved.reshape(grid),
        declared=declared(*bottles),
    )


def _find(recipe: Recipe, bottles: Sequence[Ingredient], shelf: Pantry, name, axis: str) -> int:
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


def _ticks(recipe: Recipe, bottles: Sequence[Ingredient], at: int, ends, points: int) -> np.ndarray:
    pour, density = recipe.pours[at], bottles[at].density
    if ends is None:
        ends = (0.5 * pour.amount, 1.5 * pour.amount)
    low, high = _two(f"range of {bottles[at].name!r}", ends, lambda end, name: to_ml(end, density, name))
    return np.linspace(low, high, points)


# --- how sure ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Variation:
    """How a drink comes out, made over and over.

    Attributes
    ----------
    estimate : Profile
        As written.
    low, median, high : Profile
        2.5th, 50th and 97.5th percentile of each figure: 19 drinks in 20 lie between low and high.
    sd : dict
        Standard deviation of strength, sugar, acid and volume, each in its unit.
    shares : dict
        For each of these, how much of its variance is due to each of `SOURCES`; together 1, or all 0 where
        nothing varies. An estimate: each source is varied alone and the shares are brought to a sum of 1.
    band : dict
        The limits that drinks are held against.
    inside : dict
        Share of the drinks inside each of these limits.
    all_inside : float
        Share of the drinks inside all of them.
    declared : Declared
        Cautions and allergens of its bottles.
    """

    recipe: Recipe = field(repr=False)
    tool: str
    draws: int
    estimate: Profile
    low: Profile
    median: Profile
    high: Profile
    sd: dict[str, float]
    shares: dict[str, dict[str, float]]
    band: dict[str, tuple[float, float]]
    inside: dict[str, float]
    all_inside: float
    declared: Declared = field(repr=False)


def variation(
    drink: Recipe | Setting,
    draws: int = 10_000,
    tool: str | None = None,
    seed: int = 1,
    *,
    pantry: Pantry | None = None,
    limits: Mapping[str, tuple[float, float]] | None = None,
    known: Classics | None = None,
    **changes,
) -> Variation:
    """Make the drink `draws` times with the fruit, bottles, measuring and ice of chance.

    The same draws as `trial.run` takes, so that both give one answer: bottles and fruit by the pantry's ±,
    each pour by the tool's error, melt water by ± 20 % around what the rule gives each version by its own strength
    (by a scale's ± where it was set by hand), and what its steps are not sure of.

    Parameters
    ----------
    drink : Recipe or Setting
    draws : int
        100 to 1 000 000.
    tool : str, optional
        A key of `trial.TOOLS`; the setting's by default.
    limits : mapping of figure to (low, high), optional
        What counts as in order; as for `sweep`.
    **changes
        Fields of `Setting` that are other than the drink's, such as melt.

    Returns
    -------
    Variation

    Raises
    ------
    InputError
        For too few draws, an unknown tool or figure, limits that do not rise, and as `trial.run`.

    Notes
    -----
    Shares: one input varied at a time, as JCGM 101 (2008, annex B; from memory) has it. With small errors the
    variances of the sources add up (JCGM 100, 5.1.2), so that little is left over.

    Examples
    --------
    >>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
    >>> made = variation(sour)
    >>> made.low.abv < made.estimate.abv < made.high.abv
    True
    >>> max(made.shares["acid"], key=made.shares["acid"].get)
    'fruit'
    """
    shelf, draws = _shelf(pantry), _counted(draws, seed)
    setting = as_setting(drink, **changes | ({} if tool is None else {"tool": tool}))
    recipe, tool = setting.recipe, setting.tool
    bottles, limits = recipe.bottles(shelf), _limits(limits, recipe, known)
    amounts, compositions = trial.drawn(recipe, bottles, tool, draws, seed)
    by_chance = steps.draws(draws, seed)
    chance = _melt_chance(setting, amounts, compositions, by_chance)
    fruit = np.array([b.kind == FRUIT for b in bottles])
    sources = SOURCES if setting.steps else SOURCES[:-1]
    tables = np.empty((1 + len(sources), len(FIGURES), 1 + draws))
    for part, of in _blocks(1 + draws):
        drawn, written = compositions[of], np.broadcast_to(amounts[0], (len(of), len(bottles)))
        alone = trial.poured(recipe, written, compositions[0])
        some = functools.partial(lambda source, of: by_chance(source)[of], of=of)
        cases = (  # everything at once, then one source at a time
            (trial.poured(recipe, amounts[of], drawn), chance[of], some),
            (_with_drawn(recipe, amounts[0], drawn, compositions[0], fruit), 1.0, steps.estimate),
            (_with_drawn(recipe, amounts[0], drawn, compositions[0], ~fruit), 1.0, steps.estimate),
            (trial.poured(recipe, amounts[of], compositions[0]), 1.0, steps.estimate),
            (alone, chance[of], steps.estimate),
            (alone, 1.0, some),
        )
        for k, (poured, melt_varies, draw) in enumerate(cases[: len(tables)]):
            melts, _, _ = trial.melted(setting, *poured)
            tables[k, :, part] = _served(setting, *poured, melts * melt_varies, draw)[:, 1:]
    together = tables[0, :, 1:]
    low, high = trial.ends(together)
    middle = np.median(together, axis=1)
    inside = _inside(together, limits)
    variance = {f: tables[:, _ROW[f], 1:].var(axis=1).tolist() for f in MOVED}
    return Variation(
        recipe=recipe,
        tool=tool,
        draws=draws,
        estimate=Profile(*tables[0, :, 0].tolist()),
        low=Profile(*low.tolist()),
        median=Profile(*middle.tolist()),
        high=Profile(*high.tolist()),
        sd={f: v[0] ** 0.5 for f, v in variance.items()},
        shares={
            f: {s: _divide(w, sum(v[1:])) for s, w in zip(sources, v[1:], strict=True)} for f, v in variance.items()
        },
        band=limits,
        inside=dict(zip(limits, inside.mean(axis=1).tolist(), strict=True)),
        all_inside=float(inside.all(axis=0).mean()),
        declared=of_recipe(recipe, shelf),
    )


def _divide(part: float, whole: float) -> float:
    return part / whole if whole > 1e-12 else 0.0  # less is rounding


def _melt_chance(setting: Setting, amounts, compositions, draw: Draw) -> np.ndarray:
    """By what the melt water of each version is more or less, as `trial.run` draws it; 1 is what is expected."""
    before, top = trial.poured(setting.recipe, amounts[:1], compositions[:1])
    trial.check_dissolved(before[0], setting.recipe)
    melts, pm, _ = trial.melted(setting, before, top, exact=True)
    return np.broadcast_to(trial.melt_chance(float(melts[0]), pm, draw), len(amounts))


def _with_drawn(recipe: Recipe, amounts, drawn, composition, which) -> tuple[Liquid, Liquid | None]:
    """Poured with only some of the bottles drawn; the others are their estimate."""
    varied = trial.poured(recipe, np.where(which, amounts, 0.0), drawn)
    fixed = trial.poured(recipe, np.where(which, 0.0, amounts), composition)
    return tuple(None if v is None else v + f for v, f in zip(varied, fixed, strict=True))


# --- A against B ----------------------------------------------------------------------------------------------

COMPARED = ("abv", "sugar", "acid", "sugar_to_acid", "volume", "alcohol")
DIFFERS = "differs by more than pouring error"
CANNOT_TELL = "can't be told from pouring error"
SAME = "the same"


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure of A and of B, as served, in its unit.

    `difference` is A less B; 19 in 20 such pairs of drinks give one between `low` and `high`.
    """

    figure: str
    unit: str
    a: float
    b: float
    difference: float
    low: float
    high: float
    verdict: str


def compare(
    a: Recipe | Setting,
    b: Recipe | Setting,
    pantry: Pantry | None = None,
    *,
    draws: int = 10_000,
    seed: int = 1,
    **changes,
) -> tuple[Difference, ...]:
    """A against B as served, and which differences would survive being poured again.

    A and B are poured and iced each on its own, but from the same bottles and fruit: a sharp lemon makes
    both sharper and tells nothing about the difference.

    Parameters
    ----------
    a, b : Recipe or Setting
    draws : int
        100 to 1 000 000.
    **changes
        Fields of `Setting` that are other than A's and B's, such as tool.

    Returns
    -------
    tuple of Difference
        One for each of `COMPARED`; the sugar-to-acid ratio is left out where a drink has no acid.

    Raises
    ------
    InputError
        For what is not one recipe, and as `trial.run`.

    Examples
    --------
    >>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
    >>> said = {d.figure: d for d in compare(sour, sour.with_amounts([45, 20, 30]))}
    >>> said["sugar"].verdict, said["alcohol"].verdict
    ('differs by more than pouring error', "can't be told from pouring error")
    """
    shelf, draws = _shelf(pantry), _counted(draws, seed)
    draw = steps.draws(draws, seed)
    tables = []
    for name, drink in zip("AB", (a, b), strict=True):
        setting = as_setting(drink, **changes)
        amounts, compositions = trial.drawn(setting.recipe, setting.recipe.bottles(shelf), setting.tool, draws, seed)
        # The same draws of B's pours and ice, moved on by one drink, are independent of A's; the bottles stay.
        turn = np.r_[0, np.roll(np.arange(1, draws + 1), 1)] if name == "B" else slice(None)
        chance = _melt_chance(setting, amounts, compositions, draw)[turn]
        before, top = trial.poured(setting.recipe, amounts[turn], compositions)
        melts, _, _ = trial.melted(setting, before, top)
        turned = functools.partial(lambda source, turn: draw(source)[turn], turn=turn)
        tables.append(_served(setting, before, top, melts * chance, turned))

    said = []
    for figure in COMPARED:
        one, two = (t[_ROW[figure]] for t in tables)
        if not (np.isfinite(one).all() and np.isfinite(two).all()):
            continue
        apart = one - two
        low, high = trial.ends(apart[None, 1:])
        low, high = float(low[0]), float(high[0])
        alike = max(abs(low), abs(high)) < 1e-9  # less is rounding
        verdict = SAME if alike else DIFFERS if low > 0 or high < 0 else CANNOT_TELL
        said.append(
            Difference(figure, KINDS[figure].label, float(one[0]), float(two[0]), float(apart[0]), low, high, verdict)
        )
    return tuple(said)


# --- map of the classics ------------------------------------------------------------------------------------------

# Kaufman and Rousseeuw, Finding Groups in Data (1990), chapter 2 (from memory): what a mean score says.
SCORES = (
    (0.70, "separate clearly by themselves"),
    (0.50, "separate fairly well by themselves"),
    (0.25, "separate only weakly by themselves"),
    (-1.0, "do not separate by themselves"),
)


@dataclass(frozen=True, slots=True, eq=False)
class Map:
    """The classics laid out by what differs most among them.

    Attributes
    ----------
    figures : tuple of str
        What went in, each less its mean and over its standard deviation.
    kept : array
        Share of the variance that each principal axis keeps, largest first; together 1.
    loadings : array, shape (axes, figures)
        How much of each figure a principal axis holds.
    words : tuple of str
        The same in words: "more sugar and acid, less strength".
    coordinates : array, shape (classics, axes)
        Where each classic lies, in standard deviations.
    drink : array or None
        Where the given drink lies.
    plain : dict
        Share of the variance that two plain figures keep, by pair: what they hold themselves and what they
        foretell of the others by a straight line.
    score, plain_score : float
        Mean silhouette of the families on the first two principal axes, and on the figures themselves: 1 is
        well apart, 0 at the edge of another family, below 0 nearer to another than to its own.
    families : dict
        The mean silhouette of each family on the figures themselves.
    said : str
        What one sees, in plain words.
    """

    figures: tuple[str, ...]
    kept: np.ndarray
    loadings: np.ndarray
    words: tuple[str, ...]
    coordinates: np.ndarray
    drink: np.ndarray | None
    plain: dict[tuple[str, str], float]
    score: float
    plain_score: float
    families: dict[str, float]
    said: str


def classics_map(known: Classics | None = None, drink: Profile | None = None, figures: Sequence[str] = AXES) -> Map:
    """Principal components of the classics as served, and whether their families separate by themselves.

    Parameters
    ----------
    known : Classics, optional
    drink : Profile, optional
        One drink, placed on the same axes; it does not move them.
    figures : sequence of str
        Two or more of "abv", "sugar", "acid" and "volume".

    Returns
    -------
    Map

    Raises
    ------
    InputError
        For more than one drink, an unknown figure, fewer than two, or one that does not vary.

    Notes
    -----
    Singular value decomposition of the standardised figures. The scores count families of two drinks or more
    and leave out "other", which is what is left over.

    Examples
    --------
    >>> seen = classics_map()
    >>> seen.kept.round(2).tolist(), seen.words[0]
    ([0.5, 0.3, 0.2], 'more strength, less sugar and acid')
    """
    known = known if known is not None else _classics.load()
    figures = tuple(one_of("figure of the map", f, MOVED) for f in figures)
    if len(figures) < 2 or len(set(figures)) < len(figures):
        raise InputError("figures of the map", ", ".join(figures), f"two or more different ones of {', '.join(MOVED)}")
    if drink is not None and not (isinstance(drink, Profile) and np.ndim(drink.abv) == 0):
        told = f"{np.size(drink.abv)} drinks" if isinstance(drink, Profile) else f"a {type(drink).__name__}"
        raise InputError("drink", Told(told), "the profile of one drink")
    raw = np.column_stack([getattr(reference(known), f) for f in figures])
    mean, sd = raw.mean(axis=0), raw.std(axis=0)
    if len(raw) < 3 or sd.min() < 1e-9:  # less is rounding
        flat = ", ".join(WORDS[f] for f, s in zip(figures, sd, strict=True) if s < 1e-9) or "every figure"
        raise InputError("classics", Told(f"{len(raw)} drinks, alike in {flat}"), "three or more that differ")
    z = (raw - mean) / sd
    _, sizes, axes = np.linalg.svd(z, full_matrices=False)
    axes *= np.sign(axes[np.arange(len(axes)), np.abs(axes).argmax(axis=1)])[:, None]  # the largest is "more"
    kept = sizes**2 / (sizes**2).sum()
    coordinates = z @ axes.T
    names = np.array(known.families)
    counted = np.array([f != NO_FAMILY and (names == f).sum() > 1 for f in names])
    if len(set(names[counted])) < 2:
        raise InputError("families of the classics", ", ".join(sorted(set(names))), "two or more of two drinks each")
    on_map = silhouette(coordinates[counted, :2], names[counted])
    on_figures = silhouette(z[counted], names[counted])
    result = {
        "figures": figures,
        "kept": kept,
        "loadings": axes,
        "words": tuple(_axis_words(figures, axis) for axis in axes),
        "plain": {(f, g): _kept_by(z, [i, j]) for (i, f), (j, g) in itertools.combinations(enumerate(figures), 2)},
        "score": float(on_map.mean()),
        "plain_score": float(on_figures.mean()),
        "families": {
            str(f): float(on_figures[names[counted] == f].mean()) for f in dict.fromkeys(names[counted].tolist())
        },
    }
    place = None
    if drink is not None:
        place = (np.array([getattr(drink, f) for f in figures]) - mean) / sd @ axes.T
    return Map(**result, coordinates=coordinates, drink=place, said=_what_one_sees(len(raw), **result))


def silhouette(points, groups) -> np.ndarray:
    """How much nearer each point is to its own group than to the next nearest, -1 to 1.

    Parameters
    ----------
    points : array, shape (n, dimensions)
    groups : sequence of n
        Two different ones at least.

    Returns
    -------
    array, shape (n,)
        (b - a) / max(a, b): a the mean distance to the others of its group, b that to the nearest other group;
        0 for one that is alone in its group.

    Raises
    ------
    InputError
        For one group alone, or not a group for each point.

    Notes
    -----
    P. J. Rousseeuw, J. Comput. Appl. Math. 20 (1987) 53-65; straight-line distances.

    Examples
    --------
    >>> silhouette([[0], [1], [10]], ["a", "a", "b"]).tolist()
    [0.9, 0.889, 0.0]
    """
    points = np.asarray(points, float)
    of = np.unique(np.asarray(groups), return_inverse=True)[1]
    member = np.equal.outer(of, np.arange(of.max() + 1))  # (n, groups)
    if len(points) != len(of) or member.shape[1] < 2:
        told = Told(f"{member.shape[1]} among {len(points)} points")
        raise InputError("groups", told, "one for each point, two different ones at least")
    sizes = member.sum(axis=0)
    total = np.linalg.norm(points[:, None] - points, axis=-1) @ member
    rows = np.arange(len(of))
    own = total[rows, of] / np.maximum(sizes[of] - 1, 1)
    others = total / sizes
    others[rows, of] = np.inf
    nearest = others.min(axis=1)
    larger = np.maximum(own, nearest)
    return np.divide(nearest - own, larger, out=np.zeros(len(of)), where=(sizes[of] > 1) & (larger > 0))


def _kept_by(z: np.ndarray, columns: list[int]) -> float:
    """Share of the variance of all columns that these explain, themselves and by least squares."""
    fitted = z[:, columns] @ np.linalg.lstsq(z[:, columns], z, rcond=None)[0]
    return float((fitted**2).sum() / (z**2).sum())


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _score(value: float) -> str:
    return f"{value:z.2f}".replace("-", "−")


def _axis_words(figures: Sequence[str], axis: np.ndarray) -> str:
    """What an axis holds much of: loadings of at least half the largest."""
    telling = [(WORDS[f], a) for f, a in zip(figures, axis, strict=True) if abs(a) >= 0.5 * np.abs(axis).max()]
    sides = (("more", [w for w, a in telling if a > 0]), ("less", [w for w, a in telling if a < 0]))
    return ", ".join(f"{side} {_and(words)}" for side, words in sides if words)


def _what_one_sees(count: int, *, figures, kept, words, plain, score, plain_score, families, **_) -> str:
    best = max(plain, key=plain.get)
    verdict = next(text for least, text in SCORES if plain_score > least)
    scored = {f: f"{f} ({_score(s)})" for f, s in families.items()}
    apart = [scored[f] for f, s in families.items() if s > SCORES[2][0]]
    mixed = [scored[f] for f, s in families.items() if round(s, 2) < 0]
    lines = [
        f"Two axes keep {100 * kept[:2].sum():.0f} % of how {count} classics differ in "
        f"{_and([WORDS[f] for f in figures])}: the first is {words[0]}; the second is {words[1]}.",
        f"The best plain pair, {' × '.join(WORDS[f] for f in best)}, keeps {100 * plain[best]:.0f} %; two of "
        f"{len(figures)} unrelated figures would keep {200 / len(figures):.0f} %.",
        f"The families {verdict}: their score is {_score(plain_score)} on the plain figures and "
        f"{_score(score)} on the two axes (1 is well apart, 0 is at the edge of another family).",
    ]
    if apart:
        lines.append(f"Best apart: {_and(apart)}.")
    if mixed:
        lines.append(f"Nearer to another family than to their own: {_and(mixed)}.")
    return " ".join(lines)
