"""Solution: flows, temperatures and pressures of a solved vent, a column a state."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ventcalc.gas import streams
from ventcalc.gas.streams import CO2, CO2_CONSTANT, GAS_R, VAPOUR_CONSTANT, WATER
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season
from ventcalc.vent.pressure_balance import TOLERANCE, PressureBalance
from ventcalc.vent.states import States


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


def empty(network: Network, total: int) -> dict[str, np.ndarray]:
    """Arrays of a solution of so many states, to be filled by `store`."""
    found = {name: np.empty((len(network.pipes), total)) for name in _OF_SECTIONS}
    found |= {name: np.empty((len(network.fed_by), total)) for name in _OF_APPLIANCES}
    return found | {name: np.empty(total) for name in _OF_STATES} | {"converged": np.empty(total, bool)}


def store(balance: PressureBalance, pick, picked, found: dict) -> None:
    """Write the states ``pick`` of a pass through the vent into their places ``picked`` among all."""
    network, boundary = balance.network, balance.boundary
    places = picked[pick]
    whole = pick.all()
    if whole and places.size and places[-1] - places[0] == places.size - 1:
        places = slice(places[0], places[-1] + 1)  # picked states are in order

    def put(name, row, values):
        found[name][row, places] = values if whole else values[pick]

    energy_in, energy_out = np.zeros(boundary.outdoor.size), np.zeros(boundary.outdoor.size)
    for i, pipe in enumerate(network.pipes):
        run, flow = balance.runs[i], balance.flow[i]
        gas = balance.gas[i]
        flux = flow / boundary.of(pipe.area)
        square = 0.5 * flux**2
        put("flow", i, flow)
        put("upstream", i, balance.upstream[i])
        put("downstream", i, balance.downstream[i])
        put("wall", i, run.wall)
        put("pressure_up", i, balance.pressure_up[i])
        put("pressure_down", i, balance.pressure_down[i])
        put("added", i, np.broadcast_to(boundary.added_at(i), flow.shape))
        left = np.where(flow < 0.0, 1.0, 1.0 - run.drained)  # at the downstream end, of what entered
        put("density", i, left * left / run.volume_out)
        put("velocity", i, flux * run.volume_mean / (1.0 - 0.5 * run.drained))
        put("head", i, square * run.volume_mean)
        put("head_up", i, square * run.volume_in)
        put("head_down", i, square * run.volume_out)
        put("draft", i, run.draft)
        put("loss", i, run.loss)
        put("heat", i, run.heat)
        put("condensed", i, (run.settled + run.fog) * np.abs(flow))
        put("drained", i, run.drained * np.abs(flow))
        put("frozen", i, run.frozen * np.abs(flow))
        put("vapor", i, gas[WATER] * VAPOUR_CONSTANT / gas[GAS_R])
        put("co2_dry", i, gas[CO2] * CO2_CONSTANT / (gas[GAS_R] - gas[WATER] * VAPOUR_CONSTANT))
        energy_out += run.heat + run.water_heat
        if pipe.parent < 0:
            through = np.where(flow < 0.0, gas, balance.leaving[i])
            energy_out += flow * left * streams.enthalpy(through, balance.downstream[i], network.pressure)
        if pipe.appliance >= 0:
            a = pipe.appliance
            outlet_head = 0.5 * (flow / network.outlet_area[a]) ** 2 * run.volume_in
            put("outlet_pressure", a, balance.pressure_up[i] - outlet_head - boundary.room_gauge[a])
            put("drawn", a, balance.drawn[a])
            put("room_gauge", a, boundary.room_gauge[a])
            came = boundary.prescribed[a] * streams.enthalpy(boundary.gas[a], boundary.temperature[a], network.pressure)
            room_air = np.maximum(balance.drawn[a], 0.0) * streams.enthalpy(
                boundary.room_air[a], boundary.room[a], network.pressure
            )
            entering = np.where(flow < 0.0, balance.leaving[i], gas)
            here = streams.enthalpy(entering, balance.upstream[i], network.pressure)
            back = flow * (1.0 - run.drained)
            # Where the vent itself blows into the room, what comes from the appliance never enters it.
            energy_in += np.where(flow < 0.0, back * here, came + room_air + np.minimum(balance.drawn[a], 0.0) * here)
    found["energy_in"][places], found["energy_out"][places] = energy_in[pick], energy_out[pick]
    residual = balance.residual
    found["residual"][places] = residual[pick]
    found["converged"][places] = residual[pick] <= TOLERANCE
