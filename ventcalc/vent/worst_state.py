"""Worst state: which column of a scan has the greatest value, and which others come to the same.

Which of several equal values is greatest by its last digit depends on the machine, so what is named as the worst is the
first of all that are alike.
"""

import numpy as np

from ventcalc.door import door

SAME_PRESSURE = 1e-3  # Pa; what lies nearer to the worst differs by rounding, and by machine, not by anything real
SAME_TEMPERATURE = 1e-3  # K, likewise
SAME_SHARE = 1e-6  # of the worst itself, for what is no pressure


@door(plain={"same": ""}, at_least={"same": 0.0})
def alike(values: np.ndarray, same: float = SAME_PRESSURE) -> np.ndarray:
    """Indices of the greatest of ``values`` (n) and of all that are not less by more than ``same``; NaN is never it.

    The first is the one to name as the worst: which of several equal ones is greatest by its last digit depends on the
    machine. Empty where every value is NaN or minus infinity.
    """
    known = np.where(np.isnan(values), -np.inf, values)
    greatest = known.max(initial=-np.inf)
    return np.flatnonzero(known >= greatest - same) if np.isfinite(greatest) else np.empty(0, int)


def alike_by_share(values: np.ndarray) -> np.ndarray:
    """As `alike`, with what is within `SAME_SHARE` of the greatest itself: flows, ratios, concentrations."""
    greatest = np.nanmax(values, initial=-np.inf)
    return alike(values, SAME_SHARE * abs(greatest) if np.isfinite(greatest) else 0.0)


@door(plain={"same": ""}, at_least={"same": 0.0})
def worst(values: np.ndarray, same: float | None = None) -> int:
    """Index of the greatest value, the first of those `alike` (by a pressure ``same``; None: `alike_by_share`)."""
    found = alike_by_share(values) if same is None else alike(values, same)
    return int(found[0]) if found.size else 0
