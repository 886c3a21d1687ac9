"""A column of still air in two boilers' vent, for the tests."""

import numpy as np
from sample_plants import SEASONS, row_plant

from ventcalc.gas import streams
from ventcalc.vent import column_grid, column_walls, gas_content
from ventcalc.vent.gas_column import Beginning, Column, move_gas
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


def moved(column, own, inlet, seconds, step=0.05):
    for _ in range(round(seconds / step)):
        move_gas(column.cells, column.now, column.flows(own, step), step, inlet, column.outdoor)
