"""Sensor errors: equations against published figures and hand cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.checked import compare, unexplained
from ventcalc.draft import sensor_error
from ventcalc.draft.sensor_error import (
    disturbance,
    hole_error,
    leg_error,
    narrowing_error,
    seen,
    span_error,
    wall_wind_coefficient,
)
from ventcalc.draft.sensor_location import shares_seen
from ventcalc.flow import friction
from ventcalc.units import Q_

STANDARD_AIR = Q_(0.075, "lb/ft**3")  # published, F001 of the fan figures


def published():
    ours = {
        "SL01": (2.0 * Q_(1.0, "inH2O") / STANDARD_AIR) ** 0.5 / Q_(1.0, "fpm"),
        "SL02": friction.velocity_head(STANDARD_AIR, Q_(1000.0, "fpm")),
        "SL21": span_error(Q_(0.0, "psi"), Q_(100.0, "psi"), Q_(0.25, "percent")).m_as("psi"),
        "SL22": span_error(Q_(0.0, "psi"), Q_(100.0, "psi"), Q_(0.25, "percent")) / Q_(10.0, "psi"),
        "SL31": sensor_error.STRAIGHT_BEHIND,
        "SL32": sensor_error.STRAIGHT_BEFORE,
        "SL33": sensor_error.STILL_CLOSE,
    }
    ours["SL01"] = float(ours["SL01"].m_as(""))
    for row in tables.read("sensor_location_checks"):
        if row["angle_deg"]:
            ours[row["id"]] = wall_wind_coefficient(Q_(float(row["angle_deg"]), "degree"))
    return compare("sensor_location_checks", ours)


def test_published_figures():
    found = published()
    assert {c.id for c in found} == {r["id"] for r in tables.read("sensor_location_checks")}
    assert all(c.agrees for c in found)
    assert unexplained(found) == []


def test_leg_is_a_chimney():
    # Steam, Its Generation and Use: a 100 ft column of 0.0414 lb/ft3 beside air of 0.0761 draws 0.67 in. w.c.
    found = leg_error(Q_(100, "ft"), Q_(0.0414, "lb/ft**3"), Q_(0.0761, "lb/ft**3"))
    (check,) = compare("draft_checks", {"D003": -found})
    assert check.to_the_last_digit


def test_narrowing_without_loss_is_the_handbooks_tapered_reducer():
    # ASHRAE, chimney chapter: K = 1 - (d2/d1)^4 of a tapered reducer, on the head behind it: just what its speed takes.
    behind = 1.0 / 0.8**4  # heads of the wide end that make one of the narrow end
    found = -narrowing_error(Q_(2.0, "kg/m**3"), Q_(1.0, "m/s"), Q_(1.0, "m"), Q_(0.8, "m")).m_as("Pa") / behind
    (check,) = compare("losses_checks", {"L015": found})
    assert check.to_the_last_digit


def test_header_at_a_thousand_feet_a_minute_by_hand():
    # 16 in. to 12 in.: (16/12)^4 = 3.1605; (1000/4005)^2 = 0.0623 in. w.c.; so 0.0623 (1 - 3.1605) = -0.1347.
    found = narrowing_error(STANDARD_AIR, Q_(1000, "fpm"), Q_(16, "inch"), Q_(12, "inch"))
    assert found.m_as("inH2O") == pytest.approx(-0.1347, rel=2e-3)  # 0.2 %: the inch of water behind 4005
    lossy = narrowing_error(STANDARD_AIR, Q_(1000, "fpm"), Q_(16, "inch"), Q_(12, "inch"), 0.1)
    assert lossy.m_as("inH2O") == pytest.approx(0.0623 * (1 - 1.1 * 3.1605), rel=2e-3)


@given(st.floats(0.3, 1.5), st.floats(0.0, 30.0), st.floats(0.1, 1.0))
def test_narrowing_takes_and_widening_gives(density, velocity, ratio):
    narrow = narrowing_error.bare(density, velocity, 1.0, ratio)
    assert narrow <= 1e-9 <= 1e-9 + narrowing_error.bare(density, velocity, ratio, 1.0)
    # There and back again: total pressure is kept, so what the narrow piece took is what it gives.
    behind = velocity / ratio**2
    assert narrow == pytest.approx(-narrowing_error.bare(density, behind, ratio, 1.0), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("us", "si"), [
    (narrowing_error(Q_(0.06, "lb/ft**3"), Q_(900, "fpm"), Q_(16, "inch"), Q_(12, "inch"), 0.1),
     narrowing_error(Q_(0.06 * 16.018463, "kg/m**3"), Q_(4.572, "m/s"), Q_(406.4, "mm"), Q_(304.8, "mm"), 0.1)),
    (leg_error(Q_(10, "ft"), Q_(0.075, "lb/ft**3"), Q_(0.081, "lb/ft**3")),
     leg_error(Q_(3.048, "m"), Q_(0.075 * 16.018463, "kg/m**3"), Q_(0.081 * 16.018463, "kg/m**3"))),
    (hole_error(Q_(0.06, "lb/ft**3"), Q_(900, "fpm"), 0.02),
     hole_error(Q_(0.06 * 16.018463, "kg/m**3"), Q_(4.572, "m/s"), 0.02)),
    (span_error(Q_(-0.5, "inH2O"), Q_(0.5, "inH2O"), Q_(1, "percent")),
     span_error(Q_(-124.5445, "Pa"), Q_(124.5445, "Pa"), 0.01)),
    (disturbance(Q_(500, "percent")), disturbance(5.0)),
    (wall_wind_coefficient(Q_(45, "degree")), wall_wind_coefficient(Q_(np.pi / 4, "rad"))),
])  # fmt: skip
def test_same_case_in_us_and_si_units(us, si):
    assert us.to_base_units().m == pytest.approx(si.to_base_units().m, rel=1e-6)


def test_a_clean_hole_hardly_errs():
    # Pipe of f = 0.02: n f/4 = 0.015 heads of 14.4 Pa.
    assert hole_error(Q_(0.8, "kg/m**3"), Q_(6, "m/s"), 0.02).m_as("Pa") == pytest.approx(0.216)


def test_disturbance_fades_over_the_straight_pipe_of_method_1():
    assert disturbance.bare(np.array([0.0, 2.0, 5.0, 8.0, 20.0])) == pytest.approx([0.25, 0.25, 0.125, 0.0, 0.0])


def test_wind_presses_ahead_and_pulls_at_the_side():
    angles = np.linspace(0.0, 180.0, 181)
    found = wall_wind_coefficient.bare(angles)
    assert found.max() == found[0] and 100 < angles[found.argmin()] < 125


def test_what_a_one_sided_transducer_sees():
    pressure = np.array([-30.0, -10.0, 5.0, np.nan])
    assert seen(pressure[:3], -25.0, 0.0) == pytest.approx([-25.0, -10.0, 0.0])
    assert shares_seen(pressure, -25.0, 0.0) == pytest.approx(1 / 3)
    assert shares_seen(pressure, -125.0, 125.0) == 1.0


DENSE, METRE, SPEED = Q_(1.0, "kg/m**3"), Q_(1.0, "m"), Q_(1.0, "m/s")


@pytest.mark.parametrize(("call", "named"), [
    (lambda: narrowing_error(DENSE, SPEED, METRE, 0 * METRE), "narrow_diameter"),
    (lambda: narrowing_error(DENSE, SPEED, METRE, METRE, -0.1), "loss_coefficient"),
    (lambda: leg_error(METRE, 0 * DENSE, DENSE), "tube_density"),
    (lambda: hole_error(DENSE, SPEED, -0.1), "darcy_factor"),
    (lambda: disturbance(-1.0), "straight"),
    (lambda: wall_wind_coefficient(Q_(190, "degree")), "angle"),
    (lambda: span_error(Q_(1, "Pa"), Q_(1, "Pa"), 0.01), "range"),
    (lambda: span_error(Q_(0, "Pa"), Q_(1, "Pa"), 1.5), "accuracy"),
])  # fmt: skip
def test_impossible_is_refused(call, named):
    with pytest.raises(ValueError, match=named):
        call()
