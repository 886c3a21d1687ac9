"""What several of these tests ask for, worked out once: comparisons of three demo jobs, two jobs commissioned."""

import pytest
from sample_commissioning import HALL, LODGE, SCHOOL
from sample_plants import row_plant
from sample_remedies import JOBS, job_of
from sample_studies import STUDIES, once

from ventcalc.job import commissioning, device_remedies, remedies, remedy_outcome, trial_run
from ventcalc.units import Q_
from ventcalc.vent import firing_states


def _compared(name):
    def work():
        one = JOBS[name]
        scan = firing_states.scan(one.plant, one.seasons)
        return scan, remedies.compare(one, scan, every=True)

    return once(f"remedies of {name}", work)


@pytest.fixture(scope="session")
def compared():
    """Scan and outcomes of three jobs."""
    return {name: _compared(name) for name in JOBS}


@pytest.fixture(scope="session")
def sealed():
    """Two sealed forced boilers on one stack: what each device must do can be worked by hand."""
    one = job_of(row_plant(2, stack_height=6.0, header_mm=280))
    return one, firing_states.scan(one.plant, one.seasons)


@pytest.fixture(scope="session")
def school():
    """The school as drawn."""
    return STUDIES["school"]


@pytest.fixture(scope="session")
def hall():
    """The swimming hall as drawn, with the remedy that its file names."""
    return STUDIES["swim_hall"]


@pytest.fixture(scope="session")
def offered():
    return remedies.offered(HALL)


@pytest.fixture(scope="session")
def runs(offered):
    return trial_run.trial_runs(HALL, offered.remedy)


@pytest.fixture(scope="session")
def run(runs):
    return max(runs, key=lambda r: r.gravity)


@pytest.fixture(scope="session")
def held_lodge():
    return remedies.offered(LODGE)


@pytest.fixture(scope="session")
def tried_lodge(held_lodge):
    return commissioning.tried(LODGE, held_lodge)


@pytest.fixture(scope="session")
def held_school():
    """The school's boilers and its water heater with a draft hood, on a header held by a fan and a damper."""
    scan = firing_states.scan(SCHOOL.plant, SCHOOL.seasons)
    remedy = device_remedies.fan_and_damper(SCHOOL, SCHOOL.plant, Q_(-0.02, "inH2O"), scan.conditions)
    return remedy_outcome.outcome(SCHOOL, remedy, scan)


@pytest.fixture(scope="session")
def tried_school(held_school):
    return commissioning.tried(SCHOOL, held_school)
