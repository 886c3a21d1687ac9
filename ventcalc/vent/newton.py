"""Newton's method on a vent: by how much the flows drawn from the rooms must change to close every mismatch.

Because every subtree meets the rest through one pressure, the equations are eliminated from the leaves to the root: the
work grows as the number of sections, not as its cube. What the flows are in the end is told by the `PressureBalance`
alone; a slope that is not exact costs steps, not accuracy.
"""

import numpy as np

from ventcalc.units import GRAVITY
from ventcalc.vent.cooling import STILL_FLOW
from ventcalc.vent.network import Pipe
from ventcalc.vent.pressure_balance import PressureBalance


def step(balance: PressureBalance, thermal, inertia=0.0) -> list:
    """Changes of the drawn flows that would close every mismatch if all were linear.

    ``thermal`` (states) is 1.0 where temperatures answer the flows, 0.0 where they are held. With ``inertia``
    [1/s], one over a step in time, the gas in every section resists: a step of implicit Euler (`roots`).

    What a subtree sends on, flow and temperature, is linear in the one pressure at its root end: "flow"
    and "heat" below are (slope, offset) pairs against that pressure. They are gathered from the leaves
    to the root and read back from the root to the leaves.
    """
    pipes, n = balance.network.pipes, len(balance.network.pipes)
    sent, through, joined = [None] * n, [None] * n, [None] * n
    back_by_flow = _backward_response(balance)
    for i, pipe in enumerate(pipes):
        if pipe.appliance >= 0:
            flow, heat = _leaf_response(balance, pipe.appliance)
        else:
            flow, heat, joined[i] = _joint_response(balance, i, pipe, sent)
        by_flow, by_heat, out_by_flow, out_by_heat = _slopes(balance, i, pipe, thermal, back_by_flow[i], inertia)
        gain = 1.0 / np.maximum(1.0 - by_flow * flow[0] - by_heat * heat[0], 0.1)
        offset = gain * (by_flow * flow[1] + by_heat * heat[1])
        through[i] = gain, offset
        flow = flow[0] * gain, flow[0] * offset + flow[1]
        heat = heat[0] * gain, heat[0] * offset + heat[1]
        sent[i] = flow, tuple(out_by_heat * h + out_by_flow * f for h, f in zip(heat, flow, strict=True))
    return _read_back(balance, through, joined)


def _read_back(balance: PressureBalance, through, joined) -> list:
    change = [np.zeros_like(d) for d in balance.drawn]
    below = [0.0] * len(through)
    for i in reversed(range(len(through))):
        pipe = balance.network.pipes[i]
        above = through[i][0] * below[i] + through[i][1]
        if pipe.appliance in balance.boundary.free:
            a = pipe.appliance
            whole = (balance.mismatch[a] - above) / balance.entry_slope[a]
            # Near zero flow the equations are all but flat, and a whole step would go far beyond.
            reach = np.abs(balance.drawn[a]) + 2.0 * balance.greatest_flow(a, balance.mismatch[a])
            change[a] = balance.boundary.stop_at_opening(a, balance.drawn[a], np.clip(whole, -reach, reach))
        ends = joined[i](above) if joined[i] else [above] * len(pipe.children)
        for c, pressure in zip(pipe.children, ends, strict=True):
            below[c] = pressure
    return change


def _leaf_response(balance: PressureBalance, i: int):
    if i not in balance.boundary.free:
        return (0.0, 0.0), (0.0, 0.0)
    slope = balance.entry_slope[i]
    flow = -1.0 / slope, balance.mismatch[i] / slope
    total = np.maximum(balance.boundary.prescribed[i] + balance.drawn[i], STILL_FLOW)
    row = balance.network.fed_by[i]
    cooler = np.where(balance.drawn[i] > 0.0, (balance.boundary.room[i] - balance.upstream[row]) / total, 0.0)
    return flow, (cooler * flow[0], cooler * flow[1])


def _joint_response(balance: PressureBalance, i: int, pipe: Pipe, sent):
    """Flow and temperature that enter section i from the sections that lead into it, and the way back."""
    if pipe.form is None:
        return *sent[pipe.children[0]], None
    _, _, bb, br, rb, rr = balance.legs[i]
    branch = pipe.children[-1]
    (b1, b0), b_heat = sent[branch]
    if len(pipe.children) == 1:
        gain = 1.0 / np.maximum(1.0 - b1 * bb, 0.1)
        flow = b1 * gain, b0 * gain
        pressure = 1.0 + bb * flow[0], bb * flow[1]
        heat = b_heat[0] * pressure[0], b_heat[0] * pressure[1] + b_heat[1]
        return flow, heat, lambda above: (pressure[0] * above + pressure[1],)
    (r1, r0), r_heat = sent[pipe.children[0]]
    det = (1.0 - b1 * bb) * (1.0 - r1 * rr) - b1 * br * r1 * rb
    inverse = 1.0 / np.where(np.abs(det) < 0.1, 0.1, det)
    branch_flow = tuple(inverse * ((1.0 - r1 * rr) * b + b1 * br * r) for b, r in ((b1, r1), (b0, r0)))
    run_flow = tuple(inverse * ((1.0 - b1 * bb) * r + r1 * rb * b) for b, r in ((b1, r1), (b0, r0)))
    branch_pressure = 1.0 + bb * branch_flow[0] + br * run_flow[0], bb * branch_flow[1] + br * run_flow[1]
    run_pressure = 1.0 + rb * branch_flow[0] + rr * run_flow[0], rb * branch_flow[1] + rr * run_flow[1]
    legs = (
        (branch, branch_flow, branch_pressure, b_heat),
        (pipe.children[0], run_flow, run_pressure, r_heat),
    )
    heat = _mixed_response(balance, i, legs)
    flow = branch_flow[0] + run_flow[0], branch_flow[1] + run_flow[1]
    back = (run_pressure, branch_pressure)
    return flow, heat, lambda above: tuple(p[0] * above + p[1] for p in back)


def _mixed_response(balance: PressureBalance, i: int, legs):
    """Temperature after a junction against the pressure there: each leg's share of its own, and of the mix."""
    forward = [np.maximum(balance.flow[c], 0.0) for c, *_ in legs]
    total = sum(forward) + STILL_FLOW
    slope = offset = 0.0
    for (c, flow, pressure, heat), own in zip(legs, forward, strict=True):
        share, pull = own / total, np.where(own > 0.0, (balance.downstream[c] - balance.upstream[i]) / total, 0.0)
        slope = slope + share * heat[0] * pressure[0] + pull * flow[0]
        offset = offset + share * (heat[0] * pressure[1] + heat[1]) + pull * flow[1]
    return slope, offset


def _slower(balance: PressureBalance, i: int):
    """Slope [K s/kg] at which a section's excess temperature would rise with its flow if it were all lost.

    The film grows with a power of the flow in turbulence, so that cooling falls more slowly than flow rises.
    """
    run, size = balance.runs[i], np.maximum(np.abs(balance.flow[i]), STILL_FLOW)
    return run.excess * (1.0 - run.film_power * run.film_share) / np.copysign(size, balance.flow[i])


def _backward_response(balance: PressureBalance) -> list:
    """Slope [K s/kg], against its own flow, of the temperature of gas that comes up a section from below.

    A trickle that runs backward through several sections cools in each of them; nought where flow is forward.
    """
    slopes = [0.0] * len(balance.flow)
    for i in reversed(range(len(balance.flow))):
        back = balance.flow[i] < 0.0
        if not back.any():
            slopes[i] = 0.0
            continue
        slopes[i] = np.where(back, slopes[i], 0.0)
        cooling = balance.runs[i].cooling
        leaving = np.where(back, np.exp(-cooling) * (slopes[i] + _slower(balance, i) * cooling), 0.0)
        for c in balance.network.pipes[i].children:
            slopes[c] = leaving
    return slopes


def _slopes(balance: PressureBalance, i: int, pipe: Pipe, thermal, back_by_flow, inertia):
    """Slopes of a section's pressure fall and outlet temperature against its flow and inlet temperature."""
    run = balance.runs[i]
    size = np.maximum(np.abs(balance.flow[i]), STILL_FLOW)
    area = balance.boundary.of(pipe.area)
    by_flow = run.factor * size * run.volume_mean / area**2 + inertia * pipe.length / area
    if pipe.parent < 0:
        by_flow = by_flow + (1.0 + balance.boundary.of(pipe.end_loss)) * size * run.volume_out / area**2
    left = np.exp(-run.cooling)
    number = np.maximum(run.cooling, 1e-9)
    slower = _slower(balance, i)
    mean_by_heat = -np.expm1(-number) / number
    fall = (run.loss - GRAVITY * pipe.rise * run.density) / run.mean
    warmed = fall * (slower * (mean_by_heat - left) + mean_by_heat * back_by_flow)
    # Warming that resists the flow steadies it and always counts; warming that drives it may be held.
    by_flow = by_flow + np.where(warmed > 0.0, warmed, thermal * warmed)
    forward = np.where(balance.flow[i] >= 0.0, thermal, 0.0)  # gas that runs backward comes from below
    return by_flow, forward * fall * mean_by_heat, forward * slower * run.cooling * left, forward * left
