"""A trial: a recipe taken through its stages, each measured, each with its uncertainty.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
>>> [stage.name for stage in run(sour).stages]
['mixed', 'with ice', 'served']
"""

from __future__ import annotations

import functools
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from . import balance, carbonation, clarification, dilution, gels, strength
from . import pantry as _pantry
from .balance import FIGURES, Profile, profile
from .declared import HOT_LIQUID, each_once, recipe_cautions, told_once
from .errors import InputError, Told, one_of
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .recipe import Recipe
from .steps import Caution, Draw, Outcome, Step, estimate, normal
from .steps import draws as _draws_of
from .units import FLUID_OUNCE, number, to_ml, whole_number

DRAWS = 1000
_PH_DRAWS = 200
# Half-widths that hold 19 pours in 20: [mL], and as a share of the pour; the wider of a few drops' worth
# never exceeds half the pour. Common practice, no published source.
TOOLS = {
    "jigger": (1.0, 0.03),
    "scale": (0.5, 0.0),
    "free pour": (2.0, 0.10),
    "exact": (0.0, 0.0),
}
# Alcohol in one serve from which to warn [g], two of the largest common standard drinks in North America,
# and strength as served [% vol]. Common practice, no published source.
STRONG_SERVE = (28.0, 32.0)


@dataclass(frozen=True, slots=True)
class Ice:
    """Chill on ice: melt water, as a share of the volume before it."""

    melt: float | np.ndarray
    name: str = "with ice"

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Add the melt water."""
        after = dilution.add_melt(liquid, self.melt)
        return Outcome(after, added=Liquid(after.grams - liquid.grams))


@dataclass(frozen=True, slots=True)
class Top:
    """Add what comes after the ice."""

    liquid: Liquid
    name: str = "topped"

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Pour it in."""
        return Outcome(liquid + self.liquid, added=self.liquid)


@dataclass(frozen=True, slots=True)
class Serve:
    """Pour a share of the drink into the glass."""

    share: float | np.ndarray
    name: str = "served"

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Into the glass, and what stays in the tin."""
        return Outcome(self.share * liquid, (1 - self.share) * liquid)


# What can be done to a drink after ice and top, and comes back with a saved trial.
LATER_STEPS = (
    clarification.MilkWash, clarification.Filter, carbonation.Chill, carbonation.Carbonate, carbonation.Pour,
    gels.Set, gels.Boil,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
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
    # The drink whose salts the sums are not sure of: a milk's, which a step brings, vary in the draws already.
    salts: Liquid | None = field(default=None, repr=False, compare=False)

    def spread(self, figure: str) -> float:
        """Half the width between low and high, for a "±"; not a number where nothing was drawn."""
        if self.liquid.grams[0].size == 1:
            return float("nan")
        return (getattr(self.high, figure) - getattr(self.low, figure)) / 2

    @property
    def ph(self) -> tuple[float, float] | None:
        """pH, and the half-width that holds 19 results in 20: the draws' (the first 200 will do) and the
        calculation's own. None where next to nothing sour is in it, and the pH is not known."""
        found = balance.ph(self.liquid[: _PH_DRAWS + 1])
        own = 2 * balance.ph_pm((self.salts or self.liquid)[0])
        spread = float(np.hypot(2 * found[1:].std(), own)) if found.size > 1 else own
        return (float(found[0]), spread) if spread < 2 * balance.MOST_PM else None

    @property
    def gas(self) -> tuple[float, float]:
        """Carbon dioxide: best estimate, and the half-width that holds 19 results in 20. [g/L]"""
        held = 1000 * self.liquid.co2 / self.liquid.volume()
        low, high = ends(held[None, 1:]) if held.size > 1 else (held, held)
        return float(held[0]), float(high[0] - low[0]) / 2


@dataclass(frozen=True, slots=True)
class Trial:
    """The outcome of `run`: what was asked, the stages, the cautions and allergens.

    `melt` is a share of the volume before ice, `melt_pm` the half-width that holds 19 drinks in 20. [mL/mL]
    """

    recipe: Recipe
    pantry: Pantry = field(repr=False)
    stages: tuple[Stage, ...]
    melt: float
    melt_pm: float
    melt_by_rule: bool
    ice: dilution.OwnIce | None
    chill: dilution.Chill | None
    notes: tuple[str, ...]
    serve_volume: float | None
    tool: str
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    allergens: tuple[str, ...]
    may_contain: tuple[str, ...]
    unstated: tuple[str, ...]

    @property
    def melt_basis(self) -> str:
        """On whose word the melt water is what it is."""
        if self.chill is not None:
            return "energy balance of your own ice" + (", as weighed" if self.ice.miss is not None else "")
        return dilution.basis(self.recipe.technique, self.recipe.serve) if self.melt_by_rule else "set by hand"

    @property
    def melt_pm_words(self) -> str:
        """The melt water's ± in words: "± 20 %", or the scale's where it was weighed or set by hand."""
        if self.melt_by_rule or (self.ice is not None and self.ice.miss is None):
            return f"± {100 * dilution.MELT_SPREAD:.0f} %"
        return f"± {self.melt_pm * self.stages[0].profile.volume:.1f} g, as a scale has it"

    @property
    def served(self) -> Stage:
        """The last stage: what the guest gets."""
        return self.stages[-1]

    def frame(self):
        """One row a stage, as a pandas DataFrame: each figure with its low and high."""
        import pandas as pd

        rows = [
            {"stage": s.name}
            | {k: v for f in FIGURES for k, v in (
                (f, getattr(s.profile, f)), (f"{f}_low", getattr(s.low, f)), (f"{f}_high", getattr(s.high, f)))}
            for s in self.stages
        ]  # fmt: skip
        return pd.DataFrame(rows).set_index("stage")


def difference(trial: Trial, baseline: Trial) -> dict[str, float]:
    """Served figures of `trial` less those of `baseline`, signed, in their own units."""
    return {f: getattr(trial.served.profile, f) - getattr(baseline.served.profile, f) for f in FIGURES}


def run(
    recipe: Recipe,
    pantry: Pantry | None = None,
    *,
    melt: float | None = None,
    ice: dilution.OwnIce | None = None,
    serve_volume: float | None = None,
    tool: str = "jigger",
    draws: int = DRAWS,
    seed: int = 1,
    country: str = "United States",
    more_steps: Sequence[Step] = (),
) -> Trial:
    """Take a recipe through its stages.

    Mixed, with ice (by the rule of its technique), topped if it has a top, then `more_steps`, served. What
    the steps bring and leave behind is checked to add up.
    The best estimate and `draws` random versions of the drink run side by side through the same code:
    bottles and fruit vary by their uncertainty, each pour by the measuring tool's, the melt water by
    `dilution.MELT_SPREAD` around what each version's own strength gives; melt set by hand or weighed varies as a
    scale does. The same seed gives the same draws, so that figures do not flicker.

    Parameters
    ----------
    recipe : Recipe
    pantry : Pantry, optional
    melt : float, optional
        Melt water as a share of the volume before ice, in place of the rule. [mL/mL]
    ice : dilution.OwnIce, optional
        Your own ice and time: melt water by the energy balance, in place of the rule. Where the two do not
        agree (`dilution.agrees`), `notes` says so.
    serve_volume : float, optional
        What goes in the glass; all of it by default. [mL]
    tool : str
        A key of `TOOLS`.
    draws : int
        Random versions; 0 for none (low and high are then the estimate itself).
    more_steps : sequence of Step
        What is done after ice and top, in this order: a milk wash, a filter, gas.
    country : str
        Whose standard drinks the caution on a strong serve counts in.

    Returns
    -------
    Trial

    Raises
    ------
    InputError
        For what cannot be poured, chilled or served.

    Examples
    --------
    >>> stirred = Recipe.parse("60 mL rye whiskey, 45 %\\n30 mL sweet red vermouth, 16 %")
    >>> [round(stage.profile.abv, 1) for stage in run(stirred).stages]
    [35.4, 24.7, 24.7]
    """
    shelf = pantry if pantry is not None else _pantry.load()
    one_of("tool", tool, TOOLS)
    if melt is not None and ice is not None:
        raise InputError("melt water", melt, "left out when your own ice is given")
    if ice is not None and not isinstance(ice, dilution.OwnIce):
        raise InputError("ice", ice, "an OwnIce: its grams, temperature and time")
    melt = checked_melt(melt)
    draws, seed = whole_number(draws, "draws"), whole_number(seed, "seed", high=2**63 - 1)
    for step in more_steps if isinstance(more_steps, (list, tuple)) else [more_steps]:
        if not callable(getattr(step, "act", None)) or step is more_steps:
            raise InputError("more steps", Told(f"a {type(step).__name__}"), "a list of steps, such as [Filter()]")
    if serve_volume is not None:
        serve_volume = to_ml(serve_volume, field="serve size")
    bottles = recipe.bottles(shelf)
    amounts, compositions = drawn(recipe, bottles, tool, draws, seed)
    later = recipe.after
    liquid = Liquid.poured(np.where(later, 0.0, amounts), compositions)
    check_dissolved(liquid[0], recipe)

    top = Liquid.poured(np.where(later, amounts, 0.0), compositions) if later.any() else None
    by_rule, chill, notes = melt is None and ice is None, None, []
    if by_rule:
        # The drink as written must lie where the rule holds; chance versions of it are held at its ends.
        dilution.melt_by_rule(liquid[:1], top if top is None else top[:1], recipe.technique, recipe.serve)
        melts = dilution.melt_by_rule(liquid, top, recipe.technique, recipe.serve, held=True)
        pm = dilution.MELT_SPREAD * melts[0]
    elif ice is not None:
        chill, melts = _over_own_ice(recipe, ice, liquid, top)
        # What was left to the usual is settled, so that it can be shown and saved.
        ice = replace(ice, seconds=float(chill.seconds))
        pm = dilution.melt_pm(chill, ice.miss) / chill.dilution * melts[0] if chill.dilution else 0.0
        notes.append(_beside_the_rule(float(melts[0]), recipe, liquid, top))
    else:
        melts = np.full(liquid.shape, melt)
        before = float(liquid[0].volume())
        pm = dilution.weighed_pm(melt * before) / before
    melt, pm = float(melts[0]), float(pm)
    draw = _draws_of(draws, seed)
    steps: list[Step] = []
    if melt > 0:
        steps.append(Ice(melts * np.maximum(1 + pm / melt / 2 * draw("melt water"), 0.0)))
    if top is not None:
        steps.append(Top(top))
    steps.extend(more_steps)

    stages = [_stage("mixed", liquid)]
    cautions: list[Caution] = []
    brought: list[str] = []
    salts = None
    first_later = len(steps) - len(more_steps)
    for place, step in enumerate(steps):
        if isinstance(step, carbonation.Carbonate) and (stages[-1].temperature or 0.0) >= carbonation.HOT:
            cautions.append(HOT_LIQUID)
        outcome = step.act(liquid, draw)
        _check_mass(step, liquid, outcome)
        if salts is None and place >= first_later and outcome.added is not None and np.any(outcome.added.potassium):
            salts = liquid
        liquid = outcome.liquid
        warmth = outcome.temperature if outcome.temperature is not None else stages[-1].temperature
        stages.append(_stage(step.name, liquid, warmth, salts))
        cautions.extend(outcome.cautions)
        brought.extend(outcome.allergens)
        notes.extend(outcome.notes)
    if serve_volume is None:
        stages.append(replace(stages[-1], name="served"))
    else:
        share = _share(serve_volume, liquid.volume(), stages[-1].profile.volume)
        stages.append(_stage("served", Serve(share).act(liquid).liquid, stages[-1].temperature, salts))

    used = [b for b, pour in zip(bottles, recipe.pours, strict=True) if pour.amount > 0]
    return Trial(
        recipe=recipe,
        pantry=shelf,
        stages=tuple(stages),
        melt=melt,
        melt_pm=pm,
        melt_by_rule=by_rule,
        ice=ice,
        chill=chill,
        notes=tuple(notes),
        serve_volume=serve_volume,
        tool=tool,
        steps=tuple(more_steps),
        cautions=told_once([*_serve_cautions(stages[-1].profile, country), *recipe_cautions(recipe, shelf), *cautions]),
        allergens=each_once([*(b.allergens for b in used), brought]),
        may_contain=each_once(b.may_contain for b in used),
        unstated=each_once(b.unstated for b in used),
    )


def _over_own_ice(recipe: Recipe, ice: dilution.OwnIce, before: Liquid, after: Liquid | None):
    """The drink as written over its ice, and the melt water of every version. [mL/mL]

    Versions take theirs by their strength, straight between that of the drink and those of two near the ends of
    what was drawn: the balance is nearly straight there, and the slider that moves is not kept waiting.
    """
    iced = dilution.iced(before, after, recipe.technique)
    abv = profile(iced).abv
    ranked = np.argsort(abv[1:]) + 1
    ends = ranked[[int(0.025 * len(ranked)), int(0.975 * len(ranked))]] if len(ranked) else []
    found = [ice.chill(iced[i], recipe.technique) for i in (0, *ends)]
    at, melts = zip(*sorted((float(abv[i]), c.dilution) for i, c in zip((0, *ends), found, strict=True)), strict=True)
    return found[0], np.interp(abv, at, melts) * iced.volume() / before.volume()


def _beside_the_rule(melt: float, recipe: Recipe, before: Liquid, after: Liquid | None) -> str:
    drink = dilution.iced(before, after, recipe.technique)[0]
    rule = dilution.published(profile(drink).abv, recipe.technique, recipe.serve)
    if rule is None:
        return f"Melt water by your ice: {100 * melt:.0f} %. The published rule does not cover this strength."
    rule *= drink.volume() / before[0].volume()
    said = f"Melt water by your ice: {100 * melt:.0f} %; by the published rule: {100 * rule:.0f} %."
    if not dilution.agrees(melt, rule):
        said += " They differ by more than ± 20 %: weigh one drink before and after ice to see which holds at your bar."
    return said


def _share(serve_volume: float, volumes: np.ndarray, volume: float) -> np.ndarray:
    """What share of each drawn drink fills the glass: a glass is measured, whatever was made."""
    if not 0 < serve_volume <= volume * (1 + 1e-9):
        most = f"above 0 and at most what the drink makes, {volume:.0f} mL ({volume / FLUID_OUNCE:.2f} oz)"
        raise InputError("serve size", Told(f"{serve_volume:.0f} mL"), most)
    return np.minimum(serve_volume / volumes, 1.0)


def checked_melt(melt) -> float | None:
    """Melt water set by hand, 0 to 3 of the volume before ice, or None for the rule. [mL/mL]"""
    if melt is not None:
        melt = number(melt, "melt water")
        if not (np.ndim(melt) == 0 and 0 <= melt <= 3):
            most = 100 * float(np.max(melt))
            told = Told(f"{most:.0f} %") if np.isfinite(most) else most
            raise InputError("melt water", told, "0 to 300 % of the volume before ice")
    return melt


def _check_mass(step: Step, before: Liquid, outcome: Outcome) -> None:
    """Grams in are grams out: a step that loses or makes some is a mistake in the step."""
    gone = before.mass + sum(part.mass for part in (outcome.added,) if part is not None)
    came = outcome.liquid.mass + sum(part.mass for part in (outcome.left,) if part is not None)
    if not np.allclose(gone, came, rtol=1e-6):
        off = float(np.max(np.abs(np.asarray(came) - gone)))
        raise InputError(f"mass of the step {step.name!r}", Told(f"{off:.3g} g off"), "the same before and after")


def _stage(name: str, liquid: Liquid, temperature: float | None = None, salts: Liquid | None = None) -> Stage:
    figures = profile(liquid)
    table = np.array([getattr(figures, f) for f in FIGURES])
    low, high = ends(table[:, 1:]) if table.shape[1] > 1 else (table[:, 0], table[:, 0])
    best, low, high = (Profile(*map(float, column)) for column in (table[:, 0], low, high))
    return Stage(name, best, low, high, liquid, temperature, salts)


def ends(table: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """2.5th and 97.5th percentile of each row, by rank: percentiles proper are slower and no truer here."""
    n = table.shape[1]
    low, high = int(0.025 * (n - 1)), int(np.ceil(0.975 * (n - 1)))
    ranked = np.partition(table, [low, high], axis=1)
    return ranked[:, low], ranked[:, high]


def drawn(recipe: Recipe, bottles: Sequence[Ingredient], tool: str, draws: int, seed: int):
    """Amounts (1 + draws, pours) and compositions (1 + draws, pours, components); row 0 is the estimate."""
    absolute, relative = TOOLS[tool]
    seen: dict[str, int] = {}
    amounts = np.empty((1 + draws, len(bottles)))
    for i, pour in enumerate(recipe.pours):
        again = seen[pour.ingredient] = seen.get(pour.ingredient, -1) + 1
        # Half-width of 19 in 20 is two standard deviations.
        sd = min(absolute + relative * pour.amount, 0.5 * pour.amount) / 2
        noise = normal(pour.ingredient, draws, seed, again)
        amounts[:, i] = np.maximum(pour.amount + sd * noise, 0.0)
    return amounts, _shelf_draws(tuple(bottles), draws, seed)


# Draws depend on the bottles alone, not on how much is poured: kept, so that a moved slider pays nothing.
@functools.lru_cache(maxsize=16)
def _shelf_draws(bottles: tuple[Ingredient, ...], draws: int, seed: int) -> np.ndarray:
    return np.stack([_bottle_draws(bottle, draws, seed) for bottle in bottles], axis=1)


@functools.lru_cache(maxsize=64)
def _bottle_draws(bottle: Ingredient, draws: int, seed: int) -> np.ndarray:
    random = np.random.default_rng([seed, zlib.crc32(bottle.id.encode())])
    return np.concatenate([bottle.composition[None], bottle.draws(draws, random)])


def check_dissolved(mixed: Liquid, recipe: Recipe) -> None:
    """Refuse more sugar than the drink's water can hold; ice and a top come too late to dissolve it."""
    most = _pantry.MOST_SUCROSE
    share = mixed.sucrose / (mixed.sucrose + mixed.water) if mixed.sucrose else 0.0
    if share > most:
        raise InputError(
            f"sugar of {recipe.name!r} before ice",
            Told(f"{mixed.sucrose:.0f} g in {mixed.water:.0f} g of water"),
            f"at most {mixed.water * most / (1 - most):.0f} g to dissolve at 20 °C, and less with much alcohol",
        )


def _serve_cautions(served: Profile, country: str) -> list[Caution]:
    count = strength.standard_drinks(served.alcohol, country)
    size = strength.countries()[country]
    if served.alcohol < STRONG_SERVE[0] and served.abv < STRONG_SERVE[1]:
        return []
    return [
        Caution(
            "strong serve",
            f"Strong serve: {served.alcohol:.0f} g of alcohol at {served.abv:.0f} % vol, {count:.1f} standard drinks "
            f"({country}, {size:g} g each). Say so on the menu, offer water and a smaller serve, and follow your "
            "local licensing rules.",
        )
    ]
