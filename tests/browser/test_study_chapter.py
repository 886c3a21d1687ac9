"""The study chapter in a browser: run it, move a control, and see its numbers and its picture follow."""

import re

import numpy as np
from playwright.sync_api import expect

from ventcalc import tables
from ventcalc.handbook import study as chapter
from ventcalc.job import job_file
from ventcalc.units import Q_, show
from ventcalc.vent.common_vent import solve
from ventcalc.vent.states import States

CHAPTER = "27_study.ipynb"
PATIENCE = 90_000  # ms, a kernel from cold and a whole chapter on two busy cores

# Console errors that are no fault of a chapter; each with its reason. Anything else fails the test.
HARMLESS: dict[str, str] = {}


def not_harmless(complaints) -> list[str]:
    return [text for text in complaints.texts if not any(re.search(pattern, text) for pattern in HARMLESS)]


def kernel(page, status: str) -> None:
    """Wait for the kernel to be "idle" or "busy"."""
    indicator = page.locator(f'.jp-Notebook-ExecutionIndicator[data-status="{status}"]').first
    expect(indicator).to_be_visible(timeout=PATIENCE)


def open_chapter(page, lab) -> None:
    """Open the chapter and wait for its kernel; before that the Run menu would ask which kernel to use."""
    page.goto(lab.url(CHAPTER))
    # The indicator is called idle before there is a kernel at all; the status bar is not.
    expect(page.get_by_text("Python 3 (ipykernel) | Idle")).to_be_visible(timeout=PATIENCE)


def run_all(page) -> None:
    """Run every cell from the menu and wait until the kernel has nothing left to do."""
    page.locator(".lm-MenuBar-itemLabel", has_text=re.compile("^Run$")).click()
    page.locator('[data-command="runmenu:run-all"]').click()
    kernel(page, "busy")
    kernel(page, "idle")


def scroll_to(page, selector: str) -> None:
    """Scroll through the notebook until something is there: cells out of sight are not in the page at all."""
    found = page.locator(selector).first
    for place in range(0, 40_000, 500):
        if found.count() and found.is_visible():
            break
        page.evaluate("y => document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, y)", place)
        page.wait_for_timeout(100)
    found.scroll_into_view_if_needed()


def slider_moves_the_numbers_and_the_picture(page, screenshots) -> None:
    scroll_to(page, ".noUi-handle")

    numbers = page.locator(".vc-numbers .widget-html-content").first
    picture = page.locator("img.vc-picture").first
    expect(picture).to_have_attribute("src", re.compile("^blob:"))
    # All high, in the first season, on a hot stack in calm: as the library solves it.
    hall = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
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
    expect(numbers).not_to_have_text(numbers_before, timeout=PATIENCE)
    expect(picture).not_to_have_attribute("src", picture_before, timeout=PATIENCE)
    numbers.scroll_into_view_if_needed()
    page.screenshot(path=screenshots / "study_after.png")
    # The new picture is a drawing, not a broken image.
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 100

    # A list to choose from: the other unit system, and the height that was chosen stays.
    page.locator(".widget-dropdown select").nth(1).select_option("SI")
    expect(page.locator(".vc-numbers .widget-html-content").first).to_have_text(
        re.compile(r"-?\d+\.\d Pa"), timeout=PATIENCE
    )
    expect(page.locator(".widget-readout").first).to_have_text("13.58 m")
    page.screenshot(path=screenshots / "study_si.png")


def exercise_marks_itself(page, screenshots) -> None:
    scroll_to(page, ".vc-verdict")
    answer, verdict = page.locator(".widget-text input").first, page.locator(".vc-verdict").first
    right = float(chapter.questions("US")[0].expected.m_as("inH2O"))
    wrong = f"{right - 0.05:.3f} inH2O"  # the set point forgotten
    for typed, said in ((f"{right:.3f}", "unit is missing"), (wrong, "Hint"), (f"{right:.3f} inH2O", "Right.")):
        answer.fill(typed)
        answer.press("Enter")
        expect(verdict).to_contain_text(said, timeout=PATIENCE)
    page.screenshot(path=screenshots / "study_exercise.png")


def test_the_chapter_answers_to_a_reader(lab, page, complaints, screenshots):
    """Run once: the whole study of a job takes longest."""
    open_chapter(page, lab)
    run_all(page)
    slider_moves_the_numbers_and_the_picture(page, screenshots)
    exercise_marks_itself(page, screenshots)
    assert not_harmless(complaints) == []
