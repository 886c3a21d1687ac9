"""Fuels: heating values against independent thermochemistry and federal figures; refusals."""

import copy
import dataclasses
import pickle

import cantera
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.gas import fuels
from ventcalc.gas.atmosphere import ATOMIC_MASS, MOLAR_MASS
from ventcalc.gas.fuels import FUELS, fuel, gas_fuel, oil_fuel
from ventcalc.units import Q_

CHECKS = {row["id"]: row for row in tables.read("combustion_checks")}
MOLE_PER_SCF_60F = Q_(1, "ft**3").m_as("m**3") * 101325 / (8.314462618 * Q_(60, "degF").m_as("K"))
METHANE = gas_fuel("methane", {"CH4": 1.0})
CARBON_DIOXIDE = MOLAR_MASS["co2"] / ATOMIC_MASS["C"]  # kg per kg of carbon


def molar_mass(of):
    """kg/mol of a gas fuel, from its carbon per molecule and per kilogram."""
    known = {row["component"]: int(row["C"]) for row in tables.read("fuels_components")}
    total = sum(x for _, x in of.composition)
    return sum(x * known[c] for c, x in of.composition) / total * ATOMIC_MASS["C"] / of.carbon


# Enthalpies of formation in Cantera's nasa_gas.yaml (NASA thermodynamic database), independent of ISO 6976.
# 0.15 % covers the difference of the two compilations (largest: hydrogen sulfide and the butanes).
NASA_NAMES = {
    "CH4": "CH4",
    "C2H6": "C2H6",
    "C3H8": "C3H8",
    "n-C4H10": "C4H10,n-butane",
    "i-C4H10": "C4H10,isobutane",
    "C5H12": "C5H12,n-pentane",
    "C2H4": "C2H4",
    "C3H6": "C3H6,propylene",
    "H2": "H2",
    "CO": "CO",
    "H2S": "H2S",
}


@pytest.fixture(scope="module")
def formation():
    """Enthalpy at 298.15 K of each NASA species, J/mol."""
    species = {s.name: s for s in cantera.Species.list_from_file("nasa_gas.yaml")}
    return lambda name: species[name].thermo.h(298.15) / 1000


@pytest.mark.parametrize("component", NASA_NAMES)
def test_heat_of_combustion_against_nasa(component, formation):
    row = tables.row("fuels_components", component, "component")
    c, h, o, s = (int(row[e]) for e in "CHOS")
    water = formation("H2O") - 44013  # liquid; enthalpy of vaporization 44.013 kJ/mol, ISO 6976:2016
    burned = c * formation("CO2") + h / 2 * water + (s and s * formation("SO2"))
    heat = formation(NASA_NAMES[component]) + (c + h / 4 + s - o / 2) * formation("O2") - burned
    assert 1000 * float(row["enthalpy_of_combustion_kJ_per_mol"]) == pytest.approx(heat, rel=1.5e-3)


def test_heat_of_combustion_of_hexane_continues_the_series():
    # The NASA file has no n-hexane. Each CH2 of a normal alkane adds 657 to 660 kJ/mol (common practice).
    heat = {c: float(tables.row("fuels_components", c, "component")["enthalpy_of_combustion_kJ_per_mol"])
            for c in ("n-C4H10", "C5H12", "C6H14")}  # fmt: skip
    assert 657 < heat["C5H12"] - heat["n-C4H10"] < 660
    assert 657 < heat["C6H14"] - heat["C5H12"] < 660


def test_heating_values_of_methane():
    # Moran and Shapiro, Fundamentals of Engineering Thermodynamics, Table A-25: HHV 55510, LHV 50020 kJ/kg.
    assert METHANE.hhv == pytest.approx(55.51e6, abs=5e3)
    assert METHANE.lhv == pytest.approx(50.02e6, abs=8e3)


@pytest.mark.parametrize(
    ("component", "hhv", "lhv"),
    [("H2", 141780, 119950), ("C2H6", 51870, 47480), ("C3H8", 50350, 46360), ("C2H4", 50300, 47160)],
)
def test_heating_values_of_other_gases(component, hhv, lhv):
    # Same table, kJ/kg. It is rounded to 10 kJ/kg and rests on older enthalpies: 0.1 %.
    gas = gas_fuel(component, {component: 1.0})
    assert gas.hhv == pytest.approx(1000 * hhv, rel=1e-3)
    assert gas.lhv == pytest.approx(1000 * lhv, rel=1e-3)


def test_natural_gas_per_cubic_foot():
    # 40 CFR 98 Table C-1: 1026 Btu/scf, the US average. The composition here is one utility's typical gas:
    # within 2 %.
    gas = fuel("natural gas")
    found = Q_(gas.hhv * molar_mass(gas) * MOLE_PER_SCF_60F, "J").m_as("Btu")
    assert found == pytest.approx(float(CHECKS["C013"]["value"]), rel=0.02)


def test_natural_gas_per_cubic_meter_as_its_source_prints():
    # The analysis comes with 38.0 MJ/m3 (dry, 15 degC, 101.325 kPa) within a usual range of 36.0 to 40.2:
    # a round figure beside a round composition, whose ideal gas gives 38.2. Hence 1 %.
    gas = fuel("natural gas")
    volume = 8.314462618 * 288.15 / 101325
    assert gas.hhv * molar_mass(gas) / volume == pytest.approx(38.0e6, rel=0.01)


def test_propane_per_cubic_foot():
    # 40 CFR 98 Table C-1: 2516 Btu/scf; 0.2 % for its rounding and ours.
    gas = fuel("propane")
    found = Q_(gas.hhv * molar_mass(gas) * MOLE_PER_SCF_60F, "J").m_as("Btu")
    assert found == pytest.approx(float(CHECKS["C019"]["value"]), rel=2e-3)


# kg of CO2 per MMBtu (HHV), 40 CFR 98 Table C-1. Natural gas and propane within 0.5 % of the national
# average. The oil's carbon was chosen to meet its figure, so that row only guards the choice.
@pytest.mark.parametrize(
    ("key", "which"),
    [
        ("C020", FUELS["natural gas"]),
        ("C021", FUELS["no. 2 oil"]),
        ("C022", FUELS["propane"]),
        ("C023", gas_fuel("n-butane", {"n-C4H10": 1.0})),
    ],
)
def test_carbon_dioxide_per_heat(key, which):
    found = which.carbon * CARBON_DIOXIDE / Q_(which.hhv, "J").m_as("Btu") * 1e6
    assert found == pytest.approx(float(CHECKS[key]["value"]), rel=5e-3)


def test_oil_of_the_table_has_the_federal_heat_content():
    # 40 CFR 98 Table C-1: 0.138 MMBtu/gal; ASTM D396 bounds No. 2 oil at 30 API (0.876 kg/L) and heavier than
    # kerosene at 0.82 kg/L (common practice): the density that joins the two must fall between.
    liter = Q_(1e6 * float(CHECKS["C015"]["value"]), "Btu").m_as("J") / Q_(1, "gallon").m_as("liter")
    assert 0.82 < liter / fuel("no. 2 oil").hhv < 0.876


@pytest.mark.parametrize("name", FUELS)
def test_elements_of_a_kilogram_sum_to_one(name):
    f = FUELS[name]
    parts = f.carbon, f.hydrogen, f.oxygen, f.nitrogen, f.sulfur, f.water, f.inert
    assert sum(parts) == pytest.approx(1, abs=1e-12)
    assert f.source.strip()


@given(st.floats(0, 1), st.floats(0, 0.5))
def test_heating_value_of_a_mixture_lies_between_its_parts(share, inert):
    burning = 1 - inert
    gas = gas_fuel("mixture", {"CH4": share * burning, "C3H8": (1 - share) * burning, "N2": inert})
    volume_heat = gas.hhv * molar_mass(gas)
    assert volume_heat == pytest.approx(1000 * burning * (share * 890.58 + (1 - share) * 2219.17), rel=1e-9)
    assert gas.lhv < gas.hhv


def test_water_vapor_in_a_gas_counts_in_hhv_only():
    wet = gas_fuel("wet methane", {"CH4": 0.97, "H2O": 0.03})
    per_mole = molar_mass(wet)
    assert wet.lhv * per_mole == pytest.approx(0.97 * (890.58e3 - 2 * 44013), rel=1e-9)
    assert (wet.hhv - wet.lhv) * per_mole == pytest.approx((0.97 * 2 + 0.03) * 44013, rel=1e-9)


def test_oil_lower_heating_value():
    # ASTM D4809: LHV = HHV - 0.2122 H (MJ/kg, H in percent), from constant volume; here constant pressure,
    # 0.2184 H: from memory. Both heats of water differ by the work of the gas, 3 %.
    oil = oil_fuel("oil", {"C": 0.87, "H": 0.13}, 45.5e6)
    assert oil.hhv - oil.lhv == pytest.approx(13 * 0.2184e6, rel=1e-3)
    # Moisture takes its own heat of vaporization, 2.443 MJ/kg at 25 degC (44.013 kJ/mol, ISO 6976:2016).
    moist = oil_fuel("moist oil", {"C": 0.783, "H": 0.117, "H2O": 0.1}, 40.95e6)
    assert moist.hhv - moist.lhv == pytest.approx(11.7 * 0.2184e6 + 0.2443e6, rel=1e-3)


def test_fractions_within_a_thousandth_are_scaled():
    assert gas_fuel("g", {"CH4": 0.9995}).hhv == pytest.approx(METHANE.hhv, rel=1e-12)


@pytest.mark.parametrize("total", [0.9985, 1.0015])
def test_sum_off_one_is_refused_with_the_sum(total):
    with pytest.raises(ValueError, match=f"sum to {total}"):
        gas_fuel("g", {"CH4": total - 0.5, "N2": 0.5})
    with pytest.raises(ValueError, match=f"sum to {total}"):
        oil_fuel("o", {"C": total - 0.5, "H": 0.5}, 45e6)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: gas_fuel("g", {"CH5": 1.0}), "unknown 'CH5'; known are CH4"),
        (lambda: gas_fuel("g", {"CH4": 1.2, "N2": -0.2}), "CH4 = 1.2"),
        (lambda: gas_fuel("g", {"CH4": float("nan")}), "CH4 = nan"),
        (lambda: gas_fuel("inert", {"N2": 1.0}), "heating values"),
        (lambda: oil_fuel("o", {"C": 0.87, "H": 0.13}, -1.0), "hhv = -1 J/kg must be above 0"),
        (lambda: oil_fuel("o", {"CH4": 1.0}, 45e6), "unknown 'CH4'"),
        (lambda: gas_fuel("g", {}), "sum to 0"),
    ],
)
def test_impossible_fuels_are_refused(build, words):
    with pytest.raises(ValueError, match=words):
        build()


def test_lookup():
    assert fuel(" Natural Gas ") is FUELS["natural gas"]
    for name in ("peat", None):
        with pytest.raises(ValueError, match="natural gas, propane, no. 2 oil"):
            fuel(name)


def test_a_fuel_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        METHANE.hhv = 1.0
    with pytest.raises(TypeError):
        FUELS["peat"] = METHANE
    # It can be a dictionary key, be copied and be sent to another process.
    assert pickle.loads(pickle.dumps(METHANE)) == METHANE and hash(METHANE) == hash(copy.deepcopy(METHANE))
    assert fuels.FUELS["propane"].kind == "gas" and fuels.FUELS["no. 2 oil"].kind == "liquid"
