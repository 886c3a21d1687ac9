"""Quick checks in a browser: by the keyboard alone from the first box to the last, and a menu that converts."""

import pytest
from playwright.sync_api import expect

from .chapter_page import not_harmless, open_chapter, run_all

CARDS = 10


@pytest.mark.slow
def test_one_keyboard_path_through_all_ten(lab, page, complaints, screenshots):
    page.set_viewport_size({"width": 1440, "height": 900})
    open_chapter(page, lab, "00_quick_checks.ipynb")
    run_all(page)
    boxes = page.locator(".widget-text input")
    rise = page.get_by_label("Rise", exact=True).first
    rise.click()
    numbers = page.locator(".vc-numbers")
    as_opened = numbers.nth(1).inner_text()
    assert "theoretical draft" in as_opened
    page.keyboard.press("Control+A")
    page.keyboard.type("12 m")
    page.keyboard.press("Enter")
    expect(rise).to_have_value("12")
    expect(numbers.nth(1)).not_to_have_text(as_opened, use_inner_text=True)
    before = numbers.nth(1).inner_text()
    # The menu beside it now says m; another unit tells the same quantity.
    page.keyboard.press("Tab")
    page.wait_for_function("document.activeElement.tagName === 'SELECT'")
    page.keyboard.type("ft")
    page.keyboard.press("Enter")
    expect(rise).to_have_value("39.37")
    assert numbers.nth(1).inner_text() == before
    # What is odd is said, what cannot be is refused, each with a mark and a word.
    rise.fill("4000")
    page.keyboard.press("Enter")
    page.wait_for_selector(".vc-odd:has-text('⚠ Unusual')")
    rise.fill("-4")
    page.keyboard.press("Enter")
    page.wait_for_selector(".vc-numbers:has-text('✘ No answer')")
    rise.fill("40")
    page.keyboard.press("Enter")
    # From the first box on Tab reaches every other one, card after card, and nothing holds it.
    boxes.first.click()
    wanted, reached = boxes.count(), set()
    for _ in range(4 * wanted):
        reached.add(
            page.evaluate("""() => {
                const all = [...document.querySelectorAll('.widget-text input')];
                return all.indexOf(document.activeElement);
            }""")
        )
        if len(reached - {-1}) == wanted:
            break
        page.keyboard.press("Tab")
    assert reached >= set(range(wanted)), sorted(set(range(wanted)) - reached)
    assert page.locator(".vc-numbers").count() == CARDS
    page.screenshot(path=screenshots / "quick_checks_keyboard.png")
    assert not_harmless(complaints) == []
