"""Printing: a PDF on the paper of the unit system; none where there is no browser, or one that fails."""

import os
import re
import shutil

import pytest
from sample_studies import STUDIES

from ventcalc.show import page, pictures, printing, results
from ventcalc.units import SYSTEMS

# ISO 216: A4 is 210 mm by 297 mm; ANSI/ASME Y14.1: size A (letter) is 8.5 in. by 11 in.
PAPER = {"SI": (210 / 25.4 * 72, 297 / 25.4 * 72), "US": (8.5 * 72, 11.0 * 72)}


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_pdf_is_printed_on_the_paper_of_the_system(tmp_path, system):
    if not (shutil.which("chromium") or shutil.which("chromium-browser")):
        (pytest.fail if os.environ.get("VENTCALC_REQUIRE_BROWSER") else pytest.skip)("no Chromium on this machine")
    found = STUDIES["laundry"]
    html = page.html(results.results(found, system), pictures.figures(found, system), printing.PAPER[system])
    assert printing.print_pdf(html, tmp_path / "report.pdf")
    data = (tmp_path / "report.pdf").read_bytes()
    assert data.startswith(b"%PDF-") and b"%%EOF" in data[-32:]
    boxes = {tuple(float(v) for v in m.split()) for m in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", data)}
    assert len(boxes) == 1 and boxes.pop()[2:] == pytest.approx(PAPER[system], abs=0.5)
    assert 5 < len(re.findall(rb"/Type\s*/Page\b", data)) < 25


@pytest.mark.parametrize(
    "script", ["exit 1", "exit 0", "sleep 60"], ids=["that fails", "that prints nothing", "that hangs"]
)
def test_a_browser_that_does_not_print_leaves_no_pdf(tmp_path, monkeypatch, script):
    browser = tmp_path / "browser"
    browser.write_text(f"#!/bin/sh\n{script}\n")
    browser.chmod(0o755)
    monkeypatch.setattr(printing.shutil, "which", lambda _: str(browser))
    monkeypatch.setattr(printing, "PATIENCE", 0.5)
    assert not printing.print_pdf("<p>one</p>", tmp_path / "report.pdf")
    assert not (tmp_path / "report.pdf").exists()
