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
