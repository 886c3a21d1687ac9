"""Draft control: the pressure loop in time, on the vent as it is.

A sensor in the header, a controller and a fan or damper, on the vent in time (`transient`): a stack full of cold air
takes seconds to fill with flue gas, its walls take minutes to warm, and the column of gas has to be accelerated. So do
the sensor's filter (tenths of a second) and the fan's rotor or the damper's actuator (seconds).

What the burners do does not depend on the loop until something trips. So the vent is followed once through all of the
schedule, at a row of settings of the device side by side, each held all the time (`respond`), and the loop in time only
interpolates in that table (`simulate`). Where every flow is the burners' own this is exact: a pascal more from the
device is a pascal less before it. Where the vent draws room air, what a setting has drawn in over the last seconds is
that of the setting held, not of the way the loop came: an approximation. So is that such a vent takes up a new setting
without having to be accelerated. When a limit trips an appliance, what follows is solved anew.

``at_once`` leaves the gas's time out: in every instant the vent then stands in a steady state of `common_vent`, its
walls between cold and hot as the schedule's ``warming`` says. That is quick, and right once the vent has filled; it
must not be asked about the first half minute after light-off.

The controller's output is the setting of its device, 0 to 1: the speed of a fan or the opening of a damper. More of
either lowers the pressure; hence the error is pressure less set point. Pressures are gauge against the room, negative
is draft.

Draft control is no safety control: `Limits` stand apart from the loop, with a way of their own to the burners.
"""

from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import exp, inf
from typing import NamedTuple, Protocol

import numpy as np

from ventcalc.draft.dampers import Damper
from ventcalc.draft.fans import Fan, own_head, static_pressure
from ventcalc.draft.held_pressure import HEADER
from ventcalc.flow import friction, heat_loss, warm_up
from ventcalc.gas.flue_gas import Gas, specific_heat, transport
from ventcalc.gas.flue_gas import prandtl as prandtl_number
from ventcalc.units import Q_, Quantity, magnitude, quantities, ureg
from ventcalc.vent import transient
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end, far_end_pressure
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Instant, Method

STEP = 0.05  # s, of the loop in time; it must be short against the fastest thing that moves
AT_ONCE = STEP  # s that a sudden change takes, where gas answers at once
SUDDEN = 0.5  # s that it takes in time: no blower or valve stops a column of gas faster (common practice, no source)

# Ratio of the derivative's time to that of its filter; 2 to 20 are usual (Åström and Hägglund; from memory).
DERIVATIVE_FILTER = 8.0

_PA, _S = ureg.Unit("Pa"), ureg.Unit("s")


def _seconds(value: Quantity, name: str, least: float = 0.0) -> float:
    """A time in s, refused below ``least``."""
    found = float(magnitude(value, _S, name))
    if not found >= least:
        raise ValueError(f"{name} = {value:~P} must be at least {least:g} s")
    return found


# --- The parts of a loop ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Sensor:
    """A pressure sensor and its place.

    It reads from ``low`` to ``high`` and no further: beyond, it stands at the end of its range. The reading then passes
    a first-order ``filter`` (time constant) and is taken every ``sample``. ``where`` is "header", the header's far
    end, or the name of an appliance: its outlet. Raises ValueError for a range that does not rise, a negative
    filter, a sample that is not positive.
    """

    low: Quantity
    high: Quantity
    filter: Quantity = Q_(0.5, "s")
    sample: Quantity = Q_(0.1, "s")
    where: str = HEADER

    def __post_init__(self):
        low, high = self.range
        if not low < high:
            raise ValueError(f"sensor: range {self.low:~P} to {self.high:~P} must run from lower to higher")
        _seconds(self.filter, "sensor: filter")
        _seconds(self.sample, "sensor: sample", 1e-3)

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest reading, Pa."""
        return float(magnitude(self.low, _PA, "sensor: low")), float(magnitude(self.high, _PA, "sensor: high"))

    def filtered(self, step: float) -> Callable[[float, float, float], float]:
        """The filter over one ``step`` [s]: (reading, pressure before, pressure after) -> reading.

        ``T dy/dt = clip(p) - y``, exact for a pressure that goes in a straight line from one to the other.
        """
        low, high = self.range
        constant = float(self.filter.m_as("s"))
        ratio = step / constant if constant > 0.0 else inf
        left = exp(-ratio)
        mean = (1.0 - left) / ratio

        def follow(reading: float, before: float, after: float) -> float:
            before, after = min(max(before, low), high), min(max(after, low), high)
            return left * reading + (mean - left) * before + (1.0 - mean) * after

        return follow


@dataclass(frozen=True)
class Gains:
    """The controller: ``kp`` share of the setting per pressure (1/Pa), ``ti`` integral and ``td`` derivative time.

    ``u = kp (e + 1/ti int e dt + td dy/dt)``: the derivative acts on the reading alone, through a filter of time ``td
    / DERIVATIVE_FILTER``. ``tracking`` is the time in which back-calculation brings the integral back from beyond the
    output's limits; left out it is sqrt(ti td), or ti where td is 0 (Åström and Hägglund; from memory). An infinite
    ``ti`` leaves the integral out. Raises ValueError for values that are negative, and a ti or tracking of zero.
    """

    kp: Quantity
    ti: Quantity
    td: Quantity = Q_(0.0, "s")
    tracking: Quantity | None = None

    def __post_init__(self):
        if not self.plain[0] >= 0.0:
            raise ValueError(f"gains: kp = {self.kp:~P} must not be negative; more output lowers the pressure")

    @cached_property
    def plain(self) -> tuple[float, float, float, float]:
        """kp [1/Pa], ti, td and tracking [s]."""
        kp = float(magnitude(self.kp, ureg.Unit("1/Pa"), "gains: kp"))
        ti, td = _seconds(self.ti, "gains: ti", 1e-3), _seconds(self.td, "gains: td")
        usual = (ti * td) ** 0.5 if td > 0.0 else ti
        return kp, ti, td, usual if self.tracking is None else _seconds(self.tracking, "gains: tracking", 1e-3)


class Memory(NamedTuple):
    """What a sampled controller remembers: its ``integral`` and ``derivative`` part and the ``last`` reading [Pa]."""

    integral: float
    derivative: float
    last: float


Control = Callable[[float, Memory], tuple[float, Memory]]


def controller(gains: Gains, sample: float, set_point: float, least: float = 0.0, most: float = 1.0) -> Control:
    """The sampled controller: (reading [Pa], memory) -> (output, memory), called every ``sample`` [s].

    With ``e = reading - set_point`` [Pa], the output is ``kp e + integral + derivative`` between ``least`` and
    ``most``. The integral then gains ``kp sample/ti e``, and by back-calculation ``sample/tracking`` times what the
    limits cut off.
    """
    kp, ti, td, tracking = gains.plain
    gather, track = kp * sample / ti, min(sample / tracking, 1.0)
    keep = td / (td + DERIVATIVE_FILTER * sample)
    slope = kp * DERIVATIVE_FILTER * keep

    def control(reading: float, memory: Memory) -> tuple[float, Memory]:
        error = reading - set_point
        derivative = keep * memory.derivative + slope * (reading - memory.last)
        wanted = kp * error + memory.integral + derivative
        output = min(max(wanted, least), most)
        integral = memory.integral + gather * error + track * (output - wanted)
        return output, Memory(integral, derivative, reading)

    return control


def bumpless(gains: Gains, reading: float, set_point: float, output: float) -> Memory:
    """The memory with which a controller takes over at an ``output`` and a ``reading`` [Pa] without a jump."""
    return Memory(output - gains.plain[0] * (reading - set_point), 0.0, reading)


Move = Callable[[float, float], float]


class Actuator(Protocol):
    """What moves the device: a damper's motor or a fan's drive and rotor."""

    def mover(self, step: float) -> Move:
        """(setting, wanted) -> the setting a ``step`` [s] later."""


@dataclass(frozen=True)
class Stroke:
    """A damper's motor: it runs at one speed, a full stroke in ``time``, until it stands where it should."""

    time: Quantity

    def __post_init__(self):
        _seconds(self.time, "stroke: time")

    def mover(self, step: float) -> Move:
        """A step towards the wanted setting, at most the share of the stroke that fits in it."""
        time = float(self.time.m_as("s"))
        most = step / time if time > 0.0 else inf

        def move(setting: float, wanted: float) -> float:
            return setting + min(max(wanted - setting, -most), most)

        return move


@dataclass(frozen=True)
class Lag:
    """First-order: ``T ds/dt = wanted - s`` with the time ``constant`` T, a fan's speed in the small."""

    constant: Quantity

    def __post_init__(self):
        _seconds(self.constant, "lag: time constant")

    def mover(self, step: float) -> Move:
        """Exact for an output that does not change within the step."""
        constant = float(self.constant.m_as("s"))
        left = exp(-step / constant) if constant > 0.0 else 0.0

        def move(setting: float, wanted: float) -> float:
            return wanted + left * (setting - wanted)

        return move


@dataclass(frozen=True)
class Rotor:
    """A fan's rotor on a drive: ``J dw/dt = torque of the motor - load (w / w_full)^2``.

    ``inertia`` J of wheel and motor, ``full_speed`` w_full, ``load`` the air's torque at full speed, ``torque`` the
    most and ``brake`` the most negative that the drive gives (0: the wheel coasts). The drive keeps the wanted speed
    as far as these let it. Raises ValueError unless inertia, full_speed, load and torque are positive and brake is
    not negative.
    """

    inertia: Quantity
    full_speed: Quantity
    load: Quantity
    torque: Quantity
    brake: Quantity = Q_(0.0, "N*m")

    def __post_init__(self):
        inertia, full, load, torque, brake = self.plain
        if not (min(inertia, full, load, torque) > 0.0 and brake >= 0.0):
            raise ValueError("rotor: inertia, full_speed, load and torque must be above 0, brake not negative")

    @property
    def plain(self) -> tuple[float, float, float, float, float]:
        """Inertia [kg m2], full speed [rad/s], load, torque and brake [N m]."""
        units = {"inertia": "kg*m**2", "full_speed": "rad/s", "load": "N*m", "torque": "N*m", "brake": "N*m"}
        return tuple(float(magnitude(getattr(self, n), ureg.Unit(u), f"rotor: {n}")) for n, u in units.items())

    def mover(self, step: float) -> Move:
        """As far towards the wanted speed as the torque brings it; the midpoint rule, good to the second order."""
        inertia, full, load, torque, brake = self.plain
        fast, slow, air = (step * t / (inertia * full) for t in (torque, -brake, load))

        def reached(speed: float, push: float) -> float:
            half = speed + 0.5 * (push - air * speed * speed)
            return speed + push - air * half * half

        def move(speed: float, wanted: float) -> float:
            if wanted > speed:
                return min(wanted, reached(speed, fast))
            return max(wanted, reached(speed, slow))

        return move


class Device(Protocol):
    """A fan or damper at the downstream end of its section."""

    def added(self, flow: np.ndarray, density: np.ndarray, area: float, setting: np.ndarray) -> np.ndarray:
        """Total pressure [Pa] that it adds at a flow [m3/s] of gas of a density [kg/m3] in a section of an area [m2].

        ``setting`` 0 to 1 is the share of the full speed of a fan, or of the full opening of a damper.
        """


@dataclass(frozen=True)
class Linear:
    """A device that adds ``least`` [Pa] at setting 0 and ``most`` at 1, evenly between, whatever flows."""

    least: float
    most: float

    def added(self, flow, density, area, setting):
        """A straight line in the setting; flow, density and area do not matter to it."""
        return self.least + (self.most - self.least) * np.broadcast_arrays(setting, flow)[0]


@dataclass(frozen=True)
class FanSpeed:
    """A fan whose speed is set, as a share of the most it may turn."""

    fan: Fan

    def added(self, flow, density, area, setting):
        """Its static pressure at that speed and the velocity head that leaves with the gas (`fans.own_head`)."""
        speed = np.asarray(setting) * self.fan.most_speed
        return static_pressure.bare(self.fan, flow, speed, density) + own_head(self.fan, flow, density, area)


@dataclass(frozen=True)
class DamperPosition:
    """A damper whose position is set, as far as its stops let it."""

    damper: Damper

    def added(self, flow, density, area, setting):
        """Less than nought: the loss at that position on the velocity head in its face, against the flow."""
        position = np.clip(setting, self.damper.least, self.damper.most)
        return -np.sign(flow) * self.damper.loss(position) * self.damper.head(flow, density)


@dataclass(frozen=True)
class Loop:
    """One loop: a ``sensor``, its ``gains``, an ``actuator`` and the pressure it holds, ``set_point``.

    The output stays between ``least`` and ``most``. Until the time ``manual`` it stands at ``start``; then the
    controller takes over without a jump. Without a ``start`` the loop begins at rest at its set point, or at the
    limit that is nearest to it. An infinite ``manual`` freezes the output. Raises ValueError where 0 <= least < most
    <= 1 does not hold, or the start lies outside.
    """

    sensor: Sensor
    gains: Gains
    actuator: Actuator
    set_point: Quantity
    least: float = 0.0
    most: float = 1.0
    start: float | None = None
    manual: Quantity = Q_(0.0, "s")

    def __post_init__(self):
        magnitude(self.set_point, _PA, "loop: set_point")
        _seconds(self.manual, "loop: manual")
        if not 0.0 <= self.least < self.most <= 1.0:
            raise ValueError(f"loop: output limits {self.least:g} and {self.most:g} must rise within 0 to 1")
        if self.start is not None and not self.least <= self.start <= self.most:
            raise ValueError(f"loop: start {self.start:g} must lie between {self.least:g} and {self.most:g}")


@dataclass(frozen=True)
class Limits:
    """Limit switches at one place: one trips when the pressure has been beyond it for its delay without a break.

    ``delay`` is that of the high limit, ``low_delay`` that of the low one (None: the same).
    """

    low: Quantity = Q_(-inf, "Pa")
    high: Quantity = Q_(inf, "Pa")
    delay: Quantity = Q_(0.0, "s")
    low_delay: Quantity | None = None

    def __post_init__(self):
        low, high = self.plain
        _ = self.delays
        if not low < high:
            raise ValueError(f"limits: {self.low:~P} to {self.high:~P} must run from lower to higher")

    @property
    def plain(self) -> tuple[float, float]:
        """Low and high [Pa]."""
        low, high = (float(magnitude(v, _PA, f"limits: {n}")) for n, v in (("low", self.low), ("high", self.high)))
        return low, high

    @property
    def delays(self) -> tuple[float, float]:
        """Delay of the low and of the high limit [s]."""
        low = self.delay if self.low_delay is None else self.low_delay
        return _seconds(low, "limits: low_delay"), _seconds(self.delay, "limits: delay")


# --- What the burners, the weather and the walls do ---------------------------------------------------------


@dataclass(frozen=True)
class Turn:
    """An appliance goes over ``to`` another of its states from ``at`` on, in a straight line ``within`` a time."""

    appliance: str
    to: str
    at: Quantity
    within: Quantity = Q_(AT_ONCE, "s")


def start_up(
    appliance: str,
    at: Quantity,
    purge: Quantity,
    levels: tuple[tuple[str, Quantity], ...],
    fan: Quantity = Q_(2.0, "s"),
    ramp: Quantity = Q_(1.0, "s"),
) -> tuple[Turn, ...]:
    """The turns of a start: the burner's fan runs up within ``fan``, purges until ``purge`` is over, then lights.

    ``levels`` are (name, how long until it is called for, counted from light-off), each reached within ``ramp``.
    """
    lit = at + purge
    return (
        Turn(appliance, "purge", at, fan),
        *(Turn(appliance, name, lit + later, ramp) for name, later in levels),
    )


@dataclass(frozen=True)
class Gust:
    """A gust at the termination from ``at`` on, ``1 - cos`` in shape; at most ``head`` times the season's wind head."""

    at: Quantity
    lasts: Quantity
    head: float = 1.0


@dataclass(frozen=True)
class Schedule:
    """What goes on for ``duration``, whatever the loop does.

    ``start``: the state of every appliance at time 0, in the plant's order. ``turns`` and ``gusts`` follow.
    ``season`` is an index, ``wind`` the steady share of its wind head. ``cold`` is how cold the walls are at time 0
    (1 as the surroundings, 0 warmed through). Where gas answers at once this share falls from the first fire on as
    ``exp(-t / warming)``, one time constant for the whole vent: an approximation (`warming_time`), and it does not rise
    again while nothing burns. In time the walls follow by themselves, and ``warming`` does not matter.
    """

    duration: Quantity
    start: tuple[str, ...]
    turns: tuple[Turn, ...] = ()
    gusts: tuple[Gust, ...] = ()
    season: int = 0
    wind: float = 0.0
    cold: float = 0.0
    warming: Quantity = Q_(300.0, "s")


@dataclass(frozen=True)
class _Course:
    """A schedule as plain numbers: for each appliance the corners of its path (times, codes)."""

    schedule: Schedule
    end: float
    corners: tuple[tuple[np.ndarray, np.ndarray], ...]
    lit: float  # first time at which a burner fires, inf where none does

    def states(self, times: np.ndarray) -> States:
        """What to solve at these times."""
        s = self.schedule
        codes = np.array([np.interp(times, t, c) for t, c in self.corners])
        windy = np.full(times.size, s.wind)
        for gust in s.gusts:
            share = (times - gust.at.m_as("s")) / gust.lasts.m_as("s")
            windy += np.where((share > 0.0) & (share < 1.0), 0.5 * gust.head * (1.0 - np.cos(2.0 * np.pi * share)), 0.0)
        burnt = np.maximum(times - self.lit, 0.0) if self.lit < inf else np.zeros(times.size)
        cold = s.cold * np.exp(-burnt / s.warming.m_as("s"))
        return States(codes, np.full(times.size, s.season), cold, windy)

    def knots(self, since: float) -> np.ndarray:
        """Times from ``since`` on between which everything goes in a line that is straight enough."""
        since = round(since, _DIGITS)
        found = [np.array([since, self.end])]
        for times, codes in self.corners:
            found.append(times)
            for t0, t1, c0, c1 in zip(times, times[1:], codes, codes[1:], strict=False):
                if c0 != c1 and t1 - t0 > 1.5 * AT_ONCE:
                    # An idle outlet shuts the moment its fan starts, so the first step stands by itself.
                    found += [np.linspace(t0, t1, _RAMP_KNOTS + 1), [t0 + AT_ONCE]]
        if self.schedule.cold > 0.0 and self.lit < inf:
            share = np.linspace(1.0, 0.0, _WARMING_KNOTS, endpoint=False)
            found.append(self.lit - self.schedule.warming.m_as("s") * np.log(share))
        for gust in self.schedule.gusts:
            found.append(gust.at.m_as("s") + gust.lasts.m_as("s") * np.linspace(0.0, 1.0, _GUST_KNOTS))
        times = np.unique(np.round(np.concatenate(found), _DIGITS))
        return times[(times >= since) & (times <= self.end)]


_RAMP_KNOTS, _WARMING_KNOTS, _GUST_KNOTS = 8, 16, 21
_DIGITS = 6  # of a time in s: knots and corners that are the same must be so to the last bit


def _course(plant: Plant, schedule: Schedule, sudden: float = AT_ONCE) -> _Course:
    """A schedule as plain numbers; no turn takes less than ``sudden`` [s]. Refuses what the plant cannot do."""
    names = [a.name for a in plant.appliances]
    if len(schedule.start) != len(names):
        raise ValueError(f"schedule: start names {len(schedule.start)} states for {len(names)} appliances")
    strangers = sorted({t.appliance for t in schedule.turns} - set(names))
    if strangers:
        raise ValueError(f"schedule: no appliance {', '.join(map(repr, strangers))}; there are {', '.join(names)}")
    end = _seconds(schedule.duration, "schedule: duration", STEP)
    corners, lit = [], inf
    for a, state in zip(plant.appliances, schedule.start, strict=True):
        turns = sorted((t for t in schedule.turns if t.appliance == a.name), key=lambda t: t.at.m_as("s"))
        times, codes = _corners(a, _code(a, state), turns, sudden)
        corners.append((times, codes))
        firing = codes > (1.0 if a.purge_flow is not None else 0.0)
        if firing.any():
            lit = min(lit, 0.0 if firing[0] else times[firing.argmax() - 1])
    return _Course(schedule, end, tuple(corners), lit)


def _code(appliance, state: str) -> float:
    if state not in appliance.states:
        raise ValueError(f"schedule: {appliance.name} has no state {state!r}; it has {', '.join(appliance.states)}")
    return float(appliance.states.index(state))


def _corners(appliance, code: float, turns: list[Turn], sudden: float) -> tuple[np.ndarray, np.ndarray]:
    """Corners of one appliance's path; a turn that begins before the last has ended takes over from where it is."""
    times, codes = [0.0], [code]
    for turn in turns:
        what = f"turn of {turn.appliance} to {turn.to}"
        at, within = _seconds(turn.at, f"{what}: at"), max(_seconds(turn.within, f"{what}: within"), AT_ONCE)
        wanted, here = _code(appliance, turn.to), float(np.interp(at, times, codes))
        if abs(wanted - here) > 1.0 + 1e-9 and within > AT_ONCE:
            way = ", ".join(appliance.states)
            raise ValueError(
                f"{what} passes other states ({way}): give them as turns of their own, or let it go at once"
            )
        kept = [(t, c) for t, c in zip(times, codes, strict=True) if t < at]
        within = max(within, sudden)
        times, codes = [t for t, _ in kept] + [at, at + within], [c for _, c in kept] + [here, wanted]
    return np.round(times, _DIGITS), np.array(codes)


def warming_time(plant: Plant, seasons: tuple[Season, ...], states: tuple[str, ...], season: int = 0) -> Quantity:
    """Time constant with which the walls warm through [s]: `warm_up.warm_up` of the section that rises most.

    It is the time in which the gas at the section's end goes 63 % of its way from light-off to rest, with the
    appliances in ``states`` of a season. One such number for a whole vent is an approximation; latent heat, which is
    left out, makes a condensing stack warm faster. Films are those of dry air at the gas's temperature.
    """
    network = compile_network(plant, tuple(seasons))
    codes = np.array([[_code(a, s)] for a, s in zip(plant.appliances, states, strict=True)])
    solution = solve_network(network, States(codes, np.array([season]), np.zeros(1), np.zeros(1)))
    row = max(range(len(plant.order)), key=lambda i: network.pipes[i].rise)
    pipe, flow = network.pipes[row], float(solution.flow[row, 0])
    if not flow > 0.0:
        raise ValueError(f"warming_time: no gas rises in {plant.order[row].name} with {', '.join(states)}")
    inlet, air = float(solution.upstream[row, 0]), Gas.dry_air()
    viscosity, conductivity = transport.bare(air, inlet)
    reynolds = friction.reynolds.bare(flow, pipe.diameter, viscosity)
    nusselt = heat_loss.nusselt.bare(reynolds, prandtl_number.bare(air, inlet), pipe.relative_roughness)
    film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
    around = float((network.outdoor if pipe.outdoors else network.place_temperature[pipe.around])[season])
    layers = plant.order[row].material.layers
    duration = 60.0
    while True:
        found = warm_up.warm_up.bare(
            duration, inlet, around, around, flow, float(specific_heat.bare(air, inlet)),
            float(nusselt * conductivity / pipe.diameter), film, pipe.diameter, pipe.length, layers,
        )  # fmt: skip
        gas = found.gas[:, -1]
        # At rest when the last tenth of the time changed next to nothing.
        if gas[-1] - gas[-len(gas) // 10] < 1e-3 * (gas[-1] - gas[0]):
            break
        duration *= 2.0
    share = (gas - gas[0]) / (gas[-1] - gas[0])
    return Q_(float(np.interp(1.0 - exp(-1.0), share, found.time)), "s")


# --- What the vent answers ----------------------------------------------------------------------------------

# Pressures [Pa] at the sensor at which the vent is solved in every knot, and closer ones at the outlet of each
# appliance that stands open to the room: where its flow turns, the answer bends like a square root.
_LADDER = np.array([1600, 800, 400, 200, 100, 50, 25, 12, 0, -12, -25, -50, -100, -200, -400], float)
_BEND = np.array([40.0, 20.0, 10.0, 4.0, 1.5, 0.3, -0.3, -1.5, -4.0, -10.0, -20.0, -40.0])
SETTINGS = np.linspace(0.0, 1.0, 301)  # of the device, between which a response is interpolated
HELD_SETTINGS = np.linspace(0.0, 1.0, 16)  # those at which a vent that draws room air is followed in time
METHOD = Method(cell=1.0, films=4)  # within 1.5 Pa of much finer cells and steps
KNOT = 0.1  # s between the times at which a transient is read
FILL = 20.0  # s for which the device runs before the schedule begins, so that what it draws has filled the vent


@dataclass(frozen=True)
class Response:
    """What the vent answers to a device, plain SI.

    ``time`` [s] (knots); ``setting`` (settings) of the device; ``pressure`` [Pa] at the sensor (knots, settings);
    ``outlets`` [Pa] of every appliance (appliances, knots, settings); ``added`` [Pa] by the device; ``codes``
    (appliances, knots) what the appliances do; ``unsolved`` number of states that did not converge.
    """

    time: np.ndarray
    setting: np.ndarray
    pressure: np.ndarray
    outlets: np.ndarray
    added: np.ndarray
    codes: np.ndarray
    unsolved: int = 0

    @classmethod
    def given(cls, time, disturbance, least: float, most: float) -> "Response":
        """That of a vent whose pressure [Pa] is a given ``disturbance`` in time less what a `Linear` device adds."""
        time, disturbance = np.asarray(time, float), np.asarray(disturbance, float)
        ends = np.array([0.0, 1.0])
        added = np.broadcast_to(least + (most - least) * ends, (time.size, 2))
        nothing = np.zeros((0, time.size))
        return cls(time, ends, disturbance[:, None] - added, np.zeros((0, time.size, 2)), added, nothing)

    def at(self, time: float) -> tuple[np.ndarray, np.ndarray]:
        """Pressure at the sensor and at the outlets (settings) in one instant."""
        i = min(max(bisect_right(self.time.tolist(), time) - 1, 0), self.time.size - 2)
        w = (time - self.time[i]) / (self.time[i + 1] - self.time[i])
        own = (1.0 - w) * self.pressure[i] + w * self.pressure[i + 1]
        return own, (1.0 - w) * self.outlets[:, i] + w * self.outlets[:, i + 1]

    def rest(self, time: float, set_point: float, least: float = 0.0, most: float = 1.0) -> float:
        """The setting at which the sensor stands at ``set_point`` [Pa] in one instant, or the limit that is nearest."""
        pressure, _ = self.at(time)
        above = np.flatnonzero(pressure > set_point)
        if not above.size:
            return least
        i = above[-1]
        if i == pressure.size - 1:
            return most
        share = (pressure[i] - set_point) / (pressure[i] - pressure[i + 1])
        return min(max(float(self.setting[i] + share * (self.setting[i + 1] - self.setting[i])), least), most)


def respond(
    plant: Plant,
    seasons: tuple[Season, ...],
    schedule: Schedule,
    section: str,
    device: Device,
    where: str = HEADER,
    since: float = 0.0,
    at_once: bool = False,
) -> Response:
    """Follow the vent through a schedule, and find what it answers to every setting of a device.

    ``device`` stands at the downstream end of ``section``; ``where`` is the sensor's place; ``since`` [s] leaves out
    what came before. ``at_once``: gas answers at once. In each knot the vent is then solved for a ladder of pressures
    added; the setting that adds just so much at the flow that then passes lies between two rungs. Raises ValueError for
    a section or place that the plant does not have.
    """
    return _respond(compile_network(plant, tuple(seasons)), schedule, section, device, where, since, at_once)


def _respond(
    network: Network,
    schedule: Schedule,
    section: str,
    device: Device,
    where: str,
    since: float = 0.0,
    at_once: bool = False,
) -> Response:
    plant = network.plant
    names = [s.name for s in plant.order]
    places = [HEADER, *(a.name for a in plant.appliances)]
    if section not in names or where not in places:
        raise ValueError(
            f"section {section!r} of {', '.join(names)}, or sensor {where!r} of {', '.join(places)}: unknown"
        )
    course, row = _course(plant, schedule, AT_ONCE if at_once else SUDDEN), names.index(section)
    if not at_once:
        return _in_time(network, course, row, device, where, since)
    time = course.knots(since)
    states = course.states(time)
    ladder = _ladder(network, states, row, where)
    vent = _answers(network, states, row, ladder, where)
    made = device.added(vent.flow[..., None], vent.density[..., None], network.pipes[row].area, SETTINGS)
    rung, share = _crossing(made - ladder[..., None])

    def between(values: np.ndarray) -> np.ndarray:
        below = np.take_along_axis(values, rung, 1)
        return below + share * (np.take_along_axis(values, rung + 1, 1) - below)

    return Response(
        time=time,
        setting=SETTINGS,
        pressure=between(vent.sensor),
        outlets=np.array([between(p) for p in vent.outlets]),
        added=between(ladder),
        codes=states.codes,
        unsolved=vent.unsolved,
    )


def _in_time(network: Network, course: _Course, row: int, device: Device, where: str, since: float) -> Response:
    """The transient of a schedule, read every `KNOT`.

    Where nothing is drawn from the room flows do not depend on the device: one run does. Else there is one for each of
    `HELD_SETTINGS`, after `FILL` with the device on and nothing else changed.
    """
    free = any(np.isfinite(r).any() for r in network.resistance)
    setting, fill = (HELD_SETTINGS, FILL) if free else (SETTINGS, 0.0)
    runs, area = setting.size if free else 1, network.pipes[row].area
    knots = course.knots(0.0)
    states = course.states(knots)
    knots, pick = np.concatenate([[0.0], knots + fill]), np.concatenate([[0], np.arange(knots.size)])
    if not fill:
        knots, pick = knots[1:], pick[1:]

    def spread(values):
        return np.repeat(values[pick][:, None], runs, axis=1)

    season = np.full(runs, course.schedule.season)
    cold = np.full(runs, float(course.schedule.cold))
    codes = np.array([spread(c) for c in states.codes])
    start = States(codes[:, 0], season, cold, spread(states.windy)[0])
    whole = transient.Course(knots, codes, season, spread(states.windy), start)
    sections = len(network.pipes)

    def held(now: Instant):
        """What the device adds at its settings, and how much less the more flows."""
        added, slope = np.zeros((sections, runs)), np.zeros((sections, runs))
        flow, density = now.flow[row], now.density[row]
        near = flow + 1e-3 * np.maximum(np.abs(flow), 0.01)
        added[row], more = device.added(np.array([flow, near]), density, area, setting)
        slope[row] = np.minimum((more - added[row]) / (near - flow), 0.0)
        return added, slope

    found = transient.run_network(network, whole, held if free else None, KNOT, METHOD)
    keep = found.time - fill >= max(since - KNOT, -1e-9)
    time = np.round(found.time[keep] - fill, _DIGITS)
    places = [a.name for a in network.plant.appliances]
    sensor = found.header_pressure if where == HEADER else found.outlet_pressure[places.index(where)]
    sensor, outlets, added = sensor[keep], found.outlet_pressure[:, keep], found.added[row][keep]
    if not free:
        flow, density = found.flow_out[row][keep], found.density_out[row][keep]
        added = device.added(flow, density, area, setting)
        before = [network.plant.order[row].name in {s.name for s in network.plant.path(a)} for a in places]
        outlets = outlets - np.array(before)[:, None, None] * added
        seen = _before_device(network, row) if where == HEADER else before[places.index(where)]
        sensor = sensor - seen * added
    return Response(time, setting, sensor, outlets, added, course.states(time).codes)


def _before_device(network: Network, row: int) -> bool:
    """Whether the end of the header lies before the downstream end of a section."""
    plant, name = network.plant, far_end(network.plant)
    while name in {s.name for s in plant.order}:
        if name == plant.order[row].name:
            return True
        name = plant.section(name).into
    return False


@dataclass(frozen=True)
class _Answers:
    """Pressures at sensor and outlets, flow [m3/s] and density at the device, air drawn; last axes knots and rungs."""

    sensor: np.ndarray
    outlets: np.ndarray
    flow: np.ndarray
    density: np.ndarray
    drawn: np.ndarray
    unsolved: int


def _answers(network: Network, states: States, row: int, added: np.ndarray, where: str) -> _Answers:
    """The vent with ``added`` (knots, rungs) at the end of section ``row``; what occurs twice is solved once."""
    pick = np.repeat(np.arange(len(states)), added.shape[1])
    every = states[pick]
    case = [] if every.wind_case is None else [every.wind_case]
    key = np.vstack([every.codes, every.cold, every.windy, *case, added.ravel()])
    _, first, back = np.unique(key, axis=1, return_index=True, return_inverse=True)
    whole = np.zeros((len(network.pipes), first.size))
    whole[row] = added.ravel()[first]
    solution = solve_network(network, every[first], whole)

    def spread(values: np.ndarray) -> np.ndarray:
        return values[..., back.ravel()].reshape(*values.shape[:-1], *added.shape)

    return _Answers(
        sensor=spread(_sensed(solution, network, where)),
        outlets=spread(solution.outlet_pressure),
        flow=spread(solution.flow[row] / solution.density[row]),
        density=spread(solution.density[row]),
        drawn=spread(solution.drawn),
        unsolved=int((~solution.converged).sum()),
    )


def _sensed(solution: Solution, network: Network, where: str) -> np.ndarray:
    if where == HEADER:
        return far_end_pressure(solution, network)
    return solution.outlet_pressure[[a.name for a in network.plant.appliances].index(where)]


def _ladder(network: Network, states: States, row: int, where: str) -> np.ndarray:
    """What to add in each knot (knots, rungs), rising, so that the pressures of `_LADDER` and `_BEND` come about."""
    alone = _answers(network, states, row, np.zeros((len(states), 1)), where)
    rungs = alone.sensor - _LADDER
    if not alone.drawn.any():
        return rungs
    # A pascal added is all but a pascal less at every outlet. Where one stands at zero is found from a little above and
    # below: at zero itself the vent is slow to solve.
    opened, turns = alone.drawn[:, :, 0].T != 0.0, alone.outlets[:, :, 0].T
    for off in (5.0, 1.0):
        tried = np.where(opened[..., None], turns[..., None] + np.array([-off, off]), rungs[:, None, :1])
        found = _answers(network, states, row, tried.reshape(len(states), -1), where).outlets
        above, below = (found[range(len(found)), :, 2 * np.arange(len(found)) + k].T for k in (0, 1))
        turns = turns - off + 2.0 * off * above / np.where(opened, above - below, 1.0)
    bends = np.where(opened[..., None], turns[..., None] - _BEND, rungs[:, None, :1])
    return np.sort(np.concatenate([rungs, bends.reshape(len(states), -1)], axis=1), axis=1)


def _crossing(gap: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where ``gap`` (knots, rungs, settings) first falls through zero: the rung before, and the share of the way on.

    Where a device wants more or less than the ladder has, it stands at the ladder's end.
    """
    last = gap.shape[1] - 2
    rung = np.clip((gap <= 0.0).argmax(axis=1) - 1, 0, last)
    rung = np.where((gap > 0.0).all(axis=1), last, rung)
    one, other = (np.take_along_axis(gap, (rung + k)[:, None], 1)[:, 0] for k in (0, 1))
    share = one / np.where(one == other, 1.0, one - other)
    return rung, np.clip(share, 0.0, 1.0)


# --- The loop in time -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Trip:
    """A limit that tripped: ``where``, ``at`` [s], the pressure there [Pa], what it ``stopped``.

    ``nuisance``: with the loop at rest in that very instant, the pressure there would have been inside the limits.
    """

    where: str
    at: float
    pressure: float
    stopped: tuple[str, ...]
    nuisance: bool


@dataclass(frozen=True)
class Trace:
    """What the loop did, plain SI; arrays over ``time`` [s].

    True ``pressure`` at the sensor and the filtered ``reading`` [Pa], controller's ``output``, the device's
    ``setting``, ``outlets`` [Pa] and ``codes`` of the appliances (appliances, times), ``added`` [Pa] by the device;
    ``trips``; ``unsolved`` states of the vent.
    """

    loop: Loop
    time: np.ndarray
    pressure: np.ndarray
    reading: np.ndarray
    output: np.ndarray
    setting: np.ndarray
    outlets: np.ndarray
    added: np.ndarray
    codes: np.ndarray
    trips: tuple[Trip, ...] = ()
    unsolved: int = 0


class _Now(NamedTuple):
    """State of a loop in one instant, before its controller acts."""

    setting: float
    reading: float
    output: float
    memory: Memory | None  # none before the controller has taken over


@dataclass(frozen=True)
class _Piece:
    """A stretch of time on one response: its ``grid`` and, at each of its times, state, output and pressure."""

    response: Response
    grid: np.ndarray
    nows: list[_Now]
    output: list[float]
    pressure: list[float]

    def cut(self, end: int) -> "_Piece":
        """The stretch before step ``end``."""
        return _Piece(self.response, self.grid[:end], self.nows[:end], self.output[:end], self.pressure[:end])

    @property
    def codes(self) -> np.ndarray:
        """What the appliances do (appliances, times)."""
        shape = len(self.response.codes), self.grid.size
        own = [np.interp(self.grid, self.response.time, c) for c in self.response.codes]
        return np.array(own).reshape(shape)

    def along(self, table: np.ndarray) -> np.ndarray:
        """A table of the response (knots, settings) read along the loop's way through it."""
        r = self.response
        knot, share = _knots(r, self.grid)
        place = np.array([n.setting for n in self.nows]) * _spread(r)
        j = np.minimum(place.astype(int), r.setting.size - 2)
        rows = [(1.0 - place + j) * table[k, j] + (place - j) * table[k, j + 1] for k in (knot, knot + 1)]
        return rows[0] + share * (rows[1] - rows[0])


def _knots(response: Response, grid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each time the knot before it, and the share of the way to the next."""
    knot = np.clip(np.searchsorted(response.time, grid + 1e-9, side="right") - 1, 0, response.time.size - 2)
    return knot, (grid - response.time[knot]) / np.diff(response.time)[knot]


def _spread(response: Response) -> float:
    """Intervals of the response's settings, all alike from 0 to 1."""
    return response.setting.size - 1.0


def follow(loop: Loop, response: Response, step: float = STEP) -> Trace:
    """The loop on a given response, without limits, over all its time in steps of ``step`` [s] or a little less."""
    grid = _grid(loop, response.time[0], response.time[-1], step)
    return _trace(loop, [_run(loop, response, grid, _begin(loop, response))], ())


def simulate(
    plant: Plant,
    seasons: tuple[Season, ...],
    schedule: Schedule,
    section: str,
    device: Device,
    loop: Loop,
    limits: Mapping[str, Limits] | None = None,
    response: Response | None = None,
    at_once: bool = False,
) -> Trace:
    """The loop in time on a vent: what pressures come, and what trips.

    ``limits`` by place: an appliance's name guards its outlet while it runs, and stops it; "header" guards the sensor's
    place while anything runs, and stops all. What is stopped goes off at once and stays off: it waits for its reset.
    ``response``: that of the whole schedule, where it is known already. ``at_once`` as in `respond`. Raises ValueError
    for unknown names.
    """
    guards, names = dict(limits or {}), [a.name for a in plant.appliances]
    unknown = sorted(set(guards) - {HEADER, *names})
    if unknown:
        raise ValueError(f"limits for {', '.join(map(repr, unknown))}; choose {', '.join([HEADER, *names])}")
    network, where, pieces, trips = compile_network(plant, tuple(seasons)), loop.sensor.where, [], []
    response = response or _respond(network, schedule, section, device, where, 0.0, at_once)
    grid, first, now = _grid(loop, 0.0, response.time[-1], STEP), 0, _begin(loop, response)
    beyond = dict.fromkeys(guards, (0.0, 0.0))
    while True:
        piece = _run(loop, response, grid[first:], now, first)
        end, new, beyond = _tripped(piece, names, guards, beyond, loop)
        pieces.append(piece.cut(end) if new else piece)
        trips += new
        if not new or grid.size - first - end < 2:
            return _trace(loop, pieces, tuple(trips))
        first, now = first + end, piece.nows[end]
        schedule = _stopped(schedule, new)
        guards = {place: g for place, g in guards.items() if place not in {t.where for t in new}}
        response = _respond(network, schedule, section, device, where, float(grid[first]), at_once)


def _grid(loop: Loop, begin: float, end: float, step: float) -> np.ndarray:
    """Times of the loop: steps that go a whole number of times into the sample."""
    step = _step(loop, step)
    return begin + step * np.arange(int(np.floor((end - begin) / step + 1e-6)) + 1)


def _step(loop: Loop, step: float) -> float:
    sample = float(loop.sensor.sample.m_as("s"))
    return sample / np.ceil(sample / step - 1e-9)


def _begin(loop: Loop, response: Response) -> _Now:
    """At rest at the set point, or where the loop is told to start."""
    set_point, begin = float(loop.set_point.m_as("Pa")), float(response.time[0])
    setting = loop.start
    if setting is None:
        setting = response.rest(begin, set_point, loop.least, loop.most)
    low, high = loop.sensor.range
    reading = min(max(float(np.interp(setting, response.setting, response.at(begin)[0])), low), high)
    return _Now(setting, reading, setting, None)


def _run(loop: Loop, response: Response, grid: np.ndarray, now: _Now, first: int = 0) -> _Piece:
    """The loop over the times of ``grid``, from ``now`` on; ``first``: how many steps came before."""
    sample, set_point = float(loop.sensor.sample.m_as("s")), float(loop.set_point.m_as("Pa"))
    step = float(grid[1] - grid[0])
    every, manual = round(sample / step), float(loop.manual.m_as("s"))
    control = controller(loop.gains, sample, set_point, loop.least, loop.most)
    move, filtered = loop.actuator.mover(step), loop.sensor.filtered(step)
    pressure_at = _reader(response, grid)
    setting, reading, output, memory = now.setting, now.reading, now.output, now.memory
    here = pressure_at(0, setting)
    nows, outputs, pressures = [], [], []
    for i, time in enumerate(grid.tolist()):
        nows.append(_Now(setting, reading, output, memory))
        if time >= manual and (first + i) % every == 0:
            output, memory = control(reading, memory or bumpless(loop.gains, reading, set_point, output))
        outputs.append(output)
        pressures.append(here)
        if i + 1 < grid.size:
            setting = move(setting, output)
            before, here = here, pressure_at(i + 1, setting)
            reading = filtered(reading, before, here)
    return _Piece(response, grid, nows, outputs, pressures)


def _reader(response: Response, grid: np.ndarray) -> Callable[[int, float], float]:
    """(step, setting) -> pressure at the sensor, between knots and settings; on lists, which are quick to read."""
    rows, spread, last = response.pressure.tolist(), _spread(response), response.setting.size - 2
    knot, share = (a.tolist() for a in _knots(response, grid))

    def read(i: int, setting: float) -> float:
        place = setting * spread
        j = min(int(place), last)
        within = place - j
        one, other = rows[knot[i]], rows[knot[i] + 1]
        before = one[j] + within * (one[j + 1] - one[j])
        after = other[j] + within * (other[j + 1] - other[j])
        return before + share[i] * (after - before)

    return read


def _tripped(
    piece: _Piece, names: list[str], guards: Mapping[str, Limits], beyond: Mapping[str, tuple[float, float]], loop: Loop
) -> tuple[int, list[Trip], dict[str, tuple[float, float]]]:
    """The step of a piece at which a limit first trips, what trips there, and how long [s] each place was below its low
    and above its high limit by then."""
    codes, step = piece.codes, float(piece.grid[1] - piece.grid[0])
    lasted, pressures, first = {}, {}, piece.grid.size
    for place, guard in guards.items():
        low, high = guard.plain
        if place == HEADER:
            pressure, runs = np.array(piece.pressure), (codes > 0.0).any(axis=0)
        else:
            i = names.index(place)
            pressure, runs = piece.along(piece.response.outlets[i]), codes[i] > 0.0
        pressures[place] = pressure
        sides = ((pressure < low), (pressure > high))
        lasted[place] = [_lasting(runs & s, step, b) for s, b in zip(sides, beyond[place], strict=True)]
        over = np.flatnonzero(_over(guard, lasted[place]))
        first = min(first, over[0] if over.size else first)
    if first == piece.grid.size:
        return first, [], dict(beyond)
    tripped = [p for p in guards if _over(guards[p], lasted[p])[first]]
    running = tuple(n for n, c in zip(names, codes[:, first], strict=True) if c > 0.0)
    time = float(piece.grid[first])
    setting = piece.response.rest(time, float(loop.set_point.m_as("Pa")), loop.least, loop.most)
    header, outlets = piece.response.at(time)
    trips = []
    for place in tripped:
        low, high = guards[place].plain
        at_rest = np.interp(setting, piece.response.setting, header if place == HEADER else outlets[names.index(place)])
        stopped = running if place == HEADER else (place,)
        trips.append(Trip(place, time, float(pressures[place][first]), stopped, bool(low <= at_rest <= high)))
    # What was beyond before this step; the step itself is run once more.
    return first, trips, {p: (float(a[first - 1]), float(b[first - 1])) if first else beyond[p]
                          for p, (a, b) in lasted.items()}  # fmt: skip


def _over(guard: Limits, lasted: list[np.ndarray]) -> np.ndarray:
    """Where the low or the high limit has been passed for longer than its delay."""
    return np.any([time > delay for time, delay in zip(lasted, guard.delays, strict=True)], axis=0)


def _lasting(true: np.ndarray, step: float, before: float) -> np.ndarray:
    """How long [s] something has been true without a break at each step; ``before`` [s] it was so when they began."""
    place = np.arange(true.size)
    broken = np.maximum.accumulate(np.where(true, -1, place))
    return np.where(true, step * (place - broken) + np.where(broken < 0, before, 0.0), 0.0)


def _stopped(schedule: Schedule, trips: list[Trip]) -> Schedule:
    """The schedule with what tripped going off at once, and staying off."""
    at = Q_(trips[0].at, "s")
    stopped = sorted({name for t in trips for name in t.stopped})
    kept = tuple(t for t in schedule.turns if t.appliance not in stopped or t.at < at)
    return replace(schedule, turns=(*kept, *(Turn(name, "off", at) for name in stopped)))


def _trace(loop: Loop, pieces: list[_Piece], trips: tuple[Trip, ...]) -> Trace:
    """Pieces put together."""

    def joined(rows) -> np.ndarray:
        return np.concatenate([np.asarray(r, float) for r in rows], axis=-1)

    return Trace(
        loop=loop,
        time=joined(p.grid for p in pieces),
        pressure=joined(p.pressure for p in pieces),
        reading=joined([n.reading for n in p.nows] for p in pieces),
        output=joined(p.output for p in pieces),
        setting=joined([n.setting for n in p.nows] for p in pieces),
        outlets=joined(
            np.array([p.along(table) for table in p.response.outlets]).reshape(-1, p.grid.size) for p in pieces
        ),
        added=joined(p.along(p.response.added) for p in pieces),
        codes=joined(p.codes for p in pieces),
        trips=trips,
        unsolved=sum(p.response.unsolved for p in pieces),
    )


# --- What a trace says ------------------------------------------------------------------------------------------


@quantities(
    "s",
    time="s",
    pressure="Pa",
    set_point="Pa",
    band="Pa",
    since="s",
    above={"band": 0.0},
    source="definition: the time from which a response stays within a band",
)
def settling_time(time, pressure, set_point, band, since):
    """Time after ``since`` [s] from which the pressure stays within ``band`` [Pa] of the set_point [Pa].

    time [s] and pressure [Pa] are arrays over time; the others single numbers. 0 where it never leaves the band, inf
    where it is outside at the end.
    """
    outside = np.flatnonzero((time >= since) & (np.abs(pressure - set_point) > band))
    if not outside.size:
        return 0.0
    last = outside[-1]
    return float(time[last + 1] - since) if last + 1 < time.size else inf


@quantities(
    "Pa",
    time="s",
    pressure="Pa",
    set_point="Pa",
    since="s",
    source="definition: how far a response goes beyond its end to the other side",
)
def overshoot(time, pressure, set_point, since):
    """How far [Pa] the pressure passes the set_point [Pa] to the other side, after its farthest departure since a time.

    time [s] and pressure [Pa] are arrays over time, since [s] a single number. 0 where it does not pass it.
    """
    error = np.asarray(pressure - set_point)[np.asarray(time) >= since]
    peak = int(np.abs(error).argmax())
    return float(max((-np.sign(error[peak]) * error[peak:]).max(), 0.0))


@quantities(
    "s",
    time="s",
    pressure="Pa",
    low="Pa",
    high="Pa",
    source="definition: share of equal steps outside two limits, times their length",
)
def time_outside(time, pressure, low, high):
    """Time [s] for which the pressure [Pa] (last axis: time [s], in equal steps) lies below low or above high [Pa]."""
    return ((pressure < low) | (pressure > high)).sum(axis=-1) * (time[1] - time[0])


# --- A step of the output -----------------------------------------------------------------------------------------


def step_test(loop: Loop, response: Response, at: float = 0.0, step: float = 0.05, lasts: float = 60.0):
    """Time [s] and reading [Pa] after the output is stepped up, the burners held as they are in one instant ``at`` [s].

    From where the loop is at rest; down instead, where the output has no room. Returns (time, reading, the step).
    """
    pressure, _ = response.at(at)
    held = Response.given([0.0, lasts], [0.0, 0.0], 0.0, 0.0)
    held = replace(held, setting=response.setting, pressure=np.array([pressure, pressure]),
                   outlets=np.zeros((0, 2, pressure.size)), added=np.zeros((2, pressure.size)))  # fmt: skip
    rest = response.rest(at, float(loop.set_point.m_as("Pa")), loop.least, loop.most)
    step = step if rest + step <= loop.most else -step
    frozen = replace(loop, start=rest, manual=Q_(inf, "s"))
    begin = _begin(frozen, held)
    piece = _run(frozen, held, _grid(frozen, 0.0, lasts, STEP), begin._replace(output=rest + step))
    return piece.grid, np.array([n.reading for n in piece.nows]), step
