"""Gas and walls cell by cell: the shape of the grid, transport, and heat in walls."""

import numpy as np
import pytest
from sample_columns import GRID, PLANT, ROOM, moved, still

from ventcalc.vent import gas_column
from ventcalc.vent.gas_content import CONTENTS


def test_flow_through_a_face_is_what_enters_before_it():
    column = still()
    own = np.array([[0.2], [0.3]])
    row = PLANT.row("connector 2")
    column.now.cell[gas_column.SWELLING, GRID.first[row]] = -1.0  # the first cell loses its own volume a second
    lost = GRID.volume[GRID.first[row], 0]
    flow = np.empty((GRID.real.size - 1, 1))
    gas_column.face_flows(column.cells, column.now, own, 0.1, flow)
    flow = flow[:, 0]
    names = [s.name for s in PLANT.order]
    ends = {n: (flow[GRID.first[i] - 1], flow[GRID.last[i]]) for i, n in enumerate(names)}
    assert ends["connector 1"] == pytest.approx((0.2, 0.2))
    assert ends["connector 2"] == pytest.approx((0.3, 0.3 - lost))
    assert ends["header 2"] == pytest.approx((0.5 - lost,) * 2) and ends["stack"] == pytest.approx((0.5 - lost,) * 2)


def test_gas_that_stands_still_cools_to_its_wall_and_no_further():
    column = still(ROOM + 60.0, adiabatic=False)
    column.now.ring[:] = 0.0
    for _ in range(2000):
        moved(column, np.zeros((2, 1)), np.zeros((CONTENTS, 2, 1)), 0.5, 0.5)
        gas_column.warm_rings(column.cells, column.now)
    # What is drawn in from outdoors to fill the place comes at 60 K above, so not all is quite cold.
    assert column.temperature[GRID.real].min() > ROOM - 0.01
    assert column.temperature[GRID.first[0], 0] == pytest.approx(ROOM, abs=1.0)


def test_heat_given_is_stored_or_lost():
    column, given = still(), 1000.0  # J/m
    column.now.cell[gas_column.GIVEN, GRID.real] = given
    gas_column.warm_rings(column.cells, column.now)
    stored = (column.cells.ring_own[1][..., None] * column.now.ring).sum(axis=0)  # J/m, capacity times what it rose
    kept, lost = (GRID.length * stored).sum(), column.now.books[gas_column.LOST, 0]
    assert kept + lost == pytest.approx(given * GRID.length.sum())
    assert 0.0 < lost < 0.01 * kept
    assert not column.now.cell[gas_column.GIVEN].any()


def test_a_flow_that_is_no_number_is_refused():
    column = still()
    flow = column.flows(np.zeros((2, 1)), 0.5)
    flow[GRID.first[0]] = np.nan
    with pytest.raises(ValueError, match="no number"):
        gas_column.move_gas(column.cells, column.now, flow, 0.5, np.zeros((CONTENTS, 2, 1)), column.outdoor)


def test_a_film_that_is_kept_is_all_but_the_one_worked_out_anew():
    """Gas and wall warm by 0.03 K and the flow grows by 1/1,600 a look: kept films are within 0.3 %, and some are."""
    column, films = still(ROOM + 100.0, adiabatic=False), [gas_column.INSIDE, gas_column.FRICTION, gas_column.FILM]
    flow, kept = np.full((GRID.real.size - 1, 1), 0.05), 0
    for _ in range(50):
        before = column.now.cell[films].copy()
        column.look(flow)
        found = column.now.cell[films].copy()
        kept += (before == found).all()
        anew = column.now._replace(cell=column.now.cell.copy())
        anew.cell[gas_column.SEEN_SIZE] = 0.0
        wall = column.cells.around + column.now.ring[0]
        towards = column.cells.own[gas_column.TOWARDS]
        gas_column.look_at(column.cells, anew, flow, wall, np.zeros(1), wall, towards)
        assert found[:, GRID.real] == pytest.approx(anew.cell[films][:, GRID.real], rel=3e-3)
        column.now.cell[gas_column.TEMPERATURE] += 0.03
        column.now.ring[:] += 0.03
        flow *= 1.0006
    assert 10 < kept < 45
