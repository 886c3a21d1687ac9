"""Reading verdicts: windows and people."""

import pytest
from sample_records import (
    DAY,
    codes,
    filled,
    hall,
    only,
)
from sample_remedies import natural_job

from ventcalc.job import performance_test, remedy_outcome, study
from ventcalc.job.performance_test import PRESSURE
from ventcalc.job.reading_verdicts import BEYOND
from ventcalc.job.record_judgement import judge
from ventcalc.job.remedy import as_drawn


def reading(condition, place, value, study_=None):
    """The whole record as expected but for one pressure [Pa]."""
    key = (condition, place, PRESSURE)
    return judge(study_ or hall(), filled(lambda e: value if e.asked.key == key else e.value))


def test_above_its_window_is_a_danger_to_people():
    """Boiler 1 allows 0.10 in. w.c., 24.9 Pa."""
    judged = reading("all at their highest", "outlet of Boiler 1", 25.5)
    line = next(line for line in judged.lines if line.verdict == BEYOND)
    assert abs(line.off) < line.expected.band  # within its band, and a danger all the same
    assert only(judged, "record_gas_in_room").weight == "people" and not judged.passed


def test_below_its_window_is_a_fault_and_no_gas_in_the_room():
    judged = reading("Boiler 3 off, all others at their highest", "outlet of Boiler 1", -30.0)
    assert only(judged, "record_window").weight == "fault" and "record_gas_in_room" not in codes(judged)


def test_an_idle_boiler_that_leaks_must_be_under_draft_while_another_fires():
    judged = reading("Boiler 1 off, all others at their highest", "outlet of Boiler 1", 1.0)
    assert only(judged, "record_gas_in_room").subjects == ("outlet of Boiler 1",)
    # With all off there is no flue gas to come back.
    assert "record_gas_in_room" not in codes(reading("all off", "outlet of Boiler 1", 1.0))


@pytest.mark.slow
def test_a_hood_above_the_rooms_pressure_spills_whatever_its_window_says():
    one = natural_job()  # its hoods are told to allow up to 1 Pa
    drawn = study.assess(one, remedy_outcome.outcome(one, as_drawn(one)), briefly=True)
    rows = performance_test.expected(drawn, DAY)
    name = one.plant.appliances[0].name
    key = ("all at their highest", f"outlet of {name}", PRESSURE)
    judged = judge(drawn, filled(lambda e: 0.6 if e.asked.key == key else e.value, rows))
    assert f"outlet of {name}" in only(judged, "record_gas_in_room").subjects


def test_inside_a_window_by_less_than_the_gauge_tells_is_told():
    judged = reading("all at their highest", "outlet of Boiler 1", 24.6)
    assert only(judged, "record_near_window").subjects == ("outlet of Boiler 1",)
