"""Fans to test: those of the table, and one whose curve is a straight line so that hands can work it."""

from dataclasses import replace

import numpy as np

from ventcalc.draft import fan_table
from ventcalc.draft.fan_curve import Fan, Point
from ventcalc.units import Q_

FANS = [fan_table.fan(name) for name in fan_table.names()]
MIDDLE = fan_table.fan("roof 12")


def straight(slope=1000.0, shut=400.0, loss=40.0, **changes):
    """A fan whose curve in air of 1.2 kg/m3 is the straight line p = shut - slope q, so that hands can work it."""
    free = shut / slope
    points = tuple(Point(1.0, q, shut - slope * q, 100.0 + 200.0 * q) for q in np.linspace(0.0, free, 9))
    points = (*points[:-1], replace(points[-1], pressure=0.0))
    sizes = {
        "name": "straight", "kind": "roof", "outlet_diameter": Q_(0.4, "m"), "rated_speed": Q_(1000.0, "rpm"),
        "least_speed": 0.2, "most_speed": 1.2, "stall_flow": Q_(0.1, "m**3/s"), "motor_power": Q_(200.0, "W"),
        "highest_temperature": Q_(250.0, "degC"), "density": Q_(1.2, "kg/m**3"), "stopped_loss": loss, "points": points,
    }  # fmt: skip
    return Fan(**sizes | changes)
