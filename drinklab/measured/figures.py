"""From a reading to the figure that it tells of: the table's own as a prior, and the reading in the figure's unit."""

from __future__ import annotations

import datetime
import functools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from .. import balance, dilution, filtering, milk, own, prep, tables
from ..carbonation import POURED_LOSS, POURED_SPREAD
from ..errors import InputError, one_of
from ..facts import Fact
from ..kinds import VOLUME, Number
from ..learned import MELT_SPREAD, OWN_OF_MELT, Learned
from ..liquid import ACIDS, SUGARS, Liquid
from ..names import labelled
from ..pantry import Ingredient, Pantry
from ..physics import blocking
from ..physics import density as _density
from ..setting import TOOLS
from .entries import Entry
from .joining import Joined, Reading
from .sorts import FOR_GOOD, FRUIT_DIFFER, JUICE, LEAST_PM, MILK, SEASON, SORTS, SYRUP, Instrument

OF_INGREDIENTS = ("strength", "sugar", "acid", "ph", "fruit")
# A milk is named, and how it was washed where that was hot.
_HOT = ", hot"
# Of a curve that readings are looked up on, close together where there is little of it: off by 0.001 g/L at most.
_STEPS = np.linspace(0.0, 1.0, 1025)


@dataclass(frozen=True, slots=True)
class Target:
    """The figure that readings of one kind and thing tell of.

    `prior` and `prior_pm` are the table's with about one standard deviation; `logs` says that both are logarithms.
    """

    kind: str
    what: str
    prior: float
    prior_pm: float
    half_life: float = FOR_GOOD
    label: float | None = None
    item: Ingredient | None = None
    logs: bool = False

    @property
    def thing(self) -> Ingredient:
        """The ingredient whose figure it is."""
        if self.item is None:
            raise TypeError(f"{self.kind} is no figure of an ingredient")
        return self.item

    def learned(self, found: Joined, entries: list[Entry]) -> Learned:
        """What was joined, as it is kept."""
        last = max(entries, key=lambda entry: entry.when)
        value, pm, prior, prior_pm = found.value, found.pm, self.prior, self.prior_pm
        if self.logs:
            value, prior = math.exp(value), math.exp(prior)
            pm, prior_pm = pm * value, prior_pm * prior
        return Learned(
            self.kind, self.what, float(value), float(pm), float(prior), float(prior_pm), self.label,
            last.instrument, last.when, last.batch, sum(entry.times for entry in entries),
        )  # fmt: skip


def target(kind: str, what: str, shelf: Pantry) -> Target:
    """The figure that a measurement of `what` tells of.

    Raises
    ------
    InputError
        For a thing that there is not, or of which nothing of this kind can be measured.

    Examples
    --------
    >>> from drinklab.pantry import load
    >>> found = target("acid", "lemon juice", load())
    >>> found.prior, found.prior_pm, target("strength", "gin, 40 %", load()).prior_pm
    (50.0, 7.0, 0.3)
    """
    if kind in OF_INGREDIENTS:
        return _of_ingredient(kind, what, shelf)
    if kind == "pour":
        one_of("tool", what, [name for name in TOOLS if name not in ("exact", "scale")])
        return Target(kind, what, 1.0, 0.0)  # its spread is that of the mark: `_pour_target`
    if kind == "milk":
        held = milk.milk_of(what)
        return Target(kind, what, held.buffering, held.buffering_pm / 2, MILK)
    if kind == "wash":
        milk.milk_of(what.removesuffix(_HOT))
        how = milk.way_of(milk.HOT if what.endswith(_HOT) else milk.COLD)
        return Target(kind, how.name, math.log(how.hold_up), math.log(how.hold_up_factor) / 1.96, logs=True)
    if kind == "ice":
        one_of("technique", what, [name for name in dilution.RULES if name != "none"])
        return Target(kind, what, 1.0, MELT_SPREAD / 2 * math.sqrt(OWN_OF_MELT), SEASON)
    if kind in ("filter", "paper"):
        one_of("filter", what, ["paper"])
        usual, pm = {
            "filter": (blocking.USUAL_TIME, filtering.FROM_BATCH_TO_BATCH),
            "paper": (filtering.PAPER_HOLDS, filtering.PAPER_OWN),
        }[kind]
        return Target(kind, what, math.log(usual), pm, SEASON, logs=True)
    one_of("way to pour", what, POURED_LOSS)
    return Target(kind, what, 1.0, POURED_SPREAD / 2)


def _of_ingredient(kind: str, what: str, shelf: Pantry) -> Target:
    item = shelf.find(what)
    style = shelf[item.id]
    label = None
    if kind == "strength":
        _, said = labelled(what)
        named = item is not style and said
        label = item.abv if named else None
        if not item.abv > 0:
            raise InputError("what was measured", item.name, "something with alcohol")
        return _spread(Target(kind, item.id, item.abv, item.abv_pm, label=label, item=item))
    item = style
    half_life = SYRUP if item.kind == "syrup" else JUICE if item.kind == "juice" else FOR_GOOD
    if kind == "sugar":
        return _spread(Target(kind, item.id, item.sugar, item.sugar_pm, half_life, item=item))
    if kind == "fruit":
        row = next((row for row in tables.read("fruit").rows() if row["ingredient_id"] == item.id), None)
        if row is None:
            raise InputError("what was measured", item.name, "a juice whose fruit the table of fruit has")
        usual, low, high = (row[name] / item.density for name in ("juice_g", "juice_low_g", "juice_high_g"))
        return Target(kind, item.id, usual, (high - low) / 4, half_life, item=item)
    if not item.acid > 0:
        raise InputError("what was measured", item.name, "something that the table has acid of")
    if kind == "acid":
        return _spread(Target(kind, item.id, item.acid, item.acid_pm, half_life, item=item))
    salts, unsure = (item.solutes.get(name, 0.0) for name in ("potassium", "unsure_potassium"))
    pm = math.hypot(balance.SALT_PM * salts, balance.UNSURE_PM * unsure)
    return _spread(Target(kind, item.id, salts + unsure, pm, half_life, item=item))


def _spread(found: Target) -> Target:
    share, least = LEAST_PM[found.kind]
    return replace(found, prior_pm=max(found.prior_pm, share * found.prior, least))


# --- readings -------------------------------------------------------------------------------------------------


def reading(entry: Entry, at: Target, today: datetime.date) -> tuple[Target, Reading]:
    """A measurement in the unit of its figure, and the figure with the spread that it then has.

    Raises
    ------
    InputError
        For what cannot be true together with what is known of the thing.
    """
    age, way, instrument = float((today - entry.day).days), _WAYS[at.kind], None
    value, width = way.in_unit(entry, at, entry.pm / 2)
    at = way.at(at, entry.of)
    if way.each is not None:
        instrument, width = width, math.hypot(width, way.each(value, at) / math.sqrt(entry.times))
    elif entry.times > 1:
        width *= math.sqrt((1 + 1 / entry.times) / 2)  # half of an instrument's variance is its own: `joining`
    return at, Reading(value, float(max(width, 1e-9)), age, entry.instrument, instrument)


def _as_it_is(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    return entry.value, sd


def _share(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """Of what it is a share of: the mark, the melt by the rule, the gas that was there."""
    return entry.value / entry.of, sd / entry.of


def sugar_of(brix: float, item: Ingredient) -> float:
    """Sugar behind a refractometer's reading of an ingredient: less its alcohol, acid and other extract. [g/L]

    >>> from drinklab.pantry import load
    >>> round(sugar_of(50, load()["sugar_syrup_1to1"]))
    615
    """
    if item.abv > 0.5:
        whole = prep.true_sugar(brix, item.abv).sugar
    else:
        whole = 10 * brix * float(_density.sucrose_water(brix / 100)) / 1000
    others = sum(g for name, g in item.solutes.items() if name not in (*SUGARS, "fat"))
    return max(float(whole) - 0.9 * others, 0.0)


def brix_of(sugar: float, item: Ingredient) -> float:
    """What a refractometer would show of it: `sugar_of` the other way. [°Brix]"""
    strong = item.abv > 0.5
    least = float(prep.true_sugar(prep.MOST_READING, item.abv).alcohol_reads) if strong else 0.0
    return _where(sugar, lambda brix: sugar_of(brix, item), least, prep.MOST_READING if strong else 85.0)


def _where(wanted: float, of: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function has a value, by halving; its end where it has it nowhere."""
    for _ in range(48):
        middle = (low + high) / 2
        low, high = (low, middle) if of(middle) >= wanted else (middle, high)
    return (low + high) / 2


def _sugar(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    value = sugar_of(entry.value, at.thing)
    more = sugar_of(min(entry.value + max(sd, 0.01), 85.0), at.thing)
    return value, max(more - value, 0.1) * (sd / max(sd, 0.01) if sd else 1.0)


def _acid(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """All acids by weight that take so much alkali, in the proportions that the table has."""
    acid, alkali = _titrations(_Sour.of(at.thing))
    usual, more = np.interp([at.thing.acid, 1.1 * at.thing.acid], acid, alkali)
    return float(np.interp(entry.value, alkali, acid)), sd * 0.1 * at.thing.acid / float(more - usual)


class _Sour(NamedTuple):
    """What of an ingredient its titration and its pH depend on."""

    abv: float
    acid: float
    solutes: tuple[tuple[str, float], ...]

    @classmethod
    def of(cls, item: Ingredient) -> _Sour:
        return cls(item.abv, item.acid, tuple(item.solutes.items()))


# A folder may hold thousands of readings of one juice, and each turns into its figure by the same curve.
@functools.lru_cache(maxsize=256)
def _titrations(of: _Sour) -> tuple[np.ndarray, np.ndarray]:
    """Acid by weight, and the alkali that it takes as citric acid. [g/L]"""
    acid = 4 * max(SORTS["acid"].high, of.acid) * _STEPS**2
    return acid, np.maximum.accumulate(balance.titratable(_litre(of, acid, dict(of.solutes).get("potassium", 0.0))))


@functools.lru_cache(maxsize=256)
def _salts(of: _Sour) -> tuple[np.ndarray, np.ndarray]:
    """Salts as potassium [g/L], and the pH that its acid has with them."""
    salts = own.MOST_SALTS * _STEPS**2
    return salts, np.maximum.accumulate(balance.ph(_litre(of, of.acid, salts)))


def _litre(of: _Sour, acid: Number, salts: Number) -> Liquid:
    """A litre of it, with so much acid in the proportions of the table, and so much salt as known potassium. [g]"""
    solutes = dict(of.solutes)
    held: dict[str, Number] = {name: solutes.get(name, 0.0) for name in SUGARS}
    held |= {name: solutes.get(name, 0.0) * (acid / of.acid) for name in ACIDS}
    water = 1000 - 0.62 * sum(held.values()) - 10 * of.abv
    return Liquid.of(water=np.maximum(water, 1.0), ethanol=7.89 * of.abv, potassium=salts, **held)


def _ph(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """Salts, as potassium, with which its acid has this pH. [g/L]"""
    item, of = at.thing, _Sour.of(at.thing)
    salts, ph = _salts(of)
    alone, most = float(ph[0]), float(ph[-1])
    if entry.value < alone - 0.3 or entry.value > most:
        allowed = Fact("pH of so much acid", acid=item.acid, low=f"{alone - 0.3:.1f}", high=f"{most:.1f}")
        raise InputError(f"pH of {item.name!r}", entry.value, allowed)
    width = math.hypot(sd, _own_error(of))
    value, low, high = np.interp([entry.value, entry.value - width, entry.value + width], ph, salts).tolist()
    return value, max((high - low) / 2, 0.01)


@functools.lru_cache(maxsize=256)
def _own_error(of: _Sour) -> float:
    """Of the constants of its acids: no sum of a pH is surer than that."""
    return float(balance.ph_pm(_litre(of, of.acid, 0.0)))


def sd_of_salts(item: Ingredient, salts: float, instrument: Instrument) -> float:
    """One standard deviation of the salts that a pH by an instrument tells of. [g/L]"""
    of = _Sour.of(item)
    ph, more = np.asarray(balance.ph(_litre(of, of.acid, np.array([salts, salts + 0.05])))).tolist()
    width, slope = math.hypot(instrument.pm(ph) / 2, _own_error(of)), (more - ph) / 0.05
    return width / max(slope, 1e-6)


def _pour_target(at: Target, mark: float) -> Target:
    """Half of the variance of a pour is the jigger's, the rest is the hand's: a judgement."""
    absolute, relative = TOOLS[at.what]
    return replace(at, prior_pm=min(absolute / mark + relative, 0.5) / 2 * math.sqrt(0.5))


def _wash(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """The logarithm of what drained curd holds [mL/g of dry]: what did not run off, over the milk's casein and fat."""
    held = milk.milk_of(entry.what.removesuffix(_HOT))
    ml = held.millilitre
    dry = entry.milk * (held.casein + float(ml.fat))
    kept = entry.of - entry.value
    if not 0 < kept < 20 * dry:
        raise InputError("what ran off", VOLUME(entry.value), Fact("less than was poured", all=VOLUME(entry.of)))
    return math.log(kept / dry), sd / kept


def _filter(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """The logarithm of the minutes for half a litre: between in proportion to what is through and to its square."""
    far = math.log(blocking.USUAL_VOLUME / entry.of)
    return math.log(entry.value) + 1.5 * far, math.hypot(sd / entry.value, _POWER_PM * far)


def _paper(entry: Entry, at: Target, sd: float) -> tuple[float, float]:
    """The logarithm of what a paper keeps."""
    return math.log(entry.value), sd / entry.value


class _Way(NamedTuple):
    """How a reading of a kind tells of its figure.

    `in_unit` gives it in the figure's unit with one standard deviation of the instrument, `each` what the thing itself
    differs by from one time to the next (one standard deviation; None: not at all), `at` the figure with the spread
    that it has where it was measured.
    """

    in_unit: Callable[[Entry, Target, float], tuple[float, float]]
    each: Callable[[float, Target], float] | None = None
    at: Callable[[Target, float], Target] = lambda at, of: at


# From time to time: the hand's part of a pour is as wide as the jigger's; of a melt from drink to drink, as a share of
# it; of the logarithms of a filter's time from batch to batch, and of what one paper keeps beside another (half of the
# variance). Judgements.
_MELT_EACH = MELT_SPREAD / 2 * math.sqrt(1 - OWN_OF_MELT)
_POWER_PM = 0.25  # one standard deviation of the power 1.5 with which a filter's time goes with what is through
_WAYS = {
    "strength": _Way(_as_it_is),
    "sugar": _Way(_sugar),
    "acid": _Way(_acid),
    "ph": _Way(_ph),
    "fruit": _Way(_as_it_is, lambda value, at: FRUIT_DIFFER * value),
    "pour": _Way(_share, lambda value, at: at.prior_pm, _pour_target),
    "milk": _Way(_as_it_is),
    "wash": _Way(_wash),
    "gas": _Way(_share),
    "ice": _Way(_share, lambda value, at: _MELT_EACH * value),
    "filter": _Way(_filter, lambda value, at: filtering.FROM_BATCH_TO_BATCH),
    "paper": _Way(_paper, lambda value, at: filtering.PAPER_OWN),
}


# --- the ingredient with what was measured ---------------------------------------------------------------------


def with_learned(item: Ingredient, found: list[Learned]) -> Ingredient:
    """An ingredient with the figures that were measured in the place of the table's."""
    changed: dict[str, Any] = {"measured": (*item.measured, *found)}
    solutes = dict(item.solutes)
    for one in found:
        if one.kind == "strength" and one.label is None:
            changed |= {"abv": float(np.clip(one.value, 0, 100)), "abv_pm": one.pm}
        elif one.kind == "sugar":
            value = max(one.value, 0.0)
            _scale(solutes, SUGARS, item.sugar, value, "sucrose")
            changed |= {"sugar": value, "sugar_pm": one.pm}
        elif one.kind == "acid":
            value = max(one.value, 0.0)
            _scale(solutes, ACIDS, item.acid, value, "citric")
            changed |= {"acid": value, "acid_pm": one.pm}
        elif one.kind == "ph":
            salts, unsure = max(one.value, 0.0), solutes.pop("unsure_potassium", 0.0)
            left = min(unsure, 2 * one.pm, salts) if unsure else 0.0
            solutes["potassium"] = salts - left
            if left:
                solutes["unsure_potassium"] = left
    return replace(item, **changed, solutes={name: grams for name, grams in solutes.items() if grams})


def _scale(solutes: dict[str, float], names: Iterable[str], was: float, now: float, fallback: str) -> None:
    if was > 0:
        for name in names:
            if name in solutes:
                solutes[name] *= now / was
    elif now > 0:
        solutes[fallback] = solutes.get(fallback, 0.0) + now
