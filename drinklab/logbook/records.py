"""What is said of a saved trial later: a better title, a note, what a tasting found, that it is in the bin.

Each is a small new file beside the trial, which stays as it was saved; so two computers that share a folder lose
nothing of each other's.
"""

from __future__ import annotations

import contextlib
import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from .. import __version__, files, texts
from ..errors import InputError, Told
from ..plain_data import read_json
from ..units import whole_number
from .saved import damage

RECORDS, _FORMAT = "records", 1
_MOMENT = timedelta(milliseconds=1)


@dataclass(frozen=True, slots=True)
class Record:
    """What was said of a trial later.

    Attributes
    ----------
    of : str
        File of the trial.
    saved : datetime
        When that was saved: a record is of one trial, not of whatever has its name some day.
    time : datetime
    title, note : str
        "" where the record says nothing of it.
    tasting : str
        File of a tasting in which it was tasted.
    photo : str
        File of a photograph of it.
    in_bin : bool or None
        Whether it was put into the bin (True) or taken out (False) by this.
    """

    of: str
    saved: datetime
    time: datetime
    title: str = ""
    note: str = ""
    tasting: str = ""
    photo: str = ""
    in_bin: bool | None = None


def write(
    path: str | Path,
    saved: datetime,
    *,
    title: str = "",
    note: str = "",
    tasting: str = "",
    photo: str = "",
    in_bin: bool | None = None,
    time: datetime | None = None,
) -> Path:
    """Write a record of the trial in `path`, which was saved at `saved`, as a new file.

    `time` is when it was said: now, or where it comes from elsewhere, then. What is said now is the last word: where
    the clock of a computer that shares the folder is ahead, it counts as said right after what was said there.

    Raises
    ------
    InputError
        If it says nothing, a text is too long, or the folder cannot be written to.
    """
    path = Path(path)
    said = checked(title, note, tasting, photo, in_bin)
    then = (time or _after_all(path)).astimezone().isoformat(timespec="milliseconds" if time is None else "auto")
    about = {"format": _FORMAT, "drinklab": __version__, "of": path.name, "saved": saved.isoformat(), "time": then}
    text = json.dumps(about | said, ensure_ascii=False, indent=1)
    return files.write_new(path.parent / RECORDS, path.stem, {".json": text})[0]


def _after_all(path: Path) -> datetime:
    """Now, or a moment after the last that was said of a trial."""
    now = datetime.now().astimezone()
    of = files.first_name(path.name)
    said = of_folder(path.parent, Path(of).stem).records.get(of, ())
    with contextlib.suppress(OverflowError):  # of the last year that there is
        return max([now, *(record.time + _MOMENT for record in said)])
    return now


def checked(
    title: str = "", note: str = "", tasting: str = "", photo: str = "", in_bin: bool | None = None
) -> dict[str, Any]:
    """What is to be said of a trial, without what is empty. Arguments and errors as for `write`."""
    if type(in_bin) not in (bool, type(None)):
        raise InputError("in_bin", Told(f"a {type(in_bin).__name__}"), "true or false")
    said = {
        "title": texts.line(texts.clean(title, "title", texts.NAME)), "note": texts.clean(note, "note").strip(),
        "tasting": tasting, "photo": photo, "in_bin": in_bin,
    }  # fmt: skip
    said = {key: value for key, value in said.items() if value not in ("", None)}
    if not said:
        raise InputError("what is said of the trial", Told("empty"), "a title or a note")
    return said


def read(path: Path) -> Record:
    """A record, checked.

    Raises
    ------
    InputError
        Naming the file, if it is damaged or of a newer Drinklab.
    """
    data = read_json(path, "record of a trial")
    with damage("record of a trial", "a record", path.name):
        if whole_number(data["format"], "format", 1) > _FORMAT:
            raise InputError("format", data["format"], f"at most {_FORMAT}; a newer Drinklab wrote it")
        in_bin = data.get("in_bin")
        if type(in_bin) not in (bool, type(None)):
            raise InputError("in_bin", Told(f"a {type(in_bin).__name__}"), "true or false")
        return Record(
            texts.clean(data["of"], "file of the trial", texts.NAME), _time(data["saved"]), _time(data["time"]),
            texts.line(texts.clean(data.get("title", ""), "title", texts.NAME)),
            texts.clean(data.get("note", ""), "note", texts.PROSE),
            texts.clean(data.get("tasting", ""), "tasting", texts.NAME),
            texts.clean(data.get("photo", ""), "photograph", texts.NAME), in_bin,
        )  # fmt: skip


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone()


class Kept(NamedTuple):
    """Records by the first name of the file that they are of, and what could not be read."""

    records: Mapping[str, tuple[Record, ...]]
    problems: tuple[str, ...]


def of_folder(trials: Path, begins: str = "") -> Kept:
    """The records of a folder of trials by the file that they are of, the oldest first; and what could not be read.

    That file goes by the name that it had before a backup put it beside another, here or elsewhere. `begins` asks for
    those alone of files whose name begins so.
    """
    found, problems = defaultdict(list), []
    where = trials / RECORDS
    try:
        paths = files.listed(where, ".json", "folder of records", begins)
    except InputError as error:
        return Kept({}, (str(error),))
    for path in paths:
        try:
            record = read(path)
        except InputError as error:
            problems.append(str(error))
        else:
            found[files.first_name(record.of)].append(record)
    return Kept({of: tuple(sorted(many, key=lambda r: r.time)) for of, many in found.items()}, tuple(problems))
