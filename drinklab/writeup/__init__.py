"""A trial as one page to hand on: HTML that needs no internet, and Markdown.

The page carries its own data (schema.org Recipe, with the exact numbers beside it), so that somebody
else can run the drink again from the file alone. `facts` is what a page says, `page` fills the templates, `reading`
reads a page back. All public names are called here: `writeup.html`, `writeup.rerun`.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> sour = run(Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken"))
>>> read(html(sour)) == sour.recipe
True
"""

from __future__ import annotations

from .page import html, markdown, save
from .reading import read, rerun
