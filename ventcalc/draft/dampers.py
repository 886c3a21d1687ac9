"""Dampers: blades that throttle the vent, and a regulator that lets room air in.

A modulating damper destroys draft that nobody wants. What it costs is a loss coefficient on the velocity head in its
face, and that depends on the angle of its blades over five powers of ten; open it still costs something, shut it
still leaks. A barometric draft control does the opposite: it admits room air, which cools the stack and takes flow.

Position is 0 shut, 1 open, and in proportion to the angle of the blades (90 degrees shut, 0 open). A linkage may
bend that; the actuator's stroke is then not the blades'.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from ventcalc import tables
from ventcalc.flow import friction
from ventcalc.flow.fittings import on_other_diameter, size_change
from ventcalc.gas import atmosphere
from ventcalc.gas.appliance import entry_resistance
from ventcalc.units import Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent.network import SIZE_CHANGE_ANGLE, compile_network
from ventcalc.vent.solution import Solution

SHUT_ANGLE = 90.0  # degrees
STANDARD_AIR = float(atmosphere.STANDARD_AIR.m_as("kg/m**3"))  # in which leakage is rated
ABRUPT = 180.0  # degrees included: a plate across the duct

# Smallest move that an actuator repeats, as a share of its stroke (common practice, no source).
ACTUATOR_STEP = 0.01

_FRAMES = ("opposed", "parallel")  # several blades in a rectangular frame
_BISECTIONS = 45  # halvings of the stroke: to a rounding error
_STILL = 1e-12  # Pa, a velocity head below which nothing flows


# --- Loss coefficients -----------------------------------------------------------------------------------


def blade_kinds() -> tuple[str, ...]:
    """Names of the kinds of blades of ``data/draft/dampers.csv``."""
    return tuple(dict.fromkeys(r["name"] for r in tables.read("dampers") if r["kind"] == "loss"))


@cache
def _cells(blades: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tabled perimeter ratios (one NaN where there are none), angles [degree] and ln K (ratios, angles)."""
    rows = [r for r in tables.read("dampers") if (r["kind"], r["name"]) == ("loss", blades)]
    if not rows:
        raise ValueError(f"blades {blades!r}; choose {', '.join(blade_kinds())}")
    ratios = list(dict.fromkeys(r["perimeter_ratio"] for r in rows))
    by_ratio = [[r for r in rows if r["perimeter_ratio"] == ratio] for ratio in ratios]
    angles = np.array([float(r["angle_deg"]) for r in by_ratio[0]])
    losses = np.array([[float(r["value"]) for r in own] for own in by_ratio])
    return np.array([float(r or "nan") for r in ratios]), angles, np.log(losses)


def _log_loss(blades: str, ratio: float) -> tuple[np.ndarray, np.ndarray]:
    """Tabled angles [degree] and ln K there at one perimeter ratio, in straight lines of ln K between ratios."""
    ratios, angles, logs = _cells(blades)
    if blades not in _FRAMES:
        return angles, logs[0]
    if not ratios[0] - 1e-9 <= ratio <= ratios[-1] + 1e-9:
        raise ValueError(f"{blades} blades: perimeter ratio {ratio:.3g} must be {ratios[0]:g} to {ratios[-1]:g}")
    return angles, np.array([np.interp(ratio, ratios, column) for column in logs.T])


@quantities(
    "",
    angle="degree",
    perimeter_ratio="",
    at_least={"angle": 0.0},
    source="Idelchik, Handbook of Hydraulic Resistance (1986), and ASHRAE duct fitting CD9-1, as copied in public "
    "repositories; 80 degrees from memory (data/draft/dampers.csv)",
)
def blade_loss(blades, angle, perimeter_ratio=1.0):
    """Loss coefficient K [-] of blades at an angle, on the velocity head in their face.

    blades: a kind of `blade_kinds`. angle [degree] from 0 (open) to the last tabled one (80 opposed and parallel, 75
    butterfly, 70 thin butterfly), scalar or array. perimeter_ratio [-]: length of all blades over the perimeter of
    the frame, 0.3 to 1.5, one number; round blades have none. Between tabled angles ln K follows a monotone cubic,
    between ratios straight lines. Raises ValueError beyond the table: what follows there is leakage (`Damper`).
    """
    angles, logs = _log_loss(blades, float(perimeter_ratio))
    if np.any(np.asarray(angle) > angles[-1]):
        raise ValueError(f"angle {np.max(angle):g} degrees: {blades} blades are tabled to {angles[-1]:g}")
    return np.exp(PchipInterpolator(angles, logs)(angle))[()]


# --- Leakage ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Leakage:
    """What a shut damper leaks: ``velocity``, the flow of standard air over its face area, at a ``pressure``."""

    velocity: Quantity
    pressure: Quantity

    def __post_init__(self):
        for value, unit, what in ((self.velocity, "m/s", "leakage"), (self.pressure, "Pa", "pressure of the leakage")):
            if not magnitude(value, ureg.Unit(unit), what) > 0:
                raise ValueError(f"{what} {value:.4g~P} must be above 0")


def leakage_classes() -> tuple[str, ...]:
    """Names of the leakage classes of ``data/draft/dampers.csv``."""
    return tuple(r["name"] for r in tables.read("dampers") if r["kind"] == "leakage")


def leakage_class(name: str) -> Leakage:
    """The most that a shut damper of a class may leak; ValueError lists the known classes."""
    found = [r for r in tables.read("dampers") if (r["kind"], r["name"]) == ("leakage", name)]
    if not found:
        raise ValueError(f"leakage class {name!r}; known are: {', '.join(leakage_classes())}")
    return Leakage(Q_(float(found[0]["value"]), "m/s"), Q_(float(found[0]["pressure_Pa"]), "Pa"))


@quantities(
    "m/s",
    rated="m/s",
    rated_pressure="Pa",
    pressure="Pa",
    at_least={"rated": 0.0, "pressure": 0.0},
    above={"rated_pressure": 0.0},
    source="Leakage as through an orifice, with the root of the pressure: engineering page on EN 1751 classes",
)
def leakage_at(rated, rated_pressure, pressure):
    """Leakage over the face area at another pressure, ``v = v_rated sqrt(p / p_rated)``.

    rated [m/s] (m3/s per m2) at rated_pressure [Pa], wanted at pressure [Pa]; scalars or arrays, the same gas.
    Raises for a negative pressure.
    """
    return rated * np.sqrt(pressure / rated_pressure)


@quantities(
    "",
    leakage="m/s",
    pressure="Pa",
    above={"leakage": 0.0, "pressure": 0.0},
    source="Definition of a loss coefficient, in standard air in which leakage is rated",
)
def shut_loss(leakage, pressure):
    """Loss coefficient K [-] of a shut damper on the velocity head in its face, ``K = p / (rho v^2 / 2)``.

    leakage v [m/s], the leakage flow over the face area, at pressure p [Pa], rho that of standard air; scalars or
    arrays. Hot blades warp and seals age: a damper in a vent leaks more than on the test stand. Raises for values
    that are not positive.
    """
    return pressure / friction.velocity_head.bare(STANDARD_AIR, leakage)


# --- Authority -------------------------------------------------------------------------------------------


@quantities(
    "",
    open_loss="Pa",
    other_losses="Pa",
    above={"open_loss": 0.0},
    at_least={"other_losses": 0.0},
    source="Definition, as for control valves: damper open over whole system, damper open",
)
def authority(open_loss, other_losses):
    """Authority ``alpha = dp_open / (dp_open + dp_others)`` of a damper over the flow.

    open_loss [Pa] of the open damper and other_losses [Pa] of all else between the two points whose pressure
    stands still, at one flow; scalars or arrays. An article on sizing (ASHRAE Journal, April 2000) takes the same
    name for ``dp_open / dp_others``, which is ``alpha / (1 - alpha)``: ask which is meant. Raises for losses that
    cannot be.
    """
    return open_loss / (open_loss + other_losses)


@quantities(
    "",
    inherent="",
    authority="",
    above={"inherent": 0.0, "authority": 0.0},
    at_most={"inherent": 1.0, "authority": 1.0},
    source="Wade, Basic and Advanced Regulatory Control (2nd ed.), appendix B: a valve in series with a fixed "
    "resistance at constant pressure (assumptions read in search result; worked from them)",
)
def installed_flow(inherent, authority):
    """Share of full flow in a system at constant pressure, ``1 / sqrt(1 - alpha + alpha / phi^2)``.

    inherent phi [-] is the share of its open flow that the damper alone passes at constant pressure, ``sqrt(K_open /
    K)``; authority alpha [-] above 0 to 1 (at 1 nothing but the damper resists). Scalars or arrays. In a common vent
    it says little: there the burners prescribe the flow, and the damper moves the pressure. Raises outside 0 to 1.
    """
    return 1.0 / np.sqrt(1.0 - authority + authority / inherent**2)


# --- The damper ------------------------------------------------------------------------------------------


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
        _cells(self.blades)  # refuses an unknown kind
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
        return self.blades not in _FRAMES

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
        angles, logs = _log_loss(self.blades, self.perimeter_ratio)
        shut = shut_loss.bare(self.leakage.velocity.m_as("m/s"), self.leakage.pressure.m_as("Pa"))
        losses = np.append(np.exp(logs) / self.free_share**2, shut) + self.transitions
        return np.append(angles, SHUT_ANGLE), np.log(losses)

    @cached_property
    def _log_curve(self) -> PchipInterpolator:
        return PchipInterpolator(*self._nodes)

    def loss(self, position) -> np.ndarray:
        """Loss coefficient K [-], transitions included, on its face's velocity head at a position; plain arrays."""
        return np.exp(self._log_curve(SHUT_ANGLE * (1.0 - np.asarray(position, float))))

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
        head = np.maximum(self.head(flow, density), _STILL)
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


# --- A square section in a round duct ----------------------------------------------------------------------


PLACES = ("inside", "around")


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


def transition_loss(diameter: float, side: float, angle: float) -> float:
    """K of the way from a round duct [m] into a square section [m] and back, on the velocity head in the square.

    Changes of size between circles of equal areas, both of one included angle [degree] (`fittings.size_change`).
    """
    square = side * np.sqrt(4.0 / np.pi)  # the circle of the square's area
    smaller = min(diameter, square)
    both = sum(float(size_change.bare(*ends, angle)) for ends in ((diameter, square), (square, diameter)))
    return float(on_other_diameter.bare(both, smaller, square))


# --- Sizing ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Duties:
    """What a damper must do, state by state; plain arrays of one length.

    ``flow`` [m3/s] and ``density`` [kg/m3] at it and the total pressure to ``destroy`` [Pa]. Where that is nought or
    less there is no draft to spare, and the damper should be wide open. ``states`` numbers them for their owner.

    Where a damper holds its set point all else in the vent is as it was, so that these duties are those of any damper.
    """

    flow: np.ndarray
    density: np.ndarray
    destroy: np.ndarray
    states: np.ndarray

    @classmethod
    def of(cls, held, control: int = 0) -> "Duties":
        """From a `held_pressure.Held` of an ideal device, in all states in which its control acts.

        Raises ValueError where some of them have not settled.
        """
        pick = np.flatnonzero(held.acts[control])
        if not held.settled[pick].all():
            raise ValueError(f"{(~held.settled[pick]).sum()} of {pick.size} states have not settled")
        values = (a[control, pick] for a in (held.flow, held.density, -held.added))
        return cls(*values, pick)


@dataclass(frozen=True)
class Rating:
    """How one damper does its duties; arrays are one value a duty.

    ``position``; ``error`` [Pa]: above 0 where it destroys too much even at its most, below 0 where it cannot destroy
    enough; ``step`` [Pa]: what one step of its actuator moves. ``burden``: the largest of these as a share of what is
    tolerated. ``reasons`` why it does not fit, one sentence each; empty where it does.
    """

    damper: Damper
    duties: Duties
    position: np.ndarray
    error: np.ndarray
    step: np.ndarray
    burden: float
    reasons: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether it does all its duties within what is tolerated."""
        return not self.reasons

    @property
    def smallest(self) -> tuple[float, int]:
        """The smallest opening it needs, and in which duty."""
        return float(self.position.min()), int(self.position.argmin())


def size(
    duties: Duties,
    candidates: Sequence[Damper],
    tolerance: Quantity,
    least_opening: float = 0.0,
    actuator_step: float = ACTUATOR_STEP,
    system: str = "US",
) -> tuple[Rating, ...]:
    """Candidates rated over every duty, the best first; where none fits the first is the one that fails least.

    ``tolerance``: how far from the wanted pressure a state may stay, and the most that one ``actuator_step`` (share of
    the stroke) may move. ``least_opening``: a smaller one is not trusted to be found again. The worst duty of a damper
    is the one with the least flow, not that with the most pressure: hence all states. Raises ValueError where there
    are no candidates or no duties.
    """
    allowed = float(magnitude(tolerance, ureg.Unit("Pa"), "tolerance"))
    if not allowed > 0:
        raise ValueError(f"tolerance {tolerance:.4g~P} must be above 0")
    if not len(candidates) or not duties.flow.size:
        raise ValueError("nothing to rate: give at least one candidate and one duty")
    rated = [_rate(d, duties, allowed, least_opening, actuator_step, system) for d in candidates]
    return tuple(sorted(rated, key=lambda r: (not r.fits, r.burden)))


def _rate(damper: Damper, duties: Duties, allowed: float, least_opening: float, move: float, system: str) -> Rating:
    wanted = np.maximum(duties.destroy, 0.0)
    position = damper.position_for(wanted, duties.flow, duties.density)
    lost = damper.loss(position) * damper.head(duties.flow, duties.density)
    error = lost - wanted
    # Half a step each way: the ends of the stroke are flat, and a step from there is what counts.
    ends = (damper.loss(np.clip(position + s * move / 2.0, damper.least, damper.most)) for s in (-1.0, 1.0))
    step = np.abs(np.subtract(*ends)) * damper.head(duties.flow, duties.density)
    burden = float(max(np.abs(error).max(), step.max()) / allowed)
    reasons = _reasons(duties, wanted, position, error, step, allowed, least_opening, move, system)
    return Rating(damper, duties, position, error, step, burden, reasons)


def _reasons(duties, wanted, position, error, step, allowed, least_opening, move, system) -> tuple[str, ...]:
    def pascal(value):
        return show(Q_(float(value), "Pa"), system, "draft")

    def at(k: int) -> str:
        return f"at {show(Q_(float(duties.flow[k]), 'm**3/s'), system)}"

    found = []
    short, costly, coarse, small = (int(i) for i in (error.argmin(), error.argmax(), step.argmax(), position.argmin()))
    if error[short] < -allowed:
        found.append(
            f"shut, it still lets {pascal(-error[short])} of {pascal(wanted[short])} through "
            f"{at(short)}: it leaks too much"
        )
    if error[costly] > allowed:
        found.append(f"open, it costs {pascal(error[costly])} too much {at(costly)}")
    if step[coarse] > allowed:
        found.append(
            f"one step of its actuator ({move:.1%} of the stroke) moves {pascal(step[coarse])} "
            f"{at(coarse)}, {position[coarse]:.0%} open: too coarse there"
        )
    if position[small] < least_opening:
        found.append(f"it must stand at {position[small]:.1%} open {at(small)}: too near shut")
    return tuple(found)


# --- A barometric draft control ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Regulated:
    """What a barometric draft control does in the states of a solution; plain arrays.

    ``drawn`` room air [kg/s]; ``dilution``, that over the flue gas (NaN where none flows); ``opening``, the share of
    its open area that would pass as much (a shut one leaks); ``draft`` at it [Pa], positive; ``hot`` and ``mixed`` [K],
    the gas before and behind it.
    """

    drawn: np.ndarray
    dilution: np.ndarray
    opening: np.ndarray
    draft: np.ndarray
    hot: np.ndarray
    mixed: np.ndarray


def regulated(solution: Solution, name: str) -> Regulated:
    """What the regulator of an appliance does; the flows and temperatures are those that `common_vent` solved for.

    Raises ValueError where the plant has no appliance of that name, where it has no regulator, and for an appliance
    between two of its states, which has no one temperature before the regulator.
    """
    appliances = {a.name: i for i, a in enumerate(solution.plant.appliances) if a.kind == "barometric"}
    if name not in appliances:
        raise ValueError(f"{name!r} has no barometric draft control; those with one: {', '.join(appliances) or 'none'}")
    i = appliances[name]
    appliance, network = solution.plant.appliances[i], compile_network(solution.plant, solution.seasons)
    season, row = solution.states.season, network.fed_by[i]
    codes = solution.states.codes[i].astype(int)
    if (codes != solution.states.codes[i]).any():
        raise ValueError(f"{name}: give whole codes; an appliance between two states has no one temperature")
    resistance = entry_resistance(appliance, "off", network.place_density[network.rooms[i]])[season]
    pull = solution.room_gauge[i] - solution.pressure_up[row]
    drawn = solution.drawn[i]
    flue = solution.flow[row] - drawn
    firing = flue > 1e-9
    return Regulated(
        drawn=drawn,
        dilution=np.where(firing, drawn / np.where(firing, flue, 1.0), np.nan),
        opening=np.abs(drawn) * np.sqrt(resistance / np.maximum(np.abs(pull), _STILL)),
        draft=pull,
        hot=network.temperature[i][season, codes],
        mixed=solution.upstream[row],
    )
