"""Between levels: how far an outlet goes while burners modulate, beyond what it meets with each at one of its levels.

A scan holds every appliance at its levels alone. Between two of them pressure bends: loss grows with the square of the
flow, draft soon has most of what it can have. So from the worst condition of either end of every outlet each burner
that modulates, and then all of them together, are moved to `SHARES` of the way, with the devices at work. What is found
need not be the worst there is.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import held_pressure
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE, Envelope
from ventcalc.vent.solution import Solution

SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)  # of the way from a level to the next


@dataclass(frozen=True)
class Between:
    """An outlet that leaves its window between levels, and at none of them.

    ``pressure`` [Pa] there, ``beyond`` [Pa] past its ``limit`` [Pa], upward where ``high``; ``burners`` stand at a
    ``share`` of the way from their lowest to their highest level, all else is as in the column ``near`` of the scan.
    """

    appliance: str
    high: bool
    pressure: float
    beyond: float
    limit: float
    burners: tuple[str, ...]
    share: float
    near: int


def between(job: Job, outcome: Outcome) -> tuple[Between, ...]:
    """What outlets of a design meet between levels, where that is outside a window which they keep at every level."""
    scan = outcome.scan
    ends = [(i, high, e) for i, e in enumerate(outcome.envelopes) for high in (False, True) if _keeps(e, high)]
    tried = [(n, near, codes) for n, (_, high, e) in enumerate(ends) for near, codes in _moved(job, scan, e, high)]
    if not tried:
        return ()
    of, near, codes = (np.array(part) for part in zip(*tried, strict=True))
    solved, settled = _solved(job, outcome, near, codes.T)
    found = (_farthest(scan, solved, np.flatnonzero(settled & (of == n)), near, *end) for n, end in enumerate(ends))
    return tuple(b for b in found if b is not None)


def _keeps(e: Envelope, high: bool) -> bool:
    """Whether an outlet keeps one end of its window at every level."""
    return e.limits == "firing" and (e.above if high else e.below) == 0.0


def _moved(job: Job, scan: Scan, e: Envelope, high: bool) -> Iterator[tuple[int, np.ndarray]]:
    """Codes between levels around the worst condition of one end of an outlet, each with its column."""
    near = e.high_state if high else e.low_state
    codes = scan.states.codes[:, near].astype(float)
    spans = {
        k: (len(a.states) - len(a.levels), len(a.states) - 1)
        for k, a in enumerate(scan.plant.appliances)
        if job.year.staging.modulates[k] and codes[k] >= len(a.states) - len(a.levels)
    }
    alone = [
        {k: low + step + share} for k, (low, top) in spans.items() for step in range(top - low) for share in SHARES
    ]
    together = [{k: low + share * (top - low) for k, (low, top) in spans.items()} for share in SHARES]
    for changes in alone + (together if len(spans) > 1 else []):
        other = codes.copy()
        other[list(changes)] = list(changes.values())
        yield near, other


def _solved(job: Job, outcome: Outcome, near: np.ndarray, codes: np.ndarray) -> tuple[Solution, np.ndarray]:
    """The design in conditions like those of the columns ``near``, with other codes; and where it came to rest."""
    scan, held = outcome.scan, outcome.held
    states, begun = replace(scan.states[near], codes=codes), scan.solution.columns(near)
    if held is None:
        network = compile_network(scan.plant, scan.seasons)
        found = solve_network(network, states, None, begun.drawn)
        return found, found.converged
    total = len(scan.states)
    offsets = [np.broadcast_to(np.asarray(c.offset, float), (total,))[near] for c in held.controls]
    controls = tuple(replace(c, offset=o) for c, o in zip(held.controls, offsets, strict=True))
    start = (held.added + held.second)[:, near]
    anew = held_pressure.hold(scan.plant, scan.seasons, states, controls, start, begun.drawn, begun.outlets)
    return anew.solution, anew.settled


def _farthest(
    scan: Scan, solved: Solution, columns: np.ndarray, near: np.ndarray, i: int, high: bool, e: Envelope
) -> Between | None:
    """The farthest of some columns beyond one end of a window; None where it keeps it in all."""
    if not columns.size:
        return None
    side, limit = (1.0, e.window[1]) if high else (-1.0, e.window[0])
    beyond = side * (solved.outlet_pressure[i, columns] - limit)
    k = int(columns[beyond.argmax()])
    if not beyond.max() > READABLE:
        return None
    own, moved = solved.states.codes[:, k], solved.states.codes[:, k] != scan.states.codes[:, near[k]]
    first = int(np.flatnonzero(moved)[0])
    levels, states = len(scan.plant.appliances[first].levels), len(scan.plant.appliances[first].states)
    return Between(
        appliance=e.appliance,
        high=high,
        pressure=float(solved.outlet_pressure[i, k]),
        beyond=float(beyond.max()),
        limit=float(limit),
        burners=tuple(a.name for a, m in zip(scan.plant.appliances, moved, strict=True) if m),
        share=float((own[first] - (states - levels)) / (levels - 1)),
        near=int(near[k]),
    )
