"""Plots: the look that all figures share, and a figure as a file.

Figures are drawn to be read on paper, in grey and from the back of a room, each at its own size. Nothing is told by
color alone: lines differ by style and marker, areas by hatching, states by signs. ``system`` is "US" or "SI" and
changes nothing but the scales.
"""

import io
from collections.abc import Sequence
from textwrap import shorten, wrap
from typing import Any

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.units import Q_, shown_unit, unit_text

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


def png(figure: Figure, dots_per_inch: float = 170.0) -> bytes:
    """The figure as the bytes of a PNG file."""
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return file.getvalue()


def number(value, unit: str, kind: str, system: str):
    """Plain numbers, given in ``unit``, in the unit that ``system`` shows this kind in."""
    return Q_(np.asarray(value, float), unit).m_as(shown_unit(kind, system))


def legend_above(figure: Figure, handles: Sequence[Any], columns: int) -> None:
    """One legend for the whole figure, above it, in so many columns."""
    figure.legend(
        handles=handles,
        loc="upper center",
        ncols=columns,
        frameon=False,
        fontsize=SIZE,
        handlelength=3.4,
        borderaxespad=0.2,
        labelspacing=0.25,
        columnspacing=1.6,
    )


def wrapped(words: str, width: int, most: int) -> list[str]:
    """Words wrapped to at most so many lines; what is cut off shows dots."""
    lines = wrap(words, width)
    return (
        lines
        if len(lines) <= most
        else [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), width, placeholder=" ...")]
    )
