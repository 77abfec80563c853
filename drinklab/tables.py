"""The datasets, read and checked against their own description, `datasets/datapackage.json`.

The description (a Data Package) says what each column holds: type, unit, range, choices, what a blank
counts as. The same rules check our files and a user's own, and a bad cell is named by file, line and
column.

>>> table = read("ingredients")
>>> row = table["id"].index("gin")
>>> f"{table['abv_percent'][row]:g} {table.unit('abv_percent')}"
'40 % vol'
"""

from __future__ import annotations

import csv
import functools
import io
import json
import re
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar, cast

import numpy as np

from . import files, texts
from .errors import InputError, Told, one_of, require

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
# "1,150" and "1.150" are a little over one to some and over a thousand to others; "47,5" and "0.150" tell.
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_DECIMAL = {mark: re.compile(rf"[+-]?\d*{re.escape(mark)}\d+([eE][+-]?\d+)?") for mark in ",."}


_MISSING = Told("missing")
# What a spreadsheet takes for a formula, also behind a tab or a space, and in wide letters (OWASP, CSV injection); and
# what was marked before.
_FORMULA = re.compile(r"'*\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Columns of one file, all of the same length; nothing in it can be changed.

    Parameters
    ----------
    name : str
        Dataset whose rules it was checked by.
    file : str
        File name, for messages.
    columns : mapping of str to array or tuple
        Numbers as arrays (NaN: not known), text and lists as tuples of str. Each column that the rules
        name is there, and the file's own notes.
    lines : tuple of int
        Line of the file that each row starts on.
    """

    name: str
    file: str
    columns: Mapping[str, np.ndarray | tuple[Any, ...]]
    lines: tuple[int, ...]

    def __len__(self) -> int:
        return len(self.lines)

    def __getitem__(self, column: str) -> np.ndarray | tuple[Any, ...]:
        return self.columns[one_of("column", column, self.columns, self.file)]

    def rows(self) -> Iterator[dict[str, Any]]:
        """One dict a row, with plain Python values.

        >>> next(read("standard_drinks").rows())["country"]
        'Albania'
        """
        plain = [c.tolist() if isinstance(c, np.ndarray) else c for c in self.columns.values()]
        return (dict(zip(self.columns, values, strict=True)) for values in zip(*plain, strict=True))

    def where(self, row: int) -> str:
        """File and line of a row, for an `InputError`.

        >>> read("ingredients").where(0)
        'ingredients.csv, line 2'
        """
        return f"{self.file}, line {self.lines[row]}"

    def unit(self, column: str) -> str:
        """Unit of a column, "" where it has none."""
        return fields(self.name)[one_of("column", column, fields(self.name))].get("unit", "")


class Source(NamedTuple):
    """Where figures come from, and the terms of use."""

    title: str
    terms: str


def folder() -> Path:
    """Where the datasets are: inside the package (installed) or beside it (a checkout)."""
    here = Path(__file__).resolve().parent
    for place in (here / "datasets", here.parent / "datasets"):
        if (place / "datapackage.json").is_file():
            return place
    raise InputError("datasets/datapackage.json", _MISSING, "inside the drinklab folder or beside it; install it again")


@functools.cache
def _resources() -> dict[str, dict[str, Any]]:
    package = json.loads((folder() / "datapackage.json").read_text(encoding="utf-8"))
    return {r["name"]: r for r in package["resources"]}


def names() -> tuple[str, ...]:
    """Names of the datasets.

    >>> names()[:3]
    ('ingredients', 'classics', 'classic_pours')
    """
    return tuple(_resources())


def _resource(name: str) -> dict[str, Any]:
    return _resources()[one_of("dataset", name, names())]


def fields(name: str) -> dict[str, dict[str, Any]]:
    """What each column of a dataset holds: type, unit, description, constraints.

    >>> fields("ingredients")["sugar_g_l"]["unit"]
    'g/L'
    """
    return {f["name"]: f for f in _resource(name)["schema"]["fields"]}


def sources(*which: str) -> tuple[Source, ...]:
    """Sources of the datasets, with their terms; of all of them when none is named.

    >>> sources("ingredients")[0].terms
    'US public domain'
    """
    found = (s for name in which or names() for s in _resource(name)["sources"])
    return tuple(dict.fromkeys(Source(s["title"], s["terms"]) for s in found))


@functools.cache
def read(name: str) -> Table:
    """One of our datasets, checked; read once and kept.

    Parameters
    ----------
    name : str
        One of `names()`.

    Raises
    ------
    InputError
        For an unknown name, or a file that breaks its rules.

    Examples
    --------
    >>> len(read("classics")), len(read("classic_pours"))
    (105, 430)
    """
    return _checked(folder() / _resource(name)["path"], name)


def read_file(path: str | Path, like: str = "ingredients") -> Table:
    """A user's own CSV file with the columns of one of our datasets.

    Required columns must be there; others may be left out and count as blank; a column of one's own is
    allowed when its name starts with "note". The file is UTF-8 text with commas, semicolons or tabs
    between cells, which a first line may name ("sep=;"); with semicolons or tabs the numbers may have decimal
    commas, all or none of them, and a file that leaves open which ("1,150" and nothing else) is refused.

    Parameters
    ----------
    path : str or Path
        The file.
    like : str
        Dataset whose rules hold.

    Raises
    ------
    InputError
        Naming file, line and column, the value, and what is allowed.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as work:
    ...     own = Path(work, "own.csv")
    ...     _ = own.write_text("id;name;kind;abv_percent;sugar_g_l\\nhouse_gin;our gin;spirit;47,5;0\\n")
    ...     read_file(own)["abv_percent"].tolist()
    [47.5]
    """
    _resource(like)
    return _checked(Path(path), like)


_T = TypeVar("_T")
_TICK = 2_000_000_000  # of the clock that stamps files, on memory sticks [ns]
_MOST_KEPT = 8
_KEPT: dict[tuple[str, str], tuple[tuple[int, ...], object]] = {}


def once(path: Path, by: Callable[[Path], _T]) -> _T:
    """What `by` makes of a file, made anew only when the file is another: each answer of a page asks for it.

    A file just written may be written again within a tick of the clock that stamps it, and is not kept.
    """
    try:
        found = path.stat()
    except OSError:
        return by(path)  # which says what is wrong
    key = str(path), f"{by.__module__}.{by.__qualname__}"
    stamp = found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns
    kept = _KEPT.get(key)
    if kept is not None and kept[0] == stamp:
        return cast("_T", kept[1])
    made = by(path)
    if abs(time.time_ns() - found.st_mtime_ns) > _TICK:
        if len(_KEPT) >= _MOST_KEPT:
            _KEPT.clear()
        _KEPT[key] = stamp, made
    return made


def checked(dataset: str, column: str, word: object, field: str) -> str:
    """A word that did not come from a file, by the rules of a column; of a list, one of its words.

    Raises
    ------
    InputError
        Naming `field`, for what the column may not hold.

    Examples
    --------
    >>> checked("ingredients", "allergens", "nuts (almond)", "allergens of 'orgeat'")
    'nuts (almond)'
    """
    rule = fields(dataset)[column]
    if not isinstance(word, str) or not word or rule.get("delimiter", "\n") in word or word == "none":
        raise InputError(field, word, _meaning(rule))
    return _value(rule | {"name": field}, texts.clean(word, field, texts.NAME), False, "")


def read_text(text: str, file: str, like: str = "ingredients") -> Table:
    """As `read_file`, from the text of a file that is not written yet."""
    return _checked_text(text, file, like)


def decimal_mark(text: str, file: str, like: str = "ingredients") -> str:
    """The mark before the decimals in a file's text, "." or ",".

    >>> decimal_mark("id;abv_percent\\na;47,5", "own.csv")
    ','
    """
    delimiter, ((_, header), *rows) = cells(text, file)
    numeric = [c for c in header if fields(like).get(c, {}).get("type") in ("number", "integer")]
    held = {c: [row[i] if i < len(row) else "" for _, row in rows] for i, c in enumerate(header)}
    return "." if delimiter == "," else _decimal_mark(numeric, held, file, tuple(line for line, _ in rows))


def frame(table: str | Table) -> Any:
    """A dataset, or a table read from a file, as a pandas DataFrame.

    >>> frame("standard_drinks").shape
    (25, 7)
    """
    import pandas as pd  # here, so that the package starts without it

    table = read(table) if isinstance(table, str) else table
    return pd.DataFrame(dict(table.columns))


# --- from text to cells ---------------------------------------------------------------------------


def _checked(path: Path, name: str) -> Table:
    return _checked_text(_text(path), path.name, name)


def _checked_text(text: str, file: str, name: str) -> Table:
    rules = fields(name)
    delimiter, (first, *rows) = cells(text, file)
    header = _header(first, rules, file)
    lines = tuple(line for line, _ in rows)
    held: dict[str, list[str]] = {column: [] for column in header}
    for line, row in rows:
        if any(row[len(header) :]) or len(row) < len(header):
            allowed = f"{len(header)}, as in the header; a {delimiter!r} inside a cell needs quotes around the cell"
            raise InputError("number of cells", len(row), allowed, f"{file}, line {line}")
        for column, cell in zip(header, row, strict=False):
            held[column].append(cell)
    numeric = [c for c in header if rules.get(c, {}).get("type") in ("number", "integer")]
    comma = delimiter != "," and _decimal_mark(numeric, held, file, lines) == ","
    columns = {}
    for column, rule in rules.items():
        if column in held:
            known: dict[str, Any] = {}  # most cells of a long table are like one before
            for cell, n in zip(held[column], lines, strict=True):
                if cell not in known:
                    known[cell] = _value(rule, cell, comma, f"{file}, line {n}")
            values = [known[cell] for cell in held[column]]
        else:
            values = [_value(rule, "", comma, file)] * len(rows)
        columns[column] = _frozen(values, rule["type"])
    columns |= {c: tuple(held[c]) for c in header if c not in rules}
    table = Table(name, file, MappingProxyType(columns), lines)
    _check_rows(table)
    return table


def _decimal_mark(numeric: list[str], cells: dict[str, Any], file: str, lines: tuple[int, ...]) -> str:
    """What the numbers of a file without commas between its cells have before their decimals."""
    marked = [(n, column, cell) for column in numeric for n, cell in zip(lines, cells[column], strict=True)
              if "," in cell or "." in cell]  # fmt: skip
    sure = [cell for *_, cell in marked if not _EITHER.fullmatch(cell)]
    for mark in ",.":
        if any(_DECIMAL[mark].fullmatch(cell) for cell in sure):
            return mark
    for n, column, cell in marked:
        if _EITHER.fullmatch(cell):
            mark = cell.strip("+-0123456789")
            small = repr(float(cell.replace(mark, "."))).replace(".", mark)
            allowed = (
                f"{small} or {cell.replace(mark, '')}, "
                "since nothing else in this file tells which mark its decimals have"
            )
            raise InputError(column, cell, allowed, f"{file}, line {n}")
    return "."


def _text(path: Path) -> str:
    allowed = "a CSV file that exists and can be read"
    try:
        raw = files.read(path, "file", allowed)
    except OSError:
        raise InputError("file", str(path), allowed) from None
    try:
        return texts.fit(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start)
        shown = raw.split(b"\n")[line].decode("latin-1").replace("\0", "").strip()[:60]
        allowed = "saved as CSV in UTF-8 (choose that encoding when you export from a spreadsheet)"
        raise InputError("text", shown, allowed, f"{path.name}, line {line + 1}") from None


def no_formula(text: str) -> str:
    """A cell of a table to be written, that no spreadsheet takes for a formula.

    >>> no_formula("=1+1"), with_formula("'=1+1"), no_formula("5 mL less")
    ("'=1+1", '=1+1', '5 mL less')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def with_formula(text: str) -> str:
    """A cell that `no_formula` wrote, as it was."""
    return text[1:] if text[:1] == "'" and _FORMULA.match(text) else text


def written(rows: Iterable[Iterable[object]], delimiter: str = ",") -> str:
    """The text of a table, a line a row, the header first.

    >>> written([["name", "note"], ["gin", 'says "dry", 40']])
    'name,note\\ngin,"says ""dry"", 40"\\n'
    """
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue()


@dataclass(slots=True)
class Sheet:
    """A person's own file as it stands, to be written again with a row more: its marks stay, and so does all in it.

    Parameters
    ----------
    like : str
        Dataset whose columns it has.
    header : list of str
    rows : list of dict
        Column -> text, as the file has it.
    delimiter, mark : str
        What stands between cells; what stands before them all (some spreadsheets know UTF-8 by it, or have a first line
        that names the delimiter).
    comma : bool
        Whether its decimals have commas.
    over : bool
        Whether a row of it went on behind the last column, as where two lines ran together: that is not in `rows`.

    Examples
    --------
    >>> sheet = Sheet.of("id;abv_percent\\nhouse_gin;47,5\\n", "own.csv")
    >>> sheet.put({"id": "house_rum", "abv_percent": "50.5"})
    >>> sheet.text()
    'id;abv_percent\\nhouse_gin;47,5\\nhouse_rum;50,5\\n'
    """

    like: str
    header: list[str]
    rows: list[dict[str, str]]
    delimiter: str = ","
    mark: str = ""
    comma: bool = False
    over: bool = False

    @classmethod
    def of(cls, text: str, file: str, like: str = "ingredients", columns: Iterable[str] = ()) -> Sheet:
        """A sheet from a file's text; without a line it is a new one with these columns."""
        mark, delimiter, table = _marked(text, file)
        if not table.strip():
            return cls(like, list(columns), [], delimiter or ",", mark)
        delimiter, ((_, header), *lines) = cells(text, file)
        while not header[-1]:
            header = header[:-1]
        rows = [dict(zip(header, row, strict=False)) for _, row in lines]
        comma = delimiter != "," and decimal_mark(text, file, like) == ","
        over = any(any(row[len(header) :]) for _, row in lines)
        return cls(like, header, rows, delimiter, mark, comma, over)

    def put(self, row: Mapping[str, str], at: int | None = None) -> None:
        """A row behind all others, or in the place of one; its numbers come with a decimal point."""
        rules = fields(self.like)
        self.header += [column for column in row if column not in self.header]
        made = {
            column: cell.replace(".", ",") if self.comma and rules.get(column, {}).get("type") == "number" else cell
            for column, cell in row.items()
        }
        if at is None:
            self.rows.append(made)
        else:
            self.rows[at] = made

    def text(self) -> str:
        """The file's text, as `written` makes it."""
        table = ([row.get(column, "") for column in self.header] for row in self.rows)
        return self.mark + written([self.header, *table], self.delimiter)


class Cells(NamedTuple):
    """What stands between cells, and each row with the line it starts on."""

    delimiter: str
    rows: list[tuple[int, list[str]]]


# What a spreadsheet writes in front of a table, and some need to read one: "sep=;".
_NAMED = re.compile(r"\s*(\"?)sep=([^\r\n])\1[,;|\t ]*(\r\n|\r|\n|\Z)", re.IGNORECASE)


def _marked(text: str, file: str) -> tuple[str, str, str]:
    """What stands before a table, the delimiter that it names ("" for none), and the table."""
    bare = text.removeprefix("\ufeff")
    named = _NAMED.match(bare)
    if named and named[2] not in ",;\t":
        raise InputError("sep", named[2], "a comma, a semicolon or a tab", f"{file}, line 1")
    table = bare[named.end() :] if named else bare
    return text[: len(text) - len(table)], named[2] if named else "", table


def cells(text: str, file: str) -> Cells:
    """The delimiter, named in a first line "sep=;" or read off the header, and the rows that are not blank.

    Each row comes with the line that it starts on.

    >>> cells("sep=;\\nid,x;y\\n", "own.csv")
    Cells(delimiter=';', rows=[(2, ['id,x', 'y'])])
    """
    mark, delimiter, table = _marked(text, file)
    first = next((line for line in table.splitlines() if line.strip()), "")
    delimiter = delimiter or max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(table, newline=""), delimiter=delimiter, strict=True)
    before = len(mark.splitlines()) if mark.strip("\ufeff") else 0
    found, line = [], before + 1
    try:
        for row in reader:
            row = [cell.strip() for cell in row]
            if any(row):
                found.append((line, row))
            line = before + reader.line_num + 1
    except csv.Error as error:
        if "field limit" in str(error):
            letters = Told(f"more than {csv.field_size_limit():,} letters long")
            raise InputError("cell", letters, "shorter", f"{file}, line {line}") from None
        allowed = 'closed by a second one; a " inside a quoted cell is written twice'
        raise InputError('quotation mark "', Told("left open"), allowed, f"{file}, line {line}") from None
    if not found:
        raise InputError("file", None, "a table whose first row names the columns", file)
    return Cells(delimiter, found)


def _header(row: tuple[int, list[str]], rules: dict[str, Any], file: str) -> list[str]:
    line, header = row
    where = f"{file}, line {line}"
    while not header[-1]:  # spreadsheets leave empty columns at the end
        header = header[:-1]
    for i, column in enumerate(header):
        if column not in rules and not column.startswith("note"):
            try:
                one_of("column", column, rules, where)
            except InputError as error:
                raise InputError("column", column, f"{error.allowed}, or start with note", where) from None
        if column in header[:i]:
            raise InputError("column", column, "named only once", where)
    for column, rule in rules.items():
        if column not in header and rule.get("constraints", {}).get("required"):
            raise InputError(f"column {column}", _MISSING, f"there: {_meaning(rule)}", where)
    return header


def _meaning(rule: dict[str, Any]) -> str:
    unit = f" [{rule['unit']}]" if "unit" in rule else ""
    return rule["description"].split(". ")[0].rstrip(".") + unit


# --- from cells to values -------------------------------------------------------------------------


def _value(rule: dict[str, Any], cell: str, comma: bool, where: str) -> Any:
    name, kind, limits = rule["name"], rule["type"], rule.get("constraints", {})
    if not cell:
        if limits.get("required"):
            raise InputError(name, None, f"filled in: {_meaning(rule)}", where)
        return rule.get("default", np.nan if kind == "number" else "")
    if kind in ("number", "integer"):
        return _number(rule, cell, comma, where)
    if kind == "list":
        for item in cell.split(rule["delimiter"]):
            word = item.partition("(")[0] if rule.get("brackets", True) else item
            if one_of(name, word.strip(), rule["itemEnum"], where) == "none" and cell != "none":
                raise InputError(name, cell, "none alone, or what there is", where)
    if "enum" in limits:
        return one_of(name, cell, limits["enum"], where)
    if "pattern" in limits and not re.fullmatch(limits["pattern"], cell):
        meaning = _meaning(rule)
        raise InputError(name, cell, f"a {meaning[0].lower()}{meaning[1:]}", where)
    return cell


def _number(rule: dict[str, Any], cell: str, comma: bool, where: str) -> float:
    name, unit, limits = rule["name"], rule.get("unit", ""), rule.get("constraints", {})
    plain = cell.replace(".", "x").replace(",", ".") if comma else cell
    if not _NUMBER.fullmatch(plain) or (rule["type"] == "integer" and not float(plain).is_integer()):
        mark = "with a decimal comma, as elsewhere in this file" if comma else "with a decimal point"
        sort = "a whole number" if rule["type"] == "integer" else f"a plain number {mark}"
        raise InputError(name, cell, f"{sort} [{unit}]", where)
    number, low, high = float(plain), limits.get("minimum", -np.inf), limits.get("maximum", np.inf)
    if not low <= number <= high:
        require(name, number, low, high, unit, where)
    return number


def _frozen(values: list[Any], kind: str) -> np.ndarray | tuple[Any, ...]:
    if kind not in ("number", "integer"):
        return tuple(values)
    column = np.array(values, dtype=float if kind == "number" else int)
    column.setflags(write=False)
    return column


# --- what rows owe to each other ------------------------------------------------------------------


def _check_rows(table: Table) -> None:
    resource = _resource(table.name)
    schema = resource["schema"]
    unique = {(f["name"],) for f in schema["fields"] if f.get("constraints", {}).get("unique")}
    for key in sorted(unique | {tuple(schema["primaryKey"])}):
        seen: dict[tuple[Any, ...], int] = {}
        for row, value in enumerate(zip(*(table[c] for c in key), strict=True)):
            if value in seen:
                given = value[0] if len(key) == 1 else Told(", ".join(map(str, value)))
                allowed = f"used only once; line {table.lines[seen[value]]} has it already"
                raise InputError(" and ".join(key), given, allowed, table.where(row))
            seen[value] = row
    for link in schema.get("foreignKeys", ()):
        (column,), (theirs,) = link["fields"], link["reference"]["fields"]
        known = dict.fromkeys(read(link["reference"]["resource"])[theirs])
        for row, value in enumerate(table[column]):
            if value not in known:
                one_of(column, value, known, table.where(row))
    for rule in resource.get("sums", ()):
        parts = np.array([table[c] for c in rule["parts"]])
        off = np.abs(np.nansum(parts, axis=0) - table[rule["total"]]) > rule["tolerance"] + 1e-9
        for row in np.flatnonzero(off & ~np.isnan(parts).all(axis=0)).tolist():
            name, near, unit = rule["total"], rule["tolerance"], table.unit(rule["total"])
            allowed = f"{name}, {table[name][row]:g} {unit}, within {near:g} {unit}, or all of them blank"
            raise InputError(f"sum of {', '.join(rule['parts'])}", np.nansum(parts[:, row]), allowed, table.where(row))
