"""Submittal: the papers handed to contractor, controls programmer and technician, of the remedy proposed."""

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
    """Every paper's rows, and the warning that stands above them; None where no remedy is proposed."""
    if study.proposed is None:
        return None
    papers = {name: getattr(module, name)(study, system) for name, module in PAPERS.items()}
    return {
        "not_to_build": finding_records.not_to_build(study.proposed),
        **papers,
        "performance_test": record_sheet.printed(study, system),
    }


def tables(study: Study, system: str) -> tuple[Table, ...]:
    """The papers as tables for a spreadsheet; none where no remedy is proposed."""
    return tuple(module.table(study, system) for module in PAPERS.values()) if study.proposed else ()
