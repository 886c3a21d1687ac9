"""Start proof: everything that can happen in a start, tried in every order and held to rules that know no states.

Whoever wrote the table of `start_sequence` cannot be the one who says that it is right. So an observer watches who sees
only events and what is commanded (`Watch`, `observe`), and `RULES` say in the observer's words (`FACTS`) what must
never be: fuel without a purge, a release without draft, a fan that stops too soon. From idle every event is tried, from
each situation so found every event again, until nothing new turns up. A situation is a state together with what the
observer knows; two histories that end in the same one go on alike, so there are few of them and the search covers
sequences of any length.

`prove` does that for one appliance; `walk` tries sequences one by one and merges nothing; `prove_vent` searches several
appliances on one vent, held to rules on what they share. A search that finds nothing may be blind: each takes a
``table`` and ``outputs`` other than the right ones, to see them caught.
"""

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from ventcalc.draft.start_sequence import (
    DARK_STATES,
    FAULTS,
    LIMITS,
    LOCKED_STATES,
    OF_ONE_APPLIANCE,
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


class Rule(NamedTuple):
    """What must never be, by the names of facts: where all of ``when`` are true all of ``must`` have to be, but for
    where one of ``unless`` is."""

    name: str
    when: tuple[str, ...]
    must: tuple[str, ...]
    unless: tuple[str, ...] = ()

    def holds(self, facts: Mapping[str, Callable[..., bool]], *seen) -> bool:
        """Whether it holds of what was seen, which is what the ``facts`` take."""
        if not all(facts[name](*seen) for name in self.when) or any(facts[name](*seen) for name in self.unless):
            return True
        return all(facts[name](*seen) for name in self.must)


# What the rules speak of: true or not of what is known, what was commanded, the event, and what is commanded now.
FACTS: Mapping[str, Callable[[Watch, Output, Event, Output], bool]] = {
    "there is power": lambda known, was, event, now: known.powered,
    "there is no power": lambda known, was, event, now: not known.powered,
    "there is a call": lambda known, was, event, now: known.call,
    "draft is proved": lambda known, was, event, now: known.proved,
    "a purge is complete": lambda known, was, event, now: known.purged,
    "gas is left from a fire": lambda known, was, event, now: known.foul,
    "the pilot flame is proved": lambda known, was, event, now: known.lit,
    "a reset is due": lambda known, was, event, now: known.due,
    "no reset is due": lambda known, was, event, now: not known.due,
    "the fan ran": lambda known, was, event, now: was.fan,
    "the fan stood": lambda known, was, event, now: not was.fan,
    "the burner was released": lambda known, was, event, now: was.release,
    "the pilot valve was open": lambda known, was, event, now: was.pilot,
    "the pilot valve was shut": lambda known, was, event, now: not was.pilot,
    "all valves were shut": lambda known, was, event, now: not was.fuel,
    "a call comes": lambda known, was, event, now: event is Event.CALL,
    "a time is up": lambda known, was, event, now: event is Event.TIME_UP,
    "a flame is proved": lambda known, was, event, now: event is Event.FLAME,
    "a flame is wrong": lambda known, was, event, now: _flame_is_wrong(was, event),
    "a fault stops the fan": lambda known, was, event, now: event in _MAY_STOP_THE_FAN,
    "the call or a time ends": lambda known, was, event, now: event in (Event.CALL_ENDS, Event.TIME_UP),
    "a limit, the call or a time ends it": lambda known, was, event, now: event in _REASONS,
    "fuel flows": lambda known, was, event, now: now.fuel,
    "the pilot valve is open": lambda known, was, event, now: now.pilot,
    "the main valve is open": lambda known, was, event, now: now.main,
    "the fan runs": lambda known, was, event, now: now.fan,
    "the fan is off": lambda known, was, event, now: not now.fan,
    "the burner is released": lambda known, was, event, now: now.release,
    "there is an alarm": lambda known, was, event, now: now.alarm,
    "nothing is commanded": lambda known, was, event, now: not (now.fan or now.release or now.fuel or now.alarm),
}

RULES = (
    Rule(
        "fuel only with power, proof, a full purge, a release and no reset due",
        ("fuel flows",),
        (
            "there is power",
            "draft is proved",
            "a purge is complete",
            "no reset is due",
            "the fan runs",
            "the burner is released",
        ),
    ),
    Rule("a burner is released only when draft is proved", ("the burner is released",), ("draft is proved",)),
    Rule(
        "the pilot valve opens only when the time of a purge is up",
        ("the pilot valve was shut", "the pilot valve is open"),
        ("a time is up", "all valves were shut"),
    ),
    Rule("main valve only on a proved pilot flame", ("the main valve is open",), ("the pilot flame is proved",)),
    Rule(
        "the main flame burns alone only when it is itself proved",
        ("the pilot valve was open", "the main valve is open"),
        ("a flame is proved",),
        unless=("the pilot valve is open",),
    ),
    Rule("without power nothing is commanded", ("there is no power",), ("nothing is commanded",)),
    Rule("alarm where a reset is due", ("a reset is due", "there is power"), ("there is an alarm",)),
    Rule("alarm only where a reset is due", ("there is an alarm",), ("a reset is due",)),
    Rule("a burner is released only while there is a call", ("the burner is released",), ("there is a call",)),
    Rule("only a call starts the fan", ("the fan stood", "the fan runs"), ("a call comes",)),
    Rule(
        "a fan that failed, proves nothing or pulls too hard is stopped",
        ("a fault stops the fan",),
        ("the fan is off",),
    ),
    Rule(
        "any other fault leaves the fan running",
        ("the fan ran",),
        ("the fan runs",),
        unless=("a fault stops the fan", "the call or a time ends"),
    ),
    Rule(
        "after fuel the fan runs on until all is purged",
        ("the fan ran", "gas is left from a fire"),
        ("the fan runs",),
        unless=("a fault stops the fan",),
    ),
    Rule(
        "a release is withdrawn only for a reason",
        ("the burner was released",),
        ("the burner is released",),
        unless=("a flame is wrong", "a limit, the call or a time ends it"),
    ),
)

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


Outputs = Mapping[State, Output]


def _try(
    node: tuple[State, Watch], event: Event, table: Table, outputs: Outputs = OUTPUTS
) -> tuple[tuple[State, Watch], tuple[str, ...]]:
    """The node after an event, and the rules broken on the way."""
    state, watch = node
    after = step(state, event, table)
    known, broken = _seen(watch, outputs[state], event, outputs[after])
    return (after, known), broken


@cache
def _seen(watch: Watch, before: Output, event: Event, now: Output) -> tuple[Watch, tuple[str, ...]]:
    """What the observer knows then, and the names of the rules that do not hold; many searches see the same."""
    known = observe(watch, before, event, now)
    return known, tuple(r.name for r in RULES if not r.holds(FACTS, known, before, event, now))


def prove(table: Table = TRANSITIONS, outputs: Outputs = OUTPUTS) -> Proof:
    """Search everything that one appliance can do, breadth first, in every order of events and to any depth.

    Two sequences that lead to the same state with the same knowledge go on alike, so each such node is looked at
    once. The shortest counterexample of every broken rule is kept. ``table`` and ``outputs``: transitions, and what is
    commanded in every state, to be held to the `RULES` and to `NO_DEAD_STATE`.
    """
    paths: dict[tuple[State, Watch], tuple[Event, ...]] = {START: ()}
    queue, broken = deque([START]), {}
    while queue:
        node = queue.popleft()
        for event in Event:
            found, rules = _try(node, event, table, outputs)
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


def _vent_steps(
    vent: _Vent, table: Table, outputs: Outputs, own: tuple[Event, ...]
) -> Iterator[tuple[Event, int | None, _Vent]]:
    """Everything that can happen next to a vent: the event, whom it befalls (None: all), and what comes of it."""
    count = len(vent.states)
    for event in Event:
        whole = event not in own and event is not Event.TIME_UP
        for who in (None,) if whole and event is not Event.RESET else (*((None,) if whole else ()), *range(count)):
            yield event, who, _vent_after(vent, event, who, table, outputs)
    # Who starts late finds the fan running or the draft proved, where it is.
    for event, true in ((Event.FAN_RUNNING, vent.running), (Event.PROVED, vent.proved)):
        if true:
            yield from ((event, who, _vent_after(vent, event, who, table, outputs)) for who in range(count))


def _vent_after(vent: _Vent, event: Event, who: int | None, table: Table, outputs: Outputs) -> _Vent:
    states = tuple(step(s, event, table) if who in (None, i) else s for i, s in enumerate(vent.states))
    fan = commanded(states, outputs).fan and event not in _MAY_STOP_THE_FAN
    running = fan and (vent.running or event is Event.FAN_RUNNING)
    return _Vent(states, running, running and (vent.proved or (event is Event.PROVED and vent.running)))


# What the vent's rules speak of: true or not of the vent before, the event, the vent after, and what it commands.
VENT_FACTS: Mapping[str, Callable[[_Vent, Event, _Vent, Outputs], bool]] = {
    "fuel flows": lambda before, event, after, outputs: commanded(after.states, outputs).fuel,
    "a burner is released": lambda before, event, after, outputs: commanded(after.states, outputs).release,
    "no fuel flows": lambda before, event, after, outputs: not commanded(after.states, outputs).fuel,
    "the shared fan runs and draft is proved": lambda before, event, after, outputs: after.proved,
    "a fault of the vent": lambda before, event, after, outputs: event in (*LIMITS, Event.POWER_LOST),
    "a limit": lambda before, event, after, outputs: event in LIMITS,
    "a flame is lost": lambda before, event, after, outputs: event is Event.FLAME_LOST,
    "all are locked out": lambda before, event, after, outputs: all(
        s in (*LOCKED_STATES, *DARK_STATES) for s in after.states
    ),
    "one burner at most is shut": lambda before, event, after, outputs: (
        sum(outputs[s].fuel for s in before.states) - sum(outputs[s].fuel for s in after.states) <= 1
    ),
}

VENT_RULES = (
    Rule(
        "fuel anywhere only while the shared fan runs and draft is proved",
        ("fuel flows",),
        ("the shared fan runs and draft is proved",),
    ),
    Rule(
        "a release anywhere only while the shared fan runs and draft is proved",
        ("a burner is released",),
        ("the shared fan runs and draft is proved",),
    ),
    Rule("a fault of the vent shuts every burner at once", ("a fault of the vent",), ("no fuel flows",)),
    Rule("a limit locks every appliance out", ("a limit",), ("all are locked out",)),
    Rule("a flame lost in one shuts no other", ("a flame is lost",), ("one burner at most is shut",)),
)


def prove_vent(
    appliances: int,
    table: Table = TRANSITIONS,
    outputs: Outputs = OUTPUTS,
    own: tuple[Event, ...] = OF_ONE_APPLIANCE,
) -> Proof:
    """Search everything that several appliances on one vent can do together, in every order and to any depth.

    A counterexample names the events in order, not whom each befell. ``table`` and ``outputs`` as in `prove`; ``own``
    are the events that befall one appliance, not all.
    """
    start = _Vent((State.IDLE,) * appliances)
    paths, queue, broken, steps = {start: ()}, deque([start]), {}, 0
    while queue:
        vent = queue.popleft()
        for event, _who, after in _vent_steps(vent, table, outputs, own):
            steps += 1
            path = (*paths[vent], event)
            for rule in VENT_RULES:
                if rule.name not in broken and not rule.holds(VENT_FACTS, vent, event, after, outputs):
                    broken[rule.name] = path
            if after not in paths:
                paths[after] = path
                queue.append(after)
    return Proof(
        tuple(paths), steps, max(len(p) for p in paths.values()), tuple(Broken(r, p) for r, p in broken.items())
    )
