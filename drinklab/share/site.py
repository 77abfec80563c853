"""A folder of finished pages as a small site: one page that lists them, with a picture, a search and the allergens.

It opens from disk, links to the pages by where they lie beside it, and fetches nothing.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as _date
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote

import numpy as np
from markupsafe import Markup

from .. import __version__, classics, files, making, pantry, texts, writeup
from ..declared import not_stated
from ..display import Display
from ..errors import InputError
from ..facts import Fact
from ..profile import KINDS, TITLES, reference, shown
from ..trial import Trial
from ..writeup import live
from ..writeup.filling import template
from .pages import INDEX, Page, finished, is_index
from .pages import KINDS as PAGES
from .trying import contains, plain_style

NAME = "index.html"
_SHOWN = ("volume", "abv", "sugar", "acid", "alcohol")


@dataclass(frozen=True, slots=True)
class Drink:
    """A write-up's drink: its page, and the drink run again from what the page holds; None where that is damaged."""

    page: Page
    trial: Trial | None
    wrong: str = ""


class Known(NamedTuple):
    """A drink that could be made again."""

    page: Page
    trial: Trial


def write_site(folder: str | Path, *, title: str = "", date: _date | None = None) -> Path:
    """Write the page that lists a folder's finished pages, as `folder`/index.html.

    Parameters
    ----------
    folder : path
        Of write-ups, bar cards, what-if pages and worksheets, also in folders within it.
    title : str
        Of the page; the folder's name by default.
    date : datetime.date, optional
        Today by default.

    Returns
    -------
    Path
        It may be put anywhere with the folder. Written again, it takes the place of an index of ours, and of nothing
        else.

    Raises
    ------
    InputError
        If there is no finished page, or an index.html that is not ours.
    """
    root = Path(folder)
    pages = finished(root)
    if not pages:
        raise InputError("folder", str(folder), "one with finished pages in it: write-ups, bar cards, what-if pages")
    path = root / NAME
    if path.is_symlink() or (files.is_there(path) and not is_index(files.read_text(path, NAME))):
        raise InputError(NAME, str(path), "taken away first: it is no list of ours, and stays as it is")
    text = index_html(pages, title=title or root.resolve().name, date=date)
    return files.write_over(path, text)


def index_html(pages: Sequence[Page], *, title: str = "", date: _date | None = None) -> str:
    """The page that lists these pages: links, a search, a picture of all drinks, their allergens; in print a booklet.

    Parameters
    ----------
    pages : sequence of Page
    title : str
    date : datetime.date, optional

    Returns
    -------
    str
    """
    drinks = [_drink(page) for page in pages if page.kind == "write-up"]
    known = [Known(drink.page, drink.trial) for drink in drinks if drink.trial is not None]
    numbers = {drink.page.path: i for i, drink in enumerate(known, start=1)}
    style = f"{plain_style()}{_file('site.css')}"
    script = Markup(_file("site.js"))
    return template("site.html.j2").render(
        version=__version__, kind=INDEX, date=(date or _date.today()).isoformat(),
        title=texts.line(texts.clean(title, "title", texts.NAME)) or "Finished pages",
        groups=_groups(pages, drinks, numbers), picture=_picture(known),
        drinks=[_leaf(drink, numbers) for drink in known],
        allergens=_allergens(known), wrong=[(drink.page.title, drink.wrong) for drink in drinks if not drink.trial],
        style=Markup(style), script=script, style_policy=Markup(live.policy(style)),
        script_policy=Markup(live.policy(script)),
    )  # fmt: skip


@functools.cache
def _file(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


def _drink(page: Page) -> Drink:
    try:
        return Drink(page, writeup.rerun(page.text, pantry=pantry.load()))
    except InputError as error:
        return Drink(page, None, str(error))


def _groups(pages: Sequence[Page], drinks: Sequence[Drink], numbers: dict[str, int]) -> list[dict[str, Any]]:
    """The list: by kind, each page with its link and what a search looks through."""
    of = {drink.page.path: drink.trial for drink in drinks}
    out = []
    for kind, word in PAGES.items():
        rows = [
            {
                "title": page.title, "link": quote(page.path), "number": numbers.get(page.path, ""),
                "about": _about(of.get(page.path)), "words": _words(page, of.get(page.path)), "file": page.path,
            }
            for page in pages if page.kind == kind
        ]  # fmt: skip
        if rows:
            out.append({"word": f"{word}s", "rows": rows})
    return out


def _about(now: Trial | None) -> str:
    if now is None:
        return ""
    show, served = now.setting.display, now.served.profile
    figures = [" ".join(filter(None, shown(served, name, show))) for name in ("abv", "volume")]
    return ", ".join(figures)


def _words(page: Page, now: Trial | None) -> str:
    """Text that a search looks through: title, bottles, family, allergens."""
    words = [page.title, page.path]
    if now is not None:
        words += [now.recipe.name, now.recipe.family or "", now.recipe.technique, *now.allergens, *now.may_contain]
        words += [pour.bottle(now.pantry).name for pour in now.recipe.pours]
    return " ".join(texts.line(word) for word in words).lower()


# --- the picture ----------------------------------------------------------------------------------------------

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE, _RIGHT = 720, 420, 46, 46, 28, 16


def _picture(drinks: Sequence[Known]) -> dict[str, Any] | None:
    """All drinks by sugar and strength among the classics, in pixels; each goes by its number in the list."""
    if not drinks:
        return None
    figures = reference(classics.load())
    served = [drink.trial.served.profile for drink in drinks]
    mine = [(float(one.sugar), float(one.abv)) for one in served]
    theirs = np.array([figures.sugar, figures.abv])
    sugar, abv = (
        _axis([*known, *(point[i] for point in mine)], step)
        for i, (known, step) in enumerate(zip(theirs.tolist(), (50.0, 10.0), strict=True))
    )

    def at(x: float, y: float) -> dict[str, Any]:
        return {
            "x": round(_LEFT + (_WIDE - _LEFT - _RIGHT) * x / sugar[-1], 1),
            "y": round(_HIGH - _BELOW - (_HIGH - _BELOW - _ABOVE) * y / abv[-1], 1),
        }

    points = [
        at(*point) | {"number": i, "name": drink.page.title}
        for i, (point, drink) in enumerate(zip(mine, drinks, strict=True), start=1)
    ]
    return {
        "wide": _WIDE, "high": _HIGH, "left": _LEFT, "right": _WIDE - _RIGHT, "top": _ABOVE, "floor": _HIGH - _BELOW,
        "across": [at(value, 0) | {"text": f"{value:g}"} for value in sugar],
        "up": [at(0, value) | {"text": f"{value:g}"} for value in abv],
        "x": f"{TITLES['sugar']} [{KINDS['sugar'].label}]", "y": f"{TITLES['abv']} [{KINDS['abv'].label}]",
        "classics": [at(float(x), float(y)) for x, y in theirs.T],
        "points": points,
    }  # fmt: skip


def _axis(values: Iterable[float], step: float, most: int = 8) -> list[float]:
    """Round figures from nothing to beyond the highest."""
    wide = step * math.ceil(max(values) / step / most)
    return [wide * i for i in range(math.ceil(max(values) / wide) + 1)]


# --- allergens and the booklet ------------------------------------------------------------------------------------


def _allergens(drinks: Sequence[Known]) -> dict[str, Any]:
    """Which drink holds what: "contains", "may contain", "" for neither by the table, and "not stated"."""
    heads = sorted({word for drink in drinks for word in (*drink.trial.allergens, *drink.trial.may_contain)})
    rows = []
    for drink in drinks:
        now = drink.trial
        cells = [_holds(now, word) or ("not stated" if now.unstated else "") for word in heads]
        rows.append({"title": drink.page.title, "link": quote(drink.page.path), "cells": cells,
                     "unstated": " ".join(fact.text for fact in not_stated(now.unstated))})  # fmt: skip
    return {"heads": heads, "rows": rows}


def _holds(now: Trial, word: str) -> str:
    """Whether a drink holds what heads a column: "nuts" stands for each of them, and may be almonds."""
    kind = word.partition(" (")[0]
    for told, held in (("contains", now.allergens), ("may contain", now.may_contain)):
        if word in held or (word == kind and any(found.partition(" (")[0] == kind for found in held)):
            return told
    return "may contain" if kind in (*now.allergens, *now.may_contain) else ""


def _leaf(drink: Known, numbers: dict[str, int]) -> dict[str, Any]:
    """A drink on a page of the booklet."""
    now = drink.trial
    show: Display = now.setting.display
    parts, served = [now, *now.beside], now.served
    melt = show.volume_text(now.melt * now.stages[0].profile.volume)
    return {
        "title": drink.page.title, "number": numbers[drink.page.path],
        "question": [line for line in map(texts.line, now.recipe.question.splitlines()) if line],
        "yield": making.yields(now, show),
        "parts": [
            {
                "name": texts.line(part.recipe.name) if part is not now else "",
                "pours": [texts.line(row["text"]) for row in making.table(part, show)],
                "method": [texts.line(item.do) for item in making.method(part, show)],
            }
            for part in parts
        ],
        "melt": show.say(Fact("melt water of a drink", volume=melt)) if now.melt > 0 else "",
        "figures": [
            {"word": TITLES[name],
             "figure": " ".join(filter(None, shown(served.profile, name, show, served.spread(name))))}
            for name in _SHOWN
        ],
        "contains": contains(now),
        "cautions": [show.say(said) for said in (*now.cautions, *now.uncounted)],
    }  # fmt: skip
