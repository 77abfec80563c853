"""The glasses that were tasted: saved trials with the liking that tastings and notes hold of them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from .. import logbook, measured, tasting, texts, trial
from .. import pantry as _pantry
from ..errors import InputError, Told, require
from ..facts import Fact, say
from ..files import first_name
from ..learned import by_measure, tool_of
from ..pantry import Pantry
from ..profile import AXES
from ..setting import Setting
from ..tasting import ABSENT, Tasting
from ..units import number, single
from .palate import HIGH, LOW
from .palate import Told as Said
from .prior import Family, OwnAxis

LEAST = 3  # scored glasses; of two nothing bends
MOST = 60
LIKING, NOTED = "liking", re.compile(r"^\s*liking\s*:", re.IGNORECASE)
ALONE = "you"  # who a lone number in a note is from
# One standard deviation of a panel's score of a glass, and of a bottle alone about the others. [points]
_SCORE_PM, _BOTTLE_PM = 0.5, 10.0
_OURS = re.compile(r"Taster \d+")  # who has no name
_APART = re.compile(r"(?:[:=]|(?<=\s)[-–—](?=\s))\s*([^\s:=]+)$")
_FIGURE = re.compile(r"\W*[\d½¼¾⅓⅔]")


@dataclass(frozen=True, slots=True)
class Glass:
    """A drink that was tasted, as served.

    Attributes
    ----------
    name, file : str
        The title, and the file of its saved trial; "" for one that was not saved.
    setting : Setting or None
        None where nothing was said of it, and it was not opened.
    figures : tuple of float
        Strength [% vol], sugar and acid [g/L] of one glass.
    volume : float
        Of all of it as iced, before later steps. [mL]
    scores : tuple of (taster, points)
    """

    name: str
    setting: Setting | None
    figures: tuple[float, float, float]
    volume: float
    scores: tuple[tuple[str, float], ...] = ()
    file: str = ""

    @property
    def drink(self) -> Setting:
        """How it was made, of a glass of which something was said."""
        assert self.setting is not None
        return self.setting

    @property
    def mean(self) -> float:
        """Mean of its ratings; not a number without any. [points]"""
        return float(np.mean([score for _, score in self.scores])) if self.scores else float("nan")


@dataclass(frozen=True, slots=True)
class Tasted:
    """Glasses, and who liked which of two better: (taster, better, worse) by place in `glasses`.

    A taster whose name is spelt in several ways (`texts.called`) goes by the first of them.
    `unread` says which saved trials could not be read, and why: they count as not scored. `news` says in sentences what
    of the others is not as it was when they were saved, and tasted: such as a bottle of other figures.
    """

    glasses: tuple[Glass, ...]
    choices: tuple[tuple[str, int, int], ...] = ()
    shelf: Pantry = field(default_factory=_pantry.load, repr=False, compare=False)
    unread: tuple[InputError, ...] = field(default=(), compare=False)
    news: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        spelt: dict[str, str] = {}
        for who in self.tasters:
            spelt.setdefault(texts.called(who), who)
        if len(spelt) == len(self.tasters):
            return
        glasses = (
            replace(glass, scores=tuple((spelt[texts.called(who)], score) for who, score in glass.scores))
            for glass in self.glasses
        )
        object.__setattr__(self, "glasses", tuple(glasses))
        object.__setattr__(self, "choices", tuple((spelt[texts.called(who)], *pair) for who, *pair in self.choices))

    @property
    def tasters(self) -> tuple[str, ...]:
        """All who have said something, in the order they come."""
        rated = (who for glass in self.glasses for who, _ in glass.scores)
        return tuple(dict.fromkeys((*rated, *(who for who, _, _ in self.choices))))

    def scored(self) -> Tasted:
        """Only the glasses of which something was said.

        Raises
        ------
        InputError
            Where fewer than three were: it says how many more it takes.
        """
        in_choice = {place for _, *pair in self.choices for place in pair}
        kept = [i for i, glass in enumerate(self.glasses) if glass.scores or i in in_choice]
        if len(kept) < LEAST:
            more = LEAST - len(kept)
            allowed = f"at least {LEAST}: {more} more {'has' if more == 1 else 'have'} to be tasted and scored"
            raise InputError("number of scored glasses", len(kept), allowed)
        require("number of scored glasses", len(kept), LEAST, MOST)
        at = {i: k for k, i in enumerate(kept)}
        choices = tuple((who, at[a], at[b]) for who, a, b in self.choices)
        return Tasted(tuple(self.glasses[i] for i in kept), choices, self.shelf, self.unread, self.news)

    def own(self, axis: OwnAxis) -> np.ndarray:
        """The own axis of each glass."""
        return np.array([_own(glass, axis, self.shelf) for glass in self.glasses])

    def told(self, family: Family, axis: OwnAxis | None = None) -> Said:
        """What was said, glasses placed in a family, for `palate.fit`."""
        figures = np.array([glass.figures for glass in self.glasses])
        if axis is not None:
            figures = np.column_stack([figures, self.own(axis)])
        people = {who: k for k, who in enumerate(self.tasters)}
        scores = [(i, people[who], score) for i, glass in enumerate(self.glasses) for who, score in glass.scores]
        return Said.of(family.place(figures), scores, [(a, b) for _, a, b in self.choices])


def _own(glass: Glass, axis: OwnAxis, shelf: Pantry) -> float:
    ids, amounts = poured_of(glass.drink, shelf)
    return float(axis.of(ids, amounts, np.array(glass.volume)))


def poured_of(drink: Setting, shelf: Pantry) -> tuple[list[str], np.ndarray]:
    """Ids of a drink's pours, and what this bar's measure pours of each: an own axis goes by it, not by marks. [mL]"""
    share = tool_of(drink.tool, shelf.learned).share
    return [pour.ingredient for pour in drink.recipe.pours], by_measure(drink.recipe.amounts, share)


def scored_axis(name: str, tasted: Tasted, scores: Sequence[float]) -> OwnAxis:
    """An own axis from one number for each whole glass, such as a panel's mean bitterness of 0 to 10.

    What is in the glasses takes its part in the numbers in proportion to its share of the glass, as in a linear mixture
    model (NIST/SEMATECH e-Handbook, 5.5.4.3): so a glass that nobody has poured yet has a number too. A bottle alone is
    held to lie within 20 points of the mean bottle, 19 in 20, and a score to be good to 1 point: judgements. What the
    glasses do not tell apart has about the same number.

    Parameters
    ----------
    name : str
    tasted : Tasted
        Glasses of which something was said.
    scores : sequence of float
        Of each glass, in their order, 0 to 10.

    Raises
    ------
    InputError
        For another count of numbers than of glasses, or one beyond 0 to 10.
    """
    field_ = f"{name} of each glass"
    if len(scores) != len(tasted.glasses):
        told = Told(f"{len(scores)} numbers")
        raise InputError(field_, told, f"one number for each of the {len(tasted.glasses)} glasses")
    value = np.array([single(number(one, field_), field_) for one in scores], dtype=float)
    require(field_, value, LOW, HIGH)
    poured = [poured_of(glass.drink, tasted.shelf) for glass in tasted.glasses]
    ids = list(dict.fromkeys(key for keys, _ in poured for key in keys))
    shares = np.zeros((len(value), len(ids)))
    for row, (keys, amounts), glass in zip(shares, poured, tasted.glasses, strict=True):
        for key, ml in zip(keys, amounts, strict=True):
            row[ids.index(key)] += ml / glass.volume
    from scipy.optimize import lsq_linear  # loads on first use

    middle = float(value @ shares.sum(axis=1) / (shares.sum(axis=1) ** 2).sum())
    # Bayes' rule with both normal is least squares with a row for each bottle; no bottle has less than nothing of it.
    tight = _SCORE_PM / _BOTTLE_PM * np.eye(len(ids))
    found = lsq_linear(
        np.vstack([shares, tight]), np.r_[value, tight.sum(axis=1) * middle], bounds=(0.0, OwnAxis.MOST)
    )  # fmt: skip
    miss = float(np.sqrt(np.mean((shares @ found.x - value) ** 2)))
    return OwnAxis(name, dict(zip(ids, np.round(found.x, 6).tolist(), strict=True)), miss)


def glass(
    setting: Setting, shelf: Pantry, name: str = "", scores: Iterable[tuple[str, object]] = (), file: str = ""
) -> Glass:
    """A drink with its ratings, (taster, 0 to 10) each.

    Raises
    ------
    InputError
        For a rating beyond 0 to 10, or two of one taster.
    """
    name = name or setting.recipe.name
    kept: dict[str, tuple[str, float]] = {}
    for who, score in scores:
        who = texts.line(texts.clean(who, "taster", 60))
        field_ = f"liking of {name!r} by {who!r}"
        if texts.called(who) in kept:
            raise InputError(field_, Told("there twice"), "one number")
        kept[texts.called(who)] = who, single(number(score, field_), field_)
        require(field_, kept[texts.called(who)][1], LOW, HIGH)
    served = trial.run(setting, pantry=shelf, draws=0)
    return Glass(name, setting, _figures(served.served.profile), iced_volume(served), tuple(kept.values()), file)


def _figures(of: object) -> tuple[float, float, float]:
    strong, sweet, sour = (float(getattr(of, axis)) for axis in AXES)
    return strong, sweet, sour


def run(one: Glass, shelf: Pantry) -> trial.Trial:
    """A tasted glass again, as it was made."""
    return trial.run(one.drink, pantry=shelf)


def iced_volume(run: trial.Trial) -> float:
    """Of all of it, ice and top counted, before any later step. [mL]"""
    before = run.worked[0][1] if run.worked else None
    return float(before[0].volume()) if before is not None else float(run.made.volume)


def from_logbook(folder: str | Path, files: Sequence[str | Path] | None = None) -> Tasted:
    """Saved trials with the liking that tastings and notes hold of them.

    Of tastings count those whose answers are all in: scales with a word "liking", and preferences. A note counts where
    a line of it reads "Liking: Ada 7, Bo 6.5", or "Liking: 7" of one's own. Tasters without a name ("Taster 1") are
    other people in every tasting.

    Parameters
    ----------
    folder : path
        Working folder.
    files : sequence, optional
        Of the trials wanted, by default all that are not in the bin.

    Raises
    ------
    InputError
        For a file that is no trial, or, of `files` that were asked for, a note whose liking cannot be read.
    """
    wanted = None if files is None else {Path(file).name for file in files}
    everything = logbook.entries(folder, in_bin=None)[0]
    found = [one for one in reversed(everything) if not one.in_bin and (wanted is None or one.path.name in wanted)]
    names = [one.path.name for one in found]
    if missing := sorted((wanted or set()) - set(names)):
        raise InputError("trial", missing[0], "one of the saved trials that are not in the bin")
    places = {name: i for i, name in enumerate(names)}
    scores, choices = _of_tastings(folder, places, _trial_of(everything))
    shelf, glasses, unread = measured.shelf(folder), [], []
    news: list[str] = []
    for i, one in enumerate(found):
        untold = Glass(one.title, None, _figures(SimpleNamespace(**one.figures)), 0.0, (), one.path.name)
        try:
            noted = [pair for _, note in one.notes for pair in read_note(note, one.title)]
            said = {texts.called(who): (who, score) for who, score in (*scores.get(i, {}).items(), *noted)}
            if not said and not any(i in pair for _, *pair in choices):
                glasses.append(untold)
                continue
            opened = logbook.open_saved(one.path, pantry=shelf)
            here = glass(opened.setting, opened.pantry, one.title, said.values(), one.path.name)
        except InputError as problem:
            if files is not None:
                raise
            unread.append(problem)
            choices = [choice for choice in choices if i not in choice[1:]]
            glasses.append(untold)
        else:
            shelf = opened.onto(shelf)
            glasses.append(here)
            news += (say(Fact("news of a trial", title=one.title, said=note)) for note in opened.notes)
    return Tasted(tuple(glasses), tuple(choices), shelf, tuple(unread), tuple(news))


_Meant = Callable[[str, str, str], str]


def _trial_of(among: Sequence[logbook.Entry]) -> _Meant:
    """Which trial a tasting's file means by a name and, where it has that, the time of saving: two may have the name.

    Of an earlier Drinklab's, which has the name alone, what was said of the trials tells.
    """
    said = {(first_name(file), first_name(one.path.name)): one.path.name for one in among for file in one.tastings}

    def trial_of(file: str, name: str, saved: str) -> str:
        told = "" if saved else said.get((first_name(file), first_name(name)), "")
        one = None if told else tasting.trial_of(among, name, saved)
        return one.path.name if one else told

    return trial_of


def _of_tastings(
    folder: str | Path, places: Mapping[str, int], trial_of: _Meant
) -> tuple[dict[int, dict[str, float]], list[tuple[str, int, int]]]:
    scores: dict[int, dict[str, list[float]]] = {}
    choices: list[tuple[str, int, int]] = []
    seen: set[str] = set()
    for path, one in tasting.entries(folder)[0]:  # newest first: of two files of one tasting the last answers count
        if one.id in seen or one.waiting:
            continue
        seen.add(one.id)
        here = [places.get(trial_of(path.name, *of)) for of in zip(one.trials, one.trials_saved, strict=True)]
        for serving in one.servings:
            answer = one.answers[serving.taster]
            if answer == ABSENT:
                continue
            who = _named(serving.taster, one)
            words = [word.casefold() for word in one.scales]
            if isinstance(answer, Mapping) and LIKING in words:
                for code, row in answer.items():
                    if (place := here["AB".index(serving.drink(code))]) is not None:
                        scores.setdefault(place, {}).setdefault(who, []).append(row[words.index(LIKING)])
            elif one.method == "preference" and isinstance(answer, str):
                better, worse = here if serving.drink(answer) == "A" else here[::-1]
                if better is not None and worse is not None:
                    choices.append((who, better, worse))
    return {i: {who: float(np.mean(all_)) for who, all_ in of.items()} for i, of in scores.items()}, choices


def _named(taster: str, one: Tasting) -> str:
    return f"{taster} of {one.time[:10]} {one.id}" if _OURS.fullmatch(taster) else taster


def read_note(note: str, title: str = "") -> tuple[tuple[str, float], ...]:
    """Who liked a drink how much, by the lines of a note that begin with "Liking:".

    >>> read_note("Too thin?\\nLiking: Ada 7, Bo 6.5"), read_note("liking: 8")
    ((('Ada', 7.0), ('Bo', 6.5)), (('you', 8.0),))

    Raises
    ------
    InputError
        For what is no name and number, a second number ("Ada 10 of 10"; "Ada 2: 8" is of Ada 2), or a name twice.
    """
    found: dict[str, tuple[str, float]] = {}
    field_ = f"liking of {title!r}" if title else "liking"
    for line in filter(NOTED.match, note.splitlines()):
        parts = [part.strip() for part in line.partition(":")[2].split(",") if part.strip()]
        for part in parts:
            apart = _APART.search(part)
            who, last = (part[: apart.start()], apart[1]) if apart else part.rpartition(" ")[::2]
            who = texts.line(who)
            # "Ada 10 of 10" and "Ada 7,5; Bo 3" hold another number, and it is no part of the name
            other = not apart and not _OURS.fullmatch(who) and any(map(_FIGURE.match, who.split()))
            nobody = bool(who) and not re.search(r"\w", who)
            if "/" in part or other or nobody or (not who and len(parts) > 1):
                raise InputError(field_, part, "a name and a number of 0 to 10, such as “Ada 7, Bo 6.5”, or one number")
            points = float(number(last, field_))
            require(field_, points, LOW, HIGH)
            if texts.called(who or ALONE) in found:
                raise InputError(f"{field_} by {who or ALONE!r}", Told("there twice"), "one number")
            found[texts.called(who or ALONE)] = who or ALONE, points
    return tuple(found.values())
