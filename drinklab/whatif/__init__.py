"""What if: what moves a drink most, how sure its figures are, and whether two drinks really differ.

Everything here is one glass as served, by the same way forward as `trial.run`: mixed, iced by the rule or by the
setting's own ice, topped, and taken through its steps. `versions` serves many versions of one drink, `moves` changes
one thing at a time, `plane` two amounts at once, and `chance` pours over and over. All public names are called here:
`whatif.sensitivity`, `whatif.compare`.

>>> from drinklab.recipe import Recipe
>>> sour = Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken")
>>> sensitivity(sour)[0].name
'honey syrup, 1:1 by volume'
"""

from __future__ import annotations

from .chance import CANNOT_TELL as CANNOT_TELL
from .chance import COMPARED as COMPARED
from .chance import DIFFERS as DIFFERS
from .chance import SAME as SAME
from .chance import SOURCES as SOURCES
from .chance import Difference as Difference
from .chance import Variation as Variation
from .chance import compare as compare
from .chance import variation as variation
from .moves import BY_THE_DASH as BY_THE_DASH
from .moves import Effect as Effect
from .moves import sensitivity as sensitivity
from .plane import Sweep as Sweep
from .plane import sweep as sweep
from .versions import FRUIT as FRUIT
from .versions import LEAST_DRAWS as LEAST_DRAWS
from .versions import LEAST_FAMILY as LEAST_FAMILY
from .versions import MOST_DRAWS as MOST_DRAWS
from .versions import MOVED as MOVED
from .versions import NO_FAMILY as NO_FAMILY
from .versions import band as band
