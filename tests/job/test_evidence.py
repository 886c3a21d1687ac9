"""Evidence: held against scipy's normal distribution, a case that is solved in closed form, and a sampled posterior."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from ventcalc.job import evidence

RNG = np.random.default_rng(4)
SLOPES = RNG.standard_normal((5, 3))
ERRORS = np.array([0.3, 0.5, 0.2, 1.0, 0.4])
VALUES = np.array([1.0, -0.5, 0.4, 2.0, 0.1])


def test_density_is_that_of_scipy():
    covariance = evidence.spread_of(ERRORS, SLOPES)
    gaps = RNG.standard_normal((4, 5))
    assert evidence.log_normal(gaps, covariance) == pytest.approx(
        multivariate_normal(np.zeros(5), covariance).logpdf(gaps), rel=1e-12
    )


def test_a_point_that_is_no_number_has_no_weight():
    gaps = np.array([[0.0] * 5, [np.nan, 0.0, 0.0, 0.0, 0.0]])
    assert np.isneginf(evidence.log_normal(gaps, evidence.spread_of(ERRORS, SLOPES))).tolist() == [False, True]


def test_fit_of_a_straight_line_is_the_textbook_posterior():
    # Bishop, Pattern Recognition and Machine Learning (2006), eqs 2.115 to 2.117: the evidence of a linear model with
    # normal errors is a normal density, its posterior has the covariance (1 + J' S^-1 J)^-1.
    found = evidence.fit(lambda x: (SLOPES @ x).T, VALUES, ERRORS, np.zeros(3))
    scaled = SLOPES / ERRORS[:, None]
    covariance = np.linalg.inv(np.eye(3) + scaled.T @ scaled)
    assert found.covariance == pytest.approx(covariance, rel=1e-6)
    assert found.scores == pytest.approx(covariance @ scaled.T @ (VALUES / ERRORS), rel=1e-6)
    exact = multivariate_normal(np.zeros(5), evidence.spread_of(ERRORS, SLOPES)).logpdf(VALUES)
    assert found.evidence == pytest.approx(exact, abs=1e-6)
    assert found.residuals == pytest.approx((SLOPES @ found.scores - VALUES) / ERRORS)


def bent(x):
    """Readings that bend with the first score and go straight with the second."""
    return np.array([np.exp(0.4 * x[0]) + 0.3 * x[1], 2.0 * x[0] - 0.2 * x[0] ** 2 + x[1], x[1]]).T


def test_laplace_agrees_with_a_sampled_posterior():
    values, errors = np.array([1.5, 1.9, 0.3]), np.array([0.2, 0.3, 0.4])
    found = evidence.fit(bent, values, errors, np.zeros(2))
    # A million draws of the prior, weighed by how well they foretell: the mean weight is the evidence itself.
    draws = np.random.default_rng(1).standard_normal((2, 1_000_000))
    logs = evidence.log_normal(values - bent(draws), np.diag(errors**2))
    weights = np.exp(logs)
    assert found.evidence == pytest.approx(np.log(weights.mean()), abs=0.05)
    mean = draws @ weights / weights.sum()
    spread = np.sqrt(np.square(draws - mean[:, None]) @ weights / weights.sum())
    assert found.scores == pytest.approx(mean, abs=0.2 * spread.max())
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(spread, rel=0.1)


def test_chances_are_shares():
    assert evidence.chances(np.log([1.0, 3.0]) - 2000.0) == pytest.approx([0.25, 0.75])
