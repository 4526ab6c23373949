"""What stands in one tray shares its conditions: how far that widens limits of how long something lasts.

A tray moves the logarithm of all its spans together. Each tray counts as a dish does in `spread.py`, with the score of its spans
in (log median, log sigma): the variance of a quantile is the wider of that with the trays' component on log time, estimated by
moments, and the cluster-robust CR2. CR2 is left out where it has less than half of the trays' degrees of freedom: of the latest
twentieth, which few trays hold, its limits say nothing, and without it limits hold (simulated: 3, 5 and 8 trays, 93 to 99 in 100).
Limits lie t standard errors off on the logarithm: as far as few trays reach, a likelihood ratio whose spread may grow as
well bends away from its parabola.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hilum.stats import proportions, spread
from hilum.stats.arrays import Array
from hilum.stats.durations import Lasting, Points, surface_of

# of the trays' degrees of freedom: with fewer CR2 knows its variance too badly
_TRUSTED = 0.5


def reach(fitted: Lasting, tray: NDArray[np.int_], levels: Array, confidence: float) -> Array:
    """Return how far the logarithm of the quantile at each of `levels` (k,) may lie off, (k,).

    `tray` (n,) numbers the trays of the spans; of one alone nothing can be told, and it is 0.
    """
    trays = np.unique(tray)
    if len(trays) < 2:
        return np.zeros(len(levels))
    dishes = _scores(fitted, [tray == one for one in trays])
    pooled = spread.components(spread.moments(dishes))
    found = spread.Intervals.of(dishes, pooled)
    sigma = float(np.exp(fitted.log_sigma))
    slopes = [np.array([1.0, sigma * z]) for z in fitted.family.quantile(np.asarray(levels))]
    told = [found.threshold(s, confidence=confidence) for s in slopes]
    squared = [t.value if t.dof >= _TRUSTED * (len(trays) - 1) else t.pooled for t in told]
    variances = np.array([float(t.model_variance) for t in told])
    return np.asarray(np.sqrt(np.array(squared, dtype=float) * variances))


def _scores(fitted: Lasting, members: list[NDArray[np.bool_]]) -> spread.DishScores:
    """Return score and information of each tray in slots 0 and 1, log median and log sigma."""
    cells, G = fitted.cells, len(members)
    count = np.array([np.bincount(cells.kind[m], minlength=len(cells.count)) for m in members])
    at = np.tile([fitted.log_median, fitted.log_sigma], (G, 1))
    top = surface_of(cells, Points.of(fitted.family, at), count.astype(float))
    return spread.DishScores(
        score=np.pad(top.gradient, ((0, 0), (0, 1))),
        information=np.pad(top.information, ((0, 0), (0, 1), (0, 1))),
        jacobian=np.tile(np.eye(3, 2), (G, 1, 1)),
        fraction=np.zeros(G),
        single=np.array([m.sum() <= 1 for m in members], dtype=bool),
    )


def share_limits(
    happened: NDArray[np.bool_], tray: NDArray[np.int_], confidence: float
) -> tuple[Array, Array]:
    """Return Wilson limits, widened for the trays, of the share of spans (n,) that had happened by each time, (n, k) to (k,)."""
    members = [tray == one for one in np.unique(tray)]
    hits = np.array([happened[m].sum(0) for m in members], dtype=float).T
    seeds = np.broadcast_to(np.array([m.sum() for m in members], dtype=float), hits.shape)
    groups = proportions.Groups(hits, seeds)
    found = proportions.spread(groups, proportions.correlation(groups, unknown=0.0))
    return proportions.wilson(hits.sum(-1), groups.total, found.threshold(confidence))
