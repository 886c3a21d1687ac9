"""Firing schedule: straight lines between states, walls that warm, gusts, and what cannot be."""

from math import exp

import numpy as np
import pytest
from sample_loops import FAN, a_morning

from ventcalc.draft import firing_schedule, transient_response
from ventcalc.draft.firing_schedule import Gust, Schedule, Turn
from ventcalc.units import Q_


def codes(plant, schedule, times):
    return firing_schedule.firing_path(plant, schedule).states(np.array(times, float)).codes


def test_an_appliance_goes_over_in_a_straight_line(hall):
    schedule = a_morning()
    found = codes(hall.plant, schedule, [0, 20, 21, 22, 49, 50.5, 51, 70, 71, 100, 107.5, 115, 129, 130.1, 160])
    assert np.allclose(found[1], [0, 0, 0.5, 1, 1, 1.5, 2, 2, 3, 3, 3, 3, 3, 3, 3])
    assert np.allclose(found[0], [3] * 10 + [2.5, 2, 2, 2, 2])
    assert np.allclose(found[2], [3] * 13 + [0, 0])


def test_a_turn_takes_over_from_one_that_has_not_ended(hall):
    turns = (Turn("Boiler 1", "low", Q_(10, "s"), Q_(10, "s")), Turn("Boiler 1", "high", Q_(15, "s"), Q_(5, "s")))
    found = codes(hall.plant, Schedule(Q_(60, "s"), ("high", "off", "off"), turns), [10, 15, 17.5, 20, 30])
    assert np.allclose(found[0], [3, 2.5, 2.75, 3, 3])


def test_walls_warm_from_the_first_fire_on(hall):
    schedule = Schedule(
        Q_(400, "s"), ("off",) * 3,
        firing_schedule.start_up("Boiler 1", Q_(10, "s"), Q_(30, "s"), (("low", Q_(0, "s")),)),
        cold=1.0, warming=Q_(100, "s"),
    )  # fmt: skip
    cold = firing_schedule.firing_path(hall.plant, schedule).states(np.array([0.0, 40.0, 140.0, 240.0])).cold
    assert np.allclose(cold, [1.0, 1.0, exp(-1), exp(-2)])


def test_a_gust_is_one_less_cosine(hall):
    schedule = Schedule(Q_(60, "s"), ("off", "off", "off"), gusts=(Gust(Q_(10, "s"), Q_(8, "s"), 2.0),), wind=1.0)
    windy = (
        firing_schedule.firing_path(hall.plant, schedule)
        .states(np.array([9.0, 9.8, 12.0, 14.0, 18.0, 18.4, 20.0]))
        .windy
    )
    assert np.allclose(windy, [1.0, 1.0, 2.0, 3.0, 1.0, 1.0, 1.0])


@pytest.mark.parametrize(
    ("schedule", "words"),
    [
        (Schedule(Q_(60, "s"), ("off", "off")), "2 states for 3"),
        (Schedule(Q_(60, "s"), ("off", "off", "idle")), "no state 'idle'"),
        (Schedule(Q_(60, "s"), ("off",) * 3, (Turn("Boiler 9", "low", Q_(1, "s")),)), "no appliance 'Boiler 9'"),
        (Schedule(Q_(60, "s"), ("off",) * 3, (Turn("Boiler 1", "high", Q_(1, "s"), Q_(5, "s")),)), "passes other"),
        (Schedule(Q_(60, "s"), ("off",) * 3, (Turn("Boiler 1", "low", Q_(-1, "s")),)), "at = -1"),
    ],
)  # fmt: skip
def test_a_schedule_that_cannot_be_is_refused_by_name(hall, schedule, words):
    with pytest.raises(ValueError, match=words):
        transient_response.respond(hall.plant, hall.seasons, schedule, "stack", FAN)
