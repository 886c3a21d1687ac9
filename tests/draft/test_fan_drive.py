"""Fan drive: the velocity head beyond static pressure, and speeds that cannot be."""

import numpy as np
import pytest
from sample_fans import MIDDLE

from ventcalc.draft import fan_curve, fan_table
from ventcalc.draft.fan_drive import Drive


def test_a_roof_fan_adds_the_head_of_its_section_and_an_in_line_fan_its_own():
    flow, density, area = np.array([-0.05, 0.0, 0.3]), 0.9, 0.13
    forwards = np.maximum(flow, 0.0)
    for fan, across in ((MIDDLE, area), (fan_table.fan("in-line 12"), fan_table.fan("in-line 12").area)):
        least, most = Drive(fan, 0.3, 0.9).limits(flow, density, area)
        head = 0.5 * density * (forwards / across) ** 2
        assert least == pytest.approx(fan_curve.static_pressure.bare(fan, flow, 0.3, density) + head)
        assert most == pytest.approx(fan_curve.static_pressure.bare(fan, flow, 0.9, density) + head)
        assert np.all(least < most)


def test_a_fixed_setting_has_equal_limits():
    least, most = Drive(MIDDLE, 0.7, 0.7).limits(np.array([0.1, 0.4]), np.array([0.8, 1.1]), 0.13)
    assert least.tolist() == most.tolist()


def test_a_fan_may_turn_as_fast_as_it_may():
    # Also where the speed was worked out in other units and came out a little above.
    assert Drive(MIDDLE, 0.0, MIDDLE.most_speed).limits(0.1, 1.2, 0.13)[1] > 0.0
    assert Drive(MIDDLE, 0.0, np.nextafter(MIDDLE.most_speed, 2.0)).most_speed > MIDDLE.most_speed


@pytest.mark.parametrize("speeds", [(0.5, 0.4), (-0.1, 0.5), (0.2, 1.3), (0.2, 1.101)])
def test_a_drive_refuses_speeds_that_cannot_be(speeds):
    with pytest.raises(ValueError, match="need 0 <= least <= most <= 1.1"):
        Drive(MIDDLE, *speeds)
