"""Record sheet: the blank, the numbers and the page of a record."""

import json
import re
import shutil

import pytest
from sample_records import DAY, expected, filled, hall, planted, with_noise

from ventcalc.job import findings, site_record
from ventcalc.job.performance_test import KINDS
from ventcalc.job.site_record import COLUMNS, MISSING, WITHIN, Record
from ventcalc.show import printing, record_sheet
from ventcalc.units import Q_, SYSTEMS, shown_unit, unit_text


@pytest.fixture(scope="module")
def judged():
    return site_record.judge(hall(), planted())


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


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_page_tells_all_of_it_in_one_system(judged, system):
    text = record_sheet.html(record_sheet.records(judged, system))
    plain = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
    assert all(sign not in plain for sign in (("in. w.c.", "°F") if system == "SI" else (" Pa", "°C")))
    cells = re.findall(r'<td class="([a-z-]+)">', plain)
    for verdict in site_record.VERDICTS:
        assert cells.count(verdict.replace(" ", "-")) == judged.count(verdict)
    assert "src=" not in plain and "<script" not in plain and "None" not in plain and "nan" not in plain


def test_what_was_written_by_hand_is_kept_as_text(judged):
    key = judged.lines[0].expected.asked.key
    bad = site_record.Reading(-9.9, 2, "<b>gauge", '<script>alert("x")</script>', "noon")
    told = site_record.judge(hall(), Record(DAY, {**planted().readings, key: bad}))
    text = record_sheet.html(record_sheet.records(told, "US"))
    assert "<script" not in text and "&lt;script&gt;" in text and "&lt;b&gt;gauge" in text


def test_what_passed_says_so_and_what_is_missing_is_counted():
    passed = site_record.judge(hall(), filled(with_noise(1)))
    assert record_sheet.verdict(passed).startswith("All 109 readings")
    empty = site_record.judge(hall(), Record(DAY, {}))
    assert "0 of 109" in record_sheet.verdict(empty) and "109 are missing" in record_sheet.verdict(empty)
    assert (passed.count(WITHIN), empty.count(MISSING)) == (109, 109)
    record_sheet.html(record_sheet.records(empty, "SI"))


def test_files_are_written_whole_beside_what_is_there(judged, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    written = record_sheet.write(judged, tmp_path, "SI")
    assert {p.name for p in tmp_path.iterdir()} == {"mine.txt", record_sheet.PAGE, record_sheet.NUMBERS}
    assert json.loads(written.numbers.read_text(encoding="utf-8"))["system"] == "SI"
    with pytest.raises(NotADirectoryError):
        record_sheet.write(judged, tmp_path / "mine.txt", "SI")


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
@pytest.mark.parametrize("system", SYSTEMS)
def test_it_prints_on_one_page(judged, system, tmp_path):
    page = record_sheet.html(record_sheet.records(judged, system))
    assert printing.print_pdf(page, tmp_path / "record.pdf")
    printed = (tmp_path / "record.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1
