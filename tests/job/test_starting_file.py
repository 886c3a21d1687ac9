"""Starting file: for every number, kind and system a job that loads, in its units, with its vent solved."""

import pytest

from ventcalc.job import job_file, starting_file
from ventcalc.units import SYSTEMS
from ventcalc.vent import firing_states


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", starting_file.KINDS)
@pytest.mark.parametrize("count", [1, 2, 3, 7, starting_file.MOST])
def test_it_loads(count, kind, system):
    job = job_file.read(starting_file.text(count, kind, system).encode())
    assert len(job.plant.appliances) == count and job.system == system
    assert {a.kind for a in job.plant.appliances} == {kind}


@pytest.mark.parametrize("kind", starting_file.KINDS)
def test_it_can_be_solved(kind):
    job = job_file.read(starting_file.text(2, kind).encode())
    scan = firing_states.scan(job.plant, job.seasons)
    assert scan.solution.converged.all()


@pytest.mark.parametrize(
    ("given", "said"),
    [((0,), "choose 1 to"), ((61,), "choose 1 to"), ((1, "odd"), "kind 'odd'"), ((1, "forced", "cgs"), "US or SI")],
)
def test_what_it_cannot_be_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        starting_file.text(*given)
