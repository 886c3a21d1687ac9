"""Between levels: what a fine grid finds, is found; nothing where burners step or a level is outside already."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_jobs import job_of

from ventcalc.draft import held_pressure
from ventcalc.job import between_levels, judgement, operation, remedy_outcome
from ventcalc.job.device_remedies import damper_in_stack
from ventcalc.job.remedy import as_drawn
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve

ONE_BOILER = (31, 39, 49)  # random jobs of one forced boiler of two levels


def windows_at_the_ends(job, found, wider=0.0):
    """A job, and what was found of it, with the windows that its outlets just keep at every level."""
    ends = {e.appliance: (Q_(e.low - wider, "Pa"), Q_(e.high + wider, "Pa")) for e in found.envelopes}
    appliances = tuple(replace(a, window=ends[a.name]) for a in job.plant.appliances)
    tight = replace(job, plant=replace(job.plant, appliances=appliances))
    plant = replace(found.remedy.plant, appliances=appliances)
    scan = replace(found.scan, plant=plant)
    return tight, remedy_outcome.gathered(tight, replace(found.remedy, plant=plant), scan, found.held)


def drawn(seed):
    job = job_of(seed)
    return job, remedy_outcome.outcome(job, as_drawn(job), firing_states.scan(job.plant, job.seasons))


def on_a_grid(job, found, column, shares):
    """States like that of a column, with the one boiler's level on a grid from its lowest to its highest."""
    boiler = job.plant.appliances[0]
    lowest = len(boiler.states) - len(boiler.levels)
    like = found.scan.states[np.full(shares.size, column)]
    return replace(like, codes=lowest + shares[None] * (len(boiler.levels) - 1.0))


@pytest.mark.parametrize("seed", ONE_BOILER)
def test_what_a_fine_grid_finds_is_found(seed):
    job, found = windows_at_the_ends(*drawn(seed))
    (e,), told = found.envelopes, between_levels.between(job, found)
    for high, near in ((False, e.low_state), (True, e.high_state)):
        fine = solve(job.plant, job.seasons, on_a_grid(job, found, near, np.linspace(0.0, 1.0, 201)))
        side = 1.0 if high else -1.0
        most = float((side * (fine.outlet_pressure[0] - (e.high if high else e.low))).max())
        of_this_end = [b for b in told if b.high == high]
        assert bool(of_this_end) == (most > 0.1)  # twice what can be read: nothing of these lies nearer
        for b in of_this_end:
            assert b.burners == (e.appliance,) and b.near == near and 0.0 < b.share < 1.0
            assert most - 0.06 < b.beyond <= most + 1e-3
            assert b.pressure == pytest.approx((e.high if high else e.low) + side * b.beyond)


def test_a_level_there_says_the_same():
    """The burner given the level that was told: the study's own condition has the pressure that was told."""
    job, found = windows_at_the_ends(*drawn(ONE_BOILER[1]))
    (told,) = between_levels.between(job, found)
    boiler = job.plant.appliances[0]
    low, high = boiler.levels

    there = low.heat_input + told.share * (high.heat_input.to(low.heat_input.units) - low.heat_input)
    middle = replace(low, name="there", heat_input=there)
    assert (low.flue_temperature, low.excess_air) == (high.flue_temperature, high.excess_air)  # only the input differs
    with_it = replace(boiler, levels=(low, middle, high))
    plant = replace(job.plant, appliances=(with_it,))
    state = replace(found.scan.states[[told.near]], codes=np.array([[with_it.states.index("there")]]))
    assert solve(plant, job.seasons, state).outlet_pressure[0, 0] == pytest.approx(told.pressure, abs=0.02)


def test_nothing_is_told_of_burners_that_step_or_of_what_is_outside_at_a_level():
    job, found = windows_at_the_ends(*drawn(ONE_BOILER[0]))
    stepping = replace(job.year, staging=replace(job.year.staging, modulates=(False,)))
    assert between_levels.between(job, found) and not between_levels.between(replace(job, year=stepping), found)
    assert not between_levels.between(*windows_at_the_ends(job, found, wider=5.0))
    assert not between_levels.between(*windows_at_the_ends(job, found, wider=-5.0))  # told as outside at a level


def test_with_a_damper_at_work_it_is_the_held_vent_that_is_asked(monkeypatch):
    job, found = drawn(ONE_BOILER[1])
    conditions = found.scan.conditions
    remedy = damper_in_stack(job, job.plant, Q_(-12.0, "Pa"), conditions)
    job, held = windows_at_the_ends(job, remedy_outcome.outcome(job, remedy, found.scan))
    (e,), (free,) = held.envelopes, found.envelopes
    assert not between_levels.between(job, held)  # what is held does not bend
    monkeypatch.setattr(between_levels, "READABLE", -free.swing)  # so that what lies inside is told as well
    inside = between_levels.between(job, held)
    assert e.high_purging and [b.high for b in inside] == [False]  # at the upper end its fan blows and nothing burns
    for b in inside:
        states = on_a_grid(job, held, b.near, np.array([b.share]))
        anew = held_pressure.hold(held.remedy.plant, job.seasons, states, held.remedy.controls)
        assert anew.solution.outlet_pressure[0, 0] == pytest.approx(b.pressure, abs=2.0 * held_pressure.TOLERANCE)
    assert e.swing < 0.6 * free.swing  # the damper does work


def test_it_speaks_against_a_design():
    job, found = windows_at_the_ends(*drawn(ONE_BOILER[0]))
    told = judgement.judge(operation.operate(job, found, in_time=False))
    (own,) = [f for f in told.findings if f.code == "between_levels"]
    assert own.speaks_against and own.subjects == (job.plant.appliances[0].name,)
    assert "outlet_low" not in [f.code for f in told.findings]


def test_a_share_is_of_the_whole_way_from_the_lowest_level_to_the_highest():
    """By hand: off, purge and three levels; half way from the second to the third is three quarters of the way."""
    boiler = SimpleNamespace(name="A", states=("off", "purge", "low", "mid", "high"), levels=("low", "mid", "high"))
    scan = SimpleNamespace(
        plant=SimpleNamespace(appliances=(boiler,)), states=SimpleNamespace(codes=np.array([[2.0, 4.0]]))
    )
    moved = SimpleNamespace(
        outlet_pressure=np.array([[4.0, 7.0]]), states=SimpleNamespace(codes=np.array([[2.1, 3.5]]))
    )
    e = SimpleNamespace(appliance="A", window=(-10.0, 5.0))
    found = between_levels._farthest(scan, moved, np.arange(2), np.array([0, 1]), 0, True, e)
    assert (found.share, found.beyond, found.near) == (0.75, 2.0, 1)
