"""Harm beyond what a lot brings with it: dead and abnormal seeds that neither age nor opening explains.

Opening a coat also brings to light embryos that were dead before. Of the seeds sown without any treatment d0 are found
dead, of those opened by hand r. A dose that opens the share lambda = 1 − H/H0 of the closed coats (H, H0: seeds still
hard after it and without it) shows (1 − lambda)·d0 + lambda·r dead seeds without harming any; harm is what it shows more.
This takes dead embryos to be as common behind coats that open early as behind those that open late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats import proportions
from hilum.stats.arrays import Array


@dataclass(frozen=True)
class Limited:
    """Shares with their limits, shape (k,), and z², the threshold that made them, for errors to first order."""

    value: Array
    low: Array
    high: Array
    threshold: Array
    seeds: Array

    def take(self, rows: slice | int) -> Limited:
        """Return some of the shares."""
        return Limited(*(np.atleast_1d(x[rows]) for x in vars(self).values()))


def limited(hits: Array, seeds: Array, *, unknown: float, confidence: float) -> Limited:
    """Return shares of groups of units with Wilson limits widened for the spread of the units, (C, D) each."""
    groups = proportions.Groups(hits, seeds)
    spread = proportions.spread(groups, proportions.correlation(groups, unknown=unknown))
    threshold = spread.threshold(confidence)
    low, high = proportions.wilson(hits.sum(-1), groups.total, threshold)
    return Limited(groups.fraction, low, high, threshold, groups.total)


@dataclass(frozen=True)
class Harm:
    """Harmed seeds of the seeds sown at each dose, with limits, shape (k,); below 0 by chance where there is none."""

    value: Array
    low: Array
    high: Array


def opened_share(hard: Limited, plain: Limited) -> tuple[Array, Array]:
    """Return lambda, cut to 0 … 1, and its half-width, (k,), from hard seeds of the doses and of untreated seeds."""
    H, H0 = hard.value, float(plain.value[0])
    if H0 <= 0:
        return np.ones_like(H), np.zeros_like(H)
    squared = hard.threshold * H * (1 - H) / np.maximum(hard.seeds, 1) / H0**2
    squared = squared + plain.threshold * H**2 * (1 - H0) / np.maximum(plain.seeds, 1) / H0**3
    return np.clip(1 - H / H0, 0.0, 1.0), np.sqrt(squared)


def beyond(dead: Limited, plain: Limited, opened: Limited, share: tuple[Array, Array]) -> Harm:
    """Return the harm at each dose: `dead` (k,) shares of the doses, `plain` and `opened` of one group each.

    # limits: Zou and Donner (2008), MOVER, for a sum of independent terms
    """
    part, wide = share
    value = dead.value - (1 - part) * plain.value - part * opened.value
    drift = wide * (opened.value - plain.value)
    down = np.sqrt(
        (dead.value - dead.low) ** 2
        + ((1 - part) * (plain.high - plain.value)) ** 2
        + (part * (opened.high - opened.value)) ** 2
        + drift**2
    )
    up = np.sqrt(
        (dead.high - dead.value) ** 2
        + ((1 - part) * (plain.value - plain.low)) ** 2
        + (part * (opened.value - opened.low)) ** 2
        + drift**2
    )
    return Harm(value, value - down, value + up)
