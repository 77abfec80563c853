"""What a bar has measured itself: every figure of its working folder stands on it from then on.

A reading is joined with the table's figure and its spread (`joining`); what is far off is asked about first (`joint`).
`sorts` are the kinds of measurement, `figures` what each tells of, `entries` the file, `worth` what to measure next,
`table` all of it for other programs. All public names are called here.

>>> import tempfile
>>> folder = tempfile.mkdtemp()
>>> kept = add(folder, checked("strength", "gin, 40 %", "40.2 % vol", instrument="density meter"))
>>> kept.counts, round(shelf(folder).find("gin, 40 %").abv, 2)
(True, 40.19)
"""

from __future__ import annotations

from .entries import (
    CONFIRMED,
    COUNTS,
    OWN_FILE,
    TAKEN_BACK,
    TO_CONFIRM,
    Entry,
    checked,
    example,
    load,
    newest_first,
    number_text,
)
from .figures import brix_of, sugar_of, target
from .joining import ASKED, Joined, Reading, joined, off_by, shrunk
from .joint import Joint, Reviewed, add, answer, gathered, join, of_folder, shelf
from .kept import (
    ICED,
    KEPT,
    FilterLog,
    OwnFit,
    fit_files,
    kept_entries,
    log_files,
    own_fits,
    own_logs,
    save_fit,
    save_log,
)
from .sorts import SORTS, Instrument, Sort
from .suppliers import Lot, SideBySide, side_by_side
from .table import export, package
from .worth import Next, next_to_measure

__all__ = [
    "ASKED", "CONFIRMED", "COUNTS", "ICED", "KEPT", "OWN_FILE", "SORTS", "TAKEN_BACK", "TO_CONFIRM", "Entry",
    "FilterLog", "Instrument", "Joined", "Joint", "Lot", "Next", "OwnFit", "Reading", "Reviewed", "SideBySide",
    "Sort", "add", "answer", "brix_of", "checked", "example", "export", "fit_files", "gathered", "join", "joined",
    "kept_entries", "load", "log_files", "newest_first", "next_to_measure", "number_text", "of_folder", "off_by",
    "own_fits", "own_logs", "package", "save_fit", "save_log", "shelf", "shrunk", "side_by_side", "sugar_of",
    "target",
]  # fmt: skip
