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

import numpy as np

from ventcalc.vent import newton
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.pressure_balance import TOLERANCE, PressureBalance
from ventcalc.vent.solution import Solution, empty, store
from ventcalc.vent.states import States, check_states

BLOCK = 4096  # states solved together: what keeps a section's arrays inside the processor's cache
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
    return Solution(plant, network.seasons, states, network.pressure, **found)


def given_flows(network: Network, states: States, prescribed, temperature, drawn) -> Solution:
    """One pass through the vent of a single appliance whose flows are all given: nothing is left to solve.

    One case a state. ``prescribed`` [kg/s] of flue gas at ``temperature`` [K] and ``drawn`` [kg/s] of room air
    enter; none may be negative. ``network.pipes`` may hold arrays, one value a case, where `network.Pipe` has numbers:
    many sizes of one vent are then looked at together. ``residual`` [Pa] is how far the way in from the room is from
    drawing just that much, as a size; ``converged`` where it draws it.
    """
    total, pipes = len(states), len(network.pipes)
    found = empty(network, total)
    prescribed, temperature, drawn = np.broadcast_arrays(prescribed, temperature, drawn, states.season)[:3]
    boundary = Boundary(network, states)
    boundary.prescribed, boundary.temperature = [prescribed], [temperature]
    boundary.case = None  # what differs stands in the order of the states already
    boundary.alike = [None] * pipes  # sizes differ and so do flows: no two cases see the same
    store(PressureBalance(network, boundary, [drawn]), np.ones(total, bool), np.arange(total), found)
    return Solution(network.plant, (), states, network.pressure, **found)


def _solve_block(
    network: Network, states: States, added, drawn, outlets, within, picked: np.ndarray, found: dict
) -> None:
    """Solve the picked states and write them into ``found``: damped Newton on the flows drawn from the room.

    A state whose residual does not fall takes half its step again. One that is stuck so, or slow, becomes
    patient: it steps at the temperatures it has, as a vent does while its walls warm up, and follows that
    path to where it comes to rest. (Where a trickle of warm air more makes more draft than it costs, the
    residual grows before it falls.) Its steps grow shorter, so that it does not swing about the point of rest,
    and in the end it tries whole steps again from nearer by. States that have converged leave.
    """
    boundary = Boundary(network, states[picked], None if added is None else added[:, picked])
    guess = None if outlets is None else list(outlets[:, picked])
    if not boundary.free:
        balance = PressureBalance(network, boundary, boundary.nothing_drawn(), guess)
        store(balance, np.ones(picked.size, bool), picked, found)
        return
    if drawn is not None:  # what a burner drew while it was idle finds no way in any more once it is lit
        drawn = [np.where(np.isfinite(r), d, 0.0) for r, d in zip(boundary.resistance, drawn[:, picked], strict=True)]
    drawn = drawn or boundary.first_guess(PressureBalance(network, boundary, boundary.nothing_drawn()))
    before, step = drawn, None
    best, scale = np.full(picked.size, np.inf), np.ones(picked.size)
    patient = np.zeros(picked.size, bool)
    for turn in range(MAX_SWEEPS):
        balance = PressureBalance(network, boundary, drawn, guess)
        guess = [run.outlet for run in balance.runs]
        error = balance.residual
        done = error <= within
        if done.any():
            store(balance, done, picked, found)
            if done.all():
                return
        patient &= turn % FRESH_START > 0
        patient |= (scale < 0.1) | (turn % FRESH_START > PATIENCE)
        take = (error < best) | patient
        fresh = newton.step(balance, np.where(patient, 0.0, 1.0))
        before = [np.where(take, d, b) for d, b in zip(drawn, before, strict=True)]
        step = [np.where(take, f, s) for f, s in zip(fresh, step or fresh, strict=True)]
        best = np.where(take, error, best)
        scale = np.where(patient, 1.0 / (1.0 + turn / PATIENCE), np.where(take, 1.0, 0.5 * scale))
        keep = ~done
        if done.any():
            picked, boundary = picked[keep], boundary.only(keep)
            before, step, guess = ([a[keep] for a in arrays] for arrays in (before, step, guess))
            best, scale, patient, within = best[keep], scale[keep], patient[keep], within[keep]
        drawn = [b + scale * s for b, s in zip(before, step, strict=True)]
    store(PressureBalance(network, boundary, before, guess), np.ones(picked.size, bool), picked, found)
