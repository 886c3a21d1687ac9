"""Device duty: what a remedy's fan and damper have to do, and do, in every state."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ventcalc.door import door
from ventcalc.draft import damper_sizing, fan_curve, fan_drive, fan_limits, held_pressure
from ventcalc.draft.damper_sizing import Duties, Rating
from ventcalc.draft.held_pressure import HEADER, Held
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_
from ventcalc.vent.firing_states import Scan

# Motor and drive together, from shaft to meter (common practice, no source).
MOTOR_EFFICIENCY = 0.7
# Pressure that a damper may be off by, and that one step of its actuator may move (common practice, no source).
DAMPER_TOLERANCE = Q_(0.01, "inH2O")


class NothingHeld(ValueError):
    """A device that holds its pressure in no state: there is nothing to choose it by, and it is no remedy."""

    def __init__(self):
        super().__init__("no state in which the device holds its pressure")


def if_held(make: Callable, *arguments, **named) -> list:
    """What ``make`` gives of its arguments, in a list: an empty one where the device would hold nothing."""
    try:
        return [make(*arguments, **named)]
    except NothingHeld:
        return []


@dataclass(frozen=True)
class FanDuty:
    """What a fan does in every state in which it runs; plain arrays, one value a state of ``states``.

    ``flow`` [m3/s], ``static`` [Pa], ``density`` [kg/m3], ``temperature`` [K] of the gas, ``speed`` over the rated one,
    ``power`` [W] at the shaft, ``stalled``. ``yearly`` energy at the meter [J], a comparison and no forecast: the mean
    over all calm states with a hot stack, alike likely, for the job's hours of operation.
    """

    states: np.ndarray
    flow: np.ndarray
    static: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    speed: np.ndarray
    power: np.ndarray
    stalled: np.ndarray
    yearly: float


class FanWork(NamedTuple):
    """What a fan does in the ``states`` in which it holds the header, as in `FanDuty`."""

    states: np.ndarray
    flow: np.ndarray
    density: np.ndarray
    static: np.ndarray
    speed: np.ndarray
    power: np.ndarray


def fan_work(remedy: Remedy, held: Held) -> FanWork:
    """Duty, speed and shaft power of a remedy's fan wherever it holds the header."""
    k = [c.sensor for c in held.controls].index(HEADER)
    states = np.flatnonzero(held.acts[k])
    return _worked(remedy, held.controls[k].section, states, held.flow[k], held.density[k], held.added[k])


def fan_work_in(remedy: Remedy, scan: Scan) -> FanWork:
    """The same in every state of a scan in which anything runs, such as one with a room's exhaust fans running."""
    section = next(c.section for c in remedy.controls if c.sensor == HEADER)
    row, states = scan.solution.row(section), np.flatnonzero(scan.any_running)
    density = scan.solution.density[row]
    return _worked(remedy, section, states, scan.solution.flow[row] / density, density, scan.solution.added[row])


def _worked(remedy: Remedy, section: str, states: np.ndarray, flow, density, added) -> FanWork:
    """What a remedy's fan does in some of all states, from what passes it and what it adds."""
    flow, density, fan = flow[states], density[states], remedy.fan.fan
    static = added[states] - fan_drive.own_head(fan, flow, density, remedy.plant.section(section).area)
    needed = fan_curve.speed_for.bare(fan, np.maximum(flow, 0.0), static, density)
    speed = np.clip(np.nan_to_num(needed, nan=remedy.fan.most_speed), remedy.fan.least_speed, remedy.fan.most_speed)
    power = fan_curve.shaft_power.bare(fan, flow, speed, density)
    return FanWork(states, flow, density, static, speed, power)


def fan_duty(job: Job, remedy: Remedy, scan: Scan, held: Held) -> FanDuty:
    """What a remedy's fan does in every state in which it holds the header; raises `NothingHeld` without any."""
    work = fan_work(remedy, held)
    if not work.states.size:
        raise NothingHeld
    section = held.controls[[c.sensor for c in held.controls].index(HEADER)].section
    usual = ~scan.states.cold[work.states].astype(bool) & ~scan.states.windy[work.states].astype(bool)
    return FanDuty(
        states=work.states,
        flow=work.flow,
        static=work.static,
        density=work.density,
        temperature=scan.solution.downstream[scan.solution.row(section), work.states],
        speed=work.speed,
        power=work.power,
        stalled=fan_limits.stalled.bare(remedy.fan.fan, work.flow, work.speed),
        yearly=float(work.power[usual if usual.any() else ...].mean() / MOTOR_EFFICIENCY * job.hours.m_as("s")),
    )


def damper_duties(held: Held, section: str, destroy: np.ndarray) -> Duties:
    """Of what there is to ``destroy`` [Pa] per state, where the first control acts and has come to rest.

    Raises `NothingHeld` where there is no such state.
    """
    row, states = held.solution.row(section), np.flatnonzero(held.acts[0] & held.settled)
    if not states.size:
        raise NothingHeld
    density = held.solution.density[row, states]
    return Duties(held.solution.flow[row, states] / density, density, destroy[states], states)


@door(plain={"actuator_step": ""}, at_least={"actuator_step": 0.0})
def rating(remedy: Remedy, held: Held, actuator_step: float) -> Rating:
    """How the stack's damper does what it was found to do in the solved states; its actuator repeats a share of its
    stroke, ``actuator_step``."""
    taken = held.second[0] if remedy.fan else held.added[0]
    duties = damper_duties(held, held_pressure.stack_base(remedy.plant), -taken)
    return damper_sizing.size(duties, [remedy.damper], DAMPER_TOLERANCE, actuator_step=actuator_step)[0]


def positions(rating: Rating, states: int) -> np.ndarray:
    """Position of a damper (0 shut to 1 open) in each of so many states, NaN where it does not act."""
    found = np.full(states, np.nan)
    found[rating.duties.states] = rating.position
    return found
