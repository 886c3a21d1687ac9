"""The study chapter in a browser: run it, move a control, and see its numbers and its picture follow."""

import re

import numpy as np
import pytest
from playwright.sync_api import expect

from ventcalc.handbook import study as chapter
from ventcalc.job import job_file
from ventcalc.units import Q_, show
from ventcalc.vent.common_vent import solve
from ventcalc.vent.states import States

from .chapter_page import bring_into_view, not_harmless, open_chapter, run_all, scroll_to, shows_a_drawing

CHAPTER = "27_study.ipynb"


def slider_moves_the_numbers_and_the_picture(page, screenshots) -> None:
    scroll_to(page, ".noUi-handle")

    numbers = page.locator(".vc-numbers .widget-html-content").first
    picture = page.locator("img.vc-picture").first
    expect(picture).to_have_attribute("src", re.compile("^blob:"))
    # All high, in the first season, on a hot stack in calm: as the library solves it.
    hall = job_file.demonstration("swim_hall")
    state = States(np.full((3, 1), 3), np.zeros(1, int), np.zeros(1, bool), np.zeros(1, bool))
    pressure = Q_(float(solve(hall.plant, hall.seasons, state).outlet_pressure[0, 0]), "Pa")
    expect(numbers).to_have_text(re.compile("Boiler 1high" + re.escape(show(pressure, "US", "draft"))))
    numbers_before, picture_before = numbers.text_content(), picture.get_attribute("src")
    page.screenshot(path=screenshots / "study_before.png")

    # The first slider is the stack's height: three steps of 2 ft up from the 38 ft drawn make more draft.
    handle = page.locator(".noUi-handle").first
    handle.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(page.locator(".widget-readout").first).to_have_text("44.0 ft")
    expect(numbers).not_to_have_text(numbers_before)
    expect(picture).not_to_have_attribute("src", picture_before)
    bring_into_view(page, ".vc-numbers .widget-html-content")
    page.screenshot(path=screenshots / "study_after.png")
    shows_a_drawing(page, "img.vc-picture")

    # The other unit system, and the height that was chosen stays.
    scroll_to(page, ".vc-units")
    page.locator(".vc-units button", has_text="SI").first.click()
    scroll_to(page, ".vc-numbers")
    expect(page.locator(".vc-numbers .widget-html-content").first).to_have_text(re.compile(r"-?\d+\.\d Pa"))
    expect(page.locator(".widget-readout").first).to_have_text("13.58 m")
    page.screenshot(path=screenshots / "study_si.png")


def another_job_is_shown(page, screenshots) -> None:
    jobs = page.locator(".widget-dropdown select").first
    jobs.select_option("Laundry")
    numbers = page.locator(".vc-numbers .widget-html-content").first
    expect(numbers).not_to_contain_text("Boiler 1")
    page.screenshot(path=screenshots / "study_laundry.png")
    jobs.select_option("Swimming hall")
    expect(numbers).to_contain_text("Boiler 1")


def the_prediction_is_answered(page, screenshots) -> None:
    page.locator(".vc-predict label", has_text="none").first.click()
    scroll_to(page, ".vc-predicted")
    expect(page.locator(".vc-predicted").first).to_contain_text("✘ No. You said")
    expect(page.locator(".vc-predicted").first).to_contain_text("0.0077 kg/s")
    page.screenshot(path=screenshots / "study_predicted.png")


def exercise_marks_itself(page, screenshots) -> None:
    scroll_to(page, ".vc-progress")
    answer, verdict = page.locator(".widget-text input").first, page.locator(".vc-verdict").first
    right = float(chapter.questions("SI")[0].expected.m_as("Pa"))
    wrong = f"{right - 12.5:.1f} Pa"  # the set point forgotten
    for typed, said in ((f"{right:.1f}", "unit is missing"), (wrong, "Hint"), (f"{right:.1f} Pa", "Right.")):
        answer.fill(typed)
        answer.press("Enter")
        expect(verdict).to_contain_text(said)
    expect(page.locator(".vc-progress").first).to_contain_text("1 of 4 right")
    page.screenshot(path=screenshots / "study_exercise.png")


@pytest.mark.slow
def test_the_chapter_answers_to_a_reader(lab, page, complaints, screenshots):
    open_chapter(page, lab, CHAPTER)
    run_all(page)
    slider_moves_the_numbers_and_the_picture(page, screenshots)
    another_job_is_shown(page, screenshots)
    the_prediction_is_answered(page, screenshots)
    exercise_marks_itself(page, screenshots)
    assert not_harmless(complaints) == []
