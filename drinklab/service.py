"""What leaves the bar: what one serve holds, what a guest may ask of it, and what has to be said.

It counts grams and reads rules. How alcohol works on anybody is no part of it.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> sour = Recipe.parse("45 mL gin\\n20 mL lemon juice\\n20 mL egg white\\n15 mL honey syrup", technique="shaken")
>>> one = serve(run(sour))
>>> round(one.drinks.value, 2), one.allergens, one.us_allergens
(1.01, ('eggs',), ('eggs',))
"""

from __future__ import annotations

import functools
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from . import classics as _classics
from . import hazards, making, spirited, strength, tables, texts
from .declared import LABELS, OF_GUESTS, Declared, declared, heed, not_stated, poured_bottles
from .display import Display
from .errors import one_of
from .facts import UNDER, Fact, figure, say
from .kinds import ABV, MASS, RATIO, VOLUME, Number
from .liquid import Liquid
from .profile import reference
from .setting import DRAWS, Setting
from .stage import Stage, ends
from .trial import MOST_GLASS, Trial, run, serve_cautions

# kJ and kcal in a gram: Regulation (EU) No 1169/2011, annex XIV, as reprinted in its version of 13 March 2024. Its
# factors for polyols (10 kJ), fibre (8 kJ) and salatrims (25 kJ) have nothing here to go by: no table states them.
ENERGY = {"alcohol": (29, 7), "sugar": (17, 4), "acid": (13, 3), "protein": (17, 4), "fat": (37, 9)}
_COUNTED = {"alcohol": "ethanol", "sugar": "sugar", "acid": "acid", "protein": "protein", "fat": "fat"}

# Regulation (EU) No 1169/2011, annex II, in its order and the words of our tables.
ALLERGENS = (
    "cereals containing gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery",
    "mustard", "sesame seeds", "sulphites", "lupin", "molluscs",
)  # fmt: skip
# The eight of FALCPA (2004) and sesame of the FASTER Act (2021), by their word in annex II.
_US = {
    "milk": "milk", "eggs": "eggs", "fish": "fish", "crustaceans": "crustacean shellfish", "nuts": "tree nuts",
    "peanuts": "peanuts", "cereals containing gluten": "wheat", "soybeans": "soybeans", "sesame seeds": "sesame",
}  # fmt: skip
US_ALLERGENS = tuple(_US.values())
_WHEAT = {"wheat", "spelt", "khorasan", "emmer", "einkorn", "durum", "farro"}
# Of cereals these are no wheat; a word that is none of them may be a name of one: semolina, kamut, triticale.
_NO_WHEAT = {
    "barley", "rye", "oat", "oats", "malt", "malts", "malted", "roasted", "flakes", "grain", "and", "or", "buckwheat",
    "honey", "beer", "whisky", "whiskey",
}  # fmt: skip
# Cautions whose matter a guest may ask for by its name.
ASKED_FOR = ("caffeine", "quinine", "grapefruit", "raw egg")
# Cautions for a guest card: who drinks a whole serve is told of a strong one too.
_FOR_GUESTS = (*OF_GUESTS, "strong serve")
# Hazards that a menu and a label name, where they have no words of their own for one.
_NAMED = tuple(code for code in hazards.OF_GUESTS if code not in ("ask first", "raw animal food"))
LEAST = 0.05  # of grams and of standard drinks: what is less would be written as 0.0
_FEW_DRAWS = 100  # of which the highest is no upper end
# Kinds of bottles whose protein and fat matter to energy: where no table states them, that is said.
_RICH = ("dairy", "egg", "other")


class Figure(NamedTuple):
    """A best estimate, and the half-width that holds 19 serves in 20; None where nothing was drawn."""

    value: float
    pm: float | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A country's limit for the word alcohol-free. [% vol]"""

    country: str
    percent: float
    of: str
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class Serve:
    """One serve, with what goes beside it.

    Attributes
    ----------
    name, beside : str, tuple of str
        Of the drink, and of what goes with it.
    styles : tuple of str
        What is in it, as a menu says it.
    volume : Figure
        Of the glass alone. [mL]
    before, abv : Figure
        Strength before ice, None for a drink without; as served. [% vol]
    alcohol, sugar : Figure
        In the glass and beside it. [g]
    drinks : Figure
        Standard drinks of `country`, of `size` grams each.
    kj, kcal : Figure
        Energy of what is counted.
    said : declared.Declared
        Cautions and allergens, milk and egg however they were filtered out.
    asked_for : tuple of str
        Of `ASKED_FOR`, what is in it.
    heed : tuple of Fact
        What to mind as it is drunk: fire, dry ice, heat.
    free : bool or None
        Whether it may be called alcohol-free in `country`; None where no limit is known.
    limit : Limit or None
    named : tuple of str
        What its words name that holds alcohol, and is in no figure: it may then not be called alcohol-free.
    uncounted : tuple of Fact
        What the energy leaves out.
    whole : bool
        Whether the figures are of all that is made, since no number of serves was set.
    """

    name: str
    beside: tuple[str, ...]
    styles: tuple[str, ...]
    volume: Figure
    before: Figure | None
    abv: Figure
    alcohol: Figure
    drinks: Figure
    country: str
    size: float
    sugar: Figure
    kj: Figure
    kcal: Figure
    said: Declared
    asked_for: tuple[str, ...]
    heed: tuple[Fact, ...]
    free: bool | None
    limit: Limit | None
    named: tuple[str, ...]
    uncounted: tuple[Fact, ...]
    whole: bool

    @property
    def allergens(self) -> tuple[str, ...]:
        """In the words of annex II and its order."""
        return _in_order(self.said.allergens)

    @property
    def may_contain(self) -> tuple[str, ...]:
        """In the words of annex II and its order."""
        return _in_order(self.said.may_contain)

    @property
    def us_allergens(self) -> tuple[str, ...]:
        """Of the nine of the United States, in their words."""
        return us_words(self.allergens)


def serve(trial: Trial, country: str | None = None) -> Serve:
    """What one serve of a trial holds, and what has to be said of it.

    Parameters
    ----------
    trial : Trial
    country : str, optional
        Whose standard drinks and whose limit count, of `strength.countries()`; by default the setting's.

    Returns
    -------
    Serve

    Raises
    ------
    InputError
        For an unknown country.

    Notes
    -----
    Energy by the factors of Regulation (EU) No 1169/2011, annex XIV, from grams of ethanol, sugars, acids, protein and
    fat. A drink may be called alcohol-free where the upper end of its strength, and that of each thing beside it, lies
    within the country's limit.

    Examples
    --------
    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> tea = run(Recipe.parse("90 mL cold green tea\\n60 mL apple juice", technique="built", serve="long"))
    >>> serve(tea, "United Kingdom").free, serve(tea).asked_for, serve(tea, "Australia").free
    (True, ('caffeine',), None)
    """
    country = one_of("country", country or trial.setting.country, strength.countries())
    size = strength.countries()[country]
    parts = (trial, *trial.beside)
    grams = {name: [getattr(t.served.liquid, of) for t in parts] for name, of in _COUNTED.items()}
    found = {name: _together(held) for name, held in grams.items()}
    kj, kcal = (_together([sum(ENERGY[n][i] * _of_all(grams[n]) for n in ENERGY)]) for i in (0, 1))
    said = declared(told_in(trial, country))
    limit = limits().get(country)
    named = trial.named
    free = None if limit is None else not named and _is_free(trial, limit)
    alcohol = found["alcohol"]
    return Serve(
        name=texts.line(trial.recipe.name),
        beside=tuple(texts.line(t.recipe.name) for t in trial.beside),
        styles=styles(trial),
        volume=figure_of(trial.served, "volume"),
        before=figure_of(trial.stages[0], "abv") if trial.melt > 0 else None,
        abv=figure_of(trial.served, "abv"),
        alcohol=alcohol,
        drinks=Figure(alcohol.value / size, None if alcohol.pm is None else alcohol.pm / size),
        country=country,
        size=size,
        sugar=found["sugar"],
        kj=kj,
        kcal=kcal,
        said=said,
        asked_for=tuple(code for code in ASKED_FOR if code in {c.code for c in said.cautions}),
        heed=heed(said.cautions) + _hot(trial),
        free=free,
        limit=limit,
        named=named,
        uncounted=_uncounted(parts),
        whole=bool(trial.served.profile.volume > MOST_GLASS),
    )


def told_in(trial: Trial, country: str) -> Trial:
    """A trial whose strong serve is told in a country's standard drinks."""
    grams = sum(float(t.served.profile.alcohol) for t in (trial, *trial.beside))
    anew = {caution.code: caution for caution in serve_cautions(trial.served.profile, grams, country)}
    return replace(trial, cautions=tuple(anew.get(caution.code, caution) for caution in trial.cautions))


def _hot(trial: Trial) -> tuple[Fact, ...]:
    """That a drink is hot, or what goes beside it."""
    beside = any(map(_is_hot, trial.beside))
    return (Fact("heed: hot"),) * _is_hot(trial) or (Fact("heed: hot beside"),) * beside


def _is_hot(trial: Trial) -> bool:
    """Whether it is served so, or of a hot bottle that neither ice nor a later step has cooled."""
    poured = any("hot" in bottle.cautions for bottle in poured_bottles(trial.recipe, trial.pantry))
    return trial.recipe.serve == "hot" or (poured and not trial.melt and not trial.steps)


def _is_free(trial: Trial, limit: Limit) -> bool:
    """Whether the upper end of all of it is within a limit; what was not drawn, or hardly, is drawn for this."""
    parts = (trial, *trial.beside)
    if max(t.served.high.abv for t in parts) > limit.percent + 1e-9:
        return False
    if all(t.setting.draws >= _FEW_DRAWS or t.served.profile.alcohol == 0 for t in parts):
        return True
    return _is_free(run(_drawn(trial.setting, tuple(map(_drawn, trial.setting.beside))), pantry=trial.pantry), limit)


def _drawn(setting: Setting, beside: tuple[Setting, ...] = ()) -> Setting:
    return replace(setting, draws=DRAWS, beside=beside)


class Energy(NamedTuple):
    """Energy, and the grams that it is reckoned from."""

    kj: float
    kcal: float
    grams: dict[str, float]


def energy(liquids: Iterable[Liquid]) -> Energy:
    """Kilojoules, kilocalories, and the grams that they are reckoned from, of single liquids together.

    >>> kj, kcal, grams = energy([Liquid.of(ethanol=10, sucrose=20, citric=1)])
    >>> kj, kcal, grams["sugar"]
    (643.0, 153.0, 20.0)
    """
    held = list(liquids)
    grams = {name: float(sum(getattr(liquid, of) for liquid in held)) for name, of in _COUNTED.items()}
    kj, kcal = (sum(g * ENERGY[name][i] for name, g in grams.items()) for i in (0, 1))
    return Energy(kj, kcal, grams)


def _of_all(parts: Sequence[Number]) -> np.ndarray:
    """The same draws of each part, added up; what was drawn less often counts as its estimate."""
    arrays = [np.atleast_1d(part) for part in parts]
    longest = max(array.size for array in arrays)
    return np.sum([array if array.size == longest else np.full(longest, array[0]) for array in arrays], axis=0)


def _together(parts: Sequence[Number]) -> Figure:
    total = _of_all(parts)
    if total.size == 1:
        return Figure(float(total[0]))
    low, high = ends(total[None, 1:])
    return Figure(float(total[0]), float(high[0] - low[0]) / 2)


def figure_of(stage: Stage, figure: str) -> Figure:
    """One figure of a stage, with its ±."""
    spread = stage.spread(figure)
    return Figure(getattr(stage.profile, figure), None if spread != spread else spread)


def _uncounted(parts: Sequence[Trial]) -> tuple[Fact, ...]:
    said = []
    solids = sum(float(np.ravel(t.served.liquid.solids)[0]) for t in parts)
    if solids >= 0.5:
        said.append(Fact("energy leaves out", solids=solids))
    bottles = {b.name: b for t in parts for p in t.recipe.pours if p.amount > 0 for b in [p.bottle(t.pantry)]}
    unknown = tuple(
        texts.line(name) for name, b in bottles.items()
        if b.kind in _RICH and b.state == "liquid" and not any(b.solutes.get(s) for s in ("protein", "fat"))
    )  # fmt: skip
    if unknown:
        said.append(Fact("no protein or fat stated", bottles=unknown))
    return tuple(said)


# --- words of the law ---------------------------------------------------------------------------------------


def _in_order(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(words, key=lambda word: _at(word)))


def _at(word: str) -> int:
    found = listed(word)
    return ALLERGENS.index(found) if found else len(ALLERGENS)


def listed(word: str) -> str | None:
    """Which of the fourteen a word of an allergen is; None for another.

    >>> listed("nuts (almond)"), listed("eggs"), listed("kiwi")
    ('nuts', 'eggs', None)
    """
    plain = word.partition(" (")[0]
    return plain if plain in ALLERGENS else None


def us_words(allergens: Iterable[str]) -> tuple[str, ...]:
    """The nine major allergens of the United States among words of annex II; barley, rye and oats are not wheat.

    >>> us_words(["nuts (almond)", "sulphites", "cereals containing gluten (barley)", "milk"])
    ('milk', 'tree nuts (almond)')
    >>> us_words(["cereals containing gluten"])
    ('wheat (which cereal is not stated)',)
    """
    found = []
    for word in allergens:
        kind = listed(word)
        more = word.partition(" (")[2].rstrip(")")
        if kind == "cereals containing gluten":
            if not more:
                found.append("wheat (which cereal is not stated)")
            elif rest := [word for word in re.findall(r"[^\W\d_]+", more.casefold()) if word not in _NO_WHEAT]:
                found.append("wheat" if _WHEAT & {*rest} else f"wheat ({more}: may be one)")
        elif kind in _US:
            found.append(_US[kind] + (f" ({more})" if more else ""))
    return tuple(sorted(found, key=lambda word: US_ALLERGENS.index(word.partition(" (")[0])))


@functools.cache
def limits() -> dict[str, Limit]:
    """Limits of the word alcohol-free by country, of datasets/alcohol_free.csv.

    >>> limits()["United Kingdom"].percent
    0.05
    """
    rows = tables.read("alcohol_free").rows()
    return {
        row["country"]: Limit(row["country"], row["limit_percent"], row["of"], row["basis"], row["source"])
        for row in rows
    }


def styles(trial: Trial) -> tuple[str, ...]:
    """What is poured, and what steps bring, as a menu names it: without strengths, each once.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> styles(run(Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice")))
    ('aged rum', 'lemon juice')
    """
    names = (row.name.split(",")[0].split(" (")[0] for row in making.ingredients(trial))
    return tuple(dict.fromkeys(texts.line(name) for name in names))


# --- words for a guest -----------------------------------------------------------------------------------------


def drinks(one: Serve) -> Fact:
    """Standard drinks in words."""
    if 0 < one.drinks.value < LEAST:
        return Fact("few standard drinks", country=one.country, size=one.size)
    return Fact("standard drinks", drinks=RATIO(*one.drinks), country=one.country, size=one.size)


def drinks_text(count: float) -> str:
    """So many standard drinks, of which none that are there are written as none.

    >>> drinks_text(1.04), drinks_text(0.04), drinks_text(0)
    ('1.0', 'under 0.05', '0.0')
    """
    return f"{UNDER} {LEAST:g}" if 0 < count < LEAST else f"{count:.1f}"


def tens(value: float) -> str:
    """Energy as it is worth writing: to ten from 100 up."""
    return f"{round(value, -1):.0f}" if value >= 100 else f"{value:.0f}"


def beside(one: Serve) -> Fact | str:
    """The end of what is in it: what goes with it."""
    return Fact("with it beside", names=one.beside) if one.beside else ""


def lines(said: Iterable[Fact], show: Display) -> tuple[tuple[str, str], ...]:
    """Facts as a card has them: a word, and what is to be said of it."""
    parts = (show.say(fact).partition(": ") for fact in said)
    return tuple((word, text) for word, _, text in parts)


def facts(one: Serve, show: Display) -> tuple[tuple[str, str], ...]:
    """A guest card's lines: a word and what is to be said of it."""
    said = [Fact("card: in the glass", volume=VOLUME(*one.volume), beside=beside(one))]
    if one.alcohol.value > 0:
        abv = ABV(*one.abv)
        said.append(
            Fact("card: strength and before ice", abv=abv, before=ABV(*one.before))
            if one.before else Fact("card: strength", abv=abv)
        )  # fmt: skip
        few, told = one.alcohol.value < LEAST, drinks(one)
        grams = MASS(*one.alcohol)
        said.append(
            Fact("card: little alcohol", drinks=told) if few else Fact("card: alcohol", alcohol=grams, drinks=told)
        )
    elif one.named:
        said.append(Fact("card: alcohol not counted", named=one.named))
    else:
        said.append(Fact("card: no alcohol"))
    kj, kcal = tens(one.kj.value), tens(one.kcal.value)
    said.append(Fact("card: energy at least" if one.uncounted else "card: energy about", kj=kj, kcal=kcal))
    said.append(Fact("card: little sugar" if one.sugar.value < 9.95 else "card: sugar", sugar=MASS(*one.sugar)))
    said += [Fact("card: contains", allergens=one.allergens)] * bool(one.allergens)
    said += [Fact("card: may contain", allergens=one.may_contain)] * bool(one.may_contain)
    said += [Fact("card: US words", allergens=one.us_allergens)] * (one.us_allergens not in ((), one.allergens))
    said += [Fact("card: also in it", asked=one.asked_for)] * bool(one.asked_for)
    return lines(said, show)


def notes(one: Serve, show: Display) -> tuple[str, ...]:
    """What stands below the lines: what is not known, cautions for who drinks, and what the words rest on."""
    said = [*not_stated(one.said.unstated)]
    said += [Fact("no allergen known in it")] * (not (one.allergens or one.may_contain or one.said.unstated))
    said += [*one.heed, *(caution for caution in one.said.cautions if caution.code in _FOR_GUESTS)]
    said += [*one.uncounted, *free_words(one), *[Fact("figures of all that is made")] * one.whole]
    return (*map(show.say, said), LABELS)


def free_words(one: Serve) -> tuple[Fact, ...]:
    """Whether it may be called alcohol-free, and by which rule; of one with alcohol only what no figure counts."""
    if one.named:
        return spirited.told(one.named, one.abv.value)
    if one.abv.value > spirited.MOST_FREE and not one.free:
        return ()
    if one.limit is None:
        return (Fact("no limit known", country=one.country),)
    by = Fact("limit of a country", most=one.limit.percent, country=one.country, basis=one.limit.basis, of=one.limit.of)
    return (Fact("may be called alcohol-free" if one.free else "may not be called alcohol-free", by=by),)


def strength_words(one: Serve) -> Fact:
    """How strong it is, as a menu says it.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> print(strength_words(serve(run(Recipe.parse("60 mL gin\\n20 mL dry vermouth"), draws=0))))
    24 % vol
    """
    if one.named and not one.alcohol.value:
        return Fact("may hold alcohol")
    digits = 0 if one.abv.value >= 10 else 1 if one.abv.value >= 0.1 or not one.alcohol.value else 2
    of = figure(ABV, one.abv.value, digits).text
    if one.free and one.alcohol.value == 0:
        return Fact("alcohol-free")
    return Fact("alcohol-free, so strong" if one.free else "so strong", abv=of)


def menu_line(one: Serve) -> Fact:
    """A drink in one line of a menu.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> print(menu_line(serve(run(Recipe.parse("60 mL gin\\n20 mL dry vermouth", name="Last Train"), draws=0))))
    Last Train: gin, dry vermouth. 24 % vol, 1.6 standard drinks. Contains sulphites.
    """
    of = say(strength_words(one))
    of = of[:1].upper() + of[1:]
    said = [Fact("menu: styles", name=one.name, styles=one.styles)]
    counted = one.alcohol.value > 0 and not one.free
    told = Fact("menu: drinks", of=of, drinks=one.drinks.value)
    told = Fact("menu: few drinks", of=of) if one.drinks.value < LEAST else told
    said.append(told if counted else Fact("menu: strength", of=of))
    said += [Fact("menu: contains", allergens=one.allergens)] * bool(one.allergens)
    said += [Fact("menu: may contain", allergens=one.may_contain)] * bool(one.may_contain)
    return Fact("menu line", parts=(*said, *menu_cautions(one), *not_stated(one.said.unstated)))


def menu_cautions(one: Serve) -> tuple[Fact, ...]:
    """What a menu says that a guest may have to avoid or mind, in short.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> hot = Recipe.parse("45 mL aged rum\\n120 mL water", technique="none", serve="hot", garnish="flamed orange peel")
    >>> print(*menu_cautions(serve(run(hot, draws=0))))
    Made with fire: do not drink while it burns, and mind the rim, which stays hot. Served hot.
    """
    codes = {caution.code for caution in one.said.cautions}
    few = one.abv.value <= spirited.MOST_FREE
    said = [Fact("menu: alcohol not counted", named=one.named)] * bool(one.named and few)
    said += [Fact("with what is asked for", asked=one.asked_for)] * bool(one.asked_for)
    said += hazard_words(codes)
    said += [Fact("menu: strong jelly")] * ("strong jelly" in codes)
    said += [Fact("menu: gelatin")] * ("gelatin" in codes) + [Fact("menu: choking")] * ("choking" in codes)
    strong = [Fact("menu: strong serve", drinks=one.drinks.value)] * ("strong serve" in codes)
    return (*said, *strong, *one.heed)


def hazard_words(codes: Collection[str]) -> list[Fact]:
    """What of some cautions a menu and a label tell in short, beside `ASKED_FOR`.

    >>> print(*hazard_words({"raw animal food", "nutmeg"}))
    Served raw: this may make ill. With nutmeg: ask us how much before you drink it.
    """
    of = tuple(code for code in _NAMED if code in codes)
    said = [Fact("menu: raw animal food")] * ("raw animal food" in codes) + [Fact("menu: hazards", of=of)] * bool(of)
    return said + [Fact("menu: ask first")] * ("ask first" in codes)


# --- beside the classics ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Beside:
    """Grams of alcohol in a serve of each classic, fewest first, and how many of them hold less than this one."""

    names: tuple[str, ...]
    families: tuple[str, ...]
    grams: tuple[float, ...]
    less: int

    @property
    def words(self) -> str:
        """In a sentence."""
        return say(Fact("more alcohol than classics", less=self.less, count=len(self.names)))


def beside_classics(one: Serve) -> Beside:
    """A serve's grams of alcohol beside the classics'.

    >>> from drinklab.recipe import Recipe
    >>> from drinklab.trial import run
    >>> beside_classics(serve(run(Recipe.parse("1 mL gin\\n90 mL soda water", technique="built"), draws=0))).less
    0
    """
    known = _classics.load()
    grams = np.asarray(reference(known).alcohol)
    order = np.argsort(grams, kind="stable")
    return Beside(
        tuple(known.names[i] for i in order), tuple(known.families[i] for i in order),
        tuple(float(grams[i]) for i in order), int((grams < one.alcohol.value).sum()),
    )  # fmt: skip
