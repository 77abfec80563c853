"""What every number means, written once: its unit and the range that makes sense.

Signatures carry these kinds. The door (`units.door`) converts and checks arguments by them, and charts
and tables take their unit labels from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Annotated, Generic, NamedTuple, Protocol, TypeVar

import numpy as np

# Below these a figure is worth one decimal, from there on none; a figure of another kind always is.
FINER_BELOW = {"mL": 10, "g/L": 20, "to 1": 20}


@dataclass(frozen=True, slots=True)
class Kind:
    """A unit as people read it, as a unit library reads it, and the allowed range."""

    label: str
    unit: str
    low: float = 0.0
    high: float = inf

    def __call__(self, value: Number, spread: float | None = None) -> Amount:
        """A number of this kind, as a fact holds it.

        >>> VOLUME(90)
        Amount(value=90.0, kind=Kind(label='mL', unit='milliliter', low=0, high=1000000000.0), spread=None)
        """
        return Amount(float(value), self, spread)

    def decimals(self, value: float) -> int:
        """Decimal places that a figure is worth in this kind's own unit, where nothing else is asked for."""
        if self.unit == "money":
            return 2
        if self.unit in ("degC", "delta_degC", "kilopascal", "minute", "second"):
            return 0
        few = FINER_BELOW.get(self.label)
        return 1 if few is None else int(abs(value) < few)


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its kind, and with its ± where it has one."""

    value: float
    kind: Kind
    spread: float | None = None


# A thousand tonnes is beyond any drink, and keeps sums within what numbers can hold.
VOLUME = Kind("mL", "milliliter", 0, 1e9)
MASS = Kind("g", "gram", 0, 1e9)
LITRES = Kind("L", "liter", 0, 1e6)  # of a batch
TEMPERATURE = Kind("°C", "degC", -273.15, inf)
WARMER = Kind("°C", "delta_degC", -inf, inf)  # by how much
ABV = Kind("% vol", "percent", 0, 100)
ABW = Kind("% mass", "percent", 0, 100)
LIKING = Kind("points", "dimensionless", 0, 10)  # how much a drink is liked
PROOF = Kind("US proof", "dimensionless", 0, 200)
UK_PROOF = Kind("UK proof", "dimensionless", 0, 175)
CONCENTRATION = Kind("g/L", "gram/liter")
DENSITY = Kind("kg/m³", "kilogram/meter**3")
FRACTION = Kind("of the whole", "dimensionless", 0, 1)
RATIO = Kind("to 1", "dimensionless")
# As a gauge reads: 0 is open to the air. Beyond 2000 kPa (290 psi) nothing at a bar is made for it.
GAUGE_PRESSURE = Kind("kPa gauge", "kilopascal", 0, 2000)
PRESSURE = Kind("kPa", "kilopascal")  # where the sentence says by which gauge
KILOPASCALS = {"psi": 6.894757293168, "bar": 100.0, "kPa": 1.0}  # in one unit of a gauge
GAS_VOLUMES = Kind("volumes", "dimensionless", 0, 10)
PERCENT = Kind("%", "percent")
SECONDS, MINUTES = Kind("s", "second"), Kind("min", "minute")
# For an argument that is one number, not an array: `Annotated[float, VOLUME, SINGLE]`.
SINGLE = "single"

Number = float | np.ndarray
N = TypeVar("N")


class Ends(NamedTuple, Generic[N]):
    """The two ends of a range, or of what holds 19 in 20."""

    low: N
    high: N


class Quantity(Protocol):
    """A number with its unit, as pint has it."""

    def to(self, other: str) -> Quantity:
        """The same in another unit."""
        ...


# What a person may give for an amount: `units.door`, `number`, `to_ml` and the like make a `Number` of it.
Given = Number | str | Sequence[float] | Quantity
Millilitres = Annotated[Number, VOLUME]
Grams = Annotated[Number, MASS]
Celsius = Annotated[Number, TEMPERATURE]
PercentVol = Annotated[Number, ABV]
PercentMass = Annotated[Number, ABW]
Proof = Annotated[Number, PROOF]
UKProof = Annotated[Number, UK_PROOF]
GramsPerLitre = Annotated[Number, CONCENTRATION]
KilogramsPerCubicMetre = Annotated[Number, DENSITY]
Fraction = Annotated[Number, FRACTION]
Ratio = Annotated[Number, RATIO]
GaugeKilopascals = Annotated[Number, GAUGE_PRESSURE]
GasVolumes = Annotated[Number, GAS_VOLUMES]
