"""Left out: which remedies do not apply to a job, and why, as records."""

from dataclasses import dataclass

from ventcalc.draft.wall_lag import heavy
from ventcalc.job import vent_changes
from ventcalc.job.device_remedies import SHORTENED, governs
from ventcalc.job.job_file import Job
from ventcalc.job.pipe_remedies import HEIGHTS_TRIED


@dataclass(frozen=True)
class LeftOut:
    """A ``kind`` of remedy that does not apply, by a ``code`` of ``words.toml``; ``refused`` tells what the change of
    the vent itself says against it, where that is the reason."""

    kind: str
    code: str
    refused: str = ""


def left_out(job: Job) -> tuple[LeftOut, ...]:
    """The remedies that do not apply to a job; `remedy_words.left_out` tells them."""
    plant, found = job.plant, []
    for kind, change, by in (
        ("larger vent", vent_changes.wider, 1),
        ("taller stack", vent_changes.with_top, HEIGHTS_TRIED[0]),
        ("shorter stack with a fan", vent_changes.with_top, SHORTENED),
    ):
        try:
            change(plant, by)
        except ValueError as error:
            found.append(LeftOut(kind, "refused", str(error)))
    several = len(plant.appliances) > 1
    found += [
        LeftOut(kind, code)
        for kind, code, applies in (
            ("laterals", "no square branch", vent_changes.with_laterals(plant) != plant),
            ("better cap", "cap costs little", vent_changes.with_cap(plant) != plant),
            ("narrower vent", "flow is forced", vent_changes.natural(plant)),
            ("liner", "no masonry", any(map(heavy, plant.sections))),
            ("larger connectors", "no connector", several),
            ("damper at each outlet", "one appliance", several),
            ("damper at each outlet", "none forces", not several or governs(plant)),
        )
        if not applies
    ]
    return tuple(found)
