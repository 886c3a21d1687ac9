"""Fan laws: a fan's point at another speed and density, and pressures carried to standard air and back.

Flow goes as the speed, pressure as density times speed squared, power as density times speed cubed. **Speed** is a
ratio to the rated speed; revolutions are not used as a unit (a revolution per minute is an angular speed to a unit
registry, and 1 rpm is not 1/60 per second there).
"""

from ventcalc.gas import atmosphere, flue_gas
from ventcalc.gas.atmosphere import STANDARD_AIR
from ventcalc.gas.flue_gas import Gas
from ventcalc.units import quantities

LAWS = "fan laws; standard air 0.075 lb/ft3 (fans_checks.csv F001)"


@quantities(
    ("m**3/s", "Pa", "W"),
    flow="m**3/s",
    pressure="Pa",
    power="W",
    speed_ratio="",
    density_ratio="",
    at_least={"speed_ratio": 0.0},
    above={"density_ratio": 0.0},
    source=LAWS,
)
def by_the_laws(flow, pressure, power, speed_ratio=1.0, density_ratio=1.0):
    """A fan's point at another speed and density: q n, p r n^2, P r n^3.

    flow: q, m3/s; pressure: p, Pa; power: at the shaft P, W; speed_ratio: n, new over old, at least 0; density_ratio:
    r, new over old, above 0; numbers or arrays that broadcast. The point stays at the same place of the curve, so its
    efficiency stays as well.

    Valid while friction and leakage scale with the rest: a ratio of speeds of up to about 3 (common practice, no
    source). Source: fan laws. A university text's problem: 1.8 kW at 20 degC become 1.685 kW at 40 degC (F003):

    >>> float(by_the_laws.bare(2.4, 340.0, 1.8, 1.0, 293.0 / 313.0)[2])
    1.685
    """
    return flow * speed_ratio, pressure * density_ratio * speed_ratio**2, power * density_ratio * speed_ratio**3


@quantities(
    "",
    temperature="K",
    altitude="m",
    at_least={"altitude": atmosphere.TROPOSPHERE[0]},
    at_most={"altitude": atmosphere.TROPOSPHERE[1]},
    source=LAWS + "; ideal gas; US Standard Atmosphere 1976",
)
def density_factor(temperature, altitude, gas: Gas | None = None):
    """Density of a gas over that of standard air, 0.075 lb/ft3: what a fan's pressure and power are multiplied by.

    temperature: of the gas, K, 200 to 1600 K; altitude: above sea level, m, -1000 to 11000 m; gas: a `flue_gas.Gas`,
    dry air if left out; numbers or arrays that broadcast.

    Raises ValueError outside the ranges. Source: ideal-gas law; US Standard Atmosphere 1976.
    """
    gas = flue_gas.Gas.dry_air() if gas is None else gas
    pressure = atmosphere.standard_pressure.bare(altitude)
    return flue_gas.density.bare(gas, temperature, pressure) / _STANDARD


@quantities("Pa", pressure="Pa", density="kg/m**3", above={"density": 0.0}, source=LAWS)
def to_standard_air(pressure, density):
    """Pressure to look up in a table of standard air for a duty in thin gas: p rho_standard / rho.

    pressure: wanted at the fan, Pa; density: of the gas there, kg/m3, above 0; numbers or arrays that broadcast. The
    volume flow is looked up as it is. Source: fan laws at one speed.
    """
    return pressure * _STANDARD / density


@quantities("Pa", pressure="Pa", density="kg/m**3", above={"density": 0.0}, source=LAWS)
def from_standard_air(pressure, density):
    """Pressure that a fan makes in a gas where its table of standard air says ``pressure``: p rho / rho_standard.

    pressure: by the table, Pa; density: of the gas, kg/m3, above 0; numbers or arrays that broadcast.
    Source: fan laws at one speed.
    """
    return pressure * density / _STANDARD


_STANDARD = float(STANDARD_AIR.m_as("kg/m**3"))
