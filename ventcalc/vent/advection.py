"""Advection: gas that moves along a vent as a plug, from cell to cell, with fronts kept sharp.

What passes a face is the volume that flows there times what one volume holds on the side it comes from, with van Leer's
limited slopes (1974), so that mass, heat and water are kept to rounding.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop


@law
def _limited(one, other):
    """Van Leer's limited slope between two differences."""
    both = one * other
    return 2.0 * both / (one + other) if both > 0.0 else 0.0


@law
def _courants(flow, passed, half):
    """Half of what is left of a cell when what passes a face in one step has gone, of every face, into ``half``."""
    for f in range(flow.shape[0]):
        most = np.maximum(passed[f], passed[f + 1])
        for r in range(flow.shape[1]):
            half[f, r] = 0.5 * (1.0 - np.abs(flow[f, r]) * most)


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
def _slopes(q, per_volume, slope):
    """Slopes of what the cells hold, into ``slope``."""
    for i in range(1, q.shape[0] - 1):
        if per_volume[i] > 0.0:  # not a border
            for r in range(q.shape[1]):
                slope[i, r] = _limited(q[i, r] - q[i - 1, r], q[i + 1, r] - q[i, r])


@law
def _junctions(q, flow, half, slope, at, leaving, out):
    """What stands before the upstream end of every section: streams that meet mix by volume of what they hold."""
    for s in range(at.first.size):
        end = at.last[s]
        for r in range(q.shape[1]):
            out[s, r] = np.maximum(flow[end, r], 0.0)
            leaving[s, r] = out[s, r] * (q[end, r] + half[end, r] * slope[end, r])
    for s in range(at.first.size):
        straight, branch = at.children[:, s]
        if straight == at.first.size:
            continue
        begin = at.first[s] - 1
        for r in range(q.shape[1]):
            back = np.maximum(-flow[begin, r], 0.0)
            returning = back * (q[begin + 1, r] - half[begin, r] * slope[begin + 1, r])
            volume = out[straight, r] + out[branch, r] + back
            mixed = leaving[straight, r] + leaving[branch, r] + returning
            q[begin, r] = mixed / volume if volume > 0.0 else q[begin + 1, r]


@law
def _openings(q, flow, at, inlet, outdoor):
    """What stands at the appliances, before the downstream end of every section, and outdoors."""
    for r in range(q.shape[1]):
        for a in range(at.fed.size):
            begin = at.first[at.fed[a]] - 1
            q[begin, r] = inlet[a, r] if flow[begin, r] > 0.0 else q[begin + 1, r]
        # Where gas leaves, what stands beyond only bends the slope: what follows in a straight line may, all else not.
        for k in range(at.inward.size):
            end, following = at.last[at.inward[k]], at.first[at.parents[k]]
            into = q[following, r] if at.alone[k] else q[end, r]
            q[end + 1, r] = into if flow[end, r] > 0.0 else q[following - 1, r]
        for k in range(at.roots.size):
            end = at.last[at.roots[k]]
            q[end + 1, r] = q[end, r] if flow[end, r] > 0.0 else outdoor[r]


@law
def _faces(q, flow, half, slope, face):
    """What passes every face in a second, into ``face``."""
    for f in range(face.shape[0]):
        for r in range(face.shape[1]):
            before = q[f, r] + half[f, r] * slope[f, r]
            behind = q[f + 1, r] - half[f, r] * slope[f + 1, r]
            face[f, r] = (before if flow[f, r] > 0.0 else behind) * flow[f, r]


@law
def _book(face, part, at, entered, left):
    """Add what has entered at the appliances and left at the terminations."""
    for r in range(face.shape[1]):
        for a in range(at.fed.size):
            entered[a, r] += part * face[at.first[at.fed[a]] - 1, r]
        for k in range(at.roots.size):
            left[k, r] += part * face[at.last[at.roots[k]], r]


class Room(NamedTuple):
    """Room to work in: of every place what has ``passed``, ``slope`` (places, runs), ``face`` and ``half`` of every
    face, ``leaving`` and ``out`` of every section, and behind the last of none. The runs lie together in memory."""

    passed: np.ndarray
    slope: np.ndarray
    face: np.ndarray
    half: np.ndarray
    leaving: np.ndarray
    out: np.ndarray


def room(places: int, sections: int, runs: int) -> Room:
    """Room for a `transport`; what stays nought (slopes at borders, what no section sends) is nought here."""
    faces, ends = (places - 1, runs), (sections + 1, runs)
    return Room(np.empty(places), np.zeros((places, runs)), *np.empty((2, *faces)), *np.zeros((2, *ends)))


@loop
def transport(content, flow, parts, part, per_volume, at, inlet, outdoor, lost, entered, left, room):
    """Advance what every volume holds by ``parts`` of a step, each ``part`` [s] long; ``at``: the `Ends`.

    ``lost`` (contents, places, runs) is what a volume of gas gives to its wall in each part.
    """
    places, runs = content.shape[1:]
    passed, slope, face, half, leaving, out = room.passed, room.slope, room.face, room.half, room.leaving, room.out
    for i in range(places):
        passed[i] = part * per_volume[i]
    _courants(flow, passed, half)
    for c in range(content.shape[0]):
        q = content[c]
        for _ in range(parts):
            _slopes(q, per_volume, slope)
            _junctions(q, flow, half, slope, at, leaving, out)
            _openings(q, flow, at, inlet[c], outdoor[c])
            _faces(q, flow, half, slope, face)
            _book(face, part, at, entered[c], left[c])
            for i in range(1, places - 1):
                for r in range(runs):
                    q[i, r] -= passed[i] * (face[i, r] - face[i - 1, r]) + lost[c, i, r]
