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
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from . import pantry as _pantry
from . import texts
from .display import Display
from .errors import InputError, InputErrors, Told, one_of, require
from .facts import Fact
from .kinds import ABV, VOLUME
from .liquid import Liquid
from .pantry import Ingredient, Pantry
from .units import (
    AMOUNT_HELP,
    BAR_MEASURES,
    COUNTS,
    FLUID_OUNCE,
    GRAMS,
    METRIC,
    US,
    count_at_end,
    fraction_text,
    ounces_text,
    read,
    sign,
    split_amount,
    to_ml,
)

TECHNIQUES = ("stirred", "shaken", "built", "blended", "swizzled", "muddled", "none")
SERVES = ("up", "on ice", "long", "hot")
FAMILIES = ("stirred spirit-forward", "sour", "highball", "spritz", "punch", "creamy", "other", "hot")
# The fields of a recipe that are somebody's words, what they are called, and how long they may be. [letters]
_WORDS = (
    ("name", "name of the drink", texts.NAME), ("question", "question", texts.PROSE), ("method", "method", texts.PROSE),
    ("glass", "glass", 80), ("glass_ice", "ice in the glass", 80), ("garnish", "garnish", 80),
)  # fmt: skip


SERVED_WITH = ("glass", "glass_ice", "garnish")  # words of a recipe that say how it is served; left out if empty
MOST_POURS = 200
PLAIN_WATER = ("water", "water_hot")
# Grams in a millilitre of a dry solid as it lies in a spoon: sugar, 4.2 g in a level teaspoon (USDA SR28 19335).
SPOONED = 0.84
# A part where a recipe is all in parts, and so of any size. [mL]
PART = 30.0
# Dashes, drops and spoons are counted up to here; a batch is measured.
_MOST_COUNTED = 12
_SMALL = ("dash", "drop", "barspoon", "teaspoon", "tablespoon")


@dataclass(frozen=True, slots=True)
class Measure:
    """What a pour was told in: ounces, dashes, parts, leaves.

    Parameters
    ----------
    unit : str
        A name of `units.BAR_MEASURES`, `units.GRAMS` or `units.COUNTS`.
    ml : float
        One of it. [mL]
    """

    unit: str
    ml: float

    def __post_init__(self) -> None:
        one_of("measure", self.unit, (*BAR_MEASURES, *GRAMS, *COUNTS))
        if type(self.ml) not in (int, float):
            raise InputError("size of a measure", self.ml, "a number in mL")
        require("size of a measure", self.ml, 1e-6, 1e6, "mL")


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
    typed : Measure, optional
        What the amount was told in, to be shown so again; it is no part of what the pour is.
    """

    ingredient: str
    amount: float
    abv: float | None = None
    after: bool = False
    typed: Measure | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "amount", to_ml(self.amount, field=f"amount of {_plain(self.ingredient)!r}"))
        if self.abv is not None:
            object.__setattr__(self, "abv", read(self.abv, ABV, f"strength of {self.ingredient!r}"))

    def bottle(self, pantry: Pantry) -> Ingredient:
        """The ingredient, at the strength of the bottle at hand."""
        return pantry.bottle(self.ingredient, self.abv)

    def measure(self, pantry: Pantry, display: Display) -> tuple[str, float]:
        """The unit this pour is shown in, and the millilitres in one of it.

        What was told in dashes, spoons, parts or pieces stays so; ounces and millilitres go by what is chosen.
        """
        one = self._measure(pantry, display)
        return sign(one.unit), one.ml

    def _measure(self, pantry: Pantry, display: Display) -> Measure:
        bottle = self.bottle(pantry)
        told = self.typed and _measure_of(bottle, self.typed, pantry)
        if told and told.unit == "fluid_ounce" and bottle.state == "solid":
            told = None  # "1 oz" of it would read in two ways
        if told and told.unit in _SMALL and self.amount > _MOST_COUNTED * told.ml * (1 + 1e-9):
            told = None
        if told and told.unit not in ((*METRIC, *US) if display.volume == "oz" else US):
            return told
        if told and told.unit in US and display.volume == "oz":
            return told
        if bottle.state == "solid":
            return Measure("gram", 1 / bottle.density)
        return Measure("fluid_ounce" if display.volume == "oz" else "milliliter", display.ml)

    def amount_text(self, pantry: Pantry, display: Display) -> str:
        """The amount with its unit, as `Recipe.parse` reads it: "45 mL", "2 dashes", "⅞ oz", "1½ oz (45 mL)"."""
        one = self._measure(pantry, display)
        number = self.amount / one.ml
        if one.unit == "fluid_ounce" and not fraction_text(number):
            exact = f"{_digits(self.amount)} mL"
            return f"{ounces_text(self.amount).partition(' (')[0]} ({exact})" if _eighths(self.amount) else exact
        of = sign(one.unit, several=number > 1)
        fraction = "" if one.unit in (*METRIC, *GRAMS) else fraction_text(number)
        return f"{fraction or _digits(number)} {of}".rstrip()


def _digits(number: float) -> str:
    return np.format_float_positional(number, precision=5, unique=False, fractional=False, trim="-")


def _eighths(ml: float) -> int:
    """The nearest number of eighths of an ounce."""
    return round(8 * ml / FLUID_OUNCE)


@dataclass(frozen=True, slots=True)
class Recipe:
    """Pours and how they become a drink.

    Parameters
    ----------
    name : str
    pours : sequence of Pour
    technique : str
        One of `TECHNIQUES`: how it meets ice.
    serve : {"up", "on ice", "long", "hot"}
        A hot drink meets no ice, and is of the family "hot" unless another is given.
    family : str, optional
        One of `FAMILIES`.
    question, method : str
        What the drink is meant to find out, and how it is made, in the developer's words.
    glass, glass_ice, garnish : str
        What it is served in, on which ice, and with what on it, in the bar's words; "" for what is not said.

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
    glass: str = ""
    glass_ice: str = ""
    garnish: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "pours", tuple(self.pours))
        for name, words, most in _WORDS:
            object.__setattr__(self, name, texts.clean(getattr(self, name), words, most))
        if not self.name.strip():
            raise InputError("name of the drink", self.name, "at least one letter")
        one_of("technique", self.technique, TECHNIQUES)
        one_of("serve", self.serve, SERVES)
        if self.serve == "hot" and self.family is None:
            object.__setattr__(self, "family", "hot")
        if self.family is not None:
            one_of("family", self.family, FAMILIES)
        if len(self.pours) > MOST_POURS:
            raise InputError("number of pours", len(self.pours), f"at most {MOST_POURS}")
        if not self.pours:
            raise InputError("recipe", "", "at least one line such as '45 mL aged rum'")
        for pour in self.pours:
            require(f"amount of {_plain(pour.ingredient)!r}", pour.amount, 0, 1_000_000, "mL")
        if self.volume <= 0:
            raise InputError("total of the pours", VOLUME(self.volume), Fact("above", low=VOLUME(0)))
        if not any(p.amount > 0 and not p.after for p in self.pours):
            raise InputError("total before the top", VOLUME(0), Fact("something before the top", low=VOLUME(0)))

    @classmethod
    def parse(cls, text: str, pantry: Pantry | None = None, name: str = "untitled", **rest: Any) -> Recipe:
        """Read a recipe written one pour a line: "45 mL aged rum, 50 %".

        A line may begin with "top" for what is added after the ice. Empty lines are skipped. Parts may have a
        size, "1 part = 20 mL"; a recipe that is all in parts needs none (30 mL). Other arguments are those of
        `Recipe`.

        Raises
        ------
        InputError
            By line, all lines at once, for an amount, a unit or an ingredient that is not known.

        Examples
        --------
        >>> Recipe.parse("45 mL gin\\ntop 90 mL tonic water", technique="built", serve="long").pours[1].after
        True
        """
        shelf = pantry if pantry is not None else _pantry.load()
        lines = [(n, re.sub(r"^[-*•]\s+", "", line.strip())) for n, line in enumerate(text.splitlines(), start=1)]
        if len(lines) > 2 * MOST_POURS:  # the near names of each would be looked for
            raise InputError("number of lines", len(lines), f"at most {2 * MOST_POURS}")
        return cls(name, _read_pours([(n, " ".join(line.split())) for n, line in lines if line], shelf), **rest)

    def text(self, pantry: Pantry | None = None, display: Display | None = None) -> str:
        """The recipe as `parse` reads it: as it was told, or in the chosen measure; dry solids in grams."""
        shelf, show = pantry if pantry is not None else _pantry.load(), display or Display()
        part = next((p.typed for p in self.pours if p.typed and p.typed.unit == "part"), None)
        lines = [f"1 part = {_digits(part.ml)} mL"] if part else []
        for pour in self.pours:
            if pour.typed and pour.typed.unit == "part" and pour.typed != part:
                pour = replace(pour, typed=None)  # of another recipe, whose parts had another size
            top = "top " if pour.after else ""
            lines.append(f"{top}{pour.amount_text(shelf, show)} {pour.bottle(shelf).name}")
        return "\n".join(lines)

    @property
    def told_in(self) -> str:
        """The measure that all its volumes were told in, "mL" or "oz"; "" for none, or for both.

        >>> Recipe.parse("1½ oz gin\\n2 dashes orange bitters").told_in
        'oz'
        """
        units = {p.typed.unit for p in self.pours if p.typed} & {*METRIC, *US}
        found = {"oz" if unit in US else "mL" for unit in units}
        return found.pop() if len(found) == 1 else ""

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

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; `from_dict` reads it back."""
        data = {key: value for key, value in asdict(self).items() if value or key not in SERVED_WITH}
        for pour in data["pours"]:
            if pour["typed"] is None:
                del pour["typed"]
        return data

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> Recipe:
        """A recipe from what `to_dict` gave."""
        try:
            words = {key: value for key, value in data.items() if key != "pours"}
            if len(data["pours"]) > MOST_POURS:
                raise InputError("number of pours", len(data["pours"]), f"at most {MOST_POURS}")
            pours = [Pour(**p | {"typed": Measure(**p["typed"]) if p.get("typed") else None}) for p in data["pours"]]
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


# --- from a text to pours ---------------------------------------------------------------------------------

_PART = re.compile(r"(?:1|a|one) part(?: ?=| is) ?(.+)", re.IGNORECASE)
_EXACT = re.compile(r"\(([^()]+)\) ?")  # "1½ oz (45 mL) gin"
_RANGE = re.compile(r"[0-9½¼¾]+ ?(?:-|–|to|or) ?[0-9½¼¾]+ \w", re.IGNORECASE)


def _read_pours(lines: Sequence[tuple[int, str]], pantry: Pantry) -> tuple[Pour, ...]:
    """Every line read, and every line that cannot be read told of."""
    pours: list[tuple[int, Pour]] = []
    problems: list[InputError] = []
    part: float | None = None
    for n, line in lines:
        try:
            if size := _PART.fullmatch(line):
                if part is not None:
                    raise InputError("size of a part", line, "given only once")
                if not (split_amount(size[1]) or ("",) * 2)[1]:
                    raise InputError("size of a part", size[1], "with its unit: '1 part = 30 mL'")
                part = float(to_ml(size[1], field="size of a part"))
                require("size of a part", part, 0.1, 100_000, "mL")
            else:
                pours.append((n, _read_pour(line, pantry)))
        except InputError as error:
            problems.append(error.at(f"line {n}"))
    in_parts = [n for n, p in pours if _in_parts(p)]
    if in_parts and len(in_parts) < len(pours) and part is None:
        allowed = "given in a line such as '1 part = 30 mL', since other lines are not in parts"
        problems.append(InputError("size of a part", Told("not told"), allowed, f"line {in_parts[0]}"))
    if problems:
        raise problems[0] if len(problems) == 1 else InputErrors(problems)
    return tuple(_sized(p, PART if part is None else part) if _in_parts(p) else p for _, p in pours)


def _in_parts(pour: Pour) -> bool:
    return pour.typed is not None and pour.typed.unit == "part"


def _sized(pour: Pour, part: float) -> Pour:
    return replace(pour, amount=pour.amount * part, typed=Measure("part", part))


def _read_pour(line: str, pantry: Pantry) -> Pour:
    """One line; an amount in parts stays in parts."""
    after = line.lower().startswith("top ")
    told = line[4:] if after else line
    parts = split_amount(told, "pour")
    if parts is None or not parts[2]:
        if instead := pantry.instead_of(told):
            raise InputError("ingredient", told, instead)
        raise InputError("pour", line, f"{AMOUNT_HELP}, then an ingredient")
    if _RANGE.match(told):
        raise InputError("pour", line, "one amount: choose one of the two")
    value, unit, name = parts
    exact = None
    if not pantry.names(name):  # somebody's own may be called "of the house", or "half (2 g) and half"
        exact = _EXACT.match(name) if unit in US else None
        name = name[exact.end() :] if exact else name
    if not pantry.names(name):
        name = name.removeprefix("of ")
    if not unit and not pantry.names(name) and (found := count_at_end(name))[0]:
        unit, name = found
    item = _named(name, unit, pantry)
    field, typed = f"amount of {name!r}", line.removesuffix(name).strip()
    if value < 0:
        raise InputError(field, typed, "zero or more")
    one = _one(item, unit, field, typed, pantry)
    amount = value * one.ml
    if exact:
        amount = float(to_ml(exact[1], item.density, field))
        if abs(_eighths(amount) - 8 * value * one.ml / FLUID_OUNCE) > 1e-6:
            raise InputError(field, typed, "one amount: what is in brackets is another than what stands before it")
    return Pour(*_label(item, pantry, amount), after, one)


def _label(item: Ingredient, pantry: Pantry, amount: float) -> tuple[str, float, float | None]:
    key, abv = pantry.label(item)
    return key, amount, abv


def _one(item: Ingredient, unit: str, field: str, typed: str, pantry: Pantry) -> Measure:
    """The measure that was typed, and how much one of it is of this ingredient."""
    if unit == "fluid_ounce" and item.state == "solid" and "fl" not in typed.lower():
        raise InputError(field, typed, "in g or fl oz: of what is dry an ounce is 28 g by weight, 25 g as a measure")
    one = _measure_of(item, Measure(unit or "piece", 1.0), pantry)
    if one is None:
        raise InputError(field, typed, "with its unit: mL, oz, dash, g ...")
    return one


def amount_of(text: str, item: Ingredient, pantry: Pantry, field: str = "amount") -> float:
    """An amount of one ingredient, read as a line of a recipe reads it. [mL]

    >>> shelf = _pantry.load()
    >>> round(amount_of("1 tsp", shelf.find("white sugar"), shelf) * 1.613, 2)  # grams
    4.2
    """
    parts = split_amount(text, field)
    if parts is None or parts[2] or parts[1] == "part" or not (parts[1] or item.state == "liquid"):
        raise InputError(field, text, AMOUNT_HELP)
    if parts[0] < 0:
        raise InputError(field, text, "zero or more")
    ml = parts[0] * (_one(item, parts[1], field, text, pantry).ml if parts[1] else 1)
    require(field, ml, VOLUME.low, VOLUME.high, "mL")
    return ml


def _measure_of(item: Ingredient, told: Measure, pantry: Pantry) -> Measure | None:
    """What one of a measure is of this ingredient, whatever a file says; a part is as told. None without a table."""
    unit = told.unit
    if unit == "part":
        return told
    if unit in GRAMS:
        return Measure(unit, GRAMS[unit] / item.density)
    if unit in BAR_MEASURES:
        return Measure(unit, BAR_MEASURES[unit] * (SPOONED / item.density if item.state == "solid" else 1))
    grams = pantry.grams_of_one(item, unit)
    return None if grams is None else Measure(unit, grams / item.density)


def _named(name: str, unit: str, pantry: Pantry) -> Ingredient:
    try:
        return pantry.find(name)
    except InputError:
        word, _, rest = name.partition(" ")
        if not unit and rest and not pantry.instead_of(name):
            try:
                pantry.find(rest)
            except InputError as error:
                if pantry.instead_of(rest):
                    raise error from None
            else:
                allowed = "a bar measure: mL, cl, oz, barspoon, tsp, tbsp, dash, drop or g"
                raise InputError("unit", word, allowed) from None
        raise


# --- how a recipe is usually made -------------------------------------------------------------------------

# Common practice, no published source; `tests/test_usual_way.py` holds it beside the published classics. A recipe of
# more than this is a batch [mL]; a juice of so much acid is a sour one [g/L]; so much of a drink that is mixer, or
# a top, makes it long; so much that is hot makes it a hot one.
BATCH, SOUR_JUICE, MOSTLY_MIXER, LONG_TOP, MOSTLY_HOT = 600.0, 20.0, 0.5, 0.3, 0.4
_BLENDED = re.compile(r"\b(blended|frozen|blender|slush)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Way:
    """How a recipe is usually made and served, and why."""

    technique: str
    serve: str
    family: str | None
    why: Fact
    batch: bool = False

    @property
    def said(self) -> Fact:
        """In a sentence or two."""
        how = ["without ice" if self.technique == "none" else self.technique]
        how += [] if self.batch else [f"served {self.serve}"]
        how += [self.family] if self.family and self.family != self.serve else []
        return Fact("usual way of a batch" if self.batch else "usual way", how=tuple(how), why=self.why)


def usual_way(recipe: Recipe, pantry: Pantry, *words: str) -> Way:
    """Technique, serve and family that a recipe's bottles and size suggest; `words` may say that it is blended.

    Common practice, no published source.

    >>> from drinklab.pantry import load
    >>> ways = ("60 mL gin\\n25 mL lime juice\\n20 mL sugar syrup", "60 mL rye\\n30 mL sweet red vermouth",
    ...         "45 mL gin\\ntop 120 mL tonic water")
    >>> [usual_way(Recipe.parse(text), load()).technique for text in ways]
    ['shaken', 'stirred', 'built']
    """
    poured = [(p, b) for p, b in zip(recipe.pours, recipe.bottles(pantry), strict=True) if p.amount > 0]
    bottles = [b for _, b in poured]

    def named(of: Callable[[Ingredient], bool]) -> str:
        return next((b.name for b in bottles if of(b)), "")

    def share(of: Callable[[Ingredient], bool]) -> float:
        return sum(p.amount for p, b in poured if of(b)) / recipe.volume

    def sparkling(b: Ingredient) -> bool:
        return "sparkling" in b.cautions or b.kind == "beer"

    sour = named(lambda b: b.kind == "juice" and b.acid >= SOUR_JUICE)
    rich = named(lambda b: b.kind in ("dairy", "egg") or b.id.startswith("coconut_cream"))
    hot = named(lambda b: "hot" in b.cautions)
    if hot and share(lambda b: "hot" in b.cautions) >= MOSTLY_HOT:
        return Way("none", "hot", "hot", Fact("it is in it", what=hot))
    if recipe.volume > BATCH:
        return Way("none", "up", "punch", Fact("it is a batch", most=VOLUME(BATCH)), batch=True)
    if said := next((w for w in (*words, *(b.name for b in bottles if b.abv == 0)) if _BLENDED.search(w)), ""):
        return Way("blended", "on ice", None, Fact("a word says so", word=said))
    if fizz := named(sparkling):
        family = "spritz" if named(lambda b: sparkling(b) and b.kind == "wine") else "highball"
        technique = "shaken" if rich else "built"
        return Way(technique, "long", family, Fact("it holds", what=(fizz, *[rich] * bool(rich))))
    top = next((b.name for p, b in poured if p.after), "")
    if top and sum(p.amount for p, _ in poured if p.after) >= LONG_TOP * recipe.volume:
        return Way("built", "long", "highball", Fact("it tops it", what=top))
    if rich:
        return Way("shaken", "up", "sour" if sour else "creamy", Fact("it is in it", what=rich))
    if share(lambda b: b.kind in ("mixer", "juice") and b.acid < SOUR_JUICE) >= MOSTLY_MIXER:
        return Way("built", "long", "highball", Fact("mostly mixer"))
    if sour:
        return Way("shaken", "up", "sour", Fact("it is in it", what=sour))
    if juice := named(lambda b: b.kind in ("juice", "mixer") and b.id not in PLAIN_WATER):
        return Way("shaken", "up", None, Fact("it is in it", what=juice))
    if share(lambda b: b.abv > 0) == 0:
        return Way("built", "on ice", None, Fact("no spirit in it"))
    return Way("stirred", "up", "stirred spirit-forward", Fact("spirit and wine"))


class Poured(NamedTuple):
    """What meets the ice, and what is added after it."""

    before: Liquid
    after: Liquid


def pour(recipes: Sequence[Recipe], pantry: Pantry) -> Poured:
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
    np.add.at(table, (np.array(later, int), np.array(rows, int), np.array(columns, int)), np.array(amounts, float))
    composition = np.array([pantry.bottle(*bottle).composition for bottle in bottles])
    return Poured(Liquid.poured(table[0], composition), Liquid.poured(table[1], composition))
