"""Exports: drawing and tables agree with the study; the drawing's lengths are those of the job; SVG keeps its words."""

import csv
import io
import xml.etree.ElementTree as ET

import pytest
from sample_studies import STUDIES

from ventcalc.job import reading_verdicts, record_judgement, site_record
from ventcalc.show import dxf, exports


@pytest.fixture(scope="module", params=["swim_hall", "laundry"])
def written(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("exports")
    exports.write(STUDIES[request.param], folder, "US")
    return STUDIES[request.param], folder


def test_every_file_is_there(written):
    found, folder = written
    drawn = {"states.csv", exports.DXF, exports.SVG, exports.RECORD}
    assert {p.name for p in folder.iterdir()} == (set(exports.names()) if found.proposed else drawn)


def test_the_record_is_blank_and_can_be_read_back_once_the_weather_stands_in_it(written):
    found, folder = written
    rows = list(csv.DictReader((folder / exports.RECORD).read_text(encoding="utf-8").splitlines()))
    for row in rows[:2]:
        row["measured"] = row["expected"]
    text = io.StringIO()
    filled = csv.DictWriter(text, rows[0])
    filled.writeheader()
    filled.writerows(rows)
    judged = record_judgement.judge(found, site_record.read(text.getvalue().encode(), found))
    assert judged.count(reading_verdicts.MISSING) == len(judged.lines) == len(rows) - len(site_record.DAY)


def test_lengths_in_the_drawing_are_those_of_the_job(written):
    """To a millimeter, read back by the library ezdxf."""
    found, folder = written
    lengths = dxf.lengths(folder / exports.DXF)
    plant = found.reported.job.plant
    assert set(lengths) == {s.name for s in plant.sections}
    for s in plant.sections:
        assert lengths[s.name].m_as("mm") == pytest.approx(s.length.m_as("mm"), abs=1.0)


def test_the_drawing_as_svg_keeps_its_words_and_the_tags_of_devices(written):
    found, folder = written
    words = " ".join(ET.parse(folder / exports.SVG).getroot().itertext())
    assert all(s.name in words for s in found.job.plant.sections)
    assert ("F-1" in words) == bool(found.reported.outcome.remedy.fan)
