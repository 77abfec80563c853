"""A person's own price list: a CSV file and a form, checked by row and column."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from .. import batch as _batch
from .. import files, tables, texts
from .. import pantry as _pantry
from ..errors import InputError, Told, one_of
from ..names import pieces, plain
from ..pantry import Ingredient, Pantry
from ..units import BAR_MEASURES, number
from .coins import checked_currency, digits

OWN_FILE = "my_prices.csv"
_IN_ONE = {"mL": 1.0, "cL": 10.0, "L": 1000.0, "oz": BAR_MEASURES["fluid_ounce"], "g": 1.0, "kg": 1000.0}
_BY_WEIGHT = ("g", "kg")
_COLUMNS = ("ingredient", "price", "currency", "pack", "pack_unit", "yield_percent", "deposit", "tax_percent", "note")


@dataclass(frozen=True, slots=True)
class Price:
    """One line of a price list.

    Attributes
    ----------
    key : str
        Id in the pantry, or the plain name of what a step brings.
    name, called : str
        As the list has it, and as the pantry does.
    each : Decimal or None
        Of one pack with its tax, without its deposit; None where it is not known.
    pack, unit : float, str
        What one pack holds, in mL, g or pieces.
    usable : float
        Share of it that is used. [0 to 1]
    deposit : Decimal
        Paid with each pack, and given back.
    where : str
        File and line.
    """

    key: str
    name: str
    each: Decimal | None
    pack: float
    unit: str
    usable: float = 1.0
    deposit: Decimal = Decimal(0)
    where: str = ""
    called: str = ""

    def of(self, ml: float | None, grams: float) -> Decimal | None:
        """What so much of it costs; None where that is not known."""
        amount = grams if self.unit == "g" else ml
        if self.each is None or amount is None:
            return None
        return self.each * decimal(round(amount, 9)) / (decimal(round(self.pack, 9)) * decimal(self.usable))


@dataclass(frozen=True, slots=True)
class Prices:
    """A price list, all in one currency."""

    currency: str
    lines: Mapping[str, Price]
    file: str = OWN_FILE

    def of(self, key: str, name: str = "") -> Price | None:
        """The line of an ingredient by its id, or of what a step brings by its name; None where none is known.

        >>> example().of("", "skimmed cow's milk").name, example().of("", "gelatin, 200 Bloom").name
        ('skimmed milk', 'gelatin')
        """
        found = self.lines.get(key)
        if found is None and name and not key:
            begins = plain(name.split(",")[0].split(" (")[0].replace(" cow's ", " "))
            found = next((line for line in self.lines.values() if plain(line.called).startswith(begins)), None)
        return found if found is not None and found.each is not None else None


def read(path: str | Path, *, pantry: Pantry | None = None) -> Prices:
    """A person's own price list: a CSV file with the columns of `datasets/prices.csv`.

    Raises
    ------
    InputError
        Naming file, line and column: for what is no price, an unknown ingredient or currency, or several currencies.
    """
    return _prices(tables.read_file(path, like="prices"), pantry)


def read_text(text: str, file: str = OWN_FILE, *, pantry: Pantry | None = None) -> Prices:
    """As `read`, from the text of a file that is not written yet."""
    return _prices(tables.read_text(text.removeprefix("\ufeff"), file, like="prices"), pantry)


def load(folder: str | Path, *, pantry: Pantry | None = None) -> Prices | None:
    """The price list of a working folder, `OWN_FILE`; None where there is none."""
    path = Path(folder) / OWN_FILE
    return read(path, pantry=pantry) if files.is_there(path) else None


def example(*, pantry: Pantry | None = None) -> Prices:
    """Invented prices of an invented bar, to show what a list looks like.

    >>> example().currency
    'EUR'
    """
    return _prices(tables.read("prices"), pantry)


def _prices(table: tables.Table, pantry: Pantry | None) -> Prices:
    shelf = pantry if pantry is not None else _pantry.load()
    if not len(table):
        raise InputError("price list", Told("without a line"), "at least one ingredient and its price", table.file)
    lines: dict[str, Price] = {}
    currency = first = ""
    for row, cells in enumerate(table.rows()):
        where = table.where(row)
        code = checked_currency(cells["currency"], where)
        currency, first = currency or code, first or where
        if code != currency:
            raise InputError("currency", code, f"{currency} in every line, as in {first}: no rate is guessed", where)
        price = _price(cells, shelf, where)
        if price.key in lines:
            there = lines[price.key]
            allowed = f"named only once; {there.where} has it as {there.name!r}"
            raise InputError("ingredient", price.name, allowed, where)
        lines[price.key] = price
    return Prices(currency, lines, table.file)


def _price(cells: dict[str, Any], shelf: Pantry, where: str) -> Price:
    """A checked row as a price."""
    _refuse_shares(cells, where)
    name = cells["ingredient"]
    key, item = _item(name, shelf, where)
    each = None
    if cells["price"] == cells["price"]:
        each = decimal(cells["price"]) * (1 + decimal(cells["tax_percent"]) / 100)
    unit, pack = cells["pack_unit"], cells["pack"]
    if unit == "piece":
        what = _piece(item)
        if what is None:
            allowed = "mL, cL, L, oz, g or kg: nobody has published what one piece of it gives"
            raise InputError("pack_unit", unit, allowed, where)
        pack, unit = pack * what, "mL"
    else:
        pack, unit = pack * _IN_ONE[unit], "g" if unit in _BY_WEIGHT else "mL"
    called = name if item is None else item.name
    return Price(
        key, name, each, pack, unit, cells["yield_percent"] / 100, decimal(cells["deposit"]), where, called
    )  # fmt: skip


def _refuse_shares(cells: dict[str, Any], where: str) -> None:
    """What is a share in place of per cent, or litres in place of millilitres, is a hundred or a thousand times off."""
    used, tax, pack = (cells[name] for name in ("yield_percent", "tax_percent", "pack"))
    if used <= 1:
        raise InputError("yield_percent", used, f"above 1 %: write {100 * used:g} for a share of {used:g}", where)
    if 0 < tax < 1:
        raise InputError("tax_percent", tax, f"0, or at least 1 %: write {100 * tax:g} for a share of {tax:g}", where)
    if cells["pack_unit"] == "mL" and pack < 2:
        raise InputError("pack", pack, f"at least 2 mL: of litres write {pack:g} and L", where)


def decimal(value: float) -> Decimal:
    """A number as it was typed: fifteen digits come back from a float as they went in."""
    return Decimal(repr(float(value)))


def _item(name: str, shelf: Pantry, where: str) -> tuple[str, Ingredient | None]:
    """An ingredient by the name that a list gives it, or the plain name of what a step brings."""
    if plain(name) in _OF_STEPS:
        return plain(name), None
    try:
        item = shelf.find(name)
    except InputError as error:
        raise InputError("ingredient", name, error.allowed, where) from None
    return item.id, item


# What steps bring, beside milk, which the pantry has.
_OF_STEPS = {"gelatin", "agar", "gellan", "carbon dioxide"}


def _piece(item: Ingredient | None) -> float | None:
    """What one piece gives: a fruit its juice, an egg its white, a sprig. [mL]"""
    if item is None:
        return None
    juice = _batch.juice_of(item)
    if juice is not None:
        return juice[0]
    grams = next((pieces()[item.id, word] for word in ("piece", "sprig", "leaf", "cube", "slice")
                  if (item.id, word) in pieces()), None)  # fmt: skip
    return None if grams is None else grams / item.density


# --- the form -----------------------------------------------------------------------------------------------------


def write(folder: str | Path, cells: Mapping[str, object], *, pantry: Pantry | None = None) -> Path:
    """Write one line into the person's own price list, in place of the one that the ingredient has.

    What is there stays as it is, in its own marks; a list with a mistake is refused before anything is written.

    Parameters
    ----------
    folder : path
    cells : mapping
        Column -> text, as in `datasets/prices.csv`; ingredient, currency, pack and pack_unit are needed.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        For what the list may not hold, and for another currency than it has.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.mkdtemp()
    >>> cells = {"ingredient": "gin", "price": "16.50", "currency": "EUR", "pack": "700", "pack_unit": "mL"}
    >>> path = write(folder, cells)
    >>> load(folder).of("gin").each
    Decimal('16.5')
    """
    path = Path(folder) / OWN_FILE
    given = {n: texts.line(texts.clean(str(value), n, texts.NAME)) for n, value in cells.items() if value != ""}
    for name in given:
        one_of("column", name, _COLUMNS)
    with files.alone(path):
        files.write_over(path, _with_line(path, given, pantry))
    return path


def _with_line(path: Path, given: Mapping[str, str], pantry: Pantry | None) -> str:
    old = files.read_text(path, "price list") if files.is_there(path) else ""
    if old.removeprefix("\ufeff").strip():
        read_text(old, path.name, pantry=pantry)  # what has a mistake stays as it is, and is told of
    sheet = tables.Sheet.of(old, path.name, "prices", _COLUMNS)
    for name in ("price", "deposit"):
        _refuse_thousands(given.get(name, ""), name, given.get("currency", ""))
    if given.get("pack_unit") not in _LARGE:
        _refuse_thousands(given.get("pack", ""), "pack")
    numbers = [name for name, rule in tables.fields("prices").items() if rule["type"] == "number"]
    said = {n: _number_text(v, n) if n in numbers else tables.no_formula(v) for n, v in given.items()}
    shelf = pantry if pantry is not None else _pantry.load()
    key, _ = _item(given.get("ingredient", ""), shelf, "")
    there = (i for i, row in enumerate(sheet.rows) if _item(row["ingredient"], shelf, "")[0] == key)
    at = next(there, None)
    sheet.put(said if at is None else {"note": sheet.rows[at].get("note", "")} | said, at)
    text = sheet.text()
    read_text(text, path.name, pantry=pantry)
    return text


# "1.234" of money is a thousand and more to whoever writes thousands so; no coin is a thousandth of most money.
_THOUSANDS = re.compile(r"[1-9]\d{0,2}\.\d{3}")


_LARGE = ("L", "kg", "oz")  # units of which a pack may hold 1.136


def _refuse_thousands(value: str, name: str, currency: str = "") -> None:
    if _THOUSANDS.fullmatch(value) and (not currency or digits(currency) < 3):
        raise InputError(name, value, f"{value.replace('.', '')} or {float(value):.2f}: it can be read either way")


def _number_text(value: str, name: str) -> str:
    """A typed number, with a decimal point."""
    plain_text = repr(float(number(value, name))).removesuffix(".0")
    if "e" in plain_text or "n" in plain_text:
        raise InputError(name, value, "a number")
    return plain_text
