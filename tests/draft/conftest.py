"""What the tests of draft share: the swimming hall, read once."""

import pytest

from ventcalc.job import job_file


@pytest.fixture(scope="session")
def hall():
    return job_file.demonstration("swim_hall")
