"""The next glass worth pouring: from a few scored trials to three glasses, each a recipe, each with why.

`tasted` gathers trials and what was said of them, `prior` places them in a family of classics, `palate` is the surface
of liking with its ±, `pours` are all the mixes that the bottles give, `choosing` weighs them, and `proposals` puts it
together. All public names are called here.

>>> found = propose(example(), strongest=22, measure=2.5)
>>> [one.kind for one in found.proposals], found.proposals[0].made.served.profile.abv <= 22
(['safe', 'teach', 'wild'], True)
"""

from __future__ import annotations

from .choosing import APART, FAR, Chosen, by_pouring, choose, left_to_find
from .example import example
from .palate import Palate, fit, quadratic, smooth
from .pours import bottles_of
from .prior import OWN, Family, OwnAxis, Split, family, splits
from .proposals import KINDS, NAMES, WHY, Next, Proposal, propose, record
from .tasted import LEAST, LIKING, Glass, Tasted, from_logbook, glass, read_note, run, scored_axis
