"""The file of a bar's own measurements, `my_measurements.csv`: every entry stays in it, also what is asked about."""

from __future__ import annotations

import datetime
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from .. import files, tables, texts
from ..errors import InputError, Told, one_of, require
from ..facts import Fact, rounded
from ..kinds import MASS, VOLUME, Kind
from ..plain_data import leads_to_ours
from ..units import is_bare, read, single
from .sorts import BUFFERING, PH, READ_AS, SORTS, Sort

OWN_FILE = "my_measurements.csv"
COUNTS, TO_CONFIRM, CONFIRMED, TAKEN_BACK = STATES = "counts", "to confirm", "confirmed", "taken back"
COLUMNS = ("id", "kind", "what", "value", "unit", "pm", "instrument", "when", "batch", "of", "with", "times", "state",
           "why", "note")  # fmt: skip
_NUMBERS = ("value", "pm", "of", "with", "times")
_EARLIEST = datetime.date(1900, 1, 1)
MOST = 20_000  # rows of a file: ten a day for five years


@dataclass(frozen=True, slots=True)
class Entry:
    """One measurement.

    Parameters
    ----------
    kind : str
        A key of `SORTS`.
    what : str
        An ingredient as a recipe names it, a tool, a milk, a way to pour.
    value, pm : float
        What was read, and the half-width that holds 19 readings in 20, in the unit of its kind.
    instrument, when, batch, note : str
        The day as ISO 8601.
    of, milk : float
        What the value is of; milk in a wash. [mL, g of gas]
    times : int
        How often it was read, or how many fruit were pressed.
    state, why : str
        One of `STATES`, and what was asked about it.
    """

    kind: str
    what: str
    value: float
    pm: float
    instrument: str
    when: str
    batch: str = ""
    of: float = 0.0
    milk: float = 0.0
    times: int = 1
    state: str = COUNTS
    why: str = ""
    note: str = ""
    id: str = ""

    @property
    def day(self) -> datetime.date:
        """When, as a date."""
        return datetime.date.fromisoformat(self.when)

    @property
    def used(self) -> bool:
        """Whether it counts."""
        return self.state in (COUNTS, CONFIRMED)

    def cells(self) -> dict[str, str]:
        """Its row of the file."""
        return {
            "id": self.id, "kind": self.kind, "what": self.what, "value": _cell(self.value),
            "unit": SORTS[self.kind].unit.label, "pm": _cell(self.pm), "instrument": self.instrument, "when": self.when,
            "batch": self.batch, "of": _cell(self.of) if self.of else "", "with": _cell(self.milk) if self.milk else "",
            "times": str(self.times), "state": self.state, "why": self.why, "note": self.note,
        }  # fmt: skip


def _cell(value: float) -> str:
    return np.format_float_positional(value, precision=9, fractional=False, trim="-")


def checked(
    kind: str,
    what: str,
    value: object,
    *,
    of: object = None,
    milk: object = None,
    times: object = 1,
    pm: object = None,
    instrument: str = "",
    when: str | datetime.date | None = None,
    batch: str = "",
    note: str = "",
    today: datetime.date | None = None,
) -> Entry:
    """A measurement from what a person typed; what is missing or impossible is asked for by name.

    Parameters
    ----------
    kind : str
        A key of `SORTS`.
    what : str
    value : str
        With its unit: "41.6 % vol", "48 °Brix", "53 g/L", "28.9 mL"; a pH as "pH 2.3" or "2.3 pH".
    of, milk : amount, optional
        Of the kinds that ask for it. A plain number is mL, or g of gas.
    times : int
    pm : amount, optional
        Half-width that holds 19 readings in 20; the instrument's usual one by default. A plain number is in the
        value's unit.
    instrument : str
        The first of the kind's usual ones by default; one that is not usual needs its `pm`.
    when : str or date
        "2027-01-14"; today by default. Not in the future.
    batch, note : str
    today : date, optional

    Returns
    -------
    Entry

    Raises
    ------
    InputError
        Naming the field, the value and what is allowed.

    Examples
    --------
    >>> checked("acid", "lemon juice", "53 g/L", when="2020-05-01").pm
    2.12
    >>> checked("ph", "lemon juice", "pH 0.2")
    Traceback (most recent call last):
    drinklab.errors.InputError: pH of 'lemon juice' is 0.2; it must be 1.8 to 9 pH.
    """
    sort = SORTS[one_of("kind of measurement", kind, SORTS)]
    what = texts.line(texts.clean(what, "what was measured", texts.NAME))
    if not what.strip():
        raise InputError("what was measured", what, Fact("thing to measure"))
    field = f"{sort.name} of {what!r}"
    number = with_unit(value, kind, field)
    require(field, number, sort.low, sort.high, sort.unit)
    instrument = texts.line(texts.clean(instrument or sort.instruments[0].name, "instrument", texts.NAME))
    width = _width(sort, instrument, pm, number, field)
    return Entry(
        kind, what, number, width, instrument, _day(when, today or datetime.date.today()).isoformat(),
        texts.line(texts.clean(batch, "batch or supplier", texts.NAME)), _of(sort, of, number, field),
        _amount(milk, VOLUME, f"milk in {field}") if sort.milk else 0.0, _times(times),
        note=texts.line(texts.clean(note, "note", texts.PROSE)),
    )  # fmt: skip


def with_unit(value: object, kind: str, field: str) -> float:
    """A reading in its kind's unit; a number that names none is asked about.

    >>> with_unit("83.2 proof", "strength", "strength of 'gin'")
    41.6
    """
    unit = SORTS[kind].unit
    if isinstance(value, str):
        text = value.strip()
        if unit is PH:
            text = text[2:].strip() if text[:2].lower() == "ph" else text.removesuffix("pH").strip()
            return float(read(text, PH, field))
        if not text or is_bare(text):
            raise InputError(field, value, Fact("reading with its unit", unit=unit.label))
        if unit is BUFFERING:
            return float(read(text.casefold().removesuffix("mmol/l"), PH, field))
        return float(read(text, READ_AS.get(unit.label, unit), field))
    if unit is PH and isinstance(value, (int, float, np.number)) and not isinstance(value, bool):
        return float(value)
    if hasattr(value, "m_as"):
        return single(read(value, unit, field), field)
    raise InputError(field, value, Fact("reading with its unit", unit=unit.label))


def _width(sort: Sort, instrument: str, pm: object, number: float, field: str) -> float:
    if pm is None or (isinstance(pm, str) and not pm.strip()):
        usual = sort.instrument(instrument)
        if usual is None:
            names = ", ".join(one.name for one in sort.instruments)
            raise InputError(f"± of {instrument!r}", "", Fact("± of an instrument", names=names))
        return usual.pm(number)
    width = single(read(pm, PH if sort.unit in (PH, BUFFERING) else READ_AS.get(sort.unit.label, sort.unit), "±"), "±")
    require(f"± of {field}", width, 1e-6, max(number, sort.high), sort.unit)
    return width


def _day(when: str | datetime.date | None, today: datetime.date) -> datetime.date:
    if when is None or (isinstance(when, str) and not when.strip()):
        return today
    try:
        day = when if isinstance(when, datetime.date) else datetime.date.fromisoformat(when.strip())
    except (TypeError, ValueError, AttributeError):
        raise InputError("day of the measurement", when, Fact("day as written")) from None
    if isinstance(day, datetime.datetime):
        day = day.date()
    if not _EARLIEST <= day <= today:
        raise InputError("day of the measurement", Told(day.isoformat()), Fact("day until", today=today.isoformat()))
    return day


def _of(sort: Sort, of: object, number: float, field: str) -> float:
    if not sort.of:
        return 0.0
    kind = MASS if sort.unit is MASS else VOLUME
    size = _amount(of, kind, f"what the {field} is of")
    if kind is VOLUME and sort.milk and not number < size:
        raise InputError(field, VOLUME(number), Fact("less than was poured", all=VOLUME(size)))
    if sort.unit is kind and not 0.2 <= number / size <= 5 and not sort.milk and number > 0:
        raise InputError(field, sort.unit(number), Fact("within five times", of=kind(size)))
    return size


def _amount(given: object, kind: Kind, field: str) -> float:
    if given is None or (isinstance(given, str) and not given.strip()):
        raise InputError(field, "", Fact("amount to give", unit=kind.label))
    size = single(read(given, kind, field), field)
    require(field, size, 0.01, 1e6, kind)
    return size


def _times(given: object) -> int:
    text = str(given).strip()
    if not re.fullmatch(r"[+-]?\d{1,9}", text):
        raise InputError("times it was read", given, Fact("whole number of readings"))
    require("times it was read", int(text), 1, 1000)
    return int(text)


# --- the file --------------------------------------------------------------------------------------------------


def load(folder: str | Path) -> tuple[Entry, ...]:
    """All entries of a working folder, as they were written; none where there is no file.

    Raises
    ------
    InputError
        For a bad row, by file, line and column.

    Examples
    --------
    >>> load("no such folder")
    ()
    """
    path = Path(folder) / OWN_FILE
    return tables.once(path, _load) if files.is_there(path) else ()


def _load(path: Path) -> tuple[Entry, ...]:
    return of_table(tables.read_file(path, like="measurements"))


def of_table(table: tables.Table) -> tuple[Entry, ...]:
    """The rows of a table of measurements, each held against what its kind allows."""
    _refuse_more(len(table), table.file)
    return tuple(_of_row(row, table.where(i)) for i, row in enumerate(table.rows()))


def _refuse_more(rows: int, file: str) -> None:
    if rows > MOST:
        raise InputError("measurements", Told(f"{rows:,}"), Fact("measurements at most", most=f"{MOST:,}"), file)


def example() -> tuple[Entry, ...]:
    """Invented measurements of an invented bar, to show what the file looks like.

    >>> [entry.kind for entry in example()]
    ['strength', 'sugar', 'acid', 'pour', 'fruit']
    """
    return of_table(tables.read("measurements"))


def _of_row(row: Mapping[str, Any], where: str) -> Entry:
    sort = SORTS[row["kind"]]
    if row["unit"] != sort.unit.label:
        raise InputError("unit", row["unit"], f"{sort.unit.label}, in which {sort.name} is kept", where)
    given = {name: None if row[name] != row[name] else row[name] for name in ("pm", "of", "with")}
    value = f"{_cell(row['value'])} {sort.unit.label}"
    try:
        entry = checked(
            row["kind"], row["what"], value, pm=given["pm"], of=given["of"], milk=given["with"],
            times=int(row["times"]), instrument=tables.with_formula(row["instrument"]), when=row["when"],
            batch=tables.with_formula(row["batch"] or ""), note=tables.with_formula(row["note"] or ""),
            today=datetime.date.max,  # a clock that was set back since makes no file unreadable
        )  # fmt: skip
    except InputError as error:
        raise error.at(where) from None
    return replace(entry, id=row["id"], state=row["state"], why=row["why"] or "", what=tables.with_formula(entry.what))


def put(folder: str | Path, entry: Entry) -> Entry:
    """Write one more entry behind those that are there, or in the place of the one of its id.

    A file that cannot be read is kept whole under another name; the rows of it that can be read are carried over.

    Returns
    -------
    Entry
        With its id.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    entry = entry if entry.id else replace(entry, id=f"m_{entry.when}_{secrets.token_hex(3)}")
    path = Path(folder) / OWN_FILE
    with files.alone(path):  # from reading to writing: an entry of another page's, put in between, would be lost
        through = leads_to_ours(path, _is_headed)
        sheet, damaged = _there(path) if through else (tables.Sheet("measurements", list(COLUMNS), []), True)
        cells = {name: tables.no_formula(cell) for name, cell in entry.cells().items()}
        at = next((i for i, row in enumerate(sheet.rows) if row["id"] == entry.id), None)
        sheet.put(cells if at is None else sheet.rows[at] | cells, at)
        _refuse_more(len(sheet.rows), path.name)  # else it could not be opened again
        text = sheet.text()
        # Refuses what could not be read again.
        tables.read_text(text, path.name, like="measurements")
        files.write_over(path, text, keep=damaged, through=through)
    return entry


def _is_headed(text: str) -> bool:
    """Whether a file begins with the columns of measurements."""
    return any(all(name in line for name in ("kind", "what", "value", "state")) for line in text.splitlines()[:3])


def _there(path: Path) -> tuple[tables.Sheet, bool]:
    """What of the file can be read, and whether something of it cannot."""
    new = tables.Sheet("measurements", list(COLUMNS), [])
    if not files.is_there(path):
        return new, False
    try:
        text = files.read(path, "measurements", "a CSV file").decode("utf-8")
        sheet = tables.Sheet.of(text, path.name, "measurements", COLUMNS)
    except (InputError, OSError, ValueError):
        return new, True
    rows: dict[str | None, dict[str, str]] = {}
    try:
        all_sound = bool(of_table(tables.read_text(text, path.name, like="measurements")))
    except InputError:
        all_sound = False  # each by itself then
    for row in sheet.rows:
        if row.get("id") not in rows and (all_sound or _sound(row, sheet, path.name)):
            rows[row["id"]] = row
    header = [column for column in dict.fromkeys(sheet.header) if column in COLUMNS or column.startswith("note")]
    damaged = sheet.over or len(rows) < len(sheet.rows) or len(header) < len(sheet.header)
    return replace(sheet, header=header, rows=list(rows.values())), damaged


def _sound(row: Mapping[str, str], of: tables.Sheet, file: str) -> bool:
    known = [column for column in COLUMNS if column in row]
    held = [row[c].replace(",", ".") if of.comma and c in _NUMBERS else row[c] for c in known]
    try:
        of_table(tables.read_text(tables.written([known, held]), file, like="measurements"))
    except InputError:
        return False
    return True


def newest_first(entries: Sequence[Entry]) -> list[Entry]:
    """As a page lists them."""
    return [entry for _, entry in sorted(enumerate(entries), key=lambda pair: (pair[1].when, pair[0]), reverse=True)]


def number_text(value: float) -> str:
    """A reading in as many digits as it was written in.

    >>> number_text(48.0), number_text(28.95)
    ('48', '28.95')
    """
    return rounded(value, min(len(f"{value:.6g}".partition(".")[2]), 3))
