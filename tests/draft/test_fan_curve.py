"""Fan curve: its points, smoothness, a stopped impeller, inverse and efficiency by hand, fans together."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_fans import FANS, MIDDLE, straight
from scipy.interpolate import PchipInterpolator

from ventcalc.draft import fan_curve, operating_point
from ventcalc.units import Q_


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_the_curve_meets_its_points_and_the_laws_carry_the_others(fan):
    for p in fan.rated:
        assert fan_curve.static_pressure.bare(fan, p.flow, 1.0, fan.curve_density) == pytest.approx(
            p.pressure, abs=1e-9
        )
        assert fan_curve.shaft_power.bare(fan, p.flow, 1.0, fan.curve_density) == pytest.approx(p.power, rel=1e-9)
    # The table's points at other speeds scatter by 0.6 % and are rounded to 0.001 in. w.c.
    assert len({p.speed for p in fan.points}) == 3 and 0.0 < fan_curve.misfit(fan) < 0.01


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_a_point_left_out_is_found_again(fan):
    # How well the interpolation knows what lies between the points: each but the ends left out in turn.
    for k in range(1, len(fan.rated) - 1):
        others = [p for i, p in enumerate(fan.rated) if i != k]
        curve = PchipInterpolator([p.flow for p in others], [p.pressure for p in others])
        assert float(curve(fan.rated[k].flow)) == pytest.approx(fan.rated[k].pressure, abs=0.03 * fan.rated[0].pressure)


@pytest.mark.parametrize(
    "fan", [*FANS, fan_curve.in_parallel(MIDDLE), fan_curve.in_series(MIDDLE, 3)], ids=lambda f: f.name
)
@pytest.mark.parametrize("speed", [0.0, 0.3, 1.0])
def test_smooth_from_backwards_to_past_free_flow(fan, speed):
    # No jump and no kink: value and slope from both sides of the places where the curve is put together.
    step = 1e-7 * fan.free_flow
    for place in (0.0, fan.abreast * fan.free_flow * speed):
        at = place + step * np.array([-2.0, -1.0, 1.0, 2.0])
        a, b, c, d = fan_curve.static_pressure.bare(fan, at, speed, fan.curve_density)
        scale = fan.rated[0].pressure
        assert abs(b - c) < 1e-5 * scale
        assert (b - a) / step == pytest.approx((d - c) / step, abs=2e-3 * scale / fan.free_flow)


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
@given(share=st.floats(0.0, 2.0), slower=st.floats(0.0, 0.98), speed=st.floats(0.05, 1.0))
def test_more_speed_makes_more_pressure_at_the_same_flow(fan, share, slower, speed):
    flow = share * fan.free_flow
    least, most = fan_curve.static_pressure.bare(fan, flow, np.array([slower * speed, speed]), 1.0)
    assert least < most


def test_a_stopped_impeller_resists_as_its_table_says():
    flow, density = 0.5, 0.9
    head = 0.5 * density * (flow / MIDDLE.area) ** 2
    for way in (1.0, -1.0):
        resisted = fan_curve.static_pressure.bare(MIDDLE, way * flow, 0.0, density)
        assert resisted == pytest.approx(-way * MIDDLE.stopped_loss * head, rel=1e-9)
    assert fan_curve.shaft_power.bare(MIDDLE, flow, 0.0, density) == 0.0


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_the_invented_fans_could_be_built(fan):
    # Static efficiency of draft fans with stainless wheels: 35 to 60 % at best (common practice, no source).
    flow = fan.free_flow * np.linspace(0.02, 0.98, 60)
    best = float(fan_curve.efficiency.bare(fan, flow, 0.7).max())
    assert 0.35 < best < 0.60
    # The blades do not work better than an ideal impeller.
    assert np.all(fan_curve.efficiency.bare(fan, flow, 1.0) < 0.6)
    assert fan.motor_power.m_as("W") >= fan.most_power
    assert fan.status == "invented"


def test_efficiency_by_hand():
    # 0.2 m3/s against 200 Pa with 140 W: 40/140, at any density and, by the laws, at the like point of another speed.
    fan = straight()
    assert fan_curve.efficiency(fan, Q_(0.2, "m**3/s"), 1.0).m == pytest.approx(40.0 / 140.0)
    assert fan_curve.efficiency(fan, Q_(0.1, "m**3/s"), 0.5).m == pytest.approx(40.0 / 140.0)


def test_discharge_velocity_in_both_unit_systems():
    us = fan_curve.discharge_velocity(MIDDLE, Q_(1000.0, "cfm")).m_as("ft/minute")
    assert us == pytest.approx(1000.0 / (np.pi / 4.0))  # the outlet is 12 inches
    assert fan_curve.discharge_velocity(MIDDLE, Q_(0.4719474, "m**3/s")).m_as("fpm") == pytest.approx(us, rel=1e-6)


@pytest.mark.parametrize(
    "fan", [*FANS, fan_curve.in_parallel(MIDDLE), fan_curve.in_series(MIDDLE)], ids=lambda f: f.name
)
@given(share=st.floats(0.0, 1.8), speed=st.floats(0.01, 1.05), density=st.floats(0.4, 1.4))
def test_speed_for_is_the_inverse(fan, share, speed, density):
    flow = share * fan.abreast * fan.free_flow * speed
    pressure = fan_curve.static_pressure.bare(fan, flow, speed, density)
    assert fan_curve.speed_for.bare(fan, flow, pressure, density) == pytest.approx(speed, rel=1e-6)


def test_speed_by_hand():
    # p = n^2 (400 - 1000 q/n) = 60 Pa at 0.1 m3/s: 400 n^2 - 100 n - 60 = 0, n = (100 + sqrt(106000)) / 800.
    fan = straight()
    by_hand = (100.0 + 106000.0**0.5) / 800.0
    got = fan_curve.speed_for(fan, Q_(0.1, "m**3/s"), Q_(60.0, "Pa"), Q_(1.2, "kg/m**3"))
    assert got.m == pytest.approx(by_hand, rel=1e-9)
    assert fan_curve.speed_for(fan, Q_(211.888, "cfm"), Q_(0.2408777, "inH2O"), Q_(0.0749136, "lb/ft**3")).m == (
        pytest.approx(by_hand, rel=1e-5)
    )


def test_speed_beyond_reach_is_nan_and_too_much_draft_is_zero():
    fan = straight()
    wanted = Q_([1000.0, 60.0, -500.0], "Pa")
    found = fan_curve.speed_for(fan, Q_(0.1, "m**3/s"), wanted, Q_(1.2, "kg/m**3")).m
    assert np.isnan(found[0]) and found[1] > 0.0 and found[2] == 0.0


def test_parallel_and_series_by_hand():
    # Two straight fans side by side: p = 400 - 500 q. One behind the other: 800 - 2000 q, and the first's outlet head
    # 0.6 (q/0.12566)^2 = 37.995 q^2, which the second finds at its inlet. On p = 1600 q^2:
    # side by side 1600 q^2 + 500 q - 400 = 0; in a row (1600 - 37.995) q^2 + 2000 q - 800 = 0.
    alone, beside, behind = (
        float(operating_point.operating_point.bare(fan, 1.0, 1.2, 0.0, 1600.0)[0])
        for fan in (straight(), fan_curve.in_parallel(straight()), fan_curve.in_series(straight()))
    )
    assert beside == pytest.approx((-500.0 + (25e4 + 4 * 1600 * 400) ** 0.5) / 3200.0, abs=1e-9)
    assert behind == pytest.approx((-2000.0 + (4e6 + 4 * 1562.005 * 800) ** 0.5) / (2 * 1562.005), abs=1e-6)
    assert alone < beside < 2 * alone and alone < behind < 2 * alone


def test_parallel_and_series_on_the_curve():
    flow, speed, density = 0.3, 0.9, 0.8
    one = fan_curve.static_pressure.bare(MIDDLE, flow, speed, density)
    assert fan_curve.static_pressure.bare(fan_curve.in_parallel(MIDDLE), 2 * flow, speed, density) == pytest.approx(one)
    head = 0.5 * density * (flow / MIDDLE.area) ** 2
    assert fan_curve.static_pressure.bare(fan_curve.in_series(MIDDLE), flow, speed, density) == pytest.approx(
        2 * one + head
    )
    power = fan_curve.shaft_power.bare(MIDDLE, flow, speed, density)
    assert fan_curve.shaft_power.bare(fan_curve.in_parallel(MIDDLE, 3), 3 * flow, speed, density) == pytest.approx(
        3 * power
    )
    assert fan_curve.shaft_power.bare(fan_curve.in_series(MIDDLE, 3), flow, speed, density) == pytest.approx(3 * power)
    for count in (0, 1.5):
        with pytest.raises(ValueError, match="whole number of fans"):
            fan_curve.in_parallel(MIDDLE, count)
