"""Column walls: against scipy's solve_ivp on the same rings."""

import numpy as np
import pytest
from sample_columns import GRID
from sample_plants import SEASONS, row_plant
from scipy.integrate import solve_ivp

from ventcalc.flow import heat_loss, materials, wall_rings
from ventcalc.vent import column_grid, column_walls
from ventcalc.vent.network import compile_network


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


def test_too_light_a_wall_is_refused():
    with pytest.raises(ValueError, match="capacity"):
        column_walls.walls(GRID, 0.5, 0.01)


@pytest.mark.parametrize("name", ["insulated chimney", "tile-lined masonry chimney", "Type B gas vent"])
def test_at_rest_every_ring_is_as_warm_as_what_lies_behind_it_resists(name):
    """Fourier in series: heat q through all stands q (total - towards) above the surroundings in each ring, the same
    as the steps themselves come to when they go on for ever."""
    grid = column_grid.grid(compile_network(row_plant(1, vent=name), SEASONS), 0.5)
    walls, place, flux, interval = column_walls.walls(grid, 5.0, 1.0), 1, 100.0, 5.0
    count = int((walls.towards[:, place] > 0.0).sum())
    step, warmed = walls.step[place, :count, :count], walls.warmed[place, :count]
    at_rest = np.linalg.solve(np.eye(count) - step, warmed * flux * interval)
    assert at_rest == pytest.approx(flux * (walls.total[place, 0] - walls.towards[:count, place]), rel=1e-6)
    assert walls.first[place, 0] == walls.towards[0, place] > 0.0
