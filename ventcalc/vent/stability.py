"""Stability: whether the flows of a steady state come back by themselves after a small disturbance."""

import numpy as np

from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.coming_to_rest import scale
from ventcalc.vent.network import Network
from ventcalc.vent.pressure_balance import PressureBalance
from ventcalc.vent.states import States


def inertance(network: Network) -> np.ndarray:
    """Sum of L/A [1/m] over the sections that two ways out share (appliances, appliances): inertia of the gas."""
    passed = np.zeros((len(network.fed_by), len(network.pipes)))
    for i, row in enumerate(network.fed_by):
        while row >= 0:
            passed[i, row] = 1.0
            row = network.pipes[row].parent
    return (passed * [p.length / p.area for p in network.pipes]) @ passed.T


def growth(network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None) -> np.ndarray:
    """Fastest growth [1/s] of a small disturbance of the flows ``drawn``, per state; negative where all die away.

    The greatest real part of the eigenvalues of inertance^-1 times the slopes of the mismatch, by central differences.
    """
    boundary = Boundary(network, states, added)
    free, total = np.isfinite(boundary.resistance), len(states)
    size = scale(boundary.prescribed, drawn)
    slopes = np.zeros((total, *inertance(network).shape))
    for j in boundary.free:
        ends = []
        for sign in (1.0, -1.0):
            moved = np.array(drawn, float)
            moved[j] += sign * 1e-5 * size * free[j]
            ends.append(mismatch(network, boundary, moved))
        slopes[:, :, j] = ((ends[0] - ends[1]) / (2e-5 * size)).T
    both = free.T[:, :, None] & free.T[:, None, :]
    own = np.eye(free.shape[0], dtype=bool) & ~both  # a way in that is shut bears anything
    mass = np.where(both, inertance(network), own)
    return np.linalg.eigvals(np.linalg.solve(mass, np.where(both, slopes, -1.0 * own))).real.max(axis=-1)


def is_stable(network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None) -> np.ndarray:
    """Where flows ``drawn`` come back by themselves after a small disturbance, per state."""
    return growth(network, states, drawn, added) < 0.0


def mismatch(network: Network, boundary: Boundary, drawn: np.ndarray) -> np.ndarray:
    """Mismatch [Pa] at every way in (appliances, states); 0 where it is shut."""
    return PressureBalance(network, boundary, drawn).at.mismatch.T
