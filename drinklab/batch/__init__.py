"""A drink made for many: how much of everything, what is bought, what is done when.

>>> from drinklab.demo import settings
>>> from drinklab.pantry import load
>>> many = scale(settings(load())["Clear Line"], serves=60)
>>> many.serves, round(many.serve), [(name, round(ml)) for name, ml in many.losses]
(60, 110, [('milk-washed', 153), ('filtered', 20)])
"""

from .made import HEADSPACE, Batch, Row, Stand, scale
from .marks import measured
from .shopping import SIZES, Bought, Fruit, from_the_tap, fruit, juice_of, shopping_list
from .solve import times
from .storage import COLD, FRESH, GLASS, is_citrus, keeping, kept_cold, no_seven_days, waiting
from .work import each_glass, stages, work

__all__ = [
    "COLD", "FRESH", "GLASS", "HEADSPACE", "SIZES", "Batch", "Bought", "Fruit", "Row", "Stand", "each_glass",
    "from_the_tap", "fruit", "is_citrus", "juice_of", "keeping", "kept_cold", "measured", "scale", "shopping_list",
    "stages", "times", "waiting", "work",
]  # fmt: skip
