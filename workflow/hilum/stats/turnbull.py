"""Events seen only between two looks: their distribution, and what is sure of it at each look.

Event i happened after `left` and not after `right` (hours): `left` is −inf where it had happened at the first look,
`right` inf where it had not at the last. The distribution is the nonparametric maximum of the likelihood,
found by self-consistency (Turnbull 1976, Journal of the Royal Statistical Society B 38:290–295).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array

_MOST_STEPS, _CLOSE = 5000, 1e-10
_LOOK_EVERY = 10  # steps: to look costs as much as to step


@dataclass(frozen=True)
class Distribution:
    """The `share` of events that had happened by each of `hours`, both (k,); it rises evenly between them."""

    hours: Array
    share: Array

    def quantile(self, level: float) -> float:
        """Return the hour by which `level` of the events have happened, nan where that was not reached."""
        hours, share = self.hours, self.share
        if not len(hours) or share[-1] < level:
            return np.nan
        # nothing happens before the start
        if hours[0] > 0:
            hours, share = np.append(0.0, hours), np.append(0.0, share)
        after = int(np.argmax(share >= level))
        if after == 0:
            return float(hours[0])
        part = (level - share[after - 1]) / (share[after] - share[after - 1])
        return float(hours[after - 1] + part * (hours[after] - hours[after - 1]))


def distribution(left: Array, right: Array) -> Distribution:
    """Return the distribution of events in (left, right], both (n,)."""
    ends = np.concatenate((left, right))
    hours = np.unique(ends[np.isfinite(ends)])
    if not len(hours):
        return Distribution(hours, hours)
    kinds, seen = np.unique(np.stack((left, right), axis=1), axis=0, return_counts=True)
    starts, stops = np.append(-np.inf, hours), np.append(hours, np.inf)
    possible = ((kinds[:, :1] <= starts) & (kinds[:, 1:] >= stops)).astype(float)
    mass, total = np.full(len(starts), 1 / len(starts)), seen.sum()
    for step in range(_MOST_STEPS):
        new = mass * ((seen / (possible @ mass)) @ possible) / total
        before, mass = mass, new
        if step % _LOOK_EVERY == 0 and np.abs(mass - before).max() < _CLOSE:
            break
    return Distribution(hours, np.minimum(np.cumsum(mass[:-1]), 1.0))


def happened(right: Array, hours: Array) -> np.ndarray:
    """Return which events had surely happened by each hour, (n, k)."""
    return np.asarray(right[:, None] <= hours)


def not_yet(left: Array, hours: Array) -> np.ndarray:
    """Return which events had surely not happened by each hour, (n, k)."""
    return np.asarray(left[:, None] >= hours)


def quantile_limits(hours: Array, low: Array, high: Array, level: float) -> tuple[float, float]:
    """Return limits of a quantile from the limits of the share that had happened by each hour, all (k,).

    It lies after the last hour at which the share is surely below `level`, and not after the first at which it is surely
    above; 0 and nan where there is none. The share never falls, so one look alone decides each end
    (Brookmeyer and Crowley 1982, Biometrics 38:29–41).
    """
    before, beyond = hours[high < level], hours[low > level]
    return float(before.max(initial=0.0)), float(beyond.min()) if len(beyond) else np.nan
