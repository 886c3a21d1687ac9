"""Job files: what is read is what was written."""

from pathlib import Path

import pytest
from sample_files import DEMOS, FILES

from ventcalc.job import job_file
from ventcalc.units import Q_


def test_what_a_job_is_filed_under_is_kept_and_may_be_left_out():
    text = (FILES / "hospital.toml").read_text(encoding="utf-8")
    found = job_file.read(text.encode()).document
    assert (found.project, found.revision) == ("26-031", "A") and found.engineer and found.checker
    assert job_file.load(FILES / "laundry.toml").document == job_file.Document()
    with pytest.raises(job_file.JobError, match="revision"):
        job_file.read(text.replace('revision = "A"', f'revision = "{"x" * 61}"').encode())


def test_a_missing_file_and_a_huge_file_are_refused(tmp_path: Path):
    with pytest.raises(job_file.JobError, match="cannot be read"):
        job_file.load(tmp_path / "nothing.toml")
    with pytest.raises(job_file.JobError, match="cannot be read"):
        job_file.load(tmp_path)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * (job_file.MOST_BYTES + 1))
    with pytest.raises(job_file.JobError, match="at most"):
        job_file.load(huge)


@pytest.mark.parametrize("name", DEMOS)
def test_demo_jobs_load(name):
    loaded = job_file.load(FILES / f"{name}.toml")
    assert loaded.plant.appliances and len(loaded.digest) == 64


def test_a_demonstration_is_that_of_its_file_and_read_once():
    found = job_file.demonstration("laundry")
    assert found == job_file.load(FILES / "laundry.toml") and found is job_file.demonstration("laundry")


def test_there_are_the_demo_jobs():
    assert {"swim_hall", "school", "lodge", "laundry"} <= set(DEMOS)


def test_what_is_read_is_what_was_written():
    loaded = job_file.load(FILES / "swim_hall.toml")
    boiler = loaded.plant.appliances[0]
    assert boiler.levels[1].heat_input.to("MBH").magnitude == pytest.approx(2000)
    assert boiler.window[0].to("inH2O").magnitude == pytest.approx(-0.10)
    assert loaded.plant.section("stack").rise == Q_(38.0, "ft")
    assert loaded.seasons[0].relative_humidity == pytest.approx(0.70)


ROW = (FILES / "condensing_row.toml").read_text(encoding="utf-8")


def test_ten_boilers_are_told_once():
    plant = job_file.load(FILES / "condensing_row.toml").plant
    assert [a.name for a in plant.appliances] == [f"Boiler {k}" for k in range(1, 11)]
    assert plant.path("Boiler 3")[1].name == "header 3" and len(plant.serves("header 10")) == 10
    assert len(plant.serves("header 1")) == 1


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ('input = "199 MBH"', 'input = "199"', r'appliance\[1\] "Boiler".level\[2\] "high".input: '),
        ('fuel = "natural gas"\n', "", r'appliance\[1\] "Boiler".fuel: missing'),
        ('idle = "sealed"', "cont = 10", r"appliance\[1\] \"Boiler\".cont: unknown key; did you mean 'count'"),
        ('length = "30 inch"', 'length = "30"', r'section\[2\] "header".length: '),
        ('diameter = "10 inch"', 'diameter = "10"', r'section\[2\] "header".diameter: '),
        ("count = 10", "count = 0", 'appliance "Boiler": count = 0 must be'),
        ('"0 inH2O", "0.50 inH2O"', '"0.50 inH2O", "0 inH2O"', 'appliance "Boiler 1": .* from lower to higher'),
        ('material = "polypropylene vent"', 'material = "paper"', "section \"connector 1\": unknown material 'paper'"),
    ],
)
def test_what_is_wrong_with_all_ten_is_told_once(old, new, place):
    assert old in ROW
    with pytest.raises(job_file.JobError, match=place) as refused:
        job_file.read(ROW.replace(old, new, 1).encode())
    assert len(refused.value.problems) == 1
