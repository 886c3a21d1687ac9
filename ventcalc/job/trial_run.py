"""Trial run: the burners of a job started one after another on the remedy offered, in time and in every season.

The start sequence says what each burner does when; the draft control holds the header meanwhile, acting on the vent
itself (`closed_loop`). The gains are found on the vent: the output is stepped in every phase of the start in every
season, and the phase that answers most strongly sets them. It shows what a commissioning technician would see on the
recorder, before anything is built.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import closed_loop, draft_control, limit_switches, tuning
from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.draft.closed_loop import Devices, Runs
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop, Trace
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.limit_switches import Limits, Trip
from ventcalc.draft.loop_performance import time_outside
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_sequence import OUTPUTS, Event, State
from ventcalc.draft.start_settings import Settings, beside
from ventcalc.draft.start_timeline import Cue, Timeline
from ventcalc.draft.vent_response import SETTINGS, Response
from ventcalc.job.job_file import Job
from ventcalc.job.remedies import Remedy
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States

FIRST_CALL = Q_(5.0, "s")
AFTERWARDS = Q_(30.0, "s")  # that the run goes on when the last burner has reached high fire
LONGEST = Q_(900.0, "s")
SENSITIVITY = 1.6  # largest sensitivity that the gains may have (Skogestad: 1.4 to 1.8 is robust; from memory)
LEAST_INTEGRAL = Q_(2.0, "s")
LEAST_ANSWER = 0.01  # Pa; a smaller answer to a step is none: the device is at its limit


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
        """When the first burner is released [s] and the loop takes over; until then the damper stands open, proved."""
        return released(self.timeline)


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
    settings, tuned = tuned_settings(job, remedy)
    run, seasons = start(settings), range(len(job.seasons))
    runs = started(job, remedy, settings, [run] * len(seasons), seasons)
    return tuple(of_run(job, settings, tuned, run, runs, k) for k in seasons)


def settings_of(job: Job, remedy: Remedy) -> Settings:
    """The job's settings at the remedy's set point, proof and limits beside it where it is not the job's own."""
    own, set_point = job.sequence, remedy.set_point.to("inH2O")
    if np.isclose(own.set_point.m_as("Pa"), set_point.m_as("Pa")):
        return replace(own, set_point=set_point)
    return replace(own, set_point=set_point, **beside(Settings(own.burners), set_point))


def tuned_settings(job: Job, remedy: Remedy) -> tuple[Settings, bool]:
    """The settings of a job with the gains found on the vent, and whether any were found.

    They are the gentlest that any phase of the start asks for in any season.
    """
    settings = settings_of(job, remedy)
    devices = devices_of(remedy, settings)
    loop = start_loop(settings, devices)
    found = [_tuned(loop, answer) for answer in _answers(job, devices, start(settings))]
    gains = min((g for g in found if g is not None), key=_briskness, default=None)
    if gains is None:
        return settings, False
    return replace(settings, gain=gains.kp.to("percent/inH2O"), integral_time=gains.ti), True


def started(job: Job, remedy: Remedy, settings: Settings, plans: Sequence[Timeline], seasons: Sequence[int]) -> Runs:
    """The starts of some timelines, each in its season, side by side, on cold walls and without limits."""
    devices = devices_of(remedy, settings)
    schedules = [_schedule(remedy.plant, plan, season) for plan, season in zip(plans, seasons, strict=True)]
    return closed_loop.simulate(
        job.seasons, schedules, devices, start_loop(settings, devices), [released(plan) for plan in plans]
    )


def start(settings: Settings) -> Timeline:
    """All burners called at once; until all are at high fire, and a little longer."""
    calls = [Cue(FIRST_CALL, Event.CALL, b.name) for b in settings.burners]
    whole = timeline(calls, settings, LONGEST)
    last = max((c.time for c in whole.changes if c.state is State.RUN), default=0.0)
    until = Q_(last, "s") + settings.low_fire + settings.modulation + AFTERWARDS
    return timeline(calls, settings, min(until, LONGEST))


def released(run: Timeline) -> float:
    """When the first burner of a start is released [s]."""
    return min(c.time for c in run.changes if OUTPUTS[c.state].release)


def devices_of(remedy: Remedy, settings: Settings) -> Devices:
    """The header's fan, damper, or both in turn, as the settings say how fast they move."""
    control = remedy.controls[0]
    return Devices(
        plant=remedy.plant,
        fan=remedy.fan,
        damper=remedy.damper,
        fan_section=control.section,
        damper_section=control.second.section if control.second else control.section,
        travel=settings.seconds("damper_travel"),
        run_up=settings.seconds("fan_start") / 3.0,
    )


def start_loop(settings: Settings, devices: Devices) -> Loop:
    """The loop of a start: the damper open, to be proved, and the fan at its least, until the first release."""
    return replace(run_loop(settings, devices), start=devices.open)


def run_loop(settings: Settings, devices: Devices) -> Loop:
    """The loop of a vent that runs: it begins at rest."""
    sensor = Sensor(settings.sensor_least, settings.sensor_most, settings.filter)
    actuator = Stroke(Q_(devices.stroke, "s")) if devices.damper else Lag(Q_(devices.run_up, "s"))
    gains = Gains(settings.gain.to("1/Pa"), settings.integral_time)
    return Loop(sensor, gains, actuator, settings.set_point, least=devices.least)


def limits_of(settings: Settings) -> Limits:
    """High and low limit of the header, each with its own delay."""
    return Limits(settings.low_limit, settings.high_limit, settings.high_delay, settings.low_delay)


def of_run(job: Job, settings: Settings, tuned: bool, run: Timeline, runs: Runs, k: int) -> TrialRun:
    """One run of many as a start, with what would trip in it by the limits of the settings."""
    plant = runs.devices.plant
    return TrialRun(
        settings=settings,
        gains=runs.loop.gains,
        timeline=replace(run, settings=settings),
        trace=_trace(runs, k, run, tripped(plant, runs, k, limits_of(settings))),
        season=job.seasons[runs.season[k]].name,
        tuned=tuned,
        plant=plant,
    )


def followed_on(job: Job, remedy: Remedy, start: TrialRun) -> TrialRun:
    """A start that trips, with every burner off from then on; one that does not, as it is."""
    if not start.trace.trips:
        return start
    trip, run, settings = start.trace.trips[0], start.timeline, start.settings
    devices, at = devices_of(remedy, settings), Q_(trip.at, "s")
    whole = _schedule(remedy.plant, run, [s.name for s in job.seasons].index(start.season))
    kept = tuple(t for t in whole.turns if t.at < at)
    cut = replace(whole, duration=at + AFTERWARDS, turns=(*kept, *(Turn(name, "off", at) for name in trip.stopped)))
    runs = closed_loop.simulate(job.seasons, [cut], devices, start_loop(settings, devices), [released(run)])
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
        loop=replace(runs.loop, manual=Q_(released(run), "s")),
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


def _answers(job: Job, devices: Devices, run: Timeline) -> list[Response]:
    """What the vent answers to its devices in every phase of a start, at rest on cold walls; one for every season.

    A pascal more from the device is taken for a pascal less before it, as in `closed_loop.Runs.response`: a vent that
    draws room air answers less, and is then held more gently than it might be.
    """
    plant, phases = devices.plant, np.array([*run.times[1:], run.until])
    network, count = compile_network(plant, job.seasons), phases.size
    codes = np.array([run.codes(phases, a.name) for a in plant.appliances])
    found = []
    for season in range(len(job.seasons)):
        states = States(codes, np.full(count, season), np.ones(count), np.zeros(count))
        solution = solve_network(network, states)
        rows = [plant.row(name) for name in (devices.fan_section, devices.damper_section)]
        density = solution.density[rows][..., None]
        flow = solution.flow[rows][..., None] / density
        made = devices.added(flow[0], density[0], flow[1], density[1], SETTINGS)
        pressure = far_end_pressure(solution, network)[:, None] - made
        found.append(Response(phases, SETTINGS, pressure, np.zeros((0, *made.shape)), made, codes))
    return found


def _tuned(loop: Loop, response: Response) -> Gains | None:
    """The gentlest of the gains that the phases of a start ask for; None where no phase answers."""
    found = []
    for at in response.time:
        time, reading, step = draft_control.step_test(loop, response, float(at))
        # Where nothing flows yet, or air still comes down, more output lowers no pressure.
        if (reading[0] - reading[-1]) * np.sign(step) < LEAST_ANSWER:
            continue
        model = tuning.identify.bare(time, reading, step)
        found.append(tuning.tune(model, float(loop.sensor.sample.m_as("s")), SENSITIVITY))
    if not found:
        return None
    gentlest = min(found, key=_briskness)
    return replace(gentlest, ti=max(gentlest.ti, LEAST_INTEGRAL))


def _briskness(gains: Gains) -> float:
    return gains.plain[0] / gains.plain[1]


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
