"""Exports: a study as files that others go on with: tables as CSV and as a workbook, the vent as DXF and as SVG.

``states.csv`` has every operating condition of the vent as drawn, ``states_with_remedy.csv`` of the remedy proposed;
``tables.xlsx`` holds the tables that are handed in, each as CSV as well; ``vent.dxf`` and ``vent.svg`` are the drawing
of what is to be built, or of the vent as drawn where nothing is proposed.
"""

import io
from collections.abc import Iterable
from pathlib import Path

import matplotlib

from ventcalc.job import device_tags
from ventcalc.job.study import Study
from ventcalc.show import drawing, dxf, spreadsheet, state_table
from ventcalc.show.spreadsheet import Table

WORKBOOK, DXF, SVG = "tables.xlsx", "vent.dxf", "vent.svg"
STATES, WITH_REMEDY = "states", "states with remedy"
NAMES = (WORKBOOK, DXF, SVG, f"{STATES}.csv", f"{WITH_REMEDY.replace(' ', '_')}.csv")


def write(study: Study, folder: Path, system: str, handed_in: Iterable[Table] = ()) -> None:
    """Write all of them into a folder; ``handed_in``: the tables of the submittal."""
    design, handed_in = study.proposed or study, tuple(handed_in)
    tables = [state_table.states(study.scan, system, STATES)]
    if design is not study:
        tables.append(state_table.states(design.scan, system, WITH_REMEDY))
    for table in (*tables, *handed_in):
        path = folder / f"{table.name.replace(' ', '_')}.csv"
        path.write_text(spreadsheet.csv_text(table), encoding="utf-8", newline="")
    if handed_in:
        spreadsheet.workbook(handed_in, folder / WORKBOOK)
    devices = device_tags.tagged(design.outcome.remedy)
    moving = {d.section: d.tag for d in devices if d.letters != device_tags.SENSOR}
    dxf.write(design.job.plant, folder / DXF, system, moving)
    (folder / SVG).write_bytes(svg(study, system))


def svg(study: Study, system: str) -> bytes:
    """The drawing as SVG, its words kept as text."""
    design, file = study.proposed or study, io.BytesIO()
    figure = drawing.layout_drawing(design.job.plant, system, device_tags.tagged(design.outcome.remedy))
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "ventcalc"}):
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()
