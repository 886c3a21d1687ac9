"""Starts: every season and every order in which the burners may be called."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from sample_commissioning import LODGE, SCHOOL

from ventcalc.draft.start_sequence import State
from ventcalc.job import starts, trial_run


@pytest.mark.slow
def test_every_order_is_started_in_every_season(tried_lodge, tried_school):
    for at, tried in ((LODGE, tried_lodge), (SCHOOL, tried_school)):
        names = [a.name for a in at.plant.appliances]
        run = {(s.season, s.order) for s in tried.starts}
        assert run == {(season.name, order) for season in at.seasons for order in permutations(names)}
        assert tried.coverage.orders == tried.coverage.possible and tried.coverage.seasons == len(at.seasons)


def test_beyond_four_appliances_the_worst_orders_are_looked_for_and_counted(held_lodge):
    a, b = held_lodge.remedy.plant.appliances
    many = tuple(replace((a, b)[k % 2], name=f"B{k}") for k in range(6))
    envelopes = tuple(replace(held_lodge.envelopes[0], appliance=x.name) for x in many)
    plant = replace(held_lodge.remedy.plant, appliances=held_lodge.remedy.plant.appliances)
    object.__setattr__(plant, "appliances", many)
    large = replace(held_lodge, remedy=replace(held_lodge.remedy, plant=plant), envelopes=envelopes)
    orders = starts.orders(large)
    assert orders[0] == tuple(range(6)) and len(set(orders)) == len(orders) < 720
    assert all(sorted(o) == list(range(6)) for o in orders)
    assert {o[0] for o in orders} == {o[-1] for o in orders} == set(range(6))  # each was first, and last


def test_a_hood_is_lit_stands_in_the_interlock_and_its_window_counts(tried_school, held_school):
    heater = SCHOOL.plant.appliances[0]
    assert heater.kind == "draft hood" and heater.name in tried_school.trial.timeline.names
    assert all(state is State.RUN for state in tried_school.trial.timeline.ends)
    for start in tried_school.starts:
        own = next(o for o in start.outlets if o.appliance == heater.name)
        assert np.isfinite(own.lowest) and np.isfinite(own.highest)
    runs = trial_run.trial_runs(SCHOOL, held_school.remedy)
    row = [a.name for a in SCHOOL.plant.appliances].index(heater.name)
    assert all(run.trace.codes[row].max() == 1.0 for run in runs)
    # No release of a tried_school before draft is proved, as of any other.
    spans = tried_school.trial.timeline.spans(heater.name)
    assert [s for *_, s in spans][:4] == [State.IDLE, State.STARTING, State.PROVING, State.PURGE]
