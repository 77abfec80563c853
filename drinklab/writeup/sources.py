"""What a page's figures rest on: where each is from, the relations, and the limits in a few lines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from .. import classics as _classics
from .. import steps, tables, texts
from ..carbonation import Carbonate
from ..display import Display
from ..facts import Fact
from ..gels import Set, agents
from ..gels import sources as origins
from ..kinds import VOLUME
from ..learned import tool_of
from ..milk import MilkWash, milks
from ..pantry import Ingredient
from ..steps import AddWater
from ..trial import Trial
from ..units import FLUID_OUNCE
from .references import References

_COMPONENTS = {MilkWash: "Milk", Set: "To set it", Carbonate: "Gas", AddWater: "Water"}


def given(trial: Trial) -> list[tuple[str, tuple[str, ...], str]]:
    """Of each of `making.ingredients`: the component that a step makes of it, its allergens, and its source."""
    poured = (p.bottle(trial.pantry) for p in trial.recipe.pours if p.amount > 0)
    found = [("", bottle.allergens, bottle.source) for bottle in poured]
    for step, liquid, outcome in trial.worked:
        for i, _ in enumerate(steps.brought(step, liquid, outcome)):
            what = _COMPONENTS.get(type(step), "Later")
            found.append((what, outcome.allergens if i == 0 else (), _step_source(step)))
    return found


def _step_source(step: steps.Step) -> str:
    if isinstance(step, MilkWash):
        return milks()[step.milk].source
    return agents()[step.agent].source if isinstance(step, Set) else ""


def joined(words: str | Iterable[str]) -> str:
    """A word, or several with commas."""
    return words if isinstance(words, str) else ", ".join(words)


def ingredients(trial: Trial, cited: References) -> list[dict[str, Any]]:
    """Each bottle, and what the steps bring, once each, its source with numbers for the works."""
    return [row | {"source": cited.mark(row["source"])} for row in _ingredients(trial)]


def limits(trial: Trial) -> list[tuple[Fact, str]]:
    """What the figures cannot tell, in five lines at most, each with what it rests on."""
    found = [(Fact("limit of ±", tool=trial.tool) if uncertain(trial) else Fact("limit without ±"), "")]
    if trial.melt > 0:
        found.append((Fact("limit of melt"), trial.melt_basis))
    elif any(isinstance(step, MilkWash) for step in trial.steps):
        found.append((Fact("limit of milk"), ""))
    found.append((Fact("limit of strength"), Fact("densities").text))
    if any(stage.ph is not None for stage in trial.stages):
        found.append((Fact("limit of pH"), Fact("acids").text))
    return [*found, (Fact("limit of place"), "")]


def of_classics() -> str:
    """Where the classics are from."""
    return "; ".join(s.title for s in tables.sources("classics"))


def _ingredients(trial: Trial) -> list[dict[str, Any]]:
    """Sources of each bottle, and of what the steps bring, once each."""
    found: dict[str, dict[str, Any]] = {}
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
                kind = joined(next(row["source_class"] for row in rows if row["milk"] == step.milk))
                found[step.milk] = {"name": step.milk, "held": held, "source": milk.source, "source_class": kind}
            if isinstance(step, Set):
                about = agents()[step.agent]
                found[step.agent] = {
                    "name": step.agent, "held": f"of {about.origin}", "source": origins(about)[0],
                    "source_class": joined(about.source_class),
                }  # fmt: skip
    return list(found.values())


def _ingredient(bottle: Ingredient, own_strength: float | None) -> dict[str, Any]:
    held = [
        words
        for value, pm, digits, unit in (
            (bottle.abv, bottle.abv_pm, 1, "% vol"),
            (bottle.sugar, bottle.sugar_pm, 0, "g/L of sugar"),
            (bottle.acid, bottle.acid_pm, 1, "g/L of acid"),
        )
        if (words := _held(value, 2 * pm, digits, unit))
    ]
    source, kind = texts.line(bottle.source), joined(bottle.source_class)
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


def relations(trial: Trial, country: str, show: Display) -> list[str]:
    """All relations behind the figures, a sentence each."""
    row = next(r for r in tables.read("standard_drinks").rows() if r["country"] == country)
    _, absolute, relative = tool_of(trial.tool, trial.pantry.learned)
    sure = Fact("± of a tool", absolute=VOLUME(absolute))
    if relative:
        sure = Fact("± of a tool and a share", absolute=VOLUME(absolute), share=100 * relative)
    lines = [
        Fact("densities"),
        Fact("melt by rule", basis=trial.melt_basis, pm=trial.melt_pm_words) if trial.melt > 0
        else Fact("melt by", basis=trial.melt_basis),
        *[Fact("± of a write-up", tool=trial.tool, sure=sure)] * bool(uncertain(trial)),
        *dict.fromkeys(basis for t in (trial, *trial.beside) for s in t.steps if (basis := getattr(s, "basis", ""))),
        Fact("sugar and acid"),
        Fact("acids"),
        Fact("classics behind", count=len(_classics.load()), source=of_classics()),
        Fact("standard drink by", country=country, source=texts.line(row["source"]), sort=joined(row["source_class"])),
        Fact("energy by"),
        Fact("ounces and parts", oz="1 oz", ounce=f"{FLUID_OUNCE:.2f} mL"),
    ]  # fmt: skip
    return [show.say(line) for line in lines]


def uncertain(trial: Trial) -> bool:
    """Whether anything was drawn."""
    return any(s.spread("abv") > 0 for s in trial.stages)
