"""The reference set: a published list of classic drinks, read into recipes like anyone's own.

Amounts and families come from datasets/classics.csv and classic_pours.csv; each row says where the
drink was found and what had to be assumed.

>>> len(load())
105
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from . import pantry as _pantry
from . import tables
from .errors import InputError, one_of
from .pantry import Pantry
from .recipe import Pour, Recipe


class Classics(Sequence[Recipe]):
    """Recipes in the order of the table; pick one by number, by name or by what it is also called.

    >>> load()["John Collins"].name, load().titled("Gin Collins")
    ('Gin Collins', 'Gin Collins (also called John Collins)')
    """

    def __init__(self, recipes: Sequence[Recipe], pantry: Pantry, also_called: Mapping[str, str] | None = None) -> None:
        self._recipes, self.pantry = tuple(recipes), pantry
        self._other = dict(also_called or {})  # name -> the title it was published under
        self.names = tuple(r.name for r in recipes)
        self.families = tuple(r.family or "other" for r in recipes)

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, str):
            name = next((name for name, other in self._other.items() if other == key), key)
            one_of("classic", name, (*self.names, *self._other.values()))
            return self._recipes[self.names.index(name)]
        return self._recipes[key]

    def __contains__(self, key: object) -> bool:
        return key in ((*self.names, *self._other.values()) if isinstance(key, str) else self._recipes)

    def titled(self, name: str) -> str:
        """A name with what the drink is also called, for a list to choose from."""
        return f"{name} (also called {self._other[name]})" if name in self._other else name

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
    pours: dict[str, list[Any]] = {}
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
    return Classics(recipes, shelf, {row["drink"]: row["also_called"] for row in listed.rows() if row["also_called"]})
