"""The new command: a file that can be studied, its schema beside it, nothing overwritten."""

import pytest

from ventcalc.__main__ import main
from ventcalc.job import job_file, job_schema


def test_a_new_job_can_be_checked(tmp_path, capsys):
    out = tmp_path / "job.toml"
    assert main(["new", str(out), "--appliances", "4", "--kind", "draft hood", "--units", "SI"]) == 0
    assert (tmp_path / job_schema.FILE_NAME).is_file()
    assert out.read_text(encoding="utf-8").startswith(f"#:schema ./{job_schema.FILE_NAME}")
    assert len(job_file.load(out).plant.appliances) == 4
    assert main(["check", str(out)]) == 0 and "4 appliances" in capsys.readouterr().out


def test_a_file_that_is_there_stays(tmp_path, capsys):
    out = tmp_path / "job.toml"
    out.write_text("mine")
    assert main(["new", str(out)]) == 2
    assert out.read_text() == "mine" and "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "said"),
    [(["--appliances", "0"], "choose 1 to"), (["--kind", "odd"], "kind 'odd'")],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(more, said, tmp_path, capsys):
    assert main(["new", str(tmp_path / "job.toml"), *more]) == 2
    assert said in capsys.readouterr().err and not list(tmp_path.iterdir())


def test_a_folder_that_is_not_there_is_said(tmp_path, capsys):
    assert main(["new", str(tmp_path / "none" / "job.toml")]) == 2
    assert "cannot be written" in capsys.readouterr().err
