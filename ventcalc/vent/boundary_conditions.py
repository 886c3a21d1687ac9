"""Boundary conditions: what appliances, weather, rooms and devices put on a vent in a block of states."""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from ventcalc.gas.streams import TRACE
from ventcalc.vent.network import Network
from ventcalc.vent.states import States

_FEW = 64  # states; fewer are not searched for those that are alike


def _kinds(values):
    """Where each value comes first, and the number of each value among those found."""
    _, first, kind = np.unique(values, return_index=True, return_inverse=True)
    return first, kind


NOT_LIKE = np.zeros((0, 0), int)  # nobody has looked


class Given(NamedTuple):
    """A `Boundary` for the compiled loops; the last axis is the states.

    ``case`` of each (`network.Tree`); outdoor temperature [K], density [kg/m3] and ``air``; temperature of the
    ``places``; how ``warm`` every section's wall is; pressure [Pa] of the ``wind`` at every termination and what is
    ``added`` at every section's end; for every way in temperature, air and pressure of its room, and what the appliance
    sends: flow [kg/s], temperature, gas, and the resistance of the way. ``like``: the first state in which what passes
    a section is the same (sections, states), empty where nobody has looked.
    """

    case: np.ndarray
    outdoor: np.ndarray
    outdoor_density: np.ndarray
    air: np.ndarray
    places: np.ndarray
    warm: np.ndarray
    wind: np.ndarray
    added: np.ndarray
    room: np.ndarray
    room_air: np.ndarray
    room_gauge: np.ndarray
    prescribed: np.ndarray
    temperature: np.ndarray
    gas: np.ndarray
    resistance: np.ndarray
    like: np.ndarray


class Boundary:
    """What appliances and weather put on a block of states; lists hold one array an appliance."""

    def __init__(self, network: Network, states: States, added: np.ndarray | None = None):
        season = states.season
        self.network, self.states, self.added = network, states, added
        self.case = season if network.varied else None
        self.outdoor, self.places = network.outdoor[season], network.place_temperature[:, season]
        self.room = [self.places[r] for r in network.rooms]
        self.outdoor_density = network.outdoor_density[season]
        self.wind_head = states.windy * network.wind_head[season]
        self.air = network.outdoor_gas[:, season]
        indoors = {r: network.place_gas[:, r, season] for r in set(network.rooms)}
        self.room_air = [indoors[r] for r in network.rooms]
        warm = 1.0 - states.cold  # of every section
        self.warm = np.broadcast_to(warm, (len(network.pipes), len(states)))
        outlets = zip(network.outlet_height, network.rooms, strict=True)
        self.room_gauge = [network.room_at(height, states, room) for height, room in outlets]
        self.prescribed, self.temperature, self.gas, self.resistance = [], [], [], []
        for i, codes in enumerate(states.codes):
            flat = season * network.prescribed[i].shape[1] + codes.astype(int)
            self.prescribed.append(network.prescribed[i].ravel()[flat])
            self.temperature.append(network.temperature[i].ravel()[flat])
            self.gas.append(network.gas[i].reshape(len(network.gas[i]), -1)[:, flat])
            self.resistance.append(network.resistance[i].ravel()[flat])
            between = codes % 1.0
            if between.any():
                self._modulate(i, flat + (between > 0.0), between)
        self.free = [i for i, r in enumerate(self.resistance) if np.isfinite(r).any()]

    @cached_property
    def given(self) -> Given:
        """All of it as tables."""
        pipes, total = self.network.pipes, self.outdoor.size
        wind = [self.wind_at(i) if p.parent < 0 else np.zeros(total) for i, p in enumerate(pipes)]
        given = Given(
            case=np.zeros(total, int) if self.case is None else self.case,
            outdoor=self.outdoor,
            outdoor_density=self.outdoor_density,
            air=self.air,
            places=self.places,
            warm=self.warm,
            wind=np.array(wind),
            added=np.zeros((len(pipes), total)) if self.added is None else self.added,
            room=np.array(self.room),
            room_air=np.array(self.room_air),
            room_gauge=np.array(self.room_gauge),
            prescribed=np.array(self.prescribed),
            temperature=np.array(self.temperature),
            gas=np.array(self.gas),
            resistance=np.array(self.resistance),
            like=self._like(),
        )
        return Given(*map(np.ascontiguousarray, given))

    def _like(self) -> np.ndarray:
        """Of every section the first state in which the same passes it (sections, states).

        Where no flow is solved for, what passes a section hangs on the appliances before it and the season alone: most
        of the sections then see the same again and again. Walls with a past of their own are not looked through.
        """
        pipes, count = self.network.pipes, len(self.states)
        if self.free or count < _FEW or self.states.cold.ndim > 1:
            return NOT_LIKE
        of_weather = _kinds(_kinds(self.states.cold)[1] * len(self.network.outdoor) + self.states.season)[1]
        kinds, found = [None] * len(pipes), np.empty((len(pipes), count), int)
        for i, pipe in enumerate(pipes):
            if pipe.appliance >= 0:
                before = of_weather, _kinds(self.states.codes[pipe.appliance])[1]
            else:
                before = [kinds[c] for c in pipe.children]
            kind = before[0]
            for other in before[1:]:
                kind = kind * (int(other.max()) + 1) + other
            if len(before) == 1:
                kinds[i], found[i] = kind, found[pipe.children[0]]
            else:
                first, kinds[i] = _kinds(kind)
                found[i] = first[kinds[i]]
        return found

    def _modulate(self, i: int, following, between) -> None:
        """Move appliance i ``between`` 0 and 1 of the way to the ``following`` code; what it sends mixes by mass."""
        network, own = self.network, self.prescribed[i]
        share = between * network.prescribed[i].ravel()[following]
        self.prescribed[i] = (1.0 - between) * own + share
        share = np.where(self.prescribed[i] > 0.0, share / np.maximum(self.prescribed[i], TRACE), between)
        gas = network.gas[i].reshape(len(network.gas[i]), -1)[:, following]
        self.temperature[i] = (1.0 - share) * self.temperature[i] + share * network.temperature[i].ravel()[following]
        self.gas[i] = (1.0 - share) * self.gas[i] + share * gas
        # The way in is that of the code it moves to: an appliance that starts no longer leaks as an idle one.
        self.resistance[i] = network.resistance[i].ravel()[following]

    def only(self, keep) -> "Boundary":
        return Boundary(self.network, self.states[keep], None if self.added is None else self.added[:, keep])

    def wind_at(self, row: int):
        """Pressure [Pa] that wind makes at a section's termination."""
        case, coefficients = self.states.wind_case, self.network.terminal_wind[row]
        if case is None:
            own = np.asarray(self.network.pipes[row].wind)
            return self.wind_head * (own if self.case is None or own.ndim == 0 else own[self.case])
        return self.wind_head * (coefficients[case] if self.case is None else coefficients[case, self.case])

    def nothing_drawn(self) -> np.ndarray:
        """No room air at any way in (appliances, states)."""
        return np.zeros((len(self.prescribed), self.outdoor.size))
