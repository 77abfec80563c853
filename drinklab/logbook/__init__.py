"""Saved trials and a user's standing choices: small files in the working folder, never overwritten.

`saved` is a trial as plain data and back, also from older forms, `book` keeps the files,
`listing` finds one among many, `records` are what is said of one later, `versions` tells two apart, `moving` takes the
whole log elsewhere and back.
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

from .book import (
    CHOICES,
    DEFAULTS,
    IN_HAND,
    changed,
    choices,
    in_hand,
    load,
    open_saved,
    put_in_hand,
    save,
    save_choices,
    set_aside,
    told_of,
)
from .listing import TRIALS, Entry, entries, entry, find
from .moving import BACKUPS, EXPORTS, Restored, back_up, bring, export, restore
from .photos import add_photo, photo, shown, within
from .records import Record
from .records import write as record
from .saved import FORMAT, Opened, opened, recipe, revive, snapshot
from .versions import Change, changes, line_of
