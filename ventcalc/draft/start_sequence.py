"""Start sequence: from the call for heat to light-off and after, and what each failure must lead to (lockout).

A sequencer of a common vent proves the draft and then *releases* burners; lighting them is the business of each
burner's own listed control, whose steps stand here because the vent must follow them. Every appliance runs through
one small machine: `State`, `Event`, the table `TRANSITIONS` and the pure function `step`; what is commanded in a
state stands in the table `OUTPUTS`. Appliances on one vent run through the same machine side by side. What befalls
the vent (a limit, the fan, the power) befalls all of them at once; its fan runs as long as any of them demands it.

`sequencer` runs the machine by the clock, with the delays of `start_settings`. That no order of events makes the
machine break a rule is shown in `start_proof`; how long a purge takes stands in `purge`.

A sequencer of this kind is no flame safeguard and takes the place of none.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from enum import Enum
from typing import NamedTuple


class State(Enum):
    """Where one appliance stands in its sequence."""

    __hash__ = object.__hash__  # there is one of each: a search that asks for millions need not hash their names

    IDLE = "idle"
    STARTING = "fan starting"
    PROVING = "proving draft"
    PURGE = "purge"
    PILOT = "pilot trial"
    MAIN = "main trial"
    RUN = "run"
    POST_PURGE = "post-purge"
    TRIPPED = "lockout purge"
    LOCKOUT = "lockout"
    NO_POWER = "no power"
    NO_POWER_LOCKED = "no power in lockout"


class Event(Enum):
    """What can happen to it. `TIME_UP`: the time of the state it is in has run out."""

    __hash__ = object.__hash__

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
