"""Gas column: what fills a vent at one instant, cell by cell, and how it cools, condenses and warms its walls.

A cell holds gas by volume (`gas_content`); it moves by `advection`. Pressure is that of the place; gas that cools
shrinks, gas that mixes or condenses may too, and the flow along the vent differs by that:

    dV/dx = -q' / (rho cp T)

with ``q'`` [W/m] given to the wall, and by the vapor that settles on it (`wetted_wall`). What that formula leaves out
(specific heats that differ, fog) shows as a cell that is over- or underfull after a step and is pushed out or drawn
in with those that follow. Walls are those of `column_walls`, without heat along them, advanced exactly between two
looks at the films. What the bulk cannot hold as vapor is fog in equilibrium, as in `common_vent`.

Plain SI arrays; the axes are rows, places (`column_grid`) and runs.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import either, law, loop
from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, LATENT, STEAM, VAPOUR_CONSTANT, WATER
from ventcalc.vent import wetted_wall
from ventcalc.vent.advection import Ends, transport
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.column_walls import Walls
from ventcalc.vent.cooling import inside_film
from ventcalc.vent.gas_content import CONTENT_FLUE, CONTENT_WATER, CONTENTS, FLUE, GAS, HEAT, MASS, content
from ventcalc.vent.network import Bore

# Of a cell, that gas may pass in one step of the transport, and share of a cell's overfill that is pushed out in one
# step. An overfull cell is also denser, and what it sends on overfills the next: that dies out while the share is
# no more than 2 (1 - largest step).
LARGEST_STEP, PUSHED = 0.8, 0.3

MOST_DRIED = 0.5  # of a cell's water that its wall may take in one step


class Beginning(NamedTuple):
    """``temperature`` [K] and ``gas`` of all places to begin with; walls ``warm`` 0 to 1 of their way to rest."""

    temperature: np.ndarray
    gas: np.ndarray
    warm: np.ndarray


class Column:
    """Gas and walls of all runs, and what has come and gone since the start.

    ``content`` (contents, places, runs) per m3; ``temperature`` [K] and ``gas`` (rows) of the places; ``ring`` (rings,
    places, runs) [K above the surroundings]; ``around`` (places, runs) [K]. ``entered`` (contents, appliances, runs)
    and ``left`` (contents, roots, runs): mass [kg], heat [J] and so on; ``lost`` (runs) [J] to the surroundings;
    ``film`` [kg/m2] of water on every wall; ``settled`` (2, runs): water [kg] that has left the gas for the walls, less
    what has dried again, and its enthalpy [J] where it did.
    """

    def __init__(self, grid: Grid, walls: Walls, around, outdoor, begun: Beginning, flow, adiabatic: bool):
        """Walls ``begun.warm`` 0 to 1 of their way to rest with the gas.

        ``outdoor``: content of outdoor air (contents, runs). ``flow`` (faces, runs) [m3/s].
        """
        self.grid, self.walls, self.around, self.outdoor, self.adiabatic = grid, walls, around, outdoor, adiabatic
        temperature, gas, warm = begun
        self.temperature, self.gas = temperature.copy(), gas
        heat = streams.enthalpy(gas, temperature, grid.network.pressure)
        self.content = content(gas, temperature, heat, grid.pressure, grid.network.pressure)
        runs = temperature.shape[1]
        self.ends = Ends(*(getattr(grid, name) for name in Ends._fields))
        self.per_length = 1.0 / np.where(grid.length > 0.0, grid.length, 1.0)
        self.wetted_area = grid.length * np.pi * grid.pipe.diameter
        self.wettable = np.broadcast_to(grid.length > 0.0, temperature.shape)
        self.entered = np.zeros((CONTENTS, grid.fed.size, runs))
        self.left = np.zeros((CONTENTS, grid.roots.size, runs))
        self.lost = np.zeros(runs)
        self.given = np.zeros_like(temperature)  # J a meter since the walls were last advanced
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
        self.to_wall, self.water, self.vapor_heat = self.heat.copy(), np.empty(place.size), np.empty(place.size)
        _wet_all(
            *(place, run, found.wall, found.film, found.flux, found.liquid, self.content, self.specific_heat),
            *(self.temperature, self.foggy, self.film, self.wetted_area[:, 0], grid.volume[:, 0], step),
            *(self.heat, self.to_wall, swelling, self.water, self.vapor_heat),
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
        transport(
            *(q, flow, parts, part, grid.per_volume[:, 0], grid.real, self.ends),
            *(np.ascontiguousarray(inlet), self.outdoor, cooled, pick[0], pick[1], taken, self.entered, self.left),
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
        taken[MASS], taken[HEAT] = 1.0, self.vapor_heat
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
        a, b, c, d, e, f, g, h, j, k, m, n = bores[:, i]
        bore = Bore(a, b, c, d, e, f, g, h, j, k, m, n)
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
    heat, to_wall, swelling, water, vapor_heat,
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
        vapor_heat[k] = streams.sensible(STEAM, temperature)
        to_wall[i, r] = heat[i, r] + water[k] * (vapor_heat[k] - liquid[k])
        # Vapor that leaves takes its volume with it; from foggy gas fog makes up for it, which takes heat.
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
