"""Atmosphere: barometric pressure and temperature by altitude, moist air, saturation of water.

Outdoor and room air are ideal mixtures of dry air and water vapor. Pressures in this module are
absolute. Relative humidity is a plain ratio, taken over liquid water above the triple point of water
(273.16 K) and over ice below it.
"""

import numpy as np

from ventcalc.units import GAS_CONSTANT, GRAVITY, Q_, quantities

# kg/mol: IUPAC abridged standard atomic weights 2021. Molar masses of all later modules come from
# these, so that mass balances close exactly.
ATOMIC_MASS = {"C": 0.012011, "H": 0.001008, "O": 0.015999, "N": 0.014007, "S": 0.03206, "Ar": 0.03995}

MOLAR_MASS = {  # kg/mol
    "co2": ATOMIC_MASS["C"] + 2 * ATOMIC_MASS["O"],
    "h2o": 2 * ATOMIC_MASS["H"] + ATOMIC_MASS["O"],
    "n2": 2 * ATOMIC_MASS["N"],
    "o2": 2 * ATOMIC_MASS["O"],
    "ar": ATOMIC_MASS["Ar"],
}

# Mole fractions of dry air: US Standard Atmosphere 1976, Table 3, with oxygen rounded to the 20.95 %
# of combustion practice, and carbon dioxide at 0.04 % (0.031 % in 1976); traces counted as nitrogen.
DRY_AIR = {"co2": 0.0004, "n2": 0.7808, "o2": 0.2095, "ar": 0.0093}
DRY_AIR_MOLAR_MASS = sum(x * MOLAR_MASS[species] for species, x in DRY_AIR.items())  # kg/mol

# What fans, dampers and their tables are rated in (fans_checks.csv F001).
STANDARD_AIR = Q_(0.075, "lb/ft**3")

# US Standard Atmosphere 1976 (NOAA-S/T 76-1562), Tables 2 and 4.
SEA_LEVEL_PRESSURE = 101325.0  # Pa
SEA_LEVEL_TEMPERATURE = 288.15  # K
LAPSE_RATE = 0.0065  # K per geopotential meter
EARTH_RADIUS = 6356766.0  # m, the radius that turns height into geopotential height
STANDARD_MOLAR_MASS = 0.0289644  # kg/mol, the 1976 standard's own
STANDARD_GAS_CONSTANT = 8.31432  # J/(mol K), the 1976 standard's own
TROPOSPHERE = (-1000.0, 11000.0)  # m

_ATMOSPHERE_1976 = "US Standard Atmosphere 1976, equations 18, 23 and 33a"
_IAPWS = "IAPWS SR1-86(1992) over liquid water; IAPWS R14-08(2011) over ice"

# IAPWS SR1-86(1992), Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783, equation 1.
CRITICAL_TEMPERATURE = 647.096  # K
CRITICAL_PRESSURE = 22.064e6  # Pa
_LIQUID_TERMS = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
# IAPWS R14-08(2011), sublimation pressure, equation 6.
TRIPLE_TEMPERATURE = 273.16  # K
TRIPLE_PRESSURE = 611.657  # Pa
_ICE_TERMS = ((-21.2144006, 0.333333333e-2), (27.3203819, 1.20666667), (-6.1059813, 1.70333333))

SATURATION_RANGE = (173.15, 473.15)  # K


def _of_altitude(unit: str):
    """A formula of the 1976 standard: of an altitude within the troposphere, in a unit."""
    low, high = TROPOSPHERE
    limits = {"at_least": {"altitude": low}, "at_most": {"altitude": high}}
    return quantities(unit, altitude="m", **limits, source=_ATMOSPHERE_1976)


def _geopotential(altitude):
    return EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)


@_of_altitude("K")
def standard_temperature(altitude):
    """Air temperature of the standard atmosphere: T = T0 - L H, H = r z / (r + z).

    altitude: height above sea level z, m, number or array, -1000 to 11000 m.

    Raises ValueError outside that range, which is the troposphere.
    Source: US Standard Atmosphere 1976.
    """
    return SEA_LEVEL_TEMPERATURE - LAPSE_RATE * _geopotential(altitude)


@_of_altitude("Pa")
def standard_pressure(altitude):
    """Absolute barometric pressure of the standard atmosphere: p = p0 (T / T0)^(g M / (R L)).

    altitude: height above sea level, m, number or array, -1000 to 11000 m.

    Weather moves the true pressure by some 3 % about this value. The handbook form
    14.696 (1 - 6.8754e-6 z)^5.2559 psia leaves out the geopotential correction: 0.02 % low at
    10,000 ft, where the standard prints 10.108 psia:

    >>> standard_pressure.bare(3048.0) / 6894.757
    10.108

    Raises ValueError outside -1000 to 11000 m, which is the troposphere.
    Source: US Standard Atmosphere 1976.
    """
    exponent = GRAVITY * STANDARD_MOLAR_MASS / (STANDARD_GAS_CONSTANT * LAPSE_RATE)
    return SEA_LEVEL_PRESSURE * (standard_temperature.bare(altitude) / SEA_LEVEL_TEMPERATURE) ** exponent


@quantities(
    "m",
    pressure="Pa",
    at_least={"pressure": standard_pressure.bare(TROPOSPHERE[1])},
    at_most={"pressure": standard_pressure.bare(TROPOSPHERE[0])},
    source=_ATMOSPHERE_1976,
)
def pressure_altitude(pressure):
    """Height above sea level at which the standard atmosphere has a barometric pressure: `standard_pressure` inverted.

    pressure: absolute, at the site and not reduced to sea level, Pa, number or array, 22.6 to 113.9 kPa.

    The standard prints 10.108 psia at 10,000 ft, 3048 m:

    >>> round(pressure_altitude.bare(10.108 * 6894.757))
    3048

    Raises ValueError outside the troposphere, -1000 to 11000 m.
    Source: US Standard Atmosphere 1976.
    """
    exponent = STANDARD_GAS_CONSTANT * LAPSE_RATE / (GRAVITY * STANDARD_MOLAR_MASS)
    geopotential = SEA_LEVEL_TEMPERATURE / LAPSE_RATE * (1.0 - (pressure / SEA_LEVEL_PRESSURE) ** exponent)
    return EARTH_RADIUS * geopotential / (EARTH_RADIUS - geopotential)


def log_saturation(temperature):
    """ln(p/Pa) and d ln p / dT of saturated water vapor, over liquid or ice."""
    over_ice = temperature < TRIPLE_TEMPERATURE
    # Each branch is kept inside its own range, so that neither raises a floating-point warning.
    liquid, ice = np.maximum(temperature, TRIPLE_TEMPERATURE), np.minimum(temperature, TRIPLE_TEMPERATURE)
    tau, theta = 1 - liquid / CRITICAL_TEMPERATURE, ice / TRIPLE_TEMPERATURE
    liquid_sum = sum(a * tau**n for a, n in _LIQUID_TERMS)
    liquid_slope = sum(a * n * tau ** (n - 1) for a, n in _LIQUID_TERMS)
    ice_sum = sum(a * theta**n for a, n in _ICE_TERMS)
    ice_slope = sum(a * n * theta ** (n - 1) for a, n in _ICE_TERMS)
    log_pressure = np.where(
        over_ice,
        np.log(TRIPLE_PRESSURE) + ice_sum / theta,
        np.log(CRITICAL_PRESSURE) + liquid_sum * CRITICAL_TEMPERATURE / liquid,
    )
    slope = np.where(
        over_ice,
        (ice_slope - ice_sum / theta) / (theta * TRIPLE_TEMPERATURE),
        -(liquid_slope + liquid_sum * CRITICAL_TEMPERATURE / liquid) / liquid,
    )
    return log_pressure[()], slope[()]


@quantities(
    "Pa",
    temperature="K",
    at_least={"temperature": SATURATION_RANGE[0]},
    at_most={"temperature": SATURATION_RANGE[1]},
    source=_IAPWS,
)
def saturation_pressure(temperature):
    """Saturation pressure of water, absolute, over liquid from 273.16 K up and over ice below.

    Liquid: ln(p/pc) = (Tc/T) sum a_i (1 - T/Tc)^n_i. Ice: ln(p/pt) = (Tt/T) sum a_i (T/Tt)^n_i.
    temperature: K, number or array, 173.15 to 473.15 K.

    Stated uncertainty over liquid 0.025 % (from memory). The tests find it within 0.01 % of IAPWS-95 over
    liquid, and within 0.05 % of the IAPWS equation of state of ice from 193 K up.
    Raises ValueError outside the range; the bare function does not check it.
    Source: IAPWS SR1-86(1992) and R14-08(2011).
    """
    return np.exp(log_saturation(temperature)[0])


_LOWEST, _HIGHEST = (float(saturation_pressure.bare(t)) for t in SATURATION_RANGE)
_NEWTON_STEPS = 2  # from the starting curves, ln p is met to rounding


def _starting_curve(coldest: float, warmest: float) -> np.ndarray:
    """1/T as a polynomial in ln p, over ice or over water."""
    inverse = np.linspace(1 / warmest, 1 / coldest, 80)
    return np.polyfit(log_saturation(1 / inverse)[0], inverse, 6)


_OVER_ICE = _starting_curve(SATURATION_RANGE[0], TRIPLE_TEMPERATURE - 1e-9)
_OVER_WATER = _starting_curve(TRIPLE_TEMPERATURE, SATURATION_RANGE[1])


@quantities("K", pressure="Pa", at_least={"pressure": _LOWEST}, at_most={"pressure": _HIGHEST}, source=_IAPWS)
def saturation_temperature(pressure):
    """Temperature at which water vapor of this pressure is saturated: inverse of `saturation_pressure`.

    Newton's method on ln p as a function of 1/T, in which it is nearly a straight line.
    pressure: of the water vapor alone, Pa absolute, number or array, from that at 173.15 K (0.0014 Pa)
    to that at 473.15 K (1.55 MPa).

    Raises ValueError outside the range; the bare function returns the nearer end of it.
    Source: IAPWS SR1-86(1992) and R14-08(2011).
    """
    target = np.log(np.clip(pressure, _LOWEST, _HIGHEST))
    over_ice = target < np.log(TRIPLE_PRESSURE)
    inverse = np.where(over_ice, np.polyval(_OVER_ICE, target), np.polyval(_OVER_WATER, target))
    for _ in range(_NEWTON_STEPS):
        log_pressure, slope = log_saturation(1 / inverse)
        inverse = inverse + (log_pressure - target) * inverse**2 / slope
    return np.clip(1 / inverse, *SATURATION_RANGE)


@quantities(
    "",
    temperature="K",
    relative_humidity="",
    pressure="Pa",
    at_least={"temperature": SATURATION_RANGE[0], "relative_humidity": 0.0},
    at_most={"temperature": SATURATION_RANGE[1], "relative_humidity": 1.0},
    above={"pressure": 0.0},
    source=_IAPWS,
)
def water_vapor_fraction(temperature, relative_humidity, pressure):
    """Mole fraction of water vapor in moist air: x = rh psat(T) / p.

    temperature: of the air, K, 173.15 to 473.15 K; relative_humidity: ratio, 0 to 1; pressure: absolute,
    Pa; numbers or arrays that broadcast.

    Air slightly raises the saturation pressure of water (0.4 to 0.5 % at 1 atm); that is left out.
    Raises ValueError where the vapor alone would exceed the pressure.
    Source: Dalton's law; saturation by IAPWS.
    """
    fraction = relative_humidity * saturation_pressure.bare(temperature) / pressure
    if np.any(fraction > 1):
        raise ValueError(
            f"relative_humidity: water vapor would make up {np.max(fraction):.3g} of the air, more than all of it, "
            "at this pressure; lower the humidity or the temperature"
        )
    return fraction


@quantities(
    "kg/m**3",
    temperature="K",
    pressure="Pa",
    relative_humidity="",
    at_least={"temperature": SATURATION_RANGE[0], "relative_humidity": 0.0},
    at_most={"temperature": 1600.0, "relative_humidity": 1.0},
    above={"pressure": 0.0},
    source="ideal-gas law; saturation by " + _IAPWS,
)
def air_density(temperature, pressure, relative_humidity=0.0):
    """Density of moist air: rho = p M / (R T), M = Ma - x (Ma - Mw).

    temperature: K, 173.15 to 1600 K (to 473.15 K where humid); pressure: absolute, Pa; relative_humidity:
    ratio, 0 to 1; numbers or arrays that broadcast.

    Real air is 0.04 % denser at 20 degC and 1 atm than this ideal gas.
    Raises ValueError for humid air above 473.15 K: state hot gas by its composition (`flue_gas`).
    Source: ideal-gas law.
    """
    molar_mass = DRY_AIR_MOLAR_MASS
    if np.any(np.asarray(relative_humidity) > 0):
        if np.any(np.asarray(temperature) > SATURATION_RANGE[1]):
            raise ValueError(
                "relative_humidity has no use at a temperature above 473.15 K; describe the gas by its composition"
            )
        vapor = water_vapor_fraction.bare(temperature, relative_humidity, pressure)
        molar_mass = molar_mass - vapor * (DRY_AIR_MOLAR_MASS - MOLAR_MASS["h2o"])
    return pressure * molar_mass / (GAS_CONSTANT * temperature)
