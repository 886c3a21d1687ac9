"""Start proof: the search finds nothing, agrees with brute force and with another observer, and is not blind."""

from functools import reduce
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc.start_proof import NO_DEAD_STATE, RULES, START, Broken, Watch, observe, prove, prove_vent, walk
from ventcalc.start_sequence import FAULTS, LIMITS, OUTPUTS, TRANSITIONS, Event, State, step

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


@pytest.fixture(scope="module")
def altered():
    """The rules broken by every table with one entry set to a wrong state: (state, event, wrong) -> names."""
    found = {}
    for (state, event), right in TRANSITIONS.items():
        for wrong in set(State) - {right}:
            table = {**TRANSITIONS, (state, event): wrong}
            found[state, event, wrong] = {b.rule for b in prove(table).broken}
    return found


def test_every_altered_fault_transition_is_caught(altered):
    faults = {what: rules for what, rules in altered.items() if what[1] in FAULTS}
    assert len(faults) == len(State) * len(FAULTS) * (len(State) - 1) == 1056
    assert [what for what, rules in faults.items() if not rules] == []


def test_what_the_search_lets_pass_opens_no_fuel(altered):
    """Of all other alterations those that pass only purge once more than they need to."""
    missed = [what for what, rules in altered.items() if not rules]
    assert {wrong for *_, wrong in missed} <= {S.PURGE, S.POST_PURGE, S.TRIPPED}
    assert len(missed) == 25  # a pin of our own, so that a weakened rule shows


@pytest.mark.parametrize("rule", [*RULES, NO_DEAD_STATE])
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
