"""Advection: gas that moves along a vent as a plug, from cell to cell, with fronts kept sharp.

What passes a face is the volume that flows there times what one volume holds on the side it comes from, with van Leer's
limited slopes (1974), so that mass, heat and water are kept to rounding.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop
from ventcalc.vent.gas_content import HEAT


@law
def _limited(one, other):
    """Van Leer's limited slope between two differences."""
    both = one * other
    return 2.0 * both / (one + other) if both > 0.0 else 0.0


@law
def _courants(flow, passed, half):
    """Half of what is left of a cell when what passes a face in one step has gone, of every face, into ``half``."""
    for f in range(flow.size):
        half[f] = 0.5 * (1.0 - np.abs(flow[f]) * np.maximum(passed[f], passed[f + 1]))


class Ends(NamedTuple):
    """Where sections begin, meet and end: those fields of a `column_grid.Grid`."""

    first: np.ndarray
    last: np.ndarray
    children: np.ndarray
    fed: np.ndarray
    roots: np.ndarray
    inward: np.ndarray
    parents: np.ndarray
    alone: np.ndarray


@law
def _slopes(q, real, slope):
    """Slopes of what the cells hold, into ``slope``."""
    for i in range(1, q.size - 1):
        if real[i]:
            slope[i] = _limited(q[i] - q[i - 1], q[i + 1] - q[i])


@law
def _junctions(q, flow, half, slope, at, leaving, out):
    """What stands before the upstream end of every section: streams that meet mix by volume of what they hold."""
    for s in range(at.first.size):
        end = at.last[s]
        out[s] = np.maximum(flow[end], 0.0)
        leaving[s] = out[s] * (q[end] + half[end] * slope[end])
    for s in range(at.first.size):
        straight, branch = at.children[:, s]
        if straight == at.first.size:
            continue
        begin = at.first[s] - 1
        back = np.maximum(-flow[begin], 0.0)
        returning = back * (q[begin + 1] - half[begin] * slope[begin + 1])
        volume = out[straight] + out[branch] + back
        mixed = leaving[straight] + leaving[branch] + returning
        q[begin] = mixed / volume if volume > 0.0 else q[begin + 1]


@law
def _openings(q, flow, at, inlet, outdoor):
    """What stands at the appliances, before the downstream end of every section, and outdoors."""
    for a in range(at.fed.size):
        begin = at.first[at.fed[a]] - 1
        q[begin] = inlet[a] if flow[begin] > 0.0 else q[begin + 1]
    # Where gas leaves, what stands beyond only bends the slope: what follows in a straight line may, all else not.
    for k in range(at.inward.size):
        end, following = at.last[at.inward[k]], at.first[at.parents[k]]
        into = q[following] if at.alone[k] else q[end]
        q[end + 1] = into if flow[end] > 0.0 else q[following - 1]
    for k in range(at.roots.size):
        end = at.last[at.roots[k]]
        q[end + 1] = q[end] if flow[end] > 0.0 else outdoor


@law
def _faces(q, flow, half, slope, face):
    """What passes every face in a second, into ``face``."""
    for f in range(face.size):
        side = q[f] + half[f] * slope[f] if flow[f] > 0.0 else q[f + 1] - half[f] * slope[f + 1]
        face[f] = side * flow[f]


@law
def _book(face, part, at, entered, left):
    """Add what has entered at the appliances and left at the terminations."""
    for a in range(at.fed.size):
        entered[a] += part * face[at.first[at.fed[a]] - 1]
    for k in range(at.roots.size):
        left[k] += part * face[at.last[at.roots[k]]]


@loop
def transport(
    content, flows, parts, part, per_volume, real, at, inlet, outdoor, cooled, place, run, taken, entered, left
):
    """Advance what every volume holds by ``parts`` of a step, each ``part`` [s] long; ``at``: the `Ends`.

    ``cooled`` [J/m3] (places, runs) leaves the gas in each part, and ``taken`` (contents, cells) with the water that
    goes onto the walls, in the cells ``place`` and ``run``.
    """
    places = content.shape[1]
    passed = part * per_volume
    slope, face, half = np.zeros(places), np.empty(places - 1), np.empty(places - 1)
    leaving, out = np.zeros(at.first.size + 1), np.zeros(at.first.size + 1)  # the last: of no section
    # Each run and each content goes its own way: worked out on rows that lie together in memory.
    q, flow, lost = np.empty(places), np.empty(places - 1), np.zeros(places)
    for r in range(content.shape[2]):
        flow[:] = flows[:, r]
        _courants(flow, passed, half)
        wet = np.flatnonzero(run == r)
        for c in range(content.shape[0]):
            q[:] = content[c, :, r]
            lost[:] = 0.0
            for k in wet:
                lost[place[k]] += taken[c, k]
            if c == HEAT:
                lost += cooled[:, r]
            for _ in range(parts):
                _slopes(q, real, slope)
                _junctions(q, flow, half, slope, at, leaving, out)
                _openings(q, flow, at, inlet[c, :, r], outdoor[c, r])
                _faces(q, flow, half, slope, face)
                _book(face, part, at, entered[c, :, r], left[c, :, r])
                for i in range(1, places - 1):
                    q[i] -= passed[i] * (face[i] - face[i - 1]) + lost[i]
            content[c, :, r] = q
