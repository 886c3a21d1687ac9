"""Sensor reading: what a tap with its tubes reads in every state, and the error of that, by its parts.

A control holds what its sensor reads. What matters is something else: the pressure at the outlet of the farthest
appliance, or at the end of the header. The difference is the sensor's **error**, reading less what matters, and it
has three parts:

- the **place**: draft, losses and the gas's own speed between the two points;
- the **velocity** at the hole: a hole that faces the stream reads a head too much, one behind a reducer what
  the narrow piece's speed has taken, one in an end cap what the first stream has not yet;
- the **leg**: the columns of air in the sensor's tubes, and where its other side is open.

Pressures are gauge; negative is draft. A reading is against the sensor's reference.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.sensor_error import disturbance, leg_error, narrowing_error
from ventcalc.flow import fittings, junctions
from ventcalc.gas.streams import GAS_R
from ventcalc.units import Quantity, magnitude, ureg
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import SIZE_CHANGE_ANGLE, Network, compile_network

WALL, FACING = "flush in a straight wall", "tube that faces the flow"


@dataclass(frozen=True)
class Tap:
    """A hole for a sensor in ``section``, at ``share`` of its length: 0 upstream, 1 downstream but ahead of a device.

    ``hole`` is one of `junctions.SENSOR_PLACES`. ``capped``: not in the section itself but in the capped end of the
    run ahead of it. ``narrowed``: the diameter of a short narrow piece at the tap, behind a reducer, such as the inlet
    of a fan; what such a piece costs belongs to what it is made for, and is not in the solved vent.
    """

    name: str
    section: str
    share: float = 0.0
    hole: str = WALL
    capped: bool = False
    narrowed: Quantity | None = None

    def __post_init__(self):
        if not 0.0 <= self.share <= 1.0:
            raise ValueError(f"tap {self.name}: share {self.share:g} of the section must be 0 to 1")
        if self.hole not in junctions.SENSOR_PLACES:
            raise ValueError(f"tap {self.name}: hole {self.hole!r}; choose {', '.join(junctions.SENSOR_PLACES)}")
        if self.capped and self.share:
            raise ValueError(f"tap {self.name}: the capped end is ahead of the section, where share is 0")
        if self.capped and (self.hole != WALL or self.narrowed is not None):
            # The gas there stands still: nothing faces a stream, and a narrow piece would change nothing.
            raise ValueError(f"tap {self.name}: in a capped end hole must be {WALL!r} and narrowed None")
        if self.narrowed is not None and not magnitude(self.narrowed, _METER, f"tap {self.name}: narrowed") > 0.0:
            raise ValueError(f"tap {self.name}: narrowed {self.narrowed:~P} must be above 0")


_METER = ureg.Unit("m")
AIRS = ("room", "outdoors")


@dataclass(frozen=True)
class Leg:
    """A sensor's tubes: from the tap to the sensor, and from the sensor to where its other side is open.

    ``height`` of the sensor above the boiler-room floor (None: at the tap). ``tube``: how warm the air in the tube
    to the tap is, "room", "outdoors" or a temperature; as warm as the room, the height makes no difference.
    ``reference`` "room": open at the sensor. "outdoors": a tube to ``reference_height`` (None: the sensor's own), whose
    air is ``reference_tube`` warm, and where the wind presses with ``wind`` times its velocity head.
    """

    name: str = "open to the room at the tap"
    height: Quantity | None = None
    tube: str | Quantity = "room"
    reference: str = "room"
    reference_height: Quantity | None = None
    reference_tube: str | Quantity = "room"
    wind: float = 0.0

    def __post_init__(self):
        if self.reference not in AIRS:
            raise ValueError(f"leg {self.name}: reference {self.reference!r}; choose {', '.join(AIRS)}")
        for what, air in (("tube", self.tube), ("reference_tube", self.reference_tube)):
            if isinstance(air, str):
                if air not in AIRS:
                    raise ValueError(f"leg {self.name}: {what} {air!r}; choose {', '.join(AIRS)} or a temperature")
            elif not magnitude(air, ureg.Unit("K"), f"leg {self.name}: {what}") > 0.0:
                raise ValueError(f"leg {self.name}: {what} {air:~P} must be above absolute zero")
        for what, height in (("height", self.height), ("reference_height", self.reference_height)):
            if height is not None:
                magnitude(height, _METER, f"leg {self.name}: {what}")
        if self.reference == "room" and (self.wind or self.reference_height is not None):
            raise ValueError(f"leg {self.name}: a sensor open to the room has no reference_height and no wind")


PLAIN = Leg()


@dataclass(frozen=True)
class Reading:
    """What one sensor reads in every state, and the parts of its error; arrays over the states [Pa].

    ``wanted`` is the pressure that matters, NaN in states that do not count: nothing runs, or not the appliance whose
    outlet it is. ``place``, ``velocity`` and ``leg`` add up to the ``error``. ``doubt`` is how far what is not known of
    the hole, and the `disturbance` of the stream around it, may move it either way.
    """

    wanted: np.ndarray
    place: np.ndarray
    velocity: np.ndarray
    leg: np.ndarray
    doubt: np.ndarray

    @property
    def error(self) -> np.ndarray:
        """Reading less what matters [Pa]."""
        return self.place + self.velocity + self.leg

    @property
    def pressure(self) -> np.ndarray:
        """What the sensor reads [Pa]."""
        return self.wanted + self.error


def read(scan: Scan, tap: Tap, leg: Leg = PLAIN, target: str = HEADER) -> Reading:
    """What a sensor reads in all states of a scan, and why that is not the pressure that matters.

    ``target`` is "header", the static pressure at the end of the header, or an appliance's name, the pressure at its
    outlet. Raises ValueError for an unknown section or target, and for a capped end where the drawing has none.
    """
    solution, plant = scan.solution, scan.plant
    row = _row(plant, tap)
    network = compile_network(plant, scan.seasons)
    section, head = plant.order[row], _between(solution.head_up[row], solution.head_down[row], tap.share)
    low, high = plant.heights[section.name]
    height = low + tap.share * (high - low)
    static = _between(solution.pressure_up[row], solution.pressure_down[row] - solution.added[row], tap.share) - head
    room = network.room_at(height, scan.states)
    matters = wanted(scan, target, network)
    hole = junctions.SENSOR_PLACES[tap.hole]
    local = head * _widths(section, tap) ** 4
    velocity = _standing(plant, section, tap) * head + 0.5 * (hole.low + hole.high) * local
    return Reading(
        wanted=matters,
        place=static - room - matters,
        velocity=np.where(np.isnan(matters), np.nan, velocity),
        leg=np.where(np.isnan(matters), np.nan, room + _columns(network, scan, leg, height)),
        doubt=np.where(np.isnan(matters), np.nan, _doubt(plant, tap) * local),
    )


def wanted(scan: Scan, target: str = HEADER, network: Network | None = None) -> np.ndarray:
    """The pressure that matters in every state [Pa against the room there]; NaN where it does not count.

    "header": `end_of_header.far_end_pressure`, while anything runs. An appliance's name: its outlet, while it runs.
    ``network``: the compiled plant, where it is at hand. Raises ValueError for any other name.
    """
    if target == HEADER:
        network = network or compile_network(scan.plant, scan.seasons)
        return np.where(scan.any_running, end_of_header.far_end_pressure(scan.solution, network), np.nan)
    names = [a.name for a in scan.plant.appliances]
    if target not in names:
        raise ValueError(f"target {target!r}; choose {HEADER} or one of {', '.join(names)}")
    i = names.index(target)
    return np.where(scan.running(i), scan.solution.outlet_pressure[i], np.nan)


def _row(plant: Plant, tap: Tap) -> int:
    names = [s.name for s in plant.order]
    if tap.section not in names:
        raise ValueError(f"tap {tap.name}: no section {tap.section!r}; there are: {', '.join(names)}")
    if tap.capped and cap_branch(plant, tap.section) is None:
        raise ValueError(
            f"tap {tap.name}: {tap.section!r} begins with no capped end: that needs a single branch that enters the "
            "side of the run"
        )
    return names.index(tap.section)


def cap_branch(plant: Plant, name: str) -> Section | None:
    """The branch that enters the side of a run capped ahead of it, or None where the run goes on or turns."""
    into = plant.upstream(name)
    return into[0] if len(into) == 1 and into[0].junction else None


def _doubt(plant: Plant, tap: Tap) -> float:
    """What is not known of a tap's coefficient, either way."""
    if tap.capped:
        return 0.0
    hole = junctions.SENSOR_PLACES[tap.hole]
    behind = 0.0 if tap.narrowed is not None else straight_lengths(plant, tap)[0]
    return 0.5 * (hole.high - hole.low) + float(disturbance.bare(behind))


def straight_lengths(plant: Plant, tap: Tap) -> tuple[float, float]:
    """Straight pipe ahead of the tap and behind it, in diameters; elbows are taken to stand at the ends of a section.

    Compare with `STRAIGHT_BEHIND` and `STRAIGHT_BEFORE`. Where the next section goes on straight at one diameter, this
    is less than there is.
    """
    section = plant.order[_row(plant, tap)]
    diameters = float((section.length / section.diameter).m_as(""))
    return tap.share * diameters, (1.0 - tap.share) * diameters


def _between(up, down, share: float):
    return (1.0 - share) * up + share * down


def _widths(section: Section, tap: Tap) -> float:
    """Diameter of the section over that of the piece that the tap sits in."""
    return 1.0 if tap.narrowed is None else float((section.diameter / tap.narrowed).m_as(""))


def _standing(plant: Plant, section: Section, tap: Tap) -> float:
    """What the tap's surroundings add to the section's static pressure, in the section's velocity heads."""
    if tap.capped:
        branch = cap_branch(plant, section.name)
        form = junctions.junction(branch.junction)
        ratio = junctions.area_ratio(branch.diameter.m_as("m"), section.diameter.m_as("m"))
        return float(junctions.end_cap_excess.bare(ratio, form.angle, form.rounding))
    if tap.narrowed is None:
        return 0.0
    own, narrow = section.diameter.m_as("m"), tap.narrowed.m_as("m")
    loss = float(fittings.size_change.bare(own, narrow, SIZE_CHANGE_ANGLE)) * max(1.0, narrow / own) ** 4
    # Per head of the section: density 2 and velocity 1 make a head of 1.
    return float(narrowing_error.bare(2.0, 1.0, own, narrow, loss))


def _columns(network: Network, scan: Scan, leg: Leg, tap_height: float) -> np.ndarray:
    """What tubes and reference add to the tap's pressure against outdoors [Pa]: that reading less this pressure."""
    season = scan.states.season
    at = tap_height if leg.height is None else float(leg.height.m_as("m"))
    outdoors = network.outdoor_density[season]
    tube = leg_error.bare(tap_height - at, _air(network, leg.tube)[season], outdoors)
    if leg.reference == "room":
        return tube - network.room_at(at, scan.states)
    above = 0.0 if leg.reference_height is None else float(leg.reference_height.m_as("m")) - at
    other = leg_error.bare(above, _air(network, leg.reference_tube)[season], outdoors)
    return tube - other - leg.wind * scan.states.windy * network.wind_head[season]


def _air(network: Network, warmth: str | Quantity) -> np.ndarray:
    """Density [kg/m3] per season of the air in a tube."""
    if isinstance(warmth, str):
        return {"room": network.room_density, "outdoors": network.outdoor_density}[warmth]
    return network.pressure / (network.room_gas[GAS_R] * float(warmth.m_as("K")))
