"""Governing scan: the few states, what is solved in them, and more of them as remedies fail elsewhere."""

import numpy as np
import pytest
from sample_remedies import small_job

from ventcalc.job import device_remedies, governing_states, vent_changes
from ventcalc.job.governing_scan import GoverningScan
from ventcalc.job.remedy import Remedy
from ventcalc.vent import firing_states


@pytest.fixture
def few():
    one = small_job()
    whole = firing_states.scan(one.plant, one.seasons)
    return GoverningScan(one, whole, governing_states.governing(whole))


def test_what_is_solved_in_few_states_is_as_in_all(few):
    wide = vent_changes.wider(few.job.plant, 1)
    some, every = few.natural(wide), few.everywhere(wide)
    runs = some.states.codes > 0
    at = every.first.solution.outlet_pressure[:, few.picked]
    assert some.solution.outlet_pressure[runs] == pytest.approx(at[runs], abs=0.01)


def test_an_outcome_of_few_states_proves_nothing(few):
    o = few.outcome(Remedy("as drawn", few.job.plant))
    assert not o.everywhere and not o.holds and len(o.scan.conditions) == few.picked.size < len(few.whole.conditions)


def test_states_that_govern_another_vent_are_added_once(few):
    before = few.picked
    few.picked = before[:3]
    assert few.add(few.whole) and set(before) <= set(few.picked) and (np.diff(few.picked) > 0).all()
    assert not few.add(few.whole)


def test_what_holds_the_header_is_held_in_few_states_too_and_few_are_never_all(few):
    remedy = device_remedies.fan_in_stack(few.job, few.job.plant, few.job.set_point, few.scan.conditions)
    assert few.outcome(remedy).held is not None and not few.outcome(remedy).everywhere
    assert not few.from_every_past(few.job.plant).complete
