"""What a tasting says, in sentences: the plan, what stands on a sheet, the verdict. No maths here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ... import __version__, profile, tasting
from ...declared import LABELS, Declared
from ...display import Display
from ...facts import Fact, say
from ...kinds import MASS, VOLUME
from ...profile import KINDS
from ...tasting import METHODS, SCALES, Found, Plan, Portion, Rated, Reason, Serving, Step, Tasting
from ...writeup.filling import template

NAMES = {
    "triangle": "Triangle: find the odd one",
    "duo-trio": "Duo–trio: which of two is like the reference",
    "tetrad": "Tetrad: sort four into two pairs",
    "paired": "Pair: which has more of it",
    "paired, expected": "Pair, one expected to have more",
    "preference": "Preference: which of two is liked better",
    SCALES: "Scales: rate both, 0 to 10",
}
PAPERS = ("A4", "A5")
_PARTS = {
    0.5: Fact("half of guests"), 0.333: Fact("a third of guests"), 0.25: Fact("a quarter of guests"),
    0.2: Fact("a fifth of guests"), 0.1: Fact("one guest in ten"),
}  # fmt: skip


def percent(share: float) -> str:
    """A share in whole percent, or in tenths below one."""
    return f"{100 * share:.0f} %" if share >= 0.0095 or share <= 0 else f"{100 * share:.1f} %"


def guests(share: float) -> Fact:
    """A share of people in words.

    >>> print(guests(1 / 3), guests(0.4), sep="; ")
    a third of guests; 40 % of guests
    """
    near = next((words for part, words in _PARTS.items() if abs(share - part) < 0.004), None)
    return near or Fact("share of guests", share=percent(share))


def often(chance: float) -> Fact:
    """A chance in words.

    >>> print(often(0.636), often(0.97), often(0.02), sep="; ")
    6 times in 10; more than 19 times in 20; less than once in 10
    """
    if chance >= 0.95:
        return Fact("more than 19 times in 20")
    tenths = round(10 * chance)
    if tenths < 2:
        return Fact("once in 10" if tenths else "less than once in 10")
    return Fact("times in 10", times=min(tenths, 9))


def chance_words(p: float) -> Fact:
    """A p-value in words."""
    if p < 0.0005:
        return Fact("fewer than 1 in 2000")
    return Fact("times in 100", times=100 * p) if p >= 0.095 else Fact("1 time in", of=1 / p)


# --- the plan --------------------------------------------------------------------------------------------------


def noticed(method: str, share: float) -> Fact:
    """What a share stands for, as part of a sentence."""
    if method in METHODS and METHODS[method].sides == 2:
        return Fact("a drink that guests name", share=percent((1 + share) / 2))
    return Fact("a difference that guests notice", who=guests(share))


def plan_words(made: Plan) -> tuple[str, ...]:
    """What a panel of so many can show, a sentence or two each."""
    n, risk, limit = len(made.seated), percent(made.alpha), made.limit
    if made.method == SCALES:
        least, said = tasting.least_tasters(made.alpha), [Fact("plan: each rates both", n=n)]
        said += [Fact("plan: too few to rate", n=n, risk=risk, least=least)] * (n < least)
        return (say(said),)
    if made.similar:
        who, chance = guests(made.share), Fact("plan: chance if alike", n=n, often=often(made.power))
        shown = Fact("plan: never alike", n=n, who=who, risk=risk)
        shown = Fact("plan: alike", limit=limit, n=n, who=who, risk=risk) if limit >= 0 else shown
    else:
        two = METHODS[made.method].sides == 2
        shown = Fact("plan: needed of two" if two else "plan: needed", limit=limit, n=n, risk=risk)
        shown = Fact("plan: not even all", n=n, risk=risk) if limit > n else shown
        chance = _chance(n, made.method, made.share, made.power)
    wanted = often(made.wanted) if made.wanted < 0.95 else Fact("so much of the time", share=percent(made.wanted))
    enough = Fact("plan: takes too many", wanted=wanted, most=tasting.MOST_TASTERS)
    enough = Fact("plan: takes", wanted=wanted, needed=made.needed) if made.needed else enough
    return say(shown), say((chance, enough))


def _chance(n: int, method: str, share: float, power: float) -> Fact:
    return Fact("chance to find", n=n, what=noticed(method, share), often=often(power))


def step_words(found: Sequence[Step], show: Display) -> tuple[str, ...]:
    """How far the drinks differ by the sums, beside what tasters told in print."""
    by = {s.figure: KINDS[s.figure](s.difference) for s in found}
    told = {s.figure: Fact("from to", low=KINDS[s.figure](s.low), high=KINDS[s.figure](s.high)) for s in found}
    said = [Fact(
        "apart by the sums", abv=by["abv"], sugar=by["sugar"], acid=by["acid"],
        abv_told=told["abv"], sugar_told=told["sugar"], acid_told=told["acid"],
    )]  # fmt: skip
    if tasting.hopeless(found):
        return show.say(said), show.say(Fact("apart by less"))
    above = tuple(profile.WORDS[s.figure] for s in found if s.told == "above")
    return (show.say(said + [Fact("apart by more", figures=above)] * bool(above)),)


def left_out_words(made: Plan) -> tuple[str, ...]:
    """Who is left out, and why."""
    return tuple(say(Fact("left out", name=taster.name, why=tuple(map(_reason, why)))) for taster, why in made.left_out)


def _reason(why: Reason) -> Fact:
    word, found = repr(why.word), why.found
    return {
        "holds": Fact("left out: holds", word=word, found=found),
        "may hold": Fact("left out: may hold", word=word, found=found),
        "not stated": Fact("left out: not stated", word=word, found=repr(found)),
        "not known": Fact("left out: not known", word=word),
    }[why.code]


# --- alcohol ------------------------------------------------------------------------------------------------


def alcohol_words(given: Portion, show: Display) -> str:
    """What a taster gets in all."""
    sip, names = VOLUME(given.sip), tuple(sorted({name for name in given.beside if name}))
    if given.grams <= 0:
        return show.say(Fact("tasting without alcohol", glasses=given.glasses, sip=sip))
    return show.say(Fact(
        "tasting with alcohol", glasses=given.glasses, sip=sip, volume=VOLUME(given.volume), drinks=given.drinks,
        beside=Fact("with their share beside", names=names) if names else "",
        alcohol=MASS(given.grams, given.pm), country=given.country,
    ))  # fmt: skip


def stop_words(given: Portion) -> str:
    """Where to stop."""
    if given.grams <= 0:
        return ""
    times = {None: Fact("stop long before"), 1: Fact("stop after this one")}.get(given.rounds)
    times = times or Fact("stop after some", rounds=given.rounds)
    return say(Fact("stop at one" if given.limit == 1 else "stop", times=times, limit=given.limit))


# --- sheets ----------------------------------------------------------------------------------------------------


def first_words(one: Tasting, show: Display) -> tuple[str, ...]:
    """What a taster reads before the first sip."""
    held = Declared(allergens=one.allergens, may_contain=one.may_contain, unstated=one.unstated).said()
    said = [*(held or [Fact("none of the listed")]), Fact("hand the sheet back", labels=LABELS), *one.cautions]
    told = [*map(show.say, said), alcohol_words(one.portion, show)]
    uncounted = any(isinstance(c, Fact) and c.code == "tasting with alcohol not counted" for c in one.cautions)
    told += filter(None, [stop_words(one.portion)])
    return (*told, *[say(Fact("alcohol is not for"))] * (one.portion.grams > 0 or uncounted))


def steps_words(one: Tasting) -> tuple[str, ...]:
    """How to taste, a line each."""
    order = Fact("taste the reference first" if one.method == "duo-trio" else "taste")
    drink = Fact("swallow or spit" if one.swallow else "spit out")
    said = Fact("rinse and taste", order=order, drink=drink), Fact("between two glasses"), Fact("do not talk")
    return tuple(map(say, said))


_QUESTIONS = {
    "triangle": Fact("question: odd one"), "duo-trio": Fact("question: reference"), "tetrad": Fact("question: pairs"),
    "preference": Fact("question: liking"), SCALES: Fact("question: scales"),
}  # fmt: skip


def question(one: Tasting) -> str:
    """What is asked of a taster."""
    return say(_QUESTIONS.get(one.method) or Fact("question: which", asks=one.asks))


def choice_text(answer: str, one: Serving) -> str:
    """A choice as a taster reads it: "152 and 276; 391 and 428" for four glasses."""
    if "+" not in answer:
        return answer
    pair = tuple(answer.split("+"))
    return say(Fact("two and two", pair=pair, rest=tuple(code for code in one.codes if code not in pair)))


def _sheets(one: Tasting) -> list[dict]:
    return [
        {
            "taster": serving.taster,
            "glasses": serving.codes,
            "choices": [choice_text(c, serving) for c in tasting.choices(serving, one.method)],
            "key": tuple(zip(serving.codes, serving.order, strict=True)),
        }
        for serving in one.servings
    ]


def _date(one: Tasting) -> str:
    at = datetime.fromisoformat(one.time)
    return f"{at.day} {at:%B %Y}"


def sheets_html(one: Tasting, show: Display, paper: str = "A4") -> str:
    """One page a taster, to print; nothing on it says which drink is which."""
    return template("tasting_sheets.html.j2").render(
        version=__version__, id=one.id, date=_date(one), paper=paper, sheets=_sheets(one), first=first_words(one, show),
        steps=steps_words(one), question=question(one), scales=one.scales,
    )  # fmt: skip


def key_html(one: Tasting, show: Display, paper: str = "A4") -> str:
    """The key, to print apart."""
    amounts, sip = tasting.to_prepare(one.servings, one.portion.sip), one.portion.sip
    prepare = [
        Fact("prepare: drink", amount=VOLUME(amounts[letter]), letter=letter, name=name)
        for letter, name in zip("AB", one.names, strict=True)
    ]
    prepare += [
        Fact("prepare: beside", amount=VOLUME(sip * share), name=name, letter=letter)
        for letter, name, share in zip("AB", one.portion.beside, one.portion.shares, strict=True) if name
    ]  # fmt: skip
    prepare += [Fact("prepare: each glass", sip=VOLUME(sip)), Fact("prepare: alike"), Fact("prepare: codes")]
    return template("tasting_key.html.j2").render(
        version=__version__, id=one.id, date=_date(one), seed=one.seed, paper=paper, names=one.names,
        asked=f"{NAMES[one.method]}. {question(one)}", prepare=map(show.say, prepare),
        making=[*map(show.say, one.making)], left_out=", ".join(one.left_out),
        places=[f"Glass {i + 1}" for i in range(len(one.servings[0].codes))], sheets=_sheets(one),
    )  # fmt: skip


# --- the verdict ------------------------------------------------------------------------------------------------


def verdict(one: Tasting, found: Found) -> tuple[str, ...]:
    """What was found, in plain sentences; the first one is the verdict."""
    words = _rated_words if one.method == SCALES else _alike_words if one.similar else _differ_words
    n = len(found.absent)
    absent = [Fact("one did not taste" if n == 1 else "some did not taste", n=n)] * bool(n)
    return tuple(map(say, (*words(one, found), *absent)))


def _counted(one: Tasting, found: Found) -> Fact:
    """The count, as the beginning of a sentence."""
    x, n, (a, b) = found.result.correct, found.n, one.names
    name, rest = a if one.expected == "A" else b, n - x
    return {
        "triangle": Fact("counted: odd one", x=x, n=n), "duo-trio": Fact("counted: reference", x=x, n=n),
        "tetrad": Fact("counted: pairs", x=x, n=n), "preference": Fact("counted: liked", x=x, n=n, a=a, b=b, rest=rest),
        "paired, expected": Fact("counted: as expected", x=x, n=n, name=name, asks=one.asks),
        "paired": Fact("counted: named", x=x, n=n, a=a, b=b, rest=rest, asks=one.asks),
    }[one.method]  # fmt: skip


def _differ_words(one: Tasting, found: Found) -> list[Fact | str]:
    result, n, risk, counted = found.result, found.n, percent(one.alpha), _counted(one, found)
    two, none = METHODS[one.method].sides == 2, Fact("no count would show it", n=n)
    needed = Fact("so many needed", needed=result.critical) if result.critical <= n else none
    what = Fact("a preference" if one.method == "preference" else "a difference")
    if result.shown:
        said = [Fact("verdict: shown", counted=counted, what=what, risk=risk, needed=needed)]
    elif two:
        said = [Fact("verdict: not shown", counted=counted, what=what, risk=risk, needed=needed)]
    else:
        said = [Fact("verdict: not shown to differ", counted=counted, risk=risk, needed=needed)]
    if not result.shown:
        chance = _chance(n, one.method, one.share, found.power)
        said.append(say((chance, Fact("not shown is not alike"))))
    come, p = chance_words(result.p_value), p_text(result.p_value)
    return [*said, _share(one, found), Fact("by chance, of two" if two else "by chance", often=come, p=p)]


def _share(one: Tasting, found: Found) -> Fact:
    r, (a, b), level = found.result, one.names, 100 * found.result.level
    if METHODS[one.method].sides == 2:
        low, best, high = (percent((1 + s) / 2) for s in (r.low, r.share, r.high))
        return Fact("share that names", low=low, high=high, best=best, a=a, b=b, level=level)
    return Fact("share that tells", low=percent(r.low), high=percent(r.high), best=percent(r.share), level=level)


def p_text(p: float) -> str:
    """A p-value to two digits that count."""
    return "below 0.0001" if p < 0.0001 else f"{p:.3f}" if p >= 0.001 else f"{p:.4f}"


def _alike_words(one: Tasting, found: Found) -> tuple[Fact, ...]:
    n, risk, counted = found.n, percent(one.alpha), _counted(one, found)
    most = Fact("so many allowed", most=found.most) if found.most >= 0 else Fact("no count would show it", n=n)
    if found.alike:
        alike = Fact("verdict: alike", counted=counted, who=guests(one.share), risk=risk, most=most)
        return alike, _share(one, found)
    return (
        Fact("verdict: not shown to be alike", counted=counted, risk=risk, most=most),
        Fact("chance to show likeness", n=n, often=often(found.power)), _share(one, found),
    )  # fmt: skip


def _rated_words(one: Tasting, found: Found) -> list[Fact | str]:
    (a, b), risk, n = one.names, percent(one.alpha), found.n
    sure = [r for r in found.rated if r.p_all <= one.alpha]
    named = "; ".join(say(Fact("rated higher", name=a if r.difference > 0 else b, word=r.word)) for r in sure)
    said = [Fact("rated: shown", named=named, risk=risk) if sure else Fact("rated: not shown", n=n, risk=risk)]
    if any(r.low is None for r in found.rated):
        said.append(Fact("rated: too few", n=n, least=tasting.least_tasters(one.alpha)))
    way = [Fact("rated: by swaps" if found.rated[0].exact else "rated: by t")]
    return [*said, say(way + [Fact("rated: several scales")] * (len(found.rated) > 1))]


RATED_HEAD = ("Scale", "A", "B", "A less B", "interval", "p")


def rated_row(r: Rated) -> tuple[str, ...]:
    """A row of the table of scales."""
    signed = lambda x: f"{x:+.1f}".replace("-", "−")  # noqa: E731
    around = "too few tasters" if r.low is None else f"{signed(r.low)} to {signed(r.high)} ({100 * r.level:.3g} %)"
    return r.word, f"{r.a:.1f}", f"{r.b:.1f}", signed(r.difference), around, p_text(r.p_all)


def entry_label(one: Tasting) -> str:
    """A saved tasting in a list."""
    state = f"{len(one.waiting)} answers to come" if one.waiting else "answered"
    what = f"{one.names[0]} / {one.names[1]}, {one.method}, {len(one.servings)} ({state})"
    return f"{one.time[:16].replace('T', ' ')}  {what}"
