"""How a drink is made, from its whole setting: what to put out, what to do in which order, and what it makes.

>>> from drinklab.pantry import load
>>> from drinklab.demo import settings
>>> from drinklab.trial import run
>>> line = run(settings(load())["Clear Line"], draws=0)
>>> [row.name for row in ingredients(line)][-2:], yields(line, line.setting.display)
(['chamomile cordial', "skimmed cow's milk"], 'Makes 20 serves of 110 mL; 122 mL is left over.')
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Any

from . import carbonation, gels, steps, texts
from .declared import gassed_cautions, recipe_cautions, told_garnish
from .display import Display
from .facts import Fact, say
from .kinds import TEMPERATURE, VOLUME
from .recipe import Recipe
from .steps import Caution
from .trial import MOST_GLASS, Trial
from .units import GRAMS, METRIC, US, ounces_text

# More than a tin or a jug takes at once. Common practice, no published source. [mL]
_MOST_SHAKEN = 700.0

# How a drink meets the ice, by its technique.
MIX = {
    "none": "mix without ice", "stirred": "stir on ice", "shaken": "shake with ice", "built": "build over ice",
    "blended": "blend with ice", "swizzled": "swizzle with ice", "muddled": "muddle over ice",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """A line of what to put out, for all that is made.

    Attributes
    ----------
    name : str
    told : str
        The amount in the bar's words (2 dashes), where it was told so.
    ml : float or None
        None for what is weighed. [mL]
    grams : float
        [g]
    abv : float
        [% vol]
    solid, after, step : bool
        A dry solid; added after the ice; brought by a later step.
    """

    name: str
    told: str
    ml: float | None
    grams: float
    abv: float = 0.0
    solid: bool = False
    after: bool = False
    step: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    """Something to do, and what is to be known of it.

    `aim` says when it is done, where the sentence itself does not; `cautions` are those that arise here; `uses` are the
    places in `ingredients` of what goes in.
    """

    do: str
    more: tuple[str, ...] = ()
    aim: str = ""
    cautions: tuple[Caution, ...] = ()
    uses: tuple[int, ...] = ()


def ingredients(trial: Trial) -> tuple[Row, ...]:
    """What to put out: the pours, then what the later steps bring. Melt water comes with the ice."""
    rows = []
    for pour in trial.recipe.pours:
        if pour.amount > 0:
            bottle = pour.bottle(trial.pantry)
            typed = pour.typed and pour.typed.unit not in (*METRIC, *US, *GRAMS)
            told = pour.amount_text(trial.pantry, Display()) if typed else ""
            solid = bottle.state != "liquid"
            grams = pour.amount * bottle.density
            rows.append(Row(bottle.name, told, pour.amount, grams, bottle.abv, solid, pour.after))
    rows += [
        Row(part.name, "", part.ml, part.grams, step=True)
        for step, liquid, outcome in trial.worked
        for part in steps.brought(step, liquid, outcome)
    ]
    return tuple(rows)


def share(trial: Trial) -> float:
    """Of all that is made, what goes in one glass. [mL/mL]"""
    return float(trial.served.profile.volume / trial.made.volume)


def serves(trial: Trial) -> int:
    """Glasses that are filled: as set, or as many as the serve size gives."""
    setting = trial.setting
    if setting.serves > 1 or setting.serve_volume is None:
        return setting.serves
    return max(math.floor(1 / share(trial) + 1e-9), 1)


def is_batch(trial: Trial) -> bool:
    """Whether one glass is a part of what is made."""
    return bool(trial.served.profile.volume < trial.made.volume * (1 - 1e-9))


def piece(trial: Trial) -> str:
    """What one serve is called."""
    return "piece" if any(isinstance(step, gels.Set) for step in trial.steps) else "serve"


def yields(trial: Trial, show: Display) -> str:
    """What the whole recipe makes; "" for a single drink."""
    if not is_batch(trial):
        return ""
    count, each = serves(trial), trial.served.profile.volume
    left = trial.made.volume - count * each
    made = _so_many(trial)
    return show.say(Fact("makes and leaves", made=made, left=VOLUME(left)) if left >= 1 else Fact("makes", made=made))


def _so_many(trial: Trial) -> Fact:
    """Serves, or pieces, and the size of each."""
    each, count, cut = VOLUME(trial.served.profile.volume), serves(trial), piece(trial) == "piece"
    if count == 1:
        return Fact("a piece" if cut else "a serve", each=each)
    return Fact("pieces" if cut else "serves", count=count, each=each)


Order = tuple[Fact | str, ...]  # something to do, and what is said of it


def method(trial: Trial, show: Display) -> tuple[Item, ...]:
    """What to do, in order: mixed, the later steps, into glasses.

    A method that was typed stays, but for what the setting says itself, or contradicts.
    """
    before, after = _typed(trial)
    todo: list[Order] = [] if any(map(_MIXING.search, before)) else _mixed(trial)
    todo += [(text,) for text in before]
    mixing = len(todo)
    of_steps: list[tuple[int, list[str]]] = []
    for step, liquid, outcome in trial.worked:
        orders = steps.orders(step, liquid, outcome)
        within = [show.say(order) for order in orders]
        notes = [fact for fact in outcome.said if not any(show.say(fact) in order for order in within)]
        of_steps.append((len(todo), within))
        todo += [(order,) for order in orders[:-1]] + [(orders[-1], *notes)]
    if is_batch(trial):
        todo.append(_shared_out(trial, todo))
    todo += [(text,) for text in after]
    for other in trial.beside:
        serve = VOLUME(other.served.profile.volume)
        todo.append((Fact("with each glass", name=other.recipe.name, serve=serve),))
    said = [tuple(map(show.say, part)) for part in todo] or [("",)]
    cautions, uses = _warned(trial, of_steps, len(said) - 1), _used(trial, of_steps, [do for do, *_ in said[:mixing]])
    return tuple(
        Item(do, tuple(more), show.say(_aim(trial)) if n == 0 and do else "", cautions.get(n, ()), uses.get(n, ()))
        for n, (do, *more) in enumerate(said) if do or cautions.get(n)
    )  # fmt: skip


# What is said where the heat comes, where a glass is filled, and with the last that is done to a jelly.
_OF_HEAT, _OF_SERVING, _OF_CUTTING = {"flame", "hot spirit"}, {"batch", "strong serve"}, {"choking", "strong jelly"}
_HEAT = re.compile(r"\b(warm|boil|heat|hot)", re.IGNORECASE)


def _warned(trial: Trial, of_steps: list[tuple[int, list[str]]], last: int) -> dict[int, tuple[Caution, ...]]:
    """Each caution at the number of what it is about; what a bottle brings stands with the first."""
    place: dict[str, int] = {}
    for (begin, orders), (step, _, outcome) in zip(of_steps, trial.worked, strict=True):
        gassed = gassed_cautions(trial.recipe, trial.pantry) if isinstance(step, carbonation.Carbonate) else ()
        hot = next((i for i, order in enumerate(orders) if _HEAT.search(order)), 0)
        for code in [c.code for c in (*gassed, *outcome.cautions)]:
            within = hot if code in _OF_HEAT else len(orders) - 1 if code in _OF_CUTTING else 0
            place.setdefault(code, begin + within)
    beside = {c.code for other in trial.beside for c in other.cautions}
    found: dict[int, tuple[Caution, ...]] = {}
    for caution in trial.cautions:
        if caution.code in place or caution.code not in beside or caution.code in _own_codes(trial):
            at = last if caution.code in _OF_SERVING else place.get(caution.code, 0)
            found[at] = (*found.get(at, ()), caution)
    return found


def _own_codes(trial: Trial) -> set[str]:
    """Codes of what the drink itself brings, not what goes beside it."""
    return {c.code for c in recipe_cautions(trial.recipe, trial.pantry)} | _OF_SERVING


def _used(trial: Trial, of_steps: list[tuple[int, list[str]]], mixing: list[str]) -> dict[int, tuple[int, ...]]:
    """What goes in at each thing to do: a pour where it is named, else with the first."""
    found: dict[int, tuple[int, ...]] = {}
    rows = ingredients(trial)
    poured = [i for i, row in enumerate(rows) if not row.step]
    for i in poured:
        named = (n for n, do in enumerate(mixing) if short(rows[i].name).casefold() in do.casefold())
        at = next(named, max(len(mixing) - 1, 0) if rows[i].after else 0)
        found[at] = (*found.get(at, ()), i)
    i = len(poured)
    for (begin, _), (step, liquid, outcome) in zip(of_steps, trial.worked, strict=True):
        many = len(steps.brought(step, liquid, outcome))
        if many:
            found[begin] = (*found.get(begin, ()), *range(i, i + many))
        i += many
    return found


def _aim(trial: Trial) -> tuple[Fact, ...]:
    """When the ice has done its work."""
    if trial.melt <= 0:
        return ()
    water = VOLUME(trial.melt * trial.stages[0].profile.volume)
    if trial.chill is None:
        return (Fact("until so much has melted", water=water),)
    left, time = TEMPERATURE(float(trial.chill.temperature)), float(trial.chill.seconds)
    return (Fact("until so cold", water=water, at=left, seconds=time),)


def _shared_out(trial: Trial, todo: list[Order]) -> Order:
    """Into pieces, in place of the jelly's own last order, or into glasses."""
    each, count = VOLUME(trial.served.profile.volume), serves(trial)
    if piece(trial) == "piece":
        last, *more = todo.pop() if todo[-1][0] in gels.CUT else (gels.CUT[1],)
        return (Fact("cut pieces and label" if last == gels.CUT[0] else "cut pieces", pieces=_so_many(trial)), *more)
    iced = trial.recipe.serve == "on ice"
    if count > 1:
        return (Fact("fill glasses on ice" if iced else "fill glasses", count=count, each=each),)
    return (Fact("fill the glass on ice" if iced else "fill the glass", each=each),)


def _mixed(trial: Trial) -> list[Order]:
    rows = [row for row in ingredients(trial) if not row.step]
    first, last = (tuple(short(row.name) for row in rows if row.after is after) for after in (False, True))
    mix = Fact(MIX[trial.recipe.technique] if trial.melt > 0 else "mix without ice", poured=first)
    tin = trial.melt > 0 and trial.recipe.technique in ("shaken", "blended")
    if tin and trial.stages[0].profile.volume > _MOST_SHAKEN:
        mix = Fact("not all at once", mix=mix)
    return [(mix,), *([(Fact("add last", poured=last),)] if last else [])]


def short(name: str) -> str:
    """A name without what the list of ingredients tells already: the strength, the style."""
    return name.split(",")[0].split(" (")[0]


# --- what was typed -------------------------------------------------------------------------------------------

_MIXING = re.compile(r"\b(mix|shake|stir|build|blend|swizzle|muddle)\w*\b", re.IGNORECASE)
_ON_ICE = re.compile(r"\b(shake|stir|build|blend|swizzle|muddle)\w*\b.*(?<!without )\bice\b|\bstrain\b", re.IGNORECASE)
_OF_STEPS = re.compile(
    r"\b(milk|curds?|curdle|wash|rest|filter|chill|carbonate|gas|keg|siphon|boil|gelatine?|agar|gellan|set)\w*\b",
    re.IGNORECASE,
)
_SERVING = re.compile(r"\b(serve|glass|glasses|cube|cubes|garnish|pick|mug|cut)\b", re.IGNORECASE)


def _typed(trial: Trial) -> tuple[list[str], list[str]]:
    """The typed method before the later steps and after them."""
    lines = [line for line in (" ".join(t.split()) for t in trial.recipe.method.splitlines()) if line]
    left_out = ([] if trial.melt > 0 else [_ON_ICE]) + ([_OF_STEPS] if trial.steps else [])
    kept = []
    for line in lines:
        parts = [p for p in re.split(r"(?<=[.;])\s+", line) if not any(words.search(p) for words in left_out)]
        told = " ".join(parts)
        kept += [told[:1].upper() + re.sub(";$", ".", told[1:])] if told else []
    if not trial.steps and not is_batch(trial):
        return kept, []
    return [t for t in kept if not _SERVING.search(t)], [t for t in kept if _SERVING.search(t)]


# --- the table ------------------------------------------------------------------------------------------------


def table(trial: Trial, show: Display) -> list[dict[str, Any]]:
    """`ingredients` as cells: millilitres, ounces, grams, of one glass, parts, strength."""
    rows, of_glass = ingredients(trial), share(trial)
    part = _part(trial)
    cells = []
    for row in rows:
        more = [row.told] if row.told else []
        more += [f"{row.grams:.1f} g"] if row.solid else []
        name = row.name + (f" ({', '.join(more)})" if more else "")
        ml = "" if row.ml is None else Display().volume_text(row.ml).removesuffix(" mL")
        cells.append({
            "name": say(Fact("added last", name=name)) if row.after else name,
            "text": f"{amount(row, Display())} {row.name}",
            "amount": amount(row, show),
            "ml": ml,
            "oz": "" if row.ml is None else ounces_text(row.ml).replace(" oz", ""),
            "parts": "" if row.ml is None else parts(row.ml / part),
            "grams": weight(row.grams),
            "glass": amount(replace(row, told="", ml=row.ml and row.ml * of_glass, grams=row.grams * of_glass), show),
            "abv": f"{row.abv:.4g} % vol" if row.abv else "none",
        })  # fmt: skip
    return cells


def amount(row: Row, show: Display) -> str:
    """How much of it, as it is measured out: told, weighed or by volume."""
    return row.told or (f"{weight(row.grams)} g" if row.ml is None or row.solid else show.volume_text(row.ml))


def weight(grams: float) -> str:
    """Grams as a kitchen scale shows them.

    >>> weight(2412.3), weight(3.263), weight(0.0163)
    ('2412', '3.3', '0.02')
    """
    return f"{grams:.0f}" if grams >= 100 else f"{grams:.1f}" if grams >= 1 else f"{grams:.2f}"


def _part(trial: Trial) -> float:
    """A part is the recipe's own, or the smallest pour that is more than a dash or a spoon. [mL]"""
    poured = [p for p in trial.recipe.pours if p.amount > 0]
    own = [p.typed.ml for p in poured if p.typed and p.typed.unit == "part"]
    least = max(5, 0.08 * sum(p.amount for p in poured))
    return own[0] if own else min([p.amount for p in poured if p.amount >= least] or [p.amount for p in poured])


def parts(ratio: float) -> str:
    """A ratio as a bar says it.

    >>> parts(2.99), parts(4 / 3), parts(0.06), parts(1.4)
    ('3', '1⅓', '0.06', '1.4')
    """
    fractions = {0: "", 0.25: "¼", 1 / 3: "⅓", 0.5: "½", 2 / 3: "⅔", 0.75: "¾", 1: ""}
    whole = int(ratio)
    near = min(fractions, key=lambda f: abs(ratio - whole - f))
    if abs(ratio - whole - near) > 0.025 * ratio:
        if ratio < 0.1:
            return f"{max(ratio, 0.01):.2f}"
        return f"{ratio:.2g}" if ratio < 10 else f"{ratio:.0f}"
    whole += near == 1
    return f"{whole or ''}{fractions[near]}"


def recipe_yield(trial: Trial) -> str:
    """Of schema.org: how many serves of which size.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> recipe_yield(run(Recipe.parse("60 mL gin", technique="none"), draws=0))
    '1 drink, 60 mL'
    """
    each, count = f"{trial.served.profile.volume:.0f} mL", serves(trial)
    if count > 1:
        return f"{count} {piece(trial)}s of {each}"
    return f"{trial.served.profile.volume / 1000:.1f} L" if trial.served.profile.volume > MOST_GLASS else (
        f"1 {'drink' if piece(trial) == 'serve' else 'jelly'}, {each}"
    )  # fmt: skip


# --- what the method says of serving ----------------------------------------------------------------------

_IN_GLASS = {"up": "none", "on ice": "in the glass", "long": "in the glass", "hot": "none"}
_GLASS = re.compile(
    r"\b(?:into|in|on) (?:an? |the )?((?:[^\W\d_][\w-]* ){0,3}(?:glass|mug|cup|bowl|flute|goblet|tumbler))\b",
    re.IGNORECASE,
)
_CUBE = re.compile(r"\bon (?:an? )?((?:[\w-]+ ){0,3}(?:cube|cubes|block|rock))\b", re.IGNORECASE)


def told_serving(recipe: Recipe) -> dict[str, str]:
    """Glass, ice and garnish as a recipe has them, else as its own method says them; "" where it does not.

    >>> sour = Recipe.parse("45 mL gin", method="Shake; strain into a chilled stem glass. Garnish with a cherry.")
    >>> told_serving(sour)
    {'Glass': 'chilled stem glass', 'Ice': 'none', 'Garnish': 'a cherry'}
    """
    found = {"Glass": _GLASS, "Ice": _CUBE}
    said = {word: match[1] if (match := rule.search(recipe.method)) else "" for word, rule in found.items()}
    said["Ice"] = recipe.glass_ice or said["Ice"] or _IN_GLASS[recipe.serve]
    said |= {"Glass": recipe.glass or said["Glass"], "Garnish": told_garnish(recipe)}
    return {word: texts.line(text) for word, text in said.items()}
