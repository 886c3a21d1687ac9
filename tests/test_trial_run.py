"""Trial run: the sequence's burners on the vent in time, against the steady solver and the sequence itself."""

from dataclasses import replace

import numpy as np
import pytest

from ventcalc import common_vent, draft_control, firing_states, job, remedies, tables, trial_run
from ventcalc.common_vent import States
from ventcalc.dampers import Damper, leakage_class
from ventcalc.draft_control import DamperPosition, FanSpeed
from ventcalc.fans import fan
from ventcalc.network import compile_network
from ventcalc.start_sequence import State
from ventcalc.trial_run import InTurn
from ventcalc.units import Q_

HALL = job.load(tables.DATA / "jobs" / "swim_hall.toml")


@pytest.fixture(scope="module")
def offered():
    return remedies.offered(HALL)


@pytest.fixture(scope="module")
def run(offered):
    return trial_run.trial_run(HALL, offered.remedy)


def test_every_burner_comes_to_run_and_nothing_trips(run):
    assert run.ends_in_run and not run.trace.trips and run.trace.unsolved == 0
    assert all(state is State.RUN for state in run.timeline.ends)
    # Released one after another, at least the stagger apart.
    released = sorted(c.time for c in run.timeline.changes if c.state is State.PURGE)
    assert len(released) == 3 and min(np.diff(released)) >= run.settings.seconds("stagger") - 1e-9


def test_what_the_burners_do_is_what_the_sequence_says(run):
    for i, name in enumerate(run.timeline.names):
        wanted = run.timeline.codes(run.trace.time, name)
        # A step of the sequence takes the draft control's least time.
        off = np.abs(run.trace.codes[i] - wanted) > 0.05
        assert off.mean() < 0.01


def test_it_ends_where_the_steady_control_stands(run, offered):
    set_point = float(offered.remedy.set_point.m_as("Pa"))
    assert run.trace.pressure[-1] == pytest.approx(set_point, abs=0.5)
    assert run.season == "summer"  # where the cold vent with all at high fire has least draft


def test_the_trace_is_the_vent_solved_with_what_was_added(run, offered):
    """An instant of the trace, solved apart with the pressure that the devices added then."""
    plant, network = offered.remedy.plant, compile_network(offered.remedy.plant, HALL.seasons)
    at = int(np.searchsorted(run.trace.time, 140.0))
    season = [s.name for s in HALL.seasons].index(run.season)
    lit = min(c.time for c in run.timeline.changes if c.state in (State.MAIN, State.RUN))
    cold = float(np.exp(-(run.trace.time[at] - lit) / 300.0))  # the schedule's default warming time
    added = np.zeros((len(plant.order), 1))
    added[plant.row(offered.remedy.top)] = run.trace.added[at]
    states = States(run.trace.codes[:, at : at + 1], np.array([season]), np.array([cold]), np.zeros(1))
    solution = common_vent.solve_network(network, states, added)
    pressure = float(firing_states.far_end_pressure(solution, network)[0])
    assert run.trace.pressure[at] == pytest.approx(pressure, abs=1.5)  # walls warm from the first flame, to seconds


def test_time_outside_windows_is_counted_from_the_trace(run, offered):
    step, plant = run.trace.time[1], offered.remedy.plant
    for i, (name, lasts, beyond) in enumerate(run.outside(plant)):
        a = plant.appliances[i]
        low, high = (float(w.m_as("Pa")) for w in a.window)
        runs = run.trace.codes[i] > 0.0
        pressure = run.trace.outlets[i]
        assert name == a.name and lasts == pytest.approx(step * (runs & ((pressure < low) | (pressure > high))).sum())
        worst = max(low - pressure[runs].min(), pressure[runs].max() - high, 0.0)
        assert beyond == pytest.approx(worst)


def test_gains_stand_on_the_sheet(run):
    assert run.gains.plain[0] > 0.0 and run.settings.integral_time == run.gains.ti
    assert run.settings.gain.m_as("1/Pa") == pytest.approx(run.gains.plain[0])
    assert run.gains.ti >= trial_run.LEAST_INTEGRAL


def test_only_what_holds_the_header_is_run(offered):
    assert trial_run.trial_run(HALL, replace(offered.remedy, set_point=None)) is None
    assert trial_run.trial_run(replace(HALL, sequence=None), offered.remedy) is None


@pytest.mark.parametrize("name", ["fan", "damper"])
def test_one_device_alone_is_run_as_well(name):
    scan = firing_states.scan(HALL.plant, HALL.seasons)
    make = {"fan": remedies.fan_in_stack, "damper": remedies.damper_in_stack}[name]
    found = trial_run.trial_run(HALL, make(HALL, HALL.plant, Q_(-0.02, "inH2O"), scan.states))
    low, high = found.span()
    assert low < -5.0 < high and len(found.trace.time) > 1000
    if name == "damper":  # a damper adds no draft: all burners at high fire in summer leave the header too high
        (trip,) = found.trace.trips
        before = found.trace.time < trip.at
        assert trip.where == "header" and trip.pressure > 0.0 and not trip.nuisance
        assert found.trace.setting[before][-1] == pytest.approx(1.0, abs=0.02)
        assert found.trace.pressure[-1] < 0.0  # with all burners off the warm stack still draws


def test_in_turn_the_damper_opens_first_and_the_fan_never_resists():
    damper = Damper("butterfly", Q_(16, "inch"), Q_(16, "inch"), leakage_class("EN class 2"))
    both = InTurn(DamperPosition(damper), FanSpeed(fan("roof 12")), least_speed=0.25)
    flow, density, area, setting = 0.4, 1.0, 0.13, np.linspace(0.0, 1.0, 101)
    added = both.added(np.full(101, flow), np.full(101, density), area, setting)
    assert (np.diff(added) >= -1e-9).all()
    alone = DamperPosition(damper).added(np.full(101, flow), np.full(101, density), area, np.minimum(2 * setting, 1.0))
    fan_part = added - alone
    assert (fan_part >= -1e-9).all() and fan_part[:51] == pytest.approx(fan_part[0])
    strong = both.added(np.array([2.0]), np.array([1.0]), area, np.array([0.5]))
    assert strong == pytest.approx(
        DamperPosition(damper).added(np.array([2.0]), np.array([1.0]), area, np.array([1.0]))
    )


def test_a_run_covers_the_start_in_the_loops_own_steps(run):
    assert run.timeline.until > 150.0 and np.allclose(np.diff(run.trace.time), draft_control.STEP)
