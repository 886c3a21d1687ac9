"""Orifice flow: what a pressure drives through an opening, and the pressure that a flow through one takes."""

import numpy as np

from ventcalc.building.code_rules import plain
from ventcalc.units import quantities

OPENING_COEFFICIENT = plain("combustion_air", "opening coefficient", "")
_ORIFICE = "orifice flow, coefficient on the free area; multizone air flow programs"


@quantities(
    "Pa",
    flow="m**3/s",
    area="m**2",
    density="kg/m**3",
    coefficient="",
    above={"area": 0.0, "density": 0.0, "coefficient": 0.0},
    source=_ORIFICE,
)
def opening_pressure(flow, area, density, coefficient=OPENING_COEFFICIENT):
    """Pressure that drives a flow through an opening: rho/2 (Q / (C A))^2, with the sign of the flow.

    flow: Q, m3/s; area: free, A, m2; density: of the air that flows, kg/m3; coefficient: C, 0.6 for a sharp edge.
    Numbers or arrays that broadcast.
    """
    velocity = flow / (coefficient * area)
    return 0.5 * density * velocity * np.abs(velocity)


@quantities(
    "m**3/s",
    pressure="Pa",
    area="m**2",
    density="kg/m**3",
    coefficient="",
    at_least={"area": 0.0},
    above={"density": 0.0, "coefficient": 0.0},
    source=_ORIFICE,
)
def opening_flow(pressure, area, density, coefficient=OPENING_COEFFICIENT):
    """Flow through an opening: C A sqrt(2 dp / rho), with the sign of the pressure; inverse of `opening_pressure`.

    pressure: dp, Pa; area: free, A, m2; density: of the air that flows, kg/m3; coefficient: C. Numbers or arrays.
    The trade's 4005 A sqrt(p) in fpm and in. w.c. is this with C = 1 in standard air.
    """
    return coefficient * area * np.sign(pressure) * np.sqrt(2.0 * np.abs(pressure) / density)
