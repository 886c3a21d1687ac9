"""Remedies: what may cure a vent, each sized for every firing state of one job, and compared.

A vent has insufficient draft, overdraft, or both in turn. `compare` looks for pipe first: other sizes, laterals, a cap,
a taller stack, a narrower flue or a liner, alone and together, led by where the losses of the worst states are
(`vent_changes`); then for one device on the vent as drawn or on better pipe; then for more. All are solved in the few
states that govern (`governing_states`); what is left without a fault there is solved in all. The order is by whether it
cures, then by how many devices, how much new pipe and how much energy it takes. That none cures it, that no fan fits,
that a remedy does not apply (`left_out`): all of that is said, not hidden.

Why an outcome stands where it does are records (`remedy_reasons`); `remedy_words` makes sentences of them.
"""

from dataclasses import replace

import numpy as np

from ventcalc.draft import common_window, dampers, held_pressure
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import governing_states
from ventcalc.job.device_duty import if_held
from ventcalc.job.device_remedies import (
    damper_in_stack,
    fan_and_damper,
    fan_in_stack,
    of_devices,
    outlet_dampers,
    serving,
)
from ventcalc.job.governing_scan import GoverningScan
from ventcalc.job.job_file import Job
from ventcalc.job.pipe_remedies import of_pipe
from ventcalc.job.remedy import Remedy, as_drawn
from ventcalc.job.remedy_outcome import MOST_PROVED, Outcome, outcome, serves
from ventcalc.job.steps import Told, nobody
from ventcalc.vent import end_of_header, firing_states
from ventcalc.vent.firing_states import Scan

_AT_EACH_END = 8  # states


def compare(
    job: Job,
    scan: Scan | None = None,
    most: int = MOST_PROVED,
    every: bool = False,
    told: Told = nobody,
) -> tuple[Outcome, ...]:
    """Every remedy that applies to a job, sized and compared; the one to prefer first.

    All are solved in the states that govern. Those that leave no fault there are then solved in all; with ``every`` all
    are. What fails has more states added to those that govern. Where there are more than ``most`` states, all are a
    sample of them, with the ends of every outlet's range as drawn: beyond that the worst state under a remedy may be
    missed.
    What does not apply is named by `left_out`. ``told`` hears what is worked at and the share that is done.
    """
    scan = scan or firing_states.scan(job.plant, job.seasons)
    whole = _fewer(scan, most)
    few = GoverningScan(job, whole, governing_states.governing(whole))
    drawn = outcome(job, as_drawn(job), whole)
    told("another vent", 0.1)
    found = list(of_pipe(few))
    for remedy in of_devices(few):
        told(remedy.name, 0.3)
        found += if_held(few.outcome, remedy)
    told("in every condition", 0.6)
    sampled = len(whole.conditions) < len(scan.conditions)
    compared = (replace(o, sampled=sampled) for o in (drawn, *_proved(few, found, every)))
    return tuple(sorted(compared, key=lambda o: o.order))


def _proved(few: GoverningScan, found: list[Outcome], every: bool) -> list[Outcome]:
    """The outcomes, those that leave no fault in the states that govern (or all) solved in every state."""
    found = list(found)
    while True:
        ranked = sorted((o for o in found if not o.everywhere and (every or serves(o))), key=lambda o: o.order)
        if not ranked:
            return found
        at = next(k for k, o in enumerate(found) if o is ranked[0])
        found[at] = outcome(few.job, _from_here(few, found[at].remedy), few.whole)
        if not serves(found[at]) and not every and few.add(found[at].scan):
            for k, o in enumerate(found):
                if not o.everywhere and serves(o):
                    found[k] = few.outcome(replace(o.remedy, start=None))


def _from_here(few: GoverningScan, remedy: Remedy) -> Remedy:
    """The remedy with a start for all states: what the header lacks as drawn is what its device has to add."""
    start = None
    if remedy.controls and remedy.controls[0].sensor == HEADER and not remedy.rebuilt:
        lacks = end_of_header.header_pressure(few.whole.first) - remedy.set_point.m_as("Pa")
        start = np.zeros((len(remedy.controls), lacks.size))
        start[0] = np.nan_to_num(lacks) if remedy.fan else np.minimum(np.nan_to_num(lacks), 0.0)
    return replace(remedy, start=start)


def _fewer(scan: Scan, most: int) -> Scan:
    """The scan itself, or a sample of a large one that keeps the ends of every outlet's and the header's range."""
    if len(scan.conditions) <= most:
        return scan
    scan = scan.first
    total = len(scan.states)
    runs = np.array([scan.running(i) for i in range(len(scan.plant.appliances))])
    outlets = np.where(runs, scan.solution.outlet_pressure, np.nan)
    ranges = np.concatenate([outlets, end_of_header.header_pressure(scan)[None]])
    ends = [np.argsort(sign * values)[:_AT_EACH_END] for values in ranges for sign in (1.0, -1.0)]  # NaN come last
    picked = np.unique([*np.random.default_rng(0).choice(total, most, replace=False), *np.concatenate(ends)])
    return firing_states.of_states(scan.plant, scan.seasons, scan.states[picked], scan.possible, False)


def offered(job: Job, scan: Scan | None = None) -> Outcome | None:
    """What the remedy that the job names leaves (`named`); None where there is none.

    Raises `device_duty.NothingHeld` where it would hold its pressure in no state.
    """
    scan = scan or firing_states.scan(job.plant, job.seasons)
    remedy = named(job, scan)
    return None if remedy is None else outcome(job, remedy, scan)


def named(job: Job, scan: Scan) -> Remedy | None:
    """The remedy that the job names, sized where the job leaves it open; None where it names none or no fan fits.

    Its fan and damper may be given, and the header's set point. With dampers at the outlets the header is held as low
    as they need it, unless a set point is given.
    """
    if job.offered is None:
        return None
    name, fan, damper = job.offered.name, job.offered.fan, job.offered.damper
    if damper is not None:
        damper = dampers.fitted(damper, job.plant.section(held_pressure.stack_base(job.plant)).diameter)
    held = job.offered.set_point or job.set_point
    at = (job, job.plant, held, scan.conditions)
    if name == "fan":
        remedy = fan_in_stack(*at, fan)
    elif name == "damper":
        remedy = damper_in_stack(*at, damper)
    elif name == "fan and damper":
        remedy = fan_and_damper(*at, fan, damper)
    else:
        alone, with_fan = outlet_dampers(job, scan.first, job.offered.set_point, fan)
        remedy = alone if name == alone.kind else with_fan
    if remedy.unfit and fan is None:
        return None
    return replace(remedy, serve=serving(common_window.held_common_window(scan.first)))
