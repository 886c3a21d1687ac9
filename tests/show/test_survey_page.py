"""Survey page: all of it is told on a page that stands alone, and written whole."""

import json
import re
import shutil
from dataclasses import replace

import pytest
from sample_demo_surveys import RECIPES, diagnosed

from ventcalc.show import printing, survey_page, survey_sheet
from ventcalc.units import SYSTEMS


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", RECIPES)
def test_the_page_tells_all_of_it_in_one_system(name, system):
    found = diagnosed(name)
    text = survey_page.html(survey_sheet.records(found, system))
    plain = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
    assert all(sign not in plain for sign in (("in. w.c.", "°F") if system == "SI" else (" Pa", "°C")))
    assert plain.count("<tr><td>") == len(found.lines)
    assert "carbon monoxide alarm" in plain and "What stays uncertain" in plain and "put right" in plain
    assert "src=" not in plain and "<script" not in plain and "None" not in plain and "nan" not in plain


def test_times_written_by_hand_are_kept_as_text():
    found = diagnosed("school_room_negative")
    odd = (replace(found.lines[0], time='<script>alert("x")</script>'), *found.lines[1:])
    text = survey_page.html(survey_sheet.records(replace(found, lines=odd), "US"))
    assert "<script" not in text and "&lt;script&gt;" in text


def test_files_are_written_whole_beside_what_is_there(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    written = survey_page.write(diagnosed("school_room_negative"), tmp_path, "SI")
    assert {p.name for p in tmp_path.iterdir()} == {"mine.txt", survey_page.PAGE, survey_page.NUMBERS}
    assert json.loads(written.numbers.read_text(encoding="utf-8"))["system"] == "SI"
    with pytest.raises(NotADirectoryError):
        survey_page.write(diagnosed("school_room_negative"), tmp_path / "mine.txt", "SI")


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
def test_it_prints_on_few_pages(tmp_path):
    page = survey_page.html(survey_sheet.records(diagnosed("swim_hall_blocked_cap"), "US"))
    assert printing.print_pdf(page, tmp_path / "survey.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", (tmp_path / "survey.pdf").read_bytes())) <= 3
