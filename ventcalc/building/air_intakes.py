"""Air intakes: a roof, its stack and intakes, their distance along a stretched string, and the distance to keep."""

from dataclasses import dataclass

import numpy as np

from ventcalc.building.code_rules import CHECK_EDITION, figure
from ventcalc.building.plan_geometry import inside, nearest
from ventcalc.building.roof_scene import Opening, Scene
from ventcalc.building.terminal import Terminal
from ventcalc.units import Q_, Quantity, magnitude, quantities, require, ureg


@quantities(
    "m",
    along_roof="m",
    down_wall="m",
    sideways="m",
    at_least={"along_roof": 0.0, "down_wall": 0.0},
    source="plane geometry: the wall unfolded into the roof's plane",
)
def stretched_string(along_roof, down_wall=0.0, sideways=0.0):
    """Shortest way over the roof's edge: sqrt((a + h)^2 + b^2).

    along_roof: a from the stack to the edge above the intake, square to it, m; down_wall: h from the edge down to the
    intake, m (0: it stands on the roof); sideways: b along the edge, m. Numbers or arrays. Source: plane geometry.
    """
    return np.hypot(along_roof + down_wall, sideways)


@quantities(
    "m",
    flow="m**3/s",
    velocity="m/s",
    target="",
    at_least={"flow": 0.0},
    above={"target": 0.0},
    source="ASHRAE 62.1, informative appendix on separation (from memory); " + CHECK_EDITION,
)
def separation(flow, velocity, target):
    """Distance for a dilution by the ventilation standard's appendix: L = 0.09 sqrt(Q) (sqrt(DF) - U/400), not below 0.

    In ft, cfm and fpm there. flow: Q of the exhaust, m3/s; velocity: U away from the intake, m/s: 0 for a capped or
    level discharge, negative towards it; target: DF, the dilution wanted. Numbers or arrays that broadcast.

    One wind, one roof, no heights. From memory: to be confirmed.
    """
    factor = float(figure("re_entrainment", "separation factor").m_as("m/(m**3/s)**0.5"))
    against = velocity / float(figure("re_entrainment", "separation velocity").m_as("m/s"))
    return np.maximum(factor * np.sqrt(flow) * (np.sqrt(target) - against), 0.0)


@dataclass(frozen=True)
class Roof:
    """A roof: ``height`` above ground and the ``roughness`` of the surroundings."""

    height: Quantity
    roughness: Quantity = Q_(0.65, "m")

    def __post_init__(self):
        require(self.roughness, "m", "roof: roughness", 0.0, above=True)
        require(self.height, "m", "roof: height", 3.0 * float(self.roughness.m_as("m")), above=True)


@dataclass(frozen=True)
class Stack:
    """A stack: ``height`` of its top above the roof, ``diameter`` of the discharge, ``capped`` or free.

    ``wall``: the vent leaves through a wall, where what holds for roofs is an estimate that passes nothing.
    """

    name: str
    height: Quantity
    diameter: Quantity
    capped: bool = False
    wall: bool = False

    def __post_init__(self):
        require(self.height, "m", f"stack {self.name}: height", 0.0)
        require(self.diameter, "m", f"stack {self.name}: diameter", 0.0, above=True)


@dataclass(frozen=True)
class Intake:
    """An air intake: ``distance`` from the stack along a stretched string, ``height`` of its top above the roof
    (negative: in a wall below it)."""

    name: str
    distance: Quantity
    height: Quantity = Q_(0.0, "m")

    def __post_init__(self):
        require(self.distance, "m", f"intake {self.name}: distance", 0.0)
        magnitude(self.height, ureg.Unit("m"), f"intake {self.name}: height")


INTAKES = ("forced-air intake", "gravity air inlet", "operable window", "door")


def intakes(scene: Scene, terminal: Terminal, kinds: tuple[str, ...] = INTAKES) -> tuple[Intake, ...]:
    """The openings of a roof scene as intakes of a terminal, heights counted from its `level`.

    From a roof to an opening below it along a `stretched_string` over the edge; else the nearest way, in plan from a
    roof to what stands on it, and straight through the air from a vent through a wall.
    """
    return tuple(_intake(scene, terminal, opening) for opening in scene.openings if opening.kind in kinds)


def _intake(scene: Scene, terminal: Terminal, opening: Opening) -> Intake:
    base, (bottom, top) = level(scene, terminal), opening.span
    far = float(np.abs(nearest(terminal.at, opening.shape, opening.closed)[0][0]))
    if terminal.through == "wall":
        far = float(np.hypot(far, max(bottom - base, base - top, 0.0)))
    elif top < base:
        far = min(_over_edge(terminal.at[0], *ends, base - top, far) for ends in _walls(opening))
    return Intake(opening.name, Q_(far, "m"), Q_(top - base, "m"))


def _walls(opening: Opening) -> list[tuple[np.ndarray, np.ndarray]]:
    """The pieces of wall in plan that an opening lies in, by their ends; a mere point has one without a direction."""
    shape = opening.shape
    ends = np.roll(shape, -1, axis=0) if opening.closed else shape[1:]
    return list(zip(shape, ends, strict=False)) or [(shape[0], shape[0])]


def _over_edge(at: np.ndarray, begin: np.ndarray, end: np.ndarray, down: float, far: float) -> float:
    """The string [m] from a place on the roof to a piece of wall, its opening ``down`` below the edge and ``far`` in
    plan. Of a wall without a direction the shortest of all."""
    long = float(np.hypot(*(end - begin)))
    if long == 0.0:
        return float(np.hypot(far, down))
    (x, y), (dx, dy) = at - begin, (end - begin) / long
    before, across = x * dx + y * dy, abs(x * dy - y * dx)
    sideways = max(-before, before - long, 0.0)
    return float(stretched_string.bare(across, down, sideways))


def level(scene: Scene, terminal: Terminal) -> float:
    """Level [m] from which heights count: of the roof that a terminal passes through, its own of one through a wall."""
    return float(terminal.outlet.m_as("m")) if terminal.through == "wall" else roof_level(scene, terminal)


def roof_level(scene: Scene, terminal: Terminal) -> float:
    """Level [m] of the roof under a terminal; of the highest, where none is under it."""
    under = [p for p in scene.planes if inside(terminal.at, p.shape)[0]]
    return max(float(p.height(terminal.at)[0]) for p in under or scene.planes)
