"""The chapter on firing states: questions worked again, and live controls that show what the scan holds."""

import io
import itertools
import math
import re
import time
from statistics import median

import numpy as np
import pytest
from PIL import Image

from ventcalc import tables
from ventcalc.handbook import firing_states as chapter
from ventcalc.job import job_file
from ventcalc.show import panels
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent import firing_states, outlet_envelope, reversal

HALL = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
SCAN = firing_states.scan(HALL.plant, HALL.seasons)
START = {name: control.value for name, control in chapter.controls(SCAN).items()}
SLOWEST = 0.150  # s of processor time, so that a move feels immediate; the wall's clock would measure others as well


def is_a_drawing(data):
    picture = Image.open(io.BytesIO(data)).convert("L")
    return picture.width > 100 and len(np.unique(np.asarray(picture))) > 10


# --- Questions ---


def expected(number, unit):
    """The expected answer in both unit systems; they are one."""
    us, si = (float(chapter.questions(system)[number].expected.m_as(unit)) for system in SYSTEMS)
    assert us == pytest.approx(si, rel=1e-9)
    return us


def test_number_of_states_by_counting_them():
    boilers = itertools.product(("off", "purge", "low", "high"), repeat=5)
    count = sum(1 for _ in itertools.product(boilers, range(3), ("hot", "cold"), ("calm", "wind")))
    assert expected(0, "") == count == 12288


def test_swing_by_hand():
    assert expected(1, "inH2O") == pytest.approx(0.31, abs=1e-9)


def test_flow_through_an_idle_boiler_by_hand():
    assert expected(2, "cfm") == pytest.approx(37.5, rel=1e-9)


def test_chance_of_a_sample_by_poissons_limit():
    # For rare states: two are expected, so none is found with exp(-2).
    assert expected(3, "percent") == pytest.approx(100 * (1 - math.exp(-2)), abs=0.01)


# --- Live controls ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_explorer_at_both_ends_of_every_control(system):
    for moved, control in chapter.controls(SCAN).items():
        for value in {control.options[0][1], control.options[-1][1]}:
            numbers, picture = chapter.explorer_answer(system, SCAN, **START | {moved: value})
            assert re.search(r"\d of 896 states", numbers)
            assert is_a_drawing(picture)


def test_explorer_shows_the_envelopes_of_the_scan():
    numbers, _ = chapter.explorer_answer("US", SCAN, **START)
    for e in outlet_envelope.envelopes(SCAN):
        for value in (e.low, e.high, e.swing, e.below, e.above):
            assert show(Q_(value, "Pa"), "US") in numbers
        for state in (e.low_state, e.high_state):
            assert SCAN.describe(state) in numbers
    for r in reversal.reversals(SCAN):
        assert f"FLUE GAS ENTERS THE ROOM: {show(Q_(r.flue_gas, 'kg/s'), 'US')}" in numbers


def test_narrowed_states_are_those_asked_for():
    numbers, _ = chapter.explorer_answer("US", SCAN, **START | {"season": 2, "cold": True, "does Boiler 3": 0})
    # Summer has no wind: 4 x 4 states of the other two boilers.
    assert "16 of 896 states" in numbers
    assert "design winter" not in numbers and "hot stack" not in numbers
    assert "of flue gas into the room" in numbers  # through Boiler 3, which is off


def test_all_off_leaves_nothing_to_draw():
    numbers, picture = chapter.explorer_answer("US", SCAN, **START | {f"does Boiler {i}": 0 for i in (1, 2, 3)})
    assert numbers.count("idle") == 3 and picture == panels.no_picture()


def test_no_state_left_is_said_in_words():
    panel = chapter.explorer("US", SCAN)
    panel.controls["season"].value, panel.controls["windy"].value = 2, True
    assert "no state of the scan fits" in panel.numbers.value
    assert panel.picture.value == panels.no_picture()


def test_a_move_is_answered_at_once():
    control, took = (panel := chapter.explorer("US", SCAN)).controls["windy"], []
    for _move in range(20):
        began = time.process_time()
        control.index = (control.index + 1) % len(control.options)
        took.append(time.process_time() - began)
    assert "of 896 states" in panel.numbers.value and median(took) < SLOWEST
