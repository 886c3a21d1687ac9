"""Start proof: the search finds nothing, agrees with brute force and with another observer, and is not blind."""

from functools import reduce
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc.draft.start_proof import (
    FACTS,
    NO_DEAD_STATE,
    RULES,
    START,
    VENT_FACTS,
    VENT_RULES,
    Broken,
    Watch,
    observe,
    prove,
    prove_vent,
    walk,
)
from ventcalc.draft.start_sequence import FAULTS, LIMITS, OF_ONE_APPLIANCE, OUTPUTS, TRANSITIONS, Event, State, step

S = State
E = Event


def test_everything_that_can_happen_breaks_no_rule():
    proof = prove()
    assert proof.broken == ()
    assert {state for state, _ in proof.reached} == set(State)
    assert proof.steps == len(proof.reached) * len(Event)


def test_sequences_one_by_one_from_every_situation_break_no_rule():
    # Depth 8 from idle, merging nothing; depth 6 from every situation that is reached.
    count, broken = walk(8)
    assert count > 100_000 and not broken
    for situation in prove().reached:
        count, broken = walk(6, start=situation)
        assert count > 100 and not broken


@pytest.mark.slow
def test_all_sequences_of_five_events_agree_with_the_search():
    """Nothing merged and nothing left out: 16^5 sequences, each from idle; they reach what the search says."""
    reached = {START}
    for _ in range(5):
        reached |= {_after(situation, event) for situation in reached for event in Event}
    brute = set()
    for events in product(Event, repeat=4):
        situation = START
        for event in events:
            situation = _after(situation, event)
        brute |= {_after(situation, event) for event in Event}
    assert brute <= reached <= set(prove().reached)
    assert all(not OUTPUTS[s].fuel or (w.proved and w.purged and not w.due) for s, w in brute)


AFTER = {}


def _after(situation, event):
    if (situation, event) not in AFTER:
        state, watch = situation
        to = step(state, event)
        AFTER[situation, event] = to, observe(watch, OUTPUTS[state], event, OUTPUTS[to])
    return AFTER[situation, event]


@given(st.lists(st.sampled_from(list(Event)), max_size=60))
def test_long_sequences_keep_fuel_behind_proof_and_purge(events):
    """An observer of another make: it keeps the whole history and looks back along it."""
    state, history = S.IDLE, []
    for event in events:
        before, state = state, step(state, event)
        history.append((before, event, state))
        if OUTPUTS[state].fuel:
            begin = max(
                (k for k, (b, _, a) in enumerate(history) if not OUTPUTS[b].fan and OUTPUTS[a].fan), default=None
            )
            since_fan = history[begin:]
            shut = max(
                (k for k, (b, _, a) in enumerate(since_fan) if OUTPUTS[b].fuel and not OUTPUTS[a].fuel), default=0
            )
            assert any(e is E.PROVED for _, e, _ in since_fan)
            assert any((b, e) == (S.PURGE, E.TIME_UP) for b, e, _ in since_fan[shut:])
            assert not any(e in (*LIMITS, E.POWER_LOST) for _, e, _ in since_fan)


# No single transition breaks these; a state that commands what it must not does (`WRONG`).
OF_OUTPUTS = ("a burner is released only when draft is proved", "without power nothing is commanded")


@pytest.fixture(scope="module")
def altered():
    """The rules broken by every table with one entry set to a wrong state: (state, event, wrong) -> names."""
    found = {}
    for (state, event), right in TRANSITIONS.items():
        for wrong in set(State) - {right}:
            table = {**TRANSITIONS, (state, event): wrong}
            found[state, event, wrong] = {b.rule for b in prove(table).broken}
    return found


@pytest.mark.slow
def test_every_altered_fault_transition_is_caught(altered):
    faults = {what: rules for what, rules in altered.items() if what[1] in FAULTS}
    assert len(faults) == len(State) * len(FAULTS) * (len(State) - 1) == 1056
    assert [what for what, rules in faults.items() if not rules] == []


@pytest.mark.slow
def test_what_the_search_lets_pass_opens_no_fuel(altered):
    """Of all other alterations those that pass only purge once more than they need to."""
    missed = [what for what, rules in altered.items() if not rules]
    assert {wrong for *_, wrong in missed} <= {S.PURGE, S.POST_PURGE, S.TRIPPED}
    assert len(missed) == 25  # a pin of our own, so that a weakened rule shows


@pytest.mark.parametrize("rule", [*(r.name for r in RULES if r.name not in OF_OUTPUTS), NO_DEAD_STATE])
def test_every_rule_catches_something(altered, rule):
    assert any(rule in rules for rules in altered.values())


def test_a_counterexample_is_one():
    table = {**TRANSITIONS, (S.PURGE, E.CALL_ENDS): S.IDLE}
    (found,) = prove(table).broken
    assert isinstance(found, Broken) and found.rule == "after fuel the fan runs on until all is purged"
    assert E.CALL_ENDS in found.events
    assert reduce(lambda at, event: step(at, event, table), found.events, S.IDLE) is S.IDLE
    assert any(walk(8, table)[1]) and not OUTPUTS[S.IDLE].fan


def test_a_table_without_a_way_to_run_is_called_dead():
    table = {**TRANSITIONS, (S.PURGE, E.TIME_UP): S.PURGE}
    assert NO_DEAD_STATE in {b.rule for b in prove(table).broken}


def test_what_the_observer_knows():
    off, idle = OUTPUTS[S.IDLE], OUTPUTS[S.STARTING]
    assert observe(Watch(), off, E.CALL, idle) == Watch(call=True)
    assert not observe(Watch(), idle, E.PROVED, idle).proved  # proof before the fan runs is a stuck switch
    assert observe(Watch(powered=False), off, E.HIGH_PRESSURE, off) == Watch(powered=False)


@pytest.mark.slow
@pytest.mark.parametrize("count", [1, 2, 3])
def test_several_appliances_on_one_vent_break_no_rule(count):
    proof = prove_vent(count)
    assert proof.broken == ()
    assert {states for v in proof.reached for states in v.states} == set(State)
    # All run at once in some of it, and one runs while another is locked out in some.
    assert any(set(v.states) == {S.RUN} for v in proof.reached)
    assert count == 1 or any({S.RUN, S.LOCKOUT} <= set(v.states) for v in proof.reached)


@pytest.mark.parametrize("limit", LIMITS)
def test_a_limit_ignored_in_one_state_is_caught_on_the_vent_as_well(limit):
    assert prove_vent(2, {**TRANSITIONS, (S.RUN, limit): S.RUN}).broken


# --- One wrong table for every rule, which breaks only that -----------------------------------------------------------


def leads(state, event, to):
    return {**TRANSITIONS, (state, event): to}, OUTPUTS


def commands(state, **wrong):
    return TRANSITIONS, {**OUTPUTS, state: OUTPUTS[state]._replace(**wrong)}


WRONG = {
    "fuel only with power, proof, a full purge, a release and no reset due": commands(S.PILOT, release=False),
    "a burner is released only when draft is proved": commands(S.PROVING, release=True),
    "the pilot valve opens only when the time of a purge is up": leads(S.RUN, E.CALL, S.MAIN),
    "main valve only on a proved pilot flame": commands(S.PILOT, main=True),
    "the main flame burns alone only when it is itself proved": leads(S.MAIN, E.PROVED, S.RUN),
    "without power nothing is commanded": commands(S.NO_POWER_LOCKED, alarm=True),
    "alarm where a reset is due": commands(S.LOCKOUT, alarm=False),
    "alarm only where a reset is due": leads(S.IDLE, E.FAN_RUNNING, S.LOCKOUT),
    "a burner is released only while there is a call": leads(S.PURGE, E.CALL_ENDS, S.PURGE),
    "only a call starts the fan": leads(S.IDLE, E.HIGH_PRESSURE, S.TRIPPED),
    "a fan that failed, proves nothing or pulls too hard is stopped": leads(S.PROVING, E.LOW_PRESSURE, S.TRIPPED),
    "any other fault leaves the fan running": leads(S.STARTING, E.HIGH_PRESSURE, S.LOCKOUT),
    "after fuel the fan runs on until all is purged": leads(S.RUN, E.CALL_ENDS, S.IDLE),
    "a release is withdrawn only for a reason": leads(S.PURGE, E.PROVED, S.POST_PURGE),
    NO_DEAD_STATE: leads(S.PURGE, E.TIME_UP, S.PURGE),
}


def test_every_rule_has_its_wrong_table():
    assert set(WRONG) == {*(r.name for r in RULES), NO_DEAD_STATE}
    assert set(VENT_WRONG) == {r.name for r in VENT_RULES}
    spoken = {f for r in RULES for f in (*r.when, *r.must, *r.unless)}
    assert spoken == set(FACTS)
    assert {f for r in VENT_RULES for f in (*r.when, *r.must, *r.unless)} == set(VENT_FACTS)


@pytest.mark.parametrize("rule", WRONG)
def test_a_wrong_table_breaks_its_rule_and_no_other(rule):
    assert [b.rule for b in prove(*WRONG[rule]).broken] == [rule]


# A trip that leaves the main valve open: without the trips from states in which no draft is proved, which break more.
OPEN_TRIP = (
    TRANSITIONS | {(s, e): S.LOCKOUT for s in (S.STARTING, S.PROVING) for e in (*LIMITS, E.FLAME)},
    OUTPUTS | {S.TRIPPED: OUTPUTS[S.TRIPPED]._replace(main=True)},
)

VENT_WRONG = {
    "fuel anywhere only while the shared fan runs and draft is proved": commands(S.IDLE, pilot=True),
    "a release anywhere only while the shared fan runs and draft is proved": commands(S.PROVING, release=True),
    "a fault of the vent shuts every burner at once": OPEN_TRIP,
    "a limit locks every appliance out": leads(S.RUN, E.HIGH_PRESSURE, S.POST_PURGE),
    "a flame lost in one shuts no other": (TRANSITIONS, OUTPUTS, tuple(set(OF_ONE_APPLIANCE) - {E.FLAME_LOST})),
}


@pytest.mark.parametrize("rule", VENT_WRONG)
def test_a_wrong_vent_breaks_its_rule_and_no_other(rule):
    assert [b.rule for b in prove_vent(2, *VENT_WRONG[rule]).broken] == [rule]


def test_a_table_that_releases_before_draft_is_proved_is_caught():
    """Released as soon as the fan runs, the purge and all valves still held until the proof."""
    found = prove(*commands(S.PROVING, release=True)).broken
    assert found[0].events == (E.CALL, E.FAN_RUNNING)
    early = leads(S.STARTING, E.FAN_RUNNING, S.PURGE)
    rule = "a burner is released only when draft is proved"
    assert next(b.events for b in prove(*early).broken if b.rule == rule) == (E.CALL, E.FAN_RUNNING)
