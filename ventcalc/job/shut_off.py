"""Shut off: idle appliances that only a flap keeps from a vent under pressure, and what comes if one sticks open.

An appliance that is told to be sealed while idle lets nothing back. Under draft a flap that does not close costs a
little room air; under pressure it lets flue gas into the room, and nothing sees it but an alarm.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.gas.appliance import assumed_leak
from ventcalc.vent import reversal
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.vent.worst_state import worst


@dataclass(frozen=True)
class ShutOff:
    """The ``appliances`` that stand idle, sealed, on a vent that presses on them; ``pressure`` [Pa] the highest.

    If the flap of the ``worst`` of them stays open in that ``state``, ``flow`` [kg/s] comes back through it
    (`assumed_leak`, without a flap), of which ``flue_gas`` is flue gas.
    """

    appliances: tuple[str, ...]
    pressure: float
    worst: str
    state: int
    flow: float
    flue_gas: float


def shut_off(scan: Scan) -> ShutOff | None:
    """What sealed idle appliances stand against over a scan; None where no vent under pressure reaches one."""
    plant, solution = scan.plant, scan.solution
    sealed = np.array([a.kind == "forced" and a.idle == "sealed" for a in plant.appliances])
    pressed = sealed[:, None] & (scan.states.codes == 0) & scan.any_firing
    pressure = np.where(pressed, solution.outlet_pressure, -np.inf)
    highest = pressure.max(axis=1)
    names = tuple(a.name for a, high in zip(plant.appliances, highest, strict=True) if high > READABLE)
    if not names:
        return None
    i = int(highest.argmax())
    state = worst(pressure[i])
    a = plant.appliances[i]
    stuck = replace(a, idle="leaking", leak=assumed_leak(a.fuel, a.levels))
    plant = replace(plant, appliances=(*plant.appliances[:i], stuck, *plant.appliances[i + 1 :]))
    at = slice(state, state + 1)
    found = solve_network(compile_network(plant, scan.seasons), scan.states[at], solution.added[:, at])
    one = Scan(plant, scan.seasons, found, 1, complete=False)
    flue_gas, _ = reversal.flue_gas_in_room(one)
    return ShutOff(names, float(highest[i]), a.name, state, float(max(-found.drawn[i, 0], 0.0)), float(flue_gas[i, 0]))
