"""The words of the lessons in plain language: one source for all pages.

>>> words()["proof"].means
'An older way to tell strength. In the United States it is twice the % vol.'
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Word:
    """A word, other forms of it, what it means, and what holds it in another meaning."""

    word: str
    also: tuple[str, ...]
    means: str
    not_in: tuple[str, ...] = ()


@functools.cache
def words() -> dict[str, Word]:
    """All words, by themselves."""
    rows = tomllib.loads(Path(__file__).with_name("glossary.toml").read_text(encoding="utf-8"))["word"]
    return {
        row["word"]: Word(row["word"], tuple(row["also"]), row["means"], tuple(row.get("not_in", ()))) for row in rows
    }


@functools.cache
def _pattern() -> tuple[re.Pattern[str], dict[str, str]]:
    of = {form.casefold(): one.word for one in words().values() for form in (one.word, *one.also)}
    of |= {phrase.casefold(): "" for one in words().values() for phrase in one.not_in}  # found first, and passed over
    by_letter: dict[str, list[str]] = {}  # so that most places in a text are passed over at the first letter
    for form in sorted(of, key=len, reverse=True):
        by_letter.setdefault(form[0], []).append(re.escape(form[1:]))
    forms = "|".join(f"{re.escape(first)}(?:{'|'.join(rest)})" for first, rest in by_letter.items())
    return re.compile(rf"(?<![\w%])(?:{forms})(?!\w)", re.IGNORECASE), of


def split(text: str, known: Iterable[str] = ()) -> list[tuple[str, Word | None]]:
    """A text in pieces: each word at its first use with what it means, the rest with None; `known` are left alone.

    >>> [(piece, bool(word)) for piece, word in split("Marked in proof. Proof is old.")]
    [('Marked in ', False), ('proof', True), ('. Proof is old.', False)]
    >>> [word.word for _, word in split("J. Food Eng. 5; an energy balance, 9 J") if word]
    ['J']
    """
    pattern, of = _pattern()
    seen, pieces, at = set(known), [], 0
    for found in pattern.finditer(text):
        word = of[found[0].casefold()]
        if word and word not in seen:
            seen.add(word)
            pieces += [(text[at : found.start()], None), (found[0], words()[word])]
            at = found.end()
    return [piece for piece in (*pieces, (text[at:], None)) if piece[0]]


def first_uses(sections: Mapping[str, str]) -> dict[str, frozenset[str]]:
    """For each section of a lesson, the words that were used before it, so that they are not explained again."""
    before: dict[str, frozenset[str]] = {}
    seen: set[str] = set()
    for name, text in sections.items():
        before[name] = frozenset(seen)
        seen |= {word.word for _, word in split(text) if word}
    return before
