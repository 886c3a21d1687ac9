"""Leakage: the published areas of a hole that leaks as much."""

import pytest

from ventcalc import tables
from ventcalc.building import leakage
from ventcalc.units import Q_, OutOfRangeWarning

ROWS = {row["id"]: row for row in tables.read("combustion_air_checks")}


def test_leakage_areas():
    # R001 and R002: CFM50 over the effective (4 Pa, C = 1) and the equivalent leakage area (10 Pa, C = 0.61). The
    # second is a rule of thumb printed as "approximately 10"; the power law of 0.65 gives 9.7.
    one, fifty = Q_(1.0, "cfm"), Q_(50.0, "Pa")
    effective = leakage.leakage_area(one, fifty).m_as("inch**2")
    equivalent = leakage.leakage_area(one, fifty, at=Q_(10.0, "Pa"), coefficient=0.61).m_as("inch**2")
    assert 1.0 / effective == pytest.approx(float(ROWS["R001"]["value"]), rel=0.01)
    assert 1.0 / equivalent == pytest.approx(float(ROWS["R002"]["value"]), rel=0.05)
    assert 1.0 / equivalent == pytest.approx(9.69, abs=0.005)  # a pin of our own number


def test_us_and_si_units_agree():
    at, flow, fifty = Q_(0.02, "inH2O"), Q_(900, "cfm"), Q_(50, "Pa")
    assert leakage.leakage_flow(at, flow, fifty).m == pytest.approx(leakage.leakage_flow(at.to("Pa"), flow, fifty).m)
    assert leakage.leakage_area(flow, fifty).m == pytest.approx(leakage.leakage_area(flow.to("m**3/s"), fifty).m)


def test_an_exponent_beyond_one_is_told():
    with pytest.warns(OutOfRangeWarning, match="exponent"):
        leakage.leakage_flow(Q_(4, "Pa"), Q_(1, "cfm"), Q_(50, "Pa"), 1.2)


def test_leakage_turns_with_the_pressure():
    flow, fifty = Q_(900, "cfm"), Q_(50, "Pa")
    out, into = (leakage.leakage_flow(Q_(p, "Pa"), flow, fifty).m_as("cfm") for p in (50.0, -50.0))
    assert (out, into) == pytest.approx((900.0, -900.0))
