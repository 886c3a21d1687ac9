"""Pressure balance: pressures along a vent for given flows, and by how much every way in from the room misses them.

From the terminations inward: wind and the cap's loss, then loss, acceleration and draft of every section (the equation
of `common_vent`), and the coefficients of every junction (`junctions`). Plain SI, one state at a time, compiled;
`PressureBalance` goes through many.
"""

from collections.abc import Sequence

import numpy as np

from ventcalc.compiled import law, loop, part
from ventcalc.flow import junctions
from ventcalc.units import GRAVITY
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.cooling import (
    ACCELERATION,
    DENSITY,
    DRAINED,
    FACTOR,
    LOSS,
    OUTLET,
    VOLUME_IN,
    VOLUME_MEAN,
    VOLUME_OUT,
)
from ventcalc.vent.dilution_air import entry_pressure
from ventcalc.vent.heat_balance import blank, noted, of_state, warm_up
from ventcalc.vent.network import AREA, END_LOSS, EXIT, FORM, ON_TOTAL, RISE, THIN_AIR, THRESHOLD, Network

TOLERANCE = 1e-4  # Pa, at every outlet whose flow is solved for

FALLING_AIR_LOSS = 0.5  # sharp entry (losses.csv L051), where outdoor air falls down the vent
LEAST_PRESSED = 0.1  # of the gas's own density; a trial with far too much flow may ask for less than no pressure at all


class PressureBalance:
    """Passes through the vent in all states of a boundary, for what every way in draws from its room, ``drawn`` [kg/s].

    ``guess`` [K] (sections, states): about where gas leaves every section. What they find is in ``at``, a
    `heat_balance.Pass`.
    """

    def __init__(self, network: Network, boundary: Boundary, drawn: Sequence, guess: np.ndarray | None = None):
        self.network, self.boundary, self.drawn = network, boundary, np.ascontiguousarray(drawn, float)
        self.at = blank(network, boundary.outdoor.size)
        shape = len(network.pipes), boundary.outdoor.size
        guess = np.full(shape[::-1], np.nan) if guess is None else np.array(guess.T, order="C")
        given = boundary.given
        _pass_all(network.tree, given, self.drawn.T.copy(), guess, self.at, noted(given, network))

    @property
    def outlets(self) -> np.ndarray:
        """Temperature [K] where every section's run ends (sections, states)."""
        return self.at.run[..., OUTLET].T

    @property
    def residual(self) -> np.ndarray:
        """Worst mismatch [Pa] over the ways in from the room, one value a state."""
        return np.abs(self.at.mismatch).max(axis=1)

    def first_guess(self) -> np.ndarray:
        """`drawn_at_first` of every way in (appliances, states), where nothing is drawn yet."""
        found = np.empty_like(self.drawn)
        _guess_all(self.network.tree, self.boundary.given, self.at, found)
        return found


@loop
def _pass_all(tree, given, drawn, guess, whole, known):
    for k in range(drawn.shape[0]):
        pass_through(tree, given, k, drawn[k], guess[k], of_state(whole, k), known)


@loop
def _guess_all(tree, given, whole, found):
    for k in range(found.shape[1]):
        at = of_state(whole, k)
        for a in range(found.shape[0]):
            found[a, k] = drawn_at_first(tree, given, k, a, at)


@law
def pass_through(tree, given, k, drawn, guess, at, known):
    """A pass through the vent in the state ``k``: `heat_balance.warm_up`, pressures, and how far every way in is off.

    Returns the worst mismatch [Pa].
    """
    warm_up(tree, given, k, drawn, guess, at, known)
    for i in range(at.flow.size - 1, -1, -1):
        _fall(tree, given, k, i, at)
        _into_legs(tree, given, k, i, at)
    for a in range(drawn.size):
        first = tree.fed[a]
        entry, slope = entry_pressure(
            drawn[a], given.prescribed[a, k], given.resistance[a, k], at.run[first, VOLUME_IN], tree.ways[EXIT, a],
            tree.ways[THRESHOLD, a], tree.ways[ON_TOTAL, a] > 0.0,
        )  # fmt: skip
        gap = given.room_gauge[a, k] - at.pressure_up[first] - entry
        at.slope[a], at.mismatch[a] = slope, gap if np.isfinite(slope) else 0.0
    return worst_mismatch(at)


@law
def worst_mismatch(at):
    """Worst mismatch [Pa] over the ways in from the room, as a size."""
    worst = 0.0
    for a in range(at.mismatch.size):
        worst = np.maximum(worst, np.abs(at.mismatch[a]))
    return worst


@part
def _fall(tree, given, k, i, at):
    """Pressure at both ends of section i; its own presses its gas."""
    case, run, flow = given.case[k], at.run, at.flow[i]
    area, rise, thin_air = tree.numbers[case, i, AREA], tree.numbers[case, i, RISE], tree.numbers[case, i, THIN_AIR]
    if tree.parent[i] < 0:
        factor = (1.0 if flow >= 0.0 else FALLING_AIR_LOSS) + tree.numbers[case, i, END_LOSS]
        head = factor * flow * np.abs(flow) * run[i, VOLUME_OUT] / (2.0 * area * area)
        at.pressure_down[i] = given.wind[i, k] + head
    ahead = at.pressure_down[i] - given.added[i, k]
    # Its mean static pressure, gauge, presses the gas.
    head = 0.5 * (flow / area) ** 2 * run[i, VOLUME_MEAN]
    outdoors = given.outdoor_density[k] * thin_air
    drawn = run[i, LOSS] + run[i, ACCELERATION] - GRAVITY * rise * (outdoors - run[i, DENSITY])
    gauge = ahead - head + 0.5 * drawn
    denser = np.maximum(1.0 + gauge / (tree.pressure * thin_air), LEAST_PRESSED)
    at.pressed[i] = denser
    run[i, DENSITY] *= denser
    for row in (VOLUME_MEAN, VOLUME_IN, VOLUME_OUT, LOSS, ACCELERATION):
        run[i, row] /= denser
    at.draft[i] = GRAVITY * rise * (outdoors - run[i, DENSITY])
    at.pressure_up[i] = ahead + run[i, LOSS] + run[i, ACCELERATION] - at.draft[i]


@part
def _into_legs(tree, given, k, i, at):
    """Pressure at the downstream ends of the sections that lead into section i."""
    run, branch = tree.run[i], tree.branch[i]
    if branch < 0:
        if run >= 0:
            at.pressure_down[run] = at.pressure_up[i]
        return
    numbers, case, pressed = tree.numbers, given.case[k], at.pressed[i]
    a, b, c = numbers[case, i, FORM], numbers[case, i, FORM + 1], numbers[case, i, FORM + 2]
    d, e, f = numbers[case, i, FORM + 3], numbers[case, i, FORM + 4], numbers[case, i, FORM + 5]
    combined = at.run[i, VOLUME_IN]
    branch_flow, branch_volume = _at_end(at, branch, pressed)
    run_flow, run_volume = 0.0, combined
    if run >= 0:
        run_flow, run_volume = _at_end(at, run, pressed)
    volumes, form = (branch_volume, run_volume, combined), junctions.Coefficients(a, b, c, d, e, f)
    legs = junctions.leg_pressures(form, volumes, numbers[case, i, AREA], branch_flow, run_flow)
    for row in range(6):
        at.legs[i, row] = legs[row]
    at.pressure_down[branch] = at.pressure_up[i] + legs[0]
    if run >= 0:
        at.pressure_down[run] = at.pressure_up[i] + legs[1]


@part
def _at_end(at, i, pressed):
    """Flow [kg/s] and volume [m3/kg] at a section's downstream end, the gas ``pressed`` as the stream it joins."""
    left = 1.0 - at.run[i, DRAINED] if at.flow[i] > 0.0 else 1.0
    return at.flow[i] * left, at.run[i, VOLUME_OUT] / (left * left * pressed)


@law
def greatest_flow(tree, given, k, a, at, pressure):
    """Flow [kg/s] that a pressure could drive through the way in and the first section of appliance a alone."""
    first, resistance = tree.fed[a], given.resistance[a, k]
    if not np.isfinite(resistance):
        return 0.0
    area = tree.numbers[given.case[k], first][AREA]
    own = at.run[first, FACTOR] * at.run[first, VOLUME_MEAN] / (2.0 * area * area)
    return np.sqrt(np.abs(pressure) / (resistance + own))


@law
def drawn_at_first(tree, given, k, a, at):
    """Half of what [kg/s] the pressures of a shut vent would draw through the way in and the first section alone."""
    pull = given.room_gauge[a, k] - at.pressure_up[tree.fed[a]] - tree.ways[THRESHOLD, a]
    return 0.5 * np.sign(pull) * greatest_flow(tree, given, k, a, at, pull)
