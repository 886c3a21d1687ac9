"""Closed loop: the draft control acting on the vent itself, in many runs side by side, whole or with something failed.

`draft_control` reads what a vent answers from a table of settings held all the time. Here sensor, controller and
devices stand in the vent in time (`transient`) and act in every step, so that what the loop did before is in the gas
and walls. Each run follows a schedule of its own, and something may fail in it (`Fault`): a fan stops, a damper runs to
one end and stays, a sensor tells what it told last. The loop knows nothing of that and goes on.

The header's control holds the end of the header by a fan, a damper, or both in turn (`Devices`): below the middle of
the output the damper opens, above it the fan speeds up. Plain SI inside, the last axis is the runs.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import exp, inf

import numpy as np

from ventcalc.draft import loop_step
from ventcalc.draft.curve_pieces import Pieces
from ventcalc.draft.dampers import Damper
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.fan_curve import FanNumbers
from ventcalc.draft.fan_drive import Drive, own_area
from ventcalc.draft.firing_schedule import SUDDEN, Schedule, firing_path
from ventcalc.draft.loop_step import MIDDLE, Moves
from ventcalc.draft.vent_response import SETTINGS, Response
from ventcalc.units import Q_
from ventcalc.vent import transient
from ventcalc.vent.course import Course, moves_of
from ventcalc.vent.layout import Plant
from ventcalc.vent.moving_vent import Instant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Method

# Within 1 Pa of steps half as long and cells half as large while burners are turned up and down (tests); for seconds
# after a sudden stop, whose swing is of a hundred Pa, within 12 Pa.
METHOD = Method(cell=1.0, step=0.1, films=3, walls=10)
KEPT = 0.2  # s between the times that are kept
_ANY = (Q_(-1e5, "Pa"), Q_(1e5, "Pa"))

FAN_STOPS, DAMPER_OPENS, DAMPER_SHUTS, SENSOR_STILL = "fan stops", "damper opens", "damper shuts", "sensor still"

_KINDS = ("", FAN_STOPS, DAMPER_OPENS, DAMPER_SHUTS, SENSOR_STILL)  # in the order of `loop_step`'s codes
_NO_CURVE = Pieces(np.array([0.0, 1.0]), np.zeros((4, 1)))
_NO_FAN = FanNumbers(_NO_CURVE, 1.0, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 1.0, 1.0, 0.0, 1.0)


@dataclass(frozen=True)
class Devices:
    """What the header's control moves: a ``fan`` at the end of its section, a ``damper`` at the end of its own.

    ``travel`` [s] of the damper from end to end; ``run_up`` [s] first-order time constant of the fan's speed.
    """

    plant: Plant
    fan: Drive | None
    damper: Damper | None
    fan_section: str
    damper_section: str
    travel: float
    run_up: float

    @property
    def both(self) -> bool:
        """Whether one output moves two devices in turn."""
        return self.fan is not None and self.damper is not None

    @property
    def least(self) -> float:
        """The least output: a fan alone is not let stand still."""
        return 0.0 if self.damper is not None else self.fan.least_speed / self.fan.most_speed

    @property
    def open(self) -> float:
        """The output that opens the vent as far as it goes without the fan's help."""
        return self.least if self.damper is None else MIDDLE if self.both else 1.0

    @property
    def stroke(self) -> float:
        """Time [s] of the damper's motor for the whole output, and 0 where there is no damper."""
        return 0.0 if self.damper is None else self.travel / MIDDLE if self.both else self.travel

    @cached_property
    def moves(self) -> Moves:
        """All of it as plain numbers."""
        fan, damper = self.fan, self.damper
        alone = Moves(
            has_fan=fan is not None,
            has_damper=damper is not None,
            fan=_NO_FAN if fan is None else fan.fan.numbers,
            across=1.0 if fan is None else float(own_area(fan.fan, self.plant.section(self.fan_section).area)),
            least_speed=0.0 if fan is None else float(fan.least_speed),
            most_speed=0.0 if fan is None else float(fan.most_speed),
            free=1.0,
            log_loss=_NO_CURVE if damper is None else damper.log_pieces,
            face=1.0 if damper is None else float(damper.face),
            least=0.0 if damper is None else float(damper.least),
            most=1.0 if damper is None else float(damper.most),
            stroke=float(self.stroke),
            travel=float(self.travel),
            run_up=float(self.run_up),
        )
        return alone._replace(free=_free(alone)) if self.both else alone

    def position(self, setting) -> np.ndarray:
        """Where the damper stands at a setting."""
        return loop_step.position_at(self.moves, np.asarray(setting))

    def speed(self, setting, flow) -> np.ndarray:
        """How fast the fan turns at a setting and a flow [m3/s], over its rated speed.

        Beside a damper it is kept so fast that it does not resist what passes it (`device_remedies.Helping`), and its
        part of the output begins there: were it to begin at the least speed, a stretch of the output would do nothing.
        """
        return loop_step.speed_at(self.moves, np.asarray(setting), np.asarray(flow))

    def by_fan(self, flow, density, speed) -> np.ndarray:
        """Total pressure [Pa] that the fan adds."""
        return loop_step.by_fan(self.moves, flow, density, speed)

    def by_damper(self, flow, density, position) -> np.ndarray:
        """Total pressure [Pa] that the damper adds: less than nought, against the flow."""
        return loop_step.by_damper(self.moves, flow, density, position)

    def added(self, fan_flow, fan_density, damper_flow, damper_density, setting) -> np.ndarray:
        """What both add together [Pa] at the flow [m3/s] and density [kg/m3] that each sees."""
        total = np.zeros(np.broadcast_shapes(np.shape(fan_flow), np.shape(setting)))
        if self.fan is not None:
            total = total + self.by_fan(fan_flow, fan_density, self.speed(setting, fan_flow))
        if self.damper is not None:
            total = total + self.by_damper(damper_flow, damper_density, self.position(setting))
        return total


def _free(moves: Moves) -> float:
    """Flow [m3/s] at which the fan at its rated speed adds no total pressure; by the fan laws it goes with the speed,
    whatever the density."""
    low, high = moves.fan.free, 4.0 * moves.fan.free
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if loop_step.by_fan(moves, middle, 1.0, 1.0) > 0.0 else (low, middle)
    return high


@dataclass(frozen=True)
class Fault:
    """What fails in a run, from ``at`` [s] on; "" where nothing does."""

    kind: str = ""
    at: float = inf


@dataclass(frozen=True)
class Runs:
    """What came of it, plain SI; arrays (times, runs), of appliances (appliances, times, runs).

    True ``pressure`` at the end of the header and its ``reading`` [Pa]; the controller's ``output`` and the ``setting``
    that follows it; ``position`` of the damper and ``speed`` of the fan as they are (NaN where there is none);
    ``outlets`` [Pa], flue gas ``spilled`` into the room [kg] since the start, ``codes`` of the appliances; ``added``
    [Pa] by the devices; ``flow`` [m3/s] and ``density`` [kg/m3] at fan and damper (2, times, runs).
    """

    devices: Devices
    loop: Loop
    season: np.ndarray
    faults: tuple[Fault, ...]
    time: np.ndarray
    pressure: np.ndarray
    reading: np.ndarray
    output: np.ndarray
    setting: np.ndarray
    position: np.ndarray
    speed: np.ndarray
    outlets: np.ndarray
    spilled: np.ndarray
    codes: np.ndarray
    added: np.ndarray
    flow: np.ndarray
    density: np.ndarray

    def response(self, run: int, times: np.ndarray) -> Response:
        """What the vent answers to every setting at some ``times`` [s] of a run.

        A pascal more from the device is taken for a pascal less before it: exact where all flows are forced. Where the
        vent draws room air it answers less than that.
        """
        at = np.clip(np.searchsorted(self.time, times), 0, self.time.size - 1)
        flow, density = self.flow[:, at, run][..., None], self.density[:, at, run][..., None]
        made = self.devices.added(flow[0], density[0], flow[1], density[1], SETTINGS)
        pressure = (self.pressure[at, run] + self.added[at, run])[:, None] - made
        return Response(times, SETTINGS, pressure, np.zeros((0, *made.shape)), made, self.codes[:, at, run])


def simulate(
    seasons: tuple[Season, ...],
    schedules: Sequence[Schedule],
    devices: Devices,
    loop: Loop,
    manual: Sequence[float] = (),
    faults: Sequence[Fault] = (),
) -> Runs:
    """Follow the vent and its control through many schedules side by side, to the end of the longest.

    ``loop`` as in `draft_control.Loop`, its sensor at the header; its actuator is that of the ``devices``. It takes
    over at ``manual`` [s], one a run, and stands at its start until then; without one it begins at rest; ``faults``
    are one a run as well. Raises ValueError where the counts differ.
    """
    count = len(schedules)
    manual = np.array(manual, float) if len(manual) else np.zeros(count)
    faults = tuple(faults) or (Fault(),) * count
    if not count or manual.size != count or len(faults) != count:
        raise ValueError(f"{count} schedules, {manual.size} manual times and {len(faults)} faults: give one each a run")
    bare = replace(devices, plant=_without_windows(devices.plant))
    found = _simulated(tuple(seasons), tuple(schedules), bare, loop, tuple(manual.tolist()), faults)
    return replace(found, devices=devices)


def _without_windows(plant: Plant) -> Plant:
    """The plant as the gas sees it: makes that differ in their windows alone are one to it."""
    return replace(plant, appliances=tuple(replace(a, window=_ANY, purge_pressure=None) for a in plant.appliances))


@lru_cache(maxsize=8)  # of one study: each remedy that cures, started and failed, with every make
def _simulated(seasons, schedules, devices: Devices, loop: Loop, manual, faults) -> Runs:
    plant, count, manual = devices.plant, len(schedules), np.array(manual)
    network = compile_network(plant, seasons)
    course = _side_by_side(plant, schedules)
    acting = _Acting(network, devices, loop, manual, faults)
    found = transient.run_network(network, course, acting, KEPT, METHOD)
    told = dict(zip(_TOLD, acting.told, strict=True))
    kept = acting.told.shape[1]
    rows = [acting.fan_row, acting.damper_row]
    return Runs(
        devices=devices,
        loop=loop,
        season=course.season,
        faults=faults,
        time=found.time[:kept],
        outlets=found.outlet_pressure[:, :kept],
        spilled=found.spilled[:, :kept],
        codes=course.states(found.time[:kept]).codes.reshape(len(plant.appliances), kept, count),
        added=found.added[sorted(set(rows))].sum(axis=0)[:kept],
        flow=found.flow_out[rows][:, :kept],
        density=found.density_out[rows][:, :kept],
        **told,
    )


def _side_by_side(plant: Plant, schedules: Sequence[Schedule]) -> Course:
    """The schedules as the runs of one course; each goes on as it ends.

    What stops, or falls back to its purge, goes there straight and not through the levels between (`course.Moves`):
    within `SUDDEN` it would be as if it went from each to the next in a part of that.
    """
    own = [firing_path(plant, s, SUDDEN) for s in schedules]
    last = max(c.end for c in own)
    each = [np.unique(np.concatenate([[0.0, c.end], *(times for times, _ in c.corners)])) for c in own]
    each = [times[times <= last] for times in each]
    knots = np.unique(np.concatenate(each))
    courses = [(t, np.array([np.interp(t, *corner) for corner in c.corners])) for t, c in zip(each, own, strict=True)]
    codes = np.array([[np.interp(knots, *corner) for corner in c.corners] for c in own]).transpose(1, 2, 0)
    jumps = any((np.abs(np.diff(codes, axis=1)) > 1.0).any() for _, codes in courses)
    season = np.array([s.season for s in schedules])
    windy, cold = (np.array([getattr(s, n) for s in schedules], float) for n in ("wind", "cold"))
    wind, start = np.broadcast_to(windy, (knots.size, windy.size)), States(codes[:, 0], season, cold, windy)
    return Course(knots, codes, season, wind, start, moves_of(knots, courses) if jumps else None)


_TOLD = ("pressure", "reading", "output", "setting", "position", "speed")  # in the order of `loop_step`'s rows


class _Acting:
    """Sensor, controller and devices of all runs: put into the vent where it begins, then moved with it."""

    def __init__(self, network: Network, devices: Devices, loop: Loop, manual: np.ndarray, faults: Sequence[Fault]):
        self.devices, self.loop, self.manual = devices, loop, manual
        self.fan_row, self.damper_row = (devices.plant.row(n) for n in (devices.fan_section, devices.damper_section))
        self.shape = (len(network.pipes), manual.size)
        kinds = np.array([_KINDS.index(f.kind) for f in faults])
        self.faults = loop_step.Faults(manual, kinds, np.array([f.at for f in faults], float))
        self.plan = self._plan()

    def _plan(self) -> loop_step.Plan:
        loop, step = self.loop, METHOD.step
        constant = float(loop.sensor.filter.m_as("s"))
        ratio = step / constant if constant > 0.0 else inf
        left = exp(-ratio)
        kp, ti, _, tracking = loop.gains.plain
        low, high = (float(end) for end in loop.sensor.range)
        return loop_step.Plan(
            low, high, left, (1.0 - left) / ratio, max(round(float(loop.sensor.sample.m_as("s")) / step), 1),
            float(kp), float(ti), float(tracking), float(loop.least), float(loop.most),
            float(loop.set_point.m_as("Pa")), self.fan_row, self.damper_row, step,
        )  # fmt: skip

    def __call__(self, now: Instant):
        """What the devices add where the vent begins, and how much less the more flows."""
        self.state = self._begun(now)
        self.told = self.state[: len(_TOLD), None]
        moves, found = self.devices.moves, np.zeros((2, *self.shape))
        if moves.has_fan:
            at = now.flow[self.fan_row], now.density[self.fan_row]
            found[:, self.fan_row] += loop_step.fan_along(moves, *at, self.state[loop_step.SPEED])
        if moves.has_damper:
            at = now.flow[self.damper_row], now.density[self.damper_row]
            found[:, self.damper_row] += loop_step.damper_along(moves, *at, self.state[loop_step.POSITION])
        return found[0], found[1]

    def _begun(self, now: Instant) -> np.ndarray:
        """At the loop's start, or at rest at the set point: the devices are not yet in the pressure there."""
        d, loop, pressure, count = self.devices, self.loop, now.header_pressure, self.manual.size
        at = (values[row] for row in (self.fan_row, self.damper_row) for values in (now.flow, now.density))
        made = d.added(*at, SETTINGS[:, None])
        off = np.abs(pressure - made - self.plan.set_point)
        setting = np.clip(SETTINGS[off.argmin(axis=0)], loop.least, loop.most)
        if loop.start is not None:
            setting = np.full(count, loop.start)
        place = np.searchsorted(SETTINGS, setting).clip(0, SETTINGS.size - 1)
        true, nothing = pressure - made[place, np.arange(count)], np.full(count, np.nan)
        reading = np.clip(true, self.plan.low, self.plan.high)
        position = nothing if d.damper is None else d.position(setting)
        speed = nothing if d.fan is None else d.speed(setting, now.flow[self.fan_row])
        return np.array([true, reading, setting, setting, position, speed, setting, self.manual < 0.0], float)

    def follow(self, fixed, vent, feed, numbers: np.ndarray, every: int, kept) -> None:
        """Take the steps ``numbers`` of a chunk, as `time_step.follow` does, and move the devices before each."""
        times = max(kept.whole.shape[1] - 1, 1)
        if self.told.shape[1] < times:
            self.told = np.concatenate([self.told, np.empty((len(_TOLD), times - 1, self.manual.size))], axis=1)
        acting = loop_step.Acting(self.devices.moves, self.plan, self.faults, self.state, self.told)
        loop_step.follow(fixed, vent, feed, len(numbers), int(numbers[0]), every, kept, acting)
