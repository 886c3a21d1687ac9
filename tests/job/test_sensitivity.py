"""Sensitivity: against functions whose indices are known, and what a fit says of itself."""

import numpy as np
import pytest
from scipy.stats import norm, qmc

from ventcalc.job import sensitivity
from ventcalc.job.sensitivity import CHOICE, EVEN, NORMAL, fit


def points(inputs, count, seed=1):
    return qmc.Sobol(inputs, rng=seed).random(count)


def test_ishigami_function():
    """Ishigami and Homma (1990), a = 7, b = 0.1: indices by its closed form, as any text on Sobol indices has it."""
    u = points(3, 4096)
    x = np.pi * (2.0 * u - 1.0)
    found = fit(
        u, np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]), [EVEN] * 3, 10, 10
    )
    one, two = 0.5 * (1.0 + 0.1 * np.pi**4 / 5.0) ** 2, 7.0**2 / 8.0
    both = 0.1**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    variance = one + two + both
    assert found.r2 > 0.999
    assert found.first == pytest.approx(np.array([one, two, 0.0]) / variance, abs=2e-3)
    assert found.total == pytest.approx(np.array([one + both, two, both]) / variance, abs=2e-3)


def test_linear_model_of_normal_inputs():
    """A sum of a_i z_i: each index is a_i^2 over the sum of squares, alone and in total."""
    weights = np.array([1.0, 2.0, 3.0, 0.0])
    u = points(4, 1024)
    found = fit(u, norm.ppf(u) @ weights, [NORMAL] * 4)
    shares = weights**2 / (weights**2).sum()
    assert found.first == pytest.approx(shares, abs=5e-3)
    assert found.total == pytest.approx(shares, abs=5e-3)
    assert found.r2 == pytest.approx(1.0, abs=1e-9)


def test_a_product_belongs_to_both_and_to_none_alone():
    u = points(3, 1024)
    z = norm.ppf(u)
    found = fit(u, z[:, 0] * z[:, 1], [NORMAL] * 3)
    assert found.first == pytest.approx(0.0, abs=0.01)
    assert found.total[:2] == pytest.approx(1.0, abs=0.02)
    assert found.total[2] < 0.01


def test_a_choice_of_three():
    """Three values alike likely beside a normal input: the variance of the values over that of both."""
    u = points(2, 1024)
    values = np.array([0.0, 1.0, 5.0])
    found = fit(u, values[np.minimum((3.0 * u[:, 0]).astype(int), 2)] + norm.ppf(u[:, 1]), [CHOICE, NORMAL])
    assert found.first == pytest.approx(np.array([values.var(), 1.0]) / (values.var() + 1.0), abs=5e-3)


def test_r2_is_that_of_draws_not_seen():
    """Of noise a fit with many terms explains a share of its own draws, and nothing of others."""
    u = points(20, 512)
    noise = np.random.default_rng(3).normal(size=512)
    found = fit(u, noise, [EVEN] * 20)
    own = 1.0 - np.var(noise - found.at(u)) / np.var(noise)
    assert own > 0.1 and found.r2 < 0.05


def test_a_fit_foretells_other_points():
    u, other = points(3, 1024), points(3, 256, 9)
    result = lambda v: np.exp(0.3 * norm.ppf(v[:, 0])) + v[:, 1] ** 2  # noqa: E731
    found = fit(u, result(u), [NORMAL, EVEN, EVEN])
    assert 1.0 - np.var(found.at(other) - result(other)) / np.var(result(other)) == pytest.approx(found.r2, abs=0.01)


def test_too_few_draws_are_refused():
    with pytest.raises(ValueError, match="8 draws for 3 inputs: at least 16"):
        fit(points(3, 8), np.zeros(8), [EVEN] * 3)


def test_polynomials_are_orthonormal():
    u = points(1, 8192)
    for kind in (NORMAL, EVEN, CHOICE):
        basis = sensitivity._POLYNOMIALS[kind](u[:, 0], 3)
        assert basis @ basis.T / u.size == pytest.approx(np.eye(len(basis)), abs=0.05)
