"""Survey page: a diagnosis as one HTML page and as a file of numbers, written into a folder."""

import json
from pathlib import Path
from typing import Any

from ventcalc.job.calibrated_study import CalibratedStudy
from ventcalc.job.diagnosis import Diagnosis
from ventcalc.show import as_found_records, page, report, whole_file
from ventcalc.show.record_page import Written
from ventcalc.show.survey_sheet import records

PAGE, NUMBERS = "survey.html", "survey.json"


def html(told: dict[str, Any]) -> str:
    """The page of `records`."""
    return page.TEMPLATES.get_template("survey.html").render(r=told)


def write(found: Diagnosis, out_dir: str | Path, system: str, studied: CalibratedStudy | None = None) -> Written:
    """Write survey.html and survey.json into a folder, each whole or not at all, and beside them the report of the
    vent as it was found and ``studied``. OSError where that cannot be."""
    told = records(found, system, studied)
    texts = {PAGE: html(told), NUMBERS: json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"}
    out = whole_file.write_into(out_dir, texts)
    if studied is not None:
        report.write(studied.study, out / as_found_records.FOLDER, system)
    return Written(out / PAGE, out / NUMBERS)
