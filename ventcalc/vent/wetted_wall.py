"""Wetted wall: water that settles on the walls of a gas column, cell by cell, and dries from them again.

By the laws of `condensing_run`, at one place and one moment: the wall's surface has the temperature Ts at which

    h A (T - Ts) + m'' L(Ts) = (Ts - Tr) / R,    m'' = rho beta ln((1 - w_wall)/(1 - w_bulk))

with ``Tr`` that of the wall's first ring and ``R`` the resistance up to it. Where a film of water lies, the flux may as
well be negative: on a wall that has warmed up the film dries, and holds the wall back by its latent heat. A wall
holds `MOST_FILM`; what settles beyond runs down and drains at once. It could dry lower down on a warmer wall, which
is left out there: the gas is then a little too dry, and so heavier, and what is left lighter by less draft.

Plain SI, one place at a time.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law
from ventcalc.flow import wall_condensation
from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, STEAM, STEAM_HEAT, WATER

# kg/m2 that a wall holds before water runs down: a falling film of 1 g/(s m) is 0.07 mm thick (Nusselt 1916:
# (3 mu Gamma / (rho^2 g))^(1/3)); drops on metal hold about as much (common practice, no source).
MOST_FILM = 0.1
_COLDEST = 200.0  # K
_NEAR_BOILING = 350.0  # K; water that dries keeps its wall about there or below, whatever the gas: none begins above
_STEPS = 5  # of Newton's method, at most
_SHORT = 0.03  # K; what is left after a step so short is about a fortieth of its square


class Inside(NamedTuple):
    """What lies between the bulk and a wall.

    The whole ``film`` and its ``convection`` [W/(m2 K)]; mass transfer ``coefficient`` rho beta [kg/(m2 s)].
    """

    film: float
    convection: float
    coefficient: float


class Settling(NamedTuple):
    """How water settles or dries in one place.

    ``wall`` [K] surface; ``film`` [W/(m2 K)] by which the bulk loses heat to it; ``flux`` [kg/(m2 s)], negative where
    the wall dries; ``liquid`` enthalpy [J/kg] of the water there, on the scale of `streams.sensible`.
    """

    wall: float
    film: float
    flux: float
    liquid: float


_lewis_number, _vapor_diffusivity, _mass_transfer_coefficient = (
    law(wall_condensation.lewis_number.bare),
    law(wall_condensation.vapor_diffusivity.bare),
    law(wall_condensation.mass_transfer_coefficient.bare),
)


@law
def coefficient(gas, temperature, pressure, convection):
    """Mass transfer coefficient rho beta [kg/(m2 s)] of gas at a ``temperature`` [K] with a ``convection``."""
    heat = streams.specific_heat(gas, temperature)
    density = pressure / (gas[GAS_R] * temperature)
    diffusivity = _vapor_diffusivity(temperature, pressure)
    lewis = _lewis_number(streams.conductivity(gas, temperature), density, heat, diffusivity)
    return _mass_transfer_coefficient(convection, heat, lewis)


@law
def settle(gas, temperature, pressure, inside, ring, resistance, wet, near=0.0) -> Settling:
    """What settles on the wall of a place or dries from it.

    What lies ``inside``; ``ring`` [K] and ``resistance`` [m2 K/W]: of the wall's first ring, and up to it; ``wet``
    where a film of water lies: only there may water dry; ``near`` [K]: about where the wall is, 0 where nobody knows.
    """
    film, convection, settles = inside
    dry = ring + (temperature - ring) * film * resistance / (1.0 + film * resistance)
    wall = np.minimum(near if near > 0.0 else dry, _NEAR_BOILING)
    vapor = np.minimum(gas[WATER], streams.water_held(gas, temperature, pressure))
    rest = 1.0 - gas[WATER]
    drift = settles * STEAM_HEAT / convection  # m'' cp of the vapor over h, by the logarithm
    for _ in range(_STEPS):
        held, slope = streams.held_at_wall(gas, wall, pressure)
        log, log_slope = np.log((rest + vapor) / (rest + held)), -slope / (rest + held)
        latent, latent_slope = streams.latent_at_wall(wall)
        x = drift * log
        conducts = film + convection * x * (0.5 + x / 12.0)
        heat = conducts * (temperature - wall) + settles * latent * log
        by_wall = -conducts + settles * (latent * log_slope + latent_slope * log)
        change = (wall - ring - resistance * heat) / (1.0 - resistance * by_wall)
        wall = np.maximum(wall - change, _COLDEST)
        if np.abs(change) < _SHORT:
            break
    held, _ = streams.held_at_wall(gas, wall, pressure)
    log = np.log((rest + vapor) / (rest + held))
    if not wet and log <= 0.0:
        wall, log = dry, 0.0
    x = drift * log
    # Of what Ackermann's factor adds, the bulk gives x less: that much the vapor gives up on its way.
    conducts = film + convection * x * (x / 12.0 - 0.5)
    liquid = streams.sensible(STEAM, wall) - streams.latent_at_wall(wall)[0]
    return Settling(wall, conducts, settles * log, liquid)
