"""Saved trials and a user's standing choices: small files in the working folder, never overwritten.

>>> import tempfile
>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> folder = tempfile.mkdtemp()
>>> path = save(run(Recipe.parse("60 mL gin\\n30 mL dry vermouth")), folder, title="Drier than last week")
>>> saved, problems = entries(folder)
>>> saved[0].title, load(path) == load(saved[0].path), changed(path), problems
('Drier than last week', True, (), ())
"""

from __future__ import annotations

import json
import math
import os
import re
import unicodedata
from collections.abc import Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from pathlib import Path

from . import __version__, files, strength, tables, texts
from . import pantry as _pantry
from .balance import AXES, FIGURES, KINDS, WORDS
from .display import Display
from .errors import InputError, Told, one_of, require
from .files import write_new
from .liquid import COMPONENTS
from .pantry import WARNINGS, Ingredient, Pantry
from .recipe import Recipe
from .setting import TOOLS, Setting
from .trial import Trial, run

FORMAT = 3  # 3: the whole setting in one place; 2: steps after ice and top; 1: neither, and no ice of one's own
TRIALS, CHOICES, IN_HAND = "trials", "my_choices.json", "in_hand.json"
DEFAULTS = {"volume": "mL", "temperature": "°C", "country": "United States", "tool": "jigger"}
_KEPT = [figure for figure in WORDS if figure != "sugar_to_acid"]  # which is null without acid, and follows
_BROKEN = (LookupError, TypeError, AttributeError, ValueError, ArithmeticError, RecursionError)
# Of a saved ingredient: its words, its lists of words, and the most that its numbers can be.
_TEXTS = ("id", "name", "kind", "state", "source", "source_class")
_AMOUNTS = {"abv": 100, "sugar": 2000, "acid": 2000, "abv_pm": 2000, "sugar_pm": 2000, "acid_pm": 2000}
_SOLUTES = tuple(name for name in COMPONENTS if name not in ("water", "ethanol", "co2"))


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


# --- a trial as plain data, and back --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Opened:
    """What a file holds, not yet run: a setting, the pantry to run it with, and what to know, a sentence each."""

    setting: Setting
    pantry: Pantry
    notes: tuple[str, ...] = ()
    title: str = ""
    note: str = ""

    def onto(self, shelf: Pantry) -> Pantry:
        """A pantry with the bottles that this drink and what goes with it use, behind its own."""
        used = {pour.ingredient for recipe in self.setting.all_recipes() for pour in recipe.pours}
        return shelf.with_saved(self.pantry[key] for key in used)[0]


def snapshot(trial: Trial) -> dict:
    """A trial as plain data for JSON: what `revive` needs to run it again, and what it gave.

    Besides the setting and stage figures it holds the ingredients as they were, so that a later
    change of the pantry can be seen, and a reader without them can still pour.
    """
    return _asked(trial.setting, trial.pantry) | {
        "stages": [
            {"name": s.name} | {w: _figures(getattr(s, w)) for w in ("profile", "low", "high")} for s in trial.stages
        ],
    }


def _asked(setting: Setting, pantry: Pantry) -> dict:
    used = {p.ingredient: pantry[p.ingredient] for recipe in setting.all_recipes() for p in recipe.pours}
    return {
        "format": FORMAT,
        "drinklab": __version__,
        "setting": setting.to_dict(),
        "ingredients": {key: {**asdict(item), "solutes": dict(item.solutes)} for key, item in used.items()},
    }


def _figures(profile) -> dict:
    # JSON has no infinity: sugar to acid without acid is null.
    return {f: v if math.isfinite(v := getattr(profile, f)) else None for f in FIGURES}


def opened(data: Mapping, pantry: Pantry | None = None, *, country: str | None = None, where: str = "") -> Opened:
    """The setting in a `snapshot`, not yet run.

    Parameters
    ----------
    data : mapping
    pantry : Pantry, optional
        Its ingredients win; those that it lacks are taken as they were saved.
    country : str, optional
        Whose standard drinks to count in, where the file does not say (before format 3) or another is wanted.
    where : str
        File to name in errors.

    Raises
    ------
    InputError
        For data that are no trial.
    """
    shelf = pantry if pantry is not None else _pantry.load()
    with _damage("saved trial", "a trial", where):
        if data["format"] > FORMAT:
            raise InputError("format", data["format"], f"at most {FORMAT}; a newer Drinklab wrote it")
        shelf, notes = shelf.with_saved(_saved_ingredients(data))
        notes = list(notes)
        setting = Setting.from_dict(_setting(data))
        if data["format"] < FORMAT:
            lost = "its country and how many it serves" + (
                ", an ice of your own, and steps after the ice" if data["format"] < 2 else ""
            )
            notes.append(f"An earlier Drinklab saved this and did not keep {lost}: the usual stands in their place.")
        if country is not None and country != setting.country:
            setting = replace(setting, country=country)
        for drink in setting.all_recipes():
            drink.bottles(shelf)
        title, note = (
            texts.clean(data.get(k, ""), k, most) for k, most in (("title", texts.NAME), ("note", texts.PROSE))
        )
        return Opened(setting, shelf, tuple(notes), title, note)


def _setting(data: Mapping) -> dict:
    """The setting in saved data of any format, as `Setting.from_dict` takes it."""
    if data["format"] > 2:
        return data["setting"]
    old = data["settings"]
    return {
        "recipe": data["recipe"], "melt": old["melt"], "ice": old.get("ice"), "serve_volume": old["serve_volume"],
        "tool": old["tool"], "steps": old.get("steps", ()), "display": data.get("display", {}),
    }  # fmt: skip


def revive(data: Mapping, pantry: Pantry | None = None, *, country: str | None = None, where: str = "") -> Trial:
    """Run a `snapshot` again. Arguments and errors as for `opened`."""
    found = opened(data, pantry, country=country, where=where)
    with _damage("saved trial", "a trial", where):
        trial = run(found.setting, found.pantry)
        return replace(trial, notes=(*trial.notes, *found.notes)) if found.notes else trial


def recipe(data: Mapping, where: str = "") -> Recipe:
    """The recipe in a `snapshot`, checked.

    Raises
    ------
    InputError
        If there is none, or a damaged one.
    """
    with _damage("saved recipe", "a recipe", where):
        return Recipe.from_dict(_setting(data)["recipe"])


def _saved_ingredients(data: Mapping) -> list[Ingredient]:
    return [_ingredient(key, item) for key, item in data["ingredients"].items()]


def _ingredient(key: str, data: Mapping) -> Ingredient:
    known = {f.name for f in fields(Ingredient)}
    values = {k: v for k, v in data.items() if k in known}
    for field in _TEXTS:
        texts.clean(values.get(field, ""), f"{field} of the ingredient {key!r}", texts.PROSE)
    tables.checked("ingredients", "kind", values.get("kind"), f"kind of the ingredient {key!r}")
    for field, column in WARNINGS.items():
        words, called = values.get(field, ()), f"{field} of the ingredient {key!r}"
        if not isinstance(words, (list, tuple)):
            raise InputError(called, Told(f"a {type(words).__name__}"), "a list of words")
        values[field] = tuple(tables.checked("ingredients", column, word, called) for word in words)
    item = Ingredient(**values | {"name": texts.line(values["name"])})
    if type(item.stated) is not bool:
        raise InputError(f"stated of the ingredient {key!r}", Told(type(item.stated).__name__), "true or false")
    one_of("id", item.id, [key])
    one_of(f"state of {item.name!r}", item.state, ["liquid", "solid"])
    for field, most in _AMOUNTS.items():
        require(f"{field} of {item.name!r}", saved_number(values.get(field, 0), field), 0, most)
    for solute, grams in item.solutes.items():
        one_of(f"solute of {item.name!r}", solute, _SOLUTES)
        require(f"{solute} of {item.name!r}", saved_number(grams, solute), 0, 3000, "g/L")
    if item.published_density is not None:
        require(f"density of {item.name!r}", saved_number(item.published_density, "density"), 0.5, 3, "kg/L")
    _ = item.composition  # refuses what cannot be poured
    return item


def saved_number(value: object, field: str) -> float:
    """A number that JSON can hold, and no text or truth."""
    if type(value) not in (int, float) or not math.isfinite(value):
        raise InputError(field, value if isinstance(value, str) else Told(type(value).__name__), "a number")
    return value


def saved_numbers(values: object, field: str) -> tuple[float, ...]:
    """A list of such numbers."""
    if not isinstance(values, list):
        raise InputError(field, Told(f"a {type(values).__name__}"), "a list of numbers")
    return tuple(saved_number(value, field) for value in values)


@contextmanager
def _damage(what: str, kind: str, where: str):
    """Whatever is wrong with opened data is one sentence that names the file."""
    try:
        yield
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where or error.where) from None
    except _BROKEN as error:
        raise InputError(what, _reason(error), f"{kind} as Drinklab writes it", where) from None


def _reason(error: Exception) -> str:
    words = " ".join(str(error).split())[:60]
    return f"without {words}" if isinstance(error, KeyError) else f"damaged ({words})"


# --- the logbook ----------------------------------------------------------------------------------


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
    with _damage("saved trial", "a trial", Path(path).name):
        old = data["stages"]
        if [s["name"] for s in old] != [s.name for s in trial.stages]:
            before, after = ", ".join(s["name"] for s in old), ", ".join(s.name for s in trial.stages)
            said.append(f"The stages were {before} and are {after} now.")
        for figure in _KEPT:
            was, now = old[-1]["profile"][figure], getattr(trial.served.profile, figure)
            if _differs(was, now):
                words = f"{WORDS[figure]} [{KINDS[figure].label}]"
                said.append(f"Served {words} was {was:.4g} when saved and is {now:.4g} now.")
        for saved in _saved_ingredients(data):
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
    place = Path(folder) / TRIALS
    try:
        names = os.listdir(place)
    except FileNotFoundError:
        return []
    except OSError as error:
        raise InputError(
            "folder of saved trials", error.strerror or str(error), "one that can be read", TRIALS
        ) from None
    return [place / name for name in sorted(names, reverse=True) if name.endswith(".json") and name[0] != "."]


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
    with _damage("saved trial", "a trial", path.name):
        asked = _setting(data)
        title, drink, note, by = data["title"], asked["recipe"]["name"], data["note"], data["drinklab"]
        for words, field, most in ((title, "title", texts.NAME), (drink, "name of the drink", texts.NAME),
                                   (note, "note", texts.PROSE), (by, "version", texts.NAME)):  # fmt: skip
            texts.clean(words, field, most)
        for stage in data["stages"]:
            texts.clean(stage["name"], "name of a stage", texts.NAME)
            for figure in _KEPT:
                field = f"{figure} of stage {stage['name']!r}"
                require(field, saved_number(stage["profile"][figure], field), 0, math.inf)
        if not data["stages"] or not isinstance(data["ingredients"], dict):
            raise TypeError("no stages or ingredients")
        # astimezone also takes a time without a zone, as local time.
        time = datetime.fromisoformat(data["time"]).astimezone()
        return Entry(path, title, drink, note, time, by, Display(**asked["display"]))


# --- the drink in hand ------------------------------------------------------------------------------


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
        Setting.from_dict(_setting(data))
        return data["format"] > FORMAT or not data["ingredients"]
    except (InputError, *_BROKEN):
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
    asked = json.loads(json.dumps(_asked(held.setting, held.pantry)))  # as it comes from a file
    for path in _trials(folder):
        try:
            data = read_json(path, "saved trial")
            same = all(data[part] == asked[part] for part in ("format", "setting", "ingredients"))
            if same and (not held.note or data["note"] == held.note):
                return None
        except (InputError, *_BROKEN):
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
    return json.dumps(words | _asked(setting, pantry), ensure_ascii=False, indent=1, allow_nan=False)


# --- standing choices -----------------------------------------------------------------------------


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
            problem = problem or InputError(error.field, error.value, error.allowed, path.name)
    return good, problem


# --- names and JSON ----------------------------------------------------------------------------------------


def slug(name: str) -> str:
    """A name as a piece of a file name: small plain letters, figures and hyphens.

    >>> slug("First Frost: à la  <milk>!")
    'first-frost-a-la-milk'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:48].strip("-") or "drink"


def read_json(path: str | Path, what: str) -> dict:
    """The object in a JSON file, its texts fit to be shown.

    Raises
    ------
    InputError
        In one sentence that names the file and what is wrong with it.
    """
    return parse_json(files.read_text(path, what), what, Path(path).name)


def parse_json(text: str, what: str, where: str) -> dict:
    """The object that a JSON text holds.

    Raises
    ------
    InputError
        Naming `what` and `where`, for anything else; what is no finite number is refused too.
    """
    try:
        data = texts.fit_all(json.loads(text, parse_constant=_refuse, parse_int=_whole, parse_float=_finite))
    except json.JSONDecodeError as error:
        lines = text.splitlines() or [""]
        line = lines[min(error.lineno, len(lines)) - 1].strip()[:60]
        raise InputError(f"line {error.lineno} of the {what}", line, "JSON as Drinklab writes it", where) from None
    except (ValueError, RecursionError) as error:
        raise InputError(what, _reason(error), "JSON as Drinklab writes it", where) from None
    if not isinstance(data, dict):
        raise InputError(what, f"a {type(data).__name__}", "a JSON object as Drinklab writes it", where)
    return data


def _refuse(word: str):
    raise ValueError(f"{word} is no number")


def _whole(digits: str) -> int:
    return int(digits) if len(digits) < 19 else _finite(digits)  # as a float where an array has no room for it


def _finite(digits: str) -> float:
    if math.isfinite(number := float(digits)):
        return number
    return _refuse(digits if len(digits) < 30 else f"what has {len(digits):,} digits")


def _now() -> datetime:
    return datetime.now().astimezone()
