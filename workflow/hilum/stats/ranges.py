"""Specimens held against a range that was published for a taxon.

A range is no distribution. All that is assumed of it is that it covers at least a share c of the specimens of
its taxon, so that of n specimens of that taxon the number outside is at most binomial with 1 − c. More outside
than that explains speaks against the taxon; nothing speaks for it.
"""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtrc, betaincinv

from hilum.stats.arrays import Array

MOST_SPECIMENS = 2000  # nobody measures more by hand
_EVEN = 1e-12  # rounding of a bound such as 1 − 0.9


def clopper_pearson(hits: ArrayLike, seeds: ArrayLike, *, confidence: float) -> tuple[Array, Array]:
    """Return the exact limits of hits/seeds; 0 and 1 without any seeds.

    Each limit is the share at which as many hits, or more extreme ones, have a chance of (1 − confidence)/2.
    # Clopper and Pearson (1934)
    """
    side = (1 - confidence) / 2
    x, n = np.asarray(hits, dtype=float), np.asarray(seeds, dtype=float)
    low = betaincinv(np.maximum(x, 1), n - x + 1, side)
    high = betaincinv(x + 1, np.maximum(n - x, 1), 1 - side)
    return np.where(x > 0, low, 0.0), np.where(x < n, high, 1.0)


def chance(outside: ArrayLike, specimens: ArrayLike, *, allowed: float) -> Array:
    """Return the chance of so many or more of the specimens outside, where `allowed` of the taxon lies outside."""
    k, n = np.asarray(outside, dtype=float), np.asarray(specimens, dtype=int)
    p = bdtrc(np.maximum(k - 1, 0), np.maximum(n, 1), allowed)
    return np.asarray(np.where(k > 0, p, 1.0))


def least_outside(outside: int, specimens: int, *, level: float) -> float:
    """Return the share of the lot that lies outside at least: a one-sided exact limit at `level`."""
    return float(betaincinv(outside, specimens - outside + 1, level)) if outside else 0.0


def least_between(specimens: int, *, confidence: float) -> float:
    """Return the share of the lot that lies between the smallest and the largest specimen at least, 0 for fewer than 2.

    It is the b at which n·b^(n − 1) − (n − 1)·b^n = 1 − confidence, for any continuous distribution.
    # Wilks (1941)
    """
    if specimens < 2:
        return 0.0
    return float(betaincinv(specimens - 1, 2, 1 - confidence))


def fewest_outside(specimens: ArrayLike, *, allowed: float, level: float) -> np.ndarray:
    """Return how many of the specimens must lie outside to speak against a taxon; one more than all where none do."""
    n = np.asarray(specimens, dtype=int)
    low, high = np.zeros_like(n), n + 1
    # between `low`, which is not enough, and `high`, which is
    while (high - low > 1).any():
        middle = (low + high) // 2
        enough = chance(middle, n, allowed=allowed) <= level + _EVEN
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.asarray(high)


def power(outside: float, specimens: ArrayLike, *, allowed: float, level: float) -> Array:
    """Return the chance that specimens of a lot speak against a taxon, where `outside` of the lot lies outside."""
    enough = fewest_outside(specimens, allowed=allowed, level=level)
    sure = chance(enough, specimens, allowed=outside)
    return np.where(enough > np.asarray(specimens), 0.0, sure)


def noticed(specimens: int, *, allowed: float, level: float, power_wanted: float) -> float:
    """Return the share outside from which on such a sample speaks against a taxon with the wanted power, nan for none."""
    enough = int(fewest_outside(specimens, allowed=allowed, level=level))
    if enough > specimens:
        return np.nan
    return float(betaincinv(enough, specimens - enough + 1, power_wanted))


@cache
def specimens_wanted(outside: float, *, allowed: float, level: float, power_wanted: float) -> float:
    """Return from how many specimens on the wanted power is kept, inf where no number of use does.

    The power of an exact test goes up and down as specimens are added, so the last fall below the wanted one counts.
    """
    if outside <= allowed:
        return np.inf
    number = np.arange(1, MOST_SPECIMENS + 1)
    falls = power(outside, number, allowed=allowed, level=level) < power_wanted
    last = number[falls][-1] if falls.any() else 0
    return np.inf if last == MOST_SPECIMENS else float(last + 1)


def printed_step(*ends: float) -> float:
    """Return the step to which ends were printed, as far as their decimals tell: 0.1 for 6.8 and 7, 1 for 10 and 20."""
    decimals = [-int(Decimal(f"{end:.10g}").normalize().as_tuple().exponent) for end in ends]
    return float(10.0 ** -max(0, *decimals))


def share_beyond(of: tuple[float, float], other: tuple[float, float]) -> float:
    """Return the share of the first range that lies outside the second, taken as if evenly filled."""
    low, high = of
    if high <= low:
        return 0.0 if other[0] <= low <= other[1] else 1.0
    shared = max(min(high, other[1]) - max(low, other[0]), 0.0)
    return 1 - shared / (high - low)
