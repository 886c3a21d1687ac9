"""Start sequence: from the call for heat to light-off and after, and what each failure must lead to.

A sequencer of a common vent proves the draft and then *releases* burners; lighting them is the business of each
burner's own listed control, whose steps stand here because the vent must follow them. Every appliance runs through
one small machine: `State`, `Event`, the table `TRANSITIONS` and the pure function `step`; what is commanded in a
state stands in the table `OUTPUTS`. Appliances on one vent run through the same machine side by side. What befalls
the vent (a limit, the fan, the power) befalls all of them at once; its fan runs as long as any of them demands it.

`timeline` runs the machine by the clock, with the delays of `Settings`. That no order of events makes the machine
break a rule is shown in `start_proof`; how long a purge takes stands in `purge`.

Pressures are gauge; negative is draft. A sequencer of this kind is no flame safeguard and takes the place of none.
"""

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from enum import Enum
from html import escape
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ventcalc import tables
from ventcalc.draft.purge import purge_time
from ventcalc.units import Q_, Quantity, parse, show

# --- The machine ----------------------------------------------------------------------------------------------


class State(Enum):
    """Where one appliance stands in its sequence."""

    IDLE = "idle"
    STARTING = "fan starting"
    PROVING = "proving draft"
    PURGE = "purge"
    PILOT = "pilot trial"
    MAIN = "main trial"
    RUN = "run"
    POST_PURGE = "post-purge"
    TRIPPED = "lockout, purging"
    LOCKOUT = "lockout"
    NO_POWER = "no power"
    NO_POWER_LOCKED = "no power, locked out"


class Event(Enum):
    """What can happen to it. `TIME_UP`: the time of the state it is in has run out."""

    CALL = "call for heat"
    CALL_ENDS = "call ends"
    FAN_RUNNING = "fan runs"
    PROVED = "draft proved"
    FLAME = "flame proved"
    TIME_UP = "time is up"
    RESET = "manual reset"
    POWER_BACK = "power is back"
    HIGH_PRESSURE = "high pressure"
    LOW_PRESSURE = "low pressure"
    PROOF_LOST = "proof lost"
    SENSOR_FAILED = "sensor failed"
    FAN_FAILED = "fan failed"
    DAMPER_FAULT = "damper not at its position"
    FLAME_LOST = "flame lost"
    POWER_LOST = "power lost"


class Output(NamedTuple):
    """What an appliance's sequence commands: the vent's ``fan``, ``release`` of its burner, the vent's ``damper``
    ("rest", "open", "control"), whether its ``pilot`` and ``main`` valve may be open, ``alarm``."""

    fan: bool
    release: bool
    damper: str
    pilot: bool
    main: bool
    alarm: bool

    @property
    def fuel(self) -> bool:
        """Whether any fuel may flow."""
        return self.pilot or self.main


OUTPUTS: Mapping[State, Output] = {
    #                             fan    release  damper    pilot  main   alarm
    State.IDLE: Output(False, False, "rest", False, False, False),
    State.STARTING: Output(True, False, "open", False, False, False),
    State.PROVING: Output(True, False, "open", False, False, False),
    State.PURGE: Output(True, True, "control", False, False, False),
    State.PILOT: Output(True, True, "control", True, False, False),
    State.MAIN: Output(True, True, "control", True, True, False),
    State.RUN: Output(True, True, "control", False, True, False),
    State.POST_PURGE: Output(True, False, "control", False, False, False),
    State.TRIPPED: Output(True, False, "open", False, False, True),
    State.LOCKOUT: Output(False, False, "rest", False, False, True),
    State.NO_POWER: Output(False, False, "rest", False, False, False),
    State.NO_POWER_LOCKED: Output(False, False, "rest", False, False, False),
}

# What befalls the whole vent. After those that stop the fan it has failed, nothing proves that it moves anything, or
# it pulls too hard; after the others it runs on and carries out what is left.
STOP_THE_FAN = (Event.FAN_FAILED, Event.PROOF_LOST, Event.LOW_PRESSURE)
LEAVE_THE_FAN = (Event.HIGH_PRESSURE, Event.SENSOR_FAILED, Event.DAMPER_FAULT)
LIMITS = (*STOP_THE_FAN, *LEAVE_THE_FAN)
FAULTS = (*LIMITS, Event.FLAME_LOST, Event.POWER_LOST)
OF_ONE_APPLIANCE = (Event.CALL, Event.CALL_ENDS, Event.FLAME, Event.FLAME_LOST)

FUEL_STATES = tuple(s for s, o in OUTPUTS.items() if o.fuel)
LOCKED_STATES = (State.TRIPPED, State.LOCKOUT)  # left by a manual reset only
DARK_STATES = (State.NO_POWER, State.NO_POWER_LOCKED)

Table = Mapping[tuple[State, Event], State]

_SEQUENCE: dict[tuple[State, Event], State] = {
    (State.IDLE, Event.CALL): State.STARTING,
    (State.STARTING, Event.FAN_RUNNING): State.PROVING,
    (State.STARTING, Event.CALL_ENDS): State.IDLE,
    (State.STARTING, Event.TIME_UP): State.LOCKOUT,
    (State.PROVING, Event.PROVED): State.PURGE,
    (State.PROVING, Event.CALL_ENDS): State.IDLE,
    (State.PROVING, Event.TIME_UP): State.LOCKOUT,
    (State.PURGE, Event.TIME_UP): State.PILOT,
    (State.PURGE, Event.CALL_ENDS): State.POST_PURGE,  # it may have followed on a run: the fan must not stop yet
    (State.PILOT, Event.FLAME): State.MAIN,
    (State.PILOT, Event.CALL_ENDS): State.POST_PURGE,
    (State.PILOT, Event.TIME_UP): State.TRIPPED,
    (State.MAIN, Event.FLAME): State.RUN,
    (State.MAIN, Event.CALL_ENDS): State.POST_PURGE,
    (State.MAIN, Event.TIME_UP): State.TRIPPED,
    (State.RUN, Event.CALL_ENDS): State.POST_PURGE,
    (State.POST_PURGE, Event.TIME_UP): State.IDLE,
    (State.POST_PURGE, Event.CALL): State.PURGE,
    (State.TRIPPED, Event.TIME_UP): State.LOCKOUT,
    (State.LOCKOUT, Event.RESET): State.IDLE,
    (State.NO_POWER, Event.POWER_BACK): State.IDLE,
    (State.NO_POWER_LOCKED, Event.POWER_BACK): State.LOCKOUT,
}


def _transitions() -> Table:
    """The whole table: the sequence, then the faults by four rules; what is not said changes nothing."""
    table = {(state, event): _SEQUENCE.get((state, event), state) for state in State for event in Event}
    for state in State:
        if state in DARK_STATES:
            continue
        runs_on = State.TRIPPED if OUTPUTS[state].fan else State.LOCKOUT
        table |= {(state, event): State.LOCKOUT for event in STOP_THE_FAN}
        table |= {(state, event): runs_on for event in LEAVE_THE_FAN}
        table[state, Event.POWER_LOST] = State.NO_POWER_LOCKED if state in LOCKED_STATES else State.NO_POWER
        if state not in (*FUEL_STATES, *LOCKED_STATES):
            table[state, Event.FLAME] = runs_on  # a flame where none may be: a valve leaks, or the eye lies
    return table | {(state, Event.FLAME_LOST): State.TRIPPED for state in FUEL_STATES}


TRANSITIONS: Table = _transitions()


def step(state: State, event: Event, table: Table = TRANSITIONS) -> State:
    """The state after an event; ``table`` other than the right one serves to test the proof."""
    return table[state, event]


def commanded(states: Iterable[State], table: Mapping[State, Output] = OUTPUTS) -> Output:
    """What the appliances of one vent command together; the damper goes to control as soon as one burner needs it."""
    outputs = [table[s] for s in states]
    damper = next((d for d in ("control", "open") if any(o.damper == d for o in outputs)), "rest")
    return Output(*(damper if name == "damper" else any(getattr(o, name) for o in outputs) for name in Output._fields))


def way_back(state: State, table: Table = TRANSITIONS) -> tuple[Event, ...]:
    """The shortest run of events that leads from a state to a burner that runs; raises ValueError where none does."""
    seen, queue = {state: ()}, deque([state])
    while queue:
        at = queue.popleft()
        if at is State.RUN:
            return seen[at]
        for event in Event:
            to = step(at, event, table)
            if to not in seen:
                seen[to] = (*seen[at], event)
                queue.append(to)
    raise ValueError(f"no way leads from {state.value!r} to a burner that runs")


# --- Settings and the sheet that they are filled in on -------------------------------------------------------


@dataclass(frozen=True)
class Burner:
    """An appliance on the vent: volume of its combustion ``chamber``, its ``purge_flow``, and the codes that
    `states.States` has for its purge, low and high fire.

    One without a blower, a draft hood's, has no purge_flow (None). It stands in the interlock all the same: it waits
    for its release, and for the shortest purge time with draft proved, before it lights.
    """

    name: str
    chamber: Quantity
    purge_flow: Quantity | None
    codes: tuple[float, float, float] = (1.0, 2.0, 3.0)

    def __post_init__(self):
        if self.purge_flow is not None:
            purge_time(self.chamber, self.purge_flow, 1.0)  # refuses what cannot be, by name
        purge, low, high = self.codes
        if not 0.0 <= purge < low <= high:
            raise ValueError(f"{self.name}: codes {self.codes} must rise from purge (0 where it has none) to high")


_ROWS = {row["name"]: row for row in tables.read("start_sequence")}


# Limits stay where they usually are, unless the set point is nearer to one than this; then both move with it.
LEAST_DISTANCE = Q_(0.02, "inH2O")  # common practice, no source
# A sensor reads as far beyond a limit, and has one of the ranges that are sold (common practice, no source), inH2O.
SENSOR_RANGES = (0.1, 0.25, 0.5, 1.0, 2.0)


def beside(usual: "Settings", set_point: Quantity) -> dict[str, Quantity]:
    """Proof, limits and ends of the sensor that fit a set point; draft counts as proved at the usual share of it."""
    share = float((usual.proof / usual.set_point).m_as(""))
    proof = share * set_point if set_point.m < 0.0 else set_point + (usual.proof - usual.set_point)
    inside = usual.low_limit + LEAST_DISTANCE <= set_point <= usual.high_limit - LEAST_DISTANCE
    by = 0.0 * set_point if inside else set_point - usual.set_point
    low, high = usual.low_limit + by, usual.high_limit + by
    return {
        "proof": min(proof, high - LEAST_DISTANCE),
        "low_limit": low,
        "high_limit": high,
        "sensor_least": min(usual.sensor_least, -sensor_end(LEAST_DISTANCE - low)),
        "sensor_most": max(usual.sensor_most, sensor_end(high + LEAST_DISTANCE)),
    }


def sensor_end(needed: Quantity) -> Quantity:
    """The smallest end of a range that is sold which reaches as far."""
    return Q_(next((r for r in SENSOR_RANGES if r >= needed.m_as("inH2O")), SENSOR_RANGES[-1]), "inH2O")


def usual_setting(name: str, column: str = "value") -> Quantity:
    """The usual value of a setting, or its ``least`` or ``most``, from ``data/draft/start_sequence.csv``."""
    row = _ROWS[name]
    return parse(f"{row[column]} {row['unit']}")


@dataclass(frozen=True)
class Settings:
    """What a vent's sequencer is set to, and how the plant answers; usual values from
    ``data/draft/start_sequence.csv``.

    That table says of every one what it is for, which range is accepted and where it comes from. Raises ValueError
    where one is outside its range, or where they do not fit together, all at once; `UnitsError` for a wrong unit.
    """

    burners: tuple[Burner, ...]
    set_point: Quantity = usual_setting("set_point")
    proof: Quantity = usual_setting("proof")
    high_limit: Quantity = usual_setting("high_limit")
    low_limit: Quantity = usual_setting("low_limit")
    high_delay: Quantity = usual_setting("high_delay")
    low_delay: Quantity = usual_setting("low_delay")
    proof_delay: Quantity = usual_setting("proof_delay")
    fan_delay: Quantity = usual_setting("fan_delay")
    damper_delay: Quantity = usual_setting("damper_delay")
    sensor_delay: Quantity = usual_setting("sensor_delay")
    sensor_least: Quantity = usual_setting("sensor_least")
    sensor_most: Quantity = usual_setting("sensor_most")
    frozen_after: Quantity = usual_setting("frozen_after")
    start_limit: Quantity = usual_setting("start_limit")
    proof_limit: Quantity = usual_setting("proof_limit")
    proof_time: Quantity = usual_setting("proof_time")
    stagger: Quantity = usual_setting("stagger")
    changes: Quantity = usual_setting("changes")
    least_purge: Quantity = usual_setting("least_purge")
    vent_volume: Quantity = usual_setting("vent_volume")
    pilot_trial: Quantity = usual_setting("pilot_trial")
    main_trial: Quantity = usual_setting("main_trial")
    flame_response: Quantity = usual_setting("flame_response")
    post_purge: Quantity = usual_setting("post_purge")
    filter: Quantity = usual_setting("filter")
    gain: Quantity = usual_setting("gain")
    integral_time: Quantity = usual_setting("integral_time")
    fan_start: Quantity = usual_setting("fan_start")
    damper_travel: Quantity = usual_setting("damper_travel")
    blower: Quantity = usual_setting("blower")
    pilot_light: Quantity = usual_setting("pilot_light")
    main_light: Quantity = usual_setting("main_light")
    low_fire: Quantity = usual_setting("low_fire")
    modulation: Quantity = usual_setting("modulation")

    def __post_init__(self):
        names = [b.name for b in self.burners]
        if not names or len(set(names)) < len(names):
            raise ValueError(f"burners {', '.join(names) or '(none)'}: give at least one, each with a name of its own")
        problems = [p for name in _ROWS if (p := _outside(name, getattr(self, name)))] or _misfits(self)
        if problems:
            raise ValueError("; ".join(problems))

    def seconds(self, name: str) -> float:
        """One of the times as a plain number of seconds."""
        return float(getattr(self, name).m_as("s"))

    def purge(self, burner: Burner) -> Quantity:
        """Purge time of a burner: the volume changes of its chamber, and of the vent where set, not below the least.

        The least where it has no blower to purge with.
        """
        if burner.purge_flow is None:
            return self.least_purge.to("s")
        time = purge_time(burner.chamber + self.vent_volume, burner.purge_flow, self.changes)
        return max(time, self.least_purge.to("s"))


def _outside(name: str, value: Quantity) -> str | None:
    least, most = (usual_setting(name, column) for column in ("least", "most"))
    if not isinstance(value, Quantity) or not value.is_compatible_with(least.units):
        return f"{name} {value!r}: needs a quantity such as {usual_setting(name):~P}"
    if not least <= value <= most:
        return f"{name} = {value:~P}: must be {least:~P} to {most:~P}"
    return None


def _misfits(s: Settings) -> list[str]:
    """Where settings do not fit together, one sentence each."""
    in_order = ("sensor_least", "low_limit", "set_point", "proof", "high_limit", "sensor_most")
    problems = [
        f"{low} = {getattr(s, low):~P} must be below {high} = {getattr(s, high):~P}"
        for low, high in pairwise(in_order)
        if not getattr(s, low) < getattr(s, high)
    ]
    for needs, limit, else_ in (
        ("fan_start", "start_limit", "every start would trip"),
        ("damper_travel", "proof_limit", "every start would trip"),
        ("pilot_light", "pilot_trial", "every trial would trip"),
        ("main_light", "main_trial", "every trial would trip"),
        ("filter", "integral_time", "the control would hunt"),
    ):
        if not getattr(s, needs) < getattr(s, limit):
            values = f"{needs} = {getattr(s, needs):~P} must be below {limit} = {getattr(s, limit):~P}"
            problems.append(f"{values}, or {else_}")
    return problems


class SheetRow(NamedTuple):
    """One line of the start-up sheet; ``kind`` "set" (to be dialled in), "measure" (to be found with a watch) or
    "verify" (part of the listed burner, not to be adjusted)."""

    name: str
    value: Quantity
    kind: str
    why: str
    source: str
    status: str


def startup_sheet(
    settings: Settings, system: str = "US", derived: Mapping[str, str] | None = None
) -> tuple[SheetRow, ...]:
    """What a commissioning technician sets and measures, with the purge of every burner, one row each.

    A row that stands at its usual value keeps that value's source and status; one that was chosen says so. ``derived``
    says of settings by their names why they are so on this job (`failures.reasons`). ``system`` is for the numbers
    within the texts.
    """
    rows = [_sheet_row(f.name, getattr(settings, f.name), system) for f in fields(Settings) if f.name in _ROWS]
    names = [f.name for f in fields(Settings) if f.name in _ROWS]
    rows = [
        row._replace(why=derived[name], source="the states, starts and failures of this job", status="computed")
        if derived and name in derived
        else row
        for name, row in zip(names, rows, strict=True)
    ]
    after = [r.name for r in rows].index(_ROWS["vent_volume"]["label"]) + 1
    return (*rows[:after], *(_purge_row(settings, b, system) for b in settings.burners), *rows[after:])


def _sheet_row(name: str, value: Quantity, system: str) -> SheetRow:
    row = _ROWS[name]
    if np.isclose(value.m_as(row["unit"]), float(row["value"]), rtol=1e-9):
        return SheetRow(row["label"], value, row["kind"], row["why"], row["source"], row["status"])
    chosen = f"chosen for this job; usual: {shown(usual_setting(name), system)} ({row['source']})"
    return SheetRow(row["label"], value, row["kind"], row["why"], chosen, row["status"])


def _purge_row(settings: Settings, burner: Burner, system: str) -> SheetRow:
    if burner.purge_flow is None:
        why = "it has no blower: it waits so long with draft proved"
        return SheetRow(f"wait of {burner.name}", settings.purge(burner), "set", why, "the shortest purge", "computed")
    chamber, vent = shown(burner.chamber, system), shown(settings.vent_volume, system)
    changes, flow = shown(settings.changes, system), shown(burner.purge_flow, system)
    why = f"{changes} x ({chamber} + {vent}) / {flow}, not below the shortest purge"
    return SheetRow(f"purge of {burner.name}", settings.purge(burner), "set", why, "volume over flow", "computed")


def shown(value: Quantity, system: str = "US") -> str:
    """A value of the sheet as text in "US" or "SI" units."""
    us = system == "US"
    for unit, text in (
        ("percent/Pa", ("percent/inH2O", "% per in. w.c.") if us else ("percent/Pa", "% per Pa")),
        ("m**3", ("ft**3", "ft³") if us else ("m**3", "m³")),
        ("s", ("s", "s")),
    ):
        if value.is_compatible_with(unit):
            return f"{float(value.m_as(text[0])):.3g} {text[1]}"
    return f"{float(value.m):g}" if value.dimensionless else show(value, system)


_PEN = ("as found", "as left")  # columns that stay empty
_KINDS = {
    "set": "To be set",
    "measure": "To be measured",
    "verify": "To be verified, not adjusted: it belongs to the listed burner",
}
_LINE = ' style="text-align: left; padding: 3px 10px 3px 4px; line-height: 1.3; border: 1px solid #888"'
_WIDE = ' style="min-width: 5.5em; border: 1px solid #888"'


def trials() -> tuple[tuple[str, str], ...]:
    """What is tried at commissioning, one by one with a burner running, and what it must lead to, by the machine."""
    faults = ((fault.value, _leads_to(step(State.RUN, fault))) for fault in FAULTS)
    return (("proof, with the fan at rest", "not proved: the switch is open"), *faults)


def _leads_to(state: State) -> str:
    """A state, and what leads out of it."""
    if state in LOCKED_STATES:
        return f"{state.value}; a manual reset ends it, never the fault's own end"
    return f"{state.value}: every valve shut; a full start when it is back" if state in DARK_STATES else state.value


def sheet_html(rows: Sequence[SheetRow], system: str = "US") -> str:
    """The sheet as HTML, to be printed, filled in and signed: what is set, what is measured, which faults are tried.

    The columns "as found" and "as left" stay empty for the pen. What each fault must lead to is found by running the
    machine into it.
    """
    parts = []
    for kind, head in _KINDS.items():
        lines = [
            (r.name, shown(r.value, system), *_PEN, r.why, f"{r.source}; {r.status}") for r in rows if r.kind == kind
        ]
        parts.append(_part(head, ("", "value", *_PEN, "why", "source; status"), lines))
    tried = [(*row, *_PEN) for row in trials()]
    parts.append(_part("To be tried, one by one; faults with a burner running", ("what", "must lead to", *_PEN), tried))
    parts.append(_part("", ("date", "name", "signed"), [_PEN[:1] * 3]))
    return "".join(parts)


def _part(head: str, header: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    top = "".join(f"<th{_LINE}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(_sheet_cell(c) for c in line) + "</tr>" for line in lines)
    return f"<p><b>{escape(head)}</b></p><table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _sheet_cell(text: str) -> str:
    return f"<td{_WIDE}>&nbsp;</td>" if text in _PEN else f"<td{_LINE}>{escape(text)}</td>"


# --- By the clock ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Cue:
    """Something that happens at a ``time``: an event of the vent, or of the ``appliance`` named.

    A fault ``lasts`` so long, or for good where None; one that is soon over goes unnoticed, and one that comes and goes
    adds up (`FORGETTING`). Where several of a kind overlap, it stands until the last is over. `CALL` lasts until
    `CALL_ENDS`. `RESET` without an appliance resets all. `FLAME_LOST`: there is no flame at that burner meanwhile.
    """

    time: Quantity
    event: Event
    appliance: str | None = None
    lasts: Quantity | None = None


# The delay of every fault, and which of them are looked at only once draft is proved.
_DELAY = {
    Event.HIGH_PRESSURE: "high_delay",
    Event.LOW_PRESSURE: "low_delay",
    Event.PROOF_LOST: "proof_delay",
    Event.SENSOR_FAILED: "sensor_delay",
    Event.FAN_FAILED: "fan_delay",
    Event.DAMPER_FAULT: "damper_delay",
    Event.FLAME_LOST: "flame_response",
}
# How fast a delay that has begun to run is forgotten while its fault is away: a switch that chatters must not begin its
# delay anew each time. At a quarter, what is there more than a fifth of the time comes through (common practice, no
# source: on the safe side of forgetting as fast as counting).
FORGETTING = 0.25
_WITH_THE_FAN = (Event.HIGH_PRESSURE, Event.LOW_PRESSURE, Event.PROOF_LOST, Event.FAN_FAILED, Event.DAMPER_FAULT)
_IN_THE_WAY = (Event.HIGH_PRESSURE, Event.PROOF_LOST, Event.DAMPER_FAULT, Event.FAN_FAILED)  # of a proof
_CUES = (Event.CALL, Event.CALL_ENDS, Event.RESET, Event.POWER_BACK, *FAULTS)


class Change(NamedTuple):
    """At ``time`` [s] an ``event`` led an appliance (its index) to a ``state``."""

    time: float
    appliance: int
    event: Event
    state: State


@dataclass(frozen=True)
class Timeline:
    """What every appliance did, from idle at 0 s to ``until`` [s]: plain seconds, the ``changes`` in order."""

    settings: Settings
    until: float
    changes: tuple[Change, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the appliances."""
        return tuple(b.name for b in self.settings.burners)

    @property
    def times(self) -> np.ndarray:
        """The instants at which anything changes, 0 first [s]."""
        return np.unique([0.0, *(c.time for c in self.changes)])

    def _index(self, appliance: int | str) -> int:
        return self.names.index(appliance) if isinstance(appliance, str) else appliance

    def spans(self, appliance: int | str) -> tuple[tuple[float, float, State], ...]:
        """Start, end [s] and state, one after the other, of an appliance by its index or name."""
        at = self._index(appliance)
        marks = [(0.0, State.IDLE), *((c.time, c.state) for c in self.changes if c.appliance == at)]
        ends = [t for t, _ in marks[1:]] + [self.until]
        return tuple((t, end, s) for (t, s), end in zip(marks, ends, strict=True) if end > t or end == self.until)

    def state(self, appliance: int | str, time: float) -> State:
        """The state of an appliance at a time [s]; at the instant of a change the new one."""
        return next(s for begin, _, s in reversed(self.spans(appliance)) if begin <= time)

    def outputs(self, time: float) -> Output:
        """What the vent's sequencer commands at a time [s]."""
        return commanded(self.state(i, time) for i in range(len(self.names)))

    @property
    def ends(self) -> tuple[State, ...]:
        """The state of every appliance at the end."""
        return tuple(self.spans(i)[-1][2] for i in range(len(self.names)))

    def codes(self, times: np.ndarray, appliance: int | str, load: float = 1.0) -> np.ndarray:
        """What an appliance sends into the vent at ``times`` [s], as codes of `states.States`, with ramps.

        Off 0, purge, low and high as its `Burner` says: 1.4 lies 40 % of the way from code 1 to code 2. The blower runs
        up and down in its time; the main trial leads from purge to low; after its hold at low the burner goes to
        ``load``, the share of the way from low to high. When fuel shuts, the flue gas gives way to purge air at once.
        """
        return np.interp(np.asarray(times, float), *self.corners(appliance, load))

    def corners(self, appliance: int | str, load: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
        """The corners of `codes`, straight between them: times [s] and codes; two at one time are a step."""
        at = self._index(appliance)
        marks = _code_marks(self.spans(at), self.settings, self.settings.burners[at], load)
        times, codes = np.array(marks).T
        return times, codes


def _code_marks(spans, settings: Settings, burner: Burner, load: float) -> list[tuple[float, float]]:
    """Corners (time, code) of what an appliance sends into the vent; two at one time are a step."""
    purge, low, high = burner.codes
    marks = [(0.0, 0.0)]
    for begin, end, state in spans:
        value = marks[-1][1]
        if value > purge and state not in FUEL_STATES:
            value = purge
            marks.append((begin, value))
        corners = [(begin, value)]
        if state is State.RUN:
            hold = begin + settings.seconds("low_fire")
            ready = begin + max(settings.seconds("main_light"), 1e-3)
            corners += [(ready, low), (max(hold, ready), low)]
            corners += [(corners[-1][0] + max(settings.seconds("modulation"), 1e-3), low + load * (high - low))]
        elif state is State.MAIN:
            corners += [(begin + max(settings.seconds("main_light"), 1e-3), low)]
        else:
            target = purge if OUTPUTS[state].release or state in (State.POST_PURGE, State.TRIPPED) else 0.0
            corners += [(begin + max(settings.seconds("blower"), 1e-3) * abs(target - value) / (purge or 1.0), target)]
        instants = [t for t, _ in corners if t < end]
        marks += [(t, float(np.interp(t, *np.array(corners).T))) for t in (*instants, end)]
    return marks


def timeline(cues: Iterable[Cue], settings: Settings, until: Quantity) -> Timeline:
    """Run all appliances of a vent by the clock, from idle at time 0 to ``until``.

    ``cues`` in any order; everything else follows: the fan runs and draft is proved after their times, flames light
    after theirs unless a cue says there is none, two releases stand ``stagger`` apart, and a fault counts once it
    has lasted for its delay. Raises ValueError for a cue that cannot be (an unknown appliance, a time below 0, an
    event that only the plant brings about).
    """
    world = _World(settings, _checked_cues(cues, settings), float(until.m_as("s")))
    while (found := world.next()) is not None:
        world.happen(*found)
    return Timeline(settings, world.until, tuple(world.changes))


def _checked_cues(cues: Iterable[Cue], settings: Settings) -> list[Cue]:
    names = [b.name for b in settings.burners]
    found = sorted(cues, key=lambda cue: cue.time.m_as("s"))
    for cue in found:
        what = f"cue {cue.event.value!r} at {cue.time:~P}"
        if cue.event not in _CUES:
            raise ValueError(f"{what} follows by itself; cues are: {', '.join(e.value for e in _CUES)}")
        if cue.time.m_as("s") < 0 or (cue.lasts is not None and cue.lasts.m_as("s") < 0):
            raise ValueError(f"{what}: times must be at least 0 s")
        if cue.appliance is not None and cue.appliance not in names:
            raise ValueError(f"{what}: no appliance {cue.appliance!r}; there are {', '.join(names)}")
        if (cue.appliance is None) != (cue.event not in OF_ONE_APPLIANCE) and cue.event is not Event.RESET:
            needs = "needs an appliance" if cue.appliance is None else "befalls the whole vent: name no appliance"
            raise ValueError(f"{what} {needs}")
    return found


class _World:
    """The plant while a timeline is run; it lives no longer than that."""

    def __init__(self, settings: Settings, cues: list[Cue], until: float):
        self.settings, self.until = settings, until
        count = len(settings.burners)
        self.states, self.since = [State.IDLE] * count, [0.0] * count
        self.calls = [False] * count
        self.fan_since: float | None = None
        self.controlled_since: float | None = None  # since when any appliance is past its proof
        self.released = -np.inf
        self.changes: list[Change] = []
        self.now, self.dark = 0.0, 0  # dark: how many cues say that there is no power
        # Moments at which something outside begins or ends. By (event, appliance): how many cues say that a fault
        # stands, and how much of its delay has run [s].
        self.moments = deque(sorted(_moments(cues, settings), key=lambda m: m[0]))
        self.standing: Counter[tuple[Event, int | None]] = Counter()
        self.lasted: dict[tuple[Event, int | None], float] = {}
        self.cleared = -np.inf  # when the last fault that keeps a draft from being proved was over
        self.noticed: set[tuple[Event, int | None]] = set()

    def next(self) -> tuple[float, Event | None, int | None] | None:
        """The next thing that happens before the end: when, what and to whom; None where nothing does."""
        due = list(self._due())
        if not due:
            return None
        when, event, who = min(due, key=lambda d: d[0])
        return (max(when, self.now), event, who) if when <= self.until else None

    def _due(self) -> Iterator[tuple[float, Event | None, int | None]]:
        if self.moments:
            yield self.moments[0][0], None, None
        yield from self._noticing()
        for i in range(len(self.states)):
            yield from self._of(i)

    def _noticing(self) -> Iterator[tuple[float, Event, int | None]]:
        """Faults that stand and have not been noticed, at the end of their delay."""
        for (event, who), cues in self.standing.items():
            if cues and (event, who) not in self.noticed and self._looked_at(event, who):
                left = self.settings.seconds(_DELAY[event]) - self.lasted.get((event, who), 0.0)
                yield self.now + max(left, 0.0), event, who

    def _looked_at(self, event: Event, who: int | None) -> bool:
        """Whether a fault means anything now: if not, its delay does not run, and what has run of it is forgotten."""
        if all(state in DARK_STATES for state in self.states):
            return False
        if event in _WITH_THE_FAN:
            # Pressure and proof mean nothing before the draft is made; until then PROVING has its own time.
            return self.controlled_since is not None
        # Where no flame is yet to be lost the pilot trial has its own time.
        return who is None or self.states[who] in (State.MAIN, State.RUN)

    def _run_delays(self, seconds: float) -> None:
        """The delays of all faults, so many seconds later with nothing changed between."""
        for fault, cues in self.standing.items():
            delay, lasted = self.settings.seconds(_DELAY[fault[0]]), self.lasted.get(fault, 0.0)
            lasted = min(lasted + seconds, delay) if cues else max(lasted - FORGETTING * seconds, 0.0)
            self.lasted[fault] = lasted if self._looked_at(*fault) else 0.0

    def _of(self, i: int) -> Iterator[tuple[float, Event, int]]:
        """What comes next to one appliance by itself."""
        state, since, s = self.states[i], self.since[i], self.settings
        call = Event.CALL if self.calls[i] else Event.CALL_ENDS
        if (to := step(state, call)) is not state:
            # Out of its post-purge an appliance is released at once: it waits for its turn like any other.
            yield max(since, self.released + s.seconds("stagger")) if to is State.PURGE else since, call, i
        time = self._time_of(i)
        if time is not None:
            yield since + time, Event.TIME_UP, i
        if state is State.STARTING and not self._stands(Event.FAN_FAILED):
            yield max(since, self.fan_since + s.seconds("fan_start")), Event.FAN_RUNNING, i
        if state is State.PROVING and not self._stands(*_IN_THE_WAY):
            moved = self.fan_since + max(s.seconds("damper_travel"), s.seconds("fan_start"))
            ready = max(moved, since, self.cleared)  # the proof must stand without a break
            yield max(ready + s.seconds("proof_time"), self.released + s.seconds("stagger")), Event.PROVED, i
        if state in (State.PILOT, State.MAIN) and not self.standing[Event.FLAME_LOST, i]:
            yield since + s.seconds("pilot_light" if state is State.PILOT else "main_light"), Event.FLAME, i

    def _stands(self, *events: Event) -> bool:
        return any(self.standing[event, None] for event in events)

    def _time_of(self, i: int) -> float | None:
        """Time [s] that the state of an appliance lasts at most; None where it has none."""
        s = self.settings
        name = {
            State.STARTING: "start_limit",
            State.PILOT: "pilot_trial",
            State.MAIN: "main_trial",
            State.POST_PURGE: "post_purge",
            State.TRIPPED: "post_purge",
        }.get(self.states[i])
        if self.states[i] is State.PURGE:
            return float(s.purge(s.burners[i]).m_as("s"))
        if self.states[i] is State.PROVING:
            # Who waits for its turn is not late.
            return max(s.seconds("proof_limit"), self.released + s.seconds("stagger") - self.since[i] + 1.0)
        return None if name is None else s.seconds(name)

    def happen(self, when: float, event: Event | None, who: int | None) -> None:
        """Let the next thing happen."""
        self._run_delays(when - self.now)
        self.now = when
        if event is None:
            event, who = self._begin_or_end(*self.moments.popleft()[1:])
            if event is None:
                return
        elif self.standing[event, who]:
            self.noticed.add((event, who))
        for i in range(len(self.states)) if who is None else (who,):
            self._move(i, event)

    def _begin_or_end(self, event: Event, who: int | None, stands: bool) -> tuple[Event | None, int | None]:
        """A cue takes effect: what the machine sees of it at once."""
        if event in (Event.CALL, Event.CALL_ENDS):
            self.calls[who] = event is Event.CALL
            return None, None
        if event is Event.RESET:
            self.noticed = {n for n in self.noticed if who is not None and n[1] not in (None, who)}
            return event, who
        if event is Event.POWER_LOST:
            self.dark += 1 if stands else -1
            return (event, None) if stands else (None, None) if self.dark > 0 else (Event.POWER_BACK, None)
        if event is Event.POWER_BACK:
            self.dark = 0
            return event, None
        self.standing[event, who] += 1 if stands else -1
        if not self.standing[event, who]:
            self.noticed.discard((event, who))
            self.cleared = self.now if event in _IN_THE_WAY else self.cleared
        return None, None

    def _move(self, i: int, event: Event) -> None:
        state = step(self.states[i], event)
        if state is self.states[i]:
            return
        self.states[i], self.since[i] = state, self.now
        self.changes.append(Change(self.now, i, event, state))
        if state is State.PURGE:
            self.released = self.now
        self.fan_since = self._kept(self.fan_since, commanded(self.states).fan)
        proved = any(OUTPUTS[s].damper == "control" for s in self.states)
        self.controlled_since = self._kept(self.controlled_since, proved)

    def _kept(self, since: float | None, holds: bool) -> float | None:
        """Since when something holds without a break: what it was, now where it begins, None where it does not."""
        return (self.now if since is None else since) if holds else None


def _moments(cues: Iterable[Cue], settings: Settings) -> Iterator[tuple[float, Event, int | None, bool]]:
    """When each cue begins and, where it lasts, ends."""
    names = [b.name for b in settings.burners]
    for cue in cues:
        begin, who = float(cue.time.m_as("s")), None if cue.appliance is None else names.index(cue.appliance)
        yield begin, cue.event, who, True
        if cue.lasts is not None and cue.event in FAULTS:
            yield begin + float(cue.lasts.m_as("s")), cue.event, who, False


# --- From a recorded pressure to what it brings about ---------------------------------------------------------


def pressure_cues(times: np.ndarray, reading: np.ndarray, settings: Settings) -> tuple[Cue, ...]:
    """The cues that lie in a recorded pressure: beyond a limit, out of the sensor's range, frozen.

    ``times`` [s] rising and ``reading`` [Pa], plain arrays of one length. A reading at either end of the sensor's
    range or beyond is no reading, and is still beyond the limit on that side; one that has not changed at all for
    ``frozen_after`` is frozen from then on. Each stretch becomes one cue with how long it lasts. Give a record from
    while the fan runs: at rest a draft may well be still. Raises ValueError where lengths differ or times do not rise.
    """
    times, reading = np.asarray(times, float), np.asarray(reading, float)
    if times.ndim != 1 or times.shape != reading.shape or times.size < 2:
        raise ValueError(f"times {times.shape} and reading {reading.shape} must be equally long, two or more values")
    if not (np.diff(times) > 0).all():
        raise ValueError("times must rise")
    limit = {n: getattr(settings, n).m_as("Pa") for n in ("high_limit", "low_limit", "sensor_least", "sensor_most")}
    outside = ~((reading > limit["sensor_least"]) & (reading < limit["sensor_most"]))  # NaN is outside as well
    frozen = _still(times, reading) >= settings.seconds("frozen_after")
    found = []
    for event, flags in (
        (Event.HIGH_PRESSURE, reading > limit["high_limit"]),
        (Event.LOW_PRESSURE, reading < limit["low_limit"]),
        (Event.SENSOR_FAILED, outside | frozen),
    ):
        found += [Cue(Q_(b, "s"), event, lasts=Q_(e - b, "s")) for b, e in _stretches(times, flags)]
    return tuple(sorted(found, key=lambda cue: cue.time))


def _still(times: np.ndarray, reading: np.ndarray) -> np.ndarray:
    """How long [s] the reading has not changed, at each time."""
    changed = np.concatenate([[True], np.diff(reading) != 0.0])
    return times - np.maximum.accumulate(np.where(changed, times, times[0]))


def _stretches(times: np.ndarray, flags: np.ndarray) -> list[tuple[float, float]]:
    """Begin and end of every stretch in which the flags are set; one that is still set at the end ends there."""
    edges = np.diff(np.concatenate([[0], flags.astype(int), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [(float(times[b]), float(times[min(e, times.size - 1)])) for b, e in zip(begins, ends, strict=True)]
