"""Column grid: cells add up to the sections."""

import pytest
from sample_columns import GRID, NETWORK, PLANT
from sample_plants import SEASONS, with_sections

from ventcalc.units import Q_
from ventcalc.vent import column_grid
from ventcalc.vent.network import compile_network


def test_cells_add_up_to_the_sections():
    for i, pipe in enumerate(NETWORK.pipes):
        own = (GRID.section == i) & GRID.real
        assert GRID.length[own].sum() == pytest.approx(pipe.length)
        assert GRID.volume[own].sum() == pytest.approx(pipe.length * pipe.area)
        assert own.sum() == GRID.last[i] - GRID.first[i] + 1
        assert (GRID.length[own] >= 0.5 - 1e-9).all() and (GRID.length[own] < 1.0).all()


def test_a_short_section_is_one_cell_of_full_volume():
    short = with_sections(PLANT, header_1={"length": Q_(0.1, "m")})
    grid = column_grid.grid(compile_network(short, SEASONS), 0.5)
    row = short.row("header 1")
    own = (grid.section == row) & grid.real
    assert own.sum() == 1 and grid.length[own] == pytest.approx(0.1)
    assert grid.volume[own] == pytest.approx(0.5 * grid.area[own])
