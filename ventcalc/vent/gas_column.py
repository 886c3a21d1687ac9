"""Gas column: what fills a vent at one instant, cell by cell, and how it cools, condenses and warms its walls.

A cell holds gas by volume (`gas_content`); it moves by `advection`. Pressure is that of the place; gas that cools
shrinks, gas that mixes or condenses may too, and the flow along the vent differs by that:

    dV/dx = -q' / (rho cp T)

with ``q'`` [W/m] given to the wall, and by the vapor that settles on it (`wetted_wall`). What that formula leaves out
(specific heats that differ, fog) shows as a cell that is over- or underfull after a step and is pushed out or drawn
in with those that follow. Walls are those of `column_walls`, without heat along them, advanced exactly between two
looks at the films. What the bulk cannot hold as vapor is fog in equilibrium, as in `common_vent`.

Plain SI arrays; the axes are rows, places (`column_grid`) and runs. What is done in every step is compiled, and changes
the `Held` in place.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import either, law, loop
from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, LATENT, STEAM, VAPOUR_CONSTANT, WATER
from ventcalc.vent import advection, wetted_wall
from ventcalc.vent.advection import Ends
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.column_walls import Walls
from ventcalc.vent.cooling import bore_of, inside_film
from ventcalc.vent.gas_content import CONTENT_FLUE, CONTENT_WATER, CONTENTS, FLUE, HEAT, MASS, content

# Of a cell, that gas may pass in one step of the transport, and share of a cell's overfill that is pushed out in one
# step. An overfull cell is also denser, and what it sends on overfills the next: that dies out while the share is
# no more than 2 (1 - largest step).
LARGEST_STEP, PUSHED = 0.8, 0.3

LEAST_SIZE = 1e-9  # kg/s; gas that stands still is taken for flowing so much
SHORT = 0.05  # K; a step of Newton's method on dry gas that is shorter was the last: what is left is below 1e-6 K
MOST_DRIED = 0.5  # of a cell's water that its wall may take in one step


class Beginning(NamedTuple):
    """``temperature`` [K] and ``gas`` of all places to begin with; walls ``warm`` 0 to 1 of their way to rest."""

    temperature: np.ndarray
    gas: np.ndarray
    warm: np.ndarray


# Rows of what never changes in a place (`Cells.own`); the numbers of its `Bore` follow behind them.
VOLUME, PER_VOLUME, LENGTH, RIM, LOCAL, TOWARDS = range(6)  # m3, 1/m3, m, m inside, Pa absolute, m K/W to first ring
BORE = 6

# Rows of what a cell is like at one time (`Held.cell`), in SI units.
TEMPERATURE, SPECIFIC_HEAT, FOGGY, EXCESS = range(4)  # excess: by what share it is overfull
FRICTION, INSIDE, CONVECTION, FILM, CONDUCTANCE, SURFACE = range(4, 10)  # film: its resistance [m K/W]
COOLING, TO_WALL, SWELLING = range(10, 13)  # W that leave the gas, W that reach the wall, 1/s
GIVEN, WATER_FILM = range(13, 15)  # J/m to the wall since it was last advanced, kg/m2 on it
# What a film was last worked out for (kg/s, K, K, kg/kg), and how far that may move before it is worked out anew: as
# share of the flow, in K of gas and wall, in kg/kg of water. A film changes by less than 0.3 % within that.
SEEN_SIZE, SEEN_GAS, SEEN_WALL, SEEN_WATER = range(15, 19)
TRANSFER = 19  # mass transfer coefficient [kg/(m2 s)] of that film, nought where nobody has asked for it
SAME_SIZE, SAME_GAS, SAME_WALL, SAME_WATER = 3e-3, 0.5, 1.0, 3e-4
ROWS = 20
WALL, BY_FILM, FLUX, LIQUID, SETTLES, VAPOR_HEAT = range(6)  # rows of what settles: `wetted_wall.Settling`, kg/s, J/kg
LOST, SETTLED, SETTLED_HEAT = range(3)  # rows of the books


class Cells(NamedTuple):
    """What never changes in a column: of every place its ``own`` (rows, places), of every ring of its wall what heat
    given to it adds, and its capacity (``ring_own`` (2, rings, places)), and what is left of all rings after an
    interval (``ring_step`` (places, rings, rings)); what is ``around`` [K] (places, runs)."""

    own: np.ndarray
    ends: Ends
    around: np.ndarray
    ring_own: np.ndarray
    ring_step: np.ndarray
    pressure: float
    adiabatic: bool


class Room(NamedTuple):
    """Room to work in: what each volume has ``lost`` (contents, places, runs), ``rings`` of one wall, to move gas."""

    lost: np.ndarray
    rings: np.ndarray
    moves: advection.Room


class Held(NamedTuple):
    """Gas and walls of a column at one time, and what has come and gone since the start.

    ``content`` (contents, places, runs) per m3; ``gas`` (rows, places, runs); ``cell`` (`ROWS`, places, runs); ``ring``
    (rings, places, runs) [K above the surroundings]. ``entered`` (contents, appliances, runs) and ``left`` (contents,
    roots, runs): mass [kg], heat [J] and so on; ``books`` (3, runs): heat [J] lost to the surroundings, water [kg] that
    has left the gas for the walls, less what has dried again, and its enthalpy [J] where it did. The first ``count`` of
    ``spots`` (place and run) are the cells in which water settles or dries, as ``settling`` (6, spots) says. ``room``
    holds nothing from one step to the next.
    """

    content: np.ndarray
    gas: np.ndarray
    cell: np.ndarray
    ring: np.ndarray
    entered: np.ndarray
    left: np.ndarray
    books: np.ndarray
    spots: np.ndarray
    settling: np.ndarray
    count: np.ndarray
    room: Room


class Column:
    """Gas and walls of all runs, for a look at them outside the time step: its `Cells`, and what they hold (`Held`)."""

    def __init__(self, grid: Grid, walls: Walls, around, outdoor, begun: Beginning, flow, adiabatic: bool):
        """Walls ``begun.warm`` 0 to 1 of their way to rest with the gas.

        ``outdoor``: content of outdoor air (contents, runs). ``flow`` (faces, runs) [m3/s].
        """
        self.grid, self.outdoor = grid, np.ascontiguousarray(outdoor)
        self.cells = cells = _cells(grid, walls, around, adiabatic)
        self.now = now = _held(grid, begun, walls.capacity.shape[0])
        warm = np.array(np.broadcast_to(begun.warm, flow.shape[1:]), float)
        look_at(cells, now, flow, cells.around, warm, cells.around, np.ascontiguousarray(walls.total[:, 0]))
        # As long as it has gone on, walls that gain water hold all they can.
        (place, run), flux = now.spots[:, : now.count[0]], now.settling[FLUX, : now.count[0]]
        now.cell[WATER_FILM, place, run] = np.where((flux > 0.0) & (warm > 0.0)[run], wetted_wall.MOST_FILM, 0.0)
        now.ring[:] = warm * (now.cell[SURFACE] - around) * (1.0 - walls.towards[..., None] / walls.total)
        look_at(cells, now, flow, cells.around, warm, cells.around + now.ring[0], cells.own[TOWARDS])

    @property
    def density(self):
        """Mass per volume [kg/m3] in every place."""
        return self.now.content[MASS]

    @property
    def temperature(self):
        """Temperature [K] in every place."""
        return self.now.cell[TEMPERATURE]

    @property
    def excess(self):
        """By what share every place is overfull."""
        return self.now.cell[EXCESS]

    def look(self, flow) -> None:
        """Take films, friction and what settles anew, at the cells' own gas, flow and wall."""
        wall, cold = self.cells.around + self.now.ring[0], np.zeros(flow.shape[1])
        look_at(self.cells, self.now, flow, wall, cold, wall, self.cells.own[TOWARDS])

    def flows(self, own, step: float):
        """Volume flow [m3/s] through every face, where ``own`` (appliances, runs) enters, as gas cools for a ``step``
        [s]."""
        flow = np.empty((self.grid.section.size - 1, own.shape[1]))
        cool_gas(self.cells, self.now, step)
        face_flows(self.cells, self.now, np.ascontiguousarray(own), step, flow)
        return flow

    @property
    def held(self):
        """What the gas holds in all (contents, runs): mass [kg], heat [J] and so on."""
        return (self.now.content * self.grid.volume).sum(axis=1)


def _cells(grid: Grid, walls: Walls, around, adiabatic: bool) -> Cells:
    """The cells of a grid with its walls."""
    own = (grid.volume, grid.per_volume, grid.length, np.pi * grid.pipe.diameter, grid.pressure, walls.first)
    return Cells(
        own=np.concatenate([[row[:, 0] for row in own], grid.pipe.bore]),
        ends=Ends(*(getattr(grid, name) for name in Ends._fields)),
        around=np.ascontiguousarray(around),
        ring_own=np.array([walls.warmed.T, walls.capacity]),
        ring_step=np.ascontiguousarray(walls.step),
        pressure=float(grid.network.pressure),
        adiabatic=adiabatic,
    )


def _held(grid: Grid, begun: Beginning, rings: int) -> Held:
    """Gas as it begins, beside dry walls."""
    pressure, gas, temperature = grid.network.pressure, np.array(begun.gas, order="C"), begun.temperature
    cell = np.zeros((ROWS, *temperature.shape))
    cell[TEMPERATURE], cell[SPECIFIC_HEAT] = temperature, _with_fog(gas, temperature, pressure)
    cell[FOGGY] = gas[WATER] > streams.water_held(gas, temperature, pressure)
    heat, runs = streams.enthalpy(gas, temperature, pressure), temperature.shape[1]
    return Held(
        content=content(gas, temperature, heat, grid.pressure, pressure),
        gas=gas,
        cell=cell,
        ring=np.zeros((rings, *temperature.shape)),
        entered=np.zeros((CONTENTS, grid.fed.size, runs)),
        left=np.zeros((CONTENTS, grid.roots.size, runs)),
        books=np.zeros((3, runs)),
        spots=np.empty((2, temperature.size), int),
        settling=np.empty((6, temperature.size)),
        count=np.zeros(1, int),
        room=Room(
            np.empty((CONTENTS, *temperature.shape)),
            np.empty(rings),
            advection.room(len(temperature), grid.first.size, runs),
        ),
    )


@law
def _with_fog(gas, temperature, pressure):
    """Specific heat [J/(kg K)], with the latent heat of the water that turns to fog."""
    held = streams.water_held(gas, temperature, pressure)
    slope = LATENT * streams.water_held_slope(temperature, pressure, held)
    return streams.specific_heat(gas, temperature) + either(gas[WATER] > held, slope, 0.0)


@loop
def look_at(cells, now, flow, wall, warm, ring, resistance):
    """Take films, friction and what settles anew, at the cells' own gas and flow.

    Films to a known ``wall`` [K], or to surroundings of that temperature behind a wall ``warm`` 0 to 1 (runs); water by
    what stands behind the surface: a ``ring`` [K], and up to it a ``resistance`` [m K/W] (places).
    """
    own, cell, count = cells.own, now.cell, 0
    places, runs = wall.shape
    for i in range(places):
        inner = min(max(i, 1), places - 2)  # what passes a border is what passes the place beside it
        bore = bore_of(own[BORE:, i])
        for r in range(runs):
            gas, temperature, behind = now.gas[:, i, r], cell[TEMPERATURE, i, r], ring[i, r]
            size = max(np.abs(0.5 * (flow[inner, r] + flow[inner - 1, r])) * now.content[MASS, inner, r], LEAST_SIZE)
            if warm[r] > 0.0 or _has_changed(cell[:, i, r], size, temperature, wall[i, r], gas[WATER]):
                inside = inside_film(bore, cells.pressure, gas, temperature, wall[i, r], warm[r], size)
                film = 1.0 / (inside.inside * own[RIM, i])
                cell[FRICTION, i, r], cell[INSIDE, i, r], cell[FILM, i, r] = inside.darcy, inside.inside, film
                cell[CONVECTION, i, r], cell[TRANSFER, i, r] = inside.convection, 0.0
                cell[CONDUCTANCE, i, r] = 0.0 if cells.adiabatic else own[LENGTH, i] / (film + own[TOWARDS, i])
            film = cell[FILM, i, r]
            surface, before = temperature - (temperature - behind) * film / (film + resistance[i]), cell[SURFACE, i, r]
            cell[SURFACE, i, r] = surface
            if cells.adiabatic or own[LENGTH, i] == 0.0:
                continue
            wet = cell[WATER_FILM, i, r] > 0.0
            if not wet and gas[WATER] <= streams.held_at_wall(gas, min(surface, temperature), cells.pressure)[0]:
                continue
            if cell[TRANSFER, i, r] == 0.0:
                convection = cell[CONVECTION, i, r]
                cell[TRANSFER, i, r] = wetted_wall.coefficient(gas, temperature, cells.pressure, convection)
            inside = wetted_wall.Inside(cell[INSIDE, i, r], cell[CONVECTION, i, r], cell[TRANSFER, i, r])
            to_ring = resistance[i] * own[RIM, i]
            found = wetted_wall.settle(gas, temperature, cells.pressure, inside, behind, to_ring, wet, before)
            cell[SURFACE, i, r] = found.wall
            now.spots[0, count], now.spots[1, count] = i, r
            for row in range(4):
                now.settling[row, count] = found[row]
            count += 1
    now.count[0] = count


@law
def _has_changed(cell, size, temperature, wall, water):
    """Whether flow, gas or wall has moved enough since a cell's film was worked out; if so, that they are seen now."""
    same = (
        np.abs(size - cell[SEEN_SIZE]) < SAME_SIZE * size
        and np.abs(temperature - cell[SEEN_GAS]) < SAME_GAS
        and np.abs(wall - cell[SEEN_WALL]) < SAME_WALL
        and np.abs(water - cell[SEEN_WATER]) < SAME_WATER
    )
    if not same:
        cell[SEEN_SIZE], cell[SEEN_GAS], cell[SEEN_WALL], cell[SEEN_WATER] = size, temperature, wall, water
    return not same


@law
def _swelling(heat, per_volume, capacity, temperature):
    """By how much gas swells [1/s] that gives ``heat`` [W]; ``capacity`` [J/(m3 K)]."""
    return -heat * per_volume / (capacity * temperature)


@loop
def cool_gas(cells, now, step):
    """Heat [W] that every cell gives to its wall, and water [kg/s], over a ``step`` [s]; how it swells [1/s] by that.

    To a dry wall no more than takes it to the wall's temperature in a step.
    """
    own, cell, content, settling = cells.own, now.cell, now.content, now.settling
    for i in range(cell.shape[1]):
        for r in range(cell.shape[2]):
            temperature, capacity = cell[TEMPERATURE, i, r], content[MASS, i, r] * cell[SPECIFIC_HEAT, i, r]
            most = own[VOLUME, i] * capacity / step  # W/K with which a cell would come to its wall's temperature
            wall = cells.around[i, r] + now.ring[0, i, r]
            heat = np.minimum(cell[CONDUCTANCE, i, r], most) * (temperature - wall)
            cell[COOLING, i, r] = cell[TO_WALL, i, r] = heat
            cell[SWELLING, i, r] = _swelling(heat, own[PER_VOLUME, i], capacity, temperature)
    for k in range(now.count[0]):
        i, r = now.spots[0, k], now.spots[1, k]
        area, volume, temperature = own[LENGTH, i] * own[RIM, i], own[VOLUME, i], cell[TEMPERATURE, i, r]
        capacity = content[MASS, i, r] * cell[SPECIFIC_HEAT, i, r]
        least = -cell[WATER_FILM, i, r] * area / step
        most = MOST_DRIED * np.maximum(content[CONTENT_WATER, i, r], 0.0) * volume / step
        water = np.minimum(np.maximum(area * settling[FLUX, k], least), most)
        heat = np.minimum(area * settling[BY_FILM, k], volume * capacity / step) * (temperature - settling[WALL, k])
        vapor_heat = streams.sensible(STEAM, temperature)
        settling[SETTLES, k], settling[VAPOR_HEAT, k] = water, vapor_heat
        cell[COOLING, i, r], cell[TO_WALL, i, r] = heat, heat + water * (vapor_heat - settling[LIQUID, k])
        # Vapor that leaves takes its volume with it; from foggy gas fog makes up for it, which takes heat.
        clear = VAPOUR_CONSTANT / content[2 + GAS_R, i, r]
        taken = LATENT / (capacity * temperature) if cell[FOGGY, i, r] > 0.0 else clear
        cell[SWELLING, i, r] = _swelling(heat, 1.0 / volume, capacity, temperature) - water / volume * taken


@loop
def face_flows(cells, now, own, step, flow):
    """Volume ``flow`` [m3/s] through every face: what enters at the appliances, ``own`` (appliances, runs), and what
    the cells make of it."""
    at, volume = cells.ends, cells.own[VOLUME]
    for r in range(own.shape[1]):
        for s in range(at.first.size):
            total = 0.0
            for c in range(2):
                if at.children[c, s] < at.first.size:
                    total += flow[at.last[at.children[c, s]], r]
            for a in range(at.fed.size):
                if at.fed[a] == s:
                    total += own[a, r]
            for f in range(at.first[s] - 1, min(at.last[s] + 2, flow.shape[0])):
                total += (now.cell[SWELLING, f, r] + PUSHED * now.cell[EXCESS, f, r] / step) * volume[f]
                flow[f, r] = total


@loop
def move_gas(cells, now, flow, step, inlet, outdoor):
    """Advance the gas by a ``step`` [s]; ``inlet`` (contents, appliances, runs) is what inflow holds, ``outdoor``
    (contents, runs) what comes in at a termination. Raises ValueError where the flow is no number."""
    own, cell = cells.own, now.cell
    most = 0.0
    for i in range(1, flow.shape[0]):
        for r in range(flow.shape[1]):
            most = np.maximum(most, np.maximum(np.abs(flow[i, r]), np.abs(flow[i - 1, r])) * own[PER_VOLUME, i])
    if not np.isfinite(most):
        raise ValueError("the flow through the vent is no number")
    parts = max(int(np.ceil(most * step / LARGEST_STEP)), 1)
    part = step / parts
    lost = now.room.lost
    lost[:] = 0.0
    for i in range(cell.shape[1]):
        per_length = 1.0 / (own[LENGTH, i] if own[LENGTH, i] > 0.0 else 1.0)
        for r in range(cell.shape[2]):
            cell[GIVEN, i, r] += cell[TO_WALL, i, r] * step * per_length
            lost[HEAT, i, r] = cell[COOLING, i, r] * (part * own[PER_VOLUME, i])
    _drain(own, now, step, parts, lost)
    advection.transport(
        now.content, flow, parts, part, own[PER_VOLUME], cells.ends, inlet, outdoor, lost, now.entered, now.left,
        now.room.moves,
    )  # fmt: skip
    _temper(now.content, now.gas, cell, own[LOCAL], cells.pressure)


@law
def _drain(own, now, step, parts, lost):
    """Water onto the walls over a ``step`` [s]; what one volume of gas there loses by it in each part is added to
    ``lost`` (contents, places, runs)."""
    for k in range(now.count[0]):
        i, r = now.spots[0, k], now.spots[1, k]
        water, area = now.settling[SETTLES, k] * step, own[LENGTH, i] * own[RIM, i]
        film = now.cell[WATER_FILM, i, r] + water / area
        now.cell[WATER_FILM, i, r] = np.minimum(np.maximum(film, 0.0), wetted_wall.MOST_FILM)
        now.books[SETTLED, r] += water
        now.books[SETTLED_HEAT, r] += water * now.settling[LIQUID, k]
        taken = water / own[VOLUME, i] / parts
        lost[MASS, i, r] += taken
        lost[HEAT, i, r] += now.settling[VAPOR_HEAT, k] * taken
        for row in range(FLUE):
            lost[2 + row, i, r] += STEAM[row] * taken
        lost[CONTENT_FLUE, i, r] += now.gas[FLUE, i, r] * taken


@law
def _temper(content, gases, cell, local, pressure):
    """Temperatures that go with mass and heat, and by what share every cell is overfull at them."""
    for row in range(gases.shape[0]):
        for i in range(cell.shape[1]):
            for r in range(cell.shape[2]):
                gases[row, i, r] = content[2 + row, i, r] / content[MASS, i, r]
    for i in range(cell.shape[1]):
        for r in range(cell.shape[2]):
            density, gas, before = content[MASS, i, r], gases[:, i, r], cell[TEMPERATURE, i, r]
            heat, found, constant = content[HEAT, i, r] / density, before, gas[GAS_R]
            for _ in range(2):  # the specific heat hardly changes with temperature
                step = (streams.sensible(gas, found) - heat) / streams.specific_heat(gas, found)
                found = found - step
                if np.abs(step) < SHORT:
                    break
            specific_heat = streams.specific_heat(gas, found)
            wet = gas[WATER] > streams.water_held(gas, found, pressure)
            if wet:
                found, held, specific_heat = streams.foggy(gas, heat, before, pressure)
                constant = constant - VAPOUR_CONSTANT * np.maximum(gas[WATER] - held, 0.0)
            cell[TEMPERATURE, i, r], cell[FOGGY, i, r] = found, 1.0 if wet else 0.0
            cell[EXCESS, i, r] = density * constant * found / local[i] - 1.0
            cell[SPECIFIC_HEAT, i, r] = specific_heat


@loop
def warm_rings(cells, now):
    """Advance the walls by one interval, with the heat given to them since the last."""
    rings, places, runs = now.ring.shape
    before = now.room.rings
    for i in range(places):
        for r in range(runs):
            given, stored = now.cell[GIVEN, i, r], 0.0
            for k in range(rings):
                before[k] = now.ring[k, i, r]
            for k in range(rings):
                after = cells.ring_own[0, k, i] * given
                for m in range(rings):
                    after += cells.ring_step[i, k, m] * before[m]
                now.ring[k, i, r] = after
                stored += cells.ring_own[1, k, i] * (after - before[k])
            now.books[LOST, r] += cells.own[LENGTH, i] * (given - stored)
            now.cell[GIVEN, i, r] = 0.0
