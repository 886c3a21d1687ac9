"""Curve pieces: against scipy, which made them, by numpy and compiled alike."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator

from ventcalc.compiled import loop
from ventcalc.draft.curve_pieces import pieces, value

POINTS = np.array([0.0, 0.3, 0.5, 1.1, 2.0]), np.array([5.0, 5.5, 4.0, 1.0, 0.0])


@loop
def _each(curve, at, found):
    for k in range(at.size):
        found[k] = value(curve, at[k])


@pytest.mark.parametrize("kind", [PchipInterpolator, CubicSpline])
def test_within_its_points_and_beyond_it_is_what_scipy_reads(kind):
    curve = kind(*POINTS)
    at = np.concatenate([np.linspace(-0.5, 2.5, 301), POINTS[0]])
    assert value(pieces(curve), at) == pytest.approx(curve(at), abs=1e-12)
    found = np.empty_like(at)
    _each(pieces(curve), at, found)
    assert found == pytest.approx(curve(at), abs=1e-12)
    assert float(value(pieces(curve), 0.4)) == pytest.approx(float(curve(0.4)), abs=1e-12)
