"""Hand calculation: one condition worked with a pocket calculator's formulas, beside what the solver found.

Flow and temperature of the gas at both ends of every section are taken from the solver; all else is worked again from
the equations of the library, a line a section, with the mean of both temperatures in place of the solver's integral:

    outlet = sum (f L/D + K) pv + sum of heads gained + junctions + (1 + K) pv of the cap + wind
             - draft - fan - the outlet's own velocity head - the room
"""

from itertools import pairwise
from typing import Any

import numpy as np

from ventcalc.flow import friction
from ventcalc.gas import combustion, combustion_analysis, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.job.study import Study
from ventcalc.show.numbers import number
from ventcalc.units import GRAVITY
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network

# The lines below the sections, in their order.
PARTS = ("losses", "heads", "junctions", "end", "wind", "draft", "fan", "outlet", "room")
_LESS = ("draft", "fan", "outlet", "room")


def hand_calculation(study: Study, system: str) -> dict[str, Any] | None:
    """The worst condition of the vent as drawn in which all gas on the way to the open flows there; None without one.

    ``sections`` line by line, the ``parts`` that are summed, the sum by ``hand``, the ``solver``'s pressure and the
    ``difference``.
    """
    found = _worst_forward(study)
    if found is None:
        return None
    appliance, state = found
    scan = study.scan
    lines = [_line(scan, s.name, state) for s in scan.plant.path(appliance)]
    parts = _parts(scan, appliance, state, lines)
    by_hand = sum(-value if name in _LESS else value for name, value in parts.items())
    i = [a.name for a in scan.plant.appliances].index(appliance)
    solver = float(scan.solution.outlet_pressure[i, state])
    return {
        "appliance": appliance,
        "worst": appliance == min(study.envelopes, key=lambda e: e.margin).appliance,
        "condition": scan.describe(state, system),
        "sections": [_shown(line, system) for line in lines],
        "parts": {name: number(value, "draft", system) for name, value in parts.items()},
        "hand": number(by_hand, "draft", system),
        "solver": number(solver, "draft", system),
        "difference": number(by_hand - solver, "draft", system),
    }


def _worst_forward(study: Study) -> tuple[str, int] | None:
    """Outlet and state: of the outlets with least margin first, the worse end of its range before the other."""
    solution = study.scan.solution
    for e in sorted(study.envelopes, key=lambda e: e.margin):
        rows = [solution.row(s.name) for s in study.scan.plant.path(e.appliance)]
        ends = (e.high_state, e.low_state) if e.above >= e.below else (e.low_state, e.high_state)
        for state in ends:
            if solution.converged[state] and (solution.flow[rows, state] > 0.0).all():
                return e.appliance, int(state)
    return None


def _gas(scan: Scan, row: int, state: int) -> Gas:
    """Gas of a section: its fuel burnt with as much air as its carbon dioxide tells, with the water that it has."""
    solution = scan.solution
    co2, water = float(solution.co2_dry[row, state]), float(solution.vapor[row, state])
    fuel = scan.plant.serves(scan.plant.order[row].name)[0].fuel
    air = float(combustion_analysis.excess_air_from_co2.bare(fuel, co2)) if co2 > 0.001 else None
    oxygen = float(combustion.products(fuel, air).o2_dry) if air is not None else combustion.OXYGEN_IN_AIR
    dry = 1.0 - water
    return Gas(co2=co2 * dry, h2o=water, o2=oxygen * dry, n2=(1.0 - co2 - oxygen) * dry)


def _line(scan: Scan, name: str, state: int) -> dict[str, float | str]:
    """One section, plain SI."""
    solution, network = scan.solution, compile_network(scan.plant, scan.seasons)
    row, section = solution.row(name), scan.plant.section(name)
    pipe, gas = network.pipes[row], _gas(scan, row, state)
    flow, up, down = (float(getattr(solution, k)[row, state]) for k in ("flow", "upstream", "downstream"))
    mean, pressure = 0.5 * (up + down), network.pressure * pipe.thin_air
    density, first, last = (float(flue_gas.density.bare(gas, t, pressure)) for t in (mean, up, down))
    diameter, length = (float(getattr(section, k).m_as("m")) for k in ("diameter", "length"))
    velocity = float(friction.velocity.bare(flow, density, diameter))
    head = float(friction.velocity_head.bare(density, velocity))
    reynolds = friction.reynolds.bare(flow, diameter, flue_gas.viscosity.bare(gas, mean))
    factor = float(friction.friction_factor.bare(reynolds, pipe.relative_roughness))
    outdoor = float(network.outdoor_density[scan.states.season[state]]) * pipe.thin_air
    friction_loss, fixed = factor * length / diameter, float(pipe.fixed_loss)
    return {
        "name": name,
        "flow": flow,
        "temperature": mean,
        "density": density,
        "velocity": velocity,
        "head": head,
        "friction": friction_loss,
        "fixed": fixed,
        "loss": (friction_loss + fixed) * head,
        "rise": float(section.rise.m_as("m")),
        "outdoor": outdoor,
        "draft": GRAVITY * float(section.rise.m_as("m")) * (outdoor - density),
        "head_up": head * density / first,
        "head_down": head * density / last,
    }


def _parts(scan: Scan, appliance: str, state: int, lines: list[dict[str, Any]]) -> dict[str, float]:
    """What is summed [Pa]; junctions, wind, fan and room are the solver's."""
    solution, network, plant = scan.solution, compile_network(scan.plant, scan.seasons), scan.plant
    i = [a.name for a in plant.appliances].index(appliance)
    path = plant.path(appliance)
    rows = [solution.row(s.name) for s in path]
    steps = pairwise(rows)
    joined = sum(float(solution.pressure_down[a, state] - solution.pressure_up[b, state]) for a, b in steps)
    first, last = lines[0], lines[-1]
    end = (1.0 + float(network.pipes[rows[-1]].end_loss)) * last["head_down"]
    leaving = (1.0 + float(network.pipes[rows[-1]].end_loss)) * float(solution.head_down[rows[-1], state])
    return {
        "losses": sum(line["loss"] for line in lines),
        "heads": sum(line["head_down"] - line["head_up"] for line in lines),
        "junctions": joined,
        "end": end,
        "wind": float(solution.pressure_down[rows[-1], state]) - leaving,
        "draft": sum(line["draft"] for line in lines),
        "fan": float(np.sum(solution.added[rows, state])),
        "outlet": first["head_up"] * (path[0].area / float(network.outlet_area[i])) ** 2,
        "room": float(solution.room_gauge[i, state]),
    }


_KINDS = {
    "flow": "mass flow",
    "temperature": "temperature",
    "density": "density",
    "velocity": "velocity",
    "head": "draft",
    "loss": "draft",
    "rise": "height",
    "outdoor": "density",
    "draft": "draft",
}


def _shown(line: dict[str, Any], system: str) -> dict[str, Any]:
    shown = {name: number(line[name], kind, system) for name, kind in _KINDS.items()}
    return {"name": line["name"], **shown, "friction": line["friction"], "fixed": line["fixed"]}
