"""False position: roots to rounding."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventcalc.vent import false_position


@settings(max_examples=60, deadline=None)
@given(
    low=st.floats(-5.0, 0.9),
    high=st.floats(1.1, 30.0),
    power=st.sampled_from([1.0, 2.0, 3.0, 5.0]),
)
def test_roots_are_found_to_rounding(low, high, power):
    found = false_position.zero_between(
        lambda x: np.sign(x) * np.abs(x) ** power - 1.0, np.array([low, high]), np.array([high, low])
    )
    assert found == pytest.approx([1.0, 1.0], abs=1e-10)
