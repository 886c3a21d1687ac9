"""As-found records: the study of the vent that a survey found, as plain data with its sentences.

Its own report stands beside the survey's page; here is what it comes to, and how far that hangs on how much of the
cause there is.
"""

from typing import Any

from ventcalc.job.calibrated_study import CalibratedStudy, End, told_of
from ventcalc.show.numbers import number
from ventcalc.units import Q_
from ventcalc.words import say

FOLDER = "as_found"  # of the report, beside the survey's page


def records(found: CalibratedStudy | None, system: str) -> dict[str, Any] | None:
    """All of it; None where no vent as found was studied."""
    if found is None:
        return None
    design, own = found.design, found.study
    return {
        "report": f"{FOLDER}/report.html",
        "buildable": own.buildable,
        "design": design.outcome.remedy.name,
        "cured": found.cured,
        "sentence": sentence(found),
        "against": len(design.judgement.against),
        "ends": [_end(end, system) for end in found.ends],
        "left": [say("job", "survey_cause_name", c.code, subject=c.subject) for c in found.left],
    }


def sentence(found: CalibratedStudy) -> str:
    """What the study of the vent as found comes to."""
    design = found.design
    figures = {"design": design.outcome.remedy.name}
    if found.cured:
        return say("show", "as_found", "stands" if design is found.study else "cured", **figures)
    if design.buildable:
        return say("show", "as_found", "not_everywhere", **figures)
    return say("show", "as_found", "lacks")


def _end(end: End, system: str) -> dict[str, Any]:
    return {
        "cause": told_of(end.cause, end.value, system),
        "cured": end.cured,
        "margin": number(Q_(end.margin, "Pa"), "draft", system),
    }
