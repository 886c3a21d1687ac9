"""Closed loop: the control acting on the vent in time, against the loop on a given answer, the steady solver, and
itself at finer steps; and what each fault does."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.draft import closed_loop, draft_control
from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.draft.closed_loop import DAMPER_OPENS, DAMPER_SHUTS, FAN_STOPS, SENSOR_STILL, SUDDEN, Devices, Fault
from ventcalc.draft.controller import Gains
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.fan_table import fan
from ventcalc.draft.final_element import FanSpeed
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.units import Q_
from ventcalc.vent import column_grid, common_vent
from ventcalc.vent.course import Inputs
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Method

PLANT = row_plant(2, idle="sealed")
FAN = Drive(fan("roof 12"), 0.25, fan("roof 12").most_speed)
DAMPER = Damper("butterfly", Q_(350, "mm"), Q_(350, "mm"), leakage_class("EN class 2"))
BOTH = Devices(PLANT, FAN, DAMPER, "stack", "stack", 15.0, 2.5)
ALONE = replace(BOTH, damper=None)


def loop(devices, set_point=-12.0):
    actuator = Stroke(Q_(devices.stroke, "s")) if devices.damper else Lag(Q_(devices.run_up, "s"))
    sensor = Sensor(Q_(-100, "Pa"), Q_(100, "Pa"), Q_(1.0, "s"))
    return Loop(sensor, Gains(Q_(0.002, "1/Pa"), Q_(2.0, "s")), actuator, Q_(set_point, "Pa"), least=devices.least)


def high(seconds=40.0, season=0, turns=()):
    return Schedule(Q_(seconds, "s"), ("high", "high"), turns, season=season)


def test_one_output_moves_damper_and_fan_in_turn_and_the_fan_never_resists():
    setting, flow, density = np.linspace(0.0, 1.0, 201), 0.9, 0.9
    made = BOTH.added(flow, density, flow, density, setting)
    below, above = setting <= closed_loop.MIDDLE, setting >= closed_loop.MIDDLE
    assert (np.diff(made[above]) > 0.0).all()  # no stretch of the output does nothing
    assert (np.diff(made[below]) >= -1e-9).all()
    by_fan = BOTH.by_fan(flow, density, BOTH.speed(setting, flow))
    assert by_fan[below] == pytest.approx(0.0, abs=0.1) and (by_fan[above] >= -0.1).all()
    assert (BOTH.position(setting)[above] == 1.0).all()


def test_a_fan_alone_is_that_of_the_draft_control():
    setting = np.linspace(0.3, 1.0, 8)
    area = PLANT.section("stack").area
    assert ALONE.added(0.9, 0.9, 0.9, 0.9, setting) == pytest.approx(FanSpeed(FAN.fan).added(0.9, 0.9, area, setting))


def test_at_rest_it_stands_where_the_steady_solver_has_it():
    """Warmed through and held: the pressures are those of the vent at rest with what the devices add then."""
    runs = closed_loop.simulate(SEASONS, [high(season=k) for k in range(3)], BOTH, loop(BOTH))
    network = compile_network(PLANT, SEASONS)
    for k in range(3):
        assert runs.pressure[-1, k] == pytest.approx(-12.0, abs=0.5)
        added = np.zeros((len(PLANT.order), 1))
        added[PLANT.row("stack")] = runs.added[-1, k]
        states = States(np.array([[2.0], [2.0]]), np.array([k]), np.zeros(1), np.zeros(1))
        solution = common_vent.solve_network(network, states, added)
        assert runs.pressure[-1, k] == pytest.approx(float(far_end_pressure(solution, network)[0]), abs=1.5)
        assert runs.outlets[:, -1, k] == pytest.approx(solution.outlet_pressure[:, 0], abs=1.5)


def test_where_all_flows_are_forced_it_is_the_loop_of_the_draft_control():
    """Another way to the same loop: the vent's answer to every setting looked up in a table."""
    turns = (Turn("B1", "low", Q_(10.0, "s"), Q_(8.0, "s")),)
    one = loop(ALONE)
    runs = closed_loop.simulate(SEASONS, [high(turns=turns)], ALONE, one)
    trace = draft_control.simulate(PLANT, SEASONS, high(turns=turns), "stack", FanSpeed(FAN.fan), one)
    wanted = np.interp(runs.time, trace.time, trace.pressure)
    later = runs.time > 2.0  # a different choice of where to begin
    assert np.abs(runs.pressure[:, 0] - wanted)[later].max() < 1.5
    assert runs.setting[-1, 0] == pytest.approx(trace.setting[-1], abs=0.01)


def test_finer_steps_and_cells_change_little(monkeypatch):
    turns = (Turn("B1", "low", Q_(10.0, "s"), Q_(8.0, "s")),)
    rough = closed_loop.simulate(SEASONS, [high(turns=turns)], BOTH, loop(BOTH))
    monkeypatch.setattr(closed_loop, "METHOD", Method(cell=0.5, step=0.05, films=3, walls=10))
    fine = closed_loop.simulate(SEASONS, [high(turns=turns)], BOTH, loop(BOTH))
    begun = rough.time > 10.0  # gas at rest in the cells is another until the vent has filled
    assert np.abs(rough.pressure - fine.pressure)[begun].max() < 1.0


@pytest.fixture(scope="module")
def failed():
    kinds = ("", FAN_STOPS, DAMPER_OPENS, DAMPER_SHUTS, SENSOR_STILL)
    turns = (Turn("B1", "low", Q_(15.0, "s"), Q_(5.0, "s")),)
    schedules = [high(30.0, turns=turns if k == SENSOR_STILL else ()) for k in kinds]
    return closed_loop.simulate(SEASONS, schedules, BOTH, loop(BOTH), faults=[Fault(k, 10.0) for k in kinds])


def test_before_anything_fails_all_runs_are_alike(failed):
    before = failed.time < 10.0
    assert np.ptp(failed.pressure[before], axis=1).max() < 1e-9


def test_a_fan_that_stops_runs_down_and_resists(failed):
    after = failed.time > 10.2
    speed = failed.speed[after, 1]
    assert speed[-1] < 1e-3 and (np.diff(speed) <= 0.0).all()
    # By its time constant from where it was, an exact exponential.
    at = float(failed.time[after][0])
    assert speed == pytest.approx(speed[0] * np.exp(-(failed.time[after] - at) / BOTH.run_up), rel=1e-6, abs=1e-9)
    stands = BOTH.by_fan(failed.flow[0, -1, 1], failed.density[0, -1, 1], speed[-1])
    # What stands still resists as its impeller's loss on the velocity head of its own outlet says.
    head = 0.5 * failed.density[0, -1, 1] * (failed.flow[0, -1, 1] / FAN.fan.area) ** 2
    own = 0.5 * failed.density[0, -1, 1] * (failed.flow[0, -1, 1] / PLANT.section("stack").area) ** 2
    assert stands == pytest.approx(own - FAN.fan.stopped_loss * head, rel=0.02)


def test_a_damper_that_fails_runs_to_its_end_in_its_time_and_stays(failed):
    end = failed.time >= 10.0 + BOTH.travel + 0.2
    assert (failed.position[end, 2] == 1.0).all() and (failed.position[end, 3] == 0.0).all()
    step = np.diff(failed.position[:, 3])
    assert step.min() >= -closed_loop.KEPT / BOTH.travel - 1e-9
    assert failed.output[-1, 3] > failed.output[-1, 0]  # the loop asks for more and gets nothing


def test_a_sensor_that_is_still_leaves_the_output_to_drift_on_an_old_error(failed):
    after = failed.time >= 10.2
    assert np.ptp(failed.reading[after, 4]) == 0.0 and np.ptp(failed.pressure[after, 4]) > 5.0


def test_counts_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="1 schedules, 1 manual times and 2 faults"):
        closed_loop.simulate(SEASONS, [high()], BOTH, loop(BOTH), faults=[Fault(), Fault()])


def test_what_stops_or_falls_back_to_its_purge_goes_there_straight():
    """By hand: half of the half second after a burner lost its flame it sends the mean of high fire and purge, though
    low fire, with far less, lies between the two; the other burner, which goes on, sends what it did."""
    purging = tuple(replace(a, purge_flow=Q_(0.2, "m**3/s")) for a in PLANT.appliances)
    plant = replace(PLANT, appliances=purging)
    lost = Schedule(Q_(10.0, "s"), ("high", "high"), (Turn("B1", "purge", Q_(4.0, "s"), Q_(0.0, "s")),), season=0)
    network = compile_network(plant, SEASONS)
    course = closed_loop._side_by_side(plant, [lost, replace(lost, turns=())])
    grid = column_grid.grid(network, 0.5)
    sent = [
        Inputs(network, grid, *course.between(np.array([t]))).prescribed[:, 0]
        for t in (4.0, 4.0 + 0.25 * SUDDEN, 4.0 + 0.5 * SUDDEN, 4.0 + SUDDEN, 9.0)
    ]
    off, purge, low, full = network.prescribed[0][0]
    assert off == 0.0 and low < min(purge, full)
    by_hand = full + np.array([0.0, 0.25, 0.5, 1.0, 1.0]) * (purge - full)
    assert [s[0] for s in sent] == pytest.approx(by_hand) and [s[1] for s in sent] == pytest.approx([full] * 5)
    assert closed_loop._side_by_side(plant, [replace(lost, turns=())]).moves is None  # nothing jumps
