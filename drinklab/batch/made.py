"""A batch of a drink: amounts worked backwards from what is wanted, measured as a bar can, and run forward again."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import carbonation, dilution, filtering, making, milk, texts, trial
from .. import pantry as _pantry
from ..carbonation import VESSELS
from ..display import Display
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import VOLUME, Given
from ..liquid import Liquid
from ..pantry import Pantry
from ..profile import profile
from ..recipe import PLAIN_WATER, Pour, Recipe
from ..setting import MOST_SERVES, Setting, as_setting
from ..steps import Caution, Step, brought
from ..trial import Trial
from ..units import number, single, to_celsius, to_ml, whole_number
from . import storage
from .marks import measured
from .solve import Way, factor_for, through, times
from .storage import BATCH, DAY, GLASS, SPARKLES, STEP, keeping, waiting

FIGURES = ("volume", "abv", "sugar", "acid")  # which measuring may change
HEADSPACE = 0.05  # of a bottle that nothing swells in; common practice, no published source
_MOST_BOTTLES = 10_000
MOST_ML = 1e7  # of a batch, a bottle and a vessel


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a batch stands: one filling of a vessel.

    Attributes
    ----------
    name : str
    fill : float
        Most of the drink in it. [mL]
    stays : float
        What cannot be got out of it. [mL]
    """

    name: str
    fill: float
    stays: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """One thing to measure, for the whole batch.

    Attributes
    ----------
    name, key : str
        As people call it; its id in the pantry, "" for what a step brings.
    ml : float or None
        As it is measured; None for what is only weighed. [mL]
    exact : float or None
        As the sums have it. [mL]
    grams : float
        Of what is measured. [g]
    when : {"batch", "day", "glass", "step"}
    why : Fact or str
        Why it does not go in with the rest.
    dry : bool
        A dry solid, which is weighed.
    """

    name: str
    key: str
    ml: float | None
    exact: float | None
    grams: float
    when: str
    why: Fact | str = ""
    dry: bool = False

    def text(self, show: Display) -> str:
        """The amount as it is measured."""
        return f"{making.weight(self.grams)} g" if self.ml is None or self.dry else show.volume_text(self.ml)


@dataclass(frozen=True, slots=True)
class Batch:
    """A drink made for many.

    Attributes
    ----------
    drink : Setting
        The drink, as it was given.
    setting, trial : Setting, Trial
        The batch as it is measured, whole, and what comes of it (without draws).
    exact : Setting
        The batch as the sums have it.
    rows : tuple of Row
    serves, serve : int, float
        Glasses, and what is in each; of the drink as given. [mL]
    bottled : float
        What stands in its vessel, as measured. [mL]
    ready : float
        The same with what is stirred in on the day. [mL]
    stand, fillings : Stand or None, int
        Where, and how often that is filled.
    stays, left_over : float
        What stays in the vessels, and what fills no glass. [mL]
    losses : tuple of (str, float)
        What each step keeps. [mL]
    water : float
        In place of the melt water, as measured. [mL]
    error : dict of str to float
        What measuring does to the served glass: volume, strength, sugar, acid, in their own units.
    beside : tuple of Batch
        What goes with each glass.
    notes : tuple of Fact
    """

    drink: Setting
    setting: Setting
    exact: Setting
    trial: Trial
    rows: tuple[Row, ...]
    serves: int
    serve: float
    bottled: float
    ready: float
    stand: Stand | None
    fillings: int
    stays: float
    left_over: float
    losses: tuple[tuple[str, float], ...]
    water: float
    error: dict[str, float]
    beside: tuple[Batch, ...] = ()
    notes: tuple[Fact, ...] = field(default=())

    @property
    def name(self) -> str:
        """Of the drink, in one line."""
        return texts.line(self.drink.recipe.name)

    @property
    def shelf(self) -> Pantry:
        """The pantry it was made from."""
        return self.trial.pantry

    @property
    def grams(self) -> float:
        """All that is measured. [g]"""
        return sum(row.grams for row in self.rows)

    def at(self, *when: str) -> tuple[Row, ...]:
        """What goes in then."""
        return tuple(row for row in self.rows if row.when in when)

    @property
    def of_all(self) -> float:
        """Glasses that all of it would fill, the parts of one counted."""
        return float(self.trial.made.volume / self.trial.served.profile.volume)


Bottles = tuple[str, int, Given]  # name, how many, and the size of each


def scale(
    drink: Recipe | Setting,
    *,
    pantry: Pantry | None = None,
    serves: int | None = None,
    volume: Given | None = None,
    bottles: Bottles | None = None,
    vessel: Given | None = None,
    count: int = 1,
    headspace: Given = HEADSPACE,
    stays: Given = 0.0,
    prediluted: bool = False,
    papers: int | None = None,
    tool: str | None = None,
    display: Display | None = None,
    keep_at: Given | None = None,
) -> Batch:
    """A drink for many, worked backwards from what is wanted.

    Parameters
    ----------
    drink : Recipe or Setting
        One glass of it, or a batch that it was tried as: a serve is what it says goes in one glass.
    pantry : Pantry, optional
    serves : int, optional
        Glasses.
    volume : amount, optional
        What is to stand in the bottle. [mL]
    bottles : (ingredient, number, size), optional
        All of so many bottles, such as ("gin", 2, 700). [mL]
    vessel : str or amount, optional
        Where it stands: a key of `carbonation.VESSELS`, or what yours holds [mL]. Without one of the others, all that
        goes into `count` of it.
    headspace : float
        Share of a vessel of your own that stays empty, 0 to 0.9.
    stays : amount
        What cannot be got out of one filling. [mL]
    prediluted : bool
        Plain water takes the place of the melt water of its technique: poured cold from the bottle, without ice in a
        tin.
    papers : int, optional
        For each filter, in place of the drink's.
    tool, display : optional
        What amounts are measured by, and in; the drink's own.
    keep_at : float or str, optional
        Of a freezer where it stands whole, its water in place of the melt water, as its last step but a jelly. [°C]

    Returns
    -------
    Batch

    Raises
    ------
    InputError
        For none or several of what can be wanted, for nothing wanted, and for what holds less than one serve.

    Examples
    --------
    >>> sour = Recipe.parse("60 mL gin\\n25 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
    >>> twelve = scale(sour, serves=12)
    >>> [(row.name, row.text(Display()), row.when) for row in twelve.rows][:2]
    [('gin', '720 mL', 'batch'), ('lemon juice, fresh', '300 mL', 'day')]
    """
    shelf = pantry if pantry is not None else _pantry.load()
    given = as_setting(drink, **({"display": display} if display else {}), **({"tool": tool} if tool else {}))
    first = through(replace(given, beside=()), shelf)
    serve = _serve(given, first)
    base, water = _still(given, first, shelf, prediluted or keep_at is not None, papers)
    base = base if keep_at is None else _in_freezer(base, shelf, keep_at)
    one = first if base.recipe == given.recipe and base.steps == given.steps else through(base, shelf)
    stand = _stand(vessel, headspace, stays, (base, one, shelf), keep_at)
    base = _in_vessel(base, stand)
    runs = functools.cache(lambda factor: times(base, factor, shelf, one))
    wish = _Wish.of(serves, volume, bottles, stand, count, vessel is not None)
    factor, fillings = _solved(wish, base, one, serve, (stand, runs), shelf)
    for tries in range(30):
        exact, way = runs(factor)
        bottled = _bottled(exact, way, shelf)
        if stand is not None:
            fillings = _fillings(bottled, stand)
        usable = _usable(float(way.made.volume()), bottled, fillings, stand)
        glasses = wish.serves or _glasses(usable, serve, wish)
        steps = _steps(exact, way, "exact")
        exact = replace(exact, steps=steps, serves=glasses, serve_volume=min(serve, usable / glasses), beside=())
        made, there = _measured(exact, way, shelf)
        held = _bottled(made, there, shelf)
        over = 0.0 if stand is None else held / (fillings * stand.fill)
        if over <= 1 + 1e-9:
            break
        # measured it would be more than goes in: less of all, until the next mark of a measure is reached
        factor *= (1 - 1e-6 * 2 ** min(tries, 14)) / over
    if not wish.serves:  # what is measured may fill a glass more, or less
        real = _usable(float(there.made.volume()), held, fillings, stand)
        glasses = _glasses(real, serve, wish)
        exact, made = (
            replace(part, serves=glasses, serve_volume=min(serve, there_is / glasses))
            for part, there_is in ((exact, usable), (made, real))
        )
    return _batch(given, (made, there), (exact, way), (serve, stand, fillings, water > 0), shelf)


def _serve(given: Setting, way: Way) -> float:
    """What is in one glass of the drink as it was given. [mL]"""
    made = float(way.made.volume())
    if given.serve_volume is not None and given.serves * given.serve_volume > made * (1 + 1e-9):
        trial.run(given, draws=0)  # says what is wrong with it
    return float(trial.glass(given, way.made) * made)


def _still(given: Setting, way: Way, shelf: Pantry, prediluted: bool, papers: int | None) -> tuple[Setting, float]:
    """The drink as it is made in a batch, one of it in one glass; and plain water that was put in for the melt. [mL]"""
    steps = given.steps
    if papers is not None:
        papers = whole_number(papers, "papers", low=1, high=1000)
        steps = tuple(replace(s, papers=papers) if isinstance(s, filtering.Filter) else s for s in steps)
    base = replace(given, steps=steps, serves=1, serve_volume=None, beside=(), draws=0)
    melted = next((outcome.added for step, _, outcome in way.steps if isinstance(step, trial.Ice)), None)
    if not prediluted or melted is None:
        return base, 0.0
    water = float(np.ravel(melted.mass)[0]) / shelf["water"].density
    before, tops = ([pour for pour in base.recipe.pours if pour.after is late] for late in (False, True))
    recipe = replace(base.recipe, pours=(*before, Pour("water", water), *tops), technique="none")
    return replace(base, recipe=recipe, melt=None, ice=None), water


def _in_freezer(base: Setting, shelf: Pantry, keep_at: Given) -> Setting:
    """The drink as it stands in the freezer, whole: what waits for the glass does not go in."""
    late = [
        item.name for item, pour in zip(base.recipe.bottles(shelf), base.recipe.pours, strict=True)
        if pour.amount > 0 and keeping(item, pour, bool(base.steps)).when == GLASS
    ]  # fmt: skip
    if late:
        told, allowed = Told("chosen"), f"left out of a drink with {', '.join(late)}, which goes into each glass"
        raise InputError("freezer", told, allowed)
    return base.with_step(dilution.Freeze(single(to_celsius(keep_at, "freezer"), "freezer")))


# --- what is wanted -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Wish:
    """One of the four things that can be wanted; `volume` is what stands in the vessels. [mL]"""

    serves: int = 0
    volume: float = 0.0
    key: str = ""
    of_it: float = 0.0
    words: str = ""

    @classmethod
    def of(
        cls,
        serves: int | None,
        volume: Given | None,
        bottles: Bottles | None,
        stand: Stand | None,
        count: int,
        has_vessel: bool,
    ) -> _Wish:
        given = [name for name, v in (("serves", serves), ("volume", volume), ("bottles", bottles)) if v is not None]
        if len(given) > 1 or not (given or has_vessel):
            told = Told(" and ".join(given) or "nothing")
            raise InputError("what is wanted", told, "one of serves, volume, bottles or a vessel to fill")
        count = whole_number(count, "number of vessels", low=1, high=_MOST_BOTTLES)
        if serves is not None:
            return cls(serves=whole_number(serves, "serves", low=1, high=MOST_SERVES), words="serves")
        if volume is not None:
            ml = _amount(volume, "volume wanted")
            return cls(volume=ml, words="volume wanted")
        if bottles is not None:
            name, many, size = bottles
            many = whole_number(many, "number of bottles", low=1, high=_MOST_BOTTLES)
            return cls(key=name, of_it=many * _amount(size, "size of the bottle"), words="bottles")
        fill, name = (0.0, "") if stand is None else (stand.fill, stand.name)
        return cls(volume=count * fill, words=f"what fills the {name}")


def _amount(ml: Given, what: str) -> float:
    read = single(to_ml(ml, field=what), what)
    if not 0 < read <= MOST_ML:
        told = Fact("so much", amount=VOLUME(read))
        allowed = Fact("above 0 up to", most=VOLUME(MOST_ML)) if read > 0 else Fact("one amount above", low=VOLUME(0))
        raise InputError(what, told, allowed)
    return read


def _stand(
    vessel: Given | None, headspace: Given, stays: Given, drink: tuple[Setting, Way, Pantry], keep_at: Given | None
) -> Stand | None:
    stays = single(to_ml(stays, field="what stays in the vessel"), "what stays in the vessel")
    if vessel is None:
        return None
    base, one, shelf = drink
    gassed = base.step(carbonation.Carbonate) is not None or storage.sparkles(base, shelf)
    swells = 0.0 if keep_at is None else dilution.swells(one.made, single(to_celsius(keep_at, "freezer"), "freezer"))
    if isinstance(vessel, str) and vessel in VESSELS:
        if gassed:
            carbonation.vessel_of(vessel)  # refuses what is not made for pressure
        name, fill = vessel, VESSELS[vessel].fill / (1 + swells)  # its room stays when it is ice
    elif gassed:
        told = vessel if isinstance(vessel, str) and not vessel[:1].isdigit() else Told("one of your own")
        one_of("vessel of a drink with gas", told, [name for name, v in VESSELS.items() if v.limit > 0])
    else:
        if isinstance(vessel, str) and not any(sign.isdigit() for sign in vessel):
            one_of("vessel", vessel, VESSELS)
        whole, room = _amount(vessel, "volume of the vessel"), single(number(headspace, "headspace"), "headspace")
        require("headspace", room, 0, 0.9, "of the vessel")
        if swells:  # what freezes in it
            room = max(room, 1 - (1 - room) / (1 + swells))
        name, fill = f"vessel of {Display().volume_text(whole)}", whole * (1 - room)
    require("what stays in the vessel", stays, 0, fill / 2, "mL")
    return Stand(name, fill, stays)


def _in_vessel(base: Setting, stand: Stand | None) -> Setting:
    """A gassed drink is gassed in the vessel that was chosen."""
    if stand is None or stand.name not in VESSELS:
        return base
    moved = (
        replace(s, vessel=stand.name, limit=None) if isinstance(s, carbonation.Carbonate) and s.vessel != stand.name
        else s for s in base.steps
    )  # fmt: skip
    return replace(base, steps=tuple(moved))


def _bottled(setting: Setting, way: Way, shelf: Pantry, when: tuple[str, ...] = (BATCH,)) -> float:
    """What stands in the vessel: all of a drink that is made whole, else what goes in by then. [mL]"""
    if setting.steps:
        return float(way.closed.volume())
    items = setting.recipe.bottles(shelf)
    pours = setting.recipe.pours
    waits = [keeping(item, pour, False).when in when for item, pour in zip(items, pours, strict=True)]
    if not any(w and pour.amount > 0 for w, pour in zip(waits, pours, strict=True)):
        return 0.0
    amounts = np.where(waits, setting.recipe.amounts, 0.0)
    return float(Liquid.poured(amounts, np.array([item.composition for item in items])).volume())


def _fillings(bottled: float, stand: Stand) -> int:
    return max(math.ceil(bottled / stand.fill - 1e-9), 1)


def _usable(made: float, bottled: float, fillings: int, stand: Stand | None) -> float:
    """Of all that is made, what comes out of its vessels again. [mL]"""
    if stand is None or not stand.stays or not bottled:
        return made
    return made * max(1 - fillings * stand.stays / bottled, 0.0)


def _solved(
    wish: _Wish,
    base: Setting,
    one: Way,
    serve: float,
    held: tuple[Stand | None, Callable[[float], tuple[Setting, Way]]],
    shelf: Pantry,
) -> tuple[float, int]:
    """By what the drink is multiplied, and how many fillings that makes."""
    stand, runs = held
    if wish.key:
        key = shelf.find(wish.key).id
        of_it = sum(pour.amount for pour in base.recipe.pours if pour.ingredient == key)
        if not of_it:
            one_of("bottle to be used up", shelf[key].name, [b.name for b in base.recipe.bottles(shelf)])
        return wish.of_it / of_it, 1

    def at(factor: float) -> tuple[float, float]:
        made, way = runs(factor)
        return float(way.made.volume()), _bottled(made, way, shelf)

    made, bottled = float(one.made.volume()), _bottled(base, one, shelf)
    if wish.volume:
        if not bottled:
            raise InputError(wish.words, Told("of nothing"), "of a drink of which something may wait in a bottle")
        return factor_for(wish.volume, lambda f: at(f)[1], wish.volume / bottled, wish.words), 1

    def comes_out(fillings: int, factor: float) -> float:
        return _usable(*at(factor), fillings, stand)

    wanted, fillings = wish.serves * serve, 1
    for _ in range(20):
        factor = factor_for(wanted, functools.partial(comes_out, fillings), wanted / made, "serves as a volume")
        needed = 1 if stand is None else _fillings(at(factor)[1], stand)
        if needed <= fillings:
            break
        fillings = needed
    return factor, fillings


def _glasses(usable: float, serve: float, wish: _Wish) -> int:
    glasses = math.floor(usable / serve + 1e-9)
    if glasses < 1:
        told = Fact("rounded", amount=VOLUME(usable))
        raise InputError(wish.words, told, Fact("at least one serve", serve=VOLUME(serve)))
    return min(glasses, MOST_SERVES)


# --- measured -----------------------------------------------------------------------------------------------------


def _measured(exact: Setting, way: Way, shelf: Pantry) -> tuple[Setting, Way]:
    """Each amount at the marks of the bar's measures, and what that makes; a glass takes its share of it."""
    tool, show = exact.tool, exact.display
    items = exact.recipe.bottles(shelf)
    amounts = [
        measured(pour.amount, tool, show, item.density, item.state == "solid")
        for pour, item in zip(exact.recipe.pours, items, strict=True)
    ]
    made = replace(exact, recipe=exact.recipe.with_amounts(amounts), steps=_steps(exact, way, tool))
    there = through(made, shelf)
    whole, was = float(there.made.volume()), float(way.made.volume())
    asked = exact.serve_volume or 0.0
    spare = was - exact.serves * asked
    each = min(asked, (whole - min(spare, whole * spare / was)) / exact.serves)
    return replace(made, serve_volume=each), there


def _steps(exact: Setting, way: Way, tool: str) -> tuple[Step, ...]:
    """Later steps with what they bring as an amount, measured."""
    steps: list[Step] = []
    for step, liquid, outcome in way.steps[len(way.steps) - len(exact.steps) :]:
        if isinstance(step, milk.MilkWash):  # as it is poured in; the milk's own density makes it 0.3 % less
            milk_ml = float(np.ravel(step.poured(liquid))[0])
            step = replace(step, amount=measured(milk_ml, tool, exact.display), share=None)
        elif ml := next((part.ml for part in brought(step, liquid, outcome) if part.ml), None):
            field = next((name for name in ("amount", "water") if hasattr(step, name)), None)
            changed: dict[str, Any] = {field: measured(ml, tool, exact.display)} if field else {}
            step = replace(step, **changed) if changed else step
        steps.append(step)
    return tuple(steps)


def _batch(
    given: Setting,
    now: tuple[Setting, Way],
    sums: tuple[Setting, Way],
    about: tuple[float, Stand | None, int, bool],
    shelf: Pantry,
) -> Batch:
    (made, way), (exact, right), (serve, stand, fillings, prediluted) = now, sums, about
    beside = tuple(scale(other, pantry=shelf, serves=made.serves, display=given.display, tool=given.tool)
                   for other in given.beside)  # fmt: skip
    ran = [b.trial for b in beside]
    run = trial.run_beside(replace(made, beside=tuple(one.setting for one in ran)), shelf, ran)
    bottled, ready = (_bottled(made, way, shelf, when) for when in ((BATCH,), (BATCH, DAY)))
    whole = float(run.made.volume)
    stays = whole - _usable(whole, bottled, fillings, stand)
    rows = _rows(made, exact, (run, right), shelf)
    sure = profile((exact.serve_volume or 0.0) / right.made.volume() * right.made)
    error = {f: float(getattr(run.served.profile, f) - getattr(sure, f)) for f in FIGURES}
    water = sum(row.ml or 0.0 for row in rows if row.key in PLAIN_WATER and row.when == BATCH) if prediluted else 0.0
    as_made, as_summed = (
        replace(part, draws=given.draws, beside=tuple(b.setting for b in beside)) for part in (made, exact)
    )
    return Batch(
        given, as_made, as_summed, run, rows, made.serves, serve, bottled, ready, stand, fillings, stays,
        max(whole - made.serves * float(run.served.profile.volume) - stays, 0.0), _losses(run), water, error, beside,
        _notes(made, run, bottled, (stand, fillings), prediluted),
    )  # fmt: skip


def _rows(made: Setting, exact: Setting, both: tuple[Trial, Way], shelf: Pantry) -> tuple[Row, ...]:
    rows = []
    for pour, right in zip(made.recipe.pours, exact.recipe.pours, strict=True):
        if pour.amount <= 0:
            continue
        item = pour.bottle(shelf)
        kept = keeping(item, pour, bool(made.steps))
        grams, dry = pour.amount * item.density, item.state == "solid"
        rows.append(Row(texts.line(item.name), item.id, pour.amount, right.amount, grams, kept.when, kept.why, dry))
    run, way = both
    later = zip(exact.steps, way.steps[len(way.steps) - len(exact.steps) :], strict=True)
    for now, (was, (_, liquid, outcome)) in zip(run.worked, later, strict=True):
        step = now[0]
        for part, sure in zip(brought(*now), brought(was, liquid, outcome), strict=True):
            set_to, sums = (
                ml and (getattr(of, "amount", None) or getattr(of, "water", None) or ml)
                for of, ml in ((step, part.ml), (was, sure.ml))
            )
            rows.append(Row(part.name, "", set_to, sums, part.grams, STEP, Fact("when it is", step=step.name)))
    return tuple(rows)


def _losses(run: Trial) -> tuple[tuple[str, float], ...]:
    """What each step keeps of the drink and of what it brings; gas is no loss of volume. [mL]"""
    found = []
    for step, liquid, outcome in run.worked:
        left, added = outcome.left, outcome.added
        if left is None or float(np.ravel(left.mass)[0]) <= float(np.ravel(left.co2)[0]):
            continue
        came = float(np.ravel(liquid.volume())[0]) + (0.0 if added is None else float(np.ravel(added.volume())[0]))
        found.append((step.name, came - float(np.ravel(outcome.liquid.volume())[0])))
    return tuple(found)


# --- what is to be said -------------------------------------------------------------------------------------------


def _notes(
    made: Setting, run: Trial, bottled: float, held: tuple[Stand | None, int], prediluted: bool
) -> tuple[Fact, ...]:
    stand, fillings = held
    said: list[Fact] = []
    if stand is not None and fillings > 1:
        each = VOLUME(bottled / fillings)
        said.append(Fact("several fillings", bottled=VOLUME(bottled), fillings=fillings, vessel=stand.name, each=each))
    if prediluted and run.recipe.serve == "on ice":
        said.append(Fact("water is in it"))
    wait = [item for item, _ in waiting(made, run.pantry)]
    said += storage.how_long(wait, bool(made.step(milk.MilkWash)))
    if storage.sparkles(made, run.pantry) and not made.step(carbonation.Carbonate):
        said.append(SPARKLES)
    if frozen := made.step(dilution.Freeze):
        happens = next(outcome.said[1:] for step, _, outcome in run.worked if step is frozen)
        said += [fact for fact in happens if isinstance(fact, Fact)]
        if said[-1].code != "stays liquid" and storage.sparkles(made, run.pantry):
            said.append(Caution("freezes"))
    return tuple(said)
