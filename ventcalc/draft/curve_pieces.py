"""Curve pieces: a smooth curve through points as plain numbers, read alike by numpy and by compiled code.

scipy makes the curve (piecewise cubic, monotone where its points are); here it is only read: beyond its ends the first
and the last piece go on, as scipy's do.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law


class Pieces(NamedTuple):
    """``ends`` of the pieces (n + 1), in order, and their cubics (4, n), the highest power first, from each begin."""

    ends: np.ndarray
    cubics: np.ndarray


def pieces(curve) -> Pieces:
    """The pieces of a `scipy.interpolate.PPoly` of degree 3."""
    return Pieces(np.ascontiguousarray(curve.x), np.ascontiguousarray(curve.c))


@law
def value(curve, at):
    """The curve's value at a place, number or array."""
    last = curve.ends.size - 2
    piece = np.minimum(np.maximum(np.searchsorted(curve.ends, at, side="right") - 1, 0), last)
    x, c = at - curve.ends[piece], curve.cubics
    return ((c[0, piece] * x + c[1, piece]) * x + c[2, piece]) * x + c[3, piece]
