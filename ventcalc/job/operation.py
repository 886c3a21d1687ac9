"""Operation: what a design does, with its own devices, in every firing state and season, at rest and in time.

The vent is solved with whatever stands in it; the room is solved together with both while its exhaust fans run; load
changes of a vent that nothing controls, and the start of one that something does, are followed in time. Nothing here
says whether that is well: `judgement` does.
"""

from dataclasses import dataclass, field

import numpy as np

from ventcalc.draft import flue_wetting, load_changes, natural_draft
from ventcalc.draft.load_changes import Followed, Passage
from ventcalc.draft.natural_draft import NaturalDraft
from ventcalc.flow import fittings, friction
from ventcalc.gas import flue_gas
from ventcalc.job import between_levels, commissioning, device_duty, remedy_outcome, shut_off, surroundings
from ventcalc.job.between_levels import Between
from ventcalc.job.chance import Chance
from ventcalc.job.commissioning import Tried
from ventcalc.job.design import Design
from ventcalc.job.device_duty import FanWork
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import as_drawn
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.shut_off import ShutOff
from ventcalc.job.surroundings import Surroundings
from ventcalc.job.trial_run import TrialRun
from ventcalc.vent import end_of_header, reversal, section_extremes
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.reversal import Reversal
from ventcalc.vent.section_extremes import Extremes


@dataclass(frozen=True)
class Run:
    """An appliance's own run at its highest level: equivalent length [m] and what is allowed (or None); ``shared`` is
    the plain length [m] of what it leads into with others, up to the termination."""

    appliance: str
    equivalent: float
    allowed: float | None
    shared: float


@dataclass(frozen=True)
class Operation:
    """What one design does; plain SI.

    ``scan`` holds every condition with the devices at rest, ``outcome`` what they do in it. ``header`` is the static
    pressure [Pa] at the end of the header, lowest and highest, in the ``header_states``. ``around`` tells of roof, room
    and carbon monoxide, ``natural`` of light-off, area rule and water; ``changes`` are starts, turn-downs and stops in
    time where nothing moves the gas; where something is controlled, ``tried`` are its starts and failures; ``stopped``
    is what is left when a fan that stands there, at its one speed, stops; ``shut_off`` what idle appliances are kept
    from by flaps alone; ``between`` what outlets meet while burners modulate. ``sure``: how likely it is to fail, where
    that was asked.
    """

    design: Design
    outcome: Outcome
    scan: Scan
    envelopes: tuple[Envelope, ...]
    reversals: tuple[Reversal, ...]
    extremes: tuple[Extremes, ...]
    runs: tuple[Run, ...]
    header: tuple[float, float]
    header_states: tuple[int, int]
    around: Surroundings = field(default_factory=Surroundings)
    natural: NaturalDraft = field(default_factory=NaturalDraft)
    changes: Followed | None = None
    tried: Tried | None = None
    stopped: Outcome | None = None
    shut_off: ShutOff | None = None
    between: tuple[Between, ...] = ()
    sure: Chance | None = None

    @property
    def job(self) -> Job:
        """The job as it would be built."""
        return self.design.built

    @property
    def lacking(self) -> float:
        """Draft [Pa] that is lacking at the end of the header in the worst state, against the set point."""
        return max(self.header[1] - float(self.job.set_point.m_as("Pa")), 0.0)

    @property
    def excess(self) -> float:
        """Draft [Pa] that is too much there in the worst state."""
        return max(float(self.job.set_point.m_as("Pa")) - self.header[0], 0.0)

    @property
    def unsolved(self) -> int:
        """How many conditions were not solved, or have no state of rest."""
        return self.scan.count(~(self.scan.solution.converged & self.outcome.settled))

    @property
    def restless(self) -> int:
        """How many conditions have no state of rest (`Scan.restless`)."""
        return self.scan.count(self.scan.restless)

    @property
    def trial(self) -> TrialRun | None:
        """The start as called, in the season in which it goes worst, with the limits of this design."""
        return self.tried.trial if self.tried else None

    @property
    def exhaust_work(self) -> FanWork | None:
        """What a fan that holds the header does while the room's exhaust fans run; None where either is missing."""
        remedy = self.outcome.remedy
        if self.around.exhausted is None or remedy.fan is None or remedy.set_point is None:
            return None
        return device_duty.fan_work_in(remedy, self.around.exhausted)

    @property
    def passages(self) -> tuple[Passage, ...]:
        """What every outlet met in the load changes; empty where none was followed."""
        return load_changes.passages(self.changes) if self.changes else ()


def operate(job: Job, outcome: Outcome, in_time: bool = True) -> Operation:
    """What a remedy's design does, from what was solved of it at rest.

    ``in_time``: its starts and failures are followed as well, where it has a control; they take longest.
    """
    design = Design(job, outcome.remedy)
    scan, built = outcome.scan, design.built
    pressure = end_of_header.header_pressure(scan)
    low, high = int(np.nanargmin(pressure)), int(np.nanargmax(pressure))
    moved, controlled = bool(outcome.remedy.controls), outcome.remedy.controlled
    changes = None if moved else _followed(built, tuple(e.margin for e in outcome.envelopes))
    return Operation(
        design=design,
        outcome=outcome,
        scan=scan,
        envelopes=outcome.envelopes,
        reversals=reversal.reversals(scan),
        extremes=section_extremes.extremes(scan),
        runs=tuple(_run(scan, i) for i in range(len(built.plant.appliances))),
        header=(float(pressure[low]), float(pressure[high])),
        header_states=(low, high),
        around=surroundings.surroundings(built, scan, design.fan, outcome.held),
        natural=_natural(scan, changes, moved),
        changes=changes,
        tried=commissioning.tried(job, outcome) if controlled and in_time else None,
        stopped=None if controlled or not moved else remedy_outcome.outcome(job, as_drawn(job, speed=0.0), scan),
        shut_off=shut_off.shut_off(scan),
        between=between_levels.between(job, outcome),
    )


def _natural(scan: Scan, changes: Followed | None, moved: bool) -> NaturalDraft:
    """Natural draft, where nothing else moves the gas; the water on walls of any vent."""
    if not moved:
        return natural_draft.natural_draft(scan, changes)
    return NaturalDraft(wettings=flue_wetting.wettings_of(scan), icings=flue_wetting.icings_of(scan))


def _followed(job: Job, margins: tuple[float, ...]) -> Followed:
    """The load changes of a vent that nothing controls, with the purges of its start sequence."""
    purges = {b.name: float(job.sequence.purge(b).m_as("s")) for b in job.sequence.burners}
    only = load_changes.as_many_as_fit(job.plant, job.seasons, margins)
    return load_changes.follow(job.plant, job.seasons, load_changes.usual(job.plant, job.seasons, purges, only))


def _run(scan: Scan, i: int) -> Run:
    """Equivalent length of an appliance's own run, up to the first section it shares, at its highest flow."""
    plant, solution = scan.plant, scan.solution
    a = plant.appliances[i]
    own = [s for s in plant.path(a.name) if len(plant.serves(s.name)) == 1]
    state = int(solution.flow[solution.row(own[0].name)].argmax())
    meters = 0.0
    for section in own:
        row = solution.row(section.name)
        length, diameter = (float(getattr(section, n).m_as("m")) for n in ("length", "diameter"))
        viscosity = flue_gas.viscosity.bare(flue_gas.Gas.dry_air(), solution.upstream[row, state])
        re = friction.reynolds.bare(solution.flow[row, state], diameter, viscosity)
        factor = friction.friction_factor.bare(re, float(section.material.roughness.m_as("m")) / diameter)
        loss = section.loss + _cap_loss(plant, section.into)
        meters += length + float(fittings.equivalent_length.bare(loss, diameter, factor))
    allowed = None if a.longest_run is None else float(a.longest_run.m_as("m"))
    shared = sum(float(s.length.m_as("m")) for s in plant.path(a.name) if len(plant.serves(s.name)) > 1)
    return Run(a.name, meters, allowed, shared)


def _cap_loss(plant: Plant, name: str) -> float:
    return next((fittings.fitting(t.cap).loss for t in plant.terminations if t.name == name), 0.0)
