"""Run record: read from a run in time: what every outlet met, and what would have shut the burners.

The runs are those of `closed_loop`: nothing acts in them, and what would have acted when is read from them. A burner is
taken to send what it sends whatever presses against it; above `STALL` no burner's blower does.
"""

from dataclasses import dataclass
from math import inf

import numpy as np

from ventcalc.draft.closed_loop import Runs
from ventcalc.draft.limit_switches import lasting
from ventcalc.draft.start_sequence import Event
from ventcalc.draft.start_settings import Settings

STALL = 2500.0  # Pa: no blower of a gas burner pushes against more (common practice, no source: ten inches of water)
# What is over sooner is the column's inertia, which no gauge or switch of an appliance answers, and no limit may (s;
# common practice, no source).
BRIEF = 1.0


@dataclass(frozen=True)
class Passed:
    """What one outlet met; plain SI.

    ``lowest`` and ``highest`` pressure [Pa] while its appliance ran (NaN where it did not); how far it was ``beyond``
    its window at most [Pa] and how long (``outside`` [s]), but for what is over within `BRIEF`: the swing of a stop;
    flue gas that came ``into_room`` there [kg].
    """

    appliance: str
    lowest: float
    highest: float
    beyond: float
    outside: float
    into_room: float


@dataclass(frozen=True)
class Act:
    """Something that would have shut the burners: the name of its `Event` and when, ``at`` [s]."""

    event: str
    at: float


def what_acts(settings: Settings, runs: Runs, k: int, since: float) -> tuple[Act, ...]:
    """What the header's pressure alone would bring to act, from a time [s] on."""
    pressure, reading = runs.pressure[:, k], runs.reading[:, k]
    counts = (runs.codes[:, :, k] > 0.0).any(axis=0) & (runs.time >= since)
    limit = {n: float(getattr(settings, n).m_as("Pa"))
             for n in ("high_limit", "low_limit", "proof", "sensor_least", "sensor_most")}  # fmt: skip
    ended = (reading <= limit["sensor_least"]) | (reading >= limit["sensor_most"])
    found = []
    for event, true, delay in (
        (Event.HIGH_PRESSURE, pressure > limit["high_limit"], "high_delay"),
        (Event.LOW_PRESSURE, pressure < limit["low_limit"], "low_delay"),
        (Event.PROOF_LOST, pressure > limit["proof"], "proof_delay"),
        (Event.SENSOR_FAILED, ended, "sensor_delay"),
    ):
        found += first_lasting(event, runs.time, counts & true, settings, delay, since)
    return tuple(sorted(found, key=lambda act: act.at))


def first_lasting(event: Event, time: np.ndarray, true: np.ndarray, settings: Settings, delay: str, since: float):
    """When something has first been true for its delay, counted from a time [s]; none where it never is."""
    over = np.flatnonzero(lasting(true, float(time[1] - time[0]), 0.0) > settings.seconds(delay))
    return [Act(event.name, float(time[over[0]]) - since)] if over.size else []


def what_outlets_met(runs: Runs, k: int, counts: np.ndarray) -> tuple[Passed, ...]:
    """What every outlet met at the times that count."""
    found, step = [], float(runs.time[1] - runs.time[0])
    first, last = np.flatnonzero(counts)[[0, -1]]
    for i, a in enumerate(runs.devices.plant.appliances):
        low, high = (float(w.m_as("Pa")) for w in a.window)
        pressure, counted = np.minimum(runs.outlets[i, :, k], STALL), counts & (runs.codes[i, :, k] > 0.0)
        beyond = np.maximum(low - pressure, pressure - high)
        beyond = np.where(_for_long(counted & (beyond > 0.0), step), beyond, 0.0)
        pressure = pressure[counted]
        found.append(
            Passed(
                appliance=a.name,
                lowest=float(pressure.min(initial=inf)) if pressure.size else np.nan,
                highest=float(pressure.max(initial=-inf)) if pressure.size else np.nan,
                beyond=float(beyond.max()),
                outside=step * float((beyond > 0.0).sum()),
                into_room=float(max(runs.spilled[i, last, k] - runs.spilled[i, first, k], 0.0)),
            )
        )
    return tuple(found)


def _for_long(true: np.ndarray, step: float) -> np.ndarray:
    """Where something is true for longer than `BRIEF` on end."""
    edges, found = np.diff(np.concatenate([[0], true.astype(int), [0]])), np.zeros(true.size, bool)
    for begin, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        found[begin:end] = (end - begin) * step > BRIEF + 1e-9
    return found
