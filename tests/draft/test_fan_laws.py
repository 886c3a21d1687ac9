"""Fan laws: published figures, both unit systems, density by a general library."""

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_fans import FANS, MIDDLE

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.draft import fan_curve, fan_laws
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.handbook.fans import checks
from ventcalc.units import Q_, UnitsError

STANDARD = 0.075 * 0.45359237 / 0.3048**3  # kg/m3


def test_every_row_of_the_table_is_met():
    # Values, tolerances, sources and statuses: data/draft/fans_checks.csv, all rows of the reference figures.
    found = checks()
    assert [c.id for c in found] == [row["id"] for row in tables.read("fans_checks")]
    assert all(c.agrees for c in found) and unexplained(found) == []


def test_standard_air_is_nearly_dry_air_at_70_degrees():
    # The note of F001: 70 F and 29.92 inHg give 0.0749 lb/ft3.
    density = fan_laws.density_factor(Q_(70.0, "degF"), Q_(0.0, "ft")) * atmosphere.STANDARD_AIR
    assert density.m_as("lb/ft**3") == pytest.approx(0.0749, abs=5e-5)


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
@given(share=st.floats(-0.3, 1.6), speed=st.floats(0.1, 1.0), ratio=st.floats(0.2, 3.0), density=st.floats(0.3, 1.5))
def test_the_curve_scales_exactly(fan, share, speed, ratio, density):
    flow = share * fan.free_flow * speed
    here = fan_curve.static_pressure.bare(fan, flow, speed, STANDARD)
    there = fan_curve.static_pressure.bare(fan, ratio * flow, ratio * speed, density)
    by_law = here * ratio**2 * density / STANDARD
    assert there == pytest.approx(by_law, rel=1e-10, abs=1e-10 * fan.rated[0].pressure)
    power = fan_curve.shaft_power.bare(fan, flow, speed, STANDARD)
    assert fan_curve.shaft_power.bare(fan, ratio * flow, ratio * speed, density) == pytest.approx(
        power * ratio**3 * density / STANDARD, rel=1e-10
    )


def test_a_point_by_the_laws_in_both_unit_systems():
    us = fan_laws.by_the_laws(Q_(1000.0, "cfm"), Q_(0.5, "inH2O"), Q_(0.2, "horsepower"), 0.8, 0.7)
    si = fan_laws.by_the_laws(Q_(0.4719474432, "m**3/s"), Q_(124.5445, "Pa"), Q_(149.13997, "W"), 0.8, 0.7)
    for a, b in zip(us, si, strict=True):
        assert a.to_base_units().m == pytest.approx(b.to_base_units().m, rel=1e-6)
    assert us[1].m_as("inH2O") == pytest.approx(0.5 * 0.64 * 0.7)


def test_density_there_and_back():
    hot = Q_(0.0522, "lb/ft**3")
    wanted = Q_(0.5, "inH2O")
    looked_up = fan_laws.to_standard_air(wanted, hot)
    assert looked_up.m_as("inH2O") == pytest.approx(0.5 * 0.075 / 0.0522)
    assert fan_laws.from_standard_air(looked_up, hot).m_as("Pa") == pytest.approx(0.5 * 249.089, rel=1e-6)


def test_density_factor_of_flue_gas_uses_its_own_molar_mass():
    gas = flue_gas.Gas(co2=0.09, h2o=0.16, n2=0.73, o2=0.02)
    temperature, altitude = Q_(150.0, "degC"), Q_(2400.0, "m")
    by_hand = float(atmosphere.standard_pressure(altitude).m) * gas.molar_mass / (8.314462618 * 423.15) / STANDARD
    assert fan_laws.density_factor(temperature, altitude, gas).m == pytest.approx(by_hand, rel=1e-6)


def test_density_factor_at_altitude_against_a_general_library():
    # fluids' own coding of the US Standard Atmosphere 1976; with R/M of dry air 287.05 J/(kg K).
    for altitude in (0.0, 1500.0, 2400.0):
        expected = fluids.ATMOSPHERE_1976(altitude).P / (287.05 * 450.0) / STANDARD
        assert fan_laws.density_factor(Q_(450.0, "K"), Q_(altitude, "m")).m == pytest.approx(expected, rel=1e-4)


def test_laws_refuse_what_cannot_be():
    with pytest.raises(ValueError, match="density_ratio"):
        fan_laws.by_the_laws(Q_(1.0, "m**3/s"), Q_(1.0, "Pa"), Q_(1.0, "W"), 1.0, 0.0)
    with pytest.raises(UnitsError, match="flow needs"):
        fan_curve.static_pressure(MIDDLE, 0.3, 1.0, Q_(1.0, "kg/m**3"))
    with pytest.raises(ValueError, match="speed"):
        fan_curve.static_pressure(MIDDLE, Q_(0.3, "m**3/s"), -0.1, Q_(1.0, "kg/m**3"))


def test_a_fan_that_stands_still_does_nothing():
    found = fan_laws.by_the_laws(Q_(1000.0, "cfm"), Q_(0.5, "inH2O"), Q_(0.2, "horsepower"), 0.0)
    assert [value.m for value in found] == [0.0, 0.0, 0.0]
