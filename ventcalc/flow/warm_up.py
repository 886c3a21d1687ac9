"""Warm-up: a run of one wall after gas begins to flow.

The gas passes in seconds, the wall takes minutes (thin steel) to hours (masonry). The flow is given; where the draft
itself sets it, `cold_start` and `transient` follow the vent.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from ventcalc.flow.materials import Layer
from ventcalc.flow.wall_rings import rings
from ventcalc.units import quantities


@dataclass(frozen=True)
class WarmUp:
    """A run that warms up, plain SI arrays; the first axis is time.

    ``time`` [s]; ``distance`` [m] along the run, of the ends of its slices; ``gas`` [K] there; ``wall`` [K] of
    the inner surface, the mean of each slice; ``stored`` [J] in the wall since the start; ``lost`` [J] to the
    surroundings since the start.
    """

    time: np.ndarray
    distance: np.ndarray
    gas: np.ndarray
    wall: np.ndarray
    stored: np.ndarray
    lost: np.ndarray


@quantities(
    None,
    duration="s",
    inlet="K",
    surroundings="K",
    start="K",
    mass_flow="kg/s",
    specific_heat="J/(kg*K)",
    inside_film="W/(m**2*K)",
    outside_film="W/(m**2*K)",
    diameter="m",
    length="m",
    above={"duration": 0.0, "mass_flow": 0.0, "specific_heat": 0.0, "inside_film": 0.0, "outside_film": 0.0,
           "diameter": 0.0, "length": 0.0},
    shapes=dict.fromkeys(("duration", "inlet", "surroundings", "start", "mass_flow", "specific_heat", "inside_film",
                          "outside_film", "diameter", "length"), "one"),
    source="Energy balance of gas and wall; Fourier's law; matrix exponential of a linear system",
)  # fmt: skip
def warm_up(
    duration,
    inlet,
    surroundings,
    start,
    mass_flow,
    specific_heat,
    inside_film,
    outside_film,
    diameter,
    length,
    layers: Sequence[Layer],
    slices: int = 12,
    steps: int = 120,
):
    """How a run of one wall warms up after gas begins to flow: a `WarmUp` of ``steps`` equal steps of time.

    The run is cut into ``slices``, the wall of each into rings of one temperature (`rings`). The gas, which passes in
    seconds, is at rest in time: in each slice it nears the innermost ring by
    ``Tout = Tw + (Tin - Tw) exp(-N)``, ``N = dx / (R m cp)`` with R the film and half a ring. Every ring obeys
    ``C dT/dt = sum of heat flows``; the whole is linear and is advanced exactly by its matrix exponential, so a step of
    time may be as long as it likes. Heat along the wall is left out, and so is the latent heat of water that
    condenses on a cold wall: a real run of wet gas warms faster while it does.

    duration [s]; inlet, surroundings and start [K], the last that of the whole wall at time 0; mass_flow [kg/s];
    specific_heat [J/(kg K)]; inside_film and outside_film [W/(m2 K)], each on its own surface, constant; diameter
    of the bore and length [m]; all single numbers. layers: of `materials.layers`, from the inside out. The outlet
    settles at `heat_loss.outlet_temperature` but for what the slices cost: with 12 of them and N up to 4, 0.05 % of
    ``Tin - Ta`` where the two films are alike, 0.6 % where the inside film is ten times the outside one; twice the
    slices, a quarter of it. Raises for a wall without layers and for values that are not positive.
    """
    if slices < 1 or steps < 1:
        raise ValueError(f"slices = {slices} and steps = {steps} must be at least 1")
    wall = rings(diameter, layers)
    dx = length / slices
    first = 1.0 / (inside_film * np.pi * diameter) + wall.resistance[0]
    last = 1.0 / (outside_film * np.pi * wall.outer_diameter) + wall.resistance[-1]
    conductance = dx / np.array([first, *wall.resistance[1:-1], last])  # W/K, gas to ring to ring to surroundings
    matrix, source, share = _balance(conductance, wall.capacity * dx, mass_flow * specific_heat, slices)

    settled = np.linalg.solve(matrix, -source * (inlet - surroundings))  # above the surroundings, as everything here
    over = scipy.linalg.expm(matrix * duration / steps)
    state = np.empty((steps + 1, len(settled)))
    state[0] = start - surroundings
    for i in range(steps):
        state[i + 1] = settled + over @ (state[i] - settled)

    time = np.linspace(0.0, duration, steps + 1)
    by_slice = state.reshape(steps + 1, slices, -1)
    gas = np.empty((steps + 1, slices + 1))
    gas[:, 0] = inlet - surroundings
    for j in range(slices):
        gas[:, j + 1] = gas[:, j] + share * (by_slice[:, j, 0] - gas[:, j])
    given = mass_flow * specific_heat * (gas[:, :-1] - gas[:, 1:])  # W, of each slice
    surface = by_slice[:, :, 0] + given * wall.resistance[0] / dx
    # The integral of the state over time, from the balance itself: A y = dy/dt + A settled.
    gathered = np.linalg.solve(matrix, (state - state[0]).T).T + settled * time[:, None]
    return WarmUp(
        time=time,
        distance=np.linspace(0.0, length, slices + 1),
        gas=gas + surroundings,
        wall=surface + surroundings,
        stored=((by_slice - by_slice[0]) * wall.capacity * dx).sum(axis=(1, 2)),
        lost=gathered.reshape(steps + 1, slices, -1)[:, :, -1].sum(axis=1) * conductance[-1],
    )


def _balance(conductance: np.ndarray, capacity: np.ndarray, stream: float, slices: int):
    """Matrix A and source b of ``dy/dt = A y + b (Tin - Ta)``, slice by slice, ring by ring; and 1 - exp(-N).

    ``conductance`` [W/K] and ``capacity`` [J/K] of one slice, ``stream`` m cp [W/K].
    """
    count = len(capacity)
    share = -np.expm1(-conductance[0] / stream)
    # Within a slice: each ring with its neighbors; the innermost with the gas that enters the slice.
    towards = np.concatenate(([stream * share], conductance[1:]))
    block = -np.diag(towards[:-1] + towards[1:])
    block += np.diag(towards[1:-1], 1) + np.diag(towards[1:-1], -1)
    matrix = np.kron(np.eye(slices), block)
    # What the gas brings from slice i to slice j: it took share of ring i's temperature and lost some on its way.
    for j in range(1, slices):
        for i in range(j):
            matrix[j * count, i * count] = stream * share * share * (1.0 - share) ** (j - 1 - i)
    source = np.zeros(slices * count)
    source[::count] = stream * share * (1.0 - share) ** np.arange(slices)
    held = np.tile(capacity, slices)
    return matrix / held[:, None], source / held, share
