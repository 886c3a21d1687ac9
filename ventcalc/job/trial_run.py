"""Trial run: the burners of a job started one after another on the remedy offered, in time and in every season.

The start sequence says what each burner does when; the draft control holds the header meanwhile, acting on the vent
itself (`closed_loop`), as `loop_settings` sets it. It shows what a commissioning technician would see on the recorder,
before anything is built.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import closed_loop, limit_switches
from ventcalc.draft.closed_loop import Runs
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Trace
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.limit_switches import Limits, Trip
from ventcalc.draft.loop_performance import time_outside
from ventcalc.draft.start_sequence import State
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Timeline
from ventcalc.job import loop_settings
from ventcalc.job.job_file import Job
from ventcalc.job.loop_settings import AFTERWARDS
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_
from ventcalc.vent.layout import Plant


@dataclass(frozen=True)
class TrialRun:
    """What a start brings: the ``timeline`` of the burners and the ``trace`` of the loop.

    ``settings`` have the gain and integral time found on the vent, or where not ``tuned`` those of the job. It was run
    in the ``season`` named, all walls cold at its beginning. One that trips ends with every burner off.
    """

    settings: Settings
    gains: Gains
    timeline: Timeline
    trace: Trace
    season: str
    tuned: bool
    plant: Plant

    @property
    def ends_in_run(self) -> bool:
        """Whether nothing tripped and every burner runs in the end."""
        return not self.trace.trips and all(s is State.RUN for s in self.timeline.ends)

    def span(self, since: float = 0.0) -> tuple[float, float]:
        """Lowest and highest true pressure [Pa] at the sensor from a time [s] on."""
        pressure = self.trace.pressure[self.trace.time >= since]
        return float(pressure.min()), float(pressure.max())

    def outside(self, plant: Plant) -> tuple[tuple[str, float, float], ...]:
        """For every appliance how long it runs outside its window [s], and how far beyond at worst [Pa]."""
        found, time = [], self.trace.time
        for a, pressure, code in zip(plant.appliances, self.trace.outlets, self.trace.codes, strict=True):
            low, high = (float(w.m_as("Pa")) for w in a.window)
            beyond = np.where(code > 0.0, np.maximum(low - pressure, pressure - high), 0.0)
            lasts = time_outside.bare(time, np.where(code > 0.0, pressure, np.nan), low, high)
            found.append((a.name, float(lasts), float(max(beyond.max(), 0.0))))
        return tuple(found)

    @property
    def gravity(self) -> tuple[bool, float, float]:
        """What starts are compared by, the worst last: whether it trips, how far [Pa] and how long [s] any outlet is
        beyond its window."""
        found = self.outside(self.plant)
        return bool(self.trace.trips), max(beyond for *_, beyond in found), sum(lasts for _, lasts, _ in found)

    @property
    def released(self) -> float:
        """When the first burner is released [s] and the loop takes over; until then devices stand as proved."""
        return loop_settings.released(self.timeline)


def trial_run(job: Job, remedy: Remedy) -> TrialRun | None:
    """The worst of the starts in all seasons (`trial_runs`); None where there are none.

    Where a limit trips all burners go off, and it is followed once more from there.
    """
    worst = max(trial_runs(job, remedy), key=lambda run: run.gravity, default=None)
    return worst and followed_on(job, remedy, worst)


def trial_runs(job: Job, remedy: Remedy) -> tuple[TrialRun, ...]:
    """Start every burner, one after another, on a remedy that holds the header: one run for every season.

    One set of gains serves all of them. Each goes on as if no limit had tripped. Empty where the remedy has no control
    of the header.
    """
    if remedy.set_point is None:
        return ()
    settings, tuned = loop_settings.tuned_settings(job, remedy)
    run, seasons = loop_settings.start(settings), range(len(job.seasons))
    runs = started(job, remedy, settings, [run] * len(seasons), seasons)
    return tuple(of_run(job, settings, tuned, run, runs, k) for k in seasons)


def started(job: Job, remedy: Remedy, settings: Settings, plans: Sequence[Timeline], seasons: Sequence[int]) -> Runs:
    """The starts of some timelines, each in its season, side by side, on cold walls and without limits."""
    devices = loop_settings.devices_of(remedy, settings)
    schedules = [_schedule(remedy.plant, plan, season) for plan, season in zip(plans, seasons, strict=True)]
    return closed_loop.simulate(
        job.seasons,
        schedules,
        devices,
        loop_settings.start_loop(settings, devices, job.seasons),
        [loop_settings.released(plan) for plan in plans],
    )


def of_run(job: Job, settings: Settings, tuned: bool, run: Timeline, runs: Runs, k: int) -> TrialRun:
    """One run of many as a start, with what would trip in it by the limits of the settings."""
    plant = runs.devices.plant
    return TrialRun(
        settings=settings,
        gains=runs.loop.gains,
        timeline=replace(run, settings=settings),
        trace=_trace(runs, k, run, tripped(plant, runs, k, loop_settings.limits_of(settings))),
        season=job.seasons[runs.season[k]].name,
        tuned=tuned,
        plant=plant,
    )


def followed_on(job: Job, remedy: Remedy, start: TrialRun) -> TrialRun:
    """A start that trips, with every burner off from then on; one that does not, as it is."""
    if not start.trace.trips:
        return start
    trip, run, settings = start.trace.trips[0], start.timeline, start.settings
    devices, at = loop_settings.devices_of(remedy, settings), Q_(trip.at, "s")
    whole = _schedule(remedy.plant, run, [s.name for s in job.seasons].index(start.season))
    kept = tuple(t for t in whole.turns if t.at < at)
    cut = replace(whole, duration=at + AFTERWARDS, turns=(*kept, *(Turn(name, "off", at) for name in trip.stopped)))
    loop = loop_settings.start_loop(settings, devices, job.seasons)
    runs = closed_loop.simulate(job.seasons, [cut], devices, loop, [loop_settings.released(run)])
    return replace(start, trace=_trace(runs, 0, run, start.trace.trips))


def tripped(plant: Plant, runs: Runs, k: int, limits: Limits) -> tuple[Trip, ...]:
    """The first trip of the header's limits in a run, while anything runs; empty where none acts."""
    pressure, running = runs.pressure[:, k], (runs.codes[:, :, k] > 0.0).any(axis=0)
    at = first_beyond(runs.time, pressure, running, limits)
    if at is None:
        return ()
    stopped = tuple(a.name for a, code in zip(plant.appliances, runs.codes[:, at, k], strict=True) if code > 0.0)
    can = runs.response(k, runs.time[at : at + 1]).pressure
    at_rest = float(np.clip(runs.loop.set_point.m_as("Pa"), can.min(), can.max()))
    low, high = limits.plain
    return (Trip(HEADER, float(runs.time[at]), float(pressure[at]), stopped, low <= at_rest <= high),)


def first_beyond(time: np.ndarray, pressure: np.ndarray, counts: np.ndarray, limits: Limits) -> int | None:
    """Index of the time at which a limit first acts on a pressure [Pa], where it ``counts``; None where none does."""
    step, found = float(time[1] - time[0]), []
    for beyond, delay in zip((pressure < limits.plain[0], pressure > limits.plain[1]), limits.delays, strict=True):
        over = np.flatnonzero(limit_switches.lasting(counts & beyond, step, 0.0) > delay)
        found += over[:1].tolist()
    return min(found, default=None)


def _trace(runs: Runs, k: int, run: Timeline, trips: tuple[Trip, ...]) -> Trace:
    """One run of many as the trace of a loop that takes over at the first release."""
    return Trace(
        loop=replace(runs.loop, manual=Q_(loop_settings.released(run), "s")),
        time=runs.time,
        pressure=runs.pressure[:, k],
        reading=runs.reading[:, k],
        output=runs.output[:, k],
        setting=runs.setting[:, k],
        outlets=runs.outlets[:, :, k],
        added=runs.added[:, k],
        codes=runs.codes[:, :, k],
        trips=trips,
    )


def _schedule(plant: Plant, run: Timeline, season: int) -> Schedule:
    """The timeline as the draft control wants it: who turns to which of its states, when and how fast."""
    turns = tuple(t for a in plant.appliances if a.name in run.names for t in _turns(a, run))
    start = tuple(a.states[0] for a in plant.appliances)
    return Schedule(Q_(run.until, "s"), start, turns, season=season, cold=1.0)


def _turns(appliance, run: Timeline) -> list[Turn]:
    """One appliance's path of codes as turns, a ramp over several states taken one by one."""
    times, codes = run.corners(appliance.name)
    found = []
    for t0, t1, c0, c1 in zip(times, times[1:], codes, codes[1:], strict=False):
        if c0 == c1:
            continue
        if t1 == t0:
            found.append(_turn(appliance, c1, t0, 0.0))
            continue
        step = 1.0 if c1 > c0 else -1.0
        here = c0
        while (c1 - here) * step > 1e-9:
            following = (np.floor(here) + 1.0) if step > 0.0 else (np.ceil(here) - 1.0)
            begin, end = (t0 + (c - c0) / (c1 - c0) * (t1 - t0) for c in (here, following))
            found.append(_turn(appliance, following, begin, end - begin))
            here = following
    return found


def _turn(appliance, code: float, at: float, within: float) -> Turn:
    return Turn(appliance.name, appliance.states[round(code)], Q_(float(at), "s"), Q_(float(within), "s"))
