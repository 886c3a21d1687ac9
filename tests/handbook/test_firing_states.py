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

from ventcalc.handbook import firing_states as chapter
from ventcalc.job import job_file
from ventcalc.show import panels
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent import outlet_envelope, reversal

HALL = job_file.demonstration("swim_hall")
SLOWEST = 0.150  # s of processor time, so that a move feels immediate; the wall's clock would measure others as well


@pytest.fixture
def start(swim_hall):
    """What the controls have at first."""
    return {name: control.value for name, control in chapter.controls(swim_hall).items()}


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


# --- Prediction, and what the reader writes ---


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_swing_by_the_scan_itself(system, swim_hall):
    runs = swim_hall.states.codes[0] > 0
    pressure = swim_hall.solution.outlet_pressure[0, runs]
    found = chapter.swing_of_the_first()
    assert found["figure"].m_as("Pa") == pytest.approx(np.ptp(pressure), rel=1e-9)
    low, high = (edge.m_as("Pa") for edge in HALL.plant.appliances[0].window)
    assert found["right"] == 2 and np.ptp(pressure) > 2.0 * (high - low)
    assert "More than twice" in chapter.prediction(system).choices[2]


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_plain_numbers(system):
    task = chapter.writing(system)

    def head(density, speed):
        return density * (88 * speed / 1096.7) ** 2 if system == "US" else density / 2 * speed**2

    ways = {
        "": lambda t, r, d, u: (t - r) * head(d, u),
        "terminal_alone": lambda t, r, d, u: t * head(d, u),
        "room_added": lambda t, r, d, u: (t + r) * head(d, u),
        "sign": lambda t, r, d, u: (r - t) * head(d, u),
        "not_halved": lambda t, r, d, u: 2 * (t - r) * head(d, u),
    }
    assert set(ways) == {"", *task.slips}
    for slip, function in ways.items():
        for case in task.cases:
            found = tried(task, case, function)
            assert (found.kind, found.words) == (("wrong", task.slips[slip]) if slip else ("right", "")), (slip, case)


# --- Tables ---


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_tell_the_scans_numbers(system, swim_hall):
    found = chapter.hall_study()
    told = chapter.envelopes_table(found, system).data
    for e in outlet_envelope.envelopes(swim_hall):
        assert all(show(Q_(value, "Pa"), system, "draft") in told for value in (e.low, e.high, e.swing))
    gone = chapter.reversals_table(found, system).data
    for r in reversal.reversals(swim_hall):
        assert show(Q_(r.flue_gas, "kg/s"), system) in gone and swim_hall.describe(r.state, system) in gone
    runs = swim_hall.states.codes[0] > 0
    winter = swim_hall.solution.outlet_pressure[0, runs & (swim_hall.states.season == 0) & (swim_hall.states.cold == 0)]
    parts = chapter.parts_table(swim_hall, system).data
    assert show(Q_(float(winter.min()), "Pa"), system, "draft") in parts
    assert all(a.name in chapter.boilers_table(system).data for a in HALL.plant.appliances)
    assert all(show(s.outdoor, system) in chapter.seasons_table(system).data for s in HALL.seasons)


def test_wind_moves_an_outlet_by_the_formula():
    # The winter's wind and air of the job: 15 mph at -4 degF, 99 kPa; the numbers of the table by hand.
    told = chapter.wind_table("SI").data
    rows = re.findall(r">([+-][\d.]+)</td><td[^>]*>([+-][\d.]+)</td><td[^>]*>(-?[\d.]+) Pa<", told)
    head = float(re.search(r"head ([\d.]+) Pa", told)[1])
    assert head == pytest.approx(0.5 * 99e3 / 287.05 / 253.15 * (15 * 0.44704) ** 2, rel=0.02)
    assert len(rows) == 3
    for terminal, room, moved in rows:
        assert float(moved) == pytest.approx((float(terminal) - float(room)) * head, abs=0.4)


@pytest.mark.slow
def test_the_sample_falls_short_and_the_search_finds_more():
    rows = re.findall(r"(-?[\d.]+) in\. w\.c\. to (-?[\d.]+) in\. w\.c\.", chapter.sample_table(30).data)
    swings = np.array([float(high) - float(low) for low, high in rows]).reshape(3, 3)
    assert np.all(swings[:, 0] <= swings[:, 1]) and np.all(swings[:, 1] <= swings[:, 2] + 1e-9)
    assert np.any(swings[:, 0] < 0.9 * swings[:, 2])


def test_a_hot_vent_holds_out_longer_than_a_cold_one():
    cold, hot = (float(re.search(r"below -([\d.]+) Pa", line)[1]) for line in chapter.folds("SI").splitlines())
    assert hot > 5.0 * cold > 5.0


@pytest.mark.slow
def test_load_changes_leave_what_is_at_rest():
    change = chapter.load_change(HALL.plant, HALL.seasons)
    outlet = change.runs.outlet_pressure[0]
    told = chapter.seconds_table(change, "SI").data
    assert show(Q_(float(outlet[:, 0].max()), "Pa"), "SI", "draft") in told
    assert outlet[:, 0].max() > max(chapter.at_rest(change, 0)) and outlet[:, 1].min() < min(chapter.at_rest(change, 1))
    assert all(a.name in chapter.passages_table("SI").data for a in HALL.plant.appliances)


# --- Live controls ---


def test_the_halls_controls_begin_in_january():
    panel = chapter.hall_explorer()
    # Three boilers of four states each, one season, calm, hot.
    assert "64 of 896 states" in panel.numbers.value and "summer" not in panel.numbers.value


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_explorer_at_both_ends_of_every_control(system, swim_hall, start):
    for moved, control in chapter.controls(swim_hall).items():
        for value in {control.options[0][1], control.options[-1][1]}:
            numbers, picture = chapter.explorer_answer(system, swim_hall, **start | {moved: value})
            assert re.search(r"\d of 896 states", numbers)
            assert is_a_drawing(picture)


def test_explorer_shows_the_envelopes_of_the_scan(swim_hall, start):
    numbers, _ = chapter.explorer_answer("US", swim_hall, **start)
    for e in outlet_envelope.envelopes(swim_hall):
        for value in (e.low, e.high, e.swing, e.below, e.above):
            assert show(Q_(value, "Pa"), "US") in numbers
        for state in (e.low_state, e.high_state):
            assert swim_hall.describe(state) in numbers
    for r in reversal.reversals(swim_hall):
        assert f"FLUE GAS ENTERS THE ROOM: {show(Q_(r.flue_gas, 'kg/s'), 'US')}" in numbers


def test_narrowed_states_are_those_asked_for(swim_hall, start):
    numbers, _ = chapter.explorer_answer("US", swim_hall, **start | {"season": 2, "cold": True, "does Boiler 3": 0})
    # Summer has no wind: 4 x 4 states of the other two boilers.
    assert "16 of 896 states" in numbers
    assert "design winter" not in numbers and "hot stack" not in numbers
    assert "of flue gas into the room" in numbers  # through Boiler 3, which is off


def test_all_off_leaves_nothing_to_draw(swim_hall, start):
    numbers, picture = chapter.explorer_answer("US", swim_hall, **start | {f"does Boiler {i}": 0 for i in (1, 2, 3)})
    assert numbers.count("idle") == 3 and picture == panels.no_picture()


def test_no_state_left_is_said_in_words(swim_hall):
    panel = chapter.explorer("US", swim_hall)
    panel.controls["season"].value, panel.controls["windy"].value = 2, True
    assert "no state of the scan fits" in panel.numbers.value
    assert panel.picture.value == panels.no_picture()


@pytest.mark.slow
def test_a_move_is_answered_at_once(swim_hall):
    control, took = (panel := chapter.explorer("US", swim_hall)).controls["windy"], []
    for _move in range(20):
        began = time.process_time()
        control.index = (control.index + 1) % len(control.options)
        took.append(time.process_time() - began)
    assert "of 896 states" in panel.numbers.value and median(took) < SLOWEST
