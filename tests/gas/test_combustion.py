"""Combustion: federal F-factors, handbook flows, a federal efficiency table, old air tables, Cantera."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_combustion import (
    ALL_FUELS,
    BY_NAME,
    CHECKS,
    JOULE_PER_MMBTU,
    METHANE,
    MOLE_PER_SCF,
    NATURAL_GAS,
    OIL,
    PROPANE,
    TEST_GAS,
    keys,
    reactants,
    value,
)
from scipy.optimize import brentq

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
from ventcalc.gas.fuels import gas_fuel, oil_fuel
from ventcalc.gas.stack_loss import efficiency, stack_loss
from ventcalc.units import Q_


def f_factors(which):
    """Fd, Fw, Fc in scf per MMBtu: dry, wet and carbon dioxide of theoretical combustion."""
    burned = products.bare(which, 0.0)
    wet = (burned.mass_per_heat - which.sulfur / ATOMIC_MASS["S"] * SO2_MOLAR_MASS / which.hhv) / burned.gas.molar_mass
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
        ("C101", oil_fuel("sulfur", {"S": 1.0}, 9.2e6)),
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


def test_burning_sulfur_leaves_the_volume_of_its_air():
    """S + O2 gives one mole for one: pure sulfur's flue gas, dry and wet, has the volume of its air. 9.28 MJ/kg."""
    sulfur = oil_fuel("sulfur", {"S": 1.0}, 9.28e6)
    for volume in volume_per_heat.bare(sulfur, 0.0):
        assert volume == pytest.approx(1e6 * air_volume(sulfur), rel=1e-4)


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


@pytest.mark.parametrize("excess", [0.05, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("vapor", [0.0, 0.02])
def test_composition_against_equilibrium(excess, vapor, gri30):
    gri30.TPX = 500, 101325, reactants(excess, vapor)
    gri30.equilibrate("TP")
    gas = products.bare(TEST_GAS, excess, vapor).gas
    for species, name in {"co2": "CO2", "h2o": "H2O", "n2": "N2", "o2": "O2", "ar": "AR"}.items():
        assert getattr(gas, species) == pytest.approx(gri30[name].X[0], rel=1e-3)
    assert gas.molar_mass == pytest.approx(gri30.mean_molecular_weight / 1000, rel=1e-4)


fuels_strategy = st.sampled_from(ALL_FUELS)


@given(fuels_strategy, st.floats(0, 20), st.floats(0, 0.1))
def test_mass_closes(which, excess, vapor):
    burned = products.bare(which, excess, vapor)
    assert burned.mass_per_heat == pytest.approx((1 - which.inert) / which.hhv + burned.air_per_heat, rel=1e-12)
    assert burned.gas.mole_fractions.sum() == pytest.approx(1, abs=1e-12)
    # The gas with its sulfur dioxide, and its water, weigh what they are said to.
    gas_mass = burned.gas.mass_fractions
    so2 = burned.so2_wet / (1 - burned.so2_wet) * SO2_MOLAR_MASS / burned.gas.molar_mass
    assert burned.water_per_heat * (1 + so2) == pytest.approx(burned.mass_per_heat * gas_mass["h2o"], rel=1e-12)


def test_sulfur_dioxide_of_oil():
    # Common practice: 1 % of sulfur in oil means some 500 to 550 ppm SO2 in the dry gas at 3 % O2.
    burned = products.bare(OIL, excess_air_from_o2.bare(OIL, 0.03))
    dry = burned.so2_wet / (1 - burned.gas.h2o)
    assert 480e-6 < dry * 0.01 / OIL.sulfur < 580e-6
    assert products.bare(METHANE, 0.2).so2_wet == 0


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
        (
            lambda: stack_loss(NATURAL_GAS, 0.3, Q_(2000, "K"), Q_(293, "K")),
            "flue_temperature = 2000 K must be at most",
        ),
        (lambda: co_air_free(Q_(10, "ppm"), 0.21), "o2_dry"),
        (lambda: co_air_free(Q_(-10, "ppm"), 0.05), "co = -10"),
    ],
)
def test_impossible_inputs_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


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
