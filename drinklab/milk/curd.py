"""Milk and what curdles it: the ways to wash, kinds of milk, what milk binds and when it is all out."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from .. import tables
from ..errors import InputError, one_of
from ..facts import Fact
from ..kinds import Number
from ..liquid import Liquid
from ..steps import Caution
from ..units import plain_number

# Casein's isoelectric point, pH 4.6 (Zoller 1921 and dairy textbooks). That curdling begins about 5.2 (5.3 in a
# dairy course on edible acid casein) and grows smoothly is an estimate; alcohol makes milk curdle sooner, which is
# not counted.
CURDLES, BEGINS = 4.6, 5.2
# Where milk's buffering is counted from. [pH]
FRESH = 6.7
# What binds hydrogen as milk turns sour: weight and pK of three groups (serum salts and histidine; colloidal
# phosphate and citrate; carboxyls of the proteins). An estimate of the shape alone; its size is the buffering
# of `datasets/milks.csv`. It holds below 4.6 too, where the proteins go on binding.
BINDERS = ((20.0, 6.2), (30.0, 5.1), (30.0, 4.0))
_LN10 = float(np.log(10.0))
# The alcohol test of dairies (read): equal parts of milk and 68 % alcohol. Fresh milk just stands it; beyond,
# even milk without acid curdles. [% vol of the mix]
STRONG = 34.0
# Below this casein begins to dissolve again (from memory): soft, fine curd. [pH]
TOO_SOUR = 2.7
# One part of milk to three or four of drink. Common practice, no published source. [mL/mL]
USUAL_SHARE = (0.25, 0.33)
# Lemon juice: citric acid (Penniston et al. 2008) and potassium (USDA SR28 09152). [g/L]
LEMON_CITRIC, LEMON_POTASSIUM = 48.0, 1.06


@dataclass(frozen=True, slots=True)
class Washing:
    """How the milk is curdled and drained.

    Parameters
    ----------
    begins, curdles : float
        pH below which curdling begins, and at which all casein is out.
    hold_up, hold_up_factor : float
        Liquid that drained curd holds [mL to a gram of its dry protein and fat]; 19 in 20 lie within the factor.
    whey : float
        Share of the whey protein that goes with the curd.
    """

    name: str
    begins: float
    curdles: float
    hold_up: float
    hold_up_factor: float
    whey: float
    order: Fact
    source: str


# Water to a gram of protein and fat, worked out from the published figures.
COLD, HOT = "cold drip", "hot"
WASHINGS = {
    way.name: way
    for way in (
        Washing(COLD, BEGINS, CURDLES, 4.0, 2.0, 0.0, Fact("rest cold"),
            "curd held 4.0 (whole) and 4.3 (skimmed milk, in a school experiment, second hand); skimmed quark "
            "6.7 (82 % moisture, 12 % protein), creamed cottage cheese 5.2 and dry cottage curd 7.6 (USDA SR28 01012, "
            "01014), the finest casein at most 7.2 (Teo 1997, abstract)"),
        Washing(HOT, 5.8, 5.3, 1.3, 2.5, 0.5, Fact("keep hot"),
            "curd of milk heated to 82 °C curdles at pH 5.4 and, drained, holds 1.3, with nine tenths of the protein "
            "(De and Ray 1954, abstract); paneer 1.3 and white cheese 1.2 (Manufacturing outlines of selected cheese "
            "varieties; Chandan et al. 1979), whole-milk ricotta 3.0 (USDA SR28 01036)"),
    )
}  # fmt: skip
# Common practice, no published source.
PRACTICE = Fact("drink into milk"), WASHINGS[COLD].order, Fact("runnings back")
HEAT, DAIRY = Caution("hot spirit"), Caution("dairy")
# (what was measured, lowest and highest share of polyphenols that protein took, source)
POLYPHENOLS = (
    ("catechins of black tea, bound to casein at 40 % of milk", 0.35, 0.35,
     "Interactions of black and green tea polyphenols with whole milk, Food Research International, 2013; abstract"),
    ("catechins of green tea, bound to casein at 40 % of milk", 0.73, 0.73, "the same"),
    ("hydrolysable tannins of pomegranate juice, by albumin, casein or gelatin", 0.17, 0.60,
     "Food Chemistry 184 (2015) 37; abstract"),
    ("all phenolics of pomegranate juice, by the same", 0.07, 0.17, "the same"),
)  # fmt: skip
TANNIN = Fact("tannin")


@dataclass(frozen=True, slots=True)
class Milk:
    """A milk: what a millilitre holds, and how much acid a litre binds.

    Parameters
    ----------
    millilitre : Liquid
        Its minerals as solids. [g]
    casein : float
        Of the protein. [g/mL]
    buffering, buffering_pm : float
        Hydrogen ions from pH 6.7 to 4.6, and what holds 19 milks in 20. [mmol/L]
    """

    name: str
    millilitre: Liquid
    casein: float
    buffering: float
    buffering_pm: float
    allergens: tuple[str, ...]
    source: str


@functools.cache
def _milks() -> dict[str, Milk | str]:
    """Each row of the table: the milk, or why it is refused."""
    found = {}
    for row in tables.read("milks").rows():
        if row["refused"]:
            found[row["milk"]] = row["refused"]
            continue
        hundred = Liquid.of(
            water=row["water_g"], protein=row["casein_g"] + row["whey_protein_g"], fat=row["fat_g"],
            lactose=row["lactose_g"], solids=row["ash_g"],
        )  # fmt: skip
        ml = hundred.volume()
        found[row["milk"]] = Milk(
            row["milk"], (1 / ml) * hundred, row["casein_g"] / ml, row["buffering_mmol_l"], row["buffering_pm"],
            tuple(item.strip() for item in row["allergens"].split(";") if item), row["source"],
        )  # fmt: skip
    return found


def milks() -> dict[str, Milk]:
    """The milks that a drink can be washed with.

    >>> list(milks())[0]
    "whole cow's milk"
    """
    return {name: milk for name, milk in _milks().items() if isinstance(milk, Milk)}


def way_of(name: str) -> Washing:
    """A way of washing by its name."""
    return WASHINGS[one_of("way of washing", name, WASHINGS)]


def milk_of(name: str) -> Milk:
    """A kind of milk with casein by its name."""
    milk = _milks()[one_of("milk", name, _milks())]
    if isinstance(milk, str):
        raise InputError("milk", name, f"one with casein, such as {next(iter(milks()))}; of {name}: {milk}")
    return milk


def bound(ph: Number) -> Number:
    """Hydrogen that milk has bound at a pH, over what it binds from 6.7 to 4.6.

    >>> [round(float(bound(ph)), 2) for ph in (6.7, 4.6, 3.0)]
    [0.0, 1.0, 1.67]
    """
    return (_held(ph) - _HELD_FRESH) / _HELD_BETWEEN


def _held(ph: Number) -> Number:
    free = np.exp(_LN10 * np.asarray(ph, float))  # a power for each would be slow
    return sum(weight / (1.0 + free * 10.0**-pk) for weight, pk in BINDERS)


_HELD_FRESH = _held(FRESH)
_HELD_BETWEEN = _held(CURDLES) - _HELD_FRESH


def completeness(ph: Number, way: str = COLD) -> Number:
    """Share of the casein that curdles: none above pH 5.2, all from 4.6 down (5.8 and 5.3 hot), smooth between.

    >>> completeness(4.9), completeness(4.9, "hot")
    (0.5, 1.0)
    """
    how = way_of(way)
    x = np.clip((how.begins - ph) / (how.begins - how.curdles), 0.0, 1.0)
    return plain_number(x * x * (3.0 - 2.0 * x))
