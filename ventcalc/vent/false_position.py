"""False position: the roots of many functions at once, each within its own bracket (Illinois' rule)."""

from collections.abc import Callable

import numpy as np

_NEAR = 1e-11  # relative; where the search for a root ends


def zero_between(function: Callable, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Roots of a function of arrays, each within its own bracket; plain arrays.

    False position by Illinois' rule (an end that stays twice in a row counts half), halved where that is slow.
    NaN where the function has one sign at both ends.
    """
    low, high = np.array(low, float), np.array(high, float)
    at_low, at_high = function(low), function(high)
    done, small = at_low * at_high > 0.0, 1e-9 * np.maximum(np.abs(at_low), np.abs(at_high))
    middle = np.full(low.shape, np.nan)
    for turn in range(200):
        before = middle
        with np.errstate(divide="ignore", invalid="ignore"):
            middle = (low * at_high - high * at_low) / (at_high - at_low)
        inside = (middle > np.minimum(low, high)) & (middle < np.maximum(low, high))
        middle = np.where(inside & (turn % 8 != 7), middle, 0.5 * (low + high))
        middle = np.where(done, before, middle)  # what is found stays
        value = function(middle)
        same = np.sign(value) == np.sign(at_high)
        # The end that is replaced keeps the bracket; the other one, kept again, counts half.
        low, at_low = np.where(same, low, high), np.where(same, 0.5 * at_low, at_high)
        high, at_high = middle, value
        still = np.abs(middle - before) <= _NEAR * np.abs(middle)
        done |= (still & (np.abs(value) <= small)) | (value == 0.0)
        if done.all():
            break
    return middle
