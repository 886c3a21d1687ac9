"""Dilution air: the pressure it takes to draw room air through a hood, a barometric regulator or a leaking appliance.

The same way serves gas that comes back into the room. Pressure and slope stay smooth about zero flow.
"""

import numpy as np

from ventcalc.compiled import law
from ventcalc.vent.network import REGULATOR_BAND, REGULATOR_LEAKAGE

_SMOOTH_PRESSURE = 1e-4  # Pa; below it the way in from the room is linear instead of quadratic


@law
def entry_pressure(drawn, prescribed, resistance, volume, exit_resistance, threshold, on_total):
    """Pressure [Pa] to draw room air past an appliance, and its slope; the slope is inf where it is shut.

    Where gas comes out into the room instead, ``volume`` [m3/kg] is that of this gas, and it loses all its velocity
    head.
    """
    shut = not np.isfinite(resistance)
    if shut:
        resistance = 0.0
    flow = drawn + prescribed if on_total else drawn
    if np.isfinite(exit_resistance) and flow < 0.0:
        resistance = exit_resistance * volume
    offset = band = 0.0
    if threshold > 0.0:
        # Shut, a regulator leaks; once its draft is reached it opens further the more the draft exceeds it.
        at_opening = opening_flow(threshold, resistance)
        if flow > at_opening:
            flow, offset, band = flow - at_opening, threshold, REGULATOR_BAND * np.sqrt(threshold * resistance)
        else:
            resistance = resistance / REGULATOR_LEAKAGE**2
    smooth = np.sqrt(flow * flow + _SMOOTH_PRESSURE / np.maximum(resistance, 1e-12))
    slope = resistance * (smooth + flow * flow / smooth) + band
    return offset + (resistance * smooth + band) * flow, np.inf if shut else slope


@law
def opening_flow(threshold, resistance):
    """Leakage [kg/s] at which a regulator begins to open."""
    return np.sqrt(threshold / np.maximum(resistance, 1e-12)) * REGULATOR_LEAKAGE
