"""What the bench says of a trial: figures, stages, neighbours, and the rows of its chart. No maths here."""

from __future__ import annotations

import functools
from dataclasses import replace

from ... import classics, profile, service, strength, trial
from ...display import Display
from ...facts import Fact, say
from ...kinds import CONCENTRATION, MASS, TEMPERATURE, VOLUME
from ...recipe import SERVED_WITH, Recipe
from ..charts import place as place_charts
from .bars import bar, shares
from .html import bold, element, heading, join, para, quiet, table, tiles

NEAREST = 5  # neighbours that are named
# The figures that stay in view; the ratio of sugar to acid is among the stages.
IN_VIEW = ("abv", "sugar", "acid", "volume", "alcohol")


@functools.cache
def classic_rows(known: classics.Classics) -> list[dict]:
    """The classics as points of the chart."""
    figures = profile.reference(known)
    return [
        {"name": r.name, "family": f, "technique": r.technique}
        | {a: round(float(getattr(figures, a)[i]), 2) for a in profile.AXES}
        for i, (r, f) in enumerate(zip(known, known.families, strict=True))
    ]


@functools.cache
def _family_rows(known: classics.Classics, family: str) -> dict[str, list]:
    return place_charts.family_rows(classic_rows(known), family)


def placed_rows(
    now: trial.Trial, placed: profile.Place, known: classics.Classics, base: trial.Trial | None = None, was=()
) -> dict[str, list]:
    """The drink with its spread, the one to compare with, the classics near it and of its family, and the axes' ends.

    `was` is where the axes end now, as the chart has it, if it showed this drink already.
    """
    near = {name: i for i, (name, _, _) in enumerate(placed.nearest, 1)}
    found = ({"n": near[row["name"]], **row} for row in classic_rows(known) if row["name"] in near)
    family = _family_rows(known, placed.family)
    rows = {
        "me": [{**point(now), **_reach(now)}], "base": [point(base)] if base else [],
        "near": sorted(found, key=lambda row: row["n"]),
    }  # fmt: skip
    shown = [row for name in rows for row in rows[name]] + family["family"]
    return rows | family | {"frame": [place_charts.ends(*shown, was=was[0] if was else None)]}


def placed_among(now: trial.Trial, known: classics.Classics) -> profile.Place:
    """The place of a drink among the classics; one that is a classic itself is not its own neighbour."""
    own = now.recipe.name
    placed = profile.place(now.served.profile, known, now.recipe.family, count=NEAREST + 1)
    near, family = (
        tuple(n for n in found if n[0] != own)[:NEAREST] for found in (placed.nearest, placed.nearest_in_family)
    )
    return replace(placed, nearest=near, nearest_in_family=family)


def point(now: trial.Trial) -> dict:
    """The drink as a point of the chart."""
    figures = now.served.profile
    return {"label": now.recipe.name} | {a: round(getattr(figures, a), 2) for a in profile.AXES}


def _reach(now: trial.Trial) -> dict:
    return {
        f"{axis}_{end}": round(getattr(getattr(now.served, end), axis), 2)
        for axis in profile.AXES
        for end in ("low", "high")
    }


def _column(now: trial.Trial, figure: str, show: Display) -> tuple[str, list[str]]:
    """A figure of every stage, its unit at the head; strength and volume with a bar, so that the way is seen."""
    shown = [profile.shown(stage.profile, figure, show, stage.spread(figure)) for stage in now.stages]
    unit = next((one.unit for one in shown if one.unit), "")
    cells = [" ".join(part for part in (one.number, one.around) if part) for one in shown]
    if figure in ("abv", "volume"):
        most = 1.1 * max(getattr(stage.profile, figure) for stage in now.stages)
        cells = [
            join([bar(getattr(stage.profile, figure), most, stage.spread(figure)), text])
            for stage, text in zip(now.stages, cells, strict=True)
        ]
    return f"{profile.TITLES[figure]} [{unit}]" if unit else profile.TITLES[figure], cells


def headline(now: trial.Trial, pinned: trial.Trial | None, show: Display) -> str:
    """Figures of one glass in large print, its change from the pin, and the alcohol of all that goes with it."""
    changes = trial.difference(now, pinned) if pinned else {}
    figures = []
    for figure in IN_VIEW:
        word = profile.TITLES[figure]
        number, around, unit = profile.shown(now.served.profile, figure, show, now.served.spread(figure))
        change = (show.text(profile.KINDS[figure], changes[figure], signed=True),) if figure in changes else ()
        figures.append((word, number, around, unit, *change))
    said = [Fact("compared with", name=pinned.recipe.name)] if pinned else []
    below = [quiet(show.say(fact)) for fact in (*said, _batch(now), _alcohol(now)) if fact]
    return tiles(figures, *below, above=heading(now.recipe.name))


def _batch(now: trial.Trial) -> list[Fact]:
    """Whose figures these are, where more than one glass is made."""
    over = [Fact("so much left over", left=VOLUME(now.left_over))] * (now.left_over >= 0.5)
    if now.setting.serves == 1 and not over:
        return []
    return [Fact("one of so many", serves=now.setting.serves, made=VOLUME(now.made.volume)), *over]


def _alcohol(now: trial.Trial) -> Fact:
    country = now.setting.country
    count, size = service.drinks_text(strength.standard_drinks(now.alcohol, country)), strength.countries()[country]
    others = tuple(
        Fact("counts so many", name=other.recipe.name,
             drinks=service.drinks_text(strength.standard_drinks(other.served.profile.alcohol, country)))
        for other in now.beside
    )  # fmt: skip
    if others:
        return Fact("a serve with others counts", drinks=count, country=country, size=size, others=others)
    return Fact("a serve counts", drinks=count, country=country, size=size)


_LEAST_PART = 0.05  # less than this is no part of a glass worth naming [g]
_PARTS = {"gas": "Dissolved gas", "the rest": "The rest, such as fibre, salts and protein"}


def glass_picture(now: trial.Trial, show: Display) -> str:
    """One glass as served by weight: a strip of its parts, and each with its grams."""
    held = now.served.holds
    total = sum(grams for grams, _ in held.values())
    seen = {word: grams if grams >= _LEAST_PART else 0.0 for word, (grams, _) in held.items()}
    said = tuple(Fact("share of a part", part=word, share=_percent(g / total)) for word, g in seen.items() if g)
    listed = (
        element("li", element("i", class_=f"dl-part-{number}"), f"{_PARTS.get(word, word.capitalize())} ",
                bold(show.amount(MASS(*held[word]), ".0" if held[word][1] >= 2 else ".1")))
        for number, (word, grams) in enumerate(seen.items()) if grams
    )  # fmt: skip
    strip = shares(seen, show.say(Fact("shares of the weight", shares=said)))
    return join([heading("In the glass"), strip, element("ul", *listed, class_="dl-parts")])


def _percent(share: float) -> str:
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def stage_table(now: trial.Trial, show: Display) -> str:
    """What is in the glass, every stage with its figures, what was done, and what the ± and the melt water rest on."""
    columns = [_column(now, figure, show) for figure in profile.TITLES]
    columns.append(("pH", [show.ph_text(stage.ph) for stage in now.stages]))
    columns.append(("Gas", [show.text(CONCENTRATION, *stage.gas) if stage.gas[0] else "" for stage in now.stages]))
    # In a narrow column a figure breaks before its ±, not after.
    columns = [
        (word, [cell.replace("± ", "±\N{NO-BREAK SPACE}") for cell in cells]) for word, cells in columns if any(cells)
    ]
    rows = zip((stage.name for stage in now.stages), *(cells for _, cells in columns), strict=True)
    notes = [*now.said]
    if now.chill is not None:
        notes.append(Fact("leaves the ice at about", at=TEMPERATURE(now.chill.temperature)))
    behind = quiet(show.say(Fact(
        "± of the stages", tool=now.tool, melt_pm=now.melt_pm_words, melt=100 * now.melt, basis=now.melt_basis,
    )))  # fmt: skip
    head = ["Stage", *(word for word, _ in columns)]
    stages = heading("Stage by stage"), table(head, rows), behind
    return join([glass_picture(now, show), *stages, *(para(show.say(note)) for note in notes)])


def near_words(placed: profile.Place) -> str:
    """The classics whose rings are numbered in the chart, and how far each is."""
    return element("ol", *(element("li", f"{name}, {far:.1f}") for name, _, far in placed.nearest), class_="dl-near")


def place_words(placed: profile.Place) -> str:
    """Rank among the classics, and what the distances are."""
    words = {"abv": "stronger", "sugar": "sweeter", "acid": "more acidic"}
    ranks = tuple(Fact("rank in one figure", more=more, share=placed.percentile[axis]) for axis, more in words.items())
    inside = tuple(f"{placed.percentile_in_family[axis]:.0f} %" for axis in words)
    near, family = tuple(f"{name} ({far:.1f})" for name, _, far in placed.nearest_in_family), placed.family
    return join([
        heading("Among the classics"),
        para(say(Fact("rank of all", ranks=ranks, family=family, inside=inside))),
        para(say(Fact("nearest of a family", family=family, names=near))),
        quiet(say(Fact("how different"))),
    ])  # fmt: skip


def retyped(now: Recipe, typed: Recipe) -> Recipe | None:
    """A typed recipe as the drink on the page, changed, made and served as that is; None for another drink.

    It is the same if it has its name, and half or more of what is in it.
    """
    had, has = ({pour.ingredient for pour in recipe.pours} for recipe in (now, typed))
    if now.name != typed.name or 2 * len(had & has) < max(len(had), len(has)):
        return None
    said = "technique", "serve", "family", "question", "method", *SERVED_WITH
    return replace(typed, **{word: getattr(now, word) for word in said})
