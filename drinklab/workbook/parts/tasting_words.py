"""What a tasting says, in sentences: the plan, what stands on a sheet, the verdict. No maths here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ... import __version__, profile, tasting
from ...declared import LABELS, not_stated
from ...display import Display
from ...kinds import VOLUME
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
_RIGHT = {
    "triangle": "found the odd one",
    "duo-trio": "found the one like the reference",
    "tetrad": "sorted the four rightly",
}
_PARTS = {0.5: "half of guests", 0.333: "a third of guests", 0.25: "a quarter of guests", 0.2: "a fifth of guests",
          0.1: "one guest in ten"}  # fmt: skip
PRACTICE = "common practice, no published source"


def percent(share: float) -> str:
    """A share in whole percent, or in tenths below one."""
    return f"{100 * share:.0f} %" if share >= 0.0095 or share <= 0 else f"{100 * share:.1f} %"


def guests(share: float) -> str:
    """A share of people in words.

    >>> guests(1 / 3), guests(0.4)
    ('a third of guests', '40 % of guests')
    """
    near = next((words for part, words in _PARTS.items() if abs(share - part) < 0.004), None)
    return near or f"{percent(share)} of guests"


def often(chance: float) -> str:
    """A chance in words.

    >>> often(0.636), often(0.97), often(0.02)
    ('6 times in 10', 'more than 19 times in 20', 'less than once in 10')
    """
    tenths = round(10 * chance)
    if chance >= 0.95:
        return "more than 19 times in 20"
    return {0: "less than once in 10", 1: "once in 10"}.get(tenths, f"{min(tenths, 9)} times in 10")


def chance_words(p: float) -> str:
    """A p-value in words."""
    if p < 0.0005:
        return "fewer than 1 time in 2000"
    return f"{100 * p:.0f} times in 100" if p >= 0.095 else f"1 time in {1 / p:.0f}"


# --- the plan --------------------------------------------------------------------------------------------------


def noticed(method: str, share: float) -> str:
    """What a share stands for, as part of a sentence."""
    if method in METHODS and METHODS[method].sides == 2:
        return f"a drink that {percent((1 + share) / 2)} of guests name"
    return f"a difference that {guests(share)} notice"


def plan_words(made: Plan) -> tuple[str, ...]:
    """What a panel of so many can show, a sentence or two each."""
    n, risk = len(made.seated), percent(made.alpha)
    if made.method == SCALES:
        least = tasting.least_tasters(made.alpha)
        few = "" if n >= least else f" With {n} no difference can be shown at {risk}: at least {least} are needed."
        return (f"Each of {n} rates both drinks. The mean difference comes with its interval.{few}",)
    two = METHODS[made.method].sides == 2
    if made.similar:
        most = f"At most {made.limit} right answers of {n} show" if made.limit >= 0 else f"No count of {n} could show"
        said = f"{most} that fewer than {guests(made.share)} tell them apart, at {risk}."
        chance = f"If in truth nobody does, a panel of {n} shows it {often(made.power)}."
    else:
        count = f"{made.limit} of {n} naming the same drink" if two else f"{made.limit} right answers of {n}"
        said = f"{count} are needed to show a difference at {risk}."
        if made.limit > n:
            said = f"Not even {n} of {n} would show a difference at {risk}: too few tasters."
        chance = f"With {n} tasters, {noticed(made.method, made.share)} would be found {often(made.power)}."
    wanted = often(made.wanted) if made.wanted < 0.95 else f"{percent(made.wanted)} of the time"
    enough = f"For {wanted} it takes {made.needed} tasters." if made.needed else (
        f"For {wanted} not even {tasting.MOST_TASTERS} tasters would do."
    )  # fmt: skip
    return said, f"{chance} {enough}"


def step_words(found: Sequence[Step], show: Display) -> tuple[str, ...]:
    """How far the drinks differ by the sums, beside what tasters told in print."""
    words = {"abv": "", "sugar": " sugar", "acid": " acid"}
    by = ", ".join(f"{show.text(KINDS[s.figure], s.difference, signed=True)}{words[s.figure]}" for s in found)
    told = ", ".join(
        f"{show.parts(KINDS[s.figure], s.low)[0]} to {show.text(KINDS[s.figure], s.high)}{words[s.figure]}"
        for s in found
    )
    said = f"By the sums B differs from A by {by}. In print half of the tasters told {told}."
    if tasting.hopeless(found):
        return said, (
            "All of it is less than that: by strength, sweetness and sourness alone a panel is not likely to tell them "
            "apart. Smell, bitterness and texture are in none of these sums."
        )  # fmt: skip
    above = [profile.WORDS[s.figure] for s in found if s.told == "above"]
    return (f"{said} In {' and '.join(above)} they differ by more." if above else said,)


STUDIES = (
    "Steps told in print: strength in wine (Yu and Pickering, 2008), sugar in cola (J. Sens. Stud., doi "
    "10.1111/joss.12803), sugar and citric acid in water (npj Sci. Food 6, 2022, 33). Mixed drinks were in no study."
)


def left_out_words(made: Plan) -> tuple[str, ...]:
    """Who is left out, and why."""
    return tuple(f"{taster.name} is left out: {', '.join(map(_reason, why))}." for taster, why in made.left_out)


def _reason(why: Reason) -> str:
    return {
        "holds": f"{why.word!r}, and there is {why.found} in it",
        "may hold": f"{why.word!r}, and it may contain {why.found}",
        "not stated": f"{why.word!r}, and the allergens of {why.found!r} are not stated",
        "not known": f"{why.word!r} is a word that the workbook cannot look up",
    }[why.code]


# --- alcohol ------------------------------------------------------------------------------------------------


def alcohol_words(given: Portion, show: Display) -> str:
    """What a taster gets in all."""
    sip = show.volume_text(given.sip)
    if given.grams <= 0:
        return f"{given.glasses} glasses of {sip}. There is no alcohol in them."
    around = f" ± {given.pm:.1f}" if given.pm is not None else ""
    with_it = sorted({name for name in given.beside if name})
    beside = f" with their share of {' and '.join(with_it)} beside them" if with_it else ""
    return (
        f"{given.glasses} glasses of {sip}{beside}, "
        f"in all {show.volume_text(given.volume)} with {given.grams:.1f}{around} g "
        f"of alcohol: {given.drinks:.2f} standard drinks ({given.country}), counted as if all is swallowed."
    )


def stop_words(given: Portion) -> str:
    """Where to stop."""
    if given.grams <= 0:
        return ""
    times = {None: "long before this matters", 1: "after this one tasting"}.get(
        given.rounds, f"after {given.rounds} tastings like this one"
    )
    return (
        f"Stop {times}, at {given.limit:g} standard {'drink' if given.limit == 1 else 'drinks'}, or sooner if you like "
        f"({PRACTICE}). Your local codes and licensed practice come first."
    )


# --- sheets ----------------------------------------------------------------------------------------------------


def first_words(one: Tasting, show: Display) -> tuple[str, ...]:
    """What a taster reads before the first sip."""
    holds = [f"Contains: {', '.join(one.allergens)}."] if one.allergens else []
    holds += [f"May contain: {', '.join(one.may_contain)}."] * bool(one.may_contain)
    holds += map(show.say, not_stated(one.unstated))
    none = ["None of the EU’s listed allergens is known in these drinks."] if not holds else []
    said = [*holds, *none, f"If you can’t have one of these, do not taste: hand the sheet back. {LABELS}"]
    said += map(show.say, one.cautions)
    said.append(alcohol_words(one.portion, show))
    if one.portion.grams > 0:
        said.append(stop_words(one.portion))
        said.append(
            "Alcohol: not for anybody under age, pregnant, on medicine that forbids it, or who would rather not. "
            "Nobody has to say why."
        )
    return tuple(said)


def steps_words(one: Tasting) -> tuple[str, ...]:
    """How to taste, a line each."""
    order = "Taste the reference R first, then the others" if one.method == "duo-trio" else "Taste"
    drink = "Swallow or spit out, as you like" if one.swallow else "Spit out each sip"
    return (
        f"Rinse with water. {order} from left to right. {drink}.",
        "Between two glasses: water, a bite of plain bread if you like, and half a minute of rest.",
        f"Do not talk, and do not look at other sheets. Then answer, also if you have to guess ({PRACTICE}).",
    )


def question(one: Tasting) -> str:
    """What is asked of a taster."""
    return {
        "triangle": "Two of the three are the same. Which one is the odd one?",
        "duo-trio": "Which one is the same as the reference R?",
        "tetrad": "Two are of one drink, two of another. Which two belong together?",
        "preference": "Which one do you like better?",
        SCALES: "How much, from 0 (none) to 10 (as much as can be)? Circle one number each.",
    }.get(one.method, f"Which one is {one.asks}?")


def choice_text(answer: str, one: Serving) -> str:
    """A choice as a taster reads it: "152 and 276, then 391 and 428" for four glasses."""
    if "+" not in answer:
        return answer
    pair = answer.split("+")
    rest = [code for code in one.codes if code not in pair]
    return f"{' and '.join(pair)}; {' and '.join(rest)}"


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
    amounts = tasting.to_prepare(one.servings, one.portion.sip)
    prepare = [
        f"{show.text(VOLUME, amounts[letter])} of {letter}, {name}, and some to spare"
        for letter, name in zip("AB", one.names, strict=True)
    ]
    prepare += [
        f"{show.volume_text(one.portion.sip * share)} of {name} beside each glass of {letter}"
        for letter, name, share in zip("AB", one.portion.beside, one.portion.shares, strict=True) if name
    ]  # fmt: skip
    prepare += [
        f"{show.volume_text(one.portion.sip)} in each glass, all glasses alike, all drinks equally cold.",
        "Make each drink the same way and at the same time; what stands about goes flat, warm or watery.",
        "Write the codes on the glasses out of sight, and serve by somebody who has not seen this key, if you can.",
    ]
    return template("tasting_key.html.j2").render(
        version=__version__, id=one.id, date=_date(one), seed=one.seed, paper=paper, names=one.names,
        asked=f"{NAMES[one.method]}. {question(one)}", prepare=prepare, making=[show.say(fact) for fact in one.making],
        left_out=", ".join(one.left_out),
        places=[f"Glass {i + 1}" for i in range(len(one.servings[0].codes))], sheets=_sheets(one),
    )  # fmt: skip


# --- the verdict ------------------------------------------------------------------------------------------------


def verdict(one: Tasting, found: Found) -> tuple[str, ...]:
    """What was found, in plain sentences; the first one is the verdict."""
    absent = f"{len(found.absent)} did not taste and {'is' if len(found.absent) == 1 else 'are'} not counted."
    more = (absent,) if found.absent else ()
    if one.method == SCALES:
        return (*_rated_words(one, found), *more)
    if one.similar:
        return (*_alike_words(one, found), *more)
    return (*_differ_words(one, found), *more)


def _counted(one: Tasting, found: Found) -> str:
    """The count, as the beginning of a sentence."""
    x, n, (a, b) = found.result.correct, found.n, one.names
    if one.method in _RIGHT:
        return f"{x} of {n} {_RIGHT[one.method]}"
    if one.method == "paired, expected":
        return f"{x} of {n} named “{a if one.expected == 'A' else b}” as {one.asks}, as expected"
    named = f"liked “{a}” better" if one.method == "preference" else f"named “{a}” as {one.asks}"
    return f"{x} of {n} {named}, {n - x} “{b}”"


def _differ_words(one: Tasting, found: Found) -> tuple[str, ...]:
    result, n, risk = found.result, found.n, percent(one.alpha)
    two = METHODS[one.method].sides == 2
    needed = f"{result.critical} were needed" if result.critical <= n else f"with {n} no count would show it"
    what = {"preference": "a preference"}.get(one.method, "a difference")
    if result.shown:
        said = f"{_counted(one, found)}: {what} is shown at {risk} ({needed})."
        behind = ""
    else:
        known = "not shown to differ" if not two else f"{what} is not shown"
        said = f"{_counted(one, found)}: {known} at {risk}; {needed}."
        behind = (
            f"With {n} tasters, {noticed(one.method, one.share)} would be found {often(found.power)}. Not shown is not "
            "the same as alike: to show that, ask for likeness and taste again."
        )
    many = "so uneven a count" if two else "so many or more"
    guessed = "nobody had a leaning" if two else "all only guessed"
    chance = f"If {guessed}, {many} would come {chance_words(result.p_value)} (p = {p_text(result.p_value)}, exact)."
    return tuple(filter(None, (said, behind, _share_words(one, found), chance)))


def _share_words(one: Tasting, found: Found) -> str:
    r, sure = found.result, f"{100 * found.result.level:.3g} % interval, Clopper–Pearson"
    if METHODS[one.method].sides == 2:
        a, b = one.names
        low, mid, high = ((1 + s) / 2 for s in (r.low, r.share, r.high))
        named = f"{percent(low)} to {percent(high)} of such guests name “{a}”, the rest “{b}”"
        return f"Of the two, {named} (best guess {percent(mid)}; {sure})."
    return (
        f"{percent(r.low)} to {percent(r.high)} of such guests tell them apart (best guess {percent(r.share)}; {sure})."
    )


def p_text(p: float) -> str:
    """A p-value to two digits that count."""
    return "below 0.0001" if p < 0.0001 else f"{p:.3f}" if p >= 0.001 else f"{p:.4f}"


def _alike_words(one: Tasting, found: Found) -> tuple[str, ...]:
    risk, few = percent(one.alpha), f"fewer than {guests(one.share)} tell them apart"
    most = f"at most {found.most} were allowed" if found.most >= 0 else f"with {found.n} no count would show it"
    if found.alike:
        said = f"{_counted(one, found)}: alike, {few}, at {risk} ({most})."
        return said, _share_words(one, found)
    said = f"{_counted(one, found)}: not shown to be alike at {risk}; {most}."
    return (
        said,
        f"If in truth nobody could tell them apart, {found.n} tasters would show it {often(found.power)}.",
        _share_words(one, found),
    )


def _rated_words(one: Tasting, found: Found) -> tuple[str, ...]:
    a, b = one.names
    sure = [r for r in found.rated if r.p_all <= one.alpha]
    named = [f"“{a if r.difference > 0 else b}” is rated higher in {r.word}" for r in sure]
    said = f"{'; '.join(named)}: shown at {percent(one.alpha)}." if sure else (
        f"{found.n} rated both drinks: no difference is shown at {percent(one.alpha)}."
    )  # fmt: skip
    few = f"{found.n} tasters are too few for an interval: it takes {tasting.least_tasters(one.alpha)}."
    none = any(r.low is None for r in found.rated)
    way = "every way to swap the two glasses of a taster" if found.rated[0].exact else "Student’s paired t"
    several = " Since several scales were asked, p counts among all of them (Holm)." if len(found.rated) > 1 else ""
    return (said, *([few] if none else []), f"Intervals and p are by {way}.{several}")


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
