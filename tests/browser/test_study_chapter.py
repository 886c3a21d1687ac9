"""The study chapter in a browser: run it, move a control, and see its numbers and its picture follow."""

import re

from playwright.sync_api import expect

CHAPTER = "27_study.ipynb"

# Console errors that are no fault of a chapter; each with its reason. Anything else fails the test.
HARMLESS: dict[str, str] = {}


def not_harmless(complaints) -> list[str]:
    return [text for text in complaints.texts if not any(re.search(pattern, text) for pattern in HARMLESS)]


def run_all(page) -> None:
    """Run every cell from the menu and wait until the kernel has nothing left to do."""
    page.locator(".lm-MenuBar-itemLabel", has_text=re.compile("^Run$")).click()
    page.locator('[data-command="runmenu:run-all"]').click()
    expect(page.locator(".noUi-handle").first).to_be_visible()
    expect(page.locator('.jp-Notebook-ExecutionIndicator[data-status="idle"]').first).to_be_visible()


def test_a_slider_moves_the_numbers_and_the_picture(lab, page, complaints, screenshots):
    page.goto(lab.url(CHAPTER))
    expect(page.locator(".jp-Notebook-ExecutionIndicator").first).to_be_visible()
    run_all(page)

    numbers = page.locator(".vc-numbers .widget-html-content").first
    picture = page.locator("img.vc-picture").first
    expect(picture).to_have_attribute("src", re.compile("^blob:"))
    expect(numbers).to_have_text(re.compile(r"\d"))
    numbers_before, picture_before = numbers.text_content(), picture.get_attribute("src")
    page.screenshot(path=screenshots / "study_before.png")

    handle = page.locator(".noUi-handle").first
    handle.scroll_into_view_if_needed()
    handle.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(numbers).not_to_have_text(numbers_before)
    expect(picture).not_to_have_attribute("src", picture_before)
    numbers.scroll_into_view_if_needed()
    page.screenshot(path=screenshots / "study_after.png")

    # The new picture is a drawing, not a broken image.
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 100
    assert not_harmless(complaints) == []
