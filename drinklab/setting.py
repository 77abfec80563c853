"""All that a trial depends on, as one value: it is run, saved, reopened, compared and written up whole.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> frost = Setting(Recipe.parse("45 mL pisco, 43 %\\n25 mL verjus\\n20 mL honey syrup", technique="shaken"), melt=0.4)
>>> Setting.from_dict(frost.to_dict()) == frost, run(frost).melt
(True, 0.4)
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any, TypeVar

import numpy as np

from . import boiling, carbonation, dilution, filtering, gels, milk, steps, strength
from .declared import brought
from .dilution import OwnIce
from .display import Display
from .errors import InputError, Told, one_of
from .facts import Fact
from .kinds import PERCENT, VOLUME, Given
from .learned import TOOLS, Learned
from .liquid import Liquid
from .pantry import MOST_SUCROSE, Ingredient, Pantry
from .recipe import Recipe
from .steps import Step, warned_of
from .units import number, single, to_ml, whole_number

DRAWS = 1000
# What can be done to a drink after ice and top, in the order of a usual day, and comes back with what is saved.
LATER_STEPS = (
    steps.AddWater, boiling.Boil, milk.MilkWash, steps.Rest, filtering.Filter, carbonation.Chill,
    carbonation.Carbonate, carbonation.Pour, dilution.Freeze, gels.Set,
)  # fmt: skip
# More steps, things beside a drink, or serves than anybody has.
MOST_STEPS, MOST_BESIDE, MOST_SERVES, MOST_DRAWS = 50, 6, 100_000, 100_000
# Draws times all that each is taken through: some hundred bytes each, so that no file fills the memory.
_MOST_WORK = 2_000_000


S = TypeVar("S")


@dataclass(frozen=True, slots=True)
class Setting:
    """A drink with everything that its figures depend on.

    Parameters
    ----------
    recipe : Recipe
        Of one drink, or of a batch.
    melt : float, optional
        Melt water as a share of the volume before ice, in place of the rule. [mL/mL]
    ice : dilution.OwnIce, optional
        Your own ice and time: melt water by the energy balance, in place of the rule.
    steps : sequence of Step
        What is done after ice and top, in this order: see `LATER_STEPS`.
    beside : sequence of Setting
        What goes with each glass, made apart: one serve of each. A jelly of a recipe of its own.
    serves : int
        Glasses that the recipe is made for.
    serve_volume : amount, optional
        What goes in one glass; an equal share of all of it by default. [mL]
    tool : str
        A key of `TOOLS`: what the pours are measured by.
    country : str
        Whose standard drinks are counted.
    display : Display
        How amounts and temperatures are shown.
    draws, seed : int
        Random versions behind each ±, 0 for none; the same seed gives the same ones.

    Raises
    ------
    InputError
        Naming the field, the value, and what is allowed.
    """

    recipe: Recipe
    melt: float | None = None
    ice: OwnIce | None = None
    steps: tuple[Step, ...] = ()
    beside: tuple[Setting, ...] = ()
    serves: int = 1
    serve_volume: float | None = None
    tool: str = "jigger"
    country: str = "United States"
    display: Display = field(default_factory=Display)
    draws: int = DRAWS
    seed: int = 1

    def __post_init__(self) -> None:
        put = functools.partial(object.__setattr__, self)  # a frozen value is set once, here
        if not isinstance(self.recipe, Recipe):
            given: object = self.recipe
            many = isinstance(given, (list, tuple))
            told = f"{len(given)} things" if many else f"a {type(given).__name__}"
            raise InputError("recipe", Told(told), "one recipe at a time")
        if self.ice is not None and not isinstance(self.ice, OwnIce):
            raise InputError("ice", self.ice, "an OwnIce: its grams, temperature and time")
        put("melt", checked_melt(self.melt))
        if self.melt is not None and self.ice is not None:
            raise InputError("melt water", self.melt, "left out when your own ice is given")
        if self.ice is not None and self.recipe.serve == "hot":
            raise InputError("ice", Told("given"), "left out of a drink that is served hot")
        put("steps", _listed(self.steps, "steps", MOST_STEPS, "steps, such as [Filter()]"))
        for step in self.steps:
            if not callable(getattr(step, "act", None)) or isinstance(step, type):
                raise InputError("steps", Told(f"a {type(step).__name__}"), "a list of steps, such as [Filter()]")
        put("beside", _listed(self.beside, "beside", MOST_BESIDE, "settings, each of what goes with the drink"))
        for other in self.beside:
            if not isinstance(other, Setting) or other.beside:
                told = f"a {type(other).__name__}" if not isinstance(other, Setting) else "one with something beside it"
                raise InputError("what goes with the drink", Told(told), "a setting with nothing beside it")
        put("serves", whole_number(self.serves, "serves", low=1, high=MOST_SERVES))
        if self.serve_volume is not None:
            put("serve_volume", single(to_ml(self.serve_volume, field="serve size"), "serve size"))
            if not 0 < self.serve_volume <= VOLUME.high:
                much = Fact("so much", amount=VOLUME(self.serve_volume))
                raise InputError("serve size", much, Fact("one amount above", low=VOLUME(0)))
        one_of("tool", self.tool, TOOLS)
        one_of("country", self.country, strength.countries())
        if not isinstance(self.display, Display):
            raise InputError("display", Told(f"a {type(self.display).__name__}"), "a Display, such as Display('oz')")
        put("draws", whole_number(self.draws, "draws", high=MOST_DRAWS))
        put("seed", whole_number(self.seed, "seed", high=2**63 - 1))
        work = sum((3 + len(d.recipe.pours) + len(d.steps)) * d.draws for d in (self, *self.beside))
        if work > _MOST_WORK:
            allowed = f"at most {int(self.draws * _MOST_WORK / work):,} for so many pours and steps"
            raise InputError("draws", self.draws, allowed)

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; `from_dict` reads it back.

        Raises
        ------
        InputError
            For a step that cannot be saved.
        """
        data = {f.name: getattr(self, f.name) for f in fields(self)}
        return data | {
            "recipe": self.recipe.to_dict(),
            "ice": asdict(self.ice) if self.ice else None,
            "steps": [steps.to_dict(step) for step in self.steps],
            "beside": [other.to_dict() for other in self.beside],
            "display": {"volume": self.display.volume, "temperature": self.display.temperature},
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Setting:
        """A setting from what `to_dict` gave; what is left out is the usual.

        Raises
        ------
        InputError, LookupError, TypeError, ValueError
            For data that are none.
        """
        given = dict(data)
        for name in given:
            one_of("field of the setting", name, [f.name for f in fields(cls)])
        given["recipe"] = Recipe.from_dict(given["recipe"])
        for name in ("melt", "serve_volume"):
            if type(given.get(name)) not in (int, float, type(None)):
                raise InputError(name.replace("_", " "), given[name], "a number")
        # `over_ice` checks what the fields hold, as for any ice that somebody gives.
        given["ice"] = None if given.get("ice") is None else OwnIce(**given["ice"])
        given["steps"] = tuple(map(steps.from_dict, _listed(given.get("steps", ()), "steps", MOST_STEPS, "steps")))
        beside = _listed(given.get("beside", ()), "beside", MOST_BESIDE, "settings")
        if any(other.get("beside") for other in beside):
            raise InputError("what goes with the drink", Told("one with something beside it"), "made apart")
        given["beside"] = tuple(map(cls.from_dict, beside))
        given["display"] = Display(**given.get("display", {}))
        return cls(**given)

    def until(self, kind: type) -> Setting:
        """The drink as it stands before its first step of this kind, all of it in one glass, with nothing beside it.

        >>> washed = Setting(Recipe.parse("60 mL gin\\n30 mL lime juice"), steps=[steps.Rest(), filtering.Filter()])
        >>> [step.name for step in washed.until(filtering.Filter).steps], len(washed.until(gels.Set).steps)
        (['rested'], 2)
        """
        return replace(self, steps=self.steps[: self._first(kind)], beside=(), serves=1, serve_volume=None)

    def with_step(self, step: Step) -> Setting:
        """With this step in the place of its first of the same kind; else where it is usually done.

        >>> drink = Setting(Recipe.parse("60 mL gin\\n30 mL lime juice"), steps=[steps.Rest(6), carbonation.Chill()])
        >>> [s.name for s in drink.with_step(filtering.Filter()).with_step(steps.Rest(12)).steps]
        ['rested', 'filtered', 'chilled']
        """
        at = self._first(type(step))
        if at < len(self.steps):
            return replace(self, steps=(*self.steps[:at], step, *self.steps[at + 1 :]))
        order: list[type] = [kind for kind in LATER_STEPS if kind is not steps.Rest]  # which may stand anywhere
        mine = order.index(type(step)) if type(step) in order else len(order)
        before = [i for i, s in enumerate(self.steps) if type(s) not in order or order.index(type(s)) <= mine]
        at = before[-1] + 1 if before else 0
        return replace(self, steps=(*self.steps[:at], step, *self.steps[at:]))

    def before(self, step: Step) -> Setting:
        """The drink as this step would find it, all of it in one glass: see `with_step` and `until`.

        >>> drink = Setting(Recipe.parse("60 mL gin\\n30 mL lime juice"), steps=[steps.Rest(6), gels.Set()])
        >>> [s.name for s in drink.before(carbonation.Carbonate(2)).steps]
        ['rested']
        """
        return self.with_step(step).until(type(step))

    def step(self, kind: type[S]) -> S | None:
        """Its first step of this kind, if it has one."""
        return next((step for step in self.steps if isinstance(step, kind)), None)

    def scaled(self, factor: float) -> Setting:
        """So many times as much of it all, iced in the same way: pours, own ice, and what steps have as an amount.

        Glasses and their size stay as they are.

        >>> drink = Setting(Recipe.parse("60 mL gin"), ice=OwnIce(ice=150), steps=[steps.AddWater(amount=20)])
        >>> ten = drink.scaled(10)
        >>> ten.recipe.pours[0].amount, ten.ice.ice, ten.steps[0].amount
        (600.0, 1500, 200.0)
        """
        return replace(
            self, recipe=self.recipe.scaled(factor),
            ice=self.ice and replace(self.ice, ice=self.ice.ice * factor, vessel=self.ice.vessel * factor),
            steps=tuple(step_scaled(step, factor) for step in self.steps),
        )  # fmt: skip

    def _first(self, kind: type) -> int:
        """Where the first step of this kind is; behind the last if there is none."""
        return next((i for i, step in enumerate(self.steps) if isinstance(step, kind)), len(self.steps))

    def brings(self, pantry: Pantry) -> tuple[object, ...]:
        """What `declared` is told of the whole drink without running it: bottles, the way it is made, each step.

        >>> from drinklab.declared import declared
        >>> from drinklab.pantry import load
        >>> washed = Setting(Recipe.parse("60 mL gin\\n30 mL lime juice"), steps=[milk.MilkWash()])
        >>> declared(*washed.brings(load())).allergens
        ('milk',)
        """
        parts: list[object] = []
        for drink in (self, *self.beside):
            poured = brought(drink.recipe, pantry)
            strong = max((b.abv for b in poured if isinstance(b, Ingredient)), default=0.0)
            parts += [*poured, *drink.steps]
            parts += [caution for step in drink.steps for caution in warned_of(step, strong)]
        return tuple(parts)

    def all_recipes(self) -> tuple[Recipe, ...]:
        """The drink's, and those of what goes with it."""
        return (self.recipe, *(other.recipe for other in self.beside))


def knowing(setting: Setting, shelf: Pantry) -> Setting:
    """The setting with its steps as this bar has measured them; the one that is kept stays as it was asked."""
    if not shelf.learned:
        return setting
    return replace(setting, steps=tuple(steps.knowing(step, shelf.learned) for step in setting.steps))


def learned_in(setting: Setting, shelf: Pantry) -> list[tuple[Learned, str]]:
    """What of a drink's figures this bar has measured, each with the name of the thing."""
    found = []
    for pour in setting.recipe.pours:
        bottle = pour.bottle(shelf)
        of_label = any(one.label is not None and one.label == pour.abv for one in bottle.measured)
        for one in bottle.measured:
            strength = one.label == pour.abv if of_label or one.label is not None else pour.abv is None
            if one.kind != "fruit" and (one.kind != "strength" or strength):
                found.append((one, bottle.name))
    by_rule = setting.melt is None and setting.ice is None
    ice = by_rule and dilution.meets_ice(setting.recipe.technique, setting.recipe.serve)
    others = [("pour", setting.tool), *[("ice", setting.recipe.technique)] * ice]
    others += [key for step in setting.steps for key in getattr(step, "measures", ())]
    found += [(shelf.learned[key], key[1]) for key in others if key in shelf.learned]
    return list(dict.fromkeys(found))


def check_dissolved(mixed: Liquid, recipe: Recipe) -> None:
    """Refuse more sugar than the drink's water can hold; ice and a top come too late to dissolve it."""
    most = MOST_SUCROSE
    share = mixed.sucrose / (mixed.sucrose + mixed.water) if mixed.sucrose else 0.0
    if share > most:
        raise InputError(
            f"sugar of {recipe.name!r} before ice",
            Told(f"{mixed.sucrose:.0f} g in {mixed.water:.0f} g of water"),
            Fact("sugar that dissolves", most=mixed.water * most / (1 - most)),
        )


def as_setting(drink: Recipe | Setting, **changes: Any) -> Setting:
    """A setting as it is, or a recipe in the usual one; `changes` are of the fields of `Setting`."""
    if isinstance(drink, Setting):
        return replace(drink, **changes) if changes else drink
    return Setting(drink, **changes)


def checked_melt(melt: Given | None) -> float | None:
    """Melt water set by hand, 0 to 3 of the volume before ice, or None for the rule. [mL/mL]"""
    if melt is None:
        return None
    share = single(number(melt, "melt water"), "melt water")
    if not 0 <= share <= 3:
        told = Fact("so much", amount=PERCENT(100 * share)) if np.isfinite(share) else share
        raise InputError("melt water", told, Fact("melt water from to", low=PERCENT(0), high=PERCENT(300)))
    return share


def step_scaled(step: Step, factor: float) -> Step:
    """A step of so many times as much drink: what it has as an amount; what a filter's papers hold stays.

    >>> step_scaled(steps.AddWater(amount=20), 3).amount, step_scaled(filtering.Filter(2), 3).papers
    (60.0, 2)
    """
    amounts = {
        name: value * factor
        for name in ("amount", "measured_yield", "water")
        if (value := getattr(step, name, None)) is not None
    }
    return replace(step, **amounts) if amounts else step


def _listed(given: object, name: str, most: int, of: str) -> tuple[Any, ...]:
    if not isinstance(given, (list, tuple)):
        raise InputError(name, Told(f"a {type(given).__name__}"), f"a list of {of}")
    if len(given) > most:
        raise InputError(f"number of {name}" if name == "steps" else name, len(given), f"at most {most}")
    return tuple(given)
