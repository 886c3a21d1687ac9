"""Wall condensation: how fast vapor reaches a wall below the dew point, and how warm the wall becomes by it.

Vapor diffuses to the wall through the film that also passes the heat: by the analogy of heat and mass transfer the
two coefficients differ only by a power of the Lewis number. The latent heat warms the wall until as much passes to
the outside as it receives (Colburn and Hougen, Ind. Eng. Chem. 26 (1934) 1178). The water on the wall resists little
and is left out. Below 0 degC it settles as ice, with saturation and latent heat over ice.

`condensing_run` works whole sections through by these laws; `wall_temperature` here is the same balance at one place,
by bisection on the properties of a `flue_gas.Gas`.
"""

import numpy as np

from ventcalc.gas import flue_gas
from ventcalc.gas.atmosphere import MOLAR_MASS, SATURATION_RANGE, saturation_pressure
from ventcalc.gas.condensation import latent_heat
from ventcalc.gas.flue_gas import Gas
from ventcalc.units import quantities

_ANALOGY = "Chilton and Colburn, Ind. Eng. Chem. 26 (1934) 1183 (any heat transfer textbook)"
_STEFAN = "Stefan's law; " + _ANALOGY
_STANDARD_ATMOSPHERE = 101325.0  # Pa
_HALVINGS = 50  # of the interval in which the wall's temperature lies: to rounding


@quantities(
    "m**2/s",
    temperature="K",
    pressure="Pa",
    above={"pressure": 0.0},
    valid={"temperature": (250.0, 450.0)},
    source="Marrero and Mason, J. Phys. Chem. Ref. Data 1 (1972) 3, as used in public code",
)
def vapor_diffusivity(temperature, pressure):
    """Diffusivity of water vapor in air, ``1.87e-10 T^2.072 / p`` with p in atm.

    temperature T [K] of the film, pressure p [Pa absolute]; scalars or arrays. Made for 282 to 450 K, used here down
    to 250 K. In flue gas with 10 % of carbon dioxide it is 3 to 5 % lower (Blanc's law), so that the mass transfer
    comes out 2 to 3 % too high: on the wet side. Warns outside the range, raises for a pressure not above zero.
    """
    return 1.87e-10 * temperature**2.072 * _STANDARD_ATMOSPHERE / pressure


@quantities(
    "",
    conductivity="W/(m*K)",
    density="kg/m**3",
    specific_heat="J/(kg*K)",
    diffusivity="m**2/s",
    above={"conductivity": 0.0, "density": 0.0, "specific_heat": 0.0, "diffusivity": 0.0},
    source="definition",
)
def lewis_number(conductivity, density, specific_heat, diffusivity):
    """Lewis number ``Le = k / (rho cp D)``: how fast heat spreads, over how fast vapor does.

    conductivity k [W/(m K)], density rho [kg/m3], specific_heat cp [J/(kg K)], diffusivity D [m2/s]; scalars or
    arrays. 0.7 to 0.8 for water vapor in flue gas. Raises for values that are not positive.
    """
    return conductivity / (density * specific_heat * diffusivity)


@quantities(
    "kg/(m**2*s)",
    film="W/(m**2*K)",
    specific_heat="J/(kg*K)",
    lewis="",
    above={"film": 0.0, "specific_heat": 0.0, "lewis": 0.0},
    source=_ANALOGY,
)
def mass_transfer_coefficient(film, specific_heat, lewis):
    """Mass transfer coefficient times density, ``rho beta = h / cp Le^(-2/3)``.

    film h [W/(m2 K)], its convective part alone; specific_heat cp [J/(kg K)] of the gas; lewis: Lewis number [-];
    scalars or arrays. Made for turbulent flow; in laminar flow the power would be -1, 10 % more. Raises for values
    that are not positive.
    """
    return film / specific_heat / np.cbrt(lewis) ** 2


@quantities(
    "kg/(m**2*s)",
    coefficient="kg/(m**2*s)",
    bulk="",
    wall="",
    above={"coefficient": 0.0},
    at_least={"bulk": 0.0, "wall": 0.0},
    source=_STEFAN,
)
def settling_flux(coefficient, bulk, wall):
    """Vapor that settles on a wall, ``m'' = rho beta ln((1 - w_wall)/(1 - w_bulk))``; negative where it dries.

    coefficient: rho beta [kg/(m2 s)] of `mass_transfer_coefficient`; bulk and wall: mass fractions of vapor [-] in
    the stream and, saturated, at the wall, below 1; scalars or arrays. The logarithm is Stefan's: the gas that stays
    drifts with the vapor. Raises for a coefficient that is not positive and for negative fractions.
    """
    return coefficient * np.log((1.0 - wall) / (1.0 - bulk))


@quantities(
    "",
    flux="kg/(m**2*s)",
    film="W/(m**2*K)",
    vapor_heat="J/(kg*K)",
    above={"film": 0.0, "vapor_heat": 0.0},
    source="Ackermann (1937), VDI-Forschungsheft 382 (from memory); any text on mass transfer",
)
def ackermann_factor(flux, film, vapor_heat):
    """How much more heat the film gives to a wall because vapor moves to it: ``x / (1 - exp(-x))``.

    ``x = m'' cp / h``: flux m'' [kg/(m2 s)], vapor_heat cp [J/(kg K)] of the vapor, film h [W/(m2 K)]; scalars or
    arrays. The bulk loses ``exp(-x)`` times that by conduction; the rest is what the vapor gives up on its way. Raises
    for a film or a specific heat that is not positive.
    """
    x = np.asarray(flux * vapor_heat / film)
    small = np.abs(x) < 1e-6
    safe = np.where(small, 1.0, x)
    return np.where(small, 1.0 + 0.5 * x, -safe / np.expm1(-safe))[()]


def _fraction(moles, dry):
    """Mass fraction of vapor from its mole fraction, in gas whose dry part has the molar mass ``dry``."""
    return moles * MOLAR_MASS["h2o"] / (moles * MOLAR_MASS["h2o"] + (1.0 - moles) * dry)


@quantities(
    "kg/(m**2*s)",
    temperature="K",
    wall="K",
    pressure="Pa",
    film="W/(m**2*K)",
    above={"pressure": 0.0, "film": 0.0},
    at_least=dict.fromkeys(("temperature", "wall"), flue_gas.TEMPERATURE_RANGE[0]),
    at_most=dict.fromkeys(("temperature", "wall"), flue_gas.TEMPERATURE_RANGE[1]),
    source=_STEFAN,
)
def condensation_flux(gas: Gas, temperature, wall, pressure, film):
    """Water that settles on a wall of one temperature from a gas of another; negative where a wet wall would dry.

    `settling_flux` by the analogy, with properties of the gas half way between the two. gas: `Gas`; its temperature
    and that of the wall [K]; pressure [Pa absolute]; film [W/(m2 K)]: the convective part of the inside film; scalars
    or arrays. A wall at or above boiling counts as 1 K below. Raises for a pressure or film that is not positive and
    outside 200 to 1600 K.
    """
    middle = 0.5 * (temperature + wall)
    heat = flue_gas.specific_heat.bare(gas, middle)
    density = flue_gas.density.bare(gas, middle, pressure)
    conductivity = flue_gas.transport.bare(gas, middle)[1]
    lewis = lewis_number.bare(conductivity, density, heat, vapor_diffusivity.bare(middle, pressure))
    coefficient = mass_transfer_coefficient.bare(film, heat, lewis)
    share = np.minimum(saturation_pressure.bare(np.clip(wall, *SATURATION_RANGE)) / pressure, 0.96)
    dry = (gas.molar_mass - gas.h2o * MOLAR_MASS["h2o"]) / (1.0 - gas.h2o)
    return settling_flux.bare(coefficient, _fraction(gas.h2o, dry), _fraction(share, dry))


@quantities(
    "K",
    temperature="K",
    surroundings="K",
    pressure="Pa",
    film="W/(m**2*K)",
    outside_resistance="m**2*K/W",
    above={"pressure": 0.0, "film": 0.0, "outside_resistance": 0.0},
    at_least=dict.fromkeys(("temperature", "surroundings"), flue_gas.TEMPERATURE_RANGE[0]),
    at_most=dict.fromkeys(("temperature", "surroundings"), flue_gas.TEMPERATURE_RANGE[1]),
    source="Colburn and Hougen, Ind. Eng. Chem. 26 (1934) 1178; " + _STEFAN,
)
def wall_temperature(gas: Gas, temperature, surroundings, pressure, film, outside_resistance, wetted: bool = False):
    """Inner wall temperature where water settles: ``h A (T - Tw) + m'' L(Tw) = (Tw - Ta) / R``, solved for Tw.

    m'' by `condensation_flux`, A by `ackermann_factor`, L the latent heat at the wall. gas: `Gas`; its temperature T
    and that of the surroundings Ta [K]; pressure [Pa absolute]; film h [W/(m2 K)], all of it convective;
    outside_resistance R [m2 K/W] of wall and outside film on the inner surface; scalars or arrays that broadcast. A
    wall above the dew point is dry; one that is ``wetted`` has water to dry and becomes colder by it. Between water and
    ice it may hold 0 degC. Raises for a pressure, film or resistance that is not positive and outside 200 to 1600 K.
    """
    temperature, surroundings, pressure, film, resistance = np.broadcast_arrays(
        temperature, surroundings, pressure, film, outside_resistance
    )
    low = np.minimum(temperature, surroundings) - (70.0 if wetted else 0.0)
    low, high = np.maximum(low, 200.0), np.maximum(temperature, surroundings)
    vapor = flue_gas.Gas(co2=0.0, h2o=1.0, n2=0.0, o2=0.0)
    for _ in range(_HALVINGS):
        wall = 0.5 * (low + high)
        flux = condensation_flux.bare(gas, temperature, wall, pressure, film)
        flux = flux if wetted else np.maximum(flux, 0.0)
        heat = flue_gas.specific_heat.bare(vapor, 0.5 * (temperature + wall))
        latent = latent_heat.bare(np.clip(wall, *SATURATION_RANGE))
        received = film * ackermann_factor.bare(flux, film, heat) * (temperature - wall) + flux * latent
        warmer = received > (wall - surroundings) / resistance
        low, high = np.where(warmer, wall, low), np.where(warmer, high, wall)
    return 0.5 * (low + high)
