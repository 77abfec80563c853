"""A tasting from its key to its answers, as one value."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from .. import texts
from ..declared import OF_GUESTS, Declared, heed, one_fire
from ..errors import InputError, InputErrors, Told, one_of, require
from ..facts import Fact
from ..steps import Caution
from ..units import number, single, whole_number
from . import counts, scales, serving
from .counts import METHODS, Result
from .scales import Rated
from .serving import SCALES, Plan, Portion, Sample, Serving

ABSENT = "absent"  # the answer of one who did not taste after all
MOST_SCALES = 12
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
    trials_saved : (str, str)
        When those were saved: where two folders come together, both may have a trial of that name. "" where it is not
        known.
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
    trials_saved: tuple[str, str] = ("", "")
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

    def rated_by(self, taster: str) -> dict[str, tuple[float, ...]]:
        """What a taster gave each glass on the scales, by its code; empty without an answer."""
        given = self.answers.get(taster)
        return given if isinstance(given, dict) else {}

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
    words = scales_of(scales) if made.method == SCALES else ()
    both = (a.said, b.said)
    holds = tuple(dict.fromkeys(w for said in both for w in said.allergens))
    named = tuple(dict.fromkeys((*a.named, *b.named)))
    uncounted = (Fact("tasting with alcohol not counted", named=named),) * bool(named)
    may = tuple(dict.fromkeys(w for said in both for w in said.may_contain if w not in holds))
    now = time if time is not None else datetime.now().astimezone()
    return Tasting(
        made.method, made.alpha, made.share, made.similar, (a.name, b.name), whole_number(seed, "seed"), given,
        serving.servings(made.seated, made.method, seed), asks if made.method.startswith("paired") else "",
        one_of("expected drink", expected, "AB"),
        words, bool(swallow), holds, may, tuple(dict.fromkeys(w for said in both for w in said.unstated)),
        (*_cautions(both, tasters=True), *heed(_cautions(both, tasters=False)), *uncounted),
        _cautions(both, tasters=False),
        tuple(taster.name for taster, _ in made.left_out), now.isoformat(timespec="milliseconds"), (a.file, b.file),
        (a.saved, b.saved),
    )  # fmt: skip


def _cautions(both: Sequence[Declared], *, tasters: bool) -> tuple[Caution, ...]:
    told = (c for said in both for c in said.cautions if (c.code in OF_GUESTS) == tasters)
    return tuple(dict.fromkeys(one_fire(told)))


def scales_of(words: Sequence[str]) -> tuple[str, ...]:
    """What is rated, as it was typed: each word once, 1 to `MOST_SCALES` of them."""
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
        kept[code] = tuple(single(number(v, f"{field_}, {code}"), f"{field_}, {code}") for v in row)
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
    one, answer = tasting.of(taster), str(tasting.answers[taster])
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
            rows = [{one.drink(code): row[at] for code, row in tasting.rated_by(one.taster).items()} for one in there]
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
