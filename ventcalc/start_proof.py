"""Start proof: everything that can happen in a start, tried in every order and held to rules that know no states.

Whoever wrote the table of `start_sequence` cannot be the one who says that it is right. So an observer watches who sees
only events and what is commanded (`Watch`, `observe`), and `RULES` say in the observer's words what must never be: fuel
without a purge, a fan that stops too soon. From idle every event is tried, from each situation so found every event
again, until nothing new turns up. A situation is a state together with what the observer knows; two histories that end
in the same one go on alike, so there are few of them and the search covers sequences of any length.

`prove` does that for one appliance; `walk` tries sequences one by one and merges nothing; `prove_vent` searches several
appliances on one vent, held to rules on what they share. A search that finds nothing may be blind: each takes a
``table`` other than the right one, to see it caught.
"""

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from ventcalc.start_sequence import (
    DARK_STATES,
    FAULTS,
    LIMITS,
    LOCKED_STATES,
    OF_ONE_APPLIANCE,
    OF_THE_VENT,
    OUTPUTS,
    STOP_THE_FAN,
    TRANSITIONS,
    Event,
    Output,
    State,
    Table,
    commanded,
    step,
)

# --- What an observer knows, and the rules --------------------------------------------------------------------


class Watch(NamedTuple):
    """What an observer of events and commands knows, without knowing the state.

    ``powered``; the fan is ``running``; draft is ``proved``; a purge was completed since fuel last flowed or the fan
    last stopped (``purged``); fuel has flowed since, and the fan has run on (``foul``: it must go on until a purge is
    complete); a pilot flame is ``lit``; a manual reset is ``due``; there is a ``call`` for heat.
    """

    powered: bool = True
    running: bool = False
    proved: bool = False
    purged: bool = False
    foul: bool = False
    lit: bool = False
    due: bool = False
    call: bool = False


def observe(watch: Watch, before: Output, event: Event, after: Output) -> Watch:
    """What the observer knows after an event, from what was commanded before and is commanded now."""
    if not watch.powered:  # a dead control sees nothing but that it is alive again
        return watch._replace(powered=event is Event.POWER_BACK)
    purge_over = event is Event.TIME_UP and watch.proved and before.fan and not before.fuel
    running = (watch.running or event is Event.FAN_RUNNING) and after.fan and event not in STOP_THE_FAN
    proved = (watch.proved or (event is Event.PROVED and watch.running)) and running
    shut = (before.main and not after.main) or (before.pilot and not after.fuel)
    return Watch(
        powered=event is not Event.POWER_LOST,
        running=running,
        proved=proved,
        purged=(watch.purged or purge_over) and proved and not shut and event not in FAULTS,
        foul=before.fan and (after.fuel or (watch.foul and not purge_over)),
        lit=(watch.lit or (event is Event.FLAME and before.pilot)) and after.fuel,
        due=_reset_due(watch, before, event),
        call=event is Event.CALL or (watch.call and event is not Event.CALL_ENDS),
    )


def _reset_due(watch: Watch, before: Output, event: Event) -> bool:
    """Whether a fault waits for a manual reset; a reset counts once the fan has stopped and there is power."""
    if event is Event.RESET and not before.fan:
        return False
    late = event is Event.TIME_UP and (before.pilot or (before.fan and not watch.proved))
    return watch.due or event in LIMITS or late or _flame_is_wrong(before, event)


def _flame_is_wrong(before: Output, event: Event) -> bool:
    """Whether a flame comes where none may be, or goes where one must be."""
    return event is (Event.FLAME_LOST if before.fuel else Event.FLAME)


_MAY_STOP_THE_FAN = (*STOP_THE_FAN, Event.POWER_LOST)
_REASONS = (*LIMITS, Event.POWER_LOST, Event.CALL_ENDS, Event.TIME_UP)
NO_DEAD_STATE = "every state is reached, and from every one a burner can be brought to run"

Rule = Callable[[Watch, Output, Event, Output], bool]

# Each rule by its name: it holds where the function is true of what is known, what was commanded, the event, and what
# is commanded now.
RULES: Mapping[str, Rule] = {
    "fuel only with power, proof, a full purge, a release and no reset due": lambda known, was, event, now: (
        not now.fuel or (known.powered and known.proved and known.purged and not known.due and now.fan and now.release)
    ),
    "the pilot valve opens only when the time of a purge is up": lambda known, was, event, now: (
        was.pilot or not now.pilot or (event is Event.TIME_UP and not was.fuel)
    ),
    "main valve only on a proved pilot flame": lambda known, was, event, now: known.lit or not now.main,
    "the main flame stands alone only when it is proved itself": lambda known, was, event, now: (
        not (was.pilot and now.main) or now.pilot or event is Event.FLAME
    ),
    "without power nothing is commanded": lambda known, was, event, now: (
        known.powered or not (now.fan or now.release or now.fuel or now.alarm)
    ),
    "alarm where a reset is due, and only there": lambda known, was, event, now: (
        now.alarm == (known.due and known.powered)
    ),
    "a burner is released only while there is a call": lambda known, was, event, now: known.call or not now.release,
    "only a call starts the fan": lambda known, was, event, now: was.fan or not now.fan or event is Event.CALL,
    "a fan that failed, proves nothing or pulls too hard is stopped": lambda known, was, event, now: (
        not (now.fan and event in _MAY_STOP_THE_FAN)
    ),
    "any other fault leaves the fan running": lambda known, was, event, now: (
        not was.fan or now.fan or event in (*_MAY_STOP_THE_FAN, Event.CALL_ENDS, Event.TIME_UP)
    ),
    "after fuel the fan runs on until all is purged": lambda known, was, event, now: (
        not was.fan or now.fan or not known.foul or event in _MAY_STOP_THE_FAN
    ),
    "a release is withdrawn only for a reason": lambda known, was, event, now: (
        not was.release or now.release or _flame_is_wrong(was, event) or event in _REASONS
    ),
}

# --- The search -----------------------------------------------------------------------------------------------


class Broken(NamedTuple):
    """A rule that does not hold, and the events from idle that lead there."""

    rule: str
    events: tuple[Event, ...]


@dataclass(frozen=True)
class Proof:
    """What a search found: the situations ``reached`` (state and what is known), ``steps`` tried from them, ``depth``
    (events to the farthest), and what is ``broken``."""

    reached: tuple[tuple, ...]
    steps: int
    depth: int
    broken: tuple[Broken, ...]


START = (State.IDLE, Watch())


def _try(node: tuple[State, Watch], event: Event, table: Table) -> tuple[tuple[State, Watch], tuple[str, ...]]:
    """The node after an event, and the rules broken on the way."""
    state, watch = node
    after = step(state, event, table)
    before, now = OUTPUTS[state], OUTPUTS[after]
    known = observe(watch, before, event, now)
    return (after, known), tuple(name for name, holds in RULES.items() if not holds(known, before, event, now))


def prove(table: Table = TRANSITIONS) -> Proof:
    """Search everything that one appliance can do, breadth first, in every order of events and to any depth.

    Two sequences that lead to the same state with the same knowledge go on alike, so each such node is looked at
    once. The shortest counterexample of every broken rule is kept. ``table``: transitions to be held to the `RULES`
    and to `NO_DEAD_STATE`.
    """
    paths: dict[tuple[State, Watch], tuple[Event, ...]] = {START: ()}
    queue, broken = deque([START]), {}
    while queue:
        node = queue.popleft()
        for event in Event:
            found, rules = _try(node, event, table)
            path = (*paths[node], event)
            for rule in rules:
                broken.setdefault(rule, path)
            if found not in paths:
                paths[found] = path
                queue.append(found)
    if {state for state, _ in paths} != set(State) or _lead_to_run(table) != set(State):
        broken[NO_DEAD_STATE] = ()
    depth = max(len(p) for p in paths.values())
    return Proof(tuple(paths), len(paths) * len(Event), depth, tuple(Broken(r, p) for r, p in broken.items()))


def _lead_to_run(table: Table) -> set[State]:
    """The states from which some run of events leads to a burner that runs."""
    found = {State.RUN}
    while more := {at for (at, _), to in table.items() if to in found} - found:
        found |= more
    return found


def walk(depth: int, table: Table = TRANSITIONS, start: tuple[State, Watch] = START) -> tuple[int, frozenset[str]]:
    """Try event sequences one by one, up to ``depth`` events, merging nothing: how many, and the rules broken.

    Only events that change something are followed: a sequence with others in between is the same without them.
    ``start``: a situation that `prove` reached.
    """
    edges: dict[tuple[State, Watch], list[tuple[State, Watch]]] = {}
    broken: set[str] = set()

    def follow(node: tuple[State, Watch]) -> list[tuple[State, Watch]]:
        if node not in edges:
            tried = [_try(node, event, table) for event in Event]
            broken.update(rule for _, rules in tried for rule in rules)
            edges[node] = [found for found, _ in tried if found != node]
        return edges[node]

    def count(node: tuple[State, Watch], left: int) -> int:
        return 1 + (sum(count(found, left - 1) for found in follow(node)) if left else 0)

    return count(start, depth), frozenset(broken)


# --- Several appliances on one vent ---------------------------------------------------------------------------


class _Vent(NamedTuple):
    """Appliances on one vent, and what is true of the fan they share."""

    states: tuple[State, ...]
    running: bool = False
    proved: bool = False


def _vent_steps(vent: _Vent, table: Table) -> Iterator[tuple[Event, int | None, _Vent]]:
    """Everything that can happen next to a vent: the event, whom it befalls (None: all), and what comes of it."""
    count = len(vent.states)
    for event in Event:
        whole = event not in OF_ONE_APPLIANCE and event is not Event.TIME_UP
        for who in (None,) if whole and event is not Event.RESET else (*((None,) if whole else ()), *range(count)):
            yield event, who, _vent_after(vent, event, who, table)
    # Who starts late finds the fan running or the draft proved, where it is.
    for event, true in ((Event.FAN_RUNNING, vent.running), (Event.PROVED, vent.proved)):
        if true:
            yield from ((event, who, _vent_after(vent, event, who, table)) for who in range(count))


def _vent_after(vent: _Vent, event: Event, who: int | None, table: Table) -> _Vent:
    states = tuple(step(s, event, table) if who in (None, i) else s for i, s in enumerate(vent.states))
    fan = commanded(states).fan and event not in _MAY_STOP_THE_FAN
    running = fan and (vent.running or event is Event.FAN_RUNNING)
    return _Vent(states, running, running and (vent.proved or (event is Event.PROVED and vent.running)))


_VENT_RULES: Mapping[str, Callable[[_Vent, Event, _Vent], bool]] = {
    "fuel anywhere only while the shared fan runs and draft is proved": lambda before, event, after: (
        not commanded(after.states).fuel or after.proved
    ),
    "a fault of the vent shuts every burner at once": lambda before, event, after: (
        event not in OF_THE_VENT or not commanded(after.states).fuel or event is Event.POWER_BACK
    ),
    "a limit locks every appliance out": lambda before, event, after: (
        event not in LIMITS or all(s in (*LOCKED_STATES, *DARK_STATES) for s in after.states)
    ),
    "a flame lost in one shuts no other": lambda before, event, after: (
        event is not Event.FLAME_LOST
        or sum(OUTPUTS[s].fuel for s in before.states) - sum(OUTPUTS[s].fuel for s in after.states) <= 1
    ),
}


def prove_vent(appliances: int, table: Table = TRANSITIONS) -> Proof:
    """Search everything that several appliances on one vent can do together, in every order and to any depth.

    A counterexample names the events in order, not whom each befell.
    """
    start = _Vent((State.IDLE,) * appliances)
    paths, queue, broken, steps = {start: ()}, deque([start]), {}, 0
    while queue:
        vent = queue.popleft()
        for event, _who, after in _vent_steps(vent, table):
            steps += 1
            path = (*paths[vent], event)
            for rule, holds in _VENT_RULES.items():
                if rule not in broken and not holds(vent, event, after):
                    broken[rule] = path
            if after not in paths:
                paths[after] = path
                queue.append(after)
    return Proof(
        tuple(paths), steps, max(len(p) for p in paths.values()), tuple(Broken(r, p) for r, p in broken.items())
    )
