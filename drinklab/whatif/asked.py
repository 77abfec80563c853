"""Questions that a bar asks of a drink, each as two drinks: as it stands, and with one thing changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import dilution, steps, trial
from ..declared import Declared
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import ABV, PERCENT, SECONDS, TEMPERATURE, Kind
from ..liquid import ACIDS
from ..pantry import Ingredient, Pantry
from ..recipe import Recipe
from ..setting import Setting
from ..steps import AddWater
from ..units import read, single
from .paired import Change, Sample, paired, samples, told
from .versions import FRUIT, shelf_of

ROOM, LATER = 22.0, 5.0  # °C, min
GLASS, GLASS_PM = 150.0, 0.3  # J/K of about 190 g, and what glasses differ by: estimates, no published source


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """A question answered.

    Attributes
    ----------
    was, now : trial.Trial
        As it stands, and with the one thing changed; was is on own ice too where the question is about ice.
    changes : tuple of Change
    what : Fact
        What was changed, in words.
    setting : Setting or None
        The changed drink, to go on with; None where no recipe can hold the change.
    """

    was: trial.Trial = field(repr=False)
    now: trial.Trial = field(repr=False)
    changes: tuple[Change, ...]
    what: Fact
    setting: Setting | None = field(repr=False)

    @property
    def brings(self) -> Declared:
        """What is to be said of the changed drink that was not before: allergens and cautions of what is swapped in."""
        return trial.brings(self.now, self.was)

    @property
    def said(self) -> Fact:
        """What it does, in one sentence."""
        return told(self.changes)


@dataclass(frozen=True, slots=True)
class Question:
    """A question as a page asks it: its words, and the one number or choice that it takes.

    `usual` is where the number begins, `low` and `high` its ends, in the unit of `kind`; a question with `choices`
    takes one of what they give instead, by its id.
    """

    title: str
    asks: str
    kind: Kind | None
    usual: float
    low: float
    high: float
    step: float
    ask: Callable[[Setting, Pantry, Any], Answer] = field(repr=False)
    choices: Callable[[Setting, Pantry], Mapping[str, str]] | None = field(default=None, repr=False)


def ask(code: str, drink: Setting, value: float | str | None = None, *, pantry: Pantry | None = None) -> Answer:
    """Answer one of `QUESTIONS` for a drink.

    Parameters
    ----------
    code : str
        A key of `QUESTIONS`.
    drink : Setting
    value : float or str, optional
        The question's number, or the id of what it swaps in; its usual one by default.

    Raises
    ------
    InputError
        Where the drink has nothing that the question is about, for a number out of range, and as `trial.run`.

    Examples
    --------
    >>> sour = Setting(Recipe.parse("45 mL gin, 40 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken"))
    >>> str(ask("spirit", sour).what)
    'gin, 57 % in place of gin, 40 %'
    """
    question = QUESTIONS[one_of("question", code, QUESTIONS)]
    shelf = shelf_of(pantry)
    if question.choices is not None:
        offered = question.choices(drink, shelf)
        return question.ask(drink, shelf, next(iter(offered)) if value is None else one_of("swap", value, offered))
    value = question.usual if value is None else value
    number = single(read(value, question.kind or PERCENT, question.asks), question.asks)
    require(question.asks, number, question.low, question.high, question.kind or "")
    return question.ask(drink, shelf, number)


def _answer(was: Setting, now: Setting, shelf: Pantry, what: Fact, other: Pantry | None = None) -> Answer:
    before, after = trial.run(was, pantry=shelf), trial.run(now, pantry=other if other is not None else shelf)
    changes = paired(samples(before), samples(after))
    return Answer(before, after, changes, what, now if other is None else None)


def _wet_ice(drink: Setting, shelf: Pantry, percent: float) -> Answer:
    was, ice = _on_ice(drink, shelf)
    usual = 100 * float(dilution.wetness_of(ice.wetness, ice.ice_temperature))
    wet = replace(ice, wetness=percent / 100, ice_temperature=0.0 if percent > 0 else ice.ice_temperature)
    return _answer(was, replace(was, ice=wet), shelf, Fact("what if wet ice", wet=percent, usual=usual))


def _seconds(drink: Setting, shelf: Pantry, seconds: float) -> Answer:
    was, ice = _on_ice(drink, shelf)
    what = Fact("what if seconds", now=seconds, was=float(ice.seconds or 0.0))
    return _answer(was, replace(was, ice=replace(ice, seconds=seconds)), shelf, what)


def _warm_bar(drink: Setting, shelf: Pantry, celsius: float) -> Answer:
    was, ice = _on_ice(drink, shelf)
    warm = replace(ice, temperature=celsius, room=celsius)
    what = Fact("what if warm bar", now=TEMPERATURE(celsius), was=TEMPERATURE(float(ice.temperature)))
    return _answer(was, replace(was, ice=warm), shelf, what)


def _warm_glass(drink: Setting, shelf: Pantry, celsius: float) -> Answer:
    """The same drink into a glass as cold as itself, and into a warm one; how cold it is then, and after a while."""
    was, _ = _on_ice(drink, shelf)
    made = trial.run(was, pantry=shelf)
    cold = samples(made)["temperature"]
    glasses = GLASS * (1 + GLASS_PM / 2 * np.clip(steps.draws(cold.values.size - 1, drink.seed)("glass"), -3, 3))
    one = made.served.liquid[0]
    sides = []
    for warm in (None, celsius):
        start = cold.values if warm is None else warm
        found = {}
        for key, minutes, name in (("poured", 0.0, "temperature once poured"), ("later", LATER, "after 5 minutes")):
            after = dilution.after_serving(one, cold.values, minutes, glass=glasses, glass_temperature=start, room=ROOM)
            found[key] = Sample(name, TEMPERATURE, np.atleast_1d(after.temperature))
        sides.append(found)
    what = Fact("what if warm glass", now=TEMPERATURE(celsius))
    return Answer(made, made, paired(*sides), what, None)


def _on_ice(drink: Setting, shelf: Pantry) -> tuple[Setting, dilution.OwnIce]:
    """The drink on ice of its own, at its usual time: by the rule alone, ice, time and room change nothing."""
    if drink.recipe.technique == "none" or drink.recipe.serve == "hot":
        raise InputError("ice", Told("not in this drink"), "asked of a drink that meets ice")
    ice = drink.ice if drink.ice is not None else dilution.OwnIce()
    made = trial.run(replace(drink, ice=ice, melt=None, draws=0, beside=(), serves=1, serve_volume=None), pantry=shelf)
    ice = made.ice or ice  # its time settled
    return replace(drink, ice=ice, melt=None), ice


def _spirit(drink: Setting, shelf: Pantry, abv: float) -> Answer:
    at, bottle = _most(drink.recipe, shelf, lambda b: b.abv, "spirit", "a drink with alcohol in it")
    now = _with_pour(drink, at, abv=abv)
    new = now.recipe.pours[at].bottle(shelf)
    return _answer(drink, now, shelf, Fact("what if spirit", now=new.name, was=bottle.name))


def _fruit(drink: Setting, shelf: Pantry, percent: float) -> Answer:
    sour = lambda b: b.acid if b.kind == FRUIT else 0.0  # noqa: E731 - one figure of a bottle
    _, bottle = _most(drink.recipe, shelf, sour, "sour juice", "a drink with a sour juice in it")
    share = 1 + percent / 100
    grams = {name: per * share if name in ACIDS else per for name, per in bottle.solutes.items()}
    changed = replace(bottle, acid=bottle.acid * share, solutes=grams)
    other = shelf.with_items([changed])
    code = Fact("what if fruit less", juice=bottle.name, by=-percent) if percent < 0 else (
        Fact("what if fruit more", juice=bottle.name, by=percent))  # fmt: skip
    return _answer(drink, drink, shelf, code, other)


def _pre_diluted(drink: Setting, shelf: Pantry, percent: float) -> Answer:
    """Water measured into the batch in place of ice: by default as much as its ice gives."""
    made = trial.run(replace(drink, draws=0, beside=()), pantry=shelf)
    if made.melt <= 0:
        raise InputError("water from ice", Told("none"), "asked of a drink that meets ice")
    share = made.melt if percent == 0 else percent / 100
    now = replace(drink, melt=0.0, ice=None, steps=(AddWater(share), *drink.steps))
    return _answer(drink, now, shelf, Fact("what if pre-diluted", water=100 * share))


def _swap(drink: Setting, shelf: Pantry, new: str) -> Answer:
    at, bottle = _most(drink.recipe, shelf, _sweet, "syrup", "a drink with a syrup in it")
    now = _with_pour(drink, at, ingredient=new, abv=None, typed=None)
    return _answer(drink, now, shelf, Fact("what if swap", now=shelf[new].name, was=bottle.name))


def _sweet(bottle: Ingredient) -> float:
    return bottle.sugar if bottle.kind == "syrup" and bottle.state == "liquid" else 0.0


def _syrups(drink: Setting, shelf: Pantry) -> dict[str, str]:
    """The syrups to choose from, by their ids: first those made most often."""
    has = {pour.ingredient for pour in drink.recipe.pours}
    found = {key: item.name for key, item in shelf.items() if _sweet(item) > 0 and key not in has}
    first = [key for key in ("honey_syrup", "sugar_syrup_2to1", "sugar_syrup_1to1") if key in found]
    return {key: found[key] for key in dict.fromkeys((*first, *found))}


def _most(
    recipe: Recipe, shelf: Pantry, of: Callable[[Ingredient], float], what: str, allowed: str
) -> tuple[int, Ingredient]:
    """The pour that brings most of something, by its place, and its bottle."""
    bottles = recipe.bottles(shelf)
    brings = [of(bottle) * pour.amount for bottle, pour in zip(bottles, recipe.pours, strict=True)]
    at = int(np.argmax(brings)) if brings else 0
    if not brings or brings[at] <= 0:
        raise InputError(what, Told("not in this drink"), f"asked of {allowed}")
    return at, bottles[at]


def _with_pour(drink: Setting, at: int, **changes: Any) -> Setting:
    pours = drink.recipe.pours
    changed = replace(pours[at], **changes)
    return replace(drink, recipe=replace(drink.recipe, pours=(*pours[:at], changed, *pours[at + 1 :])))


QUESTIONS: dict[str, Question] = {
    "wet ice": Question("the ice is wet", "Water on the ice", PERCENT, 5.0, 0.0, 20.0, 1.0, _wet_ice),
    "seconds": Question("it stays longer on the ice", "Time on the ice", SECONDS, 20.0, 0.0, 120.0, 1.0, _seconds),
    "warm bar": Question("the bar is warm", "Bottles and room at", TEMPERATURE, 30.0, 0.0, 45.0, 1.0, _warm_bar),
    "warm glass": Question("the glass is warm", "Glass at", TEMPERATURE, ROOM, 0.0, 60.0, 1.0, _warm_glass),
    "pre-diluted": Question(
        "water goes into the batch in place of ice", "Water (0: as its ice gives)", PERCENT, 0.0, 0.0, 100.0, 1.0,
        _pre_diluted,
    ),
    "spirit": Question("the spirit is of another strength", "Its strength", ABV, 57.0, 0.5, 96.0, 0.5, _spirit),
    "fruit": Question("the fruit is more or less sour", "Acid of its juice", PERCENT, -10.0, -50.0, 50.0, 1.0, _fruit),
    "swap": Question("another syrup is poured", "In its place", None, 0.0, 0.0, 0.0, 1.0, _swap, _syrups),
}  # fmt: skip
