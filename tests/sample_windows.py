"""Vents whose outlets' windows differ: the swimming hall with two makes, and a row of forced boilers."""

from dataclasses import replace
from functools import cache

from sample_plants import SEASONS, row_plant

from ventcalc.draft.outlet_control import with_windows
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import firing_states

HALL = job_file.demonstration("swim_hall")
ALTERNATES = {a.name[:11]: a.window for a in HALL.alternates}
MIXED = with_windows(HALL.plant, {"Boiler 1": ALTERNATES["alternate A"], "Boiler 2": ALTERNATES["alternate B"]})


@cache
def as_is():
    """The hall with both makes as it is, in all its states."""
    return firing_states.scan(MIXED, HALL.seasons)


@cache
def row_scan():
    """A row, forced and sealed: every flow is prescribed."""
    return firing_states.scan(row_plant(3, stack_height=5.0, header_mm=250.0), SEASONS)


def window(low, high):
    return Q_(low, "Pa"), Q_(high, "Pa")


def moved(windows, scan=None):
    """The scan, or the row's, with other windows (Pa) for its appliances, in their order; what was solved stays."""
    scan = scan or row_scan()
    names = [a.name for a in scan.plant.appliances]
    own = {n: window(*w) for n, w in zip(names, windows, strict=True)}
    return replace(scan, plant=with_windows(scan.plant, own))
