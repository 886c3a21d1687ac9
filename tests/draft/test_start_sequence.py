"""Start sequence: the machine and its faults, the settings and their sheet, the clock, a recorded pressure."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.draft.start_sequence import (
    DARK_STATES,
    FAULTS,
    FUEL_STATES,
    LIMITS,
    LOCKED_STATES,
    OF_ONE_APPLIANCE,
    OUTPUTS,
    STOP_THE_FAN,
    TRANSITIONS,
    Burner,
    Cue,
    Event,
    Settings,
    State,
    commanded,
    pressure_cues,
    sheet_html,
    shown,
    startup_sheet,
    step,
    timeline,
    trials,
    way_back,
)
from ventcalc.units import Q_

S = State
E = Event


def seconds(value):
    return Q_(float(value), "s")


def run(*events, table=TRANSITIONS, state=S.IDLE):
    for event in events:
        state = step(state, event, table)
    return state


LIGHT_OFF = (E.CALL, E.FAN_RUNNING, E.PROVED, E.TIME_UP, E.FLAME, E.FLAME)


# --- The machine ----------------------------------------------------------------------------------------------


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


# --- Settings and sheet -------------------------------------------------------------------------------------


BOILERS = tuple(
    Burner(name, Q_(volume, "ft**3"), Q_(flow, "cfm"))
    for name, volume, flow in (("Boiler 1", 40, 400), ("Boiler 2", 40, 400), ("Boiler 3", 20, 200))
)
USUAL = Settings(BOILERS)


def test_usual_settings_are_those_of_the_table():
    rows = {r["name"]: r for r in tables.read("start_sequence")}
    for name, row in rows.items():
        value = getattr(USUAL, name)
        assert value.m_as(row["unit"]) == pytest.approx(float(row["value"]))
        assert float(row["least"]) <= float(row["value"]) <= float(row["most"])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pilot_trial": seconds(20)}, "pilot_trial = 20.0 s: must be 1.0 s to 15.0 s"),
        ({"changes": Q_(2, "")}, "changes = 2: must be 3.0"),
        ({"high_limit": Q_(40, "percent")}, "high_limit.*needs a quantity such as 0.08"),
        ({"set_point": -0.05}, "set_point -0.05: needs a quantity"),
        ({"proof": Q_(-0.06, "inH2O")}, "set_point = -0.05 inH2O must be below proof = -0.06"),
        ({"sensor_most": Q_(0.0, "inH2O")}, "high_limit = 0.08 inH2O must be below sensor_most = 0.0"),
        ({"pilot_light": seconds(12)}, "pilot_light = 12.0 s must be below pilot_trial = 10.0 s, or every trial"),
        ({"filter": seconds(12)}, "filter = 12.0 s must be below integral_time = 10.0 s"),
        ({"burners": ()}, "give at least one"),
        ({"burners": (BOILERS[0], BOILERS[0])}, "a name of its own"),
    ],
)
def test_settings_refuse_by_name_value_and_what_is_valid(change, words):
    with pytest.raises(ValueError, match=words):
        replace(USUAL, **change)


def test_settings_tell_all_at_once():
    with pytest.raises(ValueError) as told:
        replace(USUAL, changes=Q_(9, ""), stagger=seconds(-1), post_purge=seconds(1))
    assert all(name in str(told.value) for name in ("changes = 9", "stagger = -1.0 s", "post_purge = 1.0 s"))


def test_burner_refuses_what_cannot_be():
    with pytest.raises(ValueError, match="flow = 0"):
        Burner("x", Q_(1, "m**3"), Q_(0, "m**3/s"))
    with pytest.raises(ValueError, match="codes"):
        Burner("x", Q_(1, "m**3"), Q_(1, "m**3/s"), (2.0, 1.0, 3.0))


def test_purge_of_a_burner():
    assert USUAL.purge(BOILERS[0]).m_as("s") == pytest.approx(4 * 40 / 400 * 60)
    whole = replace(USUAL, vent_volume=Q_(100, "ft**3"))
    assert whole.purge(BOILERS[2]).m_as("s") == pytest.approx(4 * 120 / 200 * 60)
    tiny = Settings((Burner("small", Q_(1, "ft**3"), Q_(400, "cfm")),))
    assert tiny.purge(tiny.burners[0]) == tiny.least_purge


def test_sheet_has_every_setting_with_where_it_comes_from():
    rows = startup_sheet(USUAL)
    assert len(rows) == len(tables.read("start_sequence")) + len(BOILERS)
    assert {r.kind for r in rows} == {"set", "measure", "verify"}
    # Trials for ignition and the flame's response are times of the listed burner: common practice, no source.
    verified = {"pilot trial for ignition", "main trial for ignition", "flame lost must act within"}
    assert {r.name for r in rows if r.kind == "verify"} == verified
    assert all(r.why and r.source and r.status.startswith(tables.STATUSES) for r in rows)
    purge = next(r for r in rows if r.name == "purge of Boiler 1")
    assert purge.value.m_as("s") == pytest.approx(24.0) and "4 x (40 ft³ + 0 ft³) / 400 cfm" in purge.why
    assert any("4 x (1.13 m³ + 0 m³) / 0.189 m³/s" in r.why for r in startup_sheet(USUAL, "SI"))


def test_a_value_that_was_chosen_says_so():
    row = next(r for r in startup_sheet(replace(USUAL, high_delay=seconds(8))) if r.name == "delay of the high limit")
    assert row.source.startswith("chosen for this job; usual: 5 s") and row.value == seconds(8)


def test_sheet_leaves_room_for_the_pen_and_names_every_trial():
    html = sheet_html(startup_sheet(USUAL))
    assert html.count("as found") == html.count("as left") == 4 and "signed" in html and "To be measured" in html
    # Five headers, every setting, every fault, the proof at rest, the line to sign.
    assert html.count("<tr>") == 5 + len(startup_sheet(USUAL)) + len(FAULTS) + 1 + 1
    assert html.count("&nbsp;") == 2 * (len(startup_sheet(USUAL)) + len(FAULTS) + 1) + 3
    for fault in FAULTS:
        assert f">{fault.value}</td>" in html
    assert ">flame lost</td>" in html.split("To be tried")[1]


def test_every_limit_leads_to_a_lockout_that_only_a_person_ends():
    tried = dict(trials())
    for fault in (*LIMITS, E.FLAME_LOST):
        assert tried[fault.value].startswith("lockout") and "manual reset" in tried[fault.value]
    assert "manual reset" not in tried[E.POWER_LOST.value]  # a full start follows by itself where the call still stands


def test_values_are_shown_in_both_systems():
    assert shown(Q_(-0.05, "inH2O")) == "-0.050 in. w.c." and shown(Q_(-0.05, "inH2O"), "SI") == "-12.5 Pa"
    assert shown(Q_(40, "ft**3"), "SI") == "1.13 m³" and shown(Q_(24, "s"), "SI") == "24 s"
    assert shown(Q_(100, "percent/inH2O"), "SI") == "0.401 % per Pa" and shown(Q_(4, "")) == "4"


# --- By the clock ---------------------------------------------------------------------------------------------


def one(*cues, until=600.0, settings=None):
    found = [c if isinstance(c, Cue) else Cue(seconds(c[0]), c[1], *c[2:]) for c in cues]
    return timeline(found, settings or Settings(BOILERS[:1]), seconds(until))


CALL = (0, E.CALL, "Boiler 1")


def test_a_start_takes_the_sum_of_its_times():
    found = one(CALL)
    began = {s: t for t, _, s in found.spans("Boiler 1")}
    # Call at 0, fan 8 s, damper 15 s and 3 s of proof, purge 24 s, pilot 3 s, main 2 s.
    assert [began[s] for s in (S.STARTING, S.PROVING, S.PURGE, S.PILOT, S.MAIN, S.RUN)] == [0, 8, 18, 42, 45, 47]
    assert found.ends == (S.RUN,)
    assert found.state(0, 20.0) is S.PURGE and found.state("Boiler 1", 47.0) is S.RUN
    assert found.outputs(20.0).release and not found.outputs(10.0).release


def test_the_call_s_end_shuts_fuel_and_stops_the_fan_after_the_post_purge():
    found = one(CALL, (100, E.CALL_ENDS, "Boiler 1"))
    assert found.spans(0)[-2:] == ((100.0, 115.0, S.POST_PURGE), (115.0, 600.0, S.IDLE))


@pytest.mark.parametrize("fault", [f for f in FAULTS if f not in (E.FLAME_LOST, E.POWER_LOST)])
def test_a_limit_counts_once_it_has_lasted_for_its_delay(fault):
    names = {E.HIGH_PRESSURE: "high", E.LOW_PRESSURE: "low", E.PROOF_LOST: "proof", E.SENSOR_FAILED: "sensor"}
    names |= {E.FAN_FAILED: "fan", E.DAMPER_FAULT: "damper"}
    delay = USUAL.seconds(f"{names[fault]}_delay")
    assert one(CALL, (100, fault, None, seconds(delay - 0.1))).ends == (S.RUN,)
    found = one(CALL, (100, fault, None, seconds(delay + 0.1)))
    assert found.ends == (S.LOCKOUT,)
    assert found.state(0, 100.0 + delay - 0.01) is S.RUN
    assert found.state(0, 100.0 + delay + 0.01) is (S.LOCKOUT if fault in STOP_THE_FAN else S.TRIPPED)


def test_a_reset_starts_again_only_where_the_fault_is_gone():
    gone = one(CALL, (100, E.HIGH_PRESSURE, None, seconds(20)), (200, E.RESET))
    assert gone.ends == (S.RUN,) and gone.spans(0)[-1][0] == pytest.approx(247.0)
    stands = one(CALL, (100, E.HIGH_PRESSURE), (200, E.RESET))
    assert stands.ends == (S.LOCKOUT,)
    assert not any(s is S.PILOT for t, _, s in stands.spans(0) if t > 200.0)


def test_reset_while_the_trip_is_purged_counts_for_nothing():
    assert one(CALL, (100, E.HIGH_PRESSURE, None, seconds(20)), (110, E.RESET)).ends == (S.LOCKOUT,)


def test_a_pilot_that_does_not_light_locks_out_after_its_trial():
    found = one(CALL, (0, E.FLAME_LOST, "Boiler 1"))
    assert [s for *_, s in found.spans(0)][-3:] == [S.PILOT, S.TRIPPED, S.LOCKOUT]
    begin, end, _ = next(span for span in found.spans(0) if span[2] is S.PILOT)
    assert end - begin == USUAL.seconds("pilot_trial")


def test_a_fan_that_does_not_run_and_a_draft_that_does_not_come():
    for fault, limit, before in ((E.FAN_FAILED, "start_limit", 0.0), (E.PROOF_LOST, "proof_limit", 8.0)):
        found = one(CALL, (0, fault))
        assert found.spans(0)[-1] == (before + USUAL.seconds(limit), 600.0, S.LOCKOUT)


def test_flame_lost_in_one_leaves_the_others_running():
    calls = [(0, E.CALL, b.name) for b in BOILERS]
    found = one(*calls, (200, E.FLAME_LOST, "Boiler 2"), settings=USUAL)
    assert found.ends == (S.RUN, S.LOCKOUT, S.RUN)
    assert next(t for t, _, s in found.spans("Boiler 2") if s is S.TRIPPED) == 200.0 + USUAL.seconds("flame_response")


def test_power_lost_shuts_all_and_begins_again_at_idle():
    found = one(CALL, (100, E.POWER_LOST, None, seconds(30)))
    states = {t: s for t, _, s in found.spans(0)}
    assert states[100.0] is S.NO_POWER and states[130.0] is S.STARTING  # the call still stands: a full new start
    assert found.ends == (S.RUN,)
    locked = one(CALL, (100, E.LOW_PRESSURE), (150, E.POWER_LOST, None, seconds(30)))
    assert locked.ends == (S.LOCKOUT,)


def test_a_fault_in_the_dark_is_seen_when_power_is_back():
    found = one(CALL, (100, E.POWER_LOST, None, seconds(30)), (110, E.SENSOR_FAILED))
    assert found.ends == (S.LOCKOUT,) and S.PILOT not in [s for t, _, s in found.spans(0) if t > 110.0]


def test_releases_stand_apart_and_the_fan_is_shared():
    found = one(*[(0, E.CALL, b.name) for b in BOILERS], (200, E.CALL_ENDS, "Boiler 1"), settings=USUAL)
    released = [next(t for t, _, s in found.spans(b.name) if s is S.PURGE) for b in BOILERS]
    assert np.diff(released) == pytest.approx([20.0, 20.0])
    ends = one(*[(0, E.CALL, b.name) for b in BOILERS], *[(200 + 10 * k, E.CALL_ENDS, b.name)
               for k, b in enumerate(BOILERS)], settings=USUAL)  # fmt: skip
    fan = [ends.outputs(t).fan for t in (0.0, 199.0, 234.9, 235.1)]
    assert fan == [True, True, True, False]  # the last one's post-purge ends it: 220 s and 15 s


def test_waiting_for_its_turn_is_not_late():
    slow = replace(USUAL, stagger=seconds(90))
    assert one(*[(0, E.CALL, b.name) for b in BOILERS], settings=slow).ends == (S.RUN,) * 3


def test_codes_for_the_vent():
    found = one(CALL, (200, E.CALL_ENDS, "Boiler 1"))
    at = {
        10: 0.0,
        20.5: 0.5,
        40: 1.0,
        46: 1.5,
        60: 2.0,
        107: 2.5,
        150: 3.0,
        199.99: 3.0,
        200.01: 1.0,
        217.5: 0.5,
        230: 0.0,
    }
    assert found.codes(np.array(list(at)), "Boiler 1") == pytest.approx(list(at.values()), abs=1e-3)
    assert found.codes(np.array([150.0]), 0, load=0.4) == pytest.approx([2.4])
    every = found.codes(np.linspace(0, 600, 6001), 0)
    assert every.min() == 0.0 and every.max() == 3.0
    assert found.times[0] == 0.0 and 47.0 in found.times


def test_codes_of_a_burner_without_purge():
    hood = Settings((Burner("hood", Q_(1, "ft**3"), Q_(10, "cfm"), (0.0, 1.0, 1.0)),))
    found = timeline([Cue(seconds(0), E.CALL, "hood")], hood, seconds(300)).codes(np.array([40.0, 290.0]), 0)
    assert found == pytest.approx([0.0, 1.0])


EVENTS = st.tuples(
    st.floats(0.0, 300.0), st.sampled_from([E.CALL, E.CALL_ENDS, E.RESET, E.POWER_BACK, *FAULTS]), st.integers(0, 2),
    st.none() | st.floats(0.0, 60.0)
)  # fmt: skip


@given(st.lists(EVENTS, max_size=14))
def test_whatever_comes_when_it_comes_the_clock_keeps_the_rules(drawn):
    cues = [
        Cue(
            seconds(t), e, BOILERS[i].name if e in OF_ONE_APPLIANCE else None, None if lasts is None else seconds(lasts)
        )
        for t, e, i, lasts in drawn
    ]
    calls = [Cue(seconds(0), E.CALL, b.name) for b in BOILERS]
    found = timeline(calls + cues, USUAL, seconds(500))
    times = [c.time for c in found.changes]
    assert times == sorted(times) and all(0 <= t <= 500 for t in times)
    for change, burner in [(c, BOILERS[c.appliance]) for c in found.changes]:
        if change.state is S.PILOT:  # always a full purge before, without a gap
            spans = found.spans(change.appliance)
            k = next(k for k, s in enumerate(spans) if s[0] == change.time and s[2] is S.PILOT)
            begin, end, state = spans[k - 1]
            assert state is S.PURGE and end - begin == pytest.approx(USUAL.purge(burner).m_as("s"))
    for t in found.times:
        now = found.outputs(float(t))
        assert not now.fuel or now.fan


@pytest.mark.parametrize(
    ("cue", "words"),
    [
        (Cue(seconds(1), E.FLAME, "Boiler 1"), "follows by itself"),
        (Cue(seconds(-1), E.CALL, "Boiler 1"), "at least 0 s"),
        (Cue(seconds(1), E.CALL, "Boiler 9"), "no appliance 'Boiler 9'; there are Boiler 1"),
        (Cue(seconds(1), E.CALL), "needs an appliance"),
        (Cue(seconds(1), E.HIGH_PRESSURE, "Boiler 1"), "befalls the whole vent"),
    ],
)
def test_cues_that_cannot_be_are_refused(cue, words):
    with pytest.raises(ValueError, match=words):
        one(cue)


# --- From a recorded pressure ---------------------------------------------------------------------------------


def recorded(*pieces):
    """Pressure [Pa] once a second, alive by a little: pieces of (seconds, pressure)."""
    values = np.concatenate([np.full(n, p) for n, p in pieces])
    return np.arange(values.size, dtype=float), values + 0.01 * (np.arange(values.size) % 2)


def test_limits_in_a_recorded_pressure():
    times, pressure = recorded((50, -12.0), (9, 30.0), (41, -12.0), (20, -40.0), (30, -12.0))
    found = [(c.event, c.time.m_as("s"), c.lasts.m_as("s")) for c in pressure_cues(times, pressure, USUAL)]
    assert found == [(E.HIGH_PRESSURE, 50.0, 9.0), (E.LOW_PRESSURE, 100.0, 20.0)]


@pytest.mark.parametrize("value", [-62.5, 80.0, np.nan])
def test_a_reading_at_the_end_of_the_range_is_none(value):
    times, pressure = recorded((50, -12.0), (30, value), (20, -12.0))
    # No reading, and beyond the limit on that side all the same: a sensor that saturates must not hide the pressure.
    beyond = {-62.5: [E.LOW_PRESSURE], 80.0: [E.HIGH_PRESSURE]}.get(value, [])
    wanted = [(event, seconds(30)) for event in (*beyond, E.SENSOR_FAILED)]
    assert [(c.event, c.lasts) for c in pressure_cues(times, pressure, USUAL)] == wanted


@pytest.mark.parametrize(
    ("event", "delay"),
    [(E.HIGH_PRESSURE, "high_delay"), (E.LOW_PRESSURE, "low_delay"), (E.PROOF_LOST, "proof_delay"),
     (E.DAMPER_FAULT, "damper_delay"), (E.FAN_FAILED, "fan_delay")],
)  # fmt: skip
def test_a_fault_acts_after_its_delay_whatever_the_burner_does_meanwhile(event, delay):
    """It may begin during purge, trials or run: steps of the sequence do not start its delay again."""
    alone = replace(USUAL, burners=USUAL.burners[:1])
    name, call = alone.burners[0].name, Cue(seconds(0), E.CALL, USUAL.burners[0].name)
    normal = timeline([call], alone, seconds(150))
    proved = next(c.time for c in normal.changes if c.state is S.PURGE)
    for begins in np.arange(proved + 0.5, proved + 60.0, 2.5):
        found = timeline([call, Cue(seconds(begins), event)], alone, seconds(begins + 60.0))
        acts = next(c.time for c in found.changes if c.event is event)
        assert acts - begins == pytest.approx(alone.seconds(delay), abs=1e-6)
        assert found.state(name, acts) not in FUEL_STATES


def test_calls_out_of_a_post_purge_are_staggered_too():
    two = replace(USUAL, burners=USUAL.burners[:2])
    names = [b.name for b in two.burners]
    cues = [Cue(seconds(0), E.CALL, n) for n in names]
    cues += [Cue(seconds(200), E.CALL_ENDS, n) for n in names] + [Cue(seconds(205), E.CALL, n) for n in names]
    found = timeline(cues, two, seconds(330))
    released = [c.time for c in found.changes if c.state is S.PURGE and c.time > 204.0]
    assert len(released) == 2 and np.diff(released)[0] >= two.seconds("stagger") - 1e-9


def test_nothing_is_released_while_the_pressure_is_too_high():
    alone = replace(USUAL, burners=USUAL.burners[:1])
    cues = [Cue(seconds(0), E.HIGH_PRESSURE), Cue(seconds(1), E.CALL, alone.burners[0].name)]
    found = timeline(cues, alone, seconds(200))
    assert not any(c.state in (S.PURGE, *FUEL_STATES) for c in found.changes)


def test_a_still_reading_is_frozen():
    times, pressure = recorded((50, -12.0), (150, -12.0), (20, -12.0))
    pressure[50:200] = -12.0
    (cue,) = pressure_cues(times, pressure, USUAL)
    assert cue.event is E.SENSOR_FAILED and cue.time.m_as("s") == pytest.approx(50.0 + 60.0, abs=1.0)


def test_a_recorded_spike_trips_or_does_not():
    times, pressure = recorded((100, -12.0), (8, 30.0), (300, -12.0))
    cues = [Cue(seconds(0), E.CALL, "Boiler 1"), *pressure_cues(times, pressure, USUAL)]
    assert timeline(cues, Settings(BOILERS[:1]), seconds(400)).ends == (S.LOCKOUT,)
    assert timeline(cues, Settings(BOILERS[:1], high_delay=seconds(10)), seconds(400)).ends == (S.RUN,)


def test_a_record_that_is_none_is_refused():
    with pytest.raises(ValueError, match="times must rise"):
        pressure_cues(np.array([0.0, 0.0]), np.zeros(2), USUAL)
    with pytest.raises(ValueError, match="equally long"):
        pressure_cues(np.arange(3.0), np.zeros(2), USUAL)


# --- Faults that come and go ------------------------------------------------------------------------------------


@pytest.mark.parametrize("away", [0.05, 0.1, 0.3])
@pytest.mark.parametrize("fault", [E.PROOF_LOST, E.HIGH_PRESSURE, E.FAN_FAILED])
def test_a_switch_that_chatters_does_not_begin_its_delay_anew(fault, away):
    # Most of every 2 s the fault stands, but never for its whole delay on end.
    chosen = replace(Settings(BOILERS[:1]), proof_delay=seconds(3), high_delay=seconds(3), fan_delay=seconds(3))
    chatter = [(100 + 2 * k, fault, None, seconds(2 * (1 - away))) for k in range(30)]
    found = one(CALL, *chatter, settings=chosen)
    assert found.ends == (S.LOCKOUT,)
    fire_ends = max(end for _, end, s in found.spans(0) if s is S.RUN)
    # Counted up at 1 and down at a quarter per second the net rate is (1 - away) - away / 4.
    assert fire_ends - 100.0 == pytest.approx(3.0 / (1 - 1.25 * away), abs=2.0)


def test_a_fault_that_is_mostly_away_is_forgotten():
    # Half a second in every five: away nine tenths of the time, forgotten between at a quarter of a second per second.
    gusts = [(100 + 5 * k, E.PROOF_LOST, None, seconds(0.5)) for k in range(60)]
    assert one(CALL, *gusts).ends == (S.RUN,)


@pytest.mark.parametrize("fault", [E.PROOF_LOST, E.SENSOR_FAILED, E.HIGH_PRESSURE, E.LOW_PRESSURE])
def test_a_long_fault_outlasts_a_shorter_one_inside_it(fault):
    found = one(CALL, (100, fault, None, seconds(100)), (100.2, fault, None, seconds(0.2)))
    assert found.ends == (S.LOCKOUT,)
    alone = one(CALL, (100, fault, None, seconds(100)))
    assert [c for c in found.changes if c.event is fault] == [c for c in alone.changes if c.event is fault]


def test_power_stays_away_until_the_last_loss_of_it_is_over():
    found = one(CALL, (100, E.POWER_LOST, None, seconds(100)), (110, E.POWER_LOST, None, seconds(10)))
    assert found.state(0, 150.0) is S.NO_POWER and found.state(0, 200.0) is S.STARTING


def test_draft_is_proved_only_when_the_proof_has_stood_for_its_time():
    # Proof that comes for good at 30 s stands for 3 s before the release; that it was there before counts for nothing.
    found = one(CALL, (19, E.PROOF_LOST, None, seconds(6)), (26, E.PROOF_LOST, None, seconds(4)),
                settings=replace(Settings(BOILERS[:1]), proof_time=seconds(8)))  # fmt: skip
    assert next(t for t, _, s in found.spans(0) if s is S.PURGE) == pytest.approx(38.0)
