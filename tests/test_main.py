"""The command: what it prints, what it writes, and its exit codes."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import pytest
import sample_studies

from ventcalc import __version__, tables
from ventcalc.__main__ import COMMANDS, STOPPED, main
from ventcalc.job import study
from ventcalc.show import pictures

JOBS = sorted(sample_studies.JOBS.values())
SWIM_HALL = tables.DATA / "jobs" / "swim_hall.toml"


def run(*arguments):
    return subprocess.run([sys.executable, "-m", "ventcalc", *map(str, arguments)], capture_output=True, text=True)


@pytest.mark.slow
@pytest.mark.parametrize(
    "path",
    [path if path.stem in ("laundry", "lodge") else pytest.param(path, marks=pytest.mark.sweep) for path in JOBS],
    ids=lambda p: p.stem,
)
def test_every_demo_job_gives_a_report(path, tmp_path, capsys, monkeypatch):
    if path.stem != "laundry":  # the quickest is studied by the command itself
        sample_studies.studied(path.stem)
        monkeypatch.setattr(study, "study", sample_studies.known)
    out = tmp_path / "out"
    status = main(["study", str(path), "--out", str(out)])
    told = capsys.readouterr().out
    data = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert data["verdict"]["sentence"] in told and str(out / "report.html") in told
    gravest = next(f for f in data["findings"] if f["weight"] != "note")
    assert gravest["sentence"] in told
    # 1 where something speaks against the design: the remedy offered where there is one, else the vent as drawn.
    judged = (data["offered"] or data)["verdict"]
    assert data["verdict"]["best"] or status == (0 if judged["buildable"] else 1)
    assert status == (0 if data["verdict"]["asked"] else 1)


@pytest.mark.slow
def test_study_as_a_command_in_si(tmp_path):
    done = run("study", sample_studies.JOBS["laundry"], "--out", tmp_path / "out", "--units", "SI")
    assert (done.returncode, done.stderr) == (1, "")
    assert "FAULT" in done.stdout and " Pa" in done.stdout and "w.c." not in done.stdout
    assert json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["system"] == "SI"


def test_a_design_that_nothing_speaks_against_is_status_0(tmp_path):
    """A short, wide run of a maker who allows it."""
    text = (tables.DATA / "jobs" / "laundry.toml").read_text(encoding="utf-8")
    text = text.replace('window = ["-0.03 inH2O", "0.40 inH2O"]', 'window = ["-2 inH2O", "4 inH2O"]')
    (tmp_path / "job.toml").write_text(
        text.replace('longest_run = "85 ft"', 'longest_run = "200 ft"'), encoding="utf-8"
    )
    assert main(["study", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out")]) == 0


@pytest.mark.slow
def test_a_faulty_job_names_every_problem_and_writes_nothing(tmp_path):
    text = SWIM_HALL.read_text(encoding="utf-8")
    bad = text.replace('altitude = "650 ft"', 'altitud = "650 ft"').replace('outdoor = "50 degF"', 'outdoor = "50"')
    (tmp_path / "bad.toml").write_text(bad, encoding="utf-8")
    done = run("study", tmp_path / "bad.toml", "--out", tmp_path / "out")
    assert done.returncode == 2 and done.stdout == ""
    assert "did you mean 'altitude'?" in done.stderr and "the unit is missing" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["bad.toml"]
    assert "Traceback" not in done.stderr


def test_a_missing_job_is_said_in_a_sentence(tmp_path, capsys):
    assert main(["study", str(tmp_path / "none.toml"), "--out", str(tmp_path / "out")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_an_out_that_is_a_file_is_refused(tmp_path, capsys):
    (tmp_path / "out").write_text("mine")
    assert main(["study", str(JOBS[0]), "--out", str(tmp_path / "out")]) == 2
    assert "choose another --out" in capsys.readouterr().err
    assert (tmp_path / "out").read_text() == "mine"


@pytest.mark.slow
def test_states_that_did_not_converge_are_named(tmp_path, capsys, monkeypatch):
    whole = sample_studies.studied("laundry")

    def broken(job, told, draws):
        found = sample_studies.known(job)
        solution = replace(found.scan.solution, converged=found.scan.solution.converged & False)
        return replace(found, scan=replace(found.scan, solution=solution))

    monkeypatch.setattr(study, "study", broken)
    assert main(["study", str(tables.DATA / "jobs" / "laundry.toml"), "--out", str(tmp_path / "out")]) == 1
    told = capsys.readouterr().out
    assert f"{whole.scan.possible} conditions not solved:" in told and "Boiler high; design winter" in told


@pytest.mark.parametrize(
    "arguments", [(), ("study", SWIM_HALL), ("study", SWIM_HALL, "--out", "x", "--units", "metric")]
)
def test_a_wrong_command_shows_its_usage(arguments):
    done = run(*arguments)
    assert done.returncode == 2 and done.stderr.startswith("usage: python -m ventcalc")


def test_a_stopped_command_leaves_nothing_half_written(tmp_path, monkeypatch, capsys):
    def stopped(*_, **__):
        raise KeyboardInterrupt

    sample_studies.studied("laundry")
    monkeypatch.setattr(study, "study", sample_studies.known)
    monkeypatch.setattr(pictures, "figures", stopped)
    out = tmp_path / "out"
    assert main(["study", str(tables.DATA / "jobs" / "laundry.toml"), "--out", str(out)]) == STOPPED
    assert not list(tmp_path.iterdir()) and "half-written" in capsys.readouterr().err


def test_every_command_says_what_it_is_for():
    told = run("--help").stdout
    assert all(name in told and module.HELP.split()[0] in told for name, module in COMMANDS.items())


def test_version():
    assert run("--version").stdout.strip() == f"ventcalc {__version__}"


def test_help_and_version_load_neither_job_reader_nor_pictures():
    modules = ("matplotlib", "pydantic", "jinja2")
    code = f"import sys, ventcalc.__main__; print([m for m in {modules} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "arguments",
    [("keys",), ("check", SWIM_HALL), ("--version",), ("keys", "--help")],
    ids=("keys", "check", "version", "help"),
)
def test_whoever_reads_along_and_stops_is_left_in_peace(arguments):
    """As in ``python -m ventcalc keys | head -1``: no traceback, and the code that a shell gives for a broken pipe.

    Nobody reads from the start: one who reads a line first may leave after all has been said, and that is no fault.
    """
    reading, writing = os.pipe()
    os.close(reading)
    # Unbuffered, a failed write of its help is passed over in silence by argparse itself.
    buffered = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    command = [sys.executable, "-m", "ventcalc", *map(str, arguments)]
    with os.fdopen(writing, "wb") as pipe:
        done = subprocess.run(command, stdout=pipe, stderr=subprocess.PIPE, env=buffered)
    assert (done.returncode, done.stderr) == (141, b"")
