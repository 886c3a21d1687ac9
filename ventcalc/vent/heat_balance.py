"""Heat balance: flow, temperature and gas in every section of a vent, for given flows through its ways in.

From the leaves to the root: streams mix by enthalpy where they meet, and cool along every section (`cooling`). Where a
section runs backward, from the root towards the leaves. Plain SI arrays with one column a state.
"""

import numpy as np

from ventcalc.gas import streams
from ventcalc.gas.streams import TRACE
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.cooling import cool
from ventcalc.vent.network import Network, Pipe


class HeatBalance:
    """Flows and temperatures of one pass through the tree; lists hold one array a section, in the network's order.

    ``drawn`` [kg/s]: what every way in draws from its room. ``guess`` [K]: where gas leaves every section, about.
    """

    def __init__(self, network: Network, boundary: Boundary, drawn: list, guess: list | None = None):
        self.network, self.boundary, self.drawn = network, boundary, drawn
        n = len(network.pipes)
        self.flow, self.gas, self.runs = [None] * n, [None] * n, [None] * n
        self.upstream, self.downstream, self.leaving = [None] * n, [None] * n, [None] * n
        for i in range(n):
            self._flow_on(i)
            self._warm_up(i, guess[i] if guess else None)
        self._turn_back(guess)

    def _flow_on(self, i: int) -> None:
        """Flow that enters section i: what leaves the sections before it, less the water that drains from them."""
        pipe = self.network.pipes[i]
        if pipe.appliance >= 0:
            self.flow[i] = self.boundary.prescribed[pipe.appliance] + self.drawn[pipe.appliance]
        else:
            self.flow[i] = sum(self._flow_after(c) for c in pipe.children)

    def _flow_after(self, i: int):
        """Flow at a section's downstream end; where it runs backward that is the end where gas enters."""
        return self.flow[i] - np.maximum(self.flow[i], 0.0) * self.runs[i].drained

    def _surroundings(self, pipe: Pipe):
        return self.boundary.outdoor if pipe.outdoors else self.boundary.places[pipe.around]

    def _inlet(self, pipe: Pipe):
        """Temperature and gas where a section begins, from what flows towards it."""
        if pipe.appliance >= 0:
            i = pipe.appliance
            own, temperature = self.boundary.gas[i], self.boundary.temperature[i]
            if i not in self.boundary.free:
                return temperature, own
            room_air = np.maximum(self.drawn[i], 0.0), self.boundary.room[i], self.boundary.room_air[i]
            return streams.mix(((self.boundary.prescribed[i], temperature, own), room_air), self.network.pressure)
        if len(pipe.children) == 1:
            only = pipe.children[0]
            return self.downstream[only], self.leaving[only]
        legs = [(np.maximum(self._flow_after(c), 0.0), self.downstream[c], self.leaving[c]) for c in pipe.children]
        return streams.mix(legs, self.network.pressure)

    def _case(self, pick):
        """The case of picked states, where cases differ."""
        return None if self.boundary.case is None else self.boundary.case[pick]

    def _warm_up(self, i: int, guess) -> None:
        pipe = self.network.pipes[i]
        temperature, gas = self._inlet(pipe)
        around, pressure, warm = self._surroundings(pipe), self.network.pressure, self.boundary.warm[i]
        if self.boundary.alike[i]:
            first, kind = self.boundary.alike[i]
            given = self.flow[i][first], temperature[first], gas[:, first], around[first], warm[first]
            guess = guess if guess is None else guess[first]
            run = cool(pipe, pressure, *given, guess, self._case(first)).of(kind)
        else:
            run = cool(pipe, pressure, self.flow[i], temperature, gas, around, warm, guess, self.boundary.case)
        self.upstream[i], self.gas[i], self.runs[i], self.downstream[i] = temperature, gas, run, run.outlet
        self.leaving[i] = streams.without_water(gas, run.drained) if run.drained.any() else gas

    def _turn_back(self, guess) -> None:
        """Where a section runs backward it takes its gas from its downstream end: from the root towards the leaves."""
        gone = [None] * len(self.network.pipes)  # kg/s, negative: what drained before a section
        for i in reversed(range(len(self.network.pipes))):
            back = self.flow[i] < 0.0
            if not back.any():
                continue
            pipe = self.network.pipes[i]
            pick = np.flatnonzero(back)
            temperature, gas = self._node_below(pipe, pick)
            around, warm = self._surroundings(pipe)[pick], self.boundary.warm[i, pick]
            run = cool(pipe, self.network.pressure, self.flow[i][pick], temperature, gas, around, warm,
                       guess and guess[i][pick], self._case(pick))  # fmt: skip
            self.gas[i], self.upstream[i], self.downstream[i] = (
                self.gas[i].copy(), self.upstream[i].copy(), self.downstream[i].copy())  # fmt: skip
            self.gas[i][:, pick] = gas
            self.downstream[i][pick], self.upstream[i][pick] = temperature, run.outlet
            self.runs[i].overwrite(pick, run)
            self.leaving[i] = self.leaving[i].copy()
            self.leaving[i][:, pick] = streams.without_water(gas, run.drained)
            if run.drained.any() or gone[i] is not None:
                before = 0.0 if gone[i] is None else gone[i][pick]
                self._pass_less(pipe, pick, before + self.flow[i][pick] * run.drained, gone)

    def _pass_less(self, pipe: Pipe, pick, drained, gone) -> None:
        """Take what drained [kg/s, negative] from the sections that a backward flow goes on into, each its share."""
        back = sum(np.minimum(self.flow[c][pick], 0.0) for c in pipe.children)
        for c in pipe.children:
            gone[c] = np.zeros_like(self.flow[c])
            gone[c][pick] = drained * np.minimum(self.flow[c][pick], 0.0) / np.minimum(back, -TRACE)
            self.flow[c] = self.flow[c] - gone[c]

    def _node_below(self, pipe: Pipe, pick):
        """Temperature and gas at a section's downstream end where it runs backward."""
        if pipe.parent < 0:
            return self.boundary.outdoor[pick], self.boundary.air[:, pick]
        parent = pipe.parent
        back = np.maximum(-self.flow[parent] * (1.0 - self.runs[parent].drained), 0.0)
        legs = [(back[pick], self.upstream[parent][pick], self.leaving[parent][:, pick])]
        for c in self.network.pipes[parent].children:
            if self.network.pipes[c] is not pipe:
                forward = np.maximum(self._flow_after(c)[pick], 0.0)
                legs.append((forward, self.downstream[c][pick], self.leaving[c][:, pick]))
        return legs[0][1:] if len(legs) == 1 else streams.mix(legs, self.network.pressure)
