"""The logbook of a folder: saved trials, the drink in hand, standing choices."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from .. import __version__, files, measured, strength, texts
from ..display import Display
from ..errors import InputError, one_of
from ..facts import Fact, say
from ..files import write_new
from ..pantry import WARNINGS, Ingredient, Pantry
from ..plain_data import leads_to_ours, read_json
from ..profile import KINDS, WORDS
from ..setting import TOOLS, Setting
from ..trial import Trial, run
from .listing import TRIALS, checked_entry, entries, entry, stem
from .saved import (
    BROKEN,
    FORMAT,
    KEPT,
    Opened,
    as_asked,
    damage,
    differs,
    figures_changed,
    opened,
    revive,
    saved_ingredients,
    setting_in,
    snapshot,
)

CHOICES, IN_HAND = "my_choices.json", "in_hand.json"
DEFAULTS = {"volume": "mL", "temperature": "°C", "country": "United States", "tool": "jigger"}


def save(
    trial: Trial,
    folder: str | Path,
    *,
    title: str = "",
    note: str = "",
    display: Display | None = None,
    came_from: str = "",
) -> Path:
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
    came_from : str
        File of the trial that it is a version of.

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
        **_origin(folder, came_from),
    } | snapshot(trial)
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    return write_new(Path(folder) / TRIALS, stem(f"{now:%Y-%m-%d}", trial.recipe.name), {".json": text})[0]


def _origin(folder: str | Path, came_from: str) -> dict[str, str]:
    """Where a trial came from: a file, and when that was saved, since two bars that come together may have its name."""
    said = {"came_from": texts.clean(came_from, "file it came from", texts.NAME)}
    with suppress(InputError):  # gone, or damaged
        if came_from:
            said["came_from_saved"] = entry(Path(folder) / TRIALS / Path(came_from).name).time.isoformat()
    return said


def load(path: str | Path, *, pantry: Pantry | None = None, country: str | None = None) -> Trial:
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


def open_saved(path: str | Path, *, pantry: Pantry | None = None, country: str | None = None) -> Opened:
    """A saved trial, not yet run. Arguments and errors as for `load`."""
    path = Path(path)
    data, line = read_json(path, "saved trial"), entry(path)  # its title and notes are those of today
    found = _again(data, path, pantry, country, opened)
    return replace(found, title=line.title, note=line.all_notes[-texts.PROSE :], came_from=path.name)


T = TypeVar("T")


def _again(
    data: dict[str, Any], path: str | Path, pantry: Pantry | None, country: str | None, how: Callable[..., T]
) -> T:
    folder = Path(path).parent.parent
    shelf = pantry if pantry is not None else measured.shelf(folder)
    if country is None and data["format"] < FORMAT:
        # A damaged choices file must not keep a good trial from opening.
        country = _read_choices(folder)[0]["country"]
    return how(data, pantry=shelf, country=country, where=Path(path).name)


def changed(path: str | Path, *, pantry: Pantry | None = None) -> tuple[Fact, ...]:
    """What is different from when a trial was saved; empty if nothing is.

    Figures that look the same to four digits count as the same.
    """
    data = _read(path)
    asked = {**data["setting"], "draws": 0} if data["format"] >= FORMAT else None  # of the middle alone
    trial = _again({**data, "setting": asked} if asked else data, path, pantry, None, revive)
    own = pantry if pantry is not None else measured.shelf(Path(path).parent.parent)
    said = []
    with damage("saved trial", "a trial", Path(path).name):
        old = data["stages"]
        if [s["name"] for s in old] != [s.name for s in trial.stages]:
            before, after = ", ".join(s["name"] for s in old), ", ".join(s.name for s in trial.stages)
            said.append(Fact("stages were", before=before, after=after))
        for figure in KEPT:
            was, now = old[-1]["profile"][figure], getattr(trial.served.profile, figure)
            if differs(was, now):
                said.append(Fact("served was", what=WORDS[figure], unit=KINDS[figure].label, was=was, now=now))
        for saved in saved_ingredients(data):
            if saved.id not in own:
                said.append(Fact("bottle gone", name=repr(saved.name)))
            else:
                said.extend(_ingredient_changes(saved, own[saved.id]))
    if said and data["drinklab"] != __version__:
        said.append(Fact("saved by another", there=data["drinklab"], here=__version__))
    return tuple(said)


def told_of(path: str | Path, found: Opened, *, pantry: Pantry | None = None) -> tuple[str, ...]:
    """What to know of a trial that is opened: its notes, and which figures of the glass are not as they were saved."""
    with suppress(InputError):  # what cannot be run says so where it is put
        facts = changed(path, pantry=pantry)
        return (*found.notes, *(say(one) for one in facts if one.code in ("stages were", "served was")))
    return found.notes


def _ingredient_changes(was: Ingredient, now: Ingredient) -> list[Fact]:
    name, said = repr(now.name), figures_changed(was, now)
    for f in WARNINGS:
        before, after = (tuple(w.replace("_", " ") for w in getattr(i, f)) or Fact("nothing known") for i in (was, now))
        if set(getattr(was, f)) == set(getattr(now, f)):
            continue
        told = {"name": name, "before": before, "after": after}
        if f == "cautions":
            said.append(Fact("bottle was warned of", **told))
        else:
            said.append(Fact("bottle contained" if f == "allergens" else "bottle might contain", **told))
    return said


def _read(path: str | Path) -> dict[str, Any]:
    data = read_json(path, "saved trial")
    checked_entry(data, Path(path))
    return data


def put_in_hand(
    folder: str | Path, setting: Setting, pantry: Pantry, *, title: str = "", note: str = "", came_from: str = ""
) -> Path:
    """Keep a drink as the one in hand of a working folder: what every page opens on.

    It is written whole or not at all, so that a page that is closed and a kernel that is ended lose nothing. What is
    there and cannot be read, or is of a newer Drinklab, is kept under another name. `came_from` is the file of the
    saved trial that it is a version of.

    Raises
    ------
    InputError
        If the folder cannot be written to, or a step cannot be saved.
    """
    text = _in_hand_text(setting, pantry, title, note, came_from)
    path = Path(folder) / IN_HAND
    through = leads_to_ours(path, lambda held: '"drinklab"' in held)
    return files.write_over(path, text, keep=_unreadable(path), through=through)


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


def in_hand(folder: str | Path, *, pantry: Pantry | None = None) -> Opened | None:
    """The drink in hand of a working folder; None if there is none yet.

    Raises
    ------
    InputError
        If it is damaged; the file is left as it is until another drink is put in hand.
    """
    path = Path(folder) / IN_HAND
    if not os.path.lexists(path):
        return None
    shelf = pantry if pantry is not None else measured.shelf(folder)
    return opened(read_json(path, "drink in hand"), pantry=shelf, where=path.name)


def set_aside(folder: str | Path, held: Opened) -> Path | None:
    """Save the drink that was in hand as a trial, unless a saved trial holds it already: nothing is lost.

    One that cannot be run any more is kept as it was in hand, in a file of its own beside that.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    asked = json.loads(json.dumps(as_asked(held.setting, held.pantry)))  # as it comes from a file
    title = f"{held.title or held.setting.recipe.name}, set aside"[: texts.NAME]
    for line in entries(folder, in_bin=None).entries:  # read as one: by themselves each would look through the folder
        if line.drink != held.setting.recipe.name or not line.says((held.title, title), held.note):
            continue
        try:
            data = read_json(line.path, "saved trial")
            if all(data[part] == asked[part] for part in ("format", "setting", "ingredients")):
                return None
        except (InputError, *BROKEN):
            continue
    try:
        trial = run(held.setting, pantry=held.pantry)
    except InputError:
        text = _in_hand_text(held.setting, held.pantry, held.title, held.note, held.came_from)
        return write_new(Path(folder), f"{Path(IN_HAND).stem}_set_aside", {".json": text})[0]
    return save(trial, folder, title=title, note=held.note, came_from=held.came_from)


def _in_hand_text(setting: Setting, pantry: Pantry, title: str, note: str, came_from: str) -> str:
    words = {"title": texts.clean(title, "title", texts.NAME), "note": texts.clean(note, "note"),
             "came_from": texts.clean(came_from, "file it came from", texts.NAME)}  # fmt: skip
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
    path = Path(folder) / CHOICES
    with files.alone(path):  # from reading to writing: what another page chose in between would be lost
        through = leads_to_ours(path, lambda held: all(f'"{name}"' in held for name in ("volume", "temperature")))
        good, problem = _read_choices(folder) if through else (DEFAULTS, None)
        text = json.dumps({**good, **new}, ensure_ascii=False, indent=1)
        return files.write_over(path, text, keep=problem is not None or not through, through=through)


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
