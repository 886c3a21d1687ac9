"""The response of a vent: read between its times and settings, and where a loop is at rest in it, by hand."""

import numpy as np
import pytest

from ventcalc.draft.vent_response import Response

# A vent at -20 Pa that rises to 0 Pa in 10 s, less what a device of 0 to 100 Pa adds.
RISING = Response.given([0.0, 10.0], [-20.0, 0.0], 0.0, 100.0)


def test_between_its_times_it_goes_in_a_straight_line():
    pressure, outlets = RISING.at(2.5)
    assert pressure == pytest.approx([-15.0, -115.0]) and outlets.shape == (0, 2)


@pytest.mark.parametrize(("time", "set_point", "setting"), [(0.0, -50.0, 0.3), (5.0, -50.0, 0.4), (10.0, -50.0, 0.5)])
def test_it_rests_where_the_device_adds_what_is_missing(time, set_point, setting):
    assert RISING.rest(time, set_point) == pytest.approx(setting)


def test_beyond_its_reach_it_rests_at_a_limit():
    assert RISING.rest(0.0, 10.0) == 0.0 and RISING.rest(0.0, -200.0) == 1.0
    assert RISING.rest(0.0, -50.0, 0.4, 0.9) == 0.4 and RISING.rest(0.0, -119.0, 0.4, 0.9) == 0.9
    assert np.all(np.diff(RISING.at(0.0)[0]) < 0.0)  # more of the device lowers the pressure


def test_between_unequal_times_pressure_and_outlets_go_by_their_shares_of_the_way():
    # 12 s are a quarter of the way from 5 s to 33 s; two outlets, one that rises by 40 Pa and one that falls by 8 Pa.
    time, ends = np.array([0.0, 5.0, 33.0]), np.array([0.2, 0.6])
    pressure = np.array([[0.0, -50.0], [10.0, -40.0], [30.0, -20.0]])
    outlets = np.array([[[0.0, 0.0], [20.0, 10.0], [60.0, 50.0]], [[0.0, 0.0], [4.0, 6.0], [-4.0, -2.0]]])
    vent = Response(time, ends, pressure, outlets, np.zeros((3, 2)), np.zeros((2, 3)))
    own, others = vent.at(12.0)
    assert own == pytest.approx([15.0, -35.0]) and np.allclose(others, [[30.0, 20.0], [2.0, 4.0]])
    assert vent.rest(12.0, -10.0) == pytest.approx(0.4)  # half way from 15 to -35 Pa
    assert vent.at(33.0)[1] == pytest.approx(outlets[:, -1])


def test_a_vent_that_is_given_is_its_disturbance_less_what_the_device_adds():
    # A device of -50 Pa at 0 and 150 Pa at 1, half way 50 Pa.
    vent = Response.given([0.0, 4.0], [10.0, 30.0], -50.0, 150.0)
    assert vent.pressure.tolist() == [[60.0, -140.0], [80.0, -120.0]] and vent.added.tolist() == [[-50.0, 150.0]] * 2
    assert vent.rest(2.0, 20.0 - 50.0) == pytest.approx(0.5) and vent.unsolved == 0
