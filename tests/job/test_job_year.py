"""Job year: what a file tells of its year, and what is taken where it does not."""

from pathlib import Path

import pytest
from sample_commissioning import HALL, LODGE, SCHOOL
from sample_studies import ALL_JOBS

from ventcalc.job import job_file, plant_load, staging

TEXT = Path(ALL_JOBS["swim_hall"]).read_text()


def told(lines: str) -> job_file.Job:
    return job_file.read((TEXT + "\n[year]\n" + lines).encode())


def test_without_a_table_all_is_usual_and_no_default_is_told():
    assert HALL.year.load == plant_load.usual(HALL.plant.appliances, HALL.seasons)
    assert HALL.year.staging == staging.usual(HALL.plant.appliances)
    assert not [line for line in HALL.defaults if line.startswith("year")]
    # The hall's coldest season is -20 degC, the school's -12 degC, the lodge stands above 1500 m.
    assert [j.year.climate for j in (HALL, SCHOOL, LODGE)] == ["cold", "temperate", "high"]


def test_a_table_is_taken_key_by_key():
    found = told(
        'climate = "hot"\nterrain = "suburb"\ndesign_load = "3000 MBH"\ndesign_outdoor = "0 degF"\n'
        'base_load = "200 MBH"\n'
        'heating_limit = "60 degF"\nheated_from = "6 hour"\nheated_to = "22 hour"\nsetback = "40 %"\n'
        'workdays_only = true\nfiring_order = "parallel"\nmodulating = false\nrotation = "168 hour"\n'
        'most_starts = "3 1/hour"\n'
    )
    year = found.year
    assert (year.climate, year.terrain) == ("hot", "suburb")
    assert year.load.design == pytest.approx(3000 * 293.0711, rel=1e-6)
    assert year.load.base == pytest.approx(200 * 293.0711, rel=1e-6)
    assert year.load.design_outdoor == pytest.approx(255.372, abs=0.01)
    assert year.load.limit == pytest.approx(288.706, abs=0.01)
    assert (year.load.start, year.load.stop, year.load.setback, year.load.workdays) == (6.0, 22.0, 0.4, True)
    assert (year.staging.order, year.staging.modulates, year.staging.rotation) == ("parallel", (False,) * 3, 168.0)
    assert year.staging.most_starts == pytest.approx(3.0)


def test_what_a_table_leaves_out_is_told():
    lines = told('climate = "cold"').defaults
    assert any("most_starts" in line for line in lines) and any("terrain = open" in line for line in lines)


def test_a_load_told_alone_bounds_the_other():
    assert told('base_load = "4500 MBH"').year.load.design == pytest.approx(4500 * 293.0711, rel=1e-6)
    assert told('design_load = "300 MBH"').year.load.base == pytest.approx(300 * 293.0711, rel=1e-6)


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ('climate = "lunar"', "climate 'lunar'; choose cold, temperate, hot, high"),
        ('terrain = "moor"', "terrain 'moor'; choose city, suburb, open, water"),
        ('firing_order = "random"', "choose lead-lag, parallel, equal"),
        ('design_outdoor = "80 degF"', "must be below that from which no heat is asked for"),
        ('heated_from = "23 hour"\nheated_to = "5 hour"', "need 0 <= from < to <= 24"),
        ('base_load = "900 MBH"\ndesign_load = "800 MBH"', "must be 0 to the design load"),
        ('start = "6 hour"', "start"),
    ],
)
def test_faults_name_the_table(lines, why):
    with pytest.raises(job_file.JobError, match="year") as caught:
        told(lines)
    assert why in str(caught.value)
