"""Limit switches: which place trips and when, and how long something lasts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_loops import FAN, a_morning, gains

from ventcalc.draft import draft_control, limit_switches
from ventcalc.draft.actuators import Lag
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.final_element import Linear
from ventcalc.draft.firing_schedule import AT_ONCE
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.units import Q_, UnitsError
from ventcalc.vent.common_vent import solve
from ventcalc.vent.states import States

SLOW = {"law": gains(0.001, 30.0), "actuator": Lag(Q_(10, "s"))}
SENSOR = Sensor(Q_(-0.25, "inH2O"), Q_(0.25, "inH2O"))


def tripping(hall, limits, law, actuator, device=FAN, **more):
    one = Loop(SENSOR, law, actuator, Q_(-0.05, "inH2O"))
    # What is looked at is the loop and its limits, to the step: gas answers at once.
    return draft_control.simulate(
        hall.plant, hall.seasons, a_morning(**more), "stack", device, one, limits, at_once=True
    )


def test_a_neighbor_trips_when_a_slow_loop_lets_a_purge_through(hall):
    high = Q_(0.12, "inH2O")
    trace = tripping(hall, {"Boiler 1": Limits(high=high, delay=Q_(3, "s"))}, **SLOW)
    (trip,) = trace.trips
    beyond = trace.outlets[0] > high.m_as("Pa")
    first = trace.time[beyond.argmax()]
    assert 20.0 < first < 22.0 and trip.at == pytest.approx(first + 3.05, abs=0.06)
    assert trip.where == "Boiler 1" and trip.stopped == ("Boiler 1",) and trip.nuisance
    assert trip.pressure > high.m_as("Pa")
    after = trace.time > trip.at + AT_ONCE + 1e-6
    assert (trace.codes[0, after] == 0.0).all()  # it stays off, though the schedule has it burn
    assert trace.codes[1, -1] == 3.0  # the others go on


def test_before_the_trip_nothing_is_changed_and_after_it_the_vent_is_solved_anew(hall):
    limits = {"Boiler 1": Limits(high=Q_(0.12, "inH2O"), delay=Q_(3, "s"))}
    with_limits, without = tripping(hall, limits, **SLOW), tripping(hall, {}, **SLOW)
    at = with_limits.trips[0].at
    same = with_limits.time <= at + 1e-9
    assert with_limits.time.size == without.time.size and np.allclose(np.diff(with_limits.time), 0.05)
    for name in ("pressure", "setting", "output", "reading"):
        assert np.allclose(getattr(with_limits, name)[same], getattr(without, name)[same], atol=1e-9)
    i = np.searchsorted(with_limits.time, at + 30.0)
    added = np.zeros((len(hall.plant.order), 1))
    added[-1] = with_limits.added[i]
    states = States(with_limits.codes[:, [i]], np.array([1]), np.zeros(1), np.zeros(1))
    outlets = solve(hall.plant, hall.seasons, states, added).outlet_pressure[:, 0]
    assert np.abs(outlets - with_limits.outlets[:, i]).max() < 0.1


@pytest.mark.slow
def test_a_delay_that_is_longer_than_the_spike_keeps_it_running(hall):
    fast = {"law": gains(0.004, 5.0), "actuator": Lag(Q_(2, "s"))}
    assert not tripping(hall, {"Boiler 1": Limits(high=Q_(0.12, "inH2O"), delay=Q_(15, "s"))}, **fast).trips
    assert tripping(hall, {"Boiler 1": Limits(high=Q_(0.12, "inH2O"))}, **fast).trips


def test_a_trip_is_no_nuisance_where_the_loop_at_rest_would_be_outside_as_well(hall):
    # A fan of tenths of a pascal cannot hold anything.
    trace = tripping(
        hall, {"Boiler 1": Limits(high=Q_(0.10, "inH2O"), delay=Q_(3, "s"))}, device=Linear(0.0, 0.5), **SLOW
    )
    assert trace.trips and not trace.trips[0].nuisance


def test_a_limit_at_the_header_stops_all_that_run(hall):
    trace = tripping(hall, {"header": Limits(high=Q_(0.05, "inH2O"), delay=Q_(2, "s"))}, **SLOW)
    (trip,) = trace.trips
    assert trip.stopped == ("Boiler 1", "Boiler 2", "Boiler 3")
    assert (trace.codes[:, -1] == 0.0).all()


def test_two_limits_trip_each_in_its_time(hall):
    limits = {
        "Boiler 1": Limits(high=Q_(0.12, "inH2O"), delay=Q_(3, "s")),
        "Boiler 2": Limits(high=Q_(0.01, "inH2O"), delay=Q_(6, "s")),
    }
    trace = tripping(hall, limits, season=2, **SLOW)
    one, other = trace.trips
    assert (one.where, other.where) == ("Boiler 1", "Boiler 2")
    assert np.allclose(np.diff(trace.time), 0.05) and trace.time[-1] == pytest.approx(160.0)
    # The second was beyond its limit before the first tripped, and that counts.
    beyond = trace.outlets[1] > 0.01 * 249.089
    running = trace.codes[1] > 0.0
    assert other.at == pytest.approx(trace.time[(beyond & running).argmax()] + 6.0, abs=0.06)
    assert (trace.codes[[0, 1], -1] == 0.0).all()


@pytest.mark.parametrize(("low_delay", "trips"), [(2, True), (1000, False), (None, False)])
def test_the_low_limit_has_a_delay_of_its_own(hall, low_delay, trips):
    """A low limit above all that the header sees trips by its own delay, or by the high one's if it has none."""
    own = None if low_delay is None else Q_(low_delay, "s")
    guard = Limits(Q_(1.0, "inH2O"), Q_(2.0, "inH2O"), Q_(1000, "s"), own)
    trace = tripping(hall, {"header": guard}, **SLOW)
    assert bool(trace.trips) is trips
    if trips:
        running = trace.time[(trace.codes > 0.0).any(axis=0)][0]
        assert trace.trips[0].at == pytest.approx(running + low_delay, abs=0.11)


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.floats(0, 5))
def test_how_long_something_lasts_is_counted_without_a_break(truth, before):
    expected, count = [], before
    for true in truth:
        count = count + 0.5 if true else 0.0
        expected.append(count)
    found = limit_switches.lasting(np.array(truth), 0.5, before)
    assert np.allclose(found, expected)


def test_runs_side_by_side_last_each_by_itself():
    # Seven steps of three runs, and as many runs as steps, each by the count of one alone.
    draw = np.random.default_rng(1)
    for shape in ((7, 3), (6, 6), (5, 1), (4, 2)):
        truth = draw.random(shape) < 0.7
        found = limit_switches.lasting(truth, 0.5, 1.25)
        assert np.allclose(found, np.stack([limit_switches.lasting(one, 0.5, 1.25) for one in truth.T], axis=1))


@pytest.mark.parametrize(("low", "high"), [(1.0, 1.0), (2.0, 1.0)])
def test_limits_that_leave_nothing_between_are_refused(low, high):
    with pytest.raises(ValueError, match="from lower to higher"):
        Limits(Q_(low, "Pa"), Q_(high, "Pa"))


@pytest.mark.parametrize("name", ["low", "high", "delay", "low_delay"])
def test_a_limit_in_a_wrong_unit_is_refused_by_name(name):
    with pytest.raises(UnitsError, match=f"limits: {name}\\b"):
        Limits(**{name: Q_(5.0, "kg")})
