"""Failures: every failure in every season, and what sees it."""

from dataclasses import replace
from math import inf
from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import LODGE

from ventcalc.draft.start_sequence import Event
from ventcalc.job import failures
from ventcalc.job.failures import BLOCKED, CASES, FAN, FLAME, POWER, STILL, Failure


def test_every_case_is_tried_in_every_season(tried_lodge):
    for season in LODGE.seasons:
        assert {f.case for f in tried_lodge.failures if f.season == season.name} == set(CASES)
    assert {f.appliance for f in tried_lodge.failures if f.case == FLAME} == {a.name for a in LODGE.plant.appliances}
    assert tried_lodge.coverage.failures == len(tried_lodge.failures)
    assert all(f.appliance == "" for f in tried_lodge.failures if f.case != FLAME)


def test_the_governing_states_are_the_ends_of_what_the_devices_add(held_lodge):
    added, states = held_lodge.scan.solution.added.sum(axis=0), held_lodge.scan.states
    calm = (states.windy == 0.0) & held_lodge.scan.any_firing & held_lodge.scan.solution.converged
    for season, columns in enumerate(failures.governing(held_lodge.scan)):
        own = calm & (states.season == season)
        assert added[list(columns)].max() == added[own].max() and added[list(columns)].min() == added[own].min()


def test_what_sees_a_failure_comes_after_its_delay(tried_lodge):
    s = tried_lodge.trial.settings
    for f in tried_lodge.failures:
        delays = {Event.FAN_FAILED.name: "fan_delay", Event.FLAME_LOST.name: "flame_response",
                  Event.DAMPER_FAULT.name: "damper_delay", Event.HIGH_PRESSURE.name: "high_delay",
                  Event.LOW_PRESSURE.name: "low_delay", Event.PROOF_LOST.name: "proof_delay"}  # fmt: skip
        assert list(f.acts) == sorted(f.acts, key=lambda a: a.at)
        assert all(a.at >= s.seconds(delays[a.event]) for a in f.acts if a.event in delays)
        counted = [a.at for a in f.acts if not (f.case == FLAME and a.event == Event.FLAME_LOST.name)]
        assert f.shutdown == pytest.approx(min(counted, default=inf) + failures.VALVE)
        assert f.outside <= min(f.shutdown, failures.LONGEST) + 0.2 + 1e-9


def test_a_fan_that_stops_raises_every_outlet_and_is_seen(tried_lodge):
    for f in (f for f in tried_lodge.failures if f.case == FAN):
        assert {a.event for a in f.acts} >= {Event.FAN_FAILED.name, Event.HIGH_PRESSURE.name} and f.shutdown < 5.0
    assert all(f.shutdown == failures.VALVE for f in tried_lodge.failures if f.case == POWER)


def test_a_blocked_line_that_the_limits_share_is_never_seen_and_a_frozen_sensor_is(tried_lodge):
    still = [f for f in tried_lodge.failures if f.case == STILL]
    blocked = [f for f in tried_lodge.failures if f.case == BLOCKED]
    assert len(still) == len(blocked) > 0
    assert all(f.shutdown == f.limit == inf and not f.acts for f in blocked)
    for s, b in zip(still, blocked, strict=True):
        assert any(a.event == Event.SENSOR_FAILED.name for a in s.acts) and s.shutdown <= 63.0
        assert (s.before, s.after) == (b.before, b.after) and b.outside >= s.outside and b.beyond >= s.beyond


@pytest.mark.slow
def test_gas_that_a_blocked_line_lets_into_the_room_is_weighed(tried_school):
    """Through the hood, with the boilers fired up behind a damper that stands where it stood: kilograms a minute."""
    worst = tried_school.worst(BLOCKED)
    (heater,) = (o for o in worst.outlets if o.appliance == "Water heater")
    assert worst.into_room == pytest.approx(heater.into_room, rel=1e-3) and worst.into_room > 1.0
    # No more than all burners make in the time: at most 1799 MBH at 25 % excess air, some 0.35 g/kJ.
    most = 0.00046 * 1799 * 0.29307 * failures.LONGEST
    assert worst.into_room < most


def test_a_flame_that_is_lost_is_shut_by_its_own_control_where_nothing_else_shuts(tried_lodge):
    lost = next(f for f in tried_lodge.failures if f.case == FLAME)
    alone, tripped = replace(lost, shutdown=inf), replace(lost, shutdown=3.0)
    assert alone.own_control and not tripped.own_control
    assert not replace(alone, case=FAN).own_control


def test_a_puff_that_nobody_would_see_ranks_no_failure():
    """1e-15 kg of gas is rounding: of two failures the one that goes farther outside is the worse."""

    def failure(into_room, beyond):
        outlet = SimpleNamespace(beyond=beyond, outside=1.0, into_room=into_room)
        return Failure("fan stops", "", "winter", False, (), (), (), np.inf, np.inf, (outlet,), False)

    rounding, farther, spills = failure(2.7e-15, 63.5), failure(0.0, 135.9), failure(0.5, 1.0)
    assert max((rounding, farther), key=lambda f: f.gravity) is farther
    assert max((rounding, farther, spills), key=lambda f: f.gravity) is spills
