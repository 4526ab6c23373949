"""The usual indices of germination speed, by their published definitions, one dish at a time.

n_i seeds newly germinated at inspection t_i (hours), N = Σ n_i. They all leave out the seeds that did not
germinate. Definitions as collected by Ranal and Santana (2006), Revista Brasileira de Botânica 29:1–11.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.special import xlogy

from hilum.stats.arrays import Array


def time_to_half_of_germinated(n: Array, t: Array) -> Array:
    """Return the interpolated time of seed N/2 in hours (Farooq et al. 2005)."""
    return _interpolated(n, t, n.sum(-1) / 2)


def time_to_middle_seed(n: Array, t: Array) -> Array:
    """Return the interpolated time of seed (N + 1)/2 in hours (Coolbear et al. 1984)."""
    return _interpolated(n, t, (n.sum(-1) + 1) / 2)


def mean_germination_time(n: Array, t: Array) -> Array:
    """Return the mean germination time Σ n t/N in hours, (…); nan where nothing germinated."""
    return _over((n * t).sum(-1), n.sum(-1))


def mean_germination_rate(n: Array, t: Array) -> Array:
    """Return 1/mean germination time, per hour."""
    return _over(n.sum(-1), (n * t).sum(-1))


def coefficient_of_velocity(n: Array, t: Array) -> Array:
    """Return the coefficient of velocity 100·N/Σ n t, in % per hour (Kotowski 1926)."""
    return 100 * mean_germination_rate(n, t)


def entropy_of_times(n: Array, t: Array) -> Array:  # noqa: ARG001 (one signature for all)
    """Return −Σ f log2 f in bits, f = n/N."""
    f = n / np.where(n.sum(-1) > 0, n.sum(-1), 1.0)[..., None]
    return np.where(n.sum(-1) > 0, -xlogy(f, f).sum(-1) / np.log(2), np.nan)


def synchrony(n: Array, t: Array) -> Array:  # noqa: ARG001
    """Return Σ C(n, 2)/C(N, 2), 0 to 1; nan below two germinated seeds."""
    N = n.sum(-1)
    return _over((n * (n - 1)).sum(-1), N * (N - 1))


def germination_speed_index(n: Array, t: Array) -> Array:
    """Return Σ n/t in seeds per hour (Maguire 1962); 0 where nothing germinated."""
    return np.asarray((n / np.where(t > 0, t, np.inf)).sum(-1))


INDICES: dict[str, Callable[[Array, Array], Array]] = {
    "time_to_half_of_germinated": time_to_half_of_germinated,
    "time_to_middle_seed": time_to_middle_seed,
    "mean_germination_time": mean_germination_time,
    "mean_germination_rate": mean_germination_rate,
    "coefficient_of_velocity": coefficient_of_velocity,
    "entropy_of_times": entropy_of_times,
    "synchrony": synchrony,
    "germination_speed_index": germination_speed_index,
}


def _over(top: Array, bottom: Array) -> Array:
    return np.where(bottom > 0, top / np.where(bottom > 0, bottom, 1.0), np.nan)


def _interpolated(n: Array, t: Array, target: Array) -> Array:
    """Return t_i + (target − n_i)(t_j − t_i)/(n_j − n_i), n cumulative and n_i < target ≤ n_j, from 0 at 0 h."""
    zero = np.zeros((*n.shape[:-1], 1))
    cumulative = np.concatenate((zero, np.cumsum(n, axis=-1)), axis=-1)
    hours = np.concatenate((zero, np.broadcast_to(t, n.shape)), axis=-1)
    j = np.maximum((cumulative < target[..., None]).sum(-1), 1)
    j = np.minimum(j, n.shape[-1])[..., None]
    n_i, n_j = (np.take_along_axis(cumulative, k, -1)[..., 0] for k in (j - 1, j))
    t_i, t_j = (np.take_along_axis(hours, k, -1)[..., 0] for k in (j - 1, j))
    step = _over(target - n_i, n_j - n_i)
    return np.where(n.sum(-1) > 0, t_i + step * (t_j - t_i), np.nan)
