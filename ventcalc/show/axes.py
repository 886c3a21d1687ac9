"""Axes: the look that figures of the chapters share, and numbers in the unit that a reader chose."""

import io

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.show.plots import GREY, INK, RUST, SIZE, WIDTH
from ventcalc.units import Q_, shown_unit, unit_text

DOTS = 120.0  # per inch, of a picture that follows a control

_LEFT, _RIGHT, _ABOVE, _BELOW, _BETWEEN = 0.72, 0.12, 0.34, 0.56, 0.85  # inch around the axes


def row_of_axes(count: int = 1, height: float = 3.0) -> tuple[Figure, list[Axes]]:
    """A figure of the page's width with ``count`` axes side by side, ``height`` inch high."""
    figure = Figure((WIDTH, height))
    width = (WIDTH - _LEFT - _RIGHT - (count - 1) * _BETWEEN) / count
    rows = (_BELOW / height, (height - _BELOW - _ABOVE) / height)
    places = [(_LEFT + k * (width + _BETWEEN)) / WIDTH for k in range(count)]
    return figure, [figure.add_axes((x, rows[0], width / WIDTH, rows[1])) for x in places]


def picture(figure: Figure) -> bytes:
    """The figure as PNG for a control that is waiting: packed quickly rather than small."""
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=DOTS, metadata={"Software": None}, pil_kwargs={"compress_level": 1})
    return file.getvalue()


def plain(axes: Axes, xlabel: str, ylabel: str, title: str = "") -> Axes:
    """Two spines, labels with their units, lettering that can be read, a faint grid."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=SIZE, colors=INK)
    axes.set_xlabel(xlabel, size=SIZE)
    axes.set_ylabel(ylabel, size=SIZE)
    axes.grid(color=GREY, alpha=0.25, lw=0.6)
    if title:
        axes.set_title(title, size=SIZE, weight="bold", loc="left")
    return axes


def number(value, unit: str, kind: str, system: str):
    """Plain numbers, given in ``unit``, in the unit that ``system`` shows this kind in."""
    return Q_(np.asarray(value, float), unit).m_as(shown_unit(kind, system))


def label(kind: str, system: str) -> str:
    """The unit that ``system`` shows this kind in, as it is written."""
    return unit_text(shown_unit(kind, system))


def axis(words: str, kind: str, system: str) -> str:
    """A label with its unit: "outdoors, °F"."""
    return f"{words}, {label(kind, system)}"


def one_axes(height: float = 3.0) -> tuple[Figure, Axes]:
    """A figure of the page's width with one axes that leaves room for its labels by itself, ``height`` inch high."""
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    return figure, figure.subplots()


def two_axes(height: float = 3.0, **kwargs) -> tuple[Figure, np.ndarray]:
    """The same with two side by side; keywords as for matplotlib's subplots."""
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    return figure, figure.subplots(1, 2, **kwargs)


def legend(axes: Axes | Figure, **kwargs) -> None:
    """Which line is which, on axes or for a whole figure, without a frame; keywords as for matplotlib's legend."""
    axes.legend(**{"fontsize": SIZE, "frameon": False, **kwargs})


def mark_now(axes: Axes, x: float, y: float, label: str = "now", **kwargs) -> None:
    """The point that the controls stand at."""
    axes.plot(x, y, "o", **{"color": RUST, "ms": 8, "label": label, **kwargs})
