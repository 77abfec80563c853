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

from .curd import (
    BEGINS,
    BINDERS,
    COLD,
    CURDLES,
    DAIRY,
    FRESH,
    HEAT,
    HOT,
    LEMON_CITRIC,
    LEMON_POTASSIUM,
    POLYPHENOLS,
    PRACTICE,
    STRONG,
    TANNIN,
    TOO_SOUR,
    USUAL_SHARE,
    WASHINGS,
    Milk,
    Washing,
    bound,
    completeness,
    milk_of,
    milks,
    way_of,
)
from .step import MilkWash
from .washing import Washed, as_citric, calibrate, milk_wash
