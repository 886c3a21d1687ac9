"""Gas and walls cell by cell: the shape of the grid, transport, and heat in walls."""

import numpy as np
import pytest
from sample_columns import GRID, PLANT, ROOM, still

from ventcalc.vent.gas_content import CONTENTS


def test_flow_through_a_face_is_what_enters_before_it():
    column = still()
    own = np.array([[0.2], [0.3]])
    swelling = np.zeros((GRID.real.size, 1))
    row = PLANT.row("connector 2")
    swelling[GRID.first[row]] = -1.0  # the first cell loses its own volume a second
    lost = GRID.volume[GRID.first[row], 0]
    flow = column.flows(own, 0.1, swelling)[:, 0]
    names = [s.name for s in PLANT.order]
    ends = {n: (flow[GRID.first[i] - 1], flow[GRID.last[i]]) for i, n in enumerate(names)}
    assert ends["connector 1"] == pytest.approx((0.2, 0.2))
    assert ends["connector 2"] == pytest.approx((0.3, 0.3 - lost))
    assert ends["header 2"] == pytest.approx((0.5 - lost,) * 2) and ends["stack"] == pytest.approx((0.5 - lost,) * 2)


def test_gas_that_stands_still_cools_to_its_wall_and_no_further():
    column = still(ROOM + 60.0, adiabatic=False)
    column.ring[:] = 0.0
    for _ in range(2000):
        swelling = column.cool(0.5)
        column.move(column.flows(np.zeros((2, 1)), 0.5, swelling), 0.5, np.zeros((CONTENTS, 2, 1)))
        column.warm_walls()
    # What is drawn in from outdoors to fill the place comes at 60 K above, so not all is quite cold.
    assert column.temperature[GRID.real].min() > ROOM - 0.01
    assert column.temperature[GRID.first[0], 0] == pytest.approx(ROOM, abs=1.0)


def test_heat_given_is_stored_or_lost():
    column = still()
    column.given[GRID.real] = 1000.0  # J/m
    before = column.stored
    column.warm_walls()
    assert column.stored + column.lost == pytest.approx(before)
    assert 0.0 < column.lost < 0.01 * before
