"""Operating point: hand values on a straight curve, two crossings, systems given by points."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_fans import MIDDLE, straight
from scipy.optimize import brentq

from ventcalc.draft import fan_curve, operating_point
from ventcalc.draft.fan_curve import Point
from ventcalc.gas import atmosphere
from ventcalc.units import Q_


def test_operating_point_at_1500_m_by_hand():
    # Air at 20 degC, 1500 m: 84556 Pa (US Standard Atmosphere 1976 prints 8.4559e4 Pa at 1500 m), so
    # 84556 x 0.0289652 / (8.31446 x 293.15) = 1.0048 kg/m3. The fan then makes 1.0048/1.2 (400 - 1000 q); a vent that
    # takes 100 Pa at 0.25 m3/s in 1.2 kg/m3 takes 100/0.0625 x 1.0048/1.2 q^2. The ratio cancels:
    # 1600 q^2 + 1000 q - 400 = 0, q = (-1000 + sqrt(1e6 + 2.56e6)) / 3200 = 0.27713 m3/s. The flow stays, the pressure
    # falls with density: 1.0048/1.2 x 122.87 = 102.88 Pa.
    density = atmosphere.air_density(Q_(20.0, "degC"), atmosphere.standard_pressure(Q_(1500.0, "m")))
    assert density.m_as("kg/m**3") == pytest.approx(1.0048, abs=2e-4)
    ratio = float(density.m_as("kg/m**3")) / 1.2
    flow, pressure = operating_point.operating_point(
        straight(), 1.0, density, Q_(0.0, "Pa"), Q_(1600.0 * ratio, "Pa*s**2/m**6")
    )
    assert flow.m_as("m**3/s") == pytest.approx(0.27713, abs=2e-5)
    assert pressure.m_as("Pa") == pytest.approx(102.88, abs=0.03)


def test_draft_shifts_the_operating_point():
    # With 30 Pa of natural draft the same vent: 1600 q^2 + 1000 q - 430 = 0.
    flow, pressure = operating_point.operating_point.bare(straight(), 1.0, 1.2, -30.0, 1600.0)
    assert flow == pytest.approx((-1000.0 + (1e6 + 4 * 1600 * 430) ** 0.5) / 3200.0, abs=1e-9)
    assert pressure == pytest.approx(400.0 - 1000.0 * flow, abs=1e-6)


@given(
    constant=st.floats(-200.0, 150.0),
    coefficient=st.floats(5.0, 5e4),
    speed=st.floats(0.0, 1.0),
    density=st.floats(0.4, 1.4),
)
def test_operating_point_lies_on_both_curves(constant, coefficient, speed, density):
    flow, pressure = operating_point.operating_point.bare(MIDDLE, speed, density, constant, coefficient)
    given_there = fan_curve.static_pressure.bare(MIDDLE, flow, speed, density)
    assert given_there == pytest.approx(float(pressure), abs=1e-6 * max(1.0, abs(constant)))


def test_the_stable_one_of_two_crossings():
    # A curve with a hump, and a system that asks for a little more than shut-off pressure: the root right of the hump.
    points = tuple(
        Point(1.0, q, p, 50.0) for q, p in ((0.0, 100.0), (0.1, 115.0), (0.2, 110.0), (0.3, 70.0), (0.4, 0.0))
    )
    fan = straight(points=points, stall_flow=Q_(0.1, "m**3/s"), loss=60.0)
    flow, _ = operating_point.operating_point.bare(fan, 1.0, 1.2, 105.0, 1.0)
    expected = brentq(lambda q: float(fan.pressure_curve(q)) - 105.0 - q * q, 0.15, 0.3)
    assert flow == pytest.approx(expected, abs=1e-9)
    assert brentq(lambda q: float(fan.pressure_curve(q)) - 105.0 - q * q, 0.0, 0.09) < 0.1 < flow


def test_operating_points_of_many_states_at_once():
    constant = np.linspace(-60.0, 40.0, 7)
    many, _ = operating_point.operating_point.bare(MIDDLE, 0.8, 0.9, constant, 120.0)
    each = [float(operating_point.operating_point.bare(MIDDLE, 0.8, 0.9, c, 120.0)[0]) for c in constant]
    assert many == pytest.approx(each) and np.all(np.diff(many) < 0.0)


def test_a_system_given_by_points():
    flows = np.linspace(0.0, 0.5, 501)
    by_points = operating_point.operating_point_on(
        straight(), Q_(flows, "m**3/s"), Q_(1600.0 * flows**2, "Pa"), 1.0, Q_(1.2, "kg/m**3")
    )
    assert by_points[0].m_as("m**3/s") == pytest.approx(0.27713, abs=2e-5)
    # Nothing is read outside the points.
    short = operating_point.operating_point_on.bare(straight(), flows[:100], 1600.0 * flows[:100] ** 2, 1.0, 1.2)
    assert np.isnan(short).all()
    with pytest.raises(ValueError, match="must be two or more and rise"):
        operating_point.operating_point_on.bare(straight(), [0.0, 0.0], [1.0, 2.0], 1.0, 1.2)
    with pytest.raises(ValueError, match="must be two or more and rise"):
        operating_point.operating_point_on.bare(straight(), [0.0, 0.5, 0.4], [1.0, 2.0, 3.0], 1.0, 1.2)
    # Two points are a straight line: 400 Pa less 1000 Pa s/m3 meets 100 Pa at 0.3 m3/s.
    flow, pressure = operating_point.operating_point_on.bare(straight(), [0.0, 0.4], [100.0, 100.0], 1.0, 1.2)
    assert (float(flow), float(pressure)) == pytest.approx((0.3, 100.0), abs=1e-4)
