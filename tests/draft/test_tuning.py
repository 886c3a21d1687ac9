"""Tuning: against the published rule, closed forms and an independent control library."""

from math import pi

import control as independent
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventcalc.draft import tuning
from ventcalc.draft.actuators import Lag
from ventcalc.draft.controller import DERIVATIVE_FILTER, Gains
from ventcalc.draft.draft_control import Loop, step_test
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.tuning import Model
from ventcalc.draft.vent_response import Response
from ventcalc.units import Q_


def gains(kp, ti, td=0.0):
    return Gains(Q_(kp, "1/Pa"), Q_(ti, "s"), Q_(td, "s"))


def test_a_first_order_response_with_delay_is_identified():
    time = np.arange(0.0, 60.0, 0.01)
    reading = -10.0 - 80.0 * 0.05 * np.where(time < 1.5, 0.0, 1.0 - np.exp(-(time - 1.5) / 4.0))
    model = tuning.identify(Q_(time, "s"), Q_(reading, "Pa"), Q_(0.05, ""))
    us = tuning.identify(Q_(time / 60, "minute"), Q_(reading / 249.089, "inH2O"), Q_(5, "percent"))
    for found in (model, us):
        assert found.gain == pytest.approx(80.0, rel=1e-3)
        assert found.lags[0] == pytest.approx(4.0, rel=2e-3) and found.delay == pytest.approx(1.5, abs=0.01)
    with pytest.raises(ValueError, match="must lower the pressure"):
        tuning.identify.bare(time, -reading, 0.05)


def test_simc_by_its_published_formula():
    # Skogestad (2003): kc = (1/k) tau/(tauc + theta), tauI = min(tau, 4 (tauc + theta)); worked by hand for k = 50,
    # tau = 8, theta = 1, tauc = 1: kc = 8/(50*2) = 0.08, tauI = min(8, 8) = 8; with tauc = 3: kc = 0.04, tauI =
    # min(8, 16) = 8; with tau = 20: tauI = 8.
    def rule(lag, closed):
        kp, ti, *_ = tuning.simc(Model(50.0, (lag,), 1.0), closed).plain
        return kp, ti

    assert rule(8.0, 1.0) == pytest.approx((0.08, 8.0))
    assert rule(8.0, 3.0) == pytest.approx((0.04, 8.0))
    assert rule(20.0, 1.0) == pytest.approx((0.20, 8.0))
    with pytest.raises(ValueError, match="simc"):
        tuning.simc(Model(50.0, (8.0, 1.0), 1.0), 1.0)


def test_simc_at_its_briskest_has_the_margins_of_half_an_integrator():
    # With tauc = theta and ti = tau the loop is exp(-theta s) / (2 theta s): gain margin pi, phase margin 90 - 90/pi
    # degrees, in closed form. Ms = 1.59 in Skogestad (2003), from memory.
    model = Model(50.0, (4.0,), 1.0)
    found = tuning.margins(tuning.simc(model, 1.0), model, 0.002)
    assert found.gain == pytest.approx(pi, rel=5e-3)
    assert np.degrees(found.phase) == pytest.approx(90.0 - 90.0 / pi, abs=0.2)
    assert found.delay == pytest.approx((pi / 2 - 0.5) / 0.5, rel=5e-3)  # phase margin over crossover 1/(2 theta)
    assert found.sensitivity == pytest.approx(1.59, abs=0.01)


def discrete(law, model, sample):
    """Plant and controller as discrete transfer functions of an independent library; lags only, no delay."""
    poles = np.array([1.0])
    for lag in model.lags:
        poles = np.polymul(poles, [lag, 1.0])
    plant = independent.sample_system(independent.tf([model.gain], poles), sample, "zoh")
    kp, ti, td, _ = law.plain
    keep = td / (td + DERIVATIVE_FILTER * sample)
    pi_part = independent.tf([kp, kp * (sample / ti - 1.0)], [1.0, -1.0], sample)
    d_part = independent.tf(kp * DERIVATIVE_FILTER * keep * np.array([1.0, -1.0]), [1.0, -keep], sample)
    return plant * (pi_part + d_part) if td else plant * pi_part


@pytest.mark.parametrize(
    ("law", "model", "sample"),
    [
        (gains(0.02, 4.0), Model(60.0, (4.0, 0.5)), 0.1),
        (gains(0.05, 3.0), Model(80.0, (6.0, 1.0, 0.5)), 0.5),
        (gains(0.05, 6.0, 0.5), Model(80.0, (6.0, 1.0)), 0.2),
        (gains(0.004, 1.5), Model(200.0, (2.0,)), 1.0),
    ],
)
def test_margins_are_those_of_an_independent_library(law, model, sample):
    loop_ = discrete(law, model, sample)
    frequency = np.geomspace(0.02, 0.95 * pi / sample, 200)
    ours = tuning.open_loop(law, model, sample, frequency)
    theirs = loop_(np.exp(1j * frequency * sample))
    # Copies beyond the twentieth are left out: with a single lag these are 1/(20 pi^2) = 0.5 % of either
    # side's whole sum near half the sampling rate.
    assert np.abs(ours / theirs - 1.0).max() < 0.011
    found = tuning.margins(law, model, sample)
    gain, phase, _, crossover = independent.margin(loop_)
    if np.isfinite(gain):
        assert found.gain == pytest.approx(gain, rel=0.02)
    assert np.degrees(found.phase) == pytest.approx(phase, abs=0.5)
    assert found.delay == pytest.approx(np.radians(phase) / crossover, rel=0.02)
    assert found.sensitivity == pytest.approx(np.abs(1.0 / (1.0 + theirs)).max(), rel=0.02)


@settings(max_examples=20, deadline=None)
@given(
    st.floats(10, 300),
    st.floats(0.5, 20),
    st.floats(0.1, 3),
    st.sampled_from([0.1, 0.5]),
    st.sampled_from([1.4, 1.6, 2.0]),
)
def test_tuned_gains_keep_the_robustness_they_promise(gain, lag, slow, sample, most):
    true = Model(gain, (lag, slow))
    sensor = Sensor(Q_(-100, "Pa"), Q_(100, "Pa"), Q_(slow, "s"), Q_(sample, "s"))
    one = Loop(sensor, gains(0.01, 4.0), Lag(Q_(lag, "s")), Q_(-10, "Pa"))
    response = Response.given([0.0, 60.0], np.full(2, 0.1 * gain - 10.0), 0.0, gain)
    time, reading, step = step_test(one, response, lasts=10.0 * (lag + slow))
    law = tuning.tune(tuning.identify.bare(time, reading, step), sample, most, true)
    loop_ = discrete(law, true, sample)
    frequency = np.geomspace(1e-3, pi / sample, 4000)
    sensitivity = np.abs(1.0 / (1.0 + loop_(np.exp(1j * frequency * sample)))).max()
    assert sensitivity <= most * 1.01
    assert np.abs(independent.poles(independent.feedback(loop_, 1))).max() < 1.0
    # Ms bounds both: gain margin at least Ms / (Ms - 1), phase margin at least 2 asin(1 / (2 Ms)).
    found = tuning.margins(law, true, sample)
    assert found.gain >= 0.98 * most / (most - 1.0)
    assert found.phase >= 0.98 * 2.0 * np.arcsin(0.5 / most)


def test_where_nothing_is_asked_the_largest_sensitivity_is_that_of_the_rule_at_its_briskest():
    """Ms 1.59 of a lag and a delay at a closed loop as fast as the delay: Skogestad (2003), table 1; told as 1.6.

    The true model has a second lag, so that the rule's briskest would go beyond it.
    """
    true, sample = Model(50.0, (8.0, 4.0), 0.5), 0.1
    law = tuning.tune(Model(50.0, (8.0,), 1.0), sample, true=true)
    sensitivity = tuning.margins(law, true, sample).sensitivity
    assert (
        1.5
        < sensitivity
        <= 1.6
        < tuning.margins(tuning.tune(Model(50.0, (8.0,), 1.0), sample), true, sample).sensitivity
    )


def test_a_robustness_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="sensitivity"):
        tuning.tune(Model(50.0, (4.0,), 1.0), 0.1, 1.0)


@pytest.mark.parametrize("sample", [0.1, 1.0])
@pytest.mark.parametrize("ti", [0.5, 40.0, np.inf])
@pytest.mark.parametrize("td", [0.0, 2.0])
@pytest.mark.parametrize(("lags", "delay"), [((4.0,), 0.0), ((6.0, 6.0, 6.0), 0.0), ((1.0,), 20.0)])
def test_a_loop_s_phase_begins_between_none_and_a_quarter_turn(sample, ti, td, lags, delay):
    # As slow as `margins` begins, an integral turns it by 90 degrees or next to nothing; no whole turn is lost there.
    model, law = Model(60.0, lags, delay), gains(0.01, ti, td)
    slowest = max(*lags, delay, ti if ti < np.inf else 0.0, sample)
    began = np.degrees(np.angle(tuning.open_loop(law, model, sample, np.array([1e-3 / slowest]))[0]))
    assert -90.5 <= began <= 0.5


def test_what_is_no_step_response_is_refused_and_its_ends_make_the_gain():
    for time in ([0.0, 1.0, 1.0, 3.0], [0.0, 2.0, 1.0, 3.0]):
        with pytest.raises(ValueError, match="time must be two or more and rise"):
            tuning.identify.bare(np.array(time), np.array([0.0, -1.0, -2.0, -4.0]), 0.1)
    # From 0 to -4 Pa for a tenth: 40 Pa for the whole.
    found = tuning.identify.bare(np.arange(4.0), np.array([0.0, -1.0, -2.0, -4.0]), 0.1)
    assert found.gain == pytest.approx(40.0)
    # 1 - exp(-1/3) = 0.2835 of it after 1.134 s, 1 - exp(-1) = 0.6321 after 2.264 s, on straight lines between.
    assert found.lags[0] == pytest.approx(1.5 * (2.264 - 1.134), abs=2e-3)
    assert found.delay == pytest.approx(2.264 - found.lags[0], abs=2e-3)
