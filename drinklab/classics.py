"""The reference set: a published list of classic drinks, read into recipes like anyone's own.

Amounts and families come from datasets/classics.csv and classic_pours.csv; each row says where the
drink was found and what had to be assumed.

>>> len(load())
105
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence

from . import pantry as _pantry
from . import tables
from .errors import InputError, one_of
from .pantry import Pantry
from .recipe import Pour, Recipe


class Classics(Sequence[Recipe]):
    """Recipes in the order of the table; pick one by number or by name."""

    def __init__(self, recipes: Sequence[Recipe], pantry: Pantry) -> None:
        self._recipes, self.pantry = tuple(recipes), pantry
        self.names = tuple(r.name for r in recipes)
        self.families = tuple(r.family or "other" for r in recipes)

    def __getitem__(self, key):
        if isinstance(key, str):
            one_of("classic", key, self.names)
            return self._recipes[self.names.index(key)]
        return self._recipes[key]

    def __contains__(self, key: object) -> bool:
        return key in (self.names if isinstance(key, str) else self._recipes)

    def __len__(self) -> int:
        return len(self._recipes)

    def __iter__(self) -> Iterator[Recipe]:
        return iter(self._recipes)


@functools.cache
def load() -> Classics:
    """The published classics, with optional pours left out.

    Raises
    ------
    InputError
        For a bad row, by file, line and column.
    """
    shelf = _pantry.load()
    pours: dict[str, list] = {}
    for row in tables.read("classic_pours").rows():
        if row["optional"] != "yes" and row["amount_ml"] > 0:
            pours.setdefault(row["drink"], []).append(
                Pour(row["ingredient_id"], float(row["amount_ml"]), after=row["stage"] == "after")
            )
    recipes = []
    listed = tables.read("classics")
    for i, row in enumerate(listed.rows()):
        if row["drink"] not in pours:
            raise InputError("pours", "", f"at least one for {row['drink']!r}", listed.where(i))
        recipes.append(Recipe(row["drink"], tuple(pours[row["drink"]]), row["technique"], row["serve"], row["family"]))
    return Classics(recipes, shelf)
