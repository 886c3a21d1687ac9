"""Exports: a study as files that others go on with: tables as CSV and as a workbook, the vent as DXF and as SVG.

``states.csv`` has every operating condition of the vent as drawn, ``states_with_remedy.csv`` of the remedy proposed;
``tables.xlsx`` holds the tables that are handed in, each as CSV as well; ``vent.dxf`` and ``vent.svg`` are the drawing
of the design that is reported on (`Study.reported`); ``record_blank.csv`` the sheet of its functional performance test,
to be copied, filled in on site and read back (`record_sheet`).
"""

import io
from pathlib import Path

import matplotlib

from ventcalc.job.study import Study
from ventcalc.show import drawing, dxf, record_sheet, spreadsheet, state_table, submittal, tags
from ventcalc.words import say

WORKBOOK, DXF, SVG, RECORD = "tables.xlsx", "vent.dxf", "vent.svg", "record_blank.csv"
STATES, WITH_REMEDY = "states", "states with remedy"


def csv_name(table: str) -> str:
    """The file that a table goes into."""
    return f"{table.lower().replace(' ', '_')}.csv"


def names() -> tuple[str, ...]:
    """Every file that may be written: one of an earlier study that is not made again is taken away."""
    papers = (say("show", f"{paper}_heads", "title") for paper in ("equipment", "sequence", "points"))
    return (WORKBOOK, DXF, SVG, RECORD, *(csv_name(table) for table in (STATES, WITH_REMEDY, *papers)))


def write(study: Study, folder: Path, system: str) -> None:
    """Write all of them into a folder."""
    design, handed_in = study.reported, submittal.tables(study, system)
    tables = [state_table.states(study.scan, system, STATES, study.outcome.settled)]
    if study.proposed:
        tables.append(state_table.states(study.proposed.scan, system, WITH_REMEDY, study.proposed.outcome.settled))
    blank = spreadsheet.csv_text(record_sheet.blank(study, system))
    (folder / RECORD).write_text(blank, encoding="utf-8", newline="")
    for table in (*tables, *handed_in):
        (folder / csv_name(table.name)).write_text(spreadsheet.csv_text(table), encoding="utf-8", newline="")
    if handed_in:
        spreadsheet.workbook(handed_in, folder / WORKBOOK)
    devices = tags.placed(design)
    moving = {d.section: d.tag for d in devices if d.kind != tags.SENSOR}
    dxf.write(design.job.plant, folder / DXF, system, moving)
    (folder / SVG).write_bytes(svg(study, system))


def svg(study: Study, system: str) -> bytes:
    """The drawing as SVG, its words kept as text."""
    design, file = study.reported, io.BytesIO()
    figure = drawing.layout_drawing(design.job.plant, system, tags.placed(design))
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "ventcalc"}):
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()
