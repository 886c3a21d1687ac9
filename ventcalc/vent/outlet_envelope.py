"""Outlet envelope: the lowest and highest pressure at every outlet over all firing states, held against its window.

The states that cause the two ends are kept by their columns in the `firing_states.Scan`. `section_extremes` does the
same for the sections of the vent.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.vent.firing_states import Scan
from ventcalc.vent.worst_state import alike

READABLE = 0.05  # Pa beyond the edge of a window; less no gauge of the trade can read (common practice, no source)


def _beyond(by):
    """How far beyond the edge of a window [Pa]: nothing where it is no more than can be read."""
    return np.where(np.asarray(by) > READABLE, by, 0.0)[()]


@dataclass(frozen=True)
class Envelope:
    """Lowest and highest outlet pressure [Pa, gauge against the room] and the states that cause them.

    ``low_alike`` and ``high_alike`` are all the states that come to the same, the named one first. ``limits`` says what
    ``window`` is: that of firing, or an appliance's own of its "purge". Where it has none of its own, its purge is
    judged by the window of firing, and ``low_purging``, ``high_purging`` tell that it purges in the state named. Where
    it has, ``purge`` is the envelope over the states in which it purges, and this one is over those in which it fires.
    """

    appliance: str
    low: float
    high: float
    low_state: int
    high_state: int
    window: tuple[float, float]
    low_alike: tuple[int, ...] = ()
    high_alike: tuple[int, ...] = ()
    low_purging: bool = False
    high_purging: bool = False
    limits: str = "firing"
    purge: "Envelope | None" = None

    @property
    def swing(self) -> float:
        """Highest less lowest [Pa]."""
        return self.high - self.low

    @property
    def below(self) -> float:
        """How far it falls below its window [Pa], 0 where it does not."""
        return _beyond(self.window[0] - self.low)

    @property
    def above(self) -> float:
        """How far it rises above its window [Pa], 0 where it does not."""
        return _beyond(self.high - self.window[1])

    @property
    def margin(self) -> float:
        """Least distance to the edge of the window [Pa], in purge too; negative where it leaves it by what can be
        read."""
        least = float(min(self.low - self.window[0], self.window[1] - self.high))
        least = max(least, 0.0) if least >= -READABLE else least
        return least if self.purge is None else min(least, self.purge.margin)


def envelopes(scan: Scan) -> tuple[Envelope, ...]:
    """Envelope of every outlet over the states in which its appliance runs, with that of its purge where it has limits.

    Raises ValueError where an appliance runs in none of them; in a scan made by `scan` each runs in some.
    """
    return tuple(_envelope(scan, i) for i in range(len(scan.plant.appliances)))


def _envelope(scan: Scan, i: int) -> Envelope:
    a, running, purging = scan.plant.appliances[i], scan.running(i), scan.purging(i)
    if not running.any():
        raise ValueError(f"{a.name} runs in none of the scan's {len(scan.states)} states, so it has no envelope")
    if a.purge_pressure is None or not purging.any():
        return _ends(scan, i, running, a.window, "firing")
    purge = _ends(scan, i, purging, a.purge_pressure, "purge")
    firing = running & ~purging
    return replace(_ends(scan, i, firing, a.window, "firing"), purge=purge) if firing.any() else purge


def _ends(scan: Scan, i: int, during: np.ndarray, window, limits: str) -> Envelope:
    pressure = np.where(during, scan.solution.outlet_pressure[i], np.nan)
    low, high = (tuple(alike(sign * pressure).tolist()) for sign in (-1.0, 1.0))
    purging = scan.purging(i)
    return Envelope(
        appliance=scan.plant.appliances[i].name,
        low=float(np.nanmin(pressure)),
        high=float(np.nanmax(pressure)),
        low_state=low[0],
        high_state=high[0],
        window=tuple(float(w.m_as("Pa")) for w in window),
        low_alike=low,
        high_alike=high,
        low_purging=bool(purging[low[0]]),
        high_purging=bool(purging[high[0]]),
        limits=limits,
    )


def limits(scan: Scan, i: int) -> tuple[np.ndarray, np.ndarray]:
    """Least and most [Pa] that an appliance allows at its outlet, per state: its window, or its limits in purge."""
    a = scan.plant.appliances[i]
    firing, purge = ([float(w.m_as("Pa")) for w in window] for window in (a.window, a.purge_pressure or a.window))
    return tuple(np.where(scan.purging(i), p, f) for p, f in zip(purge, firing, strict=True))


def outside_window(scan: Scan) -> np.ndarray:
    """Where an appliance runs and its outlet is outside its window, or its limits in purge (appliances, states)."""
    below, above = sides(scan)
    return below | above


def sides(scan: Scan) -> tuple[np.ndarray, np.ndarray]:
    """Where an appliance runs and its outlet is below its window, and where above it; as `outside_window`."""
    below = np.zeros(scan.solution.outlet_pressure.shape, bool)
    above = below.copy()
    for i, pressure in enumerate(scan.solution.outlet_pressure):
        low, high = limits(scan, i)
        below[i] = scan.running(i) & (_beyond(low - pressure) > 0.0)
        above[i] = scan.running(i) & (_beyond(pressure - high) > 0.0)
    return below, above
