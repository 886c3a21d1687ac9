"""Roof scene: planes by slope and by corners; impossible scenes are refused by name."""

import numpy as np
import pytest
from sample_roofs import box, flat, m, refuse, turned

from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.units import Q_


def test_a_plane_by_slope_and_a_plane_by_corners_are_one():
    plan = box(0.0, 6.0, 0.0, 4.0)
    sloped = RoofPlane.pitched("roof", m(plan), m([0.0, 0.0, 3.0]), Q_(0, "degree"), 6.0)
    assert sloped.points[:, 2] == pytest.approx([3.0, 6.0, 6.0, 3.0])
    by_corners = RoofPlane("roof", m([[*xy, 3.0 + xy[0] / 2] for xy in plan]))
    assert (sloped.pitch, by_corners.pitch) == pytest.approx((6.0, 6.0))


def test_impossible_scenes_are_refused_by_name():
    square = m(box(0, 1, 0, 1))
    refuse(lambda: RoofPlane("r", m([[0, 0, 0], [1, 0, 0]])), "'r'", "at least 3", "2")
    refuse(lambda: RoofPlane("r", m([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0.5]])), "'r'", "off the plane")
    refuse(lambda: RoofPlane("r", m([[0, 0, 0], [1, 0, 0], [2, 0, 1]])), "no area")
    # Six corners on one level and one a meter up: the plane fits none of them well, and the worst decides.
    ring = [[0, 0, 0], [2, 0, 0], [4, 0, 0], [4, 4, 0], [2, 4, 1], [0, 4, 0]]
    refuse(lambda: RoofPlane("r", m(ring)), "'r'", "off the plane")
    refuse(lambda: RoofPlane.flat("r", m([[0, 0], [4, 4], [4, 0], [0, 3]]), m(1)), "crosses itself")
    refuse(lambda: RoofPlane.flat("r", square, m(np.nan)), "height of roof plane 'r'", "finite")
    refuse(lambda: RoofPlane.flat("r", square, Q_(1, "s")), "height", "length")
    refuse(lambda: RoofPlane.pitched("r", square, m([0, 0, 0]), Q_(0, "degree"), -1), "pitch -1")
    refuse(lambda: Obstacle("o", "chair", square, m(1)), "'chair'", "parapet", "tower")
    refuse(lambda: Obstacle("o", "wall", square, m(1), base=m(2)), "'o'", "below its bottom")
    refuse(lambda: Obstacle("o", "wall", m([0, 1]), m(1)), "plan of wall 'o'", "2 coordinates")
    refuse(lambda: Opening("w", "window", m([[0, 0]]), m(1), m(2)), "'window'", "operable window", "fixed window")
    refuse(lambda: Mark("p", "walkway", square), "'p'", "level")
    refuse(lambda: Scene((flat(), flat())), "twice", "roof")


def test_a_small_plane_is_as_sound_as_a_large_one():
    """The top of a chimney, 0.4 m across, and an L of it: no edge crosses another, however short they are."""
    for plan in (box(0.0, 0.4, 0.0, 0.4), [[0, 0], [0.4, 0], [0.4, 0.2], [0.2, 0.2], [0.2, 0.4], [0, 0.4]]):
        assert RoofPlane.flat("top", m(plan), m(1.0)).points[:, 2] == pytest.approx(1.0)


@pytest.mark.parametrize("turn", [0.0, 0.7, 2.5, 4.0])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (100.0, -30.0), (-7.0, 55.0)])
def test_an_outline_that_crosses_itself_does_so_wherever_it_lies(turn, shift):
    """Moved and turned a plan stays what it is: a bow tie is refused, a square and an L are taken."""
    bow, sound = [[0, 0], [4, 4], [4, 0], [0, 3]], [[0, 0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]]

    def placed(plan):
        return m(turned(np.array(plan, float), turn) + np.array(shift))

    refuse(lambda: RoofPlane.flat("r", placed(bow), m(1)), "crosses itself")
    for plan in (sound, sound[::-1], box(0.0, 1.0, 0.0, 1.0)):
        assert RoofPlane.flat("r", placed(plan), m(1)).points.shape == (len(plan), 3)
