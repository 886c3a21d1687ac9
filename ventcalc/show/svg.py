"""SVG: a drawing as text that a page shows at once and at any size, and the words for those who do not see it.

Plain numbers in pixels, x to the right and y downward. Lettering is measured in a wide face, so that what fits here
fits in the faces that pages use.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from html import escape
from pathlib import Path

import numpy as np
from matplotlib import get_data_path
from matplotlib.ft2font import FT2Font, LoadFlags

FACES = "Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"  # none wider than the last that is named
_POINT = 64.0  # parts of a pixel in which a font tells how far a letter advances
_MEASURED_AT = 100  # pixels


@dataclass(frozen=True)
class Drawing:
    """A drawing as ``svg`` text, and the ``words`` that say the same."""

    svg: str
    words: str


@cache
def _font(bold: bool) -> FT2Font:
    font = FT2Font(str(Path(get_data_path(), "fonts", "ttf", f"DejaVuSans{'-Bold' if bold else ''}.ttf")))
    font.set_size(_MEASURED_AT, 72)
    return font


@cache
def _advance(letter: str, bold: bool) -> float:
    """Width of a letter over its size."""
    return _font(bold).load_char(ord(letter), LoadFlags.NO_HINTING).horiAdvance / _POINT / _MEASURED_AT


def text_width(words: str, size: float, bold: bool = False) -> float:
    """Pixels that words take at most at a size."""
    return size * sum(_advance(letter, bold) for letter in words)


def broken(words: str, width: float, size: float, bold: bool) -> list[str]:
    """Words in lines of at most so many pixels."""
    found = [""]
    for word in words.split():
        longer = f"{found[-1]} {word}".strip()
        if found[-1] and text_width(longer, size, bold) > width:
            found.append(word)
        else:
            found[-1] = longer
    return found


@dataclass
class Sheet:
    """A sheet to draw on, from back to front; lettering of one ``size``."""

    width: float
    size: float
    shapes: list[str] = field(default_factory=list)

    def line(self, points: Iterable[Sequence[float]], stroke: str, width: float = 1.0, **look: str) -> None:
        """A line through points."""
        told = _points(points)
        self._put("polyline", points=told, fill="none", stroke=stroke, stroke_width=f"{width:.1f}", **look)

    def polygon(self, points: Iterable[Sequence[float]], fill: str, stroke: str = "none", width: float = 1.0) -> None:
        """A closed shape."""
        self._put("polygon", points=_points(points), fill=fill, stroke=stroke, stroke_width=f"{width:.1f}")

    def strokes(self, pairs: np.ndarray, stroke: str, width: float = 1.0) -> None:
        """Many short lines (count, 2, 2) as one shape."""
        told = "".join(f"M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}" for (a, b), (c, d) in pairs)
        self._put("path", d=told, fill="none", stroke=stroke, stroke_width=f"{width:.1f}")

    def box(self, low: Sequence[float], high: Sequence[float], fill: str, stroke: str = "none", width: float = 1.0):
        """A box from its upper left to its lower right corner."""
        (x, y), (x1, y1) = low, high
        place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "width": f"{x1 - x:.1f}", "height": f"{y1 - y:.1f}"}
        self._put("rect", **place, fill=fill, stroke=stroke, stroke_width=f"{width:.1f}")

    def circle(self, center: Sequence[float], radius: float, fill: str, stroke: str = "none", width: float = 1.0):
        """A circle."""
        place = {"cx": f"{center[0]:.1f}", "cy": f"{center[1]:.1f}", "r": f"{radius:.1f}"}
        self._put("circle", **place, fill=fill, stroke=stroke, stroke_width=f"{width:.1f}")

    def words(self, at: Sequence[float], told: str, fill: str, anchor: str = "start", bold: bool = False) -> None:
        """Words whose middle line runs through a point, with a halo that keeps them legible on lines."""
        place = {"x": f"{at[0]:.1f}", "y": f"{at[1] + 0.36 * self.size:.1f}"}
        weight = {"font_weight": "bold"} if bold else {}
        halo = {"stroke": "white", "stroke_width": "3", "paint_order": "stroke"} if fill != "white" else {}
        self._put("text", escape(told), **place, fill=fill, text_anchor=anchor, **weight, **halo)

    def drawing(self, height: float, title: str, words: str) -> Drawing:
        """What has been drawn, with its title and its words."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:.0f} {height:.0f}" role="img" '
            f'style="width: 100%; max-width: {self.width:.0f}px; height: auto; background: white" '
            f'font-family="{FACES}" font-size="{self.size:g}">'
        )
        told = f"<title>{escape(title)}</title><desc>{escape(words)}</desc>"
        return Drawing(head + told + "".join(self.shapes) + "</svg>", words)

    def _put(self, shape: str, content: str = "", **looks: str) -> None:
        told = " ".join(f'{name.replace("_", "-")}="{value}"' for name, value in looks.items())
        self.shapes.append(f"<{shape} {told}>{content}</{shape}>" if content else f"<{shape} {told}/>")


def _points(points: Iterable[Sequence[float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
