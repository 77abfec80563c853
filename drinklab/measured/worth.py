"""What measuring next would narrow a drink's figures most.

>>> from drinklab.recipe import Recipe
>>> from drinklab.pantry import load
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
>>> first = next_to_measure(sour, load())[0]
>>> first.kind, first.name, first.figure, f"{first.after / first.before:.2f}"
('sugar', 'honey syrup, 1:1 by volume', 'sugar', '0.34')
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .. import carbonation, dilution, filtering, milk, trial
from ..facts import Fact
from ..kinds import Amount
from ..learned import Learned, known
from ..pantry import Ingredient, Pantry
from ..profile import KINDS, TITLES
from ..recipe import Recipe
from ..setting import DRAWS, TOOLS, Setting, as_setting
from ..stage import Stage
from .entries import Entry
from .figures import brix_of, reading, sd_of_salts, sugar_of, target, with_learned
from .joining import Reading, joined
from .sorts import DRY, SORTS

FIGURES = ("abv", "sugar", "acid", "volume", "ph", "gas")  # of which the ± is narrowed
KINDS_OF_GLASS = FIGURES[:4]  # those that a profile has
_CALLED = {**{figure: title.lower() for figure, title in TITLES.items()}, "ph": "pH", "gas": "carbon dioxide"}
_Tried = tuple[str, str, str, Pantry, float]
LEAST = 0.05  # what is worth naming takes at least this share off a figure's ±
_STILL = 1e-3  # less than this share of a figure is a measured glass, not chance


@dataclass(frozen=True, slots=True)
class Next:
    """One measurement and what it would do to a drink's ± (19 in 20).

    `figure` is the one that it narrows most, from `before` to `after`, in its own unit; `of_thing` is what would be
    left of the ± of the thing itself.
    """

    kind: str
    what: str
    name: str
    instrument: str
    figure: str
    before: float
    after: float
    of_thing: float

    @property
    def narrows(self) -> float:
        """By which share the ± becomes less, 0 to 1."""
        return 1 - self.after / self.before

    def said(self) -> Fact:
        """In a sentence."""
        told = {
            "name": self.name, "instrument": self.instrument, "figure": _CALLED[self.figure],
            "before": _half(self.figure, self.before), "after": _half(self.figure, self.after),
        }  # fmt: skip
        return Fact("next: bottle", **told) if self.kind == "strength" else _SAID[self.kind](told)


def _half(figure: str, value: float) -> Amount | str:
    """A ± as a sentence has it; those of pH and gas are small, and told to a hundredth."""
    if figure in ("ph", "gas"):
        return f"{value:.2f}" + (" g/L" if figure == "gas" else "")
    return KINDS[figure](value)


_SAID: dict[str, Callable[[dict[str, Any]], Fact]] = {
    "sugar": lambda told: Fact("next: sugar", **told),
    "acid": lambda told: Fact("next: acid", **told),
    "pour": lambda told: Fact("next: pour", **told),
    "wash": lambda told: Fact("next: wash", **told),
    "ph": lambda told: Fact("next: pH", **told),
    "milk": lambda told: Fact("next: milk", **told),
    "gas": lambda told: Fact("next: gas", **told),
    "ice": lambda told: Fact("next: ice", **told),
    "paper": lambda told: Fact("next: paper", **told),
}


def next_to_measure(drink: Recipe | Setting, shelf: Pantry) -> tuple[Next, ...]:
    """What of a drink's bottles, juices and measure is worth measuring, the most useful first.

    Parameters
    ----------
    drink : Recipe or Setting
    shelf : Pantry
        With what is measured already: `measured.shelf`.

    Returns
    -------
    tuple of Next
        Those that take at least 5 % off the ± of strength, sugar, acid, volume, pH or gas as served; of each the figure
        that it narrows most. Empty where nothing varies.

    Notes
    -----
    One reading by the usual instrument leaves of a thing's ± what `joining.joined` says; the drink is then drawn anew
    with that, by the same chance as before, and its ± held beside what it is now. What a fruit yields is never among
    them: it says how many fruit to buy, and no figure of the glass depends on it.
    """
    setting = as_setting(drink)
    if not setting.draws:
        setting = replace(setting, draws=DRAWS)
    now, found = trial.run(setting, pantry=shelf).served, []
    had = _halves(now)
    varied = [f for f in FIGURES if had[f] > _STILL * max(abs(getattr(now.profile, f, 0.0)), 1.0)]
    for kind, what, name, measured, left in _tried(setting, shelf):
        if not varied:
            break
        then = _halves(trial.run(setting, pantry=measured).served)
        figure = max(varied, key=lambda f: 1 - then[f] / had[f])
        one = Next(
            kind, what, name, SORTS[kind].instruments[0].name, figure, had[figure], then[figure], left
        )  # fmt: skip
        if one.narrows >= LEAST:
            found.append(one)
    return tuple(sorted(found, key=lambda one: -one.narrows))


def _halves(served: Stage) -> dict[str, float]:
    """The ± of each figure; 0 of a pH that is not known, and of gas that there is not."""
    known = served.ph
    around = {figure: served.spread(figure) for figure in KINDS_OF_GLASS}
    return around | {"ph": known[1] if known else 0.0, "gas": served.gas[1] if served.gas[0] > 0 else 0.0}


def _tried(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    """Each thing that could be measured: kind, what, its name, the shelf on which it was read once and came out as was
    held before, and what part of its own ± that leaves."""
    seen = set()
    for pour in setting.recipe.pours:
        bottle = pour.bottle(shelf)
        for kind in ("strength", "sugar", "acid"):
            key = (kind, bottle.id, pour.abv if kind == "strength" else None)
            if key in seen or pour.amount <= 0:
                continue
            seen.add(key)
            value, pm = {"strength": (bottle.abv, bottle.abv_pm), "sugar": (bottle.sugar, bottle.sugar_pm),
                         "acid": (bottle.acid, bottle.acid_pm)}[kind]  # fmt: skip
            if value > 0 and pm > 0 and bottle.state == "liquid" and _can_be_read(kind, bottle):
                sd = _sd(kind, bottle, value)
                left = joined(value, pm, [Reading(value, sd)]).pm / pm
                yield kind, bottle.id, bottle.name, _read_once(shelf, bottle, kind, (value, pm, left), pour.abv), left
        if ("ph", bottle.id, None) not in seen and bottle.acid > 0 and bottle.state == "liquid" and pour.amount > 0:
            seen.add(("ph", bottle.id, None))
            yield from _of_ph(bottle, shelf)
    yield from _of_tool(setting, shelf)
    yield from _of_wash(setting, shelf)
    yield from _of_milk(setting, shelf)
    yield from _of_gas(setting, shelf)
    yield from _of_ice(setting, shelf)
    yield from _of_paper(setting, shelf)


def _can_be_read(kind: str, bottle: Ingredient) -> bool:
    """A hydrometer tells nothing of a sweet bottle, a refractometer little of a strong one."""
    if kind == "strength":
        return bottle.sugar <= DRY
    return kind != "sugar" or (bottle.abv <= 35 and bottle.sugar >= 20)


def _sd(kind: str, bottle: Ingredient, value: float) -> float:
    """One standard deviation of a reading by the usual instrument, in the figure's unit."""
    instrument = SORTS[kind].instruments[0]
    if kind == "sugar":
        brix = brix_of(value, bottle)
        return max(sugar_of(min(brix + instrument.pm(brix) / 2, 85.0), bottle) - value, 0.1)
    return instrument.pm(value) / 2


def _read_once(
    shelf: Pantry, bottle: Ingredient, kind: str, found: tuple[float, float, float], label: float | None
) -> Pantry:
    item, (value, pm, left) = shelf[bottle.id], found
    if label is not None and kind == "strength":
        others = tuple(one for one in item.measured if one.label != label)
        put = Learned(kind, item.id, value, left * pm, value, pm, label)
        return shelf.with_items([replace(item, measured=(*others, put))])
    return shelf.with_items([with_learned(item, [Learned(kind, item.id, value, left * pm, value, pm)])])


def _of_tool(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    if setting.tool in ("exact", "scale") or not setting.recipe.pours:
        return
    mark = max(pour.amount for pour in setting.recipe.pours)
    absolute, relative = TOOLS[setting.tool]
    hand = min(absolute / mark + relative, 0.5) / 2 * math.sqrt(0.5)
    have = shelf.learned.get(("pour", setting.tool))
    value, pm = (have.value, have.pm) if have else (1.0, hand)
    left = joined(value, pm, [Reading(value, math.hypot(hand / math.sqrt(5), 0.1 / mark))]).pm / pm  # of five pours
    yield (
        "pour",
        setting.tool,
        setting.tool,
        _also(shelf, Learned("pour", setting.tool, value, left * pm, 1.0, hand)),
        left,
    )


def _of_wash(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    step = setting.step(milk.MilkWash)
    if step is None or step.hold_up is not None or step.measured_yield is not None:
        return
    at = target("wash", step.milk + (", hot" if step.way == milk.HOT else ""), shelf)
    have = shelf.learned.get(("wash", step.way))
    value, pm = (math.log(have.value), have.pm / have.value) if have else (at.prior, at.prior_pm)
    left, held = joined(value, pm, [Reading(value, 0.1)]).pm / pm, math.exp(value)
    yield (
        "wash",
        step.way,
        step.milk,
        _also(shelf, Learned("wash", step.way, held, left * pm * held, held, pm * held)),
        left,
    )


def _of_ph(bottle: Ingredient, shelf: Pantry) -> Iterator[_Tried]:
    """What a pH meter in it tells of its salts."""
    at = target("ph", bottle.name, shelf)
    have = next((one for one in bottle.measured if one.kind == "ph"), None)
    value, pm = (have.value, have.pm) if have else (at.prior, at.prior_pm)
    if not (value > 0 and pm > 0):
        return
    sd = sd_of_salts(bottle, value, SORTS["ph"].instruments[0])
    left = joined(value, pm, [Reading(value, sd)]).pm / pm
    yield "ph", bottle.id, bottle.name, _read_once(shelf, bottle, "ph", (value, pm, left), None), left


def _of_milk(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    step = setting.step(milk.MilkWash)
    if step is None or step.buffering is not None:
        return
    at, have = target("milk", step.milk, shelf), shelf.learned.get(("milk", step.milk))
    value, pm = (have.value, have.pm) if have else (at.prior, at.prior_pm)
    left = joined(value, pm, [Reading(value, SORTS["milk"].instruments[0].pm(value) / 2)]).pm / pm
    one = Learned("milk", step.milk, value, left * pm, value, pm)
    yield "milk", step.milk, step.milk, _also(shelf, one), left


def _of_gas(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    step = setting.step(carbonation.Pour)
    if step is None:
        return
    at, have = target("gas", step.pour, shelf), shelf.learned.get(("gas", step.pour))
    value, pm = (have.value, have.pm) if have else (at.prior, at.prior_pm)
    drawn = trial.run(setting, pantry=shelf, draws=0)
    worked = next(one for one in drawn.worked if one[0] is step)
    lost = float(np.ravel(worked[1].co2)[0] - np.ravel(worked[2].liquid.co2)[0]) / value  # by the rule [g]
    if not lost > 0:
        return
    sd = SORTS["gas"].instruments[0].pm(lost * value) / 2 / lost
    left = joined(value, pm, [Reading(value, sd)]).pm / pm
    yield "gas", step.pour, step.pour, _also(shelf, Learned("gas", step.pour, value, left * pm, value, pm)), left


def _of_ice(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    """What weighing one drink before and after its ice tells of the bar's melt."""
    recipe = setting.recipe
    if setting.melt is not None or setting.ice is not None or not dilution.meets_ice(recipe.technique, recipe.serve):
        return
    at, have = target("ice", recipe.technique, shelf), shelf.learned.get(("ice", recipe.technique))
    value, pm = (have.value, have.pm) if have else (at.prior, at.prior_pm)
    drawn = trial.run(setting, pantry=shelf, draws=0)
    melts = drawn.melt * float(drawn.stages[0].profile.volume) / value  # by the rule, about as many g as mL
    entry = Entry(
        "ice", recipe.technique, value * melts, SORTS["ice"].instruments[0].pm(melts), "", "2000-01-01", of=melts
    )
    left = joined(value, pm, [reading(entry, at, entry.day)[1]]).pm / pm
    one = Learned("ice", recipe.technique, value, left * pm, at.prior, at.prior_pm)
    yield "ice", recipe.technique, recipe.technique, _also(shelf, one), left


def _of_paper(setting: Setting, shelf: Pantry) -> Iterator[_Tried]:
    """What weighing a drink before and after one paper tells of what it keeps."""
    step = setting.step(filtering.Filter)
    if step is None or not step.measures:
        return
    at, have = target("paper", "paper", shelf), shelf.learned.get(("paper", "paper"))
    value, pm = (math.log(have.value), have.pm / have.value) if have else (at.prior, at.prior_pm)
    held = math.exp(value)
    entry = Entry("paper", "paper", held, SORTS["paper"].instruments[0].pm(held), "", "2000-01-01")
    left = joined(value, pm, [reading(entry, at, entry.day)[1]]).pm / pm
    one = Learned("paper", "paper", held, left * pm * held, held, pm * held)
    yield "paper", "paper", "paper", _also(shelf, one), left


def _also(shelf: Pantry, one: Learned) -> Pantry:
    measured = shelf.with_items([])
    measured.learned = {**shelf.learned, **known((one,))}
    return measured
