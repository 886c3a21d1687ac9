"""The chapter on a survey in a browser: a hidden plant is read, its causes are weighed, and the one named is marked."""

import pytest
from playwright.sync_api import expect

from .chapter_page import not_harmless, open_chapter, run_all, scroll_to

CHAPTER = "31_survey.ipynb"


def press(page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


@pytest.mark.slow
def test_a_hidden_plant_is_read_and_named(lab, page, complaints, screenshots):
    open_chapter(page, lab, CHAPTER)
    run_all(page)
    scroll_to(page, ".vc-taken")
    taken, chances, verdict = (page.locator(f".vc-{name}").first for name in ("taken", "chances", "named"))
    expect(taken).to_contain_text("Nothing was read yet.")

    press(page, "Name it")
    expect(verdict).to_contain_text("Not yet.")
    page.get_by_label("Read", exact=True).select_option("header by a gauge, pressure")
    press(page, "Take the reading")
    expect(taken).to_contain_text("header by a gauge")
    press(page, "Weigh the causes")
    expect(chances).to_contain_text("%")

    # Plant no. 11, as the chapter begins: its long run is blocked.
    page.get_by_label("It is", exact=True).select_option("the boiler room under negative pressure")
    press(page, "Name it")
    expect(verdict).to_contain_text("No.")
    page.get_by_label("It is", exact=True).select_option("section long run partly blocked")
    press(page, "Name it")
    expect(verdict).to_contain_text("Right, by 1 reading")
    page.screenshot(path=screenshots / "plant_named.png")
    assert not_harmless(complaints) == []
