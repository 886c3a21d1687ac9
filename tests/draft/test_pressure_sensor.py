"""The sensor: its filter against the exact answers to a step and a ramp, and the ends of its range."""

from dataclasses import replace
from itertools import pairwise
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_loops import BOTH_SIGNS

from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.units import Q_


def test_filter_follows_a_step_and_a_ramp_exactly():
    # T dy/dt = p - y: y = 1 - exp(-t/T) for a step; y = t - T (1 - exp(-t/T)) for a ramp of 1 Pa/s.
    constant, step = 2.0, 0.25
    follow = replace(BOTH_SIGNS, filter=Q_(constant, "s")).filtered(step)
    stepped = ramped = 0.0
    for i in range(1, 41):
        time = i * step
        stepped = follow(stepped, 1.0, 1.0)
        ramped = follow(ramped, time - step, time)
        assert stepped == pytest.approx(1.0 - exp(-time / constant), abs=1e-12)
        assert ramped == pytest.approx(time - constant * (1.0 - exp(-time / constant)), abs=1e-12)


@given(st.lists(st.floats(-500, 500), min_size=2, max_size=30), st.floats(0.0, 5.0))
def test_a_sensor_never_reads_beyond_its_range(pressures, constant):
    sensor = Sensor(Q_(-60, "Pa"), Q_(0, "Pa"), Q_(constant, "s"))
    follow, reading = sensor.filtered(0.1), -10.0
    for before, after in pairwise(pressures):
        reading = follow(reading, before, after)
        assert -60.0 - 1e-9 <= reading <= 1e-9


def test_without_a_filter_the_reading_is_the_pressure_clipped():
    follow = Sensor(Q_(-60, "Pa"), Q_(0, "Pa"), Q_(0, "s")).filtered(0.1)
    assert follow(-3.0, -9.0, -7.0) == -7.0
    assert follow(-3.0, -9.0, 30.0) == 0.0


def test_a_sensor_in_us_units_is_the_same_sensor():
    assert Sensor(Q_(-0.25, "inH2O"), Q_(0, "inH2O")).range == pytest.approx((-62.27225, 0.0))


def test_a_range_that_does_not_rise_is_refused():
    for high in (-10, -20):
        with pytest.raises(ValueError, match="must run from lower to higher"):
            Sensor(Q_(-10, "Pa"), Q_(high, "Pa"))
