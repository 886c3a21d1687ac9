"""Vents to read sensors on: a row of forced boilers that do not cool, and the swimming hall."""

from functools import cache

from sample_plants import SEASONS, all_states, row_plant

from ventcalc.job import job_file
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan


def scanned(plant, seasons=SEASONS, cold=False, windy=False):
    states = all_states(plant, len(seasons), cold, windy)
    return Scan(plant, seasons, solve(plant, seasons, states), len(states), True)


ROW = row_plant(3, header_mm=400.0, junction="straight tee")
HALL = job_file.demonstration("swim_hall")


@cache
def row_scan():
    """The row in all its states."""
    return scanned(ROW)
