"""Remedy outcome: every outcome solved and counted again, and the order of importance."""

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_remedies import JOBS, named, small_job

from ventcalc.draft.held_pressure import TOLERANCE
from ventcalc.job import device_remedies, remedy_outcome, remedy_words, vent_changes
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.vent import common_vent, firing_states, outlet_envelope, section_extremes


def solved_again(o):
    """An outcome's states solved from nothing, with what its devices add put in by hand."""
    plant, states = o.remedy.plant, o.scan.states
    added = np.zeros((len(plant.order), len(states)))
    names = [s.name for s in plant.order]
    for k, control in enumerate(o.held.controls if o.held else ()):
        added[names.index(control.section)] += o.held.added[k]
        if control.second:
            added[names.index(control.second.section)] += o.held.second[k]
    return common_vent.solve(plant, o.scan.seasons, states, added)


@pytest.mark.parametrize("name", JOBS)
def test_as_drawn_is_the_plain_scan(compared, name):
    scan, outcomes = compared[name]
    drawn = named(outcomes, "as drawn")
    assert drawn.envelopes == outlet_envelope.envelopes(scan) and not drawn.remedy.devices
    assert drawn.outside == outlet_envelope.outside_window(scan).any(axis=0).sum()
    assert remedy_words.words(drawn.remedy) == "nothing is changed"


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_every_outcome_solved_again(compared, name):
    scan, outcomes = compared[name]
    for o in outcomes:
        again, states = solved_again(o), o.scan.states
        assert np.isin(states.season, scan.states.season).all()
        assert again.converged.all() and o.unsettled == 0, o.remedy.name
        # Less beyond the edge than a gauge can read is not beyond it (READABLE); three of the hall's are so.
        outside = gas = 0
        edge = outlet_envelope.READABLE
        for state in range(len(states)):
            runs = [i for i in range(len(o.envelopes)) if states.codes[i, state] > 0]
            windows = [[w.m_as("Pa") for w in o.remedy.plant.appliances[i].window] for i in runs]
            pressures = [again.outlet_pressure[i, state] for i in runs]
            outside += any(
                not low - edge <= p <= high + edge for p, (low, high) in zip(pressures, windows, strict=True)
            )
            doing = {a.states[c] for a, c in zip(o.remedy.plant.appliances, states.codes[:, state], strict=True)}
            # What a neighbor purges may come back as air; where none does, all of it is flue gas or thinned by it.
            gas += bool(doing - {"off", "purge"}) and "purge" not in doing and again.drawn[:, state].min() < -1e-6
        # Solved from hot alone; a further past can only make it worse, and a column stands for each.
        assert abs(outside - o.outside) <= 2 or o.outside > outside, o.remedy.name
        assert gas <= o.gas_in_room + 2 and (not o.holds or not (outside or gas)), o.remedy.name


def test_positive_pressure_on_category_one_is_seen(compared):
    # A fan alone at its least speed resists the winter draft, and puts the shaft under pressure; with the damper not.
    alone, both = (named(compared["lodge"][1], name) for name in ("fan", "fan and damper"))
    assert "shaft" in alone.pressed and not both.pressed and not alone.holds
    row = alone.scan.solution.row("shaft")
    pressure = section_extremes.static_against_surroundings(alone.scan, row)
    assert max(p[alone.scan.any_running].max() for p in pressure) > TOLERANCE
    # Condensing boilers of category IV may stand under it.
    assert not any(o.pressed for o in compared["swim_hall"][1])


def test_the_order_is_the_order_of_importance(compared):
    for _, outcomes in compared.values():
        for one, other in pairwise(outcomes):
            assert one.holds >= other.holds
            if other.holds:
                assert len(one.remedy.devices) <= len(other.remedy.devices)
                if len(one.remedy.devices) == len(other.remedy.devices):
                    assert one.remedy.new_pipe <= other.remedy.new_pipe
            elif not one.holds:
                assert bool(one.gas_in_room) <= bool(other.gas_in_room)


@given(order=st.randoms())
@settings(max_examples=30, deadline=None)
def test_the_order_does_not_depend_on_where_one_begins(compared, order):
    outcomes = list(compared["swim_hall"][1])
    shuffled = outcomes.copy()
    order.shuffle(shuffled)
    assert [o.remedy.name for o in sorted(shuffled, key=lambda o: o.order)] == [o.remedy.name for o in outcomes]


counts = st.integers(0, 600)


@given(gas=counts, outside=counts, fewer=counts, pressed=st.booleans())
@settings(max_examples=100, deadline=None)
def test_people_come_before_windows_and_windows_before_devices(compared, gas, outside, fewer, pressed):
    fan, drawn = (named(compared["swim_hall"][1], name) for name in ("fan", "as drawn"))
    one = replace(drawn, gas_in_room=gas + 1, outside=fewer)
    other = replace(fan, gas_in_room=0, outside=1 + outside, pressed=("stack",) if pressed else ())
    assert other.order < one.order
    # A state that was not solved counts like one with gas in the room.
    assert replace(one, gas_in_room=0, unsettled=1).order[:3] == one.order[:3]
    # Where several cure: the least devices, then the least new pipe, then the least energy.
    cured = replace(fan, gas_in_room=0, outside=0, unsettled=0, pressed=())
    well = replace(drawn, gas_in_room=0, outside=0)
    plant = vent_changes.wider(drawn.remedy.plant, 1)
    rebuilt = replace(well, remedy=replace(drawn.remedy, plant=plant, drawn=drawn.remedy.plant))
    assert cured.holds and cured.order < replace(drawn, gas_in_room=0, outside=1 + outside).order
    assert well.order < rebuilt.order < cured.order
    dearer = replace(cured, duty=replace(cured.duty, yearly=2.0 * cured.duty.yearly))
    assert cured.order < dearer.order
    # What was solved in some states alone is no cure yet, and stands between.
    assert cured.order < replace(well, everywhere=False).order < one.order


def stand_in(**about):
    """What `Outcome.order` reads, of a cure without devices."""
    usual = {"cured": True, "holds": True, "outside": 0, "gas_in_room": 0, "pressed": (), "unsettled": 0, "duty": None}
    remedy = SimpleNamespace(unfit="", devices=(), new_pipe=0.0)
    more = {"remedy": remedy, "everywhere": True, "envelopes": (), "judgement": None, "margin": 1.0}
    return SimpleNamespace(**usual | more | about)


def order(**about):
    one = stand_in(**about)
    return *Outcome.failing.fget(one), *Outcome.cost.fget(one)  # what `Outcome.order` is made of


def test_of_two_cures_that_cost_the_same_the_one_with_more_to_spare_comes_first():
    assert order(margin=9.0) < order(margin=2.0) < order(margin=2.0, gas_in_room=1)
    spends = [SimpleNamespace(yearly=y) for y in (1e9, 2e9)]
    assert order(duty=spends[0], margin=1.0) < order(duty=spends[1], margin=5.0)
    # What was not solved everywhere counts like flue gas in the room until it has been.
    fails = {"cured": False, "holds": False, "outside": 3, "envelopes": (SimpleNamespace(above=1.0, below=0.0),)}
    assert order(**fails) < order(**fails, everywhere=False) < order(**fails, gas_in_room=1)


def test_a_finer_actuator_takes_its_part_of_what_is_uncertain():
    """An inherent curve is smooth: a tenth of a step moves a tenth of the pressure, but for its curvature (12 %)."""
    usual = small_job(height=30, connector=250, header=350, set_point=-20, low=-30)
    scan, found = firing_states.scan(usual.plant, usual.seasons).first, {}
    damper = device_remedies.damper_in_stack(usual, usual.plant, usual.set_point, scan.states).damper
    assert usual.actuator_step == 0.01
    for share in (0.01, 0.001):
        job = replace(usual, actuator_step=share)
        remedy = device_remedies.damper_in_stack(job, job.plant, job.set_point, scan.states, damper)
        found[share] = remedy_outcome.outcome(job, remedy, scan)
    coarse, fine = found[0.01], found[0.001]
    assert coarse.step > 5.0 and fine.step == pytest.approx(0.1 * coarse.step, rel=0.12)
    assert fine.margin == pytest.approx(coarse.margin, abs=2 * TOLERANCE)
    assert coarse.thinnest[2] - fine.thinnest[2] > 0.5 * coarse.step and fine.least[2] < coarse.least[2]
