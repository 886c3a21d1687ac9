"""States: what fits a plant and what does not."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import (
    PLANTS,
    SEASONS,
    all_states,
)

from ventcalc.vent.common_vent import solve


def test_wrong_states_are_refused():
    plant, states = PLANTS["sealed"], all_states(PLANTS["sealed"])
    with pytest.raises(ValueError, match=r"codes have shape \(2, 81\), need \(3, 81\)"):
        solve(plant, SEASONS, replace(states, codes=states.codes[:2]))
    with pytest.raises(ValueError, match="codes of B1 must be 0 to 2: off, low, high"):
        solve(plant, SEASONS, replace(states, codes=states.codes + 1))
    with pytest.raises(ValueError, match="season indices must be 0 to 1"):
        solve(plant, SEASONS[:2], states)


def test_no_states_at_all():
    none = all_states(PLANTS["sealed"])[np.array([], int)]
    found = solve(PLANTS["sealed"], SEASONS, none)
    assert len(found.states) == 0 and found.flow.shape == (7, 0)
