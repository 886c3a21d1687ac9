"""Area rule: how many times the area of the smallest outlet a flue may have, as a number of the code.

A flue much larger than its appliance's outlet fills slowly, cools the gas, and stays wet (`cold_start`). Codes
therefore cap its area at a multiple of the outlet's.
"""

import numpy as np

from ventcalc import tables
from ventcalc.door import door
from ventcalc.units import Quantity, quantities


def times(name: str = "area") -> float:
    """How many times the outlet's area a flue may have, by that row of ``data/vent/capacity_rules.csv``."""
    return float(tables.row("capacity_rules", name, "name")["value"])


@quantities(
    "",
    flue_area="m**2",
    outlet_area="m**2",
    above={"flue_area": 0.0, "outlet_area": 0.0},
    source="IFGC 504.3.17 and Appendix B example 5b (V507)",
)
def area_ratio(flue_area, outlet_area):
    """Flue area over the smallest outlet area, to be held against `times`.

    flue_area and outlet_area [m2]; scalars or arrays. Raises where either is not positive.
    """
    return flue_area / outlet_area


@door(flue_area="m**2", outlet_area="m**2", above={"flue_area": 0.0, "outlet_area": 0.0})
def allows(flue_area: Quantity, outlet_area: Quantity, rule: str = "area") -> bool:
    """Whether a flue of ``flue_area`` may serve appliances whose smallest outlet has ``outlet_area``."""
    return bool(area_ratio(flue_area, outlet_area).m_as("") <= times(rule) * (1.0 + 1e-9))


@quantities("m**2", diameter="m", above={"diameter": 0.0}, source="geometry")
def round_area(diameter):
    """Area of a round section, ``pi D^2 / 4``; diameter [m], scalar or array. Raises where it is not positive."""
    return np.pi * diameter**2 / 4.0
