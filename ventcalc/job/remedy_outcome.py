"""Remedy outcome: what a remedy leaves, over all states or the few that govern."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ventcalc.draft import held_pressure
from ventcalc.draft.damper_sizing import ACTUATOR_STEP
from ventcalc.draft.held_pressure import Held
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.job import margins
from ventcalc.job.device_duty import FanDuty, fan_duty, positions, rating
from ventcalc.job.findings import Judgement
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import AS_DRAWN, Remedy
from ventcalc.vent import firing_states, outlet_envelope, reversal, section_extremes
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import Envelope

# Of a larger scan a sample is taken, with the ends of every outlet's range.
MOST_PROVED = 2_000  # states, in which what leaves no fault in those that govern is proved


@dataclass(frozen=True)
class Outcome:
    """What a remedy leaves, over all states; pressures in Pa.

    ``everywhere``: whether it was solved in all states of the comparison, not in those alone that govern; ``sampled``:
    whether these are but a sample of those of the job.
    ``pressed``: sections that come under positive pressure though they serve an appliance of category I or II.
    ``outside``: states in which some running outlet leaves its window. ``gas_in_room``: states in which flue gas enters
    the room. ``unheld``: states in which a control misses its set point. ``unsettled``: states that were not solved.
    ``duty`` of its fan and ``position`` of its damper (0 shut to 1 open, NaN where it does not act), per state;
    ``step`` [Pa] that one step of that damper's actuator (``actuator_step`` of its stroke) moves at most; ``sensors``
    how far [Pa] that of each control may be off. ``judgement`` of the whole design, where it is worth one (`holds`) and
    was given it; ``followed``: with its starts and failures, where it holds the header, and not at rest alone.
    """

    remedy: Remedy
    scan: Scan
    held: Held | None
    envelopes: tuple[Envelope, ...]
    pressed: tuple[str, ...]
    outside: int
    gas_in_room: int
    unheld: int
    unsettled: int
    duty: FanDuty | None
    position: np.ndarray | None
    step: float = 0.0
    actuator_step: float = ACTUATOR_STEP
    sensors: tuple[float, ...] = ()
    everywhere: bool = True
    sampled: bool = False
    judgement: Judgement | None = None
    followed: bool = False

    @property
    def settled(self) -> np.ndarray:
        """Where the vent was solved and all controls came to rest, per state."""
        return self.scan.solution.converged if self.held is None else self.held.settled

    @property
    def cured(self) -> bool:
        """Whether the whole design was judged, in every condition, and nothing speaks against it."""
        return self.judgement is not None and self.judgement.cured

    @property
    def proved(self) -> bool:
        """Whether it was solved in every condition of the job's scan: a sample of them proves less."""
        return self.everywhere and not self.sampled

    @property
    def holds(self) -> bool:
        """Whether it is worth judging: it `serves` in every condition; not where it was solved in some alone."""
        return self.everywhere and serves(self)

    @property
    def margin(self) -> float:
        """Least margin of all outlets [Pa]; negative where a window is left."""
        return min(e.margin for e in self.envelopes)

    @cached_property
    def least(self) -> tuple[str, float, float]:
        """The outlet with the least margin, that margin, and what is uncertain of it there [Pa]."""
        k = min(range(len(self.envelopes)), key=lambda k: self.envelopes[k].margin)
        at = int(np.nanargmin(margins.margins(self.scan)[k]))
        doubt = self._doubt[k, at]
        return self.envelopes[k].appliance, self.envelopes[k].margin, float(doubt)

    @cached_property
    def thinnest(self) -> tuple[str, float, float]:
        """The outlet with least left of its margin beyond what is uncertain of it, and both there [Pa]."""
        margin, doubt = self.margins
        k = int(np.argmin(margin - doubt))
        return self.envelopes[k].appliance, float(margin[k]), float(doubt[k])

    @cached_property
    def margins(self) -> tuple[np.ndarray, np.ndarray]:
        """For each outlet, in the state where least is left of one beyond the other: its margin and what is uncertain
        of it [Pa]."""
        return margins.at_worst(margins.margins(self.scan), self._doubt)

    @cached_property
    def _doubt(self) -> np.ndarray:
        """What is uncertain of the margins [Pa] (appliances, states)."""
        return margins.uncertainty(self.scan, self.held, self.sensors, self.actuator_step)

    @property
    def order(self) -> tuple:
        """What outcomes are sorted by: whether it cures, how many devices, how much new pipe, how much energy.

        Of what does not cure, what leaves no fault where it was solved comes first; then people, then windows. A state
        that was not solved counts like one with flue gas in the room, and what was solved in few states and left none
        there as neither. Counts of an outcome that was solved in few states are not compared with those of all, so what
        is left beyond a window goes by its size.
        """
        return *self.failing, *self.cost

    @property
    def failing(self) -> tuple:
        """What speaks against it, as it counts in `order`."""
        fault = not serves(self)
        beyond = sum(e.above + e.below for e in self.envelopes)
        gas = 2 if self.gas_in_room + self.unsettled else 0 if self.everywhere else 1
        left = (gas, bool(self.pressed), beyond) if fault else ()
        against = len(self.judgement.against) if self.judgement else 0
        return not self.cured, not self.holds, fault, *left, against

    @property
    def cost(self) -> tuple[int, float, float, float]:
        """What it takes, as it counts in `order`: devices, new pipe, energy a year, and the margin it lacks."""
        yearly = self.duty.yearly if self.duty else 0.0
        return len(self.remedy.devices), self.remedy.new_pipe, yearly, -self.margin


def serves(o: Outcome) -> bool:
    """Whether every state looked at was solved, every outlet stays inside its window, no flue gas enters the room, no
    appliance of category I or II meets positive pressure in its vent, and the fan does its duty."""
    return not (o.outside or o.gas_in_room or o.pressed or o.unsettled or o.remedy.unfit)


def outcome(job: Job, remedy: Remedy, scan: Scan | None = None, rough: bool = False) -> Outcome:
    """Solve a remedy in every state and gather what it leaves.

    ``scan`` is that of the job as drawn; its conditions are solved from hot, and from idle too where the plant has a
    hood or a regulator, and wherever the remedy would otherwise count as a cure: none cures a vent that spills from one
    of them. Where only idle boilers leak, a remedy that fails already is not followed from idle as well. ``rough``:
    from hot alone, to choose among sizes.
    """
    scan = scan or firing_states.scan(job.plant, job.seasons)
    hoods, near = not forced(job.plant), scan.first.solution
    begun = None if hoods else near.drawn, near.outlets
    if remedy.controls:
        held = held_pressure.hold(remedy.plant, job.seasons, scan.conditions, remedy.controls, remedy.start, *begun)
        found = None if hoods else gathered(job, remedy, held.scan(scan.first), held)
        if rough or (found and not found.holds):
            return found or gathered(job, remedy, held.scan(scan.first), held)
        held = held_pressure.worse_from_idle(remedy.plant, job.seasons, scan.conditions, held)
        return gathered(job, remedy, held.scan(scan.first), held)
    if remedy.plant is job.plant:
        return gathered(job, remedy, scan, None)
    if rough or not hoods:
        hot = solve_network(compile_network(remedy.plant, job.seasons), scan.conditions, None, *begun)
        found = gathered(job, remedy, replace(scan.first, plant=remedy.plant, solution=hot), None)
        if rough or not found.holds:
            return found
    whole = firing_states.of_states(remedy.plant, job.seasons, scan.conditions, scan.possible, scan.complete)
    return gathered(job, remedy, whole, None)


def gathered(job: Job, remedy: Remedy, scan: Scan, held: Held | None) -> Outcome:
    """What a remedy leaves, from its scan."""
    rated = None if remedy.damper is None else rating(remedy, held, job.actuator_step)
    if job.existing is not None and remedy.kind != AS_DRAWN:
        remedy = replace(remedy, away=job.existing.drive.fan.name)
    return Outcome(
        remedy=remedy,
        scan=scan,
        held=held,
        envelopes=outlet_envelope.envelopes(scan),
        pressed=_pressed(scan),
        outside=scan.count(outlet_envelope.outside_window(scan).any(axis=0)),
        gas_in_room=scan.count(reversal.flue_gas_enters(scan).any(axis=0)),
        unheld=0 if held is None else int(held.missed.any(axis=0).sum()),
        unsettled=scan.count(~(scan.solution.converged if held is None else held.settled)),
        duty=None if remedy.fan is None else fan_duty(job, remedy, scan, held),
        position=None if rated is None else positions(rated, len(scan.states)),
        step=0.0 if rated is None else float(rated.step.max()),
        actuator_step=job.actuator_step,
        sensors=margins.sensor_errors(job, remedy.controls),
    )


def forced(plant: Plant) -> bool:
    """Whether every burner forces its flow: then a vent has one state of rest, wherever its search begins."""
    return all(a.kind == "forced" for a in plant.appliances)


def _pressed(scan: Scan) -> tuple[str, ...]:
    """Sections under positive pressure in some state that serve an appliance made for a negative one."""
    plant = scan.plant
    negative = {a.name for a in plant.appliances if not CATEGORIES[a.category].positive}
    if not negative:
        return ()
    return tuple(
        section.name
        for section, met in zip(plant.order, section_extremes.extremes(scan), strict=True)
        if met.pressure[1] > held_pressure.TOLERANCE and negative & {a.name for a in plant.serves(section.name)}
    )
