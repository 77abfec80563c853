"""What ice adds and takes: `rules` from strength alone, `ice` from the energy balance of your own ice, `fit` from
what you weighed; `frozen` says where a drink freezes.

All public names are called here: `dilution.stirred`, `dilution.over_ice`.
"""

from __future__ import annotations

from ..learned import MELT_SPREAD
from .fit import Fit, fitted
from .frozen import Freeze, freezing_point, frozen_share, mixture, swells, weakest_liquid
from .ice import (
    ICE_SIZES,
    MOST_ICE,
    MOST_VESSEL,
    MOTIONS,
    USUAL_ICE,
    USUAL_VOLUME,
    WATER,
    WEIGHED,
    WETNESS,
    Chill,
    Motion,
    OwnIce,
    after_serving,
    balance_with_ice,
    melt_pm,
    over_ice,
    weighed_pm,
    wetness_of,
)
from .rules import (
    BUILT_LONG,
    IN_GLASS,
    LEAST_RULED,
    RULE_RANGE,
    RULES,
    BeforeIce,
    add_melt,
    agrees,
    basis,
    iced,
    meets_ice,
    melt_by_rule,
    melt_fraction,
    published,
    rule_data,
    shaken,
    stirred,
)
