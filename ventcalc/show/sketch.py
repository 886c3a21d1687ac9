"""Sketches: the diagrams of the chapters, drawn from data.

``data/handbook/sketches.toml`` has a table for each: its ``height`` [inch], the ranges ``x`` and ``y`` of the unit it
is drawn in, and its ``shapes`` from back to front. A shape is a ``line``, ``polygon`` or ``arrow`` through points, a
``box`` (x, y, width, height), a ``circle`` (x, y, radius) or a ``text`` ``at`` a point, and the look that it has:
keywords of matplotlib, colors by their names in `plots`; ``look`` holds those that all shapes of a kind have. What
stands in braces in a text is a figure, as `words.fill` shows it.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyBboxPatch, Polygon, Rectangle

from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.tables import DATA
from ventcalc.words import fill

_COLORS = {"ink": INK, "rust": RUST, "blue": BLUE, "grey": GREY, "pale": PALE}
_KINDS = ("line", "polygon", "arrow", "box", "circle", "text")


@cache
def sketches() -> Mapping[str, Mapping[str, Any]]:
    """All sketches by name."""
    with (DATA / "handbook" / "sketches.toml").open("rb") as file:
        return tomllib.load(file)


def sketch(name: str, system: str = "US", **figures: Any) -> Figure:
    """The sketch of that name with its figures; its axes are there to draw on."""
    told = sketches()[name]
    figure = Figure((WIDTH, told["height"]))
    margin = told.get("margin", 0.0)
    axes = figure.add_axes((margin, margin, 1.0 - 2.0 * margin, 1.0 - 2.0 * margin))
    axes.set(xlim=told["x"], ylim=told["y"], aspect=told.get("aspect", "auto"))
    axes.axis("off")
    for shape in told["shapes"]:
        kind = next(k for k in _KINDS if k in shape)
        look = {k: v for k, v in (told.get("look", {}).get(kind, {}) | shape).items() if k not in (kind, "at")}
        if kind == "text":
            words = fill(shape["text"], figures, system)
            axes.text(*shape["at"], words, **{"size": SIZE, "va": "center", **_named(look)})
        else:
            _draw(axes, kind, shape[kind], _named(look))
    return figure


def _named(look: Mapping[str, Any]) -> dict[str, Any]:
    return {k: _COLORS.get(v, v) if isinstance(v, str) else v for k, v in look.items()}


def _draw(axes: Axes, kind: str, where: Any, look: dict[str, Any]) -> None:
    if kind == "line":
        axes.plot(*zip(*where, strict=True), **look)
    elif kind == "arrow":
        arrow(axes, where, **look)
    else:
        axes.add_patch(_patch(kind, where, look))


def _patch(kind: str, where: Any, look: dict[str, Any]) -> Polygon | Rectangle | FancyBboxPatch | Circle:
    if kind == "polygon":
        return Polygon(where, closed=True, **look)
    if kind == "circle":
        return Circle(where[:2], where[2], **look)
    box = FancyBboxPatch if "boxstyle" in look else Rectangle
    return box(where[:2], *where[2:], **look)


def arrow(axes: Axes, points: Any, zorder: float | None = None, **look: Any) -> None:
    """A line through points with a head at its end; a look as matplotlib's arrowprops have it."""
    if len(points) > 2:
        line = {key: look[key] for key in ("color", "lw", "ls") if key in look}
        axes.plot(*zip(*points[:-1], strict=True), **line)
    above = {} if zorder is None else {"zorder": zorder}
    axes.annotate("", points[-1], points[-2], arrowprops={"arrowstyle": "-|>", **look}, **above)
