"""Clearances: where a vent may end, against the roof, walls, windows, intakes, the lot line and walkways.

A roof is a `Scene`: roof planes, obstacles, openings and marks, all in one frame (x and y in plan, z up). A
`Terminal` is the end of a vent in it. Each requirement of a code is a row of ``data/building/clearances.csv``: a
fact with its
section, edition, source and status. A reader adds rows of another code book in the same form (`read_rules`).

Every requirement, seen from a place in plan, forbids a span of heights: below two feet over a ridge that is near, or
between four feet under a window and one foot over it. So one sum answers both questions: whether a terminal stands
where it may (`judge`), and how low it may be (`least_height`, `least_heights`). Distances are exact: nearest points
of segments and polygons, and the highest point of a roof plane inside a circle in closed form.

Distances in plan are taken from the outside of the vent, heights from its lowest discharge opening; only "below a
window" is taken from its highest one. What stands exactly at a limit has met it. Nothing here says that a place is
safe; the authority that adopted a code reads it.
"""

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import combinations
from pathlib import Path

import numpy as np

from ventcalc import tables
from ventcalc.flow import wind
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.units import Q_, Quantity, magnitude, ureg

CHIMNEY, GAS_VENT, TYPE_L = "chimney", "vent with listed cap", "type L vent"
DIRECT, FAN, WALL_VENT = "direct vent", "mechanical draft", "category IV through a wall"
KINDS = (CHIMNEY, GAS_VENT, TYPE_L, DIRECT, FAN, WALL_VENT)
NATURAL = (CHIMNEY, GAS_VENT, TYPE_L)  # kinds for draft by nature
DRIVEN = ("III", "IV")  # categories whose own fan drives the gas out: forced draft at the terminal, whatever its kind

OBSTACLES = ("parapet", "wall", "tower", "equipment", "adjacent building")
OPENINGS = ("door", "operable window", "fixed window", "gravity air inlet", "forced-air intake", "combustion air inlet")
MARKS = ("property line", "walkway", "gas meter", "oil tank vent", "interior corner")
NEXT_DOOR = "next door"  # after the kind of an opening: one in an adjacent building

PASS, FAIL, READING, NONE = "pass", "fail", "needs the authority's reading", "does not apply"
VERDICTS = (FAIL, READING, PASS, NONE)  # the worst first

CHECK_EDITION = "check what your jurisdiction adopted"

_METRE = ureg.Unit("m")
_FOOT, _INCH = 0.3048, 0.0254  # m
_TWELVE = 12.0  # pitch is a rise over 12
_EXACT = 1e-6  # m; a micrometre, so that rounding of floats breaks no rule
_FLAT = 1e-3  # m, how far the corners of a roof plane may stand off it


# --- The scene ------------------------------------------------------------------------------------------------


def _lengths(value: Quantity, name: str, columns: int) -> np.ndarray:
    """Plain metres of a list of points, checked."""
    plain = np.asarray(magnitude(value, _METRE, name), float)
    if plain.ndim != 2 or plain.shape[1] != columns or not np.isfinite(plain).all():
        shape = " x ".join(str(n) for n in plain.shape) or "a single number"
        raise ValueError(f"{name}: give finite points with {columns} coordinates each, got {shape}")
    return plain


def _length(value: Quantity, name: str) -> float:
    plain = float(magnitude(value, _METRE, name))
    if not np.isfinite(plain):
        raise ValueError(f"{name} must be finite, got {plain}")
    return plain


def _one_of(value: str, valid: Sequence[str], name: str) -> None:
    if value not in valid:
        raise ValueError(f"{name} is {value!r}; choose one of: {', '.join(valid)}")


def _sound_polygon(plan: np.ndarray, name: str) -> None:
    """Raises ValueError for a polygon without area or that crosses itself."""
    x, y = plan.T
    if abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) < 2.0 * _EXACT:
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
        xy = _lengths(plan, f"plan of roof plane {name!r}", 2)
        z = _length(height, f"height of roof plane {name!r}")
        return cls(name, Q_(np.column_stack([xy, np.full(len(xy), z)]), "m"))

    @classmethod
    def pitched(cls, name: str, plan: Quantity, through: Quantity, uphill: Quantity, pitch: float) -> "RoofPlane":
        """A roof of ``pitch`` (rise over 12) that rises towards ``uphill`` (angle from the x axis, towards y).

        ``plan`` (n, 2) is its outline, ``through`` (x, y, z) any point of its plane [length].
        """
        xy = _lengths(plan, f"plan of roof plane {name!r}", 2)
        if not (np.isfinite(pitch) and pitch >= 0.0):
            raise ValueError(f"roof plane {name!r}: pitch {pitch} over 12 must be 0 or more")
        angle = float(magnitude(uphill, ureg.Unit("radian"), "uphill"))
        x, y, z = _lengths(Q_([through.m_as("m")], "m"), f"through of roof plane {name!r}", 3)[0]
        slope = pitch / _TWELVE * np.array([np.cos(angle), np.sin(angle)])
        return cls(name, Q_(np.column_stack([xy, z + (xy - [x, y]) @ slope]), "m"))

    @cached_property
    def points(self) -> np.ndarray:
        """Corners (n, 3) [m]."""
        return _lengths(self.corners, f"corners of roof plane {self.name!r}", 3)

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
        return _TWELVE * float(np.hypot(*self.plane[0]))


class _Placed:
    """What stands somewhere in plan between two heights; closed where it is an area."""

    areas: tuple[str, ...] = ()

    @cached_property
    def shape(self) -> np.ndarray:
        """Points in plan (n, 2) [m]: one, a line, or the outline of an area."""
        return _lengths(self.plan, f"plan of {self.kind} {self.name!r}", 2)

    @property
    def closed(self) -> bool:
        return self.kind in self.areas and len(self.shape) > 2

    @property
    def labels(self) -> tuple[str, ...]:
        """The words that a rule may name it by."""
        return (self.kind,)

    def _sound(self, valid: Sequence[str]) -> None:
        _one_of(self.kind, valid, f"kind of {self.name!r}")
        if self.closed:
            _sound_polygon(self.shape, f"{self.kind} {self.name!r}")
        if self.span[1] < self.span[0]:
            raise ValueError(f"{self.kind} {self.name!r}: its top is below its bottom")


@dataclass(frozen=True, eq=False)
class Obstacle(_Placed):
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
        return _length(self.base, f"base of {self.name!r}"), _length(self.top, f"top of {self.name!r}")


@dataclass(frozen=True, eq=False)
class Opening(_Placed):
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
        return _length(self.bottom, f"bottom of {self.name!r}"), _length(self.top, f"top of {self.name!r}")

    @property
    def labels(self) -> tuple[str, ...]:
        return (self.kind, f"{self.kind} {NEXT_DOOR}") if self.next_door else (self.kind,)


@dataclass(frozen=True, eq=False)
class Mark(_Placed):
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
        return -np.inf, np.inf if self.top is None else _length(self.top, f"top of {self.name!r}")


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
        _length(self.grade, "grade")

    @property
    def placed(self) -> tuple[_Placed, ...]:
        return (*self.obstacles, *self.openings, *self.marks)

    @cached_property
    def ground(self) -> float:
        """Grade [m]."""
        return _length(self.grade, "grade")


@dataclass(frozen=True, eq=False)
class Terminal:
    """The end of a vent: axis at ``x``, ``y``, highest discharge opening at ``outlet``, lowest at ``cap_bottom``.

    ``cap_bottom`` left out: the outlet. ``diameter`` is the vent's outside, ``kind`` one of `KINDS`, ``through`` what
    it passes, "roof" or "wall". ``heat_input`` of the appliance and the height of the highest connected draft hood or
    collar (``hood``) are needed by some rules only. Raises ValueError naming the input.

    ``categories`` of the appliances behind it, ``hooded`` whether any has a draft hood, and ``fan`` whether one stands
    in the vent, are held against the kind (``kinds``, ``contradiction``); left out: not told.
    """

    name: str
    x: Quantity
    y: Quantity
    outlet: Quantity
    diameter: Quantity
    kind: str
    cap_bottom: Quantity | None = None
    through: str = "roof"
    heat_input: Quantity | None = None
    hood: Quantity | None = None
    categories: tuple[str, ...] = ()
    hooded: bool | None = None
    fan: bool = False

    def __post_init__(self):
        for category in self.categories:
            _one_of(category, tuple(CATEGORIES), f"category behind terminal {self.name!r}")
        _one_of(self.kind, KINDS, f"kind of terminal {self.name!r}")
        _one_of(self.through, ("roof", "wall"), f"through of terminal {self.name!r}")
        if self.kind == WALL_VENT and self.through != "wall":
            raise ValueError(f"terminal {self.name!r}: {WALL_VENT} passes a wall, so give through='wall'")
        if not self.radius > 0.0:
            raise ValueError(f"terminal {self.name!r}: diameter must be above 0")
        if self.cap < 0.0:
            raise ValueError(f"terminal {self.name!r}: cap_bottom must not be above outlet")
        if self.input is not None and not self.input > 0.0:
            raise ValueError(f"terminal {self.name!r}: heat_input must be above 0")

    @cached_property
    def driven(self) -> bool:
        """Whether a fan drives the gas out here: one in the vent, or that of an appliance of category III or IV."""
        return self.fan or bool(set(self.categories) & set(DRIVEN))

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """The kinds whose rules count, the declared one first: two where kind, categories and fan contradict.

        A vent for draft by nature that is driven counts as mechanical draft too, and one declared to be driven that
        nothing drives as a gas vent too; of each rule the stricter then holds.
        """
        if self.kind in NATURAL and self.driven:
            return (self.kind, FAN)
        if self.kind in (FAN, WALL_VENT) and self.categories and not self.driven:
            return (self.kind, GAS_VENT)
        return (self.kind,)

    @cached_property
    def contradiction(self) -> str:
        """What speaks against the declared kind, in words; empty where nothing does."""
        if len(self.kinds) == 1:
            return ""
        if not self.driven:
            behind = f"of category {', '.join(dict.fromkeys(self.categories))} without a fan in the vent"
            return f"declared as {self.kind}, but behind it are appliances {behind}: nothing drives it"
        why = "a fan stands in the vent"
        if not self.fan:
            driven = ", ".join(c for c in DRIVEN if c in self.categories)
            why = f"an appliance of category {driven} is behind it, whose own fan drives the gas out"
        return f"declared as {self.kind}, which is for draft by nature, but {why}"

    @cached_property
    def at(self) -> np.ndarray:
        """Axis in plan (1, 2) [m]."""
        return np.array([[_length(self.x, "x"), _length(self.y, "y")]])

    @cached_property
    def radius(self) -> float:
        return 0.5 * _length(self.diameter, "diameter")

    @cached_property
    def low(self) -> float:
        """Height of the lowest discharge opening [m]."""
        return _length(self.outlet if self.cap_bottom is None else self.cap_bottom, "cap_bottom")

    @cached_property
    def cap(self) -> float:
        """From the lowest to the highest discharge opening [m]."""
        return _length(self.outlet, "outlet") - self.low

    @cached_property
    def input(self) -> float | None:
        """Heat input [Btu/h]."""
        return (
            None if self.heat_input is None else float(magnitude(self.heat_input, ureg.Unit("Btu/hour"), "heat_input"))
        )


_NEAR = 15.0  # m, within which EN 13384-1 looks for obstacles (read as restated in a maker's technical data)


def clear_of_roof(scene: Scene, terminal: Terminal) -> bool:
    """Whether a terminal stands in free wind: over the zone in which it recirculates, no obstacle near that is higher.

    The zone is that of `wind.zone_height` over the highest roof, its face as wide as the roofs are long, which is the
    highest it can be; EN 13384-1 asks for less, 0.4 m over the ridge. Obstacles count within 15 m.
    """
    corners = np.concatenate([p.points for p in scene.planes])
    top, long = float(corners[:, 2].max()), float(np.ptp(corners[:, :2], axis=0).max())
    zone = float(wind.zone_height.bare(max(top - scene.ground, _EXACT), max(long, _EXACT)))
    near = [o for o in scene.obstacles if float(np.abs(nearest(terminal.at, o.shape, o.closed)[0][0])) < _NEAR]
    return terminal.low >= top + zone and all(o.span[1] <= terminal.low for o in near)


def roof_pitch(scene: Scene) -> str | None:
    """The pitch of a scene's roofs, one of `wind.PITCHES`; None where they differ."""
    degrees = np.degrees(np.arctan([p.pitch / _TWELVE for p in scene.planes]))
    bands = set(np.searchsorted([10.0, 30.0], degrees).tolist())
    return wind.PITCHES[bands.pop()] if len(bands) == 1 else None


def at_height(terminal: Terminal, low: Quantity) -> Terminal:
    """The same terminal with its lowest discharge opening at ``low`` [length]."""
    return replace(terminal, cap_bottom=low, outlet=low + Q_(terminal.cap, "m"))


def moved(terminal: Terminal, x: Quantity, y: Quantity) -> Terminal:
    """The same terminal at another place in plan [length]."""
    return replace(terminal, x=x, y=y)


def with_fan(terminal: Terminal) -> Terminal:
    """The same terminal with mechanical draft: other rules hold, and those for the intake hold as before.

    A category IV vent through a wall is driven by a fan already and keeps its rules.
    """
    return replace(terminal, fan=True) if terminal.kind == WALL_VENT else replace(terminal, kind=FAN, fan=True)


# --- The rules ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rule:
    """One row of a table of rules; lengths in m, pitch as a rise over 12, input in Btu/h. See the table's first lines.

    ``pitch`` and ``input`` are (over, up to); None where the row does not ask.
    """

    id: str
    rule: str
    form: str
    kinds: tuple[str, ...]
    objects: tuple[str, ...]
    value: float
    within: float
    beside: float
    below: float
    diameter_to: float | None
    diameter_over: float | None
    wall_from: float | None
    wall_nearer: float | None
    pitch: tuple[float, float] | None
    input: tuple[float, float] | None
    instead_of: str
    met: str
    broken: str
    section: str
    edition: str
    source: str
    status: str
    note: str

    @property
    def reference(self) -> str:
        """Section and edition."""
        return f"{self.section} ({self.edition})" if self.edition else self.section


_TEXTS = ("id", "rule", "form", "met", "broken", "section", "edition", "source", "status")
_LENGTHS = ("value", "within", "beside", "below")
_CONDITIONS = {
    "diameter_to": ("diameter_to_in", _INCH),
    "diameter_over": ("diameter_over_in", _INCH),
    "wall_from": ("wall_from_ft", _FOOT),
    "wall_nearer": ("wall_nearer_ft", _FOOT),
}
_RANGES = {"pitch": "pitch_to_12", "input": "input_to_btu_h"}
_COLUMNS = (*_TEXTS, *_LENGTHS, "kinds", "objects", "unit", "instead_of", "note", *_RANGES.values(),
            *(column for column, _ in _CONDITIONS.values()))  # fmt: skip
_UNIT = {"ft": _FOOT, "in": _INCH, "m": 1.0, "mm": 1e-3}
_OBJECTS = (*OBSTACLES, *OPENINGS, *MARKS, *(f"{o} {NEXT_DOOR}" for o in OPENINGS))
_SAID = {"met": (PASS, READING), "broken": (FAIL, READING)}


def _rules(rows: Iterable[Mapping[str, str]]) -> tuple[Rule, ...]:
    """Rows of one table as rules; in a rule of many rows each reaches from where the one before it ends."""
    made, ends = [], {}
    for row in rows:
        _sound_row(row)
        ranges = {}
        for name, column in _RANGES.items():
            start, end = ends.get((row["rule"], name)), _number(row, column)
            if start is not None or end is not None:
                ranges[name] = (-np.inf if start is None else start, np.inf if end is None else end)
                ends[row["rule"], name] = ranges[name][1]
        made.append(
            Rule(
                **{name: row[name] for name in (*_TEXTS, "instead_of", "note")},
                **{name: _number(row, name, _UNIT[row["unit"]]) or 0.0 for name in _LENGTHS},
                **{name: _number(row, *column) for name, column in _CONDITIONS.items()},
                **{name: ranges.get(name) for name in _RANGES},
                kinds=_words(row, "kinds"),
                objects=_words(row, "objects"),
            )
        )
    return tuple(made)


def _sound_row(row: Mapping[str, str]) -> None:
    """Raises ValueError naming row, column and what is valid."""
    where = f"rule {row.get('id') or row.get('rule') or '?'}"
    missing = [c for c in _COLUMNS if row.get(c) is None]
    if missing:
        raise ValueError(f"{where}: these columns are missing: {', '.join(missing)}")
    valid = {"form": tuple(_FORMS), "unit": tuple(_UNIT), **_SAID}
    for column, words in valid.items():
        _one_of(row[column], words, f"{where}: {column}")
    for word in _words(row, "kinds"):
        _one_of(word, KINDS, f"{where}: kinds")
    for word in _words(row, "objects"):
        _one_of(word, _OBJECTS, f"{where}: objects")
    wanted = ["rule", "value", "kinds", *_NEEDS.get(row["form"], ())]
    empty = [c for c in wanted if not row[c].strip()]
    if empty:
        raise ValueError(f"{where}: give {', '.join(empty)}")
    if not row["source"].strip() or not row["status"].startswith(tables.STATUSES):
        raise ValueError(f"{where}: give a source, and a status that begins with: {', '.join(tables.STATUSES)}")


_NEEDS = {
    "above anything": ("within",),
    "above": ("objects", "within"),
    "around": ("objects", "beside", "below"),
    "away": ("objects",),
    "beside": ("objects",),
}


def _words(row: Mapping[str, str], column: str) -> tuple[str, ...]:
    return tuple(w.strip() for w in row[column].split(";") if w.strip())


def _number(row: Mapping[str, str], column: str, factor: float = 1.0) -> float | None:
    text = row[column].strip()
    try:
        value = float(text) if text else None
        if value is None or (np.isfinite(value) and value >= 0.0):
            return None if value is None else value * factor
    except ValueError:
        pass
    raise ValueError(f"rule {row['id']}: {column} is {text!r}; give a number of 0 or more")


@cache
def shipped_rules() -> tuple[Rule, ...]:
    """The rules of ``data/building/clearances.csv``."""
    return _rules(tables.read("clearances"))


def read_rules(path: Path | str) -> tuple[Rule, ...]:
    """The shipped rules with those of your own code book: a CSV file of the same form.

    A rule of the same name replaces the shipped one, row for row. Raises ValueError naming row, column and what
    is valid.
    """
    with Path(path).open(encoding="utf-8", newline="") as lines:
        own = _rules(csv.DictReader(line for line in lines if not line.startswith("#")))
    names = {r.rule for r in own}
    return (*(r for r in shipped_rules() if r.rule not in names), *own)


def in_force(rules: Sequence[Rule] | None = None, habit: bool = False) -> tuple[Rule, ...]:
    """The rules that count; ``habit`` puts "three feet within ten" in the place of the table by roof pitch."""
    rules = shipped_rules() if rules is None else tuple(rules)
    replaced = {r.instead_of for r in rules if r.instead_of} if habit else set()
    return tuple(r for r in rules if r.rule not in replaced and (habit or not r.instead_of))


# --- Geometry: plain metres, for many places (N, 2) at once ------------------------------------------------------


def inside(p: np.ndarray, polygon: np.ndarray) -> np.ndarray:
    """Whether places ``p`` (N, 2) lie inside a ``polygon`` (n, 2): a ray from each crosses its edges an odd time."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    x, y = p[:, None, 0], p[:, None, 1]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return (spans & (x < crossing)).sum(axis=1) % 2 == 1


def nearest(p: np.ndarray, shape: np.ndarray, closed: bool) -> tuple[np.ndarray, np.ndarray]:
    """Signed distance (N,) from places ``p`` (N, 2) to a ``shape`` (n, 2), and the nearest point (N, 2) of its line.

    Negative inside a closed shape: how deep.
    """
    a = shape if closed or len(shape) == 1 else shape[:-1]
    b = np.roll(shape, -1, axis=0) if closed or len(shape) == 1 else shape[1:]
    along = b - a
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    t = np.clip(((p[:, None, :] - a) * along).sum(axis=2) / length2, 0.0, 1.0)
    points = a + t[:, :, None] * along
    far = np.hypot(*np.moveaxis(points - p[:, None, :], 2, 0))
    best = far.argmin(axis=1)
    row = np.arange(len(p))
    distance = far[row, best]
    if closed:
        distance = np.where(inside(p, shape), -distance, distance)
    return distance, points[row, best]


def highest_within(plane: RoofPlane, p: np.ndarray, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Highest point of a roof plane nearer than ``radius`` [m] in plan to each place ``p`` (N, 2).

    Returns its height (N,) [m], minus infinity where none is, and where it is (N, 2), the nearest of several. On a
    plane that can only be a corner inside the circle, a point where the outline meets the circle, or the circle's own
    uphill point; the nearest point of each edge stands for a level one, the place itself for a level roof.
    """
    outline, (slope, at_origin) = plane.shape, plane.plane
    along = np.roll(outline, -1, axis=0) - outline
    square = np.maximum((along**2).sum(axis=1), 1e-300)
    from_p = outline - p[:, None, :]
    half = (from_p * along).sum(axis=2)
    root = half**2 - square * ((from_p**2).sum(axis=2) - radius**2)
    step = np.sqrt(np.maximum(root, 0.0))
    shares = np.stack(
        [np.zeros_like(half), np.clip(-half / square, 0.0, 1.0), (-half - step) / square, (-half + step) / square]
    )
    edges = outline + shares[..., None] * along  # (4, N, n, 2): corners, nearest points, both meetings with the circle

    steep = float(np.hypot(*slope))
    uphill = p + radius * (slope / steep if steep > 0.0 else np.zeros(2))
    points = np.concatenate([*edges, uphill[:, None, :], p[:, None, :]], axis=1)
    away = np.hypot(*np.moveaxis(points - p[:, None, :], 2, 0))
    on_edge = (shares >= 0.0) & (shares <= 1.0)
    within = np.stack([inside(uphill, outline), inside(p, outline)], axis=1)
    # A circle that only touches an edge still counts, whatever the rounding of floats.
    keep = np.concatenate([*on_edge, within], axis=1) & (away <= radius + 1e-9)
    heights = np.where(keep, points @ slope + at_origin, -np.inf)
    top = heights.max(axis=1)
    best = np.where(heights >= top[:, None] - 1e-9, away, np.inf).argmin(axis=1)
    return top, points[np.arange(len(p)), best]


def part_above(plane: RoofPlane, height: float) -> np.ndarray:
    """Outline in plan (n, 2) of what of a roof plane stands at ``height`` [m] or above; empty where none does."""
    kept = []
    corners = plane.points
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if start[2] >= height:
            kept.append(start[:2])
        if (start[2] >= height) != (end[2] >= height):
            kept.append(start[:2] + (height - start[2]) / (end[2] - start[2]) * (end - start)[:2])
    return np.array(kept).reshape(-1, 2)


# --- What a requirement forbids ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Span:
    """Heights (low, high) [m] of the lowest discharge opening that one thing forbids at N places, and why.

    ``gap`` [m] in plan from the vent's outside (negative: overlapping), ``reach`` [m] at which the requirement ends
    (None: no move cures it), ``at`` (N, 3) the governing point. Nothing is forbidden where high is minus infinity.
    """

    thing: str
    low: np.ndarray
    high: np.ndarray
    gap: np.ndarray
    reach: float | None
    at: np.ndarray


@dataclass(frozen=True, eq=False)
class _Ground:
    """What stands under a terminal at N places: highest point of its passage, its thing, steepest pitch, next wall."""

    height: np.ndarray
    at: np.ndarray
    thing: np.ndarray
    pitch: np.ndarray
    wall: np.ndarray


def _ground(scene: Scene, p: np.ndarray, radius: float) -> _Ground:
    count = len(p)
    height, at = np.full(count, -np.inf), np.zeros((count, 2))
    thing, pitch = np.full(count, "", object), np.zeros(count)

    def rise(found, where, name):
        higher = found > height
        height[higher], at[higher], thing[higher] = found[higher], where[higher], name

    for plane in scene.planes:
        found, where = highest_within(plane, p, radius)
        pitch[:] = np.where(np.isfinite(found), np.maximum(pitch, plane.pitch), pitch)
        rise(found, where, plane.name)
    for obstacle in scene.obstacles:
        distance, _ = nearest(p, obstacle.shape, obstacle.closed)
        rise(np.where(distance < radius, obstacle.span[1], -np.inf), p, obstacle.name)
    wall = np.full(count, np.inf)
    for obstacle in scene.obstacles:
        distance, _ = nearest(p, obstacle.shape, obstacle.closed)
        stands_up = obstacle.span[1] > height
        wall = np.where(stands_up, np.minimum(wall, distance - radius), wall)
    return _Ground(height, at, thing, pitch, wall)


@dataclass(frozen=True, eq=False)
class _View:
    """One kind of terminal seen at N places of a scene."""

    scene: Scene
    terminal: Terminal
    p: np.ndarray
    ground: _Ground

    def objects(self, rule: Rule) -> list[_Placed]:
        return [t for t in self.scene.placed if set(t.labels) & set(rule.objects)]

    def all(self, value: float) -> np.ndarray:
        return np.full(len(self.p), value)


def _view(scene: Scene, terminal: Terminal, p: np.ndarray) -> _View:
    return _View(scene, terminal, p, _ground(scene, p, terminal.radius))


def _above_roof(view: _View, rule: Rule) -> list[_Span]:
    g = view.ground
    names = np.unique(g.thing.astype(str))
    name = str(names[0]) if len(names) == 1 else "roof"
    at = np.column_stack([g.at, np.where(np.isfinite(g.height), g.height, 0.0)])
    over = bool(np.isfinite(g.height).any())
    return [_Span(name, view.all(-np.inf), g.height + rule.value, view.all(0.0), None, at)] if over else []


def _above_anything(view: _View, rule: Rule) -> list[_Span]:
    reach, r = rule.within, view.terminal.radius
    spans = []
    for plane in view.scene.planes:
        height, where = highest_within(plane, view.p, reach + r - _EXACT)
        at = np.column_stack([where, np.where(np.isfinite(height), height, 0.0)])
        gap = np.hypot(*(where - view.p).T) - r
        spans.append(_Span(plane.name, view.all(-np.inf), height + rule.value, gap, reach, at))
    return spans + [_over(view, obstacle, rule) for obstacle in view.scene.obstacles]


def _seen(view: _View, thing: _Placed) -> tuple[np.ndarray, np.ndarray]:
    """Gap (N,) and the governing place (N, 2): the nearest point, or right beside the axis inside an area."""
    distance, where = nearest(view.p, thing.shape, thing.closed)
    return distance - view.terminal.radius, np.where((distance < 0.0)[:, None], view.p, where)


def _over(view: _View, thing: _Placed, rule: Rule) -> _Span:
    """Heights below ``value`` over the top of a thing nearer than ``within``."""
    gap, where = _seen(view, thing)
    top = thing.span[1]
    high = np.where(gap < rule.within - _EXACT, top + rule.value, -np.inf)
    return _Span(thing.name, view.all(-np.inf), high, gap, rule.within, np.column_stack([where, view.all(top)]))


def _above(view: _View, rule: Rule) -> list[_Span]:
    return [_over(view, thing, rule) for thing in view.objects(rule)]


def _around(view: _View, rule: Rule) -> list[_Span]:
    spans = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        near = gap < rule.beside - _EXACT
        bottom, top = thing.span
        low = np.where(near, bottom - rule.below - view.terminal.cap, np.inf)
        high = np.where(near, top + rule.value, -np.inf)
        level = np.clip(view.terminal.low, bottom, top)
        spans.append(_Span(thing.name, low, high, gap, rule.beside, np.column_stack([where, view.all(level)])))
    return spans


def _away(view: _View, rule: Rule) -> list[_Span]:
    spans = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        bottom, top = thing.span
        rise = np.sqrt(np.maximum(rule.value**2 - np.maximum(gap, 0.0) ** 2, 0.0))
        near = gap < rule.value - _EXACT
        low = np.where(near, bottom - rise - view.terminal.cap, np.inf)
        high = np.where(near, top + rise, -np.inf)
        level = np.clip(view.terminal.low, bottom, top)
        spans.append(_Span(thing.name, low, high, gap, rule.value, np.column_stack([where, view.all(level)])))
    return spans


def _beside(view: _View, rule: Rule) -> list[_Span]:
    spans = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        # A corner or meter ends somewhere if its top is given; a lot line, a building and a walkway reach up for ever.
        end = thing.span[1] if isinstance(thing, Mark) and thing.kind != "walkway" else np.inf
        high = np.where(gap < rule.value - _EXACT, end, -np.inf)
        level = min(end, view.terminal.low)
        spans.append(
            _Span(thing.name, view.all(-np.inf), high, gap, rule.value, np.column_stack([where, view.all(level)]))
        )
    return spans


def _above_grade(view: _View, rule: Rule) -> list[_Span]:
    level = view.scene.ground
    at = np.column_stack([view.p, view.all(level)])
    return [_Span("finished ground", view.all(-np.inf), view.all(level + rule.value), view.all(0.0), None, at)]


def _above_outlet(view: _View, rule: Rule) -> list[_Span]:
    if view.terminal.hood is None or view.terminal.hooded is False:
        return []
    level = _length(view.terminal.hood, "hood")
    at = np.column_stack([view.p, view.all(level)])
    name = "draft hood or collar"
    return [_Span(name, view.all(-np.inf), view.all(level + rule.value), view.all(0.0), None, at)]


_FORMS: dict[str, Callable[[_View, Rule], list[_Span]]] = {
    "above roof": _above_roof,
    "above anything": _above_anything,
    "above": _above,
    "around": _around,
    "away": _away,
    "beside": _beside,
    "above grade": _above_grade,
    "above outlet": _above_outlet,
}
_ROOF_FORMS = ("above roof", "above anything")


def _gate(view: _View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's conditions on the vent's size and the next wall hold."""
    size, wall = 2.0 * view.terminal.radius, view.ground.wall
    holds = view.all(1.0).astype(bool)
    if rule.diameter_to is not None:
        holds &= size <= rule.diameter_to + _EXACT
    if rule.wall_from is not None:
        holds &= wall >= rule.wall_from - _EXACT
    if rule.diameter_over is not None or rule.wall_nearer is not None:
        large = rule.diameter_over is not None and size > rule.diameter_over + _EXACT
        holds &= large | (wall < (rule.wall_nearer or -np.inf) - _EXACT)
    return holds


def _row_fits(view: _View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's range of pitch and of heat input is the one that counts."""
    fits = view.all(1.0).astype(bool)
    if rule.pitch is not None:
        over, to = (edge + _EXACT for edge in rule.pitch)
        fits &= (view.ground.pitch > over) & (view.ground.pitch <= to)
    if rule.input is not None:
        given = view.terminal.input
        fits &= given is not None and rule.input[0] < given <= rule.input[1]
    return fits


def _row_reaches(view: _View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's figure is the least asked for: also beyond its end, and where the input is not given."""
    reaches = view.all(1.0).astype(bool)
    if rule.pitch is not None:
        reaches &= view.ground.pitch > rule.pitch[0] + _EXACT
    if rule.input is not None and view.terminal.input is not None:
        reaches &= rule.input[0] < view.terminal.input
    return reaches


# --- Verdicts -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Finding:
    """What one rule says of one terminal.

    ``verdict`` is one of `VERDICTS`, ``reason`` says why where it is a reading or does not apply. ``thing`` is the
    name of what governs and ``point`` where on it (x, y, z); ``gap`` is the distance to it in plan from the vent's
    outside, ``need`` the height that the lowest discharge opening must have beside it (None: none does or is asked).
    Of a rule that is broken: ``raise_by`` and ``lower_by``, out of all that it forbids at this place, and ``move_by``,
    away from the point until this thing no longer counts (from a roof plane: from what of it stands too high); each
    None where that does not cure it. ``spare`` is how much higher than needed it stands.
    """

    rule: str
    row: Rule | None
    verdict: str
    reason: str = ""
    thing: str = ""
    point: Quantity | None = None
    gap: Quantity | None = None
    need: Quantity | None = None
    raise_by: Quantity | None = None
    lower_by: Quantity | None = None
    move_by: Quantity | None = None
    spare: Quantity | None = None

    @property
    def broken(self) -> bool:
        """Whether the requirement is not met, whatever the verdict on that is."""
        return any(cure is not None for cure in (self.raise_by, self.lower_by, self.move_by))


def judge(
    scene: Scene, terminal: Terminal, rules: Sequence[Rule] | None = None, habit: bool = False
) -> tuple[Finding, ...]:
    """What every rule says of the terminal, one `Finding` a rule, in the order of the table.

    ``rules``: those of `read_rules`, or the shipped ones. ``habit``: "three feet within ten" in place of the table by
    roof pitch. Where the terminal's kind is contradicted the rules of both kinds count, and a finding says so.
    """
    view = _view(scene, terminal, terminal.at)
    rules = in_force(rules, habit)
    names = dict.fromkeys(r.rule for r in rules)
    found = [_find(view, name, [r for r in rules if r.rule == name]) for name in names]
    return (*found, *_not_named(view, rules), *_contradicted(terminal))


def overall(findings: Iterable[Finding]) -> str:
    """The worst of the verdicts; "does not apply" only where nothing else was said."""
    return min((f.verdict for f in findings), key=VERDICTS.index)


DECLARED = "kind of terminal as declared"


def _contradicted(terminal: Terminal) -> list[Finding]:
    """A reading where kind, categories and fan do not fit each other."""
    if not terminal.contradiction:
        return []
    reason = f"{terminal.contradiction}; judged by the stricter of {' and '.join(terminal.kinds)}"
    return [Finding(DECLARED, None, READING, reason)]


def _not_named(view: _View, rules: Sequence[Rule]) -> list[Finding]:
    """A reading where the terminal passes the roof and no rule on the roof names its kind."""
    named = any(r.form in _ROOF_FORMS and _names(r, view.terminal) for r in rules)
    if named or view.terminal.through != "roof":
        return []
    reason = f"no rule of the table says how high above the roof a {view.terminal.kind} ends"
    return [Finding("height above the roof", None, READING, reason)]


def _names(rule: Rule, terminal: Terminal) -> bool:
    """Whether a rule is for one of the kinds that a terminal counts as."""
    return bool(set(terminal.kinds) & set(rule.kinds))


def _find(view: _View, name: str, rows: list[Rule]) -> Finding:
    """The finding of one rule at the one place of the view."""
    named = [r for r in rows if _names(r, view.terminal)]
    if not named:
        return Finding(name, rows[0], NONE, f"a rule for: {', '.join(rows[0].kinds)}")
    first = named[0]
    if first.form in _ROOF_FORMS and view.terminal.through == "wall":
        return Finding(name, first, NONE, "it passes a wall, not the roof")
    gated = [r for r in named if _gate(view, r)[0]]
    if not gated:
        return Finding(name, first, NONE, _gate_reason(view, first))
    fitting = [r for r in gated if _row_fits(view, r)[0]]
    if not fitting:
        return Finding(name, gated[-1], READING, _row_reason(view, gated))
    row = fitting[0]
    spans = _FORMS[row.form](view, row)
    if not spans:
        return _nothing_there(view, name, row)
    return _verdict(view, name, row, spans)


def _nothing_there(view: _View, name: str, row: Rule) -> Finding:
    if row.form == "above outlet" and view.terminal.hooded is False:
        return Finding(name, row, NONE, "no draft hood is connected")
    if row.form == "above outlet":
        return Finding(name, row, READING, "the height of the highest connected draft hood or collar is not given")
    if row.form in _ROOF_FORMS:
        return Finding(name, row, NONE, "it stands over no roof of the scene")
    return Finding(name, row, NONE, f"the scene has no {' or '.join(row.objects)}")


def _gate_reason(view: _View, row: Rule) -> str:
    if row.diameter_to is not None and 2.0 * view.terminal.radius > row.diameter_to + _EXACT:
        return f"for vents up to {row.diameter_to / _INCH:g} in. ({1e3 * row.diameter_to:.0f} mm)"
    if row.wall_from is not None:
        return f"for vents {row.wall_from / _FOOT:g} ft ({row.wall_from:.2f} m) or more from a vertical wall"
    return "for larger vents and those nearer to a vertical wall"


def _row_reason(view: _View, rows: list[Rule]) -> str:
    if rows[-1].pitch is not None:
        pitch, end = view.ground.pitch[0], rows[-1].pitch[1]
        return f"the roof's pitch, {pitch:.3g} over 12, is beyond the table, which ends at {end:g}"
    if view.terminal.input is None:
        return "the heat input of the appliance is not given"
    return f"the heat input is beyond the table, which ends at {rows[-1].input[1]:g} Btu/h"


def _verdict(view: _View, name: str, row: Rule, spans: list[_Span]) -> Finding:
    """The finding of a row that applies: by the thing that asks for most, else by the one that comes nearest to it."""
    z = view.terminal.low
    broken = [s for s in spans if s.low[0] + _EXACT < z < s.high[0] - _EXACT]
    if broken:
        worst = max(broken, key=lambda s: s.high[0])
        reason = row.note if row.broken == READING else ""
        return _finding(name, row, row.broken, reason, worst, z, _cures(view, row, worst, spans, z))
    asking = [s for s in spans if s.high[0] > -np.inf]
    if asking:
        tightest = max(asking, key=lambda s: s.high[0] if z >= s.high[0] - _EXACT else -np.inf)
    else:
        tightest = min(spans, key=lambda s: s.gap[0])
    if not asking and row.form in _ROOF_FORMS:
        return Finding(name, row, NONE, "it stands over no roof of the scene")
    return _finding(name, row, row.met, row.note if row.met == READING else "", tightest, z, {})


def _cures(view: _View, row: Rule, worst: _Span, spans: list[_Span], z: float) -> dict[str, Quantity]:
    """How far to raise or lower it, out of all spans of this rule, or to move it away from the worst thing."""
    low, high = (np.array([getattr(s, end) for s in spans]) for end in ("low", "high"))
    up, down = _climb(low, high, np.array([z]))[0], -_climb(-high, -low, np.array([-z]))[0]
    cures = {"raise_by": up - z, "lower_by": z - down}
    if worst.reach is not None:
        cures["move_by"] = _move(view, row, worst, z)
    return {name: Q_(by, "m") for name, by in cures.items() if np.isfinite(by)}


def _climb(low: np.ndarray, high: np.ndarray, z: np.ndarray) -> np.ndarray:
    """From heights ``z`` (N,) up to the first that lies in none of the spans ``low`` to ``high`` (K, N)."""
    for _ in range(len(low)):
        caught = (low + _EXACT < z) & (z < high - _EXACT)
        climbed = np.where(caught, high, -np.inf).max(axis=0, initial=-np.inf)
        if not (climbed > z).any():
            break
        z = np.maximum(z, climbed)
    return z


def _move(view: _View, row: Rule, span: _Span, z: float) -> float:
    """How far away in plan [m] the requirement ends, at the height ``z`` [m] of the lowest discharge opening."""
    gap = span.gap[0]
    plane = next((p for p in view.scene.planes if p.name == span.thing), None)
    if plane is not None:  # only what stands too high must be out of reach
        part = part_above(plane, z - row.value + _EXACT)
        if len(part) > 2:
            gap = nearest(view.p, part, closed=True)[0][0] - view.terminal.radius
        return max(span.reach - gap, 0.0)
    thing = next(t for t in view.scene.placed if t.name == span.thing)
    flat_gap = nearest(view.p, thing.shape, thing.closed)[0][0] - view.terminal.radius
    if row.form != "away":
        return span.reach - flat_gap
    bottom, top = thing.span
    rise = max(bottom - (z + view.terminal.cap), z - top, 0.0)
    return float(np.sqrt(max(row.value**2 - rise**2, 0.0))) - flat_gap


def _finding(name, row, verdict, reason, span: _Span, z: float, cures: Mapping[str, Quantity]) -> Finding:
    high = z + cures["raise_by"].m_as("m") if "raise_by" in cures else span.high[0]
    need = Q_(high, "m") if np.isfinite(high) else None
    spare = Q_(z - high, "m") if not cures and need is not None and z >= high - _EXACT else None
    gap = None if span.reach is None else Q_(max(span.gap[0], 0.0), "m")
    at = Q_(span.at[0], "m")
    return Finding(name, row, verdict, reason, span.thing, at, gap=gap, need=need, spare=spare, **cures)


# --- The least height ------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Least:
    """The least height of the lowest discharge opening at a place, what governs it, and what is left to be read.

    ``height`` None: no height does, and ``finding`` says why. ``findings`` are those of the terminal at that height.
    """

    height: Quantity | None
    above_roof: Quantity | None
    finding: Finding | None
    findings: tuple[Finding, ...]

    @property
    def open_questions(self) -> tuple[Finding, ...]:
        return tuple(f for f in self.findings if f.verdict == READING)


def least_height(scene: Scene, terminal: Terminal, rules: Sequence[Rule] | None = None, habit: bool = False) -> Least:
    """The least height at which no rule fails, at the terminal's place in plan and from the roof (or grade) up.

    A requirement whose breach only needs a reading raises nothing; it is among ``open_questions``.
    """
    view = _view(scene, terminal, terminal.at)
    low = float(_least(view, in_force(rules, habit))[0])
    if not np.isfinite(low):
        here = judge(scene, terminal, rules, habit)
        stuck = next(f for f in here if f.verdict == FAIL and f.raise_by is None)
        return Least(None, None, stuck, here)
    findings = judge(scene, at_height(terminal, Q_(low, "m")), rules, habit)
    governs = [f for f in findings if f.spare is not None and abs(f.spare.m_as("m")) < 2.0 * _EXACT]
    roof = view.ground.height[0]
    above = Q_(low - roof, "m") if np.isfinite(roof) else None
    return Least(Q_(low, "m"), above, governs[0] if governs else None, findings)


def least_heights(
    scene: Scene,
    terminal: Terminal,
    x: Quantity,
    y: Quantity,
    rules: Sequence[Rule] | None = None,
    habit: bool = False,
) -> Quantity:
    """`least_height` of one terminal at many places ``x``, ``y`` [length, same shape]; infinite where none does."""
    x, y = np.broadcast_arrays(magnitude(x, _METRE, "x"), magnitude(y, _METRE, "y"))
    p = np.column_stack([x.ravel(), y.ravel()])
    return Q_(_least(_view(scene, terminal, p), in_force(rules, habit)).reshape(x.shape), "m")


def _least(view: _View, rules: Sequence[Rule]) -> np.ndarray:
    """From the roof or the ground up to the first height that no rule forbids."""
    low, high = _forbidden(view, rules)
    z = np.where(np.isfinite(view.ground.height), view.ground.height, view.scene.ground)
    if view.terminal.through == "wall":
        z = view.all(view.scene.ground)
    return _climb(low, high, z)


def _forbidden(view: _View, rules: Sequence[Rule]) -> tuple[np.ndarray, np.ndarray]:
    """All spans (K, N) in which a rule fails."""
    lows, highs = [np.empty((0, len(view.p)))], [np.empty((0, len(view.p)))]
    for rule in rules:
        wall = rule.form in _ROOF_FORMS and view.terminal.through == "wall"
        if rule.broken != FAIL or not _names(rule, view.terminal) or wall:
            continue
        counts = _gate(view, rule) & _row_reaches(view, rule)
        if not counts.any():
            continue
        for span in _FORMS[rule.form](view, rule):
            lows.append(span.low[None, :])
            highs.append(np.where(counts, span.high, -np.inf)[None, :])
    return np.concatenate(lows), np.concatenate(highs)


def roof_height(scene: Scene, terminal: Terminal) -> Quantity:
    """Highest point of what the terminal passes through. Raises ValueError where it stands over no roof."""
    height = _ground(scene, terminal.at, terminal.radius).height[0]
    if not np.isfinite(height):
        raise ValueError(f"terminal {terminal.name!r} stands over no roof of the scene")
    return Q_(height, "m")


# --- In words -------------------------------------------------------------------------------------------------


def length_text(value: Quantity, system: str, up: bool = False) -> str:
    """A length as the trade writes it: feet to two decimals, inches below one foot; metres to the millimetre.

    ``up``: rounded up, so that whoever does what is said has done enough. Raises ValueError for an unknown system.
    """
    if system not in ("US", "SI"):
        raise ValueError(f"unit system {system!r}: choose US or SI")
    metres = float(value.m_as("m"))
    if system == "SI":
        return f"{_rounded(metres, 3, up):.3f}".rstrip("0").rstrip(".") + " m"
    feet = metres / _FOOT
    if 0.0 < abs(feet) < 1.0 - 1e-9:
        return f"{_rounded(metres / _INCH, 1, up):g} in."
    return f"{_rounded(feet, 2, up):g} ft"


def _rounded(value: float, decimals: int, up: bool) -> float:
    step = 10.0**decimals
    # What is a round number but for the rounding of floats stays one.
    return (np.ceil(value * step - 1e-4) if up else round(value * step)) / step + 0.0


def requirement(rule: Rule, system: str) -> str:
    """What a row asks for, in words."""
    value, within, beside, below = (
        length_text(Q_(v, "m"), system) for v in (rule.value, rule.within, rule.beside, rule.below)
    )
    things = _article(" or ".join(rule.objects))
    return {
        "above roof": f"at least {value} above the highest point where it passes through the roof",
        "above anything": f"at least {value} above anything within {within}",
        "above": f"at least {value} above {things} " + (f"within {within}" if rule.within else "that it overhangs"),
        "around": f"at least {below} below, {beside} beside or {value} above {things}",
        "away": f"at least {value} from {things}",
        "beside": f"at least {value} in plan from {things}" if rule.value else f"nowhere over {things}",
        "above grade": f"at least {value} above finished ground, measured from its bottom",
        "above outlet": f"at least {value} above the highest connected draft hood or collar",
    }[rule.form]


def _article(words: str) -> str:
    return f"an {words}" if words[:1] in tuple("aeiou") else f"a {words}"


def sentence(finding: Finding, system: str) -> str:
    """One finding as plain words, its section, edition and status with it."""
    head = f"{finding.rule}: {finding.verdict}."
    if finding.row is None:
        return f"{head} {_capital(finding.reason)}."
    said = f"{head} {_said(finding, system)}"
    if finding.verdict == NONE:
        return said
    return f"{said} [{finding.row.reference}; {finding.row.status}; {CHECK_EDITION}]"


def sentences(findings: Iterable[Finding], system: str) -> tuple[str, ...]:
    """The findings as sentences, the worst verdicts first."""
    return tuple(sentence(f, system) for f in sorted(findings, key=lambda f: VERDICTS.index(f.verdict)))


def _said(f: Finding, system: str) -> str:
    if not f.thing:
        return f"{_capital(f.reason)}."
    words = [f"It must be {requirement(f.row, system)}."]
    where = "" if f.gap is None else f", {length_text(f.gap, system)} away in plan"
    if f.broken:
        words.append(f"Here: {f.thing}{where}. {cure_text(f, system)}.")
    elif f.spare is not None:
        spare = "just met" if abs(f.spare.m_as("m")) < 2 * _EXACT else f"{length_text(f.spare, system)} to spare"
        words.append(f"Governed by {f.thing}{where}: {spare}.")
    else:
        words.append(f"Nearest: {f.thing}{where}.")
    if f.reason:
        words.append(f"{_capital(f.reason)}.")
    return " ".join(words)


def cure_text(finding: Finding, system: str) -> str:
    """What would clear the thing that governs: raise, lower or move, rounded up."""
    ways = (
        ("raise it by", finding.raise_by, ""),
        ("lower it by", finding.lower_by, ""),
        ("move it", finding.move_by, " farther away"),
    )
    told = [f"{verb} {length_text(by, system, up=True)}{end}" for verb, by, end in ways if by is not None]
    return _capital(" or ".join(told))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
