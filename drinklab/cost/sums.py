"""What a serve costs, what to ask for it, what another bottle does, and what a shopping list comes to."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

import numpy as np

from .. import batch as _batch
from .. import making, trial
from .. import pantry as _pantry
from ..batch import Batch, Bought, Row
from ..declared import Declared, declared
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..learned import tool_of
from ..pantry import Ingredient, Pantry
from ..reach import PerMl
from ..recipe import PLAIN_WATER, Recipe
from ..setting import Setting, as_setting
from ..units import number
from .coins import digits, money, rounded
from .prices import Prices, decimal


@dataclass(frozen=True, slots=True)
class Line:
    """What one ingredient adds to a serve.

    Attributes
    ----------
    name, key : str
    ml, grams : float
        In one serve. [mL, g]
    amount : Decimal or None
        Money, not rounded; None where no price is known.
    share : float or None
        Of all that is priced. [0 to 1]
    """

    name: str
    key: str
    ml: float | None
    grams: float
    amount: Decimal | None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Cost:
    """What a serve costs.

    Attributes
    ----------
    currency : str
    lines : tuple of Line
    serve, pm : Decimal
        Of what is priced, not rounded; half-width that holds 19 serves in 20, by the pours and the fruit.
    missing : tuple of str
        Names without a price: where there are some, `serve` is a part and no whole.
    serves : int
    """

    currency: str
    lines: tuple[Line, ...]
    serve: Decimal
    pm: Decimal
    missing: tuple[str, ...]
    serves: int

    @property
    def partial(self) -> bool:
        """Whether a price is missing, so that a serve costs more than this."""
        return bool(self.missing)

    @property
    def total(self) -> Decimal:
        """Of all serves."""
        return self.serve * self.serves

    def said(self, country: str = "") -> Fact:
        """What it comes to, as a country writes money."""
        show = functools.partial(money, currency=self.currency, country=country)
        around = _around(show(self.serve), show(max(self.pm, Decimal(1).scaleb(-digits(self.currency)))))
        if not self.partial:
            return Fact("cost of a serve", cost=around)
        return Fact("cost of a serve at least", cost=around, missing=self.missing)

    def price_for(self, pour_cost: float, sales_tax: float = 0.0) -> Decimal:
        """What to ask for a serve, so that its ingredients are a wanted share of it.

        Parameters
        ----------
        pour_cost : float
            Cost of the ingredients, of the price before sales tax. [%]
        sales_tax : float
            On top of that. [%]

        Returns
        -------
        Decimal
            With the tax, rounded up to the smallest coin.

        Raises
        ------
        InputError
            Where a price is missing: a part is no ground for a price.

        Examples
        --------
        >>> Cost("EUR", (), Decimal("1.80"), Decimal(0), (), 1).price_for(20, 10)
        Decimal('9.90')
        """
        if self.partial:
            allowed = f"whole: a price of {', '.join(self.missing)} is missing"
            raise InputError("cost of a serve", Told("partial"), allowed)
        pour_cost, sales_tax = float(number(pour_cost, "pour cost")), float(number(sales_tax, "sales tax"))
        require("pour cost", pour_cost, 0.1, 100, "% of the price")
        require("sales tax", sales_tax, 0, 100, "%")
        price = self.serve * 100 / decimal(pour_cost) * (1 + decimal(sales_tax) / 100)
        return rounded(price, self.currency, up=True)


def _around(amount: str, pm: str) -> str:
    """ "1,98 ± 0,13 €": the sign of the currency once."""
    figures = [i for i, sign in enumerate(amount) if sign.isdigit()]
    less = [i for i, sign in enumerate(pm) if sign.isdigit()]
    before, value, after = amount[: figures[0]], amount[figures[0] : figures[-1] + 1], amount[figures[-1] + 1 :]
    return f"{before}{value} ± {pm[less[0] : less[-1] + 1]}{after}".replace("\xa0", " ")


def cost(drink: Recipe | Setting | Batch, prices: Prices, *, pantry: Pantry | None = None) -> Cost:
    """What one serve costs, of all that is put out for it: what steps leave behind is counted, what is left over not.

    Parameters
    ----------
    drink : Recipe, Setting or Batch
        Of a batch: all that it takes, through its serves.
    prices : Prices
    pantry : Pantry, optional

    Returns
    -------
    Cost

    Examples
    --------
    >>> from drinklab.cost import example
    >>> found = cost(Recipe.parse("40 mL pisco", technique="none"), example())
    >>> found.serve, found.missing
    (Decimal('1.364571428571428571428571429'), ())
    """
    made = drink if isinstance(drink, Batch) else _one(drink, pantry)
    tool = made.drink.tool if isinstance(drink, Batch) else as_setting(drink).tool
    each = [one for batch in (made, *made.beside) for one in _of_batch(batch, prices, tool)]
    serves = made.serves
    known = [(row, amount, low_high) for row, amount, low_high in each if amount is not None]
    total = sum((amount for _, amount, _ in known), Decimal(0))
    lines = tuple(
        Line(row.name, row.key, None if row.ml is None else row.ml / serves, row.grams / serves,
             None if amount is None else amount / serves,
             float(amount / total) if amount is not None and total else None)
        for row, amount, _ in each
    )  # fmt: skip
    pm = Decimal(repr(round(float(np.sqrt(sum(width**2 for *_, width in known))), 12)))
    missing = tuple(dict.fromkeys(row.name for row, amount, _ in each if amount is None))
    return Cost(prices.currency, lines, total / serves, pm / serves, missing, serves)


def _one(drink: Recipe | Setting, pantry: Pantry | None) -> Batch:
    """A drink as it is poured, for as many as it is made for: nothing is measured anew."""
    shelf = pantry if pantry is not None else _pantry.load()
    setting = as_setting(drink, draws=0)
    run = trial.run(setting, pantry=shelf)
    return _batch.scale(setting, pantry=shelf, serves=making.serves(run), tool="exact")


def _of_batch(made: Batch, prices: Prices, tool: str) -> list[tuple[Row, Decimal | None, float]]:
    """Each row with its money and the half-width of that."""
    out: list[tuple[Row, Decimal | None, float]] = []
    for row in made.rows:
        if _batch.from_the_tap(row):
            continue
        price = prices.of(row.key, row.name)
        amount = None if price is None else price.of(row.ml, row.grams)
        if amount is None:
            out.append((row, None, 0.0))
            continue
        out.append((row, amount, float(amount) * _width(row, made, tool)))
    return out


def _width(row: Row, made: Batch, tool: str) -> float:
    """Half-width that holds 19 in 20, as a share: of the pour by its tool, and of the fruit it is squeezed from."""
    item = made.shelf.get(row.key)
    _, absolute, relative = tool_of(tool, made.shelf.learned)
    each = (row.ml or 0.0) / (made.serves if row.when == _batch.GLASS else 1)
    pour = min(absolute + relative * each, 0.5 * each) / each if each else 0.0
    juice = _batch.juice_of(item) if item is not None else None
    of_fruit = (1 / juice[1] - 1 / juice[2]) * juice[0] / 2 if juice else 0.0
    return float(np.hypot(pour, of_fruit))


def per_ml(bottles: Iterable[Ingredient], prices: Prices) -> PerMl:
    """What a millilitre of each bottle costs as it is poured, for `reach`; what has no price is left out.

    Plain water is from the tap, and free.

    >>> from drinklab.cost import example
    >>> shelf = _pantry.load()
    >>> found = per_ml([shelf["gin"], shelf["water"]], example())
    >>> found.currency, round(1000 * found.each["gin"], 2), found.each["water"]
    ('EUR', 28.29, 0.0)
    """
    each = {}
    for bottle in bottles:
        price = prices.of(bottle.id, bottle.name)
        free = Decimal(0) if bottle.id in PLAIN_WATER else None
        amount = price.of(1000.0, 1000 * bottle.density) if price is not None and free is None else free
        if amount is not None:
            each[bottle.id] = float(amount) / 1000
    return PerMl(prices.currency, each)


# --- another bottle, and the till ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Swap:
    """What another bottle in place of one does: money a serve, and strength, sugar and acid of the glass.

    `declared` is what has to be said of the changed drink, `brings` what of it was not to be said before.
    """

    was: Cost
    now: Cost
    change: dict[str, float]
    declared: Declared
    brings: Declared

    @property
    def saved(self) -> Decimal:
        """Money a serve; below zero where it costs more.

        Raises
        ------
        InputError
            Where a price that differs is missing.
        """
        missing = set(self.was.missing) ^ set(self.now.missing)
        if missing:
            raise InputError("price", Told("missing"), f"there, of {', '.join(sorted(missing))}")
        return self.was.serve - self.now.serve


def swap(drink: Recipe | Setting, old: str, new: str, prices: Prices, *, pantry: Pantry | None = None) -> Swap:
    """Another bottle in the same amount.

    Raises
    ------
    InputError
        If the drink does not have the one, or the pantry the other.

    Examples
    --------
    >>> from drinklab.cost import example
    >>> other = swap(Recipe.parse("60 mL gin", technique="none"), "gin", "pisco", example())
    >>> round(other.saved, 4), round(other.change["abv"], 1)
    (Decimal('-0.3497'), 1.0)
    """
    shelf = pantry if pantry is not None else _pantry.load()
    setting = as_setting(drink, draws=0)
    out, into = shelf.find(old), shelf.find(new)
    pours = setting.recipe.pours
    if out.id not in [pour.ingredient for pour in pours]:
        one_of("bottle to swap", out.name, [shelf[pour.ingredient].name for pour in pours])
    key, abv = shelf.label(into)
    changed = [replace(p, ingredient=key, abv=abv) if p.ingredient == out.id else p for p in pours]
    other = replace(setting, recipe=replace(setting.recipe, pours=tuple(changed)))
    runs = [trial.run(each, pantry=shelf) for each in (other, setting)]
    before, after = (cost(each, prices, pantry=shelf) for each in (setting, other))
    return Swap(before, after, trial.difference(*runs), declared(runs[0]), trial.brings(*runs))


class Spent(NamedTuple):
    """Money at the till: whole packs, their deposits, and what has no price."""

    packs: Decimal
    deposits: Decimal
    missing: tuple[str, ...]


def spent(bought: Iterable[Bought], prices: Prices) -> Spent:
    """What a shopping list costs at the till: whole packs with tax, their deposits, and what has no price.

    Parameters
    ----------
    bought : of `batch.shopping_list`
    prices : Prices

    Returns
    -------
    (packs, deposits, missing)
    """
    packs, deposits, missing = Decimal(0), Decimal(0), []
    for item in bought:
        key = item.key if item.key != item.name else ""
        price = prices.of(key, item.name)
        needed = None if price is None else item.grams if price.unit == "g" else item.ml
        if price is None or price.each is None or needed is None:
            missing.append(item.name)
            continue
        count = int(np.ceil(needed / (price.pack * price.usable) - 1e-9))
        packs += count * price.each
        deposits += count * price.deposit
    return Spent(packs, deposits, tuple(missing))
