"""Exercise sheet: what is right is counted, other figures can be had, and a change of units loses nothing."""

import pytest

from ventcalc.show import unit_switch
from ventcalc.show.exercise_sheet import Sheet, show
from ventcalc.show.exercises import Exercise
from ventcalc.show.unit_switch import Units
from ventcalc.units import Q_


def questions(system="US", seed=None):
    """Two questions whose answers go with the seed."""
    return tuple(
        Exercise(
            question=f"Number {number} of seed {seed} < in {system}?",
            expected=Q_(number + (seed or 0), "ft"),
            tolerance=Q_(0.01, "ft"),
            hints=("First.", "Second."),
            solution=f"It is so in {system}.",
        )
        for number in (1, 2)
    )


@pytest.fixture
def sheet():
    return Sheet(questions, "US")


def test_what_is_right_is_counted(sheet):
    assert "0 of 2 right" in sheet.progress.value
    sheet.asked[0].line.value = "1 ft"
    assert "1 of 2 right" in sheet.progress.value
    sheet.asked[1].line.value = "1 ft"
    assert "1 of 2 right" in sheet.progress.value


def test_an_answer_that_was_told_is_counted_apart(sheet):
    button = sheet.asked[0].children[1].children[2]
    assert button.description == "Answer"
    button.click()
    assert "☞ Worked answer. " in sheet.asked[0].verdict.value.replace("</b>", "")
    sheet.asked[0].line.value = "1 ft"
    assert "0 of 2 right, 1 told" in sheet.progress.value


def test_fresh_numbers_begin_afresh(sheet):
    sheet.asked[0].line.value = "1 ft"
    sheet.fresh.click()
    assert "seed 1" in sheet.asked[0].exercise.question and "0 of 2 right" in sheet.progress.value
    sheet.asked[0].line.value = "2 ft"
    assert "1 of 2 right" in sheet.progress.value
    sheet.fresh.click()
    assert "seed 2" in sheet.asked[0].exercise.question


def test_other_units_lose_nothing(sheet):
    sheet.fresh.click()
    sheet.asked[0].line.value = "2 ft"
    sheet.asked[1].line.value = "7 ft"
    si = Sheet(questions, "SI")
    si.take_over(sheet)
    first, second = si.asked
    assert "seed 1 < in SI" in first.exercise.question and "It is so in SI." in first.verdict.value and first.right
    assert second.line.value == "7 ft" and second.exercise.tries == 1 and "Your turn" in second.verdict.value
    assert "1 of 2 right" in si.progress.value
    second.line.value = "3 ft"
    assert "2 of 2 right" in si.progress.value


def test_it_follows_the_units_of_the_page(monkeypatch):
    shown = []
    monkeypatch.setattr(unit_switch, "display", shown.append)
    units = Units("US")
    show(questions, seed=7, units=units)
    units.system = "SI"
    assert "seed 7 < in SI" in shown[0].children[0].asked[0].exercise.question


def test_a_page_without_a_kernel_reads_as_a_list(sheet):
    bundle = sheet._repr_mimebundle_()
    assert bundle["text/html"].count("<li>") == 2 and "&lt; in US?" in bundle["text/html"]
    assert bundle["text/plain"].startswith("1. Number 1")
