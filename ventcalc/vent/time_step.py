"""Time step: all gas, walls, flows and pressures of a vent, advanced by one step in time.

Flows that nobody prescribes (a hood's, a regulator's, a leaking idle appliance's) are found in every step from the
pressures at its end (`momentum_balance`), linear in the change of the flows; all others follow from what the burners
send. Sound, which passes a vent in a tenth of a second, is left out; so is the natural convection within a dead leg.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ventcalc.gas import streams
from ventcalc.gas.streams import TRACE
from ventcalc.vent import column_grid, column_walls, gas_content
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.course import Course, Input, Inputs, beginning
from ventcalc.vent.end_of_header import far_end, far_end_room
from ventcalc.vent.gas_column import PUSHED, Column
from ventcalc.vent.gas_content import CONTENT_FLUE, HEAT, MASS
from ventcalc.vent.momentum_balance import Balance, Sections, balance_all, sections
from ventcalc.vent.network import Network

CLOSE = 0.02  # Pa; ways in from the room that are further off take a second look at the same step
# Time [s] over which the flow that cells make by shrinking is smoothed before it counts as acceleration: a cell that
# turns from dry to wet and back would otherwise shake the whole column. The burner's own flow counts at once.
_SMOOTH = 0.2


@dataclass(frozen=True)
class Method:
    """How finely a run is computed.

    ``cell`` least length [m] of a cell and ``step`` [s] in time; steps from one look at ``films`` and friction to the
    next, and from one at the ``walls``. ``capacity``: factor on the heat that walls hold; infinite freezes them as they
    are at the start. ``adiabatic``: no heat passes from gas to walls.
    """

    cell: float = 0.5
    step: float = 0.05
    films: int = 3
    walls: int = 10
    capacity: float = 1.0
    adiabatic: bool = False


USUAL = Method()


class Instant:
    """The vent at one moment, for a device that acts on it: arrays with one column a run.

    ``time`` [s]; ``flow`` [m3/s] and ``density`` [kg/m3] at the downstream end of every section; ``outlet_pressure``
    (appliances) and ``header_pressure`` [Pa] as in `transient.Transient`, worked out when they are asked for. Raises
    ValueError for those once the vent has moved on.
    """

    def __init__(self, vent: "MovingVent"):
        end = vent.grid.last
        self._vent, self.time = vent, vent.time
        self.flow, self.density = vent.flow[end] / vent.pressed, vent.column.density[end] * vent.pressed

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


Device = Callable[[Instant], np.ndarray | tuple[np.ndarray, np.ndarray]]


class MovingVent:
    """All runs at one time, advanced step by step."""

    def __init__(self, network: Network, course: Course, added, method: Method):
        self.network, self.course, self.method, self.added = network, course, method, added
        self.grid = grid = column_grid.grid(network, method.cell)
        self.sections = sections(network, grid)
        self.free = np.array([a for a, r in enumerate(network.resistance) if np.isfinite(r).any()], int)
        self.by_own, self.by_other = _shared(network, grid, self.sections, self.free)
        self.header = network.plant.row(far_end(network.plant))
        self.header_room = far_end_room(network, course.states(np.zeros(1)))
        runs, season = course.season.size, course.season
        now = Inputs(network, grid, runs, *course.between(np.zeros(1))).at(0)
        around = np.array(
            [(network.outdoor if p.outdoors else network.place_temperature[p.around])[season] for p in network.pipes]
        )[grid.section]
        self.outdoor_density = network.outdoor_density[season]
        no_flue = np.zeros((1, runs))
        air = np.concatenate([network.outdoor_gas[:, season], no_flue])
        outdoor = self._air(air, network.outdoor[season])
        rooms = [np.concatenate([network.place_gas[:, r, season], no_flue]) for r in network.rooms]
        warm = [network.place_temperature[r, season] for r in network.rooms]
        self.room_air = np.stack([self._air(*of) for of in zip(rooms, warm, strict=True)], axis=1)
        begun, drawn = beginning(grid, course, around, air)
        temperature = begun.temperature
        local = gas_content.content(begun.gas, temperature, 0.0 * temperature, grid.pressure, network.pressure)[MASS]
        first = grid.first[grid.fed]
        if drawn is None:
            own = np.zeros((grid.fed.size, runs))
        else:
            start = Inputs(network, grid, runs, course.start).at(0)
            own = self._volume(start, drawn, local[first])
        walls = column_walls.walls(grid, method.walls * method.step, method.capacity)
        flow = self._sent(own)
        self.column = Column(grid, walls, around, outdoor, begun, flow, method.adiabatic)
        if drawn is not None:  # streams that mix at an appliance take up a little less or more than each by itself
            more = (start.prescribed + drawn) / local[first] - own
            self.column.excess[first] = np.where(own > 0.0, more, 0.0) * method.step / grid.volume[first] / PUSHED
        swelling = self.column.cool(method.step)
        self.own = own
        self.flow = self.column.flows(own, method.step, swelling)
        self.column.look(self.flow)
        self.swollen = self.flow - self._sent(own)
        self.pressed = np.ones((grid.first.size, runs))
        self.gained, self.time, self.asked_at = np.zeros_like(self.flow), 0.0, self.flow[grid.last]
        self.now = now
        self.extra, self.steeper = self._asked(None)
        self.spilled = np.zeros_like(own)
        self.drawn = drawn if drawn is not None else np.zeros_like(own)
        self.balance = self._pressures(self.flow, self.gained)
        if callable(added):
            self.extra, self.steeper = self._asked(Instant(self))
            self.balance = self._pressures(self.flow, self.gained)

    def _air(self, air, temperature):
        """What a volume of air at a temperature holds (contents, runs)."""
        pressure = self.network.pressure
        return gas_content.content(air, temperature, streams.enthalpy(air, temperature, pressure), pressure, pressure)

    # --- flows -----------------------------------------------------------------------------------------------

    def _volume(self, now: Input, drawn, density):
        """Volume [m3/s] that enters at every appliance; where gas leaves there it is that of the first cell."""
        sent = now.content[MASS]
        total = now.prescribed + drawn
        mixed = now.prescribed / sent + drawn / self.room_air[MASS]
        return np.where(drawn >= 0.0, mixed, np.where(total >= 0.0, total / sent, total / density))

    def _drawn(self, now: Input, own):
        """Room air drawn [kg/s] at a volume that enters, and its slope: the inverse of `_volume`."""
        sent, density = now.content[MASS], self.column.density[self.grid.first[self.grid.fed]]
        over = own - now.prescribed / sent
        back, spills = own < 0.0, over < 0.0
        slope = np.where(back, density, np.where(spills, sent, self.room_air[MASS]))
        return np.where(back, own * density - now.prescribed, slope * over), slope

    def advance(self, now: Input, number: int) -> None:
        """One step: flows at its end, then gas and walls with them."""
        column, step = self.column, self.method.step
        if callable(self.added):
            self.extra, self.steeper = self._asked(Instant(self))
        self.asked_at = self.flow[self.grid.last]
        self.now, self.time = now, number * step
        swelling = column.cool(step)
        swollen = column.flows(np.zeros_like(self.own), step, swelling)
        smooth = (swollen - self.swollen) * min(step / _SMOOTH, 1.0)
        self.swollen = self.swollen + smooth
        own = self._volume(now, np.zeros_like(self.own), 1.0)
        if self.free.size:
            own = self._free_flows(own, swollen, smooth)
        self.flow, self.gained = swollen + self._sent(own), smooth + self._sent(own - self.own)
        self.own = own
        self.drawn, _ = self._drawn(now, own)
        entered = column.entered[CONTENT_FLUE].copy()
        column.move(self.flow, step, self._inlet(own))
        flue = now.prescribed * now.content[CONTENT_FLUE] / now.content[MASS]
        self.spilled = self.spilled + flue * step - (column.entered[CONTENT_FLUE] - entered)
        if number % self.method.films == 1 % self.method.films:
            column.look(self.flow)
        if number % self.method.walls == 0:
            column.warm_walls()
        self.balance = None

    def _inlet(self, own):
        """What a volume of that holds which enters at every appliance (contents, appliances, runs)."""
        air = np.maximum(self.drawn, 0.0) / self.room_air[MASS]
        share = np.clip(air / np.maximum(own, TRACE), 0.0, 1.0)
        return (1.0 - share) * self.now.content + share * self.room_air

    def _sent(self, own):
        """Flow through every face [m3/s] of what enters at the appliances."""
        return (self.grid.serves @ own)[self.grid.section[:-1]]

    def _free_flows(self, own, swollen, smooth):
        """Volumes that enter where nobody prescribes them: linear in the pressures at the end of the step."""
        free, grid, now = self.free, self.grid, self.now
        shut = ~np.isfinite(np.array([now.feed.resistance[a] for a in free]))
        own = own.copy()
        own[free] = np.where(shut, own[free], self.own[free])
        for _ in range(3):
            balance = self._pressures(swollen + self._sent(own), smooth + self._sent(own - self.own))
            drawn, by_volume = self._drawn(now, own)
            gap, slope = np.zeros(shut.shape), np.ones(shut.shape)
            for k, a in enumerate(free):
                entry, by_drawn = now.feed.entry(
                    a, drawn[a], 1.0 / self.column.density[self.grid.first[self.grid.fed[a]]]
                )
                gap[k] = now.feed.room_gauge[a] - balance.up[grid.fed[a]] - entry
                slope[k] = by_drawn * by_volume[a]
            gap = np.where(shut, 0.0, gap)
            if np.abs(gap).max() < CLOSE:
                break
            matrix = self.by_own @ balance.own + self.by_other @ balance.other
            matrix = matrix.reshape(free.size, free.size, -1)
            matrix = np.where(shut[:, None], 0.0, matrix)
            matrix[range(free.size), range(free.size)] += np.where(shut, 1.0, slope)
            change = np.linalg.solve(matrix.transpose(2, 0, 1), gap.T[..., None])[..., 0].T
            own[free] += change
        return own

    # --- pressures -------------------------------------------------------------------------------------------

    def _asked(self, instant):
        """Pressure added at the end of every section, and its slope against the flow, (sections, runs)."""
        shape = (len(self.network.pipes), self.course.season.size)
        if self.added is None or (instant is None and callable(self.added)):
            return np.zeros(shape), np.zeros(shape)
        found = self.added(instant) if callable(self.added) else self.added
        found, slope = (np.asarray(f, float) for f in (found if isinstance(found, tuple) else (found, np.zeros(shape))))
        if found.shape != shape or slope.shape != shape:
            raise ValueError(f"added has shape {found.shape}, need {shape}")
        return found, slope

    def _device(self, end):
        """What the device adds at the flows [m3/s] at the ends of the sections."""
        return self.extra + self.steeper * (end - self.asked_at)

    def _pressures(self, flow, gained) -> Balance:
        """Pressure at both ends of every section for the flows [m3/s] through the faces and what they gain a step.

        Its own gauge pressure makes a section's gas denser, and so slower, by ``self.pressed``, known from the last
        look at the pressures; cells and their books know only the pressure of the place.
        """
        column, shape = self.column, self.pressed.shape
        device = np.array([self.extra, self.steeper, self.asked_at])
        self.pressed, found = self.pressed.copy(), np.empty((5, *shape))
        balance_all(
            *(self.sections, flow, gained, column.density, column.friction, self.method.step, self.outdoor_density),
            *(self.now.wind_head, device, self.pressed, self.network.pressure, found),
        )
        return Balance(*found)

    # --- what is told ----------------------------------------------------------------------------------------

    def _told(self) -> Balance:
        if self.balance is None:
            self.balance = self._pressures(self.flow, self.gained)
        return self.balance

    def outlets(self):
        """Static pressure at every outlet against the room there, as `Solution.outlet_pressure`."""
        grid, density = self.grid, self.column.density
        own, first = self.flow[grid.first - 1][grid.fed], grid.first[grid.fed]
        inside = np.where(own > 0.0, density[first - 1], density[first])
        head = 0.5 * inside / self.pressed[grid.fed] * (own / self.network.outlet_area[:, None]) ** 2
        return self._told().up[grid.fed] - head - np.array(self.now.feed.room_gauge)

    def header_pressure(self):
        balance = self._told()
        return balance.up[self.header] - balance.head[self.header] - self.header_room

    def store(self, found: dict, place: int) -> None:
        """Write this moment into its place among the times kept."""
        grid, column, balance = self.grid, self.column, self._told()
        begin = self.flow[grid.first - 1]
        held, entered, left = column.held, column.entered.sum(axis=1), column.left.sum(axis=1)
        forward = begin > 0.0
        values = {
            "flow": begin * np.where(forward, column.density[grid.first - 1], column.density[grid.first]),
            "flow_out": self.flow[grid.last] / self.pressed,
            "density_out": column.density[grid.last] * self.pressed,
            "upstream": np.where(forward, column.temperature[grid.first - 1], column.temperature[grid.first]),
            "downstream": column.temperature[grid.last],
            "wall": column.surface[grid.last],
            "pressure_up": balance.up,
            "pressure_down": balance.down,
            "added": self._device(self.flow[grid.last]),
            "outlet_pressure": self.outlets(),
            "drawn": self.drawn,
            "spilled": self.spilled,
            "header_pressure": self.header_pressure(),
            "mass_entered": entered[MASS],
            "mass_left": left[MASS],
            "mass_held": held[MASS],
            "energy_entered": entered[HEAT],
            "energy_left": left[HEAT],
            "energy_held": held[HEAT],
            "energy_stored": column.stored,
            "energy_lost": column.lost,
            "mass_settled": column.settled[0],
            "energy_settled": column.settled[1],
        }
        for name, value in values.items():
            found[name][..., place, :] = value


def _shared(network: Network, grid: Grid, of: Sections, free) -> tuple[np.ndarray, np.ndarray]:
    """The sections on the ways out of each two ``free`` appliances (pairs, sections): of both, and beside one's own.

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
    return tuple(np.einsum("ia,ib->abi", below, other).reshape(shape) for other in (below, beside))
