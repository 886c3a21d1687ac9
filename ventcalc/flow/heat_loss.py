"""Heat loss: how flue gas cools along a section, and how warm the wall stays.

From the gas outward: inside film, wall, outside film. All resistances are referred to the inner
surface. The inside film is convection (`nusselt`) and what the gas itself radiates (`gas_radiation`), a tenth of it in
a connector and up to half in a wide stack of slow gas.

All of it at rest; `warm_up` follows a run in time.
"""

import numpy as np

from ventcalc.compiled import law
from ventcalc.flow.friction import LAMINAR_LIMIT, TURBULENT_LIMIT, friction_factor, smooth_friction_factor
from ventcalc.flow.gas_radiation import STEFAN_BOLTZMANN
from ventcalc.units import GRAVITY, quantities

LAMINAR_NUSSELT = 3.66  # long round duct, uniform wall temperature; any heat transfer textbook

# EN 13384-1, 8.11 (from memory): outside film of a flue inside a building, and outdoors in wind.
STILL_ROOM_FILM = 8.0  # W/(m2 K)
OUTDOOR_FILM = 23.0  # W/(m2 K)


@quantities(
    "",
    reynolds="",
    prandtl="",
    relative_roughness="",
    at_least={"reynolds": 0.0, "relative_roughness": 0.0},
    above={"prandtl": 0.0},
    valid={"reynolds": (0.0, 5e6), "prandtl": (0.5, 6.0), "relative_roughness": (0.0, 0.05)},
    source="Gnielinski (1976), Int. Chem. Eng. 16, and (2013), Int. J. Heat Mass Transfer 63; roughness by Norris"
    " (1971, from memory); laminar limit 3.66",
)
def nusselt(reynolds, prandtl, relative_roughness=0.0):
    """Nusselt number inside a round section, smooth or rough.

    Turbulent (Re >= 4000), Gnielinski for the smooth pipe, times what roughness adds (Norris):
    ``Nu = (fs/8)(Re - 1000) Pr / (1 + 12.7 sqrt(fs/8)(Pr^(2/3) - 1)) * (f/fs)^n``, ``n = 0.68 Pr^0.215``, with Darcy's
    f by Colebrook and fs by Konakov; f/fs counts up to 4, beyond which roughness adds friction but no more heat. (With
    the rough f in Gnielinski's equation itself, heat would grow almost as fast as friction.) Laminar (Re <= 2300):
    3.66. Between them linear in Re, from 3.66 to the turbulent value at Re = 4000, as Gnielinski (2013) proposes.
    Entrance effects are left out.

    reynolds Re, prandtl Pr and relative_roughness (roughness over diameter) are plain ratios, scalars or arrays; warns
    outside Re 0 to 5e6, Pr 0.5 to 6 (Norris saw no further rise of n beyond) and roughness 0 to 0.05, raises where Re
    or the roughness is negative or Pr is not positive.
    """
    turbulent = np.maximum(reynolds, TURBULENT_LIMIT)
    rough = friction_factor.bare(turbulent, relative_roughness)
    return nusselt_from_power(reynolds, prandtl, np.cbrt(prandtl) ** 2, rough)


_smooth_friction_factor = law(smooth_friction_factor.bare)
_GREATEST_ROUGHENING = 4.0  # f/fs beyond which heat transfer rises no more (Norris 1971, from memory)


@law
def nusselt_from_power(reynolds, prandtl, prandtl_two_thirds, friction_factor):
    """`nusselt` on plain arrays: Pr^(2/3) is known already, and so is Darcy's f at max(Re, 4000)."""
    return nusselt_from_powers(
        reynolds, prandtl, prandtl_two_thirds, roughening_power(prandtl_two_thirds), friction_factor
    )


@law
def roughening_power(prandtl_two_thirds):
    """Power of f/fs by which roughness raises the Nusselt number, 0.68 Pr^0.215: known once of a gas."""
    return 0.68 * prandtl_two_thirds**0.3225


@law
def nusselt_from_powers(reynolds, prandtl, prandtl_two_thirds, power, friction_factor):
    """As `nusselt_from_power`, for the solver: the `roughening_power` is known too."""
    turbulent = np.maximum(reynolds, TURBULENT_LIMIT)
    smooth = _smooth_friction_factor(turbulent)
    eighth = smooth / 8.0
    gnielinski = eighth * (turbulent - 1000.0) * prandtl / (1.0 + 12.7 * np.sqrt(eighth) * (prandtl_two_thirds - 1.0))
    rougher = np.minimum(np.maximum(friction_factor / smooth, 1.0), _GREATEST_ROUGHENING)
    rough = rougher**power * gnielinski
    share = np.maximum(np.minimum((reynolds - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT), 1.0), 0.0)
    return LAMINAR_NUSSELT + share * (rough - LAMINAR_NUSSELT)


@quantities(
    "W/(m**2*K)",
    surface="K",
    air="K",
    diameter="m",
    wind="m/s",
    emissivity="",
    above={"diameter": 0.0},
    at_least={"wind": 0.0, "emissivity": 0.0},
    at_most={"emissivity": 1.0},
    source="Churchill and Chu (1975) still air; Churchill and Bernstein (1977) wind; grey-body radiation",
)
def outside_film(surface, air, diameter, wind=0.0, emissivity=0.9):
    """Outside film coefficient of a round vent: convection and radiation together.

    Still air, horizontal cylinder (Churchill-Chu):
    ``Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2``; in wind, cross flow
    (Churchill-Bernstein); the greater of the two counts. Radiation:
    ``h_r = eps sigma (Ts^2 + Ta^2)(Ts + Ta)``. surface and air temperature [K], outer diameter [m],
    wind [m/s], emissivity 0 to 1; scalars or arrays. Air is taken at the film temperature and 1 atm: viscosity
    by Sutherland, conductivity from it with Pr = 0.71. Raises for a negative wind or an emissivity outside 0 to 1.
    """
    film = 0.5 * (surface + air)
    viscosity = 1.46e-6 * film**1.5 / (film + 110.4)  # Pa s, Sutherland, US Standard Atmosphere 1976
    density = 101325.0 / (287.05 * film)
    prandtl = 0.71
    conductivity = viscosity * 1007.0 / prandtl
    kinematic = viscosity / density
    rayleigh = GRAVITY / film * np.abs(surface - air) * diameter**3 / kinematic**2 * prandtl
    still = (0.60 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
    re = wind * diameter / kinematic
    forced = 0.3 + 0.62 * np.sqrt(re) * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25 * (
        1 + (re / 282000.0) ** (5 / 8)
    ) ** (4 / 5)
    convection = np.maximum(still, forced) * conductivity / diameter
    radiation = emissivity * STEFAN_BOLTZMANN * (surface**2 + air**2) * (surface + air)
    return convection + radiation


@quantities(
    "m**2*K/W",
    inner_diameter="m",
    thickness="m",
    conductivity="W/(m*K)",
    above={"inner_diameter": 0.0, "conductivity": 0.0},
    at_least={"thickness": 0.0},
    source="Fourier's law, cylinder",
)
def layer_resistance(inner_diameter, thickness, conductivity):
    """Resistance of one cylindrical layer, ``D ln(Do/D) / (2 k)``, on its inner surface.

    inner_diameter D and thickness (Do - D)/2 [m], conductivity k [W/(m K)]; scalars or arrays. Raises for a
    diameter or conductivity that is not positive and for a negative thickness.
    """
    return inner_diameter * np.log1p(2.0 * thickness / inner_diameter) / (2.0 * conductivity)


@quantities(
    "W/(m**2*K)",
    inside_film="W/(m**2*K)",
    wall_resistance="m**2*K/W",
    outside_film="W/(m**2*K)",
    diameter_ratio="",
    above={"inside_film": 0.0, "outside_film": 0.0, "diameter_ratio": 0.0},
    at_least={"wall_resistance": 0.0},
    source="Resistances in series",
)
def heat_transfer_coefficient(inside_film, wall_resistance, outside_film, diameter_ratio=1.0):
    """Overall coefficient on the inner surface, ``1/U = 1/hi + Rw + D/(Do ho)``.

    inside_film hi and outside_film ho [W/(m2 K)], wall_resistance Rw [m2 K/W, inner surface],
    diameter_ratio Do/D [-]; scalars or arrays. Raises for a film or ratio that is not positive.
    """
    return 1.0 / (1.0 / inside_film + wall_resistance + 1.0 / (diameter_ratio * outside_film))


@quantities(
    "",
    coefficient="W/(m**2*K)",
    diameter="m",
    length="m",
    mass_flow="kg/s",
    specific_heat="J/(kg*K)",
    above={"mass_flow": 0.0, "specific_heat": 0.0, "diameter": 0.0},
    at_least={"coefficient": 0.0, "length": 0.0},
    source="EN 13384-1 cooling number (from memory); energy balance of a run",
)
def cooling_number(coefficient, diameter, length, mass_flow, specific_heat):
    """Cooling number ``N = U pi D L / (m cp)``.

    coefficient U [W/(m2 K)], diameter and length [m], mass_flow [kg/s], specific_heat [J/(kg K)]. Where water
    condenses from the gas, give the specific heat with the latent heat in it.
    """
    return coefficient * np.pi * diameter * length / (mass_flow * specific_heat)


@quantities(
    "K",
    inlet="K",
    surroundings="K",
    cooling="",
    at_least={"cooling": 0.0},
    source="EN 13384-1 (from memory); integral of the energy balance of a run",
)
def outlet_temperature(inlet, surroundings, cooling):
    """Gas temperature at the end of a run, ``Ta + (Tin - Ta) exp(-N)``.

    inlet Tin and surroundings Ta [K], cooling number N of the run [-], at least 0; scalars or arrays. Raises
    for a negative cooling number.
    """
    return surroundings + (inlet - surroundings) * np.exp(-cooling)


@quantities(
    "K",
    inlet="K",
    surroundings="K",
    cooling="",
    at_least={"cooling": 0.0},
    source="EN 13384-1 (from memory); mean of the exponential profile",
)
def mean_temperature(inlet, surroundings, cooling):
    """Mean gas temperature of a run, ``Ta + (Tin - Ta) (1 - exp(-N)) / N``.

    inlet Tin and surroundings Ta [K], cooling number N of the run [-], at least 0; scalars or arrays. The mean
    along the length; draft wants the mean of 1/T instead (`stack_effect.mean_gas_density`). Raises for a
    negative cooling number.
    """
    number = np.maximum(cooling, 1e-12)  # at N = 0 the quotient is 1; expm1 keeps its digits
    return surroundings + (inlet - surroundings) * -np.expm1(-number) / number


@quantities(
    "K",
    gas="K",
    surroundings="K",
    coefficient="W/(m**2*K)",
    inside_film="W/(m**2*K)",
    at_least={"coefficient": 0.0},
    above={"inside_film": 0.0},
    source="Resistances in series",
)
def wall_temperature(gas, surroundings, coefficient, inside_film):
    """Inner wall temperature, ``Tg - (U/hi)(Tg - Ta)``.

    gas Tg and surroundings Ta [K], coefficient U of the whole wall and inside_film hi [W/(m2 K)], both on the
    inner surface; scalars or arrays. Raises for a negative coefficient or a film that is not positive.
    """
    return gas - coefficient / inside_film * (gas - surroundings)
