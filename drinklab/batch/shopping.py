"""What to buy: bottles by size, fruit with its spread, eggs and leaves by the piece; one list for several drinks."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from .. import tables
from ..display import Display
from ..errors import InputError
from ..facts import Fact
from ..kinds import VOLUME, Given
from ..making import weight
from ..names import pieces
from ..pantry import Ingredient, Pantry
from ..recipe import PLAIN_WATER
from ..units import to_ml
from .made import Batch, Row
from .storage import STEP

SIZES = (700.0, 750.0, 1000.0)  # of bottles that most spirits are sold in [mL]
_BOTTLED = ("spirit", "liqueur", "fortified wine", "wine")
# What holds the milk of a wash, and what it is called there: bought by the litre. [mL]
_CARTON = 1000.0


@dataclass(frozen=True, slots=True)
class Fruit:
    """How many fruit give so much juice: as usual, and with good and poor ones."""

    name: str
    one: str
    count: int
    low: int
    high: int

    def said(self) -> Fact:
        """How many that is about.

        >>> print(Fruit("limes", "lime", 9, 6, 12).said(), Fruit("limes", "lime", 1, 1, 1).said(), sep="; ")
        about 9 limes (6 to 12); about 1 lime
        """
        fruit = self.one if self.count == 1 else self.name
        if self.low >= self.high:
            return Fact("about so much fruit", count=self.count, fruit=fruit)
        return Fact("about so much fruit, with ends", count=self.count, fruit=fruit, low=self.low, high=self.high)

    def to_buy(self) -> Fact:
        """As many as do even if they are poor.

        >>> print(Fruit("limes", "lime", 9, 6, 12).to_buy())
        12 limes (of usual ones 9, of good ones 6)
        """
        fruit = self.one if self.high == 1 else self.name
        if self.low >= self.high:
            return Fact("fruit to buy", high=self.high, fruit=fruit)
        return Fact("fruit to buy, with ends", high=self.high, fruit=fruit, count=self.count, low=self.low)


@functools.cache
def _yields() -> Mapping[str, dict[str, Any]]:
    return {row["ingredient_id"]: row for row in tables.read("fruit").rows()}


class Juice(NamedTuple):
    """Juice of one fruit: usual, poor, good. [mL]"""

    usual: float
    poor: float
    good: float


def juice_of(item: Ingredient) -> Juice | None:
    """Juice of one fruit: usual, poor, good; None where none is published. [mL]

    >>> from drinklab.pantry import load
    >>> [round(ml) for ml in juice_of(load()["lemon_juice"])]
    [47, 30, 67]
    """
    row = _yields().get(item.id)
    if row is None:
        return None
    measured = next((one for one in item.measured if one.kind == "fruit"), None)
    if measured is not None:  # by the bar itself: 19 lots in 20
        least = max(measured.value - 2 * measured.pm, 0.3 * measured.value)
        return Juice(measured.value, least, measured.value + 2 * measured.pm)
    usual, low, high = (row[column] / item.density for column in ("juice_g", "juice_low_g", "juice_high_g"))
    return Juice(usual, low, high)


def fruit(item: Ingredient, ml: float) -> Fruit | None:
    """Fruit for so much juice; lots differ more than fruit of a lot, so that the spread stays with many.

    Examples
    --------
    >>> from drinklab.pantry import load
    >>> print(fruit(load()["lemon_juice"], 1000).said())
    about 22 lemons (16 to 34)
    """
    juice = juice_of(item)
    if juice is None:
        return None
    usual, poor, good = (math.ceil(ml / each - 1e-9) for each in juice)
    row = _yields()[item.id]
    return Fruit(row["fruits"], row["fruit"], usual, good, poor)


@dataclass(frozen=True, slots=True)
class Bought:
    """One line of a shopping list.

    Attributes
    ----------
    name, key : str
    ml : float or None
        Needed. [mL]
    grams : float
        [g]
    drinks : tuple of str
        For which of them.
    size, count : float or None, int
        Bottles, and what one holds; None where it is bought by the amount. [mL]
    left : float
        In the last bottle. [mL]
    fruit : Fruit or None
    pieces : str
        Eggs and the like, counted.
    """

    name: str
    key: str
    ml: float | None
    grams: float
    drinks: tuple[str, ...]
    size: float | None = None
    count: int = 0
    left: float = 0.0
    fruit: Fruit | None = None
    pieces: str = ""
    dry: bool = False

    def amount(self, show: Display) -> str:
        """What is needed."""
        return f"{weight(self.grams)} g" if self.ml is None or self.dry else show.volume_text(self.ml)

    def to_buy(self, show: Display) -> str:
        """What to bring home."""
        if self.fruit is not None:
            return show.say(self.fruit.to_buy())
        if self.pieces:
            return self.pieces
        if self.size is None:
            return self.amount(show)
        return f"{self.count} × {show.volume_text(self.size)}"


def shopping_list(
    batches: Batch | Iterable[Batch], sizes: Mapping[str, Given] | None = None, size: Given = 700.0
) -> tuple[Bought, ...]:
    """What several batches need together, with what goes beside them.

    Parameters
    ----------
    batches : Batch or several
    sizes : mapping, optional
        What a bottle of an ingredient holds, by its name or id, where it is not `size`. [mL]
    size : amount
        What bottles of spirits, liqueurs and wines hold; `SIZES` are the usual ones. [mL]

    Returns
    -------
    tuple of Bought
        In the order in which the drinks need it. Plain water comes from the tap.

    Raises
    ------
    InputError
        For a bottle that holds nothing, or an unknown ingredient.

    Examples
    --------
    >>> from drinklab.batch import scale
    >>> from drinklab.recipe import Recipe
    >>> sour = Recipe.parse("60 mL gin\\n25 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
    >>> [(b.name, b.to_buy(Display())) for b in shopping_list(scale(sour, serves=30))][:2]
    [('gin', '3 × 700 mL'), ('lemon juice, fresh', '25 lemons (of usual ones 17, of good ones 12)')]
    """
    each = _each((batches,) if isinstance(batches, Batch) else batches)
    if not each:
        return ()
    shelf = each[0].shelf
    own = {shelf.find(name).id: _size(ml, f"size of a bottle of {name!r}") for name, ml in (sizes or {}).items()}
    usual = _size(size, "size of a bottle")
    needs: dict[str, list[tuple[Row, Batch]]] = {}
    for batch in each:
        for row in batch.rows:
            if not from_the_tap(row) and not _is_gas(row):
                needs.setdefault(row.key or row.name, []).append((row, batch))
    return tuple(_bought(key, rows, own, usual) for key, rows in needs.items())


def _each(batches: Iterable[Batch]) -> list[Batch]:
    return [one for batch in batches for one in (batch, *_each(batch.beside))]


def from_the_tap(row: Row) -> bool:
    """Whether it is plain water: of a pour, or what a step brings, which has no id."""
    return row.key in PLAIN_WATER or (not row.key and row.name.startswith("water"))


def _is_gas(row: Row) -> bool:
    return not row.key and row.name.startswith("carbon dioxide")


def _size(size: Given, what: str) -> float:
    ml = float(to_ml(size, field=what))
    if not 0 < ml <= 1e6:
        raise InputError(what, Fact("so much", amount=VOLUME(ml)), Fact("one amount above", low=VOLUME(0)))
    return ml


def _bought(key: str, rows: list[tuple[Row, Batch]], own: Mapping[str, float], usual: float) -> Bought:
    first, batch = rows[0]
    shelf: Pantry = batch.shelf
    by_volume = all(row.ml is not None for row, _ in rows)
    ml = sum(row.ml or 0.0 for row, _ in rows) if by_volume else None
    grams = sum(row.grams for row, _ in rows)
    drinks = tuple(dict.fromkeys(b.name for _, b in rows))
    item = shelf.get(key)
    found: dict[str, Any] = {"dry": first.dry}
    size = own.get(key)
    if item is not None and size is None:
        found["fruit"] = fruit(item, ml) if ml else None
        found["pieces"] = _pieces(item, grams)
        size = usual if item.kind in _BOTTLED else None
    elif item is None and first.when == STEP and ml is not None:
        size = _CARTON
    if size is not None and ml:
        count = math.ceil(ml / size - 1e-9)
        found |= {"size": size, "count": count, "left": count * size - ml}
    return Bought(first.name, key, ml, grams, drinks, **found)


def _pieces(item: Ingredient, grams: float) -> str:
    """Eggs, leaves and sprigs, counted."""
    for word in ("piece", "sprig", "leaf"):
        each = pieces().get((item.id, word))
        if each and item.kind in ("egg", "other"):
            count = math.ceil(grams / each - 1e-9)
            what = {"piece": "egg" if item.kind == "egg" else "piece", "leaf": "leave" if count > 1 else "leaf"}
            return f"{count} {what.get(word, word)}{'s' * (count > 1)}"
    return ""
