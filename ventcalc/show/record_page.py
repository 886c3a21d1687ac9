"""Record page: a judged record of `record_sheet` as one HTML page and as a file of numbers, written into a folder."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventcalc.job.record_judgement import JudgedRecord
from ventcalc.show import page, whole_file
from ventcalc.show.record_sheet import records

PAGE, NUMBERS = "record.html", "record.json"


@dataclass(frozen=True)
class Written:
    """What `write` left."""

    page: Path
    numbers: Path


def html(found: dict[str, Any]) -> str:
    """The page of `records`: conditions in its columns, places in its rows."""
    who = {name: sorted({r[name] for r in found["readings"]} - {""}) for name in ("who", "when", "instrument")}
    return page.TEMPLATES.get_template("record.html").render(r=found, told=who)


def write(judged: JudgedRecord, out_dir: str | Path, system: str) -> Written:
    """Write record.html and record.json into a folder, each whole or not at all. OSError where that cannot be."""
    found = records(judged, system)
    texts = {PAGE: html(found), NUMBERS: json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n"}
    out = whole_file.write_into(out_dir, texts)
    return Written(out / PAGE, out / NUMBERS)
