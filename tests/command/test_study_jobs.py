"""The study command: several jobs and folders, units of the file, a count of workers that makes no sense."""

import json
import re

import pytest
import sample_studies

from ventcalc import tables
from ventcalc.__main__ import main
from ventcalc.job import job_file, study
from ventcalc.show import batch
from ventcalc.units import Q_

LAUNDRY = tables.DATA / "jobs" / "laundry.toml"


@pytest.fixture
def folder(tmp_path):
    """Two job files, one of them broken, in a folder of their own."""
    found = tmp_path / "jobs"
    found.mkdir()
    text = LAUNDRY.read_text(encoding="utf-8")
    (found / "good.toml").write_text(text, encoding="utf-8")
    (found / "broken.toml").write_text(text.replace("length", "lenght", 1), encoding="utf-8")
    return found


@pytest.mark.slow
def test_a_folder_is_studied_job_by_job(folder, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["study", str(folder), "--out", str(out), "--workers", "1"]) == batch.BROKEN
    told = capsys.readouterr().out
    assert "Laundry." in told and "lenght" in told and str(out / batch.INDEX) in told
    assert sorted(p.name for p in out.iterdir()) == ["good", batch.INDEX]


def test_a_folder_without_a_job_is_refused(tmp_path, capsys):
    assert main(["study", str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    assert "no job file is there" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize("system, inside", [("US", "in. w.c."), ("SI", " Pa")])
def test_units_are_those_of_the_file_unless_told_otherwise(system, inside, tmp_path, monkeypatch):
    """Every US length of the laundry told in meters makes it a job in SI units."""
    text = LAUNDRY.read_text(encoding="utf-8")
    if system == "SI":
        text = re_units(text)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    job = job_file.load(tmp_path / "job.toml")
    assert job.system == system
    known = sample_studies.studied("laundry")
    monkeypatch.setattr(study, "study", lambda job, told, draws: known)
    main(["study", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out")])
    found = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert found["system"] == system and inside in found["verdict"]["sentence"] + json.dumps(found["outlets"])


def re_units(text: str) -> str:
    """A file with its feet, inches, degrees Fahrenheit and so on turned into SI, number by number."""

    def turned(found):
        to = {"ft": "m", "inch": "mm", "degF": "degC", "MBH": "kW", "inH2O": "Pa", "mph": "m/s"}[found[2]]
        return f'"{float(Q_(float(found[1]), found[2]).m_as(to))!r} {to}"'

    return re.sub(r'"(-?[\d.]+) (ft|inch|degF|MBH|inH2O|mph)"', turned, text)


@pytest.mark.parametrize("count", ["0", "-2", "many"])
def test_workers_are_at_least_one(count, tmp_path, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["study", str(LAUNDRY), "--out", str(tmp_path / "out"), "--workers", count])
    assert stopped.value.code == 2 and "--workers" in capsys.readouterr().err
