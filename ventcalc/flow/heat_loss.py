"""Heat loss: how flue gas cools along a section, and how warm the wall stays.

From the gas outward: inside film, wall, outside film. All resistances are referred to the inner
surface. The inside film is convection (`nusselt`) and what the gas itself radiates (`gas_radiation`), a tenth of it in
a connector and up to half in a wide stack of slow gas.

`warm_up` follows a run in time: the gas passes in seconds, the wall takes minutes (thin steel) to hours (masonry).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import expm

from ventcalc.compiled import law
from ventcalc.flow.friction import LAMINAR_LIMIT, TURBULENT_LIMIT, friction_factor, smooth_friction_factor
from ventcalc.flow.gas_radiation import STEFAN_BOLTZMANN
from ventcalc.flow.materials import Layer
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
    """`nusselt` on plain arrays, for the solver: Pr^(2/3) is known already, and so is Darcy's f at max(Re, 4000)."""
    turbulent = np.maximum(reynolds, TURBULENT_LIMIT)
    smooth = _smooth_friction_factor(turbulent)
    eighth = smooth / 8.0
    gnielinski = eighth * (turbulent - 1000.0) * prandtl / (1.0 + 12.7 * np.sqrt(eighth) * (prandtl_two_thirds - 1.0))
    power = 0.68 * prandtl_two_thirds**0.3225  # Pr^0.215
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


# --- A run that warms up ----------------------------------------------------------------------------------

THICKEST_RING = 0.015  # m; a layer is divided into rings no thicker, each at one temperature


@dataclass(frozen=True)
class Rings:
    """A round wall cut into rings, per metre of run, plain SI.

    ``capacity`` [J/(m K)] of each ring; ``resistance`` [m K/W] between the inner surface, the middles of the rings
    and the outer surface in turn, one more than there are rings; ``outer_diameter`` [m].
    """

    capacity: np.ndarray
    resistance: np.ndarray
    outer_diameter: float


def rings(inner_diameter: float, layers: Sequence[Layer]) -> Rings:
    """The wall of these layers, from the inside out, around a bore of ``inner_diameter`` [m].

    Between two radii a ring conducts with ``ln(r2/r1)/(2 pi k)`` (Fourier) and holds ``rho c pi (r2^2 - r1^2)``.
    Raises ValueError where there is no layer, or one has a property that is not positive.
    """
    if not layers:
        raise ValueError("a wall needs at least one layer")
    radius, capacity, halves = 0.5 * inner_diameter, [], []
    for layer in layers:
        thickness, conductivity, heat = _plain(layer)
        count = int(np.ceil(thickness / THICKEST_RING))
        for inner in radius + thickness / count * np.arange(count):
            middle, outer = inner + 0.5 * thickness / count, inner + thickness / count
            capacity.append(heat * np.pi * (outer**2 - inner**2))
            halves += [np.log(r2 / r1) / (2.0 * np.pi * conductivity) for r1, r2 in ((inner, middle), (middle, outer))]
        radius += thickness
    between = [a + b for a, b in zip(halves[1:-1:2], halves[2::2], strict=True)]
    return Rings(np.array(capacity), np.array([halves[0], *between, halves[-1]]), 2.0 * radius)


def wall(inner_diameter: float, layers: Sequence[Layer]) -> tuple[float, float]:
    """Resistance of a wall on its inner surface [m2 K/W] and its outer over its inner diameter, from its `rings`."""
    found = rings(inner_diameter, layers)
    return float(found.resistance.sum() * np.pi * inner_diameter), found.outer_diameter / inner_diameter


def _plain(layer: Layer) -> tuple[float, float, float]:
    """Thickness [m], conductivity [W/(m K)] and heat held per volume [J/(m3 K)] of a layer."""
    found = {
        "thickness": float(layer.thickness.m_as("m")),
        "conductivity": float(layer.conductivity.m_as("W/(m*K)")),
        "density": float(layer.density.m_as("kg/m**3")),
        "specific heat": float(layer.specific_heat.m_as("J/(kg*K)")),
    }
    for name, value in found.items():
        if not value > 0.0:
            raise ValueError(f"{name} of the layer {layer.what} = {value:g} must be above 0")
    return found["thickness"], found["conductivity"], found["density"] * found["specific heat"]


@dataclass(frozen=True)
class WarmUp:
    """A run that warms up, plain SI arrays; the first axis is time.

    ``time`` [s]; ``distance`` [m] along the run, of the ends of its slices; ``gas`` [K] there; ``wall`` [K] of
    the inner surface, the mean of each slice; ``stored`` [J] in the wall since the start; ``lost`` [J] to the
    surroundings since the start.
    """

    time: np.ndarray
    distance: np.ndarray
    gas: np.ndarray
    wall: np.ndarray
    stored: np.ndarray
    lost: np.ndarray


@quantities(
    None,
    duration="s",
    inlet="K",
    surroundings="K",
    start="K",
    mass_flow="kg/s",
    specific_heat="J/(kg*K)",
    inside_film="W/(m**2*K)",
    outside_film="W/(m**2*K)",
    diameter="m",
    length="m",
    above={"duration": 0.0, "mass_flow": 0.0, "specific_heat": 0.0, "inside_film": 0.0, "outside_film": 0.0,
           "diameter": 0.0, "length": 0.0},
    source="Energy balance of gas and wall; Fourier's law; matrix exponential of a linear system",
)  # fmt: skip
def warm_up(
    duration,
    inlet,
    surroundings,
    start,
    mass_flow,
    specific_heat,
    inside_film,
    outside_film,
    diameter,
    length,
    layers,
    slices=12,
    steps=120,
):
    """How a run of one wall warms up after gas begins to flow: a `WarmUp` of ``steps`` equal steps of time.

    The run is cut into ``slices``, the wall of each into rings of one temperature (`rings`). The gas, which passes in
    seconds, is at rest in time: in each slice it nears the innermost ring by
    ``Tout = Tw + (Tin - Tw) exp(-N)``, ``N = dx / (R m cp)`` with R the film and half a ring. Every ring obeys
    ``C dT/dt = sum of heat flows``; the whole is linear and is advanced exactly by its matrix exponential, so a step of
    time may be as long as it likes. Heat along the wall is left out, and so is the latent heat of water that
    condenses on a cold wall: a real run of wet gas warms faster while it does.

    duration [s]; inlet, surroundings and start [K], the last that of the whole wall at time 0; mass_flow [kg/s];
    specific_heat [J/(kg K)]; inside_film and outside_film [W/(m2 K)], each on its own surface, constant; diameter
    of the bore and length [m]; all single numbers. layers: of `materials.layers`, from the inside out. The outlet
    settles at `outlet_temperature` but for what the slices cost: with 12 of them and N up to 4, 0.05 % of
    ``Tin - Ta`` where the two films are alike, 0.6 % where the inside film is ten times the outside one; twice the
    slices, a quarter of it. Raises for a wall without layers and for values that are not positive.
    """
    wall = rings(diameter, layers)
    dx = length / slices
    first = 1.0 / (inside_film * np.pi * diameter) + wall.resistance[0]
    last = 1.0 / (outside_film * np.pi * wall.outer_diameter) + wall.resistance[-1]
    conductance = dx / np.array([first, *wall.resistance[1:-1], last])  # W/K, gas to ring to ring to surroundings
    matrix, source, share = _balance(conductance, wall.capacity * dx, mass_flow * specific_heat, slices)

    settled = np.linalg.solve(matrix, -source * (inlet - surroundings))  # above the surroundings, as everything here
    over = expm(matrix * duration / steps)
    state = np.empty((steps + 1, len(settled)))
    state[0] = start - surroundings
    for i in range(steps):
        state[i + 1] = settled + over @ (state[i] - settled)

    time = np.linspace(0.0, duration, steps + 1)
    by_slice = state.reshape(steps + 1, slices, -1)
    gas = np.empty((steps + 1, slices + 1))
    gas[:, 0] = inlet - surroundings
    for j in range(slices):
        gas[:, j + 1] = gas[:, j] + share * (by_slice[:, j, 0] - gas[:, j])
    given = mass_flow * specific_heat * (gas[:, :-1] - gas[:, 1:])  # W, of each slice
    surface = by_slice[:, :, 0] + given * wall.resistance[0] / dx
    # The integral of the state over time, from the balance itself: A y = dy/dt + A settled.
    gathered = np.linalg.solve(matrix, (state - state[0]).T).T + settled * time[:, None]
    return WarmUp(
        time=time,
        distance=np.linspace(0.0, length, slices + 1),
        gas=gas + surroundings,
        wall=surface + surroundings,
        stored=((by_slice - by_slice[0]) * wall.capacity * dx).sum(axis=(1, 2)),
        lost=gathered.reshape(steps + 1, slices, -1)[:, :, -1].sum(axis=1) * conductance[-1],
    )


def _balance(conductance: np.ndarray, capacity: np.ndarray, stream: float, slices: int):
    """Matrix A and source b of ``dy/dt = A y + b (Tin - Ta)``, slice by slice, ring by ring; and 1 - exp(-N).

    ``conductance`` [W/K] and ``capacity`` [J/K] of one slice, ``stream`` m cp [W/K].
    """
    count = len(capacity)
    share = -np.expm1(-conductance[0] / stream)
    # Within a slice: each ring with its neighbours; the innermost with the gas that enters the slice.
    towards = np.concatenate(([stream * share], conductance[1:]))
    block = -np.diag(towards[:-1] + towards[1:])
    block += np.diag(towards[1:-1], 1) + np.diag(towards[1:-1], -1)
    matrix = np.kron(np.eye(slices), block)
    # What the gas brings from slice i to slice j: it took share of ring i's temperature and lost some on its way.
    for j in range(1, slices):
        for i in range(j):
            matrix[j * count, i * count] = stream * share * share * (1.0 - share) ** (j - 1 - i)
    source = np.zeros(slices * count)
    source[::count] = stream * share * (1.0 - share) ** np.arange(slices)
    held = np.tile(capacity, slices)
    return matrix / held[:, None], source / held, share
