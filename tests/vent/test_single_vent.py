"""Single vent: one appliance, a rise, a run."""

from dataclasses import replace

import pytest
from sample_single_vents import HOOD, SPRING

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.vent import vent_sizing


def test_one_appliance_only():
    school = job_file.load(tables.DATA / "jobs" / "school.toml")
    with pytest.raises(ValueError, match="for one on its own vent"):
        vent_sizing.capacity(school.plant, school.seasons[0])


def test_a_vent_must_have_what_is_asked_for():
    flat = replace(HOOD, sections=(replace(HOOD.sections[0], into="top"),))
    with pytest.raises(ValueError, match="no section of the vent is upright"):
        vent_sizing.least_height(flat, SPRING)
    upright = replace(HOOD, sections=(HOOD.sections[1],), feeds=("rise",))
    with pytest.raises(ValueError, match="every section of the vent is upright"):
        vent_sizing.longest_run(upright, SPRING)
