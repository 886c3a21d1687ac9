"""Derived limits: the high and the low limit of one job, which act before any outlet leaves its window.

And which stop no good start.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from ventcalc.draft import common_window, error_spread, sensor_error, sensor_location
from ventcalc.draft.closed_loop import Runs
from ventcalc.draft.limit_switches import lasting
from ventcalc.draft.start_settings import Settings, sensor_end, usual_setting
from ventcalc.job.failures import SETTLED
from ventcalc.job.job_file import Job
from ventcalc.job.margins import SENSOR_ACCURACY
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.run_record import BRIEF
from ventcalc.units import Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.words import say

CANDIDATES = 61  # pressures tried for a limit
KEEPS_CLEAR = 0.5  # Pa between the highest steady pressure and a limit, beside the sensor's error: what gauges read
NO_ROOM, TRIPS_A_START, TOO_SLOW = "no_room", "trips_a_start", "too_slow"


@dataclass(frozen=True)
class DerivedLimit:
    """A limit of this job, and why; pressures at the end of the header [Pa], times [s].

    ``edge``: where the first outlet leaves its window, that of ``appliance`` in ``state`` (a column of the remedy's
    scan); ``error`` of sensor and tap on that side; ``normal``: the farthest that it stands at rest. ``needs``: the
    longest that a good start keeps it beyond ``pressure``; ``has``: from there to the first outlet outside its window,
    where a sensor that fails is seen by nothing else; ``soonest``: the same in any failure (inf: none gets so far).
    ``codes``: `NO_ROOM` no pressure lies between normal and edge with the sensor's error on both sides;
    `TRIPS_A_START` the delay is shorter than a good start needs; `TOO_SLOW` in some failure an outlet is outside before
    the delay is over.
    """

    pressure: float
    delay: float
    edge: float
    appliance: str
    state: int
    error: float
    normal: float
    needs: float
    has: float
    soonest: float
    codes: tuple[str, ...]


@dataclass(frozen=True)
class DerivedLimits:
    """High and low limit of the header and below which pressure draft is ``proof`` [Pa].

    ``unproved``: the longest [s] that a good start keeps the header above it, for which it may ``wait`` so long [s].
    """

    high: DerivedLimit
    low: DerivedLimit
    proof: float
    unproved: float
    wait: float

    @property
    def fits(self) -> bool:
        """Whether both stand between what is normal and the first window, and no good start trips."""
        return not {NO_ROOM, TRIPS_A_START} & {*self.high.codes, *self.low.codes}

    @property
    def loses_proof(self) -> bool:
        """Whether a good start loses its proof that the high limit would let pass."""
        return self.unproved > self.wait and not {NO_ROOM, TRIPS_A_START} & {*self.high.codes}


def derived(
    job: Job, outcome: Outcome, settings: Settings, starts: Runs, unseen: Sequence[int], failing: Runs
) -> DerivedLimits:
    """The limits of a job from its remedy's scan, its starts and what fails; ``unseen``: the runs of ``failing`` that
    the limits alone can see."""
    scan, window = outcome.scan, common_window.common_window(outcome.scan)
    # Where the control misses its set point the remedy itself falls short, and no limit of pressure could tell.
    held_there = scan.any_running & ~outcome.held.missed.any(axis=0)
    held_there = held_there if held_there.any() else scan.any_running
    lowest, highest = np.where(held_there, window.lowest, -inf), np.where(held_there, window.highest, inf)
    low, high = (np.unravel_index(at, lowest.shape) for at in (lowest.argmax(), highest.argmin()))
    pressure = end_of_header.header_pressure(scan)[held_there]
    read_low, read_high = _sensor_errors(scan, settings)
    names, held = [a.name for a in scan.plant.appliances], float(settings.set_point.m_as("Pa"))
    running = (starts.codes > 0.0).any(axis=0)

    def limit(side: float, edge: float, at: tuple[int, int], error: float, delay: str) -> DerivedLimit:
        """Worked out upside down for the low limit, so that beyond is always above."""
        normal, edge = float((side * pressure).max()), side * edge
        reach = side * float((settings.sensor_most if side > 0.0 else settings.sensor_least).m_as("Pa"))
        least, most = normal + KEEPS_CLEAR + error, min(edge, reach) - error
        codes = [NO_ROOM] if least > most else []
        # Where none fits: halfway from what is normal to the edge; beyond the edge only where the set point is, too.
        between = max(0.5 * (normal + edge), side * held + KEEPS_CLEAR)
        levels = np.linspace(least, most, CANDIDATES) if not codes else np.array([between])
        needs = np.array([_longest(starts, running & (side * starts.pressure > level)) for level in levels])
        leaves = _leaves(failing, side)
        left = np.array([_time_left(failing, side, level, leaves) for level in levels])
        has, soonest = left[:, list(unseen)].min(axis=1, initial=inf), left.min(axis=1, initial=inf)
        longest = float(usual_setting(delay, "most").m_as("s"))
        room = np.minimum(has, longest) - needs
        best = levels.size - 1 - int(room[::-1].argmax())  # of equal ones the farthest: it trips least for nothing
        allowed = float(np.clip(has[best], BRIEF, longest))
        chosen = min(max(0.5 * (needs[best] + allowed), BRIEF), allowed)
        # A switch is set in whole seconds; where none of them serves, in parts.
        chosen = float(np.round(chosen)) if needs[best] <= np.round(chosen) <= allowed else chosen
        codes += [TRIPS_A_START] if needs[best] > chosen else []
        codes += [TOO_SLOW] if soonest[best] < chosen else []
        return DerivedLimit(
            pressure=side * float(levels[best]),
            delay=float(chosen),
            edge=side * edge,
            appliance=names[int(at[0])],
            state=int(at[1]),
            error=error,
            normal=side * normal,
            needs=float(needs[best]),
            has=float(has[best]),
            soonest=float(soonest[best]),
            codes=tuple(codes),
        )

    above = limit(1.0, float(highest[high]), high, read_low, "high_delay")
    below = limit(-1.0, float(lowest[low]), low, read_high, "low_delay")
    usual, wait = float(settings.proof.m_as("Pa")), settings.seconds("proof_delay")
    proof, unproved = proof_of_draft(held, above.pressure, usual, starts, wait)
    return DerivedLimits(above, below, proof, unproved, wait)


def proof_of_draft(held: float, high: float, usual: float, starts: Runs, wait: float) -> tuple[float, float]:
    """Below which pressure [Pa] draft counts as proved: between the set point ``held`` and the ``high`` limit. With it
    the longest [s] that a good start stays above it.

    The ``usual`` one where it lies there, else the middle; higher where a good start would stay beyond it for longer
    than its ``wait`` [s], and so lose the proof. Of a set point under draft it stays under draft: a vent at a
    stand, at no pressure at all, proves nothing.
    """
    high = min(high, 0.0) if held < 0.0 else high
    least = usual if held < usual < high else 0.5 * (held + high)
    running = (starts.codes > 0.0).any(axis=0)
    found = (
        (float(level), _longest(starts, running & (starts.pressure > level)))
        for level in np.linspace(least, high, CANDIDATES, endpoint=False)
    )
    first = next(found)
    return first if first[1] <= wait else next((one for one in found if one[1] <= wait), first)


def _sensor_errors(scan: Scan, settings: Settings) -> tuple[float, float]:
    """By how much [Pa] a sensor at the first tap of the list may read too low, and too high; neither less than 0."""
    span = [float(getattr(settings, n).m_as("Pa")) for n in ("sensor_least", "sensor_most")]
    own = float(sensor_error.span_error.bare(*span, SENSOR_ACCURACY))
    tap = error_spread.errors(scan, sensor_location.taps(scan.plant)[0])
    return max(own - tap.low, 0.0), max(own + tap.high, 0.0)


def _longest(runs: Runs, true: np.ndarray) -> float:
    """The longest [s] that something stays true without a break in any run (times, runs)."""
    step = float(runs.time[1] - runs.time[0])
    return float(lasting(true, step, -step).max(initial=0.0)) + step if true.any() else 0.0


def _leaves(runs: Runs, side: float) -> np.ndarray:
    """Place in time at which in every failing run the first outlet leaves its window on a side for longer than `BRIEF`;
    -1 where none does so."""
    since, step = runs.time >= SETTLED, float(runs.time[1] - runs.time[0])
    edges = [max(side * float(w.m_as("Pa")) for w in a.window) for a in runs.devices.plant.appliances]
    out = np.zeros(runs.pressure.shape, bool)
    for edge, pressure, code in zip(edges, runs.outlets, runs.codes, strict=True):
        outside = since[:, None] & (side * pressure > edge) & (code > 0.0)
        out |= lasting(outside, step, 0.0) > BRIEF
    first = np.maximum(out.argmax(axis=0) - round(BRIEF / step), 0)
    return np.where(out.any(axis=0), first, -1)


def _time_left(runs: Runs, side: float, level: float, leaves: np.ndarray) -> np.ndarray:
    """Time [s] in every failing run for which the header has been beyond a level without a break when the first outlet
    ``leaves`` its window on that side (`_leaves`); inf where none does so."""
    since, step = runs.time >= SETTLED, float(runs.time[1] - runs.time[0])
    beyond = lasting(since[:, None] & (side * runs.pressure > level), step, 0.0)
    return np.where(leaves >= 0, beyond[leaves, np.arange(leaves.size)], inf)


_APART = Q_(0.25, "Pa")  # that settings keep from one another, where nothing else parts them


def with_limits(settings: Settings, limits: DerivedLimits) -> Settings:
    """The settings with the limits of the job in their place.

    Where none fits (`NO_ROOM`) they may lie on the wrong side of the set point; then they stand just beside it.
    """
    gap, held = float(_APART.m_as("Pa")), float(settings.set_point.m_as("Pa"))
    low = min(limits.low.pressure, held - gap)
    high = max(limits.high.pressure, held + 2.0 * gap)
    proof = float(np.clip(limits.proof, held + gap, high - gap))
    least, most = (sensor_end(Q_(end + gap, "Pa")) for end in (-low, high))
    return replace(
        settings,
        high_limit=Q_(high, "Pa").to("inH2O"),
        low_limit=Q_(low, "Pa").to("inH2O"),
        high_delay=Q_(limits.high.delay, "s"),
        low_delay=Q_(limits.low.delay, "s"),
        proof=Q_(proof, "Pa").to("inH2O"),
        sensor_least=min(settings.sensor_least, -least),
        sensor_most=max(settings.sensor_most, most),
    )


def reasons(limits: DerivedLimits, system: str = "US") -> dict[str, str]:
    """Why the limits of a job are what they are, by the name of the setting: for `startup_sheet.startup_sheet`."""
    found = {"proof": say("job", "limits", "proof")}
    for name, limit in (("high", limits.high), ("low", limits.low)):
        figures = {part: Q_(getattr(limit, part), "Pa") for part in ("edge", "error", "normal")}
        fits = "none fits" if NO_ROOM in limit.codes else "limit"
        found[f"{name}_limit"] = say("job", "limits", fits, system, appliance=limit.appliance, **figures)
        has = "delay, never" if limit.has == inf else "delay"
        found[f"{name}_delay"] = say("job", "limits", has, system, needs=limit.needs, has=limit.has)
    return found
