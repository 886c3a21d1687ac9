"""Report: a study as one HTML page, as a file of numbers, and where wanted as a PDF, written into a folder.

``report.html`` stands alone: pictures and style are inside it, nothing is fetched, no script runs. It is made
from the same `results.results` that go into ``results.json``, so that the two cannot disagree. Beside them stand the
files of `exports`.
"""

import json
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventcalc.job.study import Study
from ventcalc.job.year_compared import Compared
from ventcalc.show import exports, page, pictures, printing, results, whole_folder


@dataclass(frozen=True)
class Written:
    """What `write` left: the ``page``, the ``numbers`` and the ``pdf`` (None where none was made)."""

    page: Path
    numbers: Path
    pdf: Path | None


def write(
    study: Study,
    out_dir: str | Path,
    system: str = "US",
    pdf: bool = False,
    since: Mapping[str, Any] | None = None,
    years: Compared | None = None,
) -> Written:
    """Write report.html and results.json, and report.pdf where wanted and a Chromium is found, into a folder.

    ``since``: the results of an earlier revision (`changes.read`), for what changed; ``years`` of the study's
    designs, where they were asked for.

    Everything is made beside the folder first and put in place at once when it is whole (`whole_folder`). Other files
    in the folder stay; what only an earlier study had, such as its report.pdf, does not. Raises OSError where the
    folder cannot be written.
    """
    out = Path(out_dir)
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is not a folder")
    making = whole_folder.beside(out)
    try:
        found = results.results(study, system, since, years)
        figures = pictures.figures(study, system, years and years.own)
        (making / "results.json").write_text(
            json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
        (making / "report.html").write_text(page.html(found, figures), encoding="utf-8")
        exports.write(study, making, system)
        paper = printing.PAPER[system]
        printed = pdf and printing.print_pdf(page.html(found, figures, paper), making / "report.pdf")
        whole_folder.put_in_place(making, out, {"report.html", "results.json", "report.pdf", *exports.names()})
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return Written(out / "report.html", out / "results.json", out / "report.pdf" if printed else None)
