"""Dampers: one modulating damper, its loss at a position, and the position for a loss.

A modulating damper destroys draft that nobody wants. What it costs is a loss coefficient on the velocity head in its
face, and that depends on the angle of its blades over five powers of ten (`damper_loss`); open it still costs
something, shut it still leaks (`damper_leakage`).

Position is 0 shut, 1 open, and in proportion to the angle of the blades (90 degrees shut, 0 open). A linkage may
bend that; the actuator's stroke is then not the blades'.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ventcalc.compiled import law
from ventcalc.door import door
from ventcalc.draft import curve_pieces
from ventcalc.draft.curve_pieces import Pieces
from ventcalc.draft.damper_leakage import Leakage, shut_loss
from ventcalc.draft.damper_loss import FRAMES, cells, log_loss
from ventcalc.flow import friction
from ventcalc.flow.fittings import on_other_diameter, size_change
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.vent.network import SIZE_CHANGE_ANGLE

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

SHUT_ANGLE = 90.0  # degrees
ABRUPT = 180.0  # degrees included: a plate across the duct
_BISECTIONS = 45  # halvings of the stroke: to a rounding error
STILL = 1e-12  # Pa, a velocity head below which nothing flows


@law
def loss_at(log_pieces, position):
    """Loss coefficient K [-] of a damper's `Damper.log_pieces` at a position."""
    return np.exp(curve_pieces.value(log_pieces, SHUT_ANGLE * (1.0 - position)))


@dataclass(frozen=True)
class Damper:
    """A modulating damper.

    ``blades``: a kind of `blade_kinds`. ``width``, along the blades, and ``height`` of its face; for round blades
    both are the diameter. ``count`` of blades, ``thickness`` of blade and shaft across the flow, ``leakage`` shut.
    ``transitions``: K of the pieces before and behind it on the velocity head of its face. ``least`` and ``most``
    position between which it may stand (0 shut, 1 open): a stop keeps a damper from shutting.

    Published coefficients are those of thin blades. Thicker ones raise the velocity between them: K over the square
    of the free share of the face, which is on the safe side where blades are inclined.
    """

    blades: str
    width: Quantity
    height: Quantity
    leakage: Leakage
    count: int = 1
    thickness: Quantity = Q_(0.0, "m")
    transitions: float = 0.0
    least: float = 0.0
    most: float = 1.0

    def __post_init__(self):
        cells(self.blades)  # refuses an unknown kind
        for value, what in ((self.width, "width"), (self.height, "height")):
            if not magnitude(value, ureg.Unit("m"), f"{what} of the damper") > 0:
                raise ValueError(f"{what} of the damper {value:.4g~P} must be above 0")
        if magnitude(self.thickness, ureg.Unit("m"), "thickness of its blades") < 0:
            raise ValueError(f"thickness of its blades {self.thickness:.4g~P} must not be negative")
        if self.count != int(self.count) or self.count < 1:
            raise ValueError(f"{self.count} blades: a damper has at least one")
        if self.round and self.count != 1:
            raise ValueError(f"{self.blades}: {self.count} blades; a round damper has one")
        if self.round and abs(self.width / self.height - 1.0) > 1e-9:
            raise ValueError(f"{self.blades}: width {self.width:.4g~P} and height {self.height:.4g~P} are its diameter")
        self._check_stroke()

    def _check_stroke(self) -> None:
        """Whether K rises all the way from open to shut, between two stops in order."""
        if not self.transitions >= 0:
            raise ValueError(f"loss of the transitions {self.transitions:g} must not be negative")
        if not 0.0 <= self.least < self.most <= 1.0:
            raise ValueError(f"positions {self.least:g} to {self.most:g} must run from lower to higher within 0 to 1")
        if not 0.0 < self.free_share <= 1.0:
            raise ValueError(f"{self.count} blades of {self.thickness:.4g~P} leave no free area")
        angles, logs = self._nodes
        if not logs[-1] > logs[-2]:
            raise ValueError(
                f"shut it would leak more than at {angles[-2]:g} degrees (K {np.exp(logs[-1]):.3g} against "
                f"{np.exp(logs[-2]):.3g}): give a smaller leakage"
            )

    @property
    def round(self) -> bool:
        """Whether its face is a circle."""
        return self.blades not in FRAMES

    @cached_property
    def face(self) -> float:
        """Area of its face [m2], inside its frame."""
        area = float(self.width.m_as("m") * self.height.m_as("m"))
        return np.pi / 4.0 * area if self.round else area

    @property
    def perimeter_ratio(self) -> float:
        """Length of all blades over the perimeter of the frame."""
        width, height = self.width.m_as("m"), self.height.m_as("m")
        return float(self.count * width / (2.0 * (width + height)))

    @property
    def free_share(self) -> float:
        """Share of its face that blades and shafts leave free when open."""
        blocked = self.count * self.thickness.m_as("m") * self.width.m_as("m")
        return float(1.0 - blocked / self.face)

    @cached_property
    def _nodes(self) -> tuple[np.ndarray, np.ndarray]:
        """Angles [degree] and ln K of damper and transitions, the last one shut."""
        angles, logs = log_loss(self.blades, self.perimeter_ratio)
        shut = shut_loss.bare(self.leakage.velocity.m_as("m/s"), self.leakage.pressure.m_as("Pa"))
        losses = np.append(np.exp(logs) / self.free_share**2, shut) + self.transitions
        return np.append(angles, SHUT_ANGLE), np.log(losses)

    @cached_property
    def _log_curve(self) -> "PchipInterpolator":
        from scipy.interpolate import PchipInterpolator  # slow to import

        return PchipInterpolator(*self._nodes)

    def loss(self, position) -> np.ndarray:
        """Loss coefficient K [-], transitions included, on its face's velocity head at a position; plain arrays."""
        return loss_at(self.log_pieces, np.asarray(position, float))

    @cached_property
    def log_pieces(self) -> Pieces:
        """ln K over the angle [degree], as plain numbers."""
        return curve_pieces.pieces(self._log_curve)

    def steepness(self, position) -> np.ndarray:
        """How fast K falls as it opens, ``-d ln K / d position``; above 0 except at the ends of its stroke."""
        slope = self._log_curve.derivative()(SHUT_ANGLE * (1.0 - np.asarray(position, float)))
        return SHUT_ANGLE * slope

    def inherent(self, position) -> np.ndarray:
        """Share of its open flow that it passes at constant pressure, ``sqrt(K_open / K)``; plain arrays."""
        return np.sqrt(self.loss(1.0) / self.loss(position))

    def head(self, flow, density) -> np.ndarray:
        """Velocity head [Pa] in its face at a volume flow [m3/s] of gas of a density [kg/m3]; plain arrays."""
        return friction.velocity_head.bare(density, np.asarray(flow, float) / self.face)

    def limits(self, flow, density, area: float) -> tuple[np.ndarray, np.ndarray]:
        """Least and most total pressure [Pa] that it adds at a volume flow [m3/s] and density [kg/m3].

        That is the loss shut and the loss open, negative where gas flows forward; where it flows backward both
        push the other way. The head is that of its own face: ``area`` [m2], of its section, does not matter.
        """
        head = np.sign(flow) * self.head(flow, density)
        ends = -self.loss(self.least) * head, -self.loss(self.most) * head
        return np.minimum(*ends), np.maximum(*ends)

    def position_for(self, pressure, flow, density) -> np.ndarray:
        """Position at which it destroys a pressure [Pa, positive] at a volume flow [m3/s] and density [kg/m3].

        Its ``least`` or ``most`` where it cannot; ``most`` where nothing is to be destroyed. Plain arrays.
        """
        head = np.maximum(self.head(flow, density), STILL)
        return self.position_of_loss(np.maximum(pressure, 0.0) / head)

    def position_of_loss(self, loss) -> np.ndarray:
        """Position at which K [-], transitions included, has a value; ``least`` or ``most`` beyond them."""
        wanted = np.asarray(loss, float)
        low, high = np.full(wanted.shape, self.least), np.full(wanted.shape, self.most)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            too_much = self.loss(middle) > wanted
            low, high = np.where(too_much, middle, low), np.where(too_much, high, middle)
        ends = [wanted >= self.loss(self.least), wanted <= self.loss(self.most)]
        return np.select(ends, [self.least, self.most], 0.5 * (low + high))

    def at(self, position: float) -> "Damper":
        """The same damper with its blades fixed at one position (to within a millionth of its stroke)."""
        low = float(np.clip(position, 0.0, 1.0 - 1e-6))
        return replace(self, least=low, most=low + 1e-6)


PLACES = ("inside", "around")


@door(diameter="m", thickness="m", above={"diameter": 0.0}, at_least={"thickness": 0.0})
def square_in_round(
    diameter: Quantity, place: str, blades: str, count: int, leakage: Leakage, thickness: Quantity = Q_(0.0, "m")
) -> Damper:
    """A square blade section in a round duct, with what it costs to get there and back.

    "inside": the largest square that fits into the duct, its corners on the wall; the four segments beside it are
    blanked off by a plate, so that the gas contracts and expands abruptly. "around": a square as wide as the duct,
    between two transitions of 60 degrees. Faces are 2/pi and 4/pi of the duct. Raises ValueError for another place.
    """
    if place not in PLACES:
        raise ValueError(f"place {place!r}; choose {', '.join(PLACES)}")
    duct = float(magnitude(diameter, ureg.Unit("m"), "diameter of the duct"))
    side, angle = (duct / np.sqrt(2.0), ABRUPT) if place == "inside" else (duct, SIZE_CHANGE_ANGLE)
    loss = transition_loss(duct, side, angle)
    return Damper(blades, Q_(side, "m"), Q_(side, "m"), leakage, count, thickness, transitions=loss)


@door(plain={"diameter": "m", "side": "m", "angle": "degree"}, above={"diameter": 0.0, "side": 0.0})
def transition_loss(diameter: float, side: float, angle: float) -> float:
    """K of the way from a round duct [m] into a square section [m] and back, on the velocity head in the square.

    Changes of size between circles of equal areas, both of one included angle [degree] (`fittings.size_change`).
    """
    square = side * np.sqrt(4.0 / np.pi)  # the circle of the square's area
    smaller = min(diameter, square)
    both = sum(float(size_change.bare(*ends, angle)) for ends in ((diameter, square), (square, diameter)))
    return float(on_other_diameter.bare(both, smaller, square))
