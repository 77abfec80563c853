"""What a bar's measurements make of its shelf: which count, which are asked about, and the figures of it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from .. import pantry as _pantry
from ..errors import InputError
from ..facts import Fact
from ..kinds import CONCENTRATION
from ..learned import KINDS_MEASURED, Learned, known
from ..pantry import Ingredient, Pantry
from .entries import CONFIRMED, TO_CONFIRM, Entry, load, put
from .figures import OF_INGREDIENTS, Target, reading, target, with_learned
from .joining import ASKED, MOST_JOINED, MOST_OF_ONE, Reading, joined, off_by
from .kept import kept_entries
from .sorts import DRY, SORTS


@dataclass(frozen=True, slots=True)
class Reviewed:
    """An entry, how far it lies from what was to be expected [standard deviations], and what is asked about it.

    `asks` is None where it counts; `learned` is the figure that it went into; `older` says that newer readings have
    taken its place (`joining.MOST_JOINED`).
    """

    entry: Entry
    off: float | None = None
    asks: Fact | None = None
    learned: Learned | None = None
    older: bool = False

    @property
    def counts(self) -> bool:
        """Whether it is used."""
        return self.asks is None and self.learned is not None


@dataclass(frozen=True, slots=True)
class Joint:
    """A shelf with what was measured, what became of each entry, and the shelf without measurements."""

    shelf: Pantry
    entries: tuple[Reviewed, ...]
    table: Pantry | None = None

    @property
    def asked(self) -> tuple[Reviewed, ...]:
        """What waits for an answer."""
        return tuple(one for one in self.entries if one.asks is not None)

    @property
    def learned(self) -> tuple[Learned, ...]:
        """All figures that stand on own measurements."""
        return tuple(dict.fromkeys(one.learned for one in self.entries if one.learned is not None and one.counts))


def join(entries: Sequence[Entry], table: Pantry, today: datetime.date | None = None) -> Joint:
    """A shelf on which the measured figures stand in the place of the table's.

    Parameters
    ----------
    entries : sequence of Entry
    table : Pantry
        Without measurements: ours with the person's own ingredients.
    today : date, optional
        From which the age of a reading is counted.

    Returns
    -------
    Joint

    Notes
    -----
    A reading that lies more than 3 standard deviations (of what was known and of its instrument together) from what was
    known the day before is asked about, and counts for nothing until a person has said that it is right. Once it is
    confirmed, the table's spread has been shown not to hold for this thing: it is as wide then as the reading lies off.

    Examples
    --------
    >>> from drinklab.pantry import load
    >>> from .entries import checked
    >>> lemon = checked("acid", "lemon juice", "53 g/L", when="2020-05-01")
    >>> found = join([lemon], load(), lemon.day)
    >>> f"{found.shelf['lemon_juice'].acid:.1f} ± {found.shelf['lemon_juice'].acid_pm:.1f}"
    '54.7 ± 1.1'
    """
    today = today or datetime.date.today()
    groups: dict[tuple[int, str, float | None], list[int]] = {}
    reviewed: list[Reviewed] = [Reviewed(entry) for entry in entries]
    for i, entry in enumerate(entries):
        try:
            at = target(entry.kind, entry.what, table)
        except InputError as error:
            reviewed[i] = Reviewed(entry, asks=Fact("asked: no such thing", problem=error.fact))
            continue
        if entry.day > today:
            reviewed[i] = Reviewed(entry, asks=Fact("asked: dated ahead", when=entry.when, today=today.isoformat()))
        elif entry.state != "taken back":
            groups.setdefault((KINDS_MEASURED.index(at.kind), at.what, at.label), []).append(i)
    items: dict[str, Ingredient] = {}
    others: list[Learned] = []
    for (order, what, label), group in sorted(groups.items(), key=lambda pair: pair[0][0]):
        kind = KINDS_MEASURED[order]
        at = target(kind, entries[group[0]].what, table)
        if at.item is not None and what in items and label is None:
            at = _again(at, items[what])
        found, learned = _of_one(at, [entries[i] for i in group], today)
        for i, one in zip(group, found, strict=True):
            reviewed[i] = one
        if learned is None:
            continue
        if kind in OF_INGREDIENTS:
            made = with_learned(items.get(what, table[what]), [learned])
            if (problem := _without_room(made, label)) is not None:
                for i in (i for i in group if reviewed[i].learned is not None):
                    reviewed[i] = Reviewed(entries[i], reviewed[i].off, Fact("asked: cannot be", problem=problem))
                continue
            items[what] = made
        else:
            others.append(learned)
    shelf = _onto(table, items.values(), others)
    return Joint(shelf, tuple(reviewed), table)


def _without_room(item: Ingredient, label: float | None) -> Fact | None:
    """Why a bottle with such figures cannot be; also what is confirmed shuts no page that pours it."""
    try:
        _ = (item if label is None else item.at(label)).composition
    except InputError as error:
        return error.fact
    return None


def _again(at: Target, item: Ingredient) -> Target:
    """The figure of a thing of which another figure is measured: its acid for its salts."""
    return replace(at, item=item)


def _onto(table: Pantry, items: Iterable[Ingredient], learned: Iterable[Learned]) -> Pantry:
    shelf = table.with_items(list(items))
    shelf.learned = known(tuple(learned))
    return shelf


def _of_one(at: Target, entries: list[Entry], today: datetime.date) -> tuple[list[Reviewed], Learned | None]:
    """The entries of one figure, oldest first, each held against what was known before it."""
    found: list[Reviewed] = [Reviewed(entry) for entry in entries]
    used: list[tuple[int, Reading]] = []
    for i in sorted(range(len(entries)), key=lambda i: (entries[i].when, i)):
        entry = entries[i]
        try:
            width, new = reading(entry, at, today)
        except InputError as error:
            found[i] = Reviewed(entry, asks=Fact("asked: cannot be", problem=error.fact))
            continue
        at = replace(at, prior_pm=max(at.prior_pm, width.prior_pm))
        before = [r for _, r in used]
        sweet = at.kind == "strength" and entry.instrument == "hydrometer" and at.thing.sugar > DRY
        if sweet and entry.state != CONFIRMED:
            asks = Fact("asked: sweet", what=entry.what, sugar=CONCENTRATION(at.thing.sugar))
            found[i] = Reviewed(entry, asks=asks)
            continue
        off = off_by(at.prior, at.prior_pm, before, new, at.half_life)
        if entry.state != CONFIRMED and (abs(off) > ASKED or entry.state == TO_CONFIRM):
            found[i] = Reviewed(entry, off, _question(at, before, new, off, entry, [entries[j] for j, _ in used]))
            continue
        if abs(new.value - at.prior) > ASKED * (at.prior_pm**2 + new.sd**2) ** 0.5:
            at = replace(at, prior_pm=abs(new.value - at.prior))
        used.append((i, new))
        found[i] = Reviewed(entry, off)
        if (over := _over([r for _, r in used])) is not None:
            found[used[over][0]] = replace(found[used[over][0]], older=True)
            del used[over]
    if not used:
        return found, None
    made = joined(at.prior, at.prior_pm, [r for _, r in used], at.half_life)
    learned = at.learned(made, [entries[i] for i, _ in used])
    for i, _ in used:
        found[i] = replace(found[i], learned=learned)
    return found, learned


def _over(used: list[Reading]) -> int | None:
    """Which reading, of some with the oldest first, the last one takes the place of; None where there is room."""
    same = [i for i, one in enumerate(used) if one.instrument == used[-1].instrument]
    return same[0] if len(same) > MOST_OF_ONE else 0 if len(used) > MOST_JOINED else None


def _question(at: Target, before: list[Reading], new: Reading, off: float, entry: Entry, earlier: list[Entry]) -> Fact:
    """What is asked about a reading: whether it is far off the table, or contradicts an earlier one."""
    told = {"what": entry.what, "times": f"{abs(off):.1f}"}
    alone = off_by(at.prior, at.prior_pm, [], new)
    if before and abs(off) > ASKED >= abs(alone):
        other = earlier[-1]
        return Fact("asked: contradicts", when=other.when, value=_said(other), **told)
    if at.kind == "ice":
        return Fact("asked: off the rule", **told)
    return Fact("asked: off practice" if at.kind in ("filter", "paper") else "asked: off the table", **told)


def _said(entry: Entry) -> str:
    return f"{entry.value:g} {SORTS[entry.kind].unit.label}"


# --- the working folder ----------------------------------------------------------------------------------------


def of_folder(folder: str | Path, today: datetime.date | None = None) -> Joint:
    """The pantry of a working folder with what was measured there, and what became of each entry.

    Raises
    ------
    InputError
        For a bad row of the person's own ingredients or measurements, by file, line and column.
    """
    return _once(gathered(folder), _pantry.load(folder), today)


def gathered(folder: str | Path, without: str = "") -> tuple[Entry, ...]:
    """All entries of a working folder: those of its file, then what weighings of ice and filter logs say.

    What a person has said of one of the latter stands in the file under its id. `without` is an id to leave out.

    >>> gathered("no such folder")
    ()
    """
    own = load(folder)
    said = {entry.id for entry in own}
    kept = kept_entries(folder, without)
    return (*(entry for entry in own if entry.id != without or not without), *(e for e in kept if e.id not in said))


def shelf(folder: str | Path | None = None, today: datetime.date | None = None, *, without: str = "") -> Pantry:
    """`pantry.load` with what was measured: the one door to the bottles of a working folder.

    `without` is the id of an entry to leave out, such as a filter log whose own forecast is made.

    >>> shelf()["gin"].measured
    ()
    """
    table = _pantry.load(folder)
    if folder is None or not (found := gathered(folder, without)):
        return table
    return _once(found, table, today).shelf


_LAST: list[tuple[Pantry, tuple[Entry, ...], datetime.date, Joint]] = []


def _once(entries: tuple[Entry, ...], table: Pantry, today: datetime.date | None) -> Joint:
    """`join`, of the same table, entries and day only once: each answer of a page asks for it."""
    day = today or datetime.date.today()
    for kept, same, then, made in _LAST[:1]:
        if kept is table and then == day and same == entries:
            return made
    made = join(entries, table, day)
    _LAST[:] = [(table, entries, day, made)]
    return made


def add(folder: str | Path, entry: Entry, today: datetime.date | None = None) -> Reviewed:
    """Keep a measurement; one that lies far off what was known is kept too, and is asked about before it counts.

    Returns
    -------
    Reviewed
        What became of it.

    Raises
    ------
    InputError
        For a thing that there is not, what cannot be true of it, or a folder that cannot be written to.
    """
    table = _pantry.load(folder)
    reading(entry, target(entry.kind, entry.what, table), today or datetime.date.today())  # refuses what cannot be
    try:
        earlier = gathered(folder)
    except InputError:
        earlier = kept_entries(folder)  # `put` keeps the damaged file aside
    found = join([*earlier, entry], table, today).entries[-1]
    if found.asks is not None:
        entry = replace(entry, state=TO_CONFIRM, why=found.asks.code.removeprefix("asked: "))
    return replace(found, entry=put(folder, entry))


def answer(folder: str | Path, id: str, *, right: bool) -> Entry:
    """What a person says of an entry that was asked about, or no longer wants: it stays in the file either way.

    Parameters
    ----------
    folder : path
    id : str
        Of the entry.
    right : bool
        It counts from now on; else it is taken back.

    Raises
    ------
    InputError
        For an id that there is not.
    """
    entry = next((one for one in gathered(folder) if one.id == id), None)
    if entry is None:
        raise InputError("measurement", id, Fact("entry that is there"))
    return put(folder, replace(entry, state=CONFIRMED if right else "taken back"))
