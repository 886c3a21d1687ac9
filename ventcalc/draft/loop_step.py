"""Loop step: sensor, controller and devices of the header's control, advanced in time with the vent, compiled.

What `closed_loop` tells, in every run beside the others. Each step: the sensor reads the header, at its samples the
controller moves its output, the devices follow it as far as they can, and what they add goes into the vent's next
`time_step`. Plain SI; the last axis of arrays is the runs.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import either, law, loop
from ventcalc.draft.curve_pieces import Pieces
from ventcalc.draft.dampers import loss_at
from ventcalc.draft.fan_curve import FanNumbers, static_from
from ventcalc.vent.gas_content import MASS
from ventcalc.vent.time_step import (
    ADDS,
    ALONG,
    FLOW,
    HEADER_ROOM,
    advance,
    header_pressure,
    keep,
    tell,
)

MIDDLE = 0.5  # of the output of both in turn
NOTHING, FAN_STOPS, DAMPER_OPENS, DAMPER_SHUTS, SENSOR_STILL = range(5)  # what fails in a run
TRUE, READING, OUTPUT, SETTING, POSITION, SPEED = range(6)  # rows of what is told of a run
INTEGRAL, TAKEN = 6, 7  # and of what the controller remembers beside
ROWS = 8


class Moves(NamedTuple):
    """What the control moves, as plain numbers: a fan, a damper, or both.

    The fan's ``across`` [m2] is the area of its `fan_drive.own_head`; ``least_speed`` and ``most_speed`` are over the
    rated one, ``free`` is the flow [m3/s] at which it adds no total pressure at that. The damper's ``log_loss``, the
    area of its ``face`` [m2], and its ``least`` and ``most`` position. ``stroke`` and ``travel`` [s] of the damper's
    motor for the whole output and from end to end, ``run_up`` [s] of the fan.
    """

    has_fan: bool
    has_damper: bool
    fan: FanNumbers
    across: float
    least_speed: float
    most_speed: float
    free: float
    log_loss: Pieces
    face: float
    least: float
    most: float
    stroke: float
    travel: float
    run_up: float


@law
def position_at(moves, setting):
    """Where the damper stands at a setting."""
    whole = MIDDLE if moves.has_fan else 1.0
    return np.minimum(np.maximum(setting / whole, 0.0), 1.0)


@law
def speed_at(moves, setting, flow):
    """How fast the fan turns at a setting and a flow [m3/s], over its rated speed (`closed_loop.Devices.speed`)."""
    if not moves.has_damper:
        return setting * moves.most_speed
    above = np.minimum(np.maximum((setting - MIDDLE) / (1.0 - MIDDLE), 0.0), 1.0)
    idle = np.minimum(np.maximum(flow / moves.free, moves.least_speed), moves.most_speed)
    return idle + (moves.most_speed - idle) * above


@law
def by_fan(moves, flow, density, speed):
    """Total pressure [Pa] that the fan adds; one that stands still, or turns too slowly, resists what passes it."""
    outward = np.maximum(flow, 0.0) / moves.across
    return static_from(moves.fan, flow, speed, density) + 0.5 * density * outward * outward


@law
def by_damper(moves, flow, density, position):
    """Total pressure [Pa] that the damper adds: less than nought, against the flow."""
    place = np.minimum(np.maximum(position, moves.least), moves.most)
    through = flow / moves.face
    return -loss_at(moves.log_loss, place) * 0.5 * density * through * np.abs(through)


@law
def fan_along(moves, flow, density, speed):
    """`by_fan`, and its slope [Pa s/m3] against the flow: never upward, so that a step holds."""
    near = flow + 1e-3 * np.maximum(np.abs(flow), 0.01)
    made, more = by_fan(moves, flow, density, speed), by_fan(moves, near, density, speed)
    return made, np.minimum((more - made) / (near - flow), 0.0)


@law
def damper_along(moves, flow, density, position):
    """`by_damper`, and its slope [Pa s/m3] against the flow."""
    taken = by_damper(moves, flow, density, position)
    return taken, -2.0 * np.abs(taken) / np.maximum(np.abs(flow), 1e-6)


class Plan(NamedTuple):
    """How the loop is set.

    The least and most that its sensor reads, ``low`` and ``high`` [Pa]; what its filter keeps of a step (``left``) and
    makes of a straight line in it (``mean``); steps of a ``sample``; gain ``kp`` [1/Pa], integral time ``ti`` and
    ``tracking`` [s], ``least`` and ``most`` output, ``set_point`` [Pa]; rows of the sections at whose ends ``fan`` and
    ``damper`` stand; ``step`` [s].
    """

    low: float
    high: float
    left: float
    mean: float
    sample: int
    kp: float
    ti: float
    tracking: float
    least: float
    most: float
    set_point: float
    fan: int
    damper: int
    step: float


class Faults(NamedTuple):
    """What of each run begins when: ``manual`` [s] until when the output stands, the ``kind`` that fails ``at`` [s]."""

    manual: np.ndarray
    kind: np.ndarray
    at: np.ndarray


class Acting(NamedTuple):
    """The control of all runs: what it is, its ``state`` (`ROWS`, runs) and what is ``told`` of it (6, times, runs)."""

    moves: Moves
    plan: Plan
    faults: Faults
    state: np.ndarray
    told: np.ndarray


@loop
def follow(fixed, vent, feed, count, number, every, kept, acting):
    """The first ``count`` steps of a chunk as in `time_step.follow`, with the devices moved before every step.

    At time 0 the devices are in the vent as the state says.
    """
    runs = acting.state.shape[1]
    for i in range(count):
        now = number + i
        if now > 0:
            if i > 0:
                tell(fixed, vent, feed, (i - 1) * runs)
            if now > 1:
                _act(fixed, vent, acting, now - 1, every)
            advance(fixed, vent, feed, i * runs, now)
        if now % every == 0:
            keep(fixed, vent, feed, i * runs, kept, now // every)


@law
def _act(fixed, vent, acting, number, every):
    """Read, control and move at the step ``number``, and put into the vent what the devices then add."""
    moves, plan, faults, state, told = acting
    time = number * plan.step
    for r in range(state.shape[1]):
        now = state[:, r]
        failed = faults.kind[r] if time >= faults.at[r] else NOTHING
        pressure = header_pressure(vent.balance[:, :, r], fixed.header, fixed.runs[HEADER_ROOM, r])
        _read(plan, pressure, failed, now)
        if number % plan.sample == 0:
            _control(plan, time >= faults.manual[r], now)
        if number % every == 0:
            for row in range(told.shape[0]):
                told[row, number // every, r] = now[row]
        flow, density = _end_of(fixed, vent, plan.fan, r)
        _move(moves, plan, flow, failed, now)
        vent.device[ADDS, :, r] = 0.0
        vent.device[ALONG, :, r] = 0.0
        if moves.has_fan:
            made, slope = fan_along(moves, flow, density, now[SPEED])
            vent.device[ADDS, plan.fan, r] += made
            vent.device[ALONG, plan.fan, r] += slope
        if moves.has_damper:
            flow, density = _end_of(fixed, vent, plan.damper, r)
            taken, slope = damper_along(moves, flow, density, now[POSITION])
            vent.device[ADDS, plan.damper, r] += taken
            vent.device[ALONG, plan.damper, r] += slope


@law
def _end_of(fixed, vent, section, r):
    """Flow [m3/s] and density [kg/m3] at the downstream end of a section."""
    end, pressed = fixed.cells.ends.last[section], vent.pressed[section, r]
    return vent.faces[FLOW, end, r] / pressed, vent.gas.content[MASS, end, r] * pressed


@law
def _read(plan, pressure, failed, now):
    """``T dy/dt = clip(p) - y``, as `pressure_sensor.Sensor.filtered`."""
    before, after = min(max(now[TRUE], plan.low), plan.high), min(max(pressure, plan.low), plan.high)
    if failed != SENSOR_STILL:
        now[READING] = plan.left * now[READING] + (plan.mean - plan.left) * before + (1.0 - plan.mean) * after
    now[TRUE] = pressure


@law
def _control(plan, acts, now):
    """The law of `controller.controller`, without its derivative; it takes over without a jump."""
    if not acts:
        return
    sample, error = plan.sample * plan.step, now[READING] - plan.set_point
    if now[TAKEN] == 0.0:
        now[INTEGRAL], now[TAKEN] = now[OUTPUT] - plan.kp * error, 1.0
    wanted = plan.kp * error + now[INTEGRAL]
    now[OUTPUT] = min(max(wanted, plan.least), plan.most)
    back = min(sample / plan.tracking, 1.0) * (now[OUTPUT] - wanted)
    now[INTEGRAL] += plan.kp * sample / plan.ti * error + back


@law
def _move(moves, plan, flow, failed, now):
    """Devices follow the output, but for those that have failed."""
    position, speed, step = now[POSITION], now[SPEED], plan.step
    coast = np.exp(-step / moves.run_up) if moves.run_up > 0.0 else 0.0
    if moves.stroke > 0.0:
        most = step / moves.stroke
        now[SETTING] += min(max(now[OUTPUT] - now[SETTING], -most), most)
    else:
        lag = 0.0 if moves.has_damper else coast
        now[SETTING] = now[OUTPUT] + lag * (now[SETTING] - now[OUTPUT])
    if moves.has_damper:
        now[POSITION] = position_at(moves, now[SETTING])
        if failed in (DAMPER_OPENS, DAMPER_SHUTS):
            most = step / moves.travel if moves.travel > 0.0 else np.inf
            away = either(failed == DAMPER_OPENS, 1.0, 0.0) - position
            now[POSITION] = position + min(max(away, -most), most)
    if moves.has_fan:
        now[SPEED] = coast * speed if failed == FAN_STOPS else speed_at(moves, now[SETTING], flow)
