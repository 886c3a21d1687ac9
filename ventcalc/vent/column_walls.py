"""Column walls: the wall of every cell as `wall_rings`, and how its rings warm within an interval of time.

Above the surroundings' temperature all is linear, so that an interval is one product of matrices.
"""

from dataclasses import dataclass

import numpy as np
import scipy

from ventcalc.door import door
from ventcalc.flow import heat_loss, wall_rings
from ventcalc.vent.column_grid import Grid

LEAST_CAPACITY = 0.05  # of a wall's own; a lighter one would swing between two looks at the films


@dataclass(frozen=True)
class Walls:
    """Rings of all places, padded to the same number; above the surroundings' temperature all is linear.

    ``step`` (places, rings, rings) and ``warmed`` (places, rings) [K m/J]: what is left of each ring after an interval,
    and what one joule a meter given to the first ring over it adds. ``capacity`` (rings, places) [J/(m K)];
    ``first`` (places, 1) [m K/W] from inner surface to the middle of the first ring; ``towards`` (rings, places)
    [m K/W] from inner surface to each ring; ``total`` (places, 1) to the surroundings.
    """

    step: np.ndarray
    warmed: np.ndarray
    capacity: np.ndarray
    first: np.ndarray
    towards: np.ndarray
    total: np.ndarray


@door(plain={"interval": "s"}, above={"interval": 0.0})
def walls(grid: Grid, interval: float, capacity: float) -> Walls:
    """The walls of a grid for steps of ``interval`` [s]; ``capacity`` is a factor on the heat they hold.

    Rings and outside film are scaled together, so that their sum is the section's own `Pipe.outside_resistance`.
    An infinite capacity holds every wall at its temperature. Raises ValueError for one below `LEAST_CAPACITY`.
    """
    if not capacity >= LEAST_CAPACITY:
        raise ValueError(f"wall capacity {capacity:g} times its own must be at least {LEAST_CAPACITY:g}")
    found = [_wall(grid, row, interval, capacity) for row in range(len(grid.network.pipes))]
    most = max(w[0].shape[0] for w in found)
    padded = [[_pad(a, most) for a in w[:4]] + [np.array([w[4]])] for w in found]
    step, warmed, held, towards, total = (np.array(a)[grid.section] for a in zip(*padded, strict=True))
    return Walls(step, warmed, held.T, towards[:, :1], towards.T, total)


def _wall(grid: Grid, row: int, interval: float, capacity: float):
    pipe, section = grid.network.pipes[row], grid.network.plant.order[row]
    rings = wall_rings.rings(pipe.diameter, section.material.layers)
    film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
    chain = rings.resistance.copy()
    chain[-1] += 1.0 / (film * np.pi * rings.outer_diameter)
    total = pipe.outside_resistance / (np.pi * pipe.diameter)
    chain *= total / chain.sum()
    count = len(rings.capacity)
    if np.isinf(capacity):
        return np.eye(count), np.zeros(count), np.zeros(count), np.cumsum(chain)[:-1], total
    held = rings.capacity * capacity
    flow = 1.0 / chain[1:]  # W/(m K) from ring to ring to the surroundings
    matrix = -np.diag(flow + np.concatenate(([0.0], flow[:-1]))) + np.diag(flow[:-1], 1) + np.diag(flow[:-1], -1)
    matrix /= held[:, None]
    step = scipy.linalg.expm(matrix * interval)
    source = np.eye(count)[:, 0] / held[0] / interval
    return step, np.linalg.solve(matrix, (step - np.eye(count)) @ source), held, np.cumsum(chain)[:-1], total


def _pad(array: np.ndarray, most: int) -> np.ndarray:
    return np.pad(array, [(0, most - n) for n in array.shape])
