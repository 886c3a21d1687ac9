"""Submittal: the papers handed to contractor, controls programmer and technician, of the remedy to be built.

They are of the design that page one is about (`Study.reported`): where the vent may be built as drawn there are none,
though the job name a remedy.
"""

from typing import Any

from ventcalc.job.study import Study
from ventcalc.show import equipment_schedule, finding_records, points_list, record_sheet, sequence_of_operation
from ventcalc.show.spreadsheet import Table

PAPERS = {
    "equipment_schedule": equipment_schedule,
    "sequence_of_operation": sequence_of_operation,
    "points_list": points_list,
}


def records(study: Study, system: str) -> dict[str, Any] | None:
    """Every paper's rows, and the warning that stands above them; None where no remedy is to be built."""
    if study.reported is study:
        return None
    papers = {name: getattr(module, name)(study, system) for name, module in PAPERS.items()}
    return {
        "not_to_build": finding_records.not_to_build(study.reported),
        **papers,
        "performance_test": record_sheet.printed(study, system),
    }


def tables(study: Study, system: str) -> tuple[Table, ...]:
    """The papers as tables for a spreadsheet; none where no remedy is to be built."""
    return () if study.reported is study else tuple(module.table(study, system) for module in PAPERS.values())
