"""Compare candidate models, allowing for dishes that vary more than a binomial.

Such dishes make log likelihoods differ by more than they would by chance alone: unscaled, a likelihood ratio
finds one difference in three where there is none, and the AIC prefers the larger model as often.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from hilum.stats.arrays import Array

_ALL_DISHES = 1e6  # degrees of freedom that stand for a known variance


def contrast_scale(model: Array, variance: Array, contrasts: Array) -> float:
    """Return by how much dishes widen the variance of some contrasts, averaged over their directions.

    `model` is the variance of the parameters from the likelihood alone, `variance` the one with dish spread,
    both (p, p), `contrasts` (m, p). Rao & Scott (1981, J. Am. Stat. Assoc. 76:221–230), first-order correction.
    """
    narrow, wide = contrasts @ model @ contrasts.T, contrasts @ variance @ contrasts.T
    size = np.sqrt(np.diag(narrow))
    size = np.where(size > 0, size, 1.0)
    narrow, wide = narrow / np.outer(size, size), wide / np.outer(size, size)
    inverse = np.linalg.pinv(narrow, rcond=1e-10, hermitian=True)
    rank = float(np.trace(inverse @ narrow))
    return float(np.trace(inverse @ wide)) / rank if rank > 0.5 else 1.0


def scaled_aic(loglik: float, size: int, scale: float) -> float:
    """Return −2·log likelihood/scale + 2·parameters."""
    return -2 * loglik / scale + 2 * size


@dataclass(frozen=True, kw_only=True)
class RatioTest:
    """A scaled likelihood-ratio test: `statistic` is referred to F(`extra`, `dof`)."""

    statistic: float
    extra: int
    dof: float
    scale: float
    p: float


def ratio_test(smaller: float, larger: float, *, extra: int, scale: float, dof: float) -> RatioTest:
    """Return the test of a smaller model within a larger one, from their log likelihoods.

    `extra` parameters are tested; `dof` degrees of freedom are behind the `scale`.
    """
    nu = dof if dof > 0 else _ALL_DISHES
    statistic = max(0.0, 2 * (larger - smaller)) / scale / max(extra, 1)
    p = float(fdtrc(extra, nu, statistic)) if extra > 0 else 1.0
    return RatioTest(statistic=statistic, extra=extra, dof=nu, scale=scale, p=p)
