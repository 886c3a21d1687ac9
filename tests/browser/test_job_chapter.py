"""The chapter on writing a job in a browser: a wrong value, what is said beside its field, mended, saved, checked."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import expect

from ventcalc import tables

from .chapter_page import not_harmless, open_chapter, run_all, scroll_to

CHAPTER = "28_writing_a_job.ipynb"
DRAWN = re.compile("^blob:")


def typed(page, label: str, text: str) -> None:
    """Type into the field of the open form that has a label, and leave it."""
    box = page.get_by_label(label, exact=True).first
    box.fill(text)
    box.press("Enter")


def open_form(page, title: str) -> None:
    page.locator(".jupyter-widget-Collapse-header, .widget-Collapse-header", has_text=title).first.click()


@pytest.mark.slow
def test_a_job_is_written_by_a_reader(lab, page, complaints, screenshots, tmp_path):
    open_chapter(page, lab, CHAPTER)
    run_all(page)
    scroll_to(page, ".vc-problems")
    problems = page.locator(".vc-problems").first
    wrong = page.locator(".vc-wrong:visible")
    picture = page.locator("img.vc-picture").first
    expect(problems).to_contain_text("Reads well.")
    expect(wrong).to_have_count(0)
    expect(picture).to_have_attribute("src", DRAWN)
    drawn = picture.get_attribute("src")

    open_form(page, "site")
    typed(page, "altitude", "180")
    expect(wrong).to_contain_text("the unit is missing")
    expect(problems).to_contain_text("Not yet a job that can be studied")
    expect(picture).not_to_have_attribute("src", drawn)
    page.screenshot(path=screenshots / "job_wrong.png")

    typed(page, "altitude", "950 ft")
    expect(problems).to_contain_text("Reads well.")
    expect(wrong).to_have_count(0)

    saved = tmp_path / "my_own.toml"
    typed(page, "Save as", str(saved))
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Saved:")).to_be_visible()
    page.screenshot(path=screenshots / "job_saved.png")
    differs_in_its_altitude_alone(saved)
    reads_well_from_a_terminal(saved)
    assert not_harmless(complaints) == []


def differs_in_its_altitude_alone(saved: Path) -> None:
    """Against what Python's own library reads in the demo job."""
    demo = tomllib.loads((tables.DATA / "jobs" / "laundry.toml").read_text(encoding="utf-8"))
    own = tomllib.loads(saved.read_text(encoding="utf-8"))
    assert own == demo | {"site": demo["site"] | {"altitude": "950 ft"}}


def reads_well_from_a_terminal(saved: Path) -> None:
    command = [sys.executable, "-m", "ventcalc", "check", str(saved), "--out", str(saved.with_suffix(".svg"))]
    ended = subprocess.run(command, env=os.environ, capture_output=True, text=True, timeout=60)
    assert ended.returncode == 0, ended.stderr
