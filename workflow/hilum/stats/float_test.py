"""A test that calls seeds bad, held against what became of them: its measures as hits of seeds.

Sensitivity is the share of the bad seeds that it calls bad, specificity the share of the good ones that it does not;
Youden's index (Youden 1950, Cancer 3:32–35) is their sum less 1, which is 0 for a test that tells nothing.
Whether bad seeds are called bad more often than good ones at all is Fisher's exact test (Fisher 1935, Journal of the Royal
Statistical Society 98:39–82): limits of a share of two or three seeds are too rough for a claim.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, ndtri

from hilum.stats import proportions
from hilum.stats.arrays import Array


@dataclass(frozen=True)
class Calls:
    """Seeds by call and fate at each hour and in each dish, arrays of shape (hours, D)."""

    bad_called_bad: Array
    good_called_bad: Array
    bad_called_good: Array
    good_called_good: Array

    @property
    def bad(self) -> Array:
        """Return the seeds that came to nothing."""
        return np.asarray(self.bad_called_bad + self.bad_called_good)

    @property
    def good(self) -> Array:
        """Return the seeds that were alive."""
        return np.asarray(self.good_called_bad + self.good_called_good)


@dataclass(frozen=True)
class Shares:
    """A share of seeds at each hour: `hits` of `seeds` and limits, all (hours,)."""

    hits: Array
    seeds: Array
    low: Array
    high: Array

    @property
    def value(self) -> Array:
        """Return the share, 0 where there are no seeds."""
        return np.asarray(self.hits / np.where(self.seeds > 0, self.seeds, 1.0))


@dataclass(frozen=True)
class Index:
    """Youden's index and its limits, all (hours,)."""

    value: Array
    low: Array
    high: Array


def shares(hits: Array, seeds: Array, *, confidence: float, unknown: float) -> Shares:
    """Return shares with Wilson's limits, mended near 0 and 1, widened for the spread between dishes.

    `hits` and `seeds` are (hours, D); the hours are looks at the same seeds, and their dishes count once. `unknown` is
    the correlation within dishes assumed where the data show none.
    """
    groups = proportions.Groups(hits, seeds)
    threshold = np.full(len(hits), ndtri(0.5 + confidence / 2) ** 2)
    if ((seeds > 0).sum(-1) > 1).any():
        found = proportions.correlation(groups, unknown=unknown)
        dof = np.maximum(found.dof / max(len(hits), 1), 1.0)
        spread = proportions.spread(groups, proportions.Correlation(found.rho, dof, found.known))
        threshold = np.maximum(threshold, spread.threshold(confidence))
    found, total = hits.sum(-1), groups.total
    return Shares(found, total, *proportions.held_near_ends(found, total, threshold, confidence))


def measures(calls: Calls, *, confidence: float, unknown: float) -> dict[str, Shares]:
    """Return the measures of the test at each hour."""
    called_bad = calls.bad_called_bad + calls.good_called_bad
    called_good = calls.bad_called_good + calls.good_called_good
    parts = {
        "sensitivity": (calls.bad_called_bad, calls.bad),
        "specificity": (calls.good_called_good, calls.good),
        "predictive_value_bad": (calls.bad_called_bad, called_bad),
        "predictive_value_good": (calls.good_called_good, called_good),
        "good_called_bad": (calls.good_called_bad, calls.good),
    }
    return {
        name: shares(hits, seeds, confidence=confidence, unknown=unknown)
        for name, (hits, seeds) in parts.items()
    }


def youden(sensitivity: Shares, good_called_bad: Shares) -> Index:
    """Return Youden's index: the share of bad seeds called bad, less that of good ones."""
    ends = [(s.value, s.low, s.high) for s in (sensitivity, good_called_bad)]
    values, lows, highs = zip(*ends, strict=True)
    return Index(*proportions.difference(values, lows, highs))


def chance(bad_called_bad: int, bad: int, called_bad: int, seeds: int) -> tuple[float, float]:
    """Return the chances of as many bad seeds called bad, or more, and of as many or fewer, by a test that tells nothing.

    Of `seeds` in all `bad` are bad, and `called_bad` were called so. The number that is both is hypergeometric.
    """
    low, high = max(0, bad + called_bad - seeds), min(bad, called_bad)
    number: Array = np.arange(low, high + 1.0)
    log_p = (
        _log_choose(bad, number)
        + _log_choose(seeds - bad, called_bad - number)
        - _log_choose(seeds, called_bad)
    )
    p = np.exp(log_p)
    more, fewer = p[number >= bad_called_bad].sum(), p[number <= bad_called_bad].sum()
    return float(min(more, 1.0)), float(min(fewer, 1.0))


def _log_choose(n: Array | int, k: Array | int) -> Array:
    n, k = np.asarray(n, dtype=float), np.asarray(k, dtype=float)
    return np.asarray(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def seeds_wanted(
    called_bad: tuple[float, float], seeds: tuple[float, float], *, confidence: float, power: float
) -> float:
    """Return how many seeds would show a difference as large as the one found; inf where there is none.

    `called_bad` of `seeds`: bad ones, good ones. One seed is added on each side, so that a share of few seeds is not taken
    at its word, and good and bad seeds stay as common as they were.
    """
    found, n = np.array(called_bad), np.array(seeds)
    share = (found + 1) / (n + 2)
    gain = share[0] - share[1]
    if gain <= 0:
        return np.inf
    reach = ndtri(0.5 + confidence / 2) + ndtri(power)
    variance = (share * (1 - share) / (n / n.sum())).sum()
    return float(reach**2 * variance / gain**2)
