"""Transient: the vent in time, from a steady state through what its burners do next.

`common_vent` says where a vent comes to rest; this module how it gets there. At light-off the stack still stands full
of cool air, which the first flue gas has to push out: seconds. Then the walls warm up: minutes. And a column of gas
has mass: what a fan or a burner adds within a second or two accelerates it first.

Gas and walls are those of `gas_column`. Along every section, with ``p`` total pressure as in `common_vent` and ``u``
the velocity,

    p_up - p_down = int rho du/dt dx + int rho u du + (rho u^2/2)_up - (rho u^2/2)_down
                    + (f L/D + K) rho u|u| / 2 - g int (rho_outdoor - rho) dz

At rest that is the equation of `common_vent`. Junctions, ends and ways in from the room are the same too. Flows
that nobody prescribes (a hood's, a regulator's, a leaking idle appliance's) are found in every step from the pressures
at its end, linear in the change of the flows; all others follow from what the burners send. Sound, which passes a
vent in a tenth of a second, is left out; so is the natural convection within a dead leg.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ventcalc.compiled import loop
from ventcalc.flow import junctions
from ventcalc.gas import streams
from ventcalc.gas.streams import TRACE
from ventcalc.units import GRAVITY
from ventcalc.vent import gas_column
from ventcalc.vent.course import Course, Input, Inputs, Start, beginning, course_of
from ventcalc.vent.end_of_header import far_end, far_end_room
from ventcalc.vent.gas_column import CONTENT_FLUE, HEAT, MASS, PUSHED, Column
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.pressure_balance import FALLING_AIR_LOSS

CHUNK = 20_000  # runs times steps whose inputs are worked out together
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


class Instant:
    """The vent at one moment, for a device that acts on it: arrays with one column a run.

    ``time`` [s]; ``flow`` [m3/s] and ``density`` [kg/m3] at the downstream end of every section; ``outlet_pressure``
    (appliances) and ``header_pressure`` [Pa] as in `Transient`, worked out when they are asked for. Raises ValueError
    for those once the vent has moved on.
    """

    def __init__(self, vent: "_Vent"):
        end = vent.grid.last
        self._vent, self.time = vent, vent.time
        self.flow, self.density = vent.flow[end] / vent.pressed, vent.column.density[end] * vent.pressed

    def _now(self) -> "_Vent":
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


@dataclass(frozen=True)
class Transient:
    """Runs in time, plain SI; the last two axes are times and runs, sections in the order of ``plant.order``.

    Sections: ``flow`` [kg/s] at the upstream end, ``flow_out`` [m3/s] and ``density_out`` at the downstream end, gas
    ``upstream`` and ``downstream`` [K], inner ``wall`` [K] of the last cell, total pressure ``pressure_up`` and
    ``pressure_down`` [Pa] and what a device ``added`` [Pa], as in `Solution`.
    Appliances: ``outlet_pressure`` [Pa] and ``drawn`` [kg/s] as there, ``spilled`` flue gas [kg] that has
    come into the room since the start. ``header_pressure`` [Pa] as `end_of_header.far_end_pressure`. Bookkeeping since
    the start: mass [kg] and energy [J] that ``entered`` at the appliances and ``left`` at the terminations, what the
    gas ``held``, what walls had ``stored``, what was ``lost`` to the surroundings, and the water that ``settled`` on
    walls, less what dried again: ``entered - left - settled`` is the change of held, for energy that of held and
    stored and lost.
    """

    plant: Plant
    seasons: tuple[Season, ...]
    course: Course
    barometric: float
    time: np.ndarray
    flow: np.ndarray
    flow_out: np.ndarray
    density_out: np.ndarray
    upstream: np.ndarray
    downstream: np.ndarray
    wall: np.ndarray
    pressure_up: np.ndarray
    pressure_down: np.ndarray
    added: np.ndarray
    outlet_pressure: np.ndarray
    drawn: np.ndarray
    spilled: np.ndarray
    header_pressure: np.ndarray
    mass_entered: np.ndarray
    mass_left: np.ndarray
    mass_held: np.ndarray
    energy_entered: np.ndarray
    energy_left: np.ndarray
    energy_held: np.ndarray
    energy_stored: np.ndarray
    energy_lost: np.ndarray
    mass_settled: np.ndarray
    energy_settled: np.ndarray

    def row(self, section: str) -> int:
        """Row of a section in the arrays."""
        return self.plant.row(section)


_OF_SECTIONS = (
    "flow",
    "flow_out",
    "density_out",
    "upstream",
    "downstream",
    "wall",
    "pressure_up",
    "pressure_down",
    "added",
)
_OF_APPLIANCES = ("outlet_pressure", "drawn", "spilled")
_OF_RUNS = ("header_pressure", "mass_entered", "mass_left", "mass_held", "energy_entered", "energy_left",
            "energy_held", "energy_stored", "energy_lost", "mass_settled", "energy_settled")  # fmt: skip


def run(
    plant: Plant,
    seasons: tuple[Season, ...],
    course: Course,
    added: Device | np.ndarray | None = None,
    stride: float = 0.2,
    method: Method = Method(),
) -> Transient:
    """Follow a plant through a course, to the time of its last knot.

    ``added`` [Pa] as in `common_vent.solve`: an array (sections, runs), or a function that is asked for one in every
    step with the `Instant` before it; it may return with it the slope [Pa s/m3] against the flow there, which a device
    that resists much more the more flows (a damper all but shut) must, or a step overshoots. ``stride`` [s]
    between the times that are kept. Raises ValueError where the course does not fit the plant, or a stride is no whole
    number of steps.
    """
    return run_network(compile_network(plant, tuple(seasons)), course, added, stride, method)


def run_network(network: Network, course: Course, added=None, stride: float = 0.2, method: Method = Method()):
    """As `run`, on a plant that is compiled already."""
    every, plant = round(stride / method.step), network.plant
    if every < 1 or abs(every * method.step - stride) > 1e-9:
        raise ValueError(f"stride {stride:g} s must be a whole number of steps of {method.step:g} s")
    if len(course.codes) != len(plant.appliances):
        raise ValueError(f"course has codes of {len(course.codes)} appliances, need {len(plant.appliances)}")
    steps = int(np.ceil(course.time[-1] / method.step - 1e-9))
    steps += -steps % every
    runs, kept = course.season.size, steps // every + 1
    found = {name: np.empty((len(plant.order), kept, runs)) for name in _OF_SECTIONS}
    found |= {name: np.empty((len(plant.appliances), kept, runs)) for name in _OF_APPLIANCES}
    found |= {name: np.empty((kept, runs)) for name in _OF_RUNS}
    vent = _Vent(network, course, added, method)
    vent.store(found, 0)
    chunk = max(CHUNK // runs, 1)
    for begin in range(1, steps + 1, chunk):
        numbers = np.arange(begin, min(begin + chunk, steps + 1))
        feed = Inputs(network, vent.grid, runs, *course.between(method.step * numbers))
        for i, number in enumerate(numbers):
            vent.advance(feed.at(i), int(number))
            if number % every == 0:
                vent.store(found, number // every)
    time = method.step * every * np.arange(kept)
    return Transient(plant, network.seasons, course, network.pressure, time, **found)


def starts(
    plant: Plant,
    seasons: tuple[Season, ...],
    changes: Sequence[Start],
    duration: float = 60.0,
    added: Device | np.ndarray | None = None,
    stride: float = 0.2,
    method: Method = Method(),
) -> Transient:
    """Follow many starts, stops and turn-downs side by side for a ``duration`` [s]: one run for each of ``changes``.

    ``plant``, ``seasons``, ``added``, ``stride`` and ``method`` as in `run`. Raises ValueError where a ramp or a fan
    takes no time, or a start is not over within the duration.
    """
    course = course_of(plant, tuple(changes), duration)
    return run(plant, seasons, course, added, stride, method)


@dataclass
class _Balance:
    """Pressures of one moment and how they answer the volume flows; (sections, runs)."""

    up: np.ndarray
    down: np.ndarray
    own: np.ndarray  # Pa s/m3 of the rise from the downstream to the upstream end, and into the leg, by its own flow
    other: np.ndarray  # by that of the other leg
    head: np.ndarray


class _Sections(NamedTuple):
    """What the pressures need of every section, and behind that of every place."""

    first: np.ndarray  # place of its first cell
    last: np.ndarray
    parent: np.ndarray  # row of the section it leads into, -1 at a termination
    area: np.ndarray
    rise: np.ndarray
    thin: np.ndarray
    end_loss: np.ndarray
    wind: np.ndarray
    straight: np.ndarray  # row of the run that leads into it by a junction, -1 where none does
    branch: np.ndarray
    form: np.ndarray  # (sections, 6) of that junction
    slender: np.ndarray
    fixed: np.ndarray
    half: np.ndarray
    inertance: np.ndarray


@loop
def _balance(of, flow, gained, density, friction, step, outdoor, wind_head, device, pressed, pressure, found):
    """`_Vent._pressures`, into ``found`` (up, down, own, other, head); ``pressed`` before and after.

    ``outdoor`` density and ``wind_head`` (runs); ``device`` (3, sections, runs): what it adds, its slope against the
    flow, and the flow there.
    """
    up, down, own, other, head = found[0], found[1], found[2], found[3], found[4]
    count = of.first.size
    drop, fall, added = np.empty(count), np.empty(count), np.empty(count)
    dense_in, dense_out, mean, whole = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    for r in range(flow.shape[1]):
        for s in range(count):
            first, last, slower = of.first[s], of.last[s], 1.0 / pressed[s, r]
            loss = inertia = stretch = resistance = all_inertia = held = flows = 0.0
            for i in range(first, last + 1):
                both = flow[i, r] + flow[i - 1, r]  # twice the flow through the place
                momentum = of.half[i] * density[i, r]
                factor = 0.5 * momentum * (friction[i, r] * of.slender[i] + of.fixed[i]) * np.abs(both)
                mass = density[i, r] * of.inertance[i] * (0.5 / step)
                loss += 0.5 * factor * both
                inertia += mass * (gained[i, r] + gained[i - 1, r])
                stretch += momentum * both * (flow[i, r] - flow[i - 1, r])
                resistance, all_inertia = resistance + factor, all_inertia + mass
                held, flows = held + density[i, r], flows + both
            begin, end, cells = flow[first - 1, r], flow[last, r], last + 1 - first
            dense_in[s] = density[first - 1, r] if begin > 0.0 else density[first, r]
            dense_out[s] = density[last, r] if end > 0.0 else density[last + 1, r]
            mean[s], whole[s] = held / cells, flows / cells
            acceleration = stretch + 0.5 / of.area[s] ** 2 * (dense_in[s] * begin**2 - dense_out[s] * end**2)
            draft = GRAVITY * of.rise[s] * (outdoor[r] * of.thin[s] - pressed[s, r] * mean[s])
            added[s] = device[0, s, r] + device[1, s, r] * (end - device[2, s, r])
            drop[s] = (loss + acceleration) * slower + inertia - draft - added[s]
            own[s, r] = 2.0 * slower * resistance + 2.0 * all_inertia - device[1, s, r]
            other[s, r] = fall[s] = 0.0
            head[s, r] = 0.5 * slower * dense_in[s] * (begin / of.area[s]) ** 2
            if of.parent[s] < 0:
                mouth = ((1.0 if end >= 0.0 else FALLING_AIR_LOSS) + of.end_loss[s]) * dense_out[s]
                mouth = mouth * np.abs(end) / (2.0 * of.area[s] ** 2)
                fall[s] = of.wind[s] * wind_head[r] + mouth * end
                own[s, r] += 2.0 * mouth
        for s in range(count):
            branch, straight, denser = of.branch[s], of.straight[s], pressed[s, r]
            if branch < 0:
                continue
            branch_flow, run_flow, run_density = dense_out[branch] * flow[of.last[branch], r], 0.0, dense_in[s]
            if straight >= 0:
                run_flow, run_density = dense_out[straight] * flow[of.last[straight], r], dense_out[straight]
            volumes = 1.0 / (denser * dense_out[branch]), 1.0 / (denser * run_density), 1.0 / (denser * dense_in[s])
            k = of.form[s]
            form = junctions.Coefficients(k[0], k[1], k[2], k[3], k[4], k[5])
            down_b, down_s, bb, bs, sb, ss = junctions.leg_pressures(form, volumes, of.area[s], branch_flow, run_flow)
            fall[branch] += down_b
            own[branch, r] += bb * dense_out[branch]
            if straight >= 0:
                fall[straight] += down_s
                own[straight, r] += ss * dense_out[straight]
                other[branch, r], other[straight, r] = bs * dense_out[straight], sb * dense_out[branch]
        for s in range(count - 1, -1, -1):
            slower = 1.0 / pressed[s, r]
            up[s, r] = drop[s] + fall[s] + (up[of.parent[s], r] if of.parent[s] >= 0 else 0.0)
            down[s, r] = up[s, r] - drop[s]
            middle = 0.5 * slower * mean[s] * (0.5 * whole[s] / of.area[s]) ** 2
            gauge = 0.5 * (up[s, r] + down[s, r] - added[s]) - middle
            pressed[s, r] = 1.0 + gauge / (pressure * of.thin[s])


class _Vent:
    """All runs at one time, advanced step by step."""

    def __init__(self, network: Network, course: Course, added, method: Method):
        self.network, self.course, self.method, self.added = network, course, method, added
        self.grid = grid = gas_column.grid(network, method.cell)
        self._constants()
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
        temperature, gas, warm, drawn = beginning(grid, course, around, air)
        local = gas_column.content(gas, temperature, 0.0 * temperature, grid.pressure, network.pressure)[MASS]
        first = grid.first[grid.fed]
        if drawn is None:
            own = np.zeros((grid.fed.size, runs))
        else:
            start = Inputs(network, grid, runs, course.start).at(0)
            own = self._volume(start, drawn, local[first])
        walls = gas_column.walls(grid, method.walls * method.step, method.capacity)
        flow = self._sent(own)
        self.column = Column(grid, walls, around, outdoor, temperature, gas, warm, flow, method.adiabatic)
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
        return gas_column.content(air, temperature, streams.enthalpy(air, temperature, pressure), pressure, pressure)

    def _constants(self) -> None:
        """What the pressures need of every section, as columns."""
        pipes, grid = self.network.pipes, self.grid
        count = len(pipes)

        cells = grid.last - grid.first + 1
        self.sections = _Sections(
            first=grid.first,
            last=grid.last,
            parent=np.array([p.parent for p in pipes]),
            **{
                name: np.array([getattr(p, name) for p in pipes], float)
                for name in ("area", "rise", "end_loss", "wind")
            },
            thin=np.array([p.thin_air for p in pipes]),
            straight=np.array([p.children[0] if p.form is not None and len(p.children) == 2 else -1 for p in pipes]),
            branch=np.array([p.children[-1] if p.form is not None else -1 for p in pipes]),
            form=np.array([p.form or np.zeros(6) for p in pipes], float),
            slender=(grid.length / grid.pipe.diameter)[:, 0],
            fixed=np.where(grid.real, grid.pipe.fixed_loss[:, 0] / cells[grid.section], 0.0),
            half=(0.5 / grid.area**2)[:, 0],
            inertance=(grid.length / grid.area)[:, 0],
        )
        path = np.zeros((count, count))  # the sections from each to its termination
        for i in reversed(range(count)):
            path[i, i] = 1.0
            if pipes[i].parent >= 0:
                path[i] += path[pipes[i].parent]
        below = path[grid.fed].T  # (sections, appliances)
        partner = np.full(count, -1)
        for straight, branch in zip(self.sections.straight, self.sections.branch, strict=True):
            if straight >= 0:
                partner[straight], partner[branch] = branch, straight
        beside = np.where(partner[:, None] >= 0, below[partner], 0.0)
        self.free = np.array([a for a, r in enumerate(self.network.resistance) if np.isfinite(r).any()], int)
        f, shape = self.free, (self.free.size**2, count)
        self.by_own = np.einsum("ia,ib->abi", below[:, f], below[:, f]).reshape(shape)
        self.by_other = np.einsum("ia,ib->abi", below[:, f], beside[:, f]).reshape(shape)
        self.header = self.network.plant.row(far_end(self.network.plant))
        self.header_room = far_end_room(self.network, self.course.states(np.zeros(1)))

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

    def _pressures(self, flow, gained) -> _Balance:
        """Pressure at both ends of every section for the flows [m3/s] through the faces and what they gain a step.

        Its own gauge pressure makes a section's gas denser, and so slower, by ``self.pressed``, known from the last
        look at the pressures; cells and their books know only the pressure of the place.
        """
        column, shape = self.column, self.pressed.shape
        device = np.array([self.extra, self.steeper, self.asked_at])
        self.pressed, found = self.pressed.copy(), np.empty((5, *shape))
        _balance(
            *(self.sections, flow, gained, column.density, column.friction, self.method.step, self.outdoor_density),
            *(self.now.wind_head, device, self.pressed, self.network.pressure, found),
        )
        return _Balance(*found)

    # --- what is told ----------------------------------------------------------------------------------------

    def _told(self) -> _Balance:
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
