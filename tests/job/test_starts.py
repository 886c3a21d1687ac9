"""Starts: every season and every order in which the burners may be called."""

from dataclasses import replace
from itertools import permutations
from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import LODGE, SCHOOL
from sample_plants import row_plant

from ventcalc.draft.start_sequence import State
from ventcalc.job import starts, trial_run
from ventcalc.units import Q_


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


def test_beyond_four_the_largest_and_the_smallest_input_are_lit_first():
    """Six boilers whose high fires fall while their low fires rise: it is the high fire that counts."""
    plant = row_plant(6)
    burners = tuple(
        replace(
            a,
            levels=tuple(
                replace(v, heat_input=Q_(kw, "kW")) for v, kw in zip(a.levels, (10.0 + i, 200.0 - i), strict=True)
            ),
        )
        for i, a in enumerate(plant.appliances)
    )
    outcome = SimpleNamespace(
        remedy=SimpleNamespace(plant=replace(plant, appliances=burners)),
        envelopes=[SimpleNamespace(margin=m) for m in (3.0, 1.0, 2.0, 6.0, 5.0, 4.0)],
    )
    found = starts.orders(outcome)
    assert {(5, 4, 3, 2, 1, 0), (0, 1, 2, 3, 4, 5), (1, 2, 0, 5, 4, 3), (3, 4, 5, 0, 2, 1)} <= set(found)
    assert {o[0] for o in found} == {o[-1] for o in found} == set(range(6)) and len(set(found)) == len(found)


def test_a_start_tells_the_ends_between_which_its_header_went(tried_lodge):
    assert all(s.header[0] < s.header[1] for s in tried_lodge.starts)
    assert all(s.header[0] <= LODGE.sequence.set_point.m_as("Pa") + 5.0 for s in tried_lodge.starts)
