"""The controller: its transfer function by an independent filter, its limits, anti-windup, and no jump."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_loops import BOTH_SIGNS, gains, loop, step_of
from scipy import signal

from ventcalc.draft import controller, draft_control, loop_performance
from ventcalc.draft.actuators import Lag
from ventcalc.draft.controller import DERIVATIVE_FILTER, Gains, Memory
from ventcalc.draft.vent_response import Response
from ventcalc.units import Q_, UnitsError


def test_the_sampled_controller_is_its_transfer_function():
    # kp (1 + h/ti 1/(z-1)) on the error and kp N c (1 - 1/z) / (1 - c/z), c = td / (td + N h), on the reading; by an
    # independent filter. Limits far away.
    kp, ti, td, h, set_point = 0.02, 3.0, 0.8, 0.2, -10.0
    reading = np.random.default_rng(3).normal(-10.0, 5.0, 200)
    keep = td / (td + DERIVATIVE_FILTER * h)
    integral = signal.lfilter([0.0, kp * h / ti], [1.0, -1.0], reading - set_point)
    derivative = signal.lfilter(
        [kp * DERIVATIVE_FILTER * keep, -kp * DERIVATIVE_FILTER * keep], [1.0, -keep], reading - reading[0]
    )
    wanted = kp * (reading - set_point) + integral + derivative
    law = controller.controller(gains(kp, ti, td), h, set_point, -1e9, 1e9)
    memory, found = Memory(0.0, 0.0, reading[0]), []
    for value in reading:
        output, memory = law(float(value), memory)
        found.append(output)
    assert np.allclose(found, wanted, atol=1e-12)


@settings(max_examples=25)
@given(
    st.floats(0.0, 0.5),
    st.floats(0.2, 20.0),
    st.floats(0.0, 2.0),
    st.lists(st.floats(-90, 90), min_size=5, max_size=40),
)
def test_the_output_stays_within_its_limits(kp, ti, td, readings):
    law = controller.controller(gains(kp, ti, td), 0.1, -10.0, 0.2, 0.9)
    memory = controller.bumpless(gains(kp, ti, td), readings[0], -10.0, 0.5)
    first, _ = law(readings[0], memory)
    assert first == pytest.approx(0.5)  # it takes over without a jump
    for reading in readings:
        output, memory = law(reading, memory)
        assert 0.2 <= output <= 0.9


def test_back_calculation_keeps_the_integral_near_and_the_loop_recovers_earlier():
    # For 60 s a disturbance is more than the device can take; then it is gone. Without anti-windup the integral has
    # run away.
    begin, end, extra = 10.0, 70.0, np.array([0.0, 0.0, 180.0, 180.0, 0.0, 0.0])
    times, sensor = (
        [0.0, begin, begin + 1, end, end + 1, 400.0],
        replace(BOTH_SIGNS, low=Q_(-500, "Pa"), high=Q_(500, "Pa")),
    )

    def recovery(most, tracking):
        response = Response.given(times, 10.0 + extra, 0.0, most)
        law = gains(0.4 / most, 4.0, 0.0, tracking)  # the same gain of the loop whatever the device
        trace = draft_control.follow(loop(law, Lag(Q_(2, "s")), sensor), response)
        assert (trace.output.max() == 1.0) == (most == 100.0)
        return loop_performance.settling_time.bare(trace.time, trace.pressure, -10.0, 2.0, end)

    assert recovery(100.0, None) < 1.1 * recovery(400.0, None)  # as if it had never been at its limit
    assert recovery(100.0, inf) > 1.5 * recovery(100.0, None)


def test_the_integral_stops_where_back_calculation_balances_the_error():
    # At the limit: kp h/ti e = h/tracking (v - u), so v - u = kp e tracking / ti.
    law = controller.controller(gains(0.01, 5.0, 0.0, 2.0), 0.1, -10.0)
    memory = Memory(0.5, 0.0, 50.0)
    for _ in range(2000):
        _, memory = law(50.0, memory)
    error = 60.0
    assert 0.01 * error + memory.integral - 1.0 == pytest.approx(0.01 * error * 2.0 / 5.0, rel=1e-6)


def test_the_controller_takes_over_without_a_jump():
    one = loop(gains(0.01, 5.0), Lag(Q_(2, "s")), start=0.4, manual=Q_(20, "s"))
    trace = draft_control.follow(one, step_of(15.0, lasts=150.0))
    assert (trace.output[trace.time < 20.0] == 0.4).all()
    taken = np.flatnonzero(trace.time >= 20.0)[0]
    assert trace.output[taken] == pytest.approx(0.4, abs=1e-12)
    assert abs(trace.pressure[-1] + 10.0) < 0.05  # and then it works


def test_more_output_lowers_the_pressure_or_the_gains_are_refused():
    with pytest.raises(ValueError, match="kp"):
        gains(-0.01)
    with pytest.raises(UnitsError, match="kp"):
        Gains(0.01, Q_(4, "s"))


def test_gains_without_a_derivative_have_none_and_track_in_their_integral_time():
    # 0.01 per Pa on an error of 6 Pa, and nothing of the reading's jump from -10 Pa.
    plain = Gains(Q_(0.01, "1/Pa"), Q_(4.0, "s"))
    assert plain.plain == (0.01, 4.0, 0.0, 4.0)
    output, memory = controller.controller(plain, 0.1, -10.0)(-4.0, Memory(0.3, 0.0, -10.0))
    assert output == pytest.approx(0.36) and memory.derivative == 0.0
    assert memory.integral == pytest.approx(0.3 + 0.01 * 0.1 / 4.0 * 6.0)
    # With one, the geometric mean of both times: 4 s and 1 s, 2 s.
    assert replace(plain, td=Q_(1.0, "s")).plain[3] == pytest.approx(2.0)
