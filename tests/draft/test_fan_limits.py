"""Fan limits: the stall limit at another speed, and the motor in cold air by hand."""

import pytest
from sample_fans import straight

from ventcalc.draft import fan_curve, fan_limits
from ventcalc.gas import atmosphere
from ventcalc.units import Q_


def test_stall_moves_with_the_speed():
    fan = straight()  # stalls below 0.1 m3/s at rated speed
    assert fan_limits.stalled(fan, Q_([0.099, 0.101, 0.06, 0.04], "m**3/s"), [1.0, 1.0, 0.5, 0.5]).tolist() == (
        [True, False, False, True]
    )
    # What stands still neither stalls nor turns too slowly, whichever way gas goes through it; what turns at all may.
    assert fan_limits.stalled(fan, Q_([-0.1, 0.0, 0.1, 0.0], "m**3/s"), [0.0, 0.0, 0.0, 1e-4]).tolist() == (
        [False, False, False, True]
    )
    assert fan_limits.too_slow(fan, 1e-4)
    assert fan_limits.stalled(fan_curve.in_parallel(fan), Q_(0.199, "m**3/s"), 1.0)
    assert fan_limits.too_slow(fan, [0.0, 0.19, 0.2, 1.0]).tolist() == [False, True, False, False]
    assert fan.turndown == pytest.approx(6.0)


def test_the_motor_in_cold_air_by_hand():
    # Greatest power 180 W in 1.2 kg/m3. Air at -20 degC and sea level:
    # 101325 x 0.0289652 / (8.31446 x 253.15) = 1.3944 kg/m3: 209.2 W, more than the motor's 200 W,
    # which carries it to (200/209.2)^(1/3) = 0.9852 of the rated speed.
    fan = straight()
    cold = atmosphere.air_density(Q_(-20.0, "degC"), Q_(101325.0, "Pa"))
    assert fan_curve.shaft_power(fan, Q_(0.4, "m**3/s"), 1.0, cold).m_as("W") == pytest.approx(209.2, abs=0.1)
    assert fan_limits.motor_speed_limit(fan, cold).m == pytest.approx(0.9852, abs=2e-4)
    assert fan_limits.motor_speed_limit(fan, Q_(0.02, "lb/ft**3")).m == fan.most_speed


def test_no_flow_takes_more_power_than_is_told():
    """By hand: 180 W at its most in 1.2 kg/m3, at 0.9 of the rated speed 0.9^3 of it; two abreast take twice that,
    three in series three times."""
    fan = straight()
    most = fan_limits.most_power(fan, 0.9, Q_(1.2, "kg/m**3"))
    assert most.m_as("W") == pytest.approx(180.0 * 0.729, rel=1e-9)
    flows = Q_([-0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.9], "m**3/s")
    assert (fan_curve.shaft_power(fan, flows, 0.9, Q_(1.2, "kg/m**3")).m_as("W") <= most.m_as("W") * 1.000001).all()
    two = fan_curve.in_parallel(fan)
    assert fan_limits.most_power(two, 0.9, Q_(1.2, "kg/m**3")).m_as("W") == pytest.approx(2.0 * 131.22, rel=1e-9)
    three = fan_curve.in_series(fan, 3)
    assert fan_limits.most_power(three, 0.9, Q_(1.2, "kg/m**3")).m_as("W") == pytest.approx(3.0 * 131.22, rel=1e-9)
