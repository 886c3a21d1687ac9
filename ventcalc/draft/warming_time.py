"""Warming time: the time constant with which the walls of a vent warm through after light-off."""

from math import exp

import numpy as np

from ventcalc.draft.firing_schedule import state_code
from ventcalc.flow import friction, heat_loss, warm_up
from ventcalc.gas.flue_gas import Gas, specific_heat, transport
from ventcalc.gas.flue_gas import prandtl as prandtl_number
from ventcalc.units import Q_, Quantity
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States


def warming_time(plant: Plant, seasons: tuple[Season, ...], states: tuple[str, ...], season: int = 0) -> Quantity:
    """Time constant with which the walls warm through [s]: `warm_up.warm_up` of the section that rises most.

    It is the time in which the gas at the section's end goes 63 % of its way from light-off to rest, with the
    appliances in ``states`` of a season. One such number for a whole vent is an approximation; latent heat, which is
    left out, makes a condensing stack warm faster. Films are those of dry air at the gas's temperature.
    """
    network = compile_network(plant, tuple(seasons))
    codes = np.array([[state_code(a, s)] for a, s in zip(plant.appliances, states, strict=True)])
    solution = solve_network(network, States(codes, np.array([season]), np.zeros(1), np.zeros(1)))
    row = max(range(len(plant.order)), key=lambda i: network.pipes[i].rise)
    pipe, flow = network.pipes[row], float(solution.flow[row, 0])
    if not flow > 0.0:
        raise ValueError(f"warming_time: no gas rises in {plant.order[row].name} with {', '.join(states)}")
    inlet, air = float(solution.upstream[row, 0]), Gas.dry_air()
    viscosity, conductivity = transport.bare(air, inlet)
    reynolds = friction.reynolds.bare(flow, pipe.diameter, viscosity)
    nusselt = heat_loss.nusselt.bare(reynolds, prandtl_number.bare(air, inlet), pipe.relative_roughness)
    film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
    around = float((network.outdoor if pipe.outdoors else network.place_temperature[pipe.around])[season])
    layers = plant.order[row].material.layers
    duration = 60.0
    while True:
        found = warm_up.warm_up.bare(
            duration, inlet, around, around, flow, float(specific_heat.bare(air, inlet)),
            float(nusselt * conductivity / pipe.diameter), film, pipe.diameter, pipe.length, layers,
        )  # fmt: skip
        gas = found.gas[:, -1]
        # At rest when the last tenth of the time changed next to nothing.
        if gas[-1] - gas[-len(gas) // 10] < 1e-3 * (gas[-1] - gas[0]):
            break
        duration *= 2.0
    share = (gas - gas[0]) / (gas[-1] - gas[0])
    return Q_(float(np.interp(1.0 - exp(-1.0), share, found.time)), "s")
