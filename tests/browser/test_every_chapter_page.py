"""Every chapter in a browser: it opens and runs without a complaint; a turned one keeps to its order on the screen."""

import pytest

from .chapter_page import not_harmless, open_chapter, run_all
from .conftest import CHAPTERS

SCREENS = 12  # at 1440 x 900, what a learner should scroll at most
ORDINARY = {"02_combustion", "16_fans"}  # that an ordinary run opens; the others are sweeps

CONTROLS = ".widget-hslider, .widget-dropdown, .widget-toggle-buttons, .widget-text"
PICTURES = ".jp-OutputArea-output img, .vc-drawing svg, .vc-picture"


def turned(name: str) -> bool:
    """Whether a chapter asks for a prediction: then it has been turned round."""
    return "Guess(chapter.prediction" in (CHAPTERS / f"{name}.ipynb").read_text(encoding="utf-8")


def first_of(page, selector: str) -> float:
    """How far below the top of the notebook the first one of something stands [px]; 1e9 where none is drawn."""
    return page.evaluate(
        """selector => {
            const outer = document.querySelector('.jp-WindowedPanel-outer').getBoundingClientRect();
            const seen = [...document.querySelectorAll(selector)].map(e => e.getBoundingClientRect());
            return Math.min(1e9, ...seen.filter(r => r.width > 40).map(r => r.top - outer.top));
        }""",
        selector,
    )


def every() -> list:
    names = sorted(p.stem for p in CHAPTERS.glob("*.ipynb"))
    return [n if n in ORDINARY else pytest.param(n, marks=pytest.mark.sweep) for n in names]


@pytest.mark.slow
@pytest.mark.parametrize("name", every())
def test_a_chapter_opens_and_runs(name, lab, page, complaints, screenshots):
    page.set_viewport_size({"width": 1440, "height": 900})
    open_chapter(page, lab, f"{name}.ipynb")
    run_all(page)
    outer = "document.querySelector('.jp-WindowedPanel-outer')"
    for place in range(0, 16_000, 600):  # cells that were never in sight are only guessed at in the height of the page
        page.evaluate(f"{outer}.scrollTo(0, {place})")
        page.wait_for_timeout(50)
    end = page.evaluate(
        f"""() => {{
            const outer = {outer}, last = [...outer.querySelectorAll('.jp-Cell')].at(-1);
            return last.getBoundingClientRect().bottom - outer.getBoundingClientRect().top + outer.scrollTop;
        }}"""
    )
    page.evaluate(f"{outer}.scrollTo(0, 0)")
    page.wait_for_timeout(500)
    page.screenshot(path=screenshots / f"{name}.png")
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert not_harmless(complaints) == []
    if turned(name):
        screen = page.evaluate(f"{outer}.clientHeight")
        told = {
            "screens": end / screen,
            "picture": first_of(page, PICTURES) / screen,
            "controls": first_of(page, CONTROLS) / screen,
        }
        assert told["screens"] <= SCREENS and told["picture"] < 1.0 and told["controls"] < 2.0, told
