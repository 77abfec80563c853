"""Kinds of measurement: unit, what is possible, the usual instruments with their ±, and how fast the figure drifts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from ..dilution import WEIGHED
from ..kinds import ABV, ABW, CONCENTRATION, MASS, MINUTES, VOLUME, Kind

PH = Kind("pH", "dimensionless", 0, 14)
BRIX = Kind("°Brix", "percent", 0, 100)
BUFFERING = Kind("mmol/L", "millimole/liter", 0, 1000)
# A reading is typed in these: what else a kind is called there.
READ_AS = {"°Brix": ABW}
# Days after which two readings of it have half as much in common. A juice: crates change weekly and the harvest within
# the season; a syrup: each batch is made by the same recipe; milk: pasture and herd. All judgements.
FOR_GOOD, JUICE, SYRUP, MILK = math.inf, 30.0, 60.0, 90.0
# Ice and hands, papers and curd: a room's warmth goes with the season, and another machine, pack or milk comes. A
# judgement.
SEASON = 180.0


@dataclass(frozen=True, slots=True)
class Instrument:
    """What 19 readings in 20 of a usual one lie within: in the unit of the reading, and as a share of it."""

    name: str
    absolute: float
    relative: float = 0.0

    def pm(self, value: float) -> float:
        """For a reading of this size, the wider of both."""
        return max(self.absolute, self.relative * value)


@dataclass(frozen=True, slots=True)
class Sort:
    """A kind of measurement.

    Parameters
    ----------
    name : str
        As it is asked for.
    unit : kinds.Kind
    low, high : float
        What a bar can measure at all; what lies outside is refused.
    instruments : tuple of Instrument
        The usual one first. Their ± are common practice, no published source, unless their note says otherwise.
    of : str
        What the value is of, where it is of something: the question for it.
    asks : str
        How it is asked for on a page.
    """

    name: str
    unit: Kind
    low: float
    high: float
    instruments: tuple[Instrument, ...]
    asks: str
    of: str = ""
    milk: bool = False

    def instrument(self, name: str) -> Instrument | None:
        """The usual one of this name."""
        return next((one for one in self.instruments if one.name == name), None)


SORTS: Mapping[str, Sort] = {
    # Hydrometer: a scale in whole % vol is read to half a mark. The law lets a label be 0.3 % vol off.
    "strength": Sort(
        "strength", ABV, 0.5, 97.2,
        (Instrument("hydrometer", 0.5), Instrument("density meter", 0.1), Instrument("distilled sample", 0.2)),
        "strength by hydrometer",
    ),
    # Refractometer: read to 0.2, set to zero with water. Honey, the thickest, has some 83; our densities end at 85.
    "sugar": Sort(
        "sugar", BRIX, 0.1, 85.0, (Instrument("refractometer", 0.4), Instrument("digital refractometer", 0.2)),
        "°Brix by refractometer",
    ),
    # Titrated to pH 8.2; a bar's burette and indicator. No juice has more than some 90.
    "acid": Sort(
        "acid", CONCENTRATION, 0.1, 100.0, (Instrument("titration", 0.5, 0.04), Instrument("test kit", 1.0, 0.15)),
        "titratable acidity, as citric acid",
    ),
    # Meter set with two buffers; the sourest juice has 1.8, the mildest of what bars pour lies below 8.
    "ph": Sort("pH", PH, 1.8, 9.0, (Instrument("pH meter", 0.1), Instrument("pH strips", 0.5)), "pH"),
    "pour": Sort(
        "true pour", VOLUME, 0.5, 1000.0, (Instrument("scale", 0.2), Instrument("measuring cylinder", 0.5, 0.01)),
        "what the measure pours, on a scale with water", of="the mark that it was filled to, in mL",
    ),
    "milk": Sort(
        "buffering of a milk", BUFFERING, 15.0, 200.0,
        (Instrument("titration", 4.0, 0.05), Instrument("pH of a known mix", 8.0, 0.12)),
        "acid that a litre takes from pH 6.7 to 4.6",
    ),
    "wash": Sort(
        "yield of a wash", VOLUME, 1.0, 1e6, (Instrument("measuring cylinder", 5.0, 0.02), Instrument("scale", 2.0)),
        "what ran off clear", of="all that was poured together, drink and milk, in mL", milk=True,
    ),
    "gas": Sort(
        "gas lost in the pour", MASS, 0.0, 50.0, (Instrument("scale", 0.2, 0.1),),
        "weight lost as gas, by scale", of="what the rule lets go of the same drink, in g",
    ),
    # Two weighings, each good to half a gram.
    "ice": Sort(
        "melt water", MASS, 0.5, 1e5, (Instrument("scale", WEIGHED), Instrument("measuring cylinder", 2.0, 0.02)),
        "what a drink gained on its ice: weighed before and after", of="what the rule melts of the same drink, in g",
    ),
    "filter": Sort(
        "time of a filter", MINUTES, 1.0, 20_160.0, (Instrument("clock", 1.0, 0.02),),
        "how long it ran", of="what was through one paper by then, in mL",
    ),
    "paper": Sort(
        "drink kept by a paper", VOLUME, 0.5, 1000.0, (Instrument("scale", 1.0), Instrument("measuring cylinder", 5.0)),
        "what one paper kept: poured in, less what ran through",
    ),
    "fruit": Sort(
        "juice of a fruit", VOLUME, 1.0, 1000.0, (Instrument("scale", 1.0), Instrument("measuring cylinder", 2.0)),
        "juice that one fruit gave",
    ),
}  # fmt: skip
# Fruit of one crate differ by this share, one standard deviation. A judgement; the table has what lots differ by.
FRUIT_DIFFER = 0.20
# Least spread of a table's figure that is taken, one standard deviation: where a table states none, it is not sure to
# the last digit. Share of the figure, and in its own unit. Judgements.
LEAST_PM = {"strength": (0.0, 0.15), "sugar": (0.05, 2.0), "acid": (0.10, 0.5), "ph": (0.20, 0.02)}
# Above this an alcoholmeter reads too low, since sugar makes a liquid denser. [g/L]
DRY = 5.0
