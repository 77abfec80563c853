"""Cards as pages: the templates filled, and kept in the working folder."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date as _date
from pathlib import Path

from .. import __version__, files, plain_data
from ..writeup.filling import template
from .guest_card import Guest
from .labels import STOCKS, Label
from .menu_page import MenuPage
from .spec_card import Spec

CARDS = "cards"


def spec_html(card: Spec, phone: bool = False) -> str:
    """A spec card as a page: to print on A5, or for a phone. Nothing in it is fetched from anywhere."""
    return template("card_spec.html.j2").render(version=__version__, card=card, phone=phone)


def guest_html(card: Guest) -> str:
    """A guest card as a page, to print on A6."""
    return template("card_guest.html.j2").render(version=__version__, card=card)


def menu_html(menu: MenuPage) -> str:
    """A menu as a page, to print on A4 or US letter."""
    return template("card_menu.html.j2").render(version=__version__, menu=menu)


def labels_html(label: Label) -> str:
    """Sheets of labels as a page, to print without scaling."""
    stock = STOCKS[label.stock]
    places, used = stock.places(), label.first - 1
    all_places = [divmod(used + i, stock.count) for i in range(label.count)]
    sheets: list[list[tuple[float, float]]] = [[] for _ in range(all_places[-1][0] + 1)]
    for sheet, place in all_places:
        sheets[sheet].append(places[place])
    return template("card_labels.html.j2").render(version=__version__, label=label, stock=stock, sheets=sheets)


def save(name: str, pages: Mapping[str, str], folder: str | Path, date: _date | None = None) -> list[Path]:
    """Write pages of a drink as new files under `folder`/cards, each by its suffix; nothing is ever overwritten.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    stem = f"{(date or _date.today()).isoformat()}_{plain_data.slug(name)}"
    return files.write_new(Path(folder) / CARDS, stem, pages)
