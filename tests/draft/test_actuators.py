"""Actuators: a motor's stroke, an exponential lag, and a rotor against its torque balance."""

from dataclasses import replace
from math import exp, pi, sqrt, tanh

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_loops import ROTOR

from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.units import Q_


def test_a_damper_motor_needs_its_time_for_a_full_stroke():
    move, setting, steps = Stroke(Q_(30, "s")).mover(0.1), 0.0, 0
    while setting < 1.0 - 1e-9:
        setting, steps = move(setting, 1.0), steps + 1
    assert steps * 0.1 == pytest.approx(30.0, abs=0.1)


def test_a_lag_follows_the_exponential():
    move, setting = Lag(Q_(4, "s")).mover(0.1), 0.2
    for i in range(1, 101):
        setting = move(setting, 0.8)
        assert setting == pytest.approx(0.8 - 0.6 * exp(-0.1 * i / 4.0), abs=1e-12)


def test_a_rotor_runs_up_as_the_torque_balance_says():
    # J dw/dt = M - L (w/w1)^2 from rest: w = w1 sqrt(M/L) tanh(t sqrt(M L) / (J w1)).
    momentum = 0.6 * 1150 * 2 * pi / 60
    move, speed = ROTOR.mover(0.05), 0.0
    for i in range(1, 200):
        speed = move(speed, 2.0)
        assert speed == pytest.approx(sqrt(6 / 4) * tanh(0.05 * i * sqrt(24) / momentum), abs=2e-5)


def test_a_rotor_that_only_coasts_slows_as_one_over_time():
    # J dw/dt = -L (w/w1)^2: w = w1 / (1 + L t / (J w1)).
    momentum = 0.6 * 1150 * 2 * pi / 60
    move, speed = ROTOR.mover(0.05), 1.0
    for i in range(1, 600):
        speed = move(speed, 0.0)
        assert speed == pytest.approx(1.0 / (1.0 + 4.0 * 0.05 * i / momentum), abs=1e-5)


def test_a_braked_rotor_slows_faster_and_a_weak_drive_never_reaches_its_speed():
    def after(rotor, wanted, seconds=10.0):
        move, speed = rotor.mover(0.05), 0.6
        for _ in range(int(seconds / 0.05)):
            speed = move(speed, wanted)
        return speed

    assert after(replace(ROTOR, brake=Q_(2, "N*m")), 0.1) < after(ROTOR, 0.1) - 0.1
    assert after(ROTOR, 0.7) == 0.7
    assert after(replace(ROTOR, torque=Q_(1, "N*m")), 1.0, 600.0) == pytest.approx(0.5, abs=1e-3)  # 1 = 4 s^2


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from([Stroke(Q_(20, "s")), Lag(Q_(3, "s")), ROTOR]))
def test_an_actuator_never_passes_what_is_wanted(setting, wanted, actuator):
    after = actuator.mover(0.05)(setting, wanted)
    assert min(setting, wanted) - 1e-12 <= after <= max(setting, wanted) + 1e-12


@pytest.mark.parametrize("actuator", [Lag(Q_(0, "s")), Stroke(Q_(0, "s"))])
def test_what_takes_no_time_is_there_at_once(actuator):
    assert actuator.mover(0.1)(0.2, 0.9) == pytest.approx(0.9) and actuator.mover(0.1)(0.9, 0.2) == pytest.approx(0.2)


@pytest.mark.parametrize("zero", [{"inertia": "kg*m**2"}, {"full_speed": "rpm"}, {"load": "N*m"}, {"torque": "N*m"}])
def test_a_rotor_without_one_of_its_parts_is_refused(zero):
    assert replace(ROTOR, **{name: Q_(1e-4, unit) for name, unit in zero.items()}).brake.m == 0.0  # however little
    with pytest.raises(ValueError, match="must be above 0"):
        replace(ROTOR, **{name: Q_(0.0, unit) for name, unit in zero.items()})
