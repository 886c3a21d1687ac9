"""Record page: all of it is told, on one page, and written whole."""

import json
import re
import shutil

import pytest
from sample_records import DAY, hall, planted

from ventcalc.job import reading_verdicts, record_judgement, site_record
from ventcalc.job.site_record import Record
from ventcalc.show import printing, record_page, record_sheet
from ventcalc.units import SYSTEMS


@pytest.fixture(scope="module")
def judged():
    return record_judgement.judge(hall(), planted())


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_page_tells_all_of_it_in_one_system(judged, system):
    text = record_page.html(record_sheet.records(judged, system))
    plain = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
    assert all(sign not in plain for sign in (("in. w.c.", "°F") if system == "SI" else (" Pa", "°C")))
    cells = re.findall(r'<td class="([a-z-]+)">', plain)
    for verdict in reading_verdicts.VERDICTS:
        assert cells.count(verdict.replace(" ", "-")) == judged.count(verdict)
    assert "src=" not in plain and "<script" not in plain and "None" not in plain and "nan" not in plain


@pytest.mark.slow
def test_what_was_written_by_hand_is_kept_as_text(judged):
    key = judged.lines[0].expected.asked.key
    bad = site_record.Reading(-9.9, 2, "<b>gauge", '<script>alert("x")</script>', "noon")
    told = record_judgement.judge(hall(), Record(DAY, {**planted().readings, key: bad}))
    text = record_page.html(record_sheet.records(told, "US"))
    assert "<script" not in text and "&lt;script&gt;" in text and "&lt;b&gt;gauge" in text


def test_files_are_written_whole_beside_what_is_there(judged, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    written = record_page.write(judged, tmp_path, "SI")
    assert {p.name for p in tmp_path.iterdir()} == {"mine.txt", record_page.PAGE, record_page.NUMBERS}
    assert json.loads(written.numbers.read_text(encoding="utf-8"))["system"] == "SI"
    with pytest.raises(NotADirectoryError):
        record_page.write(judged, tmp_path / "mine.txt", "SI")


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
@pytest.mark.parametrize("system", SYSTEMS)
def test_it_prints_on_one_page(judged, system, tmp_path):
    page = record_page.html(record_sheet.records(judged, system))
    assert printing.print_pdf(page, tmp_path / "record.pdf")
    printed = (tmp_path / "record.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1
