"""Fuels and published rows for the tests of combustion."""

import pytest

from ventcalc import tables
from ventcalc.gas.atmosphere import DRY_AIR
from ventcalc.gas.fuels import FUELS, fuel, gas_fuel, oil_fuel
from ventcalc.units import Q_

CHECKS = {row["id"]: row for row in tables.read("combustion_checks")}
NATURAL_GAS, PROPANE, OIL = fuel("natural gas"), fuel("propane"), fuel("no. 2 oil")
METHANE = gas_fuel("methane", {"CH4": 1.0})
BUTANE = gas_fuel("n-butane", {"n-C4H10": 1.0})
BY_NAME = {
    "natural gas": NATURAL_GAS,
    "propane": PROPANE,
    "LP gas": PROPANE,
    "butane": BUTANE,
    "n-butane": BUTANE,
    "methane": METHANE,
    "oil": OIL,
    "No. 2 oil": OIL,
    "light fuel oil": OIL,
    "distillate fuel oil No. 2": OIL,
}


JOULE_PER_MMBTU = Q_(1e6, "Btu").m_as("J")


# scf of the F-factors: 68 degF and 29.92 inHg (40 CFR 60 App. A-7, Method 19).
MOLE_PER_SCF = Q_(1, "ft**3").m_as("m**3") * Q_(29.92, "inHg").m_as("Pa") / (8.314462618 * 293.15)


def value(key):
    return float(CHECKS[key]["value"])


def keys(first, last):
    return [f"C{n:03d}" for n in range(first, last + 1)]


NET_STACK_ROWS = [pytest.param(CHECKS[k], id=k) for k in keys(60, 84)]
AIR_TEMPERATURE = 294.26  # K, 70 degF


# Cantera: the same reactants at equilibrium, with gri30's thermodynamics. Lean and cool, equilibrium is
# complete combustion; nitric oxide is below 1e-6.


BURNABLE = {"CH4": 0.93, "C2H6": 0.04, "C3H8": 0.01, "CO2": 0.01, "N2": 0.01}
TEST_GAS = gas_fuel("test gas", BURNABLE)


def reactants(excess, vapor):
    """Moles of everything that enters per mole of the test gas."""
    oxygen = 2 * BURNABLE["CH4"] + 3.5 * BURNABLE["C2H6"] + 5 * BURNABLE["C3H8"]
    air = oxygen / DRY_AIR["o2"] * (1 + excess)
    names = {"co2": "CO2", "n2": "N2", "o2": "O2", "ar": "AR"}
    moles = dict(BURNABLE) | {"H2O": air * vapor / (1 - vapor)}
    for species, name in names.items():
        moles[name] = moles.get(name, 0) + DRY_AIR[species] * air
    return moles


OXYGENATED = oil_fuel(
    "wet wood", {"C": 0.4, "H": 0.05, "O": 0.34, "N": 0.003, "S": 0.001, "H2O": 0.2, "ash": 0.006}, 16e6
)


H2S_GAS = gas_fuel("sour gas", {"CH4": 0.9, "H2S": 0.02, "H2": 0.05, "H2O": 0.03})
ALL_FUELS = [*FUELS.values(), METHANE, BUTANE, OXYGENATED, H2S_GAS]
