"""The drinks of The Halt, an invented bar in a disused railway halt, each whole: what demos and lessons open with.

>>> from drinklab.pantry import load
>>> line = settings(load())["Clear Line"]
>>> [step.name for step in line.steps], line.beside[0].recipe.name
(['milk-washed', 'rested', 'filtered', 'chilled'], 'Amontillado and tea jelly')
"""

from __future__ import annotations

import json
from typing import Any

from . import steps, tables
from .pantry import Pantry
from .recipe import Recipe
from .setting import Setting


def settings(shelf: Pantry) -> dict[str, Setting]:
    """Every drink of the demo (datasets/demo_recipes.csv) by its name, with its steps and what goes beside it.

    Raises
    ------
    InputError
        If one's ingredients are not on the shelf.
    """
    rows = {row["name"]: row for row in tables.read("demo_recipes").rows()}

    def made(row: dict[str, Any]) -> Setting:
        recipe = Recipe.parse(
            row["pours"].replace(";", "\n"), shelf, name=row["name"], technique=row["technique"], serve=row["serve"],
            family=row["family"], question=row["question"], method=row["method"],
        )  # fmt: skip
        return Setting(
            recipe,
            serves=int(row["serves"]),
            serve_volume=row["serve_ml"] if row["serve_ml"] == row["serve_ml"] else None,
            steps=tuple(map(steps.from_dict, json.loads(row["steps"] or "[]"))),
            beside=(made(rows[row["beside"]]),) if row["beside"] else (),
        )

    return {name: made(row) for name, row in rows.items()}
