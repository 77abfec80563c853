"""A trial as plain data, and back, also from older forms."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from .. import __version__, tables, texts
from .. import pantry as _pantry
from ..errors import InputError, Told, one_of, require
from ..facts import Fact, say
from ..learned import KINDS_MEASURED, Learned, known
from ..liquid import COMPONENTS
from ..pantry import WARNINGS, Ingredient, Pantry
from ..plain_data import reason, saved_number
from ..profile import AXES, FIGURES, WORDS, Profile
from ..profile import KINDS as UNITS
from ..recipe import MOST_POURS, Recipe
from ..setting import Setting
from ..trial import Trial, learned_in, run

FORMAT = 3  # 3: the whole setting in one place; 2: steps after ice and top; 1: neither, and no ice of one's own
KEPT = [figure for figure in WORDS if figure != "sugar_to_acid"]  # which is null without acid, and follows
BROKEN = (LookupError, TypeError, AttributeError, ValueError, ArithmeticError, RecursionError)
# Of a saved ingredient: its words, its lists of words, and the most that its numbers can be.
_TEXTS = ("id", "name", "kind", "state", "source", "source_class")
_AMOUNTS = {"abv": 100, "sugar": 2000, "acid": 2000, "abv_pm": 2000, "sugar_pm": 2000, "acid_pm": 2000}
_MOST_MEASURED = 50
# What stands at the top of a file of any format.
_KNOWN = {
    "format", "drinklab", "setting", "ingredients", "learned", "stages", "title", "note", "time", "came_from",
    "came_from_saved", "settings", "recipe", "display",
}  # fmt: skip
# A strength measured elsewhere is not taken below this share of what label or pantry say: a guest would be told too
# little. A judgement; labels are off by far less.
_LEAST_STRENGTH = 0.5
_SOLUTES = tuple(name for name in COMPONENTS if name not in ("water", "ethanol", "co2"))


@dataclass(frozen=True, slots=True)
class Opened:
    """What a file holds, not yet run: a setting, the pantry to run it with, and what to know, a sentence each."""

    setting: Setting
    pantry: Pantry
    notes: tuple[str, ...] = ()
    title: str = ""
    note: str = ""
    came_from: str = ""  # file of the saved trial that it is, or is a version of

    def onto(self, shelf: Pantry) -> Pantry:
        """A pantry with the bottles that this drink and what goes with it use, behind its own."""
        used = {pour.ingredient for recipe in self.setting.all_recipes() for pour in recipe.pours}
        return shelf.with_saved(self.pantry[key] for key in used)[0]


def snapshot(trial: Trial) -> dict[str, Any]:
    """A trial as plain data for JSON: what `revive` needs to run it again, and what it gave.

    Besides the setting and stage figures it holds the ingredients as they were, so that a later
    change of the pantry can be seen, and a reader without them can still pour.
    """
    return as_asked(trial.setting, trial.pantry) | {
        "stages": [
            {"name": s.name} | {w: figures_of(getattr(s, w)) for w in ("profile", "low", "high")} for s in trial.stages
        ],
    }


def as_asked(setting: Setting, pantry: Pantry) -> dict[str, Any]:
    """A setting as plain data, with the ingredients that it uses."""
    used = {p.ingredient: pantry[p.ingredient] for recipe in setting.all_recipes() for p in recipe.pours}
    learned = [one for drink in (setting, *setting.beside) for one, _ in learned_in(drink, pantry)]
    kept = [asdict(one) for one in dict.fromkeys(learned) if (one.kind, one.what) in pantry.learned]
    return {
        "format": FORMAT,
        "drinklab": __version__,
        "setting": setting.to_dict(),
        "ingredients": {key: _plain(item) for key, item in used.items()},
    } | ({"learned": kept} if kept else {})


def _plain(item: Ingredient) -> dict[str, Any]:
    held = {**asdict(item), "solutes": dict(item.solutes)}
    return held if item.measured else {name: value for name, value in held.items() if name != "measured"}


def figures_of(profile: Profile) -> dict[str, Any]:
    """Figures as plain data. JSON has no infinity: sugar to acid without acid is null."""
    return {f: v if math.isfinite(v := getattr(profile, f)) else None for f in FIGURES}


def opened(
    data: Mapping[str, Any], *, pantry: Pantry | None = None, country: str | None = None, where: str = ""
) -> Opened:
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
    return _opened(data, pantry, country, where)[0]


def _opened(
    data: Mapping[str, Any], pantry: Pantry | None, country: str | None, where: str
) -> tuple[Opened, list[Ingredient]]:
    """What `opened` gives, and the ingredients as they were saved."""
    shelf = pantry if pantry is not None else _pantry.load()
    with damage("saved trial", "a trial", where):
        if data["format"] > FORMAT:
            raise InputError("format", data["format"], f"at most {FORMAT}; a newer Drinklab wrote it")
        saved = saved_ingredients(data)
        shelf, told = shelf.with_saved(saved)
        notes = [*told, *_measured_there(saved, shelf), *_changed(saved, shelf), *_unread(data)]
        setting = Setting.from_dict(setting_in(data))
        if data["format"] < FORMAT:
            notes.append(say(Fact("saved by the first" if data["format"] < 2 else "saved by an earlier")))
        if country is not None and country != setting.country:
            setting = replace(setting, country=country)
        for drink in setting.all_recipes():
            drink.bottles(shelf)
        words = (
            texts.clean(data.get(k, ""), k.replace("_", " "), most)
            for k, most in (("title", texts.NAME), ("note", texts.PROSE), ("came_from", texts.NAME))
        )
        return Opened(setting, shelf, tuple(notes), *words), saved


def setting_in(data: Mapping[str, Any]) -> dict[str, Any]:
    """The setting in saved data of any format, as `Setting.from_dict` takes it."""
    if data["format"] > 2:
        return data["setting"]
    old = data["settings"]
    return {
        "recipe": data["recipe"], "melt": old["melt"], "ice": old.get("ice"), "serve_volume": old["serve_volume"],
        "tool": old["tool"], "steps": old.get("steps", ()), "display": data.get("display", {}),
    }  # fmt: skip


def revive(
    data: Mapping[str, Any], *, pantry: Pantry | None = None, country: str | None = None, where: str = ""
) -> Trial:
    """Run a `snapshot` again. Arguments and errors as for `opened`.

    A figure that was measured where it was saved stands as it was measured, unless it is measured here too: a table
    knows less of that bottle. What the shelf warns of stays.
    """
    found, saved = _opened(data, pantry, country, where)
    with damage("saved trial", "a trial", where):
        trial = run(found.setting, pantry=_as_measured(data, saved, found.pantry))
        return replace(trial, said=(*trial.said, *found.notes)) if found.notes else trial


def _as_measured(data: Mapping[str, Any], saved: list[Ingredient], shelf: Pantry) -> Pantry:
    """A shelf with what was measured where the trial was saved, and is not measured here."""
    theirs = [
        item for item in saved
        if item.measured and not shelf[item.id].measured and item.abv >= _LEAST_STRENGTH * shelf[item.id].abv
    ]  # fmt: skip
    figures = ("abv", "abv_pm", "sugar", "sugar_pm", "acid", "acid_pm", "solutes", "measured")
    taken = [replace(shelf[item.id], **{name: getattr(item, name) for name in figures}) for item in theirs]
    if not taken and "learned" not in data:
        return shelf
    found = shelf.with_items(taken)
    theirs_known = known(tuple(_learned(one, "figure") for one in data.get("learned", ())))
    found.learned = {**theirs_known, **shelf.learned}
    return found


def _measured_there(saved: list[Ingredient], shelf: Pantry) -> list[str]:
    """That a bottle was measured where the drink was saved, and is not here."""
    return [
        say(Fact("measured where it was saved", name=item.name))
        for item in saved if item.measured and not shelf[item.id].measured
    ]  # fmt: skip


def figures_changed(was: Ingredient, now: Ingredient) -> list[Fact]:
    """What of a bottle's figures is not as it was saved."""
    by_own = Fact("as measured here" if now.measured else "as in the table again")
    why = "" if now.measured == was.measured else by_own
    return [
        Fact("bottle had", name=repr(now.name), what=WORDS[f], was=had, now=has, unit=UNITS[f].label, why=why)
        for f in AXES
        if differs(had := getattr(was, f), has := getattr(now, f))
    ]


def differs(was: float, now: float) -> bool:
    """Whether two figures do not look the same to four digits."""
    return f"{was:.4g}" != f"{now:.4g}" and not math.isclose(was, now, rel_tol=2e-5)


def _changed(saved: list[Ingredient], shelf: Pantry) -> Iterator[str]:
    """Where a bottle's figures are others here, so that the drink has others than it was saved with."""
    for item in saved:
        now = shelf[item.id]
        if now.measured or not item.measured:  # of others `_measured_there` tells
            yield from map(say, figures_changed(item, now))


def _unread(data: Mapping[str, Any]) -> Iterator[str]:
    """What a file says that this Drinklab does not know: a newer one may mean a hazard by it."""
    known = {f.name for f in fields(Ingredient)}
    there = texts.line(str(data.get("drinklab", "")))[:60]
    parts = [("", data, _KNOWN), *((item["name"], item, known) for item in data["ingredients"].values())]
    for name, held, names in parts:
        if words := tuple(texts.line(word)[:60] for word in held if word not in names):
            of = f" of {name!r}" if name else ""
            yield say(Fact("saved with what is unread", of=of, words=words[:5], there=there))


def _learned(data: Mapping[str, Any], called: str) -> Learned:
    """What was measured of a saved figure, checked."""
    one_of(f"kind of the measured {called}", data["kind"], KINDS_MEASURED)
    words = {
        name: texts.line(texts.clean(data.get(name, ""), f"{name} of the measured {called}", texts.NAME))
        for name in ("what", "instrument", "when", "batch")
    }
    for name in ("value", "pm", "prior", "prior_pm"):
        require(f"{name} of the measured {called}", saved_number(data[name], name), 0, 3000)
    if data.get("label") is not None:
        label = saved_number(data["label"], "label")
        require(f"label of the measured {called}", label, 0, 100)
        require(f"value of the measured {called}", data["value"], _LEAST_STRENGTH * label, 100, "% vol")
    require(f"count of the measured {called}", saved_number(data.get("count", 1), "count"), 1, 1e6)
    return Learned(**{f.name: data[f.name] for f in fields(Learned) if f.name in data} | words)


def recipe(data: Mapping[str, Any], where: str = "") -> Recipe:
    """The recipe in a `snapshot`, checked.

    Raises
    ------
    InputError
        If there is none, or a damaged one.
    """
    with damage("saved recipe", "a recipe", where):
        return Recipe.from_dict(setting_in(data)["recipe"])


def saved_ingredients(data: Mapping[str, Any]) -> list[Ingredient]:
    """The ingredients of saved data, checked."""
    if len(data["ingredients"]) > MOST_POURS:  # each is held against all others by its name
        raise InputError("number of ingredients", len(data["ingredients"]), f"at most {MOST_POURS}")
    return [_ingredient(key, item) for key, item in data["ingredients"].items()]


def _ingredient(key: str, data: Mapping[str, Any]) -> Ingredient:
    return _checked_once(key, json.dumps(data, ensure_ascii=False))


@functools.lru_cache(maxsize=1000)  # trials of one bar hold the same bottles: to check each takes half of opening them
def _checked_once(key: str, text: str) -> Ingredient:
    data = json.loads(text)
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
    measured = values.get("measured", ())
    if not isinstance(measured, (list, tuple)) or len(measured) > _MOST_MEASURED:
        raise InputError(f"measured of the ingredient {key!r}", Told("no list of figures"), "a list of a few figures")
    values["measured"] = tuple(_learned(one, key) for one in measured)
    item = Ingredient(**values | {"name": texts.line(values["name"])})
    for field in ("stated", "no_caution"):
        if type(said := getattr(item, field)) is not bool:
            raise InputError(f"{field} of the ingredient {key!r}", Told(type(said).__name__), "true or false")
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


@contextmanager
def damage(what: str, kind: str, where: str) -> Iterator[None]:
    """Whatever is wrong with opened data is one sentence that names the file."""
    try:
        yield
    except InputError as error:
        raise error.at(where or error.where) from None
    except BROKEN as error:
        raise InputError(what, reason(error), f"{kind} as Drinklab writes it", where) from None
