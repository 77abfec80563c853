"""Gas in a drink: how much it holds, what stands in the vessel, and what pouring loses.

`gas` is the drink and its gas, `vessels` what kegs and bottles bear and need, `steps` what is done to a drink.
All public names are called here: `carbonation.pressure_for`, `carbonation.in_vessel`.
"""

from __future__ import annotations

from .gas import (
    CAUTIONS,
    DONE,
    FOAMY_PROTEIN,
    FOAMY_SUGAR,
    HALF_TIMES,
    POURED_AT,
    POURED_FROM,
    POURED_LOSS,
    POURED_SPREAD,
    Chart,
    Mixed,
    Uptake,
    chart,
    dissolved_co2,
    foaming,
    lost_by_pouring,
    pressure_for,
    spread,
    time_to,
    topped,
    uptake,
    volumes_held,
    with_gas,
)
from .steps import Carbonate, Chill, Pour
from .vessels import (
    CAR,
    CARTRIDGE,
    HOT,
    NEAR,
    SODA_KEG,
    VESSELS,
    WARM,
    Cartridges,
    GasNeeded,
    Held,
    Vessel,
    cartridges,
    gas_needed,
    in_vessel,
    vessel_of,
)
