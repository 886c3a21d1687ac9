"""Moving vent: a vent in many runs side by side as it stands at one time, and how it begins.

It goes on by the compiled `time_step`; a device that acts on it is asked before every step (`Instant`).
"""

from collections.abc import Callable

import numpy as np

from ventcalc.gas import streams
from ventcalc.vent import column_grid, column_walls, gas_content, time_step
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.course import Course, Inputs, beginning
from ventcalc.vent.end_of_header import far_end, far_end_room
from ventcalc.vent.gas_column import PUSHED, Column
from ventcalc.vent.gas_content import MASS
from ventcalc.vent.momentum_balance import Sections, sections
from ventcalc.vent.network import OUTLET_AREA, Network
from ventcalc.vent.time_step import (
    ADDS,
    ALONG,
    FLOW,
    HEADER_ROOM,
    ROOM_GAUGE,
    UP,
    Feed,
    Fixed,
    Kept,
    Method,
    Moving,
    header_pressure,
    outlet_pressure,
)


class Instant:
    """The vent at one moment, for a device that acts on it: arrays with one column a run.

    ``time`` [s]; ``flow`` [m3/s] and ``density`` [kg/m3] at the downstream end of every section; ``outlet_pressure``
    (appliances) and ``header_pressure`` [Pa] as in `transient.Transient`, worked out when they are asked for. Raises
    ValueError for those once the vent has moved on.
    """

    def __init__(self, vent: "MovingVent"):
        end, now = vent.fixed.cells.ends.last, vent.now
        self._vent, self.time = vent, vent.time
        self.flow, self.density = now.faces[FLOW, end] / now.pressed, now.gas.content[MASS, end] * now.pressed

    def _now(self) -> "MovingVent":
        if self._vent.time != self.time:
            raise ValueError(f"pressures of {self.time:g} s must be asked for before the vent moves on")
        return self._vent

    @property
    def outlet_pressure(self) -> np.ndarray:
        return self._now().outlets()

    @property
    def header_pressure(self) -> np.ndarray:
        return self._now().header_pressure()


# What is added [Pa], (sections, runs), and with it its slope [Pa s/m3] against the flow there. One that has a method
# ``follow`` is asked at the start alone and takes the steps itself, as `time_step.follow`.
Device = Callable[[Instant], np.ndarray | tuple[np.ndarray, np.ndarray]]


class MovingVent:
    """All runs at one time, advanced step by step."""

    def __init__(self, network: Network, course: Course, added, method: Method, times: int):
        """How the vent begins; ``times`` will be kept of it."""
        self.network, self.course, self.method, self.added = network, course, method, added
        self.grid = grid = column_grid.grid(network, method.cell)
        runs, season = course.season.size, course.season
        self.feed, self.at, self.time = feed_of(Inputs(network, grid, *course.between(np.zeros(1)))), 0, 0.0
        around = np.array(
            [(network.outdoor if p.outdoors else network.place_temperature[p.around])[season] for p in network.pipes]
        )[grid.section]
        no_flue = np.zeros((1, runs))
        air = np.concatenate([network.outdoor_gas[:, season], no_flue])
        outdoor = self._air(air, network.outdoor[season])
        rooms = [np.concatenate([network.place_gas[:, r, season], no_flue]) for r in network.rooms]
        warm = [network.place_temperature[r, season] for r in network.rooms]
        room_air = np.stack([self._air(*of) for of in zip(rooms, warm, strict=True)], axis=1)
        begun, drawn = beginning(grid, course, around, air)
        temperature = begun.temperature
        local = gas_content.content(begun.gas, temperature, 0.0 * temperature, grid.pressure, network.pressure)[MASS]
        first = grid.first[grid.fed]
        own = np.zeros((grid.fed.size, runs))
        if drawn is not None:
            start = Inputs(network, grid, course.start)
            own = entering(start.prescribed, drawn, start.content[MASS], room_air[MASS], local[first])
        walls = column_walls.walls(grid, method.walls * method.step, method.capacity)
        column = Column(grid, walls, around, outdoor, begun, _sent(grid, own), method.adiabatic)
        if drawn is not None:  # streams that mix at an appliance take up a little less or more than each by itself
            more = (start.prescribed + drawn) / local[first] - own
            column.excess[first] = np.where(own > 0.0, more, 0.0) * method.step / grid.volume[first] / PUSHED
        flow = column.flows(own, method.step)
        column.look(flow)
        shape, still = (len(network.pipes), runs), np.zeros_like(flow)
        self.fixed = self._fixed(grid, column, room_air)
        self.now = Moving(
            gas=column.now,
            faces=np.array([flow, still, flow - _sent(grid, own)]),
            mouths=np.array([own, np.zeros_like(own) if drawn is None else drawn, np.zeros_like(own)]),
            pressed=np.ones(shape),
            device=np.array([np.zeros(shape), np.zeros(shape), flow[grid.last]]),
            balance=np.empty((5, *shape)),
            told=np.zeros(1, int),
            room=time_step.room(self.fixed.cells, runs, self.fixed.free.size),
        )
        self.kept = Kept(np.empty((9, len(network.pipes), times, runs)), np.empty((3, grid.fed.size, times, runs)),
                         np.empty((11, times, runs)))  # fmt: skip
        if added is not None and not callable(added):
            self._ask(added)
        self._tell()
        if callable(added):
            self.ask()
            self.now.told[0] = 0
            self._tell()

    def _air(self, air, temperature):
        """What a volume of air at a temperature holds (contents, runs)."""
        pressure = self.network.pressure
        return gas_content.content(air, temperature, streams.enthalpy(air, temperature, pressure), pressure, pressure)

    def _fixed(self, grid: Grid, column: Column, room_air) -> Fixed:
        network, method, season = self.network, self.method, self.course.season
        free = np.array([a for a, r in enumerate(network.resistance) if np.isfinite(r).any()], int)
        found, room = sections(network, grid), far_end_room(network, self.course.states(np.zeros(1)))
        return Fixed(
            cells=column.cells,
            sections=found,
            outdoor=column.outdoor,
            room_air=np.ascontiguousarray(room_air),
            runs=np.array(np.broadcast_arrays(network.outdoor_density[season], room), float),
            ways=network.tree.ways,
            free=free,
            shared=_shared(network, grid, found, free),
            header=network.plant.row(far_end(network.plant)),
            step=float(method.step),
            films=method.films,
            walls=method.walls,
        )

    def follow(self, feed: Feed, numbers: np.ndarray, every: int) -> None:
        """Take the steps ``numbers`` of a chunk, with what comes in during it; every so many are kept."""
        count, first = len(numbers), int(numbers[0])
        if not callable(self.added):
            self._steps(feed, 0, count, first, every)
            return
        if hasattr(self.added, "follow"):
            self._tell()  # by what came in before this chunk
            self.added.follow(self.fixed, self.now, feed, numbers, every, self.kept)
            self.feed, self.at, self.time = feed, count - 1, int(numbers[-1]) * self.method.step
            return
        for i in range(count):
            if first + i > 0:
                self.ask()
            self._steps(feed, i, i + 1, first + i, every)

    def _steps(self, feed: Feed, begin: int, end: int, number: int, every: int) -> None:
        time_step.follow(self.fixed, self.now, feed, begin, end, number, every, self.kept)
        self.feed, self.at, self.time = feed, end - 1, (number + end - 1 - begin) * self.method.step

    def ask(self) -> None:
        """Ask the device what it adds, at this moment."""
        self._ask(self.added(Instant(self)))

    def _ask(self, found) -> None:
        """Pressure added at the end of every section, and its slope against the flow, (sections, runs)."""
        device = self.now.device
        found, slope = found if isinstance(found, tuple) else (found, np.zeros(device.shape[1:]))
        found, slope = np.asarray(found, float), np.asarray(slope, float)
        if found.shape != device.shape[1:] or slope.shape != device.shape[1:]:
            raise ValueError(f"added has shape {found.shape}, need {device.shape[1:]}")
        device[ADDS], device[ALONG] = found, slope

    def _tell(self) -> None:
        time_step.follow(self.fixed, self.now, self.feed, self.at, self.at, 0, 1, self.kept)

    def outlets(self) -> np.ndarray:
        """Static pressure [Pa] at every outlet against the room there, as `Solution.outlet_pressure`."""
        self._tell()
        now, ends, runs = self.now, self.fixed.cells.ends, self.now.pressed.shape[1]
        first = ends.first[ends.fed]
        own, density = now.faces[FLOW, first - 1], now.gas.content[MASS]
        inside = np.where(own > 0.0, density[first - 1], density[first])
        gauge = self.feed.mouths[ROOM_GAUGE, :, self.at * runs : (self.at + 1) * runs]
        area = self.fixed.ways[OUTLET_AREA, :, None]
        return outlet_pressure(now.balance[UP, ends.fed], own, inside, now.pressed[ends.fed], area, gauge)

    def header_pressure(self) -> np.ndarray:
        """Static pressure [Pa] at the end of the header against the room there."""
        self._tell()
        return header_pressure(self.now.balance, self.fixed.header, self.fixed.runs[HEADER_ROOM])


def feed_of(inputs: Inputs) -> Feed:
    """What comes in during a chunk of times, for the time step."""
    feed = inputs.feed
    return Feed(
        np.array([inputs.prescribed, feed.prescribed, feed.resistance, feed.room_gauge]),
        inputs.content,
        np.array(feed.wind_head),
    )


def entering(prescribed, drawn, sent, air, local):
    """Volume [m3/s] that enters at every appliance, of densities ``sent`` and ``air`` [kg/m3].

    Where gas leaves there it is that of the first cell, of a density ``local``.
    """
    total = prescribed + drawn
    mixed = prescribed / sent + drawn / air
    return np.where(drawn >= 0.0, mixed, np.where(total >= 0.0, total / sent, total / local))


def _sent(grid: Grid, own):
    """Flow through every face [m3/s] of what enters at the appliances."""
    return (grid.serves @ own)[grid.section[:-1]]


def _shared(network: Network, grid: Grid, of: Sections, free) -> np.ndarray:
    """The sections on the ways out of each two ``free`` appliances (2, pairs, sections): of both, and beside one's own.

    By them the pressure at one appliance answers the flow of the other.
    """
    pipes, count = network.pipes, len(network.pipes)
    path = np.zeros((count, count))  # the sections from each to its termination
    for i in reversed(range(count)):
        path[i, i] = 1.0
        if pipes[i].parent >= 0:
            path[i] += path[pipes[i].parent]
    below = path[grid.fed].T[:, free]  # (sections, appliances)
    partner = np.full(count, -1)
    for straight, branch in zip(of.straight, of.branch, strict=True):
        if straight >= 0:
            partner[straight], partner[branch] = branch, straight
    beside, shape = np.where(partner[:, None] >= 0, below[partner], 0.0), (free.size**2, count)
    return np.array([np.einsum("ia,ib->abi", below, other).reshape(shape) for other in (below, beside)])
