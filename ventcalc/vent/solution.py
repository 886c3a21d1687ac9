"""Solution: flows, temperatures and pressures of a solved vent, a column a state."""

from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop, part
from ventcalc.gas import streams
from ventcalc.gas.streams import CO2, CO2_CONSTANT, GAS_R, VAPOUR_CONSTANT, WATER
from ventcalc.vent.cooling import (
    DRAINED,
    FOG,
    FROZEN,
    HEAT,
    LOSS,
    SETTLED,
    VOLUME_IN,
    VOLUME_MEAN,
    VOLUME_OUT,
    WALL,
    WATER_HEAT,
)
from ventcalc.vent.heat_balance import of_state
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import AREA, OUTLET_AREA, Network, Season
from ventcalc.vent.pressure_balance import TOLERANCE, PressureBalance, worst_mismatch
from ventcalc.vent.states import States

# Water [kg/s] that makes a wall wet, and ice icy: a drop of 0.05 g in an hour of firing (twenty to the milliliter;
# common practice, no source). Less runs nowhere and is not seen; a wall 0.01 K below the dew point takes more.
DROP_AN_HOUR = 0.05e-3 / 3600.0


@dataclass(frozen=True)
class Solution:
    """The solved states, plain SI arrays; sections in the order of ``plant.order``, the last axis is the states.

    Sections: ``flow`` [kg/s] where gas enters (what drains is gone at the other end), gas temperature
    ``upstream`` and ``downstream`` and the coldest of the inner ``wall`` [K], total pressure against outdoors
    at both ends ``pressure_up``, ``pressure_down`` [Pa], the latter behind a fan or damper and what that
    ``added`` [Pa], ``density`` there [kg/m3], mean ``velocity`` [m/s] and its ``head`` [Pa], those at the ends
    ``head_up`` and ``head_down``, ``draft`` made and ``loss`` taken [Pa], ``heat`` lost through the wall [W],
    ``condensed`` water [kg/s]: all that settles on the wall, and the fog at the end where gas leaves;
    ``drained`` of it [kg/s], which leaves the stream here: what settles less what dries again on its way down;
    ``frozen`` [kg/s], what settles as ice where the wall is below 0 degC; ``vapor`` mole fraction of all water
    at the inlet, ``co2_dry`` that of carbon dioxide in the dry gas.
    Appliances: ``outlet_pressure`` static, gauge against the room at the outlet's height [Pa] (past a hood or
    regulator, with the air it draws), ``drawn`` room air [kg/s] (negative: flue gas goes into the room),
    ``room_gauge`` the room there against outdoors [Pa].
    States: ``converged``, ``residual`` [Pa], ``energy_in`` and ``energy_out`` [W] of all streams,
    water that drains and walls.
    """

    plant: Plant
    seasons: tuple[Season, ...]
    states: States
    barometric: float
    flow: np.ndarray
    upstream: np.ndarray
    downstream: np.ndarray
    wall: np.ndarray
    pressure_up: np.ndarray
    pressure_down: np.ndarray
    added: np.ndarray
    density: np.ndarray
    velocity: np.ndarray
    head: np.ndarray
    head_up: np.ndarray
    head_down: np.ndarray
    draft: np.ndarray
    loss: np.ndarray
    heat: np.ndarray
    condensed: np.ndarray
    drained: np.ndarray
    frozen: np.ndarray
    vapor: np.ndarray
    co2_dry: np.ndarray
    outlet_pressure: np.ndarray
    drawn: np.ndarray
    room_gauge: np.ndarray
    energy_in: np.ndarray
    energy_out: np.ndarray
    converged: np.ndarray
    residual: np.ndarray

    def row(self, section: str) -> int:
        """Row of a section in the arrays."""
        return self.plant.row(section)

    @property
    def outlets(self) -> np.ndarray:
        """Temperature [K] where gas leaves every section (sections, states)."""
        return np.where(self.flow < 0.0, self.upstream, self.downstream)

    @property
    def wet(self) -> np.ndarray:
        """Where water settles on a section's wall, by a `DROP_AN_HOUR` at least (sections, states)."""
        return self.condensed >= DROP_AN_HOUR

    @property
    def icy(self) -> np.ndarray:
        """Where so much settles as ice (sections, states)."""
        return self.frozen >= DROP_AN_HOUR

    def columns(self, pick) -> "Solution":
        """Some of the states: ``pick`` as an index into the last axis (a slice, indices or a mask)."""
        taken = {name: getattr(self, name)[..., pick] for name in _ARRAYS}
        return replace(self, states=self.states[pick], **taken)

    def overwrite(self, places, columns: "Solution") -> None:
        """Write other columns at some places, here and now: for whoever holds it alone."""
        for name in _ARRAYS:
            getattr(self, name)[..., places] = getattr(columns, name)

    def put(self, places, columns: "Solution") -> "Solution":
        """With other columns at some places; itself where there are none."""
        if not columns.converged.size:
            return self
        found = {name: getattr(self, name).copy() for name in _ARRAYS}
        for name, values in found.items():
            values[..., places] = getattr(columns, name)
        return replace(self, **found)


_OF_SECTIONS = (
    *("flow", "upstream", "downstream", "wall", "pressure_up", "pressure_down", "added", "density", "velocity"),
    *("head", "head_up", "head_down", "draft", "loss", "heat", "condensed", "drained", "frozen", "vapor", "co2_dry"),
)
_OF_APPLIANCES = ("outlet_pressure", "drawn", "room_gauge")
_OF_STATES = ("energy_in", "energy_out", "residual")
_ARRAYS = (*_OF_SECTIONS, *_OF_APPLIANCES, *_OF_STATES, "converged")


def joined(parts: list[Solution]) -> Solution:
    """Solutions one behind the other."""
    found = {name: np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _ARRAYS}
    states = [p.states for p in parts]
    names = [f.name for f in fields(States) if getattr(states[0], f.name) is not None]
    both = {name: np.concatenate([getattr(s, name) for s in states], axis=-1) for name in names}
    return replace(parts[0], states=States(**both), **found)


class Table(NamedTuple):
    """Arrays of a solution, to be filled: (rows, sections, states), (rows, appliances, states), (rows, states)."""

    sections: np.ndarray
    appliances: np.ndarray
    states: np.ndarray
    converged: np.ndarray

    @property
    def named(self) -> dict[str, np.ndarray]:
        """Its arrays by their names in a `Solution`."""
        rows = ((_OF_SECTIONS, self.sections), (_OF_APPLIANCES, self.appliances), (_OF_STATES, self.states))
        return {name: row for names, table in rows for name, row in zip(names, table, strict=True)} | {
            "converged": self.converged
        }


def empty(network: Network, total: int) -> Table:
    """Room for a solution of so many states."""
    return Table(
        np.empty((len(_OF_SECTIONS), len(network.pipes), total)),
        np.empty((len(_OF_APPLIANCES), len(network.fed_by), total)),
        np.empty((len(_OF_STATES), total)),
        np.empty(total, bool),
    )


def store(balance: PressureBalance, pick: np.ndarray, places: np.ndarray, found: Table) -> None:
    """Write the states ``pick`` (a mask) of passes through the vent into their ``places`` among all."""
    picked = np.flatnonzero(pick)
    drawn = balance.drawn.T.copy()
    _store_all(balance.network.tree, balance.boundary.given, drawn, balance.at, picked, places[picked], found)


@loop
def _store_all(tree, given, drawn, whole, picked, places, found):
    for n in range(picked.size):
        k = picked[n]
        store_state(tree, given, k, drawn[k], of_state(whole, k), places[n], found)


@law
def store_state(tree, given, k, drawn, at, place, found):
    """Write a pass through the vent in the state ``k`` into its place."""
    energy_in = energy_out = 0.0
    for i in range(at.flow.size):
        area = tree.numbers[given.case[k], i, AREA]
        _store_section(area, given.added[i, k], at, i, place, found.sections)
        run, flow = at.run, at.flow[i]
        energy_out += run[i, HEAT] + run[i, WATER_HEAT]
        if tree.parent[i] < 0:
            through = at.gas[i] if flow < 0.0 else at.leaving[i]
            energy_out += flow * _left(at, i) * streams.enthalpy(through, at.downstream[i], tree.pressure)
        if tree.appliance[i] >= 0:
            a = tree.appliance[i]
            head = 0.5 * (flow / tree.ways[OUTLET_AREA, a]) ** 2 * run[i, VOLUME_IN]
            found.appliances[0, a, place] = at.pressure_up[i] - head - given.room_gauge[a, k]
            found.appliances[1, a, place], found.appliances[2, a, place] = drawn[a], given.room_gauge[a, k]
            energy_in += _entering(tree, given, k, i, a, drawn[a], at)
    residual = worst_mismatch(at)
    found.states[0, place], found.states[1, place], found.states[2, place] = energy_in, energy_out, residual
    found.converged[place] = residual <= TOLERANCE


@part
def _left(at, i):
    """Share of what enters a section that comes to its downstream end."""
    return 1.0 if at.flow[i] < 0.0 else 1.0 - at.run[i, DRAINED]


@part
def _store_section(area, added, at, i, place, found):
    """The rows of a section, in the order of `_OF_SECTIONS`."""
    run, gas, flow, left = at.run, at.gas, at.flow[i], _left(at, i)
    flux = flow / area
    square, size = 0.5 * flux * flux, np.abs(flow)
    found[0, i, place], found[1, i, place], found[2, i, place], found[3, i, place] = (
        flow,
        at.upstream[i],
        at.downstream[i],
        run[i, WALL],
    )
    found[4, i, place], found[5, i, place], found[6, i, place] = at.pressure_up[i], at.pressure_down[i], added
    found[7, i, place], found[8, i, place] = (
        left * left / run[i, VOLUME_OUT],
        flux * run[i, VOLUME_MEAN] / (1.0 - 0.5 * run[i, DRAINED]),
    )
    found[9, i, place], found[10, i, place], found[11, i, place] = (
        square * run[i, VOLUME_MEAN],
        square * run[i, VOLUME_IN],
        square * run[i, VOLUME_OUT],
    )
    found[12, i, place], found[13, i, place], found[14, i, place] = at.draft[i], run[i, LOSS], run[i, HEAT]
    found[15, i, place], found[16, i, place], found[17, i, place] = (
        (run[i, SETTLED] + run[i, FOG]) * size,
        run[i, DRAINED] * size,
        run[i, FROZEN] * size,
    )
    found[18, i, place] = gas[i, WATER] * VAPOUR_CONSTANT / gas[i, GAS_R]
    found[19, i, place] = gas[i, CO2] * CO2_CONSTANT / (gas[i, GAS_R] - gas[i, WATER] * VAPOUR_CONSTANT)


@part
def _entering(tree, given, k, i, a, drawn, at):
    """Energy [W] that comes into the vent at an appliance, with what it sends and what it draws."""
    flow, gas = at.flow[i], at.gas[i]
    here = streams.enthalpy(at.leaving[i] if flow < 0.0 else gas, at.upstream[i], tree.pressure)
    if flow < 0.0:  # where the vent itself blows into the room, what comes from the appliance never enters it
        return flow * (1.0 - at.run[i, DRAINED]) * here
    came = streams.enthalpy(given.gas[a, :, k], given.temperature[a, k], tree.pressure)
    air = streams.enthalpy(given.room_air[a, :, k], given.room[a, k], tree.pressure)
    return given.prescribed[a, k] * came + np.maximum(drawn, 0.0) * air + np.minimum(drawn, 0.0) * here
