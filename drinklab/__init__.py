"""Drinklab: strength, dilution and balance of drinks, and where a recipe stands among the classics.

>>> import drinklab as dl
>>> dl.strength.abw_from_abv(40)
33.300

Modules load when first used, so that `import drinklab` is quick.
"""

from __future__ import annotations

import importlib
from types import ModuleType

__version__ = "0.1.0"
__all__ = [
    "balance", "batch", "boiling", "carbonation", "cards", "classics", "cost", "declared", "demo", "dilution",
    "display", "errors", "facts", "files", "filtering", "foods", "forgiving", "gels", "handling", "hazards",
    "ingredient", "kinds", "learned", "liquid", "logbook", "making", "measured", "menu", "milk", "names", "next_glass",
    "own", "pantry", "physics", "plain_data", "prep", "profile", "reach", "recipe", "schedule", "service", "setting",
    "share", "spirited", "stage", "steps", "strength", "tables", "tasting", "teach", "texts", "trial", "units",
    "whatif", "writeup",
]  # fmt: skip


def __getattr__(name: str) -> ModuleType:
    if name in __all__:
        return importlib.import_module(f".{name}", __name__)
    raise AttributeError(f"module 'drinklab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
