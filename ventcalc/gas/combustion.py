"""Combustion: from a fuel and its excess air to flue gas, losses and efficiency; from CO2 or O2 back.

Complete combustion of the fuel's elements in air. Everything "per heat" is per joule of heat input on
the higher heating value (HHV). Excess air is a plain ratio: 0.3 is 30 % more air than the theoretical.
"Dry" mole fractions leave out the water vapour, as a gas analyser does.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ventcalc.gas.atmosphere import ATOMIC_MASS, DRY_AIR, DRY_AIR_MOLAR_MASS, MOLAR_MASS
from ventcalc.gas.flue_gas import Gas, enthalpy
from ventcalc.gas.fuels import Fuel
from ventcalc.units import GAS_CONSTANT, Q_, quantities

OXYGEN_IN_AIR = DRY_AIR["o2"]
SO2_MOLAR_MASS = ATOMIC_MASS["S"] + 2 * ATOMIC_MASS["O"]  # kg/mol

_STOICHIOMETRY = "stoichiometry of complete combustion in air of 20.95 % oxygen"
_LARGEST_OXYGEN = 0.209  # above it the analyser sees air, not flue gas


@dataclass(frozen=True, eq=False)  # arrays do not compare as one value
class Products:
    """Flue gas of complete combustion, plain SI numbers or arrays of one shape.

    gas: the wet flue gas, `Gas`, without its sulphur dioxide.
    mass_per_heat: flue gas with sulphur dioxide, kg per J of heat input (HHV); 1e6 times that is kg/MJ.
    air_per_heat: combustion air with its humidity, kg/J.
    water_per_heat: water vapour in the flue gas, that of the air included, kg/J.
    co2_dry, o2_dry: mole fractions of the dry flue gas.
    so2_wet: mole fraction of sulphur dioxide in the wet flue gas.
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


def _moles(fuel: Fuel) -> dict[str, float]:
    """Moles of each element in one kilogram of fuel."""
    parts = {"C": fuel.carbon, "H": fuel.hydrogen, "O": fuel.oxygen, "N": fuel.nitrogen, "S": fuel.sulphur}
    return {element: mass / ATOMIC_MASS[element] for element, mass in parts.items()}


def _oxygen(fuel: Fuel) -> float:
    """Oxygen that complete combustion takes from the air, mol per kg of fuel: C + H/4 + S - O/2."""
    n = _moles(fuel)
    return n["C"] + n["H"] / 4 + n["S"] - n["O"] / 2


def _dry_gain(fuel: Fuel) -> float:
    """Dry flue gas less dry air, mol per kg of fuel: what burning adds to the dry gas less oxygen used."""
    n = _moles(fuel)
    return n["C"] + n["S"] + n["N"] / 2 - _oxygen(fuel)


def theoretical_air(fuel: Fuel) -> float:
    """Dry air that exactly burns the fuel, kg per kg of fuel: Ma (C + H/4 + S - O/2) / 0.2095, in moles.

    fuel: `Fuel`. Source: stoichiometry. A textbook derivation prints 17.2 for methane:

    >>> from ventcalc.gas.fuels import gas_fuel
    >>> theoretical_air(gas_fuel("methane", {"CH4": 1.0}))
    17.24
    """
    return _oxygen(fuel) / OXYGEN_IN_AIR * DRY_AIR_MOLAR_MASS


@quantities(
    None,
    excess_air="",
    air_water_vapour="",
    at_least={"excess_air": 0.0, "air_water_vapour": 0.0},
    at_most={"air_water_vapour": 0.5},
    source=_STOICHIOMETRY,
)
def products(fuel: Fuel, excess_air, air_water_vapour=0.0) -> Products:
    """Flue gas of complete combustion, by the balance of each element.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapour: mole fraction of water vapour in the
    combustion air, 0 to 0.5; numbers or arrays that broadcast.

    Raises ValueError for less than the theoretical air: then carbon monoxide and soot form, which this
    balance does not know.
    Source: stoichiometry.
    """
    excess_air, vapour = np.broadcast_arrays(np.asarray(excess_air, float), np.asarray(air_water_vapour, float))
    n, oxygen = _moles(fuel), _oxygen(fuel)
    dry_air = oxygen / OXYGEN_IN_AIR * (1 + excess_air)  # mol per kg of fuel, as all that follow
    air_water = dry_air * vapour / (1 - vapour)
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


@quantities("", source=_STOICHIOMETRY)
def ultimate_co2(fuel: Fuel):
    """Largest CO2 the dry flue gas can hold, mole fraction: that at zero excess air.

    fuel: `Fuel`. Source: stoichiometry. Combustion-testing practice prints 11.7 to 11.8 % for natural gas:

    >>> from ventcalc.gas.fuels import fuel
    >>> float(ultimate_co2(fuel("natural gas")).m_as("percent"))
    11.88
    """
    return products.bare(fuel, 0.0).co2_dry


@quantities("", co2_dry="", source=_STOICHIOMETRY)
def excess_air_from_co2(fuel: Fuel, co2_dry):
    """Excess air from the CO2 measured in the dry flue gas.

    (nC + xa A) / (A + g) = CO2 solved for the dry air A, over the theoretical, less 1; g is what burning
    adds to the dry gas, xa the CO2 of the air itself.
    fuel: `Fuel`; co2_dry: mole fraction, number or array, above that of air (0.04 %) and at most the
    ultimate CO2.

    Raises ValueError outside that range, naming the ultimate CO2.
    Source: stoichiometry.
    """
    ultimate = ultimate_co2.bare(fuel)
    # A millionth of room lets the ultimate CO2 itself, printed and read back, count as zero excess air.
    if np.any(co2_dry > ultimate * (1 + 1e-6)) or np.any(co2_dry <= DRY_AIR["co2"]):
        worst = np.max(co2_dry) if np.any(co2_dry > ultimate) else np.min(co2_dry)
        raise ValueError(
            f"co2_dry = {100 * worst:.4g} %: dry flue gas of {fuel.name} holds more than {100 * DRY_AIR['co2']:g} % "
            f"and at most {100 * ultimate:.4g} % CO2 (its ultimate CO2)"
        )
    air = (_moles(fuel)["C"] - co2_dry * _dry_gain(fuel)) / (co2_dry - DRY_AIR["co2"])
    return np.maximum(air * OXYGEN_IN_AIR / _oxygen(fuel) - 1, 0.0)


@quantities("", o2_dry="", source=_STOICHIOMETRY)
def excess_air_from_o2(fuel: Fuel, o2_dry):
    """Excess air from the O2 measured in the dry flue gas.

    (0.2095 A - O) / (A + g) = O2 solved for the dry air A, over the theoretical, less 1; O is the oxygen
    burned, g what burning adds to the dry gas.
    fuel: `Fuel`; o2_dry: mole fraction, number or array, 0 to 0.209.

    Raises ValueError outside that range.
    Source: stoichiometry.
    """
    if np.any(o2_dry < 0) or np.any(o2_dry > _LARGEST_OXYGEN):
        worst = np.max(o2_dry) if np.any(o2_dry > _LARGEST_OXYGEN) else np.min(o2_dry)
        raise ValueError(
            f"o2_dry = {100 * worst:.4g} %: dry flue gas holds 0 to 20.9 % O2 (and {fuel.name} at 0 % O2 "
            f"its ultimate CO2, {100 * ultimate_co2.bare(fuel):.4g} %)"
        )
    oxygen = _oxygen(fuel)
    air = (oxygen + o2_dry * _dry_gain(fuel)) / (OXYGEN_IN_AIR - o2_dry)
    return np.maximum(air * OXYGEN_IN_AIR / oxygen - 1, 0.0)  # 0 % O2 may come out a rounding below zero


@quantities(
    "kg/MJ",
    excess_air="",
    air_water_vapour="",
    at_least={"excess_air": 0.0, "air_water_vapour": 0.0},
    at_most={"air_water_vapour": 0.5},
    source=_STOICHIOMETRY,
)
def flue_gas_per_heat(fuel: Fuel, excess_air, air_water_vapour=0.0):
    """Mass of wet flue gas per heat input (HHV), kg/MJ; bare as well.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapour: mole fraction in the combustion air;
    numbers or arrays that broadcast.

    Source: stoichiometry.
    """
    return 1e6 * products.bare(fuel, excess_air, air_water_vapour).mass_per_heat


# Federal standard conditions, 68 °F and 29.92 inHg (40 CFR 60 App. A-7, Method 19): one mole, m3.
_STANDARD_MOLAR_VOLUME = GAS_CONSTANT * Q_(68.0, "degF").m_as("K") / Q_(29.92, "inHg").m_as("Pa")


@quantities(
    ("m**3/MJ", "m**3/MJ"),
    excess_air="",
    air_water_vapour="",
    at_least={"excess_air": 0.0, "air_water_vapour": 0.0},
    at_most={"air_water_vapour": 0.5},
    source=_STOICHIOMETRY + "; standard conditions of 40 CFR 60 App. A-7, Method 19",
)
def volume_per_heat(fuel: Fuel, excess_air, air_water_vapour=0.0):
    """Volumes of dry and of wet flue gas per heat input (HHV) at 68 °F and 29.92 inHg, m3/MJ; bare as well.

    fuel: `Fuel`; excess_air: ratio, at least 0; air_water_vapour: mole fraction in the combustion air;
    numbers or arrays that broadcast. Sulphur dioxide counts in both.

    At no excess air these are the federal F-factors Fd and Fw, and Fd times the CO2 of the dry gas is Fc. For
    natural gas 40 CFR 75 prints Fd = 8710 dscf/MMBtu, a mean over many gases:

    >>> from ventcalc.gas.fuels import fuel
    >>> round(1000 * float(volume_per_heat(fuel("natural gas"), 0.0)[0].m_as("ft**3/MBH/hour")))
    8625

    Source: stoichiometry.
    """
    burned = products.bare(fuel, excess_air, air_water_vapour)
    sulphur = burned.so2_wet / (1 - burned.so2_wet)  # mol per mol of the gas without it
    moles = burned.mass_per_heat / (burned.gas.molar_mass + sulphur * SO2_MOLAR_MASS)  # without it
    dry = moles * (1 - burned.gas.h2o + sulphur)
    wet = moles * (1 + sulphur)
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
def handbook_flow(fuel_name, co2_dry):
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


_LOSS_SOURCE = "energy balance of complete combustion on the HHV; " + enthalpy.source


@quantities(
    "",
    excess_air="",
    flue_temperature="K",
    air_temperature="K",
    air_water_vapour="",
    at_least={"excess_air": 0.0, "air_water_vapour": 0.0},
    at_most={"air_water_vapour": 0.5},
    source=_LOSS_SOURCE,
)
def stack_loss(fuel: Fuel, excess_air, flue_temperature, air_temperature, air_water_vapour=0.0):
    """Heat that leaves with the flue gas, as a fraction of the HHV; nothing condenses.

    loss = (m h(flue) - ma h(air) + mw L) / HHV per kg of fuel: the flue gas above 25 degC, less what the
    air brought, plus the latent heat of the water that combustion formed. The fuel enters at 25 degC.
    fuel: `Fuel`; excess_air: ratio, at least 0; flue_temperature, air_temperature: K, 200 to 1600 K;
    air_water_vapour: mole fraction; numbers or arrays that broadcast. Sulphur dioxide is given the
    specific heat of the rest.

    Below the dew point the true loss is smaller. Jacket loss and unburned fuel are not in it.
    Raises ValueError outside 200 to 1600 K.
    """
    burned = products.bare(fuel, excess_air, air_water_vapour)
    air = Gas.humid_air(air_water_vapour)
    sensible = burned.mass_per_heat * enthalpy.bare(burned.gas, flue_temperature)
    brought = burned.air_per_heat * enthalpy.bare(air, air_temperature)
    latent = (fuel.hhv - fuel.lhv) / fuel.hhv
    return sensible - brought + latent


@quantities(
    "",
    excess_air="",
    flue_temperature="K",
    air_temperature="K",
    air_water_vapour="",
    at_least={"excess_air": 0.0, "air_water_vapour": 0.0},
    at_most={"air_water_vapour": 0.5},
    source=_LOSS_SOURCE,
)
def efficiency(fuel: Fuel, excess_air, flue_temperature, air_temperature, air_water_vapour=0.0):
    """Combustion efficiency on the HHV without condensing: 1 - `stack_loss`.

    fuel: `Fuel`; excess_air: ratio, at least 0; flue_temperature, air_temperature: K, 200 to 1600 K;
    air_water_vapour: mole fraction in the combustion air; numbers or arrays that broadcast.

    Jacket loss and unburned fuel are not in it. Raises ValueError outside 200 to 1600 K.
    """
    return 1 - stack_loss.bare(fuel, excess_air, flue_temperature, air_temperature, air_water_vapour)


@quantities(
    "ppm",
    co="ppm",
    o2_dry="",
    at_least={"co": 0.0, "o2_dry": 0.0},
    at_most={"co": 1e6, "o2_dry": _LARGEST_OXYGEN},
    source="dilution by air of 20.95 % oxygen",
)
def co_air_free(co, o2_dry):
    """Carbon monoxide the dry flue gas would show without its excess air: CO 0.2095 / (0.2095 - O2).

    co: measured in the dry gas, ppm (bare: a number of ppm); o2_dry: measured beside it, mole fraction, 0
    to 0.209; numbers or arrays that broadcast.

    Codes print 20.9 for 20.95: at 5 % O2 that is 0.07 % more.
    Raises ValueError outside the ranges.
    """
    return co * OXYGEN_IN_AIR / (OXYGEN_IN_AIR - o2_dry)


# --- The steam book's flue gas rules: history, kept because its worked examples are a check that anyone may read ---

STEAM_BOOK = "Steam, Its Generation and Use (public domain, 1919-1922 printings)"
_BTU_PER_POUND = Q_(1.0, "Btu/lb").m_as("J/kg")
_BTU_PER_POUND_F = Q_(1.0, "Btu/(lb*delta_degF)").m_as("J/(kg*K)")
_BOILING = Q_(212.0, "degF").m_as("K")


@quantities("", carbon="", hydrogen="", oxygen="", sulphur="", source=f"{STEAM_BOOK}, formula (11)")
def steam_book_air(carbon, hydrogen, oxygen, sulphur):
    """Theoretical air by the book's formula (11), ``11.52 C + 34.56 (H - O/8) + 4.32 S``, kg per kg of fuel.

    carbon, hydrogen, oxygen, sulphur: kg per kg of fuel. Its hydrogen weighs 1 and not 1.008, its air holds 20.91 %
    oxygen. Example: 82.1, 4.25, 2.6 and 1.6 %: 10.88 in the book, 10.88 here.
    """
    return 11.52 * carbon + 34.56 * (hydrogen - oxygen / 8) + 4.32 * sulphur


@quantities("", o2="", n2="", co="", above={"n2": 0.0}, source=f"{STEAM_BOOK}, formula (14)")
def steam_book_air_ratio(o2, n2, co=0.0):
    """Air supplied over theoretical air by the book's formula (14), ``N / (N - 3.782 (O - CO/2))``.

    o2, n2, co: volume fractions of the dry flue gas. Right for a fuel whose hydrogen is small or bound to oxygen:
    3.782 is nitrogen over oxygen in air. Example: 9.0, 80.3 and 0 %: 1.73 in the book, 1.736 here.
    """
    return n2 / (n2 - 3.782 * (o2 - co / 2))


@quantities("", co2="", o2="", n2="", co="", above={"co2": 0.0}, source=f"{STEAM_BOOK}, formula (16)")
def steam_book_dry_gas(co2, o2, n2, co=0.0):
    """Dry flue gas per carbon burned by formula (16), ``(11 CO2 + 8 O + 7 (CO + N)) / (3 (CO2 + CO))``, kg per kg.

    co2, o2, n2, co: volume fractions of the dry flue gas. It is 44, 32 and 28 over 12, in moles. Example: 10.7, 9.0,
    80.3 and 0 %: 23.42 in the book and here.
    """
    return (11 * co2 + 8 * o2 + 7 * (co + n2)) / (3 * (co2 + co))


@quantities("J/kg", dry_gas="", flue="K", room="K", at_least={"dry_gas": 0.0}, source=f"{STEAM_BOOK}, flue gas loss")
def steam_book_dry_loss(dry_gas, flue, room):
    """Heat lost with the dry flue gas, ``0.24 W (T - t)``, per kg of fuel.

    dry_gas: W, kg per kg of fuel; flue T and room t [K]; 0.24 Btu/(lb F) is the book's specific heat. Example: 18.74,
    500 °F and 60 °F: 1979 Btu/lb in the book and here.
    """
    return 0.24 * _BTU_PER_POUND_F * dry_gas * (flue - room)


@quantities("J/kg", water="", flue="K", room="K", at_least={"water": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_water_loss(water, flue, room):
    """Heat lost with water vapour, ``w ((212 - t) + 970.4 + 0.47 (T - 212))``, per kg of fuel.

    water: w, kg of vapour per kg of fuel, 9 times its hydrogen for what burning forms; flue T and room t [K, degrees
    Fahrenheit there]. The form is recalled from memory; with it the book's 618 and 22 Btu come out. Example: 9 x
    5.60 %, 480 °F and 81 °F: 618 Btu/lb in the book, 618.6 here.
    """
    vapour = _BTU_PER_POUND * 970.4 + 0.47 * _BTU_PER_POUND_F * (flue - _BOILING)
    return water * (_BTU_PER_POUND_F * (_BOILING - room) + vapour)


@quantities("J/kg", co2="", co="", carbon="", at_least={"co": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_co_loss(co2, co, carbon):
    """Heat lost with carbon monoxide, ``CO / (CO2 + CO) C 10150 Btu/lb``, per kg of fuel.

    co2, co: volume fractions of the dry flue gas; carbon: kg per kg of fuel. Example: 14.33, 0.11 and 78.57 %: 61
    Btu/lb in the book, 60.7 here.
    """
    return co / (co2 + co) * carbon * 10150.0 * _BTU_PER_POUND


@quantities("J/kg", carbon_in_ash="", at_least={"carbon_in_ash": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_ash_loss(carbon_in_ash):
    """Heat left with the carbon in ash and refuse, 14600 Btu/lb of it, per kg of fuel.

    carbon_in_ash: kg per kg of fuel. Example: 10.00 % of refuse, 17.9 % of it combustible: 261 Btu/lb in the book,
    261.3 here.
    """
    return 14600.0 * _BTU_PER_POUND * carbon_in_ash


@quantities("", co2_dry="", air_vapour="", source="mixing of two streams, by moles")
def burnt_share_by_co2(co2_dry, air_vapour, products: Products):
    """Mole share of flue gas in a stream of it and air, by the carbon dioxide in the dry gas, which no draining takes.

    With ``s = (c - ca) / (cf - ca)`` of the dry gas, and each dry part back with its own water: mole share
    ``s/(1-xf) / (s/(1-xf) + (1-s)/(1-xa))``. co2_dry c: mole fraction of CO2 in the dry stream (as
    `solution.Solution` has it); air_vapour xa: mole fraction of water in the air; products: of
    `products`, whose gas holds cf and xf. Kept within 0 and 1.
    """
    air = Gas.dry_air().co2
    share = np.clip((co2_dry - air) / (products.co2_dry - air), 0.0, 1.0)
    burnt, drawn = share / (1.0 - products.gas.h2o), (1.0 - share) / (1.0 - air_vapour)
    return burnt / (burnt + drawn)
