"""Reading verdicts: windows and people."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_records import (
    DAY,
    codes,
    filled,
    hall,
    only,
)
from sample_remedies import natural_job

from ventcalc.job import performance_test, remedy_outcome, study
from ventcalc.job.performance_test import OUTLET, PRESSURE, Asked
from ventcalc.job.reading_verdicts import BEYOND, UNKNOWN, may_be_beyond, verdict
from ventcalc.job.record_judgement import judge
from ventcalc.job.remedy import as_drawn
from ventcalc.units import Q_


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


@pytest.mark.parametrize(("place", "gap", "near"), [(0, 0.3, True), (0, 2.0, False), (1, -0.3, True), (1, -2.0, False)])
def test_near_either_end_of_a_window_by_less_than_the_gauge_errs(place, gap, near):
    """A gauge that errs by 0.5 Pa: 0.3 Pa inside the lower or the upper end may be outside it, 2 Pa may not."""
    appliance = replace(row_plant(1).appliances[0], window=(Q_(-25.0, "Pa"), Q_(25.0, "Pa")))
    asked = Asked(SimpleNamespace(levels=("low",), name="low"), SimpleNamespace(kind=OUTLET, appliance="B1"), PRESSURE)
    value = (-25.0, 25.0)[place] + gap
    line = SimpleNamespace(reading=SimpleNamespace(value=value), expected=SimpleNamespace(asked=asked, error=0.5))
    assert may_be_beyond(line, {"B1": appliance}) == near


def test_what_nobody_can_foretell_is_no_verdict():
    expected = SimpleNamespace(asked=SimpleNamespace(place=SimpleNamespace(kind="stack"), quantity=PRESSURE),
                               value=3.0, band=np.inf)  # fmt: skip
    assert verdict(expected, SimpleNamespace(value=3.0), {}, set()) == UNKNOWN
    assert verdict(SimpleNamespace(**vars(expected) | {"value": np.nan, "band": 1.0}),
                   SimpleNamespace(value=3.0), {}, set()) == UNKNOWN  # fmt: skip
