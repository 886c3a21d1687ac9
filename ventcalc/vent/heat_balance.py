"""Heat balance: flow, temperature and gas in every section of a vent, for given flows through its ways in.

From the leaves to the root: streams mix by enthalpy where they meet, and cool along every section (`cooling`). Where a
section runs backward, from the root towards the leaves. Plain SI, one state at a time, compiled.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, part, put
from ventcalc.gas import streams
from ventcalc.gas.streams import TRACE
from ventcalc.vent.boundary_conditions import Given
from ventcalc.vent.condensing_run import PIECE
from ventcalc.vent.cooling import COOLED, DRAINED, MOST_PIECES, OUTLET, VOLUME_IN, VOLUME_OUT, bore_of, cool_state
from ventcalc.vent.network import Network

# Places in what is noted of a section: the temperature where it begins, its run, its gas, the gas that leaves it.
_GAS = 1 + COOLED
_LEAVING = _GAS + streams.ROWS
NOTED = _LEAVING + streams.ROWS


class Pass(NamedTuple):
    """One pass through the vent in each of some states: (states, sections), ``mismatch`` and ``slope`` (states, ways).

    Of every section its ``flow`` [kg/s] and the temperature [K] at both ends; the ``gas`` that enters it and the one
    that is ``leaving`` (..., rows); its ``run``, a `cooling.Cooled` (..., rows), whose gas its own gauge pressure
    makes ``pressed`` times as dense; the ``draft`` [Pa] that it makes; what has ``gone`` [kg/s, negative] as water
    before gas came back to it; total pressure [Pa] at both ends; ``legs``: `junctions.leg_pressures` at its upstream
    end. ``mismatch`` [Pa] at every way in, and the ``slope`` of its pressure against what it draws, inf where shut.
    ``passed`` is room for the pieces of a `condensing_run`, one for all.
    """

    flow: np.ndarray
    upstream: np.ndarray
    downstream: np.ndarray
    gas: np.ndarray
    leaving: np.ndarray
    run: np.ndarray
    pressed: np.ndarray
    draft: np.ndarray
    gone: np.ndarray
    pressure_up: np.ndarray
    pressure_down: np.ndarray
    legs: np.ndarray
    mismatch: np.ndarray
    slope: np.ndarray
    passed: np.ndarray


def blank(network: Network, states: int) -> Pass:
    """Room for passes in so many states."""
    sections, ways = (states, len(network.pipes)), (states, len(network.fed_by))
    depth = {"gas": streams.ROWS, "leaving": streams.ROWS, "run": COOLED, "legs": 6}
    shapes = {name: (*sections, depth[name]) if name in depth else sections for name in Pass._fields}
    shapes |= {"mismatch": ways, "slope": ways, "passed": (MOST_PIECES, PIECE)}
    return Pass(**{name: np.empty(shape) for name, shape in shapes.items()})


def noted(given: Given, network: Network) -> np.ndarray:
    """Room for what is noted of every section in every state, where some of them are alike."""
    return np.empty((given.like.shape[1], len(network.pipes), NOTED))


@part
def of_state(whole, k):
    """The pass of one of the states."""
    return Pass(
        whole.flow[k], whole.upstream[k], whole.downstream[k], whole.gas[k], whole.leaving[k], whole.run[k],
        whole.pressed[k], whole.draft[k], whole.gone[k], whole.pressure_up[k], whole.pressure_down[k], whole.legs[k],
        whole.mismatch[k], whole.slope[k], whole.passed,
    )  # fmt: skip


@part
def flow_after(at, i):
    """Flow at a section's downstream end; where it runs backward that is the end where gas enters."""
    return at.flow[i] - np.maximum(at.flow[i], 0.0) * at.run[i, DRAINED]


@part
def warm_up(tree, given, k, drawn, guess, at, known):
    """Flows and temperatures of the state ``k``, from the leaves on, where ``drawn`` [kg/s] comes in from the rooms.

    ``guess`` [K]: about where gas leaves every section, NaN where nobody knows. A section that the same passes
    as in a state before takes what was noted there (``known``, (states, sections, `NOTED`)).
    """
    for i in range(at.flow.size):
        a, only, branch = tree.appliance[i], tree.run[i], tree.branch[i]
        if a >= 0:
            at.flow[i] = given.prescribed[a, k] + drawn[a]
        else:
            at.flow[i] = flow_after(at, only) if only >= 0 else 0.0
            if branch >= 0:
                at.flow[i] += flow_after(at, branch)
        at.gone[i] = 0.0
        same = given.like[i, k] if given.like.size else k
        if same < k:
            _recall(known, same, at, i)
            continue
        at.upstream[i] = _enter(tree, given, k, i, drawn, at)
        _cool(tree, given, k, i, at.upstream[i], guess[i], at)
        at.downstream[i] = at.run[i, OUTLET]
        streams.without_water(at.gas[i], at.run[i, DRAINED], at.leaving[i])
        if given.like.size:
            _remember(at, i, known, k)
    _turn_back(tree, given, k, guess, at)


@part
def _remember(at, i, known, k):
    """Note what has come of section i in this state, for those in which the same passes it."""
    upstream, run, gas, leaving = at.upstream, at.run, at.gas, at.leaving
    known[k, i, 0] = upstream[i]
    for row in range(COOLED):
        known[k, i, 1 + row] = run[i, row]
    for row in range(streams.ROWS):
        known[k, i, _GAS + row], known[k, i, _LEAVING + row] = gas[i, row], leaving[i, row]


@part
def _recall(known, k, at, i):
    """Take what was noted of section i."""
    upstream, downstream, run, gas, leaving = at.upstream, at.downstream, at.run, at.gas, at.leaving
    upstream[i], downstream[i] = known[k, i, 0], known[k, i, 1 + OUTLET]
    for row in range(COOLED):
        run[i, row] = known[k, i, 1 + row]
    for row in range(streams.ROWS):
        gas[i, row], leaving[i, row] = known[k, i, _GAS + row], known[k, i, _LEAVING + row]


@law
def _cool(tree, given, k, i, inlet, guess, at):
    """Cool the gas of section i along its way."""
    around = given.outdoor[k] if tree.around[i] < 0 else given.places[tree.around[i], k]
    bore, gas = bore_of(tree.numbers[given.case[k], i]), streams.column(at.gas[i])
    run = cool_state(bore, tree.pressure, gas, at.flow[i], inlet, around, given.warm[i, k], guess, at.passed)
    place = at.run
    for row in range(COOLED):
        place[i, row] = run[row]


@part
def _enter(tree, given, k, i, drawn, at):
    """Temperature where section i begins, from what flows towards it; its gas into ``at``."""
    a, only, branch = tree.appliance[i], tree.run[i], tree.branch[i]
    if a >= 0:
        if not np.isfinite(given.resistance[a, k]):
            put(at.gas[i], given.gas[a, :, k])
            return given.temperature[a, k]
        own, air = given.gas[a, :, k], given.room_air[a, :, k]
        room_air, sent = np.maximum(drawn[a], 0.0), given.prescribed[a, k]
        return streams.mix_two(
            sent, given.temperature[a, k], own, room_air, given.room[a, k], air, tree.pressure, at.gas[i]
        )
    if only < 0 or branch < 0:
        one = np.maximum(only, branch)
        put(at.gas[i], at.leaving[one])
        return at.downstream[one]
    flow, other_flow = np.maximum(flow_after(at, only), 0.0), np.maximum(flow_after(at, branch), 0.0)
    return streams.mix_two(
        flow, at.downstream[only], at.leaving[only], other_flow, at.downstream[branch], at.leaving[branch],
        tree.pressure, at.gas[i],
    )  # fmt: skip


@part
def _turn_back(tree, given, k, guess, at):
    """Where a section runs backward it takes its gas from its downstream end: from the root towards the leaves."""
    for i in range(at.flow.size - 1, -1, -1):
        if not at.flow[i] < 0.0:
            continue
        at.downstream[i] = below = _node_below(tree, given, k, i, at)
        _cool(tree, given, k, i, below, guess[i], at)
        run = at.run[i]
        run[VOLUME_IN], run[VOLUME_OUT] = run[VOLUME_OUT], run[VOLUME_IN]
        at.upstream[i] = run[OUTLET]
        streams.without_water(at.gas[i], run[DRAINED], at.leaving[i])
        _pass_less(tree, i, at.gone[i] + at.flow[i] * run[DRAINED], at)


@part
def _pass_less(tree, i, drained, at):
    """Take what drained [kg/s, negative] from the sections that a backward flow goes on into, each its share."""
    back = 0.0
    for c in (tree.run[i], tree.branch[i]):
        if c >= 0:
            back += np.minimum(at.flow[c], 0.0)
    for c in (tree.run[i], tree.branch[i]):
        if c >= 0:
            at.gone[c] = drained * np.minimum(at.flow[c], 0.0) / np.minimum(back, -TRACE)
            at.flow[c] -= at.gone[c]


@part
def _node_below(tree, given, k, i, at):
    """Temperature at the downstream end of section i, which runs backward; the gas there into ``at``."""
    parent, gas = tree.parent[i], at.gas[i]
    if parent < 0:
        put(gas, given.air[:, k])
        return given.outdoor[k]
    other = tree.branch[parent] if tree.run[parent] == i else tree.run[parent]
    if other < 0:
        put(gas, at.leaving[parent])
        return at.upstream[parent]
    back = np.maximum(-at.flow[parent] * (1.0 - at.run[parent, DRAINED]), 0.0)
    forward = np.maximum(flow_after(at, other), 0.0)
    return streams.mix_two(
        back, at.upstream[parent], at.leaving[parent], forward, at.downstream[other], at.leaving[other], tree.pressure,
        gas,
    )  # fmt: skip
