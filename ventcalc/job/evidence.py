"""Evidence: how well an explanation foretold what was read, of readings with normal errors.

An explanation has nuisance inputs, standard normal scores on which readings hang in straight lines near enough, and at
most a few numbers of its own, on which they do not. The lines are added up exactly (a normal distribution of the
readings); the numbers of its own by a sum over points of their spread, or by the curvature at the best fit (Laplace).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy

LN_2PI = float(np.log(2.0 * np.pi))


def log_normal(gaps: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Logarithm of a normal density at ``gaps`` (points, readings) from its mean; -inf where a gap is no number.

    ln p = -(g' C^-1 g + ln det C + n ln 2 pi) / 2
    """
    known = np.isfinite(gaps).all(axis=-1)
    factor = scipy.linalg.cho_factor(covariance, lower=True)
    whole = np.where(known[..., None], gaps, 0.0)
    square = np.einsum("...i,i...->...", whole, scipy.linalg.cho_solve(factor, np.moveaxis(whole, -1, 0)))
    determinant = 2.0 * np.log(np.diag(factor[0])).sum()
    return np.where(known, -0.5 * (square + determinant + covariance.shape[0] * LN_2PI), -np.inf)


def spread_of(errors: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """Covariance of readings with instrument ``errors`` and ``slopes`` (readings, scores) on standard normal scores."""
    return np.diag(np.square(errors)) + slopes @ slopes.T


def log_sum(logs: np.ndarray, axis: int | None = None) -> np.ndarray:
    """Logarithm of the sum of what logarithms stand for; -inf where all are."""
    most = np.max(logs, axis=axis, keepdims=True)
    most = np.where(np.isfinite(most), most, 0.0)
    with np.errstate(divide="ignore"):
        found = np.log(np.exp(logs - most).sum(axis=axis, keepdims=True)) + most
    return found.squeeze(axis=axis) if axis is not None else found.squeeze()


def chances(logs: np.ndarray) -> np.ndarray:
    """Shares of what logarithms of weights stand for."""
    return np.exp(logs - log_sum(logs))


@dataclass(frozen=True)
class Fit:
    """The best fit of an explanation: its ``scores``, their ``covariance`` by the curvature there, the ``residuals`` of
    the readings in units of their errors, and the logarithm of its ``evidence`` by Laplace."""

    scores: np.ndarray
    covariance: np.ndarray
    residuals: np.ndarray
    evidence: float


def fit(told: Callable, values: np.ndarray, errors: np.ndarray, start: np.ndarray, step: float = 0.1) -> Fit:
    """Most likely standard normal scores, from a start, of readings that ``told(scores)`` foretells.

    ``told`` takes scores (scores, variants) and gives readings (variants, readings); all steps of a slope are one call.
    ln evidence = ln p(readings | scores) + ln p(scores) + (k ln 2 pi - ln det H) / 2, H = 1 + J' J the curvature.
    """
    cache: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}
    count = start.size

    def looked(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        key = x.tobytes()
        if key not in cache:
            found = told(x[:, None] + step * np.concatenate([np.zeros((count, 1)), np.eye(count)], axis=1))
            found = np.where(np.isfinite(found), found, found[:1])
            cache[key] = found[0], (found[1:] - found[0]).T / step
        return cache[key]

    def residuals(x: np.ndarray) -> np.ndarray:
        gap = (looked(x)[0] - values) / errors
        return np.concatenate([np.where(np.isfinite(gap), gap, _LOST), x])

    def slopes(x: np.ndarray) -> np.ndarray:
        return np.concatenate([looked(x)[1] / errors[:, None], np.eye(count)])

    found = scipy.optimize.least_squares(residuals, start, jac=slopes, x_scale=1.0, ftol=1e-6, xtol=1e-6, max_nfev=20)
    curvature = found.jac.T @ found.jac
    determinant = np.linalg.slogdet(curvature).logabsdet
    log = -found.cost - np.log(errors).sum() - 0.5 * values.size * LN_2PI - 0.5 * determinant
    return Fit(found.x, np.linalg.inv(curvature), found.fun[: values.size], float(log))


_LOST = 1e3  # errors: of a reading that a vent which does not come to rest cannot tell
