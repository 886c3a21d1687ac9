"""Sight line: by similar triangles worked by hand, and by marching along rays through the solids of a scene."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventcalc.building.roof_scene import Obstacle, RoofPlane, Scene
from ventcalc.building.sight_line import Viewpoint, sight
from ventcalc.building.terminal import Terminal
from ventcalc.units import Q_


def square(x0, y0, x1, y1):
    return Q_([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], "ft")


ROOF = RoofPlane.flat("roof", square(0.0, 0.0, 60.0, 60.0), Q_(20.0, "ft"))
STREET = Viewpoint("street", Q_(-40.0, "ft"), Q_(30.0, "ft"), Q_(5.0, "ft"))


def stack(x, outlet, through="roof", diameter=1e-6):
    return Terminal(
        "top", Q_(x, "ft"), Q_(30.0, "ft"), Q_(outlet, "ft"), Q_(diameter, "ft"), "chimney", through=through
    )


def hidden(scene, terminal, view=STREET):
    return sight(scene, terminal, view).hidden_below.m_as("ft")


def test_the_roof_edge_hides_what_lies_under_the_line_over_it():
    """The edge is 15 ft over the eye at 40 ft; 20 ft further in the line is 15 x 60/40 over it."""
    found = sight(Scene((ROOF,)), stack(20.0, 30.0), STREET)
    assert found.hidden_below.m_as("ft") == pytest.approx(5.0 + 15.0 * 60.0 / 40.0)
    assert found.shows.m_as("ft") == pytest.approx(30.0 - 27.5) and found.seen and found.behind == "roof"
    assert not sight(Scene((ROOF,)), stack(20.0, 27.4), STREET).seen


def test_a_parapet_and_a_screen_hide_more():
    parapet = Obstacle("parapet", "parapet", Q_([[0.0, 0.0], [0.0, 60.0]], "ft"), Q_(23.0, "ft"), Q_(20.0, "ft"))
    assert hidden(Scene((ROOF,), (parapet,)), stack(20.0, 30.0)) == pytest.approx(5.0 + 18.0 * 60.0 / 40.0)
    screen = Obstacle("screen", "wall", Q_([[15.0, 25.0], [15.0, 35.0]], "ft"), Q_(29.0, "ft"), Q_(20.0, "ft"))
    found = sight(Scene((ROOF,), (screen,)), stack(20.0, 30.0), STREET)
    assert found.hidden_below.m_as("ft") == pytest.approx(5.0 + 24.0 * 60.0 / 55.0) and found.behind == "screen"
    # A screen on legs too high leaves a gap over the roof's edge, through which the stack is seen.
    on_legs = Obstacle("screen", "wall", Q_([[15.0, 25.0], [15.0, 35.0]], "ft"), Q_(29.0, "ft"), Q_(26.5, "ft"))
    assert hidden(Scene((ROOF,), (on_legs,)), stack(20.0, 30.0)) == pytest.approx(27.5)
    # One that is narrower than the vent hides nothing of its sides; one beyond the terminal hides nothing at all.
    slat = Obstacle("slat", "wall", Q_([[19.0, 29.9], [19.0, 30.1]], "ft"), Q_(29.0, "ft"), Q_(20.0, "ft"))
    assert hidden(Scene((ROOF,), (slat,)), stack(20.0, 30.0, diameter=1.0)) == pytest.approx(27.5, abs=0.2)
    beyond = Obstacle("wall", "wall", Q_([[25.0, 0.0], [25.0, 60.0]], "ft"), Q_(40.0, "ft"), Q_(20.0, "ft"))
    assert hidden(Scene((ROOF,), (beyond,)), stack(20.0, 30.0)) == pytest.approx(27.5)


def test_from_above_and_from_the_roof_itself():
    """From a window over the roof nothing hides but what stands between; the roof itself only what is under it."""
    above = Viewpoint("window", Q_(-40.0, "ft"), Q_(30.0, "ft"), Q_(50.0, "ft"))
    assert hidden(Scene((ROOF,)), stack(20.0, 30.0), above) == pytest.approx(20.0)
    wall = Obstacle("parapet", "parapet", Q_([[0.0, 0.0], [0.0, 60.0]], "ft"), Q_(38.0, "ft"), Q_(20.0, "ft"))
    assert hidden(Scene((ROOF,), (wall,)), stack(20.0, 40.0), above) == pytest.approx(50.0 - 12.0 * 60.0 / 40.0)


def test_a_wall_terminal_is_seen_in_front_and_hidden_behind_the_building():
    front = stack(-0.5, 8.0, through="wall", diameter=0.5)
    assert sight(Scene((ROOF,)), front, STREET).seen
    behind = stack(60.5, 8.0, through="wall", diameter=0.5)
    assert not sight(Scene((ROOF,)), behind, STREET).seen
    eave = RoofPlane.flat("eave", square(-3.0, 0.0, 60.0, 60.0), Q_(20.0, "ft"))
    assert sight(Scene((eave,)), front, STREET).seen


def test_from_right_over_the_vent_all_of_it_is_seen():
    here = Viewpoint("here", Q_(20.0, "ft"), Q_(30.0, "ft"), Q_(45.0, "ft"))
    found = sight(Scene((ROOF,)), stack(20.0, 30.0, diameter=1.0), here)
    assert found.shows.m_as("ft") == pytest.approx(10.0) and found.behind == ""


def test_a_view_must_be_somewhere():
    with pytest.raises(ValueError, match="eye of view 'far' must be finite"):
        Viewpoint("far", Q_(1.0, "ft"), Q_(1.0, "ft"), Q_(np.inf, "ft"))


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-80.0, -5.0), st.floats(-30.0, 90.0), st.floats(2.0, 45.0), st.floats(5.0, 55.0),
    st.lists(st.tuples(st.floats(1.0, 50.0), st.floats(5.0, 40.0), st.floats(2.0, 8.0), st.floats(21.0, 32.0)),
             max_size=3),
)  # fmt: skip
def test_against_a_march_along_the_ray(x, y, eye, at, boxes):
    """A second computation: points along the ray to each height of the stack, and whether one lies in a solid."""
    things = tuple(
        Obstacle(f"box {k}", "equipment", square(bx, by, bx + size, by + size), Q_(top, "ft"), Q_(20.0, "ft"))
        for k, (bx, by, size, top) in enumerate(boxes)
        if not (bx - 0.5 < at < bx + size + 0.5)
    )
    view = Viewpoint("eye", Q_(x, "ft"), Q_(y, "ft"), Q_(eye, "ft"))
    line = hidden(Scene((ROOF,), things), stack(at, 60.0), view)
    shares = np.linspace(0.0, 1.0, 20001)[1:-1]
    px, py = x + shares * (at - x), y + shares * (30.0 - y)

    def seen(z):
        pz = eye + shares * (z - eye)
        blocked = (px > 0.0) & (px < 60.0) & (py > 0.0) & (py < 60.0) & (pz < 20.0)
        for thing in things:
            (x0, y0), (x1, y1) = (thing.shape.min(axis=0) / 0.3048, thing.shape.max(axis=0) / 0.3048)
            top = thing.span[1] / 0.3048
            blocked |= (px > x0) & (px < x1) & (py > y0) & (py < y1) & (pz < top) & (pz >= 20.0)
        return not blocked.any()

    assert seen(line + 0.05)
    for below in np.linspace(20.01, line - 0.05, 7) if line > 20.1 else ():
        assert not seen(below)


def test_what_stands_right_behind_the_vent_hides_nothing():
    """A wall 60 ft high one foot beyond the vent: seen against it, the vent is seen."""
    wall = Obstacle("wall", "wall", square(41.0, 0.0, 45.0, 60.0), Q_(60.0, "ft"))
    bare, before = (hidden(Scene((ROOF,), obstacles), stack(40.0, 24.0)) for obstacles in ((), (wall,)))
    assert before == pytest.approx(bare)


def test_a_wide_vent_is_seen_by_its_near_rim_by_hand():
    """Over the roof's edge 40 ft away and 15 ft above the eye the line rises by 0.375 ft in a foot.

    To the axis, 80 ft away, it hides 5 + 30 ft; to the near rim of a vent 3 ft across, 78.5 ft away, only 34.4375 ft.
    """
    assert hidden(Scene((ROOF,)), stack(40.0, 40.0)) == pytest.approx(35.0)
    assert hidden(Scene((ROOF,)), stack(40.0, 40.0, diameter=3.0)) == pytest.approx(5.0 + 0.375 * 78.5)
