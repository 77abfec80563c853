"""A trial as one page to hand on: HTML that needs no internet, and Markdown.

The page carries its own data (schema.org Recipe, with the exact numbers beside it), so that somebody
else can run the drink again from the file alone.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> sour = run(Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken"))
>>> read(html(sour)) == sour.recipe
True
"""

from __future__ import annotations

import base64
import functools
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date as _date
from html import escape
from pathlib import Path

import jinja2
from markupsafe import Markup

from . import __version__, files, logbook, strength, tables, texts
from . import classics as _classics
from .balance import KINDS, LEAST_ACID, TITLES, place, shown
from .declared import not_stated
from .errors import InputError, Told, one_of
from .pantry import Ingredient, Pantry
from .recipe import Recipe
from .trial import TOOLS, Stage, Trial, difference
from .units import FLUID_OUNCE, GRAMS, METRIC, US, Display, ounces_text

# kJ and kcal in a gram: Regulation (EU) 1169/2011, annex XIV (from memory).
ENERGY = {"alcohol": (29, 7), "sugar": (17, 4), "acid": (13, 3), "protein": (17, 4), "fat": (37, 9)}
_TECHNIQUES = {"none": "without ice", "muddled": "muddled and built", "stirred": "stirred on ice",
               "shaken": "shaken with ice", "blended": "blended with ice", "swizzled": "swizzled with ice"}  # fmt: skip
_SERVES = {"up": "served up", "on ice": "served on ice", "long": "served long", "hot": "served hot"}
_MORE = {"abv": "stronger", "sugar": "sweeter", "acid": "more acidic"}


def html(
    trial: Trial,
    *,
    title: str = "",
    question: str = "",
    method: str = "",
    notes: str = "",
    baseline: Trial | None = None,
    display: Display | None = None,
    country: str | None = None,
    date: _date | None = None,
    chart_html: str = "",
    chart_svg: str = "",
    chart_text: str = "",
) -> str:
    """One HTML page about a trial; nothing in it is fetched from anywhere.

    Parameters
    ----------
    trial : Trial
    title, question, method, notes : str
        In the developer's words, a line a paragraph or a step; by default the recipe's own.
    baseline : Trial, optional
        The drink that was pinned, to show the difference from.
    display : Display, optional
        mL or oz, °C or °F, if not as in the trial's setting.
    country : str, optional
        Whose standard drinks to count in, if not the setting's.
    date : datetime.date, optional
        Today by default.
    chart_html, chart_svg : str
        A live chart for the screen and a still one for print, as `workbook.charts` makes them. They
        are put in as they are: never pass a text that somebody typed.
    chart_text : str
        What the chart shows, in words; without a chart, why there is none.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For an unknown country, or a text that is too long.
    """
    facts = _facts(trial, title, question, method, notes, baseline, display, country, date, chart_text)
    picture = base64.b64encode(chart_svg.encode()).decode() if chart_svg else ""
    # "<" would let a name end the script element.
    data = json.dumps(facts["data"], ensure_ascii=False, indent=1, allow_nan=False)
    for sign in "<>&":
        data = data.replace(sign, f"\\u{ord(sign):04x}")
    return _template("writeup.html.j2").render(
        facts | {"data": Markup(data), "chart_html": Markup(chart_html), "picture": picture}
    )


def markdown(
    trial: Trial,
    *,
    title: str = "",
    question: str = "",
    method: str = "",
    notes: str = "",
    baseline: Trial | None = None,
    display: Display | None = None,
    country: str | None = None,
    date: _date | None = None,
    chart_text: str = "",
) -> str:
    """The same write-up as Markdown, without the chart. Arguments as for `html`."""
    facts = _facts(trial, title, question, method, notes, baseline, display, country, date, chart_text)
    return _template("writeup.md.j2").render(facts)


def save(trial: Trial, folder: str | Path, *, chart_html: str = "", chart_svg: str = "", **about) -> tuple[Path, Path]:
    """Write both as new files under `folder`/writeups; nothing is ever overwritten.

    Parameters
    ----------
    trial : Trial
    folder : path
        The user's working folder; made if missing.
    chart_html, chart_svg, **about
        As for `html`.

    Returns
    -------
    (Path, Path)
        The page and the Markdown file, of one name.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    page = html(trial, chart_html=chart_html, chart_svg=chart_svg, **about)
    day = about.get("date") or _date.today()
    stem = f"{day.isoformat()}_{logbook.slug(about.get('title') or trial.recipe.name)}"
    paths = logbook.write_new(Path(folder) / "writeups", stem, {".html": page, ".md": markdown(trial, **about)})
    return paths[0], paths[1]


def read(path_or_text: str | Path) -> Recipe:
    """The recipe of a write-up page; `rerun` also takes its settings and ingredients.

    Raises
    ------
    InputError
        If it is no such page, or a damaged one.
    """
    data, where = _payload(path_or_text)
    return logbook.recipe(data, where)


def rerun(
    path_or_text: str | Path,
    pantry: Pantry | None = None,
    *,
    country: str | None = None,
) -> Trial:
    """Run the drink of a write-up page again, with the page's settings.

    Parameters
    ----------
    path_or_text : path or str
        The page's file, or its HTML.
    pantry : Pantry, optional
        Its ingredients win; those that it lacks are taken from the page.
    country : str, optional
        Whose standard drinks to count in, if not the page's.

    Returns
    -------
    Trial
        What the page declares beyond the pantry (allergens, cautions) is declared in it too; `notes` says so.

    Raises
    ------
    InputError
        If it is no such page, or a damaged one.

    Examples
    --------
    >>> from drinklab.trial import run
    >>> drink = run(Recipe.parse("40 mL gin"), melt=0.4)
    >>> rerun(html(drink)).served == drink.served
    True
    """
    data, where = _payload(path_or_text)
    return logbook.revive(data, pantry, country=country, where=where)


_SCRIPT = re.compile(r"<script\b[^<>]{0,200}>", re.IGNORECASE)


def _linked(page: str) -> Iterator[str]:
    """The text of each script of data in a page."""
    end = 0
    while opening := _SCRIPT.search(page, end):
        end = page.find("</script", opening.end())
        if end < 0:
            return
        if "application/ld+json" in opening[0]:
            yield page[opening.end() : end]


def _payload(path_or_text: str | Path) -> tuple[dict, str]:
    where, page = "", path_or_text
    if not isinstance(page, (str, Path)):
        raise InputError("write-up", Told(f"a {type(page).__name__}"), "the path of a page, or its text")
    if isinstance(page, Path) or "<" not in page:
        where, allowed = Path(page).name, "an HTML file that is there and can be read"
        try:
            page = files.read(page, "write-up", allowed).decode("utf-8")
        except InputError:
            raise
        except (OSError, ValueError):
            raise InputError("write-up", where or str(page), allowed) from None
    for text in _linked(page):
        data = logbook.parse_json(text, "data of the page", where).get("drinklab")
        if isinstance(data, dict):
            return data, where
    raise InputError("write-up", where or "this text", "an HTML page that Drinklab wrote, with its data in it")


# --- what the page says ---------------------------------------------------------------------------


def _facts(trial, title, question, method, notes, baseline, display, country, date, chart_text) -> dict:
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
        "method": _lines(recipe.method),
        "notes": _lines(texts.clean(notes, "notes")),
        "summary": _summary(served, show),
        "pours": _pours(trial),
        "how": _how(trial, show),
        "warmth": show.temperature_text(20),
        "stages": [texts.line(s.name) for s in trial.stages],
        "figures": _stage_table(trial, show),
        "uncertain": _uncertain(trial),
        "place": _place(trial),
        "chart_text": texts.line(chart_text),
        "allergens": _joined(trial.allergens),
        "may_contain": _joined([m for m in trial.may_contain if m not in trial.allergens]),
        "unstated": " ".join(not_stated(trial.unstated)),
        "cautions": [c.text for c in trial.cautions],
        "drinks": _drinks(served, country),
        "energy": _energy(trial),
        "ingredients": [_ingredient(p.bottle(trial.pantry), p.abv) for p in _distinct(trial)],
        "relations": _relations(trial, country),
    }
    if baseline is not None:
        facts["baseline"] = texts.line(baseline.recipe.name)
        facts["differences"] = _differences(trial, baseline, show)
    else:
        facts["baseline"], facts["differences"] = "", []
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
            [f"{g:.1f} ± {max(pm, 0.1):.1f}" if g else "" for g, pm in (s.gas for s in trial.stages)],
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


def _pours(trial: Trial) -> list[dict]:
    poured = [p for p in trial.recipe.pours if p.amount > 0]
    total = sum(p.amount for p in poured)
    # A part is the recipe's own, or the smallest pour that is more than a dash or a spoon.
    own = [p.typed.ml for p in poured if p.typed and p.typed.unit == "part"]
    part = (
        own[0]
        if own
        else min([p.amount for p in poured if p.amount >= max(5, 0.08 * total)] or [p.amount for p in poured])
    )
    ml = Display()
    rows = []
    for p in poured:
        bottle = p.bottle(trial.pantry)
        name = bottle.name
        more = [f"{p.amount * bottle.density:.1f} g"] if bottle.state != "liquid" else []
        # What a jigger measures has columns of its own.
        told = p.amount_text(trial.pantry, ml) if p.typed and p.typed.unit not in (*METRIC, *US, *GRAMS) else ""
        if told:
            more.insert(0, told)
        name += f" ({', '.join(more)})" if more else ""
        ounces = ounces_text(p.amount).replace(" oz", "")
        rows.append({
            "name": texts.line(name) + (", added last" if p.after else ""),
            "text": f"{told or ml.volume_text(p.amount)} {texts.line(bottle.name)}",
            "ml": ml.volume_text(p.amount).removesuffix(" mL"), "oz": ounces, "parts": _parts(p.amount / part),
            "abv": f"{bottle.abv:.4g} % vol" if bottle.abv else "none",
        })  # fmt: skip
    return rows


def _parts(ratio: float) -> str:
    """A ratio as a bar says it.

    >>> _parts(2.99), _parts(4 / 3), _parts(0.06), _parts(1.4)
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


def _how(trial: Trial, show: Display) -> list[str]:
    recipe, mixed, served = trial.recipe, trial.stages[0].profile, trial.served.profile
    technique = _TECHNIQUES.get(recipe.technique, recipe.technique)
    out = [f"{technique}, {_SERVES[recipe.serve]}.".capitalize()]
    if trial.melt > 0:
        melt = show.volume_text(trial.melt * mixed.volume)
        out.append(f"Melt water: {melt}, {100 * trial.melt:.0f} % of the volume before ice ({trial.melt_basis}).")
    out.extend(map(show.told, trial.notes))
    if trial.chill is not None:
        out.append(f"It leaves the ice at about {show.temperature_text(trial.chill.temperature)}.")
    if trial.serve_volume is not None:
        made = trial.stages[-2].profile.volume
        out.append(f"In the glass: {show.volume_text(served.volume)} of {show.volume_text(made)} made.")
    return out


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


def _drinks(served: Stage, country: str) -> str:
    grams = served.profile.alcohol
    count, size = strength.standard_drinks(grams, country), strength.countries()[country]
    return (
        f"{grams:.1f} g of alcohol, {count:.1f} standard drinks ({country}, {size:g} g each). This compares serves; "
        "it says nothing about how anybody is affected."
    )


def _energy(trial: Trial) -> dict:
    """Estimate for the serve, from what is counted: grams and kJ."""
    served = trial.served.liquid[0]
    grams = {"alcohol": served.ethanol} | {n: getattr(served, n) for n in ("sugar", "acid", "protein", "fat")}
    kj, kcal = (sum(g * ENERGY[n][i] for n, g in grams.items()) for i in (0, 1))
    counted = " and ".join(_joined(list(grams)).rsplit(", ", 1))
    return {
        "kj": kj, "kcal": kcal, "grams": grams,
        "text": f"About {_tens(kj)} kJ ({_tens(kcal)} kcal) in the serve, an estimate from its {counted}.",
    }  # fmt: skip


def _tens(value: float) -> str:
    return f"{round(value, -1):.0f}" if value >= 100 else f"{value:.0f}"


def _distinct(trial: Trial):
    return {(p.ingredient, p.abv): p for p in trial.recipe.pours if p.amount > 0}.values()


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


def _relations(trial: Trial, country: str) -> list[str]:
    sources = "; ".join(s.title for s in tables.sources("classics"))
    row = next(r for r in tables.read("standard_drinks").rows() if r["country"] == country)
    absolute, relative = TOOLS[trial.tool]
    tool = f"± {absolute:g} mL" + (f" and {100 * relative:g} % of the pour" if relative else "")
    by_rule = f", taken as {trial.melt_pm_words}"
    lines = [
        "Strength, volume and density at 20 °C: ethanol and water by OIML R 22 (1975), sugars by ICUMSA SPS-4 (1995), "
        "what else is dissolved by its apparent volume. Volumes are never added up.",
        f"Melt water: {trial.melt_basis}{by_rule if trial.melt > 0 else ''}.",
        f"Each ± holds about 19 results in 20. It comes from the spread between bottles and fruits, pours by "
        f"{trial.tool} ({tool}; common practice, no published source) and the melt water.",
        *(step.basis for step in trial.steps if getattr(step, "basis", "")),
        "Sugar is all sugars together; acid is each acid by weight as such, not titrated.",
        "pH: charge balance of the acids and the juices' potassium, by published dissociation constants (NIST 46) and "
        "alcohol's shift, as a meter reads at 25 °C. Not given where next to nothing sour is counted.",
        f"Classics: {len(_classics.load())} published drinks, run through the same sums. {sources}. Distance: how far "
        "a drink is in strength, sugar and acid together; 1 is a usual difference between two classics.",
        f"Standard drink, {country}: {texts.line(row['source'])} ({_joined(row['source_class'])}).",
        "Energy: factors of Regulation (EU) 1169/2011, annex XIV (from memory).",
        f"1 oz here is the US fluid ounce, {FLUID_OUNCE:.2f} mL (NIST Handbook 44, appendix C), in eighths; the % "
        "beside it is what that rounding adds or leaves out. A part is the recipe's own; else it is the smallest pour "
        "that is more than a dash or a spoon.",
    ]
    return [line for line in lines if _uncertain(trial) or not line.startswith("Each ±")]


def _uncertain(trial: Trial) -> bool:
    return any(s.spread("abv") > 0 for s in trial.stages)


def _linked_data(trial: Trial, facts: dict) -> dict:
    """schema.org Recipe for other programs, and the trial exactly as it is."""
    recipe, served, energy = trial.recipe, trial.served.profile, facts["energy"]
    grams = energy["grams"]
    nutrition = {
        "@type": "NutritionInformation",
        "servingSize": f"{served.volume:.0f} mL",
        "calories": f"{_tens(energy['kcal'])} kcal",
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
        "recipeYield": f"1 drink, {served.volume:.0f} mL",
        "recipeIngredient": [p["text"] for p in facts["pours"]],
        "recipeInstructions": [{"@type": "HowToStep", "text": text} for text in (facts["method"] or facts["how"][:1])],
        "nutrition": nutrition,
        "drinklab": logbook.snapshot(trial),
    }
    return {key: value for key, value in data.items() if value}


# --- templates ------------------------------------------------------------------------------------


def _for_markdown(value: object) -> str:
    r"""Text that Markdown shows as it is.

    >>> print(_for_markdown("a_b *c* <d> | 1. e"))
    a\_b \*c\* &lt;d&gt; \| 1. e
    """
    text = re.sub(r"([\\`*_\[\]|~#$])", r"\\\1", escape(texts.fit(str(value)), quote=False))
    # Not a list, a rule or a heading at the start of a line, and not a link.
    text = re.sub(r"^(\d*)(?=[.)](?:\s|$)|[-+=](?:[\s=-]|$))", r"\1\\", text)
    return text.replace("://", "\\://")


def _unbroken(value: object) -> object:
    """Keeps a number and its unit on one line; what is HTML already passes as it is."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return re.sub(
        r"(?<=[\d⅓⅔½¼¾]) (?=[%±]|(?:mL|oz|g|kJ|kcal)\b)|(?<=±) (?=\d)|(?<=%) (?=vol\b)", "\u00a0", texts.fit(value)
    )


@functools.cache
def _template(name: str) -> jinja2.Template:
    page = name.endswith(".html.j2")
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("drinklab"),
        autoescape=page,
        finalize=_unbroken if page else _for_markdown,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template(name)
