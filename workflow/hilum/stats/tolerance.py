"""How far replicates of one sample may lie apart before something besides chance is at work."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr

from hilum.stats.arrays import Array

# Largest range, in points, between 100-seed replicates: 7 CFR 201.55(a), a public law. Mean percentage from 99
# down to 71 (and its mirror from 2 up to 30); four replicates, then two (99 and 98 have no entry for two).
_FOUR = (
    5,
    6,
    7,
    8,
    9,
    10,
    10,
    11,
    11,
    12,
    12,
    13,
    13,
    14,
    14,
    14,
    15,
    15,
    15,
    16,
    16,
    16,
    17,
    17,
    17,
)
_FOUR_OF = dict(zip(range(99, 70, -1), (*_FOUR, 17, 17, 18, 18), strict=True))
_TWO = (6, 6, 7, 8, 8, 9, 9, 9, 10, 10, 11, 11, 11, 11, 12, 12, 12, 13, 13, 13, 13, 13, 14, 14, 14)
_TWO_OF = dict(zip(range(97, 70, -1), (*_TWO, 14, 14), strict=True))
# from memory: the seed-testing rules' own table below 71 % for four replicates
_FOUR_OF |= dict.fromkeys(range(67, 71), 18) | dict.fromkeys(range(56, 67), 19)
_FOUR_OF |= dict.fromkeys(range(51, 56), 20)

_LEVEL = 0.975  # 2.5 % level, Miles (1963)
# Dishes of fewer seeds have no tolerance: the range of four dishes of 5 seeds could reach 89 points, that of dishes of one
# seed 199, and nothing could lie beyond it. From 10 seeds on chance goes beyond theory in 1 to 4 % of
# samples, where between 20 and 80 % germinate (simulated: two to eight dishes).
FEWEST_SEEDS = 10


@dataclass(frozen=True)
class Tolerance:
    """The largest range between replicates that chance allows, in fractions, and where that comes from."""

    largest: float
    published: bool


@lru_cache
def range_quantile(replicates: int, level: float = _LEVEL) -> float:
    """Return the quantile of the range of standard normal values, by halving its distribution function."""
    low, high = 0.0, 20.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _range_cdf(middle, replicates) < level else (low, middle)
    return (low + high) / 2


def _range_cdf(q: float, k: int) -> float:
    """Return k ∫ φ(z) [Φ(z) − Φ(z − q)]^(k − 1) dz."""
    z = np.linspace(-9.0, 9.0 + q, 2001)
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    inside: Array = density * (ndtr(z) - ndtr(z - q)) ** (k - 1)
    return float(k * inside.sum() * (z[1] - z[0]))


def theory(mean: float, replicates: int, seeds: float) -> float:
    """Return q·√(p(1 − p)/n), the range that chance exceeds in 2.5 % of samples (Miles 1963), a fraction."""
    return range_quantile(replicates) * float(np.sqrt(mean * (1 - mean) / seeds))


def tolerated(mean: float, replicates: int, seeds: float) -> Tolerance | None:
    """Return the tolerated range for replicates of `seeds` seeds with this mean fraction, None for fewer than 10 seeds.

    The published table where it applies (100 seeds, four or two replicates), else theory.
    """
    if seeds < FEWEST_SEEDS:
        return None
    table = {4: _FOUR_OF, 2: _TWO_OF}.get(replicates, {}) if seeds == 100 else {}
    percent = int(np.floor(100 * mean + 0.5))
    entry = table.get(max(percent, 101 - percent))
    if entry is None:
        return Tolerance(theory(mean, replicates, seeds), published=False)
    return Tolerance(entry / 100, published=True)
