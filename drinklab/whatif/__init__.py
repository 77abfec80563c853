"""What if: what moves a drink most, how sure its figures are, and whether two drinks really differ.

Everything here is one glass as served, by the same way forward as `trial.run`: mixed, iced by the rule or by the
setting's own ice, topped, and taken through its steps. `versions` serves many versions of one drink, `moves` changes
one thing at a time, `plane` two amounts at once, and `chance` pours over and over.
`paired` tells a change from what varies anyway, and `asked` has the questions that a bar asks. All public names are
called here: `whatif.sensitivity`, `whatif.compare`.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
>>> sensitivity(sour)[0].name
'honey syrup, 1:1 by volume'
"""

from __future__ import annotations

from .asked import QUESTIONS, Answer, Question, ask
from .chance import CANNOT_TELL, COMPARED, DIFFERS, SAME, SOURCES, Difference, Variation, compare, variation
from .moves import BY_THE_DASH, Effect, sensitivity
from .paired import (
    Change,
    Sample,
    difference_of,
    gassed_samples,
    over_ice_samples,
    paired,
    sample,
    samples,
    skewed,
    told,
)
from .plane import Sweep, sweep
from .versions import FRUIT, LEAST_DRAWS, LEAST_FAMILY, MOST_DRAWS, MOVED, NO_FAMILY, band
