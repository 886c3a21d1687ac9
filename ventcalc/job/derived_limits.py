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
from ventcalc.units import Q_, Quantity
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


@dataclass(frozen=True)
class _Side:
    """Where one limit may lie: pressures [Pa] at the end of the header, all with their ``sign`` turned for the low
    limit, so that beyond is always above.

    ``edge``: where the first outlet leaves its window, that ``at`` an (appliance, column); ``error`` of the sensor that
    reads too near to normal, ``reach`` the end of its range; ``normal``: the farthest at rest; ``held``: the set point.
    """

    sign: float
    edge: float
    at: tuple[int, int]
    error: float
    reach: float
    normal: float
    held: float

    @property
    def has_room(self) -> bool:
        """Whether something lies between normal and edge with the sensor's error on both sides."""
        return self._ends[0] <= self._ends[1]

    @property
    def _ends(self) -> tuple[float, float]:
        return self.normal + KEEPS_CLEAR + self.error, min(self.edge, self.reach) - self.error

    @property
    def levels(self) -> np.ndarray:
        """Pressures to try; where none fits one: halfway to the edge, and beyond that only where the set point is."""
        if self.has_room:
            return np.linspace(*self._ends, CANDIDATES)
        return np.array([max(0.5 * (self.normal + self.edge), self.held + KEEPS_CLEAR)])


def derived(
    job: Job, outcome: Outcome, settings: Settings, starts: Runs, unseen: Sequence[int], failing: Runs
) -> DerivedLimits:
    """The limits of a job from its remedy's scan, its starts and what fails; ``unseen``: the runs of ``failing`` that
    the limits alone can see."""
    low, high = _sides(outcome, settings)
    names = [a.name for a in outcome.scan.plant.appliances]
    longest = [float(usual_setting(name, "most").m_as("s")) for name in ("low_delay", "high_delay")]
    below = _limit(low, names, longest[0], starts, unseen, failing)
    above = _limit(high, names, longest[1], starts, unseen, failing)
    usual, wait = float(settings.proof.m_as("Pa")), settings.seconds("proof_delay")
    proof, unproved = proof_of_draft(high.held, above.pressure, usual, starts, wait)
    return DerivedLimits(above, below, proof, unproved, wait)


def _sides(outcome: Outcome, settings: Settings) -> tuple[_Side, _Side]:
    """Where the low and the high limit may lie."""
    scan, window = outcome.scan, common_window.common_window(outcome.scan)
    # Where the control misses its set point the remedy itself falls short, and no limit of pressure could tell.
    counts = scan.any_running & ~outcome.held.missed.any(axis=0)
    counts = counts if counts.any() else scan.any_running
    pressure, set_point = end_of_header.header_pressure(scan)[counts], float(settings.set_point.m_as("Pa"))
    reads_low, reads_high = _sensor_errors(scan, settings)

    def side(sign: float, edges: np.ndarray, error: float, reach: Quantity) -> _Side:
        edges = np.where(counts, sign * edges, inf)
        at = np.unravel_index(edges.argmin(), edges.shape)
        normal = float((sign * pressure).max())
        own = (int(at[0]), int(at[1])), error, sign * float(reach.m_as("Pa"))
        return _Side(sign, float(edges[at]), *own, normal, sign * set_point)

    low = side(-1.0, window.lowest, reads_high, settings.sensor_least)
    return low, side(1.0, window.highest, reads_low, settings.sensor_most)


def _limit(
    s: _Side, names: Sequence[str], longest: float, starts: Runs, unseen: Sequence[int], failing: Runs
) -> DerivedLimit:
    """The pressure that leaves most time between what a good start needs and what a failure has, and its delay."""
    levels, leaves = s.levels, _leaves(failing, s.sign)
    running = (starts.codes > 0.0).any(axis=0)
    needs = np.array([_longest(starts, running & (s.sign * starts.pressure > level)) for level in levels])
    left = np.array([_time_left(failing, s.sign, level, leaves) for level in levels])
    has, soonest = left[:, list(unseen)].min(axis=1, initial=inf), left.min(axis=1, initial=inf)
    room = np.minimum(has, longest) - needs
    best = levels.size - 1 - int(room[::-1].argmax())  # of equal ones the farthest: it trips least for nothing
    delay = _delay(float(needs[best]), float(np.clip(has[best], BRIEF, longest)))
    told = (NO_ROOM, not s.has_room), (TRIPS_A_START, needs[best] > delay), (TOO_SLOW, soonest[best] < delay)
    return DerivedLimit(
        pressure=s.sign * float(levels[best]),
        delay=delay,
        edge=s.sign * s.edge,
        appliance=names[s.at[0]],
        state=s.at[1],
        error=s.error,
        normal=s.sign * s.normal,
        needs=float(needs[best]),
        has=float(has[best]),
        soonest=float(soonest[best]),
        codes=tuple(code for code, applies in told if applies),
    )


def _delay(needs: float, allowed: float) -> float:
    """Half way between what a good start needs and what is allowed [s]; a switch is set in whole seconds, where none of
    them serves in parts."""
    middle = min(max(0.5 * (needs + allowed), BRIEF), allowed)
    whole = float(np.round(middle))
    return whole if needs <= whole <= allowed else middle


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
