"""The mass of a thousand seeds from replicates that were counted and weighed, and how far these differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, stdtrit

# International Rules for Seed Testing, chapter 10, from memory: eight replicates of 100 seeds, whose coefficient of
# variation may be 4.0 % (6.0 % for chaffy grasses); else eight more
REPLICATES, SEEDS_EACH, TOLERATED_CV_PCT = 8, 100, 4.0


@dataclass(frozen=True)
class ThousandSeed:
    """The mass of a thousand seeds (g) with its limits, and the coefficient of variation between replicates (%).

    Limits are nan for one replicate.
    """

    mass_g: float
    low_g: float
    high_g: float
    cv_pct: float
    cv_low_pct: float
    cv_high_pct: float
    replicates: int


def thousand_seed_mass(mass_mg: ArrayLike, seeds: ArrayLike, *, confidence: float) -> ThousandSeed:
    """Return the mass of a thousand seeds from replicates of `seeds` seeds each, (k,).

    The mass of one seed is r = Σm/Σn; its variance that of a ratio, k/(k − 1)·Σ(m − r·n)²/(Σn)², its limits those of
    Student's t. For replicates of one size that is the mean with its ordinary interval. The coefficient of variation is sd/mean of
    the masses of one seed, its limits those of the variance of a normal distribution, the mean taken as known.
    """
    m, n = np.asarray(mass_mg, dtype=float), np.asarray(seeds, dtype=float)
    k, each = len(m), m / n
    r = m.sum() / n.sum()
    if k < 2:
        return ThousandSeed(float(r), np.nan, np.nan, np.nan, np.nan, np.nan, k)
    error = np.sqrt(k / (k - 1) * ((m - r * n) ** 2).sum()) / n.sum()
    half = float(stdtrit(k - 1, (1 + confidence) / 2) * error)
    cv = float(100 * each.std(ddof=1) / each.mean())
    tail = (1 - confidence) / 2
    low, high = (cv * float(np.sqrt((k - 1) / chdtri(k - 1, p))) for p in (tail, 1 - tail))
    return ThousandSeed(float(r), float(r) - half, float(r) + half, cv, low, high, k)


def tolerated_cv(replicates: int, seeds_each: float) -> float:
    """Return the coefficient of variation that the rules tolerate (%), nan where they say nothing."""
    rules = replicates >= REPLICATES and seeds_each == SEEDS_EACH
    return TOLERATED_CV_PCT if rules else np.nan
