"""Solution: what did not converge is marked and kept; columns are taken and put back."""

import numpy as np
import pytest
from sample_plants import (
    PLANTS,
    SEASONS,
    all_states,
)

from ventcalc.vent import common_vent, solution
from ventcalc.vent.common_vent import MAX_SWEEPS, solve
from ventcalc.vent.pressure_balance import TOLERANCE
from ventcalc.vent.solution import joined

ARRAYS = (*solution._OF_SECTIONS, *solution._OF_APPLIANCES, *solution._OF_STATES)


def test_states_that_do_not_converge_are_marked_and_kept(monkeypatch):
    plant = PLANTS["draft hood"]
    states = all_states(plant)
    whole = solve(plant, SEASONS, states)
    monkeypatch.setattr(common_vent, "MAX_SWEEPS", 7)
    short = solve(plant, SEASONS, states)
    assert MAX_SWEEPS > 7 and 0 < (~short.converged).sum() < len(states)
    assert np.array_equal(short.converged, short.residual <= TOLERANCE)
    for name in ARRAYS:
        assert np.isfinite(getattr(short, name)).all() and getattr(short, name).shape == getattr(whole, name).shape
    assert short.outlet_pressure[:, short.converged] == pytest.approx(
        whole.outlet_pressure[:, short.converged], abs=1e-3
    )


def test_columns_are_taken_and_put_back():
    plant = PLANTS["leaking"]
    whole = solve(plant, SEASONS, all_states(plant))
    few = np.array([5, 2, 40])
    some = whole.columns(few)
    np.testing.assert_array_equal(some.states.codes, whole.states.codes[:, few])
    for name in (*ARRAYS, "converged"):
        np.testing.assert_array_equal(getattr(some, name), getattr(whole, name)[..., few])
    other = whole.columns(np.array([7, 7, 7]))
    changed = whole.put(few, other)
    assert (changed.flow[:, few] == whole.flow[:, [7]]).all() and changed.converged[few].all()
    left = np.setdiff1d(np.arange(len(whole.states)), few)
    np.testing.assert_array_equal(changed.outlet_pressure[:, left], whole.outlet_pressure[:, left])
    both = joined([some, other])
    assert len(both.states) == 6 and (both.drawn == np.hstack([some.drawn, other.drawn])).all()
