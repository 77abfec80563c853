"""How much room a text takes in print: a rule of lengths, by which what goes on a card is known to fit it.

The widths are those of Helvetica, which Arial and Liberation Sans share (Adobe, font metrics of Helvetica, 1990, from
memory; a browser test holds the rule beside what is printed). Of other scripts the widest usual letter counts.

>>> round(width("Slow Signal", 10), 1), lines("two words", 10, 10)
(18.8, 2)
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from typing import NamedTuple

from ..errors import InputError, Told

MM = 25.4 / 72  # of a point
# Thousandths of the size of the letters.
_WIDTHS = {
    191: "'", 222: "ijl’‘", 260: "|¦", 278: " !,./:;I[\\]ft", 333: "()`-r¡¨ªº“”·", 334: "{}", 355: '"',
    389: "*", 400: "°", 469: "^", 500: "Jckvsxyz", 556: "#$0123456789?L_abdeghnopqu–€", 584: "+<=>~±×−", 611: "FTZ",
    667: "&ABEKPSVXY", 722: "CDHNRUw", 778: "GOQ", 833: "Mm", 834: "¼½¾⅓⅔⅛⅜⅝⅞", 889: "%",
    944: "W", 1000: "—…™", 1015: "@",
}  # fmt: skip
_WIDTH = {letter: wide for wide, letters in _WIDTHS.items() for letter in letters}
# A letter of another alphabet; one of East Asia, or a picture; a mark over a letter, which another font may then draw.
_OTHER, _EAST, _MARK = 834, 1000, 60
_BOLD = 56  # a bold letter is wider by at most so much
_SURE = 1.02  # what breaks a line in one program fits it in another


def _letter(letter: str) -> int:
    if letter in _WIDTH:
        return _WIDTH[letter]
    base = unicodedata.normalize("NFD", letter)[0]
    if base in _WIDTH:
        return _WIDTH[base]
    if unicodedata.combining(letter) or unicodedata.category(letter) in ("Mn", "Cf"):
        return _MARK
    if unicodedata.east_asian_width(letter) in "WF" or unicodedata.category(letter) in ("So", "Cn", "Co"):
        return _EAST
    return _OTHER


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a text is in one line, in letters of a size. [mm; pt]"""
    thousandths = sum(map(_letter, text)) + (_BOLD * sum(not letter.isspace() for letter in text) if bold else 0)
    return thousandths / 1000 * size * MM * _SURE


def lines(text: str, size: float, room: float, bold: bool = False) -> int:
    """Lines that a text takes in a column of this width; a word that is wider is broken. [pt, mm]

    >>> lines("x" * 100, 10, 20), lines("", 10, 20)
    (11, 1)
    """
    count, at, space = 1, 0.0, width(" ", size, bold)
    for word in text.split():
        wide = width(word, size, bold)
        if at and at + space + wide <= room:
            at += space + wide
            continue
        count += at > 0
        at = wide
        if wide > room:  # each broken line may stay short by one letter
            left = max(room - size * MM, size * MM)
            more = math.ceil(wide / left) - 1
            count, at = count + more, wide - more * left
    return count


class Cell(NamedTuple):
    """A text, and what share of the width it has."""

    text: str
    share: float = 1.0
    bold: bool = False


class Block(NamedTuple):
    """A paragraph or a row of a card, as its style sheet lays it out.

    Attributes
    ----------
    field : str
        What it is called, should it not fit.
    cells : tuple of Cell
    em : float
        Size of its letters. [of the card's]
    leading, indent, after : float
        Height of a line [of its letters]; what is kept free before and below it. [of the card's letters]
    """

    field: str
    cells: tuple[Cell, ...]
    em: float = 1.0
    leading: float = 1.3
    indent: float = 0.0
    after: float = 0.3

    def height(self, size: float, wide: float) -> float:
        """How high it is. [pt, mm]"""
        room = wide - self.indent * size * MM
        count = max(lines(c.text, self.em * size, c.share * room, c.bold) for c in self.cells)
        return (count * self.leading * self.em + self.after) * size * MM


def fitted(blocks: Sequence[Block], wide: float, high: float, sizes: Sequence[float], card: str) -> float:
    """The largest of these sizes in which all fits. [mm, pt]

    Raises
    ------
    InputError
        Naming what takes the most room, if nothing fits.

    Examples
    --------
    >>> fitted([Block("name", (Cell("Late Stove"),))], 130, 192, (10, 9), "an A5 card")
    10
    """
    for size in sizes:
        if sum(block.height(size, wide) for block in blocks) <= high:
            return size
    size = sizes[-1]
    taken: dict[str, float] = {}
    for block in blocks:
        taken[block.field] = taken.get(block.field, 0.0) + block.height(size, wide)
    worst = max(taken, key=taken.__getitem__)
    over = sum(taken.values()) - high
    least = max(taken[worst] - over, 0.0)
    raise InputError(
        f"{worst} on {card}", Told(f"{taken[worst]:.0f} mm high in its smallest letters"),
        f"at most {least:.0f} mm beside the rest: shorten it" if least >= size * MM * 1.2 else
        f"shorter, and the rest too: {over:.0f} mm in all are too much",
    )  # fmt: skip
