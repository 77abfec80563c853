"""The answers of a tasting as a table to fill in, and read again."""

from __future__ import annotations

import unicodedata
from pathlib import Path
from typing import Any

from .. import files, tables, texts
from ..errors import InputError, InputErrors, Told
from ..units import number
from .record import ABSENT, Tasting, answered, checked
from .serving import SCALES

_COLUMNS = ("tasting", "taster", "answer")


def answers_csv(tasting: Tasting) -> str:
    """The answers as a table to fill in: one row a taster; of scales one row a glass."""
    rows: list[list[object]]
    if tasting.method == SCALES:
        rows = [[*_scale_columns(tasting)]]
        for one in tasting.servings:
            for code in one.codes:
                blank = [ABSENT if tasting.answers.get(one.taster) == ABSENT else ""] * len(tasting.scales)
                row = tasting.rated_by(one.taster).get(code, blank)
                rows.append([tasting.id, tables.no_formula(one.taster), code, *row])
    else:
        rows = [[*_COLUMNS]]
        for one in tasting.servings:
            rows.append([tasting.id, tables.no_formula(one.taster), tasting.answers.get(one.taster, "")])
    return tables.written(rows)


def _scale_columns(tasting: Tasting) -> list[str]:
    return ["tasting", "taster", "code", *map(tables.no_formula, tasting.scales)]


def read_answers(tasting: Tasting, path: str | Path) -> Tasting:
    """The tasting with the answers of a CSV file, as `answers_csv` lays it out.

    Raises
    ------
    InputError
        Naming the file, and every row that is of another tasting, of no taster, a second one, without an answer, or
        with one that cannot be.
    """
    path, what = Path(path), "answers"
    text = texts.clean(files.read_text(path, what).removeprefix("\ufeff"), what)
    (_, header), *rows = tables.cells(text, path.name)[1] if text.strip() else [(1, [])]
    wanted = _scale_columns(tasting) if tasting.method == SCALES else list(_COLUMNS)
    if header != wanted:
        raise InputError("columns", ", ".join(header), ", ".join(wanted), path.name)
    return _from_rows(tasting, rows, path.name)


def _from_rows(tasting: Tasting, rows: list[tuple[int, list[str]]], name: str) -> Tasting:
    wide = 3 + len(tasting.scales) if tasting.method == SCALES else 3
    known = {name: one.taster for one in tasting.servings for name in (tables.no_formula(one.taster), one.taster)}
    found: dict[str, Any] = {}
    wrong = []
    for at, row in rows:
        where = f"{name}, row {at}"
        try:
            if len(row) != wide:
                raise InputError("row", Told(f"{len(row)} cells wide"), f"{wide} cells wide", where)
            if row[0] != tasting.id:
                raise InputError("tasting", row[0], f"{tasting.id!r}; the row is of another tasting", where)
            if row[1] not in known:
                raise InputError("taster", row[1], "one of this tasting", where)
            _take(tasting, found, known[row[1]], row[2:], where)
        except InputError as error:
            wrong.append(error)
    named = {known.get(row[1]) for _, row in rows if len(row) > 1}
    for one in tasting.servings:
        if one.taster not in named:
            wrong.append(InputError(f"answer of {one.taster!r}", Told("missing"), f"a row, or {ABSENT!r}", name))
    if tasting.method == SCALES:
        for taster, rated in found.items():
            if ABSENT in (said := list(rated.values())):
                found[taster] = ABSENT
                if said.count(ABSENT) < len(said):
                    told = Told(f"{ABSENT} for one glass, rated for another")
                    wrong.append(InputError(f"answer of {taster!r}", told, "the same for both", name))
    if wrong:
        raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)
    return answered(tasting, found)


def _take(tasting: Tasting, found: dict[str, Any], taster: str, cells: list[str], where: str) -> None:
    """One row into `found`."""
    if tasting.method != SCALES:
        if taster in found:
            raise InputError("taster", taster, "on one row only", where)
        if not cells[0]:
            raise InputError(f"answer of {taster!r}", Told("missing"), f"a code, or {ABSENT!r}", where)
        try:
            found[taster] = checked(tasting, taster, cells[0])
        except InputError as error:
            raise error.at(where) from None
        return
    code, *row = cells
    if code not in tasting.of(taster).codes:
        raise InputError(f"code of {taster!r}", code, f"one of {', '.join(tasting.of(taster).codes)}", where)
    absent = all(cell.casefold() == ABSENT for cell in row)
    rated = found.setdefault(taster, {})
    if code in rated:
        raise InputError(f"code {code} of {taster!r}", Told("there twice"), "on one row only", where)
    rated[code] = (
        ABSENT if absent else tuple(_rating(c, w, taster, where) for w, c in zip(tasting.scales, row, strict=True))
    )


def _rating(cell: str, word: str, taster: str, where: str) -> float:
    """One rating; of "7/10" one would read 7, another 0.7."""
    field_ = f"{word} of {taster!r}"
    if "/" in cell or "⁄" in unicodedata.normalize("NFKC", cell):
        raise InputError(field_, cell, "a number of 0 to 10, such as 7 or 7.5", where)
    try:
        return float(number(cell, field_))
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where) from None
