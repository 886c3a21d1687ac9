"""Loop settings: how the control of a remedy's header is set, its gains found on the vent itself.

The output is stepped in every phase of a start in every season; the phase that answers most strongly sets the gains.
"""

from dataclasses import replace
from functools import cache, lru_cache

import numpy as np

from ventcalc.draft import closed_loop, draft_control, tuning
from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.draft.closed_loop import Devices
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.firing_schedule import Schedule
from ventcalc.draft.held_pressure import HEADER, Control
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_sequence import OUTPUTS, Event, State
from ventcalc.draft.start_settings import Burner, Settings, beside
from ventcalc.draft.start_timeline import Cue, Timeline
from ventcalc.draft.vent_response import SETTINGS, Response
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_, Quantity
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States

FIRST_CALL = Q_(5.0, "s")
AFTERWARDS = Q_(30.0, "s")  # that the run goes on when the last burner has reached high fire
LONGEST = Q_(900.0, "s")
PROVING = Q_(90.0, "s")  # in which a control brings a vent that stands idle to its set point
SENSITIVITY = 1.6  # largest sensitivity that the gains may have (Skogestad: 1.4 to 1.8 is robust; from memory)
LEAST_INTEGRAL = Q_(2.0, "s")
_ONE_WINDOW = (Q_(-1.0, "Pa"), Q_(0.0, "Pa"))  # which one is all the same
AT_SPEED = 3.0  # time constants of its rotor after which a fan runs (within 5 % of its speed, exp(-3))
LEAST_ANSWER = 0.01  # Pa; a smaller answer to a step is none: the device is at its limit


def settings_of(job: Job, remedy: Remedy) -> Settings:
    """The job's settings at the remedy's set point, proof and limits beside it where it is not the job's own."""
    set_point = remedy.set_point.to("inH2O")
    return replace(job.sequence, set_point=set_point, **_moved(job, set_point))


def sensor_range(job: Job, control: Control) -> tuple[float, float]:
    """Lower and upper end [Pa] of the range that a control's sensor has to have at its set point.

    At the header's own set point that of the job's settings; at any other, and at an outlet, the usual one, or the next
    that is sold where the limits beside it reach farther (`start_settings.beside`).
    """
    usual = _usual(job.sequence.burners)
    moved = _moved(job, control.set_point) if control.sensor == HEADER else beside(usual, control.set_point)
    ends = (moved.get(name, getattr(job.sequence, name)) for name in ("sensor_least", "sensor_most"))
    return tuple(float(end.m_as("Pa")) for end in ends)


def _moved(job: Job, set_point: Quantity) -> dict[str, Quantity]:
    """The settings that move with the header's set point; none where it is the job's own."""
    own = job.sequence
    if np.isclose(own.set_point.m_as("Pa"), set_point.m_as("Pa")):
        return {}
    return beside(_usual(own.burners), set_point)


@cache
def _usual(burners: tuple[Burner, ...]) -> Settings:
    return Settings(burners)


def tuned_settings(job: Job, remedy: Remedy) -> tuple[Settings, bool]:
    """The settings of a job with the gains found on the vent, and whether any were found.

    They are the gentlest that any phase of the start asks for in any season.
    """
    settings = settings_of(job, remedy)
    gains = _gains(settings, _without_windows(devices_of(remedy, settings)), job.seasons)
    if gains is None:
        return settings, False
    return replace(settings, gain=gains.kp.to("percent/inH2O"), integral_time=gains.ti), True


def _without_windows(devices: Devices) -> Devices:
    """The same on a vent whose appliances all allow the same: what it answers does not hang on that."""
    plant = devices.plant
    same = tuple(replace(a, window=_ONE_WINDOW) for a in plant.appliances)
    return replace(devices, plant=replace(plant, appliances=same))


@lru_cache(maxsize=4)
def _gains(settings: Settings, devices: Devices, seasons: tuple[Season, ...]) -> Gains | None:
    """The gentlest gains that any phase of a start asks for in any season; None where none does.

    Kept: makes that differ in their window alone ask for the same, one after the other.
    """
    loop = replace(run_loop(settings, devices), start=devices.open)
    found = [tuned(loop, answer) for answer in _answers(devices, seasons, start(settings))]
    return min((g for g in found if g is not None), key=briskness, default=None)


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
        run_up=settings.seconds("fan_start") / AT_SPEED,
    )


def start_loop(settings: Settings, devices: Devices, seasons: tuple[Season, ...]) -> Loop:
    """The loop of a start: at its `start_output` until the first release."""
    return replace(run_loop(settings, devices), start=start_output(settings, devices, seasons))


def start_output(settings: Settings, devices: Devices, seasons: tuple[Season, ...]) -> float:
    """The output at which the devices prove draft and stand until the first release.

    The damper open, and the fan as fast as holds the set point with every burner idle, on cold walls and in calm, in
    the season that asks for most: a slower one would leave draft unproved, and no burner would ever be released.
    """
    if devices.fan is None:
        return devices.open
    off = tuple(a.states[0] for a in devices.plant.appliances)
    idle = [Schedule(PROVING, off, (), season=k, cold=1.0) for k in range(len(seasons))]
    loop = replace(run_loop(settings, devices), start=devices.open)
    return max(devices.open, float(closed_loop.simulate(seasons, idle, devices, loop).setting[-1].max()))


def run_loop(settings: Settings, devices: Devices) -> Loop:
    """The loop of a vent that runs: it begins at rest."""
    sensor = Sensor(settings.sensor_least, settings.sensor_most, settings.filter)
    actuator = Stroke(Q_(devices.stroke, "s")) if devices.damper else Lag(Q_(devices.run_up, "s"))
    gains = Gains(settings.gain.to("1/Pa"), settings.integral_time)
    return Loop(sensor, gains, actuator, settings.set_point, least=devices.least)


def limits_of(settings: Settings) -> Limits:
    """High and low limit of the header, each with its own delay."""
    return Limits(settings.low_limit, settings.high_limit, settings.high_delay, settings.low_delay)


def _answers(devices: Devices, seasons: tuple[Season, ...], run: Timeline) -> list[Response]:
    """What the vent answers to its devices in every phase of a start, at rest on cold walls; one for every season.

    A pascal more from the device is taken for a pascal less before it, as in `closed_loop.Runs.response`: a vent that
    draws room air answers less, and is then held more gently than it might be.
    """
    plant, phases = devices.plant, np.array([*run.times[1:], run.until])
    network, count = compile_network(plant, seasons), phases.size
    codes = np.array([run.codes(phases, a.name) for a in plant.appliances])
    found = []
    for season in range(len(seasons)):
        states = States(codes, np.full(count, season), np.ones(count), np.zeros(count))
        solution = solve_network(network, states)
        rows = [plant.row(name) for name in (devices.fan_section, devices.damper_section)]
        density = solution.density[rows][..., None]
        flow = solution.flow[rows][..., None] / density
        made = devices.added(flow[0], density[0], flow[1], density[1], SETTINGS)
        pressure = far_end_pressure(solution, network)[:, None] - made
        found.append(Response(phases, SETTINGS, pressure, np.zeros((0, *made.shape)), made, codes))
    return found


def tuned(loop: Loop, response: Response) -> Gains | None:
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
    gentlest = min(found, key=briskness)
    return replace(gentlest, ti=max(gentlest.ti, LEAST_INTEGRAL))


def briskness(gains: Gains) -> float:
    """What gains are compared by: the greater, the faster the device moves."""
    return gains.plain[0] / gains.plain[1]
