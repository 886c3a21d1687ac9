"""Roof scene: roof planes, obstacles, openings and marks around a vent's end, all in one frame.

x and y lie in plan, z points up. What stands in a scene is told here; how far one thing is from another,
`plan_geometry` works out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from ventcalc.units import Q_, Quantity, magnitude, ureg

OBSTACLES = ("parapet", "wall", "tower", "equipment", "adjacent building")
OPENINGS = ("door", "operable window", "fixed window", "gravity air inlet", "forced-air intake", "combustion air inlet")
MARKS = ("property line", "walkway", "gas meter", "oil tank vent", "interior corner")
NEXT_DOOR = "next door"  # after the kind of an opening: one in an adjacent building
_METER = ureg.Unit("m")
TWELVE = 12.0  # pitch is a rise over 12
EXACT = 1e-6  # m; a micrometer, so that rounding of floats breaks no rule
_FLAT = 1e-3  # m, how far the corners of a roof plane may stand off it


def points_in_meters(value: Quantity, name: str, columns: int) -> np.ndarray:
    """Plain meters of a list of points, checked."""
    plain = np.asarray(magnitude(value, _METER, name), float)
    if plain.ndim != 2 or plain.shape[1] != columns or not np.isfinite(plain).all():
        shape = " x ".join(str(n) for n in plain.shape) or "a single number"
        raise ValueError(f"{name}: give finite points with {columns} coordinates each, got {shape}")
    return plain


def meters(value: Quantity, name: str) -> float:
    """A length as a plain number; ValueError naming ``name`` where it is not finite."""
    plain = float(magnitude(value, _METER, name))
    if not np.isfinite(plain):
        raise ValueError(f"{name} must be finite, got {plain}")
    return plain


def one_of(value: str, valid: Sequence[str], name: str) -> None:
    """Refuse a word that is none of the valid ones, naming ``name``."""
    if value not in valid:
        raise ValueError(f"{name} is {value!r}; choose one of: {', '.join(valid)}")


def _sound_polygon(plan: np.ndarray, name: str) -> None:
    """Raises ValueError for a polygon without area or that crosses itself."""
    x, y = plan.T
    if abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) < 2.0 * EXACT:
        raise ValueError(f"{name}: its corners in plan enclose no area")
    edges = list(zip(plan, np.roll(plan, -1, axis=0), strict=True))
    for (i, (a, b)), (j, (c, d)) in combinations(enumerate(edges), 2):
        apart = 1 < j - i < len(edges) - 1
        if apart and _side(a, b, c) * _side(a, b, d) < 0 > _side(c, d, a) * _side(c, d, b):
            raise ValueError(f"{name}: its outline in plan crosses itself; give the corners in order")


def _side(a, b, c) -> float:
    """Positive where c lies left of the line from a to b."""
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


@dataclass(frozen=True, eq=False)
class RoofPlane:
    """A flat or pitched piece of roof: ``corners`` in space (n, 3) [length], in order around it, in one plane.

    `flat` and `pitched` make one of a plan. Raises ValueError where the corners are not in one plane, cross or
    enclose nothing.
    """

    name: str
    corners: Quantity

    def __post_init__(self):
        points = self.points
        if len(points) < 3:
            raise ValueError(f"roof plane {self.name!r}: give at least 3 corners, got {len(points)}")
        _sound_polygon(points[:, :2], f"roof plane {self.name!r}")
        off = float(np.abs(self.height(points[:, :2]) - points[:, 2]).max())
        if off > _FLAT:
            raise ValueError(f"roof plane {self.name!r}: a corner stands {off:.3g} m off the plane of the others")

    @classmethod
    def flat(cls, name: str, plan: Quantity, height: Quantity) -> "RoofPlane":
        """A level roof: ``plan`` (n, 2) and one ``height`` [length]."""
        xy = points_in_meters(plan, f"plan of roof plane {name!r}", 2)
        z = meters(height, f"height of roof plane {name!r}")
        return cls(name, Q_(np.column_stack([xy, np.full(len(xy), z)]), "m"))

    @classmethod
    def pitched(cls, name: str, plan: Quantity, through: Quantity, uphill: Quantity, pitch: float) -> "RoofPlane":
        """A roof of ``pitch`` (rise over 12) that rises towards ``uphill`` (angle from the x axis, towards y).

        ``plan`` (n, 2) is its outline, ``through`` (x, y, z) any point of its plane [length].
        """
        xy = points_in_meters(plan, f"plan of roof plane {name!r}", 2)
        if not (np.isfinite(pitch) and pitch >= 0.0):
            raise ValueError(f"roof plane {name!r}: pitch {pitch} over 12 must be 0 or more")
        angle = float(magnitude(uphill, ureg.Unit("radian"), "uphill"))
        x, y, z = points_in_meters(Q_([through.m_as("m")], "m"), f"through of roof plane {name!r}", 3)[0]
        slope = pitch / TWELVE * np.array([np.cos(angle), np.sin(angle)])
        return cls(name, Q_(np.column_stack([xy, z + (xy - [x, y]) @ slope]), "m"))

    @cached_property
    def points(self) -> np.ndarray:
        """Corners (n, 3) [m]."""
        return points_in_meters(self.corners, f"corners of roof plane {self.name!r}", 3)

    @property
    def shape(self) -> np.ndarray:
        """Outline in plan (n, 2) [m]."""
        return self.points[:, :2]

    @cached_property
    def plane(self) -> tuple[np.ndarray, float]:
        """Gradient (2,) and the height at the origin [m] of the plane through the corners."""
        middle = self.points.mean(axis=0)
        off = self.points - middle
        slope = np.linalg.lstsq(off[:, :2], off[:, 2], rcond=None)[0]
        return slope, float(middle[2] - middle[:2] @ slope)

    def height(self, p: np.ndarray) -> np.ndarray:
        """Height [m] of the plane, carried on beyond its edges, at places ``p`` (N, 2) [m]."""
        slope, at_origin = self.plane
        return p @ slope + at_origin

    @property
    def pitch(self) -> float:
        """Rise over 12."""
        return TWELVE * float(np.hypot(*self.plane[0]))


class Placed:
    """What stands somewhere in plan between two heights; closed where it is an area."""

    areas: tuple[str, ...] = ()

    @cached_property
    def shape(self) -> np.ndarray:
        """Points in plan (n, 2) [m]: one, a line, or the outline of an area."""
        return points_in_meters(self.plan, f"plan of {self.kind} {self.name!r}", 2)

    @property
    def closed(self) -> bool:
        return self.kind in self.areas and len(self.shape) > 2

    @property
    def labels(self) -> tuple[str, ...]:
        """The words that a rule may name it by."""
        return (self.kind,)

    def _sound(self, valid: Sequence[str]) -> None:
        one_of(self.kind, valid, f"kind of {self.name!r}")
        if self.closed:
            _sound_polygon(self.shape, f"{self.kind} {self.name!r}")
        if self.span[1] < self.span[0]:
            raise ValueError(f"{self.kind} {self.name!r}: its top is below its bottom")


@dataclass(frozen=True, eq=False)
class Obstacle(Placed):
    """A parapet, wall, tower, piece of equipment or adjacent building: ``plan`` (n, 2) and ``top`` [length].

    Two points make a thin wall, three or more the outline of a body. It stands on ``base``.
    """

    name: str
    kind: str
    plan: Quantity
    top: Quantity
    base: Quantity = Q_(0.0, "m")
    areas = OBSTACLES

    def __post_init__(self):
        self._sound(OBSTACLES)

    @cached_property
    def span(self) -> tuple[float, float]:
        return meters(self.base, f"base of {self.name!r}"), meters(self.top, f"top of {self.name!r}")


@dataclass(frozen=True, eq=False)
class Opening(Placed):
    """A door, window, inlet or intake: a point or line in ``plan`` (n, 2) between ``bottom`` and ``top`` [length].

    "combustion air inlet" is a direct-vent appliance's own; ``next_door`` is true of an opening of an adjacent
    building.
    """

    name: str
    kind: str
    plan: Quantity
    bottom: Quantity
    top: Quantity
    next_door: bool = False

    def __post_init__(self):
        self._sound(OPENINGS)

    @cached_property
    def span(self) -> tuple[float, float]:
        return meters(self.bottom, f"bottom of {self.name!r}"), meters(self.top, f"top of {self.name!r}")

    @property
    def labels(self) -> tuple[str, ...]:
        return (self.kind, f"{self.kind} {NEXT_DOOR}") if self.next_door else (self.kind,)


@dataclass(frozen=True, eq=False)
class Mark(Placed):
    """A property line, walkway (outline and its level), gas meter, oil tank vent or interior corner.

    ``plan`` (n, 2) [length]; ``top`` is a walkway's level, or where a corner or meter ends (left out: no end).
    """

    name: str
    kind: str
    plan: Quantity
    top: Quantity | None = None
    areas = ("walkway",)

    def __post_init__(self):
        self._sound(MARKS)
        if self.kind == "walkway" and self.top is None:
            raise ValueError(f"walkway {self.name!r}: give its level as top")

    @cached_property
    def span(self) -> tuple[float, float]:
        return -np.inf, np.inf if self.top is None else meters(self.top, f"top of {self.name!r}")


@dataclass(frozen=True, eq=False)
class Scene:
    """All that a terminal must keep clear of. ``grade`` is the level of the finished ground [length].

    The upright face of a higher roof beside a lower one is a wall: give it as an `Obstacle`.

    Raises ValueError where two things have one name.
    """

    planes: tuple[RoofPlane, ...]
    obstacles: tuple[Obstacle, ...] = ()
    openings: tuple[Opening, ...] = ()
    marks: tuple[Mark, ...] = ()
    grade: Quantity = Q_(0.0, "m")

    def __post_init__(self):
        names = [thing.name for thing in (*self.planes, *self.placed)]
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"these names stand twice in the scene: {', '.join(twice)}")
        meters(self.grade, "grade")

    @property
    def placed(self) -> tuple[Placed, ...]:
        return (*self.obstacles, *self.openings, *self.marks)

    @cached_property
    def ground(self) -> float:
        """Grade [m]."""
        return meters(self.grade, "grade")
