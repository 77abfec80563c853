"""The logbook taken elsewhere and back: one zip of all of it, and tables and JSON of its trials."""

from __future__ import annotations

import contextlib
import functools
import io
import itertools
import json
import math
import os
import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from .. import __version__, files, measured, tables, texts
from ..declared import Declared, declared
from ..errors import InputError, Told
from ..facts import Fact, say
from ..files import EXPORTS, write_new
from ..pantry import Pantry
from ..plain_data import parse_json, read_json
from ..profile import KINDS, WORDS
from ..recipe import Recipe
from ..setting import Setting
from ..trial import Trial, run
from . import records
from .book import save
from .listing import TRIALS, Entry, checked_entry, read_once, stem
from .photos import PHOTOS
from .records import RECORDS
from .saved import KEPT, damage, opened

BACKUPS = "backups"
# What is kept of a working folder, and under which names: what Drinklab and its user write there, no notebooks.
_PLACES = (
    "", TRIALS, f"{TRIALS}/{RECORDS}", f"{TRIALS}/{PHOTOS}", "tastings", "writeups", "cards", "pages", "learners",
    "paper",
)  # fmt: skip
_SUFFIXES = (".json", ".csv", ".html", ".md", ".pdf", ".jpg", ".png")
_MOST_FILES, _MOST_BYTES = 200_000, 500_000_000  # of a backup; what is larger is no logbook
_AT_ONCE = 16  # files that are written at a time
_MOST_NAME = 200  # of a file: disks take 255, and a number may have to go behind it [bytes]
_DAMAGED = (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError, ValueError)
_MOST_READ = 200_000_000  # of a file of trials [bytes]
_NOT_IN_TABLES = ("steps", "beside")
_MOST_SAID = 300  # of one trial; nobody has said so much of any
_WORDS = ("title", "drink", "technique", "served", "family", "recipe", "notes")
_SERVED_WITH = ("glass", "glass_ice", "garnish", "method")  # a garnish brings allergens, a method fire


@dataclass(frozen=True, slots=True)
class Restored:
    """What became of the files in a backup: new here, here already, or kept beside another of their name."""

    new: tuple[str, ...]
    same: int
    beside: tuple[str, ...]
    problems: tuple[str, ...] = ()


def back_up(folder: str | Path, problems: list[str] | None = None) -> Path:
    """Write all that was saved in a working folder into one zip, a new file under `folder`/backups.

    Trials with what was said of them since, tastings, write-ups, learners' files, own ingredients, prices, choices and
    logs; not notebooks.

    Parameters
    ----------
    folder : path
    problems : list of str, optional
        Takes a sentence for each place or file that cannot be read, or is a link, and is left out; without it each is
        a Python warning.

    Raises
    ------
    InputError
        If there is nothing to keep, or it cannot be read or written.
    """
    folder, held, unread = Path(folder), io.BytesIO(), list[InputError]()
    count = size = 0
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        for place in _PLACES:
            for path in _left_out(functools.partial(_in_place, folder / place), problems, unread) or ():
                name = f"{place}/{path.name}" if place else path.name
                data = _left_out(functools.partial(_held, path), problems, unread)
                if data is None:
                    continue
                count, size = count + 1, size + len(data)
                if count > _MOST_FILES or size > _MOST_BYTES:  # `restore` would not take it
                    allowed = f"at most {_MOST_FILES:,} files and {_MOST_BYTES / 1e6:,.0f} MB; copy the folder instead"
                    raise InputError("backup", Told(f"of {count:,} files and {size / 1e6:,.0f} MB or more"), allowed)
                about = zipfile.ZipInfo(name)  # of no time: a zip has none for a clock that stands at 1970
                about.compress_type = zipfile.ZIP_DEFLATED
                about.external_attr = 0o600 << 16  # else nobody may read what is unpacked by hand
                made.writestr(about, data)
    if not count and unread:
        raise unread[0]
    if not count:
        raise InputError("working folder", Told("empty"), "one with something saved in it")
    day = datetime.now().astimezone()
    return write_new(folder / BACKUPS, f"{day:%Y-%m-%d}_logbook", {".zip": held.getvalue()})[0]


T = TypeVar("T")


def _left_out(read: Callable[[], T], problems: list[str] | None, unread: list[InputError]) -> T | None:
    """What `read` gives; None where it cannot be read, which goes to `unread` and `problems`, or is a warning."""
    try:
        return read()
    except InputError as error:
        unread.append(error)
        told = say(Fact("left out of a backup", problem=str(error)))
        if problems is None:
            warnings.warn(told, stacklevel=3)
        else:
            problems.append(told)
        return None


def _in_place(place: Path) -> list[Path]:
    return files.listed(place, _SUFFIXES, "folder to back up")


def _held(path: Path) -> bytes:
    allowed = "a file that can be read"
    try:
        if not _of_ours(path.name):
            allowed = f"of at most {_MOST_NAME} bytes, of letters that are seen and without a backslash"
            raise InputError("name of a file to back up", texts.line(path.name), allowed)
        if path.is_symlink():  # which may lead to anything
            raise InputError("file to back up", Told("a link"), "a file itself: copy what it leads to", path.name)
        return files.read(path, "file to back up", allowed)
    except OSError as error:
        raise InputError("file to back up", error.strerror or str(error), allowed, path.name) from None


def _of_ours(name: str) -> bool:
    short = len(name.encode(errors="replace")) <= _MOST_NAME
    return (
        name[:1] not in ("", ".")
        and "\\" not in name
        and name.endswith(_SUFFIXES)
        and texts.fit(name) == name
        and short
    )


def restore(path: str | Path, folder: str | Path) -> Restored:
    """Bring back what a backup holds. Nothing that is here is written over.

    What is here already, to the byte, is left; what is here and differs stays, and the backup's is put beside it as
    `name.restored-1`. A name that leads elsewhere, or that is not of a logbook, is refused and named.

    Raises
    ------
    InputError
        If it is no backup, or the folder cannot be written to.
    """
    path, folder = Path(path), Path(folder)
    try:
        held = files.read(path, "backup", "a zip that Drinklab wrote", _MOST_BYTES)
    except OSError as error:
        said = error.strerror or str(error)
        raise InputError("backup", said, "a file that can be read", texts.line(path.name)) from None
    try:
        kept = zipfile.ZipFile(io.BytesIO(held))
    except _DAMAGED as error:
        raise InputError("backup", _damaged(error), "a zip that Drinklab wrote", path.name) from None
    inside = [one for one in kept.infolist() if not one.is_dir()]
    if len(inside) > _MOST_FILES or sum(one.file_size for one in inside) > _MOST_BYTES:
        raise InputError("backup", Told(f"of {len(inside):,} files"), "a logbook's", path.name)
    problems: list[str] = []
    put: dict[str, list[str]] = {"new": [], "same": [], "beside": []}
    unwritten = None
    # Of what is told of a file, most of the time goes into waiting for the disk, which takes several at once.
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        ours = _ours_of(kept, inside, path.name, problems)
        while some := list(itertools.islice(ours, _AT_ONCE)):
            for (called, *_), done in zip(
                some, [pool.submit(_put_beside, folder / at, d) for _, at, d in some], strict=True
            ):
                try:
                    told, name = done.result()
                    put[told].append(name)
                except InputError as error:  # one place that cannot be written to does not keep the rest away
                    problems.append(say(Fact("backup: not written", called=called, problem=str(error))))
                    unwritten = error
    for place in {one.filename.rpartition("/")[0] for one in inside} & {*_PLACES}:
        files.settled(folder / place)
    if unwritten and not any(put.values()):
        raise unwritten
    return Restored(tuple(put["new"]), len(put["same"]), tuple(put["beside"]), tuple(problems))


def _ours_of(
    kept: zipfile.ZipFile, inside: Sequence[zipfile.ZipInfo], of: str, problems: list[str]
) -> Iterator[tuple[str, str, bytes]]:
    """Of each file that is a logbook's what it is called in a sentence, its place and what it holds."""
    seen = set()
    for one in inside:
        called = f"{of}: {texts.line(one.filename)[:60]!r}"
        place, _, name = one.filename.rpartition("/")
        if place not in _PLACES or not _of_ours(name) or one.file_size > files.MOST or one.filename in seen:
            twice = one.filename in seen
            problems.append(say(Fact("backup: twice" if twice else "backup: not ours", called=called)))
            continue
        seen.add(one.filename)
        try:
            data = _inside(kept, one)
        except _DAMAGED as error:
            problems.append(say(Fact("backup: damaged", called=called, damage=_damaged(error))))
            continue
        if not files.can_be_named(name):
            problems.append(say(Fact("backup: no name here", called=called)))
            continue
        yield called, one.filename, data


def _inside(kept: zipfile.ZipFile, one: zipfile.ZipInfo) -> bytes:
    """A file of a backup. What unpacks to more than it says is never unpacked further than that."""
    if one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):  # others unpack all of it at a time
        raise ValueError("packed in another way than ours")
    with kept.open(one) as file:
        return file.read(one.file_size + 1)


def _damaged(error: Exception) -> Told:
    return Told(f"damaged ({' '.join(str(error).split())[:60]})")


def _put_beside(path: Path, data: bytes) -> tuple[str, str]:
    """Write a file where nothing has its name, else beside what has: ("new", "same" or "beside", its name).

    What has been to another folder and back may have the name of there, and is here by that which it had before.
    """
    first = files.first_name(path.name)
    beside = (files.beside_name(first, number) for number in itertools.count(1))
    there = itertools.takewhile(lambda name: os.path.lexists(path.with_name(name)), beside)
    for name in dict.fromkeys((path.name, first, *there)):
        if _holds(path.with_name(name), data):
            return "same", name
    target, number = path, 0
    while not files.write_named(target, data, settle=False):
        number += 1
        target = path.with_name(files.beside_name(first, number))
    return ("beside" if number else "new"), target.name


def _holds(path: Path, data: bytes) -> bool:
    """Whether a file holds just that; what cannot be read does not, and stays."""
    try:
        return files.read(path, "file", "a file", _MOST_BYTES) == data
    except (OSError, InputError):
        return False


# --- trials alone -------------------------------------------------------------------------------------------


def export(among: Sequence[Entry], folder: str | Path) -> list[Path]:
    """Write trials as JSON, whole, and as a table for a spreadsheet: new files under `folder`/exports.

    `bring` reads either back; of the table only drinks without later steps and with nothing beside them, without their
    own ice.

    Raises
    ------
    InputError
        If a trial cannot be read any more, or the folder cannot be written to.
    """
    if not among:
        raise InputError("trials to export", Told("none"), "at least one")
    shelf = measured.shelf(folder)
    whole, rows = [], []
    for one in among:
        data = read_json(one.path, "saved trial") | {"came_from": one.came_from}
        whole.append({"file": one.path.name, "trial": data, "said": [_plain(r) for r in one.later]})
        setting = opened(data, pantry=shelf, where=one.path.name)
        rows.append(_row(one, setting.setting, setting.pantry))
    table = tables.written([list(rows[0]), *([tables.no_formula(cell) for cell in row.values()] for row in rows)])
    text = json.dumps({"drinklab": __version__, "trials": whole}, ensure_ascii=False, indent=1, allow_nan=False)
    day = datetime.now().astimezone()
    return write_new(Path(folder) / EXPORTS, f"{day:%Y-%m-%d}_trials", {".json": text, ".csv": table})


def _plain(record: records.Record) -> dict[str, Any]:
    said = {"title": record.title, "note": record.note, "in_bin": record.in_bin}
    kept = {key: value for key, value in said.items() if value not in ("", None)}
    return kept | {"time": record.time.isoformat()} if kept else {}


def _row(one: Entry, setting: Setting, shelf: Pantry) -> dict[str, str]:
    row = {
        "file": one.path.name, "saved": one.time.isoformat(timespec="seconds"), "title": one.title, "drink": one.drink,
        "technique": setting.recipe.technique, "served": setting.recipe.serve, "family": one.family,
    }  # fmt: skip
    for figure in KEPT:
        unit = KINDS[figure].label
        row[f"{figure} [{unit}]"] = f"{one.figures[figure]:.4g}"
        for end, held in (("low", one.low), ("high", one.high)):
            row[f"{figure}, {end} [{unit}]"] = f"{held[figure]:.4g}" if figure in held else ""
    said = declared(*setting.brings(shelf))
    words = {
        "steps": [step.name for step in setting.steps], "beside": [other.recipe.name for other in setting.beside],
        "contains": said.allergens, "may contain": said.may_contain, "allergens not stated": said.unstated,
        "cautions": [caution.code for caution in said.cautions],
    }  # fmt: skip
    row |= {"recipe": setting.recipe.text(shelf), "serves": str(setting.serves)}
    row |= {name: getattr(setting.recipe, name) for name in _SERVED_WITH} | {
        name: "; ".join(held) for name, held in words.items()
    }
    return row | {"notes": one.all_notes, "came from": one.came_from}


class Taken(NamedTuple):
    """Files that were made, and what was left out."""

    paths: list[Path]
    problems: tuple[str, ...]


def bring(path: str | Path, folder: str | Path) -> Taken:
    """Take trials from a file into the logbook, each as a new file: of `export`, of one trial, or a table of recipes.

    A drink that was in hand, in a file of a backup, becomes a trial too.

    Parameters
    ----------
    path : path
        JSON; or CSV with the columns drink, technique, served and recipe (a line a pour), and title, family, serves,
        glass, glass_ice, garnish, method and notes if wished. A row with a later step or something beside the drink is
        refused: what those bring, milk or egg, would be lost.
    folder : path

    Returns
    -------
    (paths, problems)
        What was written, and a sentence for each trial that could not be read.

    Raises
    ------
    InputError
        If the file is none of these, or the folder cannot be written to.
    """
    path = Path(path)
    text = _text_of(path)
    if path.suffix.casefold() == ".csv":
        return Taken(*_from_table(text, path.name, folder))
    data = parse_json(text, "file of trials", path.name)
    if "trials" not in data:
        data = {"trials": [{"file": path.name, "trial": data, "said": []}]}
    made: dict[str, Path] = {}
    paths: list[Path] = []
    problems: list[str] = []
    shelf = measured.shelf(folder)
    with damage("file of trials", "trials", path.name):
        several = sorted(data["trials"], key=_when)  # what came first, first
    for number, one in enumerate(several, 1):
        where = f"{path.name}, trial {number}"
        try:
            with damage("saved trial", "a trial", where):
                named = str(one.get("file", ""))
                paths.append(_take(one, made, Path(folder), shelf, where))
                made[named] = paths[-1]
        except InputError as error:
            problems.append(str(error))
    return Taken(paths, tuple(problems))


def _when(one: Any) -> str:
    """When a trial of a file was saved; "" where it does not say, which reading it tells."""
    held = one.get("trial") if isinstance(one, dict) else None
    return str(held.get("time", "")) if isinstance(held, dict) else ""


def _text_of(path: Path) -> str:
    what = "file of trials"
    try:
        held = files.read(path, what, "JSON or CSV", _MOST_READ)
        return held.decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise InputError(what, path.name, "a file that is there") from None
    except (OSError, UnicodeDecodeError):
        raise InputError(what, Told("not readable as text"), "UTF-8 text", path.name) from None


def _take(one: dict[str, Any], made: dict[str, Path], folder: Path, shelf: Pantry, where: str) -> Path:
    """One trial of a file, checked by running it, as a new file with what was said of it since."""
    with damage("saved trial", "a trial", where):
        data = dict(one["trial"])
        if "stages" not in data and "setting" in data:
            return _never_saved(data, folder, shelf, where)
        line = checked_entry(data, Path(where))
        found = opened(data, pantry=shelf, where=where)
        run(replace(found.setting, draws=0), pantry=found.pantry)
        before = made.get(line.came_from)
        data["came_from"] = before.name if before is not None else ""
        data["came_from_saved"] = read_once(before).time.isoformat() if before is not None else ""
        text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
        held = [({k: v for k, v in said.items() if k in ("title", "note", "in_bin")}, _then(said.get("time")))
                for said in one.get("said", ())]  # fmt: skip
        later = [(said, then) for said, then in held if said]  # a tasting or a photograph stays where it is
        if len(later) > _MOST_SAID:
            raise InputError("what was said of the trial", Told(f"{len(later):,} times"), f"at most {_MOST_SAID}")
        for said, _ in later:
            records.checked(**said)  # all of it before anything is written
        path = write_new(folder / TRIALS, stem(f"{line.time:%Y-%m-%d}", line.drink), {".json": text})[0]
        for said, then in later:
            records.write(path, line.time, **said, time=then or datetime.now().astimezone())
        return path


def _never_saved(data: dict[str, Any], folder: Path, shelf: Pantry, where: str) -> Path:
    """A drink that was in hand, as a backup brings it back beside the one that is: a trial from now on."""
    found = opened(data, pantry=shelf, where=where)
    return save(run(found.setting, pantry=found.pantry), folder, title=found.title, note=found.note)


def _then(text: object) -> datetime | None:
    """When something was said, as a file has it; None where it does not say, or says that it was later than now."""
    if text is None:  # of an earlier Drinklab
        return None
    then = datetime.fromisoformat(str(text)).astimezone()
    return then if then <= datetime.now().astimezone() else None


def _from_table(text: str, name: str, folder: str | Path) -> tuple[list[Path], tuple[str, ...]]:
    shelf = measured.shelf(folder)
    (_, header), *rows = tables.cells(text, name)[1] if text.strip() else [(1, [])]
    for column in ("drink", "technique", "served", "recipe"):
        if column not in header:
            raise InputError("columns", ", ".join(header)[:60], f"{', '.join(_WORDS)} among them", name)
        if header.count(column) > 1:
            raise InputError("column", column, "named only once", name)
    made: list[Path] = []
    problems: list[str] = []
    for at, cells in rows:
        try:
            if any(cells[len(header) :]) or len(cells) < len(header):
                allowed = f"{len(header)}, as in the header; a mark between cells needs quotes around the cell it is in"
                raise InputError("number of cells", len(cells), allowed)
            path, told = _from_row(dict(zip(header, cells, strict=False)), shelf, folder)
            made.append(path)
            problems += (say(Fact("other than in the table", where=f"{name}, row {at}", said=one)) for one in told)
        except InputError as error:
            problems.append(str(error.at(f"{name}, row {at}")))
    return made, tuple(problems)


def _from_row(row: dict[str, str], shelf: Pantry, folder: str | Path) -> tuple[Path, list[Fact]]:
    """The trial of a row, and which figures of it are others here than the table has."""
    told = {key: tables.with_formula(row.get(key, "")) for key in (*_WORDS, *_SERVED_WITH)}
    for column in _NOT_IN_TABLES:
        if row.get(column):
            raise InputError(column, row[column], "blank: a table does not hold it; bring the JSON file instead")
    typed = Recipe.parse(
        told["recipe"], shelf, name=texts.line(told["drink"]) or "untitled", technique=told["technique"] or "none",
        serve=told["served"] or "up", family=told["family"] or None,
        **{name: told[name] for name in _SERVED_WITH},
    )  # fmt: skip
    serves: Any = row.get("serves") or "1"
    asked = Setting(typed, serves=int(serves) if re.fullmatch("[0-9]{1,6}", serves) else serves)
    made = run(asked, pantry=shelf)
    _refuse_less(row, declared(*asked.brings(shelf)))
    path = save(made, folder, title=told["title"], note=told["notes"])
    return path, _others(row, made)


def _refuse_less(row: dict[str, str], brings: Declared) -> None:
    """Bottles of a name may hold other things here: an allergen that the table tells of is not lost on the way."""
    here = {"contains": brings.allergens, "may contain": (*brings.allergens, *brings.may_contain)}
    for column, words in here.items():
        told = [word.strip() for word in tables.with_formula(row.get(column, "")).split(";") if word.strip()]
        if missing := [word for word in told if word not in words]:
            allowed = "what the recipe brings here; put it into my_ingredients.csv, or bring the JSON file instead"
            raise InputError(column, "; ".join(missing), allowed)


def _others(row: dict[str, str], made: Trial) -> list[Fact]:
    """Figures of the glass that the table has otherwise."""
    found = []
    for figure in KEPT:
        unit, now = KINDS[figure].label, getattr(made.served.profile, figure)
        was = row.get(f"{figure} [{unit}]", "")
        if was and was != f"{now:.4g}":
            with contextlib.suppress(ValueError):  # what somebody wrote there
                if not math.isclose(float(was), now, rel_tol=1e-3, abs_tol=1e-9):
                    found.append(Fact("table had", what=WORDS[figure], unit=unit, was=float(was), now=float(now)))
    return found
