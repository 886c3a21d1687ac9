"""Combustion: federal F-factors, handbook flows, a federal efficiency table, old air tables, Cantera."""

from dataclasses import replace

import cantera
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.gas.atmosphere import ATOMIC_MASS, DRY_AIR, DRY_AIR_MOLAR_MASS, MOLAR_MASS
from ventcalc.gas.combustion import (
    HANDBOOK_FLOW,
    SO2_MOLAR_MASS,
    flue_gas_per_heat,
    handbook_flow,
    products,
    theoretical_air,
    ultimate_co2,
    volume_per_heat,
)
from ventcalc.gas.combustion_analysis import co_air_free, excess_air_from_co2, excess_air_from_o2
from ventcalc.gas.fuels import FUELS, fuel, gas_fuel, oil_fuel
from ventcalc.gas.stack_loss import efficiency, stack_loss
from ventcalc.gas.steam_book import (
    steam_book_air,
    steam_book_air_ratio,
    steam_book_ash_loss,
    steam_book_co_loss,
    steam_book_dry_gas,
    steam_book_dry_loss,
    steam_book_water_loss,
)
from ventcalc.units import Q_, UnitsError

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


def f_factors(which):
    """Fd, Fw, Fc in scf per MMBtu: dry, wet and carbon dioxide of theoretical combustion."""
    burned = products.bare(which, 0.0)
    wet = (burned.mass_per_heat - which.sulphur / ATOMIC_MASS["S"] * SO2_MOLAR_MASS / which.hhv) / burned.gas.molar_mass
    wet = wet / (1 - burned.so2_wet) * JOULE_PER_MMBTU / MOLE_PER_SCF
    water = burned.water_per_heat / MOLAR_MASS["h2o"] * JOULE_PER_MMBTU / MOLE_PER_SCF
    dry = wet - water
    return {"Fd": dry, "Fw": wet, "Fc": burned.co2_dry * dry}


# F-factors are rounded means over a class of fuels. 40 CFR 98 gives the carbon of the same fuels afresh and
# shows the scatter: its CO2 per heat means Fc 1024 for natural gas (1040 here), 1213 for propane (1190), 1250
# for butane (1250), 1427 for oil (1420). Stoichiometry sides with Part 98, within 0.5 % (test_fuels), so the
# allowance here is 2.5 %. Worst: Fw of propane, 2.4 % above the factor; natural gas Fd 1.0 % and Fc 1.5 %
# below, Fw 0.1 % above.
@pytest.mark.parametrize("key", keys(1, 12))
def test_f_factors(key):
    row = CHECKS[key]
    found = f_factors(BY_NAME[row["fuel"]])[row["quantity"][:2]]
    assert found == pytest.approx(value(key), rel=0.025)


# Fc from kg of CO2 per MMBtu: 385.3 scf per lb-mol at 68 degF, as the note of these rows says.
@pytest.mark.parametrize("key", keys(20, 23))
def test_carbon_f_factor_against_part_98(key):
    expected = value(key) / (44.01 * 0.45359237 / 385.3)
    assert f_factors(BY_NAME[CHECKS[key]["fuel"]])["Fc"] == pytest.approx(expected, rel=6e-3)


@pytest.mark.parametrize("key", ["C024", "C026", "C028", "C031", "C032"])
def test_ultimate_co2(key):
    tolerance = float(CHECKS[key]["tolerance_suggested"].split()[0])
    assert ultimate_co2(BY_NAME[CHECKS[key]["fuel"]]).m_as("percent") == pytest.approx(value(key), abs=tolerance)


@pytest.mark.parametrize(("key", "carbon", "hydrogen"), [("C024", 1, 4), ("C026", 3, 8), ("C028", 4, 10)])
def test_the_rows_of_ultimate_co2_are_what_their_source_says(key, carbon, hydrogen):
    # Dry products of CnHm in air of 21.0 % oxygen, the rest nitrogen: n over n + (n + m/4) 0.79/0.21. The rows once
    # said 20.95 %, with which methane gives 11.70 %, not 11.73.
    assert "21.0 % oxygen" in CHECKS[key]["source"]
    nitrogen = (carbon + hydrogen / 4) * 0.79 / 0.21
    assert 100 * carbon / (carbon + nitrogen) == pytest.approx(value(key), abs=0.005)


def test_temperature_rises_of_the_tables_conditions_stand_in_data():
    # Cited by the chapter on capacity tables and its tests; the chimney handbook's conditions for initial sizing.
    assert (value("C046"), value("C048")) == (165.0, 135.0)
    assert CHECKS["C046"]["unit"] == CHECKS["C048"]["unit"] == "K"


@pytest.mark.parametrize("key", ["C025", "C027", "C029", "C030"])
def test_theoretical_air(key):
    tolerance = float(CHECKS[key]["tolerance_suggested"].split()[0])
    assert theoretical_air(BY_NAME[CHECKS[key]["fuel"]]) == pytest.approx(value(key), abs=tolerance)


def solid(row):
    """The dry fuel of a row, by its mass fractions; the rest is ash. Its heating value plays no part."""
    parts = {"C": "carbon_pct", "H": "hydrogen_pct", "O": "oxygen_pct", "S": "sulfur_pct", "H2O": "moisture_pct"}
    known = {part: float(row[column] or 0) / 100 for part, column in parts.items()}
    return oil_fuel(row["fuel"], known | {"ash": 1 - sum(known.values())}, hhv=30e6)


@pytest.mark.parametrize("key", [*keys(85, 90), "C105"])
def test_theoretical_air_of_solid_fuels(key):
    # Table of 1919-1922 by its formula 11.52 C + 34.56 (H - O/8) + 4.32 S, whose hydrogen weighs 1 and not 1.008.
    # Oil (C090) misses the suggested 0.1 by 0.001: the formula gives 14.24, the table prints 14.3, and hydrogen
    # at its true weight makes it 14.20.
    tolerance = {"C090": 0.105}.get(key, float(CHECKS[key]["tolerance_suggested"].split()[0]))
    assert theoretical_air(solid(CHECKS[key])) == pytest.approx(value(key), abs=tolerance)


def test_theoretical_air_of_a_worked_coal():
    # Same book, formula (10).
    assert theoretical_air(solid(CHECKS["C091"])) == pytest.approx(value("C091"), abs=0.02)


@pytest.mark.parametrize(
    ("key", "which"),
    [
        ("C092", oil_fuel("carbon", {"C": 1.0}, 32.8e6)),
        ("C096", gas_fuel("carbon monoxide", {"CO": 1.0})),
        ("C099", METHANE),
        ("C101", oil_fuel("sulphur", {"S": 1.0}, 9.2e6)),
    ],
)
def test_air_for_single_substances(key, which):
    assert theoretical_air(which) == pytest.approx(value(key), rel=0.005)


def test_air_for_hydrogen():
    # The old table's hydrogen has the atomic weight 1 exactly; over 1.008 it agrees within its 0.5 %.
    assert theoretical_air(gas_fuel("hydrogen", {"H2": 1.0})) == pytest.approx(value("C097") / 1.008, rel=0.005)


def test_air_for_an_old_natural_gas():
    # Same book, second example: 8.13 ft3 of air per ft3 of gas. Its factors (methane 9.57) mean air of 20.9 %
    # oxygen, so ours is brought to that before comparing.
    parts = {"O2": 0.0040, "CO": 0.0095, "CO2": 0.0034, "C2H4": 0.0066, "C2H6": 0.0355, "CH4": 0.7215, "H2": 0.2195}
    gas = gas_fuel("old natural gas", parts)
    carbon = sum(parts[c] * n for c, n in {"CO": 1, "CO2": 1, "C2H4": 2, "C2H6": 2, "CH4": 1}.items())
    molar_mass = carbon * ATOMIC_MASS["C"] / gas.carbon
    volumes = theoretical_air(gas) * molar_mass / DRY_AIR_MOLAR_MASS
    assert volumes * DRY_AIR["o2"] / 0.209 == pytest.approx(value("C104"), abs=0.02)


def test_air_ratio_of_a_coal_boiler():
    # Same book, formula (14): 1.73 from O2 9.0 and N2 80.3 % dry, for the coal of row C110.
    ratio = 1 + excess_air_from_o2(solid(CHECKS["C110"]), float(CHECKS["C110"]["o2_dry_pct"]) / 100)
    assert ratio.m == pytest.approx(value("C110"), abs=0.01)


def test_propane_with_a_fortieth_of_oxygen():
    # University homework solution: 2.5 % oxygen in the wet products means 115 % theoretical air, and fuel to
    # air 0.056 by mass.
    excess = brentq(lambda e: products.bare(PROPANE, e).gas.o2 - 0.025, 0, 1)
    assert 1 + excess == pytest.approx(value("C119"), abs=0.005)
    assert 1 / (theoretical_air(PROPANE) * (1 + excess)) == pytest.approx(value("C120"), abs=0.0005)


def printed_flow(key, co2_percent):
    """Flue gas per heat by a printed coefficient set, a (b + c / %CO2) lb per 1000 Btu, in kg/MJ."""
    a, b, c = (float(x) for x in CHECKS[key]["value"].split(";"))
    return Q_(a * (b + c / co2_percent), "lb/kBtu").m_as("kg/MJ")


# The printed mass-flow equations lie 2 to 5 % below the balance of elements. Their leading term a c, as dry gas
# of 29.7 g/mol, means 51 (natural gas), 60 (propane) and 69 (oil) kg of CO2 per MMBtu where 40 CFR Part 98 states
# 53.06, 62.87 and 73.96. The flow test below, built on Part 98 and Method 19 alone, sides with ours. So
# the deviation is bounded, not called agreement.
@pytest.mark.parametrize(
    ("key", "which", "co2", "low", "high"),
    [
        ("C033", NATURAL_GAS, 5.3, 1.02, 1.03),
        ("C033", NATURAL_GAS, 8.0, 1.015, 1.03),
        ("C033", NATURAL_GAS, 11.0, 1.00, 1.03),
        ("C034", PROPANE, 6.0, 1.02, 1.035),
        ("C034", PROPANE, 10.0, 1.01, 1.035),
        ("C035", OIL, 9.0, 1.03, 1.055),
        ("C035", OIL, 12.0, 1.02, 1.055),
    ],
)
def test_flow_against_handbook_equations(key, which, co2, low, high):
    found = flue_gas_per_heat(which, excess_air_from_co2(which, co2 / 100)).m_as("kg/MJ")
    assert low < found / printed_flow(key, co2) < high


# The values printed from those equations, with the same one-sided deviation (0.02 to 0.03 kg/MJ) in place of
# the suggested 0.01: ours 0.678 for 0.66, 0.703 for 0.68, 0.556 for 0.53 kg/MJ.
@pytest.mark.parametrize(("key", "excess"), [("C039", 0.018), ("C040", 0.023), ("C041", 0.027)])
def test_flow_against_printed_values(key, excess):
    which, co2 = BY_NAME[CHECKS[key]["fuel"]], float(CHECKS[key]["co2_dry_pct"]) / 100
    found = flue_gas_per_heat(which, excess_air_from_co2(which, co2)).m_as("kg/MJ")
    assert found == pytest.approx(value(key) + excess, abs=0.005)


def test_flow_against_a_value_in_pounds():
    # C045: 1.057 lb/1000 Btu by the same equation; ours is 2.3 % more, by the same cause.
    found = flue_gas_per_heat(NATURAL_GAS, excess_air_from_co2(NATURAL_GAS, 0.08)).m_as("lb/kBtu")
    assert found == pytest.approx(1.023 * value("C045"), abs=0.005)


@pytest.mark.parametrize(("name", "key"), [("natural gas", "C033"), ("propane", "C034"), ("no. 2 oil", "C035")])
def test_handbook_equation(name, key):
    # Coefficients from memory, as the rows say; with them the values printed in a public sheet come out.
    assert CHECKS[key]["status"].startswith("from memory")
    assert ";".join(f"{x:g}" for x in HANDBOOK_FLOW[name]) == CHECKS[key]["value"]
    printed = {"natural gas": ("C039", 5.3), "propane": ("C040", 6), "no. 2 oil": ("C041", 9)}[name]
    assert handbook_flow(name, Q_(printed[1], "percent")).m == pytest.approx(value(printed[0]), abs=0.01)
    assert handbook_flow(name, 0.08).m == pytest.approx(printed_flow(key, 8.0), rel=1e-12)
    # What its coefficients stand for: a the theoretical air per heat, 2.4 to 2.6 % low in all three fuels, and c the
    # ultimate CO2 times dry gas over air by volume, met within 2 %. The dry gas is weighed as air: 2 to 5 % too little.
    which, (a, _, c) = BY_NAME["oil" if "oil" in name else name], HANDBOOK_FLOW[name]
    air = Q_(theoretical_air(which) / which.hhv, "kg/J").m_as("lb/MBH/hour")
    assert 0.974 < a / air < 0.977
    dry_over_air = volume_per_heat.bare(which, 0.0)[0] / (1e6 * air_volume(which))
    assert c / (100 * ultimate_co2.bare(which) * dry_over_air) == pytest.approx(1, abs=0.012)


def air_volume(which):
    """Theoretical air at the federal standard conditions, m3 per J."""
    return theoretical_air(which) / which.hhv / DRY_AIR_MOLAR_MASS * 8.314462618 * 293.15 / Q_(29.92, "inHg").m_as("Pa")


def test_another_fuel_has_no_handbook_equation():
    with pytest.raises(ValueError, match="no. 2 oil"):
        handbook_flow("coal", 0.1)


@pytest.mark.parametrize("which", [NATURAL_GAS, PROPANE, OIL], ids=lambda f: f.name)
def test_volumes_are_those_of_the_federal_factors(which):
    # The same by another route: mass over molar mass, in the units of Method 19.
    dry, wet = volume_per_heat(which, 0.0)
    found = f_factors(which)
    assert 1000 * dry.m_as("ft**3/MBH/hour") == pytest.approx(found["Fd"], rel=1e-4)
    assert 1000 * wet.m_as("ft**3/MBH/hour") == pytest.approx(found["Fw"], rel=1e-4)
    more = volume_per_heat(which, Q_(100, "percent"))[0]
    assert (more - dry).m == pytest.approx(1e6 * air_volume(which), rel=1e-4)


@pytest.mark.parametrize(
    ("which", "carbon", "dry", "wet", "co2"),
    [
        (NATURAL_GAS, "C020", "C001", "C007", 0.053),
        (NATURAL_GAS, "C020", "C001", "C007", 0.08),
        (PROPANE, "C022", "C003", "C008", 0.06),
        (OIL, "C021", "C010", "C011", 0.09),
    ],
)
def test_flow_against_federal_factors_alone(which, carbon, dry, wet, co2):
    # Moles of dry gas = CO2 (Part 98) over its share; its mean molar mass from CO2, O2 and the rest at 28.15
    # g/mol (nitrogen with argon); water = Fw - Fd. 1.5 %: the rounding of those factors.
    moles = value(carbon) / 0.04401 / co2 / JOULE_PER_MMBTU
    oxygen = 0.2095 * (1 - co2 / ultimate_co2.bare(which))
    molar_mass = co2 * 0.04401 + oxygen * 0.032 + (1 - co2 - oxygen) * 0.02815
    water = (value(wet) - value(dry)) * MOLE_PER_SCF / JOULE_PER_MMBTU * 0.018015
    found = flue_gas_per_heat.bare(which, excess_air_from_co2.bare(which, co2))
    assert found == pytest.approx(1e6 * (moles * molar_mass + water), rel=0.015)


NET_STACK_ROWS = [pytest.param(CHECKS[k], id=k) for k in keys(60, 84)]
AIR_TEMPERATURE = 294.26  # K, 70 degF


def tabulated_efficiency(row, burned=NATURAL_GAS):
    """Our efficiency in percent at the oxygen and net stack temperature of a row."""
    excess = excess_air_from_o2.bare(burned, float(row["o2_dry_pct"]) / 100)
    net = Q_(float(row["net_stack_temp_F"]), "delta_degF").m_as("delta_degC")
    return 100 * efficiency.bare(burned, excess, AIR_TEMPERATURE + net, AIR_TEMPERATURE)


# US DOE steam tip sheet. Ours lies 0.42 to 0.80 points above the table, always on one side, where 0.5 was
# suggested: the sheet's loss is 1.028 times ours in every row, at every excess air and temperature. So neither specific
# heats nor a reference temperature are the cause (constants of 0.24 and 0.46 Btu/(lb F) would make its loss smaller),
# but what all losses are divided by. The sheet prints no heating value. Cantera's enthalpies give our loss
# within 0.02 points (test below), so the table is bounded here, not fitted.
@pytest.mark.parametrize("row", NET_STACK_ROWS)
def test_efficiency_against_the_federal_table(row):
    assert 0.4 < tabulated_efficiency(row) - float(row["value"]) < 0.85


def test_one_heating_value_explains_the_federal_table():
    # The same gas with a round 1000 Btu/ft3 in place of its 1025.6 (60 degF, 30 inHg, dry): all 25 rows within 0.12
    # points, of which 0.05 is their rounding. An inference: the sheet does not say what gas it means.
    share = 1000 / 1025.6
    hhv = NATURAL_GAS.hhv * share
    poorer = replace(NATURAL_GAS, hhv=hhv, lhv=hhv - (NATURAL_GAS.hhv - NATURAL_GAS.lhv))
    found = [tabulated_efficiency(p.values[0], poorer) - float(p.values[0]["value"]) for p in NET_STACK_ROWS]
    assert len(found) == 25 and max(np.abs(found)) < 0.12


@pytest.mark.parametrize("row", NET_STACK_ROWS)
def test_constant_specific_heats_do_not_explain_the_federal_table(row):
    # The usual short form: dry gas at 0.24 Btu/(lb F), vapour at 1089 + 0.46 T - t Btu/lb (to 575 degF), on
    # methane of 23875 Btu/lb. It lies above the table as ours does, by 0.2 to 1.2 points.
    net, excess = float(row["net_stack_temp_F"]), float(row["excess_air_pct"]) / 100
    dry = 0.7487 * 44.01 / 12.011 + (0.7685 + excess) * 17.24
    vapour = 8.937 * 0.2513 * (1089 + 0.46 * (70 + net) - 70)
    short_form = 100 * (1 - (0.24 * dry * net + vapour) / 23875)
    assert 0.2 < short_form - float(row["value"]) < 1.2


@pytest.mark.parametrize("row", NET_STACK_ROWS)
def test_excess_air_against_the_federal_table(row):
    # Printed to 0.1; at 7 and 10 % O2 the sheet's 44.9 and 81.6 belong to air of nearly 21 % oxygen: 0.5 more here.
    excess = 100 * excess_air_from_o2.bare(NATURAL_GAS, float(row["o2_dry_pct"]) / 100)
    assert excess == pytest.approx(float(row["excess_air_pct"]), abs=0.1 if float(row["o2_dry_pct"]) < 6 else 0.5)


def test_fuel_saved_by_tuning():
    # DOE worked example: 44.9 % excess air at 400 degF net (C077) to 9.5 % at 300 (C061) saves 5.90 % of
    # 500,000 MMBtu/yr, 29,482. The offset above makes it 3 % less here.
    before, after = tabulated_efficiency(CHECKS["C077"]), tabulated_efficiency(CHECKS["C061"])
    assert 500_000 * (1 - before / after) == pytest.approx(29_482, rel=0.04)


def test_every_check_row_is_used():
    used = [
        *keys(1, 13),
        *keys(19, 36),
        *keys(39, 41),
        *keys(45, 46),
        "C048",
        *keys(52, 92),
        "C096",
        "C097",
        "C099",
        "C101",
    ]
    used += ["C015", *keys(104, 120)]
    assert set(CHECKS) == set(used)


# The steam book's worked examples, each number from the book's own formula. Where ours does not round to what is
# printed the book truncates (1.736, 618.6, 1311.9), or slips: 13.7 lb of dry gas (C113) where its printed numbers make
# 13.82.
def test_flue_gas_from_a_coal_analysis():
    row = CHECKS["C105"]
    assert steam_book_air(0.821, 0.0425, 0.026, 0.016).m == pytest.approx(value("C105"), abs=0.005)
    assert steam_book_dry_gas(0.107, 0.09, 0.803).m == pytest.approx(value("C106"), abs=0.005)
    assert 0.80 * steam_book_dry_gas(0.107, 0.09, 0.803).m == pytest.approx(value("C107"), abs=0.005)
    flue, room = Q_(float(row["stack_temp_F"]), "degF"), Q_(float(row["ambient_F"]), "degF")
    loss = steam_book_dry_loss(value("C107"), flue, room).m_as("Btu/lb")
    assert loss == pytest.approx(value("C108"), abs=0.5)
    assert 100 * loss / 14500 == pytest.approx(value("C109"), abs=0.06)
    assert steam_book_air_ratio(0.09, 0.803).m == pytest.approx(value("C110"), abs=0.01)


def test_boiler_heat_balance():
    flue, room = Q_(480, "degF"), Q_(81, "degF")
    assert steam_book_water_loss(0.0183, flue, room).m_as("Btu/lb") == pytest.approx(value("C111"), abs=1)
    formed = steam_book_water_loss(9 * 0.0560, flue, room).m_as("Btu/lb")
    assert formed == pytest.approx(value("C112"), abs=1)
    assert steam_book_dry_gas(0.1433, 0.0454, 0.8102, 0.0011).m * 0.7857 == pytest.approx(13.82, abs=0.005)
    dry = steam_book_dry_loss(value("C113"), flue, room).m_as("Btu/lb")
    assert dry == pytest.approx(value("C114"), abs=1)
    assert 100 * dry / 14225 == pytest.approx(value("C117"), abs=0.01)
    assert 100 * formed / 14225 == pytest.approx(value("C118"), abs=0.01)
    assert steam_book_co_loss(0.1433, 0.0011, 0.7857).m_as("Btu/lb") == pytest.approx(value("C115"), abs=0.5)
    assert steam_book_ash_loss(0.10 * 0.179).m_as("Btu/lb") == pytest.approx(value("C116"), abs=0.5)


def test_steam_book_rules_beside_the_balance_of_elements():
    # Theoretical air: within 1 % for coal. Air ratio: 1.736 where the balance gives 1.734. Dry gas per carbon: the
    # same moles, 44, 32 and 28 over 12. Argon is counted as nitrogen, 28 for 28.16: 0.6 % less.
    coal = solid(CHECKS["C105"])
    assert steam_book_air(0.821, 0.0425, 0.026, 0.016).m == pytest.approx(theoretical_air(coal), rel=0.01)
    assert steam_book_air_ratio(0.09, 0.803).m == pytest.approx(1 + excess_air_from_o2.bare(coal, 0.09), abs=0.01)
    carbon = oil_fuel("carbon", {"C": 1.0}, 32.8e6)
    burned = products.bare(carbon, 0.5)
    nitrogen = 1 - burned.co2_dry - burned.o2_dry
    per_carbon = burned.mass_per_heat * carbon.hhv
    assert steam_book_dry_gas(burned.co2_dry, burned.o2_dry, nitrogen).m == pytest.approx(per_carbon, rel=7e-3)


# Cantera: the same reactants at equilibrium, with gri30's thermodynamics. Lean and cool, equilibrium is
# complete combustion; nitric oxide is below 1e-6.
@pytest.fixture(scope="module")
def gri30():
    return cantera.Solution("gri30.yaml")


BURNABLE = {"CH4": 0.93, "C2H6": 0.04, "C3H8": 0.01, "CO2": 0.01, "N2": 0.01}
TEST_GAS = gas_fuel("test gas", BURNABLE)


def reactants(excess, vapour):
    """Moles of everything that enters per mole of the test gas."""
    oxygen = 2 * BURNABLE["CH4"] + 3.5 * BURNABLE["C2H6"] + 5 * BURNABLE["C3H8"]
    air = oxygen / DRY_AIR["o2"] * (1 + excess)
    names = {"co2": "CO2", "n2": "N2", "o2": "O2", "ar": "AR"}
    moles = dict(BURNABLE) | {"H2O": air * vapour / (1 - vapour)}
    for species, name in names.items():
        moles[name] = moles.get(name, 0) + DRY_AIR[species] * air
    return moles


@pytest.mark.parametrize("excess", [0.05, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("vapour", [0.0, 0.02])
def test_composition_against_equilibrium(excess, vapour, gri30):
    gri30.TPX = 500, 101325, reactants(excess, vapour)
    gri30.equilibrate("TP")
    gas = products.bare(TEST_GAS, excess, vapour).gas
    for species, name in {"co2": "CO2", "h2o": "H2O", "n2": "N2", "o2": "O2", "ar": "AR"}.items():
        assert getattr(gas, species) == pytest.approx(gri30[name].X[0], rel=1e-3)
    assert gas.molar_mass == pytest.approx(gri30.mean_molecular_weight / 1000, rel=1e-4)


@pytest.mark.parametrize("excess", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("flue", [350.0, 500.0, 700.0])
def test_stack_loss_against_cantera_enthalpies(excess, flue, gri30):
    # Heat left in the flue gas = HHV - (enthalpy in - enthalpy out); fuel at 25 degC, air at 10 degC.
    moles = reactants(excess, 0.0)
    air = {name: moles[name] - BURNABLE.get(name, 0) for name in ("CO2", "N2", "O2", "AR")}

    def enthalpy(composition, temperature):
        gri30.TPX = temperature, 101325, composition
        return sum(composition.values()) * gri30.enthalpy_mole / 1000

    gri30.TPX = 500, 101325, moles
    gri30.equilibrate("TP")
    burned = dict(zip(gri30.species_names, gri30.X, strict=True))
    argon = moles["AR"] / burned["AR"]
    burned = {name: x * argon for name, x in burned.items() if x > 1e-12}
    given_off = enthalpy(BURNABLE, 298.15) + enthalpy(air, 283.15) - enthalpy(burned, flue)
    carbon = BURNABLE["CH4"] + 2 * BURNABLE["C2H6"] + 3 * BURNABLE["C3H8"] + BURNABLE["CO2"]
    hhv = TEST_GAS.hhv * carbon * ATOMIC_MASS["C"] / TEST_GAS.carbon
    # 0.02 points: measured 0.012, the difference of the two sets of specific and formation heats.
    assert stack_loss.bare(TEST_GAS, excess, flue, 283.15) == pytest.approx(1 - given_off / hhv, abs=2e-4)


OXYGENATED = oil_fuel(
    "wet wood", {"C": 0.4, "H": 0.05, "O": 0.34, "N": 0.003, "S": 0.001, "H2O": 0.2, "ash": 0.006}, 16e6
)
H2S_GAS = gas_fuel("sour gas", {"CH4": 0.9, "H2S": 0.02, "H2": 0.05, "H2O": 0.03})
ALL_FUELS = [*FUELS.values(), METHANE, BUTANE, OXYGENATED, H2S_GAS]
fuels_strategy = st.sampled_from(ALL_FUELS)


@given(fuels_strategy, st.floats(0, 20), st.floats(0, 0.1))
def test_mass_closes(which, excess, vapour):
    burned = products.bare(which, excess, vapour)
    assert burned.mass_per_heat == pytest.approx((1 - which.inert) / which.hhv + burned.air_per_heat, rel=1e-12)
    assert burned.gas.mole_fractions.sum() == pytest.approx(1, abs=1e-12)
    # The gas with its sulphur dioxide, and its water, weigh what they are said to.
    gas_mass = burned.gas.mass_fractions
    so2 = burned.so2_wet / (1 - burned.so2_wet) * SO2_MOLAR_MASS / burned.gas.molar_mass
    assert burned.water_per_heat * (1 + so2) == pytest.approx(burned.mass_per_heat * gas_mass["h2o"], rel=1e-12)


@given(fuels_strategy, st.floats(0, 5))
def test_excess_air_comes_back_from_co2_and_o2(which, excess):
    burned = products.bare(which, excess)
    assert excess_air_from_co2.bare(which, burned.co2_dry) == pytest.approx(excess, abs=1e-9)
    assert excess_air_from_o2.bare(which, burned.o2_dry) == pytest.approx(excess, abs=1e-9)


@given(fuels_strategy, st.floats(0, 4), st.floats(0.01, 1))
def test_more_air_means_less_co2_more_gas_more_loss(which, excess, more):
    lean, rich = products.bare(which, excess + more), products.bare(which, excess)
    assert lean.co2_dry < rich.co2_dry <= ultimate_co2.bare(which)
    assert lean.o2_dry > rich.o2_dry and lean.mass_per_heat > rich.mass_per_heat
    assert stack_loss.bare(which, excess + more, 450.0, 293.15) > stack_loss.bare(which, excess, 450.0, 293.15)
    assert stack_loss.bare(which, excess, 460.0, 293.15) > stack_loss.bare(which, excess, 450.0, 293.15)


@pytest.mark.parametrize("which", ALL_FUELS, ids=lambda f: f.name)
def test_loss_at_reference_temperature_is_the_latent_heat(which):
    # All at 25 degC and dry air: only the water's latent heat leaves. Exact by definition of HHV and LHV.
    latent = 1 - which.lhv / which.hhv
    assert stack_loss.bare(which, 0.4, 298.15, 298.15) == pytest.approx(latent, rel=1e-9)
    assert efficiency.bare(which, 0.4, 298.15, 298.15) == pytest.approx(1 - latent, rel=1e-12)


def test_humid_air_carries_water_and_a_little_loss():
    dry, humid = products.bare(NATURAL_GAS, 0.3), products.bare(NATURAL_GAS, 0.3, 0.02)
    assert humid.gas.h2o > dry.gas.h2o and humid.co2_dry == pytest.approx(dry.co2_dry, rel=1e-12)
    added = humid.water_per_heat - dry.water_per_heat
    assert added == pytest.approx(humid.air_per_heat - dry.air_per_heat, rel=1e-9)
    assert (
        0
        < stack_loss.bare(NATURAL_GAS, 0.3, 450.0, 293.15, 0.02) - stack_loss.bare(NATURAL_GAS, 0.3, 450.0, 293.15)
        < 0.003
    )


def test_sulphur_dioxide_of_oil():
    # Common practice: 1 % of sulphur in oil means some 500 to 550 ppm SO2 in the dry gas at 3 % O2.
    burned = products.bare(OIL, excess_air_from_o2.bare(OIL, 0.03))
    dry = burned.so2_wet / (1 - burned.gas.h2o)
    assert 480e-6 < dry * 0.01 / OIL.sulphur < 580e-6
    assert products.bare(METHANE, 0.2).so2_wet == 0


@pytest.mark.parametrize(
    ("co", "oxygen", "printed", "tolerance"),
    [
        (87, 5, 114, 1),  # HVAC training article on air-free CO (published; exactly 114.4)
        (100, 5, 131.4, 0.2),  # same formula, CO x 20.9 / (20.9 - O2): computed from it
        (50, 9, 87.8, 0.2),
        (200, 12, 469.7, 2.0),
    ],
)
def test_co_air_free(co, oxygen, printed, tolerance):
    # Printed with air of 20.9 % oxygen; 20.95 % gives 0.08 % less at 5 % O2 and 0.33 % less at 12 %.
    assert co_air_free(Q_(co, "ppm"), Q_(oxygen, "percent")).m_as("ppm") == pytest.approx(printed, abs=tolerance)


def test_arrays_agree_with_single_calls():
    excess = np.array([[0.0, 0.5], [1.0, 3.0]])
    together = products.bare(OIL, excess, 0.01)
    for index, e in np.ndenumerate(excess):
        single = products.bare(OIL, e, 0.01)
        assert together.mass_per_heat[index] == pytest.approx(single.mass_per_heat, rel=1e-14)
        assert together.gas.h2o[index] == pytest.approx(single.gas.h2o, rel=1e-14)
    assert together.gas.o2.shape == together.excess_air.shape == (2, 2)
    assert stack_loss.bare(OIL, excess, 450.0, 290.0).shape == (2, 2)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: products(NATURAL_GAS, -0.1), "excess_air = -0.1 must be at least 0"),
        (lambda: products(NATURAL_GAS, float("nan")), "NaN"),
        (lambda: excess_air_from_co2(NATURAL_GAS, 0.13), "11.88 % CO2"),
        (lambda: excess_air_from_co2(NATURAL_GAS, 0.0004), "more than 0.04 %"),
        (lambda: excess_air_from_o2(NATURAL_GAS, 0.2095), "0 to 20.9 %"),
        (lambda: excess_air_from_o2(NATURAL_GAS, -0.01), "11.88 %"),
        (lambda: stack_loss(NATURAL_GAS, 0.3, Q_(2000, "K"), Q_(293, "K")), "200 to 1600 K"),
        (lambda: co_air_free(Q_(10, "ppm"), 0.21), "o2_dry"),
        (lambda: co_air_free(Q_(-10, "ppm"), 0.05), "co = -10"),
    ],
)
def test_impossible_inputs_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_ultimate_co2_itself_is_no_excess_air():
    assert excess_air_from_co2.bare(NATURAL_GAS, ultimate_co2.bare(NATURAL_GAS)) == pytest.approx(0, abs=1e-12)
    for which in ALL_FUELS:
        assert 0 <= excess_air_from_o2.bare(which, 0.0) < 1e-12  # never below zero, which `products` refuses
        assert products(which, excess_air_from_o2(which, 0.0)).o2_dry == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("function", "si", "us"),
    [
        (excess_air_from_co2, [0.08], [Q_(8, "percent")]),
        (excess_air_from_o2, [0.05], [Q_(5, "percent")]),
        (flue_gas_per_heat, [0.3], [Q_(30, "percent")]),
        (stack_loss, [0.3, Q_(200, "degC"), Q_(20, "degC")], [Q_(30, "percent"), Q_(392, "degF"), Q_(68, "degF")]),
        (efficiency, [0.3, Q_(200, "degC"), Q_(20, "degC")], [Q_(30, "percent"), Q_(392, "degF"), Q_(68, "degF")]),
    ],
)
def test_same_case_in_si_and_us_units(function, si, us):
    assert function(PROPANE, *si).m == pytest.approx(function(PROPANE, *us).m, rel=1e-9)


def test_steam_book_losses_in_si_units():
    us, si = (Q_(500, "degF"), Q_(60, "degF")), (Q_(260, "degC"), Q_(60, "degF").to("degC"))
    for function in (steam_book_dry_loss, steam_book_water_loss):
        assert function(0.5, *us).m == pytest.approx(function(Q_(50, "percent"), *si).m, rel=1e-9)
    assert volume_per_heat(PROPANE, Q_(30, "percent"))[1] == volume_per_heat(PROPANE, 0.3)[1]


def test_products_and_co_in_other_units():
    assert products(OIL, Q_(30, "percent")).mass_per_heat == products(OIL, 0.3).mass_per_heat
    assert co_air_free(Q_(1e-4, ""), 0.05).m_as("ppm") == pytest.approx(co_air_free(Q_(100, "ppm"), 0.05).m)
    assert ultimate_co2(OIL).m_as("percent") == pytest.approx(100 * ultimate_co2.bare(OIL))


def test_temperature_difference_is_no_flue_temperature():
    with pytest.raises(UnitsError, match="flue_temperature"):
        stack_loss(OIL, 0.3, Q_(200, "delta_degC"), Q_(20, "degC"))
