"""Elevation: where a plant's sections lie when all runs are unfolded into one upright plane.

Heights, lengths and diameters stay true. The way to the open runs from left to right; what joins it drops
below it. Where connectors stand too close for that, their level runs are seen end-on. A header that joins a
riser lies on its other side; one that joins another header is drawn apart, with a mark at both ends. A very tall
stack is drawn broken: all that lies above the break is moved down.
Plain numbers in meters: x along the runs, z above the boiler-room floor.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from ventcalc.vent.layout import Plant, Section

_WIDEST_BOX, _NARROWEST_BOX = 1.2, 0.35  # m, of an appliance
_GAP = 0.4  # m, between an appliance and what stands beside it
_OVERHANG = 0.8  # m, of floor, roof and wall beyond what they hold
_APART = 2.5  # m, between parts drawn apart
_TOO_TALL, _TALL_ENOUGH = 2.2, 1.4  # height over width beyond which a stack is broken, and to which it is shortened
_WHOLE = 15.0  # m, of a drawing that is never broken: its appliances can be read at that height
_KEPT = 0.2  # least share of the upright piece that stays


@dataclass(frozen=True)
class Elevation:
    """The drawing as points (x, z) in meters.

    ``lines``: each section from its upstream to its downstream end. ``stubs``: the capped end behind the first
    junction of a run, by the run's name. ``joints``: where sections join. ``boxes``: appliances, lower left
    and upper right corner. ``floor``: its two ends. ``shell``: roof or wall, where the vent leaves the
    building. ``words``: marks and the names of places, each with its point and the way to move it (0, 0: any).
    ``cut``: height of a break in the drawing and what was left out above it, 0 where nothing was.
    """

    lines: dict[str, np.ndarray]
    stubs: dict[str, np.ndarray]
    joints: tuple[np.ndarray, ...]
    boxes: tuple[np.ndarray, ...]
    floor: tuple[float, float]
    shell: tuple[np.ndarray, ...]
    words: tuple[tuple[np.ndarray, str, tuple[float, float]], ...]
    cut: tuple[float, float] = (0.0, 0.0)

    @property
    def bounds(self) -> tuple[np.ndarray, np.ndarray]:
        """Lower left and upper right corner of all that is drawn."""
        everything = np.vstack(
            [*self.lines.values(), *self.stubs.values(), *self.boxes, *self.shell, [[x, 0.0] for x in self.floor]]
        )
        return everything.min(axis=0), everything.max(axis=0)


def unfold(plant: Plant, whole: bool = False) -> Elevation:
    """The elevation of a plant; connectors in the plane where there is room, else their level runs end-on.

    ``whole``: every run in the plane and nothing broken, so that each has its true length, whatever lies across what.
    """
    drawn = _draw(plant, end_on=False)
    if whole:
        return drawn
    return _broken(_draw(plant, end_on=True) if _crowded(plant, drawn) else drawn)


def _broken(drawn: Elevation) -> Elevation:
    """The drawing with a part of its longest upright piece left out, where it would be too tall for its width."""
    low, high = drawn.bounds
    width, height = high - low
    below, above = _clear_span(drawn)
    left_out = min(height - _TALL_ENOUGH * width, (1.0 - _KEPT) * (above - below))
    if height <= max(_TOO_TALL * width, _WHOLE) or left_out <= 0.0:
        return drawn

    def lower(points: np.ndarray) -> np.ndarray:
        return np.column_stack([points[:, 0], np.where(points[:, 1] >= above, points[:, 1] - left_out, points[:, 1])])

    return replace(
        drawn,
        lines={name: lower(line) for name, line in drawn.lines.items()},
        stubs={name: lower(line) for name, line in drawn.stubs.items()},
        joints=tuple(lower(joint[None])[0] for joint in drawn.joints),
        shell=tuple(lower(line) for line in drawn.shell),
        words=tuple((lower(at[None])[0], words, way) for at, words, way in drawn.words),
        cut=(0.5 * (below + above - left_out), left_out),
    )


def _clear_span(drawn: Elevation) -> tuple[float, float]:
    """The longest range of heights in which there is nothing but upright pipes."""
    parts = [*drawn.lines.values(), *drawn.stubs.values(), *drawn.shell, *drawn.boxes]
    levels = np.unique(np.concatenate([[0.0], *(part[:, 1] for part in parts)]))
    best = (0.0, 0.0)
    for below, above in pairwise(levels):
        crossing = [
            abs(b[0] - a[0])
            for line in drawn.lines.values()
            for a, b in pairwise(line)
            if min(a[1], b[1]) < above and max(a[1], b[1]) > below
        ]
        if max(crossing, default=0.0) < 1e-6 and above - below > best[1] - best[0]:
            best = (float(below), float(above))
    return best


def _draw(plant: Plant, end_on: bool) -> Elevation:
    pen = _Pen(plant, end_on)
    waiting = [(plant.upstream(end.name)[0], None) for end in plant.terminations]
    parts = 0
    while waiting:
        section, joins = waiting.pop(0)
        mark = f"part {parts}" if joins is not None else ""
        waiting += pen.part(section, mark, joins)
        parts += 1
    boxes = _boxes(plant, pen.lines)
    shell, words = _shell(plant, pen.lines, boxes)
    indoors = [pen.lines[s.name] for s in plant.sections if s.place != "outdoors"]
    across = np.concatenate([part[:, 0] for part in (*indoors, *boxes)])
    return Elevation(
        lines=pen.lines,
        stubs={s.name: _stub(plant, s, pen.lines[s.name]) for s in plant.sections if _capped(plant, s)},
        joints=tuple(pen.lines[s.name][0] for s in plant.sections if any(u.junction for u in plant.upstream(s.name))),
        boxes=boxes,
        floor=(float(across.min()) - _OVERHANG, float(across.max()) + _OVERHANG),
        shell=shell,
        words=(*pen.words, *words),
    )


@dataclass
class _Pen:
    """Draws sections upstream from where they end; keeps the lines."""

    plant: Plant
    end_on: bool
    lines: dict[str, np.ndarray] = field(default_factory=dict)
    words: list[tuple[np.ndarray, str, tuple[float, float]]] = field(default_factory=list)

    def part(self, section: Section, mark: str, joins: np.ndarray | None) -> list[tuple[Section, np.ndarray]]:
        """Draw all that ends in ``section`` to the left of what is there; return what is to be drawn apart."""
        before, self.lines = self.lines, {}
        apart = self._trace(section, np.array([0.0, self.plant.heights[section.name][1]]), -1.0, level=False)
        if before:
            edge = min(line[:, 0].min() for line in before.values()) - _APART
            shift = edge - max(line[:, 0].max() for line in self.lines.values())
            move = np.array([shift, 0.0])
            self.lines = {name: line + move for name, line in self.lines.items()}
            apart = [(s, point + move) for s, point in apart]
        if joins is not None:
            end = self.lines[section.name][-1]
            self.words += [(joins, f"from {mark}", (0.0, 0.0)), (end, f"{mark}: to {section.into}", (0.0, 0.0))]
        self.lines = before | self.lines
        return apart

    def _trace(self, section: Section, end: np.ndarray, side: float, level: bool, branch: bool = False):
        """Draw a section that ends at a point, and all upstream; ``level``: it ends in a level run."""
        line = _shape(section, end, side, level, branch, self.end_on, self.plant)
        self.lines[section.name] = line
        start, apart = line[0], []
        upright = abs(line[1, 0] - line[0, 0]) < abs(line[1, 1] - line[0, 1])
        for upstream in self.plant.upstream(section.name):
            foot = np.array([start[0], self.plant.heights[upstream.name][1]])
            if upstream.junction == "opposed tee":
                other = self.plant.upstream(section.name)[0] is not upstream
                apart += self._trace(upstream, foot, -side if other else side, level=False)
            elif upstream.junction is None:
                apart += self._trace(upstream, foot, side, level=not upright, branch=branch)
            elif len(self.plant.serves(upstream.name)) == 1:
                apart += self._trace(upstream, foot, side, level=not upright, branch=True)
            elif upright:
                apart += self._trace(upstream, foot, -side, level=False)
            else:
                apart.append((upstream, start))
        return apart


def _shape(section: Section, end, side: float, level: bool, branch: bool, end_on: bool, plant: Plant) -> np.ndarray:
    """The line of one section, from its upstream end to ``end``; a connector's elbow turns it from level to upright."""
    low, high = plant.heights[section.name]
    rise, length = high - low, float(section.length.m_as("m"))
    leaf = section.name in plant.feeds
    elbow = "elbow 90" in section.fittings and 0.2 < abs(rise) / max(length, 1e-9) < 0.98
    if branch and end_on and level:
        return np.array([[end[0], low], [end[0], high]])
    if elbow and (branch or leaf):
        start = np.array([end[0] + side * (length - abs(rise)), low])
        # A connector rises into a level run; into an upright one it comes in level.
        bend = [end[0], low] if level and branch else [start[0], high]
        return np.array([start, bend, [end[0], high]])
    across = np.sqrt(max(length**2 - rise**2, 0.0))
    return np.array([[end[0] + side * across, low], [end[0], high]])


def _capped(plant: Plant, section: Section) -> bool:
    """Whether one branch alone enters the side of a capped run here."""
    upstream = plant.upstream(section.name)
    return len(upstream) == 1 and upstream[0].junction is not None


def _stub(plant: Plant, section: Section, line: np.ndarray) -> np.ndarray:
    """The capped end behind the first junction of a run, long enough to take the branch."""
    along = line[0] - line[1]
    branch = plant.upstream(section.name)[0]
    reach = 0.5 * float(branch.diameter.m_as("m")) + 0.4 * float(section.diameter.m_as("m"))
    return np.array([line[0] + along / max(np.hypot(*along), 1e-9) * reach, line[0]])


def _boxes(plant: Plant, lines: dict[str, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Each appliance as a box: below an outlet that leaves upward, beside one that leaves level."""
    outlets = [lines[feed][0] for feed in plant.feeds]
    places = sorted(float(point[0]) for point in outlets)
    spacing = min((b - a for a, b in pairwise(places)), default=_WIDEST_BOX / 0.6)
    width = float(np.clip(0.6 * spacing, _NARROWEST_BOX, _WIDEST_BOX))
    found = []
    for a, feed, (x, z) in zip(plant.appliances, plant.feeds, outlets, strict=True):
        step = lines[feed][1] - lines[feed][0]
        if abs(step[0]) > abs(step[1]):  # the outlet is in its side
            near = x if step[0] > 0 else x + width
            top = z + 0.75 * float(a.outlet_diameter.m_as("m"))
            found.append(np.array([[near - width, 0.0], [near, top]]))
        else:
            found.append(np.array([[x - width / 2, 0.0], [x + width / 2, max(z, 0.1)]]))
    return tuple(found)


def _crowded(plant: Plant, drawn: Elevation) -> bool:
    """Whether appliances with their own runs stand in one another's way."""
    spans, served = [], Counter(s.name for a in plant.appliances for s in plant.path(a.name))
    for a, box in zip(plant.appliances, drawn.boxes, strict=True):
        own = [drawn.lines[s.name] for s in plant.path(a.name) if served[s.name] == 1 and s.place != "outdoors"]
        below = [line for line in own if len(line) == 3] or own[:1]
        across = np.concatenate([part[:, 0] for part in (box, *below)])
        spans.append((float(across.min()), float(across.max())))
    spans.sort()
    return any(b[0] < a[1] + _GAP / 2 for a, b in pairwise(spans))


def _shell(plant: Plant, lines: dict[str, np.ndarray], boxes: Iterable[np.ndarray]):
    """Roof or wall at every place where the vent leaves the building, and words to tell the sides apart."""
    indoors = [lines[s.name] for s in plant.sections if s.place != "outdoors"]
    left = min(float(part[:, 0].min()) for part in (*indoors, *boxes)) - _OVERHANG
    shell, words = [], {}  # told once of a section, however many lead into it from indoors
    for section in plant.sections:
        for upstream in plant.upstream(section.name):
            if section.place != "outdoors" or upstream.place == "outdoors":
                continue
            (x, z), step = lines[section.name][0], lines[upstream.name][-1] - lines[upstream.name][-2]
            half = 0.5 * float(section.diameter.m_as("m"))
            if abs(step[0]) > abs(step[1]):
                wall = x - np.sign(step[0]) * (half + 0.15) if _upright(lines[section.name]) else x
                shell.append(np.array([[wall, 0.0], [wall, z + 2.0 * half + _OVERHANG]]))
                way = float(np.sign(step[0]))
                words[section.name] = (np.array([x + way * (half + 0.15), z]), "outdoors", (way, 0.0))
            else:
                shell.append(np.array([[left, z], [x + half + 2.0 * _OVERHANG, z]]))
                words[section.name] = (np.array([x, z]), "outdoors", (0.0, 1.0))
    return tuple(shell), list(words.values())


def _upright(line: np.ndarray) -> bool:
    return abs(line[1, 0] - line[0, 0]) < abs(line[1, 1] - line[0, 1])


def point_at(line: np.ndarray, share: float) -> np.ndarray:
    """The point at a share of a line's length."""
    lengths = np.hypot(*np.diff(line, axis=0).T)
    so_far = np.concatenate([[0.0], lengths.cumsum()])
    return np.array([np.interp(share * so_far[-1], so_far, line[:, k]) for k in (0, 1)])
