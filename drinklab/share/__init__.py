"""Finished pages handed on: a what-if page for a class, a folder of pages as a small site, phones in the same network.

`try_page` is the part of a write-up that its reader can try, alone; `write_site` makes index, picture and search of a
folder of pages; `serving` gives such a folder, and nothing else, to phones (`drinklab share`). `pages` says which files
are finished pages at all.

>>> from drinklab.recipe import Recipe
>>> "Gin and time" in try_page(Recipe.parse("60 mL gin", name="Gin and time"))
True
"""

from __future__ import annotations

from .pages import KINDS, Page, finished, read_page
from .site import index_html, write_site
from .trying import save_try_page, try_page
