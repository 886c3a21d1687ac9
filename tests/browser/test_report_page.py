"""The report in a browser: it asks the network for nothing, has no error, and fits a telephone."""

import pytest
from sample_studies import studied

from ventcalc.show import report


@pytest.mark.slow
def test_report_stands_alone_and_fits_a_narrow_page(page, complaints, screenshots, tmp_path):
    written = report.write(studied("swim_hall"), tmp_path / "out")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for width in (360, 1100):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(written.page.as_uri())
        page.screenshot(path=screenshots / f"report_{width}.png", full_page=True)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("[...document.images].every(i => i.complete && i.naturalWidth > 0)")
    assert {url.partition(":")[0] for url in asked} <= {"file", "data"}
    assert complaints.texts == []
