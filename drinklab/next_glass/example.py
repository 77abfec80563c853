"""A first look without a logbook: First Frost of The Halt in five versions, with scores that are made up."""

from __future__ import annotations

from dataclasses import replace

from .. import demo
from .. import pantry as _pantry
from ..pantry import Pantry
from .tasted import Tasted, glass

DRINK = "First Frost"
_VERSIONS: tuple[
    tuple[dict[str, float], dict[str, float]], ...
] = (  # by how much each pour is more or less than in the recipe, and who liked it how much
    ({}, {"Ada": 6.0, "Bo": 5.5, "Cy": 7.0, "Dee": 5.0}),
    ({"pisco": 1.25}, {"Ada": 5.0, "Bo": 4.5, "Cy": 6.5, "Dee": 4.0}),
    ({"verjus": 1.4}, {"Ada": 7.0, "Bo": 6.0, "Cy": 7.5, "Dee": 6.5}),
    ({"elderflower_cordial": 1.4}, {"Ada": 5.5, "Bo": 6.0, "Cy": 6.0, "Dee": 5.0}),
    ({"verjus": 1.4, "elderflower_cordial": 1.3}, {"Ada": 7.5, "Bo": 6.5, "Cy": 8.0, "Dee": 7.0}),
)


def example(shelf: Pantry | None = None) -> Tasted:
    """Five versions, four tasters; invented.

    >>> len(example().glasses), example().tasters
    (5, ('Ada', 'Bo', 'Cy', 'Dee'))
    """
    shelf = shelf if shelf is not None else _pantry.load()
    first, glasses = demo.settings(shelf)[DRINK], []
    for number, (changes, scores) in enumerate(_VERSIONS, 1):
        pours = tuple(replace(p, amount=p.amount * changes.get(p.ingredient, 1.0)) for p in first.recipe.pours)
        made = replace(first, recipe=replace(first.recipe, pours=pours))
        glasses.append(glass(made, shelf, f"{DRINK} {number}", scores.items()))
    return Tasted(tuple(glasses), (), shelf)
