"""Gas column: what fills a vent at one instant, cell by cell, and how it moves and warms its walls.

Every section is cut into cells. A cell holds gas, by volume: mass, enthalpy and the property rows of `streams`, with
one more row, the share that is flue gas. Gas moves as a plug: what passes a face is the volume that flows there times
what one volume holds on the side it comes from, so that mass, heat and water are kept to rounding. Pressure is that
of the place; gas that cools shrinks, gas that mixes or condenses may too, and the flow along the vent differs by that:

    dV/dx = -q' / (rho cp T)

with ``q'`` [W/m] given to the wall, and by the vapour that settles on it (`wetted_wall`). What that formula leaves out
(specific heats that differ, fog) shows as a cell that is over- or underfull after a step and is pushed out or drawn
in with those that follow. Fronts are kept sharp by van Leer's limited slopes (1974). Walls are `heat_loss.rings`
without heat along them, advanced exactly between two looks at the films. What the bulk cannot hold as vapour is fog in
equilibrium, as in `common_vent`.

Plain SI arrays; the axes are rows, places and runs. Places are the cells of all sections in the order of the network,
each section between two borders: its first border shows what enters from upstream, its last what enters from
downstream.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import expm

from ventcalc.compiled import either, law, loop
from ventcalc.flow import heat_loss
from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, LATENT, STEAM, VAPOUR_CONSTANT, WATER
from ventcalc.vent import wetted_wall
from ventcalc.vent.cooling import inside_film
from ventcalc.vent.network import Bore, Network, Pipe

# Rows of what one volume holds; the rest are the gas's own, `streams` and the share of flue gas.
MASS, HEAT, GAS = 0, 1, slice(2, None)
FLUE = streams.ROWS  # row of the gas, behind those of every stream
CONTENT_FLUE = 2 + FLUE
CONTENTS = 3 + FLUE
CONTENT_WATER = 2 + WATER

# Of a cell, that gas may pass in one step of the transport, and share of a cell's overfill that is pushed out in one
# step. An overfull cell is also denser, and what it sends on overfills the next: that dies out while the share is
# no more than 2 (1 - largest step).
LARGEST_STEP, PUSHED = 0.8, 0.3
LEAST_CAPACITY = 0.05  # of a wall's own; a lighter one would swing between two looks at the films
MOST_DRIED = 0.5  # of a cell's water that its wall may take in one step


@dataclass(frozen=True)
class Walls:
    """Rings of all places, padded to the same number; above the surroundings' temperature all is linear.

    ``step`` (places, rings, rings) and ``warmed`` (places, rings) [K m/J]: what is left of each ring after an interval,
    and what one joule a metre given to the first ring over it adds. ``capacity`` (rings, places) [J/(m K)];
    ``first`` (places, 1) [m K/W] from inner surface to the middle of the first ring; ``towards`` (rings, places)
    [m K/W] from inner surface to each ring; ``total`` (places, 1) to the surroundings.
    """

    step: np.ndarray
    warmed: np.ndarray
    capacity: np.ndarray
    first: np.ndarray
    towards: np.ndarray
    total: np.ndarray


@dataclass(frozen=True)
class Grid:
    """The cells of a network. Arrays over places have a second axis of length 1, for the runs."""

    network: Network
    first: np.ndarray  # (sections) place of each section's first cell
    last: np.ndarray
    section: np.ndarray  # (places) row of the section
    real: np.ndarray  # (places) whether it is a cell
    volume: np.ndarray  # m3; 0 at borders
    per_volume: np.ndarray  # 1/m3; 0 at borders
    length: np.ndarray  # m of wall; 0 at borders
    area: np.ndarray  # m2
    pressure: np.ndarray  # Pa absolute, of the place
    pipe: Pipe  # of every place, arrays in the place of numbers
    total: np.ndarray  # (sections, places) sums over the cells of a section
    above: np.ndarray  # (sections, sections) those that lead into each, by whatever way
    serves: np.ndarray  # (sections, appliances) the appliances whose gas passes a section
    children: np.ndarray  # (2, sections) rows of the sections that lead into each; the number of sections if none
    fed: np.ndarray  # (appliances) row of the first section
    roots: np.ndarray  # rows of the sections that end at a termination
    inward: np.ndarray  # rows of the others
    parents: np.ndarray  # rows of the sections into which those lead
    alone: np.ndarray  # whether nothing else leads into them


def grid(network: Network, cell: float) -> Grid:
    """The cells of a network, each at least ``cell`` [m] long and less than twice that.

    A section that is shorter than that is one cell, with the volume of a whole one: gas passes it late by less
    than it takes to pass a cell.
    """
    pipes = network.pipes
    counts = np.array([max(int(p.length / cell + 1e-9), 1) for p in pipes])
    section = np.repeat(np.arange(len(pipes)), counts + 2)
    last = np.cumsum(counts + 2) - 2
    first = last - counts + 1
    real = np.ones(section.size, bool)
    real[first - 1] = real[last + 1] = False
    place = replace(pipes[0], **{name: _spread(pipes, section, name) for name in _NUMBERS})
    length = np.where(real, _of(pipes, "length")[section] / counts[section], 0.0)[:, None]
    volume = np.where(real[:, None], np.maximum(length, cell) * place.area, 0.0)
    above = np.zeros((len(pipes), len(pipes)))
    for i, pipe in enumerate(pipes):
        for child in pipe.children:
            above[i] += above[child]
            above[i, child] = 1.0
    children = np.full((2, len(pipes)), len(pipes))
    for i, pipe in enumerate(pipes):
        children[: len(pipe.children), i] = pipe.children
    parent = np.array([p.parent for p in pipes])
    return Grid(
        network=network,
        first=first,
        last=last,
        section=section,
        real=real,
        volume=volume,
        per_volume=np.where(volume > 0.0, 1.0 / np.where(volume > 0.0, volume, 1.0), 0.0),
        length=length,
        area=place.area,
        pressure=network.pressure * place.thin_air,
        pipe=place,
        total=real * (section == np.arange(len(pipes))[:, None]).astype(float),
        above=above,
        serves=(above + np.eye(len(pipes)))[:, list(network.fed_by)],
        children=children,
        fed=np.array(network.fed_by),
        roots=np.flatnonzero(parent < 0),
        inward=np.flatnonzero(parent >= 0),
        parents=parent[parent >= 0],
        alone=np.array([len(pipes[p].children) == 1 for p in parent[parent >= 0]], bool),
    )


_NUMBERS = (
    *("diameter", "area", "length", "rise", "surface", "relative_roughness", "fixed_loss", "outside_resistance"),
    "thin_air",
)


def _of(pipes, name: str) -> np.ndarray:
    return np.array([float(getattr(p, name)) for p in pipes])


def _spread(pipes, section, name: str) -> np.ndarray:
    return _of(pipes, name)[section][:, None]


def walls(grid: Grid, interval: float, capacity: float) -> Walls:
    """The walls of a grid for steps of ``interval`` [s]; ``capacity`` is a factor on the heat they hold.

    Rings and outside film are scaled together, so that their sum is the section's own `Pipe.outside_resistance`.
    An infinite capacity holds every wall at its temperature. Raises ValueError for one below `LEAST_CAPACITY`.
    """
    if not capacity >= LEAST_CAPACITY:
        raise ValueError(f"wall capacity {capacity:g} times its own must be at least {LEAST_CAPACITY:g}")
    found = [_wall(grid, row, interval, capacity) for row in range(len(grid.network.pipes))]
    most = max(w[0].shape[0] for w in found)
    padded = [[_pad(a, most) for a in w[:4]] + [np.array([w[4]])] for w in found]
    step, warmed, held, towards, total = (np.array(a)[grid.section] for a in zip(*padded, strict=True))
    return Walls(step, warmed, held.T, towards[:, :1], towards.T, total)


def _wall(grid: Grid, row: int, interval: float, capacity: float):
    pipe, section = grid.network.pipes[row], grid.network.plant.order[row]
    rings = heat_loss.rings(pipe.diameter, section.material.layers)
    film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
    chain = rings.resistance.copy()
    chain[-1] += 1.0 / (film * np.pi * rings.outer_diameter)
    total = pipe.outside_resistance / (np.pi * pipe.diameter)
    chain *= total / chain.sum()
    count = len(rings.capacity)
    if np.isinf(capacity):
        return np.eye(count), np.zeros(count), np.zeros(count), np.cumsum(chain)[:-1], total
    held = rings.capacity * capacity
    flow = 1.0 / chain[1:]  # W/(m K) from ring to ring to the surroundings
    matrix = -np.diag(flow + np.concatenate(([0.0], flow[:-1]))) + np.diag(flow[:-1], 1) + np.diag(flow[:-1], -1)
    matrix /= held[:, None]
    step = expm(matrix * interval)
    source = np.eye(count)[:, 0] / held[0] / interval
    return step, np.linalg.solve(matrix, (step - np.eye(count)) @ source), held, np.cumsum(chain)[:-1], total


def _pad(array: np.ndarray, most: int) -> np.ndarray:
    return np.pad(array, [(0, most - n) for n in array.shape])


class Column:
    """Gas and walls of all runs, and what has come and gone since the start.

    ``content`` (contents, places, runs) per m3; ``temperature`` [K] and ``gas`` (rows) of the places; ``ring`` (rings,
    places, runs) [K above the surroundings]; ``around`` (places, runs) [K]. ``entered`` (contents, appliances, runs)
    and ``left`` (contents, roots, runs): mass [kg], heat [J] and so on; ``lost`` (runs) [J] to the surroundings;
    ``film`` [kg/m2] of water on every wall; ``settled`` (2, runs): water [kg] that has left the gas for the walls, less
    what has dried again, and its enthalpy [J] where it did.
    """

    def __init__(self, grid: Grid, walls: Walls, around, outdoor, temperature, gas, warm, flow, adiabatic: bool):
        """Gas of a ``temperature`` and ``gas`` in every place, walls ``warm`` 0 to 1 of their way to rest with it.

        ``outdoor``: content of outdoor air (contents, runs). ``flow`` (faces, runs) [m3/s].
        """
        self.grid, self.walls, self.around, self.outdoor, self.adiabatic = grid, walls, around, outdoor, adiabatic
        self.temperature, self.gas = temperature.copy(), gas
        heat = streams.enthalpy(gas, temperature, grid.network.pressure)
        self.content = content(gas, temperature, heat, grid.pressure, grid.network.pressure)
        runs = temperature.shape[1]
        self.per_length = 1.0 / np.where(grid.length > 0.0, grid.length, 1.0)
        self.wetted_area = grid.length * np.pi * grid.pipe.diameter
        self.wettable = np.broadcast_to(grid.length > 0.0, temperature.shape)
        self.entered = np.zeros((CONTENTS, grid.fed.size, runs))
        self.left = np.zeros((CONTENTS, grid.roots.size, runs))
        self.lost = np.zeros(runs)
        self.given = np.zeros_like(temperature)  # J a metre since the walls were last advanced
        self.film, self.settled = np.zeros_like(temperature), np.zeros((2, runs))
        self.foggy = gas[WATER] > streams.water_held(gas, temperature, grid.network.pressure)
        self._take_films(flow, around, warm)
        self._settle(around, walls.total, self.film > 0.0)
        if self.settling is not None:  # as long as it has gone on, walls that gain water hold all they can
            self.film[self.settling.pick] = np.where(
                (self.settling.flux > 0.0) & (warm > 0.0)[self.settling.pick[1]], wetted_wall.MOST_FILM, 0.0
            )
        self.ring = warm * (self.surface - around) * (1.0 - walls.towards[..., None] / walls.total)
        self._settle(around + self.ring[0], walls.first, self.film > 0.0)
        self.excess = np.zeros_like(temperature)
        self._latent_slope()

    @property
    def density(self):
        """Mass per volume [kg/m3] in every place."""
        return self.content[MASS]

    def look(self, flow) -> None:
        """Take films and friction anew, at the cells' own gas, flow and wall."""
        wall = self.around + self.ring[0]
        self._take_films(flow, wall, 0.0)
        self._settle(wall, self.walls.first, self.film > 0.0)

    def _take_films(self, flow, wall, warm) -> None:
        """Films to a known ``wall`` [K], or to surroundings of that temperature behind a wall ``warm`` 0 to 1."""
        size = np.abs(0.5 * (flow[1:] + flow[:-1])) * self.density[1:-1]
        size = np.maximum(np.concatenate([size[:1], size, size[-1:]]), 1e-9)
        pipe = self.grid.pipe
        found = np.empty((3, *size.shape))
        behind = np.array(np.broadcast_to(warm, size.shape[1:]), float)
        _films_all(pipe.bore, self.grid.network.pressure, self.gas, self.temperature, wall, behind, size, found)
        self.friction, self.inside, self.convection = found
        self.film_resistance = 1.0 / (self.inside * np.pi * pipe.diameter)
        self.conductance = self.grid.length / (self.film_resistance + self.walls.first)
        if self.adiabatic:
            self.conductance = np.zeros_like(self.conductance)

    def _settle(self, ring, resistance, wet) -> None:
        """Where water settles on walls or dries, at their surface: behind it a ``ring`` [K] and up to it a
        ``resistance`` [m K/W]."""
        grid, gas, pressure = self.grid, self.gas, self.grid.network.pressure
        self.surface = self.temperature - (self.temperature - ring) * self.film_resistance / (
            self.film_resistance + resistance
        )
        self.settling = None
        held, _ = streams.held_at_wall(gas, np.minimum(self.surface, self.temperature), pressure)
        looked_at = self.wettable & (wet | (gas[WATER] > held))
        if self.adiabatic or not looked_at.any():
            return
        pick = np.nonzero(looked_at)

        def of(values):
            return np.broadcast_to(values, looked_at.shape)[pick]

        self.settling = found = wetted_wall.settling(
            pick,
            gas[(slice(None), *pick)],
            self.temperature[pick],
            pressure,
            self.inside[pick],
            self.convection[pick],
            of(ring),
            of(resistance * np.pi * grid.pipe.diameter),
            wet[pick],
        )
        self.surface[pick] = found.wall

    def cool(self, step: float):
        """By how much the gas of every cell swells [1/s] over a ``step`` [s], as it gives heat and water to its wall.

        ``heat`` [W] is what leaves the gas with it, ``to_wall`` [W] what reaches the wall; ``water`` [kg/s].
        """
        grid, shape = self.grid, self.temperature.shape
        self.heat, swelling = np.empty(shape), np.empty(shape)
        wall = self.around + self.ring[0]
        _cool_all(
            *(self.density, self.specific_heat, self.temperature, wall, self.conductance, step),
            *(grid.volume[:, 0], grid.per_volume[:, 0], self.heat, swelling),
        )
        self.to_wall = self.heat
        if self.settling is None:
            return swelling
        found, place, run = self.settling, *self.settling.pick
        self.to_wall, self.water, self.vapour_heat = self.heat.copy(), np.empty(place.size), np.empty(place.size)
        _wet_all(
            *(place, run, found.wall, found.film, found.flux, found.liquid, self.content, self.specific_heat),
            *(self.temperature, self.foggy, self.film, self.wetted_area[:, 0], grid.volume[:, 0], step),
            *(self.heat, self.to_wall, swelling, self.water, self.vapour_heat),
        )
        return swelling

    def flows(self, own, step: float, swelling):
        """Volume flow [m3/s] through every face: what enters at the appliances, and what the cells make of it."""
        grid = self.grid
        gathered = np.cumsum((swelling + PUSHED * self.excess / step) * grid.volume, axis=0)
        begun = gathered[grid.first - 1]
        entering = grid.serves @ own + grid.above @ (gathered[grid.last] - begun) - begun
        return gathered[:-1] + entering[grid.section[:-1]]

    def move(self, flow, step: float, inlet) -> None:
        """Advance the gas by a ``step`` [s]; ``inlet`` (contents, appliances, runs) is what inflow holds."""
        grid, q = self.grid, self.content
        most = np.max(np.maximum(np.abs(flow[1:]), np.abs(flow[:-1])) * grid.per_volume[1:-1])
        parts = max(int(np.ceil(most * step / LARGEST_STEP)), 1)
        part = step / parts
        self.given += self.to_wall * step * self.per_length
        per_volume = part * grid.per_volume
        cooled = self.heat * per_volume
        taken = None if self.settling is None else self._drain(step) / parts
        if taken is None:
            pick, taken = (np.empty(0, int), np.empty(0, int)), np.empty((CONTENTS, 0))
        else:
            pick = self.settling.pick
        _transport(
            *(q, flow, parts, part, grid.per_volume[:, 0], grid.real, cooled, pick[0], pick[1], taken),
            *(np.ascontiguousarray(inlet), self.outdoor, grid.first, grid.last, grid.fed, grid.roots, grid.children),
            *(grid.inward, grid.parents, grid.alone, self.entered, self.left),
        )
        self._temper()

    def _drain(self, step: float):
        """Water onto the walls over a ``step`` [s]; what one volume of gas there loses by it (contents, cells)."""
        place, run = pick = self.settling.pick
        water, surface = self.water * step, self.wetted_area[place, 0]
        self.film[pick] = np.clip(self.film[pick] + water / surface, 0.0, wetted_wall.MOST_FILM)
        for row, values in enumerate((water, water * self.settling.liquid)):
            self.settled[row] += np.bincount(run, values, self.settled.shape[1])
        taken = np.empty((CONTENTS, water.size))
        taken[MASS], taken[HEAT] = 1.0, self.vapour_heat
        taken[GAS][:FLUE] = STEAM[:, None]
        taken[CONTENT_FLUE] = self.gas[FLUE][pick]
        return taken * water / self.grid.volume[place, 0]

    def _temper(self) -> None:
        """Temperatures that go with mass and heat, and by what share every cell is overfull at them."""
        before, shape = self.temperature, self.temperature.shape
        self.temperature, self.excess, self.specific_heat = (np.empty(shape) for _ in range(3))
        self.gas, self.foggy = np.empty((CONTENTS - 2, *shape)), np.empty(shape, bool)
        _temper_all(
            *(self.content, before, self.grid.pressure[:, 0], self.grid.network.pressure),
            *(self.gas, self.temperature, self.foggy, self.excess, self.specific_heat),
        )

    def _latent_slope(self) -> None:
        """Specific heat [J/(kg K)], with the latent heat of the water that turns to fog."""
        self.specific_heat = _with_fog(self.gas, self.temperature, self.grid.network.pressure)

    def warm_walls(self) -> None:
        """Advance the walls by one interval, with the heat given to them since the last."""
        before = self.ring
        after = np.matmul(self.walls.step, before.transpose(1, 0, 2))
        self.ring = after.transpose(1, 0, 2) + self.walls.warmed.T[..., None] * self.given
        stored = (self.walls.capacity[..., None] * (self.ring - before)).sum(axis=0)
        self.lost += (self.grid.length * (self.given - stored)).sum(axis=0)
        self.given = np.zeros_like(self.given)

    @property
    def held(self):
        """What the gas holds in all (contents, runs): mass [kg], heat [J] and so on."""
        return (self.content * self.grid.volume).sum(axis=1)

    @property
    def stored(self):
        """Heat [J] in the walls above their surroundings' temperature (runs), with what they are about to take up."""
        ring = (self.walls.capacity[..., None] * self.ring).sum(axis=0)
        return (self.grid.length * (ring + self.given)).sum(axis=0)


@law
def _with_fog(gas, temperature, pressure):
    """Specific heat [J/(kg K)], with the latent heat of the water that turns to fog."""
    held = streams.water_held(gas, temperature, pressure)
    slope = LATENT * streams.water_held_slope(temperature, pressure, held)
    return streams.specific_heat(gas, temperature) + either(gas[WATER] > held, slope, 0.0)


@loop
def _films_all(bores, pressure, gas, temperature, wall, warm, size, found):
    """Friction factor, inside film and its convection in every place and run."""
    for i in range(size.shape[0]):
        a, b, c, d, e, f, g, h, j, k = bores[:, i]
        bore = Bore(a, b, c, d, e, f, g, h, j, k)
        for r in range(size.shape[1]):
            film = inside_film(bore, pressure, gas[:, i, r], temperature[i, r], wall[i, r], warm[r], size[i, r])
            found[0, i, r], found[1, i, r], found[2, i, r] = film.darcy, film.inside, film.convection


@law
def _swelling(heat, per_volume, capacity, temperature):
    """By how much gas swells [1/s] that gives ``heat`` [W]; ``capacity`` [J/(m3 K)]."""
    return -heat * per_volume / (capacity * temperature)


@loop
def _cool_all(density, specific_heat, temperature, wall, conductance, step, volume, per_volume, heat, swelling):
    """Heat [W] that every cell gives to a dry wall, no more than takes it to the wall's temperature in a step."""
    for i in range(heat.shape[0]):
        for r in range(heat.shape[1]):
            capacity = density[i, r] * specific_heat[i, r]
            most = volume[i] * capacity / step  # W/K with which a cell would come to its wall's temperature
            heat[i, r] = np.minimum(conductance[i, r], most) * (temperature[i, r] - wall[i, r])
            swelling[i, r] = _swelling(heat[i, r], per_volume[i], capacity, temperature[i, r])


@loop
def _wet_all(
    place, run, wall, wet_film, flux, liquid, content, specific_heat, temperatures, foggy, film, area, volume, step,
    heat, to_wall, swelling, water, vapour_heat,
):  # fmt: skip
    """The same where water settles on the wall or dries from it: in the cells ``place`` and ``run``."""
    for k in range(place.size):
        i, r = place[k], run[k]
        temperature, density = temperatures[i, r], content[MASS, i, r]
        capacity = density * specific_heat[i, r]
        least = -film[i, r] * area[i] / step
        most = MOST_DRIED * np.maximum(content[CONTENT_WATER, i, r], 0.0) * volume[i] / step
        water[k] = np.minimum(np.maximum(area[i] * flux[k], least), most)
        heat[i, r] = np.minimum(area[i] * wet_film[k], volume[i] * capacity / step) * (temperature - wall[k])
        vapour_heat[k] = streams.sensible(STEAM, temperature)
        to_wall[i, r] = heat[i, r] + water[k] * (vapour_heat[k] - liquid[k])
        # Vapour that leaves takes its volume with it; from foggy gas fog makes up for it, which takes heat.
        clear = VAPOUR_CONSTANT / content[2 + GAS_R, i, r]
        taken = LATENT / (capacity * temperature) if foggy[i, r] else clear
        swelling[i, r] = _swelling(heat[i, r], 1.0 / volume[i], capacity, temperature) - water[k] / volume[i] * taken


@loop
def _temper_all(content, before, local, pressure, gases, temperature, foggy, excess, specific_heat):
    """`Column._temper` of every place and run; it begins at the temperatures ``before``."""
    for i in range(before.shape[0]):
        for r in range(before.shape[1]):
            density, gas = content[MASS, i, r], gases[:, i, r]
            for row in range(gas.size):
                gas[row] = content[2 + row, i, r] / density
            heat, found = content[HEAT, i, r] / density, before[i, r]
            for _ in range(2):  # the specific heat hardly changes with temperature
                found = found - (streams.sensible(gas, found) - heat) / streams.specific_heat(gas, found)
            constant = gas[GAS_R]
            wet = gas[WATER] > streams.water_held(gas, found, pressure)
            if wet:
                found = streams.foggy_temperature(gas, heat, before[i, r], pressure)
                constant = constant - VAPOUR_CONSTANT * streams.fog(gas, found, pressure)
            temperature[i, r], foggy[i, r] = found, wet
            excess[i, r] = density * constant * found / local[i] - 1.0
            specific_heat[i, r] = _with_fog(gas, found, pressure) if wet else streams.specific_heat(gas, found)


@law
def _limited(one, other):
    """Van Leer's limited slope between two differences."""
    both = one * other
    return 2.0 * both / (one + other) if both > 0.0 else 0.0


@law
def _courant(flow, per_volume, face):
    """Half of what is left of a cell when what passes a face in one step has gone."""
    return 0.5 * (1.0 - np.abs(flow[face]) * np.maximum(per_volume[face], per_volume[face + 1]))


@loop
def _transport(
    content, flows, parts, part, per_volume, real, cooled, place, run, taken, inlet, outdoor, first, last, fed, roots,
    children, inward, parents, alone, entered, left,
):  # fmt: skip
    """Advance what every volume holds by ``parts`` of a step, each ``part`` [s] long.

    ``cooled`` [J/m3] (places, runs) leaves the gas in each part, and ``taken`` (contents, cells) with the water that
    goes onto the walls, in the cells ``place`` and ``run``.
    """
    places = content.shape[1]
    passed = part * per_volume
    slope, face = np.zeros(places), np.empty(places - 1)
    leaving, out = np.zeros(first.size + 1), np.zeros(first.size + 1)  # the last: of no section
    for _ in range(parts):
        for c in range(content.shape[0]):
            for r in range(content.shape[2]):
                q, flow = content[c, :, r], flows[:, r]
                for i in range(1, places - 1):
                    if real[i]:
                        slope[i] = _limited(q[i] - q[i - 1], q[i + 1] - q[i])
                # What stands before both ends of every section: streams that meet mix by volume of what they hold.
                for s in range(first.size):
                    end = last[s]
                    out[s] = np.maximum(flow[end], 0.0)
                    leaving[s] = out[s] * (q[end] + _courant(flow, passed, end) * slope[end])
                for s in range(first.size):
                    straight, branch = children[:, s]
                    if straight == first.size:
                        continue
                    begin = first[s] - 1
                    back = np.maximum(-flow[begin], 0.0)
                    returning = back * (q[begin + 1] - _courant(flow, passed, begin) * slope[begin + 1])
                    volume = out[straight] + out[branch] + back
                    mixed = leaving[straight] + leaving[branch] + returning
                    q[begin] = mixed / volume if volume > 0.0 else q[begin + 1]
                for a in range(fed.size):
                    begin = first[fed[a]] - 1
                    q[begin] = inlet[c, a, r] if flow[begin] > 0.0 else q[begin + 1]
                # Where gas leaves, what stands beyond only bends the slope: what follows in a straight line may, all
                # else not.
                for k in range(inward.size):
                    end, following = last[inward[k]], first[parents[k]]
                    into = q[following] if alone[k] else q[end]
                    q[end + 1] = into if flow[end] > 0.0 else q[following - 1]
                for k in range(roots.size):
                    end = last[roots[k]]
                    q[end + 1] = q[end] if flow[end] > 0.0 else outdoor[c, r]
                for f in range(places - 1):
                    half = _courant(flow, passed, f)
                    side = q[f] + half * slope[f] if flow[f] > 0.0 else q[f + 1] - half * slope[f + 1]
                    face[f] = side * flow[f]
                for a in range(fed.size):
                    entered[c, a, r] += part * face[first[fed[a]] - 1]
                for k in range(roots.size):
                    left[c, k, r] += part * face[last[roots[k]]]
                for i in range(1, places - 1):
                    q[i] -= passed[i] * (face[i] - face[i - 1])
                    if c == HEAT:
                        q[i] -= cooled[i, r]
                for k in range(place.size):
                    if run[k] == r:
                        q[place[k]] -= taken[c, k]


def content(gas, temperature, heat, local, pressure):
    """What one volume holds (contents, ...) of gas at a ``temperature`` and an enthalpy ``heat`` [J/kg].

    ``local`` pressure [Pa absolute] of the place; ``pressure`` that at which water condenses.
    """
    constant = gas[GAS_R] - VAPOUR_CONSTANT * streams.fog(gas, temperature, pressure)
    density = local / (constant * temperature)
    return np.concatenate([density[None], (density * heat)[None], density * gas])
