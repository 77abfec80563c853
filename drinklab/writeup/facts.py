"""What a page says: figures, tables and sentences of a trial."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as _date

from .. import __version__, logbook, making, service, strength, tables, texts
from .. import classics as _classics
from ..balance import KINDS, LEAST_ACID, TITLES, place, shown
from ..declared import not_stated
from ..display import Display
from ..errors import one_of
from ..facts import Fact
from ..gels import Set, agents
from ..kinds import CONCENTRATION, LITRES, VOLUME
from ..milk import MilkWash, milks
from ..pantry import Ingredient
from ..trial import MOST_GLASS, TOOLS, Stage, Trial, difference
from ..units import FLUID_OUNCE

_TECHNIQUES = {"none": "mixed without ice", "muddled": "muddled and built", "stirred": "stirred on ice",
               "shaken": "shaken with ice", "blended": "blended with ice", "swizzled": "swizzled with ice"}  # fmt: skip
_SERVES = {"up": "served up", "on ice": "served on ice", "long": "served long", "hot": "served hot"}
_MORE = {"abv": "stronger", "sugar": "sweeter", "acid": "more acidic"}


def facts_of(trial, title, question, method, notes, tasted, baseline, display, country, date, chart_text) -> dict:
    """All that the templates are filled with; arguments as of `html`."""
    country = one_of("country", country or trial.setting.country, strength.countries())
    show = display or trial.setting.display
    recipe = replace(trial.recipe, question=question or trial.recipe.question, method=method or trial.recipe.method)
    trial = replace(trial, setting=replace(trial.setting, recipe=recipe, country=country, display=show))
    title = texts.line(texts.clean(title, "title", texts.NAME)) or texts.line(recipe.name)
    served = trial.served
    day = (date or _date.today()).isoformat()
    facts = {
        "title": title,
        "drink": texts.line(recipe.name),
        "date": day,
        "version": __version__,
        "question": _lines(recipe.question),
        "notes": _lines(texts.clean(notes, "notes")),
        "tasted": [texts.line(texts.clean(one, "what a tasting found")) for one in tasted],
        "summary": _summary(served, show),
        "beside": _beside(trial, show),
        "warmth": show.temperature_text(20),
        "stages": [texts.line(s.name) for s in trial.stages],
        "figures": _stage_table(trial, show),
        "uncertain": _uncertain(trial),
        "place": _place(trial),
        "chart_text": texts.line(chart_text),
        "allergens": _joined(trial.allergens),
        "may_contain": _joined([m for m in trial.may_contain if m not in trial.allergens]),
        "unstated": show.say(not_stated(trial.unstated)),
        "cautions": [show.say(c) for c in trial.cautions],
        "serve": _serve_title(trial),
        "drinks": _drinks(trial, country, show),
        "energy": _energy(trial),
        "ingredients": _ingredients(trial),
        "relations": _relations(trial, country, show),
    }
    if baseline is not None:
        facts["baseline"] = texts.line(baseline.recipe.name)
        facts["differences"] = _differences(trial, baseline, show)
    else:
        facts["baseline"], facts["differences"] = "", []
    facts |= _made(trial, show)
    facts["data"] = _linked_data(trial, facts)
    return facts


def _lines(text: str) -> list[str]:
    return [line for line in map(texts.line, text.splitlines()) if line]


def _joined(words) -> str:
    return words if isinstance(words, str) else ", ".join(words)


def _figures(show: Display) -> dict[str, tuple[str, str]]:
    """What the figures are called, and their units."""
    return {f: (word, show.volume if f == "volume" else KINDS[f].label) for f, word in TITLES.items()}


def _cell(stage: Stage, figure: str, show: Display) -> str:
    """One figure with its ±, without the unit."""
    return " ".join(part for part in shown(stage.profile, figure, show, stage.spread(figure))[:2] if part)


def _summary(served: Stage, show: Display) -> list[dict]:
    return [
        {"word": word, "figure": _cell(served, name, show), "unit": unit}
        for name, (word, unit) in _figures(show).items()
        if name != "sugar_to_acid"
    ]


def _stage_table(trial: Trial, show: Display) -> list[dict]:
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


def _warmth(stage: Stage, show: Display) -> str:
    return "" if stage.temperature is None else show.temperature_text(stage.temperature).split(" ")[0]


def _differences(trial: Trial, baseline: Trial, show: Display) -> list[dict]:
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


def _how(trial: Trial, show: Display) -> list[str]:
    recipe = trial.recipe
    out = [f"{_TECHNIQUES.get(recipe.technique, recipe.technique)}, {_SERVES[recipe.serve]}.".capitalize()]
    served_with = (("Glass", recipe.glass), ("Ice in it", recipe.glass_ice), ("Garnish", recipe.garnish))
    if told := "; ".join(f"{word}: {texts.line(text)}" for word, text in served_with if text):
        out.append(f"{told}.")
    if trial.melt > 0:
        melt = show.volume_text(trial.melt * trial.stages[0].profile.volume)
        out.append(f"Melt water: {melt}, {100 * trial.melt:.0f} % of the volume before ice ({trial.melt_basis}).")
    # What the later steps say stands in the method.
    of_steps = {fact for _, _, outcome in trial.worked for fact in outcome.said}
    out.extend(show.say(fact) for fact in trial.said if fact not in of_steps)
    if trial.chill is not None:
        out.append(f"It leaves the ice at about {show.temperature_text(trial.chill.temperature)}.")
    return out


def _made(trial: Trial, show: Display) -> dict:
    """How it is made: what it makes, what goes in, in which order."""
    pours = making.table(trial, show)
    return {
        "yield": making.yields(trial, show),
        "one": f"one {'glass' if making.piece(trial) == 'serve' else 'piece'}" if making.is_batch(trial) else "",
        "weighed": making.is_batch(trial) or any(not p["ml"] for p in pours),
        "pours": [{key: texts.line(cell) for key, cell in p.items()} for p in pours],
        "grams": making.weight(sum(row.grams for row in making.ingredients(trial))),
        "how": _how(trial, show),
        "method": [
            {"do": texts.line(item.do), "more": [texts.line(note) for note in item.more]}
            for item in making.method(trial, show)
        ],
    }


def _beside(trial: Trial, show: Display) -> list[dict]:
    """What goes with each glass, each made apart."""
    return [
        _made(other, show)
        | {
            "name": texts.line(other.recipe.name),
            "summary": _summary(other.served, show),
            "batches": _batches(trial, other),
        }
        for other in trial.beside
    ]


def _batches(trial: Trial, other: Trial) -> str:
    glasses, pieces = making.serves(trial), making.serves(other)
    if glasses == pieces:
        return "One goes with each glass."
    share = glasses / pieces
    return f"One goes with each of {glasses} glasses: make it {share:.3g} times."


def _place(trial: Trial) -> dict:
    known = _classics.load()
    family = trial.recipe.family if trial.recipe.family in known.families else None
    found = place(trial.served.profile, known, family)
    size = known.families.count(found.family)
    ranges = [found.family_range[axis] for axis in _MORE]
    reach = [
        f"{low:.{digits}f} to {high:.{digits}f} {unit}"
        for (low, high), digits, unit in zip(ranges, (1, 0, 1), ("% vol", "g/L of sugar", "g/L of acid"), strict=True)
    ]
    # A handful has no middle to speak of.
    middle = f"On each figure, eight in ten of them lie within {', '.join(reach)}." if size >= 5 else ""
    return {
        "nearest": [{"name": n, "family": f, "distance": f"{d:.1f}"} for n, f, d in found.nearest],
        "family": found.family,
        "family_why": "" if family else "The family is that of the nearest classic.",
        "ranks": [_rank(a, found.percentile[a], f"the {len(known)} classics") for a in _MORE],
        "family_ranks": [_rank(a, found.percentile_in_family[a], f"its {size} drinks") for a in _MORE],
        "family_nearest": ", ".join(n for n, _, _ in found.nearest_in_family),
        "family_range": middle,
    }


def _rank(axis: str, percentile: float, among: str) -> str:
    if percentile <= 0 or percentile >= 100:
        return f"{_MORE[axis]} than {'none' if percentile <= 0 else 'all'} of {among}"
    return f"{_MORE[axis]} than {min(max(round(percentile), 1), 99)} % of {among}"


def _serve_title(trial: Trial) -> str:
    if trial.served.profile.volume > MOST_GLASS:
        return "All of it"
    return "One serve" + (" with what goes beside it" if trial.beside else "")


def _drinks(trial: Trial, country: str, show: Display) -> str:
    glass, whole = trial.served.profile.alcohol, trial.alcohol
    count, size = strength.standard_drinks(whole, country), strength.countries()[country]
    both = f"{glass:.1f} g in the glass and {whole - glass:.1f} g in what goes beside it; together, rounded by itself, "
    told = (
        f"{both if trial.beside else ''}{whole:.1f} g of alcohol, {count:.1f} standard drinks ({country}, {size:g} g "
        "each). This compares serves; it says nothing about how anybody is affected."
    )
    if trial.served.profile.volume > MOST_GLASS:
        told += f" {show.say(Fact('alcohol of it all', whole=LITRES(trial.served.profile.volume / 1000)))}"
    return told


def _energy(trial: Trial) -> dict:
    """Estimate for the serve and what goes beside it, from what is counted: grams and kJ."""
    kj, kcal, grams = service.energy(t.served.liquid[0] for t in (trial, *trial.beside))
    words = " and ".join(_joined(list(grams)).rsplit(", ", 1))
    what = "the whole" if trial.served.profile.volume > MOST_GLASS else "the serve"
    what += " and what goes beside it" if trial.beside else ""
    text = f"About {service.tens(kj)} kJ ({service.tens(kcal)} kcal) in {what}, an estimate from {words}."
    return {"kj": kj, "kcal": kcal, "grams": grams, "text": text}


def _ingredients(trial: Trial) -> list[dict]:
    """Sources of each bottle, and of what the steps bring, once each."""
    found: dict[str, dict] = {}
    for made in (trial, *trial.beside):
        for pour in made.recipe.pours:
            if pour.amount > 0:
                row = _ingredient(pour.bottle(made.pantry), pour.abv)
                found.setdefault(row["name"], row)
        for step in made.steps:
            if isinstance(step, MilkWash):
                milk = milks()[step.milk]
                held = f"{1000 * milk.casein:.0f} g/L of casein; binds {milk.buffering:.0f} ± {milk.buffering_pm:.0f} "
                held += "mmol/L of acid from pH 6.7 to 4.6"
                rows = tables.read("milks").rows()
                kind = _joined(next(row["source_class"] for row in rows if row["milk"] == step.milk))
                found[step.milk] = {"name": step.milk, "held": held, "source": milk.source, "source_class": kind}
            if isinstance(step, Set):
                about = agents()[step.agent]
                found[step.agent] = {
                    "name": step.agent, "held": f"of {about.origin}", "source": about.source.split("; ")[0],
                    "source_class": _joined(about.source_class),
                }  # fmt: skip
    return list(found.values())


def _ingredient(bottle: Ingredient, own_strength: float | None) -> dict:
    held = [
        words
        for value, pm, digits, unit in (
            (bottle.abv, bottle.abv_pm, 1, "% vol"),
            (bottle.sugar, bottle.sugar_pm, 0, "g/L of sugar"),
            (bottle.acid, bottle.acid_pm, 1, "g/L of acid"),
        )
        if (words := _held(value, 2 * pm, digits, unit))
    ]
    source, kind = texts.line(bottle.source), _joined(bottle.source_class)
    if own_strength is not None:
        source = f"strength as on the bottle; else {source}" if source else "strength as on the bottle"
    return {
        "name": texts.line(bottle.name),
        "held": "; ".join(held) or "no alcohol, sugar or acid counted",
        "source": source or "no source given",
        "source_class": texts.line(kind) or "unmarked",
    }


def _held(value: float, half: float, digits: int, unit: str) -> str:
    """Two standard deviations each way, as everywhere on the page; never below nothing."""
    if value + half < 0.5 * 10.0**-digits:
        return ""
    if half > value:
        return f"0 to {value + half:.{digits}f} {unit}"
    return f"{value:.{digits}f}{f' ± {half:.{digits}f}' if round(half, digits) else ''} {unit}"


def _relations(trial: Trial, country: str, show: Display) -> list[str]:
    sources = "; ".join(s.title for s in tables.sources("classics"))
    row = next(r for r in tables.read("standard_drinks").rows() if r["country"] == country)
    absolute, relative = TOOLS[trial.tool]
    sure = Fact("± of a tool", absolute=VOLUME(absolute))
    if relative:
        sure = Fact("± of a tool and a share", absolute=VOLUME(absolute), share=100 * relative)
    by_rule = f", taken as {trial.melt_pm_words}"
    lines = [
        Fact("densities"),
        f"Melt water: {trial.melt_basis}{by_rule if trial.melt > 0 else ''}.",
        *[Fact("± of a write-up", tool=trial.tool, sure=sure)] * bool(_uncertain(trial)),
        *dict.fromkeys(s.basis for t in (trial, *trial.beside) for s in t.steps if getattr(s, "basis", "")),
        "Sugar is all sugars together; acid is each acid by weight as such, not titrated.",
        Fact("acids"),
        f"Classics: {len(_classics.load())} published drinks, run through the same sums. {sources}. Distance: how far "
        "a drink is in strength, sugar and acid together; 1 is a usual difference between two classics.",
        f"Standard drink, {country}: {texts.line(row['source'])} ({_joined(row['source_class'])}).",
        "Energy: factors of Regulation (EU) 1169/2011, annex XIV.",
        f"1 oz here is the US fluid ounce, {FLUID_OUNCE:.2f} mL (NIST Handbook 44, appendix C), in eighths; the % "
        "beside it is what that rounding adds or leaves out. A part is the recipe's own; else it is the smallest pour "
        "that is more than a dash or a spoon.",
    ]
    return [show.say(line) for line in lines]


def _uncertain(trial: Trial) -> bool:
    return any(s.spread("abv") > 0 for s in trial.stages)


def _linked_data(trial: Trial, facts: dict) -> dict:
    """schema.org Recipe for other programs, and the trial exactly as it is."""
    recipe, served, energy = trial.recipe, trial.served.profile, facts["energy"]
    grams = energy["grams"]
    nutrition = {
        "@type": "NutritionInformation",
        "servingSize": f"{served.volume:.0f} mL",
        "calories": f"{service.tens(energy['kcal'])} kcal",
        "sugarContent": f"{grams['sugar']:.0f} g",
    }
    data = {
        "@context": "https://schema.org",
        "@type": "Recipe",
        "name": facts["title"],
        "description": " ".join(facts["question"]),
        "dateCreated": facts["date"],
        "recipeCategory": "drink",
        "keywords": ", ".join(w for w in (recipe.family, recipe.technique, _SERVES[recipe.serve]) if w),
        "recipeYield": making.recipe_yield(trial),
        "recipeIngredient": [p["text"] for part in (facts, *facts["beside"]) for p in part["pours"]],
        "recipeInstructions": [
            {"@type": "HowToStep", "text": item["do"]} for part in (facts, *facts["beside"]) for item in part["method"]
        ],
        "nutrition": nutrition,
        "drinklab": logbook.snapshot(trial),
    }
    return {key: value for key, value in data.items() if value}
