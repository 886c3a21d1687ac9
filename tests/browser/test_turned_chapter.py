"""A chapter in a browser, as a learner goes through it: predict, move, choose other units, write, answer."""

import platform
import re

import pytest
from playwright.sync_api import expect
from run_chapters import METADATA

from .chapter_page import not_harmless, open_chapter, run_all, scroll_to

CHAPTER = "06_stack_effect.ipynb"


SCREENS = 12  # at 1440 x 900, what a learner should scroll at most


# JupyterLab writes the release of its kernel's Python into a chapter; where it is another, it differs in that.
SAME_PYTHON = METADATA["language_info"]["version"] == platform.python_version()


def looking_and_running_changes_nothing(page, lab) -> None:
    """Opening asks for no saving, and a chapter that was run and saved is what it was, to the byte."""
    file = lab.chapters / CHAPTER
    before = file.read_bytes()
    assert page.locator(".jp-mod-dirty").count() == 0
    run_all(page)
    page.keyboard.press("Escape")
    page.keyboard.press("Control+s")
    expect(page.locator(".jp-mod-dirty")).to_have_count(0)
    assert file.read_bytes() == before


def is_read_in_twelve_screens(page) -> None:
    height = page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollHeight")
    seen = page.evaluate("document.querySelector('.jp-WindowedPanel-outer').clientHeight")
    assert height <= SCREENS * seen, (height, seen)


def to_the_top(page) -> None:
    page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, 0)")


def a_prediction_is_remembered_and_answered(page, screenshots) -> None:
    page.locator(".vc-predict label", has_text="tenth").first.click()
    scroll_to(page, ".vc-predicted")
    expect(page.locator(".vc-predicted").first).to_contain_text("✘ No. You said")
    page.screenshot(path=screenshots / "turned_answer.png")


def choose_units(page, name: str, height: str) -> None:
    """Press a button and wait until the last that is drawn again, the exercises, names a ``height`` in those units."""
    to_the_top(page)
    scroll_to(page, ".vc-units")
    page.locator(".vc-units button", has_text=name).first.click()
    scroll_to(page, ".vc-progress")
    expect(page.locator(".vc-verdict").first).to_contain_text(height)
    to_the_top(page)


def other_units_are_followed_without_a_rerun(page, screenshots) -> None:
    choose_units(page, "SI", "12 m")
    scroll_to(page, ".vc-numbers")
    expect(page.locator(".vc-numbers").first).to_contain_text("kPa")
    page.screenshot(path=screenshots / "turned_si.png")
    scroll_to(page, "text=theoretical draft: 61.6 Pa")
    choose_units(page, "US", "40 ft")


FORMULA = "return 0.2554 * barometer * height * (1 / (outdoor + 459.67) - 1 / (gas + 459.67))"


def a_formula_is_written_and_tried(page, screenshots) -> None:
    to_the_top(page)
    scroll_to(page, "text=not yet written")
    cell = page.locator(".jp-CodeCell", has_text="def my_draft").first
    cell.locator(".cm-line", has_text="return ...").click()
    page.keyboard.press("End")
    page.keyboard.press("Shift+Home")
    page.keyboard.type(FORMULA)
    page.keyboard.press("Shift+Enter")
    page.keyboard.press("Shift+Enter")
    expect(page.get_by_text("✔ Right in all 4 cases.")).to_be_visible()
    page.screenshot(path=screenshots / "turned_written.png")


def exercises_mark_themselves_and_are_counted(page, screenshots) -> None:
    scroll_to(page, ".vc-progress")
    answer, verdict = page.locator(".widget-text input").first, page.locator(".vc-verdict").first
    page.get_by_role("button", name="Hint").first.click()
    expect(verdict).to_contain_text("☞ Hint.")
    for typed, said in (("20 ft", "✘ No."), ("20.0 ft", "✘ No, as before."), ("42.3 ft", "✔ Right.")):
        answer.fill(typed)
        answer.press("Enter")
        expect(verdict).to_contain_text(said)
    expect(page.locator(".vc-progress").first).to_contain_text("1 of 4 right")
    page.screenshot(path=screenshots / "turned_exercises.png")
    question = page.locator(".vc-verdict").first.text_content()
    page.locator("button.vc-fresh").first.click()
    expect(page.locator(".vc-progress").first).to_contain_text("0 of 4 right")
    expect(page.locator(".vc-verdict").first).not_to_have_text(re.compile(re.escape(question)))


@pytest.mark.slow
def test_a_learner_goes_through_a_chapter(lab, page, complaints, screenshots):
    page.set_viewport_size({"width": 1440, "height": 900})
    open_chapter(page, lab, CHAPTER)
    page.screenshot(path=screenshots / "turned_unrun.png")
    looking_and_running_changes_nothing(page, lab) if SAME_PYTHON else run_all(page)
    is_read_in_twelve_screens(page)
    to_the_top(page)
    page.screenshot(path=screenshots / "turned_first_screen.png")
    a_prediction_is_remembered_and_answered(page, screenshots)
    other_units_are_followed_without_a_rerun(page, screenshots)
    exercises_mark_themselves_and_are_counted(page, screenshots)
    a_formula_is_written_and_tried(page, screenshots)
    assert not_harmless(complaints) == []
