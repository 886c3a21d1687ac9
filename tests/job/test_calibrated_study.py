"""Calibrated studies: the vent as found goes the way of every study, and no tick stands where an end speaks against."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from sample_remedies import small_job

from ventcalc.job import calibrated_study, job_as_found, remedy_outcome, study, survey_causes
from ventcalc.job.diagnosis import Extent
from ventcalc.job.remedy import AS_DRAWN, as_drawn
from ventcalc.vent import firing_states

JOB = small_job()


def cause(code: str, job=JOB):
    return next(c for c in survey_causes.causes(job) if c.code == code)


def diagnosis(*extents: Extent, job=JOB):
    """What of a diagnosis is asked for."""
    return SimpleNamespace(extents=extents, calibration=SimpleNamespace(survey=SimpleNamespace(job=job)))


@pytest.fixture(scope="module")
def blocked():
    return calibrated_study.calibrated_study(diagnosis(Extent(cause("terminal_blocked"), 0.7, 0.6, 0.8)))


@pytest.mark.slow
def test_the_vent_as_found_is_studied_and_not_the_one_drawn(blocked):
    """Its outlet stands higher than as drawn, and its drawing tells why."""
    drawn = study.study(JOB, compare=False)
    own = blocked.study
    assert own.envelopes[0].high > drawn.envelopes[0].high + 1.0
    assert own.design.job.name.endswith(", as found") and "70%" in own.design.job.note
    again, _ = job_as_found.as_found(JOB, [cause("terminal_blocked")], [0.7])
    assert own.envelopes[0].high == pytest.approx(study.study(again, compare=False).envelopes[0].high, abs=1e-9)


@pytest.mark.slow
def test_both_ends_are_judged_and_more_of_the_cause_leaves_less_margin(blocked):
    low, high = blocked.ends
    assert (low.value, high.value) == (0.6, 0.8)
    assert blocked.design is blocked.study  # nothing that was compared cures it
    assert low.margin > blocked.design.outcome.margin > high.margin


def test_a_tick_only_where_nothing_speaks_against_it(blocked):
    """Whatever the design and the ends are said to be, all of them have to be cured."""
    for built in (True, False):
        for low in (True, False):
            ends = tuple(replace(end, cured=c) for end, c in zip(blocked.ends, (low, True), strict=True))
            own = SimpleNamespace(reported=SimpleNamespace(buildable=built))
            assert replace(blocked, study=own, ends=ends).cured is (built and low)


def test_nothing_found_is_nothing_to_study():
    assert calibrated_study.calibrated_study(diagnosis()) is None


def test_a_sensor_that_reads_wrong_is_in_no_drawing():
    own = Extent(cause("sensor_offset"), 10.0, 5.0, 15.0)
    assert calibrated_study.calibrated_study(diagnosis(own)) is None


def test_what_a_remedy_rebuilt_stays_as_it_was_sized_at_an_end():
    """By hand: of two sections one is rebuilt, and only the other follows the cause."""
    found, _ = job_as_found.as_found(JOB, [cause("section_blocked")], [0.5])
    end, _ = job_as_found.as_found(JOB, [cause("section_blocked")], [0.8])
    first = cause("section_blocked").subject
    rebuilt = replace(found.plant.section(first), diameter=found.plant.section(first).diameter * 1.5)
    others = tuple(s for s in found.plant.sections if s.name != first)
    remedied = replace(found.plant, sections=(rebuilt, *others))
    moved = calibrated_study._moved(remedied, found.plant, end.plant)
    assert moved.section(first) == rebuilt
    kept = calibrated_study._moved(found.plant, found.plant, end.plant)
    assert kept.section(first) == end.plant.section(first) != found.plant.section(first)


def test_a_cause_is_told_with_its_figure_in_the_units_asked_for():
    told = [calibrated_study.told_of(cause("room_negative"), 12.5, system) for system in ("US", "SI")]
    assert "0.050 in. w.c." in told[0] and "12.5 Pa" in told[1]  # 249.089 Pa an inch (NIST SP 811)


def test_a_remedy_is_judged_at_an_end_with_what_it_built_and_the_vent_as_drawn_with_nothing(monkeypatch):
    extent = Extent(cause("terminal_blocked"), 0.7, 0.6, 0.8)
    found, _ = job_as_found.as_found(JOB, [extent.cause], [extent.value])
    monkeypatch.setattr(firing_states, "scan", lambda *_: None)
    monkeypatch.setattr(remedy_outcome, "outcome", lambda job, r, scan: SimpleNamespace(remedy=r, margin=0.0))
    judged = []
    monkeypatch.setattr(
        study, "assess", lambda job, outcome: judged.append((job, outcome.remedy)) or SimpleNamespace(buildable=True)
    )
    built = replace(as_drawn(found), kind="fan")
    for remedy in (built, as_drawn(found)):
        design = SimpleNamespace(job=found, outcome=SimpleNamespace(remedy=remedy))
        own = SimpleNamespace(reported=design, design=design)
        calibrated_study._end(JOB, own, [extent], 0, extent.high)
    assert [r.kind for _, r in judged] == ["fan", AS_DRAWN]
    end, _ = job_as_found.as_found(JOB, [extent.cause], [extent.high])
    assert all(r.plant == end.plant for _, r in judged)
