"""The sequencer: sums of times, delays of faults, turns of release, and rules kept whatever comes when."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_starts import BOILERS, CALL, USUAL, E, S, one, seconds

from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_sequence import FAULTS, FUEL_STATES, OF_ONE_APPLIANCE, STOP_THE_FAN
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Cue


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


def test_who_waits_for_its_turn_is_late_when_the_turn_has_come_and_draft_is_not_proved():
    # Boiler 1 is released at 18 s, its call ends at 30 s and its post-purge at 45 s. Boiler 2 waits in its proof since
    # 8 s for its turn at 18 + 90 = 108 s, longer than the 60 s that a proof may take; proof is lost meanwhile.
    two = replace(USUAL, burners=BOILERS[:2], stagger=seconds(90))
    calls = [(0, E.CALL, b.name) for b in two.burners]
    found = one(*calls, (30, E.CALL_ENDS, "Boiler 1"), (50, E.PROOF_LOST), settings=two)
    assert found.ends == (S.IDLE, S.LOCKOUT)
    assert 108.0 < found.spans("Boiler 2")[-1][0] <= 110.0
    # Without a turn to wait for its own time counts.
    soon = one(*calls, (30, E.CALL_ENDS, "Boiler 1"), (12, E.PROOF_LOST), settings=replace(two, stagger=seconds(20)))
    assert soon.spans("Boiler 2")[-1][0] == 8.0 + USUAL.seconds("proof_limit")


@pytest.mark.parametrize("who", [None, "Boiler 1"])
def test_a_fault_that_stands_acts_anew_after_a_reset_by_whomever(who):
    # The sensor's wire is off: the lockout is reset, the call starts again, and the fault trips it again.
    found = one(CALL, (100, E.SENSOR_FAILED), (200, E.RESET, who))
    acts = [c.time for c in found.changes if c.event is E.SENSOR_FAILED]
    assert len(acts) == 2 and acts[0] == pytest.approx(101.0) and 200.0 <= acts[1] <= 201.0 + 1e-9
    assert found.ends == (S.LOCKOUT,)
