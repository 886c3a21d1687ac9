"""What tests read from a figure of a study."""

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

PRESSURE = {"US": "in. w.c.", "SI": "Pa"}
LENGTH = {"US": "ft", "SI": "m"}


def worst(found):
    return min(found.envelopes, key=lambda e: e.margin)


def labeled(axes):
    return {line.get_label(): line for line in axes.lines if not line.get_label().startswith("_")}


def lettering(figure):
    """Every visible text of a figure; ticks beyond the ends of an axis are not drawn and do not count."""
    beyond = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    beyond |= {tick.label1, tick.label2}
    return [t for t in figure.findobj(Text) if t.get_text() and t.get_visible() and t not in beyond]


def extents(figure):
    """What is written on a figure: its words and the box they take in pixels."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw(renderer)
    return [(t.get_text(), t.get_window_extent(renderer)) for t in lettering(figure)]
