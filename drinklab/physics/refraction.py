"""How much a solution of alcohol or of sugar bends light: what a refractometer reads.

>>> float(np.interp(20, SUCROSE_AT, SUCROSE_INDEX))
1.3639
"""

from __future__ import annotations

import numpy as np

from .density import abv_fraction, sucrose_water

# Refractive index at 20 °C and 589 nm (CRC Handbook of Chemistry and Physics, 102nd edition, 2021, Concentrative
# properties of aqueous solutions): ethanol at 0, 2, 4, ... 50 % mass, sucrose at the °Brix beside it.
ETHANOL_INDEX = np.array([
    1.3330, 1.3342, 1.3354, 1.3367, 1.3381, 1.3395, 1.3410, 1.3425, 1.3440, 1.3455, 1.3469, 1.3484, 1.3498, 1.3511,
    1.3524, 1.3535, 1.3546, 1.3557, 1.3566, 1.3575, 1.3583, 1.3590, 1.3598, 1.3604, 1.3610, 1.3616,
])  # fmt: skip
SUCROSE_AT = np.array([0, 5, 10, 15, 20, 26, 30, 36, 40, 46, 50, 60, 70.0])
SUCROSE_INDEX = np.array([
    1.3330, 1.3403, 1.3478, 1.3557, 1.3639, 1.3741, 1.3812, 1.3922, 1.3999, 1.4118, 1.4201, 1.4419, 1.4654,
])  # fmt: skip
ETHANOL_ABV = 100 * abv_fraction(np.linspace(0, 0.5, len(ETHANOL_INDEX)))  # [% vol]
SUCROSE_PER_LITRE = SUCROSE_AT / 100 * sucrose_water(SUCROSE_AT / 100)  # [g/L]
