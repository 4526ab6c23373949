"""Seeds weighed together: the share that took up water, where an opened bulk shows the full gain.

A bulk of which the fraction f imbibed gains film + f·A of its mass before soaking, an opened bulk of the same lot
film + A. So f is the ratio of their gains beyond the film; without the opened bulk, half a gain may be half of the
seeds or half of the water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats import proportions
from hilum.stats.arrays import Array

FILM, FILM_SD = 0.02, 0.01  # of the mass, after blotting (from memory of the habit in papers)
PLATEAU_SPREAD = 0.15  # sd between seeds of their final uptake, of it (common practice, no source)
# an opened bulk that gained less than this many films shows no full gain
_LEAST_FILMS = 5


@dataclass(frozen=True)
class Bulks:
    """Bulks weighed at one hour: gain of each, of its mass before soaking, and how many seeds it holds, shape (k,)."""

    gain: Array
    seeds: Array

    @property
    def mean(self) -> float:
        """Return the mean gain over all seeds."""
        return float(np.average(self.gain, weights=self.seeds))

    @property
    def variance(self) -> float:
        """Return the variance of the mean gain of seeds that all imbibed.

        Seeds differ in their final uptake; where bulks lie further apart than that, what they show counts.
        """
        expected = (PLATEAU_SPREAD * self.mean) ** 2 / self.seeds.sum()
        if len(self.gain) < 2:
            return float(expected)
        share = self.seeds / self.seeds.sum()
        seen = (share**2 * (self.gain - self.mean) ** 2).sum() * len(share) / (len(share) - 1)
        return float(max(expected, seen))


@dataclass(frozen=True)
class Fraction:
    """The impermeable fraction of some bulks with its limits."""

    value: float
    low: float
    high: float


def shows_full_gain(opened: Bulks) -> bool:
    """Return whether the opened bulks took up enough water to be a reference."""
    return opened.mean > _LEAST_FILMS * FILM


def impermeable(
    bulks: Bulks, opened: Bulks, *, confidence: float, correlation_when_unknown: float
) -> Fraction:
    """Return the impermeable fraction of the seeds in some bulks, with Wilson's limits.

    The limits hold for as many seeds as would vary as much as these do: seeds differ in their final uptake, and
    film and full gain are known only so well. Bulks spread like dishes.
    """
    full = opened.mean - FILM
    each = np.clip(1 - (bulks.gain - FILM) / full, 0.0, 1.0)
    groups = proportions.Groups((each * bulks.seeds)[None], bulks.seeds[None])
    rho = proportions.correlation(groups, unknown=correlation_when_unknown)
    threshold = proportions.spread(groups, rho).threshold(confidence)
    n = groups.total
    value = float(groups.fraction[0])
    # half a seed more on either side: a variance of 0 would claim to know it all
    p = (value * n + 0.5) / (n + 1)
    variance = p * (1 - p) / n + (1 - p) * PLATEAU_SPREAD**2 / n
    variance += ((1 - p) ** 2 * opened.variance + (p * FILM_SD) ** 2) / full**2
    alike = p * (1 - p) / variance
    low, high = proportions.wilson(value * alike, alike, threshold)
    return Fraction(value, float(low[0]), float(high[0]))
