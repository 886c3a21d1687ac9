"""Invented roofs and vents' ends for the tests, in meters, drawn by hand and at random."""

import numpy as np
import pytest
from hypothesis import strategies as st

from ventcalc.building import roof_scene
from ventcalc.building.clearances import judge
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.terminal import DIRECT, FAN, KINDS, WALL_VENT, Terminal
from ventcalc.units import Q_, UnitsError

MM = 1e-3
FT, INCH = 0.3048, 0.0254  # m


def ft(value):
    return Q_(value, "ft")


def m(value):
    return Q_(value, "m")


def box(x0, x1, y0, y1):
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def flat(height=0.0, reach=60.0):
    return RoofPlane.flat("roof", m(box(-reach, reach, -reach, reach)), m(height))


def gable(pitch, half=30 * FT, long=60.0):
    """Two slopes with the ridge at y = 0, 10 m high."""
    east, west = box(-long, long, -half, 0), box(-long, long, 0, half)
    up, down = Q_(90, "degree"), Q_(-90, "degree")
    ridge = m([0.0, 0.0, 10.0])
    return (
        RoofPlane.pitched("near slope", m(east), ridge, up, pitch),
        RoofPlane.pitched("far slope", m(west), ridge, down, pitch),
    )


def vent(kind, low, x=0.0, y=0.0, size=0.2, cap=0.0, **more):
    """A terminal in meters with everything given that a rule may ask for."""
    through = "wall" if kind == WALL_VENT else "roof"
    given_ = {"through": through, "heat_input": Q_(40, "MBH"), "hood": m(-50.0)} | more
    return Terminal("vent", m(x), m(y), m(low + cap), m(size), kind, cap_bottom=m(low), **given_)


def found(scene, terminal, rule, **how):
    (one,) = [f for f in judge(scene, terminal, **how) if f.rule == rule]
    return one


def verdict(scene, terminal, rule, **how):
    return found(scene, terminal, rule, **how).verdict


def refuse(make, *words):
    with pytest.raises((ValueError, UnitsError)) as error:
        make()
    for word in words:
        assert word in str(error.value)


coordinate = st.floats(-8.0, 8.0)
height = st.floats(0.0, 9.0)
size = st.floats(0.5, 5.0)


def turned(points, angle):
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


@st.composite
def rectangles(draw):
    """A rectangle turned anyhow, (4, 2)."""
    corners = np.array(box(0.0, draw(size), 0.0, draw(size)))
    return turned(corners, draw(st.floats(0.0, 6.28))) + np.array([draw(coordinate), draw(coordinate)])


@st.composite
def scenes(draw):
    planes = []
    for k in range(draw(st.integers(1, 3))):
        plan = draw(rectangles()) * 2.0
        through = m([*plan[0], draw(height)])
        up, pitch = Q_(draw(st.floats(0, 360)), "degree"), draw(st.sampled_from([0.0, 1.0, 4.0, 8.0, 13.0]))
        planes.append(RoofPlane.pitched(f"plane {k}", m(plan), through, up, pitch))
    obstacles = [
        Obstacle(f"body {k}", draw(st.sampled_from(roof_scene.OBSTACLES)), m(draw(rectangles())), m(draw(height)))
        for k in range(draw(st.integers(0, 2)))
    ]
    openings = []
    for k in range(draw(st.integers(0, 3))):
        low = draw(height)
        openings.append(
            Opening(
                f"opening {k}",
                draw(st.sampled_from(roof_scene.OPENINGS)),
                m(draw(rectangles())[:2]),
                m(low),
                m(low + draw(size)),
                next_door=draw(st.booleans()),
            )
        )
    marks = []
    for k in range(draw(st.integers(0, 2))):
        kind = draw(st.sampled_from(roof_scene.MARKS))
        points = draw(rectangles())[: {"walkway": 4, "property line": 2}.get(kind, 1)]
        marks.append(Mark(f"mark {k}", kind, m(points), m(draw(height)) if kind == "walkway" else None))
    return Scene(tuple(planes), tuple(obstacles), tuple(openings), tuple(marks))


@st.composite
def terminals(draw):
    kind = draw(st.sampled_from(KINDS))
    wall = kind == WALL_VENT or (kind in (DIRECT, FAN) and draw(st.booleans()))
    return vent(
        kind,
        draw(st.floats(0.0, 14.0)),
        draw(coordinate),
        draw(coordinate),
        size=draw(st.sampled_from([0.1, 0.25, 0.5])),
        cap=draw(st.sampled_from([0.0, 0.3])),
        through="wall" if wall else "roof",
        heat_input=Q_(draw(st.sampled_from([8.0, 40.0, 200.0])), "MBH"),
    )


STEPS = np.linspace(0.0, 1.0, 33)


def fill(corners):
    """Points all over a parallelogram (4, d): its sides and its inside."""
    u, v = (a.ravel()[:, None] for a in np.meshgrid(STEPS, STEPS))
    return corners[0] + u * (corners[1] - corners[0]) + v * (corners[3] - corners[0])
