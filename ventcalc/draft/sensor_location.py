"""Where the pressure sensor of a common vent stands, and what a wrong place costs.

A control holds what its sensor reads. What matters is something else: the pressure at the outlet of the farthest
appliance, or at the end of the header. The difference is the sensor's **error**, reading less what matters, and it
has three parts:

- the **place**: draft, losses and the gas's own speed between the two points;
- the **velocity** at the hole: a hole that faces the stream reads a head too much, one behind a reducer what
  the narrow piece's speed has taken, one in an end cap what the first stream has not yet;
- the **leg**: the columns of air in the sensor's tubes, and where its other side is open.

An error that is the same in all firing states costs nothing: move the set point by it. What cannot be cured so
is the **spread** of the error over the states, since it moves the pressure that matters as if nobody held it.

Pressures are gauge; negative is draft. A reading is against the sensor's reference.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft.held_pressure import HEADER, Control, Device, Held, Ideal, before_termination, hold
from ventcalc.flow import fittings, friction, junctions
from ventcalc.gas.streams import GAS_R
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent import end_of_header, outlet_envelope, worst_state
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import SIZE_CHANGE_ANGLE, Network, compile_network

# Straight pipe, in diameters, that test methods want between a disturbance and a place of measurement.
STRAIGHT_BEHIND = 8.0  # behind an elbow, reducer or junction: US EPA, 40 CFR 60, method 1 (published)
STRAIGHT_BEFORE = 2.0  # ahead of one: the same

# How far the pressure on a wall may lie from that of the whole section close behind a disturbance, in velocity heads
# either way, and up to where it is taken to stay so before it fades (no source; measured far less and far more).
CLOSE_BEHIND = 0.25
STILL_CLOSE = 2.0  # diameters

WALL, FACING = "flush in a straight wall", "tube that faces the flow"

# --- Equations -------------------------------------------------------------------------------------------------


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    diameter="m",
    narrow_diameter="m",
    loss_coefficient="",
    above={"density": 0.0, "diameter": 0.0, "narrow_diameter": 0.0},
    at_least={"loss_coefficient": 0.0},
    source="Bernoulli and continuity; any fluid mechanics textbook",
)
def narrowing_error(density, velocity, diameter, narrow_diameter, loss_coefficient=0.0):
    """What a wall tap behind a reducer reads above static pressure ahead of it: ``h (1 - (1 + K) (D/d)^4)``.

    With ``h = rho v^2 / 2``, density [kg/m3] and velocity [m/s] ahead, diameter D ahead and narrow_diameter d behind
    [m]; loss_coefficient K of the reducer on the head behind it; scalars or arrays. Negative where the pipe narrows:
    gas that speeds up has paid for it with pressure. Raises for a density or diameter that is not positive or a
    negative K.
    """
    return friction.velocity_head.bare(density, velocity) * (
        1.0 - (1.0 + loss_coefficient) * (diameter / narrow_diameter) ** 4
    )


@quantities(
    "Pa",
    height="m",
    tube_density="kg/m**3",
    air_density="kg/m**3",
    above={"tube_density": 0.0, "air_density": 0.0},
    source="Hydrostatics",
)
def leg_error(height, tube_density, air_density):
    """What a tube's column adds at its lower end that the air beside it does not: ``g h (rho_tube - rho_air)``.

    height h [m] of the tube's other end above the sensor (negative below it), tube_density of what stands in the tube
    and air_density of the air beside it [kg/m3]; scalars or arrays. On the side of the tap it adds to the reading, on
    that of the reference it is taken off. Nil where both are as warm. Raises for a density that is not positive.
    """
    return GRAVITY * height * (tube_density - air_density)


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    darcy_factor="",
    stresses="",
    above={"density": 0.0},
    at_least={"darcy_factor": 0.0, "stresses": 0.0},
    source="Wall stress of a pipe f/4 rho v^2/2; that a hole reads high: Shaw, J. Fluid Mech. 7 (1960) 550",
)
def hole_error(density, velocity, darcy_factor, stresses=3.0):
    """What a clean hole of finite size reads above static pressure: ``n f/4 rho v^2 / 2``, n wall stresses.

    density [kg/m3] and velocity [m/s] of the stream, darcy_factor f [-] of the pipe, stresses n [-]: about 3 (from
    memory; larger holes at higher speed read more); scalars or arrays. Always positive, about a hundredth of a
    head. Raises for a density that is not positive or a negative factor.
    """
    return stresses * darcy_factor / 4.0 * friction.velocity_head.bare(density, velocity)


@quantities(
    "",
    straight="",
    at_least={"straight": 0.0},
    source="no source: a quarter of a head close behind a disturbance, none where method 1 would measure",
)
def disturbance(straight):
    """How far a wall's pressure may be off behind a disturbance, in velocity heads either way.

    A quarter up to two diameters behind it, from there falling evenly to nothing at eight. straight pipe between the
    disturbance and the hole, in diameters [-]; scalar or array. A guess for a warning, not for a correction: the sign
    depends on the side of the bend. Raises for a negative length.
    """
    return CLOSE_BEHIND * np.clip((STRAIGHT_BEHIND - straight) / (STRAIGHT_BEHIND - STILL_CLOSE), 0.0, 1.0)


WIND_COEFFICIENT_AHEAD = 0.6  # of a low building's wall that the wind meets square on: Swami and Chandra's mean


@quantities(
    "",
    angle="degree",
    at_least={"angle": 0.0},
    at_most={"angle": 180.0},
    source="Swami and Chandra (1987), low buildings, square on plan; as read in three open building-airflow codes",
)
def wall_wind_coefficient(angle):
    """Mean wind pressure on a wall over the wind's velocity head, of a low building that is square on plan.

    ``0.6 ln(1.248 - 0.703 sin(t/2) - 1.175 sin^2 t + 0.769 cos(t/2) + 0.717 cos^2(t/2))``, angle t [degree] of the wind
    from square on the wall (0) to behind it (180); scalar or array. The terms for long and short walls are left out:
    the codes differ in the sign of one. Raises for an angle outside 0 to 180.
    """
    t = np.radians(angle)
    s, c = np.sin(t / 2.0), np.cos(t / 2.0)
    return WIND_COEFFICIENT_AHEAD * np.log(1.248 - 0.703 * s - 1.175 * np.sin(t) ** 2 + 0.769 * c + 0.717 * c**2)


@quantities(
    "Pa",
    low="Pa",
    high="Pa",
    accuracy="",
    at_least={"accuracy": 0.0},
    at_most={"accuracy": 1.0},
    source="Definition: accuracy as a share of full span",
)
def span_error(low, high, accuracy):
    """How far a transducer may be off anywhere in its range, either way: ``accuracy (high - low)``.

    low and high ends of its range [Pa] and accuracy as a share of the span [-], such as 1 percent; scalars or arrays.
    The same at a small pressure as at a large one, so a wide range is paid for near zero. Raises where the range is
    empty.
    """
    if np.any(np.asarray(high) <= low):
        raise ValueError("span_error: the range must end above where it begins")
    return accuracy * (high - low)


def seen(pressure: np.ndarray, low: float, high: float) -> np.ndarray:
    """What a transducer of that range tells of a pressure [Pa]: beyond an end of it, that end. Plain arrays."""
    return np.clip(pressure, low, high)


# --- A tap, its tubes, and what they read ----------------------------------------------------------------------


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
        if self.narrowed is not None and not magnitude(self.narrowed, _METRE, f"tap {self.name}: narrowed") > 0.0:
            raise ValueError(f"tap {self.name}: narrowed {self.narrowed:~P} must be above 0")


_METRE = ureg.Unit("m")
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
                magnitude(height, _METRE, f"leg {self.name}: {what}")
        if self.reference == "room" and (self.wind or self.reference_height is not None):
            raise ValueError(f"leg {self.name}: a sensor open to the room has no reference_height and no wind")


PLAIN = Leg()
ANYTHING = Ideal()  # a device that never comes to a limit


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


def farthest(plant: Plant) -> str:
    """The appliance with the longest way to the termination."""
    return max(plant.appliances, key=lambda a: sum(s.length.m_as("m") for s in plant.path(a.name))).name


def _row(plant: Plant, tap: Tap) -> int:
    names = [s.name for s in plant.order]
    if tap.section not in names:
        raise ValueError(f"tap {tap.name}: no section {tap.section!r}; there are: {', '.join(names)}")
    if tap.capped and _cap_branch(plant, tap.section) is None:
        raise ValueError(
            f"tap {tap.name}: {tap.section!r} begins with no capped end: that needs a single branch that enters the "
            "side of the run"
        )
    return names.index(tap.section)


def _cap_branch(plant: Plant, name: str) -> Section | None:
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


def _between(up, down, share: float):
    return (1.0 - share) * up + share * down


def _widths(section: Section, tap: Tap) -> float:
    """Diameter of the section over that of the piece that the tap sits in."""
    return 1.0 if tap.narrowed is None else float((section.diameter / tap.narrowed).m_as(""))


def _standing(plant: Plant, section: Section, tap: Tap) -> float:
    """What the tap's surroundings add to the section's static pressure, in the section's velocity heads."""
    if tap.capped:
        branch = _cap_branch(plant, section.name)
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


# --- Errors over all states --------------------------------------------------------------------------------------

PARTS = ("place", "velocity", "leg")


@dataclass(frozen=True)
class Errors:
    """A sensor's error over all states that count [Pa], the hole's doubt included, and the states at its ends.

    ``cause`` is the part of the error (one of `PARTS`) that changes most from state to state.
    """

    tap: Tap
    leg: Leg
    target: str
    low: float
    high: float
    mean: float
    low_state: int
    high_state: int
    cause: str

    @property
    def spread(self) -> float:
        """Highest less lowest error [Pa]: what no offset takes away."""
        return self.high - self.low

    @property
    def shift(self) -> float:
        """How far the set point must move so that what matters lies about it evenly [Pa]."""
        return 0.5 * (self.low + self.high)

    @property
    def left(self) -> float:
        """How far what matters still lies off, either way, when the set point has been moved so [Pa]."""
        return 0.5 * self.spread

    def cured(self, within: float) -> bool:
        """Whether moving the set point keeps what matters ``within`` so many Pa of where it should be."""
        return self.left <= within


def errors(scan: Scan, tap: Tap, leg: Leg = PLAIN, target: str = HEADER) -> Errors:
    """A sensor's errors over a whole scan; arguments and what is raised as in `read`.

    States count in which the target counts; where there are none, ValueError.
    """
    return over_states(read(scan, tap, leg, target), tap, leg, target)


def over_states(found: Reading, tap: Tap, leg: Leg = PLAIN, target: str = HEADER) -> Errors:
    """The errors of a reading that is at hand; see `errors`."""
    counted = np.flatnonzero(~np.isnan(found.wanted))
    if counted.size == 0:
        raise ValueError(f"{target} runs in none of the {found.wanted.size} states")
    error, doubt = found.error[counted], found.doubt[counted]
    same = worst_state.SAME_PRESSURE
    low, high = (worst_state.worst(end, same) for end in (doubt - error, error + doubt))
    swings = {part: float(np.ptp(getattr(found, part)[counted])) for part in PARTS}
    swings["velocity"] += 2.0 * float(doubt.max())
    return Errors(
        tap=tap,
        leg=leg,
        target=target,
        low=float(error[low] - doubt[low]),
        high=float(error[high] + doubt[high]),
        mean=float(error.mean()),
        low_state=int(counted[low]),
        high_state=int(counted[high]),
        cause=max(PARTS, key=swings.get),
    )


# --- Places of a job, and their order ------------------------------------------------------------------------------

# How much of the pipe's diameter the narrow inlet of a fan or other device leaves (common practice, no source).
USUAL_NARROWING = 0.75


def taps(plant: Plant) -> tuple[Tap, ...]:
    """The places of a common vent where a sensor is found, end of the header first; for a plant of one run those of it.

    The cap ahead of the header, the wall of its first section, the farthest outlet's connector, the wall of its last
    section, a tube there that faces the gas, the wall behind a reducer there (`USUAL_NARROWING`, as of a fan's
    inlet), the wall close behind the elbow into the stack, and the stack halfway up.
    """
    first = plant.section(end_of_header.far_end(plant))
    shared = [s for s in plant.path(farthest(plant)) if len(plant.serves(s.name)) == len(plant.appliances)]
    last, top = shared[0], shared[-1]
    found = [Tap("end cap", first.name, capped=True)] if _cap_branch(plant, first.name) else []
    found += [
        Tap("wall of the header, at its end", first.name, 0.5),
        Tap("connector at the far outlet", plant.feeds[_index(plant, farthest(plant))]),
        Tap("wall of the header at the stack", last.name, 0.5),
        Tap("tube facing the gas at the stack", last.name, 0.5, FACING),
        Tap("behind a reducer", last.name, 1.0, narrowed=USUAL_NARROWING * last.diameter),
    ]
    if top.name != last.name:
        found.append(Tap("behind the elbow into the stack", top.name))
    found.append(Tap("halfway up the stack", top.name, 0.5))
    return tuple(found)


def _index(plant: Plant, appliance: str) -> int:
    return [a.name for a in plant.appliances].index(appliance)


def rank(
    scan: Scan, places: Iterable[Tap] | None = None, legs: Sequence[Leg] = (PLAIN,), target: str = HEADER
) -> tuple[Errors, ...]:
    """Every place with every leg, the least spread of error first. ``places`` None: those of `taps`."""
    found = [errors(scan, tap, leg, target) for tap in (places or taps(scan.plant)) for leg in legs]
    return tuple(sorted(found, key=lambda e: (e.spread, abs(e.shift))))


_WHY = {
    "place": "draft and losses between the tap and what matters change from state to state",
    "velocity": "the hole reads the gas's speed, and that changes with the burners",
    "leg": "the reference is not the air that matters, and the weather moves it",
}


def reason(found: Errors, within: float, system: str = "US") -> str:
    """In words: what a place costs, why, and whether moving the set point cures it ``within`` so many Pa."""
    spread, shift, left = (show(Q_(p, "Pa"), system, "draft") for p in (found.spread, found.shift, found.left))
    if found.cured(within):
        moved = f"move the set point by {shift}" if abs(found.shift) > found.left else "the set point may stay"
        return f"Good: {moved}, and {left} either way is left."
    return f"Not to be cured by an offset: it spreads over {spread}; {_WHY[found.cause]}."


def straight_lengths(plant: Plant, tap: Tap) -> tuple[float, float]:
    """Straight pipe ahead of the tap and behind it, in diameters; elbows are taken to stand at the ends of a section.

    Compare with `STRAIGHT_BEHIND` and `STRAIGHT_BEFORE`. Where the next section goes on straight at one diameter, this
    is less than there is.
    """
    section = plant.order[_row(plant, tap)]
    diameters = float((section.length / section.diameter).m_as(""))
    return tap.share * diameters, (1.0 - tap.share) * diameters


def shares_seen(pressure: np.ndarray, low: float, high: float) -> float:
    """Share of the states that count in which a transducer of that range [Pa] sees a pressure. Plain arrays."""
    counted = pressure[~np.isnan(pressure)]
    return float(np.mean(seen(counted, low, high) == counted))


# --- What it does to the outlets -------------------------------------------------------------------------------------

_STEADY = 0.25  # Pa, a thousandth of an inch of water: less than any sensor's own error
_PASSES = 8


def held(
    scan: Scan,
    set_point: Quantity,
    tap: Tap | None = None,
    leg: Leg = PLAIN,
    device: Device = ANYTHING,
    doubt: float = 0.0,
) -> Held:
    """The vent when a control at its end brings what this sensor reads to its set point, in every state.

    The end of the header then stands at the set point less the sensor's error. ``tap`` None: a perfect sensor, at the
    end of the header. ``device`` stands before the termination; left out it can do anything. ``doubt`` -1 to 1 moves
    the reading within what is not known of it. The error is read again in the vent as held until it stays; a state in
    which it does not is not ``settled``. Raises ValueError as `read` does.
    """
    place, offset, todo = before_termination(scan.plant), np.zeros(len(scan.states)), np.arange(len(scan.states))
    found, vent = None, scan
    for _ in range(1 if tap is None else _PASSES):
        if tap is not None:
            fresh = _offset(read(vent, tap, leg), doubt)
            todo = np.flatnonzero(np.abs(fresh - offset) >= _STEADY) if found else todo
            offset[todo] = fresh[todo]
        if not todo.size:
            break
        control = Control(place, device, HEADER, set_point, offset[todo])
        part = hold(scan.plant, scan.seasons, scan.states[todo], (control,))
        found = _merged(found, part, todo, replace(control, offset=offset)) if found else part
        vent = found.scan(scan)
    else:
        if tap is not None:  # out of passes: where the error still moves it has not settled
            moves = np.abs(_offset(read(vent, tap, leg), doubt) - offset) >= _STEADY
            found = replace(found, settled=found.settled & ~moves)
    return found


def _merged(whole: Held, part: Held, states: np.ndarray, control: Control) -> Held:
    """The whole with those states as they are in the part."""

    def put(old, new):
        both = old.copy()
        both[..., states] = new
        return both

    def arrays(thing) -> list[str]:
        return [name for name, value in vars(thing).items() if isinstance(value, np.ndarray)]

    solved = {n: put(getattr(whole.solution, n), getattr(part.solution, n)) for n in arrays(whole.solution)}
    solution = replace(whole.solution, **solved)
    return replace(
        whole,
        controls=(control,),
        solution=solution,
        **{n: put(getattr(whole, n), getattr(part, n)) for n in arrays(whole)},
    )


def _offset(found: Reading, doubt: float) -> np.ndarray:
    """What a control takes for its sensor's error; none where nothing runs, for it does not act there."""
    return np.nan_to_num(found.error + doubt * found.doubt)


def set_points(perfect: Held, scan: Scan) -> tuple[float, float]:
    """Lowest and highest pressure [Pa] at the end of the header that keep every outlet in its window in all states.

    ``perfect``: the vent held by a perfect sensor at any set point; each outlet is taken to follow the header one to
    one, as it does where burners force their flow. Where the lowest is above the highest, no set point is right.
    """
    at = float(perfect.controls[0].set_point.m_as("Pa"))
    found = outlet_envelope.envelopes(perfect.scan(scan))
    return max(at + e.window[0] - e.low for e in found), min(at + e.window[1] - e.high for e in found)
