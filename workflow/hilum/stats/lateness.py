"""Whether a span lasts longer than chance explains, judged by the others alone."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri_exp, stdtr

from hilum.stats.ascent import Surface, climb
from hilum.stats.durations import (
    FEWEST,
    HIGHEST,
    LOWEST,
    NEARLY,
    Lasting,
    Spans,
    each_family,
    surface_of,
)
from hilum.stats.families import Array
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
    each = [_beyond(f, rows, times, others) for f in each_family(spans)]
    chance, loglik = (np.stack(part) for part in zip(*each, strict=True))
    nearly = 2 * (loglik.max(0) - loglik) <= NEARLY
    return np.where(enough, np.where(nearly, chance, 0.0).max(0), 1.0)


def _beyond(fitted: Lasting, rows: np.ndarray, times: Array, others: Array) -> tuple[Array, Array]:
    """Return the chance by one family, and its log likelihood of the other spans, both (b,)."""
    cells = fitted.cells
    count = np.tile(cells.count, (len(rows), 1))
    count[np.arange(len(rows)), cells.kind[rows]] -= 1
    point, loglik = _climbed(fitted, count)
    z = (log_hours(times) - point[:, 0]) / np.exp(point[:, 1])
    n = np.maximum(others, 2.0)
    score = -ndtri_exp(np.minimum(fitted.family.log_sf(z), -1e-12)) / np.sqrt(1 + 1 / n)
    return np.asarray(stdtr(n - 1, -score)), loglik


def _climbed(fitted: Lasting, count: Array) -> tuple[Array, Array]:
    """Return the maximum (b, 2) for each way of counting the kinds of span, (b, k), and its log likelihood (b,)."""
    top = np.array([fitted.log_median, fitted.log_sigma])
    # a third coordinate, held by its bounds, says whose counts a point belongs to
    whose = np.arange(len(count), dtype=float)[:, None]

    def at(point: Array) -> Surface:
        own = count[point[:, 2].astype(int)]
        found = surface_of(fitted.cells, fitted.family, point[:, :2], own)
        return Surface(
            found.value,
            np.pad(found.gradient, ((0, 0), (0, 1))),
            np.pad(found.information, ((0, 0), (0, 1), (0, 1))),
        )

    start, low, high = (
        np.hstack((np.tile(ends, (len(count), 1)), whose)) for ends in (top, LOWEST, HIGHEST)
    )
    found = climb(at, start, low, high)
    return found[:, :2], at(found).value
