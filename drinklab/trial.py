"""A trial: a recipe taken through its stages, each measured, each with its uncertainty.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
>>> [stage.name for stage in run(sour).stages]
['mixed', 'with ice', 'served']
"""

from __future__ import annotations

import functools
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from . import boiling, carbonation, dilution, gels, milk, spirited, strength
from . import pantry as _pantry
from .declared import HOT_LIQUID, Declared, declared, each_once, garnished, gassed_cautions, recipe_cautions, told_once
from .errors import InputError, Told
from .facts import Fact, say
from .kinds import ABV, LITRES, TEMPERATURE, VOLUME, Number
from .learned import MELT_SPREAD, Known, Melting, by_measure, melting, tool_of
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .profile import FIGURES, Profile, profile
from .recipe import PLAIN_WATER, Recipe
from .setting import (
    DRAWS,
    LATER_STEPS,
    TOOLS,
    Setting,
    as_setting,
    check_dissolved,
    checked_melt,
    knowing,
    learned_in,
)  # fmt: skip
from .stage import Stage, stage_of
from .steps import AddWater, Caution, Draw, Outcome, Step, estimate, normal
from .steps import draws as _draws_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "DRAWS", "LATER_STEPS", "TOOLS", "Setting", "Trial", "brings", "checked_melt", "difference", "run", "water_missing",
]  # fmt: skip
# Alcohol in one serve from which to warn [g], two of the largest common standard drinks in North America,
# and strength as served [% vol]. Common practice, no published source.
STRONG_SERVE = (28.0, 32.0)
HOT_SERVED = 65.0  # of a drink served hot; common practice, no published source [°C]
_OPENED = (carbonation.Pour, boiling.Boil, gels.Set)  # a gassed drink is in its closed vessel until then

# More than any glass holds: all of a batch, not a serve. Common practice, no published source. [mL]
MOST_GLASS = 1000.0


@dataclass(frozen=True, slots=True)
class Ice:
    """Chill on ice: melt water, as a share of the volume before it."""

    melt: Number
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
class Trial:
    """The outcome of `run`: the setting that was asked, the stages, the cautions and allergens.

    `melt` is a share of the volume before ice, `melt_pm` the half-width that holds 19 drinks in 20. [mL/mL]
    `beside` are the trials of what goes with each glass; cautions and allergens are of the whole.
    """

    setting: Setting
    pantry: Pantry = field(repr=False)
    stages: tuple[Stage, ...]
    melt: float
    melt_pm: float
    chill: dilution.Chill | None
    said: tuple[Fact | str, ...]
    cautions: tuple[Caution, ...]
    allergens: tuple[str, ...]
    may_contain: tuple[str, ...]
    unstated: tuple[str, ...]
    beside: tuple[Trial, ...] = ()
    # Each later step, the drink before it, and what becomes of it.
    worked: tuple[tuple[Step, Liquid, Outcome], ...] = field(default=(), repr=False, compare=False)

    @property
    def notes(self) -> tuple[str, ...]:
        """What is to be known of it, as sentences in mL and °C; a page says `said` in the chosen units."""
        return tuple(map(say, self.said))

    @property
    def named(self) -> tuple[str, ...]:
        """What its words, and those of what goes beside it, name that holds alcohol, and is in no figure."""
        return spirited.of_all((part.recipe, part.pantry) for part in (self, *self.beside))

    @property
    def uncounted(self) -> tuple[Fact, ...]:
        """What to say of that."""
        return spirited.told(self.named, float(self.served.profile.abv))

    @property
    def recipe(self) -> Recipe:
        """What was poured."""
        return self.setting.recipe

    @property
    def ice(self) -> dilution.OwnIce | None:
        """Your own ice, what was left to the usual settled."""
        return self.setting.ice

    @property
    def melt_by_rule(self) -> bool:
        """Whether the melt water is by the rule of the technique."""
        return self.setting.melt is None and self.setting.ice is None

    @property
    def serve_volume(self) -> float | None:
        """What goes in one glass, as it was set. [mL]"""
        return self.setting.serve_volume

    @property
    def tool(self) -> str:
        """What the pours are measured by."""
        return self.setting.tool

    @property
    def steps(self) -> tuple[Step, ...]:
        """What is done after ice and top."""
        return self.setting.steps

    @property
    def made(self) -> Profile:
        """All that is made, before it is shared out into glasses."""
        return self.stages[-2].profile

    @property
    def left_over(self) -> float:
        """What is made and in no glass. [mL]"""
        return max(float(self.made.volume - self.setting.serves * self.served.profile.volume), 0.0)

    @property
    def alcohol(self) -> float:
        """In one glass and what goes with it. [g]"""
        return sum(float(one.served.profile.alcohol) for one in (self, *self.beside))

    @property
    def melt_basis(self) -> str:
        """On whose word the melt water is what it is."""
        if self.chill is not None:
            return "energy balance of your own ice" + (", as weighed" if self.ice and self.ice.miss is not None else "")
        if not self.melt_by_rule:
            return "set by hand"
        basis, share = dilution.basis(self.recipe.technique, self.recipe.serve), self._of_rule.share
        return f"{100 * share:.0f} % of it as measured here: {basis}" if share != 1.0 and self.melt > 0 else basis

    @property
    def _of_rule(self) -> Melting:
        return melting(self.recipe.technique, self.pantry.learned)

    @property
    def melt_pm_words(self) -> str:
        """The melt water's ± in words: "± 20 %", or the scale's where it was weighed or set by hand."""
        if self.melt_by_rule:
            return f"± {100 * self._of_rule.spread:.0f} %"
        if self.ice is not None and self.ice.miss is None:
            return f"± {100 * MELT_SPREAD:.0f} %"
        return f"± {self.melt_pm * self.stages[0].profile.volume:.1f} g, as a scale has it"

    @property
    def served(self) -> Stage:
        """The last stage: what the guest gets."""
        return self.stages[-1]

    def frame(self) -> pd.DataFrame:
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


def brings(trial: Trial, baseline: Trial) -> Declared:
    """What is to be said of `trial` that was not of `baseline`: of what is swapped in, before anybody takes it.

    >>> sours = (run(Recipe.parse(f"60 mL gin\\n20 mL {name}"), draws=0) for name in ("orgeat", "sugar syrup"))
    >>> brings(*sours).allergens
    ('nuts (almond)',)
    """
    told = {caution.code for caution in baseline.cautions}
    names = "allergens", "may_contain", "unstated"
    more = (tuple(w for w in getattr(trial, name) if w not in getattr(baseline, name)) for name in names)
    return Declared(tuple(caution for caution in trial.cautions if caution.code not in told), *more)


def run(drink: Recipe | Setting, *, pantry: Pantry | None = None, **changes: Any) -> Trial:
    """Take a drink through its stages.

    Mixed, with ice (by the rule of its technique), topped if it has a top, then its `steps`, served. What
    the steps bring and leave behind is checked to add up. What goes beside it is run the same way.
    The best estimate and `draws` random versions of the drink run side by side through the same code:
    bottles and fruit vary by their uncertainty, each pour by the measuring tool's, the melt water by
    what is left of `learned.MELT_SPREAD` around what each version's own strength gives (`learned.melting`); melt set by
    hand or weighed varies as a scale does. The same seed gives the same draws, so that figures do not flicker.

    Parameters
    ----------
    drink : Recipe or Setting
    pantry : Pantry, optional
    **changes
        Fields of `Setting` that are other than the drink's: melt, ice, steps, serves, tool ...

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
    >>> round(run(stirred, serve_volume="2 oz").served.profile.volume)
    59
    """
    shelf = pantry if pantry is not None else _pantry.load()
    setting = as_setting(drink, **changes)
    return run_beside(setting, shelf, [run(other, pantry=shelf) for other in setting.beside])


def run_beside(setting: Setting, shelf: Pantry, beside: Sequence[Trial]) -> Trial:
    """A drink through its stages, as by `run`, where what goes beside it has been run already."""
    recipe, at_bar = setting.recipe, knowing(setting, shelf)
    bottles = recipe.bottles(shelf)
    before, top = poured(recipe, *drawn(recipe, bottles, setting.tool, setting.draws, setting.seed, shelf.learned))
    check_dissolved(before[0], recipe)
    melts, pm, chill = melted(setting, before, top, known=shelf.learned)
    known: list[Fact | str] = []
    if chill is not None and setting.ice is not None:
        # What was left to the usual is settled, so that it can be shown and saved.
        setting = replace(setting, ice=replace(setting.ice, seconds=float(chill.seconds)))
        known += _beside_the_rule(float(melts[0]), recipe, before, top)
    melt = float(melts[0])
    draw = _draws_of(setting.draws, setting.seed)

    hot = recipe.serve == "hot"
    if hot:
        known.append(Fact("serve hot", at=TEMPERATURE(HOT_SERVED)))
    stages = [stage_of(before, "mixed", HOT_SERVED if hot else None)]
    said: list[Caution] = []
    brought: list[str] = []
    worked: list[tuple[Step, Liquid, Outcome]] = []
    used = [b for b, pour in zip(bottles, recipe.pours, strict=True) if pour.amount > 0]
    salts: Stage | None = None
    closed: carbonation.Carbonate | None = None
    last, raw = before, used
    asked = {id(step): was for step, was in zip(at_bar.steps, setting.steps, strict=True)}
    for done, outcome in forward(at_bar, before, top, melts * melt_chance(melt, pm, draw), draw):
        step = asked.get(id(done), done)
        warm = stages[-1].temperature
        if isinstance(step, carbonation.Carbonate) and (warm or 0.0) >= carbonation.HOT:
            said.append(HOT_LIQUID)
        if isinstance(step, carbonation.Carbonate) and carbonation.vessel_of(step.vessel).charges:
            said += gassed_cautions(recipe, shelf)
        if any(step is later for later in setting.steps):
            worked.append((step, last, outcome))
            if salts is None and outcome.added is not None and np.any(outcome.added.potassium):
                salts = stages[-1]
        last = outcome.liquid
        warm = outcome.temperature if outcome.temperature is not None else warm
        closed = step if isinstance(step, carbonation.Carbonate) else None if isinstance(step, _OPENED) else closed
        if closed is not None and warm is not None:
            closed.require_stands(last, warm)
        stages.append(stage_of(last, step.name, warm, salts, stages[-1]))
        said.extend(outcome.cautions)
        brought.extend(outcome.allergens)
        known.extend(outcome.said)
        raw = [] if isinstance(step, boiling.Boil) else raw
        if isinstance(step, gels.Set):
            known.extend(gels.raw_fruit(step.agent, raw))
    if setting.serve_volume is None and setting.serves == 1:
        stages.append(replace(stages[-1], name="served", same=stages[-1]))
    else:
        _check_serve(setting, float(stages[-1].profile.volume))
        stages.append(stage_of(glass(setting, last) * last, "served", stages[-1].temperature, salts, stages[-1]))

    known.extend(spirited.told(spirited.uncounted(recipe, shelf), float(stages[-1].profile.abv)))
    whole = declared(*beside, *garnished(recipe, shelf))
    alcohol = sum(float(stage.profile.alcohol) for stage in (stages[-1], *(other.served for other in beside)))
    holds = each_once([*(b.allergens for b in used), brought, whole.allergens])
    may_hold = (getattr(step, "may_contain", ()) for step in setting.steps)
    may = each_once([*(b.may_contain for b in used), *may_hold, whole.may_contain])
    strong = serve_cautions(stages[-1].profile, alcohol, setting.country)
    return Trial(
        setting=setting,
        pantry=shelf,
        stages=tuple(stages),
        melt=melt,
        melt_pm=pm,
        chill=chill,
        said=(*known, *(one.said(name) for one, name in learned_in(setting, shelf))),
        cautions=told_once([*strong, *recipe_cautions(recipe, shelf), *said, *whole.cautions]),
        allergens=holds,
        may_contain=tuple(word for word in may if word not in holds),
        unstated=each_once([*(b.unstated for b in used), whole.unstated]),
        beside=tuple(beside),
        worked=tuple(worked),
    )


def water_missing(now: Trial, wash: Step | None = None) -> float | None:
    """Water that a drink washed with milk lacks, mixed without ice and with none added, by the stirred rule.

    The rule is asked for the drink as it goes into the milk, whatever was done to it before; one that is stronger than
    the rule covers gets what the rule gives at its end.

    Parameters
    ----------
    now : Trial
    wash : Step, optional
        Which of its steps the wash is; its first `MilkWash` by default.

    Returns
    -------
    float or None
        A share of its volume just before the wash [mL/mL]; None where nothing is missing.

    Examples
    --------
    >>> from .milk import MilkWash
    >>> sour = Recipe.parse("60 mL gin, 40 %\\n30 mL lime juice\\n30 mL sugar syrup", technique="none")
    >>> round(water_missing(run(sour, steps=[MilkWash()])), 2), water_missing(run(sour))
    (0.34, None)
    """
    if now.melt > 0 or any(pour.ingredient in PLAIN_WATER and pour.amount > 0 for pour in now.recipe.pours):
        return None
    for step, before, _ in now.worked:
        if step is wash or (wash is None and isinstance(step, milk.MilkWash)):
            abv = min(float(profile(before[0]).abv), dilution.RULE_RANGE.high)
            return float(melting("stirred", now.pantry.learned).share * dilution.melt_fraction(abv, "stirred"))
        if isinstance(step, AddWater):
            return None
    return None


# --- the one way forward, for one drink and for any number of versions ----------------------------------------


def poured(recipe: Recipe, amounts: np.ndarray, compositions: np.ndarray) -> tuple[Liquid, Liquid | None]:
    """What meets the ice and what is added after it, for any axes of amounts or compositions."""
    later = recipe.after
    before = Liquid.poured(np.where(later, 0.0, amounts), compositions)
    return before, Liquid.poured(np.where(later, amounts, 0.0), compositions) if later.any() else None


class Melted(NamedTuple):
    """What ice adds: a share of the volume before it, the ± of the first [mL/mL], and how own ice chills the first."""

    melts: np.ndarray
    pm: float
    chill: dilution.Chill | None


def melted(setting: Setting, before: Liquid, top: Liquid | None, exact: bool = False, *, known: Known) -> Melted:
    """Melt water of each version of a drink, one axis, the first of them the drink as written.

    `exact` works own ice out for each version, not by the strength of three of them; `known` is what this bar has
    measured (`Pantry.learned`), its own share of the rule's melt among it. Where the drink as written lies outside
    the rule, an `InputError` says so.
    """
    recipe = setting.recipe
    if setting.ice is not None:
        chill, melts = _over_own_ice(recipe, setting.ice, before, top, exact)
        pm = dilution.melt_pm(chill, setting.ice.miss) / chill.dilution * melts[0] if chill.dilution else 0.0
        return Melted(melts, float(pm), chill)
    if setting.melt is not None:
        first = float(before[0].volume())
        pm = dilution.weighed_pm(setting.melt * first) / first
        return Melted(np.full(before.shape, setting.melt), float(pm), None)
    # The drink as written must lie where the rule holds; chance versions of it are held at its ends.
    dilution.melt_by_rule(before[:1], top if top is None else top[:1], recipe.technique, recipe.serve)
    ruled = dilution.melt_by_rule(before, top, recipe.technique, recipe.serve, held=not exact)
    of_rule = melting(recipe.technique, known)
    melts = np.asarray(of_rule.share * ruled)
    return Melted(melts, float(of_rule.spread * melts[0]), None)


def melt_chance(melt: float, pm: float, draw: Draw) -> np.ndarray | float:
    """By what the melt water of each version is more or less than expected; 1 is what is expected."""
    return np.maximum(1 + pm / melt / 2 * draw("melt water"), 0.0) if melt > 0 else 1.0


def forward(
    setting: Setting, before: Liquid, top: Liquid | None, melts: Number, draw: Draw = estimate
) -> Iterator[tuple[Step, Outcome]]:
    """Each step of a drink and what becomes of it, from the mixed drink to what is shared out into glasses."""
    steps: list[Step] = [Ice(melts)] if np.any(np.asarray(melts) > 0) else []
    if top is not None:
        steps.append(Top(top))
    liquid = before
    for step in (*steps, *setting.steps):
        outcome = step.act(liquid, draw)
        _check_mass(step, liquid, outcome)
        liquid = outcome.liquid
        yield step, outcome


def glass(setting: Setting, liquid: Liquid) -> np.ndarray | float:
    """What share of each version goes in one glass: a glass is measured, whatever was made."""
    if setting.serve_volume is None:
        return 1 / setting.serves
    return np.minimum(setting.serve_volume / liquid.volume(), 1.0)


def served(setting: Setting, before: Liquid, top: Liquid | None, melts: Number, draw: Draw = estimate) -> Liquid:
    """One glass of each version, the first of them the drink as written: what it makes must fill its glasses."""
    liquid = before
    for _, outcome in forward(setting, before, top, melts, draw):
        liquid = outcome.liquid
    _check_serve(setting, float(liquid[0].volume()))
    return glass(setting, liquid) * liquid


def _over_own_ice(
    recipe: Recipe, ice: dilution.OwnIce, before: Liquid, after: Liquid | None, exact: bool
) -> tuple[dilution.Chill, np.ndarray]:
    """The drink as written over its ice, and the melt water of every version. [mL/mL]

    Unless `exact`, versions take theirs by their strength, straight between that of the drink and those of two near
    the ends of what was drawn: the balance is nearly straight there, and the slider that moves is not kept waiting.
    """
    iced = dilution.iced(before, after, recipe.technique)
    if exact:
        each = np.atleast_1d(ice.chill(iced, recipe.technique).dilution)
        return ice.chill(iced[0], recipe.technique), each * iced.volume() / before.volume()
    abv = np.asarray(profile(iced).abv)
    ranked = np.argsort(abv[1:]) + 1
    ends = ranked[[int(0.025 * len(ranked)), int(0.975 * len(ranked))]].tolist() if len(ranked) else []
    found = [ice.chill(iced[i], recipe.technique) for i in (0, *ends)]
    at, melts = np.array(sorted((float(abv[i]), float(c.dilution)) for i, c in zip((0, *ends), found, strict=True))).T
    return found[0], np.interp(abv, at, melts) * iced.volume() / before.volume()


def _beside_the_rule(melt: float, recipe: Recipe, before: Liquid, after: Liquid | None) -> list[Fact]:
    drink = dilution.iced(before, after, recipe.technique)[0]
    rule = dilution.published(float(profile(drink).abv), recipe.technique, recipe.serve)
    if rule is None:
        return [Fact("melt beyond the rule", melt=100 * melt)]
    rule *= float(drink.volume() / before[0].volume())
    if dilution.agrees(melt, rule):
        return [Fact("melt beside the rule", melt=100 * melt, rule=100 * rule)]
    return [Fact("melt off the rule", melt=100 * melt, rule=100 * rule)]


def _check_serve(setting: Setting, made: float) -> None:
    """Refuse to fill more glasses than the drink makes."""
    if setting.serve_volume is not None and setting.serves * setting.serve_volume > made * (1 + 1e-9):
        most = made / setting.serves
        asked, there_is = VOLUME(setting.serve_volume), VOLUME(most)
        told, allowed = Fact("serve asked", serve=asked), Fact("serve made", most=there_is)
        if setting.serves > 1:
            told = Fact("serves asked", serve=asked, times=setting.serves)
            allowed = Fact("serves made", most=there_is, times=setting.serves)
        raise InputError("serve size", told, allowed)


def _check_mass(step: Step, before: Liquid, outcome: Outcome) -> None:
    """Grams in are grams out: a step that loses or makes some is a mistake in the step."""
    gone = before.mass + sum(part.mass for part in (outcome.added,) if part is not None)
    came = outcome.liquid.mass + sum(part.mass for part in (outcome.left,) if part is not None)
    if not np.allclose(gone, came, rtol=1e-6):
        off = float(np.max(np.abs(np.asarray(came) - gone)))
        raise InputError(f"mass of the step {step.name!r}", Told(f"{off:.3g} g off"), "the same before and after")


def drawn(
    recipe: Recipe, bottles: Sequence[Ingredient], tool: str, draws: int, seed: int, known: Known | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Amounts (1 + draws, pours) and compositions (1 + draws, pours, components); row 0 is the estimate."""
    share = tool_of(tool, known)[0]
    seen: dict[str, int] = {}
    amounts = np.empty((1 + draws, len(bottles)))
    for i, pour in enumerate(recipe.pours):
        again = seen[pour.ingredient] = seen.get(pour.ingredient, -1) + 1
        amount = by_measure(pour.amount, share)
        noise = normal(pour.ingredient, draws, seed, again)
        amounts[:, i] = np.maximum(amount + pour_sd(amount, tool, known) * noise, 0.0)
    return amounts, shelf_draws(tuple(bottles), draws, seed)


def pour_sd(ml: Number, tool: str, known: Known | None = None) -> Number:
    """Standard deviation of pours of these amounts by a tool: half the half-width that holds 19 in 20. [mL]"""
    _, absolute, relative = tool_of(tool, known)
    return np.minimum(absolute + relative * ml, 0.5 * ml) / 2


# Draws depend on the bottles alone, not on how much is poured: kept, so that a moved slider pays nothing.
@functools.lru_cache(maxsize=16)
def shelf_draws(bottles: tuple[Ingredient, ...], draws: int, seed: int) -> np.ndarray:
    """What each bottle may hold, shape (1 + draws, bottles, components), the estimate first. [g/mL]"""
    return np.stack([_bottle_draws(bottle, draws, seed) for bottle in bottles], axis=1)


@functools.lru_cache(maxsize=64)
def _bottle_draws(bottle: Ingredient, draws: int, seed: int) -> np.ndarray:
    random = np.random.default_rng([seed, zlib.crc32(bottle.id.encode())])
    return np.concatenate([bottle.composition[None], bottle.draws(draws, random)])


def serve_cautions(served: Profile, alcohol: float, country: str) -> list[Caution]:
    """What a strong glass is to say, by grams of alcohol in it and beside it, and a country's standard drink."""
    count = strength.standard_drinks(alcohol, country)
    size = strength.countries()[country]
    if alcohol < STRONG_SERVE[0] and served.abv < STRONG_SERVE[1]:
        return []
    if served.volume > MOST_GLASS:
        return [Caution("batch", alcohol=alcohol, abv=ABV(served.abv), volume=LITRES(served.volume / 1000))]
    found = {"alcohol": alcohol, "abv": ABV(served.abv), "drinks": count, "country": country, "size": size}
    return [Caution("strong serve", **found)]
