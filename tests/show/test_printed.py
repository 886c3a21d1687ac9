"""The report on paper: how many pages, page one by itself, and its words."""

import re
import shutil

import pytest
from sample_reports import drawn, kept

from ventcalc.show import page, printing

# Letter; the hall's papers are six pages of it. A report that grows beyond these is read less.
MOST_PAGES = {"swim_hall": 21, "laundry": 8}


@pytest.fixture(scope="module", params=MOST_PAGES)
def printed(request, tmp_path_factory):
    if not (shutil.which("chromium") or shutil.which("chromium-browser")):
        pytest.skip("no Chromium to print with")
    name = request.param
    target = tmp_path_factory.mktemp("printed") / "report.pdf"
    html = page.html(kept(name), drawn(name), printing.PAPER["US"])
    assert printing.print_pdf(html, target)
    return name, target.read_bytes()


@pytest.mark.slow
def test_pages(printed):
    name, data = printed
    assert 3 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", data)) <= MOST_PAGES[name]


@pytest.mark.slow
def test_what_stands_on_page_one_fits_on_it(tmp_path):
    """With nothing behind page one there is one page, for every demo job."""
    if not (shutil.which("chromium") or shutil.which("chromium-browser")):
        pytest.skip("no Chromium to print with")
    for name in ("swim_hall", "school"):
        html = page.html(kept(name), drawn(name), printing.PAPER["US"])
        end = html.index("</header>") + len("</header>")
        alone = html[:end] + "</main></body></html>"
        assert printing.print_pdf(alone, tmp_path / f"{name}.pdf")
        pages = re.findall(rb"/Type\s*/Page\b(?!s)", (tmp_path / f"{name}.pdf").read_bytes())
        assert len(pages) == 1, name
