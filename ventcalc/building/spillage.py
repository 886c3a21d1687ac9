"""Spillage: flue gas that comes into the room instead of going up the vent, and the carbon monoxide that it carries.

Its heat is left out, which in truth would lift it to the ceiling first.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.building.co_conversions import as_measured
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.combustion import Products
from ventcalc.units import GAS_CONSTANT, Q_, Quantity, quantities
from ventcalc.vent import reversal, worst_state
from ventcalc.vent.firing_states import Scan


@quantities(
    "kg/s",
    heat_input="W",
    share="",
    at_least={"heat_input": 0.0, "share": 0.0},
    at_most={"share": 1.0},
    source=combustion.products.source,
)
def spilled_share(heat_input, share, products: Products):
    """Flue gas that a share of an appliance's output is, kg/s: ``share x heat input x flue gas per heat``.

    heat_input: W on the higher heating value; share: of the flue gas, 0 to 1; products: of `combustion.products`.
    """
    return share * heat_input * products.mass_per_heat


@quantities("", vapor="", air_vapor="", source="mixing of two streams, by moles")
def burnt_share(vapor, air_vapor, products: Products):
    """Mole share of flue gas in a stream of flue gas and air: ``(x - xa) / (xf - xa)``, by its water.

    vapor x: mole fraction of water in the stream (as `solution.Solution` has it); air_vapor xa: that of the air;
    products: of `combustion.products`, whose gas holds xf. Kept within 0 and 1. An idle boiler that breathes back
    what a neighbor's purge has thinned takes in less carbon monoxide than one that breathes flue gas.
    """
    wet = products.gas.h2o
    if np.any(wet <= air_vapor):
        raise ValueError(f"air_vapor = {np.max(air_vapor):.4g} is not below the {np.max(wet):.4g} of the flue gas")
    return np.clip((vapor - air_vapor) / (wet - air_vapor), 0.0, 1.0)


@quantities(
    ("m**3/s", "ppm"),
    spill="kg/s",
    co_air_free="ppm",
    temperature="K",
    pressure="Pa",
    burnt="",
    at_least={"spill": 0.0, "co_air_free": 0.0, "burnt": 0.0},
    at_most={"burnt": 1.0},
    above={"pressure": 0.0},
    source=f"ideal gas; {combustion_analysis.co_air_free.source}",
)
def spilled(spill, products: Products, co_air_free, temperature, pressure, burnt=1.0):
    """Volume flow of astray flue gas at the room's temperature, and the ppm of CO in it, wet.

    ``V = m R T / (M p)`` and ``CO = air-free (0.2095 - O2)/0.2095 (1 - H2O) burnt``. spill: m, kg/s; products: of
    `combustion.products`; co_air_free: ppm of the dry, air-free gas; temperature [K] and absolute pressure [Pa] of the
    room; burnt: mole share of flue gas in what is spilled, the rest being air (`burnt_share`); its molar mass is that
    of the flue gas all the same, within 5 %. Numbers or arrays that broadcast.
    """
    volume = spill * GAS_CONSTANT * temperature / (products.gas.molar_mass * pressure)
    return volume, as_measured.bare(co_air_free, products.o2_dry) * (1.0 - products.gas.h2o) * burnt


_AS_MUCH = 0.99  # of the most flue gas: a room feels no less (common practice, no source)


@dataclass(frozen=True)
class Spill:
    """The worst that an appliance lets into the room in a scan.

    ``flow`` [mass flow] in ``state``, of which the mole share ``burnt`` is flue gas with these ``products``; the rest
    is air from a neighbor's purge.
    """

    appliance: str
    state: int
    flow: Quantity
    burnt: float
    products: Products


def spills(scan: Scan) -> tuple[Spill, ...]:
    """For every appliance through which flue gas enters the room, the state in which most of it does.

    By flow times share, `reversal.flue_gas_in_room`: the largest backflow may be a purge, and nothing but air.
    Carbon dioxide tells the share (water drains on the way), and carbon monoxide goes with it; where several fuels burn
    at once the products are those of the appliance itself if it fires, or else of the largest firing.
    """
    found, (flue_gas, share) = [], reversal.flue_gas_in_room(scan)
    for i, a in enumerate(scan.plant.appliances):
        if not flue_gas[i].max() > reversal.REVERSAL_FLOW:
            continue
        # Of those that let in all but as much, the one with least air in it: in a room that gas is stronger.
        much = flue_gas[i] >= _AS_MUCH * flue_gas[i].max()
        state = worst_state.worst(np.where(much, scan.solution.drawn[i], np.nan))
        products, _ = reversal.burning(scan, i, state)
        flow = Q_(-float(scan.solution.drawn[i, state]), "kg/s")
        found.append(Spill(a.name, state, flow, float(share[i, state]), products))
    return tuple(found)
