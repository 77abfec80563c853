"""The logbook of a folder: saved trials, the drink in hand, standing choices."""

from __future__ import annotations

import json
import math
import os
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from .. import __version__, files, strength, texts
from .. import pantry as _pantry
from ..balance import AXES, KINDS, WORDS
from ..display import Display
from ..errors import InputError, one_of, require
from ..files import write_new
from ..pantry import Ingredient, Pantry
from ..setting import TOOLS, Setting
from ..trial import Trial, run
from .plain import read_json, slug
from .saved import (
    BROKEN,
    FORMAT,
    KEPT,
    Opened,
    as_asked,
    damage,
    opened,
    revive,
    saved_ingredients,
    saved_number,
    setting_in,
    snapshot,
)

TRIALS, CHOICES, IN_HAND = "trials", "my_choices.json", "in_hand.json"
DEFAULTS = {"volume": "mL", "temperature": "°C", "country": "United States", "tool": "jigger"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the logbook, for a list to choose from."""

    path: Path
    title: str
    drink: str
    note: str
    time: datetime
    version: str
    display: Display

    @property
    def label(self) -> str:
        """Time, title and drink in one line."""
        drink = "" if self.drink == self.title else f" ({self.drink})"
        return f"{self.time:%Y-%m-%d %H:%M}  {self.title}{drink}"


def save(trial: Trial, folder: str | Path, *, title: str = "", note: str = "", display: Display | None = None) -> Path:
    """Save a trial as a new file under `folder`/trials.

    Parameters
    ----------
    trial : Trial
    folder : path
        The user's working folder; made if missing.
    title, note : str
        In the user's words; the title is the drink's name by default.
    display : Display, optional
        How the user had amounts shown, if not as in the trial's setting.

    Returns
    -------
    Path
        A file of its own: date, drink and a running number.

    Raises
    ------
    InputError
        If the folder cannot be written to, or a text is too long.
    """
    now = _now()
    if display is not None:
        trial = replace(trial, setting=replace(trial.setting, display=display))
    data = {
        "title": texts.clean(title, "title", texts.NAME).strip() or trial.recipe.name,
        "note": texts.clean(note, "note"),
        "time": now.isoformat(timespec="milliseconds"),
    } | snapshot(trial)
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    return write_new(Path(folder) / TRIALS, f"{now:%Y-%m-%d}_{slug(trial.recipe.name)}", {".json": text})[0]


def load(path: str | Path, pantry: Pantry | None = None, *, country: str | None = None) -> Trial:
    """Run a saved trial again; `changed` tells whether its figures are still the same.

    Parameters
    ----------
    path : path
        From `save` or `entries`.
    pantry : Pantry, optional
        By default ours with the user's own ingredients of the same working folder.
    country : str, optional
        Whose standard drinks to count in, if not as saved; where none was saved, the user's standing choice.

    Raises
    ------
    InputError
        Naming the file, if it is missing or damaged.
    """
    return _again(_read(path), path, pantry, country, revive)


def open_saved(path: str | Path, pantry: Pantry | None = None, *, country: str | None = None) -> Opened:
    """A saved trial, not yet run. Arguments and errors as for `load`."""
    return _again(_read(path), path, pantry, country, opened)


def _again(data: dict, path, pantry, country, how):
    folder = Path(path).parent.parent
    shelf = pantry if pantry is not None else _pantry.load(folder)
    if country is None and data["format"] < FORMAT:
        # A damaged choices file must not keep a good trial from opening.
        country = _read_choices(folder)[0]["country"]
    return how(data, shelf, country=country, where=Path(path).name)


def changed(path: str | Path, pantry: Pantry | None = None) -> tuple[str, ...]:
    """What is different from when a trial was saved, one sentence each; empty if nothing is.

    Figures that look the same to four digits count as the same.
    """
    data = _read(path)
    trial = _again(data, path, pantry, None, revive)
    own = pantry if pantry is not None else _pantry.load(Path(path).parent.parent)
    said = []
    with damage("saved trial", "a trial", Path(path).name):
        old = data["stages"]
        if [s["name"] for s in old] != [s.name for s in trial.stages]:
            before, after = ", ".join(s["name"] for s in old), ", ".join(s.name for s in trial.stages)
            said.append(f"The stages were {before} and are {after} now.")
        for figure in KEPT:
            was, now = old[-1]["profile"][figure], getattr(trial.served.profile, figure)
            if _differs(was, now):
                words = f"{WORDS[figure]} [{KINDS[figure].label}]"
                said.append(f"Served {words} was {was:.4g} when saved and is {now:.4g} now.")
        for saved in saved_ingredients(data):
            if saved.id not in own:
                said.append(f"{saved.name!r} is no longer in the pantry: its saved figures are used.")
            else:
                said.extend(_ingredient_changes(saved, own[saved.id]))
    if said and data["drinklab"] != __version__:
        said.append(f"It was saved by Drinklab {data['drinklab']}; this is {__version__}.")
    return tuple(said)


def _differs(was: float, now: float) -> bool:
    return f"{was:.4g}" != f"{now:.4g}" and not math.isclose(was, now, rel_tol=2e-5)


def _ingredient_changes(was: Ingredient, now: Ingredient) -> list[str]:
    said = [
        f"{now.name!r} had {WORDS[f]} {getattr(was, f):.4g} {KINDS[f].label} when saved and has "
        f"{getattr(now, f):.4g} {KINDS[f].label} now."
        for f in AXES
        if _differs(getattr(was, f), getattr(now, f))
    ]
    for f, words in (("allergens", "contains"), ("may_contain", "may contain")):
        if set(getattr(was, f)) != set(getattr(now, f)):
            before, after = (", ".join(getattr(i, f)) or "nothing known" for i in (was, now))
            said.append(f"{now.name!r} {words} (allergens): {before} when saved, {after} now.")
    return said


def entries(folder: str | Path) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """The saved trials of a working folder, newest first, and what could not be read.

    Returns
    -------
    (entries, problems)
        `problems` holds one sentence for each file that was skipped.
    """
    found, problems = [], []
    try:
        paths = _trials(folder)
    except InputError as error:
        return (), (str(error),)
    for path in paths:
        try:
            found.append(entry(path))
        except InputError as error:
            problems.append(str(error))
    return tuple(sorted(found, key=lambda e: e.time, reverse=True)), tuple(problems)


def _trials(folder: str | Path) -> list[Path]:
    """The files of saved trials, the last by name first."""
    return files.listed(Path(folder) / TRIALS, ".json", "folder of saved trials")


def entry(path: str | Path) -> Entry:
    """Title, note and time of one saved trial, without running it.

    Raises
    ------
    InputError
        Naming the file, if it is missing or damaged.
    """
    return _entry(read_json(path, "saved trial"), Path(path))


def _read(path) -> dict:
    data = read_json(path, "saved trial")
    _entry(data, Path(path))
    return data


def _entry(data: dict, path: Path) -> Entry:
    with damage("saved trial", "a trial", path.name):
        asked = setting_in(data)
        title, drink, note, by = data["title"], asked["recipe"]["name"], data["note"], data["drinklab"]
        for words, field, most in ((title, "title", texts.NAME), (drink, "name of the drink", texts.NAME),
                                   (note, "note", texts.PROSE), (by, "version", texts.NAME)):  # fmt: skip
            texts.clean(words, field, most)
        for stage in data["stages"]:
            texts.clean(stage["name"], "name of a stage", texts.NAME)
            for figure in KEPT:
                field = f"{figure} of stage {stage['name']!r}"
                require(field, saved_number(stage["profile"][figure], field), 0, math.inf)
        if not data["stages"] or not isinstance(data["ingredients"], dict):
            raise TypeError("no stages or ingredients")
        # astimezone also takes a time without a zone, as local time.
        time = datetime.fromisoformat(data["time"]).astimezone()
        return Entry(path, title, drink, note, time, by, Display(**asked["display"]))


def put_in_hand(folder: str | Path, setting: Setting, pantry: Pantry, *, title: str = "", note: str = "") -> Path:
    """Keep a drink as the one in hand of a working folder: what every page opens on.

    It is written whole or not at all, so that a page that is closed and a kernel that is ended lose nothing. What is
    there and cannot be read, or is of a newer Drinklab, is kept under another name.

    Raises
    ------
    InputError
        If the folder cannot be written to, or a step cannot be saved.
    """
    text = _in_hand_text(setting, pantry, title, note)
    path = Path(folder) / IN_HAND
    return files.write_over(path, text, keep=_unreadable(path))


def _unreadable(path: Path) -> bool:
    """Whether there is something that is no drink of ours: damaged, of a newer Drinklab, or of someone else's."""
    if not os.path.lexists(path):
        return False
    try:
        data = read_json(path, "drink in hand")
        Setting.from_dict(setting_in(data))
        return data["format"] > FORMAT or not data["ingredients"]
    except (InputError, *BROKEN):
        return True


def in_hand(folder: str | Path, pantry: Pantry | None = None) -> Opened | None:
    """The drink in hand of a working folder; None if there is none yet.

    Raises
    ------
    InputError
        If it is damaged; the file is left as it is until another drink is put in hand.
    """
    path = Path(folder) / IN_HAND
    if not os.path.lexists(path):
        return None
    shelf = pantry if pantry is not None else _pantry.load(folder)
    return opened(read_json(path, "drink in hand"), shelf, where=path.name)


def set_aside(folder: str | Path, held: Opened) -> Path | None:
    """Save the drink that was in hand as a trial, unless a saved trial holds it already: nothing is lost.

    One that cannot be run any more is kept as it was in hand, in a file of its own beside that.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    asked = json.loads(json.dumps(as_asked(held.setting, held.pantry)))  # as it comes from a file
    for path in _trials(folder):
        try:
            data = read_json(path, "saved trial")
            same = all(data[part] == asked[part] for part in ("format", "setting", "ingredients"))
            if same and (not held.note or data["note"] == held.note):
                return None
        except (InputError, *BROKEN):
            continue
    try:
        trial = run(held.setting, held.pantry)
    except InputError:
        text = _in_hand_text(held.setting, held.pantry, held.title, held.note)
        return write_new(Path(folder), f"{Path(IN_HAND).stem}_set_aside", {".json": text})[0]
    title = held.title or held.setting.recipe.name
    return save(trial, folder, title=f"{title}, set aside"[: texts.NAME], note=held.note)


def _in_hand_text(setting: Setting, pantry: Pantry, title: str, note: str) -> str:
    words = {"title": texts.clean(title, "title", texts.NAME), "note": texts.clean(note, "note")}
    return json.dumps(words | as_asked(setting, pantry), ensure_ascii=False, indent=1, allow_nan=False)


def choices(folder: str | Path) -> dict[str, str]:
    """The user's standing choices: volume and temperature unit, country, measuring tool.

    Raises
    ------
    InputError
        Naming the file, if it is damaged; `save_choices` then keeps it aside.

    Examples
    --------
    >>> choices("no such folder")["volume"]
    'mL'
    """
    good, problem = _read_choices(folder)
    if problem:
        raise problem
    return {name: good[name] for name in DEFAULTS}


def save_choices(
    folder: str | Path,
    *,
    volume: str | None = None,
    temperature: str | None = None,
    country: str | None = None,
    tool: str | None = None,
) -> Path:
    """Save standing choices; what is not given stays as it was.

    A damaged file is kept under another name, and what can be read of it is carried over.

    Parameters
    ----------
    folder : path
        The user's working folder; made if missing.
    volume : {"mL", "oz"}, optional
    temperature : {"°C", "°F"}, optional
    country : str, optional
        One of `strength.countries()`.
    tool : str, optional
        One of `trial.TOOLS`.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        For a choice that there is not, or a folder that cannot be written to.
    """
    given = {"volume": volume, "temperature": temperature, "country": country, "tool": tool}
    new = {k: _choice(k, v) for k, v in given.items() if v is not None}
    good, problem = _read_choices(folder)
    text = json.dumps({**good, **new}, ensure_ascii=False, indent=1)
    return files.write_over(Path(folder) / CHOICES, text, keep=problem is not None)


def _choice(name: str, value: object) -> str:
    allowed = {"volume": ["mL", "oz"], "temperature": ["°C", "°F"], "tool": TOOLS}
    return one_of(name, value, strength.countries() if name == "country" else allowed[name])


def _read_choices(folder: str | Path) -> tuple[dict[str, str], InputError | None]:
    """Every choice that can be read, defaults for the rest, and the first thing wrong."""
    path, good, problem = Path(folder) / CHOICES, dict(DEFAULTS), None
    if not os.path.lexists(path):
        return good, None
    try:
        data = read_json(path, "saved choices")
    except InputError as error:
        return good, error
    for name, value in data.items():
        try:
            # What a newer version saved is carried along unread.
            good[name] = _choice(name, value) if name in DEFAULTS else value
        except InputError as error:
            problem = problem or error.at(path.name)
    return good, problem


def _now() -> datetime:
    return datetime.now().astimezone()
