"""What is known of the error of a weighing before the fit: from the digits of the masses, and from seeds that get lighter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.imbibition_likelihood import Weighings

_CLEARLY = 1.5  # times what is promised; less lies within what the prior allows
# the median size of a difference of two normal readings, in sd of one
_MEDIAN_FALL = 0.6745 * np.sqrt(2)
# sd of the logarithm of the scatter: falls of seeds that swell at the same time come out small (a guess), and the
# median of n normal differences has a sampling error of 1.17/√n
_SD, _SD_OF_ONE = 0.5, 1.17


@dataclass(frozen=True)
class Balance:
    """What is known of the balance before any fit: its sd, mg, and the sd of its logarithm."""

    sd_mg: float
    log_sd: float


def as_seen(weighings: Weighings, promised: Balance, *, film: float) -> Balance | None:
    """Return the balance as seeds that get lighter show it, None where it may be as its digits promise.

    Water gets into a seed, not out: from one weighing to the next it gets lighter by the error of the balance, or by what
    blotting left, which differs by `film`, of the mass, from one reading to another.
    """
    falls = -np.diff(weighings.mass_mg, axis=1)
    falls = falls[falls > 0]  # nan is not
    if not len(falls):
        return None
    scatter = float(np.median(falls) / _MEDIAN_FALL)
    if scatter <= _CLEARLY * np.hypot(promised.sd_mg, film * _lightest(weighings)):
        return None
    return Balance(scatter, float(np.hypot(_SD, _SD_OF_ONE / np.sqrt(len(falls)))))


def _lightest(weighings: Weighings) -> Array:
    """Return the mean mass before soaking of the group of lightest seeds, mg, whose films hide least."""
    group = weighings.group
    return np.asarray((np.bincount(group, weighings.mass_mg[:, 0]) / np.bincount(group)).min())
