"""A trial as one page to hand on: HTML that needs no internet, and Markdown.

The page carries its own data (schema.org Recipe, with the exact numbers beside it), so that somebody
else can run the drink again from the file alone. `facts` is what a page says, `sources` and `references` what that
rests on, `linked` and `data` what other programs read, `picture` its stages, `page` fills the templates, `reading`
reads a page back, `pdf` and `notebook` stand beside it, `again` holds a reader's figures against it. All public names
are called here: `writeup.html`, `writeup.rerun`.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> sour = run(Recipe.parse("45 mL aged rum, 50 %\\n20 mL lemon juice\\n20 mL honey syrup", technique="shaken"))
>>> read(html(sour)) == sour.recipe
True
"""

from __future__ import annotations

from .again import MEASURED, Repeated, repeat
from .facts import About
from .notebook import notebook
from .page import html, markdown, save
from .pdf import pdf
from .reading import read, rerun
