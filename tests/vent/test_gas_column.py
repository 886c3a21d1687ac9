"""Gas and walls cell by cell: the shape of the grid, transport, and heat in walls."""

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant, with_sections
from scipy.integrate import solve_ivp

from ventcalc.flow import heat_loss, materials, wall_rings
from ventcalc.gas import streams
from ventcalc.units import Q_
from ventcalc.vent import column_grid, column_walls, gas_content
from ventcalc.vent.gas_column import Beginning, Column
from ventcalc.vent.gas_content import CONTENTS, HEAT, MASS
from ventcalc.vent.network import compile_network

PLANT = row_plant(2)
NETWORK = compile_network(PLANT, SEASONS)
GRID = column_grid.grid(NETWORK, 0.5)
WALLS = column_walls.walls(GRID, 0.5, 1.0)
AIR = np.concatenate([NETWORK.outdoor_gas[:, [1]], np.zeros((1, 1))])
ROOM = 293.15


def still(temperature=ROOM, adiabatic=True):
    """A column of air at one temperature, everywhere in surroundings of 20 degC."""
    places = GRID.real.size
    around = np.full((places, 1), ROOM)
    gas = np.repeat(AIR[:, None], places, axis=1)
    outdoor = held(temperature)
    begun = Beginning(np.full((places, 1), temperature), gas, np.zeros(1))
    return Column(GRID, WALLS, around, outdoor, begun, np.zeros((places - 1, 1)), adiabatic)


def held(temperature):
    """What a volume of air holds, (contents, 1)."""
    heat = streams.enthalpy(AIR, np.array([temperature]), NETWORK.pressure)
    return gas_content.content(AIR, np.array([temperature]), heat, NETWORK.pressure, NETWORK.pressure)


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


def moved(column, own, inlet, seconds, step=0.05):
    for _ in range(round(seconds / step)):
        column.move(column.flows(own, step, column.cool(step)), step, inlet)


def test_streams_that_meet_keep_mass_and_heat():
    column = still()
    warm, cool = held(400.0), held(300.0)
    own = np.array([[0.1], [0.2]])
    inlet = np.stack([warm, cool], axis=1)
    before = column.held
    moved(column, own, inlet, 60.0)
    gap = column.entered.sum(axis=1) - column.left.sum(axis=1) - column.held + before
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
    assert (column.entered[MASS] < 0.0).all() and (column.left[MASS] < 0.0).all()


def test_a_front_stays_within_its_bounds_and_four_cells():
    column = still()
    moved(column, np.array([[0.0], [0.3]]), np.stack([held(400.0)] * 2, axis=1), 6.0)
    assert column.temperature[GRID.real].max() < 400.5 and column.temperature[GRID.real].min() > ROOM - 0.5
    stack = slice(GRID.first[-1], GRID.last[-1] + 1)
    density = column.density[stack, 0]
    share = (density - held(400.0)[MASS]) / (held(ROOM)[MASS] - held(400.0)[MASS])
    assert ((share > 0.1) & (share < 0.9)).sum() <= 4


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


@pytest.mark.parametrize("name", ["insulated chimney", "tile-lined masonry chimney", "Type B gas vent"])
def test_walls_follow_the_equation_of_their_rings(name):
    # Against scipy's solve_ivp on the same rings, heated by a constant flux.
    plant = row_plant(1, vent=name)
    network = compile_network(plant, SEASONS)
    grid = column_grid.grid(network, 0.5)
    walls, place, row = column_walls.walls(grid, 5.0, 1.0), 1, grid.section[1]
    pipe = network.pipes[row]
    rings = wall_rings.rings(pipe.diameter, materials.layers(name))
    film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
    chain = rings.resistance + np.eye(len(rings.resistance))[-1] / (film * np.pi * rings.outer_diameter)
    chain *= pipe.outside_resistance / (np.pi * pipe.diameter) / chain.sum()
    count, flux = len(rings.capacity), 100.0

    def slope(_, y):
        flow = np.concatenate(([flux], (y - np.append(y[1:], 0.0)) / chain[1:]))
        return (flow[:-1] - flow[1:]) / rings.capacity

    exact = solve_ivp(slope, (0.0, 600.0), np.zeros(count), method="LSODA", rtol=1e-9, atol=1e-9).y[:, -1]
    ring = np.zeros(len(walls.capacity))
    for _ in range(120):
        ring = walls.step[place] @ ring + walls.warmed[place] * flux * 5.0
    assert ring[:count] == pytest.approx(exact, rel=1e-5)
    assert walls.total[place, 0] == pytest.approx(pipe.outside_resistance / (np.pi * pipe.diameter))


def test_heat_given_is_stored_or_lost():
    column = still()
    column.given[GRID.real] = 1000.0  # J/m
    before = column.stored
    column.warm_walls()
    assert column.stored + column.lost == pytest.approx(before)
    assert 0.0 < column.lost < 0.01 * before


def test_too_light_a_wall_is_refused():
    with pytest.raises(ValueError, match="capacity"):
        column_walls.walls(GRID, 0.5, 0.01)
