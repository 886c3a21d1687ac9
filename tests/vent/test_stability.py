"""Stability: growth by the slope of the mismatch, and which roots of two hoods stand."""

import numpy as np
import pytest
from independent_network import Vent
from sample_hoods import at_room_pressures, in_every_season, one_hood
from sample_plants import row_plant
from scipy.optimize import fsolve

from ventcalc.vent import root_census, stability
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.network import compile_network


def test_growth_is_the_slope_of_the_mismatch_over_the_inertia_of_the_gas():
    seasons = at_room_pressures([-2.0])
    network, states = compile_network(one_hood(0), seasons), in_every_season([2], 1)
    found = root_census.census(network, states)
    inertia = sum(p.length / p.area for p in network.pipes)
    assert stability.inertance(network) == pytest.approx(inertia)
    for drawn, stable in zip(found.drawn, found.stable, strict=True):
        step = 1e-6
        ends = [
            stability.mismatch(network, Boundary(network, states), np.array([[drawn + s * step]]))[0, 0]
            for s in (1, -1)
        ]
        growth = stability.growth(network, states, np.array([[drawn]]))[0]
        assert growth == pytest.approx((ends[0] - ends[1]) / (2.0 * step) / inertia, rel=1e-3)
        assert (growth < 0.0) == stable == stability.is_stable(network, states, np.array([[drawn]]))[0]


def two_hoods():
    """Two hoods on one low stack, with the room a little below outdoors."""
    plant = row_plant(2, "draft hood", celsius=120.0, stack_height=5.0, kilowatts=60.0)
    return plant, at_room_pressures([-1.5], 18.0, 22.0)


@pytest.mark.slow
@pytest.mark.parametrize(
    "codes", [*(pytest.param(c, marks=pytest.mark.sweep) for c in ((2, 0), (2, 2))), (1, 2), (0, 0)]
)
def test_two_hoods_against_a_scan_of_the_whole_plane(codes):
    """Every cell of a grid in which both mismatches change sign is a start for a root finder on the residual."""
    plant, seasons = two_hoods()
    network, states = compile_network(plant, seasons), in_every_season(codes, 1)
    grid = np.linspace(-0.5, 0.6, 240)
    one, other = (g.ravel() for g in np.meshgrid(grid, grid, indexing="ij"))
    many = states[np.zeros(one.size, int)]
    gap = stability.mismatch(network, Boundary(network, many), np.array([one, other])).reshape(2, grid.size, grid.size)
    corners = np.stack([gap[:, :-1, :-1], gap[:, 1:, :-1], gap[:, :-1, 1:], gap[:, 1:, 1:]])
    crosses = ((corners.min(axis=0) < 0.0) & (corners.max(axis=0) > 0.0)).all(axis=0)
    state, known = Vent(plant, seasons).state(codes, 0), []
    for a, b in zip(*np.nonzero(crosses), strict=True):
        x, _, good, _ = fsolve(state.residual, [grid[a], grid[b]], full_output=True, xtol=1e-10)
        if good == 1 and not any(np.abs(x - k).max() < 2e-3 for k in known):
            known.append(x)
    drawn = np.array(known).T
    stable = stability.is_stable(network, states[np.zeros(drawn.shape[1], int)], drawn)
    assert stable.any()
    found = root_census.every_way(network, states)
    assert found.shape[1] == stable.sum(), (found, drawn[:, stable])
    for k in np.flatnonzero(stable):
        assert np.abs(found - drawn[:, [k]]).max(axis=0).min() < 3e-3
