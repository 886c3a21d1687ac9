"""Gas content: what one volume of gas holds: mass, enthalpy, property rows (`streams`) and share of flue gas."""

import numpy as np

from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, VAPOUR_CONSTANT, WATER

# Rows of what one volume holds; the rest are the gas's own, `streams` and the share of flue gas.
MASS, HEAT, GAS = 0, 1, slice(2, None)
FLUE = streams.ROWS  # row of the gas, behind those of every stream
CONTENT_FLUE = 2 + FLUE
CONTENTS = 3 + FLUE
CONTENT_WATER = 2 + WATER


def content(gas, temperature, heat, local, pressure):
    """What one volume holds (contents, ...) of gas at a ``temperature`` and an enthalpy ``heat`` [J/kg].

    ``local`` pressure [Pa absolute] of the place; ``pressure`` that at which water condenses.
    """
    constant = gas[GAS_R] - VAPOUR_CONSTANT * streams.fog(gas, temperature, pressure)
    density = local / (constant * temperature)
    return np.concatenate([density[None], (density * heat)[None], density * gas])
