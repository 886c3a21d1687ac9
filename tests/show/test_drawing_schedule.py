"""Drawing schedule: every section, appliance and fitting."""

import pytest
from sample_figures import extents

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import drawing

DEMO = {p.stem: job_file.demonstration(p.stem).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.fixture(params=DEMO, ids=str)
def plant(request):
    return DEMO[request.param]


def test_schedule_names_every_section_appliance_and_fitting(plant):
    words = " ".join(text for text, _ in extents(drawing.layout_drawing(plant)))
    for name in [s.name for s in plant.sections] + [a.name for a in plant.appliances]:
        assert name in words
    few = len(plant.sections) + len(plant.appliances) < 24  # of more the schedule leaves out the fittings
    for fitting in {f for s in plant.sections for f in s.fittings}:
        assert (fitting in words) == few
