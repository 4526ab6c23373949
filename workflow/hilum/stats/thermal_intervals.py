"""Intervals of the base temperature for many refits of one temperature series at once.

The profile of each refit is followed from its own maximum: the rise is held, and Newton's steps fit the rest.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hilum.stats import cardinal, profile
from hilum.stats.cardinal import Peak, sprouting_temperatures
from hilum.stats.families import LOG_LOGISTIC, Array
from hilum.stats.replicate_surface import Counts, Design, curvature
from hilum.stats.response import rise_at_base
from hilum.stats.thermal import Series, one_for_all
from hilum.stats.thermal_replicates import Refits, solve

_MOST_STEPS = 12
_SETTLED = 1e-7  # of twice the log likelihood that the last step gains
_FARTHEST = 1.5  # of a parameter in one step
_FREE = np.array([0, 2, 3])  # log rate, log sigma and logit G; the rise is held
_PRECISE = 1e-4  # of a standard error
_FARTHEST_LOGIT = 15.0  # of a G below 1
_NEAR = 0.01  # °C below the coolest germination, where a base can still lie


def base_limits(
    peak: Peak, series: Series, refits: Refits, count: Array, censored: Array, threshold: Array
) -> tuple[Array, Array]:
    """Return the limits of the base temperature (°C) of each refit, (B,) each; nan where an end is open.

    They hold every base at which −2 log likelihood ratio is at most `threshold` (B,). `peak`, `series`, `count` and
    `censored` are those of `thermal_replicates.refit`. A refit without a base has no limits. What Newton's steps do not follow,
    and what was climbed by itself, is followed one by one.
    """
    low, high = np.full(len(count), np.nan), np.full(len(count), np.nan)
    lines = np.isfinite(refits.parameters).all(1) & (refits.parameters[:, 1] > 0)
    near = np.flatnonzero(lines & ~refits.climbed)
    followed = _in_a_batch((low, high), near, peak, series, refits, (count, censored), threshold)
    for one in np.setdiff1d(np.flatnonzero(lines), near[followed]).tolist():
        cells = replace(series.cells, count=count[one], censored=censored[one])
        low[one], high[one] = _alone(replace(series, cells=cells), float(threshold[one]))
    return low, high


def _in_a_batch(
    limits: tuple[Array, Array],
    near: np.ndarray,
    peak: Peak,
    series: Series,
    refits: Refits,
    drawn: tuple[Array, Array],
    threshold: Array,
) -> np.ndarray:
    """Write the limits of the refits `near` (n,), and return which of them were followed to both ends."""
    if not len(near):
        return np.zeros(0, dtype=bool)
    response, both = peak.model.response, np.concatenate((near, near))
    assert response is not None  # noqa: S101
    flat = [array.reshape(len(array), -1)[both] for array in drawn]
    design = Design.of(series, response.anchor, *(part.sum(0) > 0 for part in flat))
    rise = _Rise(design, Counts.of(design, *flat), refits, both)
    value = refits.parameters[both, 1]
    roof = rise_at_base(response, np.asarray(float(series.temperature.min()) - _NEAR))
    step = np.where(np.arange(len(both)) < len(near), -1.0, 1.0) * rise.error
    edge = np.where(step < 0, 0.0, np.maximum(roof, value))
    found = profile.limit(rise, value, step, threshold[both], edge=edge, tolerance=_PRECISE)
    for limit, end in zip(limits, np.split(response.anchor - 1 / found, 2), strict=True):
        limit[near] = end
    return np.asarray(~rise.lost.reshape(2, -1).any(0))


def _alone(series: Series, threshold: float) -> Array:
    """Return both limits of one series, followed as any other profile is."""
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, one_for_all(series))
    response, rise = peak.model.response, float(peak.parameters[1])
    assert response is not None  # noqa: S101
    held = cardinal.profile(peak, series)
    roof = float(rise_at_base(response, np.asarray(sprouting_temperatures(series).min() - _NEAR)))
    found = profile.limit(
        lambda x: held(x, 1)[0],
        np.full(2, rise),
        np.array([-0.2, 0.2]) * max(rise, roof / 1000),
        np.full(2, threshold),
        edge=np.array([0.0, max(roof, rise)]),
        tolerance=_PRECISE,
    )
    limits: Array = response.anchor - 1 / found
    return limits


class _Rise:
    """−2 log likelihood ratio with the rise held, each search begun where the last one ended.

    `error` is that of the rise, `lost` marks what the steps did not follow.
    """

    def __init__(self, design: Design, counts: Counts, refits: Refits, which: np.ndarray) -> None:
        self.design, self.counts = design, counts
        log_rate, rise, log_sigma, G = refits.parameters[which].T
        with np.errstate(divide="ignore"):
            self.point = np.stack((log_rate, rise, log_sigma, np.log(G / (1 - G))))
        self.top, self.lost = refits.loglik[which], np.zeros(len(which), dtype=bool)
        information = curvature(design, counts, self.point).information
        inverse = np.linalg.pinv(np.moveaxis(information, -1, 0), hermitian=True)
        self.error = 2 * np.sqrt(np.maximum(inverse[:, 1, 1], 1e-12))

    def __call__(self, x: Array) -> Array:
        """Return the rise at the held values x, shape (n,), infinite where the steps do not follow."""
        point = self.point.copy()
        point[1] = x
        with np.errstate(all="ignore"):
            for _ in range(_MOST_STEPS):
                here = curvature(self.design, self.counts, point)
                slope = here.gradient[_FREE]
                step, definite = solve(here.information[np.ix_(_FREE, _FREE)], slope)
                gain = (slope * step).sum(0)
                settled = definite & (gain < _SETTLED)
                if settled.all():
                    break
                point[_FREE] += np.clip(np.nan_to_num(step), -_FARTHEST, _FARTHEST)
            rise = 2 * (self.top - here.value()) - gain
        # at G = 1 a slope towards less, and a logit without end, belong to the other kind of maximum
        full = np.isposinf(self.point[3])
        other = np.where(full, here.pull < 0, np.abs(point[3]) > _FARTHEST_LOGIT)
        self.lost |= ~settled | ~np.isfinite(rise) | other
        self.point = np.where(self.lost, self.point, point)
        return np.where(self.lost, np.inf, np.maximum(rise, 0.0))
