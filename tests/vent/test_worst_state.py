"""Worst state: which of several equal ones is named."""

import numpy as np

from ventcalc.vent import worst_state


def test_which_of_equal_states_is_named_does_not_hang_on_the_last_digit():
    values = np.array([1.0, 3.0, 3.0 + 1e-12, 2.0, 3.0 - 1e-12, np.nan])
    rounded = np.random.default_rng(1).normal(0.0, 1e-13, (50, values.size))
    assert {worst_state.worst(values + noise) for noise in rounded} == {1}
    assert {worst_state.worst(values + noise, worst_state.SAME_PRESSURE) for noise in rounded} == {1}
    assert worst_state.alike(values).tolist() == [1, 2, 4] == worst_state.alike_by_share(values).tolist()
    assert worst_state.alike(np.full(3, np.nan)).size == 0
