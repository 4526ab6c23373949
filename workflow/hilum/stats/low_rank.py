"""The normal density of readings that share a few causes of error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array


@dataclass(frozen=True)
class Density:
    """The log density, less its constant, and what the readings say of the last cause: mean and variance."""

    log: Array
    mean: Array
    variance: Array


def density(residual: Array, causes: Sequence[Array]) -> Density:
    """Return the density of residuals (k, …) under I + Σ v v', each of shape (…).

    Each of `causes` (k, …) is a vector v: what one standard normal cause, shared by the k readings, adds to
    them. All are divided by the readings' own standard deviation before. By the matrix determinant lemma
    and Woodbury's identity, both as the elimination of the Gram matrix of the vectors.
    """
    vectors = (*causes, residual)
    gram = {
        (i, j): np.einsum("k...,k...->...", vectors[i], vectors[j])
        for i in range(len(vectors))
        for j in range(i, len(vectors))
    }
    log_determinant = np.zeros(residual.shape[1:])
    for cause in range(len(causes)):
        log_determinant += np.log1p(gram[cause, cause])
        _eliminate(gram, cause, len(vectors))
    last, rest = len(causes) - 1, len(causes)
    variance = 1 / (1 + gram[last, last])
    log = -0.5 * (gram[rest, rest] + log_determinant)
    return Density(np.asarray(log), gram[last, rest] * variance, variance)


def _eliminate(gram: dict[tuple[int, int], Array], cause: int, size: int) -> None:
    pivot = 1 + gram[cause, cause]
    for i in range(cause + 1, size):
        ratio = gram[cause, i] / pivot
        for j in range(i, size):
            gram[i, j] = gram[i, j] - ratio * gram[cause, j]
        # what is left of a square is none below 0, but rounding is where two causes are nearly one
        gram[i, i] = np.maximum(gram[i, i], 0.0)
