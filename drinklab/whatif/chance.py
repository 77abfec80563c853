"""How sure a drink is: made over and over by chance, and whether two differ by more than that."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import stage, steps, trial
from ..classics import Classics
from ..declared import Declared, declared
from ..liquid import Liquid
from ..pantry import Pantry
from ..profile import FIGURES, KINDS, Profile
from ..recipe import Recipe
from ..setting import Setting, as_setting
from ..steps import Draw
from .versions import FRUIT, MOVED, ROW, blocks, counted, inside_of, limits_of, served_figures, shelf_of

SOURCES = ("fruit", "bottles", "measuring tool", "melt water", "later steps")  # the last where there are some


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
        Cautions and allergens of the whole drink.
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
    classics: Classics | None = None,
    **changes: Any,
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
    shelf, draws = shelf_of(pantry), counted(draws, seed)
    setting = trial.knowing(as_setting(drink, **changes | ({} if tool is None else {"tool": tool})), shelf)
    recipe, tool = setting.recipe, setting.tool
    bottles, limits = recipe.bottles(shelf), limits_of(limits, recipe, classics)
    amounts, compositions = trial.drawn(recipe, bottles, tool, draws, seed, shelf.learned)
    by_chance = steps.draws(draws, seed)
    chance = _melt_chance(setting, amounts, compositions, by_chance, shelf)
    fruit = np.array([b.kind == FRUIT for b in bottles])
    sources = SOURCES if setting.steps else SOURCES[:-1]
    tables = np.empty((1 + len(sources), len(FIGURES), 1 + draws))
    for part, of in blocks(1 + draws):
        drawn, written = compositions[of], np.broadcast_to(amounts[0], (len(of), len(bottles)))
        alone = trial.poured(recipe, written, compositions[0])
        some = functools.partial(lambda source, of: np.asarray(by_chance(source))[of], of=of)
        cases = (  # everything at once, then one source at a time
            (trial.poured(recipe, amounts[of], drawn), chance[of], some),
            (_with_drawn(recipe, amounts[0], drawn, compositions[0], fruit), 1.0, steps.estimate),
            (_with_drawn(recipe, amounts[0], drawn, compositions[0], ~fruit), 1.0, steps.estimate),
            (trial.poured(recipe, amounts[of], compositions[0]), 1.0, steps.estimate),
            (alone, chance[of], steps.estimate),
            (alone, 1.0, some),
        )
        for k, (poured, melt_varies, draw) in enumerate(cases[: len(tables)]):
            melts, _, _ = trial.melted(setting, *poured, known=shelf.learned)
            tables[k, :, part] = served_figures(setting, *poured, melts * melt_varies, draw)[:, 1:]
    together = tables[0, :, 1:]
    low, high = stage.ends(together)
    middle = np.median(together, axis=1)
    inside = inside_of(together, limits)
    variance = {f: tables[:, ROW[f], 1:].var(axis=1).tolist() for f in MOVED}
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
        declared=declared(*setting.brings(shelf)),
    )


def _divide(part: float, whole: float) -> float:
    return part / whole if whole > 1e-12 else 0.0  # less is rounding


def _melt_chance(
    setting: Setting, amounts: np.ndarray, compositions: np.ndarray, draw: Draw, shelf: Pantry
) -> np.ndarray:
    """By what the melt water of each version is more or less, as `trial.run` draws it; 1 is what is expected."""
    before, top = trial.poured(setting.recipe, amounts[:1], compositions[:1])
    trial.check_dissolved(before[0], setting.recipe)
    melts, pm, _ = trial.melted(setting, before, top, exact=True, known=shelf.learned)
    return np.broadcast_to(trial.melt_chance(float(melts[0]), pm, draw), len(amounts))


def _with_drawn(
    recipe: Recipe, amounts: np.ndarray, drawn: np.ndarray, composition: np.ndarray, which: np.ndarray
) -> tuple[Liquid, Liquid | None]:
    """Poured with only some of the bottles drawn; the others are their estimate."""
    varied = trial.poured(recipe, np.where(which, amounts, 0.0), drawn)
    fixed = trial.poured(recipe, np.where(which, 0.0, amounts), composition)
    tops = None if varied[1] is None or fixed[1] is None else varied[1] + fixed[1]
    return varied[0] + fixed[0], tops


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
    *,
    pantry: Pantry | None = None,
    draws: int = 10_000,
    seed: int = 1,
    **changes: Any,
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
    shelf, draws = shelf_of(pantry), counted(draws, seed)
    draw = steps.draws(draws, seed)
    tables = []
    for name, drink in zip("AB", (a, b), strict=True):
        setting = trial.knowing(as_setting(drink, **changes), shelf)
        bottles = setting.recipe.bottles(shelf)
        amounts, compositions = trial.drawn(setting.recipe, bottles, setting.tool, draws, seed, shelf.learned)
        # The same draws of B's pours and ice, moved on by one drink, are independent of A's; the bottles stay.
        turn = np.r_[0, np.roll(np.arange(1, draws + 1), 1)] if name == "B" else slice(None)
        chance = _melt_chance(setting, amounts, compositions, draw, shelf)[turn]
        before, top = trial.poured(setting.recipe, amounts[turn], compositions)
        melts, _, _ = trial.melted(setting, before, top, known=shelf.learned)
        turned = functools.partial(lambda source, turn: np.asarray(draw(source))[turn], turn=turn)
        tables.append(served_figures(setting, before, top, melts * chance, turned))

    said = []
    for figure in COMPARED:
        one, two = (t[ROW[figure]] for t in tables)
        if not (np.isfinite(one).all() and np.isfinite(two).all()):
            continue
        apart = one - two
        low, high = (float(end[0]) for end in stage.ends(apart[None, 1:]))
        alike = max(abs(low), abs(high)) < 1e-9  # less is rounding
        verdict = SAME if alike else DIFFERS if low > 0 or high < 0 else CANNOT_TELL
        said.append(
            Difference(figure, KINDS[figure].label, float(one[0]), float(two[0]), float(apart[0]), low, high, verdict)
        )
    return tuple(said)
