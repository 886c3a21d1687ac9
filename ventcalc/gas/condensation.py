"""Condensation: where water and acid begin to condense from flue gas, how much, and with what heat.

Pressures are absolute. Over surfaces below 273.16 K water settles as ice; saturation and latent heat
are then those of ice.
"""

import numpy as np

from ventcalc.gas.atmosphere import (
    CRITICAL_TEMPERATURE,
    MOLAR_MASS,
    SATURATION_RANGE,
    TRIPLE_TEMPERATURE,
    log_saturation,
    saturation_pressure,
    saturation_temperature,
)
from ventcalc.gas.combustion import Products
from ventcalc.gas.flue_gas import SPECIES, Gas, specific_heat
from ventcalc.units import GAS_CONSTANT, ZERO_CELSIUS, quantities

_IAPWS = "saturation by IAPWS SR1-86(1992) and R14-08(2011)"

# IAPWS SR1-86(1992), equations 2 and 3: saturated densities over the critical one.
CRITICAL_DENSITY = 322.0  # kg/m3
_LIQUID_DENSITY = (
    (1.99274064, 1 / 3),
    (1.09965342, 2 / 3),
    (-0.510839303, 5 / 3),
    (-1.75493479, 16 / 3),
    (-45.5170352, 43 / 3),
    (-6.74694450e5, 110 / 3),
)
_VAPOUR_DENSITY = (
    (-2.03150240, 2 / 6),
    (-2.68302940, 4 / 6),
    (-5.38626492, 8 / 6),
    (-17.2991605, 18 / 6),
    (-44.7586581, 37 / 6),
    (-63.9201063, 71 / 6),
)

# Verhoff and Banchero, Chem. Eng. Progress 70 (8) (1974) 71: 1000/T from ln p in mmHg. Read in two public
# secondary sources with a worked example each, not in the paper; one copy prints 0.0082 for 0.0062 in one place.
_ACID_TERMS = (2.276, -0.0294, -0.0858, 0.0062)
MMHG = 101325 / 760  # Pa


@quantities("K", pressure="Pa", above={"pressure": 0.0}, source=_IAPWS)
def dew_point(gas: Gas, pressure):
    """Water dew point of a gas: the temperature at which x p = psat(T); a frost point below 0 degC.

    gas: `Gas`; pressure: absolute, Pa, number or array.

    A gas drier than the frost point 173.15 K, dry air among them, returns 173.15 K: the end of the range.
    Raises ValueError where the vapor's own pressure exceeds 1.55 MPa (saturation at 473.15 K).
    Source: Dalton's law; saturation by IAPWS.
    """
    vapor = gas.h2o * pressure
    highest = saturation_pressure.bare(SATURATION_RANGE[1])
    if np.any(vapor > highest):
        raise ValueError(f"water vapor pressure = {np.max(vapor):.6g} Pa must be at most {highest:.6g} Pa")
    return saturation_temperature.bare(vapor)


SO3_SHARE = 0.03  # of the sulfur dioxide that becomes trioxide; 1 to 5 % is common practice, no source


@quantities(
    ("Pa", "Pa"),
    pressure="Pa",
    share="",
    above={"pressure": 0.0},
    at_least={"share": 0.0},
    at_most={"share": 1.0},
    source="Dalton's law",
)
def acid_partial_pressures(products: Products, pressure, share=SO3_SHARE):
    """Partial pressures of water and of sulfur trioxide, Pa each, in the flue gas of a fuel with sulfur.

    products: of `combustion.products`; pressure: absolute, Pa; share: of the sulfur dioxide that becomes trioxide, 0 to
    1; numbers or arrays. Source: Dalton's law.
    """
    return products.gas.h2o * (1.0 - products.so2_wet) * pressure, share * products.so2_wet * pressure


def _of_acid(source: str, least_so3: float):
    """A correlation of the acid dew point by pressures of water vapor and SO3 [Pa], valid from ``least_so3`` on."""
    return quantities(
        "K",
        water_pressure="Pa",
        so3_pressure="Pa",
        above={"water_pressure": 0.0, "so3_pressure": 0.0},
        valid={"water_pressure": (1.0, 101325.0), "so3_pressure": (least_so3, 100.0)},
        source=source,
    )


@_of_acid("Verhoff & Banchero, Chem. Eng. Progress 70 (8) (1974) 71", least_so3=1e-4)
def acid_dew_point(water_pressure, so3_pressure):
    """Sulfuric-acid dew point, Verhoff and Banchero's correlation.

    1000/T = 2.276 - 0.0294 ln pw - 0.0858 ln ps + 0.0062 ln pw ln ps, pressures in mmHg.
    water_pressure: of the water vapor alone, Pa; so3_pressure: of the sulfur trioxide (as acid vapor)
    alone, Pa; numbers or arrays that broadcast.

    The sulfur that turns to SO3 is 1 to 5 % of the SO2 (common practice, no source): multiply the
    partial pressure of SO2 by that. A public worked example, 93.44 mmHg of water and 0.0024917 mmHg of SO3,
    prints 402 K:

    >>> float(acid_dew_point.bare(93.44 * MMHG, 0.0024917 * MMHG))
    401.9

    Correlations differ by up to 10 K (from memory).
    Warns outside 1 Pa to 1 atm of water and 0.0001 to 100 Pa of SO3, bounds chosen here around the
    flue-gas data behind it (from memory). Raises ValueError for pressures not above zero.
    """
    constant, water, acid, both = _ACID_TERMS
    log_water, log_acid = np.log(water_pressure / MMHG), np.log(so3_pressure / MMHG)
    return 1000 / (constant + water * log_water + acid * log_acid + both * log_water * log_acid)


_STANDARD_ATMOSPHERE = 101325.0  # Pa


@_of_acid("Okkes, Hydrocarbon Processing 66 (7) (1987) 53, as quoted in a public engineering forum", least_so3=1e-3)
def acid_dew_point_okkes(water_pressure, so3_pressure):
    """Sulfuric-acid dew point, Okkes's correlation, to be held against `acid_dew_point`.

    t = 203.25 + 27.6 log pw + 10.83 log ps + 1.06 (log ps + 8)^2.19 in degC, pressures in atm, decimal logarithms.
    water_pressure: of the water vapor alone, Pa; so3_pressure: of the sulfur trioxide alone, Pa; numbers or arrays
    that broadcast.

    Warns outside 1 Pa to 1 atm of water and 0.001 to 100 Pa of SO3; below 1e-8 atm (0.001 Pa) its last term has no
    real value. Raises ValueError there (the bare function returns NaN) and for pressures not above zero.
    """
    log_water, log_acid = np.log10(water_pressure / _STANDARD_ATMOSPHERE), np.log10(so3_pressure / _STANDARD_ATMOSPHERE)
    return ZERO_CELSIUS + 203.25 + 27.6 * log_water + 10.83 * log_acid + 1.06 * (log_acid + 8.0) ** 2.19


@_of_acid("ZareNezhad, Oil & Gas Journal 107 (35) (2009) (coefficients from memory, to be confirmed)", least_so3=1e-4)
def acid_dew_point_zarenezhad(water_pressure, so3_pressure):
    """Sulfuric-acid dew point, ZareNezhad's correlation (from memory), to be held against `acid_dew_point`.

    t = 150 + 11.664 ln ps + 8.1328 ln pw - 0.383226 ln ps ln pw in degC, pressures in mmHg.
    water_pressure: of the water vapor alone, Pa; so3_pressure: of the sulfur trioxide alone, Pa; numbers or arrays
    that broadcast.

    Warns outside 1 Pa to 1 atm of water and 0.0001 to 100 Pa of SO3. Raises ValueError for pressures not above zero.
    """
    log_water, log_acid = np.log(water_pressure / MMHG), np.log(so3_pressure / MMHG)
    return ZERO_CELSIUS + 150.0 + 11.664 * log_acid + 8.1328 * log_water - 0.383226 * log_acid * log_water


@quantities(
    "J/kg",
    temperature="K",
    at_least={"temperature": SATURATION_RANGE[0]},
    at_most={"temperature": SATURATION_RANGE[1]},
    source="Clapeyron's equation; " + _IAPWS,
)
def latent_heat(temperature):
    """Heat given up per kilogram of vapor that condenses (that freezes, below 273.16 K).

    Clapeyron: L = T (v'' - v') dp/dT. Densities of liquid and vapor by IAPWS; over ice the vapor is an
    ideal gas and the volume of the ice is left out (0.06 % together).
    temperature: of the surface on which it condenses, K, number or array, 173.15 to 473.15 K.

    Raises ValueError outside the range; the bare function does not check it.
    Source: IAPWS SR1-86(1992) and R14-08(2011).
    """
    log_pressure, slope = log_saturation(temperature)
    pressure = np.exp(log_pressure)
    ideal_volume = GAS_CONSTANT * temperature / (MOLAR_MASS["h2o"] * pressure)
    tau = 1 - np.maximum(temperature, TRIPLE_TEMPERATURE) / CRITICAL_TEMPERATURE
    liquid = CRITICAL_DENSITY * (1 + sum(b * tau**n for b, n in _LIQUID_DENSITY))
    vapor = CRITICAL_DENSITY * np.exp(sum(c * tau**n for c, n in _VAPOUR_DENSITY))
    volume = np.where(np.asarray(temperature) < TRIPLE_TEMPERATURE, ideal_volume, 1 / vapor - 1 / liquid)[()]
    return temperature * volume * pressure * slope


@quantities(None, temperature="K", pressure="Pa", above={"pressure": 0.0}, source=_IAPWS)
def saturated(gas: Gas, temperature, pressure):
    """The gas cooled to a temperature at which it holds no more vapor than saturation allows.

    Vapor left: n = (1 - x) xs / (1 - xs) per mole of gas, xs = psat(T) / p, where that is less than x.
    gas: `Gas`; temperature: K; pressure: absolute, Pa; numbers or arrays that broadcast.

    Returns the `Gas` that is left and the water condensed, a plain ratio: kg per kg of the gas as it came.
    Above 473.15 K saturation is taken as at 473.15 K (1.55 MPa), below 173.15 K as at 173.15 K (0.0014
    Pa): no vent gas condenses above the first or holds vapor worth counting below the second.
    Source: Dalton's law; saturation by IAPWS.
    """
    ceiling = saturation_pressure.bare(np.clip(temperature, *SATURATION_RANGE)) / pressure
    dry = 1 - gas.h2o
    # Where saturation exceeds the whole pressure nothing condenses, however wet the gas.
    room = np.where(ceiling < 1, dry * ceiling / np.maximum(1 - ceiling, 1e-300), np.inf)
    left = np.minimum(gas.h2o, room)
    total = dry + left
    parts = {s: getattr(gas, s) / total for s in SPECIES if s != "h2o"}
    condensed = (gas.h2o - left) * MOLAR_MASS["h2o"] / gas.molar_mass
    return Gas(h2o=(left / total)[()], **parts), condensed[()]


@quantities(
    "kg/s",
    mass_flow="kg/s",
    temperature="K",
    pressure="Pa",
    at_least={"mass_flow": 0.0},
    above={"pressure": 0.0},
    source=_IAPWS,
)
def condensate_rate(gas: Gas, mass_flow, temperature, pressure):
    """Water that condenses when a flow of gas is cooled throughout to a temperature.

    gas: `Gas` as it comes; mass_flow: of that gas, kg/s, at least 0; temperature: K; pressure: absolute,
    Pa; numbers or arrays that broadcast.

    Cooling the whole flow gives the most that can condense; a cold wall beside warm gas takes less.
    """
    return mass_flow * saturated.bare(gas, temperature, pressure)[1]


@quantities(
    "J/(kg*K)",
    temperature="K",
    pressure="Pa",
    above={"pressure": 0.0},
    source="energy balance of a gas that stays saturated; " + _IAPWS,
)
def effective_specific_heat(gas: Gas, temperature, pressure):
    """Heat that a kilogram of the gas, as it came, gives up per kelvin of cooling, condensing included.

    c = (1 - w) cp(gas left) + L (-dw/dT), w the water condensed per kg as it came; with n = (1 - x) xs / (1 - xs) of
    vapor left per mole, -dw/dT = (Mw/M) (1 - x) xs (d ln psat/dT) / (1 - xs)^2. Above the dew point it is the
    specific heat of the gas.
    gas: `Gas`; temperature: K, 200 to 473.15 K where it condenses, to 1600 K where not; pressure: absolute, Pa;
    numbers or arrays that broadcast.

    The heat of the condensate itself is left out: it drains (for natural gas, 1 % of c at 50 degC, 7 % at 30 degC).
    Raises ValueError outside 200 to 1600 K.
    """
    left, condensed = saturated.bare(gas, temperature, pressure)
    inside = np.clip(temperature, *SATURATION_RANGE)
    # No vapor is lost where nothing condenses, whatever saturation is there.
    ceiling = np.where(np.asarray(condensed) > 0, saturation_pressure.bare(inside) / pressure, 0.0)[()]
    lost = (1 - gas.h2o) * ceiling * log_saturation(inside)[1] / (1 - ceiling) ** 2 * MOLAR_MASS["h2o"] / gas.molar_mass
    return (1 - condensed) * specific_heat.bare(left, temperature) + latent_heat.bare(inside) * lost
