"""Record judgement: what passes and what fails, and what is missing."""

from dataclasses import replace

import numpy as np
import pytest
from sample_records import (
    DAY,
    codes,
    expected,
    filled,
    hall,
    only,
    with_noise,
)

from ventcalc.job import findings, performance_test
from ventcalc.job.findings import Finding
from ventcalc.job.performance_test import PRESSURE, SPEED, Weather
from ventcalc.job.reading_verdicts import BEYOND, MISSING, NOT_COMPARED, OUTSIDE, UNKNOWN, WITHIN
from ventcalc.job.record_judgement import judge
from ventcalc.job.site_record import Record
from ventcalc.units import Q_


@pytest.mark.parametrize("seed", range(6))
def test_readings_as_good_as_the_instruments_pass(seed):
    judged = judge(hall(), filled(with_noise(seed)))
    assert judged.passed and judged.count(WITHIN) == len(judged.lines) == len(expected())
    assert not judged.judgement.against


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_readings_off_by_twice_the_band_fail_one_and_all(sign):
    judged = judge(hall(), filled(lambda e: e.value + sign * 2.0 * e.band))
    assert not judged.passed and judged.count(WITHIN) == 0
    assert judged.count(OUTSIDE) + judged.count(BEYOND) + judged.count(NOT_COMPARED) == len(judged.lines)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(0, 109, 9))
def test_any_one_reading_off_by_twice_its_band_fails(number):
    wrong = expected()[number].asked.key
    judged = judge(hall(), filled(lambda e: e.value + 2.0 * e.band * (e.asked.key == wrong)))
    line = next(line for line in judged.lines if line.expected.asked.key == wrong)
    assert not judged.passed and line.verdict in (OUTSIDE, BEYOND) and judged.judgement.against


@pytest.mark.slow
def test_what_is_read_is_judged_by_the_weather_of_its_day():
    """What was read on a day at freezing, called a day at 95 degF, is not that of such a day."""
    cold = Weather(Q_(32.0, "degF"), Q_(70.0, "degF"))
    rows = performance_test.expected(hall(), cold)
    record = filled(lambda e: e.value, rows, cold)
    assert judge(hall(), record).passed
    assert not judge(hall(), replace(record, weather=replace(cold, outdoor=Q_(95.0, "degF")))).passed


def test_missing_readings_and_conditions_are_named():
    gone = ("all at their highest", "fan", SPEED)
    judged = judge(hall(), filled(lambda e: None if e.asked.key == gone or e.asked.condition.code == "all_off"
                                  else e.value))  # fmt: skip
    assert only(judged, "record_condition_missing").subjects == ("all off",)
    assert only(judged, "record_missing").subjects == (", ".join(gone),)
    assert judged.count(MISSING) == 6 and not judged.passed


def test_one_reading_that_is_missing_keeps_a_record_from_passing():
    """All others as good as they can be: what was not read is not passed, though nothing speaks against it."""
    gone = expected()[0].asked.key
    judged = judge(hall(), filled(lambda e: None if e.asked.key == gone else e.value))
    assert (judged.count(MISSING), judged.count(WITHIN)) == (1, len(judged.lines) - 1) and not judged.passed


def test_readings_all_within_do_not_pass_with_something_found_against_them():
    judged = judge(hall(), filled(lambda e: e.value))
    grave = Finding("record_window", ("anywhere",))
    assert judged.passed and not replace(judged, judgement=findings.judgement([grave])).passed


def test_an_empty_record_passes_nothing():
    judged = judge(hall(), Record(DAY, {}))
    assert judged.count(MISSING) == len(judged.lines) and not judged.passed


def test_where_nothing_can_be_expected_nothing_passes(monkeypatch):
    rows = tuple(replace(e, value=np.nan, band=np.nan) for e in expected())
    monkeypatch.setattr(performance_test, "expected", lambda *_: rows)
    judged = judge(hall(), filled(lambda e: -5.0 if e.asked.quantity == PRESSURE else 0.5))
    assert judged.count(UNKNOWN) + judged.count(BEYOND) == len(judged.lines) and not judged.passed
    assert "record_unknown" in codes(judged)
