"""Blade charts: what blades look like, what they cost over their angle, and what they let through in a system."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle

from ventcalc import tables
from ventcalc.draft import (
    damper_authority,
    damper_loss,
    dampers,
)
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.handbook.dampers import BLADES, LEAKAGE, SHAFT
from ventcalc.show.axes import legend, plain, row_of_axes, two_axes
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.units import Q_, Quantity

_LINES = {"opposed": "-", "parallel": "--", "butterfly": "-.", "thin butterfly": ":"}


_MARKS = {"opposed": "o", "parallel": "s", "butterfly": "D", "thin butterfly": "^"}


_COLORS = {"opposed": RUST, "parallel": BLUE, "butterfly": INK, "thin butterfly": GREY}


def blades_picture() -> Figure:
    """Opposed, parallel and butterfly blades seen from the side, open, half shut and nearly shut."""
    figure = Figure((WIDTH, 4.3))
    kinds = ("opposed", "parallel", "butterfly")
    for column, kind in enumerate(kinds):
        for row, angle in enumerate((0.0, 45.0, 80.0)):
            axes = figure.add_axes((0.12 + 0.29 * column, 0.66 - 0.31 * row, 0.27, 0.26))
            _draw_blades(axes, kind, np.radians(angle))
            if row == 0:
                axes.set_title(kind, size=SIZE, weight="bold")
            if column == 0:
                figure.text(0.01, 0.79 - 0.31 * row, f"{angle:.0f}°", size=SIZE, va="center")
    return figure


def _draw_blades(axes: Axes, kind: str, angle: float) -> None:
    count = 1 if kind == "butterfly" else BLADES
    size = 1.0 / count
    for y in (0.0, 1.0):
        axes.plot([-0.75, 0.75], [y, y], color=INK, lw=2.5)
    for i in range(count):
        turn = -1.0 if kind == "opposed" and i % 2 else 1.0
        center, reach = (i + 0.5) * size, 0.5 * size
        x, y = reach * np.cos(angle), turn * reach * np.sin(angle)
        axes.plot([-x, x], [center - y, center + y], color=RUST, lw=3.0, solid_capstyle="round")
        axes.plot(0.0, center, "o", color=INK, ms=4)
    for y in np.linspace(0.125, 0.875, 4):
        axes.annotate("", (-0.52, y), (-0.75, y), arrowprops={"arrowstyle": "->", "color": GREY, "lw": 1.0})
    axes.set(xlim=(-0.8, 0.8), ylim=(-0.08, 1.08), aspect="equal")
    axes.axis("off")


def loss_chart() -> Figure:
    """K on the face against blade angle, printed cells and the curve to the shut end of a leakage class."""
    figure, (axes,) = row_of_axes(1, 3.9)
    position = np.linspace(0.0, 1.0, 181)
    for kind in damper_loss.blade_kinds():
        color = _COLORS[kind]
        axes.plot(90.0 * (1.0 - position), _alone(kind).loss(position), _LINES[kind], color=color, lw=1.6, label=kind)
        for row in tables.read("dampers"):
            if (row["kind"], row["name"]) == ("loss", kind) and row["perimeter_ratio"] in ("", "1.0"):
                face = "white" if row["status"].startswith("from memory") else color
                axes.plot(float(row["angle_deg"]), float(row["value"]), _MARKS[kind], color=color, mfc=face, ms=6)
    axes.plot([], [], "o", color=INK, mfc="white", label="from memory")
    axes.axvspan(80.0, 90.0, color=PALE, zorder=0)
    axes.text(89.5, 0.25, "leakage", rotation=90, size=SIZE, ha="right", va="bottom")
    axes.set(yscale="log", xlim=(-1.5, 91.0), ylim=(0.1, 3e5))
    legend(axes, loc="upper left")
    plain(axes, "angle of the blades, degrees (0 open, 90 shut)", "K on the velocity head of the face")
    return figure


def _alone(kind: str) -> Damper:
    side = Q_(0.4, "m")
    count = BLADES if kind in ("opposed", "parallel") else 1
    return Damper(kind, side, side, leakage_class(LEAKAGE), count)


def free_area_picture(diameter: Quantity, system: str = "US") -> Figure:
    """A square section inside a round duct and one around it, open, looking along the duct, to one scale."""
    unit = "inch" if system == "US" else "mm"
    width = float(diameter.m_as(unit))
    figure = Figure((WIDTH, 3.4))
    words = {"inside": "built inside: a plate shuts the rest", "around": "built around, between transitions"}
    for i, place in enumerate(dampers.PLACES):
        axes = figure.add_axes((0.02 + 0.5 * i, 0.16, 0.46, 0.8))
        damper = dampers.square_in_round(diameter, place, "opposed", BLADES, leakage_class(LEAKAGE), SHAFT)
        side, thick = (float(q.m_as(unit)) for q in (damper.width, damper.thickness))
        if place == "inside":
            axes.add_patch(Circle((0.0, 0.0), width / 2, fc=GREY, ec=INK, lw=2.0, hatch="////"))
        axes.add_patch(Rectangle((-side / 2, -side / 2), side, side, fc="white", ec=INK, lw=2.0))
        if place == "around":
            axes.add_patch(Circle((0.0, 0.0), width / 2, fill=False, ec=GREY, lw=1.6, ls="--"))
        for k in range(BLADES):
            y = -side / 2 + (k + 0.5) * side / BLADES
            axes.add_patch(Rectangle((-side / 2, y - thick / 2), side, thick, fc=RUST, ec="none"))
        axes.set(xlim=(-0.62 * width, 0.62 * width), ylim=(-0.6 * width, 0.6 * width), aspect="equal")
        axes.axis("off")
        figure.text(0.25 + 0.5 * i, 0.06, words[place], ha="center", size=SIZE)
    return figure


AUTHORITIES = (1.0, 0.1, 0.02)


def flow_chart() -> Figure:
    """Share of full flow against position, alone and built into systems, opposed and parallel blades."""
    figure, both = two_axes(3.6)
    position, lines = np.linspace(0.0, 1.0, 101), dict(zip(AUTHORITIES, ("-", "--", ":"), strict=True))
    for axes, kind in zip(both, ("opposed", "parallel"), strict=True):
        inherent = _alone(kind).inherent(position)
        for alpha, line in lines.items():
            flow = damper_authority.installed_flow(inherent, alpha).m
            axes.plot(100 * position, 100 * flow, line, color=_COLORS[kind], lw=1.8)
        axes.plot([0, 100], [0, 100], color=GREY, lw=0.8)
        axes.set(xlim=(0, 100), ylim=(0, 101))
        plain(axes, "position, % open", "flow, % of that open", f"{kind} blades")
    words = {a: "alone (inherent)" if a == 1.0 else f"authority {a:.0%}" for a in AUTHORITIES}
    handles = [Line2D([], [], color=INK, ls=line, lw=1.8, label=words[a]) for a, line in lines.items()]
    legend(figure, handles=handles, loc="outside upper center", ncols=3)
    return figure
