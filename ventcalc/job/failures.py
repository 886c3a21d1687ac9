"""Failures: what happens when something fails on a remedy that holds the header, and what sees it.

In each season a fan stops, the power fails, a damper sticks open and shut, the sensor or its line fails while burners
change, and a burner loses its flame. It must be noticed before an outlet leaves its window, or at least before people
are harmed. What befalls a vent that runs is tried from its governing states alone (`governing`): where the devices add
most and least of all calm states, and with all burners at their highest.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import NamedTuple

import numpy as np

from ventcalc.draft import closed_loop
from ventcalc.draft.closed_loop import DAMPER_OPENS, DAMPER_SHUTS, FAN_STOPS, SENSOR_STILL, Devices, Fault, Runs
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.load_changes import LEAST_SPILL
from ventcalc.draft.start_sequence import Event
from ventcalc.draft.start_settings import Settings
from ventcalc.gas.appliance import Appliance
from ventcalc.job import loop_settings
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.run_record import STALL, Act, Passed, first_lasting, what_acts, what_outlets_met
from ventcalc.units import Q_
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

SETTLED = 20.0  # s for which the loop runs before anything fails
LOAD_CHANGES = 5.0  # s after a sensor fails at which the burners change
LIGHT_OFF = 2.0  # s in which a burner is lit (as `load_changes.LIGHT`), or goes up a level: as fast as may be
LONGEST = 65.0  # s after a failure to which it is followed; what has not acted by then is called never
OFF_POSITION = 0.1  # share of its stroke by which a damper may lag its signal (common practice, no source)
VALVE = 1.0  # s in which the safety valves of a burner shut (EN 161, from memory)
FAN, POWER, OPEN, SHUT, STILL, BLOCKED, FLAME = CASES = (
    "fan_stops",
    "power_fails",
    "damper_sticks_open",
    "damper_sticks_shut",
    "sensor_freezes",
    "sensor_line_blocked",
    "flame_lost",
)


class Case(NamedTuple):
    """What is tried: a ``kind`` of failure, one of `CASES`, at an ``appliance`` or "", in a season by its number, on
    ``cold`` walls or hot; the codes of all appliances ``before`` it and ``after``."""

    kind: str
    appliance: str
    season: int
    cold: bool
    before: tuple[int, ...]
    after: tuple[int, ...]


@dataclass(frozen=True)
class Failure:
    """Something that fails while burners run; times [s] from then on.

    ``case`` is one of `CASES`, at ``appliance`` where it befalls one ("" else); ``before`` and ``after`` name the
    states of all appliances, which differ where burners change after it. ``acts``: what would see it, soonest first,
    and ``shutdown`` when the first of them has shut every burner, its valves' time included (inf: never); ``limit``:
    when the high or the low limit would, alone. Outlets are counted until the shutdown; after a lost flame, which is
    not counted as one, for as long as the others run on. ``stalled``: a burner would have had to push against more than
    `STALL`, so that pressures are told no higher than that; its blower then no longer sends what is counted here, and
    gas comes out where it can.
    """

    case: str
    appliance: str
    season: str
    cold: bool
    before: tuple[str, ...]
    after: tuple[str, ...]
    acts: tuple[Act, ...]
    shutdown: float
    limit: float
    outlets: tuple[Passed, ...]
    stalled: bool

    @property
    def beyond(self) -> float:
        """How far the worst outlet leaves its window before the shutdown [Pa]."""
        return max(o.beyond for o in self.outlets)

    @property
    def outside(self) -> float:
        """How long [s] the outlet that is longest outside its window is so."""
        return max(o.outside for o in self.outlets)

    @property
    def into_room(self) -> float:
        """Flue gas that comes into the room at all outlets before the shutdown [kg]."""
        return sum(o.into_room for o in self.outlets)

    @property
    def spills(self) -> float:
        """Flue gas [kg] that comes into the room, 0 where it is no more than `LEAST_SPILL`: a puff, or rounding."""
        return self.into_room if self.into_room > LEAST_SPILL else 0.0

    @property
    def gravity(self) -> tuple[bool, float, float, float]:
        """What failures of a kind are sorted by: never seen, then most gas in the room, then longest and farthest
        outside."""
        return self.unseen, self.spills, self.outside, self.beyond

    @property
    def own_control(self) -> bool:
        """Whether nothing shuts more than the burner that lost its flame, whose own control does so by itself."""
        return self.case == FLAME and self.shutdown == inf

    @property
    def unseen(self) -> bool:
        """Whether nothing ever shuts the burners though an outlet leaves its window or gas comes into the room."""
        return self.shutdown == inf and (self.beyond > 0.0 or self.into_room > LEAST_SPILL)


def governing(scan: Scan) -> tuple[tuple[int, ...], ...]:
    """Columns of a remedy's scan from which failures are tried, one row a season: with all burners at their highest,
    where the devices add most, and where they add least; in calm weather, on hot or cold walls."""
    added, states = scan.solution.added.sum(axis=0), scan.states
    calm = (states.windy == 0.0) & scan.any_firing & scan.solution.converged
    highest = (states.codes == np.array([[len(a.states) - 1] for a in scan.plant.appliances])).all(axis=0)
    found = []
    for season in range(len(scan.seasons)):
        own = np.flatnonzero(calm & (states.season == season))
        full = own[highest[own] & (states.cold[own] == 0.0)]
        picked = [*full[:1].tolist(), int(own[added[own].argmax()]), int(own[added[own].argmin()])]
        found.append(tuple(dict.fromkeys(picked)))
    return tuple(found)


# What a kind of failure does to the loop; a lost flame leaves it whole.
_FAULTS = {FAN: FAN_STOPS, POWER: FAN_STOPS, OPEN: DAMPER_OPENS, SHUT: DAMPER_SHUTS, STILL: SENSOR_STILL, FLAME: ""}


def all_failures(job: Job, outcome: Outcome, settings: Settings) -> tuple[list[Case], Runs]:
    """What fails where, and the runs."""
    devices = loop_settings.devices_of(outcome.remedy, settings)
    cases = list(_cases(outcome.scan, devices))
    schedules = [_schedule(outcome.scan.plant, settings, case) for case in cases]
    faults = [Fault(_FAULTS[case.kind], SETTLED) for case in cases]
    loop = loop_settings.run_loop(settings, devices)
    return cases, closed_loop.simulate(job.seasons, schedules, devices, loop, faults=faults)


def _cases(scan: Scan, devices: Devices) -> Iterator[Case]:
    """From every governing state the devices and the power; a sensor between each two; each flame of the first."""
    kinds = [FAN] if devices.fan else []
    kinds += [OPEN, SHUT] if devices.damper else []
    for season, columns in enumerate(governing(scan)):
        here = [(tuple(scan.states.codes[:, c].astype(int).tolist()), bool(scan.states.cold[c])) for c in columns]
        for codes, cold in here:
            yield from (Case(kind, "", season, cold, codes, codes) for kind in kinds)
            yield Case(POWER, "", season, cold, codes, (0,) * len(codes))
        for (codes, cold), (after, _) in [*pairwise(here), *pairwise(here[::-1])]:
            yield Case(STILL, "", season, cold, codes, after)
        codes, cold = here[0]
        for i, a in enumerate(scan.plant.appliances):
            purge = int("purge" in a.states)
            if codes[i] > purge:
                yield Case(FLAME, a.name, season, cold, codes, (*codes[:i], purge, *codes[i + 1 :]))


def _schedule(plant: Plant, settings: Settings, case: Case) -> Schedule:
    """A failure in time: settled, then it fails, and the burners change at once or, after a sensor, by and by."""
    changes = list(zip(plant.appliances, case.before, case.after, strict=True))
    turns = tuple(t for a, b, c in changes if b != c for t in _turns(a, b, c, case.kind, settings))
    start = tuple(a.states[b] for a, b, _ in changes)
    return Schedule(Q_(SETTLED + LONGEST, "s"), start, turns, season=case.season, cold=float(case.cold))


def _turns(a: Appliance, before: int, after: int, kind: str, settings: Settings) -> Iterator[Turn]:
    """How an appliance goes from one code to another; after a sensor has failed a burner goes from level to level."""
    at = Q_(SETTLED, "s")
    if kind != STILL:
        yield Turn(a.name, a.states[after], at, Q_(0.0, "s"))
        return
    at, up = at + Q_(LOAD_CHANGES, "s"), after > before
    if before <= int("purge" in a.states) or after == 0:  # lit, or shut off: past other states only at once
        yield Turn(a.name, a.states[after], at, Q_(LIGHT_OFF if up and after - before == 1 else 0.0, "s"))
        return
    within = Q_(LIGHT_OFF, "s") if up else settings.modulation.to("s") / max(len(a.levels) - 1, 1)
    codes = range(before + 1, after + 1) if up else range(before - 1, after - 1, -1)
    yield from (Turn(a.name, a.states[code], at + k * within, within) for k, code in enumerate(codes))


def failures_of_run(job: Job, settings: Settings, case: Case, runs: Runs, k: int) -> list[Failure]:
    """The records of one run: a sensor that is still is told twice, since a blocked line is still but for its noise."""
    kinds = (STILL, BLOCKED) if case.kind == STILL else (case.kind,)
    return [_failure(job, settings, case._replace(kind=kind), runs, k) for kind in kinds]


def _failure(job: Job, settings: Settings, case: Case, runs: Runs, k: int) -> Failure:
    acts, appliances = _seen(settings, case.kind, runs, k), runs.devices.plant.appliances
    # Its own control shuts no more than the burner that lost its flame.
    for_all = [a for a in acts if case.kind != FLAME or a.event != Event.FLAME_LOST.name]
    shutdown = min((a.at for a in for_all), default=inf) + VALVE
    outlets = what_outlets_met(runs, k, (runs.time >= SETTLED) & (runs.time <= SETTLED + min(shutdown, LONGEST)))
    limits = (Event.HIGH_PRESSURE.name, Event.LOW_PRESSURE.name)
    return Failure(
        case=case.kind,
        appliance=case.appliance,
        season=job.seasons[case.season].name,
        cold=case.cold,
        before=tuple(a.states[c] for a, c in zip(appliances, case.before, strict=True)),
        after=tuple(a.states[c] for a, c in zip(appliances, case.after, strict=True)),
        acts=acts,
        shutdown=shutdown,
        limit=min((a.at for a in acts if a.event in limits), default=inf),
        outlets=outlets,
        stalled=any(o.highest >= STALL for o in outlets),
    )


def _seen(settings: Settings, kind: str, runs: Runs, k: int) -> tuple[Act, ...]:
    """What sees a failure, soonest first.

    A blocked line is taken to hold what it held, for the limits as well: they see nothing where they share it.
    """
    found = [] if kind == BLOCKED else list(what_acts(settings, runs, k, SETTLED))
    own = {
        FAN: (Event.FAN_FAILED, settings.seconds("fan_delay")),
        POWER: (Event.POWER_LOST, 0.0),
        STILL: (Event.SENSOR_FAILED, settings.seconds("frozen_after") + settings.seconds("sensor_delay")),
        FLAME: (Event.FLAME_LOST, settings.seconds("flame_response")),
    }
    if kind in own:
        found.append(Act(own[kind][0].name, own[kind][1]))
    if kind in (OPEN, SHUT):
        off = np.abs(runs.position[:, k] - runs.devices.position(runs.output[:, k])) > OFF_POSITION
        found += first_lasting(
            Event.DAMPER_FAULT, runs.time, off & (runs.time >= SETTLED), settings, "damper_delay", SETTLED
        )
    return tuple(sorted(found, key=lambda act: act.at))
