"""Suppliers and lots of one thing side by side: each as it was read, and drawn to what all have in common.

>>> from drinklab.pantry import load
>>> from .entries import checked
>>> lemons = [checked("acid", "lemon juice", f"{g} g/L", batch=crate, when="2026-10-01")
...           for g, crate in ((50, "north"), (58, "south"))]
>>> [[lot.lot for lot in one.lots] for one in side_by_side(lemons, load())]
[['north', 'south']]
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from ..errors import InputError
from ..pantry import Pantry
from .entries import Entry
from .figures import Target, reading, target
from .joining import Reading, joined, shrunk


@dataclass(frozen=True, slots=True)
class Lot:
    """One supplier or lot: its figure as it was read, and drawn to the others; about one standard deviation each."""

    lot: str
    readings: int
    value: float
    pm: float
    best: float
    best_pm: float


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Lots of one thing, by kind of measurement, and what they have in common; in the figure's own unit."""

    kind: str
    what: str
    name: str
    lots: tuple[Lot, ...]
    middle: float


def side_by_side(entries: Iterable[Entry], table: Pantry) -> tuple[SideBySide, ...]:
    """Each thing of which two suppliers or lots at least were read, by entries that count.

    Parameters
    ----------
    entries : iterable of Entry
    table : Pantry
        Without measurements.

    Returns
    -------
    tuple of SideBySide

    Notes
    -----
    Between suppliers the figure spreads as the table has it, so that each is drawn to their common middle the more, the
    less surely it was read: `joining.shrunk` (Gelman and others, Bayesian Data Analysis, 3rd edition, 2013, 5.4). Days
    are not told apart here: a lot is one thing.
    """
    groups: dict[tuple[str, str, float | None], dict[str, list[tuple[Target, Reading, int]]]] = defaultdict(dict)
    for entry in entries:
        if not (entry.used and entry.batch.strip()):
            continue
        try:
            at, one = reading(entry, target(entry.kind, entry.what, table), entry.day)
        except InputError:  # the page asks about it already
            continue
        key = at.kind, at.what, at.label
        groups[key].setdefault(entry.batch.strip(), []).append((at, one, entry.times))
    return tuple(_beside(lots) for lots in groups.values() if len(lots) > 1)


def _beside(lots: dict[str, list[tuple[Target, Reading, int]]]) -> SideBySide:
    every = [at for found in lots.values() for at, *_ in found]
    at, spread = every[0], max(one.prior_pm for one in every)
    plain = []
    for found in lots.values():
        read = [one for _, one, _ in found]
        wide = 1e4 * max(spread, *(one.sd for one in read))  # nothing is known before of a lot by itself
        plain.append(joined(read[0].value, wide, read))
    best, pm, middle = shrunk([one.value for one in plain], [one.pm for one in plain], spread)
    rows = (
        Lot(name, sum(times for *_, times in found), *_shown(at, one.value, one.pm), *_shown(at, float(b), float(s)))
        for (name, found), one, b, s in zip(lots.items(), plain, best, pm, strict=True)
    )
    name = at.item.name if at.item is not None else at.what
    return SideBySide(at.kind, at.what, name, tuple(rows), _shown(at, middle, 0.0)[0])


def _shown(at: Target, value: float, pm: float) -> tuple[float, float]:
    """Out of logarithms, where the figure is kept in them."""
    return (math.exp(value), pm * math.exp(value)) if at.logs else (value, pm)
