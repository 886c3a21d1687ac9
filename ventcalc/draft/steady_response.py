"""Steady response: what the vent answers to a device where the gas answers at once.

In every instant the vent then stands in a steady state of `common_vent`, its walls between cold and hot as the
schedule's ``warming`` says. That is quick, and right once the vent has filled; it must not be asked about the first
half minute after light-off.

In each knot the vent is solved for a ladder of pressures added; the setting that adds just so much at the flow that
then passes lies between two rungs.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.draft.final_element import FinalElement
from ventcalc.draft.firing_schedule import FiringPath
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.vent_response import SETTINGS, Response
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.network import Network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

# Pressures [Pa] at the sensor at which the vent is solved in every knot, and closer ones at the outlet of each
# appliance that stands open to the room: where its flow turns, the answer bends like a square root.
_LADDER = np.array([1600, 800, 400, 200, 100, 50, 25, 12, 0, -12, -25, -50, -100, -200, -400], float)
_BEND = np.array([40.0, 20.0, 10.0, 4.0, 1.5, 0.3, -0.3, -1.5, -4.0, -10.0, -20.0, -40.0])


@door(plain={"since": "s"})
def respond_at_once(
    network: Network, path: FiringPath, row: int, device: FinalElement, where: str, since: float
) -> Response:
    """The response along a path from ``since`` [s] on, to a device at the end of section ``row``.

    ``where`` is the sensor's place: "header", or an appliance's name.
    """
    time = path.knots(since)
    states = path.states(time)
    ladder = _ladder(network, states, row, where)
    vent = _answers(network, states, row, ladder, where)
    made = device.added(vent.flow[..., None], vent.density[..., None], network.pipes[row].area, SETTINGS)
    rung, share = _crossing(made - ladder[..., None])

    def between(values: np.ndarray) -> np.ndarray:
        below = np.take_along_axis(values, rung, 1)
        return below + share * (np.take_along_axis(values, rung + 1, 1) - below)

    return Response(
        time=time,
        setting=SETTINGS,
        pressure=between(vent.sensor),
        outlets=np.array([between(p) for p in vent.outlets]),
        added=between(ladder),
        codes=states.codes,
        unsolved=vent.unsolved,
    )


@dataclass(frozen=True)
class _Answers:
    """Pressures at sensor and outlets, flow [m3/s] and density at the device, air drawn; last axes knots and rungs."""

    sensor: np.ndarray
    outlets: np.ndarray
    flow: np.ndarray
    density: np.ndarray
    drawn: np.ndarray
    unsolved: int


def _answers(network: Network, states: States, row: int, added: np.ndarray, where: str) -> _Answers:
    """The vent with ``added`` (knots, rungs) at the end of section ``row``; what occurs twice is solved once."""
    pick = np.repeat(np.arange(len(states)), added.shape[1])
    every = states[pick]
    case = [] if every.wind_case is None else [every.wind_case]
    key = np.vstack([every.codes, every.cold, every.windy, *case, added.ravel()])
    _, first, back = np.unique(key, axis=1, return_index=True, return_inverse=True)
    whole = np.zeros((len(network.pipes), first.size))
    whole[row] = added.ravel()[first]
    solution = solve_network(network, every[first], whole)

    def spread(values: np.ndarray) -> np.ndarray:
        return values[..., back.ravel()].reshape(*values.shape[:-1], *added.shape)

    return _Answers(
        sensor=spread(_sensed(solution, network, where)),
        outlets=spread(solution.outlet_pressure),
        flow=spread(solution.flow[row] / solution.density[row]),
        density=spread(solution.density[row]),
        drawn=spread(solution.drawn),
        unsolved=int((~solution.converged).sum()),
    )


def _sensed(solution: Solution, network: Network, where: str) -> np.ndarray:
    if where == HEADER:
        return far_end_pressure(solution, network)
    return solution.outlet_pressure[[a.name for a in network.plant.appliances].index(where)]


def _ladder(network: Network, states: States, row: int, where: str) -> np.ndarray:
    """What to add in each knot (knots, rungs), rising, so that the pressures of `_LADDER` and `_BEND` come about."""
    alone = _answers(network, states, row, np.zeros((len(states), 1)), where)
    rungs = alone.sensor - _LADDER
    if not alone.drawn.any():
        return rungs
    # A pascal added is all but a pascal less at every outlet. Where one stands at zero is found from a little above and
    # below: at zero itself the vent is slow to solve.
    opened, turns = alone.drawn[:, :, 0].T != 0.0, alone.outlets[:, :, 0].T
    for off in (5.0, 1.0):
        tried = np.where(opened[..., None], turns[..., None] + np.array([-off, off]), rungs[:, None, :1])
        found = _answers(network, states, row, tried.reshape(len(states), -1), where).outlets
        above, below = (found[range(len(found)), :, 2 * np.arange(len(found)) + k].T for k in (0, 1))
        turns = turns - off + 2.0 * off * above / np.where(opened, above - below, 1.0)
    bends = np.where(opened[..., None], turns[..., None] - _BEND, rungs[:, None, :1])
    return np.sort(np.concatenate([rungs, bends.reshape(len(states), -1)], axis=1), axis=1)


def _crossing(gap: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where ``gap`` (knots, rungs, settings) first falls through zero: the rung before, and the share of the way on.

    Where a device wants more or less than the ladder has, it stands at the ladder's end.
    """
    last = gap.shape[1] - 2
    rung = np.clip((gap <= 0.0).argmax(axis=1) - 1, 0, last)
    rung = np.where((gap > 0.0).all(axis=1), last, rung)
    one, other = (np.take_along_axis(gap, (rung + k)[:, None], 1)[:, 0] for k in (0, 1))
    share = one / np.where(one == other, 1.0, one - other)
    return rung, np.clip(share, 0.0, 1.0)
