"""The loop in time: against analytic answers, its exact discrete solution, and the steady search at rest."""

from dataclasses import replace
from math import exp, inf, pi, sqrt

import numpy as np
import pytest
from sample_loops import BOTH_SIGNS, FAN, ROTOR, a_morning, gains, loop, step_of
from sample_plants import SEASONS, row_plant
from scipy.interpolate import RegularGridInterpolator

from ventcalc.draft import draft_control, fan_drive, held_pressure, loop_performance, transient_response
from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.final_element import Linear
from ventcalc.draft.firing_schedule import AT_ONCE, Schedule
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.vent_response import Response
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent.states import States


def test_a_sampled_loop_follows_its_exact_discrete_solution():
    # Actuator of the first order, zero-order hold, PI: three states advanced by the exact matrix of one sample.
    kp, ti, h, lag, gain, jump = 0.01, 2.0, 0.2, 3.0, 100.0, 30.0
    left = exp(-h / lag)
    # State (setting, integral, error before): e = jump' - gain s; u = kp e + I; s+ = left s + (1-left) u; I+ = I + kp
    # h/ti e.
    setting, integral, expected = 0.1, 0.1 - kp * jump, []
    offset = jump + 0.1 * gain
    advance = np.array([
        [left - (1 - left) * kp * gain, 1 - left, (1 - left) * kp * offset],
        [-kp * h / ti * gain, 1.0, kp * h / ti * offset],
        [0.0, 0.0, 1.0],
    ])  # fmt: skip
    state = np.array([setting, integral, 1.0])
    for _ in range(200):
        expected.append(offset - gain * state[0])
        state = advance @ state
    one = loop(gains(kp, ti), Lag(Q_(lag, "s")), replace(BOTH_SIGNS, sample=Q_(h, "s")), start=0.1)
    trace = draft_control.follow(one, step_of(jump, lasts=40.0), step=h)
    assert np.allclose(trace.pressure[:200] + 10.0, expected, atol=1e-9)


def test_an_integrating_loop_decays_as_the_first_order_says():
    # No lag and no proportional part to speak of: de/dt = -K ki e.
    gain, ki, h = 100.0, 0.002, 0.01
    one = loop(gains(ki * 1e-3, 1e-3), sensor=replace(BOTH_SIGNS, sample=Q_(h, "s")), start=0.1)
    trace = draft_control.follow(one, step_of(20.0, lasts=30.0), step=h)
    exact = 20.0 * np.exp(-gain * ki * trace.time)
    # The integral acts one sample late: it has then missed a fall of 20 K ki h = 0.04 Pa.
    assert np.abs(trace.pressure + 10.0 - exact).max() < 1.01 * 20.0 * gain * ki * h


def test_an_integrating_loop_with_a_lag_is_of_the_second_order():
    # T s'' + s' = ki (d - K s): wn^2 = K ki / T, 2 zeta wn = 1 / T; error and its overshoot in closed form.
    gain, ki, lag, h = 100.0, 0.004, 4.0, 0.01
    wn = sqrt(gain * ki / lag)
    zeta = 1.0 / (2.0 * lag * wn)
    wd = wn * sqrt(1.0 - zeta**2)
    one = loop(gains(ki * 1e-3, 1e-3), Lag(Q_(lag, "s")), replace(BOTH_SIGNS, sample=Q_(h, "s")), start=0.1)
    trace = draft_control.follow(one, step_of(20.0), step=h)
    t = trace.time
    exact = 20.0 * np.exp(-zeta * wn * t) * (np.cos(wd * t) + zeta * wn / wd * np.sin(wd * t))
    assert np.abs(trace.pressure + 10.0 - exact).max() < 0.1
    passed = loop_performance.overshoot.bare(t, trace.pressure, -10.0, 0.0)
    # Sampling and hold delay by 1.5 samples; that takes 1.5 wn h / 2 = 0.0024 off zeta and adds 0.9 % to the overshoot.
    assert passed == pytest.approx(20.0 * exp(-pi * zeta / sqrt(1.0 - zeta**2)), rel=0.01)
    # Within 2 %: the envelope exp(-zeta wn t) bounds it.
    settled = loop_performance.settling_time.bare(t, trace.pressure, -10.0, 0.4, 0.0)
    assert settled <= -np.log(0.02 * sqrt(1.0 - zeta**2)) / (zeta * wn)


@pytest.fixture(scope="module")
def hall():
    return job_file.demonstration("swim_hall")


def test_a_loop_at_rest_stands_where_the_steady_search_holds_it(hall):
    # `held_pressure.hold` knows neither settings nor time.
    schedule = Schedule(Q_(300, "s"), ("high", "purge", "low"), season=2)
    one = Loop(BOTH_SIGNS, gains(0.004, 4.0), Lag(Q_(3, "s")), Q_(-0.05, "inH2O"), start=0.2)
    trace = draft_control.simulate(hall.plant, hall.seasons, schedule, "stack", FAN, one, at_once=True)
    states = States(np.array([[3.0], [1.0], [2.0]]), np.array([2]), np.zeros(1), np.zeros(1))
    drive = fan_drive.Drive(FAN.fan, 0.0, FAN.fan.most_speed)
    held = held_pressure.hold(
        hall.plant, hall.seasons, states, (held_pressure.Control("stack", drive, "header", Q_(-0.05, "inH2O")),)
    )
    assert trace.pressure[-1] == pytest.approx(-0.05 * 249.089, abs=0.05)
    assert trace.added[-1] == pytest.approx(held.added[0, 0], abs=0.1)
    assert np.abs(trace.outlets[:, -1] - held.solution.outlet_pressure[:, 0]).max() < 0.1


def test_a_loop_begins_at_rest(hall):
    one = Loop(BOTH_SIGNS, gains(0.01, 4.0), Lag(Q_(3, "s")), Q_(-30, "Pa"))
    trace = draft_control.simulate(hall.plant, hall.seasons, a_morning(), "stack", FAN, one, at_once=True)
    before = trace.time < 20.0
    assert np.abs(trace.pressure[before] + 30.0).max() < 0.05
    assert np.ptp(trace.setting[before]) < 1e-3


def test_other_things_that_cannot_be_are_refused_by_name(hall):
    schedule = Schedule(Q_(60, "s"), ("off",) * 3)
    one = loop(gains(0.01))
    with pytest.raises(ValueError, match="'chimney'"):
        transient_response.respond(hall.plant, hall.seasons, schedule, "chimney", FAN)
    with pytest.raises(ValueError, match="'Boiler 9'"):
        draft_control.simulate(hall.plant, hall.seasons, schedule, "stack", FAN, one, {"Boiler 9": Limits()})
    with pytest.raises(ValueError, match="rise within 0 to 1"):
        loop(gains(0.01), least=0.9, most=0.2)
    with pytest.raises(ValueError, match="start"):
        loop(gains(0.01), least=0.2, start=0.1)
    with pytest.raises(ValueError, match="range"):
        Sensor(Q_(0, "Pa"), Q_(-60, "Pa"))
    with pytest.raises(ValueError, match="limits"):
        Limits(Q_(5, "Pa"), Q_(-5, "Pa"))
    with pytest.raises(ValueError, match="rotor"):
        replace(ROTOR, inertia=Q_(0, "kg*m**2"))


def test_the_step_test_of_a_loop_is_that_of_its_parts():
    # Lag and filter in series: 1 - (T1 e^(-t/T1) - T2 e^(-t/T2)) / (T1 - T2).
    sensor = replace(BOTH_SIGNS, filter=Q_(1, "s"))
    one = loop(gains(0.01, 4.0), Lag(Q_(5, "s")), sensor)
    time, reading, step = draft_control.step_test(one, step_of(0.0), step=0.05)
    expected = -10.0 - 5.0 * (1.0 - (5.0 * np.exp(-time / 5.0) - np.exp(-time)) / 4.0)
    assert step == 0.05 and np.abs(reading - expected).max() < 2e-3


def test_a_clipped_error_makes_the_recovery_a_straight_line():
    # While a sensor stands at its end its error is constant, -set_point, so a PI output rises in a line of slope kp e
    # / ti, whatever the spike is. Without a lag the pressure falls K times as fast.
    sensor = Sensor(Q_(-100, "Pa"), Q_(0, "Pa"), Q_(0, "s"), Q_(0.1, "s"))
    kp, ti, gain = 0.0005, 5.0, 200.0
    trace = draft_control.follow(loop(gains(kp, ti), sensor=sensor, start=0.1), step_of(120.0, most=gain))
    clipped = (trace.pressure > 2.0) & (trace.time > 1.0)
    slope = np.polyfit(trace.time[clipped], trace.pressure[clipped], 1)[0]
    assert slope == pytest.approx(-gain * kp * 10.0 / ti, rel=0.01)


@pytest.mark.parametrize("actuator", [Stroke(Q_(5, "s")), Stroke(Q_(60, "s"))])
def test_no_stroke_is_faster_than_its_motor(actuator):
    trace = draft_control.follow(loop(gains(0.01, 5.0), actuator), step_of(60.0))
    assert np.abs(np.diff(trace.setting)).max() <= 0.05 / actuator.time.m_as("s") + 1e-12


def test_a_step_test_goes_down_where_the_output_has_no_room():
    # At rest at 0.97 of 100 Pa: 0.05 more cannot be, so 0.05 less, and the reading rises by 5 Pa in the end.
    one = loop(gains(0.01, 4.0), Lag(Q_(2, "s")))
    _, down, stepped = draft_control.step_test(one, step_of(0.0, rest=0.97))
    assert stepped == -0.05 and down[-1] - down[0] == pytest.approx(5.0, abs=1e-6)
    # At 0.94 there is room, and at 0.03, where 0.05 less would not be.
    for rest in (0.94, 0.03):
        _, up, stepped = draft_control.step_test(one, step_of(0.0, rest=rest))
        assert stepped == 0.05 and up[-1] - up[0] == pytest.approx(-5.0, abs=1e-6)


def test_a_frozen_loop_sees_the_disturbance_less_what_its_device_adds_from_the_first_instant_on():
    # 3 Pa a second from 0 s to 20 s, 1 Pa a second on: 0.3 of 100 Pa stands against it.
    corners = np.array([0.0, 20.0, 60.0]), np.array([-20.0, 40.0, 80.0])
    one = loop(gains(0.01, 4.0), start=0.3, manual=Q_(inf, "s"))
    trace = draft_control.follow(one, Response.given(*corners, 0.0, 100.0))
    assert np.allclose(trace.pressure, np.interp(trace.time, *corners) - 30.0, atol=1e-9)
    assert np.allclose(trace.reading, trace.pressure) and np.allclose(trace.added, 30.0)


def guarded(limits, running, header=60.0, outlet=10.0):
    """Half a minute of two burners of which the first ``running`` run, on a vent of given pressures, guarded."""
    plant, lasts = row_plant(2, idle="sealed"), 30.0
    time, ends = np.array([0.0, lasts]), np.array([0.0, 1.0])
    codes = np.repeat(np.arange(2)[:, None] < running, 2, axis=1).astype(float)
    vent = Response(time, ends, np.full((2, 2), header), np.full((2, 2, 2), outlet), np.zeros((2, 2)), codes)
    schedule = Schedule(Q_(lasts, "s"), ("low",) * 2, season=1)
    one = loop(gains(0.01), start=0.5)
    return draft_control.simulate(
        plant, SEASONS, schedule, plant.order[-1].name, Linear(0.0, 1.0), one, limits, vent, at_once=True
    )


def test_a_limit_that_is_passed_from_the_beginning_waits_for_its_whole_delay():
    (trip,) = guarded({"header": Limits(high=Q_(50, "Pa"), delay=Q_(2, "s"))}, 2).trips
    assert 2.0 - 1e-9 <= trip.at <= 2.1 and trip.pressure == 60.0 and trip.stopped == ("B1", "B2")
    (low,) = guarded({"B1": Limits(Q_(20, "Pa"), delay=Q_(2, "s"))}, 2).trips
    assert 2.0 - 1e-9 <= low.at <= 2.1 and low.pressure == 10.0 and low.stopped == ("B1",)


def test_limits_guard_only_what_runs():
    header, own = {"header": Limits(high=Q_(50, "Pa"))}, {"B2": Limits(high=Q_(5, "Pa"))}
    assert [len(guarded(header, running).trips) for running in (0, 1, 2)] == [0, 1, 1]
    assert [len(guarded(own, running).trips) for running in (0, 1, 2)] == [0, 0, 1]
    # Without a delay it trips at once, and nothing runs from the beginning on.
    at_once = guarded(header, 1)
    assert (at_once.trips[0].at, at_once.trips[0].stopped) == (0.0, ("B1",))
    assert np.all(at_once.codes[0, at_once.time > AT_ONCE + 1e-6] == 0.0)


def test_what_a_loop_did_is_read_from_the_table_in_time_and_setting_alike():
    # Against scipy's bilinear interpolation, along the way that the loop took through a table of five times.
    draw, time, settings = np.random.default_rng(5), np.array([0.0, 3.0, 10.0, 11.0, 20.0]), np.linspace(0.0, 1.0, 7)
    tables = np.sort(draw.uniform(-60.0, 60.0, (4, 5, 7)), axis=-1)[..., ::-1]
    codes = draw.uniform(0.0, 3.0, (2, 5))
    vent = Response(time, settings, tables[0], tables[1:3], tables[3], codes)
    trace = draft_control.follow(loop(gains(0.006, 2.0), Lag(Q_(1, "s")), start=0.4), vent)
    at = np.column_stack([trace.time, trace.setting])
    found = (trace.pressure, *trace.outlets, trace.added)
    for values, table in zip(found, tables, strict=True):
        assert np.allclose(values, RegularGridInterpolator((time, settings), table)(at), atol=1e-9)
    assert np.ptp(trace.setting) > 0.2 and np.allclose(trace.codes, [np.interp(trace.time, time, c) for c in codes])


def test_a_loop_without_limits_of_its_output_uses_all_of_it():
    for height, end in ((-50.0, 0.0), (500.0, 1.0)):
        trace = draft_control.follow(loop(gains(0.01, 2.0), start=0.1), step_of(height))
        assert trace.output[-1] == trace.setting[-1] == end
