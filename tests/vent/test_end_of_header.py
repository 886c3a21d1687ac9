"""End of the header: where it is."""

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.vent import end_of_header

JOBS = tables.DATA / "jobs"


def test_far_end_is_where_the_farthest_appliance_enters(swim_hall):
    assert end_of_header.far_end(swim_hall.plant) == "header 1"
    assert end_of_header.far_end(job_file.load(JOBS / "laundry.toml").plant) == "riser"
