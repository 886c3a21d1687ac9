"""DXF: the vent in elevation for a drafter's own program, to scale, in layers.

The same unfolded elevation as the drawing of the report, never broken and never seen end-on, so that every section has
its true length. One drawing unit is a millimeter, or an inch in US units. DXF is an open format (Autodesk's reference
of 2012, read by the library ezdxf).
"""

from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment

from ventcalc.show import elevation
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import end_of_header
from ventcalc.vent.layout import Plant

# Name, color of the AutoCAD color index, line type.
LAYERS = {
    "VENT-CENTER": (1, "CENTER"),
    "VENT-WALL": (7, "CONTINUOUS"),
    "VENT-CAP": (7, "CONTINUOUS"),
    "APPLIANCE": (5, "CONTINUOUS"),
    "BUILDING": (8, "CONTINUOUS"),
    "DEVICE": (6, "CONTINUOUS"),
    "SENSOR": (3, "CONTINUOUS"),
    "TEXT": (7, "CONTINUOUS"),
}
APPLICATION = "VENTCALC"  # under which a section's name goes with its line

_UNITS = {"US": (1, "inch"), "SI": (4, "mm")}  # $INSUNITS of the reference
_LETTERS = 0.12  # m, height of lettering


def document(plant: Plant, system: str = "US", devices: dict[str, str] | None = None) -> Drawing:
    """The drawing of a plant; ``devices``: what stands at the downstream end of a section, by its name."""
    code, unit = _UNITS[system]
    doc = ezdxf.new("R2010", setup=True)
    doc.header["$INSUNITS"], doc.header["$MEASUREMENT"] = code, int(system == "SI")
    doc.appids.add(APPLICATION)
    for name, (color, line) in LAYERS.items():
        doc.layers.add(name, color=color, linetype=line)
    pen = _Pen(doc.modelspace(), float(Q_(1.0, "m").m_as(unit)))
    drawn = elevation.unfold(plant, whole=True)
    for number, section in enumerate(plant.order, 1):
        line = drawn.lines[section.name]
        pen.pipe(section.name, line, float(section.diameter.m_as("m")))
        words = (
            f"{number} {section.name}: {show(section.diameter, system, 'diameter')} x {show(section.length, system)}"
        )
        pen.text(line.mean(axis=0), words)
    for name, line in drawn.stubs.items():
        pen.walls("VENT-CAP", line, float(plant.section(name).diameter.m_as("m")))
    for appliance, box in zip(plant.appliances, drawn.boxes, strict=True):
        (left, low), (right, high) = box
        pen.lines("APPLIANCE", [(left, low), (right, low), (right, high), (left, high)], close=True)
        pen.text(np.array([(left + right) / 2, low + _LETTERS]), appliance.name, "APPLIANCE")
    pen.lines("BUILDING", [(drawn.floor[0], 0.0), (drawn.floor[1], 0.0)])
    for line in drawn.shell:
        pen.lines("BUILDING", line)
    for at, words, _ in drawn.words:
        pen.text(at, words)
    for name, words in (devices or {}).items():
        pen.mark("DEVICE", drawn.lines[name][-1], words)
    if len(plant.appliances) > 1:
        pen.mark("SENSOR", _tap(plant, drawn), "draft sensor, end cap")
    return doc


def _tap(plant: Plant, drawn: elevation.Elevation) -> np.ndarray:
    """The far end of the header, in its end cap where it has one."""
    name = end_of_header.far_end(plant)
    return drawn.stubs[name][0] if name in drawn.stubs else drawn.lines[name][0]


class _Pen:
    """Draws points given in meters into a modelspace of another unit."""

    def __init__(self, space, per_meter: float):
        self.space, self.per_meter = space, per_meter

    def lines(self, layer: str, points, close: bool = False):
        return self.space.add_lwpolyline(
            np.asarray(points, float) * self.per_meter, close=close, dxfattribs={"layer": layer}
        )

    def pipe(self, name: str, line: np.ndarray, diameter: float) -> None:
        """A section: its center line, which carries its name, and its walls."""
        self.lines("VENT-CENTER", line).set_xdata(APPLICATION, [(1000, name)])
        self.walls("VENT-WALL", line, diameter)

    def walls(self, layer: str, line: np.ndarray, diameter: float) -> None:
        for begin, end in pairwise(line):
            along = end - begin
            length = float(np.hypot(*along))
            if length:
                aside = np.array([-along[1], along[0]]) / length * diameter / 2
                self.lines(layer, [begin + aside, end + aside])
                self.lines(layer, [begin - aside, end - aside])

    def text(self, at: np.ndarray, words: str, layer: str = "TEXT") -> None:
        text = self.space.add_text(
            words, height=_LETTERS * self.per_meter, dxfattribs={"layer": layer if layer in LAYERS else "TEXT"}
        )
        text.set_placement(tuple(np.asarray(at) * self.per_meter), align=TextEntityAlignment.BOTTOM_LEFT)

    def mark(self, layer: str, at: np.ndarray, words: str) -> None:
        """A circle with words beside it."""
        self.space.add_circle(tuple(at * self.per_meter), radius=0.15 * self.per_meter, dxfattribs={"layer": layer})
        self.text(at + 0.2, words, layer)


def write(plant: Plant, path: Path | str, system: str = "US", devices: dict[str, str] | None = None) -> None:
    """Write the drawing of a plant as a .dxf file."""
    document(plant, system, devices).saveas(path)


def lengths(path: Path | str) -> dict[str, Quantity]:
    """What a drawing says of the length of every section, by its name: for checks of what was written."""
    doc = ezdxf.readfile(path)
    unit = next(u for code, u in _UNITS.values() if code == doc.header["$INSUNITS"])
    found = {}
    for line in doc.modelspace().query('LWPOLYLINE[layer=="VENT-CENTER"]'):
        points = np.array([p[:2] for p in line.get_points()])
        found[line.get_xdata(APPLICATION)[0].value] = Q_(float(np.hypot(*np.diff(points, axis=0).T).sum()), unit)
    return found
