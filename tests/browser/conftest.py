"""JupyterLab on a free loopback port, a working copy of the chapters, and a Chromium that looks at it."""

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from .chapter_page import PATIENCE

CHAPTERS = Path(__file__).parents[2] / "chapters"
STARTUP = 60  # s, JupyterLab from cold on two busy cores
expect.set_options(timeout=PATIENCE)

# The first runs without a user namespace (containers); the others keep the browser from calling home.
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# Settings of JupyterLab that would ask the network or put a dialogue over the page.
SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True}
}


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab."""

    address: str
    token: str
    chapters: Path  # the working copy

    def url(self, notebook: str) -> str:
        """Address at which ``notebook`` opens in a workspace of its own."""
        workspace = f"auto-{secrets.token_hex(4)}"
        return f"{self.address}/lab/workspaces/{workspace}/tree/{notebook}?token={self.token}"


@dataclass(frozen=True)
class Complaints:
    """What a page wrote to its console as an error, or raised."""

    texts: list[str] = field(default_factory=list)

    def watch(self, page: Page) -> None:
        page.on("console", lambda message: message.type == "error" and self.texts.append(message.text))
        page.on("pageerror", lambda error: self.texts.append(str(error)))


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of the Chromium to drive; without one the test is skipped, or fails where it is required."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        reason = "no Chromium on this machine (Debian: apt-get install chromium)"
        (pytest.fail if os.environ.get("VENTCALC_REQUIRE_BROWSER") else pytest.skip)(reason)
    return found


@pytest.fixture(scope="session")
def lab(chromium: str, tmp_path_factory: pytest.TempPathFactory, machine_code: Callable[[], None]) -> Iterator[Lab]:
    """JupyterLab on a working copy of chapters/, with no settings of the user's own."""
    machine_code()
    home = tmp_path_factory.mktemp("jupyter")
    shutil.copytree(CHAPTERS, home / "chapters", ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    for name, values in SETTINGS.items():
        file = home / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(values))
    environment = os.environ | {
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
        "VENTCALC_UNITS": "US",  # whatever a reader of this checkout chose
    }
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    token = secrets.token_hex(16)
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
        *("--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}", "--ServerApp.port_retries=0"),
        *(f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={home / 'chapters'}"),
        "--LabApp.extension_manager=readonly",
    ]
    with (home / "log.txt").open("w") as log:
        server = subprocess.Popen(command, env=environment, stdout=log, stderr=subprocess.STDOUT, cwd=home)
        try:
            lab = Lab(f"http://127.0.0.1:{port}", token, home / "chapters")
            wait_until_up(lab, server, home / "log.txt")
            yield lab
        finally:
            server.terminate()
            try:
                server.wait(20)
            except subprocess.TimeoutExpired:
                server.kill()


def wait_until_up(lab: Lab, server: subprocess.Popen, log: Path) -> None:
    """Return when the server answers; raise with its log when it stops or stays silent."""
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    deadline = time.monotonic() + STARTUP
    while time.monotonic() < deadline and server.poll() is None:
        try:
            direct.open(f"{lab.address}/api/status?token={lab.token}", timeout=5).close()
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    raise RuntimeError(f"JupyterLab did not start:\n{log.read_text()[-3000:]}")


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def complaints() -> Complaints:
    return Complaints()


@pytest.fixture
def page(browser: Browser, complaints: Complaints) -> Iterator[Page]:
    """A fresh page whose complaints are collected."""
    page = browser.new_page(viewport={"width": 1400, "height": 1000})
    page.set_default_timeout(PATIENCE)
    complaints.watch(page)
    yield page
    page.close()


@pytest.fixture(scope="session")
def screenshots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder for pictures of what was seen: VENTCALC_SCREENSHOTS, or a temporary one."""
    named = os.environ.get("VENTCALC_SCREENSHOTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("screenshots")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
