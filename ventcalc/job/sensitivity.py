"""Sensitivity: what a result hangs on, from the very draws that it was found with.

A result of many uncertain inputs is fitted by polynomials that are orthogonal in the distributions of the inputs: those
of Hermite in what is normal, of Legendre in what is spread evenly, contrasts in a choice. The squares of the
coefficients then add up to the variance, each to the share of its input (Sudret, 2008): alone, the first-order index of
Sobol, and with all terms in which it stands, the total one. How well the fit tells a draw that it has not seen is its
``r2`` (leave one out); what it leaves over belongs to no input.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy
from numpy.polynomial import hermite_e, legendre

NORMAL, EVEN, CHOICE = "normal", "even", "choice"
DEGREE = 3  # of the polynomials in one input
PAIR_DEGREE = 2  # of the products of two
PAIRED = 10  # inputs, the strongest, whose products are looked at
_PER_TERM = 4  # draws that every coefficient needs
_EDGE = 1e-9
_NORMS = np.sqrt([float(math.factorial(n)) for n in range(21)])  # of Hermite's polynomials by their degree
# Orthonormal contrasts of three values alike likely: the first against the last, the middle against both.
_CONTRASTS = np.array([[-1.0, 0.0, 1.0], [1.0, -2.0, 1.0]]) * np.array([[1.5**0.5], [0.5**0.5]])


@dataclass(frozen=True)
class Fit:
    """A result as a sum of products of polynomials in its inputs.

    ``terms``: of each the inputs and their degrees; ``coefficients``, the first of the constant. ``variance`` of the
    result. ``r2``: share of it that the fit foretells of draws left out.
    """

    kinds: tuple[str, ...]
    terms: tuple[tuple[tuple[int, int], ...], ...]
    coefficients: np.ndarray
    variance: float
    r2: float

    def at(self, points: np.ndarray) -> np.ndarray:
        """The fitted result at points (draws, inputs) from 0 to 1."""
        return _matrix(_bases(points, self.kinds, self._degree), self.terms) @ self.coefficients

    @property
    def _degree(self) -> int:
        return max((degree for term in self.terms for _, degree in term), default=1)

    @property
    def first(self) -> np.ndarray:
        """First-order indices: the share of the variance that each input makes alone."""
        return self._shares(lambda term, i: len(term) == 1 and term[0][0] == i)

    @property
    def total(self) -> np.ndarray:
        """Total indices: the share in which each input has a part."""
        return self._shares(lambda term, i: any(of == i for of, _ in term))

    def _shares(self, counts) -> np.ndarray:
        squares = self.coefficients[1:] ** 2 / (self.variance or 1.0)
        sums = [
            sum(s for s, term in zip(squares, self.terms[1:], strict=True) if counts(term, i))
            for i in range(len(self.kinds))
        ]
        return np.array(sums, float)


def fit(
    points: np.ndarray,
    result: np.ndarray,
    kinds: Sequence[str],
    degree: int = DEGREE,
    pair_degree: int = PAIR_DEGREE,
    paired: int = PAIRED,
) -> Fit:
    """Fit a result (draws) of points (draws, inputs) from 0 to 1; of the ``kinds`` of the inputs.

    Terms of higher degree are left out where the draws are too few for them. Raises ValueError where they are too few
    for a straight line in every input.
    """
    kinds = tuple(kinds)
    draws, inputs = points.shape
    if draws < _PER_TERM * (inputs + 1):
        raise ValueError(f"{draws} draws for {inputs} inputs: at least {_PER_TERM * (inputs + 1)} are needed")
    while degree > 1 and draws < _PER_TERM * (1 + degree * inputs):
        degree -= 1
    bases = _bases(points, kinds, max(degree, pair_degree))
    alone = [()] + [((i, d),) for i in range(inputs) for d in range(1, degree + 1) if d <= _most(kinds[i])]
    coefficients = _solve(_matrix(bases, alone), result)
    strength = np.zeros(inputs)
    for (i, _), c in zip((t[0] for t in alone[1:]), coefficients[1:], strict=True):
        strength[i] += c**2
    strongest = sorted(np.argsort(-strength)[:paired].tolist())
    pairs = [
        ((i, d), (j, e))
        for i, j in combinations(strongest, 2)
        for d in range(1, pair_degree)
        for e in range(1, pair_degree - d + 1)
        if d <= _most(kinds[i]) and e <= _most(kinds[j])
    ]
    terms = tuple(alone + pairs[: max(draws // _PER_TERM - len(alone), 0)])
    matrix = _matrix(bases, terms)
    coefficients = _solve(matrix, result)
    variance = float(np.var(result))
    return Fit(kinds, terms, coefficients, variance, _left_out(matrix, result, coefficients, variance))


def _solve(matrix: np.ndarray, result: np.ndarray) -> np.ndarray:
    return np.linalg.lstsq(matrix, result, rcond=None)[0]


def _left_out(matrix, result, coefficients, variance: float) -> float:
    """Share of the variance that is foretold of draws each left out in turn; 1 where nothing varies."""
    if not variance:
        return 1.0
    q = np.linalg.qr(matrix)[0]
    left = (result - matrix @ coefficients) / np.maximum(1.0 - (q**2).sum(axis=1), 1e-9)
    return float(1.0 - np.mean(left**2) / variance)


def _most(kind: str) -> int:
    """The highest degree that a kind of input knows."""
    return len(_CONTRASTS) if kind == CHOICE else 99


def _bases(points: np.ndarray, kinds: Sequence[str], degree: int) -> list[np.ndarray]:
    """Of every input its orthonormal polynomials (degrees, draws) from degree 1."""
    return [_POLYNOMIALS[kind](u, degree) for u, kind in zip(np.asarray(points).T, kinds, strict=True)]


def _matrix(bases: list[np.ndarray], terms) -> np.ndarray:
    columns = []
    for term in terms:
        column = np.ones(bases[0].shape[1])
        for i, degree in term:
            column = column * bases[i][degree - 1]
        columns.append(column)
    return np.array(columns).T


def _hermite(u, degree: int) -> np.ndarray:
    # The normal law's quantile, without the wrapping of a distribution.
    z = scipy.special.ndtri(np.clip(u, _EDGE, 1.0 - _EDGE))
    return (hermite_e.hermevander(z, degree) / _NORMS[: degree + 1]).T[1:]


def _legendre(u, degree: int) -> np.ndarray:
    return (legendre.legvander(2.0 * u - 1.0, degree) * np.sqrt(2.0 * np.arange(degree + 1) + 1.0)).T[1:]


def _contrasts(u, degree: int) -> np.ndarray:
    return _CONTRASTS[:, np.minimum(np.floor(3.0 * u), 2.0).astype(int)]


_POLYNOMIALS = {NORMAL: _hermite, EVEN: _legendre, CHOICE: _contrasts}
