"""Acid wetting: walls on which sulfuric acid settles from the flue gas of a fuel that holds sulfur, in a scan."""

from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.gas import combustion, condensation
from ventcalc.gas.appliance import Appliance
from ventcalc.units import Q_
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.worst_state import SAME_TEMPERATURE, worst


@dataclass(frozen=True)
class AcidWetting:
    """A ``section`` whose coldest ``wall`` [K], hot stack and burner lit, is below the ``dew_point`` [K] of the acid of
    an ``appliance``, in the scan's column ``state``."""

    section: str
    appliance: str
    wall: float
    dew_point: float
    state: int


def acid_wettings(scan: Scan) -> tuple[AcidWetting, ...]:
    """The sections on which acid settles while a burner of a fuel with sulfur is lit, the coldest wall of each.

    The dew point is that of the appliance's own gas, undiluted: air and other gas that join it lower it, by some 14 K
    where they are as much again, so that this is on the safe side.
    """
    plant, solution = scan.plant, scan.solution
    points = {a.name: acid_dew_point(a, solution.barometric) for a in plant.appliances if a.fuel.sulfur > 0.0}
    lit = {a.name: scan.firing(i) & ~scan.states.cold.astype(bool) for i, a in enumerate(plant.appliances)}
    found = []
    for row, section in enumerate(plant.order if points else ()):
        met = []
        for name in (a.name for a in plant.serves(section.name) if a.name in points):
            states = np.flatnonzero(lit[name] & (solution.flow[row] > REVERSAL_FLOW))
            if states.size:
                k = int(states[worst(-solution.wall[row, states], SAME_TEMPERATURE)])
                met.append(AcidWetting(section.name, name, float(solution.wall[row, k]), points[name], k))
        below = [m for m in met if m.wall < m.dew_point]
        found += sorted(below, key=lambda m: m.wall - m.dew_point)[:1]
    return tuple(found)


@door(plain={"pressure": "Pa"}, above={"pressure": 0.0})
def acid_dew_point(appliance: Appliance, pressure: float) -> float:
    """Highest acid dew point [K] of an appliance's own flue gas over its levels, at an absolute pressure [Pa]."""
    air = Q_(pressure, "Pa")
    burnt = [combustion.products(appliance.fuel, level.excess_air) for level in appliance.levels]
    found = [condensation.acid_dew_point(*condensation.acid_partial_pressures(b, air)) for b in burnt]
    return max(float(t.m_as("K")) for t in found)
