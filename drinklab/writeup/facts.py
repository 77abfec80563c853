"""What a page says: figures, tables and sentences of a trial."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as _date
from typing import Any

from .. import __version__, making, service, strength, texts
from .. import classics as _classics
from ..carbonation import Carbonate
from ..declared import not_stated
from ..display import Display
from ..errors import one_of
from ..facts import Fact, say
from ..filtering import Filter, hours
from ..gels import Set
from ..kinds import ABV, CONCENTRATION, LITRES, MASS, TEMPERATURE, VOLUME
from ..milk import MilkWash
from ..next_glass import WHY
from ..profile import AXES, KINDS, LEAST_ACID, TITLES, WORDS, Place, place, shown
from ..recipe import Recipe
from ..schedule import STAGES
from ..setting import learned_in
from ..stage import Stage
from ..steps import Rest
from ..trial import MOST_GLASS, Trial, difference, run
from . import linked, picture, sources
from .references import References

_TECHNIQUES = {"none": "mixed without ice", "muddled": "muddled and built", "stirred": "stirred on ice",
               "shaken": "shaken with ice", "blended": "blended with ice", "swizzled": "swizzled with ice"}  # fmt: skip
_SERVES = {"up": "served up", "on ice": "served on ice", "long": "served long", "hot": "served hot"}
_MORE = {"abv": "stronger", "sugar": "sweeter", "acid": "more acidic"}
_LEAST_CHANGE = 0.005  # share of a figure that is worth a word


@dataclass(frozen=True, slots=True)
class About:
    """What a write-up says beside its trial.

    Parameters
    ----------
    title, question, method, notes : str
        In the developer's words, a line a paragraph or a step; by default the recipe's own. A line of the notes that
        begins with `next_glass.WHY` stands apart, as why this version was poured.
    author : str
        Who made it: a person, or a bar.
    finding : str
        What was found, in one sentence; by default what the figures say.
    licence : str
        Under which others may use it: its address or its name. Nothing by default.
    tasted, why, what_if, cost : sequence of str
        What blind tastings found, why this version, what was asked of it, what it costs: a paragraph each, or nothing.
    baseline : Trial, optional
        The drink that was pinned, to show the difference from.
    display : Display, optional
        mL or oz, °C or °F, if not as in the trial's setting.
    country : str, optional
        Whose standard drinks to count in, if not the setting's.
    date : datetime.date, optional
        Today by default.
    chart_text : str
        What the chart shows, in words; without a chart, why there is none.
    photos : sequence of (bytes, str)
        JPEG pictures as `logbook.within` makes them, each with what it shows; on the page alone.
    """

    title: str = ""
    question: str = ""
    method: str = ""
    notes: str = ""
    author: str = ""
    finding: str = ""
    licence: str = ""
    tasted: Sequence[str] = ()
    why: Sequence[str] = ()
    what_if: Sequence[str] = ()
    cost: Sequence[str] = ()
    baseline: Trial | None = None
    display: Display | None = None
    country: str | None = None
    date: _date | None = None
    chart_text: str = ""
    photos: Sequence[tuple[bytes, str]] = ()


def told_as(trial: Trial, about: About) -> Trial:
    """A trial in a write-up's own words, country and units, and what those bring: a method may name nuts, or fire."""
    country = one_of("country", about.country or trial.setting.country, strength.countries())
    show = about.display or trial.setting.display
    recipe = trial.recipe
    told = replace(recipe, question=about.question or recipe.question, method=about.method or recipe.method)
    setting = replace(trial.setting, recipe=told, country=country, display=show)
    if told.method != recipe.method:
        return run(setting, pantry=trial.pantry)
    return service.told_in(replace(trial, setting=setting), country)


def facts_of(trial: Trial, about: About) -> dict[str, Any]:
    """All that the templates are filled with, of a trial as `told_as` has it."""
    recipe, show, country = trial.recipe, trial.setting.display, trial.setting.country
    title = texts.line(texts.clean(about.title, "title", texts.NAME)) or texts.line(recipe.name)
    day = (about.date or _date.today()).isoformat()
    cited, among, figures = References(), _place(trial, show), _stage_table(trial, show)
    noted = _lines(texts.clean(about.notes, "notes"))
    facts = {
        "show": show,
        "title": title,
        "drink": texts.line(recipe.name),
        "author": texts.line(texts.clean(about.author, "author", texts.NAME)),
        "licence": texts.line(texts.clean(about.licence, "licence", texts.NAME)),
        "date": day,
        "version": __version__,
        "question": _lines(recipe.question),
        "notes": [line for line in noted if not line.startswith(WHY)],
        "version_why": [
            *(line.removeprefix(f"{WHY}:").strip() for line in noted if line.startswith(WHY)),
            *_paragraphs(about.why, "why this version"),
        ],
        "tasted": _paragraphs(about.tasted, "what a tasting found"),
        "measured": [show.say(fact) for fact in _measured(trial)],
        "what_if": _paragraphs(about.what_if, "what was asked of it"),
        "cost": _paragraphs(about.cost, "what it costs"),
        "summary": _summary(trial.served, show),
        "time": show.say(_time(trial)),
        "equipment": show.say(_equipment(trial)),
        "serving": {word: text for word, text in making.told_serving(recipe).items() if text},
        "check": [show.say(fact) for fact in _checks(trial)],
        "allergens": sources.joined(trial.allergens),
        "may_contain": sources.joined([m for m in trial.may_contain if m not in trial.allergens]),
        "unstated": show.say(not_stated(trial.unstated)),
        "warmth": show.temperature_text(20),
        "stages": [texts.line(s.name) for s in trial.stages],
        "figures": figures,
        "short": _short_table(trial, figures, show),
        "uncertain": sources.uncertain(trial),
        "stages_say": show.say(_change(trial)),
        "place": among,
        "chart_text": texts.line(about.chart_text),
        "photos": [
            {"data": base64.b64encode(held).decode(), "alt": texts.line(texts.clean(alt, "photograph", texts.NAME))}
            for held, alt in about.photos
        ],
        "serve": _serve_title(trial),
        "drinks": show.say((*_drinks(trial, country), *trial.uncounted)),
        "energy": _energy(trial),
        "cautions": [show.say(c) for c in trial.cautions],
    }
    facts |= _differences_of(trial, about.baseline, show)
    facts |= _made(trial, show, cited)
    facts["beside"] = _beside(trial, show, cited)
    facts["limits"] = [(show.say(limit), cited.numbers(basis)) for limit, basis in sources.limits(trial)]
    facts["place_cited"] = cited.numbers(sources.of_classics())[:1]
    facts["works"] = cited.works()
    many = len(cited.works())
    facts["ingredients"] = sources.ingredients(trial, cited)
    facts["relations"] = [cited.mark(line) for line in sources.relations(trial, country, show)]
    facts["more_works"] = cited.works()[many:]
    facts["finding"] = _finding(about, facts)
    facts["data"] = linked.recipe(trial, facts, _serves_words(recipe), _time_known(trial))
    return facts


# --- what page one says ------------------------------------------------------------------------------------------


def _finding(about: About, facts: dict[str, Any]) -> str:
    """In one sentence: the developer's own, or what the figures say."""
    return texts.line(texts.clean(about.finding, "finding")) or facts["stages_say"]


def _change(trial: Trial) -> Fact:
    """What the making does to strength, sugar and acid."""
    first, last = trial.stages[0], trial.served
    changes = []
    for axis in AXES:
        was, now = getattr(first.profile, axis), getattr(last.profile, axis)
        if abs(now - was) > _LEAST_CHANGE * max(was, now):
            changes.append(Fact("it goes", what=WORDS[axis], was=KINDS[axis](was), now=KINDS[axis](now)))
    names = {"first": texts.line(first.name), "last": texts.line(last.name)}
    return Fact("from stage to stage", **names, changes=tuple(changes)) if changes else Fact("no change", **names)


def _time(trial: Trial) -> Fact:
    """How long it takes; a filter's pace shows only when it runs."""
    minutes = hours(_minutes(trial))
    return Fact("time with a filter" if any(isinstance(s, Filter) for s in trial.steps) else "time", time=minutes)


def _time_known(trial: Trial) -> float | None:
    """Minutes, where no filter's pace is in them."""
    return None if any(isinstance(step, Filter) for step in trial.steps) else _minutes(trial)


# One drink at the bar; common practice, no published source. [min]
_ONE_DRINK = 5.0
_OF_STEPS = {MilkWash: "milk", Carbonate: "gas", Set: "set"}


def _usual(stage: str) -> float:
    return STAGES[stage].minutes or 0.0


def _minutes(trial: Trial) -> float:
    total = _usual("mix") if making.is_batch(trial) or trial.steps else _ONE_DRINK
    for step in trial.steps:
        if isinstance(step, Rest):
            total += 60 * step.hours
        elif type(step) in _OF_STEPS:
            total += _usual(_OF_STEPS[type(step)])
            total += _usual("rest") if isinstance(step, MilkWash) else 0.0
    return max([total, *(_minutes(other) for other in trial.beside)])


_TOOLS_OF = {"stirred": "mixing glass, bar spoon and strainer", "shaken": "shaker and strainer", "built": "bar spoon",
             "muddled": "muddler and bar spoon", "blended": "blender", "swizzled": "swizzle stick",
             "none": "jug"}  # fmt: skip
_VESSELS = {MilkWash: "second jug", Set: "pan and mould", Rest: "jug with a lid"}


def _equipment(trial: Trial) -> Fact:
    """What to put out beside the bottles. Common practice, no published source."""
    tools = ["scale", "thermometer"] if trial.steps else []
    for made in (trial, *trial.beside):
        tools.append(_TOOLS_OF.get(made.recipe.technique if made.melt > 0 else "none", "jug"))
        for step in made.steps:
            if isinstance(step, Filter):
                tools.append(f"{step.papers} paper filter{'s' * (step.papers > 1)}")
            elif isinstance(step, Carbonate):
                tools.append(f"{step.vessel}, stamped for pressure")
            elif type(step) in _VESSELS:
                tools.append(_VESSELS[type(step)])
    measure = "scale" if trial.tool in ("scale", "exact") else "jigger"
    return Fact("equipment", tools=tuple(dict.fromkeys([measure, *tools])))


def _checks(trial: Trial) -> list[Fact]:
    """How to see that it came out right: weight, temperature, pH."""
    served, checks = trial.served, []
    if making.is_batch(trial):
        checks.append(_weighed("all of it weighs", trial.stages[-2]))
    checks.append(_weighed("one glass weighs", served))
    if trial.chill is not None:
        checks.append(Fact("leaves the ice at", at=TEMPERATURE(float(trial.chill.temperature))))
    elif served.temperature is not None:
        checks.append(Fact("is served at", at=TEMPERATURE(served.temperature)))
    if served.ph is not None:
        checks.append(Fact("a meter reads", ph=Display.ph_text(served.ph)))
    return checks


def _weighed(code: str, stage: Stage) -> Fact:
    mass, volume = (stage.spread(figure) for figure in ("mass", "volume"))
    given = {"mass": MASS(stage.profile.mass, mass), "volume": VOLUME(stage.profile.volume, volume)}
    return Fact("all of it weighs", **given) if code == "all of it weighs" else Fact("one glass weighs", **given)


def _lines(text: str) -> list[str]:
    return [line for line in map(texts.line, text.splitlines()) if line]


def _paragraphs(said: Sequence[str], what: str) -> list[str]:
    return [texts.line(texts.clean(one, what)) for one in said]


def _figures(show: Display) -> dict[str, tuple[str, str]]:
    """What the figures are called, and their units."""
    return {f: (word, show.volume if f == "volume" else KINDS[f].label) for f, word in TITLES.items()}


def _cell(stage: Stage, figure: str, show: Display) -> str:
    """One figure with its ±, without the unit."""
    return " ".join(part for part in shown(stage.profile, figure, show, stage.spread(figure))[:2] if part)


def _summary(served: Stage, show: Display) -> list[dict[str, Any]]:
    return [
        {"word": word, "figure": _cell(served, name, show), "unit": unit}
        for name, (word, unit) in _figures(show).items()
        if name != "sugar_to_acid"
    ]


def _stage_table(trial: Trial, show: Display) -> list[dict[str, Any]]:
    rows = [
        {"word": word, "unit": unit, "cells": [_cell(s, name, show) for s in trial.stages]}
        for name, (word, unit) in _figures(show).items()
    ]
    more = [
        ("pH", "", [show.ph_text(s.ph) for s in trial.stages]),
        (
            "Carbon dioxide",
            "g/L",
            [" ".join(filter(None, show.parts(CONCENTRATION, *s.gas)[:2])) if s.gas[0] else "" for s in trial.stages],
        ),
        ("Temperature", show.temperature, [_warmth(s, show) for s in trial.stages]),
    ]
    return rows + [{"word": word, "unit": unit, "cells": cells} for word, unit, cells in more if any(cells)]


_IN_SHORT = ("Volume", "Strength", "Sugar", "Acid", "pH", "Carbon dioxide")


def _short_table(trial: Trial, figures: list[dict[str, Any]], show: Display) -> dict[str, Any]:
    """The stages at which something but the temperature changes, and the figures that tell of it."""
    rows = [row for row in figures if row["word"] in _IN_SHORT]
    groups: list[list[int]] = []
    for i in range(len(trial.stages)):
        same = groups and all(row["cells"][i] == row["cells"][groups[-1][-1]] for row in rows)
        groups = [*groups[:-1], [*groups[-1], i]] if same else [*groups, [i]]
    heads = []
    for group in groups:
        names = ", ".join(texts.line(trial.stages[i].name) for i in group)
        warmth = [show.temperature_text(t) for i in group if (t := trial.stages[i].temperature) is not None]
        heads.append(f"{names} ({warmth[-1]})" if warmth else names)
    cut = [row | {"cells": [row["cells"][group[0]] for group in groups]} for row in rows]
    return {"stages": heads, "figures": cut, "picture": picture.panels([trial.stages[g[0]] for g in groups])}


def _warmth(stage: Stage, show: Display) -> str:
    return "" if stage.temperature is None else show.temperature_text(stage.temperature).split(" ")[0]


def _differences_of(trial: Trial, baseline: Trial | None, show: Display) -> dict[str, Any]:
    if baseline is None:
        return {"baseline": "", "differences": []}
    return {"baseline": texts.line(baseline.recipe.name), "differences": _differences(trial, baseline, show)}


def _differences(trial: Trial, baseline: Trial, show: Display) -> list[dict[str, Any]]:
    change, rows = difference(trial, baseline), []
    for name, (word, unit) in _figures(show).items():
        acid = min(t.served.profile.acid for t in (trial, baseline)) >= LEAST_ACID
        plain = name != "sugar_to_acid" or acid
        rows.append({
            "word": word, "unit": unit,
            "here": _cell(trial.served, name, show).split(" ± ")[0],
            "there": _cell(baseline.served, name, show).split(" ± ")[0],
            "change": show.parts(KINDS[name], change[name], signed=True)[0] if plain else "no ratio without acid",
        })  # fmt: skip
    return rows


def _measured(trial: Trial) -> list[Fact]:
    """Which figures stand on own measurements, with instrument and day; of what goes beside it too."""
    found = [fact for made in (trial, *trial.beside) for fact in _own_of(made)]
    return list(dict.fromkeys(found))


def _own_of(made: Trial) -> list[Fact]:
    return [one.said(texts.line(name)) for one, name in learned_in(made.setting, made.pantry)]


def _how(trial: Trial, show: Display) -> list[str]:
    recipe = trial.recipe
    technique = _TECHNIQUES.get(recipe.technique, recipe.technique).capitalize()
    said: list[Fact | str] = [Fact("mixed and served", mixed=technique, served=_SERVES[recipe.serve])]
    if trial.melt > 0:
        melt = VOLUME(trial.melt * trial.stages[0].profile.volume)
        said.append(Fact("melt water", melt=melt, share=100 * trial.melt, basis=trial.melt_basis))
    # What the later steps say stands in the method.
    of_steps = {fact for _, _, outcome in trial.worked for fact in outcome.said} | {*_own_of(trial)}
    of_steps |= {*trial.uncounted}  # which stands beside the alcohol
    said.extend(fact for fact in trial.said if fact not in of_steps)
    if trial.chill is not None:
        said.append(Fact("leaves the ice at about", at=TEMPERATURE(float(trial.chill.temperature))))
    return [show.say(fact) for fact in said]


def _made(trial: Trial, show: Display, cited: References) -> dict[str, Any]:
    """How it is made: what it makes, what goes in, in which order."""
    batch, rows = making.is_batch(trial), making.ingredients(trial)
    pours = [
        {key: texts.line(cell) for key, cell in p.items()} | {"plain": texts.line(row.name)}
        for p, row in zip(making.table(trial, show), rows, strict=True)
    ]
    return {
        "yield": making.yields(trial, show),
        "makes": making.yields(trial, show) or show.say(Fact("makes one", each=VOLUME(trial.served.profile.volume))),
        "one": f"one {'glass' if making.piece(trial) == 'serve' else 'piece'}" if batch else "",
        "weighed": batch or any(not p["ml"] for p in pours),
        "pours": pours,
        "groups": _groups(trial, pours, cited),
        "grams": making.weight(sum(row.grams for row in rows)),
        "how": _how(trial, show),
        "method": _method(trial, pours, show),
    }


def _method(trial: Trial, pours: list[dict[str, Any]], show: Display) -> list[dict[str, Any]]:
    items, poured = [], sum(not row.step for row in making.ingredients(trial))
    for number, item in enumerate(making.method(trial, show)):
        named = [f"{pours[i]['amount']} {making.short(pours[i]['plain'])}" for i in item.uses]
        into = ", ".join(text for text in named if text.split(" ")[0] not in item.do.split())
        if number == 0 and len(item.uses) == poured:
            into = show.say(Fact("all that is poured", volume=VOLUME(trial.stages[0].profile.volume)))
        items.append({
            "do": texts.line(item.do), "into": into, "aim": item.aim, "uses": item.uses,
            "cautions": [show.say(caution) for caution in item.cautions], "more": [texts.line(n) for n in item.more],
        })  # fmt: skip
    return items


def _groups(trial: Trial, pours: list[dict[str, Any]], cited: References) -> list[dict[str, Any]]:
    """Ingredients by component, each with what it gives to the allergens and where its figures are from."""
    rows, given = making.ingredients(trial), sources.given(trial)
    groups: dict[str, list[dict[str, Any]]] = {}
    for row, cells, (what, allergens, source) in zip(rows, pours, given, strict=True):
        told = cells | {"gives": sources.joined(allergens), "cited": cited.numbers(source)}
        groups.setdefault(what or ("Added last" if row.after else ""), []).append(told)
    return [{"name": name, "rows": held} for name, held in groups.items()]


def _beside(trial: Trial, show: Display, cited: References) -> list[dict[str, Any]]:
    """What goes with each glass, each made apart."""
    said = {show.say(c) for item in making.method(trial, show) for c in item.cautions}
    found = [
        _made(other, show, cited)
        | {
            "name": texts.line(other.recipe.name),
            "summary": _summary(other.served, show),
            "batches": show.say(_batches(trial, other)),
        }
        for other in trial.beside
    ]
    for item in (item for one in found for item in one["method"]):
        item["cautions"] = [text for text in item["cautions"] if text not in said]
    return found


def _batches(trial: Trial, other: Trial) -> Fact:
    glasses, pieces = making.serves(trial), making.serves(other)
    if glasses == pieces:
        return Fact("one with each glass")
    return Fact("one with each of so many", glasses=glasses, times=glasses / pieces)


def _place(trial: Trial, show: Display) -> dict[str, Any]:
    known = _classics.load()
    family = trial.recipe.family if trial.recipe.family in known.families else None
    found = place(trial.served.profile, known, family)
    size, all_of_them = known.families.count(found.family), Fact("of the classics", count=len(known))
    (weak, strong), (dry, sweet), (soft, sour) = (found.family_range[axis] for axis in _MORE)
    middle = Fact(
        "eight in ten", weak=ABV(weak), strong=ABV(strong), dry=CONCENTRATION(dry), sweet=CONCENTRATION(sweet),
        soft=CONCENTRATION(soft), sour=CONCENTRATION(sour),
    )  # fmt: skip
    in_family = [_rank(a, found.percentile_in_family[a], Fact("of its family", count=size)) for a in _MORE]
    return {
        "nearest": [{"name": n, "family": f, "distance": f"{d:.1f}"} for n, f, d in found.nearest],
        "family": found.family,
        "family_why": "" if family else show.say(Fact("family of the nearest")),
        "ranks": [show.say(_rank(a, found.percentile[a], all_of_them)) for a in _MORE],
        "family_ranks": [show.say(rank) for rank in in_family],
        "family_nearest": ", ".join(n for n, _, _ in found.nearest_in_family),
        "family_range": show.say(middle) if size >= 5 else "",  # a handful has no middle to speak of
        "says": show.say(_place_says(found, len(known))),
    }


def _place_says(found: Place, count: int) -> Fact:
    """The finding of the chart in one sentence."""
    among: tuple[Fact | str, ...] = ("", "", Fact("of them"))
    ranks = tuple(_rank(axis, found.percentile[axis], of) for axis, of in zip(_MORE, among, strict=True))
    name, family, distance = found.nearest[0]
    return Fact("nearest of the classics", count=count, name=name, family=family, distance=distance, ranks=ranks)


def _serves_words(recipe: Recipe) -> str:
    return _SERVES[recipe.serve]


def _rank(axis: str, percentile: float, among: Fact | str) -> Fact:
    if percentile <= 0 or percentile >= 100:
        return Fact("ranks above none" if percentile <= 0 else "ranks above all", more=_MORE[axis], among=among)
    return Fact("ranks above", more=_MORE[axis], percent=min(max(round(percentile), 1), 99), among=among)


def _serve_title(trial: Trial) -> str:
    if trial.served.profile.volume > MOST_GLASS:
        return "All of it"
    return "One serve" + (" with what goes beside it" if trial.beside else "")


def _drinks(trial: Trial, country: str) -> tuple[Fact, ...]:
    glass, whole = trial.served.profile.alcohol, trial.alcohol
    count, size = strength.standard_drinks(whole, country), strength.countries()[country]
    apart = Fact("alcohol apart", glass=MASS(glass), beside=MASS(whole - glass)) if trial.beside else ""
    told = Fact("alcohol in drinks", apart=apart, grams=MASS(whole), count=count, country=country, size=size)
    if 0 < count < service.LEAST:
        told = Fact("alcohol in few drinks", apart=apart, country=country, size=size)
    if trial.served.profile.volume <= MOST_GLASS:
        return (told,)
    return (told, Fact("alcohol of it all", whole=LITRES(trial.served.profile.volume / 1000)))


def _energy(trial: Trial) -> dict[str, Any]:
    """Estimate for the serve and what goes beside it, from what is counted: grams and kJ."""
    kj, kcal, grams = service.energy(t.served.liquid[0] for t in (trial, *trial.beside))
    of = Fact("the whole" if trial.served.profile.volume > MOST_GLASS else "the serve")
    beside = Fact("and what goes beside it") if trial.beside else ""
    told = Fact("energy", kj=service.tens(kj), kcal=service.tens(kcal), of=of, beside=beside, counted=tuple(grams))
    return {"kj": kj, "kcal": kcal, "grams": grams, "text": say(told)}
