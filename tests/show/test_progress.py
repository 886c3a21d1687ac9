"""Progress: a bar where someone watches, nothing where standard error goes into a file."""

import os
import pty
import subprocess
import sys
import termios

from ventcalc.show import progress

WORK = """
from ventcalc.show import progress
with progress.bar() as told:
    for k in range(5):
        told("sizing a fan", k / 4)
with progress.count(2, "job") as step:
    step("laundry"); step("lodge")
"""


def test_no_bar_where_nobody_watches():
    done = subprocess.run([sys.executable, "-c", WORK], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_a_bar_with_time_left_on_a_terminal():
    watched, terminal = pty.openpty()
    termios.tcsetwinsize(terminal, (24, 80))
    seen = b""
    with subprocess.Popen([sys.executable, "-c", WORK], stdout=subprocess.DEVNULL, stderr=terminal) as work:
        os.close(terminal)
        try:
            while more := os.read(watched, 4096):
                seen += more
        except OSError:  # the terminal is gone: the work has ended
            pass
    os.close(watched)
    assert work.returncode == 0
    assert b"sizing a fan" in seen and b"left" in seen and b"jobs" not in seen


def test_a_share_told_twice_or_backward_moves_nothing():
    with progress.bar() as told:
        for share in (0.5, 0.5, 0.2, 1.0):
            told("step", share)


def test_whoever_watches_the_first_study_is_told_of_the_compiler(tmp_path):
    """On a terminal with no machine code kept; nothing where some is, and nothing where nobody watches."""
    say = [sys.executable, "-c", "from ventcalc.show import progress; progress.first_time()"]
    empty = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}
    for kept in (False, True):
        watched, terminal = pty.openpty()
        subprocess.run(say, stderr=terminal, env=empty, check=True)
        os.write(terminal, b".")  # so that there is something to read
        os.close(terminal)
        assert (b"about a minute" in os.read(watched, 4096)) != kept
        os.close(watched)
        (folder,) = (tmp_path / "machine_code").iterdir()
        (folder / "law.nbc").write_bytes(b"")
    assert subprocess.run(say, stderr=subprocess.PIPE, env=empty, check=True).stderr == b""
