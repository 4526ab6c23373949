"""Logit regression of dish counts by binomial likelihood, and two ways to scale it for dish spread.

Dish j holds r_j hits of n_j seeds; logit p = X b. The quasi-binomial multiplies variances by the Pearson
scale X²/df; Williams (1982, Applied Statistics 31:144-148, from memory) divides the weight of a dish by
1 + (n − 1) phi and chooses phi so that X² = df.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.linalg import pinvh
from scipy.special import expit, xlogy

from hilum.stats.arrays import Array

Outcome = Literal["fitted", "separated"]
_MOST_STEPS = 60
_SMALLEST_CHANGE = 1e-10  # of the deviance
_FARTHEST = 30.0  # of logit p: beyond it a fraction is 0 or 1 but for rounding
_SURE = 12.0  # a logit that seeds in dishes cannot tell from a fraction of 0 or 1


@dataclass(frozen=True)
class DishCounts:
    """Hits r and seeds n of each dish, (J,), with the design matrix, (J, p); every dish holds seeds."""

    hits: Array
    seeds: Array
    design: Array


@dataclass(frozen=True, kw_only=True)
class BinomialFit:
    """A fitted regression: coefficients (p,), covariance (p, p), deviance, Pearson's X² and degrees of freedom.

    `separated`: hits or misses are all on one side, so that a coefficient has no finite estimate; deviance
    and X² are the limits, and neither coefficients nor covariance mean anything.
    """

    outcome: Outcome
    coefficients: Array
    covariance: Array
    deviance: float
    pearson: float
    dof: int

    @property
    def scale(self) -> float:
        """Return the quasi-binomial scale X²/df, nan without degrees of freedom."""
        return self.pearson / self.dof if self.dof > 0 else float("nan")


@dataclass(frozen=True)
class WilliamsFit:
    """Williams' fit: the weighted regression and phi, the variance factor 1 + (n − 1) phi."""

    regression: BinomialFit
    phi: float


def binomial(data: DishCounts, weights: Array | None = None) -> BinomialFit:
    """Return the fit of highest binomial likelihood, by iteratively reweighted least squares.

    `weights` (J,) multiply what each dish tells. Columns of the design may depend on each other.
    """
    weight = np.ones_like(data.seeds) if weights is None else weights
    eta = np.log((data.hits + 0.5) / (data.seeds - data.hits + 0.5))
    deviance, b = np.inf, np.asarray(np.zeros(data.design.shape[1]))
    for _ in range(_MOST_STEPS):
        p = expit(eta)
        told = np.maximum(weight * data.seeds * p * (1 - p), 1e-12)
        working = eta + (data.hits - data.seeds * p) * weight / told
        root = np.sqrt(told)[:, None]
        b = np.asarray(np.linalg.lstsq(root * data.design, root[:, 0] * working, rcond=1e-11)[0])
        eta = np.clip(data.design @ b, -_FARTHEST, _FARTHEST)
        last, deviance = deviance, _deviance(data, expit(eta), weight)
        if abs(last - deviance) < _SMALLEST_CHANGE * (1 + deviance):
            break
    p = expit(eta)
    variance = data.seeds * p * (1 - p)
    information = (data.design * (weight * variance)[:, None]).T @ data.design
    miss = data.hits - data.seeds * p
    return BinomialFit(
        outcome="separated" if np.abs(eta).max() > _SURE else "fitted",
        coefficients=b,
        covariance=np.asarray(pinvh(information)),
        deviance=deviance,
        pearson=float((weight * miss**2 / np.maximum(variance, 1e-12)).sum()),
        dof=len(data.hits) - int(np.linalg.matrix_rank(data.design)),
    )


def _deviance(data: DishCounts, p: Array, weight: Array) -> float:
    hits, misses, n = data.hits, data.seeds - data.hits, data.seeds
    part = xlogy(hits, hits / (n * p)) + xlogy(misses, misses / (n * (1 - p)))
    return float(2 * (weight * part).sum())


def williams(data: DishCounts) -> WilliamsFit:
    """Return the fit whose weights 1/(1 + (n − 1) phi) make Pearson's X² its degrees of freedom.

    phi is 0 where the dishes differ less than a binomial.
    """

    def at(phi: float) -> BinomialFit:
        return binomial(data, 1 / (1 + (data.seeds - 1) * phi))

    low, high = 0.0, 1.0
    plain = at(low)
    if plain.outcome == "separated" or plain.pearson <= plain.dof:
        return WilliamsFit(plain, 0.0)
    for _ in range(50):  # X² falls as phi rises; halving 50 times leaves the last digits of phi
        middle = (low + high) / 2
        fitted = at(middle)
        low, high = (middle, high) if fitted.pearson > fitted.dof else (low, middle)
    return WilliamsFit(at((low + high) / 2), (low + high) / 2)
