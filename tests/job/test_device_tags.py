"""Device tags: one for everything that moves and for every sensor of a control, none twice, each in a section."""

import pytest
from sample_remedies import small_job
from sample_studies import JOBS

from ventcalc.job import device_tags, job_file, study
from ventcalc.job.device_tags import DAMPER, FAN, OUTLET_DAMPER, SENSOR
from ventcalc.job.remedy import as_drawn

KINDS = {
    "fan": [FAN, SENSOR],
    "damper": [DAMPER, SENSOR],
    "fan and damper": [FAN, DAMPER, SENSOR],
    "damper at each outlet": [OUTLET_DAMPER] * 2 + [SENSOR] * 2,
    "damper at each outlet and a fan": [FAN] + [OUTLET_DAMPER] * 2 + [SENSOR] * 3,
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_device_and_sensor_has_a_tag_of_its_own(kind):
    offered = study.study(small_job(offered=kind), compare=False).offered
    remedy = offered.outcome.remedy
    found = device_tags.tagged(remedy)
    assert [t.letters for t in found] == KINDS[kind]
    assert len({t.tag for t in found}) == len(found)
    assert {t.section for t in found} <= {s.name for s in remedy.plant.sections}
    moving = [t for t in found if t.letters != SENSOR]
    assert len(moving) == len(remedy.devices)
    assert [t.appliance for t in moving if t.letters == OUTLET_DAMPER] == list(remedy.outlets)


def test_a_fan_that_turns_at_one_speed_needs_no_sensor():
    drawn = as_drawn(job_file.load(JOBS["hospital"]))
    assert [(t.tag, t.section) for t in device_tags.tagged(drawn)] == [("F-1", "above roof")]
