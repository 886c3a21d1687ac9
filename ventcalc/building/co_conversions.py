"""CO conversions: parts per million, milligrams in a cubic meter, air-free and as measured, by oxygen or by CO2."""

import numpy as np

from ventcalc.gas import combustion_analysis
from ventcalc.gas.atmosphere import ATOMIC_MASS
from ventcalc.units import GAS_CONSTANT, quantities

MOLAR_MASS = ATOMIC_MASS["C"] + ATOMIC_MASS["O"]  # kg/mol of carbon monoxide
_IDEAL = "ideal gas"


@quantities(
    "mg/m**3", co="ppm", temperature="K", pressure="Pa", at_least={"co": 0.0}, above={"pressure": 0.0}, source=_IDEAL
)
def mass_concentration(co, temperature, pressure):
    """Milligrams of carbon monoxide in a cubic meter: ``co p M / (R T)``.

    co: ppm by volume; temperature [K] and absolute pressure [Pa] of the air; numbers or arrays that broadcast. A list
    of limits prints 1.145 for 1 ppm at 25 °C:

    >>> from ventcalc.units import Q_
    >>> float(mass_concentration(Q_(1, "ppm"), Q_(25, "degC"), Q_(1, "atm")).m)
    1.145
    """
    return co * pressure * MOLAR_MASS / (GAS_CONSTANT * temperature)


@quantities(
    "ppm",
    concentration="mg/m**3",
    temperature="K",
    pressure="Pa",
    at_least={"concentration": 0.0},
    above={"pressure": 0.0},
    source=_IDEAL,
)
def volume_concentration(concentration, temperature, pressure):
    """Parts per million that a mass concentration is: the inverse of `mass_concentration`.

    concentration: mg/m3; temperature [K] and absolute pressure [Pa] of the air; numbers or arrays that broadcast.
    """
    return concentration / mass_concentration.bare(1.0, temperature, pressure)


@quantities(
    "ppm",
    air_free="ppm",
    o2_dry="",
    at_least={"air_free": 0.0, "o2_dry": 0.0},
    at_most={"o2_dry": 0.209},
    source=combustion_analysis.co_air_free.source,
)
def as_measured(air_free, o2_dry):
    """What an analyzer reads in dry flue gas of so much CO air-free: inverse of `combustion_analysis.co_air_free`.

    air_free: ppm; o2_dry: mole fraction of oxygen beside it, 0 to 0.209; numbers or arrays that broadcast.
    """
    return air_free / combustion_analysis.co_air_free.bare(1.0, o2_dry)


@quantities(
    "ppm",
    co="ppm",
    co2_dry="",
    ultimate_co2="",
    at_least={"co": 0.0},
    above={"co2_dry": 0.0},
    at_most={"co2_dry": 0.21, "ultimate_co2": 0.21},
    source="dilution by air without carbon dioxide",
)
def co_air_free_by_co2(co, co2_dry, ultimate_co2):
    """Carbon monoxide air-free by the CO2 beside it: ``CO ultimate / CO2``.

    co: measured in the dry gas, ppm; co2_dry: mole fraction measured beside it, above 0; ultimate_co2: that of the fuel
    (`combustion.ultimate_co2`), not below co2_dry; numbers or arrays that broadcast. The 0.04 % of the air itself is
    left out, as the trade does. Raises ValueError where there is more CO2 than the ultimate.
    """
    if np.any(co2_dry > ultimate_co2):
        raise ValueError(f"co2_dry = {100 * np.max(co2_dry):.4g} % is more than the ultimate of the fuel, ultimate_co2")
    return co * ultimate_co2 / co2_dry
