"""The benchmarks still run, on tiny sizes; their answers are compared there, their times are not judged."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.sweep

BENCHMARKS = Path(__file__).parent / "benchmarks"


def test_the_common_vents_benchmark_runs():
    # It asserts by itself that states solved at once and one by one agree to 0.01 Pa.
    command = [sys.executable, str(BENCHMARKS / "bench_common_vent.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert "(b2) draft hood" in run.stdout and run.stdout.count(" Pa, 100 %") == 3


def test_the_draft_controls_benchmark_runs():
    # It compares the interpolated vent with every step solved one by one.
    command = [sys.executable, str(BENCHMARKS / "bench_draft_control.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert "one by one" in run.stdout


def test_the_transients_benchmark_runs():
    # It asserts by itself that runs side by side and one by one agree.
    command = [sys.executable, str(BENCHMARKS / "bench_transient.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert "side by side" in run.stdout and run.stdout.count("times real time") == 6


def test_the_chances_benchmark_runs():
    command = [sys.executable, str(BENCHMARKS / "bench_chance.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert "conditions decide" in run.stdout and run.stdout.count("covered") == 2


def test_the_years_benchmark_runs():
    # It asserts by itself that the parts of the hours sum up, and that hours solved alone come out the same.
    command = [sys.executable, str(BENCHMARKS / "bench_year.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert run.stdout.count("72 hours as") == 3


def test_the_surveys_benchmark_runs():
    # Two invented surveys; what share is right is told by the whole of it.
    command = [sys.executable, str(BENCHMARKS / "bench_survey.py"), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert "true cause in the first group" in run.stdout and "held-out reading foretold" in run.stdout
