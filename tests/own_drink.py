"""Drinks of the tests' own: no panel test hangs on what the demo happens to hold."""

from drinklab.recipe import Recipe

# No egg, no grapefruit, no milk.
SIGNAL = Recipe.parse(
    "45 mL aged rum, 50 %\n15 mL amontillado sherry\n15 mL orange juice\n15 mL lemon juice\n15 mL honey syrup\n"
    "10 mL cold green tea",
    name="Signal Sour", technique="shaken", family="sour",
)  # fmt: skip
# One glass, and no steps.
CUP = Recipe.parse(
    """40 mL apple brandy, 42 %
    25 mL amontillado sherry
    20 mL grapefruit juice
    20 mL lemon juice
    20 mL honey syrup
    30 mL cold green tea""",
    name="Test cup", technique="none", serve="up", family="punch",
)  # fmt: skip
# As somebody would type it.
BRANCH = """
45 mL dark rum, 46 %
20 mL amontillado sherry
15 mL pineapple juice
15 mL lemon juice
20 mL honey syrup
20 mL green tea, cold
"""
