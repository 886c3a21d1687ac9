"""Where gas answers at once: the steady solver at every knot, and between them."""

from dataclasses import dataclass
from math import inf

import numpy as np
import pytest
from sample_loops import BOTH_SIGNS, DAMPER, FAN, a_morning, gains

from ventcalc.draft import draft_control, firing_schedule, held_pressure, steady_response, transient_response
from ventcalc.draft.actuators import Lag
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.firing_schedule import AT_ONCE, Gust
from ventcalc.units import Q_

NEVER = Q_(inf, "s")


@dataclass(frozen=True)
class Fixed:
    """A device at a setting, as the steady search knows one: its two limits are equal."""

    device: object
    setting: float

    def limits(self, flow, density, area):
        added = self.device.added(flow, density, area, self.setting)
        return added, added


def exact(hall, schedule, device, setting, times):
    """The steady solver's answer at each time, with the device at a setting."""
    states = firing_schedule.firing_path(hall.plant, schedule).states(times)
    control = held_pressure.Control("stack", Fixed(device, setting), "header", Q_(0, "Pa"))
    held = held_pressure.hold(hall.plant, hall.seasons, states, (control,))
    assert held.settled.all()
    return held.solution


GUST = (Gust(Q_(75, "s"), Q_(10, "s"), 2.0),)
EVENTS = ({}, {"season": 0, "gusts": GUST, "wind": 0.5}, {"season": 2, "cold": 1.0, "warming": Q_(60, "s")})


@pytest.mark.parametrize("more", EVENTS)
@pytest.mark.parametrize(("device", "setting"), [(FAN, 0.3137), (FAN, 0.87), (DAMPER, 0.555), (DAMPER, 0.9)])
def test_a_frozen_output_is_the_steady_solver_at_every_knot(hall, device, setting, more):
    schedule = a_morning(**more)
    response = transient_response.respond(hall.plant, hall.seasons, schedule, "stack", device, "Boiler 1", at_once=True)
    trace = draft_control.follow(
        Loop(BOTH_SIGNS, gains(0.01, 4.0), Lag(Q_(3, "s")), Q_(-10, "Pa"), start=setting, manual=NEVER), response
    )
    solution = exact(hall, schedule, device, setting, response.time)
    place = np.searchsorted(trace.time, response.time - 1e-9)
    on_grid = np.isclose(trace.time[np.minimum(place, trace.time.size - 1)], response.time, atol=1e-6)
    assert on_grid.sum() > 10
    found = trace.outlets[:, place[on_grid]]
    # Between two settings of the table a straight line: found 0.115 Pa at worst, where all stand idle and leak.
    assert np.abs(found - solution.outlet_pressure[:, on_grid]).max() < 0.12
    assert np.allclose(trace.pressure, trace.outlets[0], atol=1e-9)  # the sensor stands at that outlet
    assert response.unsolved == 0


def test_between_knots_the_line_is_straight_enough(hall):
    schedule = a_morning(cold=1.0, warming=Q_(60, "s"), gusts=GUST)
    response = transient_response.respond(hall.plant, hall.seasons, schedule, "stack", FAN, at_once=True)
    times = 0.5 * (response.time[1:] + response.time[:-1])
    # Not within what goes at once (from high to off it passes low and purge): a straight line by definition.
    times = times[np.diff(response.time) > 1.5 * AT_ONCE]
    solution = exact(hall, schedule, FAN, 0.5, times)
    found = np.array([np.interp(0.5, response.setting, response.at(t)[1][0]) for t in times])
    # The steepest: a gust's cosine in 20 pieces, (pi/20)^2/8 of a head of 54 Pa at a cap that feels part of it; and a
    # ramp's square in 8.
    assert np.abs(found - solution.outlet_pressure[0]).max() < 0.5


def test_rungs_lie_alike_on_both_sides_of_where_the_flow_turns():
    # The answer bends like a square root to either side; what lies beyond 400 Pa is pressure alone.
    ladder, bend = steady_response._LADDER, steady_response._BEND
    near = ladder[np.abs(ladder) <= 400.0]
    for rungs in (near, bend):
        assert np.array_equal(rungs, -rungs[::-1]) and np.all(np.diff(rungs) < 0.0)
    # Each closer by a factor of four or less than the one before, so that a root's bend is told by them.
    assert np.all(bend[:5] / bend[1:6] < 5.1) and np.all(np.diff(ladder) < 0.0)
