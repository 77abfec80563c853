"""What ice adds and takes: `rules` from strength alone, `ice` from the energy balance of your own ice, `fit` from
what you weighed; `frozen` says where a drink freezes.

All public names are called here: `dilution.stirred`, `dilution.over_ice`.
"""

from __future__ import annotations

from .fit import Fit as Fit
from .fit import fitted as fitted
from .frozen import freezing_point as freezing_point
from .frozen import frozen_share as frozen_share
from .frozen import mixture as mixture
from .frozen import weakest_liquid as weakest_liquid
from .ice import ICE_SIZES as ICE_SIZES
from .ice import MELT_SPREAD as MELT_SPREAD
from .ice import MOST_ICE as MOST_ICE
from .ice import MOST_VESSEL as MOST_VESSEL
from .ice import MOTIONS as MOTIONS
from .ice import USUAL_ICE as USUAL_ICE
from .ice import USUAL_VOLUME as USUAL_VOLUME
from .ice import WEIGHED as WEIGHED
from .ice import WETNESS as WETNESS
from .ice import Chill as Chill
from .ice import Motion as Motion
from .ice import OwnIce as OwnIce
from .ice import after_serving as after_serving
from .ice import balance_with_ice as balance_with_ice
from .ice import melt_pm as melt_pm
from .ice import over_ice as over_ice
from .ice import weighed_pm as weighed_pm
from .rules import BUILT_LONG as BUILT_LONG
from .rules import IN_GLASS as IN_GLASS
from .rules import LEAST_RULED as LEAST_RULED
from .rules import RULE_RANGE as RULE_RANGE
from .rules import RULES as RULES
from .rules import BeforeIce as BeforeIce
from .rules import add_melt as add_melt
from .rules import agrees as agrees
from .rules import basis as basis
from .rules import iced as iced
from .rules import melt_by_rule as melt_by_rule
from .rules import melt_fraction as melt_fraction
from .rules import published as published
from .rules import shaken as shaken
from .rules import stirred as stirred
