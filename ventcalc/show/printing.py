"""Printing: an HTML page as a PDF, by a Chromium where there is one."""

import os
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

PATIENCE = 60.0  # s
PAPER = {"US": "letter", "SI": "A4"}


def print_pdf(html: str, target: Path) -> bool:
    """Print a page to a PDF file with a Chromium; False where there is none or it fails."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return False
    with tempfile.TemporaryDirectory(prefix="ventcalc-") as folder:
        source, printed = Path(folder) / "report.html", Path(folder) / "report.pdf"
        source.write_text(html, encoding="utf-8")
        if not _run(_command(browser, source, printed)) or not printed.is_file():
            return False
        shutil.copyfile(printed, target)
        return True


def _command(browser: str, source: Path, printed: Path) -> list[str]:
    return [
        browser,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        f"--user-data-dir={source.parent}/profile",
        "--no-pdf-header-footer",
        f"--print-to-pdf={printed}",
        source.as_uri(),
    ]


def _run(command: list[str]) -> bool:
    """Whether a command ends well in time."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    try:
        return process.wait(PATIENCE) == 0
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)  # with all that it started
        process.wait()
        return False
