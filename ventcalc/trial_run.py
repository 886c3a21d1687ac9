"""Trial run: the burners of a job started one after another on the remedy offered, in time.

The start sequence says what each burner does when; the draft control holds the header meanwhile. The gains are found
on the vent itself: the output is stepped in every phase of the start, and the phase that answers most strongly
sets them. It shows what a commissioning technician would see on the recorder, before anything is built.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc import draft_control, tuning
from ventcalc.common_vent import States
from ventcalc.draft_control import (
    DamperPosition,
    Device,
    FanSpeed,
    Gains,
    Lag,
    Limits,
    Loop,
    Response,
    Schedule,
    Sensor,
    Stroke,
    Trace,
    Turn,
)
from ventcalc.firing_states import SAME_PRESSURE, far_end_pressure, worst
from ventcalc.held_pressure import HEADER
from ventcalc.job import Job
from ventcalc.layout import Plant
from ventcalc.network import compile_network
from ventcalc.remedies import Remedy
from ventcalc.start_sequence import Cue, Event, Settings, State, Timeline, beside, timeline
from ventcalc.units import Q_

FIRST_CALL = Q_(5.0, "s")
AFTERWARDS = Q_(30.0, "s")  # that the run goes on when the last burner has reached high fire
LONGEST = Q_(900.0, "s")
SENSITIVITY = 1.6  # largest sensitivity that the gains may have (Skogestad: 1.4 to 1.8 is robust; from memory)
LEAST_INTEGRAL = Q_(2.0, "s")
LEAST_ANSWER = 0.01  # Pa; a smaller answer to a step is none: the device is at its limit


@dataclass(frozen=True)
class InTurn:
    """A damper and a fan moved by one output: below ``middle`` the damper opens, above it the fan speeds up.

    The fan is kept so fast that it does not resist. Both count as one device, since the header feels only their sum.
    """

    damper: DamperPosition
    fan: FanSpeed
    least_speed: float  # share of the most
    middle: float = 0.5

    def added(self, flow, density, area, setting):
        """Total pressure [Pa] that both add; ``area`` [m2] is that of the fan's section."""
        opening = np.clip(np.asarray(setting) / self.middle, 0.0, 1.0)
        above = np.clip((np.asarray(setting) - self.middle) / (1.0 - self.middle), 0.0, 1.0)
        speed = self.least_speed + (1.0 - self.least_speed) * above
        fan = np.maximum(self.fan.added(flow, density, area, speed), 0.0)
        return fan + self.damper.added(flow, density, area, opening)


@dataclass(frozen=True)
class TrialRun:
    """What a start brings: the ``timeline`` of the burners and the ``trace`` of the loop.

    ``settings`` have the gain and integral time found on the vent, or where not ``tuned`` those of the job. It was run
    in the ``season`` named, all walls cold at its beginning.
    """

    settings: Settings
    gains: Gains
    timeline: Timeline
    trace: Trace
    season: str
    tuned: bool

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
        found, step = [], float(self.trace.time[1] - self.trace.time[0])
        for a, pressure, code in zip(plant.appliances, self.trace.outlets, self.trace.codes, strict=True):
            low, high = (float(w.m_as("Pa")) for w in a.window)
            beyond = np.where(code > 0.0, np.maximum(low - pressure, pressure - high), 0.0)
            found.append((a.name, step * float((beyond > 0.0).sum()), float(max(beyond.max(), 0.0))))
        return tuple(found)

    @property
    def released(self) -> float:
        """When the first burner is released [s] and the loop takes over; until then the damper stands open, proved."""
        return _released(self.timeline)


def trial_run(job: Job, remedy: Remedy) -> TrialRun | None:
    """Start every burner that purges, one after another, on a remedy that holds the header.

    In the season in which the cold vent as drawn has least draft with all at high fire. None where the remedy has no
    control of the header, or no burner of the job purges.
    """
    if job.sequence is None or remedy.set_point is None:
        return None
    set_point = remedy.set_point.to("inH2O")
    settings = replace(job.sequence, set_point=set_point, **beside(job.sequence, set_point))
    season = _hardest_season(job)
    run = _start(settings)
    plant, section, device = remedy.plant, remedy.top, _device(remedy)
    if remedy.fan is None:
        section = remedy.controls[0].section
    schedule = _schedule(plant, run, season)
    response = draft_control.respond(plant, job.seasons, schedule, section, device)
    usual = Gains(settings.gain.to("1/Pa"), settings.integral_time)
    loop = _loop(settings, remedy, usual, _released(run))
    tuned = _tuned(loop, response, run)
    gains = tuned or usual
    settings = replace(settings, gain=gains.kp.to("percent/inH2O"), integral_time=gains.ti)
    limits = {HEADER: _limits(settings)}
    loop = replace(loop, gains=gains)
    trace = draft_control.simulate(plant, job.seasons, schedule, section, device, loop, limits, response)
    return TrialRun(
        settings, gains, replace(run, settings=settings), trace, job.seasons[season].name, tuned is not None
    )


def _hardest_season(job: Job) -> int:
    """The season in which all burners at high fire on cold walls leave the header highest."""
    count = len(job.seasons)
    codes = np.array([[len(a.states) - 1] * count for a in job.plant.appliances])
    network = compile_network(job.plant, job.seasons)
    states = States(codes, np.arange(count), np.ones(count), np.zeros(count))
    solution = draft_control.solve_network(network, states)
    return worst(far_end_pressure(solution, network), SAME_PRESSURE)


def _start(settings: Settings) -> Timeline:
    """All burners called at once; until all are at high fire, and a little longer."""
    calls = [Cue(FIRST_CALL, Event.CALL, b.name) for b in settings.burners]
    whole = timeline(calls, settings, LONGEST)
    last = max((c.time for c in whole.changes if c.state is State.RUN), default=0.0)
    until = Q_(last, "s") + settings.low_fire + settings.modulation + AFTERWARDS
    return timeline(calls, settings, min(until, LONGEST))


def _released(run: Timeline) -> float:
    return min(c.time for c in run.changes if c.state is State.PURGE)


def _device(remedy: Remedy) -> Device:
    """The header's fan, damper, or both in turn."""
    if remedy.fan is None:
        return DamperPosition(remedy.damper)
    fan = FanSpeed(remedy.fan.fan)
    if remedy.damper is None:
        return fan
    return InTurn(DamperPosition(remedy.damper), fan, remedy.fan.least_speed / remedy.fan.fan.most_speed)


def _loop(settings: Settings, remedy: Remedy, gains: Gains, released: float) -> Loop:
    """The loop; until the first burner is released the damper stands open, to be proved, and the fan at its least."""
    alone = remedy.fan is not None and remedy.damper is None
    least = remedy.fan.least_speed / remedy.fan.fan.most_speed if alone else 0.0
    sensor = Sensor(settings.sensor_least, settings.sensor_most, settings.filter)
    # Of both in turn the slower: one full stroke of the damper is the output's way to its middle.
    stroke = settings.damper_travel if remedy.fan is None else settings.damper_travel / InTurn.middle
    actuator = Lag(settings.fan_start / 3.0) if alone else Stroke(stroke)
    start = least if alone else 1.0 if remedy.fan is None else InTurn.middle
    return Loop(sensor, gains, actuator, settings.set_point, least=least, start=start, manual=Q_(released, "s"))


def _limits(settings: Settings) -> Limits:
    """High and low limit of the header, each with its own delay."""
    return Limits(settings.low_limit, settings.high_limit, settings.high_delay, settings.low_delay)


def _tuned(loop: Loop, response: Response, run: Timeline) -> Gains | None:
    """The gentlest of the gains that the phases of the start ask for; None where no phase answers."""
    found = []
    for at in (*run.times[1:], run.until):
        time, reading, step = draft_control.step_test(loop, response, float(at))
        if np.ptp(reading) < LEAST_ANSWER:
            continue
        model = tuning.identify.bare(time, reading, step)
        found.append(tuning.tune(model, float(loop.sensor.sample.m_as("s")), SENSITIVITY))
    if not found:
        return None
    gentlest = min(found, key=lambda g: g.plain[0] / g.plain[1])
    return replace(gentlest, ti=max(gentlest.ti, LEAST_INTEGRAL))


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
