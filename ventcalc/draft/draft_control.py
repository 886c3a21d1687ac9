"""Draft control: the pressure loop in time, on the vent as it is.

A `pressure_sensor` in the header, a `controller` and a `final_element` moved by one of the `actuators`, on the vent in
time: a stack full of cold air takes seconds to fill with flue gas, its walls take minutes to warm, and the column of
gas has to be accelerated. So do the sensor's filter (tenths of a second) and the fan's rotor or the damper's actuator
(seconds).

The vent is followed once, at a row of settings held (`transient_response`); the loop in time only interpolates in that
table (`simulate`). When a limit trips an appliance, what follows is solved anew. ``at_once`` leaves the gas's time out
(`steady_response`).

Pressures are gauge against the room, negative is draft. Draft control is no safety control: `limit_switches` stand
apart from the loop, with a way of their own to the burners.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np

from ventcalc.door import door
from ventcalc.draft.actuators import Actuator
from ventcalc.draft.controller import Gains, Memory, bumpless, controller
from ventcalc.draft.final_element import FinalElement
from ventcalc.draft.firing_schedule import STEP, Schedule, Turn
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.limit_switches import Limits, Trip, lasting
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.transient_response import respond_network
from ventcalc.draft.vent_response import Response
from ventcalc.units import Q_, Quantity, magnitude, seconds, ureg
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season, compile_network


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
        magnitude(self.set_point, ureg.Unit("Pa"), "loop: set_point")
        seconds(self.manual, "loop: manual")
        if not 0.0 <= self.least < self.most <= 1.0:
            raise ValueError(f"loop: output limits {self.least:g} and {self.most:g} must rise within 0 to 1")
        if self.start is not None and not self.least <= self.start <= self.most:
            raise ValueError(f"loop: start {self.start:g} must lie between {self.least:g} and {self.most:g}")


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


@door(plain={"step": "s"}, above={"step": 0.0})
def follow(loop: Loop, response: Response, step: float = STEP) -> Trace:
    """The loop on a given response, without limits, over all its time in steps of ``step`` [s] or a little less."""
    grid = _grid(loop, response.time[0], response.time[-1], step)
    return _trace(loop, [_run(loop, response, grid, _begin(loop, response))], ())


# Nine arguments: the vent and what goes on in it, the device and its loop, the limits beside it, two that save time.
def simulate(
    plant: Plant,
    seasons: tuple[Season, ...],
    schedule: Schedule,
    section: str,
    device: FinalElement,
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
    response = response or respond_network(network, schedule, section, device, where, 0.0, at_once)
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
        response = respond_network(network, schedule, section, device, where, float(grid[first]), at_once)


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
        lasted[place] = [lasting(runs & s, step, b) for s, b in zip(sides, beyond[place], strict=True)]
        over = np.flatnonzero(guard.acts(lasted[place]))
        first = min(first, over[0] if over.size else first)
    if first == piece.grid.size:
        return first, [], dict(beyond)
    tripped = [p for p in guards if guards[p].acts(lasted[p])[first]]
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
            np.reshape([p.along(table) for table in p.response.outlets], (len(p.response.outlets), p.grid.size))
            for p in pieces
        ),
        added=joined(p.along(p.response.added) for p in pieces),
        codes=joined(p.codes for p in pieces),
        trips=trips,
        unsolved=sum(p.response.unsolved for p in pieces),
    )


@door(plain={"at": "", "step": "", "lasts": "s"}, above={"lasts": 0.0})
def step_test(loop: Loop, response: Response, at: float = 0.0, step: float = 0.05, lasts: float = 60.0):
    """Time [s] and reading [Pa] after the output is stepped up, the burners held as they are in one instant ``at`` [s].

    From where the loop is at rest; down instead, where the output has no room. Returns (time, reading, the step).
    """
    rest = response.rest(at, float(loop.set_point.m_as("Pa")), loop.least, loop.most)
    step = step if rest + step <= loop.most else -step
    grid, (low, high) = _grid(loop, 0.0, lasts, STEP), loop.sensor.range
    taken = float(grid[1] - grid[0])
    move, filtered = loop.actuator.mover(taken), loop.sensor.filtered(taken)
    settings = list(accumulate(grid[1:], lambda setting, _: move(setting, rest + step), initial=rest))
    pressure = np.interp(settings, response.setting, response.at(at)[0]).tolist()
    begun = min(max(pressure[0], low), high)
    reading = list(accumulate(pairwise(pressure), lambda before, ends: filtered(before, *ends), initial=begun))
    return grid, np.array(reading), step
