"""Loop step: its reading, its controller and its devices, each against the module that is written for one of them.

Reading against the exact filter, the controller's law against `controller`, the devices against fan and damper
themselves; the laws are called as numpy here, and compiled in `test_closed_loop`.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from sample_plants import row_plant

from ventcalc.draft import loop_step
from ventcalc.draft.closed_loop import Devices
from ventcalc.draft.controller import Gains, Memory, controller
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import static_pressure
from ventcalc.draft.fan_drive import Drive, own_head
from ventcalc.draft.fan_table import fan
from ventcalc.draft.loop_step import OUTPUT, POSITION, READING, ROWS, SETTING, SPEED, TRUE
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.units import Q_

PLANT = row_plant(2, idle="sealed")
FAN = Drive(fan("roof 12"), 0.25, fan("roof 12").most_speed)
DAMPER = Damper("butterfly", Q_(350, "mm"), Q_(350, "mm"), leakage_class("EN class 2"))
BOTH = Devices(PLANT, FAN, DAMPER, "stack", "stack", 15.0, 2.5)
STEP, SET_POINT = 0.1, -12.0
GAINS = Gains(Q_(0.004, "1/Pa"), Q_(3.0, "s"))
SENSOR = Sensor(Q_(-40, "Pa"), Q_(40, "Pa"), Q_(0.7, "s"), Q_(0.2, "s"))
# Pressure [Pa] in time: it swings, and leaves the sensor's range on both sides.
PRESSURE = SET_POINT - 20.0 + 80.0 * np.sin(np.arange(300) / 25.0)


def plan():
    constant = 0.7
    left = np.exp(-STEP / constant)
    kp, ti, _, tracking = GAINS.plain
    return loop_step.Plan(-40.0, 40.0, left, (1.0 - left) * constant / STEP, 2, kp, ti, tracking, 0.0, 1.0, SET_POINT,
                          0, 0, STEP)  # fmt: skip


def state(**values):
    found = np.zeros(ROWS)
    for row, value in values.items():
        found[getattr(loop_step, row)] = value
    return found


def test_the_reading_is_that_of_the_sensors_filter():
    now, filtered = state(TRUE=PRESSURE[0], READING=PRESSURE[0]), SENSOR.filtered(STEP)
    reading = PRESSURE[0]
    for before, after in pairwise(PRESSURE):
        loop_step._read(plan(), after, loop_step.NOTHING, now)
        reading = filtered(reading, before, after)
        assert now[READING] == pytest.approx(reading, abs=1e-12) and now[TRUE] == after


def test_a_sensor_that_stands_still_tells_what_it_told():
    now = state(TRUE=PRESSURE[0], READING=3.0)
    loop_step._read(plan(), PRESSURE[9], loop_step.SENSOR_STILL, now)
    assert now[READING] == 3.0 and now[TRUE] == PRESSURE[9]


def test_the_output_is_that_of_the_controller_and_it_takes_over_without_a_jump():
    now = state(OUTPUT=0.4, SETTING=0.4)
    loop_step._control(plan(), False, now)
    assert now[OUTPUT] == 0.4
    law = controller(GAINS, 2 * STEP, SET_POINT)
    memory = Memory(0.4 - GAINS.plain[0] * (PRESSURE[0] - SET_POINT), 0.0, PRESSURE[0])
    hit = set()
    for reading in PRESSURE:
        now[READING] = reading
        loop_step._control(plan(), True, now)
        output, memory = law(reading, memory)
        assert now[OUTPUT] == pytest.approx(output, abs=1e-12)
        hit |= {output} & {0.0, 1.0}
    assert hit == {0.0, 1.0}  # it has stood at both limits


@pytest.mark.parametrize(
    "devices", [BOTH, replace(BOTH, damper=None), replace(BOTH, fan=None)], ids=["both", "fan", "damper"]
)
def test_devices_are_moved_as_fast_as_they_can_and_add_what_they_do(devices):
    flow, density, moves = 0.6, 0.9, devices.moves
    now = state(OUTPUT=0.9, SETTING=0.3, POSITION=0.5, SPEED=0.4)
    loop_step._move(moves, plan(), flow, loop_step.NOTHING, now)
    if devices.damper is None:
        # A first-order lag of 2.5 s over a step of 0.1 s.
        assert now[SETTING] == pytest.approx(0.9 - 0.6 * np.exp(-0.1 / 2.5))
        assert now[SPEED] == pytest.approx(now[SETTING] * FAN.most_speed)
    else:
        stroke = 30.0 if devices.fan is not None else 15.0  # s; in turn with a fan it has half of the output
        assert now[SETTING] == pytest.approx(0.3 + 0.1 / stroke)
        assert now[POSITION] == pytest.approx(devices.position(now[SETTING]))
    if devices.fan is not None:
        own = static_pressure.bare(FAN.fan, flow, now[SPEED], density)
        head = own_head(FAN.fan, flow, density, PLANT.section("stack").area)
        assert loop_step.by_fan(moves, flow, density, now[SPEED]) == pytest.approx(own + head)
    if devices.damper is not None:
        for way in (1.0, -1.0):
            taken = loop_step.by_damper(moves, way * flow, density, 0.7)
            assert taken == pytest.approx(-way * DAMPER.loss(0.7) * DAMPER.head(flow, density))


@pytest.mark.parametrize("flow", [0.3, 0.6, 0.9])
def test_a_fan_gives_the_less_the_more_flows_as_its_curve_falls(flow):
    """The slope of what it adds by central differences of that; a step counts on it, and it is never upward."""
    moves, density, speed = BOTH.moves, 0.9, 0.8
    made, slope = loop_step.fan_along(moves, flow, density, speed)
    ends = (loop_step.by_fan(moves, flow + off, density, speed) for off in (1e-3, -1e-3))
    by_hand = float(np.subtract(*ends)) / 2e-3
    assert made == loop_step.by_fan(moves, flow, density, speed)
    assert slope == pytest.approx(min(by_hand, 0.0), rel=0.02, abs=0.5) and slope <= 0.0


def test_what_fails_goes_its_own_way():
    flow, moves = 0.6, BOTH.moves
    for failed, end in ((loop_step.DAMPER_OPENS, 1.0), (loop_step.DAMPER_SHUTS, 0.0)):
        now = state(OUTPUT=0.2, SETTING=0.2, POSITION=0.5, SPEED=0.4)
        for _ in range(3):
            loop_step._move(moves, plan(), flow, failed, now)
        assert now[POSITION] == pytest.approx(0.5 + np.sign(end - 0.5) * 0.3 / 15.0)  # 15 s from end to end
        for _ in range(200):
            loop_step._move(moves, plan(), flow, failed, now)
        assert now[POSITION] == end
    now = state(OUTPUT=0.8, SETTING=0.8, POSITION=1.0, SPEED=0.8)
    for _ in range(25):
        loop_step._move(moves, plan(), flow, loop_step.FAN_STOPS, now)
    assert now[SPEED] == pytest.approx(0.8 * np.exp(-1.0))  # it coasts with the 2.5 s of its run-up
