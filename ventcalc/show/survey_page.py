"""Survey page: a diagnosis as one HTML page and as a file of numbers, written into a folder."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventcalc.job.diagnosis import Diagnosis
from ventcalc.show import page, whole_file
from ventcalc.show.survey_sheet import records

PAGE, NUMBERS = "survey.html", "survey.json"


@dataclass(frozen=True)
class Written:
    """What `write` left."""

    page: Path
    numbers: Path


def html(told: dict[str, Any]) -> str:
    """The page of `records`."""
    return page.TEMPLATES.get_template("survey.html").render(r=told)


def write(found: Diagnosis, out_dir: str | Path, system: str) -> Written:
    """Write survey.html and survey.json into a folder, each whole or not at all. OSError where that cannot be."""
    out = Path(out_dir)
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is not a folder")
    out.mkdir(parents=True, exist_ok=True)
    told = records(found, system)
    whole_file.write(out / PAGE, html(told))
    whole_file.write(out / NUMBERS, json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    return Written(out / PAGE, out / NUMBERS)
