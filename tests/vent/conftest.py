"""What several tests of the vent read."""

import pytest

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.vent import firing_states


@pytest.fixture(scope="session")
def swim_hall():
    """The scan of the demo job with forced boilers."""
    loaded = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
    return firing_states.scan(loaded.plant, loaded.seasons)
