"""Mended vent: all states of a calibrated vent, against the scan of the job as drawn."""

import numpy as np
import pytest
from sample_demo_surveys import demo, diagnosed

from ventcalc.job import mended_vent
from ventcalc.job.diagnosis import STUDIED
from ventcalc.job.surveyed_vent import SurveyedVent
from ventcalc.vent import firing_states
from ventcalc.vent.states import States


def test_conditions_are_all_levels_in_all_seasons_hot_and_cold():
    job = demo("swim_hall_blocked_cap")[0]
    found = mended_vent.conditions(job)
    # By hand: three boilers off, low or high, but not all off, in three seasons, twice.
    assert len(found) == len(set(found)) == (3**3 - 1) * 3 * 2


def test_of_many_appliances_those_of_the_performance_test(monkeypatch):
    job = demo("swim_hall_blocked_cap")[0]
    monkeypatch.setattr(mended_vent, "MOST_CONDITIONS", 10)
    assert len(mended_vent.conditions(job)) < (3**3 - 1) * 3 * 2


def test_as_drawn_it_is_the_vent_of_the_scan():
    """The vent with all inputs in their middle, in all its states, is that which the scan solves state by state."""
    job = demo("swim_hall_blocked_cap")[0]
    told = mended_vent.conditions(job)
    vent = SurveyedVent(job, told)
    ours = vent.solve(vent.values(np.zeros((len(vent.inputs), 1)), formula=STUDIED), 1).solution.outlet_pressure
    codes = np.array([c.codes(job.plant) for c in told]).T
    season = np.repeat(np.arange(3), len(told) // 3)
    cold, none = np.array([c.cold for c in told]), np.zeros(len(told), int)
    states = States(codes, season, cold, none.astype(bool), none)
    scan = firing_states.of_states(job.plant, job.seasons, states, len(told), True).first
    assert ours == pytest.approx(scan.solution.outlet_pressure, abs=1e-3)


def test_margins_and_counts_by_hand():
    found = diagnosed("swim_hall_blocked_cap")
    rest = found.mended.stands
    assert rest.conditions == 156 and 0 < rest.gas <= rest.outside <= rest.conditions and not rest.holds
    # All boilers at high read 0.33 in. w.c. on a mild day at a window that ends at 0.10: it cannot be better than that.
    assert rest.margin < -(0.33 - 0.10) * 249.089
