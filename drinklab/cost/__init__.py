"""What a drink costs: a person's own price list, exact money, and what is missing named.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("60 mL gin\\n25 mL lemon juice\\n20 mL sugar syrup", technique="shaken")
>>> found = cost(sour, example())
>>> found.said("France").text, found.missing
('at least 1,97 ± 0,14 € a serve, without sugar syrup, 1:1 by mass', ('sugar syrup, 1:1 by mass',))
"""

from .coins import currencies, digits, money, rounded
from .prices import OWN_FILE, Price, Prices, example, load, read, read_text, write
from .sums import Cost, Line, Swap, cost, per_ml, spent, swap

__all__ = [
    "OWN_FILE", "Cost", "Line", "Price", "Prices", "Swap", "cost", "currencies", "digits", "example", "load", "money",
    "per_ml", "read", "read_text", "rounded", "spent", "swap", "write",
]  # fmt: skip
