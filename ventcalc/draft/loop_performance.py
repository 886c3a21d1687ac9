"""Loop performance: settling time, overshoot and time outside two limits, read from a pressure over time."""

from math import inf

import numpy as np

from ventcalc.units import quantities


@quantities(
    "s",
    time="s",
    pressure="Pa",
    set_point="Pa",
    band="Pa",
    since="s",
    above={"band": 0.0},
    shapes={"time": "list", "pressure": "list", "set_point": "one", "band": "one", "since": "one"},
    allow={"return": "inf"},
    source="definition: the time from which a response stays within a band",
)
def settling_time(time, pressure, set_point, band, since):
    """Time after ``since`` [s] from which the pressure stays within ``band`` [Pa] of the set_point [Pa].

    time [s] and pressure [Pa] are arrays over time; the others single numbers. 0 where it never leaves the band, inf
    where it is outside at the end.
    """
    outside = np.flatnonzero((time >= since) & (np.abs(pressure - set_point) > band))
    if not outside.size:
        return 0.0
    last = outside[-1]
    return float(time[last + 1] - since) if last + 1 < time.size else inf


@quantities(
    "Pa",
    time="s",
    pressure="Pa",
    set_point="Pa",
    since="s",
    shapes={"time": "list", "pressure": "list", "set_point": "one", "since": "one"},
    source="definition: how far a response goes beyond its end to the other side",
)
def overshoot(time, pressure, set_point, since):
    """How far [Pa] the pressure passes the set_point [Pa] to the other side, after its farthest departure since a time.

    time [s] and pressure [Pa] are arrays over time, since [s] a single number. 0 where it does not pass it.
    """
    error = np.asarray(pressure - set_point)[np.asarray(time) >= since]
    if not error.size:
        raise ValueError(f"overshoot: since = {since:.4g} s is later than the last time")
    peak = int(np.abs(error).argmax())
    return float(max(0.0, (-np.sign(error[peak]) * error[peak:]).max()))


@quantities(
    "s",
    time="s",
    pressure="Pa",
    low="Pa",
    high="Pa",
    shapes={"time": "list", "pressure": "array", "low": "one", "high": "one"},
    source="definition: share of equal steps outside two limits, times their length",
)
def time_outside(time, pressure, low, high):
    """Time [s] for which the pressure [Pa] (last axis: time [s], in equal steps) lies below low or above high [Pa]."""
    return ((pressure < low) | (pressure > high)).sum(axis=-1) * (time[1] - time[0])
