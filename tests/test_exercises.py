"""Exercises: what is said to each kind of answer, and that the answers are right by other means than the library's."""

import itertools
import math
import re
from dataclasses import replace

import pytest
from independent_network import Vent

from ventcalc import exercises, job, tables
from ventcalc.exercises import Exercise, Slip, mark
from ventcalc.units import Q_, SYSTEMS

MAKERS = (exercises.for_common_vent, exercises.for_firing_states, exercises.for_study)
ALL = {f"{m.__name__}[{i}] {s}": e for m in MAKERS for s in SYSTEMS for i, e in enumerate(m(s))}


def draft_exercise(**changes):
    given = {
        "question": "How much?",
        "expected": Q_(-0.20, "inH2O"),
        "tolerance": Q_(0.003, "inH2O"),
        "hints": ("First hint.", "Second hint."),
        "solution": "It is -0.200 in. w.c.",
        "slips": (Slip(Q_(-0.10, "inH2O"), "That is half of it."),),
    }
    return Exercise(**(given | changes))


# --- What is said -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("answer", [None, ..., "", "   "])
def test_not_attempted_is_no_mistake(answer):
    exercise = draft_exercise()
    assert exercise.check(answer).kind == "not attempted"
    assert exercise.tries == 0


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        (-0.2, "without a unit|bare number"),
        ("-0.2", "unit is missing"),
        ("-0.2 bananas", "unknown unit"),
        ("a lot", "write a number"),
        ("nan Pa", "finite"),
        (Q_(float("nan"), "Pa"), "finite"),
        (Q_(3.0, "ft"), "needs a pressure"),
        ("3 ft", "needs a pressure"),
        ([1, 2], "bare number"),
    ],
)
def test_what_cannot_be_read_is_refused_kindly_and_does_not_count(answer, says):
    exercise = draft_exercise()
    verdict = exercise.check(answer)
    assert verdict.kind == "refused"
    assert re.search(says, verdict.sentence)
    assert "does not count" in verdict.sentence
    assert exercise.tries == 0


@pytest.mark.parametrize(
    "answer", [Q_(-0.2, "inH2O"), "-0.2 inH2O", "-0.2 inwc", Q_(-49.82, "Pa"), "-0.0498 kPa", "-0.2025 inH2O"]
)
def test_right_in_any_fitting_unit(answer):
    assert draft_exercise().check(answer).kind == "right"


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("-0.1 inH2O", "half of it"),
        ("0.2 inH2O", "sign.*negative is draft"),
        (Q_(101325 - 49.8, "Pa"), "absolute.*gauge"),
        ("-2 inH2O", "decimal point"),
        ("-0.209 inH2O", "Close"),
        ("-0.4 inH2O", "Too low"),
        ("0.7 inH2O", "Too high"),
    ],
)
def test_wrong_with_its_reason(answer, says):
    verdict = mark(draft_exercise(), answer)
    assert verdict.kind == "wrong"
    assert re.search(says, verdict.sentence)


def test_hints_come_one_by_one_and_then_the_worked_answer():
    exercise = draft_exercise()
    assert "First hint." in exercise.check("-0.4 inH2O").more
    assert exercise.check("-0.4").more == ""  # refused: no try, no hint
    assert "Second hint." in exercise.check("-0.5 inH2O").more
    assert "Worked answer: It is -0.200" in exercise.check("-0.6 inH2O").more
    assert exercise.check("-0.2 inH2O").kind == "right"


@pytest.mark.parametrize(
    ("answer", "kind"), [(86.5, "wrong"), (0.865, "right"), ("86.5 %", "right"), ("86.5%", "right"), ("x", "refused")]
)
def test_a_ratio_may_go_without_a_unit(answer, kind):
    exercise = draft_exercise(expected=Q_(86.47, "percent"), tolerance=Q_(1.0, "percent"), slips=())
    assert exercise.check(answer).kind == kind


def test_a_temperature_is_marked_by_difference():
    exercise = draft_exercise(expected=Q_(270.0, "degF"), tolerance=Q_(4.0, "delta_degF"), slips=())
    assert exercise.check("132 degC").kind == "right"
    assert exercise.check("275 degF").kind == "wrong"
    assert exercise.check(Q_(132.0, "delta_degC")).kind == "refused"


def test_verdict_is_escaped_html():
    verdict = draft_exercise().check("<script>alert(1)</script> Pa")
    assert "<script>" not in verdict.html() and "&lt;script&gt;" in verdict.html()


# --- Every exercise of the chapters -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ALL)
def test_solution_is_right_and_slips_are_not(name):
    exercise = ALL[name]
    assert mark(exercise, exercise.expected).kind == "right"
    for slip in exercise.slips:
        verdict = mark(exercise, slip.answer)
        assert (verdict.kind, verdict.sentence) == ("wrong", slip.reason)


@pytest.mark.parametrize("name", ALL)
def test_example_shows_a_readable_form_and_is_not_the_answer(name):
    assert mark(ALL[name], ALL[name].example).kind == "wrong"


@pytest.mark.parametrize("name", ALL)
def test_texts_are_whole(name):
    exercise = ALL[name]
    assert exercise.question.strip().endswith(("?", ")", ".")) and len(exercise.hints) >= 2
    assert not any("w.c.." in t for t in (exercise.question, exercise.solution, *exercise.hints))


def ours(maker, i, unit):
    """The expected answer in both unit systems; they are one."""
    us, si = (float(maker(system)[i].expected.m_as(unit)) for system in SYSTEMS)
    assert us == pytest.approx(si, rel=1e-9)
    return us


# --- The answers, worked by other means -----------------------------------------------------------------------------


def test_handbook_draft():
    # The handbook's formula with its US constant (from memory), by hand: B 29.92 inHg, H 40 ft, 20 and 300 degF.
    by_hand = 0.2554 * 29.92 * 40 * (1 / 479.67 - 1 / 759.67)
    assert ours(exercises.for_common_vent, 0, "inH2O") == pytest.approx(by_hand, rel=1e-4)
    in_si = 0.03413 * 101325 * 12.192 * (1 / 266.483 - 1 / 422.039)
    # The two constants as printed differ by 0.32 %.
    assert ours(exercises.for_common_vent, 0, "Pa") == pytest.approx(in_si, rel=4e-3)


def test_branch_of_a_tee():
    # Gardel's branch at 90 degrees, sharp corner: the cosine terms vanish. a = (12/16)^2, q = 1/2.
    a, q = 0.5625, 0.5
    k = -0.92 * (1 - q) ** 2 + q**2 * (1.2 - 0.8 * (1 - 1 / a**2)) + (2 - a) * q * (1 - q)
    assert ours(exercises.for_common_vent, 1, "inH2O") == pytest.approx(0.020 * k, rel=1e-9)


def test_mixed_temperature():
    assert ours(exercises.for_common_vent, 2, "degF") == pytest.approx((900 * 330 + 300 * 90) / 1200, abs=1e-6)


def test_number_of_states_by_counting_them():
    boilers = itertools.product(("off", "purge", "low", "high"), repeat=5)
    count = sum(1 for _ in itertools.product(boilers, range(3), ("hot", "cold"), ("calm", "wind")))
    assert ours(exercises.for_firing_states, 0, "") == count == 12288


def test_swing():
    assert ours(exercises.for_firing_states, 1, "inH2O") == pytest.approx(0.31, abs=1e-9)


def test_flow_through_an_idle_boiler():
    assert ours(exercises.for_firing_states, 2, "cfm") == pytest.approx(37.5, rel=1e-9)


def test_chance_of_a_sample():
    # Poisson's limit for rare states: two are expected, so none is found with exp(-2).
    assert ours(exercises.for_firing_states, 3, "percent") == pytest.approx(100 * (1 - math.exp(-2)), abs=0.01)


def boiler_1(plant, codes=(3, 3, 3)):
    """Outlet pressure of Boiler 1 [Pa] in summer on a cold stack, by the second solver of the tests."""
    swim_hall = job.load(tables.DATA / "jobs" / "swim_hall.toml")
    vent = Vent(plant(swim_hall.plant), swim_hall.seasons)
    state = vent.state(codes, 2, cold=True)
    drawn, _, _ = state.solve()
    return state.at(drawn).outlet_pressure(0)


def with_laterals(plant):
    return replace(plant, sections=tuple(replace(s, junction=s.junction and "lateral") for s in plant.sections))


def with_wide_header_and_stack(plant):
    return replace(
        plant,
        sections=tuple(
            s if s.name.startswith("connector") else replace(s, diameter=Q_(20, "inch")) for s in plant.sections
        ),
    )


def test_swimming_hall_with_laterals():
    assert ours(exercises.for_common_vent, 3, "Pa") == pytest.approx(boiler_1(with_laterals), abs=0.05)


def test_swimming_hall_with_a_wide_stack():
    # The other two purge: with that much room in the stack, lack of draft weighs more than flow.
    assert ours(exercises.for_study, 2, "Pa") == pytest.approx(
        boiler_1(with_wide_header_and_stack, (3, 1, 1)), abs=0.05
    )
    assert boiler_1(with_wide_header_and_stack, (3, 1, 1)) > boiler_1(with_wide_header_and_stack)


def test_alternate():
    # The outlet as drawn by the second solver, less the upper edge of the alternate's window, 0.04 in. w.c.
    expected = boiler_1(lambda plant: plant) - 0.04 * 249.089
    assert ours(exercises.for_study, 1, "Pa") == pytest.approx(expected, abs=0.05)


def test_lacking():
    # All three boilers blow into the header; at its far end stands the mouth of header 1.
    swim_hall = job.load(tables.DATA / "jobs" / "swim_hall.toml")
    state = Vent(swim_hall.plant, swim_hall.seasons).state([3, 3, 3], 2, cold=True)
    flowing = state.at(state.solve()[0])
    area = math.pi * 0.4064**2 / 4
    static = (
        flowing.pressure_up("header 1")
        - (flowing.flow("header 1") / area) ** 2 * flowing.volume_at("header 1", "up") / 2
    )
    lift = state.room_gauge[0] * (2.7432 - 0.3048) / (1.524 - 0.3048)  # the room at the header's height
    assert ours(exercises.for_study, 0, "Pa") == pytest.approx(static - lift + 0.05 * 249.089, abs=0.1)
