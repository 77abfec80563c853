"""Gas in a drink: how much it holds, what stands in the vessel, and what pouring loses.

`gas` is the drink and its gas, `vessels` what kegs and bottles bear and need, `steps` what is done to a drink.
All public names are called here: `carbonation.pressure_for`, `carbonation.in_vessel`.
"""

from __future__ import annotations

from .gas import CAUTIONS as CAUTIONS
from .gas import DONE as DONE
from .gas import FOAMY_PROTEIN as FOAMY_PROTEIN
from .gas import FOAMY_SUGAR as FOAMY_SUGAR
from .gas import HALF_TIMES as HALF_TIMES
from .gas import POURED_AT as POURED_AT
from .gas import POURED_FROM as POURED_FROM
from .gas import POURED_LOSS as POURED_LOSS
from .gas import POURED_SPREAD as POURED_SPREAD
from .gas import Chart as Chart
from .gas import Mixed as Mixed
from .gas import Uptake as Uptake
from .gas import chart as chart
from .gas import dissolved_co2 as dissolved_co2
from .gas import foaming as foaming
from .gas import lost_by_pouring as lost_by_pouring
from .gas import pressure_for as pressure_for
from .gas import spread as spread
from .gas import time_to as time_to
from .gas import topped as topped
from .gas import uptake as uptake
from .gas import with_gas as with_gas
from .steps import Carbonate as Carbonate
from .steps import Chill as Chill
from .steps import Pour as Pour
from .vessels import CAR as CAR
from .vessels import CARTRIDGE as CARTRIDGE
from .vessels import HOT as HOT
from .vessels import NEAR as NEAR
from .vessels import SODA_KEG as SODA_KEG
from .vessels import VESSELS as VESSELS
from .vessels import WARM as WARM
from .vessels import Cartridges as Cartridges
from .vessels import GasNeeded as GasNeeded
from .vessels import Held as Held
from .vessels import Vessel as Vessel
from .vessels import cartridges as cartridges
from .vessels import gas_needed as gas_needed
from .vessels import in_vessel as in_vessel
from .vessels import vessel_of as vessel_of
