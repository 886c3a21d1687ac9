"""Drawing: the vent in elevation, to scale, with a schedule of what is drawn (`drawing_schedule`).

Figures are made for printing at their own size. Nothing is told by color alone.
"""

from collections.abc import Sequence
from itertools import pairwise
from textwrap import shorten

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from ventcalc.show import elevation
from ventcalc.show.drawing_schedule import schedule, schedule_height, write_schedule
from ventcalc.show.free_places import Paper
from ventcalc.show.plots import GREY, INK, PALE, POINTS, SIZE, WIDTH, letters, plain_axes, text_width, unit_label
from ventcalc.show.tags import FAN, SENSOR, Placed
from ventcalc.units import Q_, shown_unit, unit_text
from ventcalc.vent import end_of_header
from ventcalc.vent.layout import Plant

_MOST_HEIGHT = 4.5  # inch of the drawing itself
_EDGE = np.array([[22.0, 34.0], [64.0, 34.0]])  # points left free for marks: left and low, right and high
_TALL = 230.0  # points from which on a drawing has room for the long label of its height


_BALLOON = 16.0  # points across


def layout_drawing(
    plant: Plant,
    system: str = "US",
    devices: Sequence[Placed] = (),
    tables: bool = True,
    most_height: float = _MOST_HEIGHT,
    numbers: bool = True,
) -> Figure:
    """The vent in elevation, to scale, with a schedule of its sections and appliances.

    Runs are unfolded into one plane; a run that there is no room for is seen end-on, one that has to be
    moved is drawn apart with marks, and a very tall stack is broken. ``plant``: what is drawn; ``devices`` of a remedy
    in it, with their tags; ``tables``: whether the schedule stands below; ``most_height`` of the drawing itself, inch;
    ``numbers``: whether every section has its own, for a list of them.
    """
    unit = shown_unit("height", system)
    drawing = elevation.unfold(plant)
    meter = float(Q_(1.0, "m").m_as(unit))
    low, high = drawing.bounds
    span = (high - low) * meter
    left, right = 0.75 * POINTS, 0.1 * POINTS
    room = np.array([WIDTH * POINTS - left - right, most_height * POINTS]) - _EDGE.sum(axis=0)
    scale = float(np.min(room / span))  # points per unit
    rows = schedule(plant, system)
    table_height = schedule_height(rows) if tables else 0.0
    drawing_height = span[1] * scale + _EDGE[:, 1].sum()
    height = (drawing_height + table_height) / POINTS
    figure = Figure((WIDTH, height))
    bottom = table_height / POINTS / height
    width = WIDTH * POINTS - left - right
    axes = figure.add_axes((left / POINTS / WIDTH, bottom, width / POINTS / WIDTH, drawing_height / POINTS / height))
    slack = width - span[0] * scale - _EDGE[:, 0].sum()
    corner = low * meter - (_EDGE[0] + [slack / 2, 0.0]) / scale
    axes.set_xlim(corner[0], corner[0] + width / scale)
    axes.set_ylim(corner[1], corner[1] + drawing_height / scale)
    plain_axes(axes)
    axes.spines["bottom"].set_visible(False)
    axes.set_xticks([])
    _height_ticks(axes, high[1] * meter, drawing.cut[0] * meter, drawing.cut[1] * meter)
    words = "height above the boiler-room floor" if drawing_height > _TALL else "height"
    axes.set_ylabel(f"{words}, {unit_label('height', system)}")

    paper = Paper(axes, scale, corner)
    _draw_building(paper, drawing, meter)
    _draw_pipes(paper, plant, drawing, meter)
    _draw_appliances(paper, drawing, meter)
    _draw_break(paper, drawing, meter, unit_text(unit))
    _draw_ends(paper, plant, drawing, meter)
    _draw_far_end(paper, plant, drawing, meter)
    _draw_devices(paper, drawing, meter, devices)
    if numbers:
        _draw_numbers(paper, plant, drawing, meter)
    _draw_scale_bar(paper, max(span), unit_text(unit))
    if tables:
        write_schedule(figure, rows)
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


def _draw_building(paper: Paper, drawing: elevation.Elevation, meter: float) -> None:
    """Floor, and the roof or wall where the vent leaves the building."""
    axes = paper.axes
    left, right = (x * meter for x in drawing.floor)
    ground = 5.0 / paper.scale
    axes.plot([left, right], [0, 0], color=INK, lw=1.4)
    axes.add_patch(Rectangle((left, -ground), right - left, ground, fc="none", ec=GREY, lw=0, hatch="//////"))
    paper.keep_clear(np.array([[left, 0], [right, 0]]), 5.0)
    for line in drawing.shell:
        a, b = line * meter
        thick = 4.0 / paper.scale
        if a[1] == b[1]:
            box = Rectangle((a[0], a[1] - thick / 2), b[0] - a[0], thick, fc="white", ec=GREY, lw=0.8, hatch="////////")
        else:
            box = Rectangle((a[0] - thick / 2, a[1]), thick, b[1] - a[1], fc="white", ec=GREY, lw=0.8, hatch="////////")
        axes.add_patch(box)
        paper.keep_clear(line * meter, 3.0)


_OUTDOORS = "#c3cbd3"  # tone of a pipe outdoors


def _draw_pipes(paper: Paper, plant: Plant, drawing: elevation.Elevation, meter: float) -> None:
    """Every section as a double line of its true diameter; those outdoors are toned."""
    wide = {s.name: float(s.diameter.m_as("m")) * meter * paper.scale for s in plant.sections}
    lines = {name: line * meter for name, line in drawing.lines.items()}
    parts = [(s, lines[s.name]) for s in plant.order]
    parts += [(plant.section(name), line * meter) for name, line in drawing.stubs.items()]
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
        _across(paper, line[0] * meter, line[1] * meter - line[0] * meter, wide[name] / 2 + 0.8, 2.0)
    for point in drawing.joints:
        paper.axes.plot(*(point * meter), "o", ms=4.2, mfc=INK, mec="white", mew=0.6, zorder=7)


def _across(paper: Paper, point, along, half: float, thickness: float) -> None:
    """A stroke across a pipe at a point, ``half`` points to each side."""
    normal = np.array([-along[1], along[0]]) / max(np.hypot(*along), 1e-9) * half / paper.scale
    paper.axes.plot(*np.array([point - normal, point + normal]).T, color=INK, lw=thickness, zorder=6)


def _draw_appliances(paper: Paper, drawing: elevation.Elevation, meter: float) -> None:
    for letter, box in zip(letters(len(drawing.boxes)), drawing.boxes, strict=True):
        (x, z), (x1, z1) = box * meter
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


def _draw_break(paper: Paper, drawing: elevation.Elevation, meter: float, unit: str) -> None:
    """Two slanting strokes where a tall pipe is broken, and how much is left out."""
    cut, left_out = (v * meter for v in drawing.cut)
    if not left_out:
        return
    for line in drawing.lines.values():
        for a, b in pairwise(line * meter):
            if min(a[1], b[1]) < cut < max(a[1], b[1]):
                reach, rise = 16.0 / paper.scale, 3.0 / paper.scale
                slant = np.array([[a[0] - reach, cut - rise], [a[0] + reach, cut + rise]])
                gap = np.array([0.0, 2.0 / paper.scale])
                paper.axes.fill(*np.vstack([slant - gap, slant[::-1] + gap]).T, fc="white", lw=0, zorder=6)
                for side in (-gap, gap):
                    paper.axes.plot(*(slant + side).T, color=INK, lw=1.0, zorder=7)
                paper.keep_clear(slant, 4.0)
                _word(paper, slant[0], f"{left_out:.3g} {unit} left out")


def _draw_ends(paper: Paper, plant: Plant, drawing: elevation.Elevation, meter: float) -> None:
    """Caps, marks between parts drawn apart, and words: where it ends, what lies outdoors."""
    for end in plant.terminations:
        last = plant.upstream(end.name)[0]
        line = drawing.lines[last.name] * meter
        tip, along = line[-1], line[-1] - line[-2]
        along = along / max(np.hypot(*along), 1e-9)
        half = float(last.diameter.m_as("m")) * meter / 2 + 2.0 / paper.scale
        if end.cap != "open end":
            away, normal = tip + along * max(half * 0.5, 2.5 / paper.scale), np.array([-along[1], along[0]])
            hat = np.array([away - normal * half * 1.5, away + along * half * 0.8, away + normal * half * 1.5])
            hat = hat if abs(along[1]) > 0.7 else np.array([away - normal * half * 1.3, away + normal * half * 1.3])
            paper.axes.plot(*hat.T, color=INK, lw=1.6, solid_joinstyle="miter", zorder=6)
            paper.keep_clear(hat, 2.0)
        _word(paper, tip + along * 8.0 / paper.scale, shorten(f"{end.name}: {end.cap}", 40, placeholder="..."))
    for at, words, towards in drawing.words:
        _word(paper, at * meter, words, towards)


def _word(paper: Paper, anchor, words: str, towards=(0.0, 0.0)) -> None:
    """Write words near a point, on the side that ``towards`` names."""
    center, _ = paper.find([anchor], (text_width(words), SIZE * 1.25), towards)
    paper.axes.text(*paper.back(center), words, size=SIZE, ha="center", va="center", color=INK, zorder=8)


def _draw_numbers(paper: Paper, plant: Plant, drawing: elevation.Elevation, meter: float) -> None:
    """A number in a ring beside every section, which the schedule explains."""
    for number, section in enumerate(plant.order, 1):
        line = drawing.lines[section.name] * meter
        anchors = [elevation.point_at(line, share) for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
        center, anchor = paper.find(anchors, (_BALLOON, _BALLOON))
        paper.lead(anchor, center)
        center, anchor = paper.back(center), paper.back(anchor)
        paper.axes.plot(*anchor, "o", ms=2.2, color=INK, zorder=8)
        paper.axes.add_patch(
            Circle(center, 0.5 * _BALLOON / paper.scale, fc="white", ec=INK, lw=0.9, zorder=9),
        )
        paper.axes.text(*center, str(number), size=SIZE, ha="center", va="center_baseline", zorder=10)


def _draw_far_end(paper: Paper, plant: Plant, drawing: elevation.Elevation, meter: float) -> None:
    """A diamond where the header begins: there the map of states is read."""
    if len(plant.appliances) > 1:
        far = end_of_header.far_end(plant)
        at = drawing.stubs.get(far, drawing.lines[far])[0] * meter
        paper.axes.plot(*at, "D", ms=7.0, mfc="white", mec=INK, mew=1.4, zorder=11)
        paper.keep_clear(np.array([at, at]), 5.0)


def _draw_devices(paper: Paper, drawing: elevation.Elevation, meter: float, devices: Sequence[Placed]) -> None:
    """A ring with a cross for a fan, a stroke across the pipe for a damper, each and every sensor with its tag."""
    for device in devices:
        line = drawing.lines[device.section] * meter
        at, along = line[-1], line[-1] - line[-2]
        if device.kind == SENSOR:
            at = (drawing.stubs.get(device.section, drawing.lines[device.section])[0] if not device.appliance else
                  drawing.lines[device.section][0]) * meter  # fmt: skip
        elif device.kind == FAN:
            paper.axes.plot(*at, "o", ms=15.0, mfc="white", mec=INK, mew=1.4, zorder=11)
            paper.axes.plot(*at, "x", ms=9.0, mec=INK, mew=1.4, zorder=12)
            paper.keep_clear(np.array([at, at]), 9.0)
        else:
            at = elevation.point_at(line, 0.9)
            reach = np.array([along[0] - along[1], along[1] + along[0]])
            reach = reach / max(np.hypot(*reach), 1e-9) * 9.0 / paper.scale
            paper.axes.plot(*np.array([at - reach, at + reach]).T, color=INK, lw=2.4, zorder=11)
            paper.keep_clear(np.array([at, at]), 9.0)
        _word(paper, at, device.tag)


def _draw_scale_bar(paper: Paper, span: float, unit: str) -> None:
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
