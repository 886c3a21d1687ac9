"""Drawing: the vent in elevation, to scale, with a schedule of what is drawn; and the look that all figures share.

Figures are made for printing at their own size. Nothing is told by colour alone.
"""

from itertools import pairwise
from textwrap import shorten, wrap

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle

from ventcalc.show import elevation
from ventcalc.units import Q_, show, shown_unit, unit_text
from ventcalc.vent import end_of_header
from ventcalc.vent.layout import Plant, Section

WIDTH = 6.8  # inch: what A4 and Letter leave between 20 mm margins
SIZE = 10.0  # points, the smallest lettering
POINTS = 72.0  # per inch

INK, BLUE, RUST, GREY, PALE = "#1b222b", "#1f4e79", "#b3541e", "#6f7680", "#e4e8ec"
HALO = [patheffects.withStroke(linewidth=2.5, foreground="white")]  # keeps signs legible on any ground


def unit_label(kind: str, system: str) -> str:
    """How the unit of a kind of quantity is written on an axis."""
    return unit_text(shown_unit(kind, system))


def plain_axes(axes: Axes) -> None:
    """The look of all axes: two spines, lettering of one size."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=SIZE, colors=INK)
    axes.xaxis.label.set_size(SIZE)
    axes.yaxis.label.set_size(SIZE)


def text_width(words: str) -> float:
    """A safe estimate [points] of the width of lettering."""
    return 0.62 * SIZE * len(words) + 2.0


def letters(count: int) -> list[str]:
    """Marks of the appliances in figures and tables: A, B, ... Z, AA, AB, ..."""
    return [(chr(64 + i // 26) if i >= 26 else "") + chr(65 + i % 26) for i in range(count)]


# --- The drawing ---

_MOST_HEIGHT = 4.5  # inch of the drawing itself
_EDGE = np.array([[22.0, 34.0], [64.0, 34.0]])  # points left free for marks: left and low, right and high
_TALL = 230.0  # points from which on a drawing has room for the long label of its height
_LINE = 14.0  # points from line to line of the schedule
_BALLOON = 16.0  # points across


def layout_drawing(plant: Plant, system: str = "US") -> Figure:
    """The vent in elevation, to scale, with a schedule of its sections and appliances.

    Runs are unfolded into one plane; a run that there is no room for is seen end-on, one that has to be
    moved is drawn apart with marks, and a very tall stack is broken. ``plant``: what is drawn.
    """
    unit = shown_unit("height", system)
    drawing = elevation.unfold(plant)
    metre = float(Q_(1.0, "m").m_as(unit))
    low, high = drawing.bounds
    span = (high - low) * metre
    left, right = 0.75 * POINTS, 0.1 * POINTS
    room = np.array([WIDTH * POINTS - left - right, _MOST_HEIGHT * POINTS]) - _EDGE.sum(axis=0)
    scale = float(np.min(room / span))  # points per unit
    rows = _schedule(plant, system)
    table_height = _schedule_height(rows)
    drawing_height = span[1] * scale + _EDGE[:, 1].sum()
    height = (drawing_height + table_height) / POINTS
    figure = Figure((WIDTH, height))
    bottom = table_height / POINTS / height
    width = WIDTH * POINTS - left - right
    axes = figure.add_axes((left / POINTS / WIDTH, bottom, width / POINTS / WIDTH, drawing_height / POINTS / height))
    slack = width - span[0] * scale - _EDGE[:, 0].sum()
    corner = low * metre - (_EDGE[0] + [slack / 2, 0.0]) / scale
    axes.set_xlim(corner[0], corner[0] + width / scale)
    axes.set_ylim(corner[1], corner[1] + drawing_height / scale)
    plain_axes(axes)
    axes.spines["bottom"].set_visible(False)
    axes.set_xticks([])
    _height_ticks(axes, high[1] * metre, drawing.cut[0] * metre, drawing.cut[1] * metre)
    words = "height above the boiler-room floor" if drawing_height > _TALL else "height"
    axes.set_ylabel(f"{words}, {unit_label('height', system)}")

    paper = _Paper(axes, scale, corner)
    _draw_building(paper, drawing, metre)
    _draw_pipes(paper, plant, drawing, metre)
    _draw_appliances(paper, drawing, metre)
    _draw_break(paper, drawing, metre, unit_text(unit))
    _draw_ends(paper, plant, drawing, metre)
    _draw_far_end(paper, plant, drawing, metre)
    _draw_numbers(paper, plant, drawing, metre)
    _draw_scale_bar(paper, max(span), unit_text(unit))
    _write_schedule(figure, rows)
    return figure


def _height_ticks(axes: Axes, top: float, cut: float, left_out: float) -> None:
    """Heights from the floor to the top, those above a break with what was left out added."""
    if not left_out:
        axes.set_yticks([t for t in axes.get_yticks() if 0 <= t <= top])
        axes.spines["left"].set_bounds(0, top)
        return
    step = np.diff(axes.get_yticks())[0]
    low = [t for t in axes.get_yticks() if 0 <= t < cut]
    high = [t - left_out for t in np.arange(0.0, top + left_out + step / 2, step) if cut < t - left_out <= top]
    axes.set_yticks([*low, *high], [f"{t:g}" for t in [*low, *(h + left_out for h in high)]])
    axes.spines["left"].set_visible(False)
    gap = 0.015 * top
    for ends in ((0.0, cut - gap), (cut + gap, top)):
        axes.plot([0, 0], ends, color=INK, lw=0.8, transform=axes.get_yaxis_transform(), clip_on=False)


class _Paper:
    """Axes drawn at a known scale, and what has been put on them already, in points from the lower left corner."""

    def __init__(self, axes: Axes, scale: float, corner: np.ndarray):
        self.axes, self.scale, self.corner = axes, scale, corner
        self.size = np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())]) * scale
        self.dots = np.empty((0, 3))  # x, y, radius of what must stay visible
        self.boxes: list[tuple[float, float, float, float]] = []  # x0, y0, x1, y1

    def points(self, where) -> np.ndarray:
        return (np.asarray(where, float) - self.corner) * self.scale

    def keep_clear(self, line: np.ndarray, radius: float) -> None:
        """Nothing may be put on this line (plot units) of a half-width in points."""
        for a, b in pairwise(self.points(line)):
            steps = np.linspace(0.0, 1.0, max(int(np.hypot(*(b - a)) / 3.0), 1) + 1)[:, None]
            spots = a + steps * (b - a)
            self.dots = np.vstack([self.dots, np.column_stack([spots, np.full(len(spots), radius)])])

    def keep_box_clear(self, low, high) -> None:
        self.boxes.append((*self.points(low), *self.points(high)))

    def free(self, centre, size) -> bool:
        """Whether a box of this size (points) is free there and on the paper."""
        low, high = centre - size / 2 - 2.0, centre + size / 2 + 2.0
        if (low < 0).any() or (high > self.size).any():
            return False
        gap = np.maximum(np.maximum(low - self.dots[:, :2], self.dots[:, :2] - high), 0.0)
        if (np.hypot(gap[:, 0], gap[:, 1]) < self.dots[:, 2] + 1.0).any():
            return False
        return not any(x0 < high[0] and x1 > low[0] and y0 < high[1] and y1 > low[1] for x0, y0, x1, y1 in self.boxes)

    def find(self, anchors, size, towards=(0.0, 0.0)) -> tuple[np.ndarray, np.ndarray]:
        """The nearest free place for a box of this size, and the anchor (plot units) it belongs to, as points.

        Where ``towards`` is not zero the place lies on that side of the anchor.
        """
        size = np.asarray(size, float)
        turns = np.radians(np.arange(90.0, 450.0, 15.0))
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        ways = ways[ways @ np.asarray(towards, float) > 0.2] if np.any(towards) else ways
        starts = self.points(anchors)
        places = [
            (anchor + way * (distance + size / 2), anchor)
            for distance in (6, 10, 15, 21, 28, 36, 46, 58, 72, 90, 115, 145, 180)
            for anchor in starts
            for way in ways
        ]
        for careful in (True, False):  # a leader across a pipe is better than an overlap
            for centre, anchor in places:
                if self.free(centre, size) and not self.crosses(anchor, centre, careful):
                    self.boxes.append((*(centre - size / 2), *(centre + size / 2)))
                    return centre, anchor
        return places[0]

    def crosses(self, start, end, pipes: bool) -> bool:
        """Whether a leader would run over something written or an appliance, or, past its own, a pipe."""
        for spot in start + np.linspace(0.0, 1.0, max(int(np.hypot(*(end - start)) / 3.0), 2))[:, None] * (end - start):
            if any(x0 < spot[0] < x1 and y0 < spot[1] < y1 for x0, y0, x1, y1 in self.boxes):
                return True
            past = np.hypot(*(spot - start)) > 12.0
            if pipes and past and (np.hypot(*(self.dots[:, :2] - spot).T) < self.dots[:, 2]).any():
                return True
        return False

    def lead(self, start, end) -> None:
        """A leader between two points (points from the corner), kept clear from then on."""
        line = np.array([self.back(start), self.back(end)])
        self.axes.plot(*line.T, color=INK, lw=0.7, zorder=8)
        self.keep_clear(line, 0.5)

    def back(self, points) -> np.ndarray:
        return np.asarray(points) / self.scale + self.corner


def _draw_building(paper: _Paper, drawing: elevation.Elevation, metre: float) -> None:
    """Floor, and the roof or wall where the vent leaves the building."""
    axes = paper.axes
    left, right = (x * metre for x in drawing.floor)
    ground = 5.0 / paper.scale
    axes.plot([left, right], [0, 0], color=INK, lw=1.4)
    axes.add_patch(Rectangle((left, -ground), right - left, ground, fc="none", ec=GREY, lw=0, hatch="//////"))
    paper.keep_clear(np.array([[left, 0], [right, 0]]), 5.0)
    for line in drawing.shell:
        a, b = line * metre
        thick = 4.0 / paper.scale
        if a[1] == b[1]:
            box = Rectangle((a[0], a[1] - thick / 2), b[0] - a[0], thick, fc="white", ec=GREY, lw=0.8, hatch="////////")
        else:
            box = Rectangle((a[0] - thick / 2, a[1]), thick, b[1] - a[1], fc="white", ec=GREY, lw=0.8, hatch="////////")
        axes.add_patch(box)
        paper.keep_clear(line * metre, 3.0)


_OUTDOORS = "#c3cbd3"  # tone of a pipe outdoors


def _draw_pipes(paper: _Paper, plant: Plant, drawing: elevation.Elevation, metre: float) -> None:
    """Every section as a double line of its true diameter; those outdoors are toned."""
    wide = {s.name: float(s.diameter.m_as("m")) * metre * paper.scale for s in plant.sections}
    lines = {name: line * metre for name, line in drawing.lines.items()}
    parts = [(s, lines[s.name]) for s in plant.order]
    parts += [(plant.section(name), line * metre) for name, line in drawing.stubs.items()]
    for edge in (1.6, 0.0):  # black first, then the lighter inside: where pipes meet they open into one another
        for section, line in parts:
            fill = "white" if section.place != "outdoors" else _OUTDOORS
            if np.ptp(line, axis=0).max() * paper.scale < 0.5:  # seen end-on
                spot = Circle(line[-1], wide[section.name] / 2 / paper.scale, fc=fill, ec=INK, lw=0.9, zorder=5)
                paper.axes.add_patch(spot)
                continue
            if section.into in wide and section.junction is None and line is not drawing.stubs.get(section.name):
                bend = min(wide[section.name], wide[section.into]) + edge
                spot = Circle(line[-1], bend / 2 / paper.scale, fc=INK if edge else fill, lw=0, zorder=3 if edge else 4)
                paper.axes.add_patch(spot)
            paper.axes.plot(
                *line.T,
                color=INK if edge else fill,
                lw=wide[section.name] + edge,
                solid_capstyle="butt",
                solid_joinstyle="miter",
                zorder=3 if edge else 4,
            )
    for section, line in parts:
        paper.keep_clear(line, wide[section.name] / 2 + 1.0)
    for name, line in drawing.stubs.items():
        _across(paper, line[0] * metre, line[1] * metre - line[0] * metre, wide[name] / 2 + 0.8, 2.0)
    for point in drawing.joints:
        paper.axes.plot(*(point * metre), "o", ms=4.2, mfc=INK, mec="white", mew=0.6, zorder=7)


def _across(paper: _Paper, point, along, half: float, thickness: float) -> None:
    """A stroke across a pipe at a point, ``half`` points to each side."""
    normal = np.array([-along[1], along[0]]) / max(np.hypot(*along), 1e-9) * half / paper.scale
    paper.axes.plot(*np.array([point - normal, point + normal]).T, color=INK, lw=thickness, zorder=6)


def _draw_appliances(paper: _Paper, drawing: elevation.Elevation, metre: float) -> None:
    for letter, box in zip(letters(len(drawing.boxes)), drawing.boxes, strict=True):
        (x, z), (x1, z1) = box * metre
        paper.axes.add_patch(Rectangle((x, z), x1 - x, z1 - z, fc=PALE, ec=INK, lw=1.2, zorder=2))
        paper.keep_box_clear((x, z), (x1, z1))
        paper.axes.text(
            (x + x1) / 2,
            z + 0.42 * (z1 - z),
            letter,
            size=SIZE,
            weight="bold",
            ha="center",
            va="center",
            zorder=8,
            path_effects=[patheffects.withStroke(linewidth=2.5, foreground=PALE)],
        )


def _draw_break(paper: _Paper, drawing: elevation.Elevation, metre: float, unit: str) -> None:
    """Two slanting strokes where a tall pipe is broken, and how much is left out."""
    cut, left_out = (v * metre for v in drawing.cut)
    if not left_out:
        return
    for line in drawing.lines.values():
        for a, b in pairwise(line * metre):
            if min(a[1], b[1]) < cut < max(a[1], b[1]):
                reach, rise = 16.0 / paper.scale, 3.0 / paper.scale
                slant = np.array([[a[0] - reach, cut - rise], [a[0] + reach, cut + rise]])
                gap = np.array([0.0, 2.0 / paper.scale])
                paper.axes.fill(*np.vstack([slant - gap, slant[::-1] + gap]).T, fc="white", lw=0, zorder=6)
                for side in (-gap, gap):
                    paper.axes.plot(*(slant + side).T, color=INK, lw=1.0, zorder=7)
                paper.keep_clear(slant, 4.0)
                _word(paper, slant[0], f"{left_out:.3g} {unit} left out")


def _draw_ends(paper: _Paper, plant: Plant, drawing: elevation.Elevation, metre: float) -> None:
    """Caps, marks between parts drawn apart, and words: where it ends, what lies outdoors."""
    for end in plant.terminations:
        last = plant.upstream(end.name)[0]
        line = drawing.lines[last.name] * metre
        tip, along = line[-1], line[-1] - line[-2]
        along = along / max(np.hypot(*along), 1e-9)
        half = float(last.diameter.m_as("m")) * metre / 2 + 2.0 / paper.scale
        if end.cap != "open end":
            away, normal = tip + along * max(half * 0.5, 2.5 / paper.scale), np.array([-along[1], along[0]])
            hat = np.array([away - normal * half * 1.5, away + along * half * 0.8, away + normal * half * 1.5])
            hat = hat if abs(along[1]) > 0.7 else np.array([away - normal * half * 1.3, away + normal * half * 1.3])
            paper.axes.plot(*hat.T, color=INK, lw=1.6, solid_joinstyle="miter", zorder=6)
            paper.keep_clear(hat, 2.0)
        _word(paper, tip + along * 8.0 / paper.scale, shorten(f"{end.name}: {end.cap}", 40, placeholder="..."))
    for at, words, towards in drawing.words:
        _word(paper, at * metre, words, towards)


def _word(paper: _Paper, anchor, words: str, towards=(0.0, 0.0)) -> None:
    """Write words near a point, on the side that ``towards`` names."""
    centre, _ = paper.find([anchor], (text_width(words), SIZE * 1.25), towards)
    paper.axes.text(*paper.back(centre), words, size=SIZE, ha="center", va="center", color=INK, zorder=8)


def _draw_numbers(paper: _Paper, plant: Plant, drawing: elevation.Elevation, metre: float) -> None:
    """A number in a ring beside every section, which the schedule explains."""
    for number, section in enumerate(plant.order, 1):
        line = drawing.lines[section.name] * metre
        anchors = [_at(line, share) for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
        centre, anchor = paper.find(anchors, (_BALLOON, _BALLOON))
        paper.lead(anchor, centre)
        centre, anchor = paper.back(centre), paper.back(anchor)
        paper.axes.plot(*anchor, "o", ms=2.2, color=INK, zorder=8)
        paper.axes.add_patch(
            Circle(centre, 0.5 * _BALLOON / paper.scale, fc="white", ec=INK, lw=0.9, zorder=9),
        )
        paper.axes.text(*centre, str(number), size=SIZE, ha="center", va="center_baseline", zorder=10)


def _draw_far_end(paper: _Paper, plant: Plant, drawing: elevation.Elevation, metre: float) -> None:
    """A diamond where the header begins: there the map of states is read."""
    if len(plant.appliances) > 1:
        far = end_of_header.far_end(plant)
        at = drawing.stubs.get(far, drawing.lines[far])[0] * metre
        paper.axes.plot(*at, "D", ms=7.0, mfc="white", mec=INK, mew=1.4, zorder=11)
        paper.keep_clear(np.array([at, at]), 5.0)


def _at(line: np.ndarray, share: float) -> np.ndarray:
    """The point at a share of a line's length."""
    lengths = np.hypot(*np.diff(line, axis=0).T)
    so_far = np.concatenate([[0.0], lengths.cumsum()])
    return np.array([np.interp(share * so_far[-1], so_far, line[:, k]) for k in (0, 1)])


def _draw_scale_bar(paper: _Paper, span: float, unit: str) -> None:
    """A bar of a round length, about a fifth of the drawing, below the floor."""
    rough = span / 5.0
    decade = 10.0 ** np.floor(np.log10(rough))
    length = decade * max(f for f in (1.0, 2.0, 5.0) if f * decade <= rough)
    right = paper.axes.get_xlim()[1] - 4.0 / paper.scale
    low = paper.axes.get_ylim()[0] + 3.0 / paper.scale
    thick = 4.0 / paper.scale
    for k, fill in enumerate((INK, "white")):
        paper.axes.add_patch(
            Rectangle((right - length + k * length / 2, low), length / 2, thick, fc=fill, ec=INK, lw=0.9, zorder=8)
        )
    paper.axes.text(
        right - length - 5.0 / paper.scale,
        low + thick / 2,
        f"{length:g} {unit}",
        size=SIZE,
        ha="right",
        va="center",
    )


_DIAMOND = "\N{WHITE DIAMOND}"
_HEADS = ("", "section", "length", "diameter", "fittings and joints")
_COLUMNS = (0.0, 26.0, 156.0, 208.0, 266.0)  # points from the left
_MOST_ROWS = 24  # beyond it the schedule stands in two columns and leaves out the fittings
_HALF_COLUMNS = (0.0, 24.0, 140.0, 190.0)
_HALF = 245.0  # points from column to column
_REST_WIDTH = 36  # characters


def _schedule(plant: Plant, system: str) -> list[tuple[str, ...]]:
    """Rows of the schedule: mark, name, length, diameter and, while they are few, the fittings."""
    entries = [
        (str(k), s.name, show(s.length, system, "height"), show(s.diameter, system, "diameter"), _fittings(s))
        for k, s in enumerate(plant.order, 1)
    ]
    for letter, a in zip(letters(len(plant.appliances)), plant.appliances, strict=True):
        words = f"outlet at {show(a.outlet_height, system, 'height')}, category {a.category}"
        entries.append((letter, a.name, "", show(a.outlet_diameter, system, "diameter"), words))
    if len(plant.appliances) > 1:
        entries.append((_DIAMOND, "end of the header", "", "", "where its pressure is read"))
    if len(entries) <= _MOST_ROWS:
        return [row for entry in entries for row in _run_on(entry, 21)]
    return [row for entry in entries for row in _run_on(entry[:4], 18)]


def _run_on(entry: tuple[str, ...], name_width: int) -> list[tuple[str, ...]]:
    """An entry as one row, or more where its name or its last words are long."""
    columns = [[entry[0]], wrap(entry[1], name_width), *([words] for words in entry[2:4])]
    columns += [wrap(words, _REST_WIDTH) for words in entry[4:]]
    count = max(len(column) for column in columns)
    return list(zip(*(column + [""] * (count - len(column)) for column in columns), strict=True))


def _schedule_height(rows: list[tuple[str, ...]]) -> float:
    """Points that the schedule takes."""
    lines = len(rows) if len(rows[0]) == len(_COLUMNS) else -(-len(rows) // 2)
    return _LINE * (lines + 2.2)


def _fittings(section: Section) -> str:
    counted = [f"{n} × {f}" if (n := section.fittings.count(f)) > 1 else f for f in dict.fromkeys(section.fittings)]
    joins = [f"enters by {section.junction}"] if section.junction else []
    return ", ".join(counted + joins) or "no fittings"


def _write_schedule(figure: Figure, rows: list[tuple[str, ...]]) -> None:
    tall, wide = figure.get_figheight() * POINTS, figure.get_figwidth() * POINTS
    top = _schedule_height(rows) - 0.2 * _LINE

    def put(x, y, words, **style):
        figure.text((x + 8.0) / wide, y / tall, words, size=SIZE, color=INK, va="baseline", **style)

    whole = len(rows[0]) == len(_COLUMNS)
    columns = _COLUMNS if whole else _HALF_COLUMNS
    half = len(rows) if whole else -(-len(rows) // 2)
    for shift, part in ((0.0, rows[:half]), (_HALF, rows[half:])):
        if not part:
            continue
        for x, words in zip(columns, _HEADS, strict=False):
            put(shift + x, top - _LINE, words, style="italic")
        for i, row in enumerate(part):
            for x, words in zip(columns, row, strict=True):
                put(shift + x, top - _LINE * (i + 2.25), words, weight="bold" if x == 0.0 else "normal")
    rule = (top - 1.35 * _LINE) / tall
    figure.add_artist(Line2D([6.0 / wide, 1 - 6.0 / wide], [rule, rule], color=INK, lw=0.8))
