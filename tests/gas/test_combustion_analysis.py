"""Combustion analysis: excess air against the federal table and back from what it makes; carbon monoxide air-free."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_combustion import ALL_FUELS, NATURAL_GAS, NET_STACK_ROWS, OIL

from ventcalc.gas.combustion import (
    products,
    ultimate_co2,
)
from ventcalc.gas.combustion_analysis import (
    burnt_share_by_co2,
    co_air_free,
    excess_air_from_co2,
    excess_air_from_o2,
)
from ventcalc.gas.flue_gas import Gas
from ventcalc.units import Q_


@pytest.mark.parametrize("row", NET_STACK_ROWS)
def test_excess_air_against_the_federal_table(row):
    # Printed to 0.1; at 7 and 10 % O2 the sheet's 44.9 and 81.6 belong to air of nearly 21 % oxygen: 0.5 more here.
    excess = 100 * excess_air_from_o2.bare(NATURAL_GAS, float(row["o2_dry_pct"]) / 100)
    assert excess == pytest.approx(float(row["excess_air_pct"]), abs=0.1 if float(row["o2_dry_pct"]) < 6 else 0.5)


fuels_strategy = st.sampled_from(ALL_FUELS)


@given(fuels_strategy, st.floats(0, 5))
def test_excess_air_comes_back_from_co2_and_o2(which, excess):
    burned = products.bare(which, excess)
    assert excess_air_from_co2.bare(which, burned.co2_dry) == pytest.approx(excess, abs=1e-9)
    assert excess_air_from_o2.bare(which, burned.o2_dry) == pytest.approx(excess, abs=1e-9)


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


def test_ultimate_co2_itself_is_no_excess_air():
    assert excess_air_from_co2.bare(NATURAL_GAS, ultimate_co2.bare(NATURAL_GAS)) == pytest.approx(0, abs=1e-12)
    for which in ALL_FUELS:
        assert 0 <= excess_air_from_o2.bare(which, 0.0) < 1e-12  # never below zero, which `products` refuses
        assert products(which, excess_air_from_o2(which, 0.0)).o2_dry == pytest.approx(0, abs=1e-12)


def test_products_and_co_in_other_units():
    assert products(OIL, Q_(30, "percent")).mass_per_heat == products(OIL, 0.3).mass_per_heat
    assert co_air_free(Q_(1e-4, ""), 0.05).m_as("ppm") == pytest.approx(co_air_free(Q_(100, "ppm"), 0.05).m)
    assert ultimate_co2(OIL).m_as("percent") == pytest.approx(100 * ultimate_co2.bare(OIL))


@given(fuels_strategy, st.floats(0.0, 2.0), st.floats(0.0, 0.04), st.floats(0.0, 1.0))
def test_a_mixture_of_flue_gas_and_moist_air_is_told_apart_again(which, excess, vapor, share):
    """Mixed by moles, by hand: so much of the flue gas, the rest moist air of 420 ppm of CO2 in its dry part."""
    burnt = products.bare(which, excess)
    dry = share * (1.0 - burnt.gas.h2o) + (1.0 - share) * (1.0 - vapor)
    carbon_dioxide = share * (1.0 - burnt.gas.h2o) * burnt.co2_dry + (1.0 - share) * (1.0 - vapor) * Gas.dry_air().co2
    assert float(burnt_share_by_co2.bare(carbon_dioxide / dry, vapor, burnt)) == pytest.approx(share, abs=1e-9)


def test_an_oxygen_that_no_flue_gas_has_is_named_itself():
    for o2, named in (([0.05, 0.25], "25 %"), ([-0.02, 0.05], "-2 %")):
        with pytest.raises(ValueError, match=f"o2_dry = {named}"):
            excess_air_from_o2.bare(OIL, np.array(o2))
