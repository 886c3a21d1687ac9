"""Failures: what a remedy that holds the header does in every start, and when something fails, and which limit sees it.

A start is good only if it is good in every season and in every order in which the burners may be called; a remedy only
if what can fail on it is noticed before an outlet leaves its window, or at least before people are harmed. So all
orders are started in all seasons (`Start`), and then in each season a fan stops, the power fails, a damper sticks open
and shut, the sensor or its line fails while burners change, and a burner loses its flame (`Failure`). From the same
runs come the limits of this job (`DerivedLimits`): a high and a low one that act before any outlet leaves its window.

What befalls a vent that runs is tried from its governing states alone (`governing`): where the devices add most and
least of all calm states, and with all burners at their highest. `Coverage` says how many those are. The runs are those
of `closed_loop`: nothing acts in them, and what would have acted when is read from them. Everything stops being
counted when the burners would have been shut. Calm weather; outlet dampers stand open.

A burner is taken to send what it sends whatever presses against it. Above `STALL` no burner's blower does.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations
from math import factorial, inf

import numpy as np

from ventcalc.draft import closed_loop, common_window, error_spread, sensor_error, sensor_location
from ventcalc.draft.closed_loop import DAMPER_OPENS, DAMPER_SHUTS, FAN_STOPS, SENSOR_STILL, Fault, Runs
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.limit_switches import lasting
from ventcalc.draft.load_changes import LEAST_SPILL
from ventcalc.draft.start_sequence import Event
from ventcalc.draft.start_settings import Settings, sensor_end, usual_setting
from ventcalc.job import trial_run
from ventcalc.job.job_file import Job
from ventcalc.job.remedies import SENSOR_ACCURACY, Outcome
from ventcalc.job.trial_run import TrialRun
from ventcalc.units import Q_, show
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

ALL_ORDERS = 4  # appliances up to which every order of starting is run
SETTLED = 20.0  # s for which the loop runs before anything fails
LOAD_CHANGES = 5.0  # s after a sensor fails at which the burners change
LIGHT_OFF = 2.0  # s in which a burner that is off comes to its new level (as `load_changes.LIGHT`)
LONGEST = 65.0  # s after a failure to which it is followed; what has not acted by then is called never
OFF_POSITION = 0.1  # share of its stroke by which a damper may lag its signal (common practice, no source)
VALVE = 1.0  # s in which the safety valves of a burner shut (EN 161, from memory)
STALL = 2500.0  # Pa: no blower of a gas burner pushes against more (common practice, no source: ten inches of water)
BRIEF = 1.0  # s: what is over sooner is the column's inertia, which no gauge or switch of an appliance answers, and
# no limit may (common practice, no source)
CANDIDATES = 61  # pressures tried for a limit
KEEPS_CLEAR = 0.5  # Pa between the highest steady pressure and a limit, beside the sensor's error: what gauges read

FAN, POWER, OPEN, SHUT, STILL, BLOCKED, FLAME = CASES = (
    "fan_stops",
    "power_fails",
    "damper_sticks_open",
    "damper_sticks_shut",
    "sensor_freezes",
    "sensor_line_blocked",
    "flame_lost",
)


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


@dataclass(frozen=True)
class Start:
    """A start on cold walls in one ``season`` and one ``order`` of the appliances, with nothing wrong.

    It ``lasts`` [s]; ``header`` is the lowest and highest pressure at its end [Pa] from the first release on;
    ``acts`` are limits that would have stopped it for nothing.
    """

    season: str
    order: tuple[str, ...]
    lasts: float
    header: tuple[float, float]
    outlets: tuple[Passed, ...]
    acts: tuple[Act, ...]

    @property
    def beyond(self) -> float:
        """How far the worst outlet leaves its window [Pa]."""
        return max(o.beyond for o in self.outlets)

    @property
    def into_room(self) -> float:
        """Flue gas that comes into the room at all outlets [kg]."""
        return sum(o.into_room for o in self.outlets)


@dataclass(frozen=True)
class Failure:
    """Something that fails while burners run; times [s] from then on.

    ``case`` is one of `CASES`, at ``appliance`` where it befalls one ("" else); ``before`` and ``after`` name the
    states of all appliances, which differ where burners change after it. ``acts``: what would see it, soonest first,
    and ``shutdown`` when the first of them has shut every burner, its valves' time included (inf: never); ``limit``:
    when the high or the low limit would, alone. Outlets are counted until the shutdown; after a lost flame, which is
    not counted as one, for as long as the others run on. ``stalled``: a burner would have had to push against more than
    `STALL`, so that pressures are told no higher than that; its blower then no longer sends what is counted here, and
    gas comes out where it can.
    """

    case: str
    appliance: str
    season: str
    cold: bool
    before: tuple[str, ...]
    after: tuple[str, ...]
    acts: tuple[Act, ...]
    shutdown: float
    limit: float
    outlets: tuple[Passed, ...]
    stalled: bool

    @property
    def beyond(self) -> float:
        """How far the worst outlet leaves its window before the shutdown [Pa]."""
        return max(o.beyond for o in self.outlets)

    @property
    def outside(self) -> float:
        """How long [s] the outlet that is longest outside its window is so."""
        return max(o.outside for o in self.outlets)

    @property
    def into_room(self) -> float:
        """Flue gas that comes into the room at all outlets before the shutdown [kg]."""
        return sum(o.into_room for o in self.outlets)

    @property
    def unseen(self) -> bool:
        """Whether nothing ever shuts the burners though an outlet leaves its window or gas comes into the room."""
        return self.shutdown == inf and (self.beyond > 0.0 or self.into_room > LEAST_SPILL)


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
    """High and low limit of the header and below which pressure draft is ``proof`` [Pa]."""

    high: DerivedLimit
    low: DerivedLimit
    proof: float

    @property
    def fits(self) -> bool:
        """Whether both stand between what is normal and the first window, and no good start trips."""
        return not {NO_ROOM, TRIPS_A_START} & {*self.high.codes, *self.low.codes}


@dataclass(frozen=True)
class Coverage:
    """What was run of what there is: ``orders`` of ``possible`` in each of ``seasons``; governing ``states`` of all
    ``conditions`` of the remedy's scan; ``failures`` in all."""

    orders: int
    possible: int
    seasons: int
    states: int
    conditions: int
    failures: int


@dataclass(frozen=True)
class Tried:
    """All of it: every `Start`, every `Failure`, the `DerivedLimits`, and the start as called in the worst season, with
    these limits (``trial``)."""

    starts: tuple[Start, ...]
    failures: tuple[Failure, ...]
    limits: DerivedLimits
    trial: TrialRun
    coverage: Coverage

    @property
    def worst_start(self) -> Start:
        """The start that leaves a window farthest."""
        return max(self.starts, key=lambda s: (s.beyond, s.into_room))

    def worst(self, case: str) -> Failure | None:
        """The gravest failure of a kind: never seen, then most gas in the room, then longest and farthest outside."""
        own = [f for f in self.failures if f.case == case]
        return max(own, key=lambda f: (f.unseen, round(f.into_room, 6), f.outside, f.beyond), default=None)


def tried(job: Job, outcome: Outcome) -> Tried | None:
    """Start and fail a remedy in every way, and derive its limits; None where it does not hold the header."""
    remedy, scan = outcome.remedy, outcome.scan
    if remedy.set_point is None:
        return None
    settings, tuned = trial_run.tuned_settings(job, remedy)
    plans, starts = _all_starts(job, outcome, settings)
    cases, failing = _all_failures(job, outcome, settings)
    limits = derived(job, outcome, settings, starts, [i for i, c in enumerate(cases) if c[0] == STILL], failing)
    settings = with_limits(settings, limits)
    seasons = len(job.seasons)
    drawn = (trial_run.of_run(job, settings, tuned, plans[k], starts, k) for k in range(seasons))
    trial = trial_run.followed_on(job, remedy, max(drawn, key=lambda run: run.gravity))
    count = len(job.plant.appliances)
    states = {(c[2], *c[4]) for c in cases}
    return Tried(
        starts=tuple(_start(job, settings, plans[k], starts, k) for k in range(len(plans))),
        failures=tuple(f for k, case in enumerate(cases) for f in _failures(job, settings, case, failing, k)),
        limits=limits,
        trial=trial,
        coverage=Coverage(
            orders=len(plans) // seasons,
            possible=factorial(count),
            seasons=seasons,
            states=len(states),
            conditions=scan.count(scan.any_running),
            failures=len(cases) + sum(c[0] == STILL for c in cases),
        ),
    )


# --- Starts ---------------------------------------------------------------------------------------------------------


def orders(outcome: Outcome) -> tuple[tuple[int, ...], ...]:
    """The orders of starting that are run: as drawn first, and all of them up to `ALL_ORDERS` appliances.

    Beyond that those in which the worst is looked for: from the outlet of least margin to the one of most, the other
    way, from the largest input to the smallest, the other way, and each appliance brought to the front and put last.
    """
    count = len(outcome.remedy.plant.appliances)
    drawn = tuple(range(count))
    if count <= ALL_ORDERS:
        return tuple(permutations(drawn))
    margins = np.argsort([e.margin for e in outcome.envelopes], kind="stable").tolist()
    inputs = [float(max(lv.heat_input for lv in a.levels).m_as("W")) for a in outcome.remedy.plant.appliances]
    by_input = np.argsort(inputs, kind="stable").tolist()
    found = [drawn, *(tuple(o) for own in (margins, by_input) for o in (own, own[::-1]))]
    for i in drawn:
        rest = tuple(k for k in margins if k != i)
        found += [(i, *rest), (*rest, i)]
    return tuple(dict.fromkeys(found))


def _all_starts(job: Job, outcome: Outcome, settings: Settings):
    """Every order in every season side by side, the order as drawn first: their timelines, and the runs."""
    seasons = range(len(job.seasons))
    burners = settings.burners
    plans = [trial_run.start(replace(settings, burners=tuple(burners[i] for i in o))) for o in orders(outcome)]
    plans = [plan for plan in plans for _ in seasons]
    where = [season for _ in range(len(plans) // len(seasons)) for season in seasons]
    return plans, trial_run.started(job, outcome.remedy, settings, plans, where)


def _start(job: Job, settings: Settings, plan, runs: Runs, k: int) -> Start:
    begin = trial_run.released(plan)
    counts = (runs.time >= begin) & (runs.time <= plan.until)
    pressure = runs.pressure[counts, k]
    return Start(
        season=job.seasons[runs.season[k]].name,
        order=plan.names,
        lasts=plan.until,
        header=(float(pressure.min()), float(pressure.max())),
        outlets=_passed(runs, k, counts),
        acts=_acts(settings, runs, k, begin),
    )


# --- Failures -------------------------------------------------------------------------------------------------------


def governing(scan: Scan) -> tuple[tuple[int, ...], ...]:
    """Columns of a remedy's scan from which failures are tried, one row a season: with all burners at their highest,
    where the devices add most, and where they add least; in calm weather, on hot or cold walls."""
    added, states = scan.solution.added.sum(axis=0), scan.states
    calm = (states.windy == 0.0) & scan.any_firing & scan.solution.converged
    highest = (states.codes == np.array([[len(a.states) - 1] for a in scan.plant.appliances])).all(axis=0)
    found = []
    for season in range(len(scan.seasons)):
        own = np.flatnonzero(calm & (states.season == season))
        full = own[highest[own] & (states.cold[own] == 0.0)]
        picked = [*full[:1].tolist(), int(own[added[own].argmax()]), int(own[added[own].argmin()])]
        found.append(tuple(dict.fromkeys(picked)))
    return tuple(found)


def _all_failures(job: Job, outcome: Outcome, settings: Settings):
    """What fails where, (case, appliance, season, cold, codes before, codes after), and the runs."""
    scan, devices = outcome.scan, trial_run.devices_of(outcome.remedy, settings)
    plant, states, cases = scan.plant, scan.states, []
    kinds = [FAN] if devices.fan else []
    kinds += [OPEN, SHUT] if devices.damper else []
    for season, columns in enumerate(governing(scan)):
        here = [(tuple(states.codes[:, c].astype(int).tolist()), bool(states.cold[c])) for c in columns]
        for codes, cold in here:
            cases += [(kind, "", season, cold, codes, codes) for kind in kinds]
            cases.append((POWER, "", season, cold, codes, (0,) * len(codes)))
        for (codes, cold), (after, _) in [*pairwise(here), *pairwise(here[::-1])]:
            cases.append((STILL, "", season, cold, codes, after))
        codes, cold = here[0]
        for i, a in enumerate(plant.appliances):
            purge = int("purge" in a.states)
            if codes[i] > purge:
                cases.append((FLAME, a.name, season, cold, codes, (*codes[:i], purge, *codes[i + 1 :])))
    schedules = [_schedule(plant, settings, case) for case in cases]
    loop = trial_run.run_loop(settings, devices)
    of = {FAN: FAN_STOPS, POWER: FAN_STOPS, OPEN: DAMPER_OPENS, SHUT: DAMPER_SHUTS, STILL: SENSOR_STILL, FLAME: ""}
    faults = [Fault(of[case[0]], SETTLED) for case in cases]
    return cases, closed_loop.simulate(job.seasons, schedules, devices, loop, faults=faults)


def _schedule(plant: Plant, settings: Settings, case) -> Schedule:
    """A failure in time: settled, then it fails, and the burners change at once or, after a sensor, by and by."""
    kind, _, season, cold, before, after = case
    at = SETTLED + (LOAD_CHANGES if kind == STILL else 0.0)
    turns = []
    for a, b, c in zip(plant.appliances, before, after, strict=True):
        sudden = kind != STILL or not b > int("purge" in a.states) or c == 0
        steps, begin = ([c] if sudden else range(b, c, 1 if c > b else -1)), at
        steps = [c] if sudden else [s + (1 if c > b else -1) for s in steps]
        levels = max(len(a.states) - 2 - int("purge" in a.states), 1)
        within = LIGHT_OFF if kind == STILL and c > b else 0.0 if sudden else settings.seconds("modulation") / levels
        if sudden and abs(c - b) > 1:
            within = 0.0
        for s in steps if b != c else ():
            turns.append(Turn(a.name, a.states[s], Q_(begin, "s"), Q_(within, "s")))
            begin += within
    start = tuple(a.states[b] for a, b in zip(plant.appliances, before, strict=True))
    return Schedule(Q_(SETTLED + LONGEST, "s"), start, tuple(turns), season=season, cold=float(cold))


def _failures(job: Job, settings: Settings, case, runs: Runs, k: int) -> list[Failure]:
    """The records of one run: a sensor that is still is told twice, since a blocked line is still but for its noise."""
    kind, appliance, season, cold, before, after = case
    plant = runs.devices.plant
    found = []
    for told in (STILL, BLOCKED) if kind == STILL else (kind,):
        acts = _seen(settings, told, runs, k)
        own = Event.FLAME_LOST.name
        shutdown = min((a.at for a in acts if told != FLAME or a.event != own), default=inf) + VALVE
        counts = (runs.time >= SETTLED) & (runs.time <= SETTLED + min(shutdown, LONGEST))
        limits = (Event.HIGH_PRESSURE.name, Event.LOW_PRESSURE.name)
        outlets = _passed(runs, k, counts)
        found.append(
            Failure(
                case=told,
                appliance=appliance,
                season=job.seasons[season].name,
                cold=cold,
                before=tuple(a.states[c] for a, c in zip(plant.appliances, before, strict=True)),
                after=tuple(a.states[c] for a, c in zip(plant.appliances, after, strict=True)),
                acts=acts,
                shutdown=shutdown,
                limit=min((a.at for a in acts if a.event in limits), default=inf),
                outlets=outlets,
                stalled=any(o.highest >= STALL for o in outlets),
            )
        )
    return found


def _seen(settings: Settings, kind: str, runs: Runs, k: int) -> tuple[Act, ...]:
    """What sees a failure, soonest first.

    A blocked line is taken to hold what it held, for the limits as well: they see nothing where they share it.
    """
    found = [] if kind == BLOCKED else list(_acts(settings, runs, k, SETTLED))
    own = {
        FAN: (Event.FAN_FAILED, settings.seconds("fan_delay")),
        POWER: (Event.POWER_LOST, 0.0),
        STILL: (Event.SENSOR_FAILED, settings.seconds("frozen_after") + settings.seconds("sensor_delay")),
        FLAME: (Event.FLAME_LOST, settings.seconds("flame_response")),
    }
    if kind in own:
        found.append(Act(own[kind][0].name, own[kind][1]))
    if kind in (OPEN, SHUT):
        off = np.abs(runs.position[:, k] - runs.devices.position(runs.output[:, k])) > OFF_POSITION
        found += _first(Event.DAMPER_FAULT, runs.time, off & (runs.time >= SETTLED), settings, "damper_delay", SETTLED)
    return tuple(sorted(found, key=lambda act: act.at))


def _acts(settings: Settings, runs: Runs, k: int, since: float) -> tuple[Act, ...]:
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
        found += _first(event, runs.time, counts & true, settings, delay, since)
    return tuple(sorted(found, key=lambda act: act.at))


def _first(event: Event, time: np.ndarray, true: np.ndarray, settings: Settings, delay: str, since: float):
    """When something has first been true for its delay, counted from a time [s]; none where it never is."""
    over = np.flatnonzero(lasting(true, float(time[1] - time[0]), 0.0) > settings.seconds(delay))
    return [Act(event.name, float(time[over[0]]) - since)] if over.size else []


def _passed(runs: Runs, k: int, counts: np.ndarray) -> tuple[Passed, ...]:
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


# --- Limits ---------------------------------------------------------------------------------------------------------


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
    proof = float(settings.proof.m_as("Pa"))
    # Draft counts as proved below a pressure between set point and high limit.
    proof = proof if held < proof < above.pressure else 0.5 * (held + above.pressure)
    return DerivedLimits(above, below, proof)


def _sensor_errors(scan: Scan, settings: Settings) -> tuple[float, float]:
    """By how much [Pa] a sensor at the first tap of the list may read too low, and too high; neither less than 0."""
    span = [float(getattr(settings, n).m_as("Pa")) for n in ("sensor_least", "sensor_most")]
    own = float(sensor_error.span_error.bare(*span, SENSOR_ACCURACY))
    tap = error_spread.errors(scan, sensor_location.taps(scan.plant)[0])
    return max(own - tap.low, 0.0), max(own + tap.high, 0.0)


def _longest(runs: Runs, true: np.ndarray) -> float:
    """The longest [s] that something stays true without a break in any run (times, runs)."""
    step = float(runs.time[1] - runs.time[0])
    return max((float(lasting(true[:, k], step, -step).max()) + step * bool(true[:, k].any())
                for k in range(true.shape[1])), default=0.0)  # fmt: skip


def _leaves(runs: Runs, side: float) -> np.ndarray:
    """Place in time at which in every failing run the first outlet leaves its window on a side for longer than `BRIEF`;
    -1 where none does so."""
    since, step = runs.time >= SETTLED, float(runs.time[1] - runs.time[0])
    edges = [max(side * float(w.m_as("Pa")) for w in a.window) for a in runs.devices.plant.appliances]
    found = np.full(runs.pressure.shape[1], -1)
    for k in range(found.size):
        out = np.zeros(runs.time.size, bool)
        for i, edge in enumerate(edges):
            outside = since & (side * runs.outlets[i, :, k] > edge) & (runs.codes[i, :, k] > 0.0)
            if outside.any():
                out |= lasting(outside, step, 0.0) > BRIEF
        if out.any():
            found[k] = max(int(out.argmax()) - round(BRIEF / step), 0)
    return found


def _time_left(runs: Runs, side: float, level: float, leaves: np.ndarray) -> np.ndarray:
    """Time [s] in every failing run for which the header has been beyond a level without a break when the first outlet
    ``leaves`` its window on that side (`_leaves`); inf where none does so."""
    since, step = runs.time >= SETTLED, float(runs.time[1] - runs.time[0])
    found = np.full(leaves.size, inf)
    for k in np.flatnonzero(leaves >= 0):
        beyond = since & (side * runs.pressure[:, k] > level)
        found[k] = max(float(lasting(beyond, step, 0.0)[leaves[k]]), 0.0)
    return found


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


_APART = Q_(0.25, "Pa")  # that settings keep from one another, where nothing else parts them


def reasons(limits: DerivedLimits, system: str = "US") -> dict[str, str]:
    """Why the limits of a job are what they are, by the name of the setting: for `startup_sheet.startup_sheet`."""
    found = {"proof": "between the set point and the high limit of this job"}
    for name, limit in (("high", limits.high), ("low", limits.low)):
        edge, error, normal = (show(Q_(p, "Pa"), system, "draft") for p in (limit.edge, limit.error, limit.normal))
        none = f"; none fits between that and what is normal, {normal}: half the way" if NO_ROOM in limit.codes else ""
        found[f"{name}_limit"] = (
            f"{limit.appliance} is the first to leave its window, at {edge} here; sensor and tap may be {error} "
            f"off{none}"
        )
        has = "never" if limit.has == inf else f"{limit.has:.1f} s later"
        found[f"{name}_delay"] = (
            f"a good start stays beyond the limit for {limit.needs:.1f} s at most; where a sensor fails an outlet "
            f"leaves its window {has}"
        )
    return found
