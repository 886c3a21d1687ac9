"""Problems told by a command: every one, on standard error, with the exit code of a refusal."""

from ventcalc.command import job_problems
from ventcalc.job.job_faults import JobError


def test_every_problem_is_told_on_standard_error(capsys):
    assert job_problems.tell("a.toml", JobError(["first", "second"]), "studied") == 2
    told = capsys.readouterr()
    assert told.out == "" and told.err.splitlines() == ["a.toml: this job cannot be studied:", "  first", "  second"]


def test_a_folder_that_cannot_be_written_says_what_to_do(capsys):
    assert job_problems.unwritable("out", PermissionError(13, "Permission denied")) == 2
    assert "out: cannot be written (Permission denied); choose another --out" in capsys.readouterr().err
