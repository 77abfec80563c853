"""A recipe: pours in order, how it is chilled and served. Plain data, typed or read from text.

>>> sour = Recipe.parse('''
... 45 mL aged rum, 50 %
... 3/4 oz lemon juice
... 20 mL honey syrup
... ''', name="first sour", technique="shaken")
>>> len(sour.pours), round(sour.volume, 1)
(3, 87.2)
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np

from . import pantry as _pantry
from . import texts
from .errors import InputError, one_of, require
from .kinds import ABV
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .units import AMOUNT_HELP, BAR_MEASURES, GRAMS, Display, read, split_amount, to_ml

TECHNIQUES = ("stirred", "shaken", "built", "blended", "swizzled", "muddled", "none")
SERVES = ("up", "on ice", "long")
FAMILIES = ("stirred spirit-forward", "sour", "highball", "spritz", "punch", "creamy", "other", "hot")
# The fields of a recipe that are somebody's words, what they are called, and how long they may be. [letters]
_WORDS = (
    ("name", "name of the drink", texts.NAME), ("question", "question", texts.PROSE), ("method", "method", texts.PROSE),
)  # fmt: skip


MOST_POURS = 200
# Grams in a millilitre of a dry solid as it lies in a spoon: sugar, 4.2 g in a level teaspoon (USDA SR28 19335).
SPOONED = 0.84


@dataclass(frozen=True, slots=True)
class Pour:
    """One line of a recipe.

    Parameters
    ----------
    ingredient : str
        Id in the pantry.
    amount : float
        [mL]; of a dry solid, its volume once dissolved.
    abv : float, optional
        Strength of the bottle at hand where it is not the pantry's. [% vol]
    after : bool
        Added after the ice: a top of soda water, a float.
    """

    ingredient: str
    amount: float
    abv: float | None = None
    after: bool = False

    def __post_init__(self):
        object.__setattr__(self, "amount", to_ml(self.amount, field=f"amount of {_plain(self.ingredient)!r}"))
        if self.abv is not None:
            object.__setattr__(self, "abv", read(self.abv, ABV, f"strength of {self.ingredient!r}"))

    def bottle(self, pantry: Pantry) -> Ingredient:
        """The ingredient, at the strength of the bottle at hand."""
        return pantry.bottle(self.ingredient, self.abv)

    def measure(self, pantry: Pantry, display: Display) -> tuple[str, float]:
        """The unit this pour is measured in, and the millilitres in one of it."""
        bottle = self.bottle(pantry)
        return ("g", 1 / bottle.density) if bottle.state == "solid" else (display.volume, display.ml)

    def amount_text(self, pantry: Pantry, display: Display) -> str:
        """The amount with its unit: "45 mL", "8.4 g"."""
        unit, ml = self.measure(pantry, display)
        digits = np.format_float_positional(self.amount / ml, precision=5, unique=False, fractional=False, trim="-")
        return f"{digits} {unit}"


@dataclass(frozen=True, slots=True)
class Recipe:
    """Pours and how they become a drink.

    Parameters
    ----------
    name : str
    pours : sequence of Pour
    technique : str
        One of `TECHNIQUES`: how it meets ice.
    serve : {"up", "on ice", "long"}
    family : str, optional
        One of `FAMILIES`.
    question, method : str
        What the drink is meant to find out, and how it is made, in the developer's words.

    Raises
    ------
    InputError
        Without pours, with a total of nothing, for unknown words, or a text that is too long.
    """

    name: str
    pours: tuple[Pour, ...]
    technique: str = "stirred"
    serve: str = "up"
    family: str | None = None
    question: str = ""
    method: str = ""

    def __post_init__(self):
        object.__setattr__(self, "pours", tuple(self.pours))
        for field, words, most in _WORDS:
            object.__setattr__(self, field, texts.clean(getattr(self, field), words, most))
        if not self.name.strip():
            raise InputError("name of the drink", self.name, "at least one letter")
        one_of("technique", self.technique, TECHNIQUES)
        one_of("serve", self.serve, SERVES)
        if self.family is not None:
            one_of("family", self.family, FAMILIES)
        if len(self.pours) > MOST_POURS:
            raise InputError("number of pours", len(self.pours), f"at most {MOST_POURS}")
        if not self.pours:
            raise InputError("recipe", "", "at least one line such as '45 mL aged rum'")
        for pour in self.pours:
            require(f"amount of {_plain(pour.ingredient)!r}", pour.amount, 0, 1_000_000, "mL")
        if self.volume <= 0:
            raise InputError("total of the pours", self.volume, "above 0 mL")
        if not any(p.amount > 0 and not p.after for p in self.pours):
            raise InputError("total before the top", 0, "above 0 mL: something must come before what is topped up")

    @classmethod
    def parse(cls, text: str, pantry: Pantry | None = None, name: str = "untitled", **rest) -> Recipe:
        """Read a recipe written one pour a line: "45 mL aged rum, 50 %".

        A line may begin with "top" for what is added after the ice. Empty lines are skipped. Other
        arguments are those of `Recipe`.

        Raises
        ------
        InputError
            By line, for an amount, a unit or an ingredient that is not known.

        Examples
        --------
        >>> Recipe.parse("45 mL gin\\ntop 90 mL tonic water", technique="built", serve="long").pours[1].after
        True
        """
        shelf = pantry if pantry is not None else _pantry.load()
        lines = [(n, re.sub(r"^[-*•]\s+", "", line.strip())) for n, line in enumerate(text.splitlines(), start=1)]
        return cls(name, tuple(_read_pour(line, f"line {n}", shelf) for n, line in lines if line), **rest)

    def text(self, pantry: Pantry | None = None, display: Display | None = None) -> str:
        """The recipe as `parse` reads it, in the chosen measure; dry solids in grams."""
        shelf, show = pantry if pantry is not None else _pantry.load(), display or Display()
        return "\n".join(
            f"{'top ' if p.after else ''}{p.amount_text(shelf, show)} {p.bottle(shelf).name}" for p in self.pours
        )

    @property
    def volume(self) -> float:
        """Sum of the pours: what the jigger measures, before they shrink together. [mL]"""
        return float(sum(p.amount for p in self.pours))

    @property
    def amounts(self) -> np.ndarray:
        """[mL]"""
        return np.array([p.amount for p in self.pours])

    @property
    def after(self) -> np.ndarray:
        """Which pours come after the ice."""
        return np.array([p.after for p in self.pours])

    def bottles(self, pantry: Pantry) -> tuple[Ingredient, ...]:
        """The ingredient of each pour, at the strength of the bottle at hand."""
        return tuple(p.bottle(pantry) for p in self.pours)

    def with_amounts(self, amounts: Iterable[float]) -> Recipe:
        """The same recipe with other amounts. [mL]"""
        return replace(self, pours=tuple(replace(p, amount=float(a)) for p, a in zip(self.pours, amounts, strict=True)))

    def scaled(self, factor: float) -> Recipe:
        """Everything times `factor`.

        >>> Recipe.parse("40 mL gin").scaled(2.5).volume
        100.0
        """
        return self.with_amounts(self.amounts * factor)

    def to_dict(self) -> dict:
        """Plain data for JSON; `from_dict` reads it back."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: dict) -> Recipe:
        """A recipe from what `to_dict` gave."""
        try:
            words = {key: value for key, value in data.items() if key != "pours"}
            pours = [Pour(**p) for p in data["pours"]]
            numbers = [n for p in data["pours"] for n in (p["amount"], p.get("abv")) if n is not None]
            said = [*(p.ingredient for p in pours), *(value for value in words.values() if value is not None)]
            plain = all(type(n) in (int, float) for n in numbers) and all(type(p.after) is bool for p in pours)
            if not plain or not all(isinstance(t, str) for t in said):
                raise TypeError("words where numbers belong, or numbers where words do")
            return cls(pours=tuple(pours), **words)
        except (KeyError, TypeError, AttributeError) as error:
            raise InputError("saved recipe", str(error), "a recipe as this package writes it") from None


def _plain(key: str) -> str:
    return key.replace("_", " ")


def _read_pour(line: str, where: str, pantry: Pantry) -> Pour:
    line = " ".join(line.split())  # a tab or a no-break space is a space
    after = line.lower().startswith("top ")
    try:
        parts = split_amount(line[4:] if after else line, "pour")
        if parts is None or not parts[2]:
            raise InputError("pour", line, f"{AMOUNT_HELP}, then an ingredient")
        value, unit, name = parts
        item = _named(name.removeprefix("of "), unit, pantry)
        field, typed = f"amount of {name!r}", line.removesuffix(name).strip()
        if value < 0:
            raise InputError(field, typed, "zero or more")
        if not unit:
            raise InputError(field, typed, "with its unit: mL, oz, dash, g ...")
        if unit in GRAMS:
            amount = value * GRAMS[unit] / item.density
        else:
            amount = value * BAR_MEASURES[unit] * (SPOONED / item.density if item.state == "solid" else 1)
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where) from None
    key, abv = pantry.label(item)
    return Pour(key, amount, abv, after)


def _named(name: str, unit: str, pantry: Pantry) -> Ingredient:
    try:
        return pantry.find(name)
    except InputError:
        word, _, rest = name.partition(" ")
        if not unit and rest:
            try:
                pantry.find(rest)
            except InputError:
                pass
            else:
                allowed = "a bar measure: mL, cl, oz, barspoon, tsp, tbsp, dash, drop or g"
                raise InputError("unit", word, allowed) from None
        raise


def pour(recipes: Sequence[Recipe], pantry: Pantry) -> tuple[Liquid, Liquid]:
    """Pour many recipes at once.

    Returns
    -------
    (before, after) : Liquid, Liquid
        What meets the ice and what is added after it; one axis, the recipes.
    """
    bottles: dict[tuple[str, float | None], int] = {}
    rows, columns, amounts, later = [], [], [], []
    for row, recipe in enumerate(recipes):
        for p in recipe.pours:
            rows.append(row)
            columns.append(bottles.setdefault((p.ingredient, p.abv), len(bottles)))
            amounts.append(p.amount)
            later.append(p.after)
    table = np.zeros((2, len(recipes), len(bottles)))
    np.add.at(table, (np.array(later, int), rows, columns), amounts)
    composition = np.array([pantry.bottle(*bottle).composition for bottle in bottles])
    return Liquid.poured(table[0], composition), Liquid.poured(table[1], composition)
