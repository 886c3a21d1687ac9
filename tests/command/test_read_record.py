"""The record command: a blank written, a filled one judged, exit codes, and what cannot be read."""

import json

import pytest
from sample_records import GAUGE_OFF, blank_filled, csv_filled, expected, hall

from ventcalc import tables
from ventcalc.__main__ import main
from ventcalc.job import study
from ventcalc.units import Q_

JOB = str(tables.DATA / "jobs" / "swim_hall.toml")


@pytest.fixture(autouse=True)
def known(monkeypatch):
    """The study of the hall, worked out once."""
    found = hall()
    monkeypatch.setattr(study, "study", lambda job, told: found)


def written(tmp_path, text):
    path = tmp_path / "record.csv"
    path.write_text(text, encoding="utf-8", newline="")
    return str(path)


@pytest.mark.slow
@pytest.mark.parametrize("system", ["US", "SI"])
def test_blank_filled_read(system, tmp_path, capsys):
    blank = tmp_path / "blank.csv"
    assert main(["record", JOB, "--blank", str(blank), "--units", system]) == 0
    assert str(blank) in capsys.readouterr().out
    temperature = {"outdoors": Q_(40.0, "degF"), "boiler room": Q_(70.0, "degF")}
    values = {e.asked.key: e.value for e in expected()}
    units = {"pressure": "Pa", "gas temperature": "K"}

    def cell(key, old):
        if key[2] == "temperature":
            return f"{temperature[key[1]]:.9g~P}"
        return f"{values[key]:.9g} {units[key[2]]}" if key[2] in units else f"{100 * values[key]:.9g} %" if (
            key in values) else old  # fmt: skip

    filled = written(tmp_path, csv_filled(blank.read_text(encoding="utf-8"), cell))
    assert main(["record", JOB, filled, "--out", str(tmp_path / "out"), "--units", system]) == 0
    told = json.loads((tmp_path / "out" / "record.json").read_text(encoding="utf-8"))
    assert told["passed"] and told["system"] == system and (tmp_path / "out" / "record.html").is_file()
    assert "within their bands" in capsys.readouterr().out


@pytest.mark.slow
def test_a_record_with_a_reading_off_is_status_1_and_says_why(tmp_path, capsys):
    text, _ = blank_filled("US", "bare")
    high = f"{GAUGE_OFF * 10:.4g} Pa"
    wrong = ("all at their highest", "outlet of Boiler 1", "pressure")
    text = csv_filled(text, lambda key, old: high if key == wrong else old)
    assert main(["record", JOB, written(tmp_path, text), "--out", str(tmp_path / "out")]) == 1
    told = capsys.readouterr().out
    assert "not safe to run" in told and "PEOPLE" in told and "in. w.c." in told


def test_a_broken_record_is_status_2_and_writes_nothing(tmp_path, capsys):
    text, _ = blank_filled("US", "bare")
    text = csv_filled(text, lambda key, old: "0,05" if key[2] == "pressure" else old)
    assert main(["record", JOB, written(tmp_path, text), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert "line 6: " in told.err and "not a comma" in told.err and not told.out
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["none.csv", "--out", "out"], "no record is there"),
        (["--out", "out"], "give a filled RECORD"),
        (["here.csv", "--blank", "other.csv"], "give a filled RECORD"),
        (["--blank", "here.csv"], "is there already"),
        (["--blank", "nowhere/blank.csv"], "cannot be written"),
    ],
)
def test_what_makes_no_sense_is_status_2(arguments, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "here.csv").write_text("mine")
    assert main(["record", JOB, *arguments]) == 2
    assert said in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["here.csv"] and (tmp_path / "here.csv").read_text() == "mine"


def test_a_faulty_job_is_status_2(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text("[job]\n")
    assert main(["record", str(bad), "--blank", str(tmp_path / "blank.csv")]) == 2
    assert "cannot be tested" in capsys.readouterr().err and not (tmp_path / "blank.csv").exists()


def test_an_out_that_is_a_file_is_refused(tmp_path, capsys):
    text, _ = blank_filled("US", "bare")
    (tmp_path / "out").write_text("mine")
    assert main(["record", JOB, written(tmp_path, text), "--out", str(tmp_path / "out")]) == 2
    assert "choose another --out" in capsys.readouterr().err and (tmp_path / "out").read_text() == "mine"
