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


def test_two_inches_more_make_it_seven_times_as_high():
    from dataclasses import replace

    roof = replace(chapter.hall(), obstacles=(), openings=())
    least = [
        least_height(roof, replace(chapter.stack(GAS_VENT), diameter=Q_(d, "inch"), y=ft(14))).above_roof
        for d in (12, 14)
    ]
    # 1 ft by the table; else ten feet up a slope of 6/12 and two feet more, from the vent's uphill edge.
    assert [h.m_as("ft") for h in least] == pytest.approx([1.0, 7.0])


@pytest.mark.parametrize("case", chapter.lessons(), ids=lambda c: c[0])
def test_each_small_drawing_shows_a_rule_that_fails(case):
    finding = chapter.lesson_finding(*case)
    assert finding.verdict == FAIL and finding.point is not None


def test_least_height_of_a_place_that_no_height_cures_is_said_so():
    row = chapter.least_row("by the line", chapter.hall(), moved(chapter.stack(FAN), ft(83), ft(22)), "US")
    assert row[1] == "none does" and row[3] == "lot line or adjacent building"


# --- Figures ---


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
