"""The part of a page that its reader can try: a drink's own data, the figures of the published formulas, and a script.

`data` is all that the script needs, as plain data; `section` the HTML of the part, with that data in it; `style` and
`script` are the files beside, to stand once in the page, and `policy` is what a page's content policy has to allow for
them. The script holds no figure of its own.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> drink = run(Recipe.parse("60 mL gin, 45 %\\n30 mL lemon juice\\n30 mL sugar syrup", technique="shaken"))
>>> data(drink)["until"]["stage"], "<script" in section(drink)
('served', True)
"""

from __future__ import annotations

from .data import data
from .section import as_json, policy, script, section, style
