"""Amounts that forgive: of all that come near a target, those that most pours keep inside it.

`reach` finds the amounts whose best estimate comes nearest. A hand shakes, and one lemon is not the next: here the
random pours that every trial has are held against the wanted bands, and the amounts moved, by the marks of the bar's
measures, to where most of them lie inside. `shares` counts them, `search` moves the amounts, and `answers` puts both
together.

>>> sour = {"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)}
>>> found = most_pours(sour, ["aged rum, 50 %", "lemon juice", "honey syrup", "water"], technique="shaken")
>>> found.plain.share.value, found.best.share.value
(0.341, 0.367)
"""

from __future__ import annotations

from .answers import Forgiving, Poured, Raise, most_pours, raised_most, what_raises
from .search import Pours, Search
from .shares import Share, pours_inside
