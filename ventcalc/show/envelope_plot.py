"""Envelope plot: the swing of every outlet over all states, with its window."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from ventcalc.job.study import Study, alternate_envelopes
from ventcalc.show.plots import (
    BLUE,
    GREY,
    INK,
    PALE,
    SIZE,
    WIDTH,
    legend_above,
    number,
    plain_axes,
    unit_label,
    wrapped,
)
from ventcalc.units import Q_, show, shown_unit
from ventcalc.vent.outlet_envelope import Envelope


def envelopes(study: Study, system: str = "US") -> Figure:
    """The swing of every outlet over all states, its ends marked, with its window and those of alternates."""
    rows = _envelope_rows(study)
    heights = np.array([max(len(_name_lines(name)), 1.7) for name, *_ in rows]) * 0.2 + 0.16
    legend, below = 0.72, 0.56
    height = heights.sum() + legend + below
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.285, below / height, 0.69, heights.sum() / height))
    plain_axes(axes)
    edges = np.concatenate([[0.0], heights.cumsum()])
    for y, row in zip((edges[:-1] + edges[1:]) / 2, rows, strict=True):
        _draw_row(axes, y, *row, system)
    firsts = [e for e, (_, _, first) in zip(edges[:-1], rows, strict=True) if first]
    for y in firsts[1:]:
        axes.axhline(y, color=GREY, lw=0.6)
    axes.axvline(0.0, color=INK, lw=1.0)
    if len(study.envelopes) > 1:
        set_point = number(float(study.job.set_point.m_as("Pa")), "Pa", "draft", system)
        axes.axvline(set_point, color=BLUE, lw=1.4, ls=_DOTTED)
    low, high = axes.get_xlim()
    axes.set_xlim(low - 0.09 * (high - low), high + 0.09 * (high - low))
    axes.set_ylim(edges[-1], 0.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(f"outlet pressure against the room, {unit_label('draft', system)} (negative is draft)")
    legend_above(figure, _handles(len(study.envelopes) > 1, any(not first for *_, first in rows)), 2)
    return figure


_DOTTED = (0, (1, 1.2))


def _name_lines(name: str) -> list[str]:
    return wrapped(name, 21, 4)


def _draw_row(axes, y: float, name: str, envelope: Envelope, own: bool, system: str) -> None:
    """One outlet, or under it one alternate: its name, its window, and the swing, whose ends are told once."""
    window, swing = (number(ends, "Pa", "draft", system) for ends in (envelope.window, [envelope.low, envelope.high]))
    _window_box(axes, y, window, own)
    if own:
        axes.plot(swing, [y, y], color=INK, lw=3.2, solid_capstyle="butt", zorder=4)
        axes.plot(swing[:1], [y], "<", color=INK, ms=8, zorder=5)
        axes.plot(swing[1:], [y], ">", color=INK, ms=8, zorder=5)
        for end, side, dx in zip(swing, ("right", "left"), (-7, 7), strict=True):
            words = show(Q_(float(end), shown_unit("draft", system)), system, "draft").split(" ")[0]
            placed = {"textcoords": "offset points", "ha": side, "va": "center", "size": SIZE, "zorder": 6}
            under = {"fc": "white", "ec": "none", "pad": 0.8}  # the edge of a window may lie behind it
            axes.annotate(words, (end, y), (dx, 0), bbox=under, **placed)
    else:
        axes.plot(swing, [y, y], color=INK, lw=1.0, ls=(0, (4, 2)), zorder=4)
    beside = {"ha": "right", "va": "center", "weight": "bold" if own else "normal"}
    axes.text(-0.015, y, "\n".join(_name_lines(name)), size=SIZE, transform=axes.get_yaxis_transform(), **beside)


def _handles(held: bool, alternates: bool) -> list:
    """The legend: with the set point of a header, and with the windows of alternates, where they are drawn."""
    handles = [
        Line2D([], [], color=INK, lw=3.2, marker="D", ms=6, label="swing over all states"),
        Patch(fc=PALE, ec=INK, lw=1.2, label="window"),
    ]
    if alternates:
        handles.append(Patch(fc="none", ec=GREY, lw=1.2, hatch="////", label="window of an alternate"))
    handles.append(Line2D([], [], color=INK, lw=1.0, label="zero"))
    if held:
        handles.append(Line2D([], [], color=BLUE, lw=1.4, ls=_DOTTED, label="set point at the end of the header"))
    return handles


def _envelope_rows(study: Study) -> list[tuple[str, Envelope, bool]]:
    """Name, envelope and whether it is the appliance's own, with the alternates under each."""
    rows = []
    for own in study.envelopes:
        rows.append((own.appliance, own, True))
        for alternate in study.job.alternates:
            rows += [
                (alternate.name, e, False)
                for e in alternate_envelopes(study, alternate)
                if e.appliance == own.appliance
            ]
    return rows


def _window_box(axes, y: float, window, own: bool) -> None:
    """A window as a box with strong ends: filled for the appliance's own, hatched for an alternate's."""
    half = 0.13
    style = {"fc": PALE, "ec": INK, "lw": 1.2} if own else {"fc": "none", "ec": GREY, "lw": 1.0, "hatch": "////"}
    axes.add_patch(Rectangle((window[0], y - half), window[1] - window[0], 2 * half, zorder=2, **style))
    for end in window:
        axes.plot([end, end], [y - half - 0.03, y + half + 0.03], color=INK if own else GREY, lw=2.4, zorder=3)
