"""Streams: what a gas carries through a vent, as plain numbers that mix by mass.

A stream is a column of properties (the rows below) beside its temperature. Its water stays with it as vapor or,
where it cannot be vapor, as fog in equilibrium. The solvers work on these arrays; `stream_properties` makes a column
from a `flue_gas.Gas`.
"""

import numpy as np

from ventcalc.compiled import either, law, loop, part
from ventcalc.gas import atmosphere, condensation, flue_gas
from ventcalc.units import GAS_CONSTANT

# Rows of the property array that every stream carries; all mix by mass.
GAS_R, HEAT_0, HEAT_1, HEAT_2, WATER, VISCOSITY, PRANDTL, CO2 = range(8)
ROWS = 8

_FIT_RANGE = np.linspace(230.0, 900.0, 68)  # K, where a stream's properties are fitted
_REFERENCE = 370.0  # K, where a stream's viscosity factor and Prandtl number are taken
# Viscosity of dry air over that range, quadratic in T; a stream's is this times a factor of its own.
AIR_VISCOSITY = tuple(np.polyfit(_FIT_RANGE, flue_gas.viscosity.bare(flue_gas.Gas.dry_air(), _FIT_RANGE), 2).tolist())


VAPOUR_CONSTANT = GAS_CONSTANT / atmosphere.MOLAR_MASS["h2o"]  # J/(kg K)
CO2_CONSTANT = GAS_CONSTANT / atmosphere.MOLAR_MASS["co2"]  # J/(kg K)
LATENT = float(condensation.latent_heat.bare(323.15))  # J/kg at 50 degC; within 2 % from 30 to 70 degC
TRACE = 1e-15  # kg/s; gives streams of no flow a temperature to mix by

# ln of the saturation pressure over liquid water as a cubic in 300 K / T, so that it costs one exponential:
# within 0.01 % of `atmosphere.saturation_pressure` from 0 to 100 degC; below, fog is taken as supercooled.
_FIT_POINTS = np.linspace(273.16, 373.15, 101)
_LN_SATURATION = tuple(
    np.polyfit(300.0 / _FIT_POINTS, np.log(atmosphere.saturation_pressure.bare(_FIT_POINTS)), 3).tolist()
)
COLDEST = 200.0  # K; colder gas holds no vapor worth counting, and the cubic turns upward


# K; a step of Newton's method on fog that is shorter was the last: what is left is about a fortieth of its square.
NEAR = 1e-4


# The same over ice, from 213 K up, where water settles as ice on a wall.
_FROZEN_POINTS = np.linspace(213.15, condensation.TRIPLE_TEMPERATURE, 61)
_LN_FROZEN = tuple(
    np.polyfit(300.0 / _FROZEN_POINTS, np.log(atmosphere.saturation_pressure.bare(_FROZEN_POINTS)), 3).tolist()
)

# Latent heat on a wall: a straight line over water from 0 to 100 degC (within 0.2 %); below 0 degC ice takes the heat
# of fusion as well, spread over the first kelvin so that a wall can be found at which both are in balance.
_LATENT_SLOPE, _LATENT_FROM = np.polyfit(
    _FIT_POINTS - condensation.TRIPLE_TEMPERATURE, condensation.latent_heat.bare(_FIT_POINTS), 1
).tolist()
_FUSION = float(condensation.latent_heat.bare(272.0)) - float(condensation.latent_heat.bare(273.16))  # J/kg
_FREEZING_BAND = 1.0  # K


def stream_properties(gas: flue_gas.Gas) -> np.ndarray:
    """What a stream carries through the solver, all of it mixing by mass: a column, or of a `Gas` of arrays one each.

    Gas constant [J/(kg K)]; specific heat as ``c0 + c1 T + c2 T^2`` fitted from 230 to 900 K; mass fraction
    of water; viscosity over dry air's; Pr^(2/3); mass fraction of carbon dioxide.
    """
    shape = np.shape(gas.h2o)
    along = flue_gas.Gas(*(np.reshape(getattr(gas, species), (-1, 1)) for species in flue_gas.SPECIES))
    heat = np.polyfit(_FIT_RANGE, flue_gas.specific_heat.bare(along, _FIT_RANGE).T, 2)[::-1].reshape(3, *shape)
    viscosity = flue_gas.viscosity.bare(gas, _REFERENCE)
    prandtl = flue_gas.prandtl.bare(gas, _REFERENCE)
    factor = viscosity / np.polyval(AIR_VISCOSITY, _REFERENCE)
    water, co2 = (gas.mass_fractions[s] for s in ("h2o", "co2"))
    return np.array([gas.gas_constant, *heat, water, factor, np.cbrt(prandtl) ** 2, co2], float)


STEAM = stream_properties(flue_gas.Gas(co2=0.0, h2o=1.0, n2=0.0, o2=0.0))  # a stream of vapor alone
STEAM_HEAT = float(STEAM[HEAT_0] + 320.0 * (STEAM[HEAT_1] + 320.0 * STEAM[HEAT_2]))  # J/(kg K) at 47 degC


@part
def without_water(gas, drained, left):
    """What is left of a stream that has given up ``drained`` kg of water per kg, per kg that is left, into ``left``."""
    for row in range(ROWS):
        left[row] = (gas[row] - drained * STEAM[row]) / (1.0 - drained)


@law
def column(gas):
    """One stream's properties as plain numbers, which compiled code keeps at hand; what reads an array reads them."""
    return gas[0], gas[1], gas[2], gas[3], gas[4], gas[5], gas[6], gas[7]


@law
def specific_heat(gas, temperature):
    """Specific heat [J/(kg K)] of a stream at a temperature."""
    return gas[HEAT_0] + temperature * (gas[HEAT_1] + temperature * gas[HEAT_2])


@law
def mean_specific_heat(gas, one, other):
    """Mean specific heat between two temperatures: enthalpy difference over temperature difference."""
    both = one + other
    return gas[HEAT_0] + 0.5 * gas[HEAT_1] * both + gas[HEAT_2] / 3.0 * (both * both - one * other)


@law
def partial_pressures(gas, pressure):
    """Partial pressures [Pa] of a stream's water, all of it as vapor, and of its carbon dioxide."""
    scale = pressure / gas[GAS_R]
    return gas[WATER] * VAPOUR_CONSTANT * scale, gas[CO2] * CO2_CONSTANT * scale


@law
def sensible(gas, temperature):
    """Enthalpy [J/kg] of a stream with all its water as vapor, from 0 K of the fitted specific heat."""
    return temperature * (gas[HEAT_0] + temperature * (0.5 * gas[HEAT_1] + temperature * (gas[HEAT_2] / 3.0)))


@law
def enthalpy(gas, temperature, pressure):
    """Enthalpy [J/kg] of a stream: `sensible` less the latent heat of its fog."""
    return sensible(gas, temperature) - LATENT * fog(gas, temperature, pressure)


@law
def fog(gas, temperature, pressure):
    """Water [kg per kg of stream] that cannot stay vapor."""
    return np.maximum(gas[WATER] - water_held(gas, temperature, pressure), 0.0)


@law
def saturation(temperature, pressure):
    """Saturation pressure [Pa], kept below the boiling point, and 300 K / T."""
    a, b, c, d = _LN_SATURATION
    inverse = 300.0 / temperature
    return np.minimum(np.exp(d + inverse * (c + inverse * (b + inverse * a))), 0.99 * pressure), inverse


@law
def water_held(gas, temperature, pressure):
    """Water that a stream can hold as vapor [kg per kg of stream].

    One pressure serves the whole vent: over 30 m of height the dew point moves by 0.1 K. Where a trial takes all water
    for vapor a gas that is mostly fog may seem colder than any: it is taken at `COLDEST`.
    """
    vapor_pressure, _ = saturation(np.maximum(temperature, COLDEST), pressure)
    return _held_at(gas, vapor_pressure, pressure)


@law
def _held_at(gas, vapor_pressure, pressure):
    """`water_held` at the `saturation` of a temperature, which takes the exponential."""
    return (gas[GAS_R] / VAPOUR_CONSTANT - gas[WATER]) * vapor_pressure / (pressure - vapor_pressure)


@law
def water_held_slope(temperature, pressure, held):
    """Slope [1/K] of `water_held`."""
    vapor_pressure, inverse = saturation(temperature, pressure)
    return _slope_at(vapor_pressure, inverse, temperature, pressure, held)


@law
def _slope_at(vapor_pressure, inverse, temperature, pressure, held):
    """`water_held_slope` at the `saturation` of a temperature."""
    a, b, c, _ = _LN_SATURATION
    log_slope = -inverse / temperature * (c + inverse * (2.0 * b + inverse * 3.0 * a))
    return held * log_slope * pressure / (pressure - vapor_pressure)


@law
def held_at_wall(gas, wall, pressure):
    """Vapor [kg per kg of stream] that is saturated at a wall, over ice below 0 degC, and its slope [1/K]."""
    inverse = 300.0 / wall
    frozen = wall < condensation.TRIPLE_TEMPERATURE
    a, b, c, d = _LN_SATURATION
    e, f, g, h = _LN_FROZEN
    liquid, ice = d + inverse * (c + inverse * (b + inverse * a)), h + inverse * (g + inverse * (f + inverse * e))
    log = either(frozen, ice, liquid)
    liquid_slope, ice_slope = c + inverse * (2.0 * b + inverse * 3.0 * a), g + inverse * (2.0 * f + inverse * 3.0 * e)
    log_slope = either(frozen, ice_slope, liquid_slope)
    vapor_pressure = np.minimum(np.exp(log), 0.99 * pressure)
    rest = pressure - vapor_pressure
    held = (gas[GAS_R] / VAPOUR_CONSTANT - gas[WATER]) * vapor_pressure / rest
    return held, held * log_slope * (-pressure) * inverse / (wall * rest)


@law
def ice_share(wall):
    """Share of what settles on a wall that freezes: all of it 1 K below 0 degC."""
    return np.minimum(np.maximum((condensation.TRIPLE_TEMPERATURE - wall) / _FREEZING_BAND, 0.0), 1.0)


@law
def latent_at_wall(wall):
    """Latent heat [J/kg] of what settles on a wall, and its slope [J/(kg K)]."""
    above = wall - condensation.TRIPLE_TEMPERATURE
    ice = ice_share(wall)  # over ice it hardly changes
    slope = either(above > 0.0, _LATENT_SLOPE, either(ice < 1.0, -_FUSION / _FREEZING_BAND, 0.0))
    return _LATENT_FROM + _LATENT_SLOPE * np.maximum(above, 0.0) + _FUSION * ice, slope


@law
def conductivity(gas, temperature):
    """Conductivity [W/(m K)] of a stream, from its viscosity, specific heat and Prandtl number."""
    return viscosity(gas, temperature) * specific_heat(gas, temperature) / (gas[PRANDTL] * np.sqrt(gas[PRANDTL]))


@law
def viscosity(gas, temperature):
    """Viscosity [Pa s] of a stream."""
    v2, v1, v0 = AIR_VISCOSITY
    return gas[VISCOSITY] * (v0 + temperature * (v1 + temperature * v2))


def mix(legs, pressure):
    """Temperature and gas of two streams (flow, temperature, gas) that mix by enthalpy; fog may form or vanish."""
    (flow, temperature, gas), (other_flow, other_temperature, other_gas) = legs
    streams = np.empty((4, len(flow)))
    streams[0], streams[1], streams[2], streams[3] = flow, temperature, other_flow, other_temperature
    mixed, found = np.empty((ROWS, len(flow))), np.empty(len(flow))
    _mix_all(streams, np.ascontiguousarray(gas), np.ascontiguousarray(other_gas), float(pressure), found, mixed)
    return found, mixed


@loop
def _mix_all(streams, gases, other_gases, pressure, found, mixed):
    for k in range(found.size):
        flow, temperature, other_flow, other_temperature = streams[:, k]
        found[k] = mix_two(
            flow, temperature, gases[:, k], other_flow, other_temperature, other_gases[:, k], pressure, mixed[:, k]
        )


@law
def mix_two(flow, temperature, gas, other_flow, other_temperature, other_gas, pressure, mixed):
    """`mix` in one state: the gas into ``mixed``, the temperature returned."""
    share = (flow + TRACE) / (flow + other_flow + 2.0 * TRACE)
    rest = 1.0 - share
    for row in range(ROWS):
        mixed[row] = share * gas[row] + rest * other_gas[row]
    total = share * enthalpy(gas, temperature, pressure) + rest * enthalpy(other_gas, other_temperature, pressure)
    between = found = share * temperature + rest * other_temperature
    for _ in range(2):  # the specific heat hardly changes between the two: two steps are exact to rounding
        found = found - (sensible(mixed, found) - total) / specific_heat(mixed, found)
    # That holds if all water is vapor. Where it cannot be, the true temperature lies above, and so does its fog.
    if mixed[WATER] > water_held(mixed, found, pressure):
        return foggy(mixed, total, between, pressure)[0]
    return found


@law
def foggy(gas, total, temperature, pressure):
    """Temperature of a stream known to hold fog, of an enthalpy ``total`` [J/kg]; begins from a ``temperature``.

    With it the water that it holds as vapor, and its specific heat with the latent heat of what turns to fog. Newton's
    method: the enthalpy is convex in temperature, so it cannot cycle.
    """
    held = slope = 0.0
    for _ in range(30):
        vapor_pressure, inverse = saturation(np.maximum(temperature, COLDEST), pressure)
        held = _held_at(gas, vapor_pressure, pressure)
        more = _slope_at(vapor_pressure, inverse, 300.0 / inverse, pressure, held)
        slope = specific_heat(gas, temperature) + LATENT * more
        step = (sensible(gas, temperature) - LATENT * (gas[WATER] - held) - total) / slope
        temperature, held = temperature - step, held - more * step
        if np.abs(step) < NEAR:
            break
    return temperature, held, slope
