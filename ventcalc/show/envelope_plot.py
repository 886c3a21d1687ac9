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


def envelopes(study: Study, system: str = "US") -> Figure:
    """The swing of every outlet over all states, its ends marked, with its window and those of alternates."""
    rows = _envelope_rows(study)
    lines = [max(len(wrapped(name, 21, 4)), 1.7) for name, *_ in rows]
    heights = np.array(lines) * 0.2 + 0.16
    legend, below = 0.72, 0.56
    height = heights.sum() + legend + below
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.285, below / height, 0.69, heights.sum() / height))
    plain_axes(axes)
    edges = np.concatenate([[0.0], heights.cumsum()])
    middles = (edges[:-1] + edges[1:]) / 2

    def pressure(value):
        return number(value, "Pa", "draft", system)

    for y, (name, envelope, first) in zip(middles, rows, strict=True):
        window, swing = pressure(envelope.window), pressure([envelope.low, envelope.high])
        _window_box(axes, y, window, first)
        if first:
            axes.plot(swing, [y, y], color=INK, lw=3.2, solid_capstyle="butt", zorder=4)
            axes.plot(swing[:1], [y], "<", color=INK, ms=8, zorder=5)
            axes.plot(swing[1:], [y], ">", color=INK, ms=8, zorder=5)
            for end, side in zip(swing, ("right", "left"), strict=True):
                words = show(Q_(float(end), shown_unit("draft", system)), system, "draft").split(" ")[0]
                axes.annotate(
                    words,
                    (end, y),
                    ((-7, 0) if side == "right" else (7, 0)),
                    textcoords="offset points",
                    ha=side,
                    va="center",
                    size=SIZE,
                    zorder=6,
                    bbox={"fc": "white", "ec": "none", "pad": 0.8},  # the edge of a window may lie behind it
                )
        else:
            axes.plot(swing, [y, y], color=INK, lw=1.0, ls=(0, (4, 2)), zorder=4)
        axes.text(
            -0.015,
            y,
            "\n".join(wrapped(name, 21, 4)),
            size=SIZE,
            ha="right",
            va="center",
            weight="bold" if first else "normal",
            transform=axes.get_yaxis_transform(),
        )
    firsts = [e for e, (_, _, first) in zip(edges[:-1], rows, strict=True) if first]
    for y in firsts[1:]:
        axes.axhline(y, color=GREY, lw=0.6)
    axes.axvline(0.0, color=INK, lw=1.0)
    if len(study.envelopes) > 1:
        axes.axvline(pressure(float(study.job.set_point.m_as("Pa"))), color=BLUE, lw=1.4, ls=(0, (1, 1.2)))
    low, high = axes.get_xlim()
    axes.set_xlim(low - 0.09 * (high - low), high + 0.09 * (high - low))
    axes.set_ylim(edges[-1], 0.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(f"outlet pressure against the room, {unit_label('draft', system)} (negative is draft)")
    handles = [
        Line2D([], [], color=INK, lw=3.2, marker="D", ms=6, label="swing over all states"),
        Patch(fc=PALE, ec=INK, lw=1.2, label="window"),
        Line2D([], [], color=INK, lw=1.0, label="zero"),
    ]
    if len(study.envelopes) > 1:
        handles.append(Line2D([], [], color=BLUE, lw=1.4, ls=(0, (1, 1.2)), label="set point at the end of the header"))
    if any(not first for *_, first in rows):
        handles.insert(2, Patch(fc="none", ec=GREY, lw=1.2, hatch="////", label="window of an alternate"))
    legend_above(figure, handles, 2)
    return figure


def _envelope_rows(study: Study) -> list[tuple]:
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
