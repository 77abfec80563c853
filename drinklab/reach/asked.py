"""What is asked for: bottles on hand, wanted figures as bands, limits and measures, each checked."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from .. import classics
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import RATIO, VOLUME, Given, Kind, Number
from ..pantry import Ingredient, Pantry
from ..profile import KINDS, WORDS, reference
from ..profile import scales as _scales
from ..recipe import Recipe
from ..units import BAR_MEASURES, number, read, to_ml

FIGURES = ("abv", "sugar", "acid", "volume")
# What the pours of an answer cost: no figure of a drink, but it can be wished for. Volume stays last.
COST = "cost"
AXES = ("abv", "sugar", "acid", COST, "volume")
# A tenth above what it may cost counts as a unit, as the others of `scales` do. A judgement, no published source.
COST_SCALE = 0.1
# A wanted figure without a tolerance is met within this share of its scale: nearer than a jigger pours.
TOLERANCE = 0.1
# Without a wanted volume the pours add up to a usual drink: the median of the classics is 90 mL. [mL]
SIZE = (60.0, 120.0)
SMALLEST = BAR_MEASURES["dash"]  # what is poured freely is poured at least so much, or not at all [mL]


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
class PerMl:
    """What bottles cost.

    Parameters
    ----------
    currency : str
    each : mapping of str to float
        By the id of an ingredient, money for a millilitre of it as it is poured.
    """

    currency: str
    each: Mapping[str, float]

    def of(self, bottles: list[Ingredient]) -> np.ndarray:
        """Of each bottle. [money/mL]

        Raises
        ------
        InputError
            Naming what has no price: a wish cannot be held against a part of the cost.
        """
        missing = [bottle.name for bottle in bottles if bottle.id not in self.each]
        if missing:
            told, allowed = Told("asked for"), f"left out until these have a price: {'; '.join(missing)}"
            raise InputError("wanted cost", told, allowed)
        return np.array([self.each[bottle.id] for bottle in bottles])


class Ratio(NamedTuple):
    """Always so many times as much of one bottle as of another."""

    bottle: Any
    other: Any
    times: float  # [mL/mL]


def _one(value: Number, field: str, allowed: str = "one number") -> float:
    if np.ndim(value):
        raise InputError(field, Told("several numbers"), allowed)
    return float(value)


def kind_of(axis: str, prices: PerMl | None = None) -> Kind:
    """The unit and range of a figure that can be wanted; that of a cost is its currency."""
    return Kind(prices.currency if prices else "of money", "money", 0, 1e6) if axis == COST else KINDS[axis]


def called(axis: str) -> str:
    """What a figure that can be wanted is called."""
    return COST if axis == COST else WORDS[axis]


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


def same(a: Ingredient, b: Ingredient) -> bool:
    """Whether two bottles are the same thing at the same strength."""
    return a.id == b.id and a.abv == b.abv


def on_hand(item: Any, shelf: Pantry) -> Ingredient:
    """The pantry's bottle, at its strength."""
    if isinstance(item, (tuple, list)) and len(item) == 2:
        item = on_hand(item[0], shelf).labelled(item[1])
    elif isinstance(item, str):
        item = shelf.find(item)
    elif not isinstance(item, Ingredient):
        raise InputError("bottle", item, "a name, an ingredient of the pantry, or either with a strength")
    if item.id not in shelf:
        raise InputError("bottle", item.name, "one of the pantry; add it with Pantry.with_items")
    return shelf.bottle(*shelf.label(item))


def listed(items: Any) -> list[Any]:
    """One bottle is a list of one."""
    return [items] if isinstance(items, (str, Ingredient)) else list(items)


def all_on_hand(items: Any, shelf: Pantry) -> list[Ingredient]:
    """The bottles to choose from, each once and with known contents."""
    items = listed(items)
    if not items:
        raise InputError("bottles", "", "at least one bottle on hand")
    if not len(shelf):
        raise InputError("pantry", "", "at least one ingredient")
    if len(items) > 30:
        raise InputError("bottles", Told(f"{len(items)} bottles"), "at most 30")
    found: list[Ingredient] = []
    for item in items:
        bottle = on_hand(item, shelf)
        if any(same(bottle, b) for b in found):
            raise InputError("bottles", Told(f"a list with {bottle.name} twice"), "a list with each bottle once")
        if not bottle.composition.any():
            raise InputError("bottle", bottle.name, "one whose contents are known, to count with")
        found.append(bottle)
    return found


def which(bottles: list[Ingredient], item: Any, shelf: Pantry, field: str) -> int:
    """Place of a bottle in the list, by its id and strength; by its name alone where that is enough."""
    wanted = on_hand(item, shelf)
    exact = [i for i, b in enumerate(bottles) if same(b, wanted)]
    alike = exact or [i for i, b in enumerate(bottles) if b.id == wanted.id and wanted.abv == shelf[b.id].abv]
    if not exact and len(alike) != 1:
        raise InputError(field, wanted.name, f"one of the bottles on the list: {'; '.join(b.name for b in bottles)}")
    return alike[0]


def amounts_of(recipe: Recipe, bottles: list[Ingredient], shelf: Pantry) -> np.ndarray:
    """How much of each bottle a recipe has. [mL]"""
    if not isinstance(recipe, Recipe):
        raise InputError("recipe to stay near", Told(f"a {type(recipe).__name__}"), "a recipe")
    out = np.zeros(len(bottles))
    for item, amount in zip(recipe.bottles(shelf), recipe.amounts, strict=True):
        out[which(bottles, item, shelf, "bottle of the recipe to stay near")] += amount
    return out


def ratio_of(ratio: Any) -> Ratio:
    """What was given as (bottle, other bottle, number)."""
    try:
        first, second, times = ratio
    except (TypeError, ValueError):
        raise InputError("ratio", Told(repr(ratio)), "a bottle, another bottle and a number") from None
    times = _one(number(times, "ratio"), "ratio")
    require("ratio", times, 1e-3, 1e3, "to 1")
    return Ratio(first, second, times)


def bands_of(target: Mapping[str, Any], tolerance: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    """Each wanted figure as a band (low, high), a number widened by its tolerance; arguments as for `reach`."""
    if not target:
        raise InputError("target", "", f"at least one of {', '.join(AXES)}")
    for called_, held in (("target", target), ("tolerance", tolerance)):
        if not isinstance(held, Mapping):
            raise InputError(called_, Told(f"a {type(held).__name__}"), f"figures by name: {', '.join(AXES)}")
    for axis in (*target, *tolerance):
        one_of("figure of the target", axis, AXES)
    bands: dict[str, tuple[float, float]] = {}
    for axis in (a for a in AXES if a in target):
        field, kind, value = f"wanted {called(axis)}", kind_of(axis), target[axis]
        band = isinstance(value, (tuple, list))
        if band and len(value) != 2:
            raise InputError(field, Told(f"{len(value)} numbers"), "one number, or a band of two")
        ends = (read(v, kind, field) for v in (value if band else (value, value)))
        low, high = (_one(end, field, "one number, or a band of two") for end in ends)
        for end in (low, high):
            require(field, end, kind.low, kind.high, kind.label)
        if low > high:
            raise InputError(
                field, Told(f"a band from {low:g} to {high:g} {kind.label}"), "a band with the low end first"
            )
        if axis == COST:
            if axis in tolerance:
                raise InputError("tolerance of cost", tolerance[axis], "left out: a cost is wanted under what is given")
            if high <= 0:
                raise InputError(field, high, "above 0")
            bands[axis] = (low if band else 0.0, high)
            continue
        if axis == "volume" and low <= 0:
            raise InputError(field, VOLUME(low), Fact("above", low=VOLUME(0)))
        if not band:
            room = scales()[axis] * TOLERANCE * (low if axis == "volume" else 1)
            if axis in tolerance:
                of = f"tolerance of {WORDS[axis]}"
                room = _one(read(tolerance[axis], kind, of), of)
                most = low / 2 if axis == "volume" else np.inf  # with more, no drink at all would do
                require(of, room, 0, most, kind.label)
            low, high = max(low - room, kind.low), min(high + room, kind.high)
        elif axis in tolerance:
            raise InputError(f"tolerance of {WORDS[axis]}", tolerance[axis], "left out where a band is wanted")
        bands[axis] = (low, high)
    for axis in tolerance:
        if axis not in bands:
            raise InputError(
                f"tolerance of {called(axis)}", tolerance[axis], "left out where that figure is not wanted"
            )
    return bands


def limits_of(
    limits: Mapping[str, Any], bottles: list[Ingredient], shelf: Pantry, measure: Given | None
) -> list[tuple[float, float, float]]:
    """(least, most, measure) of each bottle; a measure of 0 pours freely. [mL]"""
    step = _step(measure, "measure")
    out = [(0.0, np.inf, step)] * len(bottles)
    for key, given in limits.items():
        i = which(bottles, key, shelf, "limit of a bottle")
        called, density = bottles[i].name, bottles[i].density
        if not isinstance(given, Limit):
            if not isinstance(given, (tuple, list)) or len(given) != 2:
                raise InputError(f"limit of {called!r}", Told(repr(given)), "least and most, or a Limit")
            given = Limit(*given)
        least, most = (
            none if amount is None else _one(to_ml(amount, density, f"{end} of {called!r}"), f"{end} of {called!r}")
            for end, amount, none in (("least", given.least, 0.0), ("most", given.most, np.inf))
        )
        if least > most:
            raise InputError(f"least of {called!r}", VOLUME(least), Fact("up to the most of it", most=VOLUME(most)))
        own = step if given.measure is None else _step(given.measure, f"measure of {called!r}", density)
        out[i] = (least, most, own)
    return out


def _step(measure: Given | None, field: str, density: float | None = None) -> float:
    if measure is None:
        return 0.0
    step = to_ml(measure, density, field)
    if np.ndim(step) or step < 0.01:
        raise InputError(field, measure, Fact("one amount from", low=VOLUME(0.01)))
    return float(step)


def melt_share(melt: Given) -> float:
    """Melt water that is set, as a share of the volume before ice. [mL/mL]"""
    share = _one(read(melt, RATIO, "melt water"), "melt water")
    require("melt water", share, 0, 3, "of the drink before ice")
    return share
