"""Numbered references: a source as the tables write it becomes words and numbers, and a list of the works.

>>> cited = References()
>>> cited.mark("USDA National Nutrient Database SR28 (2015) 01085: 3.37 g/100 g; casein from memory")
(1, ' 01085: 3.37 g/100 g; casein from memory')
>>> cited.works()[0].text
'USDA: National Nutrient Database for Standard Reference, release 28. 2015.'
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from typing import Any

from .. import tables, texts

# Words, and numbers of references, in turn.
Marked = tuple[str | int, ...]

# What stands behind a work's name and says where in it: an item's code, a table, a page of law.
_WITHIN = re.compile(
    r"(?: |, )((?:annex|appendix|art\.|tables?|chapter) [\w.-]+(?: to \w+)?)"
    r"|\)? ([A-Z]{0,2}\d[\w.-]*\w(?: (?:to|and) [A-Z]{0,2}\d{3}[\w-]*)*)(?= ?[:;,.)]| |$)", re.IGNORECASE,
)  # fmt: skip
_SECOND_HAND = re.compile(r"\s*[(,]\s*(?:read, |as other tables quote it \()?second hand\)+")


@dataclass(slots=True)
class Work:
    """A work that is cited: its number, its words and its address."""

    number: int
    author: str
    title: str
    year: str
    address: str
    second_hand: bool = False

    @property
    def text(self) -> str:
        """Author, title, year. Which of its tables or items stands with each figure."""
        name = f"{self.author}: {self.title}" if self.author else self.title
        more = [self.year, "quoted at second hand" if self.second_hand else ""]
        return f"{'. '.join(part.rstrip('.') for part in (name, *more) if part)}."


class References:
    """Works in the order in which a page first names them."""

    def __init__(self) -> None:
        self._found: dict[str, Work] = {}

    def mark(self, source: str) -> Marked:
        """A source with numbers for the works that it names. What is no known work stays in its own words."""
        parts: list[str | int] = []
        source, end = texts.line(source), 0
        for match in _names().finditer(source):
            work = self._work(_known()[match[0]])
            begin = source[end : match.start()]
            parts += [begin, work.number] if begin else [work.number]
            end = match.end()
            within = _WITHIN.match(source, end)
            behind = within.end() if within else end
            if said := _SECOND_HAND.match(source, behind):
                work.second_hand = True
                source = source[:behind] + source[said.end() :]
        return (*parts, source[end:]) if source[end:] else tuple(parts)

    def numbers(self, source: str) -> tuple[int, ...]:
        """The works that a source names, each once."""
        return tuple(dict.fromkeys(part for part in self.mark(source) if isinstance(part, int)))

    def works(self) -> tuple[Work, ...]:
        """All that were named so far."""
        return tuple(self._found.values())

    def _work(self, row: dict[str, Any]) -> Work:
        about = (row["author"], row["title"], row["year"], row["address"])
        return self._found.setdefault(row["work"], Work(len(self._found) + 1, *about))


@functools.cache
def _known() -> dict[str, dict[str, Any]]:
    """Every way in which a work is written, and the work."""
    return {way: row for row in tables.read("works").rows() for way in row["written"].split("|")}


@functools.cache
def _names() -> re.Pattern[str]:
    ways = sorted(_known(), key=len, reverse=True)
    return re.compile("|".join(rf"(?<!\w){re.escape(way)}(?!\w)" for way in ways))
