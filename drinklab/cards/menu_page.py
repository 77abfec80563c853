"""A menu to print: drinks with what is in them, their strength and the numbers of their allergens, and a key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as _date
from typing import NamedTuple

from .. import __version__, service, texts
from ..declared import LABELS
from ..errors import one_of
from ..facts import Fact, say
from ..menu import CONTAINS, MAY, UNKNOWN, Listed, Menu, held
from .labels import PAPERS
from .lengths import MM, Block, Cell, fitted

# The style sheet keeps 15 mm free on each side; a line is kept in reserve. [mm]
_MARGIN, _SPARE = 15.0, 5.0
_SIZES = (14.0, 13.0, 12.0, 11.0, 10.0, 9.0)
_SEVERAL = 11.0  # of a list that one page does not hold [pt]
_NAME, _STRONG = 0.74, 0.24  # shares of the width
_TITLE = 80


class Item(NamedTuple):
    """A drink of the list, as a guest reads it; `marks` are numbers of the key."""

    name: str
    strength: str
    line: str
    marks: str

    def blocks(self) -> tuple[Block, ...]:
        """As card.css lays it out."""
        cells = Cell(self.name, _NAME, True), Cell(self.strength, _STRONG)
        return Block("name of a drink", cells, em=1.15, after=0.1), Block(
            "lines of the drinks", (Cell(self.text),), after=0.7
        )

    @property
    def text(self) -> str:
        """What is in it, and the numbers."""
        return f"{self.line} {self.marks}".strip()


@dataclass(frozen=True, slots=True)
class MenuPage:
    """A printed menu: pages of drinks, each with the title and the key, in letters of one size. [pt]"""

    title: str
    paper: str
    pages: tuple[tuple[Item, ...], ...]
    key: str
    foot: str
    size: float

    def head(self) -> tuple[Block, ...]:
        """The title."""
        return (Block("title of the menu", (Cell(self.title, bold=True),), em=1.8, leading=1.2, after=0.6),)

    def end(self) -> tuple[Block, ...]:
        """The key, and the last line."""
        return tuple(Block("key", (Cell(text),), em=0.85) for text in (self.key, self.foot))


def menu_page(found: Menu, *, title: str = "Drinks", paper: str = "A4", date: _date | None = None) -> MenuPage:
    """A list of drinks as pages to print.

    Parameters
    ----------
    found : Menu
    title : str
        Above the drinks.
    paper : str
        One of `PAPERS`.
    date : datetime.date, optional
        Today by default.

    Returns
    -------
    MenuPage
        One page in the largest letters in which all fits, else several.

    Raises
    ------
    InputError
        For an unknown paper, and naming what is too long for a page by itself.

    Examples
    --------
    >>> from drinklab import demo, menu, pantry, trial
    >>> shelf = pantry.load()
    >>> listed = menu.menu([trial.run(drink, pantry=shelf, draws=0) for drink in demo.settings(shelf).values()])
    >>> page = menu_page(listed)
    >>> len(page.pages), page.size, page.key.split(",")[0]
    (1, 14.0, 'Allergens: 3 eggs')
    """
    one_of("paper", paper, PAPERS)
    items = tuple(_item(drink) for drink in found.drinks)
    title = texts.line(texts.clean(title, "title of the menu", _TITLE)) or "Drinks"
    day = (date or _date.today()).isoformat()
    foot = Fact("foot of a menu", labels=LABELS, day=day, version=__version__).text
    made = MenuPage(title, paper, (items,), _key(found), foot, _SEVERAL)
    wide, high = (side - 2 * _MARGIN - _SPARE * row for row, side in enumerate(PAPERS[paper]))

    def most(size: float, some: Sequence[Item]) -> float:
        return _height(made, size, some, wide)

    size = next((size for size in _SIZES if most(size, items) <= high), None)
    if size is not None:
        return replace(made, size=size)
    for item in items:  # one that no page holds is named
        fitted((*made.head(), *item.blocks(), *made.end()), wide, high, (_SEVERAL,), f"a menu of {paper}")
    pages: list[list[Item]] = [[]]
    for item in items:
        if most(_SEVERAL, (*pages[-1], item)) > high:
            pages.append([])
        pages[-1].append(item)
    return replace(made, pages=tuple(map(tuple, pages)))


def _height(made: MenuPage, size: float, items: Sequence[Item], wide: float) -> float:
    """Of a page with these drinks. [mm]"""
    blocks = (*made.head(), *(block for item in items for block in item.blocks()), *made.end())
    return sum(block.height(size, wide) for block in blocks) + size * MM


def _item(drink: Listed) -> Item:
    one = drink.serve
    said = [Fact("menu: made of", styles=one.styles, beside=service.beside(one)), *service.menu_cautions(one)]
    return Item(one.name, say(service.strength_words(one)), say(said), ", ".join(_marks(drink)))


def _marks(drink: Listed) -> list[str]:
    """Numbers of what it contains, in brackets of what it may, a question mark for what nobody stated."""
    said = [held(drink.serve, word) for word in service.ALLERGENS]
    marks = [str(i) if is_in == CONTAINS else f"({i})" for i, is_in in enumerate(said, 1) if is_in in (CONTAINS, MAY)]
    return marks + ["?"] * (UNKNOWN in said)


def _key(found: Menu) -> str:
    """Allergens of the list by their number in annex II of Regulation (EU) No 1169/2011."""
    table = [row for _, row in found.matrix()]
    used = tuple(
        f"{i} {word}" for i, word in enumerate(service.ALLERGENS, 1)
        if any(row[i - 1] in (CONTAINS, MAY) for row in table)
    )  # fmt: skip
    said = [Fact("key of a menu", allergens=used) if used else Fact("no allergen known in these")]
    said += [Fact("key: in brackets")] * any(MAY in row for row in table)
    return say(said + [Fact("key: question mark")] * any(UNKNOWN in row for row in table))
