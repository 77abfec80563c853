"""Steps of a drink with gas: chill it, carbonate it, pour it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from .. import dilution
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import GAS_VOLUMES, PRESSURE, TEMPERATURE, VOLUME, Number
from ..learned import Learned
from ..liquid import Liquid
from ..physics import freezing as _freezing
from ..physics import solubility as _solubility
from ..physics.solubility import grams_from_volumes, volumes_from_grams
from ..steps import Brought, Caution, Draw, Outcome, as_measured, estimate, savable
from ..steps import first as _estimate
from ..units import number, to_celsius, to_kpa
from .gas import (
    CAUTIONS,
    POURED_LOSS,
    POURED_SPREAD,
    lost_by_pouring,
    require_liquid,
    spread,
    strength_and_sugar,
    volumes_held,
    with_co2,
)
from .vessels import WARM, in_vessel, require_gas, vessel_of


def _set(step: Any, **fields: Any) -> None:
    for name, value in fields.items():
        object.__setattr__(step, name, value)


@savable("chill")
@dataclass(frozen=True, slots=True)
class Chill:
    """Cool a drink, closed and without ice: nothing of it changes.

    Parameters
    ----------
    temperature : float or str
        [°C]
    """

    temperature: float = 4.0
    name: str = "chilled"

    def __post_init__(self) -> None:
        _set(self, temperature=to_celsius(self.temperature))
        require("temperature", self.temperature, *_solubility.TEMPERATURES, "°C")

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Refuses what would freeze; says so when it is near."""
        drink = _estimate(liquid)
        require_liquid(drink, self.temperature)
        point = dilution.freezing_point(drink)
        said: tuple[Fact, ...] = (Fact("chill", to=TEMPERATURE(self.temperature)),)
        if self.temperature - point < 2 * _freezing.ERROR:
            said += (Fact("near freezing", point=TEMPERATURE(point)),)
        return Outcome(liquid, said=said, temperature=self.temperature)


@savable("carbonate", Fact("basis of gas"))
@dataclass(frozen=True, slots=True)
class Carbonate:
    """Gas a drink until it is in balance: to so many volumes, or at a pressure.

    The vessel is taken as filled to its limit, whatever share of that batch the drink at hand is.

    Parameters
    ----------
    volumes : float, optional
        Wanted. [volumes]
    pressure : float or str, optional
        In place of volumes. [kPa gauge]
    temperature : float or str
        [°C]
    vessel : str
        A key of `VESSELS`.
    limit : float or str, optional
        The limit stamped on yours. [kPa gauge]
    gas : str
        Only "CO2".
    """

    volumes: float | None = None
    pressure: float | None = None
    temperature: float = 4.0
    vessel: str = "keg, 19 L"
    limit: float | None = None
    gas: str = "CO2"
    name: str = "carbonated"
    cautions: ClassVar[tuple[Caution, ...]] = CAUTIONS

    def __post_init__(self) -> None:
        require_gas(self.gas)
        if (self.volumes is None) == (self.pressure is None):
            given = "neither" if self.volumes is None else "both"
            raise InputError("volumes or pressure", Told(given), "one of the two")
        _set(self, temperature=to_celsius(self.temperature))
        if self.pressure is not None:
            _set(self, pressure=to_kpa(self.pressure))
        else:
            _set(self, volumes=number(self.volumes, "volumes"))
            require("volumes", self.volumes, GAS_VOLUMES.low, GAS_VOLUMES.high, GAS_VOLUMES.label)
        if self.limit is not None:
            _set(self, limit=to_kpa(self.limit, "limit"))
        vessel_of(self.vessel, self.limit)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Add the gas; what the drink held above that leaves again."""
        drink = _estimate(liquid)
        volumes = self._volumes(drink)
        vessel = vessel_of(self.vessel, self.limit)
        batch = drink * (vessel.fill / (1000 * strength_and_sugar(drink)[0]))
        held = in_vessel(with_co2(batch, 0.0), volumes, self.temperature, vessel)  # too much is vented
        litres, _, _ = strength_and_sugar(liquid)
        sure = spread(drink)
        level = np.maximum(1 + sure / 2 * draw("gas that the drink holds"), 0.0)
        gained = grams_from_volumes(volumes) * litres * level - liquid.co2
        said: tuple[Fact, ...] = (
            Fact(
                "gas held", volumes=volumes, grams=grams_from_volumes(volumes), at=TEMPERATURE(self.temperature),
                gauge=PRESSURE(held.pressure), sure=100 * sure,
            ),
        )  # fmt: skip
        if strength_and_sugar(drink)[1] > _solubility.READ_TO:
            said += (Fact("gas in a strong drink"),)
        return Outcome(
            liquid=with_co2(liquid, liquid.co2 + gained),
            left=_gas(np.maximum(-gained, 0.0)),
            cautions=held.cautions,
            added=_gas(np.maximum(gained, 0.0)),
            said=said,
            temperature=self.temperature,
        )

    def _volumes(self, drink: Liquid) -> float:
        """What it comes to hold: as wanted, or as the pressure gives."""
        if self.volumes is not None:
            return self.volumes
        return float(volumes_held(drink, self.pressure or 0.0, self.temperature))

    def require_stands(self, liquid: Liquid, temperature: float) -> None:
        """Refuse to let the vessel stand warmer than it bears with this gassed drink in it."""
        drink, vessel = _estimate(liquid), vessel_of(self.vessel, self.limit)
        if drink.co2 > 0 and temperature > max(WARM, self.temperature):
            litres = strength_and_sugar(drink)[0]
            batch = with_co2(drink * (vessel.fill / (1000 * litres)), 0.0)
            in_vessel(batch, volumes_from_grams(drink.co2 / litres), temperature, vessel)

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[Fact, ...]:
        """In which vessel, in how many fillings, and to what."""
        vessel = vessel_of(self.vessel, self.limit)
        fillings = math.ceil(float(_estimate(liquid).volume()) / vessel.fill - 1e-9)
        found = {"vessel": vessel.name.replace(", ", " of "), "until": outcome.said[0]}
        if fillings > 1:
            return (Fact("gas in fillings", fillings=fillings, most=VOLUME(vessel.fill), **found),)
        return (Fact("gas in a vessel", **found),)

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """The gas that goes into the drink; what fills the vessel's head comes on top."""
        return (Brought("carbon dioxide (in the drink)", float(_estimate(outcome.added or Liquid.of()).mass)),)


def _gas(grams: Number) -> Liquid:
    return Liquid.of(co2=grams)


@savable("pour", Fact("basis of gas lost"))
@dataclass(frozen=True, slots=True)
class Pour:
    """Pour a gassed drink: what leaves is gas alone.

    Parameters
    ----------
    temperature : float or str
        Of the drink. [°C]
    pour : {"tilted", "upright"}
    """

    temperature: float = 4.0
    pour: str = "tilted"
    name: str = "poured"
    learned: tuple[Learned, ...] = as_measured()

    def __post_init__(self) -> None:
        one_of("pour", self.pour, POURED_LOSS)
        _set(self, temperature=to_celsius(self.temperature))

    @property
    def measures(self) -> tuple[tuple[str, str], ...]:
        """What a bar may have measured of it."""
        return (("gas", self.pour),)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """The gas that is driven out, as `lost_by_pouring`."""
        drink = _estimate(liquid)
        if not drink.co2 > 0:
            raise InputError("gas of the drink", 0, "above 0 volumes: carbonate it before you pour it")
        # What of the rule's loss this bar loses, and about one standard deviation.
        of_rule, pm = next(((found.value, found.pm) for found in self.learned), (1.0, POURED_SPREAD / 2))
        rule = lost_by_pouring(drink, self.temperature, self.pour) / drink.co2
        share = np.clip(of_rule * rule, 0.0, 1.0)
        lost = np.clip(rule * (of_rule + pm * draw("gas lost by pouring")), 0.0, 1.0) * liquid.co2
        left = volumes_from_grams((1 - share) * drink.co2 / strength_and_sugar(drink)[0])
        said = (Fact("gas left in the glass", volumes=left),)
        return Outcome(with_co2(liquid, liquid.co2 - lost), _gas(lost), said=said, temperature=self.temperature)

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[Fact, ...]:
        """How it is poured."""
        at = TEMPERATURE(self.temperature)
        return (Fact("pour tilted", at=at) if self.pour == "tilted" else Fact("pour upright", at=at),)
