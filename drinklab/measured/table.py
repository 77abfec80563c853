"""All measurements for other programs: a table and its description, as the Data Package standard has it."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from .. import tables
from ..errors import InputError, Told
from ..facts import Fact, say
from ..files import EXPORTS, numbered, read, write_new
from ..plain_data import zipped
from .entries import COLUMNS
from .joint import Joint, Reviewed
from .kept import ICE, LOG

# What is added to what was typed: the figure that came of it, and whether it counts.
_MORE = {
    "counts": ("string", "", Fact("column: counts")),
    "off": ("number", "1", Fact("column: off")),
    "table": ("number", "of the figure", Fact("column: table")),
    "table_pm": ("number", "of the figure", Fact("column: ± of the table")),
    "joined": ("number", "of the figure", Fact("column: joined")),
    "joined_pm": ("number", "of the figure", Fact("column: ± of the joined")),
}


def package(joint: Joint, today: datetime.date | None = None, also: Mapping[str, bytes] | None = None) -> bytes:
    """A zip of `measurements.csv` and its `datapackage.json`; the columns of the person's own file come first.

    `also` are files that are kept elsewhere, such as weighings of ice (JSON), as they are, by name.

    >>> import io, zipfile
    >>> held = package(Joint(None, ()))
    >>> zipfile.ZipFile(io.BytesIO(held)).namelist()
    ['measurements.csv', 'datapackage.json']
    """
    day = today or datetime.date.today()
    others = dict(also or {})
    made: dict[str, str | bytes] = {
        "measurements.csv": _csv(joint.entries),
        "datapackage.json": _described(day, others),
        **others,
    }
    return zipped(made, day)


def export(joint: Joint, folder: str | Path, today: datetime.date | None = None) -> Path:
    """Write `package` as a new file under `folder`/exports, with the folder's weighings of ice and filter logs.

    Raises
    ------
    InputError
        Where nothing is measured yet, or the folder cannot be written to.
    """
    also = {path.name: _held(path) for name in (ICE, LOG) for path in numbered(folder, name, ".json")}
    if not joint.entries and not also:
        raise InputError("measurements to export", Told("none"), "at least one")
    day = today or datetime.date.today()
    return write_new(Path(folder) / EXPORTS, f"{day:%Y-%m-%d}_measurements", {".zip": package(joint, day, also)})[0]


def _held(path: Path) -> bytes:
    what, allowed = "own weighings", "a file of weighings or readings"
    try:
        return read(path, what, allowed)
    except OSError as error:
        raise InputError(what, Told(error.strerror or str(error)), allowed, path.name) from None


def _csv(entries: Sequence[Reviewed]) -> str:
    rows = [[*COLUMNS, *_MORE]]
    for one in entries:
        cells = {name: tables.no_formula(cell) for name, cell in one.entry.cells().items()}
        known = one.learned
        figures = (known.prior, known.prior_pm, known.value, known.pm) if known else (None,) * 4
        more = ["yes" if one.counts else "no", *("" if x is None else f"{x:.6g}" for x in (one.off, *figures))]
        rows.append([*(cells[column] for column in COLUMNS), *more])
    return tables.written(rows)


def _described(day: datetime.date, others: Iterable[str] = ()) -> str:
    fields: list[dict[str, Any]] = [
        {name: rule[name] for name in ("name", "type", "unit", "description") if name in rule}
        for rule in tables.fields("measurements").values()
    ]
    fields += [
        {"name": name, "type": kind} | ({"unit": unit} if unit else {}) | {"description": say(what)}
        for name, (kind, unit, what) in _MORE.items()
    ]
    told = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "measurements",
        "title": "What a bar has measured",
        "created": f"{day.isoformat()}T12:00:00Z",
        "resources": [
            {"name": "measurements", "type": "table", "path": "measurements.csv",
             "description": say(Fact("table: measurements")), "format": "csv",
             "mediatype": "text/csv", "encoding": "utf-8", "schema": {"fields": fields, "missingValues": [""]}},
            *({"name": Path(name).stem.replace("_", "-"), "path": name, "format": "json",
               "mediatype": "application/json", "encoding": "utf-8",
               "description": say(Fact("table: filter log" if name.startswith(LOG) else "table: weighings of ice"))}
              for name in others),
        ],
    }  # fmt: skip
    return json.dumps(told, ensure_ascii=False, indent=1)
