"""Commissioning: what is never seen is the gravest; nothing is tried that does not hold the header."""

from dataclasses import replace

import pytest
from sample_commissioning import LODGE

from ventcalc.job import commissioning, run_record
from ventcalc.job.failures import BLOCKED, FAN, POWER


def test_nothing_is_told_of_what_does_not_hold_the_header(held_lodge):
    assert commissioning.tried(LODGE, replace(held_lodge, remedy=replace(held_lodge.remedy, set_point=None))) is None


@pytest.mark.slow
def test_what_is_never_seen_is_the_gravest(tried_lodge, tried_school):
    for tried in (tried_lodge, tried_school):
        worst = tried.worst(BLOCKED)
        assert worst.unseen and worst.outside > run_record.BRIEF
        assert worst.into_room == max(f.into_room for f in tried.failures if f.case == BLOCKED and f.unseen)
        assert not any(f.unseen for f in tried.failures if f.case in (FAN, POWER))


def test_what_is_told_to_have_been_run_was_run(tried_lodge):
    """Counts of the record are those of what it records."""
    found = tried_lodge.coverage
    assert found.failures == len(tried_lodge.failures) and found.orders * found.seasons == len(tried_lodge.starts)
    # A state is what the burners do in a season, before anything fails; with a cold stack it is no other.
    assert found.states == len({(f.season, f.cold, f.before) for f in tried_lodge.failures})
