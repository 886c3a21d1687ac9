"""Wall lag: how long a wall follows the weather, and its burner, behind: masonry and other heavy walls."""

import numpy as np

from ventcalc.flow import heat_loss, wall_rings
from ventcalc.units import Q_
from ventcalc.vent.layout import Section

HEAVY = Q_(1.0, "hour")  # a wall that lags the weather by more stays cold into the morning, and wet under a burner


def lag(section: Section) -> float:
    """Time [s] in which a wall follows the weather: heat that its rings hold over what its outside film gives."""
    rings = wall_rings.rings(float(section.diameter.m_as("m")), section.material.layers)
    return float(rings.capacity.sum() / (np.pi * rings.outer_diameter * heat_loss.OUTDOOR_FILM))


def heavy(section: Section) -> bool:
    """Whether a wall lags the weather, and its burner, by `HEAVY` or more: masonry."""
    return lag(section) >= HEAVY.m_as("s")
