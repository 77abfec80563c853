"""One bottle, juice or syrup: how strong, how sweet, how sour, how sure, and what a millilitre of it holds.

>>> from drinklab.pantry import load
>>> round(load()["rum_aged"].density, 3)
0.95
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from .errors import InputError, Told, require
from .kinds import ABV, Given, Number
from .learned import Learned, of_label
from .liquid import ACIDS, COMPONENTS, SUGARS
from .physics import density as _density
from .units import read

# EU labels may be 0.3 % vol off for spirits (Regulation 1169/2011, annex XII; from memory).
LABEL_TOLERANCE = 0.3
# Most sucrose that counts as dissolved at 20 °C, as a share of sucrose and water: a little over the published figure.
MOST_SUCROSE = _density.sucrose_solubility(20.0) + 0.01
# No more sugar than this stays in a syrup of several sugars, as a share of sugar and water (honey: 0.83).
MOST_SUGAR = 0.87

_NO_ALCOHOL = (
    "left out, since it holds no alcohol; its fat, juice or salt goes with the name, such as "
    "'whole milk, 3.25 % fat', or into a row of your own"
)

ETHANOL = float(_density.ethanol()) / 1000  # g/mL
# How a millilitre is filled up with water: the least that is tried first, the least that is left [g], how often it is
# tried, when it is near enough, and what still counts as a fit [mL].
FILL = {"first": 0.05, "least": 1e-6, "rounds": 40, "near": 1e-12, "fits": 1e-4}
COLUMN = {name: i for i, name in enumerate(COMPONENTS)}
SUGAR_COLUMNS = [COLUMN[n] for n in SUGARS]
ACID_COLUMNS = [COLUMN[n] for n in ACIDS]


@dataclass(frozen=True, slots=True, eq=False)
class Ingredient:
    """One bottle, juice or syrup.

    Strengths are % vol at 20 °C, sugars and acids g/L. Each `_pm` is about one standard deviation
    between makers, or between fruits. `solutes` names grams per litre of everything but water and
    ethanol; `composition` is all of it, with water, in g/mL. `stated` is whether it is known which
    allergens it holds, were it none; `no_caution` whether its owner says that it needs none, whatever its name says.
    """

    id: str
    name: str
    kind: str
    abv: float
    sugar: float
    acid: float
    abv_pm: float = 0.0
    sugar_pm: float = 0.0
    acid_pm: float = 0.0
    solutes: Mapping[str, float] = field(default_factory=dict, repr=False)
    state: str = "liquid"
    published_density: float | None = None
    allergens: tuple[str, ...] = ()
    may_contain: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    source: str = ""
    source_class: str = ""
    stated: bool = False
    no_caution: bool = False
    measured: tuple[Learned, ...] = ()  # by the bar itself; its figures are in those above already

    @property
    def unstated(self) -> tuple[str, ...]:
        """Its name, where nobody has said which allergens it holds: unknown is not none."""
        return () if self.stated or self.allergens else (self.name,)

    def at(self, abv: float) -> Ingredient:
        """The same style in a bottle of another strength, as its label says.

        >>> from drinklab.pantry import load
        >>> load()["rum_aged"].at(50).name
        'aged rum, 50 %'
        """
        require(f"strength of {self.name!r}", abv, 0, 100, "% vol")
        name = re.sub(r",?\s*\d+(\.\d+)? %( vol)?$", "", self.name)
        named = f"{name}, {abv:g} %"
        if named == self.name:  # of a style that goes by its strength: "triple sec, 40 %" is any maker's
            named += " vol"
        strong, pm = of_label(self.measured, abv) or (float(abv), min(LABEL_TOLERANCE, abv))
        bottle = replace(self, abv=strong, abv_pm=pm, name=named)
        _nominal(bottle)  # refuses a strength that leaves no room for the sugar
        return bottle

    def labelled(self, strength: Given) -> Ingredient:
        """The same style in the bottle at hand, at the strength that a person typed: 50, "50 %" or "50 % vol".

        Raises
        ------
        InputError
            For what is no strength in % vol, and for one of what holds no alcohol.

        Examples
        --------
        >>> from drinklab.pantry import load
        >>> load()["gin"].labelled("40 %").abv_pm
        0.3
        """
        field = f"strength of {self.name!r}"
        abv = read(strength, ABV, field)
        if self.abv == 0:
            raise InputError(field, strength if isinstance(strength, str) else Told(f"{abv:g} % vol"), _NO_ALCOHOL)
        return self.at(float(abv))

    @property
    def composition(self) -> np.ndarray:
        """Grams of each of `liquid.COMPONENTS` in a millilitre at 20 °C. [g/mL]"""
        return _nominal(self)

    @property
    def density(self) -> float:
        """What a millilitre weighs; of a dry solid, a millilitre as dissolved. [g/mL]"""
        grams = float(self.composition.sum())
        return grams if grams > 0 else (self.published_density or 1.0)

    def draws(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """Compositions of `n` bottles of this style, shape (n, components). [g/mL]

        Strength, sugar and acid vary normally and independently, each by its `_pm`; a draw below zero
        (or above 100 % vol) counts as zero (100).
        """
        z = rng.standard_normal((3, n))
        abv = np.clip(self.abv + self.abv_pm * z[0], 0, 100)
        sugar = np.maximum(self.sugar + self.sugar_pm * z[1], 0)
        acid = np.maximum(self.acid + self.acid_pm * z[2], 0)
        return composition_of(self, abv, sugar, acid)


@functools.lru_cache(maxsize=4096)
def _nominal(item: Ingredient) -> np.ndarray:
    grams = composition_of(item, np.array(item.abv), np.array(item.sugar), np.array(item.acid))
    grams.setflags(write=False)
    return grams


def composition_of(item: Ingredient, abv: Number, sugar: Number, acid: Number) -> np.ndarray:
    """g/mL of each component, shape (*axes, components); water fills what the rest leaves of the volume."""
    grams = np.zeros((len(COMPONENTS), *np.broadcast_shapes(np.shape(abv), np.shape(sugar), np.shape(acid))))
    for name, per_litre in item.solutes.items():
        grams[COLUMN[name]] = per_litre / 1000
    for columns, total, nominal, fallback in (
        (SUGAR_COLUMNS, sugar, item.sugar, "sucrose"),
        (ACID_COLUMNS, acid, item.acid, "citric"),
    ):
        if nominal > 0:
            grams[columns] *= total / nominal
        else:
            grams[COLUMN[fallback]] += total / 1000
    grams[COLUMN["ethanol"]] = abv / 100 * ETHANOL
    if item.state == "liquid":
        grams[COLUMN["water"]], fits = fill_with_water(grams)
        if not grams.shape[1:] and not fits:  # a draw may be a little fuller than its bottle can be
            raise no_room(item)
    return np.moveaxis(grams, 0, -1)


class Filled(NamedTuple):
    """Grams of water that make the whole one millilitre at 20 °C, and where that can be done."""

    water: np.ndarray
    fits: np.ndarray


def fill_with_water(grams: np.ndarray) -> Filled:
    """Water to what else a millilitre holds, at 20 °C. [g]"""
    held = {n: grams[i] for n, i in COLUMN.items() if n != "water"}
    water = np.maximum(1.0 - sum(held.values()), FILL["first"])
    for _ in range(int(FILL["rounds"])):
        off = _density._solution_volume({"water": water, **held}) - 1.0
        water = np.maximum(water - off, FILL["least"])
        if np.abs(off).max(initial=0.0) < FILL["near"]:
            break
    return Filled(water, np.abs(off) < FILL["fits"])  # pure spirit holds no water, and its volume is known no better


def no_room(item: Ingredient, where: str = "") -> InputError:
    """That a bottle cannot hold so much at once."""
    return InputError(
        f"alcohol and sugar of {item.name!r}", f"{item.abv:g} % vol with {item.sugar:g} g/L",
        "little enough to leave room for each other in a litre", where,
    )  # fmt: skip
