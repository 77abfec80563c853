"""A tasting from its key to its answers, as one value and as files of the working folder."""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from pathlib import Path

from .. import __version__, files, logbook, strength, tables, texts
from ..declared import Declared
from ..errors import InputError, InputErrors, Told, one_of, require
from ..facts import Fact, from_data, say, to_data
from ..steps import Caution
from ..units import number, whole_number
from . import counts, scales, serving
from .counts import METHODS, Result
from .scales import Rated
from .serving import SCALES, WAYS, Plan, Portion, Sample, Serving

FORMAT, TASTINGS = 2, "tastings"  # 1 kept cautions as sentences
_SAID = ("cautions", "making")
ABSENT = "absent"  # the answer of one who did not taste after all
MOST_SCALES = 12
# Cautions that concern who drinks; the others concern who makes the drink, and stand with the key.
_TASTERS = ("raw egg", "grapefruit", "caffeine", "quinine", "choking", "strong jelly", "gelatin")
_COLUMNS = ("tasting", "taster", "answer")
Answer = str | dict[str, tuple[float, ...]]


@dataclass(frozen=True)
class Tasting:
    """A tasting: its question, its key and, once they are in, its answers.

    Attributes
    ----------
    names : (str, str)
        Of drinks A and B.
    asks : str
        What is compared ("sweeter"), where the method asks for a property.
    expected : {"A", "B"}
        Which drink is expected to have more of it, for "paired, expected".
    scales : tuple of str
        What is rated, where the method is "scales".
    allergens, may_contain, unstated : tuple of str
        Of both drinks together.
    cautions, making : tuple of Fact
        For who tastes and for who makes them; sentences where an earlier Drinklab saved it.
    portion : Portion
    swallow : bool
        Whether the tasters swallow; else they spit out.
    servings : tuple of Serving
        The key.
    trials : (str, str)
        Files of the saved trials that A and B are; "" where one was not saved.
    answers : dict
        By taster: codes joined by "+", "absent", "" for none yet; of scales the ratings of each code.
    """

    method: str
    alpha: float
    share: float
    similar: bool
    names: tuple[str, str]
    seed: int
    portion: Portion
    servings: tuple[Serving, ...]
    asks: str = ""
    expected: str = "A"
    scales: tuple[str, ...] = ()
    swallow: bool = True
    allergens: tuple[str, ...] = ()
    may_contain: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
    cautions: tuple[Fact | str, ...] = ()
    making: tuple[Fact | str, ...] = ()
    left_out: tuple[str, ...] = ()
    time: str = ""
    trials: tuple[str, str] = ("", "")
    answers: Mapping[str, Answer] = field(default_factory=dict)

    @property
    def id(self) -> str:
        """What tells this tasting's key from all others, on every sheet; no spreadsheet takes it for a number."""
        key = [self.method, self.names, self.time, [[s.taster, s.order, s.codes] for s in self.servings]]
        return f"t{zlib.crc32(json.dumps(key).encode()):08x}"

    @property
    def waiting(self) -> tuple[str, ...]:
        """Tasters without an answer."""
        return tuple(one.taster for one in self.servings if not self.answers.get(one.taster))

    def of(self, taster: str) -> Serving:
        """What stood before a taster."""
        return next(one for one in self.servings if one.taster == taster)


def prepare(
    made: Plan,
    a: Sample,
    b: Sample,
    given: Portion,
    *,
    seed: int = 1,
    asks: str = "",
    expected: str = "A",
    scales: Sequence[str] = (),
    swallow: bool = True,
    time: datetime | None = None,
) -> Tasting:
    """Draw orders and codes for a plan.

    Parameters
    ----------
    made : Plan
    a, b : Sample
    given : Portion
        From `serving.portion`.
    seed : int
        The same one draws the same orders and codes.
    asks, expected, scales, swallow
        See `Tasting`.
    time : datetime, optional
        Now, by default.

    Returns
    -------
    Tasting

    Raises
    ------
    InputError
        If one tasting goes beyond the stop limit, two drinks have one name, or the question has no words.

    Examples
    --------
    >>> a, b = Sample("Dry", 0.1), Sample("Drier", 0.1)
    >>> one = prepare(serving.plan(6), a, b, serving.portion(a, b))
    >>> len(one.servings), one.waiting[:1]
    (6, ('Taster 1',))
    """
    a, b = (replace(one, name=texts.line(texts.clean(one.name, "name of a drink", texts.NAME))) for one in (a, b))
    if a.name == b.name:
        raise InputError("name of B", b.name, "another than that of A, so that the key can tell them apart")
    serving.with_limit(given)
    asks = texts.line(texts.clean(asks, "what is compared", 60))
    if made.method.startswith("paired") and not asks:
        raise InputError("what is compared", Told("empty"), "a word such as “sweeter”")
    words = _scales(scales) if made.method == SCALES else ()
    both = (a.said, b.said)
    holds = tuple(dict.fromkeys(w for said in both for w in said.allergens))
    may = tuple(dict.fromkeys(w for said in both for w in said.may_contain if w not in holds))
    now = time if time is not None else datetime.now().astimezone()
    return Tasting(
        made.method, made.alpha, made.share, made.similar, (a.name, b.name), whole_number(seed, "seed"), given,
        serving.servings(made.seated, made.method, seed), asks if made.method.startswith("paired") else "",
        one_of("expected drink", expected, "AB"),
        words, bool(swallow), holds, may, tuple(dict.fromkeys(w for said in both for w in said.unstated)),
        _cautions(both, tasters=True), _cautions(both, tasters=False),
        tuple(taster.name for taster, _ in made.left_out), now.isoformat(timespec="milliseconds"), (a.file, b.file),
    )  # fmt: skip


def _cautions(both: Sequence[Declared], *, tasters: bool) -> tuple[Caution, ...]:
    return tuple(dict.fromkeys(c for said in both for c in said.cautions if (c.code in _TASTERS) == tasters))


def _scales(words: Sequence[str]) -> tuple[str, ...]:
    cleaned = [texts.line(texts.clean(word, "scale", 40)) for part in words for word in re.split(r"[,;]", part)]
    found = tuple(dict.fromkeys(word for word in cleaned if word))
    if not 1 <= len(found) <= MOST_SCALES:
        raise InputError("scales", Told(f"{len(found)} words"), f"1 to {MOST_SCALES} words, such as sweet, sour")
    return found


# --- answers ------------------------------------------------------------------------------------------------


def choices(one: Serving, method: str) -> tuple[str, ...]:
    """What a taster can answer: a code, or of four glasses one of the three ways to sort them into pairs.

    >>> choices(Serving("Ada", "AABB", ("152", "276", "391", "428")), "tetrad")
    ('152+276', '152+391', '152+428')
    """
    if method == "tetrad":
        first, *rest = one.codes
        return tuple(f"{first}+{other}" for other in rest)
    return tuple(code for code in one.codes if code != serving.REFERENCE)


def checked(tasting: Tasting, taster: str, answer: object) -> Answer:
    """An answer as it is kept; "" where there is none yet.

    Raises
    ------
    InputError
        For an unknown taster, a code that did not stand before them, or a rating beyond its scale.
    """
    if taster not in {one.taster for one in tasting.servings}:
        raise InputError("taster", taster, "one of this tasting")
    one = tasting.of(taster)
    if answer is None or answer == "" or answer == ABSENT:
        return answer or ""
    if tasting.method == SCALES:
        return _ratings(tasting, one, answer)
    allowed = choices(one, tasting.method)
    given = str(answer).strip().casefold()
    if given == ABSENT:
        return ABSENT
    if tasting.method == "tetrad":
        pair = set(given.replace("+", " ").replace("-", " ").split())
        if len(pair) == 2 and pair <= set(one.codes):
            if one.codes[0] not in pair:
                pair = set(one.codes) - pair
            given = f"{one.codes[0]}+{(pair - {one.codes[0]}).pop()}"
    if given not in allowed:
        raise InputError(f"answer of {taster!r}", str(answer), f"one of {', '.join(allowed)}, or {ABSENT!r}")
    return given


def _ratings(tasting: Tasting, one: Serving, answer: object) -> Answer:
    field_ = f"ratings of {one.taster!r}"
    if not isinstance(answer, Mapping) or set(answer) != set(one.codes):
        raise InputError(field_, Told("not of both glasses"), f"of {' and '.join(one.codes)}")
    kept = {}
    for code in one.codes:
        row = list(answer[code])
        if len(row) != len(tasting.scales):
            raise InputError(
                f"{field_}, {code}", Told(f"{len(row)} numbers"), f"one for each of {', '.join(tasting.scales)}"
            )
        kept[code] = tuple(float(number(v, f"{field_}, {code}")) for v in row)
        require(f"{field_}, {code}", kept[code], scales.LOW, scales.HIGH)
    return kept


def answered(tasting: Tasting, answers: Mapping[str, object]) -> Tasting:
    """The tasting with these answers in place of those it has; all that is wrong is told at once.

    Examples
    --------
    >>> a, b = Sample("Dry", 0.1), Sample("Drier", 0.1)
    >>> one = prepare(serving.plan(6), a, b, serving.portion(a, b))
    >>> answered(one, {"Taster 9": "527"})
    Traceback (most recent call last):
    drinklab.errors.InputError: taster is 'Taster 9'; it must be one of this tasting.
    """
    kept, wrong = {}, []
    for taster, answer in answers.items():
        try:
            kept[taster] = checked(tasting, taster, answer)
        except InputError as error:
            wrong.append(error)
    if wrong:
        raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)
    return replace(tasting, answers=kept)


def is_right(tasting: Tasting, taster: str) -> bool:
    """Whether an answer is right; of two-sided questions whether it names drink A, else the expected one."""
    one, answer = tasting.of(taster), tasting.answers[taster]
    if tasting.method == "tetrad":
        first, second = answer.split("+")
        return one.drink(first) == one.drink(second)
    drink = one.drink(answer)
    if tasting.method == "triangle":
        return one.order.count(drink) == 1
    if tasting.method == "duo-trio":
        return drink == one.order[0]
    return drink == (tasting.expected if tasting.method == "paired, expected" else "A")


@dataclass(frozen=True, slots=True)
class Found:
    """What a tasting found.

    `result` of a choice, `rated` of scales. `most` are the right answers at which the drinks still count as alike, and
    `alike` whether so few were right; None where that was not asked. `power` is the chance that so many tasters had
    to show what was looked for.
    """

    n: int
    absent: tuple[str, ...]
    result: Result | None = None
    rated: tuple[Rated, ...] = ()
    most: int | None = None
    alike: bool | None = None
    power: float | None = None


def findings(tasting: Tasting) -> Found:
    """What the answers show.

    Raises
    ------
    InputError
        Naming those without an answer; nothing is found before the last one is in, or known to be absent.
    """
    if tasting.waiting:
        names = ", ".join(tasting.waiting[:5]) + (
            f" and {len(tasting.waiting) - 5} more" if len(tasting.waiting) > 5 else ""
        )
        raise InputError(f"answer of {names}", Told("missing"), f"given, or {ABSENT!r}, before anything is found")
    absent = tuple(one.taster for one in tasting.servings if tasting.answers[one.taster] == ABSENT)
    there = [one for one in tasting.servings if one.taster not in absent]
    if not there:
        raise InputError("tasters", Told("all absent"), "at least one who has tasted")
    if tasting.method == SCALES:
        ratings = {}
        for at, word in enumerate(tasting.scales):
            rows = [{one.drink(code): row[at] for code, row in tasting.answers[one.taster].items()} for one in there]
            ratings[word] = [row["A"] for row in rows], [row["B"] for row in rows]
        return Found(len(there), absent, rated=scales.rated_all(ratings, 1 - tasting.alpha))
    n, method = len(there), tasting.method
    result = counts.difference_test(n, sum(is_right(tasting, one.taster) for one in there), method, tasting.alpha)
    if tasting.similar:
        most = counts.similar_count(n, method, tasting.share, tasting.alpha)
        ahead = max(result.correct, n - result.correct) if METHODS[method].sides == 2 else result.correct
        chance = counts.similar_power(n, tasting.share, method, tasting.alpha)
        return Found(n, absent, result, most=most, alike=ahead <= most, power=chance)
    return Found(n, absent, result, power=counts.power(n, tasting.share, method, tasting.alpha))


# --- answers as a table --------------------------------------------------------------------------------------


def answers_csv(tasting: Tasting) -> str:
    """The answers as a table to fill in: one row a taster; of scales one row a glass."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    if tasting.method == SCALES:
        rows.writerow(_scale_columns(tasting))
        for one in tasting.servings:
            for code in one.codes:
                given = tasting.answers.get(one.taster) or {}
                row = [ABSENT] * len(tasting.scales) if given == ABSENT else given.get(code, [""] * len(tasting.scales))
                rows.writerow([tasting.id, tables.no_formula(one.taster), code, *row])
    else:
        rows.writerow(_COLUMNS)
        for one in tasting.servings:
            rows.writerow([tasting.id, tables.no_formula(one.taster), tasting.answers.get(one.taster, "")])
    return out.getvalue()


def _scale_columns(tasting: Tasting) -> list[str]:
    return ["tasting", "taster", "code", *map(tables.no_formula, tasting.scales)]


def read_answers(tasting: Tasting, path: str | Path) -> Tasting:
    """The tasting with the answers of a CSV file, as `answers_csv` lays it out.

    Raises
    ------
    InputError
        Naming the file, and every row that is of another tasting, of no taster, a second one, without an answer, or
        with one that cannot be.
    """
    path, what = Path(path), "answers"
    text = texts.clean(files.read_text(path, what).removeprefix("\ufeff"), what)
    (_, header), *rows = tables.cells(text, path.name)[1] if text.strip() else [(1, [])]
    wanted = _scale_columns(tasting) if tasting.method == SCALES else list(_COLUMNS)
    if header != wanted:
        raise InputError("columns", ", ".join(header), ", ".join(wanted), path.name)
    return _from_rows(tasting, rows, path.name)


def _from_rows(tasting: Tasting, rows: list[tuple[int, list[str]]], name: str) -> Tasting:
    wide = 3 + len(tasting.scales) if tasting.method == SCALES else 3
    known = {name: one.taster for one in tasting.servings for name in (tables.no_formula(one.taster), one.taster)}
    found: dict[str, object] = {}
    wrong = []
    for at, row in rows:
        where = f"{name}, row {at}"
        try:
            if len(row) != wide:
                raise InputError("row", Told(f"{len(row)} cells wide"), f"{wide} cells wide", where)
            if row[0] != tasting.id:
                raise InputError("tasting", row[0], f"{tasting.id!r}; the row is of another tasting", where)
            if row[1] not in known:
                raise InputError("taster", row[1], "one of this tasting", where)
            _take(tasting, found, known[row[1]], row[2:], where)
        except InputError as error:
            wrong.append(error)
    named = {known.get(row[1]) for _, row in rows if len(row) > 1}
    for one in tasting.servings:
        if one.taster not in named:
            wrong.append(InputError(f"answer of {one.taster!r}", Told("missing"), f"a row, or {ABSENT!r}", name))
    if tasting.method == SCALES:
        for taster, rated in found.items():
            if ABSENT in (said := list(rated.values())):
                found[taster] = ABSENT
                if said.count(ABSENT) < len(said):
                    told = Told(f"{ABSENT} for one glass, rated for another")
                    wrong.append(InputError(f"answer of {taster!r}", told, "the same for both", name))
    if wrong:
        raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)
    return answered(tasting, found)


def _take(tasting: Tasting, found: dict, taster: str, cells: list[str], where: str) -> None:
    """One row into `found`."""
    if tasting.method != SCALES:
        if taster in found:
            raise InputError("taster", taster, "on one row only", where)
        if not cells[0]:
            raise InputError(f"answer of {taster!r}", Told("missing"), f"a code, or {ABSENT!r}", where)
        try:
            found[taster] = checked(tasting, taster, cells[0])
        except InputError as error:
            raise error.at(where) from None
        return
    code, *row = cells
    if code not in tasting.of(taster).codes:
        raise InputError(f"code of {taster!r}", code, f"one of {', '.join(tasting.of(taster).codes)}", where)
    absent = all(cell.casefold() == ABSENT for cell in row)
    rated = found.setdefault(taster, {})
    if code in rated:
        raise InputError(f"code {code} of {taster!r}", Told("there twice"), "on one row only", where)
    rated[code] = (
        ABSENT if absent else tuple(_rating(c, w, taster, where) for w, c in zip(tasting.scales, row, strict=True))
    )


def _rating(cell: str, word: str, taster: str, where: str) -> float:
    """One rating; of "7/10" one would read 7, another 0.7."""
    field_ = f"{word} of {taster!r}"
    if "/" in cell or "⁄" in unicodedata.normalize("NFKC", cell):
        raise InputError(field_, cell, "a number of 0 to 10, such as 7 or 7.5", where)
    try:
        return float(number(cell, field_))
    except InputError as error:
        raise InputError(error.field, error.value, error.allowed, where) from None


# --- files --------------------------------------------------------------------------------------------------


def to_dict(tasting: Tasting) -> dict:
    """A tasting as plain data for JSON."""
    said = {name: [to_data(one) for one in getattr(tasting, name)] for name in _SAID}
    kept = asdict(replace(tasting, **dict.fromkeys(_SAID, ()))) | said
    return {"format": FORMAT, "drinklab": __version__, "id": tasting.id, "tasting": kept}


def from_dict(data: Mapping, where: str = "") -> Tasting:
    """The tasting in plain data, all of it checked.

    Raises
    ------
    InputError
        Naming the file: if it is of a newer Drinklab, damaged, or its key does not fit.
    """
    what = "saved tasting"
    try:
        if whole_number(data["format"], "format", 1) > FORMAT:
            raise InputError("format", data["format"], f"at most {FORMAT}; a newer Drinklab wrote it", where)
        kept = dict(data["tasting"])
        answers = kept.pop("answers")
        tasting = _built(kept)
        if data["id"] != tasting.id:
            raise InputError("key", Told("another than the sheets'"), "as Drinklab wrote it; it does not fit", where)
        return answered(tasting, {texts.clean(k, "taster", 60): v for k, v in dict(answers).items()})
    except InputError as error:
        raise error.at(where) from None
    except (LookupError, TypeError, AttributeError, ValueError) as error:
        told = Told(f"damaged ({type(error).__name__})")
        raise InputError(what, told, "a tasting as Drinklab wrote it", where) from None


def _built(kept: dict) -> Tasting:
    """The key's own rules: every code once, every order one that is asked in this way."""
    method = one_of("method", kept["method"], WAYS)
    for listed in ("scales", "allergens", "may_contain", "unstated", "left_out", "names"):
        kept[listed] = tuple(texts.clean(word, listed, 1000) for word in kept[listed])
    for listed in _SAID:
        found = map(from_data, kept[listed])
        kept[listed] = tuple(one if isinstance(one, str) else Caution(one.code, **dict(one.numbers)) for one in found)
        for one in kept[listed]:
            texts.clean(say(one), listed, 1000)
    kept["trials"] = tuple(texts.clean(name, "file of a trial", texts.NAME) for name in kept.get("trials", ("", "")))
    for pair in ("names", "trials"):
        if len(kept[pair]) != 2:
            raise InputError(pair, Told(f"{len(kept[pair])} of them"), "two, of A and B")
    if method == SCALES:
        kept["scales"] = _scales(kept["scales"])
    given = Portion(**kept["portion"])
    for name, value, high in (("sip", given.sip, serving.MOST_SIP), ("alcohol", given.grams, 1e4),
                              ("volume", given.volume, 1e4), ("limit", given.limit, serving.MOST_LIMIT),
                              ("drinks", given.drinks, 1e4), ("pm", given.pm or 0, 1e4)):  # fmt: skip
        require(name, logbook.saved_number(value, name), 0, high)
    one_of("country", given.country, strength.countries())
    whole_number(given.glasses, "glasses", 1, serving.MOST_SIP)
    if given.rounds is not None:
        whole_number(given.rounds, "tastings until the limit", 0)
    for name in ("similar", "swallow"):  # "no" would count as yes
        if type(kept[name]) is not bool:
            raise InputError(name, kept[name], "true or false")
    made = tuple(
        Serving(texts.clean(s["taster"], "taster", 60), s["order"], tuple(str(code) for code in s["codes"]))
        for s in kept["servings"]
    )
    require("tasters", len(made), 1, counts.MOST_TASTERS)
    seen: dict[str, str] = {}
    for one in made:
        one_of(f"order of {one.taster!r}", one.order, serving.orders_of(method))
        if len(one.codes) != len(one.order):
            raise InputError(f"codes of {one.taster!r}", Told(f"{len(one.codes)}"), f"{len(one.order)}, one a glass")
        for code in one.codes:
            if code == serving.REFERENCE:
                continue
            if code in seen:
                raise InputError(
                    f"code {code}", Told(f"on the sheets of {seen[code]!r} and {one.taster!r}"), "on one only"
                )
            if not (len(code) == 3 and code.isdecimal() and code.isascii()):
                raise InputError(f"code of {one.taster!r}", code, "three digits")
            seen[code] = one.taster
    if len({one.taster for one in made}) != len(made):
        raise InputError("tasters", Told("of one name"), "each of another name")
    require("alpha", logbook.saved_number(kept["alpha"], "alpha"), 0.0001, 0.5)
    require("share", logbook.saved_number(kept["share"], "share"), 1e-6, 1)
    if datetime.fromisoformat(kept["time"]).isoformat(timespec="milliseconds") != kept["time"]:
        raise InputError("time", kept["time"], "as Drinklab writes it")  # its first ten letters are in a file's name
    one_of("expected drink", kept["expected"], "AB")
    texts.clean(kept["asks"], "what is compared", 60)
    whole_number(logbook.saved_number(kept["seed"], "seed"), "seed")
    return Tasting(
        **{
            **kept,
            "portion": given,
            "servings": made,
        }
    )


def stem(tasting: Tasting) -> str:
    """How its files are called: the day, the first drink and the tasting's own letters."""
    return f"{tasting.time[:10]}_{logbook.slug(tasting.names[0])}_{tasting.id}"


def save(tasting: Tasting, folder: str | Path, pages: Mapping[str, str] | None = None) -> list[Path]:
    """Save a tasting, with the answers it has, as a new file under `folder`/tastings; what is there stays.

    Parameters
    ----------
    tasting : Tasting
    folder : path
    pages : dict, optional
        What goes to print with it, by its suffix (".key.html"): all files of one number, or none.

    Returns
    -------
    list of Path
        The tasting's own first.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    text = json.dumps(to_dict(tasting), ensure_ascii=False, indent=1, allow_nan=False)
    return files.write_new(Path(folder) / TASTINGS, stem(tasting), {".json": text, **(pages or {})})


def keep_with_trials(tasting: Tasting, folder: str | Path, file: str) -> tuple[str, ...]:
    """Say of each saved trial that was tasted where the tasting is, once all answers are in: see `logbook.record`.

    Parameters
    ----------
    tasting : Tasting
    folder : path
        Working folder.
    file : str
        Of the saved tasting.

    Returns
    -------
    tuple of str
        Files of the trials of which it is said now.
    """
    if tasting.waiting:
        return ()
    said = []
    for name in dict.fromkeys(filter(None, tasting.trials)):
        path = Path(folder) / logbook.TRIALS / Path(name).name
        if files.is_there(path):
            logbook.record(path, logbook.entry(path).time, tasting=file)
            said.append(name)
    return tuple(said)


def load(path: str | Path) -> Tasting:
    """A saved tasting, checked. Errors as for `from_dict`."""
    return from_dict(logbook.read_json(path, "saved tasting"), Path(path).name)


def entries(folder: str | Path) -> tuple[tuple[tuple[Path, Tasting], ...], tuple[str, ...]]:
    """The saved tastings of a folder, newest first, and a sentence for each file that cannot be read."""
    found, problems = [], []
    try:
        paths = files.listed(Path(folder) / TASTINGS, ".json", "folder of saved tastings")
    except InputError as error:
        return (), (str(error),)
    for path in paths:
        try:
            found.append((path, load(path)))
        except InputError as error:
            problems.append(str(error))
    return tuple(sorted(found, key=lambda pair: (pair[1].time, pair[0].name), reverse=True)), tuple(problems)
