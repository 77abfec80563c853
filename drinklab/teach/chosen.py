"""Exercises in the units that a learner chose: numbers that are round in them, and the way back to mL, °C and kPa.

>>> from drinklab.display import Display
>>> turned(kinds.VOLUME(44.36), Display("oz")).value
1.5
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

from .. import facts, kinds, logbook
from ..display import Display
from ..errors import InputError
from ..kinds import Amount, Kind
from ..units import FLUID_OUNCE, GAUGES

OUNCES = Kind("oz", "fluid_ounce", 0, 1e8)
FAHRENHEIT = Kind("°F", "degF", -459.67)
GAUGES_IN = {unit: Kind(f"{unit} gauge", unit, 0, 2000 / per) for unit, per in GAUGES.items() if unit != "kPa"}
OWN = Display()


class Grid(NamedTuple):
    """Where a number is drawn from, in the unit chosen."""

    first: float
    step: float
    steps: int


class Turning(NamedTuple):
    """How a number is turned into another unit."""

    sentence: str
    sum: str


def of_folder(folder: str | Path) -> Display:
    """The units chosen in a working folder; mL and °C where the file of choices cannot be read (a panel says so)."""
    try:
        kept = logbook.choices(folder)
    except InputError:
        return OWN
    return Display(kept["volume"], kept["temperature"])


def kind_in(kind: Kind, show: Display) -> Kind:
    """The kind that an amount is shown in.

    >>> kind_in(kinds.VOLUME, Display("oz")).label, kind_in(kinds.MASS, Display("oz")).label
    ('oz', 'g')
    """
    if kind is kinds.VOLUME and show.volume == "oz":
        return OUNCES
    if kind is kinds.TEMPERATURE and show.temperature == "°F":
        return FAHRENHEIT
    if kind is kinds.GAUGE_PRESSURE:
        return GAUGES_IN.get(show.pressure, kind)
    return kind


def own_size(kind: Kind) -> float:
    """How much of mL, °C or kPa one of a shown kind is."""
    return {OUNCES: FLUID_OUNCE, FAHRENHEIT: 1 / 1.8}.get(kind) or GAUGES.get(kind.unit, 1.0)


def turned(amount: Amount, show: Display) -> Amount:
    """An amount in the unit chosen for it."""
    kind = kind_in(amount.kind, show)
    if kind is amount.kind:
        return amount
    return kind(round(amount.value / own_size(kind) + (32.0 if kind is FAHRENHEIT else 0.0), 9))


def turned_back(value: float, kind: Kind, show: Display) -> float:
    """A number in the chosen unit as one of the kind's own.

    >>> turned_back(41, kinds.TEMPERATURE, Display(temperature="°F"))
    5.0
    """
    shown = kind_in(kind, show)
    return value if shown is kind else (value - (32.0 if shown is FAHRENHEIT else 0.0)) * own_size(shown)


def grid(kind: Kind, low: float, high: float, step: float, show: Display) -> Grid:
    """Where a number is drawn from.

    Ounces go by quarters below five and by whole ones above; small pours by twentieths. Degrees and psi go by ones.

    >>> grid(kinds.VOLUME, 25, 70, 5, Display("oz"))
    Grid(first=1.0, step=0.25, steps=5)
    >>> grid(kinds.VOLUME, 25, 70, 5, OWN)
    Grid(first=25, step=5, steps=9)
    """
    if kind_in(kind, show) is kind:
        return Grid(low, step, round((high - low) / step))
    first, last = (turned(kind(end), show).value for end in (low, high))
    by = 1.0
    if kind is kinds.VOLUME and last < 5:
        by = 0.25 if math.floor(last / 0.25) > math.ceil(first / 0.25) else 0.05
    begin, end = math.ceil(first / by - 1e-9), math.floor(last / by + 1e-9)
    return Grid(begin * by, by, max(end - begin, 0))


def nearest(amount: Amount, show: Display) -> Amount:
    """The amount next to it that is round in the chosen unit, in its kind's own unit."""
    value = turned(amount, show).value
    if kind_in(amount.kind, show) is amount.kind:
        return amount
    by = 0.05 if value < 0.5 else 0.25 if value < 5 else 1.0
    by = by if amount.kind is kinds.VOLUME else 1.0
    return amount.kind(turned_back(round(round(value / by) * by, 6), amount.kind, show))


def say(amount: Amount, spec: str) -> str:
    """An amount as an exercise writes it: ounces to hundredths, without idle zeros.

    >>> say(OUNCES(1.5), ".0"), say(OUNCES(0.6789), ".1n"), say(kinds.VOLUME(44.4), ".1")
    ('1.5 oz', '0.68', '44.4 mL')
    """
    if amount.kind is not OUNCES:
        return facts.own(amount, spec)
    bare = "n" in facts.written_by(spec)[2]
    return facts.own(OUNCES(round(amount.value, 2)), "gn" if bare else "g")


def four_digits(amount: Amount) -> Amount:
    """As it stands in a sum after it was turned into another unit."""
    return amount.kind(float(f"{amount.value:.4g}"))


def way_back(name: str, amount: Amount, show: Display) -> Turning:
    """Sentence and sum that turn a given number into the unit that a sum needs."""
    shown, own = kind_in(amount.kind, show), amount.kind.label.removesuffix(" gauge")
    if shown is FAHRENHEIT:
        less = f"({{{name}_asked:gn}} − 32) ÷ 1.8 = {{{name}:g}}"
        return Turning("Turn °F into °C: take off 32, then divide by 1.8.", less)
    each = f"{own_size(shown):.4g}"
    unit = shown.label.removesuffix(" gauge")
    return Turning(f"Turn {unit} into {own}: 1 {unit} is {each} {own}.", f"{{{name}_asked:g}} × {each} = {{{name}:g}}")


def way_there(name: str, spec: str, amount: Amount, show: Display) -> Turning:
    """Sentence and sum that turn the answer, as its sum was written, into the unit asked for."""
    shown, own = kind_in(amount.kind, show), amount.kind.label.removesuffix(" gauge")
    each, unit = f"{own_size(shown):.4g}", shown.label.removesuffix(" gauge")
    turn = f"{{{name}:{spec}}} ÷ {each} = {{{name}_asked:.1}}"
    return Turning(f"Turn {own} into {unit}: 1 {unit} is {each} {own}.", turn)
