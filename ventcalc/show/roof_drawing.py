"""Roof drawing: a terminal and what governs it, in plan and in section, to scale.

The plan shows all there is; the section is cut through the vent and the governing point. Things carry numbers, the
key below names them, so that no lettering lies on the drawing. Lengths stand on dimension lines outside of it. Nothing
is told by color alone.
"""

from collections.abc import Sequence
from textwrap import shorten, wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from ventcalc.building.clearance_words import length_text, requirement
from ventcalc.building.clearances import Finding
from ventcalc.building.code_rules import CHECK_EDITION, FAIL, READING, VERDICTS
from ventcalc.building.plan_geometry import inside
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.terminal import Terminal
from ventcalc.show.plots import BLUE, GREY, HALO, INK, PALE, POINTS, RUST, SIZE, WIDTH, plain_axes, unit_label
from ventcalc.show.svg import text_width
from ventcalc.units import Q_, shown_unit

_LEAST_AROUND, _CLOSE_AROUND = 3.5, 1.8  # m shown in a section on either side of the vent; where all is close by
_MOST_AROUND = 16.0
_BEYOND = 1.5  # m shown beyond the governing point
_MARGIN = 0.8  # m above and below
_TALLEST_PLAN = 3.5  # inch
_BALLOON = 7.5  # points, radius
_BESIDE, _BELOW = 76.0, 32.0  # points that dimension lines and their lettering need
_KEY_COLUMNS, _LINE = 3, 13.5  # columns of the key; points from line to line


def governing(findings: Sequence[Finding]) -> Finding | None:
    """The finding worth drawing: what fails by most, else a reading, else the pass with least to spare."""

    def weight(f: Finding):
        raise_by = np.inf if f.raise_by is None else f.raise_by.m_as("m")
        spare = np.inf if f.spare is None else f.spare.m_as("m")
        return (VERDICTS.index(f.verdict), not f.broken, -raise_by if f.broken else spare)

    drawn = [f for f in findings if f.point is not None]
    return min(drawn, key=weight) if drawn else None


def roof_drawing(scene: Scene, terminal: Terminal, finding: Finding | None, system: str = "US") -> Figure:
    """Plan and section of ``scene`` with the ``terminal`` and one ``finding`` on it, and the key to the numbers."""
    things = numbered(scene)
    span = np.ptp(_extent(scene, terminal), axis=0)
    left, right, gap, head = 0.62, 0.08, 0.5, 0.1
    wide = WIDTH - left - right
    plan_height = min(wide * span[1] / span[0], _TALLEST_PLAN)
    (low, high), (bottom, top) = _window(scene, terminal, finding)
    section_height = float(np.clip(wide * (top - bottom) / (high - low), 1.4, 2.4))
    caption = _caption(finding, system)
    words = len(caption) * _LINE / POINTS
    rows = -(-len(things) // _KEY_COLUMNS)
    key = (rows + 0.6) * _LINE / POINTS
    height = head + plan_height + gap + words + section_height + gap - 0.12 + key
    figure = Figure((WIDTH, height))
    y = height - head - plan_height
    plan = figure.add_axes((left / WIDTH, y / height, wide / WIDTH, plan_height / height))
    draw_plan(plan, scene, terminal, finding, system)
    y -= gap + words + section_height
    section = figure.add_axes((left / WIDTH, y / height, wide / WIDTH, section_height / height))
    draw_section(section, scene, terminal, finding, system)
    for k, line in enumerate(caption):
        at = (y + section_height + words - 0.02 - k * _LINE / POINTS) / height
        figure.text(left / WIDTH, at, line, size=SIZE, color=INK, va="top", weight="bold" if k == 0 else "normal")
    _write_key(figure, things, key, height, left, system)
    return figure


def _caption(finding: Finding | None, system: str) -> list[str]:
    """Verdict, rule and section in lines that fit the page."""
    if finding is None or finding.row is None:
        return ["no rule has anything to measure here"]
    first = f"{finding.rule}: {finding.verdict}"
    rest = f"{requirement(finding.row, system)}; {finding.row.reference}; {CHECK_EDITION}"
    return [shorten(first, 80, placeholder=" ..."), *wrap(rest, 88)[:3]]


def _write_key(figure: Figure, things, key: float, height: float, left: float, system: str) -> None:
    words = list(_key_words(things, system).items())
    rows = -(-len(words) // _KEY_COLUMNS)
    parts = [words[column * rows : (column + 1) * rows] for column in range(_KEY_COLUMNS)]
    named = [[shorten(w, 27, placeholder=" ...") for _, w in part] for part in parts]
    wide = [0.26 + max((text_width(w, SIZE) for w in names), default=0.0) / POINTS for names in named]
    gap = max((WIDTH - left - sum(wide)) / _KEY_COLUMNS, 0.1)
    style, x = {"size": SIZE, "va": "top", "color": INK, "linespacing": 1.3}, left
    for part, names, taken in zip(parts, named, wide, strict=True):
        for at, lines in ((x, [mark for mark, _ in part]), (x + 0.26, names)):
            figure.text(at / WIDTH, (key - 0.08) / height, "\n".join(lines), **style)
        x += taken + gap


def numbered(scene: Scene) -> dict[str, RoofPlane | Obstacle | Opening | Mark]:
    """Things of a scene by the number that they carry in a drawing."""
    return {str(k): thing for k, thing in enumerate((*scene.planes, *scene.placed), start=1)}


def _key_words(things, system: str) -> dict[str, str]:
    def words(thing):
        if isinstance(thing, RoofPlane):
            return f"{thing.name}, {thing.pitch:.3g}/12" if thing.pitch > 0.005 else f"{thing.name}, flat"
        if isinstance(thing, Obstacle):
            return f"{thing.name}, top {length_text(Q_(thing.span[1], 'm'), system)}"
        return thing.name

    return {mark: words(thing) for mark, thing in things.items()}


# --- Plan -----------------------------------------------------------------------------------------------------


def _extent(scene: Scene, terminal: Terminal) -> np.ndarray:
    """Lower left and upper right corner of the plan [m], margins included."""
    points = np.concatenate([terminal.at, *(t.shape for t in (*scene.planes, *scene.placed))])
    low, high = points.min(axis=0), points.max(axis=0)
    edge = max(0.03 * float((high - low).max()), 1.0)
    return np.array([low - edge, high + edge])


def draw_plan(axes: Axes, scene: Scene, terminal: Terminal, finding: Finding | None, system: str) -> None:
    """The scene from above with the vent, the reach of the rule and the line to the governing point."""
    meter = float(Q_(1.0, "m").m_as(shown_unit("height", system)))
    low, high = _extent(scene, terminal) * meter
    _scale(axes, (low[0], high[0]), (low[1], high[1]))
    for plane in scene.planes:
        _draw_plane(axes, plane, meter)
    for mark in scene.marks:
        _draw_mark(axes, mark, meter)
    for obstacle in scene.obstacles:
        shape = obstacle.shape * meter
        if obstacle.closed:
            axes.add_patch(Polygon(shape, fc="#c9cfd6", ec=INK, lw=1.2, hatch="///", zorder=3))
        else:
            axes.plot(*shape.T, color=INK, lw=3.5, solid_capstyle="butt", zorder=3)
    for opening in scene.openings:
        shape = opening.shape * meter
        line = {"solid_capstyle": "butt", "zorder": 5}
        axes.plot(*shape.T, color=INK, lw=6.5, marker="s", ms=6.5, **line)
        axes.plot(*shape.T, color="white", lw=3.5, marker="s", ms=3.5, **line)
    axis = terminal.at[0] * meter
    _draw_reach(axes, terminal, finding, axis, meter)
    axes.add_patch(Circle(axis, terminal.radius * meter, fc=INK, ec=INK, zorder=8))
    axes.plot(*axis, marker="o", ms=5, color=INK, zorder=8)
    _draw_numbers(axes, scene, axis, finding, meter)
    axes.set_ylabel(f"plan, {unit_label('height', system)}")


def _draw_plane(axes: Axes, plane: RoofPlane, meter: float) -> None:
    """Outline, and a thin arrow up the slope."""
    shape = plane.shape * meter
    axes.add_patch(Polygon(shape, fc=PALE, ec=INK, lw=1.2, zorder=1))
    steep = float(np.hypot(*plane.plane[0]))
    if steep > 1e-6:
        middle, way = shape.mean(axis=0), plane.plane[0] / steep
        reach = 0.22 * np.abs((shape - middle) @ way).max()
        axes.annotate(
            "",
            middle + way * reach,
            middle - way * reach,
            arrowprops={"arrowstyle": "->", "color": GREY, "lw": 1.2},
            zorder=2,
        )


_LINES = {"property line": (0, (9, 3, 2, 3)), "walkway": "solid"}


def _draw_mark(axes: Axes, mark: Mark, meter: float) -> None:
    shape = mark.shape * meter
    if mark.kind == "walkway":
        axes.add_patch(Polygon(shape, fc="white", ec=GREY, lw=0.8, hatch="....", zorder=1))
    elif len(shape) > 1:
        axes.plot(*shape.T, color=INK, lw=1.4, ls=_LINES.get(mark.kind, "solid"), zorder=2)
    else:
        axes.plot(*shape.T, marker="P", ms=8, color=INK, mec="white", zorder=5)


def _draw_reach(axes: Axes, terminal: Terminal, finding: Finding | None, axis: np.ndarray, meter: float) -> None:
    """The circle within which the rule counts, and the line from the vent to the governing point."""
    if finding is None or finding.point is None or finding.gap is None:
        return
    row = finding.row
    reach = {"above anything": row.within, "above": row.within, "around": row.beside}.get(row.form, row.value)
    radius = (reach + terminal.radius) * meter
    axes.add_patch(Circle(axis, radius, fc="none", ec=RUST, lw=1.4, ls=(0, (5, 3)), zorder=6))
    point = finding.point.m_as("m")[:2] * meter
    axes.plot(*np.array([axis, point]).T, color=RUST, lw=2.6, zorder=7)
    axes.plot(*point, marker="X", ms=9, color=RUST, mec="white", zorder=9)


def _draw_numbers(axes: Axes, scene: Scene, axis: np.ndarray, finding: Finding | None, meter: float) -> None:
    """The things' numbers, each near its thing and clear of the others, of the vent and of the governing line."""
    low = np.array([axes.get_xlim()[0], axes.get_ylim()[0]])
    span = np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())])
    per_unit = float(np.min(_inches(axes) * POINTS / span))  # points
    taken = [axis]
    if finding is not None and finding.point is not None:
        point = finding.point.m_as("m")[:2] * meter
        taken += [axis + t * (point - axis) for t in np.linspace(0.0, 1.0, 12)]
    spots = []
    small = [t.shape * meter for t in (*scene.openings, *scene.marks) if len(t.shape) < 3]  # a ring would hide them
    small = np.vstack([np.linspace(s[0], s[-1], 9) for s in small]) if small else np.empty((0, 2))
    for mark, thing in numbered(scene).items():
        shape = thing.shape * meter
        wanted = shape.mean(axis=0)
        area = isinstance(thing, RoofPlane) or thing.closed
        first = 0.0 if area and not isinstance(thing, RoofPlane) else 1.7 * _BALLOON
        spot = _free_spot(wanted, (taken, small), first / per_unit, per_unit, low, low + span)
        taken.append(spot)
        spots.append(spot)
        axes.text(*spot, mark, size=SIZE, ha="center", va="center_baseline", color=INK, zorder=11)
    balloons = {"ls": "", "marker": "o", "ms": 2 * _BALLOON, "mfc": "white", "mec": INK, "mew": 0.9}
    axes.plot(*np.array(spots).T, zorder=10, **balloons)


def _free_spot(wanted, taken, first: float, per_unit: float, low, high) -> np.ndarray:
    """The place nearest to ``wanted``, at least ``first`` from it, that is clear of what is ``taken`` (by rings and the
    vent, by small things) and on the paper."""
    clear, edge = 2.3 * _BALLOON / per_unit, 1.1 * _BALLOON / per_unit
    rings_taken, small = taken
    hidden = 1.5 * _BALLOON / per_unit
    rings = [first + k * 0.9 * _BALLOON / per_unit for k in range(14)]
    best, room = wanted, -np.inf
    for ring in rings:
        for angle in np.arange(0.0, 360.0, 30.0) + 20.0:
            spot = wanted + ring * np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
            if (spot < low + edge).any() or (spot > high - edge).any():
                continue
            nearest = min(float(np.hypot(*(spot - t))) for t in rings_taken)
            if len(small):  # as far as a ring keeps from a ring, in proportion
                nearest = min(nearest, float(np.hypot(*(small - spot).T).min()) * clear / hidden)
            if nearest >= clear:
                return spot
            if nearest > room:
                best, room = spot, nearest
            if ring == 0.0:
                break
    return best


# --- Section ---------------------------------------------------------------------------------------------------


def _direction(scene: Scene, terminal: Terminal, finding: Finding | None) -> np.ndarray:
    """Which way the section is cut: to the governing point, else up the roof that the vent stands on."""
    if finding is not None and finding.point is not None:
        way = finding.point.m_as("m")[:2] - terminal.at[0]
        if np.hypot(*way) > terminal.radius + 0.05:
            return way / np.hypot(*way)
    for plane in scene.planes:
        steep = float(np.hypot(*plane.plane[0]))
        if steep > 1e-6 and inside(terminal.at, plane.shape)[0]:
            return plane.plane[0] / steep
    return np.array([1.0, 0.0])


def _cuts(shape: np.ndarray, origin: np.ndarray, way: np.ndarray) -> list[tuple[float, float]]:
    """Spans (from, to) [m] along a line through ``origin`` that lie inside an outline."""
    across = np.array([-way[1], way[0]])
    off, along = (shape - origin) @ across, (shape - origin) @ way
    meets = []
    for k in range(len(shape)):
        j = (k + 1) % len(shape)
        if (off[k] > 0) != (off[j] > 0):
            t = off[k] / (off[k] - off[j])
            meets.append(along[k] + t * (along[j] - along[k]))
    meets.sort()
    return list(zip(meets[::2], meets[1::2], strict=False))


def _window(scene: Scene, terminal: Terminal, finding: Finding | None) -> tuple[tuple, tuple]:
    """What a section shows [m]: from and to along the cut, lowest and highest."""
    far = 0.0
    heights = [terminal.low + terminal.cap, terminal.low]
    if finding is not None and finding.point is not None:
        point = finding.point.m_as("m")
        far = min(float(np.hypot(*(point[:2] - terminal.at[0]))), _MOST_AROUND)
        heights.append(float(point[2]))
        thing = _thing(scene, finding.thing)
        if thing is not None and not isinstance(thing, (RoofPlane, Mark)):
            heights += [thing.span[1], thing.span[0]] if isinstance(thing, Opening) else [thing.span[1]]
        if finding.need is not None:
            heights.append(finding.need.m_as("m"))
    close = far < 0.5 * _CLOSE_AROUND
    around, beyond = (_CLOSE_AROUND, 0.0) if close else (_LEAST_AROUND, _BEYOND)
    low, high = -max(around, 0.35 * far), max(around, far + beyond)
    way, origin = _direction(scene, terminal, finding), terminal.at[0]
    for plane in scene.planes:
        for start, end in _cuts(plane.shape, origin, way):
            ends = np.clip([start, end], low, high)
            if ends[1] > ends[0]:
                heights += list(plane.height(origin + ends[:, None] * way))
    return (low, high), (min(heights) - _MARGIN, max(heights) + _MARGIN)


def _thing(scene: Scene, name: str):
    return next((t for t in (*scene.planes, *scene.placed) if t.name == name), None)


def draw_section(axes: Axes, scene: Scene, terminal: Terminal, finding: Finding | None, system: str) -> None:
    """The vent and the governing point in one upright plane, with how far apart they are and how high it must be."""
    meter = float(Q_(1.0, "m").m_as(shown_unit("height", system)))
    (low, high), (bottom, top) = _window(scene, terminal, finding)
    way, origin = _direction(scene, terminal, finding), terminal.at[0]
    wide, tall = _inches(axes) * POINTS
    room = (high - low) * max(0.2, _BESIDE / (wide - _BESIDE))  # for the upright dimension line
    below = (top - bottom) * max(0.15, _BELOW / (tall - _BELOW))  # for the level one
    _scale(axes, (low * meter, (high + room) * meter), ((bottom - below) * meter, top * meter))
    _draw_cut_planes(axes, scene, origin, way, (low, high, bottom), meter)
    _draw_cut_things(axes, scene, finding, origin, way, (low, high, bottom, top), meter)
    _draw_vent(axes, scene, terminal, bottom, meter)
    if finding is not None and finding.point is not None:
        _draw_governing(axes, terminal, finding, way, (low, high, bottom, below, room), meter, system)
    axes.set_xlabel(f"section: distance from the vent, {unit_label('height', system)}")
    axes.set_ylabel(f"height, {unit_label('height', system)}")


def _draw_cut_planes(axes: Axes, scene: Scene, origin, way, frame, meter: float) -> None:
    low, high, bottom = frame
    for plane in scene.planes:
        for start, end in _cuts(plane.shape, origin, way):
            s = np.clip([start, end], low, high)
            if s[1] <= s[0]:
                continue
            z = plane.height(origin + s[:, None] * way)
            axes.fill_between(s * meter, z * meter, bottom * meter, fc=PALE, ec="none", zorder=3)
            axes.plot(s * meter, z * meter, color=INK, lw=2.2, solid_capstyle="butt", zorder=4)


def _draw_cut_things(axes: Axes, scene: Scene, finding, origin, way, frame, meter: float) -> None:
    """Obstacles where the cut meets them, and whatever governs even where it is only touched."""
    low, high, bottom, top = frame
    for obstacle in scene.obstacles:
        spans = _cuts(obstacle.shape, origin, way) if obstacle.closed else []
        named = finding is not None and obstacle.name == finding.thing
        if not spans and (named or not obstacle.closed):
            along = (obstacle.shape - origin) @ way
            off = (obstacle.shape - origin) @ np.array([-way[1], way[0]])
            if named or np.ptp(np.sign(off)) == 2:
                at = (finding.point.m_as("m")[:2] - origin) @ way if named else along.mean()
                spans = [(at, at + (0.25 if obstacle.closed else 0.12))]
        for start, end in spans:
            s = np.clip([start, end], low, high)
            if s[1] > s[0]:
                z = max(bottom, obstacle.span[0], _roof_under(scene, origin + s[:, None] * way))
                size = ((s[1] - s[0]) * meter, (min(obstacle.span[1], top) - z) * meter)
                axes.add_patch(
                    Rectangle((s[0] * meter, z * meter), *size, fc="#c9cfd6", ec=INK, lw=1.2, hatch="///", zorder=2)
                )
    thing = None if finding is None else _thing(scene, finding.thing)
    if isinstance(thing, Opening):
        at = (finding.point.m_as("m")[:2] - origin) @ way
        ends = np.array(thing.span) * meter
        style = {"solid_capstyle": "butt", "zorder": 5}
        axes.plot([at * meter] * 2, ends, color=INK, lw=8, marker="_", ms=8, **style)
        axes.plot([at * meter] * 2, ends, color="white", lw=4.5, **style)
    elif isinstance(thing, Mark):
        at = (finding.point.m_as("m")[:2] - origin) @ way * meter
        if thing.kind == "walkway":
            axes.plot([at, high * meter], [thing.span[1] * meter] * 2, color=INK, lw=4.0, ls=(0, (1, 1)), zorder=3)
        else:
            axes.plot([at, at], [bottom * meter, top * meter], color=INK, lw=1.4, ls=(0, (9, 3, 2, 3)), zorder=3)


def _roof_under(scene: Scene, ends: np.ndarray) -> float:
    """The lower of the roof's heights [m] at the two ends of a cut body; minus infinity where one stands beside it."""
    heights = np.full(len(ends), -np.inf)
    for plane in scene.planes:
        heights = np.where(inside(ends, plane.shape), np.maximum(heights, plane.height(ends)), heights)
    return float(heights.min())


def _draw_vent(axes: Axes, scene: Scene, terminal: Terminal, bottom: float, meter: float) -> None:
    heights = [float(p.height(terminal.at)[0]) for p in scene.planes if inside(terminal.at, p.shape)[0]]
    foot = max([bottom, *(h for h in heights if h < terminal.low)])
    if terminal.through == "wall":
        axes.plot(0.0, terminal.low * meter, marker="o", ms=8, color=INK, zorder=8)
        return
    r = terminal.radius
    pipe = (2 * r * meter, (terminal.low - foot) * meter)
    axes.add_patch(Rectangle((-r * meter, foot * meter), *pipe, fc="white", ec=INK, lw=1.6, zorder=6))
    if terminal.cap > 0:
        hat = np.array([[-1.6 * r, 0.55 * terminal.cap], [1.6 * r, 0.55 * terminal.cap], [0.0, terminal.cap]])
        axes.add_patch(Polygon((hat + np.array([0.0, terminal.low])) * meter, fc=INK, ec=INK, zorder=6))


def _draw_governing(axes: Axes, terminal: Terminal, f: Finding, way, frame, meter: float, system: str) -> None:
    """The line to the governing point; its lengths on dimension lines beside and below the drawing."""
    low, high, bottom, below, room = frame
    point = f.point.m_as("m")
    s, z = float((point[:2] - terminal.at[0]) @ way), float(point[2])
    bad = f.verdict in (FAIL, READING) and f.broken
    color = RUST if bad else BLUE
    edge = terminal.radius if f.gap is not None else 0.0
    axes.plot(np.array([edge, s]) * meter, np.array([terminal.low, z]) * meter, color=color, lw=2.4, zorder=7)
    axes.plot(s * meter, z * meter, marker="X", ms=9, color=color, mec="white", zorder=9)
    thin = {"color": INK, "lw": 0.7, "zorder": 3}
    arrow = {"arrowstyle": "<|-|>", "color": INK, "lw": 0.9, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 9}
    if f.gap is not None and s - edge > 0.3:
        level = bottom - 0.3 * below
        for x, foot in ((edge, terminal.low), (s, z)):
            axes.plot(np.array([x, x]) * meter, np.array([foot, level - 0.15 * below]) * meter, ls=(0, (2, 2)), **thin)
        axes.annotate(
            "", (edge * meter, level * meter), (s * meter, level * meter), arrowprops=arrow, annotation_clip=False
        )
        style = {"textcoords": "offset points", "size": SIZE, "ha": "center", "va": "top", "color": INK}
        axes.annotate(length_text(f.gap, system), (0.5 * (edge + s) * meter, level * meter), (0, -5), **style)
    if f.need is not None and np.isfinite(f.need.m_as("m")):
        need, beside = f.need.m_as("m"), high + 0.18 * room
        axes.plot(
            np.array([low, beside + 0.03 * room]) * meter,
            np.array([need, need]) * meter,
            color=color,
            lw=1.3,
            ls=(0, (6, 3)),
            zorder=5,
        )
        axes.plot(np.array([edge, beside + 0.03 * room]) * meter, [terminal.low * meter] * 2, ls=(0, (2, 2)), **thin)
        if abs(need - terminal.low) > 0.02:
            axes.annotate("", (beside * meter, terminal.low * meter), (beside * meter, need * meter), arrowprops=arrow)
        off = length_text(abs(f.need - Q_(terminal.low, "m")), system, up=bad)
        words = f"{off}\n{'short' if need > terminal.low else 'to spare'}"
        middle = 0.5 * (need + terminal.low)
        axes.annotate(
            words,
            ((beside + 0.02 * room) * meter, middle * meter),
            (5, 0),
            textcoords="offset points",
            size=SIZE,
            va="center",
            color=INK,
            path_effects=HALO,
            zorder=9,
        )


def _inches(axes: Axes) -> np.ndarray:
    """Width and height of the axes' box."""
    box = axes.get_position()
    return np.array(axes.figure.get_size_inches()) * [box.width, box.height]


def _scale(axes: Axes, x: tuple[float, float], y: tuple[float, float]) -> None:
    """Limits at one scale in both directions, the axes' box filled."""
    inches = _inches(axes)
    per_inch = max((x[1] - x[0]) / inches[0], (y[1] - y[0]) / inches[1])
    more = inches * per_inch - [x[1] - x[0], y[1] - y[0]]
    axes.set_xlim(x[0] - more[0] / 2, x[1] + more[0] / 2)
    axes.set_ylim(y[0] - more[1] / 2, y[1] + more[1] / 2)
    axes.locator_params(nbins=5)
    plain_axes(axes)
