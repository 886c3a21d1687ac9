"""Common vent: flows, temperatures and pressures of many appliances on one vent, for many states at once.

The vent is a tree (`layout`). Along every section, from its upstream to its downstream end,

    p_up - p_down = (f L/D + K) G|G| v / 2  +  G^2 (v_down - v_up) / 2  -  g rise (rho_outdoor - rho_gas)

with ``p`` total pressure against outdoor air at the same height, ``G`` mass flow per area and ``v`` the gas's
volume per mass at the pressure in the section: loss, acceleration of gas that cools, and draft. Gas cools
exponentially towards the section's surroundings. Where the wall lies below the dew point water settles on it and
drains at the section's lower end: what goes on carries less water (`condensing_run`); what the bulk cannot hold
stays in it as fog. Streams mix by enthalpy. At a junction each leg has its own coefficient (`junctions`). A burner
that forces its flow prescribes it; a hood, a regulator or a leaking idle appliance draws what the pressure makes it
draw, and these flows are solved for. A fan or a damper stands at the downstream end of its section and adds a given
pressure there (`held_pressure`).

Everything runs on plain SI arrays with one column a state. Because every subtree meets the rest through one
pressure, Newton's equations are eliminated from the leaves to the root: the work grows as the number
of sections, not as its cube.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.compiled import law, loop
from ventcalc.flow import junctions
from ventcalc.gas import streams
from ventcalc.gas.streams import CO2, CO2_CONSTANT, GAS_R, TRACE, VAPOUR_CONSTANT, WATER
from ventcalc.units import GRAVITY
from ventcalc.vent.cooling import STILL_FLOW, cool
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import REGULATOR_BAND, REGULATOR_LEAKAGE, Network, Pipe, Season, compile_network

_FEW = 64  # states; fewer are not searched for those that are alike
BLOCK = 4096  # states solved together: what keeps a section's arrays inside the processor's cache
MAX_SWEEPS = 120
PATIENCE = 20  # sweeps after which a state becomes patient
FRESH_START = 30  # sweeps after which it tries whole steps again
TOLERANCE = 1e-4  # Pa, at every outlet whose flow is solved for

_SMOOTH_PRESSURE = 1e-4  # Pa; below it the way in from the room is linear instead of quadratic
_ENTRY_LOSS = 0.5  # sharp entry (losses.csv L051), where outdoor air falls down the vent


@dataclass(frozen=True)
class States:
    """What to solve: for each state (last axis) what every appliance does, the season, the stack and the wind.

    ``codes`` (appliances, states): index into `Appliance.states`. ``season`` (states): index into the seasons.
    ``cold``: every wall still at the temperature of its surroundings, gas at rest. ``windy``: the
    season's wind blows.

    All but the season may lie between: code 1.4 is 40 % of the way from code 1 to code 2 (an appliance that
    modulates), cold 0.3 a wall that has warmed by 70 % of its way, windy 1.5 a gust of 1.5 times the wind's head.

    ``wind_case`` (states) is how that wind stands to building and terminal, an index of `wind.CASES`; None: on the cap
    alone in all of them.
    """

    codes: np.ndarray
    season: np.ndarray
    cold: np.ndarray
    windy: np.ndarray
    wind_case: np.ndarray | None = None

    def __len__(self) -> int:
        return self.season.size

    def __getitem__(self, pick) -> "States":
        case = None if self.wind_case is None else self.wind_case[pick]
        return States(self.codes[:, pick], self.season[pick], self.cold[pick], self.windy[pick], case)


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
    ``frozen`` [kg/s], what settles as ice where the wall is below 0 degC; ``vapour`` mole fraction of all water
    at the inlet, ``co2_dry`` that
    of carbon dioxide in the dry gas.
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
    vapour: np.ndarray
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


_OF_SECTIONS = (
    *("flow", "upstream", "downstream", "wall", "pressure_up", "pressure_down", "added", "density", "velocity"),
    *("head", "head_up", "head_down", "draft", "loss", "heat", "condensed", "drained", "frozen", "vapour", "co2_dry"),
)
_OF_APPLIANCES = ("outlet_pressure", "drawn", "room_gauge")
_OF_STATES = ("energy_in", "energy_out", "residual")


def solve(plant: Plant, seasons: tuple[Season, ...], states: States, added: np.ndarray | None = None) -> Solution:
    """Solve a plant in many states; states that do not converge are marked, never dropped.

    ``added`` (sections, states) [Pa] is what a fan (positive) or a damper (negative) adds to the total pressure in
    the direction from upstream to downstream, at the downstream end of each section; None where there is none.
    Raises ValueError where the codes do not fit the appliances, a season index has no season, or ``added`` has
    another shape.
    """
    return solve_network(compile_network(plant, tuple(seasons)), states, added)


def solve_network(
    network: Network, states: States, added: np.ndarray | None = None, drawn: np.ndarray | None = None
) -> Solution:
    """As `solve`, on a plant that is compiled already: for those who solve it again and again.

    ``drawn`` (appliances, states) [kg/s] is where to begin, such as what was found a small step ago.
    """
    plant = network.plant
    _check_states(network, states, added)
    total = len(states)
    found = {name: np.empty((len(plant.order), total)) for name in _OF_SECTIONS}
    found |= {name: np.empty((len(plant.appliances), total)) for name in _OF_APPLIANCES}
    found |= {name: np.empty(total) for name in _OF_STATES}
    found["converged"] = np.empty(total, bool)
    for start in range(0, total, BLOCK):
        picked = np.arange(start, min(start + BLOCK, total))
        _solve_block(network, states, added, drawn, picked, found)
    return Solution(plant, network.seasons, states, network.pressure, **found)


def given_flows(network: Network, states: States, prescribed, temperature, drawn) -> Solution:
    """One pass through the vent of a single appliance whose flows are all given: nothing is left to solve.

    One case a state. ``prescribed`` [kg/s] of flue gas at ``temperature`` [K] and ``drawn`` [kg/s] of room air
    enter; none may be negative. ``network.pipes`` may hold arrays, one value a case, where `Pipe` has numbers: many
    sizes of one vent are then looked at together. ``residual`` [Pa] is how far the way in from the room is from
    drawing just that much, as a size; ``converged`` where it draws it.
    """
    total, pipes = len(states), len(network.pipes)
    found = {name: np.empty((pipes, total)) for name in _OF_SECTIONS}
    found |= {name: np.empty((1, total)) for name in _OF_APPLIANCES}
    found |= {name: np.empty(total) for name in _OF_STATES} | {"converged": np.empty(total, bool)}
    prescribed, temperature, drawn = np.broadcast_arrays(prescribed, temperature, drawn, states.season)[:3]
    feed = _Feed(network, states)
    feed.prescribed, feed.temperature = [prescribed], [temperature]
    feed.alike = [None] * pipes  # sizes differ and so do flows: no two cases see the same
    _store(_Sweep(network, feed, [drawn]), np.ones(total, bool), np.arange(total), found)
    return Solution(network.plant, (), states, network.pressure, **found)


def _check_states(network: Network, states: States, added) -> None:
    plant, seasons = network.plant, network.seasons
    if states.codes.shape != (len(plant.appliances), len(states)):
        raise ValueError(f"codes have shape {states.codes.shape}, need {(len(plant.appliances), len(states))}")
    if added is not None and added.shape != (len(plant.order), len(states)):
        raise ValueError(f"added has shape {added.shape}, need {(len(plant.order), len(states))}")
    for a, codes in zip(plant.appliances, states.codes, strict=True):
        if codes.size and not (codes.min() >= 0 and codes.max() <= len(a.states) - 1):
            raise ValueError(f"codes of {a.name} must be 0 to {len(a.states) - 1}: {', '.join(a.states)}")
    if states.season.size and not (states.season.min() >= 0 and states.season.max() < len(seasons)):
        raise ValueError(f"season indices must be 0 to {len(seasons) - 1}")
    case, last = states.wind_case, network.room_wind.size - 1
    if case is not None and case.size and not (case.min() >= 0 and case.max() <= last):
        raise ValueError(f"wind cases must be 0 to {last}; a plant without exposure has only the first")


def _solve_block(network: Network, states: States, added, drawn, picked: np.ndarray, found: dict) -> None:
    """Solve the picked states and write them into ``found``: damped Newton on the flows drawn from the room.

    A state whose residual does not fall takes half its step again. One that is stuck so, or slow, becomes
    patient: it steps at the temperatures it has, as a vent does while its walls warm up, and follows that
    path to where it comes to rest. (Where a trickle of warm air more makes more draft than it costs, the
    residual grows before it falls.) Its steps grow shorter, so that it does not swing about the point of rest,
    and in the end it tries whole steps again from nearer by. States that have converged leave.
    """
    feed = _Feed(network, states[picked], None if added is None else added[:, picked])
    if not feed.free:
        _store(_Sweep(network, feed, feed.nothing_drawn()), np.ones(picked.size, bool), picked, found)
        return
    if drawn is not None:  # what a burner drew while it was idle finds no way in any more once it is lit
        drawn = [np.where(np.isfinite(r), d, 0.0) for r, d in zip(feed.resistance, drawn[:, picked], strict=True)]
    drawn = drawn or feed.first_guess(_Sweep(network, feed, feed.nothing_drawn()))
    before, step, guess = drawn, None, None
    best, scale = np.full(picked.size, np.inf), np.ones(picked.size)
    patient = np.zeros(picked.size, bool)
    for turn in range(MAX_SWEEPS):
        sweep = _Sweep(network, feed, drawn, guess)
        guess = [run.outlet for run in sweep.runs]
        error = sweep.residual
        done = error <= TOLERANCE
        if done.any():
            _store(sweep, done, picked, found)
            if done.all():
                return
        patient &= turn % FRESH_START > 0
        patient |= (scale < 0.1) | (turn % FRESH_START > PATIENCE)
        take = (error < best) | patient
        fresh = sweep.newton_step(np.where(patient, 0.0, 1.0))
        before = [np.where(take, d, b) for d, b in zip(drawn, before, strict=True)]
        step = [np.where(take, f, s) for f, s in zip(fresh, step or fresh, strict=True)]
        best = np.where(take, error, best)
        scale = np.where(patient, 1.0 / (1.0 + turn / PATIENCE), np.where(take, 1.0, 0.5 * scale))
        keep = ~done
        if done.any():
            picked, feed = picked[keep], feed.only(keep)
            before, step, guess = ([a[keep] for a in arrays] for arrays in (before, step, guess))
            best, scale, patient = best[keep], scale[keep], patient[keep]
        drawn = [b + scale * s for b, s in zip(before, step, strict=True)]
    _store(_Sweep(network, feed, before, guess), np.ones(picked.size, bool), picked, found)


def _kinds(values):
    """Where each value comes first, and the number of each value among those found."""
    _, first, kind = np.unique(values, return_index=True, return_inverse=True)
    return first, kind


class _Feed:
    """What appliances and weather put on a block of states; lists hold one array an appliance."""

    def __init__(self, network: Network, states: States, added: np.ndarray | None = None):
        season = states.season
        self.network, self.states, self.added = network, states, added
        self.outdoor, self.places = network.outdoor[season], network.place_temperature[:, season]
        self.room = [self.places[r] for r in network.rooms]
        self.outdoor_density = network.outdoor_density[season]
        self.wind_head = states.windy * network.wind_head[season]
        self.air = network.outdoor_gas[:, season]
        indoors = {r: network.place_gas[:, r, season] for r in set(network.rooms)}
        self.room_air = [indoors[r] for r in network.rooms]
        self.warm = 1.0 - states.cold
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
        of the sections then see the same again and again.
        """
        pipes, found = self.network.pipes, [None] * len(self.network.pipes)
        if self.free or len(self.states) < _FEW:
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

    def only(self, keep) -> "_Feed":
        return _Feed(self.network, self.states[keep], None if self.added is None else self.added[:, keep])

    def wind_at(self, row: int):
        """Pressure [Pa] that wind makes at a section's termination."""
        case = self.states.wind_case
        return self.wind_head * (
            self.network.pipes[row].wind if case is None else self.network.terminal_wind[row, case]
        )

    def added_at(self, row: int):
        """What a device adds [Pa] at the downstream end of a section."""
        return 0.0 if self.added is None else self.added[row]

    def nothing_drawn(self) -> list:
        return [np.zeros(self.outdoor.size) for _ in self.prescribed]

    def first_guess(self, sweep: "_Sweep") -> list:
        """Half of what the pressures of a shut vent would draw through the way in and the first section alone."""
        guess = self.nothing_drawn()
        for i in self.free:
            pull = self.room_gauge[i] - sweep.outlet_total[i] - self.network.threshold[i]
            guess[i] = 0.5 * np.sign(pull) * sweep.greatest_flow(i, pull)
        return guess

    def opening_flow(self, i: int):
        """Leakage [kg/s] at which the regulator of appliance i begins to open."""
        return _opening_flow(self.network.threshold[i], self.resistance[i])

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
        _entry_all(inputs, network.exit_resistance[i], network.threshold[i], network.on_total[i], found)
        return found[0], found[1]


@loop
def _entry_all(inputs, exit_resistance, threshold, on_total, found):
    for k in range(inputs.shape[1]):
        drawn, prescribed, resistance, volume = inputs[:, k]
        entry = _entry(drawn, prescribed, resistance, volume, exit_resistance, threshold, on_total)
        found[0, k], found[1, k] = entry


@law
def _entry(drawn, prescribed, resistance, volume, exit_resistance, threshold, on_total):
    """`_Feed.entry` in one state."""
    shut = not np.isfinite(resistance)
    if shut:
        resistance = 0.0
    flow = drawn + prescribed if on_total else drawn
    if np.isfinite(exit_resistance) and flow < 0.0:
        resistance = exit_resistance * volume
    offset = band = 0.0
    if threshold > 0.0:
        # Shut, a regulator leaks; once its draft is reached it opens further the more the draft exceeds it.
        at_opening = _opening_flow(threshold, resistance)
        if flow > at_opening:
            flow, offset, band = flow - at_opening, threshold, REGULATOR_BAND * np.sqrt(threshold * resistance)
        else:
            resistance = resistance / REGULATOR_LEAKAGE**2
    smooth = np.sqrt(flow * flow + _SMOOTH_PRESSURE / np.maximum(resistance, 1e-12))
    slope = resistance * (smooth + flow * flow / smooth) + band
    return offset + (resistance * smooth + band) * flow, np.inf if shut else slope


@law
def _opening_flow(threshold, resistance):
    """Leakage [kg/s] at which a regulator begins to open."""
    return np.sqrt(threshold / np.maximum(resistance, 1e-12)) * REGULATOR_LEAKAGE


class _Sweep:
    """One pass through the tree for given flows: temperatures from the leaves, pressures from the root.

    Lists hold one array a section, in the order of the network.
    """

    def __init__(self, network: Network, feed: _Feed, drawn: list, guess: list | None = None):
        self.network, self.feed, self.drawn = network, feed, drawn
        n = len(network.pipes)
        self.flow, self.gas, self.runs = [None] * n, [None] * n, [None] * n
        self.upstream, self.downstream, self.leaving = [None] * n, [None] * n, [None] * n
        for i in range(n):
            self._flow_on(i)
            self._warm_up(i, guess[i] if guess else None)
        self._turn_back(guess)
        self._pressures()

    def _flow_on(self, i: int) -> None:
        """Flow that enters section i: what leaves the sections before it, less the water that drains from them."""
        pipe = self.network.pipes[i]
        if pipe.appliance >= 0:
            self.flow[i] = self.feed.prescribed[pipe.appliance] + self.drawn[pipe.appliance]
        else:
            self.flow[i] = sum(self._flow_after(c) for c in pipe.children)

    def _flow_after(self, i: int):
        """Flow at a section's downstream end; where it runs backward that is the end where gas enters."""
        return self.flow[i] - np.maximum(self.flow[i], 0.0) * self.runs[i].drained

    def _surroundings(self, pipe: Pipe):
        return self.feed.outdoor if pipe.outdoors else self.feed.places[pipe.around]

    def _inlet(self, pipe: Pipe):
        """Temperature and gas where a section begins, from what flows towards it."""
        if pipe.appliance >= 0:
            i = pipe.appliance
            own, temperature = self.feed.gas[i], self.feed.temperature[i]
            if i not in self.feed.free:
                return temperature, own
            room_air = np.maximum(self.drawn[i], 0.0), self.feed.room[i], self.feed.room_air[i]
            return streams.mix(((self.feed.prescribed[i], temperature, own), room_air), self.network.pressure)
        if len(pipe.children) == 1:
            only = pipe.children[0]
            return self.downstream[only], self.leaving[only]
        legs = [(np.maximum(self._flow_after(c), 0.0), self.downstream[c], self.leaving[c]) for c in pipe.children]
        return streams.mix(legs, self.network.pressure)

    def _warm_up(self, i: int, guess) -> None:
        pipe = self.network.pipes[i]
        temperature, gas = self._inlet(pipe)
        around, pressure, warm = self._surroundings(pipe), self.network.pressure, self.feed.warm
        if self.feed.alike[i]:
            first, kind = self.feed.alike[i]
            given = self.flow[i][first], temperature[first], gas[:, first], around[first], warm[first]
            run = cool(pipe, pressure, *given, guess if guess is None else guess[first]).of(kind)
        else:
            run = cool(pipe, pressure, self.flow[i], temperature, gas, around, warm, guess)
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
            run = cool(pipe, self.network.pressure, self.flow[i][pick], temperature, gas,
                        self._surroundings(pipe)[pick], self.feed.warm[pick], guess and guess[i][pick])  # fmt: skip
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
            return self.feed.outdoor[pick], self.feed.air[:, pick]
        parent = pipe.parent
        back = np.maximum(-self.flow[parent] * (1.0 - self.runs[parent].drained), 0.0)
        legs = [(back[pick], self.upstream[parent][pick], self.leaving[parent][:, pick])]
        for c in self.network.pipes[parent].children:
            if self.network.pipes[c] is not pipe:
                forward = np.maximum(self._flow_after(c)[pick], 0.0)
                legs.append((forward, self.downstream[c][pick], self.leaving[c][:, pick]))
        return legs[0][1:] if len(legs) == 1 else streams.mix(legs, self.network.pressure)

    def _pressures(self) -> None:
        """Pressure at both ends of every section, from the terminations inward."""
        pipes, n = self.network.pipes, len(self.network.pipes)
        self.pressure_up, self.pressure_down, self.legs = [None] * n, [None] * n, [None] * n
        self.outlet_total = [None] * len(self.feed.prescribed)
        for i in reversed(range(n)):
            pipe, run = pipes[i], self.runs[i]
            if pipe.parent < 0:
                factor = np.where(self.flow[i] >= 0.0, 1.0 + pipe.end_loss, _ENTRY_LOSS + pipe.end_loss)
                volume = run.volume_out
                head = factor * self.flow[i] * np.abs(self.flow[i]) * volume / (2.0 * pipe.area**2)
                self.pressure_down[i] = self.feed.wind_at(i) + head
            ahead = self.pressure_down[i] - self.feed.added_at(i)
            run.press(self._gauge(i, ahead) / (self.network.pressure * pipe.thin_air))
            run.draft = self._draft(i)
            self.pressure_up[i] = ahead + run.loss + run.acceleration - run.draft
            self._into_legs(i)
            if pipe.appliance >= 0:
                self.outlet_total[pipe.appliance] = self.pressure_up[i]

    def _draft(self, i: int):
        """Draft [Pa] that a section makes by its rise."""
        pipe = self.network.pipes[i]
        return GRAVITY * pipe.rise * (self.feed.outdoor_density * pipe.thin_air - self.runs[i].density)

    def _gauge(self, i: int, ahead):
        """Mean static pressure [Pa] of a section, gauge, for its total pressure ``ahead`` of it: it presses the gas."""
        run, pipe = self.runs[i], self.network.pipes[i]
        head = 0.5 * (self.flow[i] / pipe.area) ** 2 * run.volume_mean
        return ahead - head + 0.5 * (run.loss + run.acceleration - self._draft(i))

    def _into_legs(self, i: int) -> None:
        """Pressure at the downstream ends of the sections that lead into section i."""
        pipe = self.network.pipes[i]
        if pipe.form is None:
            for c in pipe.children:
                self.pressure_down[c] = self.pressure_up[i]
            return
        combined, pressed = self.runs[i].volume_in, self.runs[i].pressed
        branch, run = pipe.children[-1], pipe.children[0]
        branch_flow, branch_volume = self._at_end(branch, pressed)
        run_flow, run_volume = np.zeros_like(combined), combined
        if len(pipe.children) == 2:
            run_flow, run_volume = self._at_end(run, pressed)
        volumes = branch_volume, run_volume, combined
        self.legs[i] = junctions.leg_pressures(pipe.form, volumes, pipe.area, branch_flow, run_flow)
        self.pressure_down[branch] = self.pressure_up[i] + self.legs[i][0]
        if len(pipe.children) == 2:
            self.pressure_down[pipe.children[0]] = self.pressure_up[i] + self.legs[i][1]

    def _at_end(self, i: int, pressed):
        """Flow [kg/s] and volume [m3/kg] at a section's downstream end, the gas ``pressed`` as the stream it joins."""
        left = np.where(self.flow[i] > 0.0, 1.0 - self.runs[i].drained, 1.0)
        return self.flow[i] * left, self.runs[i].volume_out / (left * left * pressed)

    @property
    def residual(self):
        """Worst mismatch [Pa] over the ways in from the room, one value a state."""
        worst = np.zeros(self.feed.outdoor.size)
        self.mismatch, self.entry_slope = {}, {}
        for i in self.feed.free:
            entry, slope = self.feed.entry(i, self.drawn[i], self.runs[self.network.fed_by[i]].volume_in)
            self.entry_slope[i] = slope
            gap = self.feed.room_gauge[i] - self.outlet_total[i] - entry
            self.mismatch[i] = np.where(np.isfinite(slope), gap, 0.0)
            worst = np.maximum(worst, np.abs(self.mismatch[i]))
        return worst

    def greatest_flow(self, i: int, pressure):
        """Flow [kg/s] that a pressure could drive through the way in and the first section of appliance i alone."""
        row = self.network.fed_by[i]
        run, resistance = self.runs[row], self.feed.resistance[i]
        first = run.factor * run.volume_mean / (2.0 * self.network.pipes[row].area ** 2)
        return np.where(np.isfinite(resistance), np.sqrt(np.abs(pressure) / (resistance + first)), 0.0)

    def newton_step(self, thermal, inertia=0.0) -> list:
        """Changes of the drawn flows that would close every mismatch if all were linear.

        ``thermal`` (states) is 1.0 where temperatures answer the flows, 0.0 where they are held. With ``inertia``
        [1/s], one over a step in time, the gas in every section resists: a step of implicit Euler (`roots`).

        What a subtree sends on, flow and temperature, is linear in the one pressure at its root end: "flow"
        and "heat" below are (slope, offset) pairs against that pressure. They are gathered from the leaves
        to the root and read back from the root to the leaves.
        """
        pipes, n = self.network.pipes, len(self.network.pipes)
        sent, through, joined = [None] * n, [None] * n, [None] * n
        back_by_flow = self._backward_response()
        for i, pipe in enumerate(pipes):
            if pipe.appliance >= 0:
                flow, heat = self._leaf_response(pipe.appliance)
            else:
                flow, heat, joined[i] = self._joint_response(i, pipe, sent)
            by_flow, by_heat, out_by_flow, out_by_heat = self._slopes(i, pipe, thermal, back_by_flow[i], inertia)
            gain = 1.0 / np.maximum(1.0 - by_flow * flow[0] - by_heat * heat[0], 0.1)
            offset = gain * (by_flow * flow[1] + by_heat * heat[1])
            through[i] = gain, offset
            flow = flow[0] * gain, flow[0] * offset + flow[1]
            heat = heat[0] * gain, heat[0] * offset + heat[1]
            sent[i] = flow, tuple(out_by_heat * h + out_by_flow * f for h, f in zip(heat, flow, strict=True))
        return self._read_back(through, joined)

    def _read_back(self, through, joined) -> list:
        change = [np.zeros_like(d) for d in self.drawn]
        below = [0.0] * len(through)
        for i in reversed(range(len(through))):
            pipe = self.network.pipes[i]
            above = through[i][0] * below[i] + through[i][1]
            if pipe.appliance in self.feed.free:
                a = pipe.appliance
                whole = (self.mismatch[a] - above) / self.entry_slope[a]
                # Near zero flow the equations are all but flat, and a whole step would go far beyond.
                reach = np.abs(self.drawn[a]) + 2.0 * self.greatest_flow(a, self.mismatch[a])
                change[a] = self.feed.stop_at_opening(a, self.drawn[a], np.clip(whole, -reach, reach))
            ends = joined[i](above) if joined[i] else [above] * len(pipe.children)
            for c, pressure in zip(pipe.children, ends, strict=True):
                below[c] = pressure
        return change

    def _leaf_response(self, i: int):
        if i not in self.feed.free:
            return (0.0, 0.0), (0.0, 0.0)
        slope = self.entry_slope[i]
        flow = -1.0 / slope, self.mismatch[i] / slope
        total = np.maximum(self.feed.prescribed[i] + self.drawn[i], STILL_FLOW)
        row = self.network.fed_by[i]
        cooler = np.where(self.drawn[i] > 0.0, (self.feed.room[i] - self.upstream[row]) / total, 0.0)
        return flow, (cooler * flow[0], cooler * flow[1])

    def _joint_response(self, i: int, pipe: Pipe, sent):
        """Flow and temperature that enter section i from the sections that lead into it, and the way back."""
        if pipe.form is None:
            return *sent[pipe.children[0]], None
        _, _, bb, br, rb, rr = self.legs[i]
        branch = pipe.children[-1]
        (b1, b0), b_heat = sent[branch]
        if len(pipe.children) == 1:
            gain = 1.0 / np.maximum(1.0 - b1 * bb, 0.1)
            flow = b1 * gain, b0 * gain
            pressure = 1.0 + bb * flow[0], bb * flow[1]
            heat = b_heat[0] * pressure[0], b_heat[0] * pressure[1] + b_heat[1]
            return flow, heat, lambda above: (pressure[0] * above + pressure[1],)
        (r1, r0), r_heat = sent[pipe.children[0]]
        det = (1.0 - b1 * bb) * (1.0 - r1 * rr) - b1 * br * r1 * rb
        inverse = 1.0 / np.where(np.abs(det) < 0.1, 0.1, det)
        branch_flow = tuple(inverse * ((1.0 - r1 * rr) * b + b1 * br * r) for b, r in ((b1, r1), (b0, r0)))
        run_flow = tuple(inverse * ((1.0 - b1 * bb) * r + r1 * rb * b) for b, r in ((b1, r1), (b0, r0)))
        branch_pressure = 1.0 + bb * branch_flow[0] + br * run_flow[0], bb * branch_flow[1] + br * run_flow[1]
        run_pressure = 1.0 + rb * branch_flow[0] + rr * run_flow[0], rb * branch_flow[1] + rr * run_flow[1]
        legs = (
            (branch, branch_flow, branch_pressure, b_heat),
            (pipe.children[0], run_flow, run_pressure, r_heat),
        )
        heat = self._mixed_response(i, legs)
        flow = branch_flow[0] + run_flow[0], branch_flow[1] + run_flow[1]
        back = (run_pressure, branch_pressure)
        return flow, heat, lambda above: tuple(p[0] * above + p[1] for p in back)

    def _mixed_response(self, i: int, legs):
        """Temperature after a junction against the pressure there: each leg's share of its own, and of the mix."""
        forward = [np.maximum(self.flow[c], 0.0) for c, *_ in legs]
        total = sum(forward) + STILL_FLOW
        slope = offset = 0.0
        for (c, flow, pressure, heat), own in zip(legs, forward, strict=True):
            share, pull = own / total, np.where(own > 0.0, (self.downstream[c] - self.upstream[i]) / total, 0.0)
            slope = slope + share * heat[0] * pressure[0] + pull * flow[0]
            offset = offset + share * (heat[0] * pressure[1] + heat[1]) + pull * flow[1]
        return slope, offset

    def _slower(self, i: int):
        """Slope [K s/kg] at which a section's excess temperature would rise with its flow if it were all lost.

        The film grows with a power of the flow in turbulence, so that cooling falls more slowly than flow rises.
        """
        run, size = self.runs[i], np.maximum(np.abs(self.flow[i]), STILL_FLOW)
        return run.excess * (1.0 - run.film_power * run.film_share) / np.copysign(size, self.flow[i])

    def _backward_response(self) -> list:
        """Slope [K s/kg], against its own flow, of the temperature of gas that comes up a section from below.

        A trickle that runs backward through several sections cools in each of them; nought where flow is forward.
        """
        slopes = [0.0] * len(self.flow)
        for i in reversed(range(len(self.flow))):
            back = self.flow[i] < 0.0
            if not back.any():
                slopes[i] = 0.0
                continue
            slopes[i] = np.where(back, slopes[i], 0.0)
            cooling = self.runs[i].cooling
            leaving = np.where(back, np.exp(-cooling) * (slopes[i] + self._slower(i) * cooling), 0.0)
            for c in self.network.pipes[i].children:
                slopes[c] = leaving
        return slopes

    def _slopes(self, i: int, pipe: Pipe, thermal, back_by_flow, inertia):
        """Slopes of a section's pressure fall and outlet temperature against its flow and inlet temperature."""
        run = self.runs[i]
        size = np.maximum(np.abs(self.flow[i]), STILL_FLOW)
        by_flow = run.factor * size * run.volume_mean / pipe.area**2 + inertia * pipe.length / pipe.area
        if pipe.parent < 0:
            by_flow = by_flow + (1.0 + pipe.end_loss) * size * run.volume_out / pipe.area**2
        left = np.exp(-run.cooling)
        number = np.maximum(run.cooling, 1e-9)
        slower = self._slower(i)
        mean_by_heat = -np.expm1(-number) / number
        fall = (run.loss - GRAVITY * pipe.rise * run.density) / run.mean
        warmed = fall * (slower * (mean_by_heat - left) + mean_by_heat * back_by_flow)
        # Warming that resists the flow steadies it and always counts; warming that drives it may be held.
        by_flow = by_flow + np.where(warmed > 0.0, warmed, thermal * warmed)
        forward = np.where(self.flow[i] >= 0.0, thermal, 0.0)  # gas that runs backward comes from below
        return by_flow, forward * fall * mean_by_heat, forward * slower * run.cooling * left, forward * left


def _store(sweep: _Sweep, pick, picked, found: dict) -> None:
    """Write the states ``pick`` of a sweep into their places ``picked`` among all."""
    network, feed = sweep.network, sweep.feed
    places = picked[pick]
    whole = pick.all()
    if whole and places.size and places[-1] - places[0] == places.size - 1:
        places = slice(places[0], places[-1] + 1)  # picked states are in order

    def put(name, row, values):
        found[name][row, places] = values if whole else values[pick]

    energy_in, energy_out = np.zeros(feed.outdoor.size), np.zeros(feed.outdoor.size)
    for i, pipe in enumerate(network.pipes):
        run, flow = sweep.runs[i], sweep.flow[i]
        gas = sweep.gas[i]
        square = 0.5 * (flow / pipe.area) ** 2
        put("flow", i, flow)
        put("upstream", i, sweep.upstream[i])
        put("downstream", i, sweep.downstream[i])
        put("wall", i, run.wall)
        put("pressure_up", i, sweep.pressure_up[i])
        put("pressure_down", i, sweep.pressure_down[i])
        put("added", i, np.broadcast_to(feed.added_at(i), flow.shape))
        left = np.where(flow < 0.0, 1.0, 1.0 - run.drained)  # at the downstream end, of what entered
        put("density", i, left * left / run.volume_out)
        put("velocity", i, flow / pipe.area * run.volume_mean / (1.0 - 0.5 * run.drained))
        put("head", i, square * run.volume_mean)
        put("head_up", i, square * run.volume_in)
        put("head_down", i, square * run.volume_out)
        put("draft", i, run.draft)
        put("loss", i, run.loss)
        put("heat", i, run.heat)
        put("condensed", i, (run.settled + run.fog) * np.abs(flow))
        put("drained", i, run.drained * np.abs(flow))
        put("frozen", i, run.frozen * np.abs(flow))
        put("vapour", i, gas[WATER] * VAPOUR_CONSTANT / gas[GAS_R])
        put("co2_dry", i, gas[CO2] * CO2_CONSTANT / (gas[GAS_R] - gas[WATER] * VAPOUR_CONSTANT))
        energy_out += run.heat + run.water_heat
        if pipe.parent < 0:
            through = np.where(flow < 0.0, gas, sweep.leaving[i])
            energy_out += flow * left * streams.enthalpy(through, sweep.downstream[i], network.pressure)
        if pipe.appliance >= 0:
            a = pipe.appliance
            outlet_head = 0.5 * (flow / network.outlet_area[a]) ** 2 * run.volume_in
            put("outlet_pressure", a, sweep.pressure_up[i] - outlet_head - feed.room_gauge[a])
            put("drawn", a, sweep.drawn[a])
            put("room_gauge", a, feed.room_gauge[a])
            came = feed.prescribed[a] * streams.enthalpy(feed.gas[a], feed.temperature[a], network.pressure)
            room_air = np.maximum(sweep.drawn[a], 0.0) * streams.enthalpy(
                feed.room_air[a], feed.room[a], network.pressure
            )
            entering = np.where(flow < 0.0, sweep.leaving[i], gas)
            here = streams.enthalpy(entering, sweep.upstream[i], network.pressure)
            back = flow * (1.0 - run.drained)
            # Where the vent itself blows into the room, what comes from the appliance never enters it.
            energy_in += np.where(flow < 0.0, back * here, came + room_air + np.minimum(sweep.drawn[a], 0.0) * here)
    found["energy_in"][places], found["energy_out"][places] = energy_in[pick], energy_out[pick]
    residual = sweep.residual
    found["residual"][places] = residual[pick]
    found["converged"][places] = residual[pick] <= TOLERANCE
