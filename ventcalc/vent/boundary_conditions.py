"""Boundary conditions: what appliances, weather, rooms and devices put on a vent in a block of states."""

import numpy as np

from ventcalc.gas.streams import TRACE
from ventcalc.vent.dilution_air import entry_pressures, opening_flow
from ventcalc.vent.network import Network
from ventcalc.vent.states import States

_FEW = 64  # states; fewer are not searched for those that are alike


def _kinds(values):
    """Where each value comes first, and the number of each value among those found."""
    _, first, kind = np.unique(values, return_index=True, return_inverse=True)
    return first, kind


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
        self.alike = self._alike()

    def _alike(self) -> list:
        """For every section the first of each kind of state, and each state's kind; None where too many kinds.

        Where no flow is solved for, what passes a section hangs on the appliances before it and the season alone: most
        of the sections then see the same again and again. Walls with a past of their own are not looked through.
        """
        pipes, found = self.network.pipes, [None] * len(self.network.pipes)
        if self.free or len(self.states) < _FEW or self.states.cold.ndim > 1:
            return found
        of_weather = _kinds(_kinds(self.states.cold)[1] * len(self.network.outdoor) + self.states.season)[1]
        kinds = [None] * len(pipes)
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
                found[i] = (first, kinds[i]) if first.size < len(self.states) // 2 else None
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

    def of(self, value):
        """A number of a pipe or a junction: where it differs from season to season that of every state."""
        return value if self.case is None or np.ndim(value) == 0 else value[self.case]

    def form(self, row: int):
        """The coefficients of the junction at a section's upstream end; None where there is none."""
        found = self.network.pipes[row].form
        return found if found is None or self.case is None else type(found)(*(self.of(value) for value in found))

    def wind_at(self, row: int):
        """Pressure [Pa] that wind makes at a section's termination."""
        case, coefficients = self.states.wind_case, self.network.terminal_wind[row]
        if case is None:
            return self.wind_head * self.of(self.network.pipes[row].wind)
        return self.wind_head * (coefficients[case] if self.case is None else coefficients[case, self.case])

    def added_at(self, row: int):
        """What a device adds [Pa] at the downstream end of a section."""
        return 0.0 if self.added is None else self.added[row]

    def nothing_drawn(self) -> list:
        return [np.zeros(self.outdoor.size) for _ in self.prescribed]

    def first_guess(self, balance) -> list:
        """Half of what the pressures of a shut vent would draw through the way in and the first section alone."""
        guess = self.nothing_drawn()
        for i in self.free:
            pull = self.room_gauge[i] - balance.outlet_total[i] - self.network.threshold[i]
            guess[i] = 0.5 * np.sign(pull) * balance.greatest_flow(i, pull)
        return guess

    def opening_flow(self, i: int):
        """Leakage [kg/s] at which the regulator of appliance i begins to open."""
        return opening_flow(self.network.threshold[i], self.resistance[i])

    def stop_at_opening(self, i: int, drawn, change):
        """A step that would pass the point where a regulator opens ends just beyond it: the slope jumps there."""
        if self.network.threshold[i] == 0.0:
            return change
        opening = self.opening_flow(i)
        passes = (drawn - opening) * (drawn + change - opening) < 0.0
        return np.where(passes, opening + np.sign(change) * 1e-3 * opening - drawn, change)

    def entry(self, i: int, drawn, volume):
        """Pressure [Pa] to draw room air past appliance i, and its slope; the slope is inf where it is shut.

        Where gas comes out into the room instead, ``volume`` [m3/kg] is that of this gas, and it loses all its
        velocity head.
        """
        network, found = self.network, np.empty((2, len(drawn)))
        inputs = np.array([drawn, self.prescribed[i], self.resistance[i], volume])
        entry_pressures(inputs, network.exit_resistance[i], network.threshold[i], network.on_total[i], found)
        return found[0], found[1]
