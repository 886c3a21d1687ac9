"""Combustion: from a fuel and its excess air to its flue gas, by the balance of each element.

Complete combustion of the fuel's elements in air. Everything "per heat" is per joule of heat input on
the higher heating value (HHV). Excess air is a plain ratio: 0.3 is 30 % more air than the theoretical.
"Dry" mole fractions leave out the water vapor, as a gas analyzer does. The way back, from what the analyzer
shows, is `combustion_analysis`; what heat the gas takes with it, `stack_loss`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ventcalc.gas.atmosphere import ATOMIC_MASS, DRY_AIR, DRY_AIR_MOLAR_MASS, MOLAR_MASS
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import Fuel
from ventcalc.units import GAS_CONSTANT, Q_, quantities

OXYGEN_IN_AIR = DRY_AIR["o2"]
SO2_MOLAR_MASS = ATOMIC_MASS["S"] + 2 * ATOMIC_MASS["O"]  # kg/mol

STOICHIOMETRY = "stoichiometry of complete combustion in air of 20.95 % oxygen"


@dataclass(frozen=True, eq=False)  # arrays do not compare as one value
class Products:
    """Flue gas of complete combustion, plain SI numbers or arrays of one shape.

    gas: the wet flue gas, `Gas`, without its sulfur dioxide.
    mass_per_heat: flue gas with sulfur dioxide, kg per J of heat input (HHV); 1e6 times that is kg/MJ.
    air_per_heat: combustion air with its humidity, kg/J.
    water_per_heat: water vapor in the flue gas, that of the air included, kg/J.
    co2_dry, o2_dry: mole fractions of the dry flue gas.
    so2_wet: mole fraction of sulfur dioxide in the wet flue gas.
    excess_air: ratio.
    """

    gas: Gas
    mass_per_heat: Any
    air_per_heat: Any
    water_per_heat: Any
    co2_dry: Any
    o2_dry: Any
    so2_wet: Any
    excess_air: Any


def element_moles(fuel: Fuel) -> dict[str, float]:
    """Moles of each element in one kilogram of fuel."""
    parts = {"C": fuel.carbon, "H": fuel.hydrogen, "O": fuel.oxygen, "N": fuel.nitrogen, "S": fuel.sulfur}
    return {element: mass / ATOMIC_MASS[element] for element, mass in parts.items()}


def oxygen_taken(fuel: Fuel) -> float:
    """Oxygen that complete combustion takes from the air, mol per kg of fuel: C + H/4 + S - O/2."""
    n = element_moles(fuel)
    return n["C"] + n["H"] / 4 + n["S"] - n["O"] / 2


def dry_gain(fuel: Fuel) -> float:
    """Dry flue gas less dry air, mol per kg of fuel: what burning adds to the dry gas less oxygen used."""
    n = element_moles(fuel)
    return n["C"] + n["S"] + n["N"] / 2 - oxygen_taken(fuel)


def theoretical_air(fuel: Fuel) -> float:
    """Dry air that exactly burns the fuel, kg per kg of fuel: Ma (C + H/4 + S - O/2) / 0.2095, in moles.

    fuel: `Fuel`. Source: stoichiometry. A textbook derivation prints 17.2 for methane:

    >>> from ventcalc.gas.fuels import gas_fuel
    >>> theoretical_air(gas_fuel("methane", {"CH4": 1.0}))
    17.24
    """
    return oxygen_taken(fuel) / OXYGEN_IN_AIR * DRY_AIR_MOLAR_MASS


@quantities(
    None,
    excess_air="",
    air_water_vapor="",
    at_least={"excess_air": 0.0, "air_water_vapor": 0.0},
    at_most={"air_water_vapor": 0.5},
    source=STOICHIOMETRY,
)
def products(fuel: Fuel, excess_air, air_water_vapor=0.0) -> Products:
    """Flue gas of complete combustion, by the balance of each element.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapor: mole fraction of water vapor in the
    combustion air, 0 to 0.5; numbers or arrays that broadcast.

    Raises ValueError for less than the theoretical air: then carbon monoxide and soot form, which this
    balance does not know.
    Source: stoichiometry.
    """
    excess_air, vapor = np.broadcast_arrays(np.asarray(excess_air, float), np.asarray(air_water_vapor, float))
    n, oxygen = element_moles(fuel), oxygen_taken(fuel)
    dry_air = oxygen / OXYGEN_IN_AIR * (1 + excess_air)  # mol per kg of fuel, as all that follow
    air_water = dry_air * vapor / (1 - vapor)
    moles = {
        "co2": n["C"] + DRY_AIR["co2"] * dry_air,
        "h2o": n["H"] / 2 + fuel.water / MOLAR_MASS["h2o"] + air_water,
        "n2": n["N"] / 2 + DRY_AIR["n2"] * dry_air,
        "o2": oxygen * excess_air,
        "ar": DRY_AIR["ar"] * dry_air,
    }
    gas_moles = sum(moles.values())
    dry = gas_moles - moles["h2o"] + n["S"]
    mass = sum(amount * MOLAR_MASS[species] for species, amount in moles.items()) + n["S"] * SO2_MOLAR_MASS
    air_mass = dry_air * DRY_AIR_MOLAR_MASS + air_water * MOLAR_MASS["h2o"]
    return Products(
        gas=Gas(**{species: amount / gas_moles for species, amount in moles.items()}),
        mass_per_heat=mass / fuel.hhv,
        air_per_heat=air_mass / fuel.hhv,
        water_per_heat=moles["h2o"] * MOLAR_MASS["h2o"] / fuel.hhv,
        co2_dry=moles["co2"] / dry,
        o2_dry=moles["o2"] / dry,
        so2_wet=n["S"] / (gas_moles + n["S"]),
        excess_air=excess_air[()],
    )


@quantities("", source=STOICHIOMETRY)
def ultimate_co2(fuel: Fuel):
    """Largest CO2 the dry flue gas can hold, mole fraction: that at zero excess air.

    fuel: `Fuel`. Source: stoichiometry. Combustion-testing practice prints 11.7 to 11.8 % for natural gas:

    >>> from ventcalc.gas.fuels import fuel
    >>> float(ultimate_co2(fuel("natural gas")).m_as("percent"))
    11.88
    """
    return products.bare(fuel, 0.0).co2_dry


@quantities(
    "kg/MJ",
    excess_air="",
    air_water_vapor="",
    at_least={"excess_air": 0.0, "air_water_vapor": 0.0},
    at_most={"air_water_vapor": 0.5},
    source=STOICHIOMETRY,
)
def flue_gas_per_heat(fuel: Fuel, excess_air, air_water_vapor=0.0):
    """Mass of wet flue gas per heat input (HHV), kg/MJ; bare as well.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapor: mole fraction in the combustion air;
    numbers or arrays that broadcast.

    Source: stoichiometry.
    """
    return 1e6 * products.bare(fuel, excess_air, air_water_vapor).mass_per_heat


# Federal standard conditions, 68 °F and 29.92 inHg (40 CFR 60 App. A-7, Method 19): one mole, m3.
_STANDARD_MOLAR_VOLUME = GAS_CONSTANT * Q_(68.0, "degF").m_as("K") / Q_(29.92, "inHg").m_as("Pa")


@quantities(
    ("m**3/MJ", "m**3/MJ"),
    excess_air="",
    air_water_vapor="",
    at_least={"excess_air": 0.0, "air_water_vapor": 0.0},
    at_most={"air_water_vapor": 0.5},
    source=STOICHIOMETRY + "; standard conditions of 40 CFR 60 App. A-7, Method 19",
)
def volume_per_heat(fuel: Fuel, excess_air, air_water_vapor=0.0):
    """Volumes of dry and of wet flue gas per heat input (HHV) at 68 °F and 29.92 inHg, m3/MJ; bare as well.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapor: mole fraction in the combustion air;
    numbers or arrays that broadcast. Sulfur dioxide counts in both.

    At no excess air these are the federal F-factors Fd and Fw, and Fd times the CO2 of the dry gas is Fc. For
    natural gas 40 CFR 75 prints Fd = 8710 dscf/MMBtu, a mean over many gases:

    >>> from ventcalc.gas.fuels import fuel
    >>> round(1000 * float(volume_per_heat(fuel("natural gas"), 0.0)[0].m_as("ft**3/MBH/hour")))
    8625

    Source: stoichiometry.
    """
    burned = products.bare(fuel, excess_air, air_water_vapor)
    sulfur = burned.so2_wet / (1 - burned.so2_wet)  # mol per mol of the gas without it
    moles = burned.mass_per_heat / (burned.gas.molar_mass + sulfur * SO2_MOLAR_MASS)  # without it
    dry = moles * (1 - burned.gas.h2o + sulfur)
    wet = moles * (1 + sulfur)
    return 1e6 * _STANDARD_MOLAR_VOLUME * dry, 1e6 * _STANDARD_MOLAR_VOLUME * wet


# The chimney chapter's mass-flow equations: a, b, c of M = a (b + c / %CO2), in lb per 1000 Btu.
HANDBOOK_FLOW = {
    "natural gas": (0.705, 0.159, 10.72),
    "propane": (0.706, 0.159, 12.61),  # printed for LP gas
    "no. 2 oil": (0.72, 0.12, 14.4),
}
_POUND_PER_1000_BTU = Q_(1.0, "lb/MBH/hour").m_as("kg/MJ")


@quantities(
    "kg/MJ",
    co2_dry="",
    above={"co2_dry": 0.0},
    source="ASHRAE Handbook HVAC Systems and Equipment, chimney chapter, mass-flow equations (from memory)",
)
def handbook_flow(fuel_name: str, co2_dry):
    """Flue gas per heat input by the handbook's equation ``M = a (b + c / %CO2)``; shown beside `flue_gas_per_heat`.

    fuel_name: one of `HANDBOOK_FLOW`; co2_dry: mole fraction of the dry gas, above 0, number or array. M in lb per
    1000 Btu there, kg/MJ here, bare as well.

    Its parts can be told: a stands for the theoretical air per heat, c for the ultimate CO2 times dry gas over air by
    volume, b for the water and the carbon. c is what stoichiometry gives, within 1.2 %; a is 2.4 to 2.6 % low in
    all three fuels (0.705 for 0.722 with natural gas), and the dry gas is weighed as if it were air. So M is 2 to
    5 % low. Raises ValueError for another fuel.
    """
    if fuel_name not in HANDBOOK_FLOW:
        raise ValueError(f"fuel_name {fuel_name!r}: the handbook's equation is known for {', '.join(HANDBOOK_FLOW)}")
    a, b, c = HANDBOOK_FLOW[fuel_name]
    return _POUND_PER_1000_BTU * a * (b + c / (100 * co2_dry))
