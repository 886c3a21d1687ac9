"""Remedy reasons: what is true of an outcome, and told of it."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from sample_remedies import JOBS, named

from ventcalc import tables
from ventcalc.draft import damper_sizing
from ventcalc.job import job_file, remedies, remedy_reasons, remedy_words, vent_changes
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_, show
from ventcalc.vent import firing_states, section_extremes


def test_a_cure_says_its_margin_and_a_failure_its_worst_state(compared):
    scan, outcomes = compared["swim_hall"]
    best = outcomes[0]
    assert best.holds
    first = remedy_words.reasons(best, "SI")[0]
    assert first == f"Every outlet stays inside its window in all 896 states, by at least {best.margin:.1f} Pa."
    drawn = named(outcomes, "as drawn")
    assert remedy_words.reasons(drawn)[0] == f"Flue gas enters the room in {drawn.gas_in_room} of 896 states."
    worst = min(drawn.envelopes, key=lambda e: e.margin)
    state = worst.high_state if worst.above > worst.below else worst.low_state
    assert scan.describe(state) in remedy_words.reasons(drawn)[1] and worst.appliance in remedy_words.reasons(drawn)[1]


def test_a_pressed_vent_is_told_with_how_much_and_when(compared):
    """A breath of a purge is another thing than flue gas at full fire: whoever signs has to see which."""
    alone = named(compared["lodge"][1], "fan")
    (told,) = [r for r in remedy_reasons.reasons(alone) if r.code == "positive pressure"]
    rows = [alone.scan.plant.row(name) for name in alone.pressed]
    ends = np.array([section_extremes.static_below_cap(alone.scan, row) for row in rows])
    highest = np.where(alone.scan.any_running, ends.max(axis=(0, 1)), -np.inf)
    most = highest.max()
    assert told.figures["pressure"].m_as("Pa") == pytest.approx(most, abs=1e-9)
    assert highest[told.state] == pytest.approx(most, abs=0.5)  # what gauges read
    (sentence,) = [r for r in remedy_words.reasons(alone, "SI") if "Positive pressure" in r]
    assert show(Q_(most, "Pa"), "SI", "draft") in sentence and alone.scan.describe(told.state, "SI") in sentence


def test_what_is_installed_is_said_with_what_must_be_listed(compared):
    for _, outcomes in compared.values():
        for o in outcomes:
            told, needed = remedy_words.words(o.remedy), " ".join(remedy_words.listed(o.remedy))
            assert ("fan" in needed) == (o.remedy.fan is not None)
            assert ("without power it must open" in needed) == bool(o.remedy.damper or o.remedy.outlets)
            assert ("interlock" in needed) == bool(o.remedy.devices)
            assert ("new piece of vent" in needed) == o.remedy.rebuilt
            if o.remedy.set_point is not None:
                assert show(o.remedy.set_point, "US", "draft") in told
    assert remedy_words.words(Remedy("as drawn", JOBS["lodge"].plant)) == "nothing is changed"
    assert "the vent at 5.0 in." in remedy_words.words(
        Remedy("x", vent_changes.wider(JOBS["laundry"].plant, 1), JOBS["laundry"].plant)
    )


def test_a_damper_that_must_be_moved_by_less_than_a_step_is_said(compared):
    o = named(compared["swim_hall"][1], "fan and damper, other set point")
    tight = np.nanargmin(o.position)
    row = o.scan.solution.row("header 3")
    density = o.scan.solution.density[row, tight]
    head = 0.5 * density * (o.scan.solution.flow[row, tight] / density / o.remedy.damper.face) ** 2
    ends = o.remedy.damper.loss(o.position[tight] + np.array([-0.005, 0.005]))
    step = head * (ends[0] - ends[1])
    assert step > damper_sizing.ACTUATOR_STEP and o.step >= step * (1 - 1e-6)
    assert any("finer actuator" in text and show(Q_(o.step, "Pa"), "US") in text for text in remedy_words.reasons(o))


def test_a_damper_without_work_and_a_run_too_long_are_said(compared):
    outcomes = compared["laundry"][1]
    # In calm nothing draws too much; the wind behind the terminal does.
    calm = job_file.read(
        re.sub(rb'wind = "\d+ mph"', b'wind = "0 mph"', (tables.DATA / "jobs" / "laundry.toml").read_bytes())
    )
    damper = named(remedies.compare(calm, firing_states.scan(calm.plant, calm.seasons)), "damper")
    windy = named(outcomes, "damper")
    assert not any("nothing to do" in text for text in remedy_words.reasons(windy))
    assert "The damper has nothing to do: it is wide open in every state." in remedy_words.reasons(damper)
    # 4 + 92 + 1 ft drawn, 85 ft allowed.
    assert any("97.0 ft long" in t and "85.0 ft" in t for t in remedy_words.reasons(named(outcomes, "larger vent")))


def fan_of(**about):
    """An outcome's fan in three states, as `remedy_reasons` reads it: codes of what is told of it."""
    fan = SimpleNamespace(name="fan", kind="roof", highest_temperature=Q_(500.0, "K"), condensate=True)
    duty = SimpleNamespace(
        speed=np.array([0.3, 0.5, 0.9]), flow=np.ones(3), static=np.ones(3), yearly=1.0, stalled=np.zeros(3, bool),
        temperature=np.array([300.0, 400.0, 450.0]), states=np.arange(3),
    )  # fmt: skip
    drive = SimpleNamespace(fan=fan, least_speed=0.3)
    remedy = SimpleNamespace(fan=drive, controlled=True, smallest=False, wet=False)
    for name, value in about.items():
        setattr(remedy if hasattr(remedy, name) else duty, name, value)
    return {r.code for r in remedy_reasons._fan(SimpleNamespace(duty=duty, remedy=remedy))}


def test_a_fan_is_too_hot_in_its_hottest_state_and_too_large_where_a_smaller_one_is_not_sold():
    assert fan_of() == {"fan works", "fan at least speed"}
    assert "fan too hot" in fan_of(temperature=np.array([300.0, 510.0, 450.0]))
    slow = np.array([0.3, 0.3, 0.9])  # in most states no slower than it can
    assert "fan too large" in fan_of(speed=slow, smallest=True)
    assert "fan too large" not in fan_of(speed=slow) and "fan too large" not in fan_of(smallest=True)
    assert "fan stalled" in fan_of(stalled=np.array([False, True, False]))


def test_set_points_that_serve_are_told_where_there_is_a_span_of_them():
    def told(low, high, held=-12.0, **more):
        remedy = Remedy("fan", JOBS["lodge"].plant, serve=(low, high), set_point=Q_(held, "Pa"), **more)
        return [r.code for r in remedy_reasons._set_points(SimpleNamespace(remedy=remedy))]

    assert told(-20.0, -5.0) == ["set points"] and told(-10.0, -5.0) == ["set point outside"]
    assert told(-5.0, -20.0) == ["no set point"]
    assert told(-np.inf, -5.0) == told(-20.0, np.inf) == told(-20.0, -5.0, outlets=("Boiler A",)) == []
