"""One appliance with a draft hood in many rooms, for the tests of its several steady states."""

from dataclasses import replace

import numpy as np
from sample_plants import SEASONS, row_plant

from ventcalc.units import Q_
from ventcalc.vent.states import States

HOTTEST, SUMMER = 200.0, 2


def one_hood(seed):
    """A hood on a connector and a stack outdoors, drawn at random: low, wide and cool enough to turn over at times."""
    rng = np.random.default_rng(seed)
    return row_plant(
        1,
        "draft hood",
        celsius=float(rng.uniform(100.0, HOTTEST)),
        junction=None,
        stack_height=float(rng.uniform(3.0, 10.0)),
        kilowatts=float(rng.uniform(20.0, 150.0)),
        header_mm=float(rng.uniform(180.0, 400.0)),
    )


def at_room_pressures(pressures, outdoor=20.0, room=22.0):
    """A season for every room pressure [Pa]."""
    return tuple(
        replace(SEASONS[1], name=f"{p:.3f} Pa", outdoor=Q_(outdoor, "degC"), room=Q_(room, "degC"),
                room_pressure=Q_(float(p), "Pa")) for p in pressures
    )  # fmt: skip


def in_every_season(codes, count, cold=False):
    """The same codes in so many seasons."""
    return States(np.tile(np.array(codes)[:, None], count), np.arange(count), np.full(count, cold), np.zeros(count))


def near(a, b, prescribed):
    return np.abs(a - b) < 0.01 * (np.abs(a) + prescribed) + 1e-5
