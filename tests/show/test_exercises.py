"""Exercises: what is said to each kind of answer, and when hints and the worked answer come out."""

import re

import pytest

from ventcalc.show.exercises import KINDS, Exercise, Slip, Verdict, mark
from ventcalc.units import Q_


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


@pytest.mark.parametrize(
    ("answer", "kind"), [("86.5", "right"), ("0.865", "right"), ("8.65", "wrong"), ("43", "wrong")]
)
def test_a_typed_number_may_be_in_percent_or_a_plain_ratio(answer, kind):
    exercise = draft_exercise(expected=Q_(86.47, "percent"), tolerance=Q_(1.0, "percent"), slips=())
    assert exercise.check(answer).kind == kind


@pytest.mark.parametrize("answer", ["-0.2 in. w.c.", "\u22120.2 in wc", "-49.8 pa", "-0.2in w.c."])
def test_an_answer_may_be_written_as_the_book_writes_it(answer):
    assert mark(draft_exercise(), answer).kind == "right"


def test_a_temperature_may_be_typed_with_a_bare_letter():
    exercise = draft_exercise(expected=Q_(270.0, "degF"), tolerance=Q_(4.0, "delta_degF"), slips=())
    assert exercise.check("270 F").kind == "right" and exercise.check("132 C").kind == "right"


@pytest.mark.parametrize("answer", ["III", "category 3", "three", "3", 3, 3.0])
def test_a_category_may_be_told_in_any_numeral(answer):
    exercise = draft_exercise(expected=Q_(3.0, ""), tolerance=Q_(0.1, ""), slips=())
    assert exercise.check(answer).kind == "right" and exercise.check("IV").kind == "wrong"


@pytest.mark.parametrize("answer", ["65 s", "65", 65, "1 min 5 s", Q_(65.0, "s")])
def test_a_number_may_go_without_the_unit_that_the_question_names(answer):
    exercise = draft_exercise(expected=Q_(65.4, "s"), tolerance=Q_(1.9, "s"), slips=(), unit="s")
    assert exercise.check(answer).kind == "right"
    assert exercise.check(True).kind == "refused"


def test_an_area_is_marked():
    exercise = draft_exercise(expected=Q_(144.0, "inch**2"), tolerance=Q_(1.0, "inch**2"), slips=())
    assert exercise.check("1 ft**2").kind == "right"
    assert exercise.check("12 inch").kind == "refused"


def test_a_temperature_is_marked_by_difference():
    exercise = draft_exercise(expected=Q_(270.0, "degF"), tolerance=Q_(4.0, "delta_degF"), slips=())
    assert exercise.check("132 degC").kind == "right"
    assert exercise.check("275 degF").kind == "wrong"
    assert exercise.check(Q_(132.0, "delta_degC")).kind == "refused"


def test_verdict_is_escaped_html():
    verdict = draft_exercise().check("<script>alert(1)</script> Pa")
    assert "<script>" not in verdict.html() and "&lt;script&gt;" in verdict.html()


def test_a_unit_that_ends_in_a_full_stop_ends_the_sentence():
    exercise = draft_exercise(
        question="At -0.200 in. w.c., or 16.0 in..", hints=("It is 8 in..",), solution="1 in. w.c.."
    )
    assert exercise.question == "At -0.200 in. w.c., or 16.0 in."
    assert exercise.hints == ("It is 8 in.",) and exercise.solution == "1 in. w.c."


def test_of_two_slips_that_lie_close_together_the_nearer_is_named():
    near = (Slip(Q_(-0.100, "inH2O"), "The first."), Slip(Q_(-0.102, "inH2O"), "The second."))
    assert mark(draft_exercise(slips=near), Q_(-0.102, "inH2O")).sentence == "The second."
    assert mark(draft_exercise(slips=near), Q_(-0.100, "inH2O")).sentence == "The first."


def test_the_same_wrong_answer_is_noticed_and_does_not_count():
    exercise = draft_exercise()
    assert "First hint." in exercise.check("-0.4 inH2O").more
    again = exercise.check("-0.400 inwc")
    assert again.kind == "repeated" and "before" in again.more and exercise.tries == 1
    assert "as before" in again.html()
    assert "Second hint." in exercise.check("-0.5 inH2O").more
    assert exercise.check("-0.4 inH2O").kind == "repeated" and exercise.tries == 2


def test_hints_and_the_worked_answer_may_be_asked_for():
    exercise = draft_exercise()
    assert (exercise.hint().kind, exercise.hint().sentence) == ("hint", "Second hint.")
    assert "no more hints" in exercise.hint().sentence and exercise.tries == 0
    assert "Worked answer" in exercise.check("-0.5 inH2O").more
    assert (exercise.tell().kind, exercise.tell().sentence) == ("told", exercise.solution)


def test_every_verdict_has_a_sign_and_a_word():
    marks = {k: Verdict(k, "x").html().partition("<b>")[2].partition("</b>")[0] for k in KINDS}
    assert len(set(marks.values())) == len(KINDS)
    assert marks["right"] == "✔ Right." and marks["wrong"] == "✘ No."
