"""Start findings: what is never seen is graver than what is seen late; where no limit fits, both sides are named."""

from dataclasses import replace

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc.job import derived_limits, failures, findings, start_findings
from ventcalc.words import sentences


@pytest.fixture(scope="module")
def lodge():
    return STUDIES["lodge"].offered


def codes(op):
    return {f.code: f for f in start_findings.starts(op)}


def test_nothing_is_said_where_nothing_was_started(lodge):
    assert not codes(replace(lodge, tried=None))


def test_a_failure_that_nothing_sees_speaks_against_the_design_and_one_seen_late_does_not(lodge):
    (worst,) = [lodge.tried.worst(failures.FAN)]
    outlets = tuple(replace(o, beyond=50.0) for o in worst.outlets)
    for shutdown, into_room, code in ((5.0, 0.0, "failure_seen_late"), (np.inf, 0.0, "failure_unseen"),
                                      (np.inf, 1.0, "failure_spills")):  # fmt: skip
        one = replace(worst, shutdown=shutdown, outlets=tuple(replace(o, into_room=into_room) for o in outlets))
        told = codes(replace(lodge, tried=replace(lodge.tried, failures=(one,))))[code]
        assert told.figures["cases"].codes == (failures.FAN,) and "the fan stops" in findings.sentence(told)
        assert told.speaks_against == (code != "failure_seen_late")


def test_every_case_has_words():
    assert set(sentences("job")["failure"]) == set(failures.CASES)


def test_where_no_limit_fits_both_sides_are_named(lodge):
    limits = lodge.tried.limits
    both = replace(limits, **{side: replace(getattr(limits, side), codes=(derived_limits.NO_ROOM,)) for side in
                              ("high", "low")})  # fmt: skip
    told = codes(replace(lodge, tried=replace(lodge.tried, limits=both)))["limit_no_room"]
    assert told.figures["limits"].codes == ("both",)
    assert "no room for the high and low limits" in findings.sentence(told)


def test_a_start_that_loses_its_proof_speaks_against_the_design_where_no_limit_does(lodge):
    """Longer above the proof than the wait is a fault; one that the high limit stops anyway is told once, by that."""
    fits = replace(lodge.tried.limits.high, codes=())
    for unproved, high, told in ((5.0, fits, True), (1.0, fits, False),
                                 (5.0, replace(fits, codes=(derived_limits.TRIPS_A_START,)), False)):  # fmt: skip
        limits = replace(lodge.tried.limits, high=high, unproved=unproved, wait=2.0)
        found = codes(replace(lodge, tried=replace(lodge.tried, limits=limits)))
        assert ("proof_lost" in found) == told
        assert not told or found["proof_lost"].speaks_against
