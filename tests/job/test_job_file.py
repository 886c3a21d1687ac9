"""Job files: what is read is what was written."""

from pathlib import Path

import pytest
from sample_files import DEMOS, FILES

from ventcalc.job import job_file
from ventcalc.units import Q_


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


def test_there_are_the_demo_jobs():
    assert {"swim_hall", "school", "lodge", "laundry"} <= set(DEMOS)


def test_what_is_read_is_what_was_written():
    loaded = job_file.load(FILES / "swim_hall.toml")
    boiler = loaded.plant.appliances[0]
    assert boiler.levels[1].heat_input.to("MBH").magnitude == pytest.approx(2000)
    assert boiler.window[0].to("inH2O").magnitude == pytest.approx(-0.10)
    assert loaded.plant.section("stack").rise == Q_(38.0, "ft")
    assert loaded.seasons[0].relative_humidity == pytest.approx(0.70)
