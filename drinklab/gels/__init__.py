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

from .agents import BLOOM as BLOOM
from .agents import FIRMNESS as FIRMNESS
from .agents import SHEETS as SHEETS
from .agents import USUAL_BLOOM as USUAL_BLOOM
from .agents import Agent as Agent
from .agents import Bloom as Bloom
from .agents import agents as agents
from .agents import convert_bloom as convert_bloom
from .agents import dose as dose
from .agents import sheets as sheets
from .agents import sources as sources
from .jellies import FRIDGE as FRIDGE
from .jellies import MOULDS as MOULDS
from .jellies import ROOM as ROOM
from .jellies import Jelly as Jelly
from .jellies import Set as Set
from .jellies import agar as agar
from .jellies import gelatin as gelatin
from .jellies import jelly as jelly
from .jellies import measured as measured
from .jellies import of_bottles as of_bottles
from .jellies import ph_of as ph_of
from .words import raw_fruit as raw_fruit
