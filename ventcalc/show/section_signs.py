"""Section signs: what a drawing of the vent in one state is made of, and the key that explains it.

Every sign can be told from the others without color.
"""

from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from ventcalc.show.plots import BLUE, GREY, INK, RUST
from ventcalc.show.section_state import ABOVE, BELOW, INSIDE, SPILLS, Outlet, SectionState
from ventcalc.show.svg import Sheet, text_width
from ventcalc.units import Q_
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.words import say

WIDTH = 760.0  # pixels, of the whole drawing
SIZE = 13.0  # pixels, of all lettering
LINE = 18.0  # pixels from line to line
COLDEST = 273.15  # K, of the lightest shade
_DARKEST, _LIGHTEST = 80, 246  # grey of the hottest gas that the plant makes, and of the coldest shown
_STEPS = 12  # shades, at most, from one end of a pipe to the other, and of the key
_ARROWS = (2.0, 9.0)  # pixels, width of an arrow without flow and at full flow of the plant
_HEAVY = 6.0  # pixels, least width of an arrow of reversed flow
_FIRES, _RUNS, _STANDS = "#3a424c", "#b9c0c8", "white"

Sign = Callable[[Sheet, float, float], None]  # draws itself to the right of a point


def hottest(seen: SectionState) -> float:
    """The hottest gas [K] that any appliance of the plant makes."""
    return max(float(level.flue_temperature.m_as("K")) for a in seen.scan.plant.appliances for level in a.levels)


def shade(kelvin: float, most: float) -> str:
    """The grey of gas at a temperature, darkest at ``most``."""
    share = min(max((kelvin - COLDEST) / max(most - COLDEST, 1.0), 0.0), 1.0)
    return "#" + 3 * f"{round(_LIGHTEST + share * (_DARKEST - _LIGHTEST)):02x}"


def shades(first: float, last: float, most: float) -> int:
    """How many greys take the eye from one temperature to another without a step that it sees."""
    return max(1, min(int(2.0 * _STEPS * abs(first - last) / max(most - COLDEST, 1.0)), _STEPS))


def box_fill(o: Outlet) -> str:
    """Tone of an appliance's box: dark where its burner fires, half dark where only its fan runs."""
    return _FIRES if o.fires else _RUNS if o.runs else _STANDS


def box_ink(o: Outlet) -> str:
    """Tone of what is written on it."""
    return "white" if o.fires else INK


def verdict_sign(sheet: Sheet, at, verdict: str, color: str) -> None:
    """A tick inside the window, a triangle that points up above it and down below it, a cross where flue gas comes into
    the room; nothing where the window does not count."""
    if verdict == INSIDE:
        sheet.line(at + np.array([[-5.0, 0.0], [-1.5, 4.0], [5.0, -4.0]]), color, 2.2)
    elif verdict == SPILLS:
        for ground, width in (("white", 6.0), (RUST, 3.4)):
            for slant in (1.0, -1.0):
                sheet.line(at + np.array([[-5.0, -5.0 * slant], [5.0, 5.0 * slant]]), ground, width)
    elif verdict in (ABOVE, BELOW):
        up = -1.0 if verdict == ABOVE else 1.0
        sheet.polygon(at + np.array([[-6.0, -4.5 * up], [6.0, -4.5 * up], [0.0, 5.5 * up]]), RUST, color, 1.4)


def diamond(sheet: Sheet, at) -> None:
    """The end of the header."""
    sheet.polygon(at + np.array([[-6.0, 0.0], [0.0, -6.0], [6.0, 0.0], [0.0, 6.0]]), "white", INK, 1.8)


def thickness(flow: float, full: float) -> float:
    """Width [pixels] of the arrow of a flow, where ``full`` is that of all appliances at their highest."""
    least, most = _ARROWS
    return least + (most - least) * min(abs(flow) / full, 1.0)


def unit(way: np.ndarray) -> np.ndarray:
    """A way of length one."""
    return way / max(np.hypot(*way), 1e-9)


def arrow(sheet: Sheet, start, end, thick: float, heavy: bool) -> None:
    """An arrow as a shape; a heavy one is thicker, and of another tone within a dark edge."""
    thick = max(thick, _HEAVY) if heavy else thick
    start, end = np.asarray(start, float), np.asarray(end, float)
    way = unit(end - start)
    normal = np.array([-way[1], way[0]])
    head = min(1.1 * thick + 5.0, 0.6 * float(np.hypot(*(end - start))))
    neck, half = end - way * head, thick / 2
    wing = half + 3.5
    shape = [start + normal * half, neck + normal * half, neck + normal * wing, end]
    shape += [neck - normal * wing, neck - normal * half, start - normal * half]
    sheet.polygon(shape, "white", "white", 3.5)
    sheet.polygon(shape, RUST if heavy else INK, INK, 1.4 if heavy else 0.5)


def hatch(sheet: Sheet, line: np.ndarray, wide: float) -> None:
    """Short slanting strokes along both walls of a pipe ``wide`` pixels across."""
    strokes = []
    for a, b in pairwise(line):
        way = unit(b - a)
        normal = np.array([-way[1], way[0]])
        for s in np.arange(2.5, np.hypot(*(b - a)), 5.0):
            for side in (-normal, normal):
                foot = a + s * way + side * (wide / 2 + 1.0)
                strokes.append((foot, foot + 5.0 * side + 3.5 * way))
    if strokes:
        sheet.strokes(np.array(strokes), BLUE, 1.5)


# --- The key ------------------------------------------------------------------------------------------------


def key(sheet: Sheet, seen: SectionState, top: float, system: str) -> float:
    """What the signs of this drawing mean; returns the height of the whole."""
    sheet.line([(8.0, top - 5.0), (sheet.width - 8.0, top - 5.0)], GREY, 0.8)
    x, y = 8.0, top + 10.0
    ends = {"cold": Q_(COLDEST, "K"), "hot": Q_(hottest(seen), "K")}
    told = [(_strip, 74.0, say("show", "section_drawing", "gas", system, **ends))]
    told += [(sign, wide, say("show", "section_drawing", name)) for sign, wide, name in _signs(seen)]
    for sign, wide, words in told:
        need = wide + 4.0 + text_width(words, sheet.size)
        if x + need > sheet.width - 6.0:
            x, y = 8.0, y + LINE + 2.0
        sign(sheet, x, y)
        sheet.words((x + wide + 4.0, y), words, INK)
        x += need + 14.0
    return y + 14.0


def _signs(seen: SectionState) -> Iterator[tuple[Sign, float, str]]:
    """The signs that this drawing has, each with its width and the name of its words."""
    boxes = {box_fill(o) for o in seen.outlets}
    for fill, name in ((_FIRES, "firing"), (_RUNS, "fan_only"), (_STANDS, "idle")):
        if fill in boxes:
            yield _swatch(fill), 16.0, name
    for verdict in (INSIDE, ABOVE, BELOW, SPILLS):
        if any(o.sign == verdict for o in seen.outlets):
            yield _verdict(verdict), 16.0, verdict
    backward = any(p.reversed for p in seen.pieces) or any(o.back > REVERSAL_FLOW for o in seen.outlets)
    if any(not p.still for p in seen.pieces):
        yield _arrow(False), 26.0, "flow"
    if backward:
        yield _arrow(True), 26.0, "backward"
    if any(p.wet for p in seen.pieces):
        yield _strokes, 22.0, "wet"


def _strip(sheet: Sheet, x: float, y: float) -> None:
    for k in range(_STEPS):
        grey = shade(COLDEST + k, COLDEST + _STEPS - 1.0)
        sheet.box((x + 6.0 * k, y - 6.0), (x + 6.0 * k + 6.4, y + 6.0), grey)
    sheet.box((x, y - 6.0), (x + 6.0 * _STEPS + 0.4, y + 6.0), "none", INK, 1.0)


def _swatch(fill: str) -> Sign:
    return lambda sheet, x, y: sheet.box((x, y - 6.0), (x + 14.0, y + 6.0), fill, INK, 1.2)


def _verdict(which: str) -> Sign:
    return lambda sheet, x, y: verdict_sign(sheet, np.array([x + 7.0, y]), which, INK)


def _arrow(heavy: bool) -> Sign:
    return lambda sheet, x, y: arrow(sheet, (x, y), (x + 24.0, y), 4.0, heavy)


def _strokes(sheet: Sheet, x: float, y: float) -> None:
    sheet.strokes(np.array([[(a, y + 4.0), (a + 4.0, y - 4.0)] for a in x + 5.0 * np.arange(4)]), BLUE, 1.5)
