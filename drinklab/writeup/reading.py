"""A page of ours read back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .. import files, logbook, plain_data
from ..errors import InputError, Told
from ..pantry import Pantry
from ..recipe import Recipe
from ..trial import Trial


def read(path_or_text: str | Path) -> Recipe:
    """The recipe of a write-up page; `rerun` also takes its settings and ingredients.

    Raises
    ------
    InputError
        If it is no such page, or a damaged one.
    """
    data, where = _payload(path_or_text)
    return logbook.recipe(data, where)


def rerun(
    path_or_text: str | Path,
    *,
    pantry: Pantry | None = None,
    country: str | None = None,
) -> Trial:
    """Run the drink of a write-up page again, with the page's settings.

    Parameters
    ----------
    path_or_text : path or str
        The page's file, or its HTML.
    pantry : Pantry, optional
        Its ingredients win; those that it lacks are taken from the page.
    country : str, optional
        Whose standard drinks to count in, if not the page's.

    Returns
    -------
    Trial
        What the page declares beyond the pantry (allergens, cautions) is declared in it too; `notes` says so.

    Raises
    ------
    InputError
        If it is no such page, or a damaged one.

    Examples
    --------
    >>> from drinklab.trial import run
    >>> from drinklab.writeup import html
    >>> drink = run(Recipe.parse("40 mL gin"), melt=0.4)
    >>> rerun(html(drink)).served == drink.served
    True
    """
    data, where = _payload(path_or_text)
    return logbook.revive(data, pantry=pantry, country=country, where=where)


_SCRIPT = re.compile(r"<script\b[^<>]{0,200}>", re.IGNORECASE)


def _linked(page: str) -> Iterator[str]:
    """The text of each script of data in a page."""
    end = 0
    while opening := _SCRIPT.search(page, end):
        end = page.find("</script", opening.end())
        if end < 0:
            return
        if "application/ld+json" in opening[0]:
            yield page[opening.end() : end]


def _payload(path_or_text: str | Path) -> tuple[dict[str, Any], str]:
    where, page = "", path_or_text
    if not isinstance(page, (str, Path)):
        raise InputError("write-up", Told(f"a {type(page).__name__}"), "the path of a page, or its text")
    if isinstance(page, Path) or "<" not in page:
        where, allowed = Path(page).name, "an HTML file that is there and can be read"
        try:
            page = files.read(page, "write-up", allowed).decode("utf-8")
        except InputError:
            raise
        except (OSError, ValueError):
            raise InputError("write-up", where or str(page), allowed) from None
    for text in _linked(page):
        data = plain_data.parse_json(text, "data of the page", where).get("drinklab")
        if isinstance(data, dict):
            return data, where
    raise InputError("write-up", where or "this text", "an HTML page that Drinklab wrote, with its data in it")
