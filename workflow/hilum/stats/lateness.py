"""Whether a span lasts longer than chance explains, judged by the others alone."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri_exp, stdtr

from hilum.stats.arrays import Array
from hilum.stats.durations import FEWEST, NEARLY, Lasting, Spans, climbed, each_family
from hilum.stats.interval_censored import log_hours


def chance_beyond(spans: Spans, rows: np.ndarray, times: Array) -> Array:
    """Return the chance that a span lasts longer than `times` (b,), each judged by all spans but that in its row of `rows` (b,).

    Of the families that fit the others about as well the one that is most patient counts, and what is not known of the
    spread widens it as Student's t does a normal forecast. It is 1 where fewer than five other spans have ended.
    """
    if not len(rows):
        return np.ones(0)
    others = spans.ended.sum() - spans.ended[rows]
    enough = others >= FEWEST
    if not enough.any():
        return np.ones(len(rows))
    chance, loglik = _beyond(each_family(spans), rows, times, others)
    nearly = 2 * (loglik.max(0) - loglik) <= NEARLY
    return np.where(enough, np.where(nearly, chance, 0.0).max(0), 1.0)


def _beyond(
    fits: tuple[Lasting, ...], rows: np.ndarray, times: Array, others: Array
) -> tuple[Array, Array]:
    """Return the chance by each family, and its log likelihood of the other spans, both (families, b)."""
    cells, F, b = fits[0].cells, len(fits), len(rows)
    count = np.tile(cells.count, (b, 1))
    count[np.arange(b), cells.kind[rows]] -= 1
    top = np.array([(f.log_median, f.log_sigma) for f in fits])
    families, which = tuple(f.family for f in fits), np.repeat(np.arange(F), b)
    point, there = climbed(cells, families, which, top[which], np.tile(count, (F, 1)))
    z = (np.tile(log_hours(times), F) - point[:, 0]) / np.exp(point[:, 1])
    n = np.maximum(others, 2.0)
    log_sf = np.array([f.log_sf(own) for f, own in zip(families, z.reshape(F, b), strict=True)])
    score = -ndtri_exp(np.minimum(log_sf, -1e-12)) / np.sqrt(1 + 1 / n)
    return np.asarray(stdtr(n - 1, -score)), there.value.reshape(F, b)
