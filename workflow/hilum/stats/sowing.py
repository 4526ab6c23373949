"""How many seeds to sow for a wanted number of germinated ones.

Of n seeds in dishes of m, each germinating with the chance P and correlated by rho within a dish, n·P germinate on
average with the variance n·P(1 − P)·(1 + (min(m, n) − 1)·rho). A beta-binomial over all n seeds with the correlation
rho_n = (min(m, n) − 1)·rho/(n − 1) has the same mean and variance. P itself is known with an
uncertainty: the chance of k or more is the mean over what P may be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from hilum.stats.arrays import Array

MOST_PER_SEED = 100.0  # seeds sown for each wanted; where even these are too few no number is named
_LEAST_CHANCE = 1e-12
_LEAST_CORRELATION = 1e-7  # from where on a beta-binomial is a binomial to all digits that matter


@dataclass(frozen=True)
class Chances:
    """What the chance of a seed may be: `share` and intra-dish `correlation`, shape (nodes, …), `weight` (nodes,).

    Weights add up to 1.
    """

    share: Array
    correlation: Array
    weight: Array


def surely(seeds: Array, wanted: int, chances: Chances, dish: float) -> Array:
    """Return the chance that `wanted` or more of `seeds` (…) germinate, sown in dishes of `dish` seeds."""
    n = np.asarray(seeds, dtype=float)
    p = np.clip(chances.share, _LEAST_CHANCE, 1 - _LEAST_CHANCE)
    shared = (np.minimum(dish, n) - 1) / np.maximum(n - 1, 1) * chances.correlation
    alike = 1 / np.clip(shared, _LEAST_CORRELATION, None) - 1
    fewer = _fewer(n, wanted, p * alike, (1 - p) * alike)
    return np.asarray(np.einsum("u,u...->...", chances.weight, 1 - fewer))


def _fewer(n: Array, wanted: int, a: Array, b: Array) -> Array:
    """Return the chance of fewer than `wanted` under the beta-binomial(n, a, b), n at least `wanted`.

    p(0) = B(a, b + n)/B(a, b), p(i + 1)/p(i) = (n − i)(a + i)/((i + 1)(b + n − 1 − i)).
    """
    start = gammaln(b + n) - gammaln(b) - gammaln(a + b + n) + gammaln(a + b)
    i = np.arange(wanted - 1).reshape(-1, *(1,) * a.ndim)
    steps = np.log((n - i) / (i + 1) * (a + i) / (b + n - 1 - i))
    logs = np.concatenate((np.zeros((1, *a.shape)), np.cumsum(steps, axis=0))) + start
    return np.asarray(np.minimum(np.exp(logs).sum(0), 1.0))


def needed(wanted: int, chances: Chances, *, dish: float, confidence: float) -> Array:
    """Return the fewest seeds of which `wanted` germinate at that confidence, shape (…); nan where none suffice."""
    shape = chances.share.shape[1:]
    most = np.full(shape, np.ceil(MOST_PER_SEED * wanted))
    enough = surely(most, wanted, chances, dish) >= confidence
    some = Chances(chances.share[:, enough], chances.correlation[:, enough], chances.weight)
    low, high = np.full(most[enough].shape, wanted - 1.0), most[enough]
    while (high - low).max(initial=0.0) > 1:
        middle = np.maximum(np.floor((low + high) / 2), wanted)
        reached = surely(middle, wanted, some, dish) >= confidence
        high = np.where(reached, middle, high)
        low = np.where(reached, low, middle)
    seeds = np.full(shape, np.nan)
    seeds[enough] = high
    return seeds
