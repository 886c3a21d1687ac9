"""The benchmarks still run, on tiny sizes; their answers are compared there, their times are not judged."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.sweep

BENCHMARKS = Path(__file__).parent / "benchmarks"


def quick(name: str) -> str:
    """What a benchmark prints on tiny sizes."""
    command = [sys.executable, str(BENCHMARKS / name), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    return run.stdout


def test_the_common_vents_benchmark_runs():
    # It asserts by itself that states solved at once and one by one agree to 0.01 Pa.
    said = quick("bench_common_vent.py")
    assert "(b2) draft hood" in said and said.count(" Pa, 100 %") == 3


def test_the_draft_controls_benchmark_runs():
    # It compares the interpolated vent with every step solved one by one.
    said = quick("bench_draft_control.py")
    assert "one by one" in said


def test_the_transients_benchmark_runs():
    # It asserts by itself that runs side by side and one by one agree.
    said = quick("bench_transient.py")
    assert "side by side" in said and said.count("times real time") == 6


def test_the_chances_benchmark_runs():
    said = quick("bench_chance.py")
    assert "conditions decide" in said and said.count("covered") == 2


def test_the_years_benchmark_runs():
    # It asserts by itself that the parts of the hours sum up, and that hours solved alone come out the same.
    said = quick("bench_year.py")
    assert said.count("72 hours as") == 3


def test_the_surveys_benchmark_runs():
    # Two invented surveys; what share is right is told by the whole of it.
    said = quick("bench_survey.py")
    assert "true cause in the first group" in said and "held-out reading foretold" in said
