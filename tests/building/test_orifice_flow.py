"""Orifice flow: the trade's velocity through an opening, and flow and pressure as inverses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.building import orifice_flow
from ventcalc.units import Q_

ROWS = {row["id"]: row for row in tables.read("combustion_air_checks")}


def test_flow_through_an_opening():
    # R003 and R004, the trade's 4005 sqrt(p): C = 1, standard air. Its inch of water is that of 68 °F, 0.2 % lighter
    # than the conventional one, and its velocity 0.1 % lower.
    pressure, air = Q_(0.05, "inH2O"), Q_(0.075, "lb/ft**3")
    flow = orifice_flow.opening_flow(pressure, Q_(2.0, "ft**2"), air, 1.0)
    assert (flow / Q_(2.0, "ft**2")).m_as("fpm") == pytest.approx(float(ROWS["R003"]["value"]), rel=0.002)
    assert flow.m_as("cfm") == pytest.approx(float(ROWS["R004"]["value"]), abs=10.0)


@given(st.floats(-100.0, 100.0), st.floats(0.01, 5.0))
def test_pressure_and_flow_of_an_opening_are_inverse(pascal, area):
    air, area = Q_(1.3, "kg/m**3"), Q_(area, "m**2")
    flow = orifice_flow.opening_flow(Q_(pascal, "Pa"), area, air)
    assert orifice_flow.opening_pressure(flow, area, air).m == pytest.approx(pascal, abs=1e-9)


def test_us_and_si_units_agree():
    air, area = Q_(0.075, "lb/ft**3"), Q_(1, "ft**2")
    pressure, flow = Q_(0.02, "inH2O"), Q_(900, "cfm")
    one, other = (orifice_flow.opening_flow(p, area, air) for p in (pressure, pressure.to("Pa")))
    assert one.m == pytest.approx(other.m, rel=1e-9)
    one, other = (
        orifice_flow.opening_pressure(q, area, a) for q, a in ((flow, air), (flow.to("m**3/s"), air.to("kg/m**3")))
    )
    assert one.m == pytest.approx(other.m, rel=1e-9)
