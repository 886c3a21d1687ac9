"""What several tests of the gas read."""

import cantera
import pytest


@pytest.fixture(scope="module")
def gri30():
    return cantera.Solution("gri30.yaml")
