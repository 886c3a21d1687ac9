"""Stack loss: efficiency against the federal table, enthalpies against Cantera, limits."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_combustion import (
    AIR_TEMPERATURE,
    ALL_FUELS,
    BURNABLE,
    CHECKS,
    NATURAL_GAS,
    NET_STACK_ROWS,
    OIL,
    TEST_GAS,
    reactants,
    value,
)

from ventcalc.gas.atmosphere import ATOMIC_MASS
from ventcalc.gas.combustion import (
    products,
    ultimate_co2,
)
from ventcalc.gas.combustion_analysis import excess_air_from_o2
from ventcalc.gas.stack_loss import efficiency, stack_loss
from ventcalc.gas.steam_book import (
    steam_book_ash_loss,
    steam_book_co_loss,
    steam_book_dry_gas,
    steam_book_dry_loss,
    steam_book_water_loss,
)
from ventcalc.units import Q_, UnitsError


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
    # The usual short form: dry gas at 0.24 Btu/(lb F), vapor at 1089 + 0.46 T - t Btu/lb (to 575 degF), on
    # methane of 23875 Btu/lb. It lies above the table as ours does, by 0.2 to 1.2 points.
    net, excess = float(row["net_stack_temp_F"]), float(row["excess_air_pct"]) / 100
    dry = 0.7487 * 44.01 / 12.011 + (0.7685 + excess) * 17.24
    vapor = 8.937 * 0.2513 * (1089 + 0.46 * (70 + net) - 70)
    short_form = 100 * (1 - (0.24 * dry * net + vapor) / 23875)
    assert 0.2 < short_form - float(row["value"]) < 1.2


def test_fuel_saved_by_tuning():
    # DOE worked example: 44.9 % excess air at 400 degF net (C077) to 9.5 % at 300 (C061) saves 5.90 % of
    # 500,000 MMBtu/yr, 29,482. The offset above makes it 3 % less here.
    before, after = tabulated_efficiency(CHECKS["C077"]), tabulated_efficiency(CHECKS["C061"])
    assert 500_000 * (1 - before / after) == pytest.approx(29_482, rel=0.04)


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


fuels_strategy = st.sampled_from(ALL_FUELS)


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


def test_temperature_difference_is_no_flue_temperature():
    with pytest.raises(UnitsError, match="flue_temperature"):
        stack_loss(OIL, 0.3, Q_(200, "delta_degC"), Q_(20, "degC"))
