"""From a wanted strength, sugar, acid and volume to amounts of the bottles on hand; one bottle for another.

`asked` reads and checks what is wanted, `sums` is the task as arrays, `search` finds amounts, `reasons` says why a
figure is not met, and `answers` puts them together; `nearby` moves an answer a step on. All public names are called
here: `reach.reach`, `reach.swap`.

>>> answers = reach({"abv": 20, "volume": 120}, ["aged rum, 40 %", "water"], melt=0)
>>> print(answers[0].recipe.text())
60 mL aged rum, 40 %
60.055 mL water
"""

from __future__ import annotations

from .answers import Answer, reach, swap
from .asked import COST, FIGURES, SIZE, SMALLEST, TOLERANCE, Limit, PerMl, bands_of, called, kind_of, scales
from .nearby import nearby
from .sums import FINE
