"""The recipe for other programs: schema.org Recipe, with the trial exactly as it is in a term of our own."""

from __future__ import annotations

import re
from typing import Any

from .. import logbook, making, service, texts
from ..profile import KINDS, TITLES
from ..stage import Stage
from ..steps import first
from ..trial import Trial

# A term of our own, so that the rest is schema.org's and nothing else: its value is JSON, as it stands (JSON-LD 1.1).
CONTEXT = ["https://schema.org", {"drinklab": {"@id": "urn:drinklab:trial", "@type": "@json"}}]


def recipe(trial: Trial, facts: dict[str, Any], serve: str, minutes: float | None) -> dict[str, Any]:
    """schema.org Recipe of a trial, from what its page says; what is not known is left out."""
    parts = (facts, *facts["beside"])
    data = {
        "@context": CONTEXT,
        "@type": "Recipe",
        "name": facts["title"],
        "description": " ".join(facts["question"]) or facts["finding"],
        "author": _named("Person", facts["author"]),
        "dateCreated": facts["date"],
        "license": facts["licence"] if re.match(r"https?://", facts["licence"]) else
        _named("CreativeWork", facts["licence"]),
        "recipeCategory": "drink",
        "keywords": ", ".join(_keywords(trial, serve)),
        "recipeYield": making.recipe_yield(trial),
        "totalTime": None if minutes is None else duration(minutes),
        "recipeIngredient": [p["text"] for part in parts for p in part["pours"]],
        "recipeInstructions": [
            *_steps(trial, facts["method"]),
            *[{"@type": "HowToSection", "name": part["name"], "itemListElement": _steps(other, part["method"])}
              for other, part in zip(trial.beside, facts["beside"], strict=True)],
        ],
        "nutrition": _nutrition(trial, facts["energy"]),
        "about": {"@type": "Product", "name": facts["drink"], "additionalProperty": _figures(trial.served)},
        "drinklab": logbook.snapshot(trial),
    }  # fmt: skip
    return {key: value for key, value in data.items() if value}


def duration(minutes: float) -> str:
    """A length of time by ISO 8601.

    >>> duration(5), duration(735)
    ('PT5M', 'PT12H15M')
    """
    hours, left = divmod(round(minutes), 60)
    return f"PT{f'{hours}H' * (hours > 0)}{f'{left}M' * (left > 0 or not hours)}"


def _named(kind: str, name: str) -> dict[str, Any] | None:
    return {"@type": kind, "name": name} if name else None


def _keywords(trial: Trial, serve: str) -> list[str]:
    drink = trial.recipe
    poured = sorted((p for p in drink.pours if p.amount > 0), key=lambda p: -p.amount)[:3]
    words = [drink.family, drink.technique if trial.melt > 0 else "", serve, *(step.name for step in trial.steps)]
    words += [making.short(p.bottle(trial.pantry).name) for p in poured]
    return list(dict.fromkeys(texts.line(word).replace(",", "") for word in words if word))


def _steps(trial: Trial, method: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is done, in order, each with what goes in and the cautions that belong to it."""
    rows, found = making.ingredients(trial), []
    for number, item in enumerate(method, 1):
        do = {"@type": "HowToDirection", "text": item["do"]}
        if item["uses"]:
            do["supply"] = [_supply(rows[i]) for i in item["uses"]]
        tips = [{"@type": "HowToTip", "text": caution} for caution in item["cautions"]]
        found.append({"@type": "HowToStep", "position": number, "text": item["do"], "itemListElement": [do, *tips]})
    return found


def _supply(row: making.Row) -> dict[str, Any]:
    weighed = row.ml is None or row.solid
    amount, unit = (row.grams, "g") if weighed else (row.ml, "mL")
    quantity = {"@type": "QuantitativeValue", "value": float(f"{amount:.4g}"), "unitText": unit}
    return {"@type": "HowToSupply", "name": texts.line(row.name), "requiredQuantity": quantity}


def _nutrition(trial: Trial, energy: dict[str, Any]) -> dict[str, Any]:
    grams = energy["grams"]
    told = {
        "@type": "NutritionInformation",
        "servingSize": f"{trial.served.profile.volume:.0f} mL",
        "calories": f"{service.tens(energy['kcal'])} kcal",
        "sugarContent": f"{grams.get('sugar', 0.0):.0f} g",
    }
    for name, key in (("protein", "proteinContent"), ("fat", "fatContent")):
        if grams.get(name, 0.0) >= 0.05:
            told[key] = f"{grams[name]:.1f} g"
    return told


def _figures(served: Stage) -> list[dict[str, Any]]:
    """Our own numbers of one serve, each with the ends that hold 19 in 20."""
    found = []
    for figure, title in TITLES.items():
        value, low, high = (float(getattr(of, figure)) for of in (served.profile, served.low, served.high))
        if abs(value) < float("inf"):
            told = {"@type": "PropertyValue", "name": title, "value": float(f"{value:.5g}")}
            told["unitText"] = KINDS[figure].label
            if first(served.liquid) is not served.liquid and low < high < float("inf"):
                told |= {"minValue": float(f"{low:.5g}"), "maxValue": float(f"{high:.5g}")}
            found.append(told)
    if served.ph is not None:
        ph, around = served.ph
        ends = {"minValue": round(ph - around, 2), "maxValue": round(ph + around, 2)}
        found.append({"@type": "PropertyValue", "name": "pH", "value": round(ph, 2)} | ends)
    return found
