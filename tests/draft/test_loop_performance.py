"""Loop performance: settling time and time outside limits of pressures worked by hand."""

from math import inf

import numpy as np
import pytest

from ventcalc.draft import loop_performance
from ventcalc.units import Q_


def test_settling_and_time_outside_in_both_systems_of_units():
    time = np.arange(0.0, 20.0, 0.5)
    pressure = np.where(time < 4.0, -10.0, -10.0 + 30.0 * np.exp(-(time - 4.0) / 2.0))
    # Within 3 Pa when exp(-t/2) < 0.1: t > 4.605 s, so at the step 5.0 s after.
    si = loop_performance.settling_time(Q_(time, "s"), Q_(pressure, "Pa"), Q_(-10, "Pa"), Q_(3, "Pa"), Q_(4, "s"))
    us = loop_performance.settling_time(
        Q_(time / 60, "minute"), Q_(pressure / 249.089, "inH2O"), Q_(-10 / 249.089, "inH2O"), Q_(3 / 249.089, "inH2O"),
        Q_(4 / 60, "minute"),
    )  # fmt: skip
    assert si.m_as("s") == 5.0 and us.m_as("s") == pytest.approx(5.0)
    over = loop_performance.time_outside(Q_(time, "s"), Q_(pressure, "Pa"), Q_(-50, "Pa"), Q_(0, "Pa"))
    same = loop_performance.time_outside(
        Q_(time / 60, "minute"), Q_(pressure / 249.089, "inH2O"), Q_(-0.2, "inH2O"), Q_(0, "inH2O")
    )
    assert over.m_as("s") == same.m_as("s") == 2.5  # 4.0 to 6.0: 30 exp(-t/2) > 10 until 2.197 s
    low = loop_performance.overshoot(Q_(time, "s"), Q_(-pressure, "Pa"), Q_(10, "Pa"), Q_(0, "s"))
    assert low.m_as("Pa") == low.m_as("inH2O") == 0.0
    swing = np.array([0.0, 8.0, 0.0, -3.0, 1.0])
    passed = loop_performance.overshoot(Q_(np.arange(5), "s"), Q_(swing / 249.089, "inH2O"), Q_(0, "inH2O"), Q_(0, "s"))
    assert passed.m_as("Pa") == pytest.approx(3.0)


def test_a_pressure_that_does_not_settle_has_no_settling_time():
    time = np.arange(0.0, 20.0, 0.5)
    assert loop_performance.settling_time.bare(time, np.full(time.size, 5.0), 0.0, 1.0, 0.0) == inf
    assert loop_performance.settling_time.bare(time, np.zeros(time.size), 0.0, 1.0, 0.0) == 0.0


def test_what_is_outside_at_the_very_time_counts():
    # Outside at 1 s and at no later time: within from the next step on, 2 s, one second after.
    time, pressure = np.arange(5.0), np.array([0.0, 9.0, 0.0, 0.0, 0.0])
    assert loop_performance.settling_time.bare(time, pressure, 0.0, 1.0, 1.0) == 1.0
    assert loop_performance.settling_time.bare(time, pressure, 0.0, 1.0, 1.5) == 0.0
    assert loop_performance.settling_time.bare(time, pressure, 0.0, 9.0, 0.0) == 0.0  # at the band's edge is within
    # So does the farthest departure at that time: from 9 Pa it passes to -3 Pa. And the last step but one, at 3 s.
    swing = np.array([0.0, 9.0, -3.0, 4.0, 0.0])
    assert loop_performance.overshoot.bare(time, swing, 0.0, 1.0) == 3.0
    after = loop_performance.overshoot.bare(time, swing, 0.0, 1.5)  # from 4 Pa back to 0 Pa, and not "-0"
    assert after == 0.0 and not np.signbit(after)
    assert loop_performance.settling_time.bare(time, swing, 0.0, 1.0, 1.0) == 3.0
