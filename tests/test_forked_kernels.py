"""Forked kernels: each begins anew in its folder, knows no module of a chapter, draws as ipykernel does, and ends."""

import sys
import time

import forked_kernels
import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux", reason="elsewhere nbval starts kernels of its own"),
]


@pytest.fixture
def started(tmp_path):
    """Starts kernels in a folder; they are ended behind the test."""
    found = []

    def start():
        found.append(forked_kernels.start(cwd=str(tmp_path)))
        return found[-1]

    yield start
    for kernel, client in found:
        client.stop_channels()
        kernel.shutdown_kernel()


def printed(client, code):
    told = []
    client.execute_interactive(code, timeout=30, output_hook=told.append)
    return "".join(m["content"].get("text", m["content"].get("evalue", "")) for m in told)


def test_a_kernel_begins_anew(started, tmp_path):
    (_, one), (_, other) = started(), started()
    printed(one, "x = 1; from ventcalc.flow import stack_effect")
    assert "name 'x' is not defined" in printed(other, "x")
    loaded = printed(other, "import sys; print(*sorted(m for m in sys.modules if m.startswith('ventcalc')))").split()
    assert "ventcalc.units" in loaded and not [m for m in loaded if m.count(".") > 1]
    assert printed(other, "import os; print(os.getcwd())").strip() == str(tmp_path)
    assert "forked_kernels" in printed(other, "import forked_kernels")  # no chapter finds a module of the tests


def test_it_draws_as_ipykernel_does(started):
    _, client = started()
    assert "inline" in printed(client, "import matplotlib; print(matplotlib.get_backend())")


def test_it_ends_when_told_and_an_end_is_seen(started):
    kernel, _ = started()
    assert kernel.is_alive()
    kernel.shutdown_kernel(now=True)
    for _ in range(50):
        if not kernel.is_alive():
            break
        time.sleep(0.1)
    assert not kernel.is_alive()
    kernel.shutdown_kernel(now=True)  # once more harms nothing
