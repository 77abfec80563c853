"""Washing a drink with milk: what curdles, what the curd takes, what is left.

Milk curdles as the drink's acid brings it to casein's isoelectric point; curd and paper take the haze, and
the curd keeps some of the drink. It can't be undone: look at the result and at the plan before pouring. `curd` is milk
and what curdles it, `washing` the wash and a wash of your own to go by, `step` what is done to a drink. All public
names are called here: `milk.milk_wash`, `milk.MilkWash`.

>>> from drinklab.liquid import Liquid
>>> drink = Liquid.of(water=70, ethanol=16, sucrose=9, citric=0.9)
>>> washed = milk_wash(drink, share=0.25)
>>> round(washed.ph, 1), washed.complete, round(washed.most_milk, -1)
(3.2, 1.0, 120.0)
"""

from __future__ import annotations

from .curd import BEGINS as BEGINS
from .curd import BINDERS as BINDERS
from .curd import COLD as COLD
from .curd import CURDLES as CURDLES
from .curd import DAIRY as DAIRY
from .curd import FRESH as FRESH
from .curd import HEAT as HEAT
from .curd import HOT as HOT
from .curd import LEMON_CITRIC as LEMON_CITRIC
from .curd import LEMON_POTASSIUM as LEMON_POTASSIUM
from .curd import POLYPHENOLS as POLYPHENOLS
from .curd import PRACTICE as PRACTICE
from .curd import STRONG as STRONG
from .curd import TANNIN as TANNIN
from .curd import TOO_SOUR as TOO_SOUR
from .curd import USUAL_SHARE as USUAL_SHARE
from .curd import WASHINGS as WASHINGS
from .curd import Milk as Milk
from .curd import Washing as Washing
from .curd import bound as bound
from .curd import completeness as completeness
from .curd import milks as milks
from .step import MilkWash as MilkWash
from .washing import Washed as Washed
from .washing import calibrate as calibrate
from .washing import milk_wash as milk_wash
