"""Record sheet: the blank and the numbers of a record."""

import json

import pytest
from sample_records import DAY, expected, filled, hall, planted, with_noise

from ventcalc.job import findings, record_judgement
from ventcalc.job.performance_test import KINDS
from ventcalc.job.reading_verdicts import MISSING, WITHIN
from ventcalc.job.site_record import COLUMNS, Record
from ventcalc.show import record_page, record_sheet
from ventcalc.units import Q_, SYSTEMS, shown_unit, unit_text


@pytest.fixture(scope="module")
def judged():
    return record_judgement.judge(hall(), planted())


# --- The blank ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_blank_asks_for_every_line_and_leaves_room_for_the_pen(system):
    table = record_sheet.blank(hall(), system, DAY)
    assert table.header == COLUMNS
    rows = [dict(zip(table.header, row, strict=True)) for row in table.rows]
    assert [(r["condition"], r["place"], r["quantity"]) for r in rows[4:]] == [e.asked.key for e in expected()]
    assert all(r[name] is None for r in rows for name in ("measured", "who", "when"))
    for row, e in zip(rows[4:], expected(), strict=True):
        kind = KINDS[e.asked.quantity]
        assert row["unit"] == unit_text(shown_unit(kind, system))
        shown = Q_(e.value, "K").m_as(shown_unit(kind, system)) if kind == "temperature" else None
        if shown is not None:
            assert row["expected"] == pytest.approx(float(shown), rel=1e-3)
            # A band of 17 K is one of 30.6 degF, not of 63: 1 K = 1.8 degF.
            assert row["band"] == pytest.approx(e.band * (1.8 if system == "US" else 1.0), rel=1e-3)


def test_a_blank_begins_with_the_weather_it_was_printed_for():
    rows = record_sheet.blank(hall(), "US", DAY).rows[:4]
    assert [(row[1], row[2], row[3], row[5]) for row in rows] == [
        ("outdoors", "temperature", 40.0, "°F"),
        ("boiler room", "temperature", 70.0, "°F"),
        ("outdoors", "barometric pressure", None, "inHg"),
        ("outdoors", "wind", None, "mph"),
    ]


# --- Numbers and page ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_numbers_are_those_of_the_judgement(judged, system):
    told = record_sheet.records(judged, system)
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert len(told["readings"]) == len(judged.lines) == sum(told["counts"].values())
    assert [f["code"] for f in told["findings"]] == [f.code for f in judged.judgement.findings]
    assert [f["sentence"] for f in told["findings"]] == [
        findings.sentence(f, system) for f in judged.judgement.findings
    ]
    for shown, line in zip(told["readings"], judged.lines, strict=True):
        assert shown["verdict"] == line.verdict
        assert shown["measured"]["value"] == pytest.approx(line.reading.value)
        assert shown["expected"]["value"] == pytest.approx(line.expected.value)
        assert shown["band"]["value"] == pytest.approx(line.expected.band)
    assert not told["passed"] and "not safe to run" in told["verdict"]
    assert told["weather"]["barometer"]["value"] is None


def test_what_passed_says_so_and_what_is_missing_is_counted():
    passed = record_judgement.judge(hall(), filled(with_noise(1)))
    assert record_sheet.verdict(passed).startswith("All 109 readings")
    empty = record_judgement.judge(hall(), Record(DAY, {}))
    assert "0 of 109" in record_sheet.verdict(empty) and "109 are missing" in record_sheet.verdict(empty)
    assert (passed.count(WITHIN), empty.count(MISSING)) == (109, 109)
    record_page.html(record_sheet.records(empty, "SI"))
