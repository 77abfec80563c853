"""What a learner has tried: one file a learner in the working folder, in plain JSON, under a code and no name.

>>> import tempfile
>>> folder = tempfile.mkdtemp()
>>> one = attempted(folder, "A7", "let_down", seed=3, typed="383", word="right")
>>> open_file(folder, "A7").attempts[0].exercise
'let_down'
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from .. import files, plain_data, texts
from ..errors import InputError, Told

FOLDER = "learners"
FORMAT, VERSION = "drinklab learner", 1
MOST_CODE = 24
_CODE = re.compile(rf"[^\W_][\w-]{{0,{MOST_CODE - 1}}}")
MOST_TYPED = 60  # letters of an answer that are kept
_CLOCK = range(2000, 2200)  # years that a clock can show; that of a computer whose battery is flat begins with 1970
WHAT = "learner's file"
USUAL = "me"  # who has given no code
WORDS = ("right", "other unit", "mistake", "too much", "too little", "unread", "worked shown")


@dataclass(frozen=True, slots=True)
class Attempt:
    """One answer: what was asked, what was typed, what it was worth, and how many hints were on the page by then."""

    exercise: str
    seed: int
    time: str
    typed: str
    word: str
    route: str = ""
    hints: int = 0

    @property
    def at(self) -> datetime:
        """When it was."""
        return datetime.fromisoformat(self.time)


@dataclass(frozen=True, slots=True)
class Learner:
    """All that is kept of a learner."""

    code: str
    attempts: tuple[Attempt, ...] = ()
    guesses: Mapping[str, float] = field(default_factory=dict)  # first guess of each lesson, in the answer's own unit
    done: tuple[str, ...] = ()  # lessons whose "why" was answered right
    unknown: Mapping[str, object] = field(default_factory=dict)  # of another hand: kept as it is

    def tries(self, exercise: str) -> list[Attempt]:
        """Attempts at an exercise, the first one first."""
        return [one for one in self.attempts if one.exercise == exercise]

    def solved(self, exercise: str) -> int:
        """How often it was solved: the next numbers are drawn by this count."""
        return len({one.seed for one in self.tries(exercise) if one.word == "right"})


def checked_code(code: object) -> str:
    """A learner's code: letters, figures, - and _, so that it can be a file's name.

    >>> checked_code(" Bar 3 ")
    Traceback (most recent call last):
    drinklab.errors.InputError: code is 'Bar 3'; it must be letters, figures, - and _, at most 24, such as A7.
    """
    text = str(code).strip()
    if not _CODE.fullmatch(text):
        raise InputError("code", text, f"letters, figures, - and _, at most {MOST_CODE}, such as A7")
    return text


def path_of(folder: str | Path, code: str) -> Path:
    """Where a learner's file is; capitals make no other learner."""
    path = Path(folder) / FOLDER / f"{checked_code(code).casefold()}.json"
    if not files.can_be_named(path.name, windows=True) and not files.is_there(path):
        raise InputError("code", code, "another one, since Windows has no file of this name")
    return path


def open_file(folder: str | Path, code: str) -> Learner:
    """A learner's file; a new learner where there is none yet. What came back beside it from a backup counts too.

    Raises
    ------
    InputError
        If the file is damaged or of a later version; it is left as it is.
    """
    path = path_of(folder, code)
    return _joined(read(path) if files.is_there(path) else Learner(checked_code(code)), path)


def _joined(one: Learner, path: Path) -> Learner:
    """A learner with what files say that came back beside hers from a backup; her first guesses stay."""
    for beside in files.listed(path.parent, ".json", "folder of learners", f"{path.stem}.restored-"):
        try:
            other = read(beside)
        except InputError:  # `everyone` says so
            continue
        if other.code.casefold() != one.code.casefold():
            continue
        if more := [attempt for attempt in other.attempts if attempt not in one.attempts]:
            one = replace(one, attempts=tuple(sorted((*one.attempts, *more), key=lambda attempt: attempt.time)))
        guesses, unknown = {**other.guesses, **one.guesses}, {**other.unknown, **one.unknown}
        one = replace(one, guesses=guesses, done=tuple(dict.fromkeys((*one.done, *other.done))), unknown=unknown)
    return one


def read(path: str | Path) -> Learner:
    """The learner of a file.

    Raises
    ------
    InputError
        In one sentence that names the file.
    """
    path = Path(path)
    return _of_text(files.read_text(path, WHAT), path.name)


def _of_text(text: str, file: str) -> Learner:
    try:
        data = plain_data.parse_json(text, WHAT, file)
        if data.get("format") != FORMAT:
            raise InputError(WHAT, Told("of another kind"), "one that Drinklab wrote", file)
        if data["version"] > VERSION:
            raise InputError(
                WHAT, Told(f"of version {data['version']}"), f"of version {VERSION}, or opened with a later Drinklab",
                file,
            )  # fmt: skip
        attempts = tuple(_attempt(row) for row in data["attempts"])
        guesses = {name: plain_data.saved_number(value, "first guess") for name, value in data["guesses"].items()}
        known = {"format", "version", "code", "attempts", "guesses", "done"}
        unknown = {name: value for name, value in data.items() if name not in known}
        return Learner(checked_code(data["code"]), attempts, guesses, tuple(map(str, data["done"])), unknown)
    except InputError as problem:
        raise problem if problem.where else problem.at(file) from None
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        said = Told(f"damaged ({texts.fit(str(error))[:60]})")
        raise InputError(WHAT, said, "as Drinklab writes it; it stays as it is: take another code", file) from None


def _attempt(row: Mapping[str, Any]) -> Attempt:
    one = Attempt(**row)
    if not all(isinstance(text, str) for text in (one.exercise, one.typed, one.route)) or one.word not in WORDS:
        raise ValueError("an answer in it is none")
    if not isinstance(one.seed, int) or not isinstance(one.hints, int):
        raise ValueError("an answer in it is none")
    if one.at.tzinfo is not None or one.at.year not in _CLOCK:  # of another year no next day could be told
        raise ValueError("an answer in it is none")
    return one


def keep(folder: str | Path, code: str, change: Callable[[Learner], Learner]) -> Learner:
    """Change a learner's file by a function of what it holds; other pages and processes wait.

    Raises
    ------
    InputError
        If the file cannot be read or written; it is then as it was.
    """
    path = path_of(folder, code)
    with files.alone(path):
        made = change(open_file(folder, code))
        text = to_text(made)
        _of_text(text, path.name)  # refuses what could not be read again
        files.write_over(path, text)
    return made


def to_text(one: Learner) -> str:
    """A learner's file as it is written."""
    data = {"format": FORMAT, "version": VERSION, "code": one.code, "guesses": dict(one.guesses), "done": one.done}
    data |= {"attempts": [asdict(attempt) for attempt in one.attempts]} | dict(one.unknown)
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def attempted(
    folder: str | Path, code: str, exercise: str, *, seed: int, typed: str, word: str, route: str = "", hints: int = 0,
    time: datetime | None = None,
) -> Learner:  # fmt: skip
    """Keep one answer."""
    at = (time or datetime.now()).isoformat(timespec="seconds")
    if int(at[:4]) not in _CLOCK:
        raise InputError("clock of this computer", at[:10], "set right; the answer is not kept")
    one = Attempt(exercise, seed, at, texts.fit(str(typed))[:MOST_TYPED], word, route, hints)
    return keep(folder, code, lambda was: replace(was, attempts=(*was.attempts, one)))


def guessed(folder: str | Path, code: str, lesson: str, value: float) -> Learner:
    """Keep the first guess of a lesson; a later one changes nothing."""
    return keep(folder, code, lambda was: replace(was, guesses={lesson: value} | dict(was.guesses)))


def finished(folder: str | Path, code: str, lesson: str) -> Learner:
    """Keep that a lesson's last question was answered right."""
    return keep(folder, code, lambda was: replace(was, done=tuple(dict.fromkeys((*was.done, lesson)))))


def last(folder: str | Path) -> str:
    """The code that was used last in a folder; `USUAL` where there is none.

    >>> last("no such folder")
    'me'
    """
    try:
        found = files.newest(Path(folder) / FOLDER, ".json", "folder of learners")
        return next((path.stem for path in found if _CODE.fullmatch(path.stem)), USUAL)
    except InputError:
        return USUAL


class Everyone(NamedTuple):
    """The learners of a folder by code, and what was wrong with other files, in words."""

    learners: list[Learner]
    problems: list[str]


def everyone(folder: str | Path) -> Everyone:
    """All learners who have a file in a folder."""
    found = Everyone([], [])
    for path in sorted(files.listed(Path(folder) / FOLDER, ".json", "folder of learners")):
        try:
            one, first = read(path), path.with_name(files.first_name(path.name))
            if path == first:
                found.learners.append(_joined(one, path))
            elif not files.is_there(first) or one.code.casefold() != first.stem:
                found.learners.append(one)  # else it is joined with that
        except InputError as problem:
            found.problems.append(str(problem))
    return found
