"""Purge: how long air must flow until a chamber, or a vent, holds none of the gas from before; and what is left of it.

A purge moves the volume through itself several times over. Where all of it mixes at once, each volume change leaves the
same share of what there was; where it moves as a piston, one change would do. A real chamber lies between.
"""

import numpy as np
import scipy

from ventcalc.units import Q_, Quantity, quantities
from ventcalc.vent.layout import Plant


@quantities(
    "s",
    volume="m**3",
    flow="m**3/s",
    changes="",
    at_least={"volume": 0.0},
    above={"flow": 0.0, "changes": 0.0},
    source="definition of a volume change; three to five of them: common practice, no source",
)
def purge_time(volume, flow, changes):
    """Time in which ``flow`` moves ``volume`` so many times, ``t = n V / Q``.

    volume [m3] of the chamber, and of the vent where it counts; flow [m3/s] of purge air at its own density; changes
    [ratio]; scalars or arrays. Raises where flow or changes are not positive or volume is negative. Example: a
    chamber of 10 ft3 at 100 cfm.

    >>> print(purge_time(Q_(10, "ft**3"), Q_(100, "cfm"), 4))
    24.0 second
    """
    return changes * volume / flow


@quantities(
    "",
    changes="",
    tanks="",
    at_least={"changes": 0.0, "tanks": 1.0},
    source="wash-out of ideally mixed volumes in series (textbook of reaction engineering)",
)
def remaining(changes, tanks=1.0):
    """Share of the first gas left in a volume after so many volume changes.

    Mixed at once, tanks = 1: ``exp(-n)``. As a piston, tanks without end: ``1 - n``, nothing after one change. A real
    chamber lies between, as ``N`` mixed tanks in series: ``Q(N + 1, N n) - n Q(N, N n)`` with the regularized upper
    incomplete gamma function; or beyond the first, where a corner is not swept at all. changes and tanks [ratio],
    scalars or arrays. Raises below 0 changes or 1 tank.

    >>> print(np.round(remaining(np.array([3.0, 4.0, 5.0])).m_as("percent"), 1))
    [5.  1.8 0.7]
    """
    tail = scipy.special.gammaincc
    left = tail(tanks + 1.0, tanks * changes) - changes * tail(tanks, tanks * changes)
    return np.maximum(left, 0.0)


@quantities(
    "",
    left="",
    above={"left": 0.0},
    at_most={"left": 1.0},
    source="wash-out of an ideally mixed volume",
)
def changes_for(left):
    """Volume changes that leave a share ``left`` of the first gas in a mixed volume, ``n = -ln(left)``.

    left [ratio], above 0 and at most 1; scalar or array. Raises outside.
    """
    return -np.log(left)


def vent_volume(plant: Plant) -> Quantity:
    """Volume of all sections of a vent [m3]."""
    return Q_(sum(float(s.length.m_as("m")) * s.area for s in plant.sections), "m**3")
