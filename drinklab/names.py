"""What an ingredient is called: names compared, words of the trade, a strength at the end of a name, pieces."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from typing import NamedTuple

from . import tables, texts

# A strength at the end of a name, as on a label.
STRENGTH = re.compile(
    r"^(.*?)[,\s]\s*([-+−–]?[\d.,½¼¾][\d.,/½¼¾\s]*(?:%\s*(?:vol\.?|abv)?|(?:US )?proof))\s*$", re.IGNORECASE
)
# Proof may come first: "100-proof rye". A % may not: "100 % agave" is no strength.
_PROOF_FIRST = re.compile(r"^(\d[\d.,]*)[ -]proof\s+(.+)$", re.IGNORECASE)


_GAPS = dict.fromkeys(map(ord, ",_-"), " ")


@functools.lru_cache(maxsize=256)  # a long file of one's own asks for each name several times in a row
def plain(name: str) -> str:
    """A name as names are compared (`texts.called`), without commas, hyphens and spaces in excess."""
    return " ".join(texts.called(name).translate(_GAPS).split())


@functools.cache
def trade_words() -> Mapping[str, tuple[str, str]]:
    """What the trade calls an ingredient: word -> (its id, ""), or ("", what to write instead).

    >>> trade_words()["rye"]
    ('whiskey_rye', '')
    """
    return {plain(row["word"]): (row["ingredient_id"], row["instead"]) for row in tables.read("synonyms").rows()}


class Labelled(NamedTuple):
    """A name, and the strength that stood at its end."""

    name: str
    strength: str


def labelled(name: str) -> Labelled:
    """A name without the strength at its end, and that strength: "gin, 45 %"; "" if there is none."""
    if len(name) > texts.NAME:  # the search for a strength takes the square of the letters
        return Labelled(name, "")
    label = STRENGTH.match(_PROOF_FIRST.sub(r"\2, \1 proof", name))
    return Labelled(label[1], label[2].strip()) if label else Labelled(name, "")


@functools.cache
def pieces() -> Mapping[tuple[str, str], float]:
    """What one leaf, egg or the like weighs: (id, piece) -> grams."""
    return {(row["ingredient_id"], row["piece"]): float(row["grams"]) for row in tables.read("pieces").rows()}
