"""Spread of a sensor's error: the ends of its readings, and what an offset cures."""

from dataclasses import replace

import numpy as np
import pytest
from sample_taps import HALL, ROW, scanned

from ventcalc.draft.error_spread import Errors, errors, over_states
from ventcalc.draft.sensor_location import taps
from ventcalc.draft.sensor_reading import Leg, Reading, Tap, read
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season


def test_errors_are_the_ends_of_the_readings(swim_hall):
    for tap in taps(HALL.plant):
        found, e = read(swim_hall, tap), errors(swim_hall, tap)
        # Of states alike within what is called the same the first is named, and its value told.
        assert e.low == pytest.approx(np.nanmin(found.error - found.doubt), abs=firing_states.SAME_PRESSURE)
        assert e.high == pytest.approx(np.nanmax(found.error + found.doubt), abs=firing_states.SAME_PRESSURE)
        assert (found.error - found.doubt)[e.low_state] == pytest.approx(e.low, abs=firing_states.SAME_PRESSURE)
        assert (found.error + found.doubt)[e.high_state] == pytest.approx(e.high, abs=firing_states.SAME_PRESSURE)
        assert e.low <= e.mean <= e.high and e.left == pytest.approx(0.5 * (e.high - e.low))
        assert e.shift + e.left == pytest.approx(e.high) and e.shift - e.left == pytest.approx(e.low)


def test_an_error_that_is_the_same_in_all_states_is_cured_by_the_set_point():
    # Room and outdoors alike in every season but for the room's pressure, and that the same: the reference outdoors
    # then errs by just that.
    season = (Season("one", Q_(20, "degC"), Q_(20, "degC"), room_pressure=Q_(-5, "Pa")),)
    found = errors(scanned(ROW, season), Tap("cap", "header 1"), Leg("out", reference="outdoors"))
    doubt = read(scanned(ROW, season), Tap("cap", "header 1")).doubt
    assert found.mean == pytest.approx(-5.0, abs=0.01)
    assert found.spread == pytest.approx(2.0 * np.nanmax(doubt), abs=0.02) and found.cured(0.5)


def test_nothing_that_counts_is_refused(swim_hall):
    idle = swim_hall.states.codes[0] == 0
    part = replace(swim_hall, solution=solve(HALL.plant, HALL.seasons, swim_hall.states[idle]))
    with pytest.raises(ValueError, match="Boiler 1 runs in none"):
        errors(part, Tap("cap", "header 1", capped=True), target="Boiler 1")


def test_moving_the_set_point_cures_what_then_lies_within():
    # From -2 to 6 Pa: the set point moves by 2 Pa, and 4 Pa are left either way, which is within 4.
    found = Errors(Tap("cap", "header 1"), Leg("plain"), "header", -2.0, 6.0, 1.0, 0, 1, "velocity")
    assert (found.spread, found.shift, found.left) == (8.0, 2.0, 4.0)
    assert [found.cured(within) for within in (3.9, 4.0, 4.1)] == [False, True, True]


@pytest.mark.parametrize(("leg", "cause"), [(4.9, "velocity"), (5.1, "leg")])
def test_the_cause_is_the_part_that_swings_most_and_doubt_is_the_stream_s(leg, cause):
    # By hand: velocity goes over 1 Pa and is in doubt by 2 Pa either way, 5 Pa in all; what does not count is left out.
    wanted, nothing = np.array([-10.0, -20.0, np.nan]), np.zeros(3)
    velocity, doubt = np.array([3.0, 4.0, 90.0]), np.array([2.0, 0.5, 50.0])
    found = over_states(Reading(wanted, nothing, velocity, np.array([0.0, -leg, 70.0]), doubt), Tap("wall", "header 1"))
    assert found.cause == cause
    # Errors of 3 and 4 - leg Pa, give or take their doubt.
    assert (found.low, found.high) == pytest.approx((3.5 - leg, 5.0)) and (found.low_state, found.high_state) == (1, 0)
    assert found.mean == pytest.approx(0.5 * (7.0 - leg))
