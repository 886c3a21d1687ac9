"""Final control elements: a fan and a damper at the ends of their range are their limits."""

import numpy as np
from sample_loops import DAMPER, FAN

from ventcalc.draft import fan_drive
from ventcalc.draft.final_element import Linear


def test_a_fan_and_a_damper_set_at_an_end_of_their_range_add_their_limits():
    flow, density, area = np.array([0.3, 0.9, -0.2]), np.array([1.0, 0.9, 1.2]), 0.13
    least, most = fan_drive.Drive(FAN.fan, 0.0, FAN.fan.most_speed).limits(flow, density, area)
    assert np.allclose(FAN.added(flow, density, area, 0.0), least)
    assert np.allclose(FAN.added(flow, density, area, 1.0), most)
    ends = np.array(DAMPER.damper.limits(flow, density, area))
    own = np.array([DAMPER.added(flow, density, area, s) for s in (0.0, 1.0)])
    assert np.allclose(np.sort(own, axis=0), ends)


def test_a_linear_device_goes_in_a_straight_line_whatever_flows():
    # -50 Pa at 0 and 150 Pa at 1: 50 Pa more for each quarter.
    setting, flow = np.array([0.0, 0.25, 0.5, 1.0]), np.array([[0.3], [-2.0]])
    assert np.allclose(Linear(-50.0, 150.0).added(flow, 1.0, 0.1, setting), [[-50.0, 0.0, 50.0, 150.0]] * 2)
