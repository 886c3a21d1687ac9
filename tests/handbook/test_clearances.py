"""The chapter on clearances: questions worked again by hand, controls that follow, checks, figures, what it says."""

import re

import numpy as np
import pytest

from ventcalc.building import clearance_words
from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import CHECK_EDITION, FAIL, NONE, READING
from ventcalc.building.least_height import least_height, least_heights, roof_height
from ventcalc.building.terminal import CHIMNEY, FAN, GAS_VENT, at_height, moved, with_fan
from ventcalc.checked import unexplained
from ventcalc.handbook import clearance_probes
from ventcalc.handbook import clearances as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

START = {name: control.value for name, control in chapter.controls("US").items()}


def ft(value):
    return Q_(value, "ft")


# --- Questions, worked again by hand ---


def answers():
    return (
        ft(10 * 6 / 12 + 2),  # up the slope as far as it counts, and two feet
        ft(9 + 2),  # nearer than 8 ft: over the wall
        ft(4 + 3 - 4),
        ft(12 - 4),
        Q_((9**2 - 6**2) ** 0.5, "inch"),
    )


@pytest.mark.parametrize("system", SYSTEMS)
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), answers(), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "ridge" in mark(questions[0], ft(14 * 6 / 12 + 2)).sentence
    assert "8 ft" in mark(questions[1], ft(1)).sentence
    assert "moved away" in mark(questions[2], ft(10 - 8)).sentence
    assert "above a window" in mark(questions[3], ft(12 - 1)).sentence
    assert "do not add" in mark(questions[4], Q_(9 - 6, "inch")).sentence


# --- Prediction, and what the reader writes ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    # By hand: two feet over the slope ten feet uphill of the vent's upper edge, seven inches up from its axis; the
    # outlet's height counts from the slope at that edge. 12 in.: 1 ft by the table up to 6/12.
    found = chapter.a_size_larger(Q_(12, "inch"), Q_(14, "inch"), system)
    assert found["figure"].m_as("ft") == pytest.approx(10 * 6 / 12 + 2)
    assert found["times"] == pytest.approx(7.0) and found["right"] == 2
    assert "seven" in chapter.prediction(system).choices[found["right"]]


@pytest.mark.parametrize(("small", "large", "right"), [(10, 12, 0), (14, 16, 0), (12, 18, 2)])
def test_the_prediction_goes_with_the_size(small, large, right):
    assert chapter.a_size_larger(Q_(small, "inch"), Q_(large, "inch"), "US")["right"] == right


def in_feet(away, pitch):
    return max(3.0, min(10.0, away) * pitch / 12.0 + 2.0)


def in_meters(away, pitch):
    return max(0.9144, min(3.048, away) * pitch / 1000.0 + 0.6096)


@pytest.mark.parametrize(
    ("system", "function", "foot", "over"), [("US", in_feet, 1.0, 12.0), ("SI", in_meters, 0.3048, 1e3)]
)
def test_what_is_written_is_right_by_hand(system, function, foot, over):
    task = chapter.writing(system)
    assert {tried(task, case, function).kind for case in task.cases} == {"right"}

    def said(wrong):
        return {tried(task, case, wrong).words for case in task.cases} - {""}

    assert said(lambda s, p: max(3 * foot, s * p / over + 2 * foot)) == {task.slips["ridge"]}
    assert said(lambda s, p: min(10 * foot, s) * p / over + 2 * foot) == {task.slips["no_passage"]}
    assert said(lambda s, p: max(3 * foot, min(10 * foot, s) * p / over)) >= {task.slips["level"]}
    assert said(lambda s, p: 5 * foot + min(10 * foot, s) * p / over) == {task.slips["both"]}


# --- Live controls ---


def test_explorer_shows_what_the_library_finds():
    numbers, _ = chapter.explorer_answer("US", **START)
    roof = roof_height(chapter.hall(), chapter.stack())
    terminal = at_height(chapter.stack(), roof + ft(START["above"]))
    for f in judge(chapter.hall(), terminal):
        assert (f.verdict == NONE) == (f">{f.rule}</td>" not in numbers), f.rule
    least = least_height(chapter.hall(), terminal)
    assert clearance_words.length_text(least.height, "US") in numbers
    assert CHECK_EDITION in numbers


def test_moving_away_from_the_handler_lets_the_intake_go():
    def verdict(x):
        numbers, _ = chapter.explorer_answer("US", **START | {"x": x})
        return re.search(r"outdoor-air intake, mechanical code</td><td[^>]*>([^<]*)<", numbers)[1]

    # Its face stands at 35 ft, the stack is 14 in. across: ten feet from it the axis is at 45.58 ft.
    assert verdict(45.0) == "fail" and verdict(46.0) == "pass"


def test_habit_takes_the_place_of_the_table():
    small = START | {"kind": GAS_VENT, "size": 8.0, "x": 20.0}
    by_code, _ = chapter.explorer_answer("US", **small)
    by_habit, _ = chapter.explorer_answer("US", **small | {"go_by": chapter.BY_HABIT})
    assert "three feet within ten" in by_habit and "three feet within ten" not in by_code


@pytest.mark.slow
@pytest.mark.parametrize("kind", chapter.LIVE_KINDS)
@pytest.mark.parametrize("pitch", [chapter.PITCHES[0], chapter.PITCHES[-1]])
def test_every_kind_is_answered_everywhere(kind, pitch):
    for x, y in ((1.0, 1.0), (83.0, 55.0), (72.0, 40.0), (32.0, 20.0), (42.0, 28.0)):
        numbers, picture = chapter.explorer_answer("SI", **START | {"x": x, "y": y, "kind": kind, "pitch": pitch})
        assert picture.startswith(b"\x89PNG") and not re.search(r"\b(nan|inf)\b", numbers)


# --- What the chapter says ---


def test_checks_agree_or_say_why():
    checks = clearance_probes.checks()
    assert unexplained(checks) == []
    assert all(c.agrees for c in checks)
    assert len(checks) == 32
    assert sum(c.status.startswith("from memory") for c in checks) == 1


def test_as_drawn_a_fan_gains_nothing_and_three_feet_aside_it_does():
    hall, stack = chapter.hall(), chapter.stack()
    aside = moved(stack, stack.x + ft(3), stack.y)
    drawn = [least_height(hall, t).height.m_as("ft") for t in (stack, with_fan(stack))]
    assert drawn == pytest.approx([32.5 + 3, 32.5 + 3])  # three feet over the intake
    chimney, fan = (least_height(hall, t) for t in (aside, with_fan(aside)))
    assert chimney.height.m_as("ft") == pytest.approx(32 + 2)  # two feet over the ridge
    # One foot over where its upper edge leaves the slope, seven inches uphill of the axis.
    assert fan.height.m_as("ft") == pytest.approx(18 + (22 + 7 / 12) / 2 + 1)
    assert {f.rule for f in fan.open_questions} == {
        "fan or direct vent above the roof",
        "outdoor-air intake, ventilation standard",
    }


def test_as_drawn_three_rules_fail():
    verdicts = [f.verdict for f in judge(chapter.hall(), chapter.stack())]
    assert (verdicts.count(FAIL), verdicts.count(READING)) == (3, 1)


def test_the_habit_never_asks_for_less_up_to_ten_over_twelve():
    for pitch in (0, 2, 4, 6, 8, 10):
        scene, vent = chapter.open_slope(Q_(8, "inch"), pitch)
        code, habit = (least_height(scene, vent, habit=h).above_roof for h in (False, True))
        assert habit >= code
    assert "three feet within ten" in chapter.habit_beside_table("US").data


def test_tables_of_the_page_say_what_the_library_finds():
    aside = moved(chapter.stack(), chapter.stack().x + ft(3), chapter.stack().y)
    assert "34 ft" in chapter.least_told({"aside": aside}, "US").data
    changed = chapter.fan_changes(aside).data
    assert "chimney above what is near" in changed and "lot line or adjacent building" in changed
    left = chapter.left_to_read(with_fan(aside), "US").data
    assert left.count("<tr>") == 1 + 2
    assert "38 rows: 31 published" in chapter.trust().data and "CL37" in chapter.trust().data
    assert "tower window" in chapter.things("SI").data and "roof, 6/12" in chapter.things("SI").data
    assert chapter.rules_told("US").data.count("<tr>") == 1 + len(chapter.lessons())


@pytest.mark.parametrize("case", chapter.lessons(), ids=lambda c: c[0])
def test_each_small_drawing_shows_a_rule_that_fails(case):
    finding = chapter.lesson_finding(*case)
    assert finding.verdict == FAIL and finding.point is not None


def test_least_height_of_a_place_that_no_height_cures_is_said_so():
    row = chapter.least_row("by the line", chapter.hall(), moved(chapter.stack(FAN), ft(83), ft(22)), "US")
    assert row[1] == "none does" and row[3] == "lot line or adjacent building"


# --- Figures ---


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_figures_are_labeled_and_can_be_read(system):
    unit = {"US": "ft", "SI": "m"}[system]
    for figure in (chapter.lesson_drawings(system), chapter.least_map(system)):
        words = [t.get_text() for t in figure.texts] + [a.get_ylabel() for a in figure.axes]
        assert any(w.split("\n")[0].endswith((f"in {unit}", f", {unit}")) for w in words)
        for axes in figure.axes:
            ticks = (*axes.get_xticklabels(), *axes.get_yticklabels(), *axes.texts)
            assert all(t.get_size() >= 10 for t in ticks)


def test_the_map_is_the_least_height_of_each_place():
    heights = least_heights(
        chapter.hall(), chapter.stack(CHIMNEY), ft(np.array([44.0, 47.0])), ft(np.array([22.0, 22.0]))
    )
    assert heights.m_as("ft") == pytest.approx([35.5, 34.0])


def test_her_window_by_hand():
    """Similar triangles: the ridge, 32 ft up, is 72 ft away from an eye 16 ft up, the stack's axis 78 ft, its near rim
    7 in. less."""
    hidden = 16.0 + (32.0 - 16.0) * (78.0 - 7.0 / 12.0) / 72.0
    assert f"{hidden:.2f}".rstrip("0") + " ft" in chapter.who_sees_it().data


def test_the_share_that_hides_is_larger_with_a_fan():
    shares = chapter.hidden_shares()
    assert 0.0 < shares["as a chimney"] < shares["with a fan"] < 1.0


def test_two_feet_over_by_hand():
    """The ridge is 6 ft from the stack in plan, 32 ft up, and the highest point of its slope."""
    assert "within ten feet: 32 ft" in chapter.two_feet_over() and "over it: 34 ft" in chapter.two_feet_over()
