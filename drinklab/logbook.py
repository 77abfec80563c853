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
import tempfile
import unicodedata
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from pathlib import Path

from . import __version__, steps, strength
from . import pantry as _pantry
from .balance import FIGURES
from .dilution import OwnIce
from .errors import InputError, one_of, require
from .pantry import Ingredient, Pantry
from .recipe import Recipe
from .trial import TOOLS, Trial, run
from .units import Display

FORMAT = 2  # 2: steps after ice and top are saved; 1 had none
TRIALS, CHOICES = "trials", "my_choices.json"
DEFAULTS = {"volume": "mL", "temperature": "°C", "country": "United States", "tool": "jigger"}
# What the figures are called when one of them has changed.
_WORDS = {"volume": "volume [mL]", "abv": "strength [% vol]", "sugar": "sugar [g/L]", "acid": "acid [g/L]",
          "alcohol": "alcohol [g]"}  # fmt: skip
_BROKEN = (KeyError, TypeError, AttributeError, ValueError, OverflowError, RecursionError)


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


def snapshot(trial: Trial) -> dict:
    """A trial as plain data for JSON: what `revive` needs to run it again, and what it gave.

    Besides recipe, settings and stage figures it holds the ingredients as they were, so that a later
    change of the pantry can be seen, and a reader without them can still pour.
    """
    return {
        "format": FORMAT,
        "drinklab": __version__,
        "recipe": trial.recipe.to_dict(),
        "settings": {
            "melt": None if trial.melt_by_rule or trial.ice else trial.melt,
            "ice": asdict(trial.ice) if trial.ice else None,
            "serve_volume": trial.serve_volume,
            "tool": trial.tool,
            "steps": [steps.to_dict(step) for step in trial.steps],
        },
        "stages": [
            {"name": s.name} | {w: _figures(getattr(s, w)) for w in ("profile", "low", "high")} for s in trial.stages
        ],
        "ingredients": {
            p.ingredient: {**asdict(trial.pantry[p.ingredient]), "solutes": dict(trial.pantry[p.ingredient].solutes)}
            for p in trial.recipe.pours
        },
    }


def _figures(profile) -> dict:
    # JSON has no infinity: sugar to acid without acid is null.
    return {f: v if math.isfinite(v := getattr(profile, f)) else None for f in FIGURES}


def revive(
    data: Mapping,
    pantry: Pantry | None = None,
    *,
    country: str = DEFAULTS["country"],
    where: str = "",
) -> Trial:
    """Run a `snapshot` again.

    Parameters
    ----------
    data : mapping
    pantry : Pantry, optional
        Its ingredients win; those that it lacks are taken as they were saved.
    country : str
        For the caution on a strong serve.
    where : str
        File to name in errors.

    Raises
    ------
    InputError
        For data that are no trial.
    """
    shelf = pantry if pantry is not None else _pantry.load()
    try:
        if data["format"] > FORMAT:
            raise InputError("format", data["format"], f"at most {FORMAT}; a newer Drinklab wrote it")
        saved = [_ingredient(i) for i in data["ingredients"].values()]
        shelf = shelf.with_items([i for i in saved if i.id not in shelf])
        drink, settings = recipe(data), data["settings"]
        for what in ("melt", "serve_volume"):
            if settings[what] is not None and type(settings[what]) not in (int, float):
                raise TypeError(what)
        return run(
            drink, shelf, melt=settings["melt"], ice=_ice(settings.get("ice")), tool=settings["tool"],
            serve_volume=settings["serve_volume"], country=country,
            more_steps=[steps.from_dict(step) for step in settings.get("steps", ())],
        )  # fmt: skip
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where or error.where) from None
    except _BROKEN as error:
        raise InputError("saved trial", _reason(error), "a trial as Drinklab writes it", where) from None


def _ice(data: Mapping | None) -> OwnIce | None:
    # `over_ice` checks what the fields hold, as for any ice that somebody gives.
    return None if data is None else OwnIce(**data)


def recipe(data: Mapping, where: str = "") -> Recipe:
    """The recipe in a `snapshot`, checked.

    Raises
    ------
    InputError
        If there is none, or a damaged one.
    """
    try:
        found = Recipe.from_dict(data["recipe"])
        for words in (found.name, found.question, found.method, *(p.ingredient for p in found.pours)):
            if not isinstance(words, str):
                raise TypeError(f"{words!r} is no text")
        return found
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where) from None
    except _BROKEN as error:
        raise InputError("saved recipe", _reason(error), "a recipe as Drinklab writes it", where) from None


def _ingredient(data: Mapping) -> Ingredient:
    known = {f.name for f in fields(Ingredient)}
    values = {k: tuple(v) if isinstance(v, list) else v for k, v in data.items() if k in known}
    item = Ingredient(**values)
    for name in ("abv", "sugar", "acid", "abv_pm", "sugar_pm", "acid_pm"):
        require(f"{name} of {item.name!r}", values.get(name, 0.0), 0, 100 if name == "abv" else 2000)
    _ = item.composition  # refuses what cannot be poured
    return item


def _reason(error: Exception) -> str:
    return f"without {error}" if isinstance(error, KeyError) else f"damaged ({error})"


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
        How the user had amounts shown.

    Returns
    -------
    Path
        A file of its own: date, drink and a running number.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    now, show = _now(), display or Display()
    data = {
        "title": title.strip() or trial.recipe.name,
        "note": note,
        "time": now.isoformat(timespec="milliseconds"),
        "display": {"volume": show.volume, "temperature": show.temperature},
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
        For the caution on a strong serve; by default the user's standing choice.

    Raises
    ------
    InputError
        Naming the file, if it is missing or damaged.
    """
    return _again(_read(path), path, pantry, country)


def _again(data: dict, path, pantry, country) -> Trial:
    folder = Path(path).parent.parent
    shelf = pantry if pantry is not None else _pantry.load(folder)
    # A damaged choices file must not keep a good trial from opening.
    country = country or _read_choices(folder)[0]["country"]
    return revive(data, shelf, country=country, where=Path(path).name)


def changed(path: str | Path, pantry: Pantry | None = None) -> tuple[str, ...]:
    """What is different from when a trial was saved, one sentence each; empty if nothing is.

    Figures that look the same to four digits count as the same.
    """
    data = _read(path)
    trial = _again(data, path, pantry, None)
    old, said = data["stages"], []
    if [s["name"] for s in old] != [s.name for s in trial.stages]:
        before, after = ", ".join(s["name"] for s in old), ", ".join(s.name for s in trial.stages)
        said.append(f"The stages were {before} and are {after} now.")
    for figure, words in _WORDS.items():
        was, now = old[-1]["profile"][figure], getattr(trial.served.profile, figure)
        if _differs(was, now):
            said.append(f"Served {words} was {was:.4g} when saved and is {now:.4g} now.")
    own = pantry if pantry is not None else _pantry.load(Path(path).parent.parent)
    for key, saved in data["ingredients"].items():
        if key not in own:
            said.append(f"{saved['name']!r} is no longer in the pantry: its saved figures are used.")
        else:
            said.extend(_ingredient_changes(_ingredient(saved), own[key]))
    if said and data["drinklab"] != __version__:
        said.append(f"It was saved by Drinklab {data['drinklab']}; this is {__version__}.")
    return tuple(said)


def _differs(was: float, now: float) -> bool:
    return f"{was:.4g}" != f"{now:.4g}" and not math.isclose(was, now, rel_tol=2e-5)


def _ingredient_changes(was: Ingredient, now: Ingredient) -> list[str]:
    said = [
        f"{now.name!r} had {word} {getattr(was, f):.4g} {unit} when saved and has {getattr(now, f):.4g} {unit} now."
        for f, word, unit in (("abv", "strength", "% vol"), ("sugar", "sugar", "g/L"), ("acid", "acid", "g/L"))
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
    for path in sorted((Path(folder) / TRIALS).glob("*.json"), reverse=True):
        if path.name.startswith("."):
            continue
        try:
            found.append(entry(path))
        except InputError as error:
            problems.append(str(error))
    return tuple(sorted(found, key=lambda e: e.time, reverse=True)), tuple(problems)


def entry(path: str | Path) -> Entry:
    """Title, note and time of one saved trial, without running it.

    Raises
    ------
    InputError
        Naming the file, if it is missing or damaged.
    """
    return _entry(_json(path, "saved trial"), Path(path))


def _read(path) -> dict:
    data = _json(path, "saved trial")
    _entry(data, Path(path))
    return data


def _entry(data: dict, path: Path) -> Entry:
    try:
        texts = [data["title"], data["recipe"]["name"], data["note"], data["drinklab"]]
        if not all(isinstance(t, str) for t in texts):
            raise TypeError("a title, name or note that is no text")
        for stage in data["stages"]:
            for figure in _WORDS:
                require(f"{figure} of stage {stage['name']!r}", stage["profile"][figure], 0, math.inf)
        if not data["stages"] or not isinstance(data["ingredients"], dict):
            raise TypeError("no stages or ingredients")
        # astimezone also takes a time without a zone, as local time.
        time = datetime.fromisoformat(data["time"]).astimezone()
        return Entry(path, *texts[:3], time, texts[3], Display(**data["display"]))
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, path.name) from None
    except _BROKEN as error:
        raise InputError("saved trial", _reason(error), "a trial as Drinklab writes it", path.name) from None


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
    path = Path(folder) / CHOICES
    text = json.dumps({**good, **new}, ensure_ascii=False, indent=1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if problem:
            _keep_aside(path)
        temporary = _temporary(path.parent, text)
        os.replace(temporary, path)
    except OSError as error:
        raise _unwritable(path.parent, error) from None
    return path


def _choice(name: str, value: object) -> str:
    allowed = {"volume": ["mL", "oz"], "temperature": ["°C", "°F"], "tool": TOOLS}
    return one_of(name, value, strength.countries() if name == "country" else allowed[name])


def _read_choices(folder: str | Path) -> tuple[dict[str, str], InputError | None]:
    """Every choice that can be read, defaults for the rest, and the first thing wrong."""
    path, good, problem = Path(folder) / CHOICES, dict(DEFAULTS), None
    if not path.exists():
        return good, None
    try:
        data = _json(path, "saved choices")
    except InputError as error:
        return good, error
    for name, value in data.items():
        try:
            # What a newer version saved is carried along unread.
            good[name] = _choice(name, value) if name in DEFAULTS else value
        except InputError as error:
            problem = problem or InputError(error.field, error.value, error.allowed, path.name)
    return good, problem


def _keep_aside(path: Path) -> None:
    number = 1
    while (aside := path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")).exists():
        number += 1
    path.rename(aside)


# --- files ----------------------------------------------------------------------------------------


def slug(name: str) -> str:
    """A name as a piece of a file name: small plain letters, figures and hyphens.

    >>> slug("Low Tide: à la  <milk>!")
    'low-tide-a-la-milk'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:48].strip("-") or "drink"


def write_new(folder: Path, stem: str, texts: Mapping[str, str]) -> list[Path]:
    """Write texts as new files of one name, `stem` and a running number, each with its suffix.

    Never overwrites, and a file is there whole or not at all.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        taken = [re.fullmatch(rf"{re.escape(stem)}_(\d+)\..+", p.name) for p in folder.iterdir()]
        number = max((int(t[1]) for t in taken if t), default=0)
        while True:
            number += 1
            made: list[Path] = []
            try:
                for suffix, text in texts.items():
                    path = folder / f"{stem}_{number:02d}{suffix}"
                    _write_once(path, text)
                    made.append(path)
                return made
            except FileExistsError:
                # Someone else took the number meanwhile: take ours back and try the next.
                for path in made:
                    path.unlink()
    except OSError as error:
        raise _unwritable(folder, error) from None


def _write_once(path: Path, text: str) -> None:
    temporary = _temporary(path.parent, text)
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:
        # A disk without links (some memory sticks): still never over another file.
        with path.open("x", encoding="utf-8", newline="\n", errors="replace") as file:
            file.write(text)
    finally:
        temporary.unlink(missing_ok=True)


def _temporary(folder: Path, text: str) -> Path:
    handle, name = tempfile.mkstemp(prefix=".saving-", dir=folder)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n", errors="replace") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _unwritable(folder: Path, error: OSError) -> InputError:
    return InputError("working folder", f"{folder.name!r} ({error.strerror or error})", "one that can be written to")


def _json(path: str | Path, what: str) -> dict:
    """The object in a JSON file, or one sentence that names the file and what is wrong with it."""
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise InputError(what, path.name, "a file that is there") from None
    except (OSError, UnicodeDecodeError):
        raise InputError(what, "not readable as text", "UTF-8 text as Drinklab writes it", path.name) from None
    return parse_json(text, what, path.name)


def parse_json(text: str, what: str, where: str) -> dict:
    """The object that a JSON text holds.

    Raises
    ------
    InputError
        Naming `what` and `where`, for anything else; NaN and infinity are refused too.
    """
    try:
        data = json.loads(text, parse_constant=_refuse)
    except json.JSONDecodeError as error:
        lines = text.splitlines() or [""]
        line = lines[min(error.lineno, len(lines)) - 1].strip()[:60]
        raise InputError(f"line {error.lineno} of the {what}", line, "JSON as Drinklab writes it", where) from None
    except (ValueError, RecursionError) as error:
        raise InputError(what, f"damaged ({error})", "JSON as Drinklab writes it", where) from None
    if not isinstance(data, dict):
        raise InputError(what, f"a {type(data).__name__}", "a JSON object as Drinklab writes it", where)
    return data


def _refuse(word: str):
    raise ValueError(f"{word} is no number")


def _now() -> datetime:
    return datetime.now().astimezone()
