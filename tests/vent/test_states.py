"""States: what fits a plant and what does not."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import (
    PLANTS,
    SEASONS,
    all_states,
)

from ventcalc.flow.wind import Exposure
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import compile_network


def test_wrong_states_are_refused():
    plant, states = PLANTS["sealed"], all_states(PLANTS["sealed"])
    with pytest.raises(ValueError, match=r"codes have shape \(2, 81\), need \(3, 81\)"):
        solve(plant, SEASONS, replace(states, codes=states.codes[:2]))
    with pytest.raises(ValueError, match="codes of B1 must be 0 to 2: off, low, high"):
        solve(plant, SEASONS, replace(states, codes=states.codes + 1))
    with pytest.raises(ValueError, match="season indices must be 0 to 1"):
        solve(plant, SEASONS[:2], states)
    exposed = replace(plant, exposure=Exposure("sheltered", "above 30"))
    last = len(compile_network(exposed, SEASONS).room_wind) - 1
    for case in (-1, last + 1):
        with pytest.raises(ValueError, match=f"wind cases must be 0 to {last}"):
            solve(exposed, SEASONS, replace(states, wind_case=np.full(len(states), case)))
    for case in (0, last):
        assert solve(exposed, SEASONS, replace(states, wind_case=np.full(len(states), case))).converged.all()


def test_no_states_at_all():
    none = all_states(PLANTS["sealed"])[np.array([], int)]
    found = solve(PLANTS["sealed"], SEASONS, none)
    assert len(found.states) == 0 and found.flow.shape == (7, 0)


def test_walls_may_have_a_past_of_their_own():
    plant, states = PLANTS["sealed"], all_states(PLANTS["sealed"])
    whole = solve(plant, SEASONS, states)
    each = replace(states, cold=np.tile(states.cold, (len(plant.order), 1)))
    found = solve(plant, SEASONS, each)
    assert np.allclose(found.outlet_pressure, whole.outlet_pressure, rtol=0.0, atol=1e-9)
    # A cold wall of one section alone cools the gas there, and leaves what is upstream as it is.
    hot = replace(states, cold=np.zeros(len(states)))
    walls = np.zeros((len(plant.order), len(states)))
    walls[-1] = 1.0
    one, base = solve(plant, SEASONS, replace(hot, cold=walls)), solve(plant, SEASONS, hot)
    assert np.array_equal(one.downstream[:-1], base.downstream[:-1])
    flowing = np.abs(base.flow[-1]) > 1e-6
    assert (one.downstream[-1, flowing] <= base.downstream[-1, flowing]).all()
    with pytest.raises(ValueError, match=r"cold has shape \(2, 81\), need \(81,\) or \(7, 81\)"):
        solve(plant, SEASONS, replace(states, cold=walls[:2]))
