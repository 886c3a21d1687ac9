"""Chapter page: a chapter in JupyterLab is opened, run and scrolled through, as a reader does it."""

import re
from contextlib import suppress

from playwright.sync_api import Error, expect

PATIENCE = 90_000  # ms, a kernel from cold and a whole chapter on two busy cores

_TRIES = 20

# Console errors that are no fault of a chapter; each with its reason. Anything else fails the test.
HARMLESS: dict[str, str] = {}


def not_harmless(complaints) -> list[str]:
    return [text for text in complaints.texts if not any(re.search(pattern, text) for pattern in HARMLESS)]


def kernel(page, status: str) -> None:
    """Wait for the kernel to be "idle" or "busy"."""
    indicator = page.locator(f'.jp-Notebook-ExecutionIndicator[data-status="{status}"]').first
    expect(indicator).to_be_visible()


def open_chapter(page, lab, chapter: str) -> None:
    """Open a chapter and wait for its kernel; before that the Run menu would ask which kernel to use."""
    page.goto(lab.url(chapter))
    # The indicator is called idle before there is a kernel at all; the status bar is not.
    expect(page.get_by_text("Python 3 (ipykernel) | Idle")).to_be_visible()


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
    bring_into_view(page, selector)


def bring_into_view(page, selector: str) -> None:
    """Scroll the first element of a kind into view, whichever it is: a new answer replaces the old at any moment."""
    for _ in range(_TRIES):
        with suppress(Error):
            page.locator(selector).first.scroll_into_view_if_needed(timeout=PATIENCE / _TRIES)
            return
        page.wait_for_timeout(100)
    page.locator(selector).first.scroll_into_view_if_needed()


def shows_a_drawing(page, selector: str) -> None:
    """Wait until the first picture of a kind is decoded: a drawing, not a broken image."""
    page.wait_for_function(
        "selector => { const i = document.querySelector(selector); return i && i.complete && i.naturalWidth > 100; }",
        arg=selector,
    )
