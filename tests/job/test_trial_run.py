"""Trial run: the sequence's burners on the vent in time, against the steady solver and the sequence itself."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import HALL

from ventcalc.draft import closed_loop
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.start_sequence import State
from ventcalc.job import device_remedies, trial_run
from ventcalc.units import Q_
from ventcalc.vent import common_vent, end_of_header, firing_states
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States


@pytest.mark.slow
def test_every_season_is_started_and_the_worst_is_shown(runs, run, offered):
    """Least draft does not make the worst start: on the hall a mild day is worse than summer, and winter worst of all,
    where it takes the header below the low limit."""
    by_season = {r.season: r for r in runs}
    assert list(by_season) == [s.name for s in HALL.seasons]
    beyond = {name: r.gravity[1] for name, r in by_season.items()}
    assert beyond["mild"] > beyond["summer"] and run.season == max(beyond, key=beyond.get) == "design winter"
    low = float(run.settings.low_limit.m_as("Pa"))
    assert by_season["design winter"].span(run.released)[0] < low < -20.0
    assert trial_run.trial_run(HALL, offered.remedy).season == run.season
    assert len({r.gains for r in runs}) == 1  # one controller


@pytest.mark.slow
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


def test_it_ends_where_the_steady_control_stands(runs, offered):
    set_point = float(offered.remedy.set_point.m_as("Pa"))
    for run in runs:
        assert run.trace.pressure[-1] == pytest.approx(set_point, abs=0.5)


def test_the_trace_is_the_vent_solved_with_what_was_added(runs, offered):
    """An instant of the trace in summer, solved apart with the pressure that the devices added then."""
    run = runs[-1]
    plant, network = offered.remedy.plant, compile_network(offered.remedy.plant, HALL.seasons)
    # All at high fire: before, the stack still holds what the burners sent half a minute ago, purge air among it.
    at = int(np.searchsorted(run.trace.time, run.timeline.until - 25.0))
    season = [s.name for s in HALL.seasons].index(run.season)
    lit = min(c.time for c in run.timeline.changes if c.state in (State.MAIN, State.RUN))
    cold = float(np.exp(-(run.trace.time[at] - lit) / 300.0))  # the schedule's default warming time
    added = np.zeros((len(plant.order), 1))
    added[plant.row(offered.remedy.top)] = run.trace.added[at]
    states = States(run.trace.codes[:, at : at + 1], np.array([season]), np.array([cold]), np.zeros(1))
    solution = common_vent.solve_network(network, states, added)
    pressure = float(end_of_header.far_end_pressure(solution, network)[0])
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


def test_only_what_holds_the_header_is_run(offered):
    assert trial_run.trial_run(HALL, replace(offered.remedy, set_point=None)) is None


@pytest.mark.slow
@pytest.mark.parametrize("name", ["fan", "damper"])
def test_one_device_alone_is_run_as_well(name):
    scan = firing_states.scan(HALL.plant, HALL.seasons)
    make = {"fan": device_remedies.fan_in_stack, "damper": device_remedies.damper_in_stack}[name]
    remedy = make(HALL, HALL.plant, Q_(-0.02, "inH2O"), scan.states)
    in_summer = trial_run.trial_runs(HALL, remedy)[-1]
    low, high = in_summer.span()
    assert low < -5.0 < high and len(in_summer.trace.time) > 500
    if name == "damper":  # a damper adds no draft: all burners at high fire in summer leave the header too high
        found = trial_run.followed_on(HALL, remedy, in_summer)
        (trip,) = found.trace.trips
        before = found.trace.time < trip.at
        assert trip.where == "header" and trip.pressure > 0.0 and not trip.nuisance
        assert found.trace.setting[before][-1] == pytest.approx(1.0, abs=0.02)
        assert found.trace.pressure[-1] < 0.0  # with all burners off the warm stack still draws


def test_a_run_covers_the_start_in_the_loops_own_steps(run):
    assert run.timeline.until > 150.0 and np.allclose(np.diff(run.trace.time), closed_loop.KEPT)


@pytest.mark.parametrize(("can", "within"), [((-40.0, -20.0), True), ((30.0, 60.0), False), ((-90.0, -70.0), False)])
def test_a_trip_is_needless_where_the_loop_at_rest_would_have_kept_the_limits(can, within):
    """Limits of -60 and 20 Pa, held at -12: at rest the header stands there, or as near to it as the device can bring
    it in that instant."""
    pressure = np.concatenate([np.full(50, -12.0), np.full(50, 45.0)])[:, None]
    runs = SimpleNamespace(
        time=0.1 * np.arange(100), pressure=pressure, codes=np.ones((1, 100, 1)),
        loop=SimpleNamespace(set_point=Q_(-12.0, "Pa")),
        response=lambda k, times: SimpleNamespace(pressure=np.array([can])),
    )  # fmt: skip
    plant, limits = (
        SimpleNamespace(appliances=[SimpleNamespace(name="B1")]),
        Limits(Q_(-60.0, "Pa"), Q_(20.0, "Pa"), Q_(2.0, "s")),
    )
    (trip,) = trial_run.tripped(plant, runs, 0, limits)
    assert trip.nuisance == within and trip.stopped == ("B1",) and trip.at == pytest.approx(7.0, abs=0.15)
