"""CO conversions: by hand, there and back, in US units, and by two roads to air-free."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_exposures import GAS, SEA_LEVEL

from ventcalc.building import co_conversions
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_

ppm = st.floats(0.0, 5000.0)


def test_one_part_per_million_by_hand():
    # 28.010 g/mol over 24.465 L/mol (any chemistry text: ideal gas at 25 °C and one atmosphere).
    assert co_conversions.mass_concentration(Q_(1, "ppm"), Q_(25, "degC"), SEA_LEVEL).m == pytest.approx(
        28.010 / 24.465, rel=1e-4
    )


@given(ppm, st.floats(250.0, 330.0), st.floats(6e4, 1.1e5))
def test_conversion_there_and_back(level, kelvin, pascal):
    mass = co_conversions.mass_concentration.bare(level, kelvin, pascal)
    assert co_conversions.volume_concentration.bare(mass, kelvin, pascal) == pytest.approx(level, abs=1e-9)


def test_conversion_in_us_units():
    si = co_conversions.mass_concentration(Q_(50, "ppm"), Q_(20, "degC"), Q_(90, "kPa"))
    us = co_conversions.mass_concentration(Q_(50, "ppm"), Q_(68, "degF"), Q_(90 / 3.386389, "inHg"))
    assert us.m == pytest.approx(si.m, rel=1e-6)


@given(ppm, st.floats(0.0, 0.2))
def test_as_measured_undoes_air_free(level, oxygen):
    again = combustion_analysis.co_air_free.bare(co_conversions.as_measured.bare(level, oxygen), oxygen)
    assert again == pytest.approx(level, abs=1e-9)


def test_two_roads_to_air_free_meet():
    # O2 and CO2 of the same flue gas: they differ only by the CO2 of the air itself, left out by one of them.
    ultimate = combustion.ultimate_co2.bare(fuel("natural gas"))
    by_oxygen = combustion_analysis.co_air_free.bare(100.0, GAS.o2_dry)
    by_carbon = co_conversions.co_air_free_by_co2.bare(100.0, GAS.co2_dry, ultimate)
    # The dry gas shrinks as oxygen is used up, which the first one leaves out: 2 % apart for natural gas.
    assert by_carbon == pytest.approx(by_oxygen, rel=0.03)


def test_more_carbon_dioxide_than_can_be():
    with pytest.raises(ValueError, match=r"co2_dry = 13 % is more than the ultimate"):
        co_conversions.co_air_free_by_co2(Q_(100, "ppm"), Q_(13, "percent"), Q_(11.9, "percent"))
