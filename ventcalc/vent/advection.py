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
def _courant(flow, per_volume, face):
    """Half of what is left of a cell when what passes a face in one step has gone."""
    return 0.5 * (1.0 - np.abs(flow[face]) * np.maximum(per_volume[face], per_volume[face + 1]))


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
def _junctions(q, flow, passed, slope, at, leaving, out):
    """What stands before the upstream end of every section: streams that meet mix by volume of what they hold."""
    for s in range(at.first.size):
        end = at.last[s]
        out[s] = np.maximum(flow[end], 0.0)
        leaving[s] = out[s] * (q[end] + _courant(flow, passed, end) * slope[end])
    for s in range(at.first.size):
        straight, branch = at.children[:, s]
        if straight == at.first.size:
            continue
        begin = at.first[s] - 1
        back = np.maximum(-flow[begin], 0.0)
        returning = back * (q[begin + 1] - _courant(flow, passed, begin) * slope[begin + 1])
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
def _faces(q, flow, passed, slope, face):
    """What passes every face in a second, into ``face``."""
    for f in range(face.size):
        half = _courant(flow, passed, f)
        side = q[f] + half * slope[f] if flow[f] > 0.0 else q[f + 1] - half * slope[f + 1]
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
    slope, face = np.zeros(places), np.empty(places - 1)
    leaving, out = np.zeros(at.first.size + 1), np.zeros(at.first.size + 1)  # the last: of no section
    for _ in range(parts):
        for c in range(content.shape[0]):
            for r in range(content.shape[2]):
                q, flow = content[c, :, r], flows[:, r]
                _slopes(q, real, slope)
                _junctions(q, flow, passed, slope, at, leaving, out)
                _openings(q, flow, at, inlet[c, :, r], outdoor[c, r])
                _faces(q, flow, passed, slope, face)
                _book(face, part, at, entered[c, :, r], left[c, :, r])
                for i in range(1, places - 1):
                    q[i] -= passed[i] * (face[i] - face[i - 1])
                    if c == HEAT:
                        q[i] -= cooled[i, r]
                for k in range(place.size):
                    if run[k] == r:
                        q[place[k]] -= taken[c, k]
