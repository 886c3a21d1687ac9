"""Wall condensation: how fast vapour reaches a wall below the dew point, and how warm the wall becomes by it.

Vapour diffuses to the wall through the film that also passes the heat: by the analogy of heat and mass transfer the
two coefficients differ only by a power of the Lewis number. The latent heat warms the wall until it passes to the
outside all that it receives (Colburn and Hougen, Ind. Eng. Chem. 26 (1934) 1178). The film of water itself resists
little and is left out. Below 0 degC the water settles as ice, with saturation and latent heat over ice.
"""

import numpy as np

from ventcalc import condensation
from ventcalc.atmosphere import MOLAR_MASS, SATURATION_RANGE, saturation_pressure
from ventcalc.units import quantities

_ANALOGY = "Chilton and Colburn, Ind. Eng. Chem. 26 (1934) 1183 (any heat transfer textbook)"
_STANDARD_ATMOSPHERE = 101325.0  # Pa


@quantities(
    "m**2/s",
    temperature="K",
    pressure="Pa",
    above={"temperature": 0.0, "pressure": 0.0},
    valid={"temperature": (250.0, 450.0)},
    source="Marrero and Mason, J. Phys. Chem. Ref. Data 1 (1972) 3 (coefficients from memory)",
)
def vapour_diffusivity(temperature, pressure):
    """Binary diffusivity of water vapour in air, ``1.87e-10 T^2.072 / p`` with p in atm.

    temperature [K] of the film, pressure [Pa absolute]; scalars or arrays. Made for 282 to 450 K and used here down
    to 250 K. In flue gas of 10 % carbon dioxide it is 3 to 5 % lower (Blanc's law): mass transfer comes out 2 to 3 %
    too high, on the wet side. Warns outside the range, raises for values that are not positive.
    """
    return 1.87e-10 * temperature**2.072 * _STANDARD_ATMOSPHERE / pressure
