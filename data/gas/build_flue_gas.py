"""Builds flue_gas.csv: pure-gas properties of the five species of flue gas, from CoolProp.

Run ``python data/gas/build_flue_gas.py``; CoolProp is needed here and in the tests, never by the library.

- Specific heat is the ideal-gas cp0 of each reference equation of state. It is never taken from a
  "gas" state of water: near 330 K and 1 atm that state is metastable and its cp is wrong by nine.
- Viscosity and thermal conductivity are taken at a vanishing density, the dilute limit.
- Transport of water vapor below its triple point: the power law of temperature that is tangent to the
  dilute terms at 273.16 K. The terms themselves turn upwards there (viscosity over root T has a minimum at
  230 K), which no gas does; vapor is under 0.6 % of any gas that cold.
- Above 1173 K for water, above 1100 K for the conductivity of carbon dioxide, and below the triple point
  of carbon dioxide, the dilute terms are used as they stand beyond the range their authors state; they
  stay smooth, and the tests compare them with Cantera there.
"""

import csv
from pathlib import Path

import CoolProp
import numpy as np

SPECIES = {"co2": "CarbonDioxide", "h2o": "Water", "n2": "Nitrogen", "o2": "Oxygen", "ar": "Argon"}
TEMPERATURES = np.arange(200.0, 1601.0, 20.0)  # K
VANISHING = 1e-6  # mol/m3: low enough that every density term of the transport equations is gone
WATER_TRIPLE_POINT = 273.16  # K

SOURCES = {
    "co2": "Span & Wagner 1996 (cp0); Laesecke & Muzny 2017 (viscosity); Huber et al. 2016 (conductivity)",
    "h2o": "IAPWS-95 (cp0); IAPWS R12-08 (viscosity); IAPWS R15-11 (conductivity)",
    "n2": "Span et al. 2000 (cp0); Lemmon & Jacobsen 2004 (transport)",
    "o2": "Schmidt & Wagner 1985 (cp0); Lemmon & Jacobsen 2004 (transport)",
    "ar": "Tegeler et al. 1999 (cp0); Lemmon & Jacobsen 2004 (transport)",
}

# What stands above the columns.
HEAD = """\
# Part I, gas: pure-gas properties in the dilute limit, 200 to 1600 K, from CoolProp {version}
# by build_flue_gas.py; sources are those of CoolProp's equations.
# Columns: temperature_K [K]; cp0_J_per_mol_K [J/(mol K)]; viscosity_Pa_s [Pa s]; conductivity_W_per_m_K [W/(m K)];
# status: how far it may be trusted (ventcalc/tables.py). Words or plain numbers without a unit: species.
"""


def dilute(fluid, temperature):
    """Molar cp0, viscosity and conductivity of a pure gas at vanishing density, SI units."""
    state = CoolProp.AbstractState("HEOS", fluid)
    state.specify_phase(CoolProp.iphase_gas)
    state.update(CoolProp.DmolarT_INPUTS, VANISHING, temperature)
    return np.array([state.cp0molar(), state.viscosity(), state.conductivity()])


def cold_vapor(temperature):
    """As `dilute` for water below its triple point, transport by the tangent power law."""
    at, beside = dilute("Water", WATER_TRIPLE_POINT), dilute("Water", WATER_TRIPLE_POINT + 0.1)
    power = np.log(beside / at) / np.log1p(0.1 / WATER_TRIPLE_POINT)
    transport = at * (temperature / WATER_TRIPLE_POINT) ** power
    return np.array([dilute("Water", temperature)[0], *transport[1:]])


def rows():
    """Rows of the table: species, temperature, molar cp0, viscosity, conductivity."""
    for species, fluid in SPECIES.items():
        for temperature in TEMPERATURES:
            cold = species == "h2o" and temperature < WATER_TRIPLE_POINT
            properties = cold_vapor(temperature) if cold else dilute(fluid, temperature)
            yield [species, f"{temperature:.0f}", *(f"{p:.7g}" for p in properties), SOURCES[species], "computed"]


def main():
    """Write the table beside this script."""
    with (Path(__file__).with_name("flue_gas.csv")).open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD.format(version=CoolProp.__version__))
        table = csv.writer(file, lineterminator="\n")
        table.writerow(
            [
                "species",
                "temperature_K",
                "cp0_J_per_mol_K",
                "viscosity_Pa_s",
                "conductivity_W_per_m_K",
                "source",
                "status",
            ]
        )
        table.writerows(rows())


if __name__ == "__main__":
    main()
