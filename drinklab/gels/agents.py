"""What sets a drink: agents, their doses, and gelatin by its Bloom."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from .. import tables
from ..errors import one_of, require
from ..kinds import Grams, Kind, Number
from ..units import door, number, plain_number

FIRMNESS = ("soft", "firm", "very firm")
# Grams that a plunger needs to dent a standard gel (6.67 %, 10 °C) by 4 mm; 50 to 300 are sold.
BLOOM = Kind("Bloom", "dimensionless", 50, 300)
Bloom = Annotated[Number, BLOOM]
USUAL_BLOOM = 200.0  # the doses of datasets/gels.csv are for it
# Middle of the Bloom range and grams of one sheet: common practice, no published source (bronze
# 125-155, silver 160, gold 190-220, platinum 235-265). Makers differ: weigh ten sheets.
SHEETS = {"bronze": (140.0, 3.3), "silver": (160.0, 2.5), "gold": (200.0, 2.0), "platinum": (250.0, 1.7)}


@dataclass(frozen=True, slots=True)
class Agent:
    """A row of datasets/gels.csv; a figure that does not apply is NaN."""

    agent: str
    origin: str
    diet: str
    texture: str
    soft_g_l: float
    firm_g_l: float
    very_firm_g_l: float
    sour_factor: float
    water_ml_per_g: float
    dissolve_c: float
    set_low_c: float
    set_high_c: float
    melt_low_c: float
    melt_high_c: float
    ph_weak: float
    ph_heated: float
    ph_least: float
    abv_told: float
    abv_most: float
    source: str
    source_class: str


@functools.cache
def agents() -> dict[str, Agent]:
    """What sets a drink, by name.

    >>> list(agents())
    ['agar', 'gelatin', 'gellan', 'kappa carrageenan', 'iota carrageenan']
    """
    return {row["agent"]: Agent(**row) for row in tables.read("gels").rows()}


def sources(about: Agent) -> tuple[str, ...]:
    """Where each kind of figure of an agent comes from: doses, temperatures, pH, alcohol, water.

    >>> [part.split(":")[0] for part in sources(agents()["gellan"])]
    ['doses', 'temperatures', 'pH', 'alcohol', 'water per gram']
    >>> len(sources(agents()["gelatin"]))
    5
    """
    return tuple(re.split(r"; (?![^()]*\))", about.source))  # one in brackets parts no two


@door
def convert_bloom(grams: Grams, bloom: Bloom, to_bloom: Bloom, *, rule: str = "square root") -> Grams:
    """Grams of another gelatin that set as firmly.

    Parameters
    ----------
    grams : float or array
        Of the gelatin that the recipe names. [g]
    bloom, to_bloom : float or array
        Its strength, and that of the gelatin at hand, 50 to 300. [Bloom]
    rule : {"square root", "linear"}

    Returns
    -------
    float or array
        [g]

    Raises
    ------
    InputError
        For a strength that is not sold, an unknown rule, or grams below zero.

    Notes
    -----
    The firmness of a gel goes about as the square of its gelatin, so grams go as the square root:
    m2 = m1 sqrt(B1 / B2); published conversion tables agree with it. Some kitchens use m2 = m1 B1 / B2. For
    neighbouring grades the two differ by a tenth (10 g of 240 Bloom: 10.95 or 12 g of 200 Bloom); from 240
    to 60 Bloom by a factor of two. Sheets are sold so that, by the linear rule, one sets about as much as
    another whatever its grade; by the square root a bronze sheet sets a third more than a gold one.

    Examples
    --------
    >>> convert_bloom(10, 160, 240), convert_bloom(10, 240, 200, rule="linear")
    (8.16, 12.0)
    """
    one_of("rule", rule, ("square root", "linear"))
    ratio = bloom / to_bloom
    return grams * (np.sqrt(ratio) if rule == "square root" else ratio)


@door
def sheets(grams: Grams, grade: str = "gold", *, bloom: Bloom = USUAL_BLOOM) -> float | np.ndarray:
    """Sheets of a grade that set as firmly as grams of a gelatin.

    >>> round(sheets(10, "gold", bloom=200), 2)
    5.0
    """
    its_bloom, each = SHEETS[one_of("sheet", grade, SHEETS)]
    return convert_bloom(grams, bloom, its_bloom) / each


def dose(agent: str, firmness: str = "firm", *, ph: Number = 7.0, bloom: Number = USUAL_BLOOM) -> Number:
    """Grams of an agent for a litre of drink.

    Parameters
    ----------
    agent : str
        One of `agents()`.
    firmness : {"soft", "firm", "very firm"}
    ph : float or array
        Of the drink. A sour drink needs more agar: up to 1.4 times as much, in equal steps from pH 4.3 down
        to 3.4. It sets gelatin and carrageenan softer too, for which no figure was found.
    bloom : float or array
        Of the gelatin. [Bloom]

    Returns
    -------
    float or array
        [g/L]

    Raises
    ------
    InputError
        For an unknown agent or firmness, a pH outside 0 to 14, a Bloom outside 50 to 300.

    Examples
    --------
    >>> dose("agar"), dose("agar", ph=3.3), dose("gelatin", bloom=160)
    (10.0, 14.0, 19.01)
    """
    row = agents()[one_of("agent", agent, agents())]
    one_of("firmness", firmness, FIRMNESS)
    ph, bloom = number(ph, "pH"), number(bloom, "bloom")
    require("pH", ph, 0, 14)
    require("bloom", bloom, BLOOM.low, BLOOM.high, BLOOM.label)
    grams = getattr(row, f"{firmness.replace(' ', '_')}_g_l")
    if agent == "gelatin":
        return convert_bloom(grams, USUAL_BLOOM, bloom)
    if row.sour_factor == 1:
        return grams
    sour = np.clip((row.ph_weak - ph) / (row.ph_weak - row.ph_heated), 0, 1)
    return plain_number(grams * (1 + (row.sour_factor - 1) * sour))
