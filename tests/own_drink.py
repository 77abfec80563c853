"""A drink of the tests' own: no panel test hangs on what the demo happens to hold. No egg, no grapefruit, no milk."""

from drinklab.recipe import Recipe

SIGNAL = Recipe.parse(
    "45 mL aged rum, 50 %\n15 mL amontillado sherry\n15 mL orange juice\n15 mL lemon juice\n15 mL honey syrup\n"
    "10 mL cold green tea",
    name="Signal Sour", technique="shaken", family="sour",
)  # fmt: skip
