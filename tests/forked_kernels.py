"""Forked kernels: nbval's kernels, each a copy of one process that has imported what every chapter waits for.

Only what others wrote and the register of units is imported beforehand: a chapter's own modules are imported in it, as
by a reader. Run as a program this is that process; it takes a line for each kernel: connection file and folder.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from functools import cache
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

from jupyter_client import BlockingKernelClient
from jupyter_client.connect import write_connection_file

BEFOREHAND = """
ipykernel.kernelapp ipykernel.ipkernel ipywidgets IPython.core.completer debugpy matplotlib.figure
matplotlib.backends.backend_agg scipy.optimize scipy.stats pydantic jinja2 ventcalc.units
"""


class Forked:
    """The kernel of a process id and of a connection file: what nbval asks of a kernel's manager."""

    kernel_spec = SimpleNamespace(language="python")

    def __init__(self, process: int, file: Path):
        self.process, self.file = process, file

    def is_alive(self) -> bool:
        return Path(f"/proc/{self.process}").exists()

    def interrupt_kernel(self) -> None:
        os.kill(self.process, signal.SIGINT)

    def shutdown_kernel(self, now: bool = False) -> None:
        if self.is_alive():
            os.kill(self.process, signal.SIGKILL)
        shutil.rmtree(self.file.parent, ignore_errors=True)


@cache
def _origin() -> subprocess.Popen:
    """The process that kernels are copies of; it ends with this one."""
    return subprocess.Popen([sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def start(startup_timeout: float = 60, kernel_name: str = "python", cwd: str | None = None, **_):
    """A kernel in a folder and its client, as `nbval.kernel.start_new_kernel` gives them."""
    file, _ = write_connection_file(str(Path(tempfile.mkdtemp()) / "kernel.json"))
    origin = _origin()
    origin.stdin.write(json.dumps([file, cwd or os.getcwd()]) + "\n")
    origin.stdin.flush()
    kernel = Forked(int(origin.stdout.readline()), Path(file))
    client = BlockingKernelClient(connection_file=file)
    client.load_connection_file()
    client.start_channels()
    client.wait_for_ready(timeout=startup_timeout)
    return kernel, client


def _serve() -> None:
    del sys.path[0]  # no chapter finds a module of the tests
    # As ipykernel would have it, had it been there before matplotlib.
    os.environ.setdefault("MPLBACKEND", "module://matplotlib_inline.backend_inline")
    for name in BEFOREHAND.split():
        import_module(name)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # an ended kernel leaves nothing
    for line in sys.stdin:
        file, folder = json.loads(line)
        child = os.fork()
        if not child:
            return _become(file, folder)
        print(child, flush=True)
    return None


def _become(file: str, folder: str) -> None:
    """Be the kernel of a connection file."""
    from ipykernel.kernelapp import IPKernelApp

    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    os.setsid()
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in range(3):
        os.dup2(nothing, stream)
    os.chdir(folder)
    IPKernelApp.launch_instance(argv=["-f", file])


if __name__ == "__main__":
    _serve()
