"""Design: everything that would be built on one job, as drawn or with one remedy.

The job tells site, room, roof, permissions and the start sequence; the remedy tells the vent as it would be, with fan,
dampers, controls and set point. The vent as drawn is a design, and so is every remedy: all pass through `operation` and
`judgement` alike.
"""

from dataclasses import dataclass, replace
from functools import cached_property

from ventcalc.building.terminal import Terminal, with_fan
from ventcalc.draft.fan_curve import Fan
from ventcalc.job import job_building
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy, as_drawn


@dataclass(frozen=True)
class Design:
    """A job with the remedy that would be built on it."""

    job: Job
    remedy: Remedy

    @cached_property
    def built(self) -> Job:
        """The job as it would be built: its vent and set point those of the remedy, its terminals where that ends."""
        job, plant = self.job, self.remedy.plant
        roof = job.roof and job_building.rebuilt(job.roof, job.plant, plant)
        return replace(job, plant=plant, roof=roof, set_point=self.remedy.set_point or job.set_point)

    @property
    def fan(self) -> Fan | None:
        """The fan in the vent."""
        return self.remedy.fan.fan if self.remedy.fan else None

    @property
    def terminals(self) -> tuple[Terminal, ...]:
        """The roof's terminals; with a fan in the vent they count as mechanical draft."""
        given = self.built.roof.terminals if self.built.roof else ()
        return tuple(with_fan(t) for t in given) if self.fan else given


def drawn(job: Job) -> Design:
    """The vent as drawn."""
    return Design(job, as_drawn(job))
