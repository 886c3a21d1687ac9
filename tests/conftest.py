"""Settings shared by all tests."""

import os

# Two workers share two cores: threads of the linear algebra would only get in each other's way.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import cantera
import matplotlib
import pytest
import sample_loops
import sample_studies
from hypothesis import HealthCheck, settings

from ventcalc import compiled

# Figures are drawn without a screen.
matplotlib.use("Agg")

# The same examples on every run, so that a failure seen once is seen again; no deadline, since the two
# workers share the machine with notebook kernels.
settings.register_profile(
    "ventcalc", deadline=None, derandomize=True, max_examples=40, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("ventcalc")


# Live controls of a chapter answer at both ends in either unit system; the second of them is a repetition.
_BOTH_ENDS = ("both_ends", "at_their_ends")

# Of what is asked of every demo job an ordinary run asks those that are studied in a few seconds.
_LONG_STUDIES = {"school", "hospital", "condensing_row"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    for item in items:
        told = getattr(item, "callspec", None)
        if item.path.suffix == ".ipynb" or (told and _LONG_STUDIES.intersection(map(str, told.params.values()))):
            item.add_marker(pytest.mark.slow)
        if any(name in item.name for name in _BOTH_ENDS) and item.name.endswith(("[SI]", "-SI]")):
            item.add_marker(pytest.mark.sweep)


@pytest.fixture(scope="session", autouse=True)
def shared_folder(tmp_path_factory):
    """Where the workers of this run leave studies for one another: the folder above their own."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "studies"
    folder.mkdir(mode=0o700, exist_ok=True)
    sample_studies.SHARED[:] = [folder]


@pytest.fixture(scope="session", autouse=True)
def machine_code(shared_folder):
    """The worker that first needs machine code compiles what nearly every test calls, where that is not kept yet.

    The others go on until they need it too; then they wait and read it. A test whose kernels need it asks by calling
    what is given here.
    """
    make = compiled._machine

    def once():
        compiled._machine = make
        if "PYTEST_XDIST_WORKER" in os.environ:
            sample_studies.once("machine code", sample_loops.all_compiled)

    def first(through):
        once()
        return make(through)

    compiled._machine = first
    return once


@pytest.fixture(scope="session")
def swim_hall():
    """The scan of the demo job with forced boilers."""
    return sample_studies.scanned("swim_hall")


@pytest.fixture(scope="session")
def gri30():
    """Cantera's gas of the elements that burn here."""
    return cantera.Solution("gri30.yaml")
