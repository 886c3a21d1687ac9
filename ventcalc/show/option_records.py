"""Option records: the matrix of remedies and makes as plain data."""

from typing import Any

from ventcalc.job.option_matrix import Option
from ventcalc.job.remedy import AS_DRAWN
from ventcalc.job.study import Study
from ventcalc.show.numbers import number


def options(study: Study, system: str) -> list[dict[str, Any]]:
    """Every remedy with every make accepted; empty where the job accepts one alone."""
    return [_option(o, o is study.option, system) for o in study.options]


def _option(o: Option, chosen: bool, system: str) -> dict[str, Any]:
    return {
        "remedy": o.remedy,
        "offered": o.offered,
        "chosen": chosen,
        "serves_all": o.serves_all,
        "telling": chosen or o.offered or o.remedy == AS_DRAWN or any(cell and cell.cured for cell in o.cells),
        "cells": [
            cell
            and {
                "make": cell.make,
                "cured": cell.cured,
                "margin": number(cell.margin, "draft", system),
                "everywhere": cell.everywhere,
                "against": list(cell.against),
            }
            for cell in o.cells
        ],
    }


def not_served(study: Study) -> tuple[str, ...]:
    """Makes with which the design that is proposed is no cure, or was not judged."""
    if study.option is None:
        return ()
    makes = (a.name for a in study.job.alternates)
    return tuple(name for name, cell in zip(makes, study.option.cells[1:], strict=True) if not (cell and cell.cured))
