"""Root census: all steady states that a vent can have in one condition, those too that no past leads to (`roots`)."""

from dataclasses import dataclass

import numpy as np

from ventcalc.units import GRAVITY
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.coming_to_rest import SAME, follow, scale
from ventcalc.vent.common_vent import BLOCK
from ventcalc.vent.network import Network
from ventcalc.vent.pressure_balance import TOLERANCE
from ventcalc.vent.stability import is_stable, mismatch
from ventcalc.vent.states import States

_BRISK, _MOST_FREE = 4.0, 6  # m/s at a way in, and the unknown flows, of `every_way`


@dataclass(frozen=True)
class Census:
    """All roots of states with one unknown flow: ``state`` of each, its ``drawn`` [kg/s], whether it is ``stable``.

    ``jumps`` tells the states in which the mismatch changes its sign by a jump, with the flow there in ``jump_drawn``:
    no flow balances it, and the vent stands still or flutters.
    """

    state: np.ndarray
    drawn: np.ndarray
    stable: np.ndarray
    jumps: np.ndarray
    jump_drawn: np.ndarray

    def of(self, state: int) -> np.ndarray:
        """The roots [kg/s] of one state, lowest first."""
        return np.sort(self.drawn[self.state == state])


def census(network: Network, states: States, added: np.ndarray | None = None, points: int = 400) -> Census:
    """Every root of every state, by a scan of the mismatch over the one unknown flow; sign changes are halved.

    ``points`` of the scan lie evenly between two flows beyond which the losses are greater than all that could drive.
    Two roots between two neighboring points are missed. Raises ValueError where not just one flow is unknown.
    """
    boundary = Boundary(network, states, added)
    free = np.isfinite(boundary.resistance)
    if (free.sum(axis=0) != 1).any():
        raise ValueError(f"the census needs one unknown flow a state, here are up to {free.sum(axis=0).max()}")
    ends = _beyond(network, boundary, free)
    grid = np.linspace(-ends - np.where(free, boundary.prescribed, 0.0).sum(axis=0), ends, points)
    column = np.tile(np.arange(len(states)), points)
    value = _one_mismatch(network, states, added, column, grid.ravel()).reshape(grid.shape)
    at, which = np.nonzero(value[1:] * value[:-1] <= 0.0)
    low, high = grid[at, which], grid[at + 1, which]
    stable = value[at, which] > value[at + 1, which]
    for _ in range(50):
        middle = 0.5 * (low + high)
        below = (_one_mismatch(network, states, added, which, middle) > 0.0) == stable
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    left = [_one_mismatch(network, states, added, which, end) for end in (low, high)]
    jump = np.abs(left[1] - left[0]) > 10.0 * TOLERANCE
    return Census(which[~jump], low[~jump], stable[~jump], which[jump], low[jump])


def _one_mismatch(network: Network, states: States, added, which, flow) -> np.ndarray:
    """Mismatch [Pa] of states ``which`` at their one unknown flow."""
    found = np.empty(which.size)
    for start in range(0, which.size, BLOCK):
        part = slice(start, start + BLOCK)
        boundary = Boundary(network, states[which[part]], None if added is None else added[:, which[part]])
        drawn = np.where(np.isfinite(boundary.resistance), flow[part], 0.0)
        found[part] = mismatch(network, boundary, drawn).sum(axis=0)
    return found


def _beyond(network: Network, boundary: Boundary, free) -> np.ndarray:
    """Flow [kg/s], either way, at which losses exceed twice what could drive: a vent full of nothing, wind and fans."""
    height = sum(abs(p.rise) for p in network.pipes)
    drive = (
        GRAVITY * height * boundary.outdoor_density
        + np.abs(boundary.room_gauge).max(axis=0)
        + np.abs(boundary.wind_head)
    )
    drive = drive + max(network.threshold) + (0.0 if boundary.added is None else np.abs(boundary.added).sum(axis=0))
    flow = scale(boundary.prescribed, np.zeros_like(boundary.prescribed))
    for _ in range(60):
        up, down = (mismatch(network, boundary, np.where(free, sign * flow, 0.0)).sum(axis=0) for sign in (1.0, -1.0))
        short = (up > -2.0 * drive) | (down < 2.0 * drive)
        if not short.any():
            break
        flow = np.where(short, 1.5 * flow, flow)
    return flow


def every_way(network: Network, state: States, added: np.ndarray | None = None) -> np.ndarray:
    """Stable roots [kg/s] of one state (appliances, roots), followed from every pattern of flows forward and backward.

    A brisk flow one way or the other, or none, at each way in: 3^n starts. Raises ValueError where more than
    six flows are unknown. That no root has escaped is proved for one unknown flow only (`census`).
    """
    free = Boundary(network, state).free
    if len(state) != 1 or len(free) > _MOST_FREE:
        raise ValueError(f"every_way needs one state of at most {_MOST_FREE} unknown flows, here {len(free)}")
    ways = _BRISK * (np.indices([3] * len(free)).reshape(len(free), -1) - 1)
    many = state[np.zeros(ways.shape[1], int)]
    boundary = Boundary(network, many)
    drawn = np.zeros((len(network.fed_by), ways.shape[1]))
    for i, way in zip(free, ways, strict=True):
        drawn[i] = way * network.outlet_area[i] * boundary.outdoor_density - boundary.prescribed[i]
    own = None if added is None else added[:, np.zeros(ways.shape[1], int)]
    ended = follow(network, many, drawn, own)
    good = ended.converged & is_stable(network, many, ended.drawn, own)
    found: list[np.ndarray] = []
    for k in np.flatnonzero(good):
        near = SAME * scale(boundary.prescribed, ended.drawn)[k]
        if all(np.abs(ended.drawn[:, k] - other).max() > near for other in found):
            found.append(ended.drawn[:, k])
    return np.array(found).reshape(len(found), -1).T
