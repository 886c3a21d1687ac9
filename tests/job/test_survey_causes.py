"""Survey causes: the loss of a blockage, which a job can have, and that every change is one that the vent knows."""

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import job_of

from ventcalc.job import survey_causes
from ventcalc.job.survey_causes import blockage_loss, causes
from ventcalc.vent.network import compile_network


@pytest.mark.parametrize(("blocked", "loss"), [(0.4, 2.0), (0.5, 4.0), (0.7, 18.2)])
def test_a_blockage_loses_what_a_sharp_orifice_does(blocked, loss):
    # Idelchik, Handbook of Hydraulic Resistance, diagram 4-15 (from memory): K = (1 + 0.707 sqrt(1 - a) - a)^2 / a^2.
    left = 1.0 - blocked
    assert (1.0 + 0.707 * np.sqrt(1.0 - left) - left) ** 2 / left**2 == pytest.approx(loss, rel=0.05)
    assert blockage_loss(blocked) == pytest.approx(loss, rel=0.15)  # two authors of one jet


def test_nothing_blocked_loses_nothing():
    assert blockage_loss(0.0) == pytest.approx(0.0)


def codes(job):
    return {c.code for c in causes(job)}


def test_causes_that_a_job_cannot_have_are_left_out():
    forced = codes(job_of(row_plant(2)))
    assert {"joint_leak", "idle_open", "header_small"} <= forced
    assert not {"regulator_stuck", "fan_slow"} & forced
    barometric = codes(job_of(row_plant(1, kind="barometric", celsius=180.0, vent="Type B gas vent")))
    assert "regulator_stuck" in barometric and not {"joint_leak", "header_small", "condensate_standing"} & barometric


def test_one_cause_a_section_and_their_weight_is_shared():
    job = job_of(row_plant(2))
    blocked = [c for c in causes(job) if c.code == "section_blocked"]
    assert [c.subject for c in blocked] == [s.name for s in job.plant.order]
    assert sum(c.prior for c in blocked) == pytest.approx(survey_causes.kinds()["section_blocked"].weight)


def test_every_change_moves_the_vent_as_its_subject_says():
    job = job_of(row_plant(2))
    names = {s.name for s in job.plant.order} | {a.name for a in job.plant.appliances} | {"", "top", "the boiler room"}
    for cause in causes(job):
        ends = cause.value(np.array([0.0, 1.0]))
        assert ends == pytest.approx([cause.kind.least, cause.kind.most])
        changed = cause.change(job, ends)
        assert {subject for _, subject in changed} <= names and all(v.shape == (2,) for v in changed.values())


def test_only_the_boilers_common_way_is_a_header_too_small():
    job = job_of(row_plant(3))
    small = next(c for c in causes(job) if c.code == "header_small")
    assert {s for _, s in small.change(job, np.array([0.7]))} == {"header 2", "header 3", "stack"}
    assert compile_network(job.plant, job.seasons)  # the plant is one that solves
