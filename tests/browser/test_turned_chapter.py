"""A chapter in a browser, as a learner goes through it: predict, move, choose other units, write, answer."""

import re

from playwright.sync_api import expect

from .chapter_page import PATIENCE, not_harmless, open_chapter, run_all, scroll_to

CHAPTER = "06_stack_effect.ipynb"


def to_the_top(page) -> None:
    page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, 0)")


def a_prediction_is_remembered_and_answered(page, screenshots) -> None:
    page.locator(".vc-predict label", has_text="tenth").first.click()
    scroll_to(page, ".vc-predicted")
    expect(page.locator(".vc-predicted").first).to_contain_text("✘ No. You said", timeout=PATIENCE)
    page.screenshot(path=screenshots / "turned_answer.png")


def other_units_are_followed_without_a_rerun(page, screenshots) -> None:
    to_the_top(page)
    scroll_to(page, ".vc-units")
    page.locator(".vc-units button", has_text="SI").first.click()
    scroll_to(page, ".vc-numbers")
    expect(page.locator(".vc-numbers").first).to_contain_text("kPa", timeout=PATIENCE)
    page.screenshot(path=screenshots / "turned_si.png")
    scroll_to(page, "text=theoretical draft: 61.6 Pa")
    to_the_top(page)
    scroll_to(page, ".vc-units")
    page.locator(".vc-units button", has_text="US").first.click()
    scroll_to(page, ".vc-numbers")
    expect(page.locator(".vc-numbers").first).to_contain_text("in. w.c.", timeout=PATIENCE)


def exercises_mark_themselves_and_are_counted(page, screenshots) -> None:
    scroll_to(page, ".vc-progress")
    answer, verdict = page.locator(".widget-text input").first, page.locator(".vc-verdict").first
    page.get_by_role("button", name="Hint").first.click()
    expect(verdict).to_contain_text("☞ Hint.", timeout=PATIENCE)
    for typed, said in (("20 ft", "✘ No."), ("20.0 ft", "✘ No, as before."), ("42.3 ft", "✔ Right.")):
        answer.fill(typed)
        answer.press("Enter")
        expect(verdict).to_contain_text(said, timeout=PATIENCE)
    expect(page.locator(".vc-progress").first).to_contain_text("1 of 4 right")
    page.screenshot(path=screenshots / "turned_exercises.png")
    question = page.locator(".vc-verdict").first.text_content()
    page.locator("button.vc-fresh").first.click()
    expect(page.locator(".vc-progress").first).to_contain_text("0 of 4 right", timeout=PATIENCE)
    expect(page.locator(".vc-verdict").first).not_to_have_text(re.compile(re.escape(question)))


def test_a_learner_goes_through_a_chapter(lab, page, complaints, screenshots):
    page.set_viewport_size({"width": 1440, "height": 900})
    open_chapter(page, lab, CHAPTER)
    page.screenshot(path=screenshots / "turned_unrun.png")
    run_all(page)
    to_the_top(page)
    page.screenshot(path=screenshots / "turned_first_screen.png")
    a_prediction_is_remembered_and_answered(page, screenshots)
    other_units_are_followed_without_a_rerun(page, screenshots)
    exercises_mark_themselves_and_are_counted(page, screenshots)
    assert not_harmless(complaints) == []
