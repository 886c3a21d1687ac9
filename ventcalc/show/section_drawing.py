"""Section drawing: the vent to scale in one solved state, with the pressure along it; it follows a live control.

Gas temperature stands as a shade of grey and as a number behind that of its section (`layout_drawing` has the same
numbers), flow as an arrow whose width goes with it, a wet wall as hatching, reversed flow as a heavy arrow with the
word. Under it stand all outlets against their windows. Nothing is told by color alone, and `Drawing.words` tell all of
it again. Runs are unfolded as in `elevation`; a pipe too thin to be seen at the scale is drawn wider than it is.

A label that finds no free place is left out of the drawing, never put upon another; the words have it.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.ticker import MaxNLocator

from ventcalc.show import elevation, section_signs, section_state
from ventcalc.show.elevation import Elevation, point_at
from ventcalc.show.free_places import Places
from ventcalc.show.plots import BLUE, GREY, INK, RUST, number, unit_label
from ventcalc.show.pressure_panel import pressure_panel
from ventcalc.show.section_signs import LINE, SIZE, WIDTH, arrow, diamond, unit, verdict_sign
from ventcalc.show.section_state import ABOVE, BELOW, Piece, SectionState
from ventcalc.show.svg import Drawing, Sheet, broken, text_width
from ventcalc.show.tags import FAN, SENSOR, Placed
from ventcalc.units import Q_, show
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.words import say

_AXIS = 46.0  # pixels, left of the drawing, for the heights
_EDGE = np.array([[52.0, 30.0], [70.0, 22.0]])  # pixels left free for labels: left and above, right and below
_TALL, _WIDE = (470.0, 430.0), (WIDTH - _AXIS, 330.0)  # width and most height of the drawing beside, above its panel
_THINNEST = 5.0  # pixels, of a pipe
_TEXT = 62.0  # pixels, left of the words on outlets
_NEAR = 60.0  # pixels, from a section to the label with its temperature; farther off it would not be told whose it is


def section_drawing(
    scan: Scan, state: int = 0, system: str = "US", devices: Sequence[Placed] = (), outlet: str = ""
) -> Drawing:
    """The vent in one column of a scan (one solved state: a `Scan` of it alone), with what stands in it.

    ``devices``: fan, dampers and sensors with their tags. ``outlet``: the appliance from which the pressure is
    followed; left out, the one that is farthest outside its window, or nearest to its edge.
    """
    seen, devices = section_state.read(scan, state), tuple(devices)
    drawn = elevation.unfold(scan.plant)
    named = [o for o in seen.outlets if o.name == outlet]
    if outlet and not named:
        raise ValueError(f"outlet {outlet!r}; choose {', '.join(o.name for o in seen.outlets)}")
    frame = _frame(drawn)
    sheet = Sheet(WIDTH, SIZE)
    pen = _Pen(sheet, Places(frame.size), seen, drawn, frame, system)
    _building(pen)
    _heights(pen)
    _pipes(pen)
    _appliances(pen)
    _far_end(pen)
    _devices(pen, devices)
    _flows(pen)
    left_over = _labels(pen, devices)
    pressure_panel(sheet, seen, named[0] if named else seen.nearest, frame.panel, system)
    below = _outlets(sheet, seen, frame.bottom, left_over, system)
    height = section_signs.key(sheet, seen, below, system)
    title = say("show", "section_drawing", "title", plant=scan.plant.name)
    return sheet.drawing(height, title, seen.words(system, devices))


# --- Where things stand on the sheet ------------------------------------------------------------------------


@dataclass(frozen=True)
class _Frame:
    """The drawing at ``scale`` [pixels/m] with its lower left corner ``low`` [m] at ``origin``, on ``size`` pixels of
    the sheet; the box of the ``panel``; and the ``bottom`` of both."""

    scale: float
    low: np.ndarray
    origin: np.ndarray
    size: np.ndarray
    panel: tuple[np.ndarray, np.ndarray]
    bottom: float

    def at(self, points) -> np.ndarray:
        """Pixels of points in meters."""
        return self.origin + (np.asarray(points, float) - self.low) * self.scale * [1.0, -1.0]


def _frame(drawn: Elevation) -> _Frame:
    """The panel stands beside a tall plant and below a wide one, whichever lets it be drawn larger."""
    low, high = drawn.bounds
    span, edges = high - low, _EDGE.sum(axis=0)

    def scale(room) -> float:
        return float(np.min((np.array(room) - edges) / span))

    beside = scale(_TALL) >= scale(_WIDE)
    width, most = _TALL if beside else _WIDE
    chosen = scale((width, most))
    tall = span[1] * chosen + edges[1]
    slack = width - edges[0] - span[0] * chosen
    origin = np.array([_AXIS + _EDGE[0, 0] + slack / 2, tall - _EDGE[1, 1]])
    size = np.array([_AXIS + width, tall])
    if beside:
        panel = np.array([size[0] + 52.0, 62.0]), np.array([WIDTH - 10.0, max(min(tall - 30.0, 340.0), 200.0)])
        return _Frame(chosen, low, origin, size, panel, max(tall, panel[1][1] + 26.0))
    panel = np.array([_AXIS + 12.0, tall + 44.0]), np.array([WIDTH - 10.0, tall + 174.0])
    return _Frame(chosen, low, origin, size, panel, tall + 200.0)


@dataclass(frozen=True)
class _Pen:
    """What draws: the sheet, where it is still free, what was solved, where it lies."""

    sheet: Sheet
    places: Places
    seen: SectionState
    drawn: Elevation
    frame: _Frame
    system: str

    def line(self, section: str) -> np.ndarray:
        """Pixels of a section's line."""
        return self.frame.at(self.drawn.lines[section])

    def wide(self, piece: Piece) -> float:
        """Pixels across a section's pipe."""
        return max(float(piece.section.diameter.m_as("m")) * self.frame.scale, _THINNEST)

    def label(self, anchors, words: str, towards=(0.0, 0.0), led: bool = True, most: float = np.inf) -> bool:
        """Words near one of the anchors, where there is room, with a leader; whether there was."""
        size = text_width(words, SIZE), 1.2 * SIZE
        found = self.places.place(anchors, size, towards, led, most)
        if found is None:
            return False
        center, anchor = found
        if led:
            near = np.clip(anchor, center - np.array(size) / 2, center + np.array(size) / 2)
            self.sheet.line([anchor, near], INK, 0.8)
            self.sheet.circle(anchor, 1.8, INK)
            self.places.keep_clear(np.array([anchor, near]), 0.5)
        self.sheet.words(center, words, INK, "middle")
        return True

    def warning(self, anchors, words: str) -> None:
        """Words that must be seen, on a ground of their own: where there is room, else at the anchor itself."""
        size = np.array([text_width(words, SIZE, True) + 6.0, 1.35 * SIZE])
        found = self.places.place(anchors, size)
        if found is not None:
            self.sheet.line(found, RUST, 1.4)
            self.places.keep_clear(np.array(found), 0.7)
        found = found or self.places.place(anchors, size, led=False)
        center = np.clip(anchors[0], size / 2, self.frame.size - size / 2) if found is None else found[0]
        self.sheet.box(center - size / 2, center + size / 2, "white", RUST, 1.4)
        self.sheet.words(center, words, RUST, "middle", True)


# --- Building, pipes, appliances ----------------------------------------------------------------------------


def _building(pen: _Pen) -> None:
    """Floor, roof and wall."""
    (left, floor), (right, _) = pen.frame.at([[x, 0.0] for x in pen.drawn.floor])
    ticks = np.arange(left, right, 7.0)
    pen.sheet.line([(left, floor), (right, floor)], INK, 1.6)
    pen.sheet.strokes(np.array([[(x, floor + 6.0), (x + 6.0, floor)] for x in ticks]), GREY, 0.8)
    pen.places.keep_box_clear((left, floor), (right, floor + 6.0))
    for part in pen.drawn.shell:
        a, b = pen.frame.at(part)
        pen.sheet.line([a, b], GREY, 4.5)
        pen.sheet.line([a, b], "white", 2.5, stroke_dasharray="4 3")
        pen.places.keep_clear(np.array([a, b]), 3.0)


def _heights(pen: _Pen) -> None:
    """Heights above the floor, those above a break with what was left out added."""
    (_, top), (cut, left_out) = pen.drawn.bounds[1], pen.drawn.cut
    true = float(number(top + left_out, "m", "height", pen.system))
    per_meter = true / (top + left_out)
    x = _AXIS - 8.0
    low, high = (pen.frame.at([0.0, z])[1] for z in (0.0, top))
    if left_out:
        middle = pen.frame.at([0.0, cut])[1]
        pen.sheet.line([(x, low), (x, middle + 3.0)], INK)
        pen.sheet.line([(x, middle - 3.0), (x, high)], INK)
    else:
        pen.sheet.line([(x, low), (x, high)], INK)
    for tick in MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(0.0, true):
        z = tick / per_meter
        if z < 0.0 or z > top + left_out or cut < z < cut + left_out:
            continue
        y = pen.frame.at([0.0, z - (left_out if left_out and z > cut else 0.0)])[1]
        pen.sheet.line([(x - 4.0, y), (x, y)], INK)
        pen.sheet.words((x - 7.0, y), f"{tick:g}", INK, "end")
    pen.sheet.words((4.0, 9.0), say("show", "section_drawing", "height", unit=unit_label("height", pen.system)), INK)
    pen.places.keep_box_clear((0.0, 0.0), (_AXIS, pen.frame.size[1]))
    pen.places.keep_box_clear((0.0, 0.0), (110.0, 18.0))


def _part(line: np.ndarray, begin: float, end: float) -> np.ndarray:
    """The piece of a line between two shares of its length."""
    so_far = np.concatenate([[0.0], np.hypot(*np.diff(line, axis=0).T).cumsum()])
    shares = so_far / max(so_far[-1], 1e-9)
    inside = line[(shares > begin) & (shares < end)]
    return np.vstack([point_at(line, begin), inside, point_at(line, end)])


def _pipes(pen: _Pen) -> None:
    """Every section at its diameter, in the shades of its gas; hatched along both sides where its wall is wet."""
    hottest, pieces = section_signs.hottest(pen.seen), pen.seen.pieces
    lines = [(p, pen.line(p.section.name), p.first, p.last) for p in pieces]
    by_name = {p.section.name: p for p in pieces}
    for name, stub in pen.drawn.stubs.items():
        lines.append((by_name[name], pen.frame.at(stub), by_name[name].first, by_name[name].first))
    for piece, line, *_ in lines:
        pen.sheet.line(line, INK, pen.wide(piece) + 2.4)
        if piece.section.into in by_name or _end_on(line):
            pen.sheet.circle(line[-1], pen.wide(piece) / 2 + 1.2, INK)
    for piece, line, first, last in lines:
        wide = pen.wide(piece)
        into = by_name.get(piece.section.into)
        if into is not None or _end_on(line):
            pen.sheet.circle(
                line[-1], min(wide, pen.wide(into) if into else wide) / 2, section_signs.shade(last, hottest)
            )
        for begin, end in pairwise(np.linspace(0.0, 1.0, section_signs.shades(first, last, hottest) + 1)):
            gas = pen.seen.gas(piece, (begin + end) / 2) if first != last else first
            pen.sheet.line(_part(line, begin, min(end + 0.02, 1.0)), section_signs.shade(gas, hottest), wide)
        pen.places.keep_clear(line, wide / 2 + (6.0 if piece.wet else 1.0))
    for piece, line, *_ in lines:
        if piece.wet:
            section_signs.hatch(pen.sheet, line, pen.wide(piece))
    for name, stub in pen.drawn.stubs.items():
        line = pen.frame.at(stub)
        pen.sheet.line(_across(line[0], line[1] - line[0], pen.wide(by_name[name]) / 2 + 1.0), INK, 2.4)
    _terminals(pen, by_name)
    _break(pen)


def _end_on(line: np.ndarray) -> bool:
    return bool(np.ptp(line, axis=0).max() < 0.5)


def _across(point: np.ndarray, way: np.ndarray, half: float) -> np.ndarray:
    x, y = unit(way)
    return np.array([point - half * np.array([-y, x]), point + half * np.array([-y, x])])


def _terminals(pen: _Pen, by_name: dict[str, Piece]) -> None:
    """A hat where the vent ends with a cap."""
    for end in pen.seen.scan.plant.terminations:
        last = pen.seen.scan.plant.upstream(end.name)[0].name
        line, half = pen.line(last), pen.wide(by_name[last]) / 2 + 2.0
        tip, way = line[-1], unit(line[-1] - line[-2])
        normal = np.array([-way[1], way[0]])
        if end.cap != "open end":
            away = tip + way * 4.0
            hat = [away - normal * half * 1.4, away + way * half * 0.7, away + normal * half * 1.4]
            pen.sheet.line(hat if abs(way[1]) > 0.7 else [hat[0], hat[2]], INK, 2.0)
            pen.places.keep_clear(np.array(hat), 2.0)


def _break(pen: _Pen) -> None:
    """Two slanting strokes where a tall pipe is broken, and what is left out."""
    cut, left_out = pen.drawn.cut
    if not left_out:
        return
    for line in pen.drawn.lines.values():
        for a, b in pairwise(line):
            if min(a[1], b[1]) < cut < max(a[1], b[1]):
                middle = pen.frame.at([a[0], cut])
                slant = middle + np.array([[-16.0, 3.0], [16.0, -3.0]])
                gap = np.array([0.0, 2.5])
                pen.sheet.polygon(np.vstack([slant - gap, slant[::-1] + gap]), "white")
                for side in (-gap, gap):
                    pen.sheet.line(slant + side, INK, 1.2)
                pen.places.keep_clear(slant, 5.0)
                words = say("show", "section_drawing", "left_out", pen.system, left_out=Q_(left_out, "m"))
                pen.label([slant[0], slant[1]], words, led=False)


def _appliances(pen: _Pen) -> None:
    """Boxes, dark where the burner fires and half dark where only a fan runs, with letter and verdict; the hood's skirt
    and the barometric damper's flap with the room air they let in."""
    taken: list[np.ndarray] = []
    for o, box, feed in zip(pen.seen.outlets, pen.drawn.boxes, pen.seen.scan.plant.feeds, strict=True):
        (x, y1), (x1, y) = pen.frame.at(box)
        pen.sheet.box((x, y), (x1, y1), section_signs.box_fill(o), INK, 1.4)
        pen.places.keep_box_clear((x, y), (x1, y1))
        color, middle = section_signs.box_ink(o), (x + x1) / 2
        # Where appliances stand very close, their letters stand one above the other.
        at = next((p for p in _in_box(middle, y, y1) if all(np.ptp([p, q], axis=0).max() > 16.0 for q in taken)), None)
        if at is not None:
            taken.append(at)
            pen.sheet.words(at, o.letter, color, "middle", True)
        if y1 - y > 2.6 * SIZE and x1 - x > 14.0:
            verdict_sign(pen.sheet, np.array([middle, y1 - 10.0]), o.sign, color)
        line, wide = pen.line(feed), pen.wide(pen.seen.pieces[pen.seen.scan.plant.row(feed)])
        if o.kind == "draft hood":
            _skirt(pen, line, wide)
        elif o.kind == "barometric":
            _flap(pen, line, wide)


def _in_box(x: float, top: float, floor: float) -> list[np.ndarray]:
    """Where a letter may stand in an appliance's box, first choice first."""
    if floor - top <= 2.6 * SIZE:
        return [np.array([x, (top + floor) / 2])]
    return [np.array([x, floor - share * (floor - top)]) for share in (0.6, 0.85, 0.2)]


def _skirt(pen: _Pen, line: np.ndarray, wide: float) -> None:
    """A draft hood: open below, around the outlet."""
    way = unit(line[1] - line[0])
    normal, foot = np.array([-way[1], way[0]]), line[0] + 1.0 * way
    half = np.array([wide / 2 + 6.0, wide / 2 + 1.0])
    top = foot + 11.0 * way
    shape = [foot - normal * half[0], top - normal * half[1], top + normal * half[1], foot + normal * half[0]]
    pen.sheet.polygon(shape, "white", INK, 1.4)
    pen.places.keep_clear(np.array([foot, top]), half[0] + 2.0)


def _flap(pen: _Pen, line: np.ndarray, wide: float) -> None:
    """A barometric damper: a stub in the connector's side, with its flap."""
    way = unit(line[1] - line[0])
    normal = np.array([-way[1], way[0]])
    normal = normal if normal[0] < 0.0 or (abs(normal[0]) < 0.3 and normal[1] > 0.0) else -normal
    foot = line[0] + way * min(0.45 * np.hypot(*(line[1] - line[0])), 26.0)
    center = foot + normal * (wide / 2 + 7.0)
    pen.sheet.line([foot, center], INK, 9.0)
    pen.sheet.line([foot, center], "white", 6.0)
    pen.sheet.circle(center, 6.5, "white", INK, 1.4)
    pen.sheet.line([center - 0.8 * (5.0 * way + 4.0 * normal), center + 0.8 * (5.0 * way + 4.0 * normal)], INK, 2.0)
    pen.places.keep_clear(np.array([foot, center]), 8.0)


def _devices(pen: _Pen, devices: Sequence[Placed]) -> None:
    """A ring with a cross for a fan, a stroke across the pipe for a damper, a ring with P for a sensor."""
    for device in devices:
        at, way = _stand(pen, device)
        if device.kind == FAN:
            pen.sheet.circle(at, 9.5, "white", INK, 1.8)
            for slant in (1.0, -1.0):
                pen.sheet.line(at + np.array([[-5.0, -5.0 * slant], [5.0, 5.0 * slant]]), INK, 1.8)
        elif device.kind == SENSOR:
            pen.sheet.circle(at, 8.0, "white", BLUE, 1.8)
            pen.sheet.words(at, "P", BLUE, "middle", True)
        else:
            reach = 11.0 * unit(way + np.array([-way[1], way[0]]))
            pen.sheet.line([at - reach, at + reach], "white", 6.0)
            pen.sheet.line([at - reach, at + reach], INK, 3.4)
            pen.sheet.circle(at, 2.6, INK)
        pen.places.keep_clear(np.array([at, at]), 11.0)


def _stand(pen: _Pen, device: Placed) -> tuple[np.ndarray, np.ndarray]:
    """Where a device stands, and the way the pipe runs there."""
    line = pen.line(device.section)
    if device.kind == SENSOR:
        stub = pen.drawn.stubs.get(device.section)
        return (line[0] if device.appliance or stub is None else pen.frame.at(stub)[0]), line[1] - line[0]
    return point_at(line, 1.0 if device.kind == FAN else 0.88), unit(line[-1] - line[-2])


# --- What flows, and the labels -----------------------------------------------------------------------------


def _full_flow(seen: SectionState) -> float:
    """Flue gas [kg/s] of all appliances at their highest: what the widest arrow is for."""
    network = compile_network(seen.scan.plant, seen.scan.seasons)
    return max(float(sum(np.max(t) for t in network.prescribed)), 1e-9)


def _flows(pen: _Pen) -> None:
    """An arrow in every section that has flow; heavy where it is reversed; and where gas comes into the room."""
    full = _full_flow(pen.seen)
    for piece in pen.seen.pieces:
        if piece.still:
            continue
        line = pen.line(piece.section.name)
        legs = [(a, b) for a, b in pairwise(line)]
        a, b = max(legs, key=lambda leg: np.hypot(*(leg[1] - leg[0])))
        length = float(np.clip(0.6 * np.hypot(*(b - a)), 15.0, 34.0))
        way = unit(b - a) * (-1.0 if piece.reversed else 1.0)
        middle = a + 0.5 * (b - a)
        thick = section_signs.thickness(piece.flow, full)
        arrow(pen.sheet, middle - way * length / 2, middle + way * length / 2, thick, piece.reversed)
        pen.places.keep_clear(np.array([middle - way * length / 2, middle + way * length / 2]), thick + 3.0)
    for k, o in enumerate(pen.seen.outlets):
        inner, outer = _beside(pen, k)
        if o.back > REVERSAL_FLOW:
            arrow(pen.sheet, inner, outer, section_signs.thickness(o.back, full), True)
        elif o.drawn > REVERSAL_FLOW and o.kind != "forced":
            arrow(pen.sheet, outer, inner, section_signs.thickness(o.drawn, full), False)
        else:
            continue
        pen.places.keep_clear(np.array([inner, outer]), 7.0)


def _beside(pen: _Pen, k: int) -> tuple[np.ndarray, np.ndarray]:
    """From the side of an appliance with more room beside it into that room: where air and gas come and go."""
    boxes = [pen.frame.at(box) for box in pen.drawn.boxes]
    (x, floor), (x1, top) = boxes[k]
    walls = [pen.frame.at(part)[:, 0] for part in pen.drawn.shell if part[0, 0] == part[1, 0]]
    sides = np.array([_AXIS, pen.frame.size[0], *(b[0, 0] for b in boxes), *(b[1, 0] for b in boxes), *map(min, walls)])
    left, right = x - sides[sides < x - 1e-6].max(), sides[sides > x1 + 1e-6].min() - x1
    y = top + 0.35 * (floor - top)
    if left >= right:
        return np.array([x, y]), np.array([x - np.clip(left - 6.0, 12.0, 26.0), y])
    return np.array([x1, y]), np.array([x1 + np.clip(right - 6.0, 12.0, 26.0), y])


def _labels(pen: _Pen, devices: Sequence[Placed]) -> tuple[list[str], list[str]]:
    """What warns first, then devices, then number and gas of each section, those that most appliances share first.

    Returns what there was no room for: words of devices, and of the gas in sections.
    """
    plant, system = pen.seen.scan.plant, pen.system
    for k, o in enumerate(pen.seen.outlets):
        if o.back > REVERSAL_FLOW:
            words = say("show", "section_drawing", "flue_gas" if o.flue_gas > REVERSAL_FLOW else "air")
            pen.warning([_beside(pen, k)[1]], words)
    for piece in (p for p in pen.seen.pieces if p.reversed):
        line = pen.line(piece.section.name)
        words = f"{piece.number} {say('show', 'section_drawing', 'reversed')}"
        pen.warning([point_at(line, s) for s in (0.5, 0.35, 0.65)], words)
    told = {d: pen.seen.device_words(d, system) for d in devices}
    devices_left = [words for d, words in told.items() if not pen.label([_stand(pen, d)[0]], words)]
    unlabeled: list[Piece] = []
    served = Counter(s.name for a in plant.appliances for s in plant.path(a.name))
    for piece in sorted(pen.seen.pieces, key=lambda p: -served[p.section.name]):
        line = pen.line(piece.section.name)
        words = f"{piece.number}: {_gas(pen.seen, piece, system)}"
        shares = (0.5, 0.25, 0.75) if np.hypot(*np.diff(line, axis=0).T).sum() > _NEAR else (0.5,)
        if not pen.label([point_at(line, s) for s in shares], words, most=_NEAR):
            unlabeled.append(piece)
    for end in plant.terminations:
        line = pen.line(plant.upstream(end.name)[0].name)
        pen.label([line[-1] + 6.0 * unit(line[-1] - line[-2])], f"{end.name}: {end.cap}", led=False)
    for at, words, (right, up) in pen.drawn.words:
        pen.label([pen.frame.at(at)], words, (right, -up), led=False)
    unlabeled.sort(key=lambda p: p.number)
    return devices_left, [f"{p.number}: {_gas(pen.seen, p, system)}" for p in unlabeled]


def _gas(seen: SectionState, piece: Piece, system: str) -> str:
    """The gas half way along a section."""
    return show(Q_(seen.gas(piece, 0.5), "K"), system, "temperature")


def _far_end(pen: _Pen) -> None:
    """A diamond where the header begins: its pressure stands with those of the outlets."""
    if pen.seen.header is None:
        return
    far = end_of_header.far_end(pen.seen.scan.plant)
    stub = pen.drawn.stubs.get(far)
    diamond(pen.sheet, pen.line(far)[0] if stub is None else pen.frame.at(stub)[0])


# --- Under the drawing --------------------------------------------------------------------------------------


def _outlets(
    sheet: Sheet, seen: SectionState, top: float, left_over: tuple[list[str], list[str]], system: str
) -> float:
    """Every outlet against its window, a line each, the end of the header, and what found no room; returns
    where they end."""
    y = top + LINE
    if not seen.converged:
        y = _told(sheet, y, say("show", "section_drawing", "not_converged"), True)
    for o in seen.outlets:
        wide = 20.0 + 8.0 * (len(o.letter) - 1)
        sheet.box((8.0, y - 8.0), (8.0 + wide, y + 8.0), section_signs.box_fill(o), INK, 1.2)
        sheet.words((8.0 + wide / 2, y), o.letter, section_signs.box_ink(o), "middle", True)
        verdict_sign(sheet, np.array([48.0, y]), o.sign, INK)
        y = _told(sheet, y, o.words(system), o.verdict in (ABOVE, BELOW) or o.back > REVERSAL_FLOW)
    if seen.header is not None:
        diamond(sheet, (18.0, y))
        y = _told(sheet, y, seen.header_words(system))
    devices, gas = left_over
    if devices:
        y = _told(sheet, y, say("show", "section_drawing", "sentence", told="; ".join(devices)))
    if gas:
        y = _told(sheet, y, say("show", "section_drawing", "unlabeled", gas=", ".join(gas)))
    return y


def _told(sheet: Sheet, y: float, words: str, bold: bool = False) -> float:
    """Words in as many lines as they need; returns where the next line stands."""
    for line in broken(words, WIDTH - _TEXT - 6.0, SIZE, bold):
        sheet.words((_TEXT, y), line, RUST if bold else INK, bold=bold)
        y += LINE
    return y
