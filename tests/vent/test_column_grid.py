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


def test_every_place_knows_what_stands_before_it():
    """The plant is a row: all appliances stand before the stack, one before each connector, k before header k."""
    roots, names = GRID.roots.tolist(), list(PLANT.order)
    assert [p.parent < 0 for p in NETWORK.pipes] == [i in roots for i in range(len(names))]
    assert sorted([*roots, *GRID.inward]) == list(range(len(names)))
    assert [NETWORK.pipes[i].parent for i in GRID.inward] == GRID.parents.tolist()
    for row, serves in enumerate(GRID.serves):
        expected = [names[row] in PLANT.path(a.name) for a in PLANT.appliances]
        assert serves.tolist() == expected, names[row].name
