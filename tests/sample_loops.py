"""Loops to test: a vent of one number, gains in plain numbers, and devices for the swimming hall."""

from math import inf

import numpy as np
import sample_runs
from sample_plants import SEASONS, row_plant

from ventcalc.draft import closed_loop, damper_leakage, dampers, fan_table, firing_schedule
from ventcalc.draft.actuators import Lag, Rotor, Stroke
from ventcalc.draft.closed_loop import Devices
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.final_element import DamperPosition, FanSpeed
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.vent_response import Response
from ventcalc.units import Q_
from ventcalc.vent.transient import run

BOTH_SIGNS = Sensor(Q_(-100, "Pa"), Q_(100, "Pa"), Q_(0, "s"), Q_(0.1, "s"))


def gains(kp, ti=inf, td=0.0, tracking=None):
    return Gains(Q_(kp, "1/Pa"), Q_(ti, "s"), Q_(td, "s"), tracking and Q_(tracking, "s"))


def loop(law, actuator=Lag(Q_(0, "s")), sensor=BOTH_SIGNS, set_point=-10.0, **more):  # noqa: B008
    return Loop(sensor, law, actuator, Q_(set_point, "Pa"), **more)


def step_of(height, lasts=60.0, most=100.0, set_point=-10.0, rest=0.1):
    """A vent that stands at its set point with the device at ``rest``; a disturbance of ``height`` Pa comes at once."""
    return Response.given([0.0, lasts], np.full(2, set_point + rest * most + height), 0.0, most)


# A wheel of 0.6 kg m2 on a drive: 1150 rpm, 4 N m of air at full speed, 6 N m at most.
ROTOR = Rotor(Q_(0.6, "kg*m**2"), Q_(1150, "rpm"), Q_(4, "N*m"), Q_(6, "N*m"))
FAN = FanSpeed(fan_table.fan("roof 16"))
DAMPER = DamperPosition(
    dampers.Damper(
        "butterfly", Q_(16, "inch"), Q_(16, "inch"), damper_leakage.leakage_class(damper_leakage.leakage_classes()[-1])
    )
)


def a_morning(**more):
    """Boiler 2 starts beside two that burn; then one modulates down and the others stop."""
    turns = (
        *firing_schedule.start_up(
            "Boiler 2", Q_(20, "s"), Q_(30, "s"), (("low", Q_(0, "s")), ("high", Q_(20, "s")))
        ),
        Turn("Boiler 1", "low", Q_(100, "s"), Q_(15, "s")),
        Turn("Boiler 3", "off", Q_(130, "s")),
    )  # fmt: skip
    given = {"start": ("high", "off", "high"), "turns": turns, "season": 1} | more
    return Schedule(Q_(160, "s"), **given)


def all_compiled() -> bool:
    """Follow a vent for a second by itself, then with a fan and a damper that act on it: the laws of both compiled."""
    plant, hoods = row_plant(2, idle="sealed"), sample_runs.PLANTS["hoods"]
    followed = run(hoods, SEASONS, sample_runs.course([[2, 2], [0, 0], [0, 0]], [0, 1], [2, 0, 0]))
    fan = fan_table.fan("roof 12")
    moved = Devices(plant, Drive(fan, 0.25, fan.most_speed), DAMPER.damper, "stack", "stack", 15.0, 2.5)
    acts = loop(gains(0.002, 2.0), Stroke(Q_(moved.stroke, "s")), set_point=-12.0, least=moved.least)
    held = closed_loop.simulate(SEASONS, [Schedule(Q_(1, "s"), ("high", "high"))], moved, acts)
    return bool(followed.time[-1] and held.pressure.size)
