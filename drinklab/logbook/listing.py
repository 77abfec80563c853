"""The saved trials of a folder as lines to choose from, and how one is found among many."""

from __future__ import annotations

import contextlib
import math
import re
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple

from .. import classics as _classics
from .. import files, texts
from ..display import Display
from ..errors import InputError, one_of, require
from ..plain_data import read_json, saved_number, slug
from ..profile import AXES, WORDS, distance
from ..units import number
from . import records
from .records import Record
from .saved import KEPT, damage, setting_in

TRIALS, _WHERE = "trials", "folder of saved trials"
_MOST_KEPT = 20_000
_kept: dict[Path, tuple[object, Entry]] = {}  # what was read, by file, with what tells that the file is the same


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the logbook, for a list to choose from.

    Attributes
    ----------
    path : Path
    title, drink, note : str
        The title is the last that it was given, the note that with which it was saved.
    time : datetime
    version : str
        Of the Drinklab that saved it.
    display : Display
    family : str
        "" where none was chosen.
    ingredients : tuple of str
        Names of what is poured.
    figures, low, high : dict
        Of one glass as served, when it was saved, and the ends that hold 19 drinks in 20.
    came_from : str
        File of the trial that it came from; "" where it came from none, or from one that is gone.
    parent : datetime or None
        When that was saved, which tells it from another of its name; None where the file does not say.
    later : tuple of Record
        What was said since, the oldest first.
    """

    path: Path
    title: str
    drink: str
    note: str
    time: datetime
    version: str
    display: Display
    family: str = ""
    ingredients: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    low: Mapping[str, float] = field(default_factory=dict)
    high: Mapping[str, float] = field(default_factory=dict)
    came_from: str = ""
    parent: datetime | None = None
    later: tuple[Record, ...] = ()

    @property
    def label(self) -> str:
        """Time, title and drink in one line."""
        drink = "" if self.drink == self.title else f" ({self.drink})"
        return f"{self.time:%Y-%m-%d %H:%M}  {self.title}{drink}"

    def says(self, titles: Collection[str], note: str) -> bool:
        """Whether the logbook has one of these titles, or no title is among them, and this note of it."""
        had = {"", self.drink, self.title, *(r.title for r in self.later)}
        return not had.isdisjoint(titles) and note.strip() in self.all_notes

    @property
    def in_bin(self) -> bool:
        """Whether it was thrown away, and not taken back."""
        return next((r.in_bin for r in reversed(self.later) if r.in_bin is not None), False)

    @property
    def tastings(self) -> tuple[str, ...]:
        """Files of the tastings that it was in."""
        return tuple(dict.fromkeys(r.tasting for r in self.later if r.tasting))

    @property
    def photos(self) -> tuple[str, ...]:
        """Files of its photographs, the oldest first."""
        return tuple(r.photo for r in self.later if r.photo)

    @property
    def notes(self) -> tuple[tuple[datetime, str], ...]:
        """All notes with their time, that of the saving first."""
        first = ((self.time, self.note),) if self.note else ()
        return first + tuple((r.time, r.note) for r in self.later if r.note)

    @property
    def all_notes(self) -> str:
        """All notes as one text."""
        return "\n".join(note for _, note in self.notes)


class Listed(NamedTuple):
    """Saved trials, newest first, and what could not be read."""

    entries: tuple[Entry, ...]
    problems: tuple[str, ...]


def entries(folder: str | Path, *, in_bin: bool | None = False) -> Listed:
    """The saved trials of a working folder, newest first, and what could not be read.

    Parameters
    ----------
    folder : path
    in_bin : bool or None
        Those in the bin (True), those that are not (False), or all.

    Returns
    -------
    (entries, problems)
        `problems` holds one sentence for each file that was skipped.
    """
    found, where = [], Path(folder) / TRIALS
    try:
        paths = trials(folder)
    except InputError as error:
        return Listed((), (str(error),))
    said, unread = records.of_folder(where)
    problems, renamed = list(unread), _of_none(said, paths)
    for path in paths:
        try:
            found.append(with_records(read_once(path), said, renamed))
        except InputError as error:
            problems.append(str(error))
    saved = _by_name_and_time(found)
    listed = (_led_back(one, saved) for one in found if in_bin is None or one.in_bin == in_bin)
    return Listed(tuple(sorted(listed, key=lambda e: e.time, reverse=True)), tuple(problems))


_Saved = Mapping[tuple[str, datetime], str]


def _by_name_and_time(among: Sequence[Entry]) -> _Saved:
    """Files by the name and the time of saving; without a name where just one was saved then: it may be renamed."""
    at_once = Counter(one.time for one in among)
    alone = {("", one.time): one.path.name for one in among if at_once[one.time] == 1}
    return alone | {(files.first_name(one.path.name), one.time): one.path.name for one in among}


def _led_back(one: Entry, saved: _Saved) -> Entry:
    """The entry with the file of the very trial that it came from, not of another that has its name."""
    if one.parent is None:
        return one
    file = saved.get((files.first_name(one.came_from), one.parent)) or saved.get(("", one.parent), "")
    return one if file == one.came_from else replace(one, came_from=file)


def trials(folder: str | Path) -> list[Path]:
    """The files of saved trials, the last by name first."""
    return files.listed(Path(folder) / TRIALS, ".json", _WHERE)


def entry(path: str | Path) -> Entry:
    """One saved trial as a line, without running it.

    Raises
    ------
    InputError
        Naming the file, if it is missing or damaged.
    """
    path = Path(path)
    one, first = read_once(path), files.first_name(path.name)
    ours = re.fullmatch(stem("[0-9-]{10}", one.drink) + r"_[0-9]+\.json", first)
    begins = first.rpartition("_")[0] + "_" if ours else ""  # one renamed by hand may have had any name
    said, there = records.of_folder(path.parent, begins)[0], files.listed(path.parent, ".json", _WHERE, begins)
    said = {of: tuple(r for r in many if r.saved == one.time) for of, many in said.items()}
    one = with_records(one, said, _of_none(said, there))
    if one.parent is None:
        return one
    led = _led_back(one, _by_name_and_time(_of_name(path.parent, one.came_from)))
    return led if led.came_from else _led_back(one, _by_name_and_time(_of_name(path.parent)))


def _of_name(folder: Path, name: str = "") -> list[Entry]:
    """The trials that have a file's name, or had it before they came back from a backup; all of them without a name."""
    found, first = [], files.first_name(name)
    for path in files.listed(folder, ".json", _WHERE, Path(first).stem):
        if not first or files.first_name(path.name) == first:
            with contextlib.suppress(InputError):
                found.append(read_once(path))
    return found


def stem(day: str, drink: str) -> str:
    """The name of a trial's file up to its number.

    >>> stem("2027-07-03", "First Frost")
    '2027-07-03_first-frost'
    """
    return f"{day}_{slug(drink)}"


def _of_none(said: Mapping[str, Sequence[Record]], paths: Sequence[Path]) -> Mapping[datetime, Sequence[Record]]:
    """What was said of trials whose file has that name no more, by when they were saved: it may have another."""
    there, found = defaultdict(list), defaultdict(list)
    for path in paths:
        there[files.first_name(path.name)].append(path)
    for of, many in said.items():
        for record in many:
            if not any(_may_be_of(path, record.saved) for path in there.get(of, ())):
                found[record.saved].append(record)
    return found


def _may_be_of(path: Path, saved: datetime) -> bool:
    """Whether a trial was saved just then, for all that can be read of it: another may have its name by now."""
    try:
        return read_once(path).time == saved
    except InputError:
        return True


def with_records(
    one: Entry,
    said: Mapping[str, Sequence[Record]],
    renamed: Mapping[datetime, Sequence[Record]],
) -> Entry:
    """The entry with what was said of it since; what was said of another trial of its name is left out."""
    later = tuple(r for r in said.get(files.first_name(one.path.name), ()) if r.saved == one.time)
    if before := renamed.get(one.time):
        later = tuple(sorted((*before, *later), key=lambda r: r.time))
    if not later:
        return one
    return replace(one, title=next((r.title for r in reversed(later) if r.title), one.title), later=later)


def read_once(path: Path) -> Entry:
    """A file that is as it was is not read again: a thousand of them would keep the page waiting."""
    try:
        stat = path.stat()
        stamp = stat.st_mtime_ns, stat.st_size, stat.st_ino
    except OSError:
        stamp = None  # reading says what is wrong
    kept = _kept.get(path)
    if kept is not None and stamp is not None and kept[0] == stamp:
        return kept[1]
    one = checked_entry(read_json(path, "saved trial"), path)
    if stamp is not None and len(_kept) < _MOST_KEPT:
        _kept[path] = stamp, one
    return one


def checked_entry(data: dict[str, Any], path: Path) -> Entry:
    """What saved data say of themselves, checked, without what was said since.

    Raises
    ------
    InputError
        Naming the file, if they are no trial.
    """
    with damage("saved trial", "a trial", path.name):
        asked = setting_in(data)
        drink = asked["recipe"]
        words = {"title": data["title"], "name of the drink": drink["name"], "note": data["note"],
                 "version": data["drinklab"], "file it came from": data.get("came_from", ""),
                 "family": drink.get("family") or ""}  # fmt: skip
        for called, text in words.items():
            texts.clean(text, called, texts.PROSE if called == "note" else texts.NAME)
        if not data["stages"] or not isinstance(data["ingredients"], dict):
            raise TypeError("no stages or ingredients")
        figures = [_figures(stage) for stage in data["stages"]][-1]
        names = tuple(texts.line(texts.clean(one["name"], "name of an ingredient")) for one in
                      data["ingredients"].values())  # fmt: skip
        # astimezone also takes a time without a zone, as local time.
        time = datetime.fromisoformat(data["time"]).astimezone()
        parent = data.get("came_from_saved")
        return Entry(
            path, data["title"], drink["name"], data["note"], time, data["drinklab"], Display(**asked["display"]),
            words["family"], names, *figures, came_from=words["file it came from"],
            parent=datetime.fromisoformat(parent).astimezone() if parent else None,
        )  # fmt: skip


def _figures(stage: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    texts.clean(stage["name"], "name of a stage", texts.NAME)
    for figure in KEPT:
        value = stage["profile"][figure]
        if type(value) is not float or not 0 <= value < math.inf:  # as nearly every one is: a logbook has thousands
            called = f"{figure} of stage {stage['name']!r}"
            require(called, saved_number(value, called), 0, math.inf)
    low, high = (_end(stage.get(end)) for end in ("low", "high"))
    return {f: stage["profile"][f] for f in KEPT}, low, high


def _end(kept: Any) -> dict[str, Any]:
    return {f: kept[f] for f in KEPT if type(kept.get(f)) in (int, float)} if isinstance(kept, dict) else {}


# --- finding ---------------------------------------------------------------------------------------------------


def find(
    among: Sequence[Entry],
    words: str = "",
    *,
    family: str | None = None,
    since: date | None = None,
    until: date | None = None,
    near: Mapping[str, float] | None = None,
) -> tuple[Entry, ...]:
    """Entries that fit, in the order given; or the nearest first.

    Parameters
    ----------
    among : sequence of Entry
    words : str
        Each must be in the title, the drink's name, a note, an ingredient's name or the family; accents do not count.
    family : str, optional
    since, until : date, optional
        The days themselves count.
    near : mapping, optional
        Figures ("abv" [% vol], "sugar", "acid" [g/L]) of what is looked for: those nearest to it come first, each
        figure by the usual step between two classics, as in `profile.place`.

    Raises
    ------
    InputError
        For a figure that there is not, or one that is no number.

    Examples
    --------
    >>> now = datetime(2026, 11, 27, 21, 30).astimezone()
    >>> some = [Entry(Path(f"{n}.json"), n, n, "", now, "1", Display(), figures={"abv": s, "sugar": 60, "acid": 7})
    ...         for n, s in (("Late Stove", 18.0), ("Night Fare", 24.0))]
    >>> [e.title for e in find(some, "fare")], [e.title for e in find(some, near={"abv": 23})]
    (['Night Fare'], ['Night Fare', 'Late Stove'])
    """
    asked = [_plain(word) for word in texts.clean(words, "words to find", texts.NAME).split()]
    found = [
        one for one in among
        if (family is None or one.family == family)
        and (since is None or one.time.date() >= since) and (until is None or one.time.date() <= until)
        and all(word in _text(one) for word in asked)
    ]  # fmt: skip
    if not near:
        return tuple(found)
    wanted = {one_of("figure", name, AXES): float(number(value, WORDS[name])) for name, value in near.items()}
    known = _classics.load()
    return tuple(sorted(found, key=lambda one: distance(one.figures, wanted, known)))


def _text(one: Entry) -> str:
    said = (note for _, note in one.notes)
    return _plain(" ".join((one.title, one.drink, one.family, *one.ingredients, *said)))


def _plain(text: str) -> str:
    """Without accents, and in small letters."""
    return texts.unaccented(text.casefold())
