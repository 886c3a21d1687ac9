"""Calibrated study: the study of a vent as a survey found it: its remedies, sized and judged on the vent that stands.

What explains the readings is written into the drawing (`job_as_found`) at its best fit; losses, walls and burners that
were fitted beside it stay at their middle there, and count as uncertain in the margins as in any study. The design that
the study comes to is judged again where the cause is as small, and as large, as the readings leave likely.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ventcalc.job import job_as_found, remedy_outcome, study
from ventcalc.job.diagnosis import Diagnosis, Extent
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import AS_DRAWN, as_drawn
from ventcalc.job.steps import Told, nobody
from ventcalc.job.study import Study
from ventcalc.job.survey_causes import Cause
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.layout import Plant
from ventcalc.words import say


@dataclass(frozen=True)
class End:
    """One end of what the readings leave likely of a ``cause``: its ``value`` [SI] there, whether nothing speaks
    against the design there, and its least ``margin`` [Pa]."""

    cause: Cause
    value: float
    cured: bool
    margin: float


@dataclass(frozen=True)
class CalibratedStudy:
    """The ``study`` of the vent as found, causes that no drawing can have (``left``), and ``ends`` of the others."""

    study: Study
    left: tuple[Cause, ...]
    ends: tuple[End, ...]

    @property
    def design(self) -> Study:
        """The design that it comes to: what may be built, else the remedy proposed, else the vent as found."""
        return self.study.reported

    @property
    def cured(self) -> bool:
        """Whether nothing speaks against that design on the vent as found, nor at any end."""
        return self.design.buildable and all(end.cured for end in self.ends)


def calibrated_study(found: Diagnosis, told: Told = nobody) -> CalibratedStudy | None:
    """Study the vent as found; None where no cause was found, or no drawing can have any of those found."""
    extents = found.extents
    if not extents:
        return None
    original = found.calibration.survey.job
    job, left = _found(original, extents, [e.value for e in extents])
    if len(left) == len(extents):
        return None
    studied = study.study(job, told=told)
    ends = [
        _end(original, studied, extents, k, value)
        for k, extent in enumerate(extents)
        if extent.cause not in left
        for value in (extent.low, extent.high)
    ]
    return CalibratedStudy(studied, left, tuple(ends))


def _found(job: Job, extents: Sequence[Extent], values: Sequence[float]) -> tuple[Job, tuple[Cause, ...]]:
    causes = [e.cause for e in extents]
    changed, left = job_as_found.as_found(job, causes, values)
    told = [told_of(c, v, job.system) for c, v in zip(causes, values, strict=True) if c not in left]
    name, note = say("job", "as_found", "name", name=job.name), " ".join((*told, job.note)).strip()
    return replace(job_as_found.in_alternates(changed, causes, values), name=name, note=note), left


def told_of(cause: Cause, value: float, system: str) -> str:
    """A cause in a sentence, with how much of it there is."""
    figure = Q_(value, "Pa") if cause.kind.unit == "Pa" else value
    sentence = say("job", "survey_cause", cause.code, system, value=figure, subject=cause.subject)
    return f"{sentence[0].upper()}{sentence[1:]}"


def _end(original: Job, studied: Study, extents: Sequence[Extent], k: int, value: float) -> End:
    """The design of a study where one cause has another value."""
    values = [value if n == k else e.value for n, e in enumerate(extents)]
    job, _ = _found(original, extents, values)
    design, found = studied.reported, studied.design.job
    remedy = design.outcome.remedy
    if remedy.kind == AS_DRAWN:
        moved = as_drawn(job)
    else:
        moved = replace(remedy, plant=_moved(remedy.plant, found.plant, job.plant), start=None)
    outcome = remedy_outcome.outcome(job, moved, firing_states.scan(job.plant, job.seasons))
    judged = study.assess(job, outcome)
    return End(extents[k].cause, value, judged.buildable, outcome.margin)


def _moved(plant: Plant, found: Plant, end: Plant) -> Plant:
    """A remedy's plant with all that it left as found as it is at an end; what it rebuilt stays."""

    def each(own, before, after):
        known, new = {x.name: x for x in before}, {x.name: x for x in after}
        return tuple(new[x.name] if x.name in known and x == known[x.name] else x for x in own)

    return replace(
        plant,
        sections=each(plant.sections, found.sections, end.sections),
        appliances=each(plant.appliances, found.appliances, end.appliances),
    )
