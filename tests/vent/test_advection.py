"""Advection: what moves is kept, fronts stay sharp."""

import numpy as np
import pytest
from sample_columns import GRID, ROOM, held, moved, still

from ventcalc.vent import advection
from ventcalc.vent.gas_content import CONTENTS, HEAT, MASS


@pytest.mark.slow
def test_streams_that_meet_keep_mass_and_heat():
    column = still()
    warm, cool = held(400.0), held(300.0)
    own = np.array([[0.1], [0.2]])
    inlet = np.stack([warm, cool], axis=1)
    before = column.held
    moved(column, own, inlet, 60.0)
    gap = column.now.entered.sum(axis=1) - column.now.left.sum(axis=1) - column.held + before
    assert np.abs(gap[MASS]).max() < 1e-10 and np.abs(gap[HEAT]).max() < 1e-5
    # Mixed by hand: volumes at one pressure, air of all but constant specific heat.
    mixed = 0.3 / (0.1 / 400.0 + 0.2 / 300.0)
    assert column.temperature[GRID.last[-1], 0] == pytest.approx(mixed, rel=2e-3)
    assert np.abs(column.excess[GRID.real]).max() < 0.01


def test_backward_flow_takes_in_outdoor_air_and_ends_at_the_appliances():
    column = still(350.0)
    column.outdoor = held(280.0)
    moved(column, np.array([[-0.1], [-0.05]]), np.zeros((CONTENTS, 2, 1)), 60.0)
    assert column.temperature[GRID.real, 0] == pytest.approx(280.0, abs=0.1)
    assert (column.now.entered[MASS] < 0.0).all() and (column.now.left[MASS] < 0.0).all()


def test_a_front_stays_within_its_bounds_and_four_cells():
    column = still()
    moved(column, np.array([[0.0], [0.3]]), np.stack([held(400.0)] * 2, axis=1), 6.0)
    assert column.temperature[GRID.real].max() < 400.5 and column.temperature[GRID.real].min() > ROOM - 0.5
    stack = slice(GRID.first[-1], GRID.last[-1] + 1)
    density = column.density[stack, 0]
    share = (density - held(400.0)[MASS]) / (held(ROOM)[MASS] - held(400.0)[MASS])
    assert ((share > 0.1) & (share < 0.9)).sum() <= 4


def test_what_rises_in_a_straight_line_is_carried_along_as_a_line_from_the_first_cell_on():
    """By hand, c the share of a cell that passes: q' = q - c (q + (1 - c)/2 s - q_before), s the slope, from cell 1 on.

    Of van Leer's limited slopes that of a line is its own, in the first cell too.
    """
    column, own, step = still(), np.array([[0.0], [0.05]]), 0.1
    flow = column.flows(own, step)
    row = GRID.section[GRID.first[GRID.fed[1]]]
    first, last = GRID.first[row], GRID.last[row]
    content = np.zeros((1, GRID.real.size, 1))
    content[0, first - 1 : last + 1, 0] = 10.0 + np.arange(last + 2 - first)
    before, passed = content.copy(), step * GRID.per_volume[:, 0]
    entered, left = np.zeros((1, 2, 1)), np.zeros((1, GRID.roots.size, 1))
    room = advection.room(GRID.real.size, GRID.first.size, 1)
    advection.transport(
        content, flow, 1, step, GRID.per_volume[:, 0].copy(), column.cells.ends, np.full((1, 2, 1), 10.0),
        np.zeros((1, 1)), np.zeros_like(content), entered, left, room,
    )  # fmt: skip
    c = 0.05 * passed[first]
    line = before[0, first:last, 0]
    leaves = line + 0.5 * (1.0 - c)
    enters = np.array([10.0, *leaves[:-1]])
    assert content[0, first:last, 0] == pytest.approx(line - c * (leaves - enters), rel=1e-12)
    assert entered[0, 1, 0] == pytest.approx(0.05 * step * 10.0)
