"""The survey command: a form and a blank written, readings explained, exit codes, and what cannot be read."""

import json

import pytest
from sample_demo_surveys import RECIPES, demo, diagnosed, path
from sample_remedies import small_job, small_study
from sample_survey_files import BROKEN

from ventcalc import tables
from ventcalc.__main__ import main
from ventcalc.job import calibrated_study, diagnosis, survey_causes
from ventcalc.job.calibrated_study import CalibratedStudy, End

JOB = str(tables.DATA / "jobs" / "school.toml")
READINGS = str(path("school_room_negative"))


@pytest.fixture
def known(monkeypatch):
    """The diagnosis of the school, worked out once."""
    found = diagnosed("school_room_negative")
    asked = []
    monkeypatch.setattr(diagnosis, "diagnose", lambda taken, study: asked.append((taken, study)) or found)
    return asked


@pytest.mark.slow
@pytest.mark.parametrize("name", RECIPES)
def test_a_demo_survey_is_status_1_and_names_the_cause(name, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(diagnosis, "diagnose", lambda taken, study: diagnosed(name))
    asked = []
    monkeypatch.setattr(calibrated_study, "calibrated_study", lambda found, told: asked.append(found))
    job = str(tables.DATA / "jobs" / f"{RECIPES[name].job}.toml")
    assert main(["survey", job, str(path(name)), "--out", str(tmp_path), "--study"]) == 1
    told = capsys.readouterr().out
    assert demo(name)[0].name in told and "%" in told and "survey.html" in told
    numbers = json.loads((tmp_path / "survey.json").read_text(encoding="utf-8"))
    assert numbers["explanations"][0]["members"][0]["code"] == RECIPES[name].cause
    assert len(asked) == 1 and numbers["as_found"] is None


@pytest.mark.slow
def test_the_vent_as_found_has_a_report_of_its_own(known, tmp_path, capsys, monkeypatch):
    """The study of the command, of a small vent in place of the school's: told, ticked alike, and its report there."""
    job = small_job()
    cause = next(c for c in survey_causes.causes(job) if c.code == "terminal_blocked")
    whole = CalibratedStudy(small_study("damper"), (), (End(cause, 0.5, False, -2.0),))
    monkeypatch.setattr(calibrated_study, "calibrated_study", lambda found, told: whole)
    assert main(["survey", JOB, READINGS, "--out", str(tmp_path), "--study"]) == 1
    numbers = json.loads((tmp_path / "survey.json").read_text(encoding="utf-8"))["as_found"]
    page = (tmp_path / "survey.html").read_text(encoding="utf-8")
    assert numbers["sentence"] in capsys.readouterr().out and numbers["sentence"] in page
    assert not numbers["cured"] and "✗ something speaks against it" in page
    results = json.loads((tmp_path / "as_found" / "results.json").read_text(encoding="utf-8"))
    assert results["job"]["name"] == job.name and (tmp_path / numbers["report"]).is_file()


@pytest.mark.slow
def test_the_file_is_read_and_study_is_asked_for(known, tmp_path):
    assert main(["survey", JOB, READINGS, "--out", str(tmp_path), "--units", "SI"]) == 1
    ((taken, study),) = known
    asked = demo("school_room_negative")[1].survey
    assert taken.survey.readings == asked.readings and taken.survey.job.digest == asked.job.digest and study is False
    assert json.loads((tmp_path / "survey.json").read_text(encoding="utf-8"))["system"] == "SI"


def test_what_is_sound_is_status_0(known, tmp_path, monkeypatch):
    monkeypatch.setattr(diagnosis.Diagnosis, "sound", property(lambda found: True))
    assert main(["survey", JOB, READINGS, "--out", str(tmp_path)]) == 0


@pytest.mark.parametrize("system", ["US", "SI"])
def test_form_and_blank_are_written(system, tmp_path, capsys):
    form, blank = str(tmp_path / "form.html"), str(tmp_path / "blank.csv")
    assert main(["survey", JOB, "--form", form, "--units", system]) == 0
    assert main(["survey", JOB, "--blank", blank, "--units", system]) == 0
    told = capsys.readouterr().out
    assert f"Form: {form}" in told and f"Blank: {blank}" in told and "59 minutes" in told
    assert (tmp_path / "form.html").is_file()
    assert ("in. w.c." in (tmp_path / "blank.csv").read_text(encoding="utf-8")) == (system == "US")


def test_what_is_not_asked_for_is_told(tmp_path, capsys):
    job = str(tables.DATA / "jobs" / "masonry_retrofit.toml")
    assert main(["survey", job, "--form", str(tmp_path / "form.html")]) == 0
    assert "not asked for, since flue gas may come into the room: Water heater alone at on" in capsys.readouterr().out


def test_broken_readings_are_status_2_and_write_nothing(tmp_path, capsys):
    text = path("school_room_negative").read_text(encoding="utf-8").replace("foot of the stack", "food of the stack", 1)
    broken = tmp_path / "readings.csv"
    broken.write_text(text, encoding="utf-8", newline="")
    assert main(["survey", JOB, str(broken), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert "line 7: no place 'food of the stack'; did you mean 'foot of the stack'?" in told.err and not told.out
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", BROKEN)
def test_every_broken_file_is_status_2_and_says_why(kind, tmp_path, capsys):
    text, said = BROKEN[kind]
    (tmp_path / "readings.csv").write_text(text, encoding="utf-8", newline="")
    job = str(tables.DATA / "jobs" / "swim_hall.toml")
    assert main(["survey", job, str(tmp_path / "readings.csv"), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert said in told.err and not told.out and not (tmp_path / "out").exists()


def test_readings_that_tell_nothing_are_status_2(tmp_path, capsys):
    lines = path("school_room_negative").read_text(encoding="utf-8").splitlines()
    first = lines[2].replace("boiler room against outdoors,,pressure", "outlet of Boiler 1,,CO").split(",")
    first[-4:] = ["20", "ppm", "", ""]
    (tmp_path / "co.csv").write_text("\n".join([lines[1], ",".join(first)]), encoding="utf-8")
    assert main(["survey", JOB, str(tmp_path / "co.csv"), "--out", str(tmp_path / "out")]) == 2
    assert "no reading is one that the vent's sums tell" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["none.csv", "--out", "out"], "none.csv: cannot be read"),
        (["--out", "out"], "give READINGS with --out FOLDER"),
        (["here.csv", "--blank", "other.csv"], "give READINGS with --out FOLDER"),
        (["--blank", "here.csv"], "is there already"),
        (["--form", "here.csv"], "is there already"),
        (["--form", "nowhere/form.html"], "cannot be written"),
    ],
)
def test_what_makes_no_sense_is_status_2(arguments, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "here.csv").write_text("mine")
    assert main(["survey", JOB, *arguments]) == 2
    assert said in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["here.csv"] and (tmp_path / "here.csv").read_text() == "mine"


def test_a_faulty_job_is_status_2(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text("[job]\n")
    assert main(["survey", str(bad), "--form", str(tmp_path / "form.html")]) == 2
    assert "cannot be surveyed" in capsys.readouterr().err and not (tmp_path / "form.html").exists()


def test_an_out_that_is_a_file_is_refused(known, tmp_path, capsys):
    (tmp_path / "out").write_text("mine")
    assert main(["survey", JOB, READINGS, "--out", str(tmp_path / "out")]) == 2
    assert "choose another --out" in capsys.readouterr().err and (tmp_path / "out").read_text() == "mine"
