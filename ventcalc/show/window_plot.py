"""Window plot: where the pressures of every outlet lie within its allowable range, before and after, at a glance.

Windows differ from make to make; here each is drawn as wide as the others, from its lowest to its highest pressure.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from ventcalc.show.plots import GREY, HALO, INK, PALE, SIZE, legend_above, plain_axes
from ventcalc.units import Q_, show
from ventcalc.vent.outlet_envelope import Envelope

MOST = 10  # outlets; of more the worst are drawn
_ROWS = (0.36, 0.27)  # inch, of one outlet: where they are few, and where they are many
_FEW = 6
_WIDE, _AROUND = 3.5, 1.0  # inch
_SEEN = 0.08  # of a window: a pressure that is held is drawn so long, or nobody would see it
_BEYOND = 1.3  # windows to each side that are drawn; what lies farther out is cut, its pressure written


def shares(envelope: Envelope) -> tuple[float, float]:
    """Lowest and highest pressure as shares of the window: 0 its low end, 1 its high end."""
    low, high = envelope.window
    return tuple((end - low) / (high - low) for end in (envelope.low, envelope.high))


def worst(before: Sequence[Envelope], after: Sequence[Envelope], most: int = MOST) -> list[int]:
    """The places of the outlets to draw, in their order: all, or those with the least margin after, then before."""
    last = after or before
    ranked = sorted(range(len(before)), key=lambda i: (last[i].margin, before[i].margin))
    return sorted(ranked[:most])


def rows_height(count: int) -> float:
    """Height [inch] of so many outlets."""
    return count * _ROWS[count > _FEW]


def windows(before: Sequence[Envelope], after: Sequence[Envelope] = (), system: str = "US") -> Figure:
    """Every outlet's pressures in its window, as drawn and with the remedy."""
    rows = worst(before, after)
    height = rows_height(len(rows)) + _AROUND
    figure = Figure((_WIDE, height))
    axes = figure.add_axes((0.3, 0.4 / height, 0.67, rows_height(len(rows)) / height))
    plain_axes(axes)
    axes.axvspan(0.0, 1.0, color=PALE, zorder=0)
    for edge in (0.0, 1.0):
        axes.axvline(edge, color=INK, lw=0.8, zorder=1)
    for y, i in enumerate(rows):
        _range(axes, y - 0.16 * bool(after), before[i], system, first=False)
        if after:
            _range(axes, y + 0.18, after[i], system, first=True)
        axes.text(-0.03, y, before[i].appliance[:18], ha="right", va="center", size=SIZE,
                  transform=axes.get_yaxis_transform())  # fmt: skip
    axes.set_xlim(-_BEYOND, 1.0 + _BEYOND)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_yticks([])
    axes.set_xticks([0.0, 1.0], ["lowest\nallowed", "highest\nallowed"], size=SIZE)
    handles = [Line2D([], [], color=GREY, lw=2.0, ls=(0, (2, 1)), label="as drawn"), Patch(color=PALE, label="allowed")]
    if after:
        handles.insert(1, Line2D([], [], color=INK, lw=4.0, label="with the remedy"))
    legend_above(figure, handles, 2)
    return figure


def _range(axes, y: float, envelope: Envelope, system: str, first: bool) -> None:
    """One line from lowest to highest; an end beyond the picture is an arrow with its pressure."""
    low, high = shares(envelope)
    ends = np.clip([low, high], -_BEYOND + 0.12, 1.0 + _BEYOND - 0.12)
    widened = np.array([-0.5, 0.5]) * max(_SEEN - (ends[1] - ends[0]), 0.0)
    line = ends + widened
    if first:
        axes.plot(line, [y, y], color=INK, lw=4.0, solid_capstyle="butt", zorder=4)
    else:
        axes.plot(line, [y, y], color=GREY, lw=2.0, ls=(0, (2, 1)), zorder=3)
    for share, end, value, side in ((low, ends[0], envelope.low, "<"), (high, ends[1], envelope.high, ">")):
        if share != end:
            axes.plot(end, y, side, color=INK if first else GREY, ms=5, zorder=5)
            words = show(Q_(value, "Pa"), system, "draft").split(" ")[0]
            # Inward from the arrow, so that a long number covers no appliance's name.
            inward, off = ("left", -3) if side == "<" else ("right", 3)
            axes.annotate(words, (end, y), (off, 4), textcoords="offset points", ha=inward, size=SIZE - 1,
                          path_effects=HALO, zorder=6)  # fmt: skip
