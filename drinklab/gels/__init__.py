"""Jellies: how much of what sets a drink, in which order, how strong each piece is.

`agents` holds what sets and its doses (datasets/gels.csv, a row an agent, each with its source), `jellies` the step and
the jelly to make, `words` what is said of it. Doses are starting points: brands differ, so set a spoonful first on a
plate in the freezer or on ice water. All public names are called here: `gels.jelly`, `gels.agents`.

>>> agar("100 mL", ph=3.3).grams  # firm citrus jelly, as kitchens make it
1.4
>>> convert_bloom(10, 240, 200)
10.95
"""

from __future__ import annotations

from .agents import BLOOM, FIRMNESS, SHEETS, USUAL_BLOOM, Agent, Bloom, agents, convert_bloom, dose, sheets, sources
from .jellies import FRIDGE, MOULDS, ROOM, Jelly, Set, agar, gelatin, jelly, measured, of_bottles, ph_of
from .words import CUT, raw_fruit
