"""Friction: what a straight, round, full-flowing section costs.

All losses of the library are written on the velocity head ``rho v^2 / 2`` at the local gas density.
"""

import numpy as np

from ventcalc.compiled import law
from ventcalc.units import quantities

LAMINAR_LIMIT = 2300.0  # below this Reynolds number the flow is laminar
TURBULENT_LIMIT = 4000.0  # above it fully turbulent; between the two the factor is blended


@quantities(
    "",
    mass_flow="kg/s",
    diameter="m",
    viscosity="Pa*s",
    above={"diameter": 0.0, "viscosity": 0.0},
    source="Definition; any fluid mechanics textbook",
)
def reynolds(mass_flow, diameter, viscosity):
    """Reynolds number of a round section, ``Re = 4 |m| / (pi D mu)``.

    mass_flow [kg/s], diameter [m] and viscosity [Pa s] are scalars or arrays that broadcast; the sign
    of the flow does not count. Raises for a diameter or viscosity that is not positive.
    """
    return 4.0 * np.abs(mass_flow) / (np.pi * diameter * viscosity)


@quantities(
    "",
    reynolds="",
    relative_roughness="",
    at_least={"reynolds": 0.0, "relative_roughness": 0.0},
    valid={"relative_roughness": (0.0, 0.05)},
    source="Colebrook (1939), J. Inst. Civ. Eng. 11; start value Haaland (1983), J. Fluids Eng. 105; laminar 64/Re",
)
def friction_factor(reynolds, relative_roughness):
    """Darcy friction factor: laminar, turbulent (Colebrook) and a smooth passage between.

    Laminar (Re <= 2300): ``f = 64 / Re``. Turbulent (Re >= 4000): Colebrook,
    ``1/sqrt(f) = -2 log10(eps/3.7 + 2.51/(Re sqrt(f)))``, solved by one Halley step from Haaland's
    explicit form, within 1e-6 of the exact root for Re 4e3 to 1e8 and eps 0 to 0.05. Between them a
    smooth blend: no correlation holds there, and the solver needs a continuous slope.

    reynolds and relative_roughness (eps = roughness / diameter) are ratios, scalars or arrays. Warns
    outside eps 0 to 0.05; raises where either is negative.
    """
    return factor_from_power(reynolds, relative_roughness, haaland_power(relative_roughness))


@law
def haaland_power(relative_roughness):
    """What Haaland's form takes of the roughness: known once of a pipe."""
    return (relative_roughness / 3.7) ** 1.11


@law
def factor_from_power(reynolds, relative_roughness, power):
    """`friction_factor` on plain arrays, for the solver: the `haaland_power` of the roughness is known already."""
    re = np.maximum(reynolds, 1.0)  # keeps 64/Re finite where nothing flows; the loss there is nil
    turbulent = _colebrook(np.maximum(re, LAMINAR_LIMIT), relative_roughness, power)
    share = np.maximum(np.minimum((re - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT), 1.0), 0.0)
    share = share * share * (3.0 - 2.0 * share)
    return turbulent * share + (64.0 / re) * (1.0 - share)


@quantities(
    "",
    reynolds="",
    above={"reynolds": 0.0},
    valid={"reynolds": (4e3, 5e6)},
    source="Konakov (1946), as used by Gnielinski (2013), Int. J. Heat Mass Transfer 63 (from memory)",
)
def smooth_friction_factor(reynolds):
    """Darcy friction factor of a smooth pipe in turbulent flow: ``f = (1.8 log10(Re) - 1.5)^-2``.

    reynolds Re is a ratio, scalar or array. Within 1.2 % of Colebrook at no roughness from 4e3 to 5e6; warns outside
    that range, raises where it is not positive.
    """
    root = 1.8 * np.log10(reynolds) - 1.5
    return 1.0 / (root * root)


@law
def _colebrook(re, roughness, power):
    """Colebrook's factor for turbulent flow: Haaland's start, then one Halley step in 1/sqrt(f)."""
    log_scale = 2.0 / np.log(10.0)
    rough_term = roughness / 3.7
    x = -0.9 * log_scale * np.log(power + 6.9 / re)
    slope = 2.51 / re
    argument = rough_term + slope * x
    residual = x + log_scale * np.log(argument)
    ratio = slope / argument
    gradient = 1.0 + log_scale * ratio
    x = x - residual / (gradient + 0.5 * residual * log_scale * ratio * ratio / gradient)
    return 1.0 / (x * x)


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    above={"density": 0.0},
    source="Bernoulli; any fluid mechanics textbook",
)
def velocity_head(density, velocity):
    """Velocity head ``rho v^2 / 2`` of density [kg/m3] at velocity [m/s], scalars or arrays.

    Raises for a density that is not positive.
    """
    return 0.5 * density * velocity * velocity


@quantities(
    "m/s",
    mass_flow="kg/s",
    density="kg/m**3",
    diameter="m",
    above={"density": 0.0, "diameter": 0.0},
    source="Continuity",
)
def velocity(mass_flow, density, diameter):
    """Mean velocity ``v = 4 m / (rho pi D^2)``, with the sign of the flow.

    mass_flow [kg/s], density [kg/m3], diameter [m]; scalars or arrays. Raises for a density or diameter that is
    not positive.
    """
    return 4.0 * mass_flow / (density * np.pi * diameter * diameter)


@quantities(
    "Pa",
    mass_flow="kg/s",
    density="kg/m**3",
    diameter="m",
    length="m",
    roughness="m",
    viscosity="Pa*s",
    loss_coefficient="",
    above={"density": 0.0, "diameter": 0.0, "viscosity": 0.0},
    at_least={"length": 0.0, "roughness": 0.0},
    source="Darcy-Weisbach with Colebrook's factor",
)
def pressure_loss(mass_flow, density, diameter, length, roughness, viscosity, loss_coefficient=0.0):
    """Loss of total pressure along one section: ``(f L / D + K) rho v |v| / 2``.

    mass_flow [kg/s], density [kg/m3] at the mean gas temperature, diameter, length and roughness [m],
    viscosity [Pa s], loss_coefficient K of the fittings on this section's own velocity head; scalars or
    arrays. Negative where the flow is backward. Raises for impossible dimensions.
    """
    re = reynolds.bare(mass_flow, diameter, viscosity)
    factor = friction_factor.bare(re, roughness / diameter)
    v = velocity.bare(mass_flow, density, diameter)
    return (factor * length / diameter + loss_coefficient) * 0.5 * density * v * np.abs(v)
