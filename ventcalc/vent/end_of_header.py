"""End of the header: the pressure there against the room, where a draft control reads it."""

import numpy as np

from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States


def far_end(plant: Plant) -> str:
    """The section at whose upstream end the header begins: of the sections that carry several appliances or
    take one in at a capped run, the farthest from the termination; for a single appliance its first section."""
    return plant.far_end


def header_pressure(scan: Scan) -> np.ndarray:
    """`far_end_pressure` of every state of a scan; NaN while nothing runs."""
    pressure = far_end_pressure(scan.solution, compile_network(scan.plant, scan.seasons))
    return np.where(scan.any_running, pressure, np.nan)


def far_end_pressure(solution: Solution, network: Network) -> np.ndarray:
    """Static pressure [Pa] at the end of the header against the room there, per state.

    It is that of the stream behind the first junction; a sensor in an end cap before it reads
    `junctions.end_cap_excess` velocity heads more, which is little in a header at full size.
    """
    row = solution.row(far_end(solution.plant))
    return solution.pressure_up[row] - solution.head_up[row] - far_end_room(network, solution.states)


def far_end_room(network: Network, states: States) -> np.ndarray:
    """Pressure [Pa] against outdoors of the room in which the end of the header is read, at its height, per state.

    Where it runs through a room in which an appliance stands, that room; else, as where it is outdoors or in a shaft,
    the boiler room, where its sensor is read.
    """
    plant, name = network.plant, far_end(network.plant)
    pipe = network.pipes[plant.row(name)]
    place = pipe.around if not pipe.outdoors and pipe.around in network.rooms else 0
    return network.room_at(plant.heights[name][0], states, place)
