"""Device findings: a fan that is unfit, and an actuator too coarse, as records with their figures."""

from dataclasses import replace

import pytest
from sample_studies import ALL_JOBS, STUDIES

from ventcalc.draft import damper_sizing
from ventcalc.job import device_findings, findings, job_file, study
from ventcalc.job.device_duty import DAMPER_TOLERANCE
from ventcalc.job.remedy import FALLS_SHORT, NO_FAN_FITS


@pytest.fixture(scope="module")
def lodge():
    return STUDIES["lodge"].offered


def found(op, **changes):
    return {f.code: f for f in device_findings.devices(replace(op, outcome=replace(op.outcome, **changes)))}


@pytest.mark.slow
@pytest.mark.parametrize("unfit", [NO_FAN_FITS, FALLS_SHORT])
def test_a_fan_that_does_not_do_its_duty_speaks_against_the_design(lodge, unfit):
    assert "fan_unfit" not in found(lodge)
    told = found(lodge, remedy=replace(lodge.outcome.remedy, unfit=unfit))["fan_unfit"]
    assert told.speaks_against and findings.sentence(told).endswith(f"{unfit}.")


@pytest.mark.slow
def test_an_actuator_is_coarse_where_a_step_moves_more_than_is_tolerated(lodge):
    most = float(DAMPER_TOLERANCE.m_as("Pa"))
    assert "actuator_coarse" not in found(lodge, step=0.99 * most)
    told = found(lodge, step=1.01 * most)["actuator_coarse"]
    assert told.figures["step"].m_as("Pa") == pytest.approx(1.01 * most)
    assert told.figures["stroke"] == 100.0 * damper_sizing.ACTUATOR_STEP and not told.speaks_against  # percent


@pytest.mark.slow
def test_a_fan_that_stands_there_must_stop_the_burners_when_it_stops():
    """Natural draft alone is too little for purge in summer, so something must see that the fan stands."""
    drawn = STUDIES["hospital"]
    proved = found(drawn)["fan_proved"]
    assert not proved.speaks_against and proved.figures["above"] > 0 and proved.figures["gas"] == 0
    assert "70% of its rated speed" in findings.sentence(proved)
    text = ALL_JOBS["hospital"].read_text(encoding="utf-8").replace("interlocked = true\n", "")
    unseen = found(study.study(job_file.read(text.encode()), compare=False))
    assert unseen["fan_stops"].weight == "fault" and unseen["fan_stops"].figures["above"] == proved.figures["above"]
    leaves = replace(drawn.stopped, gas_in_room=3)
    one = replace(drawn.design.job, existing=replace(drawn.design.job.existing, interlocked=False))
    spills = found(replace(drawn, stopped=leaves, design=replace(drawn.design, job=one)))["fan_stops_spills"]
    assert spills.weight == "people" and spills.figures["gas"] == 3
