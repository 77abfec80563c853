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


def stands_for(said: str, name: str) -> bool:
    """Whether some words of a name stand for what has it: they end in what it is, and leave nothing half said.

    A lime syrup is no "falernum (spiced lime syrup liqueur)", sugar water no "tonic water, sugar-sweetened", a vanilla
    liqueur not one of "vanilla and anise", and sweetened cream is of cows, not "coconut cream, canned, sweetened".

    >>> [stands_for(said, "falernum (spiced lime syrup liqueur)") for said in ("lime syrup", "spiced lime liqueur")]
    [False, True]
    """
    words, inside = plain(said).split(), re.findall(r"\((.*?)\)", name)
    first, *more = re.sub(r"\s*\(.*?\)", "", name).split(",")
    parts = (plain(part).removesuffix(" style").split() for part in (first, *inside))
    ends = {part[-1] for part in parts if part}
    wholes = [plain(word).split() for part in more for word in re.findall(r"[^\W\d]+-\w+", part)]
    wholes += [[plain(one) for one in both] for both in re.findall(r"(\w+) and (\w+)", name)]
    halves = any(0 < len({*whole} & {*words}) < len(whole) for whole in wholes)
    what = plain(first).split()
    ends_well = words[-1] in ends or {*what} <= {*words}
    states = {word for part in more if not part.endswith("style") for word in plain(part).split()}
    if len(what) > 1 and {*words} <= {what[-1], *states}:
        return False
    return ends_well and not halves and ("fruit" not in words or "passion" in words)


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
