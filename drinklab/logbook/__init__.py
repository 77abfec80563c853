"""Saved trials and a user's standing choices: small files in the working folder, never overwritten.

`saved` is a trial as plain data and back, also from older forms, `plain` reads JSON with care, `book` keeps the files.
All public names are called here: `logbook.save`, `logbook.entries`.

>>> import tempfile
>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> folder = tempfile.mkdtemp()
>>> path = save(run(Recipe.parse("60 mL gin\\n30 mL dry vermouth")), folder, title="Drier than last week")
>>> saved, problems = entries(folder)
>>> saved[0].title, load(path) == load(saved[0].path), changed(path), problems
('Drier than last week', True, (), ())
"""

from __future__ import annotations

from .book import CHOICES as CHOICES
from .book import DEFAULTS as DEFAULTS
from .book import IN_HAND as IN_HAND
from .book import TRIALS as TRIALS
from .book import Entry as Entry
from .book import changed as changed
from .book import choices as choices
from .book import entries as entries
from .book import entry as entry
from .book import in_hand as in_hand
from .book import load as load
from .book import open_saved as open_saved
from .book import put_in_hand as put_in_hand
from .book import save as save
from .book import save_choices as save_choices
from .book import set_aside as set_aside
from .plain import parse_json as parse_json
from .plain import read_json as read_json
from .plain import slug as slug
from .saved import FORMAT as FORMAT
from .saved import Opened as Opened
from .saved import opened as opened
from .saved import recipe as recipe
from .saved import revive as revive
from .saved import saved_number as saved_number
from .saved import saved_numbers as saved_numbers
from .saved import snapshot as snapshot
