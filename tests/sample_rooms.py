"""An invented boiler room for the tests, its exhaust, and one that spills under it."""

from dataclasses import replace
from functools import cache

import numpy as np
from sample_plants import SEASONS, row_plant

from ventcalc.building import room_air, room_pressure
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

HOUR = Q_(1.0, "1/hour")
EXHAUST = room_air.Exhaust("hood", Q_(500, "cfm"))


def room(**changes):
    """A boiler room of 300 m3 with a small opening, some leakage and a hood."""
    usual = {
        "volume": Q_(300, "m**3"),
        "openings": (room_air.Opening("wall", Q_(0.06, "m**2")),),
        "leakage": room_air.Leakage.of_changes(3 * HOUR, Q_(300, "m**3")),
        "exhausts": (EXHAUST,),
    }
    return room_air.RoomAir(**usual | changes)


def states(plant: Plant, *codes, season=0, cold=False):
    return States(np.array(codes, float)[:, None], np.array([season]), np.array([cold]), np.array([False]))


@cache
def spilling_room():
    """Two boilers with regulators in a tight room: well without the hood, spilling with it: scan, room, off, on."""
    plant = row_plant(2, "barometric", celsius=180.0, stack_height=20.0)
    plant = replace(plant, appliances=tuple(replace(a, window=(Q_(-60, "Pa"), Q_(0, "Pa"))) for a in plant.appliances))
    seasons = tuple(Season(s.name, s.outdoor, s.room) for s in SEASONS[:2])
    scan = firing_states.scan(plant, seasons)
    hood = room_air.Exhaust("hood", Q_(1500, "cfm"))
    air = room(openings=(room_air.Opening("wall", Q_(0.1, "m**2")),), exhausts=(hood,))
    off, on = (room_pressure.coupled(plant, seasons, scan.states, air, running) for running in (0.0, 1.0))
    return scan, air, off, on
