"""The slides of every chapter in a browser: nothing is clipped or lost, keys turn them, they print one to a page."""

import re

import pytest
from sample_chapters import CHAPTERS, texts_of

from ventcalc.handbook import lessons


@pytest.fixture
def deck(browser, complaints, tmp_path):
    """Opens the slides of a chapter at 1280 x 720; nothing may be fetched, and nothing complain."""
    page = browser.new_page(viewport={"width": 1280, "height": 720})
    complaints.watch(page)
    fetched = []
    page.on("request", lambda request: fetched.append(request.url) if request.url.startswith("http") else None)

    def show(chapter):
        page.goto(lessons.write(chapter, "US", tmp_path).as_uri())
        page.wait_for_selector("html.ready")
        return page

    yield show
    page.close()
    assert (complaints.texts, fetched) == ([], [])


# Slides whose content is higher or wider than they are, and sizes below half of what was meant.
CLIPPED = """() => [...document.querySelectorAll('.slide')].map((slide, i) => {
    slide.classList.add('now');
    const body = slide.querySelector('.body');
    const out = body.scrollHeight > body.clientHeight + 1 || body.scrollWidth > body.clientWidth + 1;
    const small = [...body.querySelectorAll('*')].some((e) => e.style.zoom && parseFloat(e.style.zoom) < 0.5);
    slide.classList.remove('now');
    return out || small ? i + 1 : 0;
}).filter(Boolean)"""


# Every fourth chapter in an ordinary run.
@pytest.mark.slow
@pytest.mark.parametrize(
    "chapter", [c if k % 4 == 0 else pytest.param(c, marks=pytest.mark.sweep) for k, c in enumerate(CHAPTERS)]
)
def test_slides_clip_nothing_and_lose_nothing(chapter, deck):
    page = deck(chapter)
    assert page.evaluate(CLIPPED) == []
    kept = "".join(page.evaluate("document.getElementById('deck').textContent").split())
    assert [t for t in texts_of(chapter, taught=True) if "".join(t.split()) not in kept] == []
    headings = page.evaluate("[...document.querySelectorAll('.slide')].map((s) => s.querySelectorAll('h1, h2').length)")
    assert set(headings) <= {0, 1}


def test_slides_are_turned_by_keys(deck):
    page = deck("14_common_vent")
    count = page.locator(".slide").count()

    def after(key):
        page.keyboard.press(key)
        return int(page.locator(".slide.now .number").text_content().split("/")[0])

    assert [after(k) for k in ("ArrowRight", " ", "PageDown", "ArrowLeft", "Shift+ ", "PageUp")] == [2, 3, 4, 3, 2, 1]
    assert [after(k) for k in ("ArrowLeft", "End", "ArrowRight", "Home")] == [1, count, count, 1]
    assert page.locator(".slide:visible").count() == 1


def test_notes_follow_the_slides_and_come_and_go_by_a_key(deck):
    page = deck("06_stack_effect")
    notes = page.locator("#notes")
    assert not notes.is_visible()
    page.keyboard.press("n")
    parts = lessons.of("06_stack_effect").parts
    told = []
    for _ in range(page.locator(".slide").count()):
        told.append(notes.text_content())
        page.keyboard.press("ArrowRight")
    begun = [next(k for k, part in enumerate(parts) if part.ask in text) for text in told]
    assert begun == sorted(begun) and set(begun) == set(range(len(parts)))
    slide, box = page.locator(".slide.now").bounding_box(), notes.bounding_box()
    assert slide["y"] + slide["height"] <= box["y"] + 1  # the notes hide nothing
    page.keyboard.press("n")
    assert not notes.is_visible()


@pytest.mark.slow
def test_slides_keep_their_shape_on_another_screen(deck):
    page = deck("14_common_vent")
    page.set_viewport_size({"width": 1024, "height": 768})
    # 96 px stay free above once it has scaled. Playwright's own wait would be evaluated in the page, whose policy
    # forbids that.
    for _ in range(50):
        if page.locator("#deck").bounding_box()["y"] > 90:
            break
        page.wait_for_timeout(100)
    box = page.locator(".slide.now").bounding_box()
    assert box["width"] == pytest.approx(1024, abs=1) and box["height"] == pytest.approx(576, abs=1)
    assert page.evaluate(CLIPPED) == []


def test_slides_print_one_to_a_page(deck, tmp_path):
    page = deck("14_common_vent")
    count = page.locator(".slide").count()
    page.pdf(path=tmp_path / "deck.pdf", prefer_css_page_size=True, print_background=True)
    pages = re.findall(rb"/Type\s*/Page\b", (tmp_path / "deck.pdf").read_bytes())
    assert len(pages) == count
    assert rb"MediaBox [0 0 960 540]" in (tmp_path / "deck.pdf").read_bytes()  # 1280 x 720 px in points
