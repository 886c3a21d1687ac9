"""Start sequence: the machine, its faults, and what no way leads to."""

from itertools import product

import pytest
from sample_starts import LIGHT_OFF, E, S, run

from ventcalc.draft.start_sequence import (
    DARK_STATES,
    FAULTS,
    FUEL_STATES,
    LIMITS,
    LOCKED_STATES,
    OUTPUTS,
    TRANSITIONS,
    Event,
    State,
    commanded,
    step,
    way_back,
)


def test_table_is_total_and_outputs_stand_for_every_state():
    assert set(TRANSITIONS) == set(product(State, Event)) and set(OUTPUTS) == set(State)


def test_from_call_to_run_and_back():
    states = [run(*LIGHT_OFF[:k]) for k in range(len(LIGHT_OFF) + 1)]
    assert states == [S.IDLE, S.STARTING, S.PROVING, S.PURGE, S.PILOT, S.MAIN, S.RUN]
    assert run(E.CALL_ENDS, E.TIME_UP, state=S.RUN) is S.IDLE
    assert run(E.CALL_ENDS, E.CALL, state=S.RUN) is S.PURGE  # a recycle purges again, with the fan running on


def test_outputs_follow_the_order_of_the_trade():
    # Fan before release, release before pilot, pilot before main, fan after fuel: common practice, no source; that the
    # main trial must wait for the pilot's proof: 46 CFR 62.35-20(a)(6).
    rows = [OUTPUTS[run(*LIGHT_OFF[:k])] for k in range(len(LIGHT_OFF) + 1)]
    first = {
        name: next(k for k, o in enumerate(rows) if getattr(o, name)) for name in ("fan", "release", "pilot", "main")
    }
    assert list(first.values()) == sorted(set(first.values()))
    assert OUTPUTS[S.POST_PURGE].fan and not OUTPUTS[S.POST_PURGE].fuel
    assert {s for s, o in OUTPUTS.items() if o.alarm} == set(LOCKED_STATES)


# What fan and damper do in every state. Common practice, no source: the damper stands open wherever a fan must move air
# that nothing modulates yet, before draft is proved and to carry out what is left after a fault; it modulates while a
# burner is released and until its gas is out; at rest and without power it is where its spring puts it.
FAN_AND_DAMPER = {
    S.IDLE: (False, "rest"),
    S.STARTING: (True, "open"),
    S.PROVING: (True, "open"),
    S.PURGE: (True, "control"),
    S.PILOT: (True, "control"),
    S.MAIN: (True, "control"),
    S.RUN: (True, "control"),
    S.POST_PURGE: (True, "control"),
    S.TRIPPED: (True, "open"),
    S.LOCKOUT: (False, "rest"),
    S.NO_POWER: (False, "rest"),
    S.NO_POWER_LOCKED: (False, "rest"),
}


def test_fan_and_damper_in_every_state():
    assert {state: (o.fan, o.damper) for state, o in OUTPUTS.items()} == FAN_AND_DAMPER
    # A fan never works against a damper at rest, and one that stands leaves the damper alone.
    assert all(fan == (damper != "rest") for fan, damper in FAN_AND_DAMPER.values())


@pytest.mark.parametrize(
    ("event", "fan"),
    [
        # What stops the fan: it has failed, nothing proves that it moves anything, or it pulls too hard.
        (E.FAN_FAILED, False),
        (E.PROOF_LOST, False),
        (E.LOW_PRESSURE, False),
        (E.POWER_LOST, False),
        # After the others it runs on and carries out what is left.
        (E.HIGH_PRESSURE, True),
        (E.SENSOR_FAILED, True),
        (E.DAMPER_FAULT, True),
        (E.FLAME_LOST, True),
    ],
)
@pytest.mark.parametrize("state", [S.PILOT, S.MAIN, S.RUN])
def test_a_fault_while_fuel_flows_shuts_it_off_and_stops_the_fan_or_leaves_it(state, event, fan):
    after = OUTPUTS[step(state, event)]
    assert after.fan is fan and not after.fuel and not after.release


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("state", State)
def test_every_fault_ends_with_burners_off_in_one_step(state, fault):
    after = step(state, fault)
    assert not OUTPUTS[after].fuel or (fault is E.FLAME_LOST and state not in FUEL_STATES)
    assert not OUTPUTS[after].fuel
    if fault in LIMITS and state not in DARK_STATES:
        assert after in LOCKED_STATES
    if fault is E.POWER_LOST:
        assert after in DARK_STATES


@pytest.mark.parametrize("state", [s for s in State if s not in (*LOCKED_STATES, *DARK_STATES)])
def test_power_lost_begins_again_at_idle(state):
    assert run(E.POWER_LOST, E.POWER_BACK, state=state) is S.IDLE


@pytest.mark.parametrize("state", LOCKED_STATES)
def test_a_lockout_outlives_the_power(state):
    # EN 676 calls that a non-volatile lockout: only a manual reset ends it (read in notes on that standard).
    assert run(E.POWER_LOST, E.RESET, E.POWER_BACK, state=state) is S.LOCKOUT


def reachable(start, without=()):
    found, queue = {start}, [start]
    while queue:
        at = queue.pop()
        for event in Event:
            to = step(at, event)
            if (at, event) not in without and event not in without and to not in found:
                found.add(to)
                queue.append(to)
    return found


@pytest.mark.parametrize("state", [*LOCKED_STATES, S.NO_POWER_LOCKED])
def test_no_way_leads_from_lockout_to_fuel_without_a_manual_reset(state):
    assert not reachable(state, without=(E.RESET,)) & {*FUEL_STATES, S.PURGE}


@pytest.mark.parametrize("state", [s for s in State if s not in FUEL_STATES])
def test_no_way_leads_to_fuel_past_the_end_of_a_purge(state):
    assert not reachable(state, without=((S.PURGE, E.TIME_UP),)) & set(FUEL_STATES)


@pytest.mark.parametrize("state", State)
def test_no_state_is_dead(state):
    assert reachable(state) >= {S.IDLE, S.RUN} and state in reachable(S.IDLE)
    assert run(*way_back(state), state=state) is S.RUN


def test_way_back_from_a_trip_takes_a_reset_and_a_full_start():
    assert way_back(S.TRIPPED) == (E.TIME_UP, E.RESET, *LIGHT_OFF)
    assert way_back(S.NO_POWER) == (E.POWER_BACK, *LIGHT_OFF) and way_back(S.RUN) == ()


def test_shared_fan_runs_as_long_as_one_demands_it():
    assert commanded([S.IDLE, S.POST_PURGE]).fan and not commanded([S.IDLE, S.LOCKOUT]).fan
    assert commanded([S.STARTING, S.RUN]).damper == "control"  # a late starter does not take the control away
    assert commanded([S.STARTING, S.IDLE]).damper == "open"
    assert commanded([S.LOCKOUT, S.RUN]).alarm
