"""Section extremes: velocity, temperature, water and pressure that every section of a vent meets over all states.

What its material is chosen by (`materials.Service`). `outlet_envelope` does the same for the appliances' outlets.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.gas import atmosphere
from ventcalc.vent import pieces
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import OUTDOORS
from ventcalc.vent.network import compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import Solution
from ventcalc.vent.worst_state import SAME_PRESSURE, SAME_TEMPERATURE, worst


@dataclass(frozen=True)
class Extremes:
    """What one section meets over all states in which gas flows in it; plain SI, with the causing states.

    ``velocity`` lowest and highest [m/s], ``gas`` coldest and hottest [K], ``nearest_wall`` [K], that nearest its
    ``dew_point``, and that, ``condensate`` [kg/s] that leaves the gas on the wall and ``ice`` [kg/s] of it that
    freezes there, each at its greatest with the stack hot, ``condensing`` share of the conditions with a hot stack in
    which the wall is wet (`Solution.wet`), in some root of each, ``pressure`` lowest and highest static against its
    surroundings [Pa] (where a section ends in a cap, at the lower end of that `pieces.one_piece`: right under a cap the
    cap's own loss always stands as positive pressure).
    """

    section: str
    velocity: tuple[float, float]
    gas: tuple[float, float]
    nearest_wall: float
    wall_state: int
    dew_point: float
    condensate: float
    condensate_state: int
    ice: float
    condensing: float
    pressure: tuple[float, float]
    pressure_state: int


def extremes(scan: Scan) -> tuple[Extremes, ...]:
    """What every section meets, in the order of ``plant.order``."""
    return tuple(_extremes(scan, row) for row in range(len(scan.plant.order)))


def dew_points(solution: Solution, row: int) -> np.ndarray:
    """Dew point [K] of the stream in one section, all its water counted, per state."""
    vapor = np.maximum(solution.vapor[row] * solution.barometric, 1.0)
    return atmosphere.saturation_temperature.bare(vapor)


def static_against_surroundings(scan: Scan, row: int) -> tuple[np.ndarray, np.ndarray]:
    """Static pressure [Pa] at the upstream and downstream end of a section against the air around it.

    The downstream end is looked at before a fan or damper that stands there.
    """
    solution, section = scan.solution, scan.plant.order[row]
    around = [np.zeros(len(scan.states))] * 2
    if section.place != OUTDOORS:
        network = compile_network(scan.plant, scan.seasons)
        place = network.pipes[row].around
        around = [network.room_at(z, scan.states, place) for z in scan.plant.heights[section.name]]
    return (
        solution.pressure_up[row] - solution.head_up[row] - around[0],
        solution.pressure_down[row] - solution.added[row] - solution.head_down[row] - around[1],
    )


def static_below_cap(scan: Scan, row: int) -> tuple[np.ndarray, np.ndarray]:
    """As `static_against_surroundings`; of a piece that ends in a cap, in however many sections, at its lower end.

    A damper that stands within the piece parts it: what lies behind it is looked at from there.
    """
    plant = scan.plant
    rows = [plant.row(s.name) for s in pieces.one_piece(plant, plant.order[row].name)]
    behind = max((k + 1 for k, r in enumerate(rows[:-1]) if scan.solution.added[r].any()), default=0)
    if plant.order[rows[-1]].into not in {t.name for t in plant.terminations} or rows.index(row) < behind:
        return static_against_surroundings(scan, row)
    lowest, _ = static_against_surroundings(scan, rows[behind])
    return lowest, lowest


def _extremes(scan: Scan, row: int) -> Extremes:
    solution = scan.solution
    flowing = np.flatnonzero((np.abs(solution.flow[row]) > REVERSAL_FLOW) & scan.any_running)
    if flowing.size == 0:
        flowing = np.arange(len(scan.states))
    velocity = np.abs(solution.velocity[row, flowing])
    ends = np.stack([solution.upstream[row, flowing], solution.downstream[row, flowing]])
    wall, dew = solution.wall[row, flowing], dew_points(solution, row)[flowing]
    hot = ~scan.states.cold[flowing]
    lasting = flowing[hot] if hot.any() else flowing
    water = solution.drained[row, lasting]
    up, down = (p[flowing] for p in static_below_cap(scan, row))
    pressure, lowest = np.maximum(up, down), np.minimum(up, down)
    clearance = np.where(hot, wall - dew, np.inf)
    nearest = worst(-clearance, SAME_TEMPERATURE)
    return Extremes(
        section=scan.plant.order[row].name,
        velocity=(float(velocity.min()), float(velocity.max())),
        gas=(float(ends.min()), float(ends.max())),
        nearest_wall=float(wall[nearest]),
        wall_state=int(flowing[nearest]),
        dew_point=float(dew[nearest]),
        condensate=float(water.max()),
        condensate_state=int(lasting[worst(water)]),
        ice=float(solution.frozen[row, lasting].max()),
        condensing=float(scan.count(flowing[hot & solution.wet[row, flowing]]) / max(scan.count(flowing[hot]), 1)),
        pressure=(float(lowest.min()), float(pressure.max())),
        pressure_state=int(flowing[worst(pressure, SAME_PRESSURE)]),
    )
