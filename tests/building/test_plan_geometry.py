"""Plan geometry: the highest point in a circle against dense sampling, touching edges, a re-entrant corner."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_roofs import box, coordinate, fill, m, rectangles, turned

from ventcalc.building import plan_geometry
from ventcalc.building.roof_scene import Obstacle, RoofPlane
from ventcalc.units import Q_


@pytest.mark.slow
@given(rectangles(), st.floats(0.0, 13.0), coordinate, coordinate, st.floats(0.5, 9.0))
@settings(max_examples=200)
def test_highest_point_within_a_circle(plan, pitch, x, y, radius):
    plane = RoofPlane.pitched("roof", m(plan), m([0.0, 0.0, 3.0]), Q_(40, "degree"), pitch)
    points = fill(plane.corners.m_as("m"))
    near = points[np.hypot(points[:, 0] - x, points[:, 1] - y) < radius]
    height, at = plan_geometry.highest_within(plane, np.array([[x, y]]), radius)
    if len(near):
        # No sample is higher; and as the plane is steepest at pitch/12, none can be far lower.
        assert near[:, 2].max() <= height[0] + 1e-9
    if np.isfinite(height[0]):
        assert np.hypot(*(at[0] - [x, y])) <= radius + 1e-9
        distance, _ = plan_geometry.nearest(at, plane.shape, closed=True)
        assert distance[0] <= 1e-7 and height[0] == pytest.approx(plane.height(at)[0])


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.0, 2.0])
@pytest.mark.parametrize("pitch", [0.0, 6.0])
def test_a_vent_that_just_touches_the_edge_of_a_roof_stands_on_it(turn, pitch):
    plan = turned(np.array(box(-4.0, 4.0, -3.0, 0.0)), turn)
    up = Q_(turn + np.pi / 2, "radian")
    plane = RoofPlane.pitched("roof", m(plan), m([0.0, 0.0, 5.0]), up, pitch)
    for gap in (0.1 - 1e-13, 0.1, 0.1 + 1e-13):
        height, _ = plan_geometry.highest_within(plane, turned(np.array([[0.0, -gap]]), turn), 0.1)
        assert height[0] == pytest.approx(5.0)


def test_roof_with_a_re_entrant_corner():
    # An L: the notch at the upper right is no roof, and its corner is what is nearest.
    plan = [[0, 0], [10, 0], [10, 5], [5, 5], [5, 10], [0, 10]]
    body = Obstacle("wing", "wall", m(plan), m(4.0))
    distance, where = plan_geometry.nearest(np.array([[8.0, 9.0], [2.0, 2.0]]), body.shape, closed=True)
    assert distance == pytest.approx([3.0, -2.0]) and where[0] == pytest.approx([5.0, 9.0])


def test_what_of_a_slope_stands_above_a_height_by_hand():
    """A slope of 8 m by 10 m that rises by 5 m: above 2 m stand three fifths of it, 8 m by 6 m, the upper ones."""
    plane = RoofPlane("slope", m([[0, 0, 0], [8, 0, 0], [8, 10, 5], [0, 10, 5]]))
    part = plan_geometry.part_above(plane, 2.0)
    x, y = part.T
    area = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))  # shoelace, which a crossed outline fails
    assert area == pytest.approx(48.0) and y.min() == pytest.approx(4.0) and y.max() == 10.0
    assert plan_geometry.part_above(plane, 5.1).size == 0


def test_inside_of_a_comb_by_hand():
    """Three teeth up from a back of one meter: a ray to the right out of the left tooth crosses five edges, out of the
    middle one three; the gaps between them lie outside."""
    comb = np.array(
        [[0, 0], [5, 0], [5, 3], [4, 3], [4, 1], [3, 1], [3, 3], [2, 3], [2, 1], [1, 1], [1, 3], [0, 3]], float
    )
    at = np.array([[0.5, 2.0], [2.5, 2.0], [4.5, 2.0], [1.5, 2.0], [3.5, 2.0], [2.5, 0.5], [-0.5, 2.0]])
    assert plan_geometry.inside(at, comb).tolist() == [True, True, True, False, False, True, False]
