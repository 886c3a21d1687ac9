"""Remedy: its name, what moves in it, what must be listed; all from its record."""

from types import SimpleNamespace

import numpy as np
import pytest
from sample_remedies import small_job
from sample_studies import ALL_JOBS
from scipy.optimize import brentq

from ventcalc.draft import fan_curve, fan_table
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.job import job_file, remedy_outcome, remedy_words, vent_changes
from ventcalc.job.device_choice import LEAKAGE
from ventcalc.job.remedy import Remedy, as_drawn
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve


@pytest.fixture(scope="module")
def plant():
    return small_job().plant


def test_as_drawn_nothing_moves_and_nothing_is_new(plant):
    drawn = Remedy("as drawn", plant)
    assert drawn.devices == drawn.to_be_listed == drawn.differences == () and not drawn.rebuilt


def test_a_fan_a_damper_and_outlets_are_counted_and_listed(plant):
    drive = Drive(fan_table.fan("roof 12"), 0.3, 1.0)
    damper = Damper("butterfly", Q_(250, "mm"), Q_(250, "mm"), LEAKAGE)
    made = Remedy("fan and damper", plant, fan=drive, damper=damper, outlets=("Boiler A",))
    assert [code for code, _ in made.devices] == ["fan", "damper", "outlet damper"]
    assert [name for _, name in made.devices] == ["roof 12", "butterfly", "Boiler A"]
    assert set(made.to_be_listed) == {"fan", "damper", "interlock", "appliances"}
    assert len(remedy_words.devices(made)) == 3 and made.top == "stack"


def test_its_name_says_whether_it_is_held_elsewhere(plant):
    assert Remedy("fan", plant).name == "fan"
    assert Remedy("fan", plant, moved=True).name == "fan, other set point"


def test_a_fan_in_place_of_a_cap_is_no_new_pipe(plant):
    free = vent_changes.with_free_end(plant)
    drive = Drive(fan_table.fan("roof 12"), 0.3, 1.0)
    assert not Remedy("fan", free, plant, fan=drive).rebuilt
    assert Remedy("better cap", free, plant).rebuilt


@pytest.fixture(scope="module")
def hospital():
    """The hospital as drawn, its old fan turning: (job, outcome)."""
    one = job_file.load(ALL_JOBS["hospital"])
    scan = firing_states.scan(one.plant, one.seasons)
    return one, remedy_outcome.outcome(one, as_drawn(one), scan)


def test_the_fan_that_stands_there_works_where_its_curve_meets_the_vent(hospital):
    """The operating point of a fan on a system (any textbook on fans), each state by a root finder of its own."""
    one, found = hospital
    row, fan = one.plant.row("above roof"), one.existing.drive.fan
    area = np.pi / 4.0 * one.plant.section("above roof").diameter.m_as("m") ** 2
    running = np.flatnonzero(found.scan.any_running)
    assert found.settled.all() and not found.unheld  # at one speed it holds nothing, so nothing is missed

    def excess(added, states):
        given = np.zeros((len(one.plant.order), 1))
        given[row] = added
        solution = solve(one.plant, one.seasons, states, given)
        density = solution.density[row, 0]
        flow = solution.flow[row, 0] / density
        # Static pressure at the speed, by the fan laws, and the velocity that leaves with the gas.
        static = float(fan_curve.static_pressure.bare(fan, flow, 0.70, density))
        return static + 0.5 * density * (flow / area) ** 2 - added

    for state in np.random.default_rng(3).choice(running, 6, replace=False):
        alone = found.scan.states[slice(state, state + 1)]
        by_hand = brentq(excess, 0.0, 1000.0, args=(alone,), xtol=1e-4)
        assert found.held.added[0, state] == pytest.approx(by_hand, abs=0.05)  # Pa: the search stops at 0.02


def test_a_fan_that_stands_there_is_no_change_and_holds_nothing(hospital):
    one, found = hospital
    drawn = found.remedy
    assert drawn.plant is one.plant and drawn.differences == () and not drawn.rebuilt and not drawn.controlled
    assert drawn.set_point is None and drawn.devices == (("fan", "roof 24"),)
    # Its impeller at rest is but a resistance: it takes, and never adds.
    stopped = remedy_outcome.outcome(one, as_drawn(one, speed=0.0), firing_states.scan(one.plant, one.seasons))
    across = stopped.held.flow[0] / (np.pi / 4.0 * one.plant.section("above roof").diameter.m_as("m") ** 2)
    static = stopped.held.added[0] - 0.5 * stopped.held.density[0] * np.maximum(across, 0.0) ** 2
    assert (static[across > 0.0] < 0.0).all()
    worse = stopped.scan.solution.outlet_pressure > found.scan.solution.outlet_pressure
    assert worse[:, found.scan.any_running].all()


def test_two_remedies_are_alike_where_they_are_the_same_to_build_and_to_set(plant):
    held = Remedy("fan", plant, set_point=Q_(-12.0, "Pa"))
    near, far = (Remedy("fan", plant, set_point=Q_(p, "Pa")) for p in (-12.0 + 0.5 * vent_changes.STILL, -14.0))
    free = Remedy("fan", plant)
    assert held.alike(near) and near.alike(held) and free.alike(Remedy("fan", plant))
    assert not held.alike(far) and not held.alike(free) and not free.alike(held)
    assert not held.alike(Remedy("damper in the stack", plant, set_point=held.set_point))


def test_a_remedy_is_controlled_where_any_of_its_devices_holds_a_pressure(plant):
    fixed, moved = SimpleNamespace(holds=False), SimpleNamespace(holds=True)
    found = [Remedy("fan", plant, controls=c).controlled for c in ((), (fixed,), (fixed, moved), (moved,))]
    assert found == [False, False, True, True]
