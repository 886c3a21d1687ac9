"""Newton's method on a vent: by how much the flows drawn from the rooms must change to close every mismatch.

Because every subtree meets the rest through one pressure, the equations are eliminated from the leaves to the root: the
work grows as the number of sections, not as its cube. What the flows are in the end is told by the `pressure_balance`
alone; a slope that is not exact costs steps, not accuracy. Plain SI, one state at a time, compiled; `step` goes through
many.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop, put
from ventcalc.units import GRAVITY
from ventcalc.vent.cooling import (
    COOLING,
    DENSITY,
    EXCESS,
    FACTOR,
    FILM_POWER,
    FILM_SHARE,
    LOSS,
    MEAN,
    STILL_FLOW,
    VOLUME_MEAN,
    VOLUME_OUT,
)
from ventcalc.vent.dilution_air import opening_flow
from ventcalc.vent.heat_balance import of_state
from ventcalc.vent.network import AREA, END_LOSS, LENGTH, RISE, THRESHOLD, Network
from ventcalc.vent.pressure_balance import PressureBalance, greatest_flow

LEAST = 0.1  # what is divided by is no less


class Elimination(NamedTuple):
    """Room for one `step_of`, and the ``change`` of every flow drawn that it finds: ``back_by_flow`` and ``below`` of
    every section, and its ``lines`` (5, sections, 2)."""

    change: np.ndarray
    back_by_flow: np.ndarray
    below: np.ndarray
    lines: np.ndarray


class Line(NamedTuple):
    """A straight line against the one pressure at a subtree's root end."""

    slope: float
    offset: float


# Rows of what is linear in the pressure at a section's downstream end: the flow that it sends and its temperature, and
# the pressure at its upstream end; and, there, of a junction's run and branch in the pressure behind it.
FLOW, HEAT, ABOVE, RUN, BRANCH = range(5)


def step(balance: PressureBalance, thermal: np.ndarray, inertia: np.ndarray | float = 0.0) -> np.ndarray:
    """`step_of` in all states of a balance (appliances, states); ``thermal`` and ``inertia`` (states)."""
    found = np.empty(balance.drawn.shape[::-1])
    inputs = np.array(np.broadcast_arrays(thermal, inertia, np.zeros(len(found))), float)
    _step_all(
        balance.network.tree, balance.boundary.given, balance.drawn.T.copy(), inputs, balance.at,
        elimination(balance.network), found,
    )  # fmt: skip
    return found.T


def elimination(network: Network) -> Elimination:
    """Room for a step."""
    sections = len(network.pipes)
    return Elimination(
        np.empty(len(network.fed_by)), np.empty(sections), np.empty(sections), np.empty((5, sections, 2))
    )


@loop
def _step_all(tree, given, drawn, inputs, whole, room, found):
    for k in range(found.shape[0]):
        step_of(tree, given, k, drawn[k], of_state(whole, k), inputs[0, k], inputs[1, k], room)
        put(found[k], room.change)


@law
def step_of(tree, given, k, drawn, at, thermal, inertia, room):
    """The change of the flows ``drawn`` in the state ``k`` that would close every mismatch if all were linear.

    It is left in ``room.change``. ``thermal`` is 1.0 where temperatures answer the flows, 0.0 where they are held.
    With ``inertia`` [1/s], one over a step in time, the gas in every section resists: a step of implicit Euler
    (`roots`). What a subtree sends on, flow and temperature, is linear in the one pressure at its root end:
    gathered from the leaves to the root, and read back.
    """
    back_by_flow, lines = room.back_by_flow, room.lines
    back_by_flow[:] = 0.0
    _answer_backward(tree, at, back_by_flow)
    for i in range(at.flow.size):
        if tree.appliance[i] >= 0:
            flow, heat = _leaf(tree, given, k, tree.appliance[i], drawn, at)
        else:
            flow, heat = _joint(tree, i, at, lines)
        by_flow, by_heat, out_by_flow, out_by_heat = _slopes(tree, given, k, i, at, thermal, back_by_flow[i], inertia)
        gain = 1.0 / np.maximum(1.0 - by_flow * flow.slope - by_heat * heat.slope, LEAST)
        offset = gain * (by_flow * flow.offset + by_heat * heat.offset)
        flow = Line(flow.slope * gain, flow.slope * offset + flow.offset)
        heat = Line(heat.slope * gain, heat.slope * offset + heat.offset)
        warm = Line(
            out_by_heat * heat.slope + out_by_flow * flow.slope, out_by_heat * heat.offset + out_by_flow * flow.offset
        )
        _note(lines[FLOW, i], flow)
        _note(lines[HEAT, i], warm)
        _note(lines[ABOVE, i], Line(gain, offset))
    _read_back(tree, given, k, drawn, at, room)


@law
def _note(place, line):
    place[0], place[1] = line.slope, line.offset


@law
def _line(place):
    return Line(place[0], place[1])


@law
def _read_back(tree, given, k, drawn, at, room):
    """Changes of the drawn flows, from the pressure at the root on to those at the leaves."""
    lines, below, change = room.lines, room.below, room.change
    below[:] = 0.0
    for i in range(at.flow.size - 1, -1, -1):
        above, a = lines[ABOVE, i, 0] * below[i] + lines[ABOVE, i, 1], tree.appliance[i]
        if a >= 0:
            change[a] = 0.0
            if np.isfinite(at.slope[a]):
                whole = (at.mismatch[a] - above) / at.slope[a]
                # Near zero flow the equations are all but flat, and a whole step would go far beyond.
                reach = np.abs(drawn[a]) + 2.0 * greatest_flow(tree, given, k, a, at, at.mismatch[a])
                whole = np.minimum(np.maximum(whole, -reach), reach)
                change[a] = _stop_at_opening(tree.ways[THRESHOLD, a], given.resistance[a, k], drawn[a], whole)
        if tree.run[i] >= 0:
            below[tree.run[i]] = lines[RUN, i, 0] * above + lines[RUN, i, 1]
        if tree.branch[i] >= 0:
            below[tree.branch[i]] = lines[BRANCH, i, 0] * above + lines[BRANCH, i, 1]


@law
def _stop_at_opening(threshold, resistance, drawn, change):
    """A step that would pass the point where a regulator opens ends just beyond it: the slope jumps there."""
    if threshold == 0.0:
        return change
    opening = opening_flow(threshold, resistance)
    passes = (drawn - opening) * (drawn + change - opening) < 0.0
    return opening + np.sign(change) * 1e-3 * opening - drawn if passes else change


@law
def _leaf(tree, given, k, a, drawn, at):
    """Flow and temperature that enter the vent at an appliance, against the pressure there."""
    slope = at.slope[a]
    if not np.isfinite(slope):
        return Line(0.0, 0.0), Line(0.0, 0.0)
    flow = Line(-1.0 / slope, at.mismatch[a] / slope)
    total, cooler = np.maximum(given.prescribed[a, k] + drawn[a], STILL_FLOW), 0.0
    if drawn[a] > 0.0:
        cooler = (given.room[a, k] - at.upstream[tree.fed[a]]) / total
    return flow, Line(cooler * flow.slope, cooler * flow.offset)


@law
def _joint(tree, i, at, lines):
    """Flow and temperature that enter section i from the sections that lead into it; the way back into ``lines``."""
    run, branch = tree.run[i], tree.branch[i]
    if branch < 0:
        _note(lines[RUN, i], Line(1.0, 0.0))
        return _line(lines[FLOW, run]), _line(lines[HEAT, run])
    b, b_heat = _line(lines[FLOW, branch]), _line(lines[HEAT, branch])
    bb, br, rb, rr = at.legs[i, 2], at.legs[i, 3], at.legs[i, 4], at.legs[i, 5]
    if run < 0:
        gain = 1.0 / np.maximum(1.0 - b.slope * bb, LEAST)
        flow = Line(b.slope * gain, b.offset * gain)
        pressure = Line(1.0 + bb * flow.slope, bb * flow.offset)
        _note(lines[BRANCH, i], pressure)
        return flow, Line(b_heat.slope * pressure.slope, b_heat.slope * pressure.offset + b_heat.offset)
    r, r_heat = _line(lines[FLOW, run]), _line(lines[HEAT, run])
    det = (1.0 - b.slope * bb) * (1.0 - r.slope * rr) - b.slope * br * r.slope * rb
    inverse = 1.0 / (LEAST if np.abs(det) < LEAST else det)
    of_run, of_branch = 1.0 - r.slope * rr, 1.0 - b.slope * bb
    into_branch, into_run = b.slope * br, r.slope * rb
    b_flow = Line(
        inverse * (of_run * b.slope + into_branch * r.slope), inverse * (of_run * b.offset + into_branch * r.offset)
    )
    r_flow = Line(
        inverse * (of_branch * r.slope + into_run * b.slope), inverse * (of_branch * r.offset + into_run * b.offset)
    )
    b_pressure = Line(1.0 + bb * b_flow.slope + br * r_flow.slope, bb * b_flow.offset + br * r_flow.offset)
    r_pressure = Line(1.0 + rb * b_flow.slope + rr * r_flow.slope, rb * b_flow.offset + rr * r_flow.offset)
    _note(lines[RUN, i], r_pressure)
    _note(lines[BRANCH, i], b_pressure)
    # Temperature behind the junction: each leg's share of its own, and of the mix.
    b_on, r_on = np.maximum(at.flow[branch], 0.0), np.maximum(at.flow[run], 0.0)
    total = b_on + r_on + STILL_FLOW
    b_share, r_share = b_on / total, r_on / total
    b_pull = (at.downstream[branch] - at.upstream[i]) / total if b_on > 0.0 else 0.0
    r_pull = (at.downstream[run] - at.upstream[i]) / total if r_on > 0.0 else 0.0
    heat = Line(
        b_share * b_heat.slope * b_pressure.slope + b_pull * b_flow.slope
        + r_share * r_heat.slope * r_pressure.slope + r_pull * r_flow.slope,
        b_share * (b_heat.slope * b_pressure.offset + b_heat.offset) + b_pull * b_flow.offset
        + r_share * (r_heat.slope * r_pressure.offset + r_heat.offset) + r_pull * r_flow.offset,
    )  # fmt: skip
    return Line(b_flow.slope + r_flow.slope, b_flow.offset + r_flow.offset), heat


@law
def _slower(run, flow):
    """Slope [K s/kg] at which a section's excess temperature would rise with its flow if it were all lost.

    The film grows with a power of the flow in turbulence, so that cooling falls more slowly than flow rises.
    """
    size = np.maximum(np.abs(flow), STILL_FLOW)
    return run[EXCESS] * (1.0 - run[FILM_POWER] * run[FILM_SHARE]) / np.copysign(size, flow)


@law
def _answer_backward(tree, at, slopes):
    """Slope [K s/kg], against its own flow, of the temperature of gas that comes up a section from below.

    A trickle that runs backward through several sections cools in each of them; nought where flow is forward.
    """
    for i in range(at.flow.size - 1, -1, -1):
        if not at.flow[i] < 0.0:
            slopes[i] = 0.0
            continue
        cooling = at.run[i, COOLING]
        leaving = np.exp(-cooling) * (slopes[i] + _slower(at.run[i], at.flow[i]) * cooling)
        for c in (tree.run[i], tree.branch[i]):
            if c >= 0:
                slopes[c] = leaving


@law
def _slopes(tree, given, k, i, at, thermal, back_by_flow, inertia):
    """Slopes of a section's pressure fall and outlet temperature against its flow and inlet temperature."""
    run, flow, numbers = at.run[i], at.flow[i], tree.numbers[given.case[k], i]
    size, area = np.maximum(np.abs(flow), STILL_FLOW), numbers[AREA]
    by_flow = run[FACTOR] * size * run[VOLUME_MEAN] / (area * area) + inertia * numbers[LENGTH] / area
    if tree.parent[i] < 0:
        by_flow = by_flow + (1.0 + numbers[END_LOSS]) * size * run[VOLUME_OUT] / (area * area)
    left, number = np.exp(-run[COOLING]), np.maximum(run[COOLING], 1e-9)
    slower = _slower(run, flow)
    mean_by_heat = -np.expm1(-number) / number
    fall = (run[LOSS] - GRAVITY * numbers[RISE] * run[DENSITY]) / run[MEAN]
    warmed = fall * (slower * (mean_by_heat - left) + mean_by_heat * back_by_flow)
    # Warming that resists the flow steadies it and always counts; warming that drives it may be held.
    by_flow = by_flow + (warmed if warmed > 0.0 else thermal * warmed)
    forward = thermal if flow >= 0.0 else 0.0  # gas that runs backward comes from below
    return by_flow, forward * fall * mean_by_heat, forward * slower * run[COOLING] * left, forward * left
