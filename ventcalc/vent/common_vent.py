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

Everything runs on plain SI arrays with one column a state (`states`, `solution`). A pass through the vent with given
flows is a `heat_balance` and on it a `pressure_balance`; `newton` says how the flows must change, and this module
holds the search for them.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop, put
from ventcalc.vent.boundary_conditions import NOT_LIKE, Boundary
from ventcalc.vent.cooling import OUTLET
from ventcalc.vent.heat_balance import Pass, blank, noted, of_state
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.newton import Elimination, elimination, step_of
from ventcalc.vent.pressure_balance import TOLERANCE, PressureBalance, drawn_at_first, pass_through
from ventcalc.vent.solution import Solution, empty, store, store_state
from ventcalc.vent.states import States, check_states

BLOCK = 4096  # states looked at together: what they are given is kept at hand
MAX_SWEEPS = 120
PATIENCE = 20  # sweeps after which a state becomes patient
FRESH_START = 30  # sweeps after which it tries whole steps again


def solve(plant: Plant, seasons: tuple[Season, ...], states: States, added: np.ndarray | None = None) -> Solution:
    """Solve a plant in many states; states that do not converge are marked, never dropped.

    ``added`` (sections, states) [Pa] is what a fan (positive) or a damper (negative) adds to the total pressure in
    the direction from upstream to downstream, at the downstream end of each section; None where there is none.
    Raises ValueError where the codes do not fit the appliances, a season index has no season, or ``added`` has
    another shape.
    """
    return solve_network(compile_network(plant, tuple(seasons)), states, added)


def solve_network(
    network: Network,
    states: States,
    added: np.ndarray | None = None,
    drawn: np.ndarray | None = None,
    outlets: np.ndarray | None = None,
    within: np.ndarray | float = TOLERANCE,
) -> Solution:
    """As `solve`, on a plant that is compiled already: for those who solve it again and again.

    ``drawn`` (appliances, states) [kg/s] and ``outlets`` (sections, states) [K] are where to begin, such as what was
    found a small step ago (`Solution.outlets`). ``within`` [Pa], one value or one a state, is how near every mismatch
    must come to nought: who only feels his way needs no more than that.
    """
    plant = network.plant
    check_states(network, states, added)
    total = len(states)
    found, within = empty(network, total), np.broadcast_to(within, total)
    for start in range(0, total, BLOCK):
        picked = np.arange(start, min(start + BLOCK, total))
        _solve_block(network, states, added, drawn, outlets, within[picked], picked, found)
    return Solution(plant, network.seasons, states, network.pressure, **found.named)


def given_flows(network: Network, states: States, prescribed, temperature, drawn) -> Solution:
    """One pass through the vent of a single appliance whose flows are all given: nothing is left to solve.

    One case a state. ``prescribed`` [kg/s] of flue gas at ``temperature`` [K] and ``drawn`` [kg/s] of room air
    enter; none may be negative. ``network.pipes`` may hold arrays, one value a case, where `network.Pipe` has numbers:
    many sizes of one vent are then looked at together. ``residual`` [Pa] is how far the way in from the room is from
    drawing just that much, as a size; ``converged`` where it draws it.
    """
    total = len(states)
    found = empty(network, total)
    prescribed, temperature, drawn = np.broadcast_arrays(prescribed, temperature, drawn, states.season)[:3]
    boundary = Boundary(network, states)
    boundary.given = boundary.given._replace(
        # What differs stands in the order of the states already; no two see the same.
        case=np.arange(total) if len(network.tree.numbers) > 1 else boundary.given.case,
        prescribed=np.array([prescribed], float),
        temperature=np.array([temperature], float),
        like=NOT_LIKE,
    )
    store(PressureBalance(network, boundary, [drawn]), np.ones(total, bool), np.arange(total), found)
    return Solution(network.plant, (), states, network.pressure, **found.named)


class _Begun(NamedTuple):
    """Where the search begins, and ends: ``drawn`` (states, ways) [kg/s] and ``outlets`` (states, sections) [K], NaN
    where nobody knows; how near it must come, ``within`` [Pa], and the ``places`` of the states among all."""

    drawn: np.ndarray
    outlets: np.ndarray
    within: np.ndarray
    places: np.ndarray


class _Room(NamedTuple):
    """Room to search in: one pass, what is ``known`` of others, what was drawn ``before``, ``nothing`` drawn, and an
    `Elimination`. (Loops make no arrays of their own: `compiled`.)"""

    whole: Pass
    known: np.ndarray
    before: np.ndarray
    nothing: np.ndarray
    elimination: Elimination


def _solve_block(network: Network, states: States, added, drawn, outlets, within, picked: np.ndarray, found) -> None:
    """Solve the picked states and write them into ``found``."""
    boundary = Boundary(network, states[picked], None if added is None else added[:, picked])
    ways = len(network.fed_by)
    drawn = np.full((picked.size, ways), np.nan) if drawn is None else drawn[:, picked].T
    outlets = np.full((picked.size, len(network.pipes)), np.nan) if outlets is None else outlets[:, picked].T
    begun = _Begun(*(np.array(values, order="C") for values in (drawn, outlets, within, picked)))
    known, way = noted(boundary.given, network), np.zeros((2, ways))
    room = _Room(blank(network, 1), known, way[0], way[1], elimination(network))
    _search_all(network.tree, boundary.given, begun, room, MAX_SWEEPS, found)


@loop
def _search_all(tree, given, begun, room, most, found):
    at, nothing, known, places = of_state(room.whole, 0), room.nothing, room.known, begun.places
    for k in range(places.size):
        drawn, outlets, free = begun.drawn[k], begun.outlets[k], False
        for a in range(drawn.size):
            free = free or np.isfinite(given.resistance[a, k])
        if not free:
            pass_through(tree, given, k, nothing, outlets, at, known)
            store_state(tree, given, k, nothing, at, places[k], found)
            continue
        if np.isnan(drawn[0]):
            pass_through(tree, given, k, nothing, outlets, at, known)
            for a in range(drawn.size):
                drawn[a] = drawn_at_first(tree, given, k, a, at)
        for a in range(drawn.size):  # what a burner drew while it was idle finds no way in any more once it is lit
            if not np.isfinite(given.resistance[a, k]):
                drawn[a] = 0.0
        _search(tree, given, k, begun, at, room, most)
        store_state(tree, given, k, drawn, at, places[k], found)


@law
def _search(tree, given, k, begun, at, room, most):
    """Damped Newton on the flows ``begun.drawn`` from the rooms in the state ``k``; ``at`` and they are where it ends.

    Where the residual does not fall, half the step is taken again. A state that is stuck so, or slow, becomes
    patient: it steps at the temperatures it has, as a vent does while its walls warm up, and follows that
    path to where it comes to rest. (Where a trickle of warm air more makes more draft than it costs, the
    residual grows before it falls.) Its steps grow shorter, so that it does not swing about the point of rest,
    and in the end it tries whole steps again from nearer by.
    """
    drawn, guess, before, step = begun.drawn[k], begun.outlets[k], room.before, room.elimination.change
    put(before, drawn)
    best, scale, patient = np.inf, 1.0, False
    for turn in range(most):
        error = pass_through(tree, given, k, drawn, guess, at, room.known)
        if error <= begun.within[k]:
            return
        put(guess, at.run[:, OUTLET])
        patient = (patient and turn % FRESH_START > 0) or scale < 0.1 or turn % FRESH_START > PATIENCE
        take = error < best or patient
        if take or turn == 0:
            step_of(tree, given, k, drawn, at, 0.0 if patient else 1.0, 0.0, room.elimination)
        if take:
            put(before, drawn)
            best = error
        scale = 1.0 / (1.0 + turn / PATIENCE) if patient else 1.0 if take else 0.5 * scale
        for a in range(drawn.size):
            drawn[a] = before[a] + scale * step[a]
    put(drawn, before)
    pass_through(tree, given, k, drawn, guess, at, room.known)
