"""What is set before each taster: who can have it, how much alcohol it is, in which order, under which codes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from .. import strength, texts
from ..declared import Declared, declared
from ..errors import InputError, Told, one_of, require
from ..kinds import Given
from ..pantry import name_warns
from ..trial import Trial
from ..units import number, single, to_ml, whole_number
from . import counts
from .counts import METHODS

SCALES = "scales"  # the way to ask that rates both drinks instead of choosing
WAYS = (*METHODS, SCALES)
SIP, MOST_SIP, LIMIT, MOST_LIMIT = 15.0, 100.0, 1.0, 3.0  # [mL], [standard drinks]; common practice
REFERENCE = "R"

# Numbers of three digits that mean something to somebody: hours and days, pi, and slang. Those with a 0, a digit
# twice or digits in even steps (123, 951) go as well. Common practice, no published source.
_MEANT = {"247", "314", "365", "187", "168", "518", "514", "415", "419", "143", "831", "718", "281", "271"}
_UNLUCKY = ("13", "69", "88", "18")


# --- who tastes -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Taster:
    """A person, and what they can't have: words of allergens, of cautions, or of bottles."""

    name: str
    avoids: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", texts.line(texts.clean(self.name, "name of a taster", 60)))
        if not self.name:
            raise InputError("name of a taster", Told("empty"), "a name")

    @property
    def called(self) -> str:
        """The name as names are compared, see `texts.called`."""
        return texts.called(self.name)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why somebody is left out.

    `code` is "holds", "may hold", "not stated" or "not known"; `word` what they can't have, `found` what it met.
    """

    code: str
    word: str
    found: str = ""


@dataclass(frozen=True, slots=True)
class Sample:
    """What a tasting needs to know of a drink.

    `alcohol` is in each mL as served with its share of what goes beside it, `pm` half the width that holds 19 in 20,
    None where that is not known [g/mL]; `beside` names that, and `share` is how much of it goes with each mL. [mL/mL]
    `named` is what its words name that holds alcohol, and is not counted.
    """

    name: str
    alcohol: float
    pm: float | None = None
    said: Declared = field(default_factory=Declared)
    bottles: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict, compare=False)  # as served, see `thresholds`
    file: str = ""  # the saved trial that it is, if it is one
    saved: str = ""  # and when that was saved, which tells it from another that has its name
    beside: str = ""
    share: float = 0.0
    named: tuple[str, ...] = ()


def sample(trial: Trial, name: str = "", file: str = "", saved: str = "") -> Sample:
    """A trial as a drink to be tasted; `file` is where it was saved, `saved` when.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> one = sample(run(Recipe.parse("45 mL gin\\n20 mL lemon juice\\n20 mL egg white", technique="shaken")))
    >>> round(1000 * one.alcohol), one.said.allergens
    (111, ('eggs',))
    """
    glass = trial.served.profile.volume
    parts = [part.served for part in (trial, *trial.beside)]  # a sip takes its share of each
    held = [part.profile.alcohol / glass for part in parts]
    spreads = [
        grams * part.spread("abv") / part.profile.abv if part.profile.abv > 0 else 0.0
        for grams, part in zip(held, parts, strict=True)
    ]
    pm = float(sum(spreads))
    stage = trial.served
    # What its words name that holds alcohol keeps who takes none from it, as a bottle does.
    named = (f"alcohol ({word})" for word in trial.named)
    pours = [(drink, pour) for drink in trial.setting.all_recipes() for pour in drink.pours if pour.amount > 0]
    return Sample(
        name or trial.recipe.name,
        float(sum(held)),
        pm if pm == pm and sum(held) > 0 else None,
        declared(trial),
        tuple(dict.fromkeys((*(trial.pantry[pour.ingredient].name for _, pour in pours), *named))),
        {figure: float(getattr(stage.profile, figure)) for figure in ("abv", "sugar", "acid")},
        file,
        saved,
        " and ".join(texts.line(other.recipe.name) for other in trial.beside),
        float(sum(other.served.profile.volume for other in trial.beside) / glass),
        trial.named,
    )


# The list of EU Regulation 1169/2011, annex II, and what a drink's cautions speak of, one word each, singular.
_NUTS = {"almond", "hazelnut", "walnut", "cashew", "pecan", "pistachio", "macadamia", "brazil"}
_KNOWN = _NUTS | {
    "cereal", "gluten", "crustacean", "egg", "fish", "peanut", "soybean", "milk", "nut", "celery", "mustard", "sesame",
    "sulphite", "sulphur", "lupin", "mollusc", "raw", "alcohol", "caffeine", "quinine", "grapefruit",
}  # fmt: skip
_SAME = {
    "sulfite": "sulphite", "sulfur": "sulphur", "lactose": "milk", "dairy": "milk", "cream": "milk", "soya": "soybean",
    "soy": "soybean", "wheat": "gluten", "rye": "gluten", "barley": "gluten", "oat": "gluten", "spelt": "gluten",
}  # fmt: skip
# What else is said behind a name, and is on no list.
_DIETS = {"vegan", "vegetarian", "halal", "kosher", "coeliac", "celiac", "shellfish", "pregnant", "diabetic", "sober",
          "honey", "gelatin", "gelatine", "meat", "pork", "coffee", "medicine", "medication", "driving"}  # fmt: skip
# What else somebody may not take, behind a name of which it is no first word. "Ada Cherry:" is a name alone.
_FOODS = re.compile(
    r"\b(?:(?:straw|rasp|blue|black|cran|goose)berr(?:y|ies)|cherr(?:y|ies)|(?:kiwi|mango|peach|apricot|plum|pear|apple|"
    r"banana|pineapple|(?:water)?melon|papaya|passion ?fruit|orange|lemon|lime|tomato|coconut|avocado|fig|grape|"
    r"pomegranate|lychee|chill?i|pepper|cucumber|carrot|onion|prawn|shrimp|crab|lobster|oyster|mussel|hop|"
    r"sweetener)(?:e?s)?|citrus|garlic|ginger|cinnamon|vanilla|mint|basil|coriander|cilantro|corn|yeast|chocolate|cocoa|"
    r"histamine|fructose|sugar|aspartame|sorbitol|liquorice|latex|beef|seafood|salmon|tuna|malt|beer|wine|gin|rum|vodka|"
    r"whiske?y|tequila)\b"
)
_FILLER = {"no", "any", "all", "of", "to", "the", "in", "containing", "allergy", "allergic", "product", "tree",
           "dioxide", "seed"}  # fmt: skip


# Behind a name, what says that more than a name follows: a sign, or a word of what somebody does not take.
_MORE = re.compile(
    r"[,;/&+=()\[\]{}<>|*!?\"“”„«»…•·→\\#@%~_]|[–—]|\s-|-\s|"
    r"\b(no|not|without|all?erg\w*|free|except|intoleran\w*|can(?:not|['’]?t)|(?:do|does|is|wo)n['’]?t|never|avoids?|"
    r"hates?|dislikes?|driv(?:es|er|ing)|teetotal\w*|nursing|breast ?feeding|antibiotics?|diabet\w*|pescatarian|"
    r"plant[ -]based|fasting|anaphyla\w*)\b|\w\s(is|has|on|under|sin|sans|senza|sem|ohne|kein\w*|zonder|uten|utan)\s",
    re.IGNORECASE,
)


def _tokens(text: str) -> set[str]:
    words = texts.as_read(text).split()
    single = [w[:-1] if w.endswith("s") and len(w) > 3 else w for w in words]
    return {_SAME.get(w, w) for w in single} - _FILLER


def _meets(mine: set[str], found: str) -> bool:
    """Whether words of a taster meet one of a drink; "nuts" alone may be any nut, and who says it may mean peanuts."""
    theirs = _tokens(found)
    any_nut = "nut" in mine and bool(theirs & (_NUTS | {"peanut"}))
    return bool(mine & theirs) or (theirs == {"nut"} and bool(mine & _NUTS)) or any_nut


def unfit(taster: Taster, *samples: Sample) -> tuple[Reason, ...]:
    """Why a taster is left out of a tasting of these drinks; empty if nothing is known against it.

    A word that is on no list and in no bottle's name is not known to be absent: it leaves them out as well, and so does
    any bottle of which nobody has stated the allergens.

    >>> fizz = Sample("Fizz", 0.1, said=Declared((), ("eggs",), ("nuts (almond)",)))
    >>> [unfit(Taster("Ada", (word,)), fizz) for word in ("egg", "milk")]
    [(Reason(code='holds', word='egg', found='eggs'),), ()]
    >>> unfit(Taster("Ada", ("almonds",)), fizz)[0].code, unfit(Taster("Ada", ("kiwi",)), fizz)[0].code
    ('may hold', 'not known')
    """
    reasons = []
    for word in taster.avoids:
        mine = _tokens(word)
        met: list[tuple[str, str]] = []
        bottles: list[str] = []
        for one in samples:
            holds = [*one.said.allergens, *(c.code for c in one.said.cautions), *(["alcohol"] * (one.alcohol > 0))]
            met += [("holds", found) for found in (*holds, *one.bottles) if _meets(mine, found)]
            met += [("may hold", found) for found in one.said.may_contain if _meets(mine, found)]
            bottles += one.said.unstated
        if met:
            code, found = min(met, key=lambda pair: pair[0])  # what it holds before what it may hold
            reasons.append(Reason(code, word, found))
        elif bottles:
            reasons.append(Reason("not stated", word, bottles[0]))
        elif not mine or mine - _KNOWN:
            reasons.append(Reason("not known", word))
    return tuple(reasons)


def read_tasters(text: str) -> tuple[Taster, ...]:
    """Tasters as they are typed, one a line, behind a colon what each can't have.

    A line without a colon that says more than a name ("Ada (eggs)") is refused: read as a name, it would seat somebody
    before what they can't have.

    Raises
    ------
    InputError
        For a name twice, a line without one, or a name that seems to say what its owner can't have.

    Examples
    --------
    >>> read_tasters("Ada: milk, eggs\\nBo")
    (Taster(name='Ada', avoids=('milk', 'eggs')), Taster(name='Bo', avoids=()))
    """
    found: list[Taster] = []
    for at, raw in enumerate(texts.clean(text, "tasters").splitlines(), 1):
        if not raw.strip():
            continue
        name, colon, avoids = raw.replace("：", ":").partition(":")
        name = texts.line(texts.clean(name, "name of a taster", 60))
        behind = name.partition(" ")[2]
        words = _tokens(name) & (_KNOWN | _DIETS) or _FOODS.search(texts.as_read(behind)) or name_warns(behind)
        if not colon and (_MORE.search(name) or words):
            allowed = (
                "a name, and behind a colon what they can't have, such as “Ada: eggs, milk”; “Ada:” is a name alone"
            )
            raise InputError("taster", name, allowed, f"line {at}")
        if not name:
            raise InputError(
                "name of a taster", Told("empty"), "a name, and behind a colon what they can't have", f"line {at}"
            )
        if any(Taster(name).called == other.called for other in found):
            raise InputError("name of a taster", name, "on one line only; put a second name behind it", f"line {at}")
        split = (texts.line(word) for word in re.split(r"[,;/&+]|\band\b|\bor\b", avoids))
        found.append(Taster(name, tuple(word for word in split if word)))
    return tuple(found)


def numbered(n: int) -> tuple[Taster, ...]:
    """So many tasters without names.

    >>> [taster.name for taster in numbered(2)]
    ['Taster 1', 'Taster 2']
    """
    return tuple(Taster(f"Taster {i + 1}") for i in range(whole_number(n, "tasters", 1, counts.MOST_TASTERS)))


# --- the plan --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Plan:
    """Who tastes, and what such a panel can show.

    Attributes
    ----------
    seated : tuple of Taster
    left_out : tuple of (Taster, tuple of Reason)
    limit : int or None
        Right answers needed; for `similar` the most there may be. None where ratings are asked.
    power : float or None
        Chance to show what is there (for `similar`: where nobody tells them apart).
    needed : int or None
        Tasters for the wanted power, see `counts.size`; None where 1000 would not do, or ratings are asked.
    """

    method: str
    alpha: float
    share: float
    wanted: float
    similar: bool
    seated: tuple[Taster, ...]
    left_out: tuple[tuple[Taster, tuple[Reason, ...]], ...]
    limit: int | None
    power: float | None
    needed: int | None


def plan(
    tasters: int | Sequence[Taster],
    method: str = "triangle",
    alpha: float = 0.05,
    *,
    share: float = 1 / 3,
    wanted: float = 0.8,
    similar: bool = False,
    samples: Iterable[Sample] = (),
) -> Plan:
    """Plan a tasting: who can taste these drinks, and what so many can show.

    Parameters
    ----------
    tasters : int, or sequence of Taster
    method : str
        One of `WAYS`.
    alpha : float
        Risk of a wrong finding.
    share : float
        Share of guests whose noticing matters, above 0 to 1; of two-sided methods those who name one drink less those
        who name the other.
    wanted : float
        The chance wanted to show it.
    similar : bool
        Whether it is to be shown that fewer notice, instead of that some do.
    samples : iterable of Sample
        The drinks; who can't have one of them is left out.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If nobody is left to taste.

    Examples
    --------
    >>> made = plan(24)
    >>> made.limit, round(made.power, 2), made.needed
    (13, 0.64, 37)
    """
    one_of("method", method, WAYS)
    everyone = numbered(tasters) if isinstance(tasters, int) else tuple(tasters)
    names = Counter(taster.called for taster in everyone)
    if twice := [taster.name for taster in everyone if names[taster.called] > 1]:
        raise InputError("name of a taster", twice[0], "of one taster only")
    drinks = tuple(samples)
    kept_from = [(taster, unfit(taster, *drinks)) for taster in everyone]
    seated = tuple(taster for taster, reasons in kept_from if not reasons)
    left_out = tuple(pair for pair in kept_from if pair[1])
    if not seated:
        raise InputError(
            "tasters", Told("left out, each of them" if everyone else "none"), "at least one who can have both drinks"
        )
    n = len(seated)
    require("tasters", n, 1, counts.MOST_TASTERS)
    if method == SCALES:
        return Plan(method, alpha, share, wanted, False, seated, left_out, None, None, None)
    if similar:
        limit, chance = counts.similar_count(n, method, share, alpha), counts.similar_power(n, share, method, alpha)
    else:
        limit, chance = counts.critical_count(n, method, alpha), counts.power(n, share, method, alpha)
    needed = counts.size(share, method, alpha, wanted, similar=similar)
    return Plan(method, alpha, share, wanted, similar, seated, left_out, limit, chance, needed)


# --- how much alcohol -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Portion:
    """What one taster gets in all, as if nothing were spat out.

    `volume` [mL]; `grams` of alcohol and its `pm` [g]; `drinks` of the country; `rounds` whole tastings like this one
    until the stop `limit` [standard drinks] is reached at the upper end of the alcohol, None without any. `beside` is
    what goes with A and with B, and `shares` how much of it goes with each mL; it counts in volume and alcohol. [mL/mL]
    """

    glasses: int
    sip: float
    volume: float
    grams: float
    pm: float | None
    drinks: float
    country: str
    limit: float
    rounds: int | None
    beside: tuple[str, str] = ("", "")
    shares: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        for name in ("beside", "shares"):  # lists, as JSON has them
            object.__setattr__(self, name, tuple(getattr(self, name)))


def portion(
    a: Sample,
    b: Sample,
    method: str = "triangle",
    sip: Given = SIP,
    country: str = "United States",
    limit: float = LIMIT,
) -> Portion:
    """The alcohol that a taster gets in all, by the drinks' own strength as served.

    The order with more of the stronger drink counts. It is counted as if swallowed also where it is to be spat out.

    Parameters
    ----------
    a, b : Sample
    method : str
    sip : amount
        In each glass, 1 to 100. [mL]
    country : str
        Whose standard drinks are counted, of `strength.countries()`.
    limit : float
        Where to stop, 0.1 to 3. [standard drinks]

    Returns
    -------
    Portion

    Examples
    --------
    >>> found = portion(Sample("A", 0.2), Sample("B", 0.1), sip=20)
    >>> found.volume, found.grams, round(found.drinks, 2), found.rounds
    (60.0, 10.0, 0.71, 1)
    """
    each = single(to_ml(sip, field="sip"), "sip")
    require("sip", each, 1, MOST_SIP, "mL")
    limit = single(number(limit, "stop limit"), "stop limit")
    require("stop limit", limit, 0.1, MOST_LIMIT, "standard drinks")
    order = max(orders_of(method), key=lambda o: sum(b.alcohol if one == "B" else a.alcohol for one in o))
    of = [b if one == "B" else a for one in order]
    grams = each * sum(one.alcohol for one in of)
    pm = None if any(one.pm is None and one.alcohol > 0 for one in of) else each * sum(one.pm or 0.0 for one in of)
    drinks = float(strength.standard_drinks(grams, country))
    most = _upper_end(drinks, grams, pm)  # the stronger a bottle may be, the sooner
    rounds = int(limit / most + 1e-9) if most > 0 and limit / most < 1000 else None
    volume = each * sum(1 + one.share for one in of)
    return Portion(
        len(of), each, float(volume), float(grams), pm, drinks, country, limit, rounds,
        (a.beside, b.beside), (a.share, b.share),
    )  # fmt: skip


# --- orders and codes ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Serving:
    """One taster's glasses, left to right: which drink each holds, and the code on it."""

    taster: str
    order: str
    codes: tuple[str, ...]

    def drink(self, code: str) -> str:
        """ "A" or "B"."""
        return self.order[self.codes.index(code)]


def meaningless() -> tuple[str, ...]:
    """All codes of three digits that mean nothing to anybody.

    >>> len(meaningless()), "527" in meaningless(), "911" in meaningless(), "123" in meaningless()
    (421, True, False, False)
    """
    found = []
    for code in map(str, range(100, 1000)):
        a, b, c = map(int, code)
        plain = "0" not in code and len(set(code)) == 3 and a - b != b - c
        if plain and code not in _MEANT and not any(bad in code for bad in _UNLUCKY):
            found.append(code)
    return tuple(found)


def orders_of(method: str) -> list[str]:
    """Every order that is served in a way to ask, mirror images side by side.

    >>> orders_of("paired"), len(orders_of("triangle"))
    (['AB', 'BA'], 6)
    """
    pairs = METHODS[method].pairs if method in METHODS else METHODS["paired"].pairs
    return [order for pair in pairs for order in pair]


def servings(tasters: Sequence[Taster], method: str = "triangle", seed: int = 1) -> tuple[Serving, ...]:
    """Orders and codes for each taster: every order as often as the others, no code twice.

    The same seed gives the same ones. What is left over after whole rounds of orders goes in mirrored pairs, so that A
    and B stand as often in each place, but for one taster.

    Parameters
    ----------
    tasters : sequence of Taster
    method : str
        One of `WAYS`.
    seed : int

    Returns
    -------
    tuple of Serving

    Raises
    ------
    InputError
        If there are more glasses than codes.

    Examples
    --------
    >>> sorted(one.order for one in servings(numbered(6)))
    ['AAB', 'ABA', 'ABB', 'BAA', 'BAB', 'BBA']
    """
    one_of("method", method, WAYS)
    rng = np.random.default_rng(whole_number(seed, "seed", high=2**31 - 1))
    orders, n = orders_of(method), len(tasters)
    coded = len(orders[0]) - (method == "duo-trio")
    codes = meaningless()
    if n * coded > len(codes):
        allowed = f"at most {len(codes) // coded} for one tasting, so that no code comes twice; make two of it"
        raise InputError("tasters", n, allowed)
    pairs = [tuple(orders[i : i + 2]) for i in range(0, len(orders), 2)]
    rest = [order for i in rng.permutation(len(pairs)) for order in rng.permutation(pairs[i])]
    all_orders = [*orders * (n // len(orders)), *map(str, rest[: n % len(orders)])]
    all_orders = [all_orders[i] for i in rng.permutation(n)]
    drawn = iter(str(code) for code in rng.permutation(codes)[: n * coded])
    made = []
    for taster, order in zip(tasters, all_orders, strict=True):
        own = tuple(next(drawn) for _ in range(coded))
        made.append(Serving(taster.name, order, (REFERENCE, *own) if method == "duo-trio" else own))
    return tuple(made)


def to_prepare(made: Sequence[Serving], sip: float) -> dict[str, float]:
    """How much of each drink it takes, without a drop to spare. [mL]

    >>> to_prepare(servings(numbered(6)), 15)
    {'A': 135.0, 'B': 135.0}
    """
    glasses = Counter(letter for one in made for letter in one.order)
    return {letter: float(sip * glasses[letter]) for letter in "AB"}


def _upper_end(drinks: float, grams: float, pm: float | None) -> float:
    """Standard drinks at the upper end of the alcohol that is behind them."""
    return drinks * (1 + (pm or 0.0) / grams) if grams > 0 else 0.0


def with_limit(found: Portion) -> Portion:
    """`found`, refused where one tasting alone goes beyond the stop limit.

    Raises
    ------
    InputError
        Naming what a taster would get.
    """
    if found.rounds == 0:
        up_to = _upper_end(found.drinks, found.grams, found.pm)
        raise InputError(
            "alcohol for one taster", Told(f"up to {np.ceil(100 * up_to) / 100:g} standard drinks"),
            f"at most the stop limit, {found.limit:g}: pour smaller sips, or ask in a way with fewer glasses",
        )  # fmt: skip
    return found
